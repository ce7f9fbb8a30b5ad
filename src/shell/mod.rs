//! A half-shell in space, and its blank: takes a profile with the walls around it, gives where
//! their metal lies in the flat.
//!
//! Millimetres and radians.
#![doc = include_str!("METHOD.md")]

mod blank;
mod columns;
mod crown;
mod darts;
mod ends;
mod even_metal;
mod face;
mod face_flat;
mod finish;
mod formed_face;
mod line;
mod narrow;
mod rolled_edge;
mod run;
mod strain;
mod wall;

#[cfg(test)]
mod tests;

pub use blank::{SharpCorner, ShellBlank};
pub use darts::{Dart, relief_darts};
pub use face::{Face as ShellFace, FaceProblem};
pub use formed_face::FormedFace;
pub use rolled_edge::RolledEdge;
pub use strain::{EdgeStrain, Metal, Quality, SolvedWalls};
pub use wall::{Wall, WallProblem};

use self::blank::Blank;
use self::columns::Sides;
use self::ends::End;
use self::narrow::too_narrow;
use self::run::{LaidRun, Run};
use crate::fe::law::SheetLaw;
use crate::geom::{Loop, Point, Polyarc, Segment, Side, Vec2, Vertex, fit_samples};
use crate::part::Join;
use crate::tolerance::{CURVE_TO_ARCS, SAME_POINT, SLIGHT_CORNER};

/// Radius of the tangent line over the wall's flat width. Inside curves below the first have no
/// wall, whatever their neighbours do: their own circle has none below 1.5 or so, sheets with
/// little anisotropy below 1. Where a run has no solution, arcs below the second are at fault.
const HOPELESS: f64 = 0.5;
const TIGHT: f64 = 3.0;
/// Where such a curve is no arc, it is cut apart as far as it is no wider than so many times its
/// tightest place.
const WIDER: f64 = 1.15;

/// Corners up to this, radians, are hammered round rather than cut apart, so that polygons that
/// stand for a curve are made as it is; judgement, no source.
pub(crate) const BLUNT_CORNER: f64 = 0.12;

/// Corners up to this, radians, may be hammered round where the walls' edges find no place to meet.
const HAMMERED_ROUND: f64 = 0.8;

/// Walls for which no blank was found: where, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct NoBalance {
    /// The place on the outline.
    pub at: Point,
    /// Why.
    pub reason: String,
}

/// Why there is no blank.
#[derive(Debug, Clone, PartialEq)]
pub enum NoBlank {
    /// An outside curve of this radius, mm, is tighter than the edge radius needs.
    TightCorner {
        /// The place on the outline.
        at: Point,
        /// Its radius, mm.
        radius: f64,
    },
    /// Two walls face each other at this distance, mm: less than the edges of both need.
    TooNarrow {
        /// Between them.
        at: Point,
        /// Their distance, mm.
        width: f64,
    },
    /// Walls run into each other in the flat.
    Crossing {
        /// The place in the flat.
        at: Point,
    },
    /// Two sides find no common corner.
    NoCorner {
        /// The corner of the outline.
        at: Point,
    },
    /// The wall round a whole circle has no solution: its metal is used up before its edge.
    UsedUp {
        /// The place on the outline.
        at: Point,
    },
    /// The forming solve has no answer.
    NoBalance(NoBalance),
    /// A face that is not level can't be so.
    Face {
        /// The place on the outline.
        at: Point,
        /// What is wrong.
        reason: &'static str,
        /// What would be right.
        help: &'static str,
    },
}

/// Walls around a face, to be laid flat.
#[derive(Clone, Copy)]
pub struct Shell<'a> {
    /// The outline of the walls' ends, the face to its left.
    pub profile: &'a Loop,
    /// Which of its sides have a wall.
    pub has_wall: &'a dyn Fn(usize) -> bool,
    /// The outside of the face; none where it is level.
    pub surface: Option<&'a ShellFace>,
    /// The wall's section, where the shell is deepest.
    pub wall: &'a Wall,
    /// The sheet's law.
    pub law: &'a SheetLaw,
    /// Metal that stays beyond the finished edge, mm.
    pub trim: f64,
    /// Height of the bulge over the face, mm.
    pub crown: f64,
    /// How walls meet at sharp outside corners.
    pub join: Join,
    /// What a side without a wall is cut back to after forming; none where it is finished.
    pub finished: &'a dyn Fn(usize) -> Option<Segment>,
}

/// A stretch of the outline.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Stretch {
    /// This side has no wall.
    Open(usize),
    /// This side's curve is too tight for a wall, which is cut apart there.
    Apart(usize),
    /// This run of walls.
    Run(usize),
}

/// A run of walls as it is first known: its sides, whether it closes.
type Group = (Vec<usize>, bool);

/// The walls in space, before anything is laid flat.
struct Standing<'a> {
    stretches: Vec<Stretch>,
    /// What stands between each stretch and the next.
    corners: Vec<ends::Corner>,
    runs: Vec<Run<'a>>,
}

impl Shell<'_> {
    /// Lays the shell flat. Inside curves so tight that no wall follows them are cut apart: those
    /// for which it is plain, and where a run has no solution its tightest, until it has one. A run
    /// that has none for another reason is tried with the blunt corners at its ends hammered round.
    pub fn lay_flat(&self) -> Result<ShellBlank, NoBlank> {
        self.lay_flat_cut_apart(&[])
    }

    /// As [`Self::lay_flat`], some sides being cut apart from the start.
    fn lay_flat_cut_apart(&self, slits: &[usize]) -> Result<ShellBlank, NoBlank> {
        let count = self.profile.sides.len();
        for i in (0..count).filter(|i| (self.has_wall)(*i)) {
            self.tight_corner(&self.profile.sides[i].segment)?;
        }
        too_narrow(self.profile, self.has_wall, self.wall)?;
        let mut apart: Vec<bool> =
            (0..count).map(|i| slits.contains(&i) || self.room_inside(i) < HOPELESS).collect();
        let mut goes_on: Vec<bool> =
            (0..count).map(|i| self.turn_after(i).abs() < BLUNT_CORNER).collect();
        let mut known: Vec<LaidRun> = Vec::new();
        loop {
            // Walls of different widths, whose edges do not meet although they turn, are one wall
            // that is hammered round.
            let blunt_after = |i: usize, goes_on: &[bool]| {
                let walled = (self.has_wall)(i) && (self.has_wall)((i + 1) % count);
                walled && !goes_on[i] && self.turn_after(i).abs() < HAMMERED_ROUND
            };
            let (sides, problem) = match self.attempt(&apart, &goes_on, &mut known) {
                Ok(mut blank) => {
                    let round = (0..count)
                        .filter(|i| goes_on[*i] && self.turn_after(*i).abs() >= SLIGHT_CORNER);
                    blank.hammered_round = round
                        .map(|i| (self.profile.sides[i].segment.to(), self.turn_after(i)))
                        .collect();
                    return Ok(blank);
                }
                Err(Fault::Run(sides, problem)) => (sides, problem),
                Err(Fault::Shell(NoBlank::NoCorner { at })) => {
                    let here =
                        |i: &usize| self.profile.sides[*i].segment.to().distance(at) < SAME_POINT;
                    match (0..count).filter(here).find(|i| blunt_after(*i, &goes_on)) {
                        Some(i) => goes_on[i] = true,
                        None => return Err(NoBlank::NoCorner { at }),
                    }
                    continue;
                }
                Err(Fault::Shell(problem)) => return Err(problem),
            };
            if let Some(i) = self.tightest_arc(&sides) {
                apart[i] = true;
                continue;
            }
            let before_first = sides.first().map(|i| (i + count - 1) % count);
            let mut ends = before_first.into_iter().chain(sides.last().copied());
            if let Some(i) = ends.find(|i| blunt_after(*i, &goes_on)) {
                goes_on[i] = true;
                continue;
            }
            let Some((side, from, to)) = self.tightest_stretch(&sides) else {
                return Err(NoBlank::NoBalance(problem));
            };
            let slits: Vec<usize> = (0..count).filter(|i| apart[*i]).collect();
            return self.with_slit(side, (from, to), &slits);
        }
    }

    /// As [`Self::lay_flat_cut_apart`], with a stretch of a side cut apart too.
    fn with_slit(
        &self,
        side: usize,
        (from, to): (f64, f64),
        slits: &[usize],
    ) -> Result<ShellBlank, NoBlank> {
        let (mut sides, mut of, mut apart) = (Vec::new(), Vec::new(), Vec::new());
        for (i, old) in self.profile.sides.iter().enumerate() {
            let cuts = if i == side { vec![0.0, from, to, 1.0] } else { vec![0.0, 1.0] };
            for piece in cuts.windows(2).filter(|piece| piece[1] - piece[0] > 1e-9) {
                if slits.contains(&i) || (i == side && piece[0] == from) {
                    apart.push(sides.len());
                }
                let whole = piece[1] - piece[0] == 1.0;
                let segment =
                    if whole { old.segment } else { old.segment.between(piece[0], piece[1]) };
                sides.push(Side { segment, ..*old });
                of.push(i);
            }
        }
        let profile = Loop { sides };
        let has_wall = |i: usize| (self.has_wall)(of[i]);
        let finished = |i: usize| (self.finished)(of[i]);
        Shell { profile: &profile, has_wall: &has_wall, finished: &finished, ..*self }
            .lay_flat_cut_apart(&apart)
    }

    /// The face by itself, of walls that have no blank; none where it is level. Its outline in the
    /// flat is that of its tangent lines and open edges, which at sharp inside corners run past
    /// each other.
    pub fn face_alone(&self) -> Result<Option<FormedFace>, NoBlank> {
        let Some(surface) = self.surface else { return Ok(None) };
        let count = self.profile.sides.len();
        let apart: Vec<bool> = (0..count).map(|i| self.room_inside(i) < HOPELESS).collect();
        let goes_on: Vec<bool> =
            (0..count).map(|i| self.turn_after(i).abs() < BLUNT_CORNER).collect();
        let nowhere = |fault: Fault| match fault {
            Fault::Run(_, problem) => NoBlank::NoBalance(problem),
            Fault::Shell(problem) => problem,
        };
        let groups = self.groups(&apart, &goes_on);
        let segments = self.segments_of(&groups);
        let Standing { stretches, corners, mut runs } =
            self.standing(&apart, &groups, &segments).map_err(nowhere)?;
        let face = self.face_flat(&mut runs, &stretches, &corners)?;
        let mut outline: Vec<Vertex> = Vec::new();
        // Open edges are straight here, or nearly: nothing but the clamp plate goes by it.
        for stretch in &stretches {
            let Stretch::Run(r) = *stretch else { continue };
            let (from, to) = runs[r].own();
            let points = &face.tangents[r][from..=to];
            let samples: Vec<(Point, Vec2)> =
                points.iter().copied().zip(line::directions(points, false)).collect();
            outline.extend(fit_samples(&samples, CURVE_TO_ARCS));
            outline.push(Vertex { point: points[points.len() - 1], bulge: 0.0 });
        }
        let outline = Polyarc { vertices: outline }.tidied();
        Ok(Some(FormedFace { outline, surface: surface.clone(), mesh: face.mesh, finished: None }))
    }

    /// The angle by which the outline turns after a side, radians, positive convex.
    fn turn_after(&self, side: usize) -> f64 {
        self.profile.turn_before((side + 1) % self.profile.sides.len())
    }

    /// The segments of each run's sides.
    fn segments_of(&self, groups: &[Group]) -> Vec<Vec<Segment>> {
        groups
            .iter()
            .map(|(sides, _)| sides.iter().map(|i| self.profile.sides[*i].segment).collect())
            .collect()
    }

    /// The runs of walls as they stand in space.
    fn standing<'s>(
        &'s self,
        apart: &[bool],
        groups: &[Group],
        segments: &'s [Vec<Segment>],
    ) -> Result<Standing<'s>, Fault> {
        let stretches = self.stretches(groups, apart);
        if groups.is_empty() && apart.contains(&true) {
            return Err(Fault::Shell(NoBlank::UsedUp { at: self.profile.sides[0].segment.from() }));
        }
        let (corners, ends) = self.corners(&stretches, groups, segments).map_err(Fault::Shell)?;
        let mut runs = Vec::new();
        for (k, (sides, closed)) in groups.iter().enumerate() {
            let own = Sides { segments: &segments[k], closed: *closed };
            runs.push(Run::new(self, sides.clone(), own, ends[k])?);
        }
        Ok(Standing { stretches, corners, runs })
    }

    fn attempt(
        &self,
        apart: &[bool],
        goes_on: &[bool],
        known: &mut Vec<LaidRun>,
    ) -> Result<ShellBlank, Fault> {
        let groups = self.groups(apart, goes_on);
        let segments = self.segments_of(&groups);
        let Standing { stretches, corners, mut runs } = self.standing(apart, &groups, &segments)?;
        let face = self.face_flat(&mut runs, &stretches, &corners).map_err(Fault::Shell)?;
        let mut laid = Vec::new();
        for (run, tangent) in runs.iter().zip(&face.tangents) {
            // Under a level face a run hangs on nothing but itself and its ends.
            if let Some(found) = known.iter().find(|old| self.surface.is_none() && old.is_of(run)) {
                laid.push(found.clone());
                continue;
            }
            let found = run.lay_flat(tangent)?;
            known.push(found.clone());
            laid.push(found);
        }
        Blank { shell: self, stretches, corners, runs: laid, face }
            .assembled()
            .map_err(Fault::Shell)
    }

    /// Refuses an outside curve with no room for the edge radius.
    fn tight_corner(&self, segment: &Segment) -> Result<(), NoBlank> {
        let steps = if matches!(segment, Segment::Curve(_)) { 64 } else { 1 };
        for i in 0..=steps {
            let u = f64::from(i) / f64::from(steps);
            let curvature = segment.curvature_at(u);
            if curvature * self.wall.tangent_inset() > 0.999 {
                return Err(NoBlank::TightCorner {
                    at: segment.point_at(u),
                    radius: 1.0 / curvature,
                });
            }
        }
        Ok(())
    }

    /// The least radius of the tangent line along a side's inside curve over the flat width of its
    /// wall; infinite where it has none.
    fn room_inside(&self, side: usize) -> f64 {
        let segment = &self.profile.sides[side].segment;
        if !(self.has_wall)(side) {
            return f64::INFINITY;
        }
        let steps = if matches!(segment, Segment::Curve(_)) { 64 } else { 1 };
        (0..=steps)
            .map(|i| self.room_at(side, f64::from(i) / f64::from(steps)))
            .fold(f64::INFINITY, f64::min)
    }

    /// As [`Self::room_inside`], at one place.
    fn room_at(&self, side: usize, u: f64) -> f64 {
        let curvature = self.profile.sides[side].segment.curvature_at(u);
        let radius = if curvature < 0.0 {
            self.wall.tangent_inset() - 1.0 / curvature
        } else {
            f64::INFINITY
        };
        radius / (self.wall.flat_width() + self.trim)
    }

    /// The tightest inside arc of these sides, if it is so tight that a wall that has no answer has
    /// none because of it.
    fn tightest_arc(&self, sides: &[usize]) -> Option<usize> {
        let arcs = sides
            .iter()
            .copied()
            .filter(|i| matches!(self.profile.sides[*i].segment, Segment::Arc { .. }));
        let tightest = arcs.min_by(|a, b| self.room_inside(*a).total_cmp(&self.room_inside(*b)));
        tightest.filter(|i| self.room_inside(*i) < TIGHT)
    }

    /// The tightest stretch of inside curves that are no arcs, where it is so tight that a run that
    /// has no answer has none because of it: side and parameters.
    fn tightest_stretch(&self, sides: &[usize]) -> Option<(usize, f64, f64)> {
        let curves = sides
            .iter()
            .copied()
            .filter(|i| matches!(self.profile.sides[*i].segment, Segment::Curve(_)));
        let side = curves.min_by(|a, b| self.room_inside(*a).total_cmp(&self.room_inside(*b)))?;
        let least = self.room_inside(side);
        if least >= TIGHT {
            return None;
        }
        let steps = 256_u32;
        let place = |i: u32| f64::from(i) / f64::from(steps);
        let tightest = (0..=steps).min_by(|a, b| {
            self.room_at(side, place(*a)).total_cmp(&self.room_at(side, place(*b)))
        })?;
        let is_tight = |i: &u32| self.room_at(side, place(*i)) < (WIDER * least).max(2.0);
        let (mut from, mut to) = (tightest, tightest);
        while from > 0 && is_tight(&(from - 1)) {
            from -= 1;
        }
        while to < steps && is_tight(&(to + 1)) {
            to += 1;
        }
        // A curve that is tight at its end is so in the next one too, which is cut by itself.
        Some((side, place(from.min(steps - 1)), place(to.max(from + 1))))
    }

    /// The runs of walls whose sides go on into each other, each with whether it closes.
    fn groups(&self, apart: &[bool], smooth: &[bool]) -> Vec<Group> {
        let n = self.profile.sides.len();
        let walled = |i: usize| (self.has_wall)(i) && !apart[i];
        let goes_on = |i: usize| walled(i) && walled((i + 1) % n) && smooth[i];
        let Some(last_end) = (0..n).find(|i| !goes_on(*i)) else {
            return vec![((0..n).collect(), true)];
        };
        let mut groups: Vec<Group> = Vec::new();
        let mut open = false;
        for k in 1..=n {
            let i = (last_end + k) % n;
            if walled(i) {
                match groups.last_mut() {
                    Some((run, _)) if open => run.push(i),
                    _ => groups.push((vec![i], false)),
                }
            }
            open = goes_on(i);
        }
        groups
    }

    /// The outline as stretches in order, the first one after an end if there is any.
    fn stretches(&self, groups: &[Group], apart: &[bool]) -> Vec<Stretch> {
        let n = self.profile.sides.len();
        let run_of = |side: usize| groups.iter().position(|(sides, _)| sides.contains(&side));
        let first = groups.first().map_or(0, |(sides, _)| sides[0]);
        let mut stretches: Vec<Stretch> = Vec::new();
        for k in 0..n {
            let side = (first + k) % n;
            match (run_of(side), stretches.last()) {
                (Some(run), Some(Stretch::Run(last))) if run == *last => {}
                (Some(run), _) => stretches.push(Stretch::Run(run)),
                (None, _) if apart[side] => stretches.push(Stretch::Apart(side)),
                (None, _) => stretches.push(Stretch::Open(side)),
            }
        }
        stretches
    }

    /// Whether the face strains as it is formed.
    fn is_formed(&self) -> bool {
        self.crown > 0.0 || self.surface.is_some_and(|face| !face.is_developable())
    }

    fn outside_radius(&self) -> f64 {
        self.wall.inside_radius + self.wall.thickness
    }

    fn mid_radius(&self) -> f64 {
        self.wall.inside_radius + self.wall.thickness / 2.0
    }

    /// The height of z = 0 in what is shown of the formed shell: the middle of the sheet where it
    /// is deepest.
    fn top(&self) -> f64 {
        self.wall.depth - self.wall.thickness / 2.0
    }

    fn stretch_of_bend(&self) -> f64 {
        self.wall.ring_section(0.0, 0.0).stretch_of_bend
    }

    /// The section of edge and wall at a place of the profile.
    fn section(&self, at: Point, outward: Vec2) -> Option<RolledEdge> {
        match self.surface {
            None => Some(RolledEdge::level(self.wall, at, outward)),
            Some(face) => {
                RolledEdge::new(face, at, outward, self.wall.lean(), self.outside_radius())
            }
        }
    }
}

/// What stopped an attempt.
enum Fault {
    /// The run of these sides has no solution.
    Run(Vec<usize>, NoBalance),
    /// Something that cutting apart does not mend.
    Shell(NoBlank),
}

/// The ends of a run; none where it closes.
type Ends = [Option<End>; 2];
