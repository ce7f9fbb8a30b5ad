//! Brake practice and the order of bends: what is returned is looked at again by other means, and
//! what cannot be made is refused.

mod brakes;
mod orders;
mod sections;

use planish::bending::{Bending, Order, Step};
use planish::finding::{Finding, Rule};
use planish::make::MadePart;

fn bending(made: &MadePart) -> &Bending {
    made.bending.as_ref().expect("a part with bends")
}

#[track_caller]
fn steps(made: &MadePart) -> &[Step] {
    match &bending(made).order {
        Order::Found(steps) => steps,
        other => panic!("no order: {other:?}"),
    }
}

/// The names of the faces that each step turns, in order.
#[track_caller]
fn order_of(made: &MadePart) -> Vec<String> {
    let tree = made.flat.tree.as_ref().expect("bends");
    let names = |step: &Step| {
        let bends = bending(made).strokes[step.stroke].bends.iter();
        bends
            .map(|bend| tree.faces[tree.bends[*bend].child].name.clone())
            .collect::<Vec<_>>()
            .join("+")
    };
    steps(made).iter().map(names).collect()
}

fn findings(made: &MadePart, rule: Rule) -> Vec<&Finding> {
    made.findings.iter().filter(|finding| finding.rule == rule).collect()
}
