//! Sizes as distances from an edge: a row of values beside a view, each on a line to its place
//! (ISO 129-1, running dimensioning).

use super::room::Room;
use super::{LETTERS, sizes_of};
use crate::geom::{Point, Rect};
use crate::page::{Anchor, Pen, Picture};
use crate::units::LengthUnit;

/// Least distance between neighbouring values, mm on the page.
const APART: f64 = 3.6;
/// From the view to the row: where its lines may begin to part, where they have parted, where the
/// values begin.
const WAY: [f64; 3] = [3.0, 8.0, 9.5];
/// Between a feature and the line to it, as ISO 129-1 asks for.
const GAP: f64 = 0.6;

/// How much room a row of ordinates takes beside its view, mm.
pub(super) const DEPTH: f64 = WAY[2] + 34.0;

/// On which side of a view its values stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Beside {
    /// Below it: distances along x.
    Below,
    /// To its left: distances along y.
    Left,
}

/// A place that is given by its distance from the datum.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ordinate {
    /// The distance, mm of the part.
    pub(super) value: f64,
    /// Where its feature is, on the page.
    pub(super) at: Point,
}

/// Values nearer together than that, mm, are one.
const SAME: f64 = 0.005;

/// The ordinates in order, each value once: of several places the one nearest to the row.
pub(super) fn in_order(mut all: Vec<Ordinate>, beside: Beside) -> Vec<Ordinate> {
    let far = |ordinate: &Ordinate| match beside {
        Beside::Below => -ordinate.at.y,
        Beside::Left => ordinate.at.x,
    };
    all.sort_by(|a, b| a.value.total_cmp(&b.value));
    let mut kept: Vec<Ordinate> = Vec::new();
    for ordinate in all {
        match kept.last_mut() {
            Some(last) if ordinate.value - last.value < SAME => {
                if far(&ordinate) < far(last) {
                    last.at = ordinate.at;
                }
            }
            _ => kept.push(ordinate),
        }
    }
    kept
}

/// How many values a row beside a view of that width or height can hold.
pub(super) fn capacity(length: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a page is not that long"
    )]
    let count = (length.max(0.0) / APART) as usize;
    count + 1
}

/// Draws a row; `view` is the view's box on the page, which the values do not leave lengthwise by
/// more than half a value's height.
pub(super) fn draw(
    picture: &mut Picture,
    room: &mut Room,
    ordinates: &[Ordinate],
    beside: Beside,
    view: Rect,
    unit: LengthUnit,
) {
    let along = |p: Point| if beside == Beside::Below { p.x } else { p.y };
    let (from, to) = if beside == Beside::Below { (view.x0, view.x1) } else { (view.y0, view.y1) };
    let mut order: Vec<usize> = (0..ordinates.len()).collect();
    order.sort_by(|a, b| along(ordinates[*a].at).total_cmp(&along(ordinates[*b].at)));
    let wanted: Vec<f64> = order.iter().map(|i| along(ordinates[*i].at)).collect();
    let needed = APART * (ordinates.len().max(1) - 1) as f64;
    let over = ((needed - (to - from)) / 2.0).max(0.0);
    let places = spread(&wanted, APART, (from - over, to + over));
    let mut lines = Vec::new();
    for (i, place) in order.into_iter().zip(places) {
        let ordinate = &ordinates[i];
        let text = sizes_of(ordinate.value, unit);
        let (at, way) = (ordinate.at, WAY);
        let middle = 0.36 * LETTERS;
        match beside {
            Beside::Below => {
                let y = way.map(|off| view.y1 + off);
                lines.push(vec![
                    Point::new(at.x, at.y + GAP),
                    Point::new(at.x, y[0]),
                    Point::new(place, y[1]),
                    Point::new(place, y[2] - 0.5),
                ]);
                picture.words_upward((place + middle, y[2]), LETTERS, Anchor::End, text.clone());
                let long = super::width_of(&text, LETTERS);
                room.take(Rect::new(place - middle, y[2], place + middle, y[2] + long));
            }
            Beside::Left => {
                let x = way.map(|off| view.x0 - off);
                lines.push(vec![
                    Point::new(at.x - GAP, at.y),
                    Point::new(x[0], at.y),
                    Point::new(x[1], place),
                    Point::new(x[2] + 0.5, place),
                ]);
                picture.words((x[2], place + middle), LETTERS, Anchor::End, text.clone());
                let long = super::width_of(&text, LETTERS);
                room.take(Rect::new(x[2] - long, place - middle, x[2], place + middle));
            }
        }
    }
    for line in &lines {
        room.avoid(line);
    }
    picture.lines(Pen::Dimension, lines);
}

/// Places for values, in order and at least `apart` from one another, as near to where they are
/// wanted as can be (least squares, by pooling those that are too near), inside `room` as far as it
/// goes.
fn spread(wanted: &[f64], apart: f64, room: (f64, f64)) -> Vec<f64> {
    // Less the least distance from one to the next, places need only not fall.
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for (i, place) in wanted.iter().enumerate() {
        pools.push((place - apart * i as f64, 1));
        while let [.., (a, m), (b, n)] = pools.as_slice()
            && a > b
        {
            let count = m + n;
            let mean = (a * *m as f64 + b * *n as f64) / count as f64;
            pools.truncate(pools.len() - 2);
            pools.push((mean, count));
        }
    }
    let last = room.1 - apart * (wanted.len().max(1) - 1) as f64;
    let level = pools.iter().flat_map(|(place, count)| std::iter::repeat_n(*place, *count));
    level.enumerate().map(|(i, place)| place.min(last).max(room.0) + apart * i as f64).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_that_have_room_stay_and_others_part() {
        assert_eq!(spread(&[0.0, 10.0, 20.0], 3.0, (0.0, 20.0)), [0.0, 10.0, 20.0]);
        assert_eq!(spread(&[10.0, 10.0, 30.0], 4.0, (0.0, 40.0)), [8.0, 12.0, 30.0]);
        // At the end of the room all move in together.
        assert_eq!(spread(&[19.0, 20.0], 4.0, (0.0, 20.0)), [16.0, 20.0]);
        let many: Vec<f64> = (0..50).map(|i| f64::from(i % 7) + f64::from(i) * 0.1).collect();
        let mut many = many;
        many.sort_by(f64::total_cmp);
        let places = spread(&many, 2.0, (-60.0, 60.0));
        assert!(places.windows(2).all(|pair| pair[1] - pair[0] > 2.0 - 1e-9));
    }

    #[test]
    fn a_value_is_given_once_by_the_nearest_place() {
        let at = |value: f64, y: f64| Ordinate { value, at: Point::new(value, y) };
        let kept = in_order(vec![at(20.0, 5.0), at(0.0, 1.0), at(20.001, 9.0)], Beside::Below);
        assert_eq!(kept, [at(0.0, 1.0), Ordinate { value: 20.0, at: Point::new(20.001, 9.0) }]);
    }
}
