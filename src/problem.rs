//! What can be wrong, where, and what would be right: one type for input errors and for findings about a part.

use std::ops::Range;
use std::sync::Arc;

use miette::{
    GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteDiagnostic, MietteError, MietteSpanContents, Severity, SourceCode,
    SourceSpan, SpanContents,
};

/// Declares the kinds of problem, each with its stable text form, so that the list of all of them can lack none.
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
    /// A bend tighter than the metal takes.
    MinimumRadius = "minimum-radius",
    /// A K-factor outside what bends are measured to have.
    UnusualK = "unusual-k",
    /// A leg too short for the brake.
    ShortLeg = "short-leg",
    /// A hem whose return is too short to fold.
    ShortHem = "short-hem",
    /// A hem folded shut in sheet that cracks.
    ClosedHem = "closed-hem",
    /// Two parts of a folded sheet in the same place.
    Collision = "collision",
    /// An opening too near a bend.
    OpeningNearBend = "opening-near-bend",
    /// An opening too small to cut well.
    SmallOpening = "small-opening",
    /// A slot too narrow for the torch to go round in.
    NarrowSlot = "narrow-slot",
    /// Tabs that stand out farther or less far than the sheet is thick that they go into.
    TabDepth = "tab-depth",
    /// Slots of a job whose tabs it does not make, or not often enough.
    TabsMissing = "tabs-missing",
    /// A joggle whose bends stand nearer to each other than the brake's tools take.
    JoggleBlock = "joggle-block",
    /// A die that makes another radius than the one the blank is developed for.
    AirBendRadius = "air-bend-radius",
    /// A bend that asks for more force than the brake has.
    BrakeForce = "brake-force",
    /// Sheet thicker than the brake is made for.
    BrakeThickness = "brake-thickness",
    /// A bend longer than the brake.
    BrakeLength = "brake-length",
    /// An angle, with what springs back, that the tools do not reach.
    BendAngle = "bend-angle",
    /// Bends of which none can be made last.
    BendOrder = "bend-order",
    /// A bend with no edge to rest against the gauge.
    NoGaugeEdge = "no-gauge-edge",
    /// An edge that stretches more than the metal should.
    EdgeStretch = "edge-stretch",
    /// An edge that shrinks more than a hammer should.
    EdgeShrink = "edge-shrink",
    /// Metal stretched farther than it forms, away from its edges.
    FormingLimit = "forming-limit",
    /// A wall that the metal cannot follow at all.
    WallCannotFollow = "wall-cannot-follow",
    /// Walls whose forming finds no balance of forces.
    NoBalance = "no-balance",
    /// A half-shell for whose walls no blank is found; its buck is.
    NoBlank = "no-blank",
    /// Figures that contradict each other, so that they are not told.
    Contradiction = "contradiction",
    /// A walled corner left sharp.
    SharpCorner = "sharp-corner",
    /// A form block that the formed shell cannot be lifted off.
    TrappedBuck = "trapped-buck",
    /// A cavity without a vent.
    SealedCavity = "sealed-cavity",
    /// Parts that found no place on the sheets.
    DoesNotFit = "does-not-fit",
    /// A blank larger than the brake or the sheet.
    TooLarge = "too-large",
    /// An edge that the torch is too wide to follow.
    NarrowerThanKerf = "narrower-than-kerf",
    /// An edge of which the torch is too wide to follow a stretch.
    KerfBridges = "kerf-bridges",
    /// A cut with no room for a lead-in.
    NoLeadIn = "no-lead-in",
    /// A cut that cannot but begin on an edge that is stretched in forming.
    StartOnStretchedEdge = "start-on-stretched-edge",
    /// A cut that runs along a neighbour's.
    CutsCoincide = "cuts-coincide",
}

impl Code {
    /// Whether it is about the description itself; the others are about the metal, and a part may be made in spite of them.
    #[must_use]
    pub const fn is_of_input(self) -> bool {
        (self as u8) <= (Self::DuplicateName as u8)
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

    /// The span that is underlined: within one line, and no longer than a terminal is wide.
    fn shown_span(place: &Place) -> Range<usize> {
        let text = &place.source.text;
        let start = char_start(text, place.span.start);
        let end = char_start(text, place.span.end).max(start);
        let end = text[start..end].find('\n').map_or(end, |i| start + i);
        start..char_start(text, end.min(start + LONGEST_LINE / 4)).max(start)
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
                diagnostic = diagnostic.with_label(LabeledSpan::new_with_span(None, Self::shown_span(place)));
                let report = miette::Report::new(diagnostic).with_source_code(Excerpt::new(place));
                handler.render_report(&mut text, report.as_ref())
            }
            None => handler.render_report(&mut text, &diagnostic),
        };
        if rendered.is_err() {
            text.clone_from(&self.message);
        }
        text.truncate(text.trim_end().len());
        text + "\n\n"
    }
}

/// What a report shows of a file: the line meant and its neighbours; of a line that no terminal holds, the stretch around the place.
#[derive(Debug)]
struct Excerpt {
    place: Place,
    /// The file's text, with `?` for what would steer the terminal.
    text: String,
}

/// A line longer than this is shown in part, bytes.
const LONGEST_LINE: usize = 200;

/// Where the character begins that byte `at` is of.
fn char_start(text: &str, at: usize) -> usize {
    (0..=at.min(text.len())).rev().find(|&i| text.is_char_boundary(i)).unwrap_or(0)
}

impl Excerpt {
    fn new(place: &Place) -> Self {
        // A stand-in as long as what it stands for, so that places stay.
        let shown = |c: char| match c {
            '\n' | '\t' => c,
            '\0'..='\u{1f}' | '\u{7f}' => '?',
            '\u{80}'..='\u{9f}' => '\u{bf}',
            c => c,
        };
        let text: String = place.source.text.chars().map(shown).collect();
        let start = char_start(&text, place.span.start);
        let end = char_start(&text, place.span.end).max(start);
        Self { place: Place { span: start..end, ..place.clone() }, text }
    }

    /// The bytes shown around the place, with so many lines before and after, and the line from 0 that they begin in.
    fn shown(&self, before: usize, after: usize) -> (Range<usize>, usize) {
        let text = self.text.as_str();
        let start = self.place.span.start.min(text.len());
        let line = self.place.line_and_column().0 - 1;
        let mut from = text[..start].rfind('\n').map_or(0, |i| i + 1);
        let mut to = text[start..].find('\n').map_or(text.len(), |i| start + i);
        if to - from > LONGEST_LINE {
            let around = start.saturating_sub(LONGEST_LINE / 3).max(from)..(start + LONGEST_LINE / 3).min(to);
            return (char_start(text, around.start)..char_start(text, around.end), line);
        }
        let mut first = line;
        for _ in 0..before.min(line) {
            let above = text[..from - 1].rfind('\n').map_or(0, |i| i + 1);
            if from - above > LONGEST_LINE {
                break;
            }
            (from, first) = (above, first - 1);
        }
        for _ in 0..after {
            match text.get(to + 1..).map(|rest| rest.find('\n').unwrap_or(rest.len())) {
                Some(length) if length <= LONGEST_LINE => to += 1 + length,
                _ => break,
            }
        }
        (from..to, first)
    }
}

impl SourceCode for Excerpt {
    fn read_span<'a>(
        &'a self,
        _: &SourceSpan,
        before: usize,
        after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let (line, column) = self.place.line_and_column();
        let (range, line, column) = if before + after == 0 {
            // The place alone, for the heading.
            let start = self.place.span.start.min(self.text.len());
            (start..start, line - 1, column - 1)
        } else {
            let (range, first) = self.shown(before, after);
            (range, first, 0)
        };
        let span = SourceSpan::from((range.start, range.len()));
        let lines = self.text[range.clone()].matches('\n').count() + 1;
        let data = &self.text.as_bytes()[range];
        let name = self.place.source.name.clone();
        Ok(Box::new(MietteSpanContents::new_named(name, data, span, line, column, lines)))
    }
}

/// A result with every problem found, not just the first.
pub type Checked<T> = Result<T, Vec<Problem>>;
