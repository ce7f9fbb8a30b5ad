//! What is said of the cutting of a sheet: results, the notes on its drawing, the file of what is
//! left of it.

use std::fmt::Write as _;

use serde::Serialize;

use super::cautions::{DEFERENCE, cutting_cautions};
use super::results::SheetResult;
use crate::cutting::{LeftOver, Remnant};
use crate::geom::Point;
use crate::shop::material::Hazard;
use crate::units::{Digits, counted};

/// Side of the square kerf coupon, mm.
pub const COUPON_SIDE: f64 = 60.0;

/// Diameter of the hole in it, mm.
pub const COUPON_HOLE: f64 = 30.0;

/// How a sheet is cut.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names say it all")]
pub struct SheetCutting {
    /// Whether the cut lines are already moved off the parts by half the kerf.
    pub compensated: bool,
    /// As drawn: lead-ins included.
    pub cut_length_mm: f64,
    pub pierces: usize,
    /// Between the cuts, the torch out.
    pub moves_mm: f64,
    /// Cutting and piercing, moves not counted; if the feed is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cut_time_s: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lead_ins: Option<LeadInResult>,
    /// The largest upright rectangle that is left, in the sheet's coordinates.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_over: Option<LeftOverResult>,
    /// Pieces in the remnant file.
    pub remnants: usize,
}

/// Lead-ins by the room that they found.
#[derive(Debug, Clone, Copy, Serialize)]
#[expect(missing_docs, reason = "the names say it all")]
pub struct LeadInResult {
    pub whole: usize,
    pub short: usize,
    pub none: usize,
}

/// A rectangle of sheet that is left.
#[derive(Debug, Clone, Copy, Serialize)]
#[expect(missing_docs, reason = "the names say it all")]
pub struct LeftOverResult {
    pub x_mm: f64,
    pub y_mm: f64,
    pub width_mm: f64,
    pub height_mm: f64,
}

/// A test piece at its place.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names say it all")]
pub struct TestPieceResult {
    pub piece: String,
    pub sheet: String,
    pub x_mm: f64,
    pub y_mm: f64,
    pub angle_deg: f64,
}

/// Who moves the torch off the parts by half the kerf: the one sentence that stands on sheets, in
/// DXF files and in the report.
#[must_use]
pub fn kerf_words(compensated: bool, kerf: f64) -> String {
    let (half, kerf) = (Digits(kerf / 2.0, 3), Digits(kerf, 3));
    if compensated {
        format!(
            "Cut lines already moved by half the kerf ({half} of {kerf} mm): set no offset at the machine."
        )
    } else {
        format!(
            "Cut lines are the parts' own edges. The machine must compensate: kerf width {kerf} mm (an offset of {half} mm to the scrap side). Enter \
             whichever your control asks for, once only."
        )
    }
}

/// A time in minutes and seconds.
#[must_use]
pub fn time_words(seconds: f64) -> String {
    let whole = seconds.round().max(0.0);
    format!("{} min {} s", Digits((whole / 60.0).floor(), 0), Digits(whole % 60.0, 0))
}

/// Length, pierces and time in words.
#[must_use]
pub fn cutting_words(cutting: &SheetCutting) -> String {
    let time = cutting
        .cut_time_s
        .map(|s| format!(", {} of cutting and piercing (travel not counted)", time_words(s)))
        .unwrap_or_default();
    format!(
        "{} m of cut, {}{time}",
        Digits(cutting.cut_length_mm / 1000.0, 2),
        counted(cutting.pierces, "pierce")
    )
}

/// What stands above a sheet in its drawing, DXF included.
#[must_use]
pub fn sheet_notes(job: &str, sheet: &SheetResult, kerf: f64) -> Vec<String> {
    vec![
        format!(
            "{job}, {}: {} {} mm, {}, {} % used. {}.",
            sheet.name,
            sheet.material,
            Digits(sheet.thickness_mm, 3),
            counted(sheet.parts, "part"),
            Digits(sheet.used * 100.0, 1),
            cutting_words(&sheet.cutting)
        ),
        kerf_words(sheet.cutting.compensated, kerf),
    ]
}

/// What stands under a picture of a sheet.
#[must_use]
pub fn sheet_captions(sheet: &SheetResult, hazards: &[Hazard], test_pieces: bool) -> Vec<String> {
    let begins = if sheet.cutting.compensated {
        "Circles: pierce points"
    } else {
        "Circles: where each cut is best begun (lead-ins are the machine's to make)"
    };
    let mut captions = vec![format!(
        "Numbers: cutting order. {begins}. Arrows: direction of cut, the part on the torch's right. The grain runs along x."
    )];
    if let Some(left) = &sheet.cutting.left_over {
        captions.push(format!(
            "The largest rectangle left over is {} x {} mm, its lower left corner at {}, {}.{}",
            Digits(left.width_mm, 1),
            Digits(left.height_mm, 1),
            Digits(left.x_mm, 1),
            Digits(left.y_mm, 1),
            if sheet.cutting.remnants > 0 {
                " What is worth keeping is in the remnant file."
            } else {
                ""
            }
        ));
    }
    if test_pieces {
        captions.push(test_piece_words(sheet.cutting.compensated));
    }
    captions.extend(
        cutting_cautions(hazards)
            .iter()
            .map(|caution| format!("Caution, {}: {}", caution.about, caution.words)),
    );
    captions.push(DEFERENCE.words.to_owned());
    captions
}

/// How to read the test pieces.
///
/// Kerf: an edge cut too wide by d stands d/2 farther in on each side, so the square is d smaller
/// and the hole d larger than drawn; the mean of both takes the error of measuring off.
#[must_use]
pub fn test_piece_words(compensated: bool) -> String {
    let set =
        if compensated { "the kerf in the job" } else { "twice the offset set at the machine" };
    format!(
        "Test pieces. Kerf coupon: measure its side a (drawn {COUPON_SIDE}) and hole b (drawn {COUPON_HOLE}); the true kerf is {set} + (({COUPON_SIDE} - a) + (b - {COUPON_HOLE})) / 2 mm.          Strips: measure the flat length, bend at the line, measure both legs outside, then `planish strip FLAT LEG LEG --thickness T --radius R`.",
    )
}

/// The file that describes what is left of a sheet, in the sheet's own coordinates, as `sheets:` of
/// a job take it.
#[must_use]
pub fn remnant_file(job: &str, sheet: &SheetResult, left: &LeftOver, apart: f64) -> String {
    let mut text = format!(
        "# What is worth keeping of {} of the job \"{}\" once its parts are cut; {} mm beside every cut are off.\n\
         # Its coordinates are those of the sheet. Another job uses it by `- {{file: {}-remnant.yaml}}` under `sheets:`.\n\
         units: mm\nsheets:\n",
        sheet.name,
        job.replace(char::is_control, " "),
        Digits(apart, 2),
        sheet.name
    );
    for remnant in &left.remnants {
        remnant_entry(&mut text, sheet, remnant);
    }
    text
}

fn remnant_entry(text: &mut String, sheet: &SheetResult, remnant: &Remnant) {
    let path = |points: &[Point]| {
        let points: Vec<String> =
            points.iter().map(|p| format!("[{}, {}]", Digits(p.x, 2), Digits(p.y, 2))).collect();
        format!("{{path: [{}]}}", points.join(", "))
    };
    let _ = writeln!(text, "  - remnant: {}", path(&remnant.outline));
    if !remnant.openings.is_empty() {
        text.push_str("    openings:\n");
        for opening in &remnant.openings {
            let _ = writeln!(text, "      - {}", path(opening));
        }
    }
    let _ = writeln!(
        text,
        "    material: \"{}\"",
        sheet.material.replace('\\', "\\\\").replace('"', "\\\"")
    );
    let _ = writeln!(text, "    thickness: {}", Digits(sheet.thickness_mm, 4));
}
