//! K-factors out of test strips: one strip measured flat and bent, and a shop's whole list of them.

use std::cmp::Ordering;
use std::fmt;

use crate::shop::bend_rule::{ImpossibleBend, StraightBend, USUAL_K};
use crate::shop::strip::Strip;
use crate::units::{Angle, Digits, Length};

/// A strip speaks for sheet up to this many times thicker or thinner than itself.
const THICKNESS_REACH: f64 = 1.10;

/// A strip no more than this many times thicker or thinner is one of the same sheet: rolled sheet
/// measures within about 0.05 mm of its name, and a gauge is sold under the nearest metric size (16
/// gauge steel, 1.519 mm, as 1.5; 1/16 in as 1.6). Sheets of 1.5 and 1.6 mm are 6.5 % apart. Common
/// practice, no source.
const SAME_SHEET: f64 = 1.03;

/// A strip speaks for bends whose R/T is up to this many times greater or smaller than its own; by
/// DIN 6935 K moves by 0.024 over that step, 0.07 mm on a right angle in 1.8 mm sheet.
const RATIO_REACH: f64 = 1.25;

/// A K, or a logarithm of sizes, this little beyond a limit is at the limit: sums of lengths have a
/// last bit.
const SLACK: f64 = 1e-9;

/// What a test strip says of its bend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredK {
    /// The K-factor.
    pub k_factor: f64,
    /// The bend allowance.
    pub allowance: Length,
    /// The bend deduction.
    pub deduction: Length,
    /// How far K moves for each 0.1 mm that the measuring is out.
    pub k_per_tenth_mm: f64,
}

impl MeasuredK {
    /// Whether K lies where it nearly always does, 0.2 to 0.5; if not, measure again before
    /// trusting it.
    #[must_use]
    pub fn is_usual(&self) -> bool {
        USUAL_K.contains(&self.k_factor)
    }
}

/// K = ((L0 - A - B + 2 OSSB)/N - R)/T: the K-factor of a strip bent once.
///
/// Letters: L0 = flat length, A, B = legs from the free ends to the outside mould line, OSSB = (R +
/// T) tan(N/2) the outside setback, N = bend angle in radians, R = inside radius, T = thickness.
/// Range: K from 0 to 1, refused beyond; outside 0.2 to 0.5 given but to be doubted
/// ([`MeasuredK::is_usual`]). Derivation: the flat is both legs less two setbacks, and between them
/// the allowance N (R + K T). Checked in `tests/it/published/house.rs` by strips made of published
/// allowances.
pub fn k_from_strip(
    bend: &StraightBend,
    flat_length: Length,
    legs: [Length; 2],
) -> Result<MeasuredK, StripFault> {
    let setback = bend
        .outside_setback()
        .ok_or(StripFault::Bend(ImpossibleBend::BendAngle(bend.bend_angle())))?;
    for length in [flat_length, legs[0], legs[1]] {
        if !(length.mm() > 0.0 && length.mm().is_finite()) {
            return Err(StripFault::NotALength(length));
        }
    }
    let allowance = flat_length - legs[0] - legs[1] + setback * 2.0;
    let k_factor = bend.equivalent_k(allowance);
    // A strip measured to the very limit stays within it, whatever its last bit.
    let k_factor = if (k_factor - k_factor.clamp(0.0, 1.0)).abs() < SLACK {
        k_factor.clamp(0.0, 1.0)
    } else {
        k_factor
    };
    if !(0.0..=1.0).contains(&k_factor) {
        let flat_at = |k: f64| legs[0] + legs[1] - setback * 2.0 + bend.allowance_at(k);
        return Err(StripFault::ImpossibleK(Box::new(ImpossibleK {
            k_factor,
            flat_length,
            possible_flat: [flat_at(0.0), flat_at(1.0)],
            likely: likely_slips(bend, flat_length, legs),
        })));
    }
    if let Some(leg) = legs.into_iter().find(|leg| *leg < setback) {
        return Err(StripFault::LegWithinSetback { leg, setback });
    }
    Ok(MeasuredK {
        k_factor,
        allowance,
        deduction: setback * 2.0 - allowance,
        k_per_tenth_mm: 0.1 / (bend.bend_angle().radians() * bend.thickness().mm()),
    })
}

/// A slip of measuring that would explain an impossible strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Slip {
    /// Legs measured on the inside.
    LegsInside,
    /// Legs measured to where the bend begins.
    LegsToTangent,
    /// The angle left open given instead of the angle turned through.
    AngleLeftOpen,
    /// The outside radius given instead of the inside one.
    OutsideRadius,
}

impl fmt::Display for Slip {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::LegsInside => {
                "the legs were measured on the inside, not to the outside mould line"
            }
            Self::LegsToTangent => {
                "the legs were measured to where the bend begins, not to the outside mould line"
            }
            Self::AngleLeftOpen => "the angle is the one left open, not the one turned through",
            Self::OutsideRadius => "the radius is the outside one, not the inside one",
        })
    }
}

/// The slips after whose correction the strip gives a usual K.
fn likely_slips(bend: &StraightBend, flat_length: Length, legs: [Length; 2]) -> Vec<Slip> {
    let (radius, thickness, angle) = (bend.inside_radius(), bend.thickness(), bend.bend_angle());
    let k = |radius: Length, angle: Angle, between: &dyn Fn(Length) -> Length| {
        let bend = StraightBend::new(radius, thickness, angle).ok()?;
        Some(bend.equivalent_k(flat_length - legs[0] - legs[1] + between(bend.outside_setback()?)))
    };
    let twice = |setback: Length| setback * 2.0;
    let inside = |setback: Length| (setback - thickness * (angle.radians() / 2.0).tan()) * 2.0;
    let candidates = [
        (Slip::LegsInside, k(radius, angle, &inside)),
        (Slip::LegsToTangent, k(radius, angle, &|_| Length::ZERO)),
        (Slip::AngleLeftOpen, k(radius, Angle::from_degrees(180.0) - angle, &twice)),
        (Slip::OutsideRadius, k(radius - thickness, angle, &twice)),
    ];
    candidates
        .into_iter()
        .filter(|(_, k)| k.is_some_and(|k| USUAL_K.contains(&k)))
        .map(|(slip, _)| slip)
        .collect()
}

/// Why a strip says nothing of K.
#[derive(Debug, Clone, PartialEq)]
pub enum StripFault {
    /// The bend itself can't be.
    Bend(ImpossibleBend),
    /// A length that isn't above zero.
    NotALength(Length),
    /// A leg that ends before the bend does.
    LegWithinSetback {
        /// The leg.
        leg: Length,
        /// The outside setback it must exceed.
        setback: Length,
    },
    /// Neutral line outside the metal.
    ImpossibleK(Box<ImpossibleK>),
}

/// A strip whose neutral line would lie outside the metal.
#[derive(Debug, Clone, PartialEq)]
pub struct ImpossibleK {
    /// What the measurements give.
    pub k_factor: f64,
    /// The flat length given.
    pub flat_length: Length,
    /// The flat lengths that would be possible with these legs.
    pub possible_flat: [Length; 2],
    /// Slips that would explain it.
    pub likely: Vec<Slip>,
}

impl fmt::Display for StripFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Bend(bend) => bend.fmt(f),
            Self::NotALength(length) => {
                write!(f, "a strip or leg can't be {} mm long", Digits(length.mm(), 3))
            }
            Self::LegWithinSetback { leg, setback } => write!(
                f,
                "a leg of {} mm ends within the bend: to the outside mould line it is at least {} mm",
                Digits(leg.mm(), 3),
                Digits(setback.mm(), 3)
            ),
            Self::ImpossibleK(impossible) => impossible.fmt(f),
        }
    }
}

impl fmt::Display for ImpossibleK {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [least, most] = self.possible_flat.map(Length::mm);
        let flat = self.flat_length.mm();
        let (out, way) =
            if self.k_factor < 0.0 { (least - flat, "short") } else { (flat - most, "long") };
        write!(
            f,
            "these measurements give K = {}, which can't be: K lies between 0 and 1. ",
            Digits(self.k_factor, 4)
        )?;
        write!(f, "With these legs the flat strip was between {} and ", Digits(least, 3))?;
        write!(
            f,
            "{} mm, so {} mm is {} mm too {way}",
            Digits(most, 3),
            Digits(flat, 3),
            Digits(out, 3)
        )?;
        if self.likely.is_empty() {
            return Ok(());
        }
        let likely: Vec<String> = self.likely.iter().map(ToString::to_string).collect();
        write!(f, ". It would fit if {}", likely.join(", or if "))
    }
}

impl std::error::Error for StripFault {}

/// The strips of one material, each with its K.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredStrips {
    material: String,
    strips: Vec<(Strip, StraightBend, f64)>,
}

/// A row of the shop's strips that can't be right.
#[derive(Debug, Clone, PartialEq)]
pub struct BadStrip {
    /// Its place in the list, counted from 0.
    pub row: usize,
    /// What is wrong with it.
    pub fault: StripFault,
}

impl fmt::Display for BadStrip {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "strip {}: {}", self.row + 1, self.fault)
    }
}

impl std::error::Error for BadStrip {}

impl MeasuredStrips {
    /// The strips of that material among `rows`, in the order they were measured; every row that
    /// can't be right is named.
    pub fn of_material(material: &str, rows: &[Strip]) -> Result<Self, Vec<BadStrip>> {
        let mut strips = Vec::new();
        let mut bad = Vec::new();
        for (row, strip) in rows.iter().enumerate().filter(|(_, strip)| strip.material == material)
        {
            let measured =
                StraightBend::new(strip.inside_radius, strip.thickness, strip.bend_angle)
                    .map_err(StripFault::Bend)
                    .and_then(|bend| {
                        Ok((bend, k_from_strip(&bend, strip.flat_length, strip.legs)?))
                    });
            match measured {
                Ok((bend, measured)) => strips.push((strip.clone(), bend, measured.k_factor)),
                Err(fault) => bad.push(BadStrip { row, fault }),
            }
        }
        if bad.is_empty() { Ok(Self { material: material.to_owned(), strips }) } else { Err(bad) }
    }

    /// The strip nearest to a bend, in words that say how far off it is, with its K.
    ///
    /// Of the strips within reach one of the same sheet comes first (a thickness within 3 %), of
    /// those the nearest by R/T; of other sheets the nearest by thickness and R/T together. Of
    /// equally near ones that of the nearest angle, and of those the last measured.
    pub fn nearest(&self, bend: &StraightBend) -> Result<(String, f64), NoStripFits> {
        let away = |strip: &StraightBend| -> [f64; 2] {
            // Two sharp bends, R = 0 both, give 0/0: as near as can be.
            let apart = |a: f64, b: f64| if a.max(b) <= 0.0 { 0.0 } else { (a / b).ln().abs() };
            [
                apart(bend.thickness().mm(), strip.thickness().mm()),
                apart(bend.radius_ratio(), strip.radius_ratio()),
            ]
        };
        // A limit itself counts as within it, whatever its last bit.
        let within = |distance: f64, limit: f64| distance <= limit.ln() + SLACK;
        let reaches = |strip: &StraightBend| {
            let [thickness, ratio] = away(strip);
            within(thickness, THICKNESS_REACH) && within(ratio, RATIO_REACH)
        };
        let rank = |strip: &StraightBend| -> [f64; 4] {
            let [thickness, ratio] = away(strip);
            let angle = (strip.bend_angle() - bend.bend_angle()).radians().abs();
            if within(thickness, SAME_SHEET) {
                [0.0, ratio, thickness, angle]
            } else {
                [1.0, thickness + ratio, 0.0, angle]
            }
        };
        let nearer = |a: &StraightBend, b: &StraightBend| {
            let pairs = rank(a).into_iter().zip(rank(b));
            pairs.map(|(a, b)| a.total_cmp(&b)).fold(Ordering::Equal, Ordering::then)
        };
        let near = self
            .strips
            .iter()
            .rev()
            .filter(|(_, strip, _)| reaches(strip))
            .min_by(|(_, a, _), (_, b, _)| nearer(a, b));
        match near {
            Some((strip, measured, k_factor)) => Ok((
                format!("measured: {}{}", in_words(strip), off_words(measured, bend)),
                *k_factor,
            )),
            None => {
                let nearest = self.strips.iter().rev().min_by(|(_, a, _), (_, b, _)| nearer(a, b));
                Err(self.miss(bend, nearest.map(|(strip, ..)| in_words(strip))))
            }
        }
    }

    /// The miss of a bend that no strip speaks for.
    fn miss(&self, bend: &StraightBend, nearest: Option<String>) -> NoStripFits {
        NoStripFits {
            material: self.material.clone(),
            thickness: bend.thickness(),
            inside_radius: bend.inside_radius(),
            nearest,
        }
    }
}

/// A strip as a report names it.
fn in_words(strip: &Strip) -> String {
    let tool = if strip.tool.is_empty() { String::new() } else { format!(", {}", strip.tool) };
    format!(
        "strip of {}, {} mm, inside radius {} mm, {} degrees{tool}",
        strip.material,
        Digits(strip.thickness.mm(), 3),
        Digits(strip.inside_radius.mm(), 3),
        Digits(strip.bend_angle.degrees(), 2)
    )
}

/// By how much a strip differs from the bend that it is taken for; nothing where it does not.
fn off_words(strip: &StraightBend, bend: &StraightBend) -> String {
    let differs = |by: f64, unit: &str, decimals: usize, [more, less]: [&str; 2]| {
        let shown = Digits(by.abs(), decimals).to_string();
        (shown != "0").then(|| format!("{shown} {unit} {}", if by > 0.0 { more } else { less }))
    };
    let mm = |what: fn(&StraightBend) -> Length| (what(strip) - what(bend)).mm();
    let off: Vec<String> = [
        differs(mm(StraightBend::thickness), "mm", 3, ["thicker", "thinner"]),
        differs(
            mm(StraightBend::inside_radius),
            "mm",
            3,
            ["more inside radius", "less inside radius"],
        ),
        differs((strip.bend_angle() - bend.bend_angle()).degrees(), "degrees", 2, ["more", "less"]),
    ]
    .into_iter()
    .flatten()
    .collect();
    if off.is_empty() { String::new() } else { format!("; {} than this bend", off.join(", ")) }
}

/// No measured strip is near enough to a bend.
#[derive(Debug, Clone, PartialEq)]
pub struct NoStripFits {
    /// The material.
    pub material: String,
    /// The bend's thickness.
    pub thickness: Length,
    /// The bend's inside radius.
    pub inside_radius: Length,
    /// The nearest strip in words; `None` when the material has none at all.
    pub nearest: Option<String>,
}

impl fmt::Display for NoStripFits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (thickness, radius) =
            (Digits(self.thickness.mm(), 3), Digits(self.inside_radius.mm(), 3));
        write!(
            f,
            "no measured strip of {} fits a bend of {radius} mm inside radius in {thickness} mm sheet",
            self.material
        )?;
        match &self.nearest {
            Some(nearest) => write!(f, "; the nearest is a {nearest}"),
            None => f.write_str("; there is no strip of this material"),
        }
    }
}

impl std::error::Error for NoStripFits {}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;

    fn strip(
        thickness: f64,
        radius: f64,
        degrees: f64,
        flat: f64,
        legs: [f64; 2],
        tool: &str,
    ) -> Strip {
        Strip {
            material: "4130-annealed".to_owned(),
            thickness: Length::from_mm(thickness),
            inside_radius: Length::from_mm(radius),
            bend_angle: Angle::from_degrees(degrees),
            flat_length: Length::from_mm(flat),
            legs: legs.map(Length::from_mm),
            tool: tool.to_owned(),
        }
    }

    fn bend(thickness: f64, radius: f64, degrees: f64) -> StraightBend {
        StraightBend::new(
            Length::from_mm(radius),
            Length::from_mm(thickness),
            Angle::from_degrees(degrees),
        )
        .expect("a bend")
    }

    /// The legs of a strip whose neutral line lies at K, worked out from the tangent lines outward.
    fn legs_of(thickness: f64, radius: f64, degrees: f64, flat: f64, k: f64) -> [f64; 2] {
        let turned = degrees.to_radians();
        let straight = (flat - turned * (radius + k * thickness)) / 2.0;
        [straight + (radius + thickness) * (turned / 2.0).tan(); 2]
    }

    #[test]
    fn a_strip_gives_back_the_neutral_line_it_was_made_with() {
        for (thickness, radius, degrees, k) in
            [(1.6, 3.0, 90.0, 0.42), (1.8, 1.8, 45.0, 0.3), (3.0, 20.0, 135.0, 0.5)]
        {
            let [a, b] = legs_of(thickness, radius, degrees, 200.0, k).map(Length::from_mm);
            let measured =
                k_from_strip(&bend(thickness, radius, degrees), Length::from_mm(200.0), [a, b])
                    .expect("sound");
            assert!((measured.k_factor - k).abs() < 1e-12, "{measured:?}");
            assert!((a + b - measured.deduction - Length::from_mm(200.0)).mm().abs() < 1e-9);
        }
    }

    #[test]
    fn slips_of_measuring_are_recognised() {
        let flat = Length::from_mm(100.0);
        let [outside, _] = legs_of(1.6, 3.0, 90.0, 100.0, 0.42);
        let fault = |bend: &StraightBend, leg: f64| match k_from_strip(
            bend,
            flat,
            [Length::from_mm(leg); 2],
        ) {
            Err(StripFault::ImpossibleK(impossible)) => impossible,
            other => panic!("{other:?}"),
        };
        let right = bend(1.6, 3.0, 90.0);
        assert_eq!(fault(&right, outside - 1.6).likely, [Slip::LegsInside]);
        assert_eq!(fault(&right, outside - 4.6).likely, [Slip::LegsToTangent]);
        let [outside_60, _] = legs_of(1.6, 3.0, 60.0, 100.0, 0.42);
        assert_eq!(fault(&bend(1.6, 3.0, 120.0), outside_60).likely, [Slip::AngleLeftOpen]);
    }

    /// Right angle, R 0, T 2: between K 0 and 1 lies pi/2 x 2 = 3.142 mm of flat. With legs of 52
    /// the flat was 104 - 4 = 100 to 103.142.
    #[test]
    fn a_strip_out_of_reach_says_which_way_and_by_how_much() {
        let sharp = bend(2.0, 0.0, 90.0);
        let with =
            |flat: f64| k_from_strip(&sharp, Length::from_mm(flat), [Length::from_mm(52.0); 2]);
        for (flat, k) in [(100.0, 0.0), (100.0 + PI, 1.0)] {
            let measured = with(flat).expect("at the limit");
            assert!((measured.k_factor - k).abs() < 1e-9 && !measured.is_usual(), "{measured:?}");
        }
        for (flat, wanted) in [
            (99.5, "99.5 mm is 0.5 mm too short"),
            (99.999, "99.999 mm is 0.001 mm too short"),
            (104.0, "104 mm is 0.858 mm too long"),
        ] {
            let message = with(flat).expect_err("beyond the limit").to_string();
            assert!(
                message.contains("between 100 and 103.142 mm") && message.contains(wanted),
                "{message}"
            );
        }
    }

    #[test]
    fn an_odd_k_is_given_but_flagged_and_nonsense_refused() {
        let [a, b] = legs_of(1.6, 3.0, 90.0, 100.0, 0.7).map(Length::from_mm);
        let measured =
            k_from_strip(&bend(1.6, 3.0, 90.0), Length::from_mm(100.0), [a, b]).expect("possible");
        assert!(!measured.is_usual());
        for bad in [0.0, -5.0, f64::NAN, f64::INFINITY] {
            let legs = [Length::from_mm(bad), Length::from_mm(50.0)];
            assert!(matches!(
                k_from_strip(&bend(1.6, 3.0, 90.0), Length::from_mm(100.0), legs),
                Err(StripFault::NotALength(_))
            ));
        }
        let legs = [Length::from_mm(3.0), Length::from_mm(100.3)];
        let short = k_from_strip(&bend(1.6, 3.0, 90.0), Length::from_mm(100.0), legs);
        assert!(matches!(short, Err(StripFault::LegWithinSetback { .. })), "{short:?}");
    }

    #[test]
    fn the_nearest_strip_speaks_and_is_named() {
        let make = |thickness, radius, degrees, k, tool| {
            strip(
                thickness,
                radius,
                degrees,
                100.0,
                legs_of(thickness, radius, degrees, 100.0, k),
                tool,
            )
        };
        let other = Strip { material: "304".to_owned(), ..make(1.6, 3.0, 90.0, 0.3, "V12") };
        let rows = [
            make(1.6, 3.0, 90.0, 0.41, "V12"),
            make(1.6, 3.0, 90.0, 0.42, "V12 again"),
            make(1.6, 3.0, 45.0, 0.43, "V12"),
            make(1.6, 6.0, 90.0, 0.45, "V25"),
            other,
        ];
        let strips = MeasuredStrips::of_material("4130-annealed", &rows).expect("sound rows");
        let (words, k) = strips.nearest(&bend(1.6, 3.1, 85.0)).expect("near");
        assert!((k - 0.42).abs() < 1e-9, "the last of equals: {k}");
        let wanted = "measured: strip of 4130-annealed, 1.6 mm, inside radius 3 mm, 90 degrees, V12 again; 0.1 mm less inside radius, 5 degrees more than \
                      this bend";
        assert_eq!(words, wanted);
        let (words, _) = strips.nearest(&bend(1.6, 3.0, 90.0)).expect("the same");
        assert_eq!(
            words,
            "measured: strip of 4130-annealed, 1.6 mm, inside radius 3 mm, 90 degrees, V12 again"
        );
        assert!((strips.nearest(&bend(1.6, 3.0, 50.0)).expect("near").1 - 0.43).abs() < 1e-9);
        assert!((strips.nearest(&bend(1.6, 5.5, 90.0)).expect("near").1 - 0.45).abs() < 1e-9);
        for far in [bend(2.0, 3.0, 90.0), bend(1.6, 1.0, 90.0), bend(1.6, 0.0, 90.0)] {
            assert!(strips.nearest(&far).expect_err("too far").nearest.is_some());
        }
        let none = MeasuredStrips::of_material("1020", &rows)
            .expect("no rows")
            .nearest(&bend(1.6, 3.0, 90.0));
        assert!(
            none.expect_err("no strips")
                .to_string()
                .ends_with("there is no strip of this material")
        );
    }

    /// R 3.9 in 1.6 mm: a strip of R 3.2 in the same sheet is within 1.25, and comes before one of
    /// R/T 2.4375 itself in 1.5 mm.
    #[test]
    fn the_same_sheet_comes_first_and_none_out_of_reach_hides_one_within() {
        let make = |thickness, radius, k| {
            strip(thickness, radius, 90.0, 100.0, legs_of(thickness, radius, 90.0, 100.0, k), "")
        };
        let nearest = |rows: &[Strip]| {
            let strips = MeasuredStrips::of_material("4130-annealed", rows).expect("sound rows");
            strips.nearest(&bend(1.6, 3.9, 90.0))
        };
        let (same, other) = (make(1.6, 3.2, 0.41), make(1.5, 1.5 * 3.9 / 1.6, 0.45));
        let (words, k) = nearest(&[same.clone(), other.clone()]).expect("near");
        assert!(
            (k - 0.41).abs() < 1e-9
                && words.ends_with("; 0.7 mm less inside radius than this bend"),
            "{k} {words}"
        );
        // 1.588 mm is the same sheet; 1.519 mm is not.
        let (_, k) = nearest(&[other.clone(), make(1.5875, 3.2, 0.42)]).expect("near");
        assert!((k - 0.42).abs() < 1e-9, "{k}");
        let (_, k) = nearest(&[other, make(1.519, 3.2, 0.42)]).expect("near");
        assert!((k - 0.45).abs() < 1e-9, "{k}");
        // Nearest of all by thickness and R/T together is 1.77 mm of the very R/T, 1.106 times as
        // thick: out of reach.
        let out = make(1.77, 1.77 * 3.9 / 1.6, 0.33);
        let (words, k) = nearest(&[out, make(1.6, 3.2, 0.41)]).expect("one is within reach");
        assert!((k - 0.41).abs() < 1e-9, "{k} {words}");
        // The same sheet, but its radius is out of reach: the other sheet speaks, and says so.
        let (words, k) = nearest(&[make(1.6, 3.0, 0.41), make(1.5, 3.5, 0.45)]).expect("near");
        assert!(
            (k - 0.45).abs() < 1e-9 && words.contains("0.1 mm thinner, 0.4 mm less inside radius"),
            "{k} {words}"
        );
    }

    #[test]
    fn bad_rows_are_all_named() {
        let bad = [
            strip(1.6, 3.0, 90.0, 100.0, [70.0, 70.0], ""),
            strip(-1.0, 3.0, 90.0, 100.0, [52.0, 52.0], ""),
        ];
        let rows: Vec<usize> = MeasuredStrips::of_material("4130-annealed", &bad)
            .expect_err("both")
            .iter()
            .map(|bad| bad.row)
            .collect();
        assert_eq!(rows, [0, 1]);
    }
}
