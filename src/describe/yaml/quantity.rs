//! Lengths, angles, times and forces as they are written: a number, a fraction, a unit, a gauge.

use std::borrow::Cow;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{self, Deserialize, Deserializer};

use super::written::too_long;
use crate::tolerance::LONGEST_WORD;
use crate::units::{Angle, Length, LengthUnit};

/// A quantity as written, before its unit is known.
#[derive(Debug, Clone, PartialEq)]
pub enum Quantity {
    /// A bare number.
    Number(f64),
    /// A number with a unit, a fraction, a gauge.
    Text(String),
}

impl<'de> Deserialize<'de> for Quantity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;
        impl de::Visitor<'_> for Visitor {
            type Value = Quantity;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a quantity such as 1.6, `1.6 mm` or `1-1/2 in`")
            }
            fn visit_f64<E>(self, value: f64) -> Result<Quantity, E> {
                Ok(Quantity::Number(value))
            }
            fn visit_i64<E>(self, value: i64) -> Result<Quantity, E> {
                Ok(Quantity::Number(value as f64))
            }
            fn visit_u64<E>(self, value: u64) -> Result<Quantity, E> {
                Ok(Quantity::Number(value as f64))
            }
            fn visit_str<E: de::Error>(self, value: &str) -> Result<Quantity, E> {
                if value.len() > LONGEST_WORD {
                    return Err(too_long(value, &self));
                }
                Ok(Quantity::Text(value.to_owned()))
            }
        }
        deserializer.deserialize_any(Visitor)
    }
}

impl JsonSchema for Quantity {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        "Quantity".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": ["number", "string"] })
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(value) => write!(f, "{value}"),
            Self::Text(text) => f.write_str(text),
        }
    }
}

/// Why a quantity cannot be read: what is wrong and what would be right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unreadable {
    /// What is wrong.
    pub message: String,
    /// What would be right.
    pub help: String,
    /// Whether all that is missing is the file's unit.
    pub no_unit: bool,
}

fn unreadable<T>(message: impl Into<String>, help: impl Into<String>) -> Result<T, Unreadable> {
    Err(Unreadable { message: message.into(), help: help.into(), no_unit: false })
}

/// A length as read: of a size, or a gauge whose size depends on the metal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Size {
    /// So long.
    Length(Length),
    /// This gauge of its metal's series.
    Gauge(u32),
}

/// Reads a length. `unit` is the file's, if it names one.
pub fn read_length(quantity: &Quantity, unit: Option<LengthUnit>) -> Result<Size, Unreadable> {
    let text = match quantity {
        Quantity::Number(value) => return in_file_unit(*value, unit, &value.to_string()),
        Quantity::Text(text) => text.trim(),
    };
    let (number, word) = split_unit(text);
    let value = read_number(number)
        .or_else(|help| unreadable(format!("`{text}` is not a length"), help))?;
    let length = match word {
        "" => return in_file_unit(value, unit, text),
        "mm" => Length::from_mm(value),
        "cm" => Length::from_mm(value * 10.0),
        "m" => Length::from_mm(value * 1000.0),
        "in" | "\"" | "inch" | "inches" => Length::from_inches(value),
        "ft" | "'" | "foot" | "feet" => Length::from_inches(value * 12.0),
        "ga" | "gauge" => return read_gauge(value, text),
        other => {
            return unreadable(
                format!("`{other}` is not a unit of length"),
                "write mm, cm, m, in or ft; for a thickness also a gauge such as `16 ga`",
            );
        }
    };
    finite(length, text)
}

fn in_file_unit(value: f64, unit: Option<LengthUnit>, text: &str) -> Result<Size, Unreadable> {
    match unit {
        Some(unit) => finite(unit.length(value), text),
        None => Err(Unreadable {
            message: format!("`{text}` has no unit, and the file names none"),
            help: "add `units: mm` or `units: in` at the top of the file, or write the unit here"
                .to_owned(),
            no_unit: true,
        }),
    }
}

fn finite(length: Length, text: &str) -> Result<Size, Unreadable> {
    if length.mm().is_finite() {
        Ok(Size::Length(length))
    } else {
        unreadable(format!("`{text}` is not a length"), "give a number such as 1.6")
    }
}

fn read_gauge(value: f64, text: &str) -> Result<Size, Unreadable> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked to be a whole number from 1 to 50"
    )]
    if value.fract() == 0.0 && (1.0..=50.0).contains(&value) {
        Ok(Size::Gauge(value as u32))
    } else {
        unreadable(
            format!("`{text}` is not a gauge"),
            "gauges are whole numbers such as `16 ga`; otherwise give the thickness in mm or in",
        )
    }
}

/// Reads an angle: degrees, unless it says `rad`.
pub fn read_angle(quantity: &Quantity) -> Result<Angle, Unreadable> {
    let degrees = match quantity {
        Quantity::Number(value) => *value,
        Quantity::Text(text) => {
            let text = text.trim();
            let (number, word) = split_unit(text);
            let value = read_number(number)
                .or_else(|help| unreadable(format!("`{text}` is not an angle"), help))?;
            match word {
                "" | "deg" | "°" | "degrees" => value,
                "rad" => {
                    return if value.is_finite() {
                        Ok(Angle::from_radians(value))
                    } else {
                        not_an_angle(text)
                    };
                }
                other => {
                    return unreadable(
                        format!("`{other}` is not a unit of angle"),
                        "write degrees as a bare number or `90 deg`, or `1.57 rad`",
                    );
                }
            }
        }
    };
    if degrees.is_finite() {
        Ok(Angle::from_degrees(degrees))
    } else {
        not_an_angle(&quantity.to_string())
    }
}

fn not_an_angle(text: &str) -> Result<Angle, Unreadable> {
    unreadable(format!("`{text}` is not an angle"), "give degrees, such as 90")
}

/// Reads a number with one of the units given, each with its factor; a bare number counts in the
/// first.
pub(crate) fn read_with_units(
    quantity: &Quantity,
    what: &str,
    units: &[(&str, f64)],
) -> Result<f64, Unreadable> {
    let names: Vec<&str> = units.iter().map(|(name, _)| *name).collect();
    let help = format!("write a number in {}", names.join(", "));
    let (value, factor) = match quantity {
        Quantity::Number(value) => (*value, units[0].1),
        Quantity::Text(text) => {
            let (number, word) = split_unit(text.trim());
            let value = read_number(number)
                .or_else(|_| unreadable(format!("`{text}` is not {what}"), help.clone()))?;
            let factor = if word.is_empty() {
                Some(units[0].1)
            } else {
                units.iter().find(|(name, _)| *name == word).map(|u| u.1)
            };
            match factor {
                Some(factor) => (value, factor),
                None => return unreadable(format!("`{word}` is not a unit of {what}"), help),
            }
        }
    };
    if value.is_finite() {
        Ok(value * factor)
    } else {
        unreadable(format!("`{quantity}` is not {what}"), help)
    }
}

/// The number in front and the word behind it.
fn split_unit(text: &str) -> (&str, &str) {
    let cut = text
        .char_indices()
        .find(|&(i, c)| {
            let exponent = matches!(c, 'e' | 'E')
                && i > 0
                && text[i + 1..].starts_with(|d: char| d.is_ascii_digit() || d == '-' || d == '+');
            !exponent && (c.is_alphabetic() || matches!(c, '"' | '\'' | '°'))
        })
        .map_or(text.len(), |(i, _)| i);
    (text[..cut].trim(), text[cut..].trim())
}

/// A decimal number, a fraction `3/8`, or a mixed one `1-1/2` or `1 1/2`. The error is what would
/// be right.
fn read_number(text: &str) -> Result<f64, String> {
    if let Ok(value) = text.parse::<f64>() {
        return Ok(value);
    }
    if text.contains(',') {
        return Err("write the decimal point as a full stop, and no separators between thousands"
            .to_owned());
    }
    let (negative, unsigned) = text.strip_prefix('-').map_or((false, text), |rest| (true, rest));
    let (whole, fraction) = match unsigned.rsplit_once(['-', ' ']) {
        Some((whole, fraction)) => (whole.trim(), fraction.trim()),
        None => ("0", unsigned),
    };
    let digits = |s: &str| !s.is_empty() && s.chars().all(|c| c.is_ascii_digit());
    let parts = fraction.split_once('/').map(|(a, b)| (a.trim(), b.trim()));
    match parts {
        Some((over, under)) if digits(whole) && digits(over) && digits(under) => {
            let number = |s: &str| s.parse::<f64>().unwrap_or(f64::NAN);
            let value = number(whole) + number(over) / number(under);
            if value.is_finite() {
                Ok(if negative { -value } else { value })
            } else {
                Err("a fraction cannot have 0 underneath".to_owned())
            }
        }
        _ => Err("write a number such as 1.6, a fraction such as 3/8, or both as 1-1/2".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(text: &str) -> f64 {
        match read_length(&Quantity::Text(text.to_owned()), None) {
            Ok(Size::Length(length)) => length.mm(),
            other => panic!("{text}: {other:?}"),
        }
    }

    #[test]
    fn lengths_are_read_as_builders_write_them() {
        for (text, value) in [
            ("1.8 mm", 1.8),
            ("0.071 in", 0.071 * 25.4),
            ("1-1/2 in", 38.1),
            ("1 1/2 in", 38.1),
            ("3/8 in", 9.525),
            ("3/8\"", 9.525),
            ("2 ft", 609.6),
            ("12 cm", 120.0),
            ("1.5e1 mm", 15.0),
            ("-1-1/2 in", -38.1),
            (".5in", 12.7),
        ] {
            assert!((mm(text) - value).abs() < 1e-12, "{text}: {}", mm(text));
        }
    }

    #[test]
    fn what_is_no_length_says_what_would_be_right() {
        for (text, part) in [
            ("1,5 mm", "full stop"),
            ("abc mm", "1-1/2"),
            ("3/0 in", "0 underneath"),
            ("3 furlong", "mm, cm"),
            ("12", "units: mm"),
        ] {
            let error = read_length(&Quantity::Text(text.to_owned()), None).expect_err(text);
            assert!(error.help.contains(part), "{text}: {}", error.help);
        }
        assert!(read_length(&Quantity::Number(f64::NAN), Some(LengthUnit::Millimetre)).is_err());
        assert!(read_length(&Quantity::Text("1e400 mm".to_owned()), None).is_err());
    }

    #[test]
    fn gauges_are_whole_numbers() {
        let read = |text: &str| read_length(&Quantity::Text(text.to_owned()), None);
        assert_eq!(read("16 ga"), Ok(Size::Gauge(16)));
        assert!(read("16.5 ga").is_err());
    }

    #[test]
    fn angles_are_degrees_unless_they_say_otherwise() {
        let read = |text: &str| read_angle(&Quantity::Text(text.to_owned())).map(Angle::degrees);
        assert!((read("90 deg").unwrap_or(0.0) - 90.0).abs() < 1e-12);
        assert!((read("1.5707963267948966 rad").unwrap_or(0.0) - 90.0).abs() < 1e-12);
        assert!(read("90 grad").is_err());
    }
}
