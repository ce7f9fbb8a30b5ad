//! Points, directions and rigid motions in space, mm.

/// A point or a direction in space.
pub type Space = [f64; 3];

/// a + b.
#[must_use]
pub fn plus(a: Space, b: Space) -> Space {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

/// a - b.
#[must_use]
pub fn minus(a: Space, b: Space) -> Space {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

/// The vector `a` times `factor`.
#[must_use]
pub fn times(a: Space, factor: f64) -> Space {
    a.map(|x| x * factor)
}

/// The scalar product.
#[must_use]
pub fn dot(a: Space, b: Space) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// The vector product, by the right-hand rule.
#[must_use]
pub fn cross(a: Space, b: Space) -> Space {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// The vector's length.
#[must_use]
pub fn length(a: Space) -> f64 {
    dot(a, a).sqrt()
}

/// An upright box in space.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpaceBox {
    /// Its least x, y and z.
    pub low: Space,
    /// Its greatest x, y and z.
    pub high: Space,
}

impl SpaceBox {
    /// The smallest box about points; of none it is the one that nothing meets.
    #[must_use]
    pub fn about<'a>(points: impl IntoIterator<Item = &'a Space>) -> Self {
        let empty = Self { low: [f64::INFINITY; 3], high: [f64::NEG_INFINITY; 3] };
        points.into_iter().fold(empty, |b, p| Self {
            low: [0, 1, 2].map(|i| b.low[i].min(p[i])),
            high: [0, 1, 2].map(|i| b.high[i].max(p[i])),
        })
    }

    /// How far two boxes are apart along the axis that parts them most; negative where they
    /// overlap.
    #[must_use]
    pub fn gap(&self, other: &Self) -> f64 {
        (0..3)
            .map(|i| (self.low[i] - other.high[i]).max(other.low[i] - self.high[i]))
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// Whether two boxes share a point.
    #[must_use]
    pub fn meets(&self, other: &Self) -> bool {
        (0..3).all(|i| self.low[i] <= other.high[i] && other.low[i] <= self.high[i])
    }
}

/// A turn and a shift: moves things in space and keeps their shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pose {
    /// Where the unit vectors along x, y and z go.
    pub axes: [Space; 3],
    /// Where the origin goes.
    pub origin: Space,
}

impl Pose {
    /// Leaves everything where it is.
    pub const STILL: Self =
        Self { axes: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], origin: [0.0; 3] };

    /// Shifts by a vector.
    #[must_use]
    pub const fn shift(by: Space) -> Self {
        Self { origin: by, ..Self::STILL }
    }

    /// Turns by `angle` radians about the line through `point` along the unit vector `axis`, by the
    /// right-hand rule.
    #[must_use]
    pub fn turn(point: Space, axis: Space, angle: f64) -> Self {
        let (sin, cos) = angle.sin_cos();
        // Rodrigues: v cos + (axis x v) sin + axis (axis . v)(1 - cos).
        let turned = |v: Space| {
            plus(
                plus(times(v, cos), times(cross(axis, v), sin)),
                times(axis, dot(axis, v) * (1.0 - cos)),
            )
        };
        let axes = Self::STILL.axes.map(turned);
        Self { axes, origin: minus(point, turned(point)) }
    }

    /// Where a direction goes.
    #[must_use]
    pub fn direction(&self, v: Space) -> Space {
        plus(plus(times(self.axes[0], v[0]), times(self.axes[1], v[1])), times(self.axes[2], v[2]))
    }

    /// Where a point goes.
    #[must_use]
    pub fn at(&self, p: Space) -> Space {
        plus(self.direction(p), self.origin)
    }

    /// First `inner`, then this motion.
    #[must_use]
    pub fn after(&self, inner: &Self) -> Self {
        Self { axes: inner.axes.map(|v| self.direction(v)), origin: self.at(inner.origin) }
    }

    /// The motion that undoes this one.
    #[must_use]
    pub fn undone(&self) -> Self {
        let row = |i: usize| [self.axes[0][i], self.axes[1][i], self.axes[2][i]];
        let axes = [row(0), row(1), row(2)];
        let back = Self { axes, origin: [0.0; 3] };
        Self { axes, origin: times(back.direction(self.origin), -1.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quarter_turn_about_an_upright_line_and_back() {
        let turn = Pose::turn([10.0, 0.0, 5.0], [0.0, 0.0, 1.0], std::f64::consts::FRAC_PI_2);
        let p = turn.at([12.0, 0.0, 7.0]);
        assert!(length(minus(p, [10.0, 2.0, 7.0])) < 1e-12);
        assert!(length(minus(turn.undone().at(p), [12.0, 0.0, 7.0])) < 1e-12);
        let twice = turn.after(&turn);
        assert!(length(minus(twice.at([12.0, 0.0, 7.0]), [8.0, 0.0, 7.0])) < 1e-12);
    }
}
