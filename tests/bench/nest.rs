//! Density reached on published strip instances against time: `cargo bench --bench nest -- [seconds] [instance…]`,
//! with `seed=N` for another seed and `poses=N` to stop after so many trial poses. Data and papers: tests/data/nesting/SOURCES.md.
#![allow(clippy::print_stdout, missing_docs)]

use planish::nest::{Clearance, Effort, Piece, Progress, Shape, Stock, Turns, Watch, nest};
use std::time::Instant;

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

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    let seconds = args.iter().find_map(|a| a.parse::<f64>().ok()).unwrap_or(10.0);
    let seed = args.iter().find_map(|a| a.strip_prefix("seed=")?.parse().ok()).unwrap_or(1);
    let poses = args.iter().find_map(|a| a.strip_prefix("poses=")?.parse().ok());
    let mut names: Vec<&str> =
        args.iter().map(String::as_str).filter(|a| a.parse::<f64>().is_err() && !a.contains('=')).collect();
    if names.is_empty() {
        names = vec!["swim", "shirts", "albano", "dagli", "fu", "jakobs1", "shapes0", "shapes1", "shapes2"];
    }
    for name in names {
        let path = format!("{}/tests/data/nesting/{name}.json", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).expect("instance");
        let data: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        let number = |v: &serde_json::Value| v.as_f64().expect("number");
        let height = number(&data["height"]);
        let pieces: Vec<Piece> = data["pieces"]
            .as_array()
            .expect("list")
            .iter()
            .map(|p| Piece {
                shape: Shape {
                    outer: p["points"].as_array().expect("list").iter().map(|q| [number(&q[0]), number(&q[1])]).collect(),
                    openings: Vec::new(),
                },
                quantity: usize::try_from(p["quantity"].as_u64().expect("count")).expect("small"),
                turns: Turns::List(p["turns_deg"].as_array().expect("list").iter().map(|a| number(a).to_radians()).collect()),
                tolerance: 0.0,
            })
            .collect();
        let area: f64 = pieces.iter().map(|p| p.shape.area() * p.quantity as f64).sum();
        let mut clock = Clock { start: Instant::now(), seconds, area, height, trace: Vec::new(), poses: 0 };
        let stock = [Stock::Roll { width: height }];
        let effort = Effort { seed, poses, ..Effort::default() };
        let layout = nest(&pieces, &stock, &Clearance::default(), &effort, &mut clock).expect("sound data");
        let t = clock.start.elapsed().as_secs_f64();
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
