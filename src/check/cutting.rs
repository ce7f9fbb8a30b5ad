//! What the cutting of a sheet has against it.

use std::collections::BTreeMap;

use super::openings::narrowest;
use crate::cutting::{CutPlan, LeadRoom, Torch};
use crate::finding::{Finding, Grade, JobFinding, Measured, Rule, Sense};
use crate::part::Job;
use crate::problem::Place;
use crate::tolerance::STRETCH_TO_MIND;
use crate::units::{Digits, Length};

/// Where the limits of cuts come from.
const PATH: &str =
    "geometry of the torch's path; size of crater and lead-in: common practice, no source";

/// What was found of one edge of a part, and on how many copies.
struct Found {
    place: Option<Place>,
    copies: usize,
    value: f64,
}

/// The findings of a sheet's cuts; `of` gives for each blank on it its part's name and place.
pub(crate) fn check_cuts(
    job: &Job,
    sheet: &str,
    of: &[(String, Option<Place>)],
    plan: &CutPlan,
    torch: Torch,
) -> Vec<JobFinding> {
    let mut found: BTreeMap<(Rule, &str, usize), Found> = BTreeMap::new();
    // Copies of a part are alike, so that the width of their edge is found once.
    let mut widths: BTreeMap<(&str, usize), f64> = BTreeMap::new();
    let mut note = |rule: Rule, blank: usize, edge: usize, value: f64| {
        let (part, place) = &of[blank];
        let entry = found.entry((rule, part, edge)).or_insert_with(|| Found {
            place: place.clone(),
            copies: 0,
            value,
        });
        entry.copies += 1;
        entry.value = entry.value.max(value);
    };
    for cut in &plan.cuts {
        if cut.too_narrow {
            let width = widths.entry((&of[cut.blank].0, cut.edge));
            note(
                Rule::CutWidth,
                cut.blank,
                cut.edge,
                *width.or_insert_with(|| narrowest(&cut.path)),
            );
        } else if job.compensate {
            if cut.room == LeadRoom::None {
                note(Rule::LeadInRoom, cut.blank, cut.edge, 0.0);
            }
            if cut.stretch_at_start > STRETCH_TO_MIND {
                note(Rule::CutStart, cut.blank, cut.edge, cut.stretch_at_start);
            }
        }
    }
    for (blank, edge, _) in &plan.bridged {
        note(Rule::WaistWidth, *blank, *edge, 0.0);
    }
    for (blank, edge, length) in &plan.coinciding {
        note(Rule::SharedCut, *blank, *edge, *length);
    }
    found
        .into_iter()
        .map(|((rule, part, edge), found)| JobFinding {
            part: part.to_owned(),
            sheet: Some(sheet.to_owned()),
            finding: finding(job, rule, edge, &found, torch),
        })
        .collect()
}

fn finding(job: &Job, rule: Rule, edge: usize, found: &Found, torch: Torch) -> Finding {
    let mm = |mm: f64| job.unit.show(Length::from_mm(mm));
    let what = if edge == 0 { "the outer cut".to_owned() } else { format!("opening {edge}") };
    let copies =
        if found.copies > 1 { format!(" (on {} copies)", found.copies) } else { String::new() };
    let kerf = mm(torch.kerf);
    let length = Length::from_mm;
    let over = |message: String| Finding::new(rule, Grade::Over, message, PATH);
    let care = |message: String, source: &str| Finding::new(rule, Grade::Care, message, source);
    let finding = match rule {
        Rule::CutWidth => {
            let instead = if job.compensate {
                "it is scribed on the sheet instead of cut"
            } else {
                "an offset torch would skip or spoil it"
            };
            over(format!(
                "{what} is narrower than the kerf of {kerf}, so the torch cannot follow it{copies}; {instead}"
            ))
            .broken_by(Measured::length(length(found.value), Sense::AtLeast, length(torch.kerf)))
            .remedy("drill, mill or file it after cutting, or widen it")
        }
        Rule::WaistWidth => over(format!(
            "{what} has a waist, notch or corner narrower than the kerf of {kerf}, which the torch cannot follow{copies}"
        ))
        .remedy("open it with a saw or a file after cutting, or widen it"),
        Rule::LeadInRoom => over(format!(
            "there is no room for a lead-in to {what}{copies}: the torch pierces on the line itself and leaves a notch there"
        ))
        .remedy("give more spacing, a larger opening, or start with a drilled hole and dress the place"),
        Rule::SharedCut => care(
            format!(
                "{what} runs for {} along the cut of a neighbour{copies}: the second time the torch has metal on one side only, \
                 the edge comes out bevelled or the arc goes out",
                mm(found.value)
            ),
            PATH,
        )
        .broken_by(Measured::length(length(found.value), Sense::AtMost, Length::ZERO))
        .remedy(format!("give a spacing of at least the kerf of {kerf}")),
        _ => care(
            format!(
                "all of {what} is stretched in forming{copies}, so its cut begins where the edge grows by {} %",
                Digits(found.value * 100.0, 1)
            ),
            "stretch from which a nick in the edge matters: common practice, no source",
        )
        .broken_by(Measured::share(found.value, Sense::AtMost, STRETCH_TO_MIND))
        .remedy("file the place where the cut begins smooth before forming: a nick there starts a crack"),
    };
    Finding { place: found.place.clone(), ..finding }
}

/// That a test piece found no room.
pub(crate) fn test_piece_room(name: &str, place: &Place) -> Finding {
    let message = format!(
        "there is no room left for the test piece `{name}` on the sheets that the parts use"
    );
    let remedy = "cut it from other stock of the same sheet, or give a remnant as a further sheet";
    Finding::new(Rule::TestPieceRoom, Grade::Over, message, "the nest").remedy(remedy).at(place)
}
