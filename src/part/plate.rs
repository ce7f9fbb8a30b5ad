//! Plates: cut and left flat.

use super::{Opening, Outline, Tabs};

/// A part that is cut and left flat.
#[derive(Debug, Clone)]
pub struct Plate {
    /// Its outline.
    pub profile: Outline,
    /// The openings in it.
    pub openings: Vec<Opening>,
    /// The tabs on its edges, which are in the outline already.
    pub tabs: Vec<Tabs>,
}

impl Plate {
    /// The kind's name in descriptions and results.
    pub const NAME: &'static str = "plate";
}
