//! Hems on free edges.

use schemars::JsonSchema;
use serde::Deserialize;

use super::yaml::{Allowed, At, Quantity, Read, Reader, WordOr};
use crate::part::{Hem, HemKind};
use crate::problem::Code;
use crate::units::Length;

/// A hem.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HemText {
    /// Folded flat onto the flange.
    pub closed: Option<HemSizesText>,
    /// Folded round a gap.
    pub open: Option<HemSizesText>,
    /// Folded round until its edge rests on the flange.
    pub teardrop: Option<HemSizesText>,
}

/// The sizes of a hem.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HemSizesText {
    /// From the outside of the fold to the hem's edge.
    #[serde(rename = "return")]
    pub return_length: Quantity,
    /// The space inside the fold.
    pub gap: Option<Quantity>,
}

/// A hem, if one is asked for.
pub(super) fn hem(
    reader: &mut Reader,
    text: Option<&WordOr<HemText>>,
    at: &At,
    thickness: Length,
) -> Read<Option<Hem>> {
    let (kind, key, sizes) = match text {
        None => return Ok(None),
        Some(WordOr::Word(word)) => {
            return reader.word(&word.to_string(), at, &[("none", ())]).map(|()| None);
        }
        Some(WordOr::Keys(HemText { closed: Some(sizes), open: None, teardrop: None })) => {
            (HemKind::Closed, "closed", sizes)
        }
        Some(WordOr::Keys(HemText { closed: None, open: Some(sizes), teardrop: None })) => {
            (HemKind::Open, "open", sizes)
        }
        Some(WordOr::Keys(HemText { closed: None, open: None, teardrop: Some(sizes) })) => {
            (HemKind::Teardrop, "teardrop", sizes)
        }
        Some(WordOr::Keys(_)) => {
            return Err(reader.refuse(
                at,
                Code::Choice,
                "a hem has one form",
                "give one of `closed`, `open` and `teardrop`",
            ));
        }
    };
    let at = at.key(key);
    let return_length = reader.length(&sizes.return_length, &at.key("return"), Allowed::Positive);
    let gap = match (&sizes.gap, kind) {
        (Some(_), HemKind::Closed) => {
            return Err(reader.refuse(
                &at.key("gap"),
                Code::Choice,
                "a closed hem has no gap",
                "drop `gap`, or make it an open hem",
            ));
        }
        (None, HemKind::Closed) => Ok(Length::ZERO),
        (Some(gap), _) => reader.length(gap, &at.key("gap"), Allowed::Positive),
        (None, _) => {
            let shown = reader.shown_unit().show(thickness);
            reader.assume("hem.gap", shown, "no gap is given; one thickness is a usual one");
            Ok(thickness)
        }
    };
    Ok(Some(Hem { kind, return_length: return_length?, gap: gap?, place: reader.place(&at) }))
}
