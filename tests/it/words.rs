//! What is said of a part, so that nobody cuts or bends it wrong: which face is up, what the block
//! is glued up of, which cautions apply.

use indoc::indoc;
use planish::buck::BuckSet;
use planish::drawing::{blank_drawing, buck_drawing, height_words, seen_face};
use planish::page::{Drawing, Shape};
use planish::report::{cautions_of, joined_cautions, kerf_words};
use planish::shop::material::{Hazard, Material};
use planish::shop::material_override::MaterialOverride;
use planish::units::LengthUnit;

use crate::support::parts::{made_in, part_and_made};

fn texts(drawing: &Drawing) -> Vec<String> {
    let labels = drawing.marks.iter().filter_map(|mark| match &mark.shape {
        Shape::Text { text, .. } => Some(text.clone()),
        _ => None,
    });
    labels.chain(drawing.captions.iter().cloned()).collect()
}

fn says(drawing: &Drawing, words: &str) -> bool {
    texts(drawing).iter().any(|text| text.contains(words))
}

fn abouts(yaml: &str) -> Vec<&'static str> {
    let (part, made) = part_and_made(yaml);
    cautions_of(&part, Some(&made.flat), made.bending.as_ref(), &made.findings)
        .iter()
        .map(|caution| caution.about)
        .collect()
}

const SHELL: &str = indoc!("
    part: shell
    units: mm
    material: 4130-annealed
    thickness: 1.6
    half_shell:
      profile: {path: [[0, 0], {to: [200, 0], edge: bottom}, {to: [200, 80], edge: tail}, {to: [0, 80], edge: top}, {to: [0, 0], edge: head}]}
      depth: 20
      edge_radius: 4.8
      open_edges: [head, tail]
      trim: 6
    ");
const TRAY: &str = indoc!(
    "
    part: tray
    units: mm
    material: 6061-o
    thickness: 1.6
    folded:
      radius: 3.2
      panel: {profile: {rectangle: {size: [200, 120]}}}
      flanges:
        - {edge: bottom, bend: 90, height: 30}
        - {edge: right, bend: 90, height: 30}
        - {edge: top, bend: 90, height: 30}
        - {edge: left, bend: 90, height: 30}
    "
);
const ANGLE: &str = indoc!(
    "
    part: angle
    units: mm
    material: 1018
    thickness: 1.6
    bent: {radius: 3.2, section: [{leg: 60}, {bend: 90}, {leg: 40}], depth: 200}
    "
);
const STRAP: &str = indoc!(
    "
    part: strap
    units: mm
    material: 1018
    thickness: 1.6
    bent: {radius: 3.2, section: [{leg: 60}, {joggle: {over: 1.6, clearance: 0.2, angle: 30, radius: 3.2}}, {leg: 60}], depth: 30}
    "
);
const PLATE: &str = indoc!(
    "
    part: plate
    units: mm
    material: 1018
    thickness: 1.6
    plate: {profile: {rectangle: {size: [100, 60]}}}
    "
);
const LIPPED: &str = indoc!(
    "
    part: lipped
    units: mm
    material: 4130-annealed
    thickness: 1.6
    plate:
      profile: {rectangle: {size: [100, 60]}}
      openings: [{circle: {diameter: 32, at: [0, 0]}, lip: {height: 5, radius: 2.4, angle: 45}}]
    "
);

/// A bend up turns the metal toward you: the face that is up when the blank is read ends up inside,
/// so it is not "out".
#[test]
fn the_face_that_is_up_is_said_to_be_out_on_shells_alone() {
    for yaml in [TRAY, ANGLE, LIPPED] {
        let (part, made) = part_and_made(yaml);
        let drawing = blank_drawing(&part, &made.flat, &[], false);
        assert!(says(&drawing, "upper face, this side up"), "{:?}", texts(&drawing));
        assert!(says(&drawing, "seen from its upper face"), "{:?}", texts(&drawing));
        assert!(
            !says(&drawing, "side out") && !says(&drawing, "outer side"),
            "{:?}",
            texts(&drawing)
        );
        assert_eq!(seen_face(&part), "upper face");
    }
    let (part, made) = part_and_made(SHELL);
    let drawing = blank_drawing(&part, &made.flat, &[], false);
    assert!(says(&drawing, "hammered side, this side out"), "{:?}", texts(&drawing));
}

/// A tool offset is half the kerf; many controls ask for its width instead, so both figures are
/// named.
#[test]
fn both_ways_to_enter_a_kerf_are_named() {
    let words = kerf_words(false, 1.4);
    assert!(
        words.contains("kerf width 1.4 mm")
            && words.contains("an offset of 0.7 mm")
            && words.contains("once only"),
        "{words}"
    );
    assert!(kerf_words(true, 1.4).contains("set no offset"));
}

/// Three boards of 18 mm are 54 mm high, not 44.4: they are planed.
#[test]
fn a_block_is_glued_up_and_planed_to_its_height() {
    let (part, made) = part_and_made(SHELL);
    let buck = made.buck.as_ref().expect("a buck");
    let with = |height: f64, layer: f64, layers: usize| {
        height_words(LengthUnit::Millimetre, &BuckSet { height, layer, layers, ..buck.clone() })
    };
    let words = with(44.4, 18.0, 3);
    assert!(
        words.contains("glue up 3 boards of 18 mm") && words.contains("and plane to height"),
        "{words}"
    );
    assert!(!with(54.0, 18.0, 3).contains("plane"));
    assert!(with(17.0, 18.0, 1).contains("plane one board"));
    let drawing = buck_drawing(&part, buck, false);
    assert!(!says(&drawing, "that is"), "{:?}", texts(&drawing));
}

/// An undercut that the file gives comes from no calculation, and no drawing names a person.
#[test]
fn an_undercut_that_was_given_is_not_said_to_be_springback() {
    for (undercut, calculated) in [("auto", true), ("3", false)] {
        let (part, made) = part_and_made(&format!("{SHELL}buck: {{undercut: {undercut}}}\n"));
        let drawing = buck_drawing(&part, made.buck.as_ref().expect("a buck"), false);
        assert_eq!(says(&drawing, "by calculation"), calculated, "{:?}", texts(&drawing));
        assert!(says(&drawing, "Undercut the walls") && !says(&drawing, "Gardiner"));
    }
}

/// Stations bear the unit of their file: 2 in is 50.8 mm.
#[test]
fn stations_of_an_inch_file_are_named_in_inches() {
    let yaml = SHELL
        .replace("units: mm", "units: in")
        .replace("200", "8")
        .replace("80", "3")
        .replace("1.6", "0.063");
    let yaml = yaml
        .replace("depth: 20", "depth: 0.8")
        .replace("4.8", "0.19")
        .replace("trim: 6", "trim: 0.25");
    let (_, made) = part_and_made(&format!("{yaml}buck: {{stations: 2}}\n"));
    let names: Vec<&str> = made.stations().iter().map(|station| station.name.as_str()).collect();
    assert!(names.contains(&"S2 in") && names.contains(&"S4 in"), "{names:?}");
}

/// A crowned face is not level, though the seam has one depth all round.
#[test]
fn one_depth_is_one_figure() {
    let yaml = SHELL.replace("  open_edges: [head, tail]\n", "  crown: 4\n").replace(
        "path: [[0, 0], {to: [200, 0], edge: bottom}, {to: [200, 80], edge: tail}, {to: [0, 80], edge: top}, {to: [0, 0], edge: head}]",
        "rectangle: {size: [200, 120], corner_radius: 40}",
    );
    let (part, made) = part_and_made(&yaml);
    let drawing = blank_drawing(&part, &made.flat, &[], false);
    assert!(
        says(&drawing, "20 mm from the outer face") && !says(&drawing, "20 to 20"),
        "{:?}",
        texts(&drawing)
    );
}

#[test]
fn a_shops_own_metal_keeps_the_hazards_of_what_it_is_like() {
    let shop = indoc!(
        "
        materials:
          shop moly: {like: 4130-annealed}
          galvanised: {like: dc04, hazards: [zinc]}
        "
    );
    let about = |yaml: &str| -> Vec<&str> {
        let (part, made) = made_in(shop, yaml);
        cautions_of(&part, Some(&made.flat), made.bending.as_ref(), &made.findings)
            .iter()
            .map(|caution| caution.about)
            .collect()
    };
    let shell = about(
        &SHELL
            .replace("4130-annealed", "shop moly")
            .replace("  trim: 6\n", "  trim: 6\n  pair: mirror\n"),
    );
    for hazard in [
        "chromium steel",
        "welding chromium-molybdenum steel",
        "welding",
        "tanks",
        "closed cavities",
    ] {
        assert!(shell.contains(&hazard), "{hazard}: {shell:?}");
    }
    let plate = about(&PLATE.replace("1018", "galvanised"));
    assert!(plate.contains(&"zinc coating") && !plate.contains(&"chromium steel"), "{plate:?}");
    // Fields of the materials, not parts of their names.
    let moly = Material::named("4130-annealed")
        .expect("built in")
        .like_this("CrMo", &MaterialOverride::default())
        .expect("sound");
    assert_eq!(moly.hazards, [Hazard::Chromium, Hazard::ChromiumMolybdenum]);
}

/// Each caution stands where it applies and nowhere else.
#[test]
fn cautions_come_with_what_they_are_about() {
    let (tray, angle, strap, plate, lipped) =
        (abouts(TRAY), abouts(ANGLE), abouts(STRAP), abouts(PLATE), abouts(LIPPED));
    for (list, has, has_not) in [
        // Its corners are welded shut, of aluminium.
        (
            &tray,
            vec!["the brake", "welding", "light metal"],
            vec!["hammering", "zinc coating", "chromium steel", "tanks"],
        ),
        (
            &angle,
            vec!["the brake"],
            vec!["welding", "hammering", "light metal", "zinc coating", "titanium fines"],
        ),
        // Pressed in a block: no brake touches it.
        (&strap, vec!["hammering"], vec!["the brake", "welding"]),
        (&plate, vec!["plasma cutting", "sheet edges"], vec!["the brake", "welding", "hammering"]),
        (&lipped, vec!["hammering", "chromium steel"], vec!["the brake", "making the buck"]),
    ] {
        assert!(has.iter().all(|about| list.contains(about)), "{has:?} of {list:?}");
        assert!(
            !has_not.iter().any(|about| list.contains(about)),
            "none of {has_not:?} in {list:?}"
        );
        assert_eq!((list[0], list.last()), ("structure", Some(&"before all of this")));
    }
    let all = joined_cautions([TRAY, ANGLE, PLATE].map(|yaml| {
        let (part, made) = part_and_made(yaml);
        cautions_of(&part, Some(&made.flat), made.bending.as_ref(), &made.findings)
    }));
    let closing = all.iter().filter(|caution| caution.about == "before all of this").count();
    assert_eq!((closing, all.last().map(|caution| caution.about)), (1, Some("before all of this")));
}
