//! Which brake and which tools a part is bent with.

use super::practice::shortest_reach;
use super::tooling::{
    Body, CHORD, Carried, PUNCH_ANGLE, bed, holder_and_beam, leaf_bed, nose_beam, usual_die,
    usual_leaf, usual_nose, usual_punch, usual_swan_neck,
};
use crate::flat::Flat;
use crate::formed::FoldTree;
use crate::geom::Point;
use crate::part::{Assumed, Brake, BrakeKind, Die, Outline, Part};
use crate::shop::brake::{air_bend_radius, least_leg, usual_die_opening};
use crate::units::{Angle, Digits, Force, Length};

/// The die of a press brake.
#[derive(Debug, Clone, PartialEq)]
pub struct ChosenDie {
    /// Its name.
    pub name: String,
    /// Its opening.
    pub opening: Length,
    /// Whether the shop file names it.
    pub is_own: bool,
}

/// A finger of a back gauge: a block in front of which an edge of the sheet comes to rest, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaugeFinger {
    /// Along the bend.
    pub width: f64,
    /// Over what the sheet lies on.
    pub height: f64,
    /// To the back.
    pub length: f64,
}

/// Width, height and length of a gauge finger where the shop file gives none, mm: common practice,
/// no source.
const USUAL_FINGER: [f64; 3] = [25.0, 16.0, 60.0];

/// A brake set up for a part.
#[derive(Debug, Clone)]
pub struct Setup {
    /// Which kind.
    pub kind: BrakeKind,
    /// Whether the shop file gives it.
    pub is_own: bool,
    /// The die, of a press brake.
    pub die: Option<ChosenDie>,
    /// Every die of the shop, as the shop file lists them.
    pub dies: Vec<Die>,
    /// Tools and machine.
    pub bodies: Vec<Body>,
    /// The greatest angle that the tools bend to.
    pub reach: Angle,
    /// Its force, if known.
    pub force: Option<Force>,
    /// Its working length, if known.
    pub length: Option<Length>,
    /// Widths of its fingers.
    pub fingers: Vec<Length>,
    /// The thickest mild steel that it bends over its whole length, if known.
    pub max_thickness: Option<Length>,
    /// A finger of its back gauge.
    pub gauge_finger: GaugeFinger,
    /// Whether another usual punch may be tried when this one finds no order.
    pub tries_swan_neck: bool,
    /// How much of an end of a bend, or of a gap in its middle, the tools may leave free, mm.
    pub uncovered: f64,
}

/// The punch that is taken where the shop file draws none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum UsualPunch {
    /// Straight, for most.
    Straight,
    /// With a throat, for what a straight one cannot make.
    SwanNeck,
}

/// How much of a bend's end the tools may leave free, over the thickness: about one die opening.
const UNCOVERED_TIMES: f64 = 8.0;

/// The greatest angle of a leaf where none is given, degrees.
const LEAF_REACH: f64 = 135.0;

/// The brake and its tools for a part, with what had to be assumed.
pub(super) fn setup_of(
    part: &Part,
    flat: &Flat,
    tree: &FoldTree,
    shape: UsualPunch,
) -> (Setup, Vec<Assumed>) {
    let mut assumed = Assumptions::default();
    let own = part.shop.brake.as_ref();
    let kind = own.map_or(BrakeKind::Press, |brake| brake.kind);
    if own.is_none() {
        assumed.add(
            "brake.kind",
            "press",
            "no shop file gives a brake; a press brake with usual tools is taken",
        );
    }
    let mut setup = Setup {
        kind,
        is_own: own.is_some(),
        die: None,
        dies: own.map(|brake| brake.dies.clone()).unwrap_or_default(),
        bodies: Vec::new(),
        reach: Angle::from_degrees(LEAF_REACH),
        force: own.and_then(|brake| brake.force),
        length: own.and_then(|brake| brake.length),
        fingers: own.map(|brake| brake.fingers.clone()).unwrap_or_default(),
        max_thickness: own.and_then(|brake| brake.max_thickness),
        gauge_finger: gauge_finger(part, own, &mut assumed),
        tries_swan_neck: false,
        uncovered: UNCOVERED_TIMES * part.thickness.mm(),
    };
    if kind == BrakeKind::Press {
        set_up_press(&mut setup, (part, flat, shape), own, &mut assumed);
    } else {
        set_up_leaf(&mut setup, part, tree, own, &mut assumed);
    }
    (setup, assumed.0)
}

fn gauge_finger(part: &Part, own: Option<&Brake>, assumed: &mut Assumptions) -> GaugeFinger {
    let given = own.map_or([None; 3], |brake| brake.gauge_finger);
    let [width, height, length] = [0, 1, 2].map(|i| given[i].map_or(USUAL_FINGER[i], Length::mm));
    if given.iter().any(Option::is_none) {
        let show = |mm: f64| part.unit.show(Length::from_mm(mm));
        let value = format!("{} wide, {} high, {} long", show(width), show(height), show(length));
        let why = "the back gauge's finger is not given in full; common practice, no source";
        assumed.add("brake.gauge_finger", value, why);
    }
    GaugeFinger { width, height, length }
}

#[derive(Default)]
struct Assumptions(Vec<Assumed>);

impl Assumptions {
    fn add(&mut self, key: &str, value: impl Into<String>, why: &str) {
        self.0.push(Assumed { key: key.to_owned(), value: value.into(), why: why.to_owned() });
    }
}

fn polygon(outline: &Outline) -> Vec<Point> {
    outline.sides.to_polyarc(CHORD / 10.0).flatten(CHORD)
}

fn set_up_press(
    setup: &mut Setup,
    (part, flat, shape): (&Part, &Flat, UsualPunch),
    own: Option<&Brake>,
    assumed: &mut Assumptions,
) {
    let die = choose_die(part, flat, own);
    let usual =
        usual_die_opening(part.thickness).map_or(part.thickness * 12.0, |figure| figure.value);
    let opening = die.map_or(usual, |die| die.opening);
    if die.is_none() {
        assumed.add(
            "brake.dies",
            part.unit.show(opening),
            "no die is given; the usual opening for this sheet is taken",
        );
    }
    let v_angle = die.and_then(|die| die.angle).unwrap_or(Angle::from_degrees(PUNCH_ANGLE));
    let block = match die.and_then(|die| die.block.as_ref()) {
        Some(block) => polygon(block),
        None => {
            let size = |mm: f64| part.unit.brief(Length::from_mm(mm), 1);
            let value = format!(
                "{} wide and {} high",
                size(opening.mm() + opening.mm().max(16.0)),
                size(60.0)
            );
            assumed.add(
                "brake.dies.block",
                value,
                "no outline of the die is given; a block of usual size, common practice",
            );
            usual_die(opening.mm(), v_angle)
        }
    };
    let punch = match own.and_then(|brake| brake.punch.as_ref()) {
        Some(punch) => polygon(punch),
        None => {
            setup.tries_swan_neck = shape == UsualPunch::Straight;
            let size = |mm: f64| part.unit.brief(Length::from_mm(mm), 1);
            match shape {
                UsualPunch::Straight => {
                    let why = "no outline of the punch is given; an acute straight one of usual size, common practice";
                    let [blade, wide, from, high] = [12.0, 24.0, 60.0, 100.0].map(size);
                    let value = format!(
                        "tip 30 degrees, blade {blade}, {wide} wide from {from} up, {high} high"
                    );
                    assumed.add("brake.punch", value, why);
                    usual_punch()
                }
                UsualPunch::SwanNeck => {
                    let why = "no outline of the punch is given and a straight one finds no order; a swan-neck of usual size, common practice";
                    let [behind, throat, high] = [14.0, 35.0, 100.0].map(size);
                    let value = format!(
                        "swan-neck, throat {behind} behind the tip and {throat} high, {high} high"
                    );
                    assumed.add("brake.punch", value, why);
                    usual_swan_neck()
                }
            }
        }
    };
    setup.reach = Angle::from_degrees(180.0 - tip_angle(&punch).max(v_angle.degrees()));
    if die.is_none_or(|die| die.angle.is_none() && die.block.is_none()) {
        let reach = Digits(setup.reach.degrees(), 1);
        let why = format!(
            "no angle of the die is given; an acute one is taken, and these tools bend to {reach} degrees at most"
        );
        assumed.add("brake.dies.angle", "30 degrees", &why);
    }
    setup.die = Some(ChosenDie {
        name: die.map_or_else(|| "usual die".to_owned(), |die| die.name.clone()),
        opening,
        is_own: die.is_some(),
    });
    let top = punch.iter().map(|p| p.y).fold(0.0, f64::max);
    let foot = block.iter().map(|p| p.y).fold(0.0, f64::min);
    let [holder, beam] = holder_and_beam(top);
    setup.bodies = vec![
        Body::new("punch", Carried::Inside, true, punch),
        Body::new("punch holder", Carried::Inside, false, holder),
        Body::new("beam", Carried::Inside, false, beam),
        Body::new("die", Carried::Outside, true, block),
        Body::new("bed", Carried::Outside, false, bed(foot)),
    ];
}

/// The included angle of a punch's tip, degrees, from its flanks above a rounded tip.
fn tip_angle(punch: &[Point]) -> f64 {
    /// Heights between which the flanks are looked at, mm.
    const FLANK: (f64, f64) = (3.0, 20.0);
    let flank = |sign: f64| {
        let half = |z: f64| {
            let crossings = (0..punch.len()).filter_map(|i| {
                let (a, b) = (punch[i], punch[(i + 1) % punch.len()]);
                ((a.y - z) * (b.y - z) <= 0.0 && a.y != b.y)
                    .then(|| sign * (a.x + (b.x - a.x) * (z - a.y) / (b.y - a.y)))
            });
            crossings.fold(0.0, f64::max)
        };
        [0.0, 0.25, 0.5, 1.0]
            .map(|share| FLANK.0 + (FLANK.1 - FLANK.0) * share)
            .map(|z| (half(z) / z).atan())
            .into_iter()
            .fold(0.0, f64::max)
    };
    2.0 * flank(1.0).max(flank(-1.0)).to_degrees()
}

/// The shop's die whose air bend comes nearest to the radii asked for, of those from 6 to 12
/// thicknesses whose least leg the part's shortest one spans; without any such, the one nearest to
/// the usual opening.
fn choose_die<'a>(part: &Part, flat: &Flat, own: Option<&'a Brake>) -> Option<&'a Die> {
    let dies = own.map(|brake| &brake.dies).filter(|dies| !dies.is_empty())?;
    let usual =
        usual_die_opening(part.thickness).map_or(part.thickness * 12.0, |figure| figure.value).mm();
    // A joggle that no die takes is pressed in a block of its own and asks for no die.
    let in_range = |die: &Die| (5.99..=12.01).contains(&(die.opening / part.thickness));
    let takes = |reach: f64| {
        dies.iter().any(|die| in_range(die) && least_leg(die.opening).value.mm() <= reach + 1e-9)
    };
    let shortest = shortest_reach(flat, true)
        .filter(|reach| takes(*reach))
        .or_else(|| shortest_reach(flat, false));
    let wished = flat.bends.iter().filter(|bend| bend.angle.degrees() < 180.0 - 1e-9);
    let wished: Vec<(f64, f64)> =
        wished.map(|bend| (bend.inside_radius.mm(), bend.length.mm())).collect();
    let fits = |die: &&Die| {
        in_range(die)
            && shortest.is_none_or(|reach| least_leg(die.opening).value.mm() <= reach + 1e-9)
    };
    let miss = |die: &Die| {
        let radius = air_bend_radius(die.opening, &part.material).map(|figure| figure.value.mm());
        let by_radius = radius.filter(|_| !wished.is_empty()).map(|made| {
            let all: f64 = wished.iter().map(|(_, length)| length).sum();
            wished.iter().map(|(radius, length)| (made - radius).abs() * length / all).sum::<f64>()
        });
        by_radius.unwrap_or((die.opening.mm() - usual).abs())
    };
    let nearest = |a: &&Die, b: &&Die| miss(a).total_cmp(&miss(b));
    let to_usual = |a: &&Die, b: &&Die| {
        (a.opening.mm() - usual).abs().total_cmp(&(b.opening.mm() - usual).abs())
    };
    dies.iter().filter(fits).min_by(nearest).or_else(|| dies.iter().min_by(to_usual))
}

fn set_up_leaf(
    setup: &mut Setup,
    part: &Part,
    tree: &FoldTree,
    own: Option<&Brake>,
    assumed: &mut Assumptions,
) {
    let face = -part.thickness.mm();
    let fingers = setup.kind == BrakeKind::Pan;
    let name = if fingers { "finger" } else { "nose" };
    let size = |mm: f64| part.unit.brief(Length::from_mm(mm), 1);
    let radius =
        tree.bends.iter().map(|bend| bend.inside_radius).fold(f64::INFINITY, f64::min).min(25.0);
    let nose = match own.and_then(|brake| brake.punch.as_ref()) {
        Some(nose) => polygon(nose),
        None => {
            let why =
                "no outline of the nose is given (`punch:`); one of usual size, common practice";
            let [high, deep] = [75.0, 100.0].map(size);
            let value = format!(
                "front 45 degrees, {high} high, {deep} deep, its edge rounded to the inside radius"
            );
            assumed.add("brake.punch", value, why);
            usual_nose(radius)
        }
    };
    let leaf = match own.and_then(|brake| brake.leaf.as_ref()) {
        Some(leaf) => polygon(leaf).into_iter().map(|p| Point::new(p.x, p.y + face)).collect(),
        None => {
            let why = "no outline of the leaf is given; one of usual size, common practice";
            let [wide, thick, edge] = [50.0, 25.0, 10.0].map(size);
            assumed.add(
                "brake.leaf",
                format!("{wide} wide, {thick} thick, {edge} at its bending edge"),
                why,
            );
            usual_leaf(face)
        }
    };
    setup.reach = own.and_then(|brake| brake.max_angle).unwrap_or_else(|| {
        assumed.add(
            "brake.max_angle",
            "135 degrees",
            "no greatest angle of the leaf is given; common practice",
        );
        Angle::from_degrees(LEAF_REACH)
    });
    if fingers && setup.fingers.is_empty() {
        assumed.add(
            "brake.fingers",
            "any width",
            "no finger widths are given, so a set of any width is taken",
        );
    }
    let top = nose.iter().map(|p| p.y).fold(0.0, f64::max);
    let front = nose.iter().filter(|p| p.y > top - 0.1).map(|p| p.x).fold(f64::INFINITY, f64::min);
    setup.bodies = vec![
        Body::new(name, Carried::Inside, fingers, nose),
        Body::new("beam", Carried::Inside, false, nose_beam(front, top)),
        Body::new("bed", Carried::Outside, false, leaf_bed(face)),
        Body::new("leaf", Carried::Leaf, false, leaf),
    ];
}
