//! Whole parts from their description to their flat, against worked examples.
//!
//! Three kinds of number: printed ones (FAA-H-8083-31 chapter 4, DIN 6935 in a German table book,
//! Machinery's Handbook 31, p. 1421), and, so marked, sizes of the demo parts, which were derived
//! beside the program from BA = N (R + K T), SB = (R + T) tan(N/2).

use crate::support::asserts::assert_near;
use crate::support::parts::made;
use indoc::{formatdoc, indoc};
use planish::finding::Rule;

/// Flats between the bend zones, mm, from the drawing's own lines.
fn flats(yaml: &str) -> (f64, Vec<f64>) {
    let flat = made(yaml).flat;
    let mut zones: Vec<f64> = flat.bend_zones.iter().map(|zone| zone[0].from().x).collect();
    let bounds = flat.outside.bounds();
    zones.insert(0, bounds.x0);
    zones.push(bounds.x1);
    (bounds.width(), zones.chunks_exact(2).map(|pair| pair[1] - pair[0]).collect())
}

/// The U-channel: 0.040 in, legs 1.00, 2.00, 1.00 in to the mould lines, R 0.16 in. Flats read
/// there (0.8, 1.6, 0.8). The width is worked out by hand from the book's formula (from memory);
/// the book's own 3.74 in takes each allowance as 0.27, that of R 5/32.
#[test]
fn faa_u_channel() {
    let yaml = |radius: &str| {
        formatdoc!(
            "
            part: channel
            units: in
            material: 6061-t6
            thickness: 0.040
            bend_allowance: faa
            bent:
              radius: {radius}
              section:
                - leg: 1
                - bend: 90
                - leg: 2
                - bend: 90
                - leg: 1
              depth: 4
            "
        )
    };
    let (width, all) = flats(&yaml("0.16"));
    for (flat, printed) in all.iter().zip([0.8, 1.6, 0.8]) {
        assert_near("flat", flat / 25.4, printed, 0.0005);
    }
    assert_near("width at R 0.16", width / 25.4, 3.758, 0.0005);
    // 0.8 + 1.6 + 0.8 and two allowances of (0.01743 · 0.16 + 0.0078 · 0.040) · 90.
    assert_near("width at R 0.16", width / 25.4, 3.2 + 2.0 * 0.279_072, 1e-9);
    // With R 5/32 throughout: flats 1 - 0.19625, 2 - 2 · 0.19625, and the chart's allowance of
    // 0.273 (from memory; 0.27319 by formula).
    let (width, all) = flats(&yaml("5/32"));
    assert_near("width at R 5/32", width / 25.4, 3.215 + 2.0 * 0.273, 0.002);
    assert_near("middle flat", all[1] / 25.4, 1.6075, 1e-9);
}

/// DIN 6935, worked example: opening angle 60, legs 16 and 21 to the outer tangents, r 6, s 5. The
/// page prints v = 5.77 with k = 0.7 off the diagram and L = 31.23; with k from the standard's
/// formula L is 31.177 (worked out by hand).
#[test]
fn din_sharp_bend_measured_to_its_outer_tangents() {
    let yaml = |rule: &str| {
        formatdoc!(
            "
            part: clip
            units: mm
            material: dc04
            thickness: 5
            bend_allowance: {rule}
            bent:
              dims: edge
              radius: 6
              section:
                - leg: 16
                - bend: 120
                - leg: 21
              depth: 40
            "
        )
    };
    assert_near("L", flats(&yaml("din-6935")).0, 31.177, 0.0005);
    // k = 0.7 is a K-factor of 0.35.
    assert_near("L with k 0.7", flats(&yaml("{k_factor: 0.35}")).0, 31.23, 0.005);
}

/// Machinery's Handbook 31, p. 1421, figure 13: soft steel 1/8 in thick, half a turn on a radius of
/// 3/8 in takes 1.338 in. Read there. Here by two bends of 90 degrees with nothing flat between
/// them.
#[test]
fn handbook_half_turn_by_two_bends() {
    let yaml = indoc!(
        "
        part: strap
        units: in
        material: 1018
        thickness: 0.125
        bend_allowance: {handbook: 0.64}
        bent:
          dims: flat
          radius: 3/8
          section:
            - leg: 1
            - bend: 90
            - leg: 0.001
            - bend: 90
            - leg: 1
          depth: 2
        "
    );
    assert_near("half a turn", flats(yaml).0 / 25.4 - 2.001, 1.338, 0.001);
}

/// Demo bracket: L of 62 and 38, 2.54 thick, r 3.2: flat 95.2, deduction 4.78; the slot whose near
/// edge is 8 from the mould line lies 8 - 4.78/2 from the middle of the bend. Derived numbers, not
/// published.
#[test]
fn derived_exhaust_bracket() {
    let yaml = indoc!(
        "
        part: bracket
        units: mm
        material: 304
        thickness: 2.54
        bend_allowance: {k_factor: 0.42}
        bent:
          radius: 3.2
          section:
            - leg: 62
            - bend: 90
            - leg: 38
              openings: [{slot: {length: 22, width: 8.5, at: [19, 30]}}]
          depth: 60
        "
    );
    let flat = made(yaml).flat;
    assert_near("flat", flat.outside.bounds().width(), 95.2, 0.05);
    assert_near("deduction", flat.bends[0].developed.deduction.mm(), 4.78, 0.005);
    // Along the leg the slot is 22 long about 19: it starts 8 from the mould line.
    assert_near(
        "slot",
        flat.openings[0].bounds().x0 - flat.bends[0].line[0].x,
        8.0 - 4.78 / 2.0,
        0.005,
    );
    // The bend zone ends at 5.74 from the mould line, the slot's edge is 2.3 from it (2.26
    // unrounded).
    let finding =
        made(yaml).findings.into_iter().find(|f| f.rule == Rule::OpeningToBend).expect("a finding");
    assert_near("slot to bend", finding.measured.expect("figures").value, 2.3, 0.05);
    assert!(!finding.is_ok());
}

/// Demo hat: 18, 25, 30, 25, 18 with 1.6 mm and r 2.4: deduction 3.17, flat 103.3. The feet are
/// measured from the leg's inner face, which is their outside mould line, and the height of 25 lies
/// between the mould lines of its two bends. Derived numbers, not published.
#[test]
fn derived_hat() {
    let yaml = indoc!(
        "
        part: hat
        units: mm
        material: 4130-annealed
        thickness: 1.6
        bend_allowance: {k_factor: 0.42}
        bent:
          radius: 2.4
          section:
            - leg: 18
            - bend: 90
            - leg: 25
            - bend: -90
            - leg: 30
            - bend: -90
            - leg: 25
            - bend: 90
            - leg: 18
          depth: 340
        "
    );
    let flat = made(yaml).flat;
    assert_near("deduction", flat.bends[0].developed.deduction.mm(), 3.17, 0.005);
    assert_near("flat", flat.outside.bounds().width(), 103.3, 0.05);
    assert_eq!(
        flat.bends.iter().map(|bend| bend.up).collect::<Vec<_>>(),
        [true, false, false, true]
    );
}

/// Demo tray, its long section: inward returns of 12, walls of 48, a base of 265 in 1.803 mm, r
/// 3.2: deduction 3.79 (a derived number). The flat over the short section is 369.8, that over the
/// long one 498.4.
#[test]
fn derived_tray_sections() {
    let head = indoc!(
        "
        units: mm
        material: 4130-annealed
        thickness: 1.803
        bend_allowance: {k_factor: 0.42}
        "
    );
    let long = formatdoc!(
        "
        part: tray, long
        {head}bent:
          radius: 3.2
          section: [{{leg: 48}}, {{bend: 90}}, {{leg: 410}}, {{bend: 90}}, {{leg: 48}}]
          depth: 100
        "
    );
    let flat = made(&long).flat;
    assert_near("deduction", flat.bends[0].developed.deduction.mm(), 3.79, 0.005);
    assert_near("flat", flat.outside.bounds().width(), 498.4, 0.05);
    let short = formatdoc!(
        "
        part: tray, short
        {head}bent:
          radius: 3.2
          section: [{{leg: 12}}, {{bend: 90}}, {{leg: 48}}, {{bend: 90}}, {{leg: 265}}, {{bend: 90}}, {{leg: 48}}, {{bend: 90}}, {{leg: 12}}]
          depth: 100
        "
    );
    assert_near("flat", made(&short).flat.outside.bounds().width(), 369.8, 0.05);
}
