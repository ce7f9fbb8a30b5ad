//! What is taken on a page.

use crate::drawing::label::width_of;
use crate::geom::{Point, Rect, Vec2};

/// Distance between the points by which a line is known, mm: less than a letter is high.
const STEP: f64 = 0.8;

/// Keeps words off one another and off lines.
#[derive(Debug)]
pub(super) struct Room {
    page: Rect,
    taken: Vec<Rect>,
    lines: Vec<Point>,
}

impl Room {
    pub(super) const fn new(page: Rect) -> Self {
        Self { page, taken: Vec::new(), lines: Vec::new() }
    }

    /// Marks a rectangle as taken.
    pub(super) fn take(&mut self, rect: Rect) {
        self.taken.push(rect);
    }

    /// Keeps words off a chain of lines.
    pub(super) fn avoid(&mut self, chain: &[Point]) {
        for ends in chain.windows(2) {
            let way = ends[1] - ends[0];
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "clamped to 1..=4000"
            )]
            let steps = (way.hypot() / STEP).ceil().clamp(1.0, 4000.0) as u32;
            let point = |i: u32| ends[0] + way * (f64::from(i) / f64::from(steps));
            self.lines.extend((0..=steps).map(point));
        }
    }

    /// Whether no words stand in a rectangle, which is on the page; lines may.
    pub(super) fn is_clear_of_words(&self, rect: Rect) -> bool {
        self.page.contains_rect(rect) && !self.taken.iter().any(|taken| taken.overlaps(rect))
    }

    /// Whether nothing stands in a rectangle, which is on the page.
    pub(super) fn is_free(&self, rect: Rect) -> bool {
        self.is_clear_of_words(rect) && !self.lines.iter().any(|p| rect.contains(*p))
    }

    /// A free place for a box of that size, its middle one of `middles`; then taken.
    pub(super) fn first_free(
        &mut self,
        (width, height): (f64, f64),
        middles: impl IntoIterator<Item = Point>,
    ) -> Option<Point> {
        let mut middles = middles.into_iter();
        let box_of = |middle: Point| Rect::from_center_size(middle, (width, height));
        let middle = middles.find(|middle| self.is_free(box_of(*middle)))?;
        self.take(box_of(middle));
        Some(middle)
    }

    /// The middle of a free place for words near `at`, which has a leader `off` mm long or longer;
    /// nearer ones and those toward `wanted` first.
    pub(super) fn beside(
        &mut self,
        text: &str,
        height: f64,
        (at, wanted): (Point, Vec2),
        off: f64,
    ) -> Option<Point> {
        let size = (width_of(text, height), 1.5 * height);
        let turned = [0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6, 7, -7, 8];
        let middles = (0..7).flat_map(|ring| {
            turned.into_iter().map(move |k| {
                let way =
                    Vec2::from_angle(wanted.atan2() + f64::from(k) * std::f64::consts::PI / 8.0);
                let reach = off + 3.0 * f64::from(ring);
                at + Vec2::new(way.x * (reach + size.0 / 2.0), way.y * (reach + size.1 / 2.0))
            })
        });
        self.first_free(size, middles.collect::<Vec<_>>())
    }
}
