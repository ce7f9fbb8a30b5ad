//! What imported outlines are drawn with, before it is moved into the part: lines, cubics and
//! elliptical arcs.

use std::f64::consts::PI;
use std::fmt;

use kurbo::{Affine, Arc, CubicBez, ParamCurve, Point, Vec2};

use crate::geom::{Segment, Side, left_of};
use crate::tolerance::{
    ELLIPSE_TO_CUBICS, FARTHEST_COORDINATE, LARGEST_IMPORTED_RADIUS, MOST_IMPORTED_PIECES,
    SAME_POINT, STRAIGHT_BULGE,
};

/// One piece as drawn, in the file's own units and axes.
#[derive(Debug, Clone, Copy)]
pub(in crate::formats) enum Piece {
    Line { from: Point, to: Point },
    Cubic(CubicBez),
    Arc { from: Point, to: Point, arc: Arc },
}

/// What makes a piece unfit for an outline.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::formats) enum PieceProblem {
    /// An arc whose radius is out of all measure.
    Radius,
    /// A coordinate that is not a number or far out.
    Reach,
    /// More pieces than an outline can have.
    Count,
}

impl fmt::Display for PieceProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Radius => f.write_str(
                "an arc's radius is beyond all measure, more than 1000 km; draw a line instead",
            ),
            Self::Reach => f.write_str("a coordinate is not a number or lies more than 1 km out"),
            Self::Count => write!(f, "it makes more than {MOST_IMPORTED_PIECES} lines and curves"),
        }
    }
}

impl Piece {
    /// The pieces of an elliptical arc from parameter `start` on through `sweep` radians, none of
    /// more than half a turn.
    pub(in crate::formats) fn of_arc(arc: Arc) -> Vec<Self> {
        let count = if arc.sweep_angle.abs() > PI + 1e-9 { 2 } else { 1 };
        let part = |i: u32| {
            let sweep_angle = arc.sweep_angle / f64::from(count);
            let arc = Arc {
                start_angle: arc.start_angle + sweep_angle * f64::from(i),
                sweep_angle,
                ..arc
            };
            Self::Arc { from: arc.eval(0.0), to: arc.eval(1.0), arc }
        };
        (0..count).map(part).collect()
    }

    /// The line or arc between two points with a bulge, which may be over 1.
    pub(in crate::formats) fn of_bulge(from: Point, to: Point, bulge: f64) -> Vec<Self> {
        let chord = to - from;
        if bulge.abs() < STRAIGHT_BULGE || chord.hypot() == 0.0 {
            return vec![Self::Line { from, to }];
        }
        let height = (1.0 - bulge * bulge) / (4.0 * bulge);
        let centre = from.midpoint(to) + left_of(chord) * height;
        let radius = chord.hypot() * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
        let (start_angle, sweep_angle) = ((from - centre).atan2(), 4.0 * bulge.atan());
        vec![Self::Arc {
            from,
            to,
            arc: Arc::new(centre, Vec2::new(radius, radius), start_angle, sweep_angle, 0.0),
        }]
    }

    pub(in crate::formats) fn to(&self) -> Point {
        match self {
            Self::Line { to, .. } | Self::Arc { to, .. } => *to,
            Self::Cubic(curve) => curve.p3,
        }
    }

    /// Whether it does not leave its start.
    pub(in crate::formats) fn is_nothing(&self) -> bool {
        match self {
            Self::Line { from, to } | Self::Arc { from, to, .. } => from == to,
            Self::Cubic(curve) => {
                curve.p0 == curve.p3 && curve.p0 == curve.p1 && curve.p0 == curve.p2
            }
        }
    }

    /// The piece as segments in mm after `motion`, which may scale and shear.
    fn segments(&self, motion: Affine) -> Vec<Segment> {
        match *self {
            Self::Line { from, to } => vec![Segment::Line { from: motion * from, to: motion * to }],
            Self::Cubic(curve) => vec![Segment::Curve(motion * curve)],
            Self::Arc { from, to, arc } if is_round(&arc) && keeps_circles(motion) => {
                let sense = motion.determinant().signum();
                let split = |from: Point, to: Point, sweep: f64| {
                    let bulge = (sweep / 4.0).tan().clamp(-1.0, 1.0) * sense;
                    Segment::Arc { from: motion * from, to: motion * to, bulge }
                };
                if arc.sweep_angle.abs() <= PI + 1e-9 {
                    return vec![split(from, to, arc.sweep_angle)];
                }
                let middle = arc.eval(0.5);
                vec![
                    split(from, middle, arc.sweep_angle / 2.0),
                    split(middle, to, arc.sweep_angle / 2.0),
                ]
            }
            Self::Arc { to, arc, .. } => {
                let scale = motion.determinant().abs().sqrt().max(f64::MIN_POSITIVE);
                let mut at = motion * self.from();
                let cubics =
                    arc.append_iter(ELLIPSE_TO_CUBICS / scale).filter_map(
                        |element| match element {
                            kurbo::PathEl::CurveTo(a, b, c) => {
                                Some((motion * a, motion * b, motion * c))
                            }
                            _ => None,
                        },
                    );
                let mut segments: Vec<Segment> = cubics
                    .map(|(a, b, c)| {
                        Segment::Curve(CubicBez::new(std::mem::replace(&mut at, c), a, b, c))
                    })
                    .collect();
                if let Some(Segment::Curve(last)) = segments.last_mut() {
                    last.p3 = motion * to;
                }
                segments
            }
        }
    }

    pub(in crate::formats) fn from(&self) -> Point {
        match self {
            Self::Line { from, .. } | Self::Arc { from, .. } => *from,
            Self::Cubic(curve) => curve.p0,
        }
    }
}

/// Whether both radii are one; written numbers agree to their last digit, so a part in a million is
/// enough.
fn is_round(arc: &Arc) -> bool {
    (arc.radii.x - arc.radii.y).abs() <= 1e-6 * arc.radii.x
}

/// Whether `motion` leaves a circle a circle.
fn keeps_circles(motion: Affine) -> bool {
    let [a, b, c, d, ..] = motion.as_coeffs();
    let (x, y) = (Vec2::new(a, b), Vec2::new(c, d));
    let size = x.hypot2().max(y.hypot2());
    (x.hypot2() - y.hypot2()).abs() <= 1e-9 * size && x.dot(y).abs() <= 1e-9 * size
}

/// The pieces as sides in mm after `motion`, each piece an edge of its own; steps that lead nowhere
/// are left out.
pub(in crate::formats) fn sides(
    pieces: &[Piece],
    motion: Affine,
) -> Result<Vec<Side>, PieceProblem> {
    let mut sides: Vec<Side> = Vec::new();
    for (edge, piece) in pieces.iter().enumerate().filter(|(_, piece)| !piece.is_nothing()) {
        if let Piece::Arc { arc, .. } = piece {
            let reach =
                arc.radii.x.abs().max(arc.radii.y.abs()) * motion.determinant().abs().sqrt();
            if reach.is_nan() || reach > LARGEST_IMPORTED_RADIUS {
                return Err(PieceProblem::Radius);
            }
        }
        for segment in piece.segments(motion) {
            if !is_within_reach(&segment) {
                return Err(PieceProblem::Reach);
            }
            let segment = straightened(segment);
            let is_crumb = segment.from().distance(segment.to()) < SAME_POINT
                && !matches!(segment, Segment::Curve(_));
            if is_crumb {
                bridge(&mut sides, segment.to());
            } else {
                sides.push(Side { segment, edge: Some(edge) });
            }
        }
        if sides.len() > MOST_IMPORTED_PIECES {
            return Err(PieceProblem::Count);
        }
    }
    Ok(sides)
}

/// The sides with the end of the last set on the start of the first.
pub(in crate::formats) fn closed_up(mut sides: Vec<Side>) -> Vec<Side> {
    if let Some(start) = sides.first().map(|side| side.segment.from()) {
        bridge(&mut sides, start);
    }
    sides
}

/// Ends the last side at `to`, a hair from where it ended.
fn bridge(sides: &mut [Side], to: Point) {
    if let Some(last) = sides.last_mut() {
        end_at(last, to);
    }
}

/// Ends a side at `to`, a hair from where it ended.
pub(in crate::formats) fn end_at(side: &mut Side, to: Point) {
    match &mut side.segment {
        Segment::Line { to: end, .. } | Segment::Arc { to: end, .. } => *end = to,
        Segment::Curve(curve) => curve.p3 = to,
    }
}

/// Whether all that defines the segment is a number of ordinary size.
pub(in crate::formats) fn is_within_reach(segment: &Segment) -> bool {
    let near = |p: Point| p.x.abs() <= FARTHEST_COORDINATE && p.y.abs() <= FARTHEST_COORDINATE;
    let ends = near(segment.from()) && near(segment.to());
    match segment {
        Segment::Curve(curve) => ends && near(curve.p1) && near(curve.p2),
        Segment::Arc { bulge, .. } => ends && bulge.is_finite(),
        Segment::Line { .. } => ends,
    }
}

/// A curve whose control points lie on its chord, in order, is a line: many drawing programs write
/// lines so.
fn straightened(segment: Segment) -> Segment {
    match segment {
        Segment::Curve(c) => {
            let chord = c.p3 - c.p0;
            let beside =
                |p: Point| (p - c.p0).cross(chord).abs() <= SAME_POINT / 10.0 * chord.hypot();
            let along = |p: Point| (p - c.p0).dot(chord) / chord.hypot2();
            let in_order = 0.0 <= along(c.p1) && along(c.p1) <= along(c.p2) && along(c.p2) <= 1.0;
            if beside(c.p1) && beside(c.p2) && in_order {
                Segment::Line { from: c.p0, to: c.p3 }
            } else {
                segment
            }
        }
        Segment::Arc { from, to, bulge } if bulge.abs() < STRAIGHT_BULGE => {
            Segment::Line { from, to }
        }
        _ => segment,
    }
}
