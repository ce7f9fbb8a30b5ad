//! The command line: arguments, files, terminal, clock. The only place that does any of these.

mod arguments;
mod files;
mod job;
mod output;
mod parts;
mod starters;
mod strip;

use std::process::ExitCode;

use clap::{CommandFactory, Parser};

use arguments::{Arguments, Command};
use output::{Done, Output};

/// Runs the command that the arguments ask for.
#[must_use]
pub fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version are answers, not errors.
            let status = u8::try_from(error.exit_code()).unwrap_or(2);
            let _ = error.print();
            return ExitCode::from(status);
        }
    };
    let common = arguments.command.common().cloned().unwrap_or_default();
    let output = Output::new(&common);
    let done = match &arguments.command {
        Command::Make(job) => job::make(job, &output),
        Command::Nest(job) => job::nest_alone(job, &output),
        Command::Flat(parts) => parts::flat(parts, &output),
        Command::Buck(parts) => parts::buck(parts, &output),
        Command::Check(files) => parts::check(files, &output),
        Command::Strip(strip) => strip::strip(strip, &output),
        Command::New { kind, .. } => starters::new(*kind, &output),
        Command::Schema { of, .. } => starters::schema(*of, &output),
        Command::Completions { shell } => {
            clap_complete::generate(*shell, &mut Arguments::command(), "planish", &mut std::io::stdout());
            Ok(Done::Well)
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
