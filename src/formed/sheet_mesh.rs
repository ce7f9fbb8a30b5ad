//! A sheet cut into triangles in the flat, so that every triangle lies in one face or in one narrow
//! strip of a bend; folded, it is the part's solid of real thickness.

use std::collections::{BTreeMap, BTreeSet};

use spade::handles::FixedVertexHandle;
use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};

use super::fold_tree::{FoldTree, Folding};
use crate::geom::space::Space;
use crate::geom::{Point, Polyarc};
use crate::tolerance::{FOLDED_CHORD, SAME_VERTEX};

/// Which part of the fold tree a piece of sheet belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Piece {
    /// A face.
    Face(usize),
    /// A bend.
    Bend(usize),
}

/// A blank as triangles.
#[derive(Debug, Clone)]
pub struct SheetMesh {
    /// Their corners in the flat.
    pub points: Vec<Point>,
    /// The triangles, counter-clockwise seen from the upper face, and what each belongs to.
    pub triangles: Vec<([usize; 3], Piece)>,
    /// The edges of the sheet, the metal on their left.
    pub rim: Vec<[usize; 2]>,
    /// What each point is moved with; a point between a face and a bend moves alike with both.
    pub owners: Vec<Piece>,
}

/// A triangle in space, corners counter-clockwise from outside.
pub type SpaceTriangle = [Space; 3];

impl SheetMesh {
    /// The blank `outside` with its `openings` cut into triangles. None where its outlines cross or
    /// leave the tree's faces.
    #[must_use]
    pub fn new(tree: &FoldTree, outside: &Polyarc, openings: &[Polyarc]) -> Option<Self> {
        Self::with_chords(tree, outside, openings, FOLDED_CHORD)
    }

    /// As [`Self::new`], with chords no farther than `chord` mm from its arcs and bends.
    #[must_use]
    pub fn with_chords(
        tree: &FoldTree,
        outside: &Polyarc,
        openings: &[Polyarc],
        chord: f64,
    ) -> Option<Self> {
        let mut net = Net::default();
        net.add_outline(&outside.clone().counter_clockwise(), chord);
        for opening in openings {
            net.add_outline(&opening.clone().counter_clockwise().reversed(), chord);
        }
        for bend in &tree.bends {
            let strips = strips_of(bend.angle.abs(), bend.inside_radius + tree.thickness, chord);
            for k in 0..=strips {
                let [from, to] = bend.width_at(bend.allowance() * f64::from(k) / f64::from(strips));
                net.add_line(from, to);
            }
        }
        let (points, triangles, rim) = net.triangulated()?;
        let mut owners = vec![None; points.len()];
        let zones: Vec<Vec<Point>> =
            tree.bends.iter().map(|bend| bend.outline().flatten(1.0)).collect();
        let faces: Vec<Vec<Point>> =
            tree.faces.iter().map(|face| face.outline.flatten(chord / 4.0)).collect();
        let mut owned = Vec::with_capacity(triangles.len());
        for corners in triangles {
            let middle = centre(corners.map(|i| points[i]));
            let bend = zones.iter().position(|zone| contains(zone, middle)).map(Piece::Bend);
            let piece = bend.or_else(|| face_at(&faces, middle, chord).map(Piece::Face))?;
            for corner in corners {
                owners[corner].get_or_insert(piece);
            }
            owned.push((corners, piece));
        }
        let owners: Option<Vec<Piece>> = owners.into_iter().collect();
        Some(Self { points, triangles: owned, rim, owners: owners? })
    }

    /// The area in the flat, mm².
    #[must_use]
    pub fn area(&self) -> f64 {
        self.triangles
            .iter()
            .map(|(corners, _)| {
                let [a, b, c] = corners.map(|i| self.points[i]);
                (b - a).cross(c - a) / 2.0
            })
            .sum()
    }

    /// Where every point stands in space on the skin `height` mm over the lower face.
    #[must_use]
    pub fn skin(&self, folding: &Folding, height: f64) -> Vec<Space> {
        self.points
            .iter()
            .zip(&self.owners)
            .map(|(point, owner)| match owner {
                Piece::Face(face) => folding.on_face(*face, *point, height),
                Piece::Bend(bend) => folding.in_bend(*bend, *point, height),
            })
            .collect()
    }

    /// The surface of the folded sheet, closed corner on corner, with what each triangle belongs
    /// to.
    #[must_use]
    pub fn surface(&self, folding: &Folding) -> Vec<(SpaceTriangle, Piece)> {
        self.surface_between(folding, 0.0, folding.tree.thickness)
    }

    /// As [`Self::surface`], of the layer of metal between two heights over the lower face.
    #[must_use]
    pub fn surface_between(
        &self,
        folding: &Folding,
        low: f64,
        high: f64,
    ) -> Vec<(SpaceTriangle, Piece)> {
        let (lower, upper) = (self.skin(folding, low), self.skin(folding, high));
        let mut surface = Vec::with_capacity(2 * (self.triangles.len() + self.rim.len()));
        let mut beside = BTreeMap::new();
        for (corners, piece) in &self.triangles {
            let [a, b, c] = *corners;
            surface.push(([upper[a], upper[b], upper[c]], *piece));
            surface.push(([lower[a], lower[c], lower[b]], *piece));
            for edge in [[a, b], [b, c], [c, a]] {
                beside.insert(edge, *piece);
            }
        }
        for [a, b] in &self.rim {
            let Some(piece) = beside.get(&[*a, *b]) else { continue };
            surface.push(([lower[*a], lower[*b], upper[*b]], *piece));
            surface.push(([lower[*a], upper[*b], upper[*a]], *piece));
        }
        surface
    }
}

/// Into how many flat strips a bend is cut, so that its chords stay near its outer skin.
fn strips_of(angle: f64, outside_radius: f64, chord: f64) -> u32 {
    let widest = 2.0 * (1.0 - chord / outside_radius).max(0.9).acos();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 2..=200"
    )]
    let strips = (angle / widest).ceil().clamp(2.0, 200.0) as u32;
    strips
}

fn centre([a, b, c]: [Point; 3]) -> Point {
    Point::new((a.x + b.x + c.x) / 3.0, (a.y + b.y + c.y) / 3.0)
}

/// Whether a polygon holds a point.
fn contains(polygon: &[Point], p: Point) -> bool {
    let next = polygon.iter().cycle().skip(1);
    polygon.iter().zip(next).fold(false, |inside, (a, b)| {
        let crosses =
            (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x);
        inside != crosses
    })
}

/// The face that holds a point, or whose edge is nearest to it: at an arc's chord the point may lie
/// just outside.
fn face_at(faces: &[Vec<Point>], p: Point, chord: f64) -> Option<usize> {
    if let Some(face) = faces.iter().position(|face| contains(face, p)) {
        return Some(face);
    }
    let distance = |face: &Vec<Point>| {
        let next = face.iter().cycle().skip(1);
        face.iter()
            .zip(next)
            .map(|(a, b)| distance_to_line(*a, *b, p))
            .fold(f64::INFINITY, f64::min)
    };
    let nearest =
        (0..faces.len()).map(|i| (distance(&faces[i]), i)).min_by(|a, b| a.0.total_cmp(&b.0))?;
    (nearest.0 < 4.0 * chord).then_some(nearest.1)
}

fn distance_to_line(a: Point, b: Point, p: Point) -> f64 {
    let along = b - a;
    let share = ((p - a).dot(along) / along.hypot2().max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
    p.distance(a + along * share)
}

/// Points and lines that are being joined to a net.
#[derive(Default)]
struct Net {
    points: Vec<Point>,
    /// Points by the square of the grid they lie in.
    grid: BTreeMap<(i64, i64), Vec<usize>>,
    rim: Vec<[usize; 2]>,
    lines: Vec<[Point; 2]>,
}

/// Corners, triangles and rim of a net.
type Triangulated = (Vec<Point>, Vec<[usize; 3]>, Vec<[usize; 2]>);

impl Net {
    /// The number of the point there, a new one if there is none.
    fn point(&mut self, p: Point) -> usize {
        // Squares far wider than the distance at which points are one: the four around a corner
        // hold all that can be.
        const SQUARE: f64 = 1e-3;
        #[expect(
            clippy::cast_possible_truncation,
            reason = "coordinates of parts stay below 1e8 mm"
        )]
        let square = |x: f64| (x / SQUARE).floor() as i64;
        for dx in [-SAME_VERTEX, SAME_VERTEX] {
            for dy in [-SAME_VERTEX, SAME_VERTEX] {
                let near = self.grid.get(&(square(p.x + dx), square(p.y + dy)));
                if let Some(found) = near
                    .and_then(|all| all.iter().find(|i| self.points[**i].distance(p) < SAME_VERTEX))
                {
                    return *found;
                }
            }
        }
        self.points.push(p);
        self.grid.entry((square(p.x), square(p.y))).or_default().push(self.points.len() - 1);
        self.points.len() - 1
    }

    fn add_outline(&mut self, outline: &Polyarc, chord: f64) {
        let indices: Vec<usize> =
            outline.flatten(chord).into_iter().map(|p| self.point(p)).collect();
        let next = indices.iter().cycle().skip(1);
        self.rim.extend(indices.iter().zip(next).map(|(a, b)| [*a, *b]).filter(|[a, b]| a != b));
    }

    fn add_line(&mut self, from: Point, to: Point) {
        self.lines.push([from, to]);
    }

    /// Cuts the rim where lines end on it or cross it. The lines come out in pieces between those
    /// places.
    fn cut(&mut self) -> Vec<[usize; 2]> {
        let mut on_rim: Vec<Vec<usize>> = vec![Vec::new(); self.rim.len()];
        let mut pieces = Vec::new();
        for [from, to] in std::mem::take(&mut self.lines) {
            let along = to - from;
            let length = along.hypot();
            let mut on_line: Vec<(f64, usize)> = Vec::new();
            for (k, cuts) in on_rim.iter_mut().enumerate() {
                let [a, b] = self.rim[k].map(|i| self.points[i]);
                let edge = b - a;
                let sine = along.cross(edge) / (length * edge.hypot());
                let mut meet = Vec::new();
                if sine.abs() > 1e-9 {
                    let share = (a - from).cross(edge) / along.cross(edge);
                    let place = from + along * share;
                    if distance_to_line(a, b, place) < SAME_VERTEX
                        && distance_to_line(from, to, place) < SAME_VERTEX
                    {
                        meet.push(place);
                    }
                }
                // Corners of the rim on the line, ends of the line on the rim.
                meet.extend(
                    [a, b].into_iter().filter(|p| distance_to_line(from, to, *p) < SAME_VERTEX),
                );
                meet.extend(
                    [from, to].into_iter().filter(|p| distance_to_line(a, b, *p) < SAME_VERTEX),
                );
                for place in meet {
                    let point = self.point(place);
                    cuts.push(point);
                    on_line.push(((self.points[point] - from).dot(along) / length, point));
                }
            }
            on_line.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            on_line.dedup_by_key(|(_, point)| *point);
            pieces.extend(on_line.windows(2).map(|pair| [pair[0].1, pair[1].1]));
        }
        let mut rim = Vec::new();
        for (edge, cuts) in self.rim.iter().zip(on_rim) {
            let [a, b] = edge.map(|i| self.points[i]);
            let mut stops: Vec<(f64, usize)> = cuts
                .into_iter()
                .chain(*edge)
                .map(|i| ((self.points[i] - a).dot(b - a), i))
                .collect();
            stops.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            stops.dedup_by_key(|(_, point)| *point);
            rim.extend(stops.windows(2).map(|pair| [pair[0].1, pair[1].1]));
        }
        self.rim = rim;
        pieces
    }

    fn triangulated(mut self) -> Option<Triangulated> {
        let pieces = self.cut();
        let rim = std::mem::take(&mut self.rim);
        let polygon: Vec<[Point; 2]> =
            rim.iter().map(|edge| edge.map(|i| self.points[i])).collect();
        let inside = |p: Point| {
            polygon.iter().fold(false, |inside, [a, b]| {
                let crosses = (a.y > p.y) != (b.y > p.y)
                    && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x);
                inside != crosses
            })
        };
        let mut known: BTreeSet<[usize; 2]> =
            rim.iter().map(|[a, b]| [*a.min(b), *a.max(b)]).collect();
        let mut edges: Vec<[usize; 2]> = rim.clone();
        for [a, b] in pieces {
            let middle = self.points[a].midpoint(self.points[b]);
            if known.insert([a.min(b), a.max(b)]) && inside(middle) {
                edges.push([a, b]);
            }
        }
        // The triangulation takes no numbers beyond its range, tiny ones included: those are as
        // good as 0.
        let snapped = |x: f64| if x.abs() < 1e-12 { 0.0 } else { x };
        let points: Vec<Point2<f64>> =
            self.points.iter().map(|p| Point2::new(snapped(p.x), snapped(p.y))).collect();
        let mut is_crossing = false;
        let mesh = ConstrainedDelaunayTriangulation::<Point2<f64>>::try_bulk_load_cdt(
            points,
            edges.clone(),
            |_| is_crossing = true,
        )
        .ok()?;
        let is_edge = |[a, b]: &[usize; 2]| {
            let [a, b] = [a, b].map(|i| FixedVertexHandle::from_index(*i));
            mesh.get_edge_from_neighbors(a, b)
                .is_some_and(|edge| mesh.is_constraint_edge(edge.fix().as_undirected()))
        };
        if is_crossing || !edges.iter().all(is_edge) {
            return None;
        }
        let all: Vec<[usize; 3]> = mesh
            .inner_faces()
            .map(|face| face.vertices().map(|vertex| vertex.fix().index()))
            .collect();
        let triangles = left_of_rim(&all, &rim);
        (!triangles.is_empty()).then_some((self.points, triangles, rim))
    }
}

/// The triangles on the left of the rim, and all that are joined to them by other edges than the
/// rim's. This asks for no place of any point, so that slivers between points in one line go where
/// they belong.
fn left_of_rim(triangles: &[[usize; 3]], rim: &[[usize; 2]]) -> Vec<[usize; 3]> {
    let edges = |t: usize| {
        let [a, b, c] = triangles[t];
        [[a, b], [b, c], [c, a]]
    };
    let by_edge: BTreeMap<[usize; 2], usize> =
        (0..triangles.len()).flat_map(|t| edges(t).map(|edge| (edge, t))).collect();
    let fence: BTreeSet<[usize; 2]> = rim.iter().copied().collect();
    let mut is_inside = vec![false; triangles.len()];
    let mut open: Vec<usize> = rim.iter().filter_map(|edge| by_edge.get(edge).copied()).collect();
    while let Some(t) = open.pop() {
        if std::mem::replace(&mut is_inside[t], true) {
            continue;
        }
        open.extend(
            edges(t)
                .iter()
                .filter(|edge| !fence.contains(*edge))
                .filter_map(|[a, b]| by_edge.get(&[*b, *a])),
        );
    }
    triangles
        .iter()
        .zip(is_inside)
        .filter_map(|(corners, inside)| inside.then_some(*corners))
        .collect()
}
