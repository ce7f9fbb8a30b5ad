//! The file formats, reader beside writer; nothing else in the crate knows them. Takes and gives
//! bytes, opens no file itself.
//!
//! | format | read | written |
//! |---|---|---|
//! | DXF | [`outline_from_dxf`]: a closed outline | [`dxf`]: R2000 or R12, in millimetres or inches |
//! | SVG | [`outline_from_svg`], [`loop_from_path_data`] | [`svg`] at true size; [`svg_picture`] of the same, to stand in an HTML page |
//! | SVG pictures | | [`page_svg`] to look at; [`page_svg_element`] to stand in an HTML page |
//! | PDF | | [`paper_pdf`]: sheets of paper at true size; [`picture_pdf`] |
//! | STL | | [`stl`]: binary, triangles |
//!
//! [`self_check`] looks a drawing over before it is written.
//!
//! ```
//! use planish::formats::{DxfOptions, Measure, dxf, outline_from_dxf};
//! use planish::geom::{Polyarc, Rect};
//! use planish::page::{Drawing, Layer};
//!
//! let mut plate = Drawing::new("plate");
//! plate.closed(Layer::Outside, Polyarc::rectangle(Rect::new(0.0, 0.0, 60.0, 40.0)));
//! let bytes = dxf(&plate, DxfOptions::default())?;
//! let back = outline_from_dxf(&bytes, Some("OUTSIDE"), Measure::default())?;
//! assert!((back.outline.bounds().width() - 60.0).abs() < 1e-6);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod dxf;
mod line_style;
mod outline;
mod pdf;
mod self_check;
mod stl;
mod svg;
mod text;

use std::fmt;

pub use self::dxf::{DxfOptions, DxfUnit, DxfVersion, dxf, outline_from_dxf};
pub use self::line_style::line_words;
pub use self::outline::{ImportProblem, Imported, Measure};
pub use self::pdf::{paper_pdf, picture_pdf};
pub use self::self_check::{Fault, FaultKind, self_check};
pub use self::stl::stl;
pub use self::svg::{
    loop_from_path_data, outline_from_svg, page_svg, page_svg_element, svg, svg_picture,
};

use crate::geom::Segment;
use crate::page::{Drawing, Layer, Mark, Shape};

/// Why a drawing or mesh cannot be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WriteProblem {
    /// A coordinate, height or angle on this layer is not a finite number.
    NotFinite {
        /// The layer that it stands on; none for a backdrop or a mesh.
        layer: Option<Layer>,
    },
    /// A mesh of more triangles than the format can count.
    TooManyTriangles {
        /// How many there are.
        count: usize,
    },
}

impl fmt::Display for WriteProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotFinite { layer: Some(layer) } => {
                write!(
                    f,
                    "a coordinate on layer {} is not a number, so the drawing is not written",
                    layer.name()
                )
            }
            Self::NotFinite { layer: None } => {
                write!(f, "a coordinate is not a number, so the file is not written")
            }
            Self::TooManyTriangles { count } => {
                write!(f, "{count} triangles are more than an STL file can hold")
            }
        }
    }
}

impl std::error::Error for WriteProblem {}

/// Whether every number that defines `segment` is finite.
fn is_finite(segment: &Segment) -> bool {
    match segment {
        Segment::Line { from, to } => from.is_finite() && to.is_finite(),
        Segment::Arc { from, to, bulge } => from.is_finite() && to.is_finite() && bulge.is_finite(),
        Segment::Curve(curve) => curve.is_finite(),
    }
}

/// Whether every number of `mark` is finite.
fn is_finite_mark(mark: &Mark) -> bool {
    match &mark.shape {
        Shape::Closed(outline) => outline.segments().all(|segment| is_finite(&segment)),
        Shape::Open(chain) => chain.iter().all(is_finite),
        Shape::Text { at, height, angle, .. } => {
            at.is_finite() && height.is_finite() && angle.is_finite()
        }
    }
}

/// An error unless every number of the drawing is finite.
fn refuse_non_finite(drawing: &Drawing) -> Result<(), WriteProblem> {
    if let Some(mark) =
        drawing.marks.iter().chain(&drawing.overlay).find(|mark| !is_finite_mark(mark))
    {
        return Err(WriteProblem::NotFinite { layer: Some(mark.layer) });
    }
    if drawing.backdrop.iter().all(|outline| outline.segments().all(|segment| is_finite(&segment)))
    {
        Ok(())
    } else {
        Err(WriteProblem::NotFinite { layer: None })
    }
}

/// The layers that `drawing` uses, in their order.
fn used_layers(drawing: &Drawing) -> Vec<Layer> {
    Layer::ALL
        .into_iter()
        .filter(|layer| drawing.marks.iter().any(|mark| mark.layer == *layer))
        .collect()
}
