//! A face that is not level, as it stands and as it lies in the flat.

use super::crown::MeshedFace;
use crate::flat::one_step::Metal;
use crate::formed::{RolledEdge, ShellFace};
use crate::geom::{Point, Polyarc, Vec2};

/// The face of a shell that is not level, as it stands and as it lies in the flat; of the hand that the description has.
#[derive(Debug, Clone)]
pub struct FormedFace {
    /// Within its tangent lines and open edges, in the flat.
    pub outline: Polyarc,
    pub(super) surface: ShellFace,
    pub(super) mesh: Option<FaceMesh>,
}

/// A face that is more than unrolled.
#[derive(Debug, Clone)]
pub(super) struct FaceMesh {
    pub(super) face: MeshedFace,
    pub(super) flat: Vec<Point>,
    pub(super) metal: Vec<Metal>,
    /// Distance along the profile of each column, with the tilt of its edge.
    pub(super) tilts: Vec<(f64, f64)>,
}

impl FormedFace {
    /// Where the metal of the outside over a place in plan lies in the flat: exactly where the face unrolls, else between the solved nodes.
    #[must_use]
    pub fn flat_of(&self, over: Point) -> Point {
        match &self.mesh {
            None => self.surface.unrolled(over),
            Some(mesh) => carried(&mesh.face.over, &mesh.flat, &mesh.face.triangles, over),
        }
    }

    /// The place in plan of the outside whose metal lies there in the flat.
    #[must_use]
    pub fn plan_of(&self, flat: Point) -> Point {
        match &self.mesh {
            None => self.surface.rolled(flat),
            Some(mesh) => carried(&mesh.flat, &mesh.face.over, &mesh.face.triangles, flat),
        }
    }

    /// Height over the seam plane of the skin `under` mm below the outside, over a place in plan.
    #[must_use]
    pub fn skin_height(&self, p: Point, under: f64) -> f64 {
        let Some(mesh) = &self.mesh else { return self.surface.skin_height(p, under) };
        let face = &mesh.face;
        let Some((corners, shares)) = triangle_about(&face.over, &face.triangles, p) else { return 0.0 };
        let mean = |of: &dyn Fn(usize) -> f64| (0..3).map(|i| shares[i] * of(corners[i])).sum::<f64>();
        // The mean of the plane through the corners and of their tangent planes is true to parabolas.
        let gradient = |i: usize| Vec2::new(-face.normals[i][0], -face.normals[i][1]) / face.normals[i][2];
        let plane = mean(&|i| face.heights[i]);
        let tangent = mean(&|i| face.heights[i] + gradient(i).dot(p - face.over[i]));
        let upward = mean(&|i| face.normals[i][2]).max(0.1);
        f64::midpoint(plane, tangent) - under / upward
    }

    /// The section of edge and wall at a place of the profile, `along` mm from its start.
    #[must_use]
    pub fn edge(&self, at: Point, outward: Vec2, along: f64, draft: f64, outside_radius: f64) -> Option<RolledEdge> {
        let edge = RolledEdge::new(&self.surface, at, outward, draft, outside_radius)?;
        let Some(mesh) = &self.mesh else { return Some(edge) };
        let tilts = &mesh.tilts;
        let i = tilts.partition_point(|(place, _)| *place <= along);
        let tilt = match (i.checked_sub(1).map(|i| tilts[i]), tilts.get(i)) {
            (Some((a, p)), Some((b, q))) => p + (q - p) * (along - a) / (b - a),
            (Some((_, p)), None) => p,
            (None, Some((_, q))) => *q,
            (None, None) => 0.0,
        };
        Some(edge.tilted(tilt))
    }

    /// Slope of the face without its crown in a direction at a place in plan.
    #[must_use]
    pub fn slope(&self, p: Point, direction: Vec2) -> f64 {
        self.surface.height(p).1.dot(direction)
    }

    /// How much its run bends it at a place in plan, 1/mm.
    #[must_use]
    pub fn bend_at(&self, p: Point) -> f64 {
        self.surface.bend_at(p)
    }

    /// The face without its crown.
    #[must_use]
    pub const fn surface(&self) -> &ShellFace {
        &self.surface
    }

    /// Whether it is unrolled without strain.
    #[must_use]
    pub const fn is_unrolled(&self) -> bool {
        self.mesh.is_none()
    }
}

/// The triangle about a place, or the nearest one, with the shares of its corners.
fn triangle_about(points: &[Point], triangles: &[[usize; 3]], p: Point) -> Option<([usize; 3], [f64; 3])> {
    let shares = |corners: &[usize; 3]| {
        let [a, b, c] = corners.map(|i| points[i]);
        let whole = (b - a).cross(c - a);
        let (u, v) = ((p - a).cross(c - a) / whole, (b - a).cross(p - a) / whole);
        [1.0 - u - v, u, v]
    };
    let least = |corners: &[usize; 3]| shares(corners).into_iter().fold(f64::INFINITY, f64::min);
    let best = triangles.iter().max_by(|a, b| least(a).total_cmp(&least(b)))?;
    Some((*best, shares(best)))
}

/// Where a map of triangles carries a place.
pub(super) fn carried(from: &[Point], to: &[Point], triangles: &[[usize; 3]], p: Point) -> Point {
    let Some((corners, shares)) = triangle_about(from, triangles, p) else { return p };
    corners.iter().zip(shares).fold(Vec2::ZERO, |sum, (i, share)| sum + to[*i].to_vec2() * share).to_point()
}
