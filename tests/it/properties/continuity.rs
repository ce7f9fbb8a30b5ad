//! A blank changes as little as its part does: crown, taper, draft, a kink, a change of width and
//! trim that go to nothing leave the blank of the part without them.

use indoc::formatdoc;
use planish::make::MadePart;

use crate::support::asserts::assert_held;
use crate::support::dice::Dice;
use crate::support::outlines::stray;
use crate::support::parts::{made, try_make};

/// What of a shell may go to nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Change {
    /// Height of the face's bulge, mm.
    Crown,
    /// How much deeper one end is, mm.
    Taper,
    /// Degrees that the walls lean outward.
    Draft,
    /// Degrees by which a straight side turns at its middle.
    Kink,
    /// How much wider a rail is at its middle, with corners there, mm.
    Width,
    /// Metal beyond the seam, mm.
    Trim,
    /// Metal beyond open edges, mm.
    EndTrim,
}

/// A random shell of the kind whose turn it is.
struct Shell {
    round: u32,
    seed: u32,
}

impl Shell {
    /// Its description with so much of a change.
    fn with(&self, change: Change, by: f64) -> String {
        let mut dice = Dice(self.seed);
        let amount = |of: Change| if change == of { by } else { 0.0 };
        let (profile, from, to) =
            self.profile(&mut dice, amount(Change::Kink), amount(Change::Width));
        let depth = dice.between(11.0, 17.0);
        let depths = if change == Change::Taper {
            format!(
                "{{stations: [{{at: {from:.3}, depth: {:.6}}}, {{at: {to:.3}, depth: {depth:.3}}}]}}",
                depth + by
            )
        } else {
            format!("{depth:.3}")
        };
        let key = match change {
            Change::Crown => format!("  crown: {by}\n"),
            Change::Draft => format!("  draft: {by}\n"),
            Change::Trim => format!("  trim: {by}\n"),
            Change::EndTrim => format!("  end_trim: {by}\n"),
            _ => String::new(),
        };
        formatdoc!(
            "
            part: shell
            units: mm
            material: 4130-normalized
            thickness: 1.6
            half_shell:
            {profile}  edge_radius: 4
              depth: {depths}
            {key}"
        )
    }

    /// A rail along a curved line, an arm with a round tip, a cover walled all round, and a bean,
    /// by turns; and from where to where it goes.
    fn profile(&self, dice: &mut Dice, kink: f64, wider: f64) -> (String, f64, f64) {
        // A side of this length whose middle stands out by so much turns by the kink there.
        let out = |length: f64| 0.25 * length * kink.to_radians();
        match self.round % 4 {
            0 => {
                let (x, bow) = (dice.between(180.0, 260.0), dice.between(-12.0, 12.0));
                let width = dice.between(50.0, 80.0);
                let line = format!(
                    "[[0, 0], [{:.3}, {bow:.3}], [{x:.3}, {:.3}]]",
                    0.5 * x,
                    dice.between(-15.0, 15.0)
                );
                let widths = format!(
                    "[{{at: 0, width: {width:.3}}}, {{at: {:.3}, width: {:.6}}}, {{at: end, width: {width:.3}}}]",
                    0.5 * x,
                    width + wider
                );
                let profile = format!(
                    "{{centreline: {{through: {line}, width: {widths}, between: straight}}}}"
                );
                (format!("  profile: {profile}\n  open_edges: [start, end]\n"), 0.0, x)
            }
            1 => {
                let (x, root, tip) = (
                    dice.between(180.0, 260.0),
                    dice.between(30.0, 42.0),
                    dice.between(20.0, 26.0),
                );
                let middle = f64::midpoint(root, tip) + out(x);
                let path = format!(
                    "[[0, {:.6}], {{to: [{:.6}, {:.6}]}}, {{to: [{x:.6}, {:.6}], round: {:.3}}}, {{to: [{x:.6}, {tip:.6}], round: {:.3}}}, {{to: [0, {root:.6}]}}, {{to: [0, {:.6}], edge: root}}]",
                    -root,
                    0.5 * x,
                    -middle,
                    -tip,
                    0.8 * tip,
                    0.8 * tip,
                    -root
                );
                (format!("  profile: {{path: {path}}}\n  open_edges: [root]\n"), 0.0, x)
            }
            2 => {
                let (a, b, r) = (
                    dice.between(120.0, 200.0),
                    dice.between(80.0, 120.0),
                    dice.between(24.0, 34.0),
                );
                let path = format!(
                    "[[0, 0], {{to: [{:.6}, {:.6}]}}, {{to: [{a:.6}, 0], round: {r:.3}}}, {{to: [{a:.6}, {b:.6}], round: {r:.3}}}, {{to: [0, {b:.6}], round: {r:.3}}}, {{to: [0, 0], round: {r:.3}}}]",
                    0.5 * a,
                    -out(a)
                );
                (format!("  profile: {{path: {path}}}\n"), 0.0, a)
            }
            _ => {
                let (x, r, high) = (
                    dice.between(140.0, 200.0),
                    dice.between(20.0, 28.0),
                    dice.between(78.0, 100.0),
                );
                let (inner, outer) = (dice.between(6.0, 14.0), dice.between(15.0, 30.0));
                let path = format!(
                    "[[0, 0], {{to: [{x:.3}, 0], via: [{:.3}, {inner:.3}], round: {r:.3}}}, {{to: [{x:.3}, {high:.3}], round: {r:.3}}}, {{to: [0, {high:.3}], via: [{:.3}, {:.3}], round: {r:.3}}}, {{to: [0, 0], round: {r:.3}}}]",
                    0.5 * x,
                    0.5 * x,
                    high + outer
                );
                (format!("  profile: {{path: {path}}}\n"), 0.0, x)
            }
        }
    }

    /// The changes that a shell of its kind can have.
    fn changes(&self) -> &'static [Change] {
        match self.round % 4 {
            0 => &[
                Change::Crown,
                Change::Taper,
                Change::Width,
                Change::Draft,
                Change::Trim,
                Change::EndTrim,
            ],
            1 => &[
                Change::Taper,
                Change::Kink,
                Change::Crown,
                Change::Draft,
                Change::Trim,
                Change::EndTrim,
            ],
            2 => &[Change::Taper, Change::Kink, Change::Crown, Change::Draft, Change::Trim],
            _ => &[Change::Crown, Change::Taper, Change::Draft, Change::Trim],
        }
    }
}

/// Greatest stretch and shrink of the free edges, and anywhere.
fn strains(made: &MadePart) -> [f64; 4] {
    let forming = made.flat.forming.as_ref().expect("walls");
    let edge = forming.edge.iter().map(|place| place.strain);
    let (least, most) = edge
        .fold((0.0_f64, 0.0_f64), |(least, most), strain| (least.min(strain), most.max(strain)));
    [most, -least, forming.max_stretch(), forming.max_shrink()]
}

#[test]
fn what_goes_to_nothing_leaves_the_blank_without_it() {
    let (mut held, mut both_refused, mut wrong) = (0, 0, Vec::new());
    for round in 0..200_u32 {
        let shell = Shell { round, seed: 611 + 7919 * round };
        let changes = shell.changes();
        let change = changes[(round / 4) as usize % changes.len()];
        let d = [0.001, 0.01, 0.1][(round / 3) as usize % 3];
        let (text, other) = (shell.with(change, 0.0), shell.with(change, d));
        let Ok(without) = try_make(&text) else {
            assert!(
                try_make(&other).is_err(),
                "round {round}: a blank at {change:?} {d}, none at 0\n{other}"
            );
            both_refused += 1;
            continue;
        };
        let with = made(&other);
        assert!(with.maps, "maps and blank contradict each other\n{other}");
        let apart = stray(&without.flat.outside, &with.flat.outside);
        if apart > 5.0 * d + 0.01 {
            wrong.push(format!("round {round}: {apart} mm apart at {change:?} {d}\n{other}"));
        }
        let (a, b) = (strains(&without), strains(&with));
        // A free edge strains by its distance from what holds it: a tenth of a millimetre more of a
        // low wall is a hundredth of its strain.
        let differ = |i: usize| (a[i] - b[i]).abs() - 0.1 * d * a[i];
        if differ(0).max(differ(1)) > 2e-3 || differ(2).max(differ(3)) > 2e-3 {
            wrong.push(format!("round {round}: {a:?} and {b:?} at {change:?} {d}\n{other}"));
        }
        held += 1;
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert_held(198, held, held + both_refused);
}
