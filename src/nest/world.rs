//! Parts and stock made ready for the search: recentred, grown by the clearance, turned to their
//! allowed angles.

use super::circles::{Circles, inscribed};
use super::grow::{forbidden_ground, grown};
use super::outline::{Outline, TOUCH};
use super::pairs::Pairs;
use super::plane::{
    Point, Ring, box_about, diagonal, hull, middle, sine_cosine, turned, twice_area,
};
use super::shape::sound_rings;
use super::{Clearance, Fault, Piece, Stock, Turns};
use crate::geom::Rect;
use std::f64::consts::{FRAC_PI_2, PI, TAU};
use std::sync::Arc;

/// Circles kept for one part.
const PART_CIRCLES: usize = 16;
/// Circles kept for one patch of forbidden ground.
const GROUND_CIRCLES: usize = 32;
/// Outlines with more edges than this are not tabled.
const MOST_TABLED: usize = 2000;
/// Angles closer than this are one angle, radians.
const SAME_ANGLE: f64 = 1e-9;

/// The angles a part may stand at.
#[derive(Debug)]
pub(super) enum Turning {
    /// These alone, each with its outline made beforehand.
    Fixed(Vec<(f64, Arc<Outline>)>),
    /// Within `tolerance` of any of `around`; a tolerance of half a turn or more means any angle.
    Free { around: Vec<f64>, tolerance: f64, base: Box<Outline> },
}

/// One piece of the caller's list, ready for use. Coordinates are about `centre`.
#[derive(Debug)]
pub(super) struct Kind {
    pub(super) piece: usize,
    pub(super) area: f64,
    pub(super) centre: Point,
    /// The bare rings, for the exact check.
    pub(super) rings: Vec<Ring>,
    pub(super) turning: Turning,
    /// Angles worth trying first when it is placed, by index into `Fixed` or as free angles.
    pub(super) first_angles: Vec<(usize, f64)>,
    /// More of them, where none of the first goes on the sheet.
    pub(super) other_angles: Vec<(usize, f64)>,
    /// The largest circle in each opening that another part might use, at angle 0: its middle and
    /// radius.
    pub(super) pockets: Vec<(Point, f64)>,
    /// Least width of the convex hull over all angles, mm.
    pub(super) least_width: f64,
    /// Box diagonal at angle 0, a length for steps.
    pub(super) diagonal: f64,
}

impl Kind {
    /// The outline at a stand; free angles are worked out in `scratch`.
    pub(super) fn stand<'a>(
        &'a self,
        turn: usize,
        angle: f64,
        scratch: &'a mut Turner,
    ) -> &'a Outline {
        match &self.turning {
            Turning::Fixed(list) => &list[turn].1,
            Turning::Free { base, .. } => scratch.turn(self.piece, base, angle),
        }
    }

    /// The outline at a stand, to be kept.
    pub(super) fn stand_kept(&self, turn: usize, angle: f64) -> Arc<Outline> {
        match &self.turning {
            Turning::Fixed(list) => Arc::clone(&list[turn].1),
            Turning::Free { base, .. } => {
                let mut kept = (**base).clone();
                base.turn_into(angle, &mut kept);
                kept.hull = Vec::new();
                kept.corners = Vec::new();
                kept.quads = Vec::new();
                Arc::new(kept)
            }
        }
    }

    /// The narrowest box of the part at its allowed angles that goes into `frame`: its length along
    /// x, if any does.
    pub(super) fn least_length_in(&self, frame: &Rect) -> Option<f64> {
        let goes = |o: &Outline| {
            o.extent.width() <= frame.width() + FIT && o.extent.height() <= frame.height() + FIT
        };
        match &self.turning {
            Turning::Fixed(list) => list
                .iter()
                .filter(|(_, o)| goes(o))
                .map(|(_, o)| o.extent.width())
                .min_by(f64::total_cmp),
            Turning::Free { around, tolerance, base } => {
                let mut turner = Turner::new(base);
                let mut best: Option<f64> = None;
                for angle in sweep(around, *tolerance, &base.hull) {
                    let o = turner.turn(self.piece, base, angle);
                    if goes(o) {
                        best = Some(best.map_or(o.extent.width(), |b| b.min(o.extent.width())));
                    }
                }
                best
            }
        }
    }
}

/// Slack for a part exactly as large as its sheet, mm.
pub(super) const FIT: f64 = 1e-9;

/// Every angle at which a box about the hull can be smallest (an edge of it upright or level), and
/// an even sweep.
fn sweep(around: &[f64], tolerance: f64, hull: &[Point]) -> Vec<f64> {
    let mut all: Vec<f64> = Vec::new();
    let within = |angle: f64| {
        around.iter().any(|c| {
            let off = (angle - c).rem_euclid(TAU);
            off.min(TAU - off) <= tolerance + SAME_ANGLE
        })
    };
    for i in 0..hull.len() {
        let (a, b) = (hull[i], hull[(i + 1) % hull.len()]);
        let level = -(b[1] - a[1]).atan2(b[0] - a[0]);
        all.extend((0..4).map(|q| level + f64::from(q) * FRAC_PI_2));
    }
    all.extend((0..72).map(|i| f64::from(i) * TAU / 72.0));
    all.retain(|a| within(*a));
    all.extend_from_slice(around);
    for c in around.iter().filter(|_| tolerance < PI) {
        all.extend((0..=8).map(|i| c + tolerance * (f64::from(i) / 4.0 - 1.0)));
    }
    all
}

/// Memory for one part turned to a free angle.
#[derive(Debug)]
pub(super) struct Turner {
    outline: Outline,
    key: (usize, u64),
}

impl Turner {
    pub(super) fn new(like: &Outline) -> Self {
        Self { outline: like.clone(), key: (usize::MAX, 0) }
    }

    /// `base` turned by `angle`; worked out once while part and angle stay the same.
    fn turn(&mut self, part: usize, base: &Outline, angle: f64) -> &Outline {
        let key = (part, angle.to_bits());
        if self.key != key {
            base.turn_into(angle, &mut self.outline);
            self.key = key;
        }
        &self.outline
    }
}

/// Stock made ready: a sheet or a roll, its lower left corner moved to the origin.
#[derive(Debug)]
pub(super) struct Ground {
    /// Index in the caller's list.
    pub(super) stock: usize,
    /// Where the bare parts' boxes may be. A roll's runs on and on.
    pub(super) room: Rect,
    /// Ground inside `room` that grown parts must keep off.
    pub(super) forbidden: Vec<Arc<Outline>>,
    /// The bare sheet for the exact check; none for a roll.
    pub(super) rings: Vec<Ring>,
    /// What was taken off the sheet's own coordinates.
    pub(super) origin: Point,
    pub(super) area: f64,
    pub(super) roll: bool,
}

/// Everything that stays the same during a nest.
#[derive(Debug)]
pub(super) struct World {
    pub(super) kinds: Vec<Kind>,
    /// For each item (one copy of one piece) its kind.
    pub(super) kind_of: Vec<usize>,
    pub(super) grounds: Vec<Ground>,
    pub(super) clearance: Clearance,
    pub(super) pairs: Pairs,
}

impl World {
    pub(super) fn new(
        mut kinds: Vec<Kind>,
        kind_of: Vec<usize>,
        grounds: Vec<Ground>,
        clearance: Clearance,
    ) -> Self {
        let mut stands = Vec::new();
        for kind in &mut kinds {
            if let Turning::Fixed(list) = &mut kind.turning {
                for (_, outline) in list.iter_mut().filter(|l| l.1.x0.len() < MOST_TABLED) {
                    #[allow(clippy::cast_possible_truncation)]
                    // a few at most; beyond there are no tables
                    let number = stands.len() as u32;
                    Arc::make_mut(outline).stand = number;
                    stands.push(Arc::clone(outline));
                }
            }
        }
        Self { kinds, kind_of, grounds, clearance, pairs: Pairs::new(stands) }
    }

    pub(super) fn kind(&self, item: usize) -> &Kind {
        &self.kinds[self.kind_of[item]]
    }

    pub(super) fn turner(&self) -> Option<Turner> {
        self.kinds.first().map(|k| match &k.turning {
            Turning::Fixed(list) => Turner::new(&list[0].1),
            Turning::Free { base, .. } => Turner::new(base),
        })
    }
}

/// Checks and prepares the pieces. Errors carry the index of the piece at fault.
pub(super) fn prepare_kinds(pieces: &[Piece], between: f64) -> Result<Vec<Kind>, (usize, Fault)> {
    let rings: Vec<Vec<Ring>> = pieces
        .iter()
        .enumerate()
        .map(|(i, p)| sound_rings(&p.shape).map_err(|f| (i, f)))
        .collect::<Result<_, _>>()?;
    // No part goes through an opening that cannot hold the circle inscribed in the smallest part.
    let smallest = rings
        .iter()
        .zip(pieces)
        .filter(|(_, p)| p.quantity > 0)
        .map(|(r, _)| inscribed(r, f64::INFINITY, 1)[0].1)
        .fold(f64::INFINITY, f64::min);
    Ok(rings
        .into_iter()
        .enumerate()
        .map(|(i, rings)| prepare_kind(i, &pieces[i], &rings, between, smallest))
        .collect())
}

fn prepare_kind(index: usize, piece: &Piece, rings: &[Ring], between: f64, smallest: f64) -> Kind {
    let frame = box_about(&rings[0]);
    let centre = middle(frame);
    let rings: Vec<Ring> = rings
        .iter()
        .map(|r| r.iter().map(|p| [p[0] - centre[0], p[1] - centre[1]]).collect())
        .collect();
    let bare_hull = hull(&rings[0]);
    let mut body = grown(&rings, 0.5 * between);
    let mut pockets = Vec::new();
    let mut keep = vec![body.remove(0)];
    for opening in body {
        let solid: Ring = opening.iter().rev().copied().collect();
        let (middle, r) = inscribed(&[solid], f64::INFINITY, 1)[0];
        if r > 0.98 * smallest {
            pockets.push((middle, r));
            keep.push(opening);
        }
    }
    let area = rings.iter().map(|r| 0.5 * twice_area(r)).sum::<f64>();
    let body_area = keep.iter().map(|r| 0.5 * twice_area(r)).sum::<f64>();
    let size = (0.5 * twice_area(&hull(&keep[0]))).sqrt();
    let circles = Circles::new(&inscribed(&keep, body_area, PART_CIRCLES));
    let base = Outline::new(&keep, bare_hull.clone(), circles, size);
    let (turning, first_angles) = turning_of(piece, &base);
    let other_angles = match &turning {
        Turning::Fixed(list) => {
            list.iter().enumerate().skip(first_angles.len()).map(|(i, a)| (i, a.0)).collect()
        }
        Turning::Free { around, tolerance, base } => {
            sweep(around, *tolerance, &base.hull).into_iter().map(|a| (0, a)).collect()
        }
    };
    Kind {
        piece: index,
        area,
        centre,
        turning,
        first_angles,
        other_angles,
        pockets,
        least_width: least_width(&bare_hull),
        diagonal: diagonal(frame),
        rings,
    }
}

fn turning_of(piece: &Piece, base: &Outline) -> (Turning, Vec<(usize, f64)>) {
    let mut angles: Vec<f64> = Vec::new();
    let mut tolerance = piece.tolerance.abs();
    match &piece.turns {
        Turns::Any => {
            angles.push(0.0);
            tolerance = PI;
        }
        Turns::List(list) => {
            for a in list {
                let same = |b: &f64| {
                    let off = (a - b).rem_euclid(TAU);
                    off.min(TAU - off) < SAME_ANGLE
                };
                if !angles.iter().any(same) {
                    angles.push(*a);
                }
            }
            if angles.is_empty() {
                angles.push(0.0);
            }
        }
    }
    if tolerance < SAME_ANGLE {
        let mut fixed: Vec<(f64, Arc<Outline>)> = Vec::new();
        for a in angles {
            let outline = base.at_angle(a);
            // A rectangle turned half round is the same rectangle.
            if !fixed.iter().any(|f| f.1.same_as(&outline)) {
                fixed.push((a, Arc::new(outline)));
            }
        }
        let first = fixed.iter().enumerate().take(16).map(|(i, f)| (i, f.0)).collect();
        return (Turning::Fixed(fixed), first);
    }
    let mut first: Vec<f64> = Vec::new();
    if tolerance >= PI {
        // The box of least area has an edge of the hull along it; so do the snuggest fits to a
        // straight neighbour.
        let n = base.hull.len();
        let mut levels: Vec<(f64, f64)> = (0..n)
            .map(|i| {
                let (a, b) = (base.hull[i], base.hull[(i + 1) % n]);
                let angle = -(b[1] - a[1]).atan2(b[0] - a[0]);
                let sc = sine_cosine(angle);
                let turned: Vec<Point> = base.hull.iter().map(|p| turned(*p, sc)).collect();
                let f = box_about(&turned);
                (f.width() * f.height(), angle)
            })
            .collect();
        levels.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        for (_, level) in levels.iter().take(3) {
            first.extend((0..4).map(|q| level + f64::from(q) * FRAC_PI_2));
        }
    } else {
        first.extend(angles.iter().take(8));
    }
    let base = Box::new(base.clone());
    (Turning::Free { around: angles, tolerance, base }, first.into_iter().map(|a| (0, a)).collect())
}

/// Least width of a convex hull: some edge of it lies on one of the two closest parallel lines
/// about it (Houle and Toussaint 1988, "Computing the width of a set").
fn least_width(hull: &[Point]) -> f64 {
    let n = hull.len();
    (0..n)
        .map(|i| {
            let (a, b) = (hull[i], hull[(i + 1) % n]);
            let length = (b[0] - a[0]).hypot(b[1] - a[1]).max(f64::MIN_POSITIVE);
            hull.iter()
                .map(|p| ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) / length)
                .fold(0.0, f64::max)
        })
        .fold(f64::INFINITY, f64::min)
}

/// Checks and prepares the stock. Errors carry the index of the stock at fault.
pub(super) fn prepare_grounds(
    stock: &[Stock],
    clearance: &Clearance,
) -> Result<Vec<Ground>, (usize, Fault)> {
    stock
        .iter()
        .enumerate()
        .map(|(i, s)| prepare_ground(i, s, clearance).map_err(|f| (i, f)))
        .collect()
}

fn prepare_ground(index: usize, stock: &Stock, clearance: &Clearance) -> Result<Ground, Fault> {
    match stock {
        Stock::Roll { width } => {
            if !width.is_finite() || *width > 1e6 {
                return Err(Fault::NotFinite);
            }
            if *width <= 0.0 {
                return Err(Fault::NoArea);
            }
            let e = clearance.edge;
            Ok(Ground {
                stock: index,
                room: Rect { x0: e, y0: e, x1: f64::INFINITY, y1: width - e },
                forbidden: Vec::new(),
                rings: Vec::new(),
                origin: [0.0, 0.0],
                area: f64::INFINITY,
                roll: true,
            })
        }
        Stock::Sheet { shape, .. } => {
            let rings = sound_rings(shape)?;
            let frame = box_about(&rings[0]);
            let origin = [frame.x0, frame.y0];
            let rings: Vec<Ring> = rings
                .iter()
                .map(|r| r.iter().map(|p| [p[0] - origin[0], p[1] - origin[1]]).collect())
                .collect();
            let room = box_about(&rings[0]).inflate(-clearance.edge, -clearance.edge);
            let mut forbidden = Vec::new();
            if room.width() > 0.0 && room.height() > 0.0 {
                for patch in
                    forbidden_ground(&rings, (clearance.edge - 0.5 * clearance.between).max(0.0))
                {
                    let area = patch.iter().map(|r| 0.5 * twice_area(r)).sum::<f64>();
                    let frame = box_about(&patch[0]);
                    if frame.width().min(frame.height()) < 4.0 * TOUCH {
                        continue; // nothing but the rounding of the sheet's own edge
                    }
                    let circles = Circles::new(&inscribed(&patch, area, GROUND_CIRCLES));
                    let size = area.sqrt();
                    forbidden.push(Arc::new(Outline::new(&patch, Vec::new(), circles, size)));
                }
            }
            Ok(Ground {
                stock: index,
                room,
                forbidden,
                area: rings.iter().map(|r| 0.5 * twice_area(r)).sum(),
                rings,
                origin,
                roll: false,
            })
        }
    }
}
