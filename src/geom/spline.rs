//! Curves through points: the natural cubic spline over chord length, and the monotone cubic of
//! values at stations.

use kurbo::{CubicBez, Point, Vec2};

/// The natural cubic spline through `points`, its parameter the chord length, as one cubic a span.
///
/// Second derivative 0 at both ends (C. de Boor, A Practical Guide to Splines, ch. IV); a straight
/// row of points gives straight cubics. Fewer than two points give no span; consecutive points must
/// differ.
#[must_use]
pub fn natural_spline(points: &[Point]) -> Vec<CubicBez> {
    let spans = points.len().saturating_sub(1);
    let chord: Vec<f64> = points.windows(2).map(|pair| pair[0].distance(pair[1])).collect();
    let second = second_derivatives(points, &chord);
    (0..spans)
        .map(|i| {
            let (h, from, to) = (chord[i], points[i], points[i + 1]);
            let slope = (to - from) / h;
            let start = slope - (second[i] * 2.0 + second[i + 1]) * (h / 6.0);
            let end = slope + (second[i] + second[i + 1] * 2.0) * (h / 6.0);
            CubicBez::new(from, from + start * (h / 3.0), to - end * (h / 3.0), to)
        })
        .collect()
}

/// Second derivatives at the knots, by the tridiagonal system of the natural spline.
fn second_derivatives(points: &[Point], chord: &[f64]) -> Vec<Vec2> {
    let n = points.len();
    let mut second = vec![Vec2::ZERO; n];
    if n < 3 {
        return second;
    }
    let (mut upper, mut right) = (vec![0.0; n], vec![Vec2::ZERO; n]);
    for i in 1..n - 1 {
        let (before, after) = (chord[i - 1], chord[i]);
        let load =
            ((points[i + 1] - points[i]) / after - (points[i] - points[i - 1]) / before) * 6.0;
        let pivot = 2.0 * (before + after) - before * upper[i - 1];
        upper[i] = after / pivot;
        right[i] = (load - right[i - 1] * before) / pivot;
    }
    for i in (1..n - 1).rev() {
        second[i] = right[i] - second[i + 1] * upper[i];
    }
    second
}

/// A value over stations that never overshoots: straight between them, or the monotone cubic; held
/// beyond the ends.
#[derive(Debug, Clone, PartialEq)]
pub struct MonotoneCurve {
    at: Vec<f64>,
    value: Vec<f64>,
    slope: Option<Vec<f64>>,
}

impl MonotoneCurve {
    /// Straight between the stations. `stations` are (place, value), places rising; at least one.
    #[must_use]
    pub fn straight(stations: &[(f64, f64)]) -> Self {
        let (at, value) = stations.iter().copied().unzip();
        Self { at, value, slope: None }
    }

    /// The monotone cubic through the stations (F. N. Fritsch and R. E. Carlson, SIAM J. Numer.
    /// Anal. 17 (1980) 238-246, with the harmonic-mean slopes of F. N. Fritsch and J. Butland, SIAM
    /// J. Sci. Stat. Comput. 5 (1984) 300-304).
    #[must_use]
    pub fn smooth(stations: &[(f64, f64)]) -> Self {
        let mut curve = Self::straight(stations);
        let n = stations.len();
        if n < 3 {
            return curve;
        }
        let step: Vec<f64> = curve.at.windows(2).map(|w| w[1] - w[0]).collect();
        let rise: Vec<f64> =
            (0..n - 1).map(|i| (curve.value[i + 1] - curve.value[i]) / step[i]).collect();
        let mut slope = vec![0.0; n];
        for i in 1..n - 1 {
            if rise[i - 1] * rise[i] > 0.0 {
                let (w1, w2) = (2.0 * step[i] + step[i - 1], step[i] + 2.0 * step[i - 1]);
                slope[i] = (w1 + w2) / (w1 / rise[i - 1] + w2 / rise[i]);
            }
        }
        slope[0] = end_slope(step[0], step[1], rise[0], rise[1]);
        slope[n - 1] = end_slope(step[n - 2], step[n - 3], rise[n - 2], rise[n - 3]);
        curve.slope = Some(slope);
        curve
    }

    /// The curve with all its values so many times as great; `share` > 0.
    #[must_use]
    pub fn scaled(&self, share: f64) -> Self {
        let times = |all: &[f64]| all.iter().map(|x| x * share).collect();
        Self {
            at: self.at.clone(),
            value: times(&self.value),
            slope: self.slope.as_deref().map(times),
        }
    }

    /// The value at `place`.
    #[must_use]
    pub fn value_at(&self, place: f64) -> f64 {
        let last = self.at.len() - 1;
        if place <= self.at[0] {
            return self.value[0];
        }
        if place >= self.at[last] {
            return self.value[last];
        }
        let i = self.at.partition_point(|&a| a <= place) - 1;
        let h = self.at[i + 1] - self.at[i];
        let u = (place - self.at[i]) / h;
        let (from, to) = (self.value[i], self.value[i + 1]);
        match &self.slope {
            None => from + (to - from) * u,
            Some(slope) => {
                let (u2, u3) = (u * u, u * u * u);
                from * (2.0 * u3 - 3.0 * u2 + 1.0)
                    + to * (3.0 * u2 - 2.0 * u3)
                    + h * slope[i] * (u3 - 2.0 * u2 + u)
                    + h * slope[i + 1] * (u3 - u2)
            }
        }
    }

    /// The values at the stations.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.value
    }

    /// The slopes at the stations; none where the value runs straight between them.
    #[must_use]
    pub fn slopes(&self) -> Option<&[f64]> {
        self.slope.as_deref()
    }

    /// The same curve with each station's value raised by what `by` says of the station's index.
    #[must_use]
    pub fn raised(&self, by: impl Fn(usize) -> f64) -> Self {
        let stations: Vec<(f64, f64)> =
            (0..self.at.len()).map(|i| (self.at[i], self.value[i] + by(i))).collect();
        if self.slope.is_some() { Self::smooth(&stations) } else { Self::straight(&stations) }
    }

    /// The places of the stations.
    #[must_use]
    pub fn places(&self) -> &[f64] {
        &self.at
    }
}

/// Three-point slope at an end, cut back where it would overshoot.
fn end_slope(near: f64, far: f64, near_rise: f64, far_rise: f64) -> f64 {
    let slope = ((2.0 * near + far) * near_rise - near * far_rise) / (near + far);
    if slope * near_rise <= 0.0 {
        0.0
    } else if near_rise * far_rise <= 0.0 && slope.abs() > 3.0 * near_rise.abs() {
        3.0 * near_rise
    } else {
        slope
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::{ParamCurve, ParamCurveDeriv};

    #[test]
    fn spline_passes_its_points_with_matching_second_derivatives() {
        let points = [(0.0, 0.0), (150.0, 20.0), (400.0, 120.0), (520.0, 90.0)].map(Point::from);
        let spans = natural_spline(&points);
        assert_eq!(spans.len(), 3);
        for pair in spans.windows(2) {
            let chord = |c: &CubicBez| c.p0.distance(c.p3);
            let second =
                |c: &CubicBez, u: f64| c.deriv().deriv().eval(u).to_vec2() / chord(c).powi(2);
            assert!((second(&pair[0], 1.0) - second(&pair[1], 0.0)).hypot() < 1e-12);
            assert!((pair[0].p3 - pair[1].p0).hypot() == 0.0);
        }
        assert!(spans[0].deriv().deriv().eval(0.0).to_vec2().hypot() < 1e-9);
        assert!(spans[2].deriv().deriv().eval(1.0).to_vec2().hypot() < 1e-9);
    }

    #[test]
    fn monotone_curve_never_overshoots() {
        let curve =
            MonotoneCurve::smooth(&[(0.0, 45.0), (100.0, 45.0), (200.0, 30.0), (400.0, 28.0)]);
        for i in 0..=400 {
            let value = curve.value_at(f64::from(i));
            assert!((28.0 - 1e-12..=45.0 + 1e-12).contains(&value), "{value} at {i}");
        }
        assert!((curve.value_at(200.0) - 30.0).abs() < 1e-12);
        assert!((curve.value_at(-5.0) - 45.0).abs() < 1e-12);
    }
}
