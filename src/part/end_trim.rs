//! Metal left beyond the open edges of a half-shell, to be cut off when the walls are down.

use std::borrow::Cow;

use super::{HalfShell, Outline};
use crate::geom::{Loop, Point, Segment, Side, shifted, spans_left};
use crate::units::Length;

/// A half-shell's outline as it is hammered, longer than it is finished.
#[derive(Debug, Clone, PartialEq)]
pub struct Hammered {
    /// The outline, its edges named as the finished one's.
    pub profile: Outline,
    /// For each of its sides the open edge that it is cut back to; none of walls.
    pub finished: Vec<Option<Segment>>,
}

impl Hammered {
    /// `by` mm more beyond every open edge of a profile; walls run on, lines and arcs as they are,
    /// curves straight. An error is the end of a side that finds no end there.
    pub(crate) fn of(
        profile: &Outline,
        is_open: &dyn Fn(&Side) -> bool,
        by: f64,
    ) -> Result<Self, Point> {
        let sides = &profile.sides.sides;
        let count = sides.len();
        let near =
            |i: usize| is_open(&sides[(i + count - 1) % count]) || is_open(&sides[(i + 1) % count]);
        // Curves get pieces of their own to run on.
        let mut longer: Vec<(Side, usize)> = Vec::new();
        for (i, side) in sides.iter().enumerate() {
            let runs_on = matches!(side.segment, Segment::Curve(_)) && !is_open(side) && near(i);
            let piece =
                |from: Point, to: Point| (Side { segment: Segment::Line { from, to }, ..*side }, i);
            if runs_on && is_open(&sides[(i + count - 1) % count]) {
                let start = side.segment.from();
                longer.push(piece(start - side.segment.tangent_at(0.0) * by, start));
            }
            longer.push((*side, i));
            if runs_on && is_open(&sides[(i + 1) % count]) {
                let end = side.segment.to();
                longer.push(piece(end, end + side.segment.tangent_at(1.0) * by));
            }
        }
        let outline = Loop { sides: longer.iter().map(|(side, _)| *side).collect() };
        let shift = |i: usize| if is_open(&outline.sides[i]) { -by } else { 0.0 };
        let in_line = |i: usize| {
            let next = (i + 1) % outline.sides.len();
            is_open(&outline.sides[i]) != is_open(&outline.sides[next])
                && outline.turn_before(next).sin().abs() < 0.2
        };
        let nowhere = (0..outline.sides.len()).find(|i| in_line(*i)).unwrap_or(0);
        let fault = outline.sides[nowhere].segment.to();
        if in_line(nowhere) {
            return Err(fault);
        }
        let spans = spans_left(&outline, &shift).ok_or(fault)?;
        let mut hammered = Self {
            profile: Outline { sides: Loop { sides: Vec::new() }, ..profile.clone() },
            finished: Vec::new(),
        };
        for (i, ((side, original), (from, to))) in longer.iter().zip(spans).enumerate() {
            if to <= from {
                return Err(side.segment.from());
            }
            let whole = from == 0.0 && to == 1.0;
            let segment = if whole { side.segment } else { side.segment.between(from, to) };
            let open = is_open(side);
            let pieces = if open {
                shifted(&segment, shift(i)).ok_or(side.segment.from())?
            } else {
                vec![segment]
            };
            for segment in pieces {
                hammered.profile.sides.sides.push(Side { segment, edge: side.edge });
                hammered.finished.push(open.then(|| sides[*original].segment));
            }
        }
        let count = hammered.finished.len();
        for i in 0..count {
            let start = hammered.profile.sides.sides[(i + 1) % count].segment.from();
            hammered.profile.sides.sides[i].segment.end_at(start);
        }
        Ok(hammered)
    }
}

impl HalfShell {
    /// The shell as it is hammered, with the metal beyond its open edges.
    #[must_use]
    pub fn as_hammered(&self) -> Cow<'_, Self> {
        match &self.hammered {
            None => Cow::Borrowed(self),
            Some(hammered) => Cow::Owned(Self {
                profile: hammered.profile.clone(),
                hammered: None,
                ..self.clone()
            }),
        }
    }

    /// The shell as it is finished, no metal being left beyond its open edges.
    #[must_use]
    pub fn as_finished(&self) -> Self {
        Self { end_trim: Length::ZERO, hammered: None, ..self.clone() }
    }

    /// What a side of [`Self::as_hammered`] without a wall is cut back to; none where no metal is
    /// left beyond it.
    #[must_use]
    pub fn finished_edge(&self, side: usize) -> Option<Segment> {
        self.hammered.as_ref().and_then(|hammered| hammered.finished[side])
    }
}
