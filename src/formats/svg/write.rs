//! SVG (W3C, Scalable Vector Graphics 1.1): one user unit is one millimetre, y runs down, arcs are
//! arcs.
//!
//! Every point is flipped by us, so that no transform stands between a cutter's reader and the
//! numbers. The page begins at 0, 0; it is moved from the drawing's own coordinates by whole
//! millimetres.

use std::fmt::Write as _;

use ::svg::Node as _;
use ::svg::node::element::{Element, Group, Path, SVG, Title};

use self::margin::{Margin, Note};
use super::margin;
use crate::formats::line_style::{GREY, Style, style};
use crate::formats::{WriteProblem, refuse_non_finite, text, used_layers};
use crate::geom::{Point, Polyarc, Rect, Segment};
use crate::page::{Drawing, Layer, Shape};
use crate::units::Digits;

/// Decimals of a coordinate in mm: a hundred-thousandth, a thousand times finer than any cut.
const DECIMALS: usize = 5;

/// The drawing as an SVG file at true size, with scale bars, a legend of its lines and its captions
/// below it, all on NOTE.
pub fn svg(drawing: &Drawing) -> Result<Vec<u8>, WriteProblem> {
    refuse_non_finite(drawing)?;
    let body = body(drawing);
    // On a sheet of some metres lines and words of the usual size would vanish on a screen.
    let coarseness = (body.width().max(body.height()) / 400.0).clamp(1.0, 6.0);
    let margin = Margin::around(body, drawing, coarseness, true);
    // Lines grow less than words: a sheet may also be plotted at 1:1, and is then measured at its
    // lines.
    let page = Page { rect: margin.page, coarseness: coarseness.sqrt(), inside_html: false };
    let root = page
        .root(drawing, &margin)
        .set("width", format!("{}mm", number(page.rect.width())))
        .set("height", format!("{}mm", number(page.rect.height())));
    Ok(format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{root}\n").into_bytes())
}

/// The same picture as an `<svg>` element to stand in an HTML page, at most `width_px` CSS pixels
/// wide and drawn so that its lines and words can be read there. It carries classes where the file
/// has ids, as a page may hold several.
pub fn svg_picture(drawing: &Drawing, width_px: f64) -> Result<String, WriteProblem> {
    refuse_non_finite(drawing)?;
    let body = body(drawing);
    // Capitals of 2.5 mm times this are 8 pixels high.
    let coarseness =
        (3.2 * (body.width().max(100.0) + 40.0) / width_px.max(100.0)).clamp(0.5, 40.0);
    let margin = Margin::around(body, drawing, coarseness, false);
    let page = Page { rect: margin.page, coarseness, inside_html: true };
    let look = format!("width:100%;max-width:{}px;height:auto", number(width_px));
    Ok(page.root(drawing, &margin).set("role", "img").set("style", look).to_string())
}

/// Everything drawn, text included, as a rectangle in mm.
fn body(drawing: &Drawing) -> Rect {
    let texts = drawing.marks.iter().chain(&drawing.overlay).filter_map(|mark| match &mark.shape {
        Shape::Text { at, height, angle, centred, text } => {
            Some(text_bounds(*at, *height, *angle, *centred, text))
        }
        _ => None,
    });
    texts.fold(drawing.bounds(), |bounds, text| bounds.union(text))
}

/// An upright rectangle that holds the line of text, letters that go below the base line included.
pub(super) fn text_bounds(at: Point, height: f64, angle: f64, centred: bool, words: &str) -> Rect {
    let width = text::width(words, height);
    let along = crate::geom::Vec2::from_angle(angle);
    let up = crate::geom::left_of(along);
    let start = if centred { at - along * (width / 2.0) } else { at };
    let corners = [(0.0, -0.3), (width, -0.3), (0.0, 1.1), (width, 1.1)];
    let points = corners.map(|(x, y)| start + along * x + up * (y * height));
    points.into_iter().fold(Rect::from_points(at, at), |bounds, point| bounds.union_pt(point))
}

/// A number as SVG writes it.
pub(super) fn number(value: f64) -> String {
    Digits(value, DECIMALS).to_string()
}

/// The page that drawing coordinates are put on.
struct Page {
    /// In drawing coordinates, y up.
    rect: Rect,
    /// By how much lines and dashes are enlarged.
    coarseness: f64,
    inside_html: bool,
}

impl Page {
    fn root(&self, drawing: &Drawing, margin: &Margin) -> SVG {
        let mut root = SVG::new()
            .set(
                "viewBox",
                format!("0 0 {} {}", number(self.rect.width()), number(self.rect.height())),
            )
            .set("font-family", "sans-serif")
            .add(Title::new(text::printable(&drawing.title)));
        if !drawing.backdrop.is_empty() {
            let look = Style { colour: "#b0b0b0", width: 0.25, dashes: &[], ..style(Layer::Note) };
            let group = self.group("BACKDROP", "for orientation, not cut", &look);
            root = root.add(
                drawing
                    .backdrop
                    .iter()
                    .fold(group, |group, outline| group.add(self.outline(outline))),
            );
        }
        for layer in used_layers(drawing).into_iter().filter(|layer| *layer != Layer::Note) {
            let look = style(layer);
            let group = self.group(layer.name(), look.words, &look);
            let marks = drawing.marks.iter().filter(|mark| mark.layer == layer);
            root = root.add(
                marks.fold(group, |group, mark| self.add_shape(group, &mark.shape, look.colour)),
            );
        }
        let note = style(Layer::Note);
        let mut group = self.group(Layer::Note.name(), note.words, &note);
        for mark in drawing.marks.iter().filter(|mark| mark.layer == Layer::Note) {
            group = self.add_shape(group, &mark.shape, "#000000");
        }
        if !drawing.overlay.is_empty() {
            let look = Style { colour: "#000000", width: 0.25, ..note };
            let overlay = self.group("OVERLAY", "to look at, not cut", &look);
            root = root.add(
                drawing
                    .overlay
                    .iter()
                    .fold(overlay, |group, mark| self.add_shape(group, &mark.shape, look.colour)),
            );
        }
        root.add(margin.notes.iter().fold(group, |group, note| self.add_note(group, note)))
    }

    fn group(&self, name: &str, words: &str, look: &Style) -> Group {
        self.stroked(Group::new(), look)
            .set(if self.inside_html { "class" } else { "id" }, name)
            .set("fill", "none")
            .add(Title::new(words))
    }

    /// The element with the colour, width and dashes of `look`.
    fn stroked<E: ::svg::node::Node>(&self, mut element: E, look: &Style) -> E {
        element.assign("stroke", look.colour);
        element.assign("stroke-width", number(look.width * self.coarseness));
        if !look.dashes.is_empty() {
            let dashes: Vec<String> =
                look.dashes.iter().map(|dash| number(dash * self.coarseness)).collect();
            element.assign("stroke-dasharray", dashes.join(" "));
        }
        element
    }

    fn add_shape(&self, group: Group, shape: &Shape, ink: &str) -> Group {
        match shape {
            Shape::Closed(outline) => group.add(self.outline(outline)),
            Shape::Open(chain) => {
                group.add(Path::new().set("d", self.chain(chain.iter().copied(), false)))
            }
            Shape::Text { at, height, angle, centred, text } => {
                let mut words = self.words(*at, *height, *angle, text, ink);
                if *centred {
                    words.assign("text-anchor", "middle");
                }
                group.add(words)
            }
        }
    }

    fn add_note(&self, group: Group, note: &Note) -> Group {
        match note {
            Note::Lines(lines) => {
                let d: Vec<String> = lines
                    .iter()
                    .map(|&(from, to)| self.chain([Segment::Line { from, to }], false))
                    .collect();
                group.add(Path::new().set("d", d.join(" ")))
            }
            Note::Sample { look, from, to } => {
                let path = Path::new()
                    .set("d", self.chain([Segment::Line { from: *from, to: *to }], false));
                group.add(self.stroked(path, look))
            }
            Note::Words { at, height, angle, text } => {
                group.add(self.words(*at, *height, *angle, text, GREY))
            }
        }
    }

    fn words(&self, at: Point, height: f64, angle: f64, words: &str, ink: &str) -> Element {
        let place = self.place(at);
        let (x, y) = (number(place.x), number(place.y));
        // The library's own text element puts line breaks around the words; the general one does
        // not.
        let mut text = Element::new("text");
        text.assign("x", x.as_str());
        text.assign("y", y.as_str());
        text.assign("font-size", number(height / text::CAPITAL_OVER_SIZE));
        text.assign("fill", ink);
        text.assign("stroke", "none");
        if angle != 0.0 {
            text.assign("transform", format!("rotate({} {x} {y})", number(-angle.to_degrees())));
        }
        text.append(::svg::node::Text::new(text::printable(words)));
        text
    }

    fn outline(&self, outline: &Polyarc) -> Path {
        Path::new().set("d", self.chain(outline.segments(), true))
    }

    /// A drawing point on the page.
    fn place(&self, point: Point) -> Point {
        Point::new(point.x - self.rect.x0, self.rect.y1 - point.y)
    }

    /// Path data of segments that follow one another.
    fn chain(&self, segments: impl IntoIterator<Item = Segment>, closed: bool) -> String {
        let at = |point: Point| {
            let place = self.place(point);
            format!("{} {}", number(place.x), number(place.y))
        };
        let mut d = String::new();
        let mut segments = segments.into_iter().peekable();
        while let Some(segment) = segments.next() {
            if d.is_empty() {
                d = format!("M{}", at(segment.from()));
            }
            let is_last = segments.peek().is_none();
            let _ = match segment {
                // `Z` draws the last line of a closed outline.
                Segment::Line { .. } if closed && is_last => Ok(()),
                Segment::Line { to, .. } => write!(d, " L{}", at(to)),
                // An arc flatter than the last decimal is a line; its radius would be any number.
                Segment::Arc { from, to, bulge } if bulge.abs() * from.distance(to) < 1e-6 => {
                    write!(d, " L{}", at(to))
                }
                Segment::Arc { .. } => self.arc(&mut d, &segment),
                Segment::Curve(curve) => {
                    write!(d, " C{} {} {}", at(curve.p1), at(curve.p2), at(curve.p3))
                }
            };
        }
        if closed && !d.is_empty() {
            d.push_str(" Z");
        }
        d
    }

    /// The arc as commands of at most a quarter turn: an SVG arc is given by its ends and radius,
    /// and near half a turn its centre hangs on the last decimal of these.
    fn arc(&self, d: &mut String, arc: &Segment) -> std::fmt::Result {
        let Segment::Arc { bulge, .. } = *arc else { return Ok(()) };
        let radius = number(1.0 / arc.curvature_at(0.0).abs());
        let pieces = if bulge.abs() > std::f64::consts::FRAC_PI_8.tan() + 1e-9 { 2 } else { 1 };
        for i in 1..=pieces {
            let to = self.place(if i == pieces { arc.to() } else { arc.point_at(0.5) });
            // Turning left with y up is turning against the angles of y down.
            let sweep = u8::from(bulge < 0.0);
            write!(d, " A{radius} {radius} 0 0 {sweep} {} {}", number(to.x), number(to.y))?;
        }
        Ok(())
    }
}
