//! What we write, read back by other libraries: `dxf`, `usvg`, `kurbo`, `stl_io`.

use crate::support::bracket;
use crate::support::space::{cross, dot, sub, volume};
use dxf::entities::EntityType;
use planish::formats::{DxfOptions, DxfUnit, DxfVersion, WriteProblem};
use planish::geom::{Point, Polyarc, Rect, Vertex};
use planish::page::{Drawing, Layer, Mark, Shape};

fn as_dxf(drawing: &Drawing, version: DxfVersion, unit: DxfUnit) -> Vec<u8> {
    planish::formats::dxf(drawing, DxfOptions { version, unit }).expect("a sound drawing")
}

fn as_svg(drawing: &Drawing) -> String {
    String::from_utf8(planish::formats::svg(drawing).expect("a sound drawing"))
        .expect("SVG is UTF-8")
}

const EVERY: [(DxfVersion, DxfUnit); 4] = [
    (DxfVersion::R2000, DxfUnit::Millimetre),
    (DxfVersion::R2000, DxfUnit::Inch),
    (DxfVersion::R12, DxfUnit::Millimetre),
    (DxfVersion::R12, DxfUnit::Inch),
];

/// The group of a layer in a parsed SVG file.
fn group<'a>(file: &'a roxmltree::Document<'a>, layer: Layer) -> roxmltree::Node<'a, 'a> {
    file.descendants()
        .find(|node| node.attribute("id") == Some(layer.name()))
        .expect("every used layer has a group")
}

#[test]
fn cut_layers_of_a_dxf_hold_single_closed_polylines_in_its_unit() {
    let bracket = bracket::bracket();
    for (version, unit) in EVERY {
        let bytes = as_dxf(&bracket, version, unit);
        let file = dxf::Drawing::load(&mut bytes.as_slice()).expect("the library reads its own");
        let mm = if unit == DxfUnit::Inch { 25.4 } else { 1.0 };
        let mut outlines = 0;
        for entity in file
            .entities()
            .filter(|entity| ["OUTSIDE", "OPENING"].contains(&entity.common.layer.as_str()))
        {
            let (closed, corners): (bool, Vec<(f64, f64, f64)>) = match &entity.specific {
                EntityType::LwPolyline(line) => {
                    (line.is_closed(), line.vertices.iter().map(|v| (v.x, v.y, v.bulge)).collect())
                }
                EntityType::Polyline(line) => (
                    line.is_closed(),
                    line.vertices().map(|v| (v.location.x, v.location.y, v.bulge)).collect(),
                ),
                other => panic!("{other:?} on a cut layer"),
            };
            assert!(closed);
            let vertices = corners
                .iter()
                .map(|(x, y, bulge)| Vertex { point: Point::new(x * mm, y * mm), bulge: *bulge })
                .collect();
            let read = Polyarc { vertices };
            let Shape::Closed(drawn) = &bracket.marks[outlines].shape else {
                panic!("the bracket's outlines come first")
            };
            assert_eq!(read.vertices.len(), drawn.vertices.len());
            for (a, b) in read.vertices.iter().zip(&drawn.vertices) {
                assert!(
                    a.point.distance(b.point) < 1e-6 && (a.bulge - b.bulge).abs() < 1e-11,
                    "{a:?} {b:?}"
                );
            }
            outlines += 1;
        }
        assert_eq!(outlines, 5);
        let ltype =
            file.line_types().find(|line| line.name == "LONG_DASH").expect("the dashes of FOLD_UP");
        assert!((ltype.total_pattern_length * mm - 12.0).abs() < 1e-5);
        assert!((file.header.maximum_drawing_extents.x * mm - 180.0).abs() < 1e-5);
    }
}

#[test]
fn open_chains_and_text_come_back_from_a_dxf() {
    let bytes = as_dxf(&bracket::bracket(), DxfVersion::R2000, DxfUnit::Millimetre);
    let file = dxf::Drawing::load(&mut bytes.as_slice()).expect("the library reads its own");
    let on = |layer: &str| {
        file.entities().filter(|entity| entity.common.layer == layer).collect::<Vec<_>>()
    };
    assert!(matches!(on("FOLD_UP")[0].specific, EntityType::Line(_)));
    let EntityType::LwPolyline(chain) = &on("SCRIBE")[0].specific else { panic!("a chain") };
    assert!(
        !chain.is_closed()
            && chain.vertices.len() == 4
            && (chain.vertices[1].bulge + 0.3).abs() < 1e-12
    );
    let texts: Vec<String> = on("NOTE")
        .iter()
        .map(|entity| match &entity.specific {
            EntityType::Text(text) => text.value.clone(),
            other => panic!("{other:?} on NOTE"),
        })
        .collect();
    assert_eq!(texts, ["up 90 deg R3", "down 45 deg R5", "grain: along <-> dia 9 x 40"]);
}

#[test]
fn bytes_are_the_same_each_time_and_tell_no_time() {
    let bracket = bracket::bracket();
    for (version, unit) in EVERY {
        let bytes = as_dxf(&bracket, version, unit);
        assert_eq!(bytes, as_dxf(&bracket, version, unit));
        let text = String::from_utf8(bytes).expect("plain ASCII");
        assert!(text.is_ascii() && !text.contains("$TD") && !text.contains("GUID"));
    }
    assert_eq!(as_svg(&bracket), as_svg(&bracket));
}

#[test]
fn every_handle_of_an_r2000_file_is_given_once() {
    let text =
        String::from_utf8(as_dxf(&bracket::bracket(), DxfVersion::R2000, DxfUnit::Millimetre))
            .expect("plain ASCII");
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let pairs: Vec<(&str, &str)> = lines.chunks(2).map(|pair| (pair[0], pair[1])).collect();
    let seed = pairs
        .windows(2)
        .find(|pair| pair[0].1 == "$HANDSEED")
        .map(|pair| pair[1].1)
        .expect("a seed");
    let number = |handle: &str| u64::from_str_radix(handle, 16).expect("hexadecimal");
    let mut handles: Vec<u64> = pairs
        .iter()
        .filter(|pair| ["5", "105"].contains(&pair.0) && pair.1 != seed)
        .map(|pair| number(pair.1))
        .collect();
    let count = handles.len();
    handles.sort_unstable();
    handles.dedup();
    assert!(count > 20 && handles.len() == count);
    assert!(handles.iter().all(|handle| *handle < number(seed)));
    let owners = pairs.iter().filter(|pair| pair.0 == "330").map(|pair| number(pair.1));
    assert!(owners.into_iter().all(|owner| owner == 0 || handles.contains(&owner)));
}

#[test]
fn vertices_of_an_r12_file_lie_on_the_layer_of_their_polyline() {
    let text = String::from_utf8(as_dxf(&bracket::bracket(), DxfVersion::R12, DxfUnit::Millimetre))
        .expect("plain ASCII");
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let (mut kind, mut of_polyline, mut seen) = ("", "", 0);
    for pair in lines.chunks(2) {
        match (pair[0], kind) {
            ("0", _) => kind = pair[1],
            ("8", "POLYLINE") => of_polyline = pair[1],
            ("8", "VERTEX" | "SEQEND") => {
                assert_eq!(pair[1], of_polyline);
                seen += 1;
            }
            // Subclass markers came with R13.
            _ => assert_ne!(pair[0], "100"),
        }
    }
    // The outlines' 8 + 4 + 4 + 2 + 2 corners, the scribed chain's 4, and six ends.
    assert_eq!(seen, 30);
}

#[test]
fn an_svg_has_its_true_size() {
    let text = as_svg(&bracket::bracket());
    let tree = usvg::Tree::from_str(&text, &usvg::Options::default()).expect("usvg reads it");
    // CSS: 96 px are 1 in.
    let mm = |px: f32| f64::from(px) * 25.4 / 96.0;
    let file = roxmltree::Document::parse(&text).expect("XML");
    let view: Vec<f64> = file
        .root_element()
        .attribute("viewBox")
        .expect("a viewBox")
        .split(' ')
        .map(|n| n.parse().expect("a number"))
        .collect();
    assert!(
        (mm(tree.size().width()) - view[2]).abs() < 1e-3
            && (mm(tree.size().height()) - view[3]).abs() < 1e-3
    );
    let Some(usvg::Node::Group(outside)) = tree.node_by_id("OUTSIDE") else {
        panic!("a group OUTSIDE")
    };
    let bounds = outside.abs_bounding_box();
    assert!(
        (mm(bounds.width()) - 180.0).abs() < 1e-3 && (mm(bounds.height()) - 110.0).abs() < 1e-3,
        "{bounds:?}"
    );
}

#[test]
fn an_svg_path_encloses_the_area_drawn() {
    let bracket = bracket::bracket();
    let text = as_svg(&bracket);
    let file = roxmltree::Document::parse(&text).expect("XML");
    for layer in [Layer::Outside, Layer::Opening] {
        let paths: Vec<&str> =
            group(&file, layer).descendants().filter_map(|node| node.attribute("d")).collect();
        let drawn =
            bracket.marks.iter().filter(|mark| mark.layer == layer).map(|mark| match &mark.shape {
                Shape::Closed(outline) => outline.area(),
                _ => panic!("only closed outlines"),
            });
        for (d, area) in paths.iter().zip(drawn) {
            // kurbo's own reader; it flattens arcs to within 0.1 of a unit, so it is given a path
            // ten thousand times as large.
            let read = kurbo::BezPath::from_svg(&enlarged(d)).expect("path data");
            let theirs = -kurbo::Shape::area(&read) / 1e8;
            assert!((theirs - area).abs() < 1e-5 * area, "{theirs} {area}");
        }
    }
}

/// Path data with every coordinate and radius ten thousand times as large; flags stay.
fn enlarged(d: &str) -> String {
    let mut of_arc = 0;
    let words = d.split(' ').map(|word| {
        let (letter, number) =
            word.split_at(usize::from(word.starts_with(|c: char| c.is_ascii_alphabetic())));
        of_arc = if letter == "A" { 1 } else { of_arc + usize::from(of_arc > 0) };
        match number.parse::<f64>() {
            // Rotation and flags are the third, fourth and fifth of an arc's numbers.
            Ok(value) if !(3..=5).contains(&of_arc) => format!("{letter}{}", value * 1e4),
            _ => word.to_owned(),
        }
    });
    words.collect::<Vec<_>>().join(" ")
}

#[test]
fn what_is_in_the_margin_stays_clear_of_the_drawing() {
    let mut narrow =
        Drawing::new("A strip with a long name that has to be broken to stand on its narrow page");
    narrow.closed(Layer::Outside, Polyarc::rectangle(Rect::new(0.0, 0.0, 12.0, 300.0)));
    narrow.captions = vec!["Its caption".to_owned()];
    let mut sheet = Drawing::new("Sheet");
    sheet.backdrop = vec![Polyarc::rectangle(Rect::new(0.0, 0.0, 2500.0, 1250.0))];
    sheet.closed(Layer::Outside, Polyarc::rectangle(Rect::new(10.0, 10.0, 500.0, 800.0)));
    for drawing in [narrow, sheet, bracket::bracket()] {
        let text = as_svg(&drawing);
        let file = roxmltree::Document::parse(&text).expect("XML");
        let bounds = drawing.bounds();
        let number = |node: &roxmltree::Node, name: &str| {
            node.attribute(name).and_then(|value| value.parse::<f64>().ok())
        };
        let view: Vec<f64> = file
            .root_element()
            .attribute("viewBox")
            .expect("a viewBox")
            .split(' ')
            .map(|n| n.parse().expect("a number"))
            .collect();
        // The drawing on the page, by its own cut line.
        let outside = group(&file, Layer::Outside)
            .descendants()
            .find_map(|node| node.attribute("d"))
            .expect("a path");
        let start: Vec<f64> =
            outside[1..].split(' ').take(2).map(|n| n.parse().expect("a number")).collect();
        let Some(Shape::Closed(cut)) = drawing.marks.first().map(|mark| &mark.shape) else {
            panic!("an outline comes first")
        };
        let first = cut.vertices[0].point;
        let (left, top) = (start[0] - first.x, start[1] + first.y);
        let own: Vec<&str> = drawing
            .marks
            .iter()
            .filter_map(|mark| {
                if let Shape::Text { text, .. } = &mark.shape { Some(text.as_str()) } else { None }
            })
            .collect();
        let mut seen = 0;
        for node in file.descendants().filter(|node| node.has_tag_name("text")) {
            let words = node.text().unwrap_or_default();
            let (x, y) = (number(&node, "x").expect("x"), number(&node, "y").expect("y"));
            let size = number(&node, "font-size").expect("font-size");
            assert!(
                x >= 0.0 && y - size >= 0.0 && y <= view[3] && x <= view[2],
                "{words} is off the page"
            );
            if !own.contains(&words) {
                let beside = x <= bounds.x0 + left;
                let below = y - size > top - bounds.y0;
                assert!(beside || below, "{words} at {x}, {y} stands in the drawing");
                seen += 1;
            }
        }
        assert!(seen >= 5);
    }
}

#[test]
fn hostile_words_do_no_harm() {
    let mut drawing = bracket::bracket();
    "a & b < c > \"d\" \u{1} \r\n 0\r\nEOF %%u \\U+0041 漢字".clone_into(&mut drawing.title);
    let title = drawing.title.clone();
    drawing.captions = vec![title.clone(), String::new(), "x".repeat(5000)];
    drawing.label(Point::new(30.0, 90.0), 3.0, title);
    let text = as_svg(&drawing);
    let file = roxmltree::Document::parse(&text).expect("XML");
    assert!(
        file.descendants()
            .any(|node| node.text().is_some_and(|text| text.contains("a & b < c > \"d\"")))
    );
    assert!(usvg::Tree::from_str(&text, &usvg::Options::default()).is_ok());
    for (version, unit) in EVERY {
        let bytes = as_dxf(&drawing, version, unit);
        let file = dxf::Drawing::load(&mut bytes.as_slice()).expect("the library reads its own");
        assert_eq!(file.entities().count(), drawing.marks.len());
    }
}

#[test]
fn what_is_no_number_is_refused() {
    let mut drawing = bracket::bracket();
    drawing.label(Point::new(f64::INFINITY, 0.0), 3.0, "lost");
    let refused = WriteProblem::NotFinite { layer: Some(Layer::Note) };
    assert_eq!(planish::formats::svg(&drawing), Err(refused.clone()));
    assert_eq!(planish::formats::dxf(&drawing, DxfOptions::default()), Err(refused));
    assert_eq!(
        planish::formats::stl(&[[[f64::NAN; 3]; 3]]),
        Err(WriteProblem::NotFinite { layer: None })
    );
    let mut flat = Drawing::new("a corner walked twice");
    let corner = |x: f64, y: f64, bulge: f64| Vertex { point: Point::new(x, y), bulge };
    flat.closed(
        Layer::Outside,
        Polyarc {
            vertices: vec![
                corner(0.0, 0.0, 0.5),
                corner(0.0, 0.0, 0.0),
                corner(9.0, 0.0, 1e-15),
                corner(9.0, 9.0, 0.0),
            ],
        },
    );
    assert!(!as_svg(&flat).contains("NaN"));
}

#[test]
fn an_empty_drawing_is_still_a_file() {
    let empty = Drawing::new("");
    assert!(usvg::Tree::from_str(&as_svg(&empty), &usvg::Options::default()).is_ok());
    for (version, unit) in EVERY {
        assert!(dxf::Drawing::load(&mut as_dxf(&empty, version, unit).as_slice()).is_ok());
    }
}

#[test]
fn a_picture_for_a_page_has_no_ids_and_scales_with_it() {
    let mut drawing = bracket::bracket();
    drawing.marks.push(Mark { layer: Layer::Scribe, shape: Shape::Open(Vec::new()) });
    let picture = planish::formats::svg_picture(&drawing, 480.0).expect("a sound drawing");
    let file = roxmltree::Document::parse(&picture).expect("XML");
    assert!(file.descendants().all(|node| node.attribute("id").is_none()));
    assert!(
        file.root_element().attribute("viewBox").is_some()
            && file.root_element().attribute("width").is_none()
    );
}

#[test]
fn a_buck_comes_back_from_stl_with_its_volume() {
    let outline = bracket::rounded(Rect::new(-30.0, -20.0, 90.0, 40.0), 8.0);
    let hole = Polyarc::circle(Point::new(30.0, 10.0), 10.0);
    let surface = planish::geom::prism(&outline, std::slice::from_ref(&hole), (0.0, 18.0), 0.002)
        .expect("a sound outline");
    let bytes = planish::formats::stl(&surface).expect("finite");
    assert_eq!(bytes.len(), 84 + 50 * surface.len());
    let mesh = stl_io::read_stl(&mut std::io::Cursor::new(&bytes)).expect("stl_io reads it");
    mesh.validate().expect("closed, each edge shared by two");
    let mut read = Vec::new();
    for face in &mesh.faces {
        let [a, b, c] = face.vertices.map(|i| mesh.vertices[i].0.map(f64::from));
        assert!(dot(cross(sub(b, a), sub(c, a)), face.normal.0.map(f64::from)) > 0.0);
        read.push([a, b, c]);
    }
    let volume = volume(&read);
    // Exact area of the rounded rectangle and the circle: width x height - (4 - pi) r^2 - pi R^2.
    let area = 120.0 * 60.0 - (4.0 - std::f64::consts::PI) * 64.0 - std::f64::consts::PI * 100.0;
    assert!((volume - area * 18.0).abs() < 1e-3 * area * 18.0, "{volume} {}", area * 18.0);
}
