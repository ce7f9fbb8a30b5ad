//! Published values: one file for each source, its numbers typed from the page, never from the
//! program's own tables.
//!
//! A number's tolerance is half its last printed digit unless the check says otherwise. Beside each
//! source stands how it was had: read there, read in another source that quotes it, or from memory.

mod din_6935;
mod faa;
mod flat_patterns;
mod folded_parts;
mod house;
mod kalpakjian_schmid;
mod machinery_handbook;
mod material_tables;
mod minimum_radius;
mod press_brake;
mod sheet_gauges;
mod springback;
mod training_pages;
mod tubes;

use planish::shop::bend_rule::StraightBend;
use planish::units::{Angle, Length};

/// A bend in inches and degrees, as most of the pages print it.
fn inch_bend(radius: f64, thickness: f64, degrees: f64) -> StraightBend {
    StraightBend::new(
        Length::from_inches(radius),
        Length::from_inches(thickness),
        Angle::from_degrees(degrees),
    )
    .expect("a bend")
}

/// A bend in millimetres and degrees.
fn mm_bend(radius: f64, thickness: f64, degrees: f64) -> StraightBend {
    StraightBend::new(
        Length::from_mm(radius),
        Length::from_mm(thickness),
        Angle::from_degrees(degrees),
    )
    .expect("a bend")
}
