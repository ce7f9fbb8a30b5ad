//! Sheet gauges in inches: two published tables that agree (read there), and the rules that the
//! series are made by.

use planish::shop::gauge::{GaugeFamily, gauge, gauges};
use planish::units::Length;

use crate::support::asserts::{assert_held, assert_near};

/// (gauge, steel, galvanised, stainless, aluminium), with the digits that were printed.
const PRINTED: [(u32, [&str; 4]); 11] = [
    (10, ["0.1345", "0.1382", "0.1406", "0.1019"]),
    (11, ["0.1196", "0.1233", "0.1250", "0.0907"]),
    (12, ["0.1046", "0.1084", "0.1094", "0.0808"]),
    (13, ["0.0897", "0.0934", "0.0937", "0.0720"]),
    (14, ["0.0747", "0.0785", "0.0781", "0.0641"]),
    (15, ["0.0673", "0.0710", "0.070", "0.057"]),
    (16, ["0.0598", "0.0635", "0.0625", "0.0508"]),
    (18, ["0.0478", "0.0516", "0.0500", "0.0403"]),
    (20, ["0.0359", "0.0396", "0.0375", "0.0320"]),
    (22, ["0.0299", "0.0336", "0.0312", "0.0253"]),
    (24, ["0.0239", "0.0276", "0.0250", "0.0201"]),
];

#[test]
fn both_tables() {
    for (number, row) in PRINTED {
        for (family, printed) in GaugeFamily::ALL.into_iter().zip(row) {
            let decimals = i32::try_from(printed.len() - 2).expect("short");
            let inches = gauge(family, number).expect("in the series").thickness.inches();
            let half_a_digit = 0.5 * 10.0_f64.powi(-decimals) + 1e-12;
            assert_near(
                &format!("{number} ga {family}"),
                inches,
                printed.parse().expect("a number"),
                half_a_digit,
            );
        }
    }
}

/// Manufacturers' Standard: pounds per square foot over 41.82. Read there, with 10 ga 5.625, 16 ga
/// 2.5, 18 ga 2.0, 20 ga 1.5; the weights of the others are the series' own steps, from memory.
/// Holds every row of the program, printed or not.
#[test]
fn steel_rule() {
    let pounds = [
        (3, 10.0),
        (4, 9.375),
        (5, 8.75),
        (6, 8.125),
        (7, 7.5),
        (8, 6.875),
        (9, 6.25),
        (10, 5.625),
        (11, 5.0),
        (12, 4.375),
        (13, 3.75),
        (14, 3.125),
        (15, 2.8125),
        (16, 2.5),
        (17, 2.25),
        (18, 2.0),
        (19, 1.75),
        (20, 1.5),
        (21, 1.375),
        (22, 1.25),
        (23, 1.125),
        (24, 1.0),
        (25, 0.875),
        (26, 0.75),
        (27, 0.6875),
        (28, 0.625),
        (29, 0.5625),
        (30, 0.5),
    ];
    assert_eq!(
        gauges().iter().filter(|gauge| gauge.family == GaugeFamily::Steel).count(),
        pounds.len()
    );
    let (mut stainless_held, mut galvanised_held) = (0, 0);
    for (number, pounds) in pounds {
        let steel = gauge(GaugeFamily::Steel, number).expect("in the series").thickness.inches();
        assert_near(&format!("{number} ga steel"), steel, pounds / 41.82, 0.000_06);
        // The stainless series is the old United States standard: the same weights over 40. Rule
        // from memory.
        if let Ok(stainless) = gauge(GaugeFamily::Stainless, number) {
            stainless_held += 1;
            assert_near(
                &format!("{number} ga stainless"),
                stainless.thickness.inches(),
                pounds / 40.0,
                0.000_06,
            );
        }
        // Galvanised is 0.0037 in over the uncoated sheet, to a ten-thousandth. From memory.
        if let Ok(galvanised) = gauge(GaugeFamily::Galvanised, number) {
            galvanised_held += 1;
            assert_near(
                &format!("{number} ga galvanised"),
                galvanised.thickness.inches(),
                steel + 0.0037,
                0.000_11,
            );
        }
    }
    // Nothing of the program's other two series stays unheld.
    let of = |family: GaugeFamily| gauges().iter().filter(|gauge| gauge.family == family).count();
    assert_eq!(
        (stainless_held, galvanised_held),
        (of(GaugeFamily::Stainless), of(GaugeFamily::Galvanised))
    );
}

/// Brown and Sharpe: 0.005 in x 92^((36 - n)/39). Rule from memory; the printed rows agree with it.
#[test]
fn aluminium_rule() {
    let mut held = 0;
    for gauge in gauges().iter().filter(|gauge| gauge.family == GaugeFamily::Aluminium) {
        held += 1;
        let by_rule = 0.005 * 92.0_f64.powf((36.0 - f64::from(gauge.number)) / 39.0);
        assert_near(&gauge.to_string(), gauge.thickness.inches(), by_rule, 0.000_051);
    }
    assert_held(25, held, gauges().len());
}

/// 0.071 in chromoly is no gauge of the steel series, though galvanised 15 ga is 0.0710: it must
/// never be taken for one.
#[test]
fn seventy_one_thousandths_is_no_steel_gauge() {
    let is_near = |family: GaugeFamily| {
        gauges()
            .iter()
            .filter(move |gauge| gauge.family == family)
            .any(|gauge| (gauge.thickness - Length::from_inches(0.071)).inches().abs() < 0.0005)
    };
    assert!(!is_near(GaugeFamily::Steel));
    assert!(is_near(GaugeFamily::Galvanised));
}

/// A number between two gauges names both.
#[test]
fn a_missing_number_names_its_neighbours() {
    let miss = gauge(GaugeFamily::Stainless, 9)
        .map(|_| ())
        .and(gauge(GaugeFamily::Stainless, 31).map(|_| ()));
    assert_eq!(miss.expect_err("no 31 ga").nearest[0].number, 30);
}
