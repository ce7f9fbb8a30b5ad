//! Joggles: two equal and opposite bends that set the metal off sideways, written as one.

use schemars::JsonSchema;
use serde::Deserialize;

use super::part::SheetAtHand;
use super::yaml::{Allowed, At, Quantity, Read, Reader};
use crate::part::LegDims;
use crate::problem::{Code, Place};
use crate::units::{Angle, Digits, Length};

/// A joggle. `offset`, or `over` and a clearance.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JoggleText {
    /// From a face of the sheet before it to the same face behind it; positive toward the upper face.
    pub offset: Option<Quantity>,
    /// Instead: the thickness of the sheet that it steps over, toward the upper face.
    pub over: Option<Quantity>,
    /// Added to the thickness stepped over.
    pub clearance: Option<Quantity>,
    /// The angle that each of its bends turns through, 30 by default.
    pub angle: Option<Quantity>,
    /// Inside radius of both bends.
    pub radius: Option<Quantity>,
}

/// A joggle, resolved.
#[derive(Debug, Clone)]
pub(super) struct Joggle {
    /// The angle of its first bend, positive toward the upper face; the second turns back by as
    /// much.
    pub(super) angle: Angle,
    pub(super) inside_radius: Length,
    /// Length of its slope between the tangent lines.
    pub(super) slope: Length,
    pub(super) place: Place,
}

/// Play between the sheet stepped over and the one stepping (common practice, no source).
const CLEARANCE: Length = Length::from_mm(0.2);

/// The angle of a joggle that gives none, degrees (common practice, no source).
const ANGLE: f64 = 30.0;

/// Reads a joggle in sheet of that thickness. `radius` is that of bends that give none.
///
/// d = (2 R + T) (1 - cos a) + s sin a, so the slope between tangent lines is
/// s = (d - (2 R + T)(1 - cos a))/sin a; no joggle is flatter than s = 0. Here d = offset, a = angle
/// of each bend, R = inside radius, T = thickness. Derived from the mid-line of the sheet; the run
/// over the outer tangent lines is d/tan a + (2 R + T) tan(a/2).
/// Tested in `tests/it/properties/joggles.rs`.
pub(super) fn joggle(
    reader: &mut Reader,
    text: &JoggleText,
    at: &At,
    sheet: &SheetAtHand,
    radius: Read<Option<Length>>,
) -> Read<Joggle> {
    let thickness = sheet.thickness;
    let offset = offset(reader, text, at);
    let angle = match &text.angle {
        Some(angle) => reader.angle(angle, &at.key("angle"), 1.0, 90.0),
        None => reader.stands(&at.key("angle")).map(|()| {
            reader.assume(
                "joggle.angle",
                "30 degrees",
                "no angle of the joggle is given; common practice, no source",
            );
            Angle::from_degrees(ANGLE)
        }),
    };
    let radius = reader.stands(&at.key("radius")).and(radius);
    let inside_radius = match (&text.radius, radius) {
        (Some(radius), _) => reader.length(radius, &at.key("radius"), Allowed::Positive),
        (None, Err(refused)) => Err(refused),
        (None, Ok(Some(radius))) => Ok(radius),
        (None, Ok(None)) => {
            let shown = reader.shown_unit().show(thickness);
            reader.assume(
                "radius",
                shown,
                "no inside radius is given; one thickness is a usual one",
            );
            Ok(thickness)
        }
    };
    let (offset, angle, inside_radius) = (offset?, angle?, inside_radius?);
    sheet.thickness_known?;
    let (sin, cos) = angle.radians().sin_cos();
    let by_bends = (2.0 * inside_radius.mm() + thickness.mm()) * (1.0 - cos);
    let slope = (offset.mm().abs() - by_bends) / sin;
    if slope < -1e-9 {
        let shown = |length: Length| reader.shown_unit().show(length);
        let message = format!(
            "a joggle of {} is less than its two bends make by themselves, {}",
            shown(Length::from_mm(offset.mm().abs())),
            shown(Length::from_mm(by_bends))
        );
        // The angle whose two bends make the offset by themselves.
        let most = (1.0 - offset.mm().abs() / (2.0 * inside_radius.mm() + thickness.mm()))
            .acos()
            .to_degrees();
        let most = Digits((most * 10.0).floor() / 10.0, 1);
        let help = format!(
            "make the offset larger, the angle {most} degrees or less, or the radius smaller"
        );
        return Err(reader.refuse(at, Code::NoRoom, message, help));
    }
    let angle = if offset < Length::ZERO { Angle::ZERO - angle } else { angle };
    Ok(Joggle {
        angle,
        inside_radius,
        slope: Length::from_mm(slope.max(0.0)),
        place: reader.place(at),
    })
}

fn offset(reader: &mut Reader, text: &JoggleText, at: &At) -> Read<Length> {
    match (&text.offset, &text.over) {
        (Some(offset), None) => {
            if text.clearance.is_some() {
                let help =
                    "drop it, or give `over`, the thickness of the sheet that is stepped over";
                return Err(reader.refuse(
                    &at.key("clearance"),
                    Code::Choice,
                    "the offset of a joggle has its clearance in it already",
                    help,
                ));
            }
            let offset_at = at.key("offset");
            let read = reader.length(offset, &offset_at, Allowed::Any)?;
            if read == Length::ZERO {
                return Err(reader.refuse(
                    &offset_at,
                    Code::OutOfRange,
                    "a joggle of nothing is none",
                    "give the offset, or drop it",
                ));
            }
            Ok(read)
        }
        (None, Some(over)) => {
            if text.clearance.is_none() {
                let shown = reader.shown_unit().show(CLEARANCE);
                reader.assume(
                    "joggle.clearance",
                    shown,
                    "play over the sheet that is stepped over; common practice, no source",
                );
            }
            let over = reader.length(over, &at.key("over"), Allowed::Positive);
            let clearance = reader.length_or(
                text.clearance.as_ref(),
                &at.key("clearance"),
                Allowed::ZeroOrMore,
                CLEARANCE,
            );
            Ok(over? + clearance?)
        }
        _ => {
            let help = "give `offset`, face to same face, or `over`, the thickness of the sheet that is stepped over";
            Err(reader.refuse(
                at,
                Code::Choice,
                "a joggle needs `offset` or `over`, one of the two",
                help,
            ))
        }
    }
}

impl Joggle {
    /// The length of its slope as the dims measure a leg between two such bends.
    pub(super) fn leg(&self, dims: LegDims, thickness: Length) -> Length {
        let half_tangent = (self.angle.radians().abs() / 2.0).tan();
        let reach = match dims {
            LegDims::Flat => Length::ZERO,
            LegDims::Inside => self.inside_radius * half_tangent,
            LegDims::Outside | LegDims::Edge => (self.inside_radius + thickness) * half_tangent,
        };
        self.slope + reach * 2.0
    }
}
