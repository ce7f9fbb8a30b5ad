//! Takes the text of a description, gives a [`Part`](crate::part::Part) (or a job, or a
//! shop) with all defaults filled in, names resolved and one unit throughout.
//!
//! `yaml` is the machinery. Beside it stands one file for each kind of part and for what they
//! share, in which the text as it is written (what serde reads, and what the JSON Schema is made
//! from), its resolving and its defaults stand together.
//!
//! ```
//! use planish::describe::{NoFiles, read_part};
//!
//! let yaml = "part: strip\nunits: mm\nmaterial: 1020\nthickness: 1.5\nplate: {profile: {rectangle: {size: [80, fifty]}}}\n";
//! let problems = read_part("strip.yaml", yaml.into(), None, &NoFiles).expect_err("`fifty` is no length");
//! let place = problems[0].place.as_ref().expect("where");
//! assert_eq!(place.line_and_column(), (5, 42));
//! ```

mod allowance;
mod bent;
mod brake;
mod buck;
mod centreline;
mod copes;
mod cutting;
mod end_trim;
mod folded;
mod half_shell;
mod hem;
mod job;
mod joggle;
mod opening;
mod outline;
mod outline_file;
mod part;
mod path;
mod plate;
mod relief;
mod shop_file;
mod stations;
mod stock;
mod tab_slots;
mod tabs;
mod yaml;

pub use job::{JobText, read_job};
pub use part::{PartText, read_part};
pub use shop_file::{ShopText, read_shop};
pub use yaml::{
    FileKind, FileReader, NoFiles, Quantity, Size, Unreadable, kind_of_file, read_angle,
    read_length,
};
