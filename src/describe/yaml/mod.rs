//! The machinery of reading: where every key and value of a file stands, its decoding, its mistakes, its quantities. It knows no part.

mod decoder;
pub(super) mod mistakes;
pub mod quantity;
pub(super) mod reader;
pub mod source;
