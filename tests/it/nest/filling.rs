//! The first filling: whatever the time or the tries, every part that the stock has room for is
//! laid.

use crate::support::dice::Stream;
use crate::support::layout_check::check;
use planish::nest::{
    Clearance, Effort, Layout, Piece, Progress, Shape, Stock, Turns, Unwatched, Watch, Why, nest,
};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

const CLEARANCE: Clearance = Clearance { between: 5.4, edge: 8.0 };

/// Ends the search at once, as a time that is over does, and notes how many places were tried.
#[derive(Default)]
struct NoTime {
    tried: u64,
}

impl Watch for NoTime {
    fn keep_going(&mut self, progress: &Progress) -> bool {
        self.tried = progress.poses_tried;
        false
    }

    fn spent(&self) -> Option<f64> {
        Some(1.0)
    }
}

fn sheets(count: usize) -> [Stock; 1] {
    [Stock::Sheet { shape: Shape::rectangle(2500.0, 1250.0), count, price: None, remnant: false }]
}

/// So many sheets that half of the stock is scrap.
fn twice_the_room(pieces: &[Piece]) -> [Stock; 1] {
    let count = (1..=100)
        .find(|count| f64::from(*count) * 2500.0 * 1250.0 >= 2.0 * area(pieces))
        .unwrap_or(1_u16);
    sheets(usize::from(count))
}

fn without_time(pieces: &[Piece], stock: &[Stock]) -> Layout {
    let layout = nest(pieces, stock, &CLEARANCE, &Effort::default(), &mut NoTime::default())
        .expect("a sound job");
    check(pieces, stock, &CLEARANCE, &layout);
    layout
}

/// Plates of 20 to 120 mm, no two alike: rectangles, gussets with a corner off, and many-sided ones
/// with an opening.
fn different(count: usize) -> Vec<Piece> {
    let mut s = Stream::new(11);
    (0..count)
        .map(|i| {
            let (l, w) = (s.within(40.0, 120.0), s.within(20.0, 80.0));
            let (shape, turns) = match i % 3 {
                0 => (Shape::rectangle(l, w), Turns::Any),
                1 => {
                    let (a, b) = (s.within(0.2, 0.8) * l, s.within(0.2, 0.8) * w);
                    let outer = vec![[0.0, 0.0], [l, 0.0], [l, w - b], [a, w], [0.0, w]];
                    (
                        Shape { outer, openings: vec![] },
                        Turns::List(vec![0.0, FRAC_PI_2, PI, 3.0 * FRAC_PI_2]),
                    )
                }
                _ => {
                    let ring = |r: f64| {
                        (0..24)
                            .map(|k| f64::from(k) * TAU / 24.0)
                            .map(|a| [r * a.cos(), r * a.sin()])
                            .collect()
                    };
                    (
                        Shape { outer: ring(w / 2.0), openings: vec![ring(w / 5.0)] },
                        Turns::List(vec![0.0]),
                    )
                }
            };
            Piece { shape, quantity: 1, turns, tolerance: 0.0 }
        })
        .collect()
}

fn left(layout: &Layout) -> usize {
    layout.unplaced.iter().map(|u| u.count).sum()
}

fn area(pieces: &[Piece]) -> f64 {
    pieces.iter().map(|p| p.shape.area() * p.quantity as f64).sum()
}

#[test]
fn different_plates_are_all_laid_without_any_time() {
    for count in [300, 1000] {
        let pieces = different(count);
        let stock = twice_the_room(&pieces);
        let layout = without_time(&pieces, &stock);
        assert_eq!(left(&layout), 0, "of {count} plates");
    }
}

#[test]
fn five_hundred_alike_go_on_the_sheet_that_has_room_for_them() {
    // The shoelace sum of one is 2800 mm2, so 500 cover 45 % of the sheet.
    let outer = vec![[0.0, 0.0], [70.0, 0.0], [70.0, 25.0], [35.0, 45.0], [0.0, 45.0]];
    let pieces = [Piece {
        shape: Shape { outer, openings: vec![] },
        quantity: 500,
        turns: Turns::Any,
        tolerance: 0.0,
    }];
    let layout = without_time(&pieces, &sheets(1));
    assert_eq!(left(&layout), 0);
}

#[test]
fn tries_end_the_search_not_the_filling() {
    let pieces = different(60);
    let effort = Effort { poses: Some(1), ..Effort::default() };
    let go =
        || nest(&pieces, &sheets(1), &CLEARANCE, &effort, &mut Unwatched).expect("a sound job");
    let layout = go();
    assert_eq!(left(&layout), 0);
    assert_eq!(layout, go());
}

/// However many lie already, a part is tried in some tens of places at most: the work grows with
/// the count of parts, not with its square. (What that takes in seconds,
/// `cargo bench --bench nest -- counts` tells.)
#[test]
fn ten_thousand_plates_are_all_laid_with_a_few_tries_each() {
    // A thousand kinds, ten of each.
    let pieces: Vec<Piece> =
        different(1000).into_iter().map(|p| Piece { quantity: 10, ..p }).collect();
    let stock = twice_the_room(&pieces);
    let mut watch = NoTime::default();
    let layout =
        nest(&pieces, &stock, &CLEARANCE, &Effort::default(), &mut watch).expect("a sound job");
    check(&pieces, &stock, &CLEARANCE, &layout);
    assert_eq!(left(&layout), 0);
    assert!((10_000..=30 * 10_000).contains(&watch.tried), "{} places tried", watch.tried);
}

#[test]
fn what_is_left_over_does_not_fit() {
    // One sheet holds 2 x 3 of them, by the sizes; the rest have no room, and the large one never
    // will.
    let piece = |l, w, quantity| Piece {
        shape: Shape::rectangle(l, w),
        quantity,
        turns: Turns::List(vec![0.0]),
        tolerance: 0.0,
    };
    let layout = without_time(&[piece(1000.0, 400.0, 9), piece(2600.0, 10.0, 1)], &sheets(1));
    let left: Vec<_> = layout.unplaced.iter().map(|u| (u.piece, u.count, u.why)).collect();
    assert_eq!(left, [(0, 3, Why::NoRoom), (1, 1, Why::TooLarge)]);
}

#[test]
fn remnants_openings_and_turns_are_used_by_the_filling() {
    let ring = |r: f64| {
        (0..48)
            .map(|k| f64::from(k) * TAU / 48.0)
            .map(|a| [r * a.cos(), r * a.sin()])
            .collect::<Vec<_>>()
    };
    let frame = Shape {
        outer: Shape::rectangle(300.0, 300.0).outer,
        openings: vec![vec![[20.0, 20.0], [20.0, 280.0], [280.0, 280.0], [280.0, 20.0]]],
    };
    let pieces = [
        Piece { shape: frame, quantity: 1, turns: Turns::List(vec![0.0]), tolerance: 0.0 },
        Piece {
            shape: Shape { outer: ring(120.0), openings: vec![] },
            quantity: 1,
            turns: Turns::Any,
            tolerance: 0.0,
        },
        Piece {
            shape: Shape::rectangle(60.0, 60.0),
            quantity: 2,
            turns: Turns::Any,
            tolerance: 0.0,
        },
    ];
    // A sheet just large enough for the frame, and a remnant whose opening leaves room at both ends
    // alone.
    let mut remnant = Shape::rectangle(400.0, 90.0);
    remnant.openings.push(vec![[100.0, 10.0], [100.0, 80.0], [300.0, 80.0], [300.0, 10.0]]);
    let stock = [
        Stock::Sheet {
            shape: Shape::rectangle(317.0, 317.0),
            count: 1,
            price: None,
            remnant: false,
        },
        Stock::Sheet { shape: remnant, count: 1, price: None, remnant: true },
    ];
    let layout = without_time(&pieces, &stock);
    assert_eq!(left(&layout), 0);
    assert_eq!(layout.sheets.iter().map(|s| s.placements.len()).collect::<Vec<_>>(), [2, 2]);
}
