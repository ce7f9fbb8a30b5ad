//! The buck and the formed shell as closed surfaces of triangles, for pictures, printing and
//! checking.

use std::collections::BTreeMap;

use super::BuckSet;
use crate::flat::half_shell::has_wall;
use crate::geom::mesh_face::mesh_face;
use crate::geom::space::{minus, plus, times};
use crate::geom::{Point, Polyarc, Segment, Vec2, left_of, spans_left, triangulate};
use crate::part::HalfShell;
use crate::shell::FormedFace;
use crate::shell::Wall;
use crate::tolerance::{SAME_POINT, SMOOTH_JOINT, SOLID_CHORD, SOLID_STEPS_OF_BEND};

/// Triangles across a face that is not level.
const FACE_CELLS: f64 = 16.0;
/// The edge of a crown is cut into chords as if it bent so much, 1/mm.
const CROWN_BEND: f64 = 4e-3;

/// A triangle in space, mm, counter-clockwise seen from outside.
pub type Triangle = [[f64; 3]; 3];

/// The profile's outline at one row of the section, cut into as many chords on every level, so that
/// levels join point to point.
struct Level {
    /// The points of all sides in order, x and y in the profile's plane, z up; a side's last point
    /// is the next one's first.
    points: Vec<[f64; 3]>,
    /// What is left of each side at this inset, as a stretch of its parameter.
    spans: Vec<(f64, f64)>,
}

impl Level {
    /// Once round, without chords of no length.
    fn around(&self) -> Vec<[f64; 3]> {
        let mut points = self.points.clone();
        points.dedup();
        if points.len() > 1 && points[0] == points[points.len() - 1] {
            points.pop();
        }
        points
    }
}

/// A row of the wall's section.
#[derive(Debug, Clone, Copy)]
enum Row {
    /// This share of the bend round from the face.
    Bend(f64),
    /// So many mm down the wall from the seam plane.
    Below(f64),
    /// At this height.
    Foot(f64),
}

/// A skin of the formed sheet.
#[derive(Debug, Clone, Copy)]
struct Skin<'a> {
    wall: &'a Wall,
    face: Option<&'a FormedFace>,
    /// Whether it is the sheet's outside, or its inside.
    outside: bool,
    /// By how much more than the wall the bend turns, radians: what a buck leans under, so that the
    /// metal springs back to the wall.
    under: f64,
}

impl<'a> Skin<'a> {
    /// A skin of the finished shell.
    fn of_shell(wall: &'a Wall, face: Option<&'a FormedFace>, outside: bool) -> Self {
        Self { wall, face, outside, under: 0.0 }
    }

    fn radius(&self) -> f64 {
        self.wall.inside_radius + if self.outside { self.wall.thickness } else { 0.0 }
    }

    /// The rows down to the seam plane.
    fn rows() -> Vec<Row> {
        let bend = (0..=SOLID_STEPS_OF_BEND)
            .map(|i| Row::Bend(f64::from(i) / f64::from(SOLID_STEPS_OF_BEND)));
        bend.chain([Row::Below(0.0)]).collect()
    }

    /// Plan distance from the profile in to a row of a level shell, and its height over the seam
    /// plane.
    fn level_row(&self, row: Row) -> (f64, f64) {
        let wall = self.wall;
        let (sin, cos) = (wall.lean() - self.under).sin_cos();
        let bend_end = |angle: f64| {
            let r = self.radius();
            (
                wall.tangent_inset() - r * angle.sin(),
                wall.depth - wall.inside_radius - wall.thickness + r * angle.cos(),
            )
        };
        let end_height = if self.outside { 0.0 } else { -wall.thickness * sin };
        let on_wall = |height: f64| {
            let (inset, from) = bend_end(wall.bend_angle + self.under);
            (inset - (from - height) * sin / cos, height)
        };
        match row {
            Row::Bend(share) => bend_end(share * (wall.bend_angle + self.under)),
            Row::Below(below) => on_wall(end_height - below * cos),
            Row::Foot(height) => on_wall(height),
        }
    }

    /// The row of the section at a place of the profile, `along` mm from its start: in the plane
    /// square to the profile there.
    fn place(&self, (at, outward, along): (Point, Vec2, f64), row: Row) -> Option<[f64; 3]> {
        let Some(face) = self.face else {
            let (inset, height) = self.level_row(row);
            let p = at - outward * inset;
            return Some([p.x, p.y, height]);
        };
        let outside_radius = self.wall.inside_radius + self.wall.thickness;
        let edge = face.edge(at, outward, along, self.wall.lean(), outside_radius)?;
        let p = match row {
            Row::Bend(share) => {
                edge.round_bend(self.radius(), share * (edge.bend_angle + self.under))
            }
            Row::Below(below) => edge.on_wall(self.radius(), edge.wall_length + below),
            Row::Foot(height) => {
                let from = edge.round_bend(self.radius(), edge.bend_angle + self.under);
                let (sin, cos) = self.under.sin_cos();
                let down = minus(times(edge.down, cos), times(edge.wall_normal, sin));
                plus(from, times(down, (height - from[2]) / down[2]))
            }
        };
        // The arc of a sloping edge leans out of that plane: back along the edge, whose slope is
        // the face's own.
        let forward = left_of(outward);
        let off = (Point::new(p[0], p[1]) - at).dot(forward);
        let slope = match row {
            Row::Bend(_) => face.slope(edge.touch(outside_radius), forward),
            Row::Below(_) | Row::Foot(_) => 0.0,
        };
        let height = if let Row::Foot(height) = row { height } else { p[2] - off * slope };
        Some([p[0] - off * forward.x, p[1] - off * forward.y, height])
    }

    /// Height of the face's skin over a place in plan.
    fn face_height(&self, p: Point) -> f64 {
        let thickness = if self.outside { 0.0 } else { self.wall.thickness };
        // A level face to the last bit as its bend's first row.
        self.face
            .map_or_else(|| self.level_row(Row::Bend(0.0)).1, |face| face.skin_height(p, thickness))
    }
}

/// A half-shell's profile with its sides cut into chords.
struct Plan<'a> {
    shell: &'a HalfShell,
    /// Chords of each side.
    steps: Vec<u32>,
    /// Where each side's points begin in a level's, and their count at the end.
    starts: Vec<usize>,
    /// Distance along the profile at which each side begins, mm.
    along: Vec<f64>,
    /// Height over the seam plane of what is z = 0 in the solid.
    zero: f64,
    /// Whether the corner after each side stays open: both walls end square there, in a chord of no
    /// length on the face. Only of the metal.
    opens: Vec<bool>,
}

impl<'a> Plan<'a> {
    fn of(
        shell: &'a HalfShell,
        face: Option<&FormedFace>,
        zero: f64,
        open_corners: &[Point],
    ) -> Self {
        let chords = |segment: &Segment| {
            let along = face.map_or(1, |face| {
                // A face that bends along the run bends its edges.
                let bent = (0..=64)
                    .map(|i| face.bend_at(segment.point_at(f64::from(i) / 64.0)))
                    .fold(0.0, f64::max);
                chords_for(
                    segment.length(),
                    if face.is_unrolled() { bent } else { bent.max(CROWN_BEND) },
                )
            });
            steps_along(segment).max(along)
        };
        let sides = &shell.profile.sides.sides;
        let steps: Vec<u32> = sides.iter().map(|side| chords(&side.segment)).collect();
        let opens_at =
            |corner: Point| open_corners.iter().any(|open| open.distance(corner) < SAME_POINT);
        let opens: Vec<bool> = sides.iter().map(|side| opens_at(side.segment.to())).collect();
        let mut starts = vec![0];
        for (count, opens) in steps.iter().zip(&opens) {
            starts.push(starts[starts.len() - 1] + *count as usize + usize::from(*opens));
        }
        let mut along = vec![0.0];
        for side in &shell.profile.sides.sides {
            along.push(along[along.len() - 1] + side.segment.length());
        }
        Self { shell, steps, starts, along, zero, opens }
    }

    fn walled(&self, side: usize) -> bool {
        has_wall(self.shell, side)
    }

    fn count(&self) -> usize {
        self.steps.len()
    }

    /// The outline of a skin at a row, open edges on the profile. None where a side vanishes.
    fn level(&self, skin: &Skin, row: Row) -> Option<Level> {
        let sides = &self.shell.profile.sides;
        let inset = skin.level_row(row).0;
        let shift = |i: usize| if self.walled(i) { inset } else { 0.0 };
        let mut spans = spans_left(sides, &shift)?;
        let count = self.count();
        if self.opens.contains(&true) {
            let inset = skin.level_row(Row::Bend(0.0)).0;
            let square = spans_left(sides, &|i| if self.walled(i) { inset } else { 0.0 })?;
            for i in (0..count).filter(|i| self.opens[*i]) {
                spans[i].1 = square[i].1;
                spans[(i + 1) % count].0 = square[(i + 1) % count].0;
            }
        }
        let mut points = Vec::with_capacity(self.starts[self.count()]);
        let place = |side: usize, u: f64| {
            let segment = &sides.sides[side].segment;
            let along = self.along[side]
                + if skin.face.is_some() {
                    segment.between(0.0, u).length() * u.signum()
                } else {
                    0.0
                };
            skin.place((segment.point_at(u), -left_of(segment.tangent_at(u)), along), row)
        };
        if skin.face.is_some() {
            self.meet_where_they_stand(&place, &mut spans);
        }
        for (i, side) in sides.sides.iter().enumerate() {
            let (from, to) = spans[i];
            for k in 0..self.steps[i] {
                let u = from + (to - from) * f64::from(k) / f64::from(self.steps[i]);
                if side.segment.curvature_at(u) * shift(i) >= 1.0 || to <= from {
                    return None;
                }
                let before = (i + self.count() - 1) % self.count();
                let [x, y, z] = if self.walled(i) {
                    place(i, u)?
                } else {
                    let p = side.segment.point_at(u);
                    // The wall before an open edge ends on it.
                    let height = match row {
                        Row::Foot(height) => height,
                        _ if k == 0 && self.walled(before) => place(before, spans[before].1)?[2],
                        _ => skin.face_height(p),
                    };
                    [p.x, p.y, height]
                };
                points.push([x, y, z - self.zero]);
            }
            if self.opens[i] {
                let [x, y, z] = place(i, to)?;
                points.push([x, y, z - self.zero]);
            }
        }
        if matches!(row, Row::Bend(share) if share == 0.0) {
            for i in (0..count).filter(|i| self.opens[*i]) {
                points[self.starts[i + 1] - 1] = points[self.starts[i + 1] % self.starts[count]];
            }
        }
        Some(Level { points, spans })
    }

    /// Ends walls whose insets change along them where they meet their neighbours and open edges;
    /// what finds no such place stays as it is.
    fn meet_where_they_stand(
        &self,
        place: &dyn Fn(usize, f64) -> Option<[f64; 3]>,
        spans: &mut [(f64, f64)],
    ) {
        let sides = &self.shell.profile.sides;
        let at = |side: usize, u: f64| {
            if self.walled(side) {
                place(side, u).map(|p| Point::new(p[0], p[1]))
            } else {
                Some(sides.sides[side].segment.point_at(u))
            }
        };
        for i in 0..self.count() {
            let next = (i + 1) % self.count();
            let (one, two) = (self.walled(i), self.walled(next));
            let runs_on = one && two && sides.turn_before(next).abs() < SMOOTH_JOINT;
            if self.opens[i] || runs_on || !(one || two) {
                continue;
            }
            let miss = |u: f64, v: f64| Some(at(i, u)? - at(next, v)?);
            if let Some((u, v)) = root_of_two(&miss, (spans[i].1, spans[next].0)) {
                (spans[i].1, spans[next].0) = (u, v);
            }
        }
    }

    fn levels(&self, skin: &Skin, rows: &[Row]) -> Option<Vec<Level>> {
        rows.iter().map(|&row| self.level(skin, row)).collect()
    }

    /// The band of triangles between two levels along the sides that `on` tells; `a` below or
    /// outside of `b`.
    fn band(&self, a: &Level, b: &Level, on: &dyn Fn(usize) -> bool, surface: &mut Vec<Triangle>) {
        let n = self.starts[self.count()];
        let at = |level: &Level, i: usize| level.points[i % n];
        for side in (0..self.count()).filter(|side| on(*side)) {
            for i in self.starts[side]..self.starts[side + 1] - usize::from(self.opens[side]) {
                surface.push([at(a, i), at(a, i + 1), at(b, i + 1)]);
                surface.push([at(a, i), at(b, i + 1), at(b, i)]);
            }
        }
    }

    /// The ends of the two walls at a corner after a side that stays open.
    fn open_corner(
        &self,
        side: usize,
        outside: &[Level],
        inside: &[Level],
        surface: &mut Vec<Triangle>,
    ) {
        let total = self.starts[self.count()];
        let (before, after) = (self.starts[side + 1] - 1, self.starts[side + 1] % total);
        for (outer, inner) in outside.windows(2).zip(inside.windows(2)) {
            let at = |levels: &[Level], row: usize, i: usize| levels[row].points[i];
            let [a, b, c, d] = [
                at(outer, 0, before),
                at(outer, 1, before),
                at(inner, 1, before),
                at(inner, 0, before),
            ];
            surface.extend([[a, b, c], [a, c, d]]);
            let [a, b, c, d] = [
                at(outer, 0, after),
                at(outer, 1, after),
                at(inner, 1, after),
                at(inner, 0, after),
            ];
            surface.extend([[b, a, d], [b, d, c]]);
        }
    }

    /// The face of the metal in the plane of an open edge: the sections of the walls that end
    /// there, and the sheet between them.
    fn open_end(
        &self,
        side: usize,
        outside: &[Level],
        inside: &[Level],
        surface: &mut Vec<Triangle>,
    ) -> Option<()> {
        let n = self.count();
        let segment = &self.shell.profile.sides.sides[side].segment;
        let rows = |neighbour: usize| if self.walled(neighbour) { outside.len() } else { 1 };
        let (first, last) = (rows((side + n - 1) % n), rows((side + 1) % n));
        let total = self.starts[n];
        // Flat coordinates: along the edge, and up.
        let place = |level: &Level, k: u32| {
            let (from, to) = level.spans[side];
            let u = from + (to - from) * f64::from(k) / f64::from(self.steps[side]);
            let i = (self.starts[side] + k as usize) % total;
            (Point::new(u * segment.length(), level.points[i][2]), level.points[i])
        };
        let steps = self.steps[side];
        let mut rim = Vec::new();
        rim.extend(outside[..first].iter().rev().map(|level| place(level, 0)));
        rim.extend((1..steps).map(|k| place(&outside[0], k)));
        rim.extend(outside[..last].iter().map(|level| place(level, steps)));
        rim.extend(inside[..last].iter().rev().map(|level| place(level, steps)));
        rim.extend((1..steps).rev().map(|k| place(&inside[0], k)));
        rim.extend(inside[..first].iter().map(|level| place(level, 0)));
        // The sum makes -0 to 0.
        let key = |p: Point| ((p.x + 0.0).to_bits(), (p.y + 0.0).to_bits());
        let spatial: BTreeMap<_, _> =
            rim.iter().map(|(flat, space)| (key(*flat), *space)).collect();
        let outline = Polyarc::polygon(rim.iter().map(|(flat, _)| *flat));
        for [a, b, c] in triangulate(&outline, &[], SOLID_CHORD)? {
            surface.push([*spatial.get(&key(a))?, *spatial.get(&key(b))?, *spatial.get(&key(c))?]);
        }
        Some(())
    }
}

/// Where a function of two parameters of sides vanishes, by Newton's method from a near place, each
/// step halved until it leads nearer: the function may have kinks. None where it does not settle.
fn root_of_two(
    miss: &dyn Fn(f64, f64) -> Option<Vec2>,
    (mut u, mut v): (f64, f64),
) -> Option<(f64, f64)> {
    let h = 1e-6;
    let mut m = miss(u, v)?;
    for _ in 0..40 {
        if m.hypot() < 1e-9 {
            return Some((u, v));
        }
        let du = (miss(u + h, v)? - miss(u - h, v)?) / (2.0 * h);
        let dv = (miss(u, v + h)? - miss(u, v - h)?) / (2.0 * h);
        let determinant = du.cross(dv);
        if determinant.abs() < 1e-9 {
            return None;
        }
        let (step_u, step_v) = (m.cross(dv) / determinant, du.cross(m) / determinant);
        let nearer = |share: f64| {
            let to = (u - share * step_u, v - share * step_v);
            miss(to.0, to.1).filter(|left| left.hypot() < m.hypot()).map(|left| (to, left))
        };
        ((u, v), m) = [1.0, 0.5, 0.25, 0.125].into_iter().find_map(nearer)?;
    }
    None
}

/// How many chords keep within the solid's tolerance of a segment.
fn steps_along(segment: &Segment) -> u32 {
    if segment.is_straight() {
        return 1;
    }
    let curvature =
        (0..=16).map(|i| segment.curvature_at(f64::from(i) / 16.0).abs()).fold(1e-9, f64::max);
    chords_for(segment.length(), curvature).max(2)
}

/// How many chords keep within the solid's tolerance of a line of that length and curvature.
fn chords_for(length: f64, curvature: f64) -> u32 {
    let chord = (8.0 * SOLID_CHORD / curvature.max(1e-9)).sqrt();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 1..=2000"
    )]
    let steps = (length / chord).ceil().clamp(1.0, 2000.0) as u32;
    steps
}

/// The cap over a level that is the face's edge, with holes in it, facing up or down, cut into the
/// same triangles as one over `like`, whose outline differs by little: so the sheet between two
/// caps is as thick everywhere. None where it cannot be cut into triangles.
fn face_cap(
    (level, like): (&Level, &Level),
    skin: &Skin,
    zero: f64,
    openings: &[Polyarc],
    up: bool,
    surface: &mut Vec<Triangle>,
) -> Option<()> {
    let points = level.around();
    let mut push = |a: [f64; 3], b: [f64; 3], c: [f64; 3]| {
        surface.push(if up { [a, b, c] } else { [a, c, b] });
    };
    let lift = |p: Point| [p.x, p.y, skin.face_height(p) - zero];
    if skin.face.is_none() {
        let outline = Polyarc::polygon(points.iter().map(|p| Point::new(p[0], p[1])));
        for [a, b, c] in triangulate(&outline, openings, SOLID_CHORD)? {
            push(lift(a), lift(b), lift(c));
        }
        return Some(());
    }
    let like = like.around();
    let mut outlines = vec![like.iter().map(|p| [p[0], p[1]]).collect::<Vec<_>>()];
    outlines.extend(
        openings.iter().map(|opening| rim_of(opening).iter().map(|p| [p.x, p.y]).collect()),
    );
    let bounds = Polyarc::polygon(like.iter().map(|p| Point::new(p[0], p[1]))).bounds();
    let mesh =
        mesh_face(&outlines, (bounds.width().min(bounds.height()) / FACE_CELLS).max(1.0)).ok()?;
    let places: Vec<[f64; 3]> = (0..mesh.points.len())
        .map(|i| {
            points
                .get(i)
                .copied()
                .unwrap_or_else(|| lift(Point::new(mesh.points[i][0], mesh.points[i][1])))
        })
        .collect();
    for [a, b, c] in mesh.triangles {
        push(places[a], places[b], places[c]);
    }
    Some(())
}

/// An opening as the caps have it: walked with the metal on the left.
fn rim_of(opening: &Polyarc) -> Vec<Point> {
    opening.clone().counter_clockwise().reversed().flatten(SOLID_CHORD)
}

/// The buck as a solid, where the shell of [`formed_solid`] lies on it: its face is at z = -T where
/// it is highest, the block goes down to its height, its edge is rounded where a wall goes down,
/// and its walls lean under by its undercut. None where its surface closes on itself.
#[must_use]
pub fn buck_solid(
    shell: &HalfShell,
    wall: &Wall,
    face: Option<&FormedFace>,
    buck: &BuckSet,
) -> Option<Vec<Triangle>> {
    let skin = Skin { wall, face, outside: false, under: buck.undercut.radians() };
    let zero = wall.depth + shell.crown.mm();
    let plan = Plan::of(shell, face, zero, &[]);
    // The inside line of the wall's section, carried on down to the block's foot.
    let mut rows = Skin::rows();
    rows.pop();
    rows.push(Row::Foot(zero - wall.thickness - buck.height));
    let levels = plan.levels(&skin, &rows)?;
    let mut surface = Vec::new();
    for pair in levels.windows(2) {
        plan.band(&pair[1], &pair[0], &|_| true, &mut surface);
    }
    face_cap((&levels[0], &levels[0]), &skin, zero, &[], true, &mut surface)?;
    let foot = levels.last()?;
    let outline = Polyarc::polygon(foot.points.iter().map(|p| Point::new(p[0], p[1])));
    for [a, b, c] in triangulate(&outline, &[], SOLID_CHORD)? {
        surface.push([a, c, b].map(|p| [p.x, p.y, foot.points[0][2]]));
    }
    Some(surface)
}

/// The formed shell as a solid of the sheet's thickness: outside of the face at z = 0 where it is
/// highest, walls down, cut off square at open edges; at `open_corners` of the profile both walls
/// end square, with a gap between them. None where its surface closes on itself.
#[must_use]
pub fn formed_solid(
    shell: &HalfShell,
    wall: &Wall,
    face: Option<&FormedFace>,
    openings: &[Polyarc],
    open_corners: &[Point],
) -> Option<Vec<Triangle>> {
    let plan = Plan::of(shell, face, wall.depth + shell.crown.mm(), open_corners);
    let [outer, inner] = [true, false].map(|outside| Skin::of_shell(wall, face, outside));
    let outside = plan.levels(&outer, &Skin::rows())?;
    let inside = plan.levels(&inner, &Skin::rows())?;
    let walled = |side: usize| plan.walled(side);
    let mut surface = Vec::new();
    for pair in outside.windows(2) {
        plan.band(&pair[1], &pair[0], &walled, &mut surface);
    }
    for pair in inside.windows(2) {
        plan.band(&pair[0], &pair[1], &walled, &mut surface);
    }
    // The wall's end, from the inside line to the outside one.
    plan.band(inside.last()?, outside.last()?, &walled, &mut surface);
    for side in (0..plan.count()).filter(|side| !plan.walled(*side)) {
        plan.open_end(side, &outside, &inside, &mut surface)?;
    }
    for side in (0..plan.count()).filter(|side| plan.opens[*side]) {
        plan.open_corner(side, &outside, &inside, &mut surface);
    }
    face_cap((&outside[0], &outside[0]), &outer, plan.zero, openings, true, &mut surface)?;
    face_cap((&inside[0], &outside[0]), &inner, plan.zero, openings, false, &mut surface)?;
    for opening in openings {
        let rim = rim_of(opening);
        let on = |skin: &Skin, p: &Point| [p.x, p.y, skin.face_height(*p) - plan.zero];
        let (top, bottom) = (|p: &Point| on(&outer, p), |p: &Point| on(&inner, p));
        for (b, a) in rim.iter().zip(rim.iter().cycle().skip(1)) {
            surface.extend([[top(a), top(b), bottom(b)], [top(a), bottom(b), bottom(a)]]);
        }
    }
    Some(surface)
}

/// A skin of the formed shell from its face down to the seam plane, facing out, the face's
/// triangles last; z = 0 in the seam plane. None where it closes on itself.
pub(crate) fn skin_surface(
    shell: &HalfShell,
    wall: &Wall,
    face: Option<&FormedFace>,
    outside: bool,
) -> Option<Vec<Triangle>> {
    Some(skin_with_face(shell, wall, face, outside)?.0)
}

/// As [`skin_surface`], with the number of triangles that are not the face's.
fn skin_with_face(
    shell: &HalfShell,
    wall: &Wall,
    face: Option<&FormedFace>,
    outside: bool,
) -> Option<(Vec<Triangle>, usize)> {
    let plan = Plan::of(shell, face, 0.0, &[]);
    let skin = Skin::of_shell(wall, face, outside);
    let levels = plan.levels(&skin, &Skin::rows())?;
    let mut surface = Vec::new();
    for pair in levels.windows(2) {
        plan.band(&pair[1], &pair[0], &|side| plan.walled(side), &mut surface);
    }
    let walls = surface.len();
    let like = plan.level(&Skin::of_shell(wall, face, true), Row::Bend(0.0))?;
    face_cap((&levels[0], &like), &skin, 0.0, &[], true, &mut surface)?;
    Some((surface, walls))
}

/// What stands under a skin of the formed shell down to the seam plane: ∫ dV, ∫ x dV, ∫ y dV, in
/// mm³ and mm⁴. None where it closes on itself.
#[must_use]
pub fn under_skin(
    shell: &HalfShell,
    wall: &Wall,
    face: Option<&FormedFace>,
    outside: bool,
) -> Option<[f64; 3]> {
    let skin = Skin::of_shell(wall, face, outside);
    let (surface, walls) = skin_with_face(shell, wall, face, outside)?;
    let mut sums = [0.0; 3];
    for (i, [a, b, c]) in surface.into_iter().enumerate() {
        // The prism from the seam plane up to the surface, by the rule of the sides' middles: exact
        // for the parabolas of a crown.
        let area = ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) / 2.0;
        for (p, q) in [(a, b), (b, c), (c, a)] {
            let middle = Point::new(f64::midpoint(p[0], q[0]), f64::midpoint(p[1], q[1]));
            let height =
                if i < walls { f64::midpoint(p[2], q[2]) } else { skin.face_height(middle) };
            let share = area / 3.0 * height;
            sums[0] += share;
            sums[1] += share * middle.x;
            sums[2] += share * middle.y;
        }
    }
    Some(sums)
}
