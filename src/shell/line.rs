//! A line of metal in the flat along a run of walls: a span from each column to the next. Places
//! along it are columns with fractions.

use kurbo::CubicBez;

use crate::geom::mesh_wall::shifted;
use crate::geom::{Point, Segment, Vec2, Vertex, fit_samples, segments_between};
use crate::tolerance::{CURVE_TO_ARCS, SAME_POINT};

/// A line through the columns of a run.
#[derive(Debug, Clone)]
pub(super) struct Line {
    pub(super) points: Vec<Point>,
    directions: Vec<Vec2>,
    /// What lies between the points: lines and arcs where the wall is known exactly, cubics where
    /// it was solved.
    spans: Vec<Segment>,
    /// Columns at which a new side of the outline begins, ascending.
    breaks: Vec<usize>,
    closed: bool,
}

/// What is known of the span that begins at a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Span {
    Straight,
    /// An arc that turns by this angle, positive to the left.
    Round(f64),
    Solved,
}

/// Unit directions of a line at its points, of the parabola through each one and its neighbours.
pub(super) fn directions(points: &[Point], closed: bool) -> Vec<Vec2> {
    (0..points.len())
        .map(|c| {
            let near = |by: isize| shifted(points.len(), closed, c, by).map(|i| points[i]);
            let d = match (near(-1), near(1)) {
                (Some(a), Some(b)) => parabola_at([a, points[c], b], 1),
                (Some(a), None) => {
                    near(-2).map_or(points[c] - a, |z| parabola_at([z, a, points[c]], 2))
                }
                (None, Some(b)) => {
                    near(2).map_or(b - points[c], |d| parabola_at([points[c], b, d], 0))
                }
                (None, None) => Vec2::new(1.0, 0.0),
            };
            d.normalize()
        })
        .collect()
}

/// The direction at one of three points of the parabola through them, their chords its parameter.
fn parabola_at([a, b, c]: [Point; 3], at: usize) -> Vec2 {
    let (first, second) = (b - a, c - b);
    let (h, k) = (first.hypot(), second.hypot());
    let middle = first * (k / h) + second * (h / k);
    let bend = (second / k - first / h) * 2.0;
    match at {
        0 => middle - bend * h,
        1 => middle,
        _ => middle + bend * k,
    }
}

/// The point at a column with fractions on the chord between columns.
pub(super) fn between_points(at: &dyn Fn(usize) -> Point, place: f64) -> Point {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a column or between two"
    )]
    let i = place.max(0.0) as usize;
    let share = place - i as f64;
    if share <= 0.0 { at(i) } else { at(i).lerp(at(i + 1), share) }
}

impl Line {
    /// A line through a point a column; `span` tells what follows on each, `direction` the line's
    /// own one where it is known.
    pub(super) fn through(
        points: Vec<Point>,
        closed: bool,
        breaks: Vec<usize>,
        span: &dyn Fn(usize) -> Span,
        direction: &dyn Fn(usize) -> Option<Vec2>,
    ) -> Self {
        let read = directions(&points, closed);
        let directions: Vec<Vec2> =
            (0..points.len()).map(|c| direction(c).unwrap_or(read[c])).collect();
        let count = points.len() - usize::from(!closed);
        let spans = (0..count)
            .map(|i| {
                let next = (i + 1) % points.len();
                let (from, to) = (points[i], points[next]);
                match span(i) {
                    Span::Straight => Segment::Line { from, to },
                    Span::Round(turn) => Segment::Arc { from, to, bulge: (turn / 4.0).tan() },
                    Span::Solved => {
                        let third = from.distance(to) / 3.0;
                        Segment::Curve(CubicBez::new(
                            from,
                            from + directions[i] * third,
                            to - directions[next] * third,
                            to,
                        ))
                    }
                }
            })
            .collect();
        Self { points, directions, spans, breaks, closed }
    }

    pub(super) fn count(&self) -> usize {
        self.spans.len()
    }

    fn span_at(&self, place: f64) -> (usize, f64) {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to the spans"
        )]
        let i = (place.max(0.0) as usize).min(self.spans.len() - 1);
        (i, place - i as f64)
    }

    /// Point and direction at a place.
    pub(super) fn at(&self, place: f64) -> (Point, Vec2) {
        let (i, u) = self.span_at(place);
        (self.spans[i].point_at(u), self.spans[i].tangent_at(u))
    }

    /// Lines and arcs from a place up to another, without the last point.
    pub(super) fn vertices(&self, range: (f64, f64)) -> Vec<Vertex> {
        let mut vertices: Vec<Vertex> = Vec::new();
        let (first, last) = (self.span_at(range.0).0, self.span_at(range.1 - 1e-9).0);
        let mut i = first;
        while i <= last {
            let same = |j: usize| {
                std::mem::discriminant(&self.spans[j]) == std::mem::discriminant(&self.spans[i])
            };
            let mut end = i + 1;
            while end <= last && !self.breaks.contains(&end) && same(end) {
                end += 1;
            }
            let (from, to) = (range.0.max(i as f64), range.1.min(end as f64));
            if to - from > 1e-9 {
                vertices.extend(self.group(i, from, to));
            }
            i = end;
        }
        vertices
    }

    /// Spans of one kind from `from` to `to`, the first one being `i`.
    fn group(&self, i: usize, from: f64, to: f64) -> Vec<Vertex> {
        let (start, end) = (self.at(from).0, self.at_end(to).0);
        match self.spans[i] {
            Segment::Line { .. } => vec![Vertex { point: start, bulge: 0.0 }],
            Segment::Arc { .. } => {
                let turned: f64 = self
                    .pieces(from, to)
                    .iter()
                    .map(|piece| match piece {
                        Segment::Arc { bulge, .. } => 4.0 * bulge.atan(),
                        _ => 0.0,
                    })
                    .sum();
                vec![Vertex { point: start, bulge: (turned / 4.0).tan() }]
            }
            Segment::Curve(_) => {
                let mut samples = vec![self.at(from)];
                let whole = |c: &usize| (*c as f64) > from + 1e-9 && (*c as f64) < to - 1e-9;
                samples.extend((i..=self.spans.len()).filter(whole).map(|c| {
                    (self.points[c % self.points.len()], self.directions[c % self.points.len()])
                }));
                samples.push(self.at_end(to));
                samples.dedup_by(|b, a| b.0.distance(a.0) < SAME_POINT);
                if samples.len() < 2 {
                    return Vec::new();
                }
                let chord = (end - start).normalize();
                if samples.iter().all(|(p, _)| (*p - start).cross(chord).abs() < SAME_POINT) {
                    return vec![Vertex { point: start, bulge: 0.0 }];
                }
                fit_samples(&samples, CURVE_TO_ARCS)
            }
        }
    }

    /// As [`Self::at`], of the span before where two meet.
    fn at_end(&self, place: f64) -> (Point, Vec2) {
        let (i, _) = self.span_at(place - 1e-9);
        let u = place - i as f64;
        (self.spans[i].point_at(u), self.spans[i].tangent_at(u))
    }

    fn pieces(&self, from: f64, to: f64) -> Vec<Segment> {
        let (first, last) = (self.span_at(from).0, self.span_at(to - 1e-9).0);
        (first..=last)
            .map(|i| self.spans[i].between((from - i as f64).max(0.0), (to - i as f64).min(1.0)))
            .collect()
    }

    /// Lines and arcs between two places.
    pub(super) fn segments(&self, range: (f64, f64)) -> Vec<Segment> {
        segments_between(&self.vertices(range), self.end(range.1))
    }

    /// The point at the end of a range.
    pub(super) fn end(&self, place: f64) -> Point {
        if self.closed && place >= self.points.len() as f64 {
            self.points[0]
        } else {
            self.at_end(place).0
        }
    }
}

/// Where the end of one line crosses the start of another: both places and the point. Of several
/// crossings the one farthest on the way out of neither: the first met from the far ends.
pub(super) fn cross(a: &Line, b: &Line) -> Option<(f64, f64, Point)> {
    let mut best: Option<(f64, f64)> = None;
    for i in (0..a.count()).rev() {
        for j in 0..b.count() {
            let (p, q) = (a.points[i], b.points[j]);
            let (r, s) =
                (a.points[(i + 1) % a.points.len()] - p, b.points[(j + 1) % b.points.len()] - q);
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
        let length = |line: &Line, place: f64| line.spans[line.span_at(place).0].length();
        let (du, dv) = (gap.cross(e) / turn / length(a, u), gap.cross(d) / turn / length(b, v));
        if !(du.is_finite() && dv.is_finite()) {
            return None;
        }
        u = (u + du).clamp(0.0, a.count() as f64);
        v = (v + dv).clamp(0.0, b.count() as f64);
        if du.abs().max(dv.abs()) < 1e-12 {
            break;
        }
    }
    let (p, q) = (a.at(u).0, b.at(v).0);
    (p.distance(q) < 1e-3).then(|| (u, v, p.midpoint(q)))
}
