//! The description files as they are written: what serde reads, and what the JSON Schema is made from.
//!
//! Nothing is resolved here: lengths have no unit yet, names point at nothing. `describe::resolve` makes a [`crate::part::Part`] of it.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde::de::{self, Deserializer};

use super::folded::FoldedText;
use super::joggle::JoggleText;
use super::tab_slots::TabSlotsText;
use super::tabs::TabsText;
use super::yaml::quantity::Quantity;
use crate::tolerance::LONGEST_WORD;

/// The error for a text longer than any name or quantity.
pub(super) fn too_long<E: de::Error>(value: &str, expected: &dyn de::Expected) -> E {
    let found = format!("a text of {} letters, more than {LONGEST_WORD},", value.chars().count());
    E::invalid_value(de::Unexpected::Other(&found), expected)
}

/// A name; a number is read as one.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Name(pub String);

impl<'de> Deserialize<'de> for Name {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;
        impl de::Visitor<'_> for Visitor {
            type Value = Name;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a name")
            }
            fn visit_str<E: de::Error>(self, value: &str) -> Result<Name, E> {
                if value.len() > LONGEST_WORD {
                    return Err(too_long(value, &self));
                }
                Ok(Name(value.to_owned()))
            }
            fn visit_u64<E>(self, value: u64) -> Result<Name, E> {
                Ok(Name(value.to_string()))
            }
            fn visit_i64<E>(self, value: i64) -> Result<Name, E> {
                Ok(Name(value.to_string()))
            }
            fn visit_f64<E>(self, value: f64) -> Result<Name, E> {
                Ok(Name(value.to_string()))
            }
        }
        deserializer.deserialize_any(Visitor)
    }
}

impl JsonSchema for Name {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        "Name".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": ["string", "number"] })
    }
}

/// Either one word (or number) or a map of keys.
#[derive(Debug, Clone, PartialEq)]
pub enum WordOr<T> {
    /// One word or number, as written: what stands for the whole without any keys.
    Word(Quantity),
    /// A map of keys.
    Keys(T),
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for WordOr<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor<T>(std::marker::PhantomData<T>);
        impl<'de, T: Deserialize<'de>> de::Visitor<'de> for Visitor<T> {
            type Value = WordOr<T>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a word, a number or a map of keys")
            }
            fn visit_str<E: de::Error>(self, value: &str) -> Result<Self::Value, E> {
                if value.len() > LONGEST_WORD {
                    return Err(too_long(value, &self));
                }
                Ok(WordOr::Word(Quantity::Text(value.to_owned())))
            }
            fn visit_u64<E>(self, value: u64) -> Result<Self::Value, E> {
                Ok(WordOr::Word(Quantity::Number(value as f64)))
            }
            fn visit_i64<E>(self, value: i64) -> Result<Self::Value, E> {
                Ok(WordOr::Word(Quantity::Number(value as f64)))
            }
            fn visit_f64<E>(self, value: f64) -> Result<Self::Value, E> {
                Ok(WordOr::Word(Quantity::Number(value)))
            }
            fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
                T::deserialize(de::value::MapAccessDeserializer::new(map)).map(WordOr::Keys)
            }
        }
        deserializer.deserialize_any(Visitor(std::marker::PhantomData))
    }
}

impl<T: JsonSchema> JsonSchema for WordOr<T> {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        format!("WordOr{}", T::schema_name()).into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let keys = generator.subschema_for::<T>();
        json_schema!({ "anyOf": [{ "type": ["string", "number"] }, keys] })
    }
}

/// Either a list or a map of keys.
#[derive(Debug, Clone, PartialEq)]
pub enum ListOr<L, T> {
    /// A list of such items, in the file's order.
    List(Vec<L>),
    /// A map of keys, or a bare value.
    One(T),
}

impl<'de, L: Deserialize<'de>, T: Deserialize<'de> + FromWord> Deserialize<'de> for ListOr<L, T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor<L, T>(std::marker::PhantomData<(L, T)>);
        impl<'de, L: Deserialize<'de>, T: Deserialize<'de> + FromWord> de::Visitor<'de> for Visitor<L, T> {
            type Value = ListOr<L, T>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(T::EXPECTED)
            }
            fn visit_str<E: de::Error>(self, value: &str) -> Result<Self::Value, E> {
                if value.len() > LONGEST_WORD {
                    return Err(too_long(value, &self));
                }
                let word = T::from_word(Quantity::Text(value.to_owned()));
                word.map(ListOr::One).ok_or_else(|| E::invalid_value(de::Unexpected::Str(value), &self))
            }
            fn visit_u64<E: de::Error>(self, value: u64) -> Result<Self::Value, E> {
                let word = T::from_word(Quantity::Number(value as f64));
                word.map(ListOr::One).ok_or_else(|| E::invalid_type(de::Unexpected::Unsigned(value), &self))
            }
            fn visit_i64<E: de::Error>(self, value: i64) -> Result<Self::Value, E> {
                let word = T::from_word(Quantity::Number(value as f64));
                word.map(ListOr::One).ok_or_else(|| E::invalid_type(de::Unexpected::Signed(value), &self))
            }
            fn visit_f64<E: de::Error>(self, value: f64) -> Result<Self::Value, E> {
                let word = T::from_word(Quantity::Number(value));
                word.map(ListOr::One).ok_or_else(|| E::invalid_type(de::Unexpected::Float(value), &self))
            }
            fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
                T::deserialize(de::value::MapAccessDeserializer::new(map)).map(ListOr::One)
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, seq: A) -> Result<Self::Value, A::Error> {
                Vec::deserialize(de::value::SeqAccessDeserializer::new(seq)).map(ListOr::List)
            }
        }
        deserializer.deserialize_any(Visitor(std::marker::PhantomData))
    }
}

impl<L: JsonSchema, T: JsonSchema> JsonSchema for ListOr<L, T> {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        format!("ListOr{}{}", L::schema_name(), T::schema_name()).into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let (list, one) = (generator.subschema_for::<Vec<L>>(), generator.subschema_for::<T>());
        json_schema!({ "anyOf": [list, one] })
    }
}

/// What a bare word means where a list or a map may stand.
pub trait FromWord: Sized {
    /// What belongs here, for the error.
    const EXPECTED: &'static str;
    /// The value that the word stands for, if it may stand here.
    fn from_word(word: Quantity) -> Option<Self>;
}

impl FromWord for Quantity {
    const EXPECTED: &'static str = "a quantity, a word or a list";
    fn from_word(word: Quantity) -> Option<Self> {
        Some(word)
    }
}

/// A point `[x, y]`.
pub type PointText = [Quantity; 2];

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

/// A bend allowance rule with a figure.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AllowanceText {
    /// Handbook rule: 0.55 (soft brass, copper), 0.64 (soft steel, aluminium) or 0.71 (hard and spring metals).
    pub handbook: Option<f64>,
    /// K as the fraction of the full thickness from the inside face, 0.2 to 0.5.
    pub k_factor: Option<f64>,
}

/// A closed outline; exactly one of its keys.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OutlineText {
    /// An upright rectangle: its width along x, its height along y.
    pub rectangle: Option<RectangleText>,
    /// A circle, given by its diameter and its centre.
    pub circle: Option<CircleText>,
    /// A slot with round ends.
    pub slot: Option<SlotText>,
    /// Lines, arcs and curves walked once round.
    pub path: Option<Vec<PathItemText>>,
    /// A line with a width.
    pub centreline: Option<CentrelineText>,
    /// SVG path data of one closed outline, in the file's unit.
    pub svg: Option<SvgText>,
    /// A closed outline out of a DXF or SVG file beside this one.
    pub file: Option<FileOutlineText>,
}

/// An upright rectangle with square or rounded corners; its edges are called bottom, right, top
/// and left.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RectangleText {
    /// Width along x and height along y.
    pub size: PointText,
    /// Radius of its corners.
    pub corner_radius: Option<Quantity>,
    /// Its centre, [0, 0] by default.
    pub at: Option<PointText>,
}

/// A circle, given by its diameter and its centre.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CircleText {
    /// The circle's diameter: a length above 0.
    pub diameter: Quantity,
    /// Its centre, [0, 0] by default.
    pub at: Option<PointText>,
}

/// A slot with round ends.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SlotText {
    /// Length over all, from the tip of one round end to that of the other: a length of at least
    /// `width`.
    pub length: Quantity,
    /// Width, the diameter of its ends.
    pub width: Quantity,
    /// Its centre, [0, 0] by default.
    pub at: Option<PointText>,
    /// How far it is turned from lying along x.
    pub angle: Option<Quantity>,
}

/// A piece of a path: a bare point, or keys.
#[derive(Debug, Clone, PartialEq)]
pub enum PathItemText {
    /// A bare `[x, y]`.
    Point(PointText),
    /// A piece with keys.
    Keys(PathKeysText),
}

impl<'de> Deserialize<'de> for PathItemText {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;
        impl<'de> de::Visitor<'de> for Visitor {
            type Value = PathItemText;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a point such as [300, 60] or a piece such as {to: [300, 60], round: 12}")
            }
            fn visit_seq<A: de::SeqAccess<'de>>(self, seq: A) -> Result<Self::Value, A::Error> {
                PointText::deserialize(de::value::SeqAccessDeserializer::new(seq)).map(PathItemText::Point)
            }
            fn visit_map<A: de::MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
                PathKeysText::deserialize(de::value::MapAccessDeserializer::new(map)).map(PathItemText::Keys)
            }
        }
        deserializer.deserialize_any(Visitor)
    }
}

impl JsonSchema for PathItemText {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        "PathItem".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let (point, keys) = (generator.subschema_for::<PointText>(), generator.subschema_for::<PathKeysText>());
        json_schema!({ "anyOf": [point, keys] })
    }
}

/// A piece of a path with keys: `to`, or `through`.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PathKeysText {
    /// Where a line or an arc goes.
    pub to: Option<PointText>,
    /// Points that a smooth curve passes, the last one its end.
    pub through: Option<Vec<PointText>>,
    /// Radius of an arc under half a turn; positive turns left, negative right.
    pub arc: Option<Quantity>,
    /// A point that an arc passes on its way.
    pub via: Option<PointText>,
    /// Radius that rounds the corner at its end.
    pub round: Option<Quantity>,
    /// The name of this edge.
    pub edge: Option<Name>,
}

/// A line with a width.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CentrelineText {
    /// The points that the line passes.
    pub through: Vec<PointText>,
    /// The width, or a list of {at, width} along the line.
    pub width: ListOr<WidthStationText, Quantity>,
    /// How the width runs between stations: smooth (default) or straight, with a kink at each.
    pub between: Option<Name>,
}

/// A width at a distance along the line.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WidthStationText {
    /// Distance along the line from its first point, or `end` for its last.
    pub at: Quantity,
    /// The width of the outline at that distance, square to the line: a length above 0.
    pub width: Quantity,
}

/// SVG path data of one closed outline, in the file's unit.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SvgText {
    /// The path data, in the file's units.
    pub d: String,
    /// Whether its y points down, as in an SVG file; by default it points up.
    pub y_down: Option<bool>,
}

/// An outline out of another file.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FileOutlineText {
    /// The DXF or SVG file, beside this one.
    pub name: Name,
    /// The layer (DXF) or group (SVG) that the outline is on.
    pub layer: Option<Name>,
    /// The drawing's unit, mm, cm, m, in or ft, whatever the drawing itself says.
    pub units: Option<Name>,
    /// By how much the outline is taken larger than drawn, 1 by default.
    pub scale: Option<f64>,
}

/// An opening: an outline, and a lip where it is flanged; or slots for the tabs of another part.
#[derive(Debug, Clone, PartialEq, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OpeningText {
    /// An upright rectangle: its width along x, its height along y.
    pub rectangle: Option<RectangleText>,
    /// A circle, given by its diameter and its centre.
    pub circle: Option<CircleText>,
    /// A slot with round ends.
    pub slot: Option<SlotText>,
    /// Lines, arcs and curves walked once round.
    pub path: Option<Vec<PathItemText>>,
    /// A line with a width.
    pub centreline: Option<CentrelineText>,
    /// SVG path data of one closed outline, in the file's unit.
    pub svg: Option<SvgText>,
    /// A closed outline out of a DXF or SVG file beside this one.
    pub file: Option<FileOutlineText>,
    /// A flange around the opening.
    pub lip: Option<LipText>,
    /// Instead of an outline: slots that receive the tabs of another part.
    pub tab_slots: Option<TabSlotsText>,
}

impl OpeningText {
    /// The outline of the opening without its lip, as it is read anywhere else.
    #[must_use]
    pub fn outline(&self) -> OutlineText {
        OutlineText {
            rectangle: self.rectangle.clone(),
            circle: self.circle.clone(),
            slot: self.slot.clone(),
            path: self.path.clone(),
            centreline: self.centreline.clone(),
            svg: self.svg.clone(),
            file: self.file.clone(),
        }
    }
}

/// A flange around an opening.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LipText {
    /// From the face's far side to the lip's free edge, square to the face.
    pub height: Quantity,
    /// Inside radius between face and lip.
    pub radius: Quantity,
    /// Angle that the lip is turned, 90 by default; negative turns it to the inner side.
    pub angle: Option<Quantity>,
}

/// A part that is cut and left flat.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlateText {
    /// The outer outline of the plate, the part's own edge without any kerf.
    pub profile: OutlineText,
    /// The openings in it.
    pub openings: Option<Vec<OpeningText>>,
    /// Tabs on its straight edges.
    pub tabs: Option<Vec<TabsText>>,
}

/// A part that is hammered over a buck.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HalfShellText {
    /// Outline of the finished shell at its seam plane, seen square to it from the outer side.
    pub profile: OutlineText,
    /// Whether profile and depth are of the finished metal's outside (default) or of the buck (inside).
    pub dims: Option<Name>,
    /// From the face to the seam plane.
    pub depth: Option<WordOr<DepthText>>,
    /// Width over both halves, with `pair: mirror`, instead of the depth.
    pub width: Option<Quantity>,
    /// Inside radius between face and wall, the buck's edge radius.
    pub edge_radius: Quantity,
    /// Degrees that the walls lean outward from square to the seam plane.
    pub draft: Option<Quantity>,
    /// Greatest height of the face's bulge over the tangent line.
    pub crown: Option<Quantity>,
    /// Named edges of the profile with no wall.
    pub open_edges: Option<Vec<Name>>,
    /// How walls meet at sharp outside corners: `run_on` (default), the first over the other's edge, or `open`, each ending square.
    pub join: Option<Name>,
    /// Metal left beyond the seam on every wall, cut off after forming.
    pub trim: Option<Quantity>,
    /// Metal left beyond every open edge, cut off after forming.
    pub end_trim: Option<Quantity>,
    /// Openings in the face.
    pub openings: Option<Vec<OpeningText>>,
    /// mirror: the other half is this one mirrored; none: a single shell.
    pub pair: Option<Name>,
    /// The seam between the halves.
    pub seam: Option<SeamText>,
}

/// A depth that changes along the part.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DepthText {
    /// Depths at stations along the profile's x, or along the line of a centreline profile.
    pub stations: Vec<DepthStationText>,
    /// How the depth runs between stations: straight (default) or smooth.
    pub between: Option<Name>,
}

/// A depth at a station.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DepthStationText {
    /// The station: a distance along the part's run, or `end` for the end of it.
    pub at: Quantity,
    /// The depth there, from the face to the seam plane: a length above 0.
    pub depth: Quantity,
}

/// The seam between two halves.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SeamText {
    /// Root gap between the halves.
    pub gap: Option<Quantity>,
}

/// The form block of a half-shell.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BuckText {
    /// Thickness of one layer of buck stock.
    pub layer: Option<Quantity>,
    /// Thickness of the clamp plate.
    pub clamp_plate: Option<Quantity>,
    /// The dowels that keep sheet, buck and plate in place.
    pub dowels: Option<PinsText>,
    /// The bolts that clamp them.
    pub bolts: Option<PinsText>,
    /// Degrees that the buck's walls lean under, or auto: from springback.
    pub undercut: Option<Quantity>,
    /// Pitch of the station marks.
    pub stations: Option<Quantity>,
}

/// Dowels or bolts of one diameter that go through sheet, buck and clamp plate.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PinsText {
    /// The diameter of each dowel or bolt: a length above 0.
    pub diameter: Quantity,
    /// Their places, or auto.
    pub at: Option<ListOr<PointText, Quantity>>,
}

/// A part bent from one section.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BentText {
    /// What the legs measure: outside (default, to the mould lines), inside, flat (between tangent lines) or edge (past 90 degrees to the
    /// outer tangent).
    pub dims: Option<Name>,
    /// Inside radius where a bend gives none.
    pub radius: Option<Quantity>,
    /// Legs and bends in turn, walked along the metal.
    pub section: Vec<SectionItemText>,
    /// Length of the bends.
    pub depth: Quantity,
    /// Ends cut to lie against round tubes.
    pub copes: Option<Vec<CopeText>>,
}

/// An end cut to lie against a round tube.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CopeText {
    /// Which end: near (depth 0) or far.
    pub end: Name,
    /// The tube's outside diameter.
    pub tube: Quantity,
    /// A point of its axis: x along the first leg from its free end, y along the depth, z up from that leg's lower face.
    pub through: [Quantity; 3],
    /// The direction of its axis, as x, y, z.
    pub along: [f64; 3],
    /// How far the metal stays from the tube, 0 by default.
    pub clearance: Option<Quantity>,
}

/// A leg, a bend or a joggle.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SectionItemText {
    /// Length of a leg.
    pub leg: Option<Quantity>,
    /// Openings in this leg, `at` along the leg from its start mould line and across the depth.
    pub openings: Option<Vec<OpeningText>>,
    /// Angle that a bend turns the metal through; positive toward the upper face.
    pub bend: Option<Quantity>,
    /// Instead of a bend: two opposite bends that set the metal off sideways.
    pub joggle: Option<JoggleText>,
    /// Inside radius of this bend.
    pub radius: Option<Quantity>,
}

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

/// How sheets are cut: the torch's figures, the distances to keep, and what is cut from the rest
/// of a sheet.
#[derive(Debug, Clone, PartialEq, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CuttingText {
    /// Width of the cut; from a table by thickness by default.
    pub kerf: Option<Quantity>,
    /// Least distance between cut edges, on top of the kerf.
    pub spacing: Option<Quantity>,
    /// Least distance to the sheet's edge.
    pub margin: Option<Quantity>,
    /// Whether the cut lines are moved out by half the kerf and carry lead-ins.
    pub compensate: Option<bool>,
    /// Cutting speed a minute.
    pub feed: Option<Quantity>,
    /// Time of one pierce.
    pub pierce: Option<Quantity>,
    /// The least width of what is left of a sheet that is worth keeping, 100 mm by default; 0 keeps nothing.
    pub remnant: Option<Quantity>,
    /// Whether a coupon that tells the kerf is cut from what is left, if there is room.
    pub coupon: Option<bool>,
    /// How many strips for bending are cut from what is left, if there is room.
    pub bend_strips: Option<u32>,
}

/// A file that lists stock: what an earlier job left.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StockText {
    /// The unit of bare lengths in this file: mm or in.
    pub units: Option<Name>,
    /// The stock that this file lists: sheets, remnants and rolls, but no further file.
    pub sheets: Vec<SheetText>,
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

/// A shop file: what this shop has and has measured. Every key may be left out.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShopText {
    /// The unit of bare lengths in this file: mm or in.
    pub units: Option<Name>,
    /// Materials of this shop's own.
    pub materials: Option<BTreeMap<Name, MaterialText>>,
    /// Bends that were measured on this shop's own brake, for parts with `bend_allowance: strips`.
    pub strips: Option<Vec<StripText>>,
    /// The brake that bends are checked against and put in order for; without it a press brake is
    /// assumed.
    pub brake: Option<BrakeText>,
    /// Edge radii that the router has.
    pub cutters: Option<Vec<Quantity>>,
    /// Limits of stretch and shrink.
    pub limits: Option<LimitsText>,
    /// Kerf, feed and pierce time.
    pub cutting: Option<CuttingText>,
}

/// A material of the shop's own.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MaterialText {
    /// The built-in material that it takes every other figure from.
    pub like: Name,
    /// Yield strength (0.2 % proof stress) in `MPa`, in place of the table's.
    #[serde(rename = "yield")]
    pub yield_strength: Option<f64>,
    /// Ultimate tensile strength in `MPa`, in place of the table's; not below the yield strength.
    pub ultimate: Option<f64>,
    /// Elongation at break, as a fraction.
    pub elongation: Option<f64>,
    /// Density in kg/m³, in place of the table's.
    pub density: Option<f64>,
    /// Modulus of elasticity, `MPa`.
    pub elastic_modulus: Option<f64>,
    /// Strength coefficient K of the power law, `MPa`.
    pub strength: Option<f64>,
    /// Hardening exponent n of the power law.
    pub n: Option<f64>,
    /// Normal anisotropy r, the ratio of width strain to thickness strain in a pull test; a bare
    /// number.
    pub r: Option<f64>,
    /// Smallest inside bend radius over thickness.
    pub minimum_radius: Option<f64>,
    /// What it asks care for besides what that one does: `chromium`, `chromium_molybdenum`, `zinc`, `light_metal`, `titanium`.
    pub hazards: Option<Vec<Name>>,
    /// Where the figures come from.
    pub source: Option<Name>,
    /// When they were taken.
    pub date: Option<Name>,
}

/// A bend that was measured: a strip of known length, bent once, and its two legs.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StripText {
    /// The strip's material, by the name that its parts give.
    pub material: Name,
    /// The strip's thickness: a length of 0.1 to 25 mm, best as measured.
    pub thickness: Quantity,
    /// The inside radius of the finished bend: a length of 0 or more.
    pub radius: Quantity,
    /// The angle turned through, 90 by default.
    pub angle: Option<Quantity>,
    /// Its length before bending.
    pub flat: Quantity,
    /// Its two legs after bending, to the outside mould line.
    pub legs: [Quantity; 2],
    /// The tooling it was bent on.
    pub tool: Option<Name>,
    /// Where the measurement comes from.
    pub source: Option<Name>,
    /// When it was taken.
    pub date: Option<Name>,
}

/// The brake and its tools; what is left out is taken of a usual size and listed under `assumed`.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BrakeText {
    /// press, leaf or pan.
    pub kind: Name,
    /// The greatest force of the brake: kN (a bare number), N or t; each bend's force is held
    /// against it.
    pub force: Option<Quantity>,
    /// The greatest length of a bend that the brake takes: a length above 0.
    pub length: Option<Quantity>,
    /// The dies of a press brake.
    pub dies: Option<Vec<DieText>>,
    /// Outline of what presses on the inside of the bend, a press's punch or the nose of a leaf or pan brake: lower edge at [0, 0], x
    /// toward the back, y up.
    pub punch: Option<OutlineText>,
    /// Outline of a leaf as it lies before it swings: its bending edge, at the sheet's lower face, at [0, 0], x toward the back, y up.
    pub leaf: Option<OutlineText>,
    /// The greatest angle that a leaf turns through.
    pub max_angle: Option<Quantity>,
    /// Widths of a pan brake's fingers.
    pub fingers: Option<Vec<Quantity>>,
    /// The thickest mild steel that it bends over its whole length.
    pub max_thickness: Option<Quantity>,
    /// The fingers of the back gauge.
    pub gauge_finger: Option<GaugeFingerText>,
    /// Where the figures come from.
    pub source: Option<Name>,
    /// When they were taken.
    pub date: Option<Name>,
}

/// A finger of the back gauge: a block that an edge of the sheet rests against.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GaugeFingerText {
    /// Its width along the bend.
    pub width: Option<Quantity>,
    /// How high it stands over what the sheet lies on.
    pub height: Option<Quantity>,
    /// How far it reaches to the back.
    pub length: Option<Quantity>,
}

/// A die of a press brake.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DieText {
    /// The die's name, as the bend order and the findings call it.
    pub name: Name,
    /// Width of its opening.
    pub opening: Quantity,
    /// The angle between the walls of its opening.
    pub angle: Option<Quantity>,
    /// Its outline, the middle of its opening between the shoulders at [0, 0].
    pub block: Option<OutlineText>,
}

/// Limits of stretch and shrink.
#[derive(Debug, Clone, PartialEq, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LimitsText {
    /// Of an edge that grows, as fractions.
    pub stretch: Option<LimitText>,
    /// Of an edge that gets shorter, as fractions.
    pub shrink: Option<LimitText>,
    /// Where the figures come from.
    pub source: Option<Name>,
    /// When they were taken.
    pub date: Option<Name>,
}

/// The strain limits of one direction: work with care above `caution`, stop above `stop`.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LimitText {
    /// Strain above which the edge needs care, as a share from 0 to 1 (0.05 is 5 %).
    pub caution: f64,
    /// Strain above which the edge passes its limit, as a share from `caution` to 1 (0.15 is 15
    /// %).
    pub stop: f64,
}
