//! Step 1: takes the text of a description, gives a [`Part`](crate::part::Part) (or a job, or a shop) with all defaults filled in, names
//! resolved and one unit throughout.

mod centreline;
pub mod folded;
mod job;
mod joggle;
mod outline;
mod resolve;
mod shop_file;
pub mod tab_slots;
pub mod tabs;
pub mod written;
pub mod yaml;

pub(crate) use centreline::parameter_at;
pub use folded::{FLANGE_EDGES, Flange, Folded, Hem, HemKind, Joint, Relief};
pub use job::{Job, JobPart, StockShape, StockSheet, Turns, read_job};
pub use joggle::JoggleBend;
pub use outline::Outline;
pub(crate) use outline::inside;
pub use resolve::read_part;
pub use shop_file::{Brake, BrakeKind, Cutting, Die, Shop, read_shop};
pub use tab_slots::ReceivedTab;
pub(crate) use tabs::tabbed;
pub use tabs::{LEAST_KERFS, Tabs};
pub use yaml::quantity;
pub use yaml::reader::Assumed;
pub use yaml::source::{FileKind, kind_of_file};
