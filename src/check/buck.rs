//! The form block: whether the shell comes off it, and whether it can be clamped.

use crate::buck::BuckSet;
use crate::finding::{Finding, Grade, Measured, Rule, Sense};
use crate::part::{HalfShell, Part};
use crate::tolerance::CLAMP_CLEARANCE_MM;
use crate::units::{Angle, Digits};

/// What is to be watched with a half-shell's block.
pub(crate) fn check_buck(part: &Part, shell: &HalfShell, buck: &BuckSet) -> Vec<Finding> {
    release(part, shell, buck).into_iter().chain(clamp_plate(shell, buck)).collect()
}

/// A closed ring of walls that lean under locks the shell on its block.
fn release(part: &Part, shell: &HalfShell, buck: &BuckSet) -> Option<Finding> {
    let under = Measured::angle(buck.undercut - shell.draft, Sense::AtMost, Angle::ZERO);
    let message = format!(
        "the walls go all round and lean under by {} degrees: the shell locks on a solid buck",
        Digits(under.value, 2)
    );
    let source = "geometry: the opening at the seam is smaller than the buck behind it";
    let remedy = "saw the buck in two along its length with a centre key that pulls out first, or leave one end open, or set \
                  `buck: {undercut: 0}`";
    let finding = Finding::measured(Rule::BuckRelease, under, Grade::Over, message, source)
        .remedy(remedy)
        .at(&part.place);
    (shell.open_edges.is_empty() && !under.holds()).then_some(finding)
}

/// A face so narrow that it leaves no plate, or several.
fn clamp_plate(shell: &HalfShell, buck: &BuckSet) -> Option<Finding> {
    let pieces = buck.plate_pieces;
    let (sense, message) = match pieces {
        0 => (Sense::AtLeast, "the face is too narrow for a clamp plate; none is drawn".to_owned()),
        1 => return None,
        _ => (
            Sense::AtMost,
            format!("a waist parts the clamp plate into {pieces} pieces; the largest is drawn"),
        ),
    };
    let measured = Measured::count(pieces, sense, 1);
    let source =
        format!("geometry: the plate keeps {CLAMP_CLEARANCE_MM} mm inside the tangent line");
    let finding = Finding::measured(Rule::ClampPlate, measured, Grade::Over, message, source);
    Some(
        finding
            .remedy("make the shell wider there, or clamp the other ends by hand")
            .at(&shell.profile_place),
    )
}
