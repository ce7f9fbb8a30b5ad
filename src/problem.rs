//! What can be wrong with the input, where, and what would be right. What a check says of a part is
//! a [`crate::finding::Finding`].

use std::ops::Range;
use std::sync::Arc;

/// Declares the kinds of problem, each with its stable text form, so that the list of all of them
/// can lack none.
macro_rules! codes {
    ($($(#[$doc:meta])+ $name:ident = $text:literal,)+) => {
        /// The kinds of problem; each has a stable text form, [`Code::text`].
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $($(#[$doc])+ $name,)+
        }

        impl Code {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$name),+];

            /// The stable text form.
            #[must_use]
            pub const fn text(self) -> &'static str {
                match self {
                    $(Self::$name => $text,)+
                }
            }
        }
    };
}

codes! {
    /// The file could not be read at all: missing, a directory, too large, not UTF-8.
    File = "file",
    /// The text is not YAML.
    Syntax = "syntax",
    /// A key that no part of the description knows.
    UnknownKey = "unknown-key",
    /// A key that is needed and not there.
    MissingKey = "missing-key",
    /// The same key twice in one place.
    DuplicateKey = "duplicate-key",
    /// A value of the wrong kind, such as a list where a length belongs.
    WrongType = "wrong-type",
    /// A length, angle, time or force that cannot be read.
    Quantity = "quantity",
    /// A value outside what can be made or measured.
    OutOfRange = "out-of-range",
    /// A name that nothing bears: a material, an edge, a gauge.
    UnknownName = "unknown-name",
    /// Keys that exclude each other, or none of several of which one is needed.
    Choice = "choice",
    /// An outline that is open, crosses itself, or encloses nothing.
    Outline = "outline",
    /// A corner, a leg or a waist with no room for the radius or bend that is asked of it.
    NoRoom = "no-room",
    /// An opening that leaves its face.
    OpeningOutside = "opening-outside",
    /// Two things under one name.
    DuplicateName = "duplicate-name",
    /// A wall that the metal cannot follow at all.
    WallCannotFollow = "wall-cannot-follow",
    /// Walls whose forming finds no balance of forces.
    NoBalance = "no-balance",
    /// A half-shell for whose walls no blank is found; its buck is.
    NoBlank = "no-blank",
    /// Figures that contradict each other, so that they are not told.
    Contradiction = "contradiction",
    /// Parts that found no place on the sheets.
    DoesNotFit = "does-not-fit",
}

impl Code {
    /// Whether it is about the description itself; the others are about the metal, and found when
    /// the part is made.
    #[must_use]
    pub const fn is_of_input(self) -> bool {
        !matches!(
            self,
            Self::WallCannotFollow
                | Self::NoBalance
                | Self::NoBlank
                | Self::Contradiction
                | Self::DoesNotFit
        )
    }
}

/// A file's name and text, shared by every place in it.
#[derive(Debug, PartialEq, Eq)]
pub struct SourceText {
    /// The name as the user gave it.
    pub name: String,
    /// The whole text.
    pub text: String,
}

/// A place in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The file.
    pub source: Arc<SourceText>,
    /// The bytes meant.
    pub span: Range<usize>,
}

impl Place {
    /// Line and column, both from 1, the column in characters.
    #[must_use]
    pub fn line_and_column(&self) -> (usize, usize) {
        let before = &self.source.text[..char_start(&self.source.text, self.span.start)];
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
    }

    /// `file:line`, as findings name it.
    #[must_use]
    pub fn short(&self) -> String {
        format!("{}:{}", self.source.name, self.line_and_column().0)
    }
}

/// Something wrong, where, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Which kind.
    pub code: Code,
    /// Where; none for the command line and for files that could not be read.
    pub place: Option<Place>,
    /// What is wrong, in a builder's words.
    pub message: String,
    /// What would be right; may be empty.
    pub help: String,
}

impl Problem {
    /// A problem with no place in a file.
    #[must_use]
    pub fn new(code: Code, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self { code, place: None, message: message.into(), help: help.into() }
    }

    /// The same problem at `place`.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.place = Some(place);
        self
    }
}

/// Where the character begins that byte `at` is of.
pub(crate) fn char_start(text: &str, at: usize) -> usize {
    (0..=at.min(text.len())).rev().find(|&i| text.is_char_boundary(i)).unwrap_or(0)
}

/// A result with every problem found, not just the first.
pub type Checked<T> = Result<T, Vec<Problem>>;
