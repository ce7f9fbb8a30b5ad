//! What the cutting of a sheet has against it.

use std::collections::BTreeMap;

use super::openings::narrowest;
use crate::cutting::{CutPlan, LeadRoom, Torch};
use crate::finding::{Finding, Grade, JobFinding, Measured, Rule, Sense};
use crate::part::Job;
use crate::problem::Place;
use crate::tolerance::STRETCH_TO_MIND;
use crate::units::{Digits, Length};

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
            note(Rule::CutWidth, cut.blank, cut.edge, narrowest(&cut.path));
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
    let (grade, message, remedy) = match rule {
        Rule::CutWidth => {
            let instead = if job.compensate {
                "it is scribed on the sheet instead of cut"
            } else {
                "an offset torch would skip or spoil it"
            };
            (
                Grade::Over,
                format!("{what} is narrower than the kerf of {kerf}, so the torch cannot follow it{copies}; {instead}"),
                "drill, mill or file it after cutting, or widen it".to_owned(),
            )
        }
        Rule::WaistWidth => (
            Grade::Over,
            format!(
                "{what} has a waist, notch or corner narrower than the kerf of {kerf}, which the torch cannot follow{copies}"
            ),
            "open it with a saw or a file after cutting, or widen it".to_owned(),
        ),
        Rule::LeadInRoom => (
            Grade::Over,
            format!(
                "there is no room for a lead-in to {what}{copies}: the torch pierces on the line itself and leaves a notch there"
            ),
            "give more spacing, a larger opening, or start with a drilled hole and dress the place".to_owned(),
        ),
        Rule::SharedCut => (
            Grade::Care,
            format!(
                "{what} runs for {} along the cut of a neighbour{copies}: the second time the torch has metal on one side only, \
                 the edge comes out bevelled or the arc goes out",
                mm(found.value)
            ),
            format!("give a spacing of at least the kerf of {kerf}"),
        ),
        _ => (
            Grade::Care,
            format!(
                "all of {what} is stretched in forming{copies}, so its cut begins where the edge grows by {} %",
                Digits(found.value * 100.0, 1)
            ),
            "file the place where the cut begins smooth before forming: a nick there starts a crack".to_owned(),
        ),
    };
    let length = Length::from_mm;
    let measured = match rule {
        Rule::CutWidth => {
            Some(Measured::length(length(found.value), Sense::AtLeast, length(torch.kerf)))
        }
        Rule::CutStart => Some(Measured::share(found.value, Sense::AtMost, STRETCH_TO_MIND)),
        Rule::SharedCut => Some(Measured::length(length(found.value), Sense::AtMost, Length::ZERO)),
        _ => None,
    };
    let source = match rule {
        Rule::CutStart => {
            "stretch from which a nick in the edge matters: common practice, no source"
        }
        _ => "geometry of the torch's path; size of crater and lead-in: common practice, no source",
    };
    let finding = Finding::new(rule, grade, message, source).remedy(remedy);
    let finding = Finding { place: found.place.clone(), ..finding };
    match measured {
        Some(measured) => finding.broken_by(measured),
        None => finding,
    }
}

/// That a test piece found no room.
pub(crate) fn test_piece_room(name: &str, place: &Place) -> Finding {
    let message = format!(
        "there is no room left for the test piece `{name}` on the sheets that the parts use"
    );
    let remedy = "cut it from other stock of the same sheet, or give a remnant as a further sheet";
    Finding::new(Rule::TestPieceRoom, Grade::Over, message, "the nest").remedy(remedy).at(place)
}
