//! Parts: what every kind has, and the table of the kinds.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::Deserialize;

use super::allowance::{AllowanceText, bend_rule};
use super::bent::BentText;
use super::buck::BuckText;
use super::folded::FoldedText;
use super::half_shell::HalfShellText;
use super::plate::PlateText;
use super::shop_file::named_shop;
use super::yaml::{
    At, FileKind, FileReader, Name, Quantity, Read, Reader, Size, WordOr, read_length, suggestion,
};
use crate::part::{Bent, Folded, Grain, HalfShell, Kind, Part, Plate, Shop};
use crate::problem::{Checked, Code};
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

/// The description of one kind of part: what stands under its key.
pub(super) trait KindText {
    /// Makes the part's kind of it. `part` is the description around it.
    fn resolve(
        &self,
        reader: &mut Reader,
        at: &At,
        part: &PartText,
        sheet: &SheetAtHand,
    ) -> Read<Kind>;
}

impl PartText {
    /// The kinds of part: the key of each, and what stands under it.
    fn kinds(&self) -> [(&'static str, Option<&dyn KindText>); 4] {
        fn entry<T: KindText>(text: Option<&T>) -> Option<&dyn KindText> {
            text.map(|text| text as &dyn KindText)
        }
        [
            (Plate::NAME, entry(self.plate.as_ref())),
            (HalfShell::NAME, entry(self.half_shell.as_ref())),
            (Bent::NAME, entry(self.bent.as_ref())),
            (Folded::NAME, entry(self.folded.as_ref())),
        ]
    }
}

/// Reads a part from the bytes of its file. `shop` is the shop named on the command line or by the
/// job; the part's own comes first.
pub fn read_part(
    name: &str,
    bytes: Vec<u8>,
    shop: Option<&Arc<Shop>>,
    files: &dyn FileReader,
) -> Checked<Part> {
    let (text, mut reader) = Reader::open::<PartText>(name, bytes, FileKind::Part, files)?;
    let part = part(&mut reader, &text, shop, TabSlots::Read);
    let (part, assumed) = reader.finish(part)?;
    Ok(Part { assumed, ..part })
}

/// What the shape of a part must know of the sheet that it is made of.
#[derive(Debug, Clone)]
pub(super) struct SheetAtHand {
    pub(super) shop: Arc<Shop>,
    pub(super) thickness: Length,
    /// Refused where another thickness stands in for one that the file does not tell: nothing can
    /// be said then of what has room in the sheet.
    pub(super) thickness_known: Read<()>,
    /// Width of the cut: the shop's, or the usual one.
    pub(super) kerf: Length,
    pub(super) tab_slots: TabSlots,
}

/// Whether slots for another part's tabs are read: that part may in turn have slots for this one's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum TabSlots {
    Read,
    PassedOver,
}

/// The shop, the metal and the thickness of a part; the first step of reading one.
pub(super) fn sheet_of(
    reader: &mut Reader,
    text: &PartText,
    shop: Option<&Arc<Shop>>,
) -> Read<(Arc<Shop>, Read<Material>, Read<Length>)> {
    let root = At::default();
    reader.read_units(text.units.as_ref());
    reader.stands(&root.key("shop"))?;
    let shop = match (&text.shop, shop) {
        (Some(own), _) => named_shop(reader, own, &root.key("shop"))?,
        (None, Some(shop)) => Arc::clone(shop),
        (None, None) => Arc::new(Shop::default()),
    };
    let material = material(reader, &text.material, &root.key("material"), &shop);
    let thickness = match &material {
        // Without its metal a gauge is no thickness; anything else is looked at all the same.
        Err(refused)
            if matches!(read_length(&text.thickness, reader.unit()), Ok(Size::Gauge(_))) =>
        {
            Err(*refused)
        }
        material => {
            let family = material.as_ref().ok().and_then(|material| material.gauge_family);
            reader.thickness(&text.thickness, &root.key("thickness"), family)
        }
    };
    Ok((shop, material, thickness))
}

pub(super) fn part(
    reader: &mut Reader,
    text: &PartText,
    shop: Option<&Arc<Shop>>,
    tab_slots: TabSlots,
) -> Read<Part> {
    let root = At::default();
    let name = reader.file_name(&text.part, &root.key("part"), "its files are");
    let (shop, material, thickness) = sheet_of(reader, text, shop)?;
    let grains = [("along", Grain::Along), ("across", Grain::Across), ("any", Grain::Any)];
    let grain = reader.word_or(text.grain.as_ref(), &root.key("grain"), &grains, Grain::Any);
    let tolerance =
        grain_tolerance(reader, text.grain_tolerance.as_ref(), grain, &root.key("grain_tolerance"));
    let rule_at = root.key("bend_allowance");
    let bend_rule = match &material {
        Ok(material) => bend_rule(reader, text.bend_allowance.as_ref(), &rule_at, material, &shop),
        Err(refused) => Err(*refused),
    };
    // An unknown thickness is an error already; any other one will do to look for more.
    let some_thickness = thickness.unwrap_or(Length::from_mm(1.0));
    let family = material.as_ref().ok().and_then(|material| material.gauge_family);
    let usual = || usual_kerf(some_thickness, family).map_or(some_thickness, |figure| figure.value);
    let kerf = shop.cutting.kerf.filter(|kerf| *kerf > Length::ZERO).unwrap_or_else(usual);
    let mended =
        ["thickness", "material", "units"].iter().try_for_each(|key| reader.stands(&root.key(key)));
    let thickness_known = thickness.map(|_| ()).or(mended);
    let sheet = SheetAtHand {
        shop: Arc::clone(&shop),
        thickness: some_thickness,
        thickness_known,
        kerf,
        tab_slots,
    };
    let kind = kind(reader, text, &sheet);
    if text.buck.is_some() && kind.as_ref().is_ok_and(|kind| !kind.has_buck()) {
        reader.refuse(
            &root.key("buck"),
            Code::Choice,
            "only a half_shell has a buck",
            "drop `buck`",
        );
    }
    Ok(Part {
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
pub(super) fn material(reader: &mut Reader, name: &Name, at: &At, shop: &Shop) -> Read<Material> {
    reader.stands(at)?;
    let own = shop.materials.iter().find(|material| material.name == name.0);
    if let Some(material) = own.or(Material::named(&name.0)) {
        return Ok(material.clone());
    }
    let known: Vec<&str> = shop
        .materials
        .iter()
        .chain(Material::built_in())
        .map(|material| material.name.as_str())
        .collect();
    let message = format!("`{}` is not a material known here", name.0);
    Err(reader.refuse(at, Code::UnknownName, message, suggestion(&name.0, &known)))
}

/// How far the rolling direction may be off, which only makes sense where it is asked for.
fn grain_tolerance(
    reader: &mut Reader,
    tolerance: Option<&Quantity>,
    grain: Read<Grain>,
    at: &At,
) -> Read<Angle> {
    let Some(tolerance) = tolerance else { return Ok(Angle::ZERO) };
    if grain == Ok(Grain::Any) {
        let help = "give `grain: along` or `grain: across`, or drop it";
        return Err(reader.refuse(
            at,
            Code::Choice,
            "a tolerance of the grain needs a grain to hold to",
            help,
        ));
    }
    reader.angle(tolerance, at, 0.0, MOST_GRAIN_TOLERANCE_DEG)
}

/// What the part is, of which its description must have one.
fn kind(reader: &mut Reader, text: &PartText, sheet: &SheetAtHand) -> Read<Kind> {
    let root = At::default();
    let kinds = text.kinds();
    let given: Vec<(&str, &dyn KindText)> =
        kinds.iter().filter_map(|(name, text)| text.map(|text| (*name, text))).collect();
    let (at, message) = match given.as_slice() {
        [(name, shape)] => return shape.resolve(reader, &root.key(name), text, sheet),
        [] => (root.key("part"), "this part has no shape".to_owned()),
        [_, (second, _), ..] => {
            let names: Vec<&str> = given.iter().map(|(name, _)| *name).collect();
            (
                root.key(second),
                format!("this part has {} shapes: {}", names.len(), names.join(", ")),
            )
        }
    };
    let help = format!("give exactly one of {}", kinds.map(|(name, _)| name).join(", "));
    Err(reader.refuse(&at, Code::Choice, message, help))
}

/// Reads something of another part's file; what is wrong with that file is told once.
pub(super) fn other_part<T>(
    reader: &mut Reader,
    name: &Name,
    at: &At,
    read: impl FnOnce(&mut Reader, &PartText) -> Read<T>,
) -> Read<T> {
    let (bytes, full_name) = reader.file(name, at)?;
    let found = Reader::open::<PartText>(&full_name, bytes, FileKind::Part, reader.files())
        .and_then(|(text, mut other)| {
            let found = read(&mut other, &text);
            other.finish(found)
        });
    reader.adopt(found).map(|(found, _)| found)
}
