//! Takes a `Part` and its `Flat`, gives the `Bending`: tooling, what each
//! bend asks of it, and an order in which the bends can be made.
//!
//! | file | what it knows |
//! |---|---|
//! | `setup` | which brake and die, the outlines of the tools, what was assumed |
//! | `practice` | force, radius over the die, springback, reach of the legs, of each bend |
//! | `metal` | the part as limbs: a face with the zone of its own bend |
//! | `stroke` | bends made at once, and how the part stands in the brake while they are |
//! | `clash` | where metal and tools, or metal and metal, are in one place |
//! | `feasible` | whether a stroke can be made with other strokes made before it |
//! | `tooling` | punches, dies and beams as outlines |
//! | `fingers` | the fingers of a box and pan brake between walls |
//! | `gauge` | which edge rests against the back gauge, and what its finger is in the way of |
//! | `order` | the search for a sequence with the fewest turn-overs |
//! | `marks` | the lines scribed on the blank to set a bend by eye |
//! | `words` | what the builder is told of a step |
//! | `section` | the part cut square to the bend at a step, for pictures |
//!
//! In the brake x runs along the bend, y to the back, z up.
#![doc = include_str!("METHOD.md")]

mod clash;
mod feasible;
mod fingers;
mod gauge;
mod marks;
mod metal;
mod order;
mod practice;
mod section;
mod setup;
mod stroke;
mod tooling;
mod words;

use crate::flat::Flat;
use crate::part::{Assumed, BrakeKind, Part};

pub use feasible::{Obstacle, ToolSpan};
pub use gauge::Gauge;
pub use marks::fold_marks;
pub use metal::Metal;
pub use order::{Order, Step, StuckStroke};
pub(crate) use practice::least_leg_at;
pub use practice::{AirBend, Practice, slope_side};
pub use section::{StepSection, step_second_hit, step_section};
use setup::UsualPunch;
pub use setup::{ChosenDie, GaugeFinger, Setup};
pub use stroke::{Held, Stroke};
pub use tooling::{Body, Carried};
pub use words::{ANGLES_FROM_FLAT, StepWords, second_hit_words, step_words};

/// How a part's bends are made.
#[derive(Debug, Clone)]
pub struct Bending {
    /// The brake and its tools.
    pub setup: Setup,
    /// What each bend asks for, in the order of the flat's bends.
    pub practice: Vec<Practice>,
    /// Bends that are made at once.
    pub strokes: Vec<Stroke>,
    /// In which order they are made; those of joggles that are pressed in a block come before all
    /// others and are none of its steps.
    pub order: Order,
    /// The part as it is bent.
    pub metal: Option<Metal>,
    /// What was assumed of the brake.
    pub assumed: Vec<Assumed>,
}

impl Bending {
    /// The steps, if there is an order.
    #[must_use]
    pub fn steps(&self) -> &[Step] {
        match &self.order {
            Order::Found(steps) => steps,
            Order::Stuck(_) | Order::NotTried(_) => &[],
        }
    }

    /// The bends that are pressed in joggle blocks before all others.
    pub fn pressed(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.practice.len()).filter(|bend| self.practice[*bend].in_block)
    }

    /// Whether it is bent on a leaf or pan brake, set by sight lines.
    #[must_use]
    pub const fn is_leaf(&self) -> bool {
        !matches!(self.setup.kind, BrakeKind::Press)
    }
}

/// Plans the bending of a part; none for parts without straight bends.
#[must_use]
pub fn plan_bending(part: &Part, flat: &Flat) -> Option<Bending> {
    let tree = flat.tree.as_ref().filter(|tree| !tree.bends.is_empty())?;
    let metal = Metal::new(tree, flat);
    let strokes = stroke::strokes_of(tree, flat);
    let plan = |shape| {
        let (setup, assumed) = setup::setup_of(part, flat, tree, shape);
        let practice = practice::practice_of(part, flat, tree, &setup);
        let order = match &metal {
            None => Order::NotTried(
                "the blank could not be cut into triangles, or has too many bends".to_owned(),
            ),
            Some(metal) => order::find_order(tree, metal, flat, &strokes, &setup, &practice),
        };
        Bending { setup, practice, strokes: strokes.clone(), order, metal: metal.clone(), assumed }
    };
    let straight = plan(UsualPunch::Straight);
    if !straight.setup.tries_swan_neck || !matches!(straight.order, Order::Stuck(_)) {
        return Some(straight);
    }
    let other = plan(UsualPunch::SwanNeck);
    Some(if matches!(other.order, Order::Found(_)) { other } else { straight })
}
