//! What a person or a program reads: results on standard output, messages and progress on standard
//! error.

use std::io::{self, IsTerminal, Write};
use std::time::{Duration, Instant};

use super::excerpt::excerpt;
use indicatif::{ProgressBar, ProgressStyle};
use serde::Serialize;

use super::arguments::Common;
use super::files::reason;
use super::interrupt;
use crate::nest::{Progress, Watch};
use crate::problem::{Checked, Code, Place, Problem};
use crate::tolerance::MOST_ERRORS;
use crate::units::counted;

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Done {
    /// All is made and in order.
    Well,
    /// Something breaks a limit or does not fit; the rest is made.
    Short,
}

/// Where results and messages go.
#[derive(Debug)]
pub(super) struct Output {
    pub(super) json: bool,
    quiet: bool,
    colour: bool,
}

#[derive(Serialize)]
struct Errors<'a> {
    errors: Vec<ErrorLine<'a>>,
}

#[derive(Serialize)]
struct ErrorLine<'a> {
    code: &'a str,
    file: &'a str,
    line: usize,
    column: usize,
    message: &'a str,
    help: &'a str,
}

impl Output {
    pub(super) fn new(common: &Common) -> Self {
        let no_colour = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        Self {
            json: common.json,
            quiet: common.quiet,
            colour: io::stderr().is_terminal() && !no_colour,
        }
    }

    /// Results, as JSON or as the words that `text` makes.
    pub(super) fn results<T: Serialize>(
        &self,
        results: &T,
        text: impl FnOnce() -> String,
    ) -> Checked<()> {
        if self.json {
            Self::text(&(serde_json::to_string_pretty(results).unwrap_or_default() + "\n"))
        } else if self.quiet {
            Ok(())
        } else {
            Self::text(&text())
        }
    }

    /// Text on standard output, whatever the options say: what the command exists to give.
    pub(super) fn text(text: &str) -> Checked<()> {
        let mut out = io::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            // A reader that has gone away has read what it wanted.
            Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
                let message =
                    format!("the results cannot be written to standard output: {}", reason(&error));
                Err(vec![Problem::new(
                    Code::File,
                    message,
                    "free some space, or send them elsewhere",
                )])
            }
            _ => Ok(()),
        }
    }

    /// A line on standard error.
    pub(super) fn message(&self, line: &str) {
        if !self.quiet && !self.json {
            let _ = writeln!(io::stderr().lock(), "{line}");
        }
    }

    /// What kept the command from doing anything.
    pub(super) fn problems(&self, problems: &[Problem]) {
        let mut err = io::stderr().lock();
        if self.json {
            let errors = problems
                .iter()
                .map(|problem| {
                    let (line, column) =
                        problem.place.as_ref().map_or((0, 0), Place::line_and_column);
                    let file =
                        problem.place.as_ref().map_or("", |place| place.source.name.as_str());
                    ErrorLine {
                        code: problem.code.text(),
                        file,
                        line,
                        column,
                        message: &problem.message,
                        help: &problem.help,
                    }
                })
                .collect();
            let _ =
                writeln!(err, "{}", serde_json::to_string(&Errors { errors }).unwrap_or_default());
            return;
        }
        for problem in problems.iter().take(MOST_ERRORS) {
            let _ = write!(err, "{}", excerpt(problem, self.colour));
        }
        if problems.len() > MOST_ERRORS {
            let _ = writeln!(err, "… and {} more", problems.len() - MOST_ERRORS);
        }
    }

    /// The watch over a nest: a bar on a terminal, and the end of the time.
    pub(super) fn nest_watch(&self, seconds: f64) -> NestWatch {
        let bar = if self.quiet || self.json || !io::stderr().is_terminal() {
            ProgressBar::hidden()
        } else {
            let bar = ProgressBar::new(1000);
            let style = ProgressStyle::with_template("nesting [{bar:30}] {msg}")
                .unwrap_or_else(|_| ProgressStyle::default_bar());
            bar.set_style(style.progress_chars("=> "));
            bar
        };
        interrupt::nest_begins();
        let limit = Duration::from_secs_f64(seconds.max(0.05));
        NestWatch { start: Instant::now(), limit, end: Instant::now() + limit, bar }
    }
}

/// See [`Output::nest_watch`].
pub(super) struct NestWatch {
    start: Instant,
    limit: Duration,
    /// When the time for all nests is over.
    end: Instant,
    bar: ProgressBar,
}

impl Watch for NestWatch {
    fn keep_going(&mut self, progress: &Progress) -> bool {
        if !self.bar.is_hidden() {
            let share = self.start.elapsed().as_secs_f64() / self.limit.as_secs_f64();
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "0 to 1000"
            )]
            self.bar.set_position((share.clamp(0.0, 1.0) * 1000.0) as u64);
            let left = if progress.unplaced > 0 {
                format!(", {} not placed yet", progress.unplaced)
            } else {
                String::new()
            };
            let stock = match progress.roll_length {
                Some(length) if progress.sheets == 0 => format!("{length:.0} mm off the roll"),
                _ => counted(progress.sheets, "sheet"),
            };
            self.bar.set_message(format!(
                "{}: {stock}, {:.1} % used{left}",
                progress.doing,
                progress.best_yield * 100.0
            ));
        }
        self.start.elapsed() < self.limit && !interrupt::asked()
    }

    fn break_off(&mut self) -> bool {
        interrupt::asked()
    }

    fn begin(&mut self, share: f64) {
        self.start = Instant::now();
        let left = self.end.saturating_duration_since(self.start);
        self.limit = left.mul_f64(share.clamp(0.0, 1.0)).max(Duration::from_millis(50));
    }

    fn spent(&self) -> Option<f64> {
        Some((self.start.elapsed().as_secs_f64() / self.limit.as_secs_f64()).min(1.0))
    }
}

impl Drop for NestWatch {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
        interrupt::nest_ends();
    }
}
