//! Bending on a press brake: die opening, force, the radius that comes out, the least leg; and
//! reliefs and hems.

use std::sync::LazyLock;

use serde::Deserialize;

use crate::shop::figure::{Figure, WrittenFigure};
use crate::shop::gauge::GaugeFamily;
use crate::shop::material::Material;
use crate::shop::read_built_in;
use crate::units::{Force, Length, Stress};

/// Die openings that differ by less than this are the same die.
const SAME_DIE_MM: f64 = 0.05;

/// The strength that the shop rules for mild steel are made for.
const MILD_STEEL: Stress = Stress::from_ksi(60.0);

/// The force that a bend asks of a press brake.
#[derive(Debug, Clone, PartialEq)]
pub struct BendingForce {
    /// By the shops' rule; the one to choose a brake by.
    pub shop: Force,
    /// By theory, friction left out: from, to.
    pub theory: [Force; 2],
    /// Where the figures come from.
    pub source: &'static str,
}

/// F = c U L T^2/V: the force to air-bend a sheet over a V die.
///
/// Letters: U = ultimate strength, L = length of the bend, T = thickness, V = die opening.
/// `c = 575 x 2000/12/60000 = 1.597` by the shops' rule, US tons per foot = 575 T^2/V for mild
/// steel of 60 ksi (inches); c = 1.2 to 1.33 by theory (Kalpakjian and Schmid, as cited in a course
/// paper). Range: V of 6 to 12 thicknesses. `None` unless all four are above zero. Checked in
/// `tests/it/published/press_brake.rs`.
#[must_use]
pub fn bending_force(
    ultimate: Stress,
    thickness: Length,
    bend_length: Length,
    die_opening: Length,
) -> Option<BendingForce> {
    const SHOP: f64 = 575.0 * 2000.0 / 12.0 / 60_000.0;
    const THEORY: [f64; 2] = [1.2, 1.33];
    let newtons = ultimate.mpa() * bend_length.mm() * thickness.mm().powi(2) / die_opening.mm();
    let all = [ultimate.mpa(), bend_length.mm(), thickness.mm(), die_opening.mm(), newtons];
    all.into_iter().all(is_positive).then(|| BendingForce {
        shop: Force::from_newtons(SHOP * newtons),
        theory: THEORY.map(|factor| Force::from_newtons(factor * newtons)),
        source: "shop rule, 575 T^2/V US tons per foot at 60 ksi; theory, Kalpakjian and Schmid (1.2 to 1.33)",
    })
}

/// The usual die opening for a sheet, with the range that charts leave; `None` over 25 mm or for
/// what is no thickness.
#[must_use]
pub fn usual_die_opening(thickness: Length) -> Option<Figure<Length>> {
    let row = TABLES
        .die_opening
        .iter()
        .find(|row| is_positive(thickness.mm()) && thickness.mm() <= row.up_to)?;
    Some(row.times.clone().read().map(|times| thickness * times))
}

/// The inside radius that an air bend over that die opening comes out with, whatever the drawing
/// asks for.
///
/// Mild steel (to 450 megapascals) by the chart where it has the opening, other steel by its
/// strength, stainless and aluminium by their shop rules. `None` for metals that no rule was found
/// for.
#[must_use]
pub fn air_bend_radius(die_opening: Length, material: &Material) -> Option<Figure<Length>> {
    let rules = &TABLES.air_bend_radius;
    let (rule, is_steel) = match material.gauge_family? {
        GaugeFamily::Steel | GaugeFamily::Galvanised => (&rules.steel, true),
        GaugeFamily::Stainless => (&rules.stainless, false),
        GaugeFamily::Aluminium => (&rules.aluminium, false),
    };
    if !is_positive(die_opening.mm()) {
        return None;
    }
    let stronger =
        if is_steel { (material.ultimate_strength.value / MILD_STEEL).max(1.0) } else { 1.0 };
    let mut radius = rule.clone().read().map(|share| die_opening * (share * stronger));
    if let Some(row) = chart_row(die_opening)
        .filter(|_| is_steel && material.ultimate_strength.value.mpa() <= 450.0)
    {
        radius.value = Length::from_mm(row.inside_radius);
        radius.low = Length::from_mm(radius.low.mm().min(row.inside_radius));
        radius.high = Length::from_mm(radius.high.mm().max(row.inside_radius));
        radius.source.clone_from(&TABLES.air_bend_chart.source);
    }
    Some(radius)
}

/// The shortest leg, to the outside mould line, that spans a die opening: the chart's where it has
/// the opening, else 0.7 of it.
#[must_use]
pub fn least_leg(die_opening: Length) -> Figure<Length> {
    let mut leg = TABLES.least_leg.clone().read().map(|share| die_opening * share);
    if let Some(row) = chart_row(die_opening) {
        leg.value = Length::from_mm(row.least_leg);
        leg.high = Length::from_mm(leg.high.mm().max(row.least_leg));
        leg.source.clone_from(&TABLES.air_bend_chart.source);
    }
    leg
}

/// The shortest leg, to the outside mould line, that a leaf brake bends or holds: four thicknesses
/// of flat metal beside the bend for the leaf or the nose to lie on. Common practice, no source.
#[must_use]
pub fn least_leaf_leg(outside_setback: Length, thickness: Length) -> Figure<Length> {
    let value = outside_setback + thickness * 4.0;
    let source =
        "four thicknesses of flat leg for the leaf or the nose: common practice, no source"
            .to_owned();
    Figure { value, low: value, high: value, source }
}

/// Yield strength of the mild steel that leaf brakes are rated for, `MPa` (common practice, no
/// source).
const RATED_YIELD: Stress = Stress::from_mpa(250.0);

/// The thickest sheet of a metal that a brake rated `max_thickness` in mild steel bends over its
/// whole length.
///
/// The moment that a leaf must give per length of bend goes with yield strength times thickness
/// squared, so t = `max_thickness` sqrt(250/yield), and no more than `max_thickness`. Derived here
/// from the plastic moment of a strip, Y t²/4; checked in `tests/it/bending/brakes.rs`.
#[must_use]
pub fn thickest(max_thickness: Length, yield_strength: Stress) -> Length {
    max_thickness * (RATED_YIELD / yield_strength).sqrt().min(1.0)
}

/// The least relief hole where two bends meet: 1/8 in to 0.064 in of sheet, 3/16 in to 0.128 in;
/// `None` beyond.
///
/// The text speaks of sheet to 0.064 and of 0.072 to 0.128; sheet between them gets the larger
/// hole. Source: FAA-H-8083-31, Airframe volume 1, chapter 4, folding a box (aluminium alloy
/// sheet). Checked in `tests/it/published/faa.rs`.
#[must_use]
pub fn least_relief_hole(thickness: Length) -> Option<Length> {
    // Half a thousandth of an inch is rounding, not another sheet.
    const SLACK: Length = Length::from_inches(0.0005);
    if !is_positive(thickness.mm()) {
        None
    } else if thickness <= Length::from_inches(0.064) + SLACK {
        Some(Length::from_inches(1.0 / 8.0))
    } else if thickness <= Length::from_inches(0.128) + SLACK {
        Some(Length::from_inches(3.0 / 16.0))
    } else {
        None
    }
}

/// What a closed hem takes off: flat = leg + return - 0.43 T, for sheet under 0.080 in; `None` for
/// thicker.
///
/// Common practice, no source: bend calculation pages.
#[must_use]
pub fn closed_hem_deduction(thickness: Length) -> Option<Length> {
    (is_positive(thickness.mm()) && thickness < Length::from_inches(0.080))
        .then(|| thickness * 0.43)
}

/// The chart's row for a die opening, if it has that opening.
fn chart_row(die_opening: Length) -> Option<&'static ChartRow> {
    TABLES
        .air_bend_chart
        .rows
        .iter()
        .find(|row| (row.die_opening - die_opening.mm()).abs() < SAME_DIE_MM)
}

/// Above zero and finite.
fn is_positive(value: f64) -> bool {
    value > 0.0 && value.is_finite()
}

/// The tables as their file writes them.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tables {
    air_bend_chart: Chart,
    least_leg: WrittenFigure,
    die_opening: Vec<DieRow>,
    air_bend_radius: RadiusRules,
}

/// The air-bend chart.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Chart {
    source: String,
    rows: Vec<ChartRow>,
}

/// One die of the chart, written `[die opening, least leg, inside radius]`.
#[derive(Deserialize)]
#[serde(from = "[f64; 3]")]
struct ChartRow {
    die_opening: f64,
    least_leg: f64,
    inside_radius: f64,
}

impl From<[f64; 3]> for ChartRow {
    fn from([die_opening, least_leg, inside_radius]: [f64; 3]) -> Self {
        Self { die_opening, least_leg, inside_radius }
    }
}

/// Die opening over thickness for sheets up to a thickness.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DieRow {
    up_to: f64,
    times: WrittenFigure,
}

/// Inside radius over die opening, by kind of metal.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RadiusRules {
    steel: WrittenFigure,
    stainless: WrittenFigure,
    aluminium: WrittenFigure,
}

static TABLES: LazyLock<Tables> =
    LazyLock::new(|| read_built_in("brake.yaml", include_str!("brake.yaml")));

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_has_a_source_and_a_range_about_its_value() {
        let rules = &TABLES.air_bend_radius;
        let mut figures = vec![&TABLES.least_leg, &rules.steel, &rules.stainless, &rules.aluminium];
        figures.extend(TABLES.die_opening.iter().map(|row| &row.times));
        for figure in figures {
            let figure = figure.clone().read();
            assert!(figure.source.len() > 10, "{figure:?}");
            assert!(
                0.0 < figure.low && figure.low <= figure.value && figure.value <= figure.high,
                "{figure:?}"
            );
        }
        assert!(TABLES.air_bend_chart.source.len() > 10);
        assert!(TABLES.air_bend_chart.rows.is_sorted_by_key(|row| row.die_opening));
    }

    #[test]
    fn what_is_no_sheet_or_die_gets_no_figure() {
        let steel = Material::named("1020").expect("built in");
        let one = Length::from_mm(1.0);
        for mm in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            let bad = Length::from_mm(mm);
            assert_eq!(usual_die_opening(bad), None);
            assert_eq!(air_bend_radius(bad, steel), None);
            assert_eq!(bending_force(Stress::from_mpa(400.0), bad, one, one), None);
            assert_eq!(bending_force(Stress::from_mpa(400.0), one, one, bad), None);
            assert_eq!(least_relief_hole(bad), None);
            assert_eq!(closed_hem_deduction(bad), None);
        }
        assert_eq!(usual_die_opening(Length::from_mm(25.1)), None);
        assert_eq!(
            air_bend_radius(Length::from_mm(12.0), Material::named("ti-cp-2").expect("built in")),
            None
        );
    }

    #[test]
    fn stronger_steel_comes_out_rounder() {
        let radius = |name| {
            let material = Material::named(name).expect("built in");
            air_bend_radius(Length::from_mm(14.0), material).expect("a rule").value
        };
        assert!(
            radius("1020") < radius("4130-annealed")
                && radius("4130-annealed") < radius("4130-normalized")
        );
    }
}
