//! One cut after another: openings before outsides, what lies in an opening before the opening, and
//! never right beside the line just cut where there is a choice.

use super::edges::distance_squared;
use super::{Cut, Edge};
use crate::geom::{Point, Polyarc, Rect};

/// How far the chords may be from the arcs of a line whose heat is minded, mm.
const HEAT_CHORD: f64 = 1.0;

/// What is known of a cut while its turn is sought.
struct Waiting {
    bounds: Rect,
    chords: Vec<Point>,
    /// Cuts that must come first.
    after: Vec<usize>,
}

/// The cuts' indices in order, and how far the torch moves between them. Each next cut is the
/// nearest of those that may be cut and do not begin within `apart` of the last two lines; if there
/// is none, of those that do not begin so near the last one; then of all.
pub(super) fn sequence(
    cuts: &[Cut],
    blanks: &[&[Edge]],
    apart: f64,
    from: Point,
) -> (Vec<usize>, f64) {
    let waiting = waiting(cuts, blanks);
    let mut needs: Vec<usize> = waiting.iter().map(|cut| cut.after.len()).collect();
    let mut frees: Vec<Vec<usize>> = vec![Vec::new(); cuts.len()];
    for (i, cut) in waiting.iter().enumerate() {
        for &first in &cut.after {
            frees[first].push(i);
        }
    }
    let pierces: Vec<Point> = cuts.iter().map(Cut::pierce).collect();
    let mut free: Vec<usize> = (0..cuts.len()).filter(|&i| needs[i] == 0).collect();
    let (mut done, mut travel, mut here): (Vec<usize>, f64, Point) = (Vec::new(), 0.0, from);
    while !free.is_empty() {
        let next = free.swap_remove(choice(&free, &pierces, here, |i| {
            let beside = |&j: &usize| beside(&waiting[j], pierces[i], apart);
            done.iter().rev().take(2).position(beside).unwrap_or(2)
        }));
        travel += here.distance(pierces[next]);
        here = cuts[next].start();
        done.push(next);
        for &i in &frees[next] {
            needs[i] -= 1;
            if needs[i] == 0 {
                free.push(i);
            }
        }
    }
    (done, travel)
}

/// Which of `free` comes next, as a place in that list. `coolness` says of a cut how many of the
/// last lines it does not begin beside, 2 at most.
fn choice(
    free: &[usize],
    pierces: &[Point],
    here: Point,
    coolness: impl Fn(usize) -> usize,
) -> usize {
    // The nearest of each coolness or more; a cut farther than the nearest of the coolest need not
    // be looked at.
    let mut nearest: [Option<(f64, usize, usize)>; 3] = [None; 3];
    for (place, &i) in free.iter().enumerate() {
        let off = pierces[i].distance_squared(here);
        let beats =
            |best: Option<(f64, usize, usize)>| best.is_none_or(|(d, j, _)| (off, i) < (d, j));
        if beats(nearest[2]) {
            for best in nearest.iter_mut().take(coolness(i) + 1) {
                if beats(*best) {
                    *best = Some((off, i, place));
                }
            }
        }
    }
    nearest.iter().rev().flatten().next().map_or(0, |best| best.2)
}

/// Whether a torch that comes down at `pierce` would stand within `apart` of a line.
fn beside(line: &Waiting, pierce: Point, apart: f64) -> bool {
    if !line.bounds.inflate(apart, apart).contains(pierce) {
        return false;
    }
    let ends = line.chords.iter().zip(line.chords.iter().cycle().skip(1));
    ends.into_iter().any(|(a, b)| distance_squared(pierce, (*a, *b)) < apart * apart)
}

fn waiting(cuts: &[Cut], blanks: &[&[Edge]]) -> Vec<Waiting> {
    // Which cuts belong to which edge of which blank.
    let mut of: Vec<Vec<Vec<usize>>> =
        blanks.iter().map(|edges| vec![Vec::new(); edges.len()]).collect();
    for (i, cut) in cuts.iter().enumerate() {
        of[cut.blank][cut.edge].push(i);
    }
    let inside = blanks_in_openings(blanks);
    cuts.iter()
        .enumerate()
        .map(|(i, cut)| {
            let own = &of[cut.blank];
            let mut after: Vec<usize> = Vec::new();
            if cut.is_opening() {
                let within = &inside[cut.blank][cut.edge];
                after.extend(within.iter().flat_map(|&blank| of[blank].iter().flatten()));
            } else if own[0].first() == Some(&i) {
                // The outer line itself comes after all else of its blank, bays included.
                after.extend(own.iter().flatten().filter(|&&other| other != i));
            }
            Waiting { bounds: cut.path.bounds(), chords: cut.path.flatten(HEAT_CHORD), after }
        })
        .collect()
}

/// The blanks that lie in each opening of each blank.
fn blanks_in_openings(blanks: &[&[Edge]]) -> Vec<Vec<Vec<usize>>> {
    let boxes: Vec<Rect> = blanks
        .iter()
        .map(|edges| edges.first().map_or(Rect::ZERO, |edge| edge.outline.bounds()))
        .collect();
    blanks
        .iter()
        .enumerate()
        .map(|(i, edges)| {
            edges
                .iter()
                .enumerate()
                .map(
                    |(k, edge)| {
                        if k == 0 { Vec::new() } else { held_by(&edge.outline, blanks, &boxes, i) }
                    },
                )
                .collect()
        })
        .collect()
}

fn held_by(opening: &Polyarc, blanks: &[&[Edge]], boxes: &[Rect], owner: usize) -> Vec<usize> {
    let bounds = opening.bounds();
    let fits =
        |b: &Rect| b.x0 >= bounds.x0 && b.y0 >= bounds.y0 && b.x1 <= bounds.x1 && b.y1 <= bounds.y1;
    (0..blanks.len())
        .filter(|&j| j != owner && fits(&boxes[j]))
        .filter(|&j| {
            blanks[j].first().is_some_and(|edge| opening.contains(edge.outline.vertices[0].point))
        })
        .collect()
}
