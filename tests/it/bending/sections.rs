//! Orders of made-up sections, looked at again: at every fraction of every step the metal keeps
//! clear of itself, by the collision test of whole parts on its fine mesh, and of the tools, by
//! points of its middle against the tools' outlines.

use std::fmt::Write as _;

use indoc::indoc;
use planish::bending::{Bending, Carried, Held, Order, Step};
use planish::formed::{FoldTree, Folding, SheetMesh, collisions};
use planish::geom::Point;
use planish::make::MadePart;

use super::bending;
use crate::support::asserts::assert_held;
use crate::support::dice::Dice;
use crate::support::parts::made;
use crate::support::space::{V, dot, sub, unit};

fn inside(polygon: &[Point], p: Point) -> bool {
    let next = polygon.iter().cycle().skip(1);
    polygon.iter().zip(next).fold(false, |inside, (a, b)| {
        inside
            != ((a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x))
    })
}

/// The middle of the metal along the section at half depth, in the brake: y to the back, z up from
/// the punch's tip.
fn middle_in_brake(
    made: &MadePart,
    tree: &FoldTree,
    folding: &Folding,
    bend: usize,
    held: Held,
) -> Vec<Point> {
    let joint = &tree.bends[bend];
    let half = tree.thickness / 2.0;
    let line = made.flat.bends[bend].line;
    let (centre, step) = (line[0].midpoint(line[1]), joint.toward * 1e-4);
    let up = if joint.angle > 0.0 { 1.0 } else { -1.0 };
    let tip = folding.in_bend(bend, centre, half + up * half);
    // Along the metal at the bend's middle, and square to it through the sheet.
    let along = unit(sub(
        folding.in_bend(bend, centre + step, half),
        folding.in_bend(bend, centre - step, half),
    ));
    let back = if held == Held::Child { along } else { along.map(|x| -x) };
    let high = unit(sub(tip, folding.in_bend(bend, centre, half)));
    let place = |p: V| Point::new(dot(sub(p, tip), back), dot(sub(p, tip), high));
    let mut points = Vec::new();
    for (i, face) in tree.faces.iter().enumerate() {
        let bounds = face.outline.bounds();
        for k in 0..=40 {
            let p = Point::new(bounds.x0 + bounds.width() * f64::from(k) / 40.0, bounds.center().y);
            points.push(place(folding.on_face(i, p, half)));
        }
    }
    points
}

/// How high the outside skin passes over the die's shoulder at the back, in the same axes: there
/// the die's top stands.
fn shoulder(
    tree: &FoldTree,
    folding: &Folding,
    made: &MadePart,
    bend: usize,
    held: Held,
    half_opening: f64,
) -> f64 {
    let joint = &tree.bends[bend];
    let (half, line) = (tree.thickness / 2.0, made.flat.bends[bend].line);
    let centre = line[0].midpoint(line[1]);
    let up = if joint.angle > 0.0 { 1.0 } else { -1.0 };
    let outside = half - up * half;
    let tip = folding.in_bend(bend, centre, half + up * half);
    let step = joint.toward * 1e-4;
    let along = unit(sub(
        folding.in_bend(bend, centre + step, half),
        folding.in_bend(bend, centre - step, half),
    ));
    let way = if held == Held::Child { 1.0 } else { -1.0 };
    let back = along.map(|x| x * way);
    let high = unit(sub(tip, folding.in_bend(bend, centre, half)));
    let (face, own) =
        if held == Held::Child { (joint.child, joint.allowance()) } else { (joint.parent, 0.0) };
    let at = |far: f64| {
        let p = centre + joint.toward * (way * far);
        let in_zone = (joint.depth_of(p) - own) * way < 0.0;
        let q = if in_zone {
            folding.in_bend(bend, p, outside)
        } else {
            folding.on_face(face, p, outside)
        };
        (dot(sub(q, tip), back), dot(sub(q, tip), high))
    };
    let (mut near, mut far) = (0.0, 4.0 * half_opening);
    for _ in 0..60 {
        let middle = f64::midpoint(near, far);
        if at(middle).0 < half_opening { near = middle } else { far = middle }
    }
    at(near).1
}

/// Whether the middle of the metal comes into the gauge's finger, made larger all round by `more`,
/// at some fraction of a step.
fn comes_into_finger(made: &MadePart, bending: &Bending, step: &Step, more: f64) -> bool {
    let (Some(gauge), Some(die)) = (step.gauge, &bending.setup.die) else { return false };
    let tree = made.flat.tree.as_ref().expect("bends");
    let stroke = &bending.strokes[step.stroke];
    let finger = bending.setup.gauge_finger;
    (0..=20).any(|k| {
        let fraction = step.last * f64::from(k) / 20.0;
        let is_made = |bend: usize| {
            step.before.iter().any(|before| bending.strokes[*before].bends.contains(&bend))
        };
        let of = |bend: usize| {
            if stroke.bends.contains(&bend) { fraction } else { f64::from(u8::from(is_made(bend))) }
        };
        let folding = tree.fold(&(0..tree.bends.len()).map(of).collect::<Vec<_>>());
        let floor =
            shoulder(tree, &folding, made, stroke.first(), step.held, die.opening.mm() / 2.0);
        let (y, z) = (
            [gauge.distance + 0.5, gauge.distance + finger.length],
            [floor + gauge.low, floor + gauge.low + finger.height],
        );
        middle_in_brake(made, tree, &folding, stroke.first(), step.held).iter().any(|p| {
            p.x > y[0] - more && p.x < y[1] + more && p.y > z[0] - more && p.y < z[1] + more
        })
    })
}

fn check_step(made: &MadePart, bending: &Bending, step: &Step, what: &str) {
    let tree = made.flat.tree.as_ref().expect("bends");
    let mesh = SheetMesh::new(tree, &made.flat.outside, &made.flat.openings).expect("a mesh");
    let stroke = &bending.strokes[step.stroke];
    // A finger stays clear of the metal, or is told to be drawn back.
    match step.gauge {
        Some(gauge) if gauge.drawn_back => {
            assert!(comes_into_finger(made, bending, step, 3.0), "{what}, {:?}", stroke.bends);
        }
        _ => assert!(
            !comes_into_finger(made, bending, step, 0.0),
            "{what}, {:?}: {:?}",
            stroke.bends,
            step.gauge
        ),
    }
    for k in 0..=10 {
        let fraction = f64::from(k) / 10.0;
        let fractions: Vec<f64> = (0..tree.bends.len())
            .map(|bend| {
                let is_made =
                    step.before.iter().any(|before| bending.strokes[*before].bends.contains(&bend));
                if stroke.bends.contains(&bend) { fraction } else { f64::from(u8::from(is_made)) }
            })
            .collect();
        let folding = tree.fold(&fractions);
        let hits = collisions(&mesh, &folding);
        assert!(hits.is_empty(), "{what}, {:?} at {fraction}: {hits:?}", stroke.bends);
        let points = middle_in_brake(made, tree, &folding, stroke.first(), step.held);
        for body in bending.setup.bodies.iter().filter(|body| body.carried == Carried::Inside) {
            let hit = points.iter().find(|p| inside(&body.outline, **p));
            assert!(
                hit.is_none(),
                "{what}, {:?} at {fraction}: {hit:?} in the {}",
                stroke.bends,
                body.name
            );
        }
    }
}

fn section(dice: &mut Dice) -> String {
    let count = dice.whole(2, 6);
    let mut text = String::from(indoc!(
        "
        part: section
        units: mm
        material: dc04
        thickness: 1.5
        bend_allowance: {k_factor: 0.42}
        bent:
          dims: outside
          depth: 60
          section:
        "
    ));
    for i in 0..=count {
        writeln!(text, "    - leg: {:.3}", dice.between(18.0, 70.0)).expect("a string takes all");
        if i < count {
            let sign = if dice.between(0.0, 1.0) < 0.4 { -1.0 } else { 1.0 };
            let (angle, radius) = (sign * dice.between(20.0, 110.0), dice.between(1.0, 4.0));
            writeln!(text, "    - {{bend: {angle:.3}, radius: {radius:.3}}}")
                .expect("a string takes all");
        }
    }
    text
}

#[test]
fn an_order_keeps_metal_and_tools_apart_at_every_step() {
    let mut dice = Dice(17);
    let (mut ordered, mut refused, mut drawn_back) = (0, 0, 0);
    for _ in 0..60 {
        let text = section(&mut dice);
        let made = made(&text);
        let tree = made.flat.tree.as_ref().expect("bends");
        let mesh = SheetMesh::new(tree, &made.flat.outside, &made.flat.openings).expect("a mesh");
        if !collisions(&mesh, &tree.folded()).is_empty() {
            continue;
        }
        let bending = bending(&made);
        match &bending.order {
            Order::Found(steps) => {
                ordered += 1;
                assert_eq!(steps.len(), tree.bends.len());
                for step in steps {
                    drawn_back += usize::from(step.gauge.is_some_and(|gauge| gauge.drawn_back));
                    check_step(&made, bending, step, &text);
                }
            }
            Order::Stuck(strokes) => {
                refused += 1;
                assert!(!strokes.is_empty(), "{text}");
            }
            Order::NotTried(why) => panic!("{why}: {text}"),
        }
    }
    assert_held(40, ordered, 60);
    assert!(ordered > refused, "{ordered} with an order, {refused} refused");
    assert!(drawn_back > 0, "no finger is ever in the way");
}

/// A sheet that bends both ways is turned over at least once, and never more often than there are
/// bends to come.
#[test]
fn turning_over_costs_no_more_than_it_must() {
    let mut dice = Dice(5);
    let mut held = 0;
    for _ in 0..30 {
        let text = section(&mut dice);
        let made = made(&text);
        let Order::Found(steps) = &bending(&made).order else { continue };
        held += 1;
        let turns = steps.iter().filter(|step| step.turn_over).count();
        let ways: std::collections::BTreeSet<bool> =
            made.flat.bends.iter().map(|bend| bend.up).collect();
        assert!(turns + 1 >= ways.len(), "{text}");
        assert!(turns < made.flat.bends.len());
    }
    assert_held(21, held, 30);
}
