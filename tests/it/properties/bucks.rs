//! Bucks and clamp plates: the profile moved in by what the metal takes.

use indoc::{formatdoc, indoc};
use planish::finding::Rule;
use planish::geom::{distance_to, self_crossing};

use super::shells::Sizes;
use crate::support::asserts::{assert_held, assert_near};
use crate::support::dice::Dice;
use crate::support::outlines::Walk;
use crate::support::parts::{half_shell, made, try_make};

/// Steiner's formula for a convex outline moved in by d, its rounds all wider than d: A - d L + pi
/// d².
fn moved_in(area: f64, length: f64, d: f64) -> f64 {
    area - d * length + std::f64::consts::PI * d * d
}

#[test]
fn bucks_are_the_profile_less_the_thickness() {
    let mut dice = Dice(30);
    let mut held = 0;
    for _ in 0..25 {
        let sizes = Sizes::random(&mut dice);
        let (count, corner) = (dice.whole(3, 8), sizes.inset() + dice.between(4.0, 40.0));
        let walk = Walk::convex(&mut dice, count, 4.0 * corner + 120.0, corner);
        let yaml = sizes.yaml(&walk.yaml(1.0), "", false);
        let Ok(made) = try_make(&yaml) else { continue };
        held += 1;
        let shell = half_shell(&yaml);
        let (area, length) = (shell.profile.sides.area(), shell.profile.sides.length());
        let buck = made.buck.expect("a buck");
        // The wall leans by d, so its thickness measures T / cos d in the plane of the seam.
        let inset = sizes.thickness / sizes.draft.to_radians().cos();
        assert_near("buck", buck.outline.area(), moved_in(area, length, inset), 1e-6 * area);
        assert_near(
            "buck",
            buck.outline.length(),
            length - 2.0 * std::f64::consts::PI * inset,
            1e-6 * length,
        );
        assert_near("edge radius", buck.edge_radius, sizes.radius, 1e-12);
        // The plate stays inside the tangent line, by at least a millimetre as is usual.
        let profile = shell.profile.sides.to_polyarc(1e-4);
        let plate = buck.clamp_plate.as_ref().expect("room for a plate");
        let nearest = plate
            .flatten(0.01)
            .iter()
            .map(|p| distance_to(&profile, *p))
            .fold(f64::INFINITY, f64::min);
        assert!(
            nearest > sizes.inset() + 1.0 && nearest < sizes.inset() + 3.1,
            "{nearest} for {}",
            sizes.inset()
        );
        // Backed beyond the trim line (trade notes: depth - T + trim + 10).
        assert!(buck.height >= sizes.depth - sizes.thickness + sizes.trim);
        assert!(buck.layer * buck.layers as f64 >= buck.height - 1e-9);
    }
    assert_held(23, held, 25);
}

/// With `dims: inside` profile and depth are the buck's own, so that the buck comes out as drawn
/// and the shell around it; open edges have no metal outside them.
#[test]
fn inside_dimensions_are_the_bucks() {
    let mut dice = Dice(31);
    for round in 0..20 {
        let sizes = Sizes::random(&mut dice);
        let t = sizes.thickness;
        let out = t / sizes.draft.to_radians().cos();
        let (a, b) = (120.0 + 4.0 * sizes.inset(), 90.0 + 4.0 * sizes.inset());
        let open = if round % 2 == 0 { "[left, right]" } else { "[]" };
        let grow = if round % 2 == 0 { 0.0 } else { 2.0 * out };
        let more = format!(
            "  open_edges: {open}\n  openings: [{{circle: {{diameter: 9, at: [10, -3]}}}}]\n"
        );
        let inside = sizes.yaml(
            &format!("{{rectangle: {{size: [{a:.13}, {b:.13}]}}}}"),
            &format!("{more}  dims: inside\n"),
            false,
        );
        let deeper = Sizes { depth: sizes.depth + t, ..sizes };
        let outside = deeper.yaml(
            &format!("{{rectangle: {{size: [{:.13}, {:.13}]}}}}", a + grow, b + 2.0 * out),
            &more,
            false,
        );
        let (inside, outside) = (made(&inside), made(&outside));
        let buck = inside.buck.expect("a buck").outline.bounds();
        assert_near("width", buck.width(), a, 1e-9);
        assert_near("height", buck.height(), b, 1e-9);
        for (p, q) in inside.flat.outside.vertices.iter().zip(&outside.flat.outside.vertices) {
            assert!(p.point.distance(q.point) < 1e-9, "{p:?} {q:?}");
        }
    }
}

/// A shell with rounds tighter than the plate's distance, open at one edge: the plate still is the
/// set of points that far from the walls.
#[test]
fn clamp_plates_of_open_shells_keep_their_distance_and_reach_the_open_edge() {
    let yaml = indoc!("
        part: cap
        units: mm
        material: dc04
        thickness: 1.5
        half_shell:
          profile: {path: [[0, 0], {to: [300, 0], round: 7}, {to: [300, 120], round: 7}, {to: [0, 120]}, {to: [0, 0], edge: open}]}
          depth: 12
          edge_radius: 4
          open_edges: [open]
        ");
    let plate = made(yaml).buck.expect("a buck").clamp_plate.expect("room for a plate");
    // Square: R + T = 5.5 to the tangent line, and 2 more.
    let inset = 7.5;
    assert_near("area", plate.area(), (300.0 - inset) * (120.0 - 2.0 * inset), 0.1);
    assert_near("left", plate.bounds().x0, 0.0, 1e-6);
    assert_near("right", plate.bounds().x1, 300.0 - inset, 1e-6);
}

/// A waist that is too narrow for the plate parts it; it never crosses itself.
#[test]
fn a_waist_parts_the_clamp_plate() {
    let yaml = indoc!("
        part: eight
        units: mm
        material: dc04
        thickness: 1.5
        half_shell:
          profile: {path: [[0, 0], [200, 0], [200, 42], [300, 42], [300, 0], [520, 0], [520, 100], [300, 100], [300, 56], [200, 56], [200, 100], [0, 100]]}
          depth: 10
          edge_radius: 4
        ");
    let made = made(yaml);
    let plate = made.buck.as_ref().expect("a buck").clamp_plate.as_ref().expect("room for a plate");
    assert!(self_crossing(plate).is_none());
    // The larger field less 7.5 mm all round, and the mouth of the waist: between circles of 7.5
    // about its two corners, 14 apart.
    let under_arc = 3.5 * (7.5_f64 * 7.5 - 49.0).sqrt() + 28.125 * (7.0_f64 / 7.5).asin();
    let mouth = 2.0 * (7.0 * 7.5 - under_arc);
    assert_near(
        "area of the larger piece",
        plate.area(),
        (220.0 - 15.0) * (100.0 - 15.0) + mouth,
        0.01,
    );
    assert!(made.findings.iter().any(|f| f.rule == Rule::ClampPlate && !f.is_ok()));
}

/// Stations of an L whose step lies on one: two ticks on each, on the metal's edges.
#[test]
fn stations_on_an_upright_step_cross_twice() {
    let yaml = indoc!(
        "
        part: ell
        units: mm
        material: dc04
        thickness: 1.5
        half_shell:
          profile: {path: [[0, 0], [300, 0], [300, 60], {to: [150, 60]}, [150, 120], [0, 120]]}
          dims: inside
          depth: 20
          edge_radius: 4
        "
    );
    let made = made(yaml);
    for station in made.stations() {
        let count = station.crossings(&made.buck.as_ref().expect("a buck").outline).len();
        assert_eq!(count, 2, "{}", station.name);
    }
    assert!(made.stations().iter().any(|station| (station.at - 150.0).abs() < 1e-9));
}

#[test]
fn a_shell_too_narrow_for_a_clamp_plate_still_has_its_blank_and_buck() {
    let yaml = indoc!("
        part: fin
        units: mm
        material: 4130-annealed
        thickness: 1.6
        half_shell:
          profile: {path: [[0, 0], {to: [200, 0], edge: bottom}, {to: [200, 16], edge: front}, {to: [0, 16], edge: top}, {to: [0, 0], edge: back}]}
          depth: 20
          edge_radius: 4.8
          open_edges: [front, back]
        ");
    let made = made(yaml);
    // Face between the tangent lines: 16 - 2 x (4.8 + 1.6) = 3.2 mm, less than twice the plate's 2
    // mm of clearance.
    let buck = made.buck.as_ref().expect("a buck");
    assert!(buck.clamp_plate.is_none());
    assert!((buck.outline.area() - 200.0 * (16.0 - 3.2)).abs() < 1e-6);
    assert!(
        made.findings
            .iter()
            .any(|finding| finding.message.contains("too narrow for a clamp plate"))
    );
}

/// Templates across a crowned block, whose top is known between the triangles of its face, are
/// plain lines to saw along: smooth, of few pieces, each a shallow arc.
#[test]
fn templates_of_crowned_blocks_are_plain_lines() {
    for (profile, keys) in [
        ("{rectangle: {size: [260, 140], corner_radius: 34}}", "depth: 12\n  crown: 7"),
        ("{circle: {diameter: 160}}", "depth: 20\n  crown: 16"),
        (
            "{centreline: {through: [[0, 0], [150, 0], [300, 0]], width: 90}}",
            "depth: {stations: [{at: 0, depth: 26}, {at: 300, depth: 20}]}\n  crown: 5\n  open_edges: [start, end]",
        ),
    ] {
        let made = made(&formatdoc!(
            "
            part: block
            units: mm
            material: 6061-o
            thickness: 1.6
            half_shell:
              profile: {profile}
              edge_radius: 4.8
              {keys}
            "
        ));
        let buck = made.buck.expect("a buck");
        let templates: Vec<_> = buck
            .across
            .iter()
            .map(|(_, template)| template)
            .chain(buck.side.as_ref().map(|side| &side.outline))
            .collect();
        assert!(templates.len() > 2, "{profile}");
        for template in templates {
            assert!(planish::geom::self_crossing(template).is_none(), "{profile}");
            let count = template.vertices.len();
            assert!(count < 120, "{profile}: {count} pieces");
            let bulge =
                template.vertices.iter().map(|vertex| vertex.bulge.abs()).fold(0.0, f64::max);
            assert!(bulge < 0.1, "{profile}: a bulge of {bulge}");
        }
    }
}
