//! Closed outlines: rectangles, circles, slots and SVG path data; the others have files of their
//! own.

use schemars::JsonSchema;
use serde::Deserialize;

use super::centreline::{CentrelineText, centreline};
use super::outline_file::{FileOutlineText, outline_file};
use super::path::{PathItemText, path};
use super::yaml::{Allowed, At, PointText, Quantity, Read, Reader};
use crate::formats::loop_from_path_data;
use crate::geom::{Loop, Point, Polyarc, Segment, Side, Vec2, Vertex, left_of, self_crossing};
use crate::part::Outline;
use crate::problem::Code;
use crate::tolerance::{
    CURVE_TO_ARCS, LARGEST_LENGTH_MM, LEAST_AREA_MM2, LEAST_LENGTH_MM, SAME_POINT,
};
use crate::units::{Angle, Digits, Length, LengthUnit, MM_PER_INCH};

/// A closed outline; exactly one of its keys.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OutlineText {
    /// An upright rectangle: its width along x, its height along y.
    pub rectangle: Option<RectangleText>,
    /// A circle, given by its diameter and its centre.
    pub circle: Option<CircleText>,
    /// A slot with round ends.
    pub slot: Option<SlotText>,
    /// Lines, arcs and curves walked once round.
    pub path: Option<Vec<PathItemText>>,
    /// A line with a width.
    pub centreline: Option<CentrelineText>,
    /// SVG path data of one closed outline, in the file's unit.
    pub svg: Option<SvgText>,
    /// A closed outline out of a DXF or SVG file beside this one.
    pub file: Option<FileOutlineText>,
}

/// An upright rectangle with square or rounded corners; its edges are called bottom, right, top
/// and left.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RectangleText {
    /// Width along x and height along y.
    pub size: PointText,
    /// Radius of its corners.
    pub corner_radius: Option<Quantity>,
    /// Its centre, [0, 0] by default.
    pub at: Option<PointText>,
}

/// A circle, given by its diameter and its centre.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CircleText {
    /// The circle's diameter: a length above 0.
    pub diameter: Quantity,
    /// Its centre, [0, 0] by default.
    pub at: Option<PointText>,
}

/// A slot with round ends.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SlotText {
    /// Length over all, from the tip of one round end to that of the other: a length of at least
    /// `width`.
    pub length: Quantity,
    /// Width, the diameter of its ends.
    pub width: Quantity,
    /// Its centre, [0, 0] by default.
    pub at: Option<PointText>,
    /// How far it is turned from lying along x.
    pub angle: Option<Quantity>,
}

/// SVG path data of one closed outline, in the file's unit.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SvgText {
    /// The path data, in the file's units.
    pub d: String,
    /// Whether its y points down, as in an SVG file; by default it points up.
    pub y_down: Option<bool>,
}

/// The outline that `text` describes.
pub(super) fn outline(reader: &mut Reader, text: &OutlineText, at: &At) -> Read<Outline> {
    let shapes = [
        ("rectangle", text.rectangle.as_ref().map(Shape::Rectangle)),
        ("circle", text.circle.as_ref().map(Shape::Circle)),
        ("slot", text.slot.as_ref().map(Shape::Slot)),
        ("path", text.path.as_deref().map(Shape::Path)),
        ("centreline", text.centreline.as_ref().map(Shape::Centreline)),
        ("svg", text.svg.as_ref().map(Shape::Svg)),
        ("file", text.file.as_ref().map(Shape::File)),
    ];
    let given: Vec<(&str, Shape)> =
        shapes.iter().filter_map(|(name, shape)| Some((*name, (*shape)?))).collect();
    let [(name, shape)] = given.as_slice() else {
        let names: Vec<&str> = given.iter().map(|(name, _)| *name).collect();
        let message = match names.as_slice() {
            [] => "this outline has no shape".to_owned(),
            _ => format!("this outline has {} shapes: {}", names.len(), names.join(", ")),
        };
        let help = format!("give exactly one of {}", shapes.map(|(name, _)| name).join(", "));
        return Err(reader.refuse(at, Code::Choice, message, help));
    };
    let mark = reader.mark();
    let at = at.key(name);
    let outline = match *shape {
        Shape::Rectangle(text) => rectangle(reader, text, &at),
        Shape::Circle(text) => circle(reader, text, &at),
        Shape::Slot(text) => slot(reader, text, &at),
        Shape::Path(items) => path(reader, items, &at),
        Shape::Centreline(text) => centreline(reader, text, &at),
        Shape::Svg(text) => svg(reader, text, &at),
        Shape::File(text) => outline_file(reader, text, &at),
    }?;
    reader.sound_since(mark)?;
    reader.stands_whole(&at)?;
    sound(reader, outline, &at)
}

/// What an outline is drawn by.
#[derive(Clone, Copy)]
enum Shape<'a> {
    Rectangle(&'a RectangleText),
    Circle(&'a CircleText),
    Slot(&'a SlotText),
    Path(&'a [PathItemText]),
    Centreline(&'a CentrelineText),
    Svg(&'a SvgText),
    File(&'a FileOutlineText),
}

/// Refuses an outline that crosses itself or encloses nothing; turns it counter-clockwise.
fn sound(reader: &mut Reader, mut outline: Outline, at: &At) -> Read<Outline> {
    let arcs = outline.sides.to_polyarc(CURVE_TO_ARCS);
    if !arcs.vertices.iter().all(|v| v.point.is_finite() && v.bulge.is_finite()) {
        return Err(reader.refuse(
            at,
            Code::Outline,
            "this outline has a point that is nowhere",
            "check its points and radii",
        ));
    }
    if encloses_nothing(&arcs) {
        return Err(reader.refuse(
            at,
            Code::Outline,
            "this outline encloses nothing",
            "give it a width and a height",
        ));
    }
    let bounds = arcs.bounds();
    let largest = bounds.width().max(bounds.height());
    if largest > LARGEST_LENGTH_MM {
        let message = format!(
            "this outline is {} across",
            reader.shown_unit().show(Length::from_mm(largest))
        );
        let help =
            format!("lengths run from {LEAST_LENGTH_MM} mm to {} m", LARGEST_LENGTH_MM / 1000.0);
        return Err(reader.refuse(at, Code::OutOfRange, message, help));
    }
    if let Some(crossing) = self_crossing(&arcs) {
        let shown = |mm: f64| match reader.shown_unit() {
            LengthUnit::Millimetre => Digits(mm, 3).to_string(),
            LengthUnit::Inch => Digits(mm / MM_PER_INCH, 4).to_string(),
        };
        let message = format!(
            "this outline crosses or touches itself at [{}, {}]",
            shown(crossing.at.x),
            shown(crossing.at.y)
        );
        return Err(reader.refuse(
            at,
            Code::Outline,
            message,
            "walk once round the part, without crossing the way",
        ));
    }
    if arcs.area().abs() < LEAST_AREA_MM2 {
        return Err(reader.refuse(
            at,
            Code::Outline,
            "this outline encloses nothing",
            "give it a width and a height",
        ));
    }
    outline.sides = outline.sides.counter_clockwise();
    Ok(outline)
}

/// Whether every piece lies on one line.
fn encloses_nothing(arcs: &Polyarc) -> bool {
    let Some(first) = arcs.vertices.first() else { return true };
    let farthest = arcs
        .vertices
        .iter()
        .map(|v| v.point - first.point)
        .fold(Vec2::ZERO, |a, b| if b.hypot() > a.hypot() { b } else { a });
    arcs.vertices.iter().all(|v| {
        v.bulge == 0.0
            && (v.point - first.point).cross(farthest).abs() <= SAME_POINT * farthest.hypot()
    })
}

fn at_or_origin(reader: &mut Reader, point: Option<&PointText>, at: &At) -> Read<Vec2> {
    match point {
        Some(point) => reader.point(point, &at.key("at")).map(Point::to_vec2),
        None => reader.stands(&at.key("at")).map(|()| Vec2::ZERO),
    }
}

fn rectangle(reader: &mut Reader, text: &RectangleText, at: &At) -> Read<Outline> {
    let width = reader.length(&text.size[0], &at.key("size").item(0), Allowed::Positive);
    let height = reader.length(&text.size[1], &at.key("size").item(1), Allowed::Positive);
    let radius = reader.length_or(
        text.corner_radius.as_ref(),
        &at.key("corner_radius"),
        Allowed::ZeroOrMore,
        Length::ZERO,
    );
    let centre = at_or_origin(reader, text.at.as_ref(), at)?;
    let (w, h, r) = (width?.mm() / 2.0, height?.mm() / 2.0, radius?.mm());
    if r > w.min(h) {
        let largest = reader.shown_unit().show(Length::from_mm(w.min(h)));
        let message = "this corner radius is larger than half the rectangle";
        return Err(reader.refuse(
            &at.key("corner_radius"),
            Code::NoRoom,
            message,
            format!("it can be {largest} at most"),
        ));
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
            let next = to + along * r + left_of(along) * r;
            sides.push(Side {
                segment: Segment::Arc { from: to, to: next, bulge: QUARTER_BULGE },
                edge: None,
            });
        }
    }
    Ok(Outline { sides: Loop { sides }, edge_names, centreline: None })
}

/// tan(90°/4): the bulge of a quarter circle.
const QUARTER_BULGE: f64 = std::f64::consts::SQRT_2 - 1.0;

fn circle(reader: &mut Reader, text: &CircleText, at: &At) -> Read<Outline> {
    let diameter = reader.length(&text.diameter, &at.key("diameter"), Allowed::Positive);
    let centre = at_or_origin(reader, text.at.as_ref(), at)?;
    let circle = Polyarc::circle(centre.to_point(), diameter?.mm() / 2.0);
    Ok(Outline { sides: Loop::of(&circle, None), ..Outline::default() })
}

fn slot(reader: &mut Reader, text: &SlotText, at: &At) -> Read<Outline> {
    let length = reader.length(&text.length, &at.key("length"), Allowed::Positive);
    let width = reader.length(&text.width, &at.key("width"), Allowed::Positive);
    let angle =
        reader.angle_or(text.angle.as_ref(), &at.key("angle"), (-360.0, 360.0), Angle::ZERO);
    let centre = at_or_origin(reader, text.at.as_ref(), at)?;
    let (length, radius, angle) = (length?.mm(), width?.mm() / 2.0, angle?.radians());
    let half = length / 2.0 - radius;
    if half < 0.0 {
        let message = "this slot is shorter than it is wide";
        return Err(reader.refuse(
            &at.key("length"),
            Code::NoRoom,
            message,
            "`length` is over all, round ends included; for a round hole use circle",
        ));
    }
    let corner = |x: f64, y: f64, bulge: f64| {
        let point = (centre + turned(Vec2::new(x, y), angle)).to_point();
        Vertex { point, bulge }
    };
    let vertices = if half < SAME_POINT {
        Polyarc::circle(centre.to_point(), radius).vertices
    } else {
        vec![
            corner(-half, -radius, 0.0),
            corner(half, -radius, 1.0),
            corner(half, radius, 0.0),
            corner(-half, radius, 1.0),
        ]
    };
    Ok(Outline { sides: Loop::of(&Polyarc { vertices }, None), ..Outline::default() })
}

fn turned(v: Vec2, angle: f64) -> Vec2 {
    let (sin, cos) = angle.sin_cos();
    Vec2::new(v.x * cos - v.y * sin, v.x * sin + v.y * cos)
}

fn svg(reader: &mut Reader, text: &SvgText, at: &At) -> Read<Outline> {
    reader.units_stand()?;
    let Some(unit) = reader.unit() else {
        let help = "add `units: mm` or `units: in` at the top of the file";
        return Err(reader.refuse(
            at,
            Code::Quantity,
            "path data has no unit, and the file names none",
            help,
        ));
    };
    match loop_from_path_data(&text.d, text.y_down.unwrap_or(false), unit.length(1.0).mm()) {
        Ok(sides) => Ok(Outline { sides: sides.without_edges(), ..Outline::default() }),
        Err(error) => {
            let help = "SVG path data with one closed outline, such as \"M0,0 h300 v60 h-300 z\"";
            Err(reader.refuse(&at.key("d"), Code::Outline, error.to_string(), help))
        }
    }
}
