//! Lines, arcs and curves shifted sideways, and whole loops of them with their corners kept sharp.

use std::ops::Range;

use kurbo::{CurveFitSample, ParamCurveFit, PathEl, Point, Vec2, fit_to_bezpath};

use super::{Loop, Segment, Side, left_of, meet};
use crate::tolerance::{SAME_POINT, SHIFTED_CURVE, SMOOTH_JOINT};

/// The outline `distance` mm outside (positive) or inside a counter-clockwise one, each side
/// keeping its edge and each corner staying a corner. None where a side would turn inside out or a
/// corner finds no end.
#[must_use]
pub fn offset_loop(outline: &Loop, distance: f64) -> Option<Loop> {
    offset_sides(outline, &|_| distance)
}

/// As [`offset_loop`], each side by its own distance; `distance_of` takes the side's index.
#[must_use]
pub fn offset_sides(outline: &Loop, distance_of: &dyn Fn(usize) -> f64) -> Option<Loop> {
    // The left of a counter-clockwise outline is its inside.
    let shift = |i: usize| -distance_of(i);
    let spans = spans_left(outline, &shift)?;
    let mut sides = Vec::new();
    for (i, (side, (from, to))) in outline.sides.iter().zip(spans).enumerate() {
        if to <= from {
            return None;
        }
        #[expect(clippy::float_cmp, reason = "as they were set")]
        let whole = from == 0.0 && to == 1.0;
        let segment = if whole { side.segment } else { side.segment.between(from, to) };
        let pieces = shifted(&segment, shift(i))?;
        sides.extend(
            pieces
                .into_iter()
                .filter(|p| p.length() > SAME_POINT)
                .map(|segment| Side { segment, edge: side.edge }),
        );
    }
    let count = sides.len();
    for i in 0..count {
        let start = sides[(i + 1) % count].segment.from();
        sides[i].segment.end_at(start);
    }
    Some(Loop { sides })
}

/// What is left of every side, as a stretch of its parameter, when each is shifted to its left by
/// its own distance (mm, by the side's index) and ends where it meets its neighbours. None where a
/// corner finds no end.
#[must_use]
pub fn spans_left(outline: &Loop, shift: &dyn Fn(usize) -> f64) -> Option<Vec<(f64, f64)>> {
    let n = outline.sides.len();
    let mut spans = vec![(0.0, 1.0); n];
    for i in 0..n {
        let next = (i + 1) % n;
        let (a, b) = (shift(i), shift(next));
        #[expect(clippy::float_cmp, reason = "the very same distance on both sides")]
        let runs_on = a == b && outline.turn_before(next).abs() < SMOOTH_JOINT;
        if !runs_on {
            (spans[i].1, spans[next].0) =
                meet(&[outline.sides[i].segment], a, &[outline.sides[next].segment], b)?;
        }
    }
    Some(spans)
}

/// A segment shifted `distance` mm to its left: lines and arcs exactly, curves within
/// [`SHIFTED_CURVE`]. None where it would turn inside out, because it curves tighter than that to
/// the left.
#[must_use]
pub fn shifted(segment: &Segment, distance: f64) -> Option<Vec<Segment>> {
    let moved = |u: f64| segment.point_at(u) + left_of(segment.tangent_at(u)) * distance;
    match segment {
        Segment::Line { .. } => Some(vec![Segment::Line { from: moved(0.0), to: moved(1.0) }]),
        Segment::Arc { bulge, .. } => (segment.curvature_at(0.0) * distance < 1.0)
            .then(|| vec![Segment::Arc { from: moved(0.0), to: moved(1.0), bulge: *bulge }]),
        Segment::Curve(_) => {
            let folds =
                (0..=64).any(|i| segment.curvature_at(f64::from(i) / 64.0) * distance > 0.98);
            (!folds).then(|| {
                segments_of(&fit_to_bezpath(&Shifted { segment, distance }, SHIFTED_CURVE))
            })
        }
    }
}

/// The pieces of a path of one run.
pub(crate) fn segments_of(path: &kurbo::BezPath) -> Vec<Segment> {
    let mut here = Point::ORIGIN;
    let mut all = Vec::new();
    for element in path.elements() {
        match *element {
            PathEl::MoveTo(p) => here = p,
            PathEl::LineTo(p) => {
                all.push(Segment::Line { from: here, to: p });
                here = p;
            }
            PathEl::CurveTo(p1, p2, p3) => {
                all.push(Segment::Curve(kurbo::CubicBez::new(here, p1, p2, p3)));
                here = p3;
            }
            PathEl::QuadTo(..) | PathEl::ClosePath => {}
        }
    }
    all
}

/// A curve shifted to its left.
struct Shifted<'a> {
    segment: &'a Segment,
    distance: f64,
}

impl ParamCurveFit for Shifted<'_> {
    fn sample_pt_tangent(&self, t: f64, _sign: f64) -> CurveFitSample {
        let (p, tangent) = self.sample_pt_deriv(t);
        CurveFitSample { p, tangent }
    }

    fn sample_pt_deriv(&self, t: f64) -> (Point, Vec2) {
        let velocity = self.segment.velocity_at(t);
        let normal = left_of(self.segment.tangent_at(t));
        (
            self.segment.point_at(t) + normal * self.distance,
            velocity * (1.0 - self.distance * self.segment.curvature_at(t)),
        )
    }

    fn break_cusp(&self, _range: Range<f64>) -> Option<f64> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Polyarc;
    use kurbo::Rect;

    #[test]
    fn a_rectangle_keeps_its_corners_both_ways() {
        let rectangle = Loop::of(&Polyarc::rectangle(Rect::new(0.0, 0.0, 120.0, 60.0)), None);
        let outside = offset_loop(&rectangle, 2.0).expect("grows");
        assert!((outside.area() - 124.0 * 64.0).abs() < 1e-9);
        let inside = offset_loop(&rectangle, -2.0).expect("shrinks");
        assert!((inside.area() - 116.0 * 56.0).abs() < 1e-9);
        assert!(offset_loop(&rectangle, -31.0).is_none());
    }

    #[test]
    fn a_circle_stays_one() {
        let circle = Loop::of(&Polyarc::circle(Point::ORIGIN, 10.0), None);
        let grown = offset_loop(&circle, 3.0).expect("grows");
        assert!((grown.area() - 169.0 * std::f64::consts::PI).abs() < 1e-9);
        assert!(offset_loop(&circle, -10.5).is_none());
    }
}
