//! Step 4: takes a `Part` and its `Flat`, gives the findings: every rule that applies, its limit, the part's value and what to do.

use crate::flat::{Dart, EdgeStrain, Finding, Flat, FlatBend};
use crate::part::{Bent, Grain, Kind, Part};
use crate::problem::{Code, Place, Problem};
use crate::shop::brake::{least_leg, usual_die_opening};
use crate::shop::material::StrainLimit;
use crate::shop::minimum_radius::{BendLine, minimum_radius};
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::{Angle, Digits, Length};
use std::fmt::Write;

/// Every rule that applies to the part.
#[must_use]
pub fn check(part: &Part, flat: &Flat) -> Vec<Finding> {
    let mut findings = flat.findings.clone();
    match &part.kind {
        Kind::Bent(bent) => {
            findings.extend(bend_radii(part, flat));
            findings.extend(legs(part, bent, flat));
        }
        Kind::HalfShell(shell) => {
            findings.extend(edge_radius(
                part,
                shell.inside_radius,
                Angle::from_degrees(90.0) - shell.draft,
                &shell.profile_place,
            ));
        }
        Kind::Plate(_) => {}
    }
    findings.extend(edge_strains(part, flat));
    findings.extend(small_openings(part, flat));
    findings
}

/// How a bend line along y lies to the grain of the blank.
fn bend_line(grain: Grain) -> BendLine {
    match grain {
        Grain::Any => BendLine::Unknown,
        // The bends of a section run along y, so a grain along x is square to them.
        Grain::Along => BendLine::AcrossGrain,
        Grain::Across => BendLine::AlongGrain,
    }
}

fn bend_radii(part: &Part, flat: &Flat) -> Vec<Finding> {
    let line = bend_line(part.grain);
    flat.bends
        .iter()
        .filter_map(|bend| radius_finding(part, &bend.name, bend.inside_radius, bend.angle, line, &bend.place))
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

/// Every leg must reach over half the die, or the brake cannot hold it.
fn legs(part: &Part, bent: &Bent, flat: &Flat) -> Vec<Finding> {
    let usual = usual_die_opening(part.thickness);
    let own = part.shop.brake.as_ref().and_then(|brake| {
        let wanted = usual.as_ref()?.value.mm();
        brake.dies.iter().map(|(_, opening)| *opening).min_by(|a, b| (a.mm() - wanted).abs().total_cmp(&(b.mm() - wanted).abs()))
    });
    let Some(opening) = own.or(usual.map(|figure| figure.value)) else { return Vec::new() };
    let least = least_leg(opening);
    let bends = &flat.bends;
    let mut findings = Vec::new();
    for (i, leg) in bent.legs.iter().enumerate() {
        // From the outside mould line of the bend to the leg's other end: what lies over the die.
        let far_start = if i == 0 { 0.0 } else { zone_end(&bends[i - 1], true) };
        let far_end = bends.get(i).map_or(flat.net.bounds().x1, |bend| zone_end(bend, false));
        let neighbours = [(i.checked_sub(1).and_then(|k| bends.get(k)), far_end), (bends.get(i), far_start)];
        for (bend, other) in neighbours {
            let Some(bend) = bend else { continue };
            let from = bend.line[0].x;
            let reach = (other - from).abs() + bend.developed.deduction.mm() / 2.0;
            let ok = reach >= least.value.mm() - 1e-9;
            let message = if ok {
                format!("leg {} reaches {} from {}", i + 1, part.unit.show(Length::from_mm(reach)), bend.name)
            } else {
                format!(
                    "leg {} is too short to be bent over a die of {} opening at {}",
                    i + 1,
                    part.unit.show(opening),
                    bend.name
                )
            };
            let help = if ok {
                ""
            } else {
                "use a narrower die, make the leg longer and trim it after bending, or bend it over a block"
            };
            findings.push(Finding {
                problem: Problem::new(Code::ShortLeg, message, help).at(leg.place.clone()),
                limit: least.value.mm(),
                value: reach,
                ok,
                source: least.source.clone(),
            });
        }
    }
    findings
}

/// Where a bend's zone ends, toward higher x or lower.
fn zone_end(bend: &FlatBend, upper: bool) -> f64 {
    let half = bend.developed.allowance.mm() / 2.0;
    if upper { bend.line[0].x + half } else { bend.line[0].x - half }
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
    let mut message = format!(
        "the edge {does} {} % ({} mm in every 100) where the outline curves with a radius of {}",
        percent(value),
        percent(value),
        part.unit.show(Length::from_mm(edge.radius.abs()))
    );
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
    let radius = part.unit.show(Length::from_mm(edge.radius.abs() * ratio));
    let width = part.unit.show(Length::from_mm(edge.width / ratio));
    let easier = format!(
        "a radius of about {radius}, or a wall developed to about {width}, stays within the {} % of caution",
        percent(limit.caution)
    );
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
