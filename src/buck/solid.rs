//! The buck and the formed shell as closed surfaces of triangles, for pictures, printing and checking.

use super::BuckSet;
use crate::flat::half_shell::has_wall;
use crate::formed::Wall;
use crate::geom::{Point, Polyarc, Segment, left_of, triangulate};
use crate::part::HalfShell;
use crate::tolerance::{SOLID_CHORD, SOLID_STEPS_OF_BEND};

/// A triangle in space, mm, counter-clockwise seen from outside.
pub type Triangle = [[f64; 3]; 3];

/// One place along the profile: the point, and the direction in to the face.
struct Place {
    point: Point,
    inward: crate::geom::Vec2,
    walled: bool,
}

/// Places along the profile, close enough together for its curves; a corner has one for each of its sides.
fn places(shell: &HalfShell) -> Vec<Place> {
    let mut places = Vec::new();
    for (i, side) in shell.profile.sides.sides.iter().enumerate() {
        let walled = has_wall(shell, i);
        let steps = steps_along(&side.segment);
        for k in 0..=steps {
            let u = f64::from(k) / f64::from(steps);
            places.push(Place { point: side.segment.point_at(u), inward: left_of(side.segment.tangent_at(u)), walled });
        }
    }
    places
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

/// Rings of points around the part: each of `section`'s (inset, height) at every place; open edges keep the inset 0 and only the face.
fn rings(
    places: &[Place],
    section: &[(f64, f64)],
    face_height: f64,
    base: impl Fn(Point, f64) -> [f64; 3],
) -> Vec<Vec<[f64; 3]>> {
    section
        .iter()
        .map(|&(inset, height)| {
            places
                .iter()
                .map(
                    |place| {
                        if place.walled {
                            base(place.point + place.inward * inset, height)
                        } else {
                            base(place.point, face_height)
                        }
                    },
                )
                .collect()
        })
        .collect()
}

/// The band of triangles between two rings; `a` below or outside of `b`, walked counter-clockwise.
fn band(a: &[[f64; 3]], b: &[[f64; 3]], surface: &mut Vec<Triangle>) {
    let n = a.len();
    for i in 0..n {
        let k = (i + 1) % n;
        surface.push([a[i], a[k], b[k]]);
        surface.push([a[i], b[k], b[i]]);
    }
}

/// The flat cap over a ring, with holes in it, at a height; up or down. None where it cannot be cut into triangles.
fn cap(ring: &[[f64; 3]], openings: &[Polyarc], height: f64, up: bool, surface: &mut Vec<Triangle>) -> Option<()> {
    let outline = Polyarc::polygon(ring.iter().map(|p| Point::new(p[0], p[1])));
    for [a, b, c] in triangulate(&outline.tidied(), openings, SOLID_CHORD)? {
        let at = |p: Point| [p.x, p.y, height];
        surface.push(if up { [at(a), at(b), at(c)] } else { [at(a), at(c), at(b)] });
    }
    Some(())
}

/// The buck as a solid: face up at z = 0, block down to its height, edge rounded. None where its surface closes on itself.
#[must_use]
pub fn buck_solid(shell: &HalfShell, wall: &Wall, buck: &BuckSet) -> Option<Vec<Triangle>> {
    let places = places(shell);
    let thickness = wall.thickness;
    // The inside line of the wall's section, carried on down to the block's foot.
    let mut section: Vec<(f64, f64)> = wall.line(false, SOLID_STEPS_OF_BEND);
    let (inset, height) = *section.last()?;
    let down = buck.height + thickness - height;
    section.push((inset - down * wall.lean().tan(), height + down));
    let foot = -buck.height;
    let rings: Vec<Vec<[f64; 3]>> = section
        .iter()
        .map(|&(inset, height)| {
            let z = thickness - height;
            places
                .iter()
                .map(|place| {
                    let point = if place.walled { place.point + place.inward * inset } else { place.point };
                    [point.x, point.y, z.max(foot)]
                })
                .collect()
        })
        .collect();
    let mut surface = Vec::new();
    for pair in rings.windows(2) {
        band(&pair[1], &pair[0], &mut surface);
    }
    cap(&rings[0], &[], 0.0, true, &mut surface)?;
    cap(rings.last()?, &[], foot, false, &mut surface)?;
    Some(surface)
}

/// The formed shell as a solid of the sheet's thickness: outside of the face at z = 0, walls down. None where its surface closes on itself.
#[must_use]
pub fn formed_solid(shell: &HalfShell, wall: &Wall, openings: &[Polyarc]) -> Option<Vec<Triangle>> {
    let places = places(shell);
    let down = |p: Point, height: f64| [p.x, p.y, -height];
    let outside = rings(&places, &wall.line(true, SOLID_STEPS_OF_BEND), 0.0, down);
    let inside = rings(&places, &wall.line(false, SOLID_STEPS_OF_BEND), wall.thickness, down);
    let mut surface = Vec::new();
    for pair in outside.windows(2) {
        band(&pair[1], &pair[0], &mut surface);
    }
    for pair in inside.windows(2) {
        band(&pair[0], &pair[1], &mut surface);
    }
    // The wall's end, from the inside line to the outside one.
    band(inside.last()?, outside.last()?, &mut surface);
    cap(&outside[0], openings, 0.0, true, &mut surface)?;
    cap(&inside[0], openings, -wall.thickness, false, &mut surface)?;
    for opening in openings {
        let rim = opening.flatten(SOLID_CHORD);
        let at = |z: f64| rim.iter().map(|p| [p.x, p.y, z]).collect::<Vec<_>>();
        band(&at(0.0), &at(-wall.thickness), &mut surface);
    }
    Some(surface)
}
