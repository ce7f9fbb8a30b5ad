//! Measures a layout anew with the general-purpose geometry library `geo`, from the caller's
//! outlines alone.

use geo::{Area, BooleanOps, Coord, Distance, Euclidean, Length, LineString, Polygon};
use planish::nest::{Clearance, Layout, Piece, Placement, Shape, Stock, Turns};
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// What a distance may fall short by, mm: a thousandth of the 0.01 mm promised.
const SHORT: f64 = 1e-5;

fn ring(points: &[[f64; 2]], place: &dyn Fn([f64; 2]) -> [f64; 2]) -> LineString {
    points
        .iter()
        .map(|p| {
            let q = place(*p);
            Coord { x: q[0], y: q[1] }
        })
        .collect()
}

fn polygon(shape: &Shape, place: &dyn Fn([f64; 2]) -> [f64; 2]) -> Polygon {
    Polygon::new(ring(&shape.outer, place), shape.openings.iter().map(|o| ring(o, place)).collect())
}

/// The placement rule of the interface, written out again: turn about the shape's own origin, then
/// move.
fn placed(shape: &Shape, p: &Placement) -> Polygon {
    let (s, c) = p.angle.sin_cos();
    polygon(shape, &|q| [c * q[0] - s * q[1] + p.x, s * q[0] + c * q[1] + p.y])
}

fn perimeter(p: &Polygon) -> f64 {
    Euclidean.length(p.exterior()) + p.interiors().iter().map(|r| Euclidean.length(r)).sum::<f64>()
}

/// Overlap no deeper than `SHORT` all along the outlines.
fn no_common_area(a: &Polygon, b: &Polygon, what: &str) {
    let common = a.intersection(b).unsigned_area();
    let allowed = SHORT * (1.0 + perimeter(a).min(perimeter(b)));
    assert!(common <= allowed, "{what}: {common} mm2 in common");
}

fn box_of(p: &Polygon) -> [f64; 4] {
    p.exterior()
        .coords()
        .fold([f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY], |b, c| {
            [b[0].min(c.x), b[1].min(c.y), b[2].max(c.x), b[3].max(c.y)]
        })
}

/// Asserts everything the interface promises of a layout.
pub(crate) fn check(pieces: &[Piece], stock: &[Stock], clearance: &Clearance, layout: &Layout) {
    count(pieces, stock, layout);
    for sheet in &layout.sheets {
        let parts: Vec<Polygon> =
            sheet.placements.iter().map(|p| placed(&pieces[p.piece].shape, p)).collect();
        let boxes: Vec<[f64; 4]> = parts.iter().map(box_of).collect();
        for (i, a) in parts.iter().enumerate() {
            for (j, b) in parts.iter().enumerate().take(i) {
                let (p, q, c) = (boxes[i], boxes[j], clearance.between);
                if p[0] > q[2] + c || q[0] > p[2] + c || p[1] > q[3] + c || q[1] > p[3] + c {
                    continue;
                }
                no_common_area(a, b, "two parts");
                let apart = Euclidean.distance(a, b);
                assert!(apart >= c - SHORT, "parts {apart} apart instead of {c}");
            }
        }
        match &stock[sheet.stock] {
            Stock::Roll { width } => {
                for b in &boxes {
                    let e = clearance.edge - SHORT;
                    assert!(
                        b[0] >= e && b[1] >= e && b[3] <= width - e && b[2] <= sheet.length - e,
                        "off the roll: {b:?}"
                    );
                }
            }
            Stock::Sheet { shape, .. } => {
                let ground = polygon(shape, &|p| p);
                for (part, b) in parts.iter().zip(&boxes) {
                    assert!(b[2] <= sheet.length + SHORT, "beyond the length reported");
                    let off = part.difference(&ground).unsigned_area();
                    assert!(off <= SHORT * (1.0 + perimeter(part)), "{off} mm2 off the sheet");
                    for edge in std::iter::once(ground.exterior()).chain(ground.interiors()) {
                        for own in std::iter::once(part.exterior()).chain(part.interiors()) {
                            let apart = Euclidean.distance(own, edge);
                            assert!(
                                apart >= clearance.edge - SHORT,
                                "{apart} from the sheet's edge"
                            );
                        }
                    }
                }
            }
        }
    }
}

fn count(pieces: &[Piece], stock: &[Stock], layout: &Layout) {
    let mut seen: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    let mut sheets: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for sheet in &layout.sheets {
        *sheets.entry((sheet.stock, sheet.copy)).or_default() += 1;
        let count = match &stock[sheet.stock] {
            Stock::Sheet { count, .. } => *count,
            Stock::Roll { .. } => 1,
        };
        assert!(sheet.copy < count, "more sheets than there are");
        assert!(!sheet.placements.is_empty(), "a sheet with nothing on it");
        for p in &sheet.placements {
            assert!(p.copy < pieces[p.piece].quantity);
            *seen.entry((p.piece, p.copy)).or_default() += 1;
            if let Turns::List(list) = &pieces[p.piece].turns {
                let near = |a: &f64| {
                    let off = (p.angle - a).rem_euclid(TAU);
                    off.min(TAU - off) <= pieces[p.piece].tolerance + 1e-9
                };
                assert!(
                    list.is_empty() && p.angle == 0.0 || list.iter().any(near),
                    "turned by {}",
                    p.angle
                );
            }
        }
    }
    assert!(seen.values().all(|n| *n == 1), "a copy placed twice");
    assert!(sheets.values().all(|n| *n == 1), "a sheet listed twice");
    for (i, piece) in pieces.iter().enumerate() {
        let on = seen.keys().filter(|k| k.0 == i).count();
        let left: usize = layout.unplaced.iter().filter(|u| u.piece == i).map(|u| u.count).sum();
        assert_eq!(on + left, piece.quantity, "copies of piece {i}");
    }
    let parts: f64 = layout
        .sheets
        .iter()
        .flat_map(|s| &s.placements)
        .map(|p| pieces[p.piece].shape.area())
        .sum();
    let ground: f64 = layout
        .sheets
        .iter()
        .map(|s| match &stock[s.stock] {
            Stock::Sheet { shape, .. } => shape.area(),
            Stock::Roll { width } => width * s.length,
        })
        .sum();
    if ground > 0.0 {
        assert!((layout.used - parts / ground).abs() < 1e-9);
    }
}
