//! Areas bounded by straight lines, with holes: cut from one another, grown, shrunk, by the library
//! `i_overlay`.
//!
//! An area is a set of rings with the inside on the left of all: outer rings counter-clockwise,
//! holes clockwise. A point is [x, y], mm.

use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::overlay::FloatOverlay;
use kurbo::Rect;

/// A closed run of straight lines; the last point goes on to the first.
pub(crate) type Ring = Vec<[f64; 2]>;

/// A connected area: its outer ring counter-clockwise, then its holes clockwise.
pub(crate) type Region = Vec<Ring>;

/// What is made of two sets of rings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Make {
    /// The first alone, its rings joined.
    Joined,
    /// The first less the second.
    Less,
}

/// The lines of a ring.
fn lines(ring: &Ring) -> impl Iterator<Item = ([f64; 2], [f64; 2])> + '_ {
    ring.iter().copied().zip(ring.iter().copied().cycle().skip(1))
}

/// Twice the area inside a ring, mm², positive when it runs counter-clockwise.
pub(crate) fn twice_area(ring: &Ring) -> f64 {
    lines(ring).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum()
}

/// Area of a region, mm².
pub(crate) fn area(region: &[Ring]) -> f64 {
    region.iter().map(|ring| 0.5 * twice_area(ring)).sum()
}

/// Boolean of two sets of rings under the non-zero rule, on a 64-bit grid (finer than 1e-9 mm at
/// any size we accept).
pub(crate) fn combined(subject: &[Ring], clip: &[Ring], make: Make) -> Vec<Region> {
    let rule = match make {
        Make::Joined => OverlayRule::Subject,
        Make::Less => OverlayRule::Difference,
    };
    let mut overlay =
        FloatOverlay::<[f64; 2], i64>::from_subj_and_clip(&subject.to_vec(), &clip.to_vec());
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

/// The strip of width `by` along the right-hand side of every line, with a fan at each corner that
/// opens to the right: what a disc of radius `by` sweeps on the side away from the inside. Fans are
/// drawn about the round, at most `round` mm outside it, never inside.
pub(crate) fn strips(rings: &[Ring], by: f64, round: f64) -> Vec<Ring> {
    let step = 2.0 * (by / (by + round)).acos();
    let mut out = Vec::new();
    for ring in rings {
        let unit: Vec<[f64; 2]> = lines(ring)
            .map(|(a, b)| {
                let length = (b[0] - a[0]).hypot(b[1] - a[1]).max(f64::MIN_POSITIVE);
                [(b[1] - a[1]) / length, (a[0] - b[0]) / length]
            })
            .collect();
        for (i, (a, b)) in lines(ring).enumerate() {
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
fn fan(tip: [f64; 2], n: [f64; 2], m: [f64; 2], open: f64, by: f64, step: f64) -> Ring {
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

/// The area grown by `by` all round; it holds the exact one and lies within `round` of it.
pub(crate) fn grown(rings: &[Ring], by: f64, round: f64) -> Vec<Region> {
    let mut all = rings.to_vec();
    all.extend(strips(rings, by, round));
    combined(&all, &[], Make::Joined)
}

/// What of the area is farther than `by` from its edge; up to `round` more is taken off at inner
/// corners.
pub(crate) fn shrunk(rings: &[Ring], by: f64, round: f64) -> Vec<Region> {
    // The edge seen from outside: walk every ring the other way and sweep inward.
    let other_way: Vec<Ring> =
        rings.iter().map(|ring| ring.iter().rev().copied().collect()).collect();
    let strip = combined(&strips(&other_way, by, round), &[], Make::Joined);
    combined(rings, &strip.concat(), Make::Less)
}

/// The lines and columns of the grid on which the largest rectangle is sought.
const GRID: usize = 240;

/// The largest upright rectangle inside the area, as far as a grid of 240 by 240 over it can tell;
/// its sides are then moved out as far as they go.
pub(crate) fn largest_rectangle(rings: &[Ring]) -> Option<Rect> {
    let bounds = rings.iter().flatten().fold(None, |bounds: Option<Rect>, p| {
        let at = kurbo::Point::new(p[0], p[1]);
        Some(bounds.map_or(Rect::from_points(at, at), |bounds| bounds.union_pt(at)))
    })?;
    let (dx, dy) = (bounds.width() / GRID as f64, bounds.height() / GRID as f64);
    if dx <= 0.0 || dy <= 0.0 {
        return None;
    }
    let free: Vec<Vec<bool>> =
        (0..GRID).map(|row| free_cells(rings, bounds, (dx, dy), row)).collect();
    let (left, bottom, right, top) = largest_of_cells(&free)?;
    let at = |i: usize, from: f64, step: f64| from + step * i as f64;
    let found = Rect::new(
        at(left, bounds.x0, dx),
        at(bottom, bounds.y0, dy),
        at(right, bounds.x0, dx),
        at(top, bounds.y0, dy),
    );
    let ways = [moved_out(rings, found, true), moved_out(rings, found, false)];
    ways.into_iter().max_by(|a, b| a.area().total_cmp(&b.area()))
}

/// Which cells of a row lie wholly inside.
fn free_cells(rings: &[Ring], bounds: Rect, (dx, dy): (f64, f64), row: usize) -> Vec<bool> {
    let (low, high) = (bounds.y0 + dy * row as f64, bounds.y0 + dy * (row + 1) as f64);
    let middle = f64::midpoint(low, high);
    let mut crossings: Vec<f64> = Vec::new();
    let mut blocked = vec![false; GRID];
    for (a, b) in rings.iter().flat_map(lines) {
        if (a[1] > middle) != (b[1] > middle) {
            crossings.push(a[0] + (b[0] - a[0]) * (middle - a[1]) / (b[1] - a[1]));
        }
        if let Some((from, to)) = clipped(a, b, low, high) {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "clamped to the grid"
            )]
            let cell =
                |x: f64| ((x - bounds.x0) / dx).floor().clamp(0.0, (GRID - 1) as f64) as usize;
            blocked[cell(from)..=cell(to)].fill(true);
        }
    }
    crossings.sort_by(f64::total_cmp);
    (0..GRID)
        .map(|i| {
            let x = bounds.x0 + dx * (i as f64 + 0.5);
            !blocked[i] && crossings.partition_point(|c| *c < x) % 2 == 1
        })
        .collect()
}

/// The least and greatest x of a line between two heights.
fn clipped(a: [f64; 2], b: [f64; 2], low: f64, high: f64) -> Option<(f64, f64)> {
    let (a, b) = if a[1] <= b[1] { (a, b) } else { (b, a) };
    if b[1] <= low || a[1] >= high {
        return None;
    }
    let at = |y: f64| {
        if b[1] > a[1] {
            a[0] + (b[0] - a[0]) * ((y - a[1]) / (b[1] - a[1])).clamp(0.0, 1.0)
        } else {
            a[0]
        }
    };
    let (p, q) = if b[1] > a[1] { (at(low), at(high)) } else { (a[0], b[0]) };
    Some((p.min(q), p.max(q)))
}

/// The largest full rectangle of a grid: left, bottom, right, top, the latter two beyond it. By a
/// stack of heights, row by row.
fn largest_of_cells(free: &[Vec<bool>]) -> Option<(usize, usize, usize, usize)> {
    let mut heights = vec![0usize; GRID];
    let mut best: Option<(usize, (usize, usize, usize, usize))> = None;
    for (row, cells) in free.iter().enumerate() {
        for (height, cell) in heights.iter_mut().zip(cells) {
            *height = if *cell { *height + 1 } else { 0 };
        }
        let mut open: Vec<(usize, usize)> = Vec::new();
        for right in 0..=GRID {
            let height = heights.get(right).copied().unwrap_or(0);
            let mut left = right;
            while let Some(&(start, high)) = open.last().filter(|(_, high)| *high > height) {
                open.pop();
                let area = high * (right - start);
                if best.is_none_or(|(most, _)| area > most) {
                    best = Some((area, (start, row + 1 - high, right, row + 1)));
                }
                left = start;
            }
            if height > 0 && open.last().is_none_or(|(_, high)| *high < height) {
                open.push((left, height));
            }
        }
    }
    best.map(|(_, rectangle)| rectangle)
}

/// The rectangle with its sides moved out to the nearest line of the area's edge, first those along
/// x or those along y.
fn moved_out(rings: &[Ring], mut rect: Rect, x_first: bool) -> Rect {
    for x in [x_first, !x_first] {
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        let (from, to, least, most) = if x {
            (rect.y0, rect.y1, rect.x0, rect.x1)
        } else {
            (rect.x0, rect.x1, rect.y0, rect.y1)
        };
        let middle = f64::midpoint(least, most);
        for (a, b) in rings.iter().flat_map(lines) {
            let turned = |p: [f64; 2]| if x { p } else { [p[1], p[0]] };
            if let Some((near, far)) = clipped(turned(a), turned(b), from, to) {
                if far <= middle {
                    low = low.max(far);
                } else {
                    high = high.min(near);
                }
            }
        }
        if low.is_finite() && high.is_finite() && low <= least + 1e-9 && high >= most - 1e-9 {
            rect = if x {
                Rect::new(low, rect.y0, high, rect.y1)
            } else {
                Rect::new(rect.x0, low, rect.x1, high)
            };
        }
    }
    rect
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> Ring {
        vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    }

    #[test]
    fn the_largest_rectangle_beside_a_block_is_the_exact_one() {
        let sheet = [rectangle(0.0, 0.0, 1000.0, 500.0)];
        let left = combined(&sheet, &[rectangle(0.0, 0.0, 333.3, 410.0)], Make::Less).concat();
        let found = largest_rectangle(&left).expect("room");
        assert!((found.area() - 666.7 * 500.0).abs() < 1e-6, "{found}");
        // A hole in the middle of it: above, below or beside it, whichever is largest.
        let left = combined(&sheet, &[rectangle(400.0, 100.0, 500.0, 200.0)], Make::Less).concat();
        let found = largest_rectangle(&left).expect("room");
        assert!((found.area() - 1000.0 * 300.0).abs() < 1e-6, "{found}");
        assert!(largest_rectangle(&[]).is_none());
    }

    #[test]
    fn a_rectangle_in_a_triangle_is_near_the_half_of_it() {
        // The largest rectangle in a right triangle has half its area.
        let triangle = [vec![[0.0, 0.0], [300.0, 0.0], [0.0, 200.0]]];
        let found = largest_rectangle(&triangle).expect("room");
        assert!(found.area() > 0.97 * 15_000.0 && found.area() <= 15_000.0, "{}", found.area());
    }
}
