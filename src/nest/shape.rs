//! What the caller hands in as outlines, and the check that each is one simple polygon.

use super::plane::{Point, Ring, box_about, diagonal, edges, inside, segments_cross, twice_area};
use std::fmt;

/// Points nearer to each other than this are one point, mm. A ten-thousandth of the clearance
/// promised.
const SAME_POINT: f64 = 1e-6;

/// A flat part, a sheet or a remnant: an outline with openings, mm.
///
/// The caller flattens arcs outward (openings inward), so that the polygon contains the part.
/// Either direction of walking is accepted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shape {
    /// The outer outline; the last point is joined to the first.
    pub outer: Vec<[f64; 2]>,
    /// Openings inside the outline.
    pub openings: Vec<Vec<[f64; 2]>>,
}

impl Shape {
    /// A rectangle with its lower left corner at 0, 0.
    #[must_use]
    pub fn rectangle(length: f64, width: f64) -> Self {
        Self {
            outer: vec![[0.0, 0.0], [length, 0.0], [length, width], [0.0, width]],
            openings: Vec::new(),
        }
    }

    /// Area of the material, openings taken out, mm².
    #[must_use]
    pub fn area(&self) -> f64 {
        let one = |r: &Vec<Point>| 0.5 * twice_area(r).abs();
        one(&self.outer) - self.openings.iter().map(one).sum::<f64>()
    }

    /// The other hand: mirrored in x.
    #[must_use]
    pub fn other_hand(&self) -> Self {
        let flip = |r: &Vec<Point>| r.iter().rev().map(|p| [-p[0], p[1]]).collect();
        Self { outer: flip(&self.outer), openings: self.openings.iter().map(flip).collect() }
    }
}

/// Why an outline cannot be used.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Fault {
    /// A coordinate is not a number, or beyond 1 km from the origin.
    NotFinite,
    /// Fewer than three different points.
    TooFewPoints,
    /// It encloses no area.
    NoArea,
    /// Two of its edges cross, near this point.
    CrossesItself {
        /// Where, mm.
        at: [f64; 2],
    },
    /// The opening of this index lies outside the outline, or inside another opening.
    OpeningOutside {
        /// Which opening, counted from 0.
        opening: usize,
    },
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotFinite => write!(f, "a coordinate is not a number or is beyond 1 km"),
            Self::TooFewPoints => write!(f, "the outline has fewer than three different points"),
            Self::NoArea => write!(f, "the outline encloses no area"),
            Self::CrossesItself { at } => {
                write!(f, "the outline crosses itself near ({:.3}, {:.3})", at[0], at[1])
            }
            Self::OpeningOutside { opening } => {
                write!(
                    f,
                    "opening {} does not lie inside the outline, clear of the other openings",
                    opening + 1
                )
            }
        }
    }
}

/// The rings of a sound shape: outer first and counter-clockwise, openings clockwise, no doubled
/// points.
pub(super) fn sound_rings(shape: &Shape) -> Result<Vec<Ring>, Fault> {
    let mut rings = Vec::with_capacity(1 + shape.openings.len());
    for (i, raw) in std::iter::once(&shape.outer).chain(&shape.openings).enumerate() {
        if raw.iter().flatten().any(|v| !v.is_finite() || v.abs() > 1e6) {
            return Err(Fault::NotFinite);
        }
        let mut ring = without_doubles(raw);
        if ring.len() < 3 {
            return Err(Fault::TooFewPoints);
        }
        let area = twice_area(&ring);
        let frame = box_about(&ring);
        if area.abs() <= SAME_POINT * diagonal(frame) {
            // A bow tie of equal halves has no net area either; say the more useful thing.
            return Err(crossing(&[ring]).map_or(Fault::NoArea, |at| Fault::CrossesItself { at }));
        }
        if (area > 0.0) != (i == 0) {
            ring.reverse();
        }
        rings.push(ring);
    }
    if let Some(at) = crossing(&rings) {
        return Err(Fault::CrossesItself { at });
    }
    for i in 1..rings.len() {
        // The point lies in the ring itself, so by the even-odd rule it is in the rest exactly if
        // it isn't in all of them.
        if inside(&rings, interior_point(&rings[i])) {
            return Err(Fault::OpeningOutside { opening: i - 1 });
        }
    }
    Ok(rings)
}

/// A point surely inside a simple ring: the middle of the longest run inside on a line through the
/// ring.
fn interior_point(ring: &Ring) -> Point {
    let mut heights: Vec<f64> = ring.iter().map(|p| p[1]).collect();
    heights.sort_by(f64::total_cmp);
    let gap = heights.windows(2).max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])));
    let y = gap.map_or(ring[0][1], |g| 0.5 * (g[0] + g[1]));
    let mut cuts: Vec<f64> = edges(ring)
        .filter(|(a, b)| (a[1] > y) != (b[1] > y))
        .map(|(a, b)| a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]))
        .collect();
    cuts.sort_by(f64::total_cmp);
    let run = cuts.chunks_exact(2).max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])));
    [run.map_or(ring[0][0], |r| 0.5 * (r[0] + r[1])), y]
}

fn without_doubles(raw: &[Point]) -> Ring {
    let near = |a: &Point, b: &Point| {
        (a[0] - b[0]).abs() <= SAME_POINT && (a[1] - b[1]).abs() <= SAME_POINT
    };
    let mut ring: Ring = Vec::with_capacity(raw.len());
    for p in raw {
        if ring.last().is_none_or(|q| !near(p, q)) {
            ring.push(*p);
        }
    }
    while ring.len() > 1 && near(&ring[0], &ring[ring.len() - 1]) {
        ring.pop();
    }
    ring
}

/// A point where two edges cross, by a sweep along x over the edges sorted by their left ends.
fn crossing(rings: &[Ring]) -> Option<Point> {
    let mut all: Vec<(Point, Point)> = rings.iter().flat_map(|r| edges(r)).collect();
    all.sort_by(|p, q| p.0[0].min(p.1[0]).total_cmp(&q.0[0].min(q.1[0])));
    let mut open: Vec<(Point, Point)> = Vec::new();
    for &(a, b) in &all {
        let left = a[0].min(b[0]);
        open.retain(|(c, d)| c[0].max(d[0]) >= left);
        for &(c, d) in &open {
            if segments_cross(a, b, c, d) {
                let (ux, uy, vx, vy) = (b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]);
                let t = ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / (ux * vy - uy * vx);
                return Some([a[0] + t * ux, a[1] + t * uy]);
            }
        }
        open.push((a, b));
    }
    None
}
