//! The drawing of a sheet with the blanks placed on it, cut in order.

use kurbo::{Affine, Rect};

use super::label::{LabelPlacer, width_of};
use crate::cutting::{Cut, CutPlan};
use crate::geom::{Chain, Point, Polyarc, Segment, Vec2, left_of};
use crate::page::{Drawing, Layer, Mark, Shape};
use crate::units::Digits;

/// A blank's drawing at its place on a sheet.
#[derive(Debug, Clone)]
pub struct PlacedBlank<'a> {
    /// The blank as drawn for itself; of its text only its name is kept.
    pub blank: &'a Drawing,
    /// What to write on it.
    pub name: &'a str,
    /// Where it goes; mirrors nothing.
    pub motion: Affine,
}

/// What a sheet's drawing is made of, besides its blanks.
#[derive(Debug, Clone, Copy)]
pub struct SheetFacts<'a> {
    /// Its name.
    pub title: &'a str,
    /// Its edge, then the openings that it has already.
    pub stock: &'a [Polyarc],
    /// How the blanks are cut.
    pub plan: &'a CutPlan,
    /// Whether the lines are those of the torch's middle, with lead-ins; else they are the blanks'
    /// own edges.
    pub compensated: bool,
    /// The largest rectangle of it that is left.
    pub left: Option<Rect>,
    /// Sentences that stand on the drawing in every format, above the sheet.
    pub notes: &'a [String],
    /// Sentences under a picture of it.
    pub captions: &'a [String],
}

/// Letters and arrows grow with the sheet, so that they are read on a picture of it: this share of
/// its longer side.
const LETTER_SHARE: f64 = 0.006;

/// Of a part with more cuts than this only the outer ones are numbered: nobody reads the numbers of
/// a sieve.
const MOST_NUMBERS: usize = 150;

/// The sheet with its blanks, their names, the order of cuts and an arrow along the grain.
#[must_use]
pub fn sheet_drawing(facts: &SheetFacts, placed: &[PlacedBlank]) -> Drawing {
    let mut drawing = Drawing::new(facts.title);
    drawing.backdrop = facts.stock.to_vec();
    drawing.captions = facts.captions.to_vec();
    let bounds =
        facts.stock.iter().map(Polyarc::bounds).reduce(|a, b| a.union(b)).unwrap_or(Rect::ZERO);
    let letter = (bounds.width().max(bounds.height()) * LETTER_SHARE).clamp(2.0, 9.0);
    let mut marks_of: Vec<Vec<Mark>> = Vec::new();
    for blank in placed {
        let moved = blank.blank.moved(blank.motion);
        marks_of.push(
            moved
                .marks
                .into_iter()
                .filter(|mark| !is_cut(mark.layer) && mark.layer != Layer::Note)
                .collect(),
        );
    }
    let cuts = &facts.plan.cuts;
    for (i, (blank, marks)) in placed.iter().zip(&marks_of).enumerate() {
        let own: Vec<(usize, &Cut)> =
            cuts.iter().enumerate().filter(|(_, cut)| cut.blank == i).collect();
        write_on(&mut drawing, blank.name, &own, marks, letter, facts.compensated);
    }
    drawing.marks.extend(marks_of.into_iter().flatten());
    for cut in cuts {
        add_cut(&mut drawing, cut, facts.compensated, letter);
    }
    above(&mut drawing, bounds, facts.notes, letter);
    if let Some(left) = facts.left {
        let words =
            format!("left over: {} x {} mm", Digits(left.width(), 0), Digits(left.height(), 0));
        let height =
            (0.9 * left.width() / width_of(&words, 1.0)).min(left.height() / 3.0).min(2.0 * letter);
        if height >= 0.5 * letter {
            drawing.label(
                Point::new(left.center().x, left.center().y - height / 2.0),
                height,
                words,
            );
        }
    }
    drawing
}

const fn is_cut(layer: Layer) -> bool {
    matches!(layer, Layer::Outside | Layer::Opening | Layer::Lead)
}

/// The line that is drawn for a cut, if it is cut by the torch at all.
fn line_of(cut: &Cut, compensated: bool) -> Option<&Polyarc> {
    match (compensated, cut.too_narrow) {
        (true, true) => None,
        (true, false) => Some(&cut.path),
        (false, _) => cut.own_edge.as_ref(),
    }
}

/// The cut, its lead-in before it; on pictures the pierce and the way that the torch goes.
fn add_cut(drawing: &mut Drawing, cut: &Cut, compensated: bool, letter: f64) {
    let Some(line) = line_of(cut, compensated) else {
        // Marked for the drill.
        let chain = cut.path.segments().collect();
        drawing.marks.push(Mark { layer: Layer::Scribe, shape: Shape::Open(chain) });
        return;
    };
    let lead: &[Segment] = if compensated { &cut.lead } else { &[] };
    if !lead.is_empty() {
        drawing.marks.push(Mark { layer: Layer::Lead, shape: Shape::Open(lead.to_vec()) });
    }
    drawing.closed(if cut.is_opening() { Layer::Opening } else { Layer::Outside }, line.clone());
    let note = |shape: Shape| Mark { layer: Layer::Note, shape };
    let begin = lead.first().map_or(line.vertices[0].point, Segment::from);
    drawing.overlay.push(note(Shape::Closed(Polyarc::circle(begin, 0.22 * letter))));
    let size = 0.5 * letter;
    if let Some((at, ahead)) = Chain::closed(line).at((1.6 * letter).min(0.2 * line.length())) {
        let side = left_of(ahead) * (0.55 * size);
        let barbs = [at - ahead * size + side, at, at - ahead * size - side];
        let chain =
            barbs.windows(2).map(|ends| Segment::Line { from: ends[0], to: ends[1] }).collect();
        drawing.overlay.push(note(Shape::Open(chain)));
    }
}

/// The blank's name and the numbers of its cuts, each where it covers nothing.
fn write_on(
    drawing: &mut Drawing,
    name: &str,
    cuts: &[(usize, &Cut)],
    marks: &[Mark],
    letter: f64,
    compensated: bool,
) {
    let Some(outline) =
        cuts.iter().find(|(_, cut)| cut.edge == 0).and_then(|(_, cut)| cut.own_edge.clone())
    else {
        return;
    };
    let mut placer = LabelPlacer::new(&outline);
    for (_, cut) in cuts.iter().filter(|(_, cut)| cut.is_opening()) {
        let clear = 0.5 + 0.2 * letter;
        placer.take(cut.path.bounds().inflate(clear, clear));
    }
    for mark in marks {
        if let Shape::Open(chain) = &mark.shape {
            placer.avoid(chain);
        }
    }
    let bounds = outline.bounds();
    let largest =
        (bounds.width().min(bounds.height()) / 6.0).clamp(3.0, 14.0).min(2.4 * letter.max(3.0));
    let mut number = |placer: &mut LabelPlacer, i: usize, cut: &Cut, least: f64| {
        let text = (i + 1).to_string();
        let pierce = if compensated { cut.pierce() } else { cut.start() };
        let near = placer.place_near(&text, pierce, letter, least);
        // In a thin part the number stands where it can.
        let found = near.or_else(|| {
            (least < 0.6 * letter).then(|| placer.place(&text, pierce, letter)).flatten()
        });
        if let Some((at, height)) = found {
            // Other words keep off by a gap.
            let half = width_of(&text, height) / 2.0;
            placer.take(
                Rect::new(at.x - half, at.y, at.x + half, at.y + height)
                    .inflate(0.5 * letter, 0.1 * letter),
            );
            drawing.label(at, height, text);
        }
        found.is_some()
    };
    let mut beside = Vec::new();
    let numbered = |cut: &Cut| cuts.len() <= MOST_NUMBERS || !cut.is_opening();
    for &(i, cut) in
        cuts.iter().filter(|(_, cut)| line_of(cut, compensated).is_some() && numbered(cut))
    {
        // Inside an opening where there is room, in the scrap.
        let mut scrap = LabelPlacer::new(&cut.path);
        if compensated {
            scrap.avoid(&cut.lead);
        }
        if !(cut.is_opening() && number(&mut scrap, i, cut, 0.75 * letter)) {
            beside.push((i, cut));
        }
    }
    for (i, cut) in beside {
        number(&mut placer, i, cut, 0.5 * letter);
    }
    if let Some((at, height)) = placer.place(name, bounds.center(), largest) {
        drawing.label(at, height, name);
    }
}

/// The notes above the sheet, and an arrow along the grain.
fn above(drawing: &mut Drawing, bounds: Rect, notes: &[String], letter: f64) {
    let mut y = bounds.y1 + 1.2 * letter;
    let from = Point::new(bounds.x0 + width_of("grain", letter) + letter, y + 0.4 * letter);
    let to = from + Vec2::new(10.0 * letter, 0.0);
    let mut text = |at: Point, text: &str, height: f64| {
        let shape = Shape::Text { at, height, angle: 0.0, centred: false, text: text.to_owned() };
        drawing.marks.push(Mark { layer: Layer::Note, shape });
    };
    text(Point::new(bounds.x0, y), "grain", letter);
    for note in notes.iter().rev() {
        y += 1.9 * letter;
        let height = letter.min((bounds.width() / width_of(note, 1.0)).max(0.35 * letter));
        text(Point::new(bounds.x0, y), note, height);
    }
    let barb =
        |side: f64| Segment::Line { from: to, to: to + Vec2::new(-letter, side * 0.5 * letter) };
    for chain in [vec![Segment::Line { from, to }], vec![barb(1.0)], vec![barb(-1.0)]] {
        drawing.overlay.push(Mark { layer: Layer::Note, shape: Shape::Open(chain) });
    }
}
