//! Step 2: takes the sizes of a `Part`, gives its walls and bends as they stand in space; `flat` lays them out, `buck` makes the block.

mod bent;
mod collision;
mod cope;
mod corner;
mod developed;
mod face;
mod face_edges;
mod fold_tree;
mod folded;
mod hem;
mod relief;
mod rolled_edge;
mod sheet_mesh;
mod wall;

pub use bent::bent_tree;
pub use collision::{Collision, collisions, solids_meet};
pub(crate) use developed::{developed, developed_edge};
pub use face::{Face as ShellFace, FaceProblem};
pub use fold_tree::{Face, FaceBend, FoldTree, Folding, ReliefCut, Unfoldable};
pub use folded::folded_tree;
pub use hem::least_return;
pub use rolled_edge::RolledEdge;
pub use sheet_mesh::{Piece, SheetMesh, SpaceTriangle};
pub use wall::{Wall, WallProblem};
