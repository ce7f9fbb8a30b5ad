//! A bend of a part developed by the part's own rule, and what of a leg it takes.

use crate::part::{LegDims, Part};
use crate::problem::{Code, Place, Problem};
use crate::shop::bend_rule::{DevelopedBend, StraightBend};
use crate::units::{Angle, Length};

/// The bend and its development.
pub(crate) fn developed(
    part: &Part,
    inside_radius: Length,
    angle: Angle,
    place: &Place,
) -> Result<(StraightBend, DevelopedBend), Problem> {
    let help = "measure a strip of this sheet and radius, or choose another bend_allowance";
    let refused =
        |message: String| Problem::new(Code::UnknownName, message, help).at(place.clone());
    let bend = StraightBend::new(inside_radius, part.thickness, angle.abs())
        .map_err(|e| refused(e.to_string()))?;
    let developed = part.bend_rule.develop(&bend).map_err(|e| refused(e.to_string()))?;
    Ok((bend, developed))
}

/// The development of the edge between the face and the walls of a half-shell; none of other parts.
pub(crate) fn developed_edge(part: &Part) -> Option<DevelopedBend> {
    let shell = part.kind.half_shell()?;
    let angle = Angle::from_degrees(90.0) - shell.draft;
    Some(developed(part, shell.inside_radius, angle, &shell.profile_place).ok()?.1)
}

/// How far a leg's measure reaches past the tangent line of the bend at its end, mm.
pub(super) fn reach(dims: LegDims, bend: &StraightBend, developed: &DevelopedBend) -> f64 {
    let half_tangent = (bend.bend_angle().radians() / 2.0).tan();
    match dims {
        LegDims::Inside => bend.inside_radius().mm() * half_tangent,
        LegDims::Flat => 0.0,
        // Past 90 degrees to the outer tangent, which lies R + T beyond the tangent line.
        LegDims::Edge if bend.bend_angle().degrees() > 90.0 + 1e-9 => {
            (bend.inside_radius() + bend.thickness()).mm()
        }
        LegDims::Outside | LegDims::Edge => developed.outside_setback.mm(),
    }
}
