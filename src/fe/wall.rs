//! The flat blank of walls bent down round a face.
//!
//! The face is laid flat before, by itself ([`face_membrane`] where it strains), and then held by
//! its clamp: for the walls only its tangent line's nodes stand for it.

use super::law::SheetLaw;
use super::membrane::{Membrane, hold_rigidly};
use super::metric::{arc_length, bend_length, edges_from_lengths, formed_edges};
use crate::geom::mesh_wall::{TangentSample, WallMesh};

/// Smallest flat area of a triangle in the start positions, as a share of its formed one.
const LEAST_START_AREA: f64 = 0.05;
/// The start is drawn in by this factor until no triangle falls below that area.
const DRAW_IN: f64 = 0.8;
/// Draws allowed: twenty leave a hundredth of the wall's length.
const DRAW_LIMIT: usize = 20;

/// How much of its edge a start's tightest inside circle takes away, as (k + 1) c h of the closed
/// form.
const TIGHTEST_START: f64 = 0.9;

/// Why a wall makes no problem for the solver; triangles count from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WallProblemFault {
    /// The formed triangle has no area.
    Formed(usize),
    /// Laid outward the wall covers itself at this triangle, however little of it: the normals of
    /// the line cross.
    Folded(usize),
    /// The lists of the face's nodes do not belong together.
    Counts,
}

impl std::fmt::Display for WallProblemFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Formed(index) => write!(f, "formed triangle {index} has no area"),
            Self::Folded(index) => {
                write!(f, "laid outward the wall covers itself at triangle {index}")
            }
            Self::Counts => f.write_str("the lists of the face's nodes do not belong together"),
        }
    }
}

impl std::error::Error for WallProblemFault {}

/// A face as a surface: plan, formed positions and unit normals of its nodes, and triangles turning
/// left in plan.
#[derive(Debug, Clone, Copy)]
pub struct Face<'a> {
    /// Plan of the nodes, from which the solve starts.
    pub plan: &'a [[f64; 2]],
    /// Formed positions, mm.
    pub positions: &'a [[f64; 3]],
    /// Unit normals of the formed face.
    pub normals: &'a [[f64; 3]],
    /// Corners of the triangles.
    pub triangles: &'a [[usize; 3]],
}

/// Makes the membrane problem of a face by itself, its edge free: held against sliding and turning
/// only.
pub fn face_membrane(
    face: &Face,
    law: &SheetLaw,
    thickness: f64,
) -> Result<Membrane, WallProblemFault> {
    let count = face.plan.len();
    if face.positions.len() != count || face.normals.len() != count {
        return Err(WallProblemFault::Counts);
    }
    let formed = formed_edges(face.positions, face.normals, face.triangles)
        .map_err(WallProblemFault::Formed)?;
    let (at, far) = far_apart(face.plan);
    let start = face.plan.to_vec();
    Ok(Membrane {
        triangles: face.triangles.to_vec(),
        formed,
        held: hold_rigidly(&start, at, far),
        start,
        law: *law,
        thickness,
    })
}

/// Two nodes far apart: the first one's farthest, and that one's farthest.
fn far_apart(plan: &[[f64; 2]]) -> (usize, usize) {
    let farthest = |from: usize| {
        let Some(centre) = plan.get(from) else { return 0 };
        let distance = |p: &[f64; 2]| (p[0] - centre[0]).hypot(p[1] - centre[1]);
        (0..plan.len())
            .max_by(|a, b| distance(&plan[*a]).total_cmp(&distance(&plan[*b])))
            .unwrap_or(0)
    };
    let far = farthest(0);
    (far, farthest(far))
}

/// Makes the membrane problem of a meshed wall: true lengths, tangent line held, start along the
/// normals.
///
/// `stretch_of_bend`: factor λ on lengths across the bend, (Ri + K t)/(Ri + t/2). The start is the
/// closed form of a circle's wall at each column, drawn in towards the tangent line where columns
/// would cover each other (tight concave lines).
pub fn wall_membrane(
    mesh: &WallMesh,
    samples: &[TangentSample],
    stretch_of_bend: f64,
    law: &SheetLaw,
    thickness: f64,
) -> Result<Membrane, WallProblemFault> {
    let length = |a: usize, b: usize| {
        let chord =
            arc_length(mesh.positions[a], mesh.normals[a], mesh.positions[b], mesh.normals[b]);
        if mesh.in_bend(a, b) {
            bend_length(chord, mesh.up[b] - mesh.up[a], stretch_of_bend)
        } else {
            chord
        }
    };
    let edges =
        |[a, b, c]: [usize; 3]| edges_from_lengths(length(a, b), length(b, c), length(c, a));
    let formed: Vec<[[f64; 2]; 2]> = mesh
        .triangles
        .iter()
        .enumerate()
        .map(|(index, corners)| edges(*corners).ok_or(WallProblemFault::Formed(index)))
        .collect::<Result<_, _>>()?;
    let start = start(mesh, samples, &formed, stretch_of_bend, law)?;
    let held = (0..mesh.positions.len()).map(|node| [node % mesh.rows == 0; 2]).collect();
    Ok(Membrane { triangles: mesh.triangles.clone(), formed, start, held, law: *law, thickness })
}

/// Every column laid out as the wall of a circle of the curvature about it, its bend taken as sharp
/// and its edge free of force: at the developed height h of a wall on the curvature c the flat
/// distance is ((1 + (k + 1) c h)^(1/(k + 1)) - 1)/c with k = r/(1 + r), for the metal is in plain
/// tension or compression along the wall (tests/it/fe_ring.rs has the derivation's check). Drawn in
/// where columns would cover each other.
fn start(
    mesh: &WallMesh,
    samples: &[TangentSample],
    formed: &[[[f64; 2]; 2]],
    stretch_of_bend: f64,
    law: &SheetLaw,
) -> Result<Vec<[f64; 2]>, WallProblemFault> {
    let bend = mesh.up.get(mesh.bend_end - 1).copied().unwrap_or(0.0);
    let developed = |up: f64| up + (stretch_of_bend - 1.0) * up.min(bend);
    let power = 1.0 + law.anisotropy / (1.0 + law.anisotropy);
    let top = mesh.up.iter().copied().fold(0.0, f64::max);
    // Too tight for a whole circle: as tight as one may be, and drawn in if need be.
    let tightest = -TIGHTEST_START / (power * developed(top));
    let curvatures: Vec<f64> =
        curvature_about(samples, mesh.closed, top / 2.0).iter().map(|c| c.max(tightest)).collect();
    let distance = |column: usize, height: f64| {
        let curvature = curvatures[column];
        let grown = power * curvature * height;
        if grown.abs() < 1e-6 { height } else { (grown.ln_1p() / power).exp_m1() / curvature }
    };
    let mut drawn = 1.0;
    let mut folded = 0;
    for _ in 0..DRAW_LIMIT {
        let flat = mesh.laid_out(samples, |column, up| drawn * distance(column, developed(up)));
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

/// Mean curvature of the line within `reach` mm of each sample: neighbours relieve each other over
/// about a wall's height.
fn curvature_about(samples: &[TangentSample], closed: bool, reach: f64) -> Vec<f64> {
    let count = samples.len();
    let next = |i: usize, forward: bool| match (forward, closed) {
        (true, _) if i + 1 < count => Some(i + 1),
        (false, _) if i > 0 => Some(i - 1),
        (true, true) => Some(0),
        (false, true) => Some(count - 1),
        _ => None,
    };
    let apart = |a: usize, b: usize| {
        let (p, q) = (samples[a].point, samples[b].point);
        (q[0] - p[0]).hypot(q[1] - p[1])
    };
    let mean = |i: usize| {
        let (mut turned, mut length) = (0.0, 0.0);
        for forward in [false, true] {
            let (mut at, mut away) = (i, 0.0);
            while let Some(on) = next(at, forward).filter(|on| *on != i && away < reach) {
                let step = apart(at, on);
                turned += 0.5 * step * (samples[at].curvature + samples[on].curvature);
                length += step;
                away += step;
                at = on;
            }
        }
        if length > 0.0 { turned / length } else { samples[i].curvature }
    };
    (0..count).map(mean).collect()
}
