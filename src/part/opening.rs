//! Openings in a face, with the flanges around them.

use super::ReceivedTab;
use crate::geom::{Affine, Loop};
use crate::problem::Place;
use crate::units::{Angle, Length};

/// An opening in a face.
#[derive(Debug, Clone)]
pub struct Opening {
    /// Its outline; with a lip, the clear opening at the lip's free edge.
    pub outline: Loop,
    /// Its flange, if it has one.
    pub lip: Option<Lip>,
    /// The tab that it receives, if it is a slot for one.
    pub tab: Option<ReceivedTab>,
    /// Where it stands in the description.
    pub place: Place,
}

impl Opening {
    /// The opening moved, turned or mirrored; `motion` must keep lengths.
    #[must_use]
    pub fn moved(&self, motion: Affine) -> Self {
        Self { outline: self.outline.moved(motion), ..self.clone() }
    }
}

/// A flange around an opening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lip {
    /// From the face's far side to the free edge, square to the face.
    pub height: Length,
    /// Inside radius between face and lip.
    pub inside_radius: Length,
    /// The angle turned through.
    pub bend_angle: Angle,
    /// Whether it turns to the outer side, toward the viewer of the blank.
    pub outward: bool,
}
