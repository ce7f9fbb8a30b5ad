//! Openings, their lips, and where they may lie.

use schemars::JsonSchema;
use serde::Deserialize;

use super::centreline::CentrelineText;
use super::outline::{CircleText, OutlineText, RectangleText, SlotText, SvgText, outline};
use super::outline_file::FileOutlineText;
use super::path::PathItemText;
use super::tab_slots::{TabSlotsText, tab_slots};
use super::yaml::{Allowed, At, Quantity, Reader};
use crate::geom::{Point, Polyarc, Rect};
use crate::part::{Lip, Opening, Outline};
use crate::problem::{Code, Problem};
use crate::tolerance::CURVE_TO_ARCS;

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

pub(super) fn openings(reader: &mut Reader, texts: Option<&[OpeningText]>, at: &At) -> Option<Vec<Opening>> {
    let mut all = Vec::new();
    let mut whole = true;
    for (i, text) in texts.unwrap_or_default().iter().enumerate() {
        let at = at.item(i);
        if let Some(slots) = &text.tab_slots {
            let alone = OpeningText { tab_slots: Some(slots.clone()), ..OpeningText::default() };
            if *text != alone {
                let help = "give other openings an item of their own";
                reader.refuse::<()>(&at, Code::Choice, "slots for tabs have no other outline and no lip", help);
                whole = false;
            } else if !reader.skips_tab_slots {
                match tab_slots(reader, slots, &at.key("tab_slots")) {
                    Some(slots) => all.extend(slots),
                    None => whole = false,
                }
            }
            continue;
        }
        let outline = outline(reader, &text.outline(), &at);
        let lip = match &text.lip {
            Some(lip) => {
                let at = at.key("lip");
                let height = reader.length(&lip.height, &at.key("height"), Allowed::Positive);
                let radius = reader.length(&lip.radius, &at.key("radius"), Allowed::Positive);
                let right_angle = Quantity::Number(90.0);
                let angle = lip.angle.as_ref().unwrap_or(&right_angle);
                let angle_at = at.key("angle");
                let angle = match reader.angle(angle, &angle_at, -120.0, 120.0) {
                    Some(turned) if turned.degrees().abs() < 1.0 => {
                        let help = "give 1 to 120 degrees, negative toward the inner side; without a lip drop `lip`";
                        reader.refuse(&angle_at, Code::OutOfRange, format!("a lip turned by `{angle}` degrees is none"), help)
                    }
                    other => other,
                };
                match (height, radius, angle) {
                    (Some(height), Some(inside_radius), Some(angle)) => {
                        Some(Lip { height, inside_radius, bend_angle: angle.abs(), outward: angle.degrees() > 0.0 })
                    }
                    _ => {
                        whole = false;
                        None
                    }
                }
            }
            None => None,
        };
        match outline {
            Some(outline) => all.push(Opening { outline: outline.sides, lip, tab: None, place: reader.place(&at) }),
            None => whole = false,
        }
    }
    whole.then_some(all)
}

/// Refuses openings that leave their face or run into each other.
pub(super) fn within(reader: &mut Reader, face: &Outline, openings: &[Opening], what: &str) -> Option<()> {
    let outer = face.sides.to_polyarc(CURVE_TO_ARCS);
    let arcs: Vec<Polyarc> = openings.iter().map(|opening| opening.outline.to_polyarc(CURVE_TO_ARCS)).collect();
    let points: Vec<Vec<Point>> = arcs.iter().map(|opening| opening.flatten(0.05)).collect();
    let bounds: Vec<Rect> = arcs.iter().map(Polyarc::bounds).collect();
    let before = reader.problems.len();
    for (i, opening) in arcs.iter().enumerate() {
        if !outer.encloses(opening) {
            let message = format!("this opening reaches outside {what}");
            let help = "move it in, or make it part of the profile";
            reader.problems.push(Problem::new(Code::OpeningOutside, message, help).at(openings[i].place.clone()));
        }
        // The boxes first: a perforated sheet has thousands of openings.
        let clashes = |k: &usize| {
            bounds[i].overlaps(bounds[*k])
                && (points[i].iter().any(|p| arcs[*k].contains(*p)) || points[*k].iter().any(|p| opening.contains(*p)))
        };
        if let Some(k) = (0..i).find(clashes) {
            // An item of the list may be several slots.
            let listed = openings[..=k].chunk_by(|a, b| a.place == b.place).count();
            let message = format!("this opening runs into opening {listed} of the list");
            let help = "move one of them, or make one opening of the two";
            reader.problems.push(Problem::new(Code::Outline, message, help).at(openings[i].place.clone()));
        }
    }
    (reader.problems.len() == before).then_some(())
}
