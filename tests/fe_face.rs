//! Faces that strain with their walls: an unclamped cup, and a dome against its own ordinary differential equation.
//!
//! Lengths in mm, stresses in MPa, strains logarithmic.

#![allow(clippy::doc_markdown, reason = "formulas stand in the doc comments as plain text")]

use planish::fe::law::SheetLaw;
use planish::fe::membrane::{Membrane, Settings, Solution, hold_rigidly};
use planish::fe::metric::formed_edges;
use planish::fe::wall::{Face, shell_membrane, wall_membrane};
use planish::geom::mesh_face::{FaceMesh, mesh_face};
use planish::geom::mesh_wall::{WallShape, mesh_wall};
use std::f64::consts::{FRAC_PI_2, TAU};
use walls::arc;

mod walls;

const LAW: SheetLaw = SheetLaw { strength_mpa: 1000.0, hardening: 0.17, anisotropy: 1.0, elastic_modulus_mpa: 205_000.0 };

fn solved(membrane: &Membrane) -> Solution {
    membrane.solve(&Settings::default()).unwrap_or_else(|why| panic!("{why}"))
}

fn disc(radius: f64, count: usize, size: f64) -> FaceMesh {
    let circle = (0..count)
        .map(|i| {
            let (sin, cos) = (TAU * i as f64 / count as f64).sin_cos();
            [radius * cos, radius * sin]
        })
        .collect();
    mesh_face(&[circle], size).expect("a disc")
}

/// A round face that is not clamped is pulled alike in all directions by its wall: the one field of strain in balance with a
/// uniform pull on the rim of a flat disc is e1 = e2, the same everywhere. The wall's rim stays round, and the blank is
/// smaller than with the face clamped, for the face gives metal to the wall.
#[test]
fn an_unclamped_round_face_stretches_alike_everywhere() {
    // Hardening from the first: a sheet of n 0.17 would stay elastic in the face.
    let law = SheetLaw { hardening: 0.45, ..LAW };
    let (radius, count) = (46.0, 60);
    let samples = arc([0.0; 2], radius, [0.0, TAU], 1.0, count, 20.0);
    let shape = WallShape { bend_mid_radius: 25.0, bend_angle: FRAC_PI_2, bend_rows: 8, wall_rows: 5 };
    let wall = mesh_wall(&samples, true, &shape).expect("a wall");
    let face = disc(radius, count, 5.0);
    let positions: Vec<[f64; 3]> = face.points.iter().map(|p| [p[0], p[1], 0.0]).collect();
    let normals = vec![[0.0, 0.0, 1.0]; positions.len()];
    let surface = Face { plan: &face.points, positions: &positions, normals: &normals, triangles: &face.triangles };
    let shell = shell_membrane(&surface, &[(&wall, &samples)], 1.0, &law, 1.8).expect("a shell");
    let solution = solved(&shell.membrane);
    let states = &solution.triangles[..face.triangles.len()];
    let mean = states.iter().map(|state| 0.5 * (state.e1 + state.e2)).sum::<f64>() / states.len() as f64;
    assert!(mean > 5e-4 && mean < 0.05, "{mean}");
    let inner = |index: &usize| {
        face.triangles[*index].iter().all(|node| face.points[*node][0].hypot(face.points[*node][1]) < 0.85 * radius)
    };
    for state in (0..states.len()).filter(inner).map(|index| states[index]) {
        assert!((state.e1 - mean).abs() < 0.03 * mean && (state.e2 - mean).abs() < 0.03 * mean, "{state:?} for {mean}");
    }
    let edge: Vec<[f64; 2]> =
        (0..count).map(|column| solution.flat[shell.wall_nodes[0][wall.node(column, wall.rows - 1)]]).collect();
    let centre = edge.iter().fold([0.0; 2], |c, p| [c[0] + p[0] / count as f64, c[1] + p[1] / count as f64]);
    let radii: Vec<f64> = edge.iter().map(|p| (p[0] - centre[0]).hypot(p[1] - centre[1])).collect();
    let (least, most) = radii.iter().fold((f64::INFINITY, 0.0_f64), |(a, b), r| (a.min(*r), b.max(*r)));
    assert!(most - least < 0.15, "{least} to {most}");
    let clamped = solved(&wall_membrane(&wall, &samples, 1.0, &law, 1.8).expect("a wall"));
    let clamped_radius = (0..count).map(|column| clamped.flat[wall.node(column, wall.rows - 1)]).map(|p| p[0].hypot(p[1]));
    let (free, held) = (radii.iter().sum::<f64>() / count as f64, clamped_radius.sum::<f64>() / count as f64);
    assert!(free < held - 0.5 * radius * mean && free > held - 2.0 * radius * mean, "{free} for {held}");
}

/// Radius of the flat blank of a spherical cap with a free rim, and the strain at its pole: the balance
/// d(T ρ)/ds = T_h dρ/ds, dR/ds = exp(−e_s), ρ = S sin(s/S), integrated from the pole (e_s = e_h = e0) by the classical
/// Runge-Kutta method, e0 found by bisection so that σ_s = 0 at the rim.
fn dome(sphere: f64, arc_length: f64) -> (f64, f64) {
    let (c, m, n) = (LAW.anisotropy_factor(), LAW.mixed_factor(), LAW.hardening);
    let d0 = LAW.meeting_strain();
    let slope = |s: f64, [flat, e_s]: [f64; 2]| {
        let (radius, turn) = (sphere * (s / sphere).sin(), (s / sphere).cos());
        let e_h = (radius / flat).ln();
        let e_h_slope = turn / radius - (-e_s).exp() / flat;
        let q = c * (e_s * e_s + e_h * e_h + m * e_s * e_h);
        let g = 0.5 * c * (n - 1.0) / (q + d0 * d0);
        let (a_s, a_h) = (2.0 * e_s + m * e_h, 2.0 * e_h + m * e_s);
        let right = (a_h - a_s) * turn / radius - (m + g * a_s * a_h - a_s) * e_h_slope;
        [(-e_s).exp(), right / (2.0 + g * a_s * a_s - a_s)]
    };
    let shoot = |pole: f64| {
        // Off the pole by a little: there the strains are still those of the pole.
        let steps = 20_000;
        let mut s = 1e-3;
        let h = (arc_length - s) / f64::from(steps);
        let mut y = [sphere * (s / sphere).sin() * (-pole).exp(), pole];
        for _ in 0..steps {
            let at = |by: f64, k: [f64; 2]| [y[0] + by * k[0], y[1] + by * k[1]];
            let k1 = slope(s, y);
            let k2 = slope(s + 0.5 * h, at(0.5 * h, k1));
            let k3 = slope(s + 0.5 * h, at(0.5 * h, k2));
            let k4 = slope(s + h, at(h, k3));
            y = std::array::from_fn(|i| y[i] + h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]));
            s += h;
        }
        let e_h = (sphere * (s / sphere).sin() / y[0]).ln();
        (2.0 * y[1] + m * e_h, y[0])
    };
    let (mut low, mut high) = (0.0, 0.1);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if shoot(middle).0 < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    (shoot(low).1, low)
}

/// A crowned face: a cap of a sphere of radius 150 on a rim of radius 60 (12.5 high), with no wall and a free rim.
#[test]
fn a_dome_agrees_with_its_differential_equation() {
    let (sphere, rim) = (150.0_f64, 60.0);
    let (flat_radius, pole) = dome(sphere, sphere * (rim / sphere).asin());
    let mut last = f64::INFINITY;
    for (count, size) in [(48, 8.0), (96, 4.0)] {
        let face = disc(rim, count, size);
        let height = |p: &[f64; 2]| (sphere * sphere - p[0] * p[0] - p[1] * p[1]).sqrt();
        let positions: Vec<[f64; 3]> = face.points.iter().map(|p| [p[0], p[1], height(p)]).collect();
        let normals: Vec<[f64; 3]> = positions.iter().map(|p| p.map(|x| x / sphere)).collect();
        let formed = formed_edges(&positions, &normals, &face.triangles).expect("good triangles");
        let held = hold_rigidly(&face.points, 0, count / 2);
        let membrane = Membrane { triangles: face.triangles, formed, start: face.points, held, law: LAW, thickness: 1.8 };
        let solution = solved(&membrane);
        let edge = &solution.flat[..count];
        let area: f64 =
            (0..count).map(|i| (edge[i], edge[(i + 1) % count])).map(|(a, b)| 0.5 * (a[0] * b[1] - a[1] * b[0])).sum();
        // Radius of the circle through a regular polygon of this area.
        let found = (area / (0.5 * count as f64 * (TAU / count as f64).sin())).sqrt();
        let error = (found - flat_radius).abs();
        assert!(error < 0.5 * last && error < 2e-3 * flat_radius, "{found} for {flat_radius}, {error} after {last}");
        last = error;
        let middle = (0..membrane.triangles.len())
            .min_by(|a, b| {
                let far = |i: &usize| {
                    let [p, q, r] = membrane.triangles[*i].map(|node| membrane.start[node]);
                    (p[0] + q[0] + r[0]).hypot(p[1] + q[1] + r[1])
                };
                far(a).total_cmp(&far(b))
            })
            .expect("triangles");
        assert!((solution.triangles[middle].e1 - pole).abs() < 0.1 * pole, "{:?} for {pole}", solution.triangles[middle]);
    }
    assert!(last < 3e-4 * flat_radius, "{last}");
}
