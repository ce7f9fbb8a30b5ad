//! Tools and machine as outlines square to the bend, in the brake's y (to the back) and z (up), mm.
//!
//! What the shop file does not draw is of the usual size. None of these sizes has a source: they
//! are common practice, rounded, such as tools for sheet of 1 to 3 mm have.

use crate::geom::{Point, Polyarc, triangulate};
use crate::units::Angle;

/// What a tool moves with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Carried {
    /// A punch or a nose: stays where the inside of the bend is.
    Inside,
    /// A die or a bed: stays under the sheet's lower face.
    Outside,
    /// A leaf: turns with the free leg.
    Leaf,
}

/// A tool or a part of the machine, the same along the whole bend.
#[derive(Debug, Clone)]
pub struct Body {
    /// What it is called.
    pub name: &'static str,
    /// What it moves with.
    pub carried: Carried,
    /// Whether it is set up from sections no longer than there is room for; the others run along
    /// the whole brake.
    pub sectioned: bool,
    /// Its outline.
    pub outline: Vec<Point>,
    /// The outline as triangles.
    pub pieces: Vec<[Point; 3]>,
}

impl Body {
    /// A body from its outline. An outline that cannot be cut into triangles is taken as its box.
    pub(super) fn new(
        name: &'static str,
        carried: Carried,
        sectioned: bool,
        outline: Vec<Point>,
    ) -> Self {
        let polygon = Polyarc::polygon(outline.iter().copied()).counter_clockwise();
        let pieces = triangulate(&polygon, &[], CHORD).unwrap_or_else(|| {
            let b = polygon.bounds();
            let corners = [(b.x0, b.y0), (b.x1, b.y0), (b.x1, b.y1), (b.x0, b.y1)].map(Point::from);
            vec![[corners[0], corners[1], corners[2]], [corners[0], corners[2], corners[3]]]
        });
        Self { name, carried, sectioned, outline, pieces }
    }

    /// The body moved up by `rise`, mm.
    pub(super) fn raised(&self, rise: f64) -> Self {
        let up = |p: &Point| Point::new(p.x, p.y + rise);
        Self {
            outline: self.outline.iter().map(up).collect(),
            pieces: self
                .pieces
                .iter()
                .map(|piece| [up(&piece[0]), up(&piece[1]), up(&piece[2])])
                .collect(),
            ..self.clone()
        }
    }

    /// Whether two bodies overlap by more than a graze.
    pub(super) fn meets(&self, other: &Self) -> bool {
        /// Bodies that overlap by less touch, mm.
        const GRAZE: f64 = 0.01;
        // Of two triangles that are apart, a side of one has all of the other beyond it.
        let parted = |one: &[Point; 3], two: &[Point; 3]| {
            (0..3).any(|i| {
                let (a, edge) = (one[i], (one[(i + 1) % 3] - one[i]).normalize());
                two.iter().all(|p| edge.cross(*p - a) < GRAZE)
            })
        };
        self.pieces
            .iter()
            .any(|one| other.pieces.iter().any(|two| !parted(one, two) && !parted(two, one)))
    }

    /// Whether it is the same to the front and to the back.
    pub(super) fn is_symmetric(&self) -> bool {
        self.outline.iter().all(|p| {
            self.outline.iter().any(|q| (q.x + p.x).abs() < 1e-6 && (q.y - p.y).abs() < 1e-6)
        })
    }
}

/// How far the chords of a tool's outline may be from its arcs, mm.
pub(super) const CHORD: f64 = 0.05;

fn points(corners: &[(f64, f64)]) -> Vec<Point> {
    corners.iter().map(|corner| Point::from(*corner)).collect()
}

fn mirrored(right: &[(f64, f64)]) -> Vec<Point> {
    let left = right.iter().rev().filter(|(y, _)| *y > 0.0).map(|(y, z)| (-y, *z));
    points(&right.iter().copied().chain(left).collect::<Vec<_>>())
}

/// An acute straight punch: tip of 30 degrees, blade 12 wide, body 24 wide from 60 up, 100 high.
pub(super) fn usual_punch() -> Vec<Point> {
    let blade = 6.0 / f64::to_radians(PUNCH_ANGLE / 2.0).tan();
    mirrored(&[(0.0, 0.0), (6.0, blade), (6.0, 54.0), (12.0, 60.0), (12.0, USUAL_PUNCH_HEIGHT)])
}

/// A swan-neck punch for metal that stands up before the bend: tip of about 66 degrees, throat 14
/// back behind the tip and 35 high, on the back's side; 100 high.
pub(super) fn usual_swan_neck() -> Vec<Point> {
    points(&[
        (0.0, 0.0),
        (5.0, 18.0),
        (5.0, 24.0),
        (-14.0, 40.0),
        (-14.0, 75.0),
        (12.0, 92.0),
        (12.0, USUAL_PUNCH_HEIGHT),
        (-12.0, USUAL_PUNCH_HEIGHT),
        (-26.0, 78.0),
        (-26.0, 40.0),
    ])
}

/// Included angle of the usual punch and of a die that gives none, degrees: what reaches 150
/// degrees of bend.
pub(super) const PUNCH_ANGLE: f64 = 30.0;
const USUAL_PUNCH_HEIGHT: f64 = 100.0;

/// Holder (50 wide, 60 high) and beam (90 wide, 300 high) over a punch whose top is at `top`.
pub(super) fn holder_and_beam(top: f64) -> [Vec<Point>; 2] {
    let holder = mirrored(&[(25.0, top), (25.0, top + 60.0)]);
    let beam = mirrored(&[(45.0, top + 60.0), (45.0, top + 360.0)]);
    [holder, beam]
}

/// A block with one opening: shoulders 8 wide (at least half the opening) beside it, 60 high, on a
/// foot 60 wide.
pub(super) fn usual_die(opening: f64, angle: Angle) -> Vec<Point> {
    let half = opening / 2.0;
    let deep = half / (angle.radians() / 2.0).tan();
    // A deep narrow opening ends in a slot that the sheet never reaches.
    let deep = deep.min(USUAL_DIE_HEIGHT - 10.0);
    let wide = half + (opening / 2.0).max(8.0);
    let foot = wide.max(30.0);
    mirrored(&[
        (0.0, -deep),
        (half, 0.0),
        (wide, 0.0),
        (wide, -USUAL_DIE_HEIGHT),
        (foot, -USUAL_DIE_HEIGHT),
        (foot, -USUAL_DIE_HEIGHT - 25.0),
        (0.0, -USUAL_DIE_HEIGHT - 25.0),
    ])
}

const USUAL_DIE_HEIGHT: f64 = 60.0;

/// The bed under a die whose foot is at `foot`: 140 wide, 500 high.
pub(super) fn bed(foot: f64) -> Vec<Point> {
    mirrored(&[(70.0, foot), (70.0, foot - 500.0)])
}

/// A finger or nose: front rising at 45 degrees from an edge of that radius, 75 high, 100 deep. y =
/// 0 is where the sheet's bend begins.
pub(super) fn usual_nose(radius: f64) -> Vec<Point> {
    let steps = 9;
    // Round from the lower face (straight down) to where the 45 degree front takes over.
    let arc = (0..=steps).map(|i| {
        let turn = f64::from(i) / f64::from(steps) * 135_f64.to_radians();
        Point::new(-radius * turn.sin(), radius - radius * turn.cos())
    });
    let start = Point::new(
        -radius * 135_f64.to_radians().sin(),
        radius - radius * 135_f64.to_radians().cos(),
    );
    let rise = (75.0 - start.y).max(5.0);
    let top = Point::new(start.x + rise, start.y + rise);
    arc.chain([top, Point::new(top.x.max(100.0), top.y), Point::new(top.x.max(100.0), 0.0)])
        .collect()
}

/// The beam that carries a nose whose top is at `top` and begins at `front`: 120 deep, 150 high.
pub(super) fn nose_beam(front: f64, top: f64) -> Vec<Point> {
    points(&[
        (front, top),
        (front + 120.0, top),
        (front + 120.0, top + 150.0),
        (front, top + 150.0),
    ])
}

/// The bed of a leaf brake under a sheet whose lower face is at `face`: 150 deep, 120 high, its
/// front drawn back under the leaf.
pub(super) fn leaf_bed(face: f64) -> Vec<Point> {
    points(&[(0.0, face), (150.0, face), (150.0, face - 120.0), (40.0, face - 120.0)])
}

/// A leaf 50 wide and 25 thick, its bending edge 10 thick, as it lies before it swings; y to the
/// back.
pub(super) fn usual_leaf(face: f64) -> Vec<Point> {
    points(&[
        (0.0, face),
        (0.0, face - 10.0),
        (-12.0, face - 25.0),
        (-50.0, face - 25.0),
        (-50.0, face),
    ])
}

/// What presses a hem shut, in the axes of `Stroke::lie`: the bars over and under it, and the
/// machine over them. `radius` is the fold's inside radius, `reach` how far the hem reaches back.
pub(super) fn hem_bodies(radius: f64, thickness: f64, reach: f64, sectioned: bool) -> Vec<Body> {
    let high = 2.0 * radius + thickness;
    let [upper, lower] =
        flattening_bars(-thickness, high, -radius - 2.0 * thickness - 5.0, reach.max(10.0) + 2.0);
    let [holder, beam] = holder_and_beam(high + 100.0);
    vec![
        Body::new("flattening bar", Carried::Inside, sectioned, upper),
        Body::new("flattening bar", Carried::Outside, sectioned, lower),
        Body::new("holder", Carried::Inside, false, holder),
        Body::new("beam", Carried::Inside, false, beam),
    ]
}

/// The bars that press a hem shut: over and under a stack of metal from `low` to `high`, `back`
/// deep from the fold, 100 high.
fn flattening_bars(low: f64, high: f64, front: f64, back: f64) -> [Vec<Point>; 2] {
    let bar = |z0: f64, z1: f64| points(&[(front, z0), (back, z0), (back, z1), (front, z1)]);
    [bar(high, high + 100.0), bar(low - 60.0, low)]
}
