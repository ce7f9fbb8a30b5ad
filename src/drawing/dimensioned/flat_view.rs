//! The flat with its sizes: from two edges to bends, holes and corners, and the radii.

use std::f64::consts::{FRAC_PI_4, TAU};

use super::ordinates::{self, Beside, Ordinate, capacity, in_order};
use super::room::Room;
use super::table::Table;
use super::{LETTERS, Window, number_of_letters, sizes_of};
use crate::drawing::label::width_of;
use crate::flat::{Flat, FlatBend};
use crate::geom::{Loop, Point, Polyarc, Rect, Segment, Vec2, distance_to, left_of, thinned};
use crate::page::{Anchor, Pen, Picture};
use crate::part::Part;
use crate::units::{Digits, Length, LengthUnit};

/// How far drawn chords may lie from arcs, mm on the page.
const CHORD: f64 = 0.03;
/// Radius of the circle about a bend's number, mm.
const NUMBER: f64 = 2.7;
/// An outline of more vertices than that is a fitted curve, which no list of corners tells.
const MOST_CORNERS: usize = 60;
/// Bend lines nearer to upright or level than that, mm over their length, are given by one size.
const SQUARE: f64 = 1e-6;

/// A hole, or a cut of another shape.
struct Hole {
    middle: Point,
    /// Its diameter where it is round, mm; else its width and height.
    size: (f64, Option<f64>),
}

impl Hole {
    fn of(outline: &Polyarc) -> Self {
        let bounds = outline.bounds();
        let middle = bounds.center();
        let radius = bounds.width() / 2.0;
        let is_round = outline.vertices.iter().all(|v| v.bulge != 0.0)
            && outline.segments().all(|piece| {
                (0..=4).all(|k| {
                    (piece.point_at(f64::from(k) / 4.0).distance(middle) - radius).abs() < 1e-3
                })
            });
        let size =
            if is_round { (2.0 * radius, None) } else { (bounds.width(), Some(bounds.height())) };
        Self { middle, size }
    }

    /// Its size, and how far its middle lies from A and B.
    fn words(&self, datum: Point, unit: LengthUnit) -> [String; 3] {
        let size = match self.size {
            (diameter, None) => format!("ø {}", sizes_of(diameter, unit)),
            (width, Some(height)) => {
                format!("{} x {}", sizes_of(width, unit), sizes_of(height, unit))
            }
        };
        let place = self.middle - datum;
        [size, sizes_of(place.x, unit), sizes_of(place.y, unit)]
    }
}

/// What the tables beside the flat say.
pub(super) fn tables(part: &Part, flat: &Flat) -> Vec<Table> {
    let unit = part.unit;
    let datum = flat.outside.bounds().origin();
    let own = |mm: f64| match unit {
        LengthUnit::Millimetre => Digits(mm, 2),
        LengthUnit::Inch => Digits(Length::from_mm(mm).inches(), 4),
    };
    let from_datum = |p: Point| format!("({}, {})", own(p.x - datum.x), own(p.y - datum.y));
    let line = |[from, to]: [Point; 2]| match to - from {
        way if is_square(way, way.x) => format!("{} from A", sizes_of(from.x - datum.x, unit)),
        way if is_square(way, way.y) => format!("{} from B", sizes_of(from.y - datum.y, unit)),
        _ => format!("{} to {}", from_datum(from), from_datum(to)),
    };
    let mut tables = Vec::new();
    if !flat.bends.is_empty() {
        let rows = flat.bends.iter().enumerate().map(|(i, bend)| {
            let turned = bend.angle.degrees();
            let legs = if turned <= 180.0 {
                format!("{}°", Digits(180.0 - turned, 2))
            } else {
                "closed".to_owned()
            };
            vec![
                number_of(bend, i),
                format!("{}° {}", Digits(turned, 2), if bend.up { "up" } else { "down" }),
                legs,
                sizes_of(bend.inside_radius.mm(), unit),
                sizes_of(bend.developed.allowance.mm(), unit),
                line(bend.line),
            ]
        });
        tables.push(Table {
            heading: "Bends (turned from flat, which is 0)".to_owned(),
            columns: vec!["", "turn", "between legs", "inside radius", "allowance", "line"],
            rows: rows.collect(),
        });
    }
    if !flat.openings.is_empty() {
        let rows = flat.openings.iter().enumerate().map(|(i, outline)| {
            let [size, x, y] = Hole::of(outline).words(datum, unit);
            vec![number_of_letters(i), size, x, y]
        });
        tables.push(Table {
            heading: "Openings in the flat (middle from A, B)".to_owned(),
            columns: vec!["", "size over all", "from A", "from B"],
            rows: rows.collect(),
        });
    }
    let rows: Vec<Vec<String>> =
        reliefs(flat).map(|cut| Hole::of(cut).words(datum, unit).to_vec()).collect();
    if !rows.is_empty() {
        tables.push(Table {
            heading: "Reliefs in the flat (middle from A, B)".to_owned(),
            columns: vec!["size over all", "from A", "from B"],
            rows,
        });
    }
    tables.extend(outline_table(flat, unit));
    tables
}

/// A curved outline as its places below and above at even distances from A.
fn outline_table(flat: &Flat, unit: LengthUnit) -> Option<Table> {
    let bounds = flat.outside.bounds();
    let round: f64 = flat.outside.segments().filter(|s| !s.is_straight()).map(|s| s.length()).sum();
    if flat.outside.vertices.len() <= MOST_CORNERS || round < 0.2 * flat.outside.length() {
        return None;
    }
    let one = unit.length(1.0).mm();
    let steps = [0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 250.0, 500.0];
    let step = steps.into_iter().map(|s| s * one).find(|s| bounds.width() / s <= 16.0)?;
    let outline = Loop::of(&flat.outside, None);
    let mut rows = Vec::new();
    let mut x = step;
    while x < bounds.width() - 0.1 * step {
        let heights: Vec<f64> =
            outline.heights_at(bounds.x0 + x).iter().map(|y| y - bounds.y0).collect();
        if let [low, .., high] = heights.as_slice() {
            rows.push(vec![sizes_of(x, unit), sizes_of(*low, unit), sizes_of(*high, unit)]);
        }
        x += step;
    }
    Some(Table {
        heading: "Cut edge of the flat (from B, at distances from A)".to_owned(),
        columns: vec!["from A", "lowest", "highest"],
        rows,
    })
}

/// Whether the part of a direction is nothing beside the whole.
fn is_square(way: Vec2, part: f64) -> bool {
    part.abs() < SQUARE * way.hypot()
}

/// The number of a bend as its name has it.
fn number_of(bend: &FlatBend, i: usize) -> String {
    bend.name
        .rsplit(' ')
        .next()
        .filter(|n| n.parse::<usize>().is_ok())
        .map_or_else(|| (i + 1).to_string(), str::to_owned)
}

/// Draws the flat into its window, with its sizes.
pub(super) fn draw(
    picture: &mut Picture,
    room: &mut Room,
    part: &Part,
    flat: &Flat,
    window: &Window,
) {
    let drawn = |outline: &Polyarc| -> Vec<Point> {
        let mut points: Vec<Point> =
            outline.flatten(CHORD / window.scale).into_iter().map(|p| window.place(p)).collect();
        points.extend(points.first().copied());
        points
    };
    let chain = |line: &[Segment]| -> Vec<Point> {
        let mut points = Vec::new();
        for segment in line {
            let steps = if segment.is_straight() { 1 } else { 48 };
            let at = |k: u32| segment.point_at(f64::from(k) / f64::from(steps));
            points.extend((0..=steps).map(|k| window.place(at(k))));
        }
        thinned(&points, CHORD)
    };
    let outside = drawn(&flat.outside);
    room.avoid(&outside);
    let mut cuts = vec![outside];
    cuts.extend(flat.openings.iter().map(&drawn));
    for cut in &cuts[1..] {
        room.avoid(cut);
    }
    picture.lines(Pen::Cut, cuts);
    picture.lines(Pen::BendZone, flat.bend_zones.iter().map(|zone| chain(zone)).collect());
    picture.lines(Pen::Scribe, flat.scribes.iter().map(|line| chain(line)).collect());
    for up in [true, false] {
        let bends = flat.bends.iter().filter(|bend| bend.up == up);
        let mut lines: Vec<Vec<Point>> =
            bends.map(|bend| bend.line.map(|p| window.place(p)).to_vec()).collect();
        lines.extend(
            flat.wall_lines.iter().filter(|wall| wall.up == up).map(|wall| chain(&wall.line)),
        );
        for line in &lines {
            room.avoid(line);
        }
        picture.lines(if up { Pen::FoldUp } else { Pen::FoldDown }, lines);
    }
    number_bends(picture, room, flat, window);
    draw_ordinates(picture, room, part.unit, flat, window);
    letter_holes(picture, room, flat, window);
    draw_radii(picture, room, part.unit, flat, window);
}

/// A circle with its number on each bend's line, or beside it on a leader.
fn number_bends(picture: &mut Picture, room: &mut Room, flat: &Flat, window: &Window) {
    for (i, bend) in flat.bends.iter().enumerate() {
        let [from, to] = bend.line.map(|p| window.place(p));
        let number = number_of(bend, i);
        let on_line = [0.5, 0.3, 0.7, 0.15, 0.85].map(|share| from.lerp(to, share));
        let middle = from.midpoint(to);
        let square =
            if from == to { Vec2::new(0.0, 1.0) } else { left_of((to - from).normalize()) };
        let size = (2.0 * NUMBER, 2.0 * NUMBER);
        let is_free =
            |room: &Room, at: Point| room.is_clear_of_words(Rect::from_center_size(at, size));
        let place = if from.distance(to) > 2.6 * NUMBER {
            on_line.into_iter().find(|at| is_free(room, *at))
        } else {
            None
        };
        let at = match place {
            Some(at) => {
                room.take(Rect::from_center_size(at, size));
                at
            }
            None => {
                let ways = [square, -square, square + left_of(square), -square + left_of(square)];
                let beside = (2..12).flat_map(|ring| {
                    ways.map(|way| middle + way.normalize() * (2.2 * f64::from(ring)))
                });
                let Some(at) = room.first_free(size, beside.collect::<Vec<_>>()) else { continue };
                let edge = at + (middle - at).normalize() * NUMBER;
                picture.lines(Pen::Dimension, vec![vec![middle, edge]]);
                at
            }
        };
        circle(picture, at, NUMBER);
        picture.words((at.x, at.y + 0.36 * LETTERS), LETTERS, Anchor::Middle, number);
    }
}

/// A white disc with an edge.
fn circle(picture: &mut Picture, at: Point, radius: f64) {
    let ring: Vec<Point> =
        (0..=36).map(|k| at + Vec2::from_angle(f64::from(k) * TAU / 36.0) * radius).collect();
    picture.fill(crate::page::Ink::Paper, vec![ring.clone()]);
    picture.lines(Pen::Edge, vec![ring]);
}

/// The rows of distances from A and B; what does not fit is left to the tables.
fn draw_ordinates(
    picture: &mut Picture,
    room: &mut Room,
    unit: LengthUnit,
    flat: &Flat,
    window: &Window,
) {
    let bounds = flat.outside.bounds();
    for beside in [Beside::Below, Beside::Left] {
        let along =
            |p: Point| if beside == Beside::Below { p.x - bounds.x0 } else { p.y - bounds.y0 };
        let ordinate = |p: Point| Ordinate { value: along(p), at: window.place(p) };
        let way = if beside == Beside::Below { Vec2::new(1.0, 0.0) } else { Vec2::new(0.0, 1.0) };
        let mut all: Vec<Ordinate> =
            [-way, way].map(|way| ordinate(extreme(&flat.outside, way))).into();
        let square = flat.bends.iter().filter(|bend| {
            let way = bend.line[1] - bend.line[0];
            is_square(way, if beside == Beside::Below { way.x } else { way.y })
        });
        all.extend(square.flat_map(|bend| bend.line.map(ordinate)));
        let length =
            if beside == Beside::Below { window.rect.width() } else { window.rect.height() };
        // A row may be somewhat longer than the view.
        let most = capacity(length + 16.0);
        let holes: Vec<Ordinate> =
            flat.openings.iter().map(|opening| ordinate(opening.bounds().center())).collect();
        let corners: Vec<Ordinate> = corners(flat).into_iter().map(ordinate).collect();
        for more in [holes, corners] {
            let longer = in_order([all.clone(), more].concat(), beside);
            if longer.len() <= most {
                all = longer;
            }
        }
        ordinates::draw(picture, room, &in_order(all, beside), beside, window.rect, unit);
    }
    let corner = Point::new(window.rect.x0, window.rect.y1);
    for (letter, at) in [
        ("A", Point::new(corner.x - 3.5, window.rect.y0 - 2.0)),
        ("B", Point::new(window.rect.x1 + 3.5, corner.y + 1.2)),
    ] {
        picture.words((at.x, at.y), 1.4 * LETTERS, Anchor::Middle, letter);
        room.take(Rect::from_center_size(at, (5.0, 5.0)));
    }
}

/// Where the cut edge has corners, and where its lines run into arcs: neither the joints of a fitted
/// curve nor what lies in a bend or a relief.
fn corners(flat: &Flat) -> Vec<Point> {
    let pieces: Vec<Segment> = flat.outside.segments().collect();
    let before = |i: usize| &pieces[(i + pieces.len() - 1) % pieces.len()];
    let is_corner = |i: &usize| {
        let turn = before(*i).tangent_at(1.0).cross(pieces[*i].tangent_at(0.0));
        turn.abs() > 0.05 || before(*i).is_straight() != pieces[*i].is_straight()
    };
    let is_in_bend = |p: Point| {
        flat.tree.iter().flat_map(|tree| &tree.bends).any(|bend| {
            let [from, to] = bend.middle();
            let along = (p - from).dot((to - from).normalize()) / from.distance(to);
            let depth = bend.depth_of(p);
            depth > 0.01 && depth < bend.allowance() - 0.01 && (-0.1..1.1).contains(&along)
        })
    };
    let is_in_relief =
        |p: Point| reliefs(flat).any(|relief| relief.contains(p) || distance_to(relief, p) < 0.01);
    (0..pieces.len())
        .filter(is_corner)
        .map(|i| pieces[i].from())
        .filter(|p| !is_in_bend(*p) && !is_in_relief(*p))
        .collect()
}

/// The reliefs that are cut off the edge.
fn reliefs(flat: &Flat) -> impl Iterator<Item = &Polyarc> {
    flat.tree.iter().flat_map(|tree| &tree.reliefs).map(|relief| &relief.outline)
}

/// The point of an outline that lies farthest that way.
fn extreme(outline: &Polyarc, way: Vec2) -> Point {
    let mut best = outline.vertices[0].point;
    for piece in outline.segments() {
        let steps = if piece.is_straight() { 1 } else { 64 };
        for k in 0..=steps {
            let p = piece.point_at(f64::from(k) / f64::from(steps));
            if (p - best).dot(way) > 1e-9 {
                best = p;
            }
        }
    }
    // Of an arc the very place, which the samples miss.
    let bounds = outline.bounds();
    if way.x == 0.0 {
        Point::new(best.x, if way.y > 0.0 { bounds.y1 } else { bounds.y0 })
    } else {
        Point::new(if way.x > 0.0 { bounds.x1 } else { bounds.x0 }, best.y)
    }
}

/// The letter of each opening, in it or beside it.
fn letter_holes(picture: &mut Picture, room: &mut Room, flat: &Flat, window: &Window) {
    for (i, outline) in flat.openings.iter().enumerate() {
        let letter = number_of_letters(i);
        let at = window.place(outline.bounds().center());
        let size = (width_of(&letter, LETTERS), 1.3 * LETTERS);
        let reach = outline.bounds().size().to_vec2() * (window.scale / 2.0);
        let around = (0..4).flat_map(|ring| {
            (0..8).map(move |k| {
                let way = Vec2::from_angle(f64::from(k) * FRAC_PI_4 + FRAC_PI_4 / 2.0);
                let off = 0.8 + 1.5 * f64::from(ring);
                at + Vec2::new(
                    way.x * (reach.x + off + size.0 / 2.0),
                    way.y * (reach.y + off + size.1 / 2.0),
                )
            })
        });
        let places: Vec<Point> = std::iter::once(at).chain(around).collect();
        if let Some(place) = room.first_free(size, places) {
            picture.words((place.x, place.y + 0.36 * LETTERS), LETTERS, Anchor::Middle, letter);
        }
    }
}

/// The radii of the outline's round corners, each size once with how many there are.
fn draw_radii(
    picture: &mut Picture,
    room: &mut Room,
    unit: LengthUnit,
    flat: &Flat,
    window: &Window,
) {
    if flat.outside.vertices.len() > MOST_CORNERS {
        return;
    }
    let mut sizes: Vec<(f64, Vec<(Point, Vec2)>)> = Vec::new();
    let round = |piece: &Segment| {
        !piece.is_straight()
            && !reliefs(flat).any(|cut| distance_to(cut, piece.point_at(0.5)) < 0.01)
    };
    for piece in flat.outside.segments().filter(round) {
        let curvature = piece.curvature_at(0.5);
        let radius = 1.0 / curvature.abs();
        // Toward the side on which the arc bulges.
        let out = -left_of(piece.tangent_at(0.5)) * curvature.signum();
        let place = (window.place(piece.point_at(0.5)), Vec2::new(out.x, -out.y));
        match sizes.iter_mut().find(|(size, _)| (size - radius).abs() < 0.005) {
            Some((_, places)) => places.push(place),
            None => sizes.push((radius, vec![place])),
        }
    }
    for (radius, places) in sizes {
        let count = if places.len() > 1 { format!("{} x ", places.len()) } else { String::new() };
        let text = format!("{count}R {}", sizes_of(radius, unit));
        let found = places.iter().find_map(|(at, out)| {
            room.beside(&text, LETTERS, (*at, *out), 4.0).map(|middle| (*at, middle))
        });
        if let Some((at, middle)) = found {
            let half = width_of(&text, LETTERS) / 2.0;
            let end = Point::new(
                at.x.clamp(middle.x - half, middle.x + half),
                middle.y + if at.y > middle.y { 0.7 * LETTERS } else { -0.7 * LETTERS },
            );
            let leader = vec![at, end];
            room.avoid(&leader);
            picture.lines(Pen::Dimension, vec![leader]);
            picture.words((middle.x, middle.y + 0.36 * LETTERS), LETTERS, Anchor::Middle, text);
        }
    }
}
