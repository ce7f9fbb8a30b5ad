//! Metal left beyond the open edges of a half-shell.

use super::yaml::{At, Reader};
use crate::geom::Side;
use crate::part::{Hammered, Outline};
use crate::problem::Code;
use crate::units::Length;

/// The outline with metal left beyond its open edges, where any is.
#[expect(clippy::option_option, reason = "none where it is refused")]
pub(super) fn hammered(
    reader: &mut Reader,
    profile: &Outline,
    open_edges: &[usize],
    by: Length,
    at: &At,
) -> Option<Option<Hammered>> {
    if by == Length::ZERO {
        return Some(None);
    }
    if open_edges.is_empty() {
        let message = "no edge of this profile is open, so that there is none to leave metal beyond";
        return reader.refuse(at, Code::OutOfRange, message, "name the open edges under `open_edges`, or leave `end_trim` out");
    }
    let is_open = |side: &Side| side.edge.is_some_and(|edge| open_edges.contains(&edge));
    match Hammered::of(profile, &is_open, by.mm()) {
        Ok(hammered) => Some(Some(hammered)),
        Err(place) => {
            let unit = reader.shown_unit();
            let at_mm = |x: f64| unit.show(Length::from_mm(x));
            let message = format!(
                "an open edge cannot be moved out by {}: it finds no end near [{}, {}]",
                unit.show(by),
                at_mm(place.x),
                at_mm(place.y)
            );
            reader.refuse(at, Code::NoRoom, message, "leave less metal, or let the open edge meet the walls at an angle")
        }
    }
}
