//! Whether a face has room between its walls for the edges of both.

use super::{NoBlank, Wall};
use crate::geom::{Loop, Point, Vec2, left_of};

/// Places looked at on a side: so many in an inset's length, at most [`MOST`].
const PER_INSET: f64 = 4.0;
const MOST: f64 = 400.0;
/// Walls face each other when the cosine between their normals is below this.
const FACING: f64 = -0.8;
/// How much narrower than twice the inset may pass for rounding, mm.
const SLACK: f64 = 1e-6;

/// A place on a walled side, and the unit normal into the face.
#[derive(Clone, Copy)]
struct Place {
    side: usize,
    at: Point,
    inward: Vec2,
}

/// Refuses a face that is somewhere narrower than its two edges, measured square to one wall over
/// to the other.
pub(super) fn too_narrow(
    face: &Loop,
    has_wall: &dyn Fn(usize) -> bool,
    wall: &Wall,
) -> Result<(), NoBlank> {
    let inset = wall.tangent_inset();
    let sides: Vec<Vec<Place>> =
        (0..face.sides.len()).filter(|i| has_wall(*i)).map(|i| places(face, i, inset)).collect();
    let count = face.sides.len();
    let mut narrowest: Option<(f64, Point)> = None;
    for from in sides.iter().flatten() {
        for to in &sides {
            // Beyond a sharp corner the neighbour's wall ends where this one's begins.
            let (a, b) = (from.side, to[0].side);
            if a == b && to[0].inward == to[to.len() - 1].inward
                || (a + 1) % count == b
                || (b + 1) % count == a
            {
                continue;
            }
            for pair in to.windows(2) {
                let Some(distance) = across(from, &pair[0], &pair[1]) else { continue };
                let facing = from.inward.dot(pair[0].inward) < FACING;
                if facing
                    && distance < 2.0 * inset - SLACK
                    && narrowest.is_none_or(|(least, _)| distance < least)
                {
                    narrowest = Some((distance, from.at + from.inward * (distance / 2.0)));
                }
            }
        }
    }
    narrowest.map_or(Ok(()), |(width, at)| Err(NoBlank::TooNarrow { at, width }))
}

fn places(face: &Loop, side: usize, inset: f64) -> Vec<Place> {
    let segment = &face.sides[side].segment;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 2..=400"
    )]
    let steps = (segment.length() / inset * PER_INSET).ceil().clamp(2.0, MOST) as u32;
    (0..=steps)
        .map(|i| {
            let u = f64::from(i) / f64::from(steps);
            Place { side, at: segment.point_at(u), inward: left_of(segment.tangent_at(u)) }
        })
        .collect()
}

/// How far from a place, straight into the face, the line between two others is crossed.
fn across(from: &Place, a: &Place, b: &Place) -> Option<f64> {
    let (line, offset) = (b.at - a.at, a.at - from.at);
    let turn = from.inward.cross(line);
    if turn.abs() < 1e-12 {
        return None;
    }
    let (distance, share) = (offset.cross(line) / turn, offset.cross(from.inward) / turn);
    (distance > SLACK && (0.0..=1.0).contains(&share)).then_some(distance)
}
