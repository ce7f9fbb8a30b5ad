//! The best layout so far. Nothing gets in that fails the exact check.

use super::arrangement::{Arrangement, Pose};
use super::budget::Budget;
use super::guard::sound;
use super::{Stock, world::World};

/// What a layout costs: compared in order, less is better.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub(super) struct Cost {
    pub(super) unplaced: usize,
    /// Money, or 0 when no sheet has a price.
    pub(super) money: f64,
    /// Sheets that are no remnants.
    pub(super) sheets: usize,
    /// Their area, mm².
    pub(super) area: f64,
    /// How far the last one is used, mm.
    pub(super) length: f64,
}

/// The best layout so far.
pub(super) struct Record<'r> {
    stock: &'r [Stock],
    pub(super) best: Vec<Option<Pose>>,
    pub(super) cost: Option<Cost>,
}

impl<'r> Record<'r> {
    pub(super) fn new(stock: &'r [Stock]) -> Self {
        Self { stock, best: Vec::new(), cost: None }
    }

    /// Takes a layout free of overlaps when it is no worse than the best and passes the exact
    /// check. False when it failed the check.
    pub(super) fn offer(&mut self, a: &Arrangement, budget: &mut Budget) -> bool {
        if !sound(a) {
            return false;
        }
        let cost = cost_of(a, self.stock);
        if self.cost.is_none_or(|best| cost <= best) {
            self.cost = Some(cost);
            self.best = a.snapshot();
            report(a, &cost, budget);
        }
        true
    }
}

/// The bin that is closed up: the last roll in use, else the emptiest sheet that is no remnant,
/// else the last remnant.
pub(super) fn closing_bin(a: &Arrangement, stock: &[Stock]) -> Option<usize> {
    let mut best: Option<(u8, f64, usize)> = None;
    for bin in 0..a.bins.len() {
        if a.on(bin).next().is_none() {
            continue;
        }
        let ground = &a.world.grounds[a.bins[bin].ground];
        let rank = match &stock[ground.stock] {
            Stock::Roll { .. } => 2,
            Stock::Sheet { remnant: false, .. } => 1,
            Stock::Sheet { .. } => 0,
        };
        let fill = if ground.roll { 0.0 } else { area_on(a, bin) / ground.area };
        if best.is_none_or(|(r, f, _)| rank > r || (rank == r && fill <= f)) {
            best = Some((rank, fill, bin));
        }
    }
    best.map(|b| b.2)
}

/// Area of the parts on a bin, mm².
pub(super) fn area_on(a: &Arrangement, bin: usize) -> f64 {
    a.on(bin).map(|(i, _)| a.world.kind(i).area).sum()
}

/// What the layout costs.
pub(super) fn cost_of(a: &Arrangement, stock: &[Stock]) -> Cost {
    let mut cost = Cost { unplaced: 0, money: 0.0, sheets: 0, area: 0.0, length: 0.0 };
    cost.unplaced = (0..a.items()).filter(|&i| a.pose(i).is_none()).count();
    let rate = mean_rate(&a.world, stock);
    for bin in 0..a.bins.len() {
        let ground = &a.world.grounds[a.bins[bin].ground];
        if a.on(bin).next().is_none() {
            continue;
        }
        if let Stock::Sheet { remnant, price, .. } = &stock[ground.stock] {
            cost.money += price.unwrap_or(if *remnant { 0.0 } else { rate * ground.area });
            if !remnant {
                cost.sheets += 1;
                cost.area += ground.area;
            }
        }
    }
    cost.length = closing_bin(a, stock).map_or(0.0, |bin| a.length_used(bin));
    cost
}

/// Mean price of a square millimetre over the priced sheets; 0 when none has a price.
pub(super) fn mean_rate(world: &World, stock: &[Stock]) -> f64 {
    let (mut money, mut area) = (0.0, 0.0);
    for ground in &world.grounds {
        if let Stock::Sheet { price: Some(price), .. } = &stock[ground.stock] {
            money += price;
            area += ground.area;
        }
    }
    if area > 0.0 { money / area } else { 0.0 }
}

fn report(a: &Arrangement, cost: &Cost, budget: &mut Budget) {
    let edge = a.world.clearance.edge;
    let (mut parts, mut sheets, mut used, mut roll) = (0.0, 0, 0.0, None);
    for bin in 0..a.bins.len() {
        let on = area_on(a, bin);
        if on <= 0.0 {
            continue;
        }
        parts += on;
        let ground = &a.world.grounds[a.bins[bin].ground];
        if ground.roll {
            let length = a.length_used(bin) + edge;
            used += length * (ground.room.height() + 2.0 * edge);
            roll = Some(length);
        } else {
            sheets += 1;
            used += ground.area;
        }
    }
    budget.progress.best_yield = if used > 0.0 { parts / used } else { 0.0 };
    budget.progress.sheets = sheets;
    budget.progress.roll_length = roll;
    budget.progress.unplaced = cost.unplaced;
}
