//! Allowance constants of two training pages beside the FAA's: the same formula with its angle
//! factor written otherwise.

use planish::shop::bend_rule::BendRule;

use super::inch_bend;
use crate::support::asserts::assert_near;

/// Three constants, three lengths: at R 0.25, T 0.071, 90 degrees 0.4391 in (0.0173, a Navy
/// structural training manual's page, read there), 0.4420 in (0.01743, FAA, from memory) and 0.4425
/// in (0.017453, a workbook's page, read there). The program's rule is the FAA's; the workbook's is
/// a K-factor of 0.0078 x 180/pi = 0.4469; the Navy's is neither and 0.003 in shorter.
#[test]
fn three_constants_three_lengths() {
    let bend = inch_bend(0.25, 0.071, 90.0);
    let faa = BendRule::Faa.allowance(&bend).expect("a rule").inches();
    assert_near("FAA constant", faa, 0.4420, 0.000_05);
    let workbook = bend.allowance_at(0.0078 * 180.0 / std::f64::consts::PI).inches();
    assert_near("pi/180", workbook, 0.4425, 0.000_05);
    assert!(faa - 0.4391 > 0.0025, "the FAA rule must not use the Navy page's constant");
}

/// The pages' general formulas, BA = N pi/180 (R + K T), OSSB = tan(N/2) (R + T), BD = 2 OSSB - BA,
/// L = A + B - BD: read there; the figures for R 3, T 2, K 0.44, 60 degrees, legs 30 and 50 worked
/// by hand from them: BA 1.047198 x 3.88 = 4.063126, OSSB 0.577350 x 5 = 2.886751, BD 1.710376, L
/// 78.289624.
#[test]
fn general_formulas_by_hand() {
    let rule = BendRule::KFactor(planish::shop::bend_rule::KFactor::new(0.44).expect("usual"));
    let developed = rule.develop(&super::mm_bend(3.0, 2.0, 60.0)).expect("under 180 degrees");
    assert_near("BA", developed.allowance.mm(), 4.063_126, 2e-6);
    assert_near("OSSB", developed.outside_setback.mm(), 2.886_751, 1e-6);
    assert_near("BD", developed.deduction.mm(), 1.710_376, 3e-6);
    assert_near("L", 30.0 + 50.0 - developed.deduction.mm(), 78.289_624, 3e-6);
}
