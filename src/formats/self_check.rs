//! The duties of a drawing's cut lines, looked over before a file is written: closed, single,
//! simple, no crumbs.

use std::fmt;

use cavalier_contours::core::math::Vector2;
use cavalier_contours::polyline::{PlineSource, PlineSourceMut, PlineVertex, Polyline};

use crate::geom::{Point, Polyarc, Segment, self_crossing};
use crate::page::{Drawing, Layer, Shape};
use crate::tolerance::{SAME_POINT, SHORTEST_PIECE};

/// Something that a cut line must not be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FaultKind {
    /// A number is not finite.
    NotFinite,
    /// A chain with two ends, or text, where only closed outlines belong.
    Open,
    /// An outline that encloses nothing.
    Empty,
    /// A line or arc under 0.05 mm.
    Tiny,
    /// An arc of more than half a turn, which not every reader takes.
    LongArc,
    /// An outline that crosses or touches itself.
    CrossesItself,
    /// Two outlines that cross one another.
    Crosses,
    /// A line or arc that is drawn twice.
    Twice,
}

/// A fault of a drawing's cut lines.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fault {
    /// What is wrong.
    pub kind: FaultKind,
    /// On which layer.
    pub layer: Layer,
    /// About where, mm.
    pub at: Point,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = match self.kind {
            FaultKind::NotFinite => "has a coordinate that is not a number",
            FaultKind::Open => "is not a closed outline",
            FaultKind::Empty => "encloses nothing",
            FaultKind::Tiny => "has a piece shorter than 0.05 mm",
            FaultKind::LongArc => "has an arc of more than half a turn",
            FaultKind::CrossesItself => "crosses or touches itself",
            FaultKind::Crosses => "crosses another cut line",
            FaultKind::Twice => "has a piece that is drawn twice",
        };
        write!(
            f,
            "a line on {} {what} near ({:.3}, {:.3})",
            self.layer.name(),
            self.at.x,
            self.at.y
        )
    }
}

/// The faults of the drawing's outer and inner cuts; none for a drawing that may be cut.
#[must_use]
pub fn self_check(drawing: &Drawing) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut sound: Vec<(Layer, &Polyarc)> = Vec::new();
    for mark in
        drawing.marks.iter().filter(|mark| matches!(mark.layer, Layer::Outside | Layer::Opening))
    {
        let mut found = |kind, at| faults.push(Fault { kind, layer: mark.layer, at });
        if !super::is_finite_mark(mark) {
            found(FaultKind::NotFinite, Point::ORIGIN);
            continue;
        }
        match &mark.shape {
            Shape::Closed(outline) if outline.vertices.len() >= 2 => {
                check_pieces(outline, &mut found);
                sound.push((mark.layer, outline));
            }
            Shape::Closed(outline) => {
                found(
                    FaultKind::Empty,
                    outline.vertices.first().map_or(Point::ORIGIN, |v| v.point),
                );
            }
            Shape::Open(chain) => {
                found(FaultKind::Open, chain.first().map_or(Point::ORIGIN, Segment::from));
            }
            Shape::Text { at, .. } => found(FaultKind::Open, *at),
        }
    }
    faults.extend(drawn_twice(&sound));
    // A line drawn twice also crosses itself everywhere; saying it once is enough.
    if faults.iter().all(|fault| fault.kind != FaultKind::Twice) {
        faults.extend(crossings(&sound));
    }
    faults
}

/// Faults that one outline shows by itself, crossings apart.
fn check_pieces(outline: &Polyarc, found: &mut impl FnMut(FaultKind, Point)) {
    for segment in outline.segments() {
        // A piece without length has no direction either.
        if segment.from().distance(segment.to()) < SHORTEST_PIECE
            && (segment.is_straight() || segment.length() < SHORTEST_PIECE)
        {
            found(FaultKind::Tiny, segment.from());
        }
        if matches!(segment, Segment::Arc { bulge, .. } if bulge.abs() > 1.0 + 1e-9) {
            found(FaultKind::LongArc, segment.from());
        }
    }
    if outline.area().abs() < SHORTEST_PIECE * SHORTEST_PIECE {
        found(FaultKind::Empty, outline.vertices[0].point);
    }
}

/// Pieces that lie on one another end to end, whichever way they run.
fn drawn_twice(outlines: &[(Layer, &Polyarc)]) -> Vec<Fault> {
    let mut pieces: Vec<(Layer, Point, Segment)> = outlines
        .iter()
        .flat_map(|(layer, outline)| {
            outline
                .segments()
                .map(|segment| (*layer, segment.from().midpoint(segment.to()), segment))
        })
        .collect();
    pieces.sort_by(|a, b| a.1.x.total_cmp(&b.1.x).then(a.1.y.total_cmp(&b.1.y)));
    let mut faults = Vec::new();
    for (i, (layer, middle, piece)) in pieces.iter().enumerate() {
        let near = pieces[i + 1..].iter().take_while(|other| other.1.x - middle.x <= SAME_POINT);
        if near.into_iter().any(|other| is_same_piece(piece, &other.2)) {
            faults.push(Fault { kind: FaultKind::Twice, layer: *layer, at: *middle });
        }
    }
    faults
}

fn is_same_piece(a: &Segment, b: &Segment) -> bool {
    let meets = |b: &Segment| {
        a.from().distance(b.from()) <= SAME_POINT && a.to().distance(b.to()) <= SAME_POINT
    };
    let same_way =
        |b: &Segment| meets(b) && a.point_at(0.5).distance(b.point_at(0.5)) <= SAME_POINT;
    same_way(b) || same_way(&b.reversed())
}

/// Outlines that cross themselves or one another.
fn crossings(outlines: &[(Layer, &Polyarc)]) -> Vec<Fault> {
    let mut faults = Vec::new();
    let boxed: Vec<_> = outlines
        .iter()
        .map(|(layer, outline)| (*layer, *outline, outline.bounds(), pline(outline)))
        .collect();
    for (i, (layer, outline, bounds, line)) in boxed.iter().enumerate() {
        if let Some(crossing) = self_crossing(outline) {
            faults.push(Fault { kind: FaultKind::CrossesItself, layer: *layer, at: crossing.at });
        }
        for (_, _, _, other) in boxed[i + 1..].iter().filter(|other| other.2.overlaps(*bounds)) {
            if let Some(at) = meeting(line, other) {
                faults.push(Fault { kind: FaultKind::Crosses, layer: *layer, at });
            }
        }
    }
    faults
}

/// The first place where outline `a` meets `b`, if it goes on to lie on both sides of it. Outlines
/// that touch, or run along one another as parts cut with a common line do, do not cross.
fn meeting(a: &Polyline<f64>, b: &Polyline<f64>) -> Option<Point> {
    let found = a.find_intersects(b);
    let alone =
        found.basic_intersects.iter().map(|crossing| (crossing.start_index1, crossing.point));
    let shared = found
        .overlapping_intersects
        .iter()
        .flat_map(|o| [(o.start_index1, o.point1), (o.start_index1, o.point2)]);
    let meetings: Vec<(usize, Vector2<f64>)> = alone.chain(shared).collect();
    let first = meetings.first()?.1;
    let (mut inside, mut outside) = (false, false);
    for (i, (start, end)) in a.iter_segments().enumerate() {
        // Places on this piece where the side may change, in the order in which they are met.
        let mut cuts: Vec<Vector2<f64>> =
            meetings.iter().filter(|meeting| meeting.0 == i).map(|meeting| meeting.1).collect();
        cuts.sort_by(|p, q| (*p - start.pos()).length().total_cmp(&(*q - start.pos()).length()));
        let places = std::iter::once(start.pos()).chain(cuts.iter().copied()).chain([end.pos()]);
        let piece = piece_of(start, end);
        let parameters: Vec<f64> = places.map(|place| parameter_of(&piece, place)).collect();
        for pair in parameters.windows(2) {
            let middle = piece.point_at(f64::midpoint(pair[0], pair[1]));
            let place = Vector2::new(middle.x, middle.y);
            if b.closest_point(place, 1e-9).is_some_and(|closest| closest.distance > SAME_POINT) {
                let winds = b.winding_number(place) != 0;
                inside |= winds;
                outside |= !winds;
            }
        }
    }
    (inside && outside).then(|| Point::new(first.x, first.y))
}

fn piece_of(start: PlineVertex<f64>, end: PlineVertex<f64>) -> Segment {
    let (from, to) = (Point::new(start.x, start.y), Point::new(end.x, end.y));
    if start.bulge == 0.0 {
        Segment::Line { from, to }
    } else {
        Segment::Arc { from, to, bulge: start.bulge }
    }
}

/// Where on `piece` the point `place` of it lies, from 0 to 1.
fn parameter_of(piece: &Segment, place: Vector2<f64>) -> f64 {
    let reach = Point::new(place.x, place.y) - piece.from();
    let chord = piece.to() - piece.from();
    match *piece {
        // The angle at the start between tangent and chord is half the angle of the arc.
        Segment::Arc { bulge, .. } => {
            let tangent = piece.tangent_at(0.0);
            let half_angle = tangent.cross(reach).atan2(tangent.dot(reach));
            if reach.hypot() <= SAME_POINT {
                0.0
            } else {
                (half_angle / (2.0 * bulge.atan())).clamp(0.0, 1.0)
            }
        }
        _ => (reach.dot(chord) / chord.hypot2()).clamp(0.0, 1.0),
    }
}

fn pline(outline: &Polyarc) -> Polyline<f64> {
    let mut pline = Polyline::new_closed();
    for v in &outline.vertices {
        pline.add_vertex(PlineVertex::new(v.point.x, v.point.y, v.bulge));
    }
    pline
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Rect;

    fn faults(drawing: &Drawing) -> Vec<FaultKind> {
        self_check(drawing).into_iter().map(|fault| fault.kind).collect()
    }

    fn plate() -> Drawing {
        let mut drawing = Drawing::new("plate");
        drawing.closed(Layer::Outside, Polyarc::rectangle(Rect::new(0.0, 0.0, 120.0, 60.0)));
        drawing.closed(Layer::Opening, Polyarc::circle(Point::new(30.0, 30.0), 10.0));
        drawing
    }

    #[test]
    fn a_sound_plate_has_no_faults_and_marks_may_cross_it() {
        let mut drawing = plate();
        drawing.line(Layer::FoldUp, Point::new(60.0, -5.0), Point::new(60.0, 65.0));
        assert_eq!(self_check(&drawing), []);
        // A second plate beside it, touching along a part of one side.
        drawing.closed(Layer::Outside, Polyarc::rectangle(Rect::new(120.0, 10.0, 150.0, 20.0)));
        assert_eq!(self_check(&drawing), []);
    }

    #[test]
    fn each_fault_is_found() {
        let with = |layer, outline| {
            let mut drawing = plate();
            drawing.closed(layer, outline);
            drawing
        };
        let tie = Polyarc::polygon(
            [(60.0, 10.0), (80.0, 30.0), (80.0, 10.0), (60.0, 30.0)].map(Point::from),
        );
        assert!(faults(&with(Layer::Opening, tie)).contains(&FaultKind::CrossesItself));
        let again = Polyarc::circle(Point::new(30.0, 30.0), 10.0).reversed();
        assert!(faults(&with(Layer::Opening, again)).contains(&FaultKind::Twice));
        assert_eq!(
            faults(&with(Layer::Opening, Polyarc::circle(Point::new(120.0, 30.0), 5.0))),
            [FaultKind::Crosses]
        );
        let crumb = Polyarc::polygon(
            [(60.0, 10.0), (80.0, 10.0), (80.0, 30.0), (80.0, 30.04)].map(Point::from),
        );
        assert_eq!(faults(&with(Layer::Opening, crumb)), [FaultKind::Tiny]);
        let lost = Polyarc::circle(Point::new(f64::NAN, 30.0), 5.0);
        assert_eq!(faults(&with(Layer::Opening, lost)), [FaultKind::NotFinite]);
        assert_eq!(faults(&with(Layer::Opening, Polyarc::default())), [FaultKind::Empty]);
        let mut open = plate();
        open.line(Layer::Opening, Point::new(60.0, 10.0), Point::new(80.0, 10.0));
        assert_eq!(faults(&open), [FaultKind::Open]);
    }
}
