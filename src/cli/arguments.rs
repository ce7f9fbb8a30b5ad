//! The arguments as typed.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::drawing::{PaperSize, Print};
use crate::formats::{DxfOptions, DxfUnit, DxfVersion};
use crate::make::FileOptions;
use crate::tolerance::PRINT_SCALES;

/// Bucks, flat blanks, bend patterns and nests for hammer-formed and bent sheet metal, from a short
/// YAML description.
#[derive(Debug, Parser)]
#[command(
    name = "planish",
    version,
    about,
    arg_required_else_help = true,
    disable_help_subcommand = true
)]
pub(super) struct Arguments {
    #[command(subcommand)]
    pub(super) command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Make everything of a job: blanks, bucks, sheets, report
    Make(JobArguments),
    /// Lay parts flat: their blanks
    Flat(PartArguments),
    /// Make the bucks and clamp plates of half-shells
    Buck(PartArguments),
    /// Nest a job's sheets, and write them alone
    Nest(JobArguments),
    /// Check forming and bending limits and openings of parts or jobs; the limits of a sheet's cuts
    /// come with `nest`
    Check(PartArguments),
    /// Work out the K-factor of a measured test strip
    Strip(StripArguments),
    /// Print a starter file on standard output
    New {
        /// What to start
        kind: Starter,
        #[command(flatten)]
        common: Common,
    },
    /// Print the JSON Schema of the description files on standard output
    Schema {
        /// Which file
        #[arg(default_value = "all")]
        of: SchemaOf,
        #[command(flatten)]
        common: Common,
    },
    /// Print shell completion on standard output
    Completions {
        /// The shell
        shell: clap_complete::Shell,
        #[command(flatten)]
        common: Common,
    },
}

impl Command {
    /// The options that every command has.
    pub(super) fn common(&self) -> &Common {
        match self {
            Self::Make(job) | Self::Nest(job) => &job.common,
            Self::Flat(parts) | Self::Buck(parts) | Self::Check(parts) => &parts.common,
            Self::Strip(strip) => &strip.common,
            Self::New { common, .. }
            | Self::Schema { common, .. }
            | Self::Completions { common, .. } => common,
        }
    }
}

/// Options of every command.
#[derive(Debug, Clone, Args)]
pub(super) struct Common {
    /// Write files to this folder
    #[arg(long, value_name = "DIR", default_value = "output")]
    pub(super) out: PathBuf,
    /// Print results on standard output as JSON
    #[arg(long)]
    pub(super) json: bool,
    /// Print no messages but errors
    #[arg(long)]
    pub(super) quiet: bool,
}

impl Default for Common {
    fn default() -> Self {
        Self { out: PathBuf::from("output"), json: false, quiet: false }
    }
}

/// How DXF is written.
#[derive(Debug, Clone, Copy, Args)]
struct DxfArguments {
    /// The DXF version: r2000, or r12 for old controllers
    #[arg(long, value_name = "VERSION", default_value = "r2000")]
    dxf: Version,
    /// The unit of DXF files
    #[arg(long, value_name = "UNIT", default_value = "mm")]
    dxf_units: Unit,
}

/// How templates are printed.
#[derive(Debug, Clone, Copy, Args)]
pub(super) struct PrintArguments {
    /// The paper of templates.pdf [default: a4 for a file in mm, letter for one in inches]
    #[arg(long, value_name = "SIZE")]
    paper: Option<Paper>,
    /// Two factors for a printer that stretches, across and up the paper: what a bar of
    /// templates.pdf must measure over what it measures, such as 1.008,0.996
    #[arg(long, value_name = "X,Y", value_parser = print_scale, allow_hyphen_values = true)]
    print_scale: Option<(f64, f64)>,
}

/// Two factors near 1, parted by a comma.
fn print_scale(text: &str) -> Result<(f64, f64), String> {
    let factor = |text: &str| text.trim().parse::<f64>().ok();
    let (low, high) = PRINT_SCALES;
    match text.split_once(',').map(|(across, up)| (factor(across), factor(up))) {
        Some((Some(across), Some(up))) => {
            if [across, up].iter().all(|scale| (low..=high).contains(scale)) {
                Ok((across, up))
            } else {
                Err(format!("each factor lies between {low} and {high}; no printer is further off"))
            }
        }
        _ => Err("write two factors, across and up the paper, such as 1.008,0.996".to_owned()),
    }
}

/// A paper.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum Paper {
    /// 210 x 297 mm
    A4,
    /// 297 x 420 mm
    A3,
    /// 8.5 x 11 in
    Letter,
    /// 11 x 17 in
    Tabloid,
}

impl PrintArguments {
    fn print(self) -> Print {
        Print {
            paper: self.paper.map(|paper| match paper {
                Paper::A4 => PaperSize::A4,
                Paper::A3 => PaperSize::A3,
                Paper::Letter => PaperSize::Letter,
                Paper::Tabloid => PaperSize::Tabloid,
            }),
            scale: self.print_scale.unwrap_or((1.0, 1.0)),
        }
    }
}

/// How files are written.
#[derive(Debug, Clone, Copy, Args)]
pub(super) struct WritingArguments {
    #[command(flatten)]
    dxf: DxfArguments,
    #[command(flatten)]
    print: PrintArguments,
}

impl WritingArguments {
    pub(super) fn options(self) -> FileOptions {
        FileOptions { dxf: self.dxf.options(), print: self.print.print() }
    }
}

impl DxfArguments {
    fn options(self) -> DxfOptions {
        DxfOptions {
            version: match self.dxf {
                Version::R2000 => DxfVersion::R2000,
                Version::R12 => DxfVersion::R12,
            },
            unit: match self.dxf_units {
                Unit::Mm => DxfUnit::Millimetre,
                Unit::In => DxfUnit::Inch,
            },
        }
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Version {
    R2000,
    R12,
}

/// A unit of length.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum Unit {
    /// Millimetres
    Mm,
    /// Inches
    In,
}

/// A job.
#[derive(Debug, Args)]
pub(super) struct JobArguments {
    /// The job's description, or - for standard input
    #[arg(value_name = "JOB.yaml")]
    pub(super) file: PathBuf,
    /// The shop file, where the descriptions name none
    #[arg(long, value_name = "FILE")]
    pub(super) shop: Option<PathBuf>,
    #[command(flatten)]
    pub(super) writing: WritingArguments,
    #[command(flatten)]
    pub(super) common: Common,
}

/// Parts.
#[derive(Debug, Args)]
pub(super) struct PartArguments {
    /// The descriptions, or - for standard input
    #[arg(value_name = "FILE", required = true)]
    pub(super) files: Vec<PathBuf>,
    /// The shop file, where the descriptions name none
    #[arg(long, value_name = "FILE")]
    pub(super) shop: Option<PathBuf>,
    #[command(flatten)]
    pub(super) writing: WritingArguments,
    #[command(flatten)]
    pub(super) common: Common,
}

/// A measured test strip.
#[derive(Debug, Args)]
#[command(allow_negative_numbers = true)]
pub(super) struct StripArguments {
    /// Length of the strip before the bend
    pub(super) flat: String,
    /// First leg after the bend, to the outside mould line
    #[arg(value_name = "LEG")]
    pub(super) first: String,
    /// Second leg after the bend, to the outside mould line
    #[arg(value_name = "LEG")]
    pub(super) second: String,
    /// Thickness of the sheet
    #[arg(long)]
    pub(super) thickness: String,
    /// Inside radius of the bend
    #[arg(long)]
    pub(super) radius: String,
    /// Angle turned through, degrees
    #[arg(long, default_value = "90")]
    pub(super) angle: String,
    /// Unit of bare lengths
    #[arg(long, value_name = "UNIT", default_value = "mm")]
    pub(super) units: Unit,
    /// Add the strip to this shop file
    #[arg(long, value_name = "SHOP", requires = "material")]
    pub(super) save: Option<PathBuf>,
    /// The strip's material, for --save
    #[arg(long)]
    pub(super) material: Option<String>,
    /// The tooling it was bent on, for --save
    #[arg(long)]
    pub(super) tool: Option<String>,
    /// When it was measured, for --save
    #[arg(long)]
    pub(super) date: Option<String>,
    #[command(flatten)]
    pub(super) common: Common,
}

/// Kinds of starter file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
#[value(rename_all = "snake_case")]
pub(super) enum Starter {
    /// A part that is cut and left flat
    Plate,
    /// A part hammered over a buck
    #[value(alias = "half-shell")]
    HalfShell,
    /// A part bent from one section
    Bent,
    /// A panel with flanges on its edges.
    Folded,
    /// A job
    Job,
    /// A shop file
    Shop,
}

/// Which description a schema is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum SchemaOf {
    /// Any of the three
    All,
    /// A part
    Part,
    /// A job
    Job,
    /// A shop file
    Shop,
}
