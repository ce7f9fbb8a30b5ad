//! Metal left beyond open edges: the blank is that of the longer part, and what is scribed on it is
//! the finished end.

use indoc::formatdoc;
use planish::buck::formed_solid;
use planish::flat::Flat;
use planish::geom::{Point, Polyarc, distance_to};
use planish::part::Kind;

use super::shells::Sizes;
use crate::support::asserts::assert_near;
use crate::support::dice::Dice;
use crate::support::outlines::{Walk, stray};
use crate::support::parts::{made, part, try_make};
use crate::support::space::volume;

/// Places along everything that is scribed on a blank.
fn scribed(flat: &Flat) -> Vec<Point> {
    let along = |segment: &planish::geom::Segment| {
        (0..=8).map(|i| segment.point_at(f64::from(i) / 8.0)).collect::<Vec<_>>()
    };
    flat.scribes.iter().flatten().flat_map(along).collect()
}

/// Farthest that places on an outline lie from the nearest place, where `on` says that they count.
fn farthest(outline: &Polyarc, places: &[Point], on: impl Fn(Point) -> bool) -> f64 {
    let points = outline.flatten(0.01);
    let near = |p: &Point| places.iter().map(|q| q.distance(*p)).fold(f64::INFINITY, f64::min);
    points.iter().filter(|p| on(**p)).map(near).fold(0.0, f64::max)
}

/// Straight walls between ends at any angle, which unroll: the finished end is that of the shell
/// without it, the cut that of a longer shell.
#[test]
fn straight_walls_are_scribed_where_they_would_have_been_cut() {
    let mut dice = Dice(31);
    for round in 0..12 {
        let sizes = Sizes::random(&mut dice);
        let (slope, by) = (dice.between(-0.8, 0.8), dice.between(0.5, 12.0));
        let height = 120.0 + 2.0 * sizes.inset();
        let shell = |longer: f64, more: &str| {
            // Beyond an end that leans, farther along the walls.
            let right = 300.0 + longer * 1.0_f64.hypot(slope);
            let mut walk = Walk::polygon(
                &[
                    (-longer, 0.0),
                    (right, 0.0),
                    (right + slope * height, height),
                    (-longer, height),
                ],
                0.0,
            );
            walk.0[1].3 = Some("e".to_owned());
            walk.0[3].3 = Some("w".to_owned());
            made(&sizes.yaml(&walk.yaml(1.0), &format!("  open_edges: [e, w]\n{more}"), false)).flat
        };
        let (plain, longer, trimmed) =
            (shell(0.0, ""), shell(by, ""), shell(0.0, &format!("  end_trim: {by:.9}\n")));
        let apart = stray(&longer.outside, &trimmed.outside);
        assert!(apart < 1e-6, "{round}: cut {apart} mm apart");
        let apart = stray(&plain.net, &trimmed.net);
        assert!(apart < 0.01, "{round}: net {apart} mm apart");
        assert_near("mass", trimmed.net_area(), plain.net_area(), 0.01 * plain.net.length());
        // Both ends of the plain blank are scribed on the longer one.
        let inside = |p: Point| distance_to(&trimmed.outside, p) > 0.4 * by;
        let miss = farthest(&plain.outside, &scribed(&trimmed), inside);
        assert!(miss < 2.5, "{round}: {miss}");
        let off = trimmed.scribes[trimmed.scribes.len() - 6..].iter().flatten();
        let off =
            off.map(|line| distance_to(&plain.outside, line.point_at(0.5))).fold(0.0, f64::max);
        assert!(off < 0.01, "{round}: scribed {off} mm off");
    }
}

/// A rail that curves between ends along radii: its cut is that of the rail whose ends lie farther
/// out, at whatever depth, crown and taper.
#[test]
fn curved_rails_are_cut_as_longer_rails() {
    let by = 6.0;
    for (r, key) in [
        (420.0, "depth: 24"),
        (900.0, "depth: 30\n  trim: 5"),
        (420.0, "depth: 20\n  crown: 4"),
        (600.0, "depth: 24\n  draft: 5"),
    ] {
        let (outer, inner, turn) = (r + 90.0, r, 300.0 / r);
        let rail = |longer: f64, more: &str| {
            let end = |r: f64, last: bool| {
                // Along the arc until the end's own line, moved out.
                let angle = -(longer / r).asin();
                let angle = if last { turn - angle } else { angle };
                format!("[{:.9}, {:.9}]", r * angle.cos(), r * angle.sin())
            };
            let via =
                |r: f64| format!("[{:.9}, {:.9}]", r * (turn / 2.0).cos(), r * (turn / 2.0).sin());
            formatdoc!(
                "
                part: sector
                units: mm
                material: 4130-normalized
                thickness: 1.6
                half_shell:
                  profile:
                    path: [{}, {{to: {}, via: {}}}, {{to: {}, edge: far}}, {{to: {}, via: {}}}, {{to: {}, edge: near}}]
                  open_edges: [near, far]
                  edge_radius: 5
                  {key}
                {more}",
                end(outer, false),
                end(outer, true),
                via(outer),
                end(inner, true),
                end(inner, false),
                via(inner),
                end(outer, false)
            )
        };
        let text = rail(0.0, &format!("  end_trim: {by}\n"));
        let (longer, trimmed, plain) = (made(&rail(by, "")), made(&text), made(&rail(0.0, "")));
        let apart = stray(&longer.flat.outside, &trimmed.flat.outside);
        assert!(apart < 0.02, "R{r}, {key}: cut {apart} mm apart");
        // A free end that goes on for some millimetres strains otherwise there, by little.
        let apart = stray(&plain.flat.net, &trimmed.flat.net);
        assert!(apart < 2.5, "R{r}, {key}: net {apart} mm apart");
        assert_near(
            "area",
            trimmed.flat.net_area(),
            plain.flat.net_area(),
            2e-3 * plain.flat.net_area(),
        );
        // The finished part is the same.
        let solid = |text: &str, made: &planish::make::MadePart| {
            let part = part(text);
            let Kind::HalfShell(shell) = &part.kind else { panic!("a shell") };
            let forming = made.flat.forming.as_ref().expect("walls");
            let face = forming.face.as_ref().map(planish::shell::FormedFace::finished);
            let triangles = formed_solid(shell, &forming.wall, face, &[], &[]).expect("a solid");
            volume(&triangles)
        };
        let (a, b) = (solid(&rail(0.0, ""), &plain), solid(&text, &trimmed));
        assert_near("volume", b, a, 1e-6 * a);
    }
}

#[test]
fn what_has_no_end_to_trim_is_refused() {
    let shell = |keys: &str| {
        formatdoc!(
            "
            part: box
            units: mm
            material: 4130-normalized
            thickness: 1.6
            half_shell:
              profile: {{rectangle: {{size: [200, 100]}}}}
              depth: 20
              edge_radius: 4
            {keys}"
        )
    };
    let why = try_make(&shell("  end_trim: 5\n")).expect_err("no open edge");
    assert!(why.contains("no edge of this profile is open"), "{why}");
}
