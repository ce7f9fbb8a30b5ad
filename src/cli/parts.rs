//! The commands on parts: flat, buck, check.

use std::fmt::Write as _;
use std::path::Path;
use std::sync::Arc;

use serde::Serialize;

use super::arguments::PartArguments;
use super::files::{Disk, description, remove_old_blanks, shop, write};
use super::output::{Done, Output};
use crate::bending::ANGLES_FROM_FLAT;
use crate::check::check_tabs;
use crate::describe::{FileKind, kind_of_file, read_job, read_part};
use crate::drawing::{bend_words, height_words, trim_words};
use crate::finding::Grade;
use crate::geom::Rect;
use crate::make::{Artifact, Made, Wanted, buck_alone_files, make_or_buck, part_files};
use crate::part::{Part, Shop};
use crate::problem::{Checked, Code, Problem};
use crate::report::{
    Caution, CautionResult, FindingResult, HollowResult, PartResult, caution_words, cautions_of,
    finding_result, job_finding_result, joined_cautions, part_result,
};
use crate::units::{Digits, Length, counted};

/// The parts of all files, each once made; problems of all files together.
fn read_parts(arguments: &PartArguments) -> Checked<Vec<(Part, Made)>> {
    let shop = shop(arguments.shop.as_deref())?;
    let (mut parts, mut problems): (Vec<(Part, Made)>, Vec<Problem>) = (Vec::new(), Vec::new());
    for path in &arguments.files {
        let made =
            read(path, shop.as_ref()).and_then(|part| make_or_buck(&part).map(|made| (part, made)));
        match made {
            Ok((part, _)) if parts.iter().any(|(other, _)| other.file_name == part.file_name) => {
                let message =
                    format!("two of these parts would be written to `{}/`", part.file_name);
                problems.push(
                    Problem::new(Code::DuplicateName, message, "give each part a name of its own")
                        .at(part.place.clone()),
                );
            }
            Ok(made) => parts.push(made),
            Err(more) => problems.extend(more),
        }
    }
    if problems.is_empty() { Ok(parts) } else { Err(problems) }
}

fn read(path: &Path, shop: Option<&Arc<Shop>>) -> Checked<Part> {
    let (name, bytes) = description(path).map_err(|problem| vec![problem])?;
    read_part(&name, bytes, shop, &Disk)
}

pub(super) fn flat(arguments: &PartArguments, output: &Output) -> Checked<Done> {
    make(arguments, output, Wanted::Blanks)
}

pub(super) fn buck(arguments: &PartArguments, output: &Output) -> Checked<Done> {
    make(arguments, output, Wanted::Bucks)
}

fn make(arguments: &PartArguments, output: &Output, wanted: Wanted) -> Checked<Done> {
    let parts = read_parts(arguments)?;
    let mut all: Vec<Artifact> = Vec::new();
    let mut results = Vec::new();
    for (part, made) in &parts {
        if wanted == Wanted::Bucks && made.buck().is_none() {
            let message = format!("`{}` is a {}, which needs no buck", part.name, part.kind.name());
            return Err(vec![
                Problem::new(Code::Choice, message, "a buck is made for a half_shell")
                    .at(part.place.clone()),
            ]);
        }
        let options = arguments.writing.options();
        let files = match made {
            Made::Part(made) => part_files(part, made, wanted, false, options)?,
            Made::BuckAlone(_) if wanted == Wanted::Blanks => Vec::new(),
            Made::BuckAlone(made) => buck_alone_files(part, made, false, options)?,
        };
        let names = files
            .iter()
            .map(|file| arguments.common.out.join(&file.name).display().to_string())
            .collect();
        results.push(result_of(part, made, names));
        all.extend(files);
    }
    write(&arguments.common.out, &all)?;
    for (part, made) in &parts {
        remove_old_blanks(&arguments.common.out, part, made, &all);
    }
    let text = || {
        let parts_text: String = parts
            .iter()
            .zip(&results)
            .map(|((part, made), result)| summary(part, made, result))
            .collect();
        let cautions = joined_cautions(parts.iter().map(|(part, made)| cautions(part, made)));
        format!("{parts_text}take care: {}\n", caution_words(&cautions))
    };
    output.results(&results, text)?;
    let whole = parts.iter().all(|(_, made)| made.part().is_some());
    Ok(if whole { Done::Well } else { Done::Short })
}

/// A part's result; `files` are the names written for it.
pub(super) fn result_of(part: &Part, made: &Made, files: Vec<String>) -> PartResult {
    let whole = made.part();
    let laid = (whole.map(|made| &made.flat), whole.and_then(|made| made.bending.as_ref()));
    part_result(part, laid, whole.and_then(|made| made.hollow.as_ref()), made.findings(), files)
}

/// The cautions that a part calls for.
pub(super) fn cautions(part: &Part, made: &Made) -> Vec<Caution> {
    let whole = made.part();
    cautions_of(
        part,
        whole.map(|made| &made.flat),
        whole.and_then(|made| made.bending.as_ref()),
        made.findings(),
    )
}

/// A part's result in words.
pub(super) fn summary(part: &Part, made: &Made, result: &PartResult) -> String {
    let mut text = String::new();
    let size = |bounds: Rect| part.unit.brief_size(bounds.width(), bounds.height());
    let _ =
        writeln!(text, "{} ({} {})", part.name, part.material.name, part.unit.show(part.thickness));
    if let (Some(whole), Some(blank), Some(mass)) = (made.part(), &result.blank, result.mass_kg) {
        let _ = writeln!(
            text,
            "  cut size {}{}, {} of cut, {}; finished part {} kg",
            size(whole.flat.outside.bounds()),
            trim_words(part),
            part.unit.brief(Length::from_mm(blank.cut_length_mm), 1),
            counted(blank.openings, "opening"),
            Digits(mass, 3)
        );
    }
    for bend in made.part().iter().flat_map(|made| &made.flat.bends) {
        let developed = &bend.developed;
        let _ = writeln!(
            text,
            "  {}; K {}, allowance {}, deduction {}",
            bend_words(bend, part.unit),
            Digits(developed.k_factor, 4),
            part.unit.brief(developed.allowance, 3),
            part.unit.brief(developed.deduction, 3)
        );
    }
    if result.bend_order.iter().flatten().next().is_some() {
        let _ = writeln!(text, "  {ANGLES_FROM_FLAT}");
    }
    for step in result.bend_order.iter().flatten() {
        let words = &step.words;
        let _ = writeln!(
            text,
            "  step {}: {}: {}; {}; {}; {}",
            step.step, words.what, words.set, words.gauge, words.handling, words.tools
        );
    }
    if let Some(forming) = &result.forming {
        let _ = writeln!(text, "  {}", forming.words());
        for weld in &forming.corner_welds {
            let _ = writeln!(text, "  {}", weld.words());
        }
    }
    if let Some(buck) = made.buck() {
        let _ = writeln!(
            text,
            "  buck {}, {}; edge radius {}, undercut {}°{}",
            size(buck.outline.bounds()),
            height_words(part.unit, buck),
            part.unit.brief(Length::from_mm(buck.edge_radius), 2),
            Digits(buck.undercut.degrees(), 2),
            buck.undercut_range.map_or_else(String::new, |[low, high]| {
                format!(" ({} to {}°)", Digits(low.degrees(), 1), Digits(high.degrees(), 1))
            })
        );
    }
    if let Some(hollow) = &result.hollow {
        hollow_summary(&mut text, hollow);
    }
    for assumed in &result.assumed {
        let _ = writeln!(text, "  assumed: {} = {} ({})", assumed.key, assumed.value, assumed.why);
    }
    for warning in &result.warnings {
        let help =
            if warning.help.is_empty() { String::new() } else { format!("; {}", warning.help) };
        let _ = writeln!(
            text,
            "  {}, {}: {}{help}",
            warning.grade.text(),
            warning.code.words(),
            warning.message
        );
    }
    for file in &result.files {
        let _ = writeln!(text, "  wrote {file}");
    }
    text
}

/// What a pair makes, in words: its contents and its section least stiff in torsion; the others
/// stand in the JSON and in the report.
fn hollow_summary(text: &mut String, hollow: &HollowResult) {
    if let (Some(inside), Some(outside), Some([least, most])) =
        (hollow.volume_l, hollow.outside_volume_l, hollow.oil_fill_l)
    {
        let _ = writeln!(
            text,
            "  pair: {} litres inside, {} outside; as an oil tank fill {} to {}, less baffles and tubes",
            Digits(inside, 3),
            Digits(outside, 3),
            Digits(least, 2),
            Digits(most, 2)
        );
    }
    let seams: Vec<String> = hollow
        .seams
        .iter()
        .map(|seam| format!("{} {}", seam.along, Digits(seam.length_mm, 1)))
        .collect();
    let _ = writeln!(
        text,
        "  pair: {} kg; {} mm of weld ({})",
        Digits(hollow.pair_mass_kg, 3),
        Digits(hollow.seam_length_mm, 1),
        seams.join("; ")
    );
    if let Some(section) = hollow.section.iter().min_by(|a, b| a.j_mm4.total_cmp(&b.j_mm4)) {
        let tube = section
            .same_j_tube_od_mm
            .map(|od| format!(" (as a {} mm round tube of this sheet)", Digits(od, 1)))
            .unwrap_or_default();
        let _ = writeln!(
            text,
            "  pair: of {} sections the least stiff in torsion is {}: J {} mm4{tube}, Iyy {} mm4, Izz {} mm4, area {} mm2",
            hollow.section.len(),
            section.station,
            Digits(section.j_mm4, 0),
            Digits(section.iyy_mm4, 0),
            Digits(section.izz_mm4, 0),
            Digits(section.area_mm2, 1)
        );
    }
    for note in &hollow.section_notes {
        let _ = writeln!(text, "  note: {note}");
    }
}

#[derive(Serialize)]
struct Checks {
    findings: Vec<FindingResult>,
    cautions: Vec<CautionResult>,
}

pub(super) fn check(arguments: &PartArguments, output: &Output) -> Checked<Done> {
    let shop = shop(arguments.shop.as_deref())?;
    let (mut findings, mut cautions, mut problems) = (Vec::new(), Vec::new(), Vec::new());
    for path in &arguments.files {
        match check_file(path, shop.as_ref(), &mut cautions) {
            Ok(more) => findings.extend(more),
            Err(more) => problems.extend(more),
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let all_ok = findings.iter().all(|finding: &FindingResult| finding.ok);
    let cautions = joined_cautions(cautions);
    let checks = Checks { findings, cautions: cautions.iter().map(CautionResult::from).collect() };
    output.results(&checks, || {
        format!("{}take care: {}\n", check_table(&checks.findings), caution_words(&cautions))
    })?;
    Ok(if all_ok { Done::Well } else { Done::Short })
}

/// The findings of a part or of every part of a job; their cautions are added to `cautions`.
fn check_file(
    path: &Path,
    shop: Option<&Arc<Shop>>,
    cautions: &mut Vec<Vec<Caution>>,
) -> Checked<Vec<FindingResult>> {
    let (name, bytes) = description(path).map_err(|problem| vec![problem])?;
    let mut findings = Vec::new();
    let parts = if kind_of_file(&bytes) == FileKind::Job {
        let job = read_job(&name, bytes, shop, &Disk)?;
        findings.extend(check_tabs(&job).iter().map(|found| job_finding_result(found, job.unit)));
        job.parts.into_iter().map(|part| part.part).collect()
    } else {
        vec![read_part(&name, bytes, shop, &Disk)?]
    };
    for part in parts {
        let made = make_or_buck(&part)?;
        cautions.push(self::cautions(&part, &made));
        findings.extend(
            made.findings().iter().map(|finding| finding_result(&part.name, finding, part.unit)),
        );
    }
    Ok(findings)
}

/// The findings in words, and how many there are of each grade.
fn check_table(findings: &[FindingResult]) -> String {
    let mut text = String::new();
    for finding in findings {
        let figures = Some(finding.figures())
            .filter(|figures| !figures.is_empty())
            .map(|figures| format!(": {figures}"));
        let _ = writeln!(
            text,
            "{:<6}  {}, {}{}\n        {}",
            finding.grade.text(),
            finding.part,
            finding.rule.words(),
            figures.unwrap_or_default(),
            finding.message
        );
        if !finding.remedy.is_empty() {
            let _ = writeln!(text, "        {}", finding.remedy);
        }
        let _ = writeln!(text, "        {} ({})", finding.source, finding.place);
    }
    let count = |grade: Grade| findings.iter().filter(|finding| finding.grade == grade).count();
    let _ = writeln!(
        text,
        "{}: {} within, {} to take care with, {} over",
        counted(findings.len(), "finding"),
        count(Grade::Within),
        count(Grade::Care),
        count(Grade::Over)
    );
    text
}
