//! All that holds the program from outside, in one binary: it is linked once.

mod bending;
mod cli;
mod cutting;
mod documents;
mod drawings;
mod fe_face;
mod fe_membrane;
mod fe_ring;
mod fe_wall;
mod golden;
mod import;
mod layering;
mod nest;
mod properties;
mod published;
mod reference;
mod refused;
mod support;
mod templates;
mod words;
mod write;
