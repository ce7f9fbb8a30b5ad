//! What the cutting of a sheet has against it.

use std::collections::BTreeMap;

use crate::cutting::{Cut, CutPlan, LeadRoom, Torch};
use crate::flat::Finding;
use crate::part::Job;
use crate::problem::{Code, Place, Problem};
use crate::report::{FindingResult, finding_result};
use crate::tolerance::STRETCH_TO_MIND;
use crate::units::{Digits, Length};

/// What was found of one edge of a part, and on how many copies.
struct Found {
    place: Option<Place>,
    copies: usize,
    value: f64,
}

/// The findings of a sheet's cuts; `of` gives for each blank on it its part's name and place.
pub(super) fn cutting_findings(
    job: &Job,
    sheet: &str,
    of: &[(String, Option<Place>)],
    plan: &CutPlan,
    torch: Torch,
) -> Vec<FindingResult> {
    let mut found: BTreeMap<(Code, &str, usize), Found> = BTreeMap::new();
    let mut note = |code: Code, blank: usize, edge: usize, value: f64| {
        let (part, place) = &of[blank];
        let entry = found.entry((code, part, edge)).or_insert_with(|| Found { place: place.clone(), copies: 0, value });
        entry.copies += 1;
        entry.value = entry.value.max(value);
    };
    for cut in &plan.cuts {
        if cut.too_narrow {
            note(Code::NarrowerThanKerf, cut.blank, cut.edge, narrowest(cut));
        } else if job.compensate {
            if cut.room == LeadRoom::None {
                note(Code::NoLeadIn, cut.blank, cut.edge, 0.0);
            }
            if cut.stretch_at_start > STRETCH_TO_MIND {
                note(Code::StartOnStretchedEdge, cut.blank, cut.edge, cut.stretch_at_start);
            }
        }
    }
    for (blank, edge, _) in &plan.bridged {
        note(Code::KerfBridges, *blank, *edge, 0.0);
    }
    for (blank, edge, length) in &plan.coinciding {
        note(Code::CutsCoincide, *blank, *edge, *length);
    }
    found
        .into_iter()
        .map(|((code, part, edge), found)| FindingResult {
            sheet: Some(sheet.to_owned()),
            ..finding_result(part, &finding(job, code, edge, found, torch))
        })
        .collect()
}

/// The lesser side of the box around a cut, mm.
fn narrowest(cut: &Cut) -> f64 {
    let bounds = cut.path.bounds();
    bounds.width().min(bounds.height())
}

fn finding(job: &Job, code: Code, edge: usize, found: Found, torch: Torch) -> Finding {
    let mm = |mm: f64| job.unit.show(Length::from_mm(mm));
    let what = if edge == 0 { "the outer cut".to_owned() } else { format!("opening {edge}") };
    let copies = if found.copies > 1 { format!(" (on {} copies)", found.copies) } else { String::new() };
    let kerf = mm(torch.kerf);
    let (message, help, limit) = match code {
        Code::NarrowerThanKerf => {
            let instead = if job.compensate {
                "it is scribed on the sheet instead of cut"
            } else {
                "an offset torch would skip or spoil it"
            };
            (
                format!("{what} is narrower than the kerf of {kerf}, so the torch cannot follow it{copies}; {instead}"),
                "drill, mill or file it after cutting, or widen it".to_owned(),
                torch.kerf,
            )
        }
        Code::KerfBridges => (
            format!(
                "{what} has a waist, notch or corner narrower than the kerf of {kerf}, which the torch cannot follow{copies}"
            ),
            "open it with a saw or a file after cutting, or widen it".to_owned(),
            torch.kerf,
        ),
        Code::NoLeadIn => (
            format!(
                "there is no room for a lead-in to {what}{copies}: the torch pierces on the line itself and leaves a notch there"
            ),
            "give more spacing, a larger opening, or start with a drilled hole and dress the place".to_owned(),
            torch.lead_length(),
        ),
        Code::CutsCoincide => (
            format!(
                "caution: {what} runs for {} along the cut of a neighbour{copies}: the second time the torch has metal on one side only, \
                 the edge comes out bevelled or the arc goes out",
                mm(found.value)
            ),
            format!("give a spacing of at least the kerf of {kerf}"),
            0.0,
        ),
        _ => (
            format!(
                "caution: all of {what} is stretched in forming{copies}, so its cut begins where the edge grows by {} %",
                Digits(found.value * 100.0, 1)
            ),
            "file the place where the cut begins smooth before forming: a nick there starts a crack".to_owned(),
            STRETCH_TO_MIND,
        ),
    };
    let problem = Problem::new(code, message, help);
    Finding {
        problem: match found.place {
            Some(place) => problem.at(place),
            None => problem,
        },
        limit,
        value: found.value,
        ok: matches!(code, Code::StartOnStretchedEdge | Code::CutsCoincide),
        source: "geometry of the torch's path; size of crater and lead-in: common practice, no source".to_owned(),
    }
}
