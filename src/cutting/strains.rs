//! Which stretches of a blank's edges the forming stretches, so that no cut begins there.

use super::{BlankEdges, Edge};
use crate::flat::{EdgeStrain, Flat};
use crate::geom::{Point, Polyarc};

/// Distance between the places along an edge at which its stretch is noted, mm.
const APART: f64 = 4.0;

/// Chords of the edge along which places are noted, mm off it at most.
const CHORD: f64 = 0.1;

/// A place of an edge and what the forming does to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgePlace {
    /// Where, in the blank.
    pub at: Point,
    /// Engineering strain of the finished edge, positive where it grows.
    pub stretch: f64,
}

/// The edges of a blank with what is known of their stretch.
#[must_use]
pub fn blank_edges(flat: &Flat) -> BlankEdges {
    let mut edges: Vec<Edge> = std::iter::once(&flat.outside)
        .chain(&flat.openings)
        .map(|outline| Edge { outline: outline.clone(), stretched: Vec::new() })
        .collect();
    let Some(forming) = &flat.forming else { return edges };
    let mut along: Vec<Along> = edges.iter().map(|edge| Along::new(&edge.outline)).collect();
    for pair in forming.edge.windows(2) {
        // Within one side; from side to side the places fall together.
        if pair[1].along <= pair[0].along || pair.iter().all(|place| place.strain <= 0.0) {
            continue;
        }
        let total = |edge: &Along| edge.nearest(pair[0].at).0 + edge.nearest(pair[1].at).0;
        let nearest = (0..along.len()).min_by(|&i, &j| total(&along[i]).total_cmp(&total(&along[j])));
        if let Some(nearest) = nearest {
            along[nearest].pairs.push((pair[0], pair[1]));
        }
    }
    for (edge, along) in edges.iter_mut().zip(&mut along) {
        edge.stretched = along.places();
    }
    edges
}

/// An edge as points with their distance along it.
struct Along {
    points: Vec<Point>,
    at: Vec<f64>,
    length: f64,
    /// Neighbouring places of the finished edge.
    pairs: Vec<(EdgeStrain, EdgeStrain)>,
}

impl Along {
    fn new(outline: &Polyarc) -> Self {
        let mut points = outline.flatten(CHORD);
        points.extend(points.first().copied());
        let mut at = vec![0.0];
        for pair in points.windows(2) {
            at.push(at[at.len() - 1] + pair[0].distance(pair[1]));
        }
        Self { length: at[at.len() - 1], points, at, pairs: Vec::new() }
    }

    /// How far a point is from the edge, and how far along it the nearest place is.
    fn nearest(&self, p: Point) -> (f64, f64) {
        let mut best = (f64::INFINITY, 0.0);
        for (i, pair) in self.points.windows(2).enumerate() {
            let (way, to) = (pair[1] - pair[0], p - pair[0]);
            let u = if way.hypot2() > 0.0 { (to.dot(way) / way.hypot2()).clamp(0.0, 1.0) } else { 0.0 };
            let off = p.distance(pair[0].lerp(pair[1], u));
            if off < best.0 {
                best = (off, self.at[i] + u * way.hypot());
            }
        }
        best
    }

    fn point(&self, along: f64) -> Point {
        let along = along.rem_euclid(self.length);
        let i = self.at.partition_point(|at| *at <= along).clamp(1, self.points.len() - 1);
        let span = self.at[i] - self.at[i - 1];
        let u = if span > 0.0 { (along - self.at[i - 1]) / span } else { 0.0 };
        self.points[i - 1].lerp(self.points[i], u)
    }

    /// Places between the pairs that the forming gave, which follow one another one way round the edge or the other.
    fn places(&self) -> Vec<EdgePlace> {
        let spans: Vec<(f64, f64)> = self
            .pairs
            .iter()
            .map(|(from, to)| {
                let start = self.nearest(from.at).1;
                (start, (self.nearest(to.at).1 - start).rem_euclid(self.length))
            })
            .collect();
        let forward: f64 = spans.iter().map(|(_, way)| way).sum();
        let backward: f64 = spans.iter().map(|(_, way)| self.length - way).sum();
        let mut places = Vec::new();
        for ((from, to), (start, way)) in self.pairs.iter().zip(spans) {
            let way = if forward <= backward { way } else { way - self.length };
            if way.abs() > 0.9 * self.length {
                continue;
            }
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 1..=10000")]
            let steps = (way.abs() / APART).ceil().clamp(1.0, 1e4) as u32;
            places.extend((0..=steps).map(|k| {
                let u = f64::from(k) / f64::from(steps);
                EdgePlace { at: self.point(start + way * u), stretch: from.strain + (to.strain - from.strain) * u }
            }));
        }
        places
    }
}
