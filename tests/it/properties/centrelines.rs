//! Outlines from a line and its widths.

use crate::support::asserts::assert_near;
use crate::support::parts::{half_shell, made, read};
use indoc::formatdoc;

fn rail(width: &str, more: &str) -> String {
    formatdoc!(
        "
        part: rail
        units: mm
        material: 4130-annealed
        thickness: 1.6
        half_shell:
          profile: {{centreline: {{through: [[0, 0], [400, 0]], width: {width}{more}}}}}
          depth: 20
          edge_radius: 4.8
          open_edges: [start, end]
        "
    )
}

/// A straight line with a waist. The width at a place, and the corner at the waist, from the
/// outline.
fn outline(yaml: &str) -> (impl Fn(f64) -> f64 + use<>, f64) {
    let shell = half_shell(yaml);
    let sides = shell.profile.sides.sides.clone();
    let sharpest = (0..sides.len())
        .filter(|i| sides[*i].edge == sides[(*i + 1) % sides.len()].edge)
        .map(|i| {
            let (a, b) = (
                sides[i].segment.tangent_at(1.0),
                sides[(i + 1) % sides.len()].segment.tangent_at(0.0),
            );
            a.cross(b).atan2(a.dot(b)).abs().to_degrees()
        })
        .fold(0.0, f64::max);
    let outline = shell.profile.sides.to_polyarc(1e-4);
    let width = move |x: f64| {
        let heights = planish::geom::Loop::of(&outline, None).heights_at(x);
        heights[heights.len() - 1] - heights[0]
    };
    (width, sharpest)
}

/// The monotone cubic through 70, 40, 70 at 0, 200, 400 has slope 0 at the waist (F. N. Fritsch and
/// R. E. Carlson) and by its three-point end slope -0.3 at 0: half-way to the waist 55 + 200/8 ·
/// (-0.3 - 0) = 47.5. Straight, it is 55, with a kink of 2 atan(0.075).
#[test]
fn widths_run_smoothly_through_their_stations_unless_asked_straight() {
    let stations = "[{at: 0, width: 70}, {at: 200, width: 40}, {at: end, width: 70}]";
    let (width, sharpest) = outline(&rail(stations, ""));
    for (x, wanted) in [(0.5, 69.85), (100.0, 47.5), (200.0, 40.0), (300.0, 47.5)] {
        assert_near("smooth width", width(x), wanted, 0.02);
    }
    assert!(sharpest < 0.01, "{sharpest}");
    let (width, sharpest) = outline(&rail(stations, ", between: straight"));
    assert_near("straight width", width(100.0), 55.0, 1e-6);
    assert_near("kink", sharpest, 2.0 * 0.075_f64.atan().to_degrees(), 1e-6);
}

/// Anything up to 0.5 mm beyond the end is the end; more is off the part.
#[test]
fn a_station_a_hair_beyond_the_end_stands_at_the_end() {
    let at = |place: &str| rail(&format!("[{{at: 0, width: 60}}, {{at: {place}, width: 40}}]"), "");
    for place in ["end", "400", "400.5", "399.6"] {
        let (width, _) = outline(&at(place));
        assert_near(place, width(399.999), 40.0, 0.01);
    }
    let why = read(&at("400.6")).expect_err("off the part");
    assert!(why.contains("off the part"), "{why}");
    let depth = |place: &str| {
        rail("60", "").replace(
            "  depth: 20",
            &format!("  depth: {{stations: [{{at: 0, depth: 30}}, {{at: {place}, depth: 20}}]}}"),
        )
    };
    assert!(
        read(&depth("end")).is_ok()
            && read(&depth("400.4")).is_ok()
            && read(&depth("402")).is_err()
    );
}

/// Rails with a slight waist, from none to one of two degrees a side: smooth through its station,
/// each has its blank.
#[test]
fn slight_waists_of_every_angle_have_a_blank() {
    for degrees in [0.0, 0.05, 0.1, 0.3, 0.5, 0.9, 2.0_f64] {
        let wide = 60.0 + 200.0 * degrees.to_radians().tan();
        let yaml = rail(
            &format!(
                "[{{at: 0, width: {wide:.9}}}, {{at: 200, width: 60}}, {{at: end, width: {wide:.9}}}]"
            ),
            "",
        );
        let net = made(&yaml).flat.net;
        // Highest at its ends, where it is as wide as an even rail of that width.
        let bounds = net.bounds();
        assert_near("length", bounds.width(), 400.0, 0.5);
        let plain = made(&rail(&format!("{wide:.9}"), "")).flat.net.bounds().height();
        assert_near("height", bounds.height(), plain, 0.2);
    }
}
