//! A finished part seen square from three sides: the edges of its solid that can be seen.

use std::collections::{BTreeMap, HashMap};

use crate::formed::SpaceTriangle;
use crate::geom::Point;
use crate::geom::space::{Space, SpaceBox, cross, dot, length, minus, plus, times};

/// Corners of triangles nearer together than that, mm, are one.
const SAME_CORNER: f64 = 1e-3;
/// Faces that meet at more than this angle have an edge between them: cosine of 25 degrees. Facets
/// of a round one do not.
const FLAT: f64 = 0.906;
/// Size of a cell in which the nearest metal is looked for, mm on the page.
const CELL: f64 = 0.12;
/// Cells along a view at most.
const MOST_CELLS: f64 = 1600.0;
/// Metal that lies behind other metal by less than this is seen, mm.
const BEHIND: f64 = 0.05;

/// From which side a part is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Above,
    Front,
    Right,
}

impl Side {
    /// What runs to the right and up the page, and toward the eye.
    const fn axes(self) -> [Space; 3] {
        let [x, y, z] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        match self {
            Self::Above => [x, y, z],
            Self::Front => [x, z, [0.0, -1.0, 0.0]],
            Self::Right => [y, z, x],
        }
    }

    /// Toward the eye.
    pub(super) const fn toward(self) -> Space {
        self.axes()[2]
    }

    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::Above => "seen from above",
            Self::Front => "seen from the front",
            Self::Right => "seen from the right",
        }
    }

    /// Where a point lies in the view, mm, y up.
    pub(super) fn place(self, p: Space) -> Point {
        let [right, up, _] = self.axes();
        Point::new(dot(p, right), dot(p, up))
    }
}

/// The edges of a solid, each with the unit normals of its faces.
#[derive(Debug)]
pub(super) struct Solid<'a> {
    triangles: &'a [SpaceTriangle],
    edges: Vec<Edge>,
    pub(super) bounds: SpaceBox,
}

#[derive(Debug)]
struct Edge {
    ends: [Space; 2],
    normals: Vec<Space>,
}

impl<'a> Solid<'a> {
    /// The solid of that surface; none where there is no surface.
    pub(super) fn of(triangles: &'a [SpaceTriangle]) -> Option<Self> {
        let bounds = SpaceBox::about(triangles.iter().flatten());
        if !bounds.low.iter().chain(&bounds.high).all(|x| x.is_finite()) {
            return None;
        }
        #[expect(clippy::cast_possible_truncation, reason = "parts are smaller than 1e15 mm")]
        let key = |p: Space| p.map(|x| (x / SAME_CORNER).round() as i64);
        let mut edges: HashMap<[[i64; 3]; 2], Edge> = HashMap::new();
        let mut order = Vec::new();
        for triangle in triangles {
            let [a, b, c] = *triangle;
            let normal = cross(minus(b, a), minus(c, a));
            let size = length(normal);
            if size < 1e-12 {
                continue;
            }
            let normal = times(normal, 1.0 / size);
            for ends in [[a, b], [b, c], [c, a]] {
                let mut keys = ends.map(key);
                keys.sort_unstable();
                let edge = edges.entry(keys).or_insert_with(|| {
                    order.push(keys);
                    Edge { ends, normals: Vec::new() }
                });
                edge.normals.push(normal);
            }
        }
        let edges = order.iter().filter_map(|keys| edges.remove(keys)).collect();
        Some(Self { triangles, edges, bounds })
    }

    /// Width and height in a view, mm.
    pub(super) fn size(&self, from: Side) -> (f64, f64) {
        let size = minus(self.bounds.high, self.bounds.low);
        match from {
            Side::Above => (size[0], size[1]),
            Side::Front => (size[0], size[2]),
            Side::Right => (size[1], size[2]),
        }
    }

    /// The lower left corner of a view, mm.
    pub(super) fn corner(&self, from: Side) -> Point {
        let ends = [self.bounds.low, self.bounds.high].map(|p| from.place(p));
        Point::new(ends[0].x.min(ends[1].x), ends[0].y.min(ends[1].y))
    }

    /// The chains of lines that are seen, mm, where the page shows 1 mm of the part as `scale` mm.
    pub(super) fn seen(&self, from: Side, scale: f64) -> Vec<Vec<Point>> {
        let toward = from.toward();
        let nearest = self.nearest(from, scale);
        let mut segments = Vec::new();
        for edge in &self.edges {
            let is_sharp = match edge.normals.as_slice() {
                [a, b] => {
                    dot(*a, *b) < FLAT || (dot(*a, toward) > 1e-9) != (dot(*b, toward) > 1e-9)
                }
                _ => true,
            };
            if is_sharp {
                segments.extend(nearest.seen_of(edge.ends));
            }
        }
        chains(&segments)
    }

    /// How near the nearest metal is in each cell of a view.
    fn nearest(&self, from: Side, scale: f64) -> Nearest {
        let (width, height) = self.size(from);
        let cell = (CELL / scale).max(width.max(height) / MOST_CELLS);
        let corner = self.corner(from);
        let count = [width, height].map(|size| whole(size / cell) + 3);
        let mut near = Nearest {
            from,
            corner,
            cell,
            count,
            depths: vec![f64::NEG_INFINITY; count[0] * count[1]],
        };
        for triangle in self.triangles {
            near.add(triangle);
        }
        near
    }
}

/// A number that is not negative without its fraction.
fn whole(value: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 0..=1e6"
    )]
    let whole = value.clamp(0.0, 1e6) as usize;
    whole
}

/// A view in cells, with the nearest metal in each.
struct Nearest {
    from: Side,
    corner: Point,
    cell: f64,
    count: [usize; 2],
    depths: Vec<f64>,
}

impl Nearest {
    /// In cells, the first cell's middle at (1, 1); and how near.
    fn place(&self, p: Space) -> (Point, f64) {
        let place = (self.from.place(p) - self.corner) / self.cell;
        (Point::new(place.x + 1.0, place.y + 1.0), dot(p, self.from.toward()))
    }

    fn add(&mut self, triangle: &SpaceTriangle) {
        let [(a, near_a), (b, near_b), (c, near_c)] = triangle.map(|p| self.place(p));
        let turn = (b - a).cross(c - a);
        if turn.abs() < 1e-9 {
            return;
        }
        let range = |values: [f64; 3], most: usize| {
            let low = values.iter().copied().fold(f64::INFINITY, f64::min);
            let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            whole(low.ceil())..(whole(high.floor()) + 1).min(most)
        };
        for j in range([a.y, b.y, c.y], self.count[1]) {
            for i in range([a.x, b.x, c.x], self.count[0]) {
                let p = Point::new(i as f64, j as f64);
                let (u, v) = ((p - a).cross(c - a) / turn, (b - a).cross(p - a) / turn);
                if u >= 0.0 && v >= 0.0 && u + v <= 1.0 {
                    let depth = near_a + (near_b - near_a) * u + (near_c - near_a) * v;
                    let cell = &mut self.depths[j * self.count[0] + i];
                    *cell = cell.max(depth);
                }
            }
        }
    }

    /// Whether a place is seen: nothing is nearer there, or just beside it.
    fn is_seen(&self, p: Space) -> bool {
        let (at, near) = self.place(p);
        let middle = [whole(at.x.round()), whole(at.y.round())];
        let around = |k: usize| middle[k].saturating_sub(1)..(middle[k] + 2).min(self.count[k]);
        around(1).any(|j| around(0).any(|i| self.depths[j * self.count[0] + i] <= near + BEHIND))
    }

    /// The parts of an edge that are seen, in the view.
    fn seen_of(&self, [from, to]: [Space; 2]) -> Vec<[Point; 2]> {
        let long = self.from.place(from).distance(self.from.place(to));
        if long < 1e-9 {
            return Vec::new();
        }
        let steps = whole(long / (1.5 * self.cell)).clamp(1, 4000);
        let place = |k: f64| plus(from, times(minus(to, from), k / steps as f64));
        let mut seen: Vec<[Point; 2]> = Vec::new();
        let mut runs_on = false;
        for k in 0..steps {
            let is_seen = self.is_seen(place(k as f64 + 0.5));
            let end = self.from.place(place((k + 1) as f64));
            match seen.last_mut() {
                Some(last) if runs_on && is_seen => last[1] = end,
                _ if is_seen => seen.push([self.from.place(place(k as f64)), end]),
                _ => {}
            }
            runs_on = is_seen;
        }
        seen
    }
}

/// Where a segment begins and ends along its line, and its ends.
type Stretch = (f64, f64, [Point; 2]);

/// Segments of which those that lie on one another are one.
fn merged(segments: &[[Point; 2]]) -> Vec<[Point; 2]> {
    // By line: its angle and how far it passes the origin, both rounded.
    let mut lines: BTreeMap<[i64; 2], Vec<Stretch>> = BTreeMap::new();
    for [from, to] in segments {
        let [from, to] = if (from.x, from.y) <= (to.x, to.y) { [from, to] } else { [to, from] };
        let way = (*to - *from).normalize();
        let place = |p: &Point| p.to_vec2().dot(way);
        #[expect(clippy::cast_possible_truncation, reason = "parts are smaller than 1e15 mm")]
        let key = [way.atan2() / 1e-4, from.to_vec2().cross(way) / 0.01].map(|x| x.round() as i64);
        lines.entry(key).or_default().push((place(from), place(to), [*from, *to]));
    }
    let mut all: Vec<[Point; 2]> = Vec::new();
    for mut line in lines.into_values() {
        line.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut reach = f64::NEG_INFINITY;
        for (start, end, ends) in line {
            match all.last_mut() {
                Some([_, last]) if start <= reach + SAME_CORNER => {
                    if end > reach {
                        (*last, reach) = (ends[1], end);
                    }
                }
                _ => {
                    all.push(ends);
                    reach = end;
                }
            }
        }
    }
    all
}

/// Segments that end where others begin, as chains.
fn chains(segments: &[[Point; 2]]) -> Vec<Vec<Point>> {
    #[expect(clippy::cast_possible_truncation, reason = "parts are smaller than 1e15 mm")]
    let key = |p: Point| [(p.x / SAME_CORNER).round() as i64, (p.y / SAME_CORNER).round() as i64];
    let long: Vec<[Point; 2]> =
        segments.iter().copied().filter(|ends| key(ends[0]) != key(ends[1])).collect();
    let once = merged(&long);
    let mut at: HashMap<[i64; 2], Vec<usize>> = HashMap::new();
    for (i, ends) in once.iter().enumerate() {
        for end in ends {
            at.entry(key(*end)).or_default().push(i);
        }
    }
    let mut used = vec![false; once.len()];
    let mut all = Vec::new();
    for start in 0..once.len() {
        if used[start] {
            continue;
        }
        used[start] = true;
        let mut chain = once[start].to_vec();
        for _ in 0..2 {
            while let Some(end) = chain.last().copied() {
                let next = at.get(&key(end)).and_then(|near| near.iter().find(|i| !used[**i]));
                let Some(next) = next.copied() else { break };
                used[next] = true;
                let [p, q] = once[next];
                chain.push(if key(p) == key(end) { q } else { p });
            }
            chain.reverse();
        }
        all.push(straightened(&chain));
    }
    all
}

/// A chain without points on the straight line between their neighbours.
fn straightened(chain: &[Point]) -> Vec<Point> {
    let mut left: Vec<Point> = Vec::with_capacity(chain.len());
    for point in chain {
        if let [.., a, b] = left.as_slice()
            && (*b - *a).cross(*point - *b).abs()
                < SAME_CORNER * (*b - *a).hypot().max((*point - *b).hypot())
            && (*b - *a).dot(*point - *b) > 0.0
        {
            left.pop();
        }
        left.push(*point);
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Polyarc, Rect, prism};

    #[test]
    fn of_a_block_behind_another_only_what_stands_out_is_seen() {
        // A low wide block with a narrow high one on it.
        let block = |rect: Rect, from: f64, to: f64| {
            prism(&Polyarc::rectangle(rect), &[], (from, to), 0.01).expect("a block")
        };
        let mut triangles = block(Rect::new(0.0, 0.0, 100.0, 60.0), 0.0, 10.0);
        triangles.extend(block(Rect::new(40.0, 20.0, 60.0, 40.0), 10.0, 50.0));
        let solid = Solid::of(&triangles).expect("a solid");
        assert_eq!(solid.size(Side::Front), (100.0, 50.0));
        let total = |from: Side| -> f64 {
            let all = solid.seen(from, 1.0);
            all.iter().flat_map(|chain| chain.windows(2)).map(|p| p[0].distance(p[1])).sum()
        };
        // Above: both outlines. Front: two rectangles, one upon the other.
        assert!((total(Side::Above) - (320.0 + 80.0)).abs() < 2.0, "{}", total(Side::Above));
        let front = total(Side::Front);
        assert!((front - (220.0 + 120.0 - 20.0)).abs() < 2.0, "{front}");
    }
}
