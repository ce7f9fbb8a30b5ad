//! What the metal itself asks: radii of bends, K-factors, hems, and room for the folded part.

use crate::finding::{Finding, Grade, Measured, Rule, Sense};
use crate::flat::{Flat, FlatBend};
use crate::formed::{FoldTree, Piece, SheetMesh, collisions, developed_edge, least_return};
use crate::part::{Flange, Grain, Hem, HemKind, Part};
use crate::problem::Place;
use crate::shop::bend_rule::USUAL_K;
use crate::shop::minimum_radius::{BendLine, RadiusRule, minimum_radius};
use crate::units::{Angle, Digits, Length};

/// How a bend lies to the grain of the blank: along it or across it where that is plain.
fn bend_line(grain: Grain, bend: &FlatBend) -> BendLine {
    let [from, to] = bend.line;
    let run = (to - from).normalize();
    let along_grain = match grain {
        Grain::Any => return BendLine::Unknown,
        Grain::Along => run.x.abs(),
        Grain::Across => run.y.abs(),
    };
    // Within 15 degrees; one that lies aslant is taken as unknown.
    if along_grain > 0.966 {
        BendLine::AlongGrain
    } else if along_grain < 0.259 {
        BendLine::AcrossGrain
    } else {
        BendLine::Unknown
    }
}

pub(super) fn bend_radii(part: &Part, flat: &Flat) -> Vec<Finding> {
    // Hems are folded past what the limit is for; they have rules of their own.
    let limited = flat.bends.iter().filter(|bend| bend.angle.degrees() < 180.0 - 1e-9);
    limited
        .filter_map(|bend| {
            radius_finding(
                part,
                &bend.name,
                bend.inside_radius,
                bend.angle,
                bend_line(part.grain, bend),
                &bend.place,
            )
        })
        .collect()
}

/// Bends whose K is to be doubted, a measured strip's above all: the blank is made with it all the
/// same.
pub(super) fn k_factors(part: &Part, flat: &Flat) -> Vec<Finding> {
    let edge = developed_edge(part);
    let at_edge = edge.iter().map(|developed| ("the edge", developed, &part.place));
    let bends = flat.bends.iter().map(|bend| (bend.name.as_str(), &bend.developed, &bend.place));
    let doubted = at_edge.chain(bends).flat_map(|(name, developed, place)| {
        developed.notes.iter().map(move |note| {
            let message = format!("{name}: {note} ({})", developed.basis);
            let source = "K as bends are measured: common practice, no source";
            let k = developed.k_factor;
            let bound = if k < *USUAL_K.start() {
                (Sense::AtLeast, *USUAL_K.start())
            } else {
                (Sense::AtMost, *USUAL_K.end())
            };
            let finding = Finding::new(Rule::KFactor, Grade::Care, message, source);
            let finding = finding.broken_by(Measured::number(k, bound.0, bound.1));
            finding.remedy("measure a strip of this sheet anew").at(place)
        })
    });
    doubted.collect()
}

pub(super) fn edge_radius(
    part: &Part,
    radius: Length,
    angle: Angle,
    place: &Place,
) -> Option<Finding> {
    radius_finding(part, "the edge radius", radius, angle, BendLine::Unknown, place)
}

fn radius_finding(
    part: &Part,
    name: &str,
    radius: Length,
    angle: Angle,
    line: BendLine,
    place: &Place,
) -> Option<Finding> {
    let least = minimum_radius(&part.material, part.thickness, angle, line).ok()?;
    // What only the table's rounding allows is held to that, all else to what the table prints.
    let allowed = if radius < least.radius && least.allows(radius) {
        least.radius - least.rounding
    } else {
        least.radius
    };
    let measured = Measured::length(radius, Sense::AtLeast, allowed);
    let ok = measured.holds();
    let (own, shown) = (part.unit.show(radius), part.unit.show(least.radius));
    let message = if !ok {
        let whose = if matches!(part.material.radius_rule, RadiusRule::TimesThickness(_)) {
            "rule"
        } else {
            "table"
        };
        format!("{name}: {own} inside is tighter than the {whose}'s {shown} ({})", least.source)
    } else if radius.mm() < least.radius.mm() - 1e-9 {
        format!("{name}: inside radius {own}, which the table's {shown} is but for its rounding")
    } else {
        format!("{name}: inside radius {own}")
    };
    let remedy = if ok {
        String::new()
    } else {
        format!("bend a test strip first, or make it {shown} at least")
    };
    Some(
        Finding::measured(Rule::MinimumRadius, measured, Grade::Over, message, least.source)
            .remedy(remedy)
            .at(place),
    )
}

/// Hems, whose return must be long enough to be pressed.
pub(super) fn hems(part: &Part, flanges: &[Flange], findings: &mut Vec<Finding>) {
    for flange in flanges {
        if let Some(hem) = &flange.hem {
            let least = least_return(hem, part.thickness);
            let measured = Measured::length(hem.return_length, Sense::AtLeast, least);
            let ok = measured.holds();
            let shown = part.unit.show(hem.return_length);
            let message = if ok {
                format!("hem: return {shown}")
            } else {
                format!("a hem with a return of {shown} is hard to fold")
            };
            let remedy = if ok {
                String::new()
            } else {
                format!("make it {} at least, or trim it after folding", part.unit.show(least))
            };
            if hem.kind == HemKind::Closed {
                findings.push(closed_hem(part, hem));
            }
            let source = "return at least 4 T + R: hem notes of shop pages, common practice";
            let finding =
                Finding::measured(Rule::HemReturn, measured, Grade::Over, message, source);
            findings.push(finding.remedy(remedy).at(&hem.place));
        }
        hems(part, &flange.flanges, findings);
    }
}

/// Elongation at break under which sheet is not folded shut. Hem notes of shop pages fold soft
/// sheet shut and hem 4130 in its normalized condition (10 to 12 %) open or as a teardrop only; the
/// line between them is common practice, no source.
const ELONGATION_TO_FOLD_SHUT: f64 = 0.2;

/// A hem folded shut bends on no radius at all: only soft sheet takes that.
fn closed_hem(part: &Part, hem: &Hem) -> Finding {
    let elongation = part.material.elongation.value;
    let measured = Measured::share(elongation, Sense::AtLeast, ELONGATION_TO_FOLD_SHUT);
    let ok = measured.holds();
    let name = &part.material.name;
    let message = if ok {
        format!("hem folded shut: {name} is soft enough")
    } else {
        format!(
            "a hem folded shut cracks {name}, which stretches {} % at most",
            Digits(elongation * 100.0, 1)
        )
    };
    let remedy =
        if ok { "" } else { "make it an open or a teardrop hem, or anneal the edge first" };
    let source =
        "elongation of the sheet; closed hems in soft sheet only: common practice, no source";
    Finding::measured(Rule::ClosedHem, measured, Grade::Over, message, source)
        .remedy(remedy)
        .at(&hem.place)
}

/// The blank folded up again: two of its faces or bends in one place.
pub(super) fn room_when_folded(part: &Part, flat: &Flat, tree: &FoldTree) -> Vec<Finding> {
    let source = "geometry: the blank folded up in the real thickness";
    let over = |message: String, remedy: &str, place: &Place| {
        Finding::new(Rule::FoldedRoom, Grade::Over, message, source).remedy(remedy).at(place)
    };
    let Some(mesh) = SheetMesh::new(tree, &flat.outside, &flat.openings) else {
        let message = "this blank could not be folded up by the program, so nobody has looked whether it runs into itself";
        let remedy = "fold it in card first, and please report it, with this file";
        return vec![over(message.to_owned(), remedy, &part.place)];
    };
    let name = |piece: Piece| match piece {
        Piece::Face(i) => format!("`{}`", tree.faces[i].name),
        Piece::Bend(i) => {
            format!("{} (at `{}`)", tree.bends[i].name, tree.faces[tree.bends[i].child].name)
        }
    };
    let place = |piece: Piece| match piece {
        Piece::Face(i) => {
            tree.faces[i].bend.map_or(part.place.clone(), |bend| tree.bends[bend].place.clone())
        }
        Piece::Bend(i) => tree.bends[i].place.clone(),
    };
    collisions(&mesh, &tree.folded())
        .into_iter()
        .map(|hit| {
            let [one, two] = hit.pieces;
            let [x, y, z] = hit.at.map(|x| Digits(x, 1));
            let message =
                format!("folded up, {} runs into {} at [{x}, {y}, {z}] mm", name(two), name(one));
            over(
                message,
                "cut one of them back, make it lower, or give the corner a joint and a gap",
                &place(two),
            )
        })
        .collect()
}
