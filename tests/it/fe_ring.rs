//! The wall round a circle against closed solutions of the same model, and against values worked
//! out apart from this code.
//!
//! Lengths in mm, stresses in MPa, strains logarithmic.

#![allow(clippy::doc_markdown, reason = "formulas stand in the doc comments as plain text")]

use planish::fe::law::SheetLaw;
use planish::fe::ring::{RingFailure, RingWall, WallSection, ring};
use std::f64::consts::FRAC_PI_2;

fn law(hardening: f64, anisotropy: f64) -> SheetLaw {
    SheetLaw { strength_mpa: 1000.0, hardening, anisotropy, elastic_modulus_mpa: 205_000.0 }
}

/// A square wall of height `h` (from the face's middle surface) whose middle surface stands on the
/// radius `a`; the face lies inside (`cup`) or outside it.
fn square_wall(cup: bool, a: f64, h: f64, bend: f64) -> WallSection {
    let tangent = if cup { a - bend } else { a + bend };
    WallSection {
        tangent_curvature: if cup { 1.0 / tangent } else { -1.0 / tangent },
        bend_mid_radius: bend,
        bend_angle: FRAC_PI_2,
        stretch_of_bend: 1.0,
        wall_length: h - bend,
    }
}

fn solved(law: &SheetLaw, section: &WallSection) -> RingWall {
    ring(law, section).unwrap_or_else(|why| panic!("{section:?}: {why}"))
}

/// Radius of the blank's edge.
fn flat_radius(section: &WallSection, wall: &RingWall) -> f64 {
    (1.0 / section.tangent_curvature + wall.flat_width).abs()
}

/// Sharp bend, square wall: R = a [1 ± (k+1) h/a]^(1/(k+1)), k = r/(1+r), strain ln(a/R), thickness
/// ratio exp(−(1−k) e_h); closed solution of the model (σ_s = 0 all the way up), whatever n and K
/// are.
#[test]
fn sharp_bend_has_its_closed_solution() {
    let a = 50.0;
    for n in [0.05, 0.17, 0.45] {
        for r in [0.0, 0.6, 1.0, 2.0] {
            let k = r / (1.0 + r);
            for (cup, h) in [
                (true, 2.0),
                (true, 20.0),
                (true, 200.0),
                (false, 2.0),
                (false, 14.0),
                (false, 24.0),
            ] {
                let section = square_wall(cup, a, h, 0.0);
                let wall = solved(&law(n, r), &section);
                let sign = if cup { 1.0 } else { -1.0 };
                let radius = |h: f64| a * (1.0 + sign * (k + 1.0) * h / a).powf(1.0 / (k + 1.0));
                let found = flat_radius(&section, &wall);
                assert!(
                    (found / radius(h) - 1.0).abs() < 1e-9,
                    "n {n} r {r} h {h}: {found} for {}",
                    radius(h)
                );
                let hoop = (a / radius(h)).ln();
                assert!((wall.edge_hoop_strain - hoop).abs() < 1e-9);
                assert!((wall.edge_thickness_ratio / (-(1.0 - k) * hoop).exp() - 1.0).abs() < 1e-9);
                for part in [0.0, 0.13, 0.5, 0.77, 1.0] {
                    let point = wall.at(part * h);
                    let at = (radius(part * h) - a).abs();
                    assert!(
                        (point.flat_distance - at).abs() < 1e-9 * a,
                        "n {n} r {r} h {h} at {part}"
                    );
                }
            }
        }
    }
}

/// The two limits of the closed solution: r = 0 leaves the wall's length (a + h), r → ∞ its area
/// (√(a² ± 2 a h)).
#[test]
fn anisotropy_limits_are_length_and_area() {
    let (a, h) = (50.0, 20.0);
    let cup = square_wall(true, a, h, 0.0);
    assert!((flat_radius(&cup, &solved(&law(0.17, 0.0), &cup)) - 70.0).abs() < 1e-8);
    let thick = flat_radius(&cup, &solved(&law(0.17, 1e7), &cup));
    assert!((thick - (a * a + 2.0 * a * h).sqrt()).abs() < 1e-5, "{thick}");
    let hole = square_wall(false, a, 14.0, 0.0);
    let thick = flat_radius(&hole, &solved(&law(0.17, 1e7), &hole));
    assert!((thick - (a * a - 2.0 * a * 14.0).sqrt()).abs() < 1e-5, "{thick}");
}

/// Blank radii worked out by an independent shooting program in Python for the same model (project
/// notes, 4 decimals); the rows with a bend radius, which has no closed solution.
#[test]
fn tabled_walls_with_a_bend_radius() {
    let cup = square_wall(true, 50.0, 20.0, 4.0);
    let wall = solved(&law(0.17, 1.0), &cup);
    assert!((flat_radius(&cup, &wall) - 66.9129).abs() < 6e-5, "{}", flat_radius(&cup, &wall));
    let hole = square_wall(false, 50.0, 14.0, 4.0);
    let wall = solved(&law(0.17, 1.0), &hole);
    assert!((flat_radius(&hole, &wall) - 36.7909).abs() < 6e-5, "{}", flat_radius(&hole, &wall));
    assert!((wall.edge_hoop_strain - 0.3068).abs() < 6e-5, "{}", wall.edge_hoop_strain);
    // The table's other rows, all sharp: 68.3990 (r 1), 68.7691 (r 0.6), hole 34.7741 with strain
    // .3632.
    for (cup, h, r, radius) in
        [(true, 20.0, 1.0, 68.3990), (true, 20.0, 0.6, 68.7691), (false, 14.0, 1.0, 34.7741)]
    {
        let section = square_wall(cup, 50.0, h, 0.0);
        let found = flat_radius(&section, &solved(&law(0.17, r), &section));
        assert!((found - radius).abs() < 6e-5, "{found} for {radius}");
    }
    let hole = square_wall(false, 50.0, 14.0, 0.0);
    assert!((solved(&law(0.17, 1.0), &hole).edge_hoop_strain - 0.3632).abs() < 6e-5);
}

/// The project notes' statement that n moves the cup with a 4 mm bend by less than 0.0002 mm
/// between 0.1 and 0.25.
#[test]
fn hardening_hardly_moves_the_blank() {
    let cup = square_wall(true, 50.0, 20.0, 4.0);
    let radius = |n: f64| flat_radius(&cup, &solved(&law(n, 1.0), &cup));
    assert!((radius(0.1) - radius(0.25)).abs() < 2e-4);
    assert!((radius(0.1) - radius(0.25)).abs() > 1e-8, "n has no effect at all");
}

/// The balance of forces itself, checked from the outside: for any section the resultant T ρ,
/// differenced along the solved wall, changes as T_h dρ/ds says; the strain up the wall is the
/// slope of the flat distance.
#[test]
fn forces_balance_along_the_wall() {
    let law = law(0.2, 1.4);
    let section = WallSection {
        tangent_curvature: -1.0 / 60.0,
        bend_mid_radius: 8.0,
        bend_angle: 1.2,
        stretch_of_bend: 0.95,
        wall_length: 12.0,
    };
    let wall = solved(&law, &section);
    let bend = section.bend_mid_radius * section.bend_angle;
    let radius = |u: f64| {
        let phi = u.min(bend) / section.bend_mid_radius;
        1.0 + section.tangent_curvature
            * (section.bend_mid_radius * phi.sin() + (u - bend).max(0.0) * section.bend_angle.cos())
    };
    let forces = |u: f64| {
        let point = wall.at(u);
        let (e_s, e_h) = (point.meridian_strain, point.hoop_strain);
        let slope = law.work(law.equivalent_squared(e_s, e_h), law.meeting_strain()).w_q
            * law.anisotropy_factor();
        let thin = point.thickness_ratio();
        let m = law.mixed_factor();
        (slope * (2.0 * e_s + m * e_h) * thin, slope * (2.0 * e_h + m * e_s) * thin)
    };
    let step = 1e-3;
    for u in [1.0, 4.0, 9.0, 10.5, 14.0, 20.0] {
        let pull = |u: f64| forces(u).0 * radius(u);
        let change = (pull(u + step) - pull(u - step)) / (2.0 * step);
        let expected = forces(u).1 * (radius(u + step) - radius(u - step)) / (2.0 * step);
        let scale = forces(u).1.abs() / 60.0;
        assert!((change - expected).abs() < 1e-5 * scale, "at {u}: {change} for {expected}");
        let factor = if u < bend { section.stretch_of_bend } else { 1.0 };
        let slope =
            (wall.at(u + step).flat_distance - wall.at(u - step).flat_distance) / (2.0 * step);
        assert!((slope / factor * wall.at(u).meridian_strain.exp() - 1.0).abs() < 1e-6, "at {u}");
    }
    assert!(forces(wall.formed_length()).0.abs() < 1e-6, "the edge is loaded");
    assert!(wall.at(0.0).flat_distance.abs() < 1e-9, "the face has moved");
}

/// A straight tangent line is plain unrolling, λ counted in the bend, and rims of great radius tend
/// to it from both sides.
#[test]
fn straight_rims_unroll() {
    let section = |kappa: f64| WallSection {
        tangent_curvature: kappa,
        bend_mid_radius: 3.9,
        bend_angle: FRAC_PI_2,
        stretch_of_bend: 0.92,
        wall_length: 22.0,
    };
    let unrolled = 0.92 * 3.9 * FRAC_PI_2 + 22.0;
    let width = |kappa: f64| solved(&law(0.17, 1.0), &section(kappa)).flat_width;
    assert!((width(0.0) / unrolled - 1.0).abs() < 1e-12);
    assert!((width(1e-9) / unrolled - 1.0).abs() < 1e-7);
    assert!(
        width(1e-3) < unrolled && width(-1e-3) > unrolled,
        "shrunk walls need less, stretched walls more"
    );
    let bent = f64::midpoint(width(1e-5), width(-1e-5)) - unrolled;
    assert!(bent.abs() < 1e-5, "the two sides do not meet at the straight rim: {bent}");
}

/// A flat continuation of the face (no bend at all) needs no strain, for convex and concave rims.
#[test]
fn a_wall_that_is_not_bent_is_not_strained() {
    for kappa in [0.02, -0.02] {
        let section = WallSection {
            tangent_curvature: kappa,
            bend_mid_radius: 5.0,
            bend_angle: 0.0,
            stretch_of_bend: 1.0,
            wall_length: 20.0,
        };
        let wall = solved(&law(0.17, 1.0), &section);
        assert!((wall.flat_width - 20.0).abs() < 1e-9, "{}", wall.flat_width);
        assert!(wall.edge_hoop_strain.abs() < 1e-10);
    }
}

/// A wall that leans outward by half its cone angle has the closed-form limit r → ∞ of area
/// constancy too: flat ring area = frustum area when the sheet keeps its thickness.
#[test]
fn leaning_wall_of_great_anisotropy_keeps_its_area() {
    let (a, length, angle) = (50.0, 20.0, 1.0_f64);
    let section = WallSection {
        tangent_curvature: 1.0 / a,
        bend_mid_radius: 0.0,
        bend_angle: angle,
        stretch_of_bend: 1.0,
        wall_length: length,
    };
    let found = flat_radius(&section, &solved(&law(0.17, 1e7), &section));
    let area = (a * a + length * (2.0 * a + length * angle.cos())).sqrt();
    assert!((found - area).abs() < 1e-5, "{found} for {area}");
}

#[test]
fn walls_that_cannot_be_are_told_apart() {
    let law = law(0.17, 1.0);
    // Closed solution at r = 1: the hole of radius 50 is used up at h = a / (k + 1) = 33.33.
    assert!(ring(&law, &square_wall(false, 50.0, 33.2, 0.0)).is_ok());
    assert_eq!(
        ring(&law, &square_wall(false, 50.0, 33.5, 0.0)).err(),
        Some(RingFailure::HoleCloses)
    );
    assert_eq!(
        ring(&law, &square_wall(false, 50.0, 60.0, 4.0)).err(),
        Some(RingFailure::HoleCloses)
    );
    let mut crossing = square_wall(false, 50.0, 30.0, 4.0);
    crossing.bend_angle = 0.5;
    crossing.wall_length = 70.0;
    assert_eq!(ring(&law, &crossing).err(), Some(RingFailure::WallCrossesAxis));
    let mut section = square_wall(true, 50.0, 20.0, 4.0);
    section.wall_length = f64::NAN;
    assert_eq!(ring(&law, &section).err(), Some(RingFailure::Section("wall_length")));
    section.wall_length = 1e300;
    assert!(
        ring(&law, &section).is_err()
            || ring(&law, &section).is_ok_and(|wall| wall.flat_width.is_finite())
    );
}

/// Every wall of a broad sweep is solved, or refused by name where it may be; a deeper wall takes
/// more metal. Only a bend of greater radius than its own rim may neck: a thimble drawn from the
/// sheet's middle.
#[test]
fn sweep_of_depths_is_smooth() {
    for n in [0.05, 0.17, 0.45] {
        for r in [0.6, 1.0, 2.0] {
            for bend in [0.0, 1.5, 4.0, 15.0] {
                for curvature in [0.2, 0.05, 0.01, -0.01, -0.03] {
                    let mut last = None;
                    for height in [0, 1, 2, 5, 10, 17, 25, 33, 45, 60] {
                        let section = WallSection {
                            tangent_curvature: curvature,
                            bend_mid_radius: bend,
                            bend_angle: FRAC_PI_2,
                            stretch_of_bend: 0.96,
                            wall_length: f64::from(height),
                        };
                        match ring(&law(n, r), &section) {
                            Ok(wall) => {
                                if let Some(before) = last {
                                    assert!(
                                        wall.flat_width > before,
                                        "{section:?}: {} after {before}",
                                        wall.flat_width
                                    );
                                }
                                last = Some(wall.flat_width);
                            }
                            Err(RingFailure::HoleCloses) if curvature < 0.0 => break,
                            Err(RingFailure::Necks { .. }) if curvature * bend > 1.0 => break,
                            Err(why) => panic!("n {n} r {r} {section:?}: {why}"),
                        }
                    }
                }
            }
        }
    }
}
