//! Walls solved from coarse meshes to fine: each coarser one, of every other column and row, gives the next its start.
//!
//! Newton's method needs about as many steps on a coarse mesh as on a fine one, but there each costs a fourth. From a start that is out by
//! the coarse mesh's error alone, one step or two finish the fine one.

use super::membrane::{Failure, Membrane, Settings, Solution, Start};
use super::wall::wall_membrane;
use crate::geom::mesh_wall::{TangentSample, WallMesh};

/// Below so many triangles a mesh is solved from its own start.
const COARSEST: usize = 1200;
/// How far a coarse mesh is solved: its last move as a share of the mean edge.
const COARSE_TOLERANCE: f64 = 1e-2;

/// A wall with its problem.
#[derive(Debug, Clone, Copy)]
pub struct WallProblem<'a> {
    /// The formed wall.
    pub mesh: &'a WallMesh,
    /// The line it stands on, a sample a column.
    pub samples: &'a [TangentSample],
    /// As [`wall_membrane`]'s.
    pub stretch_of_bend: f64,
    /// What [`wall_membrane`] makes of them; more nodes may be held.
    pub membrane: &'a Membrane,
}

impl WallProblem<'_> {
    /// Finds the flat wall. Should the coarse meshes mislead, the wall is solved from its own start, and at last the long way round.
    pub fn solve(&self, settings: &Settings) -> Result<Solution, Failure> {
        let near = self.start(settings).and_then(|start| {
            let membrane = Membrane { start, ..self.membrane.clone() };
            let few = settings.iteration_limit.min(8);
            membrane.solve(&Settings { start: Start::Near, iteration_limit: few, ..*settings }).ok()
        });
        match near {
            Some(solution) => Ok(solution),
            None => self.membrane.solve(settings).or_else(|_| {
                self.membrane.solve(&Settings { start: Start::Far, iteration_limit: settings.iteration_limit.min(25), ..*settings })
            }),
        }
    }

    /// The solution of the next coarser mesh, read off at this one's nodes.
    fn start(&self, settings: &Settings) -> Option<Vec<[f64; 2]>> {
        if self.mesh.triangles.len() < 2 * COARSEST {
            return None;
        }
        let (mesh, columns, rows) = self.mesh.thinned()?;
        let samples: Vec<TangentSample> = columns.iter().map(|c| self.samples[*c]).collect();
        let mut membrane =
            wall_membrane(&mesh, &samples, self.stretch_of_bend, &self.membrane.law, self.membrane.thickness).ok()?;
        for (c, column) in columns.iter().enumerate() {
            for (r, row) in rows.iter().enumerate() {
                let (coarse, fine) = (mesh.node(c, r), self.mesh.node(*column, *row));
                membrane.held[coarse] = self.membrane.held[fine];
                for axis in (0..2).filter(|axis| self.membrane.held[fine][*axis]) {
                    membrane.start[coarse][axis] = self.membrane.start[fine][axis];
                }
            }
        }
        let coarse = WallProblem { mesh: &mesh, samples: &samples, stretch_of_bend: self.stretch_of_bend, membrane: &membrane };
        let solution = coarse.solve(&Settings { move_tolerance: COARSE_TOLERANCE, ..*settings }).ok()?;
        Some(self.read_off(&mesh, &solution.flat, &columns, &rows))
    }

    /// Cubics up the columns, then along the wall, of the nodes in their columns' own frames.
    fn read_off(&self, mesh: &WallMesh, flat: &[[f64; 2]], columns: &[usize], rows: &[usize]) -> Vec<[f64; 2]> {
        let along = self.along();
        let length = along[self.samples.len()];
        // Every row of the kept columns, outward and forward.
        let kept: Vec<Vec<[f64; 2]>> = columns
            .iter()
            .enumerate()
            .map(|(c, column)| {
                let sample = &self.samples[*column];
                let own = |r: usize| in_frame(sample, flat[mesh.node(c, r)]);
                let up = |row: usize| self.mesh.up[self.mesh.node(*column, row)];
                (0..self.mesh.rows)
                    .map(|row| {
                        let after = rows.partition_point(|kept| *kept < row);
                        if rows[after] == row {
                            return own(after);
                        }
                        let first = after.saturating_sub(2).min(rows.len().saturating_sub(4));
                        let near = (first..rows.len().min(first + 4)).map(|r| (up(rows[r]), own(r)));
                        cubic(&near.collect::<Vec<_>>(), up(row))
                    })
                    .collect()
            })
            .collect();
        let count = columns.len();
        let mut start = self.membrane.start.clone();
        for (column, sample) in self.samples.iter().enumerate() {
            let after = columns.partition_point(|kept| *kept < column);
            let first = if self.mesh.closed {
                after.cast_signed() - 2
            } else {
                after.saturating_sub(2).min(count.saturating_sub(4)).cast_signed()
            };
            for row in 0..self.mesh.rows {
                let own = if columns.get(after) == Some(&column) {
                    kept[after][row]
                } else {
                    let near = (first..first + 4.min(count.cast_signed())).map(|k| {
                        let (turn, k) = (k.div_euclid(count.cast_signed()), k.rem_euclid(count.cast_signed()).unsigned_abs());
                        (along[columns[k]] + length * turn as f64, kept[k][row])
                    });
                    cubic(&near.collect::<Vec<_>>(), along[column])
                };
                let node = self.mesh.node(column, row);
                let at = [0, 1].map(|axis| {
                    let forward = [-sample.outward[1], sample.outward[0]];
                    sample.point[axis] + own[0] * sample.outward[axis] + own[1] * forward[axis]
                });
                for axis in (0..2).filter(|axis| !self.membrane.held[node][*axis]) {
                    start[node][axis] = at[axis];
                }
            }
        }
        start
    }

    /// Length along the line up to each sample, and at last all round.
    fn along(&self) -> Vec<f64> {
        let mut along = vec![0.0];
        for (i, a) in self.samples.iter().enumerate() {
            let b = &self.samples[(i + 1) % self.samples.len()];
            along.push(along[i] + (b.point[0] - a.point[0]).hypot(b.point[1] - a.point[1]));
        }
        along
    }
}

/// Outward of and forward along the line at a sample.
fn in_frame(sample: &TangentSample, at: [f64; 2]) -> [f64; 2] {
    let (x, y) = (at[0] - sample.point[0], at[1] - sample.point[1]);
    let [nx, ny] = sample.outward;
    [x * nx + y * ny, y * nx - x * ny]
}

/// The polynomial through up to four places, read off at another (J.-L. Lagrange's form).
fn cubic(through: &[(f64, [f64; 2])], at: f64) -> [f64; 2] {
    let mut sum = [0.0; 2];
    for (i, (x, value)) in through.iter().enumerate() {
        let others = through.iter().enumerate().filter(|(j, _)| *j != i);
        let weight: f64 = others.map(|(_, (other, _))| (at - other) / (x - other)).product();
        sum[0] += weight * value[0];
        sum[1] += weight * value[1];
    }
    sum
}
