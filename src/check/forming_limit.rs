//! The forming limit curve: how far sheet stretches inside, away from its edges, before it necks
//! and tears.

use crate::finding::{Finding, Grade, Measured, Rule, Sense};
use crate::flat::Flat;
use crate::geom::{Point, Vec2};
use crate::part::Part;
use crate::shop::material::Material;
use crate::units::Digits;

/// Moduli of elasticity of steel, N/mm².
const STEEL_MPA: std::ops::RangeInclusive<f64> = 185_000.0..=215_000.0;
/// Engineering strain kept below the curve.
const MARGIN: f64 = 0.10;
/// How the curve rises with stretch across, strain for strain.
const RISE: f64 = 0.6;

const SOURCE: &str = "forming limit curve of low-carbon steel sheet: S. P. Keeler and W. G. Brazier, Micro Alloying 75 (1977), from memory, \
                      0.1 kept below it; for forming without a change of path";

/// The greatest true strain that a true strain across it leaves possible. Lowest where nothing
/// strains across, (23.3 + 14.13 t) n/0.21 % engineering strain with t mm up to 3 and n up to 0.21;
/// with shrink across the thinning is what counts.
fn limit(material: &Material, thickness_mm: f64, across: f64) -> f64 {
    let n = material.hardening_exponent.value.min(0.21);
    let lowest = ((0.233 + 0.1413 * thickness_mm.min(3.0)) * n / 0.21).ln_1p();
    if across < 0.0 { lowest - across } else { lowest + RISE * across }
}

/// The place in a shell's walls or face that comes nearest to the curve. None for other metals than
/// steel, for which the curve is not known, and where no forming solve has found the strains
/// inside.
pub(super) fn forming_limit(part: &Part, flat: &Flat) -> Option<Finding> {
    if !STEEL_MPA.contains(&part.material.elastic_modulus.value.mpa()) {
        return None;
    }
    let forming = flat.forming.as_ref()?;
    let mut worst: Option<(f64, f64, f64, Point)> = None;
    for walls in &forming.solved {
        for (corners, metal) in walls.triangles.iter().zip(&walls.metal) {
            let (along, across) = (metal.strain.0, metal.strain.1);
            let allowed =
                limit(&part.material, part.thickness.mm(), across.ln_1p()).exp_m1() - MARGIN;
            if worst.is_none_or(|(most, least, ..)| along * least > most * allowed) {
                let middle =
                    corners.iter().fold(Vec2::ZERO, |sum, node| sum + walls.flat[*node].to_vec2())
                        / 3.0;
                worst = Some((along, allowed, across, middle.to_point()));
            }
        }
    }
    let (along, allowed, across, at) = worst?;
    let percent = |x: f64| Digits(x * 100.0, 1).to_string();
    let message = format!(
        "nearest to its forming limit the metal stretches {} % one way and {} % the other, at [{}, {}] mm of the blank; {} % is the most there",
        percent(along),
        percent(across),
        Digits(at.x, 0),
        Digits(at.y, 0),
        percent(allowed)
    );
    let measured = Measured::share(along, Sense::AtMost, allowed);
    let remedy = if measured.holds() {
        ""
    } else {
        "make it shallower or its curves wider, anneal between passes, or make it of more pieces"
    };
    Some(
        Finding::measured(Rule::FormingLimit, measured, Grade::Over, message, SOURCE)
            .remedy(remedy)
            .at(&part.place),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// t 1.8 mm and n 0.17: 39.5 % engineering strain where nothing strains across, 0.333 true;
    /// plain tension (r = 1) reaches 0.67. Worked out by hand from the formula.
    #[test]
    fn lowest_point_and_plain_tension() {
        let mut steel = Material::named("4130-annealed").expect("built in").clone();
        steel.hardening_exponent.value = 0.17;
        assert!((limit(&steel, 1.8, 0.0) - 0.333).abs() < 0.001, "{}", limit(&steel, 1.8, 0.0));
        let tension = 2.0 * limit(&steel, 1.8, 0.0);
        assert!((limit(&steel, 1.8, -0.5 * tension) - tension).abs() < 1e-12);
        assert!(limit(&steel, 1.8, 0.1) > limit(&steel, 1.8, 0.0));
    }
}
