//! Templates on paper of parts and jobs.

use super::{Artifact, FileOptions, Made, MadePart};
use crate::drawing::{Template, template_pages, templates_of};
use crate::formats::paper_pdf;
use crate::part::{Job, Part};
use crate::problem::{Checked, Code, Problem};
use crate::report::{caution_words, cautions_of, joined_cautions};
use crate::units::LengthUnit;

/// The name of the file.
pub(super) const TEMPLATES: &str = "templates.pdf";

/// The templates of a part with its blank; for the other hand give the mirrored part.
pub(super) fn whole_templates(part: &Part, made: &MadePart, other_hand: bool) -> Vec<Template> {
    let blank = Some((&made.flat, made.stations()));
    templates_of(part, blank, made.buck.as_ref(), other_hand)
}

/// A document of templates with its index; `title` names the part or the job.
pub(super) fn templates_pdf(
    title: &str,
    take_care: &str,
    templates: &[Template],
    (options, unit): (FileOptions, LengthUnit),
) -> Checked<Vec<u8>> {
    let size = options.print.paper_for(unit);
    let pages = template_pages(title, take_care, templates, size, options.print)
        .map_err(|problem| vec![problem])?;
    paper_pdf(&pages).map_err(|problem| {
        vec![Problem::new(Code::OutOfRange, problem.to_string(), "check the sizes of this part")]
    })
}

/// One document with the templates of all parts of a job, of both hands where both are made.
pub fn job_templates(job: &Job, made: &[Made], options: FileOptions) -> Checked<Artifact> {
    let mut templates = Vec::new();
    let mut cautions = Vec::new();
    for (job_part, made) in job.parts.iter().zip(made) {
        let part = &job_part.part;
        let other_hand = job_part.mirrored > 0;
        let whole = made.part();
        let laid = (whole.map(|made| &made.flat), whole.and_then(|made| made.bending.as_ref()));
        cautions.push(cautions_of(part, laid.0, laid.1, made.findings()));
        match made {
            Made::Part(made) => {
                templates.extend(whole_templates(part, made, false));
                if other_hand {
                    templates.extend(whole_templates(part, &made.other_hand(), true));
                }
            }
            Made::BuckAlone(made) => {
                templates.extend(templates_of(part, None, Some(&made.buck), false));
                if other_hand {
                    let buck = made.buck.other_hand();
                    templates.extend(templates_of(part, None, Some(&buck), true));
                }
            }
        }
    }
    let take_care = format!("Take care: {}.", caution_words(&joined_cautions(cautions)));
    let bytes = templates_pdf(&job.name, &take_care, &templates, (options, job.unit))?;
    Ok(Artifact { name: TEMPLATES.to_owned(), bytes })
}
