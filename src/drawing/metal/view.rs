//! The two views of a part's metal: as the blank, in true plan, and formed, in an isometric view.
//!
//! The formed shell lies on its face with its open side up, so that every wall is seen; the metal's
//! strain is the same on both its faces.

use std::collections::{BTreeMap, BTreeSet};

use super::bands::Field;
use super::surface::{Node, Surface};
use crate::geom::{Affine, Point, Rect, thinned};
use crate::page::{Ink, Pen, Picture, Scale, closed};

/// How far drawn lines may be from the true ones, mm on the page: half a hair line.
const THINNED: f64 = 0.04;
/// Into how many cells the longer side of a part is cut for deciding what hides what.
const CELLS: f64 = 28.0;

/// A value to be shown, and the colours for it.
#[derive(Debug, Clone)]
pub(super) struct Shading {
    /// At each node of the surface.
    pub(super) values: Vec<f64>,
    /// Rising; between them lie the bands.
    pub(super) levels: Vec<f64>,
    pub(super) scale: Scale,
    /// The colour of each band.
    pub(super) colours: Vec<usize>,
}

/// A view's way onto the page.
pub(super) trait View {
    /// A node on the view's own plane, mm, y up.
    fn place(&self, node: &Node) -> Point;
}

/// The blank from above.
pub(super) struct Plan;

impl View for Plan {
    fn place(&self, node: &Node) -> Point {
        node.flat
    }
}

/// The formed part, turned over about its x axis and looked at along the diagonal of a cube. The
/// other hand is looked at from the other side, so that its picture is the mirrored one.
pub(super) struct Isometric {
    pub(super) other_hand: bool,
}

impl Isometric {
    /// The part's point turned over, and mirrored back for the other hand.
    fn turned(&self, [x, y, z]: [f64; 3]) -> [f64; 3] {
        [if self.other_hand { -x } else { x }, -y, -z]
    }

    /// On the page. Along x, y and z lengths are as in space: an isometric drawing, not a
    /// projection, which would be smaller by sqrt(2/3).
    pub(super) fn project(&self, formed: [f64; 3]) -> Point {
        let [x, y, z] = self.turned(formed);
        let (sin, cos) = std::f64::consts::FRAC_PI_6.sin_cos();
        let across = (x - y) * cos;
        Point::new(if self.other_hand { -across } else { across }, (x + y) * sin + z)
    }

    /// How near to the eye, along (-1, -1, 1).
    fn nearness(&self, formed: [f64; 3]) -> f64 {
        let [x, y, z] = self.turned(formed);
        z - x - y
    }
}

impl View for Isometric {
    fn place(&self, node: &Node) -> Point {
        self.project(node.formed)
    }
}

/// Moves a view's plane onto the page.
pub(super) fn on_page(points: &[Point], motion: Affine) -> Vec<Point> {
    points.iter().map(|point| motion * *point).collect()
}

/// The rectangle around points.
pub(super) fn bounds_of(points: impl IntoIterator<Item = Point>) -> Rect {
    let mut points = points.into_iter();
    let first = points.next().unwrap_or_default();
    points.fold(Rect::from_points(first, first), |rect, point| rect.union_pt(point))
}

/// Draws the bands and the lines between them for some triangles, at places on the page.
pub(super) fn draw_bands(
    picture: &mut Picture,
    shading: &Shading,
    places: &[Point],
    triangles: &[[usize; 3]],
) {
    let field = Field { places, values: &shading.values, triangles, levels: &shading.levels };
    let thin = |chains: Vec<Vec<Point>>| {
        chains.iter().map(|chain| thinned(chain, THINNED)).filter(|c| c.len() > 1).collect()
    };
    for (colour, outlines) in shading.colours.iter().zip(field.bands()) {
        picture.fill(Ink::Step(shading.scale, *colour), thin(outlines));
    }
    picture.lines(Pen::Level, thin(field.lines().concat()));
}

/// Draws the formed part, far things first.
pub(super) fn draw_formed(
    picture: &mut Picture,
    shading: &Shading,
    surface: &Surface,
    view: &Isometric,
    motion: Affine,
) {
    let places: Vec<Point> = surface.nodes.iter().map(|node| motion * view.place(node)).collect();
    // Turned over, lips to the outer side hang below the face: it hides them, but for what shows
    // through the opening.
    let (below, above): (Vec<[usize; 3]>, Vec<[usize; 3]>) = surface
        .triangles
        .iter()
        .partition(|corners| corners.iter().any(|i| surface.nodes[*i].formed[2] > 1e-6));
    let edges = edges_seen(surface, &places);
    draw_walls(picture, shading, &places, &edges, far_to_near(surface, view, &below));
    let on_face = |p: &Point| motion * view.project([p.x, p.y, 0.0]);
    let face: Vec<Vec<Point>> =
        surface.face.iter().map(|outline| closed(outline.iter().map(on_face).collect())).collect();
    picture.fill(Ink::Metal, face.clone());
    picture.lines(Pen::Edge, face);
    draw_walls(picture, shading, &places, &edges, far_to_near(surface, view, &above));
}

/// Draws groups of triangles, each with what it has of the walls' edges.
fn draw_walls(
    picture: &mut Picture,
    shading: &Shading,
    places: &[Point],
    edges: &[(usize, usize)],
    groups: Vec<Group>,
) {
    for group in groups {
        draw_bands(picture, shading, places, &group.triangles);
        let own: BTreeSet<(usize, usize)> =
            group.triangles.iter().flat_map(|[a, b, c]| [(*a, *b), (*b, *c), (*c, *a)]).collect();
        let lines = edges
            .iter()
            .filter(|side| own.contains(side))
            .map(|(a, b)| vec![places[*a], places[*b]]);
        picture.lines(Pen::Edge, joined(lines.collect()));
    }
}

/// The sides of triangles that the eye sees as lines: edges of the metal, and where it turns away
/// from the eye.
fn edges_seen(surface: &Surface, places: &[Point]) -> Vec<(usize, usize)> {
    let mut faces: BTreeMap<(usize, usize), bool> = BTreeMap::new();
    for [a, b, c] in &surface.triangles {
        let faces_eye = (places[*b] - places[*a]).cross(places[*c] - places[*a]) > 0.0;
        faces.extend([(*a, *b), (*b, *c), (*c, *a)].map(|side| (side, faces_eye)));
    }
    let is_seen =
        |(side, face): &(&(usize, usize), &bool)| faces.get(&(side.1, side.0)) != Some(*face);
    faces.iter().filter(is_seen).map(|(side, _)| *side).collect()
}

/// Chains joined where one ends just where the next begins.
fn joined(chains: Vec<Vec<Point>>) -> Vec<Vec<Point>> {
    let mut all: Vec<Vec<Point>> = Vec::new();
    for chain in chains {
        match all.last_mut() {
            Some(last) if last.last() == chain.first() => last.extend(chain.into_iter().skip(1)),
            _ => all.push(chain),
        }
    }
    all
}

/// Triangles that are drawn together.
struct Group {
    nearness: f64,
    triangles: Vec<[usize; 3]>,
}

/// The triangles in groups, each in one cell of the plan and with one side to the eye, so that none
/// hides another of its own; the farthest group first.
fn far_to_near(surface: &Surface, view: &Isometric, triangles: &[[usize; 3]]) -> Vec<Group> {
    let formed = |node: usize| surface.nodes[node].formed;
    let plan =
        bounds_of(triangles.iter().flatten().map(|i| Point::new(formed(*i)[0], formed(*i)[1])));
    let cell = (plan.width().max(plan.height()) / CELLS).max(f64::MIN_POSITIVE);
    let mut cells: BTreeMap<(i64, i64, bool), Vec<[usize; 3]>> = BTreeMap::new();
    for corners in triangles {
        let mean = |k: usize| corners.iter().map(|i| formed(*i)[k]).sum::<f64>() / 3.0;
        #[expect(clippy::cast_possible_truncation, reason = "at most CELLS of them")]
        let of = |x: f64, start: f64| ((x - start) / cell).floor() as i64;
        let [a, b, c] = corners.map(|i| view.project(formed(i)));
        let key = (of(mean(0), plan.x0), of(mean(1), plan.y0), (b - a).cross(c - a) > 0.0);
        cells.entry(key).or_default().push(*corners);
    }
    let mut groups: Vec<Group> = cells
        .into_values()
        .map(|triangles| {
            let sum: f64 = triangles.iter().flatten().map(|i| view.nearness(formed(*i))).sum();
            Group { nearness: sum / (3.0 * triangles.len() as f64), triangles }
        })
        .collect();
    groups.sort_by(|a, b| a.nearness.total_cmp(&b.nearness));
    groups
}
