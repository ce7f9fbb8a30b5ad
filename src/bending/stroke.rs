//! A stroke: the bends that are made at once, and how the part stands in the brake while they are.

use super::setup::Setup;
use super::tooling::Carried;
use crate::flat::Flat;
use crate::formed::{FoldTree, Folding};
use crate::geom::space::{Pose, Space, cross};
use crate::geom::{Point, Vec2};
use crate::part::BrakeKind;

/// Bends that lie in one line on one face and turn alike: one stroke makes them.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// The bends, by index.
    pub bends: Vec<usize>,
    /// From the first end of metal to the last along the line, mm from the middle of the first
    /// bend's line, along its direction.
    pub extent: [f64; 2],
}

/// Which side of a bend lies at the back of the brake, toward the gauge; in a leaf brake that side
/// is the one held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Held {
    /// The parent's side.
    Parent,
    /// The child's side.
    Child,
}

impl Held {
    /// Both.
    pub const BOTH: [Self; 2] = [Self::Parent, Self::Child];
}

/// Angles and radii that differ by less are one, radians and mm; so are lines that lie apart by
/// less.
const ALIKE: f64 = 1e-6;

/// The strokes of a part, in the order of their first bends.
pub(super) fn strokes_of(tree: &FoldTree, flat: &Flat) -> Vec<Stroke> {
    let mut strokes: Vec<Stroke> = Vec::new();
    for (i, bend) in tree.bends.iter().enumerate() {
        let joins = |stroke: &&mut Stroke| {
            let first = &tree.bends[stroke.bends[0]];
            first.parent == bend.parent
                && (first.angle - bend.angle).abs() < ALIKE
                && (first.inside_radius - bend.inside_radius).abs() < ALIKE
                && (first.toward - bend.toward).hypot() < ALIKE
                && first.depth_of(bend.parent_line[0]).abs() < 1e-3
        };
        match strokes.iter_mut().find(joins) {
            Some(stroke) => stroke.bends.push(i),
            None => strokes.push(Stroke { bends: vec![i], extent: [0.0; 2] }),
        }
    }
    for stroke in &mut strokes {
        let first = &flat.bends[stroke.bends[0]].line;
        let (middle, along) = (first[0].midpoint(first[1]), (first[1] - first[0]).normalize());
        let places = stroke
            .bends
            .iter()
            .flat_map(|bend| flat.bends[*bend].line)
            .map(|p| (p - middle).dot(along));
        stroke.extent = places
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], x| [low.min(x), high.max(x)]);
    }
    strokes
}

fn space(v: Vec2) -> Space {
    [v.x, v.y, 0.0]
}

impl Stroke {
    /// The bend that the brake is set up for.
    #[must_use]
    pub fn first(&self) -> usize {
        self.bends[0]
    }

    /// The direction in the blank that lies to the back.
    #[must_use]
    pub fn back(&self, tree: &FoldTree, held: Held) -> Vec2 {
        let toward = tree.bends[self.first()].toward;
        if held == Held::Child { toward } else { -toward }
    }

    /// Out of the blank's own place into the brake's axes, the origin on the inside face at depth
    /// `v` of the zone.
    fn axes(&self, tree: &FoldTree, flat: &Flat, held: Held, v: f64) -> Pose {
        let bend = &tree.bends[self.first()];
        let up = bend.angle > 0.0;
        let back = space(self.back(tree, held));
        let upward = [0.0, 0.0, if up { 1.0 } else { -1.0 }];
        let line = flat.bends[self.first()].line;
        let middle: Point = line[0].midpoint(line[1]) + bend.toward * (v - bend.allowance() / 2.0);
        let origin = [middle.x, middle.y, if up { tree.thickness } else { 0.0 }];
        Pose { axes: [cross(back, upward), back, upward], origin }.undone()
    }

    /// How the blank's own place moves into the axes of what a body is carried by, the part folded
    /// as `folding` with this stroke at `fraction` of its angle.
    ///
    /// A press stands on the middle of the zone, whose inside touches the punch: the part is moved
    /// back by what turns that middle, so both legs swing. In a leaf brake the held side lies
    /// still; a leaf sees the other side lie still.
    pub(super) fn stand(
        &self,
        flat: &Flat,
        setup: &Setup,
        folding: &Folding,
        held: Held,
        carried: Carried,
    ) -> Pose {
        let tree = folding.tree;
        let bend = &tree.bends[self.first()];
        let fraction = folding.fractions[self.first()];
        let still_is_parent = (held == Held::Parent) == (carried != Carried::Leaf);
        let (moved, v) = match setup.kind {
            BrakeKind::Press => {
                let v = bend.allowance() / 2.0;
                (folding.poses[bend.parent].after(&bend.motion(v, fraction, tree.thickness)), v)
            }
            _ if still_is_parent => (folding.poses[bend.parent], 0.0),
            _ => (folding.poses[bend.child], bend.allowance()),
        };
        self.axes(tree, flat, held, v).after(&moved.undone())
    }

    /// As [`Self::stand`] for a hem that is pressed shut: its parent lies still at the back.
    pub(super) fn lie(&self, flat: &Flat, folding: &Folding) -> Pose {
        let bend = &folding.tree.bends[self.first()];
        self.axes(folding.tree, flat, Held::Parent, 0.0).after(&folding.poses[bend.parent].undone())
    }

    /// How high a die's shoulders stand over the punch's tip at `fraction` of the angle, mm.
    ///
    /// The outer skin of the leg at slope a = N f/2 touches a shoulder at V/2: z = R - (R + T -
    /// (V/2) sin a)/cos a, or on the bend itself z = R - sqrt((R + T)² - (V/2)²) where its tangent
    /// point lies beyond the shoulder. R = BA/(N f) - K T is the inside radius at that fraction.
    /// Derived here.
    pub(super) fn die_rise(&self, tree: &FoldTree, fraction: f64, opening: f64) -> f64 {
        let bend = &tree.bends[self.first()];
        let turned = (bend.angle * fraction).abs();
        if turned < 1e-6 {
            return -tree.thickness;
        }
        let radius = bend.allowance() / turned - bend.developed.k_factor * tree.thickness;
        let (sin, cos) = (turned / 2.0).sin_cos();
        let (outside, half) = (radius + tree.thickness, opening / 2.0);
        if outside * sin <= half {
            radius - (outside - half * sin) / cos
        } else {
            radius - (outside.powi(2) - half.powi(2)).sqrt()
        }
    }
}
