//! Bars to lay a steel rule on.

use crate::geom::{Affine, Point, Rect, Vec2};
use crate::page::{Drawing, Layer, Mark, Shape, lettering};

/// How much of the page's breadth a bar with its words takes, mm.
pub(super) const BAR_BREADTH: f64 = 10.0;
/// Where its line lies in that.
const BAR_LINE: f64 = 5.0;
/// Height of its words, mm.
const WORDS: f64 = 2.2;
const INCH: f64 = 25.4;

/// How long the bars of one axis are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Bar {
    /// 200 mm and 8 in.
    Long,
    /// 100 mm and 4 in.
    Short,
}

impl Bar {
    /// The longer one where `room` mm hold it.
    pub(super) fn in_room(room: f64) -> Self {
        if room >= Self::Long.reach() + 1.0 { Self::Long } else { Self::Short }
    }

    pub(super) const fn mm(self) -> u32 {
        match self {
            Self::Long => 200,
            Self::Short => 100,
        }
    }

    pub(super) const fn inches(self) -> u32 {
        self.mm() / 25
    }

    /// The longer of its two lengths, mm.
    pub(super) fn reach(self) -> f64 {
        f64::from(self.inches()) * INCH
    }

    /// A line with ticks on both sides, from `start` along x, or along y where `upright`:
    /// centimetres on its left side, inches on its right one, and what each must measure.
    pub(super) fn draw(self, start: Point, upright: bool) -> Drawing {
        let mut bar = Drawing::default();
        let mut line = |from: (f64, f64), to: (f64, f64)| {
            bar.line(Layer::Note, from.into(), to.into());
        };
        line((0.0, 0.0), (self.reach(), 0.0));
        let (tens, inches) = (self.mm() / 10, self.inches());
        for i in 0..=tens {
            let tall = if i == 0 || i == tens { 4.2 } else { 1.2 };
            line((f64::from(i) * 10.0, 0.0), (f64::from(i) * 10.0, tall));
        }
        for i in 0..=inches {
            let tall = if i == 0 || i == inches { 4.2 } else { 1.2 };
            line((f64::from(i) * INCH, 0.0), (f64::from(i) * INCH, -tall));
        }
        let mm = format!("must measure {} mm between the long ticks", self.mm());
        let inch = format!("must measure {} in between the long ticks", self.inches());
        let middle = f64::from(self.mm()) / 2.0;
        bar.label(Point::new(middle, 2.0), WORDS, mm);
        bar.label(Point::new(middle, -2.0 - WORDS), WORDS, inch);
        let turn = if upright { std::f64::consts::FRAC_PI_2 } else { 0.0 };
        bar.moved(Affine::translate(start.to_vec2()) * Affine::rotate(turn))
    }
}

/// The bars of a page within `rect`: one along its lower edge, one along its left one above that.
pub(super) fn bars(rect: Rect, foot: f64) -> (Drawing, [Bar; 2]) {
    let across = Bar::in_room(rect.width());
    let up = Bar::in_room(rect.height() - foot);
    let words_below = foot - BAR_BREADTH;
    let mut both = across.draw(Point::new(rect.x0, rect.y0 + words_below + BAR_LINE), false);
    both.marks.extend(up.draw(Point::new(rect.x0 + BAR_LINE, rect.y0 + foot), true).marks);
    (both, [across, up])
}

/// Adds a line of words from `at` on, along an angle in radians.
pub(super) fn words(drawing: &mut Drawing, at: Point, height: f64, angle: f64, text: &str) {
    let shape = Shape::Text { at, height, angle, centred: false, text: text.to_owned() };
    drawing.marks.push(Mark { layer: Layer::Note, shape });
}

/// Adds lines of words below one another, the first one's capitals ending at `top`; gives the
/// place below them.
pub(super) fn paragraph(
    drawing: &mut Drawing,
    top: Point,
    (height, widest): (f64, f64),
    text: &str,
) -> Point {
    let mut below = top;
    for line in lettering::wrap(text, height, widest) {
        words(drawing, below - Vec2::new(0.0, height), height, 0.0, &line);
        below.y -= pitch(height);
    }
    below
}

/// From one base line to the next.
pub(super) fn pitch(height: f64) -> f64 {
    1.7 * height
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_measures_what_it_says_along_both_axes() {
        for (bar, mm, inch) in [(Bar::Long, 200.0, 203.2), (Bar::Short, 100.0, 101.6)] {
            for upright in [false, true] {
                let drawn = bar.draw(Point::new(7.0, 9.0), upright);
                let mut ends: Vec<f64> = drawn
                    .marks
                    .iter()
                    .filter_map(|mark| match &mark.shape {
                        // Long ticks stand across the bar.
                        Shape::Open(chain) if (chain[0].length() - 4.2).abs() < 1e-9 => {
                            let from = chain[0].from();
                            Some(if upright { from.y - 9.0 } else { from.x - 7.0 })
                        }
                        _ => None,
                    })
                    .collect();
                ends.sort_by(f64::total_cmp);
                let expected = [0.0, 0.0, mm, inch];
                assert!(
                    ends.len() == 4 && ends.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-9)
                );
            }
        }
        assert_eq!((Bar::in_room(204.2), Bar::in_room(204.1)), (Bar::Long, Bar::Short));
    }
}
