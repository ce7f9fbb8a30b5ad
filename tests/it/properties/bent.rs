//! Bent sections: the flat is the legs less the deductions, however the legs are measured.

use std::fmt::Write as _;

use crate::support::asserts::assert_near;
use crate::support::dice::Dice;
use crate::support::parts::{made, part_and_made};
use indoc::formatdoc;

/// A section made up: bend angles in degrees with their inside radii, and the flats between tangent
/// lines.
struct Section {
    thickness: f64,
    k_factor: f64,
    bends: Vec<(f64, f64)>,
    flats: Vec<f64>,
}

impl Section {
    fn random(dice: &mut Dice) -> Self {
        let count = dice.whole(1, 6) as usize;
        let bends = (0..count).map(|_| {
            let sign = if dice.between(0.0, 1.0) < 0.5 { -1.0 } else { 1.0 };
            (sign * dice.between(5.0, 165.0), dice.between(0.5, 12.0))
        });
        let bends: Vec<(f64, f64)> = bends.collect();
        let flats = (0..=count).map(|_| dice.between(5.0, 80.0)).collect();
        Self { thickness: dice.between(0.5, 4.0), k_factor: dice.between(0.3, 0.5), bends, flats }
    }

    /// N (R + K T).
    fn allowance(&self, (angle, radius): (f64, f64)) -> f64 {
        angle.abs().to_radians() * (radius + self.k_factor * self.thickness)
    }

    /// How far a leg's measure goes past its tangent line.
    fn reach(&self, dims: &str, (angle, radius): (f64, f64)) -> f64 {
        let half_tangent = (angle.abs().to_radians() / 2.0).tan();
        match dims {
            "inside" => radius * half_tangent,
            "edge" if angle.abs() > 90.0 => radius + self.thickness,
            "outside" | "edge" => (radius + self.thickness) * half_tangent,
            _ => 0.0,
        }
    }

    fn length(&self) -> f64 {
        self.flats.iter().sum::<f64>()
            + self.bends.iter().map(|bend| self.allowance(*bend)).sum::<f64>()
    }

    fn legs(&self, dims: &str) -> Vec<f64> {
        let n = self.bends.len();
        let at = |i: Option<usize>| {
            i.and_then(|i| self.bends.get(i)).map_or(0.0, |bend| self.reach(dims, *bend))
        };
        (0..=n).map(|i| self.flats[i] + at(i.checked_sub(1)) + at(Some(i))).collect()
    }

    fn yaml(&self, dims: &str, inches: bool, opening: Option<(usize, f64, f64)>) -> String {
        let scale = if inches { 1.0 / 25.4 } else { 1.0 };
        let unit = if inches { "in" } else { "mm" };
        let mut text = formatdoc!(
            "
            part: section
            units: {unit}
            material: dc04
            thickness: {:.15}
            bend_allowance: {{k_factor: {:.15}}}
            bent:
              dims: {dims}
              depth: {:.15}
              section:
            ",
            self.thickness * scale,
            self.k_factor,
            60.0 * scale
        );
        for (i, leg) in self.legs(dims).into_iter().enumerate() {
            writeln!(text, "    - leg: {:.15}", leg * scale).expect("a string takes all");
            if let Some((_, x, y)) = opening.filter(|opening| opening.0 == i) {
                let (d, x, y) = (1.0 * scale, x * scale, y * scale);
                writeln!(
                    text,
                    "      openings: [{{circle: {{diameter: {d:.15}, at: [{x:.15}, {y:.15}]}}}}]"
                )
                .expect("a string takes all");
            }
            if let Some((angle, radius)) = self.bends.get(i) {
                writeln!(text, "    - {{bend: {angle:.15}, radius: {:.15}}}", radius * scale)
                    .expect("a string takes all");
            }
        }
        text
    }
}

#[test]
fn flat_is_the_same_however_the_legs_are_measured() {
    let mut dice = Dice(1);
    for _ in 0..60 {
        let section = Section::random(&mut dice);
        for dims in ["outside", "inside", "flat", "edge"] {
            for inches in [false, true] {
                let flat = made(&section.yaml(dims, inches, None)).flat;
                let what = format!("{dims} {inches}");
                assert_near(&what, flat.outside.bounds().width(), section.length(), 1e-9);
                assert_near(&what, flat.outside.bounds().height(), 60.0, 1e-9);
                let up: Vec<bool> = section.bends.iter().map(|bend| bend.0 > 0.0).collect();
                assert_eq!(flat.bends.iter().map(|bend| bend.up).collect::<Vec<_>>(), up);
            }
        }
    }
}

/// Legs to the mould lines less a deduction for each bend.
#[test]
fn flat_is_legs_less_deductions() {
    let mut dice = Dice(2);
    for _ in 0..60 {
        let section = Section::random(&mut dice);
        let flat = made(&section.yaml("outside", false, None)).flat;
        let deductions: f64 = section
            .bends
            .iter()
            .map(|bend| 2.0 * section.reach("outside", *bend) - section.allowance(*bend))
            .sum();
        let legs: f64 = section.legs("outside").iter().sum();
        assert_near("flat", flat.outside.bounds().width(), legs - deductions, 1e-9);
        // Each bend's middle lies half an allowance past the flats and bends before it.
        let mut before = 0.0;
        for (i, bend) in section.bends.iter().enumerate() {
            before += section.flats[i];
            assert_near(
                "middle",
                flat.bends[i].line[0].x,
                before + section.allowance(*bend) / 2.0,
                1e-9,
            );
            before += section.allowance(*bend);
        }
    }
}

/// An opening x from its leg's start mould line lies x less that bend's setback past its tangent
/// line (the first leg from its free end, every other from its mould line on the
/// outside).
#[test]
fn openings_in_legs_land_where_the_hand_puts_them() {
    let mut dice = Dice(3);
    for _ in 0..60 {
        let section = Section::random(&mut dice);
        let leg = dice.whole(0, u32::try_from(section.bends.len()).expect("few")) as usize;
        let setback = if leg == 0 { 0.0 } else { section.reach("outside", section.bends[leg - 1]) };
        let (inside, y) = (dice.between(1.0, section.flats[leg] - 1.0), dice.between(2.0, 58.0));
        let before: f64 = section.flats[..leg].iter().sum::<f64>()
            + section.bends[..leg].iter().map(|bend| section.allowance(*bend)).sum::<f64>();
        for (dims, inches) in
            [("outside", false), ("inside", true), ("flat", false), ("edge", true)]
        {
            let flat = made(&section.yaml(dims, inches, Some((leg, setback + inside, y)))).flat;
            let centre = flat.openings[0].bounds().center();
            assert_near("x", centre.x, before + inside, 1e-9);
            assert_near("y", centre.y, y, 1e-9);
        }
    }
}

/// The metal of the flat is the metal of the folded part but for the bends: a bend's true section
/// is N T (R + T/2), its flat one N T (R + K T). Mass is net area times thickness times density.
#[test]
fn mass_is_net_area_times_sheet_weight() {
    let mut dice = Dice(4);
    for _ in 0..20 {
        let section = Section::random(&mut dice);
        let yaml = section.yaml("outside", false, Some((0, section.flats[0] / 2.0, 30.0)));
        let (part, made) = part_and_made(&yaml);
        let area = section.length() * 60.0 - std::f64::consts::PI / 4.0;
        assert_near("area", made.flat.net_area(), area, 1e-8);
        let density = part.material.density.value.kg_per_m3();
        assert_near(
            "mass",
            made.flat.mass(part.thickness, part.material.density.value),
            area * section.thickness * density * 1e-9,
            1e-12,
        );
    }
}
