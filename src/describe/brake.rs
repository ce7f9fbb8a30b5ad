//! The brake and its tools.

use schemars::JsonSchema;
use serde::Deserialize;

use super::outline::{OutlineText, outline};
use super::yaml::{Allowed, At, Name, Quantity, Read, Reader};
use crate::part::{Brake, BrakeKind, Die, Outline};
use crate::problem::Code;
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::{Digits, Force};

/// The brake and its tools; what is left out is taken of a usual size and listed under `assumed`.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BrakeText {
    /// press, leaf or pan.
    pub kind: Name,
    /// The greatest force of the brake: kN (a bare number), N or t; each bend's force is held
    /// against it.
    pub force: Option<Quantity>,
    /// The greatest length of a bend that the brake takes: a length above 0.
    pub length: Option<Quantity>,
    /// The dies of a press brake.
    pub dies: Option<Vec<DieText>>,
    /// Outline of what presses on the inside of the bend, a press's punch or the nose of a leaf or pan brake: lower edge at [0, 0], x
    /// toward the back, y up.
    pub punch: Option<OutlineText>,
    /// Outline of a leaf as it lies before it swings: its bending edge, at the sheet's lower face, at [0, 0], x toward the back, y up.
    pub leaf: Option<OutlineText>,
    /// The greatest angle that a leaf turns through.
    pub max_angle: Option<Quantity>,
    /// Widths of a pan brake's fingers.
    pub fingers: Option<Vec<Quantity>>,
    /// The thickest mild steel that it bends over its whole length.
    pub max_thickness: Option<Quantity>,
    /// The fingers of the back gauge.
    pub gauge_finger: Option<GaugeFingerText>,
    /// Where the figures come from.
    pub source: Option<Name>,
    /// When they were taken.
    pub date: Option<Name>,
}

/// A finger of the back gauge: a block that an edge of the sheet rests against.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GaugeFingerText {
    /// Its width along the bend.
    pub width: Option<Quantity>,
    /// How high it stands over what the sheet lies on.
    pub height: Option<Quantity>,
    /// How far it reaches to the back.
    pub length: Option<Quantity>,
}

/// A die of a press brake.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DieText {
    /// The die's name, as the bend order and the findings call it.
    pub name: Name,
    /// Width of its opening.
    pub opening: Quantity,
    /// The angle between the walls of its opening.
    pub angle: Option<Quantity>,
    /// Its outline, the middle of its opening between the shoulders at [0, 0].
    pub block: Option<OutlineText>,
}

pub(super) fn brake(reader: &mut Reader, text: &BrakeText, at: &At) -> Read<Brake> {
    let known = [("press", BrakeKind::Press), ("leaf", BrakeKind::Leaf), ("pan", BrakeKind::Pan)];
    let kind = reader.word(&text.kind.0, &at.key("kind"), &known);
    let units = [("kN", 1000.0), ("N", 1.0), ("t", 9806.65)];
    let force = text.force.as_ref().map(|force| {
        let at = at.key("force");
        match reader.with_units(force, &at, "a force", &units)? {
            0.0 => Err(reader.refuse(
                &at,
                Code::OutOfRange,
                "a brake without force bends nothing",
                "give its force, or drop the key",
            )),
            newtons => Ok(newtons),
        }
    });
    let force = force.transpose();
    let length = text
        .length
        .as_ref()
        .map(|length| reader.length(length, &at.key("length"), Allowed::Positive))
        .transpose();
    let dies = reader.list(text.dies.as_deref(), &at.key("dies"), die);
    let mut tool = |text: Option<&OutlineText>, key: &str, end: TopOrTip| {
        text.map(|text| tool(reader, text, &at.key(key), end)).transpose()
    };
    let punch = tool(text.punch.as_ref(), "punch", TopOrTip::Tip);
    let leaf = tool(text.leaf.as_ref(), "leaf", TopOrTip::Top);
    let max_angle = text.max_angle.as_ref();
    let max_angle =
        max_angle.map(|angle| reader.angle(angle, &at.key("max_angle"), 10.0, 180.0)).transpose();
    let fingers = reader.list(text.fingers.as_deref(), &at.key("fingers"), |reader, width, at| {
        reader.length(width, at, Allowed::Positive)
    });
    let max_thickness = text.max_thickness.as_ref();
    let max_thickness = max_thickness
        .map(|thickness| reader.thickness(thickness, &at.key("max_thickness"), None))
        .transpose();
    let finger_at = at.key("gauge_finger");
    let finger = text.gauge_finger.as_ref();
    let sizes = [
        ("width", finger.and_then(|finger| finger.width.as_ref())),
        ("height", finger.and_then(|finger| finger.height.as_ref())),
        ("length", finger.and_then(|finger| finger.length.as_ref())),
    ];
    let [width, height, reach] = sizes.map(|(key, size)| {
        size.map(|size| reader.length(size, &finger_at.key(key), Allowed::Positive)).transpose()
    });
    Ok(Brake {
        kind: kind?,
        force: force?.map(Force::from_newtons),
        length: length?,
        dies: dies?,
        punch: punch?,
        leaf: leaf?,
        max_angle: max_angle?,
        fingers: fingers?,
        max_thickness: max_thickness?,
        gauge_finger: [width?, height?, reach?],
    })
}

fn die(reader: &mut Reader, text: &DieText, at: &At) -> Read<Die> {
    let opening = reader.length(&text.opening, &at.key("opening"), Allowed::Positive);
    let angle = text
        .angle
        .as_ref()
        .map(|angle| reader.angle(angle, &at.key("angle"), 10.0, 170.0))
        .transpose();
    let block = text
        .block
        .as_ref()
        .map(|block| tool(reader, block, &at.key("block"), TopOrTip::Top))
        .transpose();
    Ok(Die { name: text.name.0.clone(), opening: opening?, angle: angle?, block: block? })
}

/// Which end of a tool's outline lies at its origin.
#[derive(Clone, Copy, PartialEq)]
enum TopOrTip {
    Top,
    Tip,
}

/// The outline of a tool, which must reach up or down to the height of its origin and no farther.
fn tool(reader: &mut Reader, text: &OutlineText, at: &At, end: TopOrTip) -> Read<Outline> {
    /// How far a tool's tip may be drawn from the origin, mm.
    const AT_ORIGIN: f64 = 0.05;
    let outline = outline(reader, text, at)?;
    let bounds = outline.sides.to_polyarc(CURVE_TO_ARCS).bounds();
    let (end_at, words) = match end {
        TopOrTip::Tip => (bounds.y0, "lowest point, its tip,"),
        TopOrTip::Top => (bounds.y1, "highest point"),
    };
    let is_beside = bounds.x0 > AT_ORIGIN || bounds.x1 < -AT_ORIGIN;
    if end_at.abs() > AT_ORIGIN || is_beside {
        let message = format!(
            "this tool's {words} does not lie at [0, 0]: it lies at a height of {} mm",
            Digits(end_at, 3)
        );
        return Err(reader.refuse(
            at,
            Code::OutOfRange,
            message,
            "draw the outline from [0, 0]: x toward the back, y up",
        ));
    }
    Ok(outline)
}
