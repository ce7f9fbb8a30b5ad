//! Circles inscribed in an outline: a coarse but quick stand-in for its body.
//!
//! The first is the largest inscribed circle (the pole of inaccessibility), each next one the
//! largest that keeps clear of those before. Standing in for shapes by circles in overlap
//! minimisation: Imamichi and Nagamochi 2008, "A multi-sphere scheme for 2D and 3D packing
//! problems"; poles chosen greedily: Gardeyn, Vanden Berghe and Wauters 2025, arXiv 2509.13329.

use super::plane::{Point, Ring, box_about, edges, to_segment_squared};
use std::collections::BinaryHeap;

/// Lanes that the sums over circles are kept in.
pub(super) const LANES: usize = 4;
/// Cells looked at for one circle before the best so far is taken.
const CELLS: usize = 160;

/// A set of circles as a struct of arrays, largest first, filled up with circles of no radius to
/// whole lanes.
///
/// Single precision: they say how bad an overlap is and which way is out, never whether there is
/// one by a hair.
#[derive(Debug, Clone, Default)]
pub(super) struct Circles {
    pub(super) x: Vec<f32>,
    pub(super) y: Vec<f32>,
    pub(super) r: Vec<f32>,
    /// How many are real.
    pub(super) count: usize,
}

impl Circles {
    /// Keeps `list` (x, y, radius), largest first.
    #[allow(clippy::cast_possible_truncation)] // single precision is wanted
    pub(super) fn new(list: &[(Point, f64)]) -> Self {
        let mut circles = Self { count: list.len(), ..Self::default() };
        for &([x, y], r) in list {
            circles.x.push(x as f32);
            circles.y.push(y as f32);
            circles.r.push(r as f32);
        }
        while !circles.x.len().is_multiple_of(LANES) {
            circles.x.push(circles.x[0]);
            circles.y.push(circles.y[0]);
            circles.r.push(0.0);
        }
        circles
    }

    /// Writes these circles, turned about the origin, into `into`.
    pub(super) fn turn_into(&self, (s, c): (f64, f64), into: &mut Self) {
        #[allow(clippy::cast_possible_truncation)]
        let (s, c) = (s as f32, c as f32);
        into.count = self.count;
        into.x.clear();
        into.y.clear();
        into.x.extend(self.x.iter().zip(&self.y).map(|(x, y)| c * x - s * y));
        into.y.extend(self.x.iter().zip(&self.y).map(|(x, y)| s * x + c * y));
        if into.r.len() != self.r.len() || into.r != self.r {
            into.r.clone_from(&self.r);
        }
    }
}

struct Cell {
    centre: Point,
    half: f64,
    depth: f64,
    hope: f64,
}

impl PartialEq for Cell {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}
impl Eq for Cell {}
impl PartialOrd for Cell {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Cell {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.hope
            .total_cmp(&other.hope)
            .then(other.centre[0].total_cmp(&self.centre[0]))
            .then(other.centre[1].total_cmp(&self.centre[1]))
    }
}

/// How deep `p` lies in the material and clear of the circles so far, mm; negative outside.
fn depth(rings: &[Ring], so_far: &[(Point, f64)], p: Point) -> f64 {
    let mut odd = false;
    let mut near = f64::INFINITY;
    for (a, b) in rings.iter().flat_map(|r| edges(r)) {
        if (a[1] > p[1]) != (b[1] > p[1])
            && p[0] < a[0] + (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1])
        {
            odd = !odd;
        }
        near = near.min(to_segment_squared(p, a, b));
    }
    let mut d = if odd { near.sqrt() } else { -near.sqrt() };
    for &(c, r) in so_far {
        let (x, y) = (p[0] - c[0], p[1] - c[1]);
        if x * x + y * y < (d + r) * (d + r) {
            d = d.min((x * x + y * y).sqrt() - r);
        }
    }
    d
}

/// Best-first search over a quadtree of square cells for the deepest points, one after the other;
/// cells are kept from one search to the next, so that the outline is measured once for each.
struct Quarry<'r> {
    rings: &'r [Ring],
    cells: BinaryHeap<Cell>,
}

impl<'r> Quarry<'r> {
    fn new(rings: &'r [Ring]) -> Self {
        let frame = box_about(&rings[0]);
        let size = frame.width().min(frame.height()).max(frame.width().max(frame.height()) / 24.0);
        let half = 0.5 * size;
        let mut quarry = Self { rings, cells: BinaryHeap::new() };
        let mut y = frame.y0 + half;
        while y - half < frame.y1 {
            let mut x = frame.x0 + half;
            while x - half < frame.x1 {
                quarry.push(&[], [x, y], half);
                x += size;
            }
            y += size;
        }
        quarry
    }

    fn push(&mut self, so_far: &[(Point, f64)], centre: Point, half: f64) {
        let depth = depth(self.rings, so_far, centre);
        self.cells.push(Cell {
            centre,
            half,
            depth,
            hope: depth + half * std::f64::consts::SQRT_2,
        });
    }

    /// Takes a new circle into account, and drops the cells that can't hold one larger than
    /// `least`.
    fn keep_clear_of(&mut self, (centre, r): (Point, f64), least: f64) {
        let mut cells = std::mem::take(&mut self.cells).into_vec();
        cells.retain_mut(|c| {
            let (x, y) = (c.centre[0] - centre[0], c.centre[1] - centre[1]);
            c.depth = c.depth.min((x * x + y * y).sqrt() - r);
            c.hope = c.depth + c.half * std::f64::consts::SQRT_2;
            c.hope > least
        });
        self.cells = BinaryHeap::from(cells);
    }

    /// The deepest point clear of the circles `so_far`, and its depth, to a share of `short`.
    fn deepest(&mut self, so_far: &[(Point, f64)], short: f64) -> (Point, f64) {
        let mut best = ([0.0, 0.0], f64::NEG_INFINITY);
        let mut seen = 0;
        while let Some(top) = self.cells.pop() {
            if top.depth > best.1 {
                best = (top.centre, top.depth);
            }
            seen += 1;
            if top.hope <= best.1 * (1.0 + short)
                || (best.1 > 0.0 && seen > CELLS)
                || seen > 8 * CELLS
            {
                self.cells.push(top);
                break;
            }
            let h = 0.5 * top.half;
            for (sx, sy) in [(-h, -h), (h, -h), (-h, h), (h, h)] {
                self.push(so_far, [top.centre[0] + sx, top.centre[1] + sy], h);
            }
        }
        best
    }
}

/// Up to `most` inscribed circles; fewer once they cover nine tenths of `area` or become small
/// beside the first.
pub(super) fn inscribed(rings: &[Ring], area: f64, most: usize) -> Vec<(Point, f64)> {
    let mut quarry = Quarry::new(rings);
    let mut list: Vec<(Point, f64)> = Vec::new();
    let mut covered = 0.0;
    while list.len() < most {
        let (centre, r) = quarry.deepest(&list, if list.is_empty() { 0.005 } else { 0.05 });
        let least = list.first().map_or(0.0, |first| 0.08 * first.1);
        if r <= least {
            break;
        }
        list.push((centre, r));
        covered += std::f64::consts::PI * r * r;
        if covered > 0.9 * area {
            break;
        }
        quarry.keep_clear_of((centre, r), 0.08 * list[0].1);
    }
    if list.is_empty() {
        // A sliver too thin for the search: one tiny circle at its first corner keeps the sums
        // defined.
        list.push((rings[0][0], 1e-6));
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn first_circle_is_the_inscribed_one() {
        // Inradius of a rectangle: half its width; of an equilateral triangle of side s: s / (2 √3)
        // (Euclid IV.4).
        let rectangle = vec![vec![[0.0, 0.0], [100.0, 0.0], [100.0, 40.0], [0.0, 40.0]]];
        let s = 60.0;
        let triangle = vec![vec![[0.0, 0.0], [s, 0.0], [0.5 * s, 0.5 * s * 3.0f64.sqrt()]]];
        for (rings, inradius) in [(rectangle, 20.0), (triangle, s / (2.0 * 3.0f64.sqrt()))] {
            let r = inscribed(&rings, f64::INFINITY, 1)[0].1;
            assert!(r <= inradius + 1e-9 && r > 0.98 * inradius, "{r} for {inradius}");
        }
    }

    #[test]
    fn circles_lie_inside_and_clear_of_each_other() {
        // A square frame: the middle is open.
        let rings = vec![
            vec![[0.0, 0.0], [90.0, 0.0], [90.0, 90.0], [0.0, 90.0]],
            vec![[30.0, 30.0], [30.0, 60.0], [60.0, 60.0], [60.0, 30.0]],
        ];
        let list = inscribed(&rings, 7200.0, 16);
        assert!(list.len() >= 8);
        for (i, (c, r)) in list.iter().enumerate() {
            let off = (c[0] - 45.0).abs().max((c[1] - 45.0).abs());
            assert!(off - r >= 15.0 - 1e-9 || (c[0] - 45.0).hypot(c[1] - 45.0) - r >= 15.0 - 1e-9);
            assert!(off + r <= 45.0 + 1e-9);
            for (d, q) in &list[..i] {
                assert!((c[0] - d[0]).hypot(c[1] - d[1]) >= r + q - 1e-9);
            }
        }
    }
}
