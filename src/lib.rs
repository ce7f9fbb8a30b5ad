//! Planish turns a short YAML description of a sheet-metal part into what a shop cuts and hammers
//! from: the flat blank, the buck of a hammer-formed half-shell, drawings and solids of both,
//! nested sheets, and what every limit says of it.
//!
//! Text goes in at one end and bytes come out at the other; nothing outside `cli` reads a file, a
//! clock or the environment.
//!
//! ```
//! use planish::describe::{NoFiles, read_part};
//! use planish::drawing::blank_drawing;
//! use planish::formats::{DxfOptions, dxf};
//! use planish::make::make_part;
//!
//! let yaml = "
//! part: tow bracket
//! units: mm
//! material: 4130-annealed
//! thickness: 1.6
//! bent:
//!   radius: 3.2
//!   section: [{leg: 62}, {bend: 90}, {leg: 38}]
//!   depth: 80
//! ";
//! let part = read_part("bracket.yaml", yaml.into(), None, &NoFiles).expect("a sound description");
//! let made = make_part(&part).expect("a part that can be laid flat");
//! // By DIN 6935 this bend takes 3.57 mm off its legs.
//! assert!((made.flat.outside.bounds().width() - 96.43).abs() < 0.005);
//! assert!(made.findings.iter().all(|finding| finding.is_ok()));
//!
//! let blank = blank_drawing(&part, &made.flat, made.stations(), false);
//! let bytes = dxf(&blank, DxfOptions::default()).expect("finite numbers");
//! assert!(bytes.starts_with(b"  0"));
//! ```
//!
//! | from | to | by |
//! |---|---|---|
//! | YAML | [`part::Part`], [`part::Job`] | [`describe`] |
//! | a part | [`make::MadePart`]: blank, bends, buck, pair, findings | [`make::make_part`] |
//! | that | drawings and pictures | [`drawing`] |
//! | drawings | SVG, DXF, PDF, STL | [`formats`] |
//! | a job | its sheets, nested and with the torch's path | [`make::lay_out`] |
//!
//! Below these stand modules of their own: plane geometry ([`geom`]), the forming solve ([`fe`]), a
//! packing engine ([`nest`]), and what a shop knows by heart ([`shop`]). The `planish` command is
//! the feature `cli`, on by default; `default-features = false` builds the library alone.

pub mod bending;
pub mod buck;
pub mod check;
#[cfg(feature = "cli")]
pub mod cli;
pub mod cutting;
pub mod describe;
pub mod drawing;
pub mod fe;
pub mod finding;
pub mod flat;
pub mod formats;
pub mod formed;
pub mod geom;
pub mod make;
pub mod nest;
pub mod page;
pub mod part;
pub mod problem;
pub mod report;
pub mod section;
pub mod shell;
pub mod shop;
pub mod tolerance;
pub mod units;
