//! Material properties: ASM data sheets, a supplier's specification page, textbook tables, and the
//! flow curves that follow.

use planish::shop::figure::Figure;
use planish::shop::gauge::GaugeFamily;
use planish::shop::material::{Material, StrengthOrigin, considere_strength, considere_ultimate};
use planish::units::{Density, Length, Stress};

use crate::support::asserts::assert_near;

fn material(name: &str) -> &'static Material {
    Material::named(name).expect("built in")
}

/// Whether a printed value lies in the range that the material carries, to half a printed unit.
#[track_caller]
fn assert_within(what: &str, figure: &Figure<Stress>, printed_mpa: f64) {
    let holds = figure.low.mpa() - 0.75 <= printed_mpa && printed_mpa <= figure.high.mpa() + 0.75;
    assert!(holds, "{what}: {printed_mpa} outside {} to {}", figure.low.mpa(), figure.high.mpa());
}

/// 1 ksi in megapascals as tables print it.
const KSI: f64 = 6.894_757;

/// (material, ultimate, yield in megapascals): each line must lie in the range carried for its
/// material.
#[test]
fn strengths_of_every_source_lie_in_the_range_carried() {
    let printed = [
        // ASM data sheets, read there.
        ("4130-annealed", 560.0, 460.0),
        ("4130-normalized", 670.0, 435.0),
        // A machine-design textbook's appendix, read there.
        ("4130-annealed", 558.0, 359.0),
        // Supplier's specification page for sheet to 0.187 in (AMS 6345), read there.
        ("4130-normalized", 95.0 * KSI, 75.0 * KSI),
        // Supplier's page: annealed sheet 85 ksi at most, typical yield 66.7. Read there.
        ("4130-annealed", 85.0 * KSI, 66.7 * KSI),
        // Published tables, read there.
        ("1018", 58.0 * KSI, 32.0 * KSI),
        ("1018", 64.0 * KSI, 54.0 * KSI),
        ("1020", 57.3 * KSI, 42.8 * KSI),
        ("1020", 64.0 * KSI, 50.3 * KSI),
        ("304", 75.0 * KSI, 30.0 * KSI),
        ("6061-t6", 310.0, 276.0),
        ("6061-o", 124.0, 55.0),
        // Typical, and the Aluminum Design Manual's least, read there.
        ("5052-h32", 228.0, 193.0),
        ("5052-h32", 215.0, 160.0),
        // MIL-HDBK-5J A-basis 42 and 36 ksi, from memory.
        ("6061-t6", 42.0 * KSI, 36.0 * KSI),
        // EN 10130: 270 to 350 MPa, yield 210 at most, from memory.
        ("dc04", 270.0, 210.0),
        ("dc04", 350.0, 210.0),
        // 50 and 40 ksi, from memory.
        ("ti-cp-2", 50.0 * KSI, 40.0 * KSI),
    ];
    for (name, ultimate, yield_strength) in printed {
        assert_within(&format!("{name} ultimate"), &material(name).ultimate_strength, ultimate);
        assert_within(&format!("{name} yield"), &material(name).yield_strength, yield_strength);
    }
}

/// Two published yields of annealed 4130, 359 and 460 megapascals, must both be carried: springback
/// goes by them.
#[test]
fn annealed_4130_carries_both_yields() {
    let yields = &material("4130-annealed").yield_strength;
    assert_near("low", yields.low.mpa(), 359.0, 0.5);
    assert_near("high", yields.high.mpa(), 460.0, 0.5);
    // The sheet's condition still shows: annealed is taken as softer than normalised.
    assert!(yields.value < material("4130-normalized").yield_strength.value);
}

/// (material, elastic modulus in gigapascals): ASM 205 (4130), 193 (304), 68.9 (6061), 70.3
/// (Aluminum Design Manual, 5052), read there; 14.9e3 ksi (titanium grade 2), read in a secondary
/// source.
#[test]
fn elastic_moduli() {
    let printed = [
        ("4130-annealed", 205.0),
        ("4130-normalized", 205.0),
        ("304", 193.0),
        ("6061-t6", 68.9),
        ("6061-o", 68.9),
        ("5052-h32", 70.3),
        ("ti-cp-2", 14.9e3 * KSI / 1000.0),
    ];
    for (name, gpa) in printed {
        assert_near(name, material(name).elastic_modulus.value.mpa() / 1000.0, gpa, 0.05);
    }
}

/// Densities in g/cc: ASM 7.85 (4130), 2.70 (6061), 2.68 (5052), 7.9 to 8.0 (304), read there;
/// 0.163 lb/in3 (titanium grade 2), read in a secondary source.
#[test]
fn densities() {
    for (name, printed) in
        [("4130-annealed", 7.85), ("6061-t6", 2.70), ("6061-o", 2.70), ("5052-h32", 2.68)]
    {
        assert_near(name, material(name).density.value.kg_per_m3() / 1000.0, printed, 0.005);
    }
    let stainless = &material("304").density;
    assert_near("304 from", stainless.low.kg_per_m3() / 1000.0, 7.9, 1e-9);
    assert_near("304 to", stainless.high.kg_per_m3() / 1000.0, 8.0, 1e-9);
    let titanium = material("ti-cp-2").density.value;
    assert_near("ti-cp-2", titanium / Density::from_lb_per_in3(1.0), 0.163, 0.0005);
}

/// 0.071 in of 4130 at 0.283 lb/in3: 2.893 lb/ft2 = 14.13 kg/m2. Worked out; 0.283 from memory and
/// a secondary source.
#[test]
fn mass_of_a_square_metre() {
    let thickness = Length::from_inches(0.071);
    let printed = Density::from_lb_per_in3(0.283);
    assert_near("kg/m2", printed.sheet_kg_per_m2(thickness), 14.13, 0.005);
    assert_near(
        "lb/ft2",
        printed.sheet_kg_per_m2(thickness) / 0.453_592_37 * 0.3048 * 0.3048,
        2.893,
        0.0005,
    );
    let chromoly = &material("4130-annealed").density;
    assert!(chromoly.low <= printed && printed <= chromoly.high);
}

/// Elongations: 4130 annealed 21.5 % (ASM) and 28 % (textbook); normalised sheet 8, 10, 12 % by
/// thickness; 1018 25 and 15 %; 6061-T6 12, 6061-O 25, 5052-H32 12 %. Read there.
#[test]
fn elongations() {
    let printed = [
        ("4130-annealed", 0.215),
        ("4130-annealed", 0.28),
        ("4130-normalized", 0.08),
        ("4130-normalized", 0.10),
        ("4130-normalized", 0.12),
        ("1018", 0.25),
        ("1018", 0.15),
        ("6061-t6", 0.12),
        ("6061-o", 0.25),
        ("5052-h32", 0.12),
    ];
    for (name, elongation) in printed {
        let carried = &material(name).elongation;
        assert!(carried.low <= elongation && elongation <= carried.high, "{name} {elongation}");
    }
}

/// ultimate = K n^n exp(-n): 4135 annealed 633.6, low-carbon 287.9, 304 567.6, 6061-O 121.6, 5052-O
/// 141.4 megapascals. Worked out from K and n of Kalpakjian and Schmid, Table 2.3 (read there;
/// 5052-O from an encyclopaedia's table).
#[test]
fn ultimate_of_a_flow_curve_and_back() {
    let printed = [
        (1015.0, 0.17, 633.6),
        (530.0, 0.26, 287.9),
        (1275.0, 0.45, 567.6),
        (205.0, 0.20, 121.6),
        (210.0, 0.13, 141.4),
    ];
    for (strength, n, ultimate) in printed {
        assert_near(
            "ultimate",
            considere_ultimate(Stress::from_mpa(strength), n).mpa(),
            ultimate,
            0.05,
        );
        let back = considere_strength(Stress::from_mpa(ultimate), n).mpa();
        assert_near("K", back, strength, strength * 0.05 / ultimate + 1e-9);
    }
}

/// Flow curves taken from tables: K and n as printed (Kalpakjian and Schmid, Table 2.3, and
/// Callister; read there).
#[test]
fn flow_curves_from_tables() {
    for (name, strength, n) in [
        ("6061-t6", 410.0, 0.05),
        ("6061-o", 205.0, 0.20),
        ("304", 1275.0, 0.45),
        ("1008", 600.0, 0.21),
    ] {
        let metal = material(name);
        assert_eq!(metal.strength_origin, StrengthOrigin::Given, "{name}");
        assert_near(&format!("{name} K"), metal.strength_coefficient.value.mpa(), strength, 0.5);
        assert_near(&format!("{name} n"), metal.hardening_exponent.value, n, 0.005);
    }
}

/// Flow curves and tensile tables don't agree; within a fifth they are plausible. Derived ones
/// agree by their making.
#[test]
fn flow_curves_reach_the_ultimate_strength_within_a_fifth() {
    for metal in Material::built_in() {
        let ratio = metal.implied_ultimate() / metal.ultimate_strength.value;
        let fifth = if metal.strength_origin == StrengthOrigin::Derived { 1e-9 } else { 0.2 };
        assert_near(&metal.name, ratio, 1.0, fifth);
    }
}

/// Typical n and r (Hosford and Caddell, Metal Forming, 3rd edition, Table 19.1, read there):
/// low-carbon n 0.20 to 0.25, r 1.4 to 2.0; austenitic stainless 0.40 to 0.55, 0.9 to 1.0;
/// aluminium alloys r 0.6 to 0.8; alpha titanium r 3 to 5.
#[test]
fn hardening_and_anisotropy_lie_in_the_typical_ranges() {
    let within =
        |figure: &Figure<f64>, low: f64, high: f64| low <= figure.value && figure.value <= high;
    for name in ["1008", "dc04"] {
        assert!(within(&material(name).hardening_exponent, 0.20, 0.25), "{name}");
        assert!(within(&material(name).normal_anisotropy, 1.4, 2.0), "{name}");
    }
    assert!(within(&material("304").hardening_exponent, 0.40, 0.55));
    assert!(within(&material("304").normal_anisotropy, 0.9, 1.0));
    for name in ["6061-t6", "6061-o", "5052-h32", "3003"] {
        assert!(within(&material(name).normal_anisotropy, 0.6, 0.8), "{name}");
    }
    assert!(within(&material("ti-cp-2").normal_anisotropy, 3.0, 5.0));
}

/// The gauge series follows from the kind of metal; titanium is sold by the decimal.
#[test]
fn gauge_series_by_metal() {
    let printed = [
        ("4130-annealed", Some(GaugeFamily::Steel)),
        ("dc04", Some(GaugeFamily::Steel)),
        ("304", Some(GaugeFamily::Stainless)),
        ("6061-t6", Some(GaugeFamily::Aluminium)),
        ("3003", Some(GaugeFamily::Aluminium)),
        ("ti-cp-2", None),
    ];
    for (name, family) in printed {
        assert_eq!(material(name).gauge_family, family, "{name}");
    }
}
