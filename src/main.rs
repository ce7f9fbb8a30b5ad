//! The `planish` command.

fn main() {}
