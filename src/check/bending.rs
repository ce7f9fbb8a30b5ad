//! What the brake asks of a part: legs that span the die, radius, force, length, angles, and an
//! order of bends.

use crate::bending::{Bending, Obstacle, Order, Setup, StuckStroke, least_leg_at, slope_side};
use crate::finding::{Finding, Grade, Measured, Rule, Sense};
use crate::flat::{Flat, FlatBend};
use crate::part::{Bent, BrakeKind, JoggleBend, Part};
use crate::problem::Place;
use crate::shop::brake::{air_bend_radius, thickest};
use crate::units::{Angle, Digits, Force, Length};

/// How much a bend's length may differ from the one its blank was made for, mm: half of what a
/// press brake holds. Common practice, no source.
const SAME_FLAT: f64 = 0.2;

/// Every leg of a section must reach over half the die, or the brake cannot hold it.
pub(super) fn legs(part: &Part, bent: &Bent, flat: &Flat, bending: &Bending) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (i, leg) in bent.legs.iter().enumerate() {
        let beside = [(i.checked_sub(1), 1), (Some(i).filter(|i| *i < flat.bends.len()), 0)];
        for (bend, side) in beside.into_iter().filter_map(|(bend, side)| Some((bend?, side))) {
            if is_slope(flat, bend, side) {
                continue;
            }
            let what = format!("leg {}", i + 1);
            let reach = bending.practice[bend].reach[side];
            findings.extend(reach_finding(
                part,
                &bending.setup,
                (&what, reach),
                &flat.bends[bend],
                &leg.place,
            ));
        }
    }
    findings
}

/// The same for the faces on both sides of a folded part's bends.
pub(super) fn flanges(part: &Part, flat: &Flat, bending: &Bending) -> Vec<Finding> {
    let Some(tree) = &flat.tree else { return Vec::new() };
    let mut findings = Vec::new();
    for (i, ((bend, joint), practice)) in
        flat.bends.iter().zip(&tree.bends).zip(&bending.practice).enumerate()
    {
        // A hem's return has a rule of its own.
        if practice.is_hem {
            continue;
        }
        for (side, face) in [joint.parent, joint.child].into_iter().enumerate() {
            if is_slope(flat, i, side) {
                continue;
            }
            let reach = practice.reach[side];
            let what = format!("`{}`", tree.faces[face].name);
            findings.extend(reach_finding(part, &bending.setup, (&what, reach), bend, &bend.place));
        }
    }
    findings
}

fn reach_finding(
    part: &Part,
    setup: &Setup,
    (what, reach): (&str, f64),
    bend: &FlatBend,
    place: &Place,
) -> Option<Finding> {
    let least = least_leg_at(part, setup, bend)?;
    let measured = Measured::length(Length::from_mm(reach), Sense::AtLeast, least.value);
    let ok = measured.holds();
    let message = if ok {
        format!("{what} reaches {} from {}", part.unit.show(Length::from_mm(reach)), bend.name)
    } else {
        let (reach, least) = (part.unit.show(Length::from_mm(reach)), part.unit.show(least.value));
        match &setup.die {
            Some(die) => {
                let opening = part.unit.show(die.opening);
                format!(
                    "{what} reaches {reach} from {}; over a die of {opening} opening it must reach {least}",
                    bend.name
                )
            }
            None => format!(
                "{what} reaches {reach} from {}; for the leaf or the nose to hold it must reach {least}",
                bend.name
            ),
        }
    };
    let remedy = match (ok, setup.die.is_some()) {
        (true, _) => "",
        (false, true) => {
            "use a narrower die, make it longer and trim it after bending, or bend it over a block"
        }
        (false, false) => "make it longer and trim it after bending, or bend it over a block",
    };
    Some(
        Finding::measured(Rule::LegLength, measured, Grade::Over, message, least.source)
            .remedy(remedy)
            .at(place),
    )
}

/// Whether a side of a bend is the slope of a joggle, which has a rule of its own.
fn is_slope(flat: &Flat, bend: usize, side: usize) -> bool {
    flat.tree.as_ref().is_some_and(|tree| slope_side(tree.bends[bend].joggle) == Some(side))
}

/// The slopes of joggles against what the brake's tools span.
fn joggles(part: &Part, flat: &Flat, bending: &Bending) -> Vec<Finding> {
    let Some(tree) = &flat.tree else { return Vec::new() };
    let firsts = (0..tree.bends.len()).filter(|i| tree.bends[*i].joggle == Some(JoggleBend::First));
    let finding = |i: usize| {
        let (bend, practice) = (&flat.bends[i], &bending.practice[i]);
        let second = tree.bends.iter().position(|other| other.parent == tree.bends[i].child)?;
        let least = least_leg_at(part, &bending.setup, bend)?;
        let show = |mm: f64| part.unit.show(Length::from_mm(mm));
        let names = format!("{} and {}", bend.name, flat.bends[second].name);
        let message = format!(
            "the joggle of {names} has a slope that reaches {} from one bend to the other; the tools span {} at least",
            show(practice.reach[1]),
            show(least.value.mm())
        );
        let remedy = if practice.in_block {
            "press it in one hit in a joggle block (its step milled or shimmed to the offset), or with a hammer over a bar, before the other bends"
        } else {
            ""
        };
        let measured =
            Measured::length(Length::from_mm(practice.reach[1]), Sense::AtLeast, least.value);
        Some(
            Finding::measured(Rule::JoggleSlope, measured, Grade::Over, message, least.source)
                .remedy(remedy)
                .at(&bend.place),
        )
    };
    firsts.filter_map(finding).collect()
}

/// The sheet against what a leaf brake is rated for.
fn thickness(part: &Part, bending: &Bending) -> Option<Finding> {
    let rated = bending.setup.max_thickness?;
    let limit = thickest(rated, part.material.yield_strength.high);
    let measured = Measured::length(part.thickness, Sense::AtMost, limit);
    let (own, most) = (part.unit.show(part.thickness), part.unit.show(limit));
    let message = format!(
        "{} {own} thick; a brake rated for {} of mild steel bends {most} of it",
        part.material.name,
        part.unit.show(rated)
    );
    let remedy = if measured.holds() {
        ""
    } else {
        "bend it on a heavier brake, or in a shorter piece if its maker allows that"
    };
    let source = "`max_thickness` in the shop file, for mild steel of 250 MPa (common practice); moment = yield times thickness squared";
    Some(
        Finding::measured(Rule::BrakeThickness, measured, Grade::Over, message, source)
            .remedy(remedy)
            .at(&part.place),
    )
}

/// What the brake asks of every bend, and of their order. A part that runs into itself when
/// finished has no order.
pub(super) fn brake(
    part: &Part,
    flat: &Flat,
    bending: &Bending,
    runs_into_itself: bool,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (i, bend) in flat.bends.iter().enumerate() {
        findings.extend(air_radius(part, bend, bending, i));
        findings.extend(angle(part, bend, bending, i));
    }
    findings.extend(joggles(part, flat, bending));
    findings.extend(force(flat, bending));
    findings.extend(thickness(part, bending));
    findings.extend(length(part, flat, bending));
    if !runs_into_itself {
        findings.extend(order(part, flat, bending));
    }
    findings
}

/// The radius that the die makes instead of the one asked for.
fn air_radius(part: &Part, bend: &FlatBend, bending: &Bending, i: usize) -> Option<Finding> {
    let (air, die) = (bending.practice[i].air.as_ref()?, bending.setup.die.as_ref()?);
    let measured = Measured::length(
        Length::from_mm(air.longer.abs()),
        Sense::AtMost,
        Length::from_mm(SAME_FLAT),
    );
    let show = |mm: f64| part.unit.show(Length::from_mm(mm));
    let way = if air.longer < 0.0 { "shorter" } else { "longer" };
    let figure = &air.radius;
    let made = format!(
        "{}: over the {} an air bend gives an inside radius of about {} ({} to {} mm) instead of {}, which takes a blank {} {way} here",
        bend.name,
        die.name,
        show(figure.value.mm()),
        Digits(figure.low.mm(), 2),
        Digits(figure.high.mm(), 2),
        show(bend.inside_radius.mm()),
        show(air.longer.abs())
    );
    let remedy = if measured.holds() {
        String::new()
    } else {
        let better =
            bending.setup.dies.iter().filter(|other| other.name != die.name).filter_map(|other| {
                let radius = air_bend_radius(other.opening, &part.material)?.value;
                Some(((radius - bend.inside_radius).mm().abs(), other, radius))
            });
        let nearest = better.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, other, radius)| {
            format!(", bend over the {} (it gives {})", other.name, show(radius.mm()))
        });
        format!(
            "give `radius: {} mm` so that the blank is made for it{}, or coin the bend with a punch of the radius asked for",
            Digits(figure.value.mm(), 2),
            nearest.unwrap_or_default()
        )
    };
    let source = format!(
        "{}; length of the bend within {SAME_FLAT} mm: common practice, no source",
        figure.source
    );
    Some(
        Finding::measured(Rule::AirBendLength, measured, Grade::Over, made, source)
            .remedy(remedy)
            .at(&bend.place),
    )
}

/// Whether the tools reach the angle with what springs back.
fn angle(part: &Part, bend: &FlatBend, bending: &Bending, i: usize) -> Option<Finding> {
    let set = bending.practice[i].set.as_ref()?;
    let shown = |angle: Angle| Digits(angle.degrees(), 1).to_string();
    let measured = Measured::angle(set.high, Sense::AtMost, bending.setup.reach);
    let message = format!(
        "{}: bend through {} degrees ({} to {} by the yield strengths that {} may have) to keep {}; these tools bend to {} at most",
        bend.name,
        shown(set.value),
        shown(set.low),
        shown(set.high),
        part.material.name,
        shown(bend.angle),
        shown(bending.setup.reach)
    );
    let remedy = match (measured.holds(), bending.setup.kind) {
        (true, _) => "",
        (false, BrakeKind::Press) => {
            "bend it with a sharper punch and die, or close it in a second hit between flats"
        }
        (false, _) => {
            "bend it as far as the leaf goes and finish it with a mallet over a bar, or use a press brake"
        }
    };
    let source = "springback: Kalpakjian and Schmid, Eq. 16.6; at sharp radii shops find more: bend a test piece";
    Some(
        Finding::measured(Rule::BendAngle, measured, Grade::Over, message, source)
            .remedy(remedy)
            .at(&bend.place),
    )
}

/// The greatest force against what the brake has.
fn force(flat: &Flat, bending: &Bending) -> Option<Finding> {
    let capacity = bending.setup.force?;
    let force_of = |bend: &usize| Some(bending.practice[*bend].force.as_ref()?.shop.newtons());
    let strokes = bending
        .strokes
        .iter()
        .map(|stroke| (stroke, stroke.bends.iter().filter_map(force_of).sum::<f64>()));
    let (stroke, newtons) =
        strokes.max_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, newtons)| *newtons > 0.0)?;
    let bend = &flat.bends[stroke.first()];
    let source = bending.practice[stroke.first()].force.as_ref().map_or("", |force| force.source);
    let measured = Measured::force(Force::from_newtons(newtons), Sense::AtMost, capacity);
    let ok = measured.holds();
    let kilo = |newtons: f64| Digits(newtons / 1000.0, 1).to_string();
    let message = if ok {
        format!(
            "the greatest force is {} kN, at {}; the brake has {} kN",
            kilo(newtons),
            bend.name,
            kilo(capacity.newtons())
        )
    } else {
        format!(
            "{} asks for {} kN; the brake has {} kN",
            bend.name,
            kilo(newtons),
            kilo(capacity.newtons())
        )
    };
    let remedy = if ok {
        ""
    } else {
        "use a wider die (the force falls as its opening grows), or bend it on a larger brake"
    };
    Some(
        Finding::measured(Rule::BrakeForce, measured, Grade::Over, message, source)
            .remedy(remedy)
            .at(&bend.place),
    )
}

/// The longest stroke against the brake's length.
fn length(part: &Part, flat: &Flat, bending: &Bending) -> Option<Finding> {
    let limit = bending.setup.length?;
    let long = |stroke: &crate::bending::Stroke| stroke.extent[1] - stroke.extent[0];
    let stroke = bending.strokes.iter().max_by(|a, b| long(a).total_cmp(&long(b)))?;
    let (bend, value) = (&flat.bends[stroke.first()], long(stroke));
    let measured = Measured::length(Length::from_mm(value), Sense::AtMost, limit);
    let ok = measured.holds();
    let show = |mm: f64| part.unit.show(Length::from_mm(mm));
    let message = if ok {
        format!(
            "the longest bend, {}, is {}; the brake takes {}",
            bend.name,
            show(value),
            show(limit.mm())
        )
    } else {
        format!("{} is {} long; the brake takes {}", bend.name, show(value), show(limit.mm()))
    };
    let remedy =
        if ok { "" } else { "bend it on a longer brake, or make the part in two and weld them" };
    let source = "the brake's length in the shop file";
    Some(
        Finding::measured(Rule::BrakeLength, measured, Grade::Over, message, source)
            .remedy(remedy)
            .at(&bend.place),
    )
}

/// Whether there is an order, and whether every step finds an edge for the gauge.
fn order(part: &Part, flat: &Flat, bending: &Bending) -> Vec<Finding> {
    let source = "search over the folded shapes against the tools' outlines; what was assumed of them is listed";
    let name = |stroke: usize| flat.bends[bending.strokes[stroke].first()].name.clone();
    match &bending.order {
        Order::Found(steps) => {
            let turn_overs = steps.iter().filter(|step| step.turn_over).count();
            let names: Vec<String> = steps.iter().map(|step| name(step.stroke)).collect();
            let pressed: Vec<&str> =
                bending.pressed().map(|bend| flat.bends[bend].name.as_str()).collect();
            let first = match pressed.as_slice() {
                [] => String::new(),
                pressed => format!("press {} in a joggle block; then ", pressed.join(" and ")),
            };
            let message = match names.as_slice() {
                [] => format!("{first}nothing is left to bend"),
                names => format!(
                    "{first}bend in this order, {}: {}",
                    turn_over_words(turn_overs),
                    names.join(", ")
                ),
            };
            let all = Finding::new(Rule::BendOrder, Grade::Within, message, source).at(&part.place);
            let blind = steps.iter().filter(|step| step.gauge.is_none() && !bending.is_leaf()).map(
                |step| {
                    let bend = &flat.bends[bending.strokes[step.stroke].first()];
                    let message = format!(
                        "{} has no edge square to it that rests against a gauge's finger",
                        bend.name
                    );
                    let source =
                        "a gauge takes an edge along the bend, or 20 mm of it: common practice";
                    let finding = Finding::new(Rule::GaugeEdge, Grade::Care, message, source);
                    finding.remedy("set it by its scribed mark").at(&bend.place)
                },
            );
            std::iter::once(all).chain(blind).collect()
        }
        Order::NotTried(why) => {
            let message = format!("no order of bends was worked out: {why}");
            let finding = Finding::new(Rule::BendOrder, Grade::Care, message, source);
            vec![finding.remedy("fold the part in card first").at(&part.place)]
        }
        Order::Stuck(strokes) => vec![stuck(part, flat, bending, strokes, source)],
    }
}

/// How often the sheet is turned over.
fn turn_over_words(count: usize) -> String {
    match count {
        0 => "never turned over".to_owned(),
        1 => "turned over once".to_owned(),
        count => format!("turned over {count} times"),
    }
}

/// How many obstacles a message tells of.
const MOST_TOLD: usize = 4;

fn stuck(
    part: &Part,
    flat: &Flat,
    bending: &Bending,
    strokes: &[StuckStroke],
    source: &str,
) -> Finding {
    let told: Vec<String> = strokes
        .iter()
        .take(MOST_TOLD)
        .map(|stuck| obstacle_words(part, flat, bending, stuck))
        .collect();
    let more = strokes.len().saturating_sub(MOST_TOLD);
    let more = if more > 0 { format!("; and {more} more likewise") } else { String::new() };
    let message = match strokes {
        [_] => format!("no order of bends makes this part: {}", told.join("; ")),
        _ => format!(
            "no order of bends makes this part, whichever of these comes last: {}{more}",
            told.join("; ")
        ),
    };
    let place = strokes.first().map_or(part.place.clone(), |stuck| {
        flat.bends[bending.strokes[stuck.stroke].first()].place.clone()
    });
    let remedy = if strokes.iter().any(|stuck| matches!(stuck.obstacle, Obstacle::Angle { .. })) {
        "use sharper tools, or open the angle"
    } else if strokes.iter().any(|stuck| matches!(stuck.obstacle, Obstacle::Fingers { .. })) {
        "make a finger of the width that is missing, list it in the shop file (`brake: fingers:`), or change the size a little"
    } else if strokes.iter().any(|stuck| leg_over_die(flat, bending, stuck).is_some()) {
        "use a narrower die, or make the leg longer and trim it after bending"
    } else if flat.bends.len() == 1 {
        "give the outlines of slimmer tools in the shop file (`brake: punch:`), or make the leg that is in the way shorter"
    } else {
        "make one of these flanges a part of its own and weld it on, make its return narrower or cut it back, or give the outlines of slimmer \
         tools in the shop file (`brake: punch:`)"
    };
    Finding::new(Rule::BendOrder, Grade::Over, message, source).remedy(remedy).at(&place)
}

/// The leg of a stroke's own bend that falls into the die instead of spanning its opening, if that
/// is what is in the way.
fn leg_over_die(flat: &Flat, bending: &Bending, stuck: &StuckStroke) -> Option<usize> {
    let (Obstacle::Room { face, body, .. } | Obstacle::Free { face, body, .. }) = stuck.obstacle
    else {
        return None;
    };
    let tree = flat.tree.as_ref()?;
    let mut own = bending.strokes[stuck.stroke].bends.iter().map(|bend| &tree.bends[*bend]);
    (body == "die" && own.any(|bend| [bend.parent, bend.child].contains(&face))).then_some(face)
}

/// What is in the way of one stroke.
fn obstacle_words(part: &Part, flat: &Flat, bending: &Bending, stuck: &StuckStroke) -> String {
    let bends = &bending.strokes[stuck.stroke].bends;
    let face = |face: usize| {
        flat.tree.as_ref().map_or_else(String::new, |tree| format!("`{}`", tree.faces[face].name))
    };
    let own = flat.tree.as_ref().map_or_else(String::new, |tree| face(tree.bends[bends[0]].child));
    let name = format!("{} (at {own})", flat.bends[bends[0]].name);
    let show = |mm: f64| part.unit.show(Length::from_mm(mm));
    if let (Some(leg), Some(die)) = (leg_over_die(flat, bending, stuck), &bending.setup.die) {
        return format!(
            "{} lies wholly over the {} die at {}",
            face(leg),
            show(die.opening.mm()),
            flat.bends[bends[0]].name
        );
    }
    match &stuck.obstacle {
        Obstacle::Angle { needed, reach } => format!(
            "{name} must be bent through {} degrees and these tools bend to {} at most",
            Digits(*needed, 1),
            Digits(*reach, 1)
        ),
        Obstacle::Runs { face: hit, body } => {
            format!("{name} drives {} into the {body}", face(*hit))
        }
        Obstacle::Room { face: hit, body, left, needed } => format!(
            "{name} leaves room for {} of {body} where {} at least must stand (half the bend), because of {}",
            show(*left),
            show(*needed),
            face(*hit)
        ),
        Obstacle::Free { face: hit, body, free, most } => format!(
            "{name} is kept off the {body} by {} over {} of its length, and {} at most may do without",
            face(*hit),
            show(*free),
            show(*most)
        ),
        Obstacle::Fingers { room, needed } if room.is_finite() => format!(
            "{name}: no set of the shop's fingers fits the room of {} and is {} wide at least",
            show(*room),
            show(*needed)
        ),
        Obstacle::Fingers { needed, .. } => {
            format!("{name}: the shop's fingers together are not {} wide", show(*needed))
        }
        Obstacle::Itself { faces: [a, b] } => {
            format!("{name} drives {} into {}", face(*b), face(*a))
        }
    }
}
