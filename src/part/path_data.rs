//! Outlines out of SVG path data (W3C, Scalable Vector Graphics 1.1, section 8.3).

use std::fmt;

use kurbo::{Affine, Arc, CubicBez, ParamCurve, Point, QuadBez, SvgArc, Vec2};
use svgtypes::{PathParser, PathSegment};

use crate::geom::{Loop, Segment, Side};
use crate::tolerance::{
    ELLIPSE_TO_CUBICS, FARTHEST_COORDINATE, LARGEST_IMPORTED_RADIUS, MOST_IMPORTED_PIECES, SAME_POINT, SMALLEST_IMPORTED_AREA,
};

/// What is wrong with path data, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PathDataProblem {
    /// The character at which it shows, counted from 1.
    pub column: usize,
    /// What is wrong and what would be right.
    pub message: String,
}

impl PathDataProblem {
    fn new(column: usize, message: impl Into<String>) -> Self {
        Self { column, message: message.into() }
    }
}

impl fmt::Display for PathDataProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} (at character {})", self.message, self.column)
    }
}

impl std::error::Error for PathDataProblem {}

/// The one closed outline that the path data `d` draws, walked as drawn; each drawing command is an edge, numbered from 0.
///
/// `scale_mm` is the length in mm of one unit of `d`; with `y_down` its y axis runs down the page, as on a screen. Circular arcs stay
/// arcs, elliptical ones become cubics. A path that ends where it began is closed even without its `Z`.
pub fn loop_from_path_data(d: &str, y_down: bool, scale_mm: f64) -> Result<Loop, PathDataProblem> {
    let drawn = subpaths(d)?;
    let [outline] = drawn.as_slice() else {
        let problem = match drawn.get(1) {
            None => PathDataProblem::new(1, "the path draws nothing; an outline looks like `M0,0 h300 v60 h-300 z`"),
            Some(second) => PathDataProblem::new(
                second.column,
                format!("the path has {} parts, one is wanted; give openings as `openings:` of their own", drawn.len()),
            ),
        };
        return Err(problem);
    };
    let motion = Affine::scale_non_uniform(scale_mm, if y_down { -scale_mm } else { scale_mm });
    let sides = outline.sides(motion)?;
    let (first, last) = (sides.first(), sides.last());
    let gap = first.zip(last).map_or(0.0, |(first, last)| last.segment.to().distance(first.segment.from()));
    if gap > SAME_POINT {
        let message = format!("the path is not closed: its end is {gap:.3} mm from its start; end it with `z`");
        return Err(PathDataProblem::new(d.trim_end().chars().count().max(1), message));
    }
    let outline = Loop { sides: joined(sides) };
    if outline.area().abs() < SMALLEST_IMPORTED_AREA {
        return Err(PathDataProblem::new(
            1,
            "the path encloses no area; it needs at least a line out and a curve or two lines back",
        ));
    }
    Ok(outline)
}

/// The sides with the last end set on the first start.
fn joined(mut sides: Vec<Side>) -> Vec<Side> {
    if let (Some(start), Some(last)) = (sides.first().map(|side| side.segment.from()), sides.last_mut()) {
        match &mut last.segment {
            Segment::Line { to, .. } | Segment::Arc { to, .. } => *to = start,
            Segment::Curve(curve) => curve.p3 = start,
        }
    }
    sides
}

/// One piece as drawn, in the file's own units and axes.
#[derive(Debug, Clone, Copy)]
enum Piece {
    Line { from: Point, to: Point },
    Cubic(CubicBez),
    Arc { from: Point, to: Point, arc: Arc },
}

/// What is drawn between one move and the next.
#[derive(Debug, Clone)]
pub(super) struct Subpath {
    /// Where in the text it begins, counted in characters from 1.
    pub(super) column: usize,
    pieces: Vec<Piece>,
    /// Whether it ends in a `Z`.
    pub(super) closed: bool,
}

/// Everything that `d` draws, part by part; parts without any line are left out.
pub(super) fn subpaths(d: &str) -> Result<Vec<Subpath>, PathDataProblem> {
    let mut pen =
        Pen { columns: start_columns(d).into_iter(), drawn: Vec::new(), at: Point::ORIGIN, start: Point::ORIGIN, last: None };
    for (count, command) in PathParser::from(d).enumerate() {
        let command = command.map_err(|error| syntax_problem(d, &error))?;
        if count > MOST_IMPORTED_PIECES {
            return Err(PathDataProblem::new(1, format!("the path has more than {MOST_IMPORTED_PIECES} commands")));
        }
        pen.follow(command);
    }
    pen.drawn.retain(|subpath| subpath.pieces.iter().any(|piece| !piece.is_nothing()));
    Ok(pen.drawn)
}

/// Follows the commands of path data, which may count from where the last one ended.
struct Pen {
    columns: std::vec::IntoIter<usize>,
    drawn: Vec<Subpath>,
    at: Point,
    start: Point,
    /// The last control point of the command before, if it was a curve that a smooth one may follow: cubic or quadratic.
    last: Option<(Degree, Point)>,
}

#[derive(Clone, Copy, PartialEq)]
enum Degree {
    Quadratic,
    Cubic,
}

impl Pen {
    fn follow(&mut self, command: PathSegment) {
        use PathSegment as P;
        let from = self.at;
        let place = |abs: bool, x: f64, y: f64| if abs { Point::new(x, y) } else { from + Vec2::new(x, y) };
        let mut control = None;
        let piece = match command {
            P::MoveTo { abs, x, y } => {
                self.begin(place(abs, x, y));
                return;
            }
            P::ClosePath { .. } => {
                let to = self.start;
                self.put(Piece::Line { from, to });
                if let Some(current) = self.drawn.last_mut() {
                    current.closed = true;
                }
                return;
            }
            P::LineTo { abs, x, y } => Piece::Line { from, to: place(abs, x, y) },
            P::HorizontalLineTo { abs, x } => Piece::Line { from, to: Point::new(place(abs, x, 0.0).x, from.y) },
            P::VerticalLineTo { abs, y } => Piece::Line { from, to: Point::new(from.x, place(abs, 0.0, y).y) },
            P::CurveTo { abs, x1, y1, x2, y2, x, y } => {
                control = Some((Degree::Cubic, place(abs, x2, y2)));
                Piece::Cubic(CubicBez::new(from, place(abs, x1, y1), place(abs, x2, y2), place(abs, x, y)))
            }
            P::SmoothCurveTo { abs, x2, y2, x, y } => {
                control = Some((Degree::Cubic, place(abs, x2, y2)));
                Piece::Cubic(CubicBez::new(from, self.reflected(Degree::Cubic), place(abs, x2, y2), place(abs, x, y)))
            }
            P::Quadratic { abs, x1, y1, x, y } => {
                let middle = place(abs, x1, y1);
                control = Some((Degree::Quadratic, middle));
                Piece::Cubic(QuadBez::new(from, middle, place(abs, x, y)).raise())
            }
            P::SmoothQuadratic { abs, x, y } => {
                let middle = self.reflected(Degree::Quadratic);
                control = Some((Degree::Quadratic, middle));
                Piece::Cubic(QuadBez::new(from, middle, place(abs, x, y)).raise())
            }
            P::EllipticalArc { abs, rx, ry, x_axis_rotation, large_arc, sweep, x, y } => {
                let (to, radii, x_rotation) = (place(abs, x, y), Vec2::new(rx, ry), x_axis_rotation.to_radians());
                arc_piece(&SvgArc { from, to, radii, x_rotation, large_arc, sweep })
            }
        };
        self.put(piece);
        self.last = control;
    }

    fn begin(&mut self, at: Point) {
        (self.at, self.start, self.last) = (at, at, None);
        self.drawn.push(Subpath { column: self.columns.next().unwrap_or(1), pieces: Vec::new(), closed: false });
    }

    fn put(&mut self, piece: Piece) {
        // After a `Z` the next command draws a new part from the same start, also without a move.
        if self.drawn.last().is_none_or(|current| current.closed) && !piece.is_nothing() {
            self.begin(self.start);
        }
        (self.at, self.last) = (piece.to(), None);
        if let Some(current) = self.drawn.last_mut().filter(|current| !current.closed) {
            current.pieces.push(piece);
        }
    }

    /// The first control point of a smooth curve: the last one of a like curve before it, mirrored in its end.
    fn reflected(&self, degree: Degree) -> Point {
        match self.last {
            Some((before, control)) if before == degree => self.at + (self.at - control),
            _ => self.at,
        }
    }
}

/// An arc command as a piece: too small a radius is enlarged and none at all is a line, as the standard's section F.6.2 says.
fn arc_piece(arc: &SvgArc) -> Piece {
    let (from, to) = (arc.from, arc.to);
    match Arc::from_svg_arc(arc) {
        Some(arc) => Piece::Arc { from, to, arc },
        None => Piece::Line { from, to },
    }
}

impl Piece {
    fn to(&self) -> Point {
        match self {
            Self::Line { to, .. } | Self::Arc { to, .. } => *to,
            Self::Cubic(curve) => curve.p3,
        }
    }

    /// Whether it does not leave its start.
    fn is_nothing(&self) -> bool {
        match self {
            Self::Line { from, to } | Self::Arc { from, to, .. } => from == to,
            Self::Cubic(curve) => curve.p0 == curve.p3 && curve.p0 == curve.p1 && curve.p0 == curve.p2,
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
                if arc.sweep_angle.abs() <= std::f64::consts::PI + 1e-9 {
                    return vec![split(from, to, arc.sweep_angle)];
                }
                let middle = arc.eval(0.5);
                vec![split(from, middle, arc.sweep_angle / 2.0), split(middle, to, arc.sweep_angle / 2.0)]
            }
            Self::Arc { to, arc, .. } => {
                let scale = motion.determinant().abs().sqrt().max(f64::MIN_POSITIVE);
                let mut at = motion * self.from();
                let cubics = arc.append_iter(ELLIPSE_TO_CUBICS / scale).filter_map(|element| match element {
                    kurbo::PathEl::CurveTo(a, b, c) => Some((motion * a, motion * b, motion * c)),
                    _ => None,
                });
                let mut segments: Vec<Segment> =
                    cubics.map(|(a, b, c)| Segment::Curve(CubicBez::new(std::mem::replace(&mut at, c), a, b, c))).collect();
                if let Some(Segment::Curve(last)) = segments.last_mut() {
                    last.p3 = motion * to;
                }
                segments
            }
        }
    }

    fn from(&self) -> Point {
        match self {
            Self::Line { from, .. } | Self::Arc { from, .. } => *from,
            Self::Cubic(curve) => curve.p0,
        }
    }
}

/// Whether both radii are one; written numbers agree to their last digit, so a part in a million is enough.
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

impl Subpath {
    /// Its sides in mm after `motion`, each command an edge of its own; steps that lead nowhere are left out.
    pub(super) fn sides(&self, motion: Affine) -> Result<Vec<Side>, PathDataProblem> {
        let mut sides: Vec<Side> = Vec::new();
        for (edge, piece) in self.pieces.iter().enumerate().filter(|(_, piece)| !piece.is_nothing()) {
            if let Piece::Arc { arc, .. } = piece {
                let reach = arc.radii.x.max(arc.radii.y) * motion.determinant().abs().sqrt();
                if reach.is_nan() || reach > LARGEST_IMPORTED_RADIUS {
                    return Err(PathDataProblem::new(self.column, "an arc's radius is beyond all measure; draw a line instead"));
                }
            }
            for segment in piece.segments(motion) {
                if !is_within_reach(&segment) {
                    return Err(PathDataProblem::new(self.column, "a coordinate is not a number or lies more than 1 km out"));
                }
                match straightened(segment) {
                    Segment::Line { from, to } if from.distance(to) < SAME_POINT => bridge(&mut sides, to),
                    segment => sides.push(Side { segment, edge: Some(edge) }),
                }
            }
        }
        Ok(sides)
    }
}

/// Ends the last side at `to`, a hair from where it ended.
fn bridge(sides: &mut [Side], to: Point) {
    if let Some(last) = sides.last_mut() {
        match &mut last.segment {
            Segment::Line { to: end, .. } | Segment::Arc { to: end, .. } => *end = to,
            Segment::Curve(curve) => curve.p3 = to,
        }
    }
}

/// Whether all that defines the segment is a number of ordinary size.
fn is_within_reach(segment: &Segment) -> bool {
    let near = |p: Point| p.x.abs() <= FARTHEST_COORDINATE && p.y.abs() <= FARTHEST_COORDINATE;
    let ends = near(segment.from()) && near(segment.to());
    match segment {
        Segment::Curve(curve) => ends && near(curve.p1) && near(curve.p2),
        Segment::Arc { bulge, .. } => ends && bulge.is_finite(),
        Segment::Line { .. } => ends,
    }
}

/// A curve whose control points lie on its chord, in order, is a line: many drawing programs write lines so.
pub(super) fn straightened(segment: Segment) -> Segment {
    match segment {
        Segment::Curve(c) => {
            let chord = c.p3 - c.p0;
            let beside = |p: Point| (p - c.p0).cross(chord).abs() <= SAME_POINT / 10.0 * chord.hypot();
            let along = |p: Point| (p - c.p0).dot(chord) / chord.hypot2();
            let in_order = 0.0 <= along(c.p1) && along(c.p1) <= along(c.p2) && along(c.p2) <= 1.0;
            if beside(c.p1) && beside(c.p2) && in_order { Segment::Line { from: c.p0, to: c.p3 } } else { segment }
        }
        Segment::Arc { from, to, bulge } if bulge.abs() < crate::tolerance::STRAIGHT_BULGE => Segment::Line { from, to },
        _ => segment,
    }
}

/// Where in `d` each part begins, in characters from 1: at every move, and at a command that follows a `Z` without one.
fn start_columns(d: &str) -> Vec<usize> {
    let mut columns = Vec::new();
    let mut closed = false;
    for (i, letter) in d.chars().enumerate().filter(|(_, c)| c.is_ascii_alphabetic() && !c.eq_ignore_ascii_case(&'e')) {
        let closes = letter.eq_ignore_ascii_case(&'z');
        if letter.eq_ignore_ascii_case(&'m') || (closed && !closes) {
            columns.push(i + 1);
        }
        closed = closes;
    }
    columns
}

/// The parser's complaint in a builder's words.
fn syntax_problem(d: &str, error: &svgtypes::Error) -> PathDataProblem {
    use svgtypes::Error;
    let end = d.chars().count().max(1);
    let begins_otherwise = !d.trim_start().starts_with(['M', 'm']);
    let (column, what) = match error {
        Error::UnexpectedEndOfStream => (end, "the path breaks off in the middle of a command"),
        Error::InvalidNumber(at) => (*at, "a number is wanted here"),
        Error::UnexpectedData(at) if *at <= 1 && begins_otherwise => (1, "path data begins with a move, `M x,y`"),
        Error::UnexpectedData(at) | Error::InvalidChar(_, at) | Error::InvalidString(_, at) => {
            (*at, "this is not understood; the path commands are M L H V C S Q T A Z, an arc's flags are 0 or 1")
        }
        _ => (1, "this is no path data; an outline looks like `M0,0 h300 v60 h-300 z`"),
    };
    PathDataProblem::new(column.clamp(1, end), what)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn drawn(d: &str) -> Loop {
        loop_from_path_data(d, false, 1.0).expect(d)
    }

    fn problem(d: &str) -> PathDataProblem {
        loop_from_path_data(d, false, 1.0).expect_err(d)
    }

    #[test]
    fn a_rectangle_has_four_edges_in_order() {
        let outline = drawn("M0,0 h300 v60 h-300 z");
        assert_eq!(outline.sides.len(), 4);
        assert_eq!(outline.sides.iter().map(|side| side.edge).collect::<Vec<_>>(), [Some(0), Some(1), Some(2), Some(3)]);
        assert!((outline.area() - 18_000.0).abs() < 1e-9);
    }

    #[test]
    fn y_down_and_inches_turn_the_outline_over_and_enlarge_it() {
        let outline = loop_from_path_data("M0 0H2V1H0Z", true, 25.4).expect("a rectangle");
        assert!((outline.area() + 2.0 * 25.4 * 25.4).abs() < 1e-9);
        assert!((outline.bounds().y0 + 25.4).abs() < 1e-12);
    }

    #[test]
    fn circular_arcs_stay_arcs_and_none_turns_more_than_half() {
        // Three quarters of a circle of radius 10 about the origin, closed over the centre.
        let outline = drawn("M10,0 A10,10 0 1 1 0,-10 L0,0 z");
        let arcs = outline.sides.iter().filter(|side| matches!(side.segment, Segment::Arc { .. })).count();
        assert_eq!(arcs, 2);
        assert!((outline.area() - 75.0 * PI).abs() < 1e-9, "{}", outline.area());
        let circle = drawn("M-5 0a5 5 0 1 0 10 0a5 5 0 1 0-10 0z");
        assert!((circle.area().abs() - 25.0 * PI).abs() < 1e-9);
        assert!(circle.sides.iter().all(|side| matches!(side.segment, Segment::Arc { bulge, .. } if bulge.abs() <= 1.0)));
        // Mirrored, the same circle runs the other way.
        let mirrored = loop_from_path_data("M-5 0a5 5 0 1 0 10 0a5 5 0 1 0-10 0z", true, 1.0).expect("a circle");
        assert!((mirrored.area() + circle.area()).abs() < 1e-9);
    }

    #[test]
    fn an_ellipse_has_its_area() {
        let outline = drawn("M-50,0 A50,20 0 0 1 50,0 A50,20 0 0 1 -50,0 Z");
        assert!((outline.area().abs() - 1000.0 * PI).abs() < 1e-4, "{}", outline.area());
        // Turned by 30 degrees it keeps it; its end points are those of the turned long axis.
        let (c, s) = (PI / 6.0).sin_cos();
        let turned = format!("M{0},{1} A50,20 30 0 1 {2},{3} A50,20 30 0 1 {0},{1} Z", -50.0 * s, -50.0 * c, 50.0 * s, 50.0 * c);
        assert!((drawn(&turned).area().abs() - 1000.0 * PI).abs() < 1e-4);
        let fitted = outline.to_polyarc(0.004);
        assert!((fitted.area().abs() - 1000.0 * PI).abs() < 0.2);
    }

    #[test]
    fn quadratics_and_smooth_curves_have_their_areas() {
        // A parabola's area is two thirds of its box (Archimedes): here base 60, height 20.
        assert!((drawn("M0,0 Q30,40 60,0 Z").area().abs() - 800.0).abs() < 1e-9);
        // Two equal arches, the second given as a smooth one to the other side, cancel but for nothing.
        let wave = drawn("M0,0 Q30,40 60,0 T120,0 V-100 H0 Z");
        assert!((wave.area().abs() - 12_000.0).abs() < 1e-9);
    }

    #[test]
    fn lines_written_as_curves_are_lines_and_empty_steps_vanish() {
        let outline = drawn("M0,0 C10,0 20,0 30,0 L30,0 30,20 h0 H0 V0 z");
        assert_eq!(outline.sides.len(), 4);
        assert!(outline.sides.iter().all(|side| side.segment.is_straight()));
    }

    #[test]
    fn what_is_wrong_is_said_with_its_place() {
        for (d, column, says) in [
            ("", 1, "draws nothing"),
            ("M1,1", 1, "draws nothing"),
            ("M0,0 h10 v10", 12, "not closed"),
            ("M0,0 h10 v10 z M20,20 h5 v5 z", 16, "2 parts"),
            ("M0,0 h10 v10 z h5 v-5 z", 16, "2 parts"),
            ("M0,0 h10 w10 z", 10, "not understood"),
            ("M0,0 h10 vz", 11, "number"),
            ("L0,0 h10 v10 z", 1, "begins with a move"),
            ("M0,0 h10 h-10 z", 1, "no area"),
            ("M0,0 h1e400 v10 z", 7, "number"),
            ("M0,0 h1e9 v10 z", 1, "1 km"),
            ("M0,0 A1e300,1e290 0 0 1 10,10 z", 1, "radius"),
            ("M0,0 A1,1,0,2,0,5,5z", 13, "flags are 0 or 1"),
        ] {
            let problem = problem(d);
            assert!(problem.message.contains(says), "{d}: {problem}");
            assert_eq!(problem.column, column, "{d}: {problem}");
        }
    }

    #[test]
    fn end_at_the_start_closes_without_a_z() {
        assert!((drawn("M0,0 L10,0 10,10 0,10 0,0").area() - 100.0).abs() < 1e-9);
    }
}
