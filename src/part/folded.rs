//! Folded parts: a panel with flanges on its edges and flanges on those.

use super::{JoggleBend, LegDims, Opening, Outline, Tabs};
use crate::problem::Place;
use crate::units::{Angle, Length};

/// A panel with flanges on its edges.
#[derive(Debug, Clone)]
pub struct Folded {
    /// What profile and heights measure.
    pub dims: LegDims,
    /// The panel's outline as the dims say.
    pub profile: Outline,
    /// The openings in the panel.
    pub openings: Vec<Opening>,
    /// The flanges on its edges; their `edge` is an index into the profile's names.
    pub flanges: Vec<Flange>,
    /// The tabs on the panel's edges, which are in the profile already.
    pub tabs: Vec<Tabs>,
    /// Where the profile stands in the description.
    pub place: Place,
}

impl Folded {
    /// The kind's name in descriptions and results.
    pub const NAME: &'static str = "folded";

    /// The openings of panel and flanges.
    pub(super) fn all_openings(&self) -> Vec<&Opening> {
        fn of_flanges<'a>(flanges: &'a [Flange], all: &mut Vec<&'a Opening>) {
            for flange in flanges {
                all.extend(&flange.openings);
                of_flanges(&flange.flanges, all);
            }
        }
        let mut all = self.openings.iter().collect();
        of_flanges(&self.flanges, &mut all);
        all
    }

    /// The tabs of panel and flanges, with the names of their edges.
    pub(super) fn all_tabs(&self) -> Vec<(String, &Tabs)> {
        fn of_flanges<'a>(flanges: &'a [Flange], on: &str, all: &mut Vec<(String, &'a Tabs)>) {
            for (i, flange) in flanges.iter().enumerate() {
                // The second flange on an edge, and those after it, are counted.
                let before = flanges[..i].iter().filter(|other| other.edge == flange.edge).count();
                let count = if before == 0 { String::new() } else { format!(" {}", before + 1) };
                let name = format!("{on}{}{count}/", flange.edge_name);
                all.extend(
                    flange.tabs.iter().map(|tabs| (format!("{name}{}", tabs.edge_name), tabs)),
                );
                of_flanges(&flange.flanges, &name, all);
            }
        }
        let mut all: Vec<(String, &Tabs)> =
            self.tabs.iter().map(|tabs| (tabs.edge_name.clone(), tabs)).collect();
        of_flanges(&self.flanges, "", &mut all);
        all
    }
}

/// The edges of a flange, counter-clockwise as seen from the upper face: out along its start, along
/// its outer edge, back along its end.
pub const FLANGE_EDGES: [&str; 3] = ["start", "outer", "end"];

/// A flange on an edge.
#[derive(Debug, Clone)]
pub struct Flange {
    /// The edge it is bent up from: of the panel an index into its profile's names, of a flange one
    /// into [`FLANGE_EDGES`].
    pub edge: usize,
    /// The name of that edge.
    pub edge_name: String,
    /// The angle turned through, positive toward the upper face.
    pub angle: Angle,
    /// Its inside radius.
    pub inside_radius: Length,
    /// Which bend of a joggle its bend is, if it is one.
    pub joggle: Option<JoggleBend>,
    /// Its height as the dims say.
    pub height: Length,
    /// Metal left off at its start and end.
    pub cut_back: [Length; 2],
    /// How it meets its neighbours.
    pub joint: Joint,
    /// Least distance to them.
    pub corner_gap: Length,
    /// What is cut out at its ends.
    pub relief: Relief,
    /// The hem on its free edge.
    pub hem: Option<Hem>,
    /// Its openings: x along the edge, y up from the outside mould line.
    pub openings: Vec<Opening>,
    /// The tabs on its own edges.
    pub tabs: Vec<Tabs>,
    /// The flanges on its own edges.
    pub flanges: Vec<Flange>,
    /// Where it stands in the description.
    pub place: Place,
}

/// How a flange meets its neighbour at a corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joint {
    /// The nearest inside edges of both are the gap apart.
    Edge,
    /// This one runs on over the other's edge, flush with its outer face.
    Butt,
    /// As butt, and one thickness beyond, a ledge for a fillet weld.
    Lap,
    /// The neighbour is ignored.
    Square,
}

/// What is cut out where a bend meets another or ends inside an edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Relief {
    /// By the program: holes at corners, slots beside ends.
    Auto,
    /// Nothing.
    None,
    /// A round hole of that diameter.
    Hole(Length),
    /// A slot of that width, so far in from the outside mould line.
    Slot(Length, Length),
    /// A square notch of that width, so far in from the outside mould line.
    Notch(Length, Length),
    /// A single cut.
    Slit,
}

/// A hem on a free edge.
#[derive(Debug, Clone, PartialEq)]
pub struct Hem {
    /// How it is folded.
    pub kind: HemKind,
    /// From the outside of the fold to its edge.
    pub return_length: Length,
    /// The space inside the fold; nothing for a closed one.
    pub gap: Length,
    /// Where it stands in the description.
    pub place: Place,
}

/// How a hem is folded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HemKind {
    /// Flat onto the flange.
    Closed,
    /// Round a gap, parallel to the flange.
    Open,
    /// Round until its edge rests on the flange.
    Teardrop,
}
