//! Half-shells: hammered over a buck.

use super::{Hammered, Opening, Outline};
use crate::geom::{MonotoneCurve, Point};
use crate::problem::Place;
use crate::tolerance::SAME_POINT;
use crate::units::{Angle, Length};

/// A part that is hammered over a buck.
#[derive(Debug, Clone)]
pub struct HalfShell {
    /// Outline at the seam plane, of the metal's outside.
    pub profile: Outline,
    /// Where the profile stands in the description.
    pub profile_place: Place,
    /// Outside face to seam plane, at stations along the profile's x or its centreline.
    pub depth: MonotoneCurve,
    /// Inside radius between face and wall.
    pub inside_radius: Length,
    /// How far the walls lean outward from square to the seam plane.
    pub draft: Angle,
    /// Greatest height of the face's bulge over the tangent line.
    pub crown: Length,
    /// Which edges of the profile have no wall, by index into its names.
    pub open_edges: Vec<usize>,
    /// How walls meet at sharp outside corners.
    pub join: Join,
    /// Metal left beyond the seam.
    pub trim: Length,
    /// Metal left beyond the open edges.
    pub end_trim: Length,
    /// The outline with that metal; none where there is none.
    pub hammered: Option<Hammered>,
    /// Openings in the face.
    pub openings: Vec<Opening>,
    /// Whether the other half is this one mirrored.
    pub paired: bool,
    /// Root gap between the halves.
    pub seam_gap: Length,
    /// The form block.
    pub buck: Buck,
}

impl HalfShell {
    /// The kind's name in descriptions and results.
    pub const NAME: &'static str = "half_shell";

    /// Whether its face is level: of one depth all over, without crown.
    #[must_use]
    pub fn is_level(&self) -> bool {
        let depths = self.depth.values();
        self.crown.mm() == 0.0 && depths.iter().all(|depth| (depth - depths[0]).abs() < SAME_POINT)
    }

    /// Its least and its greatest depth, which it has at stations.
    #[must_use]
    pub fn depths(&self) -> (Length, Length) {
        let depths = self.depth.values().iter().copied();
        (
            Length::from_mm(depths.clone().fold(f64::INFINITY, f64::min)),
            Length::from_mm(depths.fold(0.0, f64::max)),
        )
    }
}

/// How two walls meet at a sharp outside corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Join {
    /// They run on until they meet in space, the first in the outline's order over the other's
    /// edge.
    RunOn,
    /// Each ends square where its bend ends; the corner stays open.
    Open,
}

impl Join {
    /// What it does, for findings.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::RunOn => "they are cut apart there, and one runs on over the edge of the other",
            Self::Open => "they are cut apart there, each ending square",
        }
    }
}

/// What is asked of a form block.
#[derive(Debug, Clone, PartialEq)]
pub struct Buck {
    /// Thickness of one layer of buck stock.
    pub layer: Length,
    /// Thickness of the clamp plate.
    pub clamp_plate: Length,
    /// Dowels, if asked for.
    pub dowels: Option<Pins>,
    /// Bolts, if asked for.
    pub bolts: Option<Pins>,
    /// How far the walls lean under; none: from springback.
    pub undercut: Option<Angle>,
    /// Pitch of the station marks.
    pub stations: Length,
}

/// Dowels or bolts.
#[derive(Debug, Clone, PartialEq)]
pub struct Pins {
    /// Their diameter.
    pub diameter: Length,
    /// Their places; none: placed by the program.
    pub at: Option<Vec<Point>>,
}
