//! Tabs and slots across a job: whether what goes into the slots of its parts is made, and often
//! enough.

use std::collections::BTreeMap;

use crate::finding::{Finding, Grade, JobFinding, Measured, Rule, Sense};
use crate::part::{Job, JobPart};
use crate::problem::Place;

/// The slots for the tabs of one edge of one part.
struct Wanted<'a> {
    /// The part with the slots that was met first, and where they stand in it.
    part: &'a JobPart,
    place: &'a Place,
    /// How many edges go into all copies of all such parts.
    count: usize,
}

/// What the parts of a job have against each other's tabs and slots.
#[must_use]
pub fn check_tabs(job: &Job) -> Vec<JobFinding> {
    let mut wanted: BTreeMap<(&str, &str), Wanted> = BTreeMap::new();
    for part in &job.parts {
        let copies = part.quantity + part.mirrored;
        for group in part.part.kind.openings().chunk_by(|a, b| a.place == b.place) {
            let Some(tab) = &group[0].tab else { continue };
            let entry = wanted.entry((&tab.file, &tab.edge)).or_insert(Wanted {
                part,
                place: &group[0].place,
                count: 0,
            });
            entry.count += copies;
        }
    }
    let made = |file: &str| {
        let own = job.parts.iter().filter(|part| part.part.place.source.name == file);
        own.map(|part| part.quantity + part.mirrored).reduce(|a, b| a + b)
    };
    let finding = |((file, edge), wanted): ((&str, &str), Wanted)| {
        let made = made(file);
        let count = wanted.count;
        let measured = Measured::count(made.unwrap_or(0), Sense::AtLeast, count);
        let (message, remedy) = match made {
            None => (
                format!(
                    "the slots here take the tabs on `{edge}` of {file}, which this job does not make"
                ),
                "list that part in the job, unless it is there already",
            ),
            Some(made) if made < count => (
                format!(
                    "the job has slots for `{edge}` of {file} {count} times and makes {made} of that part"
                ),
                "make more of that part, or fewer slots",
            ),
            Some(made) => (
                format!("slots for `{edge}` of {file}: {count}; the job makes {made} of that part"),
                "",
            ),
        };
        let broken = if made.is_none() { Grade::Care } else { Grade::Over };
        let source = "count of tabs and slots over the job";
        let finding = Finding::measured(Rule::TabCount, measured, broken, message, source)
            .remedy(remedy)
            .at(wanted.place);
        JobFinding { part: wanted.part.part.name.clone(), sheet: None, finding }
    };
    wanted.into_iter().map(finding).collect()
}
