//! Growing outlines by the clearance, and the ground of a sheet that no part may stand on.

use super::plane::{Frame, Point, Ring, edges, twice_area};
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::overlay::FloatOverlay;

/// How far the straight pieces that stand for a rounded corner may lie outside the true round, mm.
const ROUND: f64 = 0.01;

/// A region: outer ring counter-clockwise, then its openings clockwise.
pub(super) type Region = Vec<Ring>;

/// Boolean of two sets of rings under the non-zero rule, on a 64-bit grid (finer than 1e-9 mm at any size we accept).
fn boolean(subject: &[Ring], clip: &[Ring], rule: OverlayRule) -> Vec<Region> {
    let mut overlay = FloatOverlay::<Point, i64>::from_subj_and_clip(&subject.to_vec(), &clip.to_vec());
    let mut regions = overlay.overlay(rule, FillRule::NonZero);
    for region in &mut regions {
        for (i, ring) in region.iter_mut().enumerate() {
            if (twice_area(ring) > 0.0) != (i == 0) {
                ring.reverse();
            }
        }
    }
    regions
}

/// The strip of width `by` along the right-hand side of every edge, with a fan at each corner that opens to the right:
/// what a disc of radius `by` sweeps on the side away from the material. Fans are drawn about the round, never inside.
fn strips(rings: &[Ring], by: f64) -> Vec<Ring> {
    let step = 2.0 * (by / (by + ROUND)).acos();
    let mut out = Vec::new();
    for ring in rings {
        let unit: Vec<Point> = edges(ring)
            .map(|(a, b)| {
                let length = (b[0] - a[0]).hypot(b[1] - a[1]);
                [(b[1] - a[1]) / length, (a[0] - b[0]) / length]
            })
            .collect();
        for (i, (a, b)) in edges(ring).enumerate() {
            let n = unit[i];
            let (sx, sy) = (by * n[0], by * n[1]);
            out.push(vec![a, [a[0] + sx, a[1] + sy], [b[0] + sx, b[1] + sy], b]);
            let m = unit[(i + 1) % unit.len()];
            let open = (n[0] * m[1] - n[1] * m[0]).atan2(n[0] * m[0] + n[1] * m[1]);
            if open > 1e-9 {
                out.push(fan(b, n, m, open, by, step));
            }
        }
    }
    out
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // at most half a turn over a step above zero
fn fan(tip: Point, n: Point, m: Point, open: f64, by: f64, step: f64) -> Ring {
    let pieces = (open / step).ceil().clamp(1.0, 64.0) as usize;
    let part = open / pieces as f64;
    let reach = by / (0.5 * part).cos();
    let from = n[1].atan2(n[0]);
    let mut ring = vec![tip, [tip[0] + by * n[0], tip[1] + by * n[1]]];
    for j in 0..pieces {
        let (s, c) = (from + (j as f64 + 0.5) * part).sin_cos();
        ring.push([tip[0] + reach * c, tip[1] + reach * s]);
    }
    ring.push([tip[0] + by * m[0], tip[1] + by * m[1]]);
    ring
}

/// The region grown by `by` all round: outline outward, openings inward. It contains the exact offset and lies within
/// `ROUND` of it.
pub(super) fn grown(rings: &[Ring], by: f64) -> Region {
    if by <= 0.0 {
        return rings.to_vec();
    }
    let mut all = rings.to_vec();
    all.extend(strips(rings, by));
    let mut regions = boolean(&all, &[], OverlayRule::Subject);
    regions.sort_by(|a, b| twice_area(&b[0]).total_cmp(&twice_area(&a[0])));
    regions.into_iter().next().unwrap_or_default()
}

/// The ground within the box of `sheet` (moved in by `by`) that lies nearer than `by` to the sheet's edge, or off the
/// sheet.
pub(super) fn forbidden_ground(sheet: &[Ring], by: f64) -> Vec<Region> {
    let frame = Frame::about(&sheet[0]);
    let window = vec![frame.inset(by).ring()];
    if by <= 0.0 {
        return boolean(&window, sheet, OverlayRule::Difference);
    }
    // The material's edge seen from outside: walk every ring the other way and sweep inward.
    let other_way: Vec<Ring> = sheet.iter().map(|r| r.iter().rev().copied().collect()).collect();
    let strip: Vec<Region> = boolean(&strips(&other_way, by), &[], OverlayRule::Subject);
    let clear = boolean(sheet, &strip.concat(), OverlayRule::Difference);
    boolean(&window, &clear.concat(), OverlayRule::Difference)
}

/// The rings moved into the material by `by` (a millionth of a millimetre or so), corner by corner, so that a touch of
/// two parts stops being a contact. Corners sharper than about 2 degrees move less.
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
        // Steiner's formula for a convex outline: area + perimeter d + π d². An opening with square corners shrinks to
        // the smaller square exactly.
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
        let l = vec![[0.0, 0.0], [100.0, 0.0], [100.0, 40.0], [40.0, 40.0], [40.0, 90.0], [0.0, 90.0]];
        let patches = forbidden_ground(std::slice::from_ref(&l), 0.0);
        assert_eq!(patches.len(), 1);
        assert!((area(&patches[0]) - 60.0 * 50.0).abs() < 1e-6);
        // Moved in by 5, the missing corner of the box from 5 to 95 and 5 to 85 is 60 x 50 again; at the inner corner the
        // exact set is rounded with radius 5.
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
