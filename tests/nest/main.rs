//! The nest engine from outside: every layout is measured anew with an independent geometry library.

mod check;
mod cutting;
mod filling;
mod jobs;
mod published;
mod random;
