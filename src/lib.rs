//! Planish turns a short description of a sheet-metal part into the things a shop cuts and hammers from.

pub mod bending;
pub mod buck;
pub mod check;
#[cfg(feature = "cli")]
pub mod cli;
pub mod cutting;
pub mod describe;
pub mod drawing;
pub mod fe;
pub mod finding;
pub mod flat;
pub mod formats;
pub mod formed;
pub mod geom;
pub mod make;
pub mod nest;
pub mod page;
pub mod part;
pub mod problem;
pub mod report;
pub mod section;
pub mod shell;
pub mod shop;
pub mod tolerance;
pub mod units;
