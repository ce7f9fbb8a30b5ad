//! Walls solved from coarse meshes to fine: each coarser one, of every other column and row, gives the next its start.
//!
//! Newton's method needs about as many steps on a coarse mesh as on a fine one, but there each costs a fourth. From a start that is out by
//! the coarse mesh's error alone, one step or two finish the fine one (nested iteration; the cubics and the weights against the zigzag keep
//! what they read off as smooth as the wall).

use super::grid::{Grid, GridSystem};
use super::membrane::{Failure, Membrane, Record, Settings, Solution, Start};
use super::solve::Problem;
use super::system::System;
use super::wall::wall_membrane;
use crate::geom::Vec2;
use crate::geom::mesh_wall::{TangentSample, WallMesh, shifted, without_zigzag};

/// Below so many triangles a mesh is solved from its own start.
const COARSEST: usize = 400;
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

/// A wall with fewer columns and rows.
#[derive(Debug, Clone)]
pub struct Thinned {
    /// Its mesh.
    pub mesh: WallMesh,
    /// Its line.
    pub samples: Vec<TangentSample>,
    /// Its problem, what was held still held.
    pub membrane: Membrane,
    stretch_of_bend: f64,
    /// Which columns and rows of the other wall it has.
    columns: Vec<usize>,
    rows: Vec<usize>,
}

impl Thinned {
    /// What there is to solve.
    #[must_use]
    pub fn problem(&self) -> WallProblem<'_> {
        let Self { mesh, samples, membrane, stretch_of_bend, .. } = self;
        WallProblem { mesh, samples, stretch_of_bend: *stretch_of_bend, membrane }
    }
}

impl WallProblem<'_> {
    /// Finds the flat wall. Should cycles over the coarse meshes come nearer too slowly, factors take their place; should the coarse meshes
    /// mislead, the wall is solved from its own start, and at last the long way round.
    pub fn solve(&self, settings: &Settings) -> Result<Solution, Failure> {
        let (problem, positions, _) = self.positions(settings)?;
        problem.solution(positions)
    }

    fn positions(&self, settings: &Settings) -> Result<(Problem<'_>, (Vec<[f64; 2]>, Record), System), Failure> {
        // What this mesh needs is made while the coarser ones are solved.
        let (coarser, problem) = std::thread::scope(|scope| {
            let preparing = scope.spawn(|| self.membrane.problem());
            let coarser = self.coarser(settings);
            (coarser, preparing.join())
        });
        let problem = problem.unwrap_or_else(|panic| std::panic::resume_unwind(panic))?;
        let Some((start, system)) = coarser else {
            let mut system = problem.system()?;
            let solution = problem.settle(&mut system, &self.membrane.start, settings)?;
            return Ok((problem, (solution.flat, solution.record), system));
        };
        let near = Settings { start: Start::Near, iteration_limit: settings.iteration_limit.min(8), ..*settings };
        let mut system = System::Cycles(Box::new(system));
        if let Ok(positions) = problem.positions(&mut system, &start, &near) {
            return Ok((problem, positions, system));
        }
        let mut system = problem.system()?;
        if let Ok(positions) = problem.positions(&mut system, &start, &near) {
            return Ok((problem, positions, system));
        }
        let solution = problem.settle(&mut system, &self.membrane.start, settings)?;
        Ok((problem, (solution.flat, solution.record), system))
    }

    /// The same wall with every other column and row; None where too little is left of it.
    #[must_use]
    pub fn thinned(&self) -> Option<Thinned> {
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
        Some(Thinned { mesh, samples, membrane, stretch_of_bend: self.stretch_of_bend, columns, rows })
    }

    /// The solution of the next coarser mesh, read off at this one's nodes, and the system that goes with it.
    fn coarser(&self, settings: &Settings) -> Option<(Vec<[f64; 2]>, GridSystem)> {
        if self.mesh.triangles.len() < 2 * COARSEST {
            return None;
        }
        let thinned = self.thinned()?;
        let coarse = thinned.problem();
        let (_, (flat, _), system) = coarse.positions(&Settings { move_tolerance: COARSE_TOLERANCE, ..*settings }).ok()?;
        let WallMesh { rows, columns, closed, .. } = *self.mesh;
        let kept = (&thinned.columns[..], &thinned.rows[..]);
        let system = GridSystem::new(Grid { rows, columns, closed }, &self.mesh.triangles, &self.membrane.held, system, kept);
        Some((self.read_off(&thinned, &flat), system))
    }

    /// Cubics up the columns, then along the wall, of the nodes in their columns' own frames.
    fn read_off(&self, thinned: &Thinned, flat: &[[f64; 2]]) -> Vec<[f64; 2]> {
        let Thinned { mesh, columns, rows, .. } = thinned;
        let along = self.along();
        let length = along[self.samples.len()];
        let count = columns.len();
        let own = |c: usize, r: usize| in_frame(&self.samples[columns[c]], flat[mesh.node(c, r)]);
        // The coarse mesh's alternating diagonals leave a zigzag four times as high as this one's.
        let even = |c: usize, r: usize| match [-2, -1, 1, 2].map(|by| shifted(count, mesh.closed, c, by)) {
            [Some(a), Some(b), Some(d), Some(e)] => without_zigzag([a, b, c, d, e].map(|c| own(c, r))),
            _ => own(c, r),
        };
        // Every row of the kept columns, outward and forward; the kept column k in the place of column k.
        let kept: Vec<Vec2> = columns
            .iter()
            .enumerate()
            .flat_map(|(c, column)| {
                let (up, even) = (|row: usize| self.mesh.up[self.mesh.node(*column, row)], &even);
                (0..self.mesh.rows).map(move |row| {
                    let after = rows.partition_point(|kept| *kept < row);
                    if rows[after] == row {
                        return even(c, after);
                    }
                    let first = after.saturating_sub(2).min(rows.len().saturating_sub(4));
                    let near = (first..rows.len().min(first + 4)).map(|r| (up(rows[r]), even(c, r)));
                    cubic(&near.collect::<Vec<_>>(), up(row))
                })
            })
            .collect();
        let mut start = self.membrane.start.clone();
        for (column, sample) in self.samples.iter().enumerate() {
            let after = columns.partition_point(|kept| *kept < column);
            let first = if self.mesh.closed {
                after.cast_signed() - 2
            } else {
                after.saturating_sub(2).min(count.saturating_sub(4)).cast_signed()
            };
            let near: Vec<(f64, usize)> = if columns.get(after) == Some(&column) {
                vec![(along[column], after)]
            } else {
                (first..first + 4.min(count.cast_signed()))
                    .map(|k| {
                        let (turn, k) = (k.div_euclid(count.cast_signed()), k.rem_euclid(count.cast_signed()).unsigned_abs());
                        (along[columns[k]] + length * turn as f64, k)
                    })
                    .collect()
            };
            for row in 0..self.mesh.rows {
                let through: Vec<(f64, Vec2)> = near.iter().map(|(at, k)| (*at, kept[self.mesh.node(*k, row)])).collect();
                let own = cubic(&through, along[column]);
                let node = self.mesh.node(column, row);
                let at = [0, 1].map(|axis| {
                    let forward = [-sample.outward[1], sample.outward[0]];
                    sample.point[axis] + own.x * sample.outward[axis] + own.y * forward[axis]
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
fn in_frame(sample: &TangentSample, at: [f64; 2]) -> Vec2 {
    let (x, y) = (at[0] - sample.point[0], at[1] - sample.point[1]);
    let [nx, ny] = sample.outward;
    Vec2::new(x * nx + y * ny, y * nx - x * ny)
}

/// The polynomial through up to four places, read off at another (J.-L. Lagrange's form).
fn cubic(through: &[(f64, Vec2)], at: f64) -> Vec2 {
    let weighted = |(i, (x, value)): (usize, &(f64, Vec2))| {
        let others = through.iter().enumerate().filter(|(j, _)| *j != i);
        *value * others.map(|(_, (other, _))| (at - other) / (x - other)).product::<f64>()
    };
    through.iter().enumerate().map(weighted).fold(Vec2::ZERO, |sum, part| sum + part)
}
