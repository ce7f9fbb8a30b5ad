//! Stock: sheets, remnants and rolls, in a job or in a list of their own.

use schemars::JsonSchema;
use serde::Deserialize;

use super::outline::{OutlineText, outline};
use super::part::material;
use super::yaml::{Allowed, At, FileKind, FileReader, Name, PointText, Quantity, Read, Reader};
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

/// The stock of a job.
pub(super) fn stock(
    reader: &mut Reader,
    texts: Option<&[SheetText]>,
    at: &At,
    shop: &Shop,
) -> Read<Vec<StockSheet>> {
    let all = reader.list(texts, at, |reader, text, at| match &text.file {
        Some(name) => listed_stock(reader, text, name, at, shop),
        None => stock_sheet(reader, text, at, shop).map(|sheet| vec![sheet]),
    });
    Ok(all?.concat())
}

/// The stock that another file lists, such as the remnants that an earlier job wrote.
fn listed_stock(
    reader: &mut Reader,
    text: &SheetText,
    name: &Name,
    at: &At,
    shop: &Shop,
) -> Read<Vec<StockSheet>> {
    let alone = SheetText { file: Some(name.clone()), ..SheetText::default() };
    if *text != alone {
        let help = "drop the other keys: the file says what its sheets are";
        return Err(reader.refuse(at, Code::Choice, "a `file` of stock stands alone", help));
    }
    let (bytes, full_name) = reader.file(name, &at.key("file"))?;
    let stock = read_stock(&full_name, bytes, shop, reader.files());
    reader.adopt(stock)
}

/// Reads a file that lists stock; such a file names no further one.
fn read_stock(
    name: &str,
    bytes: Vec<u8>,
    shop: &Shop,
    files: &dyn FileReader,
) -> Checked<Vec<StockSheet>> {
    let (text, mut reader) = Reader::open::<StockText>(name, bytes, FileKind::Stock, files)?;
    reader.read_units(text.units.as_ref());
    let all = reader.list(Some(&text.sheets), &At::default().key("sheets"), |reader, sheet, at| {
        if sheet.file.is_some() {
            let help = "list that file in the job itself";
            return Err(reader.refuse(
                &at.key("file"),
                Code::Choice,
                "a list of stock names no other list",
                help,
            ));
        }
        stock_sheet(reader, sheet, at, shop)
    });
    reader.finish(all).map(|(all, _)| all)
}

fn stock_sheet(reader: &mut Reader, text: &SheetText, at: &At, shop: &Shop) -> Read<StockSheet> {
    let mut missing = |key: &str| {
        reader.refuse(
            at,
            Code::MissingKey,
            format!("this stock needs `{key}`"),
            format!("add `{key}:`"),
        )
    };
    let metal = text.material.as_ref().ok_or_else(|| missing("material"));
    let thickness = text.thickness.as_ref().ok_or_else(|| missing("thickness"));
    let (metal, thickness) = (metal?, thickness?);
    let metal = material(reader, metal, &at.key("material"), shop);
    let thickness = match &metal {
        Ok(metal) => reader.thickness(thickness, &at.key("thickness"), metal.gauge_family),
        Err(refused) => Err(*refused),
    };
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
                    return Err(reader.refuse(
                        &openings_at.item(i),
                        Code::OpeningOutside,
                        message,
                        "make it part of the remnant's outline",
                    ));
                }
                openings.push(opening);
            }
            StockShape::Remnant(Box::new(remnant), openings)
        }
        (None, None, Some(roll)) => StockShape::Roll(reader.length(
            &roll.width,
            &at.key("roll").key("width"),
            Allowed::Positive,
        )?),
        _ => {
            return Err(reader.refuse(
                at,
                Code::Choice,
                "stock is a sheet, a remnant or a roll",
                "give exactly one of `size`, `remnant`, `roll`, or a `file` that lists such",
            ));
        }
    };
    if text.openings.is_some() && text.remnant.is_none() {
        return Err(reader.refuse(
            &at.key("openings"),
            Code::Choice,
            "only a remnant has openings in it",
            "describe this sheet as a `remnant`",
        ));
    }
    let price = match text.price {
        Some(price) if price < 0.0 || !price.is_finite() => {
            return Err(reader.refuse(
                &at.key("price"),
                Code::OutOfRange,
                format!("{price} is no price"),
                "give 0 or more",
            ));
        }
        price => price,
    };
    let count = match (text.count, &shape) {
        (Some(0), _) => {
            return Err(reader.refuse(
                &at.key("count"),
                Code::OutOfRange,
                "there are none of this sheet",
                "drop it, or give its count",
            ));
        }
        (Some(count), _) => Some((count as usize).min(MOST_COPIES)),
        (None, StockShape::Sheet(..)) => None,
        (None, _) => Some(1),
    };
    Ok(StockSheet {
        shape,
        material: metal?.name,
        thickness: thickness?,
        count,
        price,
        place: reader.place(at),
    })
}
