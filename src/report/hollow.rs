//! The results of a pair of half-shells : sections, volumes, weight, seams.
//! Lengths in mm, volumes in litres.

use serde::Serialize;

use super::results::rounded;
use crate::section::{Closure, Hollow, Seam, Section};

/// What a half-shell and its mirror make together.
#[derive(Debug, Clone, Serialize)]
pub struct HollowResult {
    /// Its sections along the run.
    pub section: Vec<SectionResult>,
    /// What holds for the sections, and the stations that have none.
    pub section_notes: Vec<String>,
    /// Volume inside the metal.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volume_l: Option<f64>,
    /// Volume of the outside.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outside_volume_l: Option<f64>,
    /// How much oil to fill in, least and most.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub oil_fill_l: Option<[f64; 2]>,
    /// Mass of both halves, without weld.
    pub pair_mass_kg: f64,
    /// In the profile's x and y; it lies in the seam plane.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub centre_of_gravity_mm: Option<[f64; 2]>,
    /// All weld of one pair.
    pub seam_length_mm: f64,
    /// The runs of weld.
    pub seams: Vec<SeamResult>,
}

/// A section at a station.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names are those of the JSON and say it all")]
pub struct SectionResult {
    pub station: String,
    pub at_mm: f64,
    pub area_mm2: f64,
    pub enclosed_mm2: f64,
    pub iyy_mm4: f64,
    pub izz_mm4: f64,
    pub j_mm4: f64,
    pub j_formula: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub same_j_tube_od_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub same_mass_tube_od_mm: Option<f64>,
    pub centroid_mm: [f64; 2],
    pub through_opening: bool,
}

/// A run of weld.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names say it all")]
pub struct SeamResult {
    pub along: String,
    pub length_mm: f64,
}

/// Of a tank's volume, how much oil takes: the rest is headspace for foam and heat. 10 to 15 %,
/// common practice, no source.
const OIL_SHARE: [f64; 2] = [0.85, 0.90];

/// Cubic millimetres in a litre.
const MM3_PER_LITRE: f64 = 1e6;

/// The results of a pair.
pub(super) fn hollow_result(hollow: &Hollow) -> HollowResult {
    let litres = |mm3: f64| rounded(mm3 / MM3_PER_LITRE);
    HollowResult {
        section: hollow.sections.iter().map(section_result).collect(),
        section_notes: notes(hollow),
        volume_l: hollow.volume.map(litres),
        outside_volume_l: hollow.outside_volume.map(litres),
        oil_fill_l: hollow.volume.map(|volume| OIL_SHARE.map(|share| litres(volume * share))),
        pair_mass_kg: rounded(hollow.mass),
        centre_of_gravity_mm: hollow.centre_of_gravity.map(|at| [rounded(at.x), rounded(at.y)]),
        seam_length_mm: rounded(hollow.seam_length()),
        seams: hollow.seams.iter().map(seam_result).collect(),
    }
}

fn section_result(section: &Section) -> SectionResult {
    SectionResult {
        station: section.station.clone(),
        at_mm: rounded(section.at),
        area_mm2: rounded(section.area),
        enclosed_mm2: rounded(section.enclosed),
        iyy_mm4: rounded(section.iyy),
        izz_mm4: rounded(section.izz),
        j_mm4: rounded(section.torsion),
        j_formula: section.closure.formula(),
        same_j_tube_od_mm: section.same_torsion_tube.map(rounded),
        same_mass_tube_od_mm: section.same_mass_tube.map(rounded),
        centroid_mm: [rounded(section.centroid.x), rounded(section.centroid.y)],
        through_opening: section.through_opening,
    }
}

fn seam_result(seam: &Seam) -> SeamResult {
    let along = if seam.edges.is_empty() { "outline".to_owned() } else { seam.edges.join(", ") };
    SeamResult { along, length_mm: rounded(seam.length) }
}

/// What holds for the sections, each said once.
fn notes(hollow: &Hollow) -> Vec<String> {
    let mut notes = vec![
        "sections count the seams as welded through, the root gap filled as thick as the wall, the trim cut off, the sheet as thick as it came"
            .to_owned(),
    ];
    if hollow.sections.iter().any(|section| section.through_opening) {
        notes.push(
            "where a section goes through an opening, area and moments of inertia are without the opening's metal, enclosed area and J as if \
             it were not there: close beside it the part twists more easily; a lip's own metal is not counted"
                .to_owned(),
        );
    }
    if hollow.sections.iter().any(|section| section.closure == Closure::Open) {
        notes.push(
            "an open section twists hundreds of times more easily than a closed one, and warps"
                .to_owned(),
        );
    }
    if hollow.open_corners > 0 {
        notes.push("sections, volumes and seams count open corners as filled".to_owned());
    }
    for (station, why) in &hollow.skipped {
        notes.push(format!("{station} has no section: {why}"));
    }
    notes
}
