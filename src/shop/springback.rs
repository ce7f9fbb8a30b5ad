//! What a bend gives back when the tool lets go, and how far to go beyond to end up right.

use std::fmt;

use crate::shop::material::Material;
use crate::units::{Angle, Length, Stress};

/// The value of X from which a bend is elastic through and through.
const WHOLLY_ELASTIC: f64 = 0.5;

/// A bend after the tool has let go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Released {
    /// The inside radius that is left.
    pub inside_radius: Length,
    /// The bend angle that is left.
    pub bend_angle: Angle,
    /// Bend angle left over bend angle under the tool.
    pub angle_ratio: f64,
}

/// The bend to make under the tool so that another is left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnderTool {
    /// Inside radius of the tool.
    pub inside_radius: Length,
    /// The angle to pull to.
    pub bend_angle: Angle,
}

/// The least, the expected and the greatest of a thing that follows from a material's yield
/// strength.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ByYield<Thing> {
    /// At the least yield strength that a source gives: springs least.
    pub low: Thing,
    /// At the yield strength the program takes.
    pub value: Thing,
    /// At the greatest: springs most.
    pub high: Thing,
}

/// A bend that can't be reckoned: it springs back wholly, or its figures are no bend's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NoSpringback {
    /// So wide for its sheet that it never yields and springs back flat.
    WhollyElastic {
        /// X = R Y/(E T), 0.5 or more.
        x: f64,
    },
    /// Thickness, strengths or angle not above zero, or the radius below it.
    NotABend,
}

impl fmt::Display for NoSpringback {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::WhollyElastic { .. } => {
                "the radius is so wide for this sheet that the metal never yields and springs back flat"
            }
            Self::NotABend => "thickness, strengths and bend angle must be above zero",
        })
    }
}

impl std::error::Error for NoSpringback {}

/// The strengths that springback goes by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Springiness {
    /// Yield strength Y.
    pub yield_strength: Stress,
    /// Young's modulus E.
    pub elastic_modulus: Stress,
}

/// Ri/Rf = 4 X^3 - 3 X + 1 with X = Ri Y/(E T), and the bend angle by Ks = af/ai = (2 Ri/T + 1)/(2
/// Rf/T + 1).
///
/// Letters: Ri, Rf = inside radius under the tool and released, Y = yield strength, E = Young's
/// modulus, T = thickness, ai, af = bend angle under the tool and released. Range: X under 0.5; at
/// 0.5 the bend is wholly elastic. The metal is taken as elastic and perfectly plastic and the
/// sheet as bent by a pure moment. At sharp radii (R about T) shops find more: 0.75 to 1 degree in
/// cold-rolled steel, 2 to 3 in 304 on a right angle; measure there. Source: Kalpakjian and Schmid,
/// Manufacturing Engineering and Technology, 6th edition, Eq. 16.6 (radius), and Manufacturing
/// Processes for Engineering Materials (angle). Checked in `tests/it/published/springback.rs`.
pub fn release(
    inside_radius: Length,
    thickness: Length,
    bend_angle: Angle,
    springiness: Springiness,
) -> Result<Released, NoSpringback> {
    let per_mm = x_per_mm(inside_radius, thickness, bend_angle, springiness)?;
    let x = inside_radius.mm() * per_mm;
    if x >= WHOLLY_ELASTIC {
        return Err(NoSpringback::WhollyElastic { x });
    }
    let released = inside_radius / radius_ratio(x);
    let angle_ratio = angle_ratio(inside_radius, released, thickness);
    Ok(Released { inside_radius: released, bend_angle: bend_angle * angle_ratio, angle_ratio })
}

/// The bend to make under the tool so that `inside_radius` and `bend_angle` are left: [`release`]
/// turned round.
///
/// The tool's radius solves 4 X^3 - 3 X + 1 = Ri/Rf by halving; the left side falls and the right
/// side grows with X, so there is one solution below X = 0.5 whatever the radius wanted. The angle
/// may come out over 180 degrees, which no brake makes.
pub fn to_be_left_with(
    inside_radius: Length,
    thickness: Length,
    bend_angle: Angle,
    springiness: Springiness,
) -> Result<UnderTool, NoSpringback> {
    // After 60 halvings of 0.5 the bracket is narrower than the last bit.
    const HALVINGS: usize = 60;
    let per_mm = x_per_mm(inside_radius, thickness, bend_angle, springiness)?;
    let wanted = inside_radius.mm() * per_mm;
    let (mut low, mut high) = (0.0, WHOLLY_ELASTIC);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if radius_ratio(middle) * wanted > middle {
            low = middle;
        } else {
            high = middle;
        }
    }
    let tool = Length::from_mm(low / per_mm);
    Ok(UnderTool {
        inside_radius: tool,
        bend_angle: bend_angle / angle_ratio(tool, inside_radius, thickness),
    })
}

/// [`release`] at the least, the expected and the greatest yield strength of a material.
pub fn release_by_yield(
    material: &Material,
    inside_radius: Length,
    thickness: Length,
    bend_angle: Angle,
) -> Result<ByYield<Released>, NoSpringback> {
    by_yield(material, |springiness| release(inside_radius, thickness, bend_angle, springiness))
}

/// [`to_be_left_with`] at the least, the expected and the greatest yield strength of a material.
pub fn to_be_left_with_by_yield(
    material: &Material,
    inside_radius: Length,
    thickness: Length,
    bend_angle: Angle,
) -> Result<ByYield<UnderTool>, NoSpringback> {
    by_yield(material, |springiness| {
        to_be_left_with(inside_radius, thickness, bend_angle, springiness)
    })
}

/// The angle lost by moment theory: 3 (S/E') (rho/T) a, with S = 2 Y/sqrt 3, E' = E/(1 - nu^2),
/// rho = R + T/2.
///
/// Letters: R = inside radius, Y = yield strength, E = Young's modulus, nu = 0.3, T = thickness,
/// a = bend angle. The sheet is wide (plane strain), bent by a pure moment, plastic through its
/// whole thickness; small changes; rho/T over 4.5 strictly. Source: Marciniak, Duncan and Hu, Mechanics
/// of Sheet Metal Forming, 2nd edition (2002), Eq. 6.31 to 6.34. Checked in
/// `tests/it/published/springback.rs`.
pub fn lost_by_moment(
    inside_radius: Length,
    thickness: Length,
    bend_angle: Angle,
    springiness: Springiness,
) -> Result<Angle, NoSpringback> {
    const POISSON: f64 = 0.3;
    let per_mm = x_per_mm(inside_radius, thickness, bend_angle, springiness)?;
    let middle = inside_radius.mm() + thickness.mm() / 2.0;
    Ok(bend_angle * (3.0 * (2.0 / 3.0_f64.sqrt()) * (1.0 - POISSON * POISSON) * per_mm * middle))
}

/// How far a bend springs back, as two rules and a material's yield strengths leave it open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpringbackBand {
    /// The angle lost, least and greatest.
    pub springback: [Angle; 2],
    /// How far to go beyond the angle wanted, least and greatest.
    pub undercut: [Angle; 2],
}

impl SpringbackBand {
    /// The middle of what to go beyond.
    #[must_use]
    pub fn middle(&self) -> Angle {
        (self.undercut[0] + self.undercut[1]) * 0.5
    }
}

/// From the radius rule ([`release`]) at the least yield strength to moment theory
/// ([`lost_by_moment`]) at the greatest: the one takes the inside radius where the other takes the
/// middle of the sheet, and reads 16 to 58 % lower from eight thicknesses down to one.
pub fn springback_band(
    material: &Material,
    inside_radius: Length,
    thickness: Length,
    bend_angle: Angle,
) -> Result<SpringbackBand, NoSpringback> {
    let released = release_by_yield(material, inside_radius, thickness, bend_angle)?;
    let tool = to_be_left_with_by_yield(material, inside_radius, thickness, bend_angle)?;
    let elastic_modulus = material.elastic_modulus.value;
    let springiness = Springiness { yield_strength: material.yield_strength.high, elastic_modulus };
    let most = lost_by_moment(inside_radius, thickness, bend_angle, springiness)?;
    let pair = |least: Angle, other: Angle| {
        [least, if other.radians() > most.radians() { other } else { most }]
    };
    Ok(SpringbackBand {
        springback: pair(
            bend_angle - released.low.bend_angle,
            bend_angle - released.high.bend_angle,
        ),
        undercut: pair(tool.low.bend_angle - bend_angle, tool.high.bend_angle - bend_angle),
    })
}

/// A reckoning at each of a material's three yield strengths.
fn by_yield<Thing>(
    material: &Material,
    reckon: impl Fn(Springiness) -> Result<Thing, NoSpringback>,
) -> Result<ByYield<Thing>, NoSpringback> {
    let elastic_modulus = material.elastic_modulus.value;
    let at = |yield_strength| reckon(Springiness { yield_strength, elastic_modulus });
    let yields = &material.yield_strength;
    Ok(ByYield { low: at(yields.low)?, value: at(yields.value)?, high: at(yields.high)? })
}

/// X over Ri: Y/(E T), for figures that are a bend's.
fn x_per_mm(
    inside_radius: Length,
    thickness: Length,
    bend_angle: Angle,
    springiness: Springiness,
) -> Result<f64, NoSpringback> {
    let per_mm = springiness.yield_strength / springiness.elastic_modulus / thickness.mm();
    let above_zero = [
        thickness.mm(),
        bend_angle.radians(),
        springiness.yield_strength.mpa(),
        springiness.elastic_modulus.mpa(),
        per_mm,
        // A radius of 0 has no springback and is allowed.
        inside_radius.mm() + f64::MIN_POSITIVE,
    ];
    let is_bend = above_zero.into_iter().all(|value| value > 0.0 && value.is_finite());
    if is_bend { Ok(per_mm) } else { Err(NoSpringback::NotABend) }
}

/// Ri/Rf = 4 X^3 - 3 X + 1, see [`release`].
fn radius_ratio(x: f64) -> f64 {
    4.0 * x.powi(3) - 3.0 * x + 1.0
}

/// Ks = (2 Ri/T + 1)/(2 Rf/T + 1), see [`release`]: the middle of the sheet keeps its length.
fn angle_ratio(under_tool: Length, released: Length, thickness: Length) -> f64 {
    (under_tool * 2.0 + thickness) / (released * 2.0 + thickness)
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEEL: Springiness = Springiness {
        yield_strength: Stress::from_mpa(460.0),
        elastic_modulus: Stress::from_mpa(205_000.0),
    };

    #[test]
    fn what_is_aimed_for_is_left() {
        for radius in [0.0, 0.5, 3.0, 40.0, 200.0, 5000.0, 1e9] {
            let (radius, thickness, angle) =
                (Length::from_mm(radius), Length::from_mm(1.8), Angle::from_degrees(60.0));
            let tool = to_be_left_with(radius, thickness, angle, STEEL).expect("a bend");
            let left = release(tool.inside_radius, thickness, tool.bend_angle, STEEL)
                .expect("short of wholly elastic");
            assert!(
                (left.inside_radius.mm() - radius.mm()).abs() <= 1e-5 * radius.mm(),
                "{radius:?} {left:?}"
            );
            assert!((left.bend_angle.degrees() - 60.0).abs() < 1e-3, "{radius:?} {left:?}");
        }
    }

    #[test]
    fn wide_bends_spring_back_wholly_and_nonsense_is_refused() {
        let wide = release(
            Length::from_mm(1000.0),
            Length::from_mm(1.8),
            Angle::from_degrees(10.0),
            STEEL,
        );
        assert!(matches!(wide, Err(NoSpringback::WhollyElastic { .. })));
        for bad in [-1.0, f64::NAN, f64::INFINITY] {
            let (length, angle) = (Length::from_mm(3.0), Angle::from_degrees(90.0));
            let bad_length = Length::from_mm(bad);
            let bad_steel = Springiness { yield_strength: Stress::from_mpa(bad), ..STEEL };
            assert_eq!(release(bad_length, length, angle, STEEL), Err(NoSpringback::NotABend));
            assert_eq!(release(length, bad_length, angle, STEEL), Err(NoSpringback::NotABend));
            assert_eq!(
                release(length, length, Angle::from_degrees(bad), STEEL),
                Err(NoSpringback::NotABend)
            );
            assert_eq!(
                to_be_left_with(length, length, angle, bad_steel),
                Err(NoSpringback::NotABend)
            );
        }
    }

    #[test]
    fn stronger_metal_springs_more() {
        let chromoly = Material::named("4130-annealed").expect("built in");
        let (radius, thickness) = (Length::from_mm(6.35), Length::from_mm(1.8));
        let range = release_by_yield(chromoly, radius, thickness, Angle::from_degrees(90.0))
            .expect("a bend");
        assert!(
            range.low.bend_angle > range.value.bend_angle
                && range.value.bend_angle >= range.high.bend_angle
        );
        let pull = to_be_left_with_by_yield(chromoly, radius, thickness, Angle::from_degrees(90.0))
            .expect("a bend");
        assert!(
            pull.low.bend_angle < pull.high.bend_angle
                && pull.low.bend_angle > Angle::from_degrees(90.0)
        );
    }
}
