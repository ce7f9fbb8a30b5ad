//! Step 4: takes a `Part`, its `Flat` and its `Bending`, gives the findings: every rule that applies, its limit, the part's value and what to
//! do.

mod bending;
mod edge_strains;
mod forming_limit;
mod no_blank;
mod openings;

use self::bending::{brake, flanges, legs};
use self::edge_strains::edge_strains;
pub(crate) use self::edge_strains::name_lower_walls;
use self::forming_limit::forming_limit;
pub(crate) use self::no_blank::{crown_with_a_blank, no_blank};
use self::openings::{small_openings, tab_slots};
use crate::bending::Bending;
use crate::flat::{Finding, Flat, FlatBend};
use crate::formed::{FoldTree, Piece, SheetMesh, collisions, developed_edge, least_return};
use crate::part::{Flange, Grain, Hem, HemKind, Kind, Part};
use crate::problem::{Code, Place, Problem};
use crate::shop::bend_rule::USUAL_K;
use crate::shop::minimum_radius::{BendLine, RadiusRule, minimum_radius};
use crate::units::{Angle, Digits, Length};

/// Every rule that applies to the part.
#[must_use]
pub fn check(part: &Part, flat: &Flat, bending: Option<&Bending>) -> Vec<Finding> {
    let mut findings = flat.findings.clone();
    match &part.kind {
        Kind::Bent(bent) => {
            findings.extend(bend_radii(part, flat));
            findings.extend(bending.iter().flat_map(|bending| legs(part, bent, flat, bending)));
        }
        Kind::HalfShell(shell) => {
            findings.extend(edge_radius(
                part,
                shell.inside_radius,
                Angle::from_degrees(90.0) - shell.draft,
                &shell.profile_place,
            ));
        }
        Kind::Folded(folded) => {
            findings.extend(bend_radii(part, flat));
            findings.extend(bending.iter().flat_map(|bending| flanges(part, flat, bending)));
            hems(part, &folded.flanges, &mut findings);
        }
        Kind::Plate(_) => {}
    }
    findings.extend(unusual_k(part, flat));
    let own = flat.tree.iter().flat_map(|tree| runs_into_itself(part, flat, tree)).collect::<Vec<_>>();
    findings.extend(bending.iter().flat_map(|bending| brake(part, flat, bending, !own.is_empty())));
    findings.extend(own);
    findings.extend(edge_strains(part, flat));
    findings.extend(forming_limit(part, flat));
    findings.extend(small_openings(part, flat));
    findings.extend(tab_slots(part, flat));
    findings
}

/// The rules that apply to a half-shell without a blank.
#[must_use]
pub fn check_without_blank(part: &Part) -> Vec<Finding> {
    let Kind::HalfShell(shell) = &part.kind else { return Vec::new() };
    let angle = Angle::from_degrees(90.0) - shell.draft;
    edge_radius(part, shell.inside_radius, angle, &shell.profile_place).into_iter().collect()
}

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

fn bend_radii(part: &Part, flat: &Flat) -> Vec<Finding> {
    // Hems are folded past what the limit is for; they have rules of their own.
    let limited = flat.bends.iter().filter(|bend| bend.angle.degrees() < 180.0 - 1e-9);
    limited
        .filter_map(|bend| {
            radius_finding(part, &bend.name, bend.inside_radius, bend.angle, bend_line(part.grain, bend), &bend.place)
        })
        .collect()
}

/// Bends whose K is to be doubted, a measured strip's above all: the blank is made with it all the same.
fn unusual_k(part: &Part, flat: &Flat) -> Vec<Finding> {
    let edge = developed_edge(part);
    let at_edge = edge.iter().map(|developed| ("the edge", developed, &part.place));
    let bends = flat.bends.iter().map(|bend| (bend.name.as_str(), &bend.developed, &bend.place));
    let doubted = at_edge.chain(bends).flat_map(|(name, developed, place)| {
        developed.notes.iter().map(move |note| {
            let message = format!("caution: {name}: {note} ({})", developed.basis);
            Finding {
                problem: Problem::new(Code::UnusualK, message, "measure a strip of this sheet anew").at(place.clone()),
                limit: *USUAL_K.start(),
                value: developed.k_factor,
                ok: true,
                source: "K as bends are measured: common practice, no source".to_owned(),
            }
        })
    });
    doubted.collect()
}

fn edge_radius(part: &Part, radius: Length, angle: Angle, place: &Place) -> Option<Finding> {
    radius_finding(part, "the edge radius", radius, angle, BendLine::Unknown, place)
}

fn radius_finding(part: &Part, name: &str, radius: Length, angle: Angle, line: BendLine, place: &Place) -> Option<Finding> {
    let least = minimum_radius(&part.material, part.thickness, angle, line).ok()?;
    let ok = least.allows(radius);
    let (own, shown) = (part.unit.show(radius), part.unit.show(least.radius));
    let message = if !ok {
        let whose = if matches!(part.material.radius_rule, RadiusRule::TimesThickness(_)) { "rule" } else { "table" };
        format!("{name}: {own} inside is tighter than the {whose}'s {shown} ({})", least.source)
    } else if radius.mm() < least.radius.mm() - 1e-9 {
        format!("{name}: inside radius {own}, which the table's {shown} is but for its rounding")
    } else {
        format!("{name}: inside radius {own}")
    };
    let help = if ok { String::new() } else { format!("bend a test strip first, or make it {shown} at least") };
    Some(Finding {
        problem: Problem::new(Code::MinimumRadius, message, help).at(place.clone()),
        limit: least.radius.mm(),
        value: radius.mm(),
        ok,
        source: least.source,
    })
}

/// Hems, whose return must be long enough to be pressed.
fn hems(part: &Part, flanges: &[Flange], findings: &mut Vec<Finding>) {
    for flange in flanges {
        if let Some(hem) = &flange.hem {
            let least = least_return(hem, part.thickness);
            let ok = hem.return_length >= least;
            let shown = part.unit.show(hem.return_length);
            let message =
                if ok { format!("hem: return {shown}") } else { format!("a hem with a return of {shown} is hard to fold") };
            let help =
                if ok { String::new() } else { format!("make it {} at least, or trim it after folding", part.unit.show(least)) };
            if hem.kind == HemKind::Closed {
                findings.push(closed_hem(part, hem));
            }
            findings.push(Finding {
                problem: Problem::new(Code::ShortHem, message, help).at(hem.place.clone()),
                limit: least.mm(),
                value: hem.return_length.mm(),
                ok,
                source: "return at least 4 T + R: hem notes of shop pages, common practice".to_owned(),
            });
        }
        hems(part, &flange.flanges, findings);
    }
}

/// Elongation at break under which sheet is not folded shut. Hem notes of shop pages fold soft sheet shut and hem 4130 in its normalized condition (10
/// to 12 %) open or as a teardrop only; the line between them is common practice, no source.
const ELONGATION_TO_FOLD_SHUT: f64 = 0.2;

/// A hem folded shut bends on no radius at all: only soft sheet takes that.
fn closed_hem(part: &Part, hem: &Hem) -> Finding {
    let elongation = part.material.elongation.value;
    let ok = elongation >= ELONGATION_TO_FOLD_SHUT;
    let name = &part.material.name;
    let message = if ok {
        format!("hem folded shut: {name} is soft enough")
    } else {
        format!("a hem folded shut cracks {name}, which stretches {} % at most", Digits(elongation * 100.0, 1))
    };
    let help = if ok { "" } else { "make it an open or a teardrop hem, or anneal the edge first" };
    Finding {
        problem: Problem::new(Code::ClosedHem, message, help).at(hem.place.clone()),
        limit: ELONGATION_TO_FOLD_SHUT,
        value: elongation,
        ok,
        source: "elongation of the sheet; closed hems in soft sheet only: common practice, no source".to_owned(),
    }
}

/// The blank folded up again: two of its faces or bends in one place.
fn runs_into_itself(part: &Part, flat: &Flat, tree: &FoldTree) -> Vec<Finding> {
    let source = "geometry: the blank folded up in the real thickness".to_owned();
    let Some(mesh) = SheetMesh::new(tree, &flat.outside, &flat.openings) else {
        let message = "this blank could not be folded up by the program, so nobody has looked whether it runs into itself";
        let problem = Problem::new(Code::Collision, message, "fold it in card first, and please report it, with this file");
        return vec![Finding { problem: problem.at(part.place.clone()), limit: 0.0, value: 1.0, ok: false, source }];
    };
    let name = |piece: Piece| match piece {
        Piece::Face(i) => format!("`{}`", tree.faces[i].name),
        Piece::Bend(i) => format!("{} (at `{}`)", tree.bends[i].name, tree.faces[tree.bends[i].child].name),
    };
    let place = |piece: Piece| match piece {
        Piece::Face(i) => tree.faces[i].bend.map_or(part.place.clone(), |bend| tree.bends[bend].place.clone()),
        Piece::Bend(i) => tree.bends[i].place.clone(),
    };
    collisions(&mesh, &tree.folded())
        .into_iter()
        .map(|hit| {
            let [one, two] = hit.pieces;
            let [x, y, z] = hit.at.map(|x| Digits(x, 1));
            let message = format!("folded up, {} runs into {} at [{x}, {y}, {z}] mm", name(two), name(one));
            let help = "cut one of them back, make it lower, or give the corner a joint and a gap";
            Finding {
                problem: Problem::new(Code::Collision, message, help).at(place(two)),
                limit: 0.0,
                value: 1.0,
                ok: false,
                source: source.clone(),
            }
        })
        .collect()
}
