//! Corner gaps of trays, measured between the folded solids by distances of points to triangles
//! worked out here.

use indoc::formatdoc;
use planish::finding::Rule;
use planish::formed::{Piece, SheetMesh, SpaceTriangle};

use crate::support::asserts::assert_near;
use crate::support::parts::made;
use crate::support::space::{V, dot, norm, sub};

fn along(a: V, b: V, share: f64) -> V {
    [0, 1, 2].map(|i| a[i] + (b[i] - a[i]) * share)
}

fn to_segment(p: V, a: V, b: V) -> f64 {
    let (ab, ap) = (sub(b, a), sub(p, a));
    let share = (dot(ap, ab) / dot(ab, ab).max(1e-300)).clamp(0.0, 1.0);
    let miss = sub(p, along(a, b, share));
    norm(miss)
}

/// Distance from a point to a triangle: to its plane where the foot lies inside, else to its
/// nearest side.
fn to_triangle(p: V, [a, b, c]: &SpaceTriangle) -> f64 {
    let (u, v, w) = (sub(*b, *a), sub(*c, *a), sub(p, *a));
    let (uu, uv, vv, wu, wv) = (dot(u, u), dot(u, v), dot(v, v), dot(w, u), dot(w, v));
    let square = uu * vv - uv * uv;
    if square > 1e-12 {
        let (s, t) = ((vv * wu - uv * wv) / square, (uu * wv - uv * wu) / square);
        if s >= 0.0 && t >= 0.0 && s + t <= 1.0 {
            let foot = [0, 1, 2].map(|i| a[i] + s * u[i] + t * v[i]);
            let miss = sub(p, foot);
            return norm(miss);
        }
    }
    to_segment(p, *a, *b).min(to_segment(p, *b, *c)).min(to_segment(p, *c, *a))
}

/// A tray of two neighbouring walls and what is measured of its corner.
struct Corner {
    /// Least distance from places all along one wall's end to the other wall, both ways; the nearer
    /// skin counts.
    along_the_end: [Vec<f64>; 2],
    /// Least distance between all of the two flanges, bends included.
    least: f64,
}

fn corner(yaml: &str, faces: [&str; 2], until: f64) -> Corner {
    let made = made(yaml);
    let tree = made.flat.tree.as_ref().expect("a tree");
    let mesh = SheetMesh::new(tree, &made.flat.outside, &made.flat.openings)
        .unwrap_or_else(|| panic!("a mesh {yaml}"));
    let folding = tree.folded();
    let surface = mesh.surface(&folding);
    let index = |name: &str| {
        tree.faces.iter().position(|face| face.name == name).expect("a face of that name")
    };
    let [a, b] = faces.map(index);
    let of = |face: usize, with_bend: bool| -> Vec<SpaceTriangle> {
        let bend = tree.faces[face].bend.map(Piece::Bend);
        let wanted =
            |piece: &Piece| *piece == Piece::Face(face) || (with_bend && Some(*piece) == bend);
        surface.iter().filter(|(_, piece)| wanted(piece)).map(|(triangle, _)| *triangle).collect()
    };
    let distance = |p: V, solid: &[SpaceTriangle]| {
        solid.iter().map(|t| to_triangle(p, t)).fold(f64::INFINITY, f64::min)
    };
    let along_the_end = [(a, b), (b, a)].map(|(own, other)| {
        let solid = of(other, true);
        // The end that faces the other wall: of the sides of its outline that are no tangent line
        // and not level, the nearer one.
        let sides = tree.faces[own].outline.segments().filter(|side| {
            let (low, high) = (
                folding.on_face(own, side.from(), 0.0)[2],
                folding.on_face(own, side.to(), 0.0)[2],
            );
            (low - high).abs() > 1.0
        });
        let ends: Vec<Vec<(f64, f64)>> = sides
            .map(|side| {
                (0..=24)
                    .map(|k| side.from().lerp(side.to(), f64::from(k) / 24.0))
                    .map(|p| [0.0, tree.thickness].map(|z| folding.on_face(own, p, z)))
                    .filter(|skins| skins[0][2].abs().max(skins[1][2].abs()) < until)
                    .map(|skins| {
                        (
                            skins[0][2].abs(),
                            distance(skins[0], &solid).min(distance(skins[1], &solid)),
                        )
                    })
                    .collect()
            })
            .collect();
        let mut nearest: Vec<(f64, f64)> = ends
            .into_iter()
            .min_by(|x: &Vec<(f64, f64)>, y| x[0].1.total_cmp(&y[0].1))
            .expect("two ends");
        nearest.sort_by(|x, y| x.0.total_cmp(&y.0));
        assert!(nearest.len() > 12);
        // From about 2 mm over its own tangent line on, both walls are flat; below, they curve away
        // from each other.
        nearest.into_iter().skip(2).map(|(_, distance)| distance).collect::<Vec<f64>>()
    });
    let corners = |solid: &[SpaceTriangle]| solid.iter().flatten().copied().collect::<Vec<V>>();
    let (one, two) = (of(a, true), of(b, true));
    let least = corners(&one)
        .into_iter()
        .map(|p| distance(p, &two))
        .chain(corners(&two).into_iter().map(|p| distance(p, &one)))
        .fold(f64::INFINITY, f64::min);
    Corner { along_the_end, least }
}

fn tray(angles: [f64; 2], joints: [&str; 2], gap: f64, thickness: f64) -> String {
    formatdoc!(
        "
        part: tray
        units: mm
        material: dc04
        thickness: {thickness}
        bend_allowance: {{k_factor: 0.42}}
        folded:
          radius: 2.5
          panel: {{profile: {{rectangle: {{size: [220, 160]}}}}}}
          flanges:
            - {{edge: right, bend: {}, height: 45, joint: {}, corner_gap: {gap}}}
            - {{edge: top, bend: {}, height: 45, joint: {}, corner_gap: {gap}}}
        ",
        angles[0],
        joints[0],
        angles[1],
        joints[1]
    )
}

#[test]
fn gap_is_as_asked_all_along_the_corner() {
    for angles in [
        [60.0, 60.0],
        [90.0, 90.0],
        [120.0, 120.0],
        [75.0, 90.0],
        [90.0, 75.0],
        [100.0, 65.0],
        [-90.0, -90.0],
        [-75.0, -90.0],
    ] {
        for joints in [
            ["edge", "edge"],
            ["butt", "edge"],
            ["edge", "butt"],
            ["butt", "butt"],
            ["lap", "edge"],
            ["edge", "lap"],
        ] {
            for (gap, thickness) in [(0.5, 1.6), (0.0, 1.2), (2.0, 1.6)] {
                let what = format!("{angles:?} {joints:?} gap {gap}");
                // Up to where the lower of the two walls ends, which of walls turned alike is both.
                let until = angles
                    .map(|a: f64| 45.0 * a.abs().to_radians().sin())
                    .into_iter()
                    .fold(f64::INFINITY, f64::min)
                    - 4.0;
                let measured =
                    corner(&tray(angles, joints, gap, thickness), ["right", "top"], until);
                // Where one runs on over the other's edge, only the other's end is a gap from
                // metal.
                if joints == ["edge", "edge"] {
                    assert!(
                        measured.along_the_end.iter().all(|end| !end.is_empty()),
                        "{what}: nothing measured"
                    );
                    for distance in measured.along_the_end.iter().flatten() {
                        assert_near(&what, *distance, gap, 0.05);
                    }
                } else {
                    let stopped = &measured.along_the_end[usize::from(joints[0] != "edge")];
                    assert!(!stopped.is_empty(), "{what}: nothing measured");
                    for distance in stopped {
                        assert_near(&what, *distance, gap, 0.05);
                    }
                }
                assert!(measured.least > gap - 0.05, "{what}: least {}", measured.least);
            }
        }
    }
}

/// Corners of panels that are no rectangles, 60, 75 and 120 degrees between their edges.
#[test]
fn gap_is_as_asked_at_panel_corners_of_any_angle() {
    for degrees in [60.0_f64, 75.0, 120.0, 135.0] {
        for wall in [90.0, 70.0] {
            let (x, y) =
                (200.0 - 150.0 * degrees.to_radians().cos(), 150.0 * degrees.to_radians().sin());
            let yaml = formatdoc!(
                "
                part: tray
                units: mm
                material: dc04
                thickness: 1.6
                folded:
                  radius: 2
                  panel: {{profile: {{path: [[0, 0], {{to: [200, 0], edge: front}}, {{to: [{x:.9}, {y:.9}], edge: side}}, [0, {y:.9}]]}}}}
                  flanges:
                    - {{edge: front, bend: {wall}, height: 40, corner_gap: 0.6}}
                    - {{edge: side, bend: {wall}, height: 40, corner_gap: 0.6}}
                "
            );
            let measured =
                corner(&yaml, ["front", "side"], 40.0 * f64::to_radians(wall).sin() - 3.0);
            for distance in measured.along_the_end.iter().flatten() {
                assert_near(&format!("{degrees} {wall}"), *distance, 0.6, 0.05);
            }
            assert!(measured.least > 0.55, "{degrees} {wall}: {}", measured.least);
        }
    }
}

/// Returns on neighbouring walls are mitred, their ends the gap apart; a return beside a wall
/// without one stops at that wall. Nothing collides.
#[test]
fn returns_are_mitred_and_stop_at_walls() {
    let tray = |end_return: &str| {
        formatdoc!(
            "
            part: tray
            units: mm
            material: dc04
            thickness: 1.6
            folded:
              radius: 3.2
              panel: {{profile: {{rectangle: {{size: [410, 265]}}}}}}
              flanges:
                - {{edge: bottom, bend: 90, height: 48, flanges: [{{edge: outer, bend: 90, height: 12}}]}}
                - {{edge: right, bend: 90, height: 48{end_return}}}
                - {{edge: top, bend: 90, height: 48, flanges: [{{edge: outer, bend: 90, height: 12}}]}}
                - {{edge: left, bend: 90, height: 48{end_return}}}
            "
        )
    };
    for (end_return, against) in
        [("", "right"), (", flanges: [{edge: outer, bend: 90, height: 12}]", "right/outer")]
    {
        let yaml = tray(end_return);
        let made = made(&yaml);
        let hits: Vec<&str> = made
            .findings
            .iter()
            .filter(|f| f.rule == Rule::FoldedRoom)
            .map(|f| f.message.as_str())
            .collect();
        assert_eq!(hits, Vec::<&str>::new());
        let tree = made.flat.tree.as_ref().expect("a tree");
        let mesh = SheetMesh::new(tree, &made.flat.outside, &made.flat.openings)
            .unwrap_or_else(|| panic!("a mesh {yaml}"));
        let surface = mesh.surface(&tree.folded());
        let of = |name: &str| -> Vec<SpaceTriangle> {
            let face = tree.faces.iter().position(|face| face.name == name).expect("a face");
            surface
                .iter()
                .filter(|(_, piece)| *piece == Piece::Face(face))
                .map(|(t, _)| *t)
                .collect()
        };
        let (one, two) = (of("bottom/outer"), of(against));
        let least = one
            .iter()
            .flatten()
            .flat_map(|p| two.iter().map(|t| to_triangle(*p, t)))
            .chain(two.iter().flatten().flat_map(|p| one.iter().map(|t| to_triangle(*p, t))))
            .fold(f64::INFINITY, f64::min);
        assert_near(against, least, 0.5, 0.05);
    }
}

/// Reliefs clear the tangent lines by what the results say: the distance from each line, run on, to
/// the metal left beside it, measured on the blank.
#[test]
fn reliefs_clear_the_tangent_lines_by_what_they_say() {
    for (relief, clears) in
        [("auto", 1.6), ("{hole: 6}", 3.0), ("{slot: [2, 7]}", 2.2), ("{notch: [6, 6]}", 1.2)]
    {
        let yaml = formatdoc!(
            "
            part: tray
            units: mm
            material: dc04
            thickness: 1.6
            folded:
              radius: 3.2
              panel: {{profile: {{rectangle: {{size: [200, 100]}}}}}}
              flanges:
                - {{edge: right, bend: 90, height: 30, relief: {relief}}}
                - {{edge: top, bend: 90, height: 30, relief: {relief}}}
            "
        );
        let flat = made(&yaml).flat;
        let tree = flat.tree.as_ref().expect("a tree");
        assert_eq!(tree.reliefs.len(), 1);
        // Setback (3.2 + 1.6) tan 45 = 4.8: a slot 7 deep goes 2.2 past it, a notch of 6 goes 1.2,
        // a hole half its diameter.
        assert_near(relief, tree.reliefs[0].clearance, clears, 1e-9);
        // Straight down from the corner where the tangent lines cross, into the panel, the first
        // metal.
        let meet = planish::geom::Point::new(100.0 - 4.8, 50.0 - 4.8);
        let probe = |way: planish::geom::Vec2| {
            (1..=4000)
                .map(|k| f64::from(k) * 0.002)
                .find(|d| flat.outside.contains(meet + way * *d))
                .expect("metal")
        };
        let diagonal = planish::geom::Vec2::new(-1.0, -1.0).normalize();
        let wanted = match relief {
            "{slot: [2, 7]}" | "{notch: [6, 6]}" => clears * std::f64::consts::SQRT_2,
            _ => clears,
        };
        assert_near(relief, probe(diagonal), wanted, 0.003);
    }
}
