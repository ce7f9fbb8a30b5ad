//! Least bend radii: an aircraft design book's shop table, the Aluminum Association type table,
//! aircraft sheet tables.

use planish::shop::material::Material;
use planish::shop::minimum_radius::{
    BendLine, NoMinimumRadius, design_book_radius, minimum_radius,
};
use planish::units::{Angle, Length};

use crate::support::asserts::assert_near;

/// The design book's columns, in its order.
const COLUMNS: [&str; 9] = [
    "aluminium 6061-T6",
    "aluminium 5052-H32",
    "aluminium 5052-H34 and 6061-T4",
    "annealed aluminium",
    "aluminium 2024-T3",
    "mild steel and annealed 4130",
    "normalised 4130",
    "stainless 304",
    "stainless 302",
];

/// The design book's rows in inches, read there; NaN where it gives none.
const ROWS: [(f64, [f64; 9]); 6] = [
    (0.040, [0.125, 0.063, 0.094, 0.063, 0.188, 0.094, 0.125, 0.094, 0.125]),
    (0.050, [0.156, 0.094, 0.094, 0.063, 0.188, 0.094, 0.156, 0.094, 0.125]),
    (0.063, [0.188, 0.094, 0.125, 0.063, 0.250, 0.094, 0.188, 0.125, 0.188]),
    (0.074, [0.250, 0.125, 0.156, 0.094, 0.281, 0.125, 0.250, 0.156, 0.250]),
    (0.090, [0.312, 0.156, 0.188, 0.094, 0.375, 0.125, 0.281, 0.188, 0.250]),
    (0.125, [0.500, 0.188, 0.250, 0.125, 0.562, 0.188, 0.375, f64::NAN, f64::NAN]),
];

#[test]
fn design_book_cell_by_cell() {
    for (thickness, radii) in ROWS {
        for (column, printed) in COLUMNS.into_iter().zip(radii) {
            let answer = design_book_radius(column, Length::from_inches(thickness));
            if printed.is_nan() {
                assert!(
                    matches!(answer, Err(NoMinimumRadius::LeftOpen { .. })),
                    "{column} {thickness}"
                );
            } else {
                assert_near(
                    &format!("{column} {thickness}"),
                    answer.expect("in the table").radius.inches(),
                    printed,
                    1e-12,
                );
            }
        }
    }
}

/// The book rounds 3/32 in to 0.094 and 5/32 to 0.156: each fraction is what its figure means, and
/// 1/64 in less is not.
#[test]
fn a_binary_fraction_is_as_good_as_its_rounded_figure() {
    for (inches, thirty_seconds) in [(0.0375, 3.0), (0.0630, 4.0), (0.0740, 5.0), (0.0900, 6.0)] {
        let answer =
            design_book_radius("stainless 304", Length::from_inches(inches)).expect("in the table");
        assert!(answer.allows(Length::from_inches(thirty_seconds / 32.0)), "{answer:?}");
        assert!(
            !answer.allows(Length::from_inches(thirty_seconds / 32.0 - 1.0 / 64.0)),
            "{answer:?}"
        );
        assert!(!answer.allows(answer.radius - Length::from_inches(0.000_51)), "{answer:?}");
    }
}

fn least(material: &str, inches: f64) -> Result<f64, NoMinimumRadius> {
    let material = Material::named(material).expect("built in");
    let angle = Angle::from_degrees(90.0);
    minimum_radius(material, Length::from_inches(inches), angle, BendLine::AcrossGrain)
        .map(|answer| answer.radius.inches())
}

/// 0.071 in takes the next thicker row, 0.074: annealed 0.125, normalised 0.250 in. Follows from
/// the table read.
#[test]
fn seventy_one_thousandths_takes_the_next_thicker_row() {
    assert_near("annealed", least("4130-annealed", 0.071).expect("in the table"), 0.125, 1e-12);
    assert_near("normalised", least("4130-normalized", 0.071).expect("in the table"), 0.250, 1e-12);
}

/// Normalised 4130 has no place in the table of DIN 6935, and the answer says so; annealed 4130 has
/// one.
#[test]
fn normalised_4130_is_outside_din_and_said_to_be() {
    let notes = |name: &str| {
        let material = Material::named(name).expect("built in");
        let angle = Angle::from_degrees(90.0);
        let answer = minimum_radius(material, Length::from_mm(1.8), angle, BendLine::AcrossGrain)
            .expect("in the table");
        assert!(answer.source.contains("design book"), "{}", answer.source);
        answer.notes.join("; ")
    };
    assert!(
        notes("4130-normalized").contains("655 MPa is outside the table, which ends at 640 MPa")
    );
    assert!(notes("4130-annealed").contains("4 mm by DIN 6935"));
}

/// Multiples of the thickness at 1/64, 1/32, 1/16, 1/8 in (Aluminum Association type table, read
/// there): least values of the trade, which the program's table may exceed but never undercut.
#[test]
fn aluminium_association_multiples_are_not_undercut() {
    let rows = [
        ("5052-h32", [0.0, 0.0, 1.0, 1.5]),
        ("6061-t6", [1.0, 1.0, 1.5, 2.5]),
        ("6061-o", [0.0, 0.0, 0.0, 1.0]),
    ];
    for (material, multiples) in rows {
        for (sixty_fourths, multiple) in [1.0, 2.0, 4.0, 8.0].into_iter().zip(multiples) {
            let thickness = sixty_fourths / 64.0;
            let radius = least(material, thickness).expect("aluminium goes on");
            assert!(radius >= multiple * thickness - 1e-9, "{material} at {thickness}: {radius}");
        }
    }
}

/// Aircraft sheet table, T 0.032 in: 6061-O 0.030, 6061-T6 0.120 in. Read there; not to be
/// undercut.
#[test]
fn aircraft_sheet_table_is_not_undercut() {
    assert!(least("6061-o", 0.032).expect("in the table") >= 0.030);
    assert!(least("6061-t6", 0.032).expect("in the table") >= 0.120);
}
