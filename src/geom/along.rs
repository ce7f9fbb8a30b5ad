//! Places along a closed outline of lines and arcs, by distance from its first vertex.

use kurbo::{Point, Vec2};

use super::segment::arc_of;
use super::{Polyarc, Segment};

/// A closed outline that is walked by distance, mm.
#[derive(Debug, Clone)]
pub struct Along {
    pieces: Vec<Segment>,
    /// Where each piece begins, and the whole length at the end.
    starts: Vec<f64>,
}

impl Along {
    /// Prepares an outline of at least one piece.
    #[must_use]
    pub fn new(outline: &Polyarc) -> Self {
        let pieces: Vec<Segment> =
            outline.segments().filter(|piece| piece.length() > 0.0).collect();
        let mut starts = vec![0.0];
        for piece in &pieces {
            starts.push(starts[starts.len() - 1] + piece.length());
        }
        Self { pieces, starts }
    }

    /// The whole length, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.starts[self.starts.len() - 1]
    }

    /// The nearest place of the outline: how far it is from `p`, and its distance along, mm.
    /// Infinitely far where there is no outline.
    #[must_use]
    pub fn nearest(&self, p: Point) -> (f64, f64) {
        let mut best = (f64::INFINITY, 0.0);
        for (piece, start) in self.pieces.iter().zip(&self.starts) {
            let u = nearest_on(piece, p);
            let off = p.distance(piece.point_at(u));
            if off < best.0 {
                best = (off, start + u * piece.length());
            }
        }
        best
    }

    /// The point at a distance along and the direction of travel there; distances go on round the
    /// outline, forward and back.
    #[must_use]
    pub fn at(&self, along: f64) -> (Point, Vec2) {
        let along = along.rem_euclid(self.length());
        let i =
            self.starts.partition_point(|start| *start <= along).clamp(1, self.pieces.len()) - 1;
        let piece = &self.pieces[i];
        let u = ((along - self.starts[i]) / piece.length()).min(1.0);
        (piece.point_at(u), piece.tangent_at(u))
    }
}

/// The parameter of the place of a line or arc that is nearest to a point.
fn nearest_on(piece: &Segment, p: Point) -> f64 {
    let Segment::Arc { from, to, bulge } = *piece else {
        let way = piece.to() - piece.from();
        return ((p - piece.from()).dot(way) / way.hypot2()).clamp(0.0, 1.0);
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

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{FRAC_PI_2, PI};

    #[test]
    fn walks_a_circle_and_finds_its_places() {
        let circle = Along::new(&Polyarc::circle(Point::new(2.0, 1.0), 10.0));
        assert!((circle.length() - 20.0 * PI).abs() < 1e-12);
        for k in 0..36_u32 {
            let angle = f64::from(k) * PI / 18.0;
            let (p, t) = circle.at(10.0 * angle + 40.0 * PI);
            assert!((p - (Point::new(2.0, 1.0) + Vec2::from_angle(angle) * 10.0)).hypot() < 1e-9);
            assert!((t - Vec2::from_angle(angle + FRAC_PI_2)).hypot() < 1e-9);
            let (off, along) = circle.nearest(Point::new(2.0, 1.0) + Vec2::from_angle(angle) * 7.0);
            assert!(
                (off - 3.0).abs() < 1e-9
                    && (along - 10.0 * angle).rem_euclid(20.0 * PI).min(1e-9) < 1e-8,
                "{along}"
            );
        }
    }

    #[test]
    fn beyond_an_arc_its_nearer_end_is_nearest() {
        let quarter = Segment::Arc {
            from: Point::new(5.0, 0.0),
            to: Point::new(0.0, 5.0),
            bulge: (PI / 8.0).tan(),
        };
        assert!((nearest_on(&quarter, Point::new(6.0, 6.0)) - 0.5).abs() < 1e-12);
        assert!(nearest_on(&quarter, Point::new(6.0, -0.5)) == 0.0);
        assert!((nearest_on(&quarter.reversed(), Point::new(6.0, -0.5)) - 1.0).abs() < 1e-12);
    }
}
