//! Cutting figures, of a shop or of a job.

use schemars::JsonSchema;
use serde::Deserialize;

use super::yaml::{Allowed, At, Quantity, Read, Reader};
use crate::part::Cutting;
use crate::problem::Code;
use crate::tolerance::MOST_BEND_STRIPS;
use crate::units::{LengthUnit, MM_PER_INCH};

/// How sheets are cut: the torch's figures, the distances to keep, and what is cut from the rest
/// of a sheet.
#[derive(Debug, Clone, PartialEq, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CuttingText {
    /// Width of the cut; from a table by thickness by default.
    pub kerf: Option<Quantity>,
    /// Least distance between cut edges, on top of the kerf.
    pub spacing: Option<Quantity>,
    /// Least distance to the sheet's edge.
    pub margin: Option<Quantity>,
    /// Whether the cut lines are moved out by half the kerf and carry lead-ins.
    pub compensate: Option<bool>,
    /// Cutting speed a minute.
    pub feed: Option<Quantity>,
    /// Time of one pierce.
    pub pierce: Option<Quantity>,
    /// The least width of what is left of a sheet that is worth keeping, 100 mm by default; 0 keeps nothing.
    pub remnant: Option<Quantity>,
    /// Whether a coupon that tells the kerf is cut from what is left, if there is room.
    pub coupon: Option<bool>,
    /// How many strips for bending are cut from what is left, if there is room.
    pub bend_strips: Option<u32>,
}

/// Cutting figures, of a shop or of a job.
pub(super) fn cutting(reader: &mut Reader, text: &CuttingText, at: &At) -> Read<Cutting> {
    let mut length = |quantity: Option<&Quantity>, key: &str| {
        quantity
            .map(|quantity| reader.length(quantity, &at.key(key), Allowed::ZeroOrMore))
            .transpose()
    };
    let kerf = length(text.kerf.as_ref(), "kerf");
    let spacing = length(text.spacing.as_ref(), "spacing");
    let margin = length(text.margin.as_ref(), "margin");
    let remnant = length(text.remnant.as_ref(), "remnant");
    let bend_strips = text.bend_strips.map(|strips| strips as usize);
    if bend_strips.is_some_and(|strips| strips > MOST_BEND_STRIPS) {
        let help = format!(
            "give 0 to {MOST_BEND_STRIPS}; two of each direction tell what there is to tell"
        );
        return Err(reader.refuse(
            &at.key("bend_strips"),
            Code::OutOfRange,
            "these are more strips than anybody bends",
            help,
        ));
    }
    let feed =
        text.feed.as_ref().map(|feed| cutting_speed(reader, feed, &at.key("feed"))).transpose();
    let pierce_units = [("s", 1.0), ("ms", 0.001)];
    let pierce = text.pierce.as_ref();
    let pierce = pierce
        .map(|time| reader.with_units(time, &at.key("pierce"), "a time", &pierce_units))
        .transpose();
    if feed == Ok(Some(0.0)) {
        let help = "give the cutting speed in mm a minute";
        return Err(reader.refuse(
            &at.key("feed"),
            Code::OutOfRange,
            "a feed of 0 cuts nothing",
            help,
        ));
    }
    Ok(Cutting {
        kerf: kerf?,
        spacing: spacing?,
        margin: margin?,
        feed_mm_per_min: feed?,
        pierce_s: pierce?,
        compensate: text.compensate,
        remnant: remnant?,
        coupon: text.coupon,
        bend_strips,
    })
}

/// A cutting speed, mm a minute; a bare number is in the file's unit a minute.
fn cutting_speed(reader: &mut Reader, text: &Quantity, at: &At) -> Read<f64> {
    let mut units = [("mm/min", 1.0), ("in/min", MM_PER_INCH), ("m/min", 1000.0)];
    if reader.shown_unit() == LengthUnit::Inch {
        units.swap(0, 1);
    }
    reader.with_units(text, at, "a cutting speed", &units)
}
