//! The sheets of a job: blanks nested, test pieces laid into what is left, cuts planned, everything
//! drawn and written.

use super::last_sheet::choose_last_sheet;
use super::stock::{edges, shape_of, stock_of};
use super::test_pieces::{TestPiece, test_pieces};
use super::{Artifact, Made};
use crate::check::{check_cuts, check_tabs, test_piece_room};
use crate::cutting::{
    BlankEdges, CutPlan, LeadRoom, LeftOver, OnSheet, Torch, blank_edges, left_over, plan,
};
use crate::drawing::{PlacedBlank, SheetFacts, blank_drawing, sheet_drawing};
use crate::finding::JobFinding;
use crate::formats::{DxfOptions, WriteProblem, dxf, svg};
use crate::geom::{Affine, Polyarc};
use crate::nest::{Clearance, Effort, Layout, Piece, Placement, Refused, Turns, Watch, Why, nest};
use crate::page::Drawing;
use crate::part::{Job, Part, StockShape, StockSheet};
use crate::problem::{Checked, Code, Place, Problem};
use crate::report::{
    LeadInResult, LeftOverResult, PlacementResult, SheetCutting, SheetResult, TestPieceResult,
    UnplacedResult, remnant_file, sheet_captions, sheet_notes,
};
use crate::shop::kerf::usual_kerf;
use crate::units::Length;

/// The layout of a job on its sheets.
#[derive(Debug, Clone, Default)]
pub struct LaidOut {
    /// The sheets with parts on them.
    pub sheets: Vec<SheetResult>,
    /// Where each part lies.
    pub placements: Vec<PlacementResult>,
    /// Where each test piece lies.
    pub test_pieces: Vec<TestPieceResult>,
    /// What found no place.
    pub unplaced: Vec<UnplacedResult>,
    /// What the cutting of the sheets has against it.
    pub findings: Vec<JobFinding>,
    /// The sheets' files.
    pub files: Vec<Artifact>,
    /// The sheets' drawings, in order.
    pub drawings: Vec<Drawing>,
    /// Kerf, spacing, margin, mm, as used for each material and thickness; the last one for the
    /// job's result.
    pub clearances: (f64, f64, f64),
    /// Where the kerf comes from when nobody gave one.
    pub kerf_source: Option<String>,
}

/// The share of a group's time that the nest itself gets.
const NEST_SHARE: f64 = 0.85;

/// One kind of blank to place: a part of one hand, or a test piece.
struct Blank {
    /// Index of its part; none for a test piece.
    part: Option<usize>,
    mirrored: bool,
    /// The part's or the test piece's name.
    of: String,
    /// What is written on it on the sheet.
    name: String,
    drawing: Drawing,
    edges: BlankEdges,
    /// Area as cut, mm².
    area: f64,
}

impl Blank {
    fn of_test_piece(piece: TestPiece) -> Self {
        let TestPiece { name, label, drawing, edges, .. } = piece;
        let area = edges
            .iter()
            .enumerate()
            .map(|(i, edge)| if i == 0 { edge.outline.area() } else { -edge.outline.area() })
            .sum();
        Self { part: None, mirrored: false, of: name, name: label, drawing, edges, area }
    }
}

/// The blanks on one sheet.
struct Filled<'a> {
    sheet: &'a StockSheet,
    /// The sheet's edge and openings as drawn.
    stock: Vec<Polyarc>,
    /// How much of a roll is used.
    length: f64,
    /// Blanks by their index and how each is moved; test pieces last.
    placed: Vec<(usize, Placement)>,
}

/// Nests the flats of a job. `made` goes with `job.parts`. Problems are those of the stock or parts
/// that no layout can mend.
pub fn lay_out(
    job: &Job,
    made: &[Made],
    options: DxfOptions,
    watch: &mut dyn Watch,
) -> Checked<LaidOut> {
    let mut out = LaidOut { findings: check_tabs(job), ..LaidOut::default() };
    let without = job.parts.iter().zip(made).filter(|(_, made)| made.part().is_none());
    out.unplaced.extend(without.flat_map(|(job_part, _)| {
        [(false, job_part.quantity), (true, job_part.mirrored)]
            .into_iter()
            .filter(|(_, count)| *count > 0)
            .map(|(mirrored, count)| {
                let why = "no blank was found for it".to_owned();
                UnplacedResult { part: job_part.part.name.clone(), mirrored, count, why }
            })
    }));
    let groups = groups(job);
    for (i, group) in groups.iter().enumerate() {
        let to_come = (groups.len() - i) as f64;
        // Of the time for each group most goes into the nest, the rest into trying the last sheet
        // another way.
        let shares = (NEST_SHARE / to_come, (1.0 - NEST_SHARE) / (to_come - NEST_SHARE));
        lay_out_group(job, made, (group, shares), options, watch, &mut out)?;
    }
    if out.clearances == (0.0, 0.0, 0.0) {
        let thickness = job.parts.first().map_or(Length::from_mm(1.6), |part| part.part.thickness);
        out.clearances = clearances(
            job,
            thickness,
            job.parts.first().map(|part| &part.part),
            &mut out.kerf_source,
        );
    }
    Ok(out)
}

/// Materials and thicknesses of the job's parts, in the order in which they first come.
fn groups(job: &Job) -> Vec<(String, Length)> {
    let mut groups: Vec<(String, Length)> = Vec::new();
    for part in &job.parts {
        let key = (part.part.material.name.clone(), part.part.thickness);
        if !groups.iter().any(|group| same_sheet(group, &key.0, key.1)) {
            groups.push(key);
        }
    }
    groups
}

/// A sheet fits parts of its own material whose thickness differs by less than a hundredth of a
/// millimetre.
fn same_sheet(group: &(String, Length), material: &str, thickness: Length) -> bool {
    group.0 == material && (group.1.mm() - thickness.mm()).abs() < 0.01
}

fn clearances(
    job: &Job,
    thickness: Length,
    part: Option<&Part>,
    source: &mut Option<String>,
) -> (f64, f64, f64) {
    let family = part.and_then(|part| part.material.gauge_family);
    let kerf = job.cutting.kerf.map_or_else(
        || {
            let usual = usual_kerf(thickness, family);
            *source = usual.as_ref().map(|figure| figure.source.clone());
            usual.map_or(1.5, |figure| figure.value.mm())
        },
        Length::mm,
    );
    let spacing = job.cutting.spacing.map_or(4.0, Length::mm);
    let margin = job.cutting.margin.map_or(8.0, Length::mm);
    (kerf, spacing, margin)
}

/// The blanks of a group's parts and how many of each are wanted.
fn blanks_of(job: &Job, made: &[Made], group: &(String, Length)) -> (Vec<Blank>, Vec<Piece>) {
    let (mut blanks, mut pieces) = (Vec::new(), Vec::new());
    for (i, (job_part, made)) in job.parts.iter().zip(made).enumerate() {
        if !same_sheet(group, &job_part.part.material.name, job_part.part.thickness) {
            continue;
        }
        for (mirrored_hand, quantity) in [(false, job_part.quantity), (true, job_part.mirrored)] {
            let (true, Some(made)) = (quantity > 0, made.part()) else { continue };
            let hand = if mirrored_hand { made.other_hand() } else { made.clone() };
            let turns = match &job_part.turns {
                crate::part::Turns::Any => Turns::Any,
                crate::part::Turns::List(list) => {
                    Turns::List(list.iter().map(|angle| angle.radians()).collect())
                }
            };
            pieces.push(Piece {
                shape: shape_of(&hand.flat.outside, &hand.flat.openings, true),
                quantity,
                turns,
                tolerance: job_part.turn_tolerance.radians(),
            });
            let drawing = blank_drawing(&job_part.part, &hand.flat, hand.stations(), mirrored_hand);
            let other = if mirrored_hand { ", other hand" } else { "" };
            let name = format!("{}{other}", job_part.part.name);
            let edges = blank_edges(&hand.flat);
            let (of, area) = (job_part.part.name.clone(), hand.flat.cut_area());
            blanks.push(Blank {
                part: Some(i),
                mirrored: mirrored_hand,
                of,
                name,
                drawing,
                edges,
                area,
            });
        }
    }
    (blanks, pieces)
}

fn lay_out_group(
    job: &Job,
    made: &[Made],
    (group, shares): (&(String, Length), (f64, f64)),
    options: DxfOptions,
    watch: &mut dyn Watch,
    out: &mut LaidOut,
) -> Checked<()> {
    let (mut blanks, pieces) = blanks_of(job, made, group);
    let sheets: Vec<&StockSheet> = job
        .stock
        .iter()
        .filter(|sheet| same_sheet(group, &sheet.material, sheet.thickness))
        .collect();
    let any = job
        .parts
        .iter()
        .find(|part| same_sheet(group, &part.part.material.name, part.part.thickness))
        .map(|part| &part.part);
    let (kerf, spacing, margin) = clearances(job, group.1, any, &mut out.kerf_source);
    out.clearances = (kerf, spacing, margin);
    if blanks.is_empty() {
        return Ok(());
    }
    let total: usize = pieces.iter().map(|piece| piece.quantity).sum();
    let stock: Vec<_> = sheets.iter().map(|sheet| stock_of(sheet, total)).collect();
    if stock.is_empty() {
        for (blank, piece) in blanks.iter().zip(&pieces) {
            let why = format!(
                "the job has no sheet of {} {} mm thick: add one under `sheets`",
                group.0,
                crate::units::Digits(group.1.mm(), 3)
            );
            out.unplaced.push(unplaced(blank, piece.quantity, why));
        }
        return Ok(());
    }
    let clearance = Clearance { between: kerf + spacing, edge: margin };
    let effort = Effort { seed: job.seed, poses: job.tries, workers: 2 };
    watch.begin(shares.0);
    let mut layout: Layout = nest(&pieces, &stock, &clearance, &effort, watch)
        .map_err(|refused| vec![refusal(job, &blanks, &sheets, &refused)])?;
    watch.begin(shares.1);
    let outsides: Vec<Polyarc> =
        blanks.iter().map(|blank| blank.edges[0].outline.clone()).collect();
    choose_last_sheet(&mut layout, &pieces, &outsides, &stock, (&clearance, &effort), watch);
    out.unplaced.extend(
        layout.unplaced.iter().map(|left| {
            unplaced(&blanks[left.piece], left.count, why_unplaced(left.why).to_owned())
        }),
    );
    let mut filled: Vec<Filled> = layout
        .sheets
        .iter()
        .map(|used| Filled {
            sheet: sheets[used.stock],
            stock: edges(sheets[used.stock], used.length),
            length: used.length,
            placed: used.placements.iter().map(|placement| (placement.piece, *placement)).collect(),
        })
        .collect();
    add_test_pieces(job, any, &mut blanks, &mut filled, &clearance, out);
    let torch = Torch { kerf, thickness: group.1.mm() };
    for sheet in &filled {
        record(job, &blanks, sheet, torch, &clearance, options, out)?;
    }
    Ok(())
}

/// Lays the coupon and the strips that the job asks for into what is left, never on a further
/// sheet.
fn add_test_pieces(
    job: &Job,
    part: Option<&Part>,
    blanks: &mut Vec<Blank>,
    filled: &mut [Filled],
    clearance: &Clearance,
    out: &mut LaidOut,
) {
    let Some(part) = part else { return };
    for piece in test_pieces(&job.cutting, part) {
        let outsides = |sheet: &Filled, blanks: &[Blank]| -> Vec<Polyarc> {
            sheet
                .placed
                .iter()
                .map(|(blank, at)| blanks[*blank].edges[0].outline.moved(motion(at)))
                .collect()
        };
        // In the scrap of any sheet first; where there is none, in what could be kept of one.
        let found = [true, false].into_iter().find_map(|spare| {
            filled.iter().enumerate().find_map(|(i, sheet)| {
                let outsides = outsides(sheet, blanks);
                super::test_pieces::place(&piece, &outsides, &sheet.stock, clearance, spare)
                    .map(|placement| (i, placement))
            })
        });
        match found {
            Some((i, placement)) => {
                filled[i].placed.push((blanks.len(), placement));
                blanks.push(Blank::of_test_piece(piece));
            }
            None => out.findings.push(JobFinding {
                part: piece.name.clone(),
                sheet: None,
                finding: test_piece_room(&piece.name, &part.place),
            }),
        }
    }
}

fn unplaced(blank: &Blank, count: usize, why: String) -> UnplacedResult {
    UnplacedResult { part: blank.of.clone(), mirrored: blank.mirrored, count, why }
}

/// Why a part was left over, and what would help.
fn why_unplaced(why: Why) -> &'static str {
    match why {
        Why::TooLarge => {
            "larger than any sheet, within the margins and at the turns allowed: give a larger sheet, or allow other `turns`"
        }
        Why::NoRoom => {
            "no room was found for it: give another sheet under `sheets`, or more time to look for room (`nesting: {time: 60 s}`, or more `tries`)"
        }
        Why::Stopped => "the nest was stopped before its turn came: let it run",
    }
}

fn refusal(job: &Job, blanks: &[Blank], sheets: &[&StockSheet], refused: &Refused) -> Problem {
    let place = match refused {
        Refused::Piece { index, .. } => {
            blanks[*index].part.map(|part| job.parts[part].place.clone())
        }
        Refused::Stock { index, .. } => Some(sheets[*index].place.clone()),
        _ => None,
    };
    let problem = Problem::new(
        Code::DoesNotFit,
        refused.to_string(),
        "check the outline and the cutting clearances",
    );
    match place {
        Some(place) => problem.at(place),
        None => problem,
    }
}

fn record(
    job: &Job,
    blanks: &[Blank],
    filled: &Filled,
    torch: Torch,
    clearance: &Clearance,
    options: DxfOptions,
    out: &mut LaidOut,
) -> Checked<()> {
    let sheet = filled.sheet;
    let name = format!("sheet-{}", out.sheets.len() + 1);
    let stock_area = filled.stock[0].area()
        - filled.stock[1..].iter().map(|opening| opening.area().abs()).sum::<f64>();
    let of_parts = || filled.placed.iter().filter(|(blank, _)| blanks[*blank].part.is_some());
    let share = of_parts().map(|(blank, _)| blanks[*blank].area).sum::<f64>() / stock_area;
    let on_sheet: Vec<OnSheet> = filled
        .placed
        .iter()
        .map(|(blank, at)| OnSheet { edges: &blanks[*blank].edges, motion: motion(at) })
        .collect();
    let cuts = plan(&on_sheet, &filled.stock, torch);
    let outsides: Vec<Polyarc> =
        on_sheet.iter().map(|blank| blank.edges[0].outline.moved(blank.motion)).collect();
    let left = left_over(
        &outsides,
        &filled.stock,
        clearance.between,
        job.cutting.remnant.map_or(100.0, Length::mm),
    );
    let cutting = sheet_cutting(job, &cuts, &left);
    let result = SheetResult {
        name: name.clone(),
        material: sheet.material.clone(),
        thickness_mm: sheet.thickness.mm(),
        used: share,
        parts: of_parts().count(),
        length_mm: matches!(sheet.shape, StockShape::Roll(_)).then_some(filled.length),
        price: sheet.price,
        cutting,
    };
    let placed: Vec<PlacedBlank> = filled
        .placed
        .iter()
        .map(|(blank, at)| PlacedBlank {
            blank: &blanks[*blank].drawing,
            name: &blanks[*blank].name,
            motion: motion(at),
        })
        .collect();
    let of_this = job.parts.iter().find(|part| part.part.material.name == sheet.material);
    let hazards = of_this.map_or(&[][..], |part| &part.part.material.hazards);
    let (notes, captions) = (
        sheet_notes(&job.name, &result, torch.kerf),
        sheet_captions(
            &result,
            hazards,
            filled.placed.iter().any(|(blank, _)| blanks[*blank].part.is_none()),
        ),
    );
    let facts = SheetFacts {
        title: &name,
        stock: &filled.stock,
        plan: &cuts,
        compensated: job.compensate,
        left: left.rectangle.filter(|_| !left.remnants.is_empty()),
        notes: &notes,
        captions: &captions,
    };
    let drawing = sheet_drawing(&facts, &placed);
    let refuse = |problem: WriteProblem| {
        vec![Problem::new(Code::OutOfRange, problem.to_string(), "check the sizes of the parts")]
    };
    out.files.push(Artifact {
        name: format!("sheets/{name}.svg"),
        bytes: svg(&drawing).map_err(refuse)?,
    });
    out.files.push(Artifact {
        name: format!("sheets/{name}.dxf"),
        bytes: dxf(&drawing, options).map_err(refuse)?,
    });
    if !left.remnants.is_empty() {
        let text = remnant_file(&job.name, &result, &left, clearance.between);
        out.files.push(Artifact {
            name: format!("sheets/{name}-remnant.yaml"),
            bytes: text.into_bytes(),
        });
    }
    out.drawings.push(drawing);
    for (blank, at) in &filled.placed {
        let blank = &blanks[*blank];
        let (x_mm, y_mm, angle_deg) = (at.x, at.y, at.angle.to_degrees());
        match blank.part {
            Some(_) => out.placements.push(PlacementResult {
                part: blank.of.clone(),
                sheet: name.clone(),
                x_mm,
                y_mm,
                angle_deg,
                mirrored: blank.mirrored,
            }),
            None => out.test_pieces.push(TestPieceResult {
                piece: blank.of.clone(),
                sheet: name.clone(),
                x_mm,
                y_mm,
                angle_deg,
            }),
        }
    }
    out.findings.extend(check_cuts(job, &name, &places(job, blanks, filled), &cuts, torch));
    out.sheets.push(result);
    Ok(())
}

/// Of each blank on a sheet the name of its part and where that stands in the job.
fn places(job: &Job, blanks: &[Blank], filled: &Filled) -> Vec<(String, Option<Place>)> {
    let of =
        |blank: &Blank| (blank.of.clone(), blank.part.map(|part| job.parts[part].place.clone()));
    filled.placed.iter().map(|(blank, _)| of(&blanks[*blank])).collect()
}

/// Lengths, pierces and time of a sheet's cuts.
fn sheet_cutting(job: &Job, plan: &CutPlan, left: &LeftOver) -> SheetCutting {
    let cuts = || {
        plan.cuts
            .iter()
            .filter(|cut| if job.compensate { !cut.too_narrow } else { cut.own_edge.is_some() })
    };
    let length = |cut: &crate::cutting::Cut| match (&cut.own_edge, job.compensate) {
        (_, true) => {
            cut.path.length() + cut.lead.iter().map(crate::geom::Segment::length).sum::<f64>()
        }
        (own, false) => own.as_ref().map_or(0.0, Polyarc::length),
    };
    let (cut_length_mm, pierces) = (cuts().map(length).sum::<f64>(), cuts().count());
    let leads = |room: LeadRoom| cuts().filter(|cut| cut.room == room).count();
    SheetCutting {
        compensated: job.compensate,
        cut_length_mm,
        pierces,
        moves_mm: plan.travel,
        cut_time_s: job.cutting.feed_mm_per_min.map(|feed| {
            cut_length_mm / feed * 60.0 + pierces as f64 * job.cutting.pierce_s.unwrap_or(0.0)
        }),
        lead_ins: job.compensate.then(|| LeadInResult {
            whole: leads(LeadRoom::Whole),
            short: leads(LeadRoom::Short),
            none: leads(LeadRoom::None),
        }),
        left_over: left.rectangle.map(|rect| LeftOverResult {
            x_mm: rect.x0,
            y_mm: rect.y0,
            width_mm: rect.width(),
            height_mm: rect.height(),
        }),
        remnants: left.remnants.len(),
    }
}

/// How a placement moves its blank. A mirrored blank is drawn as the other hand already.
fn motion(placement: &Placement) -> Affine {
    Affine::translate((placement.x, placement.y)) * Affine::rotate(placement.angle)
}
