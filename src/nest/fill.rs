//! Filling sheets from the near end: each part, largest first, where it reaches least far along the
//! sheet.
//!
//! A place is looked for in the sheet's lanes (`lanes`), lane by lane and turn by turn; the few
//! best are slid along x and y against the true outlines. So every part takes some tens of
//! microseconds, however many lie on the sheet already.

use super::arrangement::{Arrangement, Bin, Pose};
use super::budget::Budget;
use super::lanes::{Lanes, Profile};
use super::outline::{Outline, TOUCH};
use super::plane::{Point, diagonal, middle, sine_cosine, turned};
use super::world::{FIT, Kind, World};
use crate::geom::{Rect, Vec2};
use std::sync::Arc;

/// Lanes to the narrowest part, and the least and most to a sheet.
const LANES: (f64, f64, f64) = (3.0, 24.0, 320.0);
/// The share of the narrowest part below which a gap in a lane is of no use.
const GAP: f64 = 0.25;
/// Places that are slid, and how far behind the best of them the others may be, in lengths of the
/// part.
const SLID: usize = 6;
const BEHIND: f64 = 0.3;
/// Rounds of sliding toward the corner, and the longest slide in diagonals of the part.
const SLIDES: usize = 4;
const LONGEST_SLIDE: f64 = 3.0;
/// Turns more that are tried on a sheet where none of the first goes within its margins.
const OTHER_TURNS: usize = 8;
/// For parts left over the lanes are made so many times finer, and for so many kinds all turns are
/// tried whatever the budget.
const FINER: f64 = 6.0;
const LEFT_OVER: usize = 40;
/// Openings of parts tried for one part at one turn.
const POCKETS: usize = 16;

/// One sheet that may be used: index into `World::grounds`, and which of the equal ones.
pub(super) type Available = (usize, usize);

/// Fills the sheets of `order`, opening the next when a part goes on none of those open.
pub(super) struct Filler<'w> {
    world: &'w Arc<World>,
    near: Vec<u32>,
    pub(super) arrangement: Arrangement,
    /// What is taken of each bin.
    lanes: Vec<Lanes>,
    /// Area still free on each bin, mm².
    free: Vec<f64>,
    /// Openings of the parts on each bin that nothing lies in yet: the largest circle's middle and
    /// radius.
    pockets: Vec<Vec<(Point, f64)>>,
    lane: f64,
    gap: f64,
    cell: f64,
    poses: u64,
}

/// A kind at one of its turns.
struct Stance {
    turn: usize,
    angle: f64,
    outline: Arc<Outline>,
}

/// What is known of the kind in hand on one bin.
#[derive(Default)]
struct Known {
    /// It found no place.
    full: bool,
    searches: Vec<Search>,
}

/// A stance on one bin: heights to look at, and how far along nothing is free at each.
struct Search {
    stance: usize,
    reach: Rect,
    /// Between the lowest and the highest place the outline begins with a lane and has this
    /// profile.
    even: Profile,
    /// First lane, height, the profile where it is not `even`, and how far the search has come.
    rows: Vec<(usize, f64, Option<Profile>, f64)>,
}

/// A place that may do.
struct Place {
    far: f64,
    x: f64,
    y: f64,
    stance: usize,
}

impl<'w> Filler<'w> {
    /// A filler with no sheet open yet.
    pub(super) fn new(world: &'w Arc<World>, items: &[usize]) -> Self {
        let n = items.len().max(1) as f64;
        let mean = items.iter().map(|&i| world.kind(i).diagonal).sum::<f64>() / n;
        let narrowest =
            items.iter().map(|&i| world.kind(i).least_width).fold(f64::INFINITY, f64::min)
                + world.clearance.between;
        Self {
            world,
            near: Vec::new(),
            arrangement: Arrangement::new(world),
            lanes: Vec::new(),
            free: Vec::new(),
            pockets: Vec::new(),
            lane: narrowest / LANES.0,
            gap: GAP * narrowest,
            cell: 0.7 * mean,
            poses: 0,
        }
    }

    /// Opens a bin; a roll gets a room longer than the parts could ever need.
    fn open(&mut self, (ground, copy): Available) -> usize {
        let world = self.world;
        let mut room = world.grounds[ground].room;
        if world.grounds[ground].roll {
            let all: f64 = world.kind_of.iter().map(|&k| world.kinds[k].diagonal).sum();
            room.x1 =
                room.x0 + (all + world.kind_of.len() as f64 * world.clearance.between).min(1e9);
        }
        let area: f64 = world.kind_of.iter().map(|&k| world.kinds[k].area).sum();
        let mut grid = room;
        grid.x1 = grid.x1.min(grid.x0 + 2.0 * area / room.height().max(1e-3) + 4.0 * self.cell);
        let bin = self.arrangement.open_bin(ground, copy, grid, self.cell);
        self.arrangement.bins[bin].room = room;
        let lanes = self.lanes_of(bin, 1.0);
        self.lanes.push(lanes);
        self.free.push(world.grounds[ground].area);
        self.pockets.push(Vec::new());
        bin
    }

    /// The lanes of a bin as it stands, so many times finer than usual.
    fn lanes_of(&self, bin: usize, finer: f64) -> Lanes {
        let Bin { room, ground, .. } = &self.arrangement.bins[bin];
        let height = self
            .lane
            .clamp((room.height() / LANES.2).max(1e-3), (room.height() / LANES.1).max(1e-3))
            / finer;
        let mut lanes = Lanes::new(room, 0.5 * self.world.clearance.between, height, self.gap);
        for patch in &self.world.grounds[*ground].forbidden {
            lanes.take(patch, 0.0, 0.0);
        }
        for (_, placed) in self.arrangement.on(bin) {
            lanes.take(&placed.outline, placed.pose.x, placed.pose.y);
        }
        lanes
    }

    /// Places all `items` (equal ones next to each other) on the sheets of `order`, to the end
    /// unless the caller breaks off. Returns what found no room.
    pub(super) fn fill(
        &mut self,
        items: &[usize],
        order: &[Available],
        budget: &mut Budget,
    ) -> Vec<usize> {
        let mut left: Vec<usize> = Vec::new();
        let mut unused: Vec<Available> = order.iter().rev().copied().collect();
        for alike in items.chunk_by(|&i, &j| self.world.kind_of[i] == self.world.kind_of[j]) {
            let kind = self.world.kind_of[alike[0]];
            let stances = self.stances(kind, &unused);
            let mut known: Vec<Known> = Vec::new();
            // A kind that found no place on an empty sheet finds none on its likes either.
            let mut useless = vec![false; self.world.grounds.len()];
            for (done, &item) in alike.iter().enumerate() {
                if budget.broken_off() {
                    left.extend(&alike[done..]);
                    break;
                }
                let mut placed =
                    (0..self.lanes.len()).any(|bin| self.place(item, bin, &stances, &mut known));
                while !placed && let Some(next) = unused.iter().rposition(|s| !useless[s.0]) {
                    // A sheet too small for this part may still serve a smaller one: it is opened
                    // and stays open.
                    let sheet = unused.remove(next);
                    let bin = self.open(sheet);
                    placed = self.place(item, bin, &stances, &mut known);
                    useless[sheet.0] = !placed;
                }
                budget.spend(std::mem::take(&mut self.poses));
                if !placed {
                    left.extend(&alike[done..]);
                    break;
                }
            }
        }
        self.with_all_turns(&left, budget)
    }

    /// Tries parts left over at all their turns and in finer lanes. Returns what still found no
    /// room.
    fn with_all_turns(&mut self, items: &[usize], budget: &mut Budget) -> Vec<usize> {
        let mut left = Vec::new();
        if !items.is_empty() && !budget.broken_off() {
            self.lanes = (0..self.lanes.len()).map(|bin| self.lanes_of(bin, FINER)).collect();
        }
        for (k, alike) in
            items.chunk_by(|&i, &j| self.world.kind_of[i] == self.world.kind_of[j]).enumerate()
        {
            let kind = &self.world.kinds[self.world.kind_of[alike[0]]];
            let stances: Vec<Stance> = kind
                .first_angles
                .iter()
                .chain(&kind.other_angles)
                .map(|&turn| Stance::new(kind, turn))
                .collect();
            let mut known = Vec::new();
            let mut done = 0;
            while done < alike.len()
                && !budget.broken_off()
                && (k < LEFT_OVER || !budget.stopped())
                && (0..self.lanes.len())
                    .any(|bin| self.place(alike[done], bin, &stances, &mut known))
            {
                done += 1;
            }
            budget.spend(std::mem::take(&mut self.poses));
            left.extend(&alike[done..]);
        }
        left
    }

    /// The turns of a kind worth trying: the first ones, and some of the others for grounds on
    /// which none of those goes.
    fn stances(&self, kind: usize, unused: &[Available]) -> Vec<Stance> {
        let kind = &self.world.kinds[kind];
        let mut stances: Vec<Stance> = Vec::new();
        for &turn in &kind.first_angles {
            let stance = Stance::new(kind, turn);
            // A rectangle turned half round is the same rectangle.
            if !stances.iter().any(|other| other.outline.lies_as(&stance.outline)) {
                stances.push(stance);
            }
        }
        let mut grounds: Vec<usize> = self
            .arrangement
            .bins
            .iter()
            .map(|bin| bin.ground)
            .chain(unused.iter().map(|s| s.0))
            .collect();
        grounds.sort_unstable();
        grounds.dedup();
        for ground in grounds {
            let room = &self.world.grounds[ground].room;
            if !stances.iter().any(|stance| stance.goes_in(room)) {
                let others = kind.other_angles.iter().map(|&turn| Stance::new(kind, turn));
                stances.extend(others.filter(|stance| stance.goes_in(room)).take(OTHER_TURNS));
            }
        }
        stances
    }

    /// Places one item on one bin if a place is found.
    fn place(
        &mut self,
        item: usize,
        bin: usize,
        stances: &[Stance],
        known: &mut Vec<Known>,
    ) -> bool {
        while known.len() <= bin {
            known.push(Known::default());
        }
        let known = &mut known[bin];
        let area = self.world.kind(item).area;
        if known.full || self.free[bin] < area {
            return false;
        }
        if known.searches.is_empty() {
            let searches = stances.iter().enumerate().filter_map(|(i, stance)| {
                let reach = self.arrangement.reach(bin, &stance.outline)?;
                Some(Search::new(i, &stance.outline, reach, &self.lanes[bin]))
            });
            known.searches = searches.collect();
        }
        let mut places = self.free_places(bin, stances, &mut known.searches);
        places.extend(self.in_pockets(bin, stances, &known.searches));
        match self.slid(item, bin, stances, places) {
            Some((stance, pose)) => {
                self.lanes[bin].take(&stances[stance].outline, pose.x, pose.y);
                self.arrangement.put(item, pose);
                self.free[bin] -= area;
                self.pockets[bin].retain(|(p, r)| (p[0] - pose.x).hypot(p[1] - pose.y) > *r);
                let sc = sine_cosine(pose.angle);
                let opened = self.world.kind(item).pockets.iter().map(|&(p, r)| {
                    let p = turned(p, sc);
                    ([p[0] + pose.x, p[1] + pose.y], r)
                });
                self.pockets[bin].extend(opened);
                true
            }
            None => {
                known.full = true;
                false
            }
        }
    }

    /// The places worth a slide, best first.
    fn free_places(
        &mut self,
        bin: usize,
        stances: &[Stance],
        searches: &mut [Search],
    ) -> Vec<Place> {
        let lanes = &self.lanes[bin];
        let mut places: Vec<Place> = Vec::new();
        let mut best = f64::INFINITY;
        for search in searches {
            let outline = &stances[search.stance].outline;
            let behind = BEHIND * outline.bounds.width();
            let last = search.rows.len() - 1;
            let reach = search.reach;
            for (k, (first, y, profile, from)) in search.rows.iter_mut().enumerate() {
                let profile = profile.as_ref().unwrap_or(&search.even);
                // The highest place may come to lie over the part below it, however far the lanes
                // say it is.
                let behind = if k == last { outline.bounds.width() } else { behind };
                let most = reach.x1.min(best + behind - outline.extent.x1);
                match lanes.leftmost(profile, *first, from.max(reach.x0), most) {
                    Ok(x) => {
                        *from = x;
                        let far = x + outline.extent.x1;
                        best = best.min(far);
                        places.push(Place { far, x, y: *y, stance: search.stance });
                    }
                    Err(x) => *from = x,
                }
            }
        }
        places.sort_by(|a, b| a.far.total_cmp(&b.far).then(a.y.total_cmp(&b.y)));
        let mut chosen: Vec<Place> = Vec::new();
        for place in places {
            // Of neighbours in one nook the first will do.
            let size = stances[place.stance].outline.bounds.height();
            if chosen.len() < SLID
                && !chosen
                    .iter()
                    .any(|c| c.stance == place.stance && (c.y - place.y).abs() < 0.3 * size)
            {
                chosen.push(place);
            }
        }
        chosen
    }

    /// The middles of openings of parts that could hold the largest circle in this one.
    fn in_pockets(&self, bin: usize, stances: &[Stance], searches: &[Search]) -> Vec<Place> {
        let mut places = Vec::new();
        for Search { stance, reach, .. } in searches {
            let outline = &stances[*stance].outline;
            let middle = middle(outline.bounds);
            let least = 0.98 * f64::from(outline.circles.r[0]);
            let spots = self.pockets[bin]
                .iter()
                .filter(|pocket| pocket.1 >= least)
                .map(|&(p, _)| (p[0] - middle[0], p[1] - middle[1]));
            let spots = spots.filter(|&(x, y)| {
                (reach.x0..=reach.x1).contains(&x) && (reach.y0..=reach.y1).contains(&y)
            });
            places.extend(spots.take(POCKETS).map(|(x, y)| Place {
                far: x + outline.extent.x1,
                x,
                y,
                stance: *stance,
            }));
        }
        places
    }

    /// Of these places the one that is best after its slide, as a pose.
    fn slid(
        &mut self,
        item: usize,
        bin: usize,
        stances: &[Stance],
        places: Vec<Place>,
    ) -> Option<(usize, Pose)> {
        let mut best: Option<(f64, usize, Pose)> = None;
        for Place { mut x, mut y, stance, .. } in places {
            let Stance { turn, angle, outline } = &stances[stance];
            let Some(reach) = self.arrangement.reach(bin, outline) else { continue };
            self.poses += 1;
            // The lanes say so, but for rounding.
            if !self.arrangement.clear_at(item, outline, (bin, x, y), &mut self.near) {
                continue;
            }
            let most = LONGEST_SLIDE * diagonal(outline.bounds);
            for _ in 0..SLIDES {
                let dx = slide(
                    &self.arrangement,
                    item,
                    outline,
                    (bin, x, y),
                    (x - reach.x0).min(most),
                    false,
                );
                x -= dx;
                let dy = slide(
                    &self.arrangement,
                    item,
                    outline,
                    (bin, x, y),
                    (y - reach.y0).min(most),
                    true,
                );
                y -= dy;
                if dx + dy < 1e-6 {
                    break;
                }
            }
            let far = x + outline.extent.x1;
            let better =
                best.as_ref().is_none_or(|b| far < b.0 - 1e-9 || (far < b.0 + 1e-9 && y < b.2.y));
            if better && self.arrangement.clear_at(item, outline, (bin, x, y), &mut self.near) {
                best = Some((far, stance, Pose { bin, turn: *turn, angle: *angle, x, y }));
            }
        }
        best.map(|(_, stance, pose)| (stance, pose))
    }
}

impl Stance {
    fn new(kind: &Kind, (turn, angle): (usize, f64)) -> Self {
        Self { turn, angle, outline: kind.stand_kept(turn, angle) }
    }

    fn goes_in(&self, room: &Rect) -> bool {
        let extent = &self.outline.extent;
        extent.width() <= room.width() + FIT && extent.height() <= room.height() + FIT
    }
}

impl Search {
    fn new(stance: usize, outline: &Outline, reach: Rect, lanes: &Lanes) -> Self {
        let row = |y: f64| {
            let (first, profile) = lanes.stand(outline, y);
            (first, y, Some(profile), f64::NEG_INFINITY)
        };
        let even = lanes
            .heights(outline, reach.y0, reach.y1)
            .map(|(first, y)| (first, y, None, f64::NEG_INFINITY));
        let mut rows = vec![row(reach.y0)];
        rows.extend(even);
        rows.push(row(reach.y1));
        Self { stance, reach, even: lanes.even(outline), rows }
    }
}
/// How far `outline` at (x, y) can slide toward smaller x (or y when `down`), up to `most`, before
/// it touches.
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
    let mut swept = outline.bounds + Vec2::new(x, y);
    if down {
        swept.y0 -= most;
    } else {
        swept.x0 -= most;
    }
    // The nearest first: most of the others then lie beyond the free run already.
    let start = outline.bounds + Vec2::new(x, y);
    let mut others: Vec<(f64, usize)> = Vec::new();
    arrangement.near(bin, &swept, |id| {
        if id != item
            && let Some(other) = arrangement.placed(id)
        {
            others.push((
                if down { start.y0 - other.frame.y1 } else { start.x0 - other.frame.x1 },
                id,
            ));
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
            first_contact(
                (&a.y0, &a.x0, &a.y1, &a.x1),
                (&b.y0, &b.x0, &b.y1, &b.x1),
                (dy, dx),
                1.0,
                free,
            )
        } else {
            first_contact(
                (&a.x0, &a.y0, &a.x1, &a.y1),
                (&b.x0, &b.y0, &b.x1, &b.y1),
                (dx, dy),
                -1.0,
                free,
            )
        };
        free = free.min((met - 2.0 * TOUCH).max(0.0));
    }
    free
}

type Sides<'a> = (&'a [f64], &'a [f64], &'a [f64], &'a [f64]);

/// How far `a`, moved by (du, dv), can go toward smaller u before an edge meets an edge of `b`; at
/// most `most`.
///
/// First contact of two polygons is at a corner of one and an edge of the other; so corners of each
/// are measured against edges of the other along u. Only edges of `a` that face the way it goes
/// count (`facing` is the sign of their run along v), and those of `b` that face it.
fn first_contact(a: Sides, b: Sides, (du, dv): (f64, f64), facing: f64, most: f64) -> f64 {
    let mut least = most;
    let mut span = (f64::INFINITY, f64::NEG_INFINITY);
    for i in 0..a.0.len() {
        span = (span.0.min(a.1[i] + dv), span.1.max(a.1[i] + dv));
    }
    let met: Vec<[f64; 4]> = (0..b.0.len())
        .filter(|&j| {
            (b.3[j] - b.1[j]) * facing < -1e-12
                && b.1[j].max(b.3[j]) >= span.0
                && b.1[j].min(b.3[j]) <= span.1
        })
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
