//! What is said of bending: the brake, each bend's figures, the order.

use serde::Serialize;

use super::results::rounded;
use crate::bending::{Bending, Held, Step, StepWords, step_words};
use crate::flat::Flat;
use crate::part::{BrakeKind, Part};
use crate::shop::brake::{air_bend_radius, least_leg};
use crate::shop::springback::ByYield;
use crate::units::Angle;

/// The brake that a part is bent on.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names say it all")]
pub struct BrakeResult {
    pub kind: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub die: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub die_opening_mm: Option<f64>,
    /// The greatest angle that the tools bend to.
    pub reach_deg: f64,
    /// The greatest force of a bend.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub greatest_force_kn: Option<f64>,
    /// What each die of the shop makes of this sheet.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub dies: Vec<DieResult>,
}

/// What a die makes of a sheet.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names say it all")]
pub struct DieResult {
    pub name: String,
    pub opening_mm: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub inside_radius_mm: Option<f64>,
    pub least_leg_mm: f64,
}

/// Least, expected and greatest, by the yield strengths that sources give.
#[derive(Debug, Clone, Copy, Serialize)]
#[expect(missing_docs, reason = "the names say it all")]
pub struct RangeResult {
    pub low: f64,
    pub value: f64,
    pub high: f64,
}

/// What a bend asks of the brake.
#[derive(Debug, Clone, Serialize)]
pub struct PracticeResult {
    /// The angle to bend to so that springback leaves the one wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub set_angle_deg: Option<RangeResult>,
    /// By the shops' rule.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub force_kn: Option<f64>,
    /// What an air bend over the die comes out with.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub air_bend_radius_mm: Option<RangeResult>,
    /// How much longer the blank would have to be for that radius.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub air_bend_flat_mm: Option<f64>,
}

/// A step of the bend order.
#[derive(Debug, Clone, Serialize)]
pub struct StepResult {
    /// From 1.
    pub step: usize,
    /// The bends made at once.
    pub bends: Vec<String>,
    /// The faces that they turn.
    pub faces: Vec<String>,
    /// The bend angle that is wanted.
    pub angle_deg: f64,
    /// The angle to bend to; of a hem that of the first hit.
    pub set_angle_deg: RangeResult,
    /// Whether a second hit presses it shut.
    pub pressed_shut: bool,
    /// Which face of the sheet is up.
    pub face_up: &'static str,
    /// Whether the sheet is turned over before.
    pub turn_over: bool,
    /// By how much it is turned in its plane before, counter-clockwise seen from its upper face.
    pub turned_deg: f64,
    /// The face whose side lies at the back.
    pub at_back: String,
    /// From the bend's middle to what rests against the back gauge.
    pub gauge_mm: Option<f64>,
    /// Whose edge or outside that is.
    pub gauge_on: Option<String>,
    /// Whether the gauge's finger is drawn back once the sheet is held, because metal swings into
    /// it.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub gauge_drawn_back: bool,
    /// Length of the bend.
    pub length_mm: f64,
    /// How much of it the tools cover.
    pub tool_mm: f64,
    /// Which fingers make that up.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fingers_mm: Option<Vec<f64>>,
    /// Force of a press brake.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub force_kn: Option<f64>,
    /// The same in words.
    #[serde(skip)]
    pub words: StepWords,
}

fn range(by: &ByYield<Angle>) -> RangeResult {
    RangeResult {
        low: rounded(by.low.degrees()),
        value: rounded(by.value.degrees()),
        high: rounded(by.high.degrees()),
    }
}

/// The brake's result.
pub(super) fn brake_result(part: &Part, bending: &Bending) -> BrakeResult {
    let setup = &bending.setup;
    let forces = bending
        .practice
        .iter()
        .filter_map(|practice| Some(practice.force.as_ref()?.shop.newtons() / 1000.0));
    BrakeResult {
        kind: match setup.kind {
            BrakeKind::Press => "press",
            BrakeKind::Leaf => "leaf",
            BrakeKind::Pan => "pan",
        },
        die: setup.die.as_ref().map(|die| die.name.clone()),
        die_opening_mm: setup.die.as_ref().map(|die| rounded(die.opening.mm())),
        reach_deg: rounded(setup.reach.degrees()),
        greatest_force_kn: forces.max_by(f64::total_cmp).map(rounded),
        dies: setup
            .dies
            .iter()
            .filter(|_| setup.kind == BrakeKind::Press)
            .map(|die| DieResult {
                name: die.name.clone(),
                opening_mm: rounded(die.opening.mm()),
                inside_radius_mm: air_bend_radius(die.opening, &part.material)
                    .map(|radius| rounded(radius.value.mm())),
                least_leg_mm: rounded(least_leg(die.opening).value.mm()),
            })
            .collect(),
    }
}

/// What bend `i` asks for.
pub(super) fn practice_result(bending: &Bending, i: usize) -> PracticeResult {
    let practice = &bending.practice[i];
    PracticeResult {
        set_angle_deg: practice.set.as_ref().map(range),
        force_kn: practice.force.as_ref().map(|force| rounded(force.shop.newtons() / 1000.0)),
        air_bend_radius_mm: practice.air.as_ref().map(|air| RangeResult {
            low: rounded(air.radius.low.mm()),
            value: rounded(air.radius.value.mm()),
            high: rounded(air.radius.high.mm()),
        }),
        air_bend_flat_mm: practice.air.as_ref().map(|air| rounded(air.longer)),
    }
}

/// The steps of the bend order.
#[must_use]
pub fn step_results(part: &Part, flat: &Flat, bending: &Bending) -> Vec<StepResult> {
    bending
        .steps()
        .iter()
        .enumerate()
        .map(|(i, step)| step_result(part, (flat, bending), i, step))
        .collect()
}

fn step_result(
    part: &Part,
    (flat, bending): (&Flat, &Bending),
    i: usize,
    step: &Step,
) -> StepResult {
    let stroke = &bending.strokes[step.stroke];
    let bend = &flat.bends[stroke.first()];
    let practice = &bending.practice[stroke.first()];
    let first_hit = rounded(bend.angle.degrees() * step.last);
    let name = |face: usize| {
        flat.tree.as_ref().map_or_else(String::new, |tree| tree.faces[face].name.clone())
    };
    let joint = |bend: &usize| {
        flat.tree
            .as_ref()
            .map_or((0, 0), |tree| (tree.bends[*bend].parent, tree.bends[*bend].child))
    };
    let (parent, child) = joint(&stroke.first());
    let forces = stroke
        .bends
        .iter()
        .filter_map(|bend| Some(bending.practice[*bend].force.as_ref()?.shop.newtons() / 1000.0));
    StepResult {
        step: i + 1,
        bends: stroke.bends.iter().map(|bend| flat.bends[*bend].name.clone()).collect(),
        faces: stroke.bends.iter().map(|bend| name(joint(bend).1)).collect(),
        angle_deg: rounded(bend.angle.degrees()),
        set_angle_deg: practice
            .set
            .as_ref()
            .map_or(RangeResult { low: first_hit, value: first_hit, high: first_hit }, range),
        pressed_shut: practice.is_hem,
        face_up: if step.upper_up { "upper" } else { "lower" },
        turn_over: step.turn_over,
        turned_deg: rounded(step.turned),
        at_back: name(if step.held == Held::Parent { parent } else { child }),
        gauge_mm: step.gauge.map(|gauge| rounded(gauge.distance)),
        gauge_on: step.gauge.map(|gauge| name(gauge.face)),
        gauge_drawn_back: step.gauge.is_some_and(|gauge| gauge.drawn_back),
        length_mm: rounded(stroke.extent[1] - stroke.extent[0]),
        tool_mm: rounded(step.span.covers.iter().map(|[from, to]| to - from).sum()),
        fingers_mm: step.span.fingers.clone(),
        force_kn: forces.reduce(|a, b| a + b).map(rounded),
        words: step_words(flat, bending, part.unit, i),
    }
}
