//! Step 2: takes the sizes of a `Part`, gives its walls and bends as they stand in space; `flat` lays them out, `buck` makes the block.

mod bent;
mod corner;
mod developed;
mod fold_tree;
mod folded;
mod relief;
mod wall;

pub use bent::bent_tree;
pub use fold_tree::{Face, FaceBend, FoldTree, Folding, ReliefCut, Unfoldable};
pub use folded::folded_tree;
pub use wall::{Wall, WallProblem};
