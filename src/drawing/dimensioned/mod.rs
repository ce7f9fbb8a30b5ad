//! The dimensioned drawing of a part: its flat with sizes from two edges, and the finished part
//! seen from three sides. Sizes are given in the manner of ISO 129-1.

mod finished;
mod flat_view;
mod ordinates;
mod room;
mod solid_view;
mod table;

use self::ordinates::DEPTH;
use self::room::Room;
use self::solid_view::Solid;
use super::label::{width_of, wrapped};
use super::{seen_face, trim_words};
use crate::flat::Flat;
use crate::formed::SpaceTriangle;
use crate::geom::{Point, Rect};
use crate::page::{Anchor, Pen, Picture, closed, corners_of};
use crate::part::Part;
use crate::units::{Digits, Length, LengthUnit};

/// Height of capitals, mm: the least of ISO 3098-1.
const LETTERS: f64 = 2.5;
const TITLE: f64 = 5.0;
const MARGIN: f64 = 10.0;
/// Above and right of a view, mm.
const BESIDE: f64 = 8.0;
/// Between the views of the finished part, mm.
const BETWEEN: f64 = 14.0;
/// Scales that are read off a rule.
const SCALES: [f64; 17] =
    [10.0, 5.0, 4.0, 2.5, 2.0, 1.0, 0.5, 0.4, 0.25, 0.2, 0.1, 0.05, 0.04, 0.025, 0.02, 0.01, 0.002];

/// Where something stands on the page, and how large.
struct Window {
    /// Its box on the page, y down.
    rect: Rect,
    scale: f64,
    /// What of the part, y up, lies at the lower left corner.
    corner: Point,
}

impl Window {
    fn place(&self, p: Point) -> Point {
        Point::new(
            self.rect.x0 + (p.x - self.corner.x) * self.scale,
            self.rect.y1 - (p.y - self.corner.y) * self.scale,
        )
    }
}

/// The drawing of a part and hand; `solid` is the finished part's surface, mm, of the same hand.
#[must_use]
pub fn dimensioned_drawing(
    part: &Part,
    flat: &Flat,
    solid: &[SpaceTriangle],
    take_care: &str,
    other_hand: bool,
) -> Picture {
    // A3, or the tabloid of an inch country.
    let page = match part.unit {
        LengthUnit::Millimetre => Rect::new(0.0, 0.0, 420.0, 297.0),
        LengthUnit::Inch => Rect::new(0.0, 0.0, 431.8, 279.4),
    };
    let hand = if other_hand { ", other hand" } else { "" };
    let title = format!("{}{hand}: sizes", part.name);
    let mut picture =
        Picture { title: title.clone(), size: (page.width(), page.height()), ..Picture::default() };
    let frame = page.inflate(-MARGIN, -MARGIN);
    let strip = draw_strip(&mut picture, part, flat, &title, take_care, frame);
    let field = Rect { y1: strip, ..frame };
    let solid = Solid::of(solid);
    let plan = Plan::of(flat, field);
    let mut room = Room::new(field);
    room.take(plan.rest);
    let words =
        format!("flat, seen from its {}, {}", seen_face(part), scale_words(plan.flat.scale));
    let at = Point::new(plan.flat.rect.x0, plan.flat.rect.y0 - BESIDE + 1.0);
    let corner = Point::new(at.x + width_of(&words, LETTERS), at.y - 1.3 * LETTERS);
    room.take(Rect::from_points(at, corner).inflate(0.5, 0.5));
    picture.words((at.x, at.y), LETTERS, Anchor::Start, words);
    flat_view::draw(&mut picture, &mut room, part, flat, &plan.flat);
    let mut tables = flat_view::tables(part, flat);
    let mut area = plan.rest;
    if let Some(solid) = &solid {
        let is_wide = area.width() > area.height();
        let share = if is_wide { (0.5, 1.0) } else { (1.0, 0.55) };
        let size = (area.width() * share.0, area.height() * share.1);
        let used = finished::draw_views(
            &mut picture,
            part,
            flat,
            solid,
            Rect::from_origin_size(area.origin(), size),
        );
        if is_wide {
            area.x0 = used.x1 + 6.0;
        } else {
            area.y0 = used.y1 + 2.0;
        }
        tables.extend(finished::tables(part, flat, solid, other_hand));
    }
    // Below the flat is room too.
    let below = Rect {
        x0: field.x0 + 4.0,
        y0: plan.flat.rect.y1 + DEPTH + 4.0,
        x1: plan.flat_area.x1 - 4.0,
        y1: plan.flat_area.y1 - 2.0,
    };
    table::draw_all(&mut picture, tables, vec![area, below]);
    picture.lines(
        Pen::Edge,
        vec![
            closed(corners_of(frame).to_vec()),
            vec![Point::new(frame.x0, strip), Point::new(frame.x1, strip)],
        ],
    );
    picture
}

/// How the page is shared out.
struct Plan {
    flat: Window,
    /// What the flat and its sizes may take.
    flat_area: Rect,
    /// For the views of the finished part and, below them or to their right, the tables.
    rest: Rect,
}

impl Plan {
    /// Flat beside or above the rest, whichever shows it larger.
    fn of(flat: &Flat, field: Rect) -> Self {
        let bounds = flat.outside.bounds();
        let around = DEPTH + BESIDE + 2.0;
        let scale_in = |area: Rect| {
            let fits = |scale: &f64| {
                bounds.width() * scale <= area.width() - around
                    && bounds.height() * scale <= area.height() - around
            };
            SCALES.into_iter().find(fits).unwrap_or(SCALES[SCALES.len() - 1])
        };
        let side = field.x0 + 0.56 * field.width();
        let low = field.y0 + 0.5 * field.height();
        let beside = (Rect { x1: side, ..field }, Rect { x0: side, ..field });
        let above = (Rect { y1: low, ..field }, Rect { y0: low, ..field });
        let [a, b] = [beside, above].map(|(area, _)| scale_in(area));
        let ((area, rest), scale) = if b > a { (above, b) } else { (beside, a) };
        let (width, height) = (bounds.width() * scale, bounds.height() * scale);
        let corner = Point::new(area.x0 + DEPTH + 2.0, area.y0 + BESIDE + 2.0);
        let rect = Rect::new(corner.x, corner.y, corner.x + width, corner.y + height);
        let flat = Window { rect, scale, corner: bounds.origin() };
        Self { flat, flat_area: area, rest: rest.inflate(-4.0, -2.0) }
    }
}

/// The strip at the foot: what this is, and what must be known to read it. Gives where it begins.
fn draw_strip(
    picture: &mut Picture,
    part: &Part,
    flat: &Flat,
    title: &str,
    take_care: &str,
    frame: Rect,
) -> f64 {
    let left = frame.x0 + 3.0;
    let middle = frame.x0 + 0.36 * frame.width();
    let (cut, net) = (flat.outside.bounds(), flat.net.bounds());
    let over = |rect: Rect| {
        format!("{} x {}", sizes_of(rect.width(), part.unit), sizes_of(rect.height(), part.unit))
    };
    let mut own = vec![
        format!("{} {}", part.material.name, part.unit.show(part.thickness)),
        format!("Flat as cut {}{}", over(cut), trim_words(part)),
    ];
    if (cut.width() - net.width()).abs().max((cut.height() - net.height()).abs()) > 0.005 {
        own.push(format!("Flat, finished edges {}", over(net)));
    }
    let mass = flat.mass(part.thickness, part.material.density.value);
    own.push(format!("Finished part {} kg", Digits(mass, 3)));
    let (first, other) = match part.unit {
        LengthUnit::Millimetre => ("millimetres", "inches"),
        LengthUnit::Inch => ("inches", "millimetres"),
    };
    let told = [
        format!("Sizes in {first}, in brackets {other}; do not measure the drawing."),
        "In the flat they are counted from A and B: straight lines at its left and its foot that \
         its outermost points touch. Numbers in circles are the bends."
            .to_owned(),
        take_care.to_owned(),
    ];
    let lines: Vec<String> =
        told.iter().flat_map(|text| wrapped(text, LETTERS, frame.x1 - middle - 3.0)).collect();
    let own: Vec<String> =
        own.iter().flat_map(|text| wrapped(text, LETTERS, middle - left - 3.0)).collect();
    let step = 1.6 * LETTERS;
    let height = (3.0 + step * lines.len() as f64).max(6.0 + TITLE + step * own.len() as f64);
    let top = frame.y1 - height;
    picture.words((left, top + 2.0 + TITLE), TITLE, Anchor::Start, title);
    for (i, line) in own.into_iter().enumerate() {
        let y = top + 3.0 + TITLE + step * (i + 1) as f64;
        picture.words((left, y), LETTERS, Anchor::Start, line);
    }
    for (i, line) in lines.into_iter().enumerate() {
        let y = top + 1.0 + step * (i + 1) as f64;
        picture.words((middle, y), LETTERS, Anchor::Start, line);
    }
    top
}

/// a, b … z, aa, ab …
fn number_of_letters(number: usize) -> String {
    let own = char::from(b'a' + u8::try_from(number % 26).unwrap_or(0));
    match number / 26 {
        0 => own.to_string(),
        more => format!("{}{own}", number_of_letters(more - 1)),
    }
}

/// A size in the part's own unit, the other in brackets.
fn sizes_of(mm: f64, unit: LengthUnit) -> String {
    let inches = Length::from_mm(mm).inches();
    match unit {
        LengthUnit::Millimetre => format!("{} [{}]", Digits(mm, 2), Digits(inches, 3)),
        LengthUnit::Inch => format!("{} [{}]", Digits(inches, 4), Digits(mm, 2)),
    }
}

/// A scale as drawings write it (ISO 5455).
fn scale_words(scale: f64) -> String {
    if scale >= 1.0 {
        format!("{} : 1", Digits(scale, 1))
    } else {
        format!("1 : {}", Digits(1.0 / scale, 1))
    }
}
