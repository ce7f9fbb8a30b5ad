//! How long the steps of a part take: `cargo bench --bench steps`. Nesting has a bench of its own,
//! against quality.
#![allow(missing_docs, reason = "the macros of the bench library make functions without any")]

#[path = "../it/support/mod.rs"]
#[allow(dead_code, reason = "each bench uses some of this")]
mod support;

use std::hint::black_box;
use std::path::Path;

use criterion::{Criterion, criterion_group, criterion_main};
use indoc::{formatdoc, indoc};
use planish::describe::{FileReader, read_job};
use planish::drawing::blank_drawing;
use planish::formats::{DxfOptions, dxf};
use planish::make::{FileOptions, Made, Wanted, lay_out, make_part, part_files};
use planish::nest::Unwatched;
use planish::problem::{Code, Problem};
use support::parts;

const BRACKET: &str = indoc!(
    "
    part: bracket
    units: mm
    material: 304
    thickness: 2.5
    bent:
      radius: 3.2
      section:
        - leg: 62
        - bend: 90
        - {leg: 80, openings: [{slot: {length: 22, width: 8.5, at: [40, 30]}}]}
        - {bend: -45, radius: 5}
        - leg: 38
      depth: 60
    "
);

const SHELL: &str = indoc!(
    "
    part: rail
    units: mm
    material: 4130-annealed
    thickness: 1.8
    half_shell:
      profile:
        path:
          - [0, 0]
          - {to: [300, 0], arc: -900}
          - {to: [760, -30], round: 60}
          - {to: [780, 60], edge: tail, round: 40}
          - {through: [[500, 110], [250, 125], [0, 120]]}
          - {to: [0, 0], edge: head}
      depth: 31
      edge_radius: 4.5
      trim: 6
      open_edges: [head]
      openings: [{circle: {diameter: 30, at: [120, 60]}, lip: {height: 6, radius: 2}}]
    "
);

fn part_of_text(text: &str) -> usize {
    make_part(&parts::part(text)).map_or(0, |made| made.flat.outside.vertices.len())
}

fn all_files(text: &str) -> usize {
    let part = parts::part(text);
    let made = make_part(&part).expect("a sound part");
    let files = part_files(&part, &made, Wanted::All, true, FileOptions::default()).expect("files");
    files.iter().map(|file| file.bytes.len()).sum()
}

/// Reads what the demo job names.
struct Shapes;

impl FileReader for Shapes {
    fn read(&self, beside: &str, name: &str) -> Result<Vec<u8>, Problem> {
        std::fs::read(self.full_name(beside, name))
            .map_err(|error| Problem::new(Code::File, error.to_string(), ""))
    }

    fn full_name(&self, beside: &str, name: &str) -> String {
        Path::new(beside).with_file_name(name).display().to_string()
    }
}

/// The demo job from its text to the bytes of every drawing, with so little nesting that it does
/// not count.
fn demo_job() -> usize {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/shapes/slate-wren/job.yaml");
    let mut job = read_job(path, std::fs::read(path).expect("the demo job"), None, &Shapes)
        .expect("a sound job");
    job.tries = Some(1000);
    let made: Vec<_> = job
        .parts
        .iter()
        .map(|part| Made::Part(Box::new(make_part(&part.part).expect("a sound part"))))
        .collect();
    let files = job.parts.iter().zip(&made).flat_map(|(part, made)| {
        let made = made.part().expect("made whole");
        part_files(&part.part, made, Wanted::All, part.mirrored > 0, FileOptions::default())
            .expect("files")
    });
    let sheets = lay_out(&job, &made, DxfOptions::default(), &mut Unwatched).expect("sheets").files;
    files.chain(sheets).map(|file| file.bytes.len()).sum()
}

/// A rail along a curve, some 12,500 triangles, with these keys.
fn rail(keys: &str) -> String {
    formatdoc!(
        "
        part: rail
        units: mm
        material: 4130-normalized
        thickness: 1.6
        half_shell:
          profile: {{centreline: {{through: [[0, 0], [160, 26], [330, 20], [520, -46]], width: 80}}}}
          open_edges: [start, end]
          edge_radius: 5
        {keys}"
    )
}

const LEVEL: &str = "  depth: 24\n";
const TAPERED: &str = "  depth: {stations: [{at: 0, depth: 26}, {at: end, depth: 20}]}\n";
const CROWN: &str = "  crown: 4\n";
const PAIR: &str = "  pair: mirror\n";

fn benches(criterion: &mut Criterion) {
    let rails = [
        ("rail, level", rail(LEVEL)),
        ("rail, level, pair", rail(&[LEVEL, PAIR].concat())),
        ("rail, tapered", rail(TAPERED)),
        ("rail, crowned", rail(&[LEVEL, CROWN].concat())),
        ("rail, crowned and tapered", rail(&[TAPERED, CROWN].concat())),
        ("rail, crowned and tapered, pair", rail(&[TAPERED, CROWN, PAIR].concat())),
    ];
    for (name, text) in &rails {
        criterion.bench_function(name, |bencher| bencher.iter(|| part_of_text(black_box(text))));
    }
    criterion
        .bench_function("bracket: text to flat", |b| b.iter(|| part_of_text(black_box(BRACKET))));
    criterion.bench_function("shell: text to flat and buck", |b| {
        b.iter(|| part_of_text(black_box(SHELL)));
    });
    let part = parts::part(SHELL);
    let made = parts::made(SHELL);
    criterion.bench_function("shell: blank as DXF", |b| {
        b.iter(|| {
            dxf(&blank_drawing(&part, &made.flat, made.stations(), false), DxfOptions::default())
                .expect("a drawing")
        });
    });
    criterion
        .bench_function("demo job: text to every drawing, hardly nested", |b| b.iter(demo_job));
    let rail = include_str!("../../shapes/slate-wren/rail-half.yaml");
    criterion.bench_function("demo rail: text to every file, both hands", |b| {
        b.iter(|| all_files(black_box(rail)));
    });
    criterion.bench_function("both: text to every file, both hands", |b| {
        b.iter(|| all_files(black_box(BRACKET)) + all_files(black_box(SHELL)));
    });
}

criterion_group! { name = all; config = Criterion::default().sample_size(20).measurement_time(std::time::Duration::from_secs(3)).warm_up_time(std::time::Duration::from_secs(1)); targets = benches }
criterion_main!(all);
