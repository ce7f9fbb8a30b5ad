//! The search for an order of strokes: backward from the finished part, asking each time which
//! stroke can have been the last.
//!
//! What bars a stroke is metal that is up already, so that few choices are left near the finished
//! part, and a part that cannot be made shows it there.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap, HashMap};

use super::feasible::{Bench, Obstacle, ToolSpan};
use super::gauge::Gauge;
use super::metal::Metal;
use super::practice::Practice;
use super::setup::Setup;
use super::stroke::{Held, Stroke};
use crate::flat::Flat;
use crate::formed::FoldTree;
use crate::geom::Vec2;
use crate::tolerance::{MOST_BEND_STATES, MOST_BEND_TRIALS};

/// What the search came to.
#[derive(Debug, Clone)]
pub enum Order {
    /// The steps, first to last.
    Found(Vec<Step>),
    /// No order exists: of these strokes, all others aside, none can be made last.
    Stuck(Vec<StuckStroke>),
    /// No search was made, or it was not finished, for this reason.
    NotTried(String),
}

/// A stroke that cannot be made once others are.
#[derive(Debug, Clone, PartialEq)]
pub struct StuckStroke {
    /// The stroke.
    pub stroke: usize,
    /// What is in its way.
    pub obstacle: Obstacle,
}

/// One step: a stroke with everything the builder sets.
#[derive(Debug, Clone)]
pub struct Step {
    /// The stroke.
    pub stroke: usize,
    /// Which side lies at the back.
    pub held: Held,
    /// The strokes made before it.
    pub before: Vec<usize>,
    /// Whether the sheet's upper face faces up.
    pub upper_up: bool,
    /// Whether the sheet is turned over before it.
    pub turn_over: bool,
    /// By how much it is turned in its plane before it, degrees, if it is not turned over.
    pub turned: f64,
    /// What rests against the back gauge; none where no edge lies square to it.
    pub gauge: Option<Gauge>,
    /// Where the tools stand.
    pub span: ToolSpan,
    /// To which fraction of the angle the tools bend.
    pub last: f64,
}

/// What handling costs; only which is dearer than which matters.
mod cost {
    /// Turning the sheet over.
    pub(super) const TURN_OVER: u64 = 20_000;
    /// Bending by the mark, with no edge against the gauge.
    pub(super) const BY_MARK: u64 = 6_000;
    /// Having more of the part where the operator does not hold it.
    pub(super) const HEAVY_SIDE: u64 = 600;
    /// Drawing the gauge's finger back while the sheet is held.
    pub(super) const DRAW_BACK: u64 = 400;
    /// Turning the sheet in its plane.
    pub(super) const TURN: u64 = 200;
    /// Making a stroke after one that stands nearer to the first face, or is shorter: returns come
    /// early, short ends last.
    pub(super) const LATE: u64 = 1;
}

/// A stroke and the side that lies at the back.
type Choice = (usize, Held);

struct Search<'a> {
    bench: Bench<'a>,
    /// For each set of strokes made, which of them can have been the last, and what that one costs.
    choices: HashMap<u64, Vec<(Choice, u64)>>,
    /// The strokes of joggles that are pressed in a block before all others.
    pressed: u64,
    trials: usize,
    /// Of the states from which no stroke can be taken back, the one with the fewest strokes.
    stuck: Option<(u64, Vec<StuckStroke>)>,
    /// Area of the blank on the child's side of each stroke, and in all, mm².
    areas: (Vec<f64>, f64),
    /// Of each stroke how many bends lie between it and the first face, and its length, mm.
    places: Vec<(usize, f64)>,
}

/// Finds an order with the fewest turn-overs, then the least handling.
pub(super) fn find_order(
    tree: &FoldTree,
    metal: &Metal,
    flat: &Flat,
    strokes: &[Stroke],
    setup: &Setup,
    practice: &[Practice],
) -> Order {
    let bench = Bench::new(tree, flat, metal, strokes, setup, practice);
    let area = |face: usize| tree.faces[face].outline.area();
    let beyond = |s: usize| {
        (0..tree.faces.len()).filter(|face| bench.is_beyond(s, *face)).map(area).sum::<f64>()
    };
    let areas = ((0..strokes.len()).map(beyond).collect(), (0..tree.faces.len()).map(area).sum());
    let place = |stroke: &Stroke| {
        (tree.way_to(tree.bends[stroke.first()].parent).len(), stroke.extent[1] - stroke.extent[0])
    };
    let places = strokes.iter().map(place).collect();
    let in_block = |stroke: &Stroke| stroke.bends.iter().any(|bend| practice[*bend].in_block);
    let pressed =
        (0..strokes.len()).filter(|s| in_block(&strokes[*s])).fold(0_u64, |bits, s| bits | 1 << s);
    Search { bench, choices: HashMap::new(), pressed, trials: 0, stuck: None, areas, places }.run()
}

/// A state of the search, by the cost so far and what is still to come at least; of equal ones the
/// farther, then the earlier.
type Open = Reverse<(u64, u32, usize)>;

struct Node {
    made: u64,
    /// The stroke made after this state.
    next: Option<Choice>,
    cost: u64,
    parent: usize,
}

impl Search<'_> {
    fn run(mut self) -> Order {
        let count = self.bench.strokes.len();
        let all = if count >= 64 { u64::MAX } else { (1 << count) - 1 };
        let mut nodes = vec![Node { made: all, next: None, cost: 0, parent: 0 }];
        let mut open: BinaryHeap<Open> = BinaryHeap::from([Reverse((0, all.count_ones(), 0))]);
        let mut best: BTreeMap<(u64, Option<Choice>), u64> = BTreeMap::new();
        while let Some(Reverse((_, _, at))) = open.pop() {
            let (made, next, so_far) = (nodes[at].made, nodes[at].next, nodes[at].cost);
            if made == self.pressed {
                return self.steps(&nodes, at);
            }
            if best.get(&(made, next)).is_some_and(|known| *known < so_far) {
                continue;
            }
            if nodes.len() > MOST_BEND_STATES || self.trials > MOST_BEND_TRIALS {
                return Order::NotTried(format!(
                    "the search was given up after {} states of the part",
                    nodes.len()
                ));
            }
            for (choice, own) in self.last_ones(made) {
                let before = made & !(1 << choice.0);
                let cost = so_far + own + next.map_or(0, |next| self.handling(choice, next));
                let key = (before, Some(choice));
                if best.get(&key).is_none_or(|known| cost < *known) {
                    best.insert(key, cost);
                    nodes.push(Node { made: before, next: Some(choice), cost, parent: at });
                    open.push(Reverse((
                        cost + self.at_least(before, choice),
                        before.count_ones(),
                        nodes.len() - 1,
                    )));
                }
            }
        }
        Order::Stuck(self.stuck.take().map(|(_, strokes)| strokes).unwrap_or_default())
    }

    /// The choices for the stroke made last of `made`: those nearest to the first face and short
    /// ones first, so that returns come early.
    fn last_ones(&mut self, made: u64) -> Vec<(Choice, u64)> {
        if let Some(known) = self.choices.get(&made) {
            return known.clone();
        }
        let bench = &self.bench;
        let open = made & !self.pressed;
        let mut strokes: Vec<usize> =
            (0..bench.strokes.len()).filter(|s| open & (1 << s) != 0).collect();
        strokes.sort_by(|a, b| {
            self.places[*a]
                .0
                .cmp(&self.places[*b].0)
                .then(self.places[*a].1.total_cmp(&self.places[*b].1))
        });
        let mut stuck = Vec::new();
        let mut choices = Vec::new();
        for s in strokes {
            let mut obstacle = None;
            let before = choices.len();
            for held in Held::BOTH {
                match self.trial((s, held), made & !(1 << s)) {
                    Ok(cost) => choices.push(((s, held), cost)),
                    Err(why) => obstacle = Some(why),
                }
            }
            if let (true, Some(obstacle)) = (choices.len() == before, obstacle) {
                stuck.push(StuckStroke { stroke: s, obstacle });
            }
        }
        let is_smallest =
            self.stuck.as_ref().is_none_or(|(known, _)| made.count_ones() < known.count_ones());
        if choices.is_empty() && is_smallest {
            self.stuck = Some((made, stuck));
        }
        self.choices.insert(made, choices.clone());
        choices
    }

    /// What a choice costs by itself, if it can be made when the strokes in `before` have been.
    fn trial(&mut self, choice: Choice, before: u64) -> Result<u64, Obstacle> {
        self.trials += 1;
        self.bench.try_stroke(choice.0, choice.1, before)?;
        // A leaf brake is set by its sight line anyhow.
        let is_press = self.bench.setup.die.is_some();
        let gauge = if is_press { self.bench.gauge(choice.0, choice.1, before) } else { None };
        let by_mark = is_press && gauge.is_none();
        let drawn_back = gauge.is_some_and(|gauge| gauge.drawn_back);
        let beyond = self.areas.0[choice.0];
        let at_back = if choice.1 == Held::Child { beyond } else { self.areas.1 - beyond };
        // A press brake's operator holds the front; a leaf brake holds the back itself.
        let held_well = if self.bench.setup.die.is_some() {
            at_back <= self.areas.1 / 2.0
        } else {
            at_back >= self.areas.1 / 2.0
        };
        let own = self.places[choice.0];
        let is_later = |s: &usize| {
            let place = self.places[*s];
            before & (1 << s) != 0
                && (place.0 < own.0 || (place.0 == own.0 && place.1 < own.1 - 1.0))
        };
        let late = (0..self.places.len()).filter(is_later).count() as u64;
        let gauging = u64::from(by_mark) * cost::BY_MARK + u64::from(drawn_back) * cost::DRAW_BACK;
        Ok(gauging + u64::from(!held_well) * cost::HEAVY_SIDE + late * cost::LATE)
    }

    fn turns_up(&self, s: usize) -> bool {
        self.bench.tree.bends[self.bench.strokes[s].first()].angle > 0.0
    }

    /// What lies to the back, in the blank.
    fn back(&self, choice: Choice) -> Vec2 {
        self.bench.strokes[choice.0].back(self.bench.tree, choice.1)
    }

    /// What it costs to bring the part from one stroke to the next.
    fn handling(&self, from: Choice, to: Choice) -> u64 {
        if self.turns_up(from.0) != self.turns_up(to.0) {
            return cost::TURN_OVER;
        }
        if self.back(from).dot(self.back(to)) < SAME_WAY { cost::TURN } else { 0 }
    }

    /// What is still to come at least when the strokes in `made` are made before `next`.
    fn at_least(&self, made: u64, next: Choice) -> u64 {
        let up = self.turns_up(next.0);
        let made = made & !self.pressed;
        let others =
            (0..self.bench.strokes.len()).any(|s| made & (1 << s) != 0 && self.turns_up(s) != up);
        u64::from(others) * cost::TURN_OVER
    }

    fn steps(mut self, nodes: &[Node], last: usize) -> Order {
        let mut steps: Vec<Step> = Vec::new();
        let mut at = last;
        while let Some(choice) = nodes[at].next {
            let (made, (s, held)) = (nodes[at].made, choice);
            let (Ok(span), Ok(last)) =
                (self.bench.try_stroke(s, held, made), self.bench.first_hit(s))
            else {
                return Order::NotTried(
                    "looked at again, one of its steps could not be made; please report this part"
                        .to_owned(),
                );
            };
            let upper_up = self.turns_up(s);
            let before: Option<(&Step, Vec2)> = steps.last().map(|step| {
                (step, self.bench.strokes[step.stroke].back(self.bench.tree, step.held))
            });
            let turn_over = before.as_ref().is_some_and(|(step, _)| step.upper_up != upper_up);
            let turned = before.map_or(0.0, |(_, was)| {
                let is = self.back(choice);
                was.cross(is).atan2(was.dot(is)).to_degrees()
            });
            let gauge = self.bench.gauge(s, held, made);
            let pressed = (0..self.bench.strokes.len()).filter(|s| self.pressed & (1 << s) != 0);
            let before: Vec<usize> = pressed.chain(steps.iter().map(|step| step.stroke)).collect();
            let turned = if turn_over { 0.0 } else { turned };
            steps.push(Step {
                stroke: s,
                held,
                before,
                upper_up,
                turn_over,
                turned,
                gauge,
                span,
                last,
            });
            at = nodes[at].parent;
        }
        Order::Found(steps)
    }
}

/// Cosine over which two directions are one: within half a degree.
const SAME_WAY: f64 = 0.999_96;
