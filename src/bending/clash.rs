//! Where metal is in the way of tools, and where it is in its own.

use super::tooling::Body;
use crate::formed::{SpaceTriangle, solids_meet};
use crate::geom::Point;
use crate::geom::space::{Space, SpaceBox};

/// Metal that a tool's edge enters by less than this touches it, mm.
const GRAZE: f64 = 0.01;

/// The stretch along the bend, from x to x, over which `surface` and `body` share room.
pub(super) fn stretch_in(surface: &[SpaceTriangle], body: &Body) -> Option<[f64; 2]> {
    let own = SpaceBox::about(surface.iter().flatten());
    let mut stretch: Option<[f64; 2]> = None;
    for piece in &body.pieces {
        if !meets(&own, piece) {
            continue;
        }
        let (low, high) = box_of(piece);
        let is_near = |triangle: &&SpaceTriangle| {
            let over = |axis: usize, low: f64, high: f64| {
                triangle.iter().any(|p| p[axis] > low) && triangle.iter().any(|p| p[axis] < high)
            };
            over(1, low.x, high.x) && over(2, low.y, high.y)
        };
        for triangle in surface.iter().filter(is_near) {
            if let Some([low, high]) = stretch_of(triangle, piece) {
                let [from, to] = stretch.unwrap_or([low, high]);
                stretch = Some([from.min(low), to.max(high)]);
            }
        }
    }
    stretch
}

fn box_of([a, b, c]: &[Point; 3]) -> (Point, Point) {
    let low = Point::new(a.x.min(b.x).min(c.x), a.y.min(b.y).min(c.y));
    (low, Point::new(a.x.max(b.x).max(c.x), a.y.max(b.y).max(c.y)))
}

fn meets(own: &SpaceBox, piece: &[Point; 3]) -> bool {
    let (low, high) = box_of(piece);
    low.x < own.high[1] && own.low[1] < high.x && low.y < own.high[2] && own.low[2] < high.y
}

/// Whether two solids share room; only what of each is in the other's box is looked at.
pub(super) fn share_room(one: &[SpaceTriangle], two: &[SpaceTriangle]) -> bool {
    let (first, second) =
        (SpaceBox::about(one.iter().flatten()), SpaceBox::about(two.iter().flatten()));
    let near = |surface: &[SpaceTriangle], other: &SpaceBox| -> Vec<SpaceTriangle> {
        surface
            .iter()
            .filter(|triangle| SpaceBox::about(*triangle).gap(other) <= 0.0)
            .copied()
            .collect()
    };
    let (one, two) = (near(one, &second), near(two, &first));
    !one.is_empty() && !two.is_empty() && solids_meet(&one, &two).is_some()
}

/// The stretch in x of the part of a triangle that lies inside a prism along x over `piece`,
/// counter-clockwise in y and z.
fn stretch_of(triangle: &SpaceTriangle, piece: &[Point; 3]) -> Option<[f64; 2]> {
    let mut left: Vec<Space> = triangle.to_vec();
    for i in 0..3 {
        let (a, b) = (piece[i], piece[(i + 1) % 3]);
        let edge = (b - a).normalize();
        let inside = |p: &Space| edge.x * (p[2] - a.y) - edge.y * (p[1] - a.x) - GRAZE;
        left = clipped(&left, inside);
        if left.is_empty() {
            return None;
        }
    }
    let fold = |f: fn(f64, f64) -> f64, start: f64| left.iter().map(|p| p[0]).fold(start, f);
    Some([fold(f64::min, f64::INFINITY), fold(f64::max, f64::NEG_INFINITY)])
}

/// The part of a polygon on which `inside` is above zero; `inside` is linear.
fn clipped(polygon: &[Space], inside: impl Fn(&Space) -> f64) -> Vec<Space> {
    let mut left = Vec::with_capacity(polygon.len() + 2);
    for (i, p) in polygon.iter().enumerate() {
        let q = &polygon[(i + 1) % polygon.len()];
        let (here, there) = (inside(p), inside(q));
        if here > 0.0 {
            left.push(*p);
        }
        if (here > 0.0) != (there > 0.0) {
            let share = here / (here - there);
            left.push([0, 1, 2].map(|k| p[k] + (q[k] - p[k]) * share));
        }
    }
    left
}

/// The corners of what of a surface lies at heights from `low` to `high` and farther back than
/// `front`.
pub(super) fn corners_in_band(
    surface: &[SpaceTriangle],
    low: f64,
    high: f64,
    front: f64,
) -> Vec<Space> {
    let mut corners = Vec::new();
    for triangle in surface {
        let left = clipped(triangle, |p| p[2] - low);
        let left = clipped(&left, |p| high - p[2]);
        corners.extend(clipped(&left, |p| p[1] - front));
    }
    corners
}
