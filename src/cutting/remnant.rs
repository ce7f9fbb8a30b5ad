//! What is left of a sheet once its parts are cut.

use crate::geom::region::{self, Make, Region, Ring, area, combined, largest_rectangle};
use crate::geom::{Point, Polyarc, Rect};
use crate::tolerance::{REMNANT_CHORD, REMNANT_ROUND, SHORTEST_PIECE};

/// The most rectangles that what is left of a sheet is put together from.
const MOST_RECTANGLES: usize = 12;

/// A piece of a sheet that is worth keeping, in the sheet's own coordinates: upright rectangles
/// joined, so that straight cuts free it.
#[derive(Debug, Clone, PartialEq)]
pub struct Remnant {
    /// Its outline, counter-clockwise, of straight lines.
    pub outline: Vec<Point>,
    /// What is cut out of it.
    pub openings: Vec<Vec<Point>>,
    /// Its area, mm².
    pub area: f64,
}

/// What is left of a sheet.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LeftOver {
    /// The pieces worth keeping, the largest first.
    pub remnants: Vec<Remnant>,
    /// The largest upright rectangle that can be cut from the rest.
    pub rectangle: Option<Rect>,
}

/// What is left of a sheet (`stock`: its edge, then the openings that it had) after the parts with
/// these outsides are cut, farther than `apart` from all of them, the kerf and the spacing.
/// Rectangles narrower than `least` are no part of a remnant.
#[must_use]
pub fn left_over(outsides: &[Polyarc], stock: &[Polyarc], apart: f64, least: f64) -> LeftOver {
    let ring = |points: Vec<Point>| -> Ring { points.iter().map(|p| [p.x, p.y]).collect() };
    // The sheet no larger than it is, the parts no smaller.
    let within = |outline: &Polyarc| {
        ring(outline.clone().counter_clockwise().reversed().flatten_outside(REMNANT_CHORD))
    };
    let about = |outline: &Polyarc| {
        ring(outline.clone().counter_clockwise().flatten_outside(REMNANT_CHORD))
    };
    let mut sheet: Vec<Ring> =
        stock.iter().take(1).map(|edge| within(edge).into_iter().rev().collect()).collect();
    sheet.extend(
        stock.iter().skip(1).map(|opening| about(opening).into_iter().rev().collect::<Ring>()),
    );
    let parts: Vec<Ring> = outsides
        .iter()
        .flat_map(|outside| {
            region::grown(
                &[about(outside)],
                apart.max(REMNANT_ROUND) + REMNANT_ROUND,
                REMNANT_ROUND,
            )
        })
        .flatten()
        .filter(|ring| region::twice_area(ring) > 0.0)
        .collect();
    let rest = combined(&sheet, &parts, Make::Less);
    let rectangle = rest
        .iter()
        .filter_map(|piece| largest_rectangle(piece))
        .max_by(|a, b| a.area().total_cmp(&b.area()));
    if least <= 0.0 {
        return LeftOver { remnants: Vec::new(), rectangle };
    }
    let points = |ring: &Ring| tidy(ring.iter().map(|p| Point::new(p[0], p[1])).collect());
    let mut remnants: Vec<Remnant> = combined(&rectangles(&rest, least), &[], Make::Joined)
        .iter()
        .filter_map(|piece| {
            let mut rings = piece.iter();
            let outline = points(rings.next()?);
            // An opening that the torch could not make is no loss.
            let openings = rings.map(points).filter(|ring| ring.len() >= 3).collect();
            Some(Remnant { outline, openings, area: area(piece) })
        })
        .filter(|piece| piece.outline.len() >= 3)
        .collect();
    remnants.sort_by(|a, b| b.area.total_cmp(&a.area));
    LeftOver { remnants, rectangle }
}

/// Upright rectangles no narrower than `least` that lie beside one another on the rest of a sheet,
/// the largest first.
fn rectangles(rest: &[Region], least: f64) -> Vec<Ring> {
    let mut found = Vec::new();
    let mut left: Vec<Region> = rest.to_vec();
    while found.len() < MOST_RECTANGLES {
        let fits = |rect: &Rect| rect.width().min(rect.height()) >= least;
        let sought = left
            .iter()
            .filter(|piece| area(piece) >= least * least)
            .filter_map(|piece| largest_rectangle(piece))
            .filter(fits);
        let Some(rect) = sought.max_by(|a, b| a.area().total_cmp(&b.area())) else { break };
        // On hundredths inside it, so that what is written is no larger.
        let (up, down) = (
            |v: f64| (v * 100.0 - 1e-6).ceil() / 100.0 + 0.0,
            |v: f64| (v * 100.0 + 1e-6).floor() / 100.0 + 0.0,
        );
        let rect = Rect::new(up(rect.x0), up(rect.y0), down(rect.x1), down(rect.y1));
        let ring: Ring =
            vec![[rect.x0, rect.y0], [rect.x1, rect.y0], [rect.x1, rect.y1], [rect.x0, rect.y1]];
        left = combined(&left.concat(), std::slice::from_ref(&ring), Make::Less);
        found.push(ring);
    }
    found
}

/// The points on hundredths of a millimetre, without those that fall on their neighbour or on the
/// line between two.
fn tidy(points: Vec<Point>) -> Vec<Point> {
    let round = |v: f64| (v * 100.0).round() / 100.0 + 0.0;
    let mut kept: Vec<Point> = Vec::with_capacity(points.len());
    for p in points {
        let p = Point::new(round(p.x), round(p.y));
        if kept.last().is_none_or(|last| last.distance(p) > 2.0 * SHORTEST_PIECE) {
            kept.push(p);
        }
    }
    while kept.len() > 1 && kept[0].distance(kept[kept.len() - 1]) <= 2.0 * SHORTEST_PIECE {
        kept.pop();
    }
    let mut i = 0;
    while kept.len() > 3 && i < kept.len() {
        let n = kept.len();
        let (a, p, b) = (kept[(i + n - 1) % n], kept[i], kept[(i + 1) % n]);
        let (way, to) = (b - a, p - a);
        let off = way.cross(to).abs() / way.hypot().max(SHORTEST_PIECE);
        if off < 0.005 && to.dot(way) > 0.0 && to.hypot2() < way.hypot2() {
            kept.remove(i);
        } else {
            i += 1;
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet() -> Vec<Polyarc> {
        vec![Polyarc::rectangle(Rect::new(0.0, 0.0, 1000.0, 500.0))]
    }

    #[test]
    fn beside_one_part_all_but_its_surroundings_is_left() {
        let part = Polyarc::rectangle(Rect::new(8.0, 8.0, 308.0, 492.0));
        let left = left_over(&[part], &sheet(), 5.4, 100.0);
        assert_eq!(left.remnants.len(), 1);
        let rectangle = left.rectangle.expect("room");
        assert!(
            (rectangle.x0 - 313.4).abs() < 0.3
                && rectangle.x1 == 1000.0
                && rectangle.height() == 500.0,
            "{rectangle}"
        );
        // The strips of 2.6 mm between the part and the edge are no use.
        let area = left.remnants[0].area;
        assert!((area - 686.6 * 500.0).abs() < 300.0, "{area}");
        assert!(left.remnants[0].openings.is_empty() && left.remnants[0].outline.len() == 4);
    }

    #[test]
    fn a_part_in_the_middle_leaves_a_hole() {
        let part = Polyarc::circle(Point::new(400.0, 250.0), 40.0);
        // The rectangles beside it are 90.8 wide between them: kept or not, as the least width
        // says.
        assert_eq!(left_over(std::slice::from_ref(&part), &sheet(), 5.4, 100.0).remnants.len(), 2);
        let left = left_over(&[part], &sheet(), 5.4, 60.0);
        assert_eq!((left.remnants.len(), left.remnants[0].openings.len()), (1, 1));
        let kept = 500_000.0 - 90.8 * 90.8;
        assert!((left.remnants[0].area - kept).abs() < 100.0, "{}", left.remnants[0].area - kept);
        assert_eq!(left.remnants[0].openings[0].len(), 4);
    }

    #[test]
    fn a_full_sheet_leaves_nothing() {
        let part = Polyarc::rectangle(Rect::new(8.0, 8.0, 950.0, 492.0));
        assert_eq!(left_over(&[part], &sheet(), 5.4, 100.0).remnants, Vec::new());
        assert_eq!(left_over(&[], &sheet(), 5.4, 0.0).remnants, Vec::new());
        assert_eq!(left_over(&[], &sheet(), 5.4, 100.0).remnants.len(), 1);
    }
}
