//! The load on free edges that makes the least-work blank the one whose formed edge is free of force.
//!
//! Moving a flat node also changes how much metal the blank holds. Where work is stationary over the flat positions, the
//! configurational stress W I − Fᵀ P is balanced; inside the sheet that is the same as balanced forces on the formed part,
//! but a free edge would be left with the normal stress W instead of 0: the minimum saves work by cutting metal away. The
//! cure is a load on the flat edge, f = t0 W N for each mm of it (N outward normal, W work density at the edge), taken anew
//! for each Newton step. Derivation as stated; checked by the exact walls of `tests/fe_membrane.rs`.

use super::element::{Element, Sheet, Stretch};
use super::membrane::EdgeWork;

/// Points whose spread across is below this share of that along (as squares) count as lying on a line.
const LEAST_SPREAD: f64 = 1e-6;

/// One free edge of the sheet, its triangle on the left.
#[derive(Debug, Clone, Copy)]
struct FreeEdge {
    ends: [usize; 2],
    /// Places of the ends in [`FreeEdges::nodes`].
    places: [usize; 2],
}

/// Free edges with the triangles that tell the work density at their nodes.
#[derive(Debug, Clone)]
pub(super) struct FreeEdges {
    edges: Vec<FreeEdge>,
    /// Edge nodes and, for each, the triangles within one ring and those of the second ring behind them.
    nodes: Vec<(usize, Vec<usize>, Vec<usize>)>,
}

impl FreeEdges {
    /// Edges that belong to one triangle only and are not held at both ends.
    pub(super) fn new(triangles: &[[usize; 3]], held: &[[bool; 2]]) -> Self {
        let mut sides: Vec<[usize; 4]> = Vec::with_capacity(3 * triangles.len());
        for corners in triangles {
            for a in 0..3 {
                let (from, to) = (corners[a], corners[(a + 1) % 3]);
                sides.push([from.min(to), from.max(to), from, to]);
            }
        }
        sides.sort_unstable();
        let whole = |node: usize| held[node] == [true, true];
        let alone = |i: usize| {
            let same = |j: usize| sides.get(j).is_some_and(|side| side[..2] == sides[i][..2]);
            !(same(i + 1) || i > 0 && same(i - 1))
        };
        let free: Vec<[usize; 2]> = (0..sides.len())
            .filter(|i| alone(*i) && !(whole(sides[*i][0]) && whole(sides[*i][1])))
            .map(|i| [sides[i][2], sides[i][3]])
            .collect();
        let mut around: Vec<Vec<usize>> = vec![Vec::new(); held.len()];
        for (index, corners) in triangles.iter().enumerate() {
            for corner in corners {
                around[*corner].push(index);
            }
        }
        let mut names: Vec<usize> = free.as_flattened().to_vec();
        names.sort_unstable();
        names.dedup();
        let place = |node: usize| names.partition_point(|other| *other < node);
        let edges = free.iter().map(|ends| FreeEdge { ends: *ends, places: ends.map(place) }).collect();
        let nodes = names
            .iter()
            .map(|node| {
                let near = around[*node].clone();
                let mut wide: Vec<usize> =
                    near.iter().flat_map(|index| triangles[*index]).flat_map(|corner| around[corner].clone()).collect();
                wide.sort_unstable();
                wide.dedup();
                (*node, near, wide)
            })
            .collect();
        Self { edges, nodes }
    }

    /// Nodes on free edges, in ascending order.
    pub(super) fn nodes(&self) -> impl Iterator<Item = usize> {
        self.nodes.iter().map(|(node, _, _)| *node)
    }

    /// The load f on every node, N, at the flat positions. A free edge carries t0 W N with W linear between its ends.
    pub(super) fn load(&self, sheet: &Sheet, body: &Body, flat: &[[f64; 2]], rule: EdgeWork) -> Vec<[f64; 2]> {
        let work: Vec<f64> =
            self.nodes.iter().map(|(node, near, wide)| edge_work(sheet, body, flat, *node, [near, wide], rule)).collect();
        let mut load = vec![[0.0; 2]; flat.len()];
        for edge in &self.edges {
            let [a, b] = edge.ends;
            let [wa, wb] = edge.places.map(|place| work[place]);
            let outward = [flat[b][1] - flat[a][1], flat[a][0] - flat[b][0]];
            for axis in 0..2 {
                load[a][axis] += sheet.thickness * outward[axis] * (2.0 * wa + wb) / 6.0;
                load[b][axis] += sheet.thickness * outward[axis] * (wa + 2.0 * wb) / 6.0;
            }
        }
        load
    }
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

/// Work density at an edge node: mean over its triangles by flat area, or the plane through the work of two rings of
/// triangles (each at its centre), read off at the node.
fn edge_work(sheet: &Sheet, body: &Body, flat: &[[f64; 2]], node: usize, rings: [&Vec<usize>; 2], rule: EdgeWork) -> f64 {
    let work = |index: usize| {
        let corners = body.corners(index, flat);
        let stretch = Stretch::of(&body.elements[index].map(&corners));
        let area = body.elements[index].area * stretch.s[0] * stretch.s[1];
        (Element::density(sheet, &stretch), area, corners)
    };
    let mean = || {
        let (sum, area) = rings[0].iter().fold((0.0, 0.0), |(sum, total), index| {
            let (w, area, _) = work(*index);
            (sum + w * area, total + area)
        });
        sum / area
    };
    match rule {
        EdgeWork::None => 0.0,
        EdgeWork::Mean => mean(),
        EdgeWork::Extrapolated => {
            let samples: Vec<[f64; 4]> = rings[1]
                .iter()
                .map(|index| {
                    let (w, area, corners) = work(*index);
                    let centre = |axis: usize| (corners[0][axis] + corners[1][axis] + corners[2][axis]) / 3.0 - flat[node][axis];
                    [centre(0), centre(1), w, area]
                })
                .collect();
            plane_at_origin(&samples).map_or_else(mean, |w| w.max(0.0))
        }
    }
}

/// Value at the origin of the least-squares plane w = c0 + cx x + cy y through (x, y, w) weighted by the fourth number;
/// `None` if the points lie on a line.
fn plane_at_origin(samples: &[[f64; 4]]) -> Option<f64> {
    let (mut s, mut sx, mut sy, mut sw) = (0.0, 0.0, 0.0, 0.0);
    for [x, y, w, weight] in samples {
        s += weight;
        sx += weight * x;
        sy += weight * y;
        sw += weight * w;
    }
    let (mx, my, mw) = (sx / s, sy / s, sw / s);
    let (mut xx, mut xy, mut yy, mut xw, mut yw) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for [x, y, w, weight] in samples {
        let (x, y, w) = (x - mx, y - my, w - mw);
        xx += weight * x * x;
        xy += weight * x * y;
        yy += weight * y * y;
        xw += weight * x * w;
        yw += weight * y * w;
    }
    let determinant = xx * yy - xy * xy;
    if determinant.is_nan() || determinant <= LEAST_SPREAD * (xx + yy) * (xx + yy) {
        return None;
    }
    let (cx, cy) = ((yy * xw - xy * yw) / determinant, (xx * yw - xy * xw) / determinant);
    Some(mw - cx * mx - cy * my)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plane_is_read_off_exactly() {
        let plane = |x: f64, y: f64| [x, y, 3.0 + 0.5 * x - 2.0 * y, 1.0 + x * x];
        let samples = [plane(1.0, 1.0), plane(2.0, 0.5), plane(-1.0, 2.0), plane(0.3, 3.0)];
        assert!((plane_at_origin(&samples).expect("not on a line") - 3.0).abs() < 1e-13);
        assert!(plane_at_origin(&[plane(1.0, 1.0), plane(2.0, 2.0), plane(3.0, 3.0)]).is_none());
    }

    /// Two triangles of a square, its left side held: the other three sides are free.
    #[test]
    fn free_edges_of_a_square() {
        let held = [[true, true], [false; 2], [false; 2], [true, true]];
        let edges = FreeEdges::new(&[[0, 1, 2], [0, 2, 3]], &held);
        assert_eq!(edges.edges.iter().map(|e| e.ends).collect::<Vec<_>>(), [[0, 1], [1, 2], [2, 3]]);
        assert_eq!(edges.nodes().collect::<Vec<_>>(), [0, 1, 2, 3]);
    }
}
