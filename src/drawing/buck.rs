//! The drawing of a buck and its clamp plate.

use kurbo::{Affine, Rect};

use super::blank::{draw_stations, line_mark};
use super::label::LabelPlacer;
use crate::buck::{BuckSet, nearest_cutter};
use crate::geom::{Loop, Point, Polyarc};
use crate::page::{Drawing, Layer};
use crate::part::Part;
use crate::units::{Digits, Length, LengthUnit, counted};

/// Length of a station's tick on the side template, mm.
const SIDE_TICK: f64 = 6.0;
/// Distance between buck and clamp plate on the drawing, mm.
const BETWEEN: f64 = 30.0;

/// A thing that is sawn or bent after its own outline, at its own place.
pub(super) struct BuckPiece {
    /// What it is.
    pub(super) what: String,
    /// What it is made of.
    pub(super) stock: String,
    /// How it lies.
    pub(super) lies: String,
    /// Its drawing.
    pub(super) drawing: Drawing,
    /// The box of its outline, by which it is placed beside the others.
    bounds: Rect,
}

/// Buck below, clamp plate above it, both seen from the hammered side, holes and stations on both.
#[must_use]
pub fn buck_drawing(part: &Part, buck: &BuckSet, other_hand: bool) -> Drawing {
    let hand = if other_hand { ", other hand" } else { "" };
    let mut drawing = Drawing::new(format!("{}{hand}: buck and clamp plate", part.name));
    let mut top = buck.outline.bounds().y1;
    for (i, piece) in buck_pieces(part, buck, other_hand).into_iter().enumerate() {
        if i == 0 {
            drawing.marks = piece.drawing.marks;
            continue;
        }
        let lift = Affine::translate((0.0, top + BETWEEN - piece.bounds.y0));
        drawing.marks.extend(piece.drawing.moved(lift).marks);
        top += BETWEEN + piece.bounds.height();
    }
    drawing.captions = captions(part, buck);
    drawing
}

/// The things that a buck is made by, each for itself: the block, the clamp plate, templates of its
/// side and across.
pub(super) fn buck_pieces(part: &Part, buck: &BuckSet, other_hand: bool) -> Vec<BuckPiece> {
    let hand = if other_hand { ", other hand" } else { "" };
    let seen = || "face up: hammered side".to_owned();
    let card = || "stiff card or thin board".to_owned();
    let foot_down = || "foot down".to_owned();
    let boards = counted(buck.layers, "board");
    let stock = format!("{boards} of {}", part.unit.brief(Length::from_mm(buck.layer), 2));
    let words = format!("{}{hand}: buck, {stock}", part.name);
    let mut drawing = Drawing::default();
    plate(&mut drawing, &buck.outline, &on_the_block(buck), &words);
    let mut pieces = vec![BuckPiece {
        what: "buck".to_owned(),
        stock,
        lies: seen(),
        drawing,
        bounds: buck.outline.bounds(),
    }];
    let thickness = part.kind.half_shell().map_or(Length::ZERO, |shell| shell.buck.clamp_plate);
    if let Some(clamp_plate) = &buck.clamp_plate {
        let mut drawing = Drawing::default();
        let stock = part.unit.brief(thickness, 2);
        let words = format!("{}{hand}: clamp plate, {stock}", part.name);
        plate(&mut drawing, clamp_plate, &on_the_plate(buck), &words);
        let (what, bounds) = ("clamp plate".to_owned(), clamp_plate.bounds());
        pieces.push(BuckPiece { what, stock, lies: seen(), drawing, bounds });
    }
    if let Some(side) = &buck.side {
        // The other hand's run is seen the other way round.
        let hand_of_run = if (side.beside > 0.0) == other_hand { "right" } else { "left" };
        let off = part.unit.brief(Length::from_mm(side.beside.abs()), 1);
        let beside = format!(", {off} {hand_of_run} of the run");
        let beside = if side.beside.abs() < 0.05 { "" } else { &beside };
        let what = format!("side template{beside}");
        let words = format!("{}{hand}: buck, {what}", part.name);
        let drawing = side_template(&side.outline, buck, &words, other_hand);
        let bounds = side.outline.bounds();
        pieces.push(BuckPiece { what, stock: card(), lies: foot_down(), drawing, bounds });
    }
    for (station, template) in &buck.across {
        let what = format!("{station}, template across");
        let words = format!("{}{hand}: {what}", part.name);
        let mut drawing = Drawing::default();
        drawing.closed(Layer::Outside, template.clone());
        labelled(&mut drawing, template, &words, &mut LabelPlacer::new(template));
        let bounds = template.bounds();
        pieces.push(BuckPiece { what, stock: card(), lies: foot_down(), drawing, bounds });
    }
    pieces
}

/// The stations and pins where they lie on the unrolled plate; the same as on the buck where the
/// face is level.
fn on_the_plate(buck: &BuckSet) -> BuckSet {
    let mut plate = buck.clone();
    for station in &mut plate.stations {
        if let Some(flat) = station.flat.take() {
            station.origin = flat.origin;
        }
    }
    plate.finished_ends.clear();
    if let Some(on_plate) = plate.on_plate.take() {
        (plate.pins, plate.openings) = (on_plate.pins, on_plate.openings);
    }
    plate
}

/// The stations where they cross the block.
fn on_the_block(buck: &BuckSet) -> BuckSet {
    let mut block = buck.clone();
    block.stations.iter_mut().for_each(|station| station.flat = None);
    block
}

/// The block seen from the side, its stations marked at the top with the height there.
fn side_template(side: &Polyarc, buck: &BuckSet, words: &str, other_hand: bool) -> Drawing {
    let mut drawing = Drawing::default();
    let side = if other_hand { side.moved(Affine::FLIP_X) } else { side.clone() };
    drawing.closed(Layer::Outside, side.clone());
    let mut placer = LabelPlacer::new(&side);
    let sign = if other_hand { -1.0 } else { 1.0 };
    for station in &buck.stations {
        let heights = Loop::of(&side, None).heights_at(station.at * sign);
        let [low, high] = heights[..] else { continue };
        let at = Point::new(station.at * sign, high);
        drawing.line(Layer::Scribe, at, at - (0.0, SIDE_TICK));
        let name = format!("{}: {} mm high", station.name, Digits(high - low, 1));
        if let Some((at, height)) = placer.place(&name, at - (0.0, SIDE_TICK + 3.0), 3.0) {
            drawing.label(at, height, name);
        }
    }
    labelled(&mut drawing, &side, words, &mut placer);
    drawing
}

/// A template with its name on it.
fn labelled(drawing: &mut Drawing, outline: &Polyarc, words: &str, placer: &mut LabelPlacer) {
    let size = (outline.bounds().height() / 8.0).clamp(3.0, 8.0);
    if let Some((at, height)) = placer.place(words, outline.bounds().center(), size) {
        drawing.label(at, height, words);
    }
}

fn plate(drawing: &mut Drawing, outline: &Polyarc, buck: &BuckSet, words: &str) {
    drawing.closed(Layer::Outside, outline.clone());
    let mut placer = LabelPlacer::new(outline);
    for (at, diameter, is_dowel) in &buck.pins {
        drawing.closed(Layer::Opening, Polyarc::circle(*at, diameter / 2.0));
        let reach = diameter / 2.0 + 1.0;
        placer.take(Rect::from_center_size(*at, (reach * 2.0, reach * 2.0)));
        let name =
            format!("Ø{} {}", Digits(*diameter, 2), if *is_dowel { "dowel" } else { "bolt" });
        if let Some((at, height)) = placer.place(&name, *at + (0.0, reach + 3.0), 3.0) {
            drawing.label(at, height, name);
        }
    }
    for opening in &buck.openings {
        drawing.closed(Layer::Scribe, opening.clone());
        placer.take(opening.bounds().inflate(1.0, 1.0));
    }
    for end in &buck.finished_ends {
        drawing.marks.push(line_mark(Layer::Scribe, std::slice::from_ref(end)));
    }
    draw_stations(drawing, &buck.stations, outline, &mut placer);
    let bounds = outline.bounds();
    let size = (bounds.width().min(bounds.height()) / 12.0).clamp(3.0, 8.0);
    if let Some((at, height)) =
        placer.place(words, bounds.center() + (0.0, -bounds.height() / 8.0), size)
    {
        drawing.label(Point::new(at.x, at.y), height, words);
    }
}

/// How high the block is, and what it is glued up of.
#[must_use]
pub fn height_words(unit: LengthUnit, buck: &BuckSet) -> String {
    let show = |mm: f64| unit.show(Length::from_mm(mm));
    let (height, layer) = (show(buck.height), show(buck.layer));
    let whole = buck.height - buck.layers as f64 * buck.layer;
    match (buck.layers, whole.abs() < 0.005) {
        (1, true) => format!("{height} high: one board of {layer}"),
        (1, false) => format!("{height} high: plane one board of {layer} to height"),
        (boards, true) => format!("{height} high: glue up {boards} boards of {layer}"),
        (boards, false) => {
            format!("{height} high: glue up {boards} boards of {layer} and plane to height")
        }
    }
}

fn captions(part: &Part, buck: &BuckSet) -> Vec<String> {
    let mm = |value: f64| part.unit.show(Length::from_mm(value));
    let mut lines = vec![
        format!(
            "Buck: the inside of the finished metal at the seam. {}. Seen from the hammered side.",
            height_words(part.unit, buck)
        ),
        format!(
            "Rout the upper edge to a radius of {} wherever a wall goes down.",
            mm(buck.edge_radius)
        ),
    ];
    if !buck.finished_ends.is_empty() {
        lines.push("The scribed lines across the block are the part's open edges: the block is longer by the metal that is left beyond them.".to_owned());
    }
    if buck.side.is_some() {
        lines.push(
            "The face is not level: glue the block up full height and saw its top to the side template; the numbers are its height in mm at each station."
                .to_owned(),
        );
    }
    if !buck.across.is_empty() {
        lines.push("Shape its top across to the template of each station, and sweep it evenly between them.".to_owned());
    }
    if buck.on_plate.is_some() {
        let crowned = part.kind.half_shell().is_some_and(|shell| shell.crown.mm() > 0.0);
        let way = if crowned {
            "dish it, or hollow its underside, so that it bears all round"
        } else {
            "bend it to that first"
        };
        lines.push(format!(
            "The clamp plate is drawn as it is cut, flat, and follows the buck's face: {way}."
        ));
    }
    if buck.on_plate.is_some() && buck.side.is_none() {
        lines.push("The face is not level, and its run curves: shape the block's top to its solid, buck.stl.".to_owned());
    }
    if buck.undercut.degrees() > 0.0 {
        lines.push(format!(
            "Undercut the walls {}° below that radius{}.",
            Digits(buck.undercut.degrees(), 2),
            buck.undercut_range.map_or_else(
                || ", as asked for".to_owned(),
                |[low, high]| {
                    let [low, high] = [low, high].map(|angle| Digits(angle.degrees(), 1).to_string());
                    format!(", for springback of {low} to {high}° (by calculation, two rules; hand work often needs 2 to 3°)")
                }
            )
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
        lines.push(
            "The clamp plate stays 2 mm inside the tangent line, clear of the hammer.".to_owned(),
        );
    }
    lines
}
