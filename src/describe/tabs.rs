//! Tabs on free edges.

use schemars::JsonSchema;
use serde::Deserialize;

use super::part::{SheetAtHand, other_part, sheet_of};
use super::relief::{ReliefText, relief};
use super::yaml::{Allowed, At, Name, Quantity, Read, Reader, WordOr, suggestion};
use crate::geom::{Segment, Side, self_crossing};
use crate::part::{LEAST_KERFS, Outline, Relief, Tabs, tabbed};
use crate::problem::Code;
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::Length;

/// Tabs on a straight free edge.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TabsText {
    /// The edge that they stand on: one of the profile's, or start, outer or end of a flange.
    pub edge: Name,
    /// Length of each along the edge.
    pub length: Quantity,
    /// How many, spread evenly along the edge.
    pub count: Option<u32>,
    /// Or where the middle of each is, along the edge from its start.
    pub at: Option<Vec<Quantity>>,
    /// How far they stand out of the edge; by default as far as the sheet is thick that they go into.
    pub depth: Option<Quantity>,
    /// The file of the part that they go into, which says how thick its sheet is.
    pub into: Option<Name>,
    /// Whether they are spaced unevenly, so that the part goes in one way round only.
    pub one_way: Option<bool>,
    /// What is cut into the edge beside each root, so that the edge seats: auto (default), none, {hole: 3}, {slot: [2, 2]} or
    /// {notch: [2, 2]}.
    pub relief: Option<WordOr<ReliefText>>,
}

/// An edge that tabs may stand on: its name, and the stretch along it from its start that is there
/// to be used, mm. What bars it is told instead.
pub(super) struct TabEdge {
    pub(super) name: String,
    pub(super) stretch: Result<(f64, f64), String>,
}

/// Turned round, one-way tabs must miss their slots by so much at least, mm: more than anybody
/// takes for play.
const ONE_WAY_MISS: f64 = 3.0;

/// By how much of the pitch the second of evenly spaced tabs is moved, to make them go in one way
/// only.
const ONE_WAY_SHIFT: f64 = 0.25;

/// The edges of a profile, straight ones with their whole length.
pub(super) fn profile_edges(profile: &Outline) -> Vec<TabEdge> {
    let edge = |(i, name): (usize, &String)| {
        let sides: Vec<&Segment> =
            profile.sides.sides.iter().filter(|s| s.edge == Some(i)).map(|s| &s.segment).collect();
        let stretch = match sides.as_slice() {
            [line @ Segment::Line { .. }] => Ok((0.0, line.length())),
            _ => Err("is not one straight line".to_owned()),
        };
        TabEdge { name: name.clone(), stretch }
    };
    profile.edge_names.iter().enumerate().map(edge).collect()
}

/// Resolves the tabs on the edges of one face.
pub(super) fn tabs(
    reader: &mut Reader,
    texts: Option<&[TabsText]>,
    at: &At,
    edges: &[TabEdge],
    sheet: &SheetAtHand,
) -> Read<Vec<Tabs>> {
    let mut known: Vec<usize> = Vec::new();
    let mark = reader.mark();
    let all = reader.list(texts, at, |reader, text, at| {
        let group = tab_group(reader, text, at, edges, sheet)?;
        if known.contains(&group.edge) {
            let message = format!("the edge `{}` has tabs already", group.edge_name);
            reader.refuse(
                &at.key("edge"),
                Code::Choice,
                message,
                "give all tabs of an edge in one item, by `at`",
            );
        }
        known.push(group.edge);
        Ok(group)
    })?;
    reader.sound_since(mark)?;
    Ok(all)
}

fn tab_group(
    reader: &mut Reader,
    text: &TabsText,
    at: &At,
    edges: &[TabEdge],
    sheet: &SheetAtHand,
) -> Read<Tabs> {
    let edge_at = at.key("edge");
    let Some(edge) = edges.iter().position(|edge| edge.name == text.edge.0) else {
        let names: Vec<&str> = edges.iter().map(|edge| edge.name.as_str()).collect();
        let message = format!("there is no edge called `{}` for tabs to stand on", text.edge.0);
        return Err(reader.refuse(
            &edge_at,
            Code::UnknownName,
            message,
            suggestion(&text.edge.0, &names),
        ));
    };
    let stretch = match &edges[edge].stretch {
        Ok(stretch) => Ok(*stretch),
        Err(why) => {
            let message = format!("the edge `{}` {why}, so no tabs can stand on it", text.edge.0);
            Err(reader.refuse(&edge_at, Code::NoRoom, message, "put them on a straight free edge"))
        }
    };
    let length = reader.length(&text.length, &at.key("length"), Allowed::Positive);
    let depth = tab_depth(reader, text, at, sheet);
    let relief = root_relief(reader, text.relief.as_ref(), &at.key("relief"), sheet);
    let (stretch, length, relief) = (stretch?, length?, relief?);
    let places = stations(reader, text, at, stretch)?;
    let tabs = Tabs {
        edge,
        edge_name: text.edge.0.clone(),
        length,
        depth: depth?,
        at: places.iter().map(|x| Length::from_mm(*x)).collect(),
        relief,
        place: reader.place(at),
    };
    room(reader, text, at, &tabs, stretch)?;
    Ok(tabs)
}

/// How far tabs stand out: as given, or as thick as the sheet that they go into, or as their own.
fn tab_depth(reader: &mut Reader, text: &TabsText, at: &At, sheet: &SheetAtHand) -> Read<Length> {
    match (&text.depth, &text.into) {
        (Some(_), Some(_)) => {
            let help = "drop one of them: the part that they go into says how thick it is";
            Err(reader.refuse(
                &at.key("depth"),
                Code::Choice,
                "`depth` and `into` both say how far the tabs stand out",
                help,
            ))
        }
        (Some(depth), None) => reader.length(depth, &at.key("depth"), Allowed::Positive),
        (None, Some(name)) => other_part(reader, name, &at.key("into"), |reader, text| {
            let (_, _, thickness) = sheet_of(reader, text, Some(&sheet.shop))?;
            thickness
        }),
        (None, None) => {
            reader
                .stands(&at.key("depth"))
                .and(reader.stands(&at.key("into")))
                .and(sheet.thickness_known)?;
            let shown = reader.shown_unit().show(sheet.thickness);
            reader.assume(
                "tabs.depth",
                shown,
                "the sheet that the tabs go into is taken to be as thick as this one",
            );
            Ok(sheet.thickness)
        }
    }
}

/// The middles of tabs along their edge, mm.
fn stations(
    reader: &mut Reader,
    text: &TabsText,
    at: &At,
    (from, to): (f64, f64),
) -> Read<Vec<f64>> {
    let one_way = text.one_way.unwrap_or(false);
    let few = "two tabs or one go in either way round: give three or more";
    let places = match (text.count, &text.at) {
        (Some(count), None) if (1..=MOST_TABS).contains(&count) => {
            if one_way && count < 3 {
                return Err(reader.refuse(
                    &at.key("one_way"),
                    Code::NoRoom,
                    "these tabs cannot be spaced to go in one way only",
                    few,
                ));
            }
            let pitch = (to - from) / f64::from(count);
            let shift = |i: u32| if one_way && i == 1 { ONE_WAY_SHIFT } else { 0.0 };
            (0..count).map(|i| from + pitch * (f64::from(i) + 0.5 - shift(i))).collect()
        }
        (Some(count), None) => {
            let message = format!("{count} tabs on one edge cannot be");
            return Err(reader.refuse(
                &at.key("count"),
                Code::OutOfRange,
                message,
                format!("give 1 to {MOST_TABS}"),
            ));
        }
        (None, Some(list)) => {
            let list_at = at.key("at");
            let mut places = Vec::new();
            for (i, place) in list.iter().enumerate() {
                places.push(reader.length(place, &list_at.item(i), Allowed::Any)?.mm());
            }
            if places.is_empty() {
                let help = "give the middle of each, along the edge from its start";
                return Err(reader.refuse(
                    &list_at,
                    Code::Choice,
                    "there are no tabs in this list",
                    help,
                ));
            }
            places.sort_by(f64::total_cmp);
            places
        }
        _ => {
            let help = "give `count` to spread them evenly, or `at` with the middle of each, along the edge from its start";
            return Err(reader.refuse(
                at,
                Code::Choice,
                "tabs need `count` or `at`, one of the two",
                help,
            ));
        }
    };
    if one_way && turned_miss(&places) < ONE_WAY_MISS {
        let help = if places.len() < 3 {
            few
        } else {
            "space them so that they differ when counted from the other end"
        };
        let message = "turned round, these tabs would go into the same slots";
        return Err(reader.refuse(&at.key("one_way"), Code::NoRoom, message, help));
    }
    Ok(places)
}

/// The most tabs on one edge.
const MOST_TABS: u32 = 200;

/// By how much tabs miss the slots of their own spacing when the part is turned round, mm, slid to
/// where they miss least.
fn turned_miss(places: &[f64]) -> f64 {
    let (Some(first), Some(last)) = (places.first(), places.last()) else { return 0.0 };
    let misses =
        places.iter().zip(places.iter().rev()).map(|(own, turned)| (own - first) - (last - turned));
    let (least, most) =
        misses.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)));
    (most - least) / 2.0
}

/// What is cut beside a tab's root. Of the program's own: a round-ended slot as wide as the torch
/// cuts well, and as deep.
fn root_relief(
    reader: &mut Reader,
    text: Option<&WordOr<ReliefText>>,
    at: &At,
    sheet: &SheetAtHand,
) -> Read<Relief> {
    match relief(reader, text, at)? {
        Relief::Auto => {
            sheet.thickness_known?;
            let width = sheet.kerf * LEAST_KERFS;
            if text.is_none() {
                let shown = reader.shown_unit().show(width);
                let why = "a round-ended slot beside each root, 1.5 kerfs wide and as deep, so that the edge seats (common practice)";
                reader.assume("tabs.relief", shown, why);
            }
            Ok(Relief::Slot(width, width))
        }
        Relief::Slit => Err(reader.refuse(
            at,
            Code::Choice,
            "a slit beside a tab's root leaves no room for the torch's round corner",
            "give auto, none, {hole: …}, {slot: […]} or {notch: […]}",
        )),
        Relief::Slot(width, depth) if depth < width / 2.0 => {
            let message = "this slot is less deep than its round end";
            Err(reader.refuse(
                &at.key("slot"),
                Code::NoRoom,
                message,
                "make it at least half as deep as it is wide",
            ))
        }
        other => Ok(other),
    }
}

/// Width of a root's relief along the edge, mm.
fn root_width(relief: Relief) -> f64 {
    match relief {
        Relief::Hole(diameter) => diameter.mm() / 2.0,
        Relief::Slot(width, _) | Relief::Notch(width, _) => width.mm(),
        Relief::None | Relief::Auto | Relief::Slit => 0.0,
    }
}

/// Refuses tabs that leave their edge, run into each other or have no room for their reliefs.
fn room(
    reader: &mut Reader,
    text: &TabsText,
    at: &At,
    tabs: &Tabs,
    (from, to): (f64, f64),
) -> Read<()> {
    let (half, beside) = (tabs.length.mm() / 2.0, root_width(tabs.relief));
    if let Relief::Hole(_) = tabs.relief
        && (beside >= half || beside >= tabs.depth.mm())
    {
        let help =
            "make the hole's diameter less than the tab's length and less than twice its depth";
        return Err(reader.refuse(
            &at.key("relief"),
            Code::NoRoom,
            "these holes cut the tabs off",
            help,
        ));
    }
    let places: Vec<f64> = tabs.at.iter().map(|x| x.mm()).collect();
    let listed = if text.at.is_some() { at.key("at") } else { at.key("count") };
    let show = |mm: f64| reader.shown_unit().show(Length::from_mm(mm));
    let out = places
        .iter()
        .find(|x| **x - half - beside < from - 1e-9 || **x + half + beside > to + 1e-9);
    if let Some(x) = out {
        let message = format!("the tab at {} leaves its edge `{}`", show(*x), tabs.edge_name);
        let help = format!(
            "with the reliefs beside its root it has from {} to {} of it",
            show(from),
            show(to)
        );
        return Err(reader.refuse(&listed, Code::NoRoom, message, help));
    }
    if let Some(pair) =
        places.windows(2).find(|pair| pair[1] - pair[0] < 2.0 * (half + beside) + 1e-9)
    {
        let message =
            format!("the tabs at {} and {} run into each other", show(pair[0]), show(pair[1]));
        let help = format!(
            "with the reliefs beside their roots they must be {} apart",
            show(2.0 * (half + beside))
        );
        return Err(reader.refuse(&listed, Code::NoRoom, message, help));
    }
    Ok(())
}

/// Puts tabs into a profile. One that runs into another edge is refused.
pub(super) fn insert(
    reader: &mut Reader,
    profile: &mut Outline,
    tabs: &[Tabs],
    at: &At,
) -> Read<()> {
    for (i, group) in tabs.iter().enumerate() {
        let sides = std::mem::take(&mut profile.sides.sides);
        for side in sides {
            if side.edge == Some(group.edge) {
                let pieces = tabbed(&side.segment, group, 0.0);
                profile
                    .sides
                    .sides
                    .extend(pieces.into_iter().map(|segment| Side { segment, edge: side.edge }));
            } else {
                profile.sides.sides.push(side);
            }
        }
        if self_crossing(&profile.sides.to_polyarc(CURVE_TO_ARCS)).is_some() {
            let message =
                format!("the tabs on `{}` or their reliefs run into another edge", group.edge_name);
            return Err(reader.refuse(
                &at.item(i),
                Code::NoRoom,
                message,
                "move them, or make them shorter or less deep",
            ));
        }
    }
    Ok(())
}
