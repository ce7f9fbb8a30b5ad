//! Faces that strain: a dome against its own ordinary differential equation.
//!
//! Lengths in mm, stresses in MPa, strains logarithmic.

#![allow(clippy::doc_markdown, reason = "formulas stand in the doc comments as plain text")]

use planish::fe::law::SheetLaw;
use planish::fe::membrane::{Membrane, Settings, Solution};
use planish::fe::wall::{Face, face_membrane};
use planish::geom::mesh_face::{FaceMesh, mesh_face};
use std::f64::consts::TAU;

const LAW: SheetLaw = SheetLaw {
    strength_mpa: 1000.0,
    hardening: 0.17,
    anisotropy: 1.0,
    elastic_modulus_mpa: 205_000.0,
};

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

/// Radius of the flat blank of a spherical cap with a free rim, and the strain at its pole: the
/// balance d(T ρ)/ds = T_h dρ/ds, dR/ds = exp(−e_s), ρ = S sin(s/S), integrated from the pole
/// (e_s = e_h = e0) by the classical Runge-Kutta method, e0 found by bisection so that σ_s = 0 at the
/// rim.
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
            y = std::array::from_fn(|i| {
                y[i] + h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i])
            });
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

/// A crowned face: a cap of a sphere of radius 150 on a rim of radius 60 (12.5 high), with no wall
/// and a free rim.
#[test]
fn a_dome_agrees_with_its_differential_equation() {
    let (sphere, rim) = (150.0_f64, 60.0);
    let (flat_radius, pole) = dome(sphere, sphere * (rim / sphere).asin());
    let mut last = f64::INFINITY;
    for (count, size) in [(48, 8.0), (96, 4.0)] {
        let face = disc(rim, count, size);
        let height = |p: &[f64; 2]| (sphere * sphere - p[0] * p[0] - p[1] * p[1]).sqrt();
        let positions: Vec<[f64; 3]> =
            face.points.iter().map(|p| [p[0], p[1], height(p)]).collect();
        let normals: Vec<[f64; 3]> = positions.iter().map(|p| p.map(|x| x / sphere)).collect();
        let surface = Face {
            plan: &face.points,
            positions: &positions,
            normals: &normals,
            triangles: &face.triangles,
        };
        let membrane = face_membrane(&surface, &LAW, 1.8).expect("good triangles");
        let solution = solved(&membrane);
        let edge = &solution.flat[..count];
        let area: f64 = (0..count)
            .map(|i| (edge[i], edge[(i + 1) % count]))
            .map(|(a, b)| 0.5 * (a[0] * b[1] - a[1] * b[0]))
            .sum();
        // Radius of the circle through a regular polygon of this area.
        let found = (area / (0.5 * count as f64 * (TAU / count as f64).sin())).sqrt();
        let error = (found - flat_radius).abs();
        assert!(
            error < 0.5 * last && error < 2e-3 * flat_radius,
            "{found} for {flat_radius}, {error} after {last}"
        );
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
        assert!(
            (solution.triangles[middle].e1 - pole).abs() < 0.1 * pole,
            "{:?} for {pole}",
            solution.triangles[middle]
        );
    }
    assert!(last < 3e-4 * flat_radius, "{last}");
}
