//! Test pieces that are cut from what is left of the sheets: a coupon that tells the kerf, strips
//! that tell how the metal bends.

use crate::cutting::{BlankEdges, Edge, left_over};
use crate::geom::region::{Make, Ring, area, combined, grown, shrunk};
use crate::geom::{Point, Polyarc, Rect};
use crate::nest::{Clearance, Effort, Piece, Placement, Shape, Stock, Turns, Unwatched, nest};
use crate::page::{Drawing, Layer};
use crate::part::{Cutting, Part};
use crate::report::{COUPON_HOLE, COUPON_SIDE};
use crate::tolerance::{NEST_CHORD, REMNANT_ROUND, TEST_PIECE_POSES};

use super::stock::shape_of;

/// A test piece, seen from above.
pub(super) struct TestPiece {
    pub(super) name: String,
    /// What is written on it.
    pub(super) label: String,
    pub(super) drawing: Drawing,
    pub(super) edges: BlankEdges,
    /// How it may lie to the grain.
    turns: Turns,
}

/// The test pieces that the job asks for.
pub(super) fn test_pieces(cutting: &Cutting, part: &Part) -> Vec<TestPiece> {
    let coupon = cutting.coupon.unwrap_or(false).then(coupon);
    coupon
        .into_iter()
        .chain((0..cutting.bend_strips.unwrap_or(0)).map(|i| strip(i, part)))
        .collect()
}

/// A square with a round hole, both of known size.
fn coupon() -> TestPiece {
    let side = Polyarc::rectangle(Rect::new(0.0, 0.0, COUPON_SIDE, COUPON_SIDE));
    let hole = Polyarc::circle(Point::new(COUPON_SIDE / 2.0, COUPON_SIDE / 2.0), COUPON_HOLE / 2.0);
    let quarter_turns = (0..4).map(|k| f64::from(k) * std::f64::consts::FRAC_PI_2).collect();
    piece(
        "kerf coupon".to_owned(),
        "kerf coupon".to_owned(),
        vec![side, hole],
        Turns::List(quarter_turns),
    )
}

/// A strip as `planish strip` takes it: 100 mm long, longer in thick sheet, and wide enough to bend
/// as a sheet does (fifteen thicknesses, common practice, no source). Every other one lies across
/// the grain.
fn strip(index: usize, part: &Part) -> TestPiece {
    let thickness = part.thickness.mm();
    let (length, width) = ((40.0 * thickness).max(100.0), (15.0 * thickness).max(25.0));
    let across = index % 2 == 1;
    let turn = if across { std::f64::consts::FRAC_PI_2 } else { 0.0 };
    let way = if across { "across" } else { "along" };
    let name =
        format!("strip {}, {} mm, {way} the grain", index + 1, crate::units::Digits(length, 1));
    let label = format!("strip {}: {} mm", index + 1, crate::units::Digits(length, 1));
    let outline = Polyarc::rectangle(Rect::new(0.0, 0.0, length, width));
    let mut strip =
        piece(name, label, vec![outline], Turns::List(vec![turn, turn + std::f64::consts::PI]));
    strip.drawing.line(
        Layer::FoldUp,
        Point::new(length / 2.0, 0.0),
        Point::new(length / 2.0, width),
    );
    strip
}

fn piece(name: String, label: String, outlines: Vec<Polyarc>, turns: Turns) -> TestPiece {
    let drawing = Drawing::new(name.clone());
    let edges =
        outlines.into_iter().map(|outline| Edge { outline, stretched: Vec::new() }).collect();
    TestPiece { name, label, drawing, edges, turns }
}

/// A place for a test piece on a sheet beside what lies on it; with `spare` the largest rectangle
/// that is left stays free.
pub(super) fn place(
    piece: &TestPiece,
    outsides: &[Polyarc],
    stock: &[Polyarc],
    clearance: &Clearance,
    spare: bool,
) -> Option<Placement> {
    let ring = |points: Vec<Point>| -> Ring { points.iter().map(|p| [p.x, p.y]).collect() };
    let mut sheet: Vec<Ring> = stock
        .iter()
        .take(1)
        .map(|edge| ring(edge.clone().counter_clockwise().flatten(NEST_CHORD)))
        .collect();
    sheet.extend(
        stock.iter().skip(1).map(|opening| {
            ring(opening.clone().counter_clockwise().reversed().flatten(NEST_CHORD))
        }),
    );
    // The nest keeps the other half of the distance to the edges of its stock.
    let half = clearance.between / 2.0 + NEST_CHORD;
    let mut taken: Vec<Ring> = outsides
        .iter()
        .flat_map(|outside| {
            grown(&[ring(outside.flatten_outside(NEST_CHORD))], half, REMNANT_ROUND)
        })
        .flatten()
        .filter(|ring| crate::geom::region::twice_area(ring) > 0.0)
        .collect();
    if spare && let Some(kept) = left_over(outsides, stock, clearance.between, 0.0).rectangle {
        taken.push(vec![
            [kept.x0, kept.y0],
            [kept.x1, kept.y0],
            [kept.x1, kept.y1],
            [kept.x0, kept.y1],
        ]);
    }
    let ground: Vec<Ring> = shrunk(&sheet, clearance.edge.max(NEST_CHORD), REMNANT_ROUND).concat();
    let openings: Vec<Polyarc> = piece.edges[1..].iter().map(|edge| edge.outline.clone()).collect();
    let shape = shape_of(&piece.edges[0].outline, &openings, true);
    let need = shape.area();
    let wanted = [Piece { shape, quantity: 1, turns: piece.turns.clone(), tolerance: 0.0 }];
    let effort = Effort { seed: 1, poses: Some(TEST_PIECE_POSES), workers: 1 };
    let clearance = Clearance { between: clearance.between, edge: 0.0 };
    combined(&ground, &taken, Make::Less).into_iter().filter(|room| area(room) > need).find_map(
        |room| {
            let mut rings = room.into_iter();
            let shape = Shape { outer: rings.next()?, openings: rings.collect() };
            let stock = [Stock::Sheet { shape, count: 1, price: None, remnant: true }];
            let layout = nest(&wanted, &stock, &clearance, &effort, &mut Unwatched).ok()?;
            layout.sheets.first()?.placements.first().copied()
        },
    )
}
