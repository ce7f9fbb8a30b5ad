//! Takes the blanks as they lie on a sheet, gives the cuts in order, each with its start
//! and lead-in, and what is left of the sheet; `drawing` draws it.
//!
//! Lengths are mm.
//!
//! A cut is walked with the metal that is kept on its right: outer cuts clockwise, openings
//! counter-clockwise. Common practice, no source: the swirl of a plasma torch's gas leaves the
//! right-hand edge of the cut the squarer one.
#![doc = include_str!("METHOD.md")]

mod coincide;
mod edges;
mod lead;
mod order;
mod remnant;
mod strains;
mod torch;

pub use remnant::{LeftOver, Remnant, left_over};
pub use strains::{EdgePlace, blank_edges};
pub use torch::{TorchPath, torch_paths};

use crate::geom::{Affine, Point, Polyarc, Segment};
use edges::Edges;

/// How far from a place of an edge its stretch still holds, mm: places are half as far apart, and
/// the torch is a kerf away from them.
const SAME_STRETCH: f64 = 8.0;

/// The cut of a torch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Torch {
    /// Width of the cut.
    pub kerf: f64,
    /// Thickness of the sheet.
    pub thickness: f64,
}

impl Torch {
    /// How long a lead-in is where there is room: two and a half kerfs and half the thickness, at
    /// least 3 mm.
    ///
    /// Common practice, no source: the crater of a pierce and its slag must stay off the edge.
    #[must_use]
    pub fn lead_length(&self) -> f64 {
        (2.5 * self.kerf + 0.5 * self.thickness).max(3.0)
    }

    /// Radius of the crater where the torch pierces: as wide as the kerf on every side. Common
    /// practice, no source: a pierce is up to twice as wide as the cut.
    #[must_use]
    pub fn crater(&self) -> f64 {
        self.kerf.max(0.1)
    }

    /// How near to the line just cut the next one should not begin, if there is another: twenty
    /// thicknesses, at least 25 mm. Common practice, no source.
    #[must_use]
    pub fn heat_distance(&self) -> f64 {
        (20.0 * self.thickness).max(25.0)
    }
}

/// An edge of a blank: its outside or an opening.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// The edge of the metal that is kept, counter-clockwise.
    pub outline: Polyarc,
    /// Where the finished edge is stretched in forming, and how much: no place for the torch to
    /// begin.
    pub stretched: Vec<EdgePlace>,
}

/// The edges of a blank: first its outside, then its openings.
pub type BlankEdges = Vec<Edge>;

/// A blank at its place on the sheet.
#[derive(Debug, Clone, Copy)]
pub struct OnSheet<'a> {
    /// Its edges in its own coordinates.
    pub edges: &'a BlankEdges,
    /// Where it goes; mirrors nothing.
    pub motion: Affine,
}

/// How the torch comes to its line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LeadRoom {
    /// By a lead-in as long as it should be.
    Whole,
    /// By a shorter one, for want of room.
    Short,
    /// By none: it pierces on the line itself.
    None,
}

/// A line that the torch cuts.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Index of its blank.
    pub blank: usize,
    /// Index among the blank's edges.
    pub edge: usize,
    /// The middle of the kerf as it is walked, from where the lead-in meets it. For an edge that
    /// the torch cannot follow, the edge itself.
    pub path: Polyarc,
    /// From where the torch pierces to the start of the path; may be empty.
    pub lead: Vec<Segment>,
    /// How much lead-in there is.
    pub room: LeadRoom,
    /// How much the edge stretches in forming where the path starts, as a fraction.
    pub stretch_at_start: f64,
    /// The blank's own edge, walked the same way from the place nearest to the path's start; none
    /// for the further pieces of an edge whose path falls apart.
    pub own_edge: Option<Polyarc>,
    /// Whether the torch is too wide to follow any of this edge.
    pub too_narrow: bool,
}

impl Cut {
    /// Whether it is an inner cut.
    #[must_use]
    pub fn is_opening(&self) -> bool {
        self.edge > 0
    }

    /// Where the torch comes down.
    #[must_use]
    pub fn pierce(&self) -> Point {
        self.lead.first().map_or_else(|| self.start(), Segment::from)
    }

    /// Where the path starts.
    #[must_use]
    pub fn start(&self) -> Point {
        self.path.vertices.first().map_or(Point::ORIGIN, |vertex| vertex.point)
    }
}

/// The cuts of a sheet.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CutPlan {
    /// In the order in which they are cut.
    pub cuts: Vec<Cut>,
    /// How far the torch moves between cuts.
    pub travel: f64,
    /// Edges whose torch path leaves out a stretch or falls apart because they come closer together
    /// than the kerf: (blank, edge, about where).
    pub bridged: Vec<(usize, usize, Point)>,
    /// Edges whose torch path runs along that of another blank: (blank, edge, mm of it).
    pub coinciding: Vec<(usize, usize, f64)>,
}

/// Plans the cuts of a sheet: `stock` is its edge and then the openings that it has already.
#[must_use]
pub fn plan(blanks: &[OnSheet], stock: &[Polyarc], torch: Torch) -> CutPlan {
    let placed: Vec<Vec<Edge>> = blanks
        .iter()
        .map(|blank| blank.edges.iter().map(|edge| edge.moved(blank.motion)).collect())
        .collect();
    let metal = Edges::new(placed.iter().flatten().map(|edge| &edge.outline), torch);
    let sheet = Edges::new(stock.iter(), torch);
    let mut cuts = Vec::new();
    let mut bridged = Vec::new();
    for (blank, edges) in placed.iter().enumerate() {
        for (i, edge) in edges.iter().enumerate() {
            let (paths, whole) = torch_paths(&edge.outline, i > 0, torch.kerf);
            if !whole && !paths.is_empty() {
                bridged.push((blank, i, edge.outline.bounds().center()));
            }
            cuts.extend(cuts_of(
                edge,
                paths,
                (blank, i),
                &lead::Ground { metal: &metal, sheet: &sheet, stock, torch },
            ));
        }
    }
    let outlines: Vec<&[Edge]> = placed.iter().map(Vec::as_slice).collect();
    let corner = stock.first().map_or(Point::ORIGIN, |edge| edge.bounds().origin());
    let (sequence, travel) = order::sequence(&cuts, &outlines, torch.heat_distance(), corner);
    let mut slots: Vec<Option<Cut>> = cuts.into_iter().map(Some).collect();
    let cuts: Vec<Cut> = sequence.into_iter().filter_map(|i| slots[i].take()).collect();
    let coinciding = coincide::coinciding(&cuts, torch);
    CutPlan { cuts, travel, bridged, coinciding }
}

/// The cuts of one edge.
fn cuts_of(
    edge: &Edge,
    paths: Vec<TorchPath>,
    (blank, index): (usize, usize),
    ground: &lead::Ground,
) -> Vec<Cut> {
    // Walked with the metal that is kept on the right.
    let walked =
        |outline: Polyarc, clockwise: bool| if clockwise { outline.reversed() } else { outline };
    if paths.is_empty() {
        let own = walked(edge.outline.clone(), index == 0);
        return vec![Cut {
            blank,
            edge: index,
            path: own.clone(),
            lead: Vec::new(),
            room: LeadRoom::None,
            stretch_at_start: 0.0,
            own_edge: Some(own),
            too_narrow: true,
        }];
    }
    let mut own = Some(&edge.outline);
    let mut cuts = Vec::new();
    for path in paths {
        let clockwise = path.around;
        let begun = lead::begin(&walked(path.outline, clockwise), edge, ground);
        let own_edge = own.take().map(|own| {
            lead::starting_near(&walked(own.clone(), clockwise), begun.path.vertices[0].point)
        });
        cuts.push(Cut {
            blank,
            edge: index,
            path: begun.path,
            lead: begun.lead,
            room: begun.room,
            stretch_at_start: begun.stretch,
            own_edge,
            too_narrow: false,
        });
    }
    cuts
}

impl Edge {
    fn moved(&self, motion: Affine) -> Self {
        let stretched = self
            .stretched
            .iter()
            .map(|place| EdgePlace { at: motion * place.at, ..*place })
            .collect();
        Self { outline: self.outline.moved(motion), stretched }
    }

    /// How much the finished edge stretches near a point, as a fraction; 0 where nothing is known
    /// of it.
    fn stretch_near(&self, point: Point) -> f64 {
        let nearest = self
            .stretched
            .iter()
            .min_by(|a, b| a.at.distance_squared(point).total_cmp(&b.at.distance_squared(point)));
        nearest
            .filter(|place| place.at.distance(point) < SAME_STRETCH)
            .map_or(0.0, |place| place.stretch.max(0.0))
    }
}
