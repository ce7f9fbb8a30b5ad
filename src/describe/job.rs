//! Jobs: parts, sheets, cutting.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::Deserialize;

use super::cutting::{CuttingText, cutting};
use super::part::read_part;
use super::shop_file::named_shop;
use super::stock::{SheetText, stock};
use super::yaml::{At, FileKind, FileReader, FromWord, ListOr, Name, Quantity, Read, Reader};
use crate::part::{Grain, Job, JobPart, Shop, Turns};
use crate::problem::{Checked, Code};
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
        (word == Quantity::Text("any".to_owned()))
            .then_some(Self { step: Quantity::Number(0.0), any: true })
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

/// Reads a job from the bytes of its file, and the parts that it names. `shop` is the shop named on
/// the command line.
pub fn read_job(
    name: &str,
    bytes: Vec<u8>,
    shop: Option<&Arc<Shop>>,
    files: &dyn FileReader,
) -> Checked<Job> {
    let (text, mut reader) = Reader::open::<JobText>(name, bytes, FileKind::Job, files)?;
    let job = job(&mut reader, &text, shop);
    let (job, assumed) = reader.finish(job)?;
    Ok(Job { assumed, ..job })
}

fn job(reader: &mut Reader, text: &JobText, shop: Option<&Arc<Shop>>) -> Read<Job> {
    let root = At::default();
    reader.read_units(text.units.as_ref());
    let name = reader.file_name(&text.job, &root.key("job"), "the job's folder is");
    reader.stands(&root.key("shop"))?;
    let shop = match (&text.shop, shop) {
        (Some(own), _) => named_shop(reader, own, &root.key("shop"))?,
        (None, Some(shop)) => Arc::clone(shop),
        (None, None) => Arc::new(Shop::default()),
    };
    let parts = parts(reader, &text.parts, &root.key("parts"), &shop);
    let stock = stock(reader, text.sheets.as_deref(), &root.key("sheets"), &shop);
    let own =
        text.cutting.as_ref().map(|text| cutting(reader, text, &root.key("cutting"))).transpose();
    let time = text.nesting.as_ref().and_then(|nesting| nesting.time.as_ref());
    let nesting_s = nesting_time(reader, time, &root.key("nesting").key("time"));
    let cutting = own?.unwrap_or_default().or(shop.cutting);
    Ok(Job {
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

/// How long to look for a layout, s.
fn nesting_time(reader: &mut Reader, text: Option<&Quantity>, at: &At) -> Read<f64> {
    /// Seconds of a day, the longest.
    const DAY: f64 = 86_400.0;
    let Some(time) = text else { return Ok(10.0) };
    let seconds =
        reader.with_units(time, at, "a time", &[("s", 1.0), ("min", 60.0), ("h", 3600.0)])?;
    if seconds > DAY {
        return Err(reader.refuse(
            at,
            Code::OutOfRange,
            "this is more than a day",
            "10 s is usual",
        ));
    }
    Ok(seconds)
}

fn parts(
    reader: &mut Reader,
    texts: &[JobPartText],
    at: &At,
    shop: &Arc<Shop>,
) -> Read<Vec<JobPart>> {
    if texts.is_empty() {
        return Err(reader.refuse(at, Code::Choice, "this job has no parts", "list at least one"));
    }
    let mut folders: Vec<String> = Vec::new();
    let all = reader.list(Some(texts), at, |reader, text, at| {
        let part = job_part(reader, text, at, shop)?;
        let own = part.folders();
        if let Some(folder) = folders.iter().find(|folder| own.contains(folder)) {
            let message = format!("two parts of this job would be written to `{folder}/`");
            let help = "give each part a name of its own, or list one part once with its quantity";
            reader.refuse(&at.key("file"), Code::DuplicateName, message, help);
        }
        folders.extend(own);
        Ok(part)
    })?;
    let copies: usize = all.iter().map(|part| part.quantity + part.mirrored).sum();
    if all.len() > 1 && copies > MOST_COPIES {
        let message = format!("this job asks for {copies} pieces; {MOST_COPIES} are the most");
        return Err(reader.refuse(at, Code::OutOfRange, message, "make several jobs of it"));
    }
    Ok(all)
}

fn job_part(reader: &mut Reader, text: &JobPartText, at: &At, shop: &Arc<Shop>) -> Read<JobPart> {
    let file_at = at.key("file");
    let part = reader.file(&text.file, &file_at).and_then(|(bytes, full_name)| {
        let part = read_part(&full_name, bytes, Some(shop), reader.files());
        reader.adopt(part)
    });
    let (quantity, mirrored) =
        (text.quantity.unwrap_or(1) as usize, text.mirrored.unwrap_or(0) as usize);
    let counts_stand =
        ["quantity", "mirrored"].iter().all(|key| reader.stands(&at.key(key)).is_ok());
    if counts_stand && (quantity + mirrored == 0 || quantity + mirrored > MOST_COPIES) {
        let message = if quantity + mirrored == 0 {
            "none of this part is asked for".to_owned()
        } else {
            format!("{} copies are asked for", quantity + mirrored)
        };
        reader.refuse(
            &at.key("quantity"),
            Code::OutOfRange,
            message,
            format!("give 1 to {MOST_COPIES}, or drop the part"),
        );
    }
    let part = part?;
    let turns = match &text.turns {
        None => turns_of(part.grain),
        Some(text) => turns(reader, text, &at.key("turns"))?,
    };
    let turn_tolerance = if text.turns.is_none() { part.grain_tolerance } else { Angle::ZERO };
    Ok(JobPart { part, quantity, mirrored, turns, turn_tolerance, place: reader.place(&file_at) })
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

/// The turns that a job allows a part.
fn turns(reader: &mut Reader, text: &ListOr<Quantity, TurnsText>, at: &At) -> Read<Turns> {
    match text {
        ListOr::One(turns) if turns.any => Ok(Turns::Any),
        ListOr::One(turns) => {
            let step_at = at.key("step");
            let step = reader.angle(&turns.step, &step_at, 0.1, 360.0)?.degrees();
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "step is 0.1 to 360, so 1 to 3600"
            )]
            let count = (360.0 / step).round() as u32;
            if (step * f64::from(count) - 360.0).abs() > 1e-6 {
                let message = "this step does not come round to where it began";
                return Err(reader.refuse(
                    &step_at,
                    Code::OutOfRange,
                    message,
                    "give a step that divides 360, such as 90 or 45",
                ));
            }
            Ok(Turns::List((0..count).map(|i| Angle::from_degrees(f64::from(i) * step)).collect()))
        }
        ListOr::List(list) => {
            let angles = list
                .iter()
                .enumerate()
                .map(|(i, angle)| reader.angle(angle, &at.item(i), -360.0, 360.0));
            let angles = angles.collect::<Read<Vec<Angle>>>()?;
            if angles.len() > MOST_TURNS {
                let message =
                    format!("{} turns are listed; {MOST_TURNS} are the most", angles.len());
                return Err(reader.refuse(at, Code::OutOfRange, message, "give a step, or `any`"));
            }
            if angles.is_empty() {
                return Err(reader.refuse(
                    at,
                    Code::Choice,
                    "no turn is allowed",
                    "give at least one, such as [0]",
                ));
            }
            Ok(Turns::List(angles))
        }
    }
}
