//! The flat blank of a wall bent down round a flat, clamped face.
//!
//! The face keeps its own plan and needs no triangles: its metal is held, so only the tangent line's nodes stand for it.

use super::law::SheetLaw;
use super::membrane::Membrane;
use super::metric::{arc_length, bend_length, edges_from_lengths};
use crate::geom::mesh_wall::{TangentSample, WallMesh};

/// Smallest flat area of a triangle in the start positions, as a share of its formed one.
const LEAST_START_AREA: f64 = 0.05;
/// The start is drawn in by this factor until no triangle falls below that area.
const DRAW_IN: f64 = 0.8;
/// Draws allowed: twenty leave a hundredth of the wall's length.
const DRAW_LIMIT: usize = 20;

/// Why a wall makes no problem for the solver; triangles count from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WallProblemFault {
    /// The formed triangle has no area.
    Formed(usize),
    /// Laid outward the wall covers itself at this triangle, however little of it: the normals of the line cross.
    Folded(usize),
}

/// Makes the membrane problem of a meshed wall: true lengths, tangent line held, start unrolled along the normals.
///
/// `stretch_of_bend`: factor λ on lengths across the bend, (Ri + K t)/(Ri + t/2). The start is the unrolled wall, drawn in
/// towards the tangent line where unrolling would make it cover itself (tight concave lines).
pub fn wall_membrane(
    mesh: &WallMesh,
    samples: &[TangentSample],
    stretch_of_bend: f64,
    law: &SheetLaw,
    thickness: f64,
) -> Result<Membrane, WallProblemFault> {
    let length = |a: usize, b: usize| {
        let chord = arc_length(mesh.positions[a], mesh.normals[a], mesh.positions[b], mesh.normals[b]);
        if mesh.in_bend(a, b) { bend_length(chord, mesh.up[b] - mesh.up[a], stretch_of_bend) } else { chord }
    };
    let edges = |[a, b, c]: [usize; 3]| edges_from_lengths(length(a, b), length(b, c), length(c, a));
    let formed: Vec<[[f64; 2]; 2]> = mesh
        .triangles
        .iter()
        .enumerate()
        .map(|(index, corners)| edges(*corners).ok_or(WallProblemFault::Formed(index)))
        .collect::<Result<_, _>>()?;
    let start = start(mesh, samples, &formed, stretch_of_bend)?;
    let held = (0..mesh.positions.len()).map(|node| [node % mesh.rows == 0; 2]).collect();
    Ok(Membrane { triangles: mesh.triangles.clone(), formed, start, held, law: *law, thickness })
}

fn start(
    mesh: &WallMesh,
    samples: &[TangentSample],
    formed: &[[[f64; 2]; 2]],
    stretch_of_bend: f64,
) -> Result<Vec<[f64; 2]>, WallProblemFault> {
    let bend = mesh.up.get(mesh.bend_end - 1).copied().unwrap_or(0.0);
    let developed = |up: f64| up + (stretch_of_bend - 1.0) * up.min(bend);
    let mut drawn = 1.0;
    let mut folded = 0;
    for _ in 0..DRAW_LIMIT {
        let flat = mesh.laid_out(samples, |up| drawn * developed(up));
        let small = mesh.triangles.iter().zip(formed).position(|(corners, d)| {
            let [a, b, c] = corners.map(|node| flat[node]);
            let area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
            area < LEAST_START_AREA * drawn * d[0][0] * d[1][1]
        });
        let Some(triangle) = small else { return Ok(flat) };
        folded = triangle;
        drawn *= DRAW_IN;
    }
    Err(WallProblemFault::Folded(folded))
}
