//! Growing outlines by the clearance, and the ground of a sheet that no part may stand on.

use super::plane::{Point, Ring, box_about, twice_area};
use crate::geom::region::{self, Make, combined, shrunk};

use crate::geom::Rect;
pub(super) use crate::geom::region::Region;

/// How far the straight pieces that stand for a rounded corner may lie outside the true round, mm.
const ROUND: f64 = 0.01;

/// The region grown by `by` all round: outline outward, openings inward. It contains the exact
/// offset and lies within `ROUND` of it.
pub(super) fn grown(rings: &[Ring], by: f64) -> Region {
    if by <= 0.0 {
        return rings.to_vec();
    }
    let mut regions = region::grown(rings, by, ROUND);
    regions.sort_by(|a, b| twice_area(&b[0]).total_cmp(&twice_area(&a[0])));
    regions.into_iter().next().unwrap_or_default()
}

/// The ground within the box of `sheet` (moved in by `by`) that lies nearer than `by` to the
/// sheet's edge, or off the sheet.
pub(super) fn forbidden_ground(sheet: &[Ring], by: f64) -> Vec<Region> {
    let Rect { x0, y0, x1, y1 } = box_about(&sheet[0]).inflate(-by, -by);
    let window = vec![vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]]];
    if by <= 0.0 {
        return combined(&window, sheet, Make::Less);
    }
    let clear = shrunk(sheet, by, ROUND);
    combined(&window, &clear.concat(), Make::Less)
}

/// The rings moved into the material by `by` (a millionth of a millimetre or so), corner by corner,
/// so that a touch of two parts stops being a contact. Corners sharper than about 2 degrees move
/// less.
pub(super) fn drawn_in(rings: &[Ring], by: f64) -> Vec<Ring> {
    rings
        .iter()
        .map(|ring| {
            let n = ring.len();
            (0..n)
                .map(|i| {
                    let (a, p, b) = (ring[(i + n - 1) % n], ring[i], ring[(i + 1) % n]);
                    let left = |u: Point, v: Point| {
                        let length = (v[0] - u[0]).hypot(v[1] - u[1]).max(f64::MIN_POSITIVE);
                        [(u[1] - v[1]) / length, (v[0] - u[0]) / length]
                    };
                    let (s, t) = (left(a, p), left(p, b));
                    let sum = [s[0] + t[0], s[1] + t[1]];
                    let square = sum[0] * sum[0] + sum[1] * sum[1];
                    let scale = if square > 1e-3 { 2.0 * by / square } else { 0.0 };
                    [p[0] + scale * sum[0], p[1] + scale * sum[1]]
                })
                .collect()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(region: &[Ring]) -> f64 {
        region.iter().map(|r| 0.5 * twice_area(r)).sum()
    }

    #[test]
    fn grown_contains_the_exact_offset_and_little_more() {
        // Steiner's formula for a convex outline: area + perimeter d + π d². An opening with square
        // corners shrinks to the smaller square exactly.
        let outer = vec![[0.0, 0.0], [80.0, 0.0], [80.0, 50.0], [0.0, 50.0]];
        let opening = vec![[20.0, 15.0], [20.0, 35.0], [40.0, 35.0], [40.0, 15.0]];
        let d = 3.0;
        let region = grown(&[outer, opening], d);
        assert_eq!(region.len(), 2);
        let exact = 80.0 * 50.0 + 260.0 * d + std::f64::consts::PI * d * d - 14.0 * 14.0;
        let more = area(&region) - exact;
        assert!(more >= -1e-6 && more < 2.0 * std::f64::consts::PI * (d + ROUND) * ROUND, "{more}");
    }

    #[test]
    fn forbidden_ground_of_an_l_is_its_missing_corner() {
        let l =
            vec![[0.0, 0.0], [100.0, 0.0], [100.0, 40.0], [40.0, 40.0], [40.0, 90.0], [0.0, 90.0]];
        let patches = forbidden_ground(std::slice::from_ref(&l), 0.0);
        assert_eq!(patches.len(), 1);
        assert!((area(&patches[0]) - 60.0 * 50.0).abs() < 1e-6);
        // Moved in by 5, the missing corner of the box from 5 to 95 and 5 to 85 is 60 x 50 again;
        // at the inner corner the exact set is rounded with radius 5.
        let patches = forbidden_ground(&[l], 5.0);
        let exact = 60.0 * 50.0 - (1.0 - std::f64::consts::FRAC_PI_4) * 25.0;
        let more = area(&patches[0]) - exact;
        assert!(patches.len() == 1 && (-1e-6..0.1).contains(&more), "{more}");
    }

    #[test]
    fn drawn_in_moves_edges_by_the_amount() {
        let ring = vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]];
        let drawn = drawn_in(&[ring], 0.5);
        assert!((area(&drawn) - 81.0).abs() < 1e-12);
    }
}
