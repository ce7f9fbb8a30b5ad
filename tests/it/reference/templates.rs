//! Printed templates, drawn by pypdfium2 and measured on the page as with a steel rule.

use std::process::Command;

use serde_json::Value;

use super::run;
use crate::support::asserts::assert_near;

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// What `planish flat` prints of the backbone, measured; the first `sheets` behind the index are put
/// together.
fn backbone(options: &[&str], sheets: usize) -> Value {
    let folder = tempfile::tempdir().expect("a folder");
    let run_of = Command::new(env!("CARGO_BIN_EXE_planish"))
        .args(["flat", "shapes/backbone.yaml", "--quiet", "--out"])
        .arg(folder.path())
        .args(options)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .status()
        .expect("planish starts");
    assert!(run_of.success());
    let file = |name: &str| folder.path().join("backbone").join(name).display().to_string();
    run("measure_templates.py", &[file("templates.pdf"), file("blank.dxf"), sheets.to_string()])
}

#[test]
#[ignore = "needs PLANISH_PYTHON; .ci/run sets it"]
fn bars_measure_what_they_say_and_sheets_go_together_to_the_part() {
    let measured = backbone(&[], 4);
    assert_eq!(measured["print_scaling"], false);
    for size in measured["pages"].as_array().expect("pages") {
        let mut size = [number(&size[0]), number(&size[1])];
        size.sort_by(f64::total_cmp);
        assert_near("A4", size[0], 595.276, 5e-4);
        assert_near("A4", size[1], 841.890, 5e-4);
    }
    let bars = measured["bars"].as_array().expect("bars");
    assert!(bars.len() > 8, "{bars:?}");
    for bar in bars {
        for axis in ["across", "up"] {
            let (mm, inch) = (number(&bar[axis][0]), number(&bar[axis][1]));
            let long = mm > 150.0;
            assert_near("a bar in mm", mm, if long { 200.0 } else { 100.0 }, 0.1);
            assert_near("a bar in inches", inch, if long { 203.2 } else { 101.6 }, 0.1);
        }
    }
    let together = &measured["together"];
    assert_eq!(together["joints"], 3);
    assert!(number(&together["rings_off_mm"]) < 0.1, "{together}");
    assert!(number(&together["points"]) > 30.0, "{together}");
    assert!(number(&together["outline_off_mm"]) < 0.1, "{together}");
}

#[test]
#[ignore = "needs PLANISH_PYTHON; .ci/run sets it"]
fn a_print_scale_stretches_bars_and_part_alike() {
    let measured = backbone(&["--paper", "a3", "--print-scale", "1.02,0.98"], 0);
    for bar in measured["bars"].as_array().expect("bars") {
        for (axis, scale) in [("across", 1.02), ("up", 0.98)] {
            let mm = number(&bar[axis][0]);
            let wanted = if mm > 150.0 { 200.0 } else { 100.0 };
            assert_near("a stretched bar", mm, wanted * scale, 0.1);
        }
    }
    let box_mm = &measured["pages"][0];
    assert_near("A3", number(&box_mm[0]), 841.890, 5e-4);
    assert_near("A3", number(&box_mm[1]), 1190.551, 5e-4);
}
