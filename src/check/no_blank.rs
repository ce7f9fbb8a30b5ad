//! What is said of a half-shell without a blank.

use crate::flat::{Finding, flatten};
use crate::part::{HalfShell, Kind, Part};
use crate::problem::Problem;
use crate::units::Length;

/// Halvings between a depth that has a blank and one that has none.
const HALVINGS: usize = 3;

/// The finding of a part whose walls have no blank for the reason of `problem`, with a depth that has one where there is such: each is tried.
pub(crate) fn no_blank(part: &Part, shell: &HalfShell, mut problem: Problem) -> Finding {
    let deepest = shell.depths().1.mm();
    let (mut works, mut fails) = (None, 1.0);
    let mut share = 0.5;
    for _ in 0..HALVINGS {
        let shallower = HalfShell { depth: shell.depth.scaled(share), ..shell.clone() };
        if flatten(&Part { kind: Kind::HalfShell(Box::new(shallower)), ..part.clone() }).is_ok() {
            works = Some(share);
        } else {
            fails = share;
        }
        share = f64::midpoint(works.unwrap_or(0.0), fails);
    }
    if let Some(share) = works {
        let depth = part.unit.show(Length::from_mm((share * deepest * 10.0).floor() / 10.0));
        let what = if shell.depth.places().len() == 1 { "a depth of" } else { "all its depths lowered alike, the greatest to" };
        problem.help = format!("{}: {what} {depth} has a blank, by a solve of its own", problem.help);
    }
    let source = "forming solve of the sheet's law, and plane geometry of what it lays flat".to_owned();
    Finding { problem, limit: 0.0, value: 1.0, ok: false, source }
}
