//! What descriptions come to: parts, jobs and shops with all defaults filled in, names resolved and
//! one unit throughout.
//!
//! One file for each kind of part and for what they share. [`describe`](crate::describe) makes
//! these out of text; [`flatten`](crate::flat::flatten) takes a part.

mod bent;
mod end_trim;
mod folded;
mod half_shell;
mod job;
mod joggle;
mod kind;
mod opening;
mod outline;
mod plate;
mod shop_file;
mod tabs;

use std::sync::Arc;

use crate::problem::Place;
use crate::shop::bend_rule::BendRule;
use crate::shop::material::Material;
use crate::units::{Angle, Length, LengthUnit};

pub use bent::{Bend, Bent, Cope, Leg, LegDims};
pub use end_trim::Hammered;
pub use folded::{FLANGE_EDGES, Flange, Folded, Hem, HemKind, Joint, Relief};
pub use half_shell::{Buck, HalfShell, Join, Pins};
pub use job::{Job, JobPart, StockShape, StockSheet, Turns};
pub use joggle::JoggleBend;
pub use kind::Kind;
pub use opening::{Lip, Opening};
pub use outline::Outline;
pub use plate::Plate;
pub use shop_file::{Brake, BrakeKind, Cutting, Die, Shop};
pub(crate) use tabs::tabbed;
pub use tabs::{LEAST_KERFS, ReceivedTab, Tabs};

/// A part, ready to be formed.
#[derive(Debug, Clone)]
pub struct Part {
    /// Its name as given.
    pub name: String,
    /// Its name as files bear it.
    pub file_name: String,
    /// The unit its reports speak first.
    pub unit: LengthUnit,
    /// The sheet metal.
    pub material: Material,
    /// The sheet's thickness.
    pub thickness: Length,
    /// How the rolling direction lies in the blank.
    pub grain: Grain,
    /// How far it may be off that, either way.
    pub grain_tolerance: Angle,
    /// The bend allowance rule.
    pub bend_rule: BendRule,
    /// What is made of the sheet.
    pub kind: Kind,
    /// The shop's own figures.
    pub shop: Arc<Shop>,
    /// Defaults taken that a builder may want otherwise.
    pub assumed: Vec<Assumed>,
    /// Where its name stands.
    pub place: Place,
}

/// How the rolling direction must lie in the blank.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Grain {
    /// Anyhow.
    #[default]
    Any,
    /// Along the blank's x.
    Along,
    /// Along the blank's y.
    Across,
}

/// A default that was taken because the description says nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumed {
    /// The key that would say otherwise.
    pub key: String,
    /// The value taken, in both units where it is a length.
    pub value: String,
    /// Why this one.
    pub why: String,
}

/// A part's or job's name as a file name: lower case, words joined by `-`.
#[must_use]
pub fn file_name(name: &str) -> String {
    let lower = name.to_lowercase();
    let words: Vec<&str> =
        lower.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    words.join("-")
}
