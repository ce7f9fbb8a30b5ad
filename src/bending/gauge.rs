//! The back gauge: which edge rests against its finger, and whether the finger is in anybody's way.

use std::collections::HashMap;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::clash::{corners_in_band, stretch_in};
use super::feasible::Bench;
use super::metal::CHORD;
use super::stroke::Held;
use super::tooling::{Body, Carried};
use crate::formed::Folding;
use crate::geom::Point;
use crate::geom::space::Pose;
use crate::part::BrakeKind;

/// The edge that rests against the back gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gauge {
    /// From the middle of the bend to it, in the flat of that step, mm.
    pub distance: f64,
    /// Whose edge or outside it is.
    pub face: usize,
    /// Where it rests, along the bend.
    pub from: f64,
    /// To where.
    pub to: f64,
    /// How high the finger's lower edge stands over the sheet's lower face, mm; negative: under it.
    pub low: f64,
    /// Whether metal swings into the finger while the bend is made, so that it must be drawn back
    /// once the sheet is held.
    pub drawn_back: bool,
}

/// An edge rests against a gauge over at least so much of its length, mm, or half the bend where
/// that is less.
const LEAST_REST: f64 = 20.0;

/// Metal within this of the farthest rests against the gauge with it, mm.
const REST: f64 = 0.05;

/// Metal within this of a finger's upper or lower edge meets that edge, mm.
const EDGE: f64 = 0.2;

/// By how much a finger gives, or the sheet before it, mm: an edge that swings up goes back a
/// little first. Common practice, no source.
const GIVE: f64 = 0.5;

/// In how many places of a stroke the finger is looked at.
const LOOKS: u32 = 10;

/// Finger height (as an index), stroke, side at the back, face, strokes made on the way to it.
type Key = (usize, usize, Held, usize, u64);

/// What of a limb is farthest back at a finger's height.
#[derive(Debug, Clone, Copy)]
struct Rest {
    back: f64,
    /// From where to where along the bend.
    from: f64,
    to: f64,
    /// Whether it meets the finger's face, and not only an edge of it where the metal goes on
    /// farther back over or under the finger.
    is_on_face: bool,
}

/// What has been found of gauges.
#[derive(Default)]
pub(super) struct Gauges {
    /// Where each limb rests.
    rests: HashMap<Key, Option<Rest>>,
    /// Where each limb bars the bend to a finger at that distance (thousandths of a mm).
    bars: HashMap<(Key, i64), Option<[f64; 2]>>,
}

impl Bench<'_> {
    /// What the finger's distance is counted from, behind the stand's y = 0, mm: a leaf brake's y
    /// begins at the tangent line, half the zone behind the bend's middle.
    fn gauge_shift(&self, s: usize) -> f64 {
        if self.setup.kind == BrakeKind::Press {
            0.0
        } else {
            self.tree.bends[self.strokes[s].first()].allowance() / 2.0
        }
    }

    /// The heights that a finger can be set to, its lower edge over the sheet's lower face: on what
    /// the sheet lies on, or, behind the die, half as high as the finger under it.
    fn finger_heights(&self) -> [f64; 2] {
        [0.0, -self.setup.gauge_finger.height / 2.0]
    }

    /// The edge at the back that a gauge finds, the part lying flat at the stroke's line with the
    /// strokes in `made` done.
    pub(super) fn gauge(&mut self, s: usize, held: Held, made: u64) -> Option<Gauge> {
        let mut found: Option<Gauge> = None;
        for height in 0..self.finger_heights().len() {
            let Some(mut gauge) = self.rest(height, s, held, made) else { continue };
            if self.finger_meets_tools(s, &gauge) {
                continue;
            }
            gauge.drawn_back = self.is_swung_into(height, s, held, made, &gauge);
            if !gauge.drawn_back {
                return Some(gauge);
            }
            found = found.or(Some(gauge));
        }
        found
    }

    /// What is farthest back at the height of a finger.
    fn rest(&mut self, height: usize, s: usize, held: Held, made: u64) -> Option<Gauge> {
        let (low, shift) = (self.finger_heights()[height], self.gauge_shift(s));
        let mut best: Option<Gauge> = None;
        let mut is_on_face = false;
        for face in 0..self.tree.faces.len() {
            let state = made & self.way(s, self.base(s, face), face);
            let key = (height, s, held, face, state);
            if !self.gauges.rests.contains_key(&key) {
                let rest = self.rest_of(low, s, held, face, state);
                self.gauges.rests.insert(key, rest);
            }
            let Some(Rest { back, from, to, is_on_face: is_own }) = self.gauges.rests[&key] else {
                continue;
            };
            let distance = back + shift;
            is_on_face = match best {
                Some(best) if distance < best.distance - REST => is_on_face,
                Some(best) if distance < best.distance + REST => is_on_face || is_own,
                _ => is_own,
            };
            best = Some(match best {
                Some(best) if distance < best.distance - REST => best,
                // Of faces that rest together the one that is felt first.
                Some(best) if distance < best.distance + REST => {
                    let (distance, face) = if distance > best.distance {
                        (distance, face)
                    } else {
                        (best.distance, best.face)
                    };
                    Gauge { distance, face, from: best.from.min(from), to: best.to.max(to), ..best }
                }
                _ => Gauge { distance, face, from, to, low, drawn_back: false },
            });
        }
        let [from, to] = self.strokes[s].extent;
        best.filter(|best| {
            is_on_face
                && best.to - best.from >= LEAST_REST.min((to - from) / 2.0)
                && best.distance > self.deepest
        })
    }

    fn rest_of(&self, low: f64, s: usize, held: Held, face: usize, made: u64) -> Option<Rest> {
        let folding = self.fold(s, made, 0.0);
        let stand = self.strokes[s].stand(self.flat, self.setup, &folding, held, Carried::Inside);
        // In its real thickness: the finger feels the skin itself.
        let surface = self.metal.whole_limb(&folding, face, &stand);
        let low = low - self.tree.thickness;
        let high = low + self.setup.gauge_finger.height;
        let corners = corners_in_band(&surface, low, high, 0.0);
        let farthest = corners.iter().map(|p| p[1]).max_by(f64::total_cmp)?;
        // The mesh cuts a bend's round off by its chords.
        let round = self.tree.faces[face]
            .bend
            .and_then(|bend| outermost_of_bend(&folding, bend, &stand, low, high));
        let back = round
            .filter(|round| (farthest..farthest + 1.1 * CHORD).contains(round))
            .unwrap_or(farthest);
        let resting = || corners.iter().filter(|p| p[1] > farthest - REST);
        let range = |axis: usize| {
            resting().map(|p| p[axis]).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
                (low.min(x), high.max(x))
            })
        };
        let ((from, to), (bottom, top)) = (range(0), range(2));
        let is_inside = resting().any(|p| p[2] > low + EDGE && p[2] < high - EDGE);
        Some(Rest {
            back,
            from,
            to,
            is_on_face: is_inside || top - bottom > 0.4 * self.tree.thickness,
        })
    }

    /// How high the face that the sheet lies on stands in the stand's axes at that fraction of a
    /// stroke, mm.
    fn floor(&self, s: usize, fraction: f64) -> f64 {
        match &self.setup.die {
            Some(die) => self.strokes[s].die_rise(self.tree, fraction, die.opening.mm()),
            None => -self.tree.thickness,
        }
    }

    /// A gauge's finger, its height counted from the floor.
    fn finger(&self, s: usize, gauge: &Gauge, give: f64) -> Body {
        let finger = self.setup.gauge_finger;
        let (front, back) = (
            gauge.distance - self.gauge_shift(s) + give,
            gauge.distance - self.gauge_shift(s) + finger.length,
        );
        let (low, high) = (gauge.low, gauge.low + finger.height);
        let outline = [
            (front, low),
            (back.max(front + 1.0), low),
            (back.max(front + 1.0), high),
            (front, high),
        ];
        Body::new("gauge finger", Carried::Outside, true, outline.map(Point::from).to_vec())
    }

    /// Whether a finger stands where a tool or the machine does, before the stroke or in it.
    fn finger_meets_tools(&self, s: usize, gauge: &Gauge) -> bool {
        let Ok(last) = self.first_hit(s) else { return false };
        let finger = self.finger(s, gauge, 0.0);
        [0.0, 0.5, 1.0].into_iter().any(|share| {
            let floor = self.floor(s, last * share);
            self.setup.bodies.iter().filter(|body| body.carried != Carried::Leaf).any(|body| {
                // A leaf brake's tools are drawn from the sheet's upper face, a press's die from
                // its own top.
                let rise = match (body.carried, self.setup.kind) {
                    (Carried::Outside, BrakeKind::Press) => 0.0,
                    _ => -floor,
                };
                body.raised(rise).meets(&finger)
            })
        })
    }

    /// Whether metal swings into the finger wherever it stands along the edge that rests.
    fn is_swung_into(
        &mut self,
        height: usize,
        s: usize,
        held: Held,
        made: u64,
        gauge: &Gauge,
    ) -> bool {
        // What a leaf brake holds lies still.
        if self.setup.kind != BrakeKind::Press {
            return false;
        }
        let mut bars = Vec::new();
        for face in 0..self.tree.faces.len() {
            if self.is_beyond(s, face) != (held == Held::Child) {
                continue;
            }
            let state = made & self.way(s, self.base(s, face), face);
            #[expect(clippy::cast_possible_truncation, reason = "distances stay below 1e8 mm")]
            let key = ((height, s, held, face, state), (gauge.distance * 1000.0).round() as i64);
            if !self.gauges.bars.contains_key(&key) {
                let bar = self.bar_of(s, held, face, state, gauge);
                self.gauges.bars.insert(key, bar);
            }
            bars.extend(self.gauges.bars[&key]);
        }
        bars.sort_by(|a, b| a[0].total_cmp(&b[0]));
        // The finger's middle lies against the edge.
        let half = self.setup.gauge_finger.width / 2.0;
        let mut at = gauge.from;
        for [low, high] in bars {
            if at < low - half {
                break;
            }
            at = at.max(high + half);
        }
        at > gauge.to
    }

    /// The stretch along the bend over which a limb swings into a finger.
    fn bar_of(
        &self,
        s: usize,
        held: Held,
        face: usize,
        made: u64,
        gauge: &Gauge,
    ) -> Option<[f64; 2]> {
        let last = self.first_hit(s).ok()?;
        let finger = self.finger(s, gauge, GIVE);
        let mut bar: Option<[f64; 2]> = None;
        for k in 0..=LOOKS {
            let folding = self.fold(s, made, last * f64::from(k) / f64::from(LOOKS));
            let stand =
                self.strokes[s].stand(self.flat, self.setup, &folding, held, Carried::Inside);
            let surface = self.metal.limb(&folding, face, &stand, false);
            let raised = finger.raised(self.floor(s, folding.fractions[self.strokes[s].first()]));
            if let Some([low, high]) = stretch_in(&surface, &raised) {
                let [from, to] = bar.unwrap_or([low, high]);
                bar = Some([from.min(low), to.max(high)]);
            }
        }
        bar
    }
}

/// How far back the true round of a bend reaches where it turns upright between two heights, mm;
/// none where it does not.
///
/// A skin of the zone lies on a circle, so its place to the back is a + b cos(theta) + c sin(theta)
/// of the angle theta turned so far: three places give a, b and c, and it is farthest where theta =
/// atan2(c, b).
fn outermost_of_bend(
    folding: &Folding,
    bend: usize,
    stand: &Pose,
    low: f64,
    high: f64,
) -> Option<f64> {
    let made = &folding.tree.bends[bend];
    let turned = made.angle.abs() * folding.fractions[bend];
    if turned < 1e-9 {
        return None;
    }
    let from = made.parent_line[0];
    let upright = |skin: f64| {
        let at = |theta: f64| {
            stand.at(folding.in_bend(
                bend,
                from + made.toward * (theta / turned * made.allowance()),
                skin,
            ))
        };
        let back = |theta: f64| at(theta)[1];
        let [y0, y1, y2] = [0.0, FRAC_PI_2, PI].map(back);
        let a = f64::midpoint(y0, y2);
        let theta = (y1 - a).atan2(y0 - a).rem_euclid(TAU);
        let place = at(theta);
        (theta < turned && place[2] > low && place[2] < high).then_some(place[1])
    };
    [0.0, folding.tree.thickness].into_iter().filter_map(upright).max_by(f64::total_cmp)
}
