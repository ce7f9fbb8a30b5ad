//! The line of a station over a shell's profile: where it crosses the outline of either skin.

use kurbo::common::solve_itp;

use crate::flat::half_shell::has_wall;
use crate::geom::{Point, Rect, Vec2, left_of, spans_left};
use crate::part::HalfShell;
use crate::tolerance::{CROSSING_PIECES, CROSSING_SHARE};

/// A line square to the run, and how the run curves there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    pub(super) origin: Point,
    /// Direction of the run.
    pub(super) along: Vec2,
    /// Curvature of the run, 1/mm, positive to the left; 0 where stations are parallel.
    pub(super) curvature: f64,
}

impl Frame {
    pub(super) fn across(&self) -> Vec2 {
        left_of(self.along)
    }
}

/// A place where the line crosses an outline.
#[derive(Debug, Clone, Copy)]
pub(super) struct Crossing {
    /// Distance across from the frame's origin, mm.
    pub(super) y: f64,
    /// Whether the inside of the outline lies on the side of higher y.
    pub(super) inside_above: bool,
    /// Cosine of the angle between the outline and the run.
    pub(super) cosine: f64,
    /// Whether a wall stands on this side.
    pub(super) walled: bool,
}

/// A shell's profile, ready to be cut.
#[derive(Debug)]
pub(super) struct Profile<'a> {
    shell: &'a HalfShell,
    walled: Vec<bool>,
    boxes: Vec<Rect>,
}

/// A profile moved in at its walls.
#[derive(Debug, Clone)]
pub(super) struct Moved {
    /// By how much, mm.
    pub(super) inset: f64,
    /// What is left of each side, as a stretch of its parameter.
    spans: Vec<(f64, f64)>,
    /// Where each side begins.
    starts: Vec<Point>,
}

impl<'a> Profile<'a> {
    pub(super) fn of(shell: &'a HalfShell) -> Self {
        let sides = &shell.profile.sides.sides;
        let walled = (0..sides.len()).map(|i| has_wall(shell, i)).collect();
        Self { shell, walled, boxes: sides.iter().map(|side| side.segment.bounds()).collect() }
    }

    /// The profile moved in by `inset` mm at its walls. None where a corner of that finds no end.
    pub(super) fn moved(&self, inset: f64) -> Option<Moved> {
        let spans = spans_left(&self.shell.profile.sides, &|i| self.shift(i, inset))?;
        let starts =
            spans.iter().enumerate().map(|(i, span)| self.point(i, span.0, inset)).collect();
        Some(Moved { inset, spans, starts })
    }

    /// How far side `i` moves to its left, mm.
    fn shift(&self, i: usize, inset: f64) -> f64 {
        if self.walled[i] { inset } else { 0.0 }
    }

    /// The point of side `i` at the parameter `u`, moved.
    fn point(&self, i: usize, u: f64, inset: f64) -> Point {
        let segment = &self.shell.profile.sides.sides[i].segment;
        segment.point_at(u) + left_of(segment.tangent_at(u)) * self.shift(i, inset)
    }

    /// Where the line of `frame` crosses the moved profile.
    pub(super) fn crossings(&self, frame: &Frame, moved: &Moved) -> Vec<Crossing> {
        let ahead_of = |point: Point| (point - frame.origin).dot(frame.along);
        let ahead = |i: usize, u: f64| ahead_of(self.point(i, u, moved.inset));
        let mut found = Vec::new();
        for (i, &(from, to)) in moved.spans.iter().enumerate() {
            let segment = &self.shell.profile.sides.sides[i].segment;
            // Two sides share the sign of their corner, so that they agree whether the line passes
            // before or behind it.
            let ends =
                (ahead_of(moved.starts[i]), ahead_of(moved.starts[(i + 1) % moved.starts.len()]));
            let bracketed = (ends.0 <= 0.0) != (ends.1 <= 0.0);
            if !bracketed && (segment.is_straight() || !reaches(&self.boxes[i], moved.inset, frame))
            {
                continue;
            }
            let pieces = if segment.is_straight() { 1 } else { CROSSING_PIECES };
            let mut before = (from, ends.0);
            for k in 1..=pieces {
                let u = from + (to - from) * f64::from(k) / f64::from(pieces);
                let here = (u, if k == pieces { ends.1 } else { ahead(i, u) });
                if (before.1 <= 0.0) != (here.1 <= 0.0) {
                    let u = if segment.is_straight() {
                        before.0 + (here.0 - before.0) * before.1 / (before.1 - here.1)
                    } else {
                        root(&|u| ahead(i, u), before, here)
                    };
                    found.push(Crossing {
                        y: (self.point(i, u, moved.inset) - frame.origin).dot(frame.across()),
                        // The outline runs counter-clockwise: where it goes with the run, its
                        // inside lies to the left.
                        inside_above: before.1 <= 0.0,
                        cosine: segment.tangent_at(u).dot(frame.along).abs(),
                        walled: self.walled[i],
                    });
                }
                before = here;
            }
        }
        if self.shell.profile.centreline.is_some() { around_origin(&found) } else { found }
    }
}

/// Whether an outline inside `bounds`, moved by `margin` at most, may touch the frame's line.
fn reaches(bounds: &Rect, margin: f64, frame: &Frame) -> bool {
    let centre = (bounds.center() - frame.origin).dot(frame.along).abs();
    let half =
        f64::midpoint(bounds.width() * frame.along.x.abs(), bounds.height() * frame.along.y.abs());
    centre <= half + margin
}

/// Where `value` is zero between two places with values of either sign.
fn root(value: &dyn Fn(f64) -> f64, (a, at_a): (f64, f64), (b, at_b): (f64, f64)) -> f64 {
    let rising = at_a <= 0.0;
    let signed = |u: f64| if rising { value(u) } else { -value(u) };
    // Whole stretch 0 to 1, walked from a to b.
    let place = |x: f64| a + (b - a) * x;
    place(solve_itp(
        |x| signed(place(x)),
        0.0,
        1.0,
        CROSSING_SHARE,
        1,
        0.2,
        -at_a.abs(),
        at_b.abs(),
    ))
}

/// The crossings beside the frame's origin alone: the line across a run that curls back may cross
/// it elsewhere too.
fn around_origin(found: &[Crossing]) -> Vec<Crossing> {
    let below = found.iter().filter(|c| c.y <= 0.0).max_by(|a, b| a.y.total_cmp(&b.y));
    let above = found.iter().filter(|c| c.y > 0.0).min_by(|a, b| a.y.total_cmp(&b.y));
    match (below, above) {
        (Some(below), Some(above)) if below.inside_above && !above.inside_above => {
            vec![*below, *above]
        }
        _ => Vec::new(),
    }
}

/// The frame at `at` along the shell's run: along its centreline, straight on beyond its ends, or
/// along x.
pub(super) fn frame_at(shell: &HalfShell, at: f64) -> Frame {
    let Some(line) = &shell.profile.centreline else {
        return Frame { origin: Point::new(at, 0.0), along: Vec2::new(1.0, 0.0), curvature: 0.0 };
    };
    let (i, u) = line.place(at).unwrap_or_default();
    let (segment, beyond) = (&line.pieces()[i], at - at.clamp(0.0, line.length()));
    let along = segment.tangent_at(u);
    let curvature = if beyond == 0.0 { segment.curvature_at(u) } else { 0.0 };
    Frame { origin: segment.point_at(u) + along * beyond, along, curvature }
}
