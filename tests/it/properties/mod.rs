//! What holds for any part, whatever its sizes: lengths, areas and volumes worked out apart from
//! the program, and motions that change nothing.

mod bent;
mod bucks;
mod centrelines;
mod continuity;
mod copes;
mod corners;
mod darts;
mod end_trims;
mod folded;
mod hammered;
mod hollow;
mod joggles;
mod lips;
mod maps;
mod outlines;
mod shaped;
mod shells;
mod solids;
mod symmetry;
mod tabs;
