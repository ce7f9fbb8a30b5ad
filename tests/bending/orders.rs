//! Orders of folded parts: boxes with returns, lugs in one line, hems, parts that cannot be made.

use std::fmt::Write as _;

use planish::bending::{plan_bending, step_second_hit};
use planish::drawing::{Item, bend_order_page};
use planish::make::mirrored;
use planish::problem::Code;

use crate::parts::assert_near;
use crate::{bending, findings, made, made_in, order_of, steps, trays};

/// A box with walls all round and inward returns on the named edges.
fn tray(size: [f64; 2], height: f64, width: f64, on: &[&str]) -> String {
    let mut text = format!(
        "part: box\nunits: mm\nmaterial: 4130-annealed\nthickness: 1.6\nfolded:\n  radius: 3.2\n  panel:\n    profile: {{rectangle: {{size: \
         [{}, {}]}}}}\n  flanges:\n",
        size[0], size[1]
    );
    for edge in ["bottom", "right", "top", "left"] {
        let own =
            if on.contains(&edge) { format!(", flanges: [{{edge: outer, bend: 90, height: {width}}}]") } else { String::new() };
        writeln!(text, "    - {{edge: {edge}, bend: 90, height: {height}{own}}}").expect("a string takes all");
    }
    text
}

/// Trays of up to 16 bends with returns and lugs are ordered, returns before their walls.
#[test]
fn trays_with_returns_and_lugs_are_ordered() {
    for bends in [4, 8, 12, 16] {
        let (_, tray) = made(&trays::lugged(bends));
        let order = order_of(&tray);
        assert_eq!(order.len(), bends, "{order:?}");
        for outer in order.iter().filter(|name| name.ends_with("/outer")) {
            assert!(place(&order, outer) < place(&order, outer.trim_end_matches("/outer")), "{order:?}");
        }
    }
}

fn place(order: &[String], name: &str) -> usize {
    order.iter().position(|step| step == name).unwrap_or_else(|| panic!("{name} in {order:?}"))
}

#[test]
fn returns_come_before_the_walls_they_stand_on_and_short_ends_last() {
    let (_, tray) = made(&tray([410.0, 265.0], 48.0, 12.0, &["bottom", "top"]));
    let order = order_of(&tray);
    assert_eq!(order.len(), 6);
    assert!(place(&order, "bottom/outer") < place(&order, "bottom"), "{order:?}");
    assert!(place(&order, "top/outer") < place(&order, "top"), "{order:?}");
    assert!(place(&order, "left") >= 4 && place(&order, "right") >= 4, "{order:?}");
    assert!(steps(&tray).iter().all(|step| !step.turn_over && step.gauge.is_some()));
    assert!(findings(&tray, Code::BendOrder).iter().all(|finding| finding.ok));
}

/// Shops' rule for boxes: the punch is as high as 1.41 times the depth and half the thickness of what carries it (common practice, no source; it
/// follows from a panel at 45 degrees). The usual punch is 100 high under a holder 50 thick: 53 deep.
#[test]
fn a_box_is_as_deep_as_its_punch_is_high() {
    let (_, deep) = made(&tray([300.0, 240.0], 58.0, 0.0, &[]));
    let found = findings(&deep, Code::BendOrder);
    assert!(!found[0].ok && found[0].problem.message.contains("punch holder"), "{found:?}");
    let (_, shallow) = made(&tray([300.0, 240.0], 50.0, 0.0, &[]));
    assert_eq!(order_of(&shallow).len(), 4);
}

#[test]
fn returns_all_round_of_a_shallow_box_come_first_too() {
    let (_, tray) = made(&tray([300.0, 240.0], 48.0, 12.0, &["bottom", "right", "top", "left"]));
    let order = order_of(&tray);
    for edge in ["bottom", "right", "top", "left"] {
        assert!(place(&order, &format!("{edge}/outer")) < place(&order, edge), "{order:?}");
    }
}

/// A punch 250 high, so that only the box itself is in the way.
const TALL: &str = "brake:\n  kind: press\n  dies: [{name: a, opening: 12}]\n  punch: {path: [[0, 0], [6, 22], [6, 250], [-6, 250], [-6, 22]]}\n";

/// Returns 45 wide all round a box 120 deep: the last wall leaves no tool long enough between the returns.
#[test]
fn a_deep_box_with_full_returns_all_round_is_refused_with_the_reason() {
    let (_, tray) = made_in(TALL, &tray([300.0, 240.0], 120.0, 45.0, &["bottom", "right", "top", "left"]));
    let found = findings(&tray, Code::BendOrder);
    let [finding] = found.as_slice() else { panic!("one finding, not {found:?}") };
    assert!(!finding.ok);
    let words = &finding.problem.message;
    assert!(words.contains("no order of bends makes this part"), "{words}");
    assert!(words.contains("leaves room for") && words.contains("/outer`"), "{words}");
    assert!(finding.problem.help.contains("weld"), "{}", finding.problem.help);
    assert!(!finding.source.is_empty() && finding.problem.place.is_some());
}

/// The same box is no trouble with its returns left off: what is refused is refused because of them.
#[test]
fn the_same_box_without_returns_is_made() {
    let (_, tray) = made_in(TALL, &tray([300.0, 240.0], 120.0, 0.0, &[]));
    assert_eq!(order_of(&tray).len(), 4);
}

/// By hand: a leg of 38 behind the bend rests on the gauge with its edge, half a deduction nearer to the bend's line than to its mould line.
#[test]
fn the_gauge_stands_at_the_leg_less_half_the_deduction() {
    let (_, bracket) = made(
        "part: bracket\nunits: mm\nmaterial: 4130-annealed\nthickness: 1.6\nbent:\n  radius: 3.2\n  section: [{leg: 62}, {bend: 90}, {leg: \
         38}]\n  depth: 80\n",
    );
    let [step] = steps(&bracket) else { panic!("one step") };
    let gauge = step.gauge.expect("an edge");
    let half = bracket.flat.bends[0].developed.deduction.mm() / 2.0;
    assert_near("gauge", gauge.distance, 38.0 - half, 0.06);
    assert_near("rests along", gauge.to - gauge.from, 80.0, 1e-6);
}

/// The second wall of a channel rests with the outside of the first: web to the outside face, less half a deduction.
#[test]
fn a_wall_that_stands_up_rests_with_its_outside() {
    let (_, channel) = made(
        "part: channel\nunits: mm\nmaterial: 4130-annealed\nthickness: 1.6\nbent:\n  radius: 3.2\n  section: [{leg: 40}, {bend: 90}, {leg: \
         30}, {bend: 90}, {leg: 40}]\n  depth: 80\n",
    );
    let second = &steps(&channel)[1];
    let gauge = second.gauge.expect("a face");
    let half = channel.flat.bends[0].developed.deduction.mm() / 2.0;
    let from = |leg: f64| (gauge.distance - (leg - half)).abs();
    assert!(from(30.0) < 0.06 || from(40.0) < 0.06, "{gauge:?}");
}

/// A hat turns over once and no more, whatever its legs.
#[test]
fn a_hat_is_turned_over_once() {
    let (_, hat) = made(
        "part: hat\nunits: mm\nmaterial: 1020\nthickness: 1.5\nbent:\n  radius: 2\n  section: [{leg: 18}, {bend: 90}, {leg: 25}, {bend: \
         -90}, {leg: 60}, {bend: -90}, {leg: 25}, {bend: 90}, {leg: 18}]\n  depth: 100\n",
    );
    assert_eq!(steps(&hat).iter().filter(|step| step.turn_over).count(), 1);
}

/// A narrow deep hat is no part for a straight punch; the swan-neck that makes it is told of.
#[test]
fn a_swan_neck_is_taken_where_a_straight_punch_finds_no_order() {
    let (_, hat) = made(
        "part: hat\nunits: mm\nmaterial: 1020\nthickness: 1.5\nbent:\n  radius: 2\n  section: [{leg: 40}, {bend: 90}, {leg: 45}, {bend: 90}, \
         {leg: 40}]\n  depth: 100\n",
    );
    assert!(steps(&hat).len() == 2);
    let (_, narrow) = made(
        "part: hat\nunits: mm\nmaterial: 1020\nthickness: 1.5\nbent:\n  radius: 2\n  section: [{leg: 32}, {bend: 90}, {leg: 32}, {bend: 90}, \
         {leg: 32}]\n  depth: 100\n",
    );
    assert!(steps(&narrow).len() == 2);
    assert!(bending(&narrow).assumed.iter().any(|row| row.value.contains("swan-neck")));
}

/// Two lugs in one line that turn alike are one stroke; one that turns the other way is its own.
#[test]
fn flanges_in_one_line_are_one_stroke() {
    let lugs = |second: &str| {
        made(&format!(
            "part: lugs\nunits: mm\nmaterial: dc04\nthickness: 1\nfolded:\n  radius: 1.6\n  panel: {{profile: {{rectangle: {{size: [220, \
             130]}}}}}}\n  flanges:\n    - {{edge: top, bend: 90, height: 30, cut_back: [12, 112]}}\n    - {{edge: top, bend: {second}, \
             height: 20, cut_back: [112, 12]}}\n"
        ))
        .1
    };
    assert_eq!(order_of(&lugs("90")), ["top+top 2"]);
    assert_eq!(order_of(&lugs("-90")).len(), 2);
}

#[test]
fn a_hem_is_bent_in_two_hits_before_its_flange() {
    let (part, cover) = made(
        "part: cover\nunits: mm\nmaterial: dc04\nthickness: 1\nfolded:\n  radius: 1.6\n  panel: {profile: {rectangle: {size: [220, \
         130]}}}\n  flanges:\n    - {edge: top, bend: 90, height: 30, hem: {closed: {return: 8}}}\n",
    );
    assert_eq!(order_of(&cover), ["top/hem", "top"]);
    let practice = &bending(&cover).practice[1];
    assert!(practice.is_hem && practice.set.is_none());
    assert!(steps(&cover)[0].last * 180.0 < 150.0);
    // Both hits are shown, and no other bend has two: in the second the hem lies on its flange, two thicknesses in all.
    let bending = bending(&cover);
    assert!(step_second_hit(&cover.flat, bending, &steps(&cover)[1]).is_none());
    let second = step_second_hit(&cover.flat, bending, &steps(&cover)[0]).expect("a second hit");
    let heights = second.metal.iter().flatten().map(|p| p.y);
    let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), z| (low.min(z), high.max(z)));
    assert_near("lowest", low, 0.0, 0.01);
    assert_near("highest", high, 2.0, 0.01);
    let page = bend_order_page(&part, &cover.flat, bending, false).expect("a page");
    let words: Vec<&str> = page
        .items
        .iter()
        .filter_map(|item| if let Item::Words { text, .. } = item { Some(text.as_str()) } else { None })
        .collect();
    for number in ["1a", "1b", "2"] {
        assert!(words.contains(&number), "{number} in {words:?}");
    }
}

/// The other hand is bent in the same order over the same distances.
#[test]
fn the_other_hand_is_made_likewise() {
    let (part, one) = made(&tray([410.0, 265.0], 48.0, 12.0, &["bottom"]));
    let mut other = mirrored(&one);
    other.bending = plan_bending(&part, &other.flat);
    let sums = |made| {
        let all = steps(made).iter().map(|step| step.gauge.map_or(0.0, |gauge| gauge.distance));
        all.sum::<f64>()
    };
    assert_eq!(steps(&one).len(), steps(&other).len());
    assert_near("gauges", sums(&other), sums(&one), 0.1);
}

/// Angles that acute tools do not reach are refused with the angle, not with a collision.
#[test]
fn an_angle_beyond_the_tools_is_said() {
    let (_, sharp) = made(
        "part: sharp\nunits: mm\nmaterial: dc04\nthickness: 1\nbent:\n  radius: 1.6\n  section: [{leg: 40}, {bend: 160}, {leg: 40}]\n  depth: \
         80\n",
    );
    assert!(findings(&sharp, Code::BendAngle).iter().any(|finding| !finding.ok));
    let order = findings(&sharp, Code::BendOrder);
    assert!(order.iter().any(|finding| !finding.ok && finding.problem.message.contains("the tools reach 150")), "{order:?}");
}
