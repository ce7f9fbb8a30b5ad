//! The flow from parts to files: each function takes what the description says and gives what is to be written.
//!
//! | function | steps |
//! |---|---|
//! | [`make_part`] | flatten, check, buck, section, draw, write |
//! | [`lay_out`] | nest the flats of a job, draw and write its sheets |

use crate::bending::{Bending, fold_marks, plan_bending};
use crate::buck::{BuckSet, OnPlate, Station, buck_of, buck_solid, formed_solid};
use crate::check::check;
use crate::drawing::{Drawing, PlacedBlank, bend_order_page, blank_drawing, buck_drawing, metal_maps, sheet_drawing};
use crate::flat::half_shell::wall_of;
use crate::flat::{Finding, Flat, flatten};
use crate::formed::{SheetMesh, SpaceTriangle};
use crate::geom::{Affine, Point, Polyarc, Rect};
use crate::nest::{Clearance, Effort, Layout, Piece, Placement, Refused, Shape, Stock, Turns, Watch, nest};
use crate::part::{Job, Kind, Part, StockShape, StockSheet};
use crate::problem::{Checked, Code, Problem};
use crate::report::{PlacementResult, SheetResult, UnplacedResult};
use crate::section::{Hollow, hollow_of};
use crate::shop::kerf::usual_kerf;
use crate::tolerance::{CURVE_TO_ARCS, NEST_CHORD};
use crate::units::Length;
use crate::write::{DxfOptions, WriteProblem, dxf, page_svg, stl, svg};

/// A file to be written.
#[derive(Debug, Clone)]
pub struct Artifact {
    /// Its name below the output folder, with `/` between folders.
    pub name: String,
    /// What is in it.
    pub bytes: Vec<u8>,
}

/// Which of a part's files are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// The blanks.
    Blanks,
    /// The bucks.
    Bucks,
    /// Everything.
    All,
}

/// A part laid flat and checked.
#[derive(Debug, Clone)]
pub struct MadePart {
    /// Its blank.
    pub flat: Flat,
    /// How its bends are made, for bent and folded parts.
    pub bending: Option<Bending>,
    /// Its buck, for half-shells.
    pub buck: Option<BuckSet>,
    /// What it and its mirror make together, for paired half-shells.
    pub hollow: Option<Hollow>,
    /// Every rule that applies.
    pub findings: Vec<Finding>,
}

impl MadePart {
    /// The stations of its buck.
    #[must_use]
    pub fn stations(&self) -> &[Station] {
        self.buck.as_ref().map_or(&[], |buck| &buck.stations)
    }
}

/// Lays a part flat, checks it, finds its buck, and what a pair of it makes.
pub fn make_part(part: &Part) -> Checked<MadePart> {
    let mut flat = flatten(part)?;
    let buck = buck_of(part, &flat)?;
    let bending = plan_bending(part, &flat);
    flat.fold_marks = bending.iter().flat_map(|bending| fold_marks(&flat, bending)).collect();
    let mut findings = check(part, &flat, bending.as_ref());
    findings.extend(buck.iter().flat_map(|buck| buck.findings.clone()));
    let hollow = hollow_of(part, &flat, buck.as_ref().map_or(&[], |buck| &buck.stations))?;
    findings.extend(hollow.iter().map(|hollow| hollow.vented.clone()));
    Ok(MadePart { flat, bending, buck, hollow, findings })
}

/// The files of a part, in its own folder; with `other_hand` also those of the other hand, in the folder beside it.
pub fn part_files(part: &Part, made: &MadePart, wanted: Wanted, other_hand: bool, options: DxfOptions) -> Checked<Vec<Artifact>> {
    let mut files = Vec::new();
    hand_files(part, made, wanted, false, options, &mut files)?;
    if other_hand {
        let mut other = mirrored(made);
        other.bending = plan_bending(part, &other.flat);
        hand_files(part, &other, wanted, true, options, &mut files)?;
    }
    Ok(files)
}

/// The other hand of a made part.
#[must_use]
pub fn mirrored(made: &MadePart) -> MadePart {
    let mirror = Affine::FLIP_X;
    let buck = made.buck.clone().map(|buck| BuckSet {
        outline: buck.outline.moved(mirror),
        clamp_plate: buck.clamp_plate.as_ref().map(|plate| plate.moved(mirror)),
        pins: buck.pins.iter().map(|(at, d, dowel)| (mirror * *at, *d, *dowel)).collect(),
        openings: buck.openings.iter().map(|opening| opening.moved(mirror)).collect(),
        on_plate: buck.on_plate.as_ref().map(|plate| OnPlate {
            pins: plate.pins.iter().map(|(at, diameter, is_dowel)| (mirror * *at, *diameter, *is_dowel)).collect(),
            openings: plate.openings.iter().map(|opening| opening.moved(mirror)).collect(),
        }),
        stations: buck
            .stations
            .iter()
            .map(|station| Station {
                origin: mirror * station.origin,
                across: crate::geom::Vec2::new(-station.across.x, station.across.y),
                flat: station.flat.as_ref().map(crate::buck::FlatStation::mirrored),
                ..station.clone()
            })
            .collect(),
        ..buck
    });
    // The pair is one thing, whichever half it is told of.
    MadePart {
        flat: made.flat.other_hand(),
        bending: made.bending.clone(),
        buck,
        hollow: made.hollow.clone(),
        findings: made.findings.clone(),
    }
}

fn hand_files(
    part: &Part,
    made: &MadePart,
    wanted: Wanted,
    other_hand: bool,
    options: DxfOptions,
    files: &mut Vec<Artifact>,
) -> Checked<()> {
    let folder = if other_hand { format!("{}-other-hand", part.file_name) } else { part.file_name.clone() };
    let mut add = |name: &str, bytes: Result<Vec<u8>, WriteProblem>| match bytes {
        Ok(bytes) => {
            files.push(Artifact { name: format!("{folder}/{name}"), bytes });
            Ok(())
        }
        Err(problem) => {
            Err(vec![Problem::new(Code::OutOfRange, problem.to_string(), "check the sizes of this part").at(part.place.clone())])
        }
    };
    if wanted != Wanted::Bucks {
        let blank = blank_drawing(part, &made.flat, made.stations(), other_hand);
        add("blank.svg", svg(&blank))?;
        add("blank.dxf", dxf(&blank, options))?;
        if let Some(page) = made.bending.as_ref().and_then(|bending| bend_order_page(part, &made.flat, bending, other_hand)) {
            add("bend-order.svg", page_svg(&page))?;
        }
        if let Some(maps) = metal_maps(part, &made.flat, other_hand) {
            add("strain.svg", page_svg(&maps.strain))?;
            add("thickness.svg", page_svg(&maps.thickness))?;
        }
    }
    if let Some(tree) = &made.flat.tree
        && wanted != Wanted::Bucks
        && let Some(mesh) = SheetMesh::new(tree, &made.flat.outside, &made.flat.openings)
    {
        let solid: Vec<SpaceTriangle> = mesh.surface(&tree.folded()).into_iter().map(|(triangle, _)| triangle).collect();
        add("formed.stl", stl(&solid))?;
    }
    if let (Kind::HalfShell(shell), Some(buck)) = (&part.kind, &made.buck)
        && wanted != Wanted::Blanks
    {
        let drawing = buck_drawing(part, buck, other_hand);
        add("buck.svg", svg(&drawing))?;
        add("buck.dxf", dxf(&drawing, options))?;
        let wall = wall_of(part, shell).map_err(|problem| vec![problem])?;
        let face = made.flat.forming.as_ref().and_then(|forming| forming.face.as_ref());
        let hand = |triangles: Vec<crate::buck::Triangle>| if other_hand { mirrored_solid(&triangles) } else { triangles };
        if let Some(solid) = buck_solid(shell, &wall, face, buck) {
            add("buck.stl", stl(&hand(solid)))?;
        }
        let openings: Vec<Polyarc> = shell
            .openings
            .iter()
            .filter(|opening| opening.lip.is_none())
            .map(|opening| opening.outline.to_polyarc(CURVE_TO_ARCS))
            .collect();
        if let Some(solid) = formed_solid(shell, &wall, face, &openings) {
            add("formed.stl", stl(&hand(solid)))?;
        }
    }
    Ok(())
}

/// A solid mirrored in x, its surface still facing out.
fn mirrored_solid(triangles: &[crate::buck::Triangle]) -> Vec<crate::buck::Triangle> {
    let flip = |p: [f64; 3]| [-p[0], p[1], p[2]];
    triangles.iter().map(|[a, b, c]| [flip(*a), flip(*c), flip(*b)]).collect()
}

/// The layout of a job on its sheets.
#[derive(Debug, Clone, Default)]
pub struct LaidOut {
    /// The sheets with parts on them.
    pub sheets: Vec<SheetResult>,
    /// Where each part lies.
    pub placements: Vec<PlacementResult>,
    /// What found no place.
    pub unplaced: Vec<UnplacedResult>,
    /// The sheets' files.
    pub files: Vec<Artifact>,
    /// The sheets' drawings, in order.
    pub drawings: Vec<Drawing>,
    /// Kerf, spacing, margin, mm, as used for each material and thickness; the last one for the job's result.
    pub clearances: (f64, f64, f64),
    /// Where the kerf comes from when nobody gave one.
    pub kerf_source: Option<String>,
}

/// One kind of blank to place: which part, which hand.
struct Blank {
    part: usize,
    mirrored: bool,
    /// What is written on it on the sheet.
    name: String,
    drawing: Drawing,
    /// Area as cut, mm².
    area: f64,
}

/// Nests the flats of a job. `made` goes with `job.parts`. Problems are those of the stock or parts that no layout can mend.
pub fn lay_out(job: &Job, made: &[MadePart], options: DxfOptions, watch: &mut dyn Watch) -> Checked<LaidOut> {
    let mut out = LaidOut::default();
    for group in groups(job) {
        lay_out_group(job, made, &group, options, watch, &mut out)?;
    }
    if out.clearances == (0.0, 0.0, 0.0) {
        let thickness = job.parts.first().map_or(Length::from_mm(1.6), |part| part.part.thickness);
        out.clearances = clearances(job, thickness, job.parts.first().map(|part| &part.part), &mut out.kerf_source);
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

/// A sheet fits parts of its own material whose thickness differs by less than a hundredth of a millimetre.
fn same_sheet(group: &(String, Length), material: &str, thickness: Length) -> bool {
    group.0 == material && (group.1.mm() - thickness.mm()).abs() < 0.01
}

fn clearances(job: &Job, thickness: Length, part: Option<&Part>, source: &mut Option<String>) -> (f64, f64, f64) {
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

fn lay_out_group(
    job: &Job,
    made: &[MadePart],
    group: &(String, Length),
    options: DxfOptions,
    watch: &mut dyn Watch,
    out: &mut LaidOut,
) -> Checked<()> {
    let mut blanks = Vec::new();
    let mut pieces = Vec::new();
    for (i, (job_part, made)) in job.parts.iter().zip(made).enumerate() {
        if !same_sheet(group, &job_part.part.material.name, job_part.part.thickness) {
            continue;
        }
        for (mirrored_hand, quantity) in [(false, job_part.quantity), (true, job_part.mirrored)] {
            if quantity == 0 {
                continue;
            }
            let hand = if mirrored_hand { mirrored(made) } else { made.clone() };
            let turns = match &job_part.turns {
                crate::part::Turns::Any => Turns::Any,
                crate::part::Turns::List(list) => Turns::List(list.iter().map(|angle| angle.radians()).collect()),
            };
            pieces.push(Piece {
                shape: shape_of(&hand.flat.outside, &hand.flat.openings, true),
                quantity,
                turns,
                tolerance: 0.0,
            });
            let drawing = blank_drawing(&job_part.part, &hand.flat, hand.stations(), mirrored_hand);
            let other = if mirrored_hand { ", other hand" } else { "" };
            let name = format!("{}{other}", job_part.part.name);
            blanks.push(Blank { part: i, mirrored: mirrored_hand, name, drawing, area: hand.flat.cut_area() });
        }
    }
    let sheets: Vec<&StockSheet> = job.stock.iter().filter(|sheet| same_sheet(group, &sheet.material, sheet.thickness)).collect();
    let any =
        job.parts.iter().find(|part| same_sheet(group, &part.part.material.name, part.part.thickness)).map(|part| &part.part);
    let (kerf, spacing, margin) = clearances(job, group.1, any, &mut out.kerf_source);
    out.clearances = (kerf, spacing, margin);
    let total: usize = pieces.iter().map(|piece| piece.quantity).sum();
    let stock: Vec<Stock> = sheets.iter().map(|sheet| stock_of(sheet, total)).collect();
    if stock.is_empty() {
        for (blank, piece) in blanks.iter().zip(&pieces) {
            let why = format!("the job has no sheet of {} {} mm thick", group.0, crate::units::Digits(group.1.mm(), 3));
            out.unplaced.push(unplaced(job, blank, piece.quantity, why));
        }
        return Ok(());
    }
    let clearance = Clearance { between: kerf + spacing, edge: margin };
    let effort = Effort { seed: job.seed, poses: job.tries, workers: 2 };
    let layout =
        nest(&pieces, &stock, &clearance, &effort, watch).map_err(|refused| vec![refusal(job, &blanks, &sheets, &refused)])?;
    record(job, &blanks, &sheets, &layout, options, out)
}

fn unplaced(job: &Job, blank: &Blank, count: usize, why: String) -> UnplacedResult {
    UnplacedResult { part: job.parts[blank.part].part.name.clone(), mirrored: blank.mirrored, count, why }
}

fn refusal(job: &Job, blanks: &[Blank], sheets: &[&StockSheet], refused: &Refused) -> Problem {
    let place = match refused {
        Refused::Piece { index, .. } => Some(job.parts[blanks[*index].part].place.clone()),
        Refused::Stock { index, .. } => Some(sheets[*index].place.clone()),
        _ => None,
    };
    let problem = Problem::new(Code::DoesNotFit, refused.to_string(), "check the outline and the cutting clearances");
    match place {
        Some(place) => problem.at(place),
        None => problem,
    }
}

fn points(outline: &[Point]) -> Vec<[f64; 2]> {
    outline.iter().map(|p| [p.x, p.y]).collect()
}

/// The polygon of a blank that holds all its metal, or of a sheet that holds no more than its own.
fn shape_of(outside: &Polyarc, openings: &[Polyarc], grow: bool) -> Shape {
    let flattened = |outline: &Polyarc, grow: bool| {
        let flat = if grow { outline.flatten_outside(NEST_CHORD) } else { outline.reversed().flatten_outside(NEST_CHORD) };
        points(&flat)
    };
    Shape { outer: flattened(outside, grow), openings: openings.iter().map(|opening| flattened(opening, !grow)).collect() }
}

fn stock_of(sheet: &StockSheet, total: usize) -> Stock {
    let count = sheet.count.unwrap_or(total.max(1)).min(total.max(1));
    match &sheet.shape {
        StockShape::Sheet(along, across) => Stock::Sheet {
            shape: shape_of(&Polyarc::rectangle(Rect::new(0.0, 0.0, along.mm(), across.mm())), &[], false),
            count,
            price: sheet.price,
            remnant: false,
        },
        StockShape::Remnant(outline, openings) => {
            let openings: Vec<Polyarc> = openings.iter().map(|opening| opening.to_polyarc(CURVE_TO_ARCS)).collect();
            Stock::Sheet {
                shape: shape_of(&outline.sides.to_polyarc(CURVE_TO_ARCS), &openings, false),
                count,
                price: sheet.price,
                remnant: true,
            }
        }
        StockShape::Roll(width) => Stock::Roll { width: width.mm() },
    }
}

/// The stock's edge as it is drawn; a roll as long as it is used.
fn edges(sheet: &StockSheet, length: f64) -> Vec<Polyarc> {
    match &sheet.shape {
        StockShape::Sheet(along, across) => vec![Polyarc::rectangle(Rect::new(0.0, 0.0, along.mm(), across.mm()))],
        StockShape::Remnant(outline, openings) => std::iter::once(outline.sides.to_polyarc(CURVE_TO_ARCS))
            .chain(openings.iter().map(|opening| opening.to_polyarc(CURVE_TO_ARCS)))
            .collect(),
        StockShape::Roll(width) => vec![Polyarc::rectangle(Rect::new(0.0, 0.0, length, width.mm()))],
    }
}

fn record(
    job: &Job,
    blanks: &[Blank],
    sheets: &[&StockSheet],
    layout: &Layout,
    options: DxfOptions,
    out: &mut LaidOut,
) -> Checked<()> {
    for used in &layout.sheets {
        let sheet = sheets[used.stock];
        let name = format!("sheet-{}", out.sheets.len() + 1);
        let is_roll = matches!(sheet.shape, StockShape::Roll(_));
        let edge = edges(sheet, used.length);
        let stock_area = edge[0].area() - edge[1..].iter().map(|opening| opening.area().abs()).sum::<f64>();
        let area: f64 = used.placements.iter().map(|placement| blanks[placement.piece].area).sum();
        let share = area / stock_area;
        let placed: Vec<PlacedBlank> = used
            .placements
            .iter()
            .map(|placement| PlacedBlank {
                blank: &blanks[placement.piece].drawing,
                name: &blanks[placement.piece].name,
                motion: motion(placement),
            })
            .collect();
        let drawing = sheet_drawing(&name, &edge, &placed, share);
        let refuse =
            |problem: WriteProblem| vec![Problem::new(Code::OutOfRange, problem.to_string(), "check the sizes of the parts")];
        out.files.push(Artifact { name: format!("sheets/{name}.svg"), bytes: svg(&drawing).map_err(refuse)? });
        out.files.push(Artifact { name: format!("sheets/{name}.dxf"), bytes: dxf(&drawing, options).map_err(refuse)? });
        out.drawings.push(drawing);
        out.placements.extend(used.placements.iter().map(|placement| {
            let blank = &blanks[placement.piece];
            PlacementResult {
                part: job.parts[blank.part].part.name.clone(),
                sheet: name.clone(),
                x_mm: placement.x,
                y_mm: placement.y,
                angle_deg: placement.angle.to_degrees(),
                mirrored: blank.mirrored,
            }
        }));
        out.sheets.push(SheetResult {
            name,
            material: sheet.material.clone(),
            thickness_mm: sheet.thickness.mm(),
            used: share,
            parts: used.placements.len(),
            length_mm: is_roll.then_some(used.length),
            price: sheet.price,
        });
    }
    out.unplaced.extend(layout.unplaced.iter().map(|left| unplaced(job, &blanks[left.piece], left.count, left.why.to_string())));
    Ok(())
}

/// How a placement moves its blank. A mirrored blank is drawn as the other hand already.
fn motion(placement: &Placement) -> Affine {
    Affine::translate((placement.x, placement.y)) * Affine::rotate(placement.angle)
}
