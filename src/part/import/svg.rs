//! Outlines out of SVG files: the tree read by `roxmltree`, path data and transforms by `svgtypes`, sizes by CSS (96 px are 1 in).

use std::collections::BTreeMap;
use std::str::FromStr;

use kurbo::{Affine, Arc, Point, Vec2};
use roxmltree::{Document, Node, ParsingOptions};

use super::chain::{Stroke, outline_of};
use super::{ImportProblem, Imported};
use crate::part::path_data::subpaths;
use crate::part::piece::{Piece, sides};
use crate::tolerance::{DEEPEST_NESTING, LARGEST_IMPORT, MOST_IMPORTED_PIECES};
use crate::units::{LengthUnit, MM_PER_INCH};

/// Millimetres to one CSS pixel (W3C, CSS Values and Units 3, section 6.2).
const MM_PER_PX: f64 = MM_PER_INCH / 96.0;

/// The outline in the SVG file `text`, from the group with the id or label `layer` alone if one is named. The lower left corner of the page
/// becomes 0, 0 and y runs up.
///
/// The file's size says how long its unit is; if it gives none, the unit is `unit_if_unsaid`, millimetres when that is none too, and
/// [`Imported::unit_mm`] is none so that the caller can ask.
pub fn outline_from_svg(text: &str, layer: Option<&str>, unit_if_unsaid: Option<LengthUnit>) -> Result<Imported, ImportProblem> {
    if text.len() > LARGEST_IMPORT {
        return Err(ImportProblem::TooLarge { bytes: text.len() });
    }
    #[expect(clippy::cast_possible_truncation, reason = "a small constant")]
    let options = ParsingOptions { allow_dtd: true, nodes_limit: 4 * MOST_IMPORTED_PIECES as u32, ..ParsingOptions::default() };
    let file = Document::parse_with_options(text.trim_start_matches('\u{feff}'), options)
        .map_err(|error| not_svg(&error.to_string()))?;
    let root = file.root_element();
    if root.tag_name().name() != "svg" {
        return Err(not_svg(&format!("its root is <{}>, not <svg>", root.tag_name().name())));
    }
    let page = Page::of(root)?;
    let scale = page.unit_mm.unwrap_or_else(|| unit_if_unsaid.unwrap_or_default().length(1.0).mm());
    let motion = Affine::scale_non_uniform(scale, -scale) * Affine::translate((-page.left, -page.bottom));
    let mut taker = Taker { layer, strokes: Vec::new(), layers: Vec::new(), passed: BTreeMap::new() };
    taker.walk(root, motion)?;
    if let (Some(layer), true) = (layer, taker.strokes.is_empty()) {
        return Err(ImportProblem::NoLayer { layer: layer.to_owned(), present: taker.layers });
    }
    let mut notes: Vec<String> = taker.passed.iter().map(|(name, count)| format!("{count} <{name}> passed over")).collect();
    if page.in_pixels {
        notes.push("the size is given in pixels, taken as 96 to the inch".to_owned());
    }
    outline_of(taker.strokes, page.unit_mm, notes)
}

fn not_svg(why: &str) -> ImportProblem {
    ImportProblem::NotReadable { message: format!("this is no readable SVG file: {why}") }
}

fn unfit(message: impl Into<String>) -> ImportProblem {
    ImportProblem::Unfit { message: message.into() }
}

/// How a file's page lies and how long its unit is.
struct Page {
    left: f64,
    bottom: f64,
    unit_mm: Option<f64>,
    in_pixels: bool,
}

impl Page {
    fn of(root: Node) -> Result<Self, ImportProblem> {
        let size = |name: &str| root.attribute(name).and_then(|value| svgtypes::Length::from_str(value).ok()).and_then(length_mm);
        let (width, height) = (size("width"), size("height"));
        let in_pixels = width.or(height).is_some_and(|(_, in_pixels)| in_pixels);
        let Some(view) = root.attribute("viewBox").and_then(|value| svgtypes::ViewBox::from_str(value).ok()) else {
            let unit_mm = width.or(height).map(|_| MM_PER_PX);
            return Ok(Self {
                left: 0.0,
                bottom: height.map_or(0.0, |(mm, _)| mm / MM_PER_PX),
                unit_mm,
                in_pixels: unit_mm.is_some(),
            });
        };
        // The whole of the view box is fitted into the page, as `preserveAspectRatio` has it unless told otherwise.
        let across = width.map(|(mm, _)| mm / view.w);
        let up = height.map(|(mm, _)| mm / view.h);
        let unit_mm = match (across, up) {
            (Some(across), Some(up)) => Some(across.min(up)),
            (one, other) => one.or(other),
        };
        if unit_mm.is_some_and(|unit| !(1e-9..=1e9).contains(&unit)) || !(view.x.is_finite() && (view.y + view.h).is_finite()) {
            return Err(unfit("the page has no usable size: width, height and viewBox do not fit together"));
        }
        Ok(Self { left: view.x, bottom: view.y + view.h, unit_mm, in_pixels })
    }
}

/// An absolute length in mm, and whether it is given in pixels.
fn length_mm(length: svgtypes::Length) -> Option<(f64, bool)> {
    use svgtypes::LengthUnit as Unit;
    let mm = match length.unit {
        Unit::None | Unit::Px => MM_PER_PX,
        Unit::In => MM_PER_INCH,
        Unit::Cm => 10.0,
        Unit::Mm => 1.0,
        Unit::Pt => MM_PER_INCH / 72.0,
        Unit::Pc => MM_PER_INCH / 6.0,
        Unit::Em | Unit::Ex | Unit::Percent => return None,
    };
    (length.number > 0.0).then_some((length.number * mm, matches!(length.unit, Unit::None | Unit::Px)))
}

/// Takes the strokes out of elements.
struct Taker<'a> {
    layer: Option<&'a str>,
    strokes: Vec<Stroke>,
    /// Ids and labels of groups, to name when the one asked for is not there.
    layers: Vec<String>,
    /// Elements that draw something else than lines.
    passed: BTreeMap<String, usize>,
}

impl Taker<'_> {
    /// Takes every element from `root` down, in the order of the file.
    fn walk(&mut self, root: Node, motion: Affine) -> Result<(), ImportProblem> {
        let mut waiting = vec![(root, motion, self.layer.is_none(), 0_usize)];
        while let Some((node, motion, wanted, depth)) = waiting.pop() {
            let motion = motion * transform_of(node)?;
            let wanted = wanted || self.is_layer(node);
            let name = node.tag_name().name();
            match name {
                _ if is_hidden(node) => {}
                "svg" if depth > 0 => self.pass(name),
                "svg" | "g" | "a" | "switch" => {
                    if depth > 8 * DEEPEST_NESTING {
                        return Err(ImportProblem::TooMuch);
                    }
                    let children: Vec<Node> = node.children().filter(Node::is_element).collect();
                    waiting.extend(children.into_iter().rev().map(|child| (child, motion, wanted, depth + 1)));
                }
                "path" | "rect" | "circle" | "ellipse" | "line" | "polyline" | "polygon" if wanted => self.draw(node, motion)?,
                "text" | "image" | "use" | "foreignObject" if wanted => self.pass(name),
                // Definitions draw nothing by themselves.
                _ => {}
            }
            if self.strokes.len() > MOST_IMPORTED_PIECES {
                return Err(ImportProblem::TooMuch);
            }
        }
        Ok(())
    }

    fn pass(&mut self, name: &str) {
        *self.passed.entry(name.to_owned()).or_default() += 1;
    }

    /// Whether the element is the layer asked for; names of others are noted.
    fn is_layer(&mut self, node: Node) -> bool {
        let Some(layer) = self.layer else { return true };
        // Drawing programs put a layer's name into an attribute `label` of a name space of their own.
        let names =
            node.attributes().filter(|attribute| matches!(attribute.name(), "id" | "label")).map(|attribute| attribute.value());
        let names: Vec<&str> = names.collect();
        if node.tag_name().name() == "g" && self.layers.len() < 50 {
            self.layers.extend(names.iter().map(|name| (*name).to_owned()));
        }
        names.iter().any(|name| name.eq_ignore_ascii_case(layer))
    }

    fn draw(&mut self, node: Node, motion: Affine) -> Result<(), ImportProblem> {
        for (pieces, closed) in drawn(node)? {
            let name = node.attribute("id").map_or_else(|| node.tag_name().name().to_owned(), |id| format!("`{id}`"));
            let sides = sides(&pieces, motion).map_err(|problem| unfit(format!("in {name}: {problem}")))?;
            if !sides.is_empty() {
                self.strokes.push(Stroke { sides, closed });
            }
        }
        Ok(())
    }
}

fn is_hidden(node: Node) -> bool {
    let style: String = node.attribute("style").unwrap_or_default().chars().filter(|c| !c.is_whitespace()).collect();
    node.attribute("display") == Some("none") || style.split(';').any(|rule| rule == "display:none")
}

fn transform_of(node: Node) -> Result<Affine, ImportProblem> {
    let Some(text) = node.attribute("transform") else { return Ok(Affine::IDENTITY) };
    let t = svgtypes::Transform::from_str(text).map_err(|_| unfit(format!("transform=\"{text}\" is not understood")))?;
    Ok(Affine::new([t.a, t.b, t.c, t.d, t.e, t.f]))
}

/// The lines that an element draws, each with whether it is closed.
fn drawn(node: Node) -> Result<Vec<(Vec<Piece>, bool)>, ImportProblem> {
    let number = |name: &str| -> Result<f64, ImportProblem> { Ok(user_units(node, name)?.unwrap_or(0.0)) };
    let whole = std::f64::consts::TAU;
    let oval = |rx: f64, ry: f64| -> Result<Vec<(Vec<Piece>, bool)>, ImportProblem> {
        let centre = Point::new(number("cx")?, number("cy")?);
        Ok(vec![(Piece::of_arc(Arc::new(centre, Vec2::new(rx.abs(), ry.abs()), 0.0, whole, 0.0)), true)])
    };
    Ok(match node.tag_name().name() {
        "path" => {
            let parts =
                subpaths(node.attribute("d").unwrap_or_default()).map_err(|problem| unfit(format!("in a path: {problem}")))?;
            parts.into_iter().map(|part| (part.pieces, part.closed)).collect()
        }
        "circle" => oval(number("r")?, number("r")?)?,
        "ellipse" => oval(number("rx")?, number("ry")?)?,
        "line" => {
            let (from, to) = (Point::new(number("x1")?, number("y1")?), Point::new(number("x2")?, number("y2")?));
            vec![(vec![Piece::Line { from, to }], false)]
        }
        "rect" => {
            let (rx, ry) = (user_units(node, "rx")?, user_units(node, "ry")?);
            let corner = Vec2::new(rx.or(ry).unwrap_or(0.0), ry.or(rx).unwrap_or(0.0));
            vec![(
                rectangle(Point::new(number("x")?, number("y")?), Vec2::new(number("width")?, number("height")?), corner),
                true,
            )]
        }
        closed => {
            let text = node.attribute("points").unwrap_or_default();
            let points: Vec<Point> =
                svgtypes::PointsParser::from(text).map(|(x, y)| Point::new(x, y)).take(MOST_IMPORTED_PIECES).collect();
            let closed = closed == "polygon";
            let ends = points.iter().skip(1).chain(points.first().filter(|_| closed));
            vec![(points.iter().zip(ends).map(|(from, to)| Piece::Line { from: *from, to: *to }).collect(), closed)]
        }
    })
}

/// A length attribute in user units; none if it is not there.
fn user_units(node: Node, name: &str) -> Result<Option<f64>, ImportProblem> {
    let Some(text) = node.attribute(name).filter(|text| text.trim() != "auto") else { return Ok(None) };
    let wrong = || unfit(format!("{name}=\"{text}\" of a <{}> is no length in fixed units", node.tag_name().name()));
    let length = svgtypes::Length::from_str(text).map_err(|_| wrong())?;
    let scale = length_mm(svgtypes::Length { number: 1.0, ..length }).ok_or_else(wrong)?.0 / MM_PER_PX;
    Ok(Some(length.number * scale))
}

/// A rectangle with corners rounded by at most half its sides.
fn rectangle(at: Point, size: Vec2, corner: Vec2) -> Vec<Piece> {
    let radii = Vec2::new(corner.x.clamp(0.0, (size.x / 2.0).max(0.0)), corner.y.clamp(0.0, (size.y / 2.0).max(0.0)));
    let (right, down) = (Vec2::new(1.0, 0.0), Vec2::new(0.0, 1.0));
    let mut pieces: Vec<Piece> = Vec::new();
    let quarter = std::f64::consts::FRAC_PI_2;
    let places = [(right, -down), (right, down), (-right, down), (-right, -down)];
    for (i, (x, y)) in places.iter().enumerate() {
        let aside = *x + *y;
        let half = Vec2::new(size.x / 2.0 - radii.x, size.y / 2.0 - radii.y);
        let centre = at + size / 2.0 + Vec2::new(aside.x * half.x, aside.y * half.y);
        let arc = Arc::new(centre, radii, quarter * (i as f64 - 1.0), quarter, 0.0);
        let is_round = radii.x > 0.0 && radii.y > 0.0;
        let turn = if is_round { Piece::of_arc(arc) } else { Vec::new() };
        let first = turn.first().map_or(centre, Piece::from);
        if let Some(from) = pieces.last().map(Piece::to) {
            pieces.push(Piece::Line { from, to: first });
        } else if !is_round {
            pieces.push(Piece::Line { from: first, to: first });
        }
        pieces.extend(turn);
    }
    if let (Some(from), Some(to)) = (pieces.last().map(Piece::to), pieces.first().map(Piece::from)) {
        pieces.push(Piece::Line { from, to });
    }
    pieces
}
