//! Pairs of half-shells against areas, moments and volumes worked out by hand.

use std::f64::consts::PI;

use indoc::{formatdoc, indoc};
use planish::finding::Rule;
use planish::make::MadePart;
use planish::section::{Closure, Hollow, NoSection, Section};

use super::shells::Sizes;
use crate::support::asserts::{assert_held, assert_near};
use crate::support::dice::Dice;
use crate::support::outlines::Walk;
use crate::support::parts::{half_shell, made, try_make};
use crate::support::space::cut_at;

fn hollow(yaml: &str) -> Hollow {
    made(yaml).hollow.unwrap_or_else(|| panic!("a pair\n{yaml}"))
}

fn at<'a>(hollow: &'a Hollow, station: &str) -> &'a Section {
    hollow
        .sections
        .iter()
        .find(|section| section.station == station)
        .unwrap_or_else(|| panic!("no {station}: {hollow:?}"))
}

#[track_caller]
fn assert_close(what: &str, value: f64, wanted: f64) {
    assert_near(what, value, wanted, 1e-9 * wanted.abs().max(1.0));
}

/// Area, ∫ y² dA and ∫ z² dA of a rectangle `b` along y and `h` along z about its middle, its
/// corners quarters of an ellipse with the half axes `p` along y and `q` along z: two rectangles
/// and four quarters, each of area πpq/4, first moment p²q/3, second πp³q/16 about its straight
/// sides.
fn rounded(b: f64, h: f64, p: f64, q: f64) -> [f64; 3] {
    let second = |b: f64, h: f64, p: f64, q: f64| {
        let centre = b / 2.0 - p;
        let quarter = centre * centre * PI * p * q / 4.0
            + 2.0 * centre * p * p * q / 3.0
            + PI * p.powi(3) * q / 16.0;
        b.powi(3) * (h - 2.0 * q) / 12.0 + (b - 2.0 * p).powi(3) * 2.0 * q / 12.0 + 4.0 * quarter
    };
    [b * h - (4.0 - PI) * p * q, second(b, h, p, q), second(h, b, q, p)]
}

/// Straight rails without draft are rounded boxes; where their edges lie slant to the run, the cut
/// stretches their walls and corners along y.
#[test]
fn straight_rails_are_rounded_boxes() {
    let mut dice = Dice(60);
    for _ in 0..40 {
        let (t, r, gap) = (dice.between(0.6, 3.0), dice.between(0.8, 9.0), dice.between(0.0, 1.0));
        let depth = r + t + dice.between(0.1, 40.0);
        let slope = if dice.between(0.0, 1.0) < 0.5 { 0.0 } else { dice.between(-0.6, 0.6) };
        let cosine = 1.0 / (1.0 + slope * slope).sqrt();
        let b = 2.0 * (r + t) / cosine + dice.between(5.0, 90.0);
        let rise = 300.0 * slope;
        let yaml = formatdoc!(
            "
            part: rail
            units: mm
            material: 4130-annealed
            thickness: {t:.13}
            half_shell:
              profile:
                path:
                  - [0, 0]
                  - {{to: [300, {rise:.12}], edge: under}}
                  - {{to: [300, {:.12}], edge: tail}}
                  - {{to: [0, {b:.12}], edge: over}}
                  - {{to: [0, 0], edge: head}}
              depth: {depth:.13}
              edge_radius: {r:.13}
              trim: 5
              open_edges: [head, tail]
              pair: mirror
              seam: {{gap: {gap:.13}}}
            ",
            rise + b
        );
        let hollow = hollow(&yaml);
        let h = 2.0 * depth + gap;
        let outside = rounded(b, h, (r + t) / cosine, r + t);
        let inside = rounded(b - 2.0 * t / cosine, h - 2.0 * t, r / cosine, r);
        assert_eq!(hollow.sections.len(), 7, "0 to 300 by 50");
        for section in &hollow.sections {
            assert_close("area", section.area, outside[0] - inside[0]);
            assert_close("Izz", section.izz, outside[1] - inside[1]);
            assert_close("Iyy", section.iyy, outside[2] - inside[2]);
            let m = r + t / 2.0;
            let enclosed = rounded(b - t / cosine, h - t, m / cosine, m)[0];
            assert_close("enclosed", section.enclosed, enclosed);
            // The ends are cut a ten-thousandth of a millimetre inside.
            assert_near("centroid", section.centroid.y, b / 2.0 + slope * section.at, 1e-4);
            assert_eq!(section.closure, Closure::Closed);
            if slope == 0.0 {
                let round = 2.0 * (b - t + h - t) - (8.0 - 2.0 * PI) * m;
                assert_close("J", section.torsion, 4.0 * enclosed * enclosed * t / round);
            }
        }
        assert_near(
            "inside",
            hollow.volume.expect("a volume"),
            300.0 * inside[0],
            3e-4 * inside[0],
        );
        assert_near(
            "outside",
            hollow.outside_volume.expect("a volume"),
            300.0 * outside[0],
            3e-4 * outside[0],
        );
        let edge = 300.0 / cosine;
        assert_close("weld", hollow.seam_length(), 2.0 * edge);
        let runs: Vec<&[String]> = hollow.seams.iter().map(|seam| &seam.edges[..]).collect();
        assert_eq!(runs, [["under"], ["over"]]);
    }
}

/// A leaning wall is a strip, its end cut level with the seam: outside and inside are trapezia
/// under rounded corners. Without an edge radius to speak of, area and inertia are those of two
/// trapezia less two smaller ones.
#[test]
fn drafted_rails_are_trapezia() {
    // Radii far below a length's least would be refused: 0.001 mm is the least there is.
    let (t, r, depth, b, draft) = (1.0, 0.001, 30.0, 90.0, 10.0_f64);
    let lean = draft.to_radians();
    let yaml = rail(&format!("  depth: {depth}\n  edge_radius: {r}\n  draft: {draft}\n"), t, b);
    let section = &hollow(&yaml).sections[2];
    // Area of a half: a trapezium from the seam to the face; and with its face's corner of radius
    // r + t rounded off.
    let trapezium = |base: f64, h: f64| (base - h * lean.tan()) * h;
    let turn = std::f64::consts::FRAC_PI_2 - lean;
    let corner = |radius: f64| radius * radius * ((turn / 2.0).tan() - turn / 2.0);
    let outside = trapezium(b, depth) - 2.0 * corner(r + t);
    let inside = trapezium(b - 2.0 * t / lean.cos(), depth - t) - 2.0 * corner(r);
    assert_close("area", section.area, 2.0 * (outside - inside));
}

fn rail(more: &str, t: f64, b: f64) -> String {
    formatdoc!(
        "
        part: rail
        units: mm
        material: 4130-annealed
        thickness: {t}
        half_shell:
          profile: {{rectangle: {{size: [300, {b}], at: [150, {}]}}}}
          open_edges: [left, right]
          pair: mirror
        {more}",
        b / 2.0
    )
}

/// Volume inside a skin of half a shell, by Simpson's rule over the levels: round the bend by
/// angle, up the wall in one step, as the area of a level is a quadratic of its inset (Steiner).
fn levels(area: f64, length: f64, sizes: &Sizes, outside: bool) -> f64 {
    let radius = if outside { sizes.radius + sizes.thickness } else { sizes.radius };
    let level = |inset: f64| area - length * inset + PI * inset * inset;
    let around = |angle: f64| level(sizes.inset() - radius * angle.sin()) * radius * angle.sin();
    let n = 400;
    let step = sizes.angle() / f64::from(n);
    let bend: f64 = (0..n)
        .map(|i| {
            let a = step * f64::from(i);
            (around(a) + 4.0 * around(a + step / 2.0) + around(a + step)) * step / 6.0
        })
        .sum();
    let lean = sizes.draft.to_radians();
    let high = sizes.inset() - radius * sizes.angle().sin();
    let low = if outside { 0.0 } else { sizes.thickness / lean.cos() };
    let height = sizes.depth - (sizes.radius + sizes.thickness - radius * sizes.angle().cos());
    bend + (level(high) + 4.0 * level(f64::midpoint(high, low)) + level(low)) * height / 6.0
}

/// Closed convex rounded shells, with and without draft: stacks of inset outlines, whose area
/// Steiner's formula gives.
#[test]
fn closed_shells_hold_what_their_levels_add_up_to() {
    let mut dice = Dice(61);
    let mut done = 0;
    for _ in 0..16 {
        let sizes = Sizes::random(&mut dice);
        let (count, corner) = (dice.whole(3, 8), sizes.inset() + dice.between(4.0, 40.0));
        let walk = Walk::convex(&mut dice, count, 4.0 * corner + 120.0, corner);
        let yaml = sizes.yaml(&walk.yaml(1.0), "  pair: mirror\n  seam: {gap: 0.8}\n", false);
        let Ok(made) = try_make(&yaml) else { continue };
        done += 1;
        let shell = half_shell(&yaml);
        let (area, length) = (shell.profile.sides.area(), shell.profile.sides.length());
        let hollow = made.hollow.expect("a pair");
        let side = sizes.thickness / sizes.draft.to_radians().cos();
        let outside = 2.0 * levels(area, length, &sizes, true) + 0.8 * area;
        let inside = 2.0 * levels(area, length, &sizes, false)
            + 0.8 * (area - length * side + PI * side * side);
        assert_near("outside", hollow.outside_volume.expect("a volume"), outside, 1e-5 * outside);
        assert_near("inside", hollow.volume.expect("a volume"), inside, 1e-5 * outside);
        assert_close("weld", hollow.seam_length(), length);
        assert!(
            made.findings
                .iter()
                .any(|finding| finding.rule == Rule::CavityVent && !finding.is_ok()),
            "no vent\n{yaml}"
        );
    }
    assert_held(14, done, 16);
}

/// Along a line of even width the section's middle lies on the line: volume is area times length
/// (Pappus), whatever the line does.
#[test]
fn curved_arms_hold_area_times_length() {
    let (t, r, depth, b) = (1.6, 4.8, 25.0, 70.0);
    for through in [
        "[[0, 0], [400, 0]]",
        "[[0, 0], [300, 260]]",
        "[[0, 0], [150, 16], [300, 50], [420, 96]]",
        "[[0, 0], [120, 90], [260, 90], [380, 0], [380, -140]]",
    ] {
        let yaml = formatdoc!(
            "
            part: arm
            units: mm
            material: 4130-annealed
            thickness: {t}
            half_shell:
              profile: {{centreline: {{through: {through}, width: {b}}}}}
              depth: {depth}
              edge_radius: {r}
              open_edges: [start, end]
              pair: mirror
            "
        );
        let hollow = hollow(&yaml);
        let shell = half_shell(&yaml);
        let line = shell.profile.centreline.expect("a line");
        let length = line.length();
        let outside = rounded(b, 2.0 * depth, r + t, r + t);
        let inside = rounded(b - 2.0 * t, 2.0 * (depth - t), r, r);
        for section in &hollow.sections {
            // The edges are fitted to the line's within 0.4 micrometres.
            assert_near("area", section.area, outside[0] - inside[0], 2e-3);
            assert_near("Izz", section.izz, outside[1] - inside[1], 5e-5 * section.izz);
            assert_near("Iyy", section.iyy, outside[2] - inside[2], 1e-5 * section.iyy);
        }
        assert_eq!(hollow.skipped, []);
        assert_near(
            "inside",
            hollow.volume.expect("a volume"),
            length * inside[0],
            2e-5 * length * inside[0],
        );
        assert_near(
            "outside",
            hollow.outside_volume.expect("a volume"),
            length * outside[0],
            2e-5 * length * outside[0],
        );
    }
}

/// A side without a wall: face, one bend and one wall in each half, open in between.
#[test]
fn a_side_left_open_makes_an_open_section() {
    let (t, r, depth, b) = (2.0, 5.0, 40.0, 100.0);
    let yaml = rail(&format!("  depth: {depth}\n  edge_radius: {r}\n"), t, b)
        .replace("[left, right]", "[left, right, top]");
    let hollow = hollow(&yaml);
    let section = at(&hollow, "S100");
    let run = (b - r - t) + PI / 2.0 * (r + t / 2.0) + (depth - r - t);
    assert_close("area", section.area, 2.0 * run * t);
    assert_close("J", section.torsion, 2.0 * run * t.powi(3) / 3.0);
    assert_eq!((section.closure, section.enclosed), (Closure::Open, 0.0));
    assert_close("weld", hollow.seam_length(), 300.0);
    let plates = hollow_of_open_sides(&yaml);
    assert!(
        plates.sections.is_empty()
            && plates.skipped[1..].iter().all(|(_, why)| *why == NoSection::NoWalls),
        "{plates:?}"
    );
}

fn hollow_of_open_sides(yaml: &str) -> Hollow {
    hollow(&yaml.replace("[left, right, top]", "[right, top, bottom]"))
}

/// An open end that slants: where it begins a cut runs over its corner, and the pair holds its
/// section times the length through its middle.
#[test]
fn a_slant_open_end_cuts_the_pair_short() {
    let (t, r, depth, b) = (2.0, 5.0, 40.0, 100.0);
    let yaml = formatdoc!(
        "
        part: rail
        units: mm
        material: 4130-annealed
        thickness: {t}
        half_shell:
          profile:
            path:
              - [0, 0]
              - [299.5, 0]
              - {{to: [339.5, {b}], edge: tail}}
              - [0, {b}]
              - {{to: [0, 0], edge: head}}
          depth: {depth}
          edge_radius: {r}
          open_edges: [head, tail]
          pair: mirror
        "
    );
    let hollow = hollow(&yaml);
    let outside = rounded(b, 2.0 * depth, r + t, r + t)[0];
    let inside = rounded(b - 2.0 * t, 2.0 * (depth - t), r, r)[0];
    assert_near(
        "outside",
        hollow.outside_volume.expect("a volume"),
        319.5 * outside,
        1e-6 * 319.5 * outside,
    );
    assert_near("inside", hollow.volume.expect("a volume"), 319.5 * inside, 1e-6 * 319.5 * inside);
    let skipped: Vec<(&str, NoSection)> =
        hollow.skipped.iter().map(|(name, why)| (name.as_str(), *why)).collect();
    assert_eq!(skipped[0], ("S300", NoSection::OpenCorner), "{skipped:?}");
}

/// A hole in both faces takes its metal out of area, inertia and weight.
#[test]
fn openings_are_out_of_the_metal() {
    let (t, r, depth, b) = (2.0, 5.0, 40.0, 100.0);
    let whole = hollow(&rail(&format!("  depth: {depth}\n  edge_radius: {r}\n"), t, b));
    let holed = hollow(&rail(
        &format!(
            "  depth: {depth}\n  edge_radius: {r}\n  openings: [{{circle: {{diameter: 30, at: [108, 45]}}}}]\n"
        ),
        t,
        b,
    ));
    let (before, after) = (at(&whole, "S100"), at(&holed, "S100"));
    let chord = 2.0 * (15.0_f64 * 15.0 - 64.0).sqrt();
    let lost = 2.0 * t * chord;
    assert!(after.through_opening && !before.through_opening);
    assert_near("area", before.area - after.area, lost, 1e-6);
    let (over, under) = (depth, depth - t);
    assert_near(
        "Iyy",
        before.iyy - after.iyy,
        2.0 * chord * (over.powi(3) - under.powi(3)) / 3.0,
        1e-4,
    );
    // About the old middle, then moved to the new one.
    let centroid = (before.area * 50.0 - lost * 45.0) / after.area;
    assert_near("centroid", after.centroid.y, centroid, 1e-9);
    let hole = 2.0 * t * chord.powi(3) / 12.0 + lost * 25.0;
    assert_near("Izz", after.izz, before.izz - hole - after.area * (centroid - 50.0).powi(2), 1e-4);
    assert_eq!(after.torsion, before.torsion);
    assert!(!at(&holed, "S150").through_opening);
    let (metal, out) = (300.0 * before.area, 2.0 * t * PI * 225.0);
    let centre = holed.centre_of_gravity.expect("a centre");
    assert_near("centre of gravity", centre.x, (metal * 150.0 - out * 108.0) / (metal - out), 1e-4);
    assert_near("centre of gravity", centre.y, (metal * 50.0 - out * 45.0) / (metal - out), 1e-4);
    let made = made(&rail(&format!("  depth: {depth}\n  edge_radius: {r}\n"), t, b));
    assert!(
        made.findings.iter().all(|finding| finding.rule != Rule::CavityVent || finding.is_ok())
    );
}

/// A closed box given by its buck holds the buck's box, however its outline is written.
#[test]
fn a_box_given_inside_is_as_large_as_its_buck() {
    let text = |profile: &str| {
        formatdoc!(
            "
            part: box
            units: mm
            material: 4130-annealed
            thickness: 2
            half_shell:
              profile: {profile}
              dims: inside
              depth: 30
              edge_radius: 0.001
              pair: mirror
            "
        )
    };
    for profile in
        ["{rectangle: {size: [200, 80]}}", "{centreline: {through: [[0, 0], [200, 0]], width: 80}}"]
    {
        let hollow = hollow(&text(profile));
        assert_near("inside", hollow.volume.expect("a volume"), 200.0 * 80.0 * 60.0, 20.0);
        let corner = (4.0 - PI) * 2.001 * 2.001;
        // Rounded along the four edges of each face; where two meet, a little twice.
        let outside = 204.0 * 84.0 * 64.0 - corner / 4.0 * 4.0 * (204.0 + 84.0);
        assert_near("outside", hollow.outside_volume.expect("a volume"), outside, 40.0);
        let ends: Vec<NoSection> = hollow.skipped.iter().map(|(_, why)| *why).collect();
        assert_eq!(ends, [NoSection::InEndWall; 2], "{profile}");
    }
}

/// Stations that give no section say why.
#[test]
fn stations_without_a_section_say_why() {
    let text = |profile: &str, more: &str| {
        formatdoc!(
            "
            part: odd
            units: mm
            material: 4130-annealed
            thickness: 1
            half_shell:
              profile: {profile}
              depth: 15
              edge_radius: 3
              pair: mirror
            {more}"
        )
    };
    let why = |yaml: &str, station: &str| {
        let hollow = hollow(yaml);
        let found = hollow.skipped.iter().find(|(name, _)| name == station).map(|(_, why)| *why);
        found.unwrap_or_else(|| panic!("{station} has a section: {hollow:?}"))
    };
    let horseshoe = "{path: [[0, 0], [200, 0], [200, 150], [0, 150], [0, 100], [140, 100], [140, 50], [0, 50]]}";
    assert_eq!(why(&text(horseshoe, ""), "S50"), NoSection::SeveralTimes);
    let round = text("{circle: {diameter: 160}}", "buck: {stations: 75}\n");
    assert_eq!(why(&round, "S75"), NoSection::Slanting);
    assert_eq!(why(&round, "S80"), NoSection::InEndWall);
    assert!(hollow(&round).sections.iter().any(|section| section.station == "S0"));
}

/// The same pair in inches.
#[test]
fn units_change_nothing() {
    let mut dice = Dice(62);
    let mut held = 0;
    for _ in 0..6 {
        let sizes = Sizes::random(&mut dice);
        let corner = sizes.inset() + 10.0;
        let walk = Walk::convex(&mut dice, 4, 4.0 * corner + 120.0, corner);
        let pair = |inches: bool| {
            let scale = if inches { 1.0 / 25.4 } else { 1.0 };
            try_make(&sizes.yaml(&walk.yaml(scale), "  pair: mirror\n", inches))
                .map(|made| made.hollow.expect("a pair"))
        };
        let (Ok(mm), Ok(inches)) = (pair(false), pair(true)) else { continue };
        held += 1;
        assert_near("weld", inches.seam_length(), mm.seam_length(), 1e-7);
        let (a, b) = (inches.volume.expect("a volume"), mm.volume.expect("a volume"));
        assert_near("inside", a, b, 1e-6 * b);
        assert_eq!(inches.sections.len(), mm.sections.len());
        for (a, b) in inches.sections.iter().zip(&mm.sections) {
            assert_near("area", a.area, b.area, 1e-6 * b.area);
            assert_near("J", a.torsion, b.torsion, 1e-6 * b.torsion);
        }
    }
    assert_held(5, held, 6);
}

/// Area, both inertias and the centroid of a pair's section at x, by Green's theorem on the lines
/// in which that plane cuts the solid of one half: triangles face out, so each line has the metal
/// on a known side. `top` is the height of the solid's z = 0 over the seam plane.
fn sliced(solid: &[planish::buck::Triangle], x: f64, top: f64) -> (f64, f64, f64) {
    let (mut area, mut first, mut across, mut up) = (0.0, 0.0, 0.0, 0.0);
    for (from, to) in cut_at(solid, x) {
        let (p, q) = ([from[1], from[2] + top], [to[1], to[2] + top]);
        let twice = p[0] * q[1] - q[0] * p[1];
        area += twice / 2.0;
        first += twice * (p[0] + q[0]) / 6.0;
        across += twice * (p[0] * p[0] + p[0] * q[0] + q[0] * q[0]) / 12.0;
        up += twice * (p[1] * p[1] + p[1] * q[1] + q[1] * q[1]) / 12.0;
    }
    let sign = area.signum();
    let (area, first, across, up) = (sign * area, sign * first, sign * across, sign * up);
    (2.0 * area, 2.0 * up, 2.0 * (across - first * first / area))
}

/// Tapered rails with a hollow belly and a round back, straight and crowned faces: every section,
/// at the ends too, is that of a slice through the formed solid, and torsion agrees with Bredt's
/// formula of what the section itself has: J A = 4 E² t², as far as walls stand square to the cut.
#[test]
fn sections_of_tapered_rails_are_slices_of_their_solids() {
    let mut dice = Dice(77);
    let (mut rails, mut held) = (0, 0);
    for round in 0..10 {
        let (from, to) = (dice.between(28.0, 44.0), dice.between(24.0, 40.0));
        let (belly, back) = (dice.between(-14.0, 16.0), dice.between(-6.0, 14.0));
        let (near, far) = (dice.between(50.0, 80.0), dice.between(50.0, 80.0));
        let smooth = if round % 2 == 0 { "" } else { ", between: smooth" };
        let yaml = formatdoc!(
            "
            part: rail
            units: mm
            material: 4130-annealed
            thickness: 1.6
            half_shell:
              profile: {{path: [[0, {a:.6}], {{through: [[170, {b:.6}], [340, {c:.6}]], edge: belly}}, {{to: [340, {d:.6}], edge: far}}, {{through: [[170, {e:.6}], [0, {f:.6}]], edge: back}}, {{to: [0, {a:.6}], edge: near}}]}}
              depth: {{stations: [{{at: 0, depth: {from:.6}}}, {{at: 200, depth: {m:.6}}}, {{at: 340, depth: {to:.6}}}]{smooth}}}
              edge_radius: 4.8
              open_edges: [near, far]
              pair: mirror
            ",
            a = -near / 2.0,
            b = -(near + far) / 4.0 + belly,
            c = -far / 2.0,
            d = far / 2.0,
            e = (near + far) / 4.0 + back,
            f = near / 2.0,
            m = f64::midpoint(from, to) + 2.0,
        );
        let Ok(made) = try_make(&yaml) else { continue };
        rails += 1;
        let shell = half_shell(&yaml);
        let forming = made.flat.forming.as_ref().expect("walls");
        let solid =
            planish::buck::formed_solid(&shell, &forming.wall, forming.face.as_ref(), &[], &[])
                .expect("a solid");
        let hollow = made.hollow.as_ref().expect("a pair");
        assert!(hollow.skipped.is_empty(), "{:?}\n{yaml}", hollow.skipped);
        for section in &hollow.sections {
            let at = section.at.clamp(0.02, 339.98);
            let (area, iyy, izz) = sliced(&solid, at, forming.wall.depth);
            for (what, value, wanted) in
                [("area", section.area, area), ("Iyy", section.iyy, iyy), ("Izz", section.izz, izz)]
            {
                assert!(
                    (value / wanted - 1.0).abs() < 0.01,
                    "{what} at {}: {value}, sliced {wanted}\n{yaml}",
                    section.station
                );
            }
            let by_bredt = 4.0 * section.enclosed.powi(2) * 1.6 * 1.6 / section.area;
            assert!(
                (section.torsion / by_bredt - 1.0).abs() < 0.05,
                "J at {}: {} and {by_bredt}\n{yaml}",
                section.station,
                section.torsion
            );
            held += 1;
        }
    }
    assert_held(9, rails, 10);
    assert_held(72, held, 8 * rails);
}

/// What solid and section share no slice tells: a straight drafted rail that gets shallower has its
/// middle on its own line, and everywhere the section of a level rail as deep as it is there; one
/// with a crown has the same section at its ends as within.
#[test]
fn straight_rails_are_alike_on_both_sides_up_to_their_ends() {
    let rail = |depth: &str, more: &str| {
        formatdoc!(
            "
            part: rail
            units: mm
            material: 4130-annealed
            thickness: 1.6
            half_shell:
              profile: {{rectangle: {{size: [300, 80], at: [150, 0]}}}}
              depth: {depth}
              edge_radius: 5
            {more}  open_edges: [left, right]
              pair: mirror
            "
        )
    };
    let sections = |yaml: &str| made(yaml).hollow.expect("a pair").sections;
    let close = |what: &str, ours: &Section, other: &Section, yaml: &str| {
        assert!(
            ours.centroid.y.abs() < 0.02,
            "{what} {}: middle at {:?}\n{yaml}",
            ours.station,
            ours.centroid
        );
        let figures = |s: &Section| [s.area, s.iyy, s.izz, s.torsion];
        for (a, b) in figures(ours).into_iter().zip(figures(other)) {
            assert!((a / b - 1.0).abs() < 0.006, "{what} {}: {a} and {b}\n{yaml}", ours.station);
        }
    };
    for draft in [0, 4, 8] {
        let draft = format!("  draft: {draft}\n");
        let tapered = rail("{stations: [{at: 0, depth: 30}, {at: 300, depth: 20}]}", &draft);
        for section in sections(&tapered) {
            let level = rail(&format!("{:.9}", 30.0 - section.at / 30.0), &draft);
            let level = sections(&level)
                .into_iter()
                .find(|other| other.station == section.station)
                .expect("a section");
            close("tapered", &section, &level, &tapered);
        }
    }
    for crown in [1, 3, 5] {
        let crowned = rail("25", &format!("  crown: {crown}\n"));
        let sections = sections(&crowned);
        for section in &sections {
            close("crowned", section, &sections[sections.len() / 2], &crowned);
        }
    }
}

/// A box folded shut by its own lid, a strip that is rolled to a tube, and a tray: the first closes
/// a space off, 200 by 120 by 60 mm outside, the others do not; an opening in any wall of it lets
/// the heat out.
#[test]
fn folded_boxes_that_close_a_space_off_need_a_vent() {
    let folded = |openings: &str, lid: &str| {
        made(&formatdoc!(
            "
            part: box
            units: mm
            material: dc04
            thickness: 1.5
            folded:
              radius: 2
              panel: {{profile: {{rectangle: {{size: [200, 120]}}}}}}
              flanges:
                - {{edge: bottom, bend: 90, height: 60}}
                - {{edge: left, bend: 90, height: 60}}
                - {{edge: right, bend: 90, height: 60{openings}}}
                - {{edge: top, bend: 90, height: 61.5{lid}}}
            "
        ))
    };
    let vent = |made: &MadePart| {
        made.findings.iter().find(|finding| finding.rule == Rule::CavityVent).cloned()
    };
    let lid = ", flanges: [{edge: outer, bend: 90, height: 119}]";
    let closed = vent(&folded("", lid)).expect("a closed box");
    assert!(!closed.is_ok() && closed.remedy.contains("vent"), "{closed:?}");
    let (_, litres) = closed.message.split_once("at least ").expect("how much");
    let litres: f64 =
        litres.split_whitespace().next().expect("a number").parse().expect("a number");
    // Less than 1.44 litres by the sheet and a layer of cells of 3 mm along it.
    assert!((0.85..1.4).contains(&litres), "{litres}");
    let vented = vent(&folded(", openings: [{circle: {diameter: 6, at: [60, 30]}}]", lid))
        .expect("still a cavity");
    assert!(vented.is_ok(), "{vented:?}");
    assert!(vent(&folded("", "")).is_none(), "a tray");
    let tube = made(indoc!(
        "
        part: tube
        units: mm
        material: dc04
        thickness: 1.5
        bent:
          radius: 2
          section: [{leg: 30}, {bend: 90}, {leg: 60}, {bend: 90}, {leg: 60}, {bend: 90}, {leg: 60}, {bend: 90}, {leg: 28}]
          depth: 200
        "
    ));
    assert!(vent(&tube).is_none(), "a tube is open at both ends");
}
