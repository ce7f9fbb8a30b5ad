//! Into how many sheets of paper a drawing is cut, and what of it each one shows.

use crate::geom::{Point, Rect};
use crate::problem::{Code, Problem};
use crate::units::Digits;

/// What printers leave white at every edge of the paper, mm: a quarter of an inch.
pub const MARGIN: f64 = 6.35;
/// By how much neighbours show the same, mm.
pub const OVERLAP: f64 = 10.0;
/// The most sheets for one drawing: a part of 3 m on the smallest paper has half of them.
pub(super) const MOST_TILES: usize = 200;

/// Paper as it is sold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaperSize {
    /// ISO 216.
    A4,
    /// ISO 216.
    A3,
    /// 8.5 by 11 in.
    Letter,
    /// 11 by 17 in.
    Tabloid,
}

impl PaperSize {
    /// Its width and height in mm, higher than wide.
    #[must_use]
    pub const fn mm(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::A3 => (297.0, 420.0),
            Self::Letter => (8.5 * 25.4, 11.0 * 25.4),
            Self::Tabloid => (11.0 * 25.4, 17.0 * 25.4),
        }
    }

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::A3 => "A3",
            Self::Letter => "letter",
            Self::Tabloid => "tabloid",
        }
    }
}

/// How many sheets a drawing takes along one axis, all in mm: `length` of it, on `paper` of which
/// margins at both ends and `strip` are not to be drawn on, neighbours showing the same for
/// `overlap`. An error for a paper that they use up.
pub fn tiles_along(
    length: f64,
    paper: f64,
    margin: f64,
    strip: f64,
    overlap: f64,
) -> Result<usize, Problem> {
    let usable = paper - 2.0 * margin - strip;
    // Written so that no number at all is refused too.
    if !(usable > overlap && length.is_finite()) {
        let message = format!(
            "a paper of {} mm has no room beside margins of {} mm, {} mm for words and an overlap of {} mm",
            Digits(paper, 2),
            Digits(margin, 2),
            Digits(strip, 2),
            Digits(overlap, 2)
        );
        return Err(Problem::new(Code::OutOfRange, message, "take a larger paper"));
    }
    if length <= usable {
        return Ok(1);
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "above 0; a drawing is 100 m at most"
    )]
    let tiles = ((length - overlap) / (usable - overlap) - 1e-9).ceil() as usize;
    Ok(tiles)
}

/// A drawing cut into tiles; row A is the uppermost.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tiling {
    pub(super) columns: usize,
    pub(super) rows: usize,
    /// Width and height of what a tile shows.
    size: (f64, f64),
    /// The drawing's place of the lower left corner of all tiles.
    corner: Point,
}

impl Tiling {
    /// The drawing within `bounds` in the middle of tiles of `size`, which are known to hold it.
    pub(super) fn around(bounds: Rect, size: (f64, f64), (columns, rows): (usize, usize)) -> Self {
        let reach = |count: usize, size: f64| count as f64 * (size - OVERLAP) + OVERLAP;
        let whole = (reach(columns, size.0), reach(rows, size.1));
        let centre = bounds.center();
        let corner = Point::new(centre.x - whole.0 / 2.0, centre.y - whole.1 / 2.0);
        Self { columns, rows, size, corner }
    }

    pub(super) fn count(&self) -> usize {
        self.columns * self.rows
    }

    /// Every tile as row and column, row by row.
    pub(super) fn tiles(&self) -> impl Iterator<Item = (usize, usize)> + use<> {
        let columns = self.columns;
        (0..self.rows).flat_map(move |row| (0..columns).map(move |column| (row, column)))
    }

    /// What a tile shows of the drawing.
    pub(super) fn window(&self, (row, column): (usize, usize)) -> Rect {
        let (width, height) = self.size;
        let x = self.corner.x + column as f64 * (width - OVERLAP);
        let y = self.corner.y + (self.rows - 1 - row) as f64 * (height - OVERLAP);
        Rect::new(x, y, x + width, y + height)
    }

    /// What is left of a tile when its right and upper edges are cut and its neighbours lie over
    /// the others.
    pub(super) fn seen(&self, (row, column): (usize, usize)) -> Rect {
        let window = self.window((row, column));
        let cut = |inner: bool| if inner { OVERLAP / 2.0 } else { 0.0 };
        Rect::new(
            window.x0 + cut(column > 0),
            window.y0 + cut(row + 1 < self.rows),
            window.x1 - cut(column + 1 < self.columns),
            window.y1 - cut(row > 0),
        )
    }
}

/// A tile's name: its row's letter and its column's number, from the upper left.
pub(super) fn tile_name((row, column): (usize, usize)) -> String {
    let mut letters = String::new();
    let mut rest = row + 1;
    while rest > 0 {
        let letter = u8::try_from((rest - 1) % 26).unwrap_or_default();
        letters.insert(0, char::from(b'A' + letter));
        rest = (rest - 1) / 26;
    }
    format!("{letters}{}", column + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tiles(size: (f64, f64), paper: (f64, f64), overlap: f64) -> (usize, usize) {
        let along = |length, paper| tiles_along(length, paper, MARGIN, 0.0, overlap).expect("room");
        (along(size.0, paper.0), along(size.1, paper.1))
    }

    fn landscape(size: PaperSize) -> (f64, f64) {
        let (width, height) = size.mm();
        (height, width)
    }

    #[test]
    fn counts_are_those_worked_out_by_hand() {
        let rail = (780.0, 166.0);
        assert_eq!(tiles(rail, landscape(PaperSize::A4), 10.0), (3, 1));
        assert_eq!(tiles(rail, PaperSize::A4.mm(), 10.0), (5, 1));
        assert_eq!(tiles(rail, landscape(PaperSize::Letter), 10.0), (3, 1));
        let panel = (1200.0, 400.0);
        assert_eq!(tiles(panel, landscape(PaperSize::A4), 15.0), (5, 3));
        assert_eq!(tiles(panel, landscape(PaperSize::A3), 15.0), (4, 2));
        // A strip takes from the paper: 297 - 12.7 - 20 leaves 264.3.
        assert_eq!(tiles_along(264.3, 297.0, MARGIN, 20.0, 10.0), Ok(1));
        assert_eq!(tiles_along(264.4, 297.0, MARGIN, 20.0, 10.0), Ok(2));
        assert_eq!(tiles_along(2.0 * 264.3 - 10.0, 297.0, MARGIN, 20.0, 10.0), Ok(2));
    }

    #[test]
    fn a_paper_smaller_than_its_margins_is_refused() {
        let refused = tiles_along(50.0, 25.0, 12.5, 0.0, 10.0).expect_err("no room");
        assert_eq!(refused.code, Code::OutOfRange);
        assert!(refused.message.contains("25 mm has no room"), "{}", refused.message);
        assert!(tiles_along(50.0, 30.0, 6.35, 10.0, 10.0).is_err());
        assert!(tiles_along(f64::NAN, 210.0, 6.35, 10.0, 10.0).is_err());
    }

    #[test]
    fn tiles_cover_the_drawing_and_their_cut_edges_meet() {
        let bounds = Rect::new(-3.0, 5.0, 597.0, 305.0);
        let tiling = Tiling::around(bounds, (207.0, 160.0), (4, 2));
        let seen: Vec<Rect> = tiling.tiles().map(|tile| tiling.seen(tile)).collect();
        let whole = seen.iter().copied().reduce(|a, b| a.union(b)).expect("tiles");
        assert!((seen.iter().map(Rect::area).sum::<f64>() - whole.area()).abs() < 1e-6);
        assert!(whole.union(bounds) == whole && (whole.center() - bounds.center()).hypot() < 1e-9);
        assert!(tiling.window((0, 0)).y1 > tiling.window((1, 0)).y1, "row A lies above row B");
        let shared = tiling.window((0, 0)).intersect(tiling.window((0, 1)));
        assert!((shared.width() - OVERLAP).abs() < 1e-9);
    }

    #[test]
    fn names_are_letters_and_numbers() {
        let names = [(0, 0), (0, 2), (1, 0), (25, 9), (26, 0), (52, 0)].map(tile_name);
        assert_eq!(names, ["A1", "A3", "B1", "Z10", "AA1", "BA1"]);
    }
}
