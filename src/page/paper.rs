//! A sheet of paper with what is printed on it.

use std::sync::Arc;

use super::{Drawing, Pen};
use crate::geom::{Affine, Rect};

/// A sheet of paper, in mm from its lower left corner, y up.
#[derive(Debug, Clone, PartialEq)]
pub struct Paper {
    /// Width and height, as the printer takes it.
    pub size: (f64, f64),
    /// What everything on it is multiplied by, across and up, so that it measures right once a
    /// printer that stretches has printed it.
    pub stretch: (f64, f64),
    /// What is printed, later views over earlier ones.
    pub views: Vec<View>,
}

/// A drawing as it stands on a sheet of paper.
#[derive(Debug, Clone, PartialEq)]
pub struct View {
    /// The drawing; its marks alone are printed.
    pub drawing: Arc<Drawing>,
    /// From the drawing to the paper, before the paper's stretch.
    pub place: Affine,
    /// Nothing is printed outside this part of the paper, before its stretch.
    pub window: Option<Rect>,
    /// What all its lines are drawn with; by their layers where none.
    pub pen: Option<Pen>,
}

impl View {
    /// A drawing whose coordinates are those of the paper.
    #[must_use]
    pub fn on_paper(drawing: Drawing, pen: Option<Pen>) -> Self {
        Self { drawing: Arc::new(drawing), place: Affine::IDENTITY, window: None, pen }
    }
}
