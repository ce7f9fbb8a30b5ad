//! What is said of a half-shell without a blank.

use crate::finding::{Finding, Grade, Rule};
use crate::flat::flatten;
use crate::part::{HalfShell, Kind, Part};
use crate::problem::Problem;
use crate::units::Length;

/// Halvings between a size that has a blank and one that has none.
const HALVINGS: usize = 3;

/// The greatest size, of those tried by halvings between nothing and `own`, at which the shell that
/// `sized` makes of it has a blank, mm; with its own it has none.
fn greatest_with_a_blank(part: &Part, own: f64, sized: impl Fn(f64) -> HalfShell) -> Option<f64> {
    let (mut works, mut fails) = (None, own);
    for _ in 0..HALVINGS {
        // To a tenth of a millimetre, so that what is named is what was tried.
        let size = (f64::midpoint(works.unwrap_or(0.0), fails) * 10.0).round() / 10.0;
        if flatten(&Part { kind: Kind::HalfShell(Box::new(sized(size))), ..part.clone() }).is_ok() {
            works = Some(size);
        } else {
            fails = size;
        }
    }
    works
}

/// The greatest crown, of those tried, with which a shell has a blank that has none with its own.
pub(crate) fn crown_with_a_blank(part: &Part, shell: &HalfShell) -> Option<Length> {
    let lower = |crown: f64| HalfShell { crown: Length::from_mm(crown), ..shell.clone() };
    greatest_with_a_blank(part, shell.crown.mm(), lower).map(Length::from_mm)
}

/// The finding of a part whose walls have no blank for the reason of `problem`, with a depth that
/// has one where there is such: each is tried.
pub(crate) fn no_blank(part: &Part, shell: &HalfShell, problem: Problem) -> Finding {
    let Problem { message, mut help, place, .. } = problem;
    let deepest = shell.depths().1.mm();
    let shallower =
        |depth: f64| HalfShell { depth: shell.depth.scaled(depth / deepest), ..shell.clone() };
    let works = greatest_with_a_blank(part, deepest, shallower);
    if let Some(depth) = works {
        let depth = part.unit.show(Length::from_mm(depth));
        let what = if shell.depth.places().len() == 1 {
            "a depth of"
        } else {
            "all its depths lowered alike, the greatest to"
        };
        help = format!("{help}: {what} {depth} has a blank, by a solve of its own");
    }
    let source = "forming solve of the sheet's law, and plane geometry of what it lays flat";
    Finding { place, ..Finding::new(Rule::NoBlank, Grade::Over, message, source).remedy(help) }
}
