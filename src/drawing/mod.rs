//! Draws what was computed, each drawing and picture on a [`crate::page`].
//!
//! | function | draws |
//! |---|---|
//! | [`blank_drawing`], [`buck_drawing`] | what is cut, at 1:1, for [`formats`](crate::formats) |
//! | [`sheet_drawing`] | a nested sheet with the torch's path |
//! | [`dimensioned_drawing`] | the flat and the finished part with their sizes |
//! | [`templates_of`], [`template_pages`] | the blank and the buck's pieces on sheets of paper |
//! | [`bend_order_page`] | how the bends are made, step by step |
//! | [`metal_maps`] | strain and thickness of hammered metal |

mod bend_order;
mod blank;
mod buck;
mod dimensioned;
mod label;
mod metal;
mod sheet;
mod templates;

pub use bend_order::bend_order_page;
pub use blank::{bend_words, blank_drawing, seen_face, trim_words};
pub use buck::{buck_drawing, height_words};
pub use dimensioned::dimensioned_drawing;
pub use metal::{MappedMetal, MetalMaps, mapped_metal, metal_maps};
pub use sheet::{PlacedBlank, SheetFacts, sheet_drawing};
pub use templates::{
    MARGIN, OVERLAP, PaperSize, Print, Template, template_pages, templates_of, tiles_along,
};
