//! The solids of buck and shell: closed, and as large as they must be.

use std::f64::consts::PI;

use indoc::formatdoc;
use planish::buck::{Triangle, buck_solid, formed_solid};
use planish::make::{FileOptions, Wanted, part_files};
use planish::part::HalfShell;
use planish::shell::Wall;

use super::shells::Sizes;
use super::symmetry::any_outline;
use crate::support::asserts::{assert_held, assert_near};
use crate::support::dice::Dice;
use crate::support::outlines::Walk;
use crate::support::parts::{half_shell, made, part_and_made, try_make};
use crate::support::space::{cut_at, is_closed, volume};

struct Solids {
    shell: HalfShell,
    wall: Wall,
    buck: Vec<Triangle>,
    formed: Vec<Triangle>,
    height: f64,
    undercut: f64,
}

fn solids(yaml: &str) -> Option<Solids> {
    let made = try_make(yaml).ok()?;
    let shell = half_shell(yaml);
    let wall = made.flat.forming.as_ref().expect("walls").wall;
    let set = made.buck.as_ref().expect("a buck");
    let buck =
        buck_solid(&shell, &wall, made.flat.forming.as_ref().and_then(|f| f.face.as_ref()), set)
            .unwrap_or_else(|| panic!("no buck\n{yaml}"));
    let formed = formed_solid(
        &shell,
        &wall,
        made.flat.forming.as_ref().and_then(|f| f.face.as_ref()),
        &made.flat.openings,
        &[],
    )
    .unwrap_or_else(|| panic!("no shell\n{yaml}"));
    Some(Solids { shell, wall, buck, formed, height: set.height, undercut: set.undercut.radians() })
}

/// Volume between heights of a convex outline whose inset at height z is `inset(z)`: the integral
/// of Steiner's area, by Simpson's rule.
fn stacked(area: f64, length: f64, from: f64, to: f64, inset: impl Fn(f64) -> f64) -> f64 {
    let at = |z: f64| area - length * inset(z) + PI * inset(z).powi(2);
    let n = 2000;
    let h = (to - from) / f64::from(n);
    (0..n)
        .map(|i| {
            let z = from + h * f64::from(i);
            (at(z) + 4.0 * at(z + h / 2.0) + at(z + h)) * h / 6.0
        })
        .sum()
}

/// Inset of the outside skin (or the inside one) at a height below the outside of the face, from
/// the wall's sizes by hand; the bend turns on by `under` more radians than the wall's angle, and
/// the wall goes on from there.
fn skin(sizes: &Sizes, outside: bool, under: f64, z: f64) -> f64 {
    let radius = if outside { sizes.radius + sizes.thickness } else { sizes.radius };
    let centre = sizes.radius + sizes.thickness;
    let angle = sizes.angle() + under;
    let end_of_bend = centre - radius * angle.cos();
    if z <= end_of_bend {
        let down = ((centre - z) / radius).clamp(-1.0, 1.0);
        sizes.inset() - radius * (1.0 - down * down).sqrt()
    } else {
        sizes.inset() - radius * angle.sin() - (z - end_of_bend) / angle.tan()
    }
}

/// Convex rounded shells: buck and shell are stacks of inset outlines. Chords of arcs stray 0.05
/// mm, so volumes may miss by that times the surface.
#[test]
fn solids_of_convex_shells_have_their_volume() {
    let mut dice = Dice(40);
    let mut held = 0;
    for _ in 0..12 {
        let sizes = Sizes::random(&mut dice);
        let (count, corner) = (dice.whole(3, 8), sizes.inset() + dice.between(4.0, 40.0));
        let walk = Walk::convex(&mut dice, count, 4.0 * corner + 120.0, corner);
        let Some(solids) = solids(&sizes.yaml(&walk.yaml(1.0), "", false)) else { continue };
        held += 1;
        assert!(is_closed(&solids.buck) && is_closed(&solids.formed));
        let (area, length) =
            (solids.shell.profile.sides.area(), solids.shell.profile.sides.length());
        let t = sizes.thickness;
        let foot = t + solids.height;
        let wanted = stacked(area, length, t, foot, |z| skin(&sizes, false, solids.undercut, z));
        let error = 0.05 * (length * foot + 2.0 * PI * sizes.radius * length);
        assert_near("buck", volume(&solids.buck), wanted, error);
        let lip = solids.wall.line(true, 4).pop().expect("points").1;
        let outside = stacked(area, length, 0.0, lip, |z| skin(&sizes, true, 0.0, z));
        // The wall's end is square to the wall: the inside skin ends higher where the wall leans.
        let inner = lip - t * sizes.draft.to_radians().sin();
        let inside = stacked(area, length, t, inner, |z| skin(&sizes, false, 0.0, z));
        let rim = stacked(area, length, inner, lip, |z| {
            let share = (z - inner) / (lip - inner).max(1e-12);
            let (from, to) = (skin(&sizes, false, 0.0, inner), skin(&sizes, true, 0.0, lip));
            from + (to - from) * share
        });
        // With a lean the ring between the two ends is a cone, whose inside counts as empty.
        let hollow = if sizes.draft > 0.0 { inside + rim } else { inside };
        assert_near("shell", volume(&solids.formed), outside - hollow, 2.0 * error);
    }
    assert_held(9, held, 12);
}

/// Straight walls with open ends: the shell is a prism on its section. Its section by hand: face,
/// two bends of N T (R + T/2), two walls. The flat takes N T (R + K T) for a bend, so the shell
/// holds (1/2 - K) N T² a bend more.
#[test]
fn solids_of_open_channels_are_prisms() {
    let mut dice = Dice(41);
    for _ in 0..12 {
        let sizes = Sizes::random(&mut dice);
        let (a, b) = (240.0, 100.0 + 3.0 * sizes.inset());
        let yaml = sizes.yaml(
            &format!("{{rectangle: {{size: [{a}, {b:.13}]}}}}"),
            "  open_edges: [left, right]\n  openings: [{circle: {diameter: 20, at: [30, 4]}}]\n",
            false,
        );
        let solids = solids(&yaml).expect("a channel");
        assert!(is_closed(&solids.buck), "buck");
        assert!(is_closed(&solids.formed), "shell");
        let t = sizes.thickness;
        // A bend is cut into 12 flats, inscribed in both its skins.
        let step = sizes.angle() / 12.0;
        let shrunk = step.sin() / step;
        let bend = sizes.angle() * t * (sizes.radius + t / 2.0) * shrunk;
        let wall = t * (sizes.width() - sizes.allowance());
        let section = t * (b - 2.0 * sizes.inset()) + 2.0 * (bend + wall);
        let hole = t * PI * 100.0;
        let found = volume(&solids.formed);
        assert_near("shell", found, a * section - hole, t * 0.05 * 20.0 * PI + 1e-6);
        let net = made(&yaml).flat.net_area() * t;
        let more = 2.0 * a * (0.5 - sizes.k_factor) * sizes.angle() * t * t;
        assert_near(
            "metal",
            found,
            net + more,
            2.0 * a * bend * (1.0 / shrunk - 1.0) + t * 0.05 * 20.0 * PI + 1e-6,
        );
    }
}

/// Every shell that has a blank and holds together has its solids, with corners left sharp, open
/// edges, scoops and curves.
#[test]
fn solids_are_closed() {
    let mut dice = Dice(42);
    let mut done = 0;
    for round in 0..16 {
        let sizes = Sizes::random(&mut dice);
        let mut walk = any_outline(&mut dice, round, &sizes);
        if round % 3 > 0 {
            for corner in &mut walk.0 {
                corner.1 = 0.0;
            }
        }
        let mut more = "";
        if round % 3 == 2 {
            let n = walk.0.len();
            walk.0[n - 1].3 = Some("end".to_owned());
            more = "  open_edges: [end]\n";
        }
        let Some(solids) = solids(&sizes.yaml(&walk.yaml(1.0), more, false)) else { continue };
        done += 1;
        assert!(is_closed(&solids.buck), "buck {round}");
        assert!(is_closed(&solids.formed), "shell {round}");
        assert!(volume(&solids.buck) > 0.0 && volume(&solids.formed) > 0.0);
    }
    assert_held(14, done, 16);
}

/// A rail 60 wide with open ends on its buck, in one system of coordinates: laid over each other
/// the two touch at the face and where the bend ends, and below it the buck stands off by the
/// undercut, h tan u, and nowhere in the metal. Level and tapered.
#[test]
fn the_buck_fits_into_its_shell_and_leans_under() {
    for (depth, slope) in
        [("30", 0.0_f64), ("{stations: [{at: 0, depth: 40}, {at: 200, depth: 30}]}", 0.05)]
    {
        for undercut in [0.0_f64, 2.0, 5.0] {
            let yaml = formatdoc!(
                "
                part: rail
                units: mm
                material: 4130-annealed
                thickness: 1.6
                half_shell:
                  profile: {{path: [[0, -30], {{to: [200, -30]}}, {{to: [200, 30], edge: far}}, {{to: [0, 30]}}, {{to: [0, -30], edge: near}}]}}
                  depth: {depth}
                  edge_radius: 4.8
                  open_edges: [near, far]
                buck: {{undercut: {undercut}}}
                "
            );
            let solids = solids(&yaml).expect("a rail");
            assert!(is_closed(&solids.buck) && is_closed(&solids.formed));
            // Half widths at a height of the section at x = 100, from the triangles that cross
            // there.
            let widths = |surface: &[Triangle], z: f64| -> Vec<f64> {
                let mut found: Vec<f64> = cut_at(surface, 100.0)
                    .into_iter()
                    .filter_map(|(a, b)| {
                        let share = (z - a[2]) / (b[2] - a[2]);
                        (a[2] != b[2] && (0.0..1.0).contains(&share))
                            .then(|| (a[1] + (b[1] - a[1]) * share).abs())
                    })
                    .collect();
                found.sort_by(f64::total_cmp);
                found
            };
            let top = |surface: &[Triangle]| {
                cut_at(surface, 100.0)
                    .into_iter()
                    .flat_map(|(a, b)| [a, b])
                    .map(|p| p[2])
                    .fold(f64::NEG_INFINITY, f64::max)
            };
            // The face's outside falls by the slope; square to it the metal is 1.6 thick.
            let at = -100.0 * slope;
            assert_near("shell's face", top(&solids.formed), at, 1e-6);
            assert_near(
                "buck's face",
                top(&solids.buck),
                at - 1.6 * (1.0 + slope * slope).sqrt(),
                1e-6,
            );
            let (mut met, mut below) = (0, 0);
            for step in 1..28 {
                let z = at - f64::from(step);
                let (Some(buck), Some(shell)) = (
                    widths(&solids.buck, z).last().copied(),
                    widths(&solids.formed, z).first().copied(),
                ) else {
                    continue;
                };
                met += 1;
                // Chords of the bend stray by r (1 - cos 4 degrees) = 0.01 mm.
                assert!(buck <= shell + 0.02, "{depth}, {undercut}: {buck} in {shell} at {z}");
                let from_bend = at - 6.4 - z;
                if from_bend > 1.0 {
                    below += 1;
                    let wanted = undercut.to_radians();
                    let off = 4.8 * (1.0 - wanted.cos())
                        + (from_bend - 4.8 * wanted.sin()) * wanted.tan();
                    assert_near("stands off", shell - buck, off, 0.02);
                }
            }
            assert_held(25, met, 27);
            assert_held(18, below, met);
        }
    }
}

/// A box whose corners stay open is a face with four flaps that end square: its metal is theirs,
/// and at the seam the flaps stand the bend's width off the corners of the outline. With a crown,
/// and with a taper, the surface closes too.
#[test]
fn open_corners_stay_open_in_the_solid() {
    let mut dice = Dice(44);
    let (mut held, mut level) = (0, 0);
    for round in 0..9 {
        let sizes = Sizes::random(&mut dice);
        let (a, b) = (
            dice.between(90.0, 400.0) + 2.0 * sizes.inset(),
            dice.between(80.0, 200.0) + 2.0 * sizes.inset(),
        );
        let profile = format!("{{rectangle: {{size: [{a:.9}, {b:.9}]}}}}");
        let key = ["", "  crown: 2\n", "  crown: 1\n"][round % 3];
        let yaml = sizes.yaml(&profile, &format!("  join: open\n{key}"), false);
        let Ok(made) = try_make(&yaml) else { continue };
        held += 1;
        let shell = half_shell(&yaml);
        let forming = made.flat.forming.as_ref().expect("walls");
        let corners: Vec<planish::geom::Point> =
            forming.corners.iter().map(|corner| corner.at).collect();
        assert_eq!(corners.len(), 4);
        let formed = formed_solid(&shell, &forming.wall, forming.face.as_ref(), &[], &corners)
            .expect("a solid");
        assert!(is_closed(&formed), "{yaml}");
        if key.is_empty() {
            level += 1;
            let (x, y, t) = (a - 2.0 * sizes.inset(), b - 2.0 * sizes.inset(), sizes.thickness);
            let straight = sizes.depth / sizes.draft.to_radians().cos() - sizes.setback();
            let flap = sizes.angle() * (sizes.radius + t / 2.0) + straight;
            let wanted = t * (x * y + 2.0 * (x + y) * flap);
            assert_near("volume", volume(&formed), wanted, 2e-3 * wanted);
            // The outside's end, below which the inside's lies where walls lean.
            let at_seam = formed.iter().flatten().filter(|p| (p[2] + sizes.depth).abs() < 1e-9);
            let near = at_seam.map(|p| {
                corners
                    .iter()
                    .map(|c| c.distance((p[0], p[1]).into()))
                    .fold(f64::INFINITY, f64::min)
            });
            assert_near("off the corner", near.fold(f64::INFINITY, f64::min), sizes.inset(), 1e-6);
        }
    }
    assert_held(8, held, 9);
    assert_held(2, level, 3);
}

/// An outline that lies to one side of the origin: mirrored, none of its corners is where one was.
#[test]
fn the_other_hand_has_the_same_metal_with_the_same_open_corners() {
    let yaml = formatdoc!(
        "
        part: box
        units: mm
        material: dc04
        thickness: 1.6
        half_shell:
          depth: 24
          edge_radius: 5
          join: open
          profile: {{rectangle: {{size: [120, 80], at: [90, 10]}}}}
        "
    );
    let (part, made) = part_and_made(&yaml);
    let written = part_files(&part, &made, Wanted::All, true, FileOptions::default());
    let written = written.unwrap_or_else(|problems| panic!("{}", problems[0].message));
    let volumes: Vec<f64> = written
        .iter()
        .filter(|file| file.name.ends_with("/formed.stl"))
        .map(|file| {
            let mesh = stl_io::read_stl(&mut std::io::Cursor::new(&file.bytes)).expect("STL");
            let corner = |i: usize| -> [f64; 3] {
                let vertex = mesh.vertices[i];
                [0, 1, 2].map(|k| f64::from(vertex[k]))
            };
            let solid: Vec<Triangle> =
                mesh.faces.iter().map(|face| face.vertices.map(corner)).collect();
            volume(&solid)
        })
        .collect();
    assert_eq!(volumes.len(), 2, "both hands");
    assert_near("the other hand's metal", volumes[1], volumes[0], 1e-5 * volumes[0]);
    // Four flaps and a face; with the corners filled it would be more by some 2 %.
    let (t, radius) = (1.6, 5.0);
    let inset = radius + t;
    let (x, y) = (120.0 - 2.0 * inset, 80.0 - 2.0 * inset);
    let flap = std::f64::consts::FRAC_PI_2 * (radius + t / 2.0) + 24.0 - inset;
    let wanted = t * (x * y + 2.0 * (x + y) * flap);
    assert_near("metal", volumes[0], wanted, 2e-3 * wanted);
}
