//! Stock: sheets, remnants and rolls, in a job or in a list of their own.

use schemars::JsonSchema;
use serde::Deserialize;

use super::outline::{OutlineText, outline};
use super::part::material;
use super::yaml::{Allowed, At, FileKind, FileReader, Name, PointText, Quantity, Reader, decode, text_of};
use crate::part::{Shop, StockShape, StockSheet};
use crate::problem::{Checked, Code};
use crate::tolerance::{CURVE_TO_ARCS, MOST_COPIES};

/// Stock: a sheet, a remnant, a roll, or a file that lists such.
#[derive(Debug, Clone, PartialEq, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SheetText {
    /// Length along the grain and width of a rectangular sheet.
    pub size: Option<PointText>,
    /// The outline of an offcut.
    pub remnant: Option<OutlineText>,
    /// Openings already cut in an offcut.
    pub openings: Option<Vec<OutlineText>>,
    /// Sheet off a roll, of which as short a length is taken as will do.
    pub roll: Option<RollText>,
    /// A file that lists remnants or sheets, such as an earlier job wrote; it stands alone.
    pub file: Option<Name>,
    /// The stock's material, from the built-in table or the shop file; every stock but a `file`
    /// needs it.
    pub material: Option<Name>,
    /// The stock's thickness: a length of 0.1 to 25 mm, or a gauge such as `16 ga`; every stock
    /// but a `file` needs it.
    pub thickness: Option<Quantity>,
    /// How many there are; of sheets as many as needed by default, of remnants and rolls one.
    pub count: Option<u32>,
    /// What one costs, in any money.
    pub price: Option<f64>,
}

/// Sheet off a roll, unrolled along x, its grain along x.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RollText {
    /// The roll's width, along y: a length above 0.
    pub width: Quantity,
}

/// A file that lists stock: what an earlier job left.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct StockText {
    /// The unit of bare lengths in this file: mm or in.
    pub units: Option<Name>,
    /// The stock that this file lists: sheets, remnants and rolls, but no further file.
    pub sheets: Vec<SheetText>,
}

pub(super) fn stock(reader: &mut Reader, texts: &[SheetText], at: &At, shop: &Shop) -> Option<Vec<StockSheet>> {
    let mut all = Vec::new();
    let mut whole = true;
    for (i, text) in texts.iter().enumerate() {
        let at = at.item(i);
        let more = match &text.file {
            Some(name) => listed_stock(reader, text, name, &at, shop),
            None => stock_sheet(reader, text, &at, shop).map(|sheet| vec![sheet]),
        };
        match more {
            Some(more) => all.extend(more),
            None => whole = false,
        }
    }
    whole.then_some(all)
}

/// The stock that another file lists, such as the remnants that an earlier job wrote.
fn listed_stock(reader: &mut Reader, text: &SheetText, name: &Name, at: &At, shop: &Shop) -> Option<Vec<StockSheet>> {
    let alone = SheetText { file: Some(name.clone()), ..SheetText::default() };
    if *text != alone {
        let help = "drop the other keys: the file says what its sheets are";
        return reader.refuse(at, Code::Choice, "a `file` of stock stands alone", help);
    }
    let beside = reader.map.source().name.clone();
    let read = reader.files.read(&beside, &name.0);
    let bytes = match read {
        Ok(bytes) => bytes,
        Err(problem) => return reader.refuse(&at.key("file"), problem.code, problem.message, problem.help),
    };
    match read_stock(&reader.files.full_name(&beside, &name.0), bytes, shop, reader.files) {
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
    let mut reader = Reader::new(&map, files);
    reader.read_units(text.units.as_ref());
    let root = At::default().key("sheets");
    let mut all = Vec::new();
    for (i, sheet) in text.sheets.iter().enumerate() {
        let at = root.item(i);
        if sheet.file.is_some() {
            let help = "list that file in the job itself";
            reader.refuse::<()>(&at.key("file"), Code::Choice, "a list of stock names no other list", help);
        } else {
            all.extend(stock_sheet(&mut reader, sheet, &at, shop));
        }
    }
    if reader.problems.is_empty() { Ok(all) } else { Err(reader.problems) }
}

fn stock_sheet(reader: &mut Reader, text: &SheetText, at: &At, shop: &Shop) -> Option<StockSheet> {
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
        (None, Some(remnant), None) => {
            let remnant = outline(reader, remnant, &at.key("remnant"))?;
            let arcs = remnant.sides.to_polyarc(CURVE_TO_ARCS);
            let openings_at = at.key("openings");
            let mut openings = Vec::new();
            for (i, opening) in text.openings.iter().flatten().enumerate() {
                let opening = outline(reader, opening, &openings_at.item(i))?.sides;
                if !arcs.encloses(&opening.to_polyarc(CURVE_TO_ARCS)) {
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
            StockShape::Remnant(Box::new(remnant), openings)
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
