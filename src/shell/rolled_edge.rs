//! The edge between a face and its wall: the surface that a ball leaves which rolls along inside
//! both.
//!
//! The ball of the outside radius R + T touches the outside of the face and that of the wall.
//! Between the two places of touch its surface is the bend, a great circle's arc square to the way
//! that its centre takes. Millimetres and radians; z over the seam plane.

use super::face::Face;
use super::wall::Wall;
use crate::geom::space::{Space, dot, plus, times};
use crate::geom::{Point, Vec2};

/// Rounds in which the place of the ball settles.
const ROUNDS: usize = 200;
/// A ball that still moves by more than this after all rounds, mm, finds no rest.
const SETTLED: f64 = 1e-7;
/// The ball is found when its place moves by no more than this, mm.
const STILL: f64 = 1e-12;

/// The section of edge and wall at one place of the profile.
#[derive(Debug, Clone, Copy)]
pub struct RolledEdge {
    /// The ball's centre.
    pub centre: Space,
    /// Unit normals of face and wall, outward.
    pub face_normal: Space,
    /// See `face_normal`.
    pub wall_normal: Space,
    /// Down the wall, square to its level lines.
    pub down: Space,
    /// Angle between the normals: what the metal turns through.
    pub bend_angle: f64,
    /// Length of the wall's outside from the bend to the seam plane.
    pub wall_length: f64,
}

impl RolledEdge {
    /// The section at `at` of the profile under a level face; `outward` is the profile's normal
    /// away from the face.
    #[must_use]
    pub fn level(wall: &Wall, at: Point, outward: Vec2) -> Self {
        let (sin, cos) = wall.lean().sin_cos();
        let centre = at - outward * wall.tangent_inset();
        Self {
            centre: [centre.x, centre.y, wall.depth - wall.inside_radius - wall.thickness],
            face_normal: [0.0, 0.0, 1.0],
            wall_normal: [outward.x * cos, outward.y * cos, sin],
            down: [outward.x * sin, outward.y * sin, -cos],
            bend_angle: wall.bend_angle,
            wall_length: wall.length(),
        }
    }

    /// The section at `at` of the profile, whose normal away from the face is `outward`; the wall
    /// leans out by `draft`. None where the ball finds no rest.
    #[must_use]
    pub fn new(
        face: &Face,
        at: Point,
        outward: Vec2,
        draft: f64,
        outside_radius: f64,
    ) -> Option<Self> {
        let (sin, cos) = draft.sin_cos();
        let mut height = face.height(at).0 - outside_radius;
        let mut over = at - outward * outside_radius;
        let mut centre = over;
        let mut normal = [0.0, 0.0, 1.0];
        let mut moved = f64::INFINITY;
        for _ in 0..ROUNDS {
            centre = at - outward * (height * sin / cos + outside_radius / cos);
            normal = face.normal(over);
            let on = centre + Vec2::new(normal[0], normal[1]) * outside_radius;
            let level = face.height(on).0 - outside_radius * face.normal(on)[2];
            moved = on.distance(over).max((level - height).abs());
            (over, height) = (on, level);
            if moved < STILL {
                break;
            }
        }
        if moved.is_nan() || moved > SETTLED {
            return None;
        }
        let wall_normal = [outward.x * cos, outward.y * cos, sin];
        let bend_angle = dot(normal, wall_normal).clamp(-1.0, 1.0).acos();
        Some(Self {
            centre: [centre.x, centre.y, height],
            face_normal: normal,
            wall_normal,
            down: [outward.x * sin, outward.y * sin, -cos],
            bend_angle,
            wall_length: (height + outside_radius * sin) / cos,
        })
    }

    /// The same section where the face stands by `tilt` nearer to the wall's direction.
    #[must_use]
    pub fn tilted(mut self, tilt: f64) -> Self {
        self.face_normal = self.normal_at(tilt);
        self.bend_angle -= tilt;
        self
    }

    /// Unit normal where the metal has turned by `angle` from the face.
    #[must_use]
    pub fn normal_at(&self, angle: f64) -> Space {
        let sin = self.bend_angle.sin();
        if sin < 1e-9 {
            return self.face_normal;
        }
        let (a, b) = ((self.bend_angle - angle).sin() / sin, angle.sin() / sin);
        plus(times(self.face_normal, a), times(self.wall_normal, b))
    }

    /// The place on the skin of radius `radius` round the ball's centre where the metal has turned
    /// by `angle`.
    #[must_use]
    pub fn round_bend(&self, radius: f64, angle: f64) -> Space {
        plus(self.centre, times(self.normal_at(angle), radius))
    }

    /// The place `down` mm down the wall from its bend on that skin.
    #[must_use]
    pub fn on_wall(&self, radius: f64, down: f64) -> Space {
        plus(plus(self.centre, times(self.wall_normal, radius)), times(self.down, down))
    }

    /// Where the face's outside touches the ball, in plan.
    #[must_use]
    pub fn touch(&self, outside_radius: f64) -> Point {
        let p = self.round_bend(outside_radius, 0.0);
        Point::new(p[0], p[1])
    }

    /// How much the way down the wall leaves the direction square to the bend: cosine and sine;
    /// `forward` is the walk along the edge.
    #[must_use]
    pub fn lean_of_wall(&self, forward: Space) -> (f64, f64) {
        // The edge's direction lies square to both normals.
        let along = crate::geom::space::cross(self.wall_normal, self.face_normal);
        let size = crate::geom::space::length(along);
        if size < 1e-9 {
            return (1.0, 0.0);
        }
        let sign = if dot(along, forward) < 0.0 { -1.0 } else { 1.0 };
        let sin = dot(self.down, times(along, sign / size));
        ((1.0 - sin * sin).max(0.0).sqrt(), sin)
    }
}
