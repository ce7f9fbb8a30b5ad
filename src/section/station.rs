//! The closed (or open) section at one station.

use std::fmt;

use super::cut::{Crossing, Frame, Profile};
use super::skin_cut::SkinSurfaces;
use super::stack::Skins;
use super::torsion::{closed_torsion, open_torsion, tube_of_area, tube_of_torsion};
use crate::buck::Station;
use crate::geom::{Point, Polyarc};
use crate::tolerance::{LEAST_WALL_COSINE, SAME_POINT};

/// A hollow section, square to the run at a station. y runs across in the seam plane, z square to
/// it, both from the centroid, which lies in the seam plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// The station's name.
    pub station: String,
    /// Its distance along the run, mm.
    pub at: f64,
    /// Area of metal, openings out, mm².
    pub area: f64,
    /// Area inside the mid-line, mm²; 0 for an open section.
    pub enclosed: f64,
    /// ∫ z² dA, mm⁴.
    pub iyy: f64,
    /// ∫ y² dA, mm⁴.
    pub izz: f64,
    /// Torsion constant, mm⁴.
    pub torsion: f64,
    /// How the torsion constant was found.
    pub closure: Closure,
    /// Whether an opening is cut here.
    pub through_opening: bool,
    /// The centroid, in the profile's coordinates.
    pub centroid: Point,
    /// Outside diameter of the round tube of this sheet that is as stiff in torsion, mm.
    pub same_torsion_tube: Option<f64>,
    /// Outside diameter of the round tube of this sheet that weighs as much, mm.
    pub same_mass_tube: Option<f64>,
}

/// Whether a section is closed all round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Closure {
    /// Both seams are there.
    Closed,
    /// One side has no wall.
    Open,
}

impl Closure {
    /// The formula that its torsion constant comes from.
    #[must_use]
    pub const fn formula(self) -> &'static str {
        match self {
            Self::Closed => "closed: 4 A^2 / sum(ds/t) along the mid-line (Bredt)",
            Self::Open => "open on one side: sum(b t^3)/3",
        }
    }
}

/// Why a station has no section.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoSection {
    /// The line runs in the wall or the bend of an end.
    InEndWall,
    /// The line cuts the shell more than once.
    SeveralTimes,
    /// The line runs over the corner of an open edge.
    OpenCorner,
    /// Neither side has a wall.
    NoWalls,
    /// The line meets a wall at too flat an angle.
    Slanting,
    /// The walls close on themselves.
    NoInside,
    /// What was found contradicts itself, so that none of it is told.
    Contradictory,
}

impl fmt::Display for NoSection {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::InEndWall => "the cut runs in the wall or the bend of an end",
            Self::SeveralTimes => "the cut goes through the shell more than once",
            Self::OpenCorner => "the cut runs over the corner of an open edge",
            Self::NoWalls => "neither side has a wall here: the two faces are loose",
            Self::Slanting => {
                "the cut meets a wall at less than 30 degrees, which is no section of a tube"
            }
            Self::NoInside => "the walls close on themselves here",
            Self::Contradictory => {
                "the figures found for this cut contradict each other, so none is given"
            }
        })
    }
}

impl Section {
    /// Whether a body can have such a section: area and both moments of inertia above 0, no stiffer
    /// in torsion than a body of that polar moment can be (B. de Saint-Venant's bound, J <= Iyy +
    /// Izz).
    fn is_possible(&self) -> bool {
        let positive = |x: f64| x.is_finite() && x > 0.0;
        [self.area, self.iyy, self.izz, self.torsion].into_iter().all(positive)
            && self.torsion <= (self.iyy + self.izz) * (1.0 + 1e-9)
    }
}

/// How far the torsion constant of a cut through the skins' triangles may be from that of the
/// walls' own mid-line, as a share: the latter has the face straight across.
const TORSION_SHARE: f64 = 0.06;

/// The two places where the station's line crosses an outline, the lower first.
fn pair(crossings: &[Crossing]) -> Result<(Crossing, Crossing), NoSection> {
    match *crossings {
        [a, b] => Ok(if a.y <= b.y { (a, b) } else { (b, a) }),
        [] => Err(NoSection::InEndWall),
        _ => Err(NoSection::SeveralTimes),
    }
}

/// The section of a pair at `station`. `openings` are those of the face, as cut; `surfaces` are
/// given where the face is not level: what the sheet has at the station's depth then only tells how
/// the walls are cut.
pub(super) fn section_at(
    profile: &Profile,
    (skins, surfaces): (&Skins, Option<&SkinSurfaces>),
    station: &Station,
    frame: &Frame,
    openings: &[Polyarc],
) -> Result<Section, NoSection> {
    let ends = pair(&profile.crossings(frame, &skins.edge))?;
    let face = pair(&profile.crossings(frame, &skins.face))?;
    if !ends.0.walled && !ends.1.walled {
        return Err(NoSection::NoWalls);
    }
    let walls = (ends.0.walled, ends.1.walled);
    let closed = walls.0 && walls.1;
    let mid = mid_line(profile, skins, frame, (face.0.y, face.1.y), walls)?;
    let t = skins.sheet.wall.thickness;
    let cuts = opening_cuts(station, openings);
    let through_opening = !cuts.is_empty();
    let (metal, enclosed, line) = match surfaces {
        Some(surfaces) => {
            let cut = surfaces.cut(frame, (ends.0.y, ends.1.y), skins.sheet.half_gap, t, &cuts);
            // The thickness that the cut has in the mean, for the slant of its faces and walls.
            let mean = cut.whole_area / cut.length;
            (cut.metal, cut.enclosed, mid.scaled(cut.length, mean))
        }
        None => {
            let mut metal =
                skins.outside.inside(profile, frame).less(&skins.inside.inside(profile, frame));
            for cut in &cuts {
                metal.cut_face(*cut, (skins.sheet.top() - t, skins.sheet.top()));
            }
            (metal, skins.middle.inside(profile, frame).area, mid)
        }
    };
    let (enclosed, torsion) = if closed {
        (enclosed, closed_torsion(enclosed, line.over_thickness))
    } else {
        (0.0, open_torsion(line.cubed))
    };
    let centroid = metal.y / metal.area;
    let section = Section {
        station: station.name.clone(),
        at: station.at,
        area: metal.area,
        enclosed,
        iyy: metal.zz,
        izz: metal.yy - metal.y * centroid,
        torsion,
        closure: if closed { Closure::Closed } else { Closure::Open },
        through_opening,
        centroid: station.origin + station.across * centroid,
        same_torsion_tube: tube_of_torsion(torsion, t),
        same_mass_tube: tube_of_area(metal.area, t),
    };
    let torsion_by_line = closed_torsion(enclosed, mid.over_thickness);
    let holds = section.is_possible()
        && (!closed || (torsion / torsion_by_line - 1.0).abs() < TORSION_SHARE);
    if holds { Ok(section) } else { Err(NoSection::Contradictory) }
}

/// The stretches across the run where the station's line runs in openings.
fn opening_cuts(station: &Station, openings: &[Polyarc]) -> Vec<(f64, f64)> {
    let mut cuts = Vec::new();
    for opening in openings {
        let mut places: Vec<f64> = station
            .crossings(opening)
            .iter()
            .map(|point| (*point - station.origin).dot(station.across))
            .collect();
        places.sort_by(f64::total_cmp);
        // A line that only touches an opening cuts nothing.
        cuts.extend(
            places
                .chunks_exact(2)
                .map(|cut| (cut[0], cut[1]))
                .filter(|cut| cut.1 - cut.0 > SAME_POINT),
        );
    }
    cuts
}

/// ∫ ds, ∫ t ds, ∫ ds/t and ∫ t³ ds along the mid-line of both halves.
#[derive(Debug, Clone, Copy, Default)]
struct MidLine {
    length: f64,
    area: f64,
    over_thickness: f64,
    cubed: f64,
}

impl MidLine {
    fn add(&mut self, length: f64, thickness: f64) {
        self.length += 2.0 * length;
        self.area += 2.0 * length * thickness;
        self.over_thickness += 2.0 * length / thickness;
        self.cubed += 2.0 * length * thickness.powi(3);
    }

    /// A line of that length and mean thickness, along which the thickness changes as it does along
    /// this one.
    fn scaled(&self, length: f64, mean: f64) -> Self {
        let own = self.area / self.length;
        Self {
            length,
            area: length * mean,
            over_thickness: length / mean * (self.over_thickness * own / self.length),
            cubed: length * mean.powi(3) * (self.cubed / self.length / own.powi(3)),
        }
    }
}

/// Walks the mid-line of a section. Where the outline lies at an angle q to the run, the cut is
/// slant to the wall: with f the angle between sheet and face, w² = cos² f + sin² f cos² q, a
/// length l of the sheet's own section is l w / cos q long in the cut, and its thickness t is t/w
/// there (the sheet's normal has the share w of itself in the plane of the cut).
fn mid_line(
    profile: &Profile,
    skins: &Skins,
    frame: &Frame,
    face: (f64, f64),
    walls: (bool, bool),
) -> Result<MidLine, NoSection> {
    let mut line = MidLine::default();
    line.add(face.1 - face.0, skins.sheet.wall.thickness);
    for (slice, crossings) in skins.middle.cut(profile, frame) {
        let (low, high) = pair(&crossings)?;
        for (crossing, walled) in [(low, walls.0), (high, walls.1)] {
            if crossing.walled != walled {
                return Err(NoSection::OpenCorner);
            }
            if !walled {
                continue;
            }
            if crossing.cosine < LEAST_WALL_COSINE {
                return Err(NoSection::Slanting);
            }
            let (sin, cos) = slice.turn.sin_cos();
            let w = cos.hypot(sin * crossing.cosine);
            line.add(slice.length * w / crossing.cosine, slice.thickness / w);
        }
    }
    Ok(line)
}
