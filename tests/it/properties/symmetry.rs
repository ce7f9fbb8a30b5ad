//! Motions of the profile, the vertex it starts from and the way it is walked change nothing but
//! where the blank lies.

use std::fmt::Write as _;

use indoc::{formatdoc, indoc};
use planish::geom::{Affine, Point, Polyarc, Vec2};

use super::shells::Sizes;
use crate::support::asserts::{assert_held, assert_near};
use crate::support::dice::Dice;
use crate::support::outlines::{Walk, Way, sharpest, stray};
use crate::support::parts::{made, try_make};

/// An outline of one of four families by turns: rounded convex, with scoops, with curves, an S of
/// equal arcs.
pub(crate) fn any_outline(dice: &mut Dice, round: u32, sizes: &Sizes) -> Walk {
    let inset = sizes.inset();
    let (count, corner) = (dice.whole(4, 7), inset + dice.between(4.0, 40.0));
    let size = 4.0 * corner + 2.0 * sizes.depth + dice.between(40.0, 150.0);
    let mut walk = Walk::convex(dice, count, size, corner);
    let chord = |walk: &Walk, i: usize| walk.0[i].0.distance(walk.0[(i + 1) % walk.0.len()].0);
    match round % 4 {
        0 => {}
        1 => {
            // A scoop, with room for the wall that stands in it, and a bulge.
            walk.0[0].2 = Way::Arc(-(2.0 * chord(&walk, 0) + 3.0 * sizes.depth));
            walk.0[2].2 = Way::Arc(3.0 * chord(&walk, 2));
        }
        2 => {
            let (a, b) = (walk.0[1].0, walk.0[2].0);
            let out = Vec2::new((b - a).y, -(b - a).x) * 0.06;
            walk.0[1].2 = Way::Through(vec![a.lerp(b, 0.3) + out, a.lerp(b, 0.7) + out * 0.4]);
        }
        _ => {
            // Two arcs of one radius, one left and one right, that touch where they meet.
            let r = 2.0 * size;
            let (x, y) = (r * 0.3_f64.sin(), r * (1.0 - 0.3_f64.cos()));
            let at = |x: f64, y: f64| Point::new(x, y);
            let corner = corner.min(size / 5.0).max(inset + 2.0);
            walk = Walk(vec![
                (at(0.0, 0.0), corner, Way::Arc(r), None),
                (at(x, y), 0.0, Way::Arc(-r), None),
                (at(2.0 * x, 2.0 * y), corner, Way::Straight, None),
                (at(2.0 * x, 2.0 * y + size), corner, Way::Straight, None),
                (at(0.0, size), corner, Way::Straight, None),
            ]);
        }
    }
    walk
}

/// The two outlines are one: within `near` of each other and of the same area and length.
#[track_caller]
fn assert_same(what: &str, a: &Polyarc, b: &Polyarc, near: f64) {
    let apart = stray(a, b);
    assert!(apart <= near, "{what}: {apart} apart");
    assert_near(&format!("{what}: area"), a.area(), b.area(), near * a.length().max(1.0));
    assert_near(&format!("{what}: length"), a.length(), b.length(), near * 20.0);
}

/// Curved edges are fitted with arcs from one end on, so that another start gives other arcs, each
/// well within the 0.01 mm of the file format; where there is nothing to fit the outlines agree to
/// rounding.
fn nearness(outline: &Polyarc, other: &Polyarc) -> f64 {
    if outline.vertices.len() == other.vertices.len() && outline.vertices.len() < 14 {
        1e-6
    } else {
        0.013
    }
}

#[test]
fn turned_moved_and_mirrored_profiles_turn_move_and_mirror_the_blank() {
    let mut dice = Dice(20);
    let mut held = 0;
    for round in 0..8 {
        let sizes = Sizes::random(&mut dice);
        let walk = any_outline(&mut dice, round, &sizes);
        let motion = Affine::translate((dice.between(-300.0, 300.0), dice.between(-300.0, 300.0)))
            * Affine::rotate(dice.between(-3.0, 3.0));
        let Ok(before) = try_make(&sizes.yaml(&walk.yaml(1.0), "", false)) else { continue };
        held += 1;
        for (what, motion) in [("turned", motion), ("mirrored", motion * Affine::FLIP_X)] {
            let after = made(&sizes.yaml(&walk.moved(motion).yaml(1.0), "", false));
            let wanted = before.flat.outside.moved(motion);
            let near = nearness(&wanted, &after.flat.outside);
            assert_same(what, &after.flat.outside, &wanted, near);
            assert_same(what, &after.flat.net, &before.flat.net.moved(motion), near);
            let bucks = |made: &planish::make::MadePart| {
                made.buck.as_ref().expect("a buck").outline.clone()
            };
            assert_same(
                &format!("{what} buck of {round}"),
                &bucks(&after),
                &bucks(&before).moved(motion),
                near.max(0.009),
            );
            let (a, b) =
                (after.flat.forming.expect("walls"), before.flat.forming.clone().expect("walls"));
            assert_near(what, a.max_shrink(), b.max_shrink(), 1e-9);
            assert_near(what, a.max_stretch(), b.max_stretch(), 1e-9);
        }
    }
    assert_held(7, held, 8);
}

#[test]
fn another_start_and_the_other_way_round_give_the_same_blank() {
    let mut dice = Dice(21);
    let mut held = 0;
    for round in 0..2 {
        let sizes = Sizes::random(&mut dice);
        let walk = any_outline(&mut dice, round, &sizes);
        let Ok(wanted) = try_make(&sizes.yaml(&walk.yaml(1.0), "", false)) else { continue };
        held += 1;
        for first in 0..walk.0.len() {
            for (what, walk) in
                [("begun", walk.begun_at(first)), ("reversed", walk.begun_at(first).reversed())]
            {
                let flat = made(&sizes.yaml(&walk.yaml(1.0), "", false)).flat;
                let what = format!("{what} at {first} of outline {round}");
                assert_same(
                    &what,
                    &flat.outside,
                    &wanted.flat.outside,
                    nearness(&wanted.flat.outside, &flat.outside),
                );
                assert_eq!(flat.bend_zones.len(), wanted.flat.bend_zones.len(), "{what}");
            }
        }
    }
    assert_held(1, held, 2);
}

/// With corners left sharp there is little to fit: blanks agree vertex by vertex, from any start,
/// walked either way, turned and mirrored; but walked or mirrored the other way, another wall runs
/// on over its neighbour's edge at each corner, by the thickness.
#[test]
fn blanks_of_straight_walls_agree_vertex_by_vertex() {
    let mut dice = Dice(24);
    let (mut held, mut by_vertex, mut of) = (0, 0, 0);
    for _ in 0..12 {
        let sizes = Sizes::random(&mut dice);
        let count = dice.whole(3, 7);
        let mut walk = Walk::convex(&mut dice, count, 150.0 + 5.0 * sizes.inset(), 0.0);
        walk.0[0].3 = Some("open".to_owned());
        let more = "  open_edges: [open]\n";
        let Ok(wanted) = try_make(&sizes.yaml(&walk.yaml(1.0), more, false)) else { continue };
        held += 1;
        let motion = Affine::translate((dice.between(-300.0, 300.0), 40.0))
            * Affine::rotate(dice.between(-3.0, 3.0))
            * Affine::FLIP_Y;
        for first in 0..walk.0.len() {
            let begun = walk.begun_at(first);
            for (walk, motion) in [
                (begun.reversed(), Affine::IDENTITY),
                (begun.moved(motion), motion),
                (begun, Affine::IDENTITY),
            ] {
                of += 1;
                let flat = made(&sizes.yaml(&walk.yaml(1.0), more, false)).flat;
                let wanted = wanted.flat.outside.moved(motion);
                let turned_over = flat.outside.vertices.len() != wanted.vertices.len()
                    || motion != Affine::IDENTITY;
                if turned_over || stray(&flat.outside, &wanted) > 1e-3 {
                    assert!(
                        stray(&flat.outside, &wanted) < 3.0 * sizes.thickness,
                        "{}",
                        stray(&flat.outside, &wanted)
                    );
                    assert_near(
                        "area",
                        flat.outside.area(),
                        wanted.area(),
                        0.05 * sizes.thickness * wanted.length(),
                    );
                    continue;
                }
                for vertex in &wanted.vertices {
                    let nearest = flat
                        .outside
                        .vertices
                        .iter()
                        .map(|v| v.point.distance(vertex.point))
                        .fold(f64::INFINITY, f64::min);
                    assert!(nearest < 1e-6, "{nearest}");
                }
                assert_near("area", flat.outside.area(), wanted.area(), 1e-6);
                assert_near("length", flat.outside.length(), wanted.length(), 1e-6);
                by_vertex += 1;
            }
        }
    }
    assert_held(11, held, 12);
    assert_held(128, by_vertex, of);
}

/// A file in inches is the same part: to 1e-9 mm where the walls are straight or round, within the
/// fit of curves elsewhere.
#[test]
fn inches_and_millimetres_give_the_same_blank() {
    let mut dice = Dice(22);
    let (mut held, mut by_vertex) = (0, 0);
    for round in 0..5 {
        let sizes = Sizes::random(&mut dice);
        let walk = any_outline(&mut dice, round, &sizes);
        let Ok(mm) = try_make(&sizes.yaml(&walk.yaml(1.0), "", false)) else { continue };
        held += 1;
        let inches = made(&sizes.yaml(&walk.yaml(1.0 / 25.4), "", true));
        assert_same("inches", &inches.flat.outside, &mm.flat.outside, 1e-6);
        let round = sizes.yaml("{circle: {diameter: 400 mm, at: [20 mm, 3 mm]}}", "", false);
        let round_inches = sizes.yaml("{circle: {diameter: 400 mm, at: [20 mm, 3 mm]}}", "", true);
        let (a, b) = (made(&round).flat, made(&round_inches).flat);
        assert_near("round", a.outside.bounds().x1, b.outside.bounds().x1, 1e-9);
        let plate = |text: &str, scale: f64| {
            let walk = walk.yaml(scale);
            made(&formatdoc!(
                "
                part: plate
                units: {text}
                material: dc04
                thickness: 2 mm
                plate: {{profile: {walk}}}
                "
            ))
            .flat
            .outside
        };
        let (a, b) = (plate("mm", 1.0), plate("in", 1.0 / 25.4));
        if a.vertices.len() < 14 {
            by_vertex += 1;
            for (p, q) in a.vertices.iter().zip(&b.vertices) {
                assert!(p.point.distance(q.point) < 1e-9, "plate");
            }
        }
    }
    assert_held(3, held, 5);
    assert_held(1, by_vertex, held);
}

/// Trays that are alike on their left and right, with hems, returns and cut-backs: so are their
/// blanks. And no cut of theirs comes to a point, neither of metal nor into it, under 20 degrees:
/// nothing in these descriptions asks for one.
#[test]
fn symmetrical_folded_parts_have_symmetrical_blanks_without_points() {
    let mut dice = Dice(25);
    let mut made_up = 0;
    for round in 0..120 {
        let text = symmetrical_tray(&mut dice);
        let Ok(made) = try_make(&text) else { continue };
        made_up += 1;
        let outside = &made.flat.outside;
        let stray = stray(outside, &outside.moved(Affine::FLIP_X));
        assert!(stray < 1e-6, "round {round}: {stray} mm apart\n{text}");
        let (turn, at) = sharpest(outside);
        assert!(turn < 160.0, "round {round}: turns by {turn} at {at:?}\n{text}");
    }
    assert_held(112, made_up, 120);
}

/// A side of 0.5 to 6 mm that is cut back, or none.
fn cut_back(dice: &mut Dice) -> f64 {
    if dice.between(0.0, 1.0) < 0.4 { 0.0 } else { dice.between(0.5, 6.0) }
}

/// A tray with a panel from -x to x whose left and right wall are alike, and its top and bottom
/// wall each in itself.
fn symmetrical_tray(dice: &mut Dice) -> String {
    let (x, y) = (dice.between(60.0, 140.0), dice.between(50.0, 90.0));
    let thickness = dice.between(0.8, 2.0);
    let dims = ["inside", "outside"][dice.whole(0, 1) as usize];
    let mut text = formatdoc!(
        "
        part: tray
        units: mm
        material: 5052-h32
        thickness: {thickness:.6}
        folded:
          dims: {dims}
          radius: {:.6}
          panel:
            profile: {{path: [[-{x:.6}, -{y:.6}], {{to: [{x:.6}, -{y:.6}], edge: bottom}}, {{to: [{x:.6}, {y:.6}], edge: right}}, {{to: [-{x:.6}, {y:.6}], edge: top}}, {{to: [-{x:.6}, -{y:.6}], edge: left}}]}}
          flanges:
        ",
        dice.between(0.8, 2.5) * thickness
    );
    let hem = |dice: &mut Dice| {
        let gap = dice.between(1.0, 3.0);
        match dice.whole(0, 3) {
            0 => format!(
                ", hem: {{open: {{gap: {gap:.6}, return: {:.6}}}}}",
                dice.between(6.0, 9.0) + gap
            ),
            1 => ", hem: {closed: {return: 9}}".to_owned(),
            2 => format!(
                ", flanges: [{{edge: outer, bend: 90, height: {:.6}}}]",
                dice.between(10.0, 14.0)
            ),
            _ => String::new(),
        }
    };
    let same = dice.between(25.0, 45.0);
    for edge in ["bottom", "top"] {
        let height = if dice.between(0.0, 1.0) < 0.5 { same } else { dice.between(25.0, 45.0) };
        let (back, hem) = (cut_back(dice), hem(dice));
        if edge == "top" || dice.between(0.0, 1.0) < 0.6 {
            writeln!(text, "    - {{edge: {edge}, bend: 90, height: {height:.6}, cut_back: [{back:.6}, {back:.6}]{hem}}}")
                .expect("text");
        }
    }
    let (low, high) = (cut_back(dice), cut_back(dice));
    let bend = if dice.between(0.0, 1.0) < 0.7 { 90.0 } else { dice.between(75.0, 100.0) };
    let on_it = if dice.between(0.0, 1.0) < 0.7 {
        Some([dice.between(10.0, 14.0), cut_back(dice), cut_back(dice)])
    } else {
        None
    };
    for (edge, is_left) in [("right", false), ("left", true)] {
        let turned = |[low, high]: [f64; 2]| {
            if is_left {
                format!("[{high:.6}, {low:.6}]")
            } else {
                format!("[{low:.6}, {high:.6}]")
            }
        };
        let on_it = on_it.map_or_else(String::new, |[height, low, high]| {
            format!(
                ", flanges: [{{edge: outer, bend: 90, height: {height:.6}, cut_back: {}}}]",
                turned([low, high])
            )
        });
        let back = turned([low, high]);
        writeln!(
            text,
            "    - {{edge: {edge}, bend: {bend:.6}, height: {same:.6}, cut_back: {back}{on_it}}}"
        )
        .expect("text");
    }
    text
}

/// A hem between two walls with returns: the left end is the right one mirrored.
#[test]
fn a_return_ends_alike_on_both_sides_of_a_hem() {
    let tray = made(
        indoc!("
        part: cover
        units: mm
        material: 5052-h32
        thickness: 1.6
        folded:
          dims: inside
          radius: 2.4
          panel:
            profile: {path: [[-100, -60], {to: [100, -60], edge: bottom}, {to: [100, 60], edge: right}, {to: [-100, 60], edge: top}, {to: [-100, -60], edge: left}]}
          flanges:
            - {edge: top, bend: 90, height: 40, cut_back: [2.5, 2.5], hem: {open: {gap: 2, return: 9}}}
            - {edge: right, bend: 90, height: 40, flanges: [{edge: outer, bend: 90, height: 12, cut_back: [0, 6]}]}
            - {edge: left, bend: 90, height: 40, flanges: [{edge: outer, bend: 90, height: 12, cut_back: [6, 0]}]}
        "),
    );
    let outside = &tray.flat.outside;
    assert_near("mirrored", stray(outside, &outside.moved(Affine::FLIP_X)), 0.0, 1e-6);
    assert!(sharpest(outside).0 < 160.0, "{:?}", sharpest(outside));
}

/// A corner trims the end of a leaning wall short of, into or just beyond the slot beside its
/// return, by what the return leaves at that end: each has its blank, and no needle of metal stays
/// between slot and end.
#[test]
fn no_needle_stays_between_a_slot_and_a_trimmed_end() {
    let coarse = (0..30).map(|step| 1.0 + 0.1 * f64::from(step));
    let fine = (0..20).map(|step| 2.7 + 0.005 * f64::from(step));
    for back in coarse.chain(fine) {
        let wall = |edge: &str, low: &str, high: &str| {
            format!(
                "    - {{edge: {edge}, bend: 76.636, height: 32.312, cut_back: [{low}], flanges: [{{edge: outer, bend: 90, height: 11.607, cut_back: [{high}]}}]}}\n"
            )
        };
        let text = formatdoc!(
            "
            part: tray
            units: mm
            material: 5052-h32
            thickness: 1.732845
            folded:
              dims: outside
              radius: 4.154619
              panel:
                profile: {{path: [[-103.462, -58.198], {{to: [103.462, -58.198], edge: bottom}}, {{to: [103.462, 58.198], edge: right}}, {{to: [-103.462, 58.198], edge: top}}, {{to: [-103.462, -58.198], edge: left}}]}}
              flanges:
                - {{edge: top, bend: 90, height: 33.831, cut_back: [1.672, 1.672], hem: {{closed: {{return: 9}}}}}}
            {}{}",
            wall("right", "0, 1.093", &format!("0.83, {back}")),
            wall("left", "1.093, 0", &format!("{back}, 0.83")),
        );
        let outside = made(&text).flat.outside;
        let (turn, at) = sharpest(&outside);
        assert!(turn < 160.0, "turns by {turn} at {at:?} with {back} left off");
        assert_near("mirrored", stray(&outside, &outside.moved(Affine::FLIP_X)), 0.0, 1e-6);
    }
}

/// The other hand is the mirrored blank, and what folds up still does.
#[test]
fn other_hand_is_the_mirror_and_folds_the_same_way() {
    let mut dice = Dice(23);
    let mut held = 0;
    for round in 0..8 {
        let sizes = Sizes::random(&mut dice);
        let walk = any_outline(&mut dice, round, &sizes);
        let Ok(right) = try_make(&sizes.yaml(&walk.yaml(1.0), "", false)) else { continue };
        held += 1;
        let left = right.other_hand();
        // By hand, vertex by vertex: x changes its sign, and the walk its sense.
        let mut wanted: Vec<(f64, f64)> =
            right.flat.outside.vertices.iter().map(|v| (-v.point.x, v.point.y)).collect();
        let mut found: Vec<(f64, f64)> =
            left.flat.outside.vertices.iter().map(|v| (v.point.x, v.point.y)).collect();
        for all in [&mut wanted, &mut found] {
            all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        }
        assert_eq!(wanted, found);
        assert!(left.flat.outside.area() > 0.0);
        let ups = |made: &planish::make::MadePart| {
            made.flat.wall_lines.iter().map(|w| w.up).collect::<Vec<_>>()
        };
        assert_eq!(ups(&left), ups(&right));
        // And it is the blank of the mirrored profile.
        let mirrored = made(&sizes.yaml(&walk.moved(Affine::FLIP_X).yaml(1.0), "", false));
        assert_same("mirrored profile", &mirrored.flat.outside, &left.flat.outside, 0.013);
    }
    let yaml = indoc!(
        "
        part: z
        units: mm
        material: dc04
        thickness: 1.5
        bent: {radius: 2, depth: 40, section: [{leg: 20}, {bend: 90}, {leg: 30}, {bend: -45}, {leg: 25}]}
        "
    );
    let right = made(yaml);
    let left = right.other_hand();
    assert_eq!(left.flat.bends.iter().map(|bend| bend.up).collect::<Vec<_>>(), [true, false]);
    assert_near("bend", left.flat.bends[0].line[0].x, -right.flat.bends[0].line[0].x, 0.0);
    assert_held(7, held, 8);
}
