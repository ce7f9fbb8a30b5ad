//! Nonlinear membrane finite elements of thin sheet: knows strains and forces, not flanges.
//!
//! Units inside this module: millimetres, newtons, megapascals (N/mm²), radians; strains are logarithmic (true) strains.
//!
//! * [`law`]: the material law of the sheet (stress against strain, thickness anisotropy).
//! * [`ring`]: the exact one-dimensional solution of a wall formed from the edge of a round face.

#![allow(clippy::doc_markdown, reason = "formulas stand in the doc comments as plain text")]

pub mod law;
pub mod ring;
