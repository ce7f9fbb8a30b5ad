//! The buck and the formed shell as closed surfaces of triangles, for pictures, printing and checking.

use std::collections::BTreeMap;

use super::BuckSet;
use crate::flat::half_shell::has_wall;
use crate::formed::Wall;
use crate::geom::{Point, Polyarc, Segment, left_of, spans_left, triangulate};
use crate::part::HalfShell;
use crate::tolerance::{SOLID_CHORD, SOLID_STEPS_OF_BEND};

/// A triangle in space, mm, counter-clockwise seen from outside.
pub type Triangle = [[f64; 3]; 3];

/// The profile's outline at one height, cut into as many chords on every level, so that levels join point to point.
struct Level {
    /// The points of all sides in order; a side's last point is the next one's first.
    points: Vec<Point>,
    /// What is left of each side at this inset, as a stretch of its parameter.
    spans: Vec<(f64, f64)>,
    height: f64,
}

/// A half-shell's profile with its sides cut into chords.
struct Plan<'a> {
    shell: &'a HalfShell,
    /// Chords of each side.
    steps: Vec<u32>,
    /// Where each side's points begin in a level's, and their count at the end.
    starts: Vec<usize>,
}

impl<'a> Plan<'a> {
    fn of(shell: &'a HalfShell) -> Self {
        let steps: Vec<u32> = shell.profile.sides.sides.iter().map(|side| steps_along(&side.segment)).collect();
        let mut starts = vec![0];
        for count in &steps {
            starts.push(starts[starts.len() - 1] + *count as usize);
        }
        Self { shell, steps, starts }
    }

    fn walled(&self, side: usize) -> bool {
        has_wall(self.shell, side)
    }

    fn count(&self) -> usize {
        self.steps.len()
    }

    /// The outline with every wall `inset` mm inside the profile and open edges on it. None where a side vanishes.
    fn level(&self, (inset, height): (f64, f64)) -> Option<Level> {
        let sides = &self.shell.profile.sides;
        let shift = |i: usize| if self.walled(i) { inset } else { 0.0 };
        let spans = spans_left(sides, &shift)?;
        let mut points = Vec::with_capacity(self.starts[self.count()]);
        for (i, side) in sides.sides.iter().enumerate() {
            let (from, to) = spans[i];
            for k in 0..self.steps[i] {
                let u = from + (to - from) * f64::from(k) / f64::from(self.steps[i]);
                if side.segment.curvature_at(u) * shift(i) >= 1.0 || to <= from {
                    return None;
                }
                points.push(side.segment.point_at(u) + left_of(side.segment.tangent_at(u)) * shift(i));
            }
        }
        Some(Level { points, spans, height })
    }

    fn levels(&self, section: &[(f64, f64)]) -> Option<Vec<Level>> {
        section.iter().map(|&row| self.level(row)).collect()
    }

    /// The band of triangles between two levels along the sides that `on` tells; `a` below or outside of `b`.
    fn band(&self, a: &Level, b: &Level, on: &dyn Fn(usize) -> bool, surface: &mut Vec<Triangle>) {
        let n = self.starts[self.count()];
        let at = |level: &Level, i: usize| in_space(level.points[i % n], level.height);
        for side in (0..self.count()).filter(|side| on(*side)) {
            for i in self.starts[side]..self.starts[side + 1] {
                surface.push([at(a, i), at(a, i + 1), at(b, i + 1)]);
                surface.push([at(a, i), at(b, i + 1), at(b, i)]);
            }
        }
    }

    /// The face of the metal in the plane of an open edge: the sections of the walls that end there, and the sheet between them.
    fn open_end(&self, side: usize, outside: &[Level], inside: &[Level], surface: &mut Vec<Triangle>) -> Option<()> {
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
            (Point::new(u * segment.length(), -level.height), in_space(level.points[i], level.height))
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
        let spatial: BTreeMap<_, _> = rim.iter().map(|(flat, space)| (key(*flat), *space)).collect();
        let outline = Polyarc::polygon(rim.iter().map(|(flat, _)| *flat));
        for [a, b, c] in triangulate(&outline, &[], SOLID_CHORD)? {
            surface.push([*spatial.get(&key(a))?, *spatial.get(&key(b))?, *spatial.get(&key(c))?]);
        }
        Some(())
    }
}

/// A point `height` mm below the outside of the face.
fn in_space(point: Point, height: f64) -> [f64; 3] {
    [point.x, point.y, -height]
}

/// How many chords keep within the solid's tolerance of a segment.
fn steps_along(segment: &Segment) -> u32 {
    if segment.is_straight() {
        return 1;
    }
    let curvature = (0..=16).map(|i| segment.curvature_at(f64::from(i) / 16.0).abs()).fold(1e-9, f64::max);
    let chord = (8.0 * SOLID_CHORD / curvature).sqrt();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 2..=2000")]
    let steps = (segment.length() / chord).ceil().clamp(2.0, 2000.0) as u32;
    steps
}

/// The flat cap over a level, with holes in it, facing up or down. None where it cannot be cut into triangles.
fn cap(level: &Level, openings: &[Polyarc], up: bool, surface: &mut Vec<Triangle>) -> Option<()> {
    let outline = Polyarc::polygon(level.points.iter().copied());
    for [a, b, c] in triangulate(&outline, openings, SOLID_CHORD)? {
        let at = |p: Point| in_space(p, level.height);
        surface.push(if up { [at(a), at(b), at(c)] } else { [at(a), at(c), at(b)] });
    }
    Some(())
}

/// The buck as a solid: face up at z = 0, block down to its height, edge rounded where a wall goes down. None where its surface closes on
/// itself.
#[must_use]
pub fn buck_solid(shell: &HalfShell, wall: &Wall, buck: &BuckSet) -> Option<Vec<Triangle>> {
    let plan = Plan::of(shell);
    // The inside line of the wall's section, carried on down to the block's foot; heights from the block's own face.
    let mut section: Vec<(f64, f64)> =
        wall.line(false, SOLID_STEPS_OF_BEND).into_iter().map(|(inset, height)| (inset, height - wall.thickness)).collect();
    let (inset, height) = section.pop()?;
    let down = buck.height - height;
    section.push((inset - down * wall.lean().tan(), buck.height));
    let levels = plan.levels(&section)?;
    let mut surface = Vec::new();
    for pair in levels.windows(2) {
        plan.band(&pair[1], &pair[0], &|_| true, &mut surface);
    }
    cap(&levels[0], &[], true, &mut surface)?;
    cap(levels.last()?, &[], false, &mut surface)?;
    Some(surface)
}

/// The formed shell as a solid of the sheet's thickness: outside of the face at z = 0, walls down, cut off square at open edges. None where
/// its surface closes on itself.
#[must_use]
pub fn formed_solid(shell: &HalfShell, wall: &Wall, openings: &[Polyarc]) -> Option<Vec<Triangle>> {
    let plan = Plan::of(shell);
    let outside = plan.levels(&wall.line(true, SOLID_STEPS_OF_BEND))?;
    let inside = plan.levels(&wall.line(false, SOLID_STEPS_OF_BEND))?;
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
    cap(&outside[0], openings, true, &mut surface)?;
    cap(&inside[0], openings, false, &mut surface)?;
    for opening in openings {
        // The very points that the caps have, which are walked with the metal on the left.
        let rim = opening.clone().counter_clockwise().reversed().flatten(SOLID_CHORD);
        let top = |p: &Point| in_space(*p, outside[0].height);
        let bottom = |p: &Point| in_space(*p, inside[0].height);
        for (b, a) in rim.iter().zip(rim.iter().cycle().skip(1)) {
            surface.extend([[top(a), top(b), bottom(b)], [top(a), bottom(b), bottom(a)]]);
        }
    }
    Some(surface)
}
