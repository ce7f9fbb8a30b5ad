//! What is given at stations along a part.

use super::yaml::{Allowed, At, Name, Quantity, Read, Reader};
use crate::geom::MonotoneCurve;
use crate::problem::Code;
use crate::units::Length;

/// Where a station stands along the part: a distance, or `end`.
pub(super) fn station_place(reader: &mut Reader, text: &Quantity, at: &At, end: f64) -> Read<f64> {
    match text {
        Quantity::Text(word) if word.trim() == "end" => Ok(end),
        distance => reader.length(distance, at, Allowed::Any).map(Length::mm),
    }
}

/// Whether what is given at stations runs smoothly between them, as the key `between` at `at` says.
pub(super) fn smooth_between(
    reader: &mut Reader,
    text: Option<&Name>,
    at: &At,
    default: bool,
) -> Read<bool> {
    reader.word_or(text, &at.key("between"), &[("smooth", true), ("straight", false)], default)
}

/// A station no farther than this from an end of the part, on either side of it, stands at that
/// end, mm.
const STATION_AT_END: f64 = 0.5;

/// What is given at stations, as it runs along the whole part: between them straight or smoothly,
/// held from the first and the last one on to the part's ends. Refuses stations that do not rise,
/// or that lie off the part.
pub(super) fn along_the_part(
    reader: &mut Reader,
    mut stations: Vec<(f64, f64)>,
    range: (f64, f64),
    is_smooth: bool,
    at: &At,
) -> Read<MonotoneCurve> {
    for station in &mut stations {
        for end in [range.0, range.1] {
            if (station.0 - end).abs() <= STATION_AT_END {
                station.0 = end;
            }
        }
    }
    rising(reader, &stations, range, at)?;
    let (first, last) = (stations[0], stations[stations.len() - 1]);
    if stations.len() > 1 && first.0 > range.0 {
        stations.insert(0, (range.0, first.1));
    }
    if stations.len() > 1 && last.0 < range.1 {
        stations.push((range.1, last.1));
    }
    Ok(if is_smooth {
        MonotoneCurve::smooth(&stations)
    } else {
        MonotoneCurve::straight(&stations)
    })
}

/// Refuses stations that do not rise, or that lie off the part.
fn rising(reader: &mut Reader, stations: &[(f64, f64)], range: (f64, f64), at: &At) -> Read<()> {
    if stations.is_empty() {
        return Err(reader.refuse(
            at,
            Code::Choice,
            "this list has no stations",
            "give at least one",
        ));
    }
    for (i, station) in stations.iter().enumerate() {
        let at = at.item(i).key("at");
        if station.0 < range.0 || station.0 > range.1 {
            let unit = reader.shown_unit();
            let (least, most) =
                (unit.show(Length::from_mm(range.0)), unit.show(Length::from_mm(range.1)));
            return Err(reader.refuse(
                &at,
                Code::OutOfRange,
                "this station is off the part",
                format!("the part runs from {least} to {most}; `end` is its end"),
            ));
        }
        if i > 0 && station.0 <= stations[i - 1].0 {
            return Err(reader.refuse(
                &at,
                Code::OutOfRange,
                "this station is not beyond the one before it",
                "list the stations in order along the part",
            ));
        }
    }
    Ok(())
}
