//! SVG (W3C, Scalable Vector Graphics 1.1): outlines read from it, drawings and pictures written to
//! it.

mod entities;
mod margin;
mod path_data;
mod picture;
mod read;
mod style;
mod write;

pub use path_data::loop_from_path_data;
pub use picture::{page_svg, page_svg_element};
pub use read::outline_from_svg;
pub(super) use style::shortened;
pub use write::{svg, svg_picture};
