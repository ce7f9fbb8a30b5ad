//! How much flat metal a straight bend takes: bend allowance, setback and deduction by the rule
//! that the builder chose.
//!
//! Letters of the formulas: R = inside radius, T = thickness (both of one unit), N = bend angle,
//! the angle the metal is turned through (flat = 0), K = distance of the neutral line from the
//! inside face as a fraction of the full thickness.
//!
//! ```
//! use planish::shop::bend_rule::{BendRule, StraightBend};
//! use planish::units::{Angle, Length};
//!
//! let bend = StraightBend::new(Length::from_mm(3.0), Length::from_mm(1.8), Angle::from_degrees(90.0))?;
//! let developed = BendRule::Din6935.develop(&bend)?;
//! // Two legs of 40 and 60 mm to the outside mould lines, one bend between them:
//! let flat = Length::from_mm(40.0 + 60.0) - developed.deduction;
//! assert!((flat.mm() - 96.19).abs() < 0.01);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use std::f64::consts::{FRAC_PI_2, PI};
use std::fmt;

use crate::shop::measured_strip::{MeasuredStrips, NoStripFits};
use crate::units::{Angle, Digits, Length};

/// The K-factors that a builder may give or trust: outside them the number usually means something
/// else (a fraction of half the thickness, or from the outside face).
pub const USUAL_K: std::ops::RangeInclusive<f64> = 0.2..=0.5;

/// A bend this near to folded flat has no mould line any more.
const FOLDED_FLAT: f64 = PI - 1e-9;

/// One straight bend: what the arithmetic needs to know of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StraightBend {
    inside_radius: Length,
    thickness: Length,
    bend_angle: Angle,
}

impl StraightBend {
    /// A bend of that inside radius (0 or more), thickness (above 0) and bend angle (above 0 to 180
    /// degrees).
    pub fn new(
        inside_radius: Length,
        thickness: Length,
        bend_angle: Angle,
    ) -> Result<Self, ImpossibleBend> {
        let (radius, sheet, angle) = (inside_radius.mm(), thickness.mm(), bend_angle.radians());
        if !(radius >= 0.0 && radius.is_finite()) {
            return Err(ImpossibleBend::InsideRadius(inside_radius));
        }
        if !(sheet > 0.0 && sheet.is_finite()) {
            return Err(ImpossibleBend::Thickness(thickness));
        }
        if !(angle > 0.0 && angle <= PI) {
            return Err(ImpossibleBend::BendAngle(bend_angle));
        }
        Ok(Self { inside_radius, thickness, bend_angle })
    }

    /// The inside radius.
    #[must_use]
    pub const fn inside_radius(&self) -> Length {
        self.inside_radius
    }

    /// The thickness.
    #[must_use]
    pub const fn thickness(&self) -> Length {
        self.thickness
    }

    /// The angle the metal is turned through.
    #[must_use]
    pub const fn bend_angle(&self) -> Angle {
        self.bend_angle
    }

    /// R/T: how sharp the bend is for its sheet.
    #[must_use]
    pub fn radius_ratio(&self) -> f64 {
        self.inside_radius / self.thickness
    }

    /// Outside setback = (R + T) tan(N/2): from the tangent line to the outside mould line.
    ///
    /// Source: FAA-H-8083-31, Airframe volume 1, chapter 4 (SB = K (R + T), K = tan(N/2)). `None`
    /// for metal folded flat on itself, which has no mould line. Checked in
    /// `tests/it/published/faa.rs`.
    #[must_use]
    pub fn outside_setback(&self) -> Option<Length> {
        let angle = self.bend_angle.radians();
        (angle < FOLDED_FLAT).then(|| (self.inside_radius + self.thickness) * (angle / 2.0).tan())
    }

    /// BA = N (R + K T), N in radians: the length of the neutral line.
    #[must_use]
    pub fn allowance_at(&self, k_factor: f64) -> Length {
        (self.inside_radius + self.thickness * k_factor) * self.bend_angle.radians()
    }

    /// K = (BA/N - R)/T: the K-factor at which [`StraightBend::allowance_at`] gives that allowance.
    #[must_use]
    pub fn equivalent_k(&self, allowance: Length) -> f64 {
        (allowance / self.bend_angle.radians() - self.inside_radius) / self.thickness
    }
}

/// A bend that no sheet can have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ImpossibleBend {
    /// The inside radius is below zero or not a length.
    InsideRadius(Length),
    /// The thickness is not above zero.
    Thickness(Length),
    /// The bend angle is not above 0 and at most 180 degrees.
    BendAngle(Angle),
}

impl fmt::Display for ImpossibleBend {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::InsideRadius(radius) => {
                write!(f, "the inside radius can't be {} mm", Digits(radius.mm(), 3))
            }
            Self::Thickness(thickness) => {
                write!(f, "the thickness can't be {} mm", Digits(thickness.mm(), 3))
            }
            Self::BendAngle(angle) => write!(
                f,
                "a bend can't turn the metal through {} degrees: more than 0, at most 180 (flat is 0)",
                Digits(angle.degrees(), 3)
            ),
        }
    }
}

impl std::error::Error for ImpossibleBend {}

/// The rule by which bends are developed.
#[derive(Debug, Clone, PartialEq)]
pub enum BendRule {
    /// DIN 6935: K = k/2 with k = 0.65 + 0.5 log10(R/T), see [`din_k_factor`].
    Din6935,
    /// The aircraft sheet rule: BA = (0.01743 R + 0.0078 T) N, N in degrees, see [`faa_allowance`].
    Faa,
    /// The engineer's handbook rule: L = (c T + 1.57 R) N/90, N in degrees, see
    /// [`handbook_allowance`].
    Handbook(HandbookFactor),
    /// A K-factor of the builder's own.
    KFactor(KFactor),
    /// Strips bent and measured on the shop's own brake.
    Strips(MeasuredStrips),
}

/// c of the handbook rule, by how hard the metal is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HandbookFactor {
    /// 0.55: soft brass and copper.
    SoftCopper,
    /// 0.64: half-hard copper and brass, soft steel, aluminium.
    SoftSteel,
    /// 0.71: bronze, hard copper, cold-rolled and spring steel.
    HardSteel,
}

impl HandbookFactor {
    /// The three factors.
    pub const ALL: [Self; 3] = [Self::SoftCopper, Self::SoftSteel, Self::HardSteel];

    /// The factor written as that number; `None` for any number but 0.55, 0.64 and 0.71.
    #[must_use]
    pub fn from_number(number: f64) -> Option<Self> {
        Self::ALL.into_iter().find(|factor| (factor.number() - number).abs() < 1e-9)
    }

    /// The number c.
    #[must_use]
    pub const fn number(self) -> f64 {
        match self {
            Self::SoftCopper => 0.55,
            Self::SoftSteel => 0.64,
            Self::HardSteel => 0.71,
        }
    }
}

/// A K-factor within [`USUAL_K`].
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct KFactor(f64);

impl KFactor {
    /// That K-factor, a fraction of the full thickness from the inside face; refused outside 0.2 to
    /// 0.5.
    pub fn new(k_factor: f64) -> Result<Self, UnusualKFactor> {
        if USUAL_K.contains(&k_factor) { Ok(Self(k_factor)) } else { Err(UnusualKFactor(k_factor)) }
    }

    /// The number.
    #[must_use]
    pub const fn number(self) -> f64 {
        self.0
    }
}

/// A K-factor outside 0.2 to 0.5.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnusualKFactor(pub f64);

impl fmt::Display for UnusualKFactor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "a K-factor of {} is outside 0.2 to 0.5; K counts from the inside face",
            Digits(self.0, 4)
        )?;
        f.write_str(" as a fraction of the full thickness")?;
        if self.0 > 0.5 && USUAL_K.contains(&(self.0 / 2.0)) {
            write!(
                f,
                " (a table that counts in halves of the thickness would mean {})",
                Digits(self.0 / 2.0, 4)
            )?;
        }
        Ok(())
    }
}

impl std::error::Error for UnusualKFactor {}

/// A bend developed: what it takes of the flat, and by which rule.
#[derive(Debug, Clone, PartialEq)]
pub struct DevelopedBend {
    /// The K-factor used; for rules without one the K-factor that gives the same allowance.
    pub k_factor: f64,
    /// Bend allowance: the flat length between the tangent lines.
    pub allowance: Length,
    /// Outside setback: tangent line to outside mould line.
    pub outside_setback: Length,
    /// Bend deduction: 2 x setback - allowance; flat = sum of outside legs - sum of deductions.
    pub deduction: Length,
    /// DIN 6935's own correction v under that rule, see [`din_v`].
    pub din_v: Option<Length>,
    /// The rule in words, with the measured strip it rests on where it does.
    pub basis: String,
    /// What the builder should know of this bend.
    pub notes: Vec<BendNote>,
}

/// A K-factor with what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct RuledK {
    /// The K-factor.
    pub k_factor: f64,
    /// The rule in words.
    pub basis: String,
    /// What the builder should know.
    pub notes: Vec<BendNote>,
}

/// Something a builder should know of a bend's development.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BendNote {
    /// So sharp for DIN 6935 that its k falls below what is measured on any bend.
    SharpForDin {
        /// R/T.
        radius_ratio: f64,
    },
    /// The K-factor that the rule gives lies outside 0.2 to 0.5.
    UnusualK {
        /// K.
        k_factor: f64,
    },
}

impl fmt::Display for BendNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::SharpForDin { radius_ratio } => write!(
                f,
                "an inside radius of {} thicknesses is sharper than DIN 6935 is good for; bend a test strip",
                Digits(*radius_ratio, 3)
            ),
            Self::UnusualK { k_factor } => {
                write!(
                    f,
                    "K = {} is outside 0.2 to 0.5; bend a test strip before cutting good metal",
                    Digits(*k_factor, 3)
                )
            }
        }
    }
}

/// Why a bend can't be developed.
#[derive(Debug, Clone, PartialEq)]
pub enum CannotDevelop {
    /// No measured strip is near enough.
    NoStripFits(NoStripFits),
    /// Metal folded flat on itself has an allowance but no mould line, setback or deduction.
    FoldedFlat,
}

impl fmt::Display for CannotDevelop {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoStripFits(miss) => miss.fmt(f),
            Self::FoldedFlat => {
                f.write_str("metal folded flat on itself has no mould line to measure a leg to")
            }
        }
    }
}

impl std::error::Error for CannotDevelop {}

impl BendRule {
    /// The K-factor of that bend, or the nearest measured strip's miss.
    pub fn k_factor(&self, bend: &StraightBend) -> Result<RuledK, NoStripFits> {
        let (k_factor, basis) = match self {
            Self::Din6935 => (din_k_factor(bend.radius_ratio()), "DIN 6935, K = k/2".to_owned()),
            Self::Faa => (
                bend.equivalent_k(faa_allowance(bend)),
                "FAA, BA = (0.01743 R + 0.0078 T) N".to_owned(),
            ),
            Self::Handbook(factor) => {
                let basis =
                    format!("Machinery's Handbook, L = ({} T + 1.57 R) N/90", factor.number());
                (bend.equivalent_k(handbook_allowance(*factor, bend)), basis)
            }
            Self::KFactor(k_factor) => (k_factor.number(), "K-factor as given".to_owned()),
            Self::Strips(strips) => {
                let (strip, k_factor) = strips.nearest(bend)?;
                (k_factor, strip)
            }
        };
        let mut notes = Vec::new();
        if *self == Self::Din6935 && k_factor < *USUAL_K.start() {
            notes.push(BendNote::SharpForDin { radius_ratio: bend.radius_ratio() });
        } else if !USUAL_K.contains(&k_factor) {
            notes.push(BendNote::UnusualK { k_factor });
        }
        Ok(RuledK { k_factor, basis, notes })
    }

    /// The bend allowance alone, for bends up to 180 degrees: hems too.
    pub fn allowance(&self, bend: &StraightBend) -> Result<Length, NoStripFits> {
        Ok(match self {
            Self::Faa => faa_allowance(bend),
            Self::Handbook(factor) => handbook_allowance(*factor, bend),
            _ => bend.allowance_at(self.k_factor(bend)?.k_factor),
        })
    }

    /// Everything the flat needs to know of a bend under 180 degrees.
    pub fn develop(&self, bend: &StraightBend) -> Result<DevelopedBend, CannotDevelop> {
        let outside_setback = bend.outside_setback().ok_or(CannotDevelop::FoldedFlat)?;
        let RuledK { k_factor, basis, notes } =
            self.k_factor(bend).map_err(CannotDevelop::NoStripFits)?;
        let allowance = self.allowance(bend).map_err(CannotDevelop::NoStripFits)?;
        let deduction = outside_setback * 2.0 - allowance;
        let din_v = (*self == Self::Din6935).then(|| din_v(bend));
        Ok(DevelopedBend { k_factor, allowance, outside_setback, deduction, din_v, basis, notes })
    }
}

/// BA = (0.01743 R + 0.0078 T) N, N in degrees.
///
/// Source: FAA-H-8083-31, Airframe volume 1, chapter 4 (constants from memory); 0.01743 rounds
/// pi/180 down a little. Checked in `tests/it/published/faa.rs`.
#[must_use]
pub fn faa_allowance(bend: &StraightBend) -> Length {
    (bend.inside_radius * 0.017_43 + bend.thickness * 0.0078) * bend.bend_angle.degrees()
}

/// L = (c T + 1.57 R) N/90, N in degrees.
///
/// Source: Machinery's Handbook, 31st edition (2020), page 1421, equations 32 to 34.
/// Checked in `tests/it/published/machinery_handbook.rs`.
#[must_use]
pub fn handbook_allowance(factor: HandbookFactor, bend: &StraightBend) -> Length {
    (bend.thickness * factor.number() + bend.inside_radius * 1.57)
        * (bend.bend_angle.degrees() / 90.0)
}

/// k = 0.65 + 0.5 log10(r/s), 1 for r/s over 5: how far the neutral line lies from the inside face,
/// in half thicknesses.
///
/// Letters: r = inside radius, s = thickness. Below r/s = 0.0501 the formula falls under zero; k is
/// held at 0 there, the neutral line on the inside face, since it can't leave the metal. From r/s =
/// 0.316 down (k under 0.4) the formula is sharper than anything the standard's radii allow, and
/// [`BendRule::k_factor`] says so. Source: DIN 6935, as a German metal-trades table book prints it.
/// Checked in `tests/it/published/din_6935.rs`.
#[must_use]
pub fn din_k(radius_ratio: f64) -> f64 {
    if radius_ratio > 5.0 { 1.0 } else { (0.65 + 0.5 * radius_ratio.log10()).clamp(0.0, 1.0) }
}

/// K = k/2: DIN's k counts half thicknesses, K whole ones. Used at every angle. See [`din_k`].
#[must_use]
pub fn din_k_factor(radius_ratio: f64) -> f64 {
    din_k(radius_ratio) / 2.0
}

/// The correction v of DIN 6935, to be subtracted from the sum of the legs once for each bend.
///
/// With beta = 180 degrees - N, the angle left open:
/// - beta to 90: v = 2 (r + s) - N (r + k s/2), legs measured to the outer tangent;
/// - beta over 90 to 165: v = 2 (r + s) tan(N/2) - N (r + k s/2), legs measured to the outside
///   mould line;
/// - beta over 165: v = 0.
///
/// So up to 90 degrees (and but for the last 15) v is the bend deduction; past 90 the legs are
/// other legs. Source: DIN 6935, as a German metal-trades table book prints it (the leg rule from
/// memory). Checked in `tests/it/published/din_6935.rs`.
#[must_use]
pub fn din_v(bend: &StraightBend) -> Length {
    din_v_with(bend, din_k(bend.radius_ratio()))
}

/// [`din_v`] with a k read from the standard's diagram instead of its formula.
#[must_use]
pub fn din_v_with(bend: &StraightBend, k: f64) -> Length {
    // A bend of exactly 90 or 15 degrees must not fall to the wrong side for a last bit.
    const SLACK: f64 = 1e-9;
    let angle = bend.bend_angle.radians();
    let outside_radius = bend.inside_radius + bend.thickness;
    let arc = bend.allowance_at(k / 2.0);
    if angle >= FRAC_PI_2 - SLACK {
        outside_radius * 2.0 - arc
    } else if angle >= PI / 12.0 - SLACK {
        outside_radius * (2.0 * (angle / 2.0).tan()) - arc
    } else {
        Length::ZERO
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULES: [BendRule; 6] = [
        BendRule::Din6935,
        BendRule::Faa,
        BendRule::Handbook(HandbookFactor::SoftCopper),
        BendRule::Handbook(HandbookFactor::SoftSteel),
        BendRule::Handbook(HandbookFactor::HardSteel),
        BendRule::KFactor(KFactor(0.44)),
    ];

    /// Radii and thicknesses from sharp to wide.
    const SHEETS: [(f64, f64); 7] =
        [(0.0, 1.0), (0.1, 3.0), (1.0, 1.0), (3.0, 1.8), (6.35, 1.803), (9.1, 1.8), (250.0, 0.5)];

    fn bend(radius: f64, thickness: f64, degrees: f64) -> StraightBend {
        StraightBend::new(
            Length::from_mm(radius),
            Length::from_mm(thickness),
            Angle::from_degrees(degrees),
        )
        .expect("a bend")
    }

    #[test]
    fn allowances_of_two_bends_add_up_to_that_of_both() {
        for rule in RULES {
            for (radius, thickness) in SHEETS {
                for (first, second) in [(10.0, 20.0), (45.0, 45.0), (0.5, 120.0), (89.0, 91.0)] {
                    let allowance = |degrees| {
                        rule.allowance(&bend(radius, thickness, degrees)).expect("a rule").mm()
                    };
                    let both = allowance(first + second);
                    assert!(
                        (allowance(first) + allowance(second) - both).abs() < 1e-12 * both.max(1.0),
                        "{rule:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn allowance_and_deduction_vanish_with_the_bend_and_deduction_grows_with_it() {
        for rule in RULES {
            for (radius, thickness) in SHEETS {
                let developed =
                    |degrees| rule.develop(&bend(radius, thickness, degrees)).expect("under 180");
                let tiny = developed(1e-6);
                assert!(
                    tiny.allowance.mm().abs() < 1e-5 && tiny.deduction.mm().abs() < 1e-5,
                    "{rule:?}"
                );
                let mut last = tiny.deduction;
                for degrees in 1..180 {
                    let deduction = developed(f64::from(degrees)).deduction;
                    assert!(deduction > last, "{rule:?} R {radius} T {thickness} at {degrees}");
                    last = deduction;
                }
            }
        }
    }

    #[test]
    fn inches_and_millimetres_agree() {
        for rule in RULES {
            for (radius, thickness) in SHEETS {
                for degrees in [15.0, 60.0, 90.0, 135.0] {
                    let angle = Angle::from_degrees(degrees);
                    let inch = |mm: f64| Length::from_inches(mm / 25.4);
                    let in_inches =
                        StraightBend::new(inch(radius), inch(thickness), angle).expect("a bend");
                    let (a, b) =
                        (rule.develop(&in_inches), rule.develop(&bend(radius, thickness, degrees)));
                    let (a, b) = (a.expect("under 180"), b.expect("under 180"));
                    assert!(
                        (a.allowance - b.allowance).mm().abs() < 1e-9
                            && (a.deduction - b.deduction).mm().abs() < 1e-9
                    );
                }
            }
        }
    }

    #[test]
    fn the_k_factor_reported_gives_the_allowance_reported() {
        for rule in RULES {
            for (radius, thickness) in SHEETS {
                let bend = bend(radius, thickness, 75.0);
                let developed = rule.develop(&bend).expect("under 180");
                assert!(
                    (bend.allowance_at(developed.k_factor) - developed.allowance).mm().abs() < 1e-9
                );
            }
        }
    }

    #[test]
    fn din_neutral_line_stays_in_the_metal_and_sharp_bends_say_so() {
        for ratio in [0.0, 1e-9, 0.05, 0.1, 0.5, 1.0, 4.999, 5.0, 5.001, 1000.0, f64::INFINITY] {
            assert!((0.0..=0.5).contains(&din_k_factor(ratio)), "{ratio}");
        }
        assert!(din_k_factor(0.0) < 1e-12 && din_k_factor(5.001) > 0.5 - 1e-12);
        let sharp = BendRule::Din6935.develop(&bend(0.3, 1.0, 90.0)).expect("under 180");
        assert_eq!(sharp.notes, [BendNote::SharpForDin { radius_ratio: 0.3 }]);
        assert!(
            BendRule::Din6935.develop(&bend(1.0, 1.0, 90.0)).expect("under 180").notes.is_empty()
        );
    }

    #[test]
    fn din_v_is_the_deduction_from_fifteen_to_ninety_degrees() {
        for (radius, thickness) in SHEETS {
            for degrees in [15.0, 30.0, 89.999, 90.0] {
                let developed = BendRule::Din6935
                    .develop(&bend(radius, thickness, degrees))
                    .expect("under 180");
                let v = developed.din_v.expect("DIN has one");
                assert!(
                    (v - developed.deduction).mm().abs() < 1e-9,
                    "R {radius} T {thickness} at {degrees}"
                );
            }
        }
        assert_eq!(din_v(&bend(3.0, 1.8, 14.999)), Length::ZERO);
        assert_eq!(BendRule::Faa.develop(&bend(3.0, 1.8, 90.0)).expect("under 180").din_v, None);
    }

    #[test]
    fn what_cannot_be_bent_is_refused() {
        let new = |r, t, n| {
            StraightBend::new(Length::from_mm(r), Length::from_mm(t), Angle::from_degrees(n))
        };
        for angle in [0.0, -90.0, 180.1, f64::NAN, f64::INFINITY] {
            assert!(matches!(new(3.0, 1.8, angle), Err(ImpossibleBend::BendAngle(_))), "{angle}");
        }
        for thickness in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(
                matches!(new(3.0, thickness, 90.0), Err(ImpossibleBend::Thickness(_))),
                "{thickness}"
            );
        }
        assert!(matches!(new(-0.1, 1.8, 90.0), Err(ImpossibleBend::InsideRadius(_))));
        let hem = new(1.0, 1.0, 180.0).expect("a hem");
        assert_eq!(BendRule::Din6935.develop(&hem), Err(CannotDevelop::FoldedFlat));
        assert!(BendRule::Din6935.allowance(&hem).is_ok());
    }

    #[test]
    fn k_factors_from_other_conventions_are_refused_with_a_hint() {
        assert_eq!(KFactor::new(0.44).map(KFactor::number), Ok(0.44));
        assert!(KFactor::new(0.2).is_ok() && KFactor::new(0.5).is_ok());
        let refused = KFactor::new(0.84).expect_err("half-thickness convention").to_string();
        assert!(refused.ends_with("would mean 0.42)"), "{refused}");
        for k in [0.19, 0.51, -1.0, f64::NAN, f64::INFINITY] {
            assert!(KFactor::new(k).is_err(), "{k}");
        }
        assert_eq!(HandbookFactor::from_number(0.64), Some(HandbookFactor::SoftSteel));
        assert_eq!(HandbookFactor::from_number(0.6), None);
    }
}
