//! Hems: an edge folded back on itself.

use std::f64::consts::PI;

use crate::part::{Hem, HemKind, Part};
use crate::problem::{Code, Problem};
use crate::shop::bend_rule::{DevelopedBend, RuledK, StraightBend};
use crate::units::{Angle, Length};

/// The bend of a hem.
pub(super) struct HemFold {
    /// The angle turned through, radians.
    pub(super) angle: f64,
    /// Its inside radius, mm.
    pub(super) inside_radius: f64,
    /// Its development. A fold has no mould line: its setback is R + T, from the tangent line to
    /// the outermost tangent.
    pub(super) developed: DevelopedBend,
}

/// K of a hem folded shut: its neutral line in the middle, so that two outside lengths h and r take
/// h + r - (2 - pi/2) T = h + r - 0.43 T of flat. Source: hem notes of shop pages, closed hems in
/// sheet under 0.080 in (common practice).
const CLOSED_K: f64 = 0.5;

/// The fold of a hem.
///
/// An open hem turns through 180 degrees on R = gap/2. A teardrop turns on through beta = 2
/// atan(R/f) until the end of its straight piece f rests on the flange: R + R cos(beta) = f
/// sin(beta). Derived here.
pub(super) fn hem_fold(part: &Part, hem: &Hem) -> Result<HemFold, Problem> {
    let thickness = part.thickness;
    let refuse = |message: String, help: &str| {
        Problem::new(Code::NoRoom, message, help).at(hem.place.clone())
    };
    let inside_radius = hem.gap / 2.0;
    let round = inside_radius + thickness;
    let straight = (hem.return_length - round).mm();
    let angle = match hem.kind {
        HemKind::Teardrop if straight > 0.0 => PI + 2.0 * (inside_radius.mm() / straight).atan(),
        _ => PI,
    };
    if hem.kind == HemKind::Teardrop && angle > 1.5 * PI {
        let message = "this return is too short to come round to the flange again".to_owned();
        return Err(refuse(message, "make it longer, or the gap smaller"));
    }
    let half_turn = StraightBend::new(inside_radius, thickness, Angle::from_radians(PI))
        .map_err(|e| refuse(e.to_string(), "give a gap of zero or more"))?;
    let (ruled, allowance) = match hem.kind {
        HemKind::Closed => {
            let basis = "hem folded shut: outside lengths less 0.43 T".to_owned();
            (
                RuledK { k_factor: CLOSED_K, basis, notes: Vec::new() },
                half_turn.allowance_at(CLOSED_K),
            )
        }
        _ => {
            let no_strip =
                "measure a strip of this sheet and radius, or choose another bend_allowance";
            let ruled =
                part.bend_rule.k_factor(&half_turn).map_err(|e| refuse(e.to_string(), no_strip))?;
            let half = part
                .bend_rule
                .allowance(&half_turn)
                .map_err(|e| refuse(e.to_string(), no_strip))?;
            (ruled, half * (angle / PI))
        }
    };
    let RuledK { k_factor, basis, notes } = ruled;
    let developed = DevelopedBend {
        k_factor,
        allowance,
        outside_setback: round,
        deduction: round * 2.0 - allowance,
        din_v: None,
        basis,
        notes,
    };
    Ok(HemFold { angle, inside_radius: inside_radius.mm(), developed })
}

/// The shortest return that a brake folds well: 4 T + R (common practice).
#[must_use]
pub fn least_return(hem: &Hem, thickness: Length) -> Length {
    thickness * 4.0 + hem.gap / 2.0
}
