//! Outlines out of SVG files: the tree read by `roxmltree`, path data and transforms by `svgtypes`,
//! sizes by CSS (96 px are 1 in).

use std::collections::BTreeMap;
use std::str::FromStr;

use kurbo::{Affine, Arc, Point, Vec2};
use roxmltree::{Document, Node, ParsingOptions};
use svgtypes::{Align, AspectRatio};

use super::entities::check_entities;
use super::path_data::subpaths;
use super::style::{Rules, Style, css_transform, line_of, not_understood, shortened};
use crate::formats::outline::chain::{Stroke, outline_of};
use crate::formats::outline::piece::{Piece, sides};
use crate::formats::outline::{ImportProblem, Imported, Measure};
use crate::tolerance::{DEEPEST_NESTING, LARGEST_IMPORT, MOST_IMPORTED_PIECES};
use crate::units::MM_PER_INCH;

/// Millimetres to one CSS pixel (W3C, CSS Values and Units 3, section 6.2).
const MM_PER_PX: f64 = MM_PER_INCH / 96.0;

/// The outline in the SVG file `text`, from the group with the id or label `layer` alone if one is
/// named. The lower left corner of the page becomes 0, 0 and y runs up.
///
/// The file's size says how long its unit is, unless `measure` does; if neither says it,
/// [`Imported::unit_mm`] is none so that the caller can ask. What is hidden is not taken; what may
/// change an outline and is not read (clip paths, masks, filters, styles) is refused by name.
pub fn outline_from_svg(
    text: &str,
    layer: Option<&str>,
    measure: Measure,
) -> Result<Imported, ImportProblem> {
    if text.len() > LARGEST_IMPORT {
        return Err(ImportProblem::TooLarge { bytes: text.len() });
    }
    check_entities(text)?;
    #[expect(clippy::cast_possible_truncation, reason = "a small constant")]
    let options = ParsingOptions {
        allow_dtd: true,
        nodes_limit: 4 * MOST_IMPORTED_PIECES as u32,
        ..ParsingOptions::default()
    };
    let file = Document::parse_with_options(text.trim_start_matches('\u{feff}'), options)
        .map_err(|error| not_svg(&error.to_string()))?;
    let root = file.root_element();
    if root.tag_name().name() != "svg" {
        return Err(not_svg(&format!("its root is <{}>, not <svg>", root.tag_name().name())));
    }
    let rules = Rules::of(&file)?;
    let page = Page::of(root, &rules.style(root), measure)?;
    let mut taker = Taker {
        layer,
        rules,
        strokes: Vec::new(),
        sides: 0,
        layers: Vec::new(),
        passed: BTreeMap::new(),
    };
    taker.walk(root, page.motion)?;
    if let (Some(layer), true) = (layer, taker.strokes.is_empty()) {
        return Err(ImportProblem::NoLayer { layer: layer.to_owned(), present: taker.layers });
    }
    let mut notes: Vec<String> =
        taker.passed.iter().map(|(name, count)| format!("{count} <{name}> passed over")).collect();
    if page.in_pixels && measure.unit_mm.is_none() {
        notes.push(
            "the size is given in pixels, taken as 96 to the inch; `units: mm` beside its name would say otherwise".to_owned(),
        );
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
    /// From the file's units to mm from the page's lower left corner, y up.
    motion: Affine,
    unit_mm: Option<f64>,
    in_pixels: bool,
}

impl Page {
    fn of(root: Node, style: &Style, measure: Measure) -> Result<Self, ImportProblem> {
        let (width, height) = (page_size(root, style, "width")?, page_size(root, style, "height")?);
        let in_pixels = width.or(height).is_some_and(|(_, in_pixels)| in_pixels);
        let view = match root.attribute("viewBox") {
            Some(text) => Some(
                svgtypes::ViewBox::from_str(text)
                    .map_err(|_| attribute_not_understood(root, "viewBox", text))?,
            ),
            None => None,
        };
        let Some(view) = view else {
            let unit_mm = width.or(height).map(|_| MM_PER_PX);
            let unit = measure.mm(unit_mm);
            let bottom = height.map_or(0.0, |(mm, _)| mm / MM_PER_PX);
            let motion = Affine::scale_non_uniform(unit, -unit) * Affine::translate((0.0, -bottom));
            return Ok(Self { motion, unit_mm, in_pixels: unit_mm.is_some() });
        };
        let across = width.map(|(mm, _)| mm / view.w);
        let up = height.map(|(mm, _)| mm / view.h);
        let ratio = match root.attribute("preserveAspectRatio") {
            Some(text) => AspectRatio::from_str(text)
                .map_err(|_| attribute_not_understood(root, "preserveAspectRatio", text))?,
            None => AspectRatio::default(),
        };
        // Where only one of width and height is given, the view box says the other.
        let said = across.or(up).zip(up.or(across));
        let (across, up) = said.filter(|_| measure.unit_mm.is_none()).map_or_else(
            || (measure.mm(None), measure.mm(None)),
            |(across, up)| (across * measure.scale, up * measure.scale),
        );
        let alike = if ratio.slice { across.max(up) } else { across.min(up) };
        let (x, y) = if ratio.align == Align::None { (across, up) } else { (alike, alike) };
        let usable = |scale: f64| (1e-9..=1e9).contains(&scale);
        if !(usable(x) && usable(y) && view.x.is_finite() && (view.y + view.h).is_finite()) {
            return Err(unfit(
                "the page has no usable size: width, height and viewBox do not fit together",
            ));
        }
        // What the page has over, and which share of it lies left of the picture, and above it.
        let over = Vec2::new((across - x) * view.w, (up - y) * view.h);
        let share = shares(ratio.align);
        let (left, below) = (over.x * share.x, over.y * (1.0 - share.y));
        let motion = Affine::translate((left, below))
            * Affine::scale_non_uniform(x, -y)
            * Affine::translate((-view.x, -(view.y + view.h)));
        let unit_mm =
            said.map(|(across, up)| if ratio.slice { across.max(up) } else { across.min(up) });
        Ok(Self { motion, unit_mm, in_pixels })
    }
}

/// Which share of what is over lies to the left of the picture, and above it.
fn shares(align: Align) -> Vec2 {
    let x = match align {
        Align::XMinYMin | Align::XMinYMid | Align::XMinYMax => 0.0,
        Align::XMaxYMin | Align::XMaxYMid | Align::XMaxYMax => 1.0,
        Align::None | Align::XMidYMin | Align::XMidYMid | Align::XMidYMax => 0.5,
    };
    let y = match align {
        Align::XMinYMin | Align::XMidYMin | Align::XMaxYMin => 0.0,
        Align::XMinYMax | Align::XMidYMax | Align::XMaxYMax => 1.0,
        Align::None | Align::XMinYMid | Align::XMidYMid | Align::XMaxYMid => 0.5,
    };
    Vec2::new(x, y)
}

/// Width or height of the page in mm, and whether it is given in pixels; none where it hangs on the
/// window or the type.
fn page_size(root: Node, style: &Style, name: &str) -> Result<Option<(f64, bool)>, ImportProblem> {
    let Some(text) = style.get(name).filter(|text| *text != "auto") else { return Ok(None) };
    let length =
        svgtypes::Length::from_str(text).map_err(|_| attribute_not_understood(root, name, text))?;
    if length.number <= 0.0 || !length.number.is_finite() {
        return Err(attribute_not_understood(root, name, text));
    }
    Ok(length_mm(length))
}

fn attribute_not_understood(node: Node, name: &str, text: &str) -> ImportProblem {
    not_understood(line_of(node), format!("{name}=\"{}\" of {}", shortened(text), title(node)))
}

/// An element as messages name it.
fn title(node: Node) -> String {
    let name = node.tag_name().name();
    node.attribute("id")
        .map_or_else(|| format!("<{name}>"), |id| format!("<{name}> `{}`", shortened(id)))
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
    Some((length.number * mm, matches!(length.unit, Unit::None | Unit::Px)))
}

/// Takes the strokes out of elements.
struct Taker<'a> {
    layer: Option<&'a str>,
    rules: Rules,
    strokes: Vec<Stroke>,
    /// How many sides they have.
    sides: usize,
    /// Ids and labels of groups, to name when the one asked for is not there.
    layers: Vec<String>,
    /// Elements that draw something else than lines.
    passed: BTreeMap<String, usize>,
}

/// What holds for an element by those around it.
#[derive(Clone)]
struct Here {
    motion: Affine,
    is_wanted: bool,
    is_visible: bool,
    /// What around it may change an outline and is not read; an outline taken here is refused for
    /// it.
    bar: Option<ImportProblem>,
    depth: usize,
}

impl Taker<'_> {
    /// Takes every element from `root` down, in the order of the file.
    fn walk(&mut self, root: Node, motion: Affine) -> Result<(), ImportProblem> {
        let start =
            Here { motion, is_wanted: self.layer.is_none(), is_visible: true, bar: None, depth: 0 };
        let mut waiting = vec![(root, start)];
        while let Some((node, mut here)) = waiting.pop() {
            let style = self.rules.style(node);
            if style.get("display") == Some("none") || !is_for_us(node) {
                continue;
            }
            match style.get("visibility") {
                Some("visible") => here.is_visible = true,
                Some("hidden" | "collapse") => here.is_visible = false,
                _ => {}
            }
            let unread = style.not_read(node).map(|name| format!("`{name}` of {}", title(node)));
            match transform_of(node, &style) {
                // That of the picture as a whole turns about its middle, not about its origin.
                Some(transform) if here.depth > 0 || transform == Affine::IDENTITY => {
                    here.motion *= transform;
                }
                _ => {
                    here.bar = here.bar.or_else(|| {
                        Some(not_understood(
                            line_of(node),
                            format!("`transform` of {}", title(node)),
                        ))
                    });
                }
            }
            here.bar = here.bar.or_else(|| unread.map(|what| not_understood(line_of(node), what)));
            here.is_wanted = here.is_wanted || self.is_layer(node);
            self.take(node, &style, here, &mut waiting)?;
            if self.strokes.len().max(self.sides) > MOST_IMPORTED_PIECES {
                return Err(ImportProblem::TooMuch);
            }
        }
        Ok(())
    }

    /// Draws the element, or has what is in it wait.
    fn take<'n>(
        &mut self,
        node: Node<'n, 'n>,
        style: &Style,
        here: Here,
        waiting: &mut Vec<(Node<'n, 'n>, Here)>,
    ) -> Result<(), ImportProblem> {
        let name = node.tag_name().name();
        match name {
            "svg" if here.depth > 0 => self.pass(name),
            "svg" | "g" | "a" | "switch" => {
                if here.depth > 8 * DEEPEST_NESTING {
                    return Err(ImportProblem::TooMuch);
                }
                let inner = node.children().filter(Node::is_element);
                // Of a choice the first that a reader knows is drawn.
                let inner: Vec<Node> = if name == "switch" {
                    inner.filter(|child| is_for_us(*child)).take(1).collect()
                } else {
                    inner.collect()
                };
                let here = Here { depth: here.depth + 1, ..here };
                waiting.extend(inner.into_iter().rev().map(|child| (child, here.clone())));
            }
            "path" | "rect" | "circle" | "ellipse" | "line" | "polyline" | "polygon"
                if here.is_wanted && here.is_visible =>
            {
                match here.bar {
                    Some(problem) => return Err(problem),
                    None => self.draw(node, style, here.motion)?,
                }
            }
            "text" | "image" | "use" | "foreignObject" if here.is_wanted && here.is_visible => {
                self.pass(name);
            }
            // Definitions draw nothing by themselves.
            _ => {}
        }
        Ok(())
    }

    fn pass(&mut self, name: &str) {
        *self.passed.entry(name.to_owned()).or_default() += 1;
    }

    /// Whether the element is the layer asked for; names of others are noted.
    fn is_layer(&mut self, node: Node) -> bool {
        let Some(layer) = self.layer else { return true };
        // Drawing programs put a layer's name into an attribute `label` of a name space of their
        // own.
        let names = node
            .attributes()
            .filter(|attribute| matches!(attribute.name(), "id" | "label"))
            .map(|attribute| attribute.value());
        let names: Vec<&str> = names.collect();
        if node.tag_name().name() == "g" && self.layers.len() < 50 {
            self.layers.extend(names.iter().map(|name| shortened(name)));
        }
        names.iter().any(|name| name.eq_ignore_ascii_case(layer))
    }

    fn draw(&mut self, node: Node, style: &Style, motion: Affine) -> Result<(), ImportProblem> {
        for (pieces, closed) in drawn(node, style)? {
            let sides = sides(&pieces, motion).map_err(|problem| {
                unfit(format!("line {}: in {}: {problem}", line_of(node), title(node)))
            })?;
            if !sides.is_empty() {
                self.sides += sides.len();
                self.strokes.push(Stroke { sides, closed });
            }
        }
        Ok(())
    }
}

/// Whether the conditions of an element (W3C, SVG 1.1, section 5.8) let a plain English reader draw
/// it.
fn is_for_us(node: Node) -> bool {
    let is_empty = |name: &str| node.attribute(name).is_none_or(|value| value.trim().is_empty());
    let tongue = node.attribute("systemLanguage");
    is_empty("requiredExtensions")
        && tongue.is_none_or(|list| list.split(',').any(|tongue| tongue.trim().starts_with("en")))
}

/// The transform of an element: its style's where that gives one, else its attribute's. None where
/// it is not understood.
fn transform_of(node: Node, style: &Style) -> Option<Affine> {
    let Some(text) = style.get("transform") else { return Some(Affine::IDENTITY) };
    if node.attribute("transform").is_none_or(|own| own.trim() != text) {
        return css_transform(text);
    }
    let t = svgtypes::Transform::from_str(text).ok()?;
    Some(Affine::new([t.a, t.b, t.c, t.d, t.e, t.f]))
}

/// The lines that an element draws, each with whether it is closed.
fn drawn(node: Node, style: &Style) -> Result<Vec<(Vec<Piece>, bool)>, ImportProblem> {
    let number = |name: &str| -> Result<f64, ImportProblem> {
        Ok(user_units(node, style, name)?.unwrap_or(0.0))
    };
    // A size below 0 is an error, one of 0 draws nothing.
    let size = |name: &str| -> Result<f64, ImportProblem> {
        let value = number(name)?;
        if value >= 0.0 {
            Ok(value)
        } else {
            Err(attribute_not_understood(node, name, style.get(name).unwrap_or_default()))
        }
    };
    let oval = |rx: f64, ry: f64| -> Result<Vec<(Vec<Piece>, bool)>, ImportProblem> {
        let centre = Point::new(number("cx")?, number("cy")?);
        let arc = Arc::new(centre, Vec2::new(rx, ry), 0.0, std::f64::consts::TAU, 0.0);
        Ok(if rx > 0.0 && ry > 0.0 { vec![(Piece::of_arc(arc), true)] } else { Vec::new() })
    };
    // An unsaid radius is as the other one.
    let radii = || -> Result<(f64, f64), ImportProblem> {
        let said = |name: &str| style.get(name).is_some_and(|text| text != "auto");
        let (rx, ry) = (size("rx")?, size("ry")?);
        Ok((if said("rx") { rx } else { ry }, if said("ry") { ry } else { rx }))
    };
    Ok(match node.tag_name().name() {
        "path" => {
            let parts = subpaths(node.attribute("d").unwrap_or_default()).map_err(|problem| {
                unfit(format!("line {}: in {}: {problem}", line_of(node), title(node)))
            })?;
            parts.into_iter().map(|part| (part.pieces, part.closed)).collect()
        }
        "circle" => oval(size("r")?, size("r")?)?,
        "ellipse" => {
            let (rx, ry) = radii()?;
            oval(rx, ry)?
        }
        "line" => {
            let (from, to) = (
                Point::new(number("x1")?, number("y1")?),
                Point::new(number("x2")?, number("y2")?),
            );
            vec![(vec![Piece::Line { from, to }], false)]
        }
        "rect" => {
            let (rx, ry) = radii()?;
            let size = Vec2::new(size("width")?, size("height")?);
            let outline = || -> Result<_, ImportProblem> {
                Ok(rectangle(Point::new(number("x")?, number("y")?), size, Vec2::new(rx, ry)))
            };
            if size.x > 0.0 && size.y > 0.0 { vec![(outline()?, true)] } else { Vec::new() }
        }
        closed => {
            let text = node.attribute("points").unwrap_or_default();
            let wrong = || attribute_not_understood(node, "points", text);
            let numbers: Vec<f64> = svgtypes::NumberListParser::from(text)
                .take(2 * MOST_IMPORTED_PIECES + 2)
                .collect::<Result<_, _>>()
                .map_err(|_| wrong())?;
            if !numbers.len().is_multiple_of(2) {
                return Err(wrong());
            }
            let points: Vec<Point> =
                numbers.chunks_exact(2).map(|pair| Point::new(pair[0], pair[1])).collect();
            let closed = closed == "polygon";
            let ends = points.iter().skip(1).chain(points.first().filter(|_| closed));
            vec![(
                points
                    .iter()
                    .zip(ends)
                    .map(|(from, to)| Piece::Line { from: *from, to: *to })
                    .collect(),
                closed,
            )]
        }
    })
}

/// A length in user units, from a style or an attribute; none if it is not there.
fn user_units(node: Node, style: &Style, name: &str) -> Result<Option<f64>, ImportProblem> {
    let Some(text) =
        style.get(name).or_else(|| node.attribute(name)).filter(|text| text.trim() != "auto")
    else {
        return Ok(None);
    };
    let wrong = || attribute_not_understood(node, name, text);
    let length = svgtypes::Length::from_str(text).map_err(|_| wrong())?;
    let scale =
        length_mm(svgtypes::Length { number: 1.0, ..length }).ok_or_else(wrong)?.0 / MM_PER_PX;
    Ok(Some(length.number * scale))
}

/// A rectangle with corners rounded by at most half its sides.
fn rectangle(at: Point, size: Vec2, corner: Vec2) -> Vec<Piece> {
    let radii = Vec2::new(
        corner.x.clamp(0.0, (size.x / 2.0).max(0.0)),
        corner.y.clamp(0.0, (size.y / 2.0).max(0.0)),
    );
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
    if let (Some(from), Some(to)) = (pieces.last().map(Piece::to), pieces.first().map(Piece::from))
    {
        pieces.push(Piece::Line { from, to });
    }
    pieces
}
