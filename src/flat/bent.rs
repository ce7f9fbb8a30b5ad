//! The flat of a bent section: flats between tangent lines, and the allowance of each bend between them.

use super::plate::add_openings;
use super::{Finding, Flat, FlatBend};
use crate::geom::{Affine, Point, Polyarc, Rect, Segment};
use crate::part::{Bent, LegDims, Opening, Part, lies_inside};
use crate::problem::{Checked, Code, Problem};
use crate::shop::bend_rule::{DevelopedBend, StraightBend};
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::Length;

/// How far a leg's measure reaches past the tangent line of the bend at its end, mm.
fn reach(bent: &Bent, bend: &StraightBend, developed: &DevelopedBend) -> f64 {
    let half_tangent = (bend.bend_angle().radians() / 2.0).tan();
    match bent.dims {
        LegDims::Inside => bend.inside_radius().mm() * half_tangent,
        LegDims::Flat => 0.0,
        // Past 90 degrees to the outer tangent, which lies R + T beyond the tangent line.
        LegDims::Edge if bend.bend_angle().degrees() > 90.0 + 1e-9 => (bend.inside_radius() + bend.thickness()).mm(),
        LegDims::Outside | LegDims::Edge => developed.outside_setback.mm(),
    }
}

pub(super) fn flatten(part: &Part, bent: &Bent) -> Checked<Flat> {
    let mut problems = Vec::new();
    let mut developed = Vec::new();
    for bend in &bent.bends {
        let straight = StraightBend::new(bend.inside_radius, part.thickness, bend.angle.abs());
        let result = straight
            .map_err(|e| e.to_string())
            .and_then(|straight| part.bend_rule.develop(&straight).map(|d| (straight, d)).map_err(|e| e.to_string()));
        match result {
            Ok(pair) => developed.push(pair),
            Err(message) => {
                let help = "measure a strip of this sheet and radius, or choose another bend_allowance";
                problems.push(Problem::new(Code::UnknownName, message, help).at(bend.place.clone()));
            }
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let flats = flats_between(part, bent, &developed)?;
    let depth = bent.depth.mm();
    let total: f64 = flats.iter().sum::<f64>() + developed.iter().map(|(_, d)| d.allowance.mm()).sum::<f64>();
    let mut flat = Flat::plain(Polyarc::rectangle(Rect::new(0.0, 0.0, total, depth)), Vec::new());
    let mut x = 0.0;
    for (i, leg_flat) in flats.iter().enumerate() {
        let start = x;
        x += leg_flat;
        // A leg's own x runs from its start mould line, the first leg's from its free end.
        let origin = if i == 0 { start } else { start - developed[i - 1].1.outside_setback.mm() };
        place_openings(part, bent, i, origin, total, &mut flat)?;
        if let Some((_, bend)) = developed.get(i) {
            let allowance = bend.allowance.mm();
            let upright = |x: f64| [Point::new(x, 0.0), Point::new(x, depth)];
            for edge in [x, x + allowance] {
                let [from, to] = upright(edge);
                flat.bend_zones.push(vec![Segment::Line { from, to }]);
            }
            flat.bends.push(FlatBend {
                name: format!("bend {}", i + 1),
                angle: bent.bends[i].angle.abs(),
                up: bent.bends[i].angle.radians() > 0.0,
                inside_radius: bent.bends[i].inside_radius,
                developed: bend.clone(),
                length: bent.depth,
                line: upright(x + allowance / 2.0),
                place: bent.bends[i].place.clone(),
            });
            x += allowance;
        }
    }
    flat.findings.extend(openings_near_bends(part, bent, &flat));
    Ok(flat)
}

/// The flat part of each leg between its tangent lines, mm. A leg with less than nothing between them is refused.
fn flats_between(part: &Part, bent: &Bent, developed: &[(StraightBend, DevelopedBend)]) -> Checked<Vec<f64>> {
    let mut problems = Vec::new();
    let mut flats = Vec::new();
    for (i, leg) in bent.legs.iter().enumerate() {
        let before = if i == 0 { None } else { developed.get(i - 1) };
        let ends: f64 = [before, developed.get(i)].into_iter().flatten().map(|(bend, d)| reach(bent, bend, d)).sum();
        let flat = leg.length.mm() - ends;
        if flat < -1e-9 {
            let message =
                format!("this leg is shorter than the {} that its bends take of it", part.unit.show(Length::from_mm(ends)));
            problems.push(
                Problem::new(Code::NoRoom, message, "make the leg longer or the bend radius smaller").at(leg.place.clone()),
            );
        }
        flats.push(flat.max(0.0));
    }
    if problems.is_empty() { Ok(flats) } else { Err(problems) }
}

/// Adds the openings of leg `i`, whose own origin lies at `origin` in the flat.
fn place_openings(part: &Part, bent: &Bent, i: usize, origin: f64, total: f64, flat: &mut Flat) -> Checked<()> {
    let shift = Affine::translate((origin, 0.0));
    let placed: Vec<Opening> = bent.legs[i]
        .openings
        .iter()
        .map(|opening| Opening { outline: opening.outline.moved(shift), ..opening.clone() })
        .collect();
    let sheet = Polyarc::rectangle(Rect::new(0.0, 0.0, total, bent.depth.mm()));
    for opening in &placed {
        let outline = opening.outline.to_polyarc(CURVE_TO_ARCS);
        if !lies_inside(&sheet, &outline) {
            let message = "this opening reaches outside the part";
            let help =
                "`at` is along the leg from its start mould line (the first leg: from its free end), then across the depth";
            return Err(vec![Problem::new(Code::OpeningOutside, message, help).at(opening.place.clone())]);
        }
        let clashes = |other: &Polyarc| {
            outline.bounds().overlaps(other.bounds())
                && (outline.flatten(0.05).iter().any(|p| other.contains(*p))
                    || other.flatten(0.05).iter().any(|p| outline.contains(*p)))
        };
        if flat.openings.iter().any(clashes) {
            let help = "move one of them, or make one opening of the two";
            return Err(vec![Problem::new(Code::Outline, "this opening runs into another", help).at(opening.place.clone())]);
        }
        add_openings(part, std::slice::from_ref(opening), flat)?;
    }
    Ok(())
}

/// Openings whose edge lies in a bend, or nearer to it than it leaves them round.
fn openings_near_bends(part: &Part, bent: &Bent, flat: &Flat) -> Vec<Finding> {
    let openings = bent.legs.iter().flat_map(|leg| &leg.openings);
    let mut findings = Vec::new();
    for (outline, opening) in flat.openings.iter().zip(openings) {
        let bounds = outline.bounds();
        for bend in &flat.bends {
            let half = bend.developed.allowance.mm() / 2.0;
            let (from, to) = (bend.line[0].x - half, bend.line[0].x + half);
            // Distance from the opening to the bend zone; negative where it reaches in.
            let distance = (bounds.x0 - to).max(from - bounds.x1);
            let limit = 3.0 * part.thickness.mm();
            let ok = distance >= limit;
            let apart = part.unit.show(Length::from_mm(distance));
            let (message, help) = if ok {
                (format!("an opening lies {apart} from {}", bend.name), "")
            } else if distance < 0.0 {
                let help = "move it out of the bend, or cut it after bending";
                (format!("an opening reaches into {}, which pulls it out of shape", bend.name), help)
            } else {
                let help = "move it away, cut it after bending, or let a relief slot end the bend before it";
                (format!("an opening lies only {apart} from {}, which pulls it out of shape", bend.name), help)
            };
            findings.push(Finding {
                problem: Problem::new(Code::OpeningNearBend, message, help).at(opening.place.clone()),
                limit,
                value: distance,
                ok,
                source: "hole edge at least 3 t from the tangent line: bending guideline, common practice".to_owned(),
            });
        }
    }
    findings
}
