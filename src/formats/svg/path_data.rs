//! Outlines out of SVG path data (W3C, Scalable Vector Graphics 1.1, section 8.3).

use std::fmt;

use kurbo::{Affine, Arc, CubicBez, Point, QuadBez, SvgArc, Vec2};
use svgtypes::{PathParser, PathSegment};

use crate::formats::outline::piece::{Piece, closed_up, sides};
use crate::geom::Loop;
use crate::tolerance::{MOST_IMPORTED_PIECES, SAME_POINT, SMALLEST_IMPORTED_AREA};

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

/// The one closed outline that the path data `d` draws, walked as drawn; each drawing command is an
/// edge, numbered from 0.
///
/// `scale_mm` is the length in mm of one unit of `d`; with `y_down` its y axis runs down the page,
/// as on a screen. Circular arcs stay arcs, elliptical ones become cubics. A path that ends where
/// it began is closed even without its `Z`.
pub fn loop_from_path_data(d: &str, y_down: bool, scale_mm: f64) -> Result<Loop, PathDataProblem> {
    let drawn = subpaths(d)?;
    let [outline] = drawn.as_slice() else {
        let problem = match drawn.get(1) {
            None => PathDataProblem::new(
                1,
                "the path draws nothing; an outline looks like `M0,0 h300 v60 h-300 z`",
            ),
            Some(second) => PathDataProblem::new(
                second.column,
                format!(
                    "the path has {} parts, one is wanted; give openings as `openings:` of their own",
                    drawn.len()
                ),
            ),
        };
        return Err(problem);
    };
    let motion = Affine::scale_non_uniform(scale_mm, if y_down { -scale_mm } else { scale_mm });
    let sides = sides(&outline.pieces, motion)
        .map_err(|problem| PathDataProblem::new(outline.column, problem.to_string()))?;
    let (first, last) = (sides.first(), sides.last());
    let gap = first
        .zip(last)
        .map_or(0.0, |(first, last)| last.segment.to().distance(first.segment.from()));
    if gap > SAME_POINT {
        let message = format!(
            "the path is not closed: its end is {gap:.3} mm from its start; end it with `z`"
        );
        return Err(PathDataProblem::new(d.trim_end().chars().count().max(1), message));
    }
    let outline = Loop { sides: closed_up(sides) };
    if outline.area().abs() < SMALLEST_IMPORTED_AREA {
        return Err(PathDataProblem::new(
            1,
            "the path encloses no area; it needs at least a line out and a curve or two lines back",
        ));
    }
    Ok(outline)
}

/// What is drawn between one move and the next.
#[derive(Debug, Clone)]
pub(super) struct Subpath {
    /// Where in the text it begins, counted in characters from 1.
    pub(super) column: usize,
    pub(super) pieces: Vec<Piece>,
    /// Whether it ends in a `Z`.
    pub(super) closed: bool,
}

/// Everything that `d` draws, part by part; parts without any line are left out.
pub(super) fn subpaths(d: &str) -> Result<Vec<Subpath>, PathDataProblem> {
    let mut pen = Pen {
        columns: start_columns(d).into_iter(),
        drawn: Vec::new(),
        at: Point::ORIGIN,
        start: Point::ORIGIN,
        last: None,
    };
    for (count, command) in PathParser::from(d).enumerate() {
        let command = command.map_err(|error| syntax_problem(d, &error))?;
        if count > MOST_IMPORTED_PIECES {
            return Err(PathDataProblem::new(
                1,
                format!("the path has more than {MOST_IMPORTED_PIECES} commands"),
            ));
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
    /// The last control point of the command before, if it was a curve that a smooth one may
    /// follow: cubic or quadratic.
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
        let place =
            |abs: bool, x: f64, y: f64| if abs { Point::new(x, y) } else { from + Vec2::new(x, y) };
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
            P::HorizontalLineTo { abs, x } => {
                Piece::Line { from, to: Point::new(place(abs, x, 0.0).x, from.y) }
            }
            P::VerticalLineTo { abs, y } => {
                Piece::Line { from, to: Point::new(from.x, place(abs, 0.0, y).y) }
            }
            P::CurveTo { abs, x1, y1, x2, y2, x, y } => {
                control = Some((Degree::Cubic, place(abs, x2, y2)));
                Piece::Cubic(CubicBez::new(
                    from,
                    place(abs, x1, y1),
                    place(abs, x2, y2),
                    place(abs, x, y),
                ))
            }
            P::SmoothCurveTo { abs, x2, y2, x, y } => {
                control = Some((Degree::Cubic, place(abs, x2, y2)));
                Piece::Cubic(CubicBez::new(
                    from,
                    self.reflected(Degree::Cubic),
                    place(abs, x2, y2),
                    place(abs, x, y),
                ))
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
                let (to, radii, x_rotation) =
                    (place(abs, x, y), Vec2::new(rx, ry), x_axis_rotation.to_radians());
                arc_piece(&SvgArc { from, to, radii, x_rotation, large_arc, sweep })
            }
        };
        self.put(piece);
        self.last = control;
    }

    fn begin(&mut self, at: Point) {
        (self.at, self.start, self.last) = (at, at, None);
        self.drawn.push(Subpath {
            column: self.columns.next().unwrap_or(1),
            pieces: Vec::new(),
            closed: false,
        });
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

    /// The first control point of a smooth curve: the last one of a like curve before it, mirrored
    /// in its end.
    fn reflected(&self, degree: Degree) -> Point {
        match self.last {
            Some((before, control)) if before == degree => self.at + (self.at - control),
            _ => self.at,
        }
    }
}

/// An arc command as a piece: too small a radius is enlarged and none at all is a line, as the
/// standard's section F.6.2 says.
fn arc_piece(arc: &SvgArc) -> Piece {
    let (from, to) = (arc.from, arc.to);
    match Arc::from_svg_arc(arc) {
        Some(arc) => Piece::Arc { from, to, arc },
        None => Piece::Line { from, to },
    }
}

/// Where in `d` each part begins, in characters from 1: at every move, and at a command that
/// follows a `Z` without one.
fn start_columns(d: &str) -> Vec<usize> {
    let mut columns = Vec::new();
    let mut closed = false;
    for (i, letter) in d
        .chars()
        .enumerate()
        .filter(|(_, c)| c.is_ascii_alphabetic() && !c.eq_ignore_ascii_case(&'e'))
    {
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
        Error::UnexpectedData(at) if *at <= 1 && begins_otherwise => {
            (1, "path data begins with a move, `M x,y`")
        }
        Error::UnexpectedData(at) | Error::InvalidChar(_, at) | Error::InvalidString(_, at) => (
            *at,
            "this is not understood; the path commands are M L H V C S Q T A Z, an arc's flags are 0 or 1",
        ),
        _ => (1, "this is no path data; an outline looks like `M0,0 h300 v60 h-300 z`"),
    };
    PathDataProblem::new(column.clamp(1, end), what)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Segment;
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
        assert_eq!(
            outline.sides.iter().map(|side| side.edge).collect::<Vec<_>>(),
            [Some(0), Some(1), Some(2), Some(3)]
        );
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
        let arcs =
            outline.sides.iter().filter(|side| matches!(side.segment, Segment::Arc { .. })).count();
        assert_eq!(arcs, 2);
        assert!((outline.area() - 75.0 * PI).abs() < 1e-9, "{}", outline.area());
        let circle = drawn("M-5 0a5 5 0 1 0 10 0a5 5 0 1 0-10 0z");
        assert!((circle.area().abs() - 25.0 * PI).abs() < 1e-9);
        assert!(
            circle.sides.iter().all(
                |side| matches!(side.segment, Segment::Arc { bulge, .. } if bulge.abs() <= 1.0)
            )
        );
        // Mirrored, the same circle runs the other way.
        let mirrored = loop_from_path_data("M-5 0a5 5 0 1 0 10 0a5 5 0 1 0-10 0z", true, 1.0)
            .expect("a circle");
        assert!((mirrored.area() + circle.area()).abs() < 1e-9);
    }

    #[test]
    fn an_ellipse_has_its_area() {
        let outline = drawn("M-50,0 A50,20 0 0 1 50,0 A50,20 0 0 1 -50,0 Z");
        assert!((outline.area().abs() - 1000.0 * PI).abs() < 1e-4, "{}", outline.area());
        // Turned by 30 degrees it keeps it; its end points are those of the turned long axis.
        let (c, s) = (PI / 6.0).sin_cos();
        let turned = format!(
            "M{0},{1} A50,20 30 0 1 {2},{3} A50,20 30 0 1 {0},{1} Z",
            -50.0 * s,
            -50.0 * c,
            50.0 * s,
            50.0 * c
        );
        assert!((drawn(&turned).area().abs() - 1000.0 * PI).abs() < 1e-4);
        let fitted = outline.to_polyarc(0.004);
        assert!((fitted.area().abs() - 1000.0 * PI).abs() < 0.2);
    }

    #[test]
    fn quadratics_and_smooth_curves_have_their_areas() {
        // A parabola's area is two thirds of its box (Archimedes): here base 60, height 20.
        assert!((drawn("M0,0 Q30,40 60,0 Z").area().abs() - 800.0).abs() < 1e-9);
        // Two equal arches, the second given as a smooth one to the other side, cancel but for
        // nothing.
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
