//! Workers at parting: in lock-step, or one on its own that can be left off at any time.

use super::arrangement::{Arrangement, Pose};
use super::budget::Budget;
use super::dice::Dice;
use super::search::{Scope, Weights, Worker};
use super::tighten::scattered;

/// How long to go on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Patience {
    /// Passes without a gain before the best is taken up again.
    pub(super) passes: usize,
    /// How often it is taken up again in vain.
    pub(super) misses: usize,
}

/// The workers in lock-step: each makes the same pass with other dice, and the best outcome goes to
/// all.
#[derive(Debug)]
pub(super) struct Crew {
    workers: Vec<Worker>,
    weights: Weights,
    pub(super) scope: Scope,
}

impl Crew {
    /// A crew of `count` on `arrangement`; None when there is no part at all.
    pub(super) fn new(
        arrangement: &Arrangement,
        scope: Scope,
        count: usize,
        dice: &mut Dice,
    ) -> Option<Self> {
        let weights = Weights::new(&scope, arrangement.ids(), arrangement.items());
        let mut workers = Vec::new();
        for _ in 0..count.max(1) {
            workers.push(Worker {
                turner: arrangement.world.turner()?,
                arrangement: arrangement.clone(),
                dice: Dice::new(dice.bits()),
                near: Vec::new(),
                tried: 0,
            });
        }
        let mut crew = Self { workers, weights, scope };
        crew.each(|a, scope| scope.items.iter().for_each(|&i| a.look(i)));
        Some(crew)
    }

    /// The arrangement as it stands.
    pub(super) fn arrangement(&self) -> &Arrangement {
        &self.workers[0].arrangement
    }

    /// Makes the same change to every worker's copy.
    pub(super) fn each(&mut self, mut change: impl FnMut(&mut Arrangement, &Scope)) {
        for worker in &mut self.workers {
            change(&mut worker.arrangement, &self.scope);
        }
    }

    fn pass(&mut self) {
        let (weights, scope) = (&self.weights, &self.scope);
        let (first, rest) = self.workers.split_at_mut(1);
        std::thread::scope(|s| {
            for worker in rest {
                s.spawn(move || worker.pass(weights, scope));
            }
            first[0].pass(weights, scope);
        });
        self.workers[0].arrangement.world.pairs.catch_up();
        let weighted =
            |w: &Worker| scope.items.iter().map(|&i| w.weighted(i, weights)).sum::<f64>();
        let mut winner = 0;
        let mut least = f64::INFINITY;
        for (k, worker) in self.workers.iter().enumerate() {
            let loss = weighted(worker);
            if loss < least {
                (winner, least) = (k, loss);
            }
        }
        let (before, from) = self.workers.split_at_mut(winner);
        if let Some((from, after)) = from.split_first_mut() {
            for worker in before.iter_mut().chain(after) {
                follow_suit(&mut worker.arrangement, &from.arrangement, scope);
            }
        }
    }

    /// Runs passes until no part overlaps (true), patience runs out, or the budget does (false). On
    /// failure the best arrangement met is left standing.
    pub(super) fn part(&mut self, patience: Patience, budget: &mut Budget) -> bool {
        self.weights.reset();
        let mut attempt = Attempt::new(self.arrangement(), &self.scope, patience);
        loop {
            let verdict = attempt.judge(&self.workers[0].arrangement, &self.scope);
            let tried = self.workers.iter_mut().map(|w| std::mem::take(&mut w.tried)).sum();
            let goes_on = budget.spend(tried);
            match verdict {
                Verdict::Parted => return true,
                Verdict::GoOn if goes_on => {
                    self.weights.learn(&self.workers[0].arrangement, &self.scope);
                }
                Verdict::BackToBest if goes_on => self.each(|a, _| a.restore(&attempt.best.1)),
                _ => {
                    self.each(|a, _| a.restore(&attempt.best.1));
                    return false;
                }
            }
            self.pass();
        }
    }
}

/// A worker on its own, which can be left off after any pass.
#[derive(Debug)]
pub(super) struct Solo {
    worker: Worker,
    weights: Weights,
    attempt: Attempt,
    pub(super) scope: Scope,
}

impl Solo {
    /// A worker on a copy of `arrangement`; None when there is no part at all.
    pub(super) fn new(arrangement: &Arrangement, scope: &Scope, dice: Dice) -> Option<Self> {
        let mut arrangement = arrangement.clone();
        scope.items.iter().for_each(|&i| arrangement.look(i));
        let attempt = Attempt::new(&arrangement, scope, Patience { passes: 0, misses: 0 });
        let weights = Weights::new(scope, arrangement.ids(), arrangement.items());
        let worker = Worker {
            turner: arrangement.world.turner()?,
            arrangement,
            dice,
            near: Vec::new(),
            tried: 0,
        };
        Some(Self { worker, weights, attempt, scope: scope.clone() })
    }

    /// The arrangement, to look at or to change.
    pub(super) fn arrangement(&mut self) -> &mut Arrangement {
        &mut self.worker.arrangement
    }

    pub(super) fn dice(&mut self) -> &mut Dice {
        &mut self.worker.dice
    }

    /// A random pose of an item on one of `bins`, None when it goes on none of them.
    pub(super) fn scattered(&mut self, item: usize, bins: &[usize]) -> Option<Pose> {
        scattered(&self.worker.arrangement, item, bins, &mut self.worker.dice)
    }

    /// Trial poses since last asked.
    pub(super) fn tried(&mut self) -> u64 {
        std::mem::take(&mut self.worker.tried)
    }

    /// Sum of all overlaps, unweighted.
    pub(super) fn loss(&self) -> f64 {
        total(&self.worker.arrangement, &self.scope)
    }

    /// Starts parting what overlaps now.
    pub(super) fn begin(&mut self, patience: Patience) {
        self.weights.reset();
        self.attempt = Attempt::new(&self.worker.arrangement, &self.scope, patience);
    }

    /// One pass: true when no part overlaps any more, false when patience is at an end (the best
    /// arrangement met then stands), None when there is more to do.
    pub(super) fn step(&mut self) -> Option<bool> {
        if self.attempt.best.0 > 0.0 {
            self.worker.pass(&self.weights, &self.scope);
        }
        match self.attempt.judge(&self.worker.arrangement, &self.scope) {
            Verdict::Parted => return Some(true),
            Verdict::GoOn => self.weights.learn(&self.worker.arrangement, &self.scope),
            Verdict::BackToBest => self.worker.arrangement.restore(&self.attempt.best.1),
            Verdict::GiveUp => {
                self.worker.arrangement.restore(&self.attempt.best.1);
                return Some(false);
            }
        }
        None
    }
}

/// How the parting of one arrangement stands.
#[derive(Debug)]
struct Attempt {
    patience: Patience,
    best: (f64, Vec<Option<Pose>>),
    /// The best when it was last taken up again.
    at_start: f64,
    since: usize,
    misses: usize,
}

enum Verdict {
    Parted,
    GoOn,
    BackToBest,
    GiveUp,
}

impl Attempt {
    fn new(a: &Arrangement, scope: &Scope, patience: Patience) -> Self {
        let loss = total(a, scope);
        Self { patience, best: (loss, a.snapshot()), at_start: loss, since: 0, misses: 0 }
    }

    /// What to do after a pass.
    fn judge(&mut self, a: &Arrangement, scope: &Scope) -> Verdict {
        let loss = total(a, scope);
        if loss == 0.0 {
            return Verdict::Parted;
        }
        self.since = if loss < 0.98 * self.best.0 { 0 } else { self.since + 1 };
        if loss < self.best.0 {
            self.best = (loss, a.snapshot());
        }
        if self.since < self.patience.passes {
            return Verdict::GoOn;
        }
        self.since = 0;
        self.misses = if self.best.0 < 0.98 * self.at_start { 0 } else { self.misses + 1 };
        self.at_start = self.best.0;
        if self.misses < self.patience.misses { Verdict::BackToBest } else { Verdict::GiveUp }
    }
}

/// Sum of all overlaps in the scope, unweighted, each pair once.
fn total(a: &Arrangement, scope: &Scope) -> f64 {
    let n = a.items();
    let once = |i: usize| {
        a.overlaps(i)
            .iter()
            .filter(move |e| (e.0 as usize) < i || e.0 as usize >= n)
            .map(|e| e.1)
            .sum::<f64>()
    };
    scope.items.iter().map(|&i| once(i)).sum()
}

/// Brings `to` to the poses of `from`, both being equal outside the scope.
fn follow_suit(to: &mut Arrangement, from: &Arrangement, scope: &Scope) {
    let mut moved = Vec::new();
    for &i in &scope.items {
        if let Some(pose) = from.pose(i)
            && to.pose(i) != Some(pose)
        {
            moved.push((i, pose));
        }
    }
    to.shift(&moved);
}
