//! Jobs with known answers, and bad ones.

use crate::support::layout_check::check;
use planish::nest::{
    Clearance, Doing, Effort, Fault, Layout, Piece, Progress, Refused, Shape, Stock, Turns,
    Unwatched, Watch, Why, nest,
};
use std::f64::consts::{FRAC_PI_2, PI};

fn piece(shape: Shape, quantity: usize, turns: Turns) -> Piece {
    Piece { shape, quantity, turns, tolerance: 0.0 }
}

fn as_drawn() -> Turns {
    Turns::List(vec![0.0])
}

fn quarter_turns() -> Turns {
    Turns::List((0..4).map(|q| f64::from(q) * FRAC_PI_2).collect())
}

fn sheet(length: f64, width: f64, count: usize) -> Stock {
    Stock::Sheet { shape: Shape::rectangle(length, width), count, price: None, remnant: false }
}

fn run(pieces: &[Piece], stock: &[Stock], clearance: Clearance, poses: u64) -> Layout {
    let effort = Effort { poses: Some(poses), ..Effort::default() };
    let layout = nest(pieces, stock, &clearance, &effort, &mut Unwatched).expect("a sound job");
    check(pieces, stock, &clearance, &layout);
    layout
}

fn regular(sides: u32, radius: f64) -> Vec<[f64; 2]> {
    (0..sides)
        .map(|i| {
            let a = 2.0 * PI * f64::from(i) / f64::from(sides);
            [radius * a.cos(), radius * a.sin()]
        })
        .collect()
}

#[test]
fn a_single_part_returns_at_once() {
    let pieces = [piece(Shape::rectangle(300.0, 100.0), 1, quarter_turns())];
    let layout =
        run(&pieces, &[sheet(2500.0, 1250.0, 4)], Clearance { between: 5.0, edge: 8.0 }, u64::MAX);
    assert_eq!(layout.sheets.len(), 1);
    // Laid across the near end: margin and width, nothing shorter can be.
    assert!((layout.sheets[0].length - 108.0).abs() < 1e-6);
    assert!(layout.poses_tried < 1000, "{} poses", layout.poses_tried);
}

#[test]
fn exact_fits_are_found() {
    // 4 x 3 rectangles with their clearances fill the sheet to the last hundredth.
    let c = Clearance { between: 2.4, edge: 5.0 };
    let (l, w) = (100.0, 50.0);
    let pieces = [piece(Shape::rectangle(l, w), 12, Turns::List(vec![0.0, PI]))];
    let stock = [sheet(
        4.0 * l + 3.0 * c.between + 2.0 * c.edge,
        3.0 * w + 2.0 * c.between + 2.0 * c.edge,
        1,
    )];
    let layout = run(&pieces, &stock, c, 100_000);
    assert!(layout.unplaced.is_empty(), "{:?}", layout.unplaced);
    // At no clearance they touch.
    let stock = [sheet(4.0 * l, 3.0 * w, 1)];
    let layout = run(&pieces, &stock, Clearance::default(), 100_000);
    assert!(layout.unplaced.is_empty());
    assert!((layout.used - 1.0).abs() < 1e-9);
    // A hundredth less, and one row has no room.
    let stock = [sheet(4.0 * l - 0.01, 3.0 * w, 1)];
    let layout = run(&pieces, &stock, Clearance::default(), 20_000);
    assert_eq!(
        layout.unplaced.iter().map(|u| (u.count, u.why)).collect::<Vec<_>>(),
        [(3, Why::NoRoom)]
    );
}

#[test]
fn small_parts_go_into_openings() {
    let mut ring = Shape::rectangle(200.0, 200.0);
    ring.openings.push(vec![[20.0, 20.0], [180.0, 20.0], [180.0, 180.0], [20.0, 180.0]]);
    let pieces = [
        piece(ring, 2, as_drawn()),
        piece(Shape { outer: regular(24, 60.0), openings: vec![] }, 2, Turns::Any),
    ];
    let stock = [sheet(404.0, 200.0, 1)];
    let layout = run(&pieces, &stock, Clearance { between: 4.0, edge: 0.0 }, 100_000);
    assert!(layout.unplaced.is_empty(), "{:?}", layout.unplaced);
}

#[test]
fn remnants_come_first_and_the_fewest_sheets() {
    let l_shaped = Shape {
        outer: vec![
            [100.0, 50.0],
            [400.0, 50.0],
            [400.0, 150.0],
            [200.0, 150.0],
            [200.0, 350.0],
            [100.0, 350.0],
        ],
        openings: vec![regular(32, 20.0).iter().map(|p| [p[0] + 150.0, p[1] + 250.0]).collect()],
    };
    let remnant = Stock::Sheet { shape: l_shaped, count: 1, price: None, remnant: true };
    let stock = [sheet(500.0, 300.0, 5), remnant];
    let few = [piece(Shape::rectangle(80.0, 40.0), 4, Turns::List(vec![0.0, FRAC_PI_2]))];
    let layout = run(&few, &stock, Clearance { between: 3.0, edge: 4.0 }, 100_000);
    assert_eq!(
        layout.sheets.iter().map(|s| s.stock).collect::<Vec<_>>(),
        [1],
        "all go on the remnant"
    );
    let many = [piece(Shape::rectangle(80.0, 40.0), 40, Turns::List(vec![0.0, FRAC_PI_2]))];
    let layout = run(&many, &stock, Clearance { between: 3.0, edge: 4.0 }, 300_000);
    assert_eq!(layout.sheets[0].stock, 1);
    // 40 parts, 30 to 36 of which a sheet can hold.
    assert_eq!(
        layout.sheets.len(),
        2,
        "{:?}",
        layout.sheets.iter().map(|s| s.placements.len()).collect::<Vec<_>>()
    );
    assert!(layout.unplaced.is_empty());
}

#[test]
fn the_cheaper_sheet_is_taken() {
    let priced = |l: f64, w: f64, price: f64| Stock::Sheet {
        shape: Shape::rectangle(l, w),
        count: 3,
        price: Some(price),
        remnant: false,
    };
    let pieces = [piece(Shape::rectangle(90.0, 40.0), 5, as_drawn())];
    let stock =
        [priced(2000.0, 1000.0, 100.0), priced(300.0, 200.0, 12.0), priced(250.0, 200.0, 30.0)];
    let layout = run(&pieces, &stock, Clearance { between: 2.0, edge: 2.0 }, 50_000);
    assert_eq!(layout.sheets.iter().map(|s| s.stock).collect::<Vec<_>>(), [1]);
}

#[test]
fn a_sheet_is_saved_where_filling_in_order_needs_one_more() {
    // Bars of 10: largest first, each where it first fits, makes 5+5, 4+4, 3+3+3, 3: four bars
    // (first-fit decreasing, Johnson 1973). The sum is 30, and 5+5, 4+3+3, 4+3+3 fill three bars to
    // the end.
    let lengths = [5.0, 5.0, 4.0, 4.0, 3.0, 3.0, 3.0, 3.0];
    let pieces: Vec<Piece> =
        lengths.iter().map(|l| piece(Shape::rectangle(10.0 * l, 20.0), 1, as_drawn())).collect();
    let layout = run(&pieces, &[sheet(100.0, 20.0, 5)], Clearance::default(), 400_000);
    assert!(layout.unplaced.is_empty());
    assert_eq!(layout.sheets.len(), 3);
}

#[test]
fn parts_that_fit_nowhere_are_named() {
    let pieces = [
        piece(Shape::rectangle(300.0, 20.0), 2, as_drawn()),
        piece(Shape::rectangle(50.0, 20.0), 3, as_drawn()),
        piece(Shape::rectangle(20.0, 190.0), 1, as_drawn()),
        piece(Shape::rectangle(20.0, 190.0), 1, quarter_turns()),
    ];
    let layout =
        run(&pieces, &[sheet(200.0, 100.0, 1)], Clearance { between: 2.0, edge: 3.0 }, 50_000);
    let left: Vec<_> = layout.unplaced.iter().map(|u| (u.piece, u.count, u.why)).collect();
    assert_eq!(left, [(0, 2, Why::TooLarge), (2, 1, Why::TooLarge)]);
    // A diagonal part fits only where it may turn freely: 110 long, sheet 100 x 60.
    let pieces = [piece(Shape::rectangle(110.0, 4.0), 1, Turns::Any)];
    assert!(
        run(&pieces, &[sheet(100.0, 60.0, 1)], Clearance::default(), 200_000).unplaced.is_empty()
    );
}

#[test]
fn clearances_beyond_the_sheet_leave_all_unplaced() {
    let pieces = [piece(Shape::rectangle(30.0, 20.0), 3, as_drawn())];
    let layout =
        run(&pieces, &[sheet(200.0, 100.0, 2)], Clearance { between: 0.0, edge: 60.0 }, 10_000);
    assert_eq!(layout.unplaced[0].why, Why::TooLarge);
    // A spacing larger than the sheet still lets one part lie on each.
    let layout =
        run(&pieces, &[sheet(200.0, 100.0, 2)], Clearance { between: 500.0, edge: 5.0 }, 10_000);
    assert_eq!(layout.sheets.len(), 2);
    assert_eq!(
        layout.unplaced.iter().map(|u| (u.count, u.why)).collect::<Vec<_>>(),
        [(1, Why::NoRoom)]
    );
}

#[test]
fn nothing_to_place_and_nothing_to_place_it_on() {
    let none = [piece(Shape::rectangle(30.0, 20.0), 0, as_drawn())];
    assert_eq!(run(&none, &[sheet(200.0, 100.0, 1)], Clearance::default(), 1000).sheets, []);
    assert_eq!(run(&[], &[], Clearance::default(), 1000).sheets, []);
    let one = [piece(Shape::rectangle(30.0, 20.0), 2, as_drawn())];
    assert_eq!(run(&one, &[], Clearance::default(), 1000).unplaced[0].count, 2);
    assert_eq!(
        run(&one, &[sheet(200.0, 100.0, 0)], Clearance::default(), 1000).unplaced[0].why,
        Why::TooLarge
    );
}

#[test]
fn bad_outlines_are_refused_by_name() {
    let refused = |pieces: &[Piece], stock: &[Stock]| {
        nest(pieces, stock, &Clearance::default(), &Effort::default(), &mut Unwatched)
            .expect_err("a bad job")
    };
    let bow =
        Shape { outer: vec![[0.0, 0.0], [10.0, 10.0], [10.0, 0.0], [0.0, 10.0]], openings: vec![] };
    let good = piece(Shape::rectangle(10.0, 5.0), 1, as_drawn());
    let at = [5.0, 5.0];
    let remnant = Stock::Sheet { shape: bow.clone(), count: 1, price: None, remnant: true };
    assert_eq!(
        refused(std::slice::from_ref(&good), &[sheet(9.0, 9.0, 1), remnant]),
        Refused::Stock { index: 1, fault: Fault::CrossesItself { at } }
    );
    assert_eq!(
        refused(&[good.clone(), piece(bow, 1, as_drawn())], &[sheet(9.0, 9.0, 1)]),
        Refused::Piece { index: 1, fault: Fault::CrossesItself { at } }
    );
    let shape = |outer: &[[f64; 2]]| {
        piece(Shape { outer: outer.to_vec(), openings: vec![] }, 1, as_drawn())
    };
    let fault = |p: Piece| match refused(&[p], &[sheet(9.0, 9.0, 1)]) {
        Refused::Piece { fault, .. } => fault,
        other => panic!("{other}"),
    };
    assert_eq!(fault(shape(&[[0.0, 0.0], [1.0, 0.0], [1.0, f64::NAN]])), Fault::NotFinite);
    assert_eq!(
        fault(shape(&[[0.0, 0.0], [1.0, 0.0], [1.0, 0.0], [0.0, 0.0]])),
        Fault::TooFewPoints
    );
    assert_eq!(fault(shape(&[[0.0, 0.0], [5.0, 0.0], [9.0, 0.0]])), Fault::NoArea);
    let mut outside = Shape::rectangle(10.0, 10.0);
    outside.openings.push(vec![[20.0, 20.0], [25.0, 20.0], [25.0, 25.0]]);
    assert_eq!(fault(piece(outside, 1, as_drawn())), Fault::OpeningOutside { opening: 0 });
    let bad = nest(
        &[good],
        &[],
        &Clearance { between: -1.0, edge: 0.0 },
        &Effort::default(),
        &mut Unwatched,
    );
    assert!(matches!(bad, Err(Refused::BadNumber { .. })));
}

/// Breaks off, or stops, once asked so often.
struct After {
    asked: usize,
    stop: usize,
    break_off: usize,
}

impl Watch for After {
    fn keep_going(&mut self, _: &Progress) -> bool {
        self.asked += 1;
        self.asked <= self.stop
    }

    fn break_off(&mut self) -> bool {
        self.asked >= self.break_off
    }
}

#[test]
fn stopping_hands_over_what_there_is() {
    let pieces = [piece(Shape { outer: regular(7, 30.0), openings: vec![] }, 60, Turns::Any)];
    let stock = [Stock::Roll { width: 300.0 }];
    let clearance = Clearance { between: 2.0, edge: 5.0 };
    let left = |stop: usize, break_off: usize| {
        let mut watch = After { asked: 0, stop, break_off };
        let layout =
            nest(&pieces, &stock, &clearance, &Effort::default(), &mut watch).expect("a sound job");
        check(&pieces, &stock, &clearance, &layout);
        assert!(layout.unplaced.iter().all(|u| u.why == Why::Stopped));
        layout.unplaced.iter().map(|u| u.count).sum::<usize>()
    };
    for at in [0, 1, 20, 59, 60, 61, 70] {
        // The first filling goes on to its end when the search is stopped, not when it is broken
        // off.
        assert_eq!(left(at, usize::MAX), 0, "stopped after {at}");
        assert_eq!(left(at, at), 60usize.saturating_sub(at), "broken off after {at}");
    }
}

#[test]
fn the_same_seed_gives_the_same_layout() {
    let pieces = [
        piece(Shape { outer: regular(5, 30.0), openings: vec![] }, 12, Turns::Any),
        piece(Shape::rectangle(70.0, 25.0), 10, Turns::List(vec![0.0, PI])),
    ];
    let stock = [Stock::Roll { width: 220.0 }];
    let go = |seed| {
        let effort = Effort { seed, poses: Some(30_000), workers: 2 };
        let mut doing = Vec::new();
        let mut watch = |p: &Progress| {
            doing.push((p.doing, p.roll_length));
            true
        };
        let layout =
            nest(&pieces, &stock, &Clearance::default(), &effort, &mut watch).expect("a sound job");
        assert_eq!(doing.last().map(|d| d.0), Some(Doing::ShorteningTheRoll));
        layout
    };
    assert_eq!(go(3), go(3));
    assert_ne!(go(3), go(4));
}

#[test]
fn a_part_within_the_box_of_a_remnant_alone_does_not_use_up_the_stock() {
    // The square fits the triangle's box, not the triangle; the small ones do fit.
    let triangle = Shape { outer: vec![[0.0, 0.0], [100.0, 0.0], [0.0, 100.0]], openings: vec![] };
    let stock = [Stock::Sheet { shape: triangle, count: usize::MAX, price: None, remnant: true }];
    let pieces = [
        piece(Shape::rectangle(60.0, 60.0), 3000, as_drawn()),
        piece(Shape::rectangle(20.0, 20.0), 4, as_drawn()),
    ];
    let layout = run(&pieces, &stock, Clearance { between: 1.0, edge: 1.0 }, 50_000);
    assert_eq!(
        layout.unplaced.iter().map(|u| (u.piece, u.count, u.why)).collect::<Vec<_>>(),
        [(0, 3000, Why::NoRoom)]
    );
    assert_eq!(layout.sheets.len(), 1);
}

#[test]
fn ten_thousand_parts_are_laid() {
    let mut triangle = Shape::rectangle(30.0, 20.0);
    triangle.outer.pop();
    let pieces = [
        piece(Shape::rectangle(40.0, 25.0), 5000, Turns::List(vec![0.0, FRAC_PI_2])),
        piece(triangle, 5000, Turns::List(vec![0.0, PI])),
    ];
    let stock = [sheet(2500.0, 1250.0, 8)];
    let clearance = Clearance { between: 2.0, edge: 5.0 };
    let effort = Effort { poses: Some(12_000_000), ..Effort::default() };
    let layout = nest(&pieces, &stock, &clearance, &effort, &mut Unwatched).expect("a sound job");
    let placed: usize = layout.sheets.iter().map(|s| s.placements.len()).sum();
    assert_eq!(placed, 10_000);
    assert!(layout.sheets.len() <= 4, "{} sheets", layout.sheets.len());
}
