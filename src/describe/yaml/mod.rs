//! The machinery of reading: where every key and value of a file stands, its decoding, its
//! mistakes, its quantities. It knows no part.

mod decoder;
mod mistakes;
mod quantity;
mod reader;
mod source;
mod written;

pub(super) use mistakes::suggestion;
pub use quantity::{Quantity, Size, Unreadable, read_angle, read_length};
pub(super) use reader::{Allowed, At, Read, Reader};
pub use reader::{FileReader, NoFiles};
pub use source::{FileKind, kind_of_file};

pub(super) use written::{FromWord, ListOr, Name, PointText, WordOr};
