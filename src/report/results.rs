//! Results as `--json` gives them. Lengths in mm, areas in mm², angles in
//! degrees, masses in kg.

use serde::Serialize;

use super::bending::{
    BrakeResult, PracticeResult, StepResult, brake_result, practice_result, step_results,
};
use super::cautions::{CautionResult, cautions_of};
use super::cutting::{SheetCutting, TestPieceResult};
use super::hollow::{HollowResult, hollow_result};
use crate::bending::Bending;
use crate::finding::{Finding, Grade, JobFinding, Measured, Rule, Sense, Unit};
use crate::flat::Flat;
use crate::formed::{FoldTree, ReliefCut, developed_edge};
use crate::part::{Assumed, Join, Part};
use crate::problem::Place;
use crate::section::Hollow;
use crate::shell::{Dart, EdgeStrain, Quality, SharpCorner, SolvedWalls};
use crate::shop::bend_rule::BendRule;
use crate::shop::springback::springback_band;
use crate::tolerance::RESULT_DECIMALS;
use crate::units::{Angle, Digits, LengthUnit};

/// A number as results print it: rounded far below any measure, so that the last bits of one
/// machine do not show.
pub(super) fn rounded(value: f64) -> f64 {
    if !value.is_finite() {
        return value;
    }
    let scale = 10_f64.powi(RESULT_DECIMALS);
    let rounded = (value * scale).round() / scale;
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// A part's result.
#[derive(Debug, Clone, Serialize)]
pub struct PartResult {
    /// Its name.
    pub part: String,
    /// plate, `half_shell`, bent or folded.
    pub kind: String,
    /// Its material.
    pub material: String,
    /// The sheet's thickness.
    pub thickness_mm: f64,
    /// The blank; none of a half-shell whose walls have none.
    pub blank: Option<BlankResult>,
    /// Its bends.
    pub bends: Vec<BendResult>,
    /// The brake that it is bent on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub brake: Option<BrakeResult>,
    /// The order in which its bends are made.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bend_order: Option<Vec<StepResult>>,
    /// Its reliefs, if it has any.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub reliefs: Vec<ReliefResult>,
    /// What the metal does in forming.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub forming: Option<FormingResult>,
    /// Net mass; none without a blank.
    pub mass_kg: Option<f64>,
    /// What it and its mirror make together.
    #[serde(flatten)]
    pub hollow: Option<HollowResult>,
    /// Defaults that were taken.
    pub assumed: Vec<AssumedResult>,
    /// What should be minded.
    pub warnings: Vec<WarningResult>,
    /// Cautions that apply.
    pub cautions: Vec<CautionResult>,
    /// The files written.
    pub files: Vec<String>,
}

/// A blank; net sizes, the cut as cut.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names are those of the JSON and say it all")]
pub struct BlankResult {
    pub width_mm: f64,
    pub height_mm: f64,
    pub area_mm2: f64,
    pub cut_length_mm: f64,
    pub openings: usize,
}

/// A bend.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names are those of the JSON and say it all")]
pub struct BendResult {
    pub name: String,
    pub angle_deg: f64,
    pub direction: &'static str,
    pub inside_radius_mm: f64,
    pub k_factor: f64,
    pub allowance_mm: f64,
    pub setback_mm: f64,
    pub deduction_mm: f64,
    pub length_mm: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub din_v_mm: Option<f64>,
    pub basis: String,
    #[serde(flatten)]
    pub practice: Option<PracticeResult>,
}

/// A relief where bends meet or end.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names say it all")]
pub struct ReliefResult {
    pub shape: &'static str,
    /// The names of the bends it serves.
    pub bends: Vec<String>,
    /// How far it reaches past the tangent lines of all of them.
    pub clears_mm: f64,
    pub x_mm: f64,
    pub y_mm: f64,
}

/// What the metal does in forming.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names are those of the JSON and say it all")]
pub struct FormingResult {
    pub max_stretch: f64,
    pub max_shrink: f64,
    /// Of the finished edges, where the trim is cut off after forming; the other figures are of the
    /// metal as it is hammered.
    pub finished_edge_stretch: f64,
    pub finished_edge_shrink: f64,
    pub min_thickness_mm: f64,
    pub max_thickness_mm: f64,
    pub method: &'static str,
    /// How the face was laid flat: level, unrolled, or formed; of shells alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub face: Option<&'static str>,
    /// What the walls of a shell spring back by, and how far the buck leans under so that they end
    /// up right: from the radius rule to moment theory, at the least and the greatest yield
    /// strength.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub springback_deg: Option<[f64; 2]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub undercut_deg: Option<[f64; 2]>,
    /// Whether the face is held by its clamp while the walls are laid flat.
    pub held: bool,
    pub elements: usize,
    pub k_mpa: f64,
    pub n: f64,
    pub r: f64,
    pub k_factor: f64,
    pub allowance_mm: f64,
    pub setback_mm: f64,
    /// Of the forming solve: steps taken, least angle and greatest aspect of its triangles, and
    /// what is left of the forces along the free edge as a share of the mean force on a node. The
    /// worst of all runs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub quality: Option<QualityResult>,
    /// Relief darts where the edge passes its stop limit.
    pub darts: Vec<DartResult>,
    /// Sharp outside corners between walls, to be welded.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub corner_welds: Vec<CornerWeldResult>,
    /// Along the free edge, in order round the outline.
    pub edge: Vec<EdgeResult>,
}

/// The weld of a sharp outside corner.
#[derive(Debug, Clone, Serialize)]
pub struct CornerWeldResult {
    /// The corner, in the profile's coordinates.
    pub at_mm: [f64; 2],
    /// How much the outline turns there.
    pub turn_deg: f64,
    /// From the face to the seam.
    pub length_mm: f64,
    /// Between the edges at the seam: 0 where one wall runs on over the other's edge.
    pub gap_mm: f64,
}

impl CornerWeldResult {
    /// The weld in one line.
    #[must_use]
    pub fn words(&self) -> String {
        let gap = if self.gap_mm > 0.0 {
            format!("open by {} mm at the seam", Digits(self.gap_mm, 1))
        } else {
            "one wall over the edge of the other".to_owned()
        };
        let [x, y] = self.at_mm.map(|x| Digits(x, 1));
        format!("weld the corner at [{x}, {y}] mm: {} mm, {gap}", Digits(self.length_mm, 1))
    }
}

impl FormingResult {
    /// What the metal does, in one line.
    #[must_use]
    pub fn words(&self) -> String {
        if self.max_stretch.max(self.max_shrink) < 5e-5 {
            return "walls only bend; the metal is not stretched".to_owned();
        }
        format!(
            "metal stretches {} %, shrinks {} %; thickness {} to {} mm ({})",
            Digits(self.max_stretch * 100.0, 2),
            Digits(self.max_shrink * 100.0, 2),
            Digits(self.min_thickness_mm, 3),
            Digits(self.max_thickness_mm, 3),
            self.method
        )
    }
}

/// How good a forming solve is.
#[derive(Debug, Clone, Serialize)]
pub struct QualityResult {
    pub steps: usize,
    pub least_angle_deg: f64,
    pub greatest_aspect: f64,
    pub edge_force: f64,
}

/// A relief dart.
#[derive(Debug, Clone, Serialize)]
pub struct DartResult {
    pub x_mm: f64,
    pub y_mm: f64,
    pub width_mm: f64,
    pub length_mm: f64,
    pub hole_mm: f64,
    /// Whether it opens and owes a gusset, or closes and owes a seam.
    pub opens: bool,
    pub weld_mm: f64,
}

/// The free edge at one place.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names say it all")]
pub struct EdgeResult {
    pub along_mm: f64,
    pub x_mm: f64,
    pub y_mm: f64,
    /// Engineering strain of the edge as cut and hammered, positive where it grows.
    pub strain: f64,
    pub mm_per_100_mm: f64,
    /// Of the finished edge, where the trim is cut off after forming.
    pub finished_strain: f64,
    pub thickness_mm: f64,
    /// From the tangent line to the edge as cut, in the flat.
    pub wall_width_mm: f64,
}

/// A default that was taken.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names are those of the JSON and say it all")]
pub struct AssumedResult {
    pub key: String,
    pub value: String,
    pub why: String,
}

/// Something to mind.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names are those of the JSON and say it all")]
pub struct WarningResult {
    pub code: Rule,
    pub grade: Grade,
    pub message: String,
    pub help: String,
    #[serde(rename = "where")]
    pub place: String,
}

/// A rule and how the part stands to it; value, limit, unit and sense are none for rules that have
/// no figure.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names are those of the JSON and say it all")]
pub struct FindingResult {
    pub part: String,
    /// The sheet that it is about, for findings of cutting.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sheet: Option<String>,
    pub rule: Rule,
    pub grade: Grade,
    pub value: Option<f64>,
    pub limit: Option<f64>,
    pub unit: Option<Unit>,
    pub sense: Option<Sense>,
    /// Whether the part may be made: its grade is not `over`.
    pub ok: bool,
    pub message: String,
    pub remedy: String,
    pub source: String,
    #[serde(rename = "where")]
    pub place: String,
    /// The value in words, in the part's unit; empty without one.
    #[serde(skip)]
    pub is: String,
    /// The limit in words, with its sign, in the part's unit; empty without one.
    #[serde(skip)]
    pub must_be: String,
}

impl FindingResult {
    /// Value and limit in words; empty where the rule has no figure.
    #[must_use]
    pub fn figures(&self) -> String {
        if self.is.is_empty() {
            String::new()
        } else {
            format!("is {}, must be {}", self.is, self.must_be)
        }
    }
}

/// A sheet with parts on it.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names are those of the JSON and say it all")]
pub struct SheetResult {
    pub name: String,
    pub material: String,
    pub thickness_mm: f64,
    pub used: f64,
    pub parts: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price: Option<f64>,
    #[serde(flatten)]
    pub cutting: SheetCutting,
}

/// A part at its place.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names are those of the JSON and say it all")]
pub struct PlacementResult {
    pub part: String,
    pub sheet: String,
    pub x_mm: f64,
    pub y_mm: f64,
    pub angle_deg: f64,
    pub mirrored: bool,
}

/// Parts that found no place.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names say it all")]
pub struct UnplacedResult {
    pub part: String,
    pub mirrored: bool,
    pub count: usize,
    pub why: String,
}

/// A job's result.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names are those of the JSON and say it all")]
pub struct JobResult {
    pub job: String,
    pub parts: Vec<PartResult>,
    pub sheets: Vec<SheetResult>,
    pub placements: Vec<PlacementResult>,
    pub unplaced: Vec<UnplacedResult>,
    /// Whether the nest was stopped by hand.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub stopped: bool,
    /// Coupons and strips that were asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub test_pieces: Vec<TestPieceResult>,
    pub findings: Vec<FindingResult>,
    pub assumed: Vec<AssumedResult>,
    pub kerf_mm: f64,
    pub spacing_mm: f64,
    pub margin_mm: f64,
    /// Whether cut lines are already moved by half the kerf.
    pub compensated: bool,
    pub cut_length_mm: f64,
    pub pierces: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cut_time_s: Option<f64>,
    pub mass_kg: f64,
    /// Cautions that apply to its parts.
    pub cautions: Vec<CautionResult>,
    pub files: Vec<String>,
}

/// A measured strip's result.
#[derive(Debug, Clone, Serialize)]
#[expect(missing_docs, reason = "the names are those of the JSON and say it all")]
pub struct StripResult {
    pub k_factor: f64,
    pub allowance_mm: f64,
    pub deduction_mm: f64,
    pub usual: bool,
}

/// A part's result; `files` are the names written for it, `flat` is none for a half-shell without a
/// blank.
#[must_use]
pub fn part_result(
    part: &Part,
    (flat, bending): (Option<&Flat>, Option<&Bending>),
    hollow: Option<&Hollow>,
    findings: &[Finding],
    files: Vec<String>,
) -> PartResult {
    let bends = flat.iter().flat_map(|flat| &flat.bends).enumerate();
    PartResult {
        part: part.name.clone(),
        kind: part.kind.name().to_owned(),
        material: part.material.name.clone(),
        thickness_mm: rounded(part.thickness.mm()),
        blank: flat.map(blank_result),
        bends: bends
            .map(|(i, bend)| bend_result(bend, bending.map(|bending| practice_result(bending, i))))
            .collect(),
        brake: bending.map(|bending| brake_result(part, bending)),
        bend_order: flat.zip(bending).map(|(flat, bending)| step_results(part, flat, bending)),
        reliefs: flat.iter().flat_map(|flat| &flat.tree).flat_map(relief_results).collect(),
        forming: flat
            .and_then(|flat| flat.forming.as_ref())
            .map(|forming| forming_result(part, forming)),
        mass_kg: flat.map(|flat| rounded(flat.mass(part.thickness, part.material.density.value))),
        hollow: hollow.map(hollow_result),
        assumed: part
            .assumed
            .iter()
            .chain(bending.iter().flat_map(|bending| &bending.assumed))
            .map(assumed_result)
            .chain(flat.iter().flat_map(|flat| strips_taken(part, flat)))
            .collect(),
        warnings: findings
            .iter()
            .filter(|finding| finding.grade > Grade::Within)
            .map(warning)
            .collect(),
        cautions: cautions_of(part, flat, bending, findings)
            .iter()
            .map(CautionResult::from)
            .collect(),
        files,
    }
}

fn blank_result(flat: &Flat) -> BlankResult {
    let bounds = flat.net.bounds();
    BlankResult {
        width_mm: rounded(bounds.width()),
        height_mm: rounded(bounds.height()),
        area_mm2: rounded(flat.net_area()),
        cut_length_mm: rounded(flat.cut_length()),
        openings: flat.openings.len(),
    }
}

fn bend_result(bend: &crate::flat::FlatBend, practice: Option<PracticeResult>) -> BendResult {
    BendResult {
        name: bend.name.clone(),
        angle_deg: rounded(bend.angle.degrees()),
        direction: if bend.up { "up" } else { "down" },
        inside_radius_mm: rounded(bend.inside_radius.mm()),
        k_factor: rounded(bend.developed.k_factor),
        allowance_mm: rounded(bend.developed.allowance.mm()),
        setback_mm: rounded(bend.developed.outside_setback.mm()),
        deduction_mm: rounded(bend.developed.deduction.mm()),
        length_mm: rounded(bend.length.mm()),
        din_v_mm: bend.developed.din_v.map(|v| rounded(v.mm())),
        basis: bend.developed.basis.clone(),
        practice,
    }
}

fn relief_results(tree: &FoldTree) -> Vec<ReliefResult> {
    let result = |relief: &ReliefCut| {
        let middle = relief.outline.bounds().center();
        ReliefResult {
            shape: relief.shape,
            bends: relief.bends.iter().map(|bend| tree.bends[*bend].name.clone()).collect(),
            clears_mm: rounded(relief.clearance),
            x_mm: rounded(middle.x),
            y_mm: rounded(middle.y),
        }
    };
    tree.reliefs.iter().map(result).collect()
}

fn forming_result(part: &Part, forming: &crate::flat::Forming) -> FormingResult {
    let material = &part.material;
    let finished = forming.finished_edge();
    let band = part.kind.half_shell().and_then(|shell| {
        let wanted = Angle::from_degrees(90.0) - shell.draft;
        springback_band(material, shell.inside_radius, part.thickness, wanted).ok()
    });
    let degrees = |[low, high]: [Angle; 2]| [rounded(low.degrees()), rounded(high.degrees())];
    FormingResult {
        max_stretch: rounded(forming.max_stretch()),
        max_shrink: rounded(forming.max_shrink()),
        finished_edge_stretch: rounded(finished.0),
        finished_edge_shrink: rounded(finished.1),
        min_thickness_mm: rounded(forming.min_thickness()),
        max_thickness_mm: rounded(forming.max_thickness()),
        method: forming.method.name(),
        face: part.kind.has_buck().then(|| match &forming.face {
            None => "level",
            Some(face) if face.is_unrolled() => "unrolled",
            Some(_) => "formed",
        }),
        springback_deg: band.map(|band| degrees(band.springback)),
        undercut_deg: band.map(|band| degrees(band.undercut)),
        held: true,
        elements: forming.elements(),
        k_mpa: rounded(material.strength_coefficient.value.mpa()),
        n: rounded(material.hardening_exponent.value),
        r: rounded(material.normal_anisotropy.value),
        k_factor: rounded(forming.wall.k_factor),
        allowance_mm: rounded(forming.wall.allowance()),
        setback_mm: rounded(forming.wall.setback()),
        quality: quality_result(&forming.solved),
        darts: forming.darts.iter().map(dart_result).collect(),
        corner_welds: corner_welds(part, forming),
        edge: spaced(&forming.edge).map(|edge| edge_result(edge, forming.wall.thickness)).collect(),
    }
}

fn corner_welds(part: &Part, forming: &crate::flat::Forming) -> Vec<CornerWeldResult> {
    let Some(shell) = part.kind.half_shell() else { return Vec::new() };
    let weld = |corner: &SharpCorner| {
        let gap = match shell.join {
            Join::RunOn => 0.0,
            // Between the outsides of two walls that end square, each the bend's width from where
            // both would meet.
            Join::Open => 2.0 * forming.wall.tangent_inset() * (corner.turn / 2.0).sin(),
        };
        Some(CornerWeldResult {
            at_mm: [rounded(corner.at.x), rounded(corner.at.y)],
            turn_deg: rounded(corner.turn.to_degrees()),
            length_mm: rounded(corner.edge?),
            gap_mm: rounded(gap),
        })
    };
    forming.corners.iter().filter_map(weld).collect()
}

fn quality_result(solved: &[SolvedWalls]) -> Option<QualityResult> {
    let worst = solved.iter().map(|walls| walls.quality).reduce(|a, b| Quality {
        least_angle: a.least_angle.min(b.least_angle),
        greatest_aspect: a.greatest_aspect.max(b.greatest_aspect),
        edge_force: a.edge_force.max(b.edge_force),
        steps: a.steps.max(b.steps),
    })?;
    Some(QualityResult {
        steps: worst.steps,
        least_angle_deg: rounded(worst.least_angle.to_degrees()),
        greatest_aspect: rounded(worst.greatest_aspect),
        edge_force: rounded(worst.edge_force),
    })
}

fn dart_result(dart: &Dart) -> DartResult {
    DartResult {
        x_mm: rounded(dart.middle().x),
        y_mm: rounded(dart.middle().y),
        width_mm: rounded(dart.width),
        length_mm: rounded(dart.length()),
        hole_mm: rounded(dart.hole),
        opens: dart.opens,
        weld_mm: rounded(dart.weld()),
    }
}

/// Of the places along the edge those that tell: ends of sides, and no closer than 20 mm between.
fn spaced(edge: &[EdgeStrain]) -> impl Iterator<Item = &EdgeStrain> {
    let mut last = f64::NEG_INFINITY;
    edge.iter().enumerate().filter_map(move |(i, place)| {
        let next_differs = edge
            .get(i + 1)
            .is_none_or(|next| next.along < place.along || (next.along - place.along).abs() < 1e-9);
        let keep = next_differs || (place.along - last).abs() >= 20.0;
        if keep {
            last = place.along;
        }
        keep.then_some(place)
    })
}

fn edge_result(edge: &EdgeStrain, thickness: f64) -> EdgeResult {
    EdgeResult {
        along_mm: rounded(edge.along),
        x_mm: rounded(edge.at.x),
        y_mm: rounded(edge.at.y),
        strain: rounded(edge.strain),
        mm_per_100_mm: rounded(edge.strain * 100.0),
        finished_strain: rounded(edge.finished),
        thickness_mm: rounded(edge.thickness_ratio * thickness),
        wall_width_mm: rounded(edge.width),
    }
}

impl From<&Assumed> for AssumedResult {
    fn from(assumed: &Assumed) -> Self {
        assumed_result(assumed)
    }
}

fn assumed_result(assumed: &Assumed) -> AssumedResult {
    AssumedResult {
        key: assumed.key.clone(),
        value: assumed.value.clone(),
        why: assumed.why.clone(),
    }
}

/// The measured strips that stand for this part's bends.
fn strips_taken(part: &Part, flat: &Flat) -> Vec<AssumedResult> {
    let BendRule::Strips(_) = part.bend_rule else { return Vec::new() };
    let edge = developed_edge(part);
    let at_edge = edge.iter().map(|developed| ("the edge", developed));
    let mut rows: Vec<(&str, Vec<&str>)> = Vec::new();
    for (name, developed) in
        at_edge.chain(flat.bends.iter().map(|bend| (bend.name.as_str(), &bend.developed)))
    {
        let basis = developed.basis.as_str();
        match rows.iter_mut().find(|(known, _)| *known == basis) {
            Some((_, names)) => names.push(name),
            None => rows.push((basis, vec![name])),
        }
    }
    let row = |(basis, names): (&str, Vec<&str>)| AssumedResult {
        key: "bend_allowance".to_owned(),
        value: basis.to_owned(),
        why: format!("taken for {}", names.join(", ")),
    };
    rows.into_iter().map(row).collect()
}

fn warning(finding: &Finding) -> WarningResult {
    WarningResult {
        code: finding.rule,
        grade: finding.grade,
        message: finding.message.clone(),
        help: finding.remedy.clone(),
        place: finding.place.as_ref().map(Place::short).unwrap_or_default(),
    }
}

/// The result of a finding about a part of a job, lengths in words in `unit`.
#[must_use]
pub fn job_finding_result(found: &JobFinding, unit: LengthUnit) -> FindingResult {
    FindingResult {
        sheet: found.sheet.clone(),
        ..finding_result(&found.part, &found.finding, unit)
    }
}

/// The result of a finding about the part of that name, lengths in words in `unit`.
#[must_use]
pub fn finding_result(part: &str, finding: &Finding, unit: LengthUnit) -> FindingResult {
    let measured = finding.measured;
    let words = |of: fn(&Measured, LengthUnit) -> String| {
        measured.map(|measured| of(&measured, unit)).unwrap_or_default()
    };
    FindingResult {
        part: part.to_owned(),
        sheet: None,
        rule: finding.rule,
        grade: finding.grade,
        value: measured.map(|measured| rounded(measured.value)),
        limit: measured.map(|measured| rounded(measured.limit)),
        unit: measured.map(|measured| measured.unit),
        sense: measured.map(|measured| measured.sense),
        ok: finding.is_ok(),
        message: finding.message.clone(),
        remedy: finding.remedy.clone(),
        source: finding.source.clone(),
        place: finding.place.as_ref().map(Place::short).unwrap_or_default(),
        is: words(Measured::is),
        must_be: words(Measured::must_be),
    }
}
