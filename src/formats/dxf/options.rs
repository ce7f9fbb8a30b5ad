//! Which DXF is written, and in which unit.

use crate::units::MM_PER_INCH;

/// Which DXF to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DxfVersion {
    /// Of the year 2000 (AC1015): it knows its units and light polylines.
    #[default]
    R2000,
    /// Of 1992 (AC1009), which the oldest readers take.
    R12,
}

/// The unit of a DXF file's numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DxfUnit {
    /// Millimetres.
    #[default]
    Millimetre,
    /// Inches.
    Inch,
}

/// How a drawing is written as DXF.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct DxfOptions {
    /// The version of the format.
    pub version: DxfVersion,
    /// The unit of its numbers.
    pub unit: DxfUnit,
}

impl DxfUnit {
    /// How many mm one of it is.
    const fn in_mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Inch => MM_PER_INCH,
        }
    }

    /// Its number as `$INSUNITS` has it, and whether it is metric as `$MEASUREMENT` has it.
    pub(super) const fn variables(self) -> (usize, usize) {
        match self {
            Self::Millimetre => (4, 1),
            Self::Inch => (1, 0),
        }
    }

    /// `mm` in this unit, on its last decimal: the sixth of a millimetre, the eighth of an inch.
    pub(super) fn of(self, mm: f64) -> f64 {
        let last: f64 = match self {
            Self::Millimetre => 1e6,
            Self::Inch => 1e8,
        };
        (mm / self.in_mm() * last).round() / last + 0.0
    }
}
