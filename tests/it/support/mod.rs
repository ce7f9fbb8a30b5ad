//! What more than one test or bench needs.

pub(crate) mod asserts;
pub(crate) mod bracket;
pub(crate) mod dice;
pub(crate) mod layout_check;
pub(crate) mod memory;
pub(crate) mod outlines;
pub(crate) mod parts;
pub(crate) mod space;
pub(crate) mod trays;
pub(crate) mod walls;
