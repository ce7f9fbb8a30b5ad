//! Parting overlapping parts: the search that moves them about a fixed room until none overlap.
//!
//! The room is fixed, overlap is allowed, and the weighted sum of overlaps is brought down part by
//! part; weights of stubborn pairs rise, which carries the search out of dead ends. Sources: the
//! guided local search of Egeblad, Nielsen and Odgaard 2007 (EJOR 183, 1249-1266); minimising
//! overlap in a fixed room, Imamichi, Yagiura and Nagamochi 2009 (Discrete Optimization 6,
//! 345-361); sampled poses, descent by coordinates and rising weights, Gardeyn, Vanden Berghe and
//! Wauters 2025 (arXiv 2509.13329), with Umetani and Murakami 2021 (arXiv 2104.04525) for the
//! descent; parts changing places, Gomes and Oliveira 2002 (EJOR 141, 359-370, from memory).

use super::arrangement::{Arrangement, Pose, Vicinity};
use super::dice::Dice;
use super::outline::Outline;
use super::plane::middle;
use super::world::{Kind, Turner, Turning, World};
use crate::geom::Rect;
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
/// Steps of the descent, as shares of the part's size: the first, that at which only the best trial
/// goes on, and the last.
const STEPS: (f64, f64, f64) = (0.1, 0.03, 1e-6);
/// Parts tried to change places with.
const PARTNERS: usize = 30;
/// How badly two parts may overlap on changing places, over how badly they do now, for the change
/// to be followed downhill.
const PROMISING: f64 = 1.6;
/// How far about a pose its neighbours are gathered for further ones, as a share of the part's
/// size.
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

    /// Weights of overlapping pairs rise by 1.15 to 1.75 as the overlap stands to the worst; all
    /// others sink back to 1.
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
                    let rise = (1.15 + 0.6 * s / worst) as f32;
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

/// Two parts that might change places.
struct Exchange {
    /// How badly they overlap now.
    before: f64,
    /// How badly they would overlap over how badly they do now.
    share: f64,
    /// The parts and their poses afterwards.
    moves: [(usize, Pose); 2],
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
        let mut order: Vec<usize> = scope
            .items
            .iter()
            .copied()
            .filter(|&i| !self.arrangement.overlaps(i).is_empty())
            .collect();
        self.dice.shuffle(&mut order);
        for item in order {
            if !self.arrangement.overlaps(item).is_empty() {
                self.resettle(item, weights, scope);
            }
        }
    }

    /// The loss of a pose with another part left out of account (or the part itself, for none), or
    /// infinity when it passes `limit` or the part does not go into the room there. The pose is
    /// brought into the room first.
    fn loss(
        &mut self,
        (item, left_out): (usize, usize),
        pose: &mut Pose,
        limit: f64,
        kind: &Kind,
        weights: &Weights,
    ) -> f64 {
        let outline: &Outline = kind.stand(pose.turn, pose.angle, &mut self.turner);
        if !self.arrangement.bring_in(outline, pose) {
            return f64::INFINITY;
        }
        self.tried += 1;
        let weight = weights.of(item);
        self.arrangement.loss_at(
            [item, left_out],
            outline,
            (pose.bin, pose.x, pose.y),
            limit,
            &mut self.near,
            weight,
        )
    }

    /// As [`Self::loss`], for many poses near each other.
    fn loss_near(
        &mut self,
        item: usize,
        kind: &Kind,
        pose: &mut Pose,
        limit: f64,
        around: &mut Surroundings,
    ) -> f64 {
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
                other.insert(self.arrangement.vicinity(
                    around.world,
                    (item, outline),
                    pose,
                    margin,
                    weight,
                ))
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
            let Some(mut pose) = self.sample(kind, start, sort, &neighbours, scope) else {
                continue;
            };
            let limit =
                if best.len() < FOLLOWED { f64::INFINITY } else { best[best.len() - 1].loss };
            let loss = self.loss((item, item), &mut pose, limit, kind, weights);
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
            let followed = self.follow(item, kind, trial, &mut around, (STEPS.0, STEPS.1));
            if followed.loss < winner.loss {
                winner = followed;
            }
            if winner.loss == 0.0 {
                break;
            }
        }
        if winner.loss > 0.0 {
            winner = self.follow(item, kind, winner, &mut around, (STEPS.1, STEPS.2));
        }
        if winner.loss < now {
            self.arrangement.shift(&[(item, winner.pose)]);
        }
        if winner.loss > 0.0 {
            self.change_places(item, &world, weights, scope);
        }
    }

    /// Lets a part that still overlaps change places with one of another kind, where both together
    /// overlap less badly then. Of some partners picked at random the most promising is followed
    /// downhill.
    fn change_places(&mut self, item: usize, world: &World, weights: &Weights, scope: &Scope) {
        let mut best: Option<Exchange> = None;
        for _ in 0..PARTNERS {
            let partner = scope.items[self.dice.below(scope.items.len())];
            if world.kind_of[partner] != world.kind_of[item] {
                let before = self.weighted_both(item, partner, weights);
                let limit = before * best.as_ref().map_or(PROMISING, |b| b.share);
                let Some(own) = self.in_place_of((item, partner), limit, world, weights) else {
                    continue;
                };
                let Some(other) =
                    self.in_place_of((partner, item), limit - own.loss, world, weights)
                else {
                    continue;
                };
                let share = (own.loss + other.loss) / before;
                best = Some(Exchange {
                    before,
                    share,
                    moves: [(item, own.pose), (partner, other.pose)],
                });
            }
        }
        let Some(Exchange { before, moves, .. }) = best else { return };
        let [Some(own), Some(other)] = moves.map(|m| self.arrangement.pose(m.0)) else { return };
        let partner = moves[1].0;
        self.arrangement.shift(&moves);
        for one in [item, partner, item] {
            self.descend(one, world, weights);
        }
        if self.weighted_both(item, partner, weights) >= before {
            self.arrangement.shift(&[(item, own), (partner, other)]);
        }
    }

    /// The weighted overlaps of two parts, that between them once.
    fn weighted_both(&self, item: usize, partner: usize, weights: &Weights) -> f64 {
        let weight = weights.of(item);
        let of_partner = self.arrangement.overlaps(item).iter().find(|o| o.0 as usize == partner);
        let between = of_partner.map_or(0.0, |&(_, s)| s * weight(partner));
        self.weighted(item, weights) + self.weighted(partner, weights) - between
    }

    /// A part at a random angle with the middle of its box where another has it, that other being
    /// away. None where the loss passes `limit` or the part does not go there.
    fn in_place_of(
        &mut self,
        (item, other): (usize, usize),
        limit: f64,
        world: &World,
        weights: &Weights,
    ) -> Option<Trial> {
        let kind = world.kind(item);
        let (turn, angle) = self.random_stand(kind);
        let (bounds, place) =
            (kind.stand(turn, angle, &mut self.turner).bounds, self.arrangement.placed(other)?);
        let ([x, y], [to_x, to_y]) = (middle(bounds), middle(place.frame));
        let mut pose = Pose { bin: place.pose.bin, turn, angle, x: to_x - x, y: to_y - y };
        let loss = self.loss((item, other), &mut pose, limit, kind, weights);
        (loss < limit).then_some(Trial { pose, loss })
    }

    /// Moves a part downhill from where it stands.
    fn descend(&mut self, item: usize, world: &World, weights: &Weights) {
        let Some(pose) = self.arrangement.pose(item) else { return };
        let start = Trial { pose, loss: self.weighted(item, weights) };
        let mut around = Surroundings { world, weights, vicinity: None };
        let end = self.follow(item, world.kind(item), start, &mut around, (STEPS.0, STEPS.2));
        if end.loss < start.loss {
            self.arrangement.shift(&[(item, end.pose)]);
        }
    }

    /// A pose to try: anywhere in the room, then corner to corner with any part, then close by,
    /// then corner to corner with a neighbour, as `k` counts through them.
    fn sample(
        &mut self,
        kind: &Kind,
        start: Pose,
        k: usize,
        neighbours: &[usize],
        scope: &Scope,
    ) -> Option<Pose> {
        let mut pose = start;
        if k < WIDE + WIDE_SNAPPED {
            pose.bin = scope.bins
                [if scope.bins.len() == 1 { 0 } else { self.dice.below(scope.bins.len()) }];
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
            let by = 0.1 * (p.frame.width() + p.frame.height());
            let frame = p.frame.inflate(by, by);
            self.arrangement.near(p.pose.bin, &frame, |id| {
                if id != item {
                    list.push(id);
                }
                true
            });
        }
        list
    }

    /// Moves a pose so that a corner of the part lies on a corner of another, both picked at
    /// random: dense layouts of parts with straight edges are full of such fits, and a random pose
    /// never meets one. None for parts turned freely.
    fn snap(&mut self, kind: &Kind, other: usize, mut pose: Pose) -> Option<Pose> {
        let Turning::Fixed(list) = &kind.turning else { return None };
        let other = self.arrangement.placed(other)?;
        if other.pose.bin != pose.bin || other.outline.corners.is_empty() {
            return None;
        }
        let own = &list[pose.turn].1.corners;
        let (v, w) = (
            own[self.dice.below(own.len())],
            other.outline.corners[self.dice.below(other.outline.corners.len())],
        );
        pose.x = other.pose.x + w[0] - v[0];
        pose.y = other.pose.y + w[1] - v[1];
        Some(pose)
    }

    fn reach(&mut self, kind: &Kind, pose: &Pose) -> Option<Rect> {
        let outline = kind.stand(pose.turn, pose.angle, &mut self.turner);
        self.arrangement.reach(pose.bin, outline)
    }

    /// Descent by coordinates: both ways along x, y or a diagonal (or the angle), the step growing
    /// on success and halved on failure, from `first` to `last` as shares of the part's size.
    fn follow(
        &mut self,
        item: usize,
        kind: &Kind,
        from: Trial,
        around: &mut Surroundings,
        (first, last): (f64, f64),
    ) -> Trial {
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
            let axis =
                if moves && (!swings || self.dice.below(5) > 0) { self.dice.below(4) } else { 4 };
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
                let mut pose = Pose {
                    x: base.x + sign * sx,
                    y: base.y + sign * sy,
                    angle: base.angle + sign * sa,
                    ..base
                };
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nest::world::{prepare_grounds, prepare_kinds};
    use crate::nest::{Clearance, Piece, Shape, Stock, Turns};
    use std::sync::Arc;

    /// Squares of 9.5 and 5.5 with their middles at these points, on an L-shaped sheet: a square of
    /// 10 and to the right of it, along the lower edge, one of 6. Then what changing places makes
    /// of that: the middles, and the overlaps before and after.
    fn changed(middles: [[f64; 2]; 2]) -> ([[f64; 2]; 2], [f64; 2]) {
        let square = |size: f64| Piece {
            shape: Shape::rectangle(size, size),
            quantity: 1,
            turns: Turns::List(Vec::new()),
            tolerance: 0.0,
        };
        let outer =
            vec![[0.0, 0.0], [16.0, 0.0], [16.0, 6.0], [10.0, 6.0], [10.0, 10.0], [0.0, 10.0]];
        let shape = Shape { outer, openings: Vec::new() };
        let stock = [Stock::Sheet { shape, count: 1, price: None, remnant: true }];
        let kinds = prepare_kinds(&[square(9.5), square(5.5)], 0.0).expect("sound");
        let grounds = prepare_grounds(&stock, &Clearance::default()).expect("sound");
        let room = grounds[0].room;
        let world = Arc::new(World::new(kinds, vec![0, 1], grounds, Clearance::default()));
        let mut arrangement = Arrangement::new(&world);
        arrangement.open_bin(0, 0, room, 6.0);
        let pose = |[x, y]: [f64; 2]| Pose { bin: 0, turn: 0, angle: 0.0, x, y };
        arrangement.shift(&[(0, pose(middles[0])), (1, pose(middles[1]))]);
        let scope = Scope { items: vec![0, 1], bins: vec![0] };
        let weights = Weights::new(&scope, arrangement.ids(), arrangement.items());
        let turner = world.turner().expect("parts");
        let mut worker =
            Worker { arrangement, dice: Dice::new(3), turner, near: Vec::new(), tried: 0 };
        let before = worker.weighted_both(0, 1, &weights);
        worker.change_places(0, &world, &weights, &scope);
        let after = worker.weighted_both(0, 1, &weights);
        let middle_of = |i: usize| middle(worker.arrangement.placed(i).expect("placed").frame);
        ([middle_of(0), middle_of(1)], [before, after])
    }

    #[test]
    fn parts_in_each_other_s_place_change_over_and_come_clear() {
        let (middles, [before, after]) = changed([[11.25, 4.75], [2.75, 2.75]]);
        assert!(
            before > 0.0 && after == 0.0 && middles[0][0] < 5.3 && middles[1][0] > 12.7,
            "{middles:?}"
        );
    }

    #[test]
    fn a_change_never_makes_things_worse() {
        let mut dice = Dice::new(1);
        let mut changes = 0;
        for _ in 0..500 {
            let start = [
                [dice.between(4.75, 11.25), dice.between(4.75, 5.25)],
                [dice.between(2.75, 13.25), dice.between(2.75, 7.25)],
            ];
            let (end, [before, after]) = changed(start);
            let moved = start
                .iter()
                .zip(end)
                .any(|(p, q)| (p[0] - q[0]).abs().max((p[1] - q[1]).abs()) > 1e-6);
            assert!(
                if moved { after < before } else { (after - before).abs() < 1e-9 },
                "{start:?} {end:?}"
            );
            changes += usize::from(moved);
        }
        assert!(changes > 50, "{changes}");
    }
}
