//! Which stretches of a blank's edges the forming stretches, so that no cut begins there.

use super::{BlankEdges, Edge};
use crate::flat::Flat;
use crate::geom::{Chain, Point};
use crate::shell::EdgeStrain;

/// Distance between the places along an edge at which its stretch is noted, mm.
const APART: f64 = 4.0;

/// A place of an edge and what the forming does to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgePlace {
    /// Where, in the blank.
    pub at: Point,
    /// Engineering strain of the edge as cut, positive where it grows.
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
    let mut along: Vec<Pairs> = edges
        .iter()
        .map(|edge| Pairs { edge: Chain::closed(&edge.outline), pairs: Vec::new() })
        .collect();
    for pair in forming.edge.windows(2) {
        // Within one side; from side to side the places fall together.
        if pair[1].along <= pair[0].along || pair.iter().all(|place| place.strain <= 0.0) {
            continue;
        }
        let total = |on: &Pairs| on.edge.nearest(pair[0].at).0 + on.edge.nearest(pair[1].at).0;
        let nearest =
            (0..along.len()).min_by(|&i, &j| total(&along[i]).total_cmp(&total(&along[j])));
        if let Some(nearest) = nearest {
            along[nearest].pairs.push((pair[0], pair[1]));
        }
    }
    for (edge, along) in edges.iter_mut().zip(&mut along) {
        edge.stretched = along.places();
    }
    edges
}

/// An edge, and the neighbouring places of it whose strain the forming gave.
struct Pairs {
    edge: Chain,
    pairs: Vec<(EdgeStrain, EdgeStrain)>,
}

impl Pairs {
    /// Places between the pairs, which follow one another one way round the edge or the other.
    fn places(&self) -> Vec<EdgePlace> {
        let length = self.edge.length();
        let spans: Vec<(f64, f64)> = self
            .pairs
            .iter()
            .map(|(from, to)| {
                let start = self.edge.nearest(from.at).1;
                (start, (self.edge.nearest(to.at).1 - start).rem_euclid(length))
            })
            .collect();
        let forward: f64 = spans.iter().map(|(_, way)| way).sum();
        let backward: f64 = spans.iter().map(|(_, way)| length - way).sum();
        let mut places = Vec::new();
        for ((from, to), (start, way)) in self.pairs.iter().zip(spans) {
            let way = if forward <= backward { way } else { way - length };
            if way.abs() > 0.9 * length {
                continue;
            }
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "clamped to 1..=10000"
            )]
            let steps = (way.abs() / APART).ceil().clamp(1.0, 1e4) as u32;
            places.extend((0..=steps).filter_map(|k| {
                let u = f64::from(k) / f64::from(steps);
                let (at, _) = self.edge.at(start + way * u)?;
                Some(EdgePlace { at, stretch: from.strain + (to.strain - from.strain) * u })
            }));
        }
        places
    }
}
