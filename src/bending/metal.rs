//! The part as it is bent: limbs, each a face with the zone of its own bend, whose place hangs on
//! the bends between it and the stroke.

use std::collections::{BTreeMap, BTreeSet};

use crate::flat::Flat;
use crate::formed::{FoldTree, Folding, Piece, SheetMesh, SpaceTriangle};
use crate::geom::Point;
use crate::geom::space::{Pose, Space};

/// How far the chords of bends and arcs may be from them, mm. Where collisions are sought metal is
/// taken so much thinner on both sides, so that what touches does not collide.
pub(super) const CHORD: f64 = 0.05;

/// The surface of a piece of sheet, by the points of its two skins.
#[derive(Debug, Clone, Default)]
struct Patch {
    points: Vec<Point>,
    /// Corners among the lower skin's points, then the upper skin's.
    triangles: Vec<[usize; 3]>,
}

/// A part's metal, piece by piece.
#[derive(Debug, Clone)]
pub struct Metal {
    mesh: SheetMesh,
    faces: Vec<Patch>,
    zones: Vec<Patch>,
    /// For each face the bends between it and the first face, as bits.
    ways: Vec<u64>,
    thin: f64,
}

/// The most bends that a search is made for.
pub(super) const MOST_BENDS: usize = 60;

impl Metal {
    /// The metal of a blank without its openings. None where it cannot be cut into triangles, or
    /// has too many bends.
    pub(super) fn new(tree: &FoldTree, flat: &Flat) -> Option<Self> {
        if tree.bends.len() > MOST_BENDS {
            return None;
        }
        let mesh = SheetMesh::with_chords(tree, &flat.outside, &[], CHORD)?;
        let faces = (0..tree.faces.len()).map(|i| patch(&mesh, Piece::Face(i))).collect();
        let zones = (0..tree.bends.len()).map(|i| patch(&mesh, Piece::Bend(i))).collect();
        let ways = (0..tree.faces.len())
            .map(|face| tree.way_to(face).iter().fold(0, |bits, bend| bits | 1_u64 << bend))
            .collect();
        Some(Self { mesh, faces, zones, ways, thin: CHORD.min(tree.thickness / 4.0) })
    }

    /// The bends on the way from face `from` to face `to`, and that of `to` itself, as bits: what
    /// `to`'s limb hangs on.
    pub(super) fn between(&self, tree: &FoldTree, from: usize, to: usize) -> u64 {
        let own = tree.faces[to].bend.map_or(0, |bend| 1_u64 << bend);
        (self.ways[from] ^ self.ways[to]) | own
    }

    /// Whether face `face` is bent up by bend `bend` or by one that it carries.
    pub(super) fn is_beyond(&self, bend: usize, face: usize) -> bool {
        self.ways[face] & (1 << bend) != 0
    }

    /// The surface of a limb in the brake for collisions, a little thinner than it is, its own zone
    /// left out where `alone`.
    pub(super) fn limb(
        &self,
        folding: &Folding,
        face: usize,
        stand: &Pose,
        alone: bool,
    ) -> Vec<SpaceTriangle> {
        self.limb_between(
            [self.thin, folding.tree.thickness - self.thin],
            folding,
            face,
            stand,
            alone,
        )
    }

    /// The surface of a limb in the brake in its real thickness, for what rests against it.
    pub(super) fn whole_limb(
        &self,
        folding: &Folding,
        face: usize,
        stand: &Pose,
    ) -> Vec<SpaceTriangle> {
        self.limb_between([0.0, folding.tree.thickness], folding, face, stand, false)
    }

    fn limb_between(
        &self,
        heights: [f64; 2],
        folding: &Folding,
        face: usize,
        stand: &Pose,
        alone: bool,
    ) -> Vec<SpaceTriangle> {
        let mut surface = Vec::new();
        let pose = stand.after(&folding.poses[face]);
        add(&mut surface, &self.faces[face], heights, |p, z| pose.at([p.x, p.y, z]));
        if let Some(bend) = folding.tree.faces[face].bend.filter(|_| !alone) {
            add(&mut surface, &self.zones[bend], heights, |p, z| {
                stand.at(folding.in_bend(bend, p, z))
            });
        }
        surface
    }

    /// The mesh of the blank, for pictures.
    #[must_use]
    pub const fn mesh(&self) -> &SheetMesh {
        &self.mesh
    }
}

/// Adds a patch with its skins at two heights over the lower face.
fn add(
    surface: &mut Vec<SpaceTriangle>,
    patch: &Patch,
    heights: [f64; 2],
    place: impl Fn(Point, f64) -> Space,
) {
    let points: Vec<Space> =
        heights.iter().flat_map(|z| patch.points.iter().map(|p| place(*p, *z))).collect();
    surface.extend(patch.triangles.iter().map(|corners| corners.map(|i| points[i])));
}

/// The closed surface of a piece but for where others join it.
fn patch(mesh: &SheetMesh, piece: Piece) -> Patch {
    let mut patch = Patch::default();
    let mut number: BTreeMap<usize, usize> = BTreeMap::new();
    let own: Vec<[usize; 3]> = mesh
        .triangles
        .iter()
        .filter(|(_, owner)| *owner == piece)
        .map(|(corners, _)| *corners)
        .collect();
    for corner in own.iter().flatten() {
        number.entry(*corner).or_insert_with(|| {
            patch.points.push(mesh.points[*corner]);
            patch.points.len() - 1
        });
    }
    let count = patch.points.len();
    let mut edges: BTreeSet<[usize; 2]> = BTreeSet::new();
    for corners in &own {
        let [a, b, c] = corners.map(|corner| number[&corner]);
        patch.triangles.push([a + count, b + count, c + count]);
        patch.triangles.push([a, c, b]);
        edges.extend([[a, b], [b, c], [c, a]]);
    }
    // The border of the piece: rim, and where it meets others, so that what lies wholly inside it
    // is found too.
    for [a, b] in edges.iter().filter(|[a, b]| !edges.contains(&[*b, *a])) {
        patch.triangles.push([*a, *b, b + count]);
        patch.triangles.push([*a, b + count, a + count]);
    }
    patch
}
