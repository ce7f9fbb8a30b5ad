//! Step 1: takes a description as written, gives a `Part` with names resolved and defaults filled in.

pub mod path_data;
