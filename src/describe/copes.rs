//! Ends of bent parts cut to lie against tubes.

use schemars::JsonSchema;
use serde::Deserialize;

use super::yaml::{Allowed, At, Name, Quantity, Read, Reader};
use crate::part::Cope;
use crate::problem::Code;
use crate::units::Length;

/// An end cut to lie against a round tube.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CopeText {
    /// Which end: near (depth 0) or far.
    pub end: Name,
    /// The tube's outside diameter.
    pub tube: Quantity,
    /// A point of its axis: x along the first leg from its free end, y along the depth, z up from that leg's lower face.
    pub through: [Quantity; 3],
    /// The direction of its axis, as x, y, z.
    pub along: [f64; 3],
    /// How far the metal stays from the tube, 0 by default.
    pub clearance: Option<Quantity>,
}

/// Ends of a bent part cut to lie against tubes.
pub(super) fn copes(reader: &mut Reader, texts: Option<&[CopeText]>, at: &At) -> Read<Vec<Cope>> {
    let texts = texts.unwrap_or_default().iter().enumerate();
    texts.map(|(i, text)| cope(reader, text, &at.item(i))).collect()
}

fn cope(reader: &mut Reader, text: &CopeText, at: &At) -> Read<Cope> {
    let is_far = reader.word(&text.end.0, &at.key("end"), &[("near", false), ("far", true)]);
    let diameter = reader.length(&text.tube, &at.key("tube"), Allowed::Positive);
    let through_at = at.key("through");
    let [x, y, z] =
        [0, 1, 2].map(|i| reader.length(&text.through[i], &through_at.item(i), Allowed::Any));
    let clearance = reader.length_or(
        text.clearance.as_ref(),
        &at.key("clearance"),
        Allowed::ZeroOrMore,
        Length::ZERO,
    );
    let square: f64 = text.along.iter().map(|x| x * x).sum();
    if !(square.is_finite() && square > 1e-12) {
        let message = "this direction goes nowhere";
        return Err(reader.refuse(
            &at.key("along"),
            Code::OutOfRange,
            message,
            "such as [1, 0, 0], along x",
        ));
    }
    Ok(Cope {
        is_far: is_far?,
        diameter: diameter?,
        through: [x?, y?, z?],
        along: text.along,
        clearance: clearance?,
        place: reader.place(at),
    })
}
