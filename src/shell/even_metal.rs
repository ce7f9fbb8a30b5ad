//! The metal of a face's triangles without the scatter that elements of constant strain have from
//! one to the next.

use super::Metal;
use crate::geom::{Point, Vec2};

/// Terms of the parabola that is laid through the strains about a triangle.
const TERMS: usize = 6;
/// It is laid through at least so many of them.
const LEAST: usize = 12;

/// At each triangle's middle the strains there of the parabolas that lie nearest, by least squares,
/// to those of the triangles about it: the ones that share a corner with it, and the ones that
/// share a corner with those. They are true to strains that change as a parabola does. Triangles
/// about which there are too few stay as they are.
pub(super) fn even_metal(flat: &[Point], triangles: &[[usize; 3]], metal: &[Metal]) -> Vec<Metal> {
    let mut at_node: Vec<Vec<usize>> = vec![Vec::new(); flat.len()];
    for (t, corners) in triangles.iter().enumerate() {
        for node in corners {
            at_node[*node].push(t);
        }
    }
    let middles: Vec<Point> = triangles
        .iter()
        .map(|corners| {
            (corners.iter().fold(Vec2::ZERO, |sum, node| sum + flat[*node].to_vec2()) / 3.0)
                .to_point()
        })
        .collect();
    // The triangle for which each other one was taken last.
    let mut taken = vec![usize::MAX; triangles.len()];
    let mut near: Vec<usize> = Vec::new();
    let mut all = Vec::with_capacity(triangles.len());
    for (t, own) in metal.iter().enumerate() {
        near.clear();
        near.push(t);
        taken[t] = t;
        let mut first = 0;
        for _ in 0..2 {
            let last = near.len();
            for k in first..last {
                for other in triangles[near[k]].iter().flat_map(|node| &at_node[*node]) {
                    if taken[*other] != t {
                        taken[*other] = t;
                        near.push(*other);
                    }
                }
            }
            first = last;
        }
        all.push(if near.len() < LEAST {
            *own
        } else {
            even(&near, &middles, metal).unwrap_or(*own)
        });
    }
    all
}

/// The strains at the middle of the first of these triangles, of the parabolas nearest to those of
/// all.
fn even(near: &[usize], middles: &[Point], metal: &[Metal]) -> Option<Metal> {
    let at = middles[near[0]];
    let reach = near.iter().map(|k| middles[*k].distance(at)).fold(0.0, f64::max);
    // The normal equations, with both strains on their right side.
    let mut rows = [[0.0; TERMS + 2]; TERMS];
    for k in near {
        let off = (middles[*k] - at) / reach;
        let (greater, lesser) = metal[*k].strain;
        let terms = [
            1.0,
            off.x,
            off.y,
            off.x * off.x,
            off.x * off.y,
            off.y * off.y,
            greater.ln_1p(),
            lesser.ln_1p(),
        ];
        for (row, own) in rows.iter_mut().zip(terms) {
            row.iter_mut().zip(terms).for_each(|(sum, term)| *sum += own * term);
        }
    }
    // They are positive: each row is freed of all later terms from the last one up, until the first
    // stands alone.
    for pivot in (1..TERMS).rev() {
        let by = rows[pivot];
        if by[pivot] < 1e-9 {
            return None;
        }
        for row in &mut rows[..pivot] {
            let share = row[pivot] / by[pivot];
            row.iter_mut().zip(by).for_each(|(own, other)| *own -= share * other);
        }
    }
    let [greater, lesser] = [TERMS, TERMS + 1].map(|side| rows[0][side] / rows[0][0]);
    Some(Metal {
        strain: (greater.exp_m1(), lesser.exp_m1()),
        thickness_ratio: (-greater - lesser).exp(),
    })
}
