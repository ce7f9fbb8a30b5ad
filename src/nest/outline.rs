//! A part turned to one angle, ready for the collision tests, and the tests themselves.
//!
//! Outlines are drawn in by `TOUCH` beforehand, and in the tests a shared point counts as a
//! collision. So parts that touch exactly are clear of each other, and every true overlap deeper
//! than twice `TOUCH` is found, without a case for collinear edges or corner on corner.

use super::circles::{Circles, LANES};
use super::grow::drawn_in;
use super::plane::{NOTHING, Point, Ring, box_about, edges, side, sine_cosine, turned};
use crate::geom::{Rect, Vec2};

/// By how much each outline is drawn in, mm.
pub(super) const TOUCH: f64 = 5e-7;

/// Edges to a box of the finer boxes.
const CHUNK: usize = 8;

/// Edges as a struct of arrays, with what the searches need to know of the body.
#[derive(Debug, Clone)]
pub(super) struct Outline {
    pub(super) x0: Vec<f64>,
    pub(super) y0: Vec<f64>,
    pub(super) x1: Vec<f64>,
    pub(super) y1: Vec<f64>,
    /// Boxes of the edges, so many at a time.
    chunks: Vec<Rect>,
    /// Box of all edges, clearance included.
    pub(super) bounds: Rect,
    /// Box of the bare part, which has to stay within the sheet's margins.
    pub(super) extent: Rect,
    pub(super) circles: Circles,
    /// A length that stands for the part's size: the fourth root of (hull area)², halved into each
    /// pair's factor.
    pub(super) size: f64,
    /// The bare part's convex hull, from which the extent at other angles follows.
    pub(super) hull: Ring,
    /// The grown outline's corners before it was drawn in; kept at listed angles alone.
    pub(super) corners: Vec<Point>,
    /// The edges once more, each in one place; kept at listed angles alone.
    pub(super) quads: Vec<[f64; 4]>,
    /// Its number among the outlines at listed angles, for the tables of `pairs`; `u32::MAX` for
    /// all others.
    pub(super) stand: u32,
    /// How far its corners, clearance included, are from the origin at most, mm.
    pub(super) farthest: f64,
    /// How many rings it has.
    rings: usize,
}

impl Outline {
    /// An outline from rings grown by the clearance, which are drawn in here; `hull` is the bare
    /// part's.
    pub(super) fn new(grown: &[Ring], hull: Ring, circles: Circles, size: f64) -> Self {
        let rings = drawn_in(grown, TOUCH);
        let mut outline = Self {
            corners: grown.concat(),
            quads: Vec::new(),
            stand: u32::MAX,
            farthest: grown.iter().flatten().map(|p| p[0].hypot(p[1])).fold(0.0, f64::max),
            rings: grown.len(),
            x0: Vec::new(),
            y0: Vec::new(),
            x1: Vec::new(),
            y1: Vec::new(),
            chunks: Vec::new(),
            bounds: box_about(rings.iter().flatten()),
            extent: box_about(&hull),
            circles,
            size,
            hull,
        };
        for (a, b) in rings.iter().flat_map(|r| edges(r)) {
            outline.x0.push(a[0]);
            outline.y0.push(a[1]);
            outline.x1.push(b[0]);
            outline.y1.push(b[1]);
            outline.quads.push([a[0], a[1], b[0], b[1]]);
        }
        outline.box_chunks();
        outline
    }

    /// Writes this outline turned about the origin into `into`, re-using its memory.
    pub(super) fn turn_into(&self, angle: f64, into: &mut Self) {
        let sc = sine_cosine(angle);
        let n = self.x0.len();
        for v in [&mut into.x0, &mut into.y0, &mut into.x1, &mut into.y1] {
            v.resize(n, 0.0);
        }
        for i in 0..n {
            let a = turned([self.x0[i], self.y0[i]], sc);
            let b = turned([self.x1[i], self.y1[i]], sc);
            (into.x0[i], into.y0[i], into.x1[i], into.y1[i]) = (a[0], a[1], b[0], b[1]);
        }
        into.box_chunks();
        into.bounds = into.chunks.iter().fold(NOTHING, |all, chunk| Rect {
            x0: all.x0.min(chunk.x0),
            y0: all.y0.min(chunk.y0),
            x1: all.x1.max(chunk.x1),
            y1: all.y1.max(chunk.y1),
        });
        let mut extent = NOTHING;
        for p in &self.hull {
            let q = turned(*p, sc);
            extent.x0 = extent.x0.min(q[0]);
            extent.y0 = extent.y0.min(q[1]);
            extent.x1 = extent.x1.max(q[0]);
            extent.y1 = extent.y1.max(q[1]);
        }
        into.extent = extent;
        self.circles.turn_into(sc, &mut into.circles);
        into.size = self.size;
        into.farthest = self.farthest;
    }

    fn box_chunks(&mut self) {
        self.chunks.clear();
        for from in (0..self.x0.len()).step_by(CHUNK) {
            let edges = from..self.x0.len().min(from + CHUNK);
            let least =
                |v: &[f64], w: &[f64]| v.iter().chain(w).copied().fold(f64::INFINITY, f64::min);
            let most =
                |v: &[f64], w: &[f64]| v.iter().chain(w).copied().fold(f64::NEG_INFINITY, f64::max);
            let (xs, ys) = (
                (&self.x0[edges.clone()], &self.x1[edges.clone()]),
                (&self.y0[edges.clone()], &self.y1[edges]),
            );
            self.chunks.push(Rect {
                x0: least(xs.0, xs.1),
                y0: least(ys.0, ys.1),
                x1: most(xs.0, xs.1),
                y1: most(ys.0, ys.1),
            });
        }
    }

    /// The outline turned by `angle`.
    pub(super) fn at_angle(&self, angle: f64) -> Self {
        let mut out = self.clone();
        self.turn_into(angle, &mut out);
        out.corners = self.corners.iter().map(|p| turned(*p, sine_cosine(angle))).collect();
        out.hull = self.hull.iter().map(|p| turned(*p, sine_cosine(angle))).collect();
        out.quads =
            (0..out.x0.len()).map(|i| [out.x0[i], out.y0[i], out.x1[i], out.y1[i]]).collect();
        out
    }

    /// True when both have the same corners in the same order, wherever they begin.
    pub(super) fn same_as(&self, other: &Self) -> bool {
        let n = self.corners.len();
        let near =
            |p: &Point, q: &Point| (p[0] - q[0]).abs().max((p[1] - q[1]).abs()) < 0.1 * TOUCH;
        let shifts = |k: usize| (0..n).all(|i| near(&self.corners[i], &other.corners[(i + k) % n]));
        self.rings == 1 && other.rings == 1 && n == other.corners.len() && (0..n).any(shifts)
    }

    /// True when both have the same edges in the same order, wherever they begin: as
    /// [`Self::same_as`], of outlines at free angles too.
    pub(super) fn lies_as(&self, other: &Self) -> bool {
        let n = self.x0.len();
        let near = |i: usize, j: usize| {
            (self.x0[i] - other.x0[j]).abs().max((self.y0[i] - other.y0[j]).abs()) < TOUCH
        };
        self.rings == 1
            && other.rings == 1
            && n == other.x0.len()
            && (0..n).any(|k| (0..n).all(|i| near(i, (i + k) % n)))
    }

    /// Even-odd inclusion of a point in the material.
    pub(super) fn holds(&self, p: Point) -> bool {
        let mut odd = false;
        for i in 0..self.x0.len() {
            let (ay, by) = (self.y0[i], self.y1[i]);
            if (ay > p[1]) != (by > p[1]) {
                let left = side([self.x0[i], ay], [self.x1[i], by], p) > 0.0;
                odd ^= left == (by > ay);
            }
        }
        odd
    }
}

/// How badly `a`, moved by (dx, dy), overlaps `b`: 0 when they are clear, else a positive length
/// times a size, mm². The work stops once the result is known to pass `limit`; then infinity is
/// returned.
pub(super) fn overlap(
    a: &Outline,
    b: &Outline,
    dx: f64,
    dy: f64,
    limit: f64,
    near: &mut Vec<u32>,
) -> f64 {
    if !certain(a, b, dx, dy) && !edges_meet(a, b, dx, dy, near) && !nested(a, b, dx, dy) {
        return 0.0;
    }
    severity(a, b, dx, dy, limit)
}

/// Of two outlines whose edges nowhere meet: true when one lies in the other.
pub(super) fn nested(a: &Outline, b: &Outline, dx: f64, dy: f64) -> bool {
    b.holds([a.x0[0] + dx, a.y0[0] + dy]) || a.holds([b.x0[0] - dx, b.y0[0] - dy])
}

/// True when the largest circles overlap for certain, which settles most deep collisions.
#[allow(clippy::cast_possible_truncation)]
fn certain(a: &Outline, b: &Outline, dx: f64, dy: f64) -> bool {
    let (dx, dy) = (dx as f32, dy as f32);
    let (p, q) = (&a.circles, &b.circles);
    for i in 0..p.count.min(LANES) {
        let (x, y, r) = (p.x[i] + dx, p.y[i] + dy, p.r[i]);
        for j in 0..q.count.min(LANES) {
            let (ex, ey) = (x - q.x[j], y - q.y[j]);
            let reach = 0.999 * (r + q.r[j]);
            // The circles are single precision, so far from the origin a hair of overlap proves
            // nothing.
            if reach > 1e-3 * (dx.abs() + dy.abs()) && ex * ex + ey * ey < reach * reach * 0.998 {
                return true;
            }
        }
    }
    false
}

/// True when any edge of `a` (moved) shares a point with any edge of `b`.
fn edges_meet(a: &Outline, b: &Outline, dx: f64, dy: f64, near: &mut Vec<u32>) -> bool {
    let moved = a.bounds + Vec2::new(dx, dy);
    near.clear();
    for (j, chunk) in b.chunks.iter().enumerate() {
        if chunk.overlaps(moved) {
            #[allow(clippy::cast_possible_truncation)] // far fewer than 2^32 edges
            near.push(j as u32);
        }
    }
    for (i, chunk) in a.chunks.iter().enumerate() {
        let chunk = *chunk + Vec2::new(dx, dy);
        if chunk.overlaps(b.bounds)
            && near.iter().any(|&j| {
                chunk.overlaps(b.chunks[j as usize]) && chunks_meet((a, i), (b, j as usize), dx, dy)
            })
        {
            return true;
        }
    }
    false
}

/// As [`edges_meet`], of the edges in one box each.
fn chunks_meet((a, i): (&Outline, usize), (b, j): (&Outline, usize), dx: f64, dy: f64) -> bool {
    let f = &b.chunks[j];
    let others = CHUNK * j..b.x0.len().min(CHUNK * (j + 1));
    for i in CHUNK * i..a.x0.len().min(CHUNK * (i + 1)) {
        let (px, py, qx, qy) = (a.x0[i] + dx, a.y0[i] + dy, a.x1[i] + dx, a.y1[i] + dy);
        let (lx, hx, ly, hy) = (px.min(qx), px.max(qx), py.min(qy), py.max(qy));
        if hx < f.x0 || lx > f.x1 || hy < f.y0 || ly > f.y1 {
            continue;
        }
        for j in others.clone() {
            let (rx, ry, sx, sy) = (b.x0[j], b.y0[j], b.x1[j], b.y1[j]);
            if rx.max(sx) < lx || rx.min(sx) > hx || ry.max(sy) < ly || ry.min(sy) > hy {
                continue;
            }
            if segments_share((px, py, qx, qy), (rx, ry, sx, sy)) {
                return true;
            }
        }
    }
    false
}

/// True when two segments share a point. Plain arithmetic will do: its error is far below `TOUCH`,
/// and what is handed out is checked exactly.
#[inline]
pub(super) fn segments_share(
    (px, py, qx, qy): (f64, f64, f64, f64),
    (rx, ry, sx, sy): (f64, f64, f64, f64),
) -> bool {
    let (ux, uy) = (qx - px, qy - py);
    let o1 = ux * (ry - py) - uy * (rx - px);
    let o2 = ux * (sy - py) - uy * (sx - px);
    let (vx, vy) = (sx - rx, sy - ry);
    let o3 = vx * (py - ry) - vy * (px - rx);
    let o4 = vx * (qy - ry) - vy * (qx - rx);
    o1 * o2 <= 0.0 && o3 * o4 <= 0.0
}

/// Severity of an overlap known to be real, mm²:
///
/// S = √(Σᵢⱼ f(dᵢⱼ) · min(rᵢ, rⱼ)) · √(s · s′)
///
/// over all pairs of inscribed circles, with dᵢⱼ the penetration rᵢ + rⱼ − distance (mm), f(d) = d
/// for d ≥ e and the hyperbola e² / (2e − d) below, so that it stays above zero and still points
/// the way out when the circles are clear though the outlines are not; e is a hundredth of the
/// larger part; s and s′ the sizes of the parts (mm). Source: Gardeyn, Vanden Berghe and Wauters
/// 2025, arXiv 2509.13329, after the multi-sphere scheme of Imamichi and Nagamochi 2008.
#[allow(clippy::cast_possible_truncation)]
pub(super) fn severity(a: &Outline, b: &Outline, dx: f64, dy: f64, limit: f64) -> f64 {
    let (dx, dy) = (dx as f32, dy as f32);
    let (p, q) = (&a.circles, &b.circles);
    let (e, factor) = measures(a, b);
    let most = (limit / factor) as f32;
    let most = most * most;
    let sum = sum_of_circles((p, dx, dy), q, e, most, Some(&b.bounds));
    let sum = if sum > 0.0 { sum } else { sum_of_circles((p, dx, dy), q, e, most, None) };
    if sum > most {
        return f64::INFINITY;
    }
    f64::from(sum.sqrt()).max(1e-12) * factor
}

/// The depth from which on overlaps of a pair count in full, e of [`severity`], and the size they
/// count with, both mm.
#[allow(clippy::cast_possible_truncation)]
pub(super) fn measures(a: &Outline, b: &Outline) -> (f32, f64) {
    ((0.01 * a.size.max(b.size)) as f32, (a.size * b.size).sqrt())
}

/// A depth from `e` on, both mm; below it the hyperbola e² / (2e − d), which stays above zero.
#[inline]
pub(super) fn eased(d: f32, e: f32) -> f32 {
    if d >= e { d } else { e * e / (2.0 * e - d) }
}

/// The double sum of `severity`. With `window`, the box of the other part, circles that stay clear
/// of it by more than 2e are left out, as they add next to nothing.
#[allow(clippy::cast_possible_truncation)]
fn sum_of_circles(
    (p, dx, dy): (&Circles, f32, f32),
    q: &Circles,
    e: f32,
    most: f32,
    window: Option<&Rect>,
) -> f32 {
    let (wx0, wy0, wx1, wy1) = window.map_or((f32::MIN, f32::MIN, f32::MAX, f32::MAX), |w| {
        let e2 = 2.0 * e;
        (w.x0 as f32 - e2, w.y0 as f32 - e2, w.x1 as f32 + e2, w.y1 as f32 + e2)
    });
    let mut sum = 0.0f32;
    for i in 0..p.count {
        let (x, y, r) = (p.x[i] + dx, p.y[i] + dy, p.r[i]);
        if x + r < wx0 || x - r > wx1 || y + r < wy0 || y - r > wy1 {
            continue;
        }
        let mut lanes = [0.0f32; LANES];
        for ((qx, qy), qr) in
            q.x.chunks_exact(LANES).zip(q.y.chunks_exact(LANES)).zip(q.r.chunks_exact(LANES))
        {
            for k in 0..LANES {
                let (ex, ey) = (x - qx[k], y - qy[k]);
                let d = r + qr[k] - (ex * ex + ey * ey).sqrt();
                lanes[k] += eased(d, e) * r.min(qr[k]);
            }
        }
        sum += (lanes[0] + lanes[1]) + (lanes[2] + lanes[3]);
        if sum > most {
            break;
        }
    }
    sum
}

#[cfg(test)]
#[allow(clippy::float_cmp)] // exactly 0 means clear
mod tests {
    use super::*;
    use crate::nest::circles::inscribed;

    fn outline(rings: &[Ring]) -> Outline {
        let circles = Circles::new(&inscribed(rings, f64::INFINITY, 16));
        Outline::new(rings, rings[0].clone(), circles, 10.0)
    }

    fn square(size: f64) -> Ring {
        vec![[0.0, 0.0], [size, 0.0], [size, size], [0.0, size]]
    }

    fn bad(a: &Outline, b: &Outline, dx: f64, dy: f64) -> f64 {
        overlap(a, b, dx, dy, f64::INFINITY, &mut Vec::new())
    }

    #[test]
    fn touching_is_clear_and_a_hair_of_overlap_is_not() {
        let (a, b) = (outline(&[square(10.0)]), outline(&[square(10.0)]));
        for (dx, dy) in [(10.0, 0.0), (-10.0, 3.0), (0.0, 10.0), (10.0, 10.0), (25.0, 0.0)] {
            assert_eq!(bad(&a, &b, dx, dy), 0.0, "{dx} {dy}");
        }
        for (dx, dy) in
            [(9.999_99, 0.0), (0.0, 9.999_99), (0.0, 0.0), (5.0, 0.0), (-9.999_99, 9.999_99)]
        {
            assert!(bad(&a, &b, dx, dy) > 0.0, "{dx} {dy}");
        }
    }

    #[test]
    fn an_opening_is_free_and_its_rim_is_not() {
        let frame =
            outline(&[square(30.0), vec![[5.0, 5.0], [5.0, 25.0], [25.0, 25.0], [25.0, 5.0]]]);
        let small = outline(&[square(10.0)]);
        assert_eq!(bad(&small, &frame, 10.0, 10.0), 0.0);
        assert_eq!(bad(&small, &frame, 5.0, 15.0), 0.0);
        assert!(bad(&small, &frame, 4.99, 10.0) > 0.0);
        let solid = outline(&[square(30.0)]);
        assert!(bad(&small, &solid, 10.0, 10.0) > 0.0, "wholly inside");
        assert!(bad(&solid, &small, -10.0, -10.0) > 0.0, "wholly about");
        // Exactly the opening's size goes in.
        let exact = outline(&[square(20.0)]);
        assert_eq!(bad(&exact, &frame, 5.0, 5.0), 0.0);
    }

    #[test]
    fn deeper_is_worse_and_the_limit_stops() {
        let (a, b) = (outline(&[square(10.0)]), outline(&[square(10.0)]));
        let depths: Vec<f64> =
            [9.5, 8.0, 6.0, 3.0].iter().map(|dx| bad(&a, &b, *dx, 0.0)).collect();
        assert!(depths.windows(2).all(|w| w[0] < w[1]), "{depths:?}");
        assert_eq!(overlap(&a, &b, 3.0, 0.0, 0.5 * depths[3], &mut Vec::new()), f64::INFINITY);
    }
}
