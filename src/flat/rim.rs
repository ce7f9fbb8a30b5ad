//! One side of an edge with a wall: how far the blank reaches beyond it, and what the metal does on the way.

use crate::fe::law::SheetLaw;
use crate::fe::ring::{RingFailure, ring};
use crate::formed::Wall;
use crate::geom::{Point, Segment, Vertex, fit_samples, left_of, shifted};
use crate::shop::material::Material;
use crate::tolerance::{CURVE_TO_ARCS, RIM_SAMPLE_MM, SAME_POINT};

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

/// A side with a wall, its face to the left.
#[derive(Debug, Clone)]
pub(super) struct Rim {
    pub(super) segment: Segment,
    /// The stretches of the side's parameter along which the wall stands: of its cut edge and of its net edge.
    pub(super) cut_range: (f64, f64),
    /// See `cut_range`.
    pub(super) net_range: (f64, f64),
    samples: Vec<Sample>,
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
        Self { segment, cut_range: (0.0, 1.0), net_range: (0.0, 1.0), samples, cannot_follow }
    }

    /// How far the blank reaches at the side's start or end.
    pub(super) fn reach(&self, at_end: bool) -> Reach {
        let sample = if at_end { self.samples[self.samples.len() - 1] } else { self.samples[0] };
        Reach { cut: sample.cut, net: sample.net, curvature: sample.curvature }
    }

    /// Leads the edges over to those of a straighter neighbour at one end, within one wall's width or half the side.
    pub(super) fn blend(&mut self, at_end: bool, neighbour: Reach) {
        let own = self.reach(at_end);
        let miss = (neighbour.cut - own.cut, neighbour.net - own.net);
        if miss.0.abs().max(miss.1.abs()) < 1e-6 {
            return;
        }
        let length = self.segment.length();
        if self.samples.len() == 2 {
            let first = self.samples[0];
            let count = sample_count(length);
            self.samples = (0..=count).map(|i| Sample { u: i as f64 / count as f64, ..first }).collect();
        }
        let over = (own.cut.abs().max(SAME_POINT) / length).min(0.5);
        for sample in &mut self.samples {
            let away = if at_end { 1.0 - sample.u } else { sample.u };
            let x = (away / over).min(1.0);
            let share = 1.0 - x * x * (3.0 - 2.0 * x);
            sample.cut += miss.0 * share;
            sample.net += miss.1 * share;
        }
    }

    fn is_constant(&self) -> bool {
        self.samples.len() == 2
    }

    /// The distance out to the cut edge or the net edge at `u`.
    fn out(&self, u: f64, net: bool) -> f64 {
        let value = |s: &Sample| if net { s.net } else { s.cut };
        let i = self.samples.partition_point(|s| s.u <= u).clamp(1, self.samples.len() - 1);
        let (a, b) = (&self.samples[i - 1], &self.samples[i]);
        value(a) + (value(b) - value(a)) * ((u - a.u) / (b.u - a.u))
    }

    /// The point of the cut or net edge at `u`.
    pub(super) fn edge_point(&self, u: f64, net: bool) -> Point {
        self.segment.point_at(u) - left_of(self.segment.tangent_at(u)) * self.out(u, net)
    }

    /// The edge as lines and arcs from its start on, without its last point. None where it turns inside out.
    pub(super) fn edge(&self, net: bool) -> Option<Vec<Vertex>> {
        let (from, to) = if net { self.net_range } else { self.cut_range };
        if self.is_constant() {
            let side = self.segment.between(from, to);
            return shifted(&side, -self.out(from, net)).map(|pieces| vertices_of(&pieces));
        }
        let mut places: Vec<f64> = self.samples.iter().map(|s| s.u).filter(|u| *u > from && *u < to).collect();
        places.insert(0, from);
        places.push(to);
        let out: Vec<f64> = places.iter().map(|u| self.out(*u, net)).collect();
        let last = places.len() - 1;
        let mut points = Vec::with_capacity(places.len());
        for (i, &u) in places.iter().enumerate() {
            let (a, b) = (i.saturating_sub(1), (i + 1).min(last));
            let slope = (out[b] - out[a]) / (places[b] - places[a]);
            let tangent = self.segment.tangent_at(u);
            let growth = 1.0 + self.segment.curvature_at(u) * out[i];
            if growth <= 0.0 {
                return None;
            }
            let direction = tangent * (growth * self.speed(u)) - left_of(tangent) * slope;
            points.push((self.edge_point(u, net), direction.normalize()));
        }
        Some(fit_samples(&points, CURVE_TO_ARCS))
    }

    fn speed(&self, u: f64) -> f64 {
        match &self.segment {
            Segment::Curve(curve) => kurbo::ParamCurve::eval(&kurbo::ParamCurveDeriv::deriv(curve), u).to_vec2().hypot(),
            other => other.length(),
        }
    }

    /// Strain and thickness along the free edge; `along` is the distance of the side's start from the outline's.
    pub(super) fn strains(&self, along: f64, tangent_inset: f64) -> Vec<EdgeStrain> {
        let length = self.segment.length();
        let straight = self.segment.is_straight();
        self.samples
            .iter()
            .filter(|s| s.u >= self.net_range.0.min(0.0) - 1e-9 && s.u <= self.net_range.1.max(1.0) + 1e-9)
            .map(|s| EdgeStrain {
                at: self.edge_point(s.u, true),
                along: along + s.u * length,
                strain: s.strain,
                thickness_ratio: s.thickness_ratio,
                width: s.net + tangent_inset,
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
