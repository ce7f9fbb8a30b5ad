//! The blank of a face with walls around it: every side's wall laid flat and joined to the next.

use super::narrow::too_narrow;
use super::one_step::{self, NoBalance, SolvedWalls};
use super::rim::{Edge, EdgeStrain, Reach, Rim};
use super::shaped::FormedFace;
use crate::fe::law::SheetLaw;
use crate::formed::Wall;
use crate::geom::{
    Loop, Point, Polyarc, Segment, Vertex, left_of, lines_and_arcs, meet, segments_between, self_crossing, vertices_of,
};
use crate::tolerance::{CURVE_TO_ARCS, SAME_POINT, SLIGHT_CORNER, SMOOTH_JOINT};

/// Rounds in which the place of a corner settles: an edge's distance changes by a few per cent along a side, so each takes the error
/// down by that.
const CORNER_ROUNDS: usize = 8;

/// Radius of the tangent line over the wall's flat width. Inside arcs below the first have no wall, whatever their neighbours do: their own
/// circle has none below 1.5 or so, sheets with little anisotropy below 1. Where a run has no solution, arcs below the second are at fault.
const HOPELESS: f64 = 0.5;
const TIGHT: f64 = 3.0;

/// A face with its walls laid flat.
#[derive(Debug, Clone)]
pub(super) struct Walled {
    /// The outline to cut, trim included.
    pub(super) cut: Polyarc,
    /// The outline of the finished walls.
    pub(super) net: Polyarc,
    /// Where the bends begin, have their middle, and end: each a chain of lines.
    pub(super) tangent_lines: Vec<Vec<Segment>>,
    pub(super) middle_lines: Vec<Vec<Segment>>,
    pub(super) end_lines: Vec<Vec<Segment>>,
    /// The finished edges of the walls.
    pub(super) net_lines: Vec<Vec<Segment>>,
    /// Where two walls must be sawn apart.
    pub(super) saw_lines: Vec<Vec<Segment>>,
    pub(super) strains: Vec<EdgeStrain>,
    /// Sharp corners between walls, with the angle turned, radians, positive convex.
    pub(super) sharp_corners: Vec<(Point, f64)>,
    /// Where a wall has no solution: the place and the outline's radius there.
    pub(super) cannot_follow: Vec<(Point, f64)>,
    /// Whether one of those walls is laid out all the same, as if it were straight.
    pub(super) as_if_straight: bool,
    /// The face, where it is not just the profile's inside.
    pub(super) face: Option<FormedFace>,
    /// Runs of walls laid flat by the forming solve.
    pub(super) solved: Vec<SolvedWalls>,
}

/// Why there is no blank.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum WalledProblem {
    /// An outside curve of this radius, mm, is tighter than the edge radius needs.
    TightCorner { at: Point, radius: f64 },
    /// Two walls face each other at this distance, mm: less than the edges of both need.
    TooNarrow { at: Point, width: f64 },
    /// Walls run into each other in the flat.
    Crossing { at: Point },
    /// Two sides find no common corner.
    NoCorner { at: Point },
    /// The forming solve has no answer.
    NoBalance(NoBalance),
    /// A face that is not level can't be so.
    Face { at: Point, reason: &'static str, help: &'static str },
}

/// How two neighbouring sides are joined.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Joint {
    /// Their walls run on into each other.
    Smooth,
    /// Walls on both sides of an outside corner: each ends square, an open corner between them.
    Convex(Point),
    /// Walls on both sides of an inside corner: mitred in the flat.
    Concave(Point),
    /// A wall ends at an open edge, or begins at one.
    WallEnds,
    WallBegins,
    /// Two open edges.
    Open,
}

/// One side: its wall or none, and the stretches that are left of it between the corners.
struct Part {
    segment: Segment,
    rim: Option<Rim>,
    /// Of the tangent line, or of an open edge itself.
    inner: (f64, f64),
    /// Left out of the blank's edge: the neighbours are mitred over it.
    skipped: bool,
}

struct Unfolding<'a> {
    parts: Vec<Part>,
    joints: Vec<Joint>,
    wall: &'a Wall,
    solved: Vec<SolvedWalls>,
}

/// Lays the walls around `face` flat. The face lies to the left of its outline, which is that of the wall's end; `has_wall` tells which
/// sides have one.
pub(super) fn unfold_walls(
    face: &Loop,
    has_wall: &dyn Fn(usize) -> bool,
    wall: &Wall,
    law: &SheetLaw,
    trim: f64,
) -> Result<Walled, WalledProblem> {
    let mut parts = Vec::new();
    for (i, side) in face.sides.iter().enumerate() {
        let segment = side.segment;
        if !has_wall(i) {
            parts.push(Part { segment, rim: None, inner: (0.0, 1.0), skipped: false });
            continue;
        }
        tight_corner(&segment, wall)?;
        let rim = Rim::new(segment, wall, law, trim);
        let skipped = rim.turns_inside_out();
        parts.push(Part { segment, rim: Some(rim), inner: (0.0, 1.0), skipped });
    }
    too_narrow(face, has_wall, wall)?;
    let mut unfolding = Unfolding { parts, joints: Vec::new(), wall, solved: Vec::new() };
    unfolding.solve_runs(face, law, trim)?;
    unfolding.join(face)?;
    unfolding.mitre_over_skipped()?;
    unfolding.walled(face, law)
}

/// Refuses an outside curve with no room for the edge radius.
pub(super) fn tight_corner(segment: &Segment, wall: &Wall) -> Result<(), WalledProblem> {
    let steps = if matches!(segment, Segment::Curve(_)) { 64 } else { 1 };
    for i in 0..=steps {
        let u = f64::from(i) / f64::from(steps);
        let curvature = segment.curvature_at(u);
        if curvature * wall.tangent_inset() > 0.999 {
            return Err(WalledProblem::TightCorner { at: segment.point_at(u), radius: 1.0 / curvature });
        }
    }
    Ok(())
}

impl Unfolding<'_> {
    /// Replaces the edges along curves by those of the solved runs of walls. Inside arcs so tight that no wall follows them are left out, to be
    /// cut apart there: those for which it is plain, and where a run has no solution its tightest, until it has one.
    fn solve_runs(&mut self, face: &Loop, law: &SheetLaw, trim: f64) -> Result<(), WalledProblem> {
        let n = self.parts.len();
        let mut apart: Vec<bool> = (0..n).map(|i| self.parts[i].skipped && self.room_inside(i, trim) < HOPELESS).collect();
        let mut waiting = self.runs(face, &apart);
        while let Some((sides, closed)) = waiting.pop() {
            let rims: Vec<&Rim> = sides.iter().filter_map(|i| self.parts[*i].rim.as_ref()).collect();
            let tight = sides.iter().any(|i| self.parts[*i].skipped) || rims.iter().any(|rim| rim.cannot_follow.is_some());
            let segments: Vec<Segment> = rims.iter().map(|rim| rim.segment).collect();
            if one_step::is_exact_already(&segments, closed) {
                continue;
            }
            match one_step::solve_run(&segments, closed, self.wall, law, trim) {
                Ok(run) => {
                    for (i, samples) in sides.iter().zip(run.sides) {
                        self.rim_mut(*i).take(samples);
                        self.parts[*i].skipped = false;
                    }
                    self.solved.push(run.walls);
                }
                Err(problem) => {
                    let room = |i: &usize| self.room_inside(*i, trim);
                    let tightest = sides.iter().copied().min_by(|a, b| room(a).total_cmp(&room(b)));
                    match tightest.filter(|i| room(i) < TIGHT) {
                        Some(i) => {
                            apart[i] = true;
                            let left = self.runs(face, &apart).into_iter();
                            waiting.extend(left.filter(|(run, _)| run.iter().all(|i| sides.contains(i))));
                        }
                        None if tight => {}
                        None => return Err(WalledProblem::NoBalance(problem)),
                    }
                }
            }
        }
        for (part, apart) in self.parts.iter_mut().zip(apart) {
            part.skipped |= apart;
        }
        Ok(())
    }

    /// The runs of walls that go on smoothly, sides that are cut apart left out.
    fn runs(&self, face: &Loop, apart: &[bool]) -> Vec<(Vec<usize>, bool)> {
        let n = self.parts.len();
        let walled = |i: usize| self.parts[i].rim.is_some() && !apart[i];
        let goes_on: Vec<bool> =
            (0..n).map(|i| walled(i) && walled((i + 1) % n) && face.turn_before((i + 1) % n).abs() < SMOOTH_JOINT).collect();
        one_step::runs(&walled, &goes_on)
    }

    /// The radius of the tangent line along an inside arc over the flat width of its wall; infinite for all else.
    fn room_inside(&self, i: usize, trim: f64) -> f64 {
        let segment = &self.parts[i].segment;
        let curvature = segment.curvature_at(0.5);
        if self.parts[i].rim.is_none() || !matches!(segment, Segment::Arc { .. }) || curvature >= 0.0 {
            return f64::INFINITY;
        }
        (self.wall.tangent_inset() - 1.0 / curvature) / (self.wall.flat_width() + trim)
    }

    fn join(&mut self, face: &Loop) -> Result<(), WalledProblem> {
        let n = self.parts.len();
        let reaches: Vec<_> = self.parts.iter().map(|p| p.rim.as_ref().map(|rim| (rim.reach(false), rim.reach(true)))).collect();
        for i in 0..n {
            let next = (i + 1) % n;
            let corner = self.parts[i].segment.to();
            let turn = face.turn_before(next);
            let joint = match (reaches[i], reaches[next]) {
                (Some((_, own)), Some((other, _))) if turn.abs() < SLIGHT_CORNER => {
                    self.run_on(i, next, turn, own, other)?;
                    Joint::Smooth
                }
                (Some(_), Some(_)) => self.sharp(i, next, turn, corner)?,
                (Some(_), None) => {
                    self.wall_ends(i, next, corner)?;
                    Joint::WallEnds
                }
                (None, Some(_)) => {
                    self.wall_begins(i, next, corner)?;
                    Joint::WallBegins
                }
                (None, None) => Joint::Open,
            };
            self.joints.push(joint);
        }
        Ok(())
    }

    /// Two walls that go on into each other: both edges are led to one reach, which is the nearer to a side's own the straighter it is.
    fn run_on(&mut self, i: usize, next: usize, turn: f64, own: Reach, other: Reach) -> Result<(), WalledProblem> {
        if self.parts[i].skipped || self.parts[next].skipped {
            return Ok(());
        }
        let bent = own.curvature.abs() + other.curvature.abs();
        let share = if bent > 0.0 { own.curvature.abs() / bent } else { 0.5 };
        let shared = Reach { out: std::array::from_fn(|k| own.out[k] + (other.out[k] - own.out[k]) * share), ..own };
        let inset = self.wall.tangent_inset();
        self.rim_mut(i).blend(true, shared, inset);
        self.rim_mut(next).blend(false, shared, inset);
        if turn.abs() < SMOOTH_JOINT {
            return Ok(());
        }
        let at = self.parts[i].segment.to();
        (self.parts[i].inner.1, self.parts[next].inner.0) =
            meet(&[self.parts[i].segment], inset, &[self.parts[next].segment], inset).ok_or(WalledProblem::NoCorner { at })?;
        self.mitre(i, next, at)
    }

    fn rim_mut(&mut self, i: usize) -> &mut Rim {
        self.parts[i].rim.as_mut().expect("called for sides with a wall")
    }

    fn sharp(&mut self, i: usize, next: usize, turn: f64, at: Point) -> Result<Joint, WalledProblem> {
        let inset = self.wall.tangent_inset();
        let (first, second) = (self.parts[i].segment, self.parts[next].segment);
        let (u, v) = meet(&[first], inset, &[second], inset).ok_or(WalledProblem::NoCorner { at })?;
        self.parts[i].inner.1 = u;
        self.parts[next].inner.0 = v;
        let corner = first.point_at(u) + left_of(first.tangent_at(u)) * inset;
        if turn > 0.0 {
            for edge in Edge::ALL {
                self.set_range(i, edge, None, Some(u));
                self.set_range(next, edge, Some(v), None);
            }
            return Ok(Joint::Convex(corner));
        }
        self.mitre(i, next, at)?;
        Ok(Joint::Concave(corner))
    }

    /// Two walls' edges end where they meet.
    fn mitre(&mut self, i: usize, next: usize, at: Point) -> Result<(), WalledProblem> {
        for edge in Edge::ALL {
            let none = WalledProblem::NoCorner { at };
            let (mut u, mut v) = (1.0, 0.0);
            // An edge's distance may change along its side: where they meet is found in a few rounds.
            for _ in 0..CORNER_ROUNDS {
                let (a, b) = (self.out(i, u, edge), self.out(next, v, edge));
                (u, v) = meet(&[self.parts[i].segment], -a, &[self.parts[next].segment], -b).ok_or(none.clone())?;
            }
            self.set_range(i, edge, None, Some(u));
            self.set_range(next, edge, Some(v), None);
        }
        Ok(())
    }

    /// From a side out to its wall's edge; nothing where it has none.
    fn out(&self, i: usize, u: f64, edge: Edge) -> f64 {
        self.parts[i].rim.as_ref().map_or(0.0, |rim| rim.out(u, edge).0)
    }

    fn set_range(&mut self, i: usize, edge: Edge, from: Option<f64>, to: Option<f64>) {
        let Some(rim) = &mut self.parts[i].rim else { return };
        let range = &mut rim.ranges[edge as usize];
        *range = (from.unwrap_or(range.0), to.unwrap_or(range.1));
    }

    fn wall_ends(&mut self, i: usize, open: usize, at: Point) -> Result<(), WalledProblem> {
        let none = WalledProblem::NoCorner { at };
        let (walled, edge) = (self.parts[i].segment, self.parts[open].segment);
        let (u, v) = meet(&[walled], self.wall.tangent_inset(), &[edge], 0.0).ok_or(none.clone())?;
        self.parts[i].inner.1 = u;
        self.parts[open].inner.0 = v;
        for line in Edge::ALL {
            let mut u = 1.0;
            for _ in 0..CORNER_ROUNDS {
                let inset = self.wall.inset_at(self.out(i, u, line) + self.wall.tangent_inset());
                u = meet(&[walled], inset, &[edge], 0.0).ok_or(none.clone())?.0;
            }
            self.set_range(i, line, None, Some(u));
        }
        Ok(())
    }

    fn wall_begins(&mut self, open: usize, i: usize, at: Point) -> Result<(), WalledProblem> {
        let none = WalledProblem::NoCorner { at };
        let (walled, edge) = (self.parts[i].segment, self.parts[open].segment);
        let (u, v) = meet(&[edge], 0.0, &[walled], self.wall.tangent_inset()).ok_or(none.clone())?;
        self.parts[open].inner.1 = u;
        self.parts[i].inner.0 = v;
        for line in Edge::ALL {
            let mut v = 0.0;
            for _ in 0..CORNER_ROUNDS {
                let inset = self.wall.inset_at(self.out(i, v, line) + self.wall.tangent_inset());
                v = meet(&[edge], 0.0, &[walled], inset).ok_or(none.clone())?.1;
            }
            self.set_range(i, line, Some(v), None);
        }
        Ok(())
    }

    fn mitre_over_skipped(&mut self) -> Result<(), WalledProblem> {
        let n = self.parts.len();
        if self.parts.iter().all(|p| p.skipped || p.rim.is_none()) && self.parts.iter().any(|p| p.skipped) {
            return Err(WalledProblem::Crossing { at: self.parts[0].segment.from() });
        }
        for i in 0..n {
            let next = (i + 1) % n;
            if self.parts[i].skipped || !self.parts[next].skipped {
                continue;
            }
            let mut last = next;
            while self.parts[last].skipped {
                last = (last + 1) % n;
            }
            let at = self.parts[next].segment.point_at(0.5);
            if self.parts[i].rim.is_none() || self.parts[last].rim.is_none() {
                return Err(WalledProblem::Crossing { at });
            }
            self.mitre(i, last, at)?;
        }
        Ok(())
    }

    /// Where walls are cut apart over sides that are left out from `skipped` on: from where the edges meet in to the middle of the tangent line.
    fn slit(&self, before: usize, skipped: usize) -> Vec<Segment> {
        let n = self.parts.len();
        let count = (0..n).take_while(|k| self.parts[(skipped + k) % n].skipped).count();
        let lengths: Vec<f64> = (0..count).map(|k| self.parts[(skipped + k) % n].segment.length()).collect();
        let mut rest = lengths.iter().sum::<f64>() / 2.0;
        let mut k = 0;
        while k + 1 < count && rest > lengths[k] {
            rest -= lengths[k];
            k += 1;
        }
        let (segment, u) = (&self.parts[(skipped + k) % n].segment, rest / lengths[k]);
        let to = segment.point_at(u) + left_of(segment.tangent_at(u)) * self.wall.tangent_inset();
        vec![Segment::Line { from: self.rim_end(before, Edge::Cut), to }]
    }

    fn outline(&self, edge: Edge) -> Result<Polyarc, WalledProblem> {
        let mut vertices: Vec<Vertex> = Vec::new();
        let n = self.parts.len();
        for (i, part) in self.parts.iter().enumerate() {
            if part.skipped {
                continue;
            }
            let corner = |point: Point| Vertex { point, bulge: 0.0 };
            match &part.rim {
                None => vertices.extend(vertices_of(&part.segment.between(part.inner.0, part.inner.1), CURVE_TO_ARCS)),
                Some(rim) => {
                    let at = rim.segment.point_at(0.5);
                    vertices.extend(rim.edge(edge).ok_or(WalledProblem::Crossing { at })?);
                }
            }
            match self.joints[i] {
                Joint::Convex(inner) => {
                    vertices.push(corner(self.rim_end(i, edge)));
                    vertices.push(corner(inner));
                }
                Joint::WallEnds => {
                    vertices.push(corner(self.rim_end(i, edge)));
                    vertices.extend(self.wall_end_line(i, (i + 1) % n, true, edge).into_iter().map(corner));
                }
                Joint::WallBegins => {
                    vertices.push(corner(part.segment.point_at(part.inner.1)));
                    let mut line = self.wall_end_line((i + 1) % n, i, false, edge);
                    line.reverse();
                    vertices.extend(line.into_iter().map(corner));
                }
                Joint::Smooth | Joint::Concave(_) | Joint::Open => {}
            }
        }
        Ok(Polyarc { vertices }.tidied())
    }

    fn rim_end(&self, i: usize, edge: Edge) -> Point {
        let rim = self.parts[i].rim.as_ref().expect("called for sides with a wall");
        rim.edge_point(rim.ranges[edge as usize].1, edge)
    }

    /// The developed end of a wall at an open edge, from its free edge to its tangent line, without either end. The open edge's plane cuts
    /// the bend where the neutral line of the metal passes through it, which is a straight line only where the edge is square to the wall.
    fn wall_end_line(&self, i: usize, open: usize, at_end: bool, line: Edge) -> Vec<Point> {
        let (walled, edge) = (self.parts[i].segment, self.parts[open].segment);
        let range = self.parts[i].rim.as_ref().map_or((0.0, 1.0), |rim| rim.ranges[line as usize]);
        let width = self.out(i, if at_end { range.1 } else { range.0 }, line) + self.wall.tangent_inset();
        let tangent = self.parts[i].inner;
        let steps = self.steps_round_bend(&walled, &edge, at_end);
        let points: Vec<(f64, Point)> = (1..steps)
            .filter_map(|k| {
                // Close steps round the bend, one long one up the wall.
                let flat = self.wall.allowance().min(width) * f64::from(steps - k) / f64::from(steps - 1);
                let inset = self.wall.inset_at(flat);
                let u = if at_end { meet(&[walled], inset, &[edge], 0.0)?.0 } else { meet(&[edge], 0.0, &[walled], inset)?.1 };
                let out = flat - self.wall.tangent_inset();
                Some((u, walled.point_at(u) - left_of(walled.tangent_at(u)) * out))
            })
            .collect();
        let end = if at_end { tangent.1 } else { tangent.0 };
        let square = points.iter().all(|(u, _)| (u - end).abs() * walled.length() < SAME_POINT);
        if square { Vec::new() } else { points.into_iter().map(|(_, p)| p).collect() }
    }

    /// Into how many chords the developed end of a bend is cut: it strays from straight as R (a - sin a) cot(angle between edge and wall)
    /// does, with the curvature cot/R at most.
    fn steps_round_bend(&self, walled: &Segment, edge: &Segment, at_end: bool) -> u32 {
        let (wall_ways, edge_ways) = if at_end { (1.0, 0.0) } else { (0.0, 1.0) };
        let (a, b) = (walled.tangent_at(wall_ways), edge.tangent_at(edge_ways));
        let cotangent = (a.dot(b) / a.cross(b)).abs();
        let neutral = self.wall.inside_radius + self.wall.k_factor * self.wall.thickness;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 12..=400")]
        let steps =
            (self.wall.allowance() * (cotangent / neutral / (8.0 * CURVE_TO_ARCS)).sqrt()).ceil().clamp(12.0, 400.0) as u32;
        steps
    }

    /// The line at `flat` mm from the tangent line along every walled side, as chains.
    fn lines_at(&self, flat: f64) -> Vec<Vec<Segment>> {
        let inset = self.wall.tangent_inset() - flat;
        self.chains(&|i, part| {
            let range = self.line_range(i, flat)?;
            part.rim.as_ref().and_then(|rim| rim.inner_line(inset, range)).map(|pieces| lines_and_arcs(&pieces, CURVE_TO_ARCS))
        })
    }

    /// The stretch of side `i` along which the line at `flat` mm from the tangent line runs: to where the planes of open edges cut it.
    fn line_range(&self, i: usize, flat: f64) -> Option<(f64, f64)> {
        let n = self.parts.len();
        let (before, after) = ((i + n - 1) % n, (i + 1) % n);
        let (segment, inset) = (self.parts[i].segment, self.wall.inset_at(flat));
        let from = match self.joints[before] {
            Joint::WallBegins => meet(&[self.parts[before].segment], 0.0, &[segment], inset)?.1,
            _ => self.parts[i].inner.0,
        };
        let to = match self.joints[i] {
            Joint::WallEnds => meet(&[segment], inset, &[self.parts[after].segment], 0.0)?.0,
            _ => self.parts[i].inner.1,
        };
        Some((from, to))
    }

    /// The finished edges of the walls, as chains.
    fn net_lines(&self) -> Vec<Vec<Segment>> {
        self.chains(&|i, part| {
            let rim = part.rim.as_ref().filter(|_| !part.skipped)?;
            Some(segments_between(&rim.edge(Edge::Seam)?, self.rim_end(i, Edge::Seam)))
        })
    }

    /// What `line` gives for each side, chained wherever walls run on into each other.
    fn chains(&self, line: &dyn Fn(usize, &Part) -> Option<Vec<Segment>>) -> Vec<Vec<Segment>> {
        let mut chains: Vec<Vec<Segment>> = Vec::new();
        let mut open = true;
        for (i, part) in self.parts.iter().enumerate() {
            let Some(pieces) = line(i, part) else {
                open = true;
                continue;
            };
            match chains.last_mut() {
                Some(chain) if !open => chain.extend(pieces),
                _ => chains.push(pieces),
            }
            open = !matches!(self.joints[i], Joint::Smooth);
        }
        // A run that goes on over the start of the outline is one chain.
        if chains.len() > 1 && !open && self.parts[0].rim.is_some() {
            let first = chains.remove(0);
            if let Some(last) = chains.last_mut() {
                last.extend(first);
            }
        }
        chains
    }

    fn walled(self, face: &Loop, law: &SheetLaw) -> Result<Walled, WalledProblem> {
        let cut = self.outline(Edge::Cut)?;
        let net = self.outline(Edge::Net)?;
        if let Some(crossing) = self_crossing(&cut) {
            return Err(WalledProblem::Crossing { at: crossing.at });
        }
        let inset = self.wall.tangent_inset();
        let mut sharp_corners = Vec::new();
        let mut saw_lines = Vec::new();
        for (i, joint) in self.joints.iter().enumerate() {
            let next = (i + 1) % self.parts.len();
            match joint {
                Joint::Convex(_) => sharp_corners.push((self.parts[i].segment.to(), face.turn_before(next))),
                Joint::Concave(inner) => {
                    sharp_corners.push((self.parts[i].segment.to(), face.turn_before(next)));
                    saw_lines.push(vec![Segment::Line { from: self.rim_end(i, Edge::Cut), to: *inner }]);
                }
                _ => {}
            }
            if !self.parts[i].skipped && self.parts[next].skipped {
                saw_lines.push(self.slit(i, next));
            }
        }
        let mut strains = Vec::new();
        let mut cannot_follow = Vec::new();
        let mut as_if_straight = false;
        let mut along = 0.0;
        for part in &self.parts {
            if let Some(rim) = &part.rim {
                if !part.skipped {
                    strains.extend(rim.strains(along, inset, law));
                }
                cannot_follow.extend(rim.cannot_follow);
                as_if_straight |= rim.cannot_follow.is_some() && !part.skipped;
                if part.skipped && rim.cannot_follow.is_none() {
                    cannot_follow.push((rim.segment.point_at(0.5), 1.0 / rim.segment.curvature_at(0.5)));
                }
            }
            along += part.segment.length();
        }
        let bend = self.wall.allowance();
        Ok(Walled {
            cut,
            net,
            tangent_lines: self.lines_at(0.0),
            middle_lines: self.lines_at(bend / 2.0),
            end_lines: self.lines_at(bend),
            net_lines: self.net_lines(),
            saw_lines,
            strains,
            sharp_corners,
            cannot_follow,
            as_if_straight,
            face: None,
            solved: self.solved,
        })
    }
}
