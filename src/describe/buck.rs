//! The form block of a half-shell.

use schemars::JsonSchema;
use serde::Deserialize;

use super::yaml::{Allowed, At, ListOr, PointText, Quantity, Read, Reader};
use crate::part::{Buck, Outline, Pins};
use crate::problem::Code;
use crate::tolerance::MOST_STATIONS;
use crate::units::{Length, LengthUnit};

/// The form block of a half-shell.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BuckText {
    /// Thickness of one layer of buck stock.
    pub layer: Option<Quantity>,
    /// Thickness of the clamp plate.
    pub clamp_plate: Option<Quantity>,
    /// The dowels that keep sheet, buck and plate in place.
    pub dowels: Option<PinsText>,
    /// The bolts that clamp them.
    pub bolts: Option<PinsText>,
    /// Degrees that the buck's walls lean under, or auto: from springback.
    pub undercut: Option<Quantity>,
    /// Pitch of the station marks.
    pub stations: Option<Quantity>,
}

/// Dowels or bolts of one diameter that go through sheet, buck and clamp plate.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PinsText {
    /// The diameter of each dowel or bolt: a length above 0.
    pub diameter: Quantity,
    /// Their places, or auto.
    pub at: Option<ListOr<PointText, Quantity>>,
}

pub(super) fn buck(reader: &mut Reader, text: Option<&BuckText>, at: &At) -> Read<Buck> {
    let none = BuckText {
        layer: None,
        clamp_plate: None,
        dowels: None,
        bolts: None,
        undercut: None,
        stations: None,
    };
    let text = text.unwrap_or(&none);
    let default = |reader: &mut Reader, given: Option<&Quantity>, key: &str, mm: f64, why: &str| {
        if given.is_none() {
            let shown = reader.shown_unit().show(Length::from_mm(mm));
            reader.assume(&format!("buck.{key}"), shown, why);
        }
        reader.length_or(given, &at.key(key), Allowed::Positive, Length::from_mm(mm))
    };
    let layer = default(reader, text.layer.as_ref(), "layer", 18.0, "a usual board; measure yours");
    let clamp_plate =
        default(reader, text.clamp_plate.as_ref(), "clamp_plate", 10.0, "common practice");
    let stations =
        default(reader, text.stations.as_ref(), "stations", 50.0, "common practice: 25 to 50 mm");
    let undercut = match &text.undercut {
        None => Ok(None),
        Some(Quantity::Text(word)) if word == "auto" => Ok(None),
        Some(quantity) => reader.angle(quantity, &at.key("undercut"), 0.0, 15.0).map(Some),
    };
    let dowels = pins(reader, text.dowels.as_ref(), &at.key("dowels"))?;
    let bolts = pins(reader, text.bolts.as_ref(), &at.key("bolts"))?;
    Ok(Buck {
        layer: layer?,
        clamp_plate: clamp_plate?,
        dowels,
        bolts,
        undercut: undercut?,
        stations: stations?,
    })
}

/// Dowels or bolts, if any are asked for.
fn pins(reader: &mut Reader, text: Option<&PinsText>, at: &At) -> Read<Option<Pins>> {
    let Some(text) = text else { return Ok(None) };
    let diameter = reader.length(&text.diameter, &at.key("diameter"), Allowed::Positive)?;
    let places = match &text.at {
        None => None,
        Some(ListOr::One(word)) => {
            reader.word(&word.to_string(), &at.key("at"), &[("auto", ())])?;
            None
        }
        Some(ListOr::List(points)) => {
            let at = at.key("at");
            let mut places = Vec::new();
            for (i, point) in points.iter().enumerate() {
                places.push(reader.point(point, &at.item(i))?);
            }
            Some(places)
        }
    };
    Ok(Some(Pins { diameter, at: places }))
}

/// Refuses a pitch of stations that makes more of them than anybody cuts templates.
pub(super) fn few_stations(
    reader: &mut Reader,
    profile: &Outline,
    buck: Buck,
    at: &At,
) -> Read<Buck> {
    let (from, to) = profile.run();
    let count = ((to - from) / buck.stations.mm()).floor();
    if count <= MOST_STATIONS {
        return Ok(buck);
    }
    let unit = reader.shown_unit();
    // Rounded up to a tenth of a millimetre, or to a hundredth of an inch.
    let (step, least) =
        (if unit == LengthUnit::Inch { 0.254 } else { 0.1 }, (to - from) / MOST_STATIONS);
    let least = unit.show(Length::from_mm((least / step).ceil() * step));
    let message = format!(
        "a station every {} would make {count} of them; {MOST_STATIONS} are the most",
        unit.show(buck.stations)
    );
    Err(reader.refuse(
        at,
        Code::OutOfRange,
        message,
        format!("for a part this long make the pitch {least} or more"),
    ))
}
