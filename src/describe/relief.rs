//! Reliefs: what is cut out where a bend or a tab ends.

use schemars::JsonSchema;
use serde::Deserialize;

use super::yaml::{Allowed, At, PointText, Quantity, Read, Reader, WordOr};
use crate::part::Relief;
use crate::problem::Code;

/// A relief of given size.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ReliefText {
    /// Diameter of a round hole about the place where the tangent lines meet.
    pub hole: Option<Quantity>,
    /// Width of a slot with a round end, and how far it reaches in from the outside mould line.
    pub slot: Option<PointText>,
    /// Width and depth of a square notch, from the outside mould line.
    pub notch: Option<PointText>,
}

pub(super) fn relief(
    reader: &mut Reader,
    text: Option<&WordOr<ReliefText>>,
    at: &At,
) -> Read<Relief> {
    match text {
        None => reader.stands(at).map(|()| Relief::Auto),
        Some(WordOr::Word(word)) => reader.word(
            &word.to_string(),
            at,
            &[("auto", Relief::Auto), ("none", Relief::None), ("slit", Relief::Slit)],
        ),
        Some(WordOr::Keys(ReliefText { hole: Some(diameter), slot: None, notch: None })) => {
            reader.length(diameter, &at.key("hole"), Allowed::Positive).map(Relief::Hole)
        }
        Some(WordOr::Keys(ReliefText { hole: None, slot: Some(sizes), notch: None })) => {
            let at = at.key("slot");
            let width = reader.length(&sizes[0], &at.item(0), Allowed::Positive);
            let depth = reader.length(&sizes[1], &at.item(1), Allowed::Positive);
            Ok(Relief::Slot(width?, depth?))
        }
        Some(WordOr::Keys(ReliefText { hole: None, slot: None, notch: Some(sizes) })) => {
            let at = at.key("notch");
            let width = reader.length(&sizes[0], &at.item(0), Allowed::Positive);
            let depth = reader.length(&sizes[1], &at.item(1), Allowed::Positive);
            Ok(Relief::Notch(width?, depth?))
        }
        Some(WordOr::Keys(_)) => Err(reader.refuse(
            at,
            Code::Choice,
            "a relief has one shape",
            "give one of `hole`, `slot` and `notch`, or auto, none, slit",
        )),
    }
}
