//! Drawings cut into sheets of paper, to be printed at 1:1, put together and glued on wood or laid
//! on metal.
//!
//! Each sheet shows its tile of the drawing above a foot with bars to measure, the tile's name and
//! what it is a template of; a bar along the other axis stands at its left edge. A document begins
//! with an index of what goes together how.

mod bars;
mod free;
mod index;
mod joints;
mod revision;
mod tiling;

use std::sync::Arc;

use self::bars::{BAR_BREADTH, Bar, bars, paragraph, pitch, words};
use self::free::Taken;
use self::joints::joints;
use self::revision::revision;
use self::tiling::{MOST_TILES, Tiling, tile_name};
use super::blank::{blank_drawing, seen_face};
use super::buck::buck_pieces;
use crate::buck::{BuckSet, Station};
use crate::flat::Flat;
use crate::geom::{Affine, Point, Rect, Vec2};
use crate::page::{Drawing, Paper, Pen, View, lettering};
use crate::part::Part;
use crate::problem::Problem;
use crate::units::{Digits, LengthUnit, counted};

pub use tiling::{MARGIN, OVERLAP, PaperSize, tiles_along};

/// Height of the words on a sheet, mm.
const WORDS: f64 = 2.2;
/// Height of a tile's name, mm.
const NAME: f64 = 7.0;
/// Free between the drawing and what stands beside it, mm.
const GAP: f64 = 1.5;
/// Free between a bar and the words below it, beside what descends from them, mm.
const BELOW_BAR: f64 = 0.8;
/// By how much half of a drawing's widest line stands out beyond it, and some more, mm.
const LINE_ROOM: f64 = 0.5;

/// How templates are printed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Print {
    /// The paper; by the part's or job's unit where none.
    pub paper: Option<PaperSize>,
    /// What coordinates are multiplied by, across and up the paper, for a printer that does not
    /// keep lengths.
    pub scale: (f64, f64),
}

impl Default for Print {
    fn default() -> Self {
        Self { paper: None, scale: (1.0, 1.0) }
    }
}

impl Print {
    /// The paper for a file in `unit`.
    #[must_use]
    pub fn paper_for(self, unit: LengthUnit) -> PaperSize {
        self.paper.unwrap_or(match unit {
            LengthUnit::Millimetre => PaperSize::A4,
            LengthUnit::Inch => PaperSize::Letter,
        })
    }

    /// That lengths were changed for the printer, where they were.
    fn scale_words(self) -> Option<String> {
        let (across, up) = self.scale;
        (self.scale != (1.0, 1.0)).then(|| {
            format!(
                "drawn for this printer alone: {} times across, {} times up the paper",
                Digits(across, 6),
                Digits(up, 6)
            )
        })
    }
}

/// One thing to be sawn or cut after paper.
#[derive(Debug, Clone)]
pub struct Template {
    /// The part's name.
    part: String,
    /// What it is: a blank, a buck, a clamp plate.
    what: String,
    /// Whether it is that of the other hand.
    other_hand: bool,
    /// How it lies.
    face: String,
    /// What it is made of, and how thick.
    stock: String,
    /// By what it is told from that of another state of the part.
    revision: String,
    /// At 1:1.
    drawing: Arc<Drawing>,
}

/// The templates of one hand of a part: its blank with its stations, and what its buck is made by.
/// For the other hand give its mirrored flat, stations and buck.
#[must_use]
pub fn templates_of(
    part: &Part,
    blank: Option<(&Flat, &[Station])>,
    buck: Option<&BuckSet>,
    other_hand: bool,
) -> Vec<Template> {
    let mut things = Vec::new();
    if let Some((flat, stations)) = blank {
        let stock = format!("{} {}", part.material.name, part.unit.show(part.thickness));
        let face = format!("face up: {}", seen_face(part));
        let drawing = blank_drawing(part, flat, stations, other_hand);
        things.push(("blank".to_owned(), face, stock, drawing));
    }
    if let Some(buck) = buck {
        for piece in buck_pieces(part, buck, other_hand) {
            things.push((piece.what, piece.lies, piece.stock, piece.drawing));
        }
    }
    let revision = revision(part, things.iter().map(|(.., drawing)| drawing));
    things
        .into_iter()
        .map(|(what, face, stock, drawing)| Template {
            part: part.name.clone(),
            what,
            other_hand,
            face,
            stock,
            revision: revision.clone(),
            drawing: Arc::new(drawing),
        })
        .collect()
}

impl Template {
    /// What it is, in a line.
    fn title(&self) -> String {
        let hand = if self.other_hand { "other hand" } else { "as described" };
        format!("{}, {hand}: {}", self.part, self.what)
    }

    /// What stands on each of its sheets.
    fn lines(&self, print: Print) -> Vec<String> {
        let mut lines = vec![
            format!("{}; {}; {}; revision {}", self.title(), self.stock, self.face, self.revision),
            "Print at 100 %, no fit to page. Before cutting, measure the bars along both axes with a steel rule.".to_owned(),
        ];
        if let Some(scale) = print.scale_words() {
            lines[1] = format!("{} {}.", lines[1], first_upper(&scale));
        }
        lines
    }
}

fn first_upper(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A template on its sheets.
struct Laid<'a> {
    template: &'a Template,
    sheet: Sheet,
    tiling: Tiling,
}

/// A sheet of paper with room for a drawing, in mm as they are to measure once printed.
struct Sheet {
    /// As the printer takes it.
    paper: (f64, f64),
    scale: (f64, f64),
    /// Within the margins.
    printed: Rect,
    /// Height of the foot.
    foot: f64,
    lines: Vec<String>,
}

impl Sheet {
    fn new(paper: (f64, f64), print: Print, lines: &[String]) -> Self {
        let (width, height) = (paper.0 / print.scale.0, paper.1 / print.scale.1);
        let printed = Rect::new(MARGIN, MARGIN, width - MARGIN, height - MARGIN);
        let lines: Vec<String> = lines
            .iter()
            .flat_map(|line| lettering::wrap(line, WORDS, printed.width() - OVERLAP))
            .collect();
        let foot = BAR_BREADTH + lines.len() as f64 * pitch(WORDS) + BELOW_BAR;
        Self { paper, scale: print.scale, printed, foot, lines }
    }

    /// What the bar at the left and the foot take of the width and the height.
    fn strips(&self) -> (f64, f64) {
        (BAR_BREADTH + GAP, self.foot + GAP)
    }

    /// Where the drawing stands.
    fn field(&self) -> Rect {
        let (left, foot) = self.strips();
        let printed = self.printed;
        Rect::new(printed.x0 + left, printed.y0 + foot, printed.x1, printed.y1)
    }

    /// How many tiles a drawing of that size takes, across and up.
    fn tiles(&self, size: (f64, f64)) -> Result<(usize, usize), Problem> {
        let (left, foot) = self.strips();
        let along = |length: f64, printed: f64, strip: f64| {
            let paper = printed + 2.0 * MARGIN;
            tiles_along(length + 2.0 * LINE_ROOM, paper, MARGIN, strip, OVERLAP)
        };
        Ok((
            along(size.0, self.printed.width(), left)?,
            along(size.1, self.printed.height(), foot)?,
        ))
    }

    /// Bars and words of the sheet, its name large.
    fn furniture(&self, name: &str, beside: &[String]) -> (Drawing, [Bar; 2]) {
        let (mut drawing, sizes) = bars(self.printed, self.foot);
        let top = self.printed.y0 + self.foot - BAR_BREADTH - 2.0 * BELOW_BAR;
        for (i, line) in self.lines.iter().enumerate() {
            let base = top - WORDS - i as f64 * pitch(WORDS);
            words(&mut drawing, Point::new(self.printed.x0, base), WORDS, 0.0, line);
        }
        let bar_end = self.printed.x0 + sizes[0].reach() + 5.0;
        let base = self.printed.y0 + self.foot - BAR_BREADTH + 1.5;
        words(&mut drawing, Point::new(bar_end, base), NAME, 0.0, name);
        let after = bar_end + lettering::width(name, NAME) + 2.0;
        for (i, line) in beside.iter().enumerate() {
            let base = base + NAME - WORDS - i as f64 * pitch(WORDS);
            words(&mut drawing, Point::new(after, base), WORDS, 0.0, line);
        }
        (drawing, sizes)
    }

    fn page(&self, views: Vec<View>) -> Paper {
        Paper { size: self.paper, stretch: self.scale, views }
    }
}

/// The template on as few sheets as can be, upright or lying; none where that takes more than
/// [`MOST_TILES`].
fn lay(template: &Template, size: PaperSize, print: Print) -> Result<Option<Laid<'_>>, Problem> {
    let (width, height) = size.mm();
    let bounds = template.drawing.bounds();
    let lines = template.lines(print);
    let mut best: Option<(usize, Sheet, (usize, usize))> = None;
    // Where both take as many, the one that lies as the drawing does.
    let upright_first = bounds.height() > bounds.width();
    let papers = [(width, height), (height, width)];
    let order = if upright_first { [papers[0], papers[1]] } else { [papers[1], papers[0]] };
    for paper in order {
        let sheet = Sheet::new(paper, print, &lines);
        let (columns, rows) = sheet.tiles((bounds.width(), bounds.height()))?;
        let count = columns.saturating_mul(rows);
        if best.as_ref().is_none_or(|(least, ..)| count < *least) {
            best = Some((count, sheet, (columns, rows)));
        }
    }
    Ok(best.filter(|(count, ..)| *count <= MOST_TILES).map(|(_, sheet, counts)| {
        let field = sheet.field();
        let tiling = Tiling::around(bounds, (field.width(), field.height()), counts);
        Laid { template, sheet, tiling }
    }))
}

impl Laid<'_> {
    /// One page for each tile, row by row.
    fn pages(&self) -> Vec<Paper> {
        let taken = Taken::by(&self.template.drawing);
        self.tiling.tiles().map(|tile| self.page(tile, &taken)).collect()
    }

    fn page(&self, tile: (usize, usize), taken: &Taken) -> Paper {
        let field = self.sheet.field();
        let window = self.tiling.window(tile);
        let off = Point::new(field.x0, field.y0) - Point::new(window.x0, window.y0);
        let place = Affine::translate(off);
        let view = |drawing: Arc<Drawing>, window, pen| View { drawing, place, window, pen };
        let edge = self.sheet.printed - off;
        let joints = joints(&self.tiling, tile, taken, edge);
        let (rows, columns) = (self.tiling.rows, self.tiling.columns);
        let beside = if rows * columns > 1 {
            vec![
                format!("of {}, {}", counted(rows, "row"), counted(columns, "column")),
                self.template.what.clone(),
            ]
        } else {
            vec!["the only sheet".to_owned(), self.template.what.clone()]
        };
        let (furniture, _) = self.sheet.furniture(&tile_name(tile), &beside);
        self.sheet.page(vec![
            view(Arc::clone(&self.template.drawing), Some(field), None),
            view(Arc::new(joints.cuts), None, Some(Pen::Net)),
            view(Arc::new(joints.marks), None, Some(Pen::Edge)),
            View::on_paper(furniture, Some(Pen::Edge)),
        ])
    }
}

/// The templates on sheets of paper behind an index of them; `take_care` is the line of cautions,
/// `title` names the part or job. Nothing where there are no templates. An error for a paper too
/// small for its margins.
pub fn template_pages(
    title: &str,
    take_care: &str,
    templates: &[Template],
    size: PaperSize,
    print: Print,
) -> Result<Vec<Paper>, Problem> {
    if templates.is_empty() {
        return Ok(Vec::new());
    }
    let laid = templates
        .iter()
        .map(|template| lay(template, size, print))
        .collect::<Result<Vec<_>, _>>()?;
    let mut pages = index::pages((title, take_care), templates, &laid, size, print);
    pages.extend(laid.iter().flatten().flat_map(Laid::pages));
    Ok(pages)
}

/// The place `mm` below another one.
fn below(place: Point, mm: f64) -> Point {
    place - Vec2::new(0.0, mm)
}
