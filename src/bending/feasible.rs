//! Whether a stroke can be made when certain others have been.
//!
//! Where a limb stands in the brake hangs only on the bends between it and the stroke, so what is
//! found of a limb is kept by the state of those alone.

use std::collections::HashMap;

use super::clash::{share_room, stretch_in};
use super::fingers::choose_fingers;
use super::gauge::Gauges;
use super::metal::Metal;
use super::practice::Practice;
use super::setup::Setup;
use super::stroke::{Held, Stroke};
use super::tooling::{Body, Carried, hem_bodies};
use crate::flat::Flat;
use crate::formed::{FoldTree, Folding, SpaceTriangle};
use crate::geom::space::{Pose, SpaceBox, cross, length, minus, times};
use crate::part::BrakeKind;

/// Why a stroke cannot be made.
#[derive(Debug, Clone, PartialEq)]
pub enum Obstacle {
    /// The tools do not reach its angle with springback; both in degrees.
    Angle {
        /// What has to be set.
        needed: f64,
        /// What they reach.
        reach: f64,
    },
    /// A face runs into a part of the brake.
    Runs {
        /// The face.
        face: usize,
        /// The part of the brake.
        body: &'static str,
    },
    /// Faces leave no room for a tool that is long enough.
    Room {
        /// The face that takes most of the room.
        face: usize,
        /// The tool.
        body: &'static str,
        /// The length that is left, mm.
        left: f64,
        /// The least that will do, mm.
        needed: f64,
    },
    /// A stretch of the bend is longer than the tools may leave free.
    Free {
        /// The face that keeps the tool off most of it.
        face: usize,
        /// The tool.
        body: &'static str,
        /// The stretch, mm.
        free: f64,
        /// The longest that may be left free, mm.
        most: f64,
    },
    /// No set of the shop's fingers is as wide as it must be and fits the room.
    Fingers {
        /// The room, mm; endless where nothing is in the way.
        room: f64,
        /// The least width that will do, mm.
        needed: f64,
    },
    /// One face runs into another.
    Itself {
        /// Both.
        faces: [usize; 2],
    },
}

/// Where tools stand along a bend, mm from the middle of its line, and the room there is for them.
#[derive(Debug, Clone, PartialEq)]
pub struct ToolSpan {
    /// From where to where they cover the bend; more than one stretch where metal stands between.
    pub covers: Vec<[f64; 2]>,
    /// The widths of the fingers that do it, if the shop's are known.
    pub fingers: Option<Vec<f64>>,
}

/// What a limb does in a stroke.
#[derive(Debug, Clone, Default)]
struct Touch {
    /// Stretches of the bend that it bars to sectioned tools, and which.
    bars: Vec<([f64; 2], &'static str)>,
    /// The part of the machine that it runs into.
    runs: Option<&'static str>,
}

/// The share of a bend that tools must cover at least, whatever is left free at its ends: common
/// practice.
const LEAST_COVER: f64 = 0.5;

/// The first hit of a hem goes so far, degrees, if the tools reach it: common practice.
const FIRST_HIT: f64 = 140.0;
/// With less in the first hit a hem cannot be pressed shut: common practice.
const LEAST_FIRST_HIT: f64 = 110.0;

/// A part in its brake.
pub(super) struct Bench<'a> {
    pub(super) tree: &'a FoldTree,
    pub(super) flat: &'a Flat,
    pub(super) metal: &'a Metal,
    pub(super) strokes: &'a [Stroke],
    pub(super) setup: &'a Setup,
    pub(super) practice: &'a [Practice],
    /// For each bend its stroke.
    stroke_of: Vec<usize>,
    /// From each face to each the strokes on the way and that of the latter's own bend, as bits.
    ways: Vec<Vec<u64>>,
    is_symmetric: bool,
    /// How deep a nose stands on the sheet, mm: no gauge finds an edge under it.
    pub(super) deepest: f64,
    touches: HashMap<(usize, Held, usize, u64), Touch>,
    meetings: HashMap<(usize, usize, usize, u64), bool>,
    pub(super) gauges: Gauges,
}

impl<'a> Bench<'a> {
    pub(super) fn new(
        tree: &'a FoldTree,
        flat: &'a Flat,
        metal: &'a Metal,
        strokes: &'a [Stroke],
        setup: &'a Setup,
        practice: &'a [Practice],
    ) -> Self {
        let stroke_of: Vec<usize> = (0..tree.bends.len())
            .filter_map(|bend| strokes.iter().position(|stroke| stroke.bends.contains(&bend)))
            .collect();
        let way = |from: usize, to: usize| {
            let bends = metal.between(tree, from, to);
            (0..tree.bends.len())
                .filter(|bend| bends & (1 << bend) != 0)
                .fold(0_u64, |bits, bend| bits | 1 << stroke_of[bend])
        };
        let ways = (0..tree.faces.len())
            .map(|from| (0..tree.faces.len()).map(|to| way(from, to)).collect())
            .collect();
        Self {
            tree,
            flat,
            metal,
            strokes,
            setup,
            practice,
            stroke_of,
            ways,
            is_symmetric: setup.kind == BrakeKind::Press
                && setup.bodies.iter().all(Body::is_symmetric),
            deepest: if setup.kind == BrakeKind::Press {
                0.0
            } else {
                let clamps = setup
                    .bodies
                    .iter()
                    .filter(|body| body.carried == Carried::Inside)
                    .flat_map(|body| &body.outline);
                clamps.filter(|p| p.y < 1.0).map(|p| p.x).fold(0.0, f64::max)
            },
            touches: HashMap::new(),
            meetings: HashMap::new(),
            gauges: Gauges::default(),
        }
    }

    /// Whether stroke `s` can be made when the strokes in `made` have been, with that side at the
    /// back; where the tools then stand.
    pub(super) fn try_stroke(
        &mut self,
        s: usize,
        held: Held,
        made: u64,
    ) -> Result<ToolSpan, Obstacle> {
        self.first_hit(s)?;
        let mut bars: Vec<([f64; 2], usize, &'static str)> = Vec::new();
        for face in 0..self.tree.faces.len() {
            let touch = self.touch(s, held, face, made);
            if let Some(body) = touch.runs {
                return Err(Obstacle::Runs { face, body });
            }
            bars.extend(touch.bars.iter().map(|(stretch, body)| (*stretch, face, *body)));
        }
        let span = self.cover(s, held, bars)?;
        match self.runs_into_itself(s, made) {
            Some(faces) => Err(Obstacle::Itself { faces }),
            None => Ok(span),
        }
    }

    /// The fraction of the angle to which the tools bend, a little beyond 1 for springback; of a
    /// hem the first hit.
    pub(super) fn first_hit(&self, s: usize) -> Result<f64, Obstacle> {
        let bend = self.strokes[s].first();
        let (practice, angle) = (&self.practice[bend], self.flat.bends[bend].angle.degrees());
        let reach = self.setup.reach.degrees();
        if practice.is_hem {
            let first = reach.min(FIRST_HIT);
            if first < LEAST_FIRST_HIT {
                return Err(Obstacle::Angle { needed: LEAST_FIRST_HIT, reach });
            }
            return Ok(first / angle);
        }
        let needed = practice.set.map_or(angle, |set| set.value.degrees());
        if needed > reach + 1e-9 {
            Err(Obstacle::Angle { needed, reach })
        } else {
            Ok(needed / angle)
        }
    }

    /// The strokes on the way between two faces, and that of `to`'s own bend, without `s`, as bits
    /// of strokes.
    pub(super) fn way(&self, s: usize, from: usize, to: usize) -> u64 {
        self.ways[from][to] & !(1 << s)
    }

    /// The part folded, the strokes in `made` whole, stroke `s` by `fraction`.
    pub(super) fn fold(&self, s: usize, made: u64, fraction: f64) -> Folding<'a> {
        let of = |bend: usize| match self.stroke_of[bend] {
            stroke if stroke == s => fraction,
            stroke => f64::from(u8::from(made & (1 << stroke) != 0)),
        };
        self.tree.fold(&(0..self.tree.bends.len()).map(of).collect::<Vec<_>>())
    }

    /// Whether a face lies beyond stroke `s`.
    pub(super) fn is_beyond(&self, s: usize, face: usize) -> bool {
        self.strokes[s].bends.iter().any(|bend| self.metal.is_beyond(*bend, face))
    }

    /// The side of stroke `s` that a face is on, as the face next to the stroke there.
    pub(super) fn base(&self, s: usize, face: usize) -> usize {
        let bends = &self.strokes[s].bends;
        let beyond = bends.iter().find(|bend| self.metal.is_beyond(**bend, face));
        beyond.map_or(self.tree.bends[bends[0]].parent, |bend| self.tree.bends[*bend].child)
    }

    fn touch(&mut self, s: usize, held: Held, face: usize, made: u64) -> &Touch {
        // Turned about the upright, symmetric tools see the same with left and right exchanged.
        let state = made & self.way(s, self.base(s, face), face);
        let key = (s, held, face, state);
        if !self.touches.contains_key(&key) {
            let other = if held == Held::Parent { Held::Child } else { Held::Parent };
            let known = self.touches.get(&(s, other, face, state)).filter(|_| self.is_symmetric);
            let touch = match known {
                Some(touch) => Touch {
                    bars: touch
                        .bars
                        .iter()
                        .map(|([from, to], body)| ([-to, -from], *body))
                        .collect(),
                    runs: touch.runs,
                },
                None => self.touch_of(s, held, face, state),
            };
            self.touches.insert(key, touch);
        }
        &self.touches[&key]
    }

    fn touch_of(&self, s: usize, held: Held, face: usize, made: u64) -> Touch {
        /// How far metal may go between two looks, mm: half the width of the slimmest tool.
        const STEP: f64 = 6.0;
        const LOOKS: (f64, f64) = (4.0, 16.0);
        let mut touch = Touch::default();
        let Ok(last) = self.first_hit(s) else { return touch };
        let stroke = &self.strokes[s];
        let alone = self.tree.faces[face].bend.is_some_and(|bend| stroke.bends.contains(&bend));
        let swing = self.tree.bends[stroke.first()].angle.abs() * last;
        let reach = {
            let folding = self.fold(s, made, 0.0);
            let stand = stroke.stand(self.flat, self.setup, &folding, held, Carried::Inside);
            let surface = self.metal.limb(&folding, face, &stand, alone);
            surface.iter().flatten().map(|p| p[1].hypot(p[2])).fold(0.0, f64::max)
        };
        let looks = (reach * swing / 2.0 / STEP).ceil().clamp(LOOKS.0, LOOKS.1);
        let mut k = 0.0;
        while k <= looks && touch.runs.is_none() {
            let folding = self.fold(s, made, last * k / looks);
            self.look(&mut touch, stroke, &folding, held, (face, alone));
            k += 1.0;
        }
        if self.practice[stroke.first()].is_hem && touch.runs.is_none() {
            let folding = self.fold(s, made, 1.0);
            let surface = self.metal.limb(&folding, face, &stroke.lie(self.flat, &folding), alone);
            for body in self.bars(s) {
                note(&mut touch, &surface, &body);
            }
        }
        touch
    }

    /// Notes what a limb runs into in one place of the swing.
    fn look(
        &self,
        touch: &mut Touch,
        stroke: &Stroke,
        folding: &Folding,
        held: Held,
        (face, alone): (usize, bool),
    ) {
        let surface = |carried| -> Vec<SpaceTriangle> {
            self.metal.limb(
                folding,
                face,
                &stroke.stand(self.flat, self.setup, folding, held, carried),
                alone,
            )
        };
        let still = surface(Carried::Inside);
        let leaf =
            if self.setup.kind == BrakeKind::Press { Vec::new() } else { surface(Carried::Leaf) };
        let rise = self.setup.die.as_ref().map(|die| {
            stroke.die_rise(self.tree, folding.fractions[stroke.first()], die.opening.mm())
        });
        for body in &self.setup.bodies {
            match (body.carried, rise) {
                (Carried::Leaf, _) => note(touch, &leaf, body),
                (Carried::Outside, Some(rise)) => note(touch, &still, &body.raised(rise)),
                _ => note(touch, &still, body),
            }
        }
    }

    /// The bars that press a hem shut, and the machine over them.
    fn bars(&self, s: usize) -> Vec<Body> {
        let bend = &self.tree.bends[self.strokes[s].first()];
        let reach = self.practice[self.strokes[s].first()].reach[1];
        hem_bodies(
            bend.inside_radius,
            self.tree.thickness,
            reach,
            self.setup.kind != BrakeKind::Leaf,
        )
    }

    /// Where tools stand so that they cover the bend as far as they must.
    fn cover(
        &self,
        s: usize,
        held: Held,
        mut bars: Vec<([f64; 2], usize, &'static str)>,
    ) -> Result<ToolSpan, Obstacle> {
        let [from, to] = self.extent_in_brake(s, held);
        let length = to - from;
        let most = self.setup.uncovered;
        bars.sort_by(|a, b| a.0[0].total_cmp(&b.0[0]));
        let mut free: Vec<[f64; 2]> = Vec::new();
        // The longest stretch that is barred, with who bars most of it, and the same of the stretch
        // in hand.
        let (mut at, mut worst, mut own) = (from, (0.0, None), (0.0, None));
        let mut barred = 0.0;
        let (mut room_from, mut room_to) = (f64::NEG_INFINITY, f64::INFINITY);
        let mut gap = [f64::INFINITY, f64::NEG_INFINITY];
        let middle = f64::midpoint(from, to);
        for ([low, high], face, body) in bars {
            if high < middle {
                room_from = room_from.max(high);
            } else if low > middle {
                room_to = room_to.min(low);
            }
            let (low, high) = (low.max(from), high.min(to));
            if high <= low {
                continue;
            }
            if low > at {
                free.push([at, low]);
            }
            if low > gap[1] {
                (gap, own) = ([low, high], (0.0, None));
            }
            gap[1] = gap[1].max(high);
            barred += (high - low.max(at)).max(0.0);
            at = at.max(high);
            if high - low > own.0 {
                own = (high - low, Some((face, body)));
            }
            if gap[1] - gap[0] > worst.0 {
                worst = (gap[1] - gap[0], own.1);
            }
        }
        if at < to {
            free.push([at, to]);
        }
        let left = length - barred;
        if let Some((face, body)) = worst.1 {
            let needed = LEAST_COVER * length;
            if left < needed {
                return Err(Obstacle::Room { face, body, left, needed });
            }
            if worst.0 > most + 1e-9 {
                return Err(Obstacle::Free { face, body, free: worst.0, most });
            }
        }
        let fingers = match (self.setup.kind, free.as_slice()) {
            (BrakeKind::Pan, [[a, b]]) if !self.setup.fingers.is_empty() => {
                let widths: Vec<f64> = self.setup.fingers.iter().map(|width| width.mm()).collect();
                let ends = [a - from, to - b].map(|free| if free > 1e-9 { 0.0 } else { most });
                let needed = (b - a - (ends[0] + ends[1])).max(LEAST_COVER * length);
                let chosen = choose_fingers(&widths, needed, b - a, room_to - room_from);
                let Some(chosen) = chosen else {
                    return Err(Obstacle::Fingers { room: room_to - room_from, needed });
                };
                Some(chosen)
            }
            _ => None,
        };
        Ok(ToolSpan { covers: free, fingers })
    }

    /// The stroke's metal along x in the brake.
    fn extent_in_brake(&self, s: usize, held: Held) -> [f64; 2] {
        let stroke = &self.strokes[s];
        let bend = &self.tree.bends[stroke.first()];
        let line = self.flat.bends[stroke.first()].line;
        // x runs along back x up; the stroke's extent along its line.
        let back = stroke.back(self.tree, held);
        let x = if bend.angle > 0.0 {
            crate::geom::Vec2::new(back.y, -back.x)
        } else {
            crate::geom::Vec2::new(-back.y, back.x)
        };
        let [low, high] = stroke.extent;
        if x.dot(line[1] - line[0]) > 0.0 { [low, high] } else { [-high, -low] }
    }

    /// Two faces on either side of the stroke that run into each other while it is made.
    fn runs_into_itself(&mut self, s: usize, made: u64) -> Option<[usize; 2]> {
        let count = self.tree.faces.len();
        let (beyond, before): (Vec<usize>, Vec<usize>) =
            (0..count).partition(|face| self.is_beyond(s, *face));
        let pairs = beyond.iter().flat_map(|a| before.iter().map(move |b| [*b, *a]));
        for [a, b] in pairs {
            let is_next = self.strokes[s].bends.iter().any(|bend| {
                [self.tree.bends[*bend].parent, self.tree.bends[*bend].child] == [a, b]
            });
            if is_next {
                continue;
            }
            let state = made & (self.way(s, a, b) | self.way(s, b, a));
            let key = (s, a, b, state);
            let meets = match self.meetings.get(&key) {
                Some(meets) => *meets,
                None => {
                    let meets = self.meet(s, a, b, state);
                    self.meetings.insert(key, meets);
                    meets
                }
            };
            if meets {
                return Some([a, b]);
            }
        }
        None
    }

    /// Whether limbs `a` and `b` run into each other in stroke `s`: looked at ever closer where
    /// they may.
    fn meet(&self, s: usize, a: usize, b: usize, made: u64) -> bool {
        /// The shortest part of the swing that is halved.
        const FINEST: f64 = 1.0 / 40.0;
        let stroke = &self.strokes[s];
        let bend = &self.tree.bends[stroke.first()];
        let alone = |face: usize| {
            self.tree.faces[face].bend.is_some_and(|bend| stroke.bends.contains(&bend))
        };
        // One of the two in its own flat place, where it is thin, and the other as seen from there.
        let seen = |fraction: f64, base: usize, face: usize| {
            let folding = self.fold(s, made, fraction);
            let stand: Pose = folding.poses[base].undone();
            self.metal.limb(&folding, face, &stand, alone(face))
        };
        let still = [a, b].map(|face| seen(0.0, face, face));
        let boxes = still.each_ref().map(|surface| SpaceBox::about(surface.iter().flatten()));
        let look = |fraction: f64| {
            let moved = seen(fraction, a, b);
            let gap = boxes[0].gap(&SpaceBox::about(moved.iter().flatten()));
            let gap =
                gap.max(boxes[1].gap(&SpaceBox::about(seen(fraction, b, a).iter().flatten())));
            (gap, moved)
        };
        let meets =
            |(gap, moved): &(f64, Vec<SpaceTriangle>)| *gap <= 0.0 && share_room(&still[0], moved);
        if [0.0, 1.0].into_iter().any(|fraction| meets(&look(fraction))) {
            return true;
        }
        let speed = self.farthest(s, [a, b], made, &still) * bend.angle.abs();
        let mut open = vec![(0.0, 1.0)];
        while let Some((from, to)) = open.pop() {
            let middle = f64::midpoint(from, to);
            let now = look(middle);
            if now.0 > speed * (to - from) / 2.0 {
                continue;
            }
            if meets(&now) {
                return true;
            }
            if to - from > FINEST && speed * (to - from) / 2.0 > self.tree.thickness / 2.0 {
                open.extend([(from, middle), (middle, to)]);
            }
        }
        false
    }

    /// How far from the stroke's line the two limbs reach, mm; each in its own flat place.
    fn farthest(
        &self,
        s: usize,
        faces: [usize; 2],
        made: u64,
        still: &[Vec<SpaceTriangle>; 2],
    ) -> f64 {
        let bend = &self.tree.bends[self.strokes[s].first()];
        let folding = self.fold(s, made, 0.0);
        let [p, q] = bend.parent_line.map(|p| folding.poses[bend.parent].at([p.x, p.y, 0.0]));
        let along = minus(q, p);
        let along = times(along, 1.0 / length(along).max(f64::MIN_POSITIVE));
        let far = |i: usize| {
            let back = folding.poses[faces[i]];
            let points = still[i].iter().flatten().map(|corner| minus(back.at(*corner), p));
            points.map(|v| length(cross(v, along))).fold(0.0, f64::max)
        };
        far(0).max(far(1))
    }
}

/// Notes where a limb bars a sectioned tool, or that it runs into the machine.
fn note(touch: &mut Touch, surface: &[SpaceTriangle], body: &Body) {
    let Some(stretch) = stretch_in(surface, body) else { return };
    if !body.sectioned {
        touch.runs.get_or_insert(body.name);
        return;
    }
    match touch.bars.iter_mut().find(|(_, name)| *name == body.name) {
        Some((known, _)) => *known = [known[0].min(stretch[0]), known[1].max(stretch[1])],
        None => touch.bars.push((stretch, body.name)),
    }
}
