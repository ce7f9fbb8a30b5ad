//! Springback: Kalpakjian and Schmid, and a German metal-trades table book.

use planish::shop::material::Material;
use planish::shop::springback::{
    Springiness, lost_by_moment, release, release_by_yield, springback_band, to_be_left_with,
};
use planish::units::{Angle, Length, Stress};

use crate::support::asserts::assert_near;

fn springiness(yield_ksi: f64, modulus_ksi: f64) -> Springiness {
    Springiness {
        yield_strength: Stress::from_ksi(yield_ksi),
        elastic_modulus: Stress::from_ksi(modulus_ksi),
    }
}

/// Kalpakjian and Schmid, worked example: 20 gauge steel, T 0.0359, Ri 0.5 in, Y 40 000 psi, E 29
/// 000 000 psi; Ri/Rf 0.942, Rf 0.531 in. Value from memory; recalculated 0.942397 and 0.53056.
#[test]
fn twenty_gauge_steel() {
    let (radius, thickness) = (Length::from_inches(0.5), Length::from_inches(0.0359));
    let left = release(radius, thickness, Angle::from_degrees(90.0), springiness(40.0, 29e3))
        .expect("a bend");
    assert_near("Ri/Rf", radius / left.inside_radius, 0.942, 0.001);
    assert_near("Rf", left.inside_radius.inches(), 0.531, 0.001);
    assert_near("Ri/Rf", radius / left.inside_radius, 0.942_397, 0.000_001);
}

/// 4130, T 0.071, E 29 000 ksi, at yields of 52, 66.7 and 75 ksi: (Ri, [(Ri/Rf, Rf)]). Worked out
/// from the formula, which was read on a teaching page.
#[test]
fn chromoly_sharp_and_rolled() {
    let yields = [52.0, 66.7, 75.0];
    let thickness = Length::from_inches(0.071);
    let angle = Angle::from_degrees(90.0);
    let sharp = [(0.981_06, 88.50), (0.975_71, 88.08), (0.972_68, 87.84)];
    for (yield_ksi, (ratio, degrees)) in yields.into_iter().zip(sharp) {
        let radius = Length::from_inches(0.25);
        let left = release(radius, thickness, angle, springiness(yield_ksi, 29e3)).expect("a bend");
        assert_near("Ri/Rf", radius / left.inside_radius, ratio, 0.000_005);
        assert_near("90 degrees left with", left.bend_angle.degrees(), degrees, 0.01);
    }
    let rolled = [(0.7744, 3.874), (0.7121, 4.213), (0.6774, 4.429)];
    for (yield_ksi, (ratio, released)) in yields.into_iter().zip(rolled) {
        let radius = Length::from_inches(3.0);
        let left = release(radius, thickness, angle, springiness(yield_ksi, 29e3)).expect("a bend");
        assert_near("Ri/Rf", radius / left.inside_radius, ratio, 0.000_05);
        assert_near("Rf", left.inside_radius.inches(), released, 0.001);
    }
}

/// The table book's springback factors kR = tool angle over part angle turned round (af/ai) for
/// DC04 by r2/s (read there; that the row is DC04's from memory). The formula at the yields that
/// DC04 may have (140 to 210 megapascals) must hold them between, to 0.02: the book's are measured,
/// the formula's metal doesn't harden.
#[test]
fn drawing_steel_table() {
    let ratios = [1.0, 1.6, 2.5, 4.0, 6.3, 10.0, 16.0, 25.0, 40.0, 63.0, 100.0];
    let factors = [0.99, 0.99, 0.99, 0.98, 0.97, 0.97, 0.96, 0.94, 0.91, 0.87, 0.83];
    let (thickness, angle) = (Length::from_mm(1.0), Angle::from_degrees(45.0));
    let steel = &Material::named("dc04").expect("built in");
    let modulus = steel.elastic_modulus.value;
    for (ratio, printed) in ratios.into_iter().zip(factors) {
        let factor = |yield_strength| {
            let springiness = Springiness { yield_strength, elastic_modulus: modulus };
            let tool = to_be_left_with(Length::from_mm(ratio), thickness, angle, springiness)
                .expect("a bend");
            angle / tool.bend_angle
        };
        let (most, least) = (factor(Stress::from_mpa(140.0)), factor(Stress::from_mpa(210.0)));
        assert!(
            least - 0.02 <= printed && printed <= most + 0.02,
            "r2/s {ratio}: {least} to {most}, printed {printed}"
        );
    }
}

/// The same book's r1 = kR (r2 + s/2) - s/2 and a1 = a2/kR (radius formula from memory) hold for
/// the tool's bend.
#[test]
fn tool_radius_and_angle_go_together() {
    let (radius, thickness, angle) =
        (Length::from_mm(80.0), Length::from_mm(1.8), Angle::from_degrees(70.0));
    let tool = to_be_left_with(radius, thickness, angle, springiness(66.7, 29e3)).expect("a bend");
    let factor = angle / tool.bend_angle;
    assert_near("r1", tool.inside_radius.mm(), factor * (80.0 + 0.9) - 0.9, 1e-9);
}

/// Springback scales with yield, and the published yields of annealed 4130 differ by 100
/// megapascals: the answer is a range that holds the angles of 52 and 66.7 ksi above (88.50 and
/// 88.08 degrees; E there 200, here 205 gigapascals).
#[test]
fn range_of_annealed_4130() {
    let metal = Material::named("4130-annealed").expect("built in");
    let (radius, thickness) = (Length::from_inches(0.25), Length::from_inches(0.071));
    let range =
        release_by_yield(metal, radius, thickness, Angle::from_degrees(90.0)).expect("a bend");
    assert_near("least", range.low.bend_angle.degrees(), 88.50, 0.05);
    assert_near("most", range.high.bend_angle.degrees(), 88.08, 0.06);
}

/// Marciniak, Duncan and Hu, Mechanics of Sheet Metal Forming (2002), section 6.6: a small angle
/// lost is 3 (S/E) (rho/t) of the angle for a sheet that yields through and through. Read there.
/// Kalpakjian's pair of formulas comes to the same where R/T is large and X small: within a tenth
/// at R = 20 T, and nearer the larger R/T, the smaller X.
#[test]
fn small_springback_is_that_of_the_moment() {
    let thickness = Length::from_mm(1.0);
    for (ratio, yield_ksi, tolerance) in [(20.0, 10.0, 0.10), (40.0, 10.0, 0.06), (80.0, 2.0, 0.03)]
    {
        let angle = Angle::from_degrees(90.0);
        let left = release(Length::from_mm(ratio), thickness, angle, springiness(yield_ksi, 29e3))
            .expect("a bend");
        let lost = 1.0 - left.angle_ratio;
        // rho is the radius of the middle of the sheet.
        let moment = 3.0 * yield_ksi / 29e3 * (ratio + 0.5);
        assert_near(&format!("lost at R = {ratio} T"), lost / moment, 1.0, tolerance);
    }
}

/// Trade article, R about T, 90 degrees: 304 gives back 2 to 3 degrees, cold-rolled steel 0.75 to 1
/// (shop practice, read there). The formula gives less than shops find there, as its doc comment
/// says; it must never give more.
#[test]
fn sharp_bends_spring_no_more_than_shops_find() {
    let (one, angle) = (Length::from_mm(1.5), Angle::from_degrees(90.0));
    for (name, most) in [("304", 3.0), ("1018", 1.0), ("1020", 1.0)] {
        let metal = Material::named(name).expect("built in");
        let left = release_by_yield(metal, one, one, angle).expect("a bend");
        let lost = 90.0 - left.high.bend_angle.degrees();
        assert!(lost > 0.0 && lost <= most, "{name}: {lost}");
    }
}

/// Moment theory, Marciniak, Duncan and Hu (2002), Eq. 6.31 to 6.34 (read there), worked by hand
/// for a right angle in 1.8 mm of E = 205,000 megapascals with nu = 0.3; and an exam's sheet rolled
/// to a tube (open notebook, university exam 2019): t 1.2, R 5.77, E 70,000, Y 250 opens by 21.5
/// degrees of 360.
#[test]
fn angles_lost_by_moment_theory() {
    let right = Angle::from_degrees(90.0);
    let rows = [
        (360.0, [0.75, 1.25, 1.74, 2.24, 3.24, 4.24]),
        (460.0, [0.96, 1.59, 2.23, 2.87, 4.14, 5.41]),
        (517.0, [1.07, 1.79, 2.50, 3.22, 4.65, 6.08]),
    ];
    for (yield_mpa, wanted) in rows {
        let metal = Springiness {
            yield_strength: Stress::from_mpa(yield_mpa),
            elastic_modulus: Stress::from_mpa(205_000.0),
        };
        for (ratio, wanted) in [1.0, 2.0, 3.0, 4.0, 6.0, 8.0].into_iter().zip(wanted) {
            let lost =
                lost_by_moment(Length::from_mm(1.8 * ratio), Length::from_mm(1.8), right, metal)
                    .expect("a bend");
            assert_near(&format!("Y {yield_mpa}, R/T {ratio}"), lost.degrees(), wanted, 0.006);
        }
    }
    let metal = Springiness {
        yield_strength: Stress::from_mpa(250.0),
        elastic_modulus: Stress::from_mpa(70_000.0),
    };
    let whole = Angle::from_degrees(360.0);
    let opens =
        lost_by_moment(Length::from_mm(5.77), Length::from_mm(1.2), whole, metal).expect("a bend");
    assert_near("the tube opens", opens.degrees(), 21.5, 0.05);
}

/// A buck's lean is a band that holds both rules.
#[test]
fn the_band_holds_both_rules() {
    let metal = Material::named("4130-normalized").expect("built in");
    for ratio in [1.0, 3.0, 8.0] {
        let (radius, thickness, right) =
            (Length::from_mm(1.6 * ratio), Length::from_mm(1.6), Angle::from_degrees(90.0));
        let band = springback_band(metal, radius, thickness, right).expect("a bend");
        let rule = release_by_yield(metal, radius, thickness, right).expect("a bend");
        let lost = 90.0 - rule.low.bend_angle.degrees();
        assert_near("least", band.springback[0].degrees(), lost, 1e-9);
        assert!(
            band.springback[1].degrees() > 1.1 * lost && band.undercut[1] >= band.undercut[0],
            "{band:?}"
        );
    }
}
