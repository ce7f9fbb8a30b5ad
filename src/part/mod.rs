//! Step 1: takes the text of a description, gives a [`Part`] (or a [`Job`], or a [`Shop`]) with all defaults filled in, names resolved and
//! one unit throughout; `form` takes the part.

mod end_trim;

use std::sync::Arc;

use crate::geom::{Affine, Loop, MonotoneCurve, Point, Polyarc};
use crate::problem::{Place, Problem};
use crate::shop::bend_rule::BendRule;
use crate::shop::material::Material;
use crate::tolerance::SAME_POINT;
use crate::units::{Angle, Length, LengthUnit};

pub(crate) use crate::describe::parameter_at;
pub(crate) use crate::describe::tabbed;
pub use crate::describe::*;
pub use end_trim::Hammered;

/// Hands out the files that a description names; the only way the library reads anything.
pub trait FileReader {
    /// The bytes of `name`, a path beside the file `beside`. The problem says why there are none.
    fn read(&self, beside: &str, name: &str) -> Result<Vec<u8>, Problem>;

    /// The name of that file as messages give it.
    fn full_name(&self, beside: &str, name: &str) -> String;
}

/// A part, ready to be formed.
#[derive(Debug, Clone)]
pub struct Part {
    /// Its name as given.
    pub name: String,
    /// Its name as files bear it.
    pub file_name: String,
    /// The unit its reports speak first.
    pub unit: LengthUnit,
    /// The sheet metal.
    pub material: Material,
    /// The sheet's thickness.
    pub thickness: Length,
    /// How the rolling direction lies in the blank.
    pub grain: Grain,
    /// How far it may be off that, either way.
    pub grain_tolerance: Angle,
    /// The bend allowance rule.
    pub bend_rule: BendRule,
    /// What is made of the sheet.
    pub kind: Kind,
    /// The shop's own figures.
    pub shop: Arc<Shop>,
    /// Every default that was taken.
    pub assumed: Vec<Assumed>,
    /// Where its name stands.
    pub place: Place,
}

/// How the rolling direction must lie in the blank.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Grain {
    /// Anyhow.
    #[default]
    Any,
    /// Along the blank's x.
    Along,
    /// Along the blank's y.
    Across,
}

/// What is made of the sheet.
#[derive(Debug, Clone)]
pub enum Kind {
    /// Cut and left flat.
    Plate(Plate),
    /// Hammered over a buck.
    HalfShell(Box<HalfShell>),
    /// Bent from one section.
    Bent(Bent),
    /// A panel with flanges on its edges.
    Folded(Box<Folded>),
}

impl Kind {
    /// Its name in descriptions and results.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Plate(_) => "plate",
            Self::HalfShell(_) => "half_shell",
            Self::Bent(_) => "bent",
            Self::Folded(_) => "folded",
        }
    }
}

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

/// What profile and depth of a half-shell, or the legs of a section, measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShellDims {
    /// The finished metal's outside.
    Outside,
    /// The buck.
    Inside,
}

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
        (Length::from_mm(depths.clone().fold(f64::INFINITY, f64::min)), Length::from_mm(depths.fold(0.0, f64::max)))
    }
}

/// How two walls meet at a sharp outside corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Join {
    /// They run on until they meet in space, the first in the outline's order over the other's edge.
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

/// An end of a bent part cut to lie against a round tube.
#[derive(Debug, Clone)]
pub struct Cope {
    /// Whether it is the end at the full depth, not that at 0.
    pub is_far: bool,
    /// The tube's outside diameter.
    pub diameter: Length,
    /// A point of its axis: x along the first leg from its free end, y along the depth, z up from the first leg's lower face.
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

/// A part's or job's name as a file name: lower case, words joined by `-`.
#[must_use]
pub fn file_name(name: &str) -> String {
    let lower = name.to_lowercase();
    let words: Vec<&str> = lower.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    words.join("-")
}

/// Whether `inner` lies wholly inside `outer`.
pub(crate) fn lies_inside(outer: &Polyarc, inner: &Polyarc) -> bool {
    crate::describe::inside(outer, inner)
}
