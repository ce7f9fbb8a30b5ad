//! The command from outside: what each subcommand writes, prints and answers.

#![allow(clippy::unwrap_used, reason = "a test may fail")]

use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use indoc::{formatdoc, indoc};
use serde_json::Value;

/// A folder of its own with the starter files in it.
struct Shop {
    folder: tempfile::TempDir,
}

impl Shop {
    fn new() -> Self {
        let shop = Self { folder: tempfile::tempdir().unwrap() };
        for (kind, file) in [
            ("plate", "gusset.yaml"),
            ("half_shell", "rail-half.yaml"),
            ("bent", "bracket.yaml"),
            ("folded", "tray.yaml"),
            ("job", "job.yaml"),
            ("shop", "shop.yaml"),
        ] {
            let run = shop.run(&["new", kind]);
            assert_eq!(run.status.code(), Some(0), "{kind}");
            fs::write(shop.path(file), &run.stdout).unwrap();
        }
        // The starter looks for better layouts for ten seconds; by a count of tries every machine
        // finds the same one.
        let job = fs::read_to_string(shop.path("job.yaml")).unwrap();
        fs::write(shop.path("job.yaml"), job.replace("time: 10 s", "time: 20 min, tries: 300"))
            .unwrap();
        shop
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_planish"));
        command.args(arguments).current_dir(self.folder.path()).stdin(Stdio::null());
        command
    }

    fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().unwrap()
    }

    /// Runs with this on standard input.
    fn feed(&self, arguments: &[&str], input: &[u8]) -> Output {
        let mut child = self
            .command(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        child.stdin.take().unwrap().write_all(input).unwrap();
        child.wait_with_output().unwrap()
    }

    /// The JSON that a command prints, which must be all that it prints.
    fn json(&self, arguments: &[&str], status: i32) -> Value {
        let run = self.run(arguments);
        assert_eq!(run.status.code(), Some(status), "{arguments:?}: {}", err(&run));
        assert!(run.stderr.is_empty(), "{arguments:?}: {}", err(&run));
        serde_json::from_slice(&run.stdout)
            .unwrap_or_else(|error| panic!("{arguments:?}: {error}: {}", out(&run)))
    }

    /// Everything below a folder, as paths relative to it.
    fn files(&self, folder: &str) -> Vec<String> {
        fn walk(at: &Path, base: &Path, all: &mut Vec<String>) {
            for entry in fs::read_dir(at).into_iter().flatten() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    walk(&path, base, all);
                } else {
                    all.push(path.strip_prefix(base).unwrap().display().to_string());
                }
            }
        }
        let mut all = Vec::new();
        walk(&self.path(folder), &self.path(folder), &mut all);
        all.sort();
        all
    }
}

fn out(run: &Output) -> String {
    String::from_utf8_lossy(&run.stdout).into_owned()
}

fn err(run: &Output) -> String {
    String::from_utf8_lossy(&run.stderr).into_owned()
}

/// Asserts that every key of the list is there.
fn has(value: &Value, keys: &[&str]) {
    for key in keys {
        assert!(!value[*key].is_null(), "no `{key}` in {value:#}");
    }
}

#[test]
fn flat_writes_the_blank_and_gives_the_results_of_the_format() {
    let shop = Shop::new();
    let list = shop.json(&["flat", "bracket.yaml", "gusset.yaml", "rail-half.yaml", "--json"], 0);
    let parts = list.as_array().unwrap();
    assert_eq!(parts.len(), 3);
    for part in parts {
        has(
            part,
            &[
                "part",
                "kind",
                "material",
                "thickness_mm",
                "blank",
                "bends",
                "mass_kg",
                "assumed",
                "warnings",
                "files",
            ],
        );
        has(&part["blank"], &["width_mm", "height_mm", "area_mm2", "cut_length_mm", "openings"]);
        for file in part["files"].as_array().unwrap() {
            assert!(shop.path(file.as_str().unwrap()).is_file(), "{file}");
        }
    }
    let bend = &parts[0]["bends"][0];
    has(
        bend,
        &[
            "name",
            "angle_deg",
            "inside_radius_mm",
            "k_factor",
            "allowance_mm",
            "setback_mm",
            "deduction_mm",
            "length_mm",
        ],
    );
    assert_eq!(parts[0]["kind"], "bent");
    // DIN 6935 at 90 degrees: k = 0.65 + log10(R/T)/2 = 0.65 + log10(2)/2 = 0.80051, K = k/2;
    // allowance = (R + K T) pi/2 with R 3.2, T 1.6.
    let k = 0.325 + 2f64.log10() / 4.0;
    let allowance = (3.2 + k * 1.6) * std::f64::consts::FRAC_PI_2;
    assert!((bend["k_factor"].as_f64().unwrap() - k).abs() < 1e-6, "{bend}");
    assert!((bend["allowance_mm"].as_f64().unwrap() - allowance).abs() < 1e-6, "{bend}");
    // Legs 40 and 62 to the outside, less twice the setback R + T, plus the allowance.
    let width = 40.0 + 62.0 - 2.0 * 4.8 + allowance;
    assert!(
        (parts[0]["blank"]["width_mm"].as_f64().unwrap() - width).abs() < 1e-6,
        "{}",
        parts[0]["blank"]
    );
    let shell = &parts[2];
    has(
        &shell["forming"],
        &[
            "max_stretch",
            "max_shrink",
            "min_thickness_mm",
            "max_thickness_mm",
            "method",
            "k_mpa",
            "n",
            "r",
        ],
    );
    // The starter is half of a pair.
    has(
        shell,
        &[
            "section",
            "volume_l",
            "outside_volume_l",
            "seam_length_mm",
            "seams",
            "pair_mass_kg",
            "centre_of_gravity_mm",
        ],
    );
    let keys = [
        "at_mm",
        "area_mm2",
        "enclosed_mm2",
        "iyy_mm4",
        "izz_mm4",
        "j_mm4",
        "same_j_tube_od_mm",
        "j_formula",
        "centroid_mm",
    ];
    for section in shell["section"].as_array().unwrap() {
        has(section, &keys);
    }
    // Each is rounded on its own, in the ninth decimal.
    assert!(
        (shell["pair_mass_kg"].as_f64().unwrap() - 2.0 * shell["mass_kg"].as_f64().unwrap()).abs()
            < 1e-8
    );
    assert!(parts[0].get("section").is_none() && parts[1].get("volume_l").is_none());
    let files = [
        "bracket/bend-order.svg",
        "bracket/blank.dxf",
        "bracket/blank.svg",
        "bracket/drawing.pdf",
        "bracket/drawing.svg",
        "bracket/formed.stl",
        "bracket/templates.pdf",
        "gusset/blank.dxf",
        "gusset/blank.svg",
        "gusset/drawing.pdf",
        "gusset/drawing.svg",
        "gusset/templates.pdf",
    ];
    assert_eq!(shop.files("output")[..12], files);
}

#[test]
fn a_folded_part_gives_its_bends_reliefs_and_solid() {
    let shop = Shop::new();
    let list = shop.json(&["flat", "tray.yaml", "--json"], 0);
    let tray = &list[0];
    assert_eq!(tray["kind"], "folded");
    assert_eq!(tray["bends"].as_array().unwrap().len(), 5);
    // One hole at each corner of the panel, of 3.2 mm (1/8 in) in 1.6 mm sheet, about the place
    // where the tangent lines cross.
    let reliefs = tray["reliefs"].as_array().unwrap();
    assert_eq!(reliefs.len(), 4);
    for relief in reliefs {
        assert_eq!(
            (relief["shape"].as_str(), relief["bends"].as_array().map(Vec::len)),
            (Some("hole"), Some(2))
        );
        assert!((relief["clears_mm"].as_f64().unwrap() - 1.6).abs() < 1e-9, "{relief}");
        assert!((relief["x_mm"].as_f64().unwrap().abs() - (100.0 - 4.8)).abs() < 1e-6, "{relief}");
        assert!((relief["y_mm"].as_f64().unwrap().abs() - (60.0 - 4.8)).abs() < 1e-6, "{relief}");
    }
    assert_eq!(
        shop.files("output"),
        [
            "tray/bend-order.svg",
            "tray/blank.dxf",
            "tray/blank.svg",
            "tray/drawing.pdf",
            "tray/drawing.svg",
            "tray/formed.stl",
            "tray/templates.pdf",
        ]
    );
    // Every bend is a step; with no shop file a press brake is assumed and said.
    let order = tray["bend_order"].as_array().unwrap();
    assert_eq!(order.len(), 5);
    has(
        &order[0],
        &[
            "step",
            "bends",
            "faces",
            "angle_deg",
            "set_angle_deg",
            "face_up",
            "turn_over",
            "gauge_mm",
            "tool_mm",
        ],
    );
    assert!(tray["assumed"].as_array().unwrap().iter().any(|row| row["key"] == "brake.kind"));
    // Of the other hand everything is mirrored, the solid too.
    fs::write(
        shop.path("pair.yaml"),
        indoc!(
            "
        job: pair
        units: mm
        parts: [{file: tray.yaml, quantity: 1, mirrored: 1}]
        "
        ),
    )
    .unwrap();
    let run = shop.run(&["make", "pair.yaml", "--out", "both"]);
    assert!(shop.path("both/pair/tray-other-hand/formed.stl").is_file(), "{}", err(&run));
}

/// A box that no order of bends makes is a broken rule, with its reason; its blank is written all
/// the same.
#[test]
fn a_box_that_cannot_be_bent_is_a_broken_rule() {
    let shop = Shop::new();
    let walls: String = ["bottom", "right", "top", "left"]
        .map(|edge| format!("    - {{edge: {edge}, bend: 90, height: 90, flanges: [{{edge: outer, bend: 90, height: 40}}]}}\n"))
        .concat();
    let deep = formatdoc!(
        "
        part: deep box
        units: mm
        material: 1020
        thickness: 1.5
        folded:
          radius: 2
          panel: {{profile: {{rectangle: {{size: [300, 200]}}}}}}
          flanges:
        {walls}"
    );
    fs::write(shop.path("deep.yaml"), deep).unwrap();
    let checked = shop.json(&["check", "deep.yaml", "--json"], 1);
    let broken = checked["findings"]
        .as_array()
        .unwrap()
        .iter()
        .find(|finding| finding["rule"] == "bend-order")
        .unwrap();
    assert_eq!(broken["ok"], false);
    assert!(broken["message"].as_str().unwrap().contains("no order of bends"), "{broken}");
    let flat = shop.json(&["flat", "deep.yaml", "--json"], 0);
    assert_eq!(flat[0]["bend_order"].as_array().map(Vec::len), Some(0));
    assert!(
        shop.path("output/deep-box/blank.dxf").is_file()
            && !shop.path("output/deep-box/bend-order.svg").exists()
    );
}

#[test]
fn buck_writes_drawing_and_solids() {
    let shop = Shop::new();
    let tray = indoc!(
        "
        part: tray
        units: mm
        material: 1008
        thickness: 1.2
        half_shell:
          profile: {rectangle: {size: [200, 120], corner_radius: 40}}
          depth: 25
          edge_radius: 5
        "
    );
    fs::write(shop.path("tray.yaml"), tray).unwrap();
    let run = shop.run(&["buck", "tray.yaml", "--out", "bucks"]);
    assert_eq!(run.status.code(), Some(0), "{}", err(&run));
    assert_eq!(
        shop.files("bucks"),
        ["buck.dxf", "buck.stl", "buck.svg", "formed.stl", "templates.pdf"]
            .map(|name| format!("tray/{name}"))
    );
    // A plate has no buck.
    assert_eq!(shop.run(&["buck", "gusset.yaml"]).status.code(), Some(2));
    assert!(out(&run).contains("buck"), "{}", out(&run));
}

/// A fork with walls along the inner sides of its tines and its throat: deep ones have no room
/// beside each other in the flat.
const FORK: &str = "part: fork
units: mm
material: 4130-annealed
thickness: 1.6
half_shell:
  profile:
    path:
      - [0, 0]
      - {to: [200, 0], edge: lower}
      - {to: [200, 50], edge: end}
      - {to: [60, 50], round: 2.5}
      - {to: [60, 80], round: 2.5}
      - {to: [200, 80]}
      - {to: [200, 130], edge: other end}
      - {to: [0, 130], edge: upper}
      - {to: [0, 0], edge: rear}
  depth: DEPTH
  edge_radius: 4.8
  open_edges: [lower, end, other end, upper, rear]
";

#[test]
fn a_shell_without_a_blank_keeps_its_buck() {
    let bench = Shop::new();
    fs::write(bench.path("fork.yaml"), FORK.replace("DEPTH", "14")).expect("a file");
    bench.json(&["flat", "fork.yaml", "--out", "out", "--json"], 0);
    assert!(bench.files("out/fork").contains(&"blank.dxf".to_owned()));
    fs::write(bench.path("fork.yaml"), FORK.replace("DEPTH", "40")).expect("a file");
    let said = bench.json(&["flat", "fork.yaml", "--out", "out", "--json"], 1);
    assert!(said[0]["blank"].is_null() && said[0]["mass_kg"].is_null());
    // Yesterday's blank is not left to be cut.
    assert!(bench.files("out/fork").is_empty(), "{:?}", bench.files("out/fork"));
    let warnings = said[0]["warnings"].as_array().expect("warnings");
    let warning =
        warnings.iter().find(|warning| warning["code"] == "no-blank").expect("why there is none");
    let help = warning["help"].as_str().expect("words");
    // What it says of a lower depth holds.
    let depth = help
        .split("a depth of ")
        .nth(1)
        .and_then(|rest| rest.split(" mm").next())
        .expect("a depth");
    assert!(depth.parse::<f64>().expect("a number") > 10.0, "{help}");
    fs::write(bench.path("fork.yaml"), FORK.replace("DEPTH", depth)).expect("a file");
    bench.json(&["flat", "fork.yaml", "--out", "out", "--json"], 0);
    // A job makes the rest.
    fs::write(bench.path("fork.yaml"), FORK.replace("DEPTH", "40")).expect("a file");
    let plate = indoc!(
        "
        part: washer
        units: mm
        material: 4130-annealed
        thickness: 1.6
        plate: {profile: {circle: {diameter: 40}}}
        "
    );
    fs::write(bench.path("washer.yaml"), plate).expect("a file");
    let job = indoc!(
        "
        job: two
        units: mm
        parts: [{file: fork.yaml, quantity: 2, mirrored: 1}, {file: washer.yaml, quantity: 1}]
        sheets: [{size: [500, 400], material: 4130-annealed, thickness: 1.6}]
        nesting: {time: 1 s}
        "
    );
    fs::write(bench.path("job.yaml"), job).expect("a file");
    let said = bench.json(&["make", "job.yaml", "--out", "out", "--json"], 1);
    let left: Vec<(bool, u64)> = said["unplaced"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|row| {
            (row["mirrored"].as_bool().expect("a hand"), row["count"].as_u64().expect("a count"))
        })
        .collect();
    assert_eq!(left, [(false, 2), (true, 1)]);
    assert_eq!(said["placements"].as_array().expect("a list").len(), 1);
    let files = bench.files("out/two");
    for file in ["fork/buck.dxf", "fork/formed.stl", "fork-other-hand/buck.dxf"] {
        assert!(files.contains(&file.to_owned()), "{files:?}");
    }
    assert!(
        said["findings"]
            .as_array()
            .expect("findings")
            .iter()
            .any(|f| f["rule"] == "no-blank" && f["ok"] == false)
    );
}

#[test]
fn a_pair_without_a_vent_is_a_broken_rule() {
    let shop = Shop::new();
    let tank = indoc!(
        "
        part: tank
        units: mm
        material: 1008
        thickness: 1.2
        half_shell:
          profile: {circle: {diameter: 200}}
          depth: 12
          edge_radius: 5
          pair: mirror
        buck: {undercut: 0}
        "
    );
    fs::write(shop.path("tank.yaml"), tank).unwrap();
    let rule = |status: i32| {
        let said = shop.json(&["check", "tank.yaml", "--json"], status);
        let finding = said["findings"]
            .as_array()
            .unwrap()
            .iter()
            .find(|finding| finding["rule"] == "cavity-vent")
            .cloned();
        finding.expect("the rule applies to every pair")
    };
    assert_eq!(rule(1)["ok"], false);
    fs::write(
        shop.path("tank.yaml"),
        tank.replace("  pair", "  openings: [{circle: {diameter: 10}}]\n  pair"),
    )
    .unwrap();
    assert_eq!(rule(0)["ok"], true);
    let words = out(&shop.run(&["flat", "tank.yaml"]));
    assert!(words.contains("litres inside") && words.contains("mm of weld (outline"), "{words}");
}

#[test]
fn make_writes_everything_and_its_json_is_the_file() {
    let shop = Shop::new();
    let result = shop.json(&["make", "job.yaml", "--json"], 0);
    has(&result, &["parts", "sheets", "placements", "unplaced", "findings"]);
    has(&result["sheets"][0], &["name", "used", "parts"]);
    has(&result["placements"][0], &["part", "sheet", "x_mm", "y_mm", "angle_deg", "mirrored"]);
    // Two gussets, one rail half and one of its other hand.
    assert_eq!(result["placements"].as_array().unwrap().len(), 4);
    assert_eq!(
        result["placements"].as_array().unwrap().iter().filter(|p| p["mirrored"] == true).count(),
        1
    );
    let folder = shop.path("output/first-job");
    let file: Value = serde_json::from_slice(&fs::read(folder.join("job.json")).unwrap()).unwrap();
    assert_eq!(file, result);
    let files = shop.files("output/first-job");
    for name in [
        "report.html",
        "job.json",
        "sheets/sheet-1.svg",
        "sheets/sheet-1.dxf",
        "gusset/blank.svg",
        "rail-half/buck.dxf",
        "rail-half-other-hand/blank.dxf",
        "rail-half-other-hand/templates.pdf",
        "templates.pdf",
    ] {
        assert!(files.iter().any(|file| file == name), "no {name} in {files:?}");
    }
    assert!(!files.iter().any(|file| file.contains(".part")), "{files:?}");
}

#[test]
fn nest_writes_the_sheets_alone() {
    let shop = Shop::new();
    let result = shop.json(&["nest", "job.yaml", "--json", "--out", "nested"], 0);
    has(&result, &["sheets", "unplaced", "placements"]);
    let files = shop.files("nested");
    assert!(
        !files.is_empty() && files.iter().all(|file| file.starts_with("first-job/sheets/")),
        "{files:?}"
    );
}

#[test]
fn a_job_that_does_not_fit_names_what_is_missing_and_writes_the_rest() {
    let shop = Shop::new();
    let job = fs::read_to_string(shop.path("job.yaml"))
        .unwrap()
        .replace("gusset.yaml, quantity: 2", "gusset.yaml, quantity: 200");
    fs::write(shop.path("big.yaml"), job).unwrap();
    let result = shop.json(&["nest", "big.yaml", "--json"], 1);
    assert_eq!(result["unplaced"][0]["part"], "gusset");
    let why = result["unplaced"][0]["why"].as_str().unwrap();
    assert!(why.contains("`sheets`") && why.contains("nesting: {time"), "{why}");
    let left = result["unplaced"][0]["count"].as_u64().unwrap();
    let placed =
        result["placements"].as_array().unwrap().iter().filter(|p| p["part"] == "gusset").count()
            as u64;
    assert_eq!(left + placed, 200);
    assert!(shop.path("output/first-job/sheets/sheet-1.svg").is_file());
    let run = shop.run(&["nest", "big.yaml"]);
    assert_eq!(run.status.code(), Some(1));
    assert!(out(&run).contains("not placed"), "{}", out(&run));
}

#[test]
fn check_lists_findings_and_says_by_its_status_whether_all_is_well() {
    let shop = Shop::new();
    let result = shop.json(&["check", "bracket.yaml", "--json"], 0);
    has(
        &result["findings"][0],
        &[
            "part", "rule", "grade", "value", "limit", "unit", "sense", "ok", "message", "remedy",
            "source", "where",
        ],
    );
    // A bend of radius 0.1 in 1.6 mm sheet is tighter than any steel of the tables takes.
    let tight = fs::read_to_string(shop.path("bracket.yaml"))
        .unwrap()
        .replace("radius: 3.2", "radius: 0.1");
    fs::write(shop.path("tight.yaml"), &tight).unwrap();
    let result = shop.json(&["check", "tight.yaml", "--json"], 1);
    assert!(
        result["findings"].as_array().unwrap().iter().any(|finding| finding["ok"] == false),
        "{result:#}"
    );
    let run = shop.run(&["check", "tight.yaml"]);
    assert_eq!(run.status.code(), Some(1));
    let said = out(&run);
    assert!(said.contains("over    bracket, minimum radius: is 0.1 mm, must be ≥ "), "{said}");
    // A job is checked part by part, with a byte order mark in front as well; and its files stay
    // unwritten.
    let mut job = "\u{feff}".as_bytes().to_vec();
    job.extend(fs::read(shop.path("job.yaml")).unwrap());
    fs::write(shop.path("marked.yaml"), job).unwrap();
    let result = shop.json(&["check", "marked.yaml", "--json"], 0);
    assert!(
        result["findings"].as_array().unwrap().iter().any(|finding| finding["part"] == "rail half")
    );
    assert!(shop.files("output").is_empty());
}

#[test]
fn quiet_prints_nothing_but_errors() {
    let shop = Shop::new();
    let run = shop.run(&["flat", "bracket.yaml", "--quiet"]);
    assert_eq!((run.status.code(), out(&run), err(&run)), (Some(0), String::new(), String::new()));
    assert!(shop.path("output/bracket/blank.svg").is_file());
    let run = shop.run(&["flat", "none.yaml", "--quiet"]);
    assert_eq!(run.status.code(), Some(2));
    assert!(err(&run).contains("none.yaml"), "{}", err(&run));
}

#[test]
fn a_description_may_come_on_standard_input() {
    let shop = Shop::new();
    let text = fs::read(shop.path("gusset.yaml")).unwrap();
    let run = shop.feed(&["flat", "-"], &text);
    assert_eq!(run.status.code(), Some(0), "{}", err(&run));
    assert_eq!(
        shop.files("output"),
        [
            "gusset/blank.dxf",
            "gusset/blank.svg",
            "gusset/drawing.pdf",
            "gusset/drawing.svg",
            "gusset/templates.pdf"
        ]
    );
    // Files that it names are beside where the command runs.
    let run = shop.feed(&["make", "-", "--out", "made"], &fs::read(shop.path("job.yaml")).unwrap());
    assert_eq!(run.status.code(), Some(0), "{}", err(&run));
    let run = shop.feed(
        &["flat", "-", "--json"],
        b"part: x\nunits: mm\nmaterial: 1008\nthickness: 99\nplate: {profile: {circle: {diameter: 9}}}\n",
    );
    assert_eq!(run.status.code(), Some(2));
    let json: Value = serde_json::from_slice(&run.stderr).unwrap();
    assert_eq!(
        (&json["errors"][0]["file"], &json["errors"][0]["line"]),
        (&Value::from("standard input"), &Value::from(4))
    );
}

#[test]
fn output_that_is_no_terminal_has_no_colour() {
    let shop = Shop::new();
    for no_colour in ["", "1"] {
        let run = shop.command(&["flat", "none.yaml"]).env("NO_COLOR", no_colour).output().unwrap();
        assert!(!run.stderr.is_empty() && !run.stderr.contains(&0x1b), "{}", err(&run));
    }
    let run = shop.run(&["flat", "bracket.yaml"]);
    assert!(!run.stdout.contains(&0x1b) && !run.stderr.contains(&0x1b));
}

/// The header variable's value, as it stands two lines behind its name (DXF reference, HEADER
/// section: group codes and values alternate).
fn header_value(dxf: &str, name: &str) -> Option<String> {
    let mut lines = dxf.lines();
    lines.find(|line| line.trim() == name)?;
    lines.nth(1).map(|line| line.trim().to_owned())
}

#[test]
fn dxf_version_and_unit_are_as_asked_for() {
    let shop = Shop::new();
    let written = |more: &[&str]| {
        let run = shop.run(&[&["flat", "gusset.yaml"], more].concat());
        assert_eq!(run.status.code(), Some(0), "{}", err(&run));
        fs::read_to_string(shop.path("output/gusset/blank.dxf")).unwrap()
    };
    // DXF reference: AC1015 is R2000, AC1009 is R12; $INSUNITS 1 inches, 4 millimetres.
    let plain = written(&[]);
    assert_eq!(header_value(&plain, "$ACADVER").as_deref(), Some("AC1015"));
    assert_eq!(header_value(&plain, "$INSUNITS").as_deref(), Some("4"));
    let old = written(&["--dxf", "r12"]);
    assert_eq!(header_value(&old, "$ACADVER").as_deref(), Some("AC1009"));
    let inches = written(&["--dxf-units", "in"]);
    assert_eq!(header_value(&inches, "$INSUNITS").as_deref(), Some("1"));
    let [mm, inch] = [&plain, &inches]
        .map(|dxf| header_value(dxf, "$EXTMAX").expect("an extent").parse::<f64>().unwrap());
    assert!((mm / inch - 25.4).abs() < 1e-3, "{mm} {inch}");
}

#[test]
fn starters_are_accepted_by_every_command_that_takes_them() {
    let shop = Shop::new();
    for file in ["gusset.yaml", "bracket.yaml", "tray.yaml", "rail-half.yaml"] {
        for command in ["flat", "check"] {
            let run = shop.run(&[command, file, "--shop", "shop.yaml"]);
            assert_eq!(run.status.code(), Some(0), "{command} {file}: {}{}", out(&run), err(&run));
        }
    }
    let run = shop.run(&["make", "job.yaml", "--shop", "shop.yaml"]);
    assert_eq!(run.status.code(), Some(0), "{}", err(&run));
}

/// Checks a value against the few words of JSON Schema (draft 2020-12) that ours is written in.
fn validates(schema: &Value, root: &Value, value: &Value, at: &str) -> Result<(), String> {
    if let Some(reference) = schema["$ref"].as_str() {
        let pointer = reference.strip_prefix('#').ok_or(format!("{at}: {reference}"))?;
        validates(root.pointer(pointer).ok_or(format!("{at}: no {reference}"))?, root, value, at)?;
    }
    if let Some(choices) = schema["anyOf"].as_array() {
        let errors: Vec<String> =
            choices.iter().map_while(|choice| validates(choice, root, value, at).err()).collect();
        if errors.len() == choices.len() {
            return Err(errors.join(" / "));
        }
    }
    let kinds: Vec<&str> = match &schema["type"] {
        Value::String(kind) => vec![kind],
        Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).collect(),
        _ => Vec::new(),
    };
    let is = |kind: &&str| match *kind {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.is_u64() || value.is_i64(),
        "boolean" => value.is_boolean(),
        "null" => value.is_null(),
        _ => false,
    };
    if !kinds.is_empty() && !kinds.iter().any(is) {
        return Err(format!("{at}: {value} is none of {kinds:?}"));
    }
    if let Some(map) = value.as_object() {
        for key in schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str) {
            if !map.contains_key(key) {
                return Err(format!("{at}: `{key}` is missing"));
            }
        }
        for (key, inner) in map {
            match (&schema["properties"][key], &schema["additionalProperties"]) {
                (Value::Null, Value::Bool(false)) => {
                    return Err(format!("{at}: `{key}` is not known"));
                }
                (Value::Null, other @ Value::Object(_)) => {
                    validates(other, root, inner, &format!("{at}.{key}"))?;
                }
                (Value::Null, _) => {}
                (known, _) => validates(known, root, inner, &format!("{at}.{key}"))?,
            }
        }
    }
    if let Some(list) = value.as_array() {
        let (least, most) = (
            schema["minItems"].as_u64().unwrap_or(0),
            schema["maxItems"].as_u64().unwrap_or(u64::MAX),
        );
        if !(least..=most).contains(&(list.len() as u64)) {
            return Err(format!("{at}: {} items", list.len()));
        }
        if schema["items"].is_object() {
            for (i, item) in list.iter().enumerate() {
                validates(&schema["items"], root, item, &format!("{at}[{i}]"))?;
            }
        }
    }
    Ok(())
}

#[test]
fn starters_fit_the_schema_and_slips_do_not() {
    let shop = Shop::new();
    for (file, of) in [
        ("gusset.yaml", "part"),
        ("bracket.yaml", "part"),
        ("tray.yaml", "part"),
        ("rail-half.yaml", "part"),
        ("job.yaml", "job"),
        ("shop.yaml", "shop"),
    ] {
        let run = shop.run(&["schema", of]);
        assert_eq!(run.status.code(), Some(0));
        let schema: Value = serde_json::from_slice(&run.stdout).unwrap();
        assert!(schema["$schema"].as_str().unwrap().contains("2020-12"));
        let text = fs::read_to_string(shop.path(file)).unwrap();
        let value: Value = serde_yaml::from_str(&text).unwrap();
        validates(&schema, &schema, &value, file).unwrap();
        let all: Value = serde_json::from_slice(&shop.run(&["schema"]).stdout).unwrap();
        validates(&all, &all, &value, file).unwrap();
        let mut slip = value.clone();
        slip["thicknes"] = Value::from(1);
        assert!(validates(&schema, &schema, &slip, file).is_err(), "{file}");
        if of == "part" {
            let mut slip = value;
            slip["thickness"] = Value::from(vec![1]);
            assert!(validates(&schema, &schema, &slip, file).is_err(), "{file}");
        }
    }
}

#[test]
fn strip_gives_the_k_of_a_hand_worked_strip() {
    let shop = Shop::new();
    // Strip 100 mm, legs 52.1 and 52.3 to the outside mould line, T 1.6, R 3, 90 degrees, worked by
    // hand: deduction = 52.1 + 52.3 - 100 = 4.4; setback = R + T = 4.6; allowance = 9.2 - 4.4 =
    // 4.8; K = (allowance / (pi/2) - R) / T = (3.0557749 - 3) / 1.6 = 0.0348593.
    let result = shop.json(
        &["strip", "100", "52.1", "52.3", "--thickness", "1.6", "--radius", "3", "--json"],
        0,
    );
    assert!((result["k_factor"].as_f64().unwrap() - 0.034_859_3).abs() < 1e-6, "{result}");
    assert!((result["allowance_mm"].as_f64().unwrap() - 4.8).abs() < 1e-9, "{result}");
    // In inches: 4 in, legs 2.06 in, T 1/16 in, R 1/8 in: deduction 0.12, setbacks 0.375, allowance
    // 0.255 in = 6.477 mm, K = (0.255 / (pi/2) - 0.125) / 0.0625 = 0.5974.
    let inch = [
        "strip",
        "4",
        "2.06",
        "2.06",
        "--thickness",
        "1/16",
        "--radius",
        "1/8",
        "--units",
        "in",
        "--json",
    ];
    let result = shop.json(&inch, 0);
    assert!((result["k_factor"].as_f64().unwrap() - 0.597_4).abs() < 1e-4, "{result}");
    assert!((result["allowance_mm"].as_f64().unwrap() - 6.477).abs() < 1e-9, "{result}");
}

/// K of the starter's strip by hand: deduction 51.8 + 51.8 - 100 = 3.6, setbacks 2 (3.2 + 1.6),
/// allowance 9.6 - 3.6 = 6, so K = (6 / (pi/2) - 3.2) / 1.6 = 0.387. With legs of 51.7 and 51.6 it
/// would be 0.507, which is used but doubted.
#[test]
fn the_starters_strip_is_a_usual_one_and_an_odd_one_is_warned_of() {
    let shop = Shop::new();
    let bracket = fs::read_to_string(shop.path("bracket.yaml"))
        .unwrap()
        .replace("grain: along", "bend_allowance: strips");
    fs::write(shop.path("measured.yaml"), bracket).unwrap();
    let starter = fs::read_to_string(shop.path("shop.yaml")).unwrap();
    let odd = starter.replace("legs: [51.8, 51.8]", "legs: [51.7, 51.6]");
    assert_ne!(odd, starter);
    fs::write(shop.path("odd.yaml"), odd).unwrap();
    let doubts = |file: &str| {
        let flat = shop.json(&["flat", "measured.yaml", "--shop", file, "--json"], 0)[0].clone();
        let warned = flat["warnings"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|warning| warning["code"] == "k-factor")
            .count();
        let checked = shop.json(&["check", "measured.yaml", "--shop", file, "--json"], 0);
        let found = checked["findings"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|finding| finding["rule"] == "k-factor")
            .count();
        assert_eq!(warned, found, "{flat} {checked}");
        let taken = flat["assumed"]
            .as_array()
            .unwrap()
            .iter()
            .find(|row| row["key"] == "bend_allowance")
            .expect("the strip taken")
            .clone();
        assert!(
            taken["value"]
                .as_str()
                .unwrap()
                .starts_with("measured: strip of 4130-annealed, 1.6 mm"),
            "{taken}"
        );
        (flat["bends"][0]["k_factor"].as_f64().unwrap(), warned)
    };
    let (k, warned) = doubts("shop.yaml");
    assert!(
        (k - (6.0 / std::f64::consts::FRAC_PI_2 - 3.2) / 1.6).abs() < 1e-6 && warned == 0,
        "{k} {warned}"
    );
    let (k, warned) = doubts("odd.yaml");
    assert!(k > 0.5 && warned > 0, "{k} {warned}");
    let told = out(&shop.run(&["flat", "measured.yaml", "--shop", "odd.yaml"]));
    assert!(
        told.contains("K = 0.507 is outside 0.2 to 0.5") && told.contains("strip of 4130-annealed"),
        "{told}"
    );
}

/// What a strip does wrong is said once, and the help says what to do.
#[test]
fn an_impossible_strip_is_told_of_in_true_words() {
    let shop = Shop::new();
    let sharp =
        |flat: &str| shop.run(&["strip", flat, "52", "52", "--thickness", "2", "--radius", "0"]);
    let limit = sharp("100");
    assert_eq!(limit.status.code(), Some(0), "{}", err(&limit));
    assert!(
        out(&limit).starts_with("K = 0 of the thickness from the inside face; outside the usual"),
        "{}",
        out(&limit)
    );
    for (flat, words) in [("98", "2 mm too short"), ("104", "0.858 mm too long")] {
        let run = sharp(flat);
        let said = err(&run).split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        assert_eq!(run.status.code(), Some(2));
        assert!(said.contains(words) && said.matches("again").count() == 1, "{said}");
    }
}

#[test]
fn a_strip_is_saved_once_and_never_over_another() {
    let shop = Shop::new();
    let save = |file: &str, tool: &str| {
        let arguments = [
            "strip",
            "100",
            "51.6",
            "51.7",
            "--thickness",
            "1.6",
            "--radius",
            "3.2",
            "--material",
            "4130-annealed",
        ];
        shop.run(&[&arguments[..], &["--tool", tool, "--save", file]].concat())
    };
    for file in ["new-shop.yaml", "shop.yaml"] {
        let run = save(file, "V12");
        assert_eq!(run.status.code(), Some(0), "{}", err(&run));
        let saved = fs::read(shop.path(file)).unwrap();
        let run = save(file, "V12");
        assert_eq!(run.status.code(), Some(2), "{file}");
        assert!(err(&run).contains("already"), "{}", err(&run));
        assert_eq!(fs::read(shop.path(file)).unwrap(), saved, "{file}");
        assert_eq!(save(file, "V16").status.code(), Some(0), "{file}");
    }
    // And it is used: K = ((9.6 - 3.3) / (pi/2) - 3.2) / 1.6 with deduction 51.6 + 51.7 - 100 = 3.3
    // and setbacks 2 (3.2 + 1.6).
    let k = (6.3 / std::f64::consts::FRAC_PI_2 - 3.2) / 1.6;
    let bracket = fs::read_to_string(shop.path("bracket.yaml"))
        .unwrap()
        .replace("grain: along", "bend_allowance: strips");
    fs::write(shop.path("measured.yaml"), bracket).unwrap();
    let list = shop.json(&["flat", "measured.yaml", "--shop", "new-shop.yaml", "--json"], 0);
    let used = list[0]["bends"][0]["k_factor"].as_f64().unwrap();
    assert!((used - k).abs() < 1e-6, "{used} {k}");
}

#[test]
fn where_nothing_can_be_written_nothing_is_left_behind() {
    let shop = Shop::new();
    fs::write(shop.path("taken"), "a file").unwrap();
    let run = shop.run(&["flat", "bracket.yaml", "--out", "taken/below"]);
    assert_eq!(run.status.code(), Some(2));
    assert!(
        err(&run).contains("cannot be written") && !err(&run).contains("os error"),
        "{}",
        err(&run)
    );
    // The second file's name is a folder: the first one must not appear either.
    fs::create_dir_all(shop.path("out/gusset/blank.dxf")).unwrap();
    let run = shop.run(&["flat", "bracket.yaml", "gusset.yaml", "--out", "out", "--json"]);
    assert_eq!(run.status.code(), Some(2));
    assert!(run.stdout.is_empty());
    let json: Value = serde_json::from_slice(&run.stderr).unwrap();
    assert!(json["errors"][0]["message"].as_str().unwrap().contains("blank.dxf"), "{json}");
    assert!(shop.files("out").is_empty(), "{:?}", shop.files("out"));
    assert!(!shop.path("out/bracket").exists());
    let run = shop.run(&["make", "job.yaml", "--out", "taken"]);
    assert_eq!(run.status.code(), Some(2));
    assert_eq!(fs::read_to_string(shop.path("taken")).unwrap(), "a file");
}

#[test]
fn a_second_run_replaces_the_files_of_the_first() {
    let shop = Shop::new();
    assert_eq!(shop.run(&["flat", "bracket.yaml"]).status.code(), Some(0));
    let first = fs::read(shop.path("output/bracket/blank.svg")).unwrap();
    assert_eq!(shop.run(&["flat", "bracket.yaml"]).status.code(), Some(0));
    assert_eq!(fs::read(shop.path("output/bracket/blank.svg")).unwrap(), first);
    assert_eq!(
        shop.files("output"),
        [
            "bracket/bend-order.svg",
            "bracket/blank.dxf",
            "bracket/blank.svg",
            "bracket/drawing.pdf",
            "bracket/drawing.svg",
            "bracket/formed.stl",
            "bracket/templates.pdf",
        ]
    );
}

#[test]
fn a_reader_that_goes_away_is_no_panic() {
    let shop = Shop::new();
    for arguments in [
        &["flat", "bracket.yaml", "--json"][..],
        &["schema"],
        &["new", "job"],
        &["completions", "bash"],
        &["check", "bracket.yaml"],
        &["--help"],
        &["flat", "none.yaml"],
    ] {
        let mut child =
            shop.command(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        let status = child.wait().unwrap().code();
        assert!(!said.contains("panicked"), "{arguments:?}: {said}");
        assert!(matches!(status, Some(0 | 2)), "{arguments:?}: {status:?}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn results_that_find_no_room_are_an_error() {
    let shop = Shop::new();
    let full = || fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    for arguments in [
        &["flat", "bracket.yaml", "--json"][..],
        &["schema"],
        &["completions", "bash"],
        &["new", "plate"],
    ] {
        let run = shop.command(arguments).stdout(full()).output().unwrap();
        assert_eq!(run.status.code(), Some(2), "{arguments:?}");
        assert!(err(&run).contains("no space left"), "{arguments:?}: {}", err(&run));
    }
}

#[test]
fn command_lines_that_mean_nothing_end_with_2() {
    let shop = Shop::new();
    for arguments in [
        &["bend", "bracket.yaml"][..],
        &["flat", "bracket.yaml", "--kerf", "2"],
        &["flat"],
        &[],
        &["completions", "cobol"],
    ] {
        let run = shop.run(arguments);
        assert_eq!(run.status.code(), Some(2), "{arguments:?}");
        assert!(run.stdout.is_empty() && !run.stderr.is_empty(), "{arguments:?}");
    }
    for arguments in [&["--help"][..], &["--version"], &["flat", "--help"]] {
        let run = shop.run(arguments);
        assert_eq!((run.status.code(), run.stderr.is_empty()), (Some(0), true), "{arguments:?}");
        assert!(!run.stdout.is_empty());
    }
    assert!(!shop.path("output").exists());
}

#[test]
fn completions_exist_for_every_shell() {
    let shop = Shop::new();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let run = shop.run(&["completions", shell]);
        assert_eq!(run.status.code(), Some(0), "{shell}");
        assert!(out(&run).contains("planish") && out(&run).contains("strip"), "{shell}");
    }
}

/// Every finding of every shape and of the demo job: its grade is what its value and limit say, the
/// terminal shows the same findings, and what is over a limit is told by the exit status.
#[test]
fn no_grade_contradicts_its_figures() {
    let shop = Shop::new();
    let shapes = Path::new(env!("CARGO_MANIFEST_DIR")).join("shapes");
    let entries =
        fs::read_dir(&shapes).expect("shapes/").map(|entry| entry.expect("an entry").path());
    let parts =
        entries.filter(|path| path.extension().is_some_and(|extension| extension == "yaml"));
    let (mut figures, mut broken) = (0, 0);
    for file in parts.chain([shapes.join("slate-wren/job.yaml")]) {
        let file = file.to_str().expect("UTF-8");
        let run = shop.run(&["check", file, "--json"]);
        let result: Value =
            serde_json::from_slice(&run.stdout).unwrap_or_else(|error| panic!("{file}: {error}"));
        let findings = result["findings"].as_array().expect("findings");
        for finding in findings {
            let grade = finding["grade"].as_str().expect("a grade");
            assert_eq!(finding["ok"], grade != "over", "{finding}");
            let (Some(value), Some(limit)) = (finding["value"].as_f64(), finding["limit"].as_f64())
            else {
                assert!(finding["sense"].is_null() && finding["unit"].is_null(), "{finding}");
                continue;
            };
            let holds = match finding["sense"].as_str().expect("a sense") {
                "at_least" => value >= limit,
                "at_most" => value <= limit,
                other => panic!("{other}"),
            };
            assert_eq!(holds, grade == "within", "{finding}");
            (figures, broken) = (figures + 1, broken + usize::from(!holds));
        }
        let over = findings.iter().any(|finding| finding["grade"] == "over");
        assert_eq!(run.status.code(), Some(i32::from(over)), "{file}");
        if file.ends_with("job.yaml") {
            let table = out(&shop.run(&["check", file]));
            let missing = findings
                .iter()
                .find(|finding| !table.contains(finding["message"].as_str().expect("a message")));
            assert!(missing.is_none(), "{missing:?}\n{table}");
        }
    }
    assert!(figures > 40 && broken > 2, "{figures} with figures, {broken} of them broken");
}
