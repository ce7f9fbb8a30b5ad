//! Density reached on published instances against time:
//! `cargo bench --bench nest -- [seconds] [instance…]`, with `seed=N` for another seed and
//! `poses=N` to stop after so many trial poses. `cargo bench --bench nest -- counts` instead prints
//! time and memory for 10, 100 and 1,000 parts, and for the first filling of 10,000. Every layout
//! is measured anew by the tests' own check with the library `geo`. Data and papers:
//! tests/data/nesting/SOURCES.md.
#![allow(clippy::print_stdout, missing_docs)]

#[path = "../it/support/mod.rs"]
#[allow(dead_code, reason = "each bench uses some of this")]
mod support;

use planish::nest::{Clearance, Effort, Piece, Progress, Shape, Stock, Turns, Watch, nest};
use std::time::Instant;
use support::layout_check::check;
use support::memory::most_memory;

struct Clock {
    start: Instant,
    seconds: f64,
    area: f64,
    height: f64,
    trace: Vec<(f64, f64)>,
    poses: u64,
}

impl Watch for Clock {
    fn keep_going(&mut self, progress: &Progress) -> bool {
        let t = self.start.elapsed().as_secs_f64();
        if let Some(length) = progress.roll_length {
            let density = 100.0 * self.area / (length * self.height);
            if self.trace.last().is_none_or(|l| l.1 < density - 1e-9) {
                self.trace.push((t, density));
            }
        }
        self.poses = progress.poses_tried;
        t < self.seconds
    }

    fn spent(&self) -> Option<f64> {
        Some(self.start.elapsed().as_secs_f64() / self.seconds)
    }
}

struct Instance {
    pieces: Vec<Piece>,
    stock: Vec<Stock>,
    /// Of the roll; none for sheets.
    height: Option<f64>,
}

fn number(v: &serde_json::Value) -> f64 {
    v.as_f64().expect("number")
}

fn points(v: &serde_json::Value) -> Vec<[f64; 2]> {
    v.as_array().expect("list").iter().map(|q| [number(&q[0]), number(&q[1])]).collect()
}

fn instance(name: &str) -> Instance {
    let path = format!("{}/tests/data/nesting/{name}.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).expect("instance");
    let data: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let list = |v: &serde_json::Value| v.as_array().cloned().unwrap_or_default();
    let turns = |p: &serde_json::Value| match p["turns_deg"].as_array() {
        Some(angles) => Turns::List(angles.iter().map(|a| number(a).to_radians()).collect()),
        None => Turns::Any,
    };
    let piece = |p: &serde_json::Value| Piece {
        shape: Shape { outer: points(&p["points"]), openings: Vec::new() },
        quantity: usize::try_from(p["quantity"].as_u64().expect("count")).expect("small"),
        turns: turns(p),
        tolerance: 0.0,
    };
    let sheet = |s: &serde_json::Value| Stock::Sheet {
        shape: Shape {
            outer: points(&s["outer"]),
            openings: list(&s["openings"]).iter().map(points).collect(),
        },
        count: 1,
        price: None,
        remnant: false,
    };
    let height = data["height"].as_f64();
    let stock = height.map_or_else(
        || list(&data["sheets"]).iter().map(sheet).collect(),
        |width| vec![Stock::Roll { width }],
    );
    Instance { pieces: list(&data["pieces"]).iter().map(piece).collect(), stock, height }
}

fn area(pieces: &[Piece]) -> f64 {
    pieces.iter().map(|p| p.shape.area() * p.quantity as f64).sum()
}

/// The swimwear's pieces over and over on sheets as high as their roll and twice as long: time to
/// the first whole layout, and to the end of 10,000 poses for each part.
fn counts() {
    // Of the last the first filling alone, which no limit ends.
    for (count, poses_each) in [(10_usize, 10_000), (100, 10_000), (1000, 10_000), (10_000, 0)] {
        let mut pieces = instance("swim").pieces;
        let kinds = pieces.len();
        for (k, piece) in pieces.iter_mut().enumerate() {
            piece.quantity = count / kinds + usize::from(k < count % kinds);
        }
        let stock = [Stock::Sheet {
            shape: Shape::rectangle(11_504.0, 5752.0),
            count: count / 20 + 1,
            price: None,
            remnant: false,
        }];
        let effort = Effort {
            seed: 1,
            poses: Some((poses_each * count as u64).max(1)),
            ..Effort::default()
        };
        let mut clock = Clock {
            start: Instant::now(),
            seconds: f64::INFINITY,
            area: 0.0,
            height: 1.0,
            trace: Vec::new(),
            poses: 0,
        };
        let layout =
            nest(&pieces, &stock, &Clearance::default(), &effort, &mut clock).expect("sound data");
        let (t, megabytes) = (clock.start.elapsed().as_secs_f64(), most_memory());
        check(&pieces, &stock, &Clearance::default(), &layout);
        println!(
            "{count:6} parts: {t:.2} s, {} sheets, {:.1} % used, {} left over, {megabytes} MB",
            layout.sheets.len(),
            100.0 * layout.used,
            layout.unplaced.len(),
        );
    }
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    if args.iter().any(|a| a == "counts") {
        return counts();
    }
    let seconds = args.iter().find_map(|a| a.parse::<f64>().ok()).unwrap_or(10.0);
    let seed = args.iter().find_map(|a| a.strip_prefix("seed=")?.parse().ok()).unwrap_or(1);
    let poses = args.iter().find_map(|a| a.strip_prefix("poses=")?.parse().ok());
    let mut names: Vec<&str> = args
        .iter()
        .map(String::as_str)
        .filter(|a| a.parse::<f64>().is_err() && !a.contains('='))
        .collect();
    if names.is_empty() {
        names = vec![
            "swim", "shirts", "albano", "dagli", "fu", "jakobs1", "shapes0", "shapes1", "shapes2",
        ];
    }
    for name in names {
        let Instance { pieces, stock, height } = instance(name);
        let (area, height) = (area(&pieces), height.unwrap_or(f64::INFINITY));
        let mut clock =
            Clock { start: Instant::now(), seconds, area, height, trace: Vec::new(), poses: 0 };
        let effort = Effort { seed, poses, ..Effort::default() };
        let layout =
            nest(&pieces, &stock, &Clearance::default(), &effort, &mut clock).expect("sound data");
        let t = clock.start.elapsed().as_secs_f64();
        check(&pieces, &stock, &Clearance::default(), &layout);
        if height.is_infinite() {
            let (sheets, left) = (layout.sheets.len(), layout.unplaced.len());
            println!(
                "{name:8} {sheets} sheets, {:6.2} % of them used, {left} left over, in {t:5.1} s",
                100.0 * layout.used
            );
            continue;
        }
        let at = |s: f64| clock.trace.iter().take_while(|e| e.0 <= s).last().map_or(0.0, |e| e.1);
        println!(
            "{name:8} {:6.2} % in {t:5.1} s  first {:5.2}  1 s {:5.2}  3 s {:5.2}  10 s {:5.2}  30 s {:5.2}  {:.2} M poses/s",
            100.0 * layout.used,
            clock.trace.first().map_or(0.0, |e| e.1),
            at(1.0),
            at(3.0),
            at(10.0),
            at(30.0),
            clock.poses as f64 / 1e6 / t,
        );
    }
}
