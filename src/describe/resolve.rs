//! A part's description made into a [`Part`].

use std::sync::Arc;

use super::centreline::{along_the_part, smooth_between, station_place};
use super::folded::folded;
use super::joggle;
use super::outline::{Outline, inside};
use super::shop_file::{Shop, named_shop};
use super::tab_slots::tab_slots;
use super::tabs::{SheetAtHand, insert, profile_edges, tabs};
use super::written::{
    AllowanceText, BentText, BuckText, CopeText, DepthText, HalfShellText, ListOr, Name, OpeningText, PartText, PinsText,
    PlateText, SectionItemText, WordOr,
};
use super::yaml::mistakes::suggestion;
use super::yaml::quantity::{Quantity, Sized, read_length};
use super::yaml::reader::{Allowed, At, Reader};
use super::yaml::source::{FileKind, decode, text_of};
use crate::geom::{MonotoneCurve, Point, Polyarc, Rect, Segment, Side};
use crate::part::Hammered;
use crate::part::{
    Bend, Bent, Buck, Cope, FileReader, Grain, HalfShell, JoggleBend, Join, Kind, Leg, LegDims, Lip, Opening, Part, Pins, Plate,
    ShellDims,
};
use crate::problem::{Checked, Code, Problem};
use crate::shop::bend_rule::{BendRule, HandbookFactor, KFactor};
use crate::shop::kerf::usual_kerf;
use crate::shop::material::Material;
use crate::shop::measured_strip::MeasuredStrips;
use crate::tolerance::{CURVE_TO_ARCS, MOST_GRAIN_TOLERANCE_DEG, MOST_STATIONS, SMOOTH_JOINT};
use crate::units::{Angle, Length, LengthUnit};

/// Reads a part from the bytes of its file. `shop` is the shop named on the command line or by the job; the part's own comes first.
pub fn read_part(name: &str, bytes: Vec<u8>, shop: Option<&Arc<Shop>>, files: &dyn FileReader) -> Checked<Part> {
    let source = text_of(name, bytes).map_err(|problem| vec![problem])?;
    let (text, map) = decode::<PartText>(&source, FileKind::Part)?;
    let mut reader = Reader::new(&map);
    match part(&mut reader, &text, shop, files) {
        Some(part) if reader.problems.is_empty() => Ok(Part { assumed: reader.assumed, ..part }),
        _ if reader.problems.is_empty() => {
            let message = "this part cannot be read, for a reason that the program does not know";
            Err(vec![Problem::new(Code::File, message, "please report it, with this file").at(map.value(""))])
        }
        _ => Err(reader.problems),
    }
}

/// The shop, the metal and the thickness of a part; the first step of reading one.
pub(super) fn sheet_of(
    reader: &mut Reader,
    text: &PartText,
    shop: Option<&Arc<Shop>>,
    files: &dyn FileReader,
) -> Option<(Arc<Shop>, Option<Material>, Option<Length>)> {
    let root = At::default();
    reader.read_units(text.units.as_ref());
    let shop = match (&text.shop, shop) {
        (Some(own), _) => named_shop(reader, own, &root.key("shop"), files)?,
        (None, Some(shop)) => Arc::clone(shop),
        (None, None) => Arc::new(Shop::default()),
    };
    let material = material(reader, &text.material, &root.key("material"), &shop);
    let family = material.as_ref().and_then(|material| material.gauge_family);
    // Without its metal a gauge is no thickness; anything else is looked at all the same.
    let is_gauge = matches!(read_length(&text.thickness, reader.unit), Ok(Sized::Gauge(_)));
    let thickness =
        if material.is_none() && is_gauge { None } else { reader.thickness(&text.thickness, &root.key("thickness"), family) };
    Some((shop, material, thickness))
}

pub(super) fn part(reader: &mut Reader, text: &PartText, shop: Option<&Arc<Shop>>, files: &dyn FileReader) -> Option<Part> {
    let root = At::default();
    let name = reader.file_name(&text.part, &root.key("part"), "its files are");
    let (shop, material, thickness) = sheet_of(reader, text, shop, files)?;
    let grain = match &text.grain {
        Some(word) => {
            let known = [("along", Grain::Along), ("across", Grain::Across), ("any", Grain::Any)];
            reader.word(&word.0, &root.key("grain"), &known)
        }
        None => Some(Grain::Any),
    };
    let tolerance = grain_tolerance(reader, text.grain_tolerance.as_ref(), grain, &root.key("grain_tolerance"));
    let bend_rule =
        material.as_ref().and_then(|m| bend_rule(reader, text.bend_allowance.as_ref(), &root.key("bend_allowance"), m, &shop));
    // An unknown thickness is an error already; any other one will do to look for more.
    let some_thickness = thickness.unwrap_or(Length::from_mm(1.0));
    let family = material.as_ref().and_then(|material| material.gauge_family);
    let usual = || usual_kerf(some_thickness, family).map_or(some_thickness, |figure| figure.value);
    let kerf = shop.cutting.kerf.filter(|kerf| *kerf > Length::ZERO).unwrap_or_else(usual);
    reader.sheet = Some(SheetAtHand { shop: Arc::clone(&shop), thickness: some_thickness, kerf });
    let kind = kind(reader, text, some_thickness, files);
    if text.buck.is_some() && !matches!(kind, None | Some(Kind::HalfShell(_))) {
        reader.refuse::<()>(&root.key("buck"), Code::Choice, "only a half_shell has a buck", "drop `buck`");
    }
    Some(Part {
        name: text.part.0.clone(),
        file_name: name,
        unit: reader.shown_unit(),
        material: material?,
        thickness: thickness?,
        grain: grain?,
        grain_tolerance: tolerance?,
        bend_rule: bend_rule?,
        kind: kind?,
        shop,
        assumed: Vec::new(),
        place: reader.place(&root.key("part")),
    })
}

/// The material of that name, the shop's own first.
pub(super) fn material(reader: &mut Reader, name: &Name, at: &At, shop: &Shop) -> Option<Material> {
    if let Some(own) = shop.materials.iter().find(|material| material.name == name.0) {
        return Some(own.clone());
    }
    match Material::named(&name.0) {
        Ok(material) => Some(material.clone()),
        Err(_) => {
            let own = shop.materials.iter().map(|m| m.name.as_str());
            let known: Vec<&str> = own.chain(Material::built_in().iter().map(|m| m.name.as_str())).collect();
            reader.refuse(
                at,
                Code::UnknownName,
                format!("`{}` is not a material known here", name.0),
                suggestion(&name.0, &known),
            )
        }
    }
}

fn bend_rule(
    reader: &mut Reader,
    text: Option<&WordOr<AllowanceText>>,
    at: &At,
    material: &Material,
    shop: &Shop,
) -> Option<BendRule> {
    match text {
        None => Some(BendRule::Din6935),
        Some(WordOr::Word(Quantity::Text(word))) => {
            let known = [("din-6935", 0), ("faa", 1), ("strips", 2)];
            match reader.word(word, at, &known)? {
                0 => Some(BendRule::Din6935),
                1 => Some(BendRule::Faa),
                _ => match MeasuredStrips::of_material(&material.name, &shop.strips) {
                    Ok(strips) => Some(BendRule::Strips(strips)),
                    Err(bad) => {
                        let message = bad.first().map_or_else(String::new, ToString::to_string);
                        reader.refuse(at, Code::OutOfRange, format!("the shop file's {message}"), "measure that strip again")
                    }
                },
            }
        }
        Some(WordOr::Word(Quantity::Number(number))) => {
            let help = format!("for a K-factor write {{k_factor: {number}}}");
            reader.refuse(at, Code::WrongType, "a bare number is no bend allowance rule", help)
        }
        Some(WordOr::Keys(keys)) => match (keys.handbook, keys.k_factor) {
            (Some(number), None) => match HandbookFactor::from_number(number) {
                Some(factor) => Some(BendRule::Handbook(factor)),
                None => {
                    let help = "give 0.55 (soft brass, copper), 0.64 (soft steel, aluminium) or 0.71 (hard and spring metals)";
                    reader.refuse(
                        &at.key("handbook"),
                        Code::OutOfRange,
                        format!("{number} is not one of the handbook's factors"),
                        help,
                    )
                }
            },
            (None, Some(k)) => match KFactor::new(k) {
                Ok(k) => Some(BendRule::KFactor(k)),
                Err(error) => reader.refuse(&at.key("k_factor"), Code::OutOfRange, error.to_string(), "give 0.2 to 0.5"),
            },
            _ => reader.refuse(at, Code::Choice, "a bend allowance rule has one figure", "give `handbook` or `k_factor`"),
        },
    }
}

/// How far the rolling direction may be off, which only makes sense where it is asked for.
fn grain_tolerance(reader: &mut Reader, tolerance: Option<&Quantity>, grain: Option<Grain>, at: &At) -> Option<Angle> {
    let Some(tolerance) = tolerance else { return Some(Angle::from_degrees(0.0)) };
    if grain == Some(Grain::Any) {
        let help = "give `grain: along` or `grain: across`, or drop it";
        return reader.refuse(at, Code::Choice, "a tolerance of the grain needs a grain to hold to", help);
    }
    reader.angle(tolerance, at, 0.0, MOST_GRAIN_TOLERANCE_DEG)
}

fn kind(reader: &mut Reader, text: &PartText, thickness: Length, files: &dyn FileReader) -> Option<Kind> {
    let root = At::default();
    let given = [
        ("plate", text.plate.is_some()),
        ("half_shell", text.half_shell.is_some()),
        ("bent", text.bent.is_some()),
        ("folded", text.folded.is_some()),
    ];
    let names: Vec<&str> = given.iter().filter(|(_, is)| *is).map(|(name, _)| *name).collect();
    let [name] = names.as_slice() else {
        let at = names.get(1).map_or(root.key("part"), |name| root.key(name));
        let message = if names.is_empty() {
            "this part has no shape".to_owned()
        } else {
            format!("this part has {} shapes: {}", names.len(), names.join(", "))
        };
        return reader.refuse(&at, Code::Choice, message, "give exactly one of plate, half_shell, bent, folded");
    };
    let at = root.key(name);
    if let Some(text) = &text.plate {
        return plate(reader, text, &at, files).map(Kind::Plate);
    }
    if let Some(shell) = &text.half_shell {
        let shell = half_shell(reader, shell, text.buck.as_ref(), &at, thickness, files);
        return shell.map(|shell| Kind::HalfShell(Box::new(shell)));
    }
    if let Some(text) = &text.bent {
        return bent(reader, text, &at, thickness, files).map(Kind::Bent);
    }
    let text = text.folded.as_ref()?;
    folded(reader, text, &at, thickness, files).map(|folded| Kind::Folded(Box::new(folded)))
}

fn plate(reader: &mut Reader, text: &PlateText, at: &At, files: &dyn FileReader) -> Option<Plate> {
    let profile = reader.outline(&text.profile, &at.key("profile"), files);
    let openings = openings(reader, text.openings.as_deref(), &at.key("openings"), files);
    let mut profile = profile?;
    let tabs_at = at.key("tabs");
    let tabs = tabs(reader, text.tabs.as_deref(), &tabs_at, &profile_edges(&profile), files);
    let (openings, tabs) = (openings?, tabs?);
    insert(reader, &mut profile, &tabs, &tabs_at)?;
    within(reader, &profile, &openings, "the plate")?;
    Some(Plate { profile, openings, tabs })
}

pub(super) fn openings(
    reader: &mut Reader,
    texts: Option<&[OpeningText]>,
    at: &At,
    files: &dyn FileReader,
) -> Option<Vec<Opening>> {
    let mut all = Vec::new();
    let mut whole = true;
    for (i, text) in texts.unwrap_or_default().iter().enumerate() {
        let at = at.item(i);
        if let Some(slots) = &text.tab_slots {
            let alone = OpeningText { tab_slots: Some(slots.clone()), ..OpeningText::default() };
            if *text != alone {
                let help = "give other openings an item of their own";
                reader.refuse::<()>(&at, Code::Choice, "slots for tabs have no other outline and no lip", help);
                whole = false;
            } else if !reader.skips_tab_slots {
                match tab_slots(reader, slots, &at.key("tab_slots"), files) {
                    Some(slots) => all.extend(slots),
                    None => whole = false,
                }
            }
            continue;
        }
        let outline = reader.outline(&text.outline(), &at, files);
        let lip = match &text.lip {
            Some(lip) => {
                let at = at.key("lip");
                let height = reader.length(&lip.height, &at.key("height"), Allowed::Positive);
                let radius = reader.length(&lip.radius, &at.key("radius"), Allowed::Positive);
                let right_angle = Quantity::Number(90.0);
                let angle = lip.angle.as_ref().unwrap_or(&right_angle);
                let angle_at = at.key("angle");
                let angle = match reader.angle(angle, &angle_at, -120.0, 120.0) {
                    Some(turned) if turned.degrees().abs() < 1.0 => {
                        let help = "give 1 to 120 degrees, negative toward the inner side; without a lip drop `lip`";
                        reader.refuse(&angle_at, Code::OutOfRange, format!("a lip turned by `{angle}` degrees is none"), help)
                    }
                    other => other,
                };
                match (height, radius, angle) {
                    (Some(height), Some(inside_radius), Some(angle)) => {
                        Some(Lip { height, inside_radius, bend_angle: angle.abs(), outward: angle.degrees() > 0.0 })
                    }
                    _ => {
                        whole = false;
                        None
                    }
                }
            }
            None => None,
        };
        match outline {
            Some(outline) => all.push(Opening { outline: outline.sides, lip, tab: None, place: reader.place(&at) }),
            None => whole = false,
        }
    }
    whole.then_some(all)
}

/// Refuses openings that leave their face or run into each other.
pub(super) fn within(reader: &mut Reader, face: &Outline, openings: &[Opening], what: &str) -> Option<()> {
    let outer = face.sides.to_polyarc(CURVE_TO_ARCS);
    let arcs: Vec<Polyarc> = openings.iter().map(|opening| opening.outline.to_polyarc(CURVE_TO_ARCS)).collect();
    let points: Vec<Vec<Point>> = arcs.iter().map(|opening| opening.flatten(0.05)).collect();
    let bounds: Vec<Rect> = arcs.iter().map(Polyarc::bounds).collect();
    let before = reader.problems.len();
    for (i, opening) in arcs.iter().enumerate() {
        if !inside(&outer, opening) {
            let message = format!("this opening reaches outside {what}");
            let help = "move it in, or make it part of the profile";
            reader.problems.push(Problem::new(Code::OpeningOutside, message, help).at(openings[i].place.clone()));
        }
        // The boxes first: a perforated sheet has thousands of openings.
        let clashes = |k: &usize| {
            bounds[i].overlaps(bounds[*k])
                && (points[i].iter().any(|p| arcs[*k].contains(*p)) || points[*k].iter().any(|p| opening.contains(*p)))
        };
        if let Some(k) = (0..i).find(clashes) {
            // An item of the list may be several slots.
            let listed = openings[..=k].chunk_by(|a, b| a.place == b.place).count();
            let message = format!("this opening runs into opening {listed} of the list");
            let help = "move one of them, or make one opening of the two";
            reader.problems.push(Problem::new(Code::Outline, message, help).at(openings[i].place.clone()));
        }
    }
    (reader.problems.len() == before).then_some(())
}

fn half_shell(
    reader: &mut Reader,
    text: &HalfShellText,
    buck_text: Option<&BuckText>,
    at: &At,
    thickness: Length,
    files: &dyn FileReader,
) -> Option<HalfShell> {
    let profile_at = at.key("profile");
    let profile = reader.outline(&text.profile, &profile_at, files);
    let dims = match &text.dims {
        Some(word) => reader.word(&word.0, &at.key("dims"), &[("outside", ShellDims::Outside), ("inside", ShellDims::Inside)]),
        None => {
            reader.assume("dims", "outside", "profile and depth are taken as the finished metal's outside");
            Some(ShellDims::Outside)
        }
    };
    let inside_radius = reader.length(&text.edge_radius, &at.key("edge_radius"), Allowed::Positive);
    let draft = text.draft.as_ref().map_or(Some(Angle::ZERO), |draft| reader.angle(draft, &at.key("draft"), 0.0, 45.0));
    let crown = reader.length_or(text.crown.as_ref(), &at.key("crown"), Allowed::ZeroOrMore, Length::ZERO);
    let trim = reader.length_or(text.trim.as_ref(), &at.key("trim"), Allowed::ZeroOrMore, Length::ZERO);
    if text.trim.is_none() {
        reader.assume("trim", "0", "no metal is left beyond the seam; 6 mm is usual in hand forming (aircraft practice)");
    }
    let end_trim = reader.length_or(text.end_trim.as_ref(), &at.key("end_trim"), Allowed::ZeroOrMore, Length::ZERO);
    let paired = match &text.pair {
        Some(word) => reader.word(&word.0, &at.key("pair"), &[("mirror", true), ("none", false)]),
        None => Some(false),
    };
    let join = match &text.join {
        Some(word) => reader.word(&word.0, &at.key("join"), &[("run_on", Join::RunOn), ("open", Join::Open)]),
        None => Some(Join::RunOn),
    };
    let gap = text.seam.as_ref().and_then(|seam| seam.gap.as_ref());
    let seam_gap = reader.length_or(gap, &at.key("seam").key("gap"), Allowed::ZeroOrMore, Length::ZERO);
    let openings = openings(reader, text.openings.as_deref(), &at.key("openings"), files);
    let buck = buck(reader, buck_text, &At("buck".into()));
    let profile = profile?;
    let (dims, paired, seam_gap, draft) = (dims?, paired?, seam_gap?, draft?);
    let buck = buck.and_then(|buck| few_stations(reader, &profile, buck, &At("buck".into()).key("stations")));
    let depth = depth(reader, text, at, &profile, paired, seam_gap);
    let open_edges = open_edges(reader, text.open_edges.as_deref(), &at.key("open_edges"), &profile)?;
    let (mut profile, mut depth) = (profile, depth?);
    if dims == ShellDims::Inside {
        (profile, depth) = outside_of(reader, &profile, &open_edges, &depth, (thickness, draft), &profile_at)?;
    }
    let inside_radius = inside_radius?;
    // The rounding takes (R + T) (1 - sin draft) of the depth.
    let rounding = (inside_radius + thickness) * (1.0 - draft.radians().sin());
    if let Some(least) = depth.places().iter().map(|&p| depth.value_at(p)).reduce(f64::min).filter(|d| *d < rounding.mm()) {
        let unit = reader.shown_unit();
        let message = format!("a depth of {} leaves no wall below the edge radius", unit.show(Length::from_mm(least)));
        let help = format!("make it {} deep at least, or the edge radius smaller", unit.show(rounding));
        let key = if text.depth.is_some() { "depth" } else { "width" };
        return reader.refuse(&at.key(key), Code::NoRoom, message, help);
    }
    let crown = crown?;
    let end_trim = end_trim?;
    // Names of open edges that are not known have been refused.
    let hammered = if open_edges.is_empty() && text.open_edges.as_ref().is_some_and(|names| !names.is_empty()) {
        None
    } else {
        hammered(reader, &profile, &open_edges, end_trim, &at.key("end_trim"))?
    };
    let openings = openings?;
    within(reader, &profile, &openings, "the shell")?;
    Some(HalfShell {
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

/// The outline with metal left beyond its open edges, where any is.
#[expect(clippy::option_option, reason = "none where it is refused")]
fn hammered(reader: &mut Reader, profile: &Outline, open_edges: &[usize], by: Length, at: &At) -> Option<Option<Hammered>> {
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

/// The outside profile and depth of a shell given by its buck. Open edges have no metal outside them.
fn outside_of(
    reader: &mut Reader,
    profile: &Outline,
    open_edges: &[usize],
    depth: &MonotoneCurve,
    (thickness, draft): (Length, Angle),
    at: &At,
) -> Option<(Outline, MonotoneCurve)> {
    let out = thickness.mm() / draft.radians().cos();
    let is_open = |i: usize| profile.sides.sides[i].edge.is_some_and(|edge| open_edges.contains(&edge));
    let Some(grown) = crate::geom::offset_sides(&profile.sides, &|i| if is_open(i) { 0.0 } else { out }) else {
        let message = "the metal's outside around this profile closes on itself";
        return reader.refuse(at, Code::NoRoom, message, "make its inside curves wider than the thickness");
    };
    // On a slope the sheet's thickness counts for more of the depth; at a crease by the mean slope about it.
    let slope = |i: usize| {
        let (places, values) = (depth.places(), depth.values());
        let (a, b) = (i.saturating_sub(1), (i + 1).min(places.len() - 1));
        if a == b { 0.0 } else { (values[b] - values[a]) / (places[b] - places[a]) }
    };
    let deeper = depth.raised(|i| thickness.mm() * 1.0_f64.hypot(slope(i)));
    let outline = Outline { sides: grown, edge_names: profile.edge_names.clone(), centreline: profile.centreline.clone() };
    Some((outline, deeper))
}

/// The depth, from `depth` or from half the `width`.
fn depth(
    reader: &mut Reader,
    text: &HalfShellText,
    at: &At,
    profile: &Outline,
    paired: bool,
    gap: Length,
) -> Option<MonotoneCurve> {
    match (&text.depth, &text.width) {
        (Some(WordOr::Word(quantity)), None) => {
            let depth = reader.length(quantity, &at.key("depth"), Allowed::Positive)?;
            Some(MonotoneCurve::straight(&[(0.0, depth.mm())]))
        }
        (Some(WordOr::Keys(stations)), None) => depth_stations(reader, stations, &at.key("depth"), profile),
        (None, Some(width)) if paired => {
            let width = reader.length(width, &at.key("width"), Allowed::Positive)?;
            if width <= gap {
                return reader.refuse(
                    &at.key("width"),
                    Code::OutOfRange,
                    "the width is no more than the seam gap",
                    "give the width over both halves",
                );
            }
            let depth = (width - gap) / 2.0;
            let shown = reader.shown_unit().show(depth);
            reader.assume("depth", shown, "half of what the width leaves beside the seam gap");
            Some(MonotoneCurve::straight(&[(0.0, depth.mm())]))
        }
        (None, Some(_)) => reader.refuse(
            &at.key("width"),
            Code::Choice,
            "`width` is over both halves, and this shell has one",
            "give `depth`, or `pair: mirror`",
        ),
        (Some(_), Some(_)) => {
            reader.refuse(&at.key("width"), Code::Choice, "`depth` and `width` say the same thing", "drop one of them")
        }
        (None, None) => {
            reader.refuse(at, Code::MissingKey, "`half_shell` needs `depth`", "add `depth:`, from the face to the seam plane")
        }
    }
}

fn depth_stations(reader: &mut Reader, text: &DepthText, at: &At, profile: &Outline) -> Option<MonotoneCurve> {
    let stations_at = at.key("stations");
    let range = run_of(profile);
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

/// Where a part begins and ends along its centreline, or else along x, mm.
fn run_of(profile: &Outline) -> (f64, f64) {
    match &profile.centreline {
        Some(line) => (0.0, line.iter().map(Segment::length).sum()),
        None => {
            let bounds = profile.sides.bounds();
            (bounds.x0, bounds.x1)
        }
    }
}

/// Refuses a pitch of stations that makes more of them than anybody cuts templates.
fn few_stations(reader: &mut Reader, profile: &Outline, buck: Buck, at: &At) -> Option<Buck> {
    let (from, to) = run_of(profile);
    let count = ((to - from) / buck.stations.mm()).floor();
    if count <= MOST_STATIONS {
        return Some(buck);
    }
    let unit = reader.shown_unit();
    // Rounded up to a tenth of a millimetre, or to a hundredth of an inch.
    let (step, least) = (if unit == LengthUnit::Inch { 0.254 } else { 0.1 }, (to - from) / MOST_STATIONS);
    let least = unit.show(Length::from_mm((least / step).ceil() * step));
    let message =
        format!("a station every {} would make {count} of them; {MOST_STATIONS} are the most", unit.show(buck.stations));
    reader.refuse(at, Code::OutOfRange, message, format!("for a part this long make the pitch {least} or more"))
}

fn open_edges(reader: &mut Reader, names: Option<&[Name]>, at: &At, profile: &Outline) -> Option<Vec<usize>> {
    let mut open = Vec::new();
    for (i, name) in names.unwrap_or_default().iter().enumerate() {
        match profile.edge_names.iter().position(|known| *known == name.0) {
            Some(edge) => open.push(edge),
            None => {
                let help = suggestion(&name.0, &profile.edge_names);
                reader.refuse::<()>(&at.item(i), Code::UnknownName, format!("the profile has no edge called `{}`", name.0), help);
            }
        }
    }
    let sides = &profile.sides.sides;
    let is_open = |side: &crate::geom::Side| side.edge.is_some_and(|edge| open.contains(&edge));
    if sides.iter().all(is_open) && !sides.is_empty() {
        return reader.refuse(at, Code::Choice, "every edge is open, so nothing is formed", "describe it as a plate");
    }
    for (i, side) in sides.iter().enumerate() {
        let (before, after) = (&sides[(i + sides.len() - 1) % sides.len()], &sides[(i + 1) % sides.len()]);
        // An arc that nobody named and that touches both its neighbours; one that meets them in corners is a side of its own.
        let touches = |i: usize| profile.sides.turn_before(i % sides.len()).abs() < SMOOTH_JOINT;
        let is_round = side.edge.is_none() && matches!(side.segment, Segment::Arc { .. }) && touches(i) && touches(i + 1);
        if is_round && (is_open(before) || is_open(after)) {
            let message = "a corner beside an open edge is rounded";
            return reader.refuse(at, Code::NoRoom, message, "leave that corner sharp: the wall ends square there");
        }
    }
    Some(open)
}

fn buck(reader: &mut Reader, text: Option<&BuckText>, at: &At) -> Option<Buck> {
    let none = BuckText { layer: None, clamp_plate: None, dowels: None, bolts: None, undercut: None, stations: None };
    let text = text.unwrap_or(&none);
    let default = |reader: &mut Reader, given: Option<&Quantity>, key: &str, mm: f64, why: &str| {
        if given.is_none() {
            let shown = reader.shown_unit().show(Length::from_mm(mm));
            reader.assume(&format!("buck.{key}"), shown, why);
        }
        reader.length_or(given, &at.key(key), Allowed::Positive, Length::from_mm(mm))
    };
    let layer = default(reader, text.layer.as_ref(), "layer", 18.0, "a usual board; measure yours");
    let clamp_plate = default(reader, text.clamp_plate.as_ref(), "clamp_plate", 10.0, "common practice");
    let stations = default(reader, text.stations.as_ref(), "stations", 50.0, "common practice: 25 to 50 mm");
    let undercut = match &text.undercut {
        None => Some(None),
        Some(Quantity::Text(word)) if word == "auto" => Some(None),
        Some(quantity) => reader.angle(quantity, &at.key("undercut"), 0.0, 15.0).map(Some),
    };
    let dowels = pins(reader, text.dowels.as_ref(), &at.key("dowels"))?;
    let bolts = pins(reader, text.bolts.as_ref(), &at.key("bolts"))?;
    Some(Buck { layer: layer?, clamp_plate: clamp_plate?, dowels, bolts, undercut: undercut?, stations: stations? })
}

/// Dowels or bolts. The outer `None` is a problem, the inner one: none asked for.
#[expect(clippy::option_option, reason = "a problem and an absence are two things here")]
fn pins(reader: &mut Reader, text: Option<&PinsText>, at: &At) -> Option<Option<Pins>> {
    let Some(text) = text else { return Some(None) };
    let diameter = reader.length(&text.diameter, &at.key("diameter"), Allowed::Positive)?;
    let places = match &text.at {
        None => None,
        Some(ListOr::One(word)) => {
            reader.word(&word.to_string(), &at.key("at"), &[("auto", ())])?;
            None
        }
        Some(ListOr::List(points)) => {
            let at = at.key("at");
            let mut places = Vec::new();
            for (i, point) in points.iter().enumerate() {
                places.push(reader.point(point, &at.item(i))?);
            }
            Some(places)
        }
    };
    Some(Some(Pins { diameter, at: places }))
}

fn bent(reader: &mut Reader, text: &BentText, at: &At, thickness: Length, files: &dyn FileReader) -> Option<Bent> {
    let dims = leg_dims(reader, text.dims.as_ref(), at, "legs are taken to the outside mould lines");
    // A radius that cannot be read is an error already; the thickness stands in for it.
    let common_radius =
        text.radius.as_ref().map(|radius| reader.length(radius, &at.key("radius"), Allowed::Positive).unwrap_or(thickness));
    let depth = reader.length(&text.depth, &at.key("depth"), Allowed::Positive);
    let copes = copes(reader, text.copes.as_deref(), &at.key("copes"));
    let section_at = at.key("section");
    let (mut legs, mut bends) = (Vec::new(), Vec::new());
    let before = reader.problems.len();
    for (i, item) in text.section.iter().enumerate() {
        let at = section_at.item(i);
        let turns = item.bend.is_some() || item.joggle.is_some();
        match (&item.leg, turns.then_some(()), i % 2) {
            (Some(leg), None, 0) => legs.extend(self::leg(reader, leg, item, &at, dims, files)),
            (None, Some(()), 1) if item.joggle.is_some() => {
                if let Some((between, both)) = joggled(reader, item, &at, dims, common_radius, thickness) {
                    legs.push(between);
                    bends.extend(both);
                }
            }
            (None, Some(()), 1) => bends.extend(self::bend(reader, item, &at, common_radius, thickness)),
            (Some(_), Some(()), _) => {
                return reader.refuse(&at, Code::Choice, "a leg and a bend in one item", "give each an item of its own");
            }
            (None, None, _) => {
                return reader.refuse(
                    &at,
                    Code::Choice,
                    "this item is neither a leg nor a bend",
                    "give `leg`, `bend` or `joggle`",
                );
            }
            (Some(_), None, _) => {
                return reader.refuse(&at, Code::Choice, "two legs follow each other", "put a bend between them");
            }
            (None, Some(()), _) => {
                return reader.refuse(
                    &at,
                    Code::Choice,
                    "a section starts and ends with a leg, and bends lie between legs",
                    "add the leg before this bend",
                );
            }
        }
    }
    if reader.problems.len() > before {
        return None;
    }
    if legs.len() != bends.len() + 1 {
        return reader.refuse(
            &section_at,
            Code::Choice,
            "a section starts and ends with a leg",
            "add the leg behind the last bend",
        );
    }
    Some(Bent { dims: dims?, legs, bends, depth: depth?, copes: copes? })
}

/// Ends of a bent part cut to lie against tubes.
fn copes(reader: &mut Reader, texts: Option<&[CopeText]>, at: &At) -> Option<Vec<Cope>> {
    let mut all = Vec::new();
    for (i, text) in texts.unwrap_or_default().iter().enumerate() {
        let at = at.item(i);
        let is_far = reader.word(&text.end.0, &at.key("end"), &[("near", false), ("far", true)]);
        let diameter = reader.length(&text.tube, &at.key("tube"), Allowed::Positive);
        let through = [0, 1, 2].map(|k| reader.length(&text.through[k], &at.key("through").item(k), Allowed::Any));
        let clearance = reader.length_or(text.clearance.as_ref(), &at.key("clearance"), Allowed::ZeroOrMore, Length::ZERO);
        let square: f64 = text.along.iter().map(|x| x * x).sum();
        if !(square.is_finite() && square > 1e-12) {
            let message = "this direction goes nowhere";
            return reader.refuse(&at.key("along"), Code::OutOfRange, message, "such as [1, 0, 0], along x");
        }
        let [Some(x), Some(y), Some(z)] = through else { return None };
        all.push(Cope {
            is_far: is_far?,
            diameter: diameter?,
            through: [x, y, z],
            along: text.along,
            clearance: clearance?,
            place: reader.place(&at),
        });
    }
    Some(all)
}

/// What the legs, or profile and heights, measure.
pub(super) fn leg_dims(reader: &mut Reader, dims: Option<&Name>, at: &At, why_outside: &str) -> Option<LegDims> {
    match dims {
        Some(word) => {
            let known =
                [("outside", LegDims::Outside), ("inside", LegDims::Inside), ("flat", LegDims::Flat), ("edge", LegDims::Edge)];
            reader.word(&word.0, &at.key("dims"), &known)
        }
        None => {
            reader.assume("dims", "outside", why_outside);
            Some(LegDims::Outside)
        }
    }
}

/// The angle of a bend, above 0 and below 180 degrees either way.
pub(super) fn bend_angle(reader: &mut Reader, bend: &Quantity, at: &At) -> Option<Angle> {
    let angle = reader.angle(bend, at, f64::NEG_INFINITY, f64::INFINITY)?;
    // The comparison is this way round so that a NaN fails.
    if !(0.01..=179.99).contains(&angle.degrees().abs()) {
        let message = format!("a bend of `{bend}` degrees is not allowed here");
        let help = "give the angle that the metal is turned through, above 0 and below 180; below 0 it turns down";
        return reader.refuse(at, Code::OutOfRange, message, help);
    }
    Some(angle)
}

fn leg(
    reader: &mut Reader,
    leg: &Quantity,
    item: &SectionItemText,
    at: &At,
    dims: Option<LegDims>,
    files: &dyn FileReader,
) -> Option<Leg> {
    if item.radius.is_some() {
        return reader.refuse(&at.key("radius"), Code::Choice, "a leg has no radius", "give it on the bend");
    }
    let length = reader.length(leg, &at.key("leg"), Allowed::Positive);
    let openings = openings(reader, item.openings.as_deref(), &at.key("openings"), files);
    let (length, openings) = (length?, openings?);
    // Between its mould lines a leg is as long as it says; by other measures it reaches farther, by what its bends tell later.
    for opening in openings.iter().filter(|_| dims == Some(LegDims::Outside)) {
        let bounds = opening.outline.bounds();
        if bounds.x0 >= length.mm() || bounds.x1 <= 0.0 {
            let help = format!(
                "`at` is along the leg, {} long, from its start mould line (the first leg: from its free end), then across the depth",
                reader.shown_unit().show(length)
            );
            let problem = Problem::new(Code::OpeningOutside, "this opening lies beyond its leg", help);
            reader.problems.push(problem.at(opening.place.clone()));
        }
    }
    Some(Leg { length, openings, place: reader.place(&at.key("leg")) })
}

/// A joggle as the leg on its slope and the bends at its ends.
fn joggled(
    reader: &mut Reader,
    item: &SectionItemText,
    at: &At,
    dims: Option<LegDims>,
    common_radius: Option<Length>,
    thickness: Length,
) -> Option<(Leg, [Bend; 2])> {
    let others = [("bend", item.bend.is_some()), ("openings", item.openings.is_some()), ("radius", item.radius.is_some())];
    if let Some((key, _)) = others.into_iter().find(|(_, there)| *there) {
        let message = format!("a joggle takes no `{key}` beside it");
        let help = "its keys stand in it: {joggle: {offset: 2, angle: 30, radius: 2}}; openings belong to the legs beside it";
        return reader.refuse(&at.key(key), Code::Choice, message, help);
    }
    let joggle = joggle::joggle(reader, item.joggle.as_ref()?, &at.key("joggle"), thickness, common_radius)?;
    let length = joggle.leg(dims.unwrap_or(LegDims::Outside), thickness);
    let bend = |angle: Angle, which: JoggleBend| Bend {
        angle,
        inside_radius: joggle.inside_radius,
        joggle: Some(which),
        place: joggle.place.clone(),
    };
    let both = [bend(joggle.angle, JoggleBend::First), bend(-joggle.angle, JoggleBend::Second)];
    Some((Leg { length, openings: Vec::new(), place: joggle.place.clone() }, both))
}

fn bend(reader: &mut Reader, item: &SectionItemText, at: &At, common_radius: Option<Length>, thickness: Length) -> Option<Bend> {
    if item.openings.is_some() {
        return reader.refuse(
            &at.key("openings"),
            Code::Choice,
            "a bend has no openings",
            "give them in the leg before or after it",
        );
    }
    let bend_at = at.key("bend");
    let angle = bend_angle(reader, item.bend.as_ref()?, &bend_at)?;
    let inside_radius = match (&item.radius, common_radius) {
        (Some(radius), _) => reader.length(radius, &at.key("radius"), Allowed::Positive)?,
        (None, Some(radius)) => radius,
        (None, None) => {
            let shown = reader.shown_unit().show(thickness);
            reader.assume("radius", shown, "no inside radius is given; one thickness is a usual one");
            thickness
        }
    };
    Some(Bend { angle, inside_radius, joggle: None, place: reader.place(&bend_at) })
}
