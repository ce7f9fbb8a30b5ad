//! Relief darts: cuts in a wall whose edge would shrink or stretch beyond the stop limit.
//!
//! They go by the edge as it is cut and hammered, trim included. Where it shrinks by e and may
//! shrink by c, the limit of caution, each mm of it has (e - c)/(1 - c) mm too much: what is left,
//! 1 - that, is hammered to 1 - e of it, so it shrinks by c. That is cut out in V-shaped darts,
//! spread as the excess is, and welded shut. Where it stretches by e, the wall is slit: each mm
//! stretches by c, and e - c mm of gap open, into which gussets are welded. Each dart ends in a
//! drilled stop hole where the strain has fallen to the limit of caution: the strain is taken to
//! grow evenly from the tangent line to the edge, which a ring's does nearly.
//!
//! Millimetres; strains engineering.

use super::{EdgeStrain, Wall};
use crate::geom::{Chain, Point, Polyarc, Segment, left_of};
use crate::shop::material::StrainLimit;

/// Widest mouth of one dart in thicknesses: wider ones leave corners in the formed edge. Common
/// practice, no source.
const WIDEST_MOUTH: f64 = 8.0;
/// Least diameter of a stop hole, and in thicknesses. Common practice, no source.
const STOP_HOLE: (f64, f64) = (3.0, 2.0);
/// Metal left between a stop hole and the bend, in thicknesses: half of what an opening keeps.
/// Judgement, no source.
const CLEAR_OF_BEND: f64 = 1.5;
/// Metal left between two stop holes, in thicknesses. Judgement, no source.
const BETWEEN_HOLES: f64 = 2.0;
/// Places of a side farther than this from the blank's edge are not on it: the side runs on beyond
/// a corner, mm.
const ON_EDGE: f64 = 0.05;

/// One dart in the blank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dart {
    /// The two ends of its mouth, on the blank's edge as cut; one place where it is a slit.
    pub mouth: [Point; 2],
    /// The centre of its stop hole.
    pub tip: Point,
    /// Width of the mouth along the edge: cut out of the blank where the edge shrinks; the gap of
    /// the formed part where it stretches.
    pub width: f64,
    /// Diameter of the stop hole.
    pub hole: f64,
    /// Whether it is a slit that opens and owes a gusset, or a V that closes and owes a seam.
    pub opens: bool,
}

impl Dart {
    /// The middle of its mouth.
    #[must_use]
    pub fn middle(&self) -> Point {
        self.mouth[0].midpoint(self.mouth[1])
    }

    /// Length from mouth to stop hole, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.middle().distance(self.tip)
    }

    /// Length of weld it owes, mm: one seam where it closes, two round a gusset where it opens.
    #[must_use]
    pub fn weld(&self) -> f64 {
        self.length() * if self.opens { 2.0 } else { 1.0 }
    }

    /// What to scribe: the lines of the cut, from the blank's edge to the stop hole, and the hole.
    #[must_use]
    pub fn lines(&self) -> Vec<Vec<Segment>> {
        let line = |from: &Point| {
            let toward = (self.tip - *from).normalize();
            vec![Segment::Line { from: *from, to: self.tip - toward * (self.hole / 2.0) }]
        };
        let mut lines: Vec<_> =
            self.mouth[..if self.opens { 1 } else { 2 }].iter().map(line).collect();
        lines.push(Polyarc::circle(self.tip, self.hole / 2.0).segments().collect());
        lines
    }

    pub(crate) fn other_hand(mut self) -> Self {
        self.mouth.iter_mut().chain([&mut self.tip]).for_each(|p| p.x = -p.x);
        self
    }
}

/// A place of the edge that strains beyond caution.
#[derive(Debug, Clone, Copy)]
struct Place {
    /// Distance along the blank's edge, going on over its start, mm.
    along: f64,
    /// The strain, positive.
    strain: f64,
    /// Flat distance to the tangent line, mm.
    width: f64,
}

/// What the darts of a stretch of edge are made by.
struct Maker<'a> {
    /// The blank's edge as cut, counter-clockwise: the face lies to its left.
    edge: &'a Chain,
    wall: &'a Wall,
    limit: StrainLimit,
    opens: bool,
}

/// The darts of a part's walls; none where no edge passes its stop limit. `edge` in order along the
/// outline; `cut` is the blank's edge.
#[must_use]
pub fn relief_darts(
    edge: &[EdgeStrain],
    cut: &Polyarc,
    stretch: StrainLimit,
    shrink: StrainLimit,
    wall: &Wall,
) -> Vec<Dart> {
    let mut darts = Vec::new();
    let along = Chain::closed(cut);
    for (sign, limit) in [(1.0, stretch), (-1.0, shrink)] {
        let beyond = |strain: f64| strain * sign > limit.caution;
        if !edge.iter().any(|e| e.strain * sign > limit.stop) {
            continue;
        }
        let maker = Maker { edge: &along, wall, limit, opens: sign > 0.0 };
        for run in runs(edge, &along, sign, &beyond) {
            if run.iter().any(|place| place.strain > limit.stop) {
                darts.extend(maker.darts(&run));
            }
        }
    }
    darts
}

/// The longest stretches of the edge that strain beyond caution, the last one going on over the
/// outline's start.
fn runs(
    edge: &[EdgeStrain],
    along: &Chain,
    sign: f64,
    beyond: &dyn Fn(f64) -> bool,
) -> Vec<Vec<Place>> {
    let place = |e: &EdgeStrain| {
        let (off, at) = along.nearest(e.at);
        (off < ON_EDGE).then_some(Place { along: at, strain: e.strain * sign, width: e.width })
    };
    let places: Vec<Option<Place>> =
        edge.iter().map(|e| place(e).filter(|_| beyond(e.strain))).collect();
    let mut runs: Vec<Vec<Place>> =
        places.split(Option::is_none).map(|run| run.iter().flatten().copied().collect()).collect();
    let goes_round = edge.len() > 1 && edge[0].at.distance(edge[edge.len() - 1].at) < 1e-3;
    if runs.len() > 1 && goes_round && places[0].is_some() && places[places.len() - 1].is_some() {
        let first = runs.remove(0);
        if let Some(last) = runs.last_mut() {
            last.extend(first);
        }
    }
    // Distances rise along a run, from one turn of the outline to the next.
    for run in &mut runs {
        for i in 1..run.len() {
            let step = run[i].along - run[i - 1].along;
            run[i].along -= (step / along.length()).round() * along.length();
        }
    }
    runs.retain(|run| run.len() > 1);
    runs
}

impl Maker<'_> {
    /// What one mm of flat edge has too much, or lacks, mm.
    fn excess(&self, strain: f64) -> f64 {
        let caution = self.limit.caution;
        (strain - caution).max(0.0) / if self.opens { 1.0 } else { 1.0 - caution }
    }

    fn hole(&self) -> f64 {
        (STOP_HOLE.1 * self.wall.thickness).max(STOP_HOLE.0)
    }

    /// As many darts as their widest mouth asks for, fewer where their stop holes would run
    /// together.
    fn darts(&self, run: &[Place]) -> Vec<Dart> {
        // The excess summed up to each place.
        let mut summed = vec![0.0];
        for pair in run.windows(2) {
            let span = pair[1].along - pair[0].along;
            summed.push(
                summed[summed.len() - 1]
                    + 0.5 * span * (self.excess(pair[0].strain) + self.excess(pair[1].strain)),
            );
        }
        let total = summed[summed.len() - 1];
        if total <= 0.0 {
            return Vec::new();
        }
        let apart = self.hole() + BETWEEN_HOLES * self.wall.thickness;
        let is_clear = |darts: &Vec<Dart>| {
            let pairs = darts.iter().zip(darts.iter().cycle().skip(1)).take(if darts.len() > 1 {
                darts.len()
            } else {
                0
            });
            pairs.into_iter().all(|(a, b)| a.tip.distance(b.tip) >= apart)
        };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to 1..=400"
        )]
        let most = (total / (WIDEST_MOUTH * self.wall.thickness)).ceil().clamp(1.0, 400.0) as usize;
        let with = |count: usize| -> Vec<Dart> {
            let width = total / count as f64;
            (0..count)
                .filter_map(|k| self.dart(run, &summed, width * (k as f64 + 0.5), width))
                .collect()
        };
        (1..=most).rev().map(with).find(is_clear).unwrap_or_default()
    }

    /// The dart at the place up to which `sum` mm of excess have come together; none where the wall
    /// has no room for it.
    fn dart(&self, run: &[Place], summed: &[f64], sum: f64, width: f64) -> Option<Dart> {
        let i = summed.partition_point(|s| *s < sum).clamp(1, run.len() - 1);
        let (a, b) = (&run[i - 1], &run[i]);
        let share = (sum - summed[i - 1]) / (summed[i] - summed[i - 1]);
        let between = |a: f64, b: f64| a + (b - a) * share;
        let (along, strain, wall_width) =
            (between(a.along, b.along), between(a.strain, b.strain), between(a.width, b.width));
        let hole = self.hole();
        let wanted = wall_width * (1.0 - self.limit.caution / strain);
        let room =
            wall_width - self.wall.allowance() - CLEAR_OF_BEND * self.wall.thickness - hole / 2.0;
        let length = wanted.max(2.0 * hole).min(room);
        let (middle, direction) = self.edge.at(along)?;
        let half = if self.opens { 0.0 } else { width / 2.0 };
        let mouth = [self.edge.at(along - half)?.0, self.edge.at(along + half)?.0];
        (length > hole).then(|| Dart {
            mouth,
            tip: middle + left_of(direction) * length,
            width,
            hole,
            opens: self.opens,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fe::ring::Extremes;
    use std::f64::consts::{FRAC_PI_2, PI};

    const WALL: Wall = Wall {
        thickness: 1.6,
        inside_radius: 4.0,
        bend_angle: FRAC_PI_2,
        k_factor: 0.44,
        depth: 40.0,
    };
    const LIMIT: StrainLimit = StrainLimit { caution: 0.05, stop: 0.20 };

    /// The places of a circle of radius 60 from one angle to another, walked counter-clockwise, its
    /// edge straining evenly.
    fn arc(strain: f64, from: f64, to: f64) -> Vec<EdgeStrain> {
        (0..=40)
            .map(|i| {
                let angle = from + (to - from) * f64::from(i) / 40.0;
                let at = Point::new(60.0 * angle.cos(), 60.0 * angle.sin());
                EdgeStrain {
                    at,
                    net_at: at,
                    along: 60.0 * angle,
                    strain,
                    finished: strain,
                    thickness_ratio: 1.0,
                    metal: Extremes::STILL,
                    width: 40.0,
                    radius: 30.0,
                    lip: None,
                }
            })
            .collect()
    }

    fn darts(strain: f64, from: f64, to: f64) -> Vec<Dart> {
        relief_darts(
            &arc(strain, from, to),
            &Polyarc::circle(Point::ORIGIN, 60.0),
            LIMIT,
            LIMIT,
            &WALL,
        )
    }

    /// Of the flat edge L0 what is left shrinks by 5 % to the formed edge's 0.75 L0: L0 - sum =
    /// 0.75 L0 / 0.95. So on a quarter, over the outline's start, and all round.
    #[test]
    fn what_is_left_shrinks_to_the_limit_of_caution() {
        for (from, to) in [(0.0, FRAC_PI_2), (-1.0, 1.0), (3.0, 7.0), (0.0, 2.0 * PI)] {
            let darts = darts(-0.25, from, to);
            let (flat, out) =
                (60.0 * (to - from), darts.iter().map(|dart| dart.width).sum::<f64>());
            assert!((1.0 - 0.75 * flat / (flat - out) - 0.05).abs() < 1e-9, "{out} of {flat}");
            for dart in &darts {
                assert!(!dart.opens && dart.width <= 8.0 * 1.6 + 1e-9);
                // Its mouth is that wide along the edge.
                assert!(dart.mouth.iter().all(|p| (p.to_vec2().hypot() - 60.0).abs() < 1e-9));
                assert!(
                    (120.0 * (dart.mouth[0].distance(dart.mouth[1]) / 120.0).asin() - dart.width)
                        .abs()
                        < 1e-9
                );
                // Straight in, to where a strain growing evenly has fallen to caution, but clear of
                // the bend.
                let depth = 60.0 - dart.tip.to_vec2().hypot();
                assert!(
                    depth <= 40.0 * (1.0 - 0.05 / 0.25) + 1e-9
                        && depth <= 40.0 - WALL.allowance() - 1.5 * 1.6 - dart.hole / 2.0 + 1e-9
                );
                assert!((dart.middle() - dart.tip).cross(dart.tip.to_vec2()).abs() < 1e-6);
            }
        }
    }

    /// Each mm of flat edge may stretch by 5 % of the 25; the gaps are the rest.
    #[test]
    fn slits_open_where_the_edge_stretches() {
        let darts = darts(0.25, 0.0, FRAC_PI_2);
        let gaps: f64 = darts.iter().map(|dart| dart.width).sum();
        assert!((gaps - 0.20 * 60.0 * FRAC_PI_2).abs() < 1e-9, "{gaps}");
        assert!(
            darts.iter().all(|dart| dart.opens
                && dart.lines().len() == 2
                && dart.mouth[0] == dart.mouth[1])
        );
        assert!((darts[0].weld() - 2.0 * darts[0].length()).abs() < 1e-12);
    }

    #[test]
    fn within_the_stop_limit_nothing_is_cut() {
        assert!(darts(-0.19, 0.0, 1.0).is_empty());
        assert!(
            relief_darts(&[], &Polyarc::circle(Point::ORIGIN, 60.0), LIMIT, LIMIT, &WALL)
                .is_empty()
        );
    }
}
