//! Lines as they stand in a file, joined into closed outlines.

use std::collections::BTreeMap;

use super::piece::{closed_up, end_at};
use super::{ImportProblem, Imported};
use crate::geom::{Loop, Point, Polyarc, Rect, Side};
use crate::tolerance::{
    CURVE_TO_ARCS, JOINED_ENDS, LARGEST_LENGTH_MM, LEAST_LENGTH_MM, MOST_IMPORTED_LOOPS,
    MOST_IMPORTED_PIECES, SMALLEST_IMPORTED_AREA,
};
use crate::units::counted;

/// One line, arc, curve or polyline of a file, mm.
#[derive(Debug, Clone)]
pub(in crate::formats) struct Stroke {
    /// Its sides in order, at least one.
    pub(in crate::formats) sides: Vec<Side>,
    /// Whether it closes on itself.
    pub(in crate::formats) closed: bool,
}

impl Stroke {
    fn start(&self) -> Point {
        self.sides[0].segment.from()
    }

    fn end(&self) -> Point {
        self.sides[self.sides.len() - 1].segment.to()
    }

    fn reversed(&self) -> Self {
        let sides = self
            .sides
            .iter()
            .rev()
            .map(|side| Side { segment: side.segment.reversed(), ..*side })
            .collect();
        Self { sides, closed: self.closed }
    }
}

/// The one outermost outline that `strokes` draw.
pub(in crate::formats) fn outline_of(
    strokes: Vec<Stroke>,
    unit_mm: Option<f64>,
    mut notes: Vec<String>,
) -> Result<Imported, ImportProblem> {
    if strokes.iter().map(|stroke| stroke.sides.len()).sum::<usize>() > MOST_IMPORTED_PIECES {
        return Err(ImportProblem::TooMuch);
    }
    let (mut closed, mut open) = (Vec::new(), Vec::new());
    for stroke in strokes.into_iter().filter(|stroke| !stroke.sides.is_empty()) {
        let comes_back = stroke.start().distance(stroke.end()) <= JOINED_ENDS
            && length(&stroke) > 4.0 * JOINED_ENDS;
        if stroke.closed || comes_back { closed.push(stroke.sides) } else { open.push(stroke) }
    }
    let joined = join(open);
    closed.extend(joined.closed);
    let loops: Vec<Loop> = closed
        .into_iter()
        .map(|sides| Loop { sides: closed_up(sides) }.counter_clockwise())
        .filter(|outline| outline.area() > SMALLEST_IMPORTED_AREA)
        .collect();
    if loops.is_empty() {
        return Err(ImportProblem::NothingClosed {
            open: joined.open,
            gap: joined.gap,
            branch: joined.branch,
        });
    }
    if loops.len() > MOST_IMPORTED_LOOPS {
        return Err(ImportProblem::TooMuch);
    }
    if joined.open > 0 {
        let verb = if joined.open == 1 { "was" } else { "were" };
        notes.push(format!("{} {verb} passed over", counted(joined.open, "open line")));
    }
    let (outermost, directly_inside) = nested(&loops)?;
    let bounds = loops[outermost].bounds();
    let size_mm = [bounds.width(), bounds.height()];
    if !size_mm.iter().all(|size| (LEAST_LENGTH_MM..=LARGEST_LENGTH_MM).contains(size)) {
        return Err(ImportProblem::Size { size_mm });
    }
    let inside = directly_inside.into_iter().map(|i| numbered(loops[i].clone())).collect();
    Ok(Imported { outline: numbered(loops[outermost].clone()), inside, unit_mm, notes })
}

fn length(stroke: &Stroke) -> f64 {
    stroke.sides.iter().map(|side| side.segment.length()).sum()
}

/// The outline with its edges numbered anew from 0; sides that were one edge stay one.
fn numbered(mut outline: Loop) -> Loop {
    let (mut count, mut before) = (0, None);
    for side in &mut outline.sides {
        if before.is_some() && before != Some(side.edge) {
            count += 1;
        }
        before = Some(side.edge);
        side.edge = Some(count);
    }
    outline
}

/// The number of the one loop that is in no other, and of those directly inside it.
fn nested(loops: &[Loop]) -> Result<(usize, Vec<usize>), ImportProblem> {
    let shapes: Vec<(Polyarc, Rect, f64, Point)> = loops
        .iter()
        .map(|outline| {
            let shape = outline.to_polyarc(CURVE_TO_ARCS);
            (shape, outline.bounds(), outline.area(), outline.sides[0].segment.point_at(0.5))
        })
        .collect();
    let depth = |i: usize| {
        let (_, bounds, area, place) = &shapes[i];
        let holds = |other: &&(Polyarc, Rect, f64, Point)| {
            other.2 > *area && other.1.union(*bounds) == other.1 && other.0.contains(*place)
        };
        shapes.iter().filter(holds).count()
    };
    let depths: Vec<usize> = (0..loops.len()).map(depth).collect();
    let mut outermost = (0..loops.len()).filter(|i| depths[*i] == 0);
    match (outermost.next(), outermost.count()) {
        (Some(first), 0) => Ok((first, (0..loops.len()).filter(|i| depths[*i] == 1).collect())),
        (_, others) => Err(ImportProblem::Several { count: others + 1 }),
    }
}

/// What came of joining open strokes.
#[derive(Default)]
struct Joined {
    closed: Vec<Vec<Side>>,
    /// How many chains did not close.
    open: usize,
    gap: Option<(Point, f64)>,
    branch: Option<Point>,
}

/// Ends of strokes that are one place.
struct Ends {
    places: Vec<Point>,
    /// Which strokes begin or end there.
    strokes: Vec<Vec<usize>>,
    cells: BTreeMap<(i64, i64), Vec<usize>>,
}

impl Ends {
    /// The number of the place at `point`, a new one if there is none within the joining distance.
    fn at(&mut self, point: Point) -> usize {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "coordinates are below 1e6 mm, cells 0.01 mm wide"
        )]
        let cell = |value: f64| (value / JOINED_ENDS).floor() as i64;
        let (x, y) = (cell(point.x), cell(point.y));
        for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
            let near = self.cells.get(&(x + dx, y + dy)).into_iter().flatten();
            if let Some(found) =
                near.copied().find(|i| self.places[*i].distance(point) <= JOINED_ENDS)
            {
                return found;
            }
        }
        self.places.push(point);
        self.strokes.push(Vec::new());
        self.cells.entry((x, y)).or_default().push(self.places.len() - 1);
        self.places.len() - 1
    }
}

/// Joins strokes end to end wherever exactly two meet.
fn join(strokes: Vec<Stroke>) -> Joined {
    let mut ends = Ends { places: Vec::new(), strokes: Vec::new(), cells: BTreeMap::new() };
    let mut kept: Vec<(Stroke, usize, usize)> = Vec::new();
    let mut drawn: BTreeMap<(usize, usize), Vec<Point>> = BTreeMap::new();
    for stroke in strokes {
        let (a, b) = (ends.at(stroke.start()), ends.at(stroke.end()));
        // The same line drawn twice is one line.
        let middle = stroke.sides[stroke.sides.len() / 2].segment.point_at(0.5);
        let alike = drawn.entry((a.min(b), a.max(b))).or_default();
        // Where more than two different lines join the same two places nothing closes, so a few are
        // enough to compare with.
        let again = stroke.sides.len() == 1
            && alike.iter().take(16).any(|other| other.distance(middle) <= JOINED_ENDS);
        if a == b || again {
            continue;
        }
        alike.push(middle);
        ends.strokes[a].push(kept.len());
        ends.strokes[b].push(kept.len());
        kept.push((stroke, a, b));
    }
    let mut joined = Joined {
        branch: (0..ends.places.len()).find(|i| ends.strokes[*i].len() > 2).map(|i| ends.places[i]),
        ..Joined::default()
    };
    let mut used = vec![false; kept.len()];
    // Chains with loose ends or branches first, from such an end; what is left then are rings.
    let is_end = |place: usize| ends.strokes[place].len() != 2;
    for ring in [false, true] {
        for first in 0..kept.len() {
            let (_, a, b) = &kept[first];
            if used[first] || !(ring || is_end(*a) || is_end(*b)) {
                continue;
            }
            let start = if ring || is_end(*a) { *a } else { *b };
            let (sides, end) = walk(first, start, &kept, &ends, &mut used);
            if ring && end == start { joined.closed.push(sides) } else { joined.open += 1 }
        }
    }
    joined.gap = nearest_ends(&ends);
    joined
}

/// Follows the strokes from `first`, begun at the place `start`, as long as each place has one way
/// on; the sides and the last place.
fn walk(
    first: usize,
    start: usize,
    kept: &[(Stroke, usize, usize)],
    ends: &Ends,
    used: &mut [bool],
) -> (Vec<Side>, usize) {
    let (mut sides, mut place, mut next) = (Vec::new(), start, Some(first));
    while let Some(i) = next {
        used[i] = true;
        let (stroke, a, b) = &kept[i];
        let forward = *a == place;
        let run = if forward { stroke.clone() } else { stroke.reversed() };
        place = if forward { *b } else { *a };
        if let (Some(before), Some(side)) = (sides.last_mut(), run.sides.first()) {
            end_at(before, side.segment.from());
        }
        // Edges of different strokes are told apart by the stroke.
        sides.extend(
            run.sides
                .iter()
                .map(|side| Side { edge: Some(i * 100_003 + side.edge.unwrap_or(0)), ..*side }),
        );
        let onward = &ends.strokes[place];
        next = if place == start || onward.len() != 2 {
            None
        } else {
            onward.iter().copied().find(|i| !used[*i])
        };
    }
    (sides, place)
}

/// The two loose ends nearest one another, among the first few thousand.
fn nearest_ends(ends: &Ends) -> Option<(Point, f64)> {
    let loose: Vec<Point> = (0..ends.places.len())
        .filter(|i| ends.strokes[*i].len() == 1)
        .map(|i| ends.places[i])
        .take(2000)
        .collect();
    let pairs = loose
        .iter()
        .enumerate()
        .flat_map(|(i, a)| loose[i + 1..].iter().map(|b| (a.midpoint(*b), a.distance(*b))));
    pairs.min_by(|a, b| a.1.total_cmp(&b.1))
}
