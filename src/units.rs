//! Lengths and angles as the program carries them: millimetres and radians, each behind a type of
//! its own.
//!
//! ```
//! use planish::units::{Length, LengthUnit};
//!
//! let sheet = Length::from_inches(0.125);
//! assert!((sheet.mm() - 3.175).abs() < 1e-12);
//! assert_eq!(LengthUnit::Inch.show(sheet), "0.125 in (3.175 mm)");
//! ```

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

/// One thousand pounds-force per square inch in megapascals: 4448.2216152605 N over (25.4 mm)^2,
/// both exact by definition.
pub const MPA_PER_KSI: f64 = 4_448.221_615_260_5 / (MM_PER_INCH * MM_PER_INCH);

/// One pound per cubic inch in kilograms per cubic metre: 0.45359237 kg over (0.0254 m)^3, both
/// exact by definition.
pub const KG_PER_M3_PER_LB_PER_IN3: f64 = 0.453_592_37 / (0.0254 * 0.0254 * 0.0254);

/// A stress, kept in megapascals (newtons per square millimetre).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Stress(f64);

impl Stress {
    /// No stress at all.
    pub const ZERO: Self = Self(0.0);

    /// A stress of `mpa` megapascals.
    #[must_use]
    pub const fn from_mpa(mpa: f64) -> Self {
        Self(mpa)
    }

    /// A stress of `ksi` thousand pounds per square inch.
    #[must_use]
    pub const fn from_ksi(ksi: f64) -> Self {
        Self(ksi * MPA_PER_KSI)
    }

    /// The stress in megapascals.
    #[must_use]
    pub const fn mpa(self) -> f64 {
        self.0
    }

    /// The stress in thousand pounds per square inch.
    #[must_use]
    pub const fn ksi(self) -> f64 {
        self.0 / MPA_PER_KSI
    }
}

/// A density, kept in kilograms per cubic metre.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Density(f64);

impl Density {
    /// A density of `kg_per_m3` kilograms per cubic metre.
    #[must_use]
    pub const fn from_kg_per_m3(kg_per_m3: f64) -> Self {
        Self(kg_per_m3)
    }

    /// A density of `lb_per_in3` pounds per cubic inch.
    #[must_use]
    pub const fn from_lb_per_in3(lb_per_in3: f64) -> Self {
        Self(lb_per_in3 * KG_PER_M3_PER_LB_PER_IN3)
    }

    /// The density in kilograms per cubic metre.
    #[must_use]
    pub const fn kg_per_m3(self) -> f64 {
        self.0
    }

    /// What a sheet of that `thickness` weighs, in kilograms per square metre.
    #[must_use]
    pub fn sheet_kg_per_m2(self, thickness: Length) -> f64 {
        self.0 * thickness.mm() / 1000.0
    }
}

/// A force, kept in newtons.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Force(f64);

impl Force {
    /// A force of `newtons`.
    #[must_use]
    pub const fn from_newtons(newtons: f64) -> Self {
        Self(newtons)
    }

    /// The force in newtons.
    #[must_use]
    pub const fn newtons(self) -> f64 {
        self.0
    }

    /// The force in kilonewtons.
    #[must_use]
    pub const fn kilonewtons(self) -> f64 {
        self.0 / 1000.0
    }
}

/// The arithmetic that keeps a quantity what it is: sums, differences, multiples, and ratios of
/// two.
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
quantity_arithmetic!(Stress);
quantity_arithmetic!(Density);
quantity_arithmetic!(Force);

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

    /// The length where there is little room: with so many decimals in a file in mm; in one in
    /// inches the inches first, mm in brackets.
    #[must_use]
    pub fn brief(self, length: Length, decimals: usize) -> String {
        let mm = format!("{} mm", Digits(length.mm(), decimals));
        match self {
            Self::Millimetre => mm,
            Self::Inch => format!("{} in ({mm})", Digits(length.inches(), 4)),
        }
    }

    /// Width and height in mm of a thing, as [`Self::brief`] shows a length, to two decimals.
    #[must_use]
    pub fn brief_size(self, width: f64, height: f64) -> String {
        let mm = format!("{} x {} mm", Digits(width, 2), Digits(height, 2));
        let inches = |mm: f64| Digits(Length::from_mm(mm).inches(), 4);
        match self {
            Self::Millimetre => mm,
            Self::Inch => format!("{} x {} in ({mm})", inches(width), inches(height)),
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

/// So many of a thing in words, as `1 opening` and `2 openings`; `thing` takes a plain `s` for more
/// than one.
#[must_use]
pub fn counted(count: usize, thing: &str) -> String {
    format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
}

/// A number with at most so many decimals and no trailing zeros; every number that a person reads
/// is printed by this.
#[derive(Debug, Clone, Copy)]
pub struct Digits(pub f64, pub usize);

impl fmt::Display for Digits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!("{:.*}", self.1, self.0);
        let text = if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.')
        } else {
            &text
        };
        f.write_str(if text == "-0" { "0" } else { text })
    }
}
