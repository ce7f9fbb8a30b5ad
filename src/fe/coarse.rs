//! Walls solved from coarse meshes to fine: each coarser one, of every other column and row, gives
//! the next its start.
//!
//! Newton's method needs about as many steps on a coarse mesh as on a fine one, but there each
//! costs a fourth. From a start that is out by the coarse mesh's error alone, one step or two
//! finish the fine one (nested iteration; the cubics and the weights against the zigzag keep what
//! they read off as smooth as the wall). The coarse mesh's matrix then helps to solve the fine
//! one's (`grid.rs`), and only the coarsest is factored.

use super::grid::{Grid, GridSystem};
use super::membrane::{Failure, Membrane, Settings, Solution, Start};
use super::solve::{Problem, both};
use super::system::System;
use super::wall::wall_membrane;
use crate::geom::Vec2;
use crate::geom::mesh_wall::{TangentSample, WallMesh, shifted, without_zigzag};

/// Below so many triangles a mesh is solved from its own start.
const COARSEST: usize = 400;
/// How far a coarse mesh is solved: its last move as a share of the mean edge. What it leaves is
/// not smooth, and at strains about the meeting one a fine mesh needs many steps to take that up.
const COARSE_TOLERANCE: f64 = 1e-3;

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
    /// Finds the flat wall. Should cycles over the coarse meshes come nearer too slowly, factors
    /// take their place; should the coarse meshes mislead, the wall is solved from its own start,
    /// and at last the long way round.
    pub fn solve(&self, settings: &Settings) -> Result<Solution, Failure> {
        self.solved(settings).map(|(solution, _)| solution)
    }

    /// As [`Self::solve`], with the system it was solved by.
    fn solved(&self, settings: &Settings) -> Result<(Solution, System), Failure> {
        // What this mesh needs is made while the coarser ones are solved.
        let (coarser, problem) =
            both(self.mesh.triangles.len(), || self.coarser(settings), || self.membrane.problem());
        self.finished(&problem?, coarser, settings)
    }

    /// `coarser`: the start that the coarse meshes give, and room to solve by cycles over them.
    fn finished(
        &self,
        problem: &Problem,
        coarser: Option<(Vec<[f64; 2]>, System)>,
        settings: &Settings,
    ) -> Result<(Solution, System), Failure> {
        let near = Settings {
            start: Start::Near,
            iteration_limit: settings.iteration_limit.min(8),
            ..*settings
        };
        let mut from = None;
        if let Some((start, mut cycles)) = coarser {
            if let Ok(solution) = problem.solve(&mut cycles, &start, &near) {
                return Ok((solution, cycles));
            }
            from = Some(start);
        }
        let mut system = problem.system()?;
        let solution = match from.map(|start| problem.solve(&mut system, &start, &near)) {
            Some(Ok(solution)) => solution,
            _ => problem.settle(&mut system, &self.membrane.start, settings)?,
        };
        Ok((solution, system))
    }

    /// The same wall with every other column and row; None where too little is left of it.
    #[must_use]
    pub fn thinned(&self) -> Option<Thinned> {
        let (mesh, columns, rows) = self.mesh.thinned()?;
        let samples: Vec<TangentSample> = columns.iter().map(|c| self.samples[*c]).collect();
        let mut membrane = wall_membrane(
            &mesh,
            &samples,
            self.stretch_of_bend,
            &self.membrane.law,
            self.membrane.thickness,
        )
        .ok()?;
        for (c, column) in columns.iter().enumerate() {
            for (r, row) in rows.iter().enumerate() {
                let (coarse, fine) = (mesh.node(c, r), self.mesh.node(*column, *row));
                membrane.held[coarse] = self.membrane.held[fine];
                for axis in (0..2).filter(|axis| self.membrane.held[fine][*axis]) {
                    membrane.start[coarse][axis] = self.membrane.start[fine][axis];
                }
            }
        }
        Some(Thinned {
            mesh,
            samples,
            membrane,
            stretch_of_bend: self.stretch_of_bend,
            columns,
            rows,
        })
    }

    /// The solution of the next coarser mesh, read off at this one's nodes, and the system that
    /// goes with it.
    fn coarser(&self, settings: &Settings) -> Option<(Vec<[f64; 2]>, System)> {
        if self.mesh.triangles.len() < 2 * COARSEST {
            return None;
        }
        let thinned = self.thinned()?;
        let coarsely = Settings { move_tolerance: COARSE_TOLERANCE, ..*settings };
        let (solution, system) = thinned.problem().solved(&coarsely).ok()?;
        Some((self.read_off(&thinned, &solution.flat), self.cycles(&thinned, system)))
    }

    /// Room for this wall's matrix, to be solved by cycles over the thinned one's as it stands.
    pub(super) fn cycles(&self, thinned: &Thinned, coarse: System) -> System {
        let WallMesh { rows, columns, closed, .. } = *self.mesh;
        let kept = (&thinned.columns[..], &thinned.rows[..]);
        let grid = GridSystem::new(
            Grid { rows, columns, closed },
            &self.mesh.triangles,
            &self.membrane.held,
            coarse,
            kept,
        );
        System::Cycles(Box::new(grid))
    }

    /// Cubics up the columns, then along the wall, of the nodes in their columns' own frames.
    fn read_off(&self, thinned: &Thinned, flat: &[[f64; 2]]) -> Vec<[f64; 2]> {
        let Thinned { mesh, columns, rows, .. } = thinned;
        let along = self.along();
        let length = along[self.samples.len()];
        let count = columns.len();
        let own: Vec<Vec2> = (0..flat.len())
            .map(|node| in_frame(&self.samples[columns[node / mesh.rows]], flat[node]))
            .collect();
        // The coarse mesh's alternating diagonals leave a zigzag four times as high as this one's.
        let even = |node: usize| match [-2, -1, 1, 2]
            .map(|by| shifted(count, mesh.closed, node / mesh.rows, by))
        {
            [Some(a), Some(b), Some(d), Some(e)] => without_zigzag(
                [a, b, node / mesh.rows, d, e].map(|c| own[mesh.node(c, node % mesh.rows)]),
            ),
            _ => own[node],
        };
        let evened: Vec<Vec2> = (0..flat.len()).map(even).collect();
        // Every row of the kept columns, outward and forward; the kept column k in the place of
        // column k.
        let mut kept: Vec<Vec2> = Vec::with_capacity(count * self.mesh.rows);
        for (c, column) in columns.iter().enumerate() {
            let up = |row: usize| self.mesh.up[self.mesh.node(*column, row)];
            for row in 0..self.mesh.rows {
                let after = rows.partition_point(|kept| *kept < row);
                let first = after.saturating_sub(2).min(rows.len().saturating_sub(4));
                let near = first..rows.len().min(first + 4);
                kept.push(if rows[after] == row {
                    evened[mesh.node(c, after)]
                } else {
                    let places: Vec<f64> = near.clone().map(|r| up(rows[r])).collect();
                    near.zip(weights(&places, up(row)))
                        .map(|(r, share)| evened[mesh.node(c, r)] * share)
                        .sum()
                });
            }
        }
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
                        let (turn, k) = (
                            k.div_euclid(count.cast_signed()),
                            k.rem_euclid(count.cast_signed()).unsigned_abs(),
                        );
                        (along[columns[k]] + length * turn as f64, k)
                    })
                    .collect()
            };
            let shares =
                weights(&near.iter().map(|(at, _)| *at).collect::<Vec<_>>(), along[column]);
            for row in 0..self.mesh.rows {
                let own: Vec2 = near
                    .iter()
                    .zip(&shares)
                    .map(|((_, k), share)| kept[self.mesh.node(*k, row)] * *share)
                    .sum();
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

/// Shares of the values at these places in their polynomial's value at another (J.-L. Lagrange's
/// form).
fn weights(places: &[f64], at: f64) -> Vec<f64> {
    let share = |(i, x): (usize, &f64)| {
        let others = places.iter().enumerate().filter(|(j, _)| *j != i);
        others.map(|(_, other)| (at - other) / (x - other)).product()
    };
    places.iter().enumerate().map(share).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fe::law::SheetLaw;
    use crate::geom::mesh_wall::{WallShape, mesh_wall};
    use std::f64::consts::{FRAC_PI_2, TAU};

    const LAW: SheetLaw = SheetLaw {
        strength_mpa: 1000.0,
        hardening: 0.17,
        anisotropy: 1.0,
        elastic_modulus_mpa: 205_000.0,
    };

    /// A wall about an ellipse, solved by cycles, by factors alone, and with cycles that are no
    /// use: the same blank, and the last by factors.
    #[test]
    fn cycles_and_factors_find_the_same_blank() {
        let sample = |i: usize| {
            let (sin, cos) = (TAU * i as f64 / 72.0).sin_cos();
            let size = (40.0 * cos).hypot(60.0 * sin);
            let outward = [40.0 * cos / size, 60.0 * sin / size];
            TangentSample {
                point: [60.0 * cos, 40.0 * sin],
                outward,
                curvature: 60.0 * 40.0 / size.powi(3),
                wall_length: 12.0,
            }
        };
        let samples: Vec<TangentSample> = (0..72).map(sample).collect();
        let shape =
            WallShape { bend_mid_radius: 4.0, bend_angle: FRAC_PI_2, bend_rows: 5, wall_rows: 10 };
        let mesh = mesh_wall(&samples, true, &shape).expect("a wall");
        let membrane = wall_membrane(&mesh, &samples, 0.95, &LAW, 1.8).expect("a problem");
        let wall = WallProblem {
            mesh: &mesh,
            samples: &samples,
            stretch_of_bend: 0.95,
            membrane: &membrane,
        };
        let settings = Settings::default();
        let (by_cycles, system) = wall.solved(&settings).expect("a blank");
        assert!(matches!(system, System::Cycles(_)));
        let by_factors = membrane.solve(&settings).expect("a blank");

        let thinned = wall.thinned().expect("enough left");
        let never_factored =
            thinned.membrane.problem().and_then(|problem| problem.system()).expect("small");
        let (start, _) = wall.coarser(&settings).expect("a start");
        let useless = Some((start, wall.cycles(&thinned, never_factored)));
        let (after_all, system) = wall
            .finished(&membrane.problem().expect("sound"), useless, &settings)
            .expect("a blank");
        assert!(matches!(system, System::Factors(_)));
        for found in [&by_cycles, &after_all] {
            for (a, b) in found.flat.iter().zip(&by_factors.flat) {
                assert!((a[0] - b[0]).hypot(a[1] - b[1]) < 1e-7, "{a:?} {b:?}");
            }
        }
        // The threads change nothing.
        assert_eq!(by_cycles.flat, wall.solve(&settings).expect("a blank").flat);
    }
}
