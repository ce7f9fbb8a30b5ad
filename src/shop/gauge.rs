//! Gauge numbers to thickness, by the series that each kind of metal is sold in.

use std::fmt;
use std::sync::LazyLock;

use serde::Deserialize;

use crate::shop::read_built_in;
use crate::units::{Digits, Length};

/// The gauge series of a kind of metal; the same number means another thickness in each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum GaugeFamily {
    /// Manufacturers' Standard Gauge for uncoated steel sheet.
    Steel,
    /// Galvanised steel sheet, the coating included.
    Galvanised,
    /// Stainless steel sheet.
    Stainless,
    /// Brown and Sharpe (American wire) gauge for aluminium and other non-ferrous sheet.
    Aluminium,
}

impl GaugeFamily {
    /// All series, in the order of the enum.
    pub const ALL: [Self; 4] = [Self::Steel, Self::Galvanised, Self::Stainless, Self::Aluminium];
}

impl fmt::Display for GaugeFamily {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Steel => "steel",
            Self::Galvanised => "galvanised steel",
            Self::Stainless => "stainless steel",
            Self::Aluminium => "aluminium",
        })
    }
}

/// One gauge number with its thickness.
#[derive(Debug, Clone, PartialEq)]
pub struct Gauge {
    /// The series it belongs to.
    pub family: GaugeFamily,
    /// The number.
    pub number: u32,
    /// The nominal thickness.
    pub thickness: Length,
    /// Where the thickness comes from.
    pub source: String,
}

impl fmt::Display for Gauge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ga = {} in", self.number, Digits(self.thickness.inches(), 4))
    }
}

/// A gauge number that its series doesn't have.
#[derive(Debug, Clone, PartialEq)]
pub struct UnknownGauge {
    /// The series.
    pub family: GaugeFamily,
    /// The number asked for.
    pub number: u32,
    /// The nearest numbers that the series has, at most one on each side.
    pub nearest: Vec<Gauge>,
}

impl fmt::Display for UnknownGauge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let nearest: Vec<String> = self.nearest.iter().map(ToString::to_string).collect();
        write!(
            f,
            "there is no {} ga in the {} series; the nearest are {}",
            self.number,
            self.family,
            nearest.join(" and ")
        )
    }
}

impl std::error::Error for UnknownGauge {}

/// The gauge of that number in its series, or the nearest numbers there are. Thicknesses between
/// two gauges are never guessed.
pub fn gauge(family: GaugeFamily, number: u32) -> Result<&'static Gauge, UnknownGauge> {
    let series = || GAUGES.iter().filter(|gauge| gauge.family == family);
    series().find(|gauge| gauge.number == number).ok_or_else(|| {
        let below = series().filter(|gauge| gauge.number < number).max_by_key(|gauge| gauge.number);
        let above = series().filter(|gauge| gauge.number > number).min_by_key(|gauge| gauge.number);
        UnknownGauge { family, number, nearest: below.into_iter().chain(above).cloned().collect() }
    })
}

/// The gauges next to a thickness: the thinnest that is not thinner, and the thickest that is not
/// thicker.
///
/// For telling a builder what lies near 0.071 in, never for turning a thickness into a gauge.
#[must_use]
pub fn gauges_beside(
    family: GaugeFamily,
    thickness: Length,
) -> (Option<&'static Gauge>, Option<&'static Gauge>) {
    let series = || GAUGES.iter().filter(|gauge| gauge.family == family);
    let by_thickness = |a: &&Gauge, b: &&Gauge| a.thickness.mm().total_cmp(&b.thickness.mm());
    (
        series().filter(|gauge| gauge.thickness >= thickness).min_by(by_thickness),
        series().filter(|gauge| gauge.thickness <= thickness).max_by(by_thickness),
    )
}

/// Every gauge of every series.
#[must_use]
pub fn gauges() -> &'static [Gauge] {
    &GAUGES
}

/// A series as its file writes it: inches by gauge number.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenSeries {
    family: GaugeFamily,
    source: String,
    inches: Vec<(u32, f64)>,
}

static GAUGES: LazyLock<Vec<Gauge>> = LazyLock::new(|| {
    let series: Vec<WrittenSeries> = read_built_in("gauges.yaml", include_str!("gauges.yaml"));
    series
        .into_iter()
        .flat_map(|WrittenSeries { family, source, inches }| {
            inches.into_iter().map(move |(number, inches)| Gauge {
                family,
                number,
                thickness: Length::from_inches(inches),
                source: source.clone(),
            })
        })
        .collect()
});

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_gauge_stands_once_and_thins_as_its_number_grows() {
        for family in GaugeFamily::ALL {
            let mut series: Vec<&Gauge> =
                gauges().iter().filter(|gauge| gauge.family == family).collect();
            series.sort_by_key(|gauge| gauge.number);
            assert!(series.len() > 20, "{family}");
            for pair in series.windows(2) {
                assert!(
                    pair[0].number < pair[1].number && pair[0].thickness > pair[1].thickness,
                    "{} {}",
                    pair[0],
                    pair[1]
                );
            }
            assert!(series.iter().all(|gauge| !gauge.source.trim().is_empty()));
        }
    }

    #[test]
    fn a_missing_gauge_names_its_neighbours() {
        let miss = gauge(GaugeFamily::Steel, 300).expect_err("no such gauge");
        assert_eq!(
            miss.to_string(),
            "there is no 300 ga in the steel series; the nearest are 30 ga = 0.012 in"
        );
        let miss = gauge(GaugeFamily::Steel, 0).expect_err("no such gauge");
        assert_eq!(miss.nearest.len(), 1);
    }

    #[test]
    fn seventy_one_thousandths_lies_between_two_steel_gauges() {
        let (above, below) = gauges_beside(GaugeFamily::Steel, Length::from_inches(0.071));
        assert_eq!(above.map(|gauge| gauge.number), Some(14));
        assert_eq!(below.map(|gauge| gauge.number), Some(15));
    }
}
