//! What every resolving step carries: the file's unit, where things stand, the problems and the
//! defaults taken so far.

use serde::de::DeserializeOwned;

use super::mistakes::{Mending, Step, suggestion};
use super::quantity::{Quantity, Size, Unreadable, read_angle, read_length, read_with_units};
use super::source::{FileKind, SourceMap, decode, text_of};
use super::written::{Name, PointText};
use crate::geom::Point;
use crate::part::{Assumed, file_name};
use crate::problem::{Checked, Code, Place, Problem};
use crate::shop::gauge::{GaugeFamily, gauge};
use crate::tolerance::{LARGEST_LENGTH_MM, LEAST_LENGTH_MM, LONGEST_NAME, THICKNESS_RANGE_MM};
use crate::units::{Angle, Length, LengthUnit};

/// Hands out the files that a description names; the only way the library reads anything.
pub trait FileReader {
    /// The bytes of `name`, a path beside the file `beside`. The problem says why there are none.
    fn read(&self, beside: &str, name: &str) -> Result<Vec<u8>, Problem>;

    /// The name of that file as messages give it.
    fn full_name(&self, beside: &str, name: &str) -> String;
}

/// For descriptions that name no other files: each is refused.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoFiles;

impl FileReader for NoFiles {
    fn read(&self, _: &str, name: &str) -> Result<Vec<u8>, Problem> {
        Err(Problem::new(
            Code::File,
            format!("there is no file `{name}` here"),
            "this description can name no other file",
        ))
    }

    fn full_name(&self, _: &str, name: &str) -> String {
        name.to_owned()
    }
}

/// A path into a description, built as the resolving goes down it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct At {
    path: String,
    /// How much of it is the path of the group or list that this stands in, bytes.
    parent: usize,
}

impl At {
    /// The value under `key`.
    pub(crate) fn key(&self, key: &str) -> Self {
        let path =
            if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) };
        Self { path, parent: self.path.len() }
    }

    /// Item `i` of a list.
    pub(crate) fn item(&self, i: usize) -> Self {
        Self { path: format!("{}[{i}]", self.path), parent: self.path.len() }
    }

    /// Whether it is `other` or lies below it.
    fn is_within(&self, other: &Self) -> bool {
        self.path
            .strip_prefix(&other.path)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
    }

    /// Whether both stand in one group or list.
    fn is_beside(&self, other: &Self) -> bool {
        self.path[..self.parent] == other.path[..other.parent]
    }
}

impl FromIterator<Step> for At {
    fn from_iter<I: IntoIterator<Item = Step>>(steps: I) -> Self {
        steps.into_iter().fold(Self::default(), |at, step| match step {
            Step::Key(key) => at.key(&key),
            Step::Item(i) => at.item(i),
        })
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

/// What stands in place of a value that cannot be read: the reader holds a problem that says why.
///
/// Only a [`Reader`] makes one, as it notes the problem, so that nothing goes missing without a
/// reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Refused(());

/// A value read out of a description.
pub(crate) type Read<T> = Result<T, Refused>;

/// How many values a reader had refused at some time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Mark(usize);

/// Reads the values of one file: knows where each stands, and notes what is wrong with them.
pub(crate) struct Reader<'a> {
    map: SourceMap,
    files: &'a dyn FileReader,
    /// The unit of bare lengths, if the file names one.
    unit: Option<LengthUnit>,
    problems: Vec<Problem>,
    /// How often it refused a value, consequences of earlier problems included.
    refusals: usize,
    /// Where the decoder mended the file: what stands there now is not what was meant.
    mended: Vec<At>,
    assumed: Vec<Assumed>,
}

impl<'a> Reader<'a> {
    /// Decodes a file of that kind; gives its text, and the reader that makes sense of it.
    pub(crate) fn open<T: DeserializeOwned>(
        name: &str,
        bytes: Vec<u8>,
        kind: FileKind,
        files: &'a dyn FileReader,
    ) -> Checked<(T, Self)> {
        let source = text_of(name, bytes).map_err(|problem| vec![problem])?;
        let (text, map, Mending { problems, places }) = decode(&source, kind)?;
        let mended = places.into_iter().map(At::from_iter).collect();
        Ok((
            text,
            Self { map, files, unit: None, problems, refusals: 0, mended, assumed: Vec::new() },
        ))
    }

    /// What was read and the defaults taken, or else all problems.
    pub(crate) fn finish<T>(mut self, read: Read<T>) -> Checked<(T, Vec<Assumed>)> {
        if !self.mended.is_empty() {
            // Those of the decoder came first; in the file they stand between the others.
            let own = self.map.source();
            self.problems.sort_by_key(|problem| match &problem.place {
                Some(place) if place.source == *own => (0, place.span.start),
                _ => (1, 0),
            });
        }
        match read {
            Ok(value) if self.problems.is_empty() => Ok((value, self.assumed)),
            _ => Err(self.problems),
        }
    }

    /// Notes a problem with the value at `at`, unless it is a consequence of one of the decoder's.
    pub(crate) fn refuse(
        &mut self,
        at: &At,
        code: Code,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Refused {
        if self.follows_from_mending(at, code) {
            return self.refused();
        }
        let place = self.place(at);
        self.refuse_place(&place, code, message, help)
    }

    /// Whether a problem with the value at `at` may come of what the decoder took out or put in.
    fn follows_from_mending(&self, at: &At, code: Code) -> bool {
        // Which keys a group has cannot be told while one of them is not known.
        let is_of_keys = matches!(code, Code::Choice | Code::MissingKey);
        let follows = |mended: &At| {
            at.is_within(mended) || mended.is_within(at) || (is_of_keys && mended.is_beside(at))
        };
        self.mended.iter().any(follows)
    }

    /// Refused again: there is a problem already that says why.
    fn refused(&mut self) -> Refused {
        self.refusals += 1;
        Refused(())
    }

    /// Refused if what stands at `at` is not what was meant there: the decoder has told why.
    pub(crate) fn stands(&mut self, at: &At) -> Read<()> {
        if self.mended.iter().any(|mended| at.is_within(mended)) {
            Err(self.refused())
        } else {
            Ok(())
        }
    }

    /// Refused if anything at `at` or below it is not what was meant.
    pub(crate) fn stands_whole(&mut self, at: &At) -> Read<()> {
        let is_whole = |mended: &At| !at.is_within(mended) && !mended.is_within(at);
        if self.mended.iter().all(is_whole) { Ok(()) } else { Err(self.refused()) }
    }

    /// Notes a problem with what stands at `place`.
    pub(crate) fn refuse_place(
        &mut self,
        place: &Place,
        code: Code,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Refused {
        self.problems.push(Problem::new(code, message, help).at(place.clone()));
        self.refused()
    }

    /// Notes the problems of another file that this one names, each once however often it is named.
    pub(crate) fn adopt<T>(&mut self, read: Checked<T>) -> Read<T> {
        read.map_err(|problems| {
            let new: Vec<Problem> =
                problems.into_iter().filter(|problem| !self.problems.contains(problem)).collect();
            self.problems.extend(new);
            self.refused()
        })
    }

    /// How many values are refused by now, for [`Self::sound_since`].
    pub(crate) fn mark(&self) -> Mark {
        Mark(self.refusals)
    }

    /// Refused if any value was since.
    pub(crate) fn sound_since(&self, mark: Mark) -> Read<()> {
        if self.refusals == mark.0 { Ok(()) } else { Err(Refused(())) }
    }

    /// Every item of a list, or of none where there is no list.
    pub(crate) fn list<T, U>(
        &mut self,
        items: Option<&[T]>,
        at: &At,
        mut read: impl FnMut(&mut Self, &T, &At) -> Read<U>,
    ) -> Read<Vec<U>> {
        // All of them first, so that each is told what is wrong with it.
        let items = items.unwrap_or_default().iter().enumerate();
        let all: Vec<Read<U>> =
            items.map(|(i, item)| self.list_item(item, &at.item(i), &mut read)).collect();
        all.into_iter().collect()
    }

    fn list_item<T, U>(
        &mut self,
        item: &T,
        at: &At,
        read: impl FnOnce(&mut Self, &T, &At) -> Read<U>,
    ) -> Read<U> {
        self.stands(at)?;
        read(self, item, at)
    }

    /// The bytes of the file that `name` at `at` names, and what messages call it.
    pub(crate) fn file(&mut self, name: &Name, at: &At) -> Read<(Vec<u8>, String)> {
        self.stands(at)?;
        let beside = &self.map.source().name;
        match self.files.read(beside, &name.0) {
            Ok(bytes) => Ok((bytes, self.files.full_name(beside, &name.0))),
            Err(problem) => Err(self.refuse(at, problem.code, problem.message, problem.help)),
        }
    }

    /// What hands out the files that this one names.
    pub(crate) fn files(&self) -> &'a dyn FileReader {
        self.files
    }

    /// The name of a part or a job as files bear it.
    pub(crate) fn file_name(&mut self, name: &Name, at: &At, what: &str) -> String {
        let file_name = file_name(&name.0);
        if file_name.is_empty() {
            let message = "this name has no letter or digit in it";
            self.refuse(at, Code::OutOfRange, message, format!("{what} named after it"));
        }
        if name.0.chars().count() > LONGEST_NAME {
            let message = format!("this name is longer than {LONGEST_NAME} letters");
            self.refuse(
                at,
                Code::OutOfRange,
                message,
                format!("give a shorter one: {what} named after it"),
            );
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
        self.map.value(&at.path)
    }

    /// Reads the file's `units`.
    pub(crate) fn read_units(&mut self, units: Option<&Name>) {
        let at = At::default().key("units");
        if let Some(name) = units {
            match name.0.as_str() {
                "mm" => self.unit = Some(LengthUnit::Millimetre),
                "in" => self.unit = Some(LengthUnit::Inch),
                other => {
                    // Bare lengths are read as mm from here on, so that this stays one error and
                    // not twenty.
                    self.unit = Some(LengthUnit::Millimetre);
                    self.refuse(
                        &at,
                        Code::UnknownName,
                        format!("`{other}` is not a unit for a whole file"),
                        "write `units: mm` or `units: in`",
                    );
                }
            }
        }
    }

    /// The unit of bare lengths, if the file names one.
    pub(crate) fn unit(&self) -> Option<LengthUnit> {
        self.unit
    }

    /// The unit that reports speak first.
    pub(crate) fn shown_unit(&self) -> LengthUnit {
        self.unit.unwrap_or_default()
    }

    /// Refused if the file's unit was mended away, so that nobody knows what bare lengths are.
    pub(crate) fn units_stand(&mut self) -> Read<()> {
        self.stands(&At::default().key("units"))
    }

    fn unreadable(&mut self, at: &At, error: Unreadable) -> Refused {
        if error.no_unit {
            if let Err(refused) = self.units_stand() {
                return refused;
            }
            // From here on bare lengths are read as mm, so that this stays one error and not one
            // for every length.
            self.unit = Some(LengthUnit::Millimetre);
        }
        self.refuse(at, Code::Quantity, error.message, error.help)
    }

    /// A length within the range that is asked of it.
    pub(crate) fn length(
        &mut self,
        quantity: &Quantity,
        at: &At,
        allowed: Allowed,
    ) -> Read<Length> {
        self.stands(at)?;
        match read_length(quantity, self.unit) {
            Ok(Size::Length(length)) => self.in_range(length, quantity, at, allowed),
            Ok(Size::Gauge(_)) => Err(self.refuse(
                at,
                Code::Quantity,
                "a gauge is a thickness, not a length",
                "give this length in mm or in",
            )),
            Err(error) => Err(self.unreadable(at, error)),
        }
    }

    fn in_range(
        &mut self,
        length: Length,
        quantity: &Quantity,
        at: &At,
        allowed: Allowed,
    ) -> Read<Length> {
        let mm = length.mm();
        let range =
            format!("lengths run from {LEAST_LENGTH_MM} mm to {} m", LARGEST_LENGTH_MM / 1000.0);
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
            return Err(self.refuse(at, Code::OutOfRange, message, range));
        }
        if mm.abs() > LARGEST_LENGTH_MM {
            return Err(self.refuse(
                at,
                Code::OutOfRange,
                format!("`{quantity}` is too large to make"),
                range,
            ));
        }
        Ok(length)
    }

    /// A length that may be left out.
    pub(crate) fn length_or(
        &mut self,
        quantity: Option<&Quantity>,
        at: &At,
        allowed: Allowed,
        default: Length,
    ) -> Read<Length> {
        match quantity {
            Some(quantity) => self.length(quantity, at, allowed),
            None => self.stands(at).map(|()| default),
        }
    }

    /// A sheet's thickness, which may be a gauge of `family`.
    pub(crate) fn thickness(
        &mut self,
        quantity: &Quantity,
        at: &At,
        family: Option<GaugeFamily>,
    ) -> Read<Length> {
        self.stands(at)?;
        let length = match read_length(quantity, self.unit) {
            Ok(Size::Length(length)) => length,
            Ok(Size::Gauge(number)) => {
                let Some(family) = family else {
                    let help = "give the thickness in mm or in";
                    return Err(self.refuse(
                        at,
                        Code::UnknownName,
                        "no thickness is known for a gauge here",
                        help,
                    ));
                };
                match gauge(family, number) {
                    Ok(gauge) => {
                        let shown = self.shown_unit().show(gauge.thickness);
                        self.assume(
                            "thickness",
                            shown,
                            format!("{number} gauge of the {family} series"),
                        );
                        gauge.thickness
                    }
                    Err(error) => {
                        let help = "give a gauge of that series, or the thickness in mm or in";
                        return Err(self.refuse(at, Code::UnknownName, error.to_string(), help));
                    }
                }
            }
            Err(error) => return Err(self.unreadable(at, error)),
        };
        let (least, most) = THICKNESS_RANGE_MM;
        if (least..=most).contains(&length.mm()) {
            return Ok(length);
        }
        let message = format!("a thickness of `{quantity}` is not sheet");
        Err(self.refuse(
            at,
            Code::OutOfRange,
            message,
            format!("thicknesses run from {least} to {most} mm"),
        ))
    }

    /// An angle that may be left out.
    pub(crate) fn angle_or(
        &mut self,
        quantity: Option<&Quantity>,
        at: &At,
        (least, most): (f64, f64),
        default: Angle,
    ) -> Read<Angle> {
        match quantity {
            Some(quantity) => self.angle(quantity, at, least, most),
            None => self.stands(at).map(|()| default),
        }
    }

    /// An angle with its size in degrees between the two.
    pub(crate) fn angle(
        &mut self,
        quantity: &Quantity,
        at: &At,
        least: f64,
        most: f64,
    ) -> Read<Angle> {
        self.stands(at)?;
        match read_angle(quantity) {
            Ok(angle) if (least..=most).contains(&angle.degrees()) => Ok(angle),
            Ok(_) => {
                let message = format!("an angle of `{quantity}` cannot stand here");
                Err(self.refuse(
                    at,
                    Code::OutOfRange,
                    message,
                    format!("give {least} to {most} degrees"),
                ))
            }
            Err(error) => Err(self.unreadable(at, error)),
        }
    }

    /// A number with a unit of its own, zero or more.
    pub(crate) fn with_units(
        &mut self,
        quantity: &Quantity,
        at: &At,
        what: &str,
        units: &[(&str, f64)],
    ) -> Read<f64> {
        self.stands(at)?;
        match read_with_units(quantity, what, units) {
            Ok(value) if value >= 0.0 => Ok(value),
            Ok(_) => Err(self.refuse(
                at,
                Code::OutOfRange,
                format!("`{quantity}` is negative"),
                "give zero or more",
            )),
            Err(error) => Err(self.unreadable(at, error)),
        }
    }

    /// A point.
    pub(crate) fn point(&mut self, [x, y]: &PointText, at: &At) -> Read<Point> {
        let x = self.length(x, &at.item(0), Allowed::Any);
        let y = self.length(y, &at.item(1), Allowed::Any);
        Ok(Point::new(x?.mm(), y?.mm()))
    }

    /// One of the words that may stand at `at`.
    pub(crate) fn word<T: Copy>(&mut self, word: &str, at: &At, known: &[(&str, T)]) -> Read<T> {
        self.stands(at)?;
        match known.iter().find(|(name, _)| *name == word) {
            Some((_, value)) => Ok(*value),
            None => {
                let names: Vec<&str> = known.iter().map(|(name, _)| *name).collect();
                Err(self.refuse(
                    at,
                    Code::UnknownName,
                    format!("`{word}` is not known here"),
                    suggestion(word, &names),
                ))
            }
        }
    }

    /// One of the words that may stand at `at`, or the default where none does.
    pub(crate) fn word_or<T: Copy>(
        &mut self,
        word: Option<&Name>,
        at: &At,
        known: &[(&str, T)],
        default: T,
    ) -> Read<T> {
        match word {
            Some(word) => self.word(&word.0, at, known),
            None => self.stands(at).map(|()| default),
        }
    }

    /// A fraction between the two, such as a strain limit.
    pub(crate) fn fraction(&mut self, value: f64, at: &At, least: f64, most: f64) -> Read<f64> {
        self.stands(at)?;
        if (least..=most).contains(&value) {
            return Ok(value);
        }
        Err(self.refuse(
            at,
            Code::OutOfRange,
            format!("{value} cannot stand here"),
            format!("give {least} to {most}"),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::At;

    #[test]
    fn paths_lie_within_each_other_by_whole_steps() {
        let list = At::default().key("plate").key("openings");
        let item = list.item(1);
        assert!(item.key("lip").is_within(&item) && item.is_within(&list) && item.is_within(&item));
        assert!(!list.is_within(&item) && !list.item(10).is_within(&item));
        assert!(!At::default().key("plates").is_within(&At::default().key("plate")));
        assert!(list.item(0).is_beside(&item) && !item.key("lip").is_beside(&item));
        // A key may hold the marks that paths are written with.
        assert!(At::default().key("0.5").is_beside(&At::default().key("part")));
    }
}
