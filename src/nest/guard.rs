//! The exact check that every layout passes before it is handed out, on the bare outlines, in
//! double precision with exact predicates. It knows nothing of grids' contents, circles or grown
//! outlines.

use super::arrangement::Arrangement;
use super::grow::drawn_in;
use super::plane::{
    Point, Ring, between_segments, box_about, edges, inside, segments_meet, sine_cosine, turned,
};
use crate::geom::Rect;

/// What the distances may fall short by, mm: the engine's own touch and rounding. A five-thousandth
/// of what is promised.
const SHORT: f64 = 2e-6;

/// A bare part where it stands.
struct Standing {
    rings: Vec<Ring>,
    frame: Rect,
}

fn standing(arrangement: &Arrangement, item: usize) -> Option<Standing> {
    let pose = arrangement.pose(item)?;
    let sc = sine_cosine(pose.angle);
    let set = |p: &Point| {
        let q = turned(*p, sc);
        [q[0] + pose.x, q[1] + pose.y]
    };
    let rings: Vec<Ring> =
        arrangement.world.kind(item).rings.iter().map(|r| r.iter().map(set).collect()).collect();
    let frame = box_about(&rings[0]);
    Some(Standing { rings, frame })
}

/// True when the boundaries of `a` and `b` keep `apart` from each other; at no distance they may
/// touch.
fn boundaries_apart(a: &[Ring], b: &[Ring], apart: f64) -> bool {
    let box_of = |p: &Point, q: &Point| box_about([p, q]);
    let window = box_about(b.iter().flatten()).inflate(apart, apart);
    let close: Vec<(Point, Point)> =
        a.iter().flat_map(|r| edges(r)).filter(|(p, q)| box_of(p, q).overlaps(window)).collect();
    let window = box_about(close.iter().flat_map(|(p, q)| [p, q])).inflate(apart, apart);
    for (r, s) in b.iter().flat_map(|r| edges(r)) {
        let frame = box_of(&r, &s);
        if !frame.overlaps(window) {
            continue;
        }
        let frame = frame.inflate(apart, apart);
        for (p, q) in &close {
            if box_of(p, q).overlaps(frame) {
                let bad = if apart > SHORT {
                    between_segments(*p, *q, r, s) < apart - SHORT
                } else {
                    segments_meet(*p, *q, r, s)
                };
                if bad {
                    return false;
                }
            }
        }
    }
    true
}

/// True when two parts are `between` apart (or do not overlap, at no clearance).
fn parts_apart(a: &[Ring], b: &[Ring], between: f64) -> bool {
    let (a, b) = if between > SHORT {
        (a.to_vec(), b.to_vec())
    } else {
        (drawn_in(a, SHORT), drawn_in(b, SHORT))
    };
    boundaries_apart(&a, &b, between) && !inside(&b, a[0][0]) && !inside(&a, b[0][0])
}

/// True when a part lies on the material of `sheet`, `edge` away from all its edges.
fn on_sheet(part: &[Ring], sheet: &[Ring], edge: f64) -> bool {
    let part = if edge > SHORT { part.to_vec() } else { drawn_in(part, SHORT) };
    boundaries_apart(&part, sheet, edge)
        && inside(sheet, part[0][0])
        && sheet[1..].iter().all(|opening| !inside(&part, opening[0]))
}

/// True when every placed part keeps its clearances.
pub(super) fn sound(arrangement: &Arrangement) -> bool {
    first_at_fault(arrangement).is_none()
}

/// The first item that does not keep its clearances to its sheet and to the items before it.
pub(super) fn first_at_fault(arrangement: &Arrangement) -> Option<usize> {
    let world = &arrangement.world;
    let clearance = world.clearance;
    let parts: Vec<Option<Standing>> =
        (0..arrangement.items()).map(|i| standing(arrangement, i)).collect();
    for (i, part) in parts.iter().enumerate() {
        let (Some(part), Some(placed)) = (part, arrangement.placed(i)) else { continue };
        let bin = &arrangement.bins[placed.pose.bin];
        let ground = &world.grounds[bin.ground];
        if ground.roll {
            let room = ground.room.inflate(SHORT, SHORT);
            if part.frame.x0 < room.x0 || part.frame.y0 < room.y0 || part.frame.y1 > room.y1 {
                return Some(i);
            }
        } else if !on_sheet(&part.rings, &ground.rings, clearance.edge) {
            return Some(i);
        }
        let mut good = true;
        arrangement.near(
            placed.pose.bin,
            &part.frame.inflate(clearance.between, clearance.between),
            |j| {
                if j < i
                    && let Some(other) = &parts[j]
                {
                    good = parts_apart(&part.rings, &other.rings, clearance.between);
                }
                good
            },
        );
        if !good {
            return Some(i);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nest::arrangement::Pose;
    use crate::nest::world::{World, prepare_grounds, prepare_kinds};
    use crate::nest::{Clearance, Piece, Shape, Stock, Turns};
    use std::sync::Arc;

    /// Two rectangles of 20 x 10 on a sheet of 100 x 50 with an opening, their centres at the
    /// points given.
    fn passes(clearance: Clearance, a: Point, b: Point) -> bool {
        let piece = Piece {
            shape: Shape::rectangle(20.0, 10.0),
            quantity: 2,
            turns: Turns::List(vec![]),
            tolerance: 0.0,
        };
        let mut shape = Shape::rectangle(100.0, 50.0);
        shape.openings.push(vec![[60.0, 20.0], [70.0, 20.0], [70.0, 30.0], [60.0, 30.0]]);
        let stock = [Stock::Sheet { shape, count: 1, price: None, remnant: false }];
        let kinds = prepare_kinds(&[piece], clearance.between).expect("sound");
        let grounds = prepare_grounds(&stock, &clearance).expect("sound");
        let room = grounds[0].room;
        let world = Arc::new(World::new(kinds, vec![0, 0], grounds, clearance));
        let mut arrangement = Arrangement::new(&world);
        arrangement.open_bin(0, 0, room, 20.0);
        for (i, p) in [a, b].into_iter().enumerate() {
            arrangement.put(i, Pose { bin: 0, turn: 0, angle: 0.0, x: p[0], y: p[1] });
        }
        sound(&arrangement)
    }

    #[test]
    fn distances_are_held_and_a_little_less_is_found() {
        let c = Clearance { between: 3.0, edge: 4.0 };
        assert!(passes(c, [14.0, 9.0], [37.0, 9.0]));
        assert!(!passes(c, [14.0, 9.0], [36.999, 9.0]), "too near each other");
        assert!(!passes(c, [13.999, 9.0], [37.0, 9.0]), "too near the edge");
        assert!(!passes(c, [14.0, 9.0], [65.0, 25.0]), "over the opening");
        assert!(!passes(c, [14.0, 9.0], [65.0, 11.5]), "too near the opening");
        assert!(passes(c, [14.0, 9.0], [65.0, 11.0]));
        assert!(!passes(c, [14.0, 9.0], [14.0, 9.0]), "one on the other");
    }

    #[test]
    fn at_no_clearance_touching_passes_and_overlap_does_not() {
        let c = Clearance::default();
        assert!(passes(c, [10.0, 5.0], [30.0, 5.0]));
        assert!(passes(c, [10.0, 5.0], [10.0, 15.0]));
        assert!(!passes(c, [10.0, 5.0], [29.999_9, 5.0]));
        assert!(!passes(c, [10.0, 5.0], [10.0, 5.0]));
        assert!(!passes(c, [9.999_9, 5.0], [30.0, 5.0]));
    }
}
