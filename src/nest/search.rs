//! Parting overlapping parts: the search that moves them about a fixed room until none overlap.
//!
//! The room is fixed, overlap is allowed, and the weighted sum of overlaps is brought down part by part; weights of
//! stubborn pairs rise, which carries the search out of dead ends. Sources: the guided local search of Egeblad, Nielsen
//! and Odgaard 2007 (EJOR 183, 1249-1266); minimising overlap in a fixed room, Imamichi, Yagiura and Nagamochi 2009
//! (Discrete Optimization 6, 345-361); sampled poses, descent by coordinates and rising weights, Gardeyn, Vanden Berghe
//! and Wauters 2025 (arXiv 2509.13329), with Umetani and Murakami 2021 (arXiv 2104.04525) for the descent.

use super::arrangement::{Arrangement, Pose, Vicinity};
use super::dice::Dice;
use super::outline::Outline;
use super::plane::Frame;
use super::world::{Kind, Turner, Turning, World};
use std::f64::consts::TAU;

/// Poses tried anywhere in the room for one move.
const WIDE: usize = 28;
/// And of those with a corner on a corner of any other part.
const WIDE_SNAPPED: usize = 12;
/// Poses tried about the part's present place for one move.
const CLOSE: usize = 10;
/// And of those with a corner on a corner of a neighbour.
const CLOSE_SNAPPED: usize = 10;
/// How many of the best poses are followed downhill.
const FOLLOWED: usize = 3;
/// How far about a pose its neighbours are gathered for further ones, as a share of the part's size.
const MARGIN: f64 = 0.15;
/// Largest pair weight.
const HEAVIEST: f32 = 1e9;

/// The parts that may move, and the bins they may stand on.
#[derive(Debug, Clone)]
pub(super) struct Scope {
    pub(super) items: Vec<usize>,
    pub(super) bins: Vec<usize>,
}

/// One weight for each pair of parts, and of part and forbidden ground.
#[derive(Debug)]
pub(super) struct Weights {
    slot: Vec<u32>,
    columns: usize,
    table: Vec<f32>,
}

impl Weights {
    pub(super) fn new(scope: &Scope, ids: usize, items: usize) -> Self {
        let n = scope.items.len();
        let mut slot = vec![u32::MAX; ids];
        #[allow(clippy::cast_possible_truncation)]
        {
            for (k, &i) in scope.items.iter().enumerate() {
                slot[i] = k as u32;
            }
            for (k, s) in slot[items..].iter_mut().enumerate() {
                *s = (n + k) as u32;
            }
        }
        let columns = n + ids - items;
        Self { slot, columns, table: vec![1.0; n * columns] }
    }

    fn row(&self, item: usize) -> &[f32] {
        let k = self.slot[item] as usize;
        &self.table[k * self.columns..(k + 1) * self.columns]
    }

    /// Weights of the pairs of one part.
    fn of(&self, item: usize) -> impl Fn(usize) -> f64 + '_ {
        let row = self.row(item);
        |id| f64::from(row.get(self.slot[id] as usize).copied().unwrap_or(1.0))
    }

    pub(super) fn reset(&mut self) {
        self.table.fill(1.0);
    }

    /// Weights of overlapping pairs rise by 1.2 to 2.0 as the overlap stands to the worst; all others sink back to 1.
    pub(super) fn learn(&mut self, arrangement: &Arrangement, scope: &Scope) {
        let worst = scope
            .items
            .iter()
            .flat_map(|&i| arrangement.overlaps(i))
            .fold(0.0f64, |worst, &(_, s)| worst.max(s))
            .max(f64::MIN_POSITIVE);
        for w in &mut self.table {
            *w = (*w * 0.95).max(1.0);
        }
        for &i in &scope.items {
            let k = self.slot[i] as usize;
            for &(j, s) in arrangement.overlaps(i) {
                let at = self.slot[j as usize];
                if at != u32::MAX {
                    let w = &mut self.table[k * self.columns + at as usize];
                    #[allow(clippy::cast_possible_truncation)]
                    let rise = (1.2 + 0.8 * s / worst) as f32;
                    *w = (*w / 0.95 * rise).min(HEAVIEST);
                }
            }
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Trial {
    pose: Pose,
    loss: f64,
}

/// What stands about the part that looks for a place.
struct Surroundings<'w> {
    world: &'w World,
    weights: &'w Weights,
    /// Where it was tried last.
    vicinity: Option<Vicinity<'w>>,
}

/// One of the workers: its own copy of the arrangement, its own dice.
#[derive(Debug)]
pub(super) struct Worker {
    pub(super) arrangement: Arrangement,
    pub(super) dice: Dice,
    pub(super) turner: Turner,
    pub(super) near: Vec<u32>,
    pub(super) tried: u64,
}

impl Worker {
    pub(super) fn weighted(&self, item: usize, weights: &Weights) -> f64 {
        let weight = weights.of(item);
        self.arrangement.overlaps(item).iter().map(|&(j, s)| s * weight(j as usize)).sum()
    }

    /// Once over all overlapping parts in random order.
    pub(super) fn pass(&mut self, weights: &Weights, scope: &Scope) {
        let mut order: Vec<usize> = scope.items.iter().copied().filter(|&i| !self.arrangement.overlaps(i).is_empty()).collect();
        self.dice.shuffle(&mut order);
        for item in order {
            if !self.arrangement.overlaps(item).is_empty() {
                self.resettle(item, weights, scope);
            }
        }
    }

    /// The loss of a pose, or infinity when it passes `limit` or the part does not go into the room there. The pose is brought into the
    /// room first.
    fn loss(&mut self, item: usize, kind: &Kind, pose: &mut Pose, limit: f64, weights: &Weights) -> f64 {
        let outline: &Outline = kind.stand(pose.turn, pose.angle, &mut self.turner);
        if !self.arrangement.bring_in(outline, pose) {
            return f64::INFINITY;
        }
        self.tried += 1;
        let weight = weights.of(item);
        self.arrangement.loss_at(item, outline, (pose.bin, pose.x, pose.y), limit, &mut self.near, weight)
    }

    /// As [`Self::loss`], for many poses near each other.
    fn loss_near(&mut self, item: usize, kind: &Kind, pose: &mut Pose, limit: f64, around: &mut Surroundings) -> f64 {
        let outline: &Outline = kind.stand(pose.turn, pose.angle, &mut self.turner);
        if !self.arrangement.bring_in(outline, pose) {
            return f64::INFINITY;
        }
        self.tried += 1;
        let vicinity = match &mut around.vicinity {
            Some(vicinity) if vicinity.covers(outline, pose) => vicinity,
            other => {
                let margin = MARGIN * kind.diagonal;
                let weight = around.weights.of(item);
                other.insert(self.arrangement.vicinity(around.world, (item, outline), pose, margin, weight))
            }
        };
        self.arrangement.loss_in(vicinity, outline, (pose.x, pose.y), limit, &mut self.near)
    }

    /// A random stand of a part: index and angle.
    fn random_stand(&mut self, kind: &Kind) -> (usize, f64) {
        match &kind.turning {
            Turning::Fixed(list) => {
                let turn = self.dice.below(list.len());
                (turn, list[turn].0)
            }
            Turning::Free { around, tolerance, .. } => {
                let middle = around[self.dice.below(around.len())];
                (0, middle + self.dice.between(-tolerance, *tolerance))
            }
        }
    }

    /// Looks for a better place for one part and moves it there if there is one.
    fn resettle(&mut self, item: usize, weights: &Weights, scope: &Scope) {
        let world = std::sync::Arc::clone(&self.arrangement.world);
        let kind = world.kind(item);
        let Some(start) = self.arrangement.pose(item) else { return };
        let now = self.weighted(item, weights);
        let mut best: Vec<Trial> = vec![Trial { pose: start, loss: now }];
        let neighbours = self.neighbours(item);
        for sort in 0..WIDE + WIDE_SNAPPED + CLOSE + CLOSE_SNAPPED {
            let Some(mut pose) = self.sample(kind, start, sort, &neighbours, scope) else { continue };
            let limit = if best.len() < FOLLOWED { f64::INFINITY } else { best[best.len() - 1].loss };
            let loss = self.loss(item, kind, &mut pose, limit, weights);
            if loss < limit {
                keep(&mut best, Trial { pose, loss });
            }
            if loss == 0.0 {
                break;
            }
        }
        let mut winner = best[0];
        let mut around = Surroundings { world: &world, weights, vicinity: None };
        for trial in best {
            let followed = self.follow(item, kind, trial, &mut around, (0.1, 1e-3));
            if followed.loss < winner.loss {
                winner = followed;
            }
            if winner.loss == 0.0 {
                break;
            }
        }
        if winner.loss > 0.0 {
            winner = self.follow(item, kind, winner, &mut around, (1e-3, 1e-6));
        }
        if winner.loss < now {
            self.arrangement.put(item, winner.pose);
            self.arrangement.look(item);
        }
    }

    /// A pose to try: anywhere in the room, then corner to corner with any part, then close by, then corner to corner
    /// with a neighbour, as `k` counts through them.
    fn sample(&mut self, kind: &Kind, start: Pose, k: usize, neighbours: &[usize], scope: &Scope) -> Option<Pose> {
        let mut pose = start;
        if k < WIDE + WIDE_SNAPPED {
            pose.bin = scope.bins[if scope.bins.len() == 1 { 0 } else { self.dice.below(scope.bins.len()) }];
            (pose.turn, pose.angle) = self.random_stand(kind);
            if k >= WIDE {
                let other = scope.items[self.dice.below(scope.items.len())];
                return self.snap(kind, other, pose);
            }
            let reach = self.reach(kind, &pose)?;
            pose.x = self.dice.between(reach.x0, reach.x1);
            pose.y = self.dice.between(reach.y0, reach.y1);
        } else if k < WIDE + WIDE_SNAPPED + CLOSE {
            if self.dice.below(2) == 0 {
                (pose.turn, pose.angle) = self.random_stand(kind);
            }
            let span = 0.3 * kind.diagonal;
            pose.x += self.dice.between(-span, span);
            pose.y += self.dice.between(-span, span);
        } else {
            if self.dice.below(4) == 0 {
                (pose.turn, pose.angle) = self.random_stand(kind);
            }
            let other = *neighbours.get(self.dice.below(neighbours.len()))?;
            return self.snap(kind, other, pose);
        }
        Some(pose)
    }

    /// What stands about an item, forbidden ground included.
    fn neighbours(&self, item: usize) -> Vec<usize> {
        let mut list = Vec::new();
        if let Some(p) = self.arrangement.placed(item) {
            let frame = p.frame.inset(-0.1 * (p.frame.width() + p.frame.height()));
            self.arrangement.near(p.pose.bin, &frame, |id| {
                if id != item {
                    list.push(id);
                }
                true
            });
        }
        list
    }

    /// Moves a pose so that a corner of the part lies on a corner of another, both picked at random: dense layouts of
    /// parts with straight edges are full of such fits, and a random pose never meets one. None for parts turned freely.
    fn snap(&mut self, kind: &Kind, other: usize, mut pose: Pose) -> Option<Pose> {
        let Turning::Fixed(list) = &kind.turning else { return None };
        let other = self.arrangement.placed(other)?;
        if other.pose.bin != pose.bin || other.outline.corners.is_empty() {
            return None;
        }
        let own = &list[pose.turn].1.corners;
        let (v, w) = (own[self.dice.below(own.len())], other.outline.corners[self.dice.below(other.outline.corners.len())]);
        pose.x = other.pose.x + w[0] - v[0];
        pose.y = other.pose.y + w[1] - v[1];
        Some(pose)
    }

    fn reach(&mut self, kind: &Kind, pose: &Pose) -> Option<Frame> {
        let outline = kind.stand(pose.turn, pose.angle, &mut self.turner);
        self.arrangement.reach(pose.bin, outline)
    }

    /// Descent by coordinates: both ways along x, y or a diagonal (or the angle), the step growing on success and halved
    /// on failure, from `first` to `last` as shares of the part's size.
    fn follow(&mut self, item: usize, kind: &Kind, from: Trial, around: &mut Surroundings, (first, last): (f64, f64)) -> Trial {
        let mut best = from;
        let free = match &kind.turning {
            Turning::Free { around: angles, tolerance, .. } => Some((angles, *tolerance)),
            Turning::Fixed(_) => None,
        };
        let least = last * kind.diagonal;
        let mut step = [first * kind.diagonal, first * kind.diagonal];
        let mut swing = if free.is_some() { TAU * first * 0.2 } else { 0.0 };
        let least_swing = TAU * last * 0.2;
        while best.loss > 0.0 {
            let moves = step[0] >= least || step[1] >= least;
            let swings = swing >= least_swing && free.is_some();
            if !moves && !swings {
                break;
            }
            let axis = if moves && (!swings || self.dice.below(5) > 0) { self.dice.below(4) } else { 4 };
            let (sx, sy, sa) = match axis {
                0 => (step[0], 0.0, 0.0),
                1 => (0.0, step[1], 0.0),
                2 => (step[0], step[1], 0.0),
                3 => (step[0], -step[1], 0.0),
                _ => (0.0, 0.0, swing),
            };
            let mut better = false;
            let base = best.pose;
            for sign in [1.0, -1.0] {
                let mut pose = Pose { x: base.x + sign * sx, y: base.y + sign * sy, angle: base.angle + sign * sa, ..base };
                if sa > 0.0
                    && let Some((angles, tolerance)) = free
                    && !angles.iter().any(|c| near_angle(pose.angle, *c, tolerance))
                {
                    continue;
                }
                let loss = self.loss_near(item, kind, &mut pose, best.loss, around);
                if loss < best.loss {
                    best = Trial { pose, loss };
                    better = true;
                }
            }
            let change = if better { 1.1 } else { 0.5 };
            match axis {
                0 => step[0] *= change,
                1 => step[1] *= change,
                2 | 3 => {
                    step[0] *= change.sqrt();
                    step[1] *= change.sqrt();
                }
                _ => swing *= change,
            }
        }
        best
    }
}

fn near_angle(angle: f64, centre: f64, tolerance: f64) -> bool {
    let off = (angle - centre).rem_euclid(TAU);
    off.min(TAU - off) <= tolerance
}

/// Keeps the list of the best trials sorted and short.
fn keep(best: &mut Vec<Trial>, trial: Trial) {
    let at = best.partition_point(|b| b.loss <= trial.loss);
    best.insert(at, trial);
    best.truncate(FOLLOWED);
}
