//! What stands around a drawing on its page, clear of it: scale bars, a legend of its lines, its
//! title and captions.

use crate::formats::line_style::{Style, style};
use crate::formats::{text, used_layers};
use crate::geom::{Point, Rect};
use crate::page::{Drawing, Layer};
use crate::units::MM_PER_INCH;

/// One thing in the margin, in drawing coordinates.
pub(super) enum Note {
    /// Straight lines.
    Lines(Vec<(Point, Point)>),
    /// A piece of line as a legend shows it.
    Sample { look: Style, from: Point, to: Point },
    /// A line of text from its left end.
    Words { at: Point, height: f64, angle: f64, text: String },
}

/// The margin of a page.
pub(super) struct Margin {
    /// The whole page in drawing coordinates, its edges on whole millimetres.
    pub(super) page: Rect,
    pub(super) notes: Vec<Note>,
}

/// A ruler: its length and tick pitch in mm and what it says.
const BARS: [(f64, f64, &str); 2] =
    [(100.0, 10.0, "100 mm"), (4.0 * MM_PER_INCH, MM_PER_INCH / 2.0, "4 in")];

impl Margin {
    /// The margin around what is drawn within `body`, with words and gaps enlarged by `coarseness`.
    pub(super) fn around(body: Rect, drawing: &Drawing, coarseness: f64, with_title: bool) -> Self {
        let mut layout = Layout {
            notes: Vec::new(),
            unit: coarseness,
            left: body.x0,
            right: body.x1,
            y: body.y0,
        };
        layout.upright_bars(body);
        layout.level_bars();
        layout.legend(drawing);
        if with_title {
            layout.paragraph(&drawing.title, 3.0);
        }
        for caption in &drawing.captions {
            layout.paragraph(caption, 2.5);
        }
        let edge = 5.0 * coarseness;
        let reach = layout.notes.iter().fold(body, |reach, note| match note {
            Note::Lines(lines) => {
                lines.iter().fold(reach, |reach, line| reach.union_pt(line.0).union_pt(line.1))
            }
            Note::Sample { from, to, .. } => reach.union_pt(*from).union_pt(*to),
            Note::Words { at, height, angle, text } => {
                reach.union(super::write::text_bounds(*at, *height, *angle, false, text))
            }
        });
        let page = reach.inset(edge);
        Self {
            page: Rect::new(page.x0.floor(), page.y0.floor(), page.x1.ceil(), page.y1.ceil()),
            notes: layout.notes,
        }
    }
}

/// Puts notes below one another, starting under the drawing.
struct Layout {
    notes: Vec<Note>,
    /// Millimetres on the page for one millimetre of type.
    unit: f64,
    left: f64,
    right: f64,
    /// The lower edge of what has been put so far.
    y: f64,
}

impl Layout {
    /// A ruler from `at` along `angle` (0 or a quarter turn), its ticks to the left of its
    /// direction.
    fn bar(&mut self, at: Point, upright: bool, (length, pitch, _): (f64, f64, &str)) {
        let point = |along: f64, aside: f64| {
            if upright {
                Point::new(at.x - aside, at.y + along)
            } else {
                Point::new(at.x + along, at.y + aside)
            }
        };
        let mut lines = vec![(point(0.0, 0.0), point(length, 0.0))];
        let mut tick = 0.0;
        while tick <= length + 1e-6 {
            let is_end = tick == 0.0 || tick > length - 1e-6;
            let size = if is_end { 2.5 } else { 1.2 } * self.unit;
            lines.push((point(tick.min(length), 0.0), point(tick.min(length), size)));
            tick += pitch;
        }
        self.notes.push(Note::Lines(lines));
    }

    /// The two rulers up the left side, where the drawing is high enough to stand beside.
    fn upright_bars(&mut self, body: Rect) {
        if body.height() < BARS[1].0 {
            return;
        }
        let mut x = body.x0 - 5.0 * self.unit;
        for bar in BARS {
            self.bar(Point::new(x, body.y0), true, bar);
            let at = Point::new(x - 3.2 * self.unit, body.y0 + 12.0 * self.unit);
            self.notes.push(Note::Words {
                at,
                height: 2.5 * self.unit,
                angle: std::f64::consts::FRAC_PI_2,
                text: bar.2.to_owned(),
            });
            x -= 8.0 * self.unit;
        }
    }

    fn level_bars(&mut self) {
        self.y -= 4.0 * self.unit;
        for bar in BARS {
            self.y -= 4.5 * self.unit;
            let at = Point::new(self.left, self.y);
            self.bar(at, false, bar);
            let beside = Point::new(at.x + bar.0 + 2.0 * self.unit, at.y);
            let words = format!("{}, to check the scale", bar.2);
            self.right = self.right.max(beside.x + text::width(&words, 2.5 * self.unit));
            self.notes.push(Note::Words {
                at: beside,
                height: 2.5 * self.unit,
                angle: 0.0,
                text: words,
            });
            self.y -= 1.0 * self.unit;
        }
    }

    /// A sample of each kind of line used, with its meaning, as many beside one another as the page
    /// is wide.
    fn legend(&mut self, drawing: &Drawing) {
        let mut entries: Vec<Style> = used_layers(drawing)
            .into_iter()
            .filter(|layer| *layer != Layer::Note)
            .map(style)
            .collect();
        if !drawing.backdrop.is_empty() {
            entries.push(Style {
                colour: "#b0b0b0",
                width: 0.25,
                words: "for orientation, not cut",
                ..style(Layer::Note)
            });
        }
        if entries.is_empty() {
            return;
        }
        let (height, sample) = (2.5 * self.unit, 21.0 * self.unit);
        let widest = entries.iter().map(|look| text::width(look.words, height)).fold(0.0, f64::max);
        let column = sample + widest + 6.0 * self.unit;
        self.y -= 3.0 * self.unit;
        let mut x = self.left;
        self.y -= 5.0 * self.unit;
        for look in entries {
            if x > self.left && x + column > self.right {
                x = self.left;
                self.y -= 5.0 * self.unit;
            }
            let middle = self.y + height / 2.0;
            self.notes.push(Note::Sample {
                look,
                from: Point::new(x, middle),
                to: Point::new(x + sample, middle),
            });
            let at = Point::new(x + sample + 2.0 * self.unit, self.y);
            self.notes.push(Note::Words { at, height, angle: 0.0, text: look.words.to_owned() });
            x += column;
        }
        self.y -= 1.0 * self.unit;
    }

    /// A sentence, broken to the width of the page.
    fn paragraph(&mut self, words: &str, height: f64) {
        let height = height * self.unit;
        self.y -= 2.0 * self.unit;
        for line in text::wrap(&text::printable(words), height, self.right - self.left) {
            self.y -= 1.7 * height;
            self.notes.push(Note::Words {
                at: Point::new(self.left, self.y),
                height,
                angle: 0.0,
                text: line,
            });
        }
    }
}
