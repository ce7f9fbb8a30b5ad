//! What the metal of a shell does: along its free edges, and triangle by triangle where it was
//! solved.

use crate::fe::balance::balance;
use crate::fe::law::SheetLaw;
use crate::fe::membrane::{Membrane, Solution, TriangleState};
use crate::fe::ring::Extremes;
use crate::geom::mesh_wall::{WallMesh, shifted};
use crate::geom::{Point, space};

/// Strain and thickness of the free edge at one place, as it is when the wall is hammered: with its
/// trim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeStrain {
    /// The place on the blank's edge as cut.
    pub at: Point,
    /// The place on the net blank.
    pub net_at: Point,
    /// Distance along the outline from its start, mm.
    pub along: f64,
    /// Engineering strain of the edge as cut, positive where it grows.
    pub strain: f64,
    /// Engineering strain of the finished edge, where the trim is cut off after forming.
    pub finished: f64,
    /// Thickness at the edge as cut, over the sheet's.
    pub thickness_ratio: f64,
    /// What is known of the wall's metal there, from the tangent line to the edge as cut: the edge
    /// itself at least.
    pub metal: Extremes,
    /// Flat distance from the tangent line to the edge as cut, mm.
    pub width: f64,
    /// Radius of the outline there, mm, positive convex; infinite where straight.
    pub radius: f64,
    /// The opening whose lip the edge is, by number; none on the part's outline.
    pub lip: Option<usize>,
}

/// Walls laid flat by the forming solve, triangle by triangle, as they are hammered: with their
/// trim.
#[derive(Debug, Clone, PartialEq)]
pub struct SolvedWalls {
    /// Places of the nodes in the blank.
    pub flat: Vec<Point>,
    /// Their places on the formed middle surface, mm: x and y in the profile's plane, z square to
    /// it, 0 on the face.
    pub formed: Vec<[f64; 3]>,
    /// Corners of the triangles.
    pub triangles: Vec<[usize; 3]>,
    /// What the metal of each triangle does.
    pub metal: Vec<Metal>,
    /// How good the mesh and the balance are.
    pub quality: Quality,
}

/// How good a solution is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quality {
    /// Least angle of a formed triangle, radians.
    pub least_angle: f64,
    /// Greatest quotient of a formed triangle's longest side and the height on it.
    pub greatest_aspect: f64,
    /// Forces along the free edge that stay unbalanced, as a share of the mean force on a node
    /// ([`crate::fe::balance`]).
    pub edge_force: f64,
    /// Newton steps taken.
    pub steps: usize,
}

impl SolvedWalls {
    pub(super) fn add(&mut self, face: FaceTriangles) {
        let first = self.flat.len();
        self.flat.extend(face.flat);
        self.formed.extend(face.formed);
        self.metal.extend(face.metal);
        self.triangles
            .extend(face.triangles.into_iter().map(|corners| corners.map(|node| node + first)));
    }

    pub(crate) fn other_hand(mut self) -> Self {
        self.flat.iter_mut().for_each(|p| p.x = -p.x);
        self.formed.iter_mut().for_each(|p| p[0] = -p[0]);
        self.triangles.iter_mut().for_each(|corners| corners.swap(1, 2));
        self
    }
}

/// A face with its triangles, as [`SolvedWalls`] has those of walls.
pub(super) struct FaceTriangles {
    pub(super) flat: Vec<Point>,
    pub(super) formed: Vec<[f64; 3]>,
    pub(super) triangles: Vec<[usize; 3]>,
    pub(super) metal: Vec<Metal>,
}

/// The metal of one triangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Metal {
    /// Greater and lesser principal strain of the middle surface, engineering.
    pub strain: (f64, f64),
    /// Thickness over the sheet's.
    pub thickness_ratio: f64,
}

/// The metal of every triangle of a solution; `thickness` is the sheet's.
pub(super) fn metal_of(solution: &Solution, thickness: f64) -> Vec<Metal> {
    let metal = |state: &TriangleState| Metal {
        strain: (state.e1.exp_m1(), state.e2.exp_m1()),
        thickness_ratio: state.thickness / thickness,
    };
    solution.triangles.iter().map(metal).collect()
}

/// Thickness over the sheet's at a free edge with this logarithmic strain e along it. The sheet is
/// in plain tension or compression there, so across its thickness it strains by -e/(1 + r).
pub(super) fn edge_thickness(law: &SheetLaw, strain: f64) -> f64 {
    (-strain / (1.0 + law.anisotropy)).exp()
}

/// The metal of a free edge with this logarithmic strain along it: across it -e r/(1 + r), see
/// [`edge_thickness`].
pub(super) fn edge_metal(law: &SheetLaw, strain: f64) -> Extremes {
    Extremes::STILL.with(strain, -strain * law.anisotropy / (1.0 + law.anisotropy))
}

/// Logarithmic strain of a line of metal at each column: formed over flat length of the line on
/// both its sides. `flat` has its places in the flat, `formed` gives those on the formed middle
/// surface.
pub(super) fn strains_along(
    flat: &[Point],
    closed: bool,
    formed: &dyn Fn(usize) -> [f64; 3],
) -> Vec<f64> {
    let count = flat.len();
    (0..count)
        .map(|c| {
            let sides = [
                shifted(count, closed, c, -1).map(|i| (i, c)),
                shifted(count, closed, c, 1).map(|i| (c, i)),
            ];
            let (mut laid, mut stood) = (0.0, 0.0);
            for (a, b) in sides.into_iter().flatten() {
                laid += flat[a].distance(flat[b]);
                stood += space::length(space::minus(formed(b), formed(a)));
            }
            (stood / laid).ln()
        })
        .collect()
}

/// The formed place at a row with fractions of a column.
pub(super) fn formed_at_row(mesh: &WallMesh, column: usize, row: f64) -> [f64; 3] {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "0 <= row <= the last"
    )]
    let below = (row as usize).min(mesh.rows - 2);
    let [from, to] = [below, below + 1].map(|row| mesh.positions[mesh.node(column, row)]);
    space::plus(from, space::times(space::minus(to, from), row - below as f64))
}

/// How good a solution is; `formed` has positions and normals of the nodes.
pub(super) fn quality(
    formed: (&[[f64; 3]], &[[f64; 3]]),
    membrane: &Membrane,
    solution: &Solution,
) -> Quality {
    let (positions, normals) = formed;
    let mut quality =
        Quality { least_angle: f64::INFINITY, greatest_aspect: 0.0, edge_force: 0.0, steps: 0 };
    for corners in &membrane.triangles {
        let at = corners.map(|node| positions[node]);
        let side = |i: usize| space::length(space::minus(at[(i + 1) % 3], at[i]));
        let mut sides = [side(0), side(1), side(2)];
        sides.sort_by(f64::total_cmp);
        let [a, b, c] = sides;
        // The least angle lies across from the shortest side; twice the area is b c sin of it.
        let angle = ((b * b + c * c - a * a) / (2.0 * b * c)).clamp(-1.0, 1.0).acos();
        quality.least_angle = quality.least_angle.min(angle);
        quality.greatest_aspect = quality.greatest_aspect.max(c / (b * angle.sin()));
    }
    quality.edge_force =
        balance(membrane, solution, positions, normals).map_or(0.0, |forces| forces.free_edge);
    quality.steps = solution.record.iterations.len();
    quality
}

/// The point at a row with fractions, on the parabola through the three rows about it.
pub(super) fn between_rows(flat: &dyn Fn(usize) -> Point, row: f64, last: usize) -> Point {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 <= row <= last")]
    let middle = (row.round() as usize).clamp(1, last - 1);
    let x = row - middle as f64;
    let [a, b, c] = [middle - 1, middle, middle + 1].map(|row| flat(row).to_vec2());
    (a * (x * (x - 1.0) / 2.0) + b * (1.0 - x * x) + c * (x * (x + 1.0) / 2.0)).to_point()
}
