//! The order of bends as a page to tape to the brake: a section for each step, and what to set.

use super::label::{width_of, wrapped};
use crate::bending::{
    ANGLES_FROM_FLAT, Bending, StepSection, StepWords, second_hit_words, step_second_hit,
    step_section, step_words,
};
use crate::flat::Flat;
use crate::geom::{Point, Rect};
use crate::page::{Anchor, Ink, Pen, Picture, closed, corners_of};
use crate::part::{BrakeKind, Part};
use crate::units::Digits;

/// Width of the page, mm: A4. It is as long as the steps need.
const PAGE: f64 = 210.0;
const MARGIN: f64 = 8.0;
/// A step's box, two in a row, and the height of its picture, mm.
const BOX: (f64, f64) = (95.0, 104.0);
const GAP: f64 = 4.0;
const VIEW: f64 = 66.0;
/// Heights of capitals, mm.
const TITLE: f64 = 4.5;
const NUMBER: f64 = 4.5;
const WORDS: f64 = 2.5;
const SMALL: f64 = 2.1;
/// How much of a gauge's finger is seen at least behind its face, mm.
const FINGER_SHOWN: f64 = 14.0;
/// Scales that are read off a rule.
const SCALES: [f64; 9] = [1.0, 0.5, 0.4, 0.25, 0.2, 0.1, 0.05, 0.02, 0.01];

/// The page of a part's bend order; none where there is no order. `take_care` is the line of
/// cautions, where the page stands alone.
#[must_use]
pub fn bend_order_page(
    part: &Part,
    flat: &Flat,
    bending: &Bending,
    take_care: Option<&str>,
    other_hand: bool,
) -> Option<Picture> {
    let steps = bending.steps();
    if steps.is_empty() {
        return None;
    }
    let hand = if other_hand { ", other hand" } else { "" };
    let title = format!("{}{hand}: order of bends", part.name);
    let mut picture = Picture { title: title.clone(), ..Picture::default() };
    let mut y = MARGIN + TITLE;
    picture.words((MARGIN, y), TITLE, Anchor::Start, title);
    let mut notes = notes(part, flat, bending);
    notes.extend(take_care.map(str::to_owned));
    for line in notes.iter().flat_map(|note| wrapped(note, SMALL, PAGE - 2.0 * MARGIN)) {
        y += SMALL * 1.8;
        picture.words((MARGIN, y), SMALL, Anchor::Start, line);
    }
    y += GAP;
    let mut boxes: Vec<(String, StepWords, StepSection)> = Vec::new();
    for (i, step) in steps.iter().enumerate() {
        let (words, section) = (
            step_words(flat, bending, part.unit, i),
            step_section(flat, bending, step).unwrap_or_default(),
        );
        match step_second_hit(flat, bending, step) {
            Some(second) => {
                boxes.push((format!("{}a", i + 1), words, section));
                boxes.push((
                    format!("{}b", i + 1),
                    second_hit_words(flat, bending, part.unit, i),
                    second,
                ));
            }
            None => boxes.push(((i + 1).to_string(), words, section)),
        }
    }
    for (k, (number, words, section)) in boxes.iter().enumerate() {
        let place =
            Point::new(MARGIN + (k % 2) as f64 * (BOX.0 + GAP), y + (k / 2) as f64 * (BOX.1 + GAP));
        draw_step(&mut picture, words, section, number, place);
    }
    let rows = boxes.len().div_ceil(2) as f64;
    picture.size = (PAGE, (y + rows * (BOX.1 + GAP) + MARGIN - GAP).ceil());
    Some(picture)
}

fn notes(part: &Part, flat: &Flat, bending: &Bending) -> Vec<String> {
    let setup = &bending.setup;
    let brake = match (&setup.die, setup.kind) {
        (Some(die), _) => {
            format!("press brake, {} of {} opening", die.name, part.unit.brief(die.opening, 2))
        }
        (None, BrakeKind::Pan) => "box and pan brake".to_owned(),
        (None, _) => "leaf brake".to_owned(),
    };
    let pressed: Vec<&str> = bending.pressed().map(|bend| flat.bends[bend].name.as_str()).collect();
    let pressed = match pressed.as_slice() {
        [] => String::new(),
        names => format!("First press {} in a joggle block. ", names.join(" and ")),
    };
    let assumed = if bending.assumed.is_empty() {
        ""
    } else {
        " Tools of assumed size are listed in the report."
    };
    vec![
        format!(
            "{pressed}{} {}, {brake}; these tools bend to {}° at most. Each picture is a section square to the bend when the angle to set is reached, seen along the bend, the \
             gauge to the right.{assumed}",
            part.material.name,
            part.unit.brief(part.thickness, 3),
            Digits(setup.reach.degrees(), 1)
        ),
        format!(
            "Black: metal cut. Grey: metal behind. Dotted: the sheet before the step, and a gauge finger that is backed off. The back gauge is \
             counted from the bend's line to what rests against it. {ANGLES_FROM_FLAT} Bend a test piece first: springback leaves the angle to keep."
        ),
        if bending.is_leaf() {
            "Keep clear of the swing of the leaf and its counterweight.".to_owned()
        } else {
            "Hands out of the throat, away from the side that whips up and from the pinch at the gauge.".to_owned()
        },
    ]
}

fn draw_step(
    picture: &mut Picture,
    words: &StepWords,
    section: &StepSection,
    number: &str,
    place: Point,
) {
    let frame = Rect::new(place.x, place.y, place.x + BOX.0, place.y + BOX.1);
    picture.words((frame.x0 + 2.0, frame.y0 + NUMBER + 1.5), NUMBER, Anchor::Start, number);
    let mut y = frame.y0 + WORDS + 1.6;
    let indent = frame.x0 + 3.5 + width_of(number, NUMBER);
    for (k, line) in
        wrapped(&words.what, WORDS, frame.x1 - indent - 1.0).into_iter().take(2).enumerate()
    {
        picture.words((indent, y), WORDS, Anchor::Start, line);
        y += if k == 0 { WORDS * 1.6 } else { 0.0 };
    }
    let view = Rect::new(frame.x0 + 1.0, frame.y0 + 10.0, frame.x1 - 1.0, frame.y0 + 10.0 + VIEW);
    let scale = draw_section(picture, section, view);
    let scale_words =
        if scale >= 1.0 { "1 : 1".to_owned() } else { format!("1 : {}", Digits(1.0 / scale, 1)) };
    picture.words((view.x0 + 1.0, view.y1 - 1.2), SMALL, Anchor::Start, scale_words);
    // All of one size, on as many lines as they need.
    let told = [&words.set, &words.gauge, &words.handling, &words.tools]
        .into_iter()
        .filter(|text| !text.is_empty());
    let lines: Vec<String> =
        told.flat_map(|text| wrapped(text, SMALL, frame.width() - 4.0)).collect();
    let step = (SMALL * 1.6).min((frame.y1 - view.y1 - 1.5) / (lines.len() as f64));
    for (k, line) in lines.into_iter().enumerate() {
        picture.words(
            (frame.x0 + 2.0, view.y1 + step * (k + 1) as f64),
            SMALL,
            Anchor::Start,
            line,
        );
    }
    picture.lines(
        Pen::Edge,
        vec![closed(corners_of(frame).to_vec()), closed(corners_of(view).to_vec())],
    );
}

/// Draws a section into a window of the page; gives the scale.
fn draw_section(picture: &mut Picture, section: &StepSection, view: Rect) -> f64 {
    // At least the tools' tips are seen, whatever the part's size, and of a large part what is near
    // them.
    let (around, most) =
        (Rect::new(-30.0, -20.0, 30.0, 40.0), Rect::new(-88.0, -28.0, 88.0, 100.0));
    let near = |p: &Point| Point::new(p.x.clamp(most.x0, most.x1), p.y.clamp(most.y0, most.y1));
    // Of a gauge's finger its face.
    let face = section
        .gauge
        .iter()
        .flatten()
        .filter(|p| section.gauge.iter().flatten().all(|q| p.x <= q.x + 1e-9));
    let face = face.flat_map(|p| [*p, Point::new(p.x + FINGER_SHOWN, p.y)]).collect::<Vec<_>>();
    let metal = section.metal.iter().chain(&section.behind).flatten().chain(&face);
    let body = metal.fold(around, |rect, p| rect.union_pt(near(p))).inflate(3.0, 3.0);
    let fits = |scale: &f64| {
        body.width() * scale <= view.width() && body.height() * scale <= view.height()
    };
    let scale = SCALES.into_iter().find(fits).unwrap_or(SCALES[SCALES.len() - 1]);
    let (middle, centre) = (view.center(), body.center());
    let on_page = |p: &Point| {
        Point::new(middle.x + (p.x - centre.x) * scale, middle.y - (p.y - centre.y) * scale)
    };
    let area = |outline: &Vec<Point>| {
        let left = clipped(&outline.iter().map(on_page).collect::<Vec<_>>(), view);
        (left.len() >= 3).then(|| closed(left))
    };
    let mut edges = Vec::new();
    for body in section.bodies.iter().filter_map(area) {
        picture.fill(Ink::Tool, vec![body.clone()]);
        edges.push(body);
    }
    picture.lines(Pen::Edge, edges);
    for face in section.behind.iter().filter_map(area) {
        picture.fill(Ink::Metal, vec![face.clone()]);
        picture.lines(Pen::Level, vec![face]);
    }
    let start = section
        .start
        .iter()
        .filter_map(|line| segment_in(&line.iter().map(on_page).collect::<Vec<_>>(), view));
    picture.lines(Pen::BendZone, joined(start.collect()));
    picture.fill(Ink::Black, section.metal.iter().filter_map(area).collect());
    if let Some(gauge) = section.gauge.as_ref().and_then(area) {
        // One that is drawn back is dotted, as the sheet before the step is.
        if section.gauge_drawn_back {
            picture.lines(Pen::BendZone, vec![gauge]);
        } else {
            picture.fill(Ink::Tool, vec![gauge.clone()]);
            picture.lines(Pen::Cut, vec![gauge]);
        }
    }
    scale
}

/// Segments that end where the next begins, as chains.
fn joined(segments: Vec<[Point; 2]>) -> Vec<Vec<Point>> {
    const SAME: f64 = 1e-6;
    let mut left = segments;
    let mut chains: Vec<Vec<Point>> = Vec::new();
    while let Some([a, b]) = left.pop() {
        let mut chain = vec![a, b];
        for _ in 0..2 {
            while let Some(end) = chain.last().copied() {
                let next =
                    left.iter().position(|[p, q]| p.distance(end) < SAME || q.distance(end) < SAME);
                let Some(next) = next else { break };
                let [p, q] = left.swap_remove(next);
                chain.push(if p.distance(end) < SAME { q } else { p });
            }
            chain.reverse();
        }
        chains.push(chain);
    }
    chains
}

/// The part of a polygon inside an upright rectangle.
fn clipped(polygon: &[Point], rect: Rect) -> Vec<Point> {
    let sides: [&dyn Fn(&Point) -> f64; 4] =
        [&|p| p.x - rect.x0, &|p| rect.x1 - p.x, &|p| p.y - rect.y0, &|p| rect.y1 - p.y];
    let mut left = polygon.to_vec();
    for inside in sides {
        let mut next = Vec::with_capacity(left.len() + 2);
        for (i, p) in left.iter().enumerate() {
            let q = &left[(i + 1) % left.len()];
            let (a, b) = (inside(p), inside(q));
            if a >= 0.0 {
                next.push(*p);
            }
            if (a >= 0.0) != (b >= 0.0) {
                next.push(p.lerp(*q, a / (a - b)));
            }
        }
        left = next;
    }
    left
}

/// The part of a line inside an upright rectangle.
fn segment_in(line: &[Point], rect: Rect) -> Option<[Point; 2]> {
    let [from, to] = line else { return None };
    let (mut start, mut end) = (0.0_f64, 1.0_f64);
    let along = *to - *from;
    for (slope, room) in [
        (-along.x, from.x - rect.x0),
        (along.x, rect.x1 - from.x),
        (-along.y, from.y - rect.y0),
        (along.y, rect.y1 - from.y),
    ] {
        if slope == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if slope < 0.0 {
            start = start.max(room / slope);
        } else {
            end = end.min(room / slope);
        }
    }
    (start < end).then(|| [from.lerp(*to, start), from.lerp(*to, end)])
}
