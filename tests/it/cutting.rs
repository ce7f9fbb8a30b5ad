//! The cutting of sheets by the command from outside: who moves the torch, lead-ins, order, time,
//! what is left over, test pieces, Ctrl-C.

#![allow(clippy::unwrap_used, reason = "a test may fail")]

use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};

use dxf::entities::EntityType;
use indoc::{formatdoc, indoc};
use serde_json::Value;

const PLATE: &str = indoc!(
    "
    part: plate
    units: mm
    material: 1008
    thickness: 2
    plate:
      profile: {rectangle: {size: [100, 50]}}
      openings:
        - {circle: {diameter: 20}}
        - {slot: {length: 20, width: 1, at: [30, 0]}}
    "
);

/// A folder with files in it.
struct Folder(tempfile::TempDir);

impl Folder {
    fn with(files: &[(&str, &str)]) -> Self {
        let folder = Self(tempfile::tempdir().unwrap());
        for (name, text) in files {
            fs::write(folder.path(name), text).unwrap();
        }
        folder
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_planish"));
        command.args(arguments).current_dir(self.0.path()).stdin(Stdio::null());
        command
    }

    fn json(&self, file: &str, status: i32) -> Value {
        let run: Output = self.command(&["nest", file, "--json", "--out", "out"]).output().unwrap();
        assert_eq!(run.status.code(), Some(status), "{}", String::from_utf8_lossy(&run.stderr));
        serde_json::from_slice(&run.stdout).unwrap()
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }
}

fn job(name: &str, parts: &str, sheets: &str, cutting: &str) -> String {
    formatdoc!(
        "
        job: {name}
        units: mm
        parts:
        {parts}sheets:
        {sheets}cutting: {{{cutting}}}
        nesting: {{time: 20 min, tries: 3000}}
        "
    )
}

const SHEET: &str = "  - {size: [400, 300], material: 1008, thickness: 2, count: 1}\n";

/// A line of a DXF file: layer, points, whether closed.
type Line = (String, Vec<(f64, f64)>, bool);

/// The lines of a DXF file in order.
fn lines(text: &str) -> Vec<Line> {
    let file = dxf::Drawing::load(&mut text.as_bytes()).unwrap();
    file.entities()
        .filter_map(|entity| {
            let layer = entity.common.layer.clone();
            match &entity.specific {
                EntityType::LwPolyline(line) => Some((
                    layer,
                    line.vertices.iter().map(|v| (v.x, v.y)).collect(),
                    line.is_closed(),
                )),
                EntityType::Line(line) => {
                    Some((layer, vec![(line.p1.x, line.p1.y), (line.p2.x, line.p2.y)], false))
                }
                _ => None,
            }
        })
        .collect()
}

fn extent(points: &[(f64, f64)]) -> (f64, f64) {
    let span = |values: Vec<f64>| {
        values.iter().fold(f64::MIN, |a, b| a.max(*b))
            - values.iter().fold(f64::MAX, |a, b| a.min(*b))
    };
    (span(points.iter().map(|p| p.0).collect()), span(points.iter().map(|p| p.1).collect()))
}

fn sorted(size: (f64, f64)) -> (f64, f64) {
    (size.0.min(size.1), size.0.max(size.1))
}

fn finding<'a>(result: &'a Value, rule: &str) -> Option<&'a Value> {
    result["findings"].as_array().unwrap().iter().find(|finding| finding["rule"] == rule)
}

#[test]
fn compensated_lines_are_moved_once_and_led_into_in_order() {
    let parts = "  - {file: plate.yaml, quantity: 3, turns: [0]}\n";
    let folder = Folder::with(&[
        ("plate.yaml", PLATE),
        (
            "job.yaml",
            &job(
                "moved",
                parts,
                SHEET,
                "kerf: 2, spacing: 5, margin: 8, compensate: true, feed: 3000, pierce: 0.5",
            ),
        ),
    ]);
    let result = folder.json("job.yaml", 0);
    let dxf = folder.read("out/moved/sheets/sheet-1.dxf");
    let lines = lines(&dxf);
    let cuts: Vec<usize> = (0..lines.len())
        .filter(|&i| ["OUTSIDE", "OPENING"].contains(&lines[i].0.as_str()))
        .collect();
    assert_eq!(cuts.len(), 6, "three plates, three holes; the slots are narrower than the kerf");
    for &i in &cuts {
        let (layer, points, closed) = &lines[i];
        assert!(closed);
        let (short, long) = sorted(extent(points));
        let wanted = if layer == "OUTSIDE" { (52.0, 102.0) } else { (18.0, 18.0) };
        // A circle's vertices lie on its ends; a plate's corners are rounded by half a kerf, its
        // sides where they belong.
        assert!(
            (long - wanted.1).abs() < 1e-5
                && (layer == "OPENING" || (short - wanted.0).abs() < 1e-5),
            "{layer}: {short} x {long}"
        );
        let lead = &lines[i - 1];
        assert_eq!(lead.0, "LEAD");
        let (end, start) = (lead.1[lead.1.len() - 1], points[0]);
        assert!((end.0 - start.0).hypot(end.1 - start.1) < 1e-5, "the lead-in ends off the line");
    }
    assert!(
        lines.iter().filter(|line| line.0 == "SCRIBE").count() == 3,
        "slots are scribed instead"
    );
    assert!(dxf.contains("set no offset at the machine"));
    let narrow = finding(&result, "cut-width").unwrap();
    assert_eq!(
        (&narrow["ok"], &narrow["part"], &narrow["sheet"]),
        (&Value::Bool(false), &"plate".into(), &"sheet-1".into())
    );
    // What is cut: 2 (100 + 50) + 2 pi for the rounded corners, and 18 pi, three times, and the
    // lead-ins.
    let sheet = &result["sheets"][0];
    let number = |value: &Value| value.as_f64().unwrap();
    let bare = 3.0 * (300.0 + 20.0 * std::f64::consts::PI);
    let leads = number(&sheet["cut_length_mm"]) - bare;
    assert!(leads > 6.0 * 1.0 && leads < 6.0 * 6.1, "{leads} mm of lead-ins");
    assert_eq!(sheet["pierces"], 6);
    assert_eq!(sheet["compensated"], true);
    let time = number(&sheet["cut_length_mm"]) / 3000.0 * 60.0 + 6.0 * 0.5;
    assert!((number(&sheet["cut_time_s"]) - time).abs() < 1e-6);
    assert!((number(&result["cut_time_s"]) - time).abs() < 1e-6);
    assert!(folder.read("out/moved/sheets/sheet-1.svg").contains("set no offset at the machine"));
}

#[test]
fn without_compensation_the_lines_are_the_parts_own() {
    let parts = "  - {file: plate.yaml, quantity: 2, turns: [0]}\n";
    let folder = Folder::with(&[
        ("plate.yaml", PLATE),
        ("job.yaml", &job("own", parts, SHEET, "kerf: 2, feed: 3000, pierce: 0.5")),
    ]);
    let result = folder.json("job.yaml", 0);
    let dxf = folder.read("out/own/sheets/sheet-1.dxf");
    let lines = lines(&dxf);
    assert!(lines.iter().all(|line| line.0 != "LEAD"));
    assert_eq!(lines.iter().filter(|line| line.0 == "OPENING").count(), 4);
    for line in lines.iter().filter(|line| line.0 == "OUTSIDE") {
        let (short, long) = sorted(extent(&line.1));
        assert!((short - 50.0).abs() < 1e-6 && (long - 100.0).abs() < 1e-6);
    }
    assert!(dxf.contains("The machine must compensate: kerf width 2 mm (an offset of 1 mm"));
    // 2 (100 + 50), 20 pi, and a slot of 2 x 19 + pi.
    let length = 2.0 * (300.0 + 20.0 * std::f64::consts::PI + 38.0 + std::f64::consts::PI);
    assert!((result["sheets"][0]["cut_length_mm"].as_f64().unwrap() - length).abs() < 1e-6);
    assert_eq!(result["sheets"][0]["pierces"], 6);
}

#[test]
fn openings_come_first_and_a_ring_after_what_lies_in_it() {
    let ring = indoc!(
        "
        part: ring
        units: mm
        material: 1008
        thickness: 2
        plate:
          profile: {circle: {diameter: 280}}
          openings: [{circle: {diameter: 240}}]
        "
    );
    let parts = "  - {file: ring.yaml}\n  - {file: plate.yaml}\n";
    let sheet = "  - {size: [300, 300], material: 1008, thickness: 2, count: 1}\n";
    let cutting = "kerf: 1.4, spacing: 4, margin: 8, compensate: true";
    let folder = Folder::with(&[
        ("ring.yaml", ring),
        ("plate.yaml", PLATE),
        ("job.yaml", &job("rings", parts, sheet, cutting)),
    ]);
    folder.json("job.yaml", 0);
    let lines = lines(&folder.read("out/rings/sheets/sheet-1.dxf"));
    let place = |wanted: f64| {
        let fits = |line: &&Line| line.2 && (sorted(extent(&line.1)).1 - wanted).abs() < 12.0;
        lines
            .iter()
            .position(|line| fits(&line))
            .unwrap_or_else(|| panic!("no line {wanted} mm long"))
    };
    // The plate in the ring, wherever it is turned, is at most 113 mm across; the ring's opening
    // 238.6; the ring 281.4.
    let (plate, opening, outside) = (place(105.0), place(238.6), place(281.4));
    assert!(plate < opening && opening < outside, "{plate} {opening} {outside}");
}

#[test]
fn what_is_left_is_the_next_jobs_stock() {
    let parts = "  - {file: plate.yaml, quantity: 4, turns: [0]}\n";
    let sheet = "  - {size: [600, 400], material: 1008, thickness: 2, count: 1}\n";
    let folder = Folder::with(&[
        ("plate.yaml", PLATE),
        ("first.yaml", &job("first", parts, sheet, "kerf: 2, spacing: 4, compensate: true")),
    ]);
    let first = folder.json("first.yaml", 0);
    assert!(first["sheets"][0]["remnants"].as_u64().unwrap() >= 1);
    let left = &first["sheets"][0]["left_over"];
    assert!(
        left["width_mm"].as_f64().unwrap() * left["height_mm"].as_f64().unwrap()
            > 0.6 * 600.0 * 400.0,
        "{left}"
    );
    let more = "  - {file: plate.yaml, quantity: 9}\n";
    let second = job(
        "second",
        more,
        "  - {file: out/first/sheets/sheet-1-remnant.yaml}\n",
        "kerf: 2, spacing: 4",
    );
    fs::write(folder.path("second.yaml"), second).unwrap();
    let second = folder.json("second.yaml", 0);
    assert_eq!(second["sheets"].as_array().unwrap().len(), 1);
    // Both lie in the same sheet's coordinates: as circles about and boxes, no plate of one is over
    // one of the other.
    let boxes = |result: &Value| -> Vec<(f64, f64, f64)> {
        let number = |value: &Value| value.as_f64().unwrap();
        result["placements"]
            .as_array()
            .unwrap()
            .iter()
            .map(|p| (number(&p["x_mm"]), number(&p["y_mm"]), number(&p["angle_deg"]).to_radians()))
            .collect()
    };
    let corners = |(x, y, angle): (f64, f64, f64)| {
        let (s, c) = angle.sin_cos();
        // Points along the plate's edge and inside it.
        (0..=20)
            .flat_map(move |i| {
                (0..=10).map(move |k| (-50.0 + 5.0 * f64::from(i), -25.0 + 5.0 * f64::from(k)))
            })
            .map(move |(u, v)| (x + c * u - s * v, y + s * u + c * v))
    };
    for &other in &boxes(&second) {
        for (px, py) in corners(other) {
            assert!((0.0..=600.0).contains(&px) && (0.0..=400.0).contains(&py), "off the sheet");
            for &(x, y, angle) in &boxes(&first) {
                let (s, c) = angle.sin_cos();
                let (u, v) = (c * (px - x) + s * (py - y), -s * (px - x) + c * (py - y));
                assert!(u.abs() > 52.0 || v.abs() > 27.0, "two plates in one place at {px}, {py}");
            }
        }
    }
}

#[test]
fn test_pieces_go_into_what_is_left_and_never_on_a_further_sheet() {
    let parts = "  - {file: plate.yaml, quantity: 4, turns: [0]}\n";
    let cutting = "kerf: 2, compensate: true, coupon: true, bend_strips: 2";
    let folder = Folder::with(&[
        ("plate.yaml", PLATE),
        ("job.yaml", &job("tests", parts, &SHEET.replace("count: 1", "count: 5"), cutting)),
    ]);
    let result = folder.json("job.yaml", 0);
    assert_eq!(result["sheets"].as_array().unwrap().len(), 1);
    let pieces = result["test_pieces"].as_array().unwrap();
    assert_eq!(pieces.len(), 3, "{pieces:?}");
    assert_eq!(
        (result["placements"].as_array().unwrap().len(), &result["sheets"][0]["parts"]),
        (4, &4.into())
    );
    // One strip along the grain, one across.
    let upright =
        |piece: &Value| (piece["angle_deg"].as_f64().unwrap().to_radians().cos()).abs() < 1e-6;
    assert!(!upright(&pieces[1]) && upright(&pieces[2]), "{pieces:?}");
    let outsides = lines(&folder.read("out/tests/sheets/sheet-1.dxf"))
        .into_iter()
        .filter(|line| line.0 == "OUTSIDE");
    let sizes: Vec<(f64, f64)> = outsides.map(|line| sorted(extent(&line.1))).collect();
    for wanted in [(62.0, 62.0), (32.0, 102.0)] {
        assert!(
            sizes
                .iter()
                .any(|size| (size.0 - wanted.0).abs() < 1e-5 && (size.1 - wanted.1).abs() < 1e-5),
            "{wanted:?} in {sizes:?}"
        );
    }
    // A sheet with no room to spare gets none, and the job is done all the same.
    let tight = "  - {size: [120, 70], material: 1008, thickness: 2, count: 5}\n";
    fs::write(folder.path("tight.yaml"), job("tight", "  - {file: plate.yaml}\n", tight, cutting))
        .unwrap();
    let result = folder.json("tight.yaml", 0);
    assert_eq!(result["sheets"].as_array().unwrap().len(), 1);
    assert!(result["test_pieces"].is_null());
    assert_eq!(
        result["findings"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|finding| finding["rule"] == "test-piece-room")
            .count(),
        3
    );
}

#[test]
fn sheets_of_an_earlier_run_do_not_stay() {
    let folder = Folder::with(&[
        ("plate.yaml", PLATE),
        ("job.yaml", &job("again", "  - {file: plate.yaml}\n", SHEET, "kerf: 2")),
    ]);
    fs::create_dir_all(folder.path("out/again/sheets")).unwrap();
    for name in
        ["sheet-2.svg", "sheet-2.dxf", "sheet-12-remnant.yaml", "sheet-notes.txt", "my-sheet-2.svg"]
    {
        fs::write(folder.path(&format!("out/again/sheets/{name}")), "old").unwrap();
    }
    folder.json("job.yaml", 0);
    let mut left: Vec<String> = fs::read_dir(folder.path("out/again/sheets"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    left.sort();
    assert_eq!(
        left,
        ["my-sheet-2.svg", "sheet-1-remnant.yaml", "sheet-1.dxf", "sheet-1.svg", "sheet-notes.txt"]
    );
}

#[test]
fn a_grain_may_be_off_by_its_tolerance_and_no_more() {
    let strip = |tolerance: &str| {
        formatdoc!(
            "
            part: strip
            units: mm
            material: 1008
            thickness: 2
            grain: along
            {tolerance}plate: {{profile: {{rectangle: {{size: [201, 5]}}}}}}
            "
        )
    };
    let sheet = "  - {size: [200, 60], material: 1008, thickness: 2, count: 1}\n";
    let text = job("grain", "  - {file: strip.yaml}\n", sheet, "kerf: 1, spacing: 1, margin: 0");
    let folder = Folder::with(&[("strip.yaml", &strip("")), ("job.yaml", &text)]);
    assert_eq!(folder.json("job.yaml", 1)["unplaced"][0]["count"], 1);
    fs::write(folder.path("strip.yaml"), strip("grain_tolerance: 15\n")).unwrap();
    let result = folder.json("job.yaml", 0);
    let angle = result["placements"][0]["angle_deg"].as_f64().unwrap();
    let off = (angle.rem_euclid(180.0)).min(180.0 - angle.rem_euclid(180.0));
    assert!(off > 5.0 && off <= 15.0 + 1e-6, "{off} degrees off");
}

#[test]
fn a_cut_that_must_begin_on_a_stretched_edge_says_so() {
    let flanged = indoc!(
        "
        part: flanged
        units: mm
        material: dc04
        thickness: 1
        plate:
          profile: {rectangle: {size: [120, 80]}}
          openings: [{circle: {diameter: 40}, lip: {height: 5, radius: 2, angle: 60}}]
        "
    );
    let sheet = "  - {size: [400, 300], material: dc04, thickness: 1, count: 1}\n";
    let folder = Folder::with(&[
        ("flanged.yaml", flanged),
        ("job.yaml", &job("lip", "  - {file: flanged.yaml}\n", sheet, "compensate: true")),
    ]);
    let result = folder.json("job.yaml", 0);
    let found = finding(&result, "cut-start").expect("the lip's edge grows all round");
    assert_eq!(found["ok"], true);
    assert!(found["message"].as_str().unwrap().contains("opening 1"), "{found}");
}

/// Two plates fit one above the other: with no spacing their cuts are one line of 100 mm, whoever
/// compensates, and 2 mm apart two.
#[test]
fn cuts_along_one_line_are_named() {
    for (compensate, spacing, height) in
        [(true, 0.0, 112.0), (false, 0.0, 112.0), (true, 2.0, 114.0)]
    {
        let sheet =
            format!("  - {{size: [110, {height}], material: 1008, thickness: 2, count: 1}}\n");
        let cutting = format!("kerf: 1.5, spacing: {spacing}, margin: 3, compensate: {compensate}");
        let text = job("pair", "  - {file: plate.yaml, quantity: 2}\n", &sheet, &cutting);
        let result =
            Folder::with(&[("plate.yaml", PLATE), ("job.yaml", &text)]).json("job.yaml", 0);
        assert_eq!(result["placements"].as_array().unwrap().len(), 2);
        let found = finding(&result, "shared-cut");
        assert_eq!(found.is_some(), spacing == 0.0);
        if let Some(found) = found {
            let length = found["value"].as_f64().unwrap();
            assert!((length - 100.0).abs() < 3.0 && found["ok"] == true, "{found}");
            assert!(found["message"].as_str().unwrap().contains("2 copies"), "{found}");
        }
    }
}

#[cfg(unix)]
#[test]
fn ctrl_c_writes_the_best_so_far() {
    let parts = "  - {file: plate.yaml, quantity: 40, turns: any}\n";
    let roll = "  - {roll: {width: 400}, material: 1008, thickness: 2}\n";
    let text =
        job("long", parts, roll, "kerf: 2").replace("time: 20 min, tries: 3000", "time: 20 min");
    let folder = Folder::with(&[("plate.yaml", PLATE), ("job.yaml", &text)]);
    // Ctrl-C before the nest begins just ends the program: a slow machine gets more time.
    for wait in [2, 5, 15, 40] {
        let child = folder
            .command(&["nest", "job.yaml", "--out", "out"])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        std::thread::sleep(std::time::Duration::from_secs(wait));
        let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
        assert!(sent.success(), "it ended by itself");
        let run = child.wait_with_output().unwrap();
        if run.status.code() == Some(130) || run.status.code().is_none() {
            continue;
        }
        let said = String::from_utf8_lossy(&run.stderr);
        assert!(matches!(run.status.code(), Some(0 | 1)), "{:?}: {said}", run.status);
        assert!(said.contains("stopped by Ctrl-C"), "{said}");
        assert!(
            folder.path("out/long/sheets/sheet-1.dxf").is_file()
                && folder.path("out/long/sheets/sheet-1.svg").is_file()
        );
        return;
    }
    panic!("no nest ever began");
}
