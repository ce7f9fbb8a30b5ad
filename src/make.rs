//! The flow from parts to files: each function takes what the description says and gives what is to
//! be written.
//!
//! | function | steps |
//! |---|---|
//! | [`make_part`] | flatten, work out buck and bends, check, cut sections |
//! | [`make_or_buck`] | the same, or the buck alone where a shell has no blank |
//! | [`part_files`], [`buck_alone_files`] | draw and write what was made of a part |
//! | [`job_templates`] | print the templates of all parts of a job |
//! | [`lay_out`] | nest the flats of a job, plan the cuts of its sheets, draw and write them |

mod figures;
mod last_sheet;
mod sheets;
mod stock;
mod templates;
mod test_pieces;

pub use sheets::{LaidOut, lay_out};
pub use templates::job_templates;

use self::figures::{contradictions, sound};
use self::templates::{TEMPLATES, templates_pdf, whole_templates};
use crate::bending::{Bending, fold_marks, plan_bending};
use crate::buck::{BuckSet, Station, buck_of, buck_solid, buck_without_blank, formed_solid};
use crate::check::{
    check, check_buck, check_pair, check_without_blank, crown_with_a_blank, name_lower_walls,
    no_blank,
};
use crate::drawing::{
    Print, Template, bend_order_page, blank_drawing, buck_drawing, dimensioned_drawing, metal_maps,
    templates_of,
};
use crate::finding::Finding;
use crate::flat::half_shell::{open_corners, wall_of};
use crate::flat::{Flat, flatten};
use crate::formats::{DxfOptions, WriteProblem, dxf, page_svg, picture_pdf, stl, svg};
use crate::formed::{SheetMesh, SpaceTriangle};
use crate::geom::{OTHER_HAND, Point, Polyarc, prism};
use crate::part::{HalfShell, Part};
use crate::problem::{Checked, Code, Problem};
use crate::report::{Caution, caution_words, cautions_of};
use crate::section::{Hollow, hollow_of};
use crate::shell::FormedFace;
use crate::tolerance::CURVE_TO_ARCS;
use crate::units::Length;

/// A file to be written.
#[derive(Debug, Clone)]
pub struct Artifact {
    /// Its name below the output folder, with `/` between folders.
    pub name: String,
    /// What is in it.
    pub bytes: Vec<u8>,
}

/// How a part's files are written.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FileOptions {
    /// Its DXF files.
    pub dxf: DxfOptions,
    /// Its templates on paper.
    pub print: Print,
}

/// Which of a part's files are wanted; its templates always are, all of them.
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
    /// Whether the maps of its metal agree with its blank and may be shown.
    pub maps: bool,
}

impl MadePart {
    /// The same of the other hand. A pair is one thing, whichever half it is told of.
    #[must_use]
    pub fn other_hand(&self) -> Self {
        Self {
            flat: self.flat.other_hand(),
            buck: self.buck.as_ref().map(BuckSet::other_hand),
            ..self.clone()
        }
    }

    /// With what to do about edges beyond their limits worked out by solves of their own, which
    /// take several times as long as the part.
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

/// A half-shell for whose walls no blank was found; it can be hammered all the same, and the blank
/// found by trial on its buck.
#[derive(Debug, Clone)]
pub struct BuckAlone {
    /// Its buck.
    pub buck: BuckSet,
    /// Its face where that is not level.
    pub face: Option<FormedFace>,
    /// Why it has no blank, and the rules that apply without one.
    pub findings: Vec<Finding>,
}

/// What came of a part.
#[derive(Debug, Clone)]
pub enum Made {
    /// All of it.
    Part(Box<MadePart>),
    /// No blank.
    BuckAlone(Box<BuckAlone>),
}

impl Made {
    /// The part with its blank.
    #[must_use]
    pub const fn part(&self) -> Option<&MadePart> {
        match self {
            Self::Part(made) => Some(made),
            Self::BuckAlone(_) => None,
        }
    }

    /// Its buck, for half-shells.
    #[must_use]
    pub const fn buck(&self) -> Option<&BuckSet> {
        match self {
            Self::Part(made) => made.buck.as_ref(),
            Self::BuckAlone(made) => Some(&made.buck),
        }
    }

    /// Every rule that applies.
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        match self {
            Self::Part(made) => &made.findings,
            Self::BuckAlone(made) => &made.findings,
        }
    }
}

/// As [`make_part`], with the buck alone where no blank was found; with what to do about edges
/// beyond their limits worked out by solves of their own.
pub fn make_or_buck(part: &Part) -> Checked<Made> {
    match (make_part(part), part.kind.half_shell()) {
        (Ok(made), _) => Ok(Made::Part(Box::new(made.with_lower_walls(part)))),
        (Err(problems), Some(shell))
            if problems.iter().all(|problem| problem.code == Code::NoBlank) =>
        {
            let (buck, face) = buck_without_blank(part, shell)?;
            let mut findings: Vec<Finding> =
                problems.into_iter().map(|problem| no_blank(part, shell, problem)).collect();
            findings.extend(check_without_blank(part));
            findings.extend(check_buck(part, shell, &buck));
            Ok(Made::BuckAlone(Box::new(BuckAlone { buck, face, findings })))
        }
        (Err(mut problems), Some(shell)) if shell.crown > Length::ZERO => {
            if let Some(crown) = crown_with_a_blank(part, shell) {
                let tried = format!(
                    "; a crown of {} has a blank, by a solve of its own",
                    part.unit.show(crown)
                );
                for problem in &mut problems {
                    problem.help.push_str(&tried);
                }
            }
            Err(problems)
        }
        (Err(problems), _) => Err(problems),
    }
}

/// Lays a part flat, checks it, finds its buck, and what a pair of it makes. A half-shell without a
/// blank is refused with [`Code::NoBlank`].
pub fn make_part(part: &Part) -> Checked<MadePart> {
    let mut flat = flatten(part)?;
    let buck = buck_of(part, &flat)?;
    let bending = plan_bending(part, &flat);
    flat.fold_marks = bending.iter().flat_map(|bending| fold_marks(&flat, bending)).collect();
    let mut findings = check(part, &flat, bending.as_ref());
    if let (Some(shell), Some(buck)) = (part.kind.half_shell(), &buck) {
        findings.extend(check_buck(part, shell, buck));
    }
    let mut hollow = hollow_of(part, &flat, buck.as_ref().map_or(&[], |buck| &buck.stations))?;
    if let (Some(shell), Some(_)) = (part.kind.half_shell(), &hollow) {
        findings.push(check_pair(part, shell));
    }
    let contradictions = contradictions(part, &flat, hollow.as_mut());
    findings.extend(contradictions.findings);
    Ok(MadePart { flat, bending, buck, hollow, findings, maps: !contradictions.maps })
}

/// The files of a half-shell without a blank, in its own folder; with `other_hand` also those of
/// the other hand.
pub fn buck_alone_files(
    part: &Part,
    made: &BuckAlone,
    other_hand: bool,
    options: FileOptions,
) -> Checked<Vec<Artifact>> {
    let Some(shell) = part.kind.half_shell() else { return Ok(Vec::new()) };
    let mut files = Files::of(part, &cautions_of(part, None, None, &made.findings));
    let corners = open_corners(shell, None);
    let face = made.face.as_ref();
    let hands: &[bool] = if other_hand { &[false, true] } else { &[false] };
    for other_hand in hands {
        files.other_hand = *other_hand;
        let buck = if *other_hand { made.buck.other_hand() } else { made.buck.clone() };
        let formed = formed_shell(&files, shell, face, &corners)?;
        buck_files(shell, (&buck, face), formed.as_deref(), options.dxf, &mut files)?;
        files.add_templates(&templates_of(part, None, Some(&buck), *other_hand), options)?;
    }
    Ok(files.written)
}

/// The files of a part, in its own folder; with `other_hand` also those of the other hand, in the
/// folder beside it.
pub fn part_files(
    part: &Part,
    made: &MadePart,
    wanted: Wanted,
    other_hand: bool,
    options: FileOptions,
) -> Checked<Vec<Artifact>> {
    let cautions = cautions_of(part, Some(&made.flat), made.bending.as_ref(), &made.findings);
    let mut files = Files::of(part, &cautions);
    hand_files(made, wanted, options, &mut files)?;
    if other_hand {
        let mut other = made.other_hand();
        other.bending = plan_bending(part, &other.flat);
        files.other_hand = true;
        hand_files(&other, wanted, options, &mut files)?;
    }
    Ok(files.written)
}

/// The files of one part and hand as they come.
struct Files<'a> {
    part: &'a Part,
    /// The cautions in a line, which stand on its drawings.
    take_care: String,
    other_hand: bool,
    written: Vec<Artifact>,
}

impl<'a> Files<'a> {
    fn of(part: &'a Part, cautions: &[Caution]) -> Self {
        let take_care = format!("Take care: {}.", caution_words(cautions));
        Self { part, take_care, other_hand: false, written: Vec::new() }
    }

    fn add(&mut self, name: &str, bytes: Result<Vec<u8>, WriteProblem>) -> Checked<()> {
        let hand = if self.other_hand { "-other-hand" } else { "" };
        let name = format!("{}{hand}/{name}", self.part.file_name);
        let bytes = bytes.map_err(|problem| {
            vec![
                Problem::new(Code::OutOfRange, problem.to_string(), "check the sizes of this part")
                    .at(self.part.place.clone()),
            ]
        })?;
        self.written.push(Artifact { name, bytes });
        Ok(())
    }

    fn add_templates(&mut self, templates: &[Template], options: FileOptions) -> Checked<()> {
        let (part, unit) = (self.part, self.part.unit);
        let bytes = templates_pdf(&part.name, &self.take_care, templates, (options, unit))?;
        self.add(TEMPLATES, Ok(bytes))
    }
}

fn hand_files(
    made: &MadePart,
    wanted: Wanted,
    options: FileOptions,
    files: &mut Files,
) -> Checked<()> {
    let (part, other_hand) = (files.part, files.other_hand);
    let forming = made.flat.forming.as_ref();
    let face = forming.and_then(|forming| forming.face.as_ref());
    let solid = match part.kind.half_shell() {
        Some(shell) => {
            // Those of the other hand's blank are mirrored; the profile is not.
            let hand = |at: Point| if other_hand { OTHER_HAND * at } else { at };
            let corners: Vec<Point> = open_corners(shell, forming).into_iter().map(hand).collect();
            formed_shell(files, shell, face, &corners)?
        }
        None => folded_sheet(part, &made.flat),
    };
    if wanted != Wanted::Bucks {
        let mut blank = blank_drawing(part, &made.flat, made.stations(), other_hand);
        blank.captions.push(files.take_care.clone());
        sound(part, &blank)?;
        files.add("blank.svg", svg(&blank))?;
        files.add("blank.dxf", dxf(&blank, options.dxf))?;
        let solid = solid.as_deref().unwrap_or_default();
        let sizes = dimensioned_drawing(part, &made.flat, solid, &files.take_care, other_hand);
        files.add("drawing.svg", page_svg(&sizes))?;
        files.add("drawing.pdf", picture_pdf(&sizes))?;
        if let Some(page) = made.bending.as_ref().and_then(|bending| {
            bend_order_page(part, &made.flat, bending, Some(&files.take_care), other_hand)
        }) {
            files.add("bend-order.svg", page_svg(&page))?;
        }
        if made.maps
            && let Some(maps) = metal_maps(part, &made.flat, other_hand)
        {
            files.add("strain.svg", page_svg(&maps.strain))?;
            files.add("thickness.svg", page_svg(&maps.thickness))?;
        }
        if made.flat.tree.is_some() && !solid.is_empty() {
            files.add("formed.stl", stl(solid))?;
        }
    }
    if let (Some(shell), Some(buck)) = (part.kind.half_shell(), &made.buck)
        && wanted != Wanted::Blanks
    {
        buck_files(shell, (buck, face), solid.as_deref(), options.dxf, files)?;
    }
    files.add_templates(&whole_templates(part, made, other_hand), options)
}

/// The solid of a part that is bent, or stays flat; none where its outlines cross.
fn folded_sheet(part: &Part, flat: &Flat) -> Option<Vec<SpaceTriangle>> {
    let Some(tree) = &flat.tree else {
        return prism(&flat.net, &flat.openings, (0.0, part.thickness.mm()), CURVE_TO_ARCS);
    };
    let mesh = SheetMesh::new(tree, &flat.outside, &flat.openings)?;
    Some(mesh.surface(&tree.folded()).into_iter().map(|(triangle, _)| triangle).collect())
}

/// The solid of a half-shell, of the hand of `files`; at `corners` of the profile as described its
/// walls stay apart.
fn formed_shell(
    files: &Files,
    shell: &HalfShell,
    face: Option<&FormedFace>,
    corners: &[Point],
) -> Checked<Option<Vec<SpaceTriangle>>> {
    let wall = wall_of(files.part, shell).map_err(|problem| vec![problem])?;
    let openings: Vec<Polyarc> = shell
        .openings
        .iter()
        .filter(|opening| opening.lip.is_none())
        .map(|opening| opening.outline.to_polyarc(CURVE_TO_ARCS))
        .collect();
    let solid = formed_solid(shell, &wall, face.map(FormedFace::finished), &openings, corners);
    Ok(solid.map(|solid| if files.other_hand { mirrored_solid(&solid) } else { solid }))
}

/// The buck and what is hammered over it.
fn buck_files(
    shell: &HalfShell,
    (buck, face): (&BuckSet, Option<&FormedFace>),
    formed: Option<&[SpaceTriangle]>,
    options: DxfOptions,
    files: &mut Files,
) -> Checked<()> {
    let mut drawing = buck_drawing(files.part, buck, files.other_hand);
    drawing.captions.push(files.take_care.clone());
    sound(files.part, &drawing)?;
    files.add("buck.svg", svg(&drawing))?;
    files.add("buck.dxf", dxf(&drawing, options))?;
    let wall = wall_of(files.part, shell).map_err(|problem| vec![problem])?;
    if let Some(solid) = buck_solid(&shell.as_hammered(), &wall, face, buck) {
        let solid = if files.other_hand { mirrored_solid(&solid) } else { solid };
        files.add("buck.stl", stl(&solid))?;
    }
    if let Some(solid) = formed {
        files.add("formed.stl", stl(solid))?;
    }
    Ok(())
}

/// A solid mirrored in x, its surface still facing out.
fn mirrored_solid(triangles: &[SpaceTriangle]) -> Vec<SpaceTriangle> {
    let flip = |p: [f64; 3]| [-p[0], p[1], p[2]];
    triangles.iter().map(|[a, b, c]| [flip(*a), flip(*c), flip(*b)]).collect()
}
