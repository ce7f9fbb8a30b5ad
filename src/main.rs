//! The `planish` command.

fn main() -> std::process::ExitCode {
    planish::cli::run()
}
