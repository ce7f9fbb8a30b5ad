//! Do the forces on the formed part balance? Assembled from the stresses in space, apart from the
//! solver, which only ever sees work and flat positions.

use super::element::Element;
use super::membrane::{Membrane, Solution};
use crate::geom::space::{Space, dot, length, minus, times};

/// Unbalanced forces along the sheet, as shares of the mean force an element puts on a node.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balance {
    /// Root mean square over nodes inside the sheet.
    pub inside: f64,
    /// Root mean square over nodes on free edges.
    pub free_edge: f64,
    /// Largest on a free edge, and its node.
    pub worst: (f64, usize),
}

/// Sums at every node the element forces F = A N ∇φ (N: forces per mm of formed sheet along the
/// principal directions, mm⁻¹ gradient of the node's shape function, A formed area) in space and
/// drops their part along the surface normal, which the tool carries. Held nodes are left out.
/// `normals`: unit normals of the formed surface.
///
/// Where a bend's lengths are scaled (K-factor), the triangles do not fit together in space as they
/// do in the blank, and the nodes at the bend show that misfit; free edges away from the bend are
/// not touched by it.
///
/// `None` if the lists do not belong together.
#[must_use]
pub fn balance(
    membrane: &Membrane,
    solution: &Solution,
    positions: &[[f64; 3]],
    normals: &[[f64; 3]],
) -> Option<Balance> {
    let count = membrane.start.len();
    if positions.len() != count
        || normals.len() != count
        || solution.triangles.len() != membrane.triangles.len()
    {
        return None;
    }
    let mut sums = vec![[0.0; 3]; count];
    let mut size = 0.0;
    for ((corners, edges), state) in
        membrane.triangles.iter().zip(&membrane.formed).zip(&solution.triangles)
    {
        let element = Element::new(edges)?;
        let [a, b, c] = corners.map(|node| positions[node]);
        let along = unit(minus(b, a));
        let up = minus(c, a);
        let rise = dot(up, along);
        let across =
            unit([up[0] - rise * along[0], up[1] - rise * along[1], up[2] - rise * along[2]]);
        let [cos, sin] = state.formed_direction;
        for (node, slope) in corners.iter().zip(&element.slopes) {
            let first = state.forces[0] * (cos * slope[0] + sin * slope[1]) * element.area;
            let second = state.forces[1] * (-sin * slope[0] + cos * slope[1]) * element.area;
            let (x, y) = (first * cos - second * sin, first * sin + second * cos);
            size += x.hypot(y);
            for axis in 0..3 {
                sums[*node][axis] += x * along[axis] + y * across[axis];
            }
        }
    }
    let mean = size / (3 * membrane.triangles.len()) as f64;
    let mut free = vec![false; count];
    solution.free_nodes.iter().for_each(|node| free[*node] = true);
    let mut totals = [(0.0, 0.0); 2];
    let mut worst = (0.0, 0);
    for node in (0..count).filter(|node| membrane.held[*node] == [false, false]) {
        let along_normal = dot(sums[node], normals[node]);
        let left: f64 = (0..3)
            .map(|axis| (sums[node][axis] - along_normal * normals[node][axis]).powi(2))
            .sum();
        let total = &mut totals[usize::from(free[node])];
        *total = (total.0 + left, total.1 + 1.0);
        if free[node] && left.sqrt() / mean > worst.0 {
            worst = (left.sqrt() / mean, node);
        }
    }
    let share =
        |(sum, count): (f64, f64)| if count > 0.0 { (sum / count).sqrt() / mean } else { 0.0 };
    Some(Balance { inside: share(totals[0]), free_edge: share(totals[1]), worst })
}

fn unit(a: Space) -> Space {
    times(a, 1.0 / length(a))
}
