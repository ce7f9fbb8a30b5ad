//! Every shape in `shapes/` made anew and compared with what stands in `output/`: figures within a
//! tolerance that goes by what they are, everything else to the letter.
//!
//! What stands in `output/` is our own earlier output, so this says that nothing changed unseen,
//! not that it is right; the other tests do that.
//! Templates on paper are made and not kept: they show the same drawings, and `templates.rs` and the
//! reference tests hold them.
//! `PLANISH_WRITE_OUTPUT=1 cargo test --test it golden` writes it anew: look at every changed picture before you commit it.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use dxf::entities::EntityType;
use planish::geom::{Point, Polyarc, Vertex};
use serde_json::Value;

/// Places and lengths, mm: curves are fitted with arcs to 0.004 mm, and another machine's last bits
/// may move the ends of an arc by half of that.
const LENGTH: f64 = 2e-3;

/// Angles, degrees: closed formulas, but for directions along a fitted curve.
const ANGLE: f64 = 1e-3;

/// How far a figure of the results may be from the one that stands there, by its key, or by how the
/// key ends where that begins with `_`; the first that fits counts. Counts are held exactly.
const WITHIN: [(&str, f64); 19] = [
    // Closed formulas of bend and material, written with nine decimals.
    ("k_factor", 1e-8),
    ("allowance_mm", 1e-8),
    ("setback_mm", 1e-8),
    ("deduction_mm", 1e-8),
    ("inside_radius_mm", 1e-8),
    ("springback_deg", 1e-8),
    ("undercut_deg", 1e-8),
    ("_kn", 1e-8),
    ("k_mpa", 1e-8),
    ("n", 1e-8),
    ("r", 1e-8),
    // `LENGTH` in every 100 mm, as `mm_per_100_mm` has it. The forming solve ends when no node
    // moves by more than 1e-4 mm.
    ("strain", 2e-5),
    ("_strain", 2e-5),
    ("_shrink", 2e-5),
    ("_stretch", 2e-5),
    ("_deg", ANGLE),
    // `LENGTH` all along 1.8 m of cut, in 1.6 mm steel.
    ("_kg", 5e-5),
    // `LENGTH` all over half a square metre of skin, litres.
    ("_l", 1e-3),
    // How far the solve is from balance.
    ("edge_force", 1e-4),
];

fn within(key: &str) -> f64 {
    let found =
        WITHIN.iter().find(|(end, _)| key == *end || (end.starts_with('_') && key.ends_with(end)));
    // Areas, moments, what a rule found and its limit are held as closely as a length.
    found.map_or(LENGTH, |(_, within)| *within)
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Runs the command in a folder that holds `shapes/`.
fn planish(arguments: &[&str], here: &Path, out: &Path) {
    let output = Command::new(env!("CARGO_BIN_EXE_planish"))
        .args(arguments)
        .args(["--quiet", "--out"])
        .arg(out)
        .current_dir(here)
        .output()
        .expect("planish starts");
    assert!(
        output.status.code() == Some(0),
        "{arguments:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
}

/// The example parts, by their descriptions beside the demo job's folder.
fn shapes() -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(root().join("shapes"))
        .expect("shapes/")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "yaml"))
        .map(|path| format!("shapes/{}", path.file_name().expect("a name").to_string_lossy()))
        .collect();
    names.sort();
    names
}

/// All files below a folder, by their names from there.
fn files(folder: &Path) -> Vec<PathBuf> {
    let mut all = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(&next).unwrap_or_else(|error| {
            panic!("{}: {error}; write it by PLANISH_WRITE_OUTPUT=1", next.display())
        }) {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                open.push(path);
            } else {
                all.push(path.strip_prefix(folder).expect("below it").to_path_buf());
            }
        }
    }
    all.sort();
    all
}

/// A piece of a file: compared to the letter, or as a figure.
#[derive(Debug, PartialEq)]
enum Piece {
    Word(String),
    Figure { value: f64, within: f64 },
}

impl Piece {
    fn word(text: &str) -> Self {
        Self::Word(text.to_owned())
    }

    fn length(value: f64) -> Self {
        Self::Figure { value, within: LENGTH }
    }
}

/// A text cut into its figures and what stands between them; `within` has the tolerance of a figure
/// as it is written.
fn pieces(text: &str, within: &dyn Fn(&str) -> f64) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut word = String::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let starts = first.is_ascii_digit()
            || (first == '-' && rest[1..].starts_with(|c: char| c.is_ascii_digit()));
        let length = if starts {
            1 + rest[1..]
                .find(|c: char| !(c.is_ascii_digit() || c == '.'))
                .unwrap_or(rest.len() - 1)
        } else {
            0
        };
        match rest[..length].parse::<f64>() {
            Ok(value) if starts => {
                pieces.push(Piece::Word(std::mem::take(&mut word)));
                pieces.push(Piece::Figure { value, within: within(&rest[..length]) });
                rest = &rest[length..];
            }
            _ => {
                word.push(first);
                rest = &rest[first.len_utf8()..];
            }
        }
    }
    pieces.push(Piece::Word(word));
    pieces
}

/// One in the last digit that is written, the step that rounding may take.
fn last_digit(figure: &str) -> f64 {
    let decimals = figure.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    10.0_f64.powi(-i32::try_from(decimals).expect("few digits")) * (1.0 + 1e-6)
}

/// Words of a drawing or a message: what is rounded more coarsely than a length stands fast.
fn words(text: &str) -> Vec<Piece> {
    pieces(text, &|figure| last_digit(figure).min(LENGTH))
}

/// Lines of a report: where a figure is rounded it may fall to its neighbour; a whole number below
/// a thousand is a count or a size as it was described, which stands fast.
fn report_words(text: &str) -> Vec<Piece> {
    pieces(text, &|figure| {
        let is_count =
            !figure.contains('.') && figure.parse::<f64>().is_ok_and(|value| value.abs() < 1000.0);
        if is_count { 0.0 } else { last_digit(figure) }
    })
}

/// An SVG file: words in its texts, lengths in its tags.
fn svg(text: &str) -> Vec<Piece> {
    let mut all = Vec::new();
    for part in text.split('<') {
        let (tag, said) = part.split_once('>').unwrap_or(("", part));
        all.extend(pieces(tag, &|_| LENGTH));
        all.extend(words(said));
    }
    all
}

/// A DXF file, pair by pair of code and value. A bulge is held by the middle of its arc, as its
/// worth in millimetres goes by the chord.
fn dxf(text: &str) -> Vec<Piece> {
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let (mut all, mut line) = (Vec::new(), Vec::<Vertex>::new());
    let mut in_line = false;
    for pair in lines.chunks(2) {
        let [code, value] = pair else { panic!("a code without a value: {pair:?}") };
        let number = || value.parse::<f64>().unwrap_or_else(|_| panic!("{code}: {value}"));
        if *code == "0" {
            let closed = Polyarc { vertices: std::mem::take(&mut line) };
            for segment in closed.segments() {
                let middle = segment.point_at(0.5);
                all.extend([Piece::length(middle.x), Piece::length(middle.y)]);
            }
            in_line = *value == "LWPOLYLINE";
        }
        match (code.parse::<u32>().expect("a code"), line.last_mut()) {
            (42, Some(vertex)) => {
                vertex.bulge = number();
                continue;
            }
            (10, _) if in_line => {
                line.push(Vertex { point: Point::new(number(), 0.0), bulge: 0.0 });
            }
            (20, Some(vertex)) => vertex.point.y = number(),
            _ => {}
        }
        all.push(Piece::word(code));
        match code.parse::<u32>().expect("a code") {
            1 => all.extend(words(value)),
            50..=58 => all.push(Piece::Figure { value: number(), within: ANGLE }),
            10..=59 | 140..=149 => all.push(Piece::length(number())),
            _ => all.push(Piece::word(value)),
        }
    }
    all
}

/// Results, key by key.
fn json(value: &Value, key: &str, all: &mut Vec<Piece>) {
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                all.push(Piece::word(key));
                json(value, key, all);
            }
        }
        Value::Array(list) => {
            all.push(Piece::Word(format!("{} of {key}", list.len())));
            for value in list {
                json(value, key, all);
            }
        }
        Value::Number(number) if number.is_f64() => {
            all.push(Piece::Figure {
                value: number.as_f64().expect("a number"),
                within: within(key),
            });
        }
        Value::String(text) => all.extend(words(text)),
        exact => all.push(Piece::Word(exact.to_string())),
    }
}

/// The corners of a binary STL file.
fn stl(bytes: &[u8]) -> Vec<Piece> {
    let triangles =
        bytes[84..].chunks_exact(50).flat_map(|triangle| triangle[12..48].chunks_exact(4));
    triangles
        .map(|n| Piece::length(f64::from(f32::from_le_bytes([n[0], n[1], n[2], n[3]]))))
        .collect()
}

/// What the text elements of an SVG file say.
fn said(svg: &str) -> Vec<String> {
    svg.split("<text")
        .skip(1)
        .filter_map(|rest| Some(rest.split_once('>')?.1.split("</text>").next()?.to_owned()))
        .collect()
}

/// What a page shows, tags taken out: a line for each text between two of them.
fn visible(html: &str) -> Vec<String> {
    let parts = html.split('<').filter(|part| !part.starts_with("style"));
    let texts = parts.filter_map(|part| part.split_once('>')).map(|(_, text)| text.trim());
    texts.filter(|text| !text.is_empty()).map(str::to_owned).collect()
}

fn hold(name: &Path, made: &[Piece], kept: &[Piece]) {
    let name = name.display();
    for (made, kept) in made.iter().zip(kept) {
        match (made, kept) {
            (Piece::Figure { value: made, .. }, Piece::Figure { value: kept, within }) => {
                // The comparison is this way round so that a NaN fails.
                assert!(
                    (made - kept).abs() <= *within,
                    "{name}: {made} stands where {kept} stood, may differ by {within}"
                );
            }
            _ => assert_eq!(made, kept, "{name} differs in its words"),
        }
    }
    assert_eq!(made.len(), kept.len(), "{name} is longer or shorter");
}

fn read(folder: &Path, name: &Path) -> String {
    String::from_utf8(fs::read(folder.join(name)).expect("a file")).expect("UTF-8")
}

fn compare_file(made: &Path, kept: &Path, name: &Path) {
    let pieces = |folder: &Path| -> Vec<Piece> {
        let extension = name.extension().expect("a kind of file").to_str().expect("plain");
        match extension {
            "stl" => stl(&fs::read(folder.join(name)).expect("a file")),
            "dxf" => dxf(&read(folder, name)),
            // How many points a band's outline has hangs on the last bits of the forming solve: of
            // maps the words are compared.
            "svg" if name.ends_with("strain.svg") || name.ends_with("thickness.svg") => {
                let said = said(&read(folder, name));
                assert!(said.len() > 8, "a map has a title, a legend and notes");
                words(&said.join("\n"))
            }
            "svg" => svg(&read(folder, name)),
            "html" => report_words(&visible(&read(folder, name)).join("\n")),
            "json" => {
                let mut all = Vec::new();
                json(&serde_json::from_str(&read(folder, name)).expect("JSON"), "", &mut all);
                all
            }
            _ => words(&read(folder, name)),
        }
    };
    hold(name, &pieces(made), &pieces(kept));
}

/// Whether `output/` is to be written anew; then what was made is copied there.
fn written_anew(made: &Path, kept: &Path) -> bool {
    if std::env::var_os("PLANISH_WRITE_OUTPUT").is_none() {
        return false;
    }
    if kept.exists() {
        fs::remove_dir_all(kept).expect("output/ can be changed");
    }
    for name in files(made).into_iter().filter(|name| !is_for_paper(name)) {
        let target = kept.join(&name);
        fs::create_dir_all(target.parent().expect("a folder")).expect("output/ can be changed");
        fs::copy(made.join(&name), target).expect("output/ can be changed");
    }
    true
}

/// Whether it is a file to print, which `output/` does not keep.
fn is_for_paper(name: &Path) -> bool {
    name.extension().is_some_and(|kind| kind == "pdf")
}

fn compare(made: &Path, kept: &Path, skip: &dyn Fn(&Path) -> bool) {
    assert!(
        files(made).iter().any(|name| name.ends_with("templates.pdf")),
        "{} has no templates",
        made.display()
    );
    let names = |folder: &Path| -> Vec<PathBuf> {
        files(folder).into_iter().filter(|name| !skip(name) && !is_for_paper(name)).collect()
    };
    assert_eq!(names(made), names(kept), "{} holds other files", kept.display());
    for name in names(made) {
        compare_file(made, kept, &name);
    }
}

#[test]
fn every_example_part_comes_out_as_it_stands_in_output() {
    for shape in shapes() {
        let made = tempfile::tempdir().expect("a folder");
        planish(&["flat", &shape], &root(), made.path());
        let text = fs::read_to_string(root().join(&shape)).expect("a shape");
        if text.contains("\nhalf_shell:") {
            planish(&["buck", &shape], &root(), made.path());
        }
        let folder = fs::read_dir(made.path())
            .expect("made")
            .next()
            .expect("one part")
            .expect("an entry")
            .file_name();
        let (made, kept) = (made.path().join(&folder), root().join("output").join(&folder));
        if !written_anew(&made, &kept) {
            compare(&made, &kept, &|_| false);
        }
    }
}

const DEMO: &str = "shapes/slate-wren/job.yaml";

/// Where each part lies: the part, the sheet and the hand, and the place.
fn placements(job: &Value) -> Vec<(String, [f64; 3])> {
    let number = |placed: &Value, key: &str| placed[key].as_f64().expect("a number");
    let placed = job["placements"].as_array().expect("placements").iter();
    placed
        .map(|placed| {
            let what = format!("{} {} {}", placed["part"], placed["sheet"], placed["mirrored"]);
            (what, ["x_mm", "y_mm", "angle_deg"].map(|key| number(placed, key)))
        })
        .collect()
}

/// The lines that the torch or the scribe follows on all sheets together: layer and length, in
/// order. Lead-ins and the sheets' own edges left out.
fn cut_lines(folder: &Path) -> Vec<(String, f64)> {
    let mut all = Vec::new();
    for name in files(folder)
        .iter()
        .filter(|name| name.extension().is_some_and(|extension| extension == "dxf"))
    {
        let bytes = fs::read(folder.join(name)).expect("a sheet");
        let file = dxf::Drawing::load(&mut bytes.as_slice()).expect("a sound file");
        for entity in file.entities().filter(|entity| {
            ["OUTSIDE", "OPENING", "SCRIBE"].contains(&entity.common.layer.as_str())
        }) {
            if let EntityType::LwPolyline(line) = &entity.specific {
                let at = |v: &dxf::LwPolylineVertex| Vertex {
                    point: Point::new(v.x, v.y),
                    bulge: v.bulge,
                };
                let outline = Polyarc { vertices: line.vertices.iter().map(at).collect() };
                all.push((entity.common.layer.clone(), outline.length()));
            }
        }
    }
    all.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    all
}

/// Layers and plain words of all sheets together.
fn sheet_words(folder: &Path) -> BTreeSet<String> {
    let mut all = BTreeSet::new();
    for name in files(folder)
        .iter()
        .filter(|name| name.extension().is_some_and(|extension| extension == "svg"))
    {
        let text = read(folder, name);
        all.extend(
            text.split("id=\"")
                .skip(1)
                .filter_map(|rest| rest.split_once('"'))
                .map(|(id, _)| id.to_owned()),
        );
        all.extend(
            said(&text).into_iter().filter(|said| !said.contains(|c: char| c.is_ascii_digit())),
        );
    }
    all
}

/// A report without what it tells of the cutting and of the sheets.
fn without_sheets(html: &str) -> String {
    let (_, rest) = html.split_once("</p>").expect("what is cut");
    let (before, sheets) = rest.split_once("<h2>sheet-1</h2>").expect("the first sheet");
    let (_, after) = sheets
        .match_indices("<h2>")
        .map(|(at, _)| sheets.split_at(at))
        .find(|(_, after)| !after.starts_with("<h2>sheet-"))
        .expect("the parts");
    format!("{before}{after}")
}

/// The layout of a nest hangs on the last bits of many sums, so another machine may find another
/// one, and a slow one ends by the clock. Where the parts lie as they lay, sheets, results and
/// report are held wholly; elsewhere, what doesn't hang on the layout.
#[test]
fn the_demo_job_comes_out_as_it_stands_in_output() {
    let made = tempfile::tempdir().expect("a folder");
    planish(&["make", DEMO], &root(), made.path());
    let (made, kept) = (made.path().join("slate-wren"), root().join("output/slate-wren"));
    if written_anew(&made, &kept) {
        return;
    }
    if is_laid_alike(&made, &kept) {
        compare(&made, &kept, &|_| false);
    } else {
        compare_but_for_the_layout(&made, &kept);
    }
}

/// By another seed and few tries the demo job is laid otherwise, and what is held whatever the
/// layout holds.
#[test]
fn another_layout_of_the_demo_job_changes_nothing_else() {
    if std::env::var_os("PLANISH_WRITE_OUTPUT").is_some() {
        return;
    }
    let here = tempfile::tempdir().expect("a folder");
    for name in files(&root().join("shapes")) {
        let copy = here.path().join("shapes").join(&name);
        fs::create_dir_all(copy.parent().expect("a folder")).expect("room on the disk");
        fs::copy(root().join("shapes").join(&name), copy).expect("room on the disk");
    }
    let text = read(&root(), Path::new(DEMO));
    let other =
        text.replace("time: 60 s, seed: 1, tries: 3000000", "time: 20 min, seed: 2, tries: 20000");
    assert_ne!(text, other);
    fs::write(here.path().join(DEMO), other).expect("room on the disk");
    planish(&["make", DEMO], here.path(), &here.path().join("out"));
    let (made, kept) = (here.path().join("out/slate-wren"), root().join("output/slate-wren"));
    assert!(!is_laid_alike(&made, &kept));
    compare_but_for_the_layout(&made, &kept);
}

fn is_laid_alike(made: &Path, kept: &Path) -> bool {
    let job = |folder: &Path| -> Value {
        serde_json::from_str(&read(folder, Path::new("job.json"))).expect("JSON")
    };
    let (ours, theirs) = (placements(&job(made)), placements(&job(kept)));
    let near = |a: &[f64; 3], b: &[f64; 3]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < LENGTH);
    ours.len() == theirs.len()
        && ours.iter().zip(&theirs).all(|(a, b)| a.0 == b.0 && near(&a.1, &b.1))
}

fn compare_but_for_the_layout(made: &Path, kept: &Path) {
    // What is worth keeping of a sheet hangs on its layout.
    let on_sheets = |name: &Path| {
        name.starts_with("sheets") || name.ends_with("report.html") || name.ends_with("job.json")
    };
    compare(made, kept, &on_sheets);
    let sheets = |folder: &Path| -> Vec<PathBuf> {
        files(&folder.join("sheets"))
            .into_iter()
            .filter(|name| !name.to_string_lossy().ends_with("-remnant.yaml"))
            .collect()
    };
    assert_eq!(sheets(made), sheets(kept), "another number of sheets");
    assert_eq!(sheet_words(&made.join("sheets")), sheet_words(&kept.join("sheets")));
    let (ours, theirs) = (cut_lines(&made.join("sheets")), cut_lines(&kept.join("sheets")));
    assert_eq!(ours.len(), theirs.len(), "another number of cut lines");
    for (made, kept) in ours.iter().zip(&theirs) {
        assert!(
            made.0 == kept.0 && (made.1 - kept.1).abs() <= LENGTH,
            "a cut line {made:?} where {kept:?} stood"
        );
    }
    let name = Path::new("report.html");
    let report =
        |folder: &Path| report_words(&visible(&without_sheets(&read(folder, name))).join("\n"));
    hold(name, &report(made), &report(kept));

    // Where the torch begins hangs on the layout, and so do lead-ins and what is found of them.
    let job = |folder: &Path| -> Value {
        let mut job: Value =
            serde_json::from_str(&read(folder, Path::new("job.json"))).expect("JSON");
        job["findings"]
            .as_array_mut()
            .expect("findings")
            .retain(|finding| finding["sheet"].is_null());
        job
    };
    let (made, kept) = (job(made), job(kept));
    for key in ["parts", "findings", "unplaced", "assumed", "mass_kg", "pierces", "compensated"] {
        let pieces = |job: &Value| {
            let mut all = Vec::new();
            json(&job[key], key, &mut all);
            all
        };
        hold(Path::new(key), &pieces(&made), &pieces(&kept));
    }
    let placed = |job: &Value| {
        let mut parts: Vec<String> = job["placements"]
            .as_array()
            .expect("placements")
            .iter()
            .map(|p| format!("{} {}", p["part"], p["mirrored"]))
            .collect();
        parts.sort();
        parts
    };
    assert_eq!(placed(&made), placed(&kept), "other parts placed");
}
