//! The ground taken on one sheet, in lanes along x: quick to search from the near end, openings and
//! gaps behind other parts included.
//!
//! Of a part only its spans in each lane are kept. They hold all of its metal in the lane, so a
//! place that the lanes say is free is free; how much more is lost than need be, a slide against
//! the true outlines takes up afterwards.

use super::outline::{Outline, TOUCH};
use crate::geom::Rect;

/// Stretches along x, from and to, mm, in rising order.
type Spans = Vec<(f64, f64)>;

/// Slack for a corner on the line between two lanes, mm.
const ON_LINE: f64 = 1e-9;

/// What an outline takes of each lane it meets, about its own origin, from the lowest lane on.
#[derive(Debug, Clone)]
pub(super) struct Profile(Vec<Spans>);

impl Profile {
    /// Of an outline whose lowest point lies `above` the start of a lane `height` high.
    pub(super) fn new(outline: &Outline, above: f64, height: f64) -> Self {
        let lift = above - outline.bounds.y0;
        let count = 1 + lane_at(above + outline.bounds.height() + ON_LINE, height);
        let mut spans: Vec<Spans> = vec![Vec::new(); count];
        let mut crossed: Vec<Vec<f64>> = vec![Vec::new(); count];
        for i in 0..outline.x0.len() {
            let (a, b) =
                ((outline.x0[i], outline.y0[i] + lift), (outline.x1[i], outline.y1[i] + lift));
            let (a, b) = if a.1 <= b.1 { (a, b) } else { (b, a) };
            let rise = b.1 - a.1;
            let at = |y: f64| {
                if rise > 0.0 {
                    a.0 + (b.0 - a.0) * ((y - a.1) / rise).clamp(0.0, 1.0)
                } else {
                    a.0
                }
            };
            let (from, to) =
                (lane_at(a.1 - ON_LINE, height), lane_at(b.1 + ON_LINE, height).min(count - 1));
            for lane in from..=to {
                let low = lane as f64 * height;
                let (p, q) = if rise > 0.0 { (at(low), at(low + height)) } else { (a.0, b.0) };
                spans[lane].push((p.min(q), p.max(q)));
                let middle = low + 0.5 * height;
                if a.1 <= middle && middle < b.1 {
                    crossed[lane].push(at(middle));
                }
            }
        }
        // Metal that no edge marks in a lane crosses the whole lane, its middle line too.
        for (spans, crossed) in spans.iter_mut().zip(&mut crossed) {
            crossed.sort_by(f64::total_cmp);
            spans.extend(crossed.chunks_exact(2).map(|pair| (pair[0], pair[1])));
            spans.sort_by(|p, q| p.0.total_cmp(&q.0));
            spans.dedup_by(|next, last| {
                let joined = next.0 <= last.1;
                if joined {
                    last.1 = last.1.max(next.1);
                }
                joined
            });
        }
        Self(spans)
    }
}

/// The lane that holds a height above the first lane's start; the first for what lies below.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // not negative; float casts saturate
fn lane_at(y: f64, height: f64) -> usize {
    (y / height).max(0.0) as usize
}

/// The lanes of one sheet.
#[derive(Debug, Clone)]
pub(super) struct Lanes {
    y0: f64,
    height: f64,
    taken: Vec<Spans>,
    /// Gaps shorter than this are of no use to any part, mm.
    gap: f64,
}

impl Lanes {
    /// Lanes `height` high over a room and `over` beyond it.
    pub(super) fn new(room: &Rect, over: f64, height: f64, gap: f64) -> Self {
        let y0 = room.y0 - over;
        let count = 1 + lane_at(room.y1 + over - y0, height);
        Self { y0, height, taken: vec![Vec::new(); count], gap }
    }

    /// The first lane and the profile of an outline at height `y`.
    pub(super) fn stand(&self, outline: &Outline, y: f64) -> (usize, Profile) {
        let low = y + outline.bounds.y0 - self.y0;
        let first = lane_at(low, self.height);
        (first, Profile::new(outline, (low - first as f64 * self.height).max(0.0), self.height))
    }

    /// The profile of an outline that begins with a lane.
    pub(super) fn even(&self, outline: &Outline) -> Profile {
        Profile::new(outline, 0.0, self.height)
    }

    /// Heights between `from` and `to` at which an outline begins with a lane, and those lanes.
    pub(super) fn heights(
        &self,
        outline: &Outline,
        from: f64,
        to: f64,
    ) -> impl Iterator<Item = (usize, f64)> {
        let (y0, height, low) = (self.y0, self.height, outline.bounds.y0);
        let first = lane_at(from + low - y0, height) + 1;
        (first..)
            .map(move |lane| (lane, y0 + lane as f64 * height - low))
            .take_while(move |at| at.1 <= to)
    }

    /// Marks what an outline takes at (x, y).
    pub(super) fn take(&mut self, outline: &Outline, x: f64, y: f64) {
        let (first, profile) = self.stand(outline, y);
        let last = self.taken.len() - 1;
        for (lane, spans) in profile.0.iter().enumerate() {
            for &(from, to) in spans {
                insert(&mut self.taken[(first + lane).min(last)], (from + x, to + x), self.gap);
            }
        }
    }

    /// The least x, not less than `from`, at which a profile from the lane `first` on is clear of
    /// all that is taken. An error is how far the search came before it passed `most`: nothing is
    /// free up to there.
    pub(super) fn leftmost(
        &self,
        profile: &Profile,
        first: usize,
        from: f64,
        most: f64,
    ) -> Result<f64, f64> {
        let last = self.taken.len() - 1;
        let mut x = from;
        loop {
            let before = x;
            for (lane, spans) in profile.0.iter().enumerate() {
                let taken = &self.taken[(first + lane).min(last)];
                for &(a, b) in spans {
                    let mut next = taken.partition_point(|t| t.1 + TOUCH <= x + a);
                    while next < taken.len() && taken[next].0 < x + b + TOUCH {
                        x = taken[next].1 - a + 2.0 * TOUCH;
                        if x > most {
                            return Err(x);
                        }
                        next += 1;
                    }
                }
            }
            if x == before {
                return if x <= most { Ok(x) } else { Err(x) };
            }
        }
    }
}

/// Adds a stretch to the list, and takes gaps too short for use for taken.
fn insert(list: &mut Spans, (from, to): (f64, f64), gap: f64) {
    let first = list.partition_point(|t| t.1 + gap < from);
    let beyond = list.partition_point(|t| t.0 - gap <= to);
    let joined = list[first..beyond.max(first)]
        .iter()
        .fold((from, to), |all, t| (all.0.min(t.0), all.1.max(t.1)));
    list.splice(first..beyond.max(first), [joined]);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nest::circles::{Circles, inscribed};
    use crate::nest::plane::Ring;

    fn outline(rings: &[Ring]) -> Outline {
        Outline::new(
            rings,
            rings[0].clone(),
            Circles::new(&inscribed(rings, f64::INFINITY, 4)),
            10.0,
        )
    }

    fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> Ring {
        vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
    }

    /// A frame of 100 with an opening of 60 in the middle, and a square: where it goes is plain
    /// from the sizes.
    #[test]
    fn the_first_free_place_is_found_in_an_opening_and_behind_a_part() {
        let mut lanes = Lanes::new(&Rect { x0: 0.0, y0: 0.0, x1: 500.0, y1: 100.0 }, 1.0, 5.0, 1.0);
        let opening: Ring = rectangle(20.0, 20.0, 80.0, 80.0).into_iter().rev().collect();
        lanes.take(&outline(&[rectangle(0.0, 0.0, 100.0, 100.0), opening]), 30.0, 0.0);
        let square = |size: f64| outline(&[rectangle(0.0, 0.0, size, size)]);
        let leftmost = |size: f64, y: f64| {
            let square = square(size);
            let (first, profile) = lanes.stand(&square, y);
            lanes.leftmost(&profile, first, 0.0, 400.0).expect("room")
        };
        // Before the frame, in its opening, and past it where the opening is too small or not level
        // with it.
        assert!(leftmost(28.0, 10.0).abs() < 1e-9);
        assert!((leftmost(50.0, 25.0) - 50.0).abs() < 1e-4);
        assert!((leftmost(50.0, 5.0) - 130.0).abs() < 1e-4);
        assert!((leftmost(61.0, 25.0) - 130.0).abs() < 1e-4);
    }

    #[test]
    fn a_slanting_edge_is_never_said_to_be_less_than_it_is() {
        // A triangle with corners at 0,0 60,0 and 0,60, in lanes of 4: at height y its metal ends
        // at 60 - y.
        let triangle = outline(&[vec![[0.0, 0.0], [60.0, 0.0], [0.0, 60.0]]]);
        for above in [0.0, 1.3, 3.9] {
            let profile = Profile::new(&triangle, above, 4.0);
            for (lane, spans) in profile.0.iter().enumerate() {
                let bottom = (lane as f64 * 4.0 - above).max(0.0);
                if bottom < 59.0 {
                    let end = spans.last().expect("metal").1;
                    assert!(
                        end >= 60.0 - bottom - 1e-5 && end <= 60.0 - bottom + 1e-5,
                        "{above} {lane}: {end}"
                    );
                    assert_eq!(spans.len(), 1, "solid");
                }
            }
        }
    }
}
