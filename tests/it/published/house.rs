//! Values worked out by hand for 0.071 in sheet with the FAA's constants (0.01743 and 0.0078, from
//! memory).

use planish::shop::bend_rule::BendRule;
use planish::shop::measured_strip::k_from_strip;
use planish::units::Length;

use super::inch_bend;
use crate::support::asserts::assert_near;

/// (degrees, [BA, SB, BD] at R 0.125, the same at R 0.250), inches.
const ROWS: [(f64, [f64; 3], [f64; 3]); 4] = [
    (30.0, [0.0820, 0.0525, 0.0231], [0.1473, 0.0860, 0.0247]),
    (45.0, [0.1230, 0.0812, 0.0394], [0.2210, 0.1330, 0.0449]),
    (60.0, [0.1640, 0.1132, 0.0624], [0.2947, 0.1853, 0.0760]),
    (90.0, [0.2459, 0.1960, 0.1461], [0.4420, 0.3210, 0.2000]),
];

#[test]
fn allowance_setback_and_deduction() {
    for (degrees, quarter, half) in ROWS {
        for (radius, [allowance, setback, deduction]) in [(0.125, quarter), (0.250, half)] {
            let developed = BendRule::Faa
                .develop(&inch_bend(radius, 0.071, degrees))
                .expect("under 180 degrees");
            let what = |letters: &str| format!("{letters} at {degrees} degrees, R {radius}");
            assert_near(&what("BA"), developed.allowance.inches(), allowance, 0.000_05);
            assert_near(&what("SB"), developed.outside_setback.inches(), setback, 0.000_05);
            assert_near(&what("BD"), developed.deduction.inches(), deduction, 0.000_05);
        }
    }
}

/// The FAA rule amounts to K = 0.0078/0.01743 = 0.4475 of its own arc, 0.0078 x 180/pi = 0.4469 of
/// the true one.
#[test]
fn equivalent_k_factor() {
    let k = BendRule::Faa.k_factor(&inch_bend(0.0, 0.071, 90.0)).expect("a rule").k_factor;
    assert_near("K", k, 0.4469, 0.000_05);
}

/// A strip that comes out with exactly a table row's deduction has the K of that row: legs A + B =
/// L0 + BD. Four printed decimals of BD leave K uncertain by 0.00005/(N T), that is 0.0014 at 30
/// degrees.
#[test]
fn strips_made_of_the_table_give_its_k() {
    for (degrees, quarter, half) in ROWS {
        for (radius, [_, _, deduction]) in [(0.125, quarter), (0.250, half)] {
            let leg = Length::from_inches(f64::midpoint(4.0, deduction));
            let bend = inch_bend(radius, 0.071, degrees);
            let measured =
                k_from_strip(&bend, Length::from_inches(4.0), [leg, leg]).expect("a sound strip");
            let k = 0.4469 - 0.001_33 * radius / 0.071;
            assert_near(
                &format!("K at {degrees} degrees, R {radius}"),
                measured.k_factor,
                k,
                0.0016,
            );
            assert!(measured.is_usual());
        }
    }
}
