//! Lengths and angles as the program carries them: millimetres and radians, each behind a type of its own.

use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

/// One inch in millimetres, exact by definition (international inch, 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// A length, kept in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Length(f64);

impl Length {
    /// No length at all.
    pub const ZERO: Self = Self(0.0);

    /// A length of `mm` millimetres.
    #[must_use]
    pub const fn from_mm(mm: f64) -> Self {
        Self(mm)
    }

    /// A length of `inches` inches.
    #[must_use]
    pub const fn from_inches(inches: f64) -> Self {
        Self(inches * MM_PER_INCH)
    }

    /// The length in millimetres.
    #[must_use]
    pub const fn mm(self) -> f64 {
        self.0
    }

    /// The length in inches.
    #[must_use]
    pub const fn inches(self) -> f64 {
        self.0 / MM_PER_INCH
    }
}

/// An angle, kept in radians.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Angle(f64);

impl Angle {
    /// No angle at all.
    pub const ZERO: Self = Self(0.0);

    /// An angle of `radians`.
    #[must_use]
    pub const fn from_radians(radians: f64) -> Self {
        Self(radians)
    }

    /// An angle of `degrees`.
    #[must_use]
    pub const fn from_degrees(degrees: f64) -> Self {
        Self(degrees * (std::f64::consts::PI / 180.0))
    }

    /// The angle in radians.
    #[must_use]
    pub const fn radians(self) -> f64 {
        self.0
    }

    /// The angle in degrees.
    #[must_use]
    pub const fn degrees(self) -> f64 {
        self.0 * (180.0 / std::f64::consts::PI)
    }

    /// The size of the angle without its sign.
    #[must_use]
    pub const fn abs(self) -> Self {
        Self(self.0.abs())
    }
}

/// The arithmetic that keeps a quantity what it is: sums, differences, multiples, and ratios of two.
macro_rules! quantity_arithmetic {
    ($quantity:ident) => {
        impl Add for $quantity {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl AddAssign for $quantity {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }
        impl Sub for $quantity {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $quantity {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl Mul<f64> for $quantity {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Div<f64> for $quantity {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
        impl Div for $quantity {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
    };
}

quantity_arithmetic!(Length);
quantity_arithmetic!(Angle);

/// The unit a description is written in, and in which its reports speak first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LengthUnit {
    /// Millimetres.
    #[default]
    Millimetre,
    /// Inches.
    Inch,
}

impl LengthUnit {
    /// `value` of this unit as a length.
    #[must_use]
    pub const fn length(self, value: f64) -> Length {
        match self {
            Self::Millimetre => Length::from_mm(value),
            Self::Inch => Length::from_inches(value),
        }
    }

    /// The length as a report prints it: this unit first, the other in brackets.
    #[must_use]
    pub fn show(self, length: Length) -> String {
        let mm = format!("{} mm", Digits(length.mm(), 3));
        let inches = format!("{} in", Digits(length.inches(), 4));
        match self {
            Self::Millimetre => format!("{mm} ({inches})"),
            Self::Inch => format!("{inches} ({mm})"),
        }
    }
}

/// A number with at most so many decimals and no trailing zeros; every number that a person reads is printed by this.
#[derive(Debug, Clone, Copy)]
pub struct Digits(pub f64, pub usize);

impl fmt::Display for Digits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!("{:.*}", self.1, self.0);
        let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
        f.write_str(if text == "-0" { "0" } else { text })
    }
}
