//! Openings with lips.

use indoc::formatdoc;
use planish::fe::law::SheetLaw;
use planish::fe::ring::{WallSection, ring};

use crate::support::asserts::assert_near;
use crate::support::parts::{made, part_and_made};

fn plate(diameter: f64, height: f64, radius: f64, angle: f64, thickness: f64) -> String {
    formatdoc!(
        "
        part: gusset
        units: mm
        material: 4130-annealed
        thickness: {thickness}
        bend_allowance: {{k_factor: 0.42}}
        plate:
          profile: {{rectangle: {{size: [400, 300]}}}}
          openings: [{{circle: {{diameter: {diameter}, at: [10, 5]}}, lip: {{height: {height:.15}, radius: {radius}, angle: {angle}}}}}]
        "
    )
}

/// The hole to cut is the ring's: tangent line outside the opening by H tan d + (R + T) tan(N/2),
/// the wall walked inward from it.
#[test]
fn holes_to_cut_have_the_ring_solution() {
    for (diameter, height, radius, angle) in [
        (60.0, 8.0, 2.0, 90.0),
        (60.0, 5.0, 3.0, 45.0),
        (90.0, 6.0, 2.0, 60.0),
        (120.0, 12.0, 4.0, -90.0),
        (80.0, 9.0, 2.0, 110.0),
    ] {
        let thickness = 1.8;
        let yaml = plate(diameter, height, radius, angle, thickness);
        let (part, made) = part_and_made(&yaml);
        let turned = f64::to_radians(angle.abs());
        let lean = std::f64::consts::FRAC_PI_2 - turned;
        let setback = (radius + thickness) * (turned / 2.0).tan();
        let tangent = diameter / 2.0 + height * lean.tan() + setback;
        let law = SheetLaw {
            strength_mpa: part.material.strength_coefficient.value.mpa(),
            hardening: part.material.hardening_exponent.value,
            anisotropy: part.material.normal_anisotropy.value,
            elastic_modulus_mpa: part.material.elastic_modulus.value.mpa(),
        };
        let section = WallSection {
            tangent_curvature: -1.0 / tangent,
            bend_mid_radius: radius + thickness / 2.0,
            bend_angle: turned,
            stretch_of_bend: (radius + 0.42 * thickness) / (radius + thickness / 2.0),
            wall_length: height / lean.cos() - setback,
        };
        let wall = ring(&law, &section).expect("a ring");
        let bounds = made.flat.openings[0].bounds();
        assert_near("hole", bounds.width() / 2.0, tangent - wall.flat_width, 1e-8);
        assert_near("centre", bounds.center().x, 10.0, 1e-9);
        assert_eq!(made.flat.wall_lines.iter().map(|w| w.up).collect::<Vec<_>>(), [angle > 0.0]);
        // The edge stretches from the hole's radius to that of the lip's middle surface at its end.
        let middle = diameter / 2.0 + thickness / 2.0 * turned.sin();
        let strain = middle / (tangent - wall.flat_width) - 1.0;
        assert_near("stretch", made.flat.forming.expect("a lip").max_stretch(), strain, 1e-6);
    }
}

/// Demo gusset: holes finished 32 and 25 with lips 5 long at 45 degrees. The trade's first estimate
/// takes the lip as 5 mm of sheet turned about a sharp line: 32 - 10 (1 - cos 45) = 29.1, and 22.1
/// (derived numbers). It leaves out the bend's radius, whose deduction makes the hole larger by up
/// to two of them, and the stretching, which makes it smaller by less: both bound the band.
#[test]
fn derived_gusset_holes_are_near_the_first_estimate() {
    for (finished, estimate) in [(32.0, 29.1), (25.0, 22.1)] {
        let (thickness, radius) = (1.803, 1.8);
        let made =
            made(&plate(finished, 5.0 * 45.0_f64.to_radians().sin(), radius, 45.0, thickness));
        let turned = 45.0_f64.to_radians();
        let deduction = 2.0 * (radius + thickness) * (turned / 2.0).tan()
            - turned * (radius + 0.42 * thickness);
        let hole = made.flat.openings[0].bounds().width();
        assert!(
            (estimate - 0.3..estimate + 2.0 * deduction + 0.3).contains(&hole),
            "{hole} for {estimate}, deduction {deduction}"
        );
    }
    // A thin sheet with a tight bend comes down to the estimate, less what the stretched lip gains
    // in length.
    let thin = made(&plate(32.0, 5.0 * 45.0_f64.to_radians().sin(), 0.1, 45.0, 0.1)).flat.openings
        [0]
    .bounds()
    .width();
    assert_near("thin", thin, 29.1, 0.35);
}
