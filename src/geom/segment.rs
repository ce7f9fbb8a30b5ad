//! One piece of an outline: a line, a circular arc or a cubic curve.

use kurbo::{
    Affine, CubicBez, ParamCurve, ParamCurveArclen, ParamCurveDeriv, ParamCurveExtrema,
    ParamCurveNearest, Point, Rect, Vec2,
};

use super::left_of;
use crate::tolerance::CURVE_LENGTH_ACCURACY;

/// One piece of an outline, walked from its start to its end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Segment {
    /// A straight line.
    Line {
        /// Where it starts.
        from: Point,
        /// Where it ends.
        to: Point,
    },
    /// A circular arc of at most half a turn.
    Arc {
        /// Where it starts.
        from: Point,
        /// Where it ends.
        to: Point,
        /// Tangent of a quarter of the angle turned through, positive to the left; never 0, at most
        /// 1 in size.
        bulge: f64,
    },
    /// A cubic curve.
    Curve(CubicBez),
}

/// Centre, radius, start angle and signed sweep of the arc between two points with the given bulge.
pub(super) fn arc_of(from: Point, to: Point, bulge: f64) -> (Point, f64, f64, f64) {
    let chord = to - from;
    // Signed height of the centre over the chord, to the left of it.
    let height = chord.hypot() * (1.0 - bulge * bulge) / (4.0 * bulge);
    let radius = chord.hypot() * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
    let centre = from.midpoint(to) + left_of(chord) * (height / chord.hypot());
    (centre, radius, (from - centre).atan2(), 4.0 * bulge.atan())
}

impl Segment {
    /// Where it starts.
    #[must_use]
    pub fn from(&self) -> Point {
        match self {
            Self::Line { from, .. } | Self::Arc { from, .. } => *from,
            Self::Curve(curve) => curve.p0,
        }
    }

    /// Where it ends.
    #[must_use]
    pub fn to(&self) -> Point {
        match self {
            Self::Line { to, .. } | Self::Arc { to, .. } => *to,
            Self::Curve(curve) => curve.p3,
        }
    }

    /// The same piece walked the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        match *self {
            Self::Line { from, to } => Self::Line { from: to, to: from },
            Self::Arc { from, to, bulge } => Self::Arc { from: to, to: from, bulge: -bulge },
            Self::Curve(c) => Self::Curve(CubicBez::new(c.p3, c.p2, c.p1, c.p0)),
        }
    }

    /// Its length in mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        match *self {
            Self::Line { from, to } => from.distance(to),
            // Nothing of an arc, which has no centre.
            Self::Arc { from, to, .. } if from == to => 0.0,
            Self::Arc { from, to, bulge } => {
                let (_, radius, _, sweep) = arc_of(from, to, bulge);
                radius * sweep.abs()
            }
            Self::Curve(curve) => curve.arclen(CURVE_LENGTH_ACCURACY),
        }
    }

    /// The point at `u` from 0 to 1 along it (for a curve: of its parameter, not of its length).
    #[must_use]
    pub fn point_at(&self, u: f64) -> Point {
        match *self {
            Self::Line { from, to } => from.lerp(to, u),
            Self::Arc { from, to, bulge } => {
                let (centre, radius, start, sweep) = arc_of(from, to, bulge);
                centre + Vec2::from_angle(start + sweep * u) * radius
            }
            Self::Curve(curve) => curve.eval(u),
        }
    }

    /// The unit direction of travel at `u`.
    #[must_use]
    pub fn tangent_at(&self, u: f64) -> Vec2 {
        match *self {
            Self::Line { from, to } => (to - from).normalize(),
            Self::Arc { from, to, bulge } => {
                let (_, _, start, sweep) = arc_of(from, to, bulge);
                left_of(Vec2::from_angle(start + sweep * u)) * sweep.signum()
            }
            Self::Curve(curve) => {
                let velocity = curve.deriv().eval(u).to_vec2();
                if velocity.hypot2() > 0.0 {
                    return velocity.normalize();
                }
                // A control point lies on its end: the direction is that of the second derivative
                // there.
                let ahead = curve.eval((u + 1e-6).min(1.0)) - curve.eval((u - 1e-6).max(0.0));
                ahead.normalize()
            }
        }
    }

    /// The derivative over the parameter at `u`: the direction of travel times the length it
    /// covers, mm.
    #[must_use]
    pub fn velocity_at(&self, u: f64) -> Vec2 {
        match self {
            Self::Curve(curve) => curve.deriv().eval(u).to_vec2(),
            even => even.tangent_at(u) * even.length(),
        }
    }

    /// Moves its end by a rounding error, to where the next segment starts.
    pub fn end_at(&mut self, end: Point) {
        match self {
            Self::Line { to, .. } | Self::Arc { to, .. } => *to = end,
            Self::Curve(curve) => curve.p3 = end,
        }
    }

    /// The curvature at `u` in 1/mm, positive where it turns left.
    #[must_use]
    pub fn curvature_at(&self, u: f64) -> f64 {
        match *self {
            Self::Line { .. } => 0.0,
            Self::Arc { from, to, bulge } => bulge.signum() / arc_of(from, to, bulge).1,
            Self::Curve(curve) => {
                let first = curve.deriv();
                let (v, a) = (first.eval(u).to_vec2(), first.deriv().eval(u).to_vec2());
                v.cross(a) / v.hypot().powi(3)
            }
        }
    }

    /// The parameter at which it is `length` long, counted from its start.
    #[must_use]
    pub fn parameter_at(&self, length: f64) -> f64 {
        match self {
            Self::Curve(curve) => curve.inv_arclen(length, 1e-9),
            _ => length / self.length(),
        }
    }

    /// The part between `start` and `end` of its parameter.
    #[must_use]
    pub fn between(&self, start: f64, end: f64) -> Self {
        match *self {
            Self::Line { .. } => Self::Line { from: self.point_at(start), to: self.point_at(end) },
            Self::Arc { bulge, .. } => Self::Arc {
                from: self.point_at(start),
                to: self.point_at(end),
                bulge: (bulge.atan() * (end - start)).tan(),
            },
            Self::Curve(curve) => Self::Curve(curve.subsegment(start..end)),
        }
    }

    /// The parameter of the place on it that is nearest to a point.
    #[must_use]
    pub fn nearest(&self, p: Point) -> f64 {
        let (from, to, bulge) = match *self {
            Self::Line { from, to } => {
                let way = to - from;
                return ((p - from).dot(way) / way.hypot2()).clamp(0.0, 1.0);
            }
            Self::Curve(curve) => return curve.nearest(p, CURVE_LENGTH_ACCURACY).t,
            Self::Arc { from, to, bulge } => (from, to, bulge),
        };
        let (centre, _, start, sweep) = arc_of(from, to, bulge);
        let turned = ((p - centre).atan2() - start) * sweep.signum();
        let u = turned.rem_euclid(std::f64::consts::TAU) / sweep.abs();
        if u <= 1.0 {
            u
        } else if p.distance_squared(from) < p.distance_squared(to) {
            0.0
        } else {
            1.0
        }
    }

    /// The smallest upright rectangle around it.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        match *self {
            Self::Line { from, to } => Rect::from_points(from, to),
            Self::Arc { from, to, bulge } => {
                let (centre, radius, start, sweep) = arc_of(from, to, bulge);
                let mut bounds = Rect::from_points(from, to);
                for quarter in -4..=4 {
                    let angle = f64::from(quarter) * std::f64::consts::FRAC_PI_2;
                    let u = (angle - start) / sweep;
                    if (0.0..=1.0).contains(&u) {
                        bounds = bounds.union_pt(centre + Vec2::from_angle(angle) * radius);
                    }
                }
                bounds
            }
            Self::Curve(curve) => curve.bounding_box(),
        }
    }

    /// The piece moved, turned or mirrored; `motion` must keep lengths.
    #[must_use]
    pub fn moved(&self, motion: Affine) -> Self {
        match *self {
            Self::Line { from, to } => Self::Line { from: motion * from, to: motion * to },
            Self::Arc { from, to, bulge } => Self::Arc {
                from: motion * from,
                to: motion * to,
                bulge: bulge * motion.determinant().signum(),
            },
            Self::Curve(curve) => Self::Curve(motion * curve),
        }
    }

    /// Whether it is one straight line, however it is written.
    #[must_use]
    pub fn is_straight(&self) -> bool {
        matches!(self, Self::Line { .. })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn half_circle_has_its_length_bounds_and_curvature() {
        let arc =
            Segment::Arc { from: Point::new(10.0, 0.0), to: Point::new(-10.0, 0.0), bulge: 1.0 };
        assert!((arc.length() - 10.0 * PI).abs() < 1e-12);
        assert!((arc.bounds().y1 - 10.0).abs() < 1e-12);
        assert!((arc.curvature_at(0.3) - 0.1).abs() < 1e-12);
        assert!((arc.tangent_at(0.0) - Vec2::new(0.0, 1.0)).hypot() < 1e-12);
        let quarter = arc.between(0.5, 1.0);
        assert!((quarter.from() - Point::new(0.0, 10.0)).hypot() < 1e-12);
        assert!((quarter.length() - 5.0 * PI).abs() < 1e-12);
    }

    #[test]
    fn a_mirrored_arc_turns_the_other_way() {
        let arc = Segment::Arc { from: Point::new(1.0, 0.0), to: Point::new(0.0, 1.0), bulge: 0.3 };
        let mirrored = arc.moved(Affine::FLIP_X);
        assert!((mirrored.curvature_at(0.5) + arc.curvature_at(0.5)).abs() < 1e-12);
        let middle = arc.point_at(0.5);
        assert!((mirrored.point_at(0.5) - Point::new(-middle.x, middle.y)).hypot() < 1e-12);
    }

    #[test]
    fn beyond_an_arc_its_nearer_end_is_nearest() {
        let quarter = Segment::Arc {
            from: Point::new(5.0, 0.0),
            to: Point::new(0.0, 5.0),
            bulge: (PI / 8.0).tan(),
        };
        assert!((quarter.nearest(Point::new(6.0, 6.0)) - 0.5).abs() < 1e-12);
        assert!(quarter.nearest(Point::new(6.0, -0.5)) == 0.0);
        assert!((quarter.reversed().nearest(Point::new(6.0, -0.5)) - 1.0).abs() < 1e-12);
    }
}
