//! Bend allowance rules.

use schemars::JsonSchema;
use serde::Deserialize;

use super::yaml::{At, Quantity, Reader, WordOr};
use crate::part::Shop;
use crate::problem::Code;
use crate::shop::bend_rule::{BendRule, HandbookFactor, KFactor};
use crate::shop::material::Material;
use crate::shop::measured_strip::MeasuredStrips;

/// A bend allowance rule with a figure.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AllowanceText {
    /// Handbook rule: 0.55 (soft brass, copper), 0.64 (soft steel, aluminium) or 0.71 (hard and spring metals).
    pub handbook: Option<f64>,
    /// K as the fraction of the full thickness from the inside face, 0.2 to 0.5.
    pub k_factor: Option<f64>,
}

pub(super) fn bend_rule(
    reader: &mut Reader,
    text: Option<&WordOr<AllowanceText>>,
    at: &At,
    material: &Material,
    shop: &Shop,
) -> Option<BendRule> {
    match text {
        None => Some(BendRule::Din6935),
        Some(WordOr::Word(Quantity::Text(word))) => {
            let known = [("din-6935", 0), ("faa", 1), ("strips", 2)];
            match reader.word(word, at, &known)? {
                0 => Some(BendRule::Din6935),
                1 => Some(BendRule::Faa),
                _ => match MeasuredStrips::of_material(&material.name, &shop.strips) {
                    Ok(strips) => Some(BendRule::Strips(strips)),
                    Err(bad) => {
                        let message = bad.first().map_or_else(String::new, ToString::to_string);
                        reader.refuse(at, Code::OutOfRange, format!("the shop file's {message}"), "measure that strip again")
                    }
                },
            }
        }
        Some(WordOr::Word(Quantity::Number(number))) => {
            let help = format!("for a K-factor write {{k_factor: {number}}}");
            reader.refuse(at, Code::WrongType, "a bare number is no bend allowance rule", help)
        }
        Some(WordOr::Keys(keys)) => match (keys.handbook, keys.k_factor) {
            (Some(number), None) => match HandbookFactor::from_number(number) {
                Some(factor) => Some(BendRule::Handbook(factor)),
                None => {
                    let help = "give 0.55 (soft brass, copper), 0.64 (soft steel, aluminium) or 0.71 (hard and spring metals)";
                    reader.refuse(
                        &at.key("handbook"),
                        Code::OutOfRange,
                        format!("{number} is not one of the handbook's factors"),
                        help,
                    )
                }
            },
            (None, Some(k)) => match KFactor::new(k) {
                Ok(k) => Some(BendRule::KFactor(k)),
                Err(error) => reader.refuse(&at.key("k_factor"), Code::OutOfRange, error.to_string(), "give 0.2 to 0.5"),
            },
            _ => reader.refuse(at, Code::Choice, "a bend allowance rule has one figure", "give `handbook` or `k_factor`"),
        },
    }
}
