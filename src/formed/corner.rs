//! Corners: where two flanges meet, solved in space on their real faces and brought back into the
//! flat of each.

use super::fold_tree::{FoldTree, Folding};
use super::folded::{Frame, Sheet};
use crate::geom::space::{Space, cross, dot, length, minus, plus, times};
use crate::geom::{Point, Segment, Vec2};
use crate::part::{Flange, Joint};

/// A corner of a face where two bends meet.
#[derive(Debug, Clone, Copy)]
pub(super) struct Corner {
    /// The bends, in the order of the walk round the face.
    pub(super) bends: [usize; 2],
    /// Directions of the walk before and after the corner.
    pub(super) ways: [Vec2; 2],
    /// Where the mould lines cross, in the flat.
    pub(super) mould: Point,
    /// Where the tangent lines cross.
    pub(super) meet: Point,
}

/// Where a flange starts or ends, in its own frame: x = `at` + `slope` y, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Trim {
    at: f64,
    slope: f64,
}

impl Trim {
    pub(super) const fn square(x: f64) -> Self {
        Self { at: x, slope: 0.0 }
    }

    /// The line through a point along a direction; none where it runs along the flange.
    fn through((x, y): (f64, f64), (dx, dy): (f64, f64)) -> Option<Self> {
        (dy.abs() > 1e-6 * dx.abs()).then(|| Self { at: x - y * dx / dy, slope: dx / dy })
    }

    /// Whether it is square to the flange's edge.
    pub(super) fn is_square(&self) -> bool {
        self.slope.abs() < 1e-9
    }

    /// How far along the flange's edge it lies at a height, mm.
    pub(super) fn at_height(&self, height: f64) -> f64 {
        self.at + self.slope * height
    }

    /// The line in the flat from the mould line up to `height`.
    pub(super) fn line(&self, frame: &Frame, height: f64) -> Segment {
        Segment::Line { from: frame.at(self.at, 0.0), to: frame.at(self.at_height(height), height) }
    }

    /// The line that leaves no metal beyond either of the two between the heights, at the start (0)
    /// or the end (1).
    pub(super) fn innermost(&self, other: Self, end: usize, (low, high): (f64, f64)) -> Self {
        let pick = |y: f64| {
            let (a, b) = (self.at_height(y), other.at_height(y));
            if end == 0 { a.max(b) } else { a.min(b) }
        };
        let (x0, x1) = (pick(low), pick(high));
        let slope = (x1 - x0) / (high - low);
        Self { at: x0 - slope * low, slope }
    }
}

/// A face's plane in space while its ends are sought.
struct Plane<'a> {
    folding: &'a Folding<'a>,
    face: usize,
    frame: Frame,
    thickness: f64,
    /// Its upper face's normal.
    normal: Space,
}

impl<'a> Plane<'a> {
    fn of(folding: &'a Folding<'a>, sheets: &[Sheet], face: usize) -> Self {
        let normal = folding.poses[face].direction([0.0, 0.0, 1.0]);
        Self { folding, face, frame: sheets[face].frame, thickness: folding.tree.thickness, normal }
    }

    /// The point (x, y) of its frame on its upper or lower skin.
    fn at(&self, x: f64, y: f64, upper: bool) -> Space {
        self.folding.on_face(
            self.face,
            self.frame.at(x, y),
            if upper { self.thickness } else { 0.0 },
        )
    }

    /// The directions of its x and y.
    fn axes(&self) -> [Space; 2] {
        let pose = &self.folding.poses[self.face];
        [self.frame.along, self.frame.out].map(|v| pose.direction([v.x, v.y, 0.0]))
    }

    /// A line in space, which lies in a skin of this face, moved by `into` mm along `way`, as an
    /// end of this face.
    fn trim(&self, point: Space, along: Space, way: Space, into: f64) -> Option<Trim> {
        let [x, y] = self.axes();
        let origin = self.at(0.0, 0.0, true);
        let place = minus(plus(point, times(way, into)), origin);
        Trim::through((dot(place, x), dot(place, y)), (dot(along, x), dot(along, y)))
    }
}

/// The line in which the planes through `a` with normal `n` and through `b` with normal `m` cross:
/// a point and its unit direction.
fn crossing(a: Space, n: Space, b: Space, m: Space) -> Option<(Space, Space)> {
    let along = cross(n, m);
    let square = dot(along, along);
    if square < 1e-12 {
        return None;
    }
    // The point of the line nearest to `a`.
    let height = dot(m, minus(b, a));
    let step = times(cross(along, n), height / square);
    Some((plus(a, step), times(along, 1.0 / square.sqrt())))
}

/// The part of `v` square to the unit vector `along`, made a unit vector.
fn square_to(v: Space, along: Space) -> Space {
    let rest = minus(v, times(along, dot(v, along)));
    times(rest, 1.0 / length(rest).max(f64::MIN_POSITIVE))
}

/// Beyond this angle between two faces there is no running on over the other's edge: they are
/// nearly one plane.
const NEARLY_ONE_PLANE: f64 = 2.6;

/// The plane that keeps two neighbours apart at a corner.
#[derive(Debug, Clone, Copy)]
pub(super) struct Divide {
    point: Space,
    /// Unit normal, toward the first of the two.
    normal: Space,
    /// How far the metal of either stays from it, mm.
    clear: f64,
    /// For the one that stops short of the other: a point and the normal, toward it, of the skin
    /// that it keeps twice as far from.
    skins: [Option<(Space, Space)>; 2],
}

impl Divide {
    /// Where metal that runs along the unit vector `along` into a neighbour from `point` on is
    /// clear of the other, mm along it; of the second neighbour when `second`. None where it never
    /// is.
    pub(super) fn clear_from(&self, point: Space, along: Space, second: bool) -> Option<f64> {
        let from = |on: Space, normal: Space, clear: f64| {
            let climb = dot(normal, along);
            (climb > 1e-6).then(|| (clear - dot(normal, minus(point, on))) / climb)
        };
        let divided =
            from(self.point, times(self.normal, if second { -1.0 } else { 1.0 }), self.clear)?;
        match self.skins[usize::from(second)] {
            Some((on, normal)) => Some(divided.max(from(on, normal, 2.0 * self.clear)?)),
            None => Some(divided),
        }
    }
}

/// How two faces end where they meet.
pub(super) struct Meeting {
    /// The first one's end and the second one's start. None where an end is left as it is.
    pub(super) trims: [Option<Trim>; 2],
    /// What keeps their bends apart; none where one face runs along the other's.
    pub(super) divide: Option<Divide>,
}

/// The sine under which a face is taken to run along a line in its plane: that line is no end of
/// it.
const RUNS_ALONG: f64 = 0.2;

/// How face `a` ends at its end and face `b` at its start, where they meet. Where one of them runs
/// along the line in which they cross, only the other ends there, the gap short of it.
///
/// In the section square to the line in which their inner skins cross, the faces make the angle
/// phi. Edge: each stops s = g/(2 sin(phi/2)) short of that line, so that the nearest edges, those
/// on the inner skins, are the gap g apart all along. Butt: the one that runs on covers the other's
/// edge, T (1 + cos phi)/sin phi beyond the line, where the outer skins cross, or T sin phi - s cos
/// phi if that is more; the other stops s = (g - T min(0, cos phi))/sin phi short of its inner
/// skin, so that the nearer of its two edges is g away. Lap: T farther on. Derived here; measured
/// on the folded solid in `tests/it/properties/corners.rs`.
///
/// Their bends keep apart by the plane through that line that halves phi: the metal of each stays
/// g/2 from it, as the faces' ends do.
pub(super) fn meet_at_corner(
    tree: &FoldTree,
    sheets: &[Sheet],
    a: usize,
    b: usize,
) -> Option<Meeting> {
    let (one, two) = (sheets[a].flange?, sheets[b].flange?);
    // One up and one down stand on different sides of the face and do not meet.
    let angle = |face: usize| tree.faces[face].bend.map(|bend| tree.bends[bend].angle);
    if angle(a)? * angle(b)? < 0.0 {
        return None;
    }
    let folding = tree.folded();
    let (pa, pb) = (Plane::of(&folding, sheets, a), Plane::of(&folding, sheets, b));
    let gap = one.corner_gap.mm().max(two.corner_gap.mm());
    let [way_a, way_b] = [times(pa.axes()[0], -1.0), pb.axes()[0]];
    // The inner skins are those that face each other.
    let upper = dot(way_b, pa.normal) > 0.0;
    let (p, q) = (pa.at(0.0, 0.0, upper), pb.at(0.0, 0.0, upper));
    let (point, along) = match crossing(p, pa.normal, q, pb.normal) {
        Some(line) => line,
        None => mitre(&pa, &pb, tree.thickness + gap)?,
    };
    // A hem runs along its wall, however the other face leans.
    let is_hem = [a, b].map(|face| sheets[face].is_hem);
    let runs_along = if is_hem[0] == is_hem[1] {
        [way_a, way_b].map(|way| length(cross(way, along)) < RUNS_ALONG)
    } else {
        is_hem
    };
    if runs_along.contains(&true) {
        let short = |own: (usize, usize), wall: usize| short_of(tree, sheets, own, wall, gap);
        let trims = [
            if runs_along[0] { None } else { short((a, 1), b) },
            if runs_along[1] { None } else { short((b, 0), a) },
        ];
        return Some(Meeting { trims, divide: None });
    }
    let (into_a, into_b) = (square_to(way_a, along), square_to(way_b, along));
    let phi = dot(into_a, into_b).clamp(-1.0, 1.0).acos();
    let over = runs_on(one, two).filter(|_| phi < NEARLY_ONE_PLANE);
    let mut trims = match over {
        None => {
            let short = gap / (2.0 * (phi / 2.0).sin());
            [pa.trim(point, along, into_a, short), pb.trim(point, along, into_b, short)]
        }
        Some((first, joint)) => {
            let (thickness, (sin, cos)) = (tree.thickness, phi.sin_cos());
            let ledge = if joint == Joint::Lap { -thickness } else { 0.0 };
            let short = (gap - thickness * cos.min(0.0)) / sin;
            let cover = (-thickness * (1.0 + cos) / sin).min(short * cos - thickness * sin);
            let [over, under] = [cover + ledge, short];
            let shorts = if first { [over, under] } else { [under, over] };
            [pa.trim(point, along, into_a, shorts[0]), pb.trim(point, along, into_b, shorts[1])]
        }
    };
    for (trim, flange) in trims.iter_mut().zip([one, two]) {
        if flange.joint == Joint::Square {
            *trim = None;
        }
    }
    let between = minus(into_a, into_b);
    let normal = times(between, 1.0 / length(between).max(f64::MIN_POSITIVE));
    let inward = if upper { 1.0 } else { -1.0 };
    let skins = match over {
        None => [None; 2],
        Some((true, _)) => [None, Some((p, times(pa.normal, inward)))],
        Some((false, _)) => [Some((q, times(pb.normal, inward))), None],
    };
    Some(Meeting { trims, divide: Some(Divide { point, normal, clear: gap / 2.0, skins }) })
}

/// Which of two neighbours runs on over the other's edge, and how: the first one where both ask for
/// it, as round a tray.
fn runs_on(one: &Flange, two: &Flange) -> Option<(bool, Joint)> {
    let over = |joint: Joint| matches!(joint, Joint::Butt | Joint::Lap);
    if over(one.joint) {
        Some((true, one.joint))
    } else if over(two.joint) {
        Some((false, two.joint))
    } else {
        None
    }
}

/// The line between two faces of one plane: from where their mould lines cross, halving the angle
/// between them. None where they lie so far one over the other that they do not meet.
fn mitre(a: &Plane, b: &Plane, clear: f64) -> Option<(Space, Space)> {
    let (p, q) = (a.at(0.0, 0.0, true), b.at(0.0, 0.0, true));
    if dot(minus(q, p), a.normal).abs() >= clear {
        return None;
    }
    let ([along_a, out_a], [_, out_b]) = (a.axes(), b.axes());
    let along = plus(out_a, out_b);
    let reach = length(along);
    // Where a's mould line is no higher up b than b's own.
    let climb = dot(along_a, out_b);
    if reach < 1e-6 || climb.abs() < 1e-9 {
        return None;
    }
    let point = plus(p, times(along_a, dot(minus(q, p), out_b) / climb));
    Some((point, times(along, 1.0 / reach)))
}

/// How the start (0) or end (1) of a face keeps `clear` mm from the near skin of `other`: the
/// nearer of its two edges is that far away. None where it runs along that face, passes over its
/// edge, or is to ignore it.
pub(super) fn short_of(
    tree: &FoldTree,
    sheets: &[Sheet],
    (face, end): (usize, usize),
    other: usize,
    clear: f64,
) -> Option<Trim> {
    if sheets[face].flange.is_some_and(|flange| flange.joint == Joint::Square) {
        return None;
    }
    let folding = tree.folded();
    let (own, wall) = (Plane::of(&folding, sheets, face), Plane::of(&folding, sheets, other));
    let sine = length(cross(own.normal, wall.normal));
    if sine < 0.2 {
        return None;
    }
    if other != 0 {
        // From its mould line up, a wall that stays on one side of this face's metal does not meet
        // it; a leaning one is looked at where it is nearest to this end.
        let corner = own.at(sheets[face].ends[end].at, 0.0, false);
        let near = dot(minus(corner, wall.at(0.0, 0.0, true)), wall.axes()[0]);
        let [from, to] = [0, 1].map(|i| sheets[other].ends[i].at);
        let near = near.clamp(from.min(to), from.max(to));
        let heights = [0.0, sheets[other].height].map(|y| {
            let up = dot(minus(wall.at(near, y, true), corner), own.normal);
            [up, up - wall.thickness * dot(wall.normal, own.normal)]
        });
        let all = heights.concat();
        if all.iter().all(|h| *h > tree.thickness + clear) || all.iter().all(|h| *h < -clear) {
            return None;
        }
    }
    let away = if end == 0 { own.axes()[0] } else { times(own.axes()[0], -1.0) };
    let skin = wall.at(0.0, 0.0, dot(away, wall.normal) > 0.0);
    let ends = [true, false].map(|upper| {
        let (point, along) = crossing(own.at(0.0, 0.0, upper), own.normal, skin, wall.normal)?;
        own.trim(point, along, square_to(away, along), clear / sine)
    });
    let [one, two] = ends;
    Some(one?.innermost(two?, end, (0.0, sheets[face].height)))
}
