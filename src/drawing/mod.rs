//! Draws what was computed, each drawing and picture on a [`crate::page`].

mod bend_order;
mod blank;
mod buck;
mod label;
mod metal;
mod sheet;
mod templates;

pub use bend_order::bend_order_page;
pub use blank::{bend_words, blank_drawing, seen_face, trim_words};
pub use buck::{buck_drawing, height_words};
pub use metal::{MappedMetal, MetalMaps, mapped_metal, metal_maps};
pub use sheet::{PlacedBlank, SheetFacts, sheet_drawing};
pub use templates::{
    MARGIN, OVERLAP, PaperSize, Print, Template, template_pages, templates_of, tiles_along,
};
