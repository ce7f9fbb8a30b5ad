//! Folded parts: the blank folded up is the part described, and a bent section described as a panel
//! with flanges is the same blank.
//!
//! Where faces must stand is worked out here from the description alone: each flange turns about
//! the outside mould line on its edge, which knows nothing of radii, allowances or tangent lines.

use std::fmt::Write as _;

use indoc::{formatdoc, indoc};
use planish::finding::Rule;
use planish::formed::{FoldTree, Piece, SheetMesh, SpaceTriangle, folded_tree};
use planish::part::{FLANGE_EDGES, Flange, Folded, Kind};

use crate::support::asserts::{assert_held, assert_near};
use crate::support::dice::Dice;
use crate::support::parts::{made, part, read, try_make};
use crate::support::space::{V, add, dot, is_closed, norm, volume};

/// A face as described: the start of its outside mould line on its lower skin, along, up and out of
/// the metal.
struct Stand {
    origin: V,
    along: V,
    up: V,
    normal: V,
}

/// A made-up flange, its own flanges below it.
struct Made {
    edge: &'static str,
    angle: f64,
    radius: f64,
    height: f64,
    cut_back: [f64; 2],
    flanges: Vec<Made>,
}

fn setback(angle: f64, radius: f64, thickness: f64) -> f64 {
    (radius + thickness) * (angle.abs().to_radians() / 2.0).tan()
}

impl Made {
    /// A flange on an edge of that length, with at most `left` more bends and `deep` levels on it.
    fn random(
        dice: &mut Dice,
        edge: &'static str,
        length: f64,
        thickness: f64,
        left: &mut u32,
        deep: u32,
    ) -> Self {
        *left -= 1;
        let sign = if dice.between(0.0, 1.0) < 0.4 { -1.0 } else { 1.0 };
        // Angles over all of 5 to 175, the radius such that a setback stays within a few metres'
        // reach of a shop.
        let angle = sign * dice.between(5.0, 175.0);
        let most = (40.0 / (f64::to_radians(angle.abs()) / 2.0).tan() - thickness).clamp(0.3, 12.0);
        let radius = dice.between(0.2, most);
        let own = setback(angle, radius, thickness);
        let cut_back = [dice.between(0.0, 0.2) * length, dice.between(0.0, 0.2) * length];
        let width = length - cut_back[0] - cut_back[1];
        let mut flange = Self { edge, angle, radius, height: 0.0, cut_back, flanges: Vec::new() };
        let (mut on_outer, mut on_ends) = (0.0_f64, 0.0_f64);
        let mut edges = vec![("outer", width)];
        if dice.between(0.0, 1.0) < 0.4 {
            edges.push((if dice.between(0.0, 1.0) < 0.5 { "start" } else { "end" }, 0.0));
        }
        for (edge, length) in edges {
            if *left == 0 || deep == 0 || dice.between(0.0, 1.0) < 0.4 {
                continue;
            }
            // On the start or the end the edge is as long as the flange is high, settled below.
            let child = Self::random(
                dice,
                edge,
                if length > 0.0 { length } else { 120.0 },
                thickness,
                left,
                deep - 1,
            );
            let taken = setback(child.angle, child.radius, thickness);
            if edge == "outer" {
                on_outer = taken;
            } else {
                on_ends = taken;
            }
            flange.flanges.push(child);
        }
        flange.height = own + on_outer + dice.between(3.0, 60.0);
        if on_ends > 0.0 {
            flange.height = 120.0 + own + on_outer;
            for child in flange.flanges.iter_mut().filter(|child| child.edge != "outer") {
                // Between the tangent lines of its neighbours, wherever the edge begins.
                let (low, high) = (own + 1.0, own + 119.0);
                child.cut_back = if child.edge == "start" {
                    [low, flange.height - high]
                } else {
                    [flange.height - high, low]
                };
            }
        }
        flange
    }

    fn yaml(&self, indent: usize, text: &mut String) {
        let pad = " ".repeat(indent);
        let [a, b] = self.cut_back;
        write!(
            text,
            "{pad}- edge: {}\n{pad}  bend: {:.12}\n{pad}  radius: {:.12}\n{pad}  height: {:.12}\n{pad}  cut_back: [{a:.12}, {b:.12}]\n{pad}  joint: square\n{pad}  relief: none\n",
            self.edge, self.angle, self.radius, self.height
        )
        .expect("a string takes all");
        if !self.flanges.is_empty() {
            writeln!(text, "{pad}  flanges:").expect("a string takes all");
            for flange in &self.flanges {
                flange.yaml(indent + 4, text);
            }
        }
    }
}

/// Where a flange on the edge from `start` along `along` (of the face `on`, `out` away from its
/// metal) stands.
fn stand(
    on: &Stand,
    start: (f64, f64),
    along: (f64, f64),
    out: (f64, f64),
    flange: &Flange,
    thickness: f64,
) -> Stand {
    let in_space = |(x, y): (f64, f64)| add(add([0.0; 3], on.along, x), on.up, y);
    let (along, out) = (in_space(along), in_space(out));
    // The outside of a bend up is the lower skin, of a bend down the upper one.
    let skin = if flange.angle.radians() > 0.0 { 0.0 } else { thickness };
    let mould = add(add(on.origin, in_space(start), 1.0), on.normal, skin);
    let (sin, cos) = flange.angle.radians().sin_cos();
    let up = add(add([0.0; 3], out, cos), on.normal, sin);
    let normal = add(add([0.0; 3], out, -sin), on.normal, cos);
    Stand { origin: add(mould, normal, -skin), along, up, normal }
}

/// Holds face `face` of the folded tree against the description, then the faces on it.
fn check(
    tree: &FoldTree,
    next: &mut usize,
    stand_here: &Stand,
    flange: &Flange,
    length: f64,
    seen: &mut usize,
) {
    let face = *next;
    *next += 1;
    let folding = tree.folded();
    let thickness = tree.thickness;
    let taken =
        |flange: &Flange| setback(flange.angle.degrees(), flange.inside_radius.mm(), thickness);
    let (start, end) = (flange.cut_back[0].mm(), length - flange.cut_back[1].mm());
    let (low, high) = (taken(flange), flange.height.mm());
    for vertex in &tree.faces[face].outline.vertices {
        for z in [0.0, thickness] {
            let at = add(folding.on_face(face, vertex.point, z), stand_here.origin, -1.0);
            assert_near("off its plane", dot(at, stand_here.normal), z, 1e-6);
            let (x, y) = (dot(at, stand_here.along), dot(at, stand_here.up));
            assert!(
                x > start - 1e-6 && x < end + 1e-6 && y > low - 1e-6 && y < high + 1e-6,
                "{x} {y}"
            );
        }
    }
    // The corners that no child takes stand where the description puts them.
    if flange.flanges.is_empty() {
        for (x, y) in [(start, low), (start, high), (end, low), (end, high)] {
            let wanted = add(add(stand_here.origin, stand_here.along, x), stand_here.up, y);
            let nearest = tree.faces[face]
                .outline
                .vertices
                .iter()
                .map(|v| add(folding.on_face(face, v.point, 0.0), wanted, -1.0))
                .map(norm)
                .fold(f64::INFINITY, f64::min);
            assert_near("corner", nearest, 0.0, 1e-6);
            *seen += 1;
        }
    }
    for child in &flange.flanges {
        let (from, along, out, length) = match FLANGE_EDGES[child.edge] {
            "start" => ((start, 0.0), (0.0, 1.0), (-1.0, 0.0), high),
            "outer" => ((start, high), (1.0, 0.0), (0.0, 1.0), end - start),
            _ => ((end, high), (0.0, -1.0), (1.0, 0.0), high),
        };
        let there = stand(stand_here, from, along, out, child, thickness);
        check(tree, next, &there, child, length, seen);
    }
}

fn folded_of(yaml: &str) -> Result<(FoldTree, Folded), String> {
    let part = part(yaml);
    let Kind::Folded(folded) = part.kind.clone() else { panic!("folded") };
    let tree = folded_tree(&part, &folded).map_err(|why| why[0].message.clone())?;
    Ok((tree, *folded))
}

const SIDES: [&str; 4] = ["bottom", "right", "top", "left"];

#[test]
fn folding_the_flat_gives_the_part_described() {
    let mut dice = Dice(11);
    let (mut corners, mut bends, mut trees) = (0, 0, 0);
    for round in 0..2000 {
        let (width, height) = (dice.between(150.0, 400.0), dice.between(150.0, 400.0));
        let thickness = dice.between(0.5, 3.0);
        let mut left = dice.whole(1, 12);
        let mut flanges = Vec::new();
        for (i, edge) in SIDES.into_iter().enumerate() {
            if left > 0 && (i == 0 || dice.between(0.0, 1.0) < 0.7) {
                let length = if i % 2 == 0 { width } else { height };
                flanges.push(Made::random(&mut dice, edge, length, thickness, &mut left, 2));
            }
        }
        let mut yaml = formatdoc!(
            "
            part: tree
            units: mm
            material: dc04
            thickness: {thickness:.12}
            bend_allowance: {{k_factor: {:.12}}}
            folded:
              panel: {{profile: {{rectangle: {{size: [{width:.12}, {height:.12}]}}}}}}
              flanges:
            ",
            dice.between(0.2, 0.5)
        );
        for flange in &flanges {
            flange.yaml(4, &mut yaml);
        }
        let (tree, folded) = match folded_of(&yaml) {
            Ok(pair) => pair,
            // Two wide bends may want the same metal of the face between them.
            Err(why) => {
                assert!(why.contains("take more metal than it has"), "{why}");
                continue;
            }
        };
        trees += 1;
        let panel = Stand {
            origin: [0.0; 3],
            along: [1.0, 0.0, 0.0],
            up: [0.0, 1.0, 0.0],
            normal: [0.0, 0.0, 1.0],
        };
        let mut next = 1;
        for flange in &folded.flanges {
            let (x, y) = (width / 2.0, height / 2.0);
            let (from, along, out, length) = match SIDES[flange.edge] {
                "bottom" => ((-x, -y), (1.0, 0.0), (0.0, -1.0), width),
                "right" => ((x, -y), (0.0, 1.0), (1.0, 0.0), height),
                "top" => ((x, y), (-1.0, 0.0), (0.0, 1.0), width),
                _ => ((-x, y), (0.0, -1.0), (-1.0, 0.0), height),
            };
            let there = stand(&panel, from, along, out, flange, tree.thickness);
            check(&tree, &mut next, &there, flange, length, &mut corners);
        }
        assert_eq!(next, tree.faces.len(), "round {round}");
        bends += tree.bends.len();
        // Half folded, neighbours still touch along their tangent lines, and no face is stretched.
        let fractions: Vec<f64> = tree.bends.iter().map(|_| dice.between(0.0, 1.0)).collect();
        let folding = tree.fold(&fractions);
        for (i, bend) in tree.bends.iter().enumerate() {
            for (face, line) in [(bend.parent, bend.parent_line), (bend.child, bend.child_line)] {
                for end in line {
                    let miss =
                        add(folding.on_face(face, end, 0.3), folding.in_bend(i, end, 0.3), -1.0);
                    assert_near("joint", norm(miss), 0.0, 1e-7);
                }
            }
        }
    }
    assert_held(1998, trees, 2000);
    assert!(bends > 5000 && corners > 8000, "{bends} bends, {corners} corners");
}

/// The same part as legs and bends and as a panel with flanges on both sides: the same blank, bend
/// by bend.
#[test]
fn a_section_is_the_same_blank_as_bent_and_as_folded() {
    let mut dice = Dice(12);
    for dims in ["outside", "inside", "flat", "edge"] {
        for _ in 0..25 {
            let angle = |dice: &mut Dice| {
                dice.between(10.0, 150.0) * if dice.between(0.0, 1.0) < 0.5 { -1.0 } else { 1.0 }
            };
            let bends: Vec<(f64, f64)> =
                (0..3).map(|_| (angle(&mut dice), dice.between(0.5, 4.0))).collect();
            let reach = |angle: f64, radius: f64| {
                (radius + 1.6) * (angle.abs().to_radians() / 2.0).tan() + radius + 2.0
            };
            let at = |i: usize| bends.get(i).map_or(0.0, |(a, r)| reach(*a, *r));
            let legs: Vec<f64> = (0..4)
                .map(|i| at(i) + if i > 0 { at(i - 1) } else { 0.0 } + dice.between(5.0, 60.0))
                .collect();
            let head = indoc!(
                "
                part: section
                units: mm
                material: dc04
                thickness: 1.6
                bend_allowance: din-6935
                "
            );
            let mut bent = formatdoc!(
                "
                {head}bent:
                  dims: {dims}
                  depth: 70
                  section:
                "
            );
            for (i, leg) in legs.iter().enumerate() {
                writeln!(bent, "    - leg: {leg:.12}").expect("a string takes all");
                if let Some((angle, radius)) = bends.get(i) {
                    writeln!(bent, "    - {{bend: {angle:.12}, radius: {radius:.12}}}")
                        .expect("a string takes all");
                }
            }
            // The panel is the second leg.
            let flange = |i: usize, edge: &str, leg: usize, more: &str| {
                format!(
                    "{{edge: {edge}, bend: {:.12}, radius: {:.12}, height: {:.12}{more}}}",
                    bends[i].0, bends[i].1, legs[leg]
                )
            };
            let outer = flange(2, "outer", 3, "");
            let folded = formatdoc!(
                "
                {head}folded:
                  dims: {dims}
                  panel: {{profile: {{rectangle: {{size: [{:.12}, 70]}}}}}}
                  flanges:
                    - {}
                    - {}
                ",
                legs[1],
                flange(0, "left", 0, ""),
                flange(1, "right", 2, &format!(", flanges: [{outer}]"))
            );
            let (one, two) = (made(&bent).flat, made(&folded).flat);
            let (a, b) = (one.outside.bounds(), two.outside.bounds());
            assert_near("width", b.width(), a.width(), 1e-9);
            assert_near("height", b.height(), a.height(), 1e-9);
            assert_near("area", two.net_area(), one.net_area(), 1e-7);
            // Bend 1 of the folded part is the section's first, then its second and third.
            for (one, two) in one.bends.iter().zip(&two.bends) {
                assert_eq!(one.up, two.up);
                let (x, y) = (one.line[0].x - a.x0, two.line[0].x - b.x0);
                assert_near("bend", y, x, 1e-9);
                assert_near("length", two.length.mm(), 70.0, 1e-9);
                assert_near(
                    "allowance",
                    two.developed.allowance.mm(),
                    one.developed.allowance.mm(),
                    1e-12,
                );
            }
        }
    }
}

/// A folded sheet's surface, without the triangles on the inner skin of a hem folded shut, which is
/// drawn together to a line.
fn surface_of(mesh: &SheetMesh, tree: &FoldTree) -> Vec<SpaceTriangle> {
    let surface = mesh.surface(&tree.folded()).into_iter().map(|(triangle, _)| triangle);
    surface.filter(|[a, b, c]| a != b && b != c && c != a).collect()
}

/// Trays of all kinds with reliefs, openings in faces and across bends, hems: their solids are
/// closed, the triangles cover the blank, and the volume is the faces' area times T and each strip
/// of a bend as thick as it is, on its middle line R + T/2.
#[test]
fn solids_are_closed_and_hold_the_metal_of_the_blank() {
    let mut dice = Dice(13);
    let mut made_up = 0;
    for round in 0..60 {
        let mut yaml = formatdoc!(
            "
            part: tray
            units: mm
            material: dc04
            thickness: {:.3}
            bend_allowance: {{k_factor: 0.42}}
            folded:
              radius: {:.3}
              panel:
                profile: {{rectangle: {{size: [200, 140]}}}}
                openings: [{{circle: {{diameter: 30, at: [10, 5]}}}}]
              flanges:
            ",
            dice.between(0.8, 2.5),
            dice.between(1.0, 4.0)
        );
        for edge in SIDES {
            if dice.between(0.0, 1.0) < 0.2 {
                continue;
            }
            let relief = [
                "auto",
                "auto",
                "slit",
                "{hole: 6}",
                "none",
                "{slot: [3, 16]}",
                "{notch: [16, 16]}",
            ][dice.whole(0, 6) as usize];
            let hem = ["none", "{open: {gap: 3, return: 15}}", "{teardrop: {gap: 4, return: 18}}"]
                [dice.whole(0, 2) as usize];
            let back = if dice.between(0.0, 1.0) < 0.3 { 40.0 } else { 0.0 };
            writeln!(
                yaml,
                "    - {{edge: {edge}, bend: {:.3}, height: 38, corner_gap: 0.8, relief: {relief}, hem: {hem}, cut_back: [{back}, 0], openings: [{{slot: {{length: 24, width: 6, at: [70, {:.3}]}}}}]}}",
                dice.between(50.0, 120.0),
                dice.between(3.0, 24.0)
            )
            .expect("a string takes all");
        }
        // Some angles leave a flange with nothing, or openings run over its edge: those are refused
        // elsewhere.
        let Ok(made) = try_make(&yaml) else { continue };
        made_up += 1;
        let tree = made.flat.tree.as_ref().expect("a tree");
        let mesh = SheetMesh::new(tree, &made.flat.outside, &made.flat.openings)
            .unwrap_or_else(|| panic!("no mesh in round {round}\n{yaml}"));
        let polygons = |outline: &planish::geom::Polyarc| {
            let points = outline.flatten(0.01);
            let next = points.iter().cycle().skip(1);
            points
                .iter()
                .zip(next)
                .map(|(a, b)| a.to_vec2().cross(b.to_vec2()) / 2.0)
                .sum::<f64>()
                .abs()
        };
        let area =
            polygons(&made.flat.outside) - made.flat.openings.iter().map(polygons).sum::<f64>();
        assert_near("area", mesh.area(), area, 1e-6);
        let surface = surface_of(&mesh, tree);
        assert!(is_closed(&surface), "round {round}\n{yaml}");
        let thickness = tree.thickness;
        let (mut wanted, mut of_bends) = (0.0, 0.0);
        for (corners, piece) in &mesh.triangles {
            let [a, b, c] = corners.map(|i| mesh.points[i]);
            let area = (b - a).cross(c - a) / 2.0;
            match piece {
                Piece::Face(_) => wanted += area * thickness,
                Piece::Bend(i) => {
                    let bend = &tree.bends[*i];
                    let middle = bend.angle.abs() * (bend.inside_radius + thickness / 2.0);
                    of_bends += area * thickness * middle / bend.developed.allowance.mm();
                }
            }
        }
        wanted += of_bends;
        // Chords take up to a hundredth off a bend.
        assert_near("volume", volume(&surface), wanted, 1e-2 * of_bends + 1e-6);
    }
    assert_held(55, made_up, 60);
}

/// Faces that run into each other are found where they do, and those that pass are left alone.
#[test]
fn collisions_are_found_with_their_place() {
    let yaml = |height: f64, radius: f64| {
        formatdoc!(
            "
            part: box
            units: mm
            material: dc04
            thickness: 1.5
            bend_allowance: {{k_factor: 0.42}}
            folded:
              radius: {radius}
              panel: {{profile: {{rectangle: {{size: [60, 100]}}}}}}
              flanges:
                - {{edge: right, bend: 90, height: 50, flanges: [{{edge: outer, bend: 90, height: {height}}}]}}
                - {{edge: left, bend: 90, height: 50}}
            "
        )
    };
    let hits = |yaml: &str| -> Vec<String> {
        let findings = made(yaml).findings;
        findings.into_iter().filter(|f| f.rule == Rule::FoldedRoom).map(|f| f.message).collect()
    };
    // The lid, from the right wall's outer face, ends 2 mm short of the left wall's inner face or
    // runs 1 mm into the left wall.
    assert_eq!(hits(&yaml(56.5, 2.0)), Vec::<String>::new());
    let found = hits(&yaml(59.5, 2.0));
    assert!(
        found.len() == 1 && found[0].contains("`left`") && found[0].contains("`right/outer`"),
        "{found:?}"
    );
    // Square walls at a corner with no joint stand in one place.
    let corner = indoc!(
        "
        part: corner
        units: mm
        material: dc04
        thickness: 1.5
        folded:
          radius: 2
          panel: {profile: {rectangle: {size: [60, 100]}}}
          flanges:
            - {edge: right, bend: 90, height: 30, joint: square}
            - {edge: top, bend: 90, height: 30, joint: square}
        "
    );
    let found = hits(corner);
    assert!(found.iter().any(|m| m.contains("`right`") && m.contains("`top`")), "{found:?}");
    assert!(read(corner).is_ok());
}

/// Panels of three to six sides, walls of all angles, joints, reliefs, returns and hems: whatever
/// is not refused folds up into a closed solid that covers its blank.
#[test]
fn whatever_is_made_folds_up() {
    let mut dice = Dice(17);
    let (mut made_up, mut refused) = (0, 0);
    for round in 0..250 {
        let sides = dice.whole(3, 6);
        let mut yaml = formatdoc!(
            "
            part: tray
            units: mm
            material: dc04
            thickness: {:.3}
            folded:
              radius: {:.3}
              panel:
                profile:
                  path:
            ",
            dice.between(0.6, 3.0),
            dice.between(0.6, 5.0)
        );
        for k in 0..=sides {
            let angle = std::f64::consts::TAU
                * (f64::from(k % sides)
                    + dice.between(-0.2, 0.2) * f64::from(u8::from(k % sides > 0)))
                / f64::from(sides);
            let (x, y) = (120.0 * angle.cos(), 120.0 * angle.sin());
            let round = if dice.between(0.0, 1.0) < 0.1 && k > 0 { ", round: 12" } else { "" };
            match k {
                0 => writeln!(yaml, "        - [{x:.6}, {y:.6}]"),
                _ => writeln!(yaml, "        - {{to: [{x:.6}, {y:.6}], edge: e{k}{round}}}"),
            }
            .expect("a string takes all");
        }
        writeln!(yaml, "  flanges:").expect("a string takes all");
        let mut pick = |all: &[&str]| {
            all[dice.whole(0, u32::try_from(all.len() - 1).expect("few")) as usize].to_owned()
        };
        for k in 1..=sides {
            if pick(&["yes", "yes", "yes", "no"]) == "no" {
                continue;
            }
            let bend = pick(&["90", "90", "60", "120", "45", "-90", "75", "135", "-70"]);
            let joint = pick(&["edge", "edge", "butt", "lap", "square"]);
            let relief = pick(&[
                "auto",
                "auto",
                "none",
                "slit",
                "{hole: 5}",
                "{notch: [9, 9]}",
                "{slot: [2, 14]}",
            ]);
            let back = pick(&["[0, 0]", "[0, 0]", "[5, 0]", "[0, 30]", "[12, 12]", "[1, 1]"]);
            let more = pick(&[
                "",
                "",
                ", flanges: [{edge: outer, bend: 90, height: 14}]",
                ", flanges: [{edge: outer, bend: -90, height: 14, joint: butt}]",
                ", hem: {open: {gap: 2, return: 12}}",
                ", hem: {closed: {return: 9}}",
                ", flanges: [{edge: start, bend: 90, height: 14, cut_back: [8, 3]}]",
                ", flanges: [{edge: end, bend: 90, height: 14}, {edge: outer, bend: 45, height: 14}]",
            ]);
            writeln!(
                yaml,
                "    - {{edge: e{k}, bend: {bend}, height: 32, joint: {joint}, relief: {relief}, cut_back: {back}{more}}}"
            )
            .expect("a string takes all");
        }
        let Ok(made) = try_make(&yaml) else {
            refused += 1;
            continue;
        };
        let tree = made.flat.tree.as_ref().expect("a tree");
        let mesh = SheetMesh::new(tree, &made.flat.outside, &made.flat.openings)
            .unwrap_or_else(|| panic!("no mesh in round {round}\n{yaml}"));
        let points = made.flat.outside.flatten(0.01);
        let next = points.iter().cycle().skip(1);
        let area =
            points.iter().zip(next).map(|(a, b)| a.to_vec2().cross(b.to_vec2()) / 2.0).sum::<f64>();
        assert!(area > 0.0);
        assert_near("area", mesh.area(), area, 1e-6);
        let surface = surface_of(&mesh, tree);
        assert!(is_closed(&surface), "round {round}\n{yaml}");
        made_up += 1;
    }
    assert_held(127, made_up, made_up + refused);
}

/// A wall with tabs on both its ends, in a panel that is as wide as the wall: between the tabs'
/// faces there is what the dims say.
#[test]
fn tabs_on_a_wall_stand_as_far_apart_as_the_dims_say() {
    for (dims, upper) in [("outside", false), ("inside", true)] {
        let yaml = formatdoc!(
            "
            part: pocket
            units: mm
            material: dc04
            thickness: 1.5
            folded:
              dims: {dims}
              radius: 2
              panel: {{profile: {{rectangle: {{size: [100, 60]}}}}}}
              flanges:
                - edge: bottom
                  bend: 90
                  height: 40
                  flanges: [{{edge: start, bend: 90, height: 15, cut_back: [8, 2]}}, {{edge: end, bend: 90, height: 15, cut_back: [2, 8]}}]
            "
        );
        let made = made(&yaml);
        let tree = made.flat.tree.as_ref().expect("a tree");
        let folding = tree.folded();
        let x = |name: &str| {
            let face = tree.faces.iter().position(|face| face.name == name).expect("a tab");
            let height = if upper { tree.thickness } else { 0.0 };
            folding.on_face(face, tree.faces[face].outline.vertices[0].point, height)[0]
        };
        assert_near(dims, x("bottom/end") - x("bottom/start"), 100.0, 1e-9);
    }
}

/// Hems as they stand: the fold's outside is where the flange's height says, an open hem leaves its
/// gap, a teardrop's edge rests on the flange, the return is as long as asked.
#[test]
fn hems_stand_as_described() {
    for (hem, gap, teardrop) in [
        ("open: {gap: 3, return: 12}", 3.0, false),
        ("closed: {return: 12}", 0.0, false),
        ("teardrop: {gap: 3, return: 12}", 0.0, true),
    ] {
        let yaml = formatdoc!(
            "
            part: edge
            units: mm
            material: dc04
            thickness: 1.2
            folded:
              radius: 2
              panel: {{profile: {{rectangle: {{size: [100, 60]}}}}}}
              flanges: [{{edge: right, bend: 90, height: 40, hem: {{{hem}}}}}]
            "
        );
        let made = made(&yaml);
        let tree = made.flat.tree.as_ref().expect("a tree");
        let folding = tree.folded();
        let mesh = SheetMesh::new(tree, &made.flat.outside, &made.flat.openings).expect("a mesh");
        let top = mesh
            .surface(&folding)
            .iter()
            .flat_map(|(t, _)| t.map(|p| p[2]))
            .fold(f64::NEG_INFINITY, f64::max);
        // Chords of the fold stay within 0.01 mm.
        assert_near(hem, top, 40.0, 0.011);
        let face = tree.faces.iter().position(|face| face.name == "right/hem").expect("a hem");
        // The wall's inner skin is at x = 50 - 1.2; the hem's inner skin, at its free edge, faces
        // it.
        let ends: Vec<V> = tree.faces[face]
            .outline
            .vertices
            .iter()
            .map(|v| folding.on_face(face, v.point, tree.thickness))
            .collect();
        let edge = ends.iter().copied().min_by(|a, b| a[2].total_cmp(&b[2])).expect("vertices");
        assert_near(hem, 48.8 - edge[0], gap, 1e-9);
        if !teardrop {
            assert_near(hem, 40.0 - edge[2], 12.0, 1e-9);
        }
        assert!(made.findings.iter().all(|f| f.rule != Rule::FoldedRoom), "{hem}");
    }
}
