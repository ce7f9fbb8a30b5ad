//! Closing up: moving the far edge of one sheet (or a roll) in, step by step, while the parts find
//! room behind it.
//!
//! A long run takes bold steps, and when one fails it goes on from a mixed-up failure rather than
//! from the last success, now and then from a random layout; a final run takes ever smaller steps
//! at random cuts and keeps successes only. Each worker goes its own way and takes up the shortest
//! layout of all after every leg. Sources: Imamichi, Yagiura and Nagamochi 2009; Elkeran 2013 (EJOR
//! 231, 757-769); Gardeyn, Vanden Berghe and Wauters 2025 (arXiv 2509.13329).

use super::arrangement::{Arrangement, Pose};
use super::budget::Budget;
use super::crew::{Crew, Patience, Solo};
use super::dice::Dice;
use super::guard::sound;
use super::plane::middle;
use super::record::Record;
use super::search::Scope;
use std::sync::atomic::{AtomicBool, Ordering};

/// Step of the long run, as a share of the length, until the first failure and after it.
const BOLD: (f64, f64) = (0.005, 0.001);
/// Steps of the final run, from the first to the last, as shares of the length.
const FINE: (f64, f64) = (5e-4, 1e-5);
/// Passes without a gain that end most attempts of the long run, on one bin and where parts may go
/// over to others.
const BRIEF: (usize, usize) = (150, 30);
/// Patience of the final run.
const SHORT: Patience = Patience { passes: 30, misses: 1 };

/// Trial poses of each runner between two looks at the others.
const LEG: u64 = 50_000;
/// Failures kept to go on from.
const POOL: usize = 12;
/// Failures in a row after which a runner leaves the shortest layout for a fresh start, and a fresh
/// start for the shortest layout.
const STALE: (usize, usize) = (30, 12);
/// Length of a fresh start over that of the shortest layout.
const LONGER: f64 = 1.1;
/// How often a failure is disturbed by scattering a stretch of it, and by changing its ends; else
/// large parts are swapped.
const SCATTER: f64 = 0.3;
const CHANGE_ENDS: f64 = 0.2;
/// A gain in length below this is none, mm.
const LEAST: f64 = 1e-6;

/// One bin being closed up by several runners. Each goes its own way for a leg; then all take up
/// the shortest layout.
pub(super) struct Closing {
    runners: Vec<Runner>,
    /// The shortest layout, on a copy of its own.
    shortest: Arrangement,
    length: f64,
}

impl Closing {
    /// Starts from an arrangement free of overlaps. The length of `bin` can't go below `floor` (x,
    /// mm). None when there is no part at all.
    pub(super) fn new(
        a: &Arrangement,
        scope: &Scope,
        workers: usize,
        dice: &mut Dice,
        (bin, floor): (usize, f64),
    ) -> Option<Self> {
        let runners = (0..workers.max(1))
            .map(|_| Some(Runner::new(Solo::new(a, scope, Dice::new(dice.bits()))?, bin, floor)))
            .collect::<Option<Vec<_>>>()?;
        Some(Self { runners, shortest: a.clone(), length: a.length_used(bin) })
    }

    /// True when no shorter layout can exist.
    pub(super) fn done(&self) -> bool {
        self.runners.iter().any(Runner::done)
    }

    /// The shortest layout so far.
    pub(super) fn shortest(&self) -> &Arrangement {
        &self.shortest
    }

    /// The long run. Ends when done, after `failures` failed steps of a runner in a row, or when
    /// `share` of the budget is gone.
    pub(super) fn long_run(
        &mut self,
        budget: &mut Budget,
        record: &mut Record,
        share: f64,
        failures: usize,
    ) {
        while budget.goes_on()
            && budget.share() < share
            && !self.runners.iter().any(|r| r.done() || r.stale >= failures)
        {
            self.leg(budget, record);
        }
        self.all_to_shortest();
    }

    /// The final run: small steps at random cuts. Ends when done, when the steps are at their
    /// smallest or the budget is gone.
    pub(super) fn final_run(&mut self, budget: &mut Budget, record: &mut Record) {
        let from = budget.share();
        let bold = self.runners[0].ratio;
        self.all_to_shortest();
        for r in &mut self.runners {
            r.fine = true;
            r.ratio = FINE.0;
        }
        while budget.goes_on() && !self.runners.iter().any(|r| r.done() || r.ratio < FINE.1) {
            if budget.has_end() {
                let t = ((budget.share() - from) / (1.0 - from).max(1e-9)).clamp(0.0, 1.0);
                let ratio = FINE.0 * (FINE.1 / FINE.0).powf(t);
                self.runners.iter_mut().for_each(|r| r.ratio = r.ratio.min(ratio));
            }
            self.leg(budget, record);
        }
        self.all_to_shortest();
        for r in &mut self.runners {
            r.fine = false;
            r.ratio = bold;
        }
    }

    fn all_to_shortest(&mut self) {
        self.runners.iter_mut().for_each(Runner::go_home);
    }

    /// Lets every runner go on for a while, then hands the shortest layout round.
    fn leg(&mut self, budget: &mut Budget, record: &mut Record) {
        let quota =
            budget.left().map_or(LEG, |left| (left / self.runners.len() as u64).clamp(1, LEG));
        let stop = AtomicBool::new(false);
        if let Some((first, rest)) = self.runners.split_first_mut() {
            std::thread::scope(|s| {
                for runner in rest {
                    s.spawn(|| runner.go(quota, || !stop.load(Ordering::Relaxed)));
                }
                first.go(quota, || {
                    let on = budget.spend(0);
                    stop.store(!on, Ordering::Relaxed);
                    on
                });
            });
        }
        self.shortest.world.pairs.catch_up();
        let tried = self.runners.iter_mut().map(|r| std::mem::take(&mut r.tried)).sum();
        let mut winner: Option<usize> = None;
        for (k, r) in self.runners.iter().enumerate() {
            if r.length < winner.map_or(self.length, |w| self.runners[w].length) - LEAST {
                winner = Some(k);
            }
        }
        if let Some(w) = winner {
            self.shortest.restore(&self.runners[w].best);
            self.length = self.runners[w].length;
            record.offer(&self.shortest, budget);
            let home = self.runners[w].best.clone();
            for r in &mut self.runners {
                r.home = (home.clone(), self.length);
                r.stale = 0;
                if !r.fresh && r.length > self.length + LEAST {
                    r.go_home();
                }
            }
        }
        budget.spend(tried);
    }
}

/// One of the runners.
struct Runner {
    solo: Solo,
    bin: usize,
    floor: f64,
    near_end: f64,
    best: Vec<Option<Pose>>,
    length: f64,
    /// Size of the next step, as a share of the length.
    ratio: f64,
    /// Makes small steps and keeps successes only.
    fine: bool,
    /// In the midst of a step.
    busy: bool,
    /// Failed steps in a row, and those since the shortest layout was found.
    failed: usize,
    stale: usize,
    /// On a run that began from a random layout and is still longer than the shortest one.
    fresh: bool,
    /// The shortest layout of all runners and its length.
    home: (Vec<Option<Pose>>, f64),
    /// Failures of the long run with what overlap was left, the least first.
    pool: Vec<(f64, Vec<Option<Pose>>)>,
    tried: u64,
}

impl Runner {
    fn new(mut solo: Solo, bin: usize, floor: f64) -> Self {
        let a = solo.arrangement();
        let (best, length, near_end) = (a.snapshot(), a.length_used(bin), a.bins[bin].room.x0);
        Self {
            solo,
            bin,
            floor,
            near_end,
            home: (best.clone(), length),
            stale: 0,
            fresh: false,
            best,
            length,
            ratio: BOLD.0,
            fine: false,
            busy: false,
            failed: 0,
            pool: Vec::new(),
            tried: 0,
        }
    }

    /// True when no shorter layout can exist.
    fn done(&self) -> bool {
        self.home.1.min(self.length) <= self.floor + LEAST
    }

    /// Takes steps until `quota` poses are tried or `goes_on` says no.
    fn go(&mut self, quota: u64, mut goes_on: impl FnMut() -> bool) {
        while self.tried < quota && !self.done() && goes_on() {
            if !self.busy {
                self.shorten();
                self.solo.begin(if self.fine { SHORT } else { self.patience() });
                self.busy = true;
            }
            let outcome = self.solo.step();
            self.tried += self.solo.tried() + 1;
            match outcome {
                None => {}
                Some(true) if sound(self.solo.arrangement()) => self.succeeded(),
                Some(_) => self.failed(),
            }
        }
    }

    fn succeeded(&mut self) {
        let bin = self.bin;
        let length = self.solo.arrangement().length_used(bin);
        if length >= self.length - LEAST {
            return self.failed();
        }
        self.best = self.solo.arrangement().snapshot();
        self.length = length;
        self.failed = 0;
        self.pool.clear();
        self.fresh &= length > self.home.1;
        self.back_to_best();
    }

    /// How long to go on after so many failures in a row: mostly short, now and then longer, since
    /// nobody knows how long a success takes.
    fn patience(&self) -> Patience {
        let times = universal(self.failed + 1).min(8);
        let brief = if self.solo.scope.bins.len() == 1 { BRIEF.0 } else { BRIEF.1 };
        Patience { passes: brief * times, misses: (times.ilog2() as usize + 1).min(3) }
    }

    /// Goes on from the shortest layout of all.
    fn go_home(&mut self) {
        (self.best, self.length) = self.home.clone();
        self.failed = 0;
        self.fresh = false;
        self.pool.clear();
        self.back_to_best();
    }

    /// Scatters all parts over a somewhat longer room.
    fn start_afresh(&mut self) {
        let (bin, near_end) = (self.bin, self.near_end);
        let a = self.solo.arrangement();
        let most = a.world.grounds[a.bins[bin].ground].room.x1;
        let length = (near_end + (self.home.1 - near_end) * LONGER).min(most);
        self.fresh = true;
        self.failed = 0;
        self.pool.clear();
        self.ratio = BOLD.0;
        self.length = length + 10.0 * LEAST;
        let mut poses = self.home.0.clone();
        self.solo.arrangement().bins[bin].room.x1 = length;
        for item in self.solo.scope.items.clone() {
            if let Some(pose) = self.solo.scattered(item, &[bin]) {
                poses[item] = Some(pose);
            }
        }
        self.solo.arrangement().restore(&poses);
        self.solo.begin(self.patience());
        self.busy = true;
    }

    fn back_to_best(&mut self) {
        let (bin, length) = (self.bin, self.length);
        let a = self.solo.arrangement();
        a.bins[bin].room.x1 = length;
        a.restore(&self.best);
        self.busy = false;
    }

    fn failed(&mut self) {
        self.failed += 1;
        self.stale += 1;
        if self.fine {
            if self.failed.is_multiple_of(4) {
                self.ratio *= 0.6;
            }
            return self.back_to_best();
        }
        let stale = if self.fresh { STALE.1 } else { STALE.0 };
        if self.solo.scope.bins.len() == 1 && self.failed >= stale {
            return if self.fresh { self.go_home() } else { self.start_afresh() };
        }
        self.ratio = BOLD.1;
        let loss = self.solo.loss();
        let at = self.pool.partition_point(|p| p.0 <= loss);
        let state = self.solo.arrangement().snapshot();
        self.pool.insert(at, (loss, state));
        self.pool.truncate(POOL);
        let pick = self.solo.dice().unit();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        // below the pool's length
        let from = &self.pool
            [((pick * pick * self.pool.len() as f64) as usize).min(self.pool.len() - 1)]
        .1;
        self.solo.arrangement().restore(from);
        self.mix_up();
        self.solo.begin(self.patience());
    }

    /// Moves the far edge in by a step, and all parts beyond a random cut with it.
    fn shorten(&mut self) {
        let (bin, near_end, length) = (self.bin, self.near_end, self.length);
        let target = (near_end + (length - near_end) * (1.0 - self.ratio)).max(self.floor);
        let cut = self.solo.dice().between(near_end, target);
        let items = self.solo.scope.items.clone();
        let a = self.solo.arrangement();
        a.bins[bin].room.x1 = target;
        let mut moved = Vec::new();
        let mut stuck = Vec::new();
        for &i in &items {
            let Some(p) = a.placed(i).filter(|p| p.pose.bin == bin) else { continue };
            let mut pose = p.pose;
            if middle(p.frame)[0] > cut {
                pose.x -= length - target;
            }
            let (e, room) = (&p.outline.extent, &a.bins[bin].room);
            pose.x = pose.x.min(room.x1 - e.x1).max(room.x0 - e.x0);
            if pose.x + e.x1 > target + 1e-9 {
                stuck.push(i);
            }
            if pose != p.pose {
                moved.push((i, pose));
            }
        }
        // A part too long for what is left has to turn or to leave the sheet.
        let bins = self.solo.scope.bins.clone();
        for i in stuck {
            let pose = self.solo.scattered(i, &bins);
            match pose {
                Some(pose) => moved.push((i, pose)),
                None => {
                    // It goes nowhere else, so the sheet can't get shorter than it is.
                    self.floor = self.length.min(self.home.1);
                    return;
                }
            }
        }
        self.solo.arrangement().shift(&moved);
    }

    /// Disturbs the arrangement, so that the search goes on from somewhere new.
    fn mix_up(&mut self) {
        let chance = self.solo.dice().unit();
        if self.solo.scope.bins.len() > 1 || chance >= SCATTER + CHANGE_ENDS {
            self.swap_large();
        } else if chance < SCATTER {
            self.scatter_some();
        } else {
            self.change_ends();
        }
    }

    /// Scatters the parts of a stretch of the bin over the stretch.
    fn scatter_some(&mut self) {
        let (bin, x0, x1) =
            (self.bin, self.near_end, self.solo.arrangement().bins[self.bin].room.x1);
        let half = (x1 - x0) * self.solo.dice().between(0.05, 0.2);
        let middle = self.solo.dice().between(x0, x1);
        let items: Vec<usize> = self.solo.arrangement().on(bin).map(|(i, _)| i).collect();
        self.rearrange(&items, |runner, item, pose, centre| {
            if (centre - middle).abs() > half {
                return None;
            }
            let x = pose.x - centre + middle + runner.solo.dice().between(-half, half);
            runner.solo.scattered(item, &[bin]).map(|p| Pose { x, ..p })
        });
    }

    /// Cuts the layout across and lets the two pieces change places.
    fn change_ends(&mut self) {
        let (bin, x0, x1) =
            (self.bin, self.near_end, self.solo.arrangement().bins[self.bin].room.x1);
        let cut = self.solo.dice().between(x0 + 0.2 * (x1 - x0), x1 - 0.2 * (x1 - x0));
        let items: Vec<usize> = self.solo.arrangement().on(bin).map(|(i, _)| i).collect();
        self.rearrange(&items, |_, _, pose, centre| {
            Some(Pose {
                x: if centre < cut { pose.x + x1 - cut } else { pose.x - cut + x0 },
                ..pose
            })
        });
    }

    /// Gives items of the bin new poses, kept within the room; `new` is asked with the pose and the
    /// middle along x.
    fn rearrange(
        &mut self,
        items: &[usize],
        mut new: impl FnMut(&mut Self, usize, Pose, f64) -> Option<Pose>,
    ) {
        let mut moved = Vec::new();
        for &item in items {
            let Some(p) = self.solo.arrangement().placed(item) else { continue };
            let (pose, centre) = (p.pose, middle(p.frame)[0]);
            let Some(mut pose) = new(self, item, pose, centre) else { continue };
            let a = self.solo.arrangement();
            let outline = a.world.kind(item).stand_kept(pose.turn, pose.angle);
            if a.bring_in(&outline, &mut pose) {
                moved.push((item, pose));
            }
        }
        self.solo.arrangement().shift(&moved);
    }

    /// Lets large parts of different kinds change places.
    fn swap_large(&mut self) {
        let world = std::sync::Arc::clone(&self.solo.arrangement().world);
        let mut large: Vec<usize> = self.solo.scope.items.clone();
        large.sort_by(|&i, &j| world.kind(j).area.total_cmp(&world.kind(i).area).then(i.cmp(&j)));
        large.truncate((large.len() / 2).max(2).min(large.len()));
        for _ in 0..=self.solo.dice().below(2) {
            for _ in 0..20 {
                let dice = self.solo.dice();
                let (i, j) = (large[dice.below(large.len())], large[dice.below(large.len())]);
                if world.kind_of[i] != world.kind_of[j] {
                    swap(self.solo.arrangement(), i, j);
                    break;
                }
            }
        }
    }
}

/// Tries to clear a bin of all its parts at once, scattering them over the others in the scope.
pub(super) fn clear_out(
    a: &Arrangement,
    scope: &Scope,
    bin: usize,
    workers: usize,
    dice: &mut Dice,
    budget: &mut Budget,
) -> Option<Arrangement> {
    let bins: Vec<usize> = scope.bins.iter().copied().filter(|b| *b != bin).collect();
    if bins.is_empty() {
        return None;
    }
    let mut scattered_over = a.clone();
    for (item, _) in a.on(bin) {
        scattered_over.put(item, scattered(a, item, &bins, dice)?);
    }
    let mut crew =
        Crew::new(&scattered_over, Scope { items: scope.items.clone(), bins }, workers, dice)?;
    crew.part(Patience { passes: 200, misses: 4 }, budget).then(|| crew.arrangement().clone())
}

/// Member `k`, from 1, of the universal sequence 1, 1, 2, 1, 1, 2, 4, 1, 1, 2, 1, 1, 2, 4, 8, ...
/// of restarts: Luby, Sinclair and Zuckerman 1993 (Information Processing Letters 47, 173-180).
fn universal(mut k: usize) -> usize {
    while !(k + 1).is_power_of_two() {
        k -= (1 << k.ilog2()) - 1;
    }
    k.div_ceil(2)
}

/// Lets two items change places, each keeping its angle, as far as the rooms allow.
fn swap(a: &mut Arrangement, i: usize, j: usize) {
    let (Some(p), Some(q)) = (a.placed(i).cloned(), a.placed(j).cloned()) else { return };
    let to = |a: &Arrangement, p: &super::arrangement::Placed, q: Pose| {
        let reach = a.reach(q.bin, &p.outline)?;
        Some(Pose {
            bin: q.bin,
            x: q.x.clamp(reach.x0, reach.x1),
            y: q.y.clamp(reach.y0, reach.y1),
            ..p.pose
        })
    };
    if let (Some(pi), Some(pj)) = (to(a, &p, q.pose), to(a, &q, p.pose)) {
        a.shift(&[(i, pi), (j, pj)]);
    }
}

/// A random pose of an item on one of `bins`, None when it goes on none of them.
pub(super) fn scattered(
    a: &Arrangement,
    item: usize,
    bins: &[usize],
    dice: &mut Dice,
) -> Option<Pose> {
    let kind = a.world.kind(item);
    for k in 0..120 {
        let bin = bins[dice.below(bins.len())];
        let list = if k < 60 || kind.other_angles.is_empty() {
            &kind.first_angles
        } else {
            &kind.other_angles
        };
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
    let items =
        (0..a.items()).filter(|&i| a.pose(i).is_some_and(|p| bins.contains(&p.bin))).collect();
    Scope { items, bins }
}

#[cfg(test)]
mod tests {
    use super::universal;

    #[test]
    fn universal_sequence_as_printed() {
        // Luby, Sinclair and Zuckerman 1993, section 1.
        let printed = [1, 1, 2, 1, 1, 2, 4, 1, 1, 2, 1, 1, 2, 4, 8, 1];
        assert_eq!(printed.to_vec(), (1..=16).map(universal).collect::<Vec<_>>());
    }
}
