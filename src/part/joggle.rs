//! Joggles: two equal and opposite bends that set the metal off sideways.

/// Which bend of a joggle a bend is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JoggleBend {
    /// The first one walked.
    First,
    /// The second one.
    Second,
}
