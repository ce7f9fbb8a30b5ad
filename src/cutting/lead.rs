//! Where the torch comes down and how it comes to its line.
//!
//! Every place along the line is tried with a few shapes of lead-in, the best one first: along the
//! line's own direction past an outer corner, by a quarter of a circle, slanting, square. A shape
//! is taken if all of it keeps half a kerf off the metal of every part on the sheet, the crater
//! stays off it too, and both lie on the sheet. Places where the finished edge is stretched come
//! last.

use super::edges::Edges;
use super::{Edge, LeadRoom, Torch};
use crate::geom::{Point, Polyarc, Segment, Vec2, Vertex, left_of};
use crate::tolerance::{SHORTEST_PIECE, TORCH_OFF_EDGE};

/// What a lead-in must keep off.
pub(super) struct Ground<'a> {
    /// The edges of all parts on the sheet.
    pub(super) metal: &'a Edges,
    /// The sheet's own edge and openings.
    pub(super) sheet: &'a Edges,
    /// The same as outlines: the edge, then the openings.
    pub(super) stock: &'a [Polyarc],
    pub(super) torch: Torch,
}

/// A path from its start, with the lead-in to it.
pub(super) struct Begun {
    pub(super) path: Polyarc,
    pub(super) lead: Vec<Segment>,
    pub(super) room: LeadRoom,
    pub(super) stretch: f64,
}

/// A place where a path may be begun.
#[derive(Clone, Copy)]
struct Place {
    /// Which piece of the path, and where along it, 0 to 1.
    piece: usize,
    along: f64,
    at: Point,
    /// The direction of travel.
    ahead: Vec2,
    stretch: f64,
}

/// A shape of lead-in, the better first.
#[derive(Clone, Copy, PartialEq)]
enum Shape {
    /// Straight, in the direction of travel.
    Onward,
    /// A quarter of a circle that runs into the direction of travel.
    Quarter,
    /// Straight, at 45 degrees.
    Slanting,
    /// Straight, square to the line.
    Square,
}

const SHAPES: [(Shape, f64); 4] =
    [(Shape::Onward, 0.0), (Shape::Quarter, 0.4), (Shape::Slanting, 1.0), (Shape::Square, 1.4)];

/// Shares of the whole length that are tried.
const LENGTHS: [f64; 6] = [1.0, 0.75, 0.55, 0.4, 0.28, 0.2];

/// What a lead-in with no length at all would cost; one of half the length costs half of it.
const COST_OF_SHORTNESS: f64 = 3.0;

/// What a stretch of 100 % where the cut starts would cost: 3 % weigh as much as a lead-in of half
/// its length.
const COST_OF_STRETCH: f64 = 50.0;

/// Most places that are tried along a path.
const MOST_PLACES: usize = 90;

/// The path, walked as given, begun at its best place.
pub(super) fn begin(path: &Polyarc, edge: &Edge, ground: &Ground) -> Begun {
    let places = places(path, edge);
    let mut tries: Vec<(f64, usize, Shape, f64)> = Vec::new();
    for (i, place) in places.iter().enumerate() {
        for (shape, dear) in SHAPES {
            for length in LENGTHS {
                tries.push((
                    dear + COST_OF_SHORTNESS * (1.0 - length) + COST_OF_STRETCH * place.stretch,
                    i,
                    shape,
                    length,
                ));
            }
        }
    }
    tries.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    // First with the crater in whole scrap, clear of the cuts beside it; then wherever no part is
    // marked.
    for clear_of_cuts in [true, false] {
        for &(_, i, shape, share) in &tries {
            let place = places[i];
            let lead = lead_in(&place, shape, share * ground.torch.lead_length());
            if ground.takes(&lead, place.at, clear_of_cuts) {
                let room = if share == 1.0 { LeadRoom::Whole } else { LeadRoom::Short };
                return Begun {
                    path: started_at(path, &place),
                    lead: vec![lead],
                    room,
                    stretch: place.stretch,
                };
            }
        }
    }
    let best = places.iter().min_by(|a, b| a.stretch.total_cmp(&b.stretch)).copied();
    let path = best.map_or_else(|| path.clone(), |place| started_at(path, &place));
    Begun {
        path,
        lead: Vec::new(),
        room: LeadRoom::None,
        stretch: best.map_or(0.0, |place| place.stretch),
    }
}

/// Where the path may be begun: at its vertices and between them.
fn places(path: &Polyarc, edge: &Edge) -> Vec<Place> {
    let length = path.length();
    let apart = (length / (MOST_PLACES as f64 * 0.6)).max(1.0);
    let mut all = Vec::new();
    for (piece, segment) in path.segments().enumerate() {
        let long = segment.length();
        if long < SHORTEST_PIECE {
            continue;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to 1..=1000"
        )]
        let count = (long / apart).round().clamp(1.0, 1000.0) as u32;
        for k in 0..count {
            // The vertex itself, then the middles of equal stretches: no piece of the path becomes
            // a crumb.
            let along = if k == 0 { 0.0 } else { f64::from(k) / f64::from(count) };
            let at = segment.point_at(along);
            let stretch = edge.stretch_near(at);
            all.push(Place { piece, along, at, ahead: segment.tangent_at(along), stretch });
        }
    }
    // Of very many vertices evenly spread ones.
    let step = all.len().div_ceil(2 * MOST_PLACES).max(1);
    all.into_iter().step_by(step).collect()
}

/// The lead-in of a shape and a length to a place; the waste lies to the left of the path.
fn lead_in(place: &Place, shape: Shape, length: f64) -> Segment {
    let (ahead, waste) = (place.ahead, left_of(place.ahead));
    let straight = |back: Vec2| Segment::Line { from: place.at + back * length, to: place.at };
    match shape {
        Shape::Onward => straight(-ahead),
        Shape::Slanting => straight((waste - ahead) * std::f64::consts::FRAC_1_SQRT_2),
        Shape::Square => straight(waste),
        Shape::Quarter => {
            let radius = length / std::f64::consts::FRAC_PI_2;
            Segment::Arc {
                from: place.at + (waste - ahead) * radius,
                to: place.at,
                bulge: std::f64::consts::FRAC_PI_8.tan(),
            }
        }
    }
}

impl Ground<'_> {
    /// Whether a lead-in to `end` marks no part and stays on the sheet.
    fn takes(&self, lead: &Segment, end: Point, clear_of_cuts: bool) -> bool {
        let (half, crater, kerf) = (self.torch.kerf / 2.0, self.torch.crater(), self.torch.kerf);
        let pierce = lead.from();
        // A cut beside it is a kerf wide; the crater keeps clear of that.
        let (off_metal, off_sheet) =
            if clear_of_cuts { (crater.max(1.5 * kerf), 2.0 * crater) } else { (crater, crater) };
        if self.metal.within(pierce, off_metal) || self.sheet.within(pierce, off_sheet) {
            return false;
        }
        let step = (self.torch.kerf / 8.0).clamp(0.1, 0.5);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a lead-in is a few mm long"
        )]
        let steps = (lead.length() / step).ceil().clamp(4.0, 1000.0) as u32;
        let mut last = pierce;
        for i in 1..=steps {
            let at = if i == steps { end } else { lead.point_at(f64::from(i) / f64::from(steps)) };
            // At no kerf the last step ends on the edge itself.
            let crossing_end = if i == steps { last.lerp(at, 0.9) } else { at };
            let off = half - TORCH_OFF_EDGE / 2.0;
            if (off > 0.0 && self.metal.within(at, off))
                || self.metal.crossed(last, crossing_end)
                || self.sheet.crossed(last, at)
            {
                return false;
            }
            last = at;
        }
        // Beyond the sheet's edge, or over an opening in it, no arc is struck.
        let mut outlines = self.stock.iter();
        outlines.next().is_none_or(|edge| edge.contains(pierce))
            && outlines.all(|opening| !opening.contains(pierce))
    }
}

/// The outline begun at a place on it.
fn started_at(path: &Polyarc, place: &Place) -> Polyarc {
    let n = path.vertices.len();
    let mut vertices: Vec<Vertex> = (0..n).map(|i| path.vertices[(place.piece + i) % n]).collect();
    if place.along > 0.0 {
        let first = vertices[0];
        let after = place.at;
        let share =
            |part: f64| if first.bulge == 0.0 { 0.0 } else { (first.bulge.atan() * part).tan() };
        vertices[0] = Vertex { point: after, bulge: share(1.0 - place.along) };
        vertices.push(Vertex { point: first.point, bulge: share(place.along) });
    }
    Polyarc { vertices }
}

/// The outline begun at the place on it nearest to `point`, at a vertex if one is hardly farther.
pub(super) fn starting_near(outline: &Polyarc, point: Point) -> Polyarc {
    let mut best: Option<(f64, Place)> = None;
    for (piece, segment) in outline.segments().enumerate() {
        let long = segment.length();
        let along = segment.nearest(point);
        // No crumbs at either end.
        let least = (2.0 * SHORTEST_PIECE / long.max(SHORTEST_PIECE)).min(0.5);
        let along = if along < least || long < 1.0 { 0.0 } else { along.min(1.0 - least) };
        let at = segment.point_at(along);
        let off = at.distance(point);
        if best.is_none_or(|(d, _)| off < d - 1e-9) {
            best = Some((off, Place { piece, along, at, ahead: Vec2::ZERO, stretch: 0.0 }));
        }
    }
    best.map_or_else(|| outline.clone(), |(_, place)| started_at(outline, &place))
}
