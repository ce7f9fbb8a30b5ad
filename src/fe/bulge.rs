//! A thin skin under even pressure: the surface of least area to first order, ∇²w = -p over its
//! plan. Linear triangles. Millimetres.

use faer::Side;
use faer::prelude::Solve;
use faer::sparse::linalg::solvers::Llt;
use faer::sparse::{SparseColMat, Triplet};

/// A skin over triangles in plan, some nodes of which are fixed in height; the rest of its edge is
/// free.
pub struct Skin<'a> {
    points: &'a [[f64; 2]],
    triangles: &'a [[usize; 3]],
    /// Place of each free node among the unknowns.
    unknown: Vec<Option<usize>>,
    factor: Llt<usize, f64>,
    free: usize,
}

impl std::fmt::Debug for Skin<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Skin").field("triangles", &self.triangles.len()).finish_non_exhaustive()
    }
}

/// Slopes of a triangle's shape functions, 1/mm, and its area; none where it has no area.
fn slopes(at: [[f64; 2]; 3]) -> Option<([[f64; 2]; 3], f64)> {
    let [a, b, c] = at;
    let twice = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    let slope = |p: [f64; 2], q: [f64; 2]| [(p[1] - q[1]) / twice, (q[0] - p[0]) / twice];
    (twice > 0.0).then(|| ([slope(b, c), slope(c, a), slope(a, b)], twice / 2.0))
}

impl<'a> Skin<'a> {
    /// `fixed` tells which nodes are. None where no node is fixed, none is free, or a triangle has
    /// no area: the heights have no solution.
    #[must_use]
    pub fn new(
        points: &'a [[f64; 2]],
        triangles: &'a [[usize; 3]],
        fixed: &dyn Fn(usize) -> bool,
    ) -> Option<Self> {
        let mut count = 0;
        let unknown: Vec<Option<usize>> = (0..points.len())
            .map(|node| {
                (!fixed(node)).then(|| {
                    count += 1;
                    count - 1
                })
            })
            .collect();
        let mut entries = Vec::new();
        for corners in triangles {
            let (slopes, area) = slopes(corners.map(|node| points[node]))?;
            for i in 0..3 {
                for j in 0..3 {
                    let (Some(row), Some(column)) = (unknown[corners[i]], unknown[corners[j]])
                    else {
                        continue;
                    };
                    if row >= column {
                        let value =
                            area * (slopes[i][0] * slopes[j][0] + slopes[i][1] * slopes[j][1]);
                        entries.push(Triplet::new(row, column, value));
                    }
                }
            }
        }
        if count == 0 || count == points.len() {
            return None;
        }
        let matrix = SparseColMat::try_new_from_triplets(count, count, &entries).ok()?;
        let factor = matrix.sp_cholesky(Side::Lower).ok()?;
        Some(Self { points, triangles, unknown, factor, free: count })
    }

    /// Heights of all nodes under the pressure p, 1/mm; `height` gives those of the fixed nodes.
    #[must_use]
    pub fn heights(&self, pressure: f64, height: &dyn Fn(usize) -> f64) -> Vec<f64> {
        let start: Vec<f64> = (0..self.points.len())
            .map(|node| if self.unknown[node].is_some() { 0.0 } else { height(node) })
            .collect();
        let forces = self.forces(&start, pressure);
        let mut right = faer::Mat::zeros(self.free, 1);
        for (node, unknown) in self.unknown.iter().enumerate() {
            if let Some(row) = unknown {
                right[(*row, 0)] = -forces[node];
            }
        }
        let solved = self.factor.solve(&right);
        self.unknown
            .iter()
            .zip(&start)
            .map(|(unknown, start)| unknown.map_or(*start, |row| solved[(row, 0)]))
            .collect()
    }

    /// What each node takes from outside, mm: the slope of the skin outward at the fixed edge,
    /// times the edge's share of the node. Found from the balance of the whole: true on the mean of
    /// neighbours, while single nodes stray by a per cent or so where triangles are uneven.
    #[must_use]
    pub fn forces(&self, heights: &[f64], pressure: f64) -> Vec<f64> {
        let mut forces = vec![0.0; heights.len()];
        for corners in self.triangles {
            let Some((slopes, area)) = slopes(corners.map(|node| self.points[node])) else {
                continue;
            };
            let gradient = [0, 1]
                .map(|axis| (0..3).map(|i| slopes[i][axis] * heights[corners[i]]).sum::<f64>());
            for i in 0..3 {
                forces[corners[i]] += area
                    * (gradient[0] * slopes[i][0] + gradient[1] * slopes[i][1])
                    - pressure * area / 3.0;
            }
        }
        forces
    }

    /// Gradient of the heights at every node: the mean of its triangles', by area.
    #[must_use]
    pub fn gradients(&self, heights: &[f64]) -> Vec<[f64; 2]> {
        let mut sums = vec![[0.0; 3]; heights.len()];
        for corners in self.triangles {
            let Some((slopes, area)) = slopes(corners.map(|node| self.points[node])) else {
                continue;
            };
            let gradient = [0, 1]
                .map(|axis| (0..3).map(|i| slopes[i][axis] * heights[corners[i]]).sum::<f64>());
            for corner in corners {
                sums[*corner] = [
                    sums[*corner][0] + area * gradient[0],
                    sums[*corner][1] + area * gradient[1],
                    sums[*corner][2] + area,
                ];
            }
        }
        sums.iter().map(|[x, y, area]| [x / area, y / area]).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::mesh_face::mesh_face;

    /// Over a circle of radius a the skin is the paraboloid p (a² - r²)/4, its slope at the edge p
    /// a/2 (S. Timoshenko and J. N. Goodier, Theory of Elasticity, membrane analogy; the formula
    /// follows by putting it in).
    #[test]
    fn a_round_skin_is_a_paraboloid() {
        let (a, count) = (50.0, 120_u32);
        let circle: Vec<[f64; 2]> = (0..count)
            .map(|i| {
                let (sin, cos) =
                    (std::f64::consts::TAU * f64::from(i) / f64::from(count)).sin_cos();
                [a * cos, a * sin]
            })
            .collect();
        let mesh_edge = circle.len();
        let mesh = mesh_face(&[circle], 3.0).expect("a disc");
        let fixed = |node: usize| node < mesh_edge;
        let skin = Skin::new(&mesh.points, &mesh.triangles, &fixed).expect("a skin");
        let p = 0.01;
        let heights = skin.heights(p, &|_| 0.0);
        for (point, height) in mesh.points.iter().zip(&heights) {
            let exact = p * (a * a - point[0].powi(2) - point[1].powi(2)) / 4.0;
            assert!((height - exact).abs() < 0.02, "{height} {exact}");
        }
        let forces = skin.forces(&heights, p);
        let share = std::f64::consts::TAU * a / f64::from(count);
        let edge = &forces[..mesh_edge];
        for force in edge {
            assert!((force / share + p * a / 2.0).abs() < 0.03 * p * a / 2.0, "{}", force / share);
        }
        let mean = edge.iter().sum::<f64>() / f64::from(count) / share;
        assert!((mean + p * a / 2.0).abs() < 1e-3 * p * a, "{mean}");
    }
}
