//! Blanks of runs of walls against the exact ring, plain unrolling, and what symmetry asks.
//! Millimetres; strains logarithmic where said.

use super::*;
use crate::describe::{NoFiles, read_part};
use crate::fe::ring::ring;
use crate::geom::{Affine, Polyarc, Side, Vertex, distance_to, self_crossing};
use crate::part::Kind;

use kurbo::CubicBez;
use std::f64::consts::{FRAC_PI_2, PI};

const LAW: SheetLaw = SheetLaw {
    strength_mpa: 1000.0,
    hardening: 0.17,
    anisotropy: 1.0,
    elastic_modulus_mpa: 205_000.0,
};

fn wall(depth: f64) -> Wall {
    Wall { thickness: 1.8, inside_radius: 3.0, bend_angle: FRAC_PI_2, k_factor: 0.5, depth }
}

fn unfold_walls(
    face: &Loop,
    has_wall: &dyn Fn(usize) -> bool,
    wall: &Wall,
    law: &SheetLaw,
    trim: f64,
) -> Result<ShellBlank, NoBlank> {
    Shell {
        profile: face,
        has_wall,
        surface: None,
        wall,
        law,
        trim,
        crown: 0.0,
        join: crate::part::Join::RunOn,
        finished: &|_| None,
    }
    .lay_flat()
}

fn unfolded(outline: &Polyarc, depth: f64, trim: f64) -> ShellBlank {
    unfold_walls(&Loop::of(outline, None), &|_| true, &wall(depth), &LAW, trim).expect("a blank")
}

fn polyarc(vertices: &[(f64, f64, f64)]) -> Polyarc {
    Polyarc {
        vertices: vertices
            .iter()
            .map(|(x, y, bulge)| Vertex { point: Point::new(*x, *y), bulge: *bulge })
            .collect(),
    }
}

/// A rectangle about the origin with round corners.
fn pan(width: f64, height: f64, radius: f64) -> Polyarc {
    let (x, y, b) = (width / 2.0, height / 2.0, (PI / 8.0).tan());
    polyarc(&[
        (x, radius - y, 0.0),
        (x, y - radius, b),
        (x - radius, y, 0.0),
        (radius - x, y, b),
        (-x, y - radius, 0.0),
        (-x, radius - y, b),
        (radius - x, -y, 0.0),
        (x - radius, -y, b),
    ])
}

/// The kidney of the project's notes (a trial in another language): middle surface of the wall on
/// radius 50 at the ends, 190 outside, 90 inside, 80 degrees; here as the outline of the wall's
/// outer skin, half a thickness farther out.
fn kidney() -> Polyarc {
    let half = 40_f64.to_radians();
    let at = |radius: f64, angle: f64| Point::new(radius * angle.cos(), radius * angle.sin());
    let (from, to) = (FRAC_PI_2 - half, FRAC_PI_2 + half);
    let end = 1.0; // half a turn
    let vertices = vec![
        Vertex { point: at(190.9, from), bulge: (half / 2.0).tan() },
        Vertex { point: at(190.9, to), bulge: end },
        Vertex { point: at(89.1, to), bulge: -(half / 2.0).tan() },
        Vertex { point: at(89.1, from), bulge: end },
    ];
    Polyarc { vertices }
}

/// Strain (logarithmic) and width at the middle of the side that has this radius.
fn middle(walled: &ShellBlank, radius: f64) -> (f64, f64) {
    let side: Vec<_> = walled.strains.iter().filter(|e| (e.radius - radius).abs() < 1e-6).collect();
    // Several sides may have it: the first one's samples follow each other.
    let from = side[0].along;
    let to = side
        .windows(2)
        .take_while(|pair| pair[1].along - pair[0].along < 10.0)
        .last()
        .expect("samples")[1]
        .along;
    let centre = f64::midpoint(from, to);
    let found = side
        .iter()
        .min_by(|a, b| (a.along - centre).abs().total_cmp(&(b.along - centre).abs()))
        .expect("samples");
    (found.strain.ln_1p(), found.width)
}

fn ring_width(outline_radius: f64, wall: &Wall) -> f64 {
    let curvature = 1.0 / outline_radius;
    ring(&LAW, &wall.ring_section(curvature / (1.0 - curvature * wall.tangent_inset()), 0.0))
        .expect("a ring")
        .flat_width
}

/// Largest angle between pieces of an outline, radians.
fn sharpest_turn(outline: &Polyarc) -> f64 {
    let pieces: Vec<Segment> = outline.segments().collect();
    (0..pieces.len())
        .map(|i| {
            let (a, b) =
                (pieces[i].tangent_at(1.0), pieces[(i + 1) % pieces.len()].tangent_at(0.0));
            a.cross(b).atan2(a.dot(b)).abs()
        })
        .fold(0.0, f64::max)
}

/// Strains in the middle of the arcs and widths less the plain unrolled width as the notes give
/// them (measured by a trial in another language with finer meshes): ends -0.2915 and -1.40, outer
/// arc -0.0901 and -0.42, inside arc 0.2376 and +1.08.
#[test]
fn kidney_agrees_with_the_trial() {
    let walled = unfolded(&kidney(), 20.9, 0.0);
    assert_eq!(walled.solved.len(), 1);
    let unrolled = wall(20.9).flat_width();
    for (radius, strain, less) in
        [(50.9, -0.2915, -1.40), (190.9, -0.0901, -0.42), (-89.1, 0.2376, 1.08)]
    {
        let (found, width) = middle(&walled, radius);
        assert!((found - strain).abs() < 3e-3, "radius {radius}: strain {found}");
        assert!((width - unrolled - less).abs() < 0.05, "radius {radius}: {}", width - unrolled);
    }
    assert!(sharpest_turn(&walled.net) < 0.02, "{}", sharpest_turn(&walled.net));
}

/// The long sides of a pan unroll exactly; a short corner arc is relieved by its sides, so its edge
/// lies between the full ring's and the unrolled one.
#[test]
fn pan_lies_between_ring_and_unrolling() {
    let wall = wall(20.9);
    let walled = unfolded(&pan(400.0, 300.0, 40.0), 20.9, 0.0);
    let unrolled = wall.flat_width();
    let out = unrolled - wall.tangent_inset();
    for (x, y) in [(200.0 + out, 0.0), (-200.0 - out, 0.0), (0.0, 150.0 + out), (0.0, -150.0 - out)]
    {
        let off = distance_to(&walled.net, Point::new(x, y));
        assert!(off < 1e-6, "{off}");
    }
    let (strain, width) = middle(&walled, 40.0);
    let full = ring_width(40.0, &wall);
    assert!(full < width - 0.02 && width < unrolled - 0.1, "{full} < {width} < {unrolled}");
    assert!(strain < -0.1, "{strain}");
    assert!(sharpest_turn(&walled.net) < 0.02, "{}", sharpest_turn(&walled.net));
    for flip in [Affine::FLIP_X, Affine::FLIP_Y] {
        for vertex in &walled.net.vertices {
            let off = distance_to(&walled.net, flip * vertex.point);
            assert!(off < 0.01, "{off} at {:?}", vertex.point);
        }
        same_metal(&walled, &walled, flip, 1e-6);
    }
}

/// Every sample of the one has a sample of the other at its moved place, of the same strain.
fn same_metal(one: &ShellBlank, other: &ShellBlank, motion: Affine, tolerance: f64) {
    for a in &one.strains {
        let at = motion * a.at;
        let near = other
            .strains
            .iter()
            .min_by(|b, c| b.at.distance(at).total_cmp(&c.at.distance(at)))
            .expect("samples");
        assert!(near.at.distance(at) < tolerance, "{:?} for {at:?}", near.at);
        assert!((near.strain - a.strain).abs() < 1e-6, "{} for {}", near.strain, a.strain);
    }
}

/// Forces along the free edge balance within 2 % of what an element puts on a node, on a
/// rectangular pan with round corners and on a kidney: found from the stresses on the formed part,
/// apart from the solver. `fe_wall.rs` shows that they fall with the mesh.
#[test]
fn free_edges_are_in_balance() {
    for outline in [pan(200.0, 120.0, 40.0), kidney()] {
        let walled = unfolded(&outline, 20.9, 0.0);
        let quality = walled.solved[0].quality;
        assert!(quality.edge_force < 0.02, "{quality:?}");
        assert!(quality.least_angle > 0.05 && quality.greatest_aspect < 20.0, "{quality:?}");
    }
}

/// The walls of half-shells that stand in `shapes/`: their free edges balance within 2 %, and no
/// triangle is turned over.
#[test]
fn shells_of_the_examples_are_in_balance() {
    let files = [
        include_str!("../../shapes/slate-wren/rail-half.yaml"),
        include_str!("../../shapes/slate-wren/pivot-cover.yaml"),
        include_str!("../../shapes/curved-arm.yaml"),
    ];
    for text in files {
        let part =
            read_part("part.yaml", text.as_bytes().to_vec(), None, &NoFiles).expect("a sound part");
        let Kind::HalfShell(shell) = &part.kind else { panic!("{} is no half-shell", part.name) };
        let mm = |length: crate::units::Length| length.mm();
        let wall = Wall::new(
            part.thickness,
            shell.inside_radius,
            crate::units::Angle::from_degrees(90.0) - shell.draft,
            shell.depths().1,
            &part.bend_rule,
            part.unit,
        )
        .expect("a wall");
        let walled = |i: usize| {
            shell.profile.sides.sides[i].edge.is_none_or(|edge| !shell.open_edges.contains(&edge))
        };
        let law = part.material.sheet_law();
        for trim in [0.0, mm(shell.trim)] {
            let blank =
                unfold_walls(&shell.profile.sides, &walled, &wall, &law, trim).expect("a blank");
            assert!(!blank.solved.is_empty(), "{}", part.name);
            for walls in &blank.solved {
                assert!(
                    walls.quality.edge_force < 0.02,
                    "{}: {}",
                    part.name,
                    walls.quality.edge_force
                );
                in_order(walls, 0);
            }
        }
    }
}

/// A full circle solved as a run, which it is once one of its sides is a cubic all but round, has
/// the radius of the exact ring within 0.05 %; the blank of arcs takes the ring itself.
#[test]
fn circle_agrees_with_the_ring() {
    for radius in [50.9, 120.0] {
        let wall = wall(20.9);
        let exact = radius - wall.tangent_inset() + ring_width(radius, &wall);
        let arcs = Polyarc::circle(Point::ORIGIN, radius);
        let rings = unfolded(&arcs, 20.9, 0.0);
        assert!(
            rings.solved.is_empty()
                && rings.strains.iter().all(|e| (e.at.to_vec2().hypot() - exact).abs() < 1e-6)
        );
        let quarter = |i: u32| {
            let at = |angle: f64| Point::new(radius * angle.cos(), radius * angle.sin());
            let (from, to) = (FRAC_PI_2 * f64::from(i) / 4.0, FRAC_PI_2 * f64::from(i + 1) / 4.0);
            // A cubic of a 16th turn leaves its circle by less than a millionth of the radius.
            let reach = radius * 4.0 / 3.0 * (FRAC_PI_2 / 16.0).tan();
            let along = |angle: f64| Vec2::new(-angle.sin(), angle.cos()) * reach;
            let (a, b) = (at(from), at(to));
            Side {
                segment: Segment::Curve(CubicBez::new(a, a + along(from), b - along(to), b)),
                edge: None,
            }
        };
        let face = Loop { sides: (0..16).map(quarter).collect() };
        let solved = unfold_walls(&face, &|_| true, &wall, &LAW, 0.0).expect("a blank");
        assert_eq!(solved.solved.len(), 1);
        for sample in &solved.strains {
            let found = sample.at.to_vec2().hypot();
            assert!((found - exact).abs() < 5e-4 * exact, "{found} for {exact}");
        }
    }
}

/// Turned, mirrored and begun elsewhere, an outline has the turned, mirrored and same blank.
#[test]
fn moved_outline_has_the_moved_blank() {
    let outline = kidney();
    let walled = unfolded(&outline, 20.9, 5.0);
    let turn = Affine::translate((310.0, -55.0)) * Affine::rotate(0.7);
    same_metal(&walled, &unfolded(&outline.moved(turn), 20.9, 5.0), turn, 1e-6);
    let mirrored = outline.moved(Affine::FLIP_X).counter_clockwise();
    same_metal(&walled, &unfolded(&mirrored, 20.9, 5.0), Affine::FLIP_X, 1e-6);
    let mut later = outline;
    later.vertices.rotate_left(2);
    let again = unfolded(&later, 20.9, 5.0);
    same_metal(&walled, &again, Affine::IDENTITY, 1e-6);
    for vertex in &again.cut.vertices {
        assert!(distance_to(&walled.cut, vertex.point) < 0.01);
    }
}

/// The net blank hangs on no trim, and the seam lies inside the cut by about the trim: nearer where
/// the wall shrinks (its metal grows in height as it goes down, so that less is needed), farther
/// where it stretches.
#[test]
fn trim_leaves_the_net_blank_alone() {
    let (bare, trimmed) = (unfolded(&kidney(), 20.9, 0.0), unfolded(&kidney(), 20.9, 5.0));
    for vertex in &trimmed.net.vertices {
        assert!(distance_to(&bare.net, vertex.point) < 0.02, "{:?}", vertex.point);
    }
    let seam = Polyarc {
        vertices: trimmed.net_lines[0]
            .iter()
            .map(|s| Vertex { point: s.from(), bulge: 0.0 })
            .collect(),
    };
    for vertex in &seam.vertices {
        let gap = distance_to(&trimmed.cut, vertex.point);
        assert!((3.5..6.5).contains(&gap), "{gap}");
    }
    assert!(trimmed.cut.area() > bare.net.area());
}

/// A half-round end between two long sides, open at their other ends: the walls' ends are square
/// and as wide as the unrolled wall.
#[test]
fn open_run_ends_square() {
    let outline =
        polyarc(&[(0.0, -50.0, 0.0), (200.0, -50.0, 1.0), (200.0, 50.0, 0.0), (0.0, 50.0, 0.0)]);
    let face = Loop::of(&outline, None);
    let wall = wall(20.9);
    for trim in [0.0, 5.0] {
        let walled = unfold_walls(&face, &|i| i != 3, &wall, &LAW, trim).expect("a blank");
        // The solve does not settle here yet (it is an estimate), which the ends do not depend on.
        let out = wall.flat_width() - wall.tangent_inset();
        for y in [-50.0 - out, 50.0 + out] {
            let corner = Point::new(0.0, y);
            let nearest = walled
                .net
                .vertices
                .iter()
                .map(|v| v.point.distance(corner))
                .fold(f64::INFINITY, f64::min);
            assert!(nearest < 1e-6, "{nearest}");
        }
        assert!(walled.net.bounds().x0.abs() < 1e-9 && walled.cut.bounds().x0.abs() < 1e-9);
    }
}

/// A belly: the outline turns out and back in on arcs. Its wall shrinks along the first and
/// stretches along the second, and the edge is smooth over all joints.
#[test]
fn belly_shrinks_and_stretches() {
    let b = (0.4_f64 / 4.0).tan();
    let (c, s) = (0.4_f64.cos(), 0.4_f64.sin());
    let (r, x1) = (150.0, 150.0 * s);
    let dip = r * (1.0 - c);
    let outline = polyarc(&[
        (0.0, 0.0, b),
        (x1, dip, -b),
        (2.0 * x1, 2.0 * dip, -b),
        (3.0 * x1, dip, b),
        (4.0 * x1, 0.0, 0.0),
        (4.0 * x1, 200.0, 0.0),
        (0.0, 200.0, 0.0),
    ]);
    // The face is on the left: arcs that turn left are convex.
    let face = Loop::of(&outline, None);
    let walled = unfold_walls(&face, &|i| i < 4, &wall(20.9), &LAW, 0.0).expect("a blank");
    assert_eq!(walled.solved.len(), 1);
    assert!(
        walled.strains.iter().any(|e| e.radius < 0.0 && e.strain > 0.05),
        "stretch on the inside arcs"
    );
    assert!(
        walled.strains.iter().any(|e| e.radius > 0.0 && e.strain < -0.05),
        "shrink on the outside arcs"
    );
    let crossing = self_crossing(&walled.net);
    assert!(crossing.is_none());
    for line in &walled.net_lines {
        for pair in line.windows(2) {
            let (a, b) = (pair[0].tangent_at(1.0), pair[1].tangent_at(0.0));
            assert!(a.cross(b).atan2(a.dot(b)).abs() < 0.02, "at {:?}", pair[1].from());
        }
    }
}

/// One of many random smooth outlines (seeded), with scoops, waists and convex corners down to the
/// edge radius, and its wall's depth.
fn random_outline(case: usize) -> (Loop, f64) {
    let mut state = (case as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15).wrapping_add(20_251_125);
    let mut random = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    random();
    let (size, uneven, depth, stretch) =
        (20.0 + 25.0 * random(), 0.3 * random(), 8.0 + 8.0 * random(), 1.0 + random());
    let count = 4 + case % 4;
    let points: Vec<Point> = (0..count)
        .map(|i| {
            let direction = Vec2::from_angle(2.0 * PI * i as f64 / count as f64);
            let at = direction * size * (1.0 + uneven * (2.0 * random() - 1.0));
            Point::new(stretch * at.x, at.y)
        })
        .collect();
    (Loop { sides: closed_curves(&points) }, depth)
}

/// Random outlines: each has a blank that crosses itself nowhere, its triangles all turning left
/// and its metal's volume that of the blank, or is refused with its place, less than a tenth of
/// them. (Corners with no room for the edge radius are refused before.)
#[test]
#[ignore = "five minutes of computing without full optimisation; .ci/run runs it"]
fn two_hundred_random_outlines() {
    random_outlines(200);
}

#[test]
fn twenty_random_outlines() {
    random_outlines(20);
}

fn random_outlines(count: usize) {
    let (mut refused, mut tight, mut apart) = (Vec::new(), 0, 0);
    let outcome = |case: usize| {
        let (face, depth) = random_outline(case);
        unfold_walls(&face, &|_| true, &wall(depth), &LAW, 0.0)
    };
    let halves = std::thread::scope(|scope| {
        let half = |first: usize| {
            scope.spawn(move || {
                (first..count).step_by(2).map(|case| (case, outcome(case))).collect::<Vec<_>>()
            })
        };
        [half(0), half(1)].map(|half| half.join().expect("no panic"))
    });
    for (case, outcome) in halves.into_iter().flatten() {
        match outcome {
            Err(NoBlank::TightCorner { .. }) => tight += 1,
            Err(problem) => refused.push((case, problem)),
            Ok(walled) => {
                assert!(
                    self_crossing(&walled.cut).is_none() && self_crossing(&walled.net).is_none()
                );
                assert!(walled.strains.iter().all(|e| e.strain.is_finite() && e.at.is_finite()));
                apart += usize::from(!walled.cut_apart.is_empty());
                for walls in &walled.solved {
                    in_order(walls, case);
                }
            }
        }
    }
    assert!(10 * refused.len() < count, "{refused:?}");
    assert!(2 * (tight + apart) < count, "{tight} too tight, {apart} cut apart");
}

/// No triangle is turned over; formed area times thickness is flat area times the sheet's, triangle
/// by triangle: log strains add up to 0.
fn in_order(walls: &SolvedWalls, case: usize) {
    for (corners, metal) in walls.triangles.iter().zip(&walls.metal) {
        let [a, b, c] = corners.map(|node| walls.flat[node]);
        assert!((b - a).cross(c - a) > 0.0, "{case}");
        let sum = metal.strain.0.ln_1p() + metal.strain.1.ln_1p() + metal.thickness_ratio.ln();
        assert!(sum.abs() < 1e-12, "{case}: {sum}");
        assert!(metal.strain.0 < 1.0 && metal.strain.1 > -0.6, "{case}: {metal:?} at {a:?}");
    }
}

/// Cubics through points, their directions those of the neighbours' chord.
fn closed_curves(points: &[Point]) -> Vec<Side> {
    let n = points.len();
    let slope = |i: usize| (points[(i + 1) % n] - points[(i + n - 1) % n]) / 6.0;
    (0..n)
        .map(|i| {
            let (a, b) = (points[i], points[(i + 1) % n]);
            Side {
                segment: Segment::Curve(CubicBez::new(a, a + slope(i), b - slope((i + 1) % n), b)),
                edge: None,
            }
        })
        .collect()
}
