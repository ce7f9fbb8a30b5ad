//! Plane geometry in millimetres and radians: outlines of lines, arcs and curves, and what is cut
//! from them. Knows nothing of the trade.
//!
//! | type | what it is |
//! |---|---|
//! | [`Segment`] | one line, arc or cubic curve |
//! | [`Loop`] | a closed run of segments, each knowing which named edge it belongs to |
//! | [`Chain`] | a run of segments, open or closed, walked by distance |
//! | [`Polyarc`] | lines and arcs alone, as vertices with bulges: what a cutter takes |
//!
//! ```
//! use planish::geom::{Polyarc, Rect, offset_closed};
//!
//! let plate = Polyarc::rectangle(Rect::new(0.0, 0.0, 60.0, 40.0));
//! let inside = offset_closed(&plate, -5.0);
//! assert!((inside[0].area() - 50.0 * 30.0).abs() < 1e-9);
//! ```

#![allow(clippy::doc_markdown, reason = "formulas stand in the doc comments as plain text")]

mod chain;
mod crossing;
mod enclosed;
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
mod thinned;
mod triangulate;

pub use chain::Chain;
pub use crossing::{Crossing, self_crossing};
pub use enclosed::{Enclosed, enclosed};
pub use fillet::{FilletFailure, fillet, meet};
pub use fit::{fit_arcs, fit_samples, lines_and_arcs};
pub(crate) use fit::{segments_between, vertices_of};
pub use kurbo::{Affine, Point, Rect, Vec2};
pub use looped::{Loop, Side};
pub use offset::{cut_off, distance_to, offset_closed};
pub use polyarc::{Polyarc, Vertex};
pub use segment::Segment;
pub(crate) use shifted::segments_of;
pub use shifted::{offset_loop, offset_sides, shifted, spans_left};
pub use spline::{MonotoneCurve, natural_spline};
pub use thinned::thinned;
pub use triangulate::{prism, triangulate};

/// Nodes and weights of Gauss's rule with 8 points on -1 to 1 (M. Abramowitz and I. Stegun,
/// Handbook of Mathematical Functions, table 25.4).
pub const GAUSS_8: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_3),
];

/// What makes the other hand of a thing: x mirrored.
pub const OTHER_HAND: Affine = Affine::FLIP_X;

/// A direction on the other hand.
#[must_use]
pub fn mirrored(v: Vec2) -> Vec2 {
    Vec2::new(-v.x, v.y)
}

/// The vector turned a quarter turn to the left.
#[must_use]
pub fn left_of(v: Vec2) -> Vec2 {
    Vec2::new(-v.y, v.x)
}
