//! Jobs: parts, and the stock that they are cut from.

use super::{Assumed, Cutting, Outline, Part};
use crate::geom::Loop;
use crate::problem::Place;
use crate::units::{Angle, Length, LengthUnit};

/// A job, ready to be made.
#[derive(Debug, Clone)]
pub struct Job {
    /// Its name as given.
    pub name: String,
    /// Its name as files bear it.
    pub file_name: String,
    /// The unit its reports speak first.
    pub unit: LengthUnit,
    /// Its parts.
    pub parts: Vec<JobPart>,
    /// The stock.
    pub stock: Vec<StockSheet>,
    /// Kerf, spacing, margin: the job's own, then the shop's.
    pub cutting: Cutting,
    /// Whether cut lines are moved out by half the kerf and carry lead-ins.
    pub compensate: bool,
    /// How long to look for a better layout, s.
    pub nesting_s: f64,
    /// The seed of the search.
    pub seed: u64,
    /// Stop after so many trial places, whatever the time; the same layout on any machine.
    pub tries: Option<u64>,
    /// Every default that was taken for the job itself.
    pub assumed: Vec<Assumed>,
}

/// A part of a job.
#[derive(Debug, Clone)]
pub struct JobPart {
    /// The part.
    pub part: Part,
    /// How many.
    pub quantity: usize,
    /// How many of the other hand besides.
    pub mirrored: usize,
    /// How it may be turned on the sheet.
    pub turns: Turns,
    /// How far it may be off those turns, either way.
    pub turn_tolerance: Angle,
    /// Where it stands in the job.
    pub place: Place,
}

impl JobPart {
    /// The folders that its files are written to.
    pub(crate) fn folders(&self) -> Vec<String> {
        let own = self.part.file_name.clone();
        let other_hand = (self.mirrored > 0).then(|| format!("{own}-other-hand"));
        std::iter::once(own).chain(other_hand).collect()
    }
}

/// How a part may be turned on the sheet.
#[derive(Debug, Clone, PartialEq)]
pub enum Turns {
    /// Anyhow.
    Any,
    /// By one of these.
    List(Vec<Angle>),
}

/// Stock to cut from.
#[derive(Debug, Clone)]
pub struct StockSheet {
    /// Its shape.
    pub shape: StockShape,
    /// Its material's name.
    pub material: String,
    /// Its thickness.
    pub thickness: Length,
    /// How many there are; none: as many as needed.
    pub count: Option<usize>,
    /// What one costs.
    pub price: Option<f64>,
    /// Where it stands in the job.
    pub place: Place,
}

/// The shape of stock.
#[derive(Debug, Clone)]
pub enum StockShape {
    /// A rectangular sheet: along the grain, across it.
    Sheet(Length, Length),
    /// An offcut with the openings already cut in it.
    Remnant(Box<Outline>, Vec<Loop>),
    /// A roll of this width.
    Roll(Length),
}
