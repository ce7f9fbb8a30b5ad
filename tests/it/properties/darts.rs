//! Relief darts and strains of walls with trim, by plain geometry on the blank and by the exact
//! ring.

use indoc::{formatdoc, indoc};
use planish::fe::ring::{WallSection, ring};
use planish::finding::Rule;
use planish::geom::{Point, Polyarc, distance_to};
use planish::make::MadePart;
use planish::shell::Dart;

use crate::support::asserts::{assert_held, assert_near};
use crate::support::parts::{made, part, part_and_made};

fn shell(profile: &str, more: &str) -> String {
    formatdoc!(
        "
        part: shell
        units: mm
        material: 4130-annealed
        thickness: 1.6
        half_shell:
          profile: {profile}
          edge_radius: 4.8
        {more}"
    )
}

/// Whether the lines of two darts cross.
fn cross(a: &Dart, b: &Dart) -> bool {
    let lines = |dart: &Dart| dart.mouth.map(|mouth| (mouth, dart.tip));
    let side = |p: Point, q: Point, r: Point| (q - p).cross(r - p);
    lines(a).into_iter().any(|(p, q)| {
        lines(b).into_iter().any(|(r, s)| {
            side(p, q, r) * side(p, q, s) < 0.0 && side(r, s, p) * side(r, s, q) < 0.0
        })
    })
}

/// Every mouth on the cut edge, every tip in the wall clear of its bend, no dart across another.
fn hold(made: &MadePart, yaml: &str) -> usize {
    let forming = made.flat.forming.as_ref().expect("walls");
    let nearest_bend = |p: Point| {
        let zones = made.flat.bend_zones.iter().flatten();
        zones
            .map(|line| {
                let steps = if line.is_straight() { 1 } else { 200 };
                (0..steps)
                    .map(|i| {
                        let (a, b) = (
                            line.point_at(f64::from(i) / f64::from(steps)),
                            line.point_at(f64::from(i + 1) / f64::from(steps)),
                        );
                        let u = ((p - a).dot(b - a) / (b - a).hypot2()).clamp(0.0, 1.0);
                        p.distance(a.lerp(b, u))
                    })
                    .fold(f64::INFINITY, f64::min)
            })
            .fold(f64::INFINITY, f64::min)
    };
    for (i, dart) in forming.darts.iter().enumerate() {
        for mouth in dart.mouth {
            let off = distance_to(&made.flat.outside, mouth);
            assert!(off < 0.05, "a mouth {off} mm off the cut edge\n{yaml}");
        }
        assert!(made.flat.outside.contains(dart.tip), "a tip off the blank\n{yaml}");
        assert!(
            nearest_bend(dart.tip) >= dart.hole / 2.0,
            "a stop hole in the bend at {:?}\n{yaml}",
            dart.tip
        );
        // From the mouth straight to the tip no line of the bend is crossed: the tip lies in the
        // wall and not beyond it, in the face.
        let (from, to) = (dart.middle(), dart.tip);
        for k in 0..=100 {
            let p = from.lerp(to, f64::from(k) / 100.0);
            assert!(nearest_bend(p) > 0.5, "a dart over the bend at {p:?}\n{yaml}");
        }
        for other in &forming.darts[..i] {
            assert!(!cross(dart, other), "darts cross\n{yaml}");
        }
        for line in dart.lines().into_iter().flatten() {
            for p in [line.from(), line.point_at(0.5), line.to()] {
                assert!(
                    made.flat.outside.contains(p) || distance_to(&made.flat.outside, p) < 0.05,
                    "a scribed line off the blank\n{yaml}"
                );
            }
        }
    }
    forming.darts.len()
}

/// The strain that is left where darts are taken out or let in: formed over flat length of the
/// stretches of cut edge that strain beyond caution, somewhere beyond stop, their length along the
/// outline taken between neighbouring samples.
fn strain_left(made: &MadePart, stretches: bool, caution: f64, stop: f64) -> Option<f64> {
    let forming = made.flat.forming.as_ref()?;
    let sign = if stretches { 1.0 } else { -1.0 };
    let cut = planish::geom::Chain::closed(&made.flat.outside);
    let beyond = |e: &planish::shell::EdgeStrain| {
        e.strain * sign > caution && distance_to(&made.flat.outside, e.at) < 0.05
    };
    let n = forming.edge.len();
    let first = forming.edge.iter().position(|e| !beyond(e)).unwrap_or(0);
    let (mut flat, mut formed) = (0.0, 0.0);
    let (mut run, mut most) = ((0.0, 0.0), 0.0_f64);
    for k in 0..=n {
        let (here, next) = (&forming.edge[(first + k) % n], &forming.edge[(first + k + 1) % n]);
        if k < n && beyond(here) {
            most = most.max(here.strain * sign);
            if beyond(next) {
                let span =
                    (cut.nearest(next.at).1 - cut.nearest(here.at).1).rem_euclid(cut.length());
                let span = if span > cut.length() / 2.0 { 0.0 } else { span };
                run =
                    (run.0 + span, run.1 + span * (1.0 + f64::midpoint(here.strain, next.strain)));
            }
        } else {
            if most > stop {
                (flat, formed) = (flat + run.0, formed + run.1);
            }
            (run, most) = ((0.0, 0.0), 0.0);
        }
    }
    let width: f64 =
        forming.darts.iter().filter(|dart| dart.opens == stretches).map(|dart| dart.width).sum();
    if width == 0.0 {
        return None;
    }
    Some(if stretches { (formed - width) / flat - 1.0 } else { 1.0 - formed / (flat - width) })
}

/// Pans, boxes, kidneys, arcs of 30 to 180 degrees, inside and outside, level and not, with and
/// without trim.
#[test]
fn darts_stand_on_the_cut_edge_and_leave_what_is_allowed() {
    let mut profiles = vec![
        ("{circle: {diameter: 120}}".to_owned(), "30", "", false),
        ("{circle: {diameter: 160}}".to_owned(), "34", "", false),
        ("{rectangle: {size: [200, 130], corner_radius: 24}}".to_owned(), "24", "", false),
        (
            "{path: [[0, 0], {through: [[90, -14], [180, 0]]}, {to: [180, 110], via: [240, 55]}, {through: [[90, 80], [0, 110]]}, {to: [0, 0], via: [-60, 55]}]}".to_owned(),
            "22",
            "",
            false,
        ),
    ];
    // An outside arc of each angle: a sector's end between straight sides, its root open.
    for angle in [30.0_f64, 60.0, 90.0, 120.0, 150.0, 180.0] {
        let half = (angle / 2.0).to_radians();
        let (x, y) = (50.0 * half.cos(), 50.0 * half.sin());
        let (dx, dy) = (-half.sin() * 120.0, half.cos() * 120.0);
        let at = |x: f64, y: f64| format!("[{x:.9}, {y:.9}]");
        let round = format!(
            "{{path: [{}, {{to: {}, edge: low}}, {{to: {}, via: [50, 0], edge: tip}}, {{to: {}, edge: high}}, {{to: {}, edge: root}}]}}",
            at(x + dx, -y - dy),
            at(x, -y),
            at(x, y),
            at(x + dx, y + dy),
            at(x + dx, -y - dy)
        );
        if angle >= 120.0 {
            profiles.push((round, "34", "  open_edges: [root]\n", false));
        } else {
            // A rounded corner that turns by the angle, between two straight sides; the others are
            // open.
            let (x, y) =
                (200.0 + 150.0 * angle.to_radians().cos(), 150.0 * angle.to_radians().sin());
            let corner = format!(
                "{{path: [[0, 0], {{to: [200, 0], edge: one, round: 60}}, {{to: {}, edge: two}}, {{to: {}, edge: c}}, {{to: [0, 200], edge: d}}, {{to: [0, 0], edge: e}}]}}",
                at(x, y),
                at(x - 150.0 * angle.to_radians().sin(), y + 150.0 * angle.to_radians().cos()),
            );
            profiles.push((corner, "44", "  open_edges: [c, d, e]\n", false));
        }
        // An inside arc of radius 100 let into the long side of a plate.
        let (sx, cut) = (100.0 * half.sin(), 100.0 * half.cos());
        let scoop = format!(
            "{{path: [[-200, -160], {{to: [200, -160], edge: foot}}, {{to: [200, 0], edge: right}}, {{to: [{sx:.9}, 0], edge: a}}, {{to: [{:.9}, 0], via: [0, {:.9}], edge: scoop}}, {{to: [-200, 0], edge: b}}, {{to: [-200, -160], edge: left}}]}}",
            -sx,
            cut - 100.0
        );
        profiles.push((scoop, "24", "  open_edges: [foot, right, left, a, b]\n", true));
    }
    let mut darts = 0;
    let (mut with_darts, mut left_held) = (0, 0);
    for (profile, depth, more, stretches) in &profiles {
        for trim in [0.0, 4.0] {
            let yaml = shell(profile, &format!("  depth: {depth}\n  trim: {trim}\n{more}"));
            let made = made(&yaml);
            let count = hold(&made, &yaml);
            darts += count;
            with_darts += usize::from(count > 0);
            let limits = part(&yaml).material.edge_limits;
            let limit = if *stretches { limits.stretch } else { limits.shrink };
            if let Some(left) = strain_left(&made, *stretches, limit.caution, limit.stop) {
                left_held += 1;
                assert!(
                    (left / limit.caution - 1.0).abs() < 0.005,
                    "{left} left of {}\n{yaml}",
                    limit.caution
                );
            }
        }
    }
    assert_held(31, with_darts, 2 * profiles.len());
    assert_held(31, left_held, with_darts);
    assert!(darts > 60, "{darts} darts");
}

/// A tapered rail with a round belly, and a crowned round pan.
#[test]
fn darts_of_faces_that_are_not_level_stand_on_the_cut_edge() {
    let rail = "{path: [[0, 0], {to: [300, 0], via: [150, -70], edge: belly}, {to: [300, 160], edge: far}, {to: [0, 160], edge: top}, {to: [0, 0], edge: near}]}";
    let depth = "  depth: {stations: [{at: 0, depth: 66}, {at: 300, depth: 58}]}\n";
    let yaml = shell(rail, &format!("{depth}  trim: 5\n  open_edges: [near, far]\n"));
    let pan = shell("{circle: {diameter: 120}}", "  depth: 30\n  crown: 2\n");
    for yaml in [yaml, pan] {
        assert!(hold(&made(&yaml), &yaml) > 0, "no darts\n{yaml}");
    }
}

/// The pan of 120 whose darts once lay in its face: its edge as cut is at R 83.6, and so are the
/// mouths.
#[test]
fn the_darts_of_a_pan_stand_all_round() {
    let yaml = shell("{circle: {diameter: 120}}", "  depth: 30\n");
    let made = made(&yaml);
    let darts = &made.flat.forming.as_ref().expect("walls").darts;
    let radius = made.flat.outside.bounds().width() / 2.0;
    assert!((radius - 83.6).abs() < 0.1, "{radius}");
    let mut angles: Vec<f64> = darts.iter().map(|dart| dart.middle().to_vec2().atan2()).collect();
    angles.sort_by(f64::total_cmp);
    let apart = std::f64::consts::TAU / darts.len() as f64;
    assert!(angles.windows(2).all(|pair| (pair[1] - pair[0] - apart).abs() < 1e-3), "{angles:?}");
    let circle = Polyarc::circle(Point::ORIGIN, radius);
    assert!(darts.iter().flat_map(|dart| dart.mouth).all(|p| distance_to(&circle, p) < 0.02));
}

/// A pan's strain is that of its edge as cut: the exact ring of the wall with its trim. The
/// finished edge, below the trim, strains as the same ring does at the seam.
#[test]
fn strains_are_those_of_the_edge_as_hammered() {
    for (diameter, depth, trim) in [(160.0, 22.0, 5.0), (160.0, 22.0, 0.0), (120.0, 18.0, 8.0)] {
        let yaml = shell(
            &format!("{{circle: {{diameter: {diameter}}}}}"),
            &format!("  depth: {depth}\n  trim: {trim}\n"),
        );
        let (part, made) = part_and_made(&yaml);
        let forming = made.flat.forming.as_ref().expect("walls");
        // Tangent line at R - 6.4 on the middle surface; bend of 5.6 mid radius; wall of depth -
        // 6.4.
        let section = |wall_length: f64| WallSection {
            tangent_curvature: 1.0 / (diameter / 2.0 - 6.4),
            bend_mid_radius: 5.6,
            bend_angle: std::f64::consts::FRAC_PI_2,
            stretch_of_bend: (4.8 + forming.wall.k_factor * 1.6) / 5.6,
            wall_length,
        };
        let whole = ring(&part.material.sheet_law(), &section(depth - 6.4 + trim)).expect("a ring");
        let seam = whole.at(5.6 * std::f64::consts::FRAC_PI_2 + depth - 6.4);
        let worst = forming.edge.iter().map(|e| -e.strain).fold(0.0, f64::max);
        assert_near("as cut", worst, -whole.edge_hoop_strain.exp_m1(), 1e-9);
        let finished = forming.edge.iter().map(|e| -e.finished).fold(0.0, f64::max);
        assert_near("finished", finished, -seam.hoop_strain.exp_m1(), 1e-9);
        assert!(trim == 0.0 || worst > finished + 0.01);
        // The wall grows in height as it shrinks along: at its edge, in plain compression, by -e
        // r/(1 + r).
        let r = part.material.normal_anisotropy.value;
        let up = (-whole.edge_hoop_strain * r / (1.0 + r)).exp_m1();
        assert!(
            forming.max_stretch() >= up - 1e-9 && forming.max_stretch() < up + 0.02,
            "{} {up}",
            forming.max_stretch()
        );
        assert_near(
            "thickest",
            forming.max_thickness(),
            1.6 * (-whole.edge_hoop_strain / (1.0 + r)).exp(),
            1e-6,
        );
    }
}

/// A curved run of walls with trim: the largest strain is that of the blank whose wall is higher by
/// the trim.
#[test]
fn a_trimmed_wall_strains_as_the_higher_wall_does() {
    let profile = "{path: [[-170, 0], {to: [170, 0], via: [0, 90], edge: belly}, {to: [170, 170], edge: right}, {to: [-170, 170], edge: top}, {to: [-170, 0], edge: left}]}";
    let strain = |depth: f64, trim: f64| {
        let yaml = shell(
            profile,
            &format!("  depth: {depth}\n  trim: {trim}\n  open_edges: [left, top, right]\n"),
        );
        let made = made(&yaml);
        let forming = made.flat.forming.expect("walls");
        assert!(!forming.solved.is_empty());
        let edge = forming.edge.iter().map(|e| e.strain).fold(0.0, f64::max);
        (forming.max_stretch(), forming.finished_edge().0, forming.min_thickness(), edge)
    };
    let (trimmed, higher) = (strain(24.0, 8.0), strain(32.0, 0.0));
    assert_near("stretch", trimmed.0, higher.0, 2e-3);
    assert_near("thinnest", trimmed.2, higher.2, 2e-3);
    assert_near("the higher wall's edge is its finished one", higher.3, higher.1, 1e-12);
    // Elsewhere, by its free ends, the metal stretches no more than a little above that.
    assert_near("nowhere much more than at the edge", higher.0, higher.1, 2e-3);
    assert!(trimmed.1 < trimmed.0 - 0.02, "{trimmed:?}");
}

/// A lip stretches along its edge and so loses height: its metal shrinks up the lip by the strain
/// of plain tension.
#[test]
fn a_lip_shrinks_across_its_edge() {
    let yaml = indoc!(
        "
        part: plate
        units: mm
        material: 4130-annealed
        thickness: 1.6
        plate:
          profile: {rectangle: {size: [120, 120]}}
          openings: [{circle: {diameter: 50}, lip: {height: 8, radius: 2}}]
        "
    );
    let (part, made) = part_and_made(yaml);
    let forming = made.flat.forming.as_ref().expect("a lip");
    let edge = forming.edge[0].strain;
    let r = part.material.normal_anisotropy.value;
    let shrink = -(-edge.ln_1p() * r / (1.0 + r)).exp_m1();
    assert!(
        edge > 0.05
            && forming.max_shrink() >= shrink - 1e-9
            && forming.max_shrink() < shrink + 0.02,
        "{edge} {shrink}"
    );
}

/// Inside corners of a frame's opening side, from rounds that a wall follows down to rounds that
/// none does: each has its blank, those that are too tight with a slit, and a corner far from it is
/// where it was.
#[test]
fn inside_rounds_of_every_radius_have_a_blank() {
    let far = |radius: f64| {
        let yaml = shell(
            &format!(
                "{{path: [[0, 0], [400, 0], {{to: [400, 60]}}, {{to: [200, 60], round: {radius}}}, {{to: [200, 220]}}, {{to: [0, 220], round: 35}}]}}"
            ),
            "  depth: 20\n",
        );
        let made = made(&yaml);
        let cut_apart = made.findings.iter().any(|f| f.rule == Rule::WallCurve);
        let slits = made.flat.scribes.len()
            - made
                .flat
                .forming
                .as_ref()
                .map_or(0, |f| f.darts.iter().map(|dart| dart.lines().len()).sum());
        assert_eq!(cut_apart, slits > 0, "{radius}: {slits} slits");
        assert!(planish::geom::self_crossing(&made.flat.outside).is_none());
        // The rounded corner at [0, 220], 180 mm from the inside one and more.
        let corner = Point::new(10.0, 210.0);
        (cut_apart, distance_to(&made.flat.outside, corner))
    };
    let (_, wanted) = far(120.0);
    let mut tight = 0;
    for radius in [
        90.0, 75.0, 65.0, 55.0, 48.0, 40.0, 34.0, 30.0, 28.0, 27.0, 26.0, 25.0, 24.0, 22.0, 18.0,
        14.0, 10.0, 6.0, 3.0, 1.0,
    ] {
        let (cut_apart, found) = far(radius);
        tight += usize::from(cut_apart);
        assert_near("the far corner", found, wanted, 0.01);
    }
    assert!((3..=18).contains(&tight), "{tight} of 20 cut apart");
}

/// An opening whose corners are all but sharp has the lip that sharp ones have.
#[test]
fn a_lip_with_all_but_sharp_corners_is_made_like_one_with_sharp_ones() {
    let plate = |round: f64| {
        let corner = |x: f64, y: f64| {
            if round > 0.0 {
                format!("{{to: [{x}, {y}], round: {round}}}")
            } else {
                format!("[{x}, {y}]")
            }
        };
        formatdoc!(
            "
            part: plate
            units: mm
            material: 4130-annealed
            thickness: 1.6
            plate:
              profile: {{rectangle: {{size: [160, 120]}}}}
              openings: [{{path: [[0, -25], {}, {}, {}, {}], lip: {{height: 8, radius: 2}}}}]
            ",
            corner(40.0, -25.0),
            corner(40.0, 25.0),
            corner(-40.0, 25.0),
            corner(-40.0, -25.0),
        )
    };
    let sharp = made(&plate(0.0)).flat.openings[0].area();
    for round in [0.02, 0.1, 0.5] {
        assert_near("the hole to cut", made(&plate(round)).flat.openings[0].area(), sharp, 1.0);
    }
}
