//! Jobs: parts, sheets, cutting.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::Deserialize;

use super::cutting::{CuttingText, cutting};
use super::part::read_part;
use super::shop_file::named_shop;
use super::stock::{SheetText, stock};
use super::yaml::{At, FileKind, FileReader, FromWord, ListOr, Name, Quantity, Reader, decode, text_of};
use crate::part::{Cutting, Grain, Job, JobPart, Shop, Turns};
use crate::problem::{Checked, Code, Problem};
use crate::tolerance::{MOST_COPIES, MOST_TURNS};
use crate::units::Angle;

/// A job: parts, sheets, cutting.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JobText {
    /// The job's name; its folder is named after it.
    pub job: Name,
    /// The unit of bare lengths in this file: mm or in.
    pub units: Option<Name>,
    /// The shop file for parts that name none.
    pub shop: Option<Name>,
    /// The parts to make.
    pub parts: Vec<JobPartText>,
    /// The stock to cut them from.
    pub sheets: Option<Vec<SheetText>>,
    /// How the sheets are cut: kerf, spacing, margin and the rest; what is missing comes from the
    /// shop file.
    pub cutting: Option<CuttingText>,
    /// How long to look for a better layout, and the seed of the search.
    pub nesting: Option<NestingText>,
}

/// A part of a job.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JobPartText {
    /// Its description, beside this file.
    pub file: Name,
    /// How many, 1 by default.
    pub quantity: Option<u32>,
    /// How many of the other hand besides, 0 by default.
    pub mirrored: Option<u32>,
    /// How it may be turned on the sheet: any, a list of degrees, or {step: 90}; from its grain by default.
    pub turns: Option<ListOr<Quantity, TurnsText>>,
}

/// Turns by equal steps, or a word.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TurnsText {
    /// Every multiple of this many degrees.
    pub step: Quantity,
    /// Whether the word `any` stands in place of the keys: the part may lie at any angle.
    #[serde(skip)]
    #[schemars(skip)]
    pub any: bool,
}

impl FromWord for TurnsText {
    const EXPECTED: &'static str = "`any`, a list of degrees such as [0, 180], or {step: 90}";
    fn from_word(word: Quantity) -> Option<Self> {
        (word == Quantity::Text("any".to_owned())).then_some(Self { step: Quantity::Number(0.0), any: true })
    }
}

/// How long to look for a better layout.
#[derive(Debug, Clone, PartialEq, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NestingText {
    /// How long to look: s (a bare number), min or h, up to a day; 10 s by default. A first
    /// filling of the sheets is always finished.
    pub time: Option<Quantity>,
    /// The seed of the search.
    pub seed: Option<u64>,
    /// Stop after so many trial places, so that every machine finds the same layout.
    pub tries: Option<u64>,
}

/// Reads a job from the bytes of its file, and the parts that it names. `shop` is the shop named on the command line.
pub fn read_job(name: &str, bytes: Vec<u8>, shop: Option<&Arc<Shop>>, files: &dyn FileReader) -> Checked<Job> {
    let source = text_of(name, bytes).map_err(|problem| vec![problem])?;
    let (text, map) = decode::<JobText>(&source, FileKind::Job)?;
    let mut reader = Reader::new(&map, files);
    match job(&mut reader, &text, shop) {
        Some(job) if reader.problems.is_empty() => Ok(Job { assumed: reader.assumed, ..job }),
        _ if reader.problems.is_empty() => {
            let message = "this job cannot be read, for a reason that the program does not know";
            Err(vec![Problem::new(Code::File, message, "please report it, with this file").at(map.value(""))])
        }
        _ => Err(reader.problems),
    }
}

fn job(reader: &mut Reader, text: &JobText, shop: Option<&Arc<Shop>>) -> Option<Job> {
    let root = At::default();
    reader.read_units(text.units.as_ref());
    let name = reader.file_name(&text.job, &root.key("job"), "the job's folder is");
    let shop = match (&text.shop, shop) {
        (Some(own), _) => named_shop(reader, own, &root.key("shop"))?,
        (None, Some(shop)) => Arc::clone(shop),
        (None, None) => Arc::new(Shop::default()),
    };
    let parts = parts(reader, &text.parts, &root.key("parts"), &shop);
    let stock = stock(reader, text.sheets.as_deref().unwrap_or_default(), &root.key("sheets"), &shop);
    let own = match &text.cutting {
        Some(text) => cutting(reader, text, &root.key("cutting")),
        None => Some(Cutting::default()),
    };
    let nesting_at = root.key("nesting");
    let time = text.nesting.as_ref().and_then(|nesting| nesting.time.as_ref());
    let nesting_s = match time {
        Some(time) => {
            let seconds = reader.with_units(time, &nesting_at.key("time"), "a time", &[("s", 1.0), ("min", 60.0), ("h", 3600.0)]);
            seconds.and_then(|s| {
                let fits = (0.0..=86_400.0).contains(&s);
                if fits {
                    Some(s)
                } else {
                    reader.refuse(&nesting_at.key("time"), Code::OutOfRange, "this is more than a day", "10 s is usual")
                }
            })
        }
        None => Some(10.0),
    };
    let cutting = own?.or(shop.cutting);
    Some(Job {
        name: text.job.0.clone(),
        file_name: name,
        unit: reader.shown_unit(),
        parts: parts?,
        stock: stock?,
        cutting,
        compensate: cutting.compensate.unwrap_or(false),
        nesting_s: nesting_s?,
        seed: text.nesting.as_ref().and_then(|nesting| nesting.seed).unwrap_or(1),
        tries: text.nesting.as_ref().and_then(|nesting| nesting.tries),
        assumed: Vec::new(),
    })
}

fn parts(reader: &mut Reader, texts: &[JobPartText], at: &At, shop: &Arc<Shop>) -> Option<Vec<JobPart>> {
    if texts.is_empty() {
        return reader.refuse(at, Code::Choice, "this job has no parts", "list at least one");
    }
    let mut all: Vec<JobPart> = Vec::new();
    let mut whole = true;
    for (i, text) in texts.iter().enumerate() {
        let at = at.item(i);
        match job_part(reader, text, &at, shop) {
            Some(part) => {
                let folders = part.folders();
                let twin = all.iter().flat_map(JobPart::folders).find(|folder| folders.contains(folder));
                if let Some(folder) = twin {
                    let message = format!("two parts of this job would be written to `{folder}/`");
                    let help = "give each part a name of its own, or list one part once with its quantity";
                    reader.refuse::<()>(&at.key("file"), Code::DuplicateName, message, help);
                }
                all.push(part);
            }
            None => whole = false,
        }
    }
    let copies: usize = all.iter().map(|part| part.quantity + part.mirrored).sum();
    if whole && all.len() > 1 && copies > MOST_COPIES {
        let message = format!("this job asks for {copies} pieces; {MOST_COPIES} are the most");
        return reader.refuse(at, Code::OutOfRange, message, "make several jobs of it");
    }
    whole.then_some(all)
}

fn job_part(reader: &mut Reader, text: &JobPartText, at: &At, shop: &Arc<Shop>) -> Option<JobPart> {
    let file_at = at.key("file");
    let beside = reader.map.source().name.clone();
    let part = match reader.files.read(&beside, &text.file.0) {
        Ok(bytes) => match read_part(&reader.files.full_name(&beside, &text.file.0), bytes, Some(shop), reader.files) {
            Ok(part) => Some(part),
            Err(problems) => {
                // A file that the job lists twice is wrong once.
                let new: Vec<_> = problems.into_iter().filter(|problem| !reader.problems.contains(problem)).collect();
                reader.problems.extend(new);
                None
            }
        },
        Err(problem) => reader.refuse(&file_at, problem.code, problem.message, problem.help),
    };
    let (quantity, mirrored) = (text.quantity.unwrap_or(1) as usize, text.mirrored.unwrap_or(0) as usize);
    if quantity + mirrored == 0 || quantity + mirrored > MOST_COPIES {
        let message = if quantity + mirrored == 0 {
            "none of this part is asked for".to_owned()
        } else {
            format!("{} copies are asked for", quantity + mirrored)
        };
        reader.refuse::<()>(&at.key("quantity"), Code::OutOfRange, message, format!("give 1 to {MOST_COPIES}, or drop the part"));
    }
    let part = part?;
    let turns = match &text.turns {
        None => Some(turns_of(part.grain)),
        Some(ListOr::One(turns)) if turns.any => Some(Turns::Any),
        Some(ListOr::One(turns)) => {
            let step = reader.angle(&turns.step, &at.key("turns").key("step"), 0.1, 360.0)?.degrees();
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "step is 0.1 to 360, so 1 to 3600")]
            let count = (360.0 / step).round() as u32;
            if (step * f64::from(count) - 360.0).abs() > 1e-6 {
                let help = "give a step that divides 360, such as 90 or 45";
                return reader.refuse(
                    &at.key("turns").key("step"),
                    Code::OutOfRange,
                    "this step does not come round to where it began",
                    help,
                );
            }
            Some(Turns::List((0..count).map(|i| Angle::from_degrees(f64::from(i) * step)).collect()))
        }
        Some(ListOr::List(list)) => {
            let turns_at = at.key("turns");
            let mut angles = Vec::new();
            for (i, angle) in list.iter().enumerate() {
                angles.push(reader.angle(angle, &turns_at.item(i), -360.0, 360.0)?);
            }
            if angles.len() > MOST_TURNS {
                let message = format!("{} turns are listed; {MOST_TURNS} are the most", angles.len());
                return reader.refuse(&turns_at, Code::OutOfRange, message, "give a step, or `any`");
            }
            if angles.is_empty() {
                return reader.refuse(&turns_at, Code::Choice, "no turn is allowed", "give at least one, such as [0]");
            }
            Some(Turns::List(angles))
        }
    };
    let turn_tolerance = if text.turns.is_none() { part.grain_tolerance } else { Angle::from_degrees(0.0) };
    Some(JobPart { part, quantity, mirrored, turns: turns?, turn_tolerance, place: reader.place(&file_at) })
}

/// The turns that keep a part's grain along the sheet's.
fn turns_of(grain: Grain) -> Turns {
    let list = |degrees: [f64; 2]| Turns::List(degrees.map(Angle::from_degrees).to_vec());
    match grain {
        Grain::Any => Turns::Any,
        Grain::Along => list([0.0, 180.0]),
        Grain::Across => list([90.0, 270.0]),
    }
}
