//! The drawing of a buck and its clamp plate.

use kurbo::{Affine, Rect};

use super::blank::draw_stations;
use super::label::LabelPlacer;
use super::{Drawing, Layer};
use crate::buck::{BuckSet, nearest_cutter};
use crate::geom::{Point, Polyarc};
use crate::part::{Kind, Part};
use crate::units::{Digits, Length};

/// Distance between buck and clamp plate on the drawing, mm.
const BETWEEN: f64 = 30.0;

/// Buck below, clamp plate above it, both seen from the hammered side, holes and stations on both.
#[must_use]
pub fn buck_drawing(part: &Part, buck: &BuckSet, other_hand: bool) -> Drawing {
    let hand = if other_hand { ", other hand" } else { "" };
    let mut drawing = Drawing::new(format!("{}{hand}: buck and clamp plate", part.name));
    let layers = match buck.layers {
        1 => "1 layer".to_owned(),
        n => format!("{n} layers"),
    };
    let words = format!("{}{hand}: buck, {layers} of {} mm", part.name, Digits(buck.layer, 2));
    plate(&mut drawing, &buck.outline, buck, &words);
    let thickness = match &part.kind {
        Kind::HalfShell(shell) => shell.buck.clamp_plate.mm(),
        _ => 0.0,
    };
    if let Some(clamp_plate) = &buck.clamp_plate {
        let mut upper = Drawing::default();
        plate(&mut upper, clamp_plate, buck, &format!("{}{hand}: clamp plate, {} mm", part.name, Digits(thickness, 2)));
        let lift = buck.outline.bounds().y1 - clamp_plate.bounds().y0 + BETWEEN;
        drawing.marks.extend(upper.moved(Affine::translate((0.0, lift))).marks);
    }
    drawing.captions = captions(part, buck);
    drawing
}

fn plate(drawing: &mut Drawing, outline: &Polyarc, buck: &BuckSet, words: &str) {
    drawing.closed(Layer::Outside, outline.clone());
    let mut placer = LabelPlacer::new(outline);
    for (at, diameter, is_dowel) in &buck.pins {
        drawing.closed(Layer::Opening, Polyarc::circle(*at, diameter / 2.0));
        let reach = diameter / 2.0 + 1.0;
        placer.take(Rect::from_center_size(*at, (reach * 2.0, reach * 2.0)));
        let name = format!("{} {}", if *is_dowel { "dowel" } else { "bolt" }, Digits(*diameter, 2));
        if let Some((at, height)) = placer.place(&name, *at + (0.0, reach + 3.0), 3.0) {
            drawing.label(at, height, name);
        }
    }
    for opening in &buck.openings {
        drawing.closed(Layer::Scribe, opening.clone());
        placer.take(opening.bounds().inflate(1.0, 1.0));
    }
    draw_stations(drawing, &buck.stations, outline, &mut placer);
    let bounds = outline.bounds();
    let size = (bounds.width().min(bounds.height()) / 12.0).clamp(3.0, 8.0);
    if let Some((at, height)) = placer.place(words, bounds.center() + (0.0, -bounds.height() / 8.0), size) {
        drawing.label(Point::new(at.x, at.y), height, words);
    }
}

fn captions(part: &Part, buck: &BuckSet) -> Vec<String> {
    let mm = |value: f64| part.unit.show(Length::from_mm(value));
    let mut lines = vec![
        format!(
            "Buck: the inside of the finished metal at the seam, {} high, that is {} of {}. Seen from the hammered side.",
            mm(buck.height),
            buck.layers,
            mm(buck.layer)
        ),
        format!("Rout the upper edge to a radius of {} wherever a wall goes down.", mm(buck.edge_radius)),
    ];
    if buck.undercut.degrees() > 0.0 {
        lines.push(format!(
            "Lean the walls {} degrees under below that radius: the metal springs back by so much (Gardiner's formula, hand work often needs 2 to 3).",
            Digits(buck.undercut.degrees(), 2)
        ));
    }
    if let Some(cutter) = nearest_cutter(part, buck.edge_radius)
        && (cutter.mm() - buck.edge_radius).abs() > 0.01
    {
        lines.push(format!(
            "The nearest router bit of this shop is {}; change edge_radius to it before cutting.",
            part.unit.show(cutter)
        ));
    }
    if buck.clamp_plate.is_some() {
        lines.push("The clamp plate stays 2 mm inside the tangent line, clear of the hammer.".to_owned());
    }
    lines
}
