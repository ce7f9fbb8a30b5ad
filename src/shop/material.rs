//! The metals: strength, stiffness, ductility and density, each figure with its range and source.

use std::fmt;
use std::sync::LazyLock;

use serde::Deserialize;

use crate::fe::law::SheetLaw;
use crate::shop::figure::{Figure, WrittenFigure};
use crate::shop::gauge::GaugeFamily;
use crate::shop::minimum_radius::RadiusRule;
use crate::shop::read_built_in;
use crate::units::{Density, Digits, Stress};

/// A sheet metal in one condition.
#[derive(Debug, Clone, PartialEq)]
pub struct Material {
    /// The name it goes by in descriptions.
    pub name: String,
    /// What it is, in words.
    pub description: String,
    /// The gauge series it is sold by; `None` for metals sold by the decimal alone.
    pub gauge_family: Option<GaugeFamily>,
    /// Density.
    pub density: Figure<Density>,
    /// Young's modulus E.
    pub elastic_modulus: Figure<Stress>,
    /// Poisson's ratio.
    pub poisson_ratio: Figure<f64>,
    /// Yield strength (0.2 % offset).
    pub yield_strength: Figure<Stress>,
    /// Ultimate tensile strength, engineering stress.
    pub ultimate_strength: Figure<Stress>,
    /// Elongation at fracture of a tensile test, as a fraction.
    pub elongation: Figure<f64>,
    /// K of Hollomon's curve: true stress = K x (true plastic strain)^n.
    pub strength_coefficient: Figure<Stress>,
    /// Whether K was measured or follows from the ultimate strength and n.
    pub strength_origin: StrengthOrigin,
    /// n of Hollomon's curve; also the true strain at which a tensile strip begins to neck
    /// (Considère).
    pub hardening_exponent: Figure<f64>,
    /// Normal anisotropy (r0 + 2 r45 + r90)/4: strain in width over strain in thickness when
    /// pulled.
    pub normal_anisotropy: Figure<f64>,
    /// How its least inside bend radius is found.
    pub radius_rule: RadiusRule,
    /// Strains of a hammered free edge at which to take care and to stop.
    pub edge_limits: EdgeLimits,
    /// What it asks care for.
    pub hazards: Vec<Hazard>,
}

/// Declares the hazards, each with its name in files, so that the list of all of them can lack
/// none.
macro_rules! hazards {
    ($($(#[$doc:meta])+ $name:ident = $text:literal,)+) => {
        /// What a metal asks care for when it is cut, ground or welded.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
        pub enum Hazard {
            $($(#[$doc])+ #[serde(rename = $text)] $name,)+
        }

        impl Hazard {
            /// All of them, by the names that files give them.
            pub const NAMED: &'static [(&'static str, Self)] = &[$(($text, Self::$name)),+];
        }
    };
}

hazards! {
    /// Its fume and dust hold chromium.
    Chromium = "chromium",
    /// A chromium-molybdenum steel that hardens when it cools fast from welding.
    ChromiumMolybdenum = "chromium_molybdenum",
    /// It is coated with zinc.
    Zinc = "zinc",
    /// Aluminium or magnesium: its dross makes hydrogen in water, its dust burns.
    LightMetal = "light_metal",
    /// Titanium: its dust and chips burn.
    Titanium = "titanium",
}

/// Where K of Hollomon's curve comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StrengthOrigin {
    /// A figure of its own.
    Given,
    /// K = ultimate (e/n)^n.
    Derived,
}

/// The strains at which to take care and to stop, of one kind of edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrainLimit {
    /// From here on: work slowly, in passes, on a dressed edge.
    pub caution: f64,
    /// Beyond this: another shape, another metal or another way.
    pub stop: f64,
}

/// What a hammered free edge stands, as engineering strain; a shop's own figures come before these.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeLimits {
    /// Of an edge that grows longer (inside curves).
    pub stretch: StrainLimit,
    /// Of an edge that grows shorter (outside curves), shortening counted positive.
    pub shrink: StrainLimit,
    /// Where the figures come from.
    pub source: String,
}

impl Material {
    /// Its law as a sheet, for what forming strains.
    #[must_use]
    pub fn sheet_law(&self) -> SheetLaw {
        SheetLaw {
            strength_mpa: self.strength_coefficient.value.mpa(),
            hardening: self.hardening_exponent.value,
            anisotropy: self.normal_anisotropy.value,
            elastic_modulus_mpa: self.elastic_modulus.value.mpa(),
        }
    }

    /// The built-in material of that name.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        BUILT_IN.iter().find(|material| material.name == name)
    }

    /// All built-in materials, in the order of their file.
    #[must_use]
    pub fn built_in() -> &'static [Self] {
        &BUILT_IN
    }

    /// The ultimate strength that K and n imply, for comparison with the tabled one.
    #[must_use]
    pub fn implied_ultimate(&self) -> Stress {
        considere_ultimate(self.strength_coefficient.value, self.hardening_exponent.value)
    }

    /// The engineering strain up to which a pulled strip stays even in width: e^n - 1 (Considère).
    #[must_use]
    pub fn uniform_strain(&self) -> f64 {
        self.hardening_exponent.value.exp_m1()
    }

    /// Every figure that can't be true of a metal, in words; empty for a sound material.
    #[must_use]
    pub fn faults(&self) -> Vec<ImpossibleFigure> {
        let mut faults = Vec::new();
        let mut hold = |figure: &'static str,
                        value: &Figure<f64>,
                        above: f64,
                        below: f64,
                        unit: &'static str| {
            let sound = value.low > above
                && value.high < below
                && value.low <= value.value
                && value.value <= value.high;
            if !sound {
                faults.push(ImpossibleFigure::OutOfRange {
                    figure,
                    value: value.value,
                    above,
                    below,
                    unit,
                });
            }
        };
        let mpa = |figure: &Figure<Stress>| figure.clone().map(Stress::mpa);
        hold("density", &self.density.clone().map(Density::kg_per_m3), 500.0, 25_000.0, "kg/m3");
        hold("elastic_modulus", &mpa(&self.elastic_modulus), 1_000.0, 1_000_000.0, "MPa");
        hold("poisson_ratio", &self.poisson_ratio, 0.0, 0.5, "");
        hold("yield", &mpa(&self.yield_strength), 0.0, 10_000.0, "MPa");
        hold("ultimate", &mpa(&self.ultimate_strength), 0.0, 10_000.0, "MPa");
        hold("elongation", &self.elongation, 0.0, 2.0, "");
        hold("strength", &mpa(&self.strength_coefficient), 0.0, 20_000.0, "MPa");
        hold("n", &self.hardening_exponent, 0.0, 1.0, "");
        hold("r", &self.normal_anisotropy, 0.0, 10.0, "");
        if self.ultimate_strength.value < self.yield_strength.value {
            faults.push(ImpossibleFigure::UltimateBelowYield {
                yield_strength: self.yield_strength.value,
                ultimate_strength: self.ultimate_strength.value,
            });
        }
        faults
    }

    /// Every source that stands beside a figure of this material.
    #[must_use]
    pub fn sources(&self) -> Vec<(&'static str, &str)> {
        vec![
            ("density", &self.density.source),
            ("elastic_modulus", &self.elastic_modulus.source),
            ("poisson_ratio", &self.poisson_ratio.source),
            ("yield", &self.yield_strength.source),
            ("ultimate", &self.ultimate_strength.source),
            ("elongation", &self.elongation.source),
            ("strength", &self.strength_coefficient.source),
            ("n", &self.hardening_exponent.source),
            ("r", &self.normal_anisotropy.source),
            ("minimum_radius", self.radius_rule.source()),
            ("edge_limits", &self.edge_limits.source),
        ]
    }
}

/// K = ultimate (e/n)^n: the strength coefficient of the Hollomon curve whose tensile test reaches
/// `ultimate`.
///
/// Letters: ultimate = engineering ultimate strength (megapascals), e = 2.71828…, n = hardening
/// exponent (0 < n < 1). Derivation: true stress K e^n over the engineering area factor exp(strain)
/// is greatest at true strain n (Considère). Checked in `tests/it/published/material_tables.rs`.
#[must_use]
pub fn considere_strength(ultimate: Stress, n: f64) -> Stress {
    ultimate * (std::f64::consts::E / n).powf(n)
}

/// ultimate = K n^n exp(-n): the engineering ultimate strength that a Hollomon curve reaches;
/// [`considere_strength`] turned round.
#[must_use]
pub fn considere_ultimate(strength_coefficient: Stress, n: f64) -> Stress {
    strength_coefficient * (n / std::f64::consts::E).powf(n)
}

/// K with its range, derived from the ultimate strength and n.
pub(crate) fn derived_strength(ultimate: &Figure<Stress>, n: &Figure<f64>) -> Figure<Stress> {
    ultimate.clone().map(|ultimate| considere_strength(ultimate, n.value)).with_source(format!(
        "derived from the ultimate strength ({} MPa) and n ({}): K = ultimate (e/n)^n, Considère",
        Digits(ultimate.value.mpa(), 1),
        Digits(n.value, 3)
    ))
}

/// The limits of a metal nobody gave any for: stop at 0.7 of the elongation or at the uniform
/// strain, whichever comes first, care from half of that; shrinking as for all metals. Common
/// practice, no source.
pub(crate) fn derived_edge_limits(elongation: f64, n: f64) -> EdgeLimits {
    let stop = (0.7 * elongation).min(n.exp_m1());
    EdgeLimits {
        stretch: StrainLimit { caution: stop / 2.0, stop },
        shrink: StrainLimit { caution: 0.05, stop: 0.20 },
        source:
            "common practice, no source: 0.7 of the elongation or the uniform strain e^n - 1, the lesser; shrinking as for 4130"
                .to_owned(),
    }
}

impl<Quantity> Figure<Quantity> {
    /// The same figure said to come from elsewhere.
    fn with_source(self, source: String) -> Self {
        Self { source, ..self }
    }
}

/// A figure that can't be true of a metal.
#[derive(Debug, Clone, PartialEq)]
pub enum ImpossibleFigure {
    /// Not a number, or outside what any metal has.
    OutOfRange {
        /// The figure's name in a description.
        figure: &'static str,
        /// Its value.
        value: f64,
        /// It must be greater than this.
        above: f64,
        /// It must be less than this.
        below: f64,
        /// Its unit, empty for a bare number.
        unit: &'static str,
    },
    /// The metal would break before it yields.
    UltimateBelowYield {
        /// The yield strength.
        yield_strength: Stress,
        /// The ultimate strength.
        ultimate_strength: Stress,
    },
}

impl fmt::Display for ImpossibleFigure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutOfRange { figure, value, above, below, unit } => {
                let space = if unit.is_empty() { "" } else { " " };
                write!(
                    f,
                    "{figure} can't be {}{space}{unit}: it lies between ",
                    Digits(*value, 4)
                )?;
                write!(f, "{} and {}{space}{unit}", Digits(*above, 4), Digits(*below, 4))
            }
            Self::UltimateBelowYield { yield_strength, ultimate_strength } => write!(
                f,
                "the ultimate strength ({} MPa) can't be below the yield strength ({} MPa)",
                Digits(ultimate_strength.mpa(), 1),
                Digits(yield_strength.mpa(), 1)
            ),
        }
    }
}

impl std::error::Error for ImpossibleFigure {}

/// A material as its file writes it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenMaterial {
    name: String,
    description: String,
    gauges: Option<GaugeFamily>,
    density: WrittenFigure,
    elastic_modulus: WrittenFigure,
    poisson_ratio: WrittenFigure,
    r#yield: WrittenFigure,
    ultimate: WrittenFigure,
    elongation: WrittenFigure,
    strength: Option<WrittenFigure>,
    n: WrittenFigure,
    r: WrittenFigure,
    minimum_radius: RadiusRule,
    edge_limits: Option<WrittenLimits>,
    #[serde(default)]
    hazards: Vec<Hazard>,
}

/// Edge limits as the file writes them: `[caution, stop]`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenLimits {
    stretch: [f64; 2],
    shrink: [f64; 2],
    source: String,
}

impl WrittenMaterial {
    /// The material with what was left out derived.
    fn read(self) -> Material {
        let stress = |written: WrittenFigure| written.read().map(Stress::from_mpa);
        let (ultimate_strength, hardening_exponent) = (stress(self.ultimate), self.n.read());
        let elongation = self.elongation.read();
        let (strength_coefficient, strength_origin) = match self.strength {
            Some(written) => (stress(written), StrengthOrigin::Given),
            None => {
                (derived_strength(&ultimate_strength, &hardening_exponent), StrengthOrigin::Derived)
            }
        };
        let limit = |[caution, stop]: [f64; 2]| StrainLimit { caution, stop };
        let edge_limits = match self.edge_limits {
            Some(written) => EdgeLimits {
                stretch: limit(written.stretch),
                shrink: limit(written.shrink),
                source: written.source,
            },
            None => derived_edge_limits(elongation.value, hardening_exponent.value),
        };
        Material {
            name: self.name,
            description: self.description,
            gauge_family: self.gauges,
            density: self.density.read().map(Density::from_kg_per_m3),
            elastic_modulus: stress(self.elastic_modulus),
            poisson_ratio: self.poisson_ratio.read(),
            yield_strength: stress(self.r#yield),
            ultimate_strength,
            elongation,
            strength_coefficient,
            strength_origin,
            hardening_exponent,
            normal_anisotropy: self.r.read(),
            radius_rule: self.minimum_radius,
            edge_limits,
            hazards: self.hazards,
        }
    }
}

static BUILT_IN: LazyLock<Vec<Material>> = LazyLock::new(|| {
    let written: Vec<WrittenMaterial> =
        read_built_in("materials.yaml", include_str!("materials.yaml"));
    written.into_iter().map(WrittenMaterial::read).collect()
});

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_built_in_figure_is_possible_and_has_a_source() {
        let names: Vec<&str> =
            Material::built_in().iter().map(|material| material.name.as_str()).collect();
        let promised = "4130-annealed 4130-normalized 1008 dc04 1018 1020 304 6061-t6 6061-o 5052-h32 3003 ti-cp-2";
        assert_eq!(names.join(" "), promised);
        for material in Material::built_in() {
            assert_eq!(material.faults(), [], "{}", material.name);
            assert!(!material.description.is_empty());
            for (figure, source) in material.sources() {
                assert!(source.trim().len() > 10, "{}: {figure} has no source", material.name);
            }
        }
    }

    #[test]
    fn limits_stand_in_order_and_below_fracture() {
        for material in Material::built_in() {
            for limit in [material.edge_limits.stretch, material.edge_limits.shrink] {
                assert!(0.0 < limit.caution && limit.caution < limit.stop, "{}", material.name);
            }
            assert!(
                material.edge_limits.stretch.stop <= material.elongation.value,
                "{}",
                material.name
            );
        }
    }

    #[test]
    fn a_metal_goes_by_its_whole_name() {
        for name in ["4130", "4130-normalised", "6061-T6", "unobtainium"] {
            assert_eq!(Material::named(name), None, "{name}");
        }
    }

    #[test]
    fn a_broken_figure_is_found_out() {
        let mut material = Material::built_in()[0].clone();
        material.hardening_exponent = Figure::single(f64::NAN, "test");
        material.yield_strength = Figure::single(Stress::from_mpa(900.0), "test");
        let faults: Vec<String> = material.faults().iter().map(ToString::to_string).collect();
        assert_eq!(
            faults,
            [
                "n can't be NaN: it lies between 0 and 1",
                "the ultimate strength (560 MPa) can't be below the yield strength (900 MPa)"
            ]
        );
    }
}
