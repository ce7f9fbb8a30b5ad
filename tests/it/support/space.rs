//! Points and surfaces in space, worked out apart from the program.

use std::collections::BTreeMap;

/// A place or a direction: x, y, z.
pub(crate) type V = [f64; 3];

/// `a` and `times` of `b`.
pub(crate) fn add(a: V, b: V, times: f64) -> V {
    [a[0] + b[0] * times, a[1] + b[1] * times, a[2] + b[2] * times]
}

pub(crate) fn sub(a: V, b: V) -> V {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

pub(crate) fn dot(a: V, b: V) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub(crate) fn cross(a: V, b: V) -> V {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

pub(crate) fn norm(a: V) -> f64 {
    dot(a, a).sqrt()
}

pub(crate) fn unit(a: V) -> V {
    let norm = norm(a);
    a.map(|x| x / norm)
}

/// Whether each edge of a surface's triangles is walked once each way.
pub(crate) fn is_closed(surface: &[[V; 3]]) -> bool {
    let key = |p: V| p.map(|x| (x + 0.0).to_bits());
    let mut edges: BTreeMap<_, i32> = BTreeMap::new();
    for [a, b, c] in surface {
        for (from, to) in [(a, b), (b, c), (c, a)] {
            let (from, to) = (key(*from), key(*to));
            *edges.entry((from.min(to), from.max(to))).or_default() +=
                if from < to { 1 } else { -1 };
        }
    }
    edges.values().all(|count| *count == 0)
}

/// Volume inside a closed surface, by the tetrahedra from the origin.
pub(crate) fn volume(surface: &[[V; 3]]) -> f64 {
    surface.iter().map(|[a, b, c]| dot(*a, cross(*b, *c)) / 6.0).sum()
}

/// The lines in which a surface is cut where x is `at`. Of a surface that faces out each is walked
/// from where its triangle passes that plane forward to where it comes back, so that seen along x
/// the inside lies on one hand all round.
pub(crate) fn cut_at(surface: &[[V; 3]], at: f64) -> Vec<(V, V)> {
    let mut lines = Vec::new();
    for [a, b, c] in surface {
        let passes = |p: &V, q: &V| {
            let share = (at - p[0]) / (q[0] - p[0]);
            std::array::from_fn(|k| p[k] + (q[k] - p[k]) * share)
        };
        let sides = [(a, b), (b, c), (c, a)];
        let forward = sides.iter().find(|(p, q)| p[0] < at && q[0] >= at);
        let back = sides.iter().find(|(p, q)| p[0] >= at && q[0] < at);
        if let (Some((p, q)), Some((r, s))) = (forward, back) {
            lines.push((passes(p, q), passes(r, s)));
        }
    }
    lines
}
