//! What more than one test or bench needs.

pub(crate) mod bracket;
pub(crate) mod layout_check;
pub(crate) mod memory;
pub(crate) mod parts;
pub(crate) mod trays;
pub(crate) mod walls;
