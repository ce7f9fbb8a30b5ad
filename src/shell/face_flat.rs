//! The face laid flat by itself, as it is clamped between buck and plate before a wall goes down.

use super::blank::FaceFlat;
use super::crown::{self, CrownProblem, MeshedFace, Rim, RimPoint};
use super::ends::Corner;
use super::even_metal::even_metal;
use super::formed_face::FaceMesh;
use super::run::Run;
use super::strain::metal_of;
use super::{NoBalance, NoBlank, RolledEdge, Shell, Stretch};
use crate::fe::membrane::{Settings, Solution};
use crate::fe::wall::{Face, face_membrane};
use crate::geom::space::Space;
use crate::geom::{Affine, Point, Segment, Vec2, left_of};
use kurbo::Line;

/// Triangles of a face that strains in a wall's width, and the most of them.
const FACE_ROWS: f64 = 8.0;
const MOST_FACE_TRIANGLES: f64 = 10_000.0;
/// Columns by which the tangent line's motion near its end is known.
const NEAR: usize = 4;

impl Shell<'_> {
    /// Where the tangent line of each run lies in the flat, and the face where it is more than
    /// unrolled; the runs' sections are tilted by the crown.
    pub(super) fn face_flat(
        &self,
        runs: &mut [Run],
        stretches: &[Stretch],
        corners: &[Corner],
    ) -> Result<FaceFlat, NoBlank> {
        let radius = self.outside_radius();
        let Some(face) = self.surface else {
            let tangents = runs
                .iter()
                .map(|run| run.columns.iter().map(|column| column.point).collect())
                .collect();
            return Ok(FaceFlat { tangents, mesh: None });
        };
        if !self.is_formed() {
            let unrolled = |edge: &RolledEdge| face.unrolled(edge.touch(radius));
            return Ok(FaceFlat {
                tangents: runs
                    .iter()
                    .map(|run| run.sections.iter().map(unrolled).collect())
                    .collect(),
                mesh: None,
            });
        }
        let area = self.profile.area().abs();
        let size = (self.wall.flat_width() / FACE_ROWS).max((area / MOST_FACE_TRIANGLES).sqrt());
        let (rim, nodes) = self.rim(runs, stretches, corners, size);
        let meshed = crown::mesh(face, &rim, radius, self.crown, size)
            .map_err(|problem| self.no_crown(problem, &rim))?;
        for (run, nodes) in runs.iter_mut().zip(&nodes) {
            let mut known = None;
            // A run solved longer goes on with the slope of its own end.
            let tilts: Vec<Option<f64>> =
                nodes.iter().map(|node| node.map(|node| meshed.tilts[node])).collect();
            let first = tilts.iter().copied().flatten().next().unwrap_or(0.0);
            for (section, tilt) in run.sections.iter_mut().zip(tilts) {
                known = tilt.or(known);
                let tilt = known.unwrap_or(first);
                if tilt != 0.0 {
                    *section = section.tilted(tilt);
                }
            }
        }
        let (flat, solution) = self.formed(&meshed, rim.edges.len())?;
        let mut tangents: Vec<Vec<Point>> = Vec::new();
        for (run, nodes) in runs.iter().zip(&nodes) {
            let plan: Vec<Point> = run.sections.iter().map(|edge| edge.touch(radius)).collect();
            // At a corner that two runs share, each of them has a place of its own beside it.
            let known: Vec<Option<Point>> = nodes
                .iter()
                .zip(&plan)
                .map(|(node, plan)| node.map(|node| flat[node] + (*plan - meshed.over[node])))
                .collect();
            let tangent = carried_on(&known, &plan);
            let moves: Vec<Vec2> =
                tangent.iter().zip(&plan).map(|(flat, plan)| *flat - *plan).collect();
            let even = crown::smoothed(&moves, matches!(run.ends, [None, None]));
            tangents.push(plan.iter().zip(even).map(|(plan, by)| *plan + by).collect());
        }
        let sides = self.profile.chain();
        let mut tilts: Vec<(f64, f64)> = Vec::new();
        for (run, nodes) in runs.iter().zip(&nodes) {
            for (column, node) in run.columns.iter().zip(nodes) {
                if let Some(node) = node.filter(|_| column.is_inside()) {
                    let side = run.sides[column.place.side];
                    tilts.push((sides.along(side, column.place.u), meshed.tilts[node]));
                }
            }
        }
        tilts.sort_by(|a, b| a.0.total_cmp(&b.0));
        tilts.dedup_by(|b, a| b.0 - a.0 < crate::tolerance::SAME_POINT);
        let metal = even_metal(&flat, &meshed.triangles, &metal_of(&solution, self.wall.thickness));
        Ok(FaceFlat { tangents, mesh: Some(FaceMesh::new(meshed, flat, metal, tilts)) })
    }

    /// How much a crown bends the face across, 1/mm, as if it were a parabola over its least width.
    pub(super) fn crown_bend(&self) -> f64 {
        let bounds = self.profile.bounds();
        8.0 * self.crown / bounds.width().min(bounds.height()).powi(2)
    }

    fn no_crown(&self, problem: CrownProblem, rim: &Rim) -> NoBlank {
        let refuse = |at: Point, reason: &'static str, help: &'static str| NoBlank::Face {
            at,
            reason,
            help,
        };
        let middle = self.profile.bounds().center();
        let lower = "make the crown lower, or the shell wider";
        match problem {
            CrownProblem::Outline => refuse(
                middle,
                "no face is left inside the tangent lines",
                "make the shell wider, or the edge radius smaller",
            ),
            CrownProblem::Unsettled => {
                refuse(middle, "the crown is so high that it finds no edge", lower)
            }
            CrownProblem::Folds(column) => {
                let at = rim
                    .edges
                    .get(column)
                    .map_or(middle, |edge| Point::new(edge.centre[0], edge.centre[1]));
                refuse(at, "the crown is so high that it folds over at its edge", lower)
            }
        }
    }

    /// The face's edge once round, and for each column of each run its number there; none beyond
    /// the ends of runs solved longer.
    fn rim(
        &self,
        runs: &[Run],
        stretches: &[Stretch],
        corners: &[Corner],
        size: f64,
    ) -> (Rim, Vec<Vec<Option<usize>>>) {
        let radius = self.outside_radius();
        let mut rim = Rim {
            edges: Vec::new(),
            outwards: Vec::new(),
            turns: Vec::new(),
            chains: Vec::new(),
            round: Vec::new(),
        };
        let mut nodes: Vec<Vec<Option<usize>>> =
            runs.iter().map(|run| vec![None; run.columns.len()]).collect();
        let count = stretches.len();
        let touch = |run: &Run, column: usize| run.sections[column].touch(radius);
        let mut first: Option<usize> = None;
        let mut last: Option<usize> = None;
        for (k, stretch) in stretches.iter().enumerate() {
            let before = corners[(k + count - 1) % count];
            let (from, to) = (stretches[(k + count - 1) % count], stretches[(k + 1) % count]);
            match *stretch {
                Stretch::Run(r) => {
                    let run = &runs[r];
                    let (start, end) = run.own();
                    // At an outside corner two runs share a column.
                    let shares = |corner: Corner| matches!(corner, Corner::Outside { .. });
                    let mut begin = start;
                    if shares(before)
                        && let Some(last) = last
                    {
                        nodes[r][start] = Some(last);
                        begin = start + 1;
                    }
                    let mut stop = end;
                    if shares(corners[k])
                        && k + 1 == count
                        && let Some(first) = first
                    {
                        nodes[r][end] = Some(first);
                        stop = end - 1;
                    }
                    let chain = rim.edges.len();
                    for (c, known) in nodes[r].iter_mut().enumerate().take(stop + 1).skip(begin) {
                        let node = rim.edges.len();
                        *known = Some(node);
                        rim.edges.push(run.sections[c]);
                        rim.outwards.push(run.columns[c].outward);
                        let turn_at = |corner: Corner| {
                            if let Corner::Outside { turn, .. } = corner { turn } else { 0.0 }
                        };
                        let at_start = if c == start { turn_at(before) } else { 0.0 };
                        rim.turns.push(if c == end {
                            at_start.max(turn_at(corners[k]))
                        } else {
                            at_start
                        });
                        rim.round.push(RimPoint::Column(node));
                        first.get_or_insert(node);
                        last = Some(node);
                    }
                    match rim.chains.last_mut() {
                        // The edge goes on over what is cut apart.
                        Some((chain, _)) if matches!(before, Corner::BesideApart) => {
                            chain.end = rim.edges.len();
                        }
                        _ => rim
                            .chains
                            .push((chain..rim.edges.len(), matches!(corners[k], Corner::None))),
                    }
                    if let (Corner::Inside { .. }, Stretch::Run(next)) = (corners[k], to) {
                        let (first, columns) = (runs[next].own().0, &runs[next].columns);
                        let tangent =
                            |at: Point, outward: Vec2| Line::new(at, at + left_of(outward));
                        let inner =
                            tangent(touch(run, end), run.columns[end].outward).crossing_point(
                                tangent(touch(&runs[next], first), columns[first].outward),
                            );
                        rim.round.extend(inner.map(RimPoint::Free));
                    }
                }
                Stretch::Open(side) => {
                    let segment = self.profile.sides[side].segment;
                    let end_of = |stretch: Stretch, at_end: bool| match stretch {
                        Stretch::Run(r) => {
                            let (start, end) = runs[r].own();
                            foot(&segment, touch(&runs[r], if at_end { end } else { start }))
                        }
                        _ => {
                            if at_end {
                                0.0
                            } else {
                                1.0
                            }
                        }
                    };
                    let (a, b) = (end_of(from, true), end_of(to, false));
                    #[expect(
                        clippy::cast_possible_truncation,
                        clippy::cast_sign_loss,
                        reason = "clamped to 1..=1000"
                    )]
                    let steps =
                        (segment.length() * (b - a).abs() / size).round().clamp(1.0, 1000.0) as u32;
                    let corner = u32::from(matches!(from, Stretch::Run(_)));
                    for s in corner..steps {
                        let p = segment.point_at(a + (b - a) * f64::from(s) / f64::from(steps));
                        rim.round.push(RimPoint::Free(self.over_middle(p)));
                    }
                }
                Stretch::Apart(side) => {
                    let segment = self.profile.sides[side].segment;
                    #[expect(
                        clippy::cast_possible_truncation,
                        clippy::cast_sign_loss,
                        reason = "clamped to 2..=100"
                    )]
                    let steps = (segment.length() / size).round().clamp(2.0, 100.0) as u32;
                    for s in 1..steps {
                        let u = f64::from(s) / f64::from(steps);
                        let outward = -left_of(segment.tangent_at(u));
                        let Some(section) = self.section(segment.point_at(u), outward) else {
                            continue;
                        };
                        rim.round.push(RimPoint::Column(rim.edges.len()));
                        rim.edges.push(section);
                        rim.outwards.push(outward);
                        rim.turns.push(0.0);
                    }
                    if let Some((chain, _)) = rim.chains.last_mut() {
                        chain.end = rim.edges.len();
                    }
                }
            }
        }
        (rim, nodes)
    }

    /// The place of the outside whose normal goes through the middle of the sheet over a place in
    /// plan.
    pub(super) fn over_middle(&self, p: Point) -> Point {
        self.surface.map_or(p, |face| face.over(p, self.wall.thickness / 2.0))
    }

    /// The face alone, its edge free, laid on the plan as near as it goes by its first `columns`
    /// nodes.
    fn formed(&self, face: &MeshedFace, columns: usize) -> Result<(Vec<Point>, Solution), NoBlank> {
        let plan: Vec<[f64; 2]> = face.over.iter().map(|p| [p.x, p.y]).collect();
        let half = self.wall.thickness / 2.0;
        let positions: Vec<Space> =
            (0..plan.len()).map(|i| face.under(i, half, self.top())).collect();
        let surface = Face {
            plan: &plan,
            positions: &positions,
            normals: &face.normals,
            triangles: &face.triangles,
        };
        let fault = |reason: &dyn std::fmt::Display| {
            NoBlank::NoBalance(NoBalance {
                at: self.profile.bounds().center(),
                reason: format!("the face has none: {reason}"),
            })
        };
        let membrane =
            face_membrane(&surface, self.law, self.wall.thickness).map_err(|f| fault(&f))?;
        let solution = membrane.settle(&Settings::default()).map_err(|failure| fault(&failure))?;
        let motion = onto(&solution.flat[..columns], &plan[..columns]);
        let flat = solution.flat.iter().map(|[x, y]| motion * Point::new(*x, *y)).collect();
        Ok((flat, solution))
    }
}

/// The turn and shift that lay points as near as can be onto others, by least squares.
fn onto(from: &[[f64; 2]], to: &[[f64; 2]]) -> Affine {
    let count = from.len() as f64;
    let middle = |all: &[[f64; 2]]| {
        all.iter().fold(Vec2::ZERO, |sum, p| sum + Vec2::new(p[0], p[1])) / count
    };
    let (a, b) = (middle(from), middle(to));
    let (mut dot, mut cross) = (0.0, 0.0);
    for (p, q) in from.iter().zip(to) {
        let (p, q) = (Vec2::new(p[0], p[1]) - a, Vec2::new(q[0], q[1]) - b);
        dot += p.dot(q);
        cross += p.cross(q);
    }
    Affine::translate(b) * Affine::rotate(cross.atan2(dot)) * Affine::translate(-a)
}

/// Known places of a line; beyond them it goes on as it does in plan.
fn carried_on(known: &[Option<Point>], plan: &[Point]) -> Vec<Point> {
    let first = known.iter().position(Option::is_some).unwrap_or(0);
    let last = known.iter().rposition(Option::is_some).unwrap_or(0);
    let motion = |from: usize, to: usize| {
        let pair = |i: usize| known[i].map(|p| ([plan[i].x, plan[i].y], [p.x, p.y]));
        let (a, b): (Vec<[f64; 2]>, Vec<[f64; 2]>) = (from..=to).filter_map(pair).unzip();
        onto(&a, &b)
    };
    let ends =
        [motion(first, last.min(first + NEAR)), motion(last.saturating_sub(NEAR).max(first), last)];
    (0..plan.len())
        .map(|i| {
            known[i]
                .unwrap_or_else(|| if i < first { ends[0] * plan[i] } else { ends[1] * plan[i] })
        })
        .collect()
}

/// The parameter of a segment's place nearest to a point.
fn foot(segment: &Segment, p: Point) -> f64 {
    let mut u = 0.5;
    for _ in 0..30 {
        let way = segment.velocity_at(u);
        u = (u + (p - segment.point_at(u)).dot(way) / way.hypot2()).clamp(-0.5, 1.5);
    }
    u
}
