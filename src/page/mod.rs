//! What is drawn, in millimetres at 1:1, before any file format: a [`Drawing`] to cut from, its
//! lines and text each on the layer of its kind, a [`Picture`] to look at, and a sheet of [`Paper`]
//! to print.
//!
//! ```
//! use planish::geom::{Polyarc, Rect};
//! use planish::page::{Drawing, Layer};
//!
//! let mut plate = Drawing::new("plate");
//! plate.closed(Layer::Outside, Polyarc::rectangle(Rect::new(0.0, 0.0, 60.0, 40.0)));
//! assert_eq!(plate.bounds().width(), 60.0);
//! ```

pub mod lettering;
mod paper;
mod picture;

use kurbo::{Affine, Point, Rect};

use crate::geom::{Polyarc, Segment};

pub use paper::{Paper, View};
pub use picture::{Anchor, Ink, Item, Pen, Picture, Scale};
pub(crate) use picture::{closed, corners_of};

/// The kind of a line; a layer in DXF, a group in SVG, under [`Layer::name`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Layer {
    /// The outer cut.
    Outside,
    /// An inner cut.
    Opening,
    /// The middle of a bend that turns toward the viewer.
    FoldUp,
    /// The middle of a bend that turns away from the viewer.
    FoldDown,
    /// Where a bend or a wall begins and ends.
    BendZone,
    /// Marks to scribe or centre-punch.
    Scribe,
    /// Lead-ins of the torch.
    Lead,
    /// Text.
    Note,
}

impl Layer {
    /// Every layer, in the order in which files list them.
    pub const ALL: [Self; 8] = [
        Self::Outside,
        Self::Opening,
        Self::FoldUp,
        Self::FoldDown,
        Self::BendZone,
        Self::Scribe,
        Self::Lead,
        Self::Note,
    ];

    /// Its name in every file.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Outside => "OUTSIDE",
            Self::Opening => "OPENING",
            Self::FoldUp => "FOLD_UP",
            Self::FoldDown => "FOLD_DOWN",
            Self::BendZone => "BEND_ZONE",
            Self::Scribe => "SCRIBE",
            Self::Lead => "LEAD",
            Self::Note => "NOTE",
        }
    }
}

/// One thing drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A closed outline; the only shape on the cut layers.
    Closed(Polyarc),
    /// A chain of lines and arcs with two ends, each piece starting where the one before it ends.
    Open(Vec<Segment>),
    /// A line of text, read left to right along `angle`.
    Text {
        /// The left end of its base line, or the middle of it where `centred`.
        at: Point,
        /// Height of a capital letter, mm.
        height: f64,
        /// Angle of the base line in radians.
        angle: f64,
        /// Whether `at` is the middle of the base line.
        centred: bool,
        /// What it says.
        text: String,
    },
}

/// A shape on its layer.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// The kind of line it is.
    pub layer: Layer,
    /// What is drawn.
    pub shape: Shape,
}

/// A drawing at 1:1, in mm, y up the page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drawing {
    /// What it shows, in one line.
    pub title: String,
    /// Sentences printed under a picture of it; not part of a cut file.
    pub captions: Vec<String>,
    /// Outlines shown behind a picture of it for orientation, such as the sheet's edge; never in a
    /// cut file.
    pub backdrop: Vec<Polyarc>,
    /// Everything drawn.
    pub marks: Vec<Mark>,
    /// Marks shown on a picture of it alone, such as the way that the torch goes; never in a cut
    /// file.
    pub overlay: Vec<Mark>,
}

impl Drawing {
    /// An empty drawing.
    #[must_use]
    pub fn new(title: impl Into<String>) -> Self {
        Self { title: title.into(), ..Self::default() }
    }

    /// Adds a closed outline.
    pub fn closed(&mut self, layer: Layer, outline: Polyarc) {
        self.marks.push(Mark { layer, shape: Shape::Closed(outline) });
    }

    /// Adds a straight line.
    pub fn line(&mut self, layer: Layer, from: Point, to: Point) {
        self.marks.push(Mark { layer, shape: Shape::Open(vec![Segment::Line { from, to }]) });
    }

    /// Adds level text with the middle of its base line at `at`.
    pub fn label(&mut self, at: Point, height: f64, text: impl Into<String>) {
        let shape = Shape::Text { at, height, angle: 0.0, centred: true, text: text.into() };
        self.marks.push(Mark { layer: Layer::Note, shape });
    }

    /// The smallest upright rectangle around all lines and backdrops (text only by its anchor).
    #[must_use]
    pub fn bounds(&self) -> Rect {
        let marks = self.marks.iter().chain(&self.overlay).filter_map(|mark| match &mark.shape {
            Shape::Closed(outline) => Some(outline.bounds()),
            Shape::Open(chain) => chain.iter().map(Segment::bounds).reduce(|a, b| a.union(b)),
            Shape::Text { at, .. } => Some(Rect::from_points(*at, *at)),
        });
        marks
            .chain(self.backdrop.iter().map(Polyarc::bounds))
            .reduce(|a, b| a.union(b))
            .unwrap_or(Rect::ZERO)
    }

    /// The drawing moved or turned, its lines also mirrored where `motion` mirrors; text is moved
    /// and turned but never mirrored.
    #[must_use]
    pub fn moved(&self, motion: Affine) -> Self {
        let [a, b, ..] = motion.as_coeffs();
        let turn = b.atan2(a);
        let mirrors = motion.determinant() < 0.0;
        let moved = |mark: &Mark| {
            let shape = match &mark.shape {
                Shape::Closed(outline) => Shape::Closed(outline.moved(motion)),
                Shape::Open(chain) => {
                    Shape::Open(chain.iter().map(|segment| segment.moved(motion)).collect())
                }
                Shape::Text { at, height, angle, centred, text } => Shape::Text {
                    at: motion * *at,
                    height: *height,
                    angle: if mirrors { mirrored_text_angle(*angle, motion) } else { angle + turn },
                    centred: *centred,
                    text: text.clone(),
                },
            };
            Mark { layer: mark.layer, shape }
        };
        let (marks, overlay) =
            (self.marks.iter().map(moved).collect(), self.overlay.iter().map(moved).collect());
        let backdrop = self.backdrop.iter().map(|outline| outline.moved(motion)).collect();
        Self {
            title: self.title.clone(),
            captions: self.captions.clone(),
            backdrop,
            marks,
            overlay,
        }
    }
}

/// The base line of a mirrored text: the mirrored line, turned so that the text still reads from
/// the left.
fn mirrored_text_angle(angle: f64, motion: Affine) -> f64 {
    let along = motion * Point::new(angle.cos(), angle.sin()) - motion * Point::ORIGIN;
    let turned = along.atan2();
    if turned.cos() < -1e-9 { turned + std::f64::consts::PI } else { turned }
}
