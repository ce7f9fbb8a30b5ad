//! Bent parts: legs and the bends between them.

use super::{JoggleBend, Opening};
use crate::problem::Place;
use crate::units::{Angle, Length};

/// What the legs of a section measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LegDims {
    /// To the outside mould lines.
    Outside,
    /// To the inside mould lines.
    Inside,
    /// Between tangent lines.
    Flat,
    /// To the outside mould line up to 90 degrees, past that to the outer tangent (DIN 6935).
    Edge,
}

/// A part bent from one section: legs and the bends between them.
#[derive(Debug, Clone)]
pub struct Bent {
    /// What the legs measure.
    pub dims: LegDims,
    /// The legs, one more than the bends.
    pub legs: Vec<Leg>,
    /// The bends.
    pub bends: Vec<Bend>,
    /// Length of the bends.
    pub depth: Length,
    /// Ends cut to lie against tubes.
    pub copes: Vec<Cope>,
}

impl Bent {
    /// The kind's name in descriptions and results.
    pub const NAME: &'static str = "bent";
}

/// An end of a bent part cut to lie against a round tube.
#[derive(Debug, Clone)]
pub struct Cope {
    /// Whether it is the end at the full depth, not that at 0.
    pub is_far: bool,
    /// The tube's outside diameter.
    pub diameter: Length,
    /// A point of its axis: x along the first leg from its free end, y along the depth, z up from
    /// the first leg's lower face.
    pub through: [Length; 3],
    /// The direction of its axis, of any length but 0.
    pub along: [f64; 3],
    /// How far the metal stays from the tube.
    pub clearance: Length,
    /// Where it stands in the description.
    pub place: Place,
}

/// A leg of a section.
#[derive(Debug, Clone)]
pub struct Leg {
    /// Its length as the dims say.
    pub length: Length,
    /// Its openings, in its own coordinates.
    pub openings: Vec<Opening>,
    /// Where it stands in the description.
    pub place: Place,
}

/// A bend of a section.
#[derive(Debug, Clone)]
pub struct Bend {
    /// The angle turned through, positive toward the upper face.
    pub angle: Angle,
    /// Its inside radius.
    pub inside_radius: Length,
    /// Whether it and the one after it (first) or before it (second) make a joggle.
    pub joggle: Option<JoggleBend>,
    /// Where it stands in the description.
    pub place: Place,
}
