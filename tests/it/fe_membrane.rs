//! The membrane solver where the answer is known exactly: uniform strain, and surfaces that unroll
//! without any.
//!
//! Lengths in mm, stresses in MPa, strains logarithmic.

#![allow(clippy::doc_markdown, reason = "formulas stand in the doc comments as plain text")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts of a few rows, rounded on purpose"
)]

use planish::fe::law::{LawFault, SheetLaw};
use planish::fe::membrane::{
    Failure, InputFault, Membrane, Settings, Solution, Stage, Start, hold_rigidly,
};
use planish::fe::metric::{bend_length, edges_from_lengths, formed_edges};
use std::f64::consts::{FRAC_PI_2, PI};

const LAW: SheetLaw = SheetLaw {
    strength_mpa: 1000.0,
    hardening: 0.17,
    anisotropy: 1.0,
    elastic_modulus_mpa: 205_000.0,
};

/// Triangles of a grid of columns × rows nodes, column by column, diagonals alternating, turning
/// left if columns go right and rows up.
fn grid_triangles(columns: usize, rows: usize) -> Vec<[usize; 3]> {
    let mut triangles = Vec::new();
    for c in 0..columns - 1 {
        for r in 0..rows - 1 {
            let [a, b, d, e] =
                [c * rows + r, (c + 1) * rows + r, (c + 1) * rows + r + 1, c * rows + r + 1];
            triangles.extend(if (c + r) % 2 == 0 {
                [[a, b, d], [a, d, e]]
            } else {
                [[a, b, e], [b, d, e]]
            });
        }
    }
    triangles
}

/// Shakes interior and edge alike by a smooth, small displacement, so that no start is already the
/// answer.
fn shaken(flat: &[[f64; 2]], by: f64) -> Vec<[f64; 2]> {
    flat.iter()
        .map(|[x, y]| {
            [x + by * (0.21 * x + 0.4 * y).sin(), y + by * (0.17 * y - 0.3 * x + 1.0).cos()]
        })
        .collect()
}

/// Largest distance between two outlines after the best turn and shift (least squares, closed form
/// of the plane).
fn misfit(found: &[[f64; 2]], exact: &[[f64; 2]]) -> f64 {
    let centre = |p: &[[f64; 2]]| {
        let sum = p.iter().fold([0.0; 2], |s, q| [s[0] + q[0], s[1] + q[1]]);
        [sum[0] / p.len() as f64, sum[1] / p.len() as f64]
    };
    let (cf, ce) = (centre(found), centre(exact));
    let pairs: Vec<_> = found
        .iter()
        .zip(exact)
        .map(|(f, e)| ([f[0] - cf[0], f[1] - cf[1]], [e[0] - ce[0], e[1] - ce[1]]))
        .collect();
    let (dot, cross) = pairs.iter().fold((0.0, 0.0), |(d, c), (f, e)| {
        (d + f[0] * e[0] + f[1] * e[1], c + f[0] * e[1] - f[1] * e[0])
    });
    let (sin, cos) = cross.atan2(dot).sin_cos();
    pairs
        .iter()
        .map(|(f, e)| (cos * f[0] - sin * f[1] - e[0]).hypot(sin * f[0] + cos * f[1] - e[1]))
        .fold(0.0, f64::max)
}

fn largest_strain(solution: &Solution) -> f64 {
    solution.triangles.iter().map(|state| state.e1.abs().max(state.e2.abs())).fold(0.0, f64::max)
}

fn solved(membrane: &Membrane) -> Solution {
    membrane
        .solve(&Settings { start: Start::Far, ..Settings::default() })
        .unwrap_or_else(|why| panic!("{why}"))
}

/// Patch test: an irregular flat patch, formed by one affine map, boundary held at its exact place.
/// Every triangle must show the map's own strains, and every inner node find its place (B. M.
/// Irons, A. Razzaque, Experience with the patch test, 1972; from memory).
#[test]
fn uniform_strain_passes_the_patch() {
    let (columns, rows) = (6, 5);
    let regular: Vec<[f64; 2]> =
        (0..columns * rows).map(|i| [4.0 * (i / rows) as f64, 3.0 * (i % rows) as f64]).collect();
    let flat = shaken(&regular, 0.4);
    let map = [[1.21, 0.14], [-0.05, 0.86]];
    let formed: Vec<[[f64; 2]; 2]> = grid_triangles(columns, rows)
        .iter()
        .map(|corners| {
            let [a, b, c] = corners.map(|node| flat[node]);
            let edge = |p: [f64; 2]| {
                let d = [p[0] - a[0], p[1] - a[1]];
                [map[0][0] * d[0] + map[0][1] * d[1], map[1][0] * d[0] + map[1][1] * d[1]]
            };
            let (p, q) = (edge(b), edge(c));
            [[p[0], q[0]], [p[1], q[1]]]
        })
        .collect();
    let inner =
        |i: usize| (1..columns - 1).contains(&(i / rows)) && (1..rows - 1).contains(&(i % rows));
    let start: Vec<[f64; 2]> = flat
        .iter()
        .enumerate()
        .map(|(i, p)| if inner(i) { [p[0] + 0.5, p[1] - 0.4] } else { *p })
        .collect();
    let held = (0..start.len()).map(|i| [!inner(i); 2]).collect();
    let triangles = grid_triangles(columns, rows);
    let membrane = Membrane { triangles, formed, start, held, law: LAW, thickness: 1.8 };
    let solution = membrane
        .solve(&Settings { move_tolerance: 1e-10, start: Start::Far, ..Settings::default() })
        .expect("a solution");
    // Principal stretches of the map by hand: squares are the eigenvalues of mapᵀ map.
    let (a, b, d) = (
        1.21_f64.powi(2) + 0.05_f64.powi(2),
        1.21 * 0.14 - 0.05 * 0.86,
        0.14_f64.powi(2) + 0.86_f64.powi(2),
    );
    let (mean, radius) = (0.5 * (a + d), (0.25 * (a - d).powi(2) + b * b).sqrt());
    for state in &solution.triangles {
        assert!(
            (state.e1 - 0.5 * (mean + radius).ln()).abs() < 1e-9,
            "{} for {}",
            state.e1,
            0.5 * (mean + radius).ln()
        );
        assert!((state.e2 - 0.5 * (mean - radius).ln()).abs() < 1e-9);
        assert!((state.thickness - 1.8 / (1.21 * 0.86 + 0.14 * 0.05)).abs() < 1e-9);
        // Direction of the greater strain: eigenvector of mapᵀ map.
        let [x, y] = state.direction;
        assert!(((a - mean - radius) * x + b * y).abs() < 1e-9);
    }
    for (found, exact) in solution.flat.iter().zip(&flat) {
        assert!((found[0] - exact[0]).hypot(found[1] - exact[1]) < 1e-8);
    }
}

/// A sheet that is not formed at all is its own blank, from a shaken start and with free edges.
#[test]
fn a_flat_sheet_is_its_own_blank() {
    let (columns, rows) = (8, 6);
    let flat: Vec<[f64; 2]> =
        (0..columns * rows).map(|i| [4.0 * (i / rows) as f64, 5.0 * (i % rows) as f64]).collect();
    let space: Vec<[f64; 3]> = flat.iter().map(|p| [p[0], p[1], 0.0]).collect();
    let triangles = grid_triangles(columns, rows);
    let formed = formed_edges(&space, &vec![[0.0, 0.0, 1.0]; flat.len()], &triangles)
        .expect("good triangles");
    let start = shaken(&flat, 0.6);
    let held = hold_rigidly(&start, 0, start.len() - 1);
    let solution = solved(&Membrane { triangles, formed, start, held, law: LAW, thickness: 1.8 });
    assert!(largest_strain(&solution) < 1e-9, "{}", largest_strain(&solution));
    assert!(misfit(&solution.flat, &flat) < 1e-7);
}

/// Cylinder of radius 100, 60° of it, 80 long, unrolled exactly to 104.72 × 80.
fn cylinder(size: f64) -> (Solution, f64) {
    let (columns, rows) = ((104.72 / size) as usize + 1, (80.0 / size) as usize + 1);
    let (mut space, mut normals, mut flat) = (Vec::new(), Vec::new(), Vec::new());
    for c in 0..columns {
        let angle = PI / 3.0 * c as f64 / (columns - 1) as f64;
        for r in 0..rows {
            let up = 80.0 * r as f64 / (rows - 1) as f64;
            space.push([100.0 * angle.sin(), up, 100.0 * angle.cos()]);
            normals.push([angle.sin(), 0.0, angle.cos()]);
            flat.push([100.0 * angle, up]);
        }
    }
    developed(columns, rows, &space, &normals, &flat)
}

/// Half a cone, radii 40 to 80 over a height of 60, unrolled exactly to a sector: polar angle =
/// angle · sin(half angle).
fn half_cone(size: f64) -> (Solution, f64) {
    let slant = 40.0_f64.hypot(60.0);
    let sine = 40.0 / slant;
    let (columns, rows) = ((60.0 * PI / size) as usize + 1, (slant / size) as usize + 1);
    let (mut space, mut normals, mut flat) = (Vec::new(), Vec::new(), Vec::new());
    for c in 0..columns {
        let angle = PI * c as f64 / (columns - 1) as f64;
        for r in 0..rows {
            // Largest radius first, so that columns to the right and rows up turn left in the
            // sector.
            let radius = 80.0 - 40.0 * r as f64 / (rows - 1) as f64;
            space.push([radius * angle.cos(), radius * angle.sin(), 1.5 * radius]);
            let cosine = 60.0 / slant;
            normals.push([angle.cos() * cosine, angle.sin() * cosine, -sine]);
            let polar = angle * sine;
            flat.push([radius / sine * polar.cos(), radius / sine * polar.sin()]);
        }
    }
    developed(columns, rows, &space, &normals, &flat)
}

/// Solves from a shaken copy of the exact development with free edges; gives the outline's misfit.
fn developed(
    columns: usize,
    rows: usize,
    space: &[[f64; 3]],
    normals: &[[f64; 3]],
    flat: &[[f64; 2]],
) -> (Solution, f64) {
    let mut triangles = grid_triangles(columns, rows);
    let turns_left = |[a, b, c]: [usize; 3]| {
        let [a, b, c] = [flat[a], flat[b], flat[c]];
        (b[0] - a[0]) * (c[1] - a[1]) > (b[1] - a[1]) * (c[0] - a[0])
    };
    if !turns_left(triangles[0]) {
        for corners in &mut triangles {
            corners.swap(1, 2);
        }
    }
    let formed = formed_edges(space, normals, &triangles).expect("good triangles");
    let start = shaken(flat, 0.5);
    let held = hold_rigidly(&start, 0, start.len() - 1);
    let solution = solved(&Membrane { triangles, formed, start, held, law: LAW, thickness: 1.8 });
    let misfit = misfit(&solution.flat, flat);
    (solution, misfit)
}

/// A cylinder and a cone unroll without strain; with arc lengths the outline's error is of the
/// fourth order in the element size: from 10 mm on it falls at least tenfold each time the size
/// halves (16 by theory, cylinder L (h/R)⁴/640), until it comes to rounding.
#[test]
#[allow(clippy::print_stdout, reason = "a table to read, `--nocapture`")]
fn developable_sheets_unroll_with_the_fourth_order() {
    for (name, sheet, first) in
        [("cylinder", cylinder as fn(f64) -> (Solution, f64), 1e-4), ("half cone", half_cone, 1e-3)]
    {
        let mut last: Option<(f64, f64)> = None;
        for size in [10.0, 5.0, 2.5] {
            let (solution, misfit) = sheet(size);
            let strain = largest_strain(&solution);
            println!(
                "{name}, elements of {size} mm: outline out by {misfit:.1e} mm, strains up to {strain:.1e}"
            );
            let (outline_bound, strain_bound) =
                last.map_or((first, 1e-5), |(misfit, strain)| (0.1 * misfit, 0.15 * strain));
            assert!(misfit < outline_bound.max(1e-8), "{name}, {size} mm: {misfit}");
            assert!(strain < strain_bound.max(1e-8), "{name}, {size} mm: {strain}");
            last = Some((misfit, strain));
        }
        assert!(
            last.is_some_and(|(misfit, strain)| misfit < 1e-5 && strain < 1e-6),
            "{name}: {last:?}"
        );
    }
}

/// L-bend: legs 40 and 30, inside radius 3, 1.8 thick, K = (0.65 + 0.5 log10(R/t))/2 = 0.3805 (DIN
/// 6935; from memory). Length = 40 + 30 + π/2 (3 + K t) = 75.7881 (bend allowance as any
/// sheet-metal handbook has it), width unchanged.
#[test]
fn l_bend_has_its_bend_allowance() {
    let (inside, thick, width) = (3.0_f64, 1.8, 30.0);
    let k = 0.5 * (0.65 + 0.5 * (inside / thick).log10());
    let middle = inside + 0.5 * thick;
    let stretch = (inside + k * thick) / middle;
    let bend = middle * FRAC_PI_2;
    let exact = 70.0 + FRAC_PI_2 * (inside + k * thick);
    assert!((exact - 75.7881).abs() < 5e-5);
    let mut last = None;
    for (size, bend_parts) in [(10.0, 3), (5.0, 6)] {
        let rows = (width / size) as usize + 1;
        let mut stations: Vec<f64> = Vec::new();
        let parts = |length: f64| (length / size).ceil() as usize;
        for (from, to, parts) in [
            (0.0, 40.0, parts(40.0)),
            (40.0, 40.0 + bend, bend_parts),
            (40.0 + bend, 70.0 + bend, parts(30.0)),
        ] {
            stations.extend((0..parts).map(|i| from + (to - from) * i as f64 / parts as f64));
        }
        stations.push(70.0 + bend);
        let (mut space, mut normals, mut flat) = (Vec::new(), Vec::new(), Vec::new());
        for s in &stations {
            let angle = ((s - 40.0) / middle).clamp(0.0, FRAC_PI_2);
            let (sin, cos) = angle.sin_cos();
            let (before, after) = (s.min(40.0), (s - 40.0 - bend).max(0.0));
            let within = (s - 40.0).clamp(0.0, bend) * stretch;
            for r in 0..rows {
                let y = width * r as f64 / (rows - 1) as f64;
                space.push([before + middle * sin, y, middle * (cos - 1.0) - after]);
                normals.push([sin, 0.0, cos]);
                flat.push([before + within + after, y]);
            }
        }
        let triangles = grid_triangles(stations.len(), rows);
        let across = |node: usize| (stations[node / rows] - 40.0).clamp(0.0, bend);
        let formed = triangles
            .iter()
            .map(|[a, b, c]| {
                let length = |i: usize, j: usize| {
                    let whole =
                        planish::fe::metric::arc_length(space[i], normals[i], space[j], normals[j]);
                    bend_length(whole, across(j) - across(i), stretch)
                };
                edges_from_lengths(length(*a, *b), length(*b, *c), length(*c, *a))
                    .expect("a triangle")
            })
            .collect();
        let start = shaken(&flat, 0.2);
        let held = hold_rigidly(&start, 0, start.len() - 1);
        let solution =
            solved(&Membrane { triangles, formed, start, held, law: LAW, thickness: thick });
        let ends = (solution.flat[0], solution.flat[(stations.len() - 1) * rows]);
        let length = (ends.1[0] - ends.0[0]).hypot(ends.1[1] - ends.0[1]);
        let miss = misfit(&solution.flat, &flat).max((length - exact).abs());
        assert!(miss < 0.02, "{length} for {exact}");
        assert!(last.is_none_or(|last| miss < 0.1 * last), "{miss} after {last:?}");
        last = Some(miss);
    }
}

/// One right triangle beside another, legs 10.
fn square() -> Membrane {
    let edges = |p: [f64; 2], q: [f64; 2]| [[p[0], q[0]], [p[1], q[1]]];
    Membrane {
        triangles: vec![[0, 1, 2], [0, 2, 3]],
        formed: vec![edges([10.0, 0.0], [10.0, 10.0]), edges([10.0, 10.0], [0.0, 10.0])],
        start: vec![[0.0, 0.0], [10.5, 0.0], [10.0, 10.2], [0.2, 10.0]],
        held: vec![[true, true], [false, true], [false, false], [false, false]],
        law: LAW,
        thickness: 1.8,
    }
}

#[test]
fn bad_input_is_named() {
    type Change = fn(&mut Membrane);
    let cases: [(Change, InputFault); 10] = [
        (|m| m.law.hardening = -0.1, InputFault::Law(LawFault::Hardening)),
        (|m| m.thickness = 0.0, InputFault::Thickness),
        (|m| m.formed.truncate(1), InputFault::Counts),
        (|m| m.triangles[1] = [0, 2, 9], InputFault::Corners(1)),
        (|m| m.triangles[1] = [0, 2, 2], InputFault::Corners(1)),
        (|m| m.formed[0][0][0] = f64::NAN, InputFault::Formed(0)),
        (|m| m.start[1] = [-10.0, 0.0], InputFault::Start(0)),
        (|m| m.start[2] = [f64::INFINITY, 0.0], InputFault::Node(2)),
        (|m| m.triangles.truncate(1), InputFault::Counts),
        (|m| m.held[1] = [false, false], InputFault::Held),
    ];
    for (change, fault) in cases {
        let mut membrane = square();
        change(&mut membrane);
        assert_eq!(membrane.solve(&Settings::default()).err(), Some(Failure::Input(fault)));
    }
    assert!(solved(&square()).triangles.iter().all(|state| state.e1.abs() < 1e-9));
}

/// A failed solve carries its steps and names a node.
#[test]
fn a_solve_cut_short_says_where_it_stands() {
    let settings = Settings { iteration_limit: 1, start: Start::Far, ..Settings::default() };
    match square().solve(&settings) {
        Err(Failure::NotConverged { node, record }) => {
            assert!(node > 0 && node < 4);
            assert_eq!(
                [Stage::Near, Stage::Soft, Stage::True].map(|stage| record.steps(stage)),
                [1, 1, 1]
            );
        }
        other => panic!("{other:?}"),
    }
}

/// Two triangles that share no edge and only one of them held: the other may drift.
#[test]
fn a_loose_piece_is_found() {
    let mut membrane = square();
    membrane.triangles = vec![[0, 1, 2], [3, 4, 5]];
    membrane.formed[1] = membrane.formed[0];
    membrane.start.extend([[20.0, 0.0], [20.0, 10.0]]);
    membrane.start[3] = [10.0, 0.0];
    membrane.held =
        vec![[true, true], [true, true], [false; 2], [false; 2], [false; 2], [false; 2]];
    assert!(
        matches!(membrane.solve(&Settings::default()), Err(Failure::Loose { .. })),
        "a loose piece went unnoticed"
    );
}
