//! What this shop has and has measured.

use super::Outline;
use crate::shop::material::{Material, StrainLimit};
use crate::shop::strip::Strip;
use crate::units::{Angle, Force, Length};

/// What this shop has and has measured.
#[derive(Debug, Clone, Default)]
pub struct Shop {
    /// Its own materials.
    pub materials: Vec<Material>,
    /// Its measured bends.
    pub strips: Vec<Strip>,
    /// Its brake.
    pub brake: Option<Brake>,
    /// Edge radii that its router has.
    pub cutters: Vec<Length>,
    /// Its limits of stretch.
    pub stretch: Option<StrainLimit>,
    /// Its limits of shrink.
    pub shrink: Option<StrainLimit>,
    /// Its cutting figures.
    pub cutting: Cutting,
}

/// Cutting figures as far as somebody gave them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Cutting {
    /// Width of the cut.
    pub kerf: Option<Length>,
    /// Least distance between cut edges, on top of the kerf.
    pub spacing: Option<Length>,
    /// Least distance to the sheet's edge.
    pub margin: Option<Length>,
    /// Cutting speed, mm a minute.
    pub feed_mm_per_min: Option<f64>,
    /// Time of one pierce, s.
    pub pierce_s: Option<f64>,
    /// Whether cut lines are moved off the parts by half the kerf and carry lead-ins.
    pub compensate: Option<bool>,
    /// The least width of a remnant worth keeping; 0 for none.
    pub remnant: Option<Length>,
    /// Whether a kerf coupon is cut from what is left.
    pub coupon: Option<bool>,
    /// How many strips for bending are cut from what is left.
    pub bend_strips: Option<usize>,
}

impl Cutting {
    /// These figures, and where one is missing the other's.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self {
            kerf: self.kerf.or(other.kerf),
            spacing: self.spacing.or(other.spacing),
            margin: self.margin.or(other.margin),
            feed_mm_per_min: self.feed_mm_per_min.or(other.feed_mm_per_min),
            pierce_s: self.pierce_s.or(other.pierce_s),
            compensate: self.compensate.or(other.compensate),
            remnant: self.remnant.or(other.remnant),
            coupon: self.coupon.or(other.coupon),
            bend_strips: self.bend_strips.or(other.bend_strips),
        }
    }
}

/// A brake.
#[derive(Debug, Clone)]
pub struct Brake {
    /// Which kind.
    pub kind: BrakeKind,
    /// Its force.
    pub force: Option<Force>,
    /// Its working length.
    pub length: Option<Length>,
    /// Its dies.
    pub dies: Vec<Die>,
    /// Outline of its punch or nose, the lower edge at the origin, x toward the back.
    pub punch: Option<Outline>,
    /// Outline of its leaf at rest, the bending edge at the origin, x toward the back.
    pub leaf: Option<Outline>,
    /// The greatest angle that its leaf turns through.
    pub max_angle: Option<Angle>,
    /// Widths of its fingers.
    pub fingers: Vec<Length>,
    /// The thickest mild steel that it bends over its whole length.
    pub max_thickness: Option<Length>,
    /// Width, height and length of a finger of its back gauge, as far as given.
    pub gauge_finger: [Option<Length>; 3],
}

/// A die of a press brake.
#[derive(Debug, Clone)]
pub struct Die {
    /// Its name.
    pub name: String,
    /// Width of its opening.
    pub opening: Length,
    /// The angle between the walls of its opening.
    pub angle: Option<Angle>,
    /// Its outline, the middle of its opening at the origin.
    pub block: Option<Outline>,
}

/// The kinds of brake.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BrakeKind {
    /// Punch and die.
    Press,
    /// A leaf that swings.
    Leaf,
    /// A leaf brake whose nose is in fingers.
    Pan,
}
