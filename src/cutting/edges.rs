//! Edges on a sheet, looked up by place.

use std::collections::BTreeMap;

use super::Torch;
use crate::geom::{Point, Polyarc};
use crate::tolerance::TORCH_CHORD;

/// The edges of everything on a sheet as short straight lines in a grid.
pub(super) struct Edges {
    cell: f64,
    /// Lines by the cells of the grid that they pass.
    cells: BTreeMap<(i32, i32), Vec<u32>>,
    lines: Vec<(Point, Point)>,
}

impl Edges {
    pub(super) fn new<'a>(outlines: impl Iterator<Item = &'a Polyarc>, torch: Torch) -> Self {
        let cell = (4.0 * torch.kerf).max(2.0 * torch.lead_length());
        let mut edges = Self { cell, cells: BTreeMap::new(), lines: Vec::new() };
        for outline in outlines {
            let points = outline.flatten(TORCH_CHORD);
            for (a, b) in points.iter().zip(points.iter().cycle().skip(1)) {
                edges.add(*a, *b);
            }
        }
        edges
    }

    /// Adds a line, cut into pieces no longer than a cell so that each lies in few of them.
    fn add(&mut self, from: Point, to: Point) {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to 1..=100000"
        )]
        let pieces = (from.distance(to) / self.cell).ceil().clamp(1.0, 1e5) as u32;
        for i in 0..pieces {
            let at = |k: u32| from.lerp(to, f64::from(k) / f64::from(pieces));
            let (a, b) = (at(i), at(i + 1));
            let index = u32::try_from(self.lines.len()).unwrap_or(u32::MAX);
            self.lines.push((a, b));
            let (low, high) = (
                self.cell_of(Point::new(a.x.min(b.x), a.y.min(b.y))),
                self.cell_of(Point::new(a.x.max(b.x), a.y.max(b.y))),
            );
            for x in low.0..=high.0 {
                for y in low.1..=high.1 {
                    self.cells.entry((x, y)).or_default().push(index);
                }
            }
        }
    }

    fn cell_of(&self, p: Point) -> (i32, i32) {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a sheet is at most 1e6 mm wide, a cell at least 6 mm"
        )]
        let of = |v: f64| (v / self.cell).floor() as i32;
        (of(p.x), of(p.y))
    }

    fn near(&self, low: Point, high: Point) -> impl Iterator<Item = &(Point, Point)> {
        let (low, high) = (self.cell_of(low), self.cell_of(high));
        (low.0..=high.0)
            .flat_map(move |x| (low.1..=high.1).map(move |y| (x, y)))
            .filter_map(|cell| self.cells.get(&cell))
            .flatten()
            .map(|i| &self.lines[*i as usize])
    }

    /// Whether an edge comes nearer to `p` than `reach`.
    pub(super) fn within(&self, p: Point, reach: f64) -> bool {
        let square = reach * reach;
        let (low, high) =
            (Point::new(p.x - reach, p.y - reach), Point::new(p.x + reach, p.y + reach));
        self.near(low, high).any(|line| distance_squared(p, *line) < square)
    }

    /// How much of the straight line from `a` to `b` is nearer to an edge than `reach`, looked at
    /// in steps of at most `step`, all mm.
    pub(super) fn length_within(&self, a: Point, b: Point, reach: f64, step: f64) -> f64 {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to 1..=100000"
        )]
        let steps = (a.distance(b) / step).ceil().clamp(1.0, 1e5) as u32;
        let middle = |k: u32| a.lerp(b, (f64::from(k) + 0.5) / f64::from(steps));
        let count = (0..steps).filter(|k| self.within(middle(*k), reach)).count();
        a.distance(b) * count as f64 / f64::from(steps)
    }

    /// Whether an edge crosses the straight line from `a` to `b`.
    pub(super) fn crossed(&self, a: Point, b: Point) -> bool {
        let (low, high) =
            (Point::new(a.x.min(b.x), a.y.min(b.y)), Point::new(a.x.max(b.x), a.y.max(b.y)));
        self.near(low, high).any(|&(c, d)| {
            let side = |p: Point, q: Point, r: Point| (q - p).cross(r - p);
            side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
        })
    }
}

/// The square of the distance from a point to a straight line.
pub(super) fn distance_squared(p: Point, (a, b): (Point, Point)) -> f64 {
    let (along, to) = (b - a, p - a);
    let length = along.hypot2();
    let u = if length > 0.0 { (to.dot(along) / length).clamp(0.0, 1.0) } else { 0.0 };
    p.distance_squared(a.lerp(b, u))
}
