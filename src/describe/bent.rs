//! Bent parts: legs and the bends between them.

use schemars::JsonSchema;
use serde::Deserialize;

use super::copes::{CopeText, copes};
use super::joggle::{JoggleText, joggle};
use super::opening::{OpeningText, openings};
use super::part::{KindText, PartText, SheetAtHand};
use super::yaml::{Allowed, At, Name, Quantity, Read, Reader};
use crate::part::{Bend, Bent, JoggleBend, Kind, Leg, LegDims};
use crate::problem::Code;
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

impl KindText for BentText {
    fn resolve(
        &self,
        reader: &mut Reader,
        at: &At,
        _: &PartText,
        sheet: &SheetAtHand,
    ) -> Read<Kind> {
        bent(reader, self, at, sheet).map(Kind::Bent)
    }
}

/// What all items of a section share.
struct Section<'a> {
    dims: Read<LegDims>,
    /// The radius of bends that give none.
    radius: Read<Option<Length>>,
    sheet: &'a SheetAtHand,
}

fn bent(reader: &mut Reader, text: &BentText, at: &At, sheet: &SheetAtHand) -> Read<Bent> {
    let dims =
        leg_dims(reader, text.dims.as_ref(), at, "legs are taken to the outside mould lines");
    let radius = common_radius(reader, text.radius.as_ref(), &at.key("radius"), sheet);
    let depth = reader.length(&text.depth, &at.key("depth"), Allowed::Positive);
    let copes = copes(reader, text.copes.as_deref(), &at.key("copes"));
    let (legs, bends) = legs_and_bends(
        reader,
        &text.section,
        &at.key("section"),
        &Section { dims, radius, sheet },
    )?;
    Ok(Bent { dims: dims?, legs, bends, depth: depth?, copes: copes? })
}

/// The inside radius that bends have where they give none, if there is one.
pub(super) fn common_radius(
    reader: &mut Reader,
    text: Option<&Quantity>,
    at: &At,
    sheet: &SheetAtHand,
) -> Read<Option<Length>> {
    reader.stands(at)?;
    // One that cannot be read is an error already; the thickness stands in for it.
    Ok(text.map(|radius| reader.length(radius, at, Allowed::Positive).unwrap_or(sheet.thickness)))
}

/// Walks along a section: legs and bends in turn, a leg at either end.
fn legs_and_bends(
    reader: &mut Reader,
    items: &[SectionItemText],
    at: &At,
    section: &Section,
) -> Read<(Vec<Leg>, Vec<Bend>)> {
    let (mut legs, mut bends) = (Vec::new(), Vec::new());
    let mark = reader.mark();
    for (i, item) in items.iter().enumerate() {
        let (item_at, is_at_leg) = (at.item(i), i % 2 == 0);
        if reader.stands(&item_at).is_err() {
            continue;
        }
        match (&item.leg, &item.bend, &item.joggle) {
            (Some(length), None, None) if is_at_leg => {
                legs.extend(leg(reader, length, item, &item_at, section));
            }
            (None, _, Some(text)) if !is_at_leg => {
                if let Ok((between, both)) = joggled(reader, text, item, &item_at, section) {
                    legs.push(between);
                    bends.extend(both);
                }
            }
            (None, Some(angle), None) if !is_at_leg => {
                bends.extend(bend(reader, angle, item, &item_at, section));
            }
            // What a key that is not known was meant for; the order of the others is told by their
            // places.
            (None, None, None) if reader.stands_whole(&item_at).is_err() => {}
            (leg, bend, joggle) => {
                let turns = bend.is_some() || joggle.is_some();
                let (message, help) = match (leg.is_some(), turns) {
                    (true, true) => {
                        ("a leg and a bend in one item", "give each an item of its own")
                    }
                    (false, false) => {
                        ("this item is neither a leg nor a bend", "give `leg`, `bend` or `joggle`")
                    }
                    (true, false) => ("two legs follow each other", "put a bend between them"),
                    (false, true) => (
                        "a section starts and ends with a leg, and bends lie between legs",
                        "add the leg before this bend",
                    ),
                };
                return Err(reader.refuse(&item_at, Code::Choice, message, help));
            }
        }
    }
    reader.sound_since(mark)?;
    if legs.len() != bends.len() + 1 {
        let message = "a section starts and ends with a leg";
        return Err(reader.refuse(at, Code::Choice, message, "add the leg after the last bend"));
    }
    Ok((legs, bends))
}

/// What the legs, or profile and heights, measure.
pub(super) fn leg_dims(
    reader: &mut Reader,
    dims: Option<&Name>,
    at: &At,
    why_outside: &str,
) -> Read<LegDims> {
    if dims.is_none() {
        reader.assume("dims", "outside", why_outside);
    }
    let known = [
        ("outside", LegDims::Outside),
        ("inside", LegDims::Inside),
        ("flat", LegDims::Flat),
        ("edge", LegDims::Edge),
    ];
    reader.word_or(dims, &at.key("dims"), &known, LegDims::Outside)
}

/// The angle of a bend, above 0 and below 180 degrees either way.
pub(super) fn bend_angle(reader: &mut Reader, bend: &Quantity, at: &At) -> Read<Angle> {
    let angle = reader.angle(bend, at, f64::NEG_INFINITY, f64::INFINITY)?;
    // The comparison is this way round so that a NaN fails.
    if !(0.01..=179.99).contains(&angle.degrees().abs()) {
        let message = format!("a bend of `{bend}` degrees is not allowed here");
        let help = "give the angle that the metal is turned through, above 0 and below 180; below 0 it turns down";
        return Err(reader.refuse(at, Code::OutOfRange, message, help));
    }
    Ok(angle)
}

fn leg(
    reader: &mut Reader,
    length: &Quantity,
    item: &SectionItemText,
    at: &At,
    section: &Section,
) -> Read<Leg> {
    if item.radius.is_some() {
        return Err(reader.refuse(
            &at.key("radius"),
            Code::Choice,
            "a leg has no radius",
            "give it on the bend",
        ));
    }
    let length = reader.length(length, &at.key("leg"), Allowed::Positive);
    let openings = openings(reader, item.openings.as_deref(), &at.key("openings"), section.sheet);
    let (length, openings) = (length?, openings?);
    // Between its mould lines a leg is as long as it says; by other measures it reaches farther, by
    // what its bends tell later.
    for opening in openings.iter().filter(|_| section.dims == Ok(LegDims::Outside)) {
        let bounds = opening.outline.bounds();
        if bounds.x0 >= length.mm() || bounds.x1 <= 0.0 {
            let help = format!(
                "`at` is along the leg, {} long, from its start mould line (the first leg: from its free end), then across the depth",
                reader.shown_unit().show(length)
            );
            reader.refuse_place(
                &opening.place,
                Code::OpeningOutside,
                "this opening lies beyond its leg",
                help,
            );
        }
    }
    Ok(Leg { length, openings, place: reader.place(&at.key("leg")) })
}

/// A joggle as the leg on its slope and the bends at its ends.
fn joggled(
    reader: &mut Reader,
    text: &JoggleText,
    item: &SectionItemText,
    at: &At,
    section: &Section,
) -> Read<(Leg, [Bend; 2])> {
    let others = [
        ("bend", item.bend.is_some()),
        ("openings", item.openings.is_some()),
        ("radius", item.radius.is_some()),
    ];
    if let Some((key, _)) = others.into_iter().find(|(_, there)| *there) {
        let message = format!("a joggle takes no `{key}` beside it");
        let help = "its keys stand in it: {joggle: {offset: 2, angle: 30, radius: 2}}; openings belong to the legs beside it";
        return Err(reader.refuse(&at.key(key), Code::Choice, message, help));
    }
    let thickness = section.sheet.thickness;
    let joggle = joggle(reader, text, &at.key("joggle"), section.sheet, section.radius)?;
    let length = joggle.leg(section.dims.unwrap_or(LegDims::Outside), thickness);
    let bend = |angle: Angle, which: JoggleBend| Bend {
        angle,
        inside_radius: joggle.inside_radius,
        joggle: Some(which),
        place: joggle.place.clone(),
    };
    let both = [bend(joggle.angle, JoggleBend::First), bend(-joggle.angle, JoggleBend::Second)];
    Ok((Leg { length, openings: Vec::new(), place: joggle.place.clone() }, both))
}

fn bend(
    reader: &mut Reader,
    angle: &Quantity,
    item: &SectionItemText,
    at: &At,
    section: &Section,
) -> Read<Bend> {
    if item.openings.is_some() {
        return Err(reader.refuse(
            &at.key("openings"),
            Code::Choice,
            "a bend has no openings",
            "give them in the leg before or after it",
        ));
    }
    let bend_at = at.key("bend");
    let angle = bend_angle(reader, angle, &bend_at)?;
    let inside_radius = match (&item.radius, section.radius) {
        (Some(radius), _) => reader.length(radius, &at.key("radius"), Allowed::Positive)?,
        (None, Err(refused)) => return Err(refused),
        (None, Ok(Some(radius))) => radius,
        (None, Ok(None)) => {
            let thickness = section.sheet.thickness;
            let shown = reader.shown_unit().show(thickness);
            reader.assume(
                "radius",
                shown,
                "no inside radius is given; one thickness is a usual one",
            );
            thickness
        }
    };
    Ok(Bend { angle, inside_radius, joggle: None, place: reader.place(&bend_at) })
}
