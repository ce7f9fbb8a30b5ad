//! Bend allowance rules.

use schemars::JsonSchema;
use serde::Deserialize;

use super::yaml::{At, Quantity, Read, Reader, WordOr};
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
) -> Read<BendRule> {
    let keys = match text {
        None => return Ok(BendRule::Din6935),
        Some(WordOr::Word(Quantity::Text(word))) => {
            let known = [
                ("din-6935", RuleWord::Din6935),
                ("faa", RuleWord::Faa),
                ("strips", RuleWord::Strips),
            ];
            return match reader.word(word, at, &known)? {
                RuleWord::Din6935 => Ok(BendRule::Din6935),
                RuleWord::Faa => Ok(BendRule::Faa),
                RuleWord::Strips => strip_rule(reader, at, material, shop),
            };
        }
        Some(WordOr::Word(Quantity::Number(number))) => {
            let help = format!("for a K-factor write {{k_factor: {number}}}");
            return Err(reader.refuse(
                at,
                Code::WrongType,
                "a bare number is no bend allowance rule",
                help,
            ));
        }
        Some(WordOr::Keys(keys)) => keys,
    };
    match (keys.handbook, keys.k_factor) {
        (Some(number), None) => HandbookFactor::from_number(number).map(BendRule::Handbook).ok_or_else(|| {
            let message = format!("{number} is not one of the handbook's factors");
            let help = "give 0.55 (soft brass, copper), 0.64 (soft steel, aluminium) or 0.71 (hard and spring metals)";
            reader.refuse(&at.key("handbook"), Code::OutOfRange, message, help)
        }),
        (None, Some(k)) => KFactor::new(k)
            .map(BendRule::KFactor)
            .map_err(|error| reader.refuse(&at.key("k_factor"), Code::OutOfRange, error.to_string(), "give 0.2 to 0.5")),
        _ => Err(reader.refuse(at, Code::Choice, "a bend allowance rule has one figure", "give `handbook` or `k_factor`")),
    }
}

/// The rules that have a word of their own.
#[derive(Clone, Copy)]
enum RuleWord {
    Din6935,
    Faa,
    Strips,
}

/// The rule that follows from the strips of that metal that this shop bent and measured.
fn strip_rule(reader: &mut Reader, at: &At, material: &Material, shop: &Shop) -> Read<BendRule> {
    MeasuredStrips::of_material(&material.name, &shop.strips).map(BendRule::Strips).map_err(|bad| {
        let message = bad.first().map_or_else(String::new, ToString::to_string);
        reader.refuse(
            at,
            Code::OutOfRange,
            format!("the shop file's {message}"),
            "measure that strip again",
        )
    })
}
