//! The width of a plasma cut, for a shop that hasn't measured its own.

use std::sync::LazyLock;

use serde::Deserialize;

use crate::shop::figure::Figure;
use crate::shop::gauge::GaugeFamily;
use crate::shop::read_built_in;
use crate::units::Length;

/// The usual plasma kerf in a sheet of that thickness; `None` beyond the table (over 25 mm, or not
/// a thickness at all).
///
/// Common practice, no standard behind it: the figure's source says so and its range is wide.
/// Stainless and aluminium are cut a little wider.
#[must_use]
pub fn usual_kerf(thickness: Length, family: Option<GaugeFamily>) -> Option<Figure<Length>> {
    if thickness <= Length::ZERO {
        return None;
    }
    let row = KERFS.rows.iter().find(|row| thickness.mm() <= row.up_to)?;
    let wider = &KERFS.wider;
    let (by, also) = match family {
        Some(family) if wider.families.contains(&family) => {
            (wider.by, format!("; {}", wider.source))
        }
        _ => (0.0, String::new()),
    };
    let kerf = |mm: f64| Length::from_mm(mm + by);
    Some(Figure {
        value: kerf(row.kerf),
        low: kerf(row.low),
        high: kerf(row.high),
        source: format!("{}{also}", row.source),
    })
}

/// The table as its file writes it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Kerfs {
    rows: Vec<Row>,
    wider: Wider,
}

/// The kerf of the sheets up to a thickness.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    up_to: f64,
    kerf: f64,
    low: f64,
    high: f64,
    source: String,
}

/// The metals that are cut wider than mild steel.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Wider {
    families: Vec<GaugeFamily>,
    by: f64,
    source: String,
}

static KERFS: LazyLock<Kerfs> =
    LazyLock::new(|| read_built_in("kerf.yaml", include_str!("kerf.yaml")));

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_widen_with_thickness_and_say_what_they_are_worth() {
        for pair in KERFS.rows.windows(2) {
            assert!(pair[0].up_to < pair[1].up_to && pair[0].kerf < pair[1].kerf);
        }
        for row in &KERFS.rows {
            assert!(0.0 < row.low && row.low <= row.kerf && row.kerf <= row.high);
            assert!(row.source.starts_with("common practice, no source"));
        }
        assert!(KERFS.wider.source.starts_with("common practice, no source"));
    }

    #[test]
    fn nothing_beyond_the_table() {
        for mm in [0.0, -1.0, 25.1, f64::NAN, f64::INFINITY] {
            assert_eq!(usual_kerf(Length::from_mm(mm), None), None, "{mm}");
        }
    }
}
