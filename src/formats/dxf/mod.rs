//! DXF (the published DXF reference): outlines read from it, drawings written to it.

mod mend;
mod read;
mod spline;
mod text;
mod write;

pub use read::outline_from_dxf;
pub use write::{DxfOptions, DxfUnit, DxfVersion, dxf};
