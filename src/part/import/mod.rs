//! A closed outline out of a DXF or SVG file.
//!
//! Lines and arcs that meet within 0.01 mm are joined, splines become arcs within 0.004 mm. One outermost outline is wanted; what is
//! drawn inside it is given beside it.

mod chain;
mod dxf;
mod dxf_text;
mod spline;
mod svg;

use std::fmt;

use crate::geom::{Loop, Point};
use crate::units::counted;

pub use self::dxf::outline_from_dxf;
pub use self::svg::outline_from_svg;

/// What was read from a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// The outermost outline, mm, counter-clockwise; each line, arc or curve of the file is an edge of its own, numbered from 0.
    pub outline: Loop,
    /// The closed outlines directly inside it, counter-clockwise.
    pub inside: Vec<Loop>,
    /// The length in mm of the file's unit as the file itself says it; none if it does not, and then the caller's unit was used.
    pub unit_mm: Option<f64>,
    /// What else the file holds that was passed over, in a builder's words.
    pub notes: Vec<String>,
}

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
            Self::TooLarge { bytes } => write!(f, "the file has {bytes} bytes, too many for an outline"),
            Self::TooMuch => write!(f, "the file draws more lines than an outline can have"),
            Self::Binary => write!(f, "this is a binary DXF file"),
            Self::NotReadable { message } | Self::Unfit { message } => f.write_str(message),
            Self::NoLayer { layer, .. } => write!(f, "there is nothing drawn on layer `{layer}`"),
            Self::NothingClosed { open: 0, .. } => write!(f, "the file draws no lines"),
            Self::NothingClosed { open, gap, branch } => {
                write!(f, "no closed outline was found, only {}", counted(*open, "open line"))?;
                if let Some((at, gap)) = gap {
                    write!(f, "; the nearest two loose ends are {gap:.3} mm apart near ({:.2}, {:.2})", at.x, at.y)?;
                }
                if let Some(at) = branch {
                    write!(f, "; more than two lines meet near ({:.2}, {:.2})", at.x, at.y)?;
                }
                Ok(())
            }
            Self::Several { count } => write!(f, "{count} closed outlines were found side by side, one is wanted"),
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
            Self::NoLayer { present, .. } if present.is_empty() => "the file has no lines on any layer".to_owned(),
            Self::NoLayer { present, .. } => format!("layers with lines are: {}", present.join(", ")),
            Self::Unfit { .. } => "correct the line in the program that made the file".to_owned(),
            Self::NothingClosed { .. } => "join the outline's ends within 0.01 mm, and put it on a layer by itself".to_owned(),
            Self::Several { .. } => "put the outline on a layer by itself and name it with `layer:`".to_owned(),
        }
    }
}
