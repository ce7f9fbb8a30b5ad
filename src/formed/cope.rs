//! Copes: the end of a bent part cut to lie against a round tube, developed leg by leg and through
//! the bends.

use super::fold_tree::{FoldTree, Folding};
use super::sheet_mesh::Piece;
use crate::geom::space::{Space, dot, length, minus, times};
use crate::geom::{Point, Polyarc, Vec2, Vertex, fit_samples};
use crate::part::Cope;
use crate::tolerance::CURVE_TO_ARCS;

/// Distance between the places along the section at which a cope is found, mm.
const STEP: f64 = 0.5;

/// How far a cope's cut reaches past the end of the part, mm: any length that clears it.
const PAST_THE_END: f64 = 1.0;

/// A round tube: a point of its axis, the axis' unit direction, and its radius with the clearance,
/// mm.
struct Tube {
    on: Space,
    along: Space,
    radius: f64,
}

impl Tube {
    /// The part of a vector square to the axis.
    fn across(&self, v: Space) -> Space {
        minus(v, times(self.along, dot(v, self.along)))
    }

    /// Where the line through `p` along y enters and leaves the tube, mm from `p`; none where it
    /// passes it.
    ///
    /// With w from the axis to `p` and e along y, both without their parts along the axis: (w + y
    /// e)^2 = r^2, a quadratic in y.
    fn crossings(&self, p: Space) -> Option<[f64; 2]> {
        let (w, e) = (self.across(minus(p, self.on)), self.across([0.0, 1.0, 0.0]));
        let (a, b, c) = (dot(e, e), dot(w, e), dot(w, w) - self.radius * self.radius);
        let root = (b * b - a * c).max(0.0).sqrt();
        (b * b >= a * c && a > 1e-9).then(|| [(-b - root) / a, (-b + root) / a])
    }
}

/// What a cope cuts off the flat of a section whose bends run along y from 0 to `depth`: one
/// outline for each stretch of the section that meets the tube.
pub(super) fn cope_cuts(tree: &FoldTree, cope: &Cope, depth: f64) -> Vec<Polyarc> {
    let folding = tree.folded();
    let tube = Tube {
        on: cope.through.map(crate::units::Length::mm),
        along: times(cope.along, 1.0 / length(cope.along)),
        radius: cope.diameter.mm() / 2.0 + cope.clearance.mm(),
    };
    let mut runs: Vec<Vec<(Point, Vec2)>> = Vec::new();
    let mut cuts = Vec::new();
    for (piece, from, to) in pieces(tree) {
        for run in runs_of(&folding, &tube, cope.is_far, piece, from, to) {
            // Runs of neighbouring pieces that touch are one cut, with a kink at the tangent line.
            let touches = runs
                .last()
                .and_then(|last| last.last())
                .is_some_and(|(p, _)| (p.x - run[0].0.x).abs() < 1e-6);
            if !touches && !runs.is_empty() {
                cuts.push(closed(&std::mem::take(&mut runs), cope.is_far, depth));
            }
            runs.push(run);
        }
    }
    if !runs.is_empty() {
        cuts.push(closed(&runs, cope.is_far, depth));
    }
    // One that lies wholly outside the part cuts nothing.
    let reaches_in = |cut: &Polyarc| {
        let bounds = cut.bounds();
        let (low, high) =
            if cope.is_far { (f64::NEG_INFINITY, depth) } else { (0.0, f64::INFINITY) };
        bounds.y1 > low && bounds.y0 < high
    };
    cuts.retain(reaches_in);
    cuts
}

/// Legs and bends in order, with their stretch of x.
fn pieces(tree: &FoldTree) -> Vec<(Piece, f64, f64)> {
    let mut all = Vec::new();
    for (i, face) in tree.faces.iter().enumerate() {
        let bounds = face.outline.bounds();
        all.push((Piece::Face(i), bounds.x0, bounds.x1));
        if let Some(bend) = tree.bends.get(i) {
            all.push((Piece::Bend(i), bend.parent_line[0].x, bend.child_line[0].x));
        }
    }
    all.retain(|(_, from, to)| to - from > 1e-6);
    all
}

/// The height y of the cut at x of a piece, the whole thickness considered: the farthest from the
/// end at which any of its metal meets the tube.
fn cut_at(folding: &Folding, tube: &Tube, is_far: bool, piece: Piece, x: f64) -> Option<f64> {
    let thickness = folding.tree.thickness;
    let at = |z: f64| {
        let point = Point::new(x, 0.0);
        let space = match piece {
            Piece::Face(i) => folding.on_face(i, point, z),
            Piece::Bend(i) => folding.in_bend(i, point, z),
        };
        let [enters, leaves] = tube.crossings(space)?;
        Some(if is_far { -enters } else { leaves })
    };
    // The tube's outline over z is round, so the farthest place is the only peak: closed in on from
    // the best of nine.
    let height = |z: f64| at(z).unwrap_or(f64::NEG_INFINITY);
    let best = (0..=8)
        .map(|k| thickness * f64::from(k) / 8.0)
        .max_by(|a, b| height(*a).total_cmp(&height(*b)))?;
    let (mut low, mut high) =
        ((best - thickness / 8.0).max(0.0), (best + thickness / 8.0).min(thickness));
    for _ in 0..60 {
        let third = (high - low) / 3.0;
        if height(low + third) < height(high - third) { low += third } else { high -= third }
    }
    let peak = height(best).max(height(f64::midpoint(low, high)));
    peak.is_finite().then_some(if is_far { -peak } else { peak })
}

/// The stretches of a piece in which it meets the tube, as close samples of the cut with its
/// direction.
fn runs_of(
    folding: &Folding,
    tube: &Tube,
    is_far: bool,
    piece: Piece,
    from: f64,
    to: f64,
) -> Vec<Vec<(Point, Vec2)>> {
    let cut = |x: f64| cut_at(folding, tube, is_far, piece, x);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 8..=20000"
    )]
    let steps = ((to - from) / STEP).ceil().clamp(8.0, 20_000.0) as u32;
    let mut runs: Vec<Vec<f64>> = Vec::new();
    let mut before: Option<f64> = None;
    for k in 0..=steps {
        let x = from + (to - from) * f64::from(k) / f64::from(steps);
        let meets = cut(x).is_some();
        let met = before.is_some_and(|b| cut(b).is_some());
        // The edge of the tube's outline lies between the last place and this one.
        let edge = before.filter(|_| meets != met).map(|b| {
            let (mut hit, mut miss) = if meets { (x, b) } else { (b, x) };
            for _ in 0..50 {
                let middle = f64::midpoint(hit, miss);
                if cut(middle).is_some() { hit = middle } else { miss = middle }
            }
            hit
        });
        if meets && !met {
            runs.push(edge.into_iter().collect());
        }
        if let Some(run) = runs.last_mut() {
            if meets {
                run.push(x);
            } else if met {
                run.extend(edge);
            }
        }
        before = Some(x);
    }
    let sample = |x: f64| {
        let y = cut(x)?;
        // A piece's own motion runs on beyond its ends, so the slope there is its own.
        let (a, b) = (
            cut(x - 1e-4).map_or((x, y), |y| (x - 1e-4, y)),
            cut(x + 1e-4).map_or((x, y), |y| (x + 1e-4, y)),
        );
        let slope = Vec2::new(b.0 - a.0, b.1 - a.1);
        Some((Point::new(x, y), slope / slope.hypot().max(f64::MIN_POSITIVE)))
    };
    runs.into_iter()
        .map(|run| run.into_iter().filter_map(sample).collect::<Vec<_>>())
        .filter(|run| run.len() > 1)
        .collect()
}

/// The cut of runs that follow each other, closed round the end of the part.
fn closed(runs: &[Vec<(Point, Vec2)>], is_far: bool, depth: f64) -> Polyarc {
    let mut vertices: Vec<Vertex> =
        runs.iter().flat_map(|run| fit_samples(run, CURVE_TO_ARCS)).collect();
    let first = runs.first().and_then(|run| run.first()).map_or(0.0, |(p, _)| p.x);
    let last = runs.last().and_then(|run| run.last()).map_or(Point::ORIGIN, |(p, _)| *p);
    // Beyond the part's end, and beyond the cut where that lies outside the part.
    let all = runs.iter().flatten().map(|(p, _)| p.y);
    let beyond = if is_far {
        all.fold(depth, f64::max) + PAST_THE_END
    } else {
        all.fold(0.0, f64::min) - PAST_THE_END
    };
    vertices.extend(
        [last, Point::new(last.x, beyond), Point::new(first, beyond)]
            .map(|point| Vertex { point, bulge: 0.0 }),
    );
    Polyarc { vertices }.counter_clockwise()
}

/// Whether the tube's axis runs along the section's own depth, so that no line along it ends at the
/// tube.
pub(super) fn runs_along(cope: &Cope) -> bool {
    let along = times(cope.along, 1.0 / length(cope.along));
    1.0 - along[1] * along[1] < 1e-6
}
