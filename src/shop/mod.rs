//! What a shop knows by heart: its metals, gauges, least bend radii, brake figures and kerfs, each
//! figure with its source.
//!
//! The tables are files beside this one, written for people to read and correct. Where sources
//! disagree a figure carries the range between them; where no source was found the text beside it
//! says so.
//!
//! ```
//! use planish::shop::material::Material;
//! use planish::shop::minimum_radius::{BendLine, minimum_radius};
//! use planish::units::{Angle, Length};
//!
//! let steel = Material::named("4130-annealed").expect("built in");
//! let least = minimum_radius(steel, Length::from_mm(1.6), Angle::from_degrees(90.0), BendLine::Unknown).expect("in the table");
//! assert!(least.allows(Length::from_mm(3.2)) && !least.source.is_empty());
//! ```

pub mod bend_rule;
pub mod brake;
pub mod figure;
pub mod gauge;
pub mod kerf;
pub mod material;
pub mod material_override;
pub mod measured_strip;
pub mod minimum_radius;
pub mod springback;
pub mod strip;

/// Reads one of the built-in tables; they are part of the program, so one that can't be read is a
/// fault in the program.
fn read_built_in<T: serde::de::DeserializeOwned>(name: &str, text: &str) -> T {
    match serde_yaml::from_str(text) {
        Ok(table) => table,
        Err(error) => panic!("the built-in table {name} can't be read: {error}"),
    }
}
