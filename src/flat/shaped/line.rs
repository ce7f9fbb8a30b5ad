//! A line of metal in the flat, known at the columns of a run: places along it are columns with fractions, between them the cubic that has
//! the points' directions.

use kurbo::CubicBez;

use crate::geom::mesh_wall::shifted;
use crate::geom::{Point, Segment, Vec2, Vertex, fit_samples, segments_between};
use crate::tolerance::{CURVE_TO_ARCS, SAME_POINT};

/// A line through the columns of a run.
#[derive(Debug, Clone)]
pub(super) struct Line {
    pub(super) points: Vec<Point>,
    directions: Vec<Vec2>,
    closed: bool,
}

/// Unit directions of a line at its points, of the parabola through each one and its neighbours.
pub(super) fn directions(points: &[Point], closed: bool) -> Vec<Vec2> {
    (0..points.len())
        .map(|c| {
            let near = |by: isize| shifted(points.len(), closed, c, by).map(|i| points[i]);
            let d = match (near(-1), near(1)) {
                (Some(a), Some(b)) => {
                    let (first, second) = (points[c] - a, b - points[c]);
                    let (h, k) = (first.hypot(), second.hypot());
                    first * (k / h) + second * (h / k)
                }
                (Some(a), None) => points[c] - a,
                (None, Some(b)) => b - points[c],
                (None, None) => Vec2::new(1.0, 0.0),
            };
            d.normalize()
        })
        .collect()
}

/// The value at a place with fractions between those of a list.
pub(super) fn between(list: &[f64], place: f64) -> f64 {
    let last = list.len() - 1;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the list")]
    let i = (place.clamp(0.0, last as f64) as usize).min(last.saturating_sub(1));
    list[i] + (list[last.min(i + 1)] - list[i]) * (place - i as f64)
}

/// The point at a column with fractions on the chord between columns.
pub(super) fn between_points(at: &dyn Fn(usize) -> Point, place: f64) -> Point {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a column or between two")]
    let i = place.max(0.0) as usize;
    let share = place - i as f64;
    if share <= 0.0 { at(i) } else { at(i).lerp(at(i + 1), share) }
}

impl Line {
    pub(super) fn through(points: Vec<Point>, closed: bool) -> Self {
        Self { directions: directions(&points, closed), points, closed }
    }

    fn spans(&self) -> usize {
        self.points.len() - usize::from(!self.closed)
    }

    fn span(&self, i: usize) -> Segment {
        let next = (i + 1) % self.points.len();
        let (a, b) = (self.points[i], self.points[next]);
        let third = a.distance(b) / 3.0;
        Segment::Curve(CubicBez::new(a, a + self.directions[i] * third, b - self.directions[next] * third, b))
    }

    /// Point and direction at a place.
    pub(super) fn at(&self, place: f64) -> (Point, Vec2) {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the spans")]
        let i = (place.max(0.0) as usize).min(self.spans() - 1);
        let u = place - i as f64;
        if u == 0.0 {
            return (self.points[i], self.directions[i]);
        }
        let span = self.span(i);
        (span.point_at(u), span.tangent_at(u))
    }

    /// Lines and arcs between two places, without the last point; a new piece begins at each of the `breaks`.
    pub(super) fn vertices(&self, (from, to): (f64, f64), breaks: &[usize]) -> Vec<Vertex> {
        let mut ends = vec![from];
        ends.extend(breaks.iter().map(|c| *c as f64).filter(|c| *c > from + 1e-6 && *c < to - 1e-6));
        ends.push(to);
        ends.windows(2).flat_map(|pair| self.piece(pair[0], pair[1])).collect()
    }

    fn piece(&self, from: f64, to: f64) -> Vec<Vertex> {
        let near = 1e-6;
        let mut samples = vec![self.at(from)];
        let count = self.points.len();
        let first = (from + near).ceil();
        let inner = (0..count).map(|k| first + k as f64).take_while(|c| *c < to - near);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "columns from 0 on")]
        samples.extend(inner.map(|c| (self.points[c as usize % count], self.directions[c as usize % count])));
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "columns from 0 on")]
        samples.push(if self.closed && to >= count as f64 {
            (self.points[to as usize % count], self.directions[to as usize % count])
        } else {
            self.at(to)
        });
        samples.dedup_by(|b, a| b.0.distance(a.0) < SAME_POINT);
        if samples.len() < 2 {
            return Vec::new();
        }
        let (start, end) = (samples[0].0, samples[samples.len() - 1].0);
        let chord = (end - start).normalize();
        if samples.iter().all(|(p, _)| (*p - start).cross(chord).abs() < SAME_POINT) {
            return vec![Vertex { point: start, bulge: 0.0 }];
        }
        fit_samples(&samples, CURVE_TO_ARCS)
    }

    /// Lines and arcs between two places.
    pub(super) fn segments(&self, range: (f64, f64), breaks: &[usize]) -> Vec<Segment> {
        let end = if self.closed && range.1 >= self.points.len() as f64 { self.points[0] } else { self.at(range.1).0 };
        segments_between(&self.vertices(range, breaks), end)
    }
}

/// Where the end of one line crosses the start of another: both places and the point. Of several crossings the one farthest on the way out of
/// neither: the first met from the far ends.
pub(super) fn cross(a: &Line, b: &Line) -> Option<(f64, f64, Point)> {
    let mut best: Option<(f64, f64)> = None;
    for i in (0..a.spans()).rev() {
        for j in 0..b.spans() {
            let (p, q) = (a.points[i], b.points[j]);
            let (r, s) = (a.points[(i + 1) % a.points.len()] - p, b.points[(j + 1) % b.points.len()] - q);
            let turn = r.cross(s);
            let (u, v) = ((q - p).cross(s) / turn, (q - p).cross(r) / turn);
            let on = -1e-9..=1.0 + 1e-9;
            if on.contains(&u) && on.contains(&v) {
                let found = (i as f64 + u, j as f64 + v);
                // Nearest to both lines' corner ends.
                let rank = |(u, v): (f64, f64)| v - u;
                if best.is_none_or(|best| rank(found) < rank(best)) {
                    best = Some(found);
                }
            }
        }
    }
    let (mut u, mut v) = best?;
    for _ in 0..20 {
        let ((p, d), (q, e)) = (a.at(u), b.at(v));
        let gap = q - p;
        let turn = d.cross(e);
        let length = |line: &Line, place: f64| {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place on the line")]
            let i = (place.max(0.0) as usize).min(line.spans() - 1);
            line.points[i].distance(line.points[(i + 1) % line.points.len()])
        };
        let (du, dv) = (gap.cross(e) / turn / length(a, u), gap.cross(d) / turn / length(b, v));
        if !(du.is_finite() && dv.is_finite()) {
            return None;
        }
        u = (u + du).clamp(0.0, a.spans() as f64);
        v = (v + dv).clamp(0.0, b.spans() as f64);
        if du.abs().max(dv.abs()) < 1e-12 {
            break;
        }
    }
    let (p, q) = (a.at(u).0, b.at(v).0);
    (p.distance(q) < 1e-3).then(|| (u, v, p.midpoint(q)))
}
