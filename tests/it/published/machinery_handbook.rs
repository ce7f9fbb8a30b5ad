//! Machinery's Handbook, 31st edition (2020), page 1421: lengths of bends.

use planish::shop::bend_rule::{BendRule, HandbookFactor};

use super::inch_bend;
use crate::support::asserts::assert_near;

/// The example of figure 13, soft steel: T 1/8, R 3/8 in, 180 degrees, 1.338 in. Read there; the
/// equation gives 1.3375.
#[test]
fn half_turn_in_soft_steel() {
    let rule = BendRule::Handbook(HandbookFactor::SoftSteel);
    let length = rule.allowance(&inch_bend(0.375, 0.125, 180.0)).expect("a rule");
    assert_near("L", length.inches(), 1.338, 0.001);
}

/// Figures 14 to 16: the angle to use is the one the metal is turned through. A drawing angle of 60
/// degrees closed means 120 turned; 60 from the line means 60; 30 from the vertical means 60. Read
/// there. L goes by N/90.
#[test]
fn length_goes_by_the_angle_turned() {
    let rule = BendRule::Handbook(HandbookFactor::SoftSteel);
    let length =
        |degrees| rule.allowance(&inch_bend(0.375, 0.125, degrees)).expect("a rule").inches();
    let right_angle = 0.64 * 0.125 + 1.57 * 0.375;
    assert_near("120", length(180.0 - 60.0), right_angle * 120.0 / 90.0, 1e-12);
    assert_near("60", length(90.0 - 30.0), right_angle * 60.0 / 90.0, 1e-12);
}

/// The K-factors that the three equations amount to: 0.35, 0.41, 0.45 (read in a quotation of the
/// 28th edition), worked out as c/(pi/2): 0.350, 0.407, 0.452. 1.57 is not quite pi/2, which moves
/// K by 0.0005 R/T: R = 0 here.
#[test]
fn equivalent_k_factors() {
    for (factor, two_digits, three_digits) in HandbookFactor::ALL
        .into_iter()
        .zip([0.35, 0.41, 0.45])
        .zip([0.350, 0.407, 0.452])
        .map(|((f, a), b)| (f, a, b))
    {
        let k = BendRule::Handbook(factor)
            .k_factor(&inch_bend(0.0, 0.1, 90.0))
            .expect("a rule")
            .k_factor;
        assert_near("K", k, two_digits, 0.005);
        assert_near("K", k, three_digits, 0.001);
    }
}

/// T 0.071 in, 90 degrees, R 0.125 and 0.25 in, worked out from the equations that were read there.
#[test]
fn seventy_one_thousandths() {
    let printed = [
        (HandbookFactor::SoftCopper, [0.2353, 0.4315]),
        (HandbookFactor::SoftSteel, [0.2417, 0.4379]),
        (HandbookFactor::HardSteel, [0.2467, 0.4429]),
    ];
    for (factor, lengths) in printed {
        for (radius, length) in [0.125, 0.25].into_iter().zip(lengths) {
            let allowance = BendRule::Handbook(factor)
                .allowance(&inch_bend(radius, 0.071, 90.0))
                .expect("a rule");
            assert_near("L", allowance.inches(), length, 0.0001);
        }
    }
}

/// A table of K by thickness and radius credited to the 26th edition (read in a secondary source):
/// cold-rolled steel, T .048, .060, .093 in. It is another way of reckoning than the equations;
/// those for hard steel must come within 0.035 of it, a tenth of a millimetre on a right angle in
/// 1.8 mm sheet.
#[test]
fn table_of_the_26th_edition_lies_near() {
    let table = [
        (0.030, [(0.048, 0.438), (0.060, 0.467), (0.093, 0.459)]),
        (0.060, [(0.048, 0.433), (0.060, 0.463), (0.093, 0.457)]),
        (0.188, [(0.048, 0.420), (0.060, 0.453), (0.093, 0.450)]),
    ];
    for (radius, row) in table {
        for (thickness, printed) in row {
            let rule = BendRule::Handbook(HandbookFactor::HardSteel);
            let k = rule.k_factor(&inch_bend(radius, thickness, 90.0)).expect("a rule").k_factor;
            assert_near(&format!("K at R {radius} T {thickness}"), k, printed, 0.035);
        }
    }
    // Aluminium, T .063, and stainless, T .078 in, at the same radii.
    for (radius, aluminium, stainless) in
        [(0.030, 0.404, 0.449), (0.060, 0.402, 0.446), (0.188, 0.401, 0.438)]
    {
        let k = |factor, thickness| {
            BendRule::Handbook(factor)
                .k_factor(&inch_bend(radius, thickness, 90.0))
                .expect("a rule")
                .k_factor
        };
        assert_near("K of aluminium", k(HandbookFactor::SoftSteel, 0.063), aluminium, 0.01);
        assert_near("K of stainless", k(HandbookFactor::HardSteel, 0.078), stainless, 0.015);
    }
}
