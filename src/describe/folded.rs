//! Folded parts: a panel with flanges on its edges and flanges on those.

use schemars::JsonSchema;
use serde::Deserialize;

use super::bent::{bend_angle, common_radius, leg_dims};
use super::hem::{HemText, hem};
use super::joggle::{Joggle, JoggleText, joggle};
use super::opening::{OpeningText, openings, within};
use super::outline::{OutlineText, outline};
use super::part::{KindText, PartText, SheetAtHand};
use super::relief::{ReliefText, relief};
use super::tabs::{TabEdge, TabsText, insert, profile_edges, tabs};
use super::yaml::{Allowed, At, Name, PointText, Quantity, Read, Reader, WordOr, suggestion};
use crate::geom::Segment;
use crate::part::{FLANGE_EDGES, Flange, Folded, JoggleBend, Joint, Kind, LegDims, Outline};
use crate::problem::Code;
use crate::units::Length;

/// A panel with flanges on its edges.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FoldedText {
    /// What profile and heights measure: outside (default, to the outer faces), inside, flat (between tangent lines) or edge (past 90
    /// degrees to the outer tangent).
    pub dims: Option<Name>,
    /// Inside radius where a flange gives none.
    pub radius: Option<Quantity>,
    /// The face that the flanges stand on.
    pub panel: PanelText,
    /// The flanges on its edges.
    pub flanges: Option<Vec<FlangeText>>,
}

/// The face that the flanges stand on.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PanelText {
    /// Its outline, to the outer faces of its flanges.
    pub profile: OutlineText,
    /// The openings in it.
    pub openings: Option<Vec<OpeningText>>,
    /// Tabs on its straight edges that carry no flange.
    pub tabs: Option<Vec<TabsText>>,
}

/// A flange on an edge.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FlangeText {
    /// The edge that it is bent up from: one of the profile's, or outer, start or end of the flange that it stands on.
    pub edge: Name,
    /// Angle that it is turned through; positive toward the upper face.
    pub bend: Option<Quantity>,
    /// Instead of a bend: two opposite bends that set it off sideways.
    pub joggle: Option<JoggleText>,
    /// Its height, as `dims` says; behind a joggle that of what lies beyond it.
    pub height: Quantity,
    /// Inside radius of its bend.
    pub radius: Option<Quantity>,
    /// Metal left off at the start and the end of its edge.
    pub cut_back: Option<PointText>,
    /// How it meets its neighbour at a corner: edge (default), butt, lap or square.
    pub joint: Option<Name>,
    /// Least distance to its neighbour at a corner.
    pub corner_gap: Option<Quantity>,
    /// What is cut out where its bend meets another or ends inside an edge: auto (default), none, slit, {hole: 4}, {slot: [2, 5]} or
    /// {notch: [4, 4]}.
    pub relief: Option<WordOr<ReliefText>>,
    /// A hem on its free edge: none (default), {closed: …}, {open: …} or {teardrop: …}.
    pub hem: Option<WordOr<HemText>>,
    /// Its openings: x along the edge from its start, y up the flange from the outside mould line.
    pub openings: Option<Vec<OpeningText>>,
    /// Tabs on its own free edges.
    pub tabs: Option<Vec<TabsText>>,
    /// The flanges on its own edges.
    pub flanges: Option<Vec<FlangeText>>,
}

impl KindText for FoldedText {
    fn resolve(
        &self,
        reader: &mut Reader,
        at: &At,
        _: &PartText,
        sheet: &SheetAtHand,
    ) -> Read<Kind> {
        folded(reader, self, at, sheet).map(|folded| Kind::Folded(Box::new(folded)))
    }
}

/// What all flanges of a part share.
struct Common<'a> {
    sheet: &'a SheetAtHand,
    /// The radius of flanges that give none.
    radius: Read<Option<Length>>,
    dims: LegDims,
}

/// The edges that flanges may stand on, and how long each is as described, mm.
type Edges<'a> = [(&'a str, f64)];

fn folded(reader: &mut Reader, text: &FoldedText, at: &At, sheet: &SheetAtHand) -> Read<Folded> {
    let dims = leg_dims(
        reader,
        text.dims.as_ref(),
        at,
        "the profile is taken to the outer faces, heights to the mould lines",
    );
    let radius = common_radius(reader, text.radius.as_ref(), &at.key("radius"), sheet);
    let panel_at = at.key("panel");
    let profile = outline(reader, &text.panel.profile, &panel_at.key("profile"));
    let openings =
        openings(reader, text.panel.openings.as_deref(), &panel_at.key("openings"), sheet);
    let common = Common { sheet, radius, dims: dims.unwrap_or(LegDims::Outside) };
    let mark = reader.mark();
    let edges = match &profile {
        Ok(profile) => Ok(edges_of(profile)),
        Err(refused) => Err(*refused),
    };
    let flanges_at = at.key("flanges");
    let flanges = flanges(
        reader,
        text.flanges.as_deref(),
        &flanges_at,
        edges.as_deref().map_err(|refused| *refused),
        &common,
    );
    note_defaults(
        reader,
        text.flanges.as_deref().unwrap_or_default(),
        radius == Ok(None),
        sheet.thickness,
    );
    let (mut profile, openings) = (profile?, openings?);
    for (i, flange) in flanges.iter().enumerate() {
        if let Ok(flange) = flange {
            straight_edge(reader, &profile, flange, &flanges_at.item(i).key("edge"));
        }
    }
    let flanges: Vec<Flange> = flanges.into_iter().flatten().collect();
    // The file format measures openings in a panel where the profile is, whatever the dims.
    let tabs_at = panel_at.key("tabs");
    let mut tab_edges = profile_edges(&profile);
    bar_from_tabs(&mut tab_edges, &flanges);
    let tabs = tabs(reader, text.panel.tabs.as_deref(), &tabs_at, &tab_edges, sheet)?;
    insert(reader, &mut profile, &tabs, &tabs_at)?;
    within(reader, &profile, &openings, "the panel")?;
    reader.sound_since(mark)?;
    Ok(Folded {
        dims: dims?,
        profile,
        openings,
        flanges,
        tabs,
        place: reader.place(&panel_at.key("profile")),
    })
}

/// The edges of a panel, and how long each is.
fn edges_of(profile: &Outline) -> Vec<(&str, f64)> {
    let length = |i: usize| {
        let sides = profile.sides.sides.iter().filter(|side| side.edge == Some(i));
        sides.map(|side| side.segment.length()).sum()
    };
    profile.edge_names.iter().enumerate().map(|(i, name)| (name.as_str(), length(i))).collect()
}

/// Lists the defaults taken, each once.
fn note_defaults(reader: &mut Reader, flanges: &[FlangeText], no_radius: bool, thickness: Length) {
    fn any(flanges: &[FlangeText], lacks: &dyn Fn(&FlangeText) -> bool) -> bool {
        flanges.iter().any(|flange| {
            lacks(flange) || any(flange.flanges.as_deref().unwrap_or_default(), lacks)
        })
    }
    let unit = reader.shown_unit();
    if no_radius && any(flanges, &|flange| flange.radius.is_none()) {
        reader.assume(
            "radius",
            unit.show(thickness),
            "no inside radius is given; one thickness is a usual one",
        );
    }
    if flanges.len() > 1 && any(flanges, &|flange| flange.joint.is_none()) {
        reader.assume(
            "joint",
            "edge",
            "flanges meet at corners with their inside edges the corner gap apart",
        );
    }
    if flanges.len() > 1 && any(flanges, &|flange| flange.corner_gap.is_none()) {
        reader.assume(
            "corner_gap",
            unit.show(DEFAULT_GAP),
            "room for a weld in thin sheet; common practice, no source",
        );
    }
    if any(flanges, &|flange| flange.relief.is_none()) {
        reader.assume(
            "relief",
            "auto",
            "holes where bends meet, slots where one ends inside an edge",
        );
    }
}

/// The corner gap where none is given.
const DEFAULT_GAP: Length = Length::from_mm(0.5);

/// The flanges on the edges of one face, each as far as it can be read.
fn flanges(
    reader: &mut Reader,
    texts: Option<&[FlangeText]>,
    at: &At,
    edges: Read<&Edges>,
    common: &Common,
) -> Vec<Read<Flange>> {
    let texts = texts.unwrap_or_default().iter().enumerate();
    texts.map(|(i, text)| flange(reader, text, &at.item(i), edges, common)).collect()
}

/// Bars the edges that flanges stand on from carrying tabs.
fn bar_from_tabs(edges: &mut [TabEdge], flanges: &[Flange]) {
    for flange in flanges {
        edges[flange.edge].stretch = Err("carries a flange".to_owned());
    }
}

/// The edge of that name, an index into them.
fn edge_named(reader: &mut Reader, name: &Name, at: &At, edges: &Edges) -> Read<usize> {
    edges.iter().position(|(known, _)| *known == name.0).ok_or_else(|| {
        let message = format!("there is no edge called `{}` to bend a flange up from", name.0);
        let known: Vec<&str> = edges.iter().map(|(name, _)| *name).collect();
        reader.refuse(at, Code::UnknownName, message, suggestion(&name.0, &known))
    })
}

fn flange(
    reader: &mut Reader,
    text: &FlangeText,
    at: &At,
    edges: Read<&Edges>,
    common: &Common,
) -> Read<Flange> {
    reader.stands(at)?;
    let thickness = common.sheet.thickness;
    let edge = edges.and_then(|edges| edge_named(reader, &text.edge, &at.key("edge"), edges));
    let edge_length = match (edges, edge) {
        (Ok(edges), Ok(edge)) => edges[edge].1,
        _ => 0.0,
    };
    let joggle = match (&text.bend, &text.joggle) {
        (None, Some(text)) => {
            Some(joggle(reader, text, &at.key("joggle"), common.sheet, common.radius))
        }
        (Some(_), Some(_)) => {
            let help = "drop one of them; a wall with a joggle in it is a flange with a joggle on its outer edge";
            return Err(reader.refuse(
                &at.key("joggle"),
                Code::Choice,
                "a flange has a bend or a joggle, not both",
                help,
            ));
        }
        _ => None,
    };
    let angle = match (&text.bend, &joggle) {
        (_, Some(Ok(joggle))) => Ok(-joggle.angle),
        (_, Some(Err(refused))) => Err(*refused),
        (Some(bend), None) => bend_angle(reader, bend, &at.key("bend")),
        (None, None) => {
            let help = "add `bend:`, the angle that it is turned through, or `joggle:`";
            Err(reader.refuse(at, Code::MissingKey, "a flange needs `bend`", help))
        }
    };
    let height = reader.length(&text.height, &at.key("height"), Allowed::Positive);
    let inside_radius = match &text.radius {
        Some(_) if joggle.is_some() => {
            let help = "write {joggle: {offset: 2, radius: 2}}";
            Err(reader.refuse(
                &at.key("radius"),
                Code::Choice,
                "the radius of a joggle stands in it",
                help,
            ))
        }
        Some(radius) => reader.length(radius, &at.key("radius"), Allowed::Positive),
        None => common.radius.map(|radius| radius.unwrap_or(thickness)),
    };
    let cut_back = cut_back(reader, text.cut_back.as_ref(), &at.key("cut_back"));
    let joints = [
        ("edge", Joint::Edge),
        ("butt", Joint::Butt),
        ("lap", Joint::Lap),
        ("square", Joint::Square),
    ];
    let joint = reader.word_or(text.joint.as_ref(), &at.key("joint"), &joints, Joint::Edge);
    let corner_gap = reader.length_or(
        text.corner_gap.as_ref(),
        &at.key("corner_gap"),
        Allowed::ZeroOrMore,
        DEFAULT_GAP,
    );
    let relief = relief(reader, text.relief.as_ref(), &at.key("relief"));
    let hem = hem(reader, text.hem.as_ref(), &at.key("hem"), thickness);
    let openings = openings(reader, text.openings.as_deref(), &at.key("openings"), common.sheet);
    let height_mm = height.map_or(0.0, Length::mm);
    let cut = cut_back.unwrap_or([Length::ZERO; 2]);
    let (from, to) = (cut[0].mm(), edge_length - cut[1].mm());
    let own_edges = [height_mm, to - from, height_mm];
    let own_edges = [0, 1, 2].map(|i| (FLANGE_EDGES[i], own_edges[i]));
    let flanges =
        flanges(reader, text.flanges.as_deref(), &at.key("flanges"), Ok(&own_edges), common);
    let flanges: Vec<Flange> = flanges.into_iter().flatten().collect();
    let hem = hem?;
    if hem.is_some() && flanges.iter().any(|flange| flange.edge_name == "outer") {
        let message = "this flange has a hem and a flange on the same edge";
        return Err(reader.refuse(
            &at.key("hem"),
            Code::Choice,
            message,
            "drop one of them, or put the hem on the outer flange",
        ));
    }
    // Beside its bend a flange has no metal at its mould line.
    let setback = match (inside_radius, angle) {
        (Ok(radius), Ok(angle)) => (radius + thickness).mm() * (angle.radians().abs() / 2.0).tan(),
        _ => 0.0,
    };
    let stretches = [(setback, height_mm), (from, to), (0.0, height_mm - setback)];
    let mut tab_edges: Vec<TabEdge> = (0..3)
        .map(|i| TabEdge { name: FLANGE_EDGES[i].to_owned(), stretch: Ok(stretches[i]) })
        .collect();
    bar_from_tabs(&mut tab_edges, &flanges);
    if hem.is_some() {
        tab_edges[1].stretch = Err("carries a hem".to_owned());
    }
    // Where a size is not known, neither is the room that tabs have.
    let sizes = ["height", "cut_back", "radius", "bend", "joggle"];
    let sizes_known = sizes
        .iter()
        .try_for_each(|key| reader.stands_whole(&at.key(key)))
        .and(common.sheet.thickness_known);
    let tabs = sizes_known.and_then(|()| {
        tabs(reader, text.tabs.as_deref(), &at.key("tabs"), &tab_edges, common.sheet)
    });
    let flange = Flange {
        edge: edge?,
        edge_name: text.edge.0.clone(),
        angle: angle?,
        inside_radius: inside_radius?,
        joggle: None,
        height: height?,
        cut_back: cut_back?,
        joint: joint?,
        corner_gap: corner_gap?,
        relief: relief?,
        hem,
        openings: openings?,
        tabs: tabs?,
        flanges,
        place: reader.place(at),
    };
    match joggle {
        Some(joggle) => joggle.map(|joggle| behind(&joggle, flange, common)),
        None => Ok(flange),
    }
}

/// A flange behind a joggle: the slope on its edge, the flange on that.
fn behind(joggle: &Joggle, flange: Flange, common: &Common) -> Flange {
    let slope = Flange {
        angle: joggle.angle,
        inside_radius: joggle.inside_radius,
        joggle: Some(JoggleBend::First),
        height: joggle.leg(common.dims, common.sheet.thickness),
        hem: None,
        openings: Vec::new(),
        tabs: Vec::new(),
        flanges: Vec::new(),
        place: joggle.place.clone(),
        ..flange.clone()
    };
    let beyond = Flange {
        edge: 1,
        edge_name: FLANGE_EDGES[1].to_owned(),
        inside_radius: joggle.inside_radius,
        joggle: Some(JoggleBend::Second),
        cut_back: [Length::ZERO; 2],
        place: joggle.place.clone(),
        ..flange
    };
    Flange { flanges: vec![beyond], ..slope }
}

fn cut_back(reader: &mut Reader, text: Option<&PointText>, at: &At) -> Read<[Length; 2]> {
    let Some(text) = text else { return Ok([Length::ZERO; 2]) };
    let mut side = |i: usize| {
        let at = at.item(i);
        let length = reader.length(&text[i], &at, Allowed::Any)?;
        if length < Length::ZERO {
            let message = "a negative cut-back makes the flange wider than its edge";
            return Err(reader.refuse(
                &at,
                Code::OutOfRange,
                message,
                "give zero or more, or make the edge longer",
            ));
        }
        Ok(length)
    };
    let (start, end) = (side(0), side(1));
    Ok([start?, end?])
}

/// Refuses a flange on an edge of the panel that is no single straight line.
fn straight_edge(reader: &mut Reader, profile: &Outline, flange: &Flange, at: &At) {
    let sides = profile.sides.sides.iter().filter(|side| side.edge == Some(flange.edge));
    let segments: Vec<&Segment> = sides.map(|side| &side.segment).collect();
    if !matches!(segments.as_slice(), [Segment::Line { .. }]) {
        let message = format!(
            "the edge `{}` is not one straight line, and a brake bends straight",
            flange.edge_name
        );
        let help =
            "give each straight piece a name of its own, or hammer a curved flange as a half_shell";
        reader.refuse(at, Code::NoRoom, message, help);
    }
}
