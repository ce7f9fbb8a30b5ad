//! Tables on a page.

use super::{LETTERS, width_of};
use crate::geom::{Point, Rect};
use crate::page::{Anchor, Pen, Picture};

/// Height of a row, mm.
const ROW: f64 = 4.4;
/// Between a column's words and its lines, mm.
const INSIDE: f64 = 1.2;

/// A table with a heading for each column.
#[derive(Debug, Clone, Default)]
pub(super) struct Table {
    pub(super) heading: String,
    pub(super) columns: Vec<&'static str>,
    pub(super) rows: Vec<Vec<String>>,
}

impl Table {
    /// The widths of its columns.
    fn widths(&self) -> Vec<f64> {
        let cell =
            |row: &Vec<String>, i: usize| row.get(i).map_or(0.0, |text| width_of(text, LETTERS));
        let widest = |i: usize| self.rows.iter().map(|row| cell(row, i)).fold(0.0, f64::max);
        self.columns
            .iter()
            .enumerate()
            .map(|(i, name)| widest(i).max(width_of(name, LETTERS)) + 2.0 * INSIDE)
            .collect()
    }

    /// How wide and how high it is, with its heading.
    pub(super) fn size(&self) -> (f64, f64) {
        let heading = width_of(&self.heading, LETTERS);
        (self.widths().iter().sum::<f64>().max(heading), ROW * (self.rows.len() + 2) as f64)
    }

    /// Draws it with its upper left corner at `at`, with smaller letters where it is wider than
    /// `widest`.
    fn draw(&self, picture: &mut Picture, at: Point, widest: f64) {
        let mut widths = self.widths();
        let own: f64 = widths.iter().sum();
        let share = (widest / own).min(1.0);
        for width in &mut widths {
            *width *= share;
        }
        let base = |row: usize| at.y + ROW * row as f64 + ROW / 2.0 + 0.36 * LETTERS;
        picture.words((at.x, base(0)), LETTERS, Anchor::Start, self.heading.clone());
        let head: Vec<String> = self.columns.iter().map(|name| (*name).to_owned()).collect();
        for (i, row) in std::iter::once(&head).chain(&self.rows).enumerate() {
            let mut x = at.x;
            for (cell, width) in row.iter().zip(&widths) {
                picture.words(
                    (x + INSIDE * share, base(i + 1)),
                    LETTERS * share,
                    Anchor::Start,
                    cell.clone(),
                );
                x += width;
            }
        }
        let (right, rows) = (at.x + widths.iter().sum::<f64>(), self.rows.len() + 1);
        let level = |row: usize| at.y + ROW * row as f64;
        let mut lines: Vec<Vec<Point>> = (1..=rows + 1)
            .map(|row| vec![Point::new(at.x, level(row)), Point::new(right, level(row))])
            .collect();
        let mut x = at.x;
        for width in std::iter::once(&0.0).chain(&widths) {
            x += width;
            lines.push(vec![Point::new(x, level(1)), Point::new(x, level(rows + 1))]);
        }
        picture.lines(Pen::Dimension, lines);
    }

    /// Its first `count` rows, and a row that says how many are left out.
    pub(super) fn cut_to(&mut self, count: usize) {
        if self.rows.len() > count {
            let left = self.rows.len() - count.saturating_sub(1);
            self.rows.truncate(count.saturating_sub(1));
            self.rows.push(vec![format!("{left} more")]);
        }
    }
}

/// Places tables one below the other in areas: each in the first area that holds it whole, else in
/// the one with the most room, where it loses its last rows.
pub(super) fn draw_all(picture: &mut Picture, tables: Vec<Table>, mut areas: Vec<Rect>) {
    for mut table in tables {
        let (_, height) = table.size();
        let fits = areas.iter().position(|area| area.height() >= height);
        let largest =
            (0..areas.len()).max_by(|a, b| areas[*a].height().total_cmp(&areas[*b].height()));
        let Some(area) = fits.or(largest).and_then(|i| areas.get_mut(i)) else { return };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "rows on a page"
        )]
        let rows = (area.height() / ROW).max(0.0) as usize;
        if rows < 3 {
            continue;
        }
        table.cut_to(rows - 2);
        table.draw(picture, area.origin(), area.width());
        area.y0 += table.size().1 + 3.0;
    }
}
