//! A problem as the terminal shows it: the message, the line it stands in, the help.

use std::ops::Range;

use miette::{
    GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteDiagnostic, MietteError,
    MietteSpanContents, Severity, SourceCode, SourceSpan, SpanContents,
};

use crate::problem::{Place, Problem, char_start};

/// What a report shows of a file: the line meant and its neighbours; of a line that no terminal
/// holds, the stretch around the place.
#[derive(Debug)]
struct Excerpt {
    place: Place,
    /// The file's text, with `?` for what would steer the terminal.
    text: String,
}

/// A line longer than this is shown in part, bytes.
const LONGEST_LINE: usize = 200;

/// The problem for a terminal: the message, the line it stands in, the help.
#[must_use]
pub fn excerpt(problem: &Problem, colour: bool) -> String {
    let mut diagnostic = MietteDiagnostic::new(&problem.message).with_severity(Severity::Error);
    if !problem.help.is_empty() {
        diagnostic = diagnostic.with_help(&problem.help);
    }
    let theme = if colour { GraphicalTheme::unicode() } else { GraphicalTheme::unicode_nocolor() };
    let handler = GraphicalReportHandler::new_themed(theme).with_width(110).without_cause_chain();
    let mut text = String::new();
    let rendered = match &problem.place {
        Some(place) => {
            diagnostic = diagnostic.with_label(LabeledSpan::new_with_span(None, shown_span(place)));
            let report = miette::Report::new(diagnostic).with_source_code(Excerpt::new(place));
            handler.render_report(&mut text, report.as_ref())
        }
        None => handler.render_report(&mut text, &diagnostic),
    };
    if rendered.is_err() {
        text.clone_from(&problem.message);
    }
    text.truncate(text.trim_end().len());
    text + "\n\n"
}

/// The span that is underlined: within one line, and no longer than a terminal is wide.
fn shown_span(place: &Place) -> Range<usize> {
    let text = &place.source.text;
    let start = char_start(text, place.span.start);
    let end = char_start(text, place.span.end).max(start);
    let end = text[start..end].find('\n').map_or(end, |i| start + i);
    start..char_start(text, end.min(start + LONGEST_LINE / 4)).max(start)
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

    /// The bytes shown around the place, with so many lines before and after, and the line from 0
    /// that they begin in.
    fn shown(&self, before: usize, after: usize) -> (Range<usize>, usize) {
        let text = self.text.as_str();
        let start = self.place.span.start.min(text.len());
        let line = self.place.line_and_column().0 - 1;
        let mut from = text[..start].rfind('\n').map_or(0, |i| i + 1);
        let mut to = text[start..].find('\n').map_or(text.len(), |i| start + i);
        if to - from > LONGEST_LINE {
            let around = start.saturating_sub(LONGEST_LINE / 3).max(from)
                ..(start + LONGEST_LINE / 3).min(to);
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
