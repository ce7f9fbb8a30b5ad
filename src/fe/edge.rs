//! The load on free edges that makes the least-work blank the one whose formed edge is free of force.
//!
//! Moving a flat node also changes how much metal the blank holds. Where work is stationary over the flat positions, the
//! configurational stress W I − Fᵀ P is balanced; inside the sheet that is the same as balanced forces on the formed part,
//! but a free edge would be left with the normal stress W instead of 0: the minimum saves work by cutting metal away. The
//! cure is a load on the flat edge, f = t0 W N for each mm of it (N outward normal, W work density at the edge), taken anew
//! for each Newton step. Derivation as stated; checked by the exact walls of `tests/fe_wall.rs`.
//!
//! At a free edge the sheet is in plain tension or compression along the edge, and there dW/de_n = σ_n = 0: the work hangs
//! on the strain along the edge alone, q = e², e = ln(formed length / flat length) of that very edge. So W is known at the
//! edge itself, to the second order of the element size, without any reading off from the triangles beside it.

use super::element::{Element, Sheet, Stretch};
use super::membrane::EdgeWork;

/// One free edge of the sheet, its triangle on the left.
#[derive(Debug, Clone, Copy)]
struct FreeEdge {
    ends: [usize; 2],
    /// Length on the formed part, mm.
    formed: f64,
}

/// Free edges, and the triangles round their nodes.
#[derive(Debug, Clone)]
pub(super) struct FreeEdges {
    edges: Vec<FreeEdge>,
    /// Edge nodes, ascending, and the triangles at each.
    nodes: Vec<(usize, Vec<usize>)>,
}

/// Triangles with their formed elements.
#[derive(Debug, Clone, Copy)]
pub(super) struct Body<'a> {
    pub(super) triangles: &'a [[usize; 3]],
    pub(super) elements: &'a [Element],
}

impl Body<'_> {
    pub(super) fn corners(&self, index: usize, flat: &[[f64; 2]]) -> [[f64; 2]; 3] {
        self.triangles[index].map(|node| flat[node])
    }
}

impl FreeEdges {
    /// Edges that belong to one triangle only and are not held at both ends; `formed` as in the membrane.
    pub(super) fn new(triangles: &[[usize; 3]], formed: &[[[f64; 2]; 2]], held: &[[bool; 2]]) -> Self {
        let mut sides = Vec::with_capacity(3 * triangles.len());
        for (corners, [x, y]) in triangles.iter().zip(formed) {
            let lengths = [x[0].hypot(y[0]), (x[1] - x[0]).hypot(y[1] - y[0]), x[1].hypot(y[1])];
            for a in 0..3 {
                sides.push(FreeEdge { ends: [corners[a], corners[(a + 1) % 3]], formed: lengths[a] });
            }
        }
        let name = |side: &FreeEdge| [side.ends[0].min(side.ends[1]), side.ends[0].max(side.ends[1])];
        sides.sort_unstable_by_key(|side| (name(side), side.ends));
        let whole = |node: usize| held[node] == [true, true];
        let edges: Vec<FreeEdge> = sides
            .chunk_by(|a, b| name(a) == name(b))
            .filter_map(|same| if let [only] = same { Some(*only) } else { None })
            .filter(|edge| !edge.ends.iter().all(|node| whole(*node)))
            .collect();
        let mut names: Vec<usize> = edges.iter().flat_map(|edge| edge.ends).collect();
        names.sort_unstable();
        names.dedup();
        let mut nodes: Vec<(usize, Vec<usize>)> = names.into_iter().map(|node| (node, Vec::new())).collect();
        for (index, corners) in triangles.iter().enumerate() {
            for corner in corners {
                if let Ok(place) = nodes.binary_search_by_key(corner, |(node, _)| *node) {
                    nodes[place].1.push(index);
                }
            }
        }
        Self { edges, nodes }
    }

    /// Nodes on free edges, in ascending order.
    pub(super) fn nodes(&self) -> impl Iterator<Item = usize> {
        self.nodes.iter().map(|(node, _)| *node)
    }

    /// The load f on every node, N, at the flat positions: each free edge carries t0 W N, W linear between its ends.
    pub(super) fn load(&self, sheet: &Sheet, body: &Body, flat: &[[f64; 2]], rule: EdgeWork) -> Vec<[f64; 2]> {
        let mut load = vec![[0.0; 2]; flat.len()];
        if rule == EdgeWork::None {
            return load;
        }
        for edge in &self.edges {
            let [a, b] = edge.ends;
            let along = [flat[b][0] - flat[a][0], flat[b][1] - flat[a][1]];
            let [wa, wb] = if rule == EdgeWork::Mean {
                edge.ends.map(|node| self.mean_work(sheet, body, flat, node))
            } else {
                let strain = (edge.formed / along[0].hypot(along[1])).ln();
                [sheet.law.work(strain * strain, sheet.d0).w; 2]
            };
            let outward = [along[1], -along[0]];
            for axis in 0..2 {
                load[a][axis] += sheet.thickness * outward[axis] * (2.0 * wa + wb) / 6.0;
                load[b][axis] += sheet.thickness * outward[axis] * (wa + 2.0 * wb) / 6.0;
            }
        }
        load
    }

    /// Mean work density of an edge node's triangles, by flat area.
    fn mean_work(&self, sheet: &Sheet, body: &Body, flat: &[[f64; 2]], node: usize) -> f64 {
        let around = self.nodes.binary_search_by_key(&node, |(node, _)| *node).map_or(&[][..], |place| &self.nodes[place].1);
        let (sum, area) = around.iter().fold((0.0, 0.0), |(sum, total), index| {
            let stretch = Stretch::of(&body.elements[*index].map(&body.corners(*index, flat)));
            let area = body.elements[*index].area * stretch.s[0] * stretch.s[1];
            (sum + area * Element::density(sheet, &stretch), total + area)
        });
        sum / area
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two triangles of a square, its left side held: the other three sides are free.
    #[test]
    fn free_edges_of_a_square() {
        let held = [[true, true], [false; 2], [false; 2], [true, true]];
        let formed = [[[1.0, 1.0], [0.0, 1.0]], [[1.0, 0.0], [1.0, 1.0]]];
        let edges = FreeEdges::new(&[[0, 1, 2], [0, 2, 3]], &formed, &held);
        assert_eq!(edges.edges.iter().map(|e| e.ends).collect::<Vec<_>>(), [[0, 1], [1, 2], [2, 3]]);
        assert!(edges.edges.iter().all(|e| (e.formed - 1.0).abs() < 1e-15));
        assert_eq!(edges.nodes().collect::<Vec<_>>(), [0, 1, 2, 3]);
    }
}
