//! The first page of templates: what to check, and how the sheets of each thing go together.

use std::sync::Arc;

use super::bars::words;
use super::free::Taken;
use super::{
    Laid, MOST_TILES, PaperSize, Print, Sheet, Template, WORDS, below, paragraph, tile_name,
};
use crate::formats::line_words;
use crate::geom::{Affine, Point, Polyarc, Rect, Segment};
use crate::page::{Drawing, Layer, Mark, Paper, Pen, Shape, View, lettering};
use crate::units::counted;

/// Height of the title and of what is read first, mm.
const TITLE: f64 = 4.5;
const TEXT: f64 = 2.5;
/// Height of a thing's place with its picture, and the columns of them.
const CELL: f64 = 58.0;
const COLUMNS: usize = 2;
/// Room between two of them, and between a picture and its words, mm.
const BETWEEN: f64 = 6.0;
/// The largest height of a tile's name in a picture, mm.
const NAME: f64 = 3.0;

/// As many pages as the pictures take.
pub(super) fn pages(
    (title, take_care): (&str, &str),
    templates: &[Template],
    laid: &[Option<Laid>],
    size: PaperSize,
    print: Print,
) -> Vec<Paper> {
    let sheet = Sheet::new(size.mm(), print, &[take_care.to_owned()]);
    let field = sheet.field();
    let firsts = first_pages(laid, 0);
    let mut head = Drawing::default();
    let are_joined = laid.iter().flatten().any(|laid| laid.tiling.count() > 1);
    let legend_top = intro(&mut head, title, (&sheet, size, print), are_joined);
    let (legend, intro_end) = legend(templates, field, legend_top);
    let mut head = Some((head, legend));
    let rows = |top: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a paper holds a handful"
        )]
        let rows = ((top - field.y0) / CELL).max(0.0).floor() as usize;
        rows
    };
    let (on_first, on_next) = (COLUMNS * rows(intro_end), COLUMNS * rows(field.y1).max(1));
    let more = templates.len().saturating_sub(on_first).div_ceil(on_next);
    let mut left = templates.iter().zip(laid).zip(firsts).peekable();
    let mut all = Vec::new();
    for page in 0..=more {
        let name = if more == 0 { "index".to_owned() } else { format!("index {}", page + 1) };
        let beside = [format!("{} paper", size.name())];
        let (mut drawing, _) = sheet.furniture(&name, &beside);
        let mut views = Vec::new();
        let (top, room) = match head.take() {
            Some((head, legend)) => {
                drawing.marks.extend(head.marks);
                views.push(View::on_paper(legend, None));
                (intro_end, on_first)
            }
            None => (field.y1, on_next),
        };
        for i in 0..room {
            let Some(((template, laid), first)) = left.next() else { break };
            let width = (field.width() - BETWEEN) / COLUMNS as f64;
            let x = field.x0 + (i % COLUMNS) as f64 * (width + BETWEEN);
            let y = top - (i / COLUMNS) as f64 * CELL;
            let place = Rect::new(x, y - CELL + BETWEEN, x + width, y);
            cell((&mut drawing, &mut views), place, template, laid.as_ref(), 2 + more + first);
        }
        views.push(View::on_paper(drawing, Some(Pen::Edge)));
        all.push(sheet.page(views));
    }
    all
}

/// The page after the index on which each thing begins.
fn first_pages(laid: &[Option<Laid>], start: usize) -> Vec<usize> {
    laid.iter()
        .scan(start, |next, laid| {
            let first = *next;
            *next += laid.as_ref().map_or(0, |laid| laid.tiling.count());
            Some(first)
        })
        .collect()
}

/// The title and what to do, from the top; gives the height of the page below them.
fn intro(
    drawing: &mut Drawing,
    title: &str,
    (sheet, size, print): (&Sheet, PaperSize, Print),
    are_joined: bool,
) -> f64 {
    let field = sheet.field();
    let mut at = Point::new(field.x0, field.y1);
    at = paragraph(drawing, at, (TITLE, field.width()), &format!("{title}: templates at 1:1"));
    let steps = [
        Some(format!(
            "Print all pages on {} paper at 100 %, no fit to page, one side only.",
            size.name()
        )),
        Some(print.scale_words().map_or_else(
            || {
                "Measure the bars on this page with a steel rule, across and up. If one is more than 0.3 mm off, print anew with --print-scale \
                 X,Y: what the bar must measure over what it measures, across and up. A bar of 100 mm that measures 99.2 mm asks for 1.008065."
                    .to_owned()
            },
            |scale| {
                format!(
                    "This print is {scale}. Measure the bars with a steel rule, across and up. If one is still off, multiply its factor by what \
                     it must measure over what it measures."
                )
            },
        )),
        are_joined.then(|| {
            "Cut every sheet along its broken lines at the right and at the top, lay it over its neighbours so that the rings meet, and stick \
             it down: the lower left sheet comes last, on top. Then check the length of the whole."
                .to_owned()
        }),
        Some(
            "Glue it down flat and dry, face up as its words say. Whole lines are cut, broken lines are marked."
                .to_owned(),
        ),
    ];
    at = below(at, 1.0);
    for (i, step) in steps.iter().flatten().enumerate() {
        at = paragraph(drawing, at, (TEXT, field.width()), &format!("{}. {step}", i + 1));
        at = below(at, 0.6);
    }
    at.y - 1.0
}

/// From one line of the legend to the next, mm.
const LEGEND_LINE: f64 = 4.4;
/// Length of its samples.
const SAMPLE: f64 = 18.0;

/// The kinds of line on the templates.
fn used(templates: &[Template]) -> Vec<Layer> {
    let marks = || templates.iter().flat_map(|template| &template.drawing.marks);
    Layer::ALL
        .into_iter()
        .filter(|layer| *layer != Layer::Note && marks().any(|mark| mark.layer == *layer))
        .collect()
}

/// A sample of each kind of line with its meaning, from `top` down, and the height below them.
fn legend(templates: &[Template], field: Rect, top: f64) -> (Drawing, f64) {
    let used = used(templates);
    let lines = used.len().div_ceil(COLUMNS) as f64;
    let mut samples = Drawing::default();
    for (i, layer) in used.into_iter().enumerate() {
        let x = field.x0 + (i % COLUMNS) as f64 * field.width() / COLUMNS as f64;
        let base = top - (i / COLUMNS) as f64 * LEGEND_LINE - WORDS;
        let middle = base + WORDS / 2.0;
        samples.line(layer, Point::new(x, middle), Point::new(x + SAMPLE, middle));
        words(&mut samples, Point::new(x + SAMPLE + 2.0, base), WORDS, 0.0, line_words(layer));
    }
    (samples, top - lines * LEGEND_LINE - BETWEEN)
}

/// A thing's name, its sheets, and a small picture of how they go together.
fn cell(
    (drawing, views): (&mut Drawing, &mut Vec<View>),
    place: Rect,
    template: &Template,
    laid: Option<&Laid>,
    first: usize,
) {
    let top = Point::new(place.x0, place.y1);
    let at = paragraph(drawing, top, (WORDS, place.width()), &template.title());
    let at = paragraph(
        drawing,
        at,
        (WORDS, place.width()),
        &format!("{}; {}; revision {}", template.stock, template.face, template.revision),
    );
    let Some(laid) = laid else {
        let words = format!(
            "Not printed: it takes more than {MOST_TILES} sheets. Take a larger paper, or have its drawing plotted."
        );
        paragraph(drawing, at, (WORDS, place.width()), &words);
        return;
    };
    let tiling = &laid.tiling;
    let sheets = match tiling.count() {
        1 => format!("one sheet: page {first}"),
        count => format!(
            "{count} sheets, {} of {}: pages {first} to {}",
            counted(tiling.rows, "row"),
            tiling.columns,
            first + count - 1
        ),
    };
    let at = paragraph(drawing, at, (WORDS, place.width()), &sheets);
    let room = Rect::new(place.x0, place.y0, place.x1, at.y - 1.0);
    let whole = tiling
        .tiles()
        .map(|tile| tiling.seen(tile))
        .reduce(|a, b| a.union(b))
        .unwrap_or(Rect::ZERO);
    let scale = (room.width() / whole.width()).min(room.height() / whole.height()).min(1.0);
    // At the left and the top of its room.
    let to_paper = Affine::translate((room.x0, room.y1))
        * Affine::scale(scale)
        * Affine::translate((-whole.x0, -whole.y1));
    let lines = lines_of(&template.drawing);
    let mut taken = Taken::by(&scaled(&lines, scale));
    let lines = Arc::new(lines);
    views.push(View { drawing: lines, place: to_paper, window: None, pen: Some(Pen::Edge) });
    let mut grid = Drawing::default();
    let seen_whole = to_paper.transform_rect_bbox(whole);
    grid.closed(Layer::Note, Polyarc::rectangle(seen_whole));
    // Each joint once: dashes drawn twice fill each other's gaps.
    for column in 1..tiling.columns {
        let x = to_paper.transform_rect_bbox(tiling.seen((0, column))).x0;
        grid.line(Layer::Note, Point::new(x, seen_whole.y0), Point::new(x, seen_whole.y1));
    }
    for row in 1..tiling.rows {
        let y = to_paper.transform_rect_bbox(tiling.seen((row, 0))).y1;
        grid.line(Layer::Note, Point::new(seen_whole.x0, y), Point::new(seen_whole.x1, y));
    }
    for tile in tiling.tiles() {
        let seen = to_paper.transform_rect_bbox(tiling.seen(tile));
        let name = tile_name(tile);
        let height = NAME
            .min(0.5 * seen.height())
            .min(NAME * 0.8 * seen.width() / lettering::width(&name, NAME));
        let half = (lettering::width(&name, height) / 2.0, height / 2.0);
        let at = free_in(tiling.seen(tile), scale, half, &taken);
        taken.take(Rect::from_center_size(at, (2.0 * half.0, 2.0 * half.1)));
        let at = to_paper * Point::new(at.x / scale, at.y / scale);
        drawing.label(below(at, half.1), height, name);
    }
    views.push(View::on_paper(grid, Some(Pen::Net)));
}

/// The place in a tile, in the drawing's coordinates times `scale`, that is free for a name and
/// nearest to its middle; the middle where none is free.
fn free_in(tile: Rect, scale: f64, half: (f64, f64), taken: &Taken) -> Point {
    const STEPS: i32 = 12;
    let middle = Point::new(tile.center().x * scale, tile.center().y * scale);
    let room = (
        (tile.width() * scale / 2.0 - half.0 - 1.0).max(0.0),
        (tile.height() * scale / 2.0 - half.1 - 1.0).max(0.0),
    );
    let share = |n: i32| f64::from(n) / f64::from(STEPS);
    (-STEPS..=STEPS)
        .flat_map(|i| (-STEPS..=STEPS).map(move |k| (i, k)))
        .map(|(i, k)| middle + (room.0 * share(i), room.1 * share(k)))
        .filter(|at| taken.is_free(Rect::from_center_size(*at, (2.0 * half.0, 2.0 * half.1))))
        .min_by(|a, b| a.distance(middle).total_cmp(&b.distance(middle)))
        .unwrap_or(middle)
}

/// A drawing's lines without its words.
fn lines_of(drawing: &Drawing) -> Drawing {
    let lines = |mark: &&Mark| !matches!(mark.shape, Shape::Text { .. });
    Drawing { marks: drawing.marks.iter().filter(lines).cloned().collect(), ..Drawing::default() }
}

/// Chords of the lines, scaled.
fn scaled(drawing: &Drawing, scale: f64) -> Drawing {
    let piece = |segment: &Segment| {
        let points: Vec<Point> = (0..=8)
            .map(|i| segment.point_at(f64::from(i) / 8.0))
            .map(|p| Point::new(p.x * scale, p.y * scale))
            .collect();
        points
            .windows(2)
            .map(|pair| Segment::Line { from: pair[0], to: pair[1] })
            .collect::<Vec<_>>()
    };
    let mut small = Drawing::default();
    for mark in &drawing.marks {
        let chain: Vec<Segment> = match &mark.shape {
            Shape::Closed(outline) => outline.segments().flat_map(|s| piece(&s)).collect(),
            Shape::Open(chain) => chain.iter().flat_map(piece).collect(),
            Shape::Text { .. } => continue,
        };
        small.marks.push(Mark { layer: mark.layer, shape: Shape::Open(chain) });
    }
    small
}
