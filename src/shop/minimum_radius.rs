//! The least inside radius a sheet takes without cracking, from the tables that speak of its metal.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::LazyLock;

use serde::Deserialize;

use crate::shop::figure::{Figure, WrittenFigure};
use crate::shop::gauge::GaugeFamily;
use crate::shop::material::Material;
use crate::shop::read_built_in;
use crate::units::{Angle, Digits, Length, Stress};

/// A sheet up to one hundredth thicker than a row still counts as that row: 3.2 mm and 1/8 in are
/// one stock.
const SAME_STOCK: f64 = 1.01;

/// The bend angle beyond which DIN 6935 takes the next thicker row.
const DIN_STEEP_BEND: Angle = Angle::from_degrees(120.0);

/// How the bend line lies to the rolling direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BendLine {
    /// Square to the grain: the kind way.
    AcrossGrain,
    /// Along the grain: the way that cracks first.
    AlongGrain,
    /// Not known, so taken as along the grain.
    Unknown,
}

/// How a material's least radius is found.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(try_from = "WrittenRule")]
pub enum RadiusRule {
    /// A column of the design book's table.
    DesignBook {
        /// The column's name.
        column: String,
        /// The words beside the figure: the book's, and why this column where the metal has none of
        /// its own.
        source: String,
    },
    /// The table of DIN 6935, by ultimate strength.
    Din6935,
    /// A multiple of the thickness.
    TimesThickness(Figure<f64>),
    /// A shop's own rows: least radius for sheet up to each thickness.
    Own {
        /// (thickness, radius), in any order.
        rows: Vec<(Length, Length)>,
        /// Where they come from.
        source: String,
    },
}

impl RadiusRule {
    /// Where the rule comes from.
    #[must_use]
    pub fn source(&self) -> &str {
        match self {
            Self::DesignBook { source, .. } | Self::Own { source, .. } => source,
            Self::Din6935 => &TABLES.din_6935.source,
            Self::TimesThickness(times) => &times.source,
        }
    }
}

/// A least radius with the row it was read from.
#[derive(Debug, Clone, PartialEq)]
pub struct MinimumRadius {
    /// The least inside radius.
    pub radius: Length,
    /// By how much a radius may fall short of it and still be the one the table means: half the
    /// last digit that it prints.
    pub rounding: Length,
    /// The table, column and row it stands in.
    pub source: String,
    /// What else should be known: other tables' answers, limits of this one.
    pub notes: Vec<String>,
}

impl MinimumRadius {
    /// Whether a bend of that inside radius is not tighter.
    #[must_use]
    pub fn allows(&self, radius: Length) -> bool {
        radius.mm() >= (self.radius - self.rounding).mm() - 1e-9
    }
}

/// Why no least radius can be given.
#[derive(Debug, Clone, PartialEq)]
pub enum NoMinimumRadius {
    /// The sheet is thicker than the table goes.
    TooThick {
        /// The thickness asked for.
        thickness: Length,
        /// The table.
        table: String,
    },
    /// The table leaves this place empty.
    LeftOpen {
        /// The thickness of the row.
        thickness: Length,
        /// The column.
        column: String,
    },
    /// The metal is stronger than the table goes.
    TooStrong {
        /// The ultimate strength.
        ultimate: Stress,
        /// The greatest ultimate strength of the table.
        limit: Stress,
        /// The table.
        table: String,
    },
    /// Thickness, strength or angle isn't a quantity that a sheet can have.
    NotASheet,
}

impl fmt::Display for NoMinimumRadius {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooThick { thickness, table } => {
                write!(
                    f,
                    "{} mm is thicker than the table goes ({table})",
                    Digits(thickness.mm(), 3)
                )
            }
            Self::LeftOpen { thickness, column } => {
                write!(
                    f,
                    "the table gives no radius for {column} at {} mm",
                    Digits(thickness.mm(), 3)
                )
            }
            Self::TooStrong { ultimate, limit, table } => write!(
                f,
                "an ultimate strength of {} MPa is outside the table, which ends at {} MPa ({table})",
                Digits(ultimate.mpa(), 0),
                Digits(limit.mpa(), 0)
            ),
            Self::NotASheet => {
                f.write_str("thickness, strength and bend angle must be greater than nothing")
            }
        }
    }
}

impl std::error::Error for NoMinimumRadius {}

/// The least inside radius for a bend in that material, by its own rule.
///
/// Steels have what DIN 6935 says beside it, or that the standard's table says nothing of them.
pub fn minimum_radius(
    material: &Material,
    thickness: Length,
    bend_angle: Angle,
    line: BendLine,
) -> Result<MinimumRadius, NoMinimumRadius> {
    if !(is_positive(thickness.mm()) && is_positive(bend_angle.radians())) {
        return Err(NoMinimumRadius::NotASheet);
    }
    let din = || din_minimum_radius(material.ultimate_strength.value, thickness, bend_angle, line);
    match &material.radius_rule {
        RadiusRule::Din6935 => din(),
        RadiusRule::TimesThickness(times) => Ok(MinimumRadius {
            radius: thickness * times.value,
            rounding: Length::ZERO,
            source: times.source.clone(),
            notes: vec![format!(
                "sources range from {} to {} thicknesses",
                Digits(times.low, 2),
                Digits(times.high, 2)
            )],
        }),
        RadiusRule::Own { rows, source } => own_rows(rows, source, thickness),
        RadiusRule::DesignBook { column, source } => {
            let is_steel = material.gauge_family == Some(GaugeFamily::Steel);
            let mut answer = match design_book_radius(column, thickness) {
                // The standard knows thicker steel than the book, unless the steel is too strong
                // for it.
                Err(NoMinimumRadius::TooThick { .. }) if is_steel => match din() {
                    Err(NoMinimumRadius::TooStrong { .. }) => carried_on(column, thickness),
                    answer => answer,
                },
                Err(NoMinimumRadius::TooThick { .. }) => carried_on(column, thickness),
                answer => answer,
            }?;
            if source != &TABLES.design_book.source {
                answer.notes.push(source.clone());
            }
            if is_steel && !answer.source.starts_with("DIN") {
                answer.notes.push(match din() {
                    Ok(din) => format!("{} mm by {}", Digits(din.radius.mm(), 2), din.source),
                    Err(none) => none.to_string(),
                });
            }
            Ok(answer)
        }
    }
}

/// The least inside radius by the design book's table: the first row that is not thinner than the
/// sheet.
///
/// The book doesn't say how the grain lies. Checked in `tests/it/published/minimum_radius.rs`.
pub fn design_book_radius(
    column: &str,
    thickness: Length,
) -> Result<MinimumRadius, NoMinimumRadius> {
    let book = &TABLES.design_book;
    let too_thick = || NoMinimumRadius::TooThick { thickness, table: book.source.clone() };
    if !is_positive(thickness.mm()) {
        return Err(NoMinimumRadius::NotASheet);
    }
    let radii = book.columns.get(column).ok_or_else(too_thick)?;
    let (row, radius) = book
        .thickness
        .iter()
        .zip(radii)
        .find(|(row, _)| thickness.inches() <= **row * SAME_STOCK)
        .ok_or_else(too_thick)?;
    let thickness = Length::from_inches(*row);
    let inches =
        radius.ok_or_else(|| NoMinimumRadius::LeftOpen { thickness, column: column.to_owned() })?;
    Ok(MinimumRadius {
        radius: Length::from_inches(inches),
        rounding: Length::from_inches(book.rounding),
        source: format!("{}, {column}, row {row:.3} in", book.source),
        notes: vec!["the table doesn't say how the grain lies; bend across it".to_owned()],
    })
}

/// The thickest row's ratio of radius to thickness carried on to thicker sheet, and said to be so.
fn carried_on(column: &str, thickness: Length) -> Result<MinimumRadius, NoMinimumRadius> {
    let last =
        Length::from_inches(TABLES.design_book.thickness.last().copied().unwrap_or_default());
    let row = design_book_radius(column, last)?;
    Ok(MinimumRadius {
        radius: row.radius * (thickness / last),
        rounding: row.rounding * (thickness / last),
        source: format!("{}, its ratio of radius to thickness carried on", row.source),
        notes: vec!["thicker than the table goes: bend a test piece".to_owned()],
    })
}

/// The least inside radius for steel by the table of DIN 6935 (October 1975).
///
/// By ultimate strength (to 640 megapascals) and thickness (to 7 mm); along the grain, the grain
/// unknown, or the bend over 120 degrees, the next thicker row holds. Checked in
/// `tests/it/published/minimum_radius.rs`.
pub fn din_minimum_radius(
    ultimate: Stress,
    thickness: Length,
    bend_angle: Angle,
    line: BendLine,
) -> Result<MinimumRadius, NoMinimumRadius> {
    let din = &TABLES.din_6935;
    if !(is_positive(ultimate.mpa())
        && is_positive(thickness.mm())
        && is_positive(bend_angle.radians()))
    {
        return Err(NoMinimumRadius::NotASheet);
    }
    let column =
        din.ultimate_up_to.iter().position(|limit| ultimate.mpa() <= *limit).ok_or_else(|| {
            let limit = Stress::from_mpa(din.ultimate_up_to[din.ultimate_up_to.len() - 1]);
            NoMinimumRadius::TooStrong { ultimate, limit, table: din.source.clone() }
        })?;
    let is_harder = line != BendLine::AcrossGrain || bend_angle > DIN_STEEP_BEND;
    let row = din
        .rows
        .iter()
        .skip_while(|row| thickness.mm() > row.thickness_up_to)
        .nth(usize::from(is_harder))
        .ok_or_else(|| NoMinimumRadius::TooThick { thickness, table: din.source.clone() })?;
    let why = if is_harder {
        "; next thicker row for a bend along the grain or over 120 degrees"
    } else {
        ""
    };
    let (limit, up_to) = (din.ultimate_up_to[column], row.thickness_up_to);
    Ok(MinimumRadius {
        radius: Length::from_mm(row.radius[column]),
        rounding: Length::ZERO,
        source: format!("{}, ultimate to {limit} MPa, row to {up_to} mm{why}", din.source),
        notes: Vec::new(),
    })
}

/// A shop's own rows: the first that is not thinner than the sheet.
fn own_rows(
    rows: &[(Length, Length)],
    source: &str,
    thickness: Length,
) -> Result<MinimumRadius, NoMinimumRadius> {
    rows.iter()
        .filter(|(row, _)| thickness <= *row * SAME_STOCK)
        .min_by(|a, b| a.0.mm().total_cmp(&b.0.mm()))
        .map(|(row, radius)| MinimumRadius {
            radius: *radius,
            rounding: Length::ZERO,
            source: format!("{source}, row to {} mm", Digits(row.mm(), 3)),
            notes: Vec::new(),
        })
        .ok_or_else(|| NoMinimumRadius::TooThick { thickness, table: source.to_owned() })
}

/// R = T (50/r - 1): the least radius by the reduction of area of a tensile test, never below zero.
///
/// Letters: T = thickness, r = reduction of area in percent (above 0). For information only: it
/// gives zero for both conditions of 4130 sheet (r about 60), which shops bend at 1.7 and 3.4
/// thicknesses. Source: Kalpakjian and Schmid, Manufacturing Engineering and Technology, 6th
/// edition SI (2009), Eq. 16.5. Checked in `tests/it/published/minimum_radius.rs`.
#[must_use]
pub fn ductility_radius(thickness: Length, reduction_of_area_percent: f64) -> Length {
    thickness * (50.0 / reduction_of_area_percent - 1.0).max(0.0)
}

/// About one thickness for annealed sheet (`FAA-H-8083-31`, Airframe, on bend radii); stainless and
/// 2024-T3 need fairly large ones.
#[must_use]
pub const fn faa_annealed_radius(thickness: Length) -> Length {
    thickness
}

/// Above zero and finite.
fn is_positive(value: f64) -> bool {
    value > 0.0 && value.is_finite()
}

/// A rule as the materials' file writes it: exactly one of the three.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenRule {
    column: Option<String>,
    because: Option<String>,
    #[serde(default)]
    din: bool,
    times_thickness: Option<WrittenFigure>,
}

impl TryFrom<WrittenRule> for RadiusRule {
    type Error = String;

    fn try_from(written: WrittenRule) -> Result<Self, String> {
        match written {
            WrittenRule { column: Some(column), because, din: false, times_thickness: None } => {
                let book = &TABLES.design_book;
                if !book.columns.contains_key(&column) {
                    return Err(format!("the design book has no column `{column}`"));
                }
                Ok(Self::DesignBook {
                    column,
                    source: because.unwrap_or_else(|| book.source.clone()),
                })
            }
            WrittenRule { column: None, because: None, din: true, times_thickness: None } => {
                Ok(Self::Din6935)
            }
            WrittenRule {
                column: None,
                because: None,
                din: false,
                times_thickness: Some(times),
            } => Ok(Self::TimesThickness(times.read())),
            _ => Err("a least radius is one of: a column, din, times_thickness".to_owned()),
        }
    }
}

/// The tables as their file writes them.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tables {
    design_book: DesignBook,
    din_6935: Din6935,
}

/// Inches by thickness, a column for each metal.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DesignBook {
    source: String,
    rounding: f64,
    thickness: Vec<f64>,
    columns: BTreeMap<String, Vec<Option<f64>>>,
}

/// Millimetres by thickness, a column for each range of ultimate strength.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Din6935 {
    source: String,
    ultimate_up_to: [f64; 3],
    rows: Vec<DinRow>,
}

/// The least radii of the sheets up to a thickness.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DinRow {
    thickness_up_to: f64,
    radius: [f64; 3],
}

static TABLES: LazyLock<Tables> =
    LazyLock::new(|| read_built_in("minimum_radius.yaml", include_str!("minimum_radius.yaml")));

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_are_whole_and_grow_with_thickness() {
        let book = &TABLES.design_book;
        assert!(book.source.len() > 10 && TABLES.din_6935.source.len() > 10);
        for (column, radii) in &book.columns {
            assert_eq!(radii.len(), book.thickness.len(), "{column}");
            assert!(radii.iter().flatten().is_sorted(), "{column}");
        }
        for column in 0..3 {
            assert!(TABLES.din_6935.rows.iter().is_sorted_by_key(|row| row.radius[column]));
        }
    }

    #[test]
    fn every_material_answers_for_every_sheet_or_says_why_not() {
        let angle = Angle::from_degrees(90.0);
        for material in Material::built_in() {
            let mut last = Length::ZERO;
            for mm in (3..100).map(|tenths| f64::from(tenths) / 10.0) {
                match minimum_radius(material, Length::from_mm(mm), angle, BendLine::Unknown) {
                    Ok(answer) => {
                        assert!(
                            answer.radius >= last * 0.99,
                            "{} at {mm} mm: {answer:?}",
                            material.name
                        );
                        last = answer.radius;
                    }
                    // The design book leaves stainless open at 1/8 in; the steel tables end at 7
                    // mm, a row earlier for hard bends.
                    Err(NoMinimumRadius::LeftOpen { .. }) => {
                        assert!(material.name == "304" && mm > 2.3, "{mm}");
                    }
                    Err(none) => assert!(mm > 6.0, "{} at {mm} mm: {none}", material.name),
                }
            }
        }
    }

    #[test]
    fn what_is_no_sheet_is_refused() {
        let steel = Material::named("1020").expect("built in");
        for mm in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            let (thickness, angle) = (Length::from_mm(mm), Angle::from_degrees(90.0));
            assert_eq!(
                minimum_radius(steel, thickness, angle, BendLine::Unknown),
                Err(NoMinimumRadius::NotASheet)
            );
        }
    }
}
