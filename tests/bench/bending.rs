//! How long the search for a bend order takes as bends are added: `cargo bench --bench bending`.
#![allow(missing_docs, reason = "the macros of the bench library make functions without any")]
#![allow(clippy::print_stdout, reason = "what the search comes to is part of what is measured")]

#[path = "../it/support/mod.rs"]
#[allow(dead_code, reason = "each bench uses some of this")]
mod support;

use std::fmt::Write as _;
use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use indoc::indoc;
use planish::bending::{Order, plan_bending};
use support::{parts, trays};

/// A corrugated section of that many bends: up, down, down, up and so on, which is turned over.
fn corrugated(bends: usize) -> String {
    let mut text = String::from(indoc!(
        "
        part: sheet
        units: mm
        material: 1020
        thickness: 1
        bent:
          radius: 2
          depth: 200
          section:
            - leg: 40
        "
    ));
    for i in 0..bends {
        let angle = if i % 4 == 0 || i % 4 == 3 { 60 } else { -60 };
        let leg = if i % 2 == 0 { 35 } else { 60 };
        write!(text, "    - bend: {angle}\n    - leg: {leg}\n").expect("a string takes all");
    }
    text
}

/// A box with walls, returns, and lips on the returns, as many as make up that many bends.
fn tray(bends: usize) -> String {
    let mut text = String::from(indoc!(
        "
        part: box
        units: mm
        material: 1020
        thickness: 1
        folded:
          radius: 2
          panel: {profile: {rectangle: {size: [400, 300]}}}
          flanges:
        "
    ));
    for (i, edge) in ["bottom", "top", "right", "left"].into_iter().enumerate() {
        let own = (0..4).filter(|level| level * 4 + i < bends).count();
        let levels = ["height: 45", "height: 12", "height: 9", "height: 9"];
        let mut flange = format!("edge: {edge}");
        for (level, height) in levels.into_iter().enumerate().take(own) {
            let bend = if level == 2 { -90 } else { 90 };
            write!(flange, ", bend: {bend}, {height}").expect("a string takes all");
            flange += if level + 1 < own { ", flanges: [{edge: outer" } else { "" };
        }
        let close = "}]".repeat(own.saturating_sub(1));
        writeln!(text, "    - {{{flange}{close}}}").expect("a string takes all");
    }
    text
}

fn benches(criterion: &mut Criterion) {
    for (name, made) in [
        ("corrugated", corrugated as fn(usize) -> String),
        ("box", tray),
        ("lugged tray", trays::lugged),
    ] {
        for bends in [4, 8, 12, 16] {
            let part = parts::part(&made(bends));
            let flat = planish::flat::flatten(&part).expect("a blank");
            let order = plan_bending(&part, &flat).map(|bending| match bending.order {
                Order::Found(steps) => format!("{} steps", steps.len()),
                Order::Stuck(strokes) => format!("stuck, {} strokes", strokes.len()),
                Order::NotTried(why) => why,
            });
            println!("{name}, {bends} bends: {}", order.unwrap_or_default());
            criterion.bench_function(&format!("{name}: {bends} bends"), |b| {
                b.iter(|| plan_bending(black_box(&part), black_box(&flat)));
            });
        }
    }
}

criterion_group! { name = all; config = Criterion::default().sample_size(10).measurement_time(std::time::Duration::from_secs(3)).warm_up_time(std::time::Duration::from_secs(1)); targets = benches }
criterion_main!(all);
