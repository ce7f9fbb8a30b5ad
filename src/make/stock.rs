//! Stock and blanks as the nest takes them.

use crate::geom::{Point, Polyarc, Rect};
use crate::nest::{Shape, Stock};
use crate::part::{StockShape, StockSheet};
use crate::tolerance::{CURVE_TO_ARCS, NEST_CHORD};

fn points(outline: &[Point]) -> Vec<[f64; 2]> {
    outline.iter().map(|p| [p.x, p.y]).collect()
}

/// The polygon of a blank that holds all its metal, or of a sheet that holds no more than its own.
pub(super) fn shape_of(outside: &Polyarc, openings: &[Polyarc], grow: bool) -> Shape {
    let flattened = |outline: &Polyarc, grow: bool| {
        let flat = if grow {
            outline.flatten_outside(NEST_CHORD)
        } else {
            outline.reversed().flatten_outside(NEST_CHORD)
        };
        points(&flat)
    };
    Shape {
        outer: flattened(outside, grow),
        openings: openings.iter().map(|opening| flattened(opening, !grow)).collect(),
    }
}

pub(super) fn stock_of(sheet: &StockSheet, total: usize) -> Stock {
    let count = sheet.count.unwrap_or(total.max(1)).min(total.max(1));
    match &sheet.shape {
        StockShape::Sheet(along, across) => Stock::Sheet {
            shape: shape_of(
                &Polyarc::rectangle(Rect::new(0.0, 0.0, along.mm(), across.mm())),
                &[],
                false,
            ),
            count,
            price: sheet.price,
            remnant: false,
        },
        StockShape::Remnant(outline, openings) => {
            let openings: Vec<Polyarc> =
                openings.iter().map(|opening| opening.to_polyarc(CURVE_TO_ARCS)).collect();
            Stock::Sheet {
                shape: shape_of(&outline.sides.to_polyarc(CURVE_TO_ARCS), &openings, false),
                count,
                price: sheet.price,
                remnant: true,
            }
        }
        StockShape::Roll(width) => Stock::Roll { width: width.mm() },
    }
}

/// The stock's edge as it is drawn; a roll as long as it is used.
pub(super) fn edges(sheet: &StockSheet, length: f64) -> Vec<Polyarc> {
    match &sheet.shape {
        StockShape::Sheet(along, across) => {
            vec![Polyarc::rectangle(Rect::new(0.0, 0.0, along.mm(), across.mm()))]
        }
        StockShape::Remnant(outline, openings) => {
            std::iter::once(outline.sides.to_polyarc(CURVE_TO_ARCS))
                .chain(openings.iter().map(|opening| opening.to_polyarc(CURVE_TO_ARCS)))
                .collect()
        }
        StockShape::Roll(width) => {
            vec![Polyarc::rectangle(Rect::new(0.0, 0.0, length, width.mm()))]
        }
    }
}
