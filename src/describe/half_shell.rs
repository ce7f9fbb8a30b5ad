//! Half-shells.

use schemars::JsonSchema;
use serde::Deserialize;

use super::buck::{BuckText, buck, few_stations};
use super::end_trim::hammered;
use super::opening::{OpeningText, openings, within};
use super::outline::{OutlineText, outline};
use super::part::{KindText, PartText, SheetAtHand};
use super::stations::{along_the_part, smooth_between, station_place};
use super::yaml::{Allowed, At, Name, Quantity, Read, Reader, WordOr, suggestion};
use crate::geom::{MonotoneCurve, Segment, Side, offset_sides};
use crate::part::{HalfShell, Join, Kind, Outline};
use crate::problem::Code;
use crate::tolerance::SMOOTH_JOINT;
use crate::units::{Angle, Length};

/// A part that is hammered over a buck.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HalfShellText {
    /// Outline of the finished shell at its seam plane, seen square to it from the outer side.
    pub profile: OutlineText,
    /// Whether profile and depth are of the finished metal's outside (default) or of the buck (inside).
    pub dims: Option<Name>,
    /// From the face to the seam plane.
    pub depth: Option<WordOr<DepthText>>,
    /// Width over both halves, with `pair: mirror`, instead of the depth.
    pub width: Option<Quantity>,
    /// Inside radius between face and wall, the buck's edge radius.
    pub edge_radius: Quantity,
    /// Degrees that the walls lean outward from square to the seam plane.
    pub draft: Option<Quantity>,
    /// Greatest height of the face's bulge over the tangent line.
    pub crown: Option<Quantity>,
    /// Named edges of the profile with no wall.
    pub open_edges: Option<Vec<Name>>,
    /// How walls meet at sharp outside corners: `run_on` (default), the first over the other's edge, or `open`, each ending square.
    pub join: Option<Name>,
    /// Metal left beyond the seam on every wall, cut off after forming.
    pub trim: Option<Quantity>,
    /// Metal left beyond every open edge, cut off after forming.
    pub end_trim: Option<Quantity>,
    /// Openings in the face.
    pub openings: Option<Vec<OpeningText>>,
    /// mirror: the other half is this one mirrored; none: a single shell.
    pub pair: Option<Name>,
    /// The seam between the halves.
    pub seam: Option<SeamText>,
}

/// A depth that changes along the part.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DepthText {
    /// Depths at stations along the profile's x, or along the line of a centreline profile.
    pub stations: Vec<DepthStationText>,
    /// How the depth runs between stations: straight (default) or smooth.
    pub between: Option<Name>,
}

/// A depth at a station.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DepthStationText {
    /// The station: a distance along the part's run, or `end` for the end of it.
    pub at: Quantity,
    /// The depth there, from the face to the seam plane: a length above 0.
    pub depth: Quantity,
}

/// The seam between two halves.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SeamText {
    /// Root gap between the halves.
    pub gap: Option<Quantity>,
}

/// What profile and depth of a half-shell, or the legs of a section, measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ShellDims {
    /// The finished metal's outside.
    Outside,
    /// The buck.
    Inside,
}

impl KindText for HalfShellText {
    fn resolve(
        &self,
        reader: &mut Reader,
        at: &At,
        part: &PartText,
        sheet: &SheetAtHand,
    ) -> Read<Kind> {
        half_shell(reader, self, part.buck.as_ref(), at, sheet)
            .map(|shell| Kind::HalfShell(Box::new(shell)))
    }
}

fn half_shell(
    reader: &mut Reader,
    text: &HalfShellText,
    buck_text: Option<&BuckText>,
    at: &At,
    sheet: &SheetAtHand,
) -> Read<HalfShell> {
    let thickness = sheet.thickness;
    let profile_at = at.key("profile");
    let profile = outline(reader, &text.profile, &profile_at);
    if text.dims.is_none() {
        reader.assume(
            "dims",
            "outside",
            "profile and depth are taken as the finished metal's outside",
        );
    }
    let known = [("outside", ShellDims::Outside), ("inside", ShellDims::Inside)];
    let dims = reader.word_or(text.dims.as_ref(), &at.key("dims"), &known, ShellDims::Outside);
    let inside_radius = reader.length(&text.edge_radius, &at.key("edge_radius"), Allowed::Positive);
    let draft = reader.angle_or(text.draft.as_ref(), &at.key("draft"), (0.0, 45.0), Angle::ZERO);
    let crown =
        reader.length_or(text.crown.as_ref(), &at.key("crown"), Allowed::ZeroOrMore, Length::ZERO);
    let trim =
        reader.length_or(text.trim.as_ref(), &at.key("trim"), Allowed::ZeroOrMore, Length::ZERO);
    if text.trim.is_none() {
        reader.assume(
            "trim",
            "0",
            "no metal is left beyond the seam; 6 mm is usual in hand forming (aircraft practice)",
        );
    }
    let end_trim = reader.length_or(
        text.end_trim.as_ref(),
        &at.key("end_trim"),
        Allowed::ZeroOrMore,
        Length::ZERO,
    );
    let paired = reader.word_or(
        text.pair.as_ref(),
        &at.key("pair"),
        &[("mirror", true), ("none", false)],
        false,
    );
    let joins = [("run_on", Join::RunOn), ("open", Join::Open)];
    let join = reader.word_or(text.join.as_ref(), &at.key("join"), &joins, Join::RunOn);
    let gap = text.seam.as_ref().and_then(|seam| seam.gap.as_ref());
    let seam_gap =
        reader.length_or(gap, &at.key("seam").key("gap"), Allowed::ZeroOrMore, Length::ZERO);
    let openings = openings(reader, text.openings.as_deref(), &at.key("openings"), sheet);
    let buck_at = At::default().key("buck");
    let buck = buck(reader, buck_text, &buck_at);
    let profile = profile?;
    let (dims, paired, seam_gap, draft) = (dims?, paired?, seam_gap?, draft?);
    let buck = buck.and_then(|buck| few_stations(reader, &profile, buck, &buck_at.key("stations")));
    let depth = depth(reader, text, at, &profile, paired, seam_gap);
    let open_edges =
        open_edges(reader, text.open_edges.as_deref(), &at.key("open_edges"), &profile)?;
    let (mut profile, mut depth) = (profile, depth?);
    sheet.thickness_known?;
    if dims == ShellDims::Inside {
        (profile, depth) =
            outside_of(reader, &profile, &open_edges, &depth, (thickness, draft), &profile_at)?;
    }
    let inside_radius = inside_radius?;
    // The rounding takes (R + T) (1 - sin draft) of the depth.
    let rounding = (inside_radius + thickness) * (1.0 - draft.radians().sin());
    if let Some(least) = depth
        .places()
        .iter()
        .map(|&p| depth.value_at(p))
        .reduce(f64::min)
        .filter(|d| *d < rounding.mm())
    {
        let unit = reader.shown_unit();
        let message = format!(
            "a depth of {} leaves no wall below the edge radius",
            unit.show(Length::from_mm(least))
        );
        let help =
            format!("make it {} deep at least, or the edge radius smaller", unit.show(rounding));
        let key = if text.depth.is_some() { "depth" } else { "width" };
        return Err(reader.refuse(&at.key(key), Code::NoRoom, message, help));
    }
    let crown = crown?;
    let end_trim = end_trim?;
    // Names of open edges that are not known have been refused.
    let hammered = if open_edges.is_empty()
        && text.open_edges.as_ref().is_some_and(|names| !names.is_empty())
    {
        None
    } else {
        hammered(reader, &profile, &open_edges, end_trim, &at.key("end_trim"))?
    };
    let openings = openings?;
    within(reader, &profile, &openings, "the shell")?;
    Ok(HalfShell {
        profile,
        profile_place: reader.place(&profile_at),
        depth,
        inside_radius,
        draft,
        crown,
        open_edges,
        join: join?,
        trim: trim?,
        end_trim,
        hammered,
        openings,
        paired,
        seam_gap,
        buck: buck?,
    })
}

/// The outside profile and depth of a shell given by its buck. Open edges have no metal outside
/// them.
fn outside_of(
    reader: &mut Reader,
    profile: &Outline,
    open_edges: &[usize],
    depth: &MonotoneCurve,
    (thickness, draft): (Length, Angle),
    at: &At,
) -> Read<(Outline, MonotoneCurve)> {
    let out = thickness.mm() / draft.radians().cos();
    let is_open =
        |i: usize| profile.sides.sides[i].edge.is_some_and(|edge| open_edges.contains(&edge));
    let Some(grown) = offset_sides(&profile.sides, &|i| if is_open(i) { 0.0 } else { out }) else {
        let message = "the metal's outside around this profile closes on itself";
        return Err(reader.refuse(
            at,
            Code::NoRoom,
            message,
            "make its inside curves wider than the thickness",
        ));
    };
    // On a slope the sheet's thickness counts for more of the depth; at a crease by the mean slope
    // about it.
    let slope = |i: usize| {
        let (places, values) = (depth.places(), depth.values());
        let (a, b) = (i.saturating_sub(1), (i + 1).min(places.len() - 1));
        if a == b { 0.0 } else { (values[b] - values[a]) / (places[b] - places[a]) }
    };
    let deeper = depth.raised(|i| thickness.mm() * 1.0_f64.hypot(slope(i)));
    let outline = Outline {
        sides: grown,
        edge_names: profile.edge_names.clone(),
        centreline: profile.centreline.clone(),
    };
    Ok((outline, deeper))
}

/// The depth, from `depth` or from half the `width`.
fn depth(
    reader: &mut Reader,
    text: &HalfShellText,
    at: &At,
    profile: &Outline,
    paired: bool,
    gap: Length,
) -> Read<MonotoneCurve> {
    match (&text.depth, &text.width) {
        (Some(WordOr::Word(quantity)), None) => {
            let depth = reader.length(quantity, &at.key("depth"), Allowed::Positive)?;
            Ok(MonotoneCurve::straight(&[(0.0, depth.mm())]))
        }
        (Some(WordOr::Keys(stations)), None) => {
            depth_stations(reader, stations, &at.key("depth"), profile)
        }
        (None, Some(width)) if paired => {
            let width = reader.length(width, &at.key("width"), Allowed::Positive)?;
            if width <= gap {
                return Err(reader.refuse(
                    &at.key("width"),
                    Code::OutOfRange,
                    "the width is no more than the seam gap",
                    "give the width over both halves",
                ));
            }
            let depth = (width - gap) / 2.0;
            let shown = reader.shown_unit().show(depth);
            reader.assume("depth", shown, "half of what the width leaves beside the seam gap");
            Ok(MonotoneCurve::straight(&[(0.0, depth.mm())]))
        }
        (None, Some(_)) => Err(reader.refuse(
            &at.key("width"),
            Code::Choice,
            "`width` is over both halves, and this shell has one",
            "give `depth`, or `pair: mirror`",
        )),
        (Some(_), Some(_)) => Err(reader.refuse(
            &at.key("width"),
            Code::Choice,
            "`depth` and `width` say the same thing",
            "drop one of them",
        )),
        (None, None) => Err(reader.refuse(
            at,
            Code::MissingKey,
            "`half_shell` needs `depth`",
            "add `depth:`, from the face to the seam plane",
        )),
    }
}

fn depth_stations(
    reader: &mut Reader,
    text: &DepthText,
    at: &At,
    profile: &Outline,
) -> Read<MonotoneCurve> {
    let stations_at = at.key("stations");
    let range = profile.run();
    let mut stations = Vec::new();
    for (i, station) in text.stations.iter().enumerate() {
        let at = stations_at.item(i);
        let place = station_place(reader, &station.at, &at.key("at"), range.1);
        let depth = reader.length(&station.depth, &at.key("depth"), Allowed::Positive);
        stations.push((place?, depth?.mm()));
    }
    let is_smooth = smooth_between(reader, text.between.as_ref(), at, false)?;
    along_the_part(reader, stations, range, is_smooth, &stations_at)
}

fn open_edges(
    reader: &mut Reader,
    names: Option<&[Name]>,
    at: &At,
    profile: &Outline,
) -> Read<Vec<usize>> {
    reader.stands_whole(at)?;
    let mut open = Vec::new();
    for (i, name) in names.unwrap_or_default().iter().enumerate() {
        match profile.edge_names.iter().position(|known| *known == name.0) {
            Some(edge) => open.push(edge),
            None => {
                let help = suggestion(&name.0, &profile.edge_names);
                reader.refuse(
                    &at.item(i),
                    Code::UnknownName,
                    format!("the profile has no edge called `{}`", name.0),
                    help,
                );
            }
        }
    }
    let sides = &profile.sides.sides;
    let is_open = |side: &Side| side.edge.is_some_and(|edge| open.contains(&edge));
    if sides.iter().all(is_open) && !sides.is_empty() {
        return Err(reader.refuse(
            at,
            Code::Choice,
            "every edge is open, so nothing is formed",
            "describe it as a plate",
        ));
    }
    for (i, side) in sides.iter().enumerate() {
        let (before, after) =
            (&sides[(i + sides.len() - 1) % sides.len()], &sides[(i + 1) % sides.len()]);
        // An arc that nobody named and that touches both its neighbours; one that meets them in
        // corners is a side of its own.
        let touches = |i: usize| profile.sides.turn_before(i % sides.len()).abs() < SMOOTH_JOINT;
        let is_round = side.edge.is_none()
            && matches!(side.segment, Segment::Arc { .. })
            && touches(i)
            && touches(i + 1);
        if is_round && (is_open(before) || is_open(after)) {
            let message = "a corner beside an open edge is rounded";
            return Err(reader.refuse(
                at,
                Code::NoRoom,
                message,
                "leave that corner sharp: the wall ends square there",
            ));
        }
    }
    Ok(open)
}
