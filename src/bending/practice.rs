//! What each bend asks of the brake: force, the radius that comes out, the angle to set, the metal that lies over the die.

use super::setup::Setup;
use crate::flat::{Flat, FlatBend};
use crate::formed::{FoldTree, developed};
use crate::geom::Point;
use crate::part::{BrakeKind, Part};
use crate::shop::brake::{BendingForce, air_bend_radius, bending_force};
use crate::shop::figure::Figure;
use crate::shop::springback::{ByYield, to_be_left_with_by_yield};
use crate::units::{Angle, Length};

/// The radius that a die makes, and what it does to the blank.
#[derive(Debug, Clone, PartialEq)]
pub struct AirBend {
    /// The inside radius that comes out.
    pub radius: Figure<Length>,
    /// How much longer the blank would have to be for it at this bend, mm; negative: shorter.
    pub longer: f64,
}

/// What a bend asks of the brake.
#[derive(Debug, Clone)]
pub struct Practice {
    /// Whether it is a hem, bent in two hits: first as far as the tools reach, then pressed shut.
    pub is_hem: bool,
    /// The angle to bend to so that springback leaves the one wanted; a range where the yield strength is one. None for hems.
    pub set: Option<ByYield<Angle>>,
    /// The force of a press brake, for the greatest strength that the material may have.
    pub force: Option<BendingForce>,
    /// The radius over the die, where the shop has dies.
    pub air: Option<AirBend>,
    /// How far the metal reaches to either side of the bend's line, to the outside mould line: the parent's, the child's, mm.
    pub reach: [f64; 2],
}

/// What each bend of a part asks for.
pub(super) fn practice_of(part: &Part, flat: &Flat, tree: &FoldTree, setup: &Setup) -> Vec<Practice> {
    let reaches = reaches(flat, tree);
    flat.bends
        .iter()
        .zip(reaches)
        .map(|(bend, reach)| {
            let is_hem = is_hem(bend);
            let press = (setup.kind == BrakeKind::Press && !is_hem).then_some(setup.die.as_ref()).flatten();
            let radius = bend.inside_radius;
            Practice {
                is_hem,
                set: if is_hem {
                    None
                } else {
                    to_be_left_with_by_yield(&part.material, radius, part.thickness, bend.angle).ok().map(|tool| ByYield {
                        low: tool.low.bend_angle,
                        value: tool.value.bend_angle,
                        high: tool.high.bend_angle,
                    })
                },
                force: press.and_then(|die| {
                    bending_force(part.material.ultimate_strength.high, part.thickness, bend.length, die.opening)
                }),
                air: press.filter(|die| die.is_own).and_then(|die| air_bend(part, bend, die.opening)),
                reach,
            }
        })
        .collect()
}

/// Whether a bend folds metal back on itself: nothing but a hem turns by half a turn or more.
pub(super) fn is_hem(bend: &FlatBend) -> bool {
    bend.angle.degrees() > 180.0 - 1e-9
}

/// The radius that a die makes of a bend, and what it does to the blank: the deduction of the wished radius less that of the one made.
pub(super) fn air_bend(part: &Part, bend: &FlatBend, opening: Length) -> Option<AirBend> {
    let radius = air_bend_radius(opening, &part.material)?;
    let (_, made) = developed(part, radius.value, bend.angle, &bend.place).ok()?;
    Some(AirBend { radius, longer: (bend.developed.deduction - made.deduction).mm() })
}

/// For each bend how far parent and child reach, mm: to their edge or to where the next bend begins, from the bend's outside mould line.
fn reaches(flat: &Flat, tree: &FoldTree) -> Vec<[f64; 2]> {
    let reach = |(i, bend): (usize, &FlatBend)| {
        let joint = &tree.bends[i];
        let middle = bend.line[0].midpoint(bend.line[1]);
        let along = bend.line[1] - bend.line[0];
        let far = |face: usize, sign: f64| {
            let points = tree.faces[face].outline.flatten(0.1);
            let beside = |p: &&Point| {
                let share = (**p - bend.line[0]).dot(along) / along.hypot2().max(f64::MIN_POSITIVE);
                (-1e-6..=1.0 + 1e-6).contains(&share)
            };
            let depth = |p: &Point| (*p - middle).dot(joint.toward) * sign;
            let own = points.iter().filter(beside).map(depth).fold(f64::NEG_INFINITY, f64::max);
            // A face wider than the bend may have no corner beside it: its line across the bend's middle is as good.
            let across = crossing_depth(&points, middle, joint.toward * sign);
            own.max(across) + bend.developed.deduction.mm() / 2.0
        };
        [far(joint.parent, -1.0), far(joint.child, 1.0)]
    };
    flat.bends.iter().enumerate().map(reach).collect()
}

/// How far a polygon reaches from `from` along the unit vector `toward`.
fn crossing_depth(polygon: &[Point], from: Point, toward: crate::geom::Vec2) -> f64 {
    let place = |p: Point| ((p - from).dot(toward), (p - from).cross(toward));
    let next = polygon.iter().cycle().skip(1);
    let crossings = polygon.iter().zip(next).filter_map(|(a, b)| {
        let ((u0, s0), (u1, s1)) = (place(*a), place(*b));
        (s0 * s1 <= 0.0 && s0 != s1).then(|| u0 + (u1 - u0) * s0 / (s0 - s1))
    });
    crossings.fold(f64::NEG_INFINITY, f64::max)
}

/// The shortest metal beside any bend but hems, mm.
pub(super) fn shortest_reach(flat: &Flat) -> Option<f64> {
    let tree = flat.tree.as_ref()?;
    let all = flat.bends.iter().zip(reaches(flat, tree)).filter(|(bend, _)| !is_hem(bend));
    all.map(|(_, [parent, child])| parent.min(child)).min_by(f64::total_cmp)
}
