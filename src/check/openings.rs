//! Openings against what the torch cuts well, and slots against the tabs that go into them.

use crate::flat::{Finding, Flat, openings_of};
use crate::geom::Polyarc;
use crate::part::{LEAST_KERFS, Part};
use crate::problem::{Code, Place, Problem};
use crate::shop::kerf::usual_kerf;
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::{Digits, Length};

/// An opening so many times longer than wide is a slot: the torch goes down one side of it and back up the other.
const SLOT_SHAPE: f64 = 2.0;

/// How far a tab's depth may be from the thickness that it goes through, as a share of it: flush enough to weld (common practice, no source).
const DEPTH_SHARE: f64 = 0.25;

/// Width of the cut, and where the figure comes from.
fn kerf_of(part: &Part) -> Option<(Length, &'static str)> {
    match part.shop.cutting.kerf {
        Some(kerf) => Some((kerf, "the shop's kerf")),
        None => usual_kerf(part.thickness, part.material.gauge_family).map(|figure| (figure.value, "the usual kerf")),
    }
}

/// Openings narrower than the torch cuts well.
pub(super) fn small_openings(part: &Part, flat: &Flat) -> Vec<Finding> {
    let limit = part.thickness.mm() * 1.5;
    let mut findings = Vec::new();
    for (outline, opening) in flat.openings.iter().zip(openings_of(part, flat)) {
        // Slots for tabs have rules of their own.
        if opening.tab.is_some() {
            continue;
        }
        let width = narrowest(outline);
        if width < limit {
            findings.push(Finding {
                problem: Problem::new(
                    Code::SmallOpening,
                    format!("an opening {} mm wide is too small to cut well in this sheet", Digits(width, 2)),
                    "mark its centre and drill it",
                )
                .at(part.place.clone()),
                limit,
                value: width,
                ok: false,
                source: "holes at least 1.5 t: cutting service's design guide, common practice".to_owned(),
            });
        }
        if outline.length() / 2.0 - width > SLOT_SHAPE * width {
            findings.extend(slot_width(part, width, &opening.place).filter(|finding| !finding.ok));
        }
    }
    findings
}

/// A slot against the width of the cut.
fn slot_width(part: &Part, width: f64, place: &Place) -> Option<Finding> {
    let (kerf, whose) = kerf_of(part)?;
    let limit = LEAST_KERFS * kerf.mm();
    let ok = width >= limit - 1e-9;
    let show = |mm: f64| part.unit.show(Length::from_mm(mm));
    let message = if ok {
        format!("a slot {} wide, with a kerf of {}", show(width), show(kerf.mm()))
    } else {
        format!(
            "a slot {} wide is less than {LEAST_KERFS} times the kerf of {}: the torch cuts into its other side",
            show(width),
            show(kerf.mm())
        )
    };
    let help = if ok {
        String::new()
    } else {
        format!("make it {} wide, use a finer nozzle, or cut it in one pass and file it", show(limit))
    };
    Some(Finding {
        problem: Problem::new(Code::NarrowSlot, message, help).at(place.clone()),
        limit,
        value: width,
        ok,
        source: format!("{LEAST_KERFS} kerfs, common practice, no source; {whose}"),
    })
}

/// Slots for tabs: wide enough for the torch, and the sheet as thick as the tabs stand out.
pub(super) fn tab_slots(part: &Part, flat: &Flat) -> Vec<Finding> {
    let openings = openings_of(part, flat);
    let mut findings = Vec::new();
    // All slots of one item are alike.
    for group in openings.chunk_by(|a, b| a.place == b.place) {
        let Some(tab) = &group[0].tab else { continue };
        findings.extend(slot_width(part, tab.slot_width.mm(), &group[0].place));
        let (depth, thickness) = (tab.depth, part.thickness);
        let ok = (depth - thickness).mm().abs() <= DEPTH_SHARE * thickness.mm() + 1e-9;
        let show = |length: Length| part.unit.show(length);
        let message = format!(
            "the tabs on `{}` of {} stand out {} and this sheet is {} thick",
            tab.edge,
            tab.file,
            show(depth),
            show(thickness)
        );
        let help = match (ok, depth < thickness) {
            (true, _) => "",
            (false, true) => "they hardly reach through: give them `into:` with this part's file, or a greater `depth:`",
            (false, false) => {
                "they stand out beyond it, where they must be dressed off: give them `into:` with this part's file, or a smaller `depth:`"
            }
        };
        findings.push(Finding {
            problem: Problem::new(Code::TabDepth, message, help).at(group[0].place.clone()),
            limit: thickness.mm(),
            value: depth.mm(),
            ok,
            source: "tabs through the sheet and flush with it, to a quarter of its thickness: common practice, no source"
                .to_owned(),
        });
    }
    findings
}

/// About twice the largest inset that leaves anything: the width of an outline.
fn narrowest(outline: &Polyarc) -> f64 {
    let (mut low, mut high) = (0.0, outline.bounds().width().min(outline.bounds().height()) / 2.0 + CURVE_TO_ARCS);
    for _ in 0..24 {
        let middle = f64::midpoint(low, high);
        if crate::geom::offset_closed(outline, -middle).is_empty() { high = middle } else { low = middle }
    }
    low * 2.0
}
