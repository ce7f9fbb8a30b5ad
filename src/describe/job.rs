//! A job's description made into a [`Job`].

use std::sync::Arc;

use super::outline::{Outline, inside};
use super::resolve::{material, read_part};
use super::shop_file::{Cutting, Shop, cutting, named_shop};
use super::written::{JobPartText, JobText, ListOr, Name, SheetText, StockText};
use super::yaml::reader::{Allowed, Assumed, At, Reader};
use super::yaml::source::{FileKind, decode, text_of};
use crate::geom::Loop;
use crate::part::{FileReader, Grain, Part};
use crate::problem::{Checked, Code, Place, Problem};
use crate::tolerance::{CURVE_TO_ARCS, MOST_COPIES, MOST_TURNS};
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
    fn folders(&self) -> Vec<String> {
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

/// Reads a job from the bytes of its file, and the parts that it names. `shop` is the shop named on the command line.
pub fn read_job(name: &str, bytes: Vec<u8>, shop: Option<&Arc<Shop>>, files: &dyn FileReader) -> Checked<Job> {
    let source = text_of(name, bytes).map_err(|problem| vec![problem])?;
    let (text, map) = decode::<JobText>(&source, FileKind::Job)?;
    let mut reader = Reader::new(&map);
    match job(&mut reader, &text, shop, files) {
        Some(job) if reader.problems.is_empty() => Ok(Job { assumed: reader.assumed, ..job }),
        _ if reader.problems.is_empty() => {
            let message = "this job cannot be read, for a reason that the program does not know";
            Err(vec![Problem::new(Code::File, message, "please report it, with this file").at(map.value(""))])
        }
        _ => Err(reader.problems),
    }
}

fn job(reader: &mut Reader, text: &JobText, shop: Option<&Arc<Shop>>, files: &dyn FileReader) -> Option<Job> {
    let root = At::default();
    reader.read_units(text.units.as_ref());
    let name = reader.file_name(&text.job, &root.key("job"), "the job's folder is");
    let shop = match (&text.shop, shop) {
        (Some(own), _) => named_shop(reader, own, &root.key("shop"), files)?,
        (None, Some(shop)) => Arc::clone(shop),
        (None, None) => Arc::new(Shop::default()),
    };
    let parts = parts(reader, &text.parts, &root.key("parts"), &shop, files);
    let stock = stock(reader, text.sheets.as_deref().unwrap_or_default(), &root.key("sheets"), &shop, files);
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

fn parts(reader: &mut Reader, texts: &[JobPartText], at: &At, shop: &Arc<Shop>, files: &dyn FileReader) -> Option<Vec<JobPart>> {
    if texts.is_empty() {
        return reader.refuse(at, Code::Choice, "this job has no parts", "list at least one");
    }
    let mut all: Vec<JobPart> = Vec::new();
    let mut whole = true;
    for (i, text) in texts.iter().enumerate() {
        let at = at.item(i);
        match job_part(reader, text, &at, shop, files) {
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

fn job_part(reader: &mut Reader, text: &JobPartText, at: &At, shop: &Arc<Shop>, files: &dyn FileReader) -> Option<JobPart> {
    let file_at = at.key("file");
    let beside = reader.map.source().name.clone();
    let part = match files.read(&beside, &text.file.0) {
        Ok(bytes) => match read_part(&files.full_name(&beside, &text.file.0), bytes, Some(shop), files) {
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

fn stock(reader: &mut Reader, texts: &[SheetText], at: &At, shop: &Shop, files: &dyn FileReader) -> Option<Vec<StockSheet>> {
    let mut all = Vec::new();
    let mut whole = true;
    for (i, text) in texts.iter().enumerate() {
        let at = at.item(i);
        let more = match &text.file {
            Some(name) => listed_stock(reader, text, name, &at, shop, files),
            None => stock_sheet(reader, text, &at, shop, files).map(|sheet| vec![sheet]),
        };
        match more {
            Some(more) => all.extend(more),
            None => whole = false,
        }
    }
    whole.then_some(all)
}

/// The stock that another file lists, such as the remnants that an earlier job wrote.
fn listed_stock(
    reader: &mut Reader,
    text: &SheetText,
    name: &Name,
    at: &At,
    shop: &Shop,
    files: &dyn FileReader,
) -> Option<Vec<StockSheet>> {
    let alone = SheetText { file: Some(name.clone()), ..SheetText::default() };
    if *text != alone {
        let help = "drop the other keys: the file says what its sheets are";
        return reader.refuse(at, Code::Choice, "a `file` of stock stands alone", help);
    }
    let beside = reader.map.source().name.clone();
    let read = files.read(&beside, &name.0);
    let bytes = match read {
        Ok(bytes) => bytes,
        Err(problem) => return reader.refuse(&at.key("file"), problem.code, problem.message, problem.help),
    };
    match read_stock(&files.full_name(&beside, &name.0), bytes, shop, files) {
        Ok(stock) => Some(stock),
        Err(problems) => {
            let new: Vec<_> = problems.into_iter().filter(|problem| !reader.problems.contains(problem)).collect();
            reader.problems.extend(new);
            None
        }
    }
}

/// Reads a file that lists stock; such a file names no further one.
fn read_stock(name: &str, bytes: Vec<u8>, shop: &Shop, files: &dyn FileReader) -> Checked<Vec<StockSheet>> {
    let source = text_of(name, bytes).map_err(|problem| vec![problem])?;
    let (text, map) = decode::<StockText>(&source, FileKind::Stock)?;
    let mut reader = Reader::new(&map);
    reader.read_units(text.units.as_ref());
    let root = At::default().key("sheets");
    let mut all = Vec::new();
    for (i, sheet) in text.sheets.iter().enumerate() {
        let at = root.item(i);
        if sheet.file.is_some() {
            let help = "list that file in the job itself";
            reader.refuse::<()>(&at.key("file"), Code::Choice, "a list of stock names no other list", help);
        } else {
            all.extend(stock_sheet(&mut reader, sheet, &at, shop, files));
        }
    }
    if reader.problems.is_empty() { Ok(all) } else { Err(reader.problems) }
}

fn stock_sheet(reader: &mut Reader, text: &SheetText, at: &At, shop: &Shop, files: &dyn FileReader) -> Option<StockSheet> {
    let (Some(metal), Some(thickness)) = (&text.material, &text.thickness) else {
        for (key, there) in [("material", text.material.is_some()), ("thickness", text.thickness.is_some())] {
            if !there {
                let message = format!("this stock needs `{key}`");
                reader.refuse::<()>(at, Code::MissingKey, message, format!("add `{key}:`"));
            }
        }
        return None;
    };
    let metal = material(reader, &Name(metal.0.clone()), &at.key("material"), shop);
    let thickness = metal.as_ref().and_then(|m| reader.thickness(thickness, &at.key("thickness"), m.gauge_family));
    let shape = match (&text.size, &text.remnant, &text.roll) {
        (Some(size), None, None) => {
            let along = reader.length(&size[0], &at.key("size").item(0), Allowed::Positive);
            let across = reader.length(&size[1], &at.key("size").item(1), Allowed::Positive);
            StockShape::Sheet(along?, across?)
        }
        (None, Some(outline), None) => {
            let outline = reader.outline(outline, &at.key("remnant"), files)?;
            let arcs = outline.sides.to_polyarc(CURVE_TO_ARCS);
            let openings_at = at.key("openings");
            let mut openings = Vec::new();
            for (i, opening) in text.openings.iter().flatten().enumerate() {
                let opening = reader.outline(opening, &openings_at.item(i), files)?.sides;
                if !inside(&arcs, &opening.to_polyarc(CURVE_TO_ARCS)) {
                    let message = "this opening reaches outside the remnant";
                    return reader.refuse(
                        &openings_at.item(i),
                        Code::OpeningOutside,
                        message,
                        "make it part of the remnant's outline",
                    );
                }
                openings.push(opening);
            }
            StockShape::Remnant(Box::new(outline), openings)
        }
        (None, None, Some(roll)) => {
            StockShape::Roll(reader.length(&roll.width, &at.key("roll").key("width"), Allowed::Positive)?)
        }
        _ => {
            return reader.refuse(
                at,
                Code::Choice,
                "stock is a sheet, a remnant or a roll",
                "give exactly one of `size`, `remnant`, `roll`, or a `file` that lists such",
            );
        }
    };
    if text.openings.is_some() && text.remnant.is_none() {
        return reader.refuse(
            &at.key("openings"),
            Code::Choice,
            "only a remnant has openings in it",
            "describe this sheet as a `remnant`",
        );
    }
    let price = match text.price {
        Some(price) if price < 0.0 || !price.is_finite() => {
            return reader.refuse(&at.key("price"), Code::OutOfRange, format!("{price} is no price"), "give 0 or more");
        }
        price => price,
    };
    let count = match (text.count, &shape) {
        (Some(0), _) => {
            return reader.refuse(
                &at.key("count"),
                Code::OutOfRange,
                "there are none of this sheet",
                "drop it, or give its count",
            );
        }
        (Some(count), _) => Some((count as usize).min(MOST_COPIES)),
        (None, StockShape::Sheet(..)) => None,
        (None, _) => Some(1),
    };
    Some(StockSheet { shape, material: metal?.name, thickness: thickness?, count, price, place: reader.place(at) })
}
