//! Which part stands where, with a grid for each sheet so that only neighbours are looked at.

use super::outline::Outline;
use super::pairs::{Against, Glance};

use super::world::{FIT, World};
use crate::geom::{Rect, Vec2};
use std::sync::Arc;

/// Most cells along one side of a sheet's grid.
const MOST_CELLS: f64 = 96.0;

/// Neighbours put off until the rest are summed up.
const UNSURE: usize = 12;

/// Where an item stands: the sheet, the angle (by index for fixed turns), and the move of the
/// part's centre, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pose {
    pub(super) bin: usize,
    pub(super) turn: usize,
    pub(super) angle: f64,
    pub(super) x: f64,
    pub(super) y: f64,
}

#[derive(Debug, Clone)]
pub(super) struct Placed {
    pub(super) pose: Pose,
    pub(super) outline: Arc<Outline>,
    pub(super) frame: Rect,
}

#[derive(Debug, Clone, Copy)]
struct Entry {
    frame: Rect,
    x: f64,
    y: f64,
    id: u32,
    /// The outline's number in the tables of pairs.
    stand: u32,
    column: u16,
    row: u16,
}

/// One sheet or roll in use.
#[derive(Debug, Clone)]
pub(super) struct Bin {
    /// Index into `World::grounds`.
    pub(super) ground: usize,
    /// Which of the equal sheets.
    pub(super) copy: usize,
    /// Where the boxes of bare parts may be now: the ground's room, or less while it is being
    /// closed up.
    pub(super) room: Rect,
    origin: (f64, f64),
    cell: f64,
    columns: usize,
    rows: usize,
    cells: Vec<Vec<Entry>>,
}

impl Bin {
    fn column(&self, x: f64) -> usize {
        cell_index((x - self.origin.0) / self.cell, self.columns)
    }

    fn row(&self, y: f64) -> usize {
        cell_index((y - self.origin.1) / self.cell, self.rows)
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to the grid; float casts saturate
fn cell_index(at: f64, count: usize) -> usize {
    (at.max(0.0) as usize).min(count - 1)
}

/// What stands about a place, gathered once for many trials there.
#[derive(Debug)]
pub(super) struct Vicinity<'w> {
    bin: usize,
    /// The number of the outline it was gathered for, and where that may be.
    stand: u32,
    within: Rect,
    list: Vec<Neighbour<'w>>,
}

#[derive(Debug, Clone, Copy)]
struct Neighbour<'w> {
    frame: Rect,
    against: Option<Against<'w>>,
    weight: f64,
    id: usize,
}

impl Vicinity<'_> {
    /// True when it holds all that an outline could meet at a pose.
    pub(super) fn covers(&self, outline: &Outline, pose: &Pose) -> bool {
        let w = &self.within;
        self.bin == pose.bin
            && self.stand == outline.stand
            && (w.x0..=w.x1).contains(&pose.x)
            && (w.y0..=w.y1).contains(&pose.y)
    }
}

/// The items on their sheets. Items are numbered as in the world; patches of forbidden ground
/// follow after them.
#[derive(Debug, Clone)]
pub(super) struct Arrangement {
    pub(super) world: Arc<World>,
    pub(super) bins: Vec<Bin>,
    placed: Vec<Option<Placed>>,
    /// For each item the others it overlaps and how badly.
    touching: Vec<Vec<(u32, f64)>>,
    near: Vec<u32>,
}

impl Arrangement {
    pub(super) fn new(world: &Arc<World>) -> Self {
        let n = world.kind_of.len();
        Self {
            world: Arc::clone(world),
            bins: Vec::new(),
            placed: vec![None; n],
            touching: vec![Vec::new(); n],
            near: Vec::new(),
        }
    }

    /// Number of items; ids from here on are forbidden ground.
    pub(super) fn items(&self) -> usize {
        self.touching.len()
    }

    /// Number of items and patches of forbidden ground.
    pub(super) fn ids(&self) -> usize {
        self.placed.len()
    }

    /// Puts another sheet into use; `cell` is the size of the grid's cells that suits the parts.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    pub(super) fn open_bin(&mut self, ground: usize, copy: usize, room: Rect, cell: f64) -> usize {
        let cell = cell.max(room.width() / MOST_CELLS).max(room.height() / MOST_CELLS).max(1e-3);
        let count = |length: f64| (length / cell).ceil().clamp(1.0, MOST_CELLS) as usize;
        let (columns, rows) = (count(room.width()), count(room.height()));
        self.bins.push(Bin {
            ground,
            copy,
            room,
            origin: (room.x0, room.y0),
            cell,
            columns,
            rows,
            cells: vec![Vec::new(); columns * rows],
        });
        let bin = self.bins.len() - 1;
        let world = Arc::clone(&self.world);
        for patch in &world.grounds[ground].forbidden {
            let id = self.placed.len();
            let pose = Pose { bin, turn: 0, angle: 0.0, x: 0.0, y: 0.0 };
            let placed = Placed { pose, outline: Arc::clone(patch), frame: patch.bounds };
            self.enter(id, &placed);
            self.placed.push(Some(placed));
        }
        bin
    }

    /// The items of one bin, in order.
    pub(super) fn on(&self, bin: usize) -> impl Iterator<Item = (usize, &Placed)> + '_ {
        self.placed[..self.items()]
            .iter()
            .enumerate()
            .filter_map(move |(i, p)| p.as_ref().filter(|p| p.pose.bin == bin).map(|p| (i, p)))
    }

    pub(super) fn placed(&self, id: usize) -> Option<&Placed> {
        self.placed[id].as_ref()
    }

    pub(super) fn pose(&self, item: usize) -> Option<Pose> {
        self.placed[item].as_ref().map(|p| p.pose)
    }

    /// The poses of all items, to come back to.
    pub(super) fn snapshot(&self) -> Vec<Option<Pose>> {
        (0..self.items()).map(|i| self.pose(i)).collect()
    }

    #[allow(clippy::cast_possible_truncation)] // columns, rows and ids are small
    fn enter(&mut self, id: usize, placed: &Placed) {
        let bin = &mut self.bins[placed.pose.bin];
        let f = placed.frame;
        let (c0, c1, r0, r1) = (bin.column(f.x0), bin.column(f.x1), bin.row(f.y0), bin.row(f.y1));
        let Pose { x, y, .. } = placed.pose;
        let stand = placed.outline.stand;
        let entry =
            Entry { frame: f, x, y, id: id as u32, stand, column: c0 as u16, row: r0 as u16 };
        for r in r0..=r1 {
            for c in c0..=c1 {
                bin.cells[r * bin.columns + c].push(entry);
            }
        }
    }

    fn leave(&mut self, id: usize) {
        let Some(old) = self.placed[id].take() else { return };
        let bin = &mut self.bins[old.pose.bin];
        let f = old.frame;
        let (c0, c1, r0, r1) = (bin.column(f.x0), bin.column(f.x1), bin.row(f.y0), bin.row(f.y1));
        for r in r0..=r1 {
            for c in c0..=c1 {
                let cell = &mut bin.cells[r * bin.columns + c];
                if let Some(at) = cell.iter().position(|e| e.id as usize == id) {
                    cell.swap_remove(at);
                }
            }
        }
    }

    /// Stands `item` at `pose` without looking for overlaps.
    pub(super) fn put(&mut self, item: usize, pose: Pose) {
        self.leave(item);
        let outline = self.world.kind(item).stand_kept(pose.turn, pose.angle);
        let placed = Placed { pose, frame: outline.bounds + Vec2::new(pose.x, pose.y), outline };
        self.enter(item, &placed);
        self.placed[item] = Some(placed);
    }

    /// Gives items new poses and finds anew what they overlap.
    pub(super) fn shift(&mut self, moves: &[(usize, Pose)]) {
        for &(item, pose) in moves {
            self.put(item, pose);
        }
        for &(item, _) in moves {
            self.look(item);
        }
    }

    /// Takes `item` off its sheet.
    pub(super) fn take(&mut self, item: usize) {
        self.forget(item);
        self.leave(item);
    }

    /// Calls `each` with the id of every entry whose box meets `frame`, once, until it returns
    /// false.
    pub(super) fn near(&self, bin: usize, frame: &Rect, mut each: impl FnMut(usize) -> bool) {
        self.entries(bin, frame, |e| each(e.id as usize));
    }

    fn entries(&self, bin: usize, frame: &Rect, mut each: impl FnMut(&Entry) -> bool) {
        let bin = &self.bins[bin];
        let (c0, c1, r0, r1) =
            (bin.column(frame.x0), bin.column(frame.x1), bin.row(frame.y0), bin.row(frame.y1));
        for r in r0..=r1 {
            for c in c0..=c1 {
                for e in &bin.cells[r * bin.columns + c] {
                    // Entries spanning several cells count in the first cell that both boxes share.
                    if e.frame.overlaps(*frame)
                        && c0.max(usize::from(e.column)) == c
                        && r0.max(usize::from(e.row)) == r
                        && !each(e)
                    {
                        return;
                    }
                }
            }
        }
    }

    /// Weighted overlap of an item with this outline at (x, y), two ids left out of account;
    /// infinity once it is known to pass `limit`.
    #[allow(clippy::too_many_arguments)] // one place in the plane, one limit, one scratch
    pub(super) fn loss_at(
        &self,
        left_out: [usize; 2],
        outline: &Outline,
        (bin, x, y): (usize, f64, f64),
        limit: f64,
        near: &mut Vec<u32>,
        weight: impl Fn(usize) -> f64,
    ) -> f64 {
        let frame = outline.bounds + Vec2::new(x, y);
        let pairs = &self.world.pairs;
        let mut sum = 0.0;
        // What takes a closer look comes last: often the limit is passed before.
        let mut unsure = [(0u32, 0.0f64); UNSURE];
        let mut count = 0;
        self.entries(bin, &frame, |e| {
            let id = e.id as usize;
            if !left_out.contains(&id) {
                match pairs.glance(outline.stand, e.stand, (x - e.x, y - e.y)) {
                    Glance::Clear => {}
                    Glance::Bad(s) => sum += weight(id) * s,
                    Glance::Unsure if count < UNSURE => {
                        unsure[count] = (e.id, weight(id));
                        count += 1;
                    }
                    Glance::Unsure => {
                        sum += self.closer(outline, (x, y), id, weight(id), limit - sum, near);
                    }
                }
            }
            sum <= limit
        });
        for &(id, w) in &unsure[..count] {
            if sum > limit {
                break;
            }
            sum += self.closer(outline, (x, y), id as usize, w, limit - sum, near);
        }
        if sum <= limit { sum } else { f64::INFINITY }
    }

    /// What an item with this outline could meet as far as `margin` from `pose`; outlines without a
    /// number of their own at any angle.
    pub(super) fn vicinity<'w>(
        &self,
        world: &'w World,
        (item, outline): (usize, &Outline),
        pose: &Pose,
        margin: f64,
        weight: impl Fn(usize) -> f64,
    ) -> Vicinity<'w> {
        let within =
            Rect { x0: pose.x, y0: pose.y, x1: pose.x, y1: pose.y }.inflate(margin, margin);
        let r = outline.farthest;
        let bounds = if outline.stand == u32::MAX {
            Rect { x0: -r, y0: -r, x1: r, y1: r }
        } else {
            outline.bounds
        };
        let mut list = Vec::with_capacity(16);
        self.entries(
            pose.bin,
            &(bounds + Vec2::new(pose.x, pose.y)).inflate(margin, margin),
            |e| {
                let id = e.id as usize;
                if id != item {
                    let against = world.pairs.against(outline.stand, e.stand, (e.x, e.y));
                    list.push(Neighbour { frame: e.frame, against, weight: weight(id), id });
                }
                true
            },
        );
        Vicinity { bin: pose.bin, stand: outline.stand, within, list }
    }

    /// As [`Self::loss_at`], at a place that the vicinity covers.
    pub(super) fn loss_in(
        &self,
        vicinity: &mut Vicinity,
        outline: &Outline,
        (x, y): (f64, f64),
        limit: f64,
        near: &mut Vec<u32>,
    ) -> f64 {
        let frame = outline.bounds + Vec2::new(x, y);
        let mut sum = 0.0;
        let mut unsure = [0; UNSURE];
        let mut count = 0;
        for (k, n) in vicinity.list.iter().enumerate() {
            let glance = match &n.against {
                Some(against) => against.glance(x, y),
                None if n.frame.overlaps(frame) => Glance::Unsure,
                None => Glance::Clear,
            };
            match glance {
                Glance::Clear => {}
                Glance::Bad(s) => sum += n.weight * s,
                Glance::Unsure if count < UNSURE => {
                    unsure[count] = k;
                    count += 1;
                }
                Glance::Unsure => sum += self.closer_in(n, outline, (x, y), limit - sum, near),
            }
            if sum > limit {
                // What is too much here most likely is so at the next place, too: it is looked at
                // sooner then.
                vicinity.list.swap(k, k / 2);
                return f64::INFINITY;
            }
        }
        for &k in &unsure[..count] {
            sum += self.closer_in(&vicinity.list[k], outline, (x, y), limit - sum, near);
            if sum > limit {
                return f64::INFINITY;
            }
        }
        sum
    }

    fn closer_in(
        &self,
        n: &Neighbour,
        outline: &Outline,
        (x, y): (f64, f64),
        limit: f64,
        near: &mut Vec<u32>,
    ) -> f64 {
        match (&n.against, &self.placed[n.id]) {
            (Some(against), Some(other)) => {
                n.weight
                    * against.overlap(outline, &other.outline, (x - other.pose.x, y - other.pose.y))
            }
            _ => self.closer(outline, (x, y), n.id, n.weight, limit, near),
        }
    }

    fn closer(
        &self,
        outline: &Outline,
        (x, y): (f64, f64),
        id: usize,
        w: f64,
        limit: f64,
        near: &mut Vec<u32>,
    ) -> f64 {
        self.placed[id].as_ref().map_or(0.0, |other| {
            let d = (x - other.pose.x, y - other.pose.y);
            w * self.world.pairs.overlap(outline, &other.outline, d, limit / w, near)
        })
    }

    /// True when nothing overlaps `outline` at (x, y).
    pub(super) fn clear_at(
        &self,
        item: usize,
        outline: &Outline,
        at: (usize, f64, f64),
        near: &mut Vec<u32>,
    ) -> bool {
        self.loss_at([item; 2], outline, at, 0.0, near, |_| 1.0) == 0.0
    }

    fn forget(&mut self, item: usize) {
        let list = std::mem::take(&mut self.touching[item]);
        for &(other, _) in &list {
            if (other as usize) < self.items() {
                self.touching[other as usize].retain(|e| e.0 as usize != item);
            }
        }
    }

    /// Finds anew what `item` overlaps.
    pub(super) fn look(&mut self, item: usize) {
        self.forget(item);
        let Some(me) = self.placed[item].clone() else { return };
        let mut scratch = std::mem::take(&mut self.near);
        let mut found: Vec<(u32, f64)> = Vec::new();
        self.near(me.pose.bin, &me.frame, |id| {
            if id != item
                && let Some(other) = &self.placed[id]
            {
                let (dx, dy) = (me.pose.x - other.pose.x, me.pose.y - other.pose.y);
                // Always the lower id first, so that the figure is the same from either side.
                let s = if item < id {
                    self.world.pairs.overlap(
                        &me.outline,
                        &other.outline,
                        (dx, dy),
                        f64::INFINITY,
                        &mut scratch,
                    )
                } else {
                    self.world.pairs.overlap(
                        &other.outline,
                        &me.outline,
                        (-dx, -dy),
                        f64::INFINITY,
                        &mut scratch,
                    )
                };
                if s > 0.0 {
                    #[allow(clippy::cast_possible_truncation)]
                    found.push((id as u32, s));
                }
            }
            true
        });
        found.sort_by_key(|e| e.0);
        for &(other, s) in &found {
            if (other as usize) < self.items() {
                #[allow(clippy::cast_possible_truncation)]
                self.touching[other as usize].push((item as u32, s));
            }
        }
        self.touching[item] = found;
        self.near = scratch;
    }

    /// What `item` overlaps and how badly.
    pub(super) fn overlaps(&self, item: usize) -> &[(u32, f64)] {
        &self.touching[item]
    }

    /// Puts all items back to a snapshot and finds the overlaps anew.
    pub(super) fn restore(&mut self, poses: &[Option<Pose>]) {
        let mut moves = Vec::new();
        for (item, pose) in poses.iter().enumerate() {
            if self.pose(item) != *pose {
                match pose {
                    Some(pose) => moves.push((item, *pose)),
                    None => self.take(item),
                }
            }
        }
        self.shift(&moves);
    }

    /// Where the centre of an outline may be on a bin so that its bare box is within the room: None
    /// when it is too large.
    pub(super) fn reach(&self, bin: usize, outline: &Outline) -> Option<Rect> {
        let (room, e) = (&self.bins[bin].room, &outline.extent);
        let f =
            Rect { x0: room.x0 - e.x0, y0: room.y0 - e.y0, x1: room.x1 - e.x1, y1: room.y1 - e.y1 };
        if f.x1 < f.x0 - FIT || f.y1 < f.y0 - FIT {
            return None;
        }
        // An exact fit may come out a rounding error short.
        Some(Rect { x1: f.x1.max(f.x0), y1: f.y1.max(f.y0), ..f })
    }

    /// Moves a pose so that the outline is within the room; false when it is too large.
    pub(super) fn bring_in(&self, outline: &Outline, pose: &mut Pose) -> bool {
        let Some(reach) = self.reach(pose.bin, outline) else { return false };
        (pose.x, pose.y) = (pose.x.clamp(reach.x0, reach.x1), pose.y.clamp(reach.y0, reach.y1));
        true
    }

    /// How far along x the parts on `bin` reach, mm; the near end of its room when it is empty.
    pub(super) fn length_used(&self, bin: usize) -> f64 {
        self.on(bin)
            .map(|(_, p)| p.pose.x + p.outline.extent.x1)
            .fold(self.bins[bin].room.x0, f64::max)
    }
}
