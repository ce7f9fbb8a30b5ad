//! Joggles against the closed form of an offset line, and against the two bends that they stand
//! for.

use indoc::formatdoc;
use planish::finding::{Finding, Rule};

use crate::support::asserts::assert_near;
use crate::support::dice::Dice;
use crate::support::parts::made;

fn strap(thickness: f64, dims: &str, middle: &str) -> String {
    formatdoc!(
        "
        part: strap
        units: mm
        material: dc04
        thickness: {thickness:.12}
        bend_allowance: {{k_factor: 0.42}}
        bent:
          dims: {dims}
          depth: 30
          section: [{{leg: 60}}, {middle}, {{leg: 50}}]
        "
    )
}

/// A joggle of 2 mm at 30 degrees in 1.8 mm sheet over its own thickness as radius, K 0.42: run
/// 4.9, metal over the run 0.32. The figures are from the trade notes, computed there from the same
/// geometry; they have no other source.
#[test]
fn a_joggle_for_a_lap_has_the_run_and_the_metal_of_the_trade_notes() {
    let made = made(&strap(1.8, "flat", "{joggle: {offset: 2, angle: 30, radius: 1.8}}"));
    let tree = made.flat.tree.as_ref().expect("bends");
    let folding = tree.folded();
    let first = folding.on_face(0, tree.bends[0].parent_line[0], 0.0);
    let second = folding.on_face(2, tree.bends[1].child_line[0], 0.0);
    let run = second[0] - first[0];
    assert_near("offset", second[2] - first[2], 2.0, 1e-9);
    assert_near("run", run, 4.9, 0.05);
    assert_near("metal", made.flat.outside.bounds().width() - 110.0 - run, 0.32, 0.005);
}

/// Any joggle, either way: offset as asked, run = d/tan a + (2 R + T) tan(a/2), and the blank of
/// the two bends written out. Closed form: tangents of an offset line, derived by hand.
#[test]
fn any_joggle_is_an_offset_line() {
    let mut dice = Dice(81);
    for round in 0..200 {
        let (thickness, radius) = (dice.between(0.6, 3.0), dice.between(0.3, 5.0));
        let angle = dice.between(3.0, 90.0);
        let a = f64::to_radians(angle);
        let around = 2.0 * radius + thickness;
        let sign = if round % 2 == 0 { 1.0 } else { -1.0 };
        let offset = around * (1.0 - a.cos()) + dice.between(0.5, 20.0);
        let dims = ["outside", "inside", "flat", "edge"][round % 4];
        let yaml = strap(
            thickness,
            dims,
            &format!(
                "{{joggle: {{offset: {:.12}, angle: {angle:.12}, radius: {radius:.12}}}}}",
                sign * offset
            ),
        );
        let joggled = made(&yaml);
        let tree = joggled.flat.tree.as_ref().expect("bends");
        let folding = tree.folded();
        let first = folding.on_face(0, tree.bends[0].parent_line[0], 0.0);
        let second = folding.on_face(2, tree.bends[1].child_line[0], 0.0);
        assert_near("offset", second[2] - first[2], sign * offset, 1e-6);
        assert_near("run", second[0] - first[0], offset / a.tan() + around * (a / 2.0).tan(), 1e-6);
        // As two bends: the slope is the leg between them.
        let slope = (offset - around * (1.0 - a.cos())) / a.sin();
        let reach = (a / 2.0).tan()
            * if dims == "flat" {
                0.0
            } else if dims == "inside" {
                radius
            } else {
                radius + thickness
            };
        let angle = sign * angle;
        let two = made(&strap(
            thickness,
            dims,
            &format!(
                "{{bend: {angle:.12}, radius: {radius:.12}}}, {{leg: {:.12}}}, {{bend: {:.12}, radius: {radius:.12}}}",
                slope + 2.0 * reach + 1e-9,
                -angle
            ),
        ));
        assert_near(
            "blank",
            joggled.flat.outside.bounds().width(),
            two.flat.outside.bounds().width(),
            1e-6,
        );
    }
}

/// A joggled flange is the same blank as the joggled section.
#[test]
fn a_flange_behind_a_joggle_is_the_blank_of_the_section() {
    for dims in ["outside", "inside", "flat"] {
        let bent = made(&strap(1.5, dims, "{joggle: {over: 1.5, angle: 45, radius: 2}}"));
        let folded = made(&formatdoc!(
            "
            part: strap
            units: mm
            material: dc04
            thickness: 1.5
            bend_allowance: {{k_factor: 0.42}}
            folded:
              dims: {dims}
              panel: {{profile: {{rectangle: {{size: [60, 30]}}}}}}
              flanges: [{{edge: right, joggle: {{over: 1.5, angle: 45, radius: 2}}, height: 50}}]
            "
        ));
        assert_near(
            "width",
            folded.flat.outside.bounds().width(),
            bent.flat.outside.bounds().width(),
            1e-9,
        );
        let angles = |made: &planish::make::MadePart| {
            made.flat.bends.iter().map(|bend| bend.up).collect::<Vec<_>>()
        };
        assert_eq!(angles(&folded), angles(&bent));
        let tree = folded.flat.tree.as_ref().expect("bends");
        let z = tree.folded().on_face(2, tree.bends[1].child_line[0], 0.0)[2];
        assert_near("over 1.5 and 0.2 of play", z, 1.7, 1e-9);
    }
}

/// A small joggle is for a block, whatever the dies; a large one is two bends on the brake.
#[test]
fn a_joggle_too_near_for_the_dies_is_pressed_in_a_block() {
    let made_at = |offset: f64| {
        made(&strap(
            1.5,
            "outside",
            &format!("{{joggle: {{offset: {offset}, angle: 45, radius: 2}}}}"),
        ))
    };
    let verdict = |made: &planish::make::MadePart, rule: Rule| {
        made.findings.iter().filter(|f| f.rule == rule).map(Finding::is_ok).collect::<Vec<_>>()
    };
    let (small, large) = (made_at(2.0), made_at(30.0));
    assert_eq!(verdict(&small, Rule::JoggleSlope), [false]);
    assert_eq!(verdict(&large, Rule::JoggleSlope), [true]);
    // The slope is told of once: not as a short leg, nor as a part without an order.
    assert!(verdict(&small, Rule::LegLength).iter().all(|ok| *ok));
    assert_eq!(verdict(&small, Rule::BendOrder), [true]);
    let steps =
        |made: &planish::make::MadePart| made.bending.as_ref().expect("bends").steps().len();
    assert_eq!((steps(&small), steps(&large)), (0, 2));
}
