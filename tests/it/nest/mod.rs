//! The nest engine from outside: every layout is measured anew with an independent geometry
//! library.

mod cutting;
mod filling;
mod jobs;
mod published;
mod random;
