//! Takes flat outlines and stock, gives where each part lies on which sheet; an exact check
//! guards every layout.
//!
//! Lengths are mm, angles radians, areas mm², all bare `f64`. Parts are placed on their true
//! outlines, openings included: a small part may lie in the opening of a large one. Parts are never
//! mirrored; the other hand comes as a piece of its own.
//!
//! ```
//! use planish::nest::{Clearance, Effort, Piece, Shape, Stock, Turns, Unwatched, nest};
//!
//! let piece = Piece { shape: Shape::rectangle(30.0, 20.0), quantity: 6, turns: Turns::Any, tolerance: 0.0 };
//! let sheet = Stock::Sheet { shape: Shape::rectangle(100.0, 60.0), count: 1, price: None, remnant: false };
//! let effort = Effort { poses: Some(20_000), ..Effort::default() };
//! let layout = nest(&[piece], &[sheet], &Clearance { between: 2.0, edge: 1.0 }, &effort, &mut Unwatched)?;
//! assert_eq!(layout.sheets[0].placements.len(), 6);
//! # Ok::<(), planish::nest::Refused>(())
//! ```
//!
#![doc = include_str!("METHOD.md")]

mod arrangement;
mod budget;
mod circles;
mod crew;
mod dice;
mod fill;
mod grow;
mod guard;
mod lanes;
mod outline;
mod pairs;
mod plan;
mod plane;
mod record;
mod search;
mod shape;
mod tighten;
mod world;

pub use shape::{Fault, Shape};

use std::fmt;

/// Most items that are moved about at once; above it sheets are filled and only the last one is
/// closed up.
pub const MOST_MOVING: usize = 1200;

/// The angles a piece may lie at, radians counter-clockwise from how it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Turns {
    /// Any angle.
    Any,
    /// These alone; an empty list means as drawn.
    List(Vec<f64>),
}

/// A part and how many of it are wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Its outline.
    pub shape: Shape,
    /// How many; 0 is allowed and places none.
    pub quantity: usize,
    /// The angles it may lie at.
    pub turns: Turns,
    /// How far the angle may be off those of the list either way, radians; 0 for exactly those.
    pub tolerance: f64,
}

/// What the parts are cut from.
#[derive(Debug, Clone, PartialEq)]
pub enum Stock {
    /// Sheets, or a remnant of any outline, in their own coordinates.
    Sheet {
        /// Outline, and the openings already cut from it.
        shape: Shape,
        /// How many there are.
        count: usize,
        /// Price of one in any money.
        price: Option<f64>,
        /// An offcut: used before whole sheets, and at no cost unless it has a price.
        remnant: bool,
    },
    /// Off a roll, as short a length as can be. Its lower left corner is at 0, 0; x runs along it.
    Roll {
        /// Across the roll, along y, mm.
        width: f64,
    },
}

/// Distances to keep, mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Clearance {
    /// Between the outlines of two parts: the kerf and the spacing. At 0 parts may touch.
    pub between: f64,
    /// Between a part's outline and the sheet's edge or an opening in the sheet: the margin. Where
    /// the cut runs outside the outline, the caller adds the kerf's share to keep the cut itself
    /// off the edge. At 0 parts may touch the edge. Along openings and the inner edges of a remnant
    /// never less than half of `between` is kept.
    pub edge: f64,
}

/// How hard to try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Another seed, another layout; the same seed, limit and workers give the same layout.
    pub seed: u64,
    /// Stop after this many trial poses, though not before the sheets are filled for the first
    /// time; None leaves it to the [`Watch`] (and to the search, which ends by itself after many
    /// steps in vain).
    pub poses: Option<u64>,
    /// Threads that search, at least 1. Two is the usual number.
    pub workers: usize,
}

impl Default for Effort {
    fn default() -> Self {
        Self { seed: 1, poses: None, workers: 2 }
    }
}

/// What is being done just now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doing {
    /// Laying parts on sheets one by one.
    FillingSheets,
    /// Making room for parts that were left over.
    MakingRoom,
    /// Trying to do with one sheet less.
    SavingASheet,
    /// Moving the parts on the last sheet together, for a larger offcut.
    ClosingUp,
    /// Moving the parts on the roll together, for a shorter cut.
    ShorteningTheRoll,
}

impl fmt::Display for Doing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::FillingSheets => "laying parts on the sheets",
            Self::MakingRoom => "making room for parts left over",
            Self::SavingASheet => "trying to save a sheet",
            Self::ClosingUp => "closing up the last sheet",
            Self::ShorteningTheRoll => "shortening the roll",
        })
    }
}

/// How the nest stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// What is being done.
    pub doing: Doing,
    /// Trial poses so far.
    pub poses_tried: u64,
    /// Area of the parts placed over the area of the sheets used, in the best layout so far; 0
    /// before there is one.
    pub best_yield: f64,
    /// Sheets used in it.
    pub sheets: usize,
    /// Length taken off the roll, if one is used, mm.
    pub roll_length: Option<f64>,
    /// Parts not placed in it.
    pub unplaced: usize,
}

/// Looks on during the nest and says when to stop. The library has no clock of its own.
pub trait Watch {
    /// Asked many times a second; false stops the nest, which then hands over the best layout so
    /// far. The first filling of the sheets comes before all else and goes on to its end.
    fn keep_going(&mut self, progress: &Progress) -> bool;

    /// Asked during the first filling; true breaks even that off, and the parts whose turn has not
    /// come are left over.
    fn break_off(&mut self) -> bool {
        false
    }

    /// The share of the time allowed that is gone, 0 to 1, if there is an end to it. Knowing it,
    /// the search keeps the last fifth for small improvements.
    fn spent(&self) -> Option<f64> {
        None
    }

    /// Told by a caller of several nests that one begins, and what share of the time that is left
    /// it may take.
    fn begin(&mut self, _share: f64) {}
}

/// Watches nothing and never stops the nest.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn keep_going(&mut self, _: &Progress) -> bool {
        true
    }
}

impl<F: FnMut(&Progress) -> bool> Watch for F {
    fn keep_going(&mut self, progress: &Progress) -> bool {
        self(progress)
    }
}

/// Where one part lies: the outline's points turned about their own origin by `angle`, then moved
/// by (x, y), in the sheet's own coordinates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// Index in the list of pieces.
    pub piece: usize,
    /// Which copy of it, counted from 0.
    pub copy: usize,
    /// Move along x, mm.
    pub x: f64,
    /// Move along y, mm.
    pub y: f64,
    /// Turn, radians counter-clockwise.
    pub angle: f64,
}

impl Placement {
    /// Where a point of the piece comes to lie.
    #[must_use]
    pub fn place(&self, point: [f64; 2]) -> [f64; 2] {
        let p = plane::turned(point, plane::sine_cosine(self.angle));
        [p[0] + self.x, p[1] + self.y]
    }
}

/// A sheet with parts on it.
#[derive(Debug, Clone, PartialEq)]
pub struct UsedSheet {
    /// Index in the list of stock.
    pub stock: usize,
    /// Which of the equal sheets, counted from 0.
    pub copy: usize,
    /// The parts on it.
    pub placements: Vec<Placement>,
    /// How far along x the parts reach, in the sheet's coordinates, mm. For a roll, with the
    /// margin: the length to cut.
    pub length: f64,
}

/// Why a part was not placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// At none of its allowed turns is it within any sheet's or roll's margins.
    TooLarge,
    /// The sheets are full.
    NoRoom,
    /// The first filling was broken off before its turn came.
    Stopped,
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TooLarge => "larger than any sheet at the turns allowed",
            Self::NoRoom => "no room left on the sheets",
            Self::Stopped => "the nest was stopped before it could be placed",
        })
    }
}

/// Copies of a piece that were not placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unplaced {
    /// Index in the list of pieces.
    pub piece: usize,
    /// How many.
    pub count: usize,
    /// Why.
    pub why: Why,
}

/// The outcome. It keeps all clearances to 0.000 002 mm, checked part against part.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Layout {
    /// Sheets in the order of use, remnants first.
    pub sheets: Vec<UsedSheet>,
    /// What was not placed.
    pub unplaced: Vec<Unplaced>,
    /// Area of the parts placed over the area of the stock used.
    pub used: f64,
    /// Trial poses it took: with this as the limit, the same run can be made again.
    pub poses_tried: u64,
}

impl Layout {
    /// Length taken off the roll, if one was used, mm.
    #[must_use]
    pub fn roll_length(&self, stock: &[Stock]) -> Option<f64> {
        self.sheets.iter().find(|s| matches!(stock[s.stock], Stock::Roll { .. })).map(|s| s.length)
    }
}

/// Why a job cannot be nested at all.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Refused {
    /// The outline of this piece is at fault.
    Piece {
        /// Index in the list of pieces.
        index: usize,
        /// What is wrong with it.
        fault: Fault,
    },
    /// The outline of this sheet, remnant or roll is at fault.
    Stock {
        /// Index in the list of stock.
        index: usize,
        /// What is wrong with it.
        fault: Fault,
    },
    /// A clearance, a turn, a tolerance or a price is negative, not a number or not finite.
    BadNumber {
        /// Which.
        what: &'static str,
    },
    /// More than a million parts in all.
    TooMany {
        /// How many.
        parts: usize,
    },
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Piece { index, fault } => write!(f, "part {}: {fault}", index + 1),
            Self::Stock { index, fault } => write!(f, "sheet {}: {fault}", index + 1),
            Self::BadNumber { what } => write!(f, "the {what} must be a number, not negative"),
            Self::TooMany { parts } => {
                write!(f, "{parts} parts are more than the million that can be nested at once")
            }
        }
    }
}

impl std::error::Error for Refused {}

/// Places the pieces on the stock: everything placed if it can be; the fewest and cheapest sheets,
/// remnants first; then the last sheet filled from its near end (small x), so that the offcut is
/// one large full-width rectangle.
///
/// Rolls come after sheets. A layout free of faults is handed over whenever the nest ends, also
/// when it is stopped.
pub fn nest(
    pieces: &[Piece],
    stock: &[Stock],
    clearance: &Clearance,
    effort: &Effort,
    watch: &mut dyn Watch,
) -> Result<Layout, Refused> {
    plan::nest(pieces, stock, clearance, effort, watch)
}
