//! One side of an edge with a wall: how far the blank reaches beyond it, and what the metal does on the way.

use crate::fe::law::SheetLaw;
use crate::fe::ring::{Extremes, RingFailure, ring};
use crate::formed::Wall;
use crate::geom::{Point, Segment, Vec2, Vertex, fit_samples, left_of, shifted, vertices_of};
use crate::tolerance::{BLEND_SAMPLES, CURVE_TO_ARCS, RIM_SAMPLE_MM, SAME_POINT};

/// Places along the edge of an arc turn by no more than this, radians.
const EDGE_STEP: f64 = 0.1;

/// Strain and thickness of the free edge at one place, as it is when the wall is hammered: with its trim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeStrain {
    /// The place on the blank's edge as cut.
    pub at: Point,
    /// The place on the net blank.
    pub net_at: Point,
    /// Distance along the outline from its start, mm.
    pub along: f64,
    /// Engineering strain of the edge as cut, positive where it grows.
    pub strain: f64,
    /// Engineering strain of the finished edge, where the trim is cut off after forming.
    pub finished: f64,
    /// Thickness at the edge as cut, over the sheet's.
    pub thickness_ratio: f64,
    /// What is known of the wall's metal there, from the tangent line to the edge as cut: the edge itself at least.
    pub metal: Extremes,
    /// Flat distance from the tangent line to the edge as cut, mm.
    pub width: f64,
    /// Radius of the outline there, mm, positive convex; infinite where straight.
    pub radius: f64,
    /// The opening whose lip the edge is, by number; none on the part's outline.
    pub lip: Option<usize>,
}

/// A line along a wall laid flat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Edge {
    /// The outer cut, beyond the trim.
    Cut,
    /// The edge of the wall when it is cut without trim.
    Net,
    /// The metal of the wall with trim that ends at the seam.
    Seam,
}

impl Edge {
    pub(super) const ALL: [Self; 3] = [Self::Cut, Self::Net, Self::Seam];
}

/// One sample along a side; arrays go by [`Edge`].
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    pub(super) u: f64,
    /// From the side out to the edge, mm.
    pub(super) out: [f64; 3],
    /// How much the edge leaves the side's direction there, outward, per length: known where the wall was solved as a whole.
    pub(super) tilt: [f64; 3],
    /// Logarithmic strain of the edge as cut.
    pub(super) strain: f64,
    /// Logarithmic strain of the finished edge.
    pub(super) finished: f64,
    pub(super) metal: Extremes,
    pub(super) curvature: f64,
    /// Where the metal of the edge as cut and of the net edge that comes to stand here lies flat, if not straight out.
    pub(super) at: Option<[Point; 2]>,
}

/// How the edges are led over to a neighbour's at one end of a side; by [`Edge`].
#[derive(Debug, Clone, Copy)]
struct Blend {
    at_end: bool,
    ways: [Way; 3],
}

/// How one edge is led over: the stretch of the side's parameter that it takes, and what is added at the very end, mm.
#[derive(Debug, Clone, Copy)]
struct Way {
    over: f64,
    miss: f64,
}

impl Blend {
    /// The side's parameter at that share of the way from its end.
    fn place(&self, share: f64, edge: Edge) -> f64 {
        let away = self.ways[edge as usize].over * share;
        if self.at_end { 1.0 - away } else { away }
    }

    /// What it adds at `u`, and the slope of that: 1 - 3x² + 2x³ of the whole at the share x of the way.
    fn at(&self, u: f64, edge: Edge) -> (f64, f64) {
        let Way { over, miss } = self.ways[edge as usize];
        let (away, sign) = if self.at_end { (1.0 - u, -1.0) } else { (u, 1.0) };
        let x = (away / over).clamp(0.0, 1.0);
        (miss * (1.0 - x * x * (3.0 - 2.0 * x)), miss * sign * 6.0 * x * (x - 1.0) / over)
    }
}

/// A side with a wall, its face to the left.
#[derive(Debug, Clone)]
pub(super) struct Rim {
    pub(super) segment: Segment,
    /// The stretches of the side's parameter along which the wall's edges run.
    pub(super) ranges: [(f64, f64); 3],
    samples: Vec<Sample>,
    blends: Vec<Blend>,
    /// Whether the samples come from the solution of the whole run of walls.
    pub(super) solved: bool,
    /// Where no solution exists: the place, and the radius of the outline there.
    pub(super) cannot_follow: Option<(Point, f64)>,
}

/// What a rim adds to the blank: how far out its edges are at one of its ends.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reach {
    pub(super) out: [f64; 3],
    pub(super) curvature: f64,
}

impl Rim {
    /// Solves the wall along `segment`; `trim` mm of metal stay beyond the net edge.
    pub(super) fn new(segment: Segment, wall: &Wall, law: &SheetLaw, trim: f64) -> Self {
        let constant = !matches!(segment, Segment::Curve(_));
        let count = if constant { 1 } else { sample_count(segment.length()) };
        let mut samples: Vec<Sample> = Vec::new();
        let mut cannot_follow = None;
        for i in 0..=count {
            let u = i as f64 / count as f64;
            let curvature = segment.curvature_at(u);
            if constant && i > 0 {
                samples.push(Sample { u, ..samples[0] });
                break;
            }
            samples.push(solve(u, curvature, wall, law, trim).unwrap_or_else(|_| {
                cannot_follow.get_or_insert((segment.point_at(u), 1.0 / curvature));
                unrolled(u, curvature, wall, trim)
            }));
        }
        Self { segment, ranges: [(0.0, 1.0); 3], samples, blends: Vec::new(), solved: false, cannot_follow }
    }

    /// Takes over what the solution of the whole run says along this side.
    pub(super) fn take(&mut self, samples: Vec<Sample>) {
        self.samples = samples;
        self.solved = true;
        self.cannot_follow = None;
    }

    /// How far the blank reaches at the side's start or end.
    pub(super) fn reach(&self, at_end: bool) -> Reach {
        let u = if at_end { 1.0 } else { 0.0 };
        Reach { out: Edge::ALL.map(|edge| self.out(u, edge).0), curvature: self.segment.curvature_at(u) }
    }

    /// Leads the edges over to the given reach at one end, within one wall's flat width or half the side, level at both ends of the way.
    /// `tangent_inset` is what the wall's width has inside the outline.
    pub(super) fn blend(&mut self, at_end: bool, to: Reach, tangent_inset: f64) {
        let own = self.reach(at_end);
        let ways = Edge::ALL.map(|edge| {
            let (own, to) = (own.out[edge as usize], to.out[edge as usize]);
            let over = ((own + tangent_inset).max(SAME_POINT) / self.segment.length()).min(0.5);
            Way { over, miss: to - own }
        });
        if ways.iter().any(|way| way.miss.abs() > 1e-6) {
            self.blends.push(Blend { at_end, ways });
        }
    }

    fn is_constant(&self) -> bool {
        self.samples.len() == 2 && self.blends.is_empty()
    }

    /// The distance out to an edge at `u`, and its slope over `u`. Beyond the ends of a solved side the end's own.
    pub(super) fn out(&self, u: f64, edge: Edge) -> (f64, f64) {
        let value = |s: &Sample| s.out[edge as usize];
        let last = self.samples.len() - 1;
        let i = self.samples.partition_point(|s| s.u <= u).clamp(1, last);
        let own = if self.solved {
            let (a, b) = (&self.samples[i - 1], &self.samples[i]);
            let ends = [a, b].map(|s| (s.u, value(s), self.slope(s, edge)));
            if (a.u..=b.u).contains(&u) { cubic(ends, u) } else { (value(if u < a.u { a } else { b }), 0.0) }
        } else if last == 1 {
            (value(&self.samples[0]), 0.0)
        } else {
            // The parabola through the samples beside `u` and one more; a constant wall has just two.
            let a = (i - 1).min(last - 2);
            parabola([a, a + 1, a + 2].map(|k| (self.samples[k].u, value(&self.samples[k]))), u)
        };
        self.blends.iter().map(|blend| blend.at(u, edge)).fold(own, |sum, more| (sum.0 + more.0, sum.1 + more.1))
    }

    /// The slope over the parameter that an edge's direction gives at a sample: tilt (1 + curvature out) |dP/du|.
    fn slope(&self, s: &Sample, edge: Edge) -> f64 {
        let i = edge as usize;
        s.tilt[i] * (1.0 + s.curvature * s.out[i]) * self.segment.velocity_at(s.u).hypot()
    }

    /// The point of an edge at `u`.
    pub(super) fn edge_point(&self, u: f64, edge: Edge) -> Point {
        self.segment.point_at(u) - left_of(self.segment.tangent_at(u)) * self.out(u, edge).0
    }

    /// The edge as lines and arcs from its start on, without its last point. None where it turns inside out.
    pub(super) fn edge(&self, edge: Edge) -> Option<Vec<Vertex>> {
        let range = self.ranges[edge as usize];
        if self.is_constant() {
            let side = self.segment.between(range.0, range.1);
            return shifted(&side, -self.out(range.0, edge).0)
                .map(|pieces| pieces.iter().flat_map(|piece| vertices_of(piece, CURVE_TO_ARCS)).collect());
        }
        let mut points = Vec::new();
        for u in self.places(range, edge) {
            let (out, slope) = self.out(u, edge);
            let tangent = self.segment.tangent_at(u);
            let growth = 1.0 + self.segment.curvature_at(u) * out;
            if growth <= 0.0 {
                return None;
            }
            let direction = tangent * (growth * self.segment.velocity_at(u).hypot()) - left_of(tangent) * slope;
            points.push((self.edge_point(u, edge), direction.normalize()));
        }
        Some(if self.solved { self.fitted(&points) } else { fit_samples(&points, CURVE_TO_ARCS) })
    }

    /// Where the edge is taken between two parameters: where it was solved, or evenly, and closer together where it is led over to a
    /// neighbour.
    fn places(&self, (from, to): (f64, f64), edge: Edge) -> Vec<f64> {
        let apart = SAME_POINT / self.segment.length();
        let mut places: Vec<f64> = if self.solved {
            self.samples.iter().map(|s| s.u).collect()
        } else {
            let count = sample_count(self.segment.length());
            let step = |k: u32| f64::from(k) / f64::from(BLEND_SAMPLES);
            let blends = self.blends.iter().flat_map(|blend| (1..=BLEND_SAMPLES).map(move |k| blend.place(step(k), edge)));
            (0..=count).map(|i| i as f64 / count as f64).chain(blends).collect()
        };
        places.retain(|u| *u > from + apart && *u < to - apart);
        places.extend([from, to]);
        places.sort_by(f64::total_cmp);
        places.dedup_by(|b, a| *b - *a < apart);
        places
    }

    /// Arcs and lines along the samples of an edge; where it runs beside a straight side, lines.
    fn fitted(&self, points: &[(Point, Vec2)]) -> Vec<Vertex> {
        let straight = |i: usize| {
            let ((a, from), (b, to)) = (points[i], points[i + 1]);
            self.segment.is_straight()
                && (b - a).cross(from).abs().max((b - a).cross(to).abs()) < 1e-9
                && from.cross(self.segment.tangent_at(0.0)).abs() < 1e-12
        };
        let mut vertices = Vec::new();
        let (mut i, last) = (0, points.len() - 1);
        while i < last {
            let start = i;
            let lines = straight(i);
            while i < last && straight(i) == lines {
                i += 1;
            }
            if lines {
                vertices.push(Vertex { point: points[start].0, bulge: 0.0 });
            } else {
                vertices.extend(fit_samples(&points[start..=i], CURVE_TO_ARCS));
            }
        }
        vertices
    }

    /// Strain and thickness along the free edge; `along` is the distance of the side's start from the outline's. `law` is the sheet's.
    pub(super) fn strains(&self, along: f64, tangent_inset: f64, law: &SheetLaw) -> Vec<EdgeStrain> {
        let length = self.segment.length();
        let straight = self.segment.is_straight();
        let of = |s: &Sample| {
            let [at, net_at] = s.at.unwrap_or_else(|| [Edge::Cut, Edge::Net].map(|edge| self.edge_point(s.u, edge)));
            EdgeStrain {
                at,
                net_at,
                along: along + s.u * length,
                strain: s.strain.exp_m1(),
                finished: s.finished.exp_m1(),
                thickness_ratio: edge_thickness(law, s.strain),
                metal: s.metal,
                width: self.out(s.u, Edge::Cut).0 + tangent_inset,
                radius: if straight { f64::INFINITY } else { 1.0 / s.curvature },
                lip: None,
            }
        };
        match &self.samples[..] {
            // The same all along: places close enough to walk the edge by.
            [constant, _] if !straight => {
                let turn = (self.segment.curvature_at(0.5) * length).abs();
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "an arc turns by half a circle at most"
                )]
                let steps = (turn / EDGE_STEP).ceil().max(1.0) as u32;
                (0..=steps).map(|i| of(&Sample { u: f64::from(i) / f64::from(steps), ..*constant })).collect()
            }
            samples => samples.iter().map(of).collect(),
        }
    }

    /// Whether the wall laid flat would turn inside out along this side: an inside curve tighter than the wall is wide.
    pub(super) fn turns_inside_out(&self) -> bool {
        self.samples.iter().any(|s| 1.0 + s.curvature * s.out.iter().copied().fold(0.0, f64::max) <= 0.02)
    }

    /// The line `inset` mm inside the side, over the range that a wall's tangent line has there.
    pub(super) fn inner_line(&self, inset: f64, range: (f64, f64)) -> Option<Vec<Segment>> {
        shifted(&self.segment.between(range.0, range.1), inset)
    }
}

/// Value and slope at `u` of the parabola through three points of different places.
fn parabola([(x0, y0), (x1, y1), (x2, y2)]: [(f64, f64); 3], u: f64) -> (f64, f64) {
    let first = (y1 - y0) / (x1 - x0);
    let second = ((y2 - y1) / (x2 - x1) - first) / (x2 - x0);
    (y0 + (first + second * (u - x1)) * (u - x0), first + second * (2.0 * u - x0 - x1))
}

/// Value and slope at `u` of the cubic between two places with values and slopes.
fn cubic([(x0, y0, s0), (x1, y1, s1)]: [(f64, f64, f64); 2], u: f64) -> (f64, f64) {
    let span = x1 - x0;
    let (x, y) = ((u - x0) / span, (x1 - u) / span);
    let value = y0 * y * y * (1.0 + 2.0 * x) + y1 * x * x * (1.0 + 2.0 * y) + span * x * y * (s0 * y - s1 * x);
    let slope = 6.0 * x * y * (y1 - y0) / span + s0 * y * (1.0 - 3.0 * x) + s1 * x * (1.0 - 3.0 * y);
    (value, slope)
}

/// Thickness over the sheet's at a free edge with this logarithmic strain e along it. The sheet is in plain tension or compression there, so
/// across its thickness it strains by -e/(1 + r).
pub(super) fn edge_thickness(law: &SheetLaw, strain: f64) -> f64 {
    (-strain / (1.0 + law.anisotropy)).exp()
}

/// The metal of a free edge with this logarithmic strain along it: across it -e r/(1 + r), see [`edge_thickness`].
pub(super) fn edge_metal(law: &SheetLaw, strain: f64) -> Extremes {
    Extremes::STILL.with(strain, -strain * law.anisotropy / (1.0 + law.anisotropy))
}

fn sample_count(length: f64) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 16..=600")]
    let count = (length / RIM_SAMPLE_MM).ceil().clamp(16.0, 600.0) as usize;
    count
}

/// The wall at one place of the side.
fn solve(u: f64, curvature: f64, wall: &Wall, law: &SheetLaw, trim: f64) -> Result<Sample, RingFailure> {
    let inset = wall.tangent_inset();
    if curvature == 0.0 {
        return Ok(unrolled(u, curvature, wall, trim));
    }
    let tangent_curvature = curvature / (1.0 - curvature * inset);
    let net = ring(law, &wall.ring_section(tangent_curvature, 0.0))?;
    let with_trim = if trim == 0.0 { net.clone() } else { ring(law, &wall.ring_section(tangent_curvature, trim))? };
    let finished = with_trim.at(net.formed_length());
    Ok(Sample {
        u,
        out: [with_trim.flat_width - inset, net.flat_width - inset, finished.flat_distance - inset],
        tilt: [0.0; 3],
        strain: with_trim.edge_hoop_strain,
        finished: finished.hoop_strain,
        metal: with_trim.extremes(with_trim.formed_length()),
        curvature,
        at: None,
    })
}

/// The wall as a straight one, unrolled.
fn unrolled(u: f64, curvature: f64, wall: &Wall, trim: f64) -> Sample {
    let net = wall.flat_width() - wall.tangent_inset();
    let out = [net + trim, net, net];
    Sample { u, out, tilt: [0.0; 3], strain: 0.0, finished: 0.0, metal: Extremes::STILL, curvature, at: None }
}
