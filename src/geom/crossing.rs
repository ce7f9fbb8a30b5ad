//! Where a closed outline of lines and arcs crosses or touches itself.
//!
//! Two pieces meet where an end of one lies on the other, where one passes from the one side of the
//! other to the other side, or where it comes just up to it. How far a point is from a piece's line
//! or circle is worked out in the frame of the piece's chord, so that it stays exact for radii of
//! kilometres.

use cavalier_contours::polyline::PlineSource;
use kurbo::{Point, Vec2};

use super::{Polyarc, Vertex, left_of};
use crate::tolerance::{SAME_JOINT, TOUCHING_PIECES};

/// Where an outline meets itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// The place, mm.
    pub at: Point,
}

/// The first place where the outline crosses or touches itself, to [`TOUCHING_PIECES`]. Pieces that
/// follow each other share an end, however short they are; they meet if they do so anywhere else.
#[must_use]
pub fn self_crossing(outline: &Polyarc) -> Option<Crossing> {
    if let Some(vertex) =
        outline.vertices.iter().find(|v| !(v.point.is_finite() && v.bulge.is_finite()))
    {
        return Some(Crossing { at: vertex.point });
    }
    let vertices = apart(&outline.vertices);
    let count = vertices.len();
    if count < 2 {
        return None;
    }
    let pieces: Vec<Piece> =
        (0..count).map(|i| Piece::new(vertices[i], vertices[(i + 1) % count].point)).collect();
    // The library's index of boxes keeps this near n log n.
    let index = Polyarc { vertices }.to_pline().create_aabb_index();
    for (i, piece) in pieces.iter().enumerate() {
        let segment = Vertex { point: piece.from, bulge: piece.bulge }.segment_to(piece.to);
        let room = segment.bounds().inflate(TOUCHING_PIECES, TOUCHING_PIECES);
        let mut near = index.query(room.x0, room.y0, room.x1, room.y1);
        near.retain(|k| *k > i);
        near.sort_unstable();
        for k in near {
            let follows = k == i + 1;
            let leads = i == 0 && k == count - 1;
            if let Some(at) = meeting(piece, &pieces[k], follows, leads) {
                return Some(Crossing { at });
            }
        }
    }
    None
}

/// The vertices without those that stand where the one before them does.
fn apart(vertices: &[Vertex]) -> Vec<Vertex> {
    let mut kept: Vec<Vertex> = Vec::with_capacity(vertices.len());
    for vertex in vertices {
        match kept.last_mut() {
            Some(last) if last.point.distance(vertex.point) <= TOUCHING_PIECES => {
                last.bulge = vertex.bulge;
            }
            _ => kept.push(*vertex),
        }
    }
    while kept.len() > 1 && kept[0].point.distance(kept[kept.len() - 1].point) <= TOUCHING_PIECES {
        kept.pop();
    }
    kept
}

/// Where two pieces meet but for the ends that they share: `b` follows on `a`, or leads up to it,
/// or both.
fn meeting(a: &Piece, b: &Piece, follows: bool, leads: bool) -> Option<Point> {
    if follows && leads {
        // Two pieces make the whole outline: through the same two ends they meet nowhere else, or
        // everywhere.
        return Some(a.point_at(0.0)).filter(|at| b.distance(*at) <= TOUCHING_PIECES);
    }
    let ends = [(a.from, b, leads), (a.to, b, follows), (b.from, a, follows), (b.to, a, leads)];
    if let Some((end, ..)) = ends
        .into_iter()
        .find(|(end, other, shared)| !shared && other.distance(*end) <= TOUCHING_PIECES)
    {
        return Some(end);
    }
    let is_joint = |at: Point| {
        (follows && at.distance(a.to) <= SAME_JOINT) || (leads && at.distance(a.from) <= SAME_JOINT)
    };
    let turns = a.turns_beside(b);
    if !(follows || leads) {
        // It may come just up to it where it turns back.
        let touch = turns
            .iter()
            .map(|t| a.point_at(*t))
            .find(|at| b.beside(*at).abs() <= TOUCHING_PIECES && b.spans(*at));
        if touch.is_some() {
            return touch;
        }
    }
    // Between these places it goes one way only, so it passes over at most once.
    let places: Vec<f64> = [-1.0].into_iter().chain(turns).chain([1.0]).collect();
    places.windows(2).find_map(|pair| {
        let (mut low, mut high) = (pair[0], pair[1]);
        let begins = b.beside(a.point_at(low)) > 0.0;
        if begins == (b.beside(a.point_at(high)) > 0.0) {
            return None;
        }
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if (b.beside(a.point_at(middle)) > 0.0) == begins {
                low = middle;
            } else {
                high = middle;
            }
        }
        let at = a.point_at(f64::midpoint(low, high));
        (b.spans(at) && !is_joint(at)).then_some(at)
    })
}

/// A line or an arc in the frame of its chord: x from the middle along it, y to its left.
struct Piece {
    from: Point,
    to: Point,
    bulge: f64,
    middle: Point,
    along: Vec2,
    half_chord: f64,
    /// Height of the centre over the chord; of an arc alone.
    height: f64,
    radius: f64,
    /// Half of the angle turned through, without sign.
    half_sweep: f64,
}

impl Piece {
    fn new(vertex: Vertex, to: Point) -> Self {
        let (from, bulge) = (vertex.point, vertex.bulge);
        let chord = to - from;
        let half_chord = chord.hypot() / 2.0;
        let (height, radius) = if bulge == 0.0 {
            (0.0, f64::INFINITY)
        } else {
            (
                half_chord * (1.0 - bulge * bulge) / (2.0 * bulge),
                half_chord * (1.0 + bulge * bulge) / (2.0 * bulge.abs()),
            )
        };
        let along = chord / chord.hypot();
        Self {
            from,
            to,
            bulge,
            middle: from.midpoint(to),
            along,
            half_chord,
            height,
            radius,
            half_sweep: 2.0 * bulge.abs().atan(),
        }
    }

    /// The point at `t` from -1 to 1 of its length.
    fn point_at(&self, t: f64) -> Point {
        if t.abs() >= 1.0 {
            return if t < 0.0 { self.from } else { self.to };
        }
        if self.bulge == 0.0 {
            return self.middle + self.along * (self.half_chord * t);
        }
        let angle = self.half_sweep * t;
        // cos b - cos a, as a product: nothing is lost where both are near 1.
        let rise = 2.0
            * f64::midpoint(self.half_sweep, angle).sin()
            * f64::midpoint(self.half_sweep, -angle).sin();
        let (x, y) = (self.radius * angle.sin(), -self.bulge.signum() * self.radius * rise);
        self.middle + self.along * x + left_of(self.along) * y
    }

    /// x and y of a point in its frame.
    fn local(&self, point: Point) -> (f64, f64) {
        let v = point - self.middle;
        (v.dot(self.along), v.dot(left_of(self.along)))
    }

    /// The distance of a point from the whole line or circle, with a sign for its side, mm.
    fn beside(&self, point: Point) -> f64 {
        let (x, y) = self.local(point);
        if self.bulge == 0.0 {
            return y;
        }
        // |p - c|^2 - r^2 over |p - c| + r.
        (x * x + y * y - 2.0 * y * self.height - self.half_chord * self.half_chord)
            / (x.hypot(y - self.height) + self.radius)
    }

    /// Whether a point of the whole line or circle is of the piece.
    fn spans(&self, point: Point) -> bool {
        let (x, y) = self.local(point);
        if self.bulge == 0.0 { x.abs() <= self.half_chord } else { y * self.bulge.signum() <= 0.0 }
    }

    /// How far a point is from the piece, mm.
    fn distance(&self, point: Point) -> f64 {
        let (x, y) = self.local(point);
        let between = if self.bulge == 0.0 {
            x.abs() <= self.half_chord
        } else {
            // Inside the wedge between the centre and the ends.
            let (x, y) = (x, -self.bulge.signum() * (y - self.height));
            x.atan2(y).abs() <= self.half_sweep
        };
        if between {
            self.beside(point).abs()
        } else {
            point.distance(self.from).min(point.distance(self.to))
        }
    }

    /// Its places, in order, where its distance from the line or circle of `other` is greatest or
    /// least.
    fn turns_beside(&self, other: &Self) -> Vec<f64> {
        let centre = |piece: &Self| piece.middle + left_of(piece.along) * piece.height;
        let mut turns = Vec::new();
        if self.bulge == 0.0 {
            if other.bulge != 0.0 {
                turns.push(self.local(centre(other)).0 / self.half_chord);
            }
        } else {
            let toward = if other.bulge == 0.0 {
                left_of(other.along)
            } else {
                centre(other) - centre(self)
            };
            let (x, y) = (toward.dot(self.along), toward.dot(left_of(self.along)));
            let sense = self.bulge.signum();
            turns.extend([(x, y), (-x, -y)].map(|(x, y)| x.atan2(-sense * y) / self.half_sweep));
        }
        turns.retain(|t| t.abs() < 1.0);
        turns.sort_by(f64::total_cmp);
        turns
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::Rect;

    fn outline(vertices: &[(f64, f64, f64)]) -> Polyarc {
        Polyarc {
            vertices: vertices
                .iter()
                .map(|(x, y, bulge)| Vertex { point: Point::new(*x, *y), bulge: *bulge })
                .collect(),
        }
    }

    #[test]
    fn a_bow_tie_crosses_itself_and_a_rectangle_does_not() {
        let tie =
            Polyarc::polygon([(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 10.0)].map(Point::from));
        let crossing = self_crossing(&tie).expect("the two diagonals cross");
        assert!(crossing.at.distance(Point::new(5.0, 5.0)) < 1e-9);
        assert!(self_crossing(&Polyarc::rectangle(Rect::new(0.0, 0.0, 9.0, 5.0))).is_none());
        assert!(self_crossing(&Polyarc::circle(Point::ORIGIN, 5.0)).is_none());
    }

    #[test]
    fn short_pieces_are_no_crossing_and_neither_is_the_length_of_the_list() {
        // 5,000 sides of 0.05 mm, then of 5 micrometres, then shorter than any measure.
        for radius in [40.0, 4e-3, 4e-6] {
            let corner = |i: u32| {
                Point::ORIGIN
                    + Vec2::from_angle(f64::from(i) / 5000.0 * std::f64::consts::TAU) * radius
            };
            assert_eq!(self_crossing(&Polyarc::polygon((0..5000).map(corner))), None, "{radius}");
        }
    }

    #[test]
    fn arcs_that_cross_touch_or_run_back_are_found() {
        // A half disc of radius 10 on [0, 20]; a notch from the flat side goes up to y.
        let notched = |y: f64| {
            outline(&[
                (0.0, 0.0, 0.0),
                (9.0, 0.0, 0.0),
                (10.0, y, 0.0),
                (11.0, 0.0, 0.0),
                (20.0, 0.0, 1.0),
            ])
        };
        assert_eq!(self_crossing(&notched(9.99)), None);
        assert!(
            self_crossing(&notched(10.0))
                .expect("the tip touches")
                .at
                .distance(Point::new(10.0, 10.0))
                < 1e-6
        );
        assert!(self_crossing(&notched(10.5)).is_some());
        // An arc bulging up to a straight side at y = 10: from (4, 5) to (16, 5), rise h.
        let bulged = |rise: f64| {
            outline(&[
                (0.0, 0.0, 0.0),
                (4.0, 0.0, 0.0),
                (4.0, 5.0, -rise / 6.0),
                (16.0, 5.0, 0.0),
                (16.0, 0.0, 0.0),
                (20.0, 0.0, 0.0),
                (20.0, 10.0, 0.0),
                (0.0, 10.0, 0.0),
            ])
        };
        assert_eq!(self_crossing(&bulged(4.999)), None);
        assert!(
            self_crossing(&bulged(5.0)).expect("it touches").at.distance(Point::new(10.0, 10.0))
                < 1e-6
        );
        assert!(self_crossing(&bulged(5.5)).is_some());
        // Two arcs back to back that just touch, then cross: a waist of two half circles of radius
        // 5, 10 and 9.9 apart.
        let waist =
            |w: f64| outline(&[(0.0, 0.0, 0.0), (w, 0.0, 1.0), (w, 10.0, 0.0), (0.0, 10.0, 1.0)]);
        let waist =
            |w: f64| waist(w).vertices.iter().map(|v| Vertex { bulge: -v.bulge, ..*v }).collect();
        assert_eq!(self_crossing(&Polyarc { vertices: waist(10.01) }), None);
        assert!(
            self_crossing(&Polyarc { vertices: waist(10.0) })
                .expect("it touches")
                .at
                .distance(Point::new(5.0, 5.0))
                < 1e-6
        );
        assert!(self_crossing(&Polyarc { vertices: waist(9.9) }).is_some());
        // There and back along one arc, and neighbours that cross a second time.
        assert!(self_crossing(&outline(&[(0.0, 0.0, 0.3), (10.0, 0.0, -0.3)])).is_some());
        assert!(
            self_crossing(&outline(&[
                (0.0, 0.0, 0.0),
                (10.0, 0.0, -0.9),
                (2.0, 1.0, 0.0),
                (0.0, 5.0, 0.0)
            ]))
            .is_some()
        );
        assert!(
            self_crossing(&outline(&[
                (0.0, 0.0, 0.0),
                (10.0, 0.0, 0.0),
                (4.0, 0.0, 0.0),
                (4.0, 5.0, 0.0)
            ]))
            .is_some()
        );
    }

    #[test]
    fn arcs_almost_straight_are_told_apart_exactly() {
        // A strip 1 m long and 0.002 mm wide; its sides are arcs of radii over 100 km that bulge
        // into it, one by 0.001 mm.
        let strip = |rise: f64, turn: f64| {
            let bulge = |rise: f64| rise / 500.0;
            let flat = outline(&[
                (0.0, 0.0, -bulge(1e-3)),
                (1000.0, 0.0, 0.0),
                (1000.0, 2e-3, bulge(rise)),
                (0.0, 2e-3, 0.0),
            ]);
            flat.moved(kurbo::Affine::rotate(turn))
        };
        for turn in [0.0, 0.7, 2.0] {
            assert_eq!(self_crossing(&strip(-0.99e-3, turn)), None, "{turn}");
            assert!(self_crossing(&strip(-1.01e-3, turn)).is_some(), "{turn}");
        }
    }
}
