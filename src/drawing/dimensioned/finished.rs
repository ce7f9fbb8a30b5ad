//! The finished part: three views with the sizes over all, and tables of its legs and openings.

use super::solid_view::{Side, Solid};
use super::table::Table;
use super::{BETWEEN, LETTERS, SCALES, Window, number_of_letters, scale_words, sizes_of};
use crate::drawing::label::width_of;
use crate::flat::{Flat, openings_of};
use crate::formed::FoldTree;
use crate::geom::space::{Space, cross, dot, length, minus};
use crate::geom::{OTHER_HAND, Point, Rect, Vec2, left_of, thinned};
use crate::page::{Anchor, Ink, Pen, Picture};
use crate::part::{Kind, Part};
use crate::units::LengthUnit;

/// What the sizes take left of and below a view, and its words above it, mm.
const LEFT: f64 = 34.0;
const BELOW: f64 = 13.0;
const ABOVE: f64 = 12.0;
/// How far drawn lines may be from the true ones, mm on the page.
const THINNED: f64 = 0.03;
/// By how much the chords of a solid may make it smaller than the part, mm.
const CHORDS: f64 = 0.2;
/// A dimension line stands so far from its view, mm.
const OFF: f64 = 7.0;

/// The largest scale at which the three views fit an area.
fn scale_in(solid: &Solid, area: Rect) -> f64 {
    let ((width, depth), (_, height)) = (solid.size(Side::Above), solid.size(Side::Front));
    let fits = |scale: &f64| {
        (width + depth) * scale + LEFT + BETWEEN + 12.0 <= area.width()
            && (depth + height) * scale + ABOVE + BETWEEN + BELOW <= area.height()
    };
    SCALES.into_iter().find(fits).unwrap_or(SCALES[SCALES.len() - 1])
}

/// Draws the three views into the upper left of an area; gives the box that they take.
pub(super) fn draw_views(
    picture: &mut Picture,
    part: &Part,
    flat: &Flat,
    solid: &Solid,
    area: Rect,
) -> Rect {
    let [across, along, up] = over_all(part, flat, solid);
    let scale = scale_in(solid, area);
    let ((width, depth), (_, height)) = (solid.size(Side::Above), solid.size(Side::Front));
    let origin = Point::new(area.x0 + LEFT, area.y0 + ABOVE);
    let below = origin.y + depth * scale + BETWEEN;
    // The words above and below a narrow view are wider than the view.
    let wide = |side: Side, size: f64| {
        let words = if side == Side::Front { &across } else { &along };
        (size * scale).max(width_of(side.words(), LETTERS)).max(width_of(words, LETTERS))
    };
    let beside = origin.x + wide(Side::Front, width) + BETWEEN / 2.0 + width_of("0", LETTERS);
    let beside = beside.max(origin.x + width * scale + BETWEEN);
    for (side, at) in [
        (Side::Above, origin),
        (Side::Front, Point::new(origin.x, below)),
        (Side::Right, Point::new(beside, below)),
    ] {
        let (w, h) = solid.size(side);
        let rect = Rect::new(at.x, at.y, at.x + w * scale, at.y + h * scale);
        let window = Window { rect, scale, corner: solid.corner(side) };
        let seen = solid.seen(side, scale);
        let on_page = |chain: &Vec<Point>| {
            thinned(&chain.iter().map(|p| window.place(*p)).collect::<Vec<_>>(), THINNED)
        };
        picture.lines(Pen::Edge, seen.iter().map(on_page).collect());
        picture.words((at.x, at.y - 2.0), LETTERS, Anchor::Start, side.words());
        match side {
            Side::Above => size_left(picture, rect, &along),
            Side::Front => {
                size_left(picture, rect, &up);
                size_below(picture, rect, &across);
            }
            Side::Right => size_below(picture, rect, &along),
        }
    }
    let has_lip = openings_of(part, flat).iter().any(|opening| opening.lip.is_some());
    let lips = if has_lip { ", lips left out" } else { "" };
    let words = format!("finished part, outside sizes{lips}, {}", scale_words(scale));
    picture.words((area.x0, area.y0 + LETTERS), LETTERS, Anchor::Start, words);
    let right = beside + wide(Side::Right, depth);
    Rect::new(area.x0, area.y0, right, below + height * scale + BELOW)
}

/// The sizes over all along x, y and z in words. The solid has chords for curves; what the part's
/// own outline and depth say comes first, as far as the solid agrees.
fn over_all(part: &Part, flat: &Flat, solid: &Solid) -> [String; 3] {
    let drawn = minus(solid.bounds.high, solid.bounds.low);
    let sides = |bounds: Rect, height: f64| Some([bounds.width(), bounds.height(), height]);
    let known = match &part.kind {
        Kind::HalfShell(shell) => {
            let height = shell.depths().1.mm() + shell.crown.mm();
            sides(shell.profile.sides.bounds(), height)
        }
        Kind::Plate(_) => sides(flat.net.bounds(), part.thickness.mm()),
        // Most of their edges are straight, and the chords of their bends stay within a hundredth.
        Kind::Bent(_) | Kind::Folded(_) => None,
    };
    [0, 1, 2].map(|i| match known {
        None => sizes_of(drawn[i], part.unit),
        Some(known) if (known[i] - drawn[i]).abs() < CHORDS => sizes_of(known[i], part.unit),
        Some(_) => format!("about {}", sizes_of((10.0 * drawn[i]).round() / 10.0, part.unit)),
    })
}

/// A size over the whole width of a view, below it.
fn size_below(picture: &mut Picture, view: Rect, words: &str) {
    let y = view.y1 + OFF;
    let ends = [view.x0, view.x1].map(|x| Point::new(x, y));
    let lines =
        [view.x0, view.x1].map(|x| vec![Point::new(x, view.y1 + 0.8), Point::new(x, y + 1.5)]);
    size_line(picture, ends, lines);
    let at = (view.center().x, y + 1.3 * LETTERS + 0.6);
    picture.words(at, LETTERS, Anchor::Middle, words);
}

/// A size over the whole height of a view, to its left.
fn size_left(picture: &mut Picture, view: Rect, words: &str) {
    let x = view.x0 - OFF;
    let ends = [view.y0, view.y1].map(|y| Point::new(x, y));
    let lines =
        [view.y0, view.y1].map(|y| vec![Point::new(view.x0 - 0.8, y), Point::new(x - 1.5, y)]);
    size_line(picture, ends, lines);
    let at = (x - 2.0, view.center().y + 0.36 * LETTERS);
    picture.words(at, LETTERS, Anchor::End, words);
}

/// A dimension line with its arrows, and the two lines to what it spans.
fn size_line(picture: &mut Picture, ends: [Point; 2], [from, to]: [Vec<Point>; 2]) {
    let way = (ends[1] - ends[0]).normalize();
    // Where there is no room between them the arrows stand outside and point in.
    let is_short = ends[0].distance(ends[1]) < 7.0;
    let (sign, over) = if is_short { (-1.0, 5.0) } else { (1.0, 0.0) };
    let arrow = |tip: Point, way: Vec2| {
        let side = left_of(way) * 0.45;
        vec![tip, tip + way * 2.6 + side, tip + way * 2.6 - side, tip]
    };
    let arrows = vec![arrow(ends[0], way * sign), arrow(ends[1], way * -sign)];
    picture.fill(Ink::Black, arrows);
    picture.lines(Pen::Dimension, vec![from, to, vec![ends[0] - way * over, ends[1] + way * over]]);
}

/// How high each leg stands, and where openings lie in the finished part.
pub(super) fn tables(part: &Part, flat: &Flat, solid: &Solid, other_hand: bool) -> Vec<Table> {
    let mut tables = Vec::new();
    if let Some(tree) = &flat.tree {
        tables.extend(legs(tree, part.unit));
    }
    // A shell's openings are given from its own outline.
    let hand =
        |bounds: Rect| if other_hand { OTHER_HAND.transform_rect_bbox(bounds) } else { bounds };
    let places = places_of_openings(part, flat, other_hand);
    if !places.is_empty() {
        let rows = places.into_iter().enumerate().map(|(i, (at, normal))| {
            let letter = number_of_letters(i);
            let side = [Side::Above, Side::Front, Side::Right]
                .into_iter()
                .find(|side| dot(side.toward(), normal).abs() > 0.9999);
            match side {
                Some(side) => {
                    let corner = match part.kind.half_shell() {
                        Some(shell) => hand(shell.profile.sides.bounds()).origin(),
                        None => solid.corner(side),
                    };
                    let off = side.place(at) - corner;
                    vec![
                        letter,
                        side.words().to_owned(),
                        sizes_of(off.x, part.unit),
                        sizes_of(off.y, part.unit),
                    ]
                }
                None => vec![letter, "on a slope: by the flat".to_owned()],
            }
        });
        tables.push(Table {
            heading: "Openings in the finished part (middle; from the outside of the metal)"
                .to_owned(),
            columns: vec!["", "view", "from the left", "from below"],
            rows: rows.collect(),
        });
    }
    tables
}

/// The legs of a bent or folded part, each from its free edge or next bend to the bend that turns
/// it, over the outside.
fn legs(tree: &FoldTree, unit: LengthUnit) -> Option<Table> {
    // To where the outside faces of the legs would meet; beyond a right angle, to where the bend's
    // own outside is farthest out.
    let set_back = |bend: usize| {
        let bend = &tree.bends[bend];
        let half = bend.angle.abs().min(std::f64::consts::FRAC_PI_2) / 2.0;
        (bend.inside_radius + tree.thickness) * half.tan()
    };
    let rows: Vec<Vec<String>> = tree
        .faces
        .iter()
        .enumerate()
        .filter_map(|(i, face)| {
            let own = face.bend?;
            let bend = &tree.bends[own];
            if bend.joggle.is_some() {
                return None;
            }
            let depth = |p: Point| (p - bend.child_line[0]).dot(bend.toward);
            let high = face.outline.vertices.iter().map(|v| depth(v.point)).fold(0.0, f64::max);
            let next = tree.bends.iter().position(|next| {
                next.parent == i && next.parent_line.iter().all(|p| (depth(*p) - high).abs() < 1e-3)
            });
            let outside = high + set_back(own) + next.map_or(0.0, set_back);
            Some(vec![face.name.clone(), bend.name.clone(), sizes_of(outside, unit)])
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    let mut all =
        vec![vec![tree.faces[0].name.clone(), String::new(), first_leg(tree, unit, &set_back)]];
    all.extend(rows);
    Some(Table {
        heading: "Legs, over the outside".to_owned(),
        columns: vec!["leg", "turned by", "size"],
        rows: all,
    })
}

/// The size over the outside of the face that all others are bent up from, across its bends.
fn first_leg(tree: &FoldTree, unit: LengthUnit, set_back: &dyn Fn(usize) -> f64) -> String {
    let mut bounds = tree.faces[0].outline.bounds();
    let mut across = [false, false];
    for (i, bend) in tree.bends.iter().enumerate().filter(|(_, bend)| bend.parent == 0) {
        let by = bend.toward * set_back(i);
        // One that runs at a slant has no place in a width or a height.
        if by.x.abs().min(by.y.abs()) > 1e-6 {
            continue;
        }
        let at = bend.parent_line[0];
        for (axis, by, at, low, high) in [
            (0, by.x, at.x, &mut bounds.x0, &mut bounds.x1),
            (1, by.y, at.y, &mut bounds.y0, &mut bounds.y1),
        ] {
            if by.abs() > 1e-6 {
                across[axis] = true;
                // Over a bend at the face's very edge the size reaches to the mould line.
                if by < 0.0 && (at - *low).abs() < 1e-3 {
                    *low += by;
                } else if by > 0.0 && (at - *high).abs() < 1e-3 {
                    *high += by;
                }
            }
        }
    }
    match across {
        [true, true] => {
            format!("{} x {}", sizes_of(bounds.width(), unit), sizes_of(bounds.height(), unit))
        }
        [true, false] => sizes_of(bounds.width(), unit),
        [false, true] => sizes_of(bounds.height(), unit),
        [false, false] => String::new(),
    }
}

/// The middle of each opening in the finished part, and the direction square to the metal there, in
/// the order in which the flat lists them.
fn places_of_openings(part: &Part, flat: &Flat, other_hand: bool) -> Vec<(Space, Space)> {
    if let Some(tree) = &flat.tree {
        let folding = tree.folded();
        return tree
            .faces
            .iter()
            .enumerate()
            .flat_map(|(i, face)| face.openings.iter().map(move |opening| (i, opening)))
            .map(|(i, opening)| {
                let middle = opening.outline.bounds().center();
                let at = |off: Vec2| folding.on_face(i, middle + off, 0.0);
                let [a, b, c] = [Vec2::ZERO, Vec2::new(1.0, 0.0), Vec2::new(0.0, 1.0)].map(at);
                let normal = cross(minus(b, a), minus(c, a));
                (a, normal.map(|x| x / length(normal)))
            })
            .collect();
    }
    let hand = |p: Point| if other_hand { OTHER_HAND * p } else { p };
    part.kind
        .openings()
        .into_iter()
        .map(|opening| hand(opening.outline.bounds().center()))
        .map(|p| ([p.x, p.y, 0.0], [0.0, 0.0, 1.0]))
        .collect()
}
