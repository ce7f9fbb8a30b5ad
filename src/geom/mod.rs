//! Plane geometry in millimetres and radians: outlines of lines, arcs and curves, and what is cut from them. Knows nothing of the trade.
//!
//! | type | what it is |
//! |---|---|
//! | [`Segment`] | one line, arc or cubic curve |
//! | [`Loop`] | a closed run of segments, each knowing which named edge it belongs to |
//! | [`Polyarc`] | lines and arcs alone, as vertices with bulges: what a cutter takes |

#![allow(clippy::doc_markdown, reason = "formulas stand in the doc comments as plain text")]

mod fillet;
mod fit;
mod looped;
pub mod mesh_face;
pub mod mesh_wall;
mod offset;
mod polyarc;
pub(crate) mod region;
mod segment;
mod shifted;
pub mod space;
mod spline;
mod triangulate;

pub use fillet::{FilletFailure, fillet, meet};
pub use fit::{fit_arcs, fit_samples, lines_and_arcs};
pub(crate) use fit::{segments_between, vertices_of};
pub use kurbo::{Affine, Point, Rect, Vec2};
pub use looped::{Loop, Side};
pub use offset::{Crossing, cut_off, distance_to, offset_closed, self_crossing};
pub use polyarc::{Polyarc, Vertex};
pub use segment::Segment;
pub(crate) use shifted::segments_of;
pub use shifted::{offset_loop, offset_sides, shifted, spans_left};
pub use spline::{MonotoneCurve, natural_spline};
pub use triangulate::{prism, triangulate};

/// The vector turned a quarter turn to the left.
#[must_use]
pub fn left_of(v: Vec2) -> Vec2 {
    Vec2::new(-v.y, v.x)
}
