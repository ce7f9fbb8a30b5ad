//! Points, boxes and exact predicates in the plane; millimetres throughout.

use robust::{Coord, orient2d};

use crate::geom::Rect;

/// A point or a direction, [x, y] in mm.
pub(super) type Point = [f64; 2];

/// A closed ring of points, the last one joined to the first.
pub(super) type Ring = Vec<Point>;

/// The box of nothing, ready to be grown by points.
pub(super) const NOTHING: Rect =
    Rect { x0: f64::INFINITY, y0: f64::INFINITY, x1: f64::NEG_INFINITY, y1: f64::NEG_INFINITY };

/// The smallest upright box about `points`.
pub(super) fn box_about<'a>(points: impl IntoIterator<Item = &'a Point>) -> Rect {
    let mut bounds = NOTHING;
    for p in points {
        bounds.x0 = bounds.x0.min(p[0]);
        bounds.y0 = bounds.y0.min(p[1]);
        bounds.x1 = bounds.x1.max(p[0]);
        bounds.y1 = bounds.y1.max(p[1]);
    }
    bounds
}

/// The middle of a box.
pub(super) fn middle(bounds: Rect) -> Point {
    let middle = bounds.center();
    [middle.x, middle.y]
}

/// Length of a box's diagonal, mm.
pub(super) fn diagonal(bounds: Rect) -> f64 {
    bounds.size().to_vec2().hypot()
}

/// Twice the area of a ring, positive when it runs counter-clockwise (the shoelace sum, taken about
/// the first point).
pub(super) fn twice_area(ring: &[Point]) -> f64 {
    let Some(o) = ring.first() else { return 0.0 };
    edges(ring).map(|(a, b)| (a[0] - o[0]) * (b[1] - o[1]) - (b[0] - o[0]) * (a[1] - o[1])).sum()
}

/// The edges of a ring.
pub(super) fn edges(ring: &[Point]) -> impl Iterator<Item = (Point, Point)> + '_ {
    let n = ring.len();
    (0..n).map(move |i| (ring[i], ring[if i + 1 == n { 0 } else { i + 1 }]))
}

/// Sign-exact orientation of c against the line from a to b: positive on the left (Shewchuk 1997,
/// adaptive precision).
pub(super) fn side(a: Point, b: Point, c: Point) -> f64 {
    let at = |p: Point| Coord { x: p[0], y: p[1] };
    orient2d(at(a), at(b), at(c))
}

/// True when the closed segments ab and cd share a point, decided exactly.
pub(super) fn segments_meet(a: Point, b: Point, c: Point, d: Point) -> bool {
    let apart = |i: usize| a[i].max(b[i]) < c[i].min(d[i]) || c[i].max(d[i]) < a[i].min(b[i]);
    if apart(0) || apart(1) {
        return false;
    }
    let split = |p: f64, q: f64| (p > 0.0 && q > 0.0) || (p < 0.0 && q < 0.0);
    !split(side(a, b, c), side(a, b, d)) && !split(side(c, d, a), side(c, d, b))
}

/// True when ab and cd cross in one point inside both; touching does not count.
pub(super) fn segments_cross(a: Point, b: Point, c: Point, d: Point) -> bool {
    let split = |p: f64, q: f64| (p > 0.0 && q < 0.0) || (p < 0.0 && q > 0.0);
    split(side(a, b, c), side(a, b, d)) && split(side(c, d, a), side(c, d, b))
}

/// Even-odd inclusion of `p` in the material of `rings`; a point on an edge may fall either way.
pub(super) fn inside(rings: &[Ring], p: Point) -> bool {
    let mut odd = false;
    for (a, b) in rings.iter().flat_map(|r| edges(r)) {
        if (a[1] > p[1]) != (b[1] > p[1]) {
            let left = side(a, b, p) > 0.0;
            odd ^= left == (b[1] > a[1]);
        }
    }
    odd
}

/// Square of the distance from `p` to the segment ab, mm².
pub(super) fn to_segment_squared(p: Point, a: Point, b: Point) -> f64 {
    let (ux, uy) = (b[0] - a[0], b[1] - a[1]);
    let length2 = ux * ux + uy * uy;
    let t = if length2 > 0.0 {
        (((p[0] - a[0]) * ux + (p[1] - a[1]) * uy) / length2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let (x, y) = (p[0] - a[0] - t * ux, p[1] - a[1] - t * uy);
    x * x + y * y
}

/// Distance between two segments; 0 when they meet.
pub(super) fn between_segments(a: Point, b: Point, c: Point, d: Point) -> f64 {
    if segments_meet(a, b, c, d) {
        return 0.0;
    }
    let ends = to_segment_squared(a, c, d).min(to_segment_squared(b, c, d));
    ends.min(to_segment_squared(c, a, b)).min(to_segment_squared(d, a, b)).sqrt()
}

/// Convex hull, counter-clockwise (Andrew 1979, the monotone chain).
pub(super) fn hull(points: &[Point]) -> Ring {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let mut chain: Ring = Vec::with_capacity(2 * sorted.len());
    let mut half = |points: &mut dyn Iterator<Item = Point>| {
        let start = chain.len();
        for p in points {
            while chain.len() >= start + 2
                && side(chain[chain.len() - 2], chain[chain.len() - 1], p) <= 0.0
            {
                chain.pop();
            }
            chain.push(p);
        }
        chain.pop();
    };
    half(&mut sorted.iter().copied());
    half(&mut sorted.iter().rev().copied());
    chain
}

/// Sine and cosine, exact at quarter turns so that square parts stay square.
pub(super) fn sine_cosine(angle: f64) -> (f64, f64) {
    let (s, c) = angle.sin_cos();
    let clean = |v: f64| if (v - v.round()).abs() < 1e-12 { v.round() } else { v };
    (clean(s), clean(c))
}

/// `p` turned about the origin.
pub(super) fn turned(p: Point, (s, c): (f64, f64)) -> Point {
    [c * p[0] - s * p[1], s * p[0] + c * p[1]]
}
