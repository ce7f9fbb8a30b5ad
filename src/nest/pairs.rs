//! What two outlines at listed angles do to each other at any offset, looked up instead of worked
//! out.
//!
//! Parts at listed angles only ever shift against each other, so all there is to know of a pair is
//! a function of the offset (dx, dy) of the first against the second. A table says whether there is
//! an overlap: it cuts the plane of offsets into cells and says of each that the outlines are clear
//! of each other all over it, that they collide all over it, or which few pairs of edges decide.
//! That answer is the plain test's, only sooner. Two edges meet at just those offsets that lie in a
//! parallelogram, the Minkowski sum of the one and the other mirrored: cells clear of all
//! parallelograms, or wholly in one, are settled.
//!
//! How bad an overlap is only has to say which way is out, so it is kept at the nodes of a coarse
//! mesh. It is the geometric mean of two measures, each a length times a size: how far the one part
//! has to move until they are clear, the penetration depth of Imamichi, Yagiura and Nagamochi 2009
//! (Discrete Optimization 6, 345-361), and the overlap of the inscribed circles ([`severity`]),
//! which grows with the length that overlaps as well.

use super::outline::{Outline, eased, measures, nested, segments_share, severity};
use crate::geom::Rect;
use std::sync::atomic::{AtomicU32, AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

/// Most outlines at listed angles for which pairs are tabled.
const MOST_STANDS: usize = 200;
/// Bytes of tables after which no more are made.
const MOST_BYTES: usize = 200_000_000;
/// Cells along either side of a table, a power of two.
const CELLS: usize = 64;
/// Meshes along either side of a table's severity, and cells to a mesh.
const MESHES: usize = 16;
const STEP: usize = CELLS / MESHES;
/// Samples along either side of a table, from which the depths at the nodes are measured.
const SAMPLES: usize = 2 * CELLS;

/// Codes of cells.
const CLEAR: u64 = 0;
const HIT: u64 = 1;
const ASK: u64 = 2;
/// The bit of `ASK`, and of it alone, in every place of a word.
const ASKS: u64 = 0xaaaa_aaaa_aaaa_aaaa;
/// Cells to a word of codes.
const WORD: usize = 32;

/// All pairs of outlines at listed angles, tabled once they are asked for often.
#[derive(Debug, Default)]
pub(super) struct Pairs {
    stands: Vec<Arc<Outline>>,
    /// The pairs of each outline with itself and those before it.
    list: Vec<Pair>,
    /// Memory the tables take.
    bytes: AtomicUsize,
}

#[derive(Debug, Default)]
struct Pair {
    table: OnceLock<Box<Table>>,
    asked: AtomicU32,
}

/// What can be said of two outlines without looking at their edges.
#[derive(Debug, Clone, Copy)]
pub(super) enum Glance {
    /// They are clear of each other.
    Clear,
    /// They overlap, and this badly.
    Bad(f64),
    /// The edges have to be looked at.
    Unsure,
}

impl Pairs {
    /// Room for the pairs of these outlines, which are numbered in this order; none for more than
    /// is sensible.
    pub(super) fn new(mut stands: Vec<Arc<Outline>>) -> Self {
        if stands.len() > MOST_STANDS {
            stands.clear();
        }
        let count = stands.len() * (stands.len() + 1) / 2;
        Self {
            stands,
            list: std::iter::repeat_with(Pair::default).take(count).collect(),
            bytes: AtomicUsize::new(0),
        }
    }

    /// Makes the tables of pairs that were asked for often. To be called between passes only: sums
    /// of overlaps come out otherwise with a table than without, so all workers have to have the
    /// same ones.
    pub(super) fn catch_up(&self) {
        for (t, b) in self.stands.iter().enumerate() {
            for (s, a) in self.stands[..=t].iter().enumerate() {
                let pair = self.of(s, t);
                if pair.worth_it(a, b) && self.bytes.load(Ordering::Relaxed) < MOST_BYTES {
                    let table = pair.table.get_or_init(|| Box::new(Table::new(a, b)));
                    self.bytes.fetch_add(table.bytes(), Ordering::Relaxed);
                }
            }
        }
    }

    /// How badly `a`, moved by (dx, dy), overlaps `b`: 0 when they are clear, else a positive
    /// length times a size, mm². Infinity may be returned for what is known to pass `limit`.
    pub(super) fn overlap(
        &self,
        a: &Outline,
        b: &Outline,
        (dx, dy): (f64, f64),
        limit: f64,
        near: &mut Vec<u32>,
    ) -> f64 {
        let (s, t) = (a.stand as usize, b.stand as usize);
        if s.max(t) >= self.stands.len() {
            return super::outline::overlap(a, b, dx, dy, limit, near);
        }
        let (pair, a, b, dx, dy) =
            if s <= t { (self.of(s, t), a, b, dx, dy) } else { (self.of(t, s), b, a, -dx, -dy) };
        match pair.table.get() {
            Some(table) => table.overlap(a, b, dx, dy),
            None => {
                pair.asked.fetch_add(1, Ordering::Relaxed);
                super::outline::overlap(a, b, dx, dy, limit, near)
            }
        }
    }

    /// What can be said at a glance of the outline numbered `s`, moved by (dx, dy), against that
    /// numbered `t`.
    #[inline]
    pub(super) fn glance(&self, s: u32, t: u32, (dx, dy): (f64, f64)) -> Glance {
        let (s, t) = (s as usize, t as usize);
        if s.max(t) >= self.stands.len() {
            return Glance::Unsure;
        }
        let (pair, dx, dy) =
            if s <= t { (self.of(s, t), dx, dy) } else { (self.of(t, s), -dx, -dy) };
        pair.table.get().map_or(Glance::Unsure, |table| {
            table.at(dx, dy).map_or(Glance::Clear, |at| table.glance(at))
        })
    }

    /// How an outline stands to another that stays at `at`, for many trials near each other; None
    /// where there is no table yet.
    pub(super) fn against(&self, s: u32, t: u32, at: (f64, f64)) -> Option<Against<'_>> {
        let (s, t) = (s as usize, t as usize);
        if s.max(t) >= self.stands.len() {
            return None;
        }
        let (pair, sign) = if s <= t { (self.of(s, t), 1.0) } else { (self.of(t, s), -1.0) };
        let table = pair.table.get()?;
        let per = (sign * table.scale.0, sign * table.scale.1);
        let from = (
            -at.0 * per.0 - table.origin.0 * table.scale.0,
            -at.1 * per.1 - table.origin.1 * table.scale.1,
        );
        Some(Against { table, per, from, first: sign > 0.0 })
    }

    #[inline]
    fn of(&self, s: usize, t: usize) -> &Pair {
        &self.list[t * (t + 1) / 2 + s]
    }
}

/// One outline against another that stays where it is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Against<'t> {
    table: &'t Table,
    /// Cells to the millimetre of the first outline's place, and where its zero lies.
    per: (f64, f64),
    from: (f64, f64),
    /// The outline that moves is the first of the table.
    first: bool,
}

impl Against<'_> {
    /// What can be said at a glance with the first outline at (x, y).
    #[inline]
    pub(super) fn glance(&self, x: f64, y: f64) -> Glance {
        let at = (x * self.per.0 + self.from.0, y * self.per.1 + self.from.1);
        if Table::covers(at) { self.table.glance(at) } else { Glance::Clear }
    }

    /// How badly they overlap when the one is (dx, dy) from the other.
    #[inline]
    pub(super) fn overlap(&self, own: &Outline, other: &Outline, (dx, dy): (f64, f64)) -> f64 {
        if self.first {
            self.table.overlap(own, other, dx, dy)
        } else {
            self.table.overlap(other, own, -dx, -dy)
        }
    }
}

impl Pair {
    /// True when the plain tests so far took about as long as a table would have.
    fn worth_it(&self, a: &Outline, b: &Outline) -> bool {
        let asked = self.asked.load(Ordering::Relaxed) as usize;
        asked > 1000 + 100 * a.x0.len().min(b.x0.len()) && self.table.get().is_none()
    }
}

/// The offsets at which the boxes of two outlines meet.
fn offsets(a: &Outline, b: &Outline) -> Rect {
    let (a, b) = (&a.bounds, &b.bounds);
    Rect { x0: b.x0 - a.x1, y0: b.y0 - a.y1, x1: b.x1 - a.x0, y1: b.y1 - a.y0 }
}

/// Everything about a pair. It is read at random, so what is read most is kept small and together.
#[derive(Debug)]
struct Table {
    origin: (f64, f64),
    /// Cells to the millimetre.
    scale: (f64, f64),
    /// For each cell two bits, `CLEAR`, `HIT` or `ASK`.
    codes: [u64; CELLS * CELLS / WORD],
    /// What is known at the nodes of a mesh, linear in between.
    nodes: [[Node; MESHES + 1]; MESHES + 1],
    /// The depth from which on it counts in full, mm, and the size it counts with.
    full_from: f32,
    size: f32,
    /// How many cells to ask about come before each word of codes: each has a list, in this order.
    ranks: [u16; CELLS * CELLS / WORD],
    /// Where each list begins in `edges`; one more entry than lists. The top bit asks for the test
    /// whether one outline lies wholly in the other.
    starts: Vec<u32>,
    /// Pairs of edges: of the first outline in the high half, of the second in the low.
    edges: Vec<u32>,
}

/// How badly two outlines overlap at an offset.
#[derive(Debug, Clone, Copy, Default)]
struct Node {
    /// The severity of their circles, mm².
    circles: f32,
    /// How far it is to the nearest offset at which they are clear, mm; where they are, how far to
    /// one where they are not, negative.
    depth: f32,
}

impl Node {
    /// The share `t` of the way to another.
    #[inline]
    fn towards(self, other: Self, t: f32) -> Self {
        let Self { circles, depth } = self;
        Self {
            circles: circles + t * (other.circles - circles),
            depth: depth + t * (other.depth - depth),
        }
    }
}

const MAY_NEST: u32 = 1 << 31;

impl Table {
    fn new(a: &Outline, b: &Outline) -> Self {
        let f = offsets(a, b);
        let mut builder = Builder {
            a,
            b,
            frame: f,
            codes: [0; CELLS * CELLS / WORD],
            lists: Vec::new(),
            margin: 1e-9 * (1.0 + f.width() + f.height()),
        };
        let mut all = Vec::with_capacity(a.x0.len() * b.x0.len());
        for i in 0..a.x0.len() {
            for j in 0..b.x0.len() {
                #[allow(clippy::cast_possible_truncation)]
                // outlines of very many edges are not tabled
                all.push((i as u32) << 16 | j as u32);
            }
        }
        builder.settle((0, 0), CELLS, &all);
        let Builder { codes, mut lists, .. } = builder;
        lists.sort_unstable_by_key(|list| list.0);
        let (mut starts, mut edges, mut ranks) =
            (Vec::new(), Vec::new(), [0; CELLS * CELLS / WORD]);
        #[allow(clippy::cast_possible_truncation)]
        // at most CELLS² lists, and far fewer than 2^31 pairs
        {
            for (_, nest, pairs) in &lists {
                starts.push(edges.len() as u32 | nest);
                edges.extend(pairs);
            }
            starts.push(edges.len() as u32);
            for (word, rank) in ranks.iter_mut().enumerate() {
                *rank = lists.partition_point(|list| list.0 < word * WORD) as u16;
            }
        }
        let scale = (CELLS as f64 / f.width(), CELLS as f64 / f.height());
        let (full_from, size) = measures(a, b);
        let nodes = [[Node::default(); MESHES + 1]; MESHES + 1];
        #[allow(clippy::cast_possible_truncation)] // single precision will do
        let mut table = Self {
            origin: (f.x0, f.y0),
            scale,
            codes,
            ranks,
            nodes,
            full_from,
            size: size as f32,
            starts,
            edges,
        };
        table.nodes = table.measured(a, b);
        table
    }

    /// Works out the nodes.
    #[allow(clippy::cast_possible_truncation)] // single precision will do
    fn measured(&self, a: &Outline, b: &Outline) -> [[Node; MESHES + 1]; MESHES + 1] {
        let rim = self.rim(a, b);
        // Outlines like hairs may slip through between the samples.
        let farthest =
            (CELLS as f64 / self.scale.0).powi(2) + (CELLS as f64 / self.scale.1).powi(2);
        let mut nodes = self.nodes;
        for (j, row) in nodes.iter_mut().enumerate() {
            for (i, node) in row.iter_mut().enumerate() {
                let (u, v) = ((i * STEP) as f64, (j * STEP) as f64);
                let (x, y) = self.offset((u, v));
                let away = rim.iter().map(|r| {
                    let (ex, ey) = ((r.0 - u) / self.scale.0, (r.1 - v) / self.scale.1);
                    ex * ex + ey * ey
                });
                let away = away.fold(farthest, f64::min).sqrt();
                let inside = i > 0 && j > 0 && self.collide(a, b, (u, v), x, y);
                node.circles = severity(a, b, x, y, f64::INFINITY) as f32;
                node.depth = if inside { away } else { -away } as f32;
            }
        }
        nodes
    }

    /// Places between samples of which one is clear and the other is not, counted in cells.
    fn rim(&self, a: &Outline, b: &Outline) -> Vec<(f64, f64)> {
        let step = CELLS as f64 / SAMPLES as f64;
        let middle = |i: usize, j: usize| ((i as f64 + 0.5) * step, (j as f64 + 0.5) * step);
        let mut rim = Vec::new();
        // The samples of the row before; nothing collides beyond the table.
        let mut below = [false; SAMPLES];
        for j in 0..=SAMPLES {
            let mut left = false;
            for (i, below) in below.iter_mut().enumerate() {
                let at = middle(i, j);
                let (x, y) = self.offset(at);
                let here = j < SAMPLES && self.collide(a, b, at, x, y);
                if here != left {
                    rim.push((at.0 - 0.5 * step, at.1));
                }
                if here != *below {
                    rim.push((at.0, at.1 - 0.5 * step));
                }
                (left, *below) = (here, here);
            }
            if left {
                rim.push((CELLS as f64, (j as f64 + 0.5) * step));
            }
        }
        rim
    }

    /// About how much memory it takes.
    fn bytes(&self) -> usize {
        size_of::<Self>() + 4 * (self.starts.len() + self.edges.len())
    }

    /// An offset counted in cells; None beyond the table.
    #[inline]
    fn at(&self, dx: f64, dy: f64) -> Option<(f64, f64)> {
        let at = ((dx - self.origin.0) * self.scale.0, (dy - self.origin.1) * self.scale.1);
        Self::covers(at).then_some(at)
    }

    /// The offset that lies at a place counted in cells.
    fn offset(&self, (u, v): (f64, f64)) -> (f64, f64) {
        (self.origin.0 + u / self.scale.0, self.origin.1 + v / self.scale.1)
    }

    #[inline]
    fn covers((x, y): (f64, f64)) -> bool {
        let most = CELLS as f64;
        x >= 0.0 && y >= 0.0 && x < most && y < most
    }

    #[inline]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked by `at`
    fn code((x, y): (f64, f64), codes: &[u64; CELLS * CELLS / WORD]) -> (usize, u64) {
        let cell = y as usize % CELLS * CELLS + x as usize % CELLS;
        (cell, codes[cell / WORD] >> (2 * (cell % WORD)) & 3)
    }

    #[inline]
    fn glance(&self, at: (f64, f64)) -> Glance {
        match Self::code(at, &self.codes).1 {
            CLEAR => Glance::Clear,
            HIT => Glance::Bad(self.severity(at)),
            _ => Glance::Unsure,
        }
    }

    #[inline]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked by `at`
    fn severity(&self, (x, y): (f64, f64)) -> f64 {
        let (i, j) = (x as usize / STEP % MESHES, y as usize / STEP % MESHES);
        let (u, v) = ((x / STEP as f64) as f32 - i as f32, (y / STEP as f64) as f32 - j as f32);
        let (low, high) = (&self.nodes[j], &self.nodes[j + 1]);
        let node = low[i].towards(low[i + 1], u).towards(high[i].towards(high[i + 1], u), v);
        f64::from(
            (eased(node.depth, self.full_from) * self.size * node.circles)
                .sqrt()
                .max(f32::MIN_POSITIVE),
        )
    }

    /// Number of the list of a cell to ask about.
    #[inline]
    fn list(&self, cell: usize) -> usize {
        let before = self.codes[cell / WORD] & ASKS & ((1 << (2 * (cell % WORD))) - 1);
        usize::from(self.ranks[cell / WORD]) + before.count_ones() as usize
    }

    fn overlap(&self, a: &Outline, b: &Outline, dx: f64, dy: f64) -> f64 {
        self.at(dx, dy)
            .filter(|&at| self.collide(a, b, at, dx, dy))
            .map_or(0.0, |at| self.severity(at))
    }

    /// True when the outlines overlap at (dx, dy), which is `at` counted in cells.
    #[inline]
    fn collide(&self, a: &Outline, b: &Outline, at: (f64, f64), dx: f64, dy: f64) -> bool {
        match Self::code(at, &self.codes) {
            (_, CLEAR) => false,
            (_, HIT) => true,
            (cell, _) => {
                let list = self.list(cell);
                let (from, to) = (self.starts[list], self.starts[list + 1] & !MAY_NEST);
                let pairs = &self.edges[(from & !MAY_NEST) as usize..to as usize];
                pairs
                    .iter()
                    .any(|p| edges_share(a, b, (p >> 16) as usize, (p & 0xffff) as usize, dx, dy))
                    || (from & MAY_NEST != 0 && nested(a, b, dx, dy))
            }
        }
    }
}

/// True when edge `i` of `a`, moved, and edge `j` of `b` share a point.
#[inline]
fn edges_share(a: &Outline, b: &Outline, i: usize, j: usize, dx: f64, dy: f64) -> bool {
    let ([px, py, qx, qy], [rx, ry, sx, sy]) = (a.quads[i], b.quads[j]);
    segments_share((px + dx, py + dy, qx + dx, qy + dy), (rx, ry, sx, sy))
}

struct Builder<'b> {
    a: &'b Outline,
    b: &'b Outline,
    frame: Rect,
    codes: [u64; CELLS * CELLS / WORD],
    /// Cells to ask about, whether to test for nesting, and the pairs of edges.
    lists: Vec<(usize, u32, Vec<u32>)>,
    margin: f64,
}

/// How a cell lies to the parallelogram of two edges.
#[derive(PartialEq)]
enum Lies {
    Clear,
    Across(f64),
    Within,
}

impl Builder<'_> {
    /// Settles the block of `size` cells at `at`, or cuts it in four.
    fn settle(&mut self, at: (usize, usize), size: usize, candidates: &[u32]) {
        let (wx, wy) = (self.frame.width() / CELLS as f64, self.frame.height() / CELLS as f64);
        let half = (0.5 * size as f64 * wx + self.margin, 0.5 * size as f64 * wy + self.margin);
        let middle = (
            self.frame.x0 + (at.0 as f64 + 0.5 * size as f64) * wx,
            self.frame.y0 + (at.1 as f64 + 0.5 * size as f64) * wy,
        );
        let mut kept: Vec<(f64, u32)> = Vec::new();
        if self.circles_overlap(middle, half) {
            return self.fill(at, size, HIT);
        }
        for &c in candidates {
            match self.lies(c, middle, half) {
                Lies::Clear => {}
                Lies::Across(depth) => kept.push((depth, c)),
                Lies::Within => return self.fill(at, size, HIT),
            }
        }
        if kept.is_empty() {
            let code = if nested(self.a, self.b, middle.0, middle.1) { HIT } else { CLEAR };
            return self.fill(at, size, code);
        }
        if size > 1 {
            let kept: Vec<u32> = kept.into_iter().map(|k| k.1).collect();
            let h = size / 2;
            for corner in [(at.0, at.1), (at.0 + h, at.1), (at.0, at.1 + h), (at.0 + h, at.1 + h)] {
                self.settle(corner, h, &kept);
            }
            return;
        }
        // The pair that covers most of the cell comes first: it is the likeliest to decide.
        kept.sort_by(|p, q| q.0.total_cmp(&p.0).then(p.1.cmp(&q.1)));
        let nest = match (self.corner_in(true, middle, half), self.corner_in(false, middle, half)) {
            (Some(true), _) | (_, Some(true)) => return self.fill(at, size, HIT),
            (Some(false), Some(false)) => 0,
            _ => MAY_NEST,
        };
        self.lists.push((at.1 * CELLS + at.0, nest, kept.iter().map(|k| k.1).collect()));
        self.fill(at, size, ASK);
    }

    fn fill(&mut self, at: (usize, usize), size: usize, code: u64) {
        for row in at.1..at.1 + size {
            for cell in row * CELLS + at.0..row * CELLS + at.0 + size {
                self.codes[cell / WORD] |= code << (2 * (cell % WORD));
            }
        }
    }

    fn lies(&self, pair: u32, middle: (f64, f64), half: (f64, f64)) -> Lies {
        let (i, j) = ((pair >> 16) as usize, (pair & 0xffff) as usize);
        let (a, b) = (self.a, self.b);
        let u = (a.x1[i] - a.x0[i], a.y1[i] - a.y0[i]);
        let v = (b.x1[j] - b.x0[j], b.y1[j] - b.y0[j]);
        let m = (
            middle.0 - 0.5 * (b.x0[j] + b.x1[j] - a.x0[i] - a.x1[i]),
            middle.1 - 0.5 * (b.y0[j] + b.y1[j] - a.y0[i] - a.y1[i]),
        );
        if m.0.abs() > half.0 + 0.5 * (u.0.abs() + v.0.abs())
            || m.1.abs() > half.1 + 0.5 * (u.1.abs() + v.1.abs())
        {
            return Lies::Clear;
        }
        let width = 0.5 * (u.0 * v.1 - u.1 * v.0).abs();
        let (mut within, mut depth) = (true, f64::INFINITY);
        for w in [u, v] {
            let off = (w.0 * m.1 - w.1 * m.0).abs();
            let reach = w.0.abs() * half.1 + w.1.abs() * half.0;
            if off > width + reach {
                return Lies::Clear;
            }
            within &= off + reach < width;
            depth = depth.min((width - off) / reach);
        }
        if within { Lies::Within } else { Lies::Across(depth) }
    }

    /// True when inscribed circles overlap all over the cell.
    fn circles_overlap(&self, middle: (f64, f64), half: (f64, f64)) -> bool {
        let away = half.0.hypot(half.1);
        let (p, q) = (&self.a.circles, &self.b.circles);
        (0..p.count).any(|i| {
            let (x, y, r) =
                (f64::from(p.x[i]) + middle.0, f64::from(p.y[i]) + middle.1, f64::from(p.r[i]));
            (0..q.count).any(|j| {
                let (ex, ey) = (x - f64::from(q.x[j]), y - f64::from(q.y[j]));
                // Single precision at the size of the parts.
                let least = 0.999 * (r + f64::from(q.r[j])) - 1e-5 * (x.abs() + y.abs()) - away;
                least > 0.0 && ex * ex + ey * ey < least * least
            })
        })
    }

    /// Whether the first corner of `a` lies in `b` (or of `b` in `a`) all over the cell, or nowhere
    /// in it; None when an edge runs through.
    fn corner_in(&self, first: bool, middle: (f64, f64), half: (f64, f64)) -> Option<bool> {
        let (of, into, sign) = if first { (self.a, self.b, 1.0) } else { (self.b, self.a, -1.0) };
        let p = (of.x0[0] + sign * middle.0, of.y0[0] + sign * middle.1);
        for k in 0..into.x0.len() {
            let (x0, y0, x1, y1) =
                (into.x0[k] - p.0, into.y0[k] - p.1, into.x1[k] - p.0, into.y1[k] - p.1);
            let beside = x0.min(x1) > half.0
                || x0.max(x1) < -half.0
                || y0.min(y1) > half.1
                || y0.max(y1) < -half.1;
            let (ux, uy) = (x1 - x0, y1 - y0);
            if !beside && (ux * y0 - uy * x0).abs() <= ux.abs() * half.1 + uy.abs() * half.0 {
                return None;
            }
        }
        Some(into.holds([p.0, p.1]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nest::circles::{Circles, inscribed};
    use crate::nest::dice::Dice;
    use crate::nest::plane::Ring;

    fn outline(rings: &[Ring]) -> Outline {
        Outline::new(
            rings,
            rings[0].clone(),
            Circles::new(&inscribed(rings, f64::INFINITY, 16)),
            10.0,
        )
    }

    fn square(from: f64, size: f64) -> Ring {
        let to = from + size;
        vec![[from, from], [to, from], [to, to], [from, to]]
    }

    /// A square of 8 against a square of 30, solid or with an opening of 20 in the middle, and
    /// against a diamond: when they overlap is plain from the coordinates.
    #[test]
    fn tables_tell_overlaps_as_the_coordinates_do() {
        let small = outline(&[square(0.0, 8.0)]);
        let opening: Ring = square(5.0, 20.0).into_iter().rev().collect();
        let solid = Table::new(&small, &outline(&[square(0.0, 30.0)]));
        let frame = Table::new(&small, &outline(&[square(0.0, 30.0), opening.clone()]));
        let diamond = vec![[20.0, 0.0], [0.0, 20.0], [-20.0, 0.0], [0.0, -20.0]];
        let slanting = Table::new(&small, &outline(std::slice::from_ref(&diamond)));
        let (big, framed, turned) = (
            outline(&[square(0.0, 30.0)]),
            outline(&[square(0.0, 30.0), opening]),
            outline(&[diamond]),
        );
        let mut dice = Dice::new(7);
        for _ in 0..20_000 {
            let (x, y) = (dice.between(-45.0, 45.0), dice.between(-45.0, 45.0));
            let within = |low: f64, high: f64| x > low && x < high && y > low && y < high;
            let on_solid = within(-8.0, 30.0);
            // The corner of the square nearest the diamond's middle decides.
            let out = |v: f64| if v > 0.0 { v } else { (-v - 8.0).max(0.0) };
            let on_diamond = out(x) + out(y) < 20.0;
            assert_eq!(on_solid, solid.overlap(&small, &big, x, y) > 0.0, "solid {x} {y}");
            assert_eq!(
                on_solid && !within(5.0, 17.0),
                frame.overlap(&small, &framed, x, y) > 0.0,
                "frame {x} {y}"
            );
            assert_eq!(
                on_diamond,
                slanting.overlap(&small, &turned, x, y) > 0.0,
                "diamond {x} {y}"
            );
            if let Glance::Bad(s) = frame.at(x, y).map_or(Glance::Clear, |at| frame.glance(at)) {
                assert!(s > 0.0 && on_solid, "at a glance {x} {y}");
            }
        }
        for (x, y) in [(-8.0, 3.0), (30.0, 30.0), (5.0, 9.0), (17.0, 17.0)] {
            assert!(frame.overlap(&small, &framed, x, y) == 0.0, "a touch at {x} {y}");
        }
    }

    /// Depths at the nodes are those of the coordinates: the square of 8 leaves that of 30 by the
    /// nearest side, and is within a cell's width of it. Overlaps are the worse the farther it is
    /// to the way out.
    #[test]
    fn depths_are_the_way_out() {
        let (small, big) = (outline(&[square(0.0, 8.0)]), outline(&[square(0.0, 30.0)]));
        let table = Table::new(&small, &big);
        let mesh = 38.0 / MESHES as f64;
        for (j, row) in table.nodes.iter().enumerate() {
            for (i, node) in row.iter().enumerate() {
                let (x, y) = (i as f64 * mesh - 8.0, j as f64 * mesh - 8.0);
                let exact = (x + 8.0).min(30.0 - x).min((y + 8.0).min(30.0 - y));
                assert!(
                    (f64::from(node.depth) - exact).abs() < 0.75 * mesh / STEP as f64,
                    "{x} {y}: {} not {exact}",
                    node.depth
                );
            }
        }
        let at = |x: f64| table.overlap(&small, &big, x, 11.0);
        let deeper: Vec<f64> =
            [-7.999, -7.5, -6.0, -3.0, 2.0, 7.0].iter().map(|x| at(*x)).collect();
        assert!(deeper.windows(2).all(|w| w[0] < w[1]), "{deeper:?}");
    }
}
