//! Places for words on a drawing, so that they cover nothing and stay inside.

use kurbo::{Point, Rect};

use crate::geom::{Polyarc, Segment};

/// Width of a line of text of capital height 1: drawing letters are about this wide on average.
const LETTER_WIDTH: f64 = 0.82;

/// Distance between the points by which a line is known, mm: less than any letter is high.
const LINE_STEP: f64 = 1.0;

/// Keeps track of what is taken on a drawing.
#[derive(Debug, Clone)]
pub(super) struct LabelPlacer<'a> {
    outline: &'a Polyarc,
    taken: Vec<Rect>,
    /// Points along lines that words must not cross.
    lines: Vec<Point>,
}

impl<'a> LabelPlacer<'a> {
    pub(super) fn new(outline: &'a Polyarc) -> Self {
        Self { outline, taken: Vec::new(), lines: Vec::new() }
    }

    /// Marks a rectangle as taken.
    pub(super) fn take(&mut self, rect: Rect) {
        self.taken.push(rect);
    }

    /// Keeps words off a chain of lines.
    pub(super) fn avoid(&mut self, chain: &[Segment]) {
        for segment in chain {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "clamped to 1..=4000"
            )]
            let steps = (segment.length() / LINE_STEP).ceil().clamp(1.0, 4000.0) as u32;
            self.lines
                .extend((0..=steps).map(|i| segment.point_at(f64::from(i) / f64::from(steps))));
        }
    }

    /// A place for level text, its middle as near to `wanted` as can be, in the largest of a few
    /// heights that fits: (middle of the base line, height). It is then taken.
    pub(super) fn place(
        &mut self,
        text: &str,
        wanted: Point,
        largest: f64,
    ) -> Option<(Point, f64)> {
        [1.0, 0.8, 0.6, 0.45, 0.3, 0.2].into_iter().find_map(|share| {
            let height = largest * share;
            let size = (width_of(text, height), height * 1.5);
            let rect = self.free_place(size, wanted)?;
            self.taken.push(rect);
            Some((Point::new(rect.center().x, rect.y0 + height * 0.25), height))
        })
    }

    /// The free rectangle of that size nearest to `wanted`.
    fn free_place(&self, (width, height): (f64, f64), wanted: Point) -> Option<Rect> {
        let bounds = self.outline.bounds();
        let mut best: Option<(f64, Rect)> = None;
        let steps = 40;
        for i in 0..=steps {
            for k in 0..=steps {
                // One more candidate than the grid: the wanted place itself.
                let at = if (i, k) == (0, 0) {
                    wanted
                } else {
                    let share = |n: i32| f64::from(n) / f64::from(steps);
                    Point::new(
                        bounds.x0 + bounds.width() * share(i),
                        bounds.y0 + bounds.height() * share(k),
                    )
                };
                let rect = Rect::from_center_size(at, (width, height));
                let distance = at.distance(wanted);
                if best.as_ref().is_some_and(|(d, _)| *d <= distance) {
                    continue;
                }
                if self.is_free(rect) {
                    best = Some((distance, rect));
                }
            }
        }
        best.map(|(_, rect)| rect)
    }

    fn is_free(&self, rect: Rect) -> bool {
        if self.taken.iter().any(|taken| taken.overlaps(rect))
            || self.lines.iter().any(|p| rect.contains(*p))
        {
            return false;
        }
        let steps = 6;
        let inside = |x: f64, y: f64| self.outline.contains(Point::new(x, y));
        (0..=steps).all(|i| {
            let x = rect.x0 + rect.width() * f64::from(i) / f64::from(steps);
            inside(x, rect.y0) && inside(x, rect.y1)
        })
    }
}

/// Width of a line of text, mm.
pub(super) fn width_of(text: &str, height: f64) -> f64 {
    text.chars().count() as f64 * height * LETTER_WIDTH
}

impl LabelPlacer<'_> {
    /// Takes a rectangle if it is free and inside.
    pub(super) fn take_if_free(&mut self, rect: Rect) -> bool {
        let free = self.is_free(rect)
            && [rect.y0, rect.y1, rect.center().y]
                .iter()
                .all(|y| self.outline.contains(Point::new(rect.x0, *y)));
        if free {
            self.taken.push(rect);
        }
        free
    }

    /// A place for a short word within a few letters of `near`, in `height` or somewhat less, down
    /// to `least`: (middle of the base line, height). It is then taken.
    pub(super) fn place_near(
        &mut self,
        text: &str,
        near: Point,
        height: f64,
        least: f64,
    ) -> Option<(Point, f64)> {
        for height in [1.0, 0.75, 0.55]
            .map(|share| share * height)
            .into_iter()
            .filter(|height| *height >= least)
        {
            let (width, high) = (width_of(text, height), 1.4 * height);
            for ring in 0..8 {
                let off = 0.9 * height + 0.7 * height * f64::from(ring);
                for step in 0..16 {
                    let way =
                        kurbo::Vec2::from_angle(f64::from(step) * std::f64::consts::TAU / 16.0);
                    let middle = near
                        + kurbo::Vec2::new(way.x * (off + width / 2.0), way.y * (off + high / 2.0));
                    let rect = Rect::from_center_size(middle, (width, high));
                    if self.take_if_free(rect) {
                        return Some((Point::new(middle.x, rect.y0 + 0.2 * height), height));
                    }
                }
            }
        }
        None
    }
}

/// `text` broken at spaces into lines no wider than `widest`.
pub(super) fn wrapped(text: &str, height: f64, widest: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if width_of(line, height) + width_of(word, height) + height <= widest => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}
