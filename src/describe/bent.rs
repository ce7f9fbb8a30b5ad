//! Bent parts: legs and the bends between them.

use schemars::JsonSchema;
use serde::Deserialize;

use super::copes::{CopeText, copes};
use super::joggle::{JoggleText, joggle};
use super::opening::{OpeningText, openings};
use super::yaml::{Allowed, At, Name, Quantity, Reader};
use crate::part::{Bend, Bent, JoggleBend, Leg, LegDims};
use crate::problem::{Code, Problem};
use crate::units::{Angle, Length};

/// A part bent from one section.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BentText {
    /// What the legs measure: outside (default, to the mould lines), inside, flat (between tangent lines) or edge (past 90 degrees to the
    /// outer tangent).
    pub dims: Option<Name>,
    /// Inside radius where a bend gives none.
    pub radius: Option<Quantity>,
    /// Legs and bends in turn, walked along the metal.
    pub section: Vec<SectionItemText>,
    /// Length of the bends.
    pub depth: Quantity,
    /// Ends cut to lie against round tubes.
    pub copes: Option<Vec<CopeText>>,
}

/// A leg, a bend or a joggle.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SectionItemText {
    /// Length of a leg.
    pub leg: Option<Quantity>,
    /// Openings in this leg, `at` along the leg from its start mould line and across the depth.
    pub openings: Option<Vec<OpeningText>>,
    /// Angle that a bend turns the metal through; positive toward the upper face.
    pub bend: Option<Quantity>,
    /// Instead of a bend: two opposite bends that set the metal off sideways.
    pub joggle: Option<JoggleText>,
    /// Inside radius of this bend.
    pub radius: Option<Quantity>,
}

pub(super) fn bent(reader: &mut Reader, text: &BentText, at: &At, thickness: Length) -> Option<Bent> {
    let dims = leg_dims(reader, text.dims.as_ref(), at, "legs are taken to the outside mould lines");
    // A radius that cannot be read is an error already; the thickness stands in for it.
    let common_radius =
        text.radius.as_ref().map(|radius| reader.length(radius, &at.key("radius"), Allowed::Positive).unwrap_or(thickness));
    let depth = reader.length(&text.depth, &at.key("depth"), Allowed::Positive);
    let copes = copes(reader, text.copes.as_deref(), &at.key("copes"));
    let section_at = at.key("section");
    let (mut legs, mut bends) = (Vec::new(), Vec::new());
    let before = reader.problems.len();
    for (i, item) in text.section.iter().enumerate() {
        let at = section_at.item(i);
        let turns = item.bend.is_some() || item.joggle.is_some();
        match (&item.leg, turns.then_some(()), i % 2) {
            (Some(leg), None, 0) => legs.extend(self::leg(reader, leg, item, &at, dims)),
            (None, Some(()), 1) if item.joggle.is_some() => {
                if let Some((between, both)) = joggled(reader, item, &at, dims, common_radius, thickness) {
                    legs.push(between);
                    bends.extend(both);
                }
            }
            (None, Some(()), 1) => bends.extend(self::bend(reader, item, &at, common_radius, thickness)),
            (Some(_), Some(()), _) => {
                return reader.refuse(&at, Code::Choice, "a leg and a bend in one item", "give each an item of its own");
            }
            (None, None, _) => {
                return reader.refuse(
                    &at,
                    Code::Choice,
                    "this item is neither a leg nor a bend",
                    "give `leg`, `bend` or `joggle`",
                );
            }
            (Some(_), None, _) => {
                return reader.refuse(&at, Code::Choice, "two legs follow each other", "put a bend between them");
            }
            (None, Some(()), _) => {
                return reader.refuse(
                    &at,
                    Code::Choice,
                    "a section starts and ends with a leg, and bends lie between legs",
                    "add the leg before this bend",
                );
            }
        }
    }
    if reader.problems.len() > before {
        return None;
    }
    if legs.len() != bends.len() + 1 {
        return reader.refuse(
            &section_at,
            Code::Choice,
            "a section starts and ends with a leg",
            "add the leg behind the last bend",
        );
    }
    Some(Bent { dims: dims?, legs, bends, depth: depth?, copes: copes? })
}

/// What the legs, or profile and heights, measure.
pub(super) fn leg_dims(reader: &mut Reader, dims: Option<&Name>, at: &At, why_outside: &str) -> Option<LegDims> {
    match dims {
        Some(word) => {
            let known =
                [("outside", LegDims::Outside), ("inside", LegDims::Inside), ("flat", LegDims::Flat), ("edge", LegDims::Edge)];
            reader.word(&word.0, &at.key("dims"), &known)
        }
        None => {
            reader.assume("dims", "outside", why_outside);
            Some(LegDims::Outside)
        }
    }
}

/// The angle of a bend, above 0 and below 180 degrees either way.
pub(super) fn bend_angle(reader: &mut Reader, bend: &Quantity, at: &At) -> Option<Angle> {
    let angle = reader.angle(bend, at, f64::NEG_INFINITY, f64::INFINITY)?;
    // The comparison is this way round so that a NaN fails.
    if !(0.01..=179.99).contains(&angle.degrees().abs()) {
        let message = format!("a bend of `{bend}` degrees is not allowed here");
        let help = "give the angle that the metal is turned through, above 0 and below 180; below 0 it turns down";
        return reader.refuse(at, Code::OutOfRange, message, help);
    }
    Some(angle)
}

fn leg(reader: &mut Reader, leg: &Quantity, item: &SectionItemText, at: &At, dims: Option<LegDims>) -> Option<Leg> {
    if item.radius.is_some() {
        return reader.refuse(&at.key("radius"), Code::Choice, "a leg has no radius", "give it on the bend");
    }
    let length = reader.length(leg, &at.key("leg"), Allowed::Positive);
    let openings = openings(reader, item.openings.as_deref(), &at.key("openings"));
    let (length, openings) = (length?, openings?);
    // Between its mould lines a leg is as long as it says; by other measures it reaches farther, by what its bends tell later.
    for opening in openings.iter().filter(|_| dims == Some(LegDims::Outside)) {
        let bounds = opening.outline.bounds();
        if bounds.x0 >= length.mm() || bounds.x1 <= 0.0 {
            let help = format!(
                "`at` is along the leg, {} long, from its start mould line (the first leg: from its free end), then across the depth",
                reader.shown_unit().show(length)
            );
            let problem = Problem::new(Code::OpeningOutside, "this opening lies beyond its leg", help);
            reader.problems.push(problem.at(opening.place.clone()));
        }
    }
    Some(Leg { length, openings, place: reader.place(&at.key("leg")) })
}

/// A joggle as the leg on its slope and the bends at its ends.
fn joggled(
    reader: &mut Reader,
    item: &SectionItemText,
    at: &At,
    dims: Option<LegDims>,
    common_radius: Option<Length>,
    thickness: Length,
) -> Option<(Leg, [Bend; 2])> {
    let others = [("bend", item.bend.is_some()), ("openings", item.openings.is_some()), ("radius", item.radius.is_some())];
    if let Some((key, _)) = others.into_iter().find(|(_, there)| *there) {
        let message = format!("a joggle takes no `{key}` beside it");
        let help = "its keys stand in it: {joggle: {offset: 2, angle: 30, radius: 2}}; openings belong to the legs beside it";
        return reader.refuse(&at.key(key), Code::Choice, message, help);
    }
    let joggle = joggle(reader, item.joggle.as_ref()?, &at.key("joggle"), thickness, common_radius)?;
    let length = joggle.leg(dims.unwrap_or(LegDims::Outside), thickness);
    let bend = |angle: Angle, which: JoggleBend| Bend {
        angle,
        inside_radius: joggle.inside_radius,
        joggle: Some(which),
        place: joggle.place.clone(),
    };
    let both = [bend(joggle.angle, JoggleBend::First), bend(-joggle.angle, JoggleBend::Second)];
    Some((Leg { length, openings: Vec::new(), place: joggle.place.clone() }, both))
}

fn bend(reader: &mut Reader, item: &SectionItemText, at: &At, common_radius: Option<Length>, thickness: Length) -> Option<Bend> {
    if item.openings.is_some() {
        return reader.refuse(
            &at.key("openings"),
            Code::Choice,
            "a bend has no openings",
            "give them in the leg before or after it",
        );
    }
    let bend_at = at.key("bend");
    let angle = bend_angle(reader, item.bend.as_ref()?, &bend_at)?;
    let inside_radius = match (&item.radius, common_radius) {
        (Some(radius), _) => reader.length(radius, &at.key("radius"), Allowed::Positive)?,
        (None, Some(radius)) => radius,
        (None, None) => {
            let shown = reader.shown_unit().show(thickness);
            reader.assume("radius", shown, "no inside radius is given; one thickness is a usual one");
            thickness
        }
    };
    Some(Bend { angle, inside_radius, joggle: None, place: reader.place(&bend_at) })
}
