//! Newton's method for the flat positions: in stages, with steps that never turn a triangle over,
//! and a record of all steps.
//!
//! Sought are balanced forces, edge load included, and each step takes the true derivative of all
//! of them: it is not symmetric, for no energy has these forces. (To take the load as constant
//! within each step saves the derivative, but where edges strain by some 0.3 their nodes then
//! tremble without end.) A step is judged by how far the next one would still go, seen through the
//! same matrix (natural monotonicity: P. Deuflhard, Newton Methods for Nonlinear Problems, 2004;
//! from memory). Where that is too far off to judge by, a step downhill comes first: each element's
//! stiffness made positive, the load constant, less work.

use super::edge::{Body, FreeEdges};
use super::element::{Element, Response, Sheet, Volume};
use super::membrane::{
    Failure, GREATEST_STRAIN, Membrane, Settings, Solution, Start, TriangleState,
};
use super::sparse::{SymmetricSystem, SystemFault};
use super::system::{Adding, Factors, Move, Numbering, System};
use std::ops::Range;

/// Meeting strain of the softened law of the first stage: the true one is nearly rigid below its
/// own, a thousandth or two.
const SOFT_STRAIN: f64 = 0.05;
/// The first stage only has to come near: largest move of a node in its last step, as a share of
/// the mean flat edge.
const NEAR_ENOUGH: f64 = 3e-2;
/// A step goes at most this share of the way to the first triangle without area.
const SHARE_OF_COLLAPSE: f64 = 0.4;
/// Share of the promised decrease a step must bring (L. Armijo, Pacific J. Math. 16, 1966).
const ARMIJO: f64 = 1e-4;
/// Steps of each stage allowed to a start that has failed as a fair one.
const FAR_STEPS: usize = 25;
/// A step shorter than this share of Newton's is a failure.
const SHORTEST_STEP: f64 = 1e-6;
/// Where balancing would need a step shorter than this share of Newton's, it is too far off: a step
/// downhill comes first.
const SHORTEST_NEWTON_STEP: f64 = 0.1;
/// Share of its promise that a step towards balance must keep: with a step α the way still to go
/// must fall by α/4.
const KEPT: f64 = 0.25;
/// How nearly the linear system of a step is solved, as a share of the step: the steps after it
/// take up the rest.
const NEARLY: f64 = 1e-2;
/// Steps through the factors of the last one go on while each is at most this share of the one
/// before.
const FOLLOWED: f64 = 0.4;
/// From so many triangles on, a thread of its own is worth its start.
const WORTH_A_THREAD: usize = 4000;
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
    /// Slope of what is to fall along the direction, negative: the work downhill, towards balance
    /// the way to go.
    slope: f64,
    energy: f64,
}

/// Where a step towards balance has come to.
struct Settled {
    flat: Vec<[f64; 2]>,
    step: f64,
    /// Work there, N·mm.
    energy: f64,
    /// Moves that the same matrix asks for from here.
    rest: Vec<Move>,
}

/// A membrane made ready: all that stays the same wherever its nodes lie.
pub(super) struct Problem<'a> {
    membrane: &'a Membrane,
    body: Body<'a>,
    edges: FreeEdges,
}

struct Solver<'a> {
    problem: &'a Problem<'a>,
    /// For steps downhill: every element's stiffness made positive. Most solves need none.
    downhill: Option<(Numbering, SymmetricSystem)>,
    mean_edge: f64,
    record: Record,
}

impl<'a> Problem<'a> {
    /// `elements` are those of the membrane's triangles.
    pub(super) fn new(membrane: &'a Membrane, elements: Vec<Element>) -> Self {
        let edges = FreeEdges::new(&membrane.triangles, &membrane.formed, &membrane.held);
        Self { membrane, body: Body { triangles: &membrane.triangles, elements }, edges }
    }

    /// Room for its matrix and the factors.
    pub(super) fn system(&self) -> Result<System, Failure> {
        let factors = Factors::new(&self.membrane.triangles, &self.membrane.held)
            .map_err(|_| Failure::TooLarge)?;
        Ok(System::Factors(Box::new(factors)))
    }

    /// Finds the flat blank from `start`.
    pub(super) fn solve(
        &self,
        system: &mut System,
        start: &[[f64; 2]],
        settings: &Settings,
    ) -> Result<Solution, Failure> {
        let (flat, record) = self.positions(system, start, settings)?;
        let Problem { membrane, body, edges } = self;
        let count = body.elements.len();
        let states = |range: Range<usize>| {
            range.map(|index| membrane.state(body, index, &flat)).collect::<Vec<_>>()
        };
        let (mut triangles, others) =
            both(count, || states(0..count / 2), || states(count / 2..count));
        triangles.extend(others);
        let strained = |state: &TriangleState| state.e1.max(-state.e2) > GREATEST_STRAIN;
        if let Some(triangle) = triangles.iter().position(strained) {
            return Err(Failure::Collapsing { triangle, record });
        }
        Ok(Solution { flat, triangles, free_nodes: edges.nodes(), record })
    }

    /// As [`Self::solve`]; should the start mislead, the long way round may still arrive.
    pub(super) fn settle(
        &self,
        system: &mut System,
        start: &[[f64; 2]],
        settings: &Settings,
    ) -> Result<Solution, Failure> {
        let far = Settings {
            start: Start::Far,
            iteration_limit: settings.iteration_limit.min(FAR_STEPS),
            ..*settings
        };
        self.solve(system, start, settings).or_else(|_| self.solve(system, start, &far))
    }

    /// Goes through all stages from `start`, where no triangle may be turned over.
    fn positions(
        &self,
        system: &mut System,
        start: &[[f64; 2]],
        settings: &Settings,
    ) -> Result<(Vec<[f64; 2]>, Record), Failure> {
        self.body.check_start(start).map_err(Failure::Input)?;
        let mut flat = start.to_vec();
        let membrane = self.membrane;
        if membrane.held.as_flattened().iter().all(|held| *held) {
            return Ok((flat, Record::default()));
        }
        let mean_edge = mean_edge(&self.body, start);
        let mut solver =
            Solver { problem: self, downhill: None, mean_edge, record: Record::default() };
        let true_strain = membrane.law.meeting_strain();
        let soft_strain = SOFT_STRAIN.max(true_strain);
        if settings.start == Start::Far {
            solver.come_near(&mut flat, &membrane.sheet(Volume::Frozen, soft_strain), settings)?;
        }
        if settings.start != Start::Near {
            solver.balance(
                system,
                &mut flat,
                Stage::Soft,
                &membrane.sheet(Volume::True, soft_strain),
                settings,
            )?;
        }
        solver.balance(
            system,
            &mut flat,
            Stage::True,
            &membrane.sheet(Volume::True, true_strain),
            settings,
        )?;
        Ok((flat, solver.record))
    }
}

/// Does both, the second on a thread of its own where so many triangles are worth it.
pub(super) fn both<A, B: Send>(
    triangles: usize,
    first: impl FnOnce() -> A,
    second: impl FnOnce() -> B + Send,
) -> (A, B) {
    if triangles < WORTH_A_THREAD {
        return (first(), second());
    }
    std::thread::scope(|scope| {
        let other = scope.spawn(second);
        (first(), other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
    })
}

/// Largest move of a stage's last step, as a share of the mean edge.
fn tolerance(stage: Stage, settings: &Settings) -> f64 {
    if stage == Stage::True {
        settings.move_tolerance
    } else {
        NEAR_ENOUGH.max(settings.move_tolerance)
    }
}

fn moved(flat: &[[f64; 2]], direction: &[[f64; 2]], step: f64) -> Vec<[f64; 2]> {
    flat.iter().zip(direction).map(|(x, p)| [x[0] + step * p[0], x[1] + step * p[1]]).collect()
}

fn length(moves: &[Move]) -> f64 {
    moves.as_flattened().iter().map(|x| x * x).sum::<f64>().sqrt()
}

/// The node that moves most, and how far.
fn largest_move(direction: &[[f64; 2]]) -> (usize, f64) {
    direction.iter().enumerate().fold((0, 0.0), |(node, most), (index, p)| {
        let length = (p[0] * p[0] + p[1] * p[1]).sqrt();
        if length > most { (index, length) } else { (node, most) }
    })
}

fn mean_edge(body: &Body, flat: &[[f64; 2]]) -> f64 {
    let sum: f64 = body
        .triangles
        .iter()
        .flat_map(|corners| (0..3).map(|a| (flat[corners[a]], flat[corners[(a + 1) % 3]])))
        .map(|(a, b)| length(&[[b[0] - a[0], b[1] - a[1]]]))
        .sum();
    sum / (3 * body.triangles.len()) as f64
}

impl Solver<'_> {
    /// Goes downhill with the volume frozen, free edges bearing no load: no more than a start for
    /// the rest.
    fn come_near(
        &mut self,
        flat: &mut Vec<[f64; 2]>,
        sheet: &Sheet,
        settings: &Settings,
    ) -> Result<(), Failure> {
        for _ in 0..settings.iteration_limit {
            let none = vec![[0.0; 2]; flat.len()];
            let descent = self.descent(flat, sheet, &none)?;
            let (step, next) = self.walk(flat, sheet, &none, &descent)?;
            *flat = next;
            if self.record(Stage::Near, &descent, step) < tolerance(Stage::Near, settings) {
                break;
            }
        }
        Ok(())
    }

    /// Notes a step; returns the largest move that the whole step would have made, as a share of
    /// the mean edge.
    fn record(&mut self, stage: Stage, descent: &Descent, step: f64) -> f64 {
        let (node, largest) = largest_move(&descent.direction);
        let largest = largest / self.mean_edge;
        let largest_move = step * largest;
        self.record.iterations.push(Iteration {
            stage,
            energy: descent.energy,
            largest_move,
            node,
            step,
        });
        largest
    }

    /// The first stage has no other task than to give a start: a far one is for the last to try.
    fn given_up(&self, stage: Stage) -> Result<(), Failure> {
        let node = self.record.iterations.last().map_or(0, |last| last.node);
        if stage == Stage::True {
            Err(Failure::NotConverged { node, record: self.record.clone() })
        } else {
            Ok(())
        }
    }

    /// Newton's method on the forces themselves, edge load included.
    fn balance(
        &mut self,
        system: &mut System,
        flat: &mut Vec<[f64; 2]>,
        stage: Stage,
        sheet: &Sheet,
        settings: &Settings,
    ) -> Result<(), Failure> {
        for _ in 0..settings.iteration_limit {
            system.clear();
            for (triangle, matrix) in self.problem.edges.stiffness(sheet, flat) {
                system.add_lopsided(triangle, &matrix.map(|row| row.map(|value| -value)));
            }
            let load = self.problem.edges.load(sheet, flat);
            let split = system.split(self.problem.body.elements.len());
            let (energy, mut moves) =
                self.forces(flat, &load, (split, Some(system.halves())), |element, corners| {
                    element.true_response(sheet, corners)
                })?;
            system
                .factor()
                .and_then(|()| system.solve(&mut moves, NEARLY))
                .map_err(|fault| self.failure(fault))?;
            let descent = Descent { slope: -length(&moves), direction: moves, energy };
            let collapse = self.first_collapse(flat, &descent.direction).0;
            let (_, most) = largest_move(&descent.direction);
            if most < tolerance(stage, settings) * self.mean_edge
                && SHARE_OF_COLLAPSE * collapse >= 1.0
            {
                *flat = moved(flat, &descent.direction, 1.0);
                self.record(stage, &descent, 1.0);
                return Ok(());
            }
            if let Some(mut settled) = self.settle(flat, sheet, system, (&descent, collapse))? {
                *flat = std::mem::take(&mut settled.flat);
                let arrived =
                    self.record(stage, &descent, settled.step) < tolerance(stage, settings);
                let whole = settled.step >= 1.0;
                if arrived
                    || (whole
                        && self.follow(
                            flat,
                            sheet,
                            system,
                            (-descent.slope, settled),
                            stage,
                            settings,
                        ))
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

    /// Goes on through the matrix of the last step while each step is a good deal shorter than the
    /// one before; tells whether that has arrived. `way` is the last step's length.
    fn follow(
        &mut self,
        flat: &mut Vec<[f64; 2]>,
        sheet: &Sheet,
        system: &System,
        (mut way, settled): (f64, Settled),
        stage: Stage,
        settings: &Settings,
    ) -> bool {
        let Settled { mut energy, mut rest, .. } = settled;
        loop {
            let left = length(&rest);
            if left.is_nan()
                || left > FOLLOWED * way
                || SHARE_OF_COLLAPSE * self.first_collapse(flat, &rest).0 < 1.0
            {
                return false;
            }
            *flat = moved(flat, &rest, 1.0);
            if self.record(stage, &Descent { direction: rest, slope: -left, energy }, 1.0)
                < tolerance(stage, settings)
            {
                return true;
            }
            let load = self.problem.edges.load(sheet, flat);
            let Ok(next) = self.forces_alone(flat, &load, sheet) else { return false };
            way = left;
            (energy, rest) = next;
            if system.solve(&mut rest, NEARLY).is_err() {
                return false;
            }
        }
    }

    /// Goes along the direction as far as no triangle folds and the way still to go falls as
    /// promised.
    fn settle(
        &self,
        flat: &[[f64; 2]],
        sheet: &Sheet,
        system: &System,
        (descent, collapse): (&Descent, f64),
    ) -> Result<Option<Settled>, Failure> {
        let mut step = (SHARE_OF_COLLAPSE * collapse).min(1.0);
        let free = self.problem.membrane.held.as_flattened().iter().filter(|held| !**held).count();
        let noise = ROUNDING_OF_MOVES * self.mean_edge * (free as f64).sqrt();
        let way = -descent.slope;
        while step >= SHORTEST_NEWTON_STEP && way.is_finite() {
            let next = moved(flat, &descent.direction, step);
            let load = self.problem.edges.load(sheet, &next);
            if let Ok((energy, mut rest)) = self.forces_alone(&next, &load, sheet) {
                system.solve(&mut rest, NEARLY).map_err(|fault| self.failure(fault))?;
                if length(&rest) <= (1.0 - KEPT * step) * way + noise {
                    return Ok(Some(Settled { flat: next, step, energy, rest }));
                }
            }
            step *= 0.5;
        }
        Ok(None)
    }

    fn failure(&self, fault: SystemFault) -> Failure {
        let record = self.record.clone();
        match fault {
            SystemFault::Indefinite => Failure::Loose { record },
            SystemFault::TooLarge => Failure::TooLarge,
            SystemFault::Slow => Failure::NotConverged {
                node: record.iterations.last().map_or(0, |last| last.node),
                record,
            },
        }
    }

    /// As [`Self::forces`], without any stiffness.
    fn forces_alone(
        &self,
        flat: &[[f64; 2]],
        load: &[Move],
        sheet: &Sheet,
    ) -> Result<(f64, Vec<Move>), Failure> {
        self.forces(flat, load, (self.problem.body.elements.len() / 2, None), |element, corners| {
            let (energy, gradient) = element.forces(sheet, corners);
            Response { energy, gradient, hessian: [[0.0; 6]; 6] }
        })
    }

    /// The work done, and the forces on the nodes, 0 where held: load less what the sheet answers.
    /// Every element's stiffness is added to the matrix given. Two threads take the triangles
    /// before `split` and from there on, and the sums are the same however they run.
    fn forces(
        &self,
        flat: &[[f64; 2]],
        load: &[Move],
        (split, adding): (usize, Option<(Adding, Adding)>),
        respond: impl Fn(&Element, &[[f64; 2]; 3]) -> Response + Sync,
    ) -> Result<(f64, Vec<Move>), Failure> {
        let body = &self.problem.body;
        let part = |triangles: Range<usize>, mut forces: Vec<Move>, mut adding: Option<Adding>| {
            let mut energy = 0.0;
            for index in triangles {
                let response = respond(&body.elements[index], &body.corners(index, flat));
                if !(response.energy.is_finite()
                    && response.gradient.iter().sum::<f64>().is_finite())
                {
                    return Err(index);
                }
                energy += response.energy;
                if let Some(adding) = &mut adding {
                    adding.add(index, &response.hessian);
                }
                let (gradients, _) = response.gradient.as_chunks::<2>();
                for (node, gradient) in body.triangles[index].iter().zip(gradients) {
                    forces[*node][0] -= gradient[0];
                    forces[*node][1] -= gradient[1];
                }
            }
            Ok((energy, forces))
        };
        let count = body.elements.len();
        let (first, second) = adding.unzip();
        let (own, none) = (load.to_vec(), vec![[0.0; 2]; load.len()]);
        let (first, second) =
            both(count, || part(0..split, own, first), || part(split..count, none, second));
        match (first, second) {
            (Ok((energy, mut forces)), Ok((more, others))) => {
                let free =
                    self.problem.membrane.held.as_flattened().iter().zip(others.as_flattened());
                for (force, (held, other)) in forces.as_flattened_mut().iter_mut().zip(free) {
                    *force = if *held { 0.0 } else { *force + other };
                }
                Ok((energy + more, forces))
            }
            (Err(triangle), _) | (_, Err(triangle)) => {
                Err(Failure::NotANumber { triangle, record: self.record.clone() })
            }
        }
    }

    /// Elastic work of the whole sheet at a strain that counts as none.
    fn work_of_no_strain(&self) -> f64 {
        let volume: f64 =
            self.problem.body.elements.iter().map(|element| element.area).sum::<f64>()
                * self.problem.membrane.thickness;
        0.5 * self.problem.membrane.law.elastic_modulus_mpa * volume * NO_STRAIN * NO_STRAIN
    }

    /// Newton's direction with every element's stiffness made positive.
    fn descent(
        &mut self,
        flat: &[[f64; 2]],
        sheet: &Sheet,
        load: &[[f64; 2]],
    ) -> Result<Descent, Failure> {
        let (numbering, mut system) = match self.downhill.take() {
            Some(ready) => ready,
            None => {
                let numbering =
                    Numbering::new(&self.problem.membrane.triangles, &self.problem.membrane.held);
                let system = SymmetricSystem::new(numbering.count, &numbering.degrees)
                    .map_err(|_| Failure::TooLarge)?;
                (numbering, system)
            }
        };
        system.clear();
        let (first, second) = system.halves();
        let adding = (Adding::Factors(first), Adding::Factors(second));
        let split = self.problem.body.elements.len() / 2;
        let (energy, forces) =
            self.forces(flat, load, (split, Some(adding)), |element, corners| {
                element.response(sheet, corners)
            })?;
        let mut moves = numbering.of_nodes(&forces);
        system.solve(&mut moves).map_err(|fault| self.failure(fault))?;
        let direction = numbering.on_nodes(&moves);
        self.downhill = Some((numbering, system));
        let slope = -forces
            .as_flattened()
            .iter()
            .zip(direction.as_flattened())
            .map(|(f, p)| f * p)
            .sum::<f64>();
        if slope.is_nan() {
            return Err(Failure::Loose { record: self.record.clone() });
        }
        Ok(Descent { direction, slope, energy })
    }

    /// Goes along the direction as far as no triangle folds and the work, less that of the load,
    /// falls as promised.
    fn walk(
        &self,
        flat: &[[f64; 2]],
        sheet: &Sheet,
        load: &[[f64; 2]],
        descent: &Descent,
    ) -> Result<(f64, Vec<[f64; 2]>), Failure> {
        let (collapse, triangle) = self.first_collapse(flat, &descent.direction);
        let mut step = (SHARE_OF_COLLAPSE * collapse).min(1.0);
        let pull: f64 =
            load.iter().zip(&descent.direction).map(|(f, p)| f[0] * p[0] + f[1] * p[1]).sum();
        let noise = ENERGY_NOISE * (descent.energy + self.work_of_no_strain());
        while step >= SHORTEST_STEP {
            let next = moved(flat, &descent.direction, step);
            let energy: f64 = (0..self.problem.body.elements.len())
                .map(|index| {
                    self.problem.body.elements[index]
                        .energy(sheet, &self.problem.body.corners(index, &next))
                })
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
            let cross =
                |p: &[[f64; 2]; 2], q: &[[f64; 2]; 2]| p[0][0] * q[1][1] - p[1][0] * q[0][1];
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

/// Smallest positive root of a α² + b α + c for c > 0, or infinity. The form 2c / (−b ± …) loses no
/// digits for small a.
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
