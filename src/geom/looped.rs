//! A closed run of lines, arcs and curves.

use kurbo::{Affine, Point, Rect, Vec2};

use super::{Polyarc, Segment, Vertex, fit_arcs};

/// One piece of a [`Loop`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Side {
    /// The line, arc or curve.
    pub segment: Segment,
    /// Which edge of its owner's list it belongs to; none for the round of a corner.
    pub edge: Option<usize>,
}

/// A closed outline, each side starting where the one before it ends.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Loop {
    /// Its sides in order.
    pub sides: Vec<Side>,
}

impl Loop {
    /// The outline of the lines and arcs of `outline`; all sides belong to edge `edge`.
    #[must_use]
    pub fn of(outline: &Polyarc, edge: Option<usize>) -> Self {
        Self { sides: outline.segments().map(|segment| Side { segment, edge }).collect() }
    }

    /// The outline as lines and arcs, its curves fitted within `tolerance` mm.
    #[must_use]
    pub fn to_polyarc(&self, tolerance: f64) -> Polyarc {
        let mut vertices = Vec::new();
        for side in &self.sides {
            match side.segment {
                Segment::Line { from, .. } => vertices.push(Vertex { point: from, bulge: 0.0 }),
                Segment::Arc { from, bulge, .. } => vertices.push(Vertex { point: from, bulge }),
                curve @ Segment::Curve(_) => {
                    vertices.extend(fit_arcs(&|u| (curve.point_at(u), curve.tangent_at(u)), tolerance));
                }
            }
        }
        Polyarc { vertices }
    }

    /// The same outline, its sides belonging to no edge.
    #[must_use]
    pub fn without_edges(mut self) -> Self {
        for side in &mut self.sides {
            side.edge = None;
        }
        self
    }

    /// The area inside in mm², positive when it runs counter-clockwise.
    #[must_use]
    pub fn area(&self) -> f64 {
        self.sides
            .iter()
            .map(|side| match side.segment {
                Segment::Curve(curve) => kurbo::ParamCurveArea::signed_area(&curve),
                Segment::Line { from, to } => from.to_vec2().cross(to.to_vec2()) / 2.0,
                Segment::Arc { from, to, bulge } => {
                    let (_, radius, _, sweep) = super::segment::arc_of(from, to, bulge);
                    from.to_vec2().cross(to.to_vec2()) / 2.0 + radius * radius * (sweep - sweep.sin()) / 2.0
                }
            })
            .sum()
    }

    /// The same outline walked the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        let sides = self.sides.iter().rev().map(|side| Side { segment: side.segment.reversed(), ..*side }).collect();
        Self { sides }
    }

    /// The same outline, counter-clockwise.
    #[must_use]
    pub fn counter_clockwise(self) -> Self {
        if self.area() < 0.0 { self.reversed() } else { self }
    }

    /// The outline moved, turned or mirrored, and then walked counter-clockwise; `motion` must keep lengths.
    #[must_use]
    pub fn moved(&self, motion: Affine) -> Self {
        let sides = self.sides.iter().map(|side| Side { segment: side.segment.moved(motion), ..*side }).collect();
        let moved = Self { sides };
        if motion.determinant() < 0.0 { moved.reversed() } else { moved }
    }

    /// The smallest upright rectangle around it.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        self.sides.iter().map(|side| side.segment.bounds()).reduce(|a, b| a.union(b)).unwrap_or(Rect::ZERO)
    }

    /// Its length in mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.sides.iter().map(|side| side.segment.length()).sum()
    }

    /// The angle in radians, positive to the left, that the outline turns at the start of side `i`.
    #[must_use]
    pub fn turn_before(&self, i: usize) -> f64 {
        let before = self.sides[(i + self.sides.len() - 1) % self.sides.len()].segment.tangent_at(1.0);
        turn(before, self.sides[i].segment.tangent_at(0.0))
    }

    /// Every place where the sides of this outline cross the upright line at `x`, from the lowest up (y values, mm).
    #[must_use]
    pub fn heights_at(&self, x: f64) -> Vec<f64> {
        let outline = self.to_polyarc(1e-4);
        let mut heights: Vec<f64> = outline.segments().flat_map(|segment| crossings(&segment, x)).collect();
        heights.sort_by(f64::total_cmp);
        heights
    }
}

/// The angle from `a` to `b`, positive to the left, -pi to pi.
fn turn(a: Vec2, b: Vec2) -> f64 {
    a.cross(b).atan2(a.dot(b))
}

/// Where a line or arc crosses the upright line at `x` (half open at its end, so that shared corners count once).
fn crossings(segment: &Segment, x: f64) -> Vec<f64> {
    let within = |u: f64| (0.0..1.0).contains(&u);
    match *segment {
        Segment::Line { from, to } => {
            let u = (x - from.x) / (to.x - from.x);
            if within(u) { vec![from.y + (to.y - from.y) * u] } else { Vec::new() }
        }
        Segment::Arc { from, to, bulge } => {
            let (centre, radius, start, sweep) = super::segment::arc_of(from, to, bulge);
            let reach = radius * radius - (x - centre.x).powi(2);
            if reach <= 0.0 {
                return Vec::new();
            }
            [reach.sqrt(), -reach.sqrt()]
                .into_iter()
                .filter(|dy| {
                    let angle = dy.atan2(x - centre.x) - start;
                    let along = if sweep > 0.0 {
                        angle.rem_euclid(std::f64::consts::TAU)
                    } else {
                        -(-angle).rem_euclid(std::f64::consts::TAU)
                    };
                    within(along / sweep)
                })
                .map(|dy| Point::new(x, centre.y + dy).y)
                .collect()
        }
        Segment::Curve(_) => Vec::new(),
    }
}
