//! The load on free edges that makes the least-work blank the one whose formed edge is free of
//! force.
//!
//! Moving a flat node also changes how much metal the blank holds. Where work is stationary over
//! the flat positions, the configurational stress W I − Fᵀ P is balanced; inside the sheet that is
//! the same as balanced forces on the formed part, but a free edge would be left with the normal
//! stress W instead of 0: the minimum saves work by cutting metal away. The cure is a load on the
//! flat edge, f = t0 W N for each mm of it (N outward normal, W work density at the edge). It
//! follows from no energy, so steps towards balance take its derivative with them. Derivation as
//! stated; checked by the exact walls of `tests/it/fe_wall.rs`.
//!
//! At a free edge the sheet is in plain tension or compression along the edge, and there dW/de_n =
//! σ_n = 0: the work hangs on the strain along the edge alone, q = e², e = ln(formed length / flat
//! length) of that very edge. So W is known at the edge itself, to the second order of the element
//! size, without any reading off from the triangles beside it.

use super::element::{Element, Sheet};
use super::membrane::InputFault;

/// One free edge of the sheet, its triangle on the left.
#[derive(Debug, Clone, Copy)]
struct FreeEdge {
    /// The triangle, and its corner the edge starts at.
    triangle: usize,
    corner: usize,
    ends: [usize; 2],
    /// Length on the formed part, mm.
    formed: f64,
}

/// All free edges.
#[derive(Debug, Clone)]
pub(super) struct FreeEdges {
    edges: Vec<FreeEdge>,
}

/// The load of one edge on each of its two ends, and its derivative.
struct EdgeLoad {
    /// N.
    force: [f64; 2],
    /// Derivative of the force by the vector from the edge's first end to its second, N/mm: row =
    /// force, column = vector.
    slope: [[f64; 2]; 2],
}

/// Triangles with their formed elements.
#[derive(Debug, Clone)]
pub(super) struct Body<'a> {
    pub(super) triangles: &'a [[usize; 3]],
    pub(super) elements: Vec<Element>,
}

impl Body<'_> {
    pub(super) fn corners(&self, index: usize, flat: &[[f64; 2]]) -> [[f64; 2]; 3] {
        self.triangles[index].map(|node| flat[node])
    }

    /// Positions are numbers, and no triangle is turned over or without area in them.
    pub(super) fn check_start(&self, start: &[[f64; 2]]) -> Result<(), InputFault> {
        if let Some(node) = start.iter().position(|at| !(at[0].is_finite() && at[1].is_finite())) {
            return Err(InputFault::Node(node));
        }
        for (index, element) in self.elements.iter().enumerate() {
            let g = element.map(&self.corners(index, start));
            let determinant = g[0][0] * g[1][1] - g[0][1] * g[1][0];
            if determinant.is_nan() || determinant <= 0.0 {
                return Err(InputFault::Start(index));
            }
        }
        Ok(())
    }
}

impl FreeEdges {
    /// Edges that belong to one triangle only and are not held at both ends; `formed` as in the
    /// membrane.
    pub(super) fn new(
        triangles: &[[usize; 3]],
        formed: &[[[f64; 2]; 2]],
        held: &[[bool; 2]],
    ) -> Self {
        // Each node's sides to nodes of higher number, with their triangle and the corner they
        // start at: one list after the other.
        let sides = |triangle: usize| {
            (0..3).map(move |corner| {
                (corner, triangles[triangle][corner], triangles[triangle][(corner + 1) % 3])
            })
        };
        let mut next = vec![0; held.len() + 1];
        for (_, a, b) in (0..triangles.len()).flat_map(sides) {
            next[a.min(b) + 1] += 1;
        }
        for node in 0..held.len() {
            next[node + 1] += next[node];
        }
        let ends = next.clone();
        let mut all = vec![(0, 0, 0); 3 * triangles.len()];
        for triangle in 0..triangles.len() {
            for (corner, a, b) in sides(triangle) {
                all[next[a.min(b)]] = (a.max(b), triangle, corner);
                next[a.min(b)] += 1;
            }
        }
        let whole = |node: usize| held[node] == [true, true];
        let edge = |(_, triangle, corner): &(usize, usize, usize)| {
            let (corners, [x, y]) = (triangles[*triangle], formed[*triangle]);
            let lengths = [x[0].hypot(y[0]), (x[1] - x[0]).hypot(y[1] - y[0]), x[1].hypot(y[1])];
            let ends = [corners[*corner], corners[(corner + 1) % 3]];
            FreeEdge { triangle: *triangle, corner: *corner, ends, formed: lengths[*corner] }
        };
        let mut edges: Vec<FreeEdge> = Vec::new();
        for node in 0..held.len() {
            let own = &mut all[ends[node]..ends[node + 1]];
            own.sort_unstable();
            let single = own
                .chunk_by(|a, b| a.0 == b.0)
                .filter_map(|same| if let [only] = same { Some(edge(only)) } else { None });
            edges.extend(single.filter(|edge| !edge.ends.iter().all(|node| whole(*node))));
        }
        Self { edges }
    }

    /// Nodes on free edges, in ascending order.
    pub(super) fn nodes(&self) -> Vec<usize> {
        let mut nodes: Vec<usize> = self.edges.iter().flat_map(|edge| edge.ends).collect();
        nodes.sort_unstable();
        nodes.dedup();
        nodes
    }

    /// The load f on every node, N, at the flat positions: each free edge carries t0 W N.
    pub(super) fn load(&self, sheet: &Sheet, flat: &[[f64; 2]]) -> Vec<[f64; 2]> {
        let mut load = vec![[0.0; 2]; flat.len()];
        for edge in &self.edges {
            let force = edge.load(sheet, flat).force;
            for node in edge.ends {
                load[node][0] += force[0];
                load[node][1] += force[1];
            }
        }
        load
    }

    /// For each free edge its triangle and the derivative of its load by that triangle's corners,
    /// N/mm.
    pub(super) fn stiffness(
        &self,
        sheet: &Sheet,
        flat: &[[f64; 2]],
    ) -> impl Iterator<Item = (usize, [[f64; 6]; 6])> {
        self.edges.iter().map(|edge| {
            let slope = edge.load(sheet, flat).slope;
            let (a, b) = (edge.corner, (edge.corner + 1) % 3);
            let mut matrix = [[0.0; 6]; 6];
            for end in [a, b] {
                for (row, values) in slope.iter().enumerate() {
                    for (column, value) in values.iter().enumerate() {
                        matrix[2 * end + row][2 * b + column] += value;
                        matrix[2 * end + row][2 * a + column] -= value;
                    }
                }
            }
            (edge.triangle, matrix)
        })
    }
}

impl FreeEdge {
    /// f = t0 W(e²) N L/2 on each end, e = ln(formed / L); N L is the flat edge turned outward.
    fn load(&self, sheet: &Sheet, flat: &[[f64; 2]]) -> EdgeLoad {
        let [a, b] = self.ends;
        let (x, y) = (flat[b][0] - flat[a][0], flat[b][1] - flat[a][1]);
        let length = x.hypot(y);
        let strain = (self.formed / length).ln();
        let work = sheet.work(strain * strain);
        let half = 0.5 * sheet.thickness;
        let falls = half * work.w_q * 2.0 * strain / (length * length);
        EdgeLoad {
            force: [half * work.w * y, -half * work.w * x],
            slope: [
                [-falls * y * x, half * work.w - falls * y * y],
                [falls * x * x - half * work.w, falls * x * y],
            ],
        }
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
        assert_eq!(
            edges.edges.iter().map(|e| e.ends).collect::<Vec<_>>(),
            [[0, 1], [1, 2], [2, 3]]
        );
        assert!(edges.edges.iter().all(|e| (e.formed - 1.0).abs() < 1e-15));
        assert_eq!(edges.nodes(), [0, 1, 2, 3]);
    }

    /// The load's derivative against central differences of the load, for a square's sides
    /// stretched and shrunk.
    #[test]
    fn stiffness_matches_differences() {
        let law = crate::fe::law::SheetLaw {
            strength_mpa: 1000.0,
            hardening: 0.17,
            anisotropy: 1.0,
            elastic_modulus_mpa: 205_000.0,
        };
        let sheet = Sheet::new(law, 1.8, law.meeting_strain(), crate::fe::element::Volume::True);
        let triangle = [0, 1, 2];
        let edges = FreeEdges::new(&[triangle], &[[[1.0, 0.3], [0.0, 1.0]]], &[[false; 2]; 3]);
        let flat = vec![[0.1, 0.0], [1.3, 0.2], [0.2, 0.9]];
        let mut matrix = [[0.0; 6]; 6];
        for (_, part) in edges.stiffness(&sheet, &flat) {
            for (sum, value) in matrix.as_flattened_mut().iter_mut().zip(part.as_flattened()) {
                *sum += value;
            }
        }
        let size = matrix.as_flattened().iter().fold(0.0, |most: f64, x| most.max(x.abs()));
        for column in 0..6 {
            let moved = |by: f64| {
                let mut flat = flat.clone();
                flat[triangle[column / 2]][column % 2] += by;
                edges.load(&sheet, &flat)
            };
            let (below, above) = (moved(-1e-6), moved(1e-6));
            for row in 0..6 {
                let slope = (above[row / 2][row % 2] - below[row / 2][row % 2]) / 2e-6;
                assert!(
                    (slope - matrix[row][column]).abs() < 1e-6 * size,
                    "{row} {column}: {slope} {}",
                    matrix[row][column]
                );
            }
        }
    }
}
