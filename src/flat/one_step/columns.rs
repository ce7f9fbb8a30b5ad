//! Columns of nodes along a run of walls: where they stand, close where the line curves, and how far each is given over to the straight
//! wall's exact edge. Millimetres and radians.

use crate::formed::Wall;
use crate::geom::mesh_wall::WallShape;
use crate::geom::{Point, Segment, Vec2, left_of};

/// Columns in a wall's width along curves.
const COLUMNS_PER_WIDTH: f64 = 10.0;
/// Columns in the radius of a curve: each turns by less than 4 degrees.
const COLUMNS_PER_RADIUS: f64 = 16.0;
/// Columns in a wall's width along straight sides, far from curves.
const COLUMNS_PER_STRAIGHT_WIDTH: f64 = 1.5;
/// Straight sides whose tangent line turns by less than this over a wall's width, radians, strain by less than a thousandth.
const SLIGHT_BEND: f64 = 1e-3;
/// How much wider columns may grow for each mm along the line.
const GROWTH: f64 = 0.25;
/// The most triangles of one run; columns are set wider where there would be more.
const MOST_TRIANGLES: usize = 60_000;
/// Where beside a straight side the edge begins to be the straight wall's, in wall widths from the curve; one width on it is.
const STRAIGHT_FROM: f64 = 2.0;
/// Least length in wall widths of a straight side at the end of an open run.
const STRAIGHT_END: f64 = 4.0;

/// The point of a segment at `u`, lines and arcs running on beyond their ends, curves along their tangents.
pub(in crate::flat) fn beyond(segment: &Segment, u: f64) -> Point {
    match segment {
        Segment::Curve(_) if !(0.0..=1.0).contains(&u) => {
            let end = u.clamp(0.0, 1.0);
            segment.point_at(end) + segment.tangent_at(end) * ((u - end) * segment.length())
        }
        _ => segment.point_at(u),
    }
}

/// One column of the mesh.
#[derive(Debug, Clone, Copy)]
pub(in crate::flat) struct Column {
    pub(in crate::flat) side: usize,
    /// Of the side's parameter; outside 0 to 1 where the run was made longer.
    pub(in crate::flat) u: f64,
    pub(in crate::flat) point: Point,
    pub(in crate::flat) outward: Vec2,
    pub(in crate::flat) curvature: f64,
}

impl Column {
    fn new(segments: &[Segment], side: usize, u: f64, inset: f64) -> Self {
        let segment = &segments[side];
        let inside = u.clamp(0.0, 1.0);
        let direction = if matches!(segment, Segment::Curve(_)) { inside } else { u };
        let outward = -left_of(segment.tangent_at(direction));
        let runs_straight = matches!(segment, Segment::Curve(_)) && u.to_bits() != inside.to_bits();
        let curvature = if runs_straight { 0.0 } else { segment.curvature_at(inside) };
        let point = beyond(segment, u) - outward * inset;
        Self { side, u, point, outward, curvature: curvature / (1.0 - curvature * inset) }
    }

    pub(in crate::flat) fn is_inside(&self) -> bool {
        (0.0..=1.0).contains(&self.u)
    }
}

/// A stretch of one side on a fine grid, for choosing columns.
struct Grid {
    side: usize,
    /// Parameter, length along the tangent line from the stretch's start, and wanted width of columns.
    places: Vec<(f64, f64, f64)>,
    /// Columns needed for the angle alone.
    least: usize,
}

/// What a run asks of its columns beyond its outline's own curves.
pub(in crate::flat) struct Asked<'a> {
    /// Least length by which an open run is made longer at its ends, mm.
    pub(in crate::flat) longer: f64,
    /// Curvature of the tangent line in the wall's plane at a place of the outline, 1/mm.
    pub(in crate::flat) bend: &'a dyn Fn(Point) -> f64,
}

/// Columns along the run: as close as curvature and width ask, growing away from there, an even number along each side so that a
/// mirrored side has the mirrored mesh.
pub(in crate::flat) fn columns(segments: &[Segment], closed: bool, wall: &Wall, width: f64, asked: &Asked) -> Vec<Column> {
    let inset = wall.tangent_inset();
    let mut grids = Vec::new();
    for (side, segment) in segments.iter().enumerate() {
        let longer = |u: f64| {
            let length = segment.length();
            let more = if segment.is_straight() {
                (STRAIGHT_END * width - length).max(0.0)
            } else {
                width.min(1.0 / segment.curvature_at(u).abs())
            };
            more.max(asked.longer) / length
        };
        if !closed && side == 0 && longer(0.0) > 0.0 {
            grids.push(grid(segments, side, (-longer(0.0), 0.0), inset, width, asked));
        }
        grids.push(grid(segments, side, (0.0, 1.0), inset, width, asked));
        if !closed && side + 1 == segments.len() && longer(1.0) > 0.0 {
            grids.push(grid(segments, side, (1.0, 1.0 + longer(1.0)), inset, width, asked));
        }
    }
    even_out(&mut grids, closed);
    let rows = rows(wall, width).0;
    let count = |stretch: f64| grids.iter().map(|grid| grid.count(stretch)).sum::<usize>();
    let triangles = 2 * rows * count(1.0);
    let stretch = if triangles > MOST_TRIANGLES { triangles as f64 / MOST_TRIANGLES as f64 } else { 1.0 };
    let mut columns = Vec::new();
    for grid in &grids {
        columns.extend(grid.columns(stretch).map(|u| Column::new(segments, grid.side, u, inset)));
    }
    if let Some(end) = grids.last().filter(|_| !closed) {
        columns.push(Column::new(segments, end.side, end.places[end.places.len() - 1].0, inset));
    }
    columns
}

/// Rows of quadrilaterals in all, and the section that has them.
pub(in crate::flat) fn rows(wall: &Wall, width: f64) -> (usize, WallShape) {
    let shape = WallShape {
        bend_mid_radius: wall.inside_radius + wall.thickness / 2.0,
        bend_angle: wall.bend_angle,
        bend_rows: 1,
        wall_rows: 1,
    }
    .with_rows_for(wall.length(), width / COLUMNS_PER_WIDTH);
    (shape.bend_rows + shape.wall_rows, shape)
}

fn grid(segments: &[Segment], side: usize, (from, to): (f64, f64), inset: f64, width: f64, asked: &Asked) -> Grid {
    let segment = &segments[side];
    let length = segment.length() * (to - from);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 32..=2000")]
    let cells = (length / width * 20.0).ceil().clamp(32.0, 2000.0) as usize;
    let mut places: Vec<(f64, f64, f64)> = Vec::with_capacity(cells + 1);
    let (mut along, mut angle) = (0.0, 0.0);
    let mut before: Option<Column> = None;
    for i in 0..=cells {
        let u = from + (to - from) * i as f64 / cells as f64;
        let here = Column::new(segments, side, u, inset);
        if let Some(before) = before {
            along += here.point.distance(before.point);
            angle += before.outward.cross(here.outward).atan2(before.outward.dot(here.outward)).abs();
        }
        before = Some(here);
        // The tighter of tangent line and outline.
        let bend = here.curvature.abs().max((here.curvature / (1.0 + here.curvature * inset)).abs());
        let close = width / COLUMNS_PER_WIDTH;
        let over = (asked.bend)(here.point);
        let wanted = if segment.is_straight() && over * width < SLIGHT_BEND {
            width / COLUMNS_PER_STRAIGHT_WIDTH
        } else {
            close.min(1.0 / (COLUMNS_PER_RADIUS * bend.max(over)))
        };
        places.push((u, along, wanted));
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few turns at most")]
    let least = (angle * COLUMNS_PER_RADIUS).ceil() as usize;
    Grid { side, places, least }
}

/// Lets wanted widths grow gently from the narrow ones on, both ways.
fn even_out(grids: &mut [Grid], closed: bool) {
    let mut order: Vec<(usize, usize)> =
        grids.iter().enumerate().flat_map(|(g, grid)| (0..grid.places.len()).map(move |i| (g, i))).collect();
    let rounds = if closed { 2 } else { 1 };
    for _ in 0..2 {
        let mut last: Option<(usize, f64, f64)> = None;
        for _ in 0..rounds {
            for &(g, i) in &order {
                let (_, along, wanted) = grids[g].places[i];
                let limit = match last {
                    Some((same, before, width)) if same == g => width + GROWTH * (along - before).abs(),
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
            if k == 0 { self.places[0].0 } else { self.places[i - 1].0 * (1.0 - x) + self.places[i].0 * x }
        })
    }
}

/// For each column how far it is given over to the straight wall: 1 where it is wholly.
pub(super) fn straight_shares(segments: &[Segment], closed: bool, columns: &[Column], width: f64) -> Vec<f64> {
    let n = columns.len();
    let mut away = vec![f64::INFINITY; n];
    let curved = |column: &Column| !segments[column.side].is_straight();
    let rounds = if closed { 2 * n } else { n };
    for backward in [false, true] {
        let mut last: Option<(usize, f64)> = None;
        for k in 0..rounds {
            let i = if backward { n - 1 - k % n } else { k % n };
            // The last column of a curve is the first of the next side.
            let begins = curved(&columns[(i + n - 1) % n]) && (closed || i > 0);
            let distance = match last {
                _ if curved(&columns[i]) || begins => 0.0,
                Some((before, distance)) => distance + columns[i].point.distance(columns[before].point),
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
