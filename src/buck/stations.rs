//! Stations: named lines square to the part's run, the same on blank, buck and plate.

use crate::geom::{Affine, Loop, Point, Polyarc, Segment, Vec2, left_of};
use crate::part::HalfShell;

/// A station.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Its name, such as `S150`.
    pub name: String,
    /// Its distance along the part, mm.
    pub at: f64,
    /// A point on it.
    pub origin: Point,
    /// The direction across the part.
    pub across: Vec2,
}

impl Station {
    /// Where the station crosses an outline, from its right side to its left.
    #[must_use]
    pub fn crossings(&self, outline: &Polyarc) -> Vec<Point> {
        // Turned so that the station stands upright at x = 0.
        let angle = std::f64::consts::FRAC_PI_2 - self.across.atan2();
        let motion = Affine::rotate(angle) * Affine::translate(-self.origin.to_vec2());
        let back = motion.inverse();
        let heights = Loop::of(&outline.moved(motion), None).heights_at(0.0);
        heights.into_iter().map(|y| back * Point::new(0.0, y)).collect()
    }
}

/// The stations of a shell whose buck has `outline`: every pitch along x, or along the centreline.
#[must_use]
pub fn stations_of(shell: &HalfShell, outline: &Polyarc) -> Vec<Station> {
    let pitch = shell.buck.stations.mm();
    let name = |at: f64| format!("S{}", crate::units::Digits(at, 1));
    if let Some(line) = &shell.profile.centreline {
        let length: f64 = line.iter().map(Segment::length).sum();
        return steps(0.0, length, pitch)
            .map(|at| {
                let (origin, along) = place_on(line, at);
                Station { name: name(at), at, origin, across: left_of(along) }
            })
            .collect();
    }
    let bounds = outline.bounds();
    steps(bounds.x0, bounds.x1, pitch)
        .map(|at| Station { name: name(at), at, origin: Point::new(at, 0.0), across: Vec2::new(0.0, 1.0) })
        .collect()
}

/// Multiples of `pitch` inside the range, two thousand at most.
fn steps(from: f64, to: f64, pitch: f64) -> impl Iterator<Item = f64> {
    let first = (from / pitch + 1e-6).ceil();
    let count = ((to / pitch - 1e-6).floor() - first + 1.0).clamp(0.0, 2000.0);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 0..=2000")]
    let count = count as u32;
    (0..count).map(move |i| (first + f64::from(i)) * pitch)
}

fn place_on(line: &[Segment], at: f64) -> (Point, Vec2) {
    let mut before = 0.0;
    for segment in line {
        let length = segment.length();
        if at <= before + length {
            let u = crate::part::parameter_at(segment, at - before);
            return (segment.point_at(u), segment.tangent_at(u));
        }
        before += length;
    }
    let last = line[line.len() - 1];
    (last.to(), last.tangent_at(1.0))
}
