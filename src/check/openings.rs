//! Openings against what the torch cuts well, and slots against the tabs that go into them.

use crate::finding::{Finding, Grade, Measured, Rule, Sense};
use crate::flat::half_shell::has_wall;
use crate::flat::{Flat, openings_of};
use crate::formed::FaceBend;
use crate::geom::{Affine, Loop, Point, Polyarc, Segment, offset_closed};
use crate::part::{LEAST_KERFS, Part};
use crate::problem::Place;
use crate::shop::kerf::usual_kerf;
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::Length;

/// An opening so many times longer than wide is a slot: the torch goes down one side of it and back
/// up the other.
const SLOT_SHAPE: f64 = 2.0;

/// How far a tab's depth may be from the thickness that it goes through, as a share of it: flush
/// enough to weld (common practice, no source).
const DEPTH_SHARE: f64 = 0.25;

/// How far openings keep from bends, and where that comes from.
const CLEAR_OF_BENDS: &str =
    "hole edge at least 3 t from the tangent line: bending guideline, common practice";

/// Width of the cut, and where the figure comes from.
fn kerf_of(part: &Part) -> Option<(Length, &'static str)> {
    match part.shop.cutting.kerf {
        Some(kerf) => Some((kerf, "the shop's kerf")),
        None => usual_kerf(part.thickness, part.material.gauge_family)
            .map(|figure| (figure.value, "the usual kerf")),
    }
}

/// Openings narrower than the torch cuts well.
pub(super) fn small_openings(part: &Part, flat: &Flat) -> Vec<Finding> {
    let limit = part.thickness * 1.5;
    let mut findings = Vec::new();
    for (outline, opening) in flat.openings.iter().zip(openings_of(part, flat)) {
        // Slots for tabs have rules of their own.
        if opening.tab.is_some() {
            continue;
        }
        let width = narrowest(outline);
        let measured = Measured::length(Length::from_mm(width), Sense::AtLeast, limit);
        if !measured.holds() {
            let message = format!(
                "an opening {} wide is too small to cut well in this sheet",
                part.unit.brief(Length::from_mm(width), 2)
            );
            let source = "holes at least 1.5 t: cutting service's design guide, common practice";
            let finding =
                Finding::measured(Rule::OpeningWidth, measured, Grade::Over, message, source);
            findings.push(finding.remedy("mark its centre and drill it").at(&part.place));
        }
        if outline.length() / 2.0 - width > SLOT_SHAPE * width {
            findings
                .extend(slot_width(part, width, &opening.place).filter(|finding| !finding.is_ok()));
        }
    }
    findings
}

/// A slot against the width of the cut.
fn slot_width(part: &Part, width: f64, place: &Place) -> Option<Finding> {
    let (kerf, whose) = kerf_of(part)?;
    let limit = LEAST_KERFS * kerf.mm();
    let measured = Measured::length(Length::from_mm(width), Sense::AtLeast, Length::from_mm(limit));
    let ok = measured.holds();
    let show = |mm: f64| part.unit.show(Length::from_mm(mm));
    let message = if ok {
        format!("a slot {} wide, with a kerf of {}", show(width), show(kerf.mm()))
    } else {
        format!(
            "a slot {} wide is less than {LEAST_KERFS} times the kerf of {}: the torch cuts into its other side",
            show(width),
            show(kerf.mm())
        )
    };
    let remedy = if ok {
        String::new()
    } else {
        format!(
            "make it {} wide, use a finer nozzle, or cut it in one pass and file it",
            show(limit)
        )
    };
    let source = format!("{LEAST_KERFS} kerfs, common practice, no source; {whose}");
    Some(
        Finding::measured(Rule::SlotWidth, measured, Grade::Over, message, source)
            .remedy(remedy)
            .at(place),
    )
}

/// Slots for tabs: wide enough for the torch, and the sheet as thick as the tabs stand out.
pub(super) fn tab_slots(part: &Part, flat: &Flat) -> Vec<Finding> {
    let openings = openings_of(part, flat);
    let mut findings = Vec::new();
    // All slots of one item are alike.
    for group in openings.chunk_by(|a, b| a.place == b.place) {
        let Some(tab) = &group[0].tab else { continue };
        findings.extend(slot_width(part, tab.slot_width.mm(), &group[0].place));
        let (depth, thickness) = (tab.depth, part.thickness);
        let off = Length::from_mm((depth - thickness).mm().abs());
        let measured = Measured::length(off, Sense::AtMost, thickness * DEPTH_SHARE);
        let show = |length: Length| part.unit.show(length);
        let message = format!(
            "the tabs on `{}` of {} stand out {} and this sheet is {} thick",
            tab.edge,
            tab.file,
            show(depth),
            show(thickness)
        );
        let remedy = match (measured.holds(), depth < thickness) {
            (true, _) => "",
            (false, true) => {
                "they hardly reach through: give them `into:` with this part's file, or a greater `depth:`"
            }
            (false, false) => {
                "they stand out beyond it, where they must be dressed off: give them `into:` with this part's file, or a smaller `depth:`"
            }
        };
        let source = "tabs through the sheet and flush with it, to a quarter of its thickness: common practice, no source";
        let finding = Finding::measured(Rule::TabDepth, measured, Grade::Over, message, source);
        findings.push(finding.remedy(remedy).at(&group[0].place));
    }
    findings
}

/// About twice the largest inset that leaves anything: the width of an outline.
pub(super) fn narrowest(outline: &Polyarc) -> f64 {
    let (mut low, mut high) =
        (0.0, outline.bounds().width().min(outline.bounds().height()) / 2.0 + CURVE_TO_ARCS);
    for _ in 0..24 {
        let middle = f64::midpoint(low, high);
        if offset_closed(outline, -middle).is_empty() { high = middle } else { low = middle }
    }
    low * 2.0
}

/// Distance from an outline to a bend's zone, across it; negative where it reaches in. None where
/// it passes the zone's ends.
fn distance_to_zone(outline: &Polyarc, bend: &FaceBend) -> Option<f64> {
    let turned = Affine::rotate(-bend.toward.atan2());
    let zone = bend.outline().moved(turned).bounds();
    let own = outline.moved(turned).bounds();
    (own.y0 < zone.y1 && own.y1 > zone.y0).then(|| (own.x0 - zone.x1).max(zone.x0 - own.x1))
}

/// Openings whose edge lies in a bend, or nearer to it than it leaves them round.
pub(super) fn openings_near_bends(part: &Part, flat: &Flat) -> Vec<Finding> {
    let Some(tree) = &flat.tree else { return Vec::new() };
    let openings = tree.faces.iter().flat_map(|face| &face.openings);
    let mut findings = Vec::new();
    for (number, (outline, opening)) in flat.openings.iter().zip(openings).enumerate() {
        let which = format!("opening {}", number + 1);
        for bend in &tree.bends {
            let Some(distance) = distance_to_zone(outline, bend) else { continue };
            let measured =
                Measured::length(Length::from_mm(distance), Sense::AtLeast, part.thickness * 3.0);
            let ok = measured.holds();
            let apart = part.unit.show(Length::from_mm(distance));
            let (message, remedy) = if ok {
                (format!("{which} lies {apart} from {}", bend.name), "")
            } else if distance < 0.0 {
                let remedy = "move it out of the bend, or cut it after bending";
                (format!("{which} reaches into {}, which pulls it out of shape", bend.name), remedy)
            } else {
                let remedy = "move it away, cut it after bending, or let a relief slot end the bend before it";
                (
                    format!(
                        "{which} lies only {apart} from {}, which pulls it out of shape",
                        bend.name
                    ),
                    remedy,
                )
            };
            let finding = Finding::measured(
                Rule::OpeningToBend,
                measured,
                Grade::Over,
                message,
                CLEAR_OF_BENDS,
            );
            findings.push(finding.remedy(remedy).at(&opening.place));
        }
    }
    findings
}

/// Openings that reach into the bend, or nearer to it than forming leaves them round.
pub(super) fn openings_on_face(part: &Part, flat: &Flat) -> Vec<Finding> {
    let (Some(shell), Some(forming)) = (part.kind.half_shell(), &flat.forming) else {
        return Vec::new();
    };
    let wall = &forming.wall;
    let walls: Vec<(&Segment, f64)> = shell
        .profile
        .sides
        .sides
        .iter()
        .enumerate()
        .filter(|(i, _)| has_wall(shell, *i))
        .map(|(_, side)| (&side.segment, wall.tangent_inset()))
        .collect();
    let Some(face) = flat_face(&shell.profile.sides, wall.tangent_inset()) else {
        return Vec::new();
    };
    shell
        .openings
        .iter()
        .filter_map(|opening| {
            let outline = opening.outline.to_polyarc(CURVE_TO_ARCS);
            let nearest = outline
                .flatten(0.05)
                .iter()
                .map(|p| {
                    let distance = walls
                        .iter()
                        .map(|(s, inset)| distance_to_segment(s, *p) - inset)
                        .fold(f64::INFINITY, f64::min);
                    if face.contains(*p) || distance < 0.0 { distance } else { f64::INFINITY }
                })
                .fold(f64::INFINITY, f64::min);
            let measured =
                Measured::length(Length::from_mm(nearest), Sense::AtLeast, part.thickness * 3.0);
            let message = "this opening lies so near the bend that hammering pulls it out of shape";
            let finding = Finding::measured(
                Rule::OpeningToBend,
                measured,
                Grade::Over,
                message,
                CLEAR_OF_BENDS,
            );
            (!measured.holds())
                .then(|| finding.remedy("move it in, or cut it after forming").at(&opening.place))
        })
        .collect()
}

fn distance_to_segment(segment: &Segment, point: Point) -> f64 {
    let steps = if segment.is_straight() { 1 } else { 64 };
    (0..steps)
        .map(|i| {
            let (a, b) = (
                segment.point_at(f64::from(i) / f64::from(steps)),
                segment.point_at(f64::from(i + 1) / f64::from(steps)),
            );
            let along = ((point - a).dot(b - a) / (b - a).hypot2()).clamp(0.0, 1.0);
            point.distance(a.lerp(b, along))
        })
        .fold(f64::INFINITY, f64::min)
}

/// The outline of a face with its tangent line, for openings that must stay inside it.
fn flat_face(face: &Loop, inset: f64) -> Option<Polyarc> {
    offset_closed(&face.to_polyarc(CURVE_TO_ARCS), -inset)
        .into_iter()
        .max_by(|a, b| a.area().total_cmp(&b.area()))
}
