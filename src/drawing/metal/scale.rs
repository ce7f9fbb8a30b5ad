//! Round levels for a scale of values.

/// Leading digits of a round step of strain, and of thickness, which is read to more places.
const STRAIN_STEPS: [f64; 9] = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0];
const THICKNESS_STEPS: [f64; 3] = [1.0, 2.0, 5.0];

/// The smallest number that is not below `least` and begins with one of the digits.
fn round_up(least: f64, digits: &[f64]) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    let digit = digits.iter().find(|digit| **digit * power >= least * (1.0 - 1e-9));
    digit.copied().unwrap_or(10.0) * power
}

/// Levels for values up to `largest` on both sides of 0: five a side, evenly spaced, none at 0, so
/// that one band lies around 0. No value is more than one step beyond the last level.
pub(super) fn strain_levels(largest: f64) -> Vec<f64> {
    let step = round_up((largest / 6.0).max(1e-4), &STRAIN_STEPS);
    (1..=5)
        .rev()
        .map(|k| -step * f64::from(k))
        .chain((1..=5).map(|k| step * f64::from(k)))
        .collect()
}

/// Evenly spaced round levels between two values, at most seven, at least one.
pub(super) fn thickness_levels(least: f64, greatest: f64) -> Vec<f64> {
    let mut step = round_up(((greatest - least) / 8.0).max(greatest * 1e-3), &THICKNESS_STEPS);
    loop {
        let (from, to) = ((least / step).floor() + 1.0, (greatest / step).ceil() - 1.0);
        #[expect(
            clippy::cast_possible_truncation,
            reason = "round_up keeps their number below ten"
        )]
        let levels: Vec<f64> =
            (from as i64..=to.max(from) as i64).map(|k| k as f64 * step).collect();
        if levels.len() <= 7 {
            return levels;
        }
        step = round_up(step * 1.01, &THICKNESS_STEPS);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_of_strain_are_round_even_and_lie_as_far_on_both_sides() {
        for largest in [0.0, 0.003, 0.0451, 0.06, 0.124, 0.9] {
            let levels = strain_levels(largest);
            let step = levels[5];
            assert_eq!(levels.len(), 10);
            assert!(levels.windows(2).all(|pair| pair[1] - pair[0] > step * 0.99));
            assert!(levels.iter().zip(levels.iter().rev()).all(|(a, b)| (a + b).abs() < 1e-12));
            assert!(largest <= step * 6.0 + 1e-9, "{largest}: {levels:?}");
        }
        assert!(
            (strain_levels(0.0451)[5] - 0.008).abs() < 1e-12
                && (strain_levels(0.124)[5] - 0.025).abs() < 1e-12
        );
    }

    #[test]
    fn levels_of_thickness_are_few_and_cover_the_range() {
        for (least, greatest) in
            [(1.4, 1.83), (1.6, 1.6), (0.0631, 0.0702), (1.5999, 1.6001), (0.9, 24.0)]
        {
            let levels = thickness_levels(least, greatest);
            assert!((1..=7).contains(&levels.len()), "{levels:?}");
            let step = levels.get(1).map_or(f64::INFINITY, |second| second - levels[0]);
            assert!(
                levels[0] - least <= step + 1e-9
                    && greatest - levels[levels.len() - 1] <= step + 1e-9,
                "{levels:?}"
            );
        }
    }
}
