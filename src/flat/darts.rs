//! Relief darts: cuts in a wall whose edge would shrink or stretch beyond the stop limit.
//!
//! Along a stretch of edge that strains beyond the caution limit the metal that is too much (or too little) is the sum of what goes beyond:
//! D = ∫ (|e| - caution) ds. Shrinking, it is cut out in V-shaped darts and welded shut; stretching, the wall is slit, opens as it goes
//! down, and a gusset is welded into each gap. Each dart ends in a drilled stop hole where the strain has fallen to the limit of caution:
//! the strain is taken to grow evenly from the tangent line to the edge, which a ring's does nearly.
//!
//! Millimetres; strains engineering.

use super::EdgeStrain;
use crate::formed::Wall;
use crate::geom::{Point, Polyarc, Segment, Vec2, left_of};
use crate::shop::material::StrainLimit;

/// Widest mouth of one dart in thicknesses: wider ones leave corners in the formed edge. Common practice, no source.
const WIDEST_MOUTH: f64 = 8.0;
/// Least diameter of a stop hole, and in thicknesses. Common practice, no source.
const STOP_HOLE: (f64, f64) = (3.0, 2.0);
/// Metal left between a stop hole and the bend, in thicknesses: half of what an opening keeps. Judgement, no source.
const CLEAR_OF_BEND: f64 = 1.5;

/// One dart in the blank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dart {
    /// The middle of its mouth, on the finished edge.
    pub mouth: Point,
    /// The centre of its stop hole.
    pub tip: Point,
    /// Width of the mouth: cut out of the blank where the edge shrinks; the gap of the formed part where it stretches.
    pub width: f64,
    /// Diameter of the stop hole.
    pub hole: f64,
    /// Whether it is a slit that opens and owes a gusset, or a V that closes and owes a seam.
    pub opens: bool,
}

impl Dart {
    /// Length from mouth to stop hole, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.mouth.distance(self.tip)
    }

    /// Length of weld it owes, mm: one seam where it closes, two round a gusset where it opens.
    #[must_use]
    pub fn weld(&self) -> f64 {
        self.length() * if self.opens { 2.0 } else { 1.0 }
    }

    /// What to scribe: the lines of the cut, begun `trim` mm beyond the finished edge, and the stop hole.
    #[must_use]
    pub fn lines(&self, trim: f64) -> Vec<Vec<Segment>> {
        let out = (self.mouth - self.tip).normalize();
        let across = left_of(out);
        let half = if self.opens { 0.0 } else { 0.5 * self.width * (1.0 + trim / self.length()) };
        let line = |side: f64| {
            let from = self.mouth + out * trim + across * (side * half);
            let toward = (self.tip - from).normalize();
            vec![Segment::Line { from, to: self.tip - toward * (self.hole / 2.0) }]
        };
        let mut lines = vec![line(1.0)];
        if !self.opens {
            lines.push(line(-1.0));
        }
        lines.push(Polyarc::circle(self.tip, self.hole / 2.0).segments().collect());
        lines
    }

    pub(super) fn mirrored(mut self) -> Self {
        self.mouth.x = -self.mouth.x;
        self.tip.x = -self.tip.x;
        self
    }
}

/// The darts of a part's walls; none where no edge passes its stop limit. `edge` in order along the outline.
pub(super) fn relief_darts(edge: &[EdgeStrain], stretch: StrainLimit, shrink: StrainLimit, wall: &Wall) -> Vec<Dart> {
    let mut darts = Vec::new();
    for (sign, limit) in [(1.0, stretch), (-1.0, shrink)] {
        for run in runs(edge, &|e| e.strain * sign > limit.caution) {
            if run.iter().any(|e| e.strain * sign > limit.stop) {
                darts.extend(darts_along(&run, sign, limit, wall));
            }
        }
    }
    darts
}

/// The longest stretches of neighbouring samples for which `beyond` holds, the last one going on over the outline's start.
fn runs(edge: &[EdgeStrain], beyond: &dyn Fn(&EdgeStrain) -> bool) -> Vec<Vec<EdgeStrain>> {
    let mut runs: Vec<Vec<EdgeStrain>> =
        edge.chunk_by(|a, b| beyond(a) == beyond(b)).filter(|run| beyond(&run[0])).map(<[_]>::to_vec).collect();
    let goes_round = edge.len() > 1 && edge[0].at.distance(edge[edge.len() - 1].at) < 1e-3;
    if runs.len() > 1 && goes_round && beyond(&edge[0]) && beyond(&edge[edge.len() - 1]) {
        let first = runs.remove(0);
        if let Some(last) = runs.last_mut() {
            last.extend(first);
        }
    }
    runs
}

fn darts_along(run: &[EdgeStrain], sign: f64, limit: StrainLimit, wall: &Wall) -> Vec<Dart> {
    // What is beyond caution, summed up to each sample; chords of the blank's edge, less its strain, are the formed edge's.
    let mut summed = vec![0.0];
    for pair in run.windows(2) {
        let formed = |e: &EdgeStrain| (e.strain * sign - limit.caution).max(0.0) * (1.0 + e.strain);
        let span = pair[0].at.distance(pair[1].at);
        summed.push(summed[summed.len() - 1] + 0.5 * span * (formed(&pair[0]) + formed(&pair[1])));
    }
    let total = summed[summed.len() - 1];
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 1..=400")]
    let count = (total / (WIDEST_MOUTH * wall.thickness)).ceil().clamp(1.0, 400.0) as usize;
    let hole = (STOP_HOLE.1 * wall.thickness).max(STOP_HOLE.0);
    let place = |k: usize| {
        let wanted = total * (k as f64 + 0.5) / count as f64;
        let i = summed.partition_point(|s| *s < wanted).clamp(1, run.len() - 1);
        let (a, b) = (&run[i - 1], &run[i]);
        let share = (wanted - summed[i - 1]) / (summed[i] - summed[i - 1]);
        let mouth = a.at.lerp(b.at, share);
        let along: Vec2 = run[(i + 1).min(run.len() - 1)].at - run[i.saturating_sub(2)].at;
        let (strain, width) = (a.strain + (b.strain - a.strain) * share, a.width + (b.width - a.width) * share);
        let wanted = width * (1.0 - limit.caution / (strain * sign));
        let room = width - wall.allowance() - CLEAR_OF_BEND * wall.thickness - hole / 2.0;
        let length = wanted.max(2.0 * hole).min(room);
        // The face lies to the left of the edge.
        let inward = left_of(along.normalize());
        (length > hole).then(|| Dart {
            mouth,
            tip: mouth + inward * length,
            width: total / count as f64,
            hole,
            opens: sign > 0.0,
        })
    };
    if run.len() < 2 || total <= 0.0 { Vec::new() } else { (0..count).filter_map(place).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{FRAC_PI_2, PI};

    const WALL: Wall = Wall { thickness: 1.6, inside_radius: 4.0, bend_angle: FRAC_PI_2, k_factor: 0.44, depth: 40.0 };
    const LIMIT: StrainLimit = StrainLimit { caution: 0.05, stop: 0.20 };

    /// A quarter circle of radius 60 walked counter-clockwise, its edge straining evenly.
    fn quarter(strain: f64) -> Vec<EdgeStrain> {
        (0..=40)
            .map(|i| {
                let angle = FRAC_PI_2 * f64::from(i) / 40.0;
                let at = Point::new(60.0 * angle.cos(), 60.0 * angle.sin());
                EdgeStrain { at, along: 60.0 * angle, strain, thickness_ratio: 1.0, width: 40.0, radius: 30.0, lip: None }
            })
            .collect()
    }

    /// The mouths add up to the metal beyond caution: (0.25 - 0.05) of the formed edge, 0.75 of 60 π/2.
    #[test]
    fn mouths_take_out_what_is_too_much() {
        let darts = relief_darts(&quarter(-0.25), LIMIT, LIMIT, &WALL);
        let out: f64 = darts.iter().map(|dart| dart.width).sum();
        assert!((out - 0.20 * 0.75 * 60.0 * PI / 2.0).abs() < 0.01, "{out}");
        assert_eq!(darts.len(), 2);
        for dart in &darts {
            assert!(!dart.opens && dart.width <= 8.0 * 1.6 + 1e-9);
            assert!((dart.mouth.to_vec2().hypot() - 60.0).abs() < 0.01);
            // Straight in, to where a strain growing evenly has fallen to caution, but clear of the bend.
            let (length, inward) = (dart.length(), (dart.tip - dart.mouth).normalize());
            assert!((length - 40.0 * (1.0 - 0.05 / 0.25)).abs() < 1e-9 || length < 32.0, "{length}");
            assert!((inward + dart.mouth.to_vec2().normalize()).hypot() < 0.05);
            assert!(length <= 40.0 - WALL.allowance() - 1.5 * 1.6 - dart.hole / 2.0 + 1e-9);
        }
    }

    #[test]
    fn slits_open_where_the_edge_stretches() {
        let darts = relief_darts(&quarter(0.25), LIMIT, LIMIT, &WALL);
        assert!(!darts.is_empty() && darts.iter().all(|dart| dart.opens && dart.lines(0.0).len() == 2));
        assert!((darts[0].weld() - 2.0 * darts[0].length()).abs() < 1e-12);
    }

    #[test]
    fn within_the_stop_limit_nothing_is_cut() {
        assert!(relief_darts(&quarter(-0.19), LIMIT, LIMIT, &WALL).is_empty());
        assert!(relief_darts(&[], LIMIT, LIMIT, &WALL).is_empty());
    }
}
