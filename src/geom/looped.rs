//! A closed run of lines, arcs and curves.

use kurbo::{Affine, Rect, Vec2};

use super::{Chain, Polyarc, Segment, vertices_of};

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
        Polyarc {
            vertices: self
                .sides
                .iter()
                .flat_map(|side| vertices_of(&side.segment, tolerance))
                .collect(),
        }
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
                    from.to_vec2().cross(to.to_vec2()) / 2.0
                        + radius * radius * (sweep - sweep.sin()) / 2.0
                }
            })
            .sum()
    }

    /// The same outline walked the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        let sides = self
            .sides
            .iter()
            .rev()
            .map(|side| Side { segment: side.segment.reversed(), ..*side })
            .collect();
        Self { sides }
    }

    /// The same outline, counter-clockwise.
    #[must_use]
    pub fn counter_clockwise(self) -> Self {
        if self.area() < 0.0 { self.reversed() } else { self }
    }

    /// The outline moved, turned or mirrored, and then walked counter-clockwise; `motion` must keep
    /// lengths.
    #[must_use]
    pub fn moved(&self, motion: Affine) -> Self {
        let sides = self
            .sides
            .iter()
            .map(|side| Side { segment: side.segment.moved(motion), ..*side })
            .collect();
        let moved = Self { sides };
        if motion.determinant() < 0.0 { moved.reversed() } else { moved }
    }

    /// The smallest upright rectangle around it.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        self.sides
            .iter()
            .map(|side| side.segment.bounds())
            .reduce(|a, b| a.union(b))
            .unwrap_or(Rect::ZERO)
    }

    /// Its sides, to be walked by distance: piece `i` of the chain is side `i`.
    #[must_use]
    pub fn chain(&self) -> Chain {
        Chain::new(self.sides.iter().map(|side| side.segment).collect(), true)
    }

    /// Its length in mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.sides.iter().map(|side| side.segment.length()).sum()
    }

    /// The angle in radians, positive to the left, that the outline turns at the start of side `i`.
    #[must_use]
    pub fn turn_before(&self, i: usize) -> f64 {
        let before =
            self.sides[(i + self.sides.len() - 1) % self.sides.len()].segment.tangent_at(1.0);
        turn(before, self.sides[i].segment.tangent_at(0.0))
    }

    /// Every place where the sides of this outline cross the upright line at `x`, from the lowest
    /// up (y values, mm).
    #[must_use]
    pub fn heights_at(&self, x: f64) -> Vec<f64> {
        let outline = self.to_polyarc(1e-4);
        let mut heights: Vec<f64> =
            outline.segments().flat_map(|segment| crossings(&segment, x)).collect();
        heights.sort_by(f64::total_cmp);
        heights
    }
}

/// The angle from `a` to `b`, positive to the left, -pi to pi.
fn turn(a: Vec2, b: Vec2) -> f64 {
    a.cross(b).atan2(a.dot(b))
}

/// Where a line or arc crosses the upright line at `x`. A piece that only touches the line, or runs
/// along it, does not cross; where one crosses in its end, exactly one of the two pieces that share
/// that end counts it.
fn crossings(segment: &Segment, x: f64) -> Vec<f64> {
    let crosses = |from: f64, to: f64| (from <= x) != (to <= x);
    match *segment {
        Segment::Line { from, to } => {
            if crosses(from.x, to.x) {
                vec![from.y + (to.y - from.y) * ((x - from.x) / (to.x - from.x))]
            } else {
                Vec::new()
            }
        }
        Segment::Arc { from, to, bulge } => {
            let (centre, radius, start, sweep) = super::segment::arc_of(from, to, bulge);
            // Cut where it turns back: at the leftmost and the rightmost point of its circle.
            let mut cuts: Vec<f64> = (-4..=4)
                .map(|half| (f64::from(half) * std::f64::consts::PI - start) / sweep)
                .filter(|u| *u > 1e-12 && *u < 1.0 - 1e-12)
                .collect();
            cuts.sort_by(f64::total_cmp);
            let ends = [0.0].into_iter().chain(cuts.iter().copied());
            let nexts = cuts.iter().copied().chain([1.0]);
            ends.zip(nexts)
                .filter_map(|(u, v)| {
                    let (mut here, mut there) = (segment.point_at(u).x, segment.point_at(v).x);
                    // The ends to the last bit, as the neighbours have them.
                    if u <= 0.0 {
                        here = from.x;
                    }
                    if v >= 1.0 {
                        there = to.x;
                    }
                    let above = (start + sweep * f64::midpoint(u, v)).sin() > 0.0;
                    let dy = (radius * radius - (x - centre.x).powi(2)).max(0.0).sqrt();
                    crosses(here, there).then_some(if above {
                        centre.y + dy
                    } else {
                        centre.y - dy
                    })
                })
                .collect()
        }
        Segment::Curve(_) => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::Point;

    #[test]
    fn a_line_along_an_upright_side_crosses_an_even_number_of_times() {
        let ell =
            [(0.0, 0.0), (300.0, 0.0), (300.0, 40.0), (150.0, 40.0), (150.0, 100.0), (0.0, 100.0)]
                .map(Point::from);
        let ell = Loop::of(&Polyarc::polygon(ell), None);
        for (x, wanted) in [(150.0, [0.0, 40.0]), (149.0, [0.0, 100.0]), (151.0, [0.0, 40.0])] {
            assert_eq!(ell.heights_at(x), wanted, "at {x}");
        }
    }

    #[test]
    fn a_circle_is_crossed_twice_or_not_at_all() {
        // A corner of the two half arcs lies at the very top; another pair has theirs at the sides.
        let quarter = Affine::rotate_about(std::f64::consts::FRAC_PI_2, Point::new(50.0, 0.0));
        let circle = Polyarc::circle(Point::new(50.0, 0.0), 10.0);
        for circle in [circle.moved(quarter), circle] {
            let heights = |x: f64| Loop::of(&circle, None).heights_at(x);
            for (x, half) in [(50.0, 10.0), (56.0, 8.0), (44.0, 8.0)] {
                let found = heights(x);
                assert!(
                    found.len() == 2
                        && (found[1] - half).abs() < 1e-12
                        && (found[0] + half).abs() < 1e-12,
                    "{found:?} at {x}"
                );
            }
            assert!(heights(39.9).is_empty() && heights(60.1).is_empty());
        }
    }
}
