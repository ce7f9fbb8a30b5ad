//! How runs of walls end, and what stands between them.

use super::columns::{Place, Sides, beyond};
use super::{Ends, Group, NoBlank, Shell, Stretch};
use crate::geom::{Point, Segment, left_of};
use crate::part::Join;
use crate::tolerance::SLIGHT_CORNER;

/// A run that is to be mitred is solved longer than it is by so many wall widths, for its end to do
/// no harm.
const LONGER: f64 = 1.0;
/// And as far as its tangent line may run on to a corner, with this to spare. A corner that turns
/// back is sought no farther than so many tangent insets.
const TO_SPARE: f64 = 1.2;
const FARTHEST_CORNER: f64 = 100.0;
/// Rounds in which a corner or a cut is found.
const ROUNDS: usize = 60;

/// How a run ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum End {
    /// Cut by the upright surface over a line in plan, free of load.
    Cut(Cut),
    /// Solved so many mm longer, to be mitred.
    Longer(f64),
}

/// An upright cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cut {
    /// The line, the face to its left: an open edge, or the middle line of an outside corner.
    pub(super) line: Segment,
    /// Whether the run comes before it.
    pub(super) wall_before: bool,
    /// At a corner, where it is the wall's outside that ends there, what keeps it off its
    /// neighbour; at an open edge, where the neutral line of the metal does, none.
    pub(super) beside: Option<Beside>,
}

impl Cut {
    /// How far a place lies on the run's side, mm; the line runs on beyond its end next to the run.
    pub(super) fn inside(&self, p: Point) -> f64 {
        let edge = &self.line;
        let mut u = if self.wall_before { 0.0 } else { 1.0 };
        for _ in 0..20 {
            let (q, t) = (beyond(edge, u), edge.tangent_at(u.clamp(0.0, 1.0)));
            u += (p - q).dot(t) / edge.length();
        }
        (p - beyond(edge, u)).dot(left_of(edge.tangent_at(u.clamp(0.0, 1.0))))
    }
}

/// What keeps a wall off its neighbour at an outside corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Beside {
    /// How much shorter than to the corner the straight wall is, mm.
    pub(super) set_back: f64,
    /// In the flat each wall has half the angle between the ends of both: it reaches no farther
    /// past the end of its tangent line than its distance from that times this, less half of `gap`.
    pub(super) tangent_of_half: f64,
    /// Width of the slot between both, mm.
    pub(super) gap: f64,
}

/// What stands between a stretch and the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Corner {
    /// One run all round.
    None,
    /// Walls apart from each other, their tangent lines crossing here in plan.
    Outside {
        /// The profile's corner.
        at: Point,
        /// The angle turned.
        turn: f64,
    },
    /// Walls mitred.
    Inside {
        /// The profile's corner.
        at: Point,
        /// The angle turned.
        turn: f64,
    },
    /// A wall beside a curve that is too tight for one: mitred over it.
    BesideApart,
    /// A wall ends at an open edge, or begins at one.
    WallEnds,
    WallBegins,
    /// Two open edges meet here.
    Open(Point),
}

impl Shell<'_> {
    /// What stands between the stretches, and how each run ends.
    pub(super) fn corners(
        &self,
        stretches: &[Stretch],
        groups: &[Group],
        segments: &[Vec<Segment>],
    ) -> Result<(Vec<Corner>, Vec<Ends>), NoBlank> {
        let n = self.profile.sides.len();
        let mut ends: Vec<Ends> = vec![[None; 2]; groups.len()];
        let mut corners = Vec::new();
        for (k, stretch) in stretches.iter().enumerate() {
            let next = stretches[(k + 1) % stretches.len()];
            let side = match *stretch {
                Stretch::Open(side) | Stretch::Apart(side) => side,
                Stretch::Run(run) => groups[run].0[groups[run].0.len() - 1],
            };
            let at = self.profile.sides[side].segment.to();
            let turn = self.profile.turn_before((side + 1) % n);
            let sides = |run: usize| Sides { segments: &segments[run], closed: groups[run].1 };
            let cut = |line: usize, wall_before: bool| {
                let line = self.profile.sides[line].segment;
                Some(End::Cut(Cut { line, wall_before, beside: None }))
            };
            let longer = |turn: f64| {
                let on = (self.wall.tangent_inset()
                    * (turn.abs() / 2.0).tan().min(FARTHEST_CORNER))
                .abs();
                Some(End::Longer(LONGER * self.wall.flat_width() + TO_SPARE * on))
            };
            // Over sides that are cut apart, by steps of `step` from stretch `k` on.
            let over = |k: usize, step: usize| {
                let apart =
                    (0..stretches.len()).map(|i| stretches[(k + i * step) % stretches.len()]);
                let length = apart.map_while(|stretch| match stretch {
                    Stretch::Apart(side) => Some(self.profile.sides[side].segment.length()),
                    _ => None,
                });
                Some(End::Longer(
                    LONGER * self.wall.flat_width()
                        + TO_SPARE * (self.wall.tangent_inset() + length.sum::<f64>()),
                ))
            };
            corners.push(match (*stretch, next) {
                (Stretch::Run(a), Stretch::Run(b)) if groups[a].1 && a == b => Corner::None,
                (Stretch::Run(a), Stretch::Run(b)) if turn > SLIGHT_CORNER => {
                    let cuts = self
                        .outside_corner(&sides(a), &sides(b), at, turn)
                        .ok_or(NoBlank::NoCorner { at })?;
                    (ends[a][1], ends[b][0]) = (Some(End::Cut(cuts[0])), Some(End::Cut(cuts[1])));
                    Corner::Outside { at, turn }
                }
                (Stretch::Run(a), Stretch::Run(b)) => {
                    (ends[a][1], ends[b][0]) = (longer(turn), longer(turn));
                    Corner::Inside { at, turn }
                }
                (Stretch::Run(run), Stretch::Open(open)) => {
                    ends[run][1] = cut(open, true);
                    Corner::WallEnds
                }
                (Stretch::Open(open), Stretch::Run(run)) => {
                    ends[run][0] = cut(open, false);
                    Corner::WallBegins
                }
                (Stretch::Run(run), Stretch::Apart(_)) => {
                    ends[run][1] = over(k + 1, 1);
                    Corner::BesideApart
                }
                (Stretch::Apart(_), Stretch::Run(run)) => {
                    ends[run][0] = over(k, stretches.len() - 1);
                    Corner::BesideApart
                }
                (Stretch::Apart(_), Stretch::Apart(_)) => Corner::BesideApart,
                (Stretch::Apart(_), Stretch::Open(_)) | (Stretch::Open(_), Stretch::Apart(_)) => {
                    return Err(NoBlank::Crossing { at });
                }
                (Stretch::Open(_), Stretch::Open(_)) => Corner::Open(at),
            });
        }
        Ok((corners, ends))
    }

    /// Where the tangent lines of two runs cross at an outside corner, and the cuts that end their
    /// walls there.
    fn outside_corner(
        &self,
        before: &Sides,
        after: &Sides,
        at: Point,
        turn: f64,
    ) -> Option<[Cut; 2]> {
        let ends = [Place { side: before.segments.len() - 1, u: 1.0 }, Place { side: 0, u: 0.0 }];
        let touch = |sides: &Sides, end: Place, by: f64| {
            let place = sides.moved(end, by);
            let section = self.section(sides.point(place), sides.outward(place))?;
            Some(section.touch(self.outside_radius()))
        };
        let first = self.wall.tangent_inset() * (turn / 2.0).tan();
        let (mut a, mut b) = (-first, first);
        let miss = |a: f64, b: f64| Some(touch(before, ends[0], a)? - touch(after, ends[1], b)?);
        for _ in 0..ROUNDS {
            let m = miss(a, b)?;
            if m.hypot() < 1e-11 {
                break;
            }
            let h = 1e-5;
            let da = (miss(a + h, b)? - miss(a - h, b)?) / (2.0 * h);
            let db = (miss(a, b + h)? - miss(a, b - h)?) / (2.0 * h);
            let determinant = da.cross(db);
            if determinant.abs() < 1e-12 {
                return None;
            }
            a -= m.cross(db) / determinant;
            b -= da.cross(m) / determinant;
        }
        if miss(a, b)?.hypot() > 1e-7 {
            return None;
        }
        let inner = touch(before, ends[0], a)?;
        let cut = |line: Segment, wall_before: bool, set_back: f64| {
            let beside =
                Beside { set_back, tangent_of_half: (turn / 2.0).tan(), gap: self.wall.thickness };
            Cut { line, wall_before, beside: Some(beside) }
        };
        Some(match self.join {
            Join::RunOn => {
                // The other wall starts clear of the end of the one that runs over it.
                let set_back = self.wall.thickness
                    * if turn <= std::f64::consts::FRAC_PI_2 {
                        turn.sin()
                    } else {
                        1.0 / turn.sin()
                    };
                [
                    cut(Segment::Line { from: at, to: inner }, true, 0.0),
                    cut(Segment::Line { from: inner, to: at }, false, set_back),
                ]
            }
            Join::Open => {
                let out = |sides: &Sides, end: Place, by: f64| {
                    inner + sides.outward(sides.moved(end, by)) * self.wall.tangent_inset()
                };
                [
                    cut(Segment::Line { from: out(before, ends[0], a), to: inner }, true, 0.0),
                    cut(Segment::Line { from: inner, to: out(after, ends[1], b) }, false, 0.0),
                ]
            }
        })
    }
}
