//! Arcs for curves: a smooth curve becomes a chain of arcs and lines that stays within a tolerance
//! of it.

use kurbo::{Point, Vec2};

use super::{Segment, Vertex, left_of};
use crate::tolerance::{FIT_CHECKS, SHORTEST_PIECE, STRAIGHT_BULGE, STRAIGHT_RISE};

/// Lines and arcs within `tolerance` mm of the curve that `curve` gives for u from 0 to 1 as
/// (point, unit direction).
///
/// Each piece is a biarc, two arcs that leave the piece's ends in its directions and meet in a
/// common one (K. M. Bolton, Biarc curves, Computer-Aided Design 7 (1975) 89-92), made as long as
/// the tolerance lets it be. The vertices returned start at u = 0 and do not include the end point.
/// Checked at [`FIT_CHECKS`] places a piece.
pub fn fit_arcs(curve: &dyn Fn(f64) -> (Point, Vec2), tolerance: f64) -> Vec<Vertex> {
    let mut vertices = Vec::new();
    let (mut start, mut step) = (0.0, 1.0_f64);
    while start < 1.0 {
        let mut end = (start + step).min(1.0);
        let mut pieces = biarc(curve(start), curve(end));
        // Shorten until it fits; where two arcs would be too short to cut anything is as good, and
        // below a millionth of the curve.
        let worth = |end: f64| {
            // By way of the middle, for a curve may come back to where it began.
            let (from, middle, to) =
                (curve(start).0, curve(f64::midpoint(start, end)).0, curve(end).0);
            end - start > 1e-6 && from.distance(middle) + middle.distance(to) > 3.0 * SHORTEST_PIECE
        };
        while worth(end) && !fits(&pieces, curve, (start, end), tolerance) {
            end = start + (end - start) * 0.7;
            pieces = biarc(curve(start), curve(end));
        }
        step = (end - start) * 2.0;
        // No crumb at the end: what is left is shared between the last two pieces.
        let left = 1.0 - end;
        if left > 0.0 && left < (end - start) / 2.0 {
            end = start + (1.0 - start) / 2.0;
            pieces = biarc(curve(start), curve(end));
        }
        vertices.extend(pieces.iter().map(|piece| Vertex { point: piece.0, bulge: piece.1 }));
        start = end;
    }
    vertices
}

/// A segment as vertices of lines and arcs, without its end; a curve fitted within `tolerance` mm.
pub(crate) fn vertices_of(segment: &Segment, tolerance: f64) -> Vec<Vertex> {
    match *segment {
        Segment::Line { from, .. } => vec![Vertex { point: from, bulge: 0.0 }],
        Segment::Arc { from, bulge, .. } => vec![Vertex { point: from, bulge }],
        Segment::Curve(_) => fit_arcs(&|u| (segment.point_at(u), segment.tangent_at(u)), tolerance),
    }
}

/// The lines and arcs from vertex to vertex and on to `end`.
pub(crate) fn segments_between(vertices: &[Vertex], end: Point) -> Vec<Segment> {
    let ends = vertices.iter().skip(1).map(|v| v.point).chain([end]);
    vertices.iter().zip(ends).map(|(v, to)| v.segment_to(to)).collect()
}

/// A run of segments as lines and arcs, its curves fitted within `tolerance` mm.
#[must_use]
pub fn lines_and_arcs(run: &[Segment], tolerance: f64) -> Vec<Segment> {
    let Some(end) = run.last().map(Segment::to) else { return Vec::new() };
    let vertices: Vec<Vertex> =
        run.iter().flat_map(|segment| vertices_of(segment, tolerance)).collect();
    segments_between(&vertices, end)
}

/// As [`fit_arcs`], for a curve known by close samples (point, unit direction): between them it is
/// taken as the cubic that has their directions.
#[must_use]
pub fn fit_samples(samples: &[(Point, Vec2)], tolerance: f64) -> Vec<Vertex> {
    let spans = samples.len() - 1;
    fit_arcs(
        &|u| {
            let place = u * spans as f64;
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "0 <= place <= spans"
            )]
            let i = (place as usize).min(spans - 1);
            hermite(samples[i], samples[i + 1], place - i as f64)
        },
        tolerance,
    )
}

/// Point and direction at `u` on the cubic between two samples.
fn hermite((p0, t0): (Point, Vec2), (p1, t1): (Point, Vec2), u: f64) -> (Point, Vec2) {
    let chord = p0.distance(p1);
    let curve = kurbo::CubicBez::new(p0, p0 + t0 * (chord / 3.0), p1 - t1 * (chord / 3.0), p1);
    let segment = Segment::Curve(curve);
    (segment.point_at(u), segment.tangent_at(u))
}

/// The two arcs between two points with directions, as (start, bulge, end).
fn biarc((p0, t0): (Point, Vec2), (p1, t1): (Point, Vec2)) -> Vec<(Point, f64, Point)> {
    let chord = p1 - p0;
    let sum = t0 + t1;
    // Equal tangent lengths d at both ends: |chord - d (t0 + t1)| = 2 d.
    let (a, b, c) = (sum.hypot2() - 4.0, -2.0 * chord.dot(sum), chord.hypot2());
    let d = if a.abs() < 1e-12 {
        -c / b
    } else {
        (-b - (b * b - 4.0 * a * c).max(0.0).sqrt()) / (2.0 * a)
    };
    let joint = p0 + (chord + (t0 - t1) * d) / 2.0;
    if !(d > 0.0 && joint.is_finite()) {
        return vec![(p0, 0.0, p1)];
    }
    let first = bulge_of(t0, joint - p0);
    let second = -bulge_of(-t1, joint - p1);
    if first.abs() < STRAIGHT_BULGE && second.abs() < STRAIGHT_BULGE {
        return vec![(p0, 0.0, p1)];
    }
    // Two arcs of one circle are one arc.
    let whole = bulge_of(t0, chord);
    let one_circle = (first - second).abs() < 1e-9 * (first.abs() + second.abs());
    if one_circle && whole.abs() <= 1.0 {
        return vec![(p0, whole, p1)];
    }
    vec![(p0, first, joint), (joint, second, p1)]
}

/// The bulge of the arc that leaves in `direction` and spans `chord`.
fn bulge_of(direction: Vec2, chord: Vec2) -> f64 {
    let angle = direction.cross(chord).atan2(direction.dot(chord));
    let bulge = (angle / 2.0).tan();
    if bulge.abs() < STRAIGHT_BULGE || bulge.abs() * chord.hypot() / 2.0 < STRAIGHT_RISE {
        0.0
    } else {
        bulge
    }
}

/// Whether the curve between `span` stays within `tolerance` of `pieces`.
fn fits(
    pieces: &[(Point, f64, Point)],
    curve: &dyn Fn(f64) -> (Point, Vec2),
    span: (f64, f64),
    tolerance: f64,
) -> bool {
    if pieces.iter().any(|piece| piece.1.abs() > 1.0 || !piece.1.is_finite()) {
        return false;
    }
    (1..FIT_CHECKS).all(|i| {
        let point = curve(span.0 + (span.1 - span.0) * f64::from(i) / f64::from(FIT_CHECKS)).0;
        pieces.iter().any(|piece| near(point, *piece, tolerance))
    })
}

/// Whether `point` is within `tolerance` of the arc or line `piece` and beside it, not past its
/// ends.
fn near(point: Point, (from, bulge, to): (Point, f64, Point), tolerance: f64) -> bool {
    let chord = to - from;
    let along = (point - from).dot(chord) / chord.hypot2();
    if !(-1e-6..=1.0 + 1e-6).contains(&along) && bulge.abs() < 0.3 {
        return point.distance(from).min(point.distance(to)) <= tolerance;
    }
    if bulge == 0.0 {
        return ((point - from).dot(left_of(chord)) / chord.hypot()).abs() <= tolerance;
    }
    let (centre, radius, _, _) = super::segment::arc_of(from, to, bulge);
    let same_side =
        bulge.abs() < 0.3 || (point - from).cross(chord) * bulge >= -tolerance * chord.hypot();
    same_side && (point.distance(centre) - radius).abs() <= tolerance
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Polyarc, Segment, distance_to};
    use kurbo::CubicBez;

    fn check(curve: CubicBez, tolerance: f64) -> usize {
        let segment = Segment::Curve(curve);
        let mut vertices = fit_arcs(&|u| (segment.point_at(u), segment.tangent_at(u)), tolerance);
        let count = vertices.len();
        vertices.push(Vertex { point: segment.to(), bulge: 0.0 });
        let outline = Polyarc { vertices };
        for i in 0..=2000 {
            let point = segment.point_at(f64::from(i) / 2000.0);
            let distance = distance_to(&outline, point);
            assert!(distance <= tolerance * 1.05, "{distance} at {i}");
        }
        count
    }

    #[test]
    fn arcs_stay_within_the_tolerance_of_cubics() {
        let p = |x: f64, y: f64| Point::new(x, y);
        for tolerance in [0.02, 0.005] {
            let s = check(
                CubicBez::new(p(0.0, 0.0), p(100.0, 120.0), p(0.0, -100.0), p(120.0, 0.0)),
                tolerance,
            );
            let u = check(
                CubicBez::new(p(0.0, 0.0), p(0.0, 90.0), p(80.0, 90.0), p(80.0, 0.0)),
                tolerance,
            );
            assert!(s < 80 && u < 60, "{s} {u}");
        }
    }

    #[test]
    fn a_circle_needs_one_arc_a_quarter_at_most() {
        let vertices = fit_arcs(
            &|u| (Point::ORIGIN + Vec2::from_angle(u) * 80.0, left_of(Vec2::from_angle(u))),
            0.001,
        );
        assert_eq!(vertices.len(), 1);
        assert!((vertices[0].bulge - 0.25_f64.tan()).abs() < 1e-12);
    }
}
