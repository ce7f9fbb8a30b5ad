//! Takes a half-shell whose pair is its mirror, gives what the two make together: sections
//! along the run, volumes, weight, seams; `report` prints them.
#![doc = include_str!("METHOD.md")]

mod contents;
mod cut;
mod seam;
mod skin_cut;
mod stack;
mod station;
mod torsion;

use std::rc::Rc;

use crate::buck::{Station, station_name};
use crate::flat::Flat;
use crate::flat::half_shell::{open_corners, wall_of};
use crate::geom::{Point, Polyarc};
use crate::part::{HalfShell, Part};
use crate::problem::Checked;
use crate::shell::{FormedFace, Wall};
use crate::tolerance::{CURVE_TO_ARCS, SAME_POINT};
use crate::units::LengthUnit;

use contents::{Contents, contents_of};
use cut::{Profile, frame_at};
use seam::seams_of;
use skin_cut::SkinSurfaces;
use stack::{Sheet, Skins};
use station::section_at;

pub use seam::Seam;
pub use station::{Closure, NoSection, Section};
pub use torsion::{closed_torsion, open_torsion, tube_of_area, tube_of_torsion};

/// Two half-shells welded at their seam, the one the other's mirror.
#[derive(Debug, Clone)]
pub struct Hollow {
    /// Its sections: at every station of the buck, and at both ends of the run.
    pub sections: Vec<Section>,
    /// The stations that have none, by name, and why.
    pub skipped: Vec<(String, NoSection)>,
    /// Volume inside, mm³: between the planes of its open edges where it has any. None where the
    /// inside closes on itself.
    pub volume: Option<f64>,
    /// Volume of the outside, mm³.
    pub outside_volume: Option<f64>,
    /// Mass of both halves, openings out, without weld, kg.
    pub mass: f64,
    /// The centre of gravity in the profile's coordinates; it lies in the seam plane.
    pub centre_of_gravity: Option<Point>,
    /// The runs of weld.
    pub seams: Vec<Seam>,
    /// Corners at which walls stay apart, which all figures take as filled.
    pub open_corners: usize,
}

impl Hollow {
    /// Length of all weld, mm.
    #[must_use]
    pub fn seam_length(&self) -> f64 {
        self.seams.iter().map(|seam| seam.length).sum()
    }
}

/// What a paired half-shell and its mirror make together; none for other parts. `stations` are
/// those of its buck.
pub fn hollow_of(part: &Part, flat: &Flat, stations: &[Station]) -> Checked<Option<Hollow>> {
    let Some(shell) = part.kind.half_shell() else { return Ok(None) };
    if !shell.paired {
        return Ok(None);
    }
    let wall = wall_of(part, shell).map_err(|problem| vec![problem])?;
    let profile = Profile::of(shell);
    let skins = |at: f64| Skins::of(&profile, sheet_at(shell, &wall, at)).map(Rc::new);
    // A shell of one depth has the same skins everywhere.
    let even = (shell.depth.places().len() == 1).then(|| skins(0.0));
    let skins_at = |at: f64| even.clone().unwrap_or_else(|| skins(at));
    let crowned = shell.crown.mm() > 0.0;
    let face =
        flat.forming.as_ref().and_then(|forming| forming.face.as_ref()).map(FormedFace::finished);
    let surfaces = face.and_then(|_| SkinSurfaces::of(shell, &wall, face));
    // In plan, and as they are finished: a lip leaves the whole opening, its own metal uncounted.
    let openings: Vec<Polyarc> =
        shell.openings.iter().map(|opening| opening.outline.to_polyarc(CURVE_TO_ARCS)).collect();
    let (mut sections, mut skipped) = (Vec::new(), Vec::new());
    let hair = if surfaces.is_some() { INSIDE_END } else { SAME_POINT };
    for station in with_ends(shell, stations, part.unit) {
        let frame = frame_at(shell, within(shell, station.at, hair));
        let section = skins_at(station.at).ok_or(NoSection::NoInside);
        let section = section.and_then(|skins| {
            section_at(&profile, (&skins, surfaces.as_ref()), &station, &frame, &openings)
        });
        match section {
            Ok(section) => sections.push(section),
            Err(why) => skipped.push((station.name, why)),
        }
    }
    let contents = if crowned {
        Contents::of_skins(shell, &wall, face)
    } else {
        contents_of(&profile, shell, &skins_at)
    };
    let t = part.thickness.mm();
    Ok(Some(Hollow {
        sections,
        skipped,
        volume: contents.map(|contents| contents.inside),
        outside_volume: contents.map(|contents| contents.outside),
        mass: 2.0 * flat.mass(part.thickness, part.material.density.value),
        centre_of_gravity: contents.map(|contents| contents.centre_of_gravity(&flat.openings, t)),
        seams: seams_of(shell),
        open_corners: open_corners(shell, flat.forming.as_ref()).len(),
    }))
}

/// The sheet's section at a place along the run: the one function that says how deep the shell is
/// there.
fn sheet_at(shell: &HalfShell, wall: &Wall, at: f64) -> Sheet {
    let wall = Wall { depth: shell.depth.value_at(at), ..*wall };
    Sheet { wall, half_gap: shell.seam_gap.mm() / 2.0 }
}

/// The stations, and one at each end of the run where they have none.
fn with_ends(shell: &HalfShell, stations: &[Station], unit: LengthUnit) -> Vec<Station> {
    let (start, end) = shell.profile.run();
    let mut all = stations.to_vec();
    for at in [start, end] {
        if all.iter().all(|station| (station.at - at).abs() > SAME_POINT) {
            let frame = frame_at(shell, at);
            all.push(Station {
                name: station_name(at, unit),
                at,
                origin: frame.origin,
                across: frame.across(),
                flat: None,
            });
        }
    }
    all.sort_by(|a, b| a.at.total_cmp(&b.at));
    all
}

/// How far inside the ends of the run triangles are cut, mm: the corners of the metal's own ends
/// lie in their planes but for rounding.
const INSIDE_END: f64 = 0.01;

/// The place, or one a hair inside where it is an end of the run: the section of what begins there.
fn within(shell: &HalfShell, at: f64, hair: f64) -> f64 {
    let (start, end) = shell.profile.run();
    at.max(start + hair).min(end - hair)
}
