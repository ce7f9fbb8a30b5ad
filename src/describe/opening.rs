//! Openings, their lips, and where they may lie.

use schemars::JsonSchema;
use serde::Deserialize;

use super::centreline::CentrelineText;
use super::outline::{CircleText, OutlineText, RectangleText, SlotText, SvgText, outline};
use super::outline_file::FileOutlineText;
use super::part::{SheetAtHand, TabSlots};
use super::path::PathItemText;
use super::tab_slots::{TabSlotsText, tab_slots};
use super::yaml::{Allowed, At, Quantity, Read, Reader};
use crate::geom::{Point, Polyarc, Rect};
use crate::part::{Lip, Opening, Outline};
use crate::problem::Code;
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::Angle;

/// An opening: an outline, and a lip where it is flanged; or slots for the tabs of another part.
#[derive(Debug, Clone, PartialEq, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OpeningText {
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
    /// A flange around the opening.
    pub lip: Option<LipText>,
    /// Instead of an outline: slots that receive the tabs of another part.
    pub tab_slots: Option<TabSlotsText>,
}

impl OpeningText {
    /// The outline of the opening without its lip, as it is read anywhere else.
    #[must_use]
    pub fn outline(&self) -> OutlineText {
        OutlineText {
            rectangle: self.rectangle.clone(),
            circle: self.circle.clone(),
            slot: self.slot.clone(),
            path: self.path.clone(),
            centreline: self.centreline.clone(),
            svg: self.svg.clone(),
            file: self.file.clone(),
        }
    }
}

/// A flange around an opening.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LipText {
    /// From the face's far side to the lip's free edge, square to the face.
    pub height: Quantity,
    /// Inside radius between face and lip.
    pub radius: Quantity,
    /// Angle that the lip is turned, 90 by default; negative turns it to the inner side.
    pub angle: Option<Quantity>,
}

/// The openings in one face.
pub(super) fn openings(
    reader: &mut Reader,
    texts: Option<&[OpeningText]>,
    at: &At,
    sheet: &SheetAtHand,
) -> Read<Vec<Opening>> {
    let all = reader.list(texts, at, |reader, text, at| match &text.tab_slots {
        Some(slots) => slots_alone(reader, text, slots, at, sheet),
        None => opening(reader, text, at).map(|opening| vec![opening]),
    });
    Ok(all?.concat())
}

/// Slots for tabs, which have an item of the list to themselves.
fn slots_alone(
    reader: &mut Reader,
    text: &OpeningText,
    slots: &TabSlotsText,
    at: &At,
    sheet: &SheetAtHand,
) -> Read<Vec<Opening>> {
    let alone = OpeningText { tab_slots: Some(slots.clone()), ..OpeningText::default() };
    if *text != alone {
        let help = "give other openings an item of their own";
        return Err(reader.refuse(
            at,
            Code::Choice,
            "slots for tabs have no other outline and no lip",
            help,
        ));
    }
    match sheet.tab_slots {
        TabSlots::Read => tab_slots(reader, slots, &at.key("tab_slots"), sheet),
        TabSlots::PassedOver => Ok(Vec::new()),
    }
}

fn opening(reader: &mut Reader, text: &OpeningText, at: &At) -> Read<Opening> {
    let outline = outline(reader, &text.outline(), at);
    let lip = text.lip.as_ref().map(|text| lip(reader, text, &at.key("lip"))).transpose();
    Ok(Opening { outline: outline?.sides, lip: lip?, tab: None, place: reader.place(at) })
}

fn lip(reader: &mut Reader, text: &LipText, at: &At) -> Read<Lip> {
    let height = reader.length(&text.height, &at.key("height"), Allowed::Positive);
    let inside_radius = reader.length(&text.radius, &at.key("radius"), Allowed::Positive);
    let angle = lip_angle(reader, text.angle.as_ref(), &at.key("angle"));
    let (height, inside_radius, angle) = (height?, inside_radius?, angle?);
    Ok(Lip { height, inside_radius, bend_angle: angle.abs(), outward: angle.degrees() > 0.0 })
}

/// The angle that a lip is turned, below 0 to the inner side.
fn lip_angle(reader: &mut Reader, text: Option<&Quantity>, at: &At) -> Read<Angle> {
    let Some(text) = text else { return Ok(Angle::from_degrees(90.0)) };
    let angle = reader.angle(text, at, -120.0, 120.0)?;
    if angle.degrees().abs() < 1.0 {
        let help =
            "give 1 to 120 degrees, negative toward the inner side; without a lip drop `lip`";
        return Err(reader.refuse(
            at,
            Code::OutOfRange,
            format!("a lip turned by `{text}` degrees is none"),
            help,
        ));
    }
    Ok(angle)
}

/// Refuses openings that leave their face or run into each other.
pub(super) fn within(
    reader: &mut Reader,
    face: &Outline,
    openings: &[Opening],
    what: &str,
) -> Read<()> {
    let outer = face.sides.to_polyarc(CURVE_TO_ARCS);
    let arcs: Vec<Polyarc> =
        openings.iter().map(|opening| opening.outline.to_polyarc(CURVE_TO_ARCS)).collect();
    let points: Vec<Vec<Point>> = arcs.iter().map(|opening| opening.flatten(0.05)).collect();
    let bounds: Vec<Rect> = arcs.iter().map(Polyarc::bounds).collect();
    let mark = reader.mark();
    for (i, opening) in arcs.iter().enumerate() {
        if !outer.encloses(opening) {
            let message = format!("this opening reaches outside {what}");
            let help = "move it in, or make it part of the profile";
            reader.refuse_place(&openings[i].place, Code::OpeningOutside, message, help);
        }
        // The boxes first: a perforated sheet has thousands of openings.
        let clashes = |k: &usize| {
            bounds[i].overlaps(bounds[*k])
                && (points[i].iter().any(|p| arcs[*k].contains(*p))
                    || points[*k].iter().any(|p| opening.contains(*p)))
        };
        if let Some(k) = (0..i).find(clashes) {
            // An item of the list may be several slots.
            let listed = openings[..=k].chunk_by(|a, b| a.place == b.place).count();
            let message = format!("this opening runs into opening {listed} of the list");
            let help = "move one of them, or make one opening of the two";
            reader.refuse_place(&openings[i].place, Code::Outline, message, help);
        }
    }
    reader.sound_since(mark)
}
