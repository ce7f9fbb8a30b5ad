//! Columns of nodes along a run of walls: where they stand, close where the line curves, and how
//! far each is given over to the straight wall's exact edge. Millimetres and radians.

use super::wall::Wall;
use crate::geom::mesh_wall::WallShape;
use crate::geom::{Point, Segment, Vec2, left_of};

/// Columns in a wall's width along curves.
const COLUMNS_PER_WIDTH: f64 = 10.0;
/// Columns in the radius of a curve: each turns by less than 4 degrees.
const COLUMNS_PER_RADIUS: f64 = 16.0;
/// Columns in a wall's width along straight sides, far from curves.
const COLUMNS_PER_STRAIGHT_WIDTH: f64 = 1.5;
/// Straight sides whose tangent line turns by so much over a wall's width, radians, strain by a
/// thousandth: there columns are set half as close as along curves, and closer as they turn by
/// more.
const SLIGHT_BEND: f64 = 1e-3;
/// Sides shorter than this share of the wall's flat width have no columns of their own.
const CRUMB: f64 = 0.03;
/// How much wider columns may grow for each mm along the line.
const GROWTH: f64 = 0.25;
/// The most triangles of one run; columns are set wider where there would be more.
const MOST_TRIANGLES: usize = 60_000;
/// Where beside a straight side the edge begins to be the straight wall's, in wall widths from the
/// curve; one width on it is.
const STRAIGHT_FROM: f64 = 2.0;
/// Straight sides that turn by less than this at their joint, radians, are one: a micrometre in a
/// metre.
pub(super) const NO_KINK: f64 = 1e-6;

/// The point of a segment at `u`, lines and arcs running on beyond their ends, curves along their
/// tangents.
pub(super) fn beyond(segment: &Segment, u: f64) -> Point {
    match segment {
        Segment::Curve(_) if !(0.0..=1.0).contains(&u) => {
            let end = u.clamp(0.0, 1.0);
            segment.point_at(end) + segment.tangent_at(end) * ((u - end) * segment.length())
        }
        _ => segment.point_at(u),
    }
}

/// A place on a run of sides: which one, and its parameter; outside 0 to 1 where the run goes on
/// beyond its ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub(super) side: usize,
    pub(super) u: f64,
}

/// One column of the mesh.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column {
    pub(super) place: Place,
    /// On the tangent line under a level face.
    pub(super) point: Point,
    /// Square to the line; at a slight corner half way between both sides' own.
    pub(super) outward: Vec2,
    /// Of the tangent line, 1/mm.
    pub(super) curvature: f64,
}

impl Column {
    fn new(run: &Sides, place: Place, inset: f64) -> Self {
        let segment = &run.segments[place.side];
        let inside = place.u.clamp(0.0, 1.0);
        let curved = matches!(segment, Segment::Curve(_));
        let runs_straight = curved && place.u.to_bits() != inside.to_bits();
        let curvature = if runs_straight { 0.0 } else { segment.curvature_at(inside) };
        let outward = run.outward(place);
        // At a corner the tangent lines of both sides cross.
        let turn = if place.u == 0.0 { run.kink(place.side) } else { 0.0 };
        let point = run.point(place) - outward * (inset / (turn / 2.0).cos());
        Self { place, point, outward, curvature: curvature / (1.0 - curvature * inset) }
    }

    pub(super) fn is_inside(&self) -> bool {
        (0.0..=1.0).contains(&self.place.u)
    }
}

/// The sides that a run of walls stands on.
pub(super) struct Sides<'a> {
    pub(super) segments: &'a [Segment],
    pub(super) closed: bool,
}

impl Sides<'_> {
    /// The side before, where the run has one.
    fn before(&self, side: usize) -> Option<usize> {
        if side > 0 { Some(side - 1) } else { self.closed.then(|| self.segments.len() - 1) }
    }

    /// The angle by which the run turns at a side's start, radians, positive to the left.
    pub(super) fn kink(&self, side: usize) -> f64 {
        self.before(side).map_or(0.0, |before| {
            let (a, b) =
                (self.segments[before].tangent_at(1.0), self.segments[side].tangent_at(0.0));
            a.cross(b).atan2(a.dot(b))
        })
    }

    /// As [`Self::kink`], at a side's end.
    fn kink_after(&self, side: usize) -> f64 {
        let next = side + 1;
        let after = if next < self.segments.len() { Some(next) } else { self.closed.then_some(0) };
        after.map_or(0.0, |next| self.kink(next))
    }

    pub(super) fn point(&self, place: Place) -> Point {
        beyond(&self.segments[place.side], place.u)
    }

    /// Square to the line, away from the face.
    pub(super) fn outward(&self, place: Place) -> Vec2 {
        let segment = &self.segments[place.side];
        let u =
            if matches!(segment, Segment::Curve(_)) { place.u.clamp(0.0, 1.0) } else { place.u };
        let own = -left_of(segment.tangent_at(u));
        match self.before(place.side) {
            Some(before) if place.u == 0.0 => {
                (own - left_of(self.segments[before].tangent_at(1.0))).normalize()
            }
            _ => own,
        }
    }

    /// The place `by` mm farther on along the profile; beyond the ends of an open run its last
    /// sides run on.
    pub(super) fn moved(&self, place: Place, by: f64) -> Place {
        let mut to = Place { u: place.u + by / self.segments[place.side].length(), ..place };
        for _ in 0..self.segments.len() {
            let length = self.segments[to.side].length();
            let next = if to.u > 1.0 {
                let after = to.side + 1;
                if after < self.segments.len() { Some(after) } else { self.closed.then_some(0) }
            } else if to.u < 0.0 {
                self.before(to.side)
            } else {
                None
            };
            let Some(side) = next else { break };
            let own = self.segments[side].length();
            to.u = if to.u > 1.0 { (to.u - 1.0) * length / own } else { 1.0 + to.u * length / own };
            to.side = side;
        }
        to
    }
}

/// A stretch of one side on a fine grid, for choosing columns.
struct Grid {
    side: usize,
    /// Parameter of the first column: at an outside corner it is the corner's, whose tangent lines
    /// cross where the stretch begins.
    first: f64,
    /// Parameter, length along the tangent line from the stretch's start, and wanted width of
    /// columns.
    places: Vec<(f64, f64, f64)>,
    /// Columns needed for the angle alone.
    least: usize,
}

/// Columns along the run from one place to another: as close as curvature and width ask, growing
/// away from there, an even number along each side so that a mirrored side has the mirrored mesh.
/// `bend` is the curvature of the tangent line square to its plane at a place in plan, 1/mm.
pub(super) fn columns(
    run: &Sides,
    (from, to): (Place, Place),
    wall: &Wall,
    bend: &dyn Fn(Point) -> f64,
) -> Vec<Column> {
    let inset = wall.tangent_inset();
    let width = wall.flat_width();
    let to_side = to.side;
    let mut grids = Vec::new();
    for side in from.side..=to.side {
        let start = if side == from.side { from.u } else { 0.0 };
        let end = if side == to.side { to.u } else { 1.0 };
        // A column stands on the side's own ends, unless the run's own is close.
        let length = run.segments[side].length();
        let close = width / COLUMNS_PER_WIDTH / length;
        let mut places = vec![start];
        places.extend([0.0, 1.0].into_iter().filter(|u| *u > start + close && *u < end - close));
        places.push(end);
        // Round an outside corner the tangent line goes on where the next side's begins.
        let taken =
            |turn: f64| if turn > NO_KINK { inset * (turn / 2.0).tan() / length } else { 0.0 };
        let [at_start, at_end] = [run.kink(side), run.kink_after(side)].map(taken);
        for pair in places.windows(2) {
            let from = if pair[0] == 0.0 { at_start } else { pair[0] };
            let to = if pair[1] == 1.0 { 1.0 - at_end } else { pair[1] };
            // A crumb of a side is left out, and with it a column that would stand on its
            // neighbour.
            let crumb =
                (to - from) * length < CRUMB * width && !(side == to_side && grids.is_empty());
            if from < to && !crumb {
                grids.push(Grid {
                    first: pair[0],
                    ..grid(run, side, (from, to), inset, width, bend)
                });
            }
        }
    }
    even_out(&mut grids, run.closed);
    let rows = rows(wall, width).0;
    let count = |stretch: f64| grids.iter().map(|grid| grid.count(stretch)).sum::<usize>();
    let triangles = 2 * rows * count(1.0);
    let stretch =
        if triangles > MOST_TRIANGLES { triangles as f64 / MOST_TRIANGLES as f64 } else { 1.0 };
    let mut columns = Vec::new();
    for grid in &grids {
        columns.extend(
            grid.columns(stretch).map(|u| Column::new(run, Place { side: grid.side, u }, inset)),
        );
    }
    if !run.closed {
        // A crumb at the start has no columns but the run's own first.
        if let Some(first) = columns.first_mut() {
            *first = Column::new(run, from, inset);
        }
        columns.push(Column::new(run, to, inset));
    }
    columns
}

/// Rows of quadrilaterals in all, and the section that has them.
pub(super) fn rows(wall: &Wall, width: f64) -> (usize, WallShape) {
    let shape = WallShape {
        bend_mid_radius: wall.inside_radius + wall.thickness / 2.0,
        bend_angle: wall.bend_angle,
        bend_rows: 1,
        wall_rows: 1,
    }
    .with_rows_for(wall.length(), width / COLUMNS_PER_WIDTH);
    (shape.bend_rows + shape.wall_rows, shape)
}

fn grid(
    run: &Sides,
    side: usize,
    (from, to): (f64, f64),
    inset: f64,
    width: f64,
    bend: &dyn Fn(Point) -> f64,
) -> Grid {
    let segment = &run.segments[side];
    let length = segment.length() * (to - from);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 32..=2000"
    )]
    let cells = (length / width * 20.0).ceil().clamp(32.0, 2000.0) as usize;
    let kinks = [run.kink(side), run.kink_after(side)].map(f64::abs);
    let mut places: Vec<(f64, f64, f64)> = Vec::with_capacity(cells + 1);
    let (mut along, mut angle) = (0.0, 0.0);
    let mut before: Option<Column> = None;
    for i in 0..=cells {
        let u = from + (to - from) * i as f64 / cells as f64;
        let here = Column::new(run, Place { side, u }, inset);
        if let Some(before) = before {
            along += here.point.distance(before.point);
            angle +=
                before.outward.cross(here.outward).atan2(before.outward.dot(here.outward)).abs();
        }
        before = Some(here);
        // The tighter of tangent line and outline.
        let round =
            here.curvature.abs().max((here.curvature / (1.0 + here.curvature * inset)).abs());
        let close = width / COLUMNS_PER_WIDTH;
        let over = bend(here.point);
        let kink = if i == 0 {
            kinks[0]
        } else if i == cells {
            kinks[1]
        } else {
            0.0
        };
        let wanted = if segment.is_straight() {
            let slight = (over * width + kink) / SLIGHT_BEND;
            close + (width / COLUMNS_PER_STRAIGHT_WIDTH - close) / (1.0 + slight)
        } else {
            close
        };
        places.push((u, along, wanted.min(1.0 / (COLUMNS_PER_RADIUS * round.max(over)))));
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a few turns at most"
    )]
    let least = (angle * COLUMNS_PER_RADIUS).ceil() as usize;
    Grid { side, first: from, places, least }
}

/// Lets wanted widths grow gently from the narrow ones on, both ways.
fn even_out(grids: &mut [Grid], closed: bool) {
    let mut order: Vec<(usize, usize)> = grids
        .iter()
        .enumerate()
        .flat_map(|(g, grid)| (0..grid.places.len()).map(move |i| (g, i)))
        .collect();
    let rounds = if closed { 2 } else { 1 };
    for _ in 0..2 {
        let mut last: Option<(usize, f64, f64)> = None;
        for _ in 0..rounds {
            for &(g, i) in &order {
                let (_, along, wanted) = grids[g].places[i];
                let limit = match last {
                    Some((same, before, width)) if same == g => {
                        width + GROWTH * (along - before).abs()
                    }
                    Some((_, _, width)) => width,
                    None => f64::INFINITY,
                };
                let wanted = wanted.min(limit);
                grids[g].places[i].2 = wanted;
                last = Some((g, along, wanted));
            }
        }
        order.reverse();
    }
}

impl Grid {
    /// Columns up to each place, as a number with fractions.
    fn counted(&self) -> Vec<f64> {
        let mut sum = 0.0;
        let mut counted = vec![0.0];
        for pair in self.places.windows(2) {
            sum += (pair[1].1 - pair[0].1) * 0.5 * (1.0 / pair[0].2 + 1.0 / pair[1].2);
            counted.push(sum);
        }
        counted
    }

    fn count(&self, stretch: f64) -> usize {
        let wanted = self.counted().last().copied().unwrap_or(0.0) / stretch;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "at most 2000 places of a fraction of a width"
        )]
        let half = (wanted / 2.0).ceil() as usize;
        2 * half.max(self.least.div_ceil(2)).max(1)
    }

    /// Parameters of the columns, without the one at the end.
    fn columns(&self, stretch: f64) -> impl Iterator<Item = f64> {
        let counted = self.counted();
        let count = self.count(stretch);
        let total = counted[counted.len() - 1];
        (0..count).map(move |k| {
            let wanted = total * k as f64 / count as f64;
            let i = counted.partition_point(|c| *c <= wanted).clamp(1, counted.len() - 1);
            let x = (wanted - counted[i - 1]) / (counted[i] - counted[i - 1]);
            if k == 0 {
                self.first
            } else {
                self.places[i - 1].0 * (1.0 - x) + self.places[i].0 * x
            }
        })
    }
}

/// For each column how far it is given over to the straight wall: 1 where it is wholly.
pub(super) fn straight_shares(run: &Sides, columns: &[Column], width: f64) -> Vec<f64> {
    let n = columns.len();
    let mut away = vec![f64::INFINITY; n];
    let curved = |i: usize| !run.segments[columns[i].place.side].is_straight();
    let rounds = if run.closed { 2 * n } else { n };
    for backward in [false, true] {
        let mut last: Option<(usize, f64)> = None;
        for k in 0..rounds {
            let i = if backward { n - 1 - k % n } else { k % n };
            // The last column of a curve is the first of the next side.
            let begins = curved((i + n - 1) % n) && (run.closed || i > 0);
            let bent = columns[i].place.u == 0.0 && run.kink(columns[i].place.side).abs() > NO_KINK;
            let distance = match last {
                _ if curved(i) || begins || bent => 0.0,
                Some((before, distance)) => {
                    distance + columns[i].point.distance(columns[before].point)
                }
                None => f64::INFINITY,
            };
            away[i] = away[i].min(distance);
            last = Some((i, distance));
        }
    }
    away.iter()
        .map(|distance| {
            let x = (distance / width - STRAIGHT_FROM).clamp(0.0, 1.0);
            x * x * (3.0 - 2.0 * x)
        })
        .collect()
}
