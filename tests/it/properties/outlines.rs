//! Outlines of many tiny sides: whether they cross or touch themselves, held to another geometry
//! library, and descriptions of them.

use std::f64::consts::TAU;

use geo::Validation;
use indoc::formatdoc;
use planish::geom::{Point, Polyarc, Vec2, self_crossing};

use crate::support::dice::Dice;
use crate::support::parts::{Files, made};

/// What `geo` says of the ring: whether it is simple.
fn is_simple(points: &[Point]) -> bool {
    let ring: Vec<(f64, f64)> = points.iter().map(|p| (p.x, p.y)).collect();
    geo::Polygon::new(geo::LineString::from(ring), Vec::new()).is_valid()
}

/// A ring that every ray from the origin crosses once, its sides some hundredths of a millimetre
/// long and uneven.
fn star(dice: &mut Dice, count: u32) -> Vec<Point> {
    let mean = f64::from(count) * 0.04 / TAU;
    let waves: Vec<(f64, f64, f64)> = (2..9)
        .map(|k| (f64::from(k), 0.08 * dice.between(0.0, 1.0) * mean, TAU * dice.between(0.0, 1.0)))
        .collect();
    let angles: Vec<f64> = (0..count)
        .map(|i| (f64::from(i) + dice.between(0.0, 0.9)) / f64::from(count) * TAU)
        .collect();
    let rough = 0.02 * dice.between(0.0, 1.0);
    let at = |angle: f64, dice: &mut Dice| {
        let radius = mean
            + waves
                .iter()
                .map(|(k, height, phase)| height * (k * angle + phase).sin())
                .sum::<f64>();
        Point::ORIGIN + Vec2::from_angle(angle) * (radius + rough * dice.between(0.0, 1.0))
    };
    angles.into_iter().map(|angle| at(angle, dice)).collect()
}

#[test]
fn rings_of_tiny_sides_are_simple_or_not_as_another_library_says() {
    let mut dice = Dice(15);
    let (mut sound, mut crossed) = (0, 0);
    for round in 0..60 {
        let count: u32 = 200 + 20 * round;
        let mut points = star(&mut dice, count);
        let any = |dice: &mut Dice| dice.whole(0, count - 1) as usize;
        match round % 4 {
            // Two points change places: near each other, then anywhere.
            1 => {
                let i = dice.whole(0, count - 3) as usize;
                points.swap(i, i + 1 + (round / 4 % 2) as usize);
            }
            2 => {
                let (i, k) = (any(&mut dice), any(&mut dice));
                points.swap(i, k);
            }
            // A point moves onto another, which the ring then touches.
            3 => {
                let (i, k) = (any(&mut dice), any(&mut dice));
                let other = if i.abs_diff(k) < 2 { k + 5 } else { k };
                points[i] = points[other % points.len()];
            }
            _ => {}
        }
        let simple = is_simple(&points);
        let found = self_crossing(&Polyarc::polygon(points));
        assert_eq!(found.is_none(), simple, "round {round}: {found:?}");
        if simple { sound += 1 } else { crossed += 1 }
    }
    assert!(sound >= 15 && crossed >= 30, "{sound} {crossed}");
}

/// A regular polygon of n corners at radius r has the area n r^2 sin(2 pi / n) / 2.
#[test]
fn a_plate_of_five_thousand_sides_is_made() {
    for (count, radius) in [(5000_u32, 40.0), (5000, 16.0), (3000, 200.0)] {
        let corner = |i: u32| {
            let (sin, cos) = (f64::from(i) / f64::from(count) * TAU).sin_cos();
            format!("[{:.9}, {:.9}]", radius * cos, radius * sin)
        };
        let path: Vec<String> = (0..count).map(corner).collect();
        let yaml = formatdoc!(
            "
                part: disc
                units: mm
                material: 1008
                thickness: 1
                plate: {{profile: {{path: [{}]}}}}
                ",
            path.join(", ")
        );
        let area = made(&yaml).flat.outside.area();
        let wanted = f64::from(count) * radius * radius * (TAU / f64::from(count)).sin() / 2.0;
        // Sides under 0.05 mm are joined; each then cuts off less than its own rise.
        assert!((area - wanted).abs() < 1e-5 * wanted, "{count} at {radius}: {area} {wanted}");
    }
}

#[test]
fn a_drawing_without_a_unit_takes_that_of_the_part_and_says_so() {
    let dxf = |header: &str| {
        let words = format!(
            "0 SECTION 2 HEADER {header} 0 ENDSEC 0 SECTION 2 ENTITIES 0 CIRCLE 8 A 10 0 20 0 40 1 0 ENDSEC 0 EOF"
        );
        words.replace(' ', "\n")
    };
    let svg = |size: &str| format!("<svg {size} viewBox=\"0 0 9 9\"><circle r=\"1\"/></svg>");
    let read = |name: &str, drawing: &str, more: &str| {
        let yaml = formatdoc!(
            "
            part: disc
            units: in
            material: 1008
            thickness: 0.06
            plate: {{profile: {{file: {{name: {name}{more}}}}}}}
            "
        );
        let files = Files(&[(name, drawing)]);
        let part = planish::describe::read_part("part.yaml", yaml.into_bytes(), None, &files)
            .expect(drawing);
        let planish::part::Kind::Plate(plate) = &part.kind else { panic!("a plate") };
        let row = part
            .assumed
            .iter()
            .find(|row| row.key == "file.units")
            .map(|row| (row.value.clone(), row.why.clone()));
        (plate.profile.sides.bounds().width(), row)
    };
    for (name, drawing) in [
        ("a.dxf", dxf("9 $LTSCALE 40 1")),
        ("a.dxf", dxf("9 $INSUNITS 70 0")),
        ("a.svg", svg("")),
        ("a.svg", svg("width=\"100%\"")),
    ] {
        let (width, row) = read(name, &drawing, "");
        let (value, why) = row.expect("listed");
        assert!(
            (width - 50.8).abs() < 1e-9
                && value == "in"
                && why.contains("does not say")
                && why.contains("units: in"),
            "{why}"
        );
        // Once it is said, there is nothing to assume.
        let (width, row) = read(name, &drawing, ", units: cm, scale: 3");
        assert!((width - 60.0).abs() < 1e-9 && row.is_none(), "{width}");
    }
    for (name, drawing) in [("a.dxf", dxf("9 $INSUNITS 70 4")), ("a.svg", svg("width=\"9mm\""))] {
        let (width, row) = read(name, &drawing, "");
        assert!((width - 2.0).abs() < 1e-9 && row.is_none(), "{width}");
    }
}
