//! The command line: arguments, files, terminal, clock. The only place that does any of these.

mod arguments;
mod excerpt;
mod files;
mod interrupt;
mod job;
mod output;
mod parts;
mod starters;
mod strip;

use std::process::ExitCode;

use clap::{CommandFactory, Parser};

use arguments::{Arguments, Command, Common};
use output::{Done, Output};

pub use excerpt::excerpt;

use crate::problem::{Code, Problem};

/// Runs the command that the arguments ask for.
#[must_use]
pub fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version are answers, not errors.
            let status = u8::try_from(error.exit_code()).unwrap_or(2);
            if error.use_stderr() && std::env::args_os().any(|argument| argument == "--json") {
                let common = Common { json: true, ..Common::default() };
                Output::new(&common).problems(&[command_line_problem(&error)]);
            } else {
                let _ = error.print();
            }
            return ExitCode::from(status);
        }
    };
    let output = Output::new(arguments.command.common());
    let done = match &arguments.command {
        Command::Make(job) => job::make(job, &output),
        Command::Nest(job) => job::nest_alone(job, &output),
        Command::Flat(parts) => parts::flat(parts, &output),
        Command::Buck(parts) => parts::buck(parts, &output),
        Command::Check(files) => parts::check(files, &output),
        Command::Strip(strip) => strip::strip(strip, &output),
        Command::New { kind, .. } => starters::new(*kind, &output),
        Command::Schema { of, .. } => starters::schema(*of, &output),
        Command::Completions { shell, .. } => {
            let mut script = Vec::new();
            clap_complete::generate(*shell, &mut Arguments::command(), "planish", &mut script);
            Output::text(&String::from_utf8_lossy(&script)).map(|()| Done::Well)
        }
    };
    match done {
        Ok(Done::Well) => ExitCode::SUCCESS,
        Ok(Done::Short) => ExitCode::from(1),
        Err(problems) => {
            output.problems(&problems);
            ExitCode::from(2)
        }
    }
}

/// What is wrong with the command line, for a program to read: the first line says what, the rest
/// what would be right.
fn command_line_problem(error: &clap::Error) -> Problem {
    let text = error.to_string();
    let mut paragraphs =
        text.split("\n\n").map(|part| part.split_whitespace().collect::<Vec<_>>().join(" "));
    let message = paragraphs.next().unwrap_or_default();
    let help: Vec<String> = paragraphs.filter(|part| !part.is_empty()).collect();
    Problem::new(Code::Choice, message.strip_prefix("error: ").unwrap_or(&message), help.join("; "))
}
