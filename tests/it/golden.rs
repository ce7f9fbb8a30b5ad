//! Every shape in `shapes/` made anew and compared with what stands in `output/`: numbers within a tolerance, everything else to the letter.
//!
//! What stands in `output/` is our own earlier output, so this says that nothing changed unseen, not that it is right; the other tests do
//! that. `PLANISH_WRITE_OUTPUT=1 cargo test --test it golden` writes it anew: look at every changed picture before you commit it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitStatus};

/// How far a number may be from the one that stands there, mm (or whatever its unit): what another machine's arithmetic may do to a fitted
/// curve.
const TOLERANCE: f64 = 2e-3;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn planish(arguments: &[&str], out: &Path) -> ExitStatus {
    let output = Command::new(env!("CARGO_BIN_EXE_planish"))
        .args(arguments)
        .args(["--quiet", "--out"])
        .arg(out)
        .current_dir(root())
        .output()
        .expect("planish starts");
    assert!(output.status.code() == Some(0), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    output.status
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
        for entry in fs::read_dir(&next).unwrap_or_else(|error| panic!("{}: {error}", next.display())) {
            let path = entry.expect("an entry").path();
            if path.is_dir() { open.push(path) } else { all.push(path.strip_prefix(folder).expect("below it").to_path_buf()) }
        }
    }
    all.sort();
    all
}

/// A text cut into its numbers and what stands between them.
fn pieces(text: &str) -> (Vec<f64>, Vec<String>) {
    let (mut numbers, mut words) = (Vec::new(), vec![String::new()]);
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let starts = first.is_ascii_digit() || (first == '-' && rest[1..].starts_with(|c: char| c.is_ascii_digit()));
        let length =
            if starts { 1 + rest[1..].find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(rest.len() - 1) } else { 0 };
        match rest[..length].parse::<f64>() {
            Ok(number) if starts => {
                numbers.push(number);
                words.push(String::new());
                rest = &rest[length..];
            }
            _ => {
                words.last_mut().expect("never empty").push(first);
                rest = &rest[first.len_utf8()..];
            }
        }
    }
    (numbers, words)
}

fn compare_text(name: &Path, made: &str, kept: &str) {
    let ((made_numbers, made_words), (kept_numbers, kept_words)) = (pieces(made), pieces(kept));
    assert_eq!(made_words, kept_words, "{} differs in its words", name.display());
    for (made, kept) in made_numbers.iter().zip(&kept_numbers) {
        assert!((made - kept).abs() <= TOLERANCE, "{}: {made} stands where {kept} stood", name.display());
    }
}

/// The corners of a binary STL file.
fn corners(bytes: &[u8]) -> Vec<f32> {
    bytes[84..]
        .chunks_exact(50)
        .flat_map(|triangle| {
            triangle[12..48].chunks_exact(4).map(|n| f32::from_le_bytes([n[0], n[1], n[2], n[3]])).collect::<Vec<_>>()
        })
        .collect()
}

fn compare_file(made: &Path, kept: &Path, name: &Path) {
    let (made, kept) = (fs::read(made.join(name)).expect("made"), fs::read(kept.join(name)).expect("kept"));
    if name.extension().is_some_and(|extension| extension == "stl") {
        let (made, kept) = (corners(&made), corners(&kept));
        assert_eq!(made.len(), kept.len(), "{} has other triangles", name.display());
        for (made, kept) in made.iter().zip(&kept) {
            assert!(f64::from((made - kept).abs()) <= TOLERANCE, "{}: {made} stands where {kept} stood", name.display());
        }
        return;
    }
    let (made, kept) = (String::from_utf8_lossy(&made), String::from_utf8_lossy(&kept));
    // How many points a band's outline has hangs on the last bits of the forming solve: of maps the words are compared.
    if name.ends_with("strain.svg") || name.ends_with("thickness.svg") {
        compare_text(name, &words_of(&made), &words_of(&kept));
    } else {
        compare_text(name, &made, &kept);
    }
}

/// What the text elements of an SVG file say, line by line.
fn words_of(svg: &str) -> String {
    let texts = svg.split("<text").skip(1).filter_map(|rest| Some(rest.split_once('>')?.1.split("</text>").next()?.to_owned()));
    let words: Vec<String> = texts.collect();
    assert!(words.len() > 8, "a map has a title, a legend and notes");
    words.join("\n")
}

fn compare(made: &Path, kept: &Path, skip: &dyn Fn(&Path) -> bool) {
    if std::env::var_os("PLANISH_WRITE_OUTPUT").is_some() {
        if kept.exists() {
            fs::remove_dir_all(kept).expect("output/ can be changed");
        }
        for name in files(made) {
            let target = kept.join(&name);
            fs::create_dir_all(target.parent().expect("a folder")).expect("output/ can be changed");
            fs::copy(made.join(&name), target).expect("output/ can be changed");
        }
        return;
    }
    // What is worth keeping of a sheet hangs on its layout.
    let names = |folder: &Path| -> Vec<PathBuf> {
        files(folder).into_iter().filter(|name| !name.to_string_lossy().ends_with("-remnant.yaml")).collect()
    };
    assert_eq!(names(made), names(kept), "{} holds other files", kept.display());
    for name in files(made).iter().filter(|name| !skip(name)) {
        compare_file(made, kept, name);
    }
}

#[test]
fn every_example_part_comes_out_as_it_stands_in_output() {
    for shape in shapes() {
        let made = tempfile::tempdir().expect("a folder");
        planish(&["flat", &shape], made.path());
        let text = fs::read_to_string(root().join(&shape)).expect("a shape");
        if text.contains("\nhalf_shell:") {
            planish(&["buck", &shape], made.path());
        }
        let folder = fs::read_dir(made.path()).expect("made").next().expect("one part").expect("an entry").file_name();
        compare(&made.path().join(&folder), &root().join("output").join(&folder), &|_| false);
    }
}

/// The layout of a nest hangs on the last bits of many sums, so another machine may find another one: its sheets are compared by how much of
/// them is used, everything else as for parts.
#[test]
fn the_demo_job_comes_out_as_it_stands_in_output() {
    let made = tempfile::tempdir().expect("a folder");
    planish(&["make", "shapes/slate-wren/job.yaml"], made.path());
    let (made, kept) = (made.path().join("slate-wren"), root().join("output/slate-wren"));
    compare(&made, &kept, &|name| name.starts_with("sheets") || name.ends_with("report.html") || name.ends_with("job.json"));
    let read = |folder: &Path| -> serde_json::Value {
        serde_json::from_slice(&fs::read(folder.join("job.json")).expect("job.json")).expect("JSON")
    };
    // Where the torch begins hangs on the layout, and so do lead-ins and what is found of them.
    let parts_alone = |mut job: serde_json::Value| {
        if let Some(findings) = job["findings"].as_array_mut() {
            findings.retain(|finding| finding["sheet"].is_null());
        }
        job
    };
    let (made, kept) = (parts_alone(read(&made)), parts_alone(read(&kept)));
    for key in ["parts", "findings", "unplaced", "assumed", "mass_kg", "pierces", "compensated"] {
        compare_text(Path::new(key), &made[key].to_string(), &kept[key].to_string());
    }
    let sheets = |job: &serde_json::Value| job["sheets"].as_array().map_or(0, Vec::len);
    assert_eq!(sheets(&made), sheets(&kept), "another number of sheets");
    let placed = |job: &serde_json::Value| job["placements"].as_array().map_or(0, Vec::len);
    assert_eq!(placed(&made), placed(&kept), "another number of parts placed");
}
