//! Where a folded sheet runs into itself.

use std::collections::BTreeMap;

use super::fold_tree::{FoldTree, Folding};
use super::sheet_mesh::{Piece, SheetMesh, SpaceTriangle};
use crate::geom::space::{Space, SpaceBox, cross, dot, minus, plus, times};
use crate::tolerance::TOUCHING;

/// Two pieces of one sheet in the same place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Collision {
    /// The pieces, the earlier one first.
    pub pieces: [Piece; 2],
    /// A place in space where one runs into the other.
    pub at: Space,
}

/// The pieces of the folded sheet that run into each other, each pair once. The metal is taken a
/// little thinner than it is, so that faces that touch do not count.
///
/// Two solids share room when an edge of one passes through a side of the other; neighbours in the
/// tree are left out.
#[must_use]
pub fn collisions(mesh: &SheetMesh, folding: &Folding) -> Vec<Collision> {
    let thickness = folding.tree.thickness;
    let thin = TOUCHING.min(thickness / 4.0);
    let mut solids: BTreeMap<Piece, Vec<SpaceTriangle>> = BTreeMap::new();
    for (triangle, piece) in mesh.surface_between(folding, thin, thickness - thin) {
        solids.entry(piece).or_default().push(triangle);
    }
    let pieces: Vec<(&Piece, &Vec<SpaceTriangle>, SpaceBox)> = solids
        .iter()
        .map(|(piece, triangles)| (piece, triangles, SpaceBox::about(triangles.iter().flatten())))
        .collect();
    let mut found = Vec::new();
    for (i, (one, first, first_box)) in pieces.iter().enumerate() {
        for (two, second, second_box) in &pieces[i + 1..] {
            if !first_box.meets(second_box) || are_neighbours(folding.tree, **one, **two) {
                continue;
            }
            let at = edge_through(first, second, second_box)
                .or_else(|| edge_through(second, first, first_box));
            found.extend(at.map(|at| Collision { pieces: [**one, **two], at }));
        }
    }
    found
}

/// A place where two solids, given by their surfaces, run into each other: an edge of one passes
/// through a side of the other.
#[must_use]
pub fn solids_meet(one: &[SpaceTriangle], two: &[SpaceTriangle]) -> Option<Space> {
    let boxes = [one, two].map(|solid| SpaceBox::about(solid.iter().flatten()));
    if !boxes[0].meets(&boxes[1]) {
        return None;
    }
    edge_through(one, two, &boxes[1]).or_else(|| edge_through(two, one, &boxes[0]))
}

/// Whether two pieces share a tangent line, or are both bent up from (or carry) one face side by
/// side.
fn are_neighbours(tree: &FoldTree, one: Piece, two: Piece) -> bool {
    match (one, two) {
        (Piece::Face(face), Piece::Bend(bend)) | (Piece::Bend(bend), Piece::Face(face)) => {
            tree.bends[bend].parent == face || tree.bends[bend].child == face
        }
        _ => false,
    }
}

/// A place where an edge of `edges` passes through a triangle of `walls`.
fn edge_through(
    edges: &[SpaceTriangle],
    walls: &[SpaceTriangle],
    walls_box: &SpaceBox,
) -> Option<Space> {
    let boxes: Vec<SpaceBox> = walls.iter().map(SpaceBox::about).collect();
    edges.iter().flat_map(|[a, b, c]| [[*a, *b], [*b, *c], [*c, *a]]).find_map(|[from, to]| {
        let reach = SpaceBox::about(&[from, to]);
        if !reach.meets(walls_box) {
            return None;
        }
        walls
            .iter()
            .zip(&boxes)
            .filter(|(_, wall)| reach.meets(wall))
            .find_map(|(wall, _)| pierces(from, to, wall))
    })
}

/// Where the line from `from` to `to` passes through the inside of a triangle, both ends clear of
/// its plane.
fn pierces(from: Space, to: Space, [a, b, c]: &SpaceTriangle) -> Option<Space> {
    let normal = cross(minus(*b, *a), minus(*c, *a));
    let size = dot(normal, normal).sqrt();
    if size < 1e-12 {
        return None;
    }
    let unit = times(normal, 1.0 / size);
    let (over, under) = (dot(minus(from, *a), unit), dot(minus(to, *a), unit));
    let clear = TOUCHING / 10.0;
    if over * under >= 0.0 || over.abs() < clear || under.abs() < clear {
        return None;
    }
    let at = plus(from, times(minus(to, from), over / (over - under)));
    let within = [(a, b), (b, c), (c, a)]
        .iter()
        .all(|(p, q)| dot(cross(minus(**q, **p), minus(at, **p)), unit) >= 0.0);
    within.then_some(at)
}
