//! What hammering asks of the free edges of walls.

use crate::finding::{Finding, Grade, Measured, Rule, Sense};
use crate::flat::{Flat, flatten};
use crate::geom::MonotoneCurve;
use crate::part::{Kind, Opening, Part, Plate};
use crate::shell::{Dart, EdgeStrain};
use crate::shop::material::StrainLimit;
use crate::units::{Digits, Length};
use std::fmt::Write;

/// Tries at a lower wall.
const TRIES: usize = 8;
/// How far below its limit the strain of the lower wall may lie, as a share of it.
const NEAR_LIMIT: f64 = 0.03;
/// Straight wall that the lowest one tried keeps, mm.
const LEAST_WALL: f64 = 0.5;

/// A wall that stays within a limit.
struct LowerWall {
    /// Depth of the shell or height of the lip, mm.
    height: f64,
    /// The worst strain of its edge, positive.
    strain: f64,
}

/// The two limits of a free edge: which rule, the sign of the strain, the strains, and whether the
/// shop file gives them.
fn limits(part: &Part) -> [(Rule, f64, StrainLimit, bool); 2] {
    let (own, shop) = (&part.material.edge_limits, &part.shop);
    [
        (Rule::EdgeStretch, 1.0, shop.stretch.unwrap_or(own.stretch), shop.stretch.is_some()),
        (Rule::EdgeShrink, -1.0, shop.shrink.unwrap_or(own.shrink), shop.shrink.is_some()),
    ]
}

/// The place of the free edges that stretches (sign 1) or shrinks (-1) most.
fn worst(flat: &Flat, sign: f64) -> Option<&EdgeStrain> {
    let edges = flat.forming.iter().flat_map(|forming| &forming.edge);
    edges
        .max_by(|a, b| (a.strain * sign).total_cmp(&(b.strain * sign)))
        .filter(|edge| edge.strain * sign > 0.0)
}

/// The worst stretch and the worst shrink of the free edges against the limits.
pub(super) fn edge_strains(part: &Part, flat: &Flat) -> Vec<Finding> {
    let Some(forming) = &flat.forming else { return Vec::new() };
    let mut findings = Vec::new();
    for (rule, sign, limit, given) in limits(part) {
        let Some(edge) = worst(flat, sign) else { continue };
        let darts: Vec<&Dart> =
            forming.darts.iter().filter(|dart| dart.opens == (sign > 0.0)).collect();
        let strain = edge.strain * sign;
        let (message, remedy) = strain_words(part, edge, sign, limit, &darts);
        let source = if given {
            "limits in the shop file".to_owned()
        } else {
            part.material.edge_limits.source.clone()
        };
        let (bound, broken) = nearest_limit(strain, limit);
        let measured = Measured::share(strain, Sense::AtMost, bound);
        findings.push(
            Finding::measured(rule, measured, broken, message, source)
                .remedy(remedy)
                .at(&part.place),
        );
    }
    findings
}

/// Adds to the findings on free edges beyond their limits the greatest depth or lip that stays
/// within, laid flat anew.
pub(crate) fn name_lower_walls(part: &Part, flat: &Flat, findings: &mut [Finding]) {
    for (rule, sign, limit, _) in limits(part) {
        let Some(edge) = worst(flat, sign).filter(|edge| edge.strain * sign > limit.caution) else {
            continue;
        };
        let Some(finding) = findings.iter_mut().find(|finding| finding.rule == rule) else {
            continue;
        };
        let (bound, _) = nearest_limit(edge.strain * sign, limit);
        if let Some(lower) = lower_wall(part, edge, sign, bound) {
            let what = if edge.lip.is_some() { "a lip" } else { "a depth" };
            let height = part.unit.show(Length::from_mm(lower.height));
            let _ = write!(
                finding.remedy,
                "; so does {what} of {height}, by a solve of its own: {} %",
                percent(lower.strain)
            );
        }
    }
}

/// The limit that a strain is to be brought under next, and the grade of one above it.
fn nearest_limit(strain: f64, limit: StrainLimit) -> (f64, Grade) {
    if strain > limit.stop { (limit.stop, Grade::Over) } else { (limit.caution, Grade::Care) }
}

fn percent(x: f64) -> String {
    Digits(x * 100.0, 1).to_string()
}

/// What an edge strain means: the message, and what to do.
fn strain_words(
    part: &Part,
    edge: &EdgeStrain,
    sign: f64,
    limit: StrainLimit,
    darts: &[&Dart],
) -> (String, String) {
    let value = edge.strain * sign;
    let does = if sign > 0.0 { "stretches" } else { "shrinks" };
    let place = if edge.radius.is_finite() {
        format!(
            "the outline curves with a radius of {}",
            part.unit.show(Length::from_mm(edge.radius.abs()))
        )
    } else {
        "the wall's depth changes".to_owned()
    };
    let mut message = format!(
        "the edge {does} {} % ({} mm in every 100) where {place}",
        percent(value),
        percent(value)
    );
    if percent(edge.finished * sign) != percent(value) {
        let _ = write!(
            message,
            ", as cut and with its trim; the finished edge {} %",
            percent(edge.finished * sign)
        );
    }
    let waves = wave_onset(edge.width, part.thickness.mm(), part.material.hardening_exponent.value);
    if sign < 0.0 && value > waves {
        let _ = write!(
            message,
            "; a free edge waves from {} % on, which tucks and the hammer take up",
            percent(waves)
        );
    }
    let necks = part.material.hardening_exponent.value.exp_m1();
    if sign > 0.0 && value > necks {
        let _ = write!(
            message,
            "; beyond {} %, its uniform elongation, the metal necks",
            percent(necks)
        );
    }
    if value <= limit.caution {
        return (message, String::new());
    }
    // The first estimate e = 1 - (1 + width/radius)^-1 for shrink, its twin for stretch, scaled to
    // what the solution gives here.
    let growth =
        |strain: f64| if sign > 0.0 { strain / (1.0 + strain) } else { strain / (1.0 - strain) };
    let (bound, grade) = nearest_limit(value, limit);
    let its_limit = if grade == Grade::Over { "the limit of " } else { "" };
    let ratio = growth(value) / growth(bound);
    let wider = if edge.radius.is_finite() {
        format!("a radius of about {}", part.unit.show(Length::from_mm(edge.radius.abs() * ratio)))
    } else {
        "a change of depth spread over a longer stretch".to_owned()
    };
    let easier = format!("{wider} stays within {its_limit}{} %", percent(bound));
    if value <= limit.stop {
        let way = if sign > 0.0 {
            "file the edge smooth and go down in many passes"
        } else {
            "tuck and shrink in many passes"
        };
        return (message, format!("{way}; {easier}"));
    }
    let way = match (sign > 0.0, dart_words(part, darts)) {
        (true, None) => "the edge is likely to tear: anneal between passes, or cut it and weld a piece in".to_owned(),
        (false, None) => {
            "it is more than hammering takes up: cut darts out and weld them, or make this end as a cap of its own".to_owned()
        }
        (true, Some(darts)) => format!("the edge is likely to tear: anneal between passes, or {darts}"),
        (false, Some(darts)) => format!("it is more than hammering takes up: {darts}, or make this end as a cap of its own"),
    };
    (message, format!("{way}; {easier}"))
}

/// What the scribed darts ask: how many, how wide and long, their stop holes, and the weld they
/// owe.
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

/// Shrink (logarithmic, which at such sizes is the engineering one too) from which a wall held at
/// its bend waves, its edge free: e = 1.28 π²/9 (t/h)² (0.33 + 0.67 √(0.25 + 0.75 n)), t thickness,
/// h height, n hardening exponent. Secant and tangent moduli of a plate with one long edge free (E.
/// Z. Stowell, NACA report 898, 1948; the form from memory). A reminder: it has not been tried
/// against walls.
fn wave_onset(height: f64, thickness: f64, hardening: f64) -> f64 {
    let plate = 1.28 * std::f64::consts::PI.powi(2) / 9.0 * (thickness / height).powi(2);
    plate * (0.33 + 0.67 * (0.25 + 0.75 * hardening).sqrt())
}

/// The part with nothing but the wall of an edge, made as high as asked.
fn only_wall(part: &Part, lip: Option<usize>, height: f64) -> Option<Part> {
    let height = Length::from_mm(height);
    let with_lip = |opening: &Opening| {
        let mut opening = opening.clone();
        opening.lip.as_mut()?.height = height;
        Some(opening)
    };
    let kind = match (&part.kind, lip) {
        (Kind::HalfShell(shell), None) if shell.is_level() => {
            let mut shell = shell.clone();
            shell.depth = MonotoneCurve::straight(&[(0.0, height.mm())]);
            shell.openings.clear();
            Kind::HalfShell(shell)
        }
        (Kind::HalfShell(shell), Some(i)) => Kind::Plate(Plate {
            profile: shell.profile.clone(),
            openings: vec![with_lip(shell.openings.get(i)?)?],
            tabs: Vec::new(),
        }),
        (Kind::Plate(plate), Some(i)) => Kind::Plate(Plate {
            profile: plate.profile.clone(),
            openings: vec![with_lip(plate.openings.get(i)?)?],
            tabs: Vec::new(),
        }),
        _ => return None,
    };
    Some(Part { kind, ..part.clone() })
}

/// A wall, laid flat anew at each try, whose edge strains by no more than `limit` and by no more
/// than [`NEAR_LIMIT`] less; its height to 0.1 mm. None where no wall of this radius does, and
/// where the wall's height is not one number.
fn lower_wall(part: &Part, edge: &EdgeStrain, sign: f64, limit: f64) -> Option<LowerWall> {
    let (height, inside_radius) = match (&part.kind, edge.lip) {
        (Kind::HalfShell(shell), None) => (shell.depths().1, shell.inside_radius),
        (Kind::HalfShell(shell), Some(i)) => {
            shell.openings.get(i)?.lip.map(|lip| (lip.height, lip.inside_radius))?
        }
        (Kind::Plate(plate), Some(i)) => {
            plate.openings.get(i)?.lip.map(|lip| (lip.height, lip.inside_radius))?
        }
        _ => return None,
    };
    let worst = |height: f64| {
        let flat = flatten(&only_wall(part, edge.lip, height)?).ok()?;
        worst(&flat, sign).map(|edge| edge.strain * sign)
    };
    // The strain grows nearly in proportion to the height; a secant through the last two heights
    // corrects that.
    let lowest = (inside_radius + part.thickness).mm() + LEAST_WALL;
    let mut last = (height.mm(), edge.strain * sign);
    let mut next = last.0 * limit / last.1;
    let mut best = None;
    for _ in 0..TRIES {
        let height = (10.0 * next.max(lowest)).floor() / 10.0;
        let strain = worst(height)?;
        if strain <= limit {
            best = best
                .filter(|best: &LowerWall| best.height > height)
                .or(Some(LowerWall { height, strain }));
            if strain > (1.0 - NEAR_LIMIT) * limit {
                break;
            }
        }
        if strain > limit && next <= lowest {
            return None;
        }
        // Aimed a little under the limit.
        let slope = (strain - last.1) / (height - last.0);
        last = (height, strain);
        next = height + ((1.0 - 0.5 * NEAR_LIMIT) * limit - strain) / slope;
        if !next.is_finite() {
            break;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, from the formula: t 1.8, n 0.17; heights 10, 15, 20, 25 give 3.4, 1.5, 0.84, 0.54
    /// %.
    #[test]
    fn high_walls_wave_early() {
        for (height, percent, digit) in
            [(10.0, 3.4, 0.05), (15.0, 1.5, 0.05), (20.0, 0.84, 0.005), (25.0, 0.54, 0.005)]
        {
            assert!((100.0 * wave_onset(height, 1.8, 0.17) - percent).abs() <= digit, "{height}");
        }
    }
}
