//! Where neighbouring tiles are cut and laid on each other.
//!
//! A tile is cut along its right and its upper broken line and laid over its neighbours there: so
//! the strips at the left and at the foot of a sheet, which bear no drawing, come under.

use super::bars::words;
use super::free::Taken;
use super::tiling::{Tiling, tile_name};
use crate::geom::{Affine, Point, Polyarc, Rect};
use crate::page::{Drawing, Layer, lettering};

/// Radius of a register mark and half the length of its cross, mm.
const RING: f64 = 2.0;
const ARM: f64 = 3.5;
/// Height of the words at a joint, mm; with their distance they lie in half an overlap.
const WORDS: f64 = 2.2;
const WORDS_OFF: f64 = 1.3;
/// Distance between the places tried along a joint, mm.
const TRY_STEP: f64 = 2.5;
/// Where along a joint its register marks are wanted, and where its words.
const RINGS_AT: [f64; 2] = [0.15, 0.85];
const WORDS_AT: f64 = 0.5;

/// What is printed of a tile's joints, in the drawing's coordinates.
pub(super) struct Joints {
    /// Broken lines.
    pub(super) cuts: Drawing,
    /// Register marks and words.
    pub(super) marks: Drawing,
}

/// A joint between two tiles, along x or y, in the drawing's coordinates.
struct Joint {
    upright: bool,
    /// Its place across itself, and where it begins and ends.
    place: f64,
    ends: (f64, f64),
    /// The tile that is cut and comes to lie above, and its neighbour.
    above: (usize, usize),
    below: (usize, usize),
}

impl Joint {
    /// The joint as if it ran along x: its own along and off it, to the drawing's coordinates.
    /// Positive off is what is cut away.
    fn motion(&self) -> Affine {
        if self.upright {
            // Along goes up, off goes right.
            Affine::new([0.0, 1.0, 1.0, 0.0, self.place, 0.0])
        } else {
            Affine::translate((0.0, self.place))
        }
    }

    fn rect(&self, along: (f64, f64), off: (f64, f64)) -> Rect {
        self.motion().transform_rect_bbox(Rect::new(along.0, off.0, along.1, off.1))
    }

    /// The place at a share of its length, for something that reaches `half` to both sides.
    fn wanted(&self, share: f64, half: f64) -> f64 {
        let (low, high) = (self.ends.0 + half, self.ends.1 - half);
        let wanted = self.ends.0 + (self.ends.1 - self.ends.0) * share;
        wanted.clamp(low.min(high), high.max(low))
    }

    /// The free place nearest to the wanted one for something that reaches `half` to both sides and
    /// from `off.0` to `off.1` across.
    fn free_place(&self, share: f64, half: f64, off: (f64, f64), taken: &Taken) -> Option<f64> {
        let (low, high) = (self.ends.0 + half, self.ends.1 - half);
        let wanted = self.wanted(share, half);
        let tries = ((high - low) / TRY_STEP).max(0.0).floor();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a joint is no longer than a paper"
        )]
        let tries = tries as u32;
        (0..=tries)
            .map(|i| low + f64::from(i) * TRY_STEP)
            .chain([wanted])
            .filter(|at| taken.is_free(self.rect((at - half, at + half), off)))
            .min_by(|a, b| (a - wanted).abs().total_cmp(&(b - wanted).abs()))
    }

    /// The words and register marks, as the tile that lies above has them or the one below; the
    /// register marks of both are at the same places.
    fn draw(&self, is_above: bool, taken: &Taken, marks: &mut Drawing) {
        let mut taken = taken.clone();
        for share in RINGS_AT {
            let free = self.free_place(share, ARM, (-ARM, ARM), &taken);
            let at = free.unwrap_or_else(|| self.wanted(share, ARM));
            taken.take(self.rect((at - ARM, at + ARM), (-ARM, ARM)));
            let centre = self.motion() * Point::new(at, 0.0);
            marks.closed(Layer::Note, Polyarc::circle(centre, RING));
            for (from, to) in [((-ARM, 0.0), (ARM, 0.0)), ((0.0, -ARM), (0.0, ARM))] {
                marks.line(Layer::Note, centre + from, centre + to);
            }
        }
        // Fewer words where the drawing's lines leave no room for more.
        let texts = if is_above {
            let other = tile_name(self.below);
            [
                format!("cut here, lay over {other}"),
                format!("lay over {other}"),
                format!("over {other}"),
            ]
        } else {
            let other = tile_name(self.above);
            [format!("to here comes the edge of {other}"), format!("edge of {other}"), other]
        };
        let off = if is_above {
            (WORDS_OFF, WORDS_OFF + WORDS)
        } else {
            (-WORDS_OFF - WORDS, -WORDS_OFF)
        };
        let half = |text: &str| lettering::width(text, WORDS) / 2.0;
        let free = texts.iter().find_map(|text| {
            self.free_place(WORDS_AT, half(text), off, &taken).map(|at| (at, text))
        });
        let (at, text) = free.unwrap_or_else(|| {
            let [.., shortest] = &texts;
            (self.wanted(WORDS_AT, half(shortest)), shortest)
        });
        // Words along an upright joint read upward, their letters to the left of their base line.
        let base = if self.upright { off.1 } else { off.0 };
        let turn = if self.upright { std::f64::consts::FRAC_PI_2 } else { 0.0 };
        words(marks, self.motion() * Point::new(at - half(text), base), WORDS, turn, text);
    }
}

/// The joints of a tile; its cuts go on to `edge`, the paper's printed part, in the drawing's
/// coordinates.
pub(super) fn joints(tiling: &Tiling, tile: (usize, usize), taken: &Taken, edge: Rect) -> Joints {
    let (row, column) = tile;
    let window = tiling.window(tile);
    let mut found = Joints { cuts: Drawing::default(), marks: Drawing::default() };
    let upright = |left: (usize, usize)| {
        let seen = tiling.seen(left);
        Joint {
            upright: true,
            place: seen.x1,
            ends: (seen.y0, seen.y1),
            above: left,
            below: (left.0, left.1 + 1),
        }
    };
    let level = |upper: (usize, usize)| {
        let lower = (upper.0 + 1, upper.1);
        let seen = tiling.seen(lower);
        Joint {
            upright: false,
            place: seen.y1,
            ends: (seen.x0, seen.x1),
            above: lower,
            below: upper,
        }
    };
    if column + 1 < tiling.columns {
        let joint = upright(tile);
        let x = joint.place;
        found.cuts.line(Layer::Note, Point::new(x, edge.y0), Point::new(x, window.y1));
        joint.draw(true, taken, &mut found.marks);
    }
    if column > 0 {
        let joint = upright((row, column - 1));
        let x = joint.place;
        found.cuts.line(Layer::Note, Point::new(x, window.y0), Point::new(x, window.y1));
        joint.draw(false, taken, &mut found.marks);
    }
    if row > 0 {
        let joint = level((row - 1, column));
        let y = joint.place;
        found.cuts.line(Layer::Note, Point::new(edge.x0, y), Point::new(window.x1, y));
        joint.draw(true, taken, &mut found.marks);
    }
    if row + 1 < tiling.rows {
        let joint = level(tile);
        let y = joint.place;
        found.cuts.line(Layer::Note, Point::new(window.x0, y), Point::new(window.x1, y));
        joint.draw(false, taken, &mut found.marks);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::page::Shape;

    /// Lines across an upright joint, 20 mm apart.
    fn ladder() -> Drawing {
        let mut drawing = Drawing::default();
        for i in 0..=10 {
            let y = f64::from(i) * 20.0;
            drawing.line(Layer::Outside, Point::new(0.0, y), Point::new(400.0, y));
        }
        drawing
    }

    #[test]
    fn words_are_fewer_where_lines_leave_less_room_and_lie_on_none_of_them() {
        let drawing = ladder();
        let taken = Taken::by(&drawing);
        let tiling = Tiling::around(Rect::new(0.0, 0.0, 400.0, 200.0), (210.0, 200.0), (2, 1));
        let said = |tile| {
            let drawn = joints(&tiling, tile, &taken, tiling.window(tile)).marks;
            let text = drawn.marks.iter().find_map(|mark| match &mark.shape {
                Shape::Text { at, text, .. } => Some((*at, text.clone())),
                _ => None,
            });
            text.expect("words")
        };
        for (tile, words) in [((0, 0), "over A2"), ((0, 1), "edge of A1")] {
            let (at, text) = said(tile);
            assert_eq!(text, words);
            let reach = lettering::width(&text, WORDS);
            let rung = (at.y / 20.0).floor();
            assert!(at.y > 20.0 * rung && at.y + reach < 20.0 * (rung + 1.0), "{at:?}");
        }
    }
}
