//! The drawing of a flat blank.

use kurbo::Rect;

use super::label::LabelPlacer;
use crate::bending::ANGLES_FROM_FLAT;
use crate::buck::Station;
use crate::flat::{Flat, FlatBend, FoldMark};
use crate::geom::{Point, Polyarc, Segment};
use crate::page::{Drawing, Layer, Mark, Shape};
use crate::part::Part;
use crate::units::{Digits, LengthUnit};

/// Length of a station's tick, mm.
const TICK: f64 = 8.0;

/// The blank seen from the face that [`seen_face`] names. For the other hand give its mirrored flat
/// and stations.
#[must_use]
pub fn blank_drawing(part: &Part, flat: &Flat, stations: &[Station], other_hand: bool) -> Drawing {
    let hand = if other_hand { ", other hand" } else { "" };
    let mut drawing = Drawing::new(format!("{}{hand}: blank", part.name));
    drawing.closed(Layer::Outside, flat.outside.clone());
    for opening in &flat.openings {
        drawing.closed(Layer::Opening, opening.clone());
    }
    for zone in &flat.bend_zones {
        drawing.marks.push(line_mark(Layer::BendZone, zone));
    }
    for wall in &flat.wall_lines {
        drawing
            .marks
            .push(line_mark(if wall.up { Layer::FoldUp } else { Layer::FoldDown }, &wall.line));
    }
    for bend in &flat.bends {
        let [from, to] = bend.line;
        drawing.line(if bend.up { Layer::FoldUp } else { Layer::FoldDown }, from, to);
    }
    for scribe in &flat.scribes {
        drawing.marks.push(line_mark(Layer::Scribe, scribe));
    }
    for mark in &flat.fold_marks {
        for [from, to] in &mark.lines {
            drawing.line(Layer::Scribe, *from, *to);
        }
    }
    let mut placer = LabelPlacer::new(&flat.net);
    for opening in &flat.openings {
        placer.take(opening.bounds().inflate(1.0, 1.0));
    }
    for bend in &flat.bends {
        placer.take(
            Rect::from_points(bend.line[0], bend.line[1])
                .inflate(bend.developed.allowance.mm() / 2.0 + 0.5, 0.0),
        );
    }
    for chain in flat
        .bend_zones
        .iter()
        .chain(&flat.scribes)
        .chain(flat.wall_lines.iter().map(|wall| &wall.line))
    {
        placer.avoid(chain);
    }
    draw_stations(&mut drawing, stations, &flat.net, &mut placer);
    for (i, bend) in flat.bends.iter().enumerate() {
        let is_sighted = flat.fold_marks.iter().any(|mark| mark.bend == i && mark.held.is_some());
        let text = bend_words(bend, part.unit)
            + if is_sighted { "; nose edge on the scribed line" } else { "" };
        label_bend(&mut drawing, text, bend, flat, &mut placer);
    }
    for mark in &flat.fold_marks {
        draw_clamp_arrow(&mut drawing, mark, flat.bends[mark.bend].developed.allowance.mm());
    }
    let middle = flat.net.bounds().center();
    let size = (flat.net.bounds().width().min(flat.net.bounds().height()) / 12.0).clamp(3.0, 8.0);
    let face = if part.kind.has_buck() {
        ", hammered side, this side out"
    } else if part.kind.is_bent() || has_lip(flat) {
        ", upper face, this side up"
    } else {
        ""
    };
    let name = format!("{}{hand}", part.name);
    let sheet = format!("{} {}{face}", part.material.name, part.unit.brief(part.thickness, 3));
    for text in [name, sheet] {
        if let Some((at, height)) = placer.place(&text, middle, size) {
            drawing.label(at, height, text);
        }
    }
    drawing.captions = captions(part, flat);
    drawing
}

/// A chain of lines, as a closed outline where it is one.
pub(super) fn line_mark(layer: Layer, chain: &[Segment]) -> Mark {
    Mark { layer, shape: Shape::Open(chain.to_vec()) }
}

/// A tick at every place where a station crosses the outline, and its name inside the lowest one.
pub(super) fn draw_stations(
    drawing: &mut Drawing,
    stations: &[Station],
    outline: &Polyarc,
    placer: &mut LabelPlacer,
) {
    for station in stations {
        if let Some(flat) = &station.flat {
            for (at, inward) in &flat.marks {
                drawing.line(Layer::Scribe, *at, *at + *inward * TICK);
            }
            if let Some((at, inward)) = flat.marks.first() {
                name_station(drawing, station, *at + *inward * (TICK + 3.0), placer);
            }
            continue;
        }
        let crossings = station.crossings(outline);
        for (i, at) in crossings.iter().enumerate() {
            // Ticks run inward: up from an even crossing, down from an odd one; never past half the
            // way to the next one.
            let (other, sign) =
                if i % 2 == 0 { (crossings.get(i + 1), 1.0) } else { (crossings.get(i - 1), -1.0) };
            let room = other.map_or(TICK, |o| o.distance(*at) / 2.0);
            drawing.line(Layer::Scribe, *at, *at + station.across * (sign * TICK.min(room)));
        }
        if let Some(lowest) = crossings.first() {
            name_station(drawing, station, *lowest + station.across * (TICK + 3.0), placer);
        }
    }
}

fn name_station(drawing: &mut Drawing, station: &Station, wanted: Point, placer: &mut LabelPlacer) {
    if let Some((at, height)) =
        placer.place(&station.name, wanted, 3.0).filter(|(at, _)| at.distance(wanted) < 12.0)
    {
        drawing.label(at, height, station.name.clone());
    }
}

/// What a bend asks for, in a sentence.
#[must_use]
pub fn bend_words(bend: &FlatBend, unit: LengthUnit) -> String {
    let way = if bend.up { "up" } else { "down" };
    let radius = match unit {
        LengthUnit::Millimetre => format!("{} mm", Digits(bend.inside_radius.mm(), 2)),
        LengthUnit::Inch => format!("{} in", Digits(bend.inside_radius.inches(), 4)),
    };
    format!("{}: turn {}° {way}, inside {radius}", bend.name, Digits(bend.angle.degrees(), 2))
}

/// A small arrow across a sight line, from it to the side that is clamped.
fn draw_clamp_arrow(drawing: &mut Drawing, mark: &FoldMark, zone: f64) {
    let (Some(held), Some([from, to])) = (mark.held, mark.lines.first()) else { return };
    let along = (*to - *from).normalize();
    for share in [0.08, 0.92] {
        let tail = from.lerp(*to, share);
        let tip = tail + held * (zone + 2.0);
        drawing.line(Layer::Scribe, tail, tip);
        for side in [-1.0, 1.0] {
            drawing.line(Layer::Scribe, tip, tip - held * 1.5 + along * (side * 0.8));
        }
    }
}

/// The bend's sentence beside its line: level where there is room, else along the line.
fn label_bend(
    drawing: &mut Drawing,
    text: String,
    bend: &FlatBend,
    flat: &Flat,
    placer: &mut LabelPlacer,
) {
    let [from, to] = bend.line;
    let length = from.distance(to);
    let zone = bend.developed.allowance.mm() / 2.0;
    let height = (length / (text.chars().count() as f64 * 0.8)).clamp(1.2, 3.5);
    if from.x != to.x {
        let beside = from.midpoint(to) + (to - from).normalize().turn_90() * (zone + height);
        if let Some((at, height)) = placer.place(&text, beside, height) {
            drawing.label(at, height, text);
        }
        return;
    }
    // Along the line, on whichever side has room; the text reads upward and its letters lie to the
    // left of its base line.
    let half = super::label::width_of(&text, height) / 2.0;
    let middle = from.midpoint(to);
    for base in [from.x - zone - 1.2, from.x + zone + 1.2 + height] {
        let rect =
            Rect::new(base - height * 1.1, middle.y - half, base + height * 0.3, middle.y + half);
        if placer.take_if_free(rect) {
            let shape = Shape::Text {
                at: Point::new(base, middle.y),
                height,
                angle: std::f64::consts::FRAC_PI_2,
                centred: true,
                text,
            };
            drawing.marks.push(Mark { layer: Layer::Note, shape });
            return;
        }
    }
    let bounds = flat.net.bounds();
    if let Some((at, height)) = placer.place(&text, Point::new(from.x, bounds.center().y), height) {
        drawing.label(at, height, text);
    }
}

/// The face that a part's blank is seen from: the hammered side of a shell, the upper face of all
/// others.
#[must_use]
pub fn seen_face(part: &Part) -> &'static str {
    if part.kind.has_buck() { "outer, hammered side" } else { "upper face" }
}

/// Whether a lip goes up or down from it, so that it matters which face is up.
fn has_lip(flat: &Flat) -> bool {
    !flat.wall_lines.is_empty()
}

/// That the cut size holds trim, where it does.
#[must_use]
pub fn trim_words(part: &Part) -> String {
    let Some(shell) = part.kind.half_shell() else { return String::new() };
    let mut words = Vec::new();
    if shell.trim.mm() > 0.0 {
        words.push(format!("{} of trim", part.unit.brief(shell.trim, 2)));
    }
    if shell.end_trim.mm() > 0.0 {
        let of_trim = if words.is_empty() { " of trim" } else { "" };
        words.push(format!("{}{of_trim} at open edges", part.unit.brief(shell.end_trim, 2)));
    }
    if words.is_empty() { String::new() } else { format!(" (with {})", words.join(" and ")) }
}

/// The sentences under the blank's picture.
fn captions(part: &Part, flat: &Flat) -> Vec<String> {
    let cut = flat.outside.bounds();
    let mut lines = vec![format!(
        "{}, {} {}, drawn 1:1 seen from its {}. Cut size {}{}; finished part {} kg.",
        part.name,
        part.material.name,
        part.unit.show(part.thickness),
        seen_face(part),
        part.unit.brief_size(cut.width(), cut.height()),
        trim_words(part),
        Digits(flat.mass(part.thickness, part.material.density.value), 3),
    )];
    if !flat.bends.is_empty() {
        lines.push(ANGLES_FROM_FLAT.to_owned());
    }
    lines.extend(flat.bends.iter().map(|bend| {
        let turned = bend.angle.degrees();
        // A hem's legs lie on each other.
        let legs = if turned < 180.0 {
            format!(", {}° between the legs", Digits(180.0 - turned, 2))
        } else {
            String::new()
        };
        format!(
            "{}{legs}; K {}, deduction {}.",
            bend_words(bend, part.unit),
            Digits(bend.developed.k_factor, 4),
            part.unit.brief(bend.developed.deduction, 3)
        )
    }));
    match flat.fold_marks.first() {
        Some(mark) if mark.held.is_some() => lines.push(
            "The scribed line in a bend is its sight line for a leaf brake: the edge of the nose goes over it, the side that the arrows \
             point to is clamped. It is not the middle of the bend."
                .to_owned(),
        ),
        Some(_) => lines.push(
            "The scribed ticks at the ends of a bend's line are for a press brake: the punch stands over them, on the middle of the bend."
                .to_owned(),
        ),
        None => {}
    }
    if let Some(forming) = &flat.forming {
        lines.push(format!(
            "Wall: {}. The metal stretches {} % and shrinks {} % at most.",
            forming.wall.describe(),
            Digits(forming.max_stretch() * 100.0, 2),
            Digits(forming.max_shrink() * 100.0, 2)
        ));
    }
    let darts = flat.forming.as_ref().map_or(&[][..], |forming| &forming.darts);
    if darts.iter().any(|dart| !dart.opens) {
        lines.push("The scribed Vs are relief darts: drill their holes, saw them out, hammer down, weld them shut.".to_owned());
    }
    if darts.iter().any(|dart| dart.opens) {
        lines.push(
            "The scribed lines that end in a hole are slits: drill, saw, hammer down, weld a gusset into each gap.".to_owned(),
        );
    }
    if let Some(shell) = part.kind.half_shell()
        && shell.crown.mm() > 0.0
    {
        lines.push(format!(
            "The face is crowned by {}, to which no flat sheet unrolls: this blank balances the forces of forming it. Keep the trim until it fits.",
            part.unit.brief(shell.crown, 2)
        ));
    }
    if let Some(shell) = part.kind.half_shell()
        && shell.trim.mm() > 0.0
    {
        let (least, most) = shell.depths();
        let depth = if most.mm() - least.mm() < 0.005 {
            let crown =
                if shell.crown.mm() > 0.0 { " (at its edge, the crown left out)" } else { "" };
            format!("{} from the outer face{crown}", part.unit.brief(most, 2))
        } else {
            let [least, most] = [least, most].map(|depth| part.unit.brief(depth, 2));
            format!("{least} to {most} from the outer face")
        };
        lines.push(format!(
            "The scribed line is the finished seam, {depth} when formed; cut the {} beyond it off after forming.",
            part.unit.brief(shell.trim, 2)
        ));
    }
    if let Some(shell) = part.kind.half_shell()
        && shell.end_trim.mm() > 0.0
    {
        lines.push(format!(
            "The scribed lines across walls and face are the finished open edges: cut the {} beyond them off after forming. The buck is as long \
             as the blank.",
            part.unit.brief(shell.end_trim, 2)
        ));
    }
    lines
}
