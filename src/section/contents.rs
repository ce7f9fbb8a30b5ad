//! What a pair holds and weighs: volumes and the middle of the metal, by adding up its sections
//! along the run.

use std::rc::Rc;

use super::cut::{Profile, frame_at};
use super::stack::Skins;
use crate::buck::under_skin;
use crate::geom::{Loop, Point, Polyarc, Vec2, offset_loop};
use crate::part::HalfShell;
use crate::shell::FormedFace;
use crate::shell::Wall;
use crate::tolerance::{
    DEEPEST_HALVING, MOST_HALVINGS, MOST_STRETCHES, OPENING_CHORD, SAME_POINT, VOLUME_SHARE,
};

/// The edges of a profile along a line that close its ends, by their place in its names: start,
/// right, end, left.
const CENTRELINE_START: usize = 0;
const CENTRELINE_END: usize = 2;

/// Volumes of a pair.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Contents {
    /// Inside, mm³.
    pub(super) inside: f64,
    /// Of the outside, mm³.
    pub(super) outside: f64,
    /// ∫ x dV and ∫ y dV of the metal, mm⁴, openings not out.
    pub(super) first: (f64, f64),
}

impl Contents {
    /// Those of a pair whose face is crowned: what stands under both skins, to the chords that
    /// solids are drawn with, and the root gap's prism in the seam between the halves.
    pub(super) fn of_skins(
        shell: &HalfShell,
        wall: &Wall,
        face: Option<&FormedFace>,
    ) -> Option<Self> {
        let [outside, inside] = [true, false].map(|outside| under_skin(shell, wall, face, outside));
        let (outside, inside) = (outside?, inside?);
        let gap = shell.seam_gap.mm();
        let area = |outline: &Loop| outline.area().abs();
        let edge = &shell.profile.sides;
        let within = offset_loop(edge, -wall.thickness / wall.lean().cos())?;
        Some(Self {
            inside: 2.0 * inside[0] + gap * area(&within),
            outside: 2.0 * outside[0] + gap * area(edge),
            first: (2.0 * (outside[1] - inside[1]), 2.0 * (outside[2] - inside[2])),
        })
    }

    /// The middle of the metal in the seam plane, with `openings` out of both faces, each
    /// `thickness` mm of metal.
    pub(super) fn centre_of_gravity(&self, openings: &[Polyarc], thickness: f64) -> Point {
        let mut volume = self.outside - self.inside;
        let mut first = Vec2::new(self.first.0, self.first.1);
        for opening in openings {
            let (area, moment) = area_and_moment(&opening.flatten(OPENING_CHORD));
            volume -= 2.0 * thickness * area;
            first -= moment * (2.0 * thickness);
        }
        (first / volume).to_point()
    }
}

/// Area of a polygon, mm², and its first moments ∫ x dA and ∫ y dA, mm³: the sum over the triangles
/// from the origin.
fn area_and_moment(polygon: &[Point]) -> (f64, Vec2) {
    let next = polygon.iter().cycle().skip(1);
    polygon.iter().zip(next).fold((0.0, Vec2::ZERO), |(area, moment), (a, b)| {
        let (a, b) = (a.to_vec2(), b.to_vec2());
        let twice = a.cross(b);
        (area + twice / 2.0, moment + (a + b) * (twice / 6.0))
    })
}

/// What a slice of the run contributes, per mm of it: inside, outside, and the metal's first
/// moments.
type Rate = [f64; 4];

/// The contents of a pair; `skins_at` gives the skins of the sheet at a place along the run. None
/// where one closes on itself.
///
/// V = ∫ ∫ (1 - k y) dA ds: s along the run, k its curvature, y across it, to the left; the
/// sections of a curved run stand closer together on the inside of its curve (Pappus and Guldin,
/// for each slice).
pub(super) fn contents_of(
    profile: &Profile,
    shell: &HalfShell,
    skins_at: &dyn Fn(f64) -> Option<Rc<Skins>>,
) -> Option<Contents> {
    let rate = |at: f64| -> Option<Rate> {
        let (frame, skins) = (frame_at(shell, at), skins_at(at)?);
        let hollow = skins.inside.inside(profile, &frame);
        let outside = skins.outside.inside(profile, &frame);
        let metal = outside.less(&hollow);
        let k = frame.curvature;
        let (plain, across) = (metal.area - k * metal.y, metal.y - k * metal.yy);
        let first = frame.origin.to_vec2() * plain + frame.across() * across;
        Some([hollow.area - k * hollow.y, outside.area - k * outside.y, first.x, first.y])
    };
    let places = places_of(shell);
    let bounds = shell.profile.sides.bounds();
    let accuracy = VOLUME_SHARE * bounds.area() * skins_at(places[0])?.sheet.top();
    let mut total = [0.0; 4];
    let mut halvings_left = MOST_HALVINGS;
    for pair in places.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        // A hair inside, so that a step of the outline at the end is behind.
        let hair = (b - a) * 1e-9;
        let ends = [rate(a + hair)?, rate(f64::midpoint(a, b))?, rate(b - hair)?];
        add(&mut total, &simpson(&rate, (a, b), ends, accuracy, 0, &mut halvings_left)?);
    }
    Some(Contents { inside: total[0], outside: total[1], first: (total[2], total[3]) })
}

/// Where the run is cut into stretches: its ends, and where a side of the outline or a piece of the
/// centreline begins.
fn places_of(shell: &HalfShell) -> Vec<f64> {
    let (start, end) = shell.profile.run();
    let mut places = vec![start, end];
    let sides = &shell.profile.sides.sides;
    if let Some(line) = &shell.profile.centreline {
        places.extend(line.starts());
        // A profile given inside has the metal of its closed ends beyond the line's own.
        for (edge, at) in [(CENTRELINE_START, start), (CENTRELINE_END, end)] {
            let frame = frame_at(shell, at);
            let corners =
                sides.iter().filter(|side| side.edge == Some(edge)).map(|side| side.segment.from());
            places.extend(corners.map(|corner| at + (corner - frame.origin).dot(frame.along)));
        }
    } else {
        places.extend(sides.iter().map(|side| side.segment.from().x));
    }
    places.sort_by(f64::total_cmp);
    places.dedup_by(|b, a| *b - *a < SAME_POINT);
    // Of an outline of very many pieces not every one makes a step worth a stretch of its own.
    let last = places.len() - 1;
    let every = places.len().div_ceil(MOST_STRETCHES);
    (0..last).step_by(every).chain([last]).map(|i| places[i]).collect()
}

/// Simpson's rule over a stretch, halved until halving changes the volumes by less than `accuracy`;
/// `ends` are the rates at its start, middle and end, `depth` how often it has been halved. Halved
/// once at least, lest a stretch look even by chance.
fn simpson(
    rate: &dyn Fn(f64) -> Option<Rate>,
    (a, b): (f64, f64),
    ends: [Rate; 3],
    accuracy: f64,
    depth: u32,
    halvings_left: &mut u32,
) -> Option<Rate> {
    let middle = f64::midpoint(a, b);
    let quarters = [rate(f64::midpoint(a, middle))?, rate(f64::midpoint(middle, b))?];
    let mut finer = [0.0; 4];
    let mut miss: f64 = 0.0;
    for i in 0..4 {
        let coarse = (b - a) / 6.0 * (ends[0][i] + 4.0 * ends[1][i] + ends[2][i]);
        finer[i] = (b - a) / 12.0
            * (ends[0][i]
                + 4.0 * quarters[0][i]
                + 2.0 * ends[1][i]
                + 4.0 * quarters[1][i]
                + ends[2][i]);
        if i < 2 {
            miss = miss.max((finer[i] - coarse).abs());
        }
    }
    if depth >= DEEPEST_HALVING || *halvings_left == 0 || (depth > 0 && miss <= accuracy) {
        return Some(finer);
    }
    *halvings_left -= 1;
    let first = simpson(
        rate,
        (a, middle),
        [ends[0], quarters[0], ends[1]],
        accuracy,
        depth + 1,
        halvings_left,
    )?;
    let mut both = simpson(
        rate,
        (middle, b),
        [ends[1], quarters[1], ends[2]],
        accuracy,
        depth + 1,
        halvings_left,
    )?;
    add(&mut both, &first);
    Some(both)
}

fn add(total: &mut Rate, more: &Rate) {
    for (sum, value) in total.iter_mut().zip(more) {
        *sum += value;
    }
}
