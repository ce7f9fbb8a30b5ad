//! The metal of a face's triangles without the scatter that elements of constant strain have from one to the next.

use std::collections::BTreeSet;

use faer::Mat;
use faer::linalg::solvers::{Qr, SolveLstsq};

use super::Metal;
use crate::geom::{Point, Vec2};

/// Terms of the parabola that is laid through the strains about a triangle.
const TERMS: usize = 6;
/// It is laid through at least so many of them.
const LEAST: usize = 12;

/// At each triangle's middle the strains there of the parabolas that lie nearest, by least squares, to those of the triangles about it: the ones
/// that share a corner with it, and the ones that share a corner with those. They are true to strains that change as a parabola does.
/// Triangles about which there are too few stay as they are.
pub(super) fn even_metal(flat: &[Point], triangles: &[[usize; 3]], metal: &[Metal]) -> Vec<Metal> {
    let mut at_node: Vec<Vec<usize>> = vec![Vec::new(); flat.len()];
    for (t, corners) in triangles.iter().enumerate() {
        for node in corners {
            at_node[*node].push(t);
        }
    }
    let middles: Vec<Point> = triangles
        .iter()
        .map(|corners| (corners.iter().fold(Vec2::ZERO, |sum, node| sum + flat[*node].to_vec2()) / 3.0).to_point())
        .collect();
    let beside = |t: usize| triangles[t].iter().flat_map(|node| at_node[*node].iter().copied());
    let even = |t: usize| {
        let near: BTreeSet<usize> = beside(t).flat_map(beside).collect();
        if near.len() < LEAST {
            return metal[t];
        }
        let near: Vec<usize> = near.into_iter().collect();
        let reach = near.iter().map(|k| middles[*k].distance(middles[t])).fold(0.0, f64::max);
        let terms = Mat::from_fn(near.len(), TERMS, |row, term| {
            let off = (middles[near[row]] - middles[t]) / reach;
            [1.0, off.x, off.y, off.x * off.x, off.x * off.y, off.y * off.y][term]
        });
        let strains = Mat::from_fn(near.len(), 2, |row, k| {
            let (greater, lesser) = metal[near[row]].strain;
            if k == 0 { greater.ln_1p() } else { lesser.ln_1p() }
        });
        let found = Qr::new(terms.as_ref()).solve_lstsq(&strains);
        let (greater, lesser) = (found[(0, 0)], found[(0, 1)]);
        Metal { strain: (greater.exp_m1(), lesser.exp_m1()), thickness_ratio: (-greater - lesser).exp() }
    };
    (0..triangles.len()).map(even).collect()
}
