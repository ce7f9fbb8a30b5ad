//! Newton's method for the flat positions: in stages, with steps that never turn a triangle over, and a record of all steps.
//!
//! Sought are balanced forces, edge load included, and each step takes the true derivative of all of them: it is not symmetric,
//! for no energy has these forces. (To take the load as constant within each step saves the derivative, but where edges strain
//! by some 0.3 their nodes then tremble without end.) A step is judged by how far the next one would still go, seen through the
//! same matrix (natural monotonicity: P. Deuflhard, Newton Methods for Nonlinear Problems, 2004; from memory). Where that is too
//! far off to judge by, a step downhill comes first: each element's stiffness made positive, the load constant, less work.

use super::edge::{Body, FreeEdges};
use super::element::{Element, Response, Sheet, Volume};
use super::membrane::{Failure, GREATEST_STRAIN, Membrane, Settings, Solution, Start, TriangleState};
use super::sparse::{Factored, NearlySymmetricSystem, Stiffness, SymmetricSystem, SystemFault};
use std::ops::Range;

/// Meeting strain of the softened law of the first stage: the true one is nearly rigid below its own, a thousandth or two.
const SOFT_STRAIN: f64 = 0.05;
/// The first stage only has to come near: largest move of a node in its last step, as a share of the mean flat edge.
const NEAR_ENOUGH: f64 = 3e-2;
/// A step goes at most this share of the way to the first triangle without area.
const SHARE_OF_COLLAPSE: f64 = 0.4;
/// Share of the promised decrease a step must bring (L. Armijo, Pacific J. Math. 16, 1966).
const ARMIJO: f64 = 1e-4;
/// Steps of each stage allowed to a start that has failed as a fair one.
const FAR_STEPS: usize = 25;
/// A step shorter than this share of Newton's is a failure.
const SHORTEST_STEP: f64 = 1e-6;
/// Where balancing would need a step shorter than this share of Newton's, it is too far off: a step downhill comes first.
const SHORTEST_NEWTON_STEP: f64 = 0.1;
/// Share of its promise that a step towards balance must keep: with a step α the way still to go must fall by α/4.
const KEPT: f64 = 0.25;
/// How nearly the linear system of a step is solved, as a share of the step: the steps after it take up the rest.
const NEARLY: f64 = 1e-2;
/// Steps through the factors of the last one go on while each is at most this share of the one before.
const FOLLOWED: f64 = 0.4;
/// From so many triangles on, a thread of its own is worth its start.
const WORTH_A_THREAD: usize = 2000;
/// Moves below this share of the mean edge are rounding.
const ROUNDING_OF_MOVES: f64 = 1e-9;
/// Rounding of the energy sum, as a share of it: differences below this say nothing.
const ENERGY_NOISE: f64 = 1e-13;
/// Strain whose elastic work counts as none: sets the scale where a sheet needs no strain at all.
const NO_STRAIN: f64 = 1e-6;

/// Which of the stages a step belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// A far start brought near: least work, volume frozen.
    Near,
    /// The law softened.
    Soft,
    /// The true law.
    True,
}

/// One Newton step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Iteration {
    /// The stage it belongs to.
    pub stage: Stage,
    /// Work before the step, N·mm.
    pub energy: f64,
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
    /// Slope of what is to fall along the direction, negative: the work downhill, towards balance the way to go.
    slope: f64,
    energy: f64,
}

/// Where a step towards balance has come to.
struct Settled {
    flat: Vec<[f64; 2]>,
    step: f64,
    /// Moves of the unknowns that the same matrix asks for from here.
    rest: Vec<f64>,
}

/// A membrane made ready: all that stays the same wherever its nodes lie, and the room for its matrix.
pub(super) struct Prepared<'a> {
    pub(super) problem: Problem<'a>,
    system: NearlySymmetricSystem,
}

pub(super) struct Problem<'a> {
    membrane: &'a Membrane,
    pub(super) body: Body<'a>,
    pub(super) edges: FreeEdges,
    /// Unknown of each coordinate.
    unknowns: Vec<[Option<usize>; 2]>,
    count: usize,
    /// Unknowns of each triangle's corners.
    degrees: Vec<[Option<usize>; 6]>,
}

struct Solver<'a> {
    problem: &'a Problem<'a>,
    /// For steps downhill: every element's stiffness made positive. Most solves need none.
    downhill: Option<SymmetricSystem>,
    mean_edge: f64,
    record: Record,
}

impl<'a> Prepared<'a> {
    /// `elements` are those of the membrane's triangles.
    pub(super) fn new(membrane: &'a Membrane, elements: Vec<Element>) -> Result<Self, Failure> {
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
        let degrees: Vec<[Option<usize>; 6]> =
            membrane.triangles.iter().map(|corners| std::array::from_fn(|a| unknowns[corners[a / 2]][a % 2])).collect();
        let system = NearlySymmetricSystem::new(count, &degrees).map_err(|_| Failure::TooLarge)?;
        let edges = FreeEdges::new(&membrane.triangles, &membrane.formed, &membrane.held);
        let body = Body { triangles: &membrane.triangles, elements };
        Ok(Self { problem: Problem { membrane, body, edges, unknowns, count, degrees }, system })
    }

    /// Finds the flat blank from `start`.
    pub(super) fn solve(&mut self, start: &[[f64; 2]], settings: &Settings) -> Result<Solution, Failure> {
        self.problem.body.check_start(start).map_err(Failure::Input)?;
        let (flat, record) = self.positions(start, settings)?;
        let Problem { membrane, body, edges, .. } = &self.problem;
        let triangles: Vec<TriangleState> = (0..body.elements.len()).map(|index| membrane.state(body, index, &flat)).collect();
        let strained = |state: &TriangleState| state.e1.max(-state.e2) > GREATEST_STRAIN;
        if let Some(triangle) = triangles.iter().position(strained) {
            return Err(Failure::Collapsing { triangle, record });
        }
        Ok(Solution { flat, triangles, free_nodes: edges.nodes(), record })
    }

    /// As [`Self::solve`]; should the start mislead, the long way round may still arrive.
    pub(super) fn settle(&mut self, start: &[[f64; 2]], settings: &Settings) -> Result<Solution, Failure> {
        let far = Settings { start: Start::Far, iteration_limit: settings.iteration_limit.min(FAR_STEPS), ..*settings };
        self.solve(start, settings).or_else(|_| self.solve(start, &far))
    }

    /// Goes through all stages from `start`, where no triangle is turned over.
    fn positions(&mut self, start: &[[f64; 2]], settings: &Settings) -> Result<(Vec<[f64; 2]>, Record), Failure> {
        let Self { problem, system } = self;
        let mut flat = start.to_vec();
        if problem.count == 0 {
            return Ok((flat, Record::default()));
        }
        let membrane = problem.membrane;
        let mean_edge = mean_edge(&problem.body, start);
        let mut solver = Solver { problem, downhill: None, mean_edge, record: Record::default() };
        let true_strain = membrane.law.meeting_strain();
        let soft_strain = SOFT_STRAIN.max(true_strain);
        if settings.start == Start::Far {
            solver.come_near(&mut flat, &membrane.sheet(Volume::Frozen, soft_strain), settings)?;
        }
        if settings.start != Start::Near {
            solver.balance(system, &mut flat, Stage::Soft, &membrane.sheet(Volume::True, soft_strain), settings)?;
        }
        solver.balance(system, &mut flat, Stage::True, &membrane.sheet(Volume::True, true_strain), settings)?;
        Ok((flat, solver.record))
    }
}

/// Largest move of a stage's last step, as a share of the mean edge.
fn tolerance(stage: Stage, settings: &Settings) -> f64 {
    if stage == Stage::True { settings.move_tolerance } else { NEAR_ENOUGH.max(settings.move_tolerance) }
}

fn moved(flat: &[[f64; 2]], direction: &[[f64; 2]], step: f64) -> Vec<[f64; 2]> {
    flat.iter().zip(direction).map(|(x, p)| [x[0] + step * p[0], x[1] + step * p[1]]).collect()
}

fn length(moves: &[f64]) -> f64 {
    moves.iter().map(|x| x * x).sum::<f64>().sqrt()
}

/// The node that moves most, and how far.
fn largest_move(direction: &[[f64; 2]]) -> (usize, f64) {
    direction.iter().enumerate().fold((0, 0.0), |(node, most), (index, p)| {
        let length = p[0].hypot(p[1]);
        if length > most { (index, length) } else { (node, most) }
    })
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
    /// Goes downhill with the volume frozen, free edges bearing no load: no more than a start for the rest.
    fn come_near(&mut self, flat: &mut Vec<[f64; 2]>, sheet: &Sheet, settings: &Settings) -> Result<(), Failure> {
        for _ in 0..settings.iteration_limit {
            let descent = self.descent(flat, sheet, &[])?;
            let (step, next) = self.walk(flat, sheet, &[], &descent)?;
            *flat = next;
            if self.record(Stage::Near, &descent, step) < tolerance(Stage::Near, settings) {
                break;
            }
        }
        Ok(())
    }

    /// Notes a step; returns the largest move that the whole step would have made, as a share of the mean edge.
    fn record(&mut self, stage: Stage, descent: &Descent, step: f64) -> f64 {
        let (node, largest) = largest_move(&descent.direction);
        let largest = largest / self.mean_edge;
        let largest_move = step * largest;
        self.record.iterations.push(Iteration { stage, energy: descent.energy, largest_move, node, step });
        largest
    }

    /// The first stage has no other task than to give a start: a far one is for the last to try.
    fn given_up(&self, stage: Stage) -> Result<(), Failure> {
        let node = self.record.iterations.last().map_or(0, |last| last.node);
        if stage == Stage::True { Err(Failure::NotConverged { node, record: self.record.clone() }) } else { Ok(()) }
    }

    /// Newton's method on the forces themselves, edge load included.
    fn balance(
        &mut self,
        system: &mut NearlySymmetricSystem,
        flat: &mut Vec<[f64; 2]>,
        stage: Stage,
        sheet: &Sheet,
        settings: &Settings,
    ) -> Result<(), Failure> {
        for _ in 0..settings.iteration_limit {
            system.clear();
            for (triangle, matrix) in self.problem.edges.stiffness(sheet, flat) {
                system.add_lopsided(triangle, self.problem.degrees[triangle], &matrix.map(|row| row.map(|value| -value)));
            }
            let load = self.problem.edges.load(sheet, flat);
            let (energy, mut moves) =
                self.forces(flat, &load, Some(system.symmetric()), |element, corners| element.true_response(sheet, corners))?;
            let factored = system.factor().map_err(|fault| self.failure(fault))?;
            factored.solve(&mut moves, NEARLY);
            let descent = Descent { slope: -length(&moves), direction: self.on_nodes(&moves), energy };
            if let Some(settled) = self.settle(flat, sheet, &factored, &descent) {
                *flat = settled.flat;
                let arrived = self.record(stage, &descent, settled.step) < tolerance(stage, settings);
                if arrived
                    || (settled.step >= 1.0
                        && self.follow(flat, sheet, &factored, (-descent.slope, settled.rest), stage, settings))
                {
                    return Ok(());
                }
            } else {
                let descent = self.descent(flat, sheet, &load)?;
                let (step, next) = self.walk(flat, sheet, &load, &descent)?;
                *flat = next;
                self.record(stage, &descent, step);
            }
        }
        self.given_up(stage)
    }

    /// Goes on through the factors of the last step while each step is a good deal shorter than the one before; tells whether that has
    /// arrived. `way` and `rest` are the last step's length and the moves asked for next.
    fn follow(
        &mut self,
        flat: &mut Vec<[f64; 2]>,
        sheet: &Sheet,
        factored: &Factored,
        (mut way, mut rest): (f64, Vec<f64>),
        stage: Stage,
        settings: &Settings,
    ) -> bool {
        loop {
            let left = length(&rest);
            let direction = self.on_nodes(&rest);
            if left.is_nan() || left > FOLLOWED * way || SHARE_OF_COLLAPSE * self.first_collapse(flat, &direction).0 < 1.0 {
                return false;
            }
            *flat = moved(flat, &direction, 1.0);
            let load = self.problem.edges.load(sheet, flat);
            let Ok((energy, forces)) = self.forces_alone(flat, &load, sheet) else { return false };
            if self.record(stage, &Descent { direction, slope: -left, energy }, 1.0) < tolerance(stage, settings) {
                return true;
            }
            (way, rest) = (left, forces);
            factored.solve(&mut rest, NEARLY);
        }
    }

    /// Goes along the direction as far as no triangle folds and the way still to go falls as promised.
    fn settle(&self, flat: &[[f64; 2]], sheet: &Sheet, factored: &Factored, descent: &Descent) -> Option<Settled> {
        let (collapse, _) = self.first_collapse(flat, &descent.direction);
        let mut step = (SHARE_OF_COLLAPSE * collapse).min(1.0);
        let noise = ROUNDING_OF_MOVES * self.mean_edge * (self.problem.count as f64).sqrt();
        let way = -descent.slope;
        while step >= SHORTEST_NEWTON_STEP && way.is_finite() {
            let next = moved(flat, &descent.direction, step);
            let load = self.problem.edges.load(sheet, &next);
            if let Ok((_, mut rest)) = self.forces_alone(&next, &load, sheet) {
                factored.solve(&mut rest, NEARLY);
                if length(&rest) <= (1.0 - KEPT * step) * way + noise {
                    return Some(Settled { flat: next, step, rest });
                }
            }
            step *= 0.5;
        }
        None
    }

    fn failure(&self, fault: SystemFault) -> Failure {
        match fault {
            SystemFault::Indefinite => Failure::Loose { record: self.record.clone() },
            SystemFault::TooLarge => Failure::TooLarge,
        }
    }

    /// Moves of the unknowns as moves of the nodes.
    fn on_nodes(&self, moves: &[f64]) -> Vec<[f64; 2]> {
        self.problem.unknowns.iter().map(|both| both.map(|unknown| unknown.map_or(0.0, |unknown| moves[unknown]))).collect()
    }

    /// As [`Self::forces`], without any stiffness.
    fn forces_alone(&self, flat: &[[f64; 2]], load: &[[f64; 2]], sheet: &Sheet) -> Result<(f64, Vec<f64>), Failure> {
        self.forces(flat, load, None, |element, corners| {
            let (energy, gradient) = element.forces(sheet, corners);
            Response { energy, gradient, hessian: [[0.0; 6]; 6] }
        })
    }

    /// The work done, and the forces on the unknowns: load less what the sheet answers. Every element's stiffness goes into `system`. Two
    /// threads take half the triangles each, and the sums are the same however they run.
    fn forces(
        &self,
        flat: &[[f64; 2]],
        load: &[[f64; 2]],
        system: Option<&mut SymmetricSystem>,
        respond: impl Fn(&Element, &[[f64; 2]; 3]) -> Response + Sync,
    ) -> Result<(f64, Vec<f64>), Failure> {
        let mut forces = vec![0.0; self.problem.count];
        for (force, unknown) in load.iter().zip(&self.problem.unknowns).flat_map(|(f, u)| f.iter().zip(u)) {
            if let Some(unknown) = unknown {
                forces[*unknown] += force;
            }
        }
        let body = &self.problem.body;
        let half = |triangles: Range<usize>, mut forces: Vec<f64>, mut stiffness: Option<Stiffness>| {
            let mut energy = 0.0;
            for index in triangles {
                let response = respond(&body.elements[index], &body.corners(index, flat));
                if !(response.energy.is_finite() && response.gradient.iter().sum::<f64>().is_finite()) {
                    return Err(index);
                }
                energy += response.energy;
                if let Some(stiffness) = &mut stiffness {
                    stiffness.add(index, &response.hessian);
                }
                for (unknown, gradient) in self.problem.degrees[index].iter().zip(response.gradient) {
                    if let Some(unknown) = unknown {
                        forces[*unknown] -= gradient;
                    }
                }
            }
            Ok((energy, forces))
        };
        let count = body.elements.len();
        let (first, second) = system.map_or((None, None), |system| {
            let (first, second) = system.halves();
            (Some(first), Some(second))
        });
        let none = vec![0.0; self.problem.count];
        let (first, second) = if count < WORTH_A_THREAD {
            (half(0..count / 2, forces, first), half(count / 2..count, none, second))
        } else {
            std::thread::scope(|scope| {
                let other = scope.spawn(|| half(count / 2..count, none, second));
                let own = half(0..count / 2, forces, first);
                (own, other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            })
        };
        match (first, second) {
            (Ok((energy, mut forces)), Ok((more, others))) => {
                forces.iter_mut().zip(others).for_each(|(force, other)| *force += other);
                Ok((energy + more, forces))
            }
            (Err(triangle), _) | (_, Err(triangle)) => Err(Failure::NotANumber { triangle, record: self.record.clone() }),
        }
    }

    /// Elastic work of the whole sheet at a strain that counts as none.
    fn work_of_no_strain(&self) -> f64 {
        let volume: f64 =
            self.problem.body.elements.iter().map(|element| element.area).sum::<f64>() * self.problem.membrane.thickness;
        0.5 * self.problem.membrane.law.elastic_modulus_mpa * volume * NO_STRAIN * NO_STRAIN
    }

    /// Newton's direction with every element's stiffness made positive.
    fn descent(&mut self, flat: &[[f64; 2]], sheet: &Sheet, load: &[[f64; 2]]) -> Result<Descent, Failure> {
        let mut system = match self.downhill.take() {
            Some(system) => system,
            None => SymmetricSystem::new(self.problem.count, &self.problem.degrees).map_err(|_| Failure::TooLarge)?,
        };
        system.clear();
        let (energy, forces) = self.forces(flat, load, Some(&mut system), |element, corners| element.response(sheet, corners))?;
        let mut moves = forces.clone();
        system.solve(&mut moves).map_err(|fault| self.failure(fault))?;
        self.downhill = Some(system);
        let slope = -forces.iter().zip(&moves).map(|(f, p)| f * p).sum::<f64>();
        if slope.is_nan() {
            return Err(Failure::Loose { record: self.record.clone() });
        }
        Ok(Descent { direction: self.on_nodes(&moves), slope, energy })
    }

    /// Goes along the direction as far as no triangle folds and the work, less that of the load, falls as promised.
    fn walk(
        &self,
        flat: &[[f64; 2]],
        sheet: &Sheet,
        load: &[[f64; 2]],
        descent: &Descent,
    ) -> Result<(f64, Vec<[f64; 2]>), Failure> {
        let (collapse, triangle) = self.first_collapse(flat, &descent.direction);
        let mut step = (SHARE_OF_COLLAPSE * collapse).min(1.0);
        let pull: f64 = load.iter().zip(&descent.direction).map(|(f, p)| f[0] * p[0] + f[1] * p[1]).sum();
        let noise = ENERGY_NOISE * (descent.energy + self.work_of_no_strain());
        while step >= SHORTEST_STEP {
            let next = moved(flat, &descent.direction, step);
            let energy: f64 = (0..self.problem.body.elements.len())
                .map(|index| self.problem.body.elements[index].energy(sheet, &self.problem.body.corners(index, &next)))
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
        for (index, corners) in self.problem.body.triangles.iter().enumerate() {
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
