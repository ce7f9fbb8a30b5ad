//! What the builder is told of a step.

use super::{Bending, Held, Step};
use crate::flat::{Flat, FlatBend};
use crate::units::{Digits, Length, LengthUnit, MM_PER_INCH};

/// A step in words.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct StepWords {
    /// Which bends, at which faces, which way and how far.
    pub what: String,
    /// The angle to set.
    pub set: String,
    /// What rests against the gauge.
    pub gauge: String,
    /// How the sheet comes to lie.
    pub handling: String,
    /// How long the tools are.
    pub tools: String,
}

/// What is said once wherever steps are told.
pub const ANGLES_FROM_FLAT: &str = "Angles are turned from flat; flat is 0.";

/// The words of step `i`, sizes in that unit.
#[must_use]
pub fn step_words(flat: &Flat, bending: &Bending, unit: LengthUnit, i: usize) -> StepWords {
    let step = &bending.steps()[i];
    let stroke = &bending.strokes[step.stroke];
    let bend = &flat.bends[stroke.first()];
    let face = |face: usize| {
        flat.tree.as_ref().map_or_else(String::new, |tree| tree.faces[face].name.clone())
    };
    let joint = |bend: usize| {
        flat.tree.as_ref().map_or((0, 0), |tree| (tree.bends[bend].parent, tree.bends[bend].child))
    };
    let names: Vec<String> = stroke
        .bends
        .iter()
        .map(|bend| format!("{} ({})", flat.bends[*bend].name, face(joint(*bend).1)))
        .collect();
    let way = if bend.up { "up" } else { "down" };
    let (parent, child) = joint(stroke.first());
    let at_back = face(if step.held == Held::Parent { parent } else { child });
    StepWords {
        what: format!("{}, {} {way}", names.join(" and "), degrees(bend.angle.degrees(), 1)),
        set: set_words(bending, step, bend),
        gauge: match step.gauge {
            Some(gauge) => {
                let back = if gauge.drawn_back {
                    "; back the gauge off once the sheet is pinched"
                } else {
                    ""
                };
                format!(
                    "back gauge {}, {} against it{back}",
                    unit.brief(Length::from_mm(gauge.distance), 2),
                    face(gauge.face)
                )
            }
            None if bending.is_leaf() => "set the nose edge on the sight line".to_owned(),
            None => "no gauge edge: set it by its mark".to_owned(),
        },
        handling: if bending.is_leaf() {
            format!("{}, clamp {at_back}", handling_words(step))
        } else {
            format!("{}, {at_back} toward the gauge", handling_words(step))
        },
        tools: tool_words(step, stroke.extent[1] - stroke.extent[0], unit),
    }
}

/// How a hem is closed.
fn second_words(bend: &FlatBend) -> &'static str {
    match bend.inside_radius.mm() {
        _ if bend.angle.degrees() > 180.0 + 1e-6 => "fold it down onto the flange",
        radius if radius > 0.0 => "press it down over a filler as thick as its gap",
        _ => "press it shut",
    }
}

/// The words of the second hit of step `i`, a hem's.
#[must_use]
pub fn second_hit_words(flat: &Flat, bending: &Bending, unit: LengthUnit, i: usize) -> StepWords {
    let words = step_words(flat, bending, unit, i);
    let bend = &flat.bends[bending.strokes[bending.steps()[i].stroke].first()];
    StepWords {
        what: format!("second hit: {}", words.what),
        set: second_words(bend).to_owned(),
        gauge: String::new(),
        handling: "same side up, the fold toward you".to_owned(),
        tools: words.tools,
    }
}

fn degrees(value: f64, decimals: usize) -> String {
    format!("{}°", Digits(value, decimals))
}

fn set_words(bending: &Bending, step: &Step, bend: &FlatBend) -> String {
    let angle = bend.angle.degrees();
    let practice = &bending.practice[bending.strokes[step.stroke].first()];
    if practice.is_hem {
        return format!("bend to {}, then {}", degrees(angle * step.last, 0), second_words(bend));
    }
    let keep = degrees(angle, 1);
    let Some(set) = &practice.set else { return format!("bend through {keep}") };
    let [low, value, high] =
        [set.low, set.value, set.high].map(|angle| degrees(angle.degrees(), 1));
    let range = if low == high { String::new() } else { format!("{low} to {high}; ") };
    format!(
        "bend through {value} ({range}{} between the legs) to keep {keep}",
        degrees(180.0 - set.value.degrees(), 1)
    )
}

fn handling_words(step: &Step) -> String {
    let face = if step.upper_up { "upper face up" } else { "lower face up" };
    if step.turn_over {
        return format!("turn the sheet over: {face}");
    }
    if step.turned.abs() > 0.5 {
        // The part is turned against the way in which the direction to the back moves over it, seen
        // from its upper face.
        let sense =
            if (step.turned > 0.0) == step.upper_up { "clockwise" } else { "counter-clockwise" };
        return format!("{face}, turn it {} {sense}", degrees(step.turned.abs(), 0));
    }
    face.to_owned()
}

fn tool_words(step: &Step, length: f64, unit: LengthUnit) -> String {
    let size = |mm: f64| unit.brief(Length::from_mm(mm), 1);
    if let Some(fingers) = &step.span.fingers {
        let (per, name) = if unit == LengthUnit::Inch { (MM_PER_INCH, "in") } else { (1.0, "mm") };
        let widths: Vec<String> =
            fingers.iter().map(|width| Digits(*width / per, 3).to_string()).collect();
        return format!("fingers {} {name}", widths.join(" + "));
    }
    let covered: f64 = step.span.covers.iter().map(|[from, to]| to - from).sum();
    if covered < length - 0.05 {
        format!("tools {} long at most, for a bend of {}", size(covered), size(length))
    } else {
        format!("bend {} long", size(length))
    }
}
