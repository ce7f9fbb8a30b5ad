//! Step 2: takes the sizes of a `Part`, gives its walls and bends as they stand in space; `flat` lays them out, `buck` makes the block.

mod wall;

pub use wall::{Wall, WallProblem};
