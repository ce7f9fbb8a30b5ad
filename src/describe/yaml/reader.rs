//! What every resolving step carries: the file's unit, where things stand, the problems and the defaults taken so far.

use super::mistakes::suggestion;
use super::quantity::{Quantity, Sized, Unreadable, read_angle, read_length, read_with_units};
use super::source::SourceMap;
use super::written::{Name, PointText};
use crate::geom::Point;
use crate::part::{Assumed, file_name};
use crate::problem::{Code, Place, Problem};
use crate::shop::gauge::{GaugeFamily, gauge};
use crate::tolerance::{LARGEST_LENGTH_MM, LEAST_LENGTH_MM, LONGEST_NAME};
use crate::units::{Angle, Length, LengthUnit};

/// Hands out the files that a description names; the only way the library reads anything.
pub trait FileReader {
    /// The bytes of `name`, a path beside the file `beside`. The problem says why there are none.
    fn read(&self, beside: &str, name: &str) -> Result<Vec<u8>, Problem>;

    /// The name of that file as messages give it.
    fn full_name(&self, beside: &str, name: &str) -> String;
}

/// A path into a description, built as the resolving goes down it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct At(pub(in crate::describe) String);

impl At {
    /// The value under `key`.
    pub(crate) fn key(&self, key: &str) -> Self {
        if self.0.is_empty() { Self(key.to_owned()) } else { Self(format!("{}.{key}", self.0)) }
    }

    /// Item `i` of a list.
    pub(crate) fn item(&self, i: usize) -> Self {
        Self(format!("{}[{i}]", self.0))
    }
}

/// The least and greatest value that a length may have.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Allowed {
    /// Above zero.
    Positive,
    /// Zero or above.
    ZeroOrMore,
    /// Any, such as a coordinate.
    Any,
}

/// See the module.
pub(crate) struct Reader<'a> {
    pub(crate) map: &'a SourceMap,
    pub(crate) files: &'a dyn FileReader,
    pub(crate) unit: Option<LengthUnit>,
    pub(crate) problems: Vec<Problem>,
    pub(crate) assumed: Vec<Assumed>,
    /// The sheet that the part is made of, once it is known.
    pub(crate) sheet: Option<crate::describe::part::SheetAtHand>,
    /// Whether slots for another part's tabs are passed over: that part may in turn have slots for this one's.
    pub(crate) skips_tab_slots: bool,
}

impl<'a> Reader<'a> {
    pub(crate) fn new(map: &'a SourceMap, files: &'a dyn FileReader) -> Self {
        Self { map, files, unit: None, problems: Vec::new(), assumed: Vec::new(), sheet: None, skips_tab_slots: false }
    }

    /// Notes a problem with the value at `at`.
    pub(crate) fn refuse<T>(&mut self, at: &At, code: Code, message: impl Into<String>, help: impl Into<String>) -> Option<T> {
        self.problems.push(Problem::new(code, message, help).at(self.map.value(&at.0)));
        None
    }

    /// The name of a part or a job as files bear it.
    pub(crate) fn file_name(&mut self, name: &Name, at: &At, what: &str) -> String {
        let file_name = file_name(&name.0);
        if file_name.is_empty() {
            let message = "this name has no letter or digit in it";
            self.refuse::<()>(at, Code::OutOfRange, message, format!("{what} named after it"));
        }
        if name.0.chars().count() > LONGEST_NAME {
            let message = format!("this name is longer than {LONGEST_NAME} letters");
            self.refuse::<()>(at, Code::OutOfRange, message, format!("give a shorter one: {what} named after it"));
        }
        file_name
    }

    /// Notes a default, once.
    pub(crate) fn assume(&mut self, key: &str, value: impl Into<String>, why: impl Into<String>) {
        let row = Assumed { key: key.to_owned(), value: value.into(), why: why.into() };
        if !self.assumed.contains(&row) {
            self.assumed.push(row);
        }
    }

    /// Where the value at `at` stands.
    pub(crate) fn place(&self, at: &At) -> Place {
        self.map.value(&at.0)
    }

    /// Reads the file's `units`.
    pub(crate) fn read_units(&mut self, units: Option<&Name>) {
        if let Some(name) = units {
            match name.0.as_str() {
                "mm" => self.unit = Some(LengthUnit::Millimetre),
                "in" => self.unit = Some(LengthUnit::Inch),
                other => {
                    // Bare lengths are read as mm from here on, so that this stays one error and not twenty.
                    self.unit = Some(LengthUnit::Millimetre);
                    self.refuse::<()>(
                        &At("units".into()),
                        Code::UnknownName,
                        format!("`{other}` is not a unit for a whole file"),
                        "write `units: mm` or `units: in`",
                    );
                }
            }
        }
    }

    /// The unit that reports speak first.
    pub(crate) fn shown_unit(&self) -> LengthUnit {
        self.unit.unwrap_or_default()
    }

    fn unreadable<T>(&mut self, at: &At, error: Unreadable) -> Option<T> {
        if error.no_unit {
            // From here on bare lengths are read as mm, so that this stays one error and not one for every length.
            self.unit = Some(LengthUnit::Millimetre);
        }
        self.refuse(at, Code::Quantity, error.message, error.help)
    }

    /// A length within the range that is asked of it.
    pub(crate) fn length(&mut self, quantity: &Quantity, at: &At, allowed: Allowed) -> Option<Length> {
        match read_length(quantity, self.unit) {
            Ok(Sized::Length(length)) => self.in_range(length, quantity, at, allowed),
            Ok(Sized::Gauge(_)) => {
                self.refuse(at, Code::Quantity, "a gauge is a thickness, not a length", "give this length in mm or in")
            }
            Err(error) => self.unreadable(at, error),
        }
    }

    fn in_range(&mut self, length: Length, quantity: &Quantity, at: &At, allowed: Allowed) -> Option<Length> {
        let mm = length.mm();
        let range = format!("lengths run from {LEAST_LENGTH_MM} mm to {} m", LARGEST_LENGTH_MM / 1000.0);
        let too_small = match allowed {
            Allowed::Positive => mm < LEAST_LENGTH_MM,
            Allowed::ZeroOrMore => mm < 0.0 || (mm > 0.0 && mm < LEAST_LENGTH_MM),
            Allowed::Any => false,
        };
        if too_small {
            let message = if mm < 0.0 {
                format!("`{quantity}` is negative")
            } else if mm == 0.0 {
                format!("`{quantity}` is nothing at all")
            } else {
                format!("`{quantity}` is too small to make")
            };
            return self.refuse(at, Code::OutOfRange, message, range);
        }
        if mm.abs() > LARGEST_LENGTH_MM {
            return self.refuse(at, Code::OutOfRange, format!("`{quantity}` is too large to make"), range);
        }
        Some(length)
    }

    /// A length that may be left out.
    pub(crate) fn length_or(
        &mut self,
        quantity: Option<&Quantity>,
        at: &At,
        allowed: Allowed,
        default: Length,
    ) -> Option<Length> {
        match quantity {
            Some(quantity) => self.length(quantity, at, allowed),
            None => Some(default),
        }
    }

    /// A sheet's thickness, which may be a gauge of `family`.
    pub(crate) fn thickness(&mut self, quantity: &Quantity, at: &At, family: Option<GaugeFamily>) -> Option<Length> {
        let length = match read_length(quantity, self.unit) {
            Ok(Sized::Length(length)) => length,
            Ok(Sized::Gauge(number)) => {
                let Some(family) = family else {
                    let help = "give the thickness in mm or in";
                    return self.refuse(at, Code::UnknownName, "this metal is not sold by gauge", help);
                };
                match gauge(family, number) {
                    Ok(gauge) => {
                        let shown = self.shown_unit().show(gauge.thickness);
                        self.assume("thickness", shown, format!("{number} gauge of the {family} series"));
                        gauge.thickness
                    }
                    Err(error) => {
                        let help = "give a gauge of that series, or the thickness in mm or in";
                        return self.refuse(at, Code::UnknownName, error.to_string(), help);
                    }
                }
            }
            Err(error) => return self.unreadable(at, error),
        };
        let (least, most) = crate::tolerance::THICKNESS_RANGE_MM;
        if (least..=most).contains(&length.mm()) {
            return Some(length);
        }
        let message = format!("a thickness of `{quantity}` is not sheet");
        self.refuse(at, Code::OutOfRange, message, format!("thicknesses run from {least} to {most} mm"))
    }

    /// An angle with its size in degrees between the two.
    pub(crate) fn angle(&mut self, quantity: &Quantity, at: &At, least: f64, most: f64) -> Option<Angle> {
        match read_angle(quantity) {
            Ok(angle) if (least..=most).contains(&angle.degrees()) => Some(angle),
            Ok(_) => {
                let message = format!("an angle of `{quantity}` cannot stand here");
                self.refuse(at, Code::OutOfRange, message, format!("give {least} to {most} degrees"))
            }
            Err(error) => self.unreadable(at, error),
        }
    }

    /// A number with a unit of its own, zero or more.
    pub(crate) fn with_units(&mut self, quantity: &Quantity, at: &At, what: &str, units: &[(&str, f64)]) -> Option<f64> {
        match read_with_units(quantity, what, units) {
            Ok(value) if value >= 0.0 => Some(value),
            Ok(_) => self.refuse(at, Code::OutOfRange, format!("`{quantity}` is negative"), "give zero or more"),
            Err(error) => self.unreadable(at, error),
        }
    }

    /// A point.
    pub(crate) fn point(&mut self, [x, y]: &PointText, at: &At) -> Option<Point> {
        let x = self.length(x, &at.item(0), Allowed::Any);
        let y = self.length(y, &at.item(1), Allowed::Any);
        Some(Point::new(x?.mm(), y?.mm()))
    }

    /// One of the words that may stand at `at`.
    pub(crate) fn word<T: Copy>(&mut self, word: &str, at: &At, known: &[(&str, T)]) -> Option<T> {
        match known.iter().find(|(name, _)| *name == word) {
            Some((_, value)) => Some(*value),
            None => {
                let names: Vec<&str> = known.iter().map(|(name, _)| *name).collect();
                self.refuse(at, Code::UnknownName, format!("`{word}` is not known here"), suggestion(word, &names))
            }
        }
    }

    /// A fraction between the two, such as a strain limit.
    pub(crate) fn fraction(&mut self, value: f64, at: &At, least: f64, most: f64) -> Option<f64> {
        if (least..=most).contains(&value) {
            return Some(value);
        }
        self.refuse(at, Code::OutOfRange, format!("{value} cannot stand here"), format!("give {least} to {most}"))
    }
}
