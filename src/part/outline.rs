//! Closed outlines with named edges.

use crate::geom::{Loop, Segment};

/// A closed outline, counter-clockwise, with the names of its edges.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outline {
    /// Its sides; each side's edge is an index into `edge_names`.
    pub sides: Loop,
    /// The names of its edges.
    pub edge_names: Vec<String>,
    /// The line along its middle, for a centreline outline.
    pub centreline: Option<Vec<Segment>>,
}
