//! A shop file made into a [`Shop`]: what this shop has and has measured.

use std::sync::Arc;

use super::outline::Outline;
use super::written::{BrakeText, CuttingText, LimitText, MaterialText, Name, OutlineText, ShopText, StripText};
use super::yaml::quantity::Quantity;
use super::yaml::reader::{Allowed, At, Reader};
use super::yaml::source::{FileKind, decode, text_of};
use crate::part::FileReader;
use crate::problem::{Checked, Code};
use crate::shop::material::{Hazard, Material, StrainLimit};
use crate::shop::material_override::{MaterialOverride, OwnFigure, OwnRadius};
use crate::shop::strip::Strip;
use crate::tolerance::{CURVE_TO_ARCS, MOST_BEND_STRIPS, THICKNESS_RANGE_MM};
use crate::units::{Angle, Density, Digits, Force, Length, Stress};

/// What this shop has and has measured.
#[derive(Debug, Clone, Default)]
pub struct Shop {
    /// Its own materials.
    pub materials: Vec<Material>,
    /// Its measured bends.
    pub strips: Vec<Strip>,
    /// Its brake.
    pub brake: Option<Brake>,
    /// Edge radii that its router has.
    pub cutters: Vec<Length>,
    /// Its limits of stretch.
    pub stretch: Option<StrainLimit>,
    /// Its limits of shrink.
    pub shrink: Option<StrainLimit>,
    /// Its cutting figures.
    pub cutting: Cutting,
}

/// Cutting figures as far as somebody gave them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Cutting {
    /// Width of the cut.
    pub kerf: Option<Length>,
    /// Least distance between cut edges, on top of the kerf.
    pub spacing: Option<Length>,
    /// Least distance to the sheet's edge.
    pub margin: Option<Length>,
    /// Cutting speed, mm a minute.
    pub feed_mm_per_min: Option<f64>,
    /// Time of one pierce, s.
    pub pierce_s: Option<f64>,
    /// Whether cut lines are moved off the parts by half the kerf and carry lead-ins.
    pub compensate: Option<bool>,
    /// The least width of a remnant worth keeping; 0 for none.
    pub remnant: Option<Length>,
    /// Whether a kerf coupon is cut from what is left.
    pub coupon: Option<bool>,
    /// How many strips for bending are cut from what is left.
    pub bend_strips: Option<usize>,
}

impl Cutting {
    /// These figures, and where one is missing the other's.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self {
            kerf: self.kerf.or(other.kerf),
            spacing: self.spacing.or(other.spacing),
            margin: self.margin.or(other.margin),
            feed_mm_per_min: self.feed_mm_per_min.or(other.feed_mm_per_min),
            pierce_s: self.pierce_s.or(other.pierce_s),
            compensate: self.compensate.or(other.compensate),
            remnant: self.remnant.or(other.remnant),
            coupon: self.coupon.or(other.coupon),
            bend_strips: self.bend_strips.or(other.bend_strips),
        }
    }
}

/// A brake.
#[derive(Debug, Clone)]
pub struct Brake {
    /// Which kind.
    pub kind: BrakeKind,
    /// Its force.
    pub force: Option<Force>,
    /// Its working length.
    pub length: Option<Length>,
    /// Its dies.
    pub dies: Vec<Die>,
    /// Outline of its punch or nose, the lower edge at the origin, x toward the back.
    pub punch: Option<Outline>,
    /// Outline of its leaf at rest, the bending edge at the origin, x toward the back.
    pub leaf: Option<Outline>,
    /// The greatest angle that its leaf turns through.
    pub max_angle: Option<Angle>,
    /// Widths of its fingers.
    pub fingers: Vec<Length>,
    /// The thickest mild steel that it bends over its whole length.
    pub max_thickness: Option<Length>,
    /// Width, height and length of a finger of its back gauge, as far as given.
    pub gauge_finger: [Option<Length>; 3],
}

/// A die of a press brake.
#[derive(Debug, Clone)]
pub struct Die {
    /// Its name.
    pub name: String,
    /// Width of its opening.
    pub opening: Length,
    /// The angle between the walls of its opening.
    pub angle: Option<Angle>,
    /// Its outline, the middle of its opening at the origin.
    pub block: Option<Outline>,
}

/// The kinds of brake.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BrakeKind {
    /// Punch and die.
    Press,
    /// A leaf that swings.
    Leaf,
    /// A leaf brake whose nose is in fingers.
    Pan,
}

/// Reads a shop file from its bytes.
pub fn read_shop(name: &str, bytes: Vec<u8>, files: &dyn FileReader) -> Checked<Shop> {
    let source = text_of(name, bytes).map_err(|problem| vec![problem])?;
    let (text, map) = decode::<ShopText>(&source, FileKind::Shop)?;
    let mut reader = Reader::new(&map);
    reader.read_units(text.units.as_ref());
    let shop = shop(&mut reader, &text, files);
    if reader.problems.is_empty() { Ok(shop) } else { Err(reader.problems) }
}

/// The shop file that a description names.
pub(super) fn named_shop(reader: &mut Reader, name: &Name, at: &At, files: &dyn FileReader) -> Option<Arc<Shop>> {
    let beside = reader.map.source().name.clone();
    let result = match files.read(&beside, &name.0) {
        Ok(bytes) => read_shop(&files.full_name(&beside, &name.0), bytes, files),
        Err(problem) => return reader.refuse(at, problem.code, problem.message, problem.help),
    };
    match result {
        Ok(shop) => Some(Arc::new(shop)),
        Err(problems) => {
            let new: Vec<_> = problems.into_iter().filter(|problem| !reader.problems.contains(problem)).collect();
            reader.problems.extend(new);
            None
        }
    }
}

fn shop(reader: &mut Reader, text: &ShopText, files: &dyn FileReader) -> Shop {
    let root = At::default();
    let mut shop = Shop::default();
    for (name, own) in text.materials.iter().flatten() {
        let at = root.key("materials").key(&name.0);
        shop.materials.extend(material(reader, &name.0, own, &at));
    }
    let strips_at = root.key("strips");
    for (i, row) in text.strips.iter().flatten().enumerate() {
        shop.strips.extend(strip(reader, row, &strips_at.item(i)));
    }
    shop.brake = text.brake.as_ref().and_then(|text| brake(reader, text, &root.key("brake"), files));
    let cutters_at = root.key("cutters");
    for (i, radius) in text.cutters.iter().flatten().enumerate() {
        shop.cutters.extend(reader.length(radius, &cutters_at.item(i), Allowed::Positive));
    }
    if let Some(limits) = &text.limits {
        let at = root.key("limits");
        shop.stretch = limits.stretch.as_ref().and_then(|limit| self::limit(reader, limit, &at.key("stretch")));
        shop.shrink = limits.shrink.as_ref().and_then(|limit| self::limit(reader, limit, &at.key("shrink")));
    }
    if let Some(text) = &text.cutting {
        shop.cutting = cutting(reader, text, &root.key("cutting")).unwrap_or_default();
    }
    shop
}

fn own<Q>(value: Option<f64>, make: impl Fn(f64) -> Q, source: Option<&String>) -> Option<OwnFigure<Q>> {
    value.map(|value| OwnFigure { value: make(value), source: source.cloned() })
}

/// What a material asks care for.
fn hazards(reader: &mut Reader, names: &[Name], at: &At) -> Option<Vec<Hazard>> {
    let mut hazards = Vec::new();
    for (i, name) in names.iter().enumerate() {
        match Hazard::NAMED.iter().find(|(known, _)| *known == name.0) {
            Some((_, hazard)) => hazards.push(*hazard),
            None => {
                let message = format!("`{}` is not a hazard", name.0);
                let help = format!("one of {}", Hazard::NAMED.map(|(known, _)| known).join(", "));
                return reader.refuse(&at.item(i), Code::UnknownName, message, help);
            }
        }
    }
    Some(hazards)
}

fn material(reader: &mut Reader, name: &str, text: &MaterialText, at: &At) -> Option<Material> {
    let Ok(base) = Material::named(&text.like.0) else {
        let known: Vec<&str> = Material::built_in().iter().map(|m| m.name.as_str()).collect();
        let message = format!("`{}` is not a built-in material", text.like.0);
        return reader.refuse(
            &at.key("like"),
            Code::UnknownName,
            message,
            super::yaml::mistakes::suggestion(&text.like.0, &known),
        );
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
    match base.like_this(name, &given) {
        Ok(material) => Some(material),
        Err(faults) => {
            for fault in faults {
                reader.refuse::<()>(
                    at,
                    Code::OutOfRange,
                    format!("{name}: {fault}"),
                    "give the metal's own figure, or leave it out",
                );
            }
            None
        }
    }
}

fn strip(reader: &mut Reader, text: &StripText, at: &At) -> Option<Strip> {
    let thickness = reader.thickness(&text.thickness, &at.key("thickness"), None);
    let inside_radius = reader.length(&text.radius, &at.key("radius"), Allowed::ZeroOrMore);
    let right_angle = Quantity::Number(90.0);
    let bend_angle = reader.angle(text.angle.as_ref().unwrap_or(&right_angle), &at.key("angle"), 1.0, 179.0);
    let flat_length = reader.length(&text.flat, &at.key("flat"), Allowed::Positive);
    let legs_at = at.key("legs");
    let first = reader.length(&text.legs[0], &legs_at.item(0), Allowed::Positive);
    let second = reader.length(&text.legs[1], &legs_at.item(1), Allowed::Positive);
    Some(Strip {
        material: text.material.0.clone(),
        thickness: thickness?,
        inside_radius: inside_radius?,
        bend_angle: bend_angle?,
        flat_length: flat_length?,
        legs: [first?, second?],
        tool: text.tool.as_ref().map(|tool| tool.0.clone()).unwrap_or_default(),
    })
}

fn brake(reader: &mut Reader, text: &BrakeText, at: &At, files: &dyn FileReader) -> Option<Brake> {
    let known = [("press", BrakeKind::Press), ("leaf", BrakeKind::Leaf), ("pan", BrakeKind::Pan)];
    let kind = reader.word(&text.kind.0, &at.key("kind"), &known);
    let units = [("kN", 1000.0), ("N", 1.0), ("t", 9806.65)];
    let force = text.force.as_ref().and_then(|force| reader.with_units(force, &at.key("force"), "a force", &units));
    let length = text.length.as_ref().and_then(|length| reader.length(length, &at.key("length"), Allowed::Positive));
    let dies_at = at.key("dies");
    let mut dies = Vec::new();
    for (i, die) in text.dies.iter().flatten().enumerate() {
        let die_at = dies_at.item(i);
        let opening = reader.length(&die.opening, &die_at.key("opening"), Allowed::Positive);
        let angle = die.angle.as_ref().and_then(|angle| reader.angle(angle, &die_at.key("angle"), 10.0, 170.0));
        let block = die.block.as_ref().and_then(|block| tool(reader, block, &die_at.key("block"), TopOrTip::Top, files));
        dies.extend(opening.map(|opening| Die { name: die.name.0.clone(), opening, angle, block }));
    }
    let punch = text.punch.as_ref().and_then(|punch| tool(reader, punch, &at.key("punch"), TopOrTip::Tip, files));
    let leaf = text.leaf.as_ref().and_then(|leaf| tool(reader, leaf, &at.key("leaf"), TopOrTip::Top, files));
    let max_angle = text.max_angle.as_ref().and_then(|angle| reader.angle(angle, &at.key("max_angle"), 10.0, 180.0));
    let fingers_at = at.key("fingers");
    let mut fingers = Vec::new();
    for (i, width) in text.fingers.iter().flatten().enumerate() {
        fingers.extend(reader.length(width, &fingers_at.item(i), Allowed::Positive));
    }
    let max_thickness = text.max_thickness.as_ref().and_then(|t| reader.thickness(t, &at.key("max_thickness"), None));
    let finger_at = at.key("gauge_finger");
    let finger = text.gauge_finger.as_ref();
    let sizes =
        [("width", finger.map(|f| &f.width)), ("height", finger.map(|f| &f.height)), ("length", finger.map(|f| &f.length))];
    let gauge_finger = sizes.map(|(key, size)| {
        let size = size.and_then(Option::as_ref)?;
        reader.length(size, &finger_at.key(key), Allowed::Positive)
    });
    Some(Brake {
        kind: kind?,
        force: force.map(Force::from_newtons),
        length,
        dies,
        punch,
        leaf,
        max_angle,
        fingers,
        max_thickness,
        gauge_finger,
    })
}

/// Which end of a tool's outline lies at its origin.
#[derive(Clone, Copy, PartialEq)]
enum TopOrTip {
    Top,
    Tip,
}

/// The outline of a tool, which must reach up or down to the height of its origin and no farther.
fn tool(reader: &mut Reader, text: &OutlineText, at: &At, end: TopOrTip, files: &dyn FileReader) -> Option<Outline> {
    /// How far a tool's tip may be drawn from the origin, mm.
    const AT_ORIGIN: f64 = 0.05;
    let outline = reader.outline(text, at, files)?;
    let bounds = outline.sides.to_polyarc(CURVE_TO_ARCS).bounds();
    let (end_at, words) = match end {
        TopOrTip::Tip => (bounds.y0, "lowest point, its tip,"),
        TopOrTip::Top => (bounds.y1, "highest point"),
    };
    let is_beside = bounds.x0 > AT_ORIGIN || bounds.x1 < -AT_ORIGIN;
    if end_at.abs() > AT_ORIGIN || is_beside {
        let message = format!("this tool's {words} does not lie at [0, 0]: it lies at a height of {} mm", Digits(end_at, 3));
        return reader.refuse(at, Code::OutOfRange, message, "draw the outline from [0, 0]: x toward the back, y up");
    }
    Some(outline)
}

fn limit(reader: &mut Reader, text: &LimitText, at: &At) -> Option<StrainLimit> {
    let caution = reader.fraction(text.caution, &at.key("caution"), 0.0, 1.0)?;
    let stop = reader.fraction(text.stop, &at.key("stop"), caution, 1.0)?;
    Some(StrainLimit { caution, stop })
}

/// Cutting figures, of a shop or of a job.
pub(super) fn cutting(reader: &mut Reader, text: &CuttingText, at: &At) -> Option<Cutting> {
    let mut length =
        |quantity: Option<&Quantity>, key: &str| quantity.and_then(|q| reader.length(q, &at.key(key), Allowed::ZeroOrMore));
    let kerf = length(text.kerf.as_ref(), "kerf");
    let spacing = length(text.spacing.as_ref(), "spacing");
    let margin = length(text.margin.as_ref(), "margin");
    let remnant = length(text.remnant.as_ref(), "remnant");
    let bend_strips = text.bend_strips.map(|strips| strips as usize);
    if bend_strips.is_some_and(|strips| strips > MOST_BEND_STRIPS) {
        let help = format!("give 0 to {MOST_BEND_STRIPS}; two of each direction tell what there is to tell");
        return reader.refuse(&at.key("bend_strips"), Code::OutOfRange, "these are more strips than anybody bends", help);
    }
    let feed = text.feed.as_ref().and_then(|q| {
        let unit = reader.shown_unit().length(1.0).mm();
        let units = if unit > 1.0 {
            [("in/min", 25.4), ("mm/min", 1.0), ("m/min", 1000.0)]
        } else {
            [("mm/min", 1.0), ("in/min", 25.4), ("m/min", 1000.0)]
        };
        reader.with_units(q, &at.key("feed"), "a cutting speed", &units)
    });
    let pierce =
        text.pierce.as_ref().and_then(|q| reader.with_units(q, &at.key("pierce"), "a time", &[("s", 1.0), ("ms", 0.001)]));
    if feed == Some(0.0) {
        return reader.refuse(
            &at.key("feed"),
            Code::OutOfRange,
            "a feed of 0 cuts nothing",
            "give the cutting speed in mm a minute",
        );
    }
    let (compensate, coupon) = (text.compensate, text.coupon);
    Some(Cutting { kerf, spacing, margin, feed_mm_per_min: feed, pierce_s: pierce, compensate, remnant, coupon, bend_strips })
}
