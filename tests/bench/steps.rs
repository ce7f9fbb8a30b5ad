//! How long the steps of a part take: `cargo bench --bench steps`. Nesting has a bench of its own, against quality.
#![allow(missing_docs, reason = "the macros of the bench library make functions without any")]

#[path = "../support/parts.rs"]
mod parts;

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use planish::drawing::blank_drawing;
use planish::make::{Wanted, make_part, part_files};
use planish::write::{DxfOptions, dxf};

const BRACKET: &str = "part: bracket\nunits: mm\nmaterial: 304\nthickness: 2.5\nbent:\n  radius: 3.2\n  section:\n    - leg: 62\n    - bend: 90\n    - {leg: 80, openings: [{slot: {length: 22, width: 8.5, at: [40, 30]}}]}\n    - {bend: -45, radius: 5}\n    - leg: 38\n  depth: 60\n";

const SHELL: &str = "part: rail\nunits: mm\nmaterial: 4130-annealed\nthickness: 1.8\nhalf_shell:\n  profile:\n    path:\n      - [0, 0]\n      - {to: [300, 0], arc: -900}\n      - {to: [760, -30], round: 60}\n      - {to: [780, 60], edge: tail, round: 40}\n      - {through: [[500, 110], [250, 125], [0, 120]]}\n      - {to: [0, 0], edge: head}\n  depth: 31\n  edge_radius: 4.5\n  trim: 6\n  open_edges: [head]\n  openings: [{circle: {diameter: 30, at: [120, 60]}, lip: {height: 6, radius: 2}}]\n";

fn part_of_text(text: &str) -> usize {
    make_part(&parts::part(text)).map_or(0, |made| made.flat.outside.vertices.len())
}

fn all_files(text: &str) -> usize {
    let part = parts::part(text);
    let made = make_part(&part).expect("a sound part");
    let files = part_files(&part, &made, Wanted::All, true, DxfOptions::default()).expect("files");
    files.iter().map(|file| file.bytes.len()).sum()
}

fn benches(criterion: &mut Criterion) {
    criterion.bench_function("bracket: text to flat", |b| b.iter(|| part_of_text(black_box(BRACKET))));
    criterion.bench_function("shell: text to flat and buck", |b| b.iter(|| part_of_text(black_box(SHELL))));
    let part = parts::part(SHELL);
    let made = parts::made(SHELL);
    criterion.bench_function("shell: blank as DXF", |b| {
        b.iter(|| dxf(&blank_drawing(&part, &made.flat, made.stations(), false), DxfOptions::default()).expect("a drawing"));
    });
    criterion.bench_function("both: text to every file, both hands", |b| {
        b.iter(|| all_files(black_box(BRACKET)) + all_files(black_box(SHELL)));
    });
}

criterion_group! { name = all; config = Criterion::default().sample_size(20).measurement_time(std::time::Duration::from_secs(3)).warm_up_time(std::time::Duration::from_secs(1)); targets = benches }
criterion_main!(all);
