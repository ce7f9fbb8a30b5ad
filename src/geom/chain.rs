//! Runs of segments, open or closed, walked by distance.

use kurbo::{Point, Vec2};

use super::{Polyarc, Segment};

/// Segments of which each begins where the one before it ends; places on it are distances from its
/// start, mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    pieces: Vec<Segment>,
    /// Where each piece begins, and the whole length at the end.
    starts: Vec<f64>,
    closed: bool,
}

impl Chain {
    /// A run with two ends.
    #[must_use]
    pub fn open(pieces: Vec<Segment>) -> Self {
        Self::new(pieces, false)
    }

    /// An outline from its first vertex round to it, without pieces of no length.
    #[must_use]
    pub fn closed(outline: &Polyarc) -> Self {
        Self::new(outline.segments().filter(|piece| piece.length() > 0.0).collect(), true)
    }

    pub(super) fn new(pieces: Vec<Segment>, closed: bool) -> Self {
        let mut starts = vec![0.0];
        for piece in &pieces {
            starts.push(starts[starts.len() - 1] + piece.length());
        }
        Self { pieces, starts, closed }
    }

    /// Its pieces, in order.
    #[must_use]
    pub fn pieces(&self) -> &[Segment] {
        &self.pieces
    }

    /// Where each piece begins, and at the end the whole length, mm.
    #[must_use]
    pub fn starts(&self) -> &[f64] {
        &self.starts
    }

    /// The whole length, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.starts[self.pieces.len()]
    }

    /// The distance along of a place given by its piece and the parameter there, mm.
    #[must_use]
    pub fn along(&self, piece: usize, u: f64) -> f64 {
        self.starts[piece] + self.pieces[piece].between(0.0, u).length()
    }

    /// The piece at a distance along, and the parameter there. An outline is walked round and
    /// round, forward and back; a run with ends is walked no farther than those. Nothing for a
    /// chain of no pieces.
    #[must_use]
    pub fn place(&self, along: f64) -> Option<(usize, f64)> {
        let along = if self.closed {
            along.rem_euclid(self.length())
        } else {
            along.clamp(0.0, self.length())
        };
        let i = self.starts.partition_point(|start| *start <= along).min(self.pieces.len());
        let i = i.checked_sub(1)?;
        let (piece, left) = (self.pieces.get(i)?, along - self.starts[i]);
        let u = if left > 0.0 { piece.parameter_at(left).min(1.0) } else { 0.0 };
        Some((i, u))
    }

    /// The point at a distance along and the direction of travel there, as [`Self::place`] finds
    /// it.
    #[must_use]
    pub fn at(&self, along: f64) -> Option<(Point, Vec2)> {
        let (i, u) = self.place(along)?;
        Some((self.pieces[i].point_at(u), self.pieces[i].tangent_at(u)))
    }

    /// The nearest place: how far it is from `p`, and its distance along, mm. Infinitely far where
    /// there are no pieces.
    #[must_use]
    pub fn nearest(&self, p: Point) -> (f64, f64) {
        let mut best = (f64::INFINITY, 0.0);
        for (i, piece) in self.pieces.iter().enumerate() {
            let u = piece.nearest(p);
            let off = p.distance(piece.point_at(u));
            if off < best.0 {
                best = (off, self.along(i, u));
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{FRAC_PI_2, PI};

    #[test]
    fn walks_a_circle_and_finds_its_places() {
        let circle = Chain::closed(&Polyarc::circle(Point::new(2.0, 1.0), 10.0));
        assert!((circle.length() - 20.0 * PI).abs() < 1e-12);
        for k in 0..36_u32 {
            let angle = f64::from(k) * PI / 18.0;
            let (p, t) = circle.at(10.0 * angle + 40.0 * PI).expect("on the circle");
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
    fn an_open_run_ends_at_its_ends() {
        let run = Chain::open(vec![
            Segment::Line { from: Point::new(0.0, 0.0), to: Point::new(3.0, 0.0) },
            Segment::Line { from: Point::new(3.0, 0.0), to: Point::new(3.0, 4.0) },
        ]);
        let at = |along: f64| run.at(along).expect("on the run");
        assert_eq!(at(-1.0).0, Point::new(0.0, 0.0));
        assert_eq!(at(5.0), (Point::new(3.0, 2.0), Vec2::new(0.0, 1.0)));
        assert_eq!(at(3.0).1, Vec2::new(0.0, 1.0), "where two pieces meet the later one");
        assert_eq!(at(9.0).0, Point::new(3.0, 4.0));
        assert_eq!((run.length(), run.along(1, 0.25)), (7.0, 4.0));
        assert_eq!(Chain::open(Vec::new()).at(0.0), None);
    }
}
