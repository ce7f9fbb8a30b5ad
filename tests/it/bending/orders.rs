//! Orders of folded parts: boxes with returns, lugs in one line, hems, parts that cannot be made.

use std::f64::consts::{FRAC_PI_4, FRAC_PI_6};
use std::fmt::Write as _;

use indoc::{formatdoc, indoc};
use planish::bending::{ANGLES_FROM_FLAT, plan_bending, step_second_hit, step_words};
use planish::drawing::bend_order_page;
use planish::finding::Rule;
use planish::make::MadePart;
use planish::page::Item;
use planish::part::Part;

use super::{bending, findings, order_of, steps};
use crate::support::asserts::assert_near;
use crate::support::parts::{made, made_in, part_and_made};
use crate::support::trays;

/// A box with walls all round and inward returns on the named edges.
fn tray(size: [f64; 2], height: f64, width: f64, on: &[&str]) -> String {
    let mut text = formatdoc!(
        "
        part: box
        units: mm
        material: 4130-annealed
        thickness: 1.6
        folded:
          radius: 3.2
          panel:
            profile: {{rectangle: {{size: [{}, {}]}}}}
          flanges:
        ",
        size[0],
        size[1]
    );
    for edge in ["bottom", "right", "top", "left"] {
        let own = if on.contains(&edge) {
            format!(", flanges: [{{edge: outer, bend: 90, height: {width}}}]")
        } else {
            String::new()
        };
        writeln!(text, "    - {{edge: {edge}, bend: 90, height: {height}{own}}}")
            .expect("a string takes all");
    }
    text
}

/// Trays of up to 16 bends with returns and lugs are ordered, returns before their walls.
#[test]
fn trays_with_returns_and_lugs_are_ordered() {
    for bends in [4, 8, 12, 16] {
        let tray = made(&trays::lugged(bends));
        let order = order_of(&tray);
        assert_eq!(order.len(), bends, "{order:?}");
        for outer in order.iter().filter(|name| name.ends_with("/outer")) {
            assert!(
                place(&order, outer) < place(&order, outer.trim_end_matches("/outer")),
                "{order:?}"
            );
        }
    }
}

fn place(order: &[String], name: &str) -> usize {
    order.iter().position(|step| step == name).unwrap_or_else(|| panic!("{name} in {order:?}"))
}

#[test]
fn returns_come_before_the_walls_they_stand_on_and_short_ends_last() {
    let tray = made(&tray([410.0, 265.0], 48.0, 12.0, &["bottom", "top"]));
    let order = order_of(&tray);
    assert_eq!(order.len(), 6);
    assert!(place(&order, "bottom/outer") < place(&order, "bottom"), "{order:?}");
    assert!(place(&order, "top/outer") < place(&order, "top"), "{order:?}");
    assert!(place(&order, "left") >= 4 && place(&order, "right") >= 4, "{order:?}");
    assert!(steps(&tray).iter().all(|step| !step.turn_over && step.gauge.is_some()));
    assert!(findings(&tray, Rule::BendOrder).iter().all(|finding| finding.is_ok()));
}

/// Shops' rule for boxes: the punch is as high as 1.41 times the depth and half the thickness of
/// what carries it (common practice, no source; it follows from a panel at 45 degrees). The usual
/// punch is 100 high under a holder 50 thick: 53 deep.
#[test]
fn a_box_is_as_deep_as_its_punch_is_high() {
    let deep = made(&tray([300.0, 240.0], 58.0, 0.0, &[]));
    let found = findings(&deep, Rule::BendOrder);
    assert!(!found[0].is_ok() && found[0].message.contains("punch holder"), "{found:?}");
    let shallow = made(&tray([300.0, 240.0], 50.0, 0.0, &[]));
    assert_eq!(order_of(&shallow).len(), 4);
}

#[test]
fn returns_all_round_of_a_shallow_box_come_first_too() {
    let tray = made(&tray([300.0, 240.0], 48.0, 12.0, &["bottom", "right", "top", "left"]));
    let order = order_of(&tray);
    for edge in ["bottom", "right", "top", "left"] {
        assert!(place(&order, &format!("{edge}/outer")) < place(&order, edge), "{order:?}");
    }
}

/// A punch 250 high, so that only the box itself is in the way.
const TALL: &str = indoc!(
    "
    brake:
      kind: press
      dies: [{name: a, opening: 12}]
      punch: {path: [[0, 0], [6, 22], [6, 250], [-6, 250], [-6, 22]]}
    "
);

/// Returns 45 wide all round a box 120 deep: the last wall leaves no tool long enough between the
/// returns.
#[test]
fn a_deep_box_with_full_returns_all_round_is_refused_with_the_reason() {
    let (_, tray) =
        made_in(TALL, &tray([300.0, 240.0], 120.0, 45.0, &["bottom", "right", "top", "left"]));
    let found = findings(&tray, Rule::BendOrder);
    let [finding] = found.as_slice() else { panic!("one finding, not {found:?}") };
    assert!(!finding.is_ok());
    let words = &finding.message;
    assert!(words.contains("no order of bends makes this part"), "{words}");
    // 45 mm of return at the end of a wall, and 8 thicknesses = 12.8 mm of the bend may do without
    // a punch: the figures show the fault.
    assert!(words.contains("kept off the punch by `") && words.contains("/outer`"), "{words}");
    assert!(words.contains("12.8 mm (0.5039 in) at most may do without"), "{words}");
    let over = words
        .split(" over ")
        .nth(1)
        .and_then(|rest| rest.split(' ').next())
        .and_then(|mm| mm.parse::<f64>().ok());
    assert!(over.is_some_and(|over| over > 30.0 && over < 50.0), "{words}");
    assert!(finding.remedy.contains("weld"), "{}", finding.remedy);
    assert!(!finding.source.is_empty() && finding.place.is_some());
}

/// A lip down the return's edge bars a little more than the return does, but it is the return that
/// is in the way.
#[test]
fn the_face_that_bars_most_of_the_bend_is_the_one_named() {
    let mut text = indoc!(
        "
        part: box
        units: mm
        material: 4130-annealed
        thickness: 1.6
        folded:
          radius: 3.2
          panel: {profile: {rectangle: {size: [300, 240]}}}
          flanges:
        "
    )
    .to_owned();
    for edge in ["bottom", "right", "top", "left"] {
        writeln!(
            text,
            "    - {{edge: {edge}, bend: 90, height: 120, flanges: [{{edge: outer, bend: 90, height: 45, flanges: [{{edge: outer, bend: 90, \
             height: 14}}]}}]}}"
        )
        .expect("a string takes all");
    }
    let (_, tray) = made_in(TALL, &text);
    let words = &findings(&tray, Rule::BendOrder)[0].message;
    assert!(
        words.contains("kept off the punch by `")
            && !words.contains("kept off the punch by `bottom/outer/outer`"),
        "{words}"
    );
    for edge in ["bottom", "right", "top", "left"] {
        assert!(!words.contains(&format!("by `{edge}/outer/outer`")), "{words}");
    }
}

/// The same box is no trouble with its returns left off: what is refused is refused because of
/// them.
#[test]
fn the_same_box_without_returns_is_made() {
    let (_, tray) = made_in(TALL, &tray([300.0, 240.0], 120.0, 0.0, &[]));
    assert_eq!(order_of(&tray).len(), 4);
}

/// By hand: a leg of 38 behind the bend rests on the gauge with its edge, half a deduction nearer
/// to the bend's line than to its mould line.
#[test]
fn the_gauge_stands_at_the_leg_less_half_the_deduction() {
    let bracket = made(indoc!(
        "
        part: bracket
        units: mm
        material: 4130-annealed
        thickness: 1.6
        bent:
          radius: 3.2
          section: [{leg: 62}, {bend: 90}, {leg: 38}]
          depth: 80
        "
    ));
    let [step] = steps(&bracket) else { panic!("one step") };
    let gauge = step.gauge.expect("an edge");
    let half = bracket.flat.bends[0].developed.deduction.mm() / 2.0;
    assert_near("gauge", gauge.distance, 38.0 - half, 1e-6);
    assert_near("rests along", gauge.to - gauge.from, 80.0, 1e-6);
}

/// The second wall of a channel rests with the outside of the first: web to the outside face, less
/// half a deduction.
#[test]
fn a_wall_that_stands_up_rests_with_its_outside() {
    let channel = made(indoc!(
        "
        part: channel
        units: mm
        material: 4130-annealed
        thickness: 1.6
        bent:
          radius: 3.2
          section: [{leg: 40}, {bend: 90}, {leg: 30}, {bend: 90}, {leg: 40}]
          depth: 80
        "
    ));
    let second = &steps(&channel)[1];
    let gauge = second.gauge.expect("a face");
    let half = channel.flat.bends[0].developed.deduction.mm() / 2.0;
    let from = |leg: f64| (gauge.distance - (leg - half)).abs();
    assert!(from(30.0) < 1e-6 || from(40.0) < 1e-6, "{gauge:?}");
}

/// A tray's wall 48 high over its outer faces rests with the outside of the return that it carries,
/// by hand: from the middle of its own bend to the outside mould line is (R + T) tan 45 less half
/// the allowance pi/4 (R + K T); K of the part is read off, all else is arithmetic.
#[test]
fn a_wall_rests_with_the_outside_of_its_return() {
    let tray = made(&tray([410.0, 265.0], 48.0, 12.0, &["bottom", "top"]));
    let order = order_of(&tray);
    let bend = &tray.flat.bends[0];
    let to_mould = 4.8 - FRAC_PI_4 * (3.2 + bend.developed.k_factor * 1.6);
    for wall in ["bottom", "top"] {
        let gauge = steps(&tray)[place(&order, wall)].gauge.expect("a return");
        assert_near(wall, gauge.distance, 48.0 - to_mould, 1e-6);
    }
}

/// A bend that turns on past upright rests with its round: from its first tangent line R + T back,
/// whatever chords the metal is cut into. The web is 40 less two setbacks (R + T) tan 53.5 and tan
/// 30 between the tangent lines.
#[test]
fn a_wall_that_leans_in_rests_with_its_round() {
    let channel = made(indoc!(
        "
        part: channel
        units: mm
        material: 1020
        thickness: 1.5
        bent:
          radius: 3
          section: [{leg: 30}, {bend: 107}, {leg: 40}, {bend: 60}, {leg: 120}]
          depth: 80
        "
    ));
    let at = steps(&channel)
        .iter()
        .position(|step| bending(&channel).strokes[step.stroke].bends == [1])
        .expect("a step");
    let gauge = steps(&channel)[at].gauge.expect("a round");
    assert_eq!(steps(&channel)[at].before.len(), 1, "the other bend is made first");
    let half = FRAC_PI_6 * (3.0 + channel.flat.bends[1].developed.k_factor * 1.5);
    let web = 40.0 - 4.5 * (53.5_f64.to_radians().tan() + 30_f64.to_radians().tan());
    assert_near("gauge", gauge.distance, half + web + 4.5, 1e-6);
}

/// By outside dims a hem is measured to its outermost tangent, and that is what rests.
#[test]
fn a_hem_rests_with_its_fold() {
    let cover = made(indoc!(
        "
        part: cover
        units: mm
        material: dc04
        thickness: 1
        folded:
          radius: 1.6
          panel: {profile: {rectangle: {size: [220, 130]}}}
          flanges:
            - {edge: top, bend: 90, height: 30, hem: {open: {gap: 2.2, return: 9}}}
        "
    ));
    let gauge = steps(&cover)[1].gauge.expect("a hem");
    let to_mould = 2.6 - FRAC_PI_4 * (1.6 + cover.flat.bends[0].developed.k_factor);
    assert_near("gauge", gauge.distance, 30.0 - to_mould, 1e-6);
}

/// A hat turns over once and no more, whatever its legs.
#[test]
fn a_hat_is_turned_over_once() {
    let hat = made(indoc!(
        "
        part: hat
        units: mm
        material: 1020
        thickness: 1.5
        bent:
          radius: 2
          section: [{leg: 18}, {bend: 90}, {leg: 25}, {bend: -90}, {leg: 60}, {bend: -90}, {leg: 25}, {bend: 90}, {leg: 18}]
          depth: 100
        "
    ));
    assert_eq!(steps(&hat).iter().filter(|step| step.turn_over).count(), 1);
    let words = &findings(&hat, Rule::BendOrder)[0].message;
    assert!(words.contains("in this order, turned over once: "), "{words}");
}

/// A narrow deep hat is no part for a straight punch; the swan-neck that makes it is told of.
#[test]
fn a_swan_neck_is_taken_where_a_straight_punch_finds_no_order() {
    let hat = made(indoc!(
        "
        part: hat
        units: mm
        material: 1020
        thickness: 1.5
        bent:
          radius: 2
          section: [{leg: 40}, {bend: 90}, {leg: 45}, {bend: 90}, {leg: 40}]
          depth: 100
        "
    ));
    assert!(steps(&hat).len() == 2);
    let narrow = made(indoc!(
        "
        part: hat
        units: mm
        material: 1020
        thickness: 1.5
        bent:
          radius: 2
          section: [{leg: 32}, {bend: 90}, {leg: 32}, {bend: 90}, {leg: 32}]
          depth: 100
        "
    ));
    assert!(steps(&narrow).len() == 2);
    assert!(bending(&narrow).assumed.iter().any(|row| row.value.contains("swan-neck")));
}

/// Two lugs in one line that turn alike are one stroke; one that turns the other way is its own.
#[test]
fn flanges_in_one_line_are_one_stroke() {
    let lugs = |second: &str| {
        made(&formatdoc!(
            "
            part: lugs
            units: mm
            material: dc04
            thickness: 1
            folded:
              radius: 1.6
              panel: {{profile: {{rectangle: {{size: [220, 130]}}}}}}
              flanges:
                - {{edge: top, bend: 90, height: 30, cut_back: [12, 112]}}
                - {{edge: top, bend: {second}, height: 20, cut_back: [112, 12]}}
            "
        ))
    };
    assert_eq!(order_of(&lugs("90")), ["top+top 2"]);
    assert_eq!(order_of(&lugs("-90")).len(), 2);
}

#[test]
fn a_hem_is_bent_in_two_hits_before_its_flange() {
    let (part, cover) = part_and_made(indoc!(
        "
        part: cover
        units: mm
        material: dc04
        thickness: 1
        folded:
          radius: 1.6
          panel: {profile: {rectangle: {size: [220, 130]}}}
          flanges:
            - {edge: top, bend: 90, height: 30, hem: {closed: {return: 8}}}
        "
    ));
    assert_eq!(order_of(&cover), ["top/hem", "top"]);
    let practice = &bending(&cover).practice[1];
    assert!(practice.is_hem && practice.set.is_none());
    assert!(steps(&cover)[0].last * 180.0 < 150.0);
    // Both hits are shown, and no other bend has two: in the second the hem lies on its flange, two
    // thicknesses in all.
    let bending = bending(&cover);
    assert!(step_second_hit(&cover.flat, bending, &steps(&cover)[1]).is_none());
    let second = step_second_hit(&cover.flat, bending, &steps(&cover)[0]).expect("a second hit");
    let heights = second.metal.iter().flatten().map(|p| p.y);
    let (low, high) = heights
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), z| (low.min(z), high.max(z)));
    assert_near("lowest", low, 0.0, 0.01);
    assert_near("highest", high, 2.0, 0.01);
    let page = bend_order_page(&part, &cover.flat, bending, None, false).expect("a page");
    let words: Vec<&str> = page
        .items
        .iter()
        .filter_map(
            |item| if let Item::Words { text, .. } = item { Some(text.as_str()) } else { None },
        )
        .collect();
    for number in ["1a", "1b", "2"] {
        assert!(words.contains(&number), "{number} in {words:?}");
    }
}

/// The other hand is bent in the same order over the same distances.
#[test]
fn the_other_hand_is_made_likewise() {
    let (part, one) = part_and_made(&tray([410.0, 265.0], 48.0, 12.0, &["bottom"]));
    let mut other = one.other_hand();
    other.bending = plan_bending(&part, &other.flat);
    let sums = |made| {
        let all = steps(made).iter().map(|step| step.gauge.map_or(0.0, |gauge| gauge.distance));
        all.sum::<f64>()
    };
    assert_eq!(steps(&one).len(), steps(&other).len());
    assert_near("gauges", sums(&other), sums(&one), 0.1);
}

/// All words of a part's page.
fn page_words(part: &Part, made: &MadePart) -> String {
    let page = bend_order_page(part, &made.flat, bending(made), None, false).expect("a page");
    let words = page.items.iter().filter_map(|item| {
        if let Item::Words { text, .. } = item { Some(text.as_str()) } else { None }
    });
    words.collect::<Vec<_>>().join(" ")
}

/// A page tells the angle in both ways, what may be turned to, and what is dangerous on its own
/// kind of brake; 120 of bend leave 60 open.
#[test]
fn a_page_speaks_of_its_own_brake_and_of_both_angles() {
    let text = indoc!(
        "
        part: clip
        units: mm
        material: 1020
        thickness: 1.5
        bent:
          radius: 3
          section: [{leg: 40}, {bend: 60}, {leg: 60}]
          depth: 80
        "
    );
    let punch = indoc!(
        "
        brake:
          kind: press
          dies: [{name: a, opening: 12}]
          punch: {path: [[0, 0], [13, 20], [13, 120], [-13, 120], [-13, 20]]}
        "
    );
    let (part, press) = made_in(punch, text);
    // A punch whose flanks rise 20 over 13 has a tip of 2 atan(13/20) = 66.05 degrees: the tools
    // bend to 113.95, whatever the die.
    let words = page_words(&part, &press);
    assert!(
        words.contains("these tools bend to 114° at most")
            || words.contains("these tools bend to 113.9° at most"),
        "{words}"
    );
    assert!(
        words.contains(ANGLES_FROM_FLAT) && words.contains("whips up") && !words.contains("leaf"),
        "{words}"
    );
    let reach = findings(&press, Rule::BendAngle)[0].measured.expect("figures").limit;
    assert_near("reach", reach, 180.0 - 2.0 * (13.0_f64 / 20.0).atan().to_degrees(), 0.01);
    let assumed = &bending(&press)
        .assumed
        .iter()
        .find(|row| row.key == "brake.dies.angle")
        .expect("no angle is given")
        .why;
    assert!(!assumed.contains("150") && assumed.contains("these tools bend to 11"), "{assumed}");
    let set = bending(&press).practice[0].set.expect("springback").value.degrees();
    let shown = |degrees: f64| format!("{}°", (degrees * 10.0).round() / 10.0);
    let step = step_words(&press.flat, bending(&press), part.unit, 0).set;
    assert!(
        step.starts_with(&format!("bend through {} (", shown(set)))
            && step.ends_with(" to keep 60°"),
        "{step}"
    );
    assert!(step.contains(&format!("{} between the legs", shown(180.0 - set))), "{step}");
    let (part, leaf) = made_in("brake: {kind: leaf}\n", text);
    let words = page_words(&part, &leaf);
    assert!(
        words.contains("Keep clear of the swing of the leaf and its counterweight.")
            && !words.contains("whips"),
        "{words}"
    );
}

/// A file in inches has its steps in inches, mm in brackets.
#[test]
fn steps_of_an_inch_file_are_in_inches() {
    let (part, bracket) = part_and_made(indoc!(
        "
        part: bracket
        units: in
        material: 4130-annealed
        thickness: 0.063
        bent:
          radius: 0.125
          section: [{leg: 2.5}, {bend: 90}, {leg: 1.5}]
          depth: 3
        "
    ));
    let words = step_words(&bracket.flat, bending(&bracket), part.unit, 0);
    let gauge = steps(&bracket)[0].gauge.expect("an edge").distance;
    let inches = format!("back gauge {} in (", (gauge / 25.4 * 10_000.0).round() / 10_000.0);
    assert!(
        words.gauge.starts_with(&inches) && words.gauge.contains(" mm), leg 2 against it"),
        "{words:?}"
    );
    assert_eq!(words.tools, "bend 3 in (76.2 mm) long");
    assert!(words.handling.ends_with("leg 2 toward the gauge"), "{words:?}");
    assert!(page_words(&part, &bracket).contains("4130-annealed 0.063 in (1.6 mm)"));
}

/// One bend whose leg falls into the die is told so, with the die and no word of flanges to weld
/// on.
#[test]
fn a_leg_over_the_die_is_told_in_words_of_its_own() {
    let (_, made) = made_in(
        indoc!(
            "
        brake:
          kind: press
          dies: [{name: wide, opening: 40}]
        "
        ),
        indoc!(
            "
        part: clip
        units: mm
        material: dc04
        thickness: 5
        bent:
          radius: 6
          section: [{leg: 21}, {bend: 90}, {leg: 60}]
          depth: 40
        "
        ),
    );
    let found = findings(&made, Rule::BendOrder);
    assert!(
        !found[0].is_ok()
            && found[0]
                .message
                .contains("`leg 1` lies wholly over the 40 mm (1.5748 in) die at bend 1"),
        "{found:?}"
    );
    assert!(
        found[0].remedy.contains("narrower die") && !found[0].remedy.contains("weld"),
        "{found:?}"
    );
    let short = findings(&made, Rule::LegLength);
    let failed = short.iter().find(|finding| !finding.is_ok()).expect("leg 1");
    let least = format!("it must reach {} mm", failed.measured.expect("figures").limit);
    assert!(
        failed.message.contains("leg 1 reaches 21 mm") && failed.message.contains(&least),
        "{failed:?}"
    );
}

/// Angles that acute tools do not reach are refused with the angle, not with a collision.
#[test]
fn an_angle_beyond_the_tools_is_said() {
    let sharp = made(indoc!(
        "
        part: sharp
        units: mm
        material: dc04
        thickness: 1
        bent:
          radius: 1.6
          section: [{leg: 40}, {bend: 160}, {leg: 40}]
          depth: 80
        "
    ));
    assert!(findings(&sharp, Rule::BendAngle).iter().any(|finding| !finding.is_ok()));
    let order = findings(&sharp, Rule::BendOrder);
    assert!(
        order.iter().any(|finding| !finding.is_ok()
            && finding.message.contains("these tools bend to 150 at most")),
        "{order:?}"
    );
}
