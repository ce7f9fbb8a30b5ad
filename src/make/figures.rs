//! Hard checks before anything is written: drawings that a torch must not follow are refused,
//! figures that contradict each other are not told.

use crate::buck::formed_solid;
use crate::check::figures_differ;
use crate::drawing::mapped_metal;
use crate::finding::Finding;
use crate::flat::Flat;
use crate::flat::half_shell::open_corners;
use crate::formats::{FaultKind, self_check};
use crate::geom::Point;
use crate::geom::space::{cross, dot};
use crate::page::Drawing;
use crate::part::{HalfShell, Part};
use crate::problem::{Checked, Code, Problem};
use crate::section::Hollow;
use crate::shell::FormedFace;
use crate::units::Digits;

/// How far areas and volumes of the same metal, found in two ways, may be apart, as a share:
/// corners that are mitred and chords of solids count for less than half of that; judgement, no
/// source.
const SAME_METAL: f64 = 0.03;
/// How far mapped metal may reach beyond the blank, mm; judgement, no source.
const BEYOND: f64 = 0.5;
/// Metal that strains more has torn, or its solution is none; judgement, no source.
const GREATEST_STRAIN: f64 = 3.0;

/// A drawing whose cut lines may be followed, or why not.
pub(super) fn sound(part: &Part, drawing: &Drawing) -> Checked<()> {
    let told = |kind: FaultKind| !matches!(kind, FaultKind::Tiny | FaultKind::LongArc);
    let problems: Vec<Problem> = self_check(drawing)
        .into_iter()
        .filter(|fault| told(fault.kind))
        .map(|fault| {
            let help = "change the sizes of the part there; nothing of it is written";
            Problem::new(Code::Contradiction, format!("{}: {fault}", drawing.title), help)
                .at(part.place.clone())
        })
        .collect();
    if problems.is_empty() { Ok(()) } else { Err(problems) }
}

/// What contradicts itself in a half-shell's figures.
pub(super) struct Contradictions {
    /// Whether its maps are to be left out.
    pub(super) maps: bool,
    /// What is said of it.
    pub(super) findings: Vec<Finding>,
}

/// Measures a half-shell's metal in the blank, as it stands and as a solid, and takes back what
/// these three contradict: its maps, and what its pair holds.
pub(super) fn contradictions(
    part: &Part,
    flat: &Flat,
    hollow: Option<&mut Hollow>,
) -> Contradictions {
    let mut found = Contradictions { maps: false, findings: Vec::new() };
    let Some(shell) = part.kind.half_shell() else { return found };
    let metal = mapped_metal(part, flat);
    let corners = open_corners(shell, flat.forming.as_ref());
    let solid = solid_volume(shell, flat, &corners);
    let t = part.thickness.mm();
    if let Some(metal) = metal {
        let (cut, net) = (flat.cut_area(), flat.net.area());
        let lipped = shell.openings.iter().any(|opening| opening.lip.is_some());
        // At sharp corners maps show straight walls as if they met in the flat too.
        let sharp = flat.forming.as_ref().is_some_and(|forming| !forming.corners.is_empty());
        let thinned = metal.thinned / metal.formed;
        let formed = solid.map(|volume| volume / t * thinned);
        let cm2 = |area: f64| Digits(area / 100.0, 1);
        let faults = [
            (metal.strain.is_nan() || metal.strain > GREATEST_STRAIN).then(|| {
                format!("the metal would strain by {} %", Digits(metal.strain * 100.0, 0))
            }),
            (metal.beyond > BEYOND).then(|| {
                format!("their metal reaches {} mm beyond the blank", Digits(metal.beyond, 1))
            }),
            (metal.whole && !sharp && apart(metal.flat, cut) > SAME_METAL).then(|| {
                format!(
                    "their metal is {} cm² in the blank, which has {}",
                    cm2(metal.flat),
                    cm2(cut)
                )
            }),
            formed.filter(|formed| !lipped && apart(*formed, net) > SAME_METAL).map(|formed| {
                format!(
                    "the formed shell has the metal of {} cm² of sheet, the blank {}",
                    cm2(formed),
                    cm2(net)
                )
            }),
        ];
        let why = faults.into_iter().flatten().next();
        if let Some(why) = why {
            found.maps = true;
            found.findings.push(figures_differ(
                part,
                &format!("the maps of the metal contradict its blank, and are left out: {why}"),
            ));
        }
    }
    if let (Some(hollow), Some(solid), true) = (hollow, solid, corners.is_empty())
        && let (Some(inside), Some(outside)) = (hollow.volume, hollow.outside_volume)
    {
        // Volumes count the weld in the gap, solids do not.
        let gap = hollow.seam_length() * shell.seam_gap.mm() * t;
        let metal = 2.0 * solid + gap;
        let holds = inside > 0.0 && apart(outside - inside, metal) < SAME_METAL;
        if !holds {
            (hollow.volume, hollow.outside_volume, hollow.centre_of_gravity) = (None, None, None);
            let why =
                "what the pair holds contradicts its metal, and is left out: measure it with water";
            found.findings.push(figures_differ(part, why));
        }
    }
    found
}

/// How far two figures that are to be alike are apart, as a share of the second; everything where
/// either is none.
fn apart(a: f64, b: f64) -> f64 {
    let share = (a / b - 1.0).abs();
    if share.is_finite() { share } else { f64::INFINITY }
}

/// Volume of the formed shell before openings are cut, mm³.
fn solid_volume(shell: &HalfShell, flat: &Flat, corners: &[Point]) -> Option<f64> {
    let forming = flat.forming.as_ref()?;
    let face = forming.face.as_ref().map(FormedFace::finished);
    let triangles = formed_solid(shell, &forming.wall, face, &[], corners)?;
    Some(triangles.iter().map(|[a, b, c]| dot(*a, cross(*b, *c)) / 6.0).sum())
}
