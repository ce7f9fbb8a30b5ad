//! A blank changes as little as its part does: crown, taper, draft, a kink and trim that go to nothing leave the level shell's blank.

use crate::parts::{Dice, made, stray};

/// A rail along a curved line, an arm with a round tip, and a cover walled all round, by turns.
fn profile(dice: &mut Dice, round: u32) -> (String, f64, f64) {
    match round % 3 {
        0 => {
            let (x, bow) = (dice.between(260.0, 420.0), dice.between(-30.0, 30.0));
            let width = dice.between(60.0, 100.0);
            let line = format!("[[0, 0], [{:.3}, {bow:.3}], [{x:.3}, {:.3}]]", 0.5 * x, dice.between(-20.0, 20.0));
            (format!("  profile: {{centreline: {{through: {line}, width: {width:.3}}}}}\n  open_edges: [start, end]\n"), 0.0, x)
        }
        1 => {
            let (x, root, tip) = (dice.between(250.0, 400.0), dice.between(35.0, 50.0), dice.between(22.0, 27.0));
            let path = format!(
                "[[0, {:.3}], {{to: [{x:.3}, {:.3}], round: {:.3}}}, {{to: [{x:.3}, {tip:.3}], round: {:.3}}}, {{to: [0, {root:.3}]}}, {{to: [0, {:.3}], edge: root}}]",
                -root,
                -tip,
                0.8 * tip,
                0.8 * tip,
                -root
            );
            (format!("  profile: {{path: {path}}}\n  open_edges: [root]\n"), 0.0, x)
        }
        _ => {
            let (a, b, r) = (dice.between(160.0, 300.0), dice.between(110.0, 180.0), dice.between(28.0, 40.0));
            let profile = format!("  profile: {{rectangle: {{size: [{a:.3}, {b:.3}], corner_radius: {r:.3}}}}}\n");
            (profile, -a / 2.0, a / 2.0)
        }
    }
}

#[test]
fn what_goes_to_nothing_leaves_the_level_blank() {
    let mut dice = Dice(61);
    for round in 0..9 {
        let (profile, from, to) = profile(&mut dice, round);
        let depth = dice.between(14.0, 24.0);
        let shell = |more: &str| {
            made(&format!(
                "part: shell\nunits: mm\nmaterial: 4130-normalized\nthickness: 1.6\nhalf_shell:\n{profile}  edge_radius: 5\n{more}"
            ))
        };
        let level = shell(&format!("  depth: {depth:.3}\n"));
        for d in [0.001, 0.01, 0.1] {
            let crown = format!("  depth: {depth:.3}\n  crown: {d}\n");
            let taper = format!(
                "  depth: {{stations: [{{at: {from:.3}, depth: {:.6}}}, {{at: {to:.3}, depth: {depth:.3}}}]}}\n",
                depth + d
            );
            let draft = format!("  depth: {depth:.3}\n  draft: {d}\n");
            for (what, more) in [("crown", crown), ("taper", taper), ("draft", draft)] {
                let other = shell(&more);
                let apart = stray(&level.flat.outside, &other.flat.outside);
                // A degree of draft leans a wall of this depth by depth/57 mm.
                let factor = if what == "draft" { 5.0_f64.max(0.1 * depth) } else { 5.0 };
                assert!(apart < factor * d + 0.01, "round {round}: {apart} mm apart at {what} {d}");
                let strain = |made: &planish::make::MadePart| {
                    let forming = made.flat.forming.clone().expect("walls");
                    (forming.max_stretch(), forming.max_shrink())
                };
                let (a, b) = (strain(&level), strain(&other));
                assert!((a.0 - b.0).abs() < 2e-3 && (a.1 - b.1).abs() < 2e-3, "round {round}: {a:?} {b:?} at {what} {d}");
            }
        }
    }
}
