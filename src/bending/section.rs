//! The part and its tools at a step, cut square to the bend, for pictures: y to the back, z up, mm,
//! the die or bed lying still.

use super::stroke::Stroke;
use super::tooling::{Carried, hem_bodies};
use super::{Bending, Body, Metal, Step};
use crate::flat::Flat;
use crate::formed::{FoldTree, Folding};
use crate::geom::Point;
use crate::geom::space::{Pose, Space};
use crate::part::BrakeKind;

/// A step's section.
#[derive(Debug, Clone, Default)]
pub struct StepSection {
    /// Outlines of machine and tools when the angle is reached.
    pub bodies: Vec<Vec<Point>>,
    /// The metal cut, when the angle is reached.
    pub metal: Vec<Vec<Point>>,
    /// Faces behind the cut, far ones first.
    pub behind: Vec<Vec<Point>>,
    /// The middle of the metal cut before the step.
    pub start: Vec<Vec<Point>>,
    /// The gauge's finger before the step.
    pub gauge: Option<Vec<Point>>,
    /// Whether it is drawn back by now.
    pub gauge_drawn_back: bool,
}

/// How far the chords of faces behind the cut may be from their outlines, mm.
const CHORD: f64 = 0.3;

/// The section of a step; none where the part has no mesh.
#[must_use]
pub fn step_section(flat: &Flat, bending: &Bending, step: &Step) -> Option<StepSection> {
    let (tree, metal) = (flat.tree.as_ref()?, bending.metal.as_ref()?);
    let stroke = &bending.strokes[step.stroke];
    let at = step.span.covers.first().map_or(0.0, |[from, to]| f64::midpoint(*from, *to));
    let rise = |fraction: f64| match &bending.setup.die {
        Some(die) => stroke.die_rise(tree, fraction, die.opening.mm()),
        None => -tree.thickness,
    };
    let (start, end) = (folded(bending, tree, step, 0.0), folded(bending, tree, step, step.last));
    let stand = |folding: &Folding, carried: Carried, fraction: f64| {
        Pose::shift([0.0, 0.0, -rise(fraction)]).after(&stroke.stand(
            flat,
            &bending.setup,
            folding,
            step.held,
            carried,
        ))
    };
    let (still, before) =
        (stand(&end, Carried::Inside, step.last), stand(&start, Carried::Inside, 0.0));
    let (cut, start) = cuts(tree, metal, [(&end, &still), (&start, &before)], at);
    Some(StepSection {
        bodies: bodies(bending, stroke, tree, (&end, step), &still, rise(step.last)),
        metal: cut,
        behind: behind(tree, &end, &still, at),
        start,
        gauge: step.gauge.map(|gauge| {
            let shift = if bending.setup.kind == BrakeKind::Press {
                0.0
            } else {
                tree.bends[stroke.first()].allowance() / 2.0
            };
            let finger = bending.setup.gauge_finger;
            let (front, back) = (gauge.distance - shift, gauge.distance - shift + finger.length);
            let (low, high) = (gauge.low, gauge.low + finger.height);
            [(front, low), (back, low), (back, high), (front, high)].map(Point::from).to_vec()
        }),
        gauge_drawn_back: step.gauge.is_some_and(|gauge| gauge.drawn_back),
    })
}

/// The part at a step, its stroke turned by that fraction.
fn folded<'a>(bending: &Bending, tree: &'a FoldTree, step: &Step, fraction: f64) -> Folding<'a> {
    let stroke = &bending.strokes[step.stroke];
    let fractions: Vec<f64> = (0..tree.bends.len())
        .map(|bend| {
            let is_made =
                step.before.iter().any(|stroke| bending.strokes[*stroke].bends.contains(&bend));
            if stroke.bends.contains(&bend) { fraction } else { f64::from(u8::from(is_made)) }
        })
        .collect();
    tree.fold(&fractions)
}

/// The metal cut at the end of a hit, and the middle of it at the beginning.
fn cuts(
    tree: &FoldTree,
    metal: &Metal,
    [(end, still), (start, before)]: [(&Folding, &Pose); 2],
    at: f64,
) -> (Vec<Vec<Point>>, Vec<Vec<Point>>) {
    let mesh = metal.mesh();
    let skins = |folding: &Folding, pose: &Pose, height: f64| -> Vec<Space> {
        mesh.skin(folding, height).into_iter().map(|p| pose.at(p)).collect()
    };
    let (lower, upper) = (skins(end, still, 0.0), skins(end, still, tree.thickness));
    let middle = skins(start, before, tree.thickness / 2.0);
    let corners = mesh.triangles.iter().map(|(corners, _)| corners);
    let cut = |corners: &[usize; 3]| {
        let [low, high] = [&lower, &upper].map(|skin| corners.map(|i| skin[i]));
        prism_cut(&low, &high, at)
    };
    let line = |corners: &[usize; 3]| {
        let ends = edges_cut(&corners.map(|i| middle[i]), at);
        (ends.len() == 2).then_some(ends)
    };
    (corners.clone().filter_map(cut).collect(), corners.filter_map(line).collect())
}

/// The section of a hem's second hit, pressed shut between bars; none for other bends.
#[must_use]
pub fn step_second_hit(flat: &Flat, bending: &Bending, step: &Step) -> Option<StepSection> {
    let (tree, metal) = (flat.tree.as_ref()?, bending.metal.as_ref()?);
    let stroke = &bending.strokes[step.stroke];
    let practice = &bending.practice[stroke.first()];
    if !practice.is_hem {
        return None;
    }
    let bend = &tree.bends[stroke.first()];
    let at = step.span.covers.first().map_or(0.0, |[from, to]| f64::midpoint(*from, *to));
    let (start, end) = (folded(bending, tree, step, step.last), folded(bending, tree, step, 1.0));
    let up = Pose::shift([0.0, 0.0, tree.thickness]);
    let stand = |folding: &Folding| up.after(&stroke.lie(flat, folding));
    let (still, before) = (stand(&end), stand(&start));
    let reach = practice.reach[1];
    let mut bodies: Vec<Vec<Point>> = hem_bodies(bend.inside_radius, tree.thickness, reach, true)
        .iter()
        .map(|body| body.raised(tree.thickness).outline)
        .collect();
    // What keeps an open hem open while it is pressed.
    let is_open =
        bend.inside_radius > 0.0 && flat.bends[stroke.first()].angle.degrees() < 180.0 + 1e-6;
    if is_open {
        let (low, high) = (tree.thickness, tree.thickness + 2.0 * bend.inside_radius);
        let back = reach + 10.0;
        bodies.push([(0.0, low), (back, low), (back, high), (0.0, high)].map(Point::from).to_vec());
    }
    let (cut, start) = cuts(tree, metal, [(&end, &still), (&start, &before)], at);
    Some(StepSection {
        bodies,
        metal: cut,
        behind: behind(tree, &end, &still, at),
        start,
        gauge: None,
        gauge_drawn_back: false,
    })
}

fn bodies(
    bending: &Bending,
    stroke: &Stroke,
    tree: &FoldTree,
    (end, step): (&Folding, &Step),
    still: &Pose,
    rise: f64,
) -> Vec<Vec<Point>> {
    let bend = &tree.bends[stroke.first()];
    let place = |body: &Body| -> Vec<Point> {
        let shift = match (body.carried, bending.setup.kind) {
            (Carried::Outside, BrakeKind::Press) => 0.0,
            _ => -rise,
        };
        if body.carried != Carried::Leaf {
            return body.outline.iter().map(|p| Point::new(p.x, p.y + shift)).collect();
        }
        // The leaf's outline lies where the free leg lay: turned with it.
        let free = if step.held == super::Held::Parent { bend.child } else { bend.parent };
        let to_back = if step.held == super::Held::Parent { -bend.toward } else { bend.toward };
        let v = if step.held == super::Held::Parent { bend.allowance() } else { 0.0 };
        let up = if bend.angle > 0.0 { 1.0 } else { -1.0 };
        let base = bend.middle()[0].midpoint(bend.middle()[1])
            + bend.toward * (v - bend.allowance() / 2.0);
        let inside = if bend.angle > 0.0 { tree.thickness } else { 0.0 };
        let pose = still.after(&end.poses[free]);
        body.outline
            .iter()
            .map(|p| {
                let on = base + to_back * p.x;
                let [_, y, z] = pose.at([on.x, on.y, inside + up * p.y]);
                Point::new(y, z)
            })
            .collect()
    };
    bending.setup.bodies.iter().rev().map(place).collect()
}

/// Where the edges of a polygon pass through the plane x = `at`.
fn edges_cut(polygon: &[Space], at: f64) -> Vec<Point> {
    (0..polygon.len())
        .filter_map(|i| {
            let (p, q) = (polygon[i], polygon[(i + 1) % polygon.len()]);
            edge_cut(p, q, at)
        })
        .collect()
}

fn edge_cut(p: Space, q: Space, at: f64) -> Option<Point> {
    let (a, b) = (p[0] - at, q[0] - at);
    ((a > 0.0) != (b > 0.0)).then(|| {
        let share = a / (a - b);
        Point::new(p[1] + (q[1] - p[1]) * share, p[2] + (q[2] - p[2]) * share)
    })
}

/// The cut of the sheet between two skins of a triangle, as a convex polygon.
fn prism_cut(low: &[Space; 3], high: &[Space; 3], at: f64) -> Option<Vec<Point>> {
    let upright = (0..3).filter_map(|i| edge_cut(low[i], high[i], at));
    let mut points: Vec<Point> =
        edges_cut(low, at).into_iter().chain(edges_cut(high, at)).chain(upright).collect();
    if points.len() < 3 {
        return None;
    }
    let count = points.len() as f64;
    let centre = points
        .iter()
        .fold(Point::ORIGIN, |sum, p| Point::new(sum.x + p.x / count, sum.y + p.y / count));
    points.sort_by(|a, b| (*a - centre).atan2().total_cmp(&(*b - centre).atan2()));
    Some(points)
}

/// The middle of every face and strip of bend behind the plane x = `at`, far ones first.
fn behind(tree: &FoldTree, folding: &Folding, stand: &Pose, at: f64) -> Vec<Vec<Point>> {
    const STRIPS: u32 = 4;
    let half = tree.thickness / 2.0;
    let mut pieces: Vec<Vec<Space>> = Vec::new();
    for (i, face) in tree.faces.iter().enumerate() {
        pieces.push(
            face.outline
                .flatten(CHORD)
                .iter()
                .map(|p| stand.at(folding.on_face(i, *p, half)))
                .collect(),
        );
    }
    for (i, bend) in tree.bends.iter().enumerate() {
        let line = |k: u32| {
            let v = bend.allowance() * f64::from(k) / f64::from(STRIPS);
            bend.width_at(v).map(|p| stand.at(folding.in_bend(i, p, half)))
        };
        for k in 0..STRIPS {
            let ([a, b], [d, c]) = (line(k), line(k + 1));
            pieces.push(vec![a, b, c, d]);
        }
    }
    let mut cut: Vec<(f64, Vec<Point>)> = pieces
        .into_iter()
        .filter_map(|piece| {
            let left = far_part(&piece, at);
            let depth = left.iter().map(|p| p[0]).sum::<f64>() / (left.len().max(1) as f64);
            (left.len() >= 3)
                .then(|| (depth, left.into_iter().map(|p| Point::new(p[1], p[2])).collect()))
        })
        .collect();
    cut.sort_by(|a, b| a.0.total_cmp(&b.0));
    cut.into_iter().map(|(_, piece)| piece).collect()
}

/// The part of a polygon at x below `at`.
fn far_part(polygon: &[Space], at: f64) -> Vec<Space> {
    let mut left = Vec::new();
    for (i, p) in polygon.iter().enumerate() {
        let q = &polygon[(i + 1) % polygon.len()];
        let (a, b) = (at - p[0], at - q[0]);
        if a > 0.0 {
            left.push(*p);
        }
        if (a > 0.0) != (b > 0.0) {
            let share = a / (a - b);
            left.push([0, 1, 2].map(|k| p[k] + (q[k] - p[k]) * share));
        }
    }
    left
}
