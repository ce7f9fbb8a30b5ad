//! Closed outlines of lines and arcs alone, written as vertices with bulges.

use kurbo::{Affine, Point, Rect, Vec2};

use super::Segment;
use super::segment::arc_of;
use crate::tolerance::{SAME_POINT, SHORTEST_PIECE};

/// A corner of a [`Polyarc`] and how the outline goes on from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vertex {
    /// Where it is.
    pub point: Point,
    /// Tangent of a quarter of the angle that the arc to the next vertex turns through, positive to
    /// the left; 0 for a line.
    pub bulge: f64,
}

impl Vertex {
    /// The line or arc from here to `to`.
    #[must_use]
    pub fn segment_to(self, to: Point) -> Segment {
        match self.bulge {
            0.0 => Segment::Line { from: self.point, to },
            bulge => Segment::Arc { from: self.point, to, bulge },
        }
    }
}

/// A closed outline of lines and arcs. The last vertex goes on to the first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Polyarc {
    /// Its corners in order.
    pub vertices: Vec<Vertex>,
}

impl Polyarc {
    /// A full circle, as two half arcs.
    #[must_use]
    pub fn circle(centre: Point, radius: f64) -> Self {
        let side = Vec2::new(radius, 0.0);
        Self {
            vertices: vec![
                Vertex { point: centre + side, bulge: 1.0 },
                Vertex { point: centre - side, bulge: 1.0 },
            ],
        }
    }

    /// A closed outline of straight lines through `points`.
    #[must_use]
    pub fn polygon(points: impl IntoIterator<Item = Point>) -> Self {
        Self { vertices: points.into_iter().map(|point| Vertex { point, bulge: 0.0 }).collect() }
    }

    /// An upright rectangle, counter-clockwise from its lower left corner.
    #[must_use]
    pub fn rectangle(rect: Rect) -> Self {
        Self::polygon(
            [(rect.x0, rect.y0), (rect.x1, rect.y0), (rect.x1, rect.y1), (rect.x0, rect.y1)]
                .map(Point::from),
        )
    }

    /// Its lines and arcs in order.
    pub fn segments(&self) -> impl Iterator<Item = Segment> + '_ {
        let next = self.vertices.iter().cycle().skip(1);
        self.vertices.iter().zip(next).map(|(a, b)| a.segment_to(b.point))
    }

    /// The area inside in mm², positive when it runs counter-clockwise.
    #[must_use]
    pub fn area(&self) -> f64 {
        let Some(origin) = self.vertices.first().map(|v| v.point) else { return 0.0 };
        self.segments()
            .map(|segment| {
                let triangle = (segment.from() - origin).cross(segment.to() - origin) / 2.0;
                match segment {
                    Segment::Arc { from, to, bulge } => {
                        let (_, radius, _, sweep) = arc_of(from, to, bulge);
                        triangle + radius * radius * (sweep - sweep.sin()) / 2.0
                    }
                    _ => triangle,
                }
            })
            .sum()
    }

    /// Its length in mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.segments().map(|segment| segment.length()).sum()
    }

    /// The smallest upright rectangle around it.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        self.segments()
            .map(|segment| segment.bounds())
            .reduce(|a, b| a.union(b))
            .unwrap_or(Rect::ZERO)
    }

    /// The same outline walked the other way, from the same vertex.
    #[must_use]
    pub fn reversed(&self) -> Self {
        let n = self.vertices.len();
        let vertices = (0..n)
            .map(|i| Vertex {
                point: self.vertices[(n - i) % n].point,
                bulge: -self.vertices[n - 1 - i].bulge,
            })
            .collect();
        Self { vertices }
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
        let sense = motion.determinant().signum();
        let vertices = self
            .vertices
            .iter()
            .map(|v| Vertex { point: motion * v.point, bulge: v.bulge * sense })
            .collect();
        let moved = Self { vertices };
        if sense < 0.0 { moved.reversed() } else { moved }
    }

    /// Points along the outline, its arcs cut into chords that stay within `tolerance` mm of them.
    #[must_use]
    pub fn flatten(&self, tolerance: f64) -> Vec<Point> {
        self.polygon_with(|segment, points| {
            let steps = arc_steps(segment, tolerance);
            points.extend((0..steps).map(|i| segment.point_at(f64::from(i) / f64::from(steps))));
        })
    }

    /// As [`Self::flatten`], but no point of the inside is lost: arcs that bulge out (of a
    /// counter-clockwise outline) are replaced by tangents, those that bulge in by chords.
    #[must_use]
    pub fn flatten_outside(&self, tolerance: f64) -> Vec<Point> {
        self.polygon_with(|segment, points| {
            let steps = arc_steps(segment, tolerance);
            let at = |i: u32| segment.point_at(f64::from(i) / f64::from(steps));
            points.push(segment.from());
            let Segment::Arc { from, to, bulge } = *segment else { return };
            if bulge < 0.0 {
                points.extend((1..steps).map(at));
                return;
            }
            let (centre, _, _, sweep) = arc_of(from, to, bulge);
            let reach = 1.0 / (sweep / f64::from(steps) / 2.0).cos();
            points.extend((0..steps).map(|i| {
                let middle = segment.point_at((f64::from(i) + 0.5) / f64::from(steps));
                centre + (middle - centre) * reach
            }));
        })
    }

    fn polygon_with(&self, mut add: impl FnMut(&Segment, &mut Vec<Point>)) -> Vec<Point> {
        let mut points = Vec::new();
        for segment in self.segments() {
            add(&segment, &mut points);
        }
        points
    }

    /// The same outline without vertices that change nothing: points on top of each other, corners
    /// on a straight line, pieces of one arc.
    #[must_use]
    pub fn tidied(&self) -> Self {
        let mut vertices = self.vertices.clone();
        let mut i = 0;
        while vertices.len() > 2 && i < vertices.len() {
            let next = (i + 1) % vertices.len();
            let short = vertices[i].point.distance(vertices[next].point);
            if short >= SHORTEST_PIECE {
                i += 1;
            } else if short > SAME_POINT * 1e-3 && second_stays(&vertices, i, next) {
                // The piece before the short one goes on to the corner that stays.
                vertices.remove(i);
            } else {
                vertices[i].bulge = vertices[next].bulge;
                vertices.remove(next);
            }
        }
        let mut i = 0;
        while vertices.len() > 3 && i < vertices.len() {
            let n = vertices.len();
            let (before, here, next) =
                (vertices[(i + n - 1) % n], vertices[i], vertices[(i + 1) % n]);
            if before.bulge == 0.0 && here.bulge == 0.0 {
                let (a, b) = (here.point - before.point, next.point - before.point);
                let off = a.cross(b).abs() / b.hypot();
                if off < 1e-9 * (1.0 + b.hypot()) && a.dot(b) > 0.0 && a.hypot2() < b.hypot2() {
                    vertices.remove(i);
                    i = i.saturating_sub(1);
                    continue;
                }
            }
            i += 1;
        }
        Self { vertices }
    }

    /// Whether `point` lies inside.
    #[must_use]
    pub fn contains(&self, point: Point) -> bool {
        use cavalier_contours::core::math::Vector2;
        use cavalier_contours::polyline::PlineSource;
        self.to_pline().winding_number(Vector2::new(point.x, point.y)) != 0
    }

    /// Whether `inner` lies wholly inside, its arcs taken as chords that stay within 0.05 mm of
    /// them.
    #[must_use]
    pub fn encloses(&self, inner: &Self) -> bool {
        let (frame, inner_frame) = (self.bounds(), inner.bounds());
        let is_framed = frame.x0 <= inner_frame.x0
            && frame.y0 <= inner_frame.y0
            && frame.x1 >= inner_frame.x1
            && frame.y1 >= inner_frame.y1;
        is_framed && inner.flatten(0.05).iter().all(|point| self.contains(*point))
    }
}

/// Which vertex of a short piece stays, the second or the first: the sharper corner; of corners
/// alike the one on an arc, or else on the longer piece, which then keeps its place. So it is the
/// same corner whichever way the outline is walked.
fn second_stays(vertices: &[Vertex], first: usize, second: usize) -> bool {
    /// Turns that differ by less are alike, radians.
    const ALIKE: f64 = 1e-6;
    let (one, two) = (turn_at(vertices, first), turn_at(vertices, second));
    if (one - two).abs() > ALIKE {
        return two > one;
    }
    let n = vertices.len();
    let rank = |k: usize| {
        let (from, to) = (vertices[k % n], vertices[(k + 1) % n]);
        (from.bulge != 0.0, from.point.distance(to.point))
    };
    rank(second) > rank(first + n - 1)
}

/// The angle without its sign by which an outline turns at vertex `i`, radians.
fn turn_at(vertices: &[Vertex], i: usize) -> f64 {
    let n = vertices.len();
    let piece = |k: usize| {
        let (here, next) = (vertices[k % n], vertices[(k + 1) % n]);
        // A chord leaves its arc by half the angle that the arc turns through, twice the angle
        // whose tangent the bulge is.
        (next.point - here.point, 2.0 * here.bulge.atan())
    };
    let ((before, out), (after, into)) = (piece(i + n - 1), piece(i));
    let chords = before.cross(after).atan2(before.dot(after));
    // The direction at an arc's end is its chord's turned on, at its start turned back.
    let turn = chords - out - into;
    turn.sin().atan2(turn.cos()).abs()
}

/// How many equal steps keep the chords of `segment` within `tolerance` of it; 1 for a line.
fn arc_steps(segment: &Segment, tolerance: f64) -> u32 {
    let Segment::Arc { from, to, bulge } = *segment else { return 1 };
    let (_, radius, _, sweep) = arc_of(from, to, bulge);
    let widest = 2.0 * (1.0 - (tolerance / radius).min(1.0)).acos();
    let steps = (sweep.abs() / widest.min(std::f64::consts::FRAC_PI_4)).ceil().clamp(1.0, 10_000.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 1..=10000 on the line above"
    )]
    let steps = steps as u32;
    steps
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn circle_has_its_area_length_and_bounds() {
        let circle = Polyarc::circle(Point::new(3.0, 4.0), 5.0);
        assert!((circle.area() - 25.0 * PI).abs() < 1e-10);
        assert!((circle.length() - 10.0 * PI).abs() < 1e-10);
        assert!(
            (circle.bounds().x1 - 8.0).abs() < 1e-12 && (circle.bounds().y0 + 1.0).abs() < 1e-12
        );
        assert!(circle.contains(Point::new(3.0, 8.9)) && !circle.contains(Point::new(7.0, 8.0)));
        assert!((circle.reversed().area() + 25.0 * PI).abs() < 1e-10);
    }

    #[test]
    fn outside_flattening_contains_the_circle_within_the_tolerance() {
        let points = Polyarc::circle(Point::ORIGIN, 50.0).flatten_outside(0.05);
        let nearest = points
            .iter()
            .zip(points.iter().cycle().skip(1))
            .map(|(a, b)| a.to_vec2().cross(*b - *a).abs() / a.distance(*b))
            .fold(f64::INFINITY, f64::min);
        let farthest = points.iter().map(|p| p.to_vec2().hypot()).fold(0.0, f64::max);
        assert!(nearest > 50.0 - 1e-9 && farthest < 50.06, "{nearest} {farthest}");
    }

    #[test]
    fn mirrored_keeps_the_area_and_runs_counter_clockwise() {
        let shape = Polyarc {
            vertices: vec![
                Vertex { point: Point::new(0.0, 0.0), bulge: 0.0 },
                Vertex { point: Point::new(40.0, 0.0), bulge: 0.5 },
                Vertex { point: Point::new(40.0, 20.0), bulge: -0.2 },
            ],
        };
        let mirrored = shape.moved(Affine::FLIP_X);
        assert!((mirrored.area() - shape.area()).abs() < 1e-10 && shape.area() > 0.0);
        assert!((mirrored.bounds().x0 + shape.bounds().x1).abs() < 1e-10);
    }
}
