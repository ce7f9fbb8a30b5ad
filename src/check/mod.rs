//! Step 4: takes a `Part`, its `Flat` and its `Bending`, gives the findings: every rule that applies, its limit, the part's value and what to
//! do.

mod bending;

use self::bending::{brake, flanges, legs};
use crate::bending::Bending;
use crate::flat::{Dart, EdgeStrain, Finding, Flat, FlatBend};
use crate::formed::{FoldTree, Piece, SheetMesh, collisions, least_return};
use crate::part::{Flange, Grain, Hem, HemKind, Kind, Part};
use crate::problem::{Code, Place, Problem};
use crate::shop::material::StrainLimit;
use crate::shop::minimum_radius::{BendLine, minimum_radius};
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::{Angle, Digits, Length};
use std::fmt::Write;

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
    let own = flat.tree.iter().flat_map(|tree| runs_into_itself(part, flat, tree)).collect::<Vec<_>>();
    findings.extend(bending.iter().flat_map(|bending| brake(part, flat, bending, !own.is_empty())));
    findings.extend(own);
    findings.extend(edge_strains(part, flat));
    findings.extend(small_openings(part, flat));
    findings
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

fn edge_radius(part: &Part, radius: Length, angle: Angle, place: &Place) -> Option<Finding> {
    radius_finding(part, "the edge radius", radius, angle, BendLine::Unknown, place)
}

fn radius_finding(part: &Part, name: &str, radius: Length, angle: Angle, line: BendLine, place: &Place) -> Option<Finding> {
    let least = minimum_radius(&part.material, part.thickness, angle, line).ok()?;
    let ok = radius.mm() >= least.radius.mm() - 1e-9;
    let shown = part.unit.show(least.radius);
    let message = if ok {
        format!("{name}: inside radius {}", part.unit.show(radius))
    } else {
        format!("{name}: an inside radius of {} cracks {} of this thickness", part.unit.show(radius), part.material.name)
    };
    let help = if ok { String::new() } else { format!("make it {shown} at least, or anneal first and bend a test strip") };
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

/// The worst stretch and the worst shrink of the free edges against the limits.
fn edge_strains(part: &Part, flat: &Flat) -> Vec<Finding> {
    let Some(forming) = &flat.forming else { return Vec::new() };
    let own = &part.material.edge_limits;
    let place = &part.place;
    let stretch = part.shop.stretch.unwrap_or(own.stretch);
    let shrink = part.shop.shrink.unwrap_or(own.shrink);
    let source = |given: bool| if given { "limits in the shop file".to_owned() } else { own.source.clone() };
    let worst = |sign: f64| forming.edge.iter().max_by(|a, b| (a.strain * sign).total_cmp(&(b.strain * sign)));
    let mut findings = Vec::new();
    for (code, sign, limit, given) in [
        (Code::EdgeStretch, 1.0, stretch, part.shop.stretch.is_some()),
        (Code::EdgeShrink, -1.0, shrink, part.shop.shrink.is_some()),
    ] {
        let Some(edge) = worst(sign).filter(|edge| edge.strain * sign > 0.0) else { continue };
        let darts: Vec<&Dart> = forming.darts.iter().filter(|dart| dart.opens == (sign > 0.0)).collect();
        let (message, help, passes) = strain_words(part, edge, sign, limit, &darts);
        findings.push(Finding {
            problem: Problem::new(code, message, help).at(place.clone()),
            limit: limit.stop,
            value: edge.strain * sign,
            ok: passes,
            source: source(given),
        });
    }
    findings
}

/// What an edge strain means: the message, what to do, and whether it is within the stop limit.
fn strain_words(part: &Part, edge: &EdgeStrain, sign: f64, limit: StrainLimit, darts: &[&Dart]) -> (String, String, bool) {
    let value = edge.strain * sign;
    let does = if sign > 0.0 { "stretches" } else { "shrinks" };
    let percent = |x: f64| Digits(x * 100.0, 1).to_string();
    let place = if edge.radius.is_finite() {
        format!("the outline curves with a radius of {}", part.unit.show(Length::from_mm(edge.radius.abs())))
    } else {
        "the wall's depth changes".to_owned()
    };
    let mut message = format!("the edge {does} {} % ({} mm in every 100) where {place}", percent(value), percent(value));
    let waves = wave_onset(edge.width, part.thickness.mm(), part.material.hardening_exponent.value);
    if sign < 0.0 && value > waves {
        let _ = write!(message, "; left free it waves from {} % on, which tucks and the hammer must take up", percent(waves));
    }
    let necks = part.material.hardening_exponent.value.exp_m1();
    if sign > 0.0 && value > necks {
        let _ = write!(message, "; beyond {} %, its uniform elongation, the metal necks", percent(necks));
    }
    if value <= limit.caution {
        return (message, String::new(), true);
    }
    // The first estimate e = 1 - (1 + width/radius)^-1 for shrink, its twin for stretch, scaled to what the solution gives here.
    let growth = |strain: f64| if sign > 0.0 { strain / (1.0 + strain) } else { strain / (1.0 - strain) };
    let ratio = growth(value) / growth(limit.caution);
    let wider = if edge.radius.is_finite() {
        format!("a radius of about {}", part.unit.show(Length::from_mm(edge.radius.abs() * ratio)))
    } else {
        "a change of depth spread over a longer stretch".to_owned()
    };
    let width = part.unit.show(Length::from_mm(edge.width / ratio));
    let easier =
        format!("{wider}, or a wall developed to about {width}, stays within the {} % of caution", percent(limit.caution));
    if value <= limit.stop {
        let way = if sign > 0.0 { "file the edge smooth and go down in many passes" } else { "tuck and shrink in many passes" };
        return (format!("caution: {message}"), format!("{way}; {easier}"), true);
    }
    let way = match (sign > 0.0, dart_words(part, darts)) {
        (true, None) => "the edge is likely to tear: anneal between passes, or cut it and weld a piece in".to_owned(),
        (false, None) => {
            "it is more than hammering takes up: cut darts out and weld them, or make this end as a cap of its own".to_owned()
        }
        (true, Some(darts)) => format!("the edge is likely to tear: anneal between passes, or {darts}"),
        (false, Some(darts)) => format!("it is more than hammering takes up: {darts}, or make this end as a cap of its own"),
    };
    (format!("stop: {message}"), format!("{way}; {easier}"), false)
}

/// What the scribed darts ask: how many, how wide and long, their stop holes, and the weld they owe.
fn dart_words(part: &Part, darts: &[&Dart]) -> Option<String> {
    let first = darts.first()?;
    let show = |mm: f64| part.unit.show(Length::from_mm(mm));
    let most = |of: fn(&Dart) -> f64| show(darts.iter().map(|dart| of(dart)).fold(0.0, f64::max));
    let weld = show(darts.iter().map(|dart| dart.weld()).sum());
    let (length, hole, width) = (most(Dart::length), show(first.hole), show(first.width));
    let count = darts.len();
    Some(if first.opens {
        format!(
            "slit it along the {count} scribed lines, up to {length} long, each ending in a drilled hole of {hole}, and weld a gusset \
             about {width} wide into each gap: {weld} of weld"
        )
    } else {
        format!(
            "cut out the {count} scribed darts, {width} wide and up to {length} long, each ending in a drilled hole of {hole}, and weld \
             them shut: {weld} of weld"
        )
    })
}

/// Shrink (logarithmic, which at such sizes is the engineering one too) from which a wall held at its bend waves, its edge free:
/// e = 1.28 π²/9 (t/h)² (0.33 + 0.67 √(0.25 + 0.75 n)), t thickness, h height, n hardening exponent. Secant and tangent moduli of a plate
/// with one long edge free (E. Z. Stowell, NACA report 898, 1948; the form from memory). A reminder: it has not been tried against walls.
fn wave_onset(height: f64, thickness: f64, hardening: f64) -> f64 {
    let plate = 1.28 * std::f64::consts::PI.powi(2) / 9.0 * (thickness / height).powi(2);
    plate * (0.33 + 0.67 * (0.25 + 0.75 * hardening).sqrt())
}

/// Openings narrower than the torch cuts well.
fn small_openings(part: &Part, flat: &Flat) -> Vec<Finding> {
    let limit = part.thickness.mm() * 1.5;
    flat.openings
        .iter()
        .filter_map(|opening| {
            let width = narrowest(opening);
            (width < limit).then(|| Finding {
                problem: Problem::new(
                    Code::SmallOpening,
                    format!("an opening {} mm wide is too small to cut well in this sheet", Digits(width, 2)),
                    "mark its centre and drill it",
                )
                .at(part.place.clone()),
                limit,
                value: width,
                ok: false,
                source: "holes at least 1.5 t: cutting service's design guide, common practice".to_owned(),
            })
        })
        .collect()
}

/// About twice the largest inset that leaves anything: the width of an outline.
fn narrowest(outline: &crate::geom::Polyarc) -> f64 {
    let (mut low, mut high) = (0.0, outline.bounds().width().min(outline.bounds().height()) / 2.0 + CURVE_TO_ARCS);
    for _ in 0..24 {
        let middle = f64::midpoint(low, high);
        if crate::geom::offset_closed(outline, -middle).is_empty() { high = middle } else { low = middle }
    }
    low * 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, from the formula: t 1.8, n 0.17; heights 10, 15, 20, 25 give 3.4, 1.5, 0.84, 0.54 %.
    #[test]
    fn high_walls_wave_early() {
        for (height, percent, digit) in [(10.0, 3.4, 0.05), (15.0, 1.5, 0.05), (20.0, 0.84, 0.005), (25.0, 0.54, 0.005)] {
            assert!((100.0 * wave_onset(height, 1.8, 0.17) - percent).abs() <= digit, "{height}");
        }
    }
}
