//! Closed outlines with named edges.

use crate::geom::{Chain, Loop};

/// A closed outline, counter-clockwise, with the names of its edges.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outline {
    /// Its sides; each side's edge is an index into `edge_names`.
    pub sides: Loop,
    /// The names of its edges.
    pub edge_names: Vec<String>,
    /// The line along its middle, for a centreline outline.
    pub centreline: Option<Chain>,
}

impl Outline {
    /// Where it begins and ends along its centreline, or else along x, mm.
    #[must_use]
    pub fn run(&self) -> (f64, f64) {
        match &self.centreline {
            Some(line) => (0.0, line.length()),
            None => {
                let bounds = self.sides.bounds();
                (bounds.x0, bounds.x1)
            }
        }
    }
}
