//! Triangles for flat areas with holes and for the solids that stand on them, by the library
//! `lyon`.
//!
//! The library counts in single precision and is used for how the corners connect, not for where
//! they are: every corner returned is exactly one of the outlines'. So solids are closed to the
//! last bit and areas are those of the outlines.

use std::collections::BTreeMap;

use kurbo::{Point, Vec2};
use lyon::lyon_tessellation::path::EndpointId;
use lyon::lyon_tessellation::{
    FillGeometryBuilder, FillOptions, FillTessellator, FillVertex, GeometryBuilder,
    GeometryBuilderError, VertexId, math,
};

use super::Polyarc;
use crate::tolerance::{TRIANGULATED_AREA, TRIANGULATION_TURNS};

/// Triangles, counter-clockwise, that cover the inside of `outer` without its `openings`; arcs
/// become chords within `tolerance` mm.
///
/// Their corners are those of [`Polyarc::flatten`]. None where the outlines cross themselves or one
/// another, or are no outlines.
#[must_use]
pub fn triangulate(
    outer: &Polyarc,
    openings: &[Polyarc],
    tolerance: f64,
) -> Option<Vec<[Point; 3]>> {
    let rings = rings(outer, openings, tolerance)?;
    let corners: Vec<Point> = rings.concat();
    let triangles = connect(&rings, &corners)?;
    Some(triangles.into_iter().map(|triangle| triangle.map(|i| corners[i])).collect())
}

/// The surface of the upright solid on that area from height `bottom` up to `top`, mm: triangles
/// whose corners run counter-clockwise seen from outside, closed corner on corner.
#[must_use]
pub fn prism(
    outer: &Polyarc,
    openings: &[Polyarc],
    heights: (f64, f64),
    tolerance: f64,
) -> Option<Vec<[[f64; 3]; 3]>> {
    let rings = rings(outer, openings, tolerance)?;
    let corners: Vec<Point> = rings.concat();
    let (bottom, top) = heights;
    let mut surface = Vec::new();
    for [a, b, c] in connect(&rings, &corners)? {
        let at = |i: usize, z: f64| [corners[i].x, corners[i].y, z];
        surface.push([at(a, top), at(b, top), at(c, top)]);
        surface.push([at(a, bottom), at(c, bottom), at(b, bottom)]);
    }
    for ring in &rings {
        for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
            let (a0, a1, b0, b1) =
                ([a.x, a.y, bottom], [a.x, a.y, top], [b.x, b.y, bottom], [b.x, b.y, top]);
            surface.extend([[a0, b0, b1], [a0, b1, a1]]);
        }
    }
    Some(surface)
}

/// The outlines as polygons, the outer one counter-clockwise and the openings clockwise, so that
/// the metal is on the left of all.
fn rings(outer: &Polyarc, openings: &[Polyarc], tolerance: f64) -> Option<Vec<Vec<Point>>> {
    let outer = std::iter::once(outer.clone().counter_clockwise());
    let openings = openings.iter().map(|opening| opening.clone().counter_clockwise().reversed());
    let rings: Vec<Vec<Point>> =
        outer.chain(openings).map(|outline| outline.flatten(tolerance)).collect();
    rings
        .iter()
        .all(|ring| ring.len() >= 3 && ring.iter().all(|point| point.is_finite()))
        .then_some(rings)
}

/// The triangles as numbers of corners. The library is asked anew with the outlines turned when
/// single precision fooled it.
fn connect(rings: &[Vec<Point>], corners: &[Point]) -> Option<Vec<[usize; 3]>> {
    TRIANGULATION_TURNS.iter().find_map(|turn| {
        tessellated(rings, *turn).filter(|triangles| covers(triangles, rings, corners))
    })
}

/// The library's triangles for the outlines turned by `turn` radians.
fn tessellated(rings: &[Vec<Point>], turn: f64) -> Option<Vec<[usize; 3]>> {
    let bounds = rings[0]
        .iter()
        .fold(kurbo::Rect::from_points(rings[0][0], rings[0][0]), |bounds, point| {
            bounds.union_pt(*point)
        });
    // The library tells points apart by a fixed distance, so every outline is given to it at the
    // size of a large part.
    let along = Vec2::from_angle(turn)
        * (2000.0 / bounds.width().max(bounds.height()).max(f64::MIN_POSITIVE));
    let single = |point: &Point| {
        let reach = *point - bounds.center();
        #[expect(
            clippy::cast_possible_truncation,
            reason = "only how the corners connect is taken from this"
        )]
        math::point(reach.dot(along) as f32, along.cross(reach) as f32)
    };
    let mut output = Corners { of_vertex: Vec::new(), triangles: Vec::new(), is_foreign: false };
    let options = FillOptions::non_zero().with_intersections(false);
    let mut tessellator = FillTessellator::new();
    let mut builder = tessellator.builder(&options, &mut output);
    for ring in rings {
        builder.begin(single(&ring[0]));
        for point in &ring[1..] {
            builder.line_to(single(point));
        }
        builder.end(true);
    }
    builder.build().ok()?;
    (!output.is_foreign).then_some(output.triangles)
}

/// Takes the library's triangles as numbers of the corners given to it.
struct Corners {
    of_vertex: Vec<usize>,
    triangles: Vec<[usize; 3]>,
    /// Whether it made a corner of its own.
    is_foreign: bool,
}

impl GeometryBuilder for Corners {
    fn add_triangle(&mut self, a: VertexId, b: VertexId, c: VertexId) {
        // With y up the library's triangles run clockwise.
        self.triangles.push([a, c, b].map(|vertex| self.of_vertex[vertex.to_usize()]));
    }
}

impl FillGeometryBuilder for Corners {
    fn add_fill_vertex(&mut self, vertex: FillVertex) -> Result<VertexId, GeometryBuilderError> {
        let corner = vertex.as_endpoint_id().map(EndpointId::to_usize);
        self.is_foreign |= corner.is_none();
        let id = VertexId::from_usize(self.of_vertex.len());
        self.of_vertex.push(corner.unwrap_or(0));
        Ok(id)
    }
}

/// Whether the triangles run counter-clockwise and cover the area once: each side of an outline is
/// the side of one triangle, each other side is shared by two, and the areas add up.
fn covers(triangles: &[[usize; 3]], rings: &[Vec<Point>], corners: &[Point]) -> bool {
    let mut sides: BTreeMap<(usize, usize), i32> = BTreeMap::new();
    let mut area = 0.0;
    for [a, b, c] in triangles {
        for (from, to) in [(*a, *b), (*b, *c), (*c, *a)] {
            // A side walked back takes away one walked on.
            let (key, step) = if from < to { ((from, to), 1) } else { ((to, from), -1) };
            *sides.entry(key).or_insert(0) += step;
        }
        // Unsigned: a triangle turned over makes the sum too large.
        let double = (corners[*b] - corners[*a]).cross(corners[*c] - corners[*a]);
        area += double.abs() / 2.0;
    }
    let mut first = 0;
    let mut wanted = 0.0;
    for ring in rings {
        let n = ring.len();
        for i in 0..n {
            let (from, to) = (first + i, first + (i + 1) % n);
            let (key, step) = if from < to { ((from, to), 1) } else { ((to, from), -1) };
            *sides.entry(key).or_insert(0) -= step;
            wanted += (ring[i] - ring[0]).cross(ring[(i + 1) % n] - ring[0]) / 2.0;
        }
        first += n;
    }
    wanted > 0.0
        && sides.values().all(|count| *count == 0)
        && (area - wanted).abs() <= TRIANGULATED_AREA * wanted
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Rect, Vertex};

    fn area(triangles: &[[Point; 3]]) -> f64 {
        triangles.iter().map(|[a, b, c]| (*b - *a).cross(*c - *a) / 2.0).sum()
    }

    /// Six times the volume inside, by the tetrahedra from the origin (divergence theorem).
    fn volume(surface: &[[[f64; 3]; 3]]) -> f64 {
        let det = |[a, b, c]: &[[f64; 3]; 3]| {
            a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
                + a[2] * (b[0] * c[1] - b[1] * c[0])
        };
        surface.iter().map(det).sum::<f64>() / 6.0
    }

    fn polygon_area(points: &[Point]) -> f64 {
        points
            .iter()
            .zip(points.iter().cycle().skip(1))
            .map(|(a, b)| a.to_vec2().cross(b.to_vec2()) / 2.0)
            .sum()
    }

    /// Every side of every triangle is walked once each way.
    fn is_closed(surface: &[[[f64; 3]; 3]]) -> bool {
        let key = |p: [f64; 3]| p.map(f64::to_bits);
        let mut sides = BTreeMap::new();
        for [a, b, c] in surface {
            for (from, to) in [(a, b), (b, c), (c, a)] {
                *sides.entry((key(*from), key(*to))).or_insert(0) += 1;
            }
        }
        sides.iter().all(|((from, to), count)| *count == 1 && sides.get(&(*to, *from)) == Some(&1))
    }

    #[test]
    fn a_plate_with_holes_has_its_area_and_its_solid_its_volume() {
        let plate = Polyarc::rectangle(Rect::new(-20.0, 5.0, 480.0, 205.0));
        let holes = [(60.0, 50.0, 8.0), (200.0, 105.0, 60.0), (400.0, 120.0, 25.0)]
            .map(|(x, y, radius)| Polyarc::circle(Point::new(x, y), radius));
        let triangles = triangulate(&plate, &holes, 0.01).expect("a sound plate");
        let wanted =
            100_000.0 - holes.iter().map(|hole| polygon_area(&hole.flatten(0.01))).sum::<f64>();
        assert!((area(&triangles) - wanted).abs() < 1e-9 * wanted, "{} {wanted}", area(&triangles));
        let surface = prism(&plate, &holes, (-3.0, 15.0), 0.01).expect("a sound plate");
        assert!(is_closed(&surface));
        assert!((volume(&surface) - 18.0 * wanted).abs() < 1e-9 * 18.0 * wanted);
    }

    #[test]
    fn random_stars_with_a_hole_are_closed_solids() {
        // A linear congruential generator (Numerical Recipes' constants), for shapes alone.
        let mut state = 12345_u32;
        let mut random = move || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state >> 8) / f64::from(1 << 24)
        };
        for round in 0..300 {
            let n = 5 + round % 60;
            let size = [1.0, 50.0, 2000.0][round % 3];
            let vertices = (0..n)
                .map(|i| {
                    let reach = size * (0.4 + 0.6 * random());
                    let point = Point::ORIGIN
                        + Vec2::from_angle(std::f64::consts::TAU * i as f64 / n as f64) * reach;
                    Vertex { point, bulge: if n < 40 { 0.0 } else { 0.02 * (random() - 0.5) } }
                })
                .collect();
            let hole = Polyarc::circle(Point::ORIGIN, size * 0.15);
            let star = Polyarc { vertices };
            let surface = prism(&star, std::slice::from_ref(&hole), (0.0, 2.0), size * 1e-4)
                .expect("a sound star");
            assert!(is_closed(&surface), "round {round}");
            let wanted = 2.0
                * (polygon_area(&star.flatten(size * 1e-4))
                    - polygon_area(&hole.flatten(size * 1e-4)));
            assert!((volume(&surface) - wanted).abs() < 1e-9 * wanted, "round {round}");
        }
    }

    #[test]
    fn what_is_no_outline_has_no_triangles() {
        let tie =
            Polyarc::polygon([(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 12.0)].map(Point::from));
        assert_eq!(triangulate(&tie, &[], 0.01), None);
        assert_eq!(triangulate(&Polyarc::default(), &[], 0.01), None);
        let lost = Polyarc::polygon([(0.0, 0.0), (f64::NAN, 0.0), (0.0, 1.0)].map(Point::from));
        assert_eq!(triangulate(&lost, &[], 0.01), None);
        let plate = Polyarc::rectangle(Rect::new(0.0, 0.0, 10.0, 10.0));
        assert_eq!(triangulate(&plate, &[Polyarc::circle(Point::new(10.0, 5.0), 2.0)], 0.01), None);
    }
}
