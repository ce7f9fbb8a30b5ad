//! A closed outline out of a DXF or SVG file.
//!
//! Lines and arcs that meet within 0.01 mm are joined, splines become arcs within 0.004 mm. One
//! outermost outline is wanted; what is drawn inside it is given beside it.

pub(super) mod chain;
pub(super) mod piece;

use std::fmt;

use crate::geom::{Loop, Point};
use crate::tolerance::{
    LARGEST_IMPORT, LARGEST_LENGTH_MM, LEAST_LENGTH_MM, MOST_IMPORTED_LOOPS, MOST_IMPORTED_PIECES,
};
use crate::units::{Digits, counted};

/// What a description says of a drawing's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measure {
    /// Length of the drawing's unit in mm, whatever the drawing says; none: as the drawing says.
    pub unit_mm: Option<f64>,
    /// Length of its unit in mm where the drawing says none either.
    pub unsaid_mm: f64,
    /// By how much everything is taken larger than drawn.
    pub scale: f64,
}

impl Default for Measure {
    /// As the drawing says, else in millimetres.
    fn default() -> Self {
        Self { unit_mm: None, unsaid_mm: 1.0, scale: 1.0 }
    }
}

impl Measure {
    /// What one unit of a drawing becomes in mm; `drawing_mm` is what the drawing says of it.
    pub(super) fn mm(&self, drawing_mm: Option<f64>) -> f64 {
        self.unit_mm.or(drawing_mm).unwrap_or(self.unsaid_mm) * self.scale
    }
}

/// What was read from a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// The outermost outline, mm, counter-clockwise; each line, arc or curve of the file is an edge
    /// of its own, numbered from 0.
    pub outline: Loop,
    /// The closed outlines directly inside it, counter-clockwise.
    pub inside: Vec<Loop>,
    /// The length in mm of the file's unit as the file itself says it; none if it does not, and
    /// then the caller's was used.
    pub unit_mm: Option<f64>,
    /// What else the file holds that was passed over, in a builder's words.
    pub notes: Vec<String>,
}

/// So many layers and kinds of entity are named in a message.
pub(super) const MOST_NAMED: usize = 30;

/// Why no outline could be read from a file.
#[derive(Debug, Clone, PartialEq)]
pub enum ImportProblem {
    /// The file is larger than any outline.
    TooLarge {
        /// Its size in bytes.
        bytes: usize,
    },
    /// It draws more than can be taken for an outline.
    TooMuch,
    /// A binary DXF file.
    Binary,
    /// It is no file of its kind.
    NotReadable {
        /// What is wrong with it.
        message: String,
    },
    /// A unit of length that is not known.
    UnknownUnit {
        /// What the file says.
        said: String,
    },
    /// Something that may change an outline and is not read.
    NotUnderstood {
        /// The line that it stands in, from 1.
        line: u32,
        /// What it is.
        what: String,
    },
    /// An outline out of all measure.
    Size {
        /// Its width and height, mm.
        size_mm: [f64; 2],
    },
    /// A layer was asked for that has nothing on it.
    NoLayer {
        /// The layer asked for.
        layer: String,
        /// Those that have lines.
        present: Vec<String>,
    },
    /// A line that no outline can have.
    Unfit {
        /// What is wrong with it.
        message: String,
    },
    /// No line closes on itself.
    NothingClosed {
        /// How many open lines or chains of lines there are.
        open: usize,
        /// The two loose ends nearest one another: about where, and how far apart, mm.
        gap: Option<(Point, f64)>,
        /// A place where more than two lines meet.
        branch: Option<Point>,
    },
    /// More than one closed outline that is not inside another.
    Several {
        /// How many.
        count: usize,
    },
}

impl fmt::Display for ImportProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLarge { .. } => write!(
                f,
                "the file is larger than {} MB, which no outline is",
                LARGEST_IMPORT >> 20
            ),
            Self::TooMuch => write!(
                f,
                "the file draws more than {MOST_IMPORTED_PIECES} lines or {MOST_IMPORTED_LOOPS} closed outlines, more than a part can have"
            ),
            Self::Binary => write!(f, "this is a binary DXF file"),
            Self::NotReadable { message } | Self::Unfit { message } => f.write_str(message),
            Self::UnknownUnit { said } => {
                write!(f, "the drawing's unit, {said}, is not one that is known")
            }
            Self::NotUnderstood { line, what } => {
                write!(f, "line {line}: {what} is not understood, and may change the outline")
            }
            Self::Size { size_mm: [width, height] } => {
                write!(f, "the outline would be {} by {} mm", Digits(*width, 3), Digits(*height, 3))
            }
            Self::NoLayer { layer, .. } => write!(f, "there is nothing drawn on layer `{layer}`"),
            Self::NothingClosed { open: 0, .. } => write!(f, "the file draws no lines"),
            Self::NothingClosed { open, gap, branch } => {
                write!(f, "no closed outline was found, only {}", counted(*open, "open line"))?;
                if let Some((at, gap)) = gap {
                    write!(
                        f,
                        "; the nearest two loose ends are {gap:.3} mm apart near ({:.2}, {:.2})",
                        at.x, at.y
                    )?;
                }
                if let Some(at) = branch {
                    write!(f, "; more than two lines meet near ({:.2}, {:.2})", at.x, at.y)?;
                }
                Ok(())
            }
            Self::Several { count } => {
                write!(f, "{count} closed outlines were found side by side, one is wanted")
            }
        }
    }
}

impl std::error::Error for ImportProblem {}

impl ImportProblem {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::TooLarge { .. } | Self::TooMuch => "save the outline alone to a file of its own".to_owned(),
            Self::Binary => "save it as ASCII DXF".to_owned(),
            Self::NotReadable { .. } => "open the file in the program that made it and save it again".to_owned(),
            Self::UnknownUnit { .. } => "say it beside the file's name, such as `units: mm`".to_owned(),
            Self::NotUnderstood { .. } => {
                "work it into the lines in the program that made the file, or take it out; lengths need mm, cm, in, pt, pc or px"
                    .to_owned()
            }
            Self::Size { .. } => format!(
                "lengths run from {LEAST_LENGTH_MM} mm to {} m; if the drawing's unit is wrong, say it beside the file's name, such as `units: mm`",
                LARGEST_LENGTH_MM / 1000.0
            ),
            Self::NoLayer { present, .. } if present.is_empty() => "the file has no lines on any layer".to_owned(),
            Self::NoLayer { present, .. } => {
                let more = if present.len() > MOST_NAMED { ", …" } else { "" };
                format!("layers with lines are: {}{more}", present[..present.len().min(MOST_NAMED)].join(", "))
            }
            Self::Unfit { .. } => "correct the line in the program that made the file".to_owned(),
            Self::NothingClosed { .. } => "join the outline's ends within 0.01 mm, and put it on a layer by itself".to_owned(),
            Self::Several { .. } => "put the outline on a layer by itself and name it with `layer:`".to_owned(),
        }
    }
}
