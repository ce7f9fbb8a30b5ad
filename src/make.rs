//! The flow from parts to files: each function takes what the description says and gives what is to be written.
//!
//! | function | steps |
//! |---|---|
//! | [`make_part`] | flatten, check, buck, section, draw, write |
//! | [`lay_out`] | nest the flats of a job, plan the cuts of its sheets, draw and write them |

mod findings;
mod last_sheet;
mod sheets;
mod stock;
mod tabs;
mod test_pieces;

pub use sheets::{LaidOut, lay_out};
pub use tabs::tab_findings;

use crate::bending::{Bending, fold_marks, plan_bending};
use crate::buck::{BuckSet, OnPlate, Station, buck_of, buck_solid, formed_solid};
use crate::check::{check, name_lower_walls};
use crate::drawing::{bend_order_page, blank_drawing, buck_drawing, metal_maps};
use crate::flat::half_shell::wall_of;
use crate::flat::{Finding, Flat, flatten};
use crate::formed::{SheetMesh, SpaceTriangle};
use crate::geom::{Affine, Polyarc};
use crate::part::{Kind, Part};
use crate::problem::{Checked, Code, Problem};
use crate::section::{Hollow, hollow_of};
use crate::tolerance::CURVE_TO_ARCS;
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
    /// With what to do about edges beyond their limits worked out by solves of their own, which take several times as long as the part.
    #[must_use]
    pub fn with_lower_walls(mut self, part: &Part) -> Self {
        name_lower_walls(part, &self.flat, &mut self.findings);
        self
    }

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
