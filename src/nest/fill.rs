//! Filling sheets from the near end: each part, largest first, where it reaches least far along the sheet.

use super::arrangement::{Arrangement, Pose};
use super::budget::Budget;
use super::dice::Dice;
use super::outline::{Outline, TOUCH};
use super::plane::Frame;
use super::world::World;
use std::sync::Arc;

/// Places looked at for one part on one sheet.
const MOST_PLACES: usize = 320;
/// Lanes along the sheet in which a part is slid in from the far side.
const LANES: usize = 12;
/// Parts on one sheet above which slides are kept short and fewer places are looked at.
const CROWDED: usize = 150;
/// Rounds of sliding toward the corner.
const SLIDES: usize = 6;

/// A place in the plane, (x, y) in mm.
type Spot = (f64, f64);

/// One sheet that may be used: index into `World::grounds`, and which of the equal ones.
pub(super) type Available = (usize, usize);

/// Fills the sheets of `order`, opening the next when a part goes on none of those open.
pub(super) struct Filler<'w> {
    world: &'w Arc<World>,
    near: Vec<u32>,
    dice: Dice,
    pub(super) arrangement: Arrangement,
    /// For each bin and kind: this kind found no place before.
    full: Vec<Vec<bool>>,
    /// Places of the parts on each bin, in the order they came.
    places: Vec<Vec<usize>>,
    cell: f64,
    poses: u64,
}

impl<'w> Filler<'w> {
    /// A filler with no sheet open yet.
    pub(super) fn new(world: &'w Arc<World>, seed: u64) -> Self {
        let n = world.kind_of.len().max(1) as f64;
        let mean = world.kind_of.iter().map(|&k| world.kinds[k].diagonal).sum::<f64>() / n;
        Self {
            world,
            near: Vec::new(),
            dice: Dice::new(seed),
            arrangement: Arrangement::new(world),
            full: Vec::new(),
            places: Vec::new(),
            cell: 0.7 * mean,
            poses: 0,
        }
    }

    /// Opens a bin; a roll gets a room longer than the parts could ever need.
    pub(super) fn open(&mut self, (ground, copy): Available) -> usize {
        let mut room = self.world.grounds[ground].room;
        if self.world.grounds[ground].roll {
            let all: f64 = self.world.kind_of.iter().map(|&k| self.world.kinds[k].diagonal).sum();
            room.x1 = room.x0 + (all + self.world.kind_of.len() as f64 * self.world.clearance.between).min(1e9);
        }
        let area: f64 = self.world.kind_of.iter().map(|&k| self.world.kinds[k].area).sum();
        let mut grid = room;
        grid.x1 = grid.x1.min(grid.x0 + 2.0 * area / room.height().max(1e-3) + 4.0 * self.cell);
        let bin = self.arrangement.open_bin(ground, copy, grid, self.cell);
        self.arrangement.bins[bin].room = room;
        self.full.push(vec![false; self.world.kinds.len()]);
        self.places.push(Vec::new());
        bin
    }

    /// Places all `items` (already sorted) on the sheets of `order`. Returns what found no room.
    pub(super) fn fill(&mut self, items: &[usize], order: &[Available], budget: &mut Budget) -> Vec<usize> {
        let mut left = Vec::new();
        let mut unused = order.to_vec();
        // A kind that found no place on an empty sheet finds none on its likes either.
        let mut useless = vec![vec![false; self.world.kinds.len()]; self.world.grounds.len()];
        for &item in items {
            if budget.stopped() {
                left.push(item);
                continue;
            }
            let kind = self.world.kind_of[item];
            let mut done = (0..self.arrangement.bins.len()).any(|bin| self.place(item, bin));
            while !done && let Some(next) = unused.iter().position(|s| !useless[s.0][kind]) {
                // A sheet too small for this part may still serve a smaller one: it is opened and stays open.
                let sheet = unused.remove(next);
                let bin = self.open(sheet);
                done = self.place(item, bin);
                useless[sheet.0][kind] = !done;
            }
            if !done {
                left.push(item);
            }
            budget.spend(std::mem::take(&mut self.poses));
        }
        left
    }

    /// Places one item on one bin if a place is found.
    pub(super) fn place(&mut self, item: usize, bin: usize) -> bool {
        let kind_index = self.world.kind_of[item];
        if self.full[bin][kind_index] {
            return false;
        }
        let world = Arc::clone(self.world);
        let kind = &world.kinds[kind_index];
        let mut best: Option<(f64, f64, Pose)> = None;
        let corners = self.corners(bin);
        let pockets = self.pockets(bin);
        for list in [&kind.first_angles, &kind.other_angles] {
            for &(turn, angle) in list {
                let outline = kind.stand_kept(turn, angle);
                if let Some(reach) = self.arrangement.reach(bin, &outline) {
                    self.try_places(item, bin, &outline, &reach, (&corners, &pockets), (turn, angle), &mut best);
                }
            }
            if best.is_some() {
                break;
            }
        }
        if let Some((_, _, pose)) = best {
            self.arrangement.put(item, pose);
            self.places[bin].push(item);
            true
        } else {
            self.full[bin][kind_index] = true;
            false
        }
    }

    #[allow(clippy::too_many_arguments)] // the inner half of `place`
    fn try_places(
        &mut self,
        item: usize,
        bin: usize,
        outline: &Outline,
        reach: &Frame,
        (corners, pockets): (&[Spot], &[Spot]),
        (turn, angle): (usize, f64),
        best: &mut Option<(f64, f64, Pose)>,
    ) {
        let (b, middle) = (&outline.bounds, outline.bounds.middle());
        let by_corner = corners.iter().map(|&(x, y)| (x - b.x0 + 2.0 * TOUCH, y - b.y0 + 2.0 * TOUCH));
        let by_middle = pockets.iter().map(|&(x, y)| (x - middle[0], y - middle[1]));
        // On a crowded sheet a long slide would look at hundreds of parts; the front is near anyway.
        let most = if self.places[bin].len() > CROWDED { 3.0 * b.diagonal() } else { f64::INFINITY };
        // The grown box has the clearance about it, of which the sheet's margin may need less.
        let over = 0.5 * self.world.clearance.between + 1e-6;
        let starts: Vec<(f64, f64)> = by_corner.chain(by_middle).collect();
        for (k, (x, y)) in starts.into_iter().enumerate() {
            let (x, y) = (x.max(reach.x0), y.max(reach.y0));
            if x > reach.x1 + over || y > reach.y1 + over {
                continue;
            }
            let (mut x, mut y) = (x.min(reach.x1), y.min(reach.y1));
            // Only the lane ends from the far side may slide a long way; any other start has to be good as it is.
            if k >= LANES && best.as_ref().is_some_and(|b| x + outline.extent.x1 > b.0 + 1e-9) {
                continue;
            }
            self.poses += 1;
            if !self.arrangement.clear_at(item, outline, (bin, x, y), &mut self.near) {
                continue;
            }
            for _ in 0..SLIDES {
                let dx = slide(&self.arrangement, item, outline, (bin, x, y), (x - reach.x0).min(most), false);
                x -= dx;
                let dy = slide(&self.arrangement, item, outline, (bin, x, y), (y - reach.y0).min(most), true);
                y -= dy;
                if dx + dy < 1e-6 {
                    break;
                }
            }
            let far = (x + outline.extent.x1, y + outline.extent.y1);
            let better = best.as_ref().is_none_or(|b| far.0 < b.0 - 1e-9 || (far.0 < b.0 + 1e-9 && far.1 < b.1));
            if better && self.arrangement.clear_at(item, outline, (bin, x, y), &mut self.near) {
                *best = Some((far.0, far.1, Pose { bin, turn, angle, x, y }));
            }
        }
    }

    /// Where the lower left corner of a part's box might go: the room's corner, and beside, above and under the parts.
    fn corners(&mut self, bin: usize) -> Vec<(f64, f64)> {
        let room = self.arrangement.bins[bin].room;
        let mut frames: Vec<Frame> = Vec::new();
        let on = &self.places[bin];
        let share = if on.len() > CROWDED { 16 } else { 8 };
        let recent = on.len().saturating_sub(MOST_PLACES / share);
        let mut chosen: Vec<usize> = on[recent..].to_vec();
        for _ in 0..recent.min(MOST_PLACES / (2 * share)) {
            chosen.push(on[self.dice.below(recent)]);
        }
        frames.extend(chosen.iter().filter_map(|&i| self.arrangement.placed(i)).map(|p| p.frame));
        frames.extend(
            (self.arrangement.items()..self.arrangement.ids())
                .filter_map(|i| self.arrangement.placed(i).filter(|p| p.pose.bin == bin).map(|p| p.frame)),
        );
        let far = self.arrangement.length_used(bin);
        let mut list: Vec<(f64, f64)> =
            (0..LANES).map(|k| (far + 1e-6, room.y0 + room.height() * k as f64 / LANES as f64)).collect();
        list.push((room.x0, room.y0));
        for f in &frames {
            list.extend([(f.x1, f.y0), (f.x0, f.y1), (f.x1, room.y0), (room.x0, f.y1), (f.x1, f.y1)]);
            list.push((self.dice.between(f.x0, f.x1), self.dice.between(f.y0, f.y1)));
        }
        if !self.world.grounds[self.arrangement.bins[bin].ground].forbidden.is_empty() {
            for _ in 0..60 {
                list.push((self.dice.between(room.x0, room.x1), self.dice.between(room.y0, room.y1)));
            }
        }
        list[LANES..].sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        list
    }

    /// Middles of the openings of the parts placed.
    fn pockets(&mut self, bin: usize) -> Vec<(f64, f64)> {
        let on = &self.places[bin];
        let mut list = Vec::new();
        for &i in on.iter().rev() {
            let kind = self.world.kind(i);
            if kind.pockets.is_empty() {
                continue;
            }
            let Some(pose) = self.arrangement.pose(i) else { continue };
            let sc = super::plane::sine_cosine(pose.angle);
            for p in &kind.pockets {
                let q = super::plane::turned(*p, sc);
                list.push((q[0] + pose.x, q[1] + pose.y));
            }
            if list.len() > MOST_PLACES {
                break;
            }
        }
        list
    }
}

/// How far `outline` at (x, y) can slide toward smaller x (or y when `down`), up to `most`, before it touches.
fn slide(
    arrangement: &Arrangement,
    item: usize,
    outline: &Outline,
    (bin, x, y): (usize, f64, f64),
    most: f64,
    down: bool,
) -> f64 {
    if most <= 0.0 {
        return 0.0;
    }
    let mut swept = outline.bounds.moved(x, y);
    if down {
        swept.y0 -= most;
    } else {
        swept.x0 -= most;
    }
    // The nearest first: most of the others then lie beyond the free run already.
    let start = outline.bounds.moved(x, y);
    let mut others: Vec<(f64, usize)> = Vec::new();
    arrangement.near(bin, &swept, |id| {
        if id != item
            && let Some(other) = arrangement.placed(id)
        {
            others.push((if down { start.y0 - other.frame.y1 } else { start.x0 - other.frame.x1 }, id));
        }
        true
    });
    others.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.cmp(&q.1)));
    let mut free = most;
    for (gap, id) in others {
        let Some(other) = arrangement.placed(id).filter(|_| gap < free) else { continue };
        let (dx, dy) = (x - other.pose.x, y - other.pose.y);
        let (a, b) = (outline, &other.outline);
        let met = if down {
            first_contact((&a.y0, &a.x0, &a.y1, &a.x1), (&b.y0, &b.x0, &b.y1, &b.x1), (dy, dx), 1.0, free)
        } else {
            first_contact((&a.x0, &a.y0, &a.x1, &a.y1), (&b.x0, &b.y0, &b.x1, &b.y1), (dx, dy), -1.0, free)
        };
        free = free.min((met - 2.0 * TOUCH).max(0.0));
    }
    free
}

type Sides<'a> = (&'a [f64], &'a [f64], &'a [f64], &'a [f64]);

/// How far `a`, moved by (du, dv), can go toward smaller u before an edge meets an edge of `b`; at most `most`.
///
/// First contact of two polygons is at a corner of one and an edge of the other; so corners of each are measured
/// against edges of the other along u. Only edges of `a` that face the way it goes count (`facing` is the sign of their
/// run along v), and those of `b` that face it.
fn first_contact(a: Sides, b: Sides, (du, dv): (f64, f64), facing: f64, most: f64) -> f64 {
    let mut least = most;
    let mut span = (f64::INFINITY, f64::NEG_INFINITY);
    for i in 0..a.0.len() {
        span = (span.0.min(a.1[i] + dv), span.1.max(a.1[i] + dv));
    }
    let met: Vec<[f64; 4]> = (0..b.0.len())
        .filter(|&j| (b.3[j] - b.1[j]) * facing < -1e-12 && b.1[j].max(b.3[j]) >= span.0 && b.1[j].min(b.3[j]) <= span.1)
        .map(|j| [b.0[j], b.1[j], b.2[j], b.3[j]])
        .collect();
    for i in 0..a.0.len() {
        let (au, av, bu, bv) = (a.0[i] + du, a.1[i] + dv, a.2[i] + du, a.3[i] + dv);
        if (bv - av) * facing <= 1e-12 {
            continue;
        }
        let (low, high) = (av.min(bv), av.max(bv));
        for &[cu, cv, eu, ev] in &met {
            let (from, to) = (cv.min(ev), cv.max(ev));
            if to < low || from > high {
                continue;
            }
            for (pu, pv) in [(au, av), (bu, bv)] {
                if pv >= from && pv <= to {
                    let gap = pu - (cu + (eu - cu) * (pv - cv) / (ev - cv));
                    if gap >= 0.0 && gap < least {
                        least = gap;
                    }
                }
            }
            for (qu, qv) in [(cu, cv), (eu, ev)] {
                if qv >= low && qv <= high {
                    let gap = au + (bu - au) * (qv - av) / (bv - av) - qu;
                    if gap >= 0.0 && gap < least {
                        least = gap;
                    }
                }
            }
        }
    }
    least
}
