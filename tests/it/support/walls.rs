//! Lines that walls stand on, for the tests and benches of the forming solve. Millimetres.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts of a few hundred samples, rounded on purpose"
)]

use planish::geom::mesh_wall::TangentSample;
use std::f64::consts::{FRAC_PI_2, PI};

/// `count` samples of an arc about `centre` from angle `from` up to but without `to`; the wall
/// outside it (`outward` 1) or inside (−1).
pub(crate) fn arc(
    centre: [f64; 2],
    radius: f64,
    [from, to]: [f64; 2],
    outward: f64,
    count: usize,
    wall_length: f64,
) -> Vec<TangentSample> {
    (0..count)
        .map(|i| {
            let (sin, cos) = (from + (to - from) * i as f64 / count as f64).sin_cos();
            TangentSample {
                point: [centre[0] + radius * cos, centre[1] + radius * sin],
                outward: [outward * cos, outward * sin],
                curvature: outward / radius,
                wall_length,
            }
        })
        .collect()
}

/// Kidney: a stadium bent to a ring's part. Ends of radius 50, outer wall on 190, inner one
/// (concave) on 90, 80° each, 20 high, middle bend radius 3.9; columns about `size` apart. Starts
/// in the middle of the outer arc.
pub(crate) fn kidney(size: f64) -> Vec<TangentSample> {
    let (bend, half, up) = (3.9, 40_f64.to_radians(), FRAC_PI_2);
    let wall = 20.0 - bend;
    let end = |angle: f64| [140.0 * angle.cos(), 140.0 * angle.sin()];
    let half_count = |length: f64| (0.5 * length / size).ceil() as usize;
    let outer = half_count(190.0 * 2.0 * half);
    let mut samples = arc([0.0; 2], 190.0 - bend, [up, up + half], 1.0, outer, wall);
    samples.extend(arc(
        end(up + half),
        50.0 - bend,
        [up + half, up + half + PI],
        1.0,
        2 * half_count(50.0 * PI),
        wall,
    ));
    samples.extend(arc(
        [0.0; 2],
        90.0 + bend,
        [up + half, up - half],
        -1.0,
        2 * half_count(90.0 * 2.0 * half),
        wall,
    ));
    samples.extend(arc(
        end(up - half),
        50.0 - bend,
        [up - half - PI, up - half],
        1.0,
        2 * half_count(50.0 * PI),
        wall,
    ));
    samples.extend(arc([0.0; 2], 190.0 - bend, [up - half, up], 1.0, outer, wall));
    samples
}
