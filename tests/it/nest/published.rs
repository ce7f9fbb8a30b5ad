//! Published strip instances (tests/data/nesting/SOURCES.md) as rolls, by a number of trial poses,
//! not by time.

use crate::support::layout_check::check;
use planish::nest::{Clearance, Effort, Piece, Shape, Stock, Turns, Unwatched, nest};

fn instance(name: &str) -> (Vec<Piece>, f64) {
    let path = format!("{}/tests/data/nesting/{name}.json", env!("CARGO_MANIFEST_DIR"));
    let data: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(path).expect("file")).expect("JSON");
    let number = |v: &serde_json::Value| v.as_f64().expect("number");
    let list = |v: &serde_json::Value| v.as_array().expect("list").clone();
    let piece = |p: &serde_json::Value| Piece {
        shape: Shape {
            outer: list(&p["points"]).iter().map(|q| [number(&q[0]), number(&q[1])]).collect(),
            openings: Vec::new(),
        },
        quantity: usize::try_from(p["quantity"].as_u64().expect("count")).expect("small"),
        turns: Turns::List(list(&p["turns_deg"]).iter().map(|a| number(a).to_radians()).collect()),
        tolerance: 0.0,
    };
    (list(&data["pieces"]).iter().map(piece).collect(), number(&data["height"]))
}

fn density(name: &str, poses: u64) -> f64 {
    let (pieces, height) = instance(name);
    let stock = [Stock::Roll { width: height }];
    let effort = Effort { poses: Some(poses), ..Effort::default() };
    let layout =
        nest(&pieces, &stock, &Clearance::default(), &effort, &mut Unwatched).expect("sound data");
    assert!(layout.unplaced.is_empty());
    check(&pieces, &stock, &Clearance::default(), &layout);
    100.0 * layout.used
}

/// Every instance runs, keeps parts apart, and comes in a short run within some two points of what
/// such a run came to when this was written. The best known are far above it (fu some 91 %:
/// Egeblad, Nielsen and Odgaard 2007, from memory).
#[test]
fn every_instance_runs() {
    let least = [
        ("swim", 59.0),
        ("albano", 69.5),
        ("dagli", 73.0),
        ("jakobs1", 73.0),
        ("shapes0", 54.0),
        ("shapes1", 54.0),
        ("shapes2", 65.5),
    ];
    let short =
        least.map(|(name, least)| (name, 15_000, least)).into_iter().chain([("fu", 60_000, 83.5)]);
    let reached = short.map(|(name, poses, least)| (name, density(name, poses), least));
    let low: Vec<_> = reached.filter(|(_, reached, least)| reached < least).collect();
    assert!(low.is_empty(), "instance, density reached and least: {low:?}");
}

/// Long enough to count: `cargo test --release --test it published_densities -- --ignored`. The
/// demands stand one to four points below the best of many runs in Egeblad, Nielsen and Odgaard
/// 2007 (86.3, 87.4, 86.0 and 71.5 %, from memory; swim is held to it), since a run here is about a
/// tenth as long.
#[test]
#[ignore = "about a minute in release"]
fn published_densities_are_reached() {
    for (name, least) in [("shirts", 85.0), ("albano", 84.0), ("dagli", 82.0), ("swim", 71.5)] {
        let reached = density(name, 8_000_000);
        assert!(reached > least, "{name}: {reached}");
    }
}
