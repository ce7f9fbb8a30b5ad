//! A shop's own material: a built-in one with some of its figures replaced by what the shop knows
//! better.

use crate::shop::figure::Figure;
use crate::shop::material::{
    Hazard, ImpossibleFigure, Material, StrengthOrigin, derived_edge_limits, derived_strength,
};
use crate::shop::minimum_radius::RadiusRule;
use crate::units::{Density, Length, Stress};

/// The figures a shop gives for its own material; what is left out stays as in the material it is
/// like.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MaterialOverride {
    /// What it is, in words.
    pub description: Option<String>,
    /// Density.
    pub density: Option<OwnFigure<Density>>,
    /// Young's modulus.
    pub elastic_modulus: Option<OwnFigure<Stress>>,
    /// Poisson's ratio.
    pub poisson_ratio: Option<OwnFigure<f64>>,
    /// Yield strength.
    pub yield_strength: Option<OwnFigure<Stress>>,
    /// Ultimate tensile strength.
    pub ultimate_strength: Option<OwnFigure<Stress>>,
    /// Elongation at fracture, as a fraction.
    pub elongation: Option<OwnFigure<f64>>,
    /// K of Hollomon's curve.
    pub strength_coefficient: Option<OwnFigure<Stress>>,
    /// n of Hollomon's curve.
    pub hardening_exponent: Option<OwnFigure<f64>>,
    /// Normal anisotropy.
    pub normal_anisotropy: Option<OwnFigure<f64>>,
    /// Least inside bend radius.
    pub minimum_radius: Option<OwnRadius>,
    /// What it asks care for, besides what the other does.
    pub hazards: Vec<Hazard>,
}

/// A figure of the shop's own, with what the shop says of its origin.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnFigure<Quantity> {
    /// The figure.
    pub value: Quantity,
    /// Where it comes from; "shop file" where the shop doesn't say.
    pub source: Option<String>,
}

impl<Quantity> From<Quantity> for OwnFigure<Quantity> {
    fn from(value: Quantity) -> Self {
        Self { value, source: None }
    }
}

impl<Quantity: Copy> OwnFigure<Quantity> {
    /// The figure as the tables keep it.
    fn figure(&self) -> Figure<Quantity> {
        Figure::single(self.value, self.source.as_deref().unwrap_or("shop file"))
    }
}

/// A least inside bend radius of the shop's own.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnRadius {
    /// The least radius for sheet up to each thickness.
    pub rows: Vec<(Length, Length)>,
    /// Where it comes from; "shop file" where the shop doesn't say.
    pub source: Option<String>,
}

impl Material {
    /// A material like this one but for the figures given.
    ///
    /// A new ultimate strength or n makes K follow by K = ultimate (e/n)^n unless K is given too; a
    /// new elongation or n makes the derived edge limits follow. Every fault of the result is named
    /// at once.
    pub fn like_this(
        &self,
        name: &str,
        given: &MaterialOverride,
    ) -> Result<Self, Vec<ImpossibleFigure>> {
        let mut own = self.clone();
        name.clone_into(&mut own.name);
        own.description =
            given.description.clone().unwrap_or_else(|| format!("like {}", self.name));
        replace(&mut own.density, given.density.as_ref());
        replace(&mut own.elastic_modulus, given.elastic_modulus.as_ref());
        replace(&mut own.poisson_ratio, given.poisson_ratio.as_ref());
        replace(&mut own.yield_strength, given.yield_strength.as_ref());
        replace(&mut own.ultimate_strength, given.ultimate_strength.as_ref());
        replace(&mut own.elongation, given.elongation.as_ref());
        replace(&mut own.hardening_exponent, given.hardening_exponent.as_ref());
        replace(&mut own.normal_anisotropy, given.normal_anisotropy.as_ref());
        own.hazards.extend(given.hazards.iter().filter(|hazard| !self.hazards.contains(hazard)));
        if let Some(strength) = &given.strength_coefficient {
            own.strength_coefficient = strength.figure();
            own.strength_origin = StrengthOrigin::Given;
        } else if given.ultimate_strength.is_some() || given.hardening_exponent.is_some() {
            own.strength_coefficient =
                derived_strength(&own.ultimate_strength, &own.hardening_exponent);
            own.strength_origin = StrengthOrigin::Derived;
        }
        if given.elongation.is_some() || given.hardening_exponent.is_some() {
            own.edge_limits =
                derived_edge_limits(own.elongation.value, own.hardening_exponent.value);
        }
        let mut faults = Vec::new();
        if let Some(radius) = &given.minimum_radius {
            faults.extend(radius_faults(radius));
            let source = radius.source.clone().unwrap_or_else(|| "shop file".to_owned());
            own.radius_rule = RadiusRule::Own { rows: radius.rows.clone(), source };
        }
        faults.splice(0..0, own.faults());
        if faults.is_empty() { Ok(own) } else { Err(faults) }
    }
}

/// Puts the shop's figure in place of the table's, where there is one.
fn replace<Quantity: Copy>(figure: &mut Figure<Quantity>, own: Option<&OwnFigure<Quantity>>) {
    if let Some(own) = own {
        *figure = own.figure();
    }
}

/// What is wrong with a shop's own radii: none at all, or lengths no sheet has.
fn radius_faults(radius: &OwnRadius) -> Vec<ImpossibleFigure> {
    let impossible = |value: f64| !(value > 0.0 && value < 1000.0);
    let fault = |value| ImpossibleFigure::OutOfRange {
        figure: "minimum_radius",
        value,
        above: 0.0,
        below: 1000.0,
        unit: "mm",
    };
    let lengths: Vec<f64> =
        radius.rows.iter().flat_map(|(thickness, radius)| [thickness.mm(), radius.mm()]).collect();
    if lengths.is_empty() {
        return vec![fault(f64::NAN)];
    }
    lengths.into_iter().filter(|value| impossible(*value)).map(fault).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::material::considere_strength;

    fn annealed() -> &'static Material {
        Material::named("4130-annealed").expect("built in")
    }

    #[test]
    fn figures_given_replace_and_the_rest_stays() {
        let given = MaterialOverride {
            yield_strength: Some(Stress::from_mpa(420.0).into()),
            normal_anisotropy: Some(OwnFigure {
                value: 0.95,
                source: Some("our own pull test".to_owned()),
            }),
            ..MaterialOverride::default()
        };
        let own = annealed().like_this("my-4130", &given).expect("sound figures");
        assert_eq!(
            (own.name.as_str(), own.description.as_str()),
            ("my-4130", "like 4130-annealed")
        );
        assert_eq!(own.yield_strength, Figure::single(Stress::from_mpa(420.0), "shop file"));
        assert_eq!(own.normal_anisotropy.source, "our own pull test");
        assert_eq!(own.ultimate_strength, annealed().ultimate_strength);
        assert_eq!(own.strength_coefficient, annealed().strength_coefficient);
        assert_eq!(own.edge_limits, annealed().edge_limits);
    }

    #[test]
    fn strength_follows_a_new_ultimate_and_says_so() {
        let given = MaterialOverride {
            ultimate_strength: Some(Stress::from_mpa(600.0).into()),
            ..MaterialOverride::default()
        };
        let own = annealed().like_this("my-4130", &given).expect("sound figures");
        assert_eq!(
            own.strength_coefficient.value,
            considere_strength(Stress::from_mpa(600.0), 0.15)
        );
        assert!(
            own.strength_coefficient
                .source
                .starts_with("derived from the ultimate strength (600 MPa) and n (0.15)")
        );
        // A measured K is replaced as well, for it belongs to another curve.
        let stainless = Material::named("304").expect("built in");
        assert_eq!(stainless.strength_origin, StrengthOrigin::Given);
        assert_eq!(
            stainless.like_this("mine", &given).expect("sound").strength_origin,
            StrengthOrigin::Derived
        );
    }

    #[test]
    fn all_faults_come_at_once() {
        let given = MaterialOverride {
            yield_strength: Some(Stress::from_mpa(700.0).into()),
            hardening_exponent: Some(1.0.into()),
            density: Some(Density::from_kg_per_m3(-1.0).into()),
            elastic_modulus: Some(Stress::from_mpa(f64::INFINITY).into()),
            minimum_radius: Some(OwnRadius {
                rows: vec![(Length::from_mm(2.0), Length::from_mm(-3.0))],
                source: None,
            }),
            ..MaterialOverride::default()
        };
        let faults = annealed().like_this("bad", &given).expect_err("nothing here is sound");
        let named = |name: &str| {
            faults.iter().any(|fault| matches!(fault, ImpossibleFigure::OutOfRange { figure, .. } if *figure == name))
        };
        for name in ["density", "elastic_modulus", "n", "minimum_radius"] {
            assert!(named(name), "{name}: {faults:?}");
        }
        assert!(
            faults.iter().any(|fault| matches!(fault, ImpossibleFigure::UltimateBelowYield { .. }))
        );
        let empty = MaterialOverride {
            minimum_radius: Some(OwnRadius { rows: Vec::new(), source: None }),
            ..MaterialOverride::default()
        };
        assert_eq!(annealed().like_this("bad", &empty).expect_err("no rows").len(), 1);
    }
}
