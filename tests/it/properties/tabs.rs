//! Tabs and the slots that receive them: solids put together in space, counted, turned round.

use indoc::{formatdoc, indoc};
use planish::finding::Rule;
use planish::formed::SheetMesh;
use planish::geom::{Point, Polyarc, Vec2, distance_to};

use crate::support::asserts::assert_near;
use crate::support::dice::Dice;
use crate::support::parts::{Files, made, made_from};

/// The rectangles of metal that a plate's outline has below y = 0, as x from and to, and depth.
fn tabs_below(outline: &Polyarc) -> Vec<[f64; 3]> {
    let tips =
        outline.segments().filter(|s| s.from().y < -1e-6 && (s.from().y - s.to().y).abs() < 1e-9);
    tips.map(|tip| [tip.from().x, tip.to().x, -tip.from().y]).collect()
}

/// That the corners and edges of a rectangle stay in one of the openings, clear of its edge by
/// `gap` at least, and by no more where it is nearest.
fn assert_fits(openings: &[Polyarc], corners: [Point; 4], gap: f64) -> usize {
    let inside = |p: Point| openings.iter().position(|opening| opening.contains(p));
    let own = inside(corners[0].midpoint(corners[2])).expect("the tab's middle is in a slot");
    let mut least = f64::INFINITY;
    for i in 0..4 {
        for k in 0..=64 {
            let p = corners[i].lerp(corners[(i + 1) % 4], f64::from(k) / 64.0);
            assert_eq!(inside(p), Some(own), "{p:?}");
            least = least.min(distance_to(&openings[own], p));
        }
    }
    assert_near("play", least, gap, 1e-6);
    own
}

/// Plates at any angle on a base: every tab stands in its own slot with half the clearance on every
/// side, however long, thick and spaced.
#[test]
fn tabs_of_a_plate_fit_their_slots_everywhere() {
    let mut dice = Dice(71);
    for round in 0..40 {
        let (count, length) = (dice.whole(1, 6), dice.between(9.0, 18.0));
        let (thickness, clearance) = (dice.between(0.8, 3.0), dice.between(0.05, 0.8));
        let (width, angle) =
            (f64::from(count) * (length + dice.between(12.0, 30.0)), dice.between(-180.0, 180.0));
        let (x, y) = (dice.between(-20.0, 20.0), dice.between(-20.0, 20.0));
        let relief =
            ["auto", "none", "{hole: 3}", "{slot: [2, 1.5]}", "{notch: [2, 1]}"][round % 5];
        let depth = dice.between(1.6, 3.0);
        let rib = formatdoc!(
            "
            part: rib
            units: mm
            material: dc04
            thickness: {thickness:.12}
            plate:
              profile: {{path: [[0, 0], {{to: [{width:.12}, 0], edge: foot}}, [{width:.12}, 40], [0, 40]]}}
              tabs: [{{edge: foot, length: {length:.12}, count: {count}, depth: {depth:.12}, relief: {relief}}}]
            "
        );
        let base = formatdoc!(
            "
            part: base
            units: mm
            material: dc04
            thickness: 2
            plate:
              profile: {{circle: {{diameter: 900}}}}
              openings:
                - tab_slots: {{of: rib.yaml, edge: foot, at: [{x:.12}, {y:.12}], angle: {angle:.12}, clearance: {clearance:.12}}}
            "
        );
        let files = Files(&[("rib.yaml", &rib), ("base.yaml", &base)]);
        let (rib, base) = (made_from(&files, "rib.yaml"), made_from(&files, "base.yaml"));
        let tabs = tabs_below(&rib.flat.outside);
        assert_eq!((tabs.len(), base.flat.openings.len()), (count as usize, count as usize));
        let (along, origin) = (Vec2::from_angle(angle.to_radians()), Point::new(x, y));
        let across = Vec2::new(-along.y, along.x) * (thickness / 2.0);
        let mut used = Vec::new();
        for [from, to, stands] in &tabs {
            assert_near("depth", *stands, depth, 1e-9);
            let (a, b) = (origin + along * *from, origin + along * *to);
            used.push(assert_fits(
                &base.flat.openings,
                [a - across, b - across, b + across, a + across],
                clearance / 2.0,
            ));
        }
        used.sort_unstable();
        used.dedup();
        assert_eq!(used.len(), tabs.len(), "each tab has a slot of its own");
        // What tabs add and reliefs take off, by hand.
        let off = match round % 5 {
            2 => 3.0 * std::f64::consts::PI * 1.5 * 1.5 / 4.0,
            3 => 2.0 * 0.5 + std::f64::consts::PI / 2.0,
            4 => 2.0,
            1 => 0.0,
            _ => {
                let wide = 1.5
                    * planish::shop::kerf::usual_kerf(
                        planish::units::Length::from_mm(thickness),
                        None,
                    )
                    .expect("a kerf")
                    .value
                    .mm();
                wide * wide / 2.0 + std::f64::consts::PI * wide * wide / 8.0
            }
        };
        let area = 40.0 * width + f64::from(count) * (length * depth - 2.0 * off);
        assert_near("area", rib.flat.outside.area(), area, 1e-6);
    }
}

/// The tabs of a flange as they stand in space, the part turned over and set on its base: in the
/// slots with half the clearance all round.
#[test]
fn tabs_of_a_folded_flange_fit_their_slots() {
    let mut dice = Dice(72);
    for _ in 0..12 {
        let (thickness, height, radius) =
            (dice.between(1.0, 2.5), dice.between(18.0, 40.0), dice.between(1.0, 4.0));
        let back = dice.between(0.0, 9.0);
        let bracket = formatdoc!(
            "
            part: bracket
            units: mm
            material: dc04
            thickness: {thickness:.12}
            folded:
              radius: {radius:.12}
              panel: {{profile: {{rectangle: {{size: [120, 60]}}}}}}
              flanges:
                - {{edge: top, bend: 90, height: {height:.12}, cut_back: [{back:.12}, 0], tabs: [{{edge: outer, length: 13, count: 3, one_way: true, into: base.yaml}}]}}
            "
        );
        let base = indoc!(
            "
            part: base
            units: mm
            material: dc04
            thickness: 2.2
            folded:
              panel:
                profile: {rectangle: {size: [220, 160]}}
                openings: [{tab_slots: {of: bracket.yaml, edge: top/outer, at: [70, -20], angle: 180}}]
              flanges: [{edge: bottom, bend: 90, height: 25}]
            "
        );
        let files = Files(&[("bracket.yaml", &bracket), ("base.yaml", base)]);
        let (bracket, base) = (made_from(&files, "bracket.yaml"), made_from(&files, "base.yaml"));
        let tree = bracket.flat.tree.as_ref().expect("bends");
        let mesh =
            SheetMesh::new(tree, &bracket.flat.outside, &bracket.flat.openings).expect("a mesh");
        // Tips of tabs: all that stands higher than the flange's outer edge by more than half the
        // base's thickness.
        let surface = mesh.surface(&tree.folded());
        let tips: Vec<[f64; 3]> = surface
            .iter()
            .flat_map(|(triangle, _)| *triangle)
            .filter(|p| p[2] > height + 1.1)
            .collect();
        assert!(
            tips.len() >= 12 && tips.iter().all(|p| (p[2] - height - 2.2).abs() < 1e-9),
            "{tips:?}"
        );
        // Turned over about x; the edge `top` starts at x = 60 and runs to the left.
        let place = |p: &[f64; 3]| {
            Point::new(70.0 + (p[0] - 60.0), -20.0 - (p[1] - (30.0 - thickness / 2.0)))
        };
        let mut used = Vec::new();
        for (triangle, _) in &surface {
            let [a, b, c] = triangle;
            for (p, q) in [(a, b), (b, c), (c, a)] {
                if p[2] > height + 1.1 && q[2] > height + 1.1 {
                    for k in 0..=16 {
                        let at = place(p).lerp(place(q), f64::from(k) / 16.0);
                        let slot = base
                            .flat
                            .openings
                            .iter()
                            .position(|opening| opening.contains(at))
                            .expect("in a slot");
                        assert!(distance_to(&base.flat.openings[slot], at) > 0.2 - 1e-6, "{at:?}");
                        used.push(slot);
                    }
                }
            }
        }
        used.sort_unstable();
        used.dedup();
        assert_eq!(used, [0, 1, 2]);
    }
}

/// One-way tabs turned round, slid along by any amount: never all in their slots. Evenly spaced
/// ones are.
#[test]
fn one_way_tabs_go_in_one_way_only() {
    let goes_in_turned = |one_way: bool, count: u32| {
        let rib = formatdoc!(
            "
            part: rib
            units: mm
            material: dc04
            thickness: 1.5
            plate:
              profile: {{path: [[0, 0], {{to: [200, 0], edge: foot}}, [200, 40], [0, 40]]}}
              tabs: [{{edge: foot, length: 12, count: {count}, one_way: {one_way}}}]
            "
        );
        let base = indoc!(
            "
            part: base
            units: mm
            material: dc04
            thickness: 1.5
            plate:
              profile: {rectangle: {size: [300, 60]}}
              openings: [{tab_slots: {of: rib.yaml, edge: foot, at: [-100, 0]}}]
            "
        );
        let files = Files(&[("rib.yaml", &rib), ("base.yaml", base)]);
        let (rib, base) = (made_from(&files, "rib.yaml"), made_from(&files, "base.yaml"));
        let tabs = tabs_below(&rib.flat.outside);
        assert_eq!(tabs.len(), count as usize);
        (-4000..4000).any(|k| {
            let at = |x: f64| Point::new(100.0 - x + f64::from(k) * 0.05, 0.0);
            let is_in = |x: f64| base.flat.openings.iter().any(|slot| slot.contains(at(x)));
            tabs.iter()
                .all(|[from, to, _]| [*from, f64::midpoint(*from, *to), *to].into_iter().all(is_in))
        })
    };
    for count in [3, 4, 5] {
        assert!(goes_in_turned(false, count) && !goes_in_turned(true, count), "{count}");
    }
}

const RIB: &str = indoc!(
    "
    part: rib
    units: mm
    material: dc04
    thickness: 1.5
    plate:
      profile: {path: [[0, 0], {to: [100, 0], edge: foot}, [100, 40], [0, 40]]}
      tabs: [{edge: foot, length: 12, at: [30, 70]}]
    "
);

fn base(thickness: f64, more: &str) -> String {
    formatdoc!(
        "
        part: base
        units: mm
        material: dc04
        thickness: {thickness}
        plate:
          profile: {{rectangle: {{size: [300, 60]}}}}
          openings: [{{tab_slots: {{of: rib.yaml, edge: foot, at: [-50, 0]{more}}}}}]
        "
    )
}

/// By hand: a slot of 1.5 + 0.4 is under 1.5 kerfs of 1.4 mm, 2.1; with 0.6 of play it is 2.1. Tabs
/// of 1.5 in a sheet of 3 hardly reach through.
#[test]
fn narrow_slots_and_tabs_of_another_depth_are_found() {
    let found = |base: &str, rule: Rule| {
        let files = Files(&[("rib.yaml", RIB), ("base.yaml", base)]);
        let made = made_from(&files, "base.yaml");
        let found: Vec<(bool, f64, f64)> = made
            .findings
            .iter()
            .filter(|f| f.rule == rule)
            .map(|f| (f.is_ok(), f.measured.expect("figures")))
            .map(|(ok, m)| (ok, m.value, m.limit))
            .collect();
        assert_eq!(found.len(), 1, "one for all slots of an item: {found:?}");
        assert!(!made.findings.iter().any(|finding| finding.rule == Rule::OpeningWidth));
        found[0]
    };
    let (ok, value, limit) = found(&base(1.5, ""), Rule::SlotWidth);
    assert!(!ok);
    assert_near("width", value, 1.9, 1e-9);
    assert_near("limit", limit, 2.1, 1e-9);
    assert!(found(&base(1.5, ", clearance: 0.61"), Rule::SlotWidth).0);
    assert!(found(&base(1.5, ""), Rule::TabDepth).0 && !found(&base(3.0, ""), Rule::TabDepth).0);
}

/// Two parts may take each other's tabs: neither reading waits for the other.
#[test]
fn parts_may_take_each_others_tabs() {
    let part = |name: &str, other: &str| {
        formatdoc!(
            "
            part: {name}
            units: mm
            material: dc04
            thickness: 1.5
            plate:
              profile: {{rectangle: {{size: [100, 60]}}}}
              openings: [{{tab_slots: {{of: {other}.yaml, edge: bottom, at: [-50, 0]}}}}]
              tabs: [{{edge: bottom, length: 12, count: 2, into: {other}.yaml}}]
            "
        )
    };
    let (one, two) = (part("one", "two"), part("two", "one"));
    let files = Files(&[("one.yaml", &one), ("two.yaml", &two)]);
    assert_eq!(made_from(&files, "one.yaml").flat.openings.len(), 2);
    assert_eq!(made_from(&files, "two.yaml").flat.openings.len(), 2);
}

/// Two shelves with two slotted rows each take four ribs: three are too few, four are enough, and a
/// rib from elsewhere is a caution.
#[test]
fn a_job_makes_as_many_tabbed_parts_as_it_has_slots_for() {
    let base = indoc!(
        "
        part: base
        units: mm
        material: dc04
        thickness: 1.5
        plate:
          profile: {rectangle: {size: [300, 80]}}
          openings:
            - {tab_slots: {of: rib.yaml, edge: foot, at: [-50, -20]}}
            - {tab_slots: {of: rib.yaml, edge: foot, at: [-50, 20]}}
        "
    );
    let found = |ribs: &str| {
        let job = formatdoc!(
            "
            job: shelves
            units: mm
            parts:
              - {{file: base.yaml, quantity: 2}}
            {ribs}"
        );
        let files = Files(&[("rib.yaml", RIB), ("base.yaml", base)]);
        let job = planish::describe::read_job("job.yaml", job.into_bytes(), None, &files)
            .unwrap_or_else(|problems| panic!("{problems:?}"));
        let found = planish::check::check_tabs(&job);
        assert_eq!(found.len(), 1, "one for each edge that is wanted");
        let measured = found[0].finding.measured.expect("figures");
        (found[0].finding.is_ok(), measured.value, measured.limit)
    };
    assert_eq!(found("  - {file: rib.yaml, quantity: 3}\n"), (false, 3.0, 4.0));
    assert_eq!(found("  - {file: rib.yaml, quantity: 3, mirrored: 1}\n"), (true, 4.0, 4.0));
    assert_eq!(found(""), (true, 0.0, 4.0));
}

/// With dims inside, a panel's free edge runs on to its neighbours' outer faces; tabs stay where
/// the description counts them from.
#[test]
fn tabs_of_a_panel_stay_in_place_whatever_the_dims() {
    let tray = |dims: &str| {
        let yaml = formatdoc!(
            "
            part: tray
            units: mm
            material: dc04
            thickness: 1.5
            folded:
              dims: {dims}
              radius: 2
              panel:
                profile: {{rectangle: {{size: [100, 60]}}}}
                tabs: [{{edge: bottom, length: 12, at: [20, 80], relief: none}}]
              flanges: [{{edge: left, bend: 90, height: 20}}, {{edge: right, bend: 90, height: 20}}]
            "
        );
        let made = made(&yaml);
        let tips: Vec<[f64; 2]> = made
            .flat
            .outside
            .segments()
            .filter(|s| s.from().y < -30.0 - 1.4 && (s.from().y - s.to().y).abs() < 1e-9)
            .map(|s| [s.from().x, s.to().x])
            .collect();
        assert_eq!(tips.len(), 2, "{dims}");
        tips
    };
    for dims in ["outside", "inside", "flat"] {
        let mut tips = tray(dims);
        tips.sort_by(|a, b| a[0].total_cmp(&b[0]));
        for (tip, wanted) in tips.iter().zip([[-36.0, -24.0], [24.0, 36.0]]) {
            assert_near("start", tip[0], wanted[0], 1e-6);
            assert_near("end", tip[1], wanted[1], 1e-6);
        }
    }
}
