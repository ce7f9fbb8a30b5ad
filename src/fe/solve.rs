//! Newton's method for the flat positions: three stages, steps that never turn a triangle over, and a record of all steps.

use super::edge::{Body, FreeEdges};
use super::element::{Sheet, Volume};
use super::membrane::{EdgeWork, Failure, Membrane, Settings};
use super::sparse::{SymmetricSystem, SystemFault};

/// Meeting strain of the softened law of the first two stages: with the true law at once, deep walls (edge strains beyond
/// about 0.6) fold elements on the way, and moderate ones need up to twice the steps.
const SOFT_STRAIN: f64 = 0.05;
/// The first two stages only have to come near: largest move of a node in its last step, as a share of the mean flat edge.
const NEAR_ENOUGH: f64 = 3e-2;
/// A step goes at most this share of the way to the first triangle without area.
const SHARE_OF_COLLAPSE: f64 = 0.8;
/// Share of the promised decrease a step must bring (L. Armijo, Pacific J. Math. 16, 1966).
const ARMIJO: f64 = 1e-4;
/// A step shorter than this share of Newton's is a failure.
const SHORTEST_STEP: f64 = 1e-6;
/// The work still to be gained must fall below this share of the work done.
const GAIN_TOLERANCE: f64 = 1e-8;
/// Rounding of the energy sum, as a share of it: differences below this say nothing.
const ENERGY_NOISE: f64 = 1e-13;
/// Strain whose elastic work counts as none: sets the scale where a sheet needs no strain at all.
const NO_STRAIN: f64 = 1e-6;

/// Which of the three stages a step belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Volume frozen, law softened: no triangle can gain by collapsing.
    Near,
    /// True volume, law softened, edges free of force.
    Soft,
    /// True volume and law, edges free of force.
    True,
}

/// One Newton step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Iteration {
    /// The stage it belongs to.
    pub stage: Stage,
    /// Work before the step, N·mm.
    pub energy: f64,
    /// Work the step promised to save, as a share of the work done.
    pub gain: f64,
    /// Largest move of a node, as a share of the mean flat edge.
    pub largest_move: f64,
    /// The node that moved most.
    pub node: usize,
    /// Share of Newton's own step that was taken.
    pub step: f64,
}

/// All steps of a solve, in order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Record {
    /// The steps.
    pub iterations: Vec<Iteration>,
}

impl Record {
    /// Steps taken in `stage`.
    #[must_use]
    pub fn steps(&self, stage: Stage) -> usize {
        self.iterations.iter().filter(|iteration| iteration.stage == stage).count()
    }
}

/// Where a search direction stands.
struct Descent {
    direction: Vec<[f64; 2]>,
    /// Slope of the merit along the direction, negative.
    slope: f64,
    energy: f64,
}

struct Solver<'a> {
    membrane: &'a Membrane,
    body: &'a Body<'a>,
    edges: &'a FreeEdges,
    system: SymmetricSystem,
    /// Unknown of each coordinate.
    unknowns: Vec<[Option<usize>; 2]>,
    count: usize,
    mean_edge: f64,
    record: Record,
}

/// Solves all stages from the membrane's start.
pub(super) fn solve(
    membrane: &Membrane,
    body: &Body,
    edges: &FreeEdges,
    settings: &Settings,
) -> Result<(Vec<[f64; 2]>, Record), Failure> {
    let mut count = 0;
    let unknowns: Vec<[Option<usize>; 2]> = membrane
        .held
        .iter()
        .map(|held| {
            held.map(|held| {
                (!held).then(|| {
                    count += 1;
                    count - 1
                })
            })
        })
        .collect();
    let mut flat = membrane.start.clone();
    if count == 0 {
        return Ok((flat, Record::default()));
    }
    let degrees: Vec<[Option<usize>; 6]> =
        body.triangles.iter().map(|corners| std::array::from_fn(|a| unknowns[corners[a / 2]][a % 2])).collect();
    let system = SymmetricSystem::new(count, &degrees).map_err(|_| Failure::TooLarge)?;
    let mean_edge = mean_edge(body, &flat);
    let mut solver = Solver { membrane, body, edges, system, unknowns, count, mean_edge, record: Record::default() };
    let true_strain = membrane.law.meeting_strain();
    let stages = [
        (Stage::Near, Volume::Frozen, SOFT_STRAIN.max(true_strain), EdgeWork::None),
        (Stage::Soft, Volume::True, SOFT_STRAIN.max(true_strain), settings.edge_work),
        (Stage::True, Volume::True, true_strain, settings.edge_work),
    ];
    for (stage, volume, d0, rule) in stages {
        solver.stage(&mut flat, stage, &membrane.sheet(volume, d0), rule, settings)?;
    }
    Ok((flat, solver.record))
}

fn mean_edge(body: &Body, flat: &[[f64; 2]]) -> f64 {
    let sum: f64 = body
        .triangles
        .iter()
        .flat_map(|corners| (0..3).map(|a| (flat[corners[a]], flat[corners[(a + 1) % 3]])))
        .map(|(a, b)| (b[0] - a[0]).hypot(b[1] - a[1]))
        .sum();
    sum / (3 * body.triangles.len()) as f64
}

impl Solver<'_> {
    fn stage(
        &mut self,
        flat: &mut Vec<[f64; 2]>,
        stage: Stage,
        sheet: &Sheet,
        rule: EdgeWork,
        settings: &Settings,
    ) -> Result<(), Failure> {
        let last = stage == Stage::True;
        let move_tolerance = if last { settings.move_tolerance } else { NEAR_ENOUGH.max(settings.move_tolerance) };
        for _ in 0..settings.iteration_limit {
            let load = self.edges.load(sheet, self.body, flat, rule);
            let descent = self.descent(flat, sheet, &load)?;
            let (step, next) = self.walk(flat, sheet, &load, &descent)?;
            let (node, largest) = descent.direction.iter().enumerate().fold((0, 0.0), |(node, most), (index, p)| {
                let length = p[0].hypot(p[1]);
                if length > most { (index, length) } else { (node, most) }
            });
            *flat = next;
            let iteration = Iteration {
                stage,
                energy: descent.energy,
                gain: -descent.slope / (descent.energy + self.work_of_no_strain()),
                largest_move: step * largest / self.mean_edge,
                node,
                step,
            };
            self.record.iterations.push(iteration);
            if largest / self.mean_edge < move_tolerance && (!last || iteration.gain < GAIN_TOLERANCE) {
                return Ok(());
            }
        }
        let node = self.record.iterations.last().map_or(0, |last| last.node);
        // The first stages have no other task than to give a start: a far one is for the last to try.
        if last { Err(Failure::NotConverged { node, record: self.record.clone() }) } else { Ok(()) }
    }

    /// Elastic work of the whole sheet at a strain that counts as none.
    fn work_of_no_strain(&self) -> f64 {
        let volume: f64 = self.body.elements.iter().map(|element| element.area).sum::<f64>() * self.membrane.thickness;
        0.5 * self.membrane.law.elastic_modulus_mpa * volume * NO_STRAIN * NO_STRAIN
    }

    /// Newton's direction with every element's stiffness made positive.
    fn descent(&mut self, flat: &[[f64; 2]], sheet: &Sheet, load: &[[f64; 2]]) -> Result<Descent, Failure> {
        let mut right = vec![0.0; self.count];
        for (node, force) in load.iter().enumerate() {
            for (unknown, force) in self.unknowns[node].iter().zip(force) {
                if let Some(unknown) = unknown {
                    right[*unknown] += force;
                }
            }
        }
        self.system.clear();
        let mut energy = 0.0;
        for (index, corners) in self.body.triangles.iter().enumerate() {
            let response = self.body.elements[index].response(sheet, &self.body.corners(index, flat));
            if !(response.energy.is_finite() && response.gradient.iter().sum::<f64>().is_finite()) {
                return Err(Failure::NotANumber { triangle: index, record: self.record.clone() });
            }
            energy += response.energy;
            self.system.add(index, &response.hessian);
            for a in 0..6 {
                if let Some(unknown) = self.unknowns[corners[a / 2]][a % 2] {
                    right[unknown] -= response.gradient[a];
                }
            }
        }
        let forces = right.clone();
        self.system.solve(&mut right).map_err(|fault| match fault {
            SystemFault::Indefinite => Failure::Loose { record: self.record.clone() },
            SystemFault::TooLarge => Failure::TooLarge,
        })?;
        let slope = -forces.iter().zip(&right).map(|(f, p)| f * p).sum::<f64>();
        if slope.is_nan() {
            return Err(Failure::Loose { record: self.record.clone() });
        }
        let direction =
            self.unknowns.iter().map(|both| both.map(|unknown| unknown.map_or(0.0, |unknown| right[unknown]))).collect();
        Ok(Descent { direction, slope, energy })
    }

    /// Goes along the direction as far as no triangle folds and the merit falls as promised.
    fn walk(
        &self,
        flat: &[[f64; 2]],
        sheet: &Sheet,
        load: &[[f64; 2]],
        descent: &Descent,
    ) -> Result<(f64, Vec<[f64; 2]>), Failure> {
        let (collapse, triangle) = self.first_collapse(flat, &descent.direction);
        let mut step = (SHARE_OF_COLLAPSE * collapse).min(1.0);
        // The load counts as constant while its step is judged.
        let pull: f64 = load.iter().zip(&descent.direction).map(|(f, p)| f[0] * p[0] + f[1] * p[1]).sum();
        let noise = ENERGY_NOISE * (descent.energy + self.work_of_no_strain());
        while step >= SHORTEST_STEP {
            let next: Vec<[f64; 2]> =
                flat.iter().zip(&descent.direction).map(|(x, p)| [x[0] + step * p[0], x[1] + step * p[1]]).collect();
            let energy: f64 = (0..self.body.elements.len())
                .map(|index| self.body.elements[index].energy(sheet, &self.body.corners(index, &next)))
                .sum();
            if energy - step * pull <= descent.energy + ARMIJO * step * descent.slope + noise {
                return Ok((step, next));
            }
            step *= 0.5;
        }
        Err(Failure::Collapsing { triangle, record: self.record.clone() })
    }

    /// Smallest positive root of det(D + α dD) over all triangles, and the triangle it belongs to.
    fn first_collapse(&self, flat: &[[f64; 2]], direction: &[[f64; 2]]) -> (f64, usize) {
        let mut first = (f64::INFINITY, 0);
        for (index, corners) in self.body.triangles.iter().enumerate() {
            let edges = |of: &[[f64; 2]]| {
                let [a, b, c] = corners.map(|node| of[node]);
                [[b[0] - a[0], c[0] - a[0]], [b[1] - a[1], c[1] - a[1]]]
            };
            let cross = |p: &[[f64; 2]; 2], q: &[[f64; 2]; 2]| p[0][0] * q[1][1] - p[1][0] * q[0][1];
            let (d, p) = (edges(flat), edges(direction));
            let (a, b, c) = (cross(&p, &p), cross(&d, &p) + cross(&p, &d), cross(&d, &d));
            let root = smallest_positive_root(a, b, c);
            if root < first.0 {
                first = (root, index);
            }
        }
        first
    }
}

/// Smallest positive root of a α² + b α + c for c > 0, or infinity. The form 2c / (−b ± …) loses no digits for small a.
fn smallest_positive_root(a: f64, b: f64, c: f64) -> f64 {
    let discriminant = b * b - 4.0 * a * c;
    if discriminant < 0.0 {
        return f64::INFINITY;
    }
    let root = 2.0 * c / (-b + discriminant.sqrt());
    let other = 2.0 * c / (-b - discriminant.sqrt());
    [root, other].into_iter().filter(|x| *x > 0.0).fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_by_hand() {
        assert!((smallest_positive_root(1.0, -3.0, 2.0) - 1.0).abs() < 1e-15);
        assert!((smallest_positive_root(-1.0, 1.0, 2.0) - 2.0).abs() < 1e-15);
        assert!((smallest_positive_root(0.0, -4.0, 2.0) - 0.5).abs() < 1e-15);
        assert!(smallest_positive_root(1.0, 3.0, 2.0).is_infinite());
        assert!(smallest_positive_root(1.0, 0.0, 2.0).is_infinite());
        assert!(smallest_positive_root(0.0, 0.0, 2.0).is_infinite());
    }
}
