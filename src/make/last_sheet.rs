//! The last sheet laid another way, for a larger rectangle left over.
//!
//! The nest closes the last sheet up along x, so that what is left is as wide as the sheet. Here
//! its parts are laid once more, closed up along y, and whichever leaves the larger rectangle is
//! kept.

use std::f64::consts::FRAC_PI_2;

use crate::cutting::left_over;
use crate::geom::{Affine, Polyarc, Rect};
use crate::nest::{
    Clearance, Effort, Layout, Piece, Placement, Shape, Stock, Turns, UsedSheet, Watch, nest,
};

/// Most parts that are laid once more.
const MOST_PARTS: usize = 400;

/// Most corners that the openings of all parts may have, or making them ready costs more than the
/// other way is worth.
const MOST_CORNERS: usize = 20_000;

/// Puts the last whole sheet's parts another way if that leaves a larger rectangle. `outsides` are
/// those of the pieces.
pub(super) fn choose_last_sheet(
    layout: &mut Layout,
    pieces: &[Piece],
    outsides: &[Polyarc],
    stock: &[Stock],
    (clearance, effort): (&Clearance, &Effort),
    watch: &mut dyn Watch,
) {
    let Some(last) = layout.sheets.last_mut() else { return };
    let Stock::Sheet { shape, remnant: false, .. } = &stock[last.stock] else { return };
    let corners: usize =
        pieces.iter().map(|piece| piece.shape.openings.iter().map(Vec::len).sum::<usize>()).sum();
    if corners > MOST_CORNERS
        || last.placements.len() > MOST_PARTS
        || shape.outer.len() != 4
        || !shape.openings.is_empty()
    {
        return;
    }
    let (length, width) = extent(shape);
    // The sheet turned a quarter back, so that what runs along y runs along x.
    let turned_stock = [Stock::Sheet {
        shape: Shape::rectangle(width, length),
        count: 1,
        price: None,
        remnant: false,
    }];
    let counts =
        |piece: usize| last.placements.iter().filter(|placement| placement.piece == piece).count();
    let turned: Vec<Piece> =
        pieces.iter().enumerate().map(|(i, piece)| turned_back(piece, counts(i))).collect();
    let poses = Some(effort.poses.unwrap_or(u64::MAX).min(OTHER_WAY_POSES));
    let Ok(other) = nest(&turned, &turned_stock, clearance, &Effort { poses, ..*effort }, watch)
    else {
        return;
    };
    let (true, [sheet]) = (other.unplaced.is_empty(), other.sheets.as_slice()) else { return };
    let mut copies: Vec<Vec<usize>> = vec![Vec::new(); pieces.len()];
    for placement in last.placements.iter().rev() {
        copies[placement.piece].push(placement.copy);
    }
    let placements: Vec<Placement> = sheet
        .placements
        .iter()
        .map(|at| Placement {
            x: length - at.y,
            y: at.x,
            angle: (at.angle + FRAC_PI_2).rem_euclid(std::f64::consts::TAU),
            copy: copies[at.piece].pop().unwrap_or(at.copy),
            piece: at.piece,
        })
        .collect();
    let edge = [Polyarc::rectangle(Rect::new(0.0, 0.0, length, width))];
    let left = |placements: &[Placement]| {
        let placed: Vec<Polyarc> = placements
            .iter()
            .map(|at| {
                outsides[at.piece].moved(Affine::translate((at.x, at.y)) * Affine::rotate(at.angle))
            })
            .collect();
        let rectangle = left_over(&placed, &edge, clearance.between, 0.0).rectangle;
        (
            rectangle.map_or(0.0, |rect| rect.area()),
            placed.iter().map(|part| part.bounds().x1).fold(0.0, f64::max),
        )
    };
    let ((now, _), (then, reach)) = (left(&last.placements), left(&placements));
    // By a hundredth at least, or the usual way is kept.
    if then > 1.01 * now {
        *last = UsedSheet { placements, length: reach, ..last.clone() };
    }
}

/// Trial places spent on the other way, at most.
const OTHER_WAY_POSES: u64 = 1_000_000;

fn extent(shape: &Shape) -> (f64, f64) {
    let most = |axis: usize| shape.outer.iter().map(|p| p[axis]).fold(0.0, f64::max);
    (most(0), most(1))
}

/// A piece as it may lie on the sheet turned a quarter back.
fn turned_back(piece: &Piece, quantity: usize) -> Piece {
    let turns = match &piece.turns {
        Turns::Any => Turns::Any,
        Turns::List(list) if list.is_empty() => Turns::List(vec![-FRAC_PI_2]),
        Turns::List(list) => Turns::List(list.iter().map(|turn| turn - FRAC_PI_2).collect()),
    };
    Piece { quantity, turns, ..piece.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nest::Unwatched;

    fn laid(pieces: &[Piece], outsides: &[Polyarc]) -> (Layout, Vec<Stock>, f64) {
        let stock = vec![Stock::Sheet {
            shape: Shape::rectangle(1000.0, 500.0),
            count: 1,
            price: None,
            remnant: false,
        }];
        let clearance = Clearance { between: 5.4, edge: 8.0 };
        let effort = Effort { seed: 1, poses: Some(3000), workers: 1 };
        let mut layout =
            nest(pieces, &stock, &clearance, &effort, &mut Unwatched).expect("a sound job");
        choose_last_sheet(
            &mut layout,
            pieces,
            outsides,
            &stock,
            (&clearance, &effort),
            &mut Unwatched,
        );
        let placed: Vec<Polyarc> = layout.sheets[0]
            .placements
            .iter()
            .map(|at| {
                outsides[at.piece].moved(Affine::translate((at.x, at.y)) * Affine::rotate(at.angle))
            })
            .collect();
        let edge = [Polyarc::rectangle(Rect::new(0.0, 0.0, 1000.0, 500.0))];
        for part in &placed {
            let bounds = part.bounds();
            assert!(
                bounds.x0 > 7.99 && bounds.y0 > 7.99 && bounds.x1 < 992.01 && bounds.y1 < 492.01,
                "{bounds}"
            );
        }
        let left = left_over(&placed, &edge, 5.4, 0.0).rectangle.expect("room").area();
        (layout, stock, left)
    }

    #[test]
    fn a_long_part_that_may_not_turn_leaves_the_rest_above_it() {
        let piece = Piece {
            shape: Shape::rectangle(900.0, 60.0),
            quantity: 2,
            turns: Turns::List(vec![0.0]),
            tolerance: 0.0,
        };
        let outside = Polyarc::rectangle(Rect::new(0.0, 0.0, 900.0, 60.0));
        let (layout, _, left) = laid(&[piece], &[outside]);
        // Two strips of 60 at one long side: 1000 by 500 less the margin, both strips and two
        // distances.
        assert!((left - 1000.0 * (500.0 - 8.0 - 120.0 - 2.0 * 5.4)).abs() < 1000.0, "{left}");
        let mut copies: Vec<usize> = layout.sheets[0].placements.iter().map(|at| at.copy).collect();
        copies.sort_unstable();
        assert_eq!(copies, [0, 1]);
        assert!(
            layout.sheets[0].placements.iter().all(
                |at| at.angle.abs() < 1e-12 || (at.angle - std::f64::consts::TAU).abs() < 1e-12
            )
        );
    }

    #[test]
    fn a_short_wide_part_stays_at_the_near_end() {
        let piece = Piece {
            shape: Shape::rectangle(60.0, 460.0),
            quantity: 1,
            turns: Turns::List(vec![0.0]),
            tolerance: 0.0,
        };
        let (_, _, left) = laid(&[piece], &[Polyarc::rectangle(Rect::new(0.0, 0.0, 60.0, 460.0))]);
        assert!((left - 500.0 * (1000.0 - 8.0 - 60.0 - 5.4)).abs() < 500.0, "{left}");
    }
}
