//! Outlines as written made into loops of lines, arcs and curves.

use std::path::Path;

use super::centreline::centreline;
use super::written::{CircleText, FileOutlineText, OutlineText, PathItemText, PathKeysText, RectangleText, SlotText};
use super::yaml::reader::{Allowed, At, Reader};
use crate::formats::{Measure, loop_from_path_data, outline_from_dxf, outline_from_svg};
use crate::geom::{
    FilletFailure, Loop, Point, Polyarc, Rect, Segment, Side, Vec2, Vertex, fillet, natural_spline, self_crossing,
};
use crate::part::FileReader;
use crate::problem::Code;
use crate::tolerance::{CURVE_TO_ARCS, LARGEST_LENGTH_MM, LEAST_AREA_MM2, LEAST_LENGTH_MM, SAME_POINT};
use crate::units::{Digits, Length, LengthUnit, MM_PER_INCH};

/// A closed outline, counter-clockwise, with the names of its edges.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outline {
    /// Its sides; each side's edge is an index into `edge_names`.
    pub sides: Loop,
    /// The names of its edges.
    pub edge_names: Vec<String>,
    /// The line along its middle, for a centreline outline.
    pub centreline: Option<Vec<Segment>>,
}

impl Reader<'_> {
    /// The outline that `text` describes.
    pub(super) fn outline(&mut self, text: &OutlineText, at: &At, files: &dyn FileReader) -> Option<Outline> {
        let given = [
            ("rectangle", text.rectangle.is_some()),
            ("circle", text.circle.is_some()),
            ("slot", text.slot.is_some()),
            ("path", text.path.is_some()),
            ("centreline", text.centreline.is_some()),
            ("svg", text.svg.is_some()),
            ("file", text.file.is_some()),
        ];
        let names: Vec<&str> = given.iter().filter(|(_, is)| *is).map(|(name, _)| *name).collect();
        if names.len() != 1 {
            let message = match names.as_slice() {
                [] => "this outline has no shape".to_owned(),
                _ => format!("this outline has {} shapes: {}", names.len(), names.join(", ")),
            };
            let help = "give exactly one of rectangle, circle, slot, path, centreline, svg, file";
            return self.refuse(at, Code::Choice, message, help);
        }
        let before = self.problems.len();
        let shape_at = at.key(names[0]);
        let outline = if let Some(rectangle) = &text.rectangle {
            self.rectangle(rectangle, &shape_at)
        } else if let Some(circle) = &text.circle {
            self.circle(circle, &shape_at)
        } else if let Some(slot) = &text.slot {
            self.slot(slot, &shape_at)
        } else if let Some(path) = &text.path {
            self.path(path, &shape_at)
        } else if let Some(line) = &text.centreline {
            centreline(self, line, &shape_at)
        } else if let Some(svg) = &text.svg {
            self.svg(&svg.d, svg.y_down.unwrap_or(false), &shape_at)
        } else {
            text.file.as_ref().and_then(|file| self.outline_file(file, &shape_at, files))
        };
        let outline = outline?;
        if self.problems.len() > before {
            return None;
        }
        self.sound(outline, &shape_at)
    }

    /// Refuses an outline that crosses itself or encloses nothing; turns it counter-clockwise.
    fn sound(&mut self, mut outline: Outline, at: &At) -> Option<Outline> {
        let arcs = outline.sides.to_polyarc(CURVE_TO_ARCS);
        if !arcs.vertices.iter().all(|v| v.point.is_finite() && v.bulge.is_finite()) {
            return self.refuse(at, Code::Outline, "this outline has a point that is nowhere", "check its points and radii");
        }
        if encloses_nothing(&arcs) {
            return self.refuse(at, Code::Outline, "this outline encloses nothing", "give it a width and a height");
        }
        let bounds = arcs.bounds();
        let largest = bounds.width().max(bounds.height());
        if largest > LARGEST_LENGTH_MM {
            let message = format!("this outline is {} across", self.shown_unit().show(Length::from_mm(largest)));
            let help = format!("lengths run from {LEAST_LENGTH_MM} mm to {} m", LARGEST_LENGTH_MM / 1000.0);
            return self.refuse(at, Code::OutOfRange, message, help);
        }
        if let Some(crossing) = self_crossing(&arcs) {
            let shown = |mm: f64| match self.shown_unit() {
                LengthUnit::Millimetre => Digits(mm, 3).to_string(),
                LengthUnit::Inch => Digits(mm / 25.4, 4).to_string(),
            };
            let message =
                format!("this outline crosses or touches itself at [{}, {}]", shown(crossing.at.x), shown(crossing.at.y));
            return self.refuse(at, Code::Outline, message, "walk once round the part, without crossing the way");
        }
        if arcs.area().abs() < LEAST_AREA_MM2 {
            return self.refuse(at, Code::Outline, "this outline encloses nothing", "give it a width and a height");
        }
        outline.sides = outline.sides.counter_clockwise();
        Some(outline)
    }

    fn at_or_origin(&mut self, point: Option<&super::written::PointText>, at: &At) -> Option<Vec2> {
        match point {
            Some(point) => self.point(point, &at.key("at")).map(Point::to_vec2),
            None => Some(Vec2::ZERO),
        }
    }

    fn rectangle(&mut self, text: &RectangleText, at: &At) -> Option<Outline> {
        let width = self.length(&text.size[0], &at.key("size").item(0), Allowed::Positive);
        let height = self.length(&text.size[1], &at.key("size").item(1), Allowed::Positive);
        let radius = self.length_or(text.corner_radius.as_ref(), &at.key("corner_radius"), Allowed::ZeroOrMore, Length::ZERO);
        let centre = self.at_or_origin(text.at.as_ref(), at)?;
        let (w, h, r) = (width?.mm() / 2.0, height?.mm() / 2.0, radius?.mm());
        if r > w.min(h) {
            let largest = self.shown_unit().show(Length::from_mm(w.min(h)));
            let message = "this corner radius is larger than half the rectangle";
            return self.refuse(&at.key("corner_radius"), Code::NoRoom, message, format!("it can be {largest} at most"));
        }
        let edge_names = ["bottom", "right", "top", "left"].map(str::to_owned).to_vec();
        let corners = [(-w, -h), (w, -h), (w, h), (-w, h)].map(Point::from);
        let mut sides = Vec::new();
        for i in 0..4 {
            let (from, to) = (corners[i], corners[(i + 1) % 4]);
            let along = (to - from).normalize();
            let (from, to) = (from + along * r + centre, to - along * r + centre);
            if from.distance(to) > SAME_POINT {
                sides.push(Side { segment: Segment::Line { from, to }, edge: Some(i) });
            }
            if r > 0.0 {
                let next = to + along * r + crate::geom::left_of(along) * r;
                sides.push(Side { segment: Segment::Arc { from: to, to: next, bulge: QUARTER_BULGE }, edge: None });
            }
        }
        Some(Outline { sides: Loop { sides }, edge_names, centreline: None })
    }

    fn circle(&mut self, text: &CircleText, at: &At) -> Option<Outline> {
        let diameter = self.length(&text.diameter, &at.key("diameter"), Allowed::Positive);
        let centre = self.at_or_origin(text.at.as_ref(), at)?;
        let circle = Polyarc::circle(centre.to_point(), diameter?.mm() / 2.0);
        Some(Outline { sides: Loop::of(&circle, None), ..Outline::default() })
    }

    fn slot(&mut self, text: &SlotText, at: &At) -> Option<Outline> {
        let length = self.length(&text.length, &at.key("length"), Allowed::Positive);
        let width = self.length(&text.width, &at.key("width"), Allowed::Positive);
        let angle =
            text.angle.as_ref().map_or(Some(crate::units::Angle::ZERO), |a| self.angle(a, &at.key("angle"), -360.0, 360.0));
        let centre = self.at_or_origin(text.at.as_ref(), at)?;
        let (length, radius, angle) = (length?.mm(), width?.mm() / 2.0, angle?.radians());
        let half = length / 2.0 - radius;
        if half < 0.0 {
            let message = "this slot is shorter than it is wide";
            return self.refuse(
                &at.key("length"),
                Code::NoRoom,
                message,
                "`length` is over all, round ends included; for a round hole use circle",
            );
        }
        let corner = |x: f64, y: f64, bulge: f64| {
            let point = (centre + turned(Vec2::new(x, y), angle)).to_point();
            Vertex { point, bulge }
        };
        let vertices = if half < SAME_POINT {
            Polyarc::circle(centre.to_point(), radius).vertices
        } else {
            vec![corner(-half, -radius, 0.0), corner(half, -radius, 1.0), corner(half, radius, 0.0), corner(-half, radius, 1.0)]
        };
        Some(Outline { sides: Loop::of(&Polyarc { vertices }, None), ..Outline::default() })
    }

    fn outline_file(&mut self, text: &FileOutlineText, at: &At, files: &dyn FileReader) -> Option<Outline> {
        let beside = self.map.source().name.clone();
        let named = |ending: &str| Path::new(&text.name.0).extension().is_some_and(|e| e.eq_ignore_ascii_case(ending));
        if !named("dxf") && !named("svg") {
            let message = format!("`{}` is neither a DXF nor an SVG file by its name", text.name.0);
            return self.refuse(&at.key("name"), Code::File, message, "give a file whose name ends in .dxf or .svg");
        }
        let units = [("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("in", MM_PER_INCH), ("ft", 12.0 * MM_PER_INCH)];
        let unit_mm = match &text.units {
            Some(word) => Some(self.word(&word.0, &at.key("units"), &units)?),
            None => None,
        };
        let scale = text.scale.map_or(Some(1.0), |scale| self.fraction(scale, &at.key("scale"), 1e-4, 1e4))?;
        let bytes = match files.read(&beside, &text.name.0) {
            Ok(bytes) => bytes,
            Err(problem) => return self.refuse(&at.key("name"), problem.code, problem.message, problem.help),
        };
        let layer = text.layer.as_ref().map(|layer| layer.0.as_str());
        let measure = Measure { unit_mm, unsaid_mm: self.shown_unit().length(1.0).mm(), scale };
        let read = if named("dxf") {
            outline_from_dxf(&bytes, layer, measure)
        } else {
            outline_from_svg(&String::from_utf8_lossy(&bytes), layer, measure)
        };
        match read {
            Ok(imported) => {
                if unit_mm.is_none() && imported.unit_mm.is_none() {
                    self.unsaid_unit(&text.name.0, named("dxf"), &at.key("name"))?;
                }
                for note in &imported.notes {
                    self.assume("file", text.name.0.clone(), note.clone());
                }
                if !imported.inside.is_empty() {
                    let why = format!(
                        "{} outlines inside the outermost one are not taken; list them as openings",
                        imported.inside.len()
                    );
                    self.assume("file", text.name.0.clone(), why);
                }
                Some(Outline { sides: imported.outline.without_edges(), ..Outline::default() })
            }
            Err(problem) => {
                let message = format!("{}: {problem}", text.name.0);
                self.refuse(&at.key("name"), Code::Outline, message, problem.hint())
            }
        }
    }

    /// The unit of a drawing that says none is this file's, which the result then lists.
    fn unsaid_unit(&mut self, drawing: &str, is_dxf: bool, at: &At) -> Option<()> {
        let says_none = if is_dxf {
            format!("`{drawing}` does not say its unit ($INSUNITS)")
        } else {
            format!("`{drawing}` does not say its size in mm, cm, in, pt, pc or px")
        };
        let Some(unit) = self.unit else {
            let help = "write `units: mm` beside `name`, or cm, m, in, ft";
            return self.refuse(at, Code::Quantity, format!("{says_none}, and this file names no unit either"), help);
        };
        let word = match unit {
            LengthUnit::Millimetre => "mm",
            LengthUnit::Inch => "in",
        };
        let why = format!("{says_none}, so this file's own unit is taken; write `units: {word}` beside `name`, or what is right");
        self.assume("file.units", word, why);
        Some(())
    }

    fn svg(&mut self, d: &str, y_down: bool, at: &At) -> Option<Outline> {
        let Some(unit) = self.unit else {
            let help = "add `units: mm` or `units: in` at the top of the file";
            return self.refuse(at, Code::Quantity, "path data has no unit, and the file names none", help);
        };
        match loop_from_path_data(d, y_down, unit.length(1.0).mm()) {
            Ok(sides) => Some(Outline { sides: sides.without_edges(), ..Outline::default() }),
            Err(error) => {
                let help = "SVG path data with one closed outline, such as \"M0,0 h300 v60 h-300 z\"";
                self.refuse(&at.key("d"), Code::Outline, error.to_string(), help)
            }
        }
    }

    fn path(&mut self, items: &[PathItemText], at: &At) -> Option<Outline> {
        let mut pieces: Vec<Piece> = Vec::new();
        let mut edge_names = Vec::new();
        let mut start = None;
        let mut here = Point::ORIGIN;
        for (i, item) in items.iter().enumerate() {
            let at = at.item(i);
            let keys = match item {
                PathItemText::Point(point) => {
                    PathKeysText { to: Some(point.clone()), through: None, arc: None, via: None, round: None, edge: None }
                }
                PathItemText::Keys(keys) => keys.clone(),
            };
            if start.is_none() {
                here = self.path_start(&keys, &at)?;
                start = Some(here);
                continue;
            }
            let edge = keys.edge.as_ref().map(|name| self.edge_index(&name.0, &mut edge_names, &at.key("edge")));
            let round = keys.round.as_ref().map(|r| self.length(r, &at.key("round"), Allowed::ZeroOrMore));
            let round = match round {
                Some(length) => length?.mm(),
                None => 0.0,
            };
            // A bare point is a point of the list itself.
            let point_at = if matches!(item, PathItemText::Point(_)) { at.clone() } else { at.key("to") };
            let run = self.path_piece(here, &keys, &at, &point_at)?;
            here = run.last().map_or(here, Segment::to);
            pieces.push(Piece { run, edge, round, at });
        }
        let Some(start) = start else {
            return self.refuse(at, Code::Outline, "this path is empty", "give its start and at least two more points");
        };
        let gap = here.distance(start);
        if gap > SAME_POINT {
            let run = vec![Segment::Line { from: here, to: start }];
            pieces.push(Piece { run, edge: None, round: 0.0, at: at.clone() });
        } else if let Some(last) = pieces.last_mut().and_then(|piece| piece.run.last_mut()) {
            last.end_at(start);
        }
        let sides = self.joined(&pieces);
        if sides.len() < 2 {
            return self.refuse(at, Code::Outline, "this path encloses nothing", "give its start and at least two more points");
        }
        Some(Outline { sides: Loop { sides }, edge_names, centreline: None })
    }

    fn path_start(&mut self, keys: &PathKeysText, at: &At) -> Option<Point> {
        let only_a_point =
            keys.through.is_none() && keys.arc.is_none() && keys.via.is_none() && keys.round.is_none() && keys.edge.is_none();
        match &keys.to {
            Some(to) if only_a_point => self.point(to, at),
            _ => self.refuse(
                at,
                Code::Choice,
                "a path begins with a bare point, its start",
                "such as `- [0, 0]`; round its corner on the last item",
            ),
        }
    }

    fn edge_index(&mut self, name: &str, names: &mut Vec<String>, at: &At) -> usize {
        if let Some(i) = names.iter().position(|n| n == name) {
            let message = format!("two edges of this path are called `{name}`");
            self.refuse::<()>(at, Code::DuplicateName, message, "give each edge a name of its own");
            return i;
        }
        names.push(name.to_owned());
        names.len() - 1
    }

    /// One item of a path as lines, arcs or curves from `here` on.
    fn path_piece(&mut self, here: Point, keys: &PathKeysText, at: &At, point_at: &At) -> Option<Vec<Segment>> {
        let choices = [keys.to.is_some(), keys.through.is_some()];
        if choices.iter().filter(|is| **is).count() != 1 {
            let message = "a piece of a path goes `to` a point or `through` points";
            return self.refuse(at, Code::Choice, message, "give exactly one of `to` and `through`");
        }
        if let Some(through) = &keys.through {
            if keys.arc.is_some() || keys.via.is_some() {
                return self.refuse(
                    at,
                    Code::Choice,
                    "`through` makes a smooth curve; `arc` and `via` do not go with it",
                    "drop them",
                );
            }
            let mut points = vec![here];
            for (i, point) in through.iter().enumerate() {
                points.push(self.point(point, &at.key("through").item(i))?);
            }
            return self.curve(&points, &at.key("through"));
        }
        let to = self.point(keys.to.as_ref()?, point_at)?;
        if to.distance(here) <= SAME_POINT {
            let message = "this piece of the path ends where it begins";
            return self.refuse(point_at, Code::Outline, message, "drop it, or go somewhere else");
        }
        match (&keys.arc, &keys.via) {
            (None, None) => Some(vec![Segment::Line { from: here, to }]),
            (Some(_), Some(_)) => {
                self.refuse(at, Code::Choice, "an arc is given by its radius or by a point on its way", "drop `arc` or `via`")
            }
            (Some(arc), None) => {
                let radius = self.length(arc, &at.key("arc"), Allowed::Any)?.mm();
                let chord = here.distance(to);
                if radius.abs() < chord / 2.0 * (1.0 - 1e-9) {
                    let least = self.shown_unit().show(Length::from_mm(chord / 2.0));
                    let message = "this arc's radius is too small to reach its end";
                    let help = format!("it must be {least} at least; for more than half a turn give a point with `via`");
                    return self.refuse(&at.key("arc"), Code::NoRoom, message, help);
                }
                let half_angle = (chord / 2.0 / radius.abs()).min(1.0).asin();
                Some(vec![Segment::Arc { from: here, to, bulge: (half_angle / 2.0).tan() * radius.signum() }])
            }
            (None, Some(via)) => {
                let via = self.point(via, &at.key("via"))?;
                match arc_through(here, via, to) {
                    Some(run) => Some(run),
                    None => self.refuse(
                        &at.key("via"),
                        Code::Outline,
                        "these three points give no arc",
                        "put `via` between its ends and off the line between them",
                    ),
                }
            }
        }
    }

    /// The natural cubic spline through the points.
    pub(super) fn curve(&mut self, points: &[Point], at: &At) -> Option<Vec<Segment>> {
        if points.len() < 2 {
            return self.refuse(at, Code::Outline, "this curve has no points", "give at least one");
        }
        if let Some(i) = points.windows(2).position(|pair| pair[0].distance(pair[1]) <= SAME_POINT) {
            return self.refuse(&at.item(i), Code::Outline, "two points of this curve are in one place", "drop one of them");
        }
        let direction = (points[points.len() - 1] - points[0]).normalize();
        let straight = points.windows(2).all(|pair| {
            let step = pair[1] - pair[0];
            step.cross(direction).abs() <= 1e-9 * step.hypot() && step.dot(direction) > 0.0
        });
        if straight || points.len() == 2 {
            return Some(vec![Segment::Line { from: points[0], to: points[points.len() - 1] }]);
        }
        Some(natural_spline(points).into_iter().map(Segment::Curve).collect())
    }

    /// The pieces with their corners rounded.
    fn joined(&mut self, pieces: &[Piece]) -> Vec<Side> {
        let n = pieces.len();
        let mut spans: Vec<(f64, f64)> = pieces.iter().map(|piece| (0.0, piece.run.len() as f64)).collect();
        let mut rounds = vec![None; n];
        for i in 0..n {
            let next = (i + 1) % n;
            if pieces[i].round == 0.0 || n == 1 {
                continue;
            }
            let at = pieces[i].at.key("round");
            match fillet(&pieces[i].run, &pieces[next].run, pieces[i].round) {
                Ok((leaves, joins)) => {
                    spans[i].1 = leaves;
                    spans[next].0 = joins;
                    rounds[i] = Some(pieces[i].round);
                }
                Err(FilletFailure::NoCorner) => {
                    self.refuse::<()>(
                        &at,
                        Code::NoRoom,
                        "there is no corner here to round",
                        "drop `round`: the pieces run on into each other",
                    );
                }
                Err(FilletFailure::TooLarge { largest }) => {
                    let largest = self.shown_unit().show(Length::from_mm(largest));
                    let message = "this round is larger than the corner allows";
                    self.refuse::<()>(
                        &at,
                        Code::NoRoom,
                        message,
                        format!("between these two pieces it can be about {largest} at most"),
                    );
                }
            }
        }
        let mut sides = Vec::new();
        for (i, piece) in pieces.iter().enumerate() {
            let (from, to) = spans[i];
            if from > to + 1e-9 {
                let message = "the rounds at both ends of this piece overlap";
                self.refuse::<()>(&piece.at, Code::NoRoom, message, "make one of them smaller, or the piece longer");
                continue;
            }
            for (k, segment) in piece.run.iter().enumerate() {
                let (start, end) = ((from - k as f64).max(0.0), (to - k as f64).min(1.0));
                if start < end && segment.between(start, end).length() > SAME_POINT {
                    let whole = start == 0.0 && end == 1.0;
                    let segment = if whole { *segment } else { segment.between(start, end) };
                    sides.push(Side { segment, edge: piece.edge });
                }
            }
            if rounds[i].is_some() {
                let next = (i + 1) % n;
                let (end, join) = (point_on(&piece.run, to), point_on(&pieces[next].run, spans[next].0));
                let (t0, t1) = (end.1, join.1);
                let bulge = (t0.cross(t1).atan2(t0.dot(t1)) / 4.0).tan();
                sides.push(Side { segment: Segment::Arc { from: end.0, to: join.0, bulge }, edge: None });
            }
        }
        // What a round cut off leaves its neighbour to start exactly where it ends.
        for i in 0..sides.len() {
            let start = sides[(i + 1) % sides.len()].segment.from();
            sides[i].segment.end_at(start);
        }
        sides
    }
}

/// Whether every piece lies on one line.
fn encloses_nothing(arcs: &Polyarc) -> bool {
    let Some(first) = arcs.vertices.first() else { return true };
    let farthest =
        arcs.vertices.iter().map(|v| v.point - first.point).fold(Vec2::ZERO, |a, b| if b.hypot() > a.hypot() { b } else { a });
    arcs.vertices.iter().all(|v| v.bulge == 0.0 && (v.point - first.point).cross(farthest).abs() <= SAME_POINT * farthest.hypot())
}

/// tan(90°/4): the bulge of a quarter circle.
pub(super) const QUARTER_BULGE: f64 = std::f64::consts::SQRT_2 - 1.0;

/// One item of a path.
struct Piece {
    run: Vec<Segment>,
    edge: Option<usize>,
    round: f64,
    at: At,
}

fn point_on(run: &[Segment], place: f64) -> (Point, Vec2) {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 <= place <= length of the run")]
    let i = (place.max(0.0) as usize).min(run.len() - 1);
    (run[i].point_at(place - i as f64), run[i].tangent_at(place - i as f64))
}

fn turned(v: Vec2, angle: f64) -> Vec2 {
    let (sin, cos) = angle.sin_cos();
    Vec2::new(v.x * cos - v.y * sin, v.x * sin + v.y * cos)
}

/// The arc from `from` by `via` to `to`; two arcs where it turns through more than half a circle.
fn arc_through(from: Point, via: Point, to: Point) -> Option<Vec<Segment>> {
    let (a, b) = (via - from, to - via);
    let cross = a.cross(b);
    if cross.abs() <= 1e-9 * a.hypot() * b.hypot() || from.distance(via) <= SAME_POINT || via.distance(to) <= SAME_POINT {
        return None;
    }
    // The angle over a chord as seen from the circle is half the angle at its centre.
    let half_sweep = cross.atan2(a.dot(b));
    let bulge = (half_sweep / 2.0).tan();
    if bulge.abs() <= 1.0 {
        return Some(vec![Segment::Arc { from, to, bulge }]);
    }
    let (first, second) = (chord_bulge(to, from, via), chord_bulge(from, via, to));
    Some(vec![Segment::Arc { from, to: via, bulge: first }, Segment::Arc { from: via, to, bulge: second }])
}

/// Bulge of the arc from `from` to `to` on the circle that also passes `other`, on the side away from it.
fn chord_bulge(other: Point, from: Point, to: Point) -> f64 {
    let (a, b) = (from - other, to - other);
    (a.cross(b).atan2(a.dot(b)) / 2.0).tan()
}

/// Whether a rectangle's worth of outline lies inside another outline; used for openings.
pub(crate) fn inside(outer: &Polyarc, inner: &Polyarc) -> bool {
    let frame: Rect = outer.bounds();
    let box_in = inner.bounds();
    let boxed = frame.x0 <= box_in.x0 && frame.y0 <= box_in.y0 && frame.x1 >= box_in.x1 && frame.y1 >= box_in.y1;
    boxed && inner.flatten(0.05).iter().all(|p| outer.contains(*p))
}
