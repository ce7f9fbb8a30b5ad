//! Where a run of walls is cut off after forming, at an open edge beyond which metal was left: in
//! the flat the line of metal that then lies in the finished end.

use super::ends::Cut;
use super::run::{Edge, Laid, LaidRun, end_vertices};
use crate::geom::space::{plus, times};
use crate::geom::{Point, Vertex};

/// Columns through which the place of the finished end is read.
const READ_THROUGH: usize = 4;

/// The finished end of a run.
#[derive(Debug, Clone)]
pub(super) struct Finish {
    /// Column, with fractions, at which the net edge ends.
    pub(super) place: f64,
    net: Across,
    hammered: Across,
}

/// A line of metal in the flat from a wall's edge to its tangent line.
#[derive(Debug, Clone)]
struct Across {
    points: Vec<Point>,
    /// Where its bend begins.
    split: usize,
}

impl Finish {
    /// Lines and arcs from the edge to the tangent line, without the last point: of the finished
    /// wall, or in the metal that is hammered.
    pub(super) fn vertices(&self, net: bool) -> Vec<Vertex> {
        let Across { points, split } = if net { &self.net } else { &self.hammered };
        end_vertices(points, *split)
    }

    /// Its place on the tangent line.
    pub(super) fn at_tangent(&self) -> Point {
        self.net.points[self.net.points.len() - 1]
    }
}

impl LaidRun {
    /// Where the run is cut off by an upright cut; the neutral line of its metal lies `neutral` mm
    /// outside the middle. None where the run does not reach there.
    pub(super) fn finish(&self, cut: &Cut, neutral: f64) -> Option<Finish> {
        let (mut net, first) = self.across(&self.net, cut, neutral)?;
        let (hammered, _) = self.across(self.laid(), cut, neutral)?;
        let edge = &self.edges[Edge::Net as usize];
        let (from, to) = (edge.points[first], edge.points[first + 1]);
        let place = first as f64 + (net.points[0] - from).dot(to - from) / (to - from).hypot2();
        net.points[0] = edge.at(place).0;
        Some(Finish { place, net, hammered })
    }

    /// The line of metal in the cut, and the column after which it meets the edge.
    fn across(&self, laid: &Laid, cut: &Cut, neutral: f64) -> Option<(Across, usize)> {
        let mesh = &laid.mesh;
        let mut before = 0;
        let mut points = Vec::with_capacity(mesh.rows);
        for row in (0..mesh.rows).rev() {
            let inside = |column: usize| {
                let node = mesh.node(column, row);
                let out = if row == 0 { 0.0 } else { neutral };
                let at = plus(mesh.positions[node], times(mesh.normals[node], out));
                cut.inside(Point::new(at[0], at[1]))
            };
            let (first, near) = columns_about(mesh.columns, cut.wall_before, &inside)?;
            let shares =
                shares_at_zero(&near.iter().map(|(_, inside)| *inside).collect::<Vec<_>>());
            let mean = |of: &dyn Fn(usize) -> f64| {
                near.iter().zip(&shares).map(|((c, _), share)| share * of(*c)).sum::<f64>()
            };
            let flat = |c: usize| if row == 0 { self.tangent.points[c] } else { laid.flat(c, row) };
            points.push(Point::new(mean(&|c| flat(c).x), mean(&|c| flat(c).y)));
            if row + 1 == mesh.rows {
                before = first;
            }
        }
        Some((Across { points, split: mesh.rows - mesh.bend_end }, before))
    }
}

/// The column after which `inside` changes its sign, sought from the end of the run, and those
/// about that place, each with its value.
fn columns_about(
    count: usize,
    from_last: bool,
    inside: &dyn Fn(usize) -> f64,
) -> Option<(usize, Vec<(usize, f64)>)> {
    let column = |k: usize| if from_last { count - 1 - k } else { k };
    let k = (0..count).find(|k| inside(column(*k)) >= 0.0)?;
    if k == 0 {
        return None;
    }
    let first = k.saturating_sub(READ_THROUGH / 2);
    let near = (first..(k + READ_THROUGH / 2).min(count)).map(column);
    Some((column(k).min(column(k - 1)), near.map(|c| (c, inside(c))).collect()))
}

/// Lagrange's weights at 0 for values at these places.
fn shares_at_zero(places: &[f64]) -> Vec<f64> {
    let factor =
        |i: usize, j: usize| if i == j { 1.0 } else { places[j] / (places[j] - places[i]) };
    (0..places.len()).map(|i| (0..places.len()).map(|j| factor(i, j)).product()).collect()
}
