//! What each bend asks of the brake: force, the radius that comes out, the angle to set, the metal
//! that lies over the die.

use super::setup::Setup;
use crate::flat::{Flat, FlatBend};
use crate::formed::{FoldTree, developed};
use crate::geom::Point;
use crate::part::{BrakeKind, JoggleBend, Part};
use crate::shop::brake::{BendingForce, air_bend_radius, bending_force, least_leaf_leg, least_leg};
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
    /// The angle to bend to so that springback leaves the one wanted; a range where the yield
    /// strength is one. None for hems and for what is pressed in a block.
    pub set: Option<ByYield<Angle>>,
    /// The force of a press brake, for the greatest strength that the material may have.
    pub force: Option<BendingForce>,
    /// The radius over the die, where the shop has dies.
    pub air: Option<AirBend>,
    /// Whether it is half of a joggle too narrow for the brake's tools, which is pressed in a block
    /// of its own.
    pub in_block: bool,
    /// How far the metal reaches to either side of the bend's line, to the outside mould line: the
    /// parent's, the child's, mm.
    pub reach: [f64; 2],
}

/// What each bend of a part asks for.
pub(super) fn practice_of(
    part: &Part,
    flat: &Flat,
    tree: &FoldTree,
    setup: &Setup,
) -> Vec<Practice> {
    let reaches = reaches(flat, tree);
    let blocks = blocked(part, flat, tree, setup, &reaches);
    flat.bends
        .iter()
        .zip(reaches)
        .zip(blocks)
        .map(|((bend, reach), in_block)| {
            let is_hem = is_hem(bend);
            let press = (setup.kind == BrakeKind::Press && !is_hem && !in_block)
                .then_some(setup.die.as_ref())
                .flatten();
            let radius = bend.inside_radius;
            Practice {
                is_hem,
                set: if is_hem || in_block {
                    None
                } else {
                    to_be_left_with_by_yield(&part.material, radius, part.thickness, bend.angle)
                        .ok()
                        .map(|tool| ByYield {
                            low: tool.low.bend_angle,
                            value: tool.value.bend_angle,
                            high: tool.high.bend_angle,
                        })
                },
                force: press.and_then(|die| {
                    bending_force(
                        part.material.ultimate_strength.high,
                        part.thickness,
                        bend.length,
                        die.opening,
                    )
                }),
                air: press
                    .filter(|die| die.is_own)
                    .and_then(|die| air_bend(part, bend, die.opening)),
                in_block,
                reach,
            }
        })
        .collect()
}

/// The shortest leg that the brake takes at a bend; none where it has no die to know by.
pub(crate) fn least_leg_at(part: &Part, setup: &Setup, bend: &FlatBend) -> Option<Figure<Length>> {
    match &setup.die {
        Some(die) => Some(least_leg(die.opening)),
        None if setup.kind == BrakeKind::Press => None,
        None => Some(least_leaf_leg(bend.developed.outside_setback, part.thickness)),
    }
}

/// The side of a joggle's bend, parent (0) or child (1), on which its slope lies; none for other
/// bends.
#[must_use]
pub fn slope_side(joggle: Option<JoggleBend>) -> Option<usize> {
    joggle.map(|which| usize::from(which == JoggleBend::First))
}

/// For each bend whether its joggle's slope is too short for the brake.
fn blocked(
    part: &Part,
    flat: &Flat,
    tree: &FoldTree,
    setup: &Setup,
    reaches: &[[f64; 2]],
) -> Vec<bool> {
    let short = |i: usize| {
        slope_side(tree.bends[i].joggle).is_some_and(|side| {
            least_leg_at(part, setup, &flat.bends[i])
                .is_some_and(|least| reaches[i][side] < least.value.mm() - 1e-9)
        })
    };
    // Both bends of a joggle or none.
    let other = |i: usize| match tree.bends[i].joggle {
        Some(JoggleBend::First) => {
            tree.bends.iter().position(|bend| bend.parent == tree.bends[i].child)
        }
        Some(JoggleBend::Second) => tree.faces[tree.bends[i].parent].bend,
        None => None,
    };
    (0..tree.bends.len()).map(|i| short(i) || other(i).is_some_and(short)).collect()
}

/// Whether a bend folds metal back on itself: nothing but a hem turns by half a turn or more.
pub(super) fn is_hem(bend: &FlatBend) -> bool {
    bend.angle.degrees() > 180.0 - 1e-9
}

/// The radius that a die makes of a bend, and what it does to the blank: the deduction of the
/// radius asked for less that of the one made.
pub(super) fn air_bend(part: &Part, bend: &FlatBend, opening: Length) -> Option<AirBend> {
    let radius = air_bend_radius(opening, &part.material)?;
    let (_, made) = developed(part, radius.value, bend.angle, &bend.place).ok()?;
    Some(AirBend { radius, longer: (bend.developed.deduction - made.deduction).mm() })
}

/// For each bend how far parent and child reach, mm: to their edge or to where the next bend
/// begins, from the bend's outside mould line.
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
            // A face wider than the bend may have no corner beside it: its line across the bend's
            // middle is as good.
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

/// The shortest metal beside any bend but hems, mm; of joggles without their slopes unless
/// `with_slopes`.
pub(super) fn shortest_reach(flat: &Flat, with_slopes: bool) -> Option<f64> {
    let tree = flat.tree.as_ref()?;
    let all = flat
        .bends
        .iter()
        .zip(&tree.bends)
        .zip(reaches(flat, tree))
        .filter(|((bend, _), _)| !is_hem(bend));
    let sides = all.flat_map(|((_, joint), reach)| {
        let slope = slope_side(joint.joggle).filter(|_| !with_slopes);
        (0..2).filter(move |side| Some(*side) != slope).map(move |side| reach[side])
    });
    sides.min_by(f64::total_cmp)
}
