//! A picture to look at, not to cut from: filled areas, lines and words on a page, before any file
//! format.

use crate::geom::{Point, Rect};

/// A scale of colours for values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Scale {
    /// Two hues that meet at 0: [`Scale::steps`] steps, the middle one around 0.
    Diverging,
    /// One hue, darker with more.
    Sequential,
}

impl Scale {
    /// How many colours it has.
    #[must_use]
    pub const fn steps(self) -> usize {
        match self {
            Self::Diverging => 11,
            Self::Sequential => 8,
        }
    }
}

/// What an area is filled with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ink {
    /// Plain metal.
    Metal,
    /// Tools and machine.
    Tool,
    /// A colour of a scale.
    Step(Scale, usize),
    /// Black, for dots and arrows.
    Black,
    /// White, for what stands on lines.
    Paper,
}

/// What a line is drawn with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pen {
    /// The edge of the metal as cut.
    Cut,
    /// An edge of the formed metal.
    Edge,
    /// Where a bend or a wall begins and ends.
    BendZone,
    /// The finished edge, where trim stands beyond it.
    Net,
    /// A line along which the value stays the same.
    Level,
    /// An edge that passes its limit of caution.
    Caution,
    /// An edge that passes its limit to stop at.
    Stop,
    /// From words to what they speak of.
    Leader,
    /// The middle of a bend that turns toward the viewer.
    FoldUp,
    /// The middle of a bend that turns away from the viewer.
    FoldDown,
    /// A mark to scribe.
    Scribe,
    /// A line of a size: along it, to what it spans, from words to a radius.
    Dimension,
}

/// Which point of a line of words stands at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// The left end of the base line.
    Start,
    /// The middle of the base line.
    Middle,
    /// The right end of the base line.
    End,
}

/// One thing in a picture.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// The area inside closed outlines; an outline within another one is a hole.
    Fill {
        /// What it is filled with.
        ink: Ink,
        /// Its outlines.
        outlines: Vec<Vec<Point>>,
    },
    /// Chains of straight lines; a chain is closed where its last point is its first.
    Lines {
        /// What they are drawn with.
        pen: Pen,
        /// Their points.
        chains: Vec<Vec<Point>>,
    },
    /// A line of words.
    Words {
        /// Where they stand.
        at: Point,
        /// Height of a capital letter, mm.
        height: f64,
        /// What of them stands there.
        anchor: Anchor,
        /// Whether they read up the page; else they are level.
        upward: bool,
        /// What they say.
        text: String,
    },
}

/// A picture on its page, in mm from the page's upper left corner, y down; later items lie over
/// earlier ones.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Picture {
    /// What it shows, in one line.
    pub title: String,
    /// Width and height of the page.
    pub size: (f64, f64),
    /// What stands on it.
    pub items: Vec<Item>,
}

impl Picture {
    pub(crate) fn fill(&mut self, ink: Ink, outlines: Vec<Vec<Point>>) {
        if !outlines.is_empty() {
            self.items.push(Item::Fill { ink, outlines });
        }
    }

    pub(crate) fn lines(&mut self, pen: Pen, chains: Vec<Vec<Point>>) {
        if !chains.is_empty() {
            self.items.push(Item::Lines { pen, chains });
        }
    }

    pub(crate) fn words(
        &mut self,
        at: (f64, f64),
        height: f64,
        anchor: Anchor,
        text: impl Into<String>,
    ) {
        let (at, text) = (at.into(), text.into());
        self.items.push(Item::Words { at, height, anchor, upward: false, text });
    }

    /// Words that read up the page.
    pub(crate) fn words_upward(
        &mut self,
        at: (f64, f64),
        height: f64,
        anchor: Anchor,
        text: impl Into<String>,
    ) {
        let (at, text) = (at.into(), text.into());
        self.items.push(Item::Words { at, height, anchor, upward: true, text });
    }
}

/// The corners of a rectangle, in order round it.
pub(crate) fn corners_of(rect: Rect) -> [Point; 4] {
    [(rect.x0, rect.y0), (rect.x1, rect.y0), (rect.x1, rect.y1), (rect.x0, rect.y1)]
        .map(Point::from)
}

/// The chain with its first point at its end too.
pub(crate) fn closed(mut chain: Vec<Point>) -> Vec<Point> {
    chain.extend(chain.first().copied());
    chain
}
