//! Figures found in two ways.

use crate::finding::{Finding, Grade, Rule};
use crate::part::Part;

/// That two ways of finding the same metal contradict each other, and what is left out therefore.
pub(crate) fn figures_differ(part: &Part, message: &str) -> Finding {
    let finding =
        Finding::new(Rule::FiguresAgree, Grade::Over, message, "the same metal, found in two ways");
    finding.remedy("tell the makers of this program, with the description").at(&part.place)
}
