//! Measured test strips: what a bend on this shop's own brake really took.

use crate::units::{Angle, Length};

/// One test strip, measured flat and again when bent once.
#[derive(Debug, Clone, PartialEq)]
pub struct Strip {
    /// The material's name.
    pub material: String,
    /// Measured thickness.
    pub thickness: Length,
    /// Inside radius of the bend as it came out.
    pub inside_radius: Length,
    /// The angle the metal was turned through.
    pub bend_angle: Angle,
    /// Length of the strip before the bend.
    pub flat_length: Length,
    /// Both legs after the bend, each from its free end to the outside mould line.
    pub legs: [Length; 2],
    /// The tooling it was bent with, in the shop's own words.
    pub tool: String,
}
