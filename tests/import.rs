//! Outlines out of DXF and SVG files: written by hand after the formats' references, by our own writers, and mangled.

mod support;

use std::f64::consts::PI;

use planish::drawing::{Drawing, Layer};
use planish::geom::{Point, Polyarc, Rect, Segment};
use planish::part::import::{ImportProblem, Imported, outline_from_dxf, outline_from_svg};
use planish::units::LengthUnit;
use planish::write::{DxfOptions, DxfUnit, DxfVersion};

/// A DXF file of entities, given as words: code, value, code, value … with `_` for a space.
fn file(header: &str, entities: &str) -> Vec<u8> {
    let words = format!("0 SECTION 2 HEADER {header} 0 ENDSEC 0 SECTION 2 ENTITIES {entities} 0 ENDSEC 0 EOF");
    words.split_whitespace().map(|word| word.replace('_', " ") + "\r\n").collect::<String>().into_bytes()
}

const MM: &str = "9 $INSUNITS 70 4";

fn read(entities: &str) -> Imported {
    outline_from_dxf(&file(MM, entities), None, None).unwrap_or_else(|problem| panic!("{problem}: {entities}"))
}

fn area(imported: &Imported) -> f64 {
    imported.outline.area()
}

fn svg(text: &str) -> Imported {
    outline_from_svg(text, None, None).unwrap_or_else(|problem| panic!("{problem}: {text}"))
}

#[test]
fn our_own_files_come_back() {
    let bracket = support::bracket();
    let outside = support::rounded(Rect::new(0.0, 0.0, 180.0, 110.0), 8.0);
    for version in [DxfVersion::R2000, DxfVersion::R12] {
        for unit in [DxfUnit::Millimetre, DxfUnit::Inch] {
            let bytes = planish::write::dxf(&bracket, DxfOptions { version, unit }).expect("a sound drawing");
            let alone = outline_from_dxf(&bytes, Some("outside"), None).expect("one outline");
            assert!((area(&alone) - outside.area()).abs() < 1e-4 && alone.inside.is_empty());
            assert!((alone.outline.bounds().x1 - 180.0).abs() < 1e-5 && alone.outline.sides.len() == 8);
            assert_eq!(alone.unit_mm, Some(if unit == DxfUnit::Inch { 25.4 } else { 1.0 }));
            // From all layers: the bracket's four openings, and its marks as open lines.
            let all = outline_from_dxf(&bytes, None, None).expect("one outermost outline");
            assert_eq!(all.inside.len(), 4);
            assert!(
                all.notes.iter().any(|note| note.contains("open lines")) && all.notes.iter().any(|note| note.contains("TEXT"))
            );
        }
    }
    let text = String::from_utf8(planish::write::svg(&bracket).expect("a sound drawing")).expect("UTF-8");
    let back = outline_from_svg(&text, Some("OUTSIDE"), None).expect("one outline");
    assert!((area(&back) - outside.area()).abs() < 1e-3 && back.unit_mm == Some(1.0));
    assert!(back.outline.sides.iter().filter(|side| matches!(side.segment, Segment::Arc { .. })).count() == 4);
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
    assert!((area(&read("0 ELLIPSE 8 A 10 0 20 0 11 40 21 0 40 0.5 41 0 42 6.283185307179586")) - 800.0 * PI).abs() < 1e-3);
    let halves = "0 ELLIPSE 8 A 10 0 20 0 11 0 21 40 40 0.5 41 0 42 3.141592653589793 0 LINE 8 A 10 0 20 40 11 0 21 -40";
    assert!((area(&read(halves)) - 400.0 * PI).abs() < 1e-3);
    // Seen from below, parameters run the other way: the half on the other side of the long axis.
    let below = "0 ELLIPSE 8 A 10 0 20 0 11 40 21 0 210 0 220 0 230 -1 40 0.5 41 0 42 3.141592653589793 0 LINE 8 A 10 -40 20 0 11 40 21 0";
    assert!(read(below).outline.bounds().y1.abs() < 1e-6);
    // A polyline with a bulge over 1, three quarters of a circle of radius 10: tan(270/4 deg) = 2.41421 (DXF reference).
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
    let loop_ =
        "0 SPLINE 8 A 70 8 71 3 72 8 73 4 40 0 40 0 40 0 40 0 40 1 40 1 40 1 40 1 10 0 20 0 10 90 20 0 10 0 20 90 10 0 20 0";
    let cubic = kurbo::CubicBez::new((0.0, 0.0), (90.0, 0.0), (0.0, 90.0), (0.0, 0.0));
    let wanted = kurbo::ParamCurveArea::signed_area(&cubic);
    assert!((area(&read(loop_)) - wanted).abs() < 0.004 * 250.0, "{wanted}");
}

#[test]
fn blocks_are_placed_turned_and_mirrored() {
    let block = "0 SECTION 2 BLOCKS 0 BLOCK 8 0 2 FOOT 70 0 10 1 20 0 0 LWPOLYLINE 8 0 90 3 70 1 10 1 20 0 10 41 20 0 42 0.4142135623730951 10 1 20 40 0 ENDBLK 8 0 0 ENDSEC";
    let with = |insert: &str| {
        let words = format!("0 SECTION 2 HEADER {MM} 0 ENDSEC {block} 0 SECTION 2 ENTITIES {insert} 0 ENDSEC 0 EOF");
        let bytes = words.split_whitespace().map(|word| word.to_owned() + "\n").collect::<String>();
        outline_from_dxf(bytes.as_bytes(), None, None).expect(insert)
    };
    // A quarter disc of radius 40: the block's base point goes to 100, 50.
    let plain = with("0 INSERT 8 CUT 2 foot 10 100 20 50");
    assert!((area(&plain) - 400.0 * PI).abs() < 1e-9 && (plain.outline.bounds().x0 - 100.0).abs() < 1e-9);
    let mirrored = with("0 INSERT 8 CUT 2 FOOT 10 100 20 50 41 -1 50 90");
    let bounds = mirrored.outline.bounds();
    assert!((bounds.x1 - 100.0).abs() < 1e-9 && (bounds.y1 - 50.0).abs() < 1e-9 && (area(&mirrored) - 400.0 * PI).abs() < 1e-9);
    // Twice as wide as high: a quarter of an ellipse.
    assert!((area(&with("0 INSERT 8 CUT 2 FOOT 10 0 20 0 41 2 42 1")) - 800.0 * PI).abs() < 0.01);
    let words = format!(
        "0 SECTION 2 HEADER {MM} 0 ENDSEC {block} 0 SECTION 2 ENTITIES 0 INSERT 8 CUT 2 FOOT 10 0 20 0 70 3 44 50 0 ENDSEC 0 EOF"
    );
    let bytes = words.split_whitespace().map(|word| word.to_owned() + "\n").collect::<String>();
    assert_eq!(outline_from_dxf(bytes.as_bytes(), None, None), Err(ImportProblem::Several { count: 3 }));
}

#[test]
fn units_are_those_of_the_file_or_asked_for() {
    let circle = "0 CIRCLE 8 A 10 0 20 0 40 1";
    for (units, mm) in [("1", 25.4), ("2", 304.8), ("4", 1.0), ("5", 10.0), ("6", 1000.0)] {
        let imported = outline_from_dxf(&file(&format!("9 $INSUNITS 70 {units}"), circle), None, None).expect("a circle");
        assert_eq!(imported.unit_mm, Some(mm));
        assert!((imported.outline.bounds().x1 - mm).abs() < 1e-9);
    }
    for header in ["9 $INSUNITS 70 0", "9 $LTSCALE 40 1"] {
        let unsaid = outline_from_dxf(&file(header, circle), None, Some(LengthUnit::Inch)).expect("a circle");
        assert_eq!(unsaid.unit_mm, None);
        assert!((unsaid.outline.bounds().x1 - 25.4).abs() < 1e-9);
    }
}

#[test]
fn what_is_wrong_with_a_dxf_is_said() {
    let problem = |bytes: &[u8], layer: Option<&str>| outline_from_dxf(bytes, layer, None).expect_err("a bad file");
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
    assert_eq!(problem_open, ImportProblem::NothingClosed { open: 1, gap: Some((Point::new(0.0, 0.25), 0.5)), branch: None });
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
    assert!((area(&outline_from_dxf(&bytes, None, None).expect("one circle is shown")) - PI).abs() < 1e-9);
    assert!((area(&outline_from_dxf(&bytes, Some("Alt"), None).expect("named")) - 2500.0 * PI).abs() < 1e-9);
    assert!((area(&outline_from_dxf(&bytes, Some("außen"), None).expect("named")) - PI).abs() < 1e-9);
    // The same name in a code page of old.
    let latin: Vec<u8> =
        String::from_utf8(bytes).expect("UTF-8").chars().map(|c| u8::try_from(u32::from(c)).expect("Latin-1")).collect();
    assert!((area(&outline_from_dxf(&latin, Some("Außen"), None).expect("named")) - PI).abs() < 1e-9);
}

#[test]
fn svg_sizes_transforms_and_shapes_are_understood() {
    let in_mm = r#"<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="60mm" viewBox="-10 -5 240 120"><rect x="-10" y="-5" width="200" height="100" rx="16"/></svg>"#;
    let plate = svg(in_mm);
    // 100 x 50 mm with corners of 8 mm; its upper left corner is the page's, 60 mm up.
    assert!((area(&plate) - (5000.0 - (4.0 - PI) * 64.0)).abs() < 1e-9, "{}", area(&plate));
    let bounds = plate.outline.bounds();
    assert!(bounds.x0.abs() < 1e-9 && (bounds.y1 - 60.0).abs() < 1e-9 && (bounds.y0 - 10.0).abs() < 1e-9);
    assert_eq!(plate.unit_mm, Some(0.5));
    assert_eq!(plate.outline.sides.len(), 8);
    let in_inches = r#"<svg width="2in" height="1in" viewBox="0 0 2 1"><circle cx="1" cy=".5" r=".5"/></svg>"#;
    assert!((area(&svg(in_inches)) - PI * 12.7 * 12.7).abs() < 1e-9);
    let in_pixels = svg(r#"<svg width="96" height="96"><rect width="48" height="96"/></svg>"#);
    assert!((area(&in_pixels) - 12.7 * 25.4).abs() < 1e-9 && in_pixels.notes.iter().any(|note| note.contains("96")));
    let unsaid = outline_from_svg(r#"<svg viewBox="0 0 9 9"><rect width="2" height="1"/></svg>"#, None, Some(LengthUnit::Inch))
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
    let cut = outline_from_svg(text, Some("cut"), None).expect("named");
    assert!(cut.notes.is_empty() && (area(&cut) - 2000.0).abs() < 1e-9);
    let problem = outline_from_svg(text, Some("outline"), None).expect_err("no such layer");
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
        assert!(outline_from_svg(bad, None, None).is_err(), "{bad}");
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
        (mm(theirs.left()) - bounds.x0).abs() < 6e-3 && (mm(theirs.right()) - bounds.x1).abs() < 6e-3,
        "{theirs:?} {bounds:?}"
    );
    assert!((150.0 - mm(theirs.top()) - bounds.y1).abs() < 6e-3 && (150.0 - mm(theirs.bottom()) - bounds.y0).abs() < 6e-3);
}

/// A linear congruential generator (Numerical Recipes' constants).
struct Dice(u32);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (self.0 >> 8) as usize % n.max(1)
    }
}

/// `bytes` with a few bytes lost, changed, doubled or replaced by hostile words.
fn mangled(bytes: &[u8], dice: &mut Dice) -> Vec<u8> {
    const WORDS: [&str; 12] =
        ["1e308", "-1e308", "NaN", "inf", "0", "-1", "99999999999", "\r\n", "SPLINE", "ELLIPSE", "INSERT", "\u{fffd}"];
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
                let piece: Vec<u8> = mangled[at..(at + dice.below(200)).min(mangled.len())].to_vec();
                mangled.splice(at..at, piece);
            }
            _ => {
                let end = mangled[at..].iter().position(u8::is_ascii_whitespace).map_or(mangled.len(), |n| at + n);
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
    let own = planish::write::dxf(&small, DxfOptions::default()).expect("a sound drawing");
    let old = planish::write::dxf(&small, DxfOptions { version: DxfVersion::R12, unit: DxfUnit::Inch }).expect("a sound drawing");
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
            0 => outline_from_dxf(&mangled(&own, &mut dice), None, None),
            1 => outline_from_dxf(&mangled(&old, &mut dice), Some("OUTSIDE"), None),
            2 => outline_from_dxf(&mangled(&rich, &mut dice), None, Some(LengthUnit::Inch)),
            _ => outline_from_svg(&String::from_utf8_lossy(&mangled(picture, &mut dice)), None, None),
        };
        match result {
            Ok(imported) => {
                assert!(imported.outline.area().is_finite() && imported.outline.length().is_finite(), "round {round}");
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
