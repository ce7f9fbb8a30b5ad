//! Splines of a DXF file (non-uniform rational B-splines) as arcs.
//!
//! The curve and its direction are found by de Boor's recursion on the points (w x, w y, w): C. de
//! Boor, On calculating with B-splines, Journal of Approximation Theory 6 (1972) 50-62. x, y are a
//! control point's coordinates, w is its weight.

use kurbo::{Affine, Point, Vec2};

use crate::geom::{Segment, Side, Vertex, fit_arcs};
use crate::tolerance::{
    CURVE_TO_ARCS, FARTHEST_COORDINATE, HIGHEST_SPLINE_DEGREE, MOST_IMPORTED_PIECES, SAME_POINT,
};

/// A spline as a file gives it.
pub(super) struct Spline {
    degree: usize,
    knots: Vec<f64>,
    /// (w x, w y, w) of each control point.
    points: Vec<[f64; 3]>,
}

impl Spline {
    /// The spline, or what is wrong with it.
    pub(super) fn new(
        degree: i32,
        knots: &[f64],
        points: &[Point],
        weights: &[f64],
    ) -> Result<Self, &'static str> {
        let degree = usize::try_from(degree).unwrap_or(0);
        if degree == 0 || degree > HIGHEST_SPLINE_DEGREE {
            return Err("a spline's degree is out of range");
        }
        if points.len() <= degree
            || knots.len() != points.len() + degree + 1
            || !(weights.is_empty() || weights.len() == points.len())
        {
            return Err("a spline's numbers of points, knots and weights do not fit together");
        }
        let ordered = knots.windows(2).all(|pair| pair[0] <= pair[1]);
        let near = |p: &Point| p.x.abs() <= FARTHEST_COORDINATE && p.y.abs() <= FARTHEST_COORDINATE;
        let weighty = weights.iter().all(|w| (1e-6..=1e6).contains(w));
        if !(ordered
            && knots.iter().all(|knot| knot.is_finite())
            && points.iter().all(near)
            && weighty)
        {
            return Err("a spline's numbers are out of range");
        }
        let points = points.iter().enumerate().map(|(i, p)| {
            let w = weights.get(i).copied().unwrap_or(1.0);
            [w * p.x, w * p.y, w]
        });
        Ok(Self { degree, knots: knots.to_vec(), points: points.collect() })
    }

    /// Point and direction of travel, not of unit length, at `t` of the knot span that begins at
    /// knot `k`.
    ///
    /// `d[i] = (1 - a) d[i-1] + a d[i]` with `a = (t - t[i]) / (t[i+p-r] - t[i])`, r = 1 … p; the
    /// derivative is `p (d[p] - d[p-1])` of the last step over its knot interval, and of the
    /// quotient x/w it is `(x' - w' x/w) / w`.
    fn at(&self, k: usize, t: f64) -> (Point, Vec2) {
        let p = self.degree;
        let mut d: Vec<[f64; 3]> = self.points[k - p..=k].to_vec();
        let mut slope = [0.0; 3];
        for r in 1..=p {
            for i in (r..=p).rev() {
                let (low, high) = (self.knots[i + k - p], self.knots[i + 1 + k - r]);
                let a = if high > low { (t - low) / (high - low) } else { 0.0 };
                if r == p {
                    slope =
                        std::array::from_fn(|n| (d[i][n] - d[i - 1][n]) * p as f64 / (high - low));
                }
                d[i] = std::array::from_fn(|n| (1.0 - a) * d[i - 1][n] + a * d[i][n]);
            }
        }
        let [x, y, w] = d[p];
        let point = Point::new(x / w, y / w);
        (point, Vec2::new((slope[0] - slope[2] * point.x) / w, (slope[1] - slope[2] * point.y) / w))
    }

    /// The spline after `motion` as lines and arcs within the tolerance, mm; none where it is too
    /// long for an outline.
    pub(super) fn sides(&self, motion: Affine) -> Option<Vec<Side>> {
        let mut vertices: Vec<Vertex> = Vec::new();
        let mut last = Point::ORIGIN;
        for k in self.degree..self.points.len() {
            let (low, high) = (self.knots[k], self.knots[k + 1]);
            let hull = &self.points[k - self.degree..=k];
            let first = motion * Point::new(hull[0][0] / hull[0][2], hull[0][1] / hull[0][2]);
            let is_point = hull.iter().all(|p| {
                (motion * Point::new(p[0] / p[2], p[1] / p[2])).distance(first) < SAME_POINT
            });
            if high <= low || is_point {
                continue;
            }
            let curve = |u: f64| {
                let t = low + (high - low) * u;
                let (point, mut slope) = self.at(k, t);
                if slope.hypot() <= f64::MIN_POSITIVE {
                    // Where the curve stands still its direction is that from just before to just
                    // after.
                    let aside = |u: f64| self.at(k, low + (high - low) * u.clamp(0.0, 1.0)).0;
                    slope = aside(u + 1e-6) - aside(u - 1e-6);
                }
                let along = motion * (point + slope) - motion * point;
                let along =
                    if along.hypot() > 0.0 { along.normalize() } else { Vec2::new(1.0, 0.0) };
                (motion * point, along)
            };
            last = curve(1.0).0;
            vertices.extend(fit_arcs(&curve, CURVE_TO_ARCS));
            if vertices.len() > MOST_IMPORTED_PIECES {
                return None;
            }
        }
        let ends = vertices.iter().skip(1).map(|v| v.point).chain([last]);
        let pieces = vertices.iter().zip(ends).filter(|(v, to)| v.point.distance(*to) > 0.0);
        let segment = |(v, to): (&Vertex, Point)| match v.bulge {
            0.0 => Segment::Line { from: v.point, to },
            bulge => Segment::Arc { from: v.point, to, bulge },
        };
        let sides: Vec<Side> =
            pieces.map(|piece| Side { segment: segment(piece), edge: Some(0) }).collect();
        sides
            .iter()
            .all(|side| side.segment.from().is_finite() && side.segment.to().is_finite())
            .then_some(sides)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rational_quadratic_spline_is_a_circle() {
        // The circle of nine points with weights 1 and 1/sqrt(2) (L. Piegl and W. Tiller, The NURBS
        // Book, section 7.5).
        let corners =
            [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)];
        let points: Vec<Point> = corners
            .iter()
            .map(|(x, y)| Point::new(30.0 * f64::from(*x), 30.0 * f64::from(*y)))
            .collect();
        let half = std::f64::consts::FRAC_1_SQRT_2;
        let weights: Vec<f64> = (0..9).map(|i| if i % 2 == 0 { 1.0 } else { half }).collect();
        let knots = [0.0, 0.0, 0.0, 1.0, 1.0, 2.0, 2.0, 3.0, 3.0, 4.0, 4.0, 4.0];
        let spline = Spline::new(2, &knots, &points, &weights).expect("a circle");
        let sides = spline.sides(Affine::IDENTITY).expect("short");
        assert!(sides.len() <= 8, "{}", sides.len());
        for side in &sides {
            assert!((side.segment.point_at(0.5).to_vec2().hypot() - 30.0).abs() < 1e-9);
        }
        let length: f64 = sides.iter().map(|side| side.segment.length()).sum();
        assert!((length - 60.0 * std::f64::consts::PI).abs() < 1e-6);
    }

    #[test]
    fn a_cubic_spline_of_one_span_is_the_cubic() {
        let points = [(0.0, 0.0), (10.0, 40.0), (50.0, -20.0), (60.0, 10.0)].map(Point::from);
        let knots = [0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0];
        let spline = Spline::new(3, &knots, &points, &[]).expect("a cubic");
        let cubic =
            Segment::Curve(kurbo::CubicBez::new(points[0], points[1], points[2], points[3]));
        for i in 0..=10 {
            let u = f64::from(i) / 10.0;
            let (point, slope) = spline.at(3, u);
            assert!(point.distance(cubic.point_at(u)) < 1e-12);
            assert!((slope.normalize() - cubic.tangent_at(u)).hypot() < 1e-12);
        }
    }
}
