//! The slots that receive the tabs of another part.
//!
//! They are read from that part's file, so that number, places and thickness are written once.

use schemars::JsonSchema;
use serde::Deserialize;

use super::part::{SheetAtHand, TabSlots, other_part, part};
use super::relief::{ReliefText, relief};
use super::yaml::{Allowed, At, Name, PointText, Quantity, Read, Reader, WordOr, suggestion};
use crate::geom::{Affine, Loop, Point, Polyarc, Vec2, Vertex};
use crate::part::{LEAST_KERFS, Opening, ReceivedTab, Relief};
use crate::problem::Code;
use crate::units::{Angle, Length};

/// Slots that receive the tabs of another part.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TabSlotsText {
    /// The file of the part whose tabs go in here.
    pub of: Name,
    /// Its edge with the tabs: `bottom`, or `front/outer` for one of a flange.
    pub edge: Name,
    /// Where the start of that edge comes to stand, in the middle of its sheet's thickness.
    pub at: PointText,
    /// Which way the edge runs from there: 0 (default) along x, 90 up.
    pub angle: Option<Quantity>,
    /// How much longer than the tab and wider than its sheet a slot is, in all.
    pub clearance: Option<Quantity>,
    /// What is cut out at a slot's corners, so that a square tab goes home: auto (default), none or {hole: 2}.
    pub relief: Option<WordOr<ReliefText>>,
}

/// How much longer and wider a slot is than tab and sheet, in all: a tolerance of 0.1 mm of the
/// sheet and 0.15 mm of the cut on either side. Slot = t + tolerance of t + 2 tolerances of the cut
/// is a cutting service's advice; the figures are common practice, no source.
const CLEARANCE: Length = Length::from_mm(0.4);

/// The slots that receive the tabs of another part, as openings of this one.
pub(super) fn tab_slots(
    reader: &mut Reader,
    text: &TabSlotsText,
    at: &At,
    sheet: &SheetAtHand,
) -> Read<Vec<Opening>> {
    let start = reader.point(&text.at, &at.key("at"));
    let angle =
        reader.angle_or(text.angle.as_ref(), &at.key("angle"), (-360.0, 360.0), Angle::ZERO);
    if text.clearance.is_none() {
        let shown = reader.shown_unit().show(CLEARANCE);
        reader.assume(
            "tab_slots.clearance",
            shown,
            "longer and wider than tab and sheet, in all; common practice, no source",
        );
    }
    let clearance = reader.length_or(
        text.clearance.as_ref(),
        &at.key("clearance"),
        Allowed::ZeroOrMore,
        CLEARANCE,
    );
    let relief_at = at.key("relief");
    let hole = match relief(reader, text.relief.as_ref(), &relief_at)? {
        Relief::Auto => Some(sheet.kerf * LEAST_KERFS),
        Relief::None => None,
        Relief::Hole(diameter) => Some(diameter),
        _ => {
            let help = "give auto, none or {hole: …}";
            return Err(reader.refuse(
                &relief_at,
                Code::Choice,
                "the corners of a slot are relieved by round holes only",
                help,
            ));
        }
    };
    let other = other_part(reader, &text.of, &at.key("of"), |reader, text| {
        part(reader, text, Some(&sheet.shop), TabSlots::PassedOver)
    })?;
    let all = other.kind.tabs();
    let Some((_, tabs)) = all.iter().find(|(name, _)| *name == text.edge.0) else {
        let known: Vec<&String> = all.iter().map(|(name, _)| name).collect();
        let message = format!("`{}` has no tabs on an edge called `{}`", text.of.0, text.edge.0);
        let help = if known.is_empty() {
            "give it `tabs:` on the edge that goes in here".to_owned()
        } else {
            suggestion(&text.edge.0, &known)
        };
        return Err(reader.refuse(&at.key("edge"), Code::UnknownName, message, help));
    };
    let (start, angle, clearance) = (start?, angle?.radians(), clearance?);
    let (length, width) = (tabs.length + clearance, other.thickness + clearance);
    let ears = hole.map_or(0.0, |hole| hole.mm() / 2.0);
    if 4.0 * ears > length.mm() - 1e-6 {
        let least = reader.shown_unit().show(Length::from_mm(4.0 * ears));
        let message = format!(
            "tabs of {} are too short for slots with relieved corners",
            reader.shown_unit().show(tabs.length)
        );
        let help = format!(
            "make them more than {least} long, or the holes smaller (`relief: {{hole: …}}`)"
        );
        return Err(reader.refuse(&at.key("of"), Code::NoRoom, message, help));
    }
    let along = Vec2::from_angle(angle);
    let slot = |x: &Length| {
        let motion = Affine::translate((start + along * x.mm()).to_vec2()) * Affine::rotate(angle);
        Opening {
            outline: Loop::of(&relieved_slot(length.mm(), width.mm(), ears).moved(motion), None),
            lip: None,
            tab: Some(ReceivedTab {
                file: other.place.source.name.clone(),
                edge: text.edge.0.clone(),
                depth: tabs.depth,
                slot_width: width,
            }),
            place: reader.place(at),
        }
    };
    Ok(tabs.at.iter().map(slot).collect())
}

/// A slot along x about the origin whose corners are widened by half circles of radius `ear` on its
/// long sides: its ends stay flat, so that a square tab finds them, and nothing is left for the
/// torch to round.
fn relieved_slot(length: f64, width: f64, ear: f64) -> Polyarc {
    let (x, y, inner) = (length / 2.0, width / 2.0, length / 2.0 - 2.0 * ear);
    let vertex = |x: f64, y: f64, bulge: f64| Vertex { point: Point::new(x, y), bulge };
    if ear <= 0.0 {
        return Polyarc {
            vertices: vec![
                vertex(-x, -y, 0.0),
                vertex(x, -y, 0.0),
                vertex(x, y, 0.0),
                vertex(-x, y, 0.0),
            ],
        };
    }
    Polyarc {
        vertices: vec![
            vertex(x, -y, 0.0),
            vertex(x, y, 1.0),
            vertex(inner, y, 0.0),
            vertex(-inner, y, 1.0),
            vertex(-x, y, 0.0),
            vertex(-x, -y, 1.0),
            vertex(-inner, -y, 0.0),
            vertex(inner, -y, 1.0),
        ],
    }
}
