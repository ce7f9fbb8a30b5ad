//! One membrane triangle: work, forces and stiffness of its flat position, its formed shape being
//! given.
//!
//! # Formulas
//!
//! Formed edges as the columns of d, flat ones of D (both 2 × 2, mm); G = D d⁻¹ carries the formed
//! triangle to the flat one and is linear in the unknowns. Its singular values s1 ≥ s2 give the
//! strains of forming e_i = −ln s_i. With the work density W(q) of [`SheetLaw`], the blank's
//! thickness t0 and the formed area A the triangle's work is
//!
//! * Ψ = t0 A s1 s2 W with the true volume of the flat triangle (A s1 s2 is its area), or
//! * Ψ = t0 A W with the volume frozen: a start that can't gain by letting triangles collapse.
//!
//! With l_i = ln s_i = −e_i and q_i, q_ij the derivatives of q in l:
//!
//! * true volume: Ψ_1 = t0 A s2 (W + W' q_1), Ψ_11 = t0 A (s2/s1) (W' q_1 + W'' q_1² + W' q_11),
//!   Ψ_12 = t0 A (W + W' (q_1 + q_2 + q_12) + W'' q_1 q_2);
//! * frozen: Ψ_1 = t0 A W' q_1 / s1, Ψ_11 = t0 A (W'' q_1² + W' q_11 − W' q_1) / s1²,
//!   Ψ_12 = t0 A (W'' q_1 q_2 + W' q_12) / (s1 s2).
//!
//! Gradient dΨ/dG = U diag(Ψ_1, Ψ_2) Vᵀ. The Hessian has the eigenvalues of the block (Ψ_11, Ψ_12;
//! Ψ_12, Ψ_22) on the stretches, (Ψ_1 + Ψ_2)/(s1 + s2) on the twist U (0 −1; 1 0) Vᵀ/√2 and (Ψ_1 −
//! Ψ_2)/(s1 − s2) on the flip U (0 1; 1 0) Vᵀ/√2 (eigensystem of an isotropic energy of the plane:
//! B. Smith, F. de Goes, T. Kim, ACM Trans. Graphics 38, 2019; from memory, checked against
//! differences in the tests below).

use super::law::{SheetLaw, Work};
use std::f64::consts::FRAC_1_SQRT_2;

/// Eigenvalues below this share of the largest are raised to it, so that every step goes downhill.
const LEAST_EIGENVALUE: f64 = 1e-6;
/// Stretches closer than this (relative) count as equal: the flip's quotient takes its limit Ψ_11 −
/// Ψ_12.
const EQUAL_STRETCHES: f64 = 1e-6;

/// A 2 × 2 matrix by rows.
pub(super) type Matrix = [[f64; 2]; 2];

/// Which volume the work density is counted over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Volume {
    /// t0 times the formed area, whatever the flat triangle does.
    Frozen,
    /// t0 times the flat area.
    True,
}

/// The sheet as an element sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sheet {
    pub(super) law: SheetLaw,
    /// Blank's thickness t0, mm.
    pub(super) thickness: f64,
    /// Meeting strain in force.
    pub(super) d0: f64,
    /// What that takes off every work, d0^(n+1).
    base: f64,
    pub(super) volume: Volume,
}

impl Sheet {
    /// `d0`: the meeting strain in force.
    pub(super) fn new(law: SheetLaw, thickness: f64, d0: f64, volume: Volume) -> Self {
        Self { law, thickness, d0, base: d0.powf(law.hardening + 1.0), volume }
    }

    /// As [`SheetLaw::work`] at the meeting strain in force.
    pub(super) fn work(&self, q: f64) -> Work {
        self.law.work_from(q, self.d0, self.base)
    }
}

/// Formed triangle: what stays the same while the flat one moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Element {
    /// For each corner the row g with G = Σ X gᵀ, 1/mm.
    pub(super) slopes: [[f64; 2]; 3],
    /// Formed area, mm².
    pub(super) area: f64,
}

/// Singular values and vectors of G.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    pub(super) s: [f64; 2],
    /// Columns: principal directions in the flat.
    pub(super) u: Matrix,
    /// Columns: the same directions in the formed triangle's plane.
    pub(super) v: Matrix,
}

/// Work and forces, and the stiffness if asked for.
pub(super) struct Response {
    /// Ψ, N·mm.
    pub(super) energy: f64,
    /// dΨ/dX, N: x and y of the three corners.
    pub(super) gradient: [f64; 6],
    /// Lower half of the Hessian, N/mm.
    pub(super) hessian: [[f64; 6]; 6],
}

/// Derivatives of Ψ in the stretches.
struct Slopes {
    energy: f64,
    first: [f64; 2],
    second: [f64; 3],
}

impl Stretch {
    /// Closed-form singular values of a matrix of positive determinant: G is split into a turning
    /// part (E, H) and a mirroring part (F, K), s1,2 = √(E²+H²) ± √(F²+K²).
    #[inline]
    pub(super) fn of(g: &Matrix) -> Self {
        let (e, f) = (0.5 * (g[0][0] + g[1][1]), 0.5 * (g[0][0] - g[1][1]));
        let (k, h) = (0.5 * (g[1][0] + g[0][1]), 0.5 * (g[1][0] - g[0][1]));
        let (turning, mirroring) = ((e * e + h * h).sqrt(), (f * f + k * k).sqrt());
        // The principal directions are turned by half the sum and half the difference of both
        // parts' angles.
        let ([cos_t, sin_t], [cos_m, sin_m]) =
            (half_angle(e, h, turning), half_angle(f, k, mirroring));
        let (sin_u, cos_u) = (sin_t * cos_m + cos_t * sin_m, cos_t * cos_m - sin_t * sin_m);
        let (sin_v, cos_v) = (cos_t * sin_m - sin_t * cos_m, cos_t * cos_m + sin_t * sin_m);
        Self {
            s: [turning + mirroring, turning - mirroring],
            u: [[cos_u, -sin_u], [sin_u, cos_u]],
            v: [[cos_v, -sin_v], [sin_v, cos_v]],
        }
    }
}

/// Cosine and sine of half the angle of the vector (x, y) of the given length; no angle where there
/// is no length.
#[inline]
fn half_angle(x: f64, y: f64, length: f64) -> [f64; 2] {
    if length == 0.0 {
        [1.0, 0.0]
    } else if x >= 0.0 {
        let cos = (0.5 + 0.5 * x / length).sqrt();
        [cos, 0.5 * y / (length * cos)]
    } else {
        let sin = (0.5 - 0.5 * x / length).sqrt().copysign(y);
        [0.5 * y / (length * sin), sin]
    }
}

impl Element {
    /// From the formed edges as columns of d; `None` unless they turn left with a finite, positive
    /// area.
    pub(super) fn new(edges: &Matrix) -> Option<Self> {
        let determinant = edges[0][0] * edges[1][1] - edges[0][1] * edges[1][0];
        let inverse = [
            [edges[1][1] / determinant, -edges[0][1] / determinant],
            [-edges[1][0] / determinant, edges[0][0] / determinant],
        ];
        let slopes = [
            [-inverse[0][0] - inverse[1][0], -inverse[0][1] - inverse[1][1]],
            inverse[0],
            inverse[1],
        ];
        let good = determinant > 0.0
            && determinant.is_finite()
            && slopes.as_flattened().iter().all(|x| x.is_finite());
        good.then_some(Self { slopes, area: 0.5 * determinant })
    }

    /// G for flat corners.
    pub(super) fn map(&self, flat: &[[f64; 2]; 3]) -> Matrix {
        let mut g = [[0.0; 2]; 2];
        for (corner, slope) in flat.iter().zip(&self.slopes) {
            for a in 0..2 {
                for b in 0..2 {
                    g[a][b] += corner[a] * slope[b];
                }
            }
        }
        g
    }

    /// Ψ alone; infinite if the flat triangle is turned over.
    pub(super) fn energy(&self, sheet: &Sheet, flat: &[[f64; 2]; 3]) -> f64 {
        let g = self.map(flat);
        // s1² + s2² and s1 s2 are enough; ln of both follows from the mean and the quotient.
        let determinant = g[0][0] * g[1][1] - g[0][1] * g[1][0];
        if determinant.is_nan() || determinant <= 0.0 {
            return f64::INFINITY;
        }
        let length = |x: f64, y: f64| (x * x + y * y).sqrt();
        let turning = length(g[0][0] + g[1][1], g[1][0] - g[0][1]);
        let mirroring = length(g[0][0] - g[1][1], g[1][0] + g[0][1]);
        let larger = 0.5 * (turning + mirroring);
        let (l1, l2) = (larger.ln(), (determinant / larger).ln());
        let work = sheet.work(sheet.law.equivalent_squared(l1, l2)).w;
        sheet.thickness
            * self.area
            * work
            * if sheet.volume == Volume::True { determinant } else { 1.0 }
    }

    #[inline]
    fn slopes_at(&self, sheet: &Sheet, s: [f64; 2]) -> Slopes {
        let [s1, s2] = s;
        let (l1, l2) = (s1.ln(), s2.ln());
        let (c, m) = (sheet.law.anisotropy_factor(), sheet.law.mixed_factor());
        let work = sheet.work(c * (l1 * l1 + l2 * l2 + m * l1 * l2));
        let (q1, q2) = (c * (2.0 * l1 + m * l2), c * (2.0 * l2 + m * l1));
        let (q11, q12) = (2.0 * c, c * m);
        let (w, w1, w2) = (work.w, work.w_q, work.w_qq);
        let scale = sheet.thickness * self.area;
        let (energy, first, second) = match sheet.volume {
            Volume::True => (
                s1 * s2 * w,
                [s2 * (w + w1 * q1), s1 * (w + w1 * q2)],
                [
                    s2 / s1 * (w1 * q1 + w2 * q1 * q1 + w1 * q11),
                    w + w1 * (q1 + q2 + q12) + w2 * q1 * q2,
                    s1 / s2 * (w1 * q2 + w2 * q2 * q2 + w1 * q11),
                ],
            ),
            Volume::Frozen => (
                w,
                [w1 * q1 / s1, w1 * q2 / s2],
                [
                    (w2 * q1 * q1 + w1 * q11 - w1 * q1) / (s1 * s1),
                    (w2 * q1 * q2 + w1 * q12) / (s1 * s2),
                    (w2 * q2 * q2 + w1 * q11 - w1 * q2) / (s2 * s2),
                ],
            ),
        };
        Slopes {
            energy: scale * energy,
            first: first.map(|x| scale * x),
            second: second.map(|x| scale * x),
        }
    }

    /// Ψ and its gradient alone, of flat corners that turn left.
    pub(super) fn forces(&self, sheet: &Sheet, flat: &[[f64; 2]; 3]) -> (f64, [f64; 6]) {
        let stretch = Stretch::of(&self.map(flat));
        let slopes = self.slopes_at(sheet, stretch.s);
        (slopes.energy, gradient(&slopes, &stretch, &self.along(&stretch)))
    }

    /// Each corner's slope along the principal directions of the formed triangle.
    fn along(&self, stretch: &Stretch) -> [[f64; 2]; 3] {
        let v = &stretch.v;
        self.slopes.map(|g| [g[0] * v[0][0] + g[1] * v[1][0], g[0] * v[0][1] + g[1] * v[1][1]])
    }

    /// Ψ, its gradient and its Hessian; eigenvalues below `least` times the largest are raised to
    /// that.
    fn respond(&self, sheet: &Sheet, flat: &[[f64; 2]; 3], least: f64) -> Response {
        let stretch = Stretch::of(&self.map(flat));
        let slopes = self.slopes_at(sheet, stretch.s);
        let modes = modes(&slopes, stretch.s);
        let [u0, u1] = [[stretch.u[0][0], stretch.u[1][0]], [stretch.u[0][1], stretch.u[1][1]]];
        let floor = least * modes.iter().fold(0.0, |most: f64, (value, _)| most.max(value.abs()));
        let along = self.along(&stretch);
        let gradient = gradient(&slopes, &stretch, &along);
        let mut hessian = [[0.0; 6]; 6];
        for (value, mode) in &modes {
            let value = if least > 0.0 { value.max(floor) } else { *value };
            let mut direction = [0.0; 6];
            for (corner, [g0, g1]) in along.iter().enumerate() {
                let (w0, w1) =
                    (mode[0][0] * g0 + mode[0][1] * g1, mode[1][0] * g0 + mode[1][1] * g1);
                direction[2 * corner] = u0[0] * w0 + u1[0] * w1;
                direction[2 * corner + 1] = u0[1] * w0 + u1[1] * w1;
            }
            for a in 0..6 {
                let weighted = value * direction[a];
                for b in 0..=a {
                    hessian[a][b] += weighted * direction[b];
                }
            }
        }
        Response { energy: slopes.energy, gradient, hessian }
    }

    /// Ψ, gradient and clamped Hessian of flat corners that turn left.
    pub(super) fn response(&self, sheet: &Sheet, flat: &[[f64; 2]; 3]) -> Response {
        self.respond(sheet, flat, LEAST_EIGENVALUE)
    }

    /// The same with the Hessian as it is.
    pub(super) fn true_response(&self, sheet: &Sheet, flat: &[[f64; 2]; 3]) -> Response {
        self.respond(sheet, flat, 0.0)
    }
}

fn gradient(slopes: &Slopes, stretch: &Stretch, along: &[[f64; 2]; 3]) -> [f64; 6] {
    let (p, u) = (slopes.first, &stretch.u);
    let mut gradient = [0.0; 6];
    for (corner, [g0, g1]) in along.iter().enumerate() {
        for a in 0..2 {
            gradient[2 * corner + a] = p[0] * g0 * u[a][0] + p[1] * g1 * u[a][1];
        }
    }
    gradient
}

/// Eigenvalues and eigenmatrices (in the principal frames) of d²Ψ/dG².
fn modes(slopes: &Slopes, s: [f64; 2]) -> [(f64, Matrix); 4] {
    let [s1, s2] = s;
    let [p1, p2] = slopes.first;
    let [p11, p12, p22] = slopes.second;
    let twist = (p1 + p2) / (s1 + s2);
    let flip = if s1 - s2 > EQUAL_STRETCHES * s1 {
        (p1 - p2) / (s1 - s2)
    } else {
        0.5 * (p11 + p22) - p12
    };
    let (mean, half) = (0.5 * (p11 + p22), 0.5 * (p11 - p22));
    let radius = (half * half + p12 * p12).sqrt();
    let [cos, sin] = half_angle(half, p12, radius);
    let h = FRAC_1_SQRT_2;
    [
        (mean + radius, [[cos, 0.0], [0.0, sin]]),
        (mean - radius, [[-sin, 0.0], [0.0, cos]]),
        (twist, [[0.0, -h], [h, 0.0]]),
        (flip, [[0.0, h], [h, 0.0]]),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet(volume: Volume, hardening: f64, anisotropy: f64) -> Sheet {
        let law = SheetLaw {
            strength_mpa: 1000.0,
            hardening,
            anisotropy,
            elastic_modulus_mpa: 205_000.0,
        };
        Sheet::new(law, 1.8, law.meeting_strain(), volume)
    }

    /// Flat triangles from hardly strained to badly out of shape, and turned.
    const FLATS: [[[f64; 2]; 3]; 4] = [
        [[0.1, 0.2], [3.11, 0.21], [1.02, 2.2]],
        [[0.0, 0.0], [2.6, 0.4], [0.7, 2.5]],
        [[5.0, 1.0], [4.6, 4.4], [3.2, 1.9]],
        [[-1.0, 0.0], [1.2, -2.4], [1.9, 0.3]],
    ];

    fn element() -> Element {
        Element::new(&[[3.0, 0.9], [0.0, 2.0]]).expect("turns left")
    }

    #[test]
    fn half_angles_are_those_of_their_tangent() {
        for turn in [-3.1, -1.6, -0.4, -1e-9, 0.0, 1e-9, 0.7, 1.58, 3.0] {
            let (sin, cos) = f64::sin_cos(turn);
            let [c, s] = half_angle(2.5 * cos, 2.5 * sin, 2.5);
            assert!(
                (c - (0.5 * turn).cos()).abs() < 1e-15 && (s - (0.5 * turn).sin()).abs() < 1e-15,
                "{turn}: {c} {s}"
            );
        }
        assert_eq!(half_angle(0.0, 0.0, 0.0), [1.0, 0.0]);
    }

    #[test]
    fn stretches_rebuild_the_map() {
        for flat in FLATS {
            let g = element().map(&flat);
            let Stretch { s, u, v } = Stretch::of(&g);
            assert!(s[0] >= s[1] && s[1] > 0.0);
            for a in 0..2 {
                for b in 0..2 {
                    let back: f64 = (0..2).map(|i| u[a][i] * s[i] * v[b][i]).sum();
                    assert!((back - g[a][b]).abs() < 1e-14, "{flat:?}");
                }
            }
        }
    }

    /// Gradient against central differences of the energy, Hessian against central differences of
    /// the gradient.
    #[test]
    fn derivatives_match_differences() {
        let element = element();
        for volume in [Volume::True, Volume::Frozen] {
            for (n, r) in [(0.05, 0.6), (0.17, 1.0), (0.45, 2.0)] {
                let sheet = sheet(volume, n, r);
                for flat in FLATS {
                    let here = element.true_response(&sheet, &flat);
                    assert!((here.energy / element.energy(&sheet, &flat) - 1.0).abs() < 1e-12);
                    assert_eq!(element.forces(&sheet, &flat), (here.energy, here.gradient));
                    let size = here.gradient.iter().fold(0.0, |m: f64, x| m.max(x.abs()));
                    let stiff =
                        here.hessian.as_flattened().iter().fold(0.0, |m: f64, x| m.max(x.abs()));
                    for a in 0..6 {
                        let step = 1e-5;
                        let moved = |by: f64| {
                            let mut flat = flat;
                            flat[a / 2][a % 2] += by;
                            (
                                element.energy(&sheet, &flat),
                                element.true_response(&sheet, &flat).gradient,
                            )
                        };
                        let (below, above) = (moved(-step), moved(step));
                        let slope = (above.0 - below.0) / (2.0 * step);
                        assert!(
                            (slope - here.gradient[a]).abs() < 1e-6 * size,
                            "{volume:?} {n} {r} {a}"
                        );
                        for b in 0..6 {
                            let slope = (above.1[b] - below.1[b]) / (2.0 * step);
                            assert!(
                                (slope - here.hessian[a.max(b)][a.min(b)]).abs() < 1e-5 * stiff,
                                "{volume:?} {n} {r} {a} {b}"
                            );
                        }
                    }
                }
            }
        }
    }

    /// Equal stretches: the flip's quotient is 0/0 there, and its limit must join on smoothly.
    #[test]
    fn hessian_joins_on_at_equal_stretches() {
        let element = element();
        let sheet = sheet(Volume::True, 0.17, 1.0);
        let scaled = |x: f64| [[0.0, 0.0], [3.0 * x, 0.0], [0.9 * x, 2.0 * 0.8]];
        let (at, near) = (
            element.true_response(&sheet, &scaled(0.8)).hessian,
            element.true_response(&sheet, &scaled(0.800_01)).hessian,
        );
        let stiff = at.as_flattened().iter().fold(0.0, |m: f64, x| m.max(x.abs()));
        for (a, b) in at.as_flattened().iter().zip(near.as_flattened()) {
            assert!((a - b).abs() < 1e-3 * stiff, "{a} {b}");
        }
    }

    /// No direction of a clamped Hessian goes uphill in disguise: xᵀ H x ≥ 0 for many x.
    #[test]
    fn clamped_hessian_is_positive() {
        let element = element();
        for volume in [Volume::True, Volume::Frozen] {
            let sheet = sheet(volume, 0.17, 1.0);
            for flat in FLATS {
                let hessian = element.response(&sheet, &flat).hessian;
                for seed in 0..200_u32 {
                    let x: [f64; 6] =
                        std::array::from_fn(|i| (f64::from(seed) * 1.7 + i as f64 * 2.3).sin());
                    let product: f64 = (0..6)
                        .flat_map(|a| (0..6).map(move |b| (a, b)))
                        .map(|(a, b)| x[a] * hessian[a.max(b)][a.min(b)] * x[b])
                        .sum();
                    assert!(product > -1e-6, "{volume:?} {product}");
                }
            }
        }
    }

    #[test]
    fn triangles_that_turn_right_or_have_no_area_are_refused() {
        assert!(Element::new(&[[0.9, 3.0], [2.0, 0.0]]).is_none());
        assert!(Element::new(&[[1.0, 2.0], [1.0, 2.0]]).is_none());
        assert!(Element::new(&[[f64::NAN, 0.9], [0.0, 2.0]]).is_none());
    }
}
