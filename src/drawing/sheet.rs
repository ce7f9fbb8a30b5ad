//! The drawing of a sheet with the blanks placed on it.

use kurbo::Affine;

use super::label::LabelPlacer;
use super::{Drawing, Layer, Mark};
use crate::geom::Polyarc;
use crate::units::Digits;

/// A blank's drawing at its place on a sheet.
#[derive(Debug, Clone)]
pub struct PlacedBlank<'a> {
    /// The blank as drawn for itself; of its text only its name is kept.
    pub blank: &'a Drawing,
    /// What to write on it.
    pub name: &'a str,
    /// Where it goes; mirrors nothing.
    pub motion: Affine,
}

/// The sheet with its blanks, their names, and an arrow along the grain.
#[must_use]
pub fn sheet_drawing(title: &str, edge: &[Polyarc], placed: &[PlacedBlank], used: f64) -> Drawing {
    let mut drawing = Drawing::new(title);
    drawing.backdrop = edge.to_vec();
    for blank in placed {
        let moved = blank.blank.moved(blank.motion);
        let lines = moved.marks.into_iter().filter(|mark| mark.layer != Layer::Note);
        let marks: Vec<Mark> = lines.collect();
        let outline = marks.iter().find_map(|mark| match &mark.shape {
            super::Shape::Closed(outline) if mark.layer == Layer::Outside => Some(outline.clone()),
            _ => None,
        });
        if let Some(outline) = outline {
            let mut placer = LabelPlacer::new(&outline);
            for mark in &marks {
                match &mark.shape {
                    super::Shape::Closed(opening) if mark.layer == Layer::Opening => placer.take(opening.bounds()),
                    super::Shape::Open(chain) => placer.avoid(chain),
                    _ => {}
                }
            }
            let bounds = outline.bounds();
            let size = (bounds.width().min(bounds.height()) / 6.0).clamp(3.0, 14.0);
            if let Some((at, height)) = placer.place(blank.name, bounds.center(), size) {
                drawing.label(at, height, blank.name);
            }
        }
        drawing.marks.extend(marks);
    }
    drawing.captions = vec![
        format!(
            "{title}: {} parts, {} % of the sheet used. The grain runs along x, from left to right.",
            placed.len(),
            Digits(used * 100.0, 1)
        ),
        "Cut lines are the parts' own edges: the torch must be offset by half the kerf, once, by the controller.".to_owned(),
    ];
    drawing
}
