//! The shop sheets of a job as one HTML page that prints: no scripts, no other files.

use std::fmt::Write as _;

use super::{
    FindingResult, HollowResult, JobResult, PartResult, cutting_words, kerf_words, time_words,
};
use crate::bending::ANGLES_FROM_FLAT;
use crate::units::{Digits, counted};

/// What the page shows besides the results: pictures by heading, for each part and each sheet in
/// their order.
#[derive(Debug, Clone, Default)]
pub struct Pictures {
    /// For each part: (heading, SVG text).
    pub parts: Vec<Vec<(String, String)>>,
    /// For each sheet: SVG text.
    pub sheets: Vec<String>,
}

const STYLE: &str = "body{font:15px/1.45 system-ui,sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem;color:#111}\
h1{font-size:1.6rem}h2{font-size:1.25rem;border-bottom:2px solid #111;margin-top:2.5rem}h3{font-size:1rem;margin:1.2rem 0 .3rem}\
table{border-collapse:collapse;width:100%;font-size:.9rem;margin:.4rem 0 1rem}th,td{border:1px solid #999;padding:.2rem .5rem;text-align:left;vertical-align:top}\
th{background:#eee}td.n{text-align:right;font-variant-numeric:tabular-nums}figure{margin:.8rem 0;break-inside:avoid}figcaption{font-size:.85rem}\
svg{max-width:100%;height:auto;border:1px solid #ccc}.bad,.over{font-weight:bold}.bad::before,.over::before{content:\"\\2716 \"}.care::before{content:\"! \"}.within::before{content:\"\\2713 \"}\
@media print{h2{break-before:page}body{margin:0}}";

/// The page.
#[must_use]
pub fn html(job: &JobResult, pictures: &Pictures) -> Vec<u8> {
    let mut page = String::new();
    let title = escape(&job.job);
    let _ = write!(
        page,
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\">\
         <title>{title}</title><style>{STYLE}</style></head><body>\n<h1>{title}</h1>\n"
    );
    summary(&mut page, job);
    for (i, sheet) in job.sheets.iter().enumerate() {
        let length = sheet
            .length_mm
            .map(|length| format!(", {} mm off the roll", Digits(length, 1)))
            .unwrap_or_default();
        let _ = write!(
            page,
            "<h2>{}</h2><p>{} {} mm, {}, {} % used{length}. {}. {}</p>",
            escape(&sheet.name),
            escape(&sheet.material),
            Digits(sheet.thickness_mm, 3),
            counted(sheet.parts, "part"),
            Digits(sheet.used * 100.0, 1),
            cutting_words(&sheet.cutting),
            kerf_words(sheet.cutting.compensated, job.kerf_mm)
        );
        findings(
            &mut page,
            job.findings.iter().filter(|finding| finding.sheet.as_ref() == Some(&sheet.name)),
        );
        if let Some(picture) = pictures.sheets.get(i) {
            let _ = write!(page, "<figure>{picture}</figure>");
        }
    }
    for (i, part) in job.parts.iter().enumerate() {
        part_sheet(&mut page, job, part, pictures.parts.get(i).map_or(&[], Vec::as_slice));
    }
    page.push_str("<h2>Cautions</h2><ul>");
    for caution in &job.cautions {
        let _ =
            write!(page, "<li><b>{}:</b> {}</li>", escape(caution.hazard), escape(caution.text));
    }
    page.push_str("</ul></body></html>\n");
    page.into_bytes()
}

fn summary(page: &mut String, job: &JobResult) {
    let time = job
        .cut_time_s
        .map(|s| format!(", {} of cutting and piercing (travel not counted)", time_words(s)))
        .unwrap_or_default();
    let _ = write!(
        page,
        "<p>Kerf {} mm, spacing {} mm, margin {} mm. {} m of cut, {}{time}, {} kg of parts. <b>{}</b></p>",
        Digits(job.kerf_mm, 2),
        Digits(job.spacing_mm, 2),
        Digits(job.margin_mm, 2),
        Digits(job.cut_length_mm / 1000.0, 2),
        counted(job.pierces, "pierce"),
        Digits(job.mass_kg, 2),
        kerf_words(job.compensated, job.kerf_mm)
    );
    page.push_str("<table><tr><th>part</th><th>how many</th><th>opposite hand</th><th>blank, mm</th><th>kg each</th></tr>");
    for part in &job.parts {
        let count = |mirrored: bool| {
            let placed = job
                .placements
                .iter()
                .filter(|p| p.part == part.part && p.mirrored == mirrored)
                .count();
            placed
                + job
                    .unplaced
                    .iter()
                    .filter(|u| u.part == part.part && u.mirrored == mirrored)
                    .map(|u| u.count)
                    .sum::<usize>()
        };
        let blank = part.blank.as_ref().map_or_else(
            || "none".to_owned(),
            |blank| format!("{} x {}", Digits(blank.width_mm, 2), Digits(blank.height_mm, 2)),
        );
        let mass = part.mass_kg.map_or_else(String::new, |mass| Digits(mass, 3).to_string());
        let _ = write!(
            page,
            "<tr><td>{}</td><td class=n>{}</td><td class=n>{}</td><td class=n>{blank}</td><td class=n>{mass}</td></tr>",
            escape(&part.part),
            count(false),
            count(true),
        );
    }
    page.push_str("</table>");
    if !job.unplaced.is_empty() {
        page.push_str("<h3>Not placed</h3><ul>");
        for left in &job.unplaced {
            let hand = if left.mirrored { ", other hand" } else { "" };
            let _ = write!(
                page,
                "<li class=bad>{} of {}{hand}: {}</li>",
                left.count,
                escape(&left.part),
                escape(&left.why)
            );
        }
        page.push_str("</ul>");
    }
    assumed(page, &job.assumed);
}

fn assumed(page: &mut String, list: &[crate::report::AssumedResult]) {
    if list.is_empty() {
        return;
    }
    page.push_str("<h3>Assumed: change these if they are not so</h3><table><tr><th>key</th><th>value</th><th>why</th></tr>");
    for row in list {
        let _ = write!(
            page,
            "<tr><td>{}</td><td>{}</td><td>{}</td></tr>",
            escape(&row.key),
            escape(&row.value),
            escape(&row.why)
        );
    }
    page.push_str("</table>");
}

fn part_sheet(
    page: &mut String,
    job: &JobResult,
    part: &PartResult,
    pictures: &[(String, String)],
) {
    let blank = part.blank.as_ref().zip(part.mass_kg).map_or_else(
        || "No blank was found for it: its findings say why.".to_owned(),
        |(blank, mass)| {
            format!(
                "Net blank {} x {} mm, {} mm of cut, {}, {} kg.",
                Digits(blank.width_mm, 2),
                Digits(blank.height_mm, 2),
                Digits(blank.cut_length_mm, 0),
                counted(blank.openings, "opening"),
                Digits(mass, 3)
            )
        },
    );
    let _ = write!(
        page,
        "<h2>{}</h2><p>{} {} mm. {blank}</p>",
        escape(&part.part),
        escape(&part.material),
        Digits(part.thickness_mm, 3),
    );
    for (heading, picture) in pictures {
        let _ =
            write!(page, "<figure>{picture}<figcaption>{}</figcaption></figure>", escape(heading));
    }
    if !part.bends.is_empty() {
        page.push_str(
            "<h3>Bends</h3><table><tr><th>bend</th><th>turn</th><th>inside radius, mm</th><th>K</th><th>allowance, mm</th>\
             <th>setback, mm</th><th>deduction, mm</th></tr>",
        );
        for bend in &part.bends {
            let _ = write!(
                page,
                "<tr><td>{}</td><td>{} {}</td><td class=n>{}</td><td class=n>{}</td><td class=n>{}</td><td class=n>{}</td><td class=n>{}</td></tr>",
                escape(&bend.name),
                Digits(bend.angle_deg, 2),
                bend.direction,
                Digits(bend.inside_radius_mm, 3),
                Digits(bend.k_factor, 4),
                Digits(bend.allowance_mm, 3),
                Digits(bend.setback_mm, 3),
                Digits(bend.deduction_mm, 3)
            );
        }
        page.push_str("</table>");
    }
    bend_order(page, part);
    if let Some(forming) = &part.forming {
        let _ = write!(page, "<h3>Forming</h3><p>{}</p>", forming.words());
        for weld in &forming.corner_welds {
            let _ = write!(page, "<p>{}</p>", weld.words());
        }
        edge_table(page, forming);
    }
    if let Some(pair) = &part.hollow {
        hollow(page, pair);
    }
    findings(
        page,
        job.findings.iter().filter(|finding| finding.part == part.part && finding.sheet.is_none()),
    );
    assumed(page, &part.assumed);
}

/// The brake and the steps in order.
fn bend_order(page: &mut String, part: &PartResult) {
    if let Some(brake) = &part.brake {
        let die = match (&brake.die, brake.die_opening_mm) {
            (Some(die), Some(opening)) => {
                format!(", {} ({} mm opening)", escape(die), Digits(opening, 2))
            }
            _ => String::new(),
        };
        let force = brake
            .greatest_force_kn
            .map(|kn| format!("; greatest force {} kN", Digits(kn, 1)))
            .unwrap_or_default();
        let _ = write!(
            page,
            "<p>Bent on a {} brake{die}; these tools bend to {}° at most{force}.</p>",
            brake.kind,
            Digits(brake.reach_deg, 1)
        );
        if !brake.dies.is_empty() {
            page.push_str(
                "<table><tr><th>die</th><th>opening, mm</th><th>inside radius of an air bend, mm</th><th>least leg, mm</th></tr>",
            );
            for die in &brake.dies {
                let radius = die
                    .inside_radius_mm
                    .map_or_else(|| "not known".to_owned(), |mm| Digits(mm, 2).to_string());
                let _ = write!(
                    page,
                    "<tr><td>{}</td><td class=n>{}</td><td class=n>{radius}</td><td class=n>{}</td></tr>",
                    escape(&die.name),
                    Digits(die.opening_mm, 2),
                    Digits(die.least_leg_mm, 2)
                );
            }
            page.push_str("</table>");
        }
    }
    let steps = part.bend_order.as_deref().unwrap_or_default();
    if steps.is_empty() {
        return;
    }
    page.push_str(
        "<h3>Order of bends</h3><table><tr><th>step</th><th>bend</th><th>angle</th><th>gauge</th><th>how it lies</th><th>tools</th>\
         <th>force, kN</th></tr>",
    );
    for step in steps {
        let words = &step.words;
        let force = step.force_kn.map_or_else(String::new, |kn| Digits(kn, 1).to_string());
        let _ = write!(
            page,
            "<tr><td class=n>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td class=n>{force}</td></tr>",
            step.step,
            escape(&words.what),
            escape(&words.set),
            escape(&words.gauge),
            escape(&words.handling),
            escape(&words.tools)
        );
    }
    let _ = write!(page, "</table><p>{ANGLES_FROM_FLAT}</p>");
}

fn edge_table(page: &mut String, forming: &crate::report::FormingResult) {
    if forming.edge.iter().all(|edge| edge.strain == 0.0) {
        return;
    }
    page.push_str(
        "<table><tr><th>along the outline, mm</th><th>at, mm</th><th>mm in every 100 (+ stretch, - shrink)</th>\
         <th>finished edge</th><th>thickness, mm</th></tr>",
    );
    for edge in &forming.edge {
        let _ = write!(
            page,
            "<tr><td class=n>{}</td><td class=n>{}, {}</td><td class=n>{}</td><td class=n>{}</td><td class=n>{}</td></tr>",
            Digits(edge.along_mm, 1),
            Digits(edge.x_mm, 1),
            Digits(edge.y_mm, 1),
            Digits(edge.mm_per_100_mm, 2),
            Digits(edge.finished_strain * 100.0, 2),
            Digits(edge.thickness_mm, 3)
        );
    }
    page.push_str("</table>");
}

/// What a half-shell and its mirror make together.
fn hollow(page: &mut String, pair: &HollowResult) {
    page.push_str("<h3>The pair</h3><p>");
    if let (Some(inside), Some(outside), Some([least, most])) =
        (pair.volume_l, pair.outside_volume_l, pair.oil_fill_l)
    {
        let _ = write!(
            page,
            "{} litres inside, {} outside. As an oil tank it takes {} to {} litres (10 to 15 % headspace: common practice); take off what \
             baffles, tubes and bungs fill. ",
            Digits(inside, 3),
            Digits(outside, 3),
            Digits(least, 2),
            Digits(most, 2)
        );
    }
    let _ = write!(page, "{} kg without weld", Digits(pair.pair_mass_kg, 3));
    if let Some([x, y]) = pair.centre_of_gravity_mm {
        let _ = write!(
            page,
            ", centre of gravity at {}, {} mm in the seam plane",
            Digits(x, 1),
            Digits(y, 1)
        );
    }
    let seams: Vec<String> = pair
        .seams
        .iter()
        .map(|seam| format!("{} {}", escape(&seam.along), Digits(seam.length_mm, 1)))
        .collect();
    let _ =
        write!(page, ". {} mm of weld ({}).</p>", Digits(pair.seam_length_mm, 1), seams.join("; "));
    if !pair.section.is_empty() {
        page.push_str(
            "<table><tr><th>section at</th><th>area, mm²</th><th>enclosed, mm²</th><th>Iyy, mm⁴</th><th>Izz, mm⁴</th><th>J, mm⁴</th>\
             <th>round tube as stiff in torsion, mm</th><th>as heavy, mm</th><th>centroid, mm</th></tr>",
        );
    }
    let tube =
        |od: Option<f64>| od.map_or_else(|| "none".to_owned(), |od| Digits(od, 1).to_string());
    for section in &pair.section {
        let _ = write!(
            page,
            "<tr><td>{}{}</td><td class=n>{}</td><td class=n>{}</td><td class=n>{}</td><td class=n>{}</td><td class=n>{}</td>\
             <td class=n>{}</td><td class=n>{}</td><td class=n>{}, {}</td></tr>",
            escape(&section.station),
            if section.through_opening { " (opening)" } else { "" },
            Digits(section.area_mm2, 1),
            Digits(section.enclosed_mm2, 0),
            Digits(section.iyy_mm4, 0),
            Digits(section.izz_mm4, 0),
            Digits(section.j_mm4, 0),
            tube(section.same_j_tube_od_mm),
            tube(section.same_mass_tube_od_mm),
            Digits(section.centroid_mm[0], 1),
            Digits(section.centroid_mm[1], 1)
        );
    }
    if !pair.section.is_empty() {
        page.push_str("</table><p>Iyy resists bending square to the seam plane, Izz bending within it, J twisting.</p>");
    }
    page.push_str("<ul>");
    for note in &pair.section_notes {
        let _ = write!(page, "<li>{}</li>", escape(note));
    }
    page.push_str("</ul>");
}

fn findings<'a>(page: &mut String, list: impl Iterator<Item = &'a FindingResult>) {
    let rows: Vec<&FindingResult> = list.collect();
    if rows.is_empty() {
        return;
    }
    page.push_str(
        "<h3>Checked</h3><table><tr><th>grade</th><th>rule</th><th>is</th><th>must be</th><th>what</th><th>source</th></tr>",
    );
    for row in rows {
        let remedy = if row.remedy.is_empty() {
            String::new()
        } else {
            format!("; {}", escape(&row.remedy))
        };
        let _ = write!(
            page,
            "<tr><td class={grade}>{grade}</td><td>{}</td><td class=n>{}</td><td class=n>{}</td><td>{}{remedy}</td><td>{}</td></tr>",
            escape(&row.rule.words()),
            escape(&row.is),
            escape(&row.must_be),
            escape(&row.message),
            escape(&row.source),
            grade = row.grade.text()
        );
    }
    page.push_str("</table>");
}

/// Text with the characters that mean something in HTML written out.
fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
