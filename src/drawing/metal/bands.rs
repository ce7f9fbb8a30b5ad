//! A value known at the nodes of triangles, cut into bands between levels: their areas, and the
//! lines between them.
//!
//! Within a triangle the value is linear, so that bands are cut from it by parallel lines. What
//! neighbouring triangles have in common falls away, so that an area has few outlines however many
//! triangles it is made of.

use std::collections::BTreeMap;

use crate::geom::Point;

/// A corner of a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Corner {
    /// A node.
    Node(usize),
    /// Where the value passes a level (by number) between two nodes, the lower one first.
    Crossing(usize, usize, usize),
}

/// A value over triangles.
#[derive(Debug, Clone, Copy)]
pub(super) struct Field<'a> {
    /// Places of the nodes.
    pub(super) places: &'a [Point],
    /// The value at each.
    pub(super) values: &'a [f64],
    /// Corners of the triangles, which all run the same way round.
    pub(super) triangles: &'a [[usize; 3]],
    /// The levels, rising. A value on a level counts as above it.
    pub(super) levels: &'a [f64],
}

impl Field<'_> {
    /// Which band a value lies in.
    fn band(&self, node: usize) -> usize {
        self.levels.partition_point(|level| *level <= self.values[node])
    }

    fn place(&self, corner: Corner) -> Point {
        match corner {
            Corner::Node(node) => self.places[node],
            Corner::Crossing(low, high, level) => {
                let (a, b) = (self.values[low], self.values[high]);
                let share =
                    if b > a { ((self.levels[level] - a) / (b - a)).clamp(0.0, 1.0) } else { 0.5 };
                self.places[low].lerp(self.places[high], share)
            }
        }
    }

    /// The corners of a triangle and all crossings on its sides, in order.
    fn corners(&self, triangle: [usize; 3]) -> Vec<Corner> {
        let mut corners = Vec::new();
        for k in 0..3 {
            let (from, to) = (triangle[k], triangle[(k + 1) % 3]);
            let (a, b) = (self.band(from), self.band(to));
            corners.push(Corner::Node(from));
            if a < b {
                corners.extend((a..b).map(|level| Corner::Crossing(from, to, level)));
            } else {
                corners.extend((b..a).rev().map(|level| Corner::Crossing(to, from, level)));
            }
        }
        corners
    }

    /// For each band from below the first level to above the last, its outlines; the hole of an
    /// area runs the other way round.
    pub(super) fn bands(&self) -> Vec<Vec<Vec<Point>>> {
        let mut sides: Vec<BTreeMap<(Corner, Corner), usize>> =
            vec![BTreeMap::new(); self.levels.len() + 1];
        for triangle in self.triangles {
            let corners = self.corners(*triangle);
            for (band, sides) in sides.iter_mut().enumerate() {
                let within = |corner: &&Corner| match **corner {
                    Corner::Node(node) => self.band(node) == band,
                    Corner::Crossing(_, _, level) => level == band || level + 1 == band,
                };
                let piece: Vec<Corner> = corners.iter().filter(within).copied().collect();
                for (a, b) in
                    piece.iter().zip(piece.iter().cycle().skip(1)).filter(|_| piece.len() >= 3)
                {
                    add_side(sides, *a, *b);
                }
            }
        }
        sides
            .into_iter()
            .map(|sides| self.chains(sides.into_iter().flat_map(|(side, n)| vec![side; n])))
            .collect()
    }

    /// For each level the chains along which the value is just that, the higher side to the right
    /// where triangles run counter-clockwise.
    pub(super) fn lines(&self) -> Vec<Vec<Vec<Point>>> {
        let mut sides: Vec<Vec<(Corner, Corner)>> = vec![Vec::new(); self.levels.len()];
        for triangle in self.triangles {
            let corners = self.corners(*triangle);
            for (level, sides) in sides.iter_mut().enumerate() {
                let on: Vec<usize> = (0..corners.len())
                    .filter(|i| matches!(corners[*i], Corner::Crossing(_, _, l) if l == level))
                    .collect();
                let [first, second] = on[..] else { continue };
                // Walking round, the value rises through one of the two crossings and falls through
                // the other.
                let rises = |i: usize| {
                    let before = corners[..i]
                        .iter()
                        .rev()
                        .find_map(|c| if let Corner::Node(n) = c { Some(*n) } else { None });
                    before.is_some_and(|node| self.band(node) <= level)
                };
                sides.push(if rises(first) {
                    (corners[first], corners[second])
                } else {
                    (corners[second], corners[first])
                });
            }
        }
        sides.into_iter().map(|sides| self.chains(sides.into_iter())).collect()
    }

    /// Directed sides joined end to start, closed chains ending on their first point.
    fn chains(&self, sides: impl Iterator<Item = (Corner, Corner)>) -> Vec<Vec<Point>> {
        let mut next: BTreeMap<Corner, Vec<Corner>> = BTreeMap::new();
        let mut comes_from: BTreeMap<Corner, usize> = BTreeMap::new();
        for (a, b) in sides {
            next.entry(a).or_default().push(b);
            *comes_from.entry(b).or_default() += 1;
        }
        // Open chains begin where more sides leave than arrive; what is left after them is closed.
        let open = |corner: &Corner, ends: &Vec<Corner>| {
            ends.len().saturating_sub(comes_from.get(corner).copied().unwrap_or(0))
        };
        let mut starts: Vec<Corner> =
            next.iter().flat_map(|(corner, ends)| vec![*corner; open(corner, ends)]).collect();
        starts.extend(next.iter().flat_map(|(corner, ends)| vec![*corner; ends.len()]));
        let mut chains = Vec::new();
        for start in starts {
            let mut chain = vec![start];
            let mut at = start;
            while let Some(to) = next.get_mut(&at).and_then(Vec::pop) {
                chain.push(to);
                at = to;
                if at == start {
                    break;
                }
            }
            if chain.len() > 1 {
                chains.push(chain.into_iter().map(|corner| self.place(corner)).collect());
            }
        }
        chains
    }
}

/// Adds a side; with the same side walked the other way it falls away.
fn add_side(sides: &mut BTreeMap<(Corner, Corner), usize>, a: Corner, b: Corner) {
    if let Some(count) = sides.get_mut(&(b, a)) {
        *count -= 1;
        if *count == 0 {
            sides.remove(&(b, a));
        }
    } else {
        *sides.entry((a, b)).or_default() += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::thinned;

    /// A grid of n by n squares of side 1/n, each cut in two.
    fn grid(n: usize) -> (Vec<Point>, Vec<[usize; 3]>) {
        let node = |i: usize, k: usize| i * (n + 1) + k;
        let places = (0..=n)
            .flat_map(|i| {
                (0..=n).map(move |k| Point::new(i as f64 / n as f64, k as f64 / n as f64))
            })
            .collect();
        let square = |i: usize, k: usize| {
            [
                [node(i, k), node(i + 1, k), node(i + 1, k + 1)],
                [node(i, k), node(i + 1, k + 1), node(i, k + 1)],
            ]
        };
        (places, (0..n).flat_map(|i| (0..n).flat_map(move |k| square(i, k))).collect())
    }

    fn area(outline: &[Point]) -> f64 {
        outline.windows(2).map(|pair| pair[0].to_vec2().cross(pair[1].to_vec2())).sum::<f64>() / 2.0
    }

    #[test]
    fn bands_of_a_hill_share_its_area_out_and_join_into_few_outlines() {
        let (places, triangles) = grid(40);
        let height = |p: &Point| 1.0 - ((p.x - 0.5).powi(2) + (p.y - 0.5).powi(2)).sqrt();
        let values: Vec<f64> = places.iter().map(height).collect();
        let levels = [0.5, 0.6, 0.7, 0.8];
        let bands =
            Field { places: &places, values: &values, triangles: &triangles, levels: &levels }
                .bands();
        let areas: Vec<f64> =
            bands.iter().map(|outlines| outlines.iter().map(|o| area(o)).sum()).collect();
        // The unit square, shared out without rest.
        assert!((areas.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{areas:?}");
        // Geometry: within 0.2 of the middle lies a disc, between 0.2 and 0.3 a ring; cones cut by
        // triangles of 1/40 are flat by under 1 %.
        let pi = std::f64::consts::PI;
        assert!((areas[4] - 0.04 * pi).abs() < 0.01 * 0.04 * pi, "{areas:?}");
        assert!((areas[3] - 0.05 * pi).abs() < 0.01 * 0.05 * pi, "{areas:?}");
        assert_eq!(bands[4].len(), 1);
        assert_eq!(bands[3].len(), 2, "a ring has an outline and a hole");
    }

    #[test]
    fn lines_of_a_slope_lie_at_their_values_and_run_across_in_one_piece() {
        let (places, triangles) = grid(7);
        let slope = |p: &Point| 3.0 * p.x - 2.0 * p.y;
        let values: Vec<f64> = places.iter().map(slope).collect();
        let levels = [-1.0, 0.1, 2.0];
        let field =
            Field { places: &places, values: &values, triangles: &triangles, levels: &levels };
        for (level, chains) in levels.iter().zip(field.lines()) {
            assert_eq!(chains.len(), 1, "level {level}");
            assert!(chains[0].iter().all(|p| (slope(p) - level).abs() < 1e-12), "level {level}");
        }
        // A level right through nodes cuts as one beside it does.
        let through = [slope(&places[20])];
        let field = Field { levels: &through, ..field };
        let areas: Vec<f64> =
            field.bands().iter().map(|outlines| outlines.iter().map(|o| area(o)).sum()).collect();
        assert!((areas.iter().sum::<f64>() - 1.0).abs() < 1e-12 && areas.iter().all(|a| *a > 0.0));
    }

    #[test]
    fn a_thinned_chain_stays_within_its_tolerance() {
        let chain: Vec<Point> =
            (0..200).map(|i| Point::new(f64::from(i) * 0.1, (f64::from(i) * 0.1).sin())).collect();
        let thin = thinned(&chain, 0.01);
        assert!(thin.len() < 100 && thin[0] == chain[0] && thin.last() == chain.last());
        let near = |p: &Point| {
            thin.windows(2)
                .map(|w| {
                    let along = w[1] - w[0];
                    p.distance(
                        w[0] + along * ((*p - w[0]).dot(along) / along.hypot2()).clamp(0.0, 1.0),
                    )
                })
                .fold(f64::INFINITY, f64::min)
        };
        assert!(chain.iter().all(|p| near(p) <= 0.01 + 1e-12));
    }
}
