//! How a laid-out face ends: at the tangent lines of its bends, at its own edges beside them, and
//! round the reliefs between.

use super::fold_tree::ReliefCut;
use super::folded::{OUTER, Plan, Sheet, SheetSide};
use super::relief::{Short, beside_end};
use crate::geom::{Affine, Point, Segment, left_of};
use crate::part::{Relief, tabbed};
use crate::problem::Place;
use crate::tolerance::SAME_POINT;

/// One stretch of a side as the face ends there.
pub(super) struct Stretch {
    pub(super) segment: Segment,
    /// The child or, on the base side, the face's own bend.
    pub(super) bend: Option<usize>,
}

/// Why a side has no end.
pub(super) enum NoEnd {
    /// The relief of a bend stops short of its tangent line by so much, mm.
    ReliefShort(Short),
    /// This bend runs to a corner that turns away from the metal.
    InsideCorner(usize),
    /// The tabs there stand on an end that is not square.
    SlantingTabs(Place),
}

impl From<Short> for NoEnd {
    fn from(short: Short) -> Self {
        Self::ReliefShort(short)
    }
}

/// What a side with flanges meets at one of its ends.
#[derive(Clone, Copy)]
struct Neighbour {
    /// Whether the flange's bend runs up to it, with no relief of its own.
    bend_reaches: bool,
    is_straight: bool,
    /// How far inside the side's own end it lies, mm.
    trimmed: f64,
}

impl Plan<'_> {
    /// The sides of a face as they end at tangent lines and beside flanges, and the reliefs there.
    pub(super) fn stretches(&self, face: usize) -> Result<(Vec<Stretch>, Vec<ReliefCut>), NoEnd> {
        let sheet = &self.sheets[face];
        let count = sheet.sides.len();
        let (mut all, mut reliefs) = (Vec::new(), Vec::new());
        for (i, side) in sheet.sides.iter().enumerate() {
            if side.is_base {
                let own = self.tree.faces[face].bend.unwrap_or(0);
                let inset = left_of(side.segment.tangent_at(0.0)) * self.setback(own);
                all.push(Stretch {
                    segment: side.segment.moved(Affine::translate(inset)),
                    bend: Some(own),
                });
                continue;
            }
            if side.children.is_empty() {
                // A flange's start and end lie where its corners put them.
                let segment = match (sheet.flange, i) {
                    (Some(_), 0) => sheet.ends[0].line(&sheet.frame, sheet.height),
                    (Some(_), 2) => sheet.ends[1].line(&sheet.frame, sheet.height).reversed(),
                    _ => side.segment,
                };
                let pieces = with_tabs(sheet, i, segment)?;
                all.extend(pieces.into_iter().map(|segment| Stretch { segment, bend: None }));
                continue;
            }
            // A bend that runs to a corner with a straight neighbour ends there; beside a round it
            // ends inside the edge.
            let straight = |k: usize| sheet.sides[k % count].segment.is_straight();
            let turns_in = |k: usize| {
                let (before, after) = (
                    &sheet.sides[(k + count - 1) % count].segment,
                    &sheet.sides[k % count].segment,
                );
                before.tangent_at(1.0).cross(after.tangent_at(0.0)) > 1e-9
            };
            let (first, last) = (side.children[0], side.children[side.children.len() - 1]);
            // Beside a corner with no room for a relief the bend takes it all.
            let trimmed = trimmed_ends(sheet, i);
            let (gone_first, gone_last) =
                (first.1 - trimmed[0], side.segment.length() - last.2 - trimmed[1]);
            let free_start =
                straight(i + count - 1) && turns_in(i) && gone_first <= self.relief_room(first.0);
            let free_end =
                straight(i + 1) && turns_in(i + 1) && gone_last <= self.relief_room(last.0);
            for (k, child, gone) in [(i, first.0, gone_first), (i + 1, last.0, gone_last)] {
                if straight(k + count - 1)
                    && straight(k)
                    && !turns_in(k)
                    && gone <= self.relief_room(child)
                {
                    return Err(NoEnd::InsideCorner(self.tree.faces[child].bend.unwrap_or(0)));
                }
            }
            let neighbours = [
                Neighbour {
                    bend_reaches: free_start || self.corner_of(face, i).is_some(),
                    is_straight: straight(i + count - 1),
                    trimmed: trimmed[0],
                },
                Neighbour {
                    bend_reaches: free_end || self.corner_of(face, (i + 1) % count).is_some(),
                    is_straight: straight(i + 1),
                    trimmed: trimmed[1],
                },
            ];
            self.flanged_side(side, neighbours, &mut all, &mut reliefs)?;
        }
        Ok((all, reliefs))
    }

    /// A side with flanges: tangent lines, and between and beside them the edge itself with
    /// reliefs.
    fn flanged_side(
        &self,
        side: &SheetSide,
        [before, after]: [Neighbour; 2],
        all: &mut Vec<Stretch>,
        reliefs: &mut Vec<ReliefCut>,
    ) -> Result<(), NoEnd> {
        let (from, along) = (side.segment.from(), side.segment.tangent_at(0.0));
        let inward = left_of(along);
        let length = side.segment.length();
        let at = |x: f64, depth: f64| from + along * x + inward * depth;
        let count = side.children.len();
        let mut push = |segment: Segment, bend: Option<usize>| {
            if segment.from().distance(segment.to()) > 1e-9 {
                all.push(Stretch { segment, bend });
            }
        };
        for (k, (child, start, end)) in side.children.iter().enumerate() {
            let (start, end) = (*start, *end);
            let Some(bend) = self.tree.faces[*child].bend else { continue };
            let relief = self.sheets[*child].flange.map_or(Relief::Auto, |flange| flange.relief);
            let served = (bend, self.setback(bend));
            if k > 0 || !before.bend_reaches {
                // Beside a round the cut goes on into it.
                let room = match k.checked_sub(1) {
                    Some(last) => (start - side.children[last].2) / 2.0,
                    None if before.is_straight || start > self.relief_room(*child) => {
                        start - before.trimmed
                    }
                    None => f64::INFINITY,
                };
                let cut = beside_end(relief, served, self.tree.thickness, room, &|away, depth| {
                    at(start - away, depth)
                })?;
                if k == 0 && room.is_finite() {
                    push(
                        Segment::Line { from: at(0.0, 0.0), to: at(start - cut.width, 0.0) },
                        None,
                    );
                }
                cut.pieces.into_iter().for_each(|piece| push(piece, None));
                reliefs.push(cut.relief);
            }
            push(Segment::Line { from: at(start, served.1), to: at(end, served.1) }, Some(bend));
            if k + 1 < count || !after.bend_reaches {
                let room = match side.children.get(k + 1) {
                    Some(next) => (next.1 - end) / 2.0,
                    None if after.is_straight || length - end > self.relief_room(*child) => {
                        length - end - after.trimmed
                    }
                    None => f64::INFINITY,
                };
                let cut = beside_end(relief, served, self.tree.thickness, room, &|away, depth| {
                    at(end + away, depth)
                })?;
                cut.pieces.into_iter().rev().for_each(|piece| push(piece.reversed(), None));
                reliefs.push(cut.relief);
                match side.children.get(k + 1) {
                    Some(next) => {
                        let gone = self.relief_width(next.0).min(room);
                        push(
                            Segment::Line {
                                from: at(end + cut.width, 0.0),
                                to: at(next.1 - gone, 0.0),
                            },
                            None,
                        );
                    }
                    None if room.is_finite() => {
                        push(
                            Segment::Line { from: at(end + cut.width, 0.0), to: at(length, 0.0) },
                            None,
                        );
                    }
                    None => {}
                }
            }
        }
        Ok(())
    }
}

/// How far inside a flange's outer side its start and end lie where corners trim them, mm; of any
/// other side nothing.
fn trimmed_ends(sheet: &Sheet, side: usize) -> [f64; 2] {
    let free = |neighbour: usize| sheet.sides[neighbour].children.is_empty();
    if sheet.flange.is_none() || side != OUTER {
        return [0.0; 2];
    }
    let segment = &sheet.sides[side].segment;
    let [begin, end] =
        [segment.from(), segment.to()].map(|p| (p - sheet.frame.origin).dot(sheet.frame.along));
    let [first, last] = sheet.ends.map(|end| end.at_height(sheet.height));
    [
        if free(0) { (first - begin).max(0.0) } else { 0.0 },
        if free(2) { (end - last).max(0.0) } else { 0.0 },
    ]
}

/// A free side of a flange with the tabs on it; the panel's are in its profile already.
fn with_tabs(sheet: &Sheet, side: usize, segment: Segment) -> Result<Vec<Segment>, NoEnd> {
    let tabs = sheet.flange.and_then(|flange| flange.tabs.iter().find(|tabs| tabs.edge == side));
    let Some(tabs) = tabs.filter(|_| !sheet.is_hem) else { return Ok(vec![segment]) };
    // Along the outer edge places are counted from the start of the edge that the flange itself
    // stands on.
    let begin = if side == OUTER {
        (segment.from() - sheet.frame.origin).dot(sheet.frame.along)
    } else {
        0.0
    };
    if side != OUTER && !sheet.ends[side / 2].is_square() {
        return Err(NoEnd::SlantingTabs(tabs.place.clone()));
    }
    Ok(tabbed(&segment, tabs, begin))
}

/// The stretches with their ends where they meet: those that touch already stay, others run on to
/// their crossing. None where two find none.
pub(super) fn joined(stretches: &[Stretch]) -> Option<Vec<Segment>> {
    let count = stretches.len();
    let mut segments: Vec<Segment> = stretches.iter().map(|stretch| stretch.segment).collect();
    for i in 0..count {
        let next = (i + 1) % count;
        let (one, two) = (segments[i], segments[next]);
        if one.to().distance(two.from()) < SAME_POINT {
            segments[i].end_at(two.from());
            continue;
        }
        let at = crossing(&stretches[i].segment, &stretches[next].segment)?;
        segments[i] = with_end(&segments[i], at);
        segments[next] = with_end(&segments[next].reversed(), at).reversed();
    }
    // One that runs backward was used up by its neighbours.
    let forward = |(segment, stretch): (&Segment, &Stretch)| {
        !segment.is_straight()
            || (segment.to() - segment.from()).dot(stretch.segment.tangent_at(0.5)) > 0.0
    };
    segments.iter().zip(stretches).all(forward).then_some(segments)
}

/// Where two segments cross, lines run on as need be; of an arc's two crossings the one nearer to
/// its end.
fn crossing(one: &Segment, two: &Segment) -> Option<Point> {
    match (one, two) {
        (Segment::Line { .. }, Segment::Line { .. }) => {
            let (t1, t2) = (one.tangent_at(1.0), two.tangent_at(0.0));
            let sine = t1.cross(t2);
            (sine.abs() > 1e-9).then(|| one.to() + t1 * ((two.from() - one.to()).cross(t2) / sine))
        }
        (Segment::Arc { .. }, Segment::Line { .. }) => arc_and_line(&one.reversed(), two),
        (Segment::Line { .. }, Segment::Arc { .. }) => arc_and_line(two, one),
        _ => None,
    }
}

/// The crossing of an arc with a line run on, nearest to the arc's start.
fn arc_and_line(arc: &Segment, line: &Segment) -> Option<Point> {
    let way = line.tangent_at(0.0);
    let side = |u: f64| way.cross(arc.point_at(u) - line.from());
    let (mut low, mut high) =
        (0.0, (1..=32).map(|i| f64::from(i) / 32.0).find(|u| side(*u) * side(0.0) <= 0.0)?);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if side(middle) * side(0.0) > 0.0 { low = middle } else { high = middle }
    }
    Some(arc.point_at(high))
}

/// The segment with another end on its own line or arc.
fn with_end(segment: &Segment, at: Point) -> Segment {
    match *segment {
        Segment::Line { from, .. } => Segment::Line { from, to: at },
        Segment::Arc { from, to, bulge } => {
            // Angles over chords are as the sines of half the angles at the centre.
            let whole = 2.0 * bulge.atan();
            let share = (at.distance(from) / to.distance(from) * whole.sin()).asin();
            Segment::Arc { from, to: at, bulge: (share / 2.0).tan() }
        }
        curve @ Segment::Curve(_) => curve,
    }
}
