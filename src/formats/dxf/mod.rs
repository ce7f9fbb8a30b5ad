//! DXF (the published DXF reference): outlines read from it, drawings written to it.

mod groups;
mod options;
mod read;
mod spline;
mod text;
mod write;

pub use options::{DxfOptions, DxfUnit, DxfVersion};
pub use read::outline_from_dxf;
pub use write::dxf;
