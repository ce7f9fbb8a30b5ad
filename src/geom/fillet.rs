//! The round of a corner between any two pieces of an outline.

use kurbo::{Point, Vec2};

use super::{Segment, left_of};

/// Why a corner could not be rounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FilletFailure {
    /// The two pieces run on into each other: there is no corner.
    NoCorner,
    /// The round reaches past the end of a piece; the largest that straight pieces of these lengths
    /// would allow, mm.
    TooLarge {
        /// That radius.
        largest: f64,
    },
}

/// A point on a run of segments: parameter from 0 to its count.
fn on(run: &[Segment], place: f64) -> (Point, Vec2) {
    let last = run.len() - 1;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 0..=last"
    )]
    let i = place.floor().clamp(0.0, last as f64) as usize;
    let u = place - i as f64;
    // Beyond its ends every piece runs on as the line, circle or cubic that it is, so that
    // `Segment::between` says the same.
    (run[i].point_at(u), run[i].tangent_at(u))
}

/// Where a round of `radius` between the end of `before` and the start of `after` leaves the one
/// and joins the other, as places (parameter from 0 to the run's segment count).
///
/// The centre of the round is where the two pieces, both shifted by `radius` to the inner side of
/// the turn, meet.
pub fn fillet(
    before: &[Segment],
    after: &[Segment],
    radius: f64,
) -> Result<(f64, f64), FilletFailure> {
    let ends = (before.len() as f64, after.len() as f64);
    let (arrive, leave) = (on(before, ends.0).1, on(after, 0.0).1);
    let turn = arrive.cross(leave).atan2(arrive.dot(leave));
    if turn.abs() < 1e-6 {
        return Err(FilletFailure::NoCorner);
    }
    let lengths =
        (before.last().map_or(0.0, Segment::length), after.first().map_or(0.0, Segment::length));
    let largest = lengths.0.min(lengths.1) / (turn.abs() / 2.0).tan();
    let side = turn.signum() * radius;
    match meet(before, side, after, side) {
        Some((u, v)) if u > 0.0 && u <= ends.0 && v >= 0.0 && v < ends.1 => Ok((u, v)),
        _ => Err(FilletFailure::TooLarge { largest }),
    }
}

/// Where two runs, the one near whose start the other ends, meet when each is shifted to its left
/// by its own distance, as places on the runs as they were.
///
/// Solves before(u) + a n(u) = after(v) + b n(v), n the left normal, by Newton's method from the
/// straight corner's answer; pieces run on beyond their ends where that is needed. None where the
/// shifted pieces do not meet near the corner.
#[must_use]
pub fn meet(before: &[Segment], a: f64, after: &[Segment], b: f64) -> Option<(f64, f64)> {
    let ends = (before.len() as f64, after.len() as f64);
    let ((corner, arrive), (next, leave)) = (on(before, ends.0), on(after, 0.0));
    let lengths = (before.last()?.length(), after.first()?.length());
    let cross = arrive.cross(leave);
    if cross.abs() < 1e-9 {
        return ((a - b).abs() < 1e-9).then_some((ends.0, 0.0));
    }
    // The straight corner: p + a n1 + s t1 = p + b n2 + r t2.
    let gap = (next - corner) + left_of(leave) * b - left_of(arrive) * a;
    let mut u = ends.0 + gap.cross(leave) / cross / lengths.0;
    let mut v = gap.cross(arrive) / cross / lengths.1;
    let residual = |u: f64, v: f64| {
        let ((p, t), (q, s)) = (on(before, u), on(after, v));
        (p - q) + left_of(t) * a - left_of(s) * b
    };
    let scale = corner.to_vec2().hypot().max(a.abs()).max(1.0);
    for _ in 0..60 {
        let miss = residual(u, v);
        if miss.hypot() < 1e-13 * scale {
            break;
        }
        let h = 1e-7;
        let du = (residual(u + h, v) - residual(u - h, v)) / (2.0 * h);
        let dv = (residual(u, v + h) - residual(u, v - h)) / (2.0 * h);
        let determinant = du.cross(dv);
        if determinant == 0.0 || !determinant.is_finite() {
            return None;
        }
        u = (u - miss.cross(dv) / determinant).clamp(-0.5, ends.0 + 1.5);
        v = (v - du.cross(miss) / determinant).clamp(-1.5, ends.1 + 0.5);
    }
    (residual(u, v).hypot() < 1e-8 * scale).then_some((u, v))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(from: (f64, f64), to: (f64, f64)) -> Segment {
        Segment::Line { from: from.into(), to: to.into() }
    }

    #[test]
    fn right_angle_corner_is_rounded_at_the_radius_from_it() {
        let (u, v) =
            fillet(&[line((0.0, 0.0), (100.0, 0.0))], &[line((100.0, 0.0), (100.0, 50.0))], 12.0)
                .expect("room enough");
        assert!((u - 0.88).abs() < 1e-12 && (v - 0.24).abs() < 1e-12);
    }

    #[test]
    fn line_into_arc_gives_a_round_that_touches_both() {
        let arc =
            Segment::Arc { from: Point::new(100.0, 0.0), to: Point::new(60.0, 60.0), bulge: 0.2 };
        let before = line((0.0, 0.0), (100.0, 0.0));
        let (u, v) = fillet(&[before], &[arc], 10.0).expect("room enough");
        let centre = before.point_at(u) + left_of(before.tangent_at(u)) * 10.0;
        let other = arc.point_at(v) + left_of(arc.tangent_at(v)) * 10.0;
        assert!(centre.distance(other) < 1e-9);
    }

    #[test]
    fn a_round_larger_than_the_side_says_how_large_it_may_be() {
        let failure =
            fillet(&[line((0.0, 0.0), (100.0, 0.0))], &[line((100.0, 0.0), (100.0, 20.0))], 25.0);
        assert_eq!(failure, Err(FilletFailure::TooLarge { largest: 20.000_000_000_000_004 }));
    }
}
