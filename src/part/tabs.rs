//! Tabs on free edges, as the edges that are cut, and what the slots for them know.

use super::Relief;
use crate::geom::{Point, Segment, Vertex, left_of};
use crate::problem::Place;
use crate::units::Length;

/// Tabs on a straight free edge.
#[derive(Debug, Clone)]
pub struct Tabs {
    /// The edge, as flanges name theirs: an index into the profile's names, or into those of a
    /// flange's edges.
    pub edge: usize,
    /// The name of that edge.
    pub edge_name: String,
    /// Length of each along the edge.
    pub length: Length,
    /// How far they stand out of it.
    pub depth: Length,
    /// The middle of each along the edge from its start, in order.
    pub at: Vec<Length>,
    /// What is cut into the edge beside each root; never `Auto` or `Slit`.
    pub relief: Relief,
    /// Where they stand in the description.
    pub place: Place,
}

/// The tab that a slot receives.
#[derive(Debug, Clone, PartialEq)]
pub struct ReceivedTab {
    /// The file of its part, as messages name it.
    pub file: String,
    /// Its edge.
    pub edge: String,
    /// How far it stands out.
    pub depth: Length,
    /// Width of the slot, across the tab's sheet.
    pub slot_width: Length,
}

/// Openings that the torch cuts well are so many kerfs wide (common practice, no source).
pub const LEAST_KERFS: f64 = 1.5;

/// An edge with its tabs, from its start to its end, the metal on its left. `begin` is how far
/// along it is counted from, at its start, mm.
pub(crate) fn tabbed(edge: &Segment, tabs: &Tabs, begin: f64) -> Vec<Segment> {
    let (from, along) = (edge.from(), edge.tangent_at(0.0));
    let inward = left_of(along);
    // So far along the edge and so far into the metal.
    let at = |x: f64, depth: f64| from + along * (x - begin) + inward * depth;
    let (half, out) = (tabs.length.mm() / 2.0, -tabs.depth.mm());
    let mut vertices: Vec<Vertex> = vec![Vertex { point: from, bulge: 0.0 }];
    for middle in tabs.at.iter().map(|x| x.mm()) {
        let (a, b) = (middle - half, middle + half);
        let before = root(tabs.relief, &|away, depth| at(a - away, depth));
        // The other root is the same the other way round, its arcs turning likewise once walked
        // backward.
        let mut after = root(tabs.relief, &|away, depth| at(b + away, depth));
        after.reverse();
        let bulges: Vec<f64> =
            after.iter().skip(1).map(|vertex| vertex.bulge).chain([0.0]).collect();
        after.iter_mut().zip(bulges).for_each(|(vertex, bulge)| vertex.bulge = bulge);
        vertices.extend(before);
        vertices.extend([at(a, out), at(b, out)].map(|point| Vertex { point, bulge: 0.0 }));
        vertices.extend(after);
    }
    vertices.push(Vertex { point: edge.to(), bulge: 0.0 });
    let pieces = vertices.windows(2).map(|pair| pair[0].segment_to(pair[1].point));
    pieces.filter(|piece| piece.from().distance(piece.to()) > 1e-9).collect()
}

/// The cut beside a root, walked from the edge to the root; `at` gives the point so far from the
/// root along the edge, and so far into the metal.
fn root(relief: Relief, at: &dyn Fn(f64, f64) -> Point) -> Vec<Vertex> {
    let corner = |away: f64, depth: f64| Vertex { point: at(away, depth), bulge: 0.0 };
    // Arcs that leave the metal on the left of the walk turn right.
    let arc = |away: f64, depth: f64, bulge: f64| Vertex { point: at(away, depth), bulge };
    match relief {
        Relief::Hole(diameter) => {
            // Three quarters of a circle about the root, in two arcs.
            let radius = diameter.mm() / 2.0;
            let bulge = -(f64::to_radians(135.0) / 4.0).tan();
            let slant = radius * std::f64::consts::FRAC_1_SQRT_2;
            vec![arc(radius, 0.0, bulge), arc(-slant, slant, bulge), corner(0.0, -radius)]
        }
        Relief::Slot(width, depth) => {
            let (width, straight) = (width.mm(), depth.mm() - width.mm() / 2.0);
            vec![corner(width, 0.0), arc(width, straight, -1.0), corner(0.0, straight)]
        }
        Relief::Notch(width, depth) => {
            let (width, depth) = (width.mm(), depth.mm());
            vec![corner(width, 0.0), corner(width, depth), corner(0.0, depth)]
        }
        Relief::None | Relief::Auto | Relief::Slit => vec![corner(0.0, 0.0)],
    }
}
