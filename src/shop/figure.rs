//! A figure with the range its sources leave and the words that say where it comes from.

use serde::Deserialize;

/// One figure of a table: the value the program uses, the range the sources span, and the source.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure<Quantity> {
    /// The value used unless somebody gives a better one.
    pub value: Quantity,
    /// The least value that a source gives; equal to `value` where only one was found.
    pub low: Quantity,
    /// The greatest value that a source gives; equal to `value` where only one was found.
    pub high: Quantity,
    /// Where the figure comes from, in words.
    pub source: String,
}

impl<Quantity: Copy> Figure<Quantity> {
    /// A figure known from one source alone.
    #[must_use]
    pub fn single(value: Quantity, source: impl Into<String>) -> Self {
        Self { value, low: value, high: value, source: source.into() }
    }

    /// The same figure in another type, its range and source kept.
    pub(crate) fn map<Other>(self, convert: impl Fn(Quantity) -> Other) -> Figure<Other> {
        Figure {
            value: convert(self.value),
            low: convert(self.low),
            high: convert(self.high),
            source: self.source,
        }
    }
}

/// A figure as a table file writes it: a bare number in the table's unit, an optional range, a
/// source.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct WrittenFigure {
    value: f64,
    low: Option<f64>,
    high: Option<f64>,
    source: String,
}

impl WrittenFigure {
    /// The figure with its range filled in.
    pub(crate) fn read(self) -> Figure<f64> {
        Figure {
            value: self.value,
            low: self.low.unwrap_or(self.value),
            high: self.high.unwrap_or(self.value),
            source: self.source,
        }
    }
}
