//! Random jobs of every sort, each layout measured anew.

use crate::support::dice::Stream;
use crate::support::layout_check::check;
use planish::nest::{Clearance, Effort, Piece, Shape, Stock, Turns, Unwatched, nest};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// A star-shaped outline about (x, y): never crosses itself.
fn star(s: &mut Stream, x: f64, y: f64, least: f64, most: f64) -> Vec<[f64; 2]> {
    let n = 3 + s.below(9);
    (0..n)
        .map(|i| {
            let a = TAU * (i as f64 + s.within(-0.3, 0.3)) / n as f64;
            let r = s.within(least, most);
            [x + r * a.cos(), y + r * a.sin()]
        })
        .collect()
}

fn shape(s: &mut Stream) -> Shape {
    let size = s.within(5.0, 40.0);
    match s.below(5) {
        0 => Shape::rectangle(size, s.within(3.0, 60.0)),
        1 => {
            let (l, w, a, b) = (size + 10.0, size + 5.0, s.within(2.0, 8.0), s.within(2.0, 5.0));
            Shape {
                outer: vec![[0.0, 0.0], [l, 0.0], [l, b], [a, b], [a, w], [0.0, w]],
                openings: vec![],
            }
        }
        2 => {
            let outer = star(s, 100.0, -50.0, size, 1.3 * size);
            let opening = star(s, 100.0, -50.0, 0.1 * size, 0.4 * size);
            // Keep the opening only where the outline is surely clear of it: a triangle's sides
            // come close to its middle.
            let openings = if outer.len() >= 6 { vec![opening] } else { vec![] };
            Shape { outer, openings }
        }
        3 => Shape {
            outer: star(s, 0.0, 0.0, 0.3 * size, size).into_iter().rev().collect(),
            openings: vec![],
        },
        _ => Shape { outer: star(s, 17.0 * size, 3.0, 0.8 * size, size), openings: vec![] },
    }
}

fn job(s: &mut Stream) -> (Vec<Piece>, Vec<Stock>, Clearance) {
    let mut pieces = Vec::new();
    for _ in 0..=s.below(4) {
        let turns = match s.below(5) {
            0 => Turns::Any,
            1 => Turns::List(vec![0.0, PI]),
            2 => Turns::List(vec![FRAC_PI_2, 3.0 * FRAC_PI_2]),
            3 => Turns::List((0..4).map(|q| f64::from(q) * FRAC_PI_2).collect()),
            _ => Turns::List(vec![s.within(-4.0, 4.0)]),
        };
        let tolerance = if s.below(6) == 0 { s.within(0.0, 0.2) } else { 0.0 };
        let piece = Piece { shape: shape(s), quantity: s.below(6), turns, tolerance };
        if s.below(3) == 0 {
            pieces.push(Piece { shape: piece.shape.other_hand(), ..piece.clone() });
        }
        pieces.push(piece);
    }
    let mut stock = Vec::new();
    for _ in 0..=s.below(3) {
        let mut sheet = Shape::rectangle(s.within(50.0, 300.0), s.within(40.0, 150.0));
        let remnant = s.below(2) == 0;
        if remnant {
            sheet.outer = star(s, -200.0, 30.0, 50.0, 120.0);
            if sheet.outer.len() >= 7 && s.below(2) == 0 {
                sheet.openings.push(star(s, -200.0, 30.0, 5.0, 20.0));
            }
        }
        let price = if s.below(3) == 0 { Some(s.within(1.0, 9.0)) } else { None };
        stock.push(Stock::Sheet { shape: sheet, count: s.below(3), price, remnant });
    }
    if s.below(3) == 0 {
        stock.push(Stock::Roll { width: s.within(30.0, 150.0) });
    }
    let between = if s.below(3) == 0 { 0.0 } else { s.within(0.0, 6.0) };
    let edge = if s.below(3) == 0 { 0.0 } else { s.within(0.0, 8.0) };
    (pieces, stock, Clearance { between, edge })
}

#[test]
fn random_jobs_keep_every_promise() {
    let mut placed = 0;
    for seed in 0..2000 {
        let mut s = Stream::new(seed);
        let (pieces, stock, clearance) = job(&mut s);
        // Mostly the filling and the start of the search; in every tenth job the search has its
        // time.
        let poses = if seed % 10 == 0 { 60_000 } else { 1500 };
        let effort = Effort { seed, poses: Some(poses), workers: 1 + s.below(2) };
        match nest(&pieces, &stock, &clearance, &effort, &mut Unwatched) {
            Ok(layout) => {
                check(&pieces, &stock, &clearance, &layout);
                placed += layout.sheets.iter().map(|s| s.placements.len()).sum::<usize>();
            }
            Err(e) => panic!("job {seed}: {e}"),
        }
    }
    assert!(placed > 10_000, "only {placed} parts placed in all");
}
