//! Offsets, cuts and distances of closed outlines of lines and arcs, by the library
//! `cavalier_contours`.

use cavalier_contours::core::math::Vector2;
use cavalier_contours::polyline::{
    BooleanOp, PlineOffsetOptions, PlineSource, PlineSourceMut, PlineVertex, Polyline,
};
use kurbo::Point;

use super::{Polyarc, Vertex};
use crate::tolerance::SAME_POINT;

impl Polyarc {
    /// The outline in the library's form.
    pub(super) fn to_pline(&self) -> Polyline<f64> {
        let mut pline = Polyline::new_closed();
        for v in &self.vertices {
            pline.add_vertex(PlineVertex::new(v.point.x, v.point.y, v.bulge));
        }
        pline
    }

    fn from_pline(pline: &Polyline<f64>) -> Self {
        let vertices = pline
            .iter_vertexes()
            .map(|v| Vertex { point: Point::new(v.x, v.y), bulge: v.bulge })
            .collect();
        Self { vertices }
    }
}

/// The outlines at `distance` mm outside (positive) or inside (negative) a counter-clockwise
/// outline; several where a waist closes, none where all of it does. Outer corners become arcs.
#[must_use]
pub fn offset_closed(outline: &Polyarc, distance: f64) -> Vec<Polyarc> {
    if distance == 0.0 {
        return vec![outline.clone()];
    }
    let options =
        PlineOffsetOptions { handle_self_intersects: true, ..PlineOffsetOptions::default() };
    outline
        .to_pline()
        .parallel_offset_opt(-distance, &options)
        .iter()
        .map(Polyarc::from_pline)
        .collect()
}

/// What is left of a counter-clockwise outline when the inside of another one is cut off: several
/// outlines where it falls apart, none where nothing is left. A cut that lies wholly inside leaves
/// the outline as it is.
#[must_use]
pub fn cut_off(outline: &Polyarc, cut: &Polyarc) -> Vec<Polyarc> {
    let left = outline.to_pline().boolean(&cut.to_pline(), BooleanOp::Not);
    left.pos_plines
        .iter()
        .map(|piece| Polyarc::from_pline(&piece.pline).counter_clockwise())
        .collect()
}

/// The distance in mm from `point` to the nearest place on the outline.
#[must_use]
pub fn distance_to(outline: &Polyarc, point: Point) -> f64 {
    outline
        .to_pline()
        .closest_point(Vector2::new(point.x, point.y), SAME_POINT)
        .map_or(f64::INFINITY, |closest| closest.distance)
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::Rect;

    #[test]
    fn a_rectangle_grows_with_round_corners_and_shrinks_with_sharp_ones() {
        let rectangle = Polyarc::rectangle(Rect::new(0.0, 0.0, 120.0, 60.0));
        let grown = offset_closed(&rectangle, 5.0);
        let area = 120.0 * 60.0 + 2.0 * 5.0 * 180.0 + std::f64::consts::PI * 25.0;
        assert_eq!(grown.len(), 1);
        assert!((grown[0].area() - area).abs() < 1e-9);
        let shrunk = offset_closed(&rectangle, -5.0);
        assert!((shrunk[0].area() - 110.0 * 50.0).abs() < 1e-9);
        assert!(offset_closed(&rectangle, -31.0).is_empty());
    }
}
