//! Shop files: what this shop has and has measured.

use std::collections::BTreeMap;
use std::sync::Arc;

use schemars::JsonSchema;
use serde::Deserialize;

use super::brake::{BrakeText, brake};
use super::cutting::{CuttingText, cutting};
use super::yaml::{Allowed, At, FileKind, FileReader, Name, Quantity, Read, Reader, suggestion};
use crate::part::Shop;
use crate::problem::{Checked, Code};
use crate::shop::material::{Hazard, Material, StrainLimit};
use crate::shop::material_override::{MaterialOverride, OwnFigure, OwnRadius};
use crate::shop::strip::Strip;
use crate::tolerance::THICKNESS_RANGE_MM;
use crate::units::{Angle, Density, Length, Stress};

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

/// Reads a shop file from its bytes.
pub fn read_shop(name: &str, bytes: Vec<u8>, files: &dyn FileReader) -> Checked<Shop> {
    let (text, mut reader) = Reader::open::<ShopText>(name, bytes, FileKind::Shop, files)?;
    reader.read_units(text.units.as_ref());
    let shop = shop(&mut reader, &text);
    reader.finish(shop).map(|(shop, _)| shop)
}

/// The shop file that a description names.
pub(super) fn named_shop(reader: &mut Reader, name: &Name, at: &At) -> Read<Arc<Shop>> {
    let (bytes, full_name) = reader.file(name, at)?;
    let shop = read_shop(&full_name, bytes, reader.files());
    reader.adopt(shop).map(Arc::new)
}

fn shop(reader: &mut Reader, text: &ShopText) -> Read<Shop> {
    let root = At::default();
    let materials_at = root.key("materials");
    let own = text.materials.iter().flatten();
    let materials: Vec<Read<Material>> =
        own.map(|(name, own)| material(reader, &name.0, own, &materials_at.key(&name.0))).collect();
    let strips = reader.list(text.strips.as_deref(), &root.key("strips"), strip);
    let brake = text.brake.as_ref().map(|text| brake(reader, text, &root.key("brake"))).transpose();
    let cutters =
        reader.list(text.cutters.as_deref(), &root.key("cutters"), |reader, radius, at| {
            reader.length(radius, at, Allowed::Positive)
        });
    let limits_at = root.key("limits");
    let mut limit = |text: Option<&LimitText>, key: &str| {
        text.map(|text| strain_limit(reader, text, &limits_at.key(key))).transpose()
    };
    let stretch = limit(text.limits.as_ref().and_then(|limits| limits.stretch.as_ref()), "stretch");
    let shrink = limit(text.limits.as_ref().and_then(|limits| limits.shrink.as_ref()), "shrink");
    let cutting =
        text.cutting.as_ref().map(|text| cutting(reader, text, &root.key("cutting"))).transpose();
    Ok(Shop {
        materials: materials.into_iter().collect::<Read<_>>()?,
        strips: strips?,
        brake: brake?,
        cutters: cutters?,
        stretch: stretch?,
        shrink: shrink?,
        cutting: cutting?.unwrap_or_default(),
    })
}

fn own<Q>(
    value: Option<f64>,
    make: impl Fn(f64) -> Q,
    source: Option<&String>,
) -> Option<OwnFigure<Q>> {
    value.map(|value| OwnFigure { value: make(value), source: source.cloned() })
}

/// What a material asks care for.
fn hazards(reader: &mut Reader, names: &[Name], at: &At) -> Read<Vec<Hazard>> {
    let mut hazards = Vec::new();
    for (i, name) in names.iter().enumerate() {
        match Hazard::NAMED.iter().find(|(known, _)| *known == name.0) {
            Some((_, hazard)) => hazards.push(*hazard),
            None => {
                let message = format!("`{}` is not a hazard", name.0);
                let known: Vec<&str> = Hazard::NAMED.iter().map(|(known, _)| *known).collect();
                let help = format!("one of {}", known.join(", "));
                return Err(reader.refuse(&at.item(i), Code::UnknownName, message, help));
            }
        }
    }
    Ok(hazards)
}

fn material(reader: &mut Reader, name: &str, text: &MaterialText, at: &At) -> Read<Material> {
    let Some(base) = Material::named(&text.like.0) else {
        let known: Vec<&str> = Material::built_in().iter().map(|m| m.name.as_str()).collect();
        let message = format!("`{}` is not a built-in material", text.like.0);
        return Err(reader.refuse(
            &at.key("like"),
            Code::UnknownName,
            message,
            suggestion(&text.like.0, &known),
        ));
    };
    let source = match (&text.source, &text.date) {
        (Some(source), Some(date)) => Some(format!("{} ({})", source.0, date.0)),
        (Some(source), None) => Some(source.0.clone()),
        (None, Some(date)) => Some(format!("shop file, {}", date.0)),
        (None, None) => None,
    };
    let source = source.as_ref();
    let thickest = THICKNESS_RANGE_MM.1;
    let given = MaterialOverride {
        description: None,
        density: own(text.density, Density::from_kg_per_m3, source),
        elastic_modulus: own(text.elastic_modulus, Stress::from_mpa, source),
        poisson_ratio: None,
        yield_strength: own(text.yield_strength, Stress::from_mpa, source),
        ultimate_strength: own(text.ultimate, Stress::from_mpa, source),
        elongation: own(text.elongation, |x| x, source),
        strength_coefficient: own(text.strength, Stress::from_mpa, source),
        hardening_exponent: own(text.n, |x| x, source),
        normal_anisotropy: own(text.r, |x| x, source),
        minimum_radius: text.minimum_radius.map(|times| OwnRadius {
            rows: (1..=250)
                .map(|i| f64::from(i) * 0.1)
                .filter(|t| *t <= thickest)
                .map(|t| (Length::from_mm(t), Length::from_mm(t * times)))
                .collect(),
            source: source.cloned(),
        }),
        hazards: hazards(reader, text.hazards.as_deref().unwrap_or_default(), &at.key("hazards"))?,
    };
    let mark = reader.mark();
    let material = base.like_this(name, &given).unwrap_or_else(|faults| {
        for fault in faults {
            let help = "give the metal's own figure, or leave it out";
            reader.refuse(at, Code::OutOfRange, format!("{name}: {fault}"), help);
        }
        base.clone()
    });
    reader.sound_since(mark)?;
    Ok(material)
}

fn strip(reader: &mut Reader, text: &StripText, at: &At) -> Read<Strip> {
    let thickness = reader.thickness(&text.thickness, &at.key("thickness"), None);
    let inside_radius = reader.length(&text.radius, &at.key("radius"), Allowed::ZeroOrMore);
    let right_angle = Angle::from_degrees(90.0);
    let bend_angle =
        reader.angle_or(text.angle.as_ref(), &at.key("angle"), (1.0, 179.0), right_angle);
    let flat_length = reader.length(&text.flat, &at.key("flat"), Allowed::Positive);
    let legs_at = at.key("legs");
    let first = reader.length(&text.legs[0], &legs_at.item(0), Allowed::Positive);
    let second = reader.length(&text.legs[1], &legs_at.item(1), Allowed::Positive);
    Ok(Strip {
        material: text.material.0.clone(),
        thickness: thickness?,
        inside_radius: inside_radius?,
        bend_angle: bend_angle?,
        flat_length: flat_length?,
        legs: [first?, second?],
        tool: text.tool.as_ref().map(|tool| tool.0.clone()).unwrap_or_default(),
    })
}

fn strain_limit(reader: &mut Reader, text: &LimitText, at: &At) -> Read<StrainLimit> {
    let caution = reader.fraction(text.caution, &at.key("caution"), 0.0, 1.0)?;
    let stop = reader.fraction(text.stop, &at.key("stop"), caution, 1.0)?;
    Ok(StrainLimit { caution, stop })
}
