//! What can be wrong, where, and what would be right: one type for input errors and for findings about a part.

use std::ops::Range;
use std::sync::Arc;

use miette::{GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteDiagnostic, NamedSource, Severity};

/// The kinds of problem; each has a stable text form, [`Code::text`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Code {
    /// The file could not be read at all: missing, a directory, too large, not UTF-8.
    File,
    /// The text is not YAML.
    Syntax,
    /// A key that no part of the description knows.
    UnknownKey,
    /// A key that is needed and not there.
    MissingKey,
    /// The same key twice in one place.
    DuplicateKey,
    /// A value of the wrong kind, such as a list where a length belongs.
    WrongType,
    /// A length, angle, time or force that cannot be read.
    Quantity,
    /// A value outside what can be made or measured.
    OutOfRange,
    /// A name that nothing bears: a material, an edge, a gauge.
    UnknownName,
    /// Keys that exclude each other, or none of several of which one is needed.
    Choice,
    /// An outline that is open, crosses itself, or encloses nothing.
    Outline,
    /// A corner, a leg or a waist with no room for the radius or bend that is asked of it.
    NoRoom,
    /// An opening that leaves its face.
    OpeningOutside,
    /// Two things under one name.
    DuplicateName,
    /// Something the contract knows that this version does not make.
    NotMadeYet,
    /// A bend tighter than the metal takes.
    MinimumRadius,
    /// A leg too short for the brake.
    ShortLeg,
    /// An opening too near a bend.
    OpeningNearBend,
    /// An opening too small to cut well.
    SmallOpening,
    /// An edge that stretches more than the metal should.
    EdgeStretch,
    /// An edge that shrinks more than a hammer should.
    EdgeShrink,
    /// A wall that the metal cannot follow at all.
    WallCannotFollow,
    /// A walled corner left sharp.
    SharpCorner,
    /// A form block that the formed shell cannot be lifted off.
    TrappedBuck,
    /// Parts that found no place on the sheets.
    DoesNotFit,
    /// A blank larger than the brake or the sheet.
    TooLarge,
}

impl Code {
    /// The stable text form.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::File => "file",
            Self::Syntax => "syntax",
            Self::UnknownKey => "unknown-key",
            Self::MissingKey => "missing-key",
            Self::DuplicateKey => "duplicate-key",
            Self::WrongType => "wrong-type",
            Self::Quantity => "quantity",
            Self::OutOfRange => "out-of-range",
            Self::UnknownName => "unknown-name",
            Self::Choice => "choice",
            Self::Outline => "outline",
            Self::NoRoom => "no-room",
            Self::OpeningOutside => "opening-outside",
            Self::DuplicateName => "duplicate-name",
            Self::NotMadeYet => "not-made-yet",
            Self::MinimumRadius => "minimum-radius",
            Self::ShortLeg => "short-leg",
            Self::OpeningNearBend => "opening-near-bend",
            Self::SmallOpening => "small-opening",
            Self::EdgeStretch => "edge-stretch",
            Self::EdgeShrink => "edge-shrink",
            Self::WallCannotFollow => "wall-cannot-follow",
            Self::SharpCorner => "sharp-corner",
            Self::TrappedBuck => "trapped-buck",
            Self::DoesNotFit => "does-not-fit",
            Self::TooLarge => "too-large",
        }
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
        let before = &self.source.text[..self.span.start.min(self.source.text.len())];
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

    /// The problem for a terminal: the message, the line it stands in, the help.
    #[must_use]
    pub fn report(&self, colour: bool) -> String {
        let mut diagnostic = MietteDiagnostic::new(&self.message).with_severity(Severity::Error);
        if !self.help.is_empty() {
            diagnostic = diagnostic.with_help(&self.help);
        }
        let theme = if colour { GraphicalTheme::unicode() } else { GraphicalTheme::unicode_nocolor() };
        let handler = GraphicalReportHandler::new_themed(theme).with_width(110).without_cause_chain();
        let mut text = String::new();
        let rendered = match &self.place {
            Some(place) => {
                diagnostic = diagnostic.with_label(LabeledSpan::new_with_span(Some("here".to_owned()), place.span.clone()));
                let source = NamedSource::new(&place.source.name, place.source.text.clone());
                handler.render_report(&mut text, miette::Report::new(diagnostic).with_source_code(source).as_ref())
            }
            None => handler.render_report(&mut text, &diagnostic),
        };
        if rendered.is_err() {
            text.clone_from(&self.message);
        }
        text
    }
}

/// A result with every problem found, not just the first.
pub type Checked<T> = Result<T, Vec<Problem>>;
