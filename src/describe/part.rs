//! Parts: what every kind has, and the table of the kinds.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::Deserialize;

use super::allowance::{AllowanceText, bend_rule};
use super::bent::{BentText, bent};
use super::buck::BuckText;
use super::folded::{FoldedText, folded};
use super::half_shell::{HalfShellText, half_shell};
use super::plate::{PlateText, plate};
use super::shop_file::named_shop;
use super::yaml::{At, FileKind, FileReader, Name, Quantity, Reader, Sized, WordOr, decode, read_length, suggestion, text_of};
use crate::part::{Grain, Kind, Part, Shop};
use crate::problem::{Checked, Code, Problem};
use crate::shop::kerf::usual_kerf;
use crate::shop::material::Material;
use crate::tolerance::MOST_GRAIN_TOLERANCE_DEG;
use crate::units::{Angle, Length};

/// The description of a part: its name, its sheet, and exactly one of `plate`, `half_shell`,
/// `bent` and `folded`.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PartText {
    /// The part's name; its files are named after it.
    pub part: Name,
    /// The unit of bare lengths in this file: mm or in.
    pub units: Option<Name>,
    /// The sheet's material, from the built-in table or the shop file.
    pub material: Name,
    /// The sheet's thickness: a length, or a gauge such as `16 ga`.
    pub thickness: Quantity,
    /// The shop file: materials, measured strips, tooling, limits.
    pub shop: Option<Name>,
    /// How the rolling direction must lie in the blank: along (x), across (y) or any.
    pub grain: Option<Name>,
    /// How many degrees the rolling direction may be off that, either way; 0 by default, 15 at most.
    pub grain_tolerance: Option<Quantity>,
    /// The bend allowance rule: din-6935 (default), faa, {handbook: 0.55 | 0.64 | 0.71}, {`k_factor`: 0.44} or strips.
    pub bend_allowance: Option<WordOr<AllowanceText>>,
    /// A part that is cut and left flat.
    pub plate: Option<PlateText>,
    /// A part that is hammered over a buck.
    pub half_shell: Option<HalfShellText>,
    /// A part bent from one section.
    pub bent: Option<BentText>,
    /// A panel with flanges on its edges.
    pub folded: Option<FoldedText>,
    /// The form block of a half-shell.
    pub buck: Option<BuckText>,
}

/// Reads a part from the bytes of its file. `shop` is the shop named on the command line or by the job; the part's own comes first.
pub fn read_part(name: &str, bytes: Vec<u8>, shop: Option<&Arc<Shop>>, files: &dyn FileReader) -> Checked<Part> {
    let source = text_of(name, bytes).map_err(|problem| vec![problem])?;
    let (text, map) = decode::<PartText>(&source, FileKind::Part)?;
    let mut reader = Reader::new(&map, files);
    match part(&mut reader, &text, shop) {
        Some(part) if reader.problems.is_empty() => Ok(Part { assumed: reader.assumed, ..part }),
        _ if reader.problems.is_empty() => {
            let message = "this part cannot be read, for a reason that the program does not know";
            Err(vec![Problem::new(Code::File, message, "please report it, with this file").at(map.value(""))])
        }
        _ => Err(reader.problems),
    }
}

/// What a reader knows of the sheet that it reads a part of, for tabs and slots.
#[derive(Debug, Clone)]
pub(super) struct SheetAtHand {
    pub(super) shop: Arc<Shop>,
    pub(super) thickness: Length,
    /// Width of the cut: the shop's, or the usual one.
    pub(super) kerf: Length,
}

/// The shop, the metal and the thickness of a part; the first step of reading one.
pub(super) fn sheet_of(
    reader: &mut Reader,
    text: &PartText,
    shop: Option<&Arc<Shop>>,
) -> Option<(Arc<Shop>, Option<Material>, Option<Length>)> {
    let root = At::default();
    reader.read_units(text.units.as_ref());
    let shop = match (&text.shop, shop) {
        (Some(own), _) => named_shop(reader, own, &root.key("shop"))?,
        (None, Some(shop)) => Arc::clone(shop),
        (None, None) => Arc::new(Shop::default()),
    };
    let material = material(reader, &text.material, &root.key("material"), &shop);
    let family = material.as_ref().and_then(|material| material.gauge_family);
    // Without its metal a gauge is no thickness; anything else is looked at all the same.
    let is_gauge = matches!(read_length(&text.thickness, reader.unit), Ok(Sized::Gauge(_)));
    let thickness =
        if material.is_none() && is_gauge { None } else { reader.thickness(&text.thickness, &root.key("thickness"), family) };
    Some((shop, material, thickness))
}

pub(super) fn part(reader: &mut Reader, text: &PartText, shop: Option<&Arc<Shop>>) -> Option<Part> {
    let root = At::default();
    let name = reader.file_name(&text.part, &root.key("part"), "its files are");
    let (shop, material, thickness) = sheet_of(reader, text, shop)?;
    let grain = match &text.grain {
        Some(word) => {
            let known = [("along", Grain::Along), ("across", Grain::Across), ("any", Grain::Any)];
            reader.word(&word.0, &root.key("grain"), &known)
        }
        None => Some(Grain::Any),
    };
    let tolerance = grain_tolerance(reader, text.grain_tolerance.as_ref(), grain, &root.key("grain_tolerance"));
    let bend_rule =
        material.as_ref().and_then(|m| bend_rule(reader, text.bend_allowance.as_ref(), &root.key("bend_allowance"), m, &shop));
    // An unknown thickness is an error already; any other one will do to look for more.
    let some_thickness = thickness.unwrap_or(Length::from_mm(1.0));
    let family = material.as_ref().and_then(|material| material.gauge_family);
    let usual = || usual_kerf(some_thickness, family).map_or(some_thickness, |figure| figure.value);
    let kerf = shop.cutting.kerf.filter(|kerf| *kerf > Length::ZERO).unwrap_or_else(usual);
    reader.sheet = Some(SheetAtHand { shop: Arc::clone(&shop), thickness: some_thickness, kerf });
    let kind = kind(reader, text, some_thickness);
    if text.buck.is_some() && !matches!(kind, None | Some(Kind::HalfShell(_))) {
        reader.refuse::<()>(&root.key("buck"), Code::Choice, "only a half_shell has a buck", "drop `buck`");
    }
    Some(Part {
        name: text.part.0.clone(),
        file_name: name,
        unit: reader.shown_unit(),
        material: material?,
        thickness: thickness?,
        grain: grain?,
        grain_tolerance: tolerance?,
        bend_rule: bend_rule?,
        kind: kind?,
        shop,
        assumed: Vec::new(),
        place: reader.place(&root.key("part")),
    })
}

/// The material of that name, the shop's own first.
pub(super) fn material(reader: &mut Reader, name: &Name, at: &At, shop: &Shop) -> Option<Material> {
    if let Some(own) = shop.materials.iter().find(|material| material.name == name.0) {
        return Some(own.clone());
    }
    match Material::named(&name.0) {
        Ok(material) => Some(material.clone()),
        Err(_) => {
            let own = shop.materials.iter().map(|m| m.name.as_str());
            let known: Vec<&str> = own.chain(Material::built_in().iter().map(|m| m.name.as_str())).collect();
            reader.refuse(
                at,
                Code::UnknownName,
                format!("`{}` is not a material known here", name.0),
                suggestion(&name.0, &known),
            )
        }
    }
}

/// How far the rolling direction may be off, which only makes sense where it is asked for.
fn grain_tolerance(reader: &mut Reader, tolerance: Option<&Quantity>, grain: Option<Grain>, at: &At) -> Option<Angle> {
    let Some(tolerance) = tolerance else { return Some(Angle::from_degrees(0.0)) };
    if grain == Some(Grain::Any) {
        let help = "give `grain: along` or `grain: across`, or drop it";
        return reader.refuse(at, Code::Choice, "a tolerance of the grain needs a grain to hold to", help);
    }
    reader.angle(tolerance, at, 0.0, MOST_GRAIN_TOLERANCE_DEG)
}

fn kind(reader: &mut Reader, text: &PartText, thickness: Length) -> Option<Kind> {
    let root = At::default();
    let given = [
        ("plate", text.plate.is_some()),
        ("half_shell", text.half_shell.is_some()),
        ("bent", text.bent.is_some()),
        ("folded", text.folded.is_some()),
    ];
    let names: Vec<&str> = given.iter().filter(|(_, is)| *is).map(|(name, _)| *name).collect();
    let [name] = names.as_slice() else {
        let at = names.get(1).map_or(root.key("part"), |name| root.key(name));
        let message = if names.is_empty() {
            "this part has no shape".to_owned()
        } else {
            format!("this part has {} shapes: {}", names.len(), names.join(", "))
        };
        return reader.refuse(&at, Code::Choice, message, "give exactly one of plate, half_shell, bent, folded");
    };
    let at = root.key(name);
    if let Some(text) = &text.plate {
        return plate(reader, text, &at).map(Kind::Plate);
    }
    if let Some(shell) = &text.half_shell {
        let shell = half_shell(reader, shell, text.buck.as_ref(), &at, thickness);
        return shell.map(|shell| Kind::HalfShell(Box::new(shell)));
    }
    if let Some(text) = &text.bent {
        return bent(reader, text, &at, thickness).map(Kind::Bent);
    }
    let text = text.folded.as_ref()?;
    folded(reader, text, &at, thickness).map(|folded| Kind::Folded(Box::new(folded)))
}

/// Reads something of another part's file; what is wrong with that file is told once.
pub(super) fn other_part<T>(
    reader: &mut Reader,
    name: &Name,
    at: &At,

    read: impl FnOnce(&mut Reader, &PartText) -> Option<T>,
) -> Option<T> {
    let beside = reader.map.source().name.clone();
    let bytes = match reader.files.read(&beside, &name.0) {
        Ok(bytes) => bytes,
        Err(problem) => return reader.refuse(at, problem.code, problem.message, problem.help),
    };
    let result: Checked<T> = text_of(&reader.files.full_name(&beside, &name.0), bytes)
        .map_err(|problem| vec![problem])
        .and_then(|source| decode::<PartText>(&source, FileKind::Part))
        .and_then(|(text, map)| {
            let mut other = Reader::new(&map, reader.files);
            match read(&mut other, &text) {
                Some(found) if other.problems.is_empty() => Ok(found),
                _ if other.problems.is_empty() => {
                    let message = "this part cannot be read, for a reason that the program does not know";
                    Err(vec![Problem::new(Code::File, message, "please report it, with this file").at(map.value(""))])
                }
                _ => Err(other.problems),
            }
        });
    match result {
        Ok(found) => Some(found),
        Err(problems) => {
            let new: Vec<_> = problems.into_iter().filter(|problem| !reader.problems.contains(problem)).collect();
            reader.problems.extend(new);
            None
        }
    }
}
