//! Brake practice and the order of bends: what is returned is looked at again by other means, and what cannot be made is refused.

mod brakes;
mod orders;
mod sections;

use std::sync::Arc;

use crate::support::parts::{NoFiles, part};
use planish::bending::{Bending, Order, Step};
use planish::describe::{read_part, read_shop};
use planish::flat::Finding;
use planish::make::{MadePart, make_part};
use planish::part::Part;
use planish::problem::Code;

/// A part made with that shop.
fn made_in(shop: &str, yaml: &str) -> (Part, MadePart) {
    let shop = read_shop("shop.yaml", format!("units: mm\n{shop}").into_bytes(), &NoFiles)
        .unwrap_or_else(|problems| panic!("{problems:?}\n{shop}"));
    let part = read_part("part.yaml", yaml.as_bytes().to_vec(), Some(&Arc::new(shop)), &NoFiles)
        .unwrap_or_else(|problems| panic!("{problems:?}\n{yaml}"));
    let made = make_part(&part).unwrap_or_else(|problems| panic!("{problems:?}\n{yaml}"));
    (part, made)
}

/// A part made with no shop file.
fn made(yaml: &str) -> (Part, MadePart) {
    let part = part(yaml);
    let made = make_part(&part).unwrap_or_else(|problems| panic!("{problems:?}\n{yaml}"));
    (part, made)
}

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
        bends.map(|bend| tree.faces[tree.bends[*bend].child].name.clone()).collect::<Vec<_>>().join("+")
    };
    steps(made).iter().map(names).collect()
}

fn findings(made: &MadePart, code: Code) -> Vec<&Finding> {
    made.findings.iter().filter(|finding| finding.problem.code == code).collect()
}
