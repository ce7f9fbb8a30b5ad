//! Outlines out of DXF and SVG files: written by hand after the formats' references, by our own
//! writers, and mangled.

use std::f64::consts::PI;

use crate::support::bracket;
use crate::support::dice::Dice;
use planish::formats::{DxfOptions, DxfUnit, DxfVersion};
use planish::formats::{ImportProblem, Imported, Measure, outline_from_dxf, outline_from_svg};
use planish::geom::{Point, Polyarc, Rect, Segment};
use planish::page::{Drawing, Layer};

/// A DXF file of entities, given as words: code, value, code, value … with `_` for a space.
fn file(header: &str, entities: &str) -> Vec<u8> {
    let words = format!(
        "0 SECTION 2 HEADER {header} 0 ENDSEC 0 SECTION 2 ENTITIES {entities} 0 ENDSEC 0 EOF"
    );
    words
        .split_whitespace()
        .map(|word| word.replace('_', " ") + "\r\n")
        .collect::<String>()
        .into_bytes()
}

/// As the file says, else in millimetres.
const AS_SAID: Measure = Measure { unit_mm: None, unsaid_mm: 1.0, scale: 1.0 };

/// As the file says, else in inches.
const IN_INCHES: Measure = Measure { unsaid_mm: 25.4, ..AS_SAID };

const MM: &str = "9 $INSUNITS 70 4";

fn read(entities: &str) -> Imported {
    outline_from_dxf(&file(MM, entities), None, AS_SAID)
        .unwrap_or_else(|problem| panic!("{problem}: {entities}"))
}

fn area(imported: &Imported) -> f64 {
    imported.outline.area()
}

fn svg(text: &str) -> Imported {
    outline_from_svg(text, None, AS_SAID).unwrap_or_else(|problem| panic!("{problem}: {text}"))
}

#[test]
fn our_own_files_come_back() {
    let bracket = bracket::bracket();
    let outside = bracket::rounded(Rect::new(0.0, 0.0, 180.0, 110.0), 8.0);
    for version in [DxfVersion::R2000, DxfVersion::R12] {
        for unit in [DxfUnit::Millimetre, DxfUnit::Inch] {
            let bytes = planish::formats::dxf(&bracket, DxfOptions { version, unit })
                .expect("a sound drawing");
            let alone = outline_from_dxf(&bytes, Some("outside"), AS_SAID).expect("one outline");
            assert!((area(&alone) - outside.area()).abs() < 1e-4 && alone.inside.is_empty());
            assert!(
                (alone.outline.bounds().x1 - 180.0).abs() < 1e-5 && alone.outline.sides.len() == 8
            );
            assert_eq!(alone.unit_mm, Some(if unit == DxfUnit::Inch { 25.4 } else { 1.0 }));
            // From all layers: the bracket's four openings, and its marks as open lines.
            let all = outline_from_dxf(&bytes, None, AS_SAID).expect("one outermost outline");
            assert_eq!(all.inside.len(), 4);
            assert!(
                all.notes.iter().any(|note| note.contains("open lines"))
                    && all.notes.iter().any(|note| note.contains("TEXT"))
            );
        }
    }
    let text = String::from_utf8(planish::formats::svg(&bracket).expect("a sound drawing"))
        .expect("UTF-8");
    let back = outline_from_svg(&text, Some("OUTSIDE"), AS_SAID).expect("one outline");
    assert!((area(&back) - outside.area()).abs() < 1e-3 && back.unit_mm == Some(1.0));
    assert!(
        back.outline
            .sides
            .iter()
            .filter(|side| matches!(side.segment, Segment::Arc { .. }))
            .count()
            == 4
    );
}

#[test]
fn lines_and_arcs_in_any_order_and_direction_are_joined() {
    // A 60 x 20 slot: one line short of its arc by 5 micrometres, one drawn twice, one backwards.
    let slot = "0 LINE 8 A 10 10 20 0 11 50 21 0  0 ARC 8 A 10 10 20 10 40 10 50 90 51 270  0 LINE 8 A 10 10 20 20 11 50.005 21 20 \
        0 ARC 8 A 10 50 20 10 40 10 50 -90 51 90  0 LINE 8 A 10 50 20 0 11 10 21 0  0 LINE 8 B 10 0 20 -50 11 9 21 -50";
    let imported = read(slot);
    assert!((area(&imported) - (800.0 + 100.0 * PI)).abs() < 0.1);
    assert_eq!(imported.outline.sides.len(), 4);
    assert!(
        imported
            .outline
            .sides
            .iter()
            .zip(imported.outline.sides.iter().cycle().skip(1))
            .all(|(a, b)| a.segment.to() == b.segment.from())
    );
    assert_eq!(imported.notes, ["1 open line was passed over"]);
}

#[test]
fn circles_ellipses_and_bulges_have_their_areas() {
    assert!((area(&read("0 CIRCLE 8 A 10 5 20 5 40 25")) - 625.0 * PI).abs() < 1e-9);
    // A whole ellipse, and one of half axes 40 and 20 turned by 90 degrees, cut in two.
    assert!(
        (area(&read("0 ELLIPSE 8 A 10 0 20 0 11 40 21 0 40 0.5 41 0 42 6.283185307179586"))
            - 800.0 * PI)
            .abs()
            < 1e-3
    );
    let halves = "0 ELLIPSE 8 A 10 0 20 0 11 0 21 40 40 0.5 41 0 42 3.141592653589793 0 LINE 8 A 10 0 20 40 11 0 21 -40";
    assert!((area(&read(halves)) - 400.0 * PI).abs() < 1e-3);
    // Seen from below, parameters run the other way: the half on the other side of the long axis.
    let below = "0 ELLIPSE 8 A 10 0 20 0 11 40 21 0 210 0 220 0 230 -1 40 0.5 41 0 42 3.141592653589793 0 LINE 8 A 10 -40 20 0 11 40 21 0";
    assert!(read(below).outline.bounds().y1.abs() < 1e-6);
    // A polyline with a bulge over 1, three quarters of a circle of radius 10: tan(270/4 deg) =
    // 2.41421 (DXF reference).
    let pie = "0 LWPOLYLINE 8 A 90 3 70 1 10 10 20 0 42 2.414213562373095 10 0 20 -10 10 0 20 0";
    assert!((area(&read(pie)) - 75.0 * PI).abs() < 1e-9);
    // The same in a plane seen from below: mirrored in x.
    let mirrored = read(&format!("{pie} 210 0 220 0 230 -1"));
    assert!((area(&mirrored) - 75.0 * PI).abs() < 1e-9);
    let inside = |x: f64, y: f64| mirrored.outline.to_polyarc(0.001).contains(Point::new(x, y));
    // Of the disc the quarter below on the right is missing, mirrored the one below on the left.
    assert!(inside(5.0, 5.0) && inside(-5.0, 5.0) && inside(5.0, -5.0) && !inside(-5.0, -5.0));
}

#[test]
fn old_polylines_and_splines_are_read() {
    let old = "0 POLYLINE 8 A 66 1 70 1 0 VERTEX 8 A 10 0 20 0 0 VERTEX 8 A 10 30 20 0 42 1 0 VERTEX 8 A 10 30 20 20 0 VERTEX 8 A 10 0 20 20 0 SEQEND 8 A";
    assert!((area(&read(old)) - (600.0 + 50.0 * PI)).abs() < 1e-9);
    // A spline that is one cubic from a point back to it, its area by kurbo.
    let loop_ = "0 SPLINE 8 A 70 8 71 3 72 8 73 4 40 0 40 0 40 0 40 0 40 1 40 1 40 1 40 1 10 0 20 0 10 90 20 0 10 0 20 90 10 0 20 0";
    let cubic = kurbo::CubicBez::new((0.0, 0.0), (90.0, 0.0), (0.0, 90.0), (0.0, 0.0));
    let wanted = kurbo::ParamCurveArea::signed_area(&cubic);
    assert!((area(&read(loop_)) - wanted).abs() < 0.004 * 250.0, "{wanted}");
}

#[test]
fn blocks_are_placed_turned_and_mirrored() {
    let block = "0 SECTION 2 BLOCKS 0 BLOCK 8 0 2 FOOT 70 0 10 1 20 0 0 LWPOLYLINE 8 0 90 3 70 1 10 1 20 0 10 41 20 0 42 0.4142135623730951 10 1 20 40 0 ENDBLK 8 0 0 ENDSEC";
    let with = |insert: &str| {
        let words = format!(
            "0 SECTION 2 HEADER {MM} 0 ENDSEC {block} 0 SECTION 2 ENTITIES {insert} 0 ENDSEC 0 EOF"
        );
        let bytes = words.split_whitespace().map(|word| word.to_owned() + "\n").collect::<String>();
        outline_from_dxf(bytes.as_bytes(), None, AS_SAID).expect(insert)
    };
    // A quarter disc of radius 40: the block's base point goes to 100, 50.
    let plain = with("0 INSERT 8 CUT 2 foot 10 100 20 50");
    assert!(
        (area(&plain) - 400.0 * PI).abs() < 1e-9
            && (plain.outline.bounds().x0 - 100.0).abs() < 1e-9
    );
    let mirrored = with("0 INSERT 8 CUT 2 FOOT 10 100 20 50 41 -1 50 90");
    let bounds = mirrored.outline.bounds();
    assert!(
        (bounds.x1 - 100.0).abs() < 1e-9
            && (bounds.y1 - 50.0).abs() < 1e-9
            && (area(&mirrored) - 400.0 * PI).abs() < 1e-9
    );
    // Twice as wide as high: a quarter of an ellipse.
    assert!((area(&with("0 INSERT 8 CUT 2 FOOT 10 0 20 0 41 2 42 1")) - 800.0 * PI).abs() < 0.01);
    let words = format!(
        "0 SECTION 2 HEADER {MM} 0 ENDSEC {block} 0 SECTION 2 ENTITIES 0 INSERT 8 CUT 2 FOOT 10 0 20 0 70 3 44 50 0 ENDSEC 0 EOF"
    );
    let bytes = words.split_whitespace().map(|word| word.to_owned() + "\n").collect::<String>();
    assert_eq!(
        outline_from_dxf(bytes.as_bytes(), None, AS_SAID),
        Err(ImportProblem::Several { count: 3 })
    );
}

/// The codes of $INSUNITS (DXF reference) with their lengths in mm, by the definitions of the
/// units: the inch is 25.4 mm (1959), the US survey foot 1200/3937 m (1893), the astronomical unit
/// 149,597,870.7 km (IAU 2012), a light year 9,460,730,472,580.8 km (IAU), a parsec
/// 3.0856775814913673e16 m (IAU 2015).
#[test]
fn all_units_of_the_reference_are_known_and_no_others() {
    let inch = 25.4;
    let survey_foot = 304.800_609_601_219_2;
    let units = [
        inch,
        12.0 * inch,
        1_609_344.0,
        1.0,
        10.0,
        1e3,
        1e6,
        inch * 1e-6,
        inch * 1e-3,
        914.4,
        1e-7,
        1e-6,
        1e-3,
        100.0,
        1e4,
        1e5,
        1e12,
        1.495_978_707e14,
        9.460_730_472_580_8e18,
        3.085_677_581_491_367e19,
        survey_foot,
        survey_foot / 12.0,
        survey_foot * 3.0,
        survey_foot * 5280.0,
    ];
    for (code, mm) in (1..).zip(units) {
        // Drawn so that its radius is 30 mm.
        let circle = format!("0 CIRCLE 8 A 10 0 20 0 40 {:e}", 30.0 / mm);
        let imported =
            outline_from_dxf(&file(&format!("9 $INSUNITS 70 {code}"), &circle), None, AS_SAID)
                .expect("a circle");
        let unit = imported.unit_mm.expect("said");
        assert!((unit / mm - 1.0).abs() < 1e-12, "{code}: {unit} {mm}");
        assert!((imported.outline.bounds().x1 - 30.0).abs() < 1e-9, "{code}");
    }
    let circle = "0 CIRCLE 8 A 10 0 20 0 40 1";
    for code in ["25", "-1", "99999999999", "mm"] {
        let bytes = file(&format!("9 $INSUNITS 70 {code}"), circle);
        let problem = outline_from_dxf(&bytes, None, AS_SAID).expect_err(code);
        assert!(
            problem.to_string().contains(code) && problem.hint().contains("units: mm"),
            "{problem}"
        );
        let said = Measure { unit_mm: Some(10.0), ..AS_SAID };
        assert!(
            (outline_from_dxf(&bytes, None, said).expect("said").outline.bounds().x1 - 10.0).abs()
                < 1e-9
        );
    }
    for header in ["9 $INSUNITS 70 0", "9 $LTSCALE 40 1"] {
        let unsaid = outline_from_dxf(&file(header, circle), None, IN_INCHES).expect("a circle");
        assert_eq!(unsaid.unit_mm, None);
        assert!((unsaid.outline.bounds().x1 - 25.4).abs() < 1e-9);
    }
    // What the description says goes over what the drawing does, and is made larger by its scale.
    let said = Measure { unit_mm: Some(25.4), scale: 0.5, ..AS_SAID };
    assert!(
        (outline_from_dxf(&file(MM, circle), None, said).expect("a circle").outline.bounds().x1
            - 12.7)
            .abs()
            < 1e-9
    );
    let text = r#"<svg width="10mm" height="10mm" viewBox="0 0 100 100"><circle cx="50" cy="50" r="50"/></svg>"#;
    assert!(
        (outline_from_svg(text, None, said).expect("a circle").outline.bounds().x1 - 1270.0).abs()
            < 1e-9
    );
    let half = Measure { scale: 0.5, ..AS_SAID };
    assert!(
        (outline_from_svg(text, None, half).expect("a circle").outline.bounds().x1 - 5.0).abs()
            < 1e-9
    );
}

#[test]
fn entities_marked_invisible_and_blocks_on_frozen_layers_are_not_taken() {
    // Group 60 of 1 is invisible (DXF reference, common group codes).
    let two = "0 CIRCLE 8 A 10 0 20 0 40 50 60 1 0 CIRCLE 8 A 60 0 10 0 20 0 40 1";
    let shown = read(two);
    assert!((area(&shown) - PI).abs() < 1e-9, "{}", area(&shown));
    assert_eq!(shown.notes, ["1 passed over: marked invisible"]);
    let block = "0 SECTION 2 BLOCKS 0 BLOCK 8 0 2 B 70 0 10 0 20 0 0 CIRCLE 8 C 10 0 20 0 40 9 0 CIRCLE 8 0 10 50 20 0 40 4 0 ENDBLK 8 0 0 ENDSEC";
    let layer = |flags: &str| {
        let tables =
            format!("0 SECTION 2 TABLES 0 TABLE 2 LAYER 0 LAYER 2 L {flags} 0 ENDTAB 0 ENDSEC");
        let entities = "0 INSERT 8 L 2 B 10 0 20 0 0 CIRCLE 8 A 10 0 20 0 40 1";
        let words = format!(
            "0 SECTION 2 HEADER {MM} 0 ENDSEC {tables} {block} 0 SECTION 2 ENTITIES {entities} 0 ENDSEC 0 EOF"
        );
        let bytes = words.split_whitespace().map(|word| word.to_owned() + "\n").collect::<String>();
        outline_from_dxf(bytes.as_bytes(), None, AS_SAID)
    };
    // Frozen, the whole block is gone; off, only what is on layer 0 in it.
    assert!((area(&layer("70 1 62 7").expect("one circle")) - PI).abs() < 1e-9);
    assert!((area(&layer("70 0 62 -7").expect("one outermost circle")) - 81.0 * PI).abs() < 1e-9);
    assert_eq!(layer("70 0 62 7"), Err(ImportProblem::Several { count: 2 }));
}

#[test]
fn sizes_out_of_all_measure_are_refused_at_once() {
    for entity in [
        "0 CIRCLE 8 A 10 0 20 0 40 -1e303",
        "0 CIRCLE 8 A 10 0 20 0 40 -5",
        "0 CIRCLE 8 A 10 0 20 0 40 1e303",
        "0 CIRCLE 8 A 10 0 20 0 40 60000",
        "0 CIRCLE 8 A 10 0 20 0 40 0.0004",
        "0 ARC 8 A 10 0 20 0 40 -1e303 50 0 51 10",
        "0 ARC 8 A 10 0 20 0 40 1e303 50 0 51 1e-9",
        "0 ELLIPSE 8 A 10 0 20 0 11 -1e303 21 0 40 -1e303 41 0 42 6",
        "0 ELLIPSE 8 A 10 0 20 0 11 1e155 21 1e155 40 1e-300 41 0 42 6",
        "0 LWPOLYLINE 8 A 90 3 70 1 10 10 20 0 42 1e300 10 0 20 -10 10 0 20 0",
        "0 LWPOLYLINE 8 A 90 3 70 1 10 1e303 20 0 10 0 20 -1e303 10 0 20 0",
        "0 SPLINE 8 A 70 8 71 3 72 8 73 4 40 0 40 0 40 0 40 0 40 1 40 1 40 1 40 1 10 0 20 0 10 9e5 20 0 10 0 20 9e5 10 0 20 0",
    ] {
        let problem = outline_from_dxf(&file(MM, entity), None, AS_SAID).expect_err(entity);
        assert!(!problem.to_string().is_empty() && !problem.hint().is_empty(), "{entity}");
    }
    for element in [
        r#"<circle r="-1e303"/>"#,
        r#"<circle r="1e303"/>"#,
        r#"<circle r="-5"/>"#,
        r#"<circle r="60000"/>"#,
        r#"<ellipse rx="1e303" ry="-1e-303"/>"#,
        r#"<rect width="1e303" height="1e303" rx="1e303"/>"#,
        r#"<rect width="5" height="-5"/>"#,
        r#"<path d="M0,0 A1e303,1e-303 0 1 1 10,10 z"/>"#,
        r#"<path d="M0,0 h1e303 v10 z"/>"#,
        r#"<polygon points="0,0 1e303,0 0,1e303"/>"#,
        r#"<g transform="scale(1e300)"><rect width="5" height="5"/></g>"#,
        r#"<g transform="scale(1e-300 1)"><ellipse rx="1e303" ry="1e303"/></g>"#,
    ] {
        let text =
            format!(r#"<svg width="10mm" height="10mm" viewBox="0 0 10 10">{element}</svg>"#);
        let problem = outline_from_svg(&text, None, AS_SAID).expect_err(element);
        assert!(!problem.to_string().is_empty() && !problem.hint().is_empty(), "{element}");
    }
    // More than any drawing has: entities, points, closed outlines, attributes of one element,
    // entities of a document type.
    let many = |one: &str, count: usize| format!("{one} ").repeat(count);
    let too_much = |entities: &str| {
        outline_from_dxf(&file(MM, entities), None, AS_SAID).expect_err("too much").to_string()
    };
    assert!(too_much(&many("0 POINT 0 LINE", 200_001)).contains("200000"));
    assert!(
        too_much(&format!("0 LWPOLYLINE 8 A 70 1 {}", many("10 0 20 0", 200_001)))
            .contains("200000")
    );
    let grid: Vec<String> = (0..25_002)
        .map(|i| format!("M{},{}h1v1h-1z", 2 * (i % 160) + 1, 2 * (i / 160) + 1))
        .collect();
    let grid = grid.concat();
    let picture = |inside: &str| {
        format!(
            r#"<svg width="400mm" height="400mm" viewBox="0 0 400 400"><path d="M0,0h400v400h-400z"/>{inside}</svg>"#
        )
    };
    let problem = outline_from_svg(&picture(&format!(r#"<path d="{grid}"/>"#)), None, AS_SAID)
        .expect_err("too many");
    assert!(problem.to_string().contains("25000"), "{problem}");
    let attributes: Vec<String> = (0..1001).map(|i| format!(r#" a{i}="""#)).collect();
    let attributes = attributes.concat();
    let problem = outline_from_svg(&picture(&format!("<g{attributes}/>")), None, AS_SAID)
        .expect_err("too many");
    assert!(problem.to_string().contains("1000 are the most"), "{problem}");
    let bomb = format!(
        r#"<!DOCTYPE svg [<!ENTITY a "{}">]><svg><path d="{}"/></svg>"#,
        "l0 0".repeat(25_000),
        "&a;".repeat(1000)
    );
    let problem = outline_from_svg(&bomb, None, AS_SAID).expect_err("100 MB");
    assert!(problem.to_string().contains("64 MB"), "{problem}");
}

/// The box around what a picture shows, mm from the lower left corner of the page, as `usvg` reads
/// it.
fn seen_by_usvg(text: &str) -> Rect {
    let tree = usvg::Tree::from_str(text, &usvg::Options::default()).expect("usvg reads it");
    let mm = |px: f32| f64::from(px) * 25.4 / 96.0;
    let height = mm(tree.size().height());
    let mut groups = vec![tree.root()];
    let mut seen: Option<Rect> = None;
    while let Some(group) = groups.pop() {
        for node in group.children() {
            match node {
                usvg::Node::Group(group) => groups.push(group),
                usvg::Node::Path(path) if path.is_visible() => {
                    let bounds = path.abs_bounding_box();
                    let bounds = Rect::new(
                        mm(bounds.left()),
                        height - mm(bounds.bottom()),
                        mm(bounds.right()),
                        height - mm(bounds.top()),
                    );
                    seen = Some(seen.map_or(bounds, |seen| seen.union(bounds)));
                }
                _ => {}
            }
        }
    }
    seen.expect("something is shown")
}

#[test]
fn pages_are_mapped_as_usvg_maps_them() {
    let body = r#"<path d="M12,8 h40 v20 l-30,15 z"/>"#;
    let sizes = [
        r#"width="120mm" height="60mm""#,
        r#"width="50mm" height="90mm""#,
        r#"width="4in""#,
        r#"height="90pt""#,
    ];
    let aligned = [
        "xMinYMin", "xMidYMin", "xMaxYMin", "xMinYMid", "xMidYMid", "xMaxYMid", "xMinYMax",
        "xMidYMax", "xMaxYMax",
    ];
    let ratios =
        aligned.iter().flat_map(|align| [format!("{align} meet"), format!("{align} slice")]);
    let ratios: Vec<String> = ratios.chain(["none".to_owned(), "none slice".to_owned()]).collect();
    let mut checked = 0;
    for size in sizes {
        for ratio in ratios
            .iter()
            .map(|ratio| format!(r#"preserveAspectRatio="{ratio}""#))
            .chain([String::new()])
        {
            let text = format!(
                r#"<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="-10 -5 80 60" {ratio}>{body}</svg>"#
            );
            let (ours, theirs) = (svg(&text).outline.bounds(), seen_by_usvg(&text));
            let off = [
                ours.x0 - theirs.x0,
                ours.y0 - theirs.y0,
                ours.x1 - theirs.x1,
                ours.y1 - theirs.y1,
            ];
            assert!(off.iter().all(|off| off.abs() < 1e-3), "{text}: {ours:?} {theirs:?}");
            checked += 1;
        }
    }
    assert_eq!(checked, 4 * 21);
}

#[test]
fn hidden_elements_are_not_taken_as_usvg_does_not_show_them() {
    let shown = r#"<rect id="kept" x="20" y="30" width="40" height="25"/>"#;
    for hidden in [
        r#"<rect width="90" height="90" display="none"/>"#,
        r#"<g style="fill: red; display : none"><rect width="90" height="90"/></g>"#,
        r#"<style>.gone { display: none }</style><rect class="a gone" width="90" height="90"/>"#,
        r#"<style>/* .x */ rect#big, circle { display: none !important; }</style><rect id="big" style="display: inline" width="90" height="90"/>"#,
        r#"<style>rect { display: none } #kept { display: inline } </style><rect width="90" height="90"/>"#,
        r#"<rect width="90" height="90" visibility="hidden"/>"#,
        r#"<g visibility="collapse"><rect width="90" height="90"/><g/></g>"#,
        r#"<g style="visibility: hidden"><rect width="90" height="90"/></g>"#,
        r#"<switch><rect requiredExtensions="http://example.org" width="90" height="90"/><g/></switch>"#,
        r#"<switch><g/><rect width="90" height="90"/></switch>"#,
        r#"<symbol id="s"><rect width="90" height="90"/></symbol>"#,
        r#"<rect width="0" height="90"/>"#,
    ] {
        let text = format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">{hidden}{shown}</svg>"#
        );
        let (ours, theirs) = (svg(&text).outline.bounds(), seen_by_usvg(&text));
        assert!(
            (ours.x0 - 20.0).abs() < 1e-9 && (ours.y1 - 70.0).abs() < 1e-9,
            "{hidden}: {ours:?}"
        );
        assert!(
            (ours.x0 - theirs.x0).abs() < 1e-3 && (ours.y1 - theirs.y1).abs() < 1e-3,
            "{hidden}: {theirs:?}"
        );
    }
    // What is hidden around it may be shown again.
    let again = r#"<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100"><g visibility="hidden">
        <rect width="90" height="90"/><rect visibility="visible" x="20" y="30" width="40" height="25"/></g></svg>"#;
    assert!(
        (svg(again).outline.bounds().x0 - 20.0).abs() < 1e-9
            && (seen_by_usvg(again).x0 - 20.0).abs() < 1e-3
    );
}

#[test]
fn styles_that_move_an_outline_do_so() {
    let with = |style: &str| {
        svg(&format!(r#"<svg width="100mm" height="100mm" viewBox="0 0 100 100">{style}</svg>"#))
            .outline
            .bounds()
    };
    let near = |bounds: Rect, wanted: [f64; 4]| {
        let off = [bounds.x0, bounds.y0, bounds.x1, bounds.y1];
        assert!(
            off.iter().zip(wanted).all(|(is, wanted)| (is - wanted).abs() < 1e-9),
            "{bounds:?} {wanted:?}"
        );
    };
    let rect = |style: &str| format!(r#"<rect style="{style}" width="40" height="20"/>"#);
    // Down the page by 30 units, y up from its foot.
    near(with(&rect("transform: translate(10px, 30px)")), [10.0, 50.0, 50.0, 70.0]);
    near(
        with(&rect("transform:translateX(40px) rotate(90deg) scale(2, 1)")),
        [20.0, 20.0, 40.0, 100.0],
    );
    near(with(&rect("transform: matrix(1, 0, 0, 2, 5, 0)")), [5.0, 60.0, 45.0, 100.0]);
    near(
        with(&format!(
            "<style>rect {{ transform: rotate(0.25turn) }}</style><g transform=\"translate(50 0)\">{}</g>",
            rect("")
        )),
        [30.0, 60.0, 50.0, 100.0],
    );
    // A style goes before an attribute of the same name.
    near(
        with(r#"<rect width="4" height="4" x="3" style="width: 40px; height: 20px; x: 10px"/>"#),
        [10.0, 80.0, 50.0, 100.0],
    );
}

#[test]
fn what_may_change_an_outline_and_is_not_read_is_refused_by_name_and_line() {
    let rect = r#"<rect id="plate" width="40" height="20"/>"#;
    for (line_3, says) in [
        (r#"<g clip-path="url(#c)">RECT</g>"#, "`clip-path` of <g>"),
        (r#"<g id="cut" style="mask: url(#c)">RECT</g>"#, "`mask` of <g> `cut`"),
        (r#"<g filter="url(#c)"><g>RECT</g></g>"#, "`filter` of <g>"),
        (r"<style>#plate { clip-path: inset(3px) }</style>RECT", "`clip-path` of <rect> `plate`"),
        (r"<style>g > rect { display: none }</style>RECT", "the style rule `g > rect`"),
        (
            r"<style>@media print { rect { display: none } }</style>RECT",
            "the style rule `@media print`",
        ),
        (r#"<g style="transform: rotate(3)">RECT</g>"#, "`transform` of <g>"),
        (r#"<g style="transform: perspective(3px)">RECT</g>"#, "`transform` of <g>"),
        (r#"<g transform="spin(3)">RECT</g>"#, "`transform` of <g>"),
        (r#"<g style="rotate: 30deg">RECT</g>"#, "`rotate` of <g>"),
        (r#"<g style="transform-origin: 5px 5px">RECT</g>"#, "`transform-origin` of <g>"),
        (r#"<path style="d: path('M0,0h3v3z')"/>"#, "`d` of <path>"),
        (r#"<polygon id="p" points="0,0 40,0 40,20 x,20 0,20"/>"#, "points="),
        (r#"<polygon points="0,0 40,0 40,20 0"/>"#, "points="),
        (r#"<rect width="40vw" height="20"/>"#, "width=\"40vw\""),
        (r#"<circle r="3q"/>"#, "r=\"3q\" of <circle>"),
        (r#"<rect width="5%" height="20"/>"#, "width=\"5%\""),
    ] {
        let text = format!(
            "<svg width=\"100mm\" height=\"100mm\" viewBox=\"0 0 100 100\">\n<g/>\n{}</svg>",
            line_3.replace("RECT", rect)
        );
        let problem = outline_from_svg(&text, None, AS_SAID).expect_err(line_3);
        let said = problem.to_string();
        assert!(said.contains("line 3") && said.contains(says), "{line_3}: {said}");
    }
    // On what is not wanted it does not matter, nor do colours.
    let aside = format!(
        r#"<svg width="100mm" height="100mm" viewBox="0 0 100 100"><style>g > path {{ fill: red }} .a {{ stroke: none }}</style><g mask="url(#c)"><path d="M0,0"/></g>
        <g id="notes" filter="url(#f)">{rect}</g><g id="cut">{rect}</g></svg>"#
    );
    assert!(
        (area(&outline_from_svg(&aside, Some("cut"), AS_SAID).expect("named")) - 800.0).abs()
            < 1e-9
    );
    for root in [
        r#"width="10vw" height="10mm" viewBox="0 0 10 10""#,
        r#"width="10mm" viewBox="0 0 10""#,
        r#"width="10mm" viewBox="0 0 10 0""#,
        r#"width="10mm" viewBox="0 0 10 10" preserveAspectRatio="middle""#,
        r#"width="-10mm" viewBox="0 0 10 10""#,
        r#"width="10mm" viewBox="0 0 10 10" transform="rotate(5)""#,
    ] {
        let problem =
            outline_from_svg(&format!("<svg {root}>{rect}</svg>"), None, AS_SAID).expect_err(root);
        assert!(problem.to_string().contains("line 1"), "{root}: {problem}");
    }
    for unsaid in [
        "",
        r#"width="100%" height="100%" viewBox="0 0 100 100""#,
        r#"width="10em" viewBox="0 0 9 9""#,
    ] {
        assert_eq!(svg(&format!("<svg {unsaid}>{rect}</svg>")).unit_mm, None, "{unsaid}");
    }
}

#[test]
fn what_is_wrong_with_a_dxf_is_said() {
    let problem = |bytes: &[u8], layer: Option<&str>| {
        outline_from_dxf(bytes, layer, AS_SAID).expect_err("a bad file")
    };
    assert_eq!(problem(b"AutoCAD Binary DXF\r\n\x1a\0...", None), ImportProblem::Binary);
    assert!(matches!(problem(b"hello\nworld\n", None), ImportProblem::NotReadable { .. }));
    assert!(matches!(problem(b"", None), ImportProblem::NotReadable { .. }));
    let circle = "0 CIRCLE 8 Schnitt 10 0 20 0 40 1";
    let missing = problem(&file(MM, circle), Some("OUTSIDE"));
    assert!(missing.hint().contains("SCHNITT"), "{}", missing.hint());
    let two = "0 CIRCLE 8 A 10 0 20 0 40 1 0 CIRCLE 8 A 10 9 20 0 40 1";
    assert_eq!(problem(&file(MM, two), None), ImportProblem::Several { count: 2 });
    let open = "0 LINE 8 A 10 0 20 0 11 50 21 0 0 LINE 8 A 10 50 20 0 11 50 21 30 0 LINE 8 A 10 50 20 30 11 0 21 0.5";
    let problem_open = problem(&file(MM, open), None);
    assert_eq!(
        problem_open,
        ImportProblem::NothingClosed {
            open: 1,
            gap: Some((Point::new(0.0, 0.25), 0.5)),
            branch: None
        }
    );
    assert!(problem_open.to_string().contains("0.500 mm apart"));
    let tee = format!("{open} 0 LINE 8 A 10 50 20 0 11 90 21 0");
    assert!(
        matches!(problem(&file(MM, &tee), None), ImportProblem::NothingClosed { branch: Some(at), .. } if at == Point::new(50.0, 0.0))
    );
    let wild = "0 CIRCLE 8 A 10 1e300 20 0 40 1";
    assert!(matches!(problem(&file(MM, wild), None), ImportProblem::Unfit { .. }));
    let spline = "0 SPLINE 8 A 70 0 71 3 72 2 73 2 40 0 40 1 10 0 20 0 10 9 20 9";
    assert!(matches!(problem(&file(MM, spline), None), ImportProblem::Unfit { .. }));
}

#[test]
fn hidden_layers_are_passed_over_unless_named_and_names_may_be_foreign() {
    let tables = "0 ENDSEC 0 SECTION 2 TABLES 0 TABLE 2 LAYER 70 2 0 LAYER 2 ALT 70 1 62 7 6 CONTINUOUS 0 LAYER 2 AUS 70 0 62 -7 6 CONTINUOUS 0 ENDTAB";
    let entities = "0 CIRCLE 8 alt 10 0 20 0 40 50 0 CIRCLE 8 AUS 10 0 20 0 40 60 0 CIRCLE 8 Außen 10 0 20 0 40 1";
    let bytes = file(&format!("{MM} {tables}"), entities);
    assert!(
        (area(&outline_from_dxf(&bytes, None, AS_SAID).expect("one circle is shown")) - PI).abs()
            < 1e-9
    );
    assert!(
        (area(&outline_from_dxf(&bytes, Some("Alt"), AS_SAID).expect("named")) - 2500.0 * PI).abs()
            < 1e-9
    );
    assert!(
        (area(&outline_from_dxf(&bytes, Some("außen"), AS_SAID).expect("named")) - PI).abs() < 1e-9
    );
    // The same name in a code page of old.
    let latin: Vec<u8> = String::from_utf8(bytes)
        .expect("UTF-8")
        .chars()
        .map(|c| u8::try_from(u32::from(c)).expect("Latin-1"))
        .collect();
    assert!(
        (area(&outline_from_dxf(&latin, Some("Außen"), AS_SAID).expect("named")) - PI).abs() < 1e-9
    );
}

#[test]
fn svg_sizes_transforms_and_shapes_are_understood() {
    let in_mm = r#"<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="60mm" viewBox="-10 -5 240 120"><rect x="-10" y="-5" width="200" height="100" rx="16"/></svg>"#;
    let plate = svg(in_mm);
    // 100 x 50 mm with corners of 8 mm; its upper left corner is the page's, 60 mm up.
    assert!((area(&plate) - (5000.0 - (4.0 - PI) * 64.0)).abs() < 1e-9, "{}", area(&plate));
    let bounds = plate.outline.bounds();
    assert!(
        bounds.x0.abs() < 1e-9
            && (bounds.y1 - 60.0).abs() < 1e-9
            && (bounds.y0 - 10.0).abs() < 1e-9
    );
    assert_eq!(plate.unit_mm, Some(0.5));
    assert_eq!(plate.outline.sides.len(), 8);
    let in_inches =
        r#"<svg width="2in" height="1in" viewBox="0 0 2 1"><circle cx="1" cy=".5" r=".5"/></svg>"#;
    assert!((area(&svg(in_inches)) - PI * 12.7 * 12.7).abs() < 1e-9);
    let in_pixels = svg(r#"<svg width="96" height="96"><rect width="48" height="96"/></svg>"#);
    assert!(
        (area(&in_pixels) - 12.7 * 25.4).abs() < 1e-9
            && in_pixels.notes.iter().any(|note| note.contains("96"))
    );
    let unsaid = outline_from_svg(
        r#"<svg viewBox="0 0 9 9"><rect width="2" height="1"/></svg>"#,
        None,
        IN_INCHES,
    )
    .expect("a rectangle");
    assert!(unsaid.unit_mm.is_none() && (area(&unsaid) - 2.0 * 25.4 * 25.4).abs() < 1e-9);
    // Scaling by 2 and 3 makes areas six times as large; turning and skewing keep them.
    let moved = r#"<svg width="100mm" height="100mm" viewBox="0 0 100 100"><g transform="translate(5 5) scale(2,3)"><g transform="rotate(30) skewX(20)">
        <ellipse cx="1" cy="2" rx="5" ry="2"/></g></g></svg>"#;
    assert!((area(&svg(moved)) - 60.0 * PI).abs() < 1e-3);
    // A circle that is turned, mirrored and scaled alike stays of arcs.
    let turned = svg(
        r#"<svg width="100mm" height="100mm" viewBox="0 0 100 100"><circle transform="rotate(20) scale(-3 3)" r="5"/></svg>"#,
    );
    assert!((area(&turned) - 225.0 * PI).abs() < 1e-9);
    assert!(turned.outline.sides.iter().all(|side| matches!(side.segment, Segment::Arc { .. })));
}

#[test]
fn svg_layers_openings_and_hidden_parts_are_told_apart() {
    let text = r#"<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY w "10">]><svg width="100mm" height="100mm" viewBox="0 0 100 100" xmlns:x="urn:x">
        <defs><rect width="90" height="90"/></defs><g style="stroke:red; display: none"><rect width="80" height="80"/></g>
        <g id="g1" x:label="Cut"><polygon points="0,0 50,0 50,40 0,40"/><path d="M10,10 h&w; v10 h-10 z M30,10 h5 v5 h-5 z"/></g>
        <g id="other"><polyline points="60,0 70,0 70,10"/><text>hi</text></g></svg>"#;
    let all = svg(text);
    assert!((area(&all) - 2000.0).abs() < 1e-9 && all.inside.len() == 2);
    assert_eq!(all.notes, ["1 <text> passed over", "1 open line was passed over"]);
    let cut = outline_from_svg(text, Some("cut"), AS_SAID).expect("named");
    assert!(cut.notes.is_empty() && (area(&cut) - 2000.0).abs() < 1e-9);
    let problem = outline_from_svg(text, Some("outline"), AS_SAID).expect_err("no such layer");
    assert!(problem.hint().contains("Cut"), "{}", problem.hint());
    for bad in [
        "",
        "<svg",
        "<html/>",
        r#"<svg><path d="M0 0 h"/></svg>"#,
        r#"<svg><rect width="5%" height="3"/></svg>"#,
        "<svg/>",
        r#"<svg><g transform="spin(3)"/></svg>"#,
    ] {
        assert!(outline_from_svg(bad, None, AS_SAID).is_err(), "{bad}");
    }
}

#[test]
fn usvg_sees_the_same_bounds() {
    let text = r#"<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="150mm" viewBox="0 0 200 150"><g transform="translate(40 30) rotate(25)">
        <path d="M0,0 C30,-20 60,20 90,0 L90,40 Q45,70 0,40 A12,20 15 0 1 0,0 z"/></g></svg>"#;
    let bounds = svg(text).outline.bounds();
    let tree = usvg::Tree::from_str(text, &usvg::Options::default()).expect("usvg reads it");
    let theirs = tree.root().abs_bounding_box();
    let mm = |px: f32| f64::from(px) * 25.4 / 96.0;
    assert!(
        (mm(theirs.left()) - bounds.x0).abs() < 6e-3
            && (mm(theirs.right()) - bounds.x1).abs() < 6e-3,
        "{theirs:?} {bounds:?}"
    );
    assert!(
        (150.0 - mm(theirs.top()) - bounds.y1).abs() < 6e-3
            && (150.0 - mm(theirs.bottom()) - bounds.y0).abs() < 6e-3
    );
}

/// `bytes` with a few bytes lost, changed, doubled or replaced by hostile words.
fn mangled(bytes: &[u8], dice: &mut Dice) -> Vec<u8> {
    const WORDS: [&str; 12] = [
        "1e308",
        "-1e308",
        "NaN",
        "inf",
        "0",
        "-1",
        "99999999999",
        "\r\n",
        "SPLINE",
        "ELLIPSE",
        "INSERT",
        "\u{fffd}",
    ];
    let mut mangled = bytes.to_vec();
    for _ in 0..=dice.below(4) {
        let at = dice.below(mangled.len());
        match dice.below(5) {
            0 => mangled.truncate(at),
            1 => {
                if let Some(byte) = mangled.get_mut(at) {
                    *byte ^= 1 << dice.below(8);
                }
            }
            2 => drop(mangled.drain(at..(at + dice.below(40)).min(mangled.len()))),
            3 => {
                let piece: Vec<u8> =
                    mangled[at..(at + dice.below(200)).min(mangled.len())].to_vec();
                mangled.splice(at..at, piece);
            }
            _ => {
                let end = mangled[at..]
                    .iter()
                    .position(u8::is_ascii_whitespace)
                    .map_or(mangled.len(), |n| at + n);
                mangled.splice(at..end, WORDS[dice.below(WORDS.len())].bytes());
            }
        }
    }
    mangled
}

#[test]
fn mangled_files_never_panic() {
    let mut small = Drawing::new("small");
    small.closed(Layer::Outside, Polyarc::circle(Point::ORIGIN, 10.0));
    let own = planish::formats::dxf(&small, DxfOptions::default()).expect("a sound drawing");
    let old =
        planish::formats::dxf(&small, DxfOptions { version: DxfVersion::R12, unit: DxfUnit::Inch })
            .expect("a sound drawing");
    let rich = file(
        MM,
        "0 SPLINE 8 A 70 8 71 3 72 8 73 4 40 0 40 0 40 0 40 0 40 1 40 1 40 1 40 1 10 0 20 0 10 90 20 0 10 0 20 90 10 0 20 0 \
         0 ELLIPSE 8 A 10 20 20 20 11 4 21 0 40 0.5 41 0 42 3 0 LINE 8 A 10 0 20 40 11 0 21 -40 0 ARC 8 A 10 10 20 10 40 10 50 90 51 270 \
         0 LWPOLYLINE 8 A 90 3 70 1 10 10 20 0 42 2.4 10 0 20 -10 10 0 20 0 0 INSERT 8 A 2 X 10 0 20 0 41 2 70 3 44 1",
    );
    let picture = br#"<svg width="9mm" viewBox="0 0 9 9"><g transform="scale(2 3)"><path d="M0,0 C3,-2 6,2 9,0 L9,4 Q4,7 0,4 A1,2 15 0 1 0,0 z"/><rect width="5" height="2" rx="1"/></g></svg>"#;
    let mut dice = Dice(7);
    let (mut read, mut refused) = (0, 0);
    for round in 0..6000 {
        let result = match round % 4 {
            0 => outline_from_dxf(&mangled(&own, &mut dice), None, AS_SAID),
            1 => outline_from_dxf(&mangled(&old, &mut dice), Some("OUTSIDE"), AS_SAID),
            2 => outline_from_dxf(&mangled(&rich, &mut dice), None, IN_INCHES),
            _ => outline_from_svg(
                &String::from_utf8_lossy(&mangled(picture, &mut dice)),
                None,
                AS_SAID,
            ),
        };
        match result {
            Ok(imported) => {
                assert!(
                    imported.outline.area().is_finite() && imported.outline.length().is_finite(),
                    "round {round}"
                );
                read += 1;
            }
            Err(problem) => {
                assert!(!problem.to_string().is_empty() && !problem.hint().is_empty());
                refused += 1;
            }
        }
    }
    assert!(read > 500 && refused > 500, "{read} {refused}");
}
