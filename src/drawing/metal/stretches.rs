//! Where along the free edges the strain passes limits.

use super::surface::{FreeEdge, Node};
use crate::geom::Point;

/// A stretch of free edge whose strain lies between two limits, or beyond the last.
#[derive(Debug, Clone)]
pub(super) struct Stretch {
    pub(super) nodes: Vec<Node>,
}

impl Stretch {
    /// Whether another stretch begins or ends where this one does.
    pub(super) fn meets(&self, other: &Self) -> bool {
        let ends =
            |stretch: &Self| [stretch.nodes[0].flat, stretch.nodes[stretch.nodes.len() - 1].flat];
        ends(self).iter().any(|end| ends(other).iter().any(|place| place.distance(*end) < JOINED))
    }

    /// Whether a place of the blank lies within `reach` mm of it.
    pub(super) fn holds(&self, place: Point, reach: f64) -> bool {
        self.nodes.windows(2).any(|pair| {
            let (from, along) = (pair[0].flat, pair[1].flat - pair[0].flat);
            let share = if along.hypot2() > 0.0 {
                ((place - from).dot(along) / along.hypot2()).clamp(0.0, 1.0)
            } else {
                0.0
            };
            place.distance(from + along * share) <= reach
        })
    }
}

/// The stretches of the edges along which `measure` of the strain exceeds `over` and not `upto`,
/// cut where it passes them; stretches that meet are one.
pub(super) fn stretches(
    edges: &[FreeEdge],
    measure: impl Fn(f64) -> f64,
    over: f64,
    upto: f64,
) -> Vec<Stretch> {
    let mut all: Vec<Stretch> = Vec::new();
    for edge in edges {
        for pair in edge.windows(2) {
            let ((a, from), (b, to)) = (&pair[0], &pair[1]);
            let (from, to) = (measure(*from), measure(*to));
            // The share of the way at which the strain passes a limit; 0 and 1 are the ends
            // themselves.
            let passes = |limit: f64| (limit - from) / (to - from);
            let mut shares = vec![0.0, 1.0];
            shares.extend(
                [over, upto].map(passes).into_iter().filter(|share| (0.0..=1.0).contains(share)),
            );
            shares.sort_by(f64::total_cmp);
            for piece in shares.windows(2).filter(|piece| piece[1] > piece[0]) {
                let middle = from + (to - from) * f64::midpoint(piece[0], piece[1]);
                if middle > over && middle <= upto {
                    add_piece(&mut all, a.between(b, piece[0]), a.between(b, piece[1]));
                }
            }
        }
    }
    // A stretch over the place where a closed edge begins.
    let mut i = 0;
    while i < all.len() {
        let end = all[i].nodes[all[i].nodes.len() - 1].flat;
        match (0..all.len()).find(|k| *k != i && all[*k].nodes[0].flat.distance(end) < JOINED) {
            Some(k) => {
                let more = all.remove(k);
                let i_now = if k < i { i - 1 } else { i };
                all[i_now].nodes.extend(more.nodes.into_iter().skip(1));
                i = i_now;
            }
            None => i += 1,
        }
    }
    all
}

/// Ends of stretches that are no farther apart belong together, mm.
const JOINED: f64 = 0.05;

fn add_piece(all: &mut Vec<Stretch>, from: Node, to: Node) {
    if let Some(last) = all.last_mut()
        && last.nodes[last.nodes.len() - 1].flat.distance(from.flat) < JOINED
    {
        last.nodes.push(to);
    } else {
        all.push(Stretch { nodes: vec![from, to] });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn node(x: f64) -> Node {
        Node {
            flat: Point::new(x, 0.0),
            formed: [x, 0.0, 0.0],
            strain: (0.0, 0.0),
            thickness_ratio: 1.0,
        }
    }

    #[test]
    fn limits_are_marked_just_where_the_strain_passes_them() {
        // A roof: 0 at x = 0 and 20, 0.10 at 10.
        let edge: FreeEdge = (0..=20)
            .map(|i| (node(f64::from(i)), 0.01 * f64::from(10 - (i - 10_i32).abs())))
            .collect();
        let caution = stretches(std::slice::from_ref(&edge), |e| e, 0.025, 0.085);
        let stop = stretches(std::slice::from_ref(&edge), |e| e, 0.085, f64::INFINITY);
        let ends = |s: &Stretch| (s.nodes[0].flat.x, s.nodes[s.nodes.len() - 1].flat.x);
        let near =
            |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9;
        assert_eq!((caution.len(), stop.len()), (2, 1));
        assert!(
            near(ends(&caution[0]), (2.5, 8.5))
                && near(ends(&caution[1]), (11.5, 17.5))
                && near(ends(&stop[0]), (8.5, 11.5))
        );
        assert!(stretches(&[edge], |e| -e, 0.025, 0.085).is_empty(), "nothing shrinks here");
    }

    #[test]
    fn a_stretch_over_the_start_of_a_closed_edge_is_one() {
        let square = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0), (0.0, 0.0)];
        let at = |(x, y): (f64, f64)| Node { flat: Point::new(x, y), ..node(0.0) };
        let edge: FreeEdge =
            square.iter().zip([0.1, 0.1, 0.0, 0.1, 0.1]).map(|(p, e)| (at(*p), e)).collect();
        let found = stretches(&[edge], |e| e, 0.05, 1.0);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].nodes[0].flat, Point::new(5.0, 10.0));
        assert_eq!(found[0].nodes.last().map(|n| n.flat), Some(Point::new(10.0, 5.0)));
    }
}
