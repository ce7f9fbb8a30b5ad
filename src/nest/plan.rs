//! The order of work: prepare, fill, right-size the sheets, make room for what is left, save
//! sheets, close up the last.

use super::arrangement::{Arrangement, Pose};
use super::budget::Budget;
use super::crew::{Crew, Patience};
use super::dice::Dice;
use super::fill::{Available, Filler};
use super::guard::first_at_fault;
use super::plane::{sine_cosine, turned, twice_area};
use super::record::{Cost, Record, area_on, closing_bin, cost_of, mean_rate};
use super::tighten::{Closing, clear_out, scattered, scope_of};
use super::world::{Turning, World, prepare_grounds, prepare_kinds};
use super::{
    Clearance, Doing, Effort, Layout, MOST_MOVING, Piece, Placement, Refused, Stock, Turns,
    Unplaced, UsedSheet, Watch, Why,
};
use std::f64::consts::TAU;
use std::sync::Arc;

/// Share of the budget after which bold steps give way to small ones.
const LONG_SHARE: f64 = 0.8;
/// Failed steps in a row after which a search without a known end gives up.
const FAILURES: usize = 300;
/// Trial poses, and more per part, spent on the offcut when no sheet can be saved.
const OFFCUT_POSES: (u64, u64) = (400_000, 5_000);
/// Further first layouts on several sheets, with the parts in other orders: how many, for how many
/// parts in all, and the share of the budget after which there are no more. A kind's size counts up
/// to two to this power more or less.
const FILLS: usize = 24;
const FILLED_PARTS: usize = 4000;
const FILLS_SHARE: f64 = 0.2;
const DISORDER: f64 = 1.5;
/// The share of sheet area that parts could fill at the very best; above it no sheet is tried to be
/// saved.
const FULL: f64 = 0.995;

pub(super) fn nest(
    pieces: &[Piece],
    stock: &[Stock],
    clearance: &Clearance,
    effort: &Effort,
    watch: &mut dyn Watch,
) -> Result<Layout, Refused> {
    check_numbers(pieces, stock, clearance)?;
    let kinds = prepare_kinds(pieces, clearance.between)
        .map_err(|(index, fault)| Refused::Piece { index, fault })?;
    let grounds = prepare_grounds(stock, clearance)
        .map_err(|(index, fault)| Refused::Stock { index, fault })?;
    let kind_of: Vec<usize> =
        pieces.iter().enumerate().flat_map(|(i, p)| std::iter::repeat_n(i, p.quantity)).collect();
    let world = Arc::new(World::new(kinds, kind_of, grounds, *clearance));
    let mut budget = Budget::new(watch, effort.poses);
    let mut job = Job {
        world,
        stock,
        effort,
        dice: Dice::new(effort.seed),
        record: Record::new(stock),
        cut_short: false,
    };
    let fits: Vec<bool> = (0..pieces.len()).map(|k| job.fits_somewhere(k)).collect();
    let arrangement = job.fill(&fits, &mut budget);
    job.improve(&arrangement, &mut budget);
    let mut best = arrangement;
    best.restore(&job.record.best);
    Ok(job.layout(&best, &fits, &budget))
}

fn check_numbers(pieces: &[Piece], stock: &[Stock], clearance: &Clearance) -> Result<(), Refused> {
    let good = |v: f64, what: &'static str| {
        if v.is_finite() && (0.0..=1e6).contains(&v) {
            Ok(())
        } else {
            Err(Refused::BadNumber { what })
        }
    };
    good(clearance.between, "clearance between parts")?;
    good(clearance.edge, "margin to the sheet's edge")?;
    for piece in pieces {
        good(piece.tolerance, "tolerance of a turn")?;
        if let Turns::List(list) = &piece.turns {
            list.iter().try_for_each(|a| good(a.abs(), "angle of a turn"))?;
        }
    }
    for s in stock {
        if let Stock::Sheet { price: Some(price), .. } = s {
            good(price.min(1e6), "price of a sheet")?;
        }
    }
    let parts = pieces.iter().fold(0usize, |sum, p| sum.saturating_add(p.quantity));
    if parts > 1_000_000 { Err(Refused::TooMany { parts }) } else { Ok(()) }
}

struct Job<'j> {
    world: Arc<World>,
    stock: &'j [Stock],
    effort: &'j Effort,
    dice: Dice,
    record: Record<'j>,
    /// The caller broke the first filling off.
    cut_short: bool,
}

impl Job<'_> {
    fn fits_somewhere(&self, kind: usize) -> bool {
        self.world.grounds.iter().any(|g| {
            let any = !matches!(self.stock[g.stock], Stock::Sheet { count: 0, .. });
            any && self.world.kinds[kind].least_length_in(&g.room).is_some()
        })
    }

    /// The largest first, equal ones together.
    fn largest_first(&self, items: &mut [usize]) {
        self.by_size(items, |_| 1.0);
    }

    /// By falling size, which counts `times` as much for a kind; equal ones together.
    fn by_size(&self, items: &mut [usize], times: impl Fn(usize) -> f64) {
        let rank = |i: usize| {
            let k = self.world.kind(i);
            // Long thin parts are as hard to place as bulky ones, and so is a frame, whatever its
            // opening.
            (0.5 * twice_area(&k.rings[0]) + 0.1 * k.diagonal * k.diagonal)
                * times(self.world.kind_of[i])
        };
        items.sort_by(|&i, &j| {
            rank(j)
                .total_cmp(&rank(i))
                .then(self.world.kind_of[i].cmp(&self.world.kind_of[j]))
                .then(i.cmp(&j))
        });
    }

    /// Sheets in the orders worth trying: remnants from the smallest, then sheets by price for the
    /// area, the largest or the smallest first, then rolls.
    fn stock_orders(&self) -> Vec<Vec<Available>> {
        let most = self.world.kind_of.len();
        let mut remnants: Vec<usize> = Vec::new();
        let mut sheets: Vec<(usize, f64)> = Vec::new();
        let mut rolls: Vec<Available> = Vec::new();
        for (g, ground) in self.world.grounds.iter().enumerate() {
            match &self.stock[ground.stock] {
                Stock::Roll { .. } => rolls.push((g, 0)),
                Stock::Sheet { remnant: true, .. } => remnants.push(g),
                Stock::Sheet { price, .. } => {
                    sheets.push((g, price.map_or(1.0, |p| p / ground.area)));
                }
            }
        }
        let area = |g: &usize| self.world.grounds[*g].area;
        let each = |g: usize| {
            let count = match &self.stock[self.world.grounds[g].stock] {
                Stock::Sheet { count, .. } => (*count).min(most),
                Stock::Roll { .. } => 1,
            };
            (0..count).map(move |c| (g, c))
        };
        remnants.sort_by(|a, b| area(a).total_cmp(&area(b)));
        let mut orders: Vec<Vec<Available>> = Vec::new();
        for way in 0..3 {
            let mut by = sheets.clone();
            match way {
                0 => by.sort_by(|a, b| a.1.total_cmp(&b.1).then(area(&b.0).total_cmp(&area(&a.0)))),
                1 => by.sort_by(|a, b| area(&b.0).total_cmp(&area(&a.0))),
                _ => by.sort_by(|a, b| area(&a.0).total_cmp(&area(&b.0))),
            }
            let order: Vec<Available> = remnants
                .iter()
                .flat_map(|&g| each(g))
                .chain(by.iter().flat_map(|&(g, _)| each(g)))
                .chain(rolls.iter().copied())
                .collect();
            if !orders.contains(&order) {
                orders.push(order);
            }
        }
        if most > MOST_MOVING {
            orders.truncate(1);
        }
        orders
    }

    /// The best first layout over the orders of stock.
    fn fill(&mut self, fits: &[bool], budget: &mut Budget) -> Arrangement {
        let mut items: Vec<usize> =
            (0..self.world.kind_of.len()).filter(|&i| fits[self.world.kind_of[i]]).collect();
        self.largest_first(&mut items);
        let orders = self.stock_orders();
        let mut best: Option<(Cost, Arrangement)> = None;
        let mut on = 0;
        for (k, order) in orders.iter().enumerate() {
            // The first is filled to its end, whatever the budget; the others too while parts are
            // left over.
            if best.as_ref().is_some_and(|b| b.0.unplaced == 0) && budget.stopped() {
                break;
            }
            let filled = self.filled(&items, order, budget);
            if best.as_ref().is_none_or(|b| filled.0 < b.0) {
                (best, on) = (Some(filled), k);
            }
        }
        // A roll is closed up from any start; which parts share a sheet is hard to change later on.
        let on_sheets = best.as_ref().is_some_and(|b| {
            b.1.bins.len() > 1 && !b.1.bins.iter().any(|bin| self.world.grounds[bin.ground].roll)
        });
        let more = if on_sheets { FILLS.min(FILLED_PARTS / items.len().max(1)) } else { 0 };
        let mut dice = Dice::new(self.effort.seed);
        for _ in 0..more {
            if budget.stopped() || budget.share() > FILLS_SHARE {
                break;
            }
            let times: Vec<f64> =
                self.world.kinds.iter().map(|_| dice.between(-DISORDER, DISORDER).exp2()).collect();
            self.by_size(&mut items, |kind| times[kind]);
            let filled = self.filled(&items, &orders[on], budget);
            if best.as_ref().is_none_or(|b| filled.0 < b.0) {
                best = Some(filled);
            }
        }
        self.cut_short = budget.broken_off();
        let mut arrangement = best.map_or_else(|| Arrangement::new(&self.world), |b| b.1);
        // Should the exact check ever refuse a part of the first layout, the others are kept.
        while let Some(item) = first_at_fault(&arrangement) {
            arrangement.take(item);
        }
        self.record.offer(&arrangement, budget);
        arrangement
    }

    /// Sheets filled with the items in this order, and what that costs.
    fn filled(
        &self,
        items: &[usize],
        order: &[Available],
        budget: &mut Budget,
    ) -> (Cost, Arrangement) {
        let mut filler = Filler::new(&self.world, items);
        filler.fill(items, order, budget);
        let mut arrangement = filler.arrangement;
        self.right_size(&mut arrangement, order, budget);
        (cost_of(&arrangement, self.stock), arrangement)
    }

    /// Moves what lies on a sheet to a cheaper one that is left, if it all goes on there.
    fn right_size(&self, a: &mut Arrangement, order: &[Available], budget: &mut Budget) {
        for bin in (0..a.bins.len()).rev() {
            let mut items: Vec<usize> = a.on(bin).map(|(i, _)| i).collect();
            let ground = a.bins[bin].ground;
            if items.is_empty() || items.len() > MOST_MOVING || self.is_remnant_or_roll(ground) {
                continue;
            }
            self.largest_first(&mut items);
            let need: f64 = items.iter().map(|&i| self.world.kind(i).area).sum();
            let mut spare: Vec<Available> = order
                .iter()
                .copied()
                .filter(|s| !a.bins.iter().any(|b| (b.ground, b.copy) == *s))
                .filter(|s| {
                    self.worth(s.0) < self.worth(ground) && self.world.grounds[s.0].area >= need
                })
                .collect();
            spare.sort_by(|x, y| {
                self.worth(x.0).partial_cmp(&self.worth(y.0)).unwrap_or(std::cmp::Ordering::Equal)
            });
            spare.dedup_by_key(|s| s.0);
            for sheet in spare {
                if budget.broken_off() {
                    return;
                }
                let mut filler = Filler::new(&self.world, &items);
                if filler.fill(&items, &[sheet], budget).is_empty() {
                    let room = self.world.grounds[sheet.0].room;
                    let cell = 0.7
                        * items.iter().map(|&i| self.world.kind(i).diagonal).sum::<f64>()
                        / items.len() as f64;
                    let to = a.open_bin(sheet.0, sheet.1, room, cell);
                    for &i in &items {
                        if let Some(pose) = filler.arrangement.pose(i) {
                            a.put(i, Pose { bin: to, ..pose });
                        }
                    }
                    break;
                }
            }
        }
    }

    fn is_remnant_or_roll(&self, ground: usize) -> bool {
        !matches!(self.stock[self.world.grounds[ground].stock], Stock::Sheet { remnant: false, .. })
    }

    /// What a sheet counts for: money if it has a price, then area. Rolls count as dearest here.
    fn worth(&self, ground: usize) -> (f64, f64) {
        let g = &self.world.grounds[ground];
        match &self.stock[g.stock] {
            Stock::Sheet { price, .. } => {
                (price.unwrap_or(mean_rate(&self.world, self.stock) * g.area), g.area)
            }
            Stock::Roll { .. } => (f64::INFINITY, f64::INFINITY),
        }
    }

    /// Everything after the first layout.
    fn improve(&mut self, first: &Arrangement, budget: &mut Budget) {
        let mut a = first.clone();
        if (0..a.items()).any(|i| a.pose(i).is_none()) && !budget.stopped() {
            self.make_room(&mut a, budget);
        }
        while !budget.stopped() {
            let Some(bin) = closing_bin(&a, self.stock) else { return };
            let roll = self.world.grounds[a.bins[bin].ground].roll;
            let used: Vec<usize> =
                (0..a.bins.len()).filter(|&b| a.on(b).next().is_some()).collect();
            let movable = used.iter().map(|&b| a.on(b).count()).sum::<usize>() <= MOST_MOVING;
            let scope = scope_of(&a, if movable { used.clone() } else { vec![bin] });
            if scope.items.len() > MOST_MOVING {
                return;
            }
            let alone = scope.bins.len() == 1;
            let floor = if alone { self.floor(&a, bin) } else { a.bins[bin].room.x0 };
            let savable = !roll && !self.is_remnant_or_roll(a.bins[bin].ground) && !alone && {
                let others: f64 = used
                    .iter()
                    .filter(|b| **b != bin)
                    .map(|&b| FULL * self.world.grounds[a.bins[b].ground].area)
                    .sum();
                used.iter().map(|&b| area_on(&a, b)).sum::<f64>() <= others
            };
            let parts = scope.items.len() as u64;
            let mut dice = Dice::new(self.dice.bits());
            let workers = self.effort.workers;
            if savable {
                budget.progress.doing = Doing::SavingASheet;
                let cleared = clear_out(&a, &scope, bin, workers, &mut dice, budget);
                if cleared.is_some_and(|c| self.record.offer(&c, budget)) {
                    a.restore(&self.record.best);
                    continue;
                }
            } else if !roll {
                budget.lap(Some(OFFCUT_POSES.0 + OFFCUT_POSES.1 * parts));
            }
            let Some(mut closing) = Closing::new(&a, &scope, workers, &mut dice, (bin, floor))
            else {
                return;
            };
            if !savable {
                budget.progress.doing =
                    if roll { Doing::ShorteningTheRoll } else { Doing::ClosingUp };
            }
            let failures = if savable || roll { FAILURES } else { 60 };
            let mut emptied = false;
            let mut share = if budget.has_end() { LONG_SHARE } else { 1.0 };
            while !emptied && budget.goes_on() {
                closing.long_run(budget, &mut self.record, share, failures);
                emptied = closing.shortest().on(bin).next().is_none();
                if !emptied {
                    budget.progress.doing =
                        if roll { Doing::ShorteningTheRoll } else { Doing::ClosingUp };
                    closing.final_run(budget, &mut self.record);
                }
                if closing.done() || !roll || !budget.has_end() {
                    break;
                }
                share += (1.0 - share) * LONG_SHARE;
            }
            budget.lap(None);
            if !emptied || !savable {
                return;
            }
            a.restore(&self.record.best);
        }
    }

    /// A length no layout on this bin alone can go below: the parts' area over the room's height,
    /// or the longest part.
    fn floor(&self, a: &Arrangement, bin: usize) -> f64 {
        let room = self.world.grounds[a.bins[bin].ground].room;
        let single = a.on(bin).count() == 1;
        let by_area = area_on(a, bin) / room.height().max(1e-9);
        let mut kinds: Vec<usize> = a.on(bin).map(|(i, _)| self.world.kind_of[i]).collect();
        kinds.dedup();
        let longest = kinds.iter().map(|&k| {
            let kind = &self.world.kinds[k];
            match &kind.turning {
                Turning::Free { .. } if !single => kind.least_width,
                _ => kind.least_length_in(&room).unwrap_or(0.0),
            }
        });
        room.x0 + longest.fold(by_area, f64::max)
    }

    /// Takes parts that were left over into the sheets, letting the others make room.
    fn make_room(&mut self, a: &mut Arrangement, budget: &mut Budget) {
        let mut left: Vec<usize> = (0..a.items()).filter(|&i| a.pose(i).is_none()).collect();
        left.retain(|&i| self.fits_somewhere(self.world.kind_of[i]));
        left.sort_by(|&i, &j| {
            self.world.kind(j).area.total_cmp(&self.world.kind(i).area).then(i.cmp(&j))
        });
        budget.progress.doing = Doing::MakingRoom;
        let mut hopeless = vec![false; self.world.kinds.len()];
        for item in left {
            let kind = self.world.kind_of[item];
            if hopeless[kind] || budget.stopped() {
                continue;
            }
            let bins: Vec<usize> = (0..a.bins.len()).collect();
            let free: f64 = bins
                .iter()
                .map(|&b| self.world.grounds[a.bins[b].ground].area - area_on(a, b))
                .sum();
            hopeless[kind] = true;
            let mut dice = Dice::new(self.dice.bits());
            let Some(pose) = scattered(a, item, &bins, &mut dice) else { continue };
            if free < self.world.kind(item).area {
                continue;
            }
            let mut tried = a.clone();
            tried.put(item, pose);
            let scope = scope_of(&tried, bins);
            if scope.items.len() > MOST_MOVING {
                continue;
            }
            let before = a.snapshot();
            let Some(mut crew) = Crew::new(&tried, scope, self.effort.workers, &mut dice) else {
                continue;
            };
            budget.lap(Some(OFFCUT_POSES.0 + OFFCUT_POSES.1 * crew.scope.items.len() as u64));
            let parted = crew.part(Patience { passes: 100, misses: 3 }, budget);
            budget.lap(None);
            if parted && self.record.offer(crew.arrangement(), budget) {
                a.restore(&crew.arrangement().snapshot());
                hopeless[kind] = false;
            } else {
                a.restore(&before);
            }
        }
        a.restore(&self.record.best);
    }

    fn layout(&self, a: &Arrangement, fits: &[bool], budget: &Budget) -> Layout {
        let mut layout = Layout { poses_tried: budget.progress.poses_tried, ..Layout::default() };
        let mut order: Vec<usize> =
            (0..a.bins.len()).filter(|&b| a.on(b).next().is_some()).collect();
        let last = closing_bin(a, self.stock);
        let rank = |b: usize| match &self.stock[self.world.grounds[a.bins[b].ground].stock] {
            Stock::Sheet { remnant: true, .. } => 0,
            Stock::Sheet { .. } => 1,
            Stock::Roll { .. } => 2,
        };
        order.sort_by_key(|&b| (rank(b), Some(b) == last, b));
        let mut first_of: Vec<usize> = Vec::with_capacity(self.world.kinds.len());
        let mut copies = vec![0usize; self.world.kinds.len()];
        for k in 0..self.world.kinds.len() {
            first_of.push(self.world.kind_of.partition_point(|&o| o < k));
        }
        let mut area = (0.0, 0.0);
        let mut next_copy = vec![0usize; self.stock.len()];
        for bin in order {
            let ground = &self.world.grounds[a.bins[bin].ground];
            let edge = self.world.clearance.edge;
            let length =
                a.length_used(bin) + ground.origin[0] + if ground.roll { edge } else { 0.0 };
            area.0 += area_on(a, bin);
            area.1 += if ground.roll {
                length * (ground.room.height() + 2.0 * edge)
            } else {
                ground.area
            };
            let placements = a.on(bin).map(|(i, p)| {
                self.placement(i, p.pose, ground.origin, i - first_of[self.world.kind_of[i]])
            });
            let placements: Vec<Placement> = placements.collect();
            let copy = next_copy[ground.stock];
            next_copy[ground.stock] += 1;
            layout.sheets.push(UsedSheet { stock: ground.stock, copy, placements, length });
        }
        layout.used = if area.1 > 0.0 { area.0 / area.1 } else { 0.0 };
        for i in (0..a.items()).filter(|&i| a.pose(i).is_none()) {
            copies[self.world.kind_of[i]] += 1;
        }
        for (k, &count) in copies.iter().enumerate().filter(|(_, c)| **c > 0) {
            let why = match (fits[k], self.cut_short) {
                (false, _) => Why::TooLarge,
                (true, true) => Why::Stopped,
                (true, false) => Why::NoRoom,
            };
            layout.unplaced.push(Unplaced { piece: self.world.kinds[k].piece, count, why });
        }
        layout
    }

    fn placement(&self, item: usize, pose: Pose, origin: [f64; 2], copy: usize) -> Placement {
        let kind = self.world.kind(item);
        let c = turned(kind.centre, sine_cosine(pose.angle));
        // Angles of a list come back as given; free ones between 0 and a full turn.
        let angle = match &kind.turning {
            Turning::Fixed(_) => pose.angle,
            Turning::Free { .. } => pose.angle.rem_euclid(TAU),
        };
        Placement {
            piece: kind.piece,
            copy,
            x: pose.x - c[0] + origin[0],
            y: pose.y - c[1] + origin[1],
            angle,
        }
    }
}
