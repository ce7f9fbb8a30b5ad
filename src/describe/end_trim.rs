//! Metal left beyond the open edges of a half-shell.

use super::yaml::{At, Read, Reader};
use crate::geom::Side;
use crate::part::{Hammered, Outline};
use crate::problem::Code;
use crate::units::Length;

/// The outline with metal left beyond its open edges, where any is.
pub(super) fn hammered(
    reader: &mut Reader,
    profile: &Outline,
    open_edges: &[usize],
    by: Length,
    at: &At,
) -> Read<Option<Hammered>> {
    if by == Length::ZERO {
        return Ok(None);
    }
    if open_edges.is_empty() {
        let message =
            "no edge of this profile is open, so that there is none to leave metal beyond";
        return Err(reader.refuse(
            at,
            Code::OutOfRange,
            message,
            "name the open edges under `open_edges`, or leave `end_trim` out",
        ));
    }
    let is_open = |side: &Side| side.edge.is_some_and(|edge| open_edges.contains(&edge));
    Hammered::of(profile, &is_open, by.mm()).map(Some).map_err(|place| {
        let unit = reader.shown_unit();
        let at_mm = |x: f64| unit.show(Length::from_mm(x));
        let message = format!(
            "an open edge cannot be moved out by {}: it finds no end near [{}, {}]",
            unit.show(by),
            at_mm(place.x),
            at_mm(place.y)
        );
        let help = "leave less metal, or let the open edge meet the walls at an angle";
        reader.refuse(at, Code::NoRoom, message, help)
    })
}
