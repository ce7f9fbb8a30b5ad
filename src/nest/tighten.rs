//! Closing up: moving the far edge of one sheet (or a roll) in, step by step, while the parts find room behind it.
//!
//! A long run takes bold steps, and when one fails it goes on from a mixed-up failure rather than from the last success;
//! a final run takes ever smaller steps at random cuts and keeps successes only. Sources: Imamichi, Yagiura and
//! Nagamochi 2009; Elkeran 2013 (EJOR 231, 757-769); Gardeyn, Vanden Berghe and Wauters 2025 (arXiv 2509.13329).

use super::arrangement::{Arrangement, Pose};
use super::budget::Budget;
use super::dice::Dice;
use super::record::Record;
use super::search::{Crew, Patience, Scope};

/// Step of the long run, as a share of the length, until the first failure and after it.
const BOLD: (f64, f64) = (0.005, 0.001);
/// Steps of the final run, from the first to the last, as shares of the length.
const FINE: (f64, f64) = (5e-4, 1e-5);
/// Patience of the long run.
const LONG: Patience = Patience { passes: 150, misses: 3 };
/// Patience of the final run.
const SHORT: Patience = Patience { passes: 60, misses: 3 };

/// A gain in length below this is none, mm.
const LEAST: f64 = 1e-6;

/// One bin being closed up.
pub(super) struct Closing<'c> {
    pub(super) crew: &'c mut Crew,
    pub(super) dice: &'c mut Dice,
    /// Index of the bin.
    pub(super) bin: usize,
    /// Its length can't go below this (x, mm).
    pub(super) floor: f64,
    best: Vec<Option<Pose>>,
    length: f64,
    near_end: f64,
}

impl<'c> Closing<'c> {
    /// Starts from the crew's arrangement, which has to be free of overlaps.
    pub(super) fn new(crew: &'c mut Crew, dice: &'c mut Dice, bin: usize, floor: f64) -> Self {
        let a = crew.arrangement();
        let (best, length, near_end) = (a.snapshot(), a.length_used(bin), a.bins[bin].room.x0);
        Self { crew, dice, bin, floor, best, length, near_end }
    }

    /// True when no shorter layout can exist.
    pub(super) fn done(&self) -> bool {
        self.length <= self.floor + 1e-6
    }

    /// The long run. Ends when done, after `failures` failed steps in a row, or when `share` of the budget is gone.
    pub(super) fn long_run(&mut self, budget: &mut Budget, record: &mut Record, share: f64, failures: usize) {
        let mut ratio = BOLD.0;
        let mut pool: Vec<(f64, Vec<Option<Pose>>)> = Vec::new();
        let mut failed = 0;
        self.shorten(ratio);
        while !self.done() && failed < failures && budget.spend(1) && budget.share() < share {
            let before = self.length;
            if self.crew.part(LONG, budget) && self.accept(budget, record) {
                failed = if self.length < before - LEAST { 0 } else { failed + 1 };
                pool.clear();
                self.shorten(ratio);
                continue;
            }
            failed += 1;
            ratio = BOLD.1;
            let loss = self.crew.loss();
            let at = pool.partition_point(|p| p.0 <= loss);
            pool.insert(at, (loss, self.crew.arrangement().snapshot()));
            pool.truncate(12);
            let pick = self.dice.unit();
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // below the pool's length
            let from = &pool[((pick * pick * pool.len() as f64) as usize).min(pool.len() - 1)].1;
            self.crew.each(|a, _| a.restore(from));
            self.mix_up();
        }
        self.back_to_best();
    }

    /// The final run: small steps at random cuts. Ends when done, when the steps are at their smallest or the budget
    /// is gone.
    pub(super) fn final_run(&mut self, budget: &mut Budget, record: &mut Record) {
        let from = budget.share();
        let mut ratio = FINE.0;
        let mut misses = 0;
        while !self.done() && budget.spend(1) {
            let before = self.length;
            if budget.has_end() {
                let t = ((budget.share() - from) / (1.0 - from).max(1e-9)).clamp(0.0, 1.0);
                ratio = ratio.min(FINE.0 * (FINE.1 / FINE.0).powf(t));
            }
            self.shorten(ratio);
            if self.crew.part(SHORT, budget) && self.accept(budget, record) && self.length < before - LEAST {
                misses = 0;
            } else {
                self.back_to_best();
                misses += 1;
                if misses >= 4 {
                    ratio *= 0.6;
                    misses = 0;
                }
                if ratio < FINE.1 {
                    break;
                }
            }
        }
        self.back_to_best();
    }

    /// Tries to clear the bin of all parts at once, scattering them over the others.
    pub(super) fn clear_out(&mut self, budget: &mut Budget, record: &mut Record) -> bool {
        let (bin, dice) = (self.bin, &mut *self.dice);
        let others: Vec<usize> = self.crew.scope.bins.iter().copied().filter(|b| *b != bin).collect();
        if others.is_empty() {
            return false;
        }
        let moving: Vec<usize> = self.crew.arrangement().on(bin).map(|(i, _)| i).collect();
        let mut poses = self.crew.arrangement().snapshot();
        for item in moving {
            let a = self.crew.arrangement();
            let Some(pose) = scattered(a, item, &others, dice) else { return false };
            poses[item] = Some(pose);
        }
        let all = std::mem::replace(&mut self.crew.scope.bins, others);
        self.crew.each(|a, _| a.restore(&poses));
        let good = self.crew.part(Patience { passes: 200, misses: 4 }, budget) && self.accept(budget, record);
        if !good {
            self.crew.scope.bins = all;
            self.back_to_best();
        }
        good
    }

    fn accept(&mut self, budget: &mut Budget, record: &mut Record) -> bool {
        if !record.offer(self.crew.arrangement(), budget) {
            return false;
        }
        self.best = self.crew.arrangement().snapshot();
        self.length = self.crew.arrangement().length_used(self.bin);
        true
    }

    fn back_to_best(&mut self) {
        let (bin, length, best) = (self.bin, self.length, &self.best);
        self.crew.each(|a, _| {
            a.bins[bin].room.x1 = length;
            a.restore(best);
        });
    }

    /// Moves the far edge in by `ratio` of the length, and all parts beyond a random cut with it.
    fn shorten(&mut self, ratio: f64) {
        let (bin, near_end) = (self.bin, self.near_end);
        let length = self.length;
        let target = (near_end + (length - near_end) * (1.0 - ratio)).max(self.floor);
        let cut = self.dice.between(near_end, target);
        self.crew.each(|a, scope| {
            a.bins[bin].room.x1 = target;
            let mut moved = Vec::new();
            for &i in &scope.items {
                let Some(p) = a.placed(i).filter(|p| p.pose.bin == bin) else { continue };
                let mut pose = p.pose;
                if 0.5 * (p.frame.x0 + p.frame.x1) > cut {
                    pose.x -= length - target;
                }
                let (e, room) = (&p.outline.extent, &a.bins[bin].room);
                pose.x = pose.x.min(room.x1 - e.x1).max(room.x0 - e.x0);
                if pose != p.pose {
                    moved.push((i, pose));
                }
            }
            for (i, pose) in &moved {
                a.put(*i, *pose);
            }
            for (i, _) in &moved {
                a.look(*i);
            }
        });
        // A part too long for what is left has to turn or to leave the sheet.
        let a = self.crew.arrangement();
        let stuck: Vec<usize> =
            a.on(bin).filter(|(_, p)| p.pose.x + p.outline.extent.x1 > target + 1e-9).map(|(i, _)| i).collect();
        for item in stuck {
            let bins = self.crew.scope.bins.clone();
            if let Some(pose) = scattered(self.crew.arrangement(), item, &bins, self.dice) {
                self.crew.each(|a, _| {
                    a.put(item, pose);
                    a.look(item);
                });
            } else {
                // It goes nowhere else, so the sheet can't get shorter than it is.
                self.floor = self.length;
                return;
            }
        }
    }

    /// Swaps large parts of different kinds, so that the search goes on from somewhere new.
    fn mix_up(&mut self) {
        let a = self.crew.arrangement();
        let world = std::sync::Arc::clone(&a.world);
        let mut large: Vec<usize> = self.crew.scope.items.clone();
        large.sort_by(|&i, &j| world.kind(j).area.total_cmp(&world.kind(i).area).then(i.cmp(&j)));
        large.truncate((large.len() / 2).max(2).min(large.len()));
        for _ in 0..=self.dice.below(2) {
            for _ in 0..20 {
                let (i, j) = (large[self.dice.below(large.len())], large[self.dice.below(large.len())]);
                if world.kind_of[i] == world.kind_of[j] {
                    continue;
                }
                self.crew.each(|a, _| swap(a, i, j));
                break;
            }
        }
    }
}

/// Lets two items change places, each keeping its angle, as far as the rooms allow.
fn swap(a: &mut Arrangement, i: usize, j: usize) {
    let (Some(p), Some(q)) = (a.placed(i).cloned(), a.placed(j).cloned()) else { return };
    let to = |a: &Arrangement, p: &super::arrangement::Placed, q: Pose| {
        let reach = a.reach(q.bin, &p.outline)?;
        Some(Pose { bin: q.bin, x: q.x.clamp(reach.x0, reach.x1), y: q.y.clamp(reach.y0, reach.y1), ..p.pose })
    };
    if let (Some(pi), Some(pj)) = (to(a, &p, q.pose), to(a, &q, p.pose)) {
        a.put(i, pi);
        a.put(j, pj);
        a.look(i);
        a.look(j);
    }
}

/// A random pose of an item on one of `bins`, None when it goes on none of them.
pub(super) fn scattered(a: &Arrangement, item: usize, bins: &[usize], dice: &mut Dice) -> Option<Pose> {
    let kind = a.world.kind(item);
    for k in 0..120 {
        let bin = bins[dice.below(bins.len())];
        let list = if k < 60 || kind.other_angles.is_empty() { &kind.first_angles } else { &kind.other_angles };
        let &(turn, angle) = &list[dice.below(list.len())];
        let outline = kind.stand_kept(turn, angle);
        if let Some(reach) = a.reach(bin, &outline) {
            let (x, y) = (dice.between(reach.x0, reach.x1), dice.between(reach.y0, reach.y1));
            return Some(Pose { bin, turn, angle, x, y });
        }
    }
    None
}

/// All items of `bins`, as a scope.
pub(super) fn scope_of(a: &Arrangement, bins: Vec<usize>) -> Scope {
    let items = (0..a.items()).filter(|&i| a.pose(i).is_some_and(|p| bins.contains(&p.bin))).collect();
    Scope { items, bins }
}
