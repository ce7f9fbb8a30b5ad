//! The commands on jobs: make, nest.

use std::fmt::Write as _;

use super::arguments::JobArguments;
use super::files::{Disk, description, remove_old_blanks, remove_old_sheets, shop, write};
use super::interrupt;
use super::output::{Done, Output};
use super::parts::{result_of, summary};
use crate::buck::BuckSet;
use crate::describe::read_job;
use crate::drawing::{bend_order_page, blank_drawing, buck_drawing, metal_maps, seen_face};
use crate::finding::Grade;
use crate::formats::{page_svg_element, svg_picture};
use crate::make::{
    Artifact, LaidOut, Made, Wanted, buck_alone_files, job_templates, lay_out, make_or_buck,
    part_files,
};
use crate::page::{Drawing, Picture};
use crate::part::Job;
use crate::problem::Checked;
use crate::report::{
    AssumedResult, Caution, CautionResult, JobResult, PartResult, Pictures, caution_words,
    cutting_words, finding_result, html, job_finding_result, joined_cautions, kerf_words,
};
use crate::units::{Digits, Length, counted};

/// A job read and its parts made.
fn read(arguments: &JobArguments) -> Checked<(Job, Vec<Made>)> {
    let shop = shop(arguments.shop.as_deref())?;
    let (name, bytes) = description(&arguments.file).map_err(|problem| vec![problem])?;
    let job = read_job(&name, bytes, shop.as_ref(), &Disk)?;
    let (mut made, mut problems) = (Vec::new(), Vec::new());
    for part in &job.parts {
        match make_or_buck(&part.part) {
            Ok(one) => made.push(one),
            Err(more) => problems.extend(more),
        }
    }
    if problems.is_empty() { Ok((job, made)) } else { Err(problems) }
}

pub(super) fn make(arguments: &JobArguments, output: &Output) -> Checked<Done> {
    finish(arguments, output, true)
}

pub(super) fn nest_alone(arguments: &JobArguments, output: &Output) -> Checked<Done> {
    finish(arguments, output, false)
}

fn finish(arguments: &JobArguments, output: &Output, everything: bool) -> Checked<Done> {
    let (job, made) = read(arguments)?;
    let options = arguments.writing.options();
    let mut files = Vec::new();
    let mut parts = Vec::new();
    for (job_part, made) in job.parts.iter().zip(&made) {
        let (part, other_hand) = (&job_part.part, job_part.mirrored > 0);
        let own = match made {
            _ if !everything => Vec::new(),
            Made::Part(made) => part_files(part, made, Wanted::All, other_hand, options)?,
            Made::BuckAlone(made) => buck_alone_files(part, made, other_hand, options)?,
        };
        let names = own.iter().map(|file| file.name.clone()).collect();
        parts.push(result_of(part, made, names));
        files.extend(own);
    }
    if everything {
        files.push(job_templates(&job, &made, options)?);
    }
    let laid_out = {
        let mut watch = output.nest_watch(job.nesting_s);
        lay_out(&job, &made, options.dxf, &mut watch)?
    };
    let stopped = interrupt::asked();
    files.extend(laid_out.files.iter().cloned());
    let mut result = job_result(&job, &made, parts, &laid_out);
    result.stopped = stopped;
    if everything {
        result.files.extend(files.iter().map(|file| file.name.clone()));
        result.files.extend(["job.json", "report.html"].map(str::to_owned));
        let page = html(&result, &pictures(&job, &made, &laid_out));
        let json = serde_json::to_string_pretty(&result).unwrap_or_default() + "\n";
        files.push(Artifact { name: "job.json".to_owned(), bytes: json.into_bytes() });
        files.push(Artifact { name: "report.html".to_owned(), bytes: page });
    } else {
        result.files.extend(files.iter().map(|file| file.name.clone()));
    }
    let folder = arguments.common.out.join(&job.file_name);
    write(&folder, &files)?;
    remove_old_sheets(&folder, &files);
    for (job_part, made) in job.parts.iter().zip(&made) {
        remove_old_blanks(&folder, &job_part.part, made, &files);
    }
    output.results(&result, || job_summary(&job, &made, &result, everything))?;
    if stopped {
        output.message("stopped by Ctrl-C: the best layout found until then is written");
    }
    output.message(&format!("wrote {} to {}", counted(files.len(), "file"), folder.display()));
    Ok(if result.unplaced.is_empty() { Done::Well } else { Done::Short })
}

fn job_result(job: &Job, made: &[Made], parts: Vec<PartResult>, laid_out: &LaidOut) -> JobResult {
    let of_parts = job.parts.iter().zip(made).flat_map(|(part, made)| {
        made.findings()
            .iter()
            .map(|finding| finding_result(&part.part.name, finding, part.part.unit))
    });
    let findings = of_parts
        .chain(laid_out.findings.iter().map(|found| job_finding_result(found, job.unit)))
        .collect();
    let copies = |i: usize| (job.parts[i].quantity + job.parts[i].mirrored) as f64;
    let cuts = || laid_out.sheets.iter().map(|sheet| &sheet.cutting);
    let cut_length_mm: f64 = cuts().map(|cutting| cutting.cut_length_mm).sum();
    let pierces: usize = cuts().map(|cutting| cutting.pierces).sum();
    let mass_kg =
        parts.iter().enumerate().map(|(i, part)| part.mass_kg.unwrap_or(0.0) * copies(i)).sum();
    let (kerf_mm, spacing_mm, margin_mm) = laid_out.clearances;
    let mut assumed: Vec<AssumedResult> = job.assumed.iter().map(AssumedResult::from).collect();
    let mut assume = |given: bool, key: &str, mm: f64, why: &str| {
        if !given {
            assumed.push(AssumedResult {
                key: key.to_owned(),
                value: job.unit.show(Length::from_mm(mm)),
                why: why.to_owned(),
            });
        }
    };
    assume(
        job.cutting.kerf.is_some(),
        "cutting.kerf",
        kerf_mm,
        laid_out.kerf_source.as_deref().unwrap_or("common practice, no source"),
    );
    assume(
        job.cutting.spacing.is_some(),
        "cutting.spacing",
        spacing_mm,
        "common practice, no source",
    );
    assume(
        job.cutting.margin.is_some(),
        "cutting.margin",
        margin_mm,
        "common practice, no source: 8 to 10 mm",
    );
    let cut_time_s =
        job.cutting.feed_mm_per_min.map(|_| cuts().filter_map(|cutting| cutting.cut_time_s).sum());
    JobResult {
        job: job.name.clone(),
        parts,
        sheets: laid_out.sheets.clone(),
        placements: laid_out.placements.clone(),
        unplaced: laid_out.unplaced.clone(),
        stopped: false,
        test_pieces: laid_out.test_pieces.clone(),
        findings,
        assumed,
        kerf_mm,
        spacing_mm,
        margin_mm,
        compensated: job.compensate,
        cut_length_mm,
        pierces,
        cut_time_s,
        mass_kg,
        cautions: cautions(job, made).iter().map(CautionResult::from).collect(),
        files: Vec::new(),
    }
}

/// The cautions of all parts, each once.
fn cautions(job: &Job, made: &[Made]) -> Vec<Caution> {
    joined_cautions(
        job.parts.iter().zip(made).map(|(part, made)| super::parts::cautions(&part.part, made)),
    )
}

/// The pictures of the report, each as wide as a page's column.
fn pictures(job: &Job, made: &[Made], laid_out: &LaidOut) -> Pictures {
    const WIDTH_PX: f64 = 900.0;
    let picture = |drawing: &Drawing| svg_picture(drawing, WIDTH_PX).unwrap_or_default();
    let parts = job
        .parts
        .iter()
        .zip(made)
        .map(|(job_part, made)| {
            let part = &job_part.part;
            let buck = |buck: &BuckSet| {
                (
                    "buck (below) and clamp plate (above)".to_owned(),
                    picture(&buck_drawing(part, buck, false)),
                )
            };
            let made = match made {
                Made::Part(made) => made,
                Made::BuckAlone(made) => return vec![buck(&made.buck)],
            };
            let mut all = vec![(
                format!("blank, seen from its {}", seen_face(part)),
                picture(&blank_drawing(part, &made.flat, made.stations(), false)),
            )];
            if job_part.mirrored > 0 {
                let other = made.other_hand();
                let drawing = blank_drawing(part, &other.flat, other.stations(), true);
                all.push((
                    format!("blank of the other hand, seen from its {}", seen_face(part)),
                    picture(&drawing),
                ));
            }
            let element =
                |picture: &Picture| page_svg_element(picture, WIDTH_PX).unwrap_or_default();
            if let Some(page) = made
                .bending
                .as_ref()
                .and_then(|bending| bend_order_page(part, &made.flat, bending, None, false))
            {
                all.push(("order of bends".to_owned(), element(&page)));
            }
            if made.maps
                && let Some(maps) = metal_maps(part, &made.flat, false)
            {
                all.push(("stretch and shrink of the metal".to_owned(), element(&maps.strain)));
                all.push(("thickness of the formed metal".to_owned(), element(&maps.thickness)));
            }
            all.extend(made.buck.as_ref().map(buck));
            all
        })
        .collect();
    Pictures { parts, sheets: laid_out.drawings.iter().map(picture).collect() }
}

fn job_summary(job: &Job, made: &[Made], result: &JobResult, everything: bool) -> String {
    let mut text = String::new();
    if everything {
        for ((part, made), result) in job.parts.iter().zip(made).zip(&result.parts) {
            let result = PartResult { files: Vec::new(), ..result.clone() };
            text.push_str(&summary(&part.part, made, &result));
        }
    }
    for sheet in &result.sheets {
        let length = sheet
            .length_mm
            .map(|length| format!(", {} mm long", Digits(length, 1)))
            .unwrap_or_default();
        let _ = writeln!(
            text,
            "{}: {}, {} % used{length}; {}",
            sheet.name,
            counted(sheet.parts, "part"),
            Digits(sheet.used * 100.0, 1),
            cutting_words(&sheet.cutting)
        );
        if let Some(left) = sheet.cutting.left_over.filter(|_| sheet.cutting.remnants > 0) {
            let _ = writeln!(
                text,
                "  left over: {} x {} mm at most in one piece; sheets/{}-remnant.yaml describes what is worth keeping",
                Digits(left.width_mm, 0),
                Digits(left.height_mm, 0),
                sheet.name
            );
        }
    }
    if !result.sheets.is_empty() {
        let _ = writeln!(text, "{}", kerf_words(result.compensated, result.kerf_mm));
    }
    for finding in result.findings.iter().filter(|finding| finding.grade > Grade::Within) {
        // Those of the parts themselves stand with the parts.
        if let Some(sheet) = &finding.sheet {
            let _ = writeln!(
                text,
                "{}, {sheet}, {}: {}; {}",
                finding.grade.text(),
                finding.part,
                finding.message,
                finding.remedy
            );
        }
    }
    for assumed in &result.assumed {
        let _ = writeln!(text, "assumed: {} = {} ({})", assumed.key, assumed.value, assumed.why);
    }
    for left in &result.unplaced {
        let hand = if left.mirrored { " (other hand)" } else { "" };
        let _ = writeln!(text, "not placed: {} of {}{hand}: {}", left.count, left.part, left.why);
    }
    let _ = writeln!(text, "take care: {}", caution_words(&cautions(job, made)));
    text
}
