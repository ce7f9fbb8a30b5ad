//! Takes the sizes of a bent or folded `Part`, gives its bends as they stand in space;
//! `flat` lays them out.
#![doc = include_str!("METHOD.md")]

mod bent;
mod collision;
mod cope;
mod corner;
mod developed;
mod face_edges;
mod fold_tree;
mod folded;
mod hem;
mod relief;
mod sheet_mesh;

pub use bent::bent_tree;
pub use collision::{Collision, collisions, solids_meet};
pub(crate) use developed::{developed, developed_edge};
pub use fold_tree::{Face, FaceBend, FoldTree, Folding, ReliefCut, Unfoldable};
pub use folded::folded_tree;
pub use hem::least_return;
pub use sheet_mesh::{Piece, SheetMesh, SpaceTriangle};
