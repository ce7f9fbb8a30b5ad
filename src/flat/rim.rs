//! One side of an edge with a wall: how far the blank reaches beyond it, and what the metal does on the way.

use crate::fe::law::SheetLaw;
use crate::fe::ring::{RingFailure, ring};
use crate::formed::Wall;
use crate::geom::{Point, Segment, Vertex, fit_samples, left_of, shifted};
use crate::shop::material::Material;
use crate::tolerance::{BLEND_SAMPLES, CURVE_TO_ARCS, RIM_SAMPLE_MM, SAME_POINT};

/// Strain and thickness of the free edge at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeStrain {
    /// The place on the net blank.
    pub at: Point,
    /// Distance along the outline from its start, mm.
    pub along: f64,
    /// Engineering strain of the free edge, positive where it grows.
    pub strain: f64,
    /// Thickness there over the sheet's.
    pub thickness_ratio: f64,
    /// Flat distance from the tangent line to the net edge, mm.
    pub width: f64,
    /// Radius of the outline there, mm, positive convex; infinite where straight.
    pub radius: f64,
}

/// The sheet's law for the ring solution.
pub(super) fn law_of(material: &Material) -> SheetLaw {
    SheetLaw {
        strength_mpa: material.strength_coefficient.value.mpa(),
        hardening: material.hardening_exponent.value,
        anisotropy: material.normal_anisotropy.value,
        elastic_modulus_mpa: material.elastic_modulus.value.mpa(),
    }
}

/// One sample along a side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    u: f64,
    /// From the side out to the cut edge and to the net edge, mm.
    cut: f64,
    net: f64,
    strain: f64,
    thickness_ratio: f64,
    curvature: f64,
}

/// How the two edges are led over to a neighbour's at one end of a side.
#[derive(Debug, Clone, Copy)]
struct Blend {
    at_end: bool,
    cut: Way,
    net: Way,
}

/// How one edge is led over: the stretch of the side's parameter that it takes, and what is added at the very end, mm.
#[derive(Debug, Clone, Copy)]
struct Way {
    over: f64,
    miss: f64,
}

impl Blend {
    fn way(&self, net: bool) -> Way {
        if net { self.net } else { self.cut }
    }

    /// The side's parameter at that share of the way from its end.
    fn place(&self, share: f64, net: bool) -> f64 {
        let away = self.way(net).over * share;
        if self.at_end { 1.0 - away } else { away }
    }

    /// What it adds at `u`, and the slope of that: 1 - 3x² + 2x³ of the whole at the share x of the way.
    fn at(&self, u: f64, net: bool) -> (f64, f64) {
        let Way { over, miss } = self.way(net);
        let (away, sign) = if self.at_end { (1.0 - u, -1.0) } else { (u, 1.0) };
        let x = (away / over).clamp(0.0, 1.0);
        (miss * (1.0 - x * x * (3.0 - 2.0 * x)), miss * sign * 6.0 * x * (x - 1.0) / over)
    }
}

/// A side with a wall, its face to the left.
#[derive(Debug, Clone)]
pub(super) struct Rim {
    pub(super) segment: Segment,
    /// The stretches of the side's parameter along which the wall stands: of its cut edge and of its net edge.
    pub(super) cut_range: (f64, f64),
    /// See `cut_range`.
    pub(super) net_range: (f64, f64),
    samples: Vec<Sample>,
    blends: Vec<Blend>,
    /// Where no solution exists: the place, and the radius of the outline there.
    pub(super) cannot_follow: Option<(Point, f64)>,
}

/// What a rim adds to the blank: how far out its cut edge and its net edge are at one of its ends.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reach {
    pub(super) cut: f64,
    pub(super) net: f64,
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
        Self { segment, cut_range: (0.0, 1.0), net_range: (0.0, 1.0), samples, blends: Vec::new(), cannot_follow }
    }

    /// How far the blank reaches at the side's start or end.
    pub(super) fn reach(&self, at_end: bool) -> Reach {
        let u = if at_end { 1.0 } else { 0.0 };
        Reach { cut: self.out(u, false).0, net: self.out(u, true).0, curvature: self.segment.curvature_at(u) }
    }

    /// Leads the edges over to the given reach at one end, within one wall's flat width or half the side, level at both ends of the way.
    /// `tangent_inset` is what the wall's width has inside the outline.
    pub(super) fn blend(&mut self, at_end: bool, to: Reach, tangent_inset: f64) {
        let own = self.reach(at_end);
        let over = |own: f64| ((own + tangent_inset).max(SAME_POINT) / self.segment.length()).min(0.5);
        let way = |own: f64, to: f64| Way { over: over(own), miss: to - own };
        let blend = Blend { at_end, cut: way(own.cut, to.cut), net: way(own.net, to.net) };
        if blend.cut.miss.abs().max(blend.net.miss.abs()) > 1e-6 {
            self.blends.push(blend);
        }
    }

    fn is_constant(&self) -> bool {
        self.samples.len() == 2 && self.blends.is_empty()
    }

    /// The distance out to the cut edge or the net edge at `u`, and its slope over `u`.
    fn out(&self, u: f64, net: bool) -> (f64, f64) {
        let value = |s: &Sample| if net { s.net } else { s.cut };
        let last = self.samples.len() - 1;
        let i = self.samples.partition_point(|s| s.u <= u).clamp(1, last);
        // The parabola through the samples beside `u` and one more; a constant wall has just two.
        let own = if last == 1 {
            (value(&self.samples[0]), 0.0)
        } else {
            let a = (i - 1).min(last - 2);
            parabola([a, a + 1, a + 2].map(|k| (self.samples[k].u, value(&self.samples[k]))), u)
        };
        self.blends.iter().map(|blend| blend.at(u, net)).fold(own, |sum, more| (sum.0 + more.0, sum.1 + more.1))
    }

    /// The point of the cut or net edge at `u`.
    pub(super) fn edge_point(&self, u: f64, net: bool) -> Point {
        self.segment.point_at(u) - left_of(self.segment.tangent_at(u)) * self.out(u, net).0
    }

    /// The edge as lines and arcs from its start on, without its last point. None where it turns inside out.
    pub(super) fn edge(&self, net: bool) -> Option<Vec<Vertex>> {
        let (from, to) = if net { self.net_range } else { self.cut_range };
        if self.is_constant() {
            let side = self.segment.between(from, to);
            return shifted(&side, -self.out(from, net).0).map(|pieces| vertices_of(&pieces));
        }
        let mut points = Vec::new();
        for u in self.places((from, to), net) {
            let (out, slope) = self.out(u, net);
            let tangent = self.segment.tangent_at(u);
            let growth = 1.0 + self.segment.curvature_at(u) * out;
            if growth <= 0.0 {
                return None;
            }
            let direction = tangent * (growth * self.segment.velocity_at(u).hypot()) - left_of(tangent) * slope;
            points.push((self.edge_point(u, net), direction.normalize()));
        }
        Some(fit_samples(&points, CURVE_TO_ARCS))
    }

    /// Where the edge is taken between two parameters: evenly, and closer together where it is led over to a neighbour.
    fn places(&self, (from, to): (f64, f64), net: bool) -> Vec<f64> {
        let count = sample_count(self.segment.length());
        let even = (0..=count).map(|i| i as f64 / count as f64);
        let blends = self
            .blends
            .iter()
            .flat_map(|blend| (1..=BLEND_SAMPLES).map(|step| blend.place(f64::from(step) / f64::from(BLEND_SAMPLES), net)));
        let apart = SAME_POINT / self.segment.length();
        let mut places: Vec<f64> = even.chain(blends).filter(|u| *u > from + apart && *u < to - apart).collect();
        places.extend([from, to]);
        places.sort_by(f64::total_cmp);
        places.dedup_by(|b, a| *b - *a < apart);
        places
    }

    /// Strain and thickness along the free edge; `along` is the distance of the side's start from the outline's.
    pub(super) fn strains(&self, along: f64, tangent_inset: f64) -> Vec<EdgeStrain> {
        let length = self.segment.length();
        let straight = self.segment.is_straight();
        self.samples
            .iter()
            .map(|s| EdgeStrain {
                at: self.edge_point(s.u, true),
                along: along + s.u * length,
                strain: s.strain,
                thickness_ratio: s.thickness_ratio,
                width: self.out(s.u, true).0 + tangent_inset,
                radius: if straight { f64::INFINITY } else { 1.0 / s.curvature },
            })
            .collect()
    }

    /// Whether the wall laid flat would turn inside out along this side: an inside curve tighter than the wall is wide.
    pub(super) fn turns_inside_out(&self) -> bool {
        self.samples.iter().any(|s| 1.0 + s.curvature * s.cut.max(s.net) <= 0.02)
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

pub(super) fn vertices_of(pieces: &[Segment]) -> Vec<Vertex> {
    pieces
        .iter()
        .flat_map(|piece| match *piece {
            Segment::Line { from, .. } => vec![Vertex { point: from, bulge: 0.0 }],
            Segment::Arc { from, bulge, .. } => vec![Vertex { point: from, bulge }],
            curve @ Segment::Curve(_) => crate::geom::fit_arcs(&|u| (curve.point_at(u), curve.tangent_at(u)), CURVE_TO_ARCS),
        })
        .collect()
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
    let cut = if trim == 0.0 { net.flat_width } else { ring(law, &wall.ring_section(tangent_curvature, trim))?.flat_width };
    Ok(Sample {
        u,
        cut: cut - inset,
        net: net.flat_width - inset,
        strain: net.edge_hoop_strain.exp_m1(),
        thickness_ratio: net.edge_thickness_ratio,
        curvature,
    })
}

/// The wall as a straight one, unrolled.
fn unrolled(u: f64, curvature: f64, wall: &Wall, trim: f64) -> Sample {
    let net = wall.flat_width() - wall.tangent_inset();
    Sample { u, cut: net + trim, net, strain: 0.0, thickness_ratio: 1.0, curvature }
}
