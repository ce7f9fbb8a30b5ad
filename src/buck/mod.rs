//! Takes a half-shell's sizes, gives its buck (the form block), the clamp plate and the
//! stations; `drawing` draws them.

pub(crate) mod solid;
mod stations;

use crate::flat::Flat;
use crate::flat::half_shell::{face_alone, has_wall, wall_of};
use crate::geom::mesh_wall::without_zigzag;
use crate::geom::{
    Affine, Loop, OTHER_HAND, Point, Polyarc, Segment, Side, Vec2, Vertex, fit_arcs, fit_samples,
    left_of, offset_closed, offset_sides, self_crossing,
};
use crate::part::{HalfShell, Part, Pins};
use crate::problem::{Checked, Code, Problem};
use crate::shell::{EdgeStrain, FormedFace, Wall};
use crate::shop::springback::springback_band;
use crate::tolerance::{CLAMP_CLEARANCE_MM, CURVE_TO_ARCS, LEAST_AREA_MM2};
use crate::units::{Angle, Length};

pub use solid::{Triangle, buck_solid, formed_solid, under_skin};
pub use stations::{FlatStation, Station, station_name, stations_of};

/// Distance between the places through which a template's top goes, mm, and how far its arcs may
/// stray from the line through them.
const TEMPLATE_STEP: f64 = 4.0;
const TEMPLATE_TO_ARCS: f64 = 0.02;
/// The lines along a crowned block from which that of its side template is chosen divide its width
/// into so many parts.
const SIDE_LINES: u32 = 24;

/// What is marked on an unrolled clamp plate.
#[derive(Debug, Clone)]
pub struct OnPlate {
    /// As [`BuckSet::pins`].
    pub pins: Vec<(Point, f64, bool)>,
    /// As [`BuckSet::openings`].
    pub openings: Vec<Polyarc>,
}

/// A block seen from the side.
#[derive(Debug, Clone)]
pub struct SideTemplate {
    /// Its foot at y = 0, x along the run.
    pub outline: Polyarc,
    /// How far to the left of the run it stands, mm; 0 where the face is straight across.
    pub beside: f64,
}

/// A form block with its clamp plate.
#[derive(Debug, Clone)]
pub struct BuckSet {
    /// Outline of the buck's face side at the seam plane: the inside of the finished metal,
    /// sharp-edged as it is sawn.
    pub outline: Polyarc,
    /// Where metal is left beyond open edges: their finished lines across the block.
    pub finished_ends: Vec<Segment>,
    /// Edge radius to be routed between face and walls, mm.
    pub edge_radius: f64,
    /// Height of the block, mm.
    pub height: f64,
    /// How many layers of stock that takes.
    pub layers: usize,
    /// Thickness of one layer, mm.
    pub layer: f64,
    /// How far the walls lean under, so that the metal springs back to its angle.
    pub undercut: Angle,
    /// The least and the greatest that springback may ask for; none where the description gives it.
    pub undercut_range: Option<[Angle; 2]>,
    /// Outline of the clamp plate; none where the face is too narrow for one.
    pub clamp_plate: Option<Polyarc>,
    /// Holes for dowels and bolts: centre, diameter in mm, whether a dowel.
    pub pins: Vec<(Point, f64, bool)>,
    /// Holes that the face has already, as cut in the blank: to be marked on buck and plate.
    pub openings: Vec<Polyarc>,
    /// Pins and openings where they lie on the unrolled clamp plate of a face that is not level;
    /// else they are as on the block.
    pub on_plate: Option<OnPlate>,
    /// Seen from the side: how high it is where its face is not level.
    pub side: Option<SideTemplate>,
    /// The same square to the run, x across it, at each station by name: of a crowned face, which
    /// is not straight across.
    pub across: Vec<(String, Polyarc)>,
    /// Stations across the outline.
    pub stations: Vec<Station>,
    /// Into how many pieces the face parts the clamp plate, of which the largest is drawn.
    pub plate_pieces: usize,
}

impl BuckSet {
    /// The same for the other hand.
    #[must_use]
    pub fn other_hand(&self) -> Self {
        let mirror = OTHER_HAND;
        let holes = |all: &[(Point, f64, bool)]| {
            all.iter()
                .map(|(at, diameter, is_dowel)| (mirror * *at, *diameter, *is_dowel))
                .collect()
        };
        let outlines = |all: &[Polyarc]| all.iter().map(|outline| outline.moved(mirror)).collect();
        Self {
            outline: self.outline.moved(mirror),
            clamp_plate: self.clamp_plate.as_ref().map(|plate| plate.moved(mirror)),
            finished_ends: self.finished_ends.iter().map(|end| end.moved(mirror)).collect(),
            pins: holes(&self.pins),
            openings: outlines(&self.openings),
            on_plate: self.on_plate.as_ref().map(|plate| OnPlate {
                pins: holes(&plate.pins),
                openings: outlines(&plate.openings),
            }),
            across: self
                .across
                .iter()
                .map(|(name, template)| (name.clone(), template.moved(mirror)))
                .collect(),
            stations: self.stations.iter().map(Station::other_hand).collect(),
            ..self.clone()
        }
    }
}

/// The buck of a half-shell; none for other kinds of part.
pub fn buck_of(part: &Part, flat: &Flat) -> Checked<Option<BuckSet>> {
    let Some(shell) = part.kind.half_shell() else { return Ok(None) };
    let forming = flat.forming.as_ref();
    let on = OnFace {
        face: forming.and_then(|forming| forming.face.as_ref()),
        openings: &flat.openings,
        edge: forming.map_or(&[], |forming| &forming.edge),
    };
    build(part, shell, on).map(Some)
}

/// The buck of a half-shell for whose walls there is no blank, and its face where that is not
/// level.
pub fn buck_without_blank(
    part: &Part,
    shell: &HalfShell,
) -> Checked<(BuckSet, Option<FormedFace>)> {
    let (face, openings) = face_alone(part, shell)?;
    let buck = build(part, shell, OnFace { face: face.as_ref(), openings: &openings, edge: &[] })?;
    Ok((buck, face))
}

/// What a buck takes from the metal laid flat.
#[derive(Clone, Copy)]
struct OnFace<'a> {
    /// The face where it is not level.
    face: Option<&'a FormedFace>,
    /// The openings as they are cut.
    openings: &'a [Polyarc],
    /// Along the free edges; empty without a blank.
    edge: &'a [EdgeStrain],
}

fn build(part: &Part, shell: &HalfShell, on: OnFace) -> Checked<BuckSet> {
    let wall = wall_of(part, shell).map_err(|problem| vec![problem])?;
    set_of(part, shell, &wall, on).map_err(|problem| vec![problem])
}

fn set_of(part: &Part, finished: &HalfShell, wall: &Wall, on: OnFace) -> Result<BuckSet, Problem> {
    // The block carries the metal beyond the open edges too.
    let shell = &*finished.as_hammered();
    let face = &shell.profile.sides;
    let inset = |distance: f64| inset_walled(shell, face, distance);
    let no_room = |what: &str| {
        let help = "make the shell wider there, or its inside corners rounder";
        Problem::new(Code::NoRoom, format!("no {what} is left inside this profile"), help)
            .at(shell.profile_place.clone())
    };
    let mut bucks = inset(wall.thickness / wall.lean().cos());
    let outline = bucks.pop().filter(|_| bucks.is_empty()).ok_or_else(|| no_room("buck"))?;
    // On a face that is not level the plate is drawn as it is cut: unrolled with the face.
    let clamp_plates = match on.face {
        None => inset(wall.tangent_inset() + CLAMP_CLEARANCE_MM),
        Some(face) => largest_first(&offset_closed(&face.outline, -CLAMP_CLEARANCE_MM)),
    };
    let pieces = clamp_plates.len();
    let clamp_plate = clamp_plates.into_iter().next();
    let depth = wall.depth;
    let height = depth + shell.crown.mm() - wall.thickness + shell.trim.mm() + 10.0;
    let layer = shell.buck.layer.mm();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "height and layer are positive and below 100 m"
    )]
    let layers = (height / layer - 1e-9).ceil().max(1.0) as usize;
    let wanted = Angle::from_degrees(90.0) - shell.draft;
    let band = springback_band(&part.material, shell.inside_radius, part.thickness, wanted).ok();
    let undercut = shell.buck.undercut.or(band.map(|band| band.middle())).unwrap_or(Angle::ZERO);
    let undercut_range = band.map(|band| band.undercut).filter(|_| shell.buck.undercut.is_none());
    let face = on.face;
    let flat_of = |p: Point| face.map_or(p, |face| face.flat_of(p));
    let mut pins = Vec::new();
    for (asked, is_dowel) in [(&shell.buck.dowels, true), (&shell.buck.bolts, false)] {
        if let Some(asked) = asked {
            pins.extend(
                place_pins(
                    asked,
                    is_dowel,
                    clamp_plate.as_ref().unwrap_or(&outline),
                    on.openings,
                    &pins,
                    &flat_of,
                )
                .into_iter()
                .map(|at| (at, asked.diameter.mm(), is_dowel)),
            );
        }
    }
    let mut openings = on.openings.to_vec();
    let mut on_plate = None;
    if let Some(face) = face {
        on_plate = Some(OnPlate { pins: pins.clone(), openings: openings.clone() });
        for pin in &mut pins {
            pin.0 = face.plan_of(pin.0);
        }
        for opening in &mut openings {
            let middle = opening.bounds().center();
            *opening = opening.moved(Affine::translate(face.plan_of(middle) - middle));
        }
    }
    let mut stations = stations_of(finished, &outline, part.unit);
    if let Some(face) = face {
        for station in &mut stations {
            station.flat = Some(stations::in_the_flat(shell, face, on.edge, station));
        }
    }
    let lower = height - shell.crown.mm();
    let across_at = |face: &FormedFace, station: &Station| {
        Some((station.name.clone(), across_of(face, wall, &outline, lower, station)?))
    };
    let across = face
        .filter(|_| shell.crown.mm() > 0.0)
        .map(|face| stations.iter().filter_map(|station| across_at(face, station)).collect())
        .unwrap_or_default();
    Ok(BuckSet {
        finished_ends: if finished.hammered.is_some() {
            ends_across(finished, wall)
        } else {
            Vec::new()
        },
        across,
        side: face.and_then(|face| side_of(face, wall, &outline, lower)),
        stations,
        outline,
        edge_radius: wall.inside_radius,
        height,
        layers,
        layer,
        undercut,
        undercut_range,
        clamp_plate,
        pins,
        openings,
        on_plate,
        plate_pieces: pieces,
    })
}

/// The block seen from the side, before its edge is rounded: of a crowned face along the line
/// beside its run that lies longest on the block, else as a whole; `height` is that of its face
/// without a crown where it is highest. None where its run curves.
fn side_of(face: &FormedFace, wall: &Wall, outline: &Polyarc, height: f64) -> Option<SideTemplate> {
    let start = face.surface().on_run(0.0)?;
    let along = face.surface().on_run(1.0)? - start;
    let across = left_of(along);
    let foot = wall.depth - wall.thickness - height;
    let reach = |way: Vec2| {
        let places = outline.flatten(0.1).into_iter().map(|p| (p - start).dot(way));
        places.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)))
    };
    let (mut beside, mut ends) = (0.0, reach(along));
    if !face.is_unrolled() {
        let (low, high) = reach(across);
        let stretch = |k: u32| {
            let beside = low + (high - low) * f64::from(k) / f64::from(SIDE_LINES);
            let origin = start + across * beside;
            let line = Station { name: String::new(), at: 0.0, origin, across: along, flat: None };
            let places: Vec<f64> =
                line.crossings(outline).iter().map(|p| (*p - origin).dot(along)).collect();
            let longest = places
                .chunks_exact(2)
                .map(|pair| (pair[0], pair[1]))
                .max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)));
            longest.map(|ends| (beside, ends))
        };
        // The middle first: of lines as long the one nearest to it.
        let mut order: Vec<u32> = (1..SIDE_LINES).collect();
        order.sort_by_key(|k| k.abs_diff(SIDE_LINES / 2));
        let longer = |best: (f64, (f64, f64)), next: (f64, (f64, f64))| {
            if next.1.1 - next.1.0 > best.1.1 - best.1.0 + 1e-6 { next } else { best }
        };
        (beside, ends) = order.into_iter().filter_map(stretch).reduce(longer)?;
    }
    let top = |place: f64| {
        face.skin_height(start + along * place + across * beside, wall.thickness) - foot
    };
    Some(SideTemplate { outline: template(face, ends, top), beside })
}

/// As [`side_of`], square to the run at a station. None where the station crosses the outline more
/// than once.
fn across_of(
    face: &FormedFace,
    wall: &Wall,
    outline: &Polyarc,
    height: f64,
    station: &Station,
) -> Option<Polyarc> {
    let place = |p: &Point| (*p - station.origin).dot(station.across);
    let [a, b] = station.crossings(outline)[..] else { return None };
    let (a, b) = (place(&a), place(&b));
    let foot = wall.depth - wall.thickness - height;
    Some(template(face, (a.min(b), a.max(b)), |place| {
        face.skin_height(station.origin + station.across * place, wall.thickness) - foot
    }))
}

/// What stands on a straight foot from one place to another, `top` high at every place.
fn template(face: &FormedFace, (from, to): (f64, f64), top: impl Fn(f64) -> f64) -> Polyarc {
    let mut vertices = vec![
        Vertex { point: Point::new(from, 0.0), bulge: 0.0 },
        Vertex { point: Point::new(to, 0.0), bulge: 0.0 },
    ];
    let first = if face.is_unrolled() {
        let curve = |u: f64| {
            let place = to + (from - to) * u;
            let h = 1e-4 * (to - from);
            let slope = (top(place + h) - top(place - h)) / (2.0 * h);
            (Point::new(place, top(place)), Vec2::new(-1.0, -slope).normalize())
        };
        vertices.extend(fit_arcs(&curve, CURVE_TO_ARCS));
        top(from)
    } else {
        let samples = even_line((from, to), &top);
        vertices.extend(fit_samples(&samples, TEMPLATE_TO_ARCS));
        samples[samples.len() - 1].0.y
    };
    vertices.push(Vertex { point: Point::new(from, first), bulge: 0.0 });
    Polyarc { vertices }.tidied()
}

/// A line over a straight foot, walked back from `to`, through places [`TEMPLATE_STEP`] apart, each
/// with its direction: the triangles of a formed face leave steps of some hundredths of a
/// millimetre between them.
fn even_line((from, to): (f64, f64), top: &dyn Fn(f64) -> f64) -> Vec<(Point, Vec2)> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 8..=2000"
    )]
    let steps = ((to - from) / TEMPLATE_STEP).ceil().clamp(8.0, 2000.0) as usize;
    let step = (to - from) / steps as f64;
    let raw: Vec<f64> = (0..=steps).map(|i| top(from + step * i as f64)).collect();
    let even = |i: usize| {
        if i < 2 || i + 2 > steps {
            return raw[i];
        }
        without_zigzag([raw[i - 2], raw[i - 1], raw[i], raw[i + 1], raw[i + 2]])
    };
    let heights: Vec<f64> = (0..=steps).map(even).collect();
    let slope = |i: usize| {
        let (a, b) = (i.saturating_sub(1), (i + 1).min(steps));
        (heights[b] - heights[a]) / (step * (b - a) as f64)
    };
    let sample = |i: usize| {
        (Point::new(from + step * i as f64, heights[i]), Vec2::new(-1.0, -slope(i)).normalize())
    };
    (0..=steps).rev().map(sample).collect()
}

/// The profile moved in by `distance` mm at every wall, the largest piece first where a waist
/// closes; open edges stay where they are.
fn inset_walled(shell: &HalfShell, face: &Loop, distance: f64) -> Vec<Polyarc> {
    let walled = |i: usize| has_wall(shell, i);
    let exact = offset_sides(face, &|i| if walled(i) { -distance } else { 0.0 });
    if let Some(outline) = exact.map(|moved| moved.to_polyarc(CURVE_TO_ARCS).tidied()).filter(sound)
    {
        return vec![outline];
    }
    // A round that closes leaves a sharp corner, a waist that closes parts the outline. Open edges
    // are moved out first, to come back.
    let Some(longer) = offset_sides(face, &|i| if walled(i) { 0.0 } else { distance }) else {
        return Vec::new();
    };
    largest_first(&offset_closed(&longer.to_polyarc(CURVE_TO_ARCS).tidied(), -distance))
}

/// The open edges of a shell as far as its block reaches.
fn ends_across(shell: &HalfShell, wall: &Wall) -> Vec<Segment> {
    let inset = wall.thickness / wall.lean().cos();
    let block =
        offset_sides(&shell.profile.sides, &|i| if has_wall(shell, i) { -inset } else { 0.0 });
    let is_open = |side: &Side| side.edge.is_some_and(|edge| shell.open_edges.contains(&edge));
    block
        .into_iter()
        .flat_map(|block| block.sides)
        .filter(is_open)
        .map(|side| side.segment)
        .collect()
}

/// Whether an outline holds metal and does not cross itself.
fn sound(outline: &Polyarc) -> bool {
    outline.area() > LEAST_AREA_MM2 && self_crossing(outline).is_none()
}

fn largest_first(pieces: &[Polyarc]) -> Vec<Polyarc> {
    let mut pieces: Vec<Polyarc> = pieces.iter().map(Polyarc::tidied).filter(sound).collect();
    pieces.sort_by(|a, b| b.area().total_cmp(&a.area()));
    pieces
}

/// Places on the plate for pins that keep clear of its edge, the openings and each other; `flat_of`
/// gives those of asked ones, which stand on the block.
fn place_pins(
    asked: &Pins,
    is_dowel: bool,
    plate: &Polyarc,
    openings: &[Polyarc],
    others: &[(Point, f64, bool)],
    flat_of: &dyn Fn(Point) -> Point,
) -> Vec<Point> {
    if let Some(places) = &asked.at {
        return places.iter().map(|at| flat_of(*at)).collect();
    }
    let diameter = asked.diameter.mm();
    let bounds = plate.bounds();
    let along_x = bounds.width() >= bounds.height();
    let (start, length) =
        if along_x { (bounds.x0, bounds.width()) } else { (bounds.y0, bounds.height()) };
    // Dowels at unequal distances from the ends, so that the sheet goes on one way only; bolts no
    // farther apart than 125 mm.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a length below 100 m over 125 mm"
    )]
    let bolts = (length / 125.0).ceil().max(2.0) as u32;
    let shares: Vec<f64> = if is_dowel {
        vec![0.15, 0.78]
    } else {
        (0..bolts).map(|i| (f64::from(i) + 0.5) / f64::from(bolts)).collect()
    };
    let clear = |p: Point| {
        let room = |outline: &Polyarc| crate::geom::distance_to(outline, p) > diameter * 1.5;
        let free = |other: &(Point, f64, bool)| other.0.distance(p) > diameter + other.1;
        plate.contains(p)
            && room(plate)
            && openings.iter().all(|o| !o.contains(p) && room(o))
            && others.iter().all(free)
    };
    shares
        .into_iter()
        .filter_map(|share| {
            // From the wanted place outward, the first that is clear.
            (0..200).find_map(|step| {
                let aside =
                    f64::from(step / 2) * length / 400.0 * if step % 2 == 0 { 1.0 } else { -1.0 };
                let at = start + length * share + aside;
                let candidate = if along_x {
                    middle_at(plate, at, true)?
                } else {
                    middle_at(plate, at, false)?
                };
                clear(candidate).then_some(candidate)
            })
        })
        .collect()
}

/// The middle of the widest stretch of the plate on the line across it at `at`.
fn middle_at(plate: &Polyarc, at: f64, along_x: bool) -> Option<Point> {
    let turned = if along_x {
        plate.clone()
    } else {
        plate.moved(crate::geom::Affine::rotate(-std::f64::consts::FRAC_PI_2))
    };
    let heights = Loop::of(&turned, None).heights_at(at);
    let pair = heights.chunks_exact(2).max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])))?;
    let middle = f64::midpoint(pair[0], pair[1]);
    Some(if along_x { Point::new(at, middle) } else { Point::new(-middle, at) })
}

/// The edge radius that the shop's router has, nearest to the one asked for, where it owns bits.
#[must_use]
pub fn nearest_cutter(part: &Part, edge_radius: f64) -> Option<Length> {
    part.shop
        .cutters
        .iter()
        .copied()
        .min_by(|a, b| (a.mm() - edge_radius).abs().total_cmp(&(b.mm() - edge_radius).abs()))
}
