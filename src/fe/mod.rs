//! Nonlinear membrane finite elements of thin sheet: knows strains and forces, not flanges.
//!
//! Units inside this module: millimetres, newtons, megapascals (N/mm²), radians; strains are
//! logarithmic (true) strains.
//!
//! * [`membrane`]: a formed part given as triangles, and the flat blank whose forming takes
//!   balanced forces.
//! * [`metric`]: true lengths of the edges of such triangles, on curved and on bent sheet.
//! * [`wall`]: such a problem for the wall round a flat face.
//! * [`coarse`]: that problem solved from coarse meshes to fine.
//! * [`bulge`]: a thin skin under even pressure, the shape of a crown.
//! * [`balance`]: forces on the formed part, assembled apart from the solver.
//! * [`law`]: the material law of the sheet (stress against strain, thickness anisotropy).
//! * [`ring`]: the exact one-dimensional solution of a wall formed from the edge of a round face.
//!
//! ```
//! use planish::fe::law::SheetLaw;
//! use planish::fe::ring::{WallSection, ring};
//!
//! let law = SheetLaw { strength_mpa: 900.0, hardening: 0.17, anisotropy: 1.0, elastic_modulus_mpa: 205_000.0 };
//! // A wall 20 mm high round a disc of 100 mm radius: its edge shrinks.
//! let wall = WallSection {
//!     tangent_curvature: 0.01,
//!     bend_mid_radius: 4.0,
//!     bend_angle: std::f64::consts::FRAC_PI_2,
//!     stretch_of_bend: 1.0,
//!     wall_length: 20.0,
//! };
//! assert!((ring(&law, &wall).expect("a wall that can be formed").edge_hoop_strain + 0.18).abs() < 0.04);
//! ```
#![doc = include_str!("METHOD.md")]
#![allow(clippy::doc_markdown, reason = "formulas stand in the doc comments as plain text")]

pub mod balance;
pub mod bulge;
pub mod coarse;
mod edge;
mod element;
mod grid;
pub mod law;
pub mod membrane;
pub mod metric;
pub mod ring;
mod solve;
mod sparse;
mod system;
pub mod wall;
