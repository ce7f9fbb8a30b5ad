//! Templates on paper: what each sheet says, how many there are, that they show the whole part.

#![allow(clippy::unwrap_used, reason = "a test may fail")]

use std::fs;
use std::path::Path;
use std::process::Command;

use indoc::indoc;
use planish::drawing::{PaperSize, Print, Template, template_pages, templates_of};
use planish::geom::Rect;
use planish::page::{Paper, Shape, lettering};
use planish::units::LengthUnit;

use crate::support::parts::part_and_made;

const RAIL: &str = indoc!("
    part: rail
    units: mm
    material: 4130-annealed
    thickness: 1.6
    half_shell:
      profile: {path: [[0, 0], {to: [500, 0], edge: bottom}, {to: [500, 80], edge: tail}, {to: [0, 80], edge: top}, {to: [0, 0], edge: head}]}
      depth: 20
      edge_radius: 4.8
      open_edges: [head, tail]
      trim: 6
    ");
const WASHER: &str = indoc!(
    "
    part: washer
    units: in
    material: 1018
    thickness: 0.125
    plate: {profile: {circle: {diameter: 1}}, openings: [{circle: {diameter: 0.4}}]}
    "
);
const PANEL: &str = indoc!(
    "
    part: panel
    units: mm
    material: 1018
    thickness: 2
    plate: {profile: {rectangle: {size: [1200, 400]}}}
    "
);

fn templates(yaml: &str, other_hand: bool) -> Vec<Template> {
    let (part, mut made) = part_and_made(yaml);
    if other_hand {
        made = made.other_hand();
    }
    let blank = Some((&made.flat, made.stations()));
    templates_of(&part, blank, made.buck.as_ref(), other_hand)
}

fn pages(yaml: &str, size: PaperSize, print: Print) -> Vec<Paper> {
    template_pages("a title", "Take care: of all.", &templates(yaml, false), size, print).unwrap()
}

/// The words of a sheet that stand on the paper itself, and where: all but those of the drawing.
fn said(page: &Paper) -> Vec<(String, Rect)> {
    let own = page.views.iter().filter(|view| view.window.is_none());
    own.flat_map(|view| {
        view.drawing.marks.iter().filter_map(|mark| {
            let Shape::Text { at, height, angle, centred, text } = &mark.shape else { return None };
            let width = lettering::width(text, *height);
            let start = if *centred { -width / 2.0 } else { 0.0 };
            let turn = kurbo_turn(*angle);
            let corners = [(start, -0.3 * height), (start + width, *height)]
                .map(|(x, y)| view.place * (*at + turn.0 * x + turn.1 * y));
            Some((text.clone(), Rect::from_points(corners[0], corners[1])))
        })
    })
    .collect()
}

/// The directions along and up of words at an angle.
fn kurbo_turn(angle: f64) -> (planish::geom::Vec2, planish::geom::Vec2) {
    let along = planish::geom::Vec2::from_angle(angle);
    (along, planish::geom::left_of(along))
}

fn says(page: &Paper, words: &str) -> bool {
    said(page).iter().any(|(text, _)| text.contains(words))
}

#[test]
fn every_sheet_says_what_it_is_and_what_to_measure() {
    for (other_hand, hand) in [(false, "as described"), (true, "other hand")] {
        let all = templates(RAIL, other_hand);
        let pages =
            template_pages("rail", "Take care: of all.", &all, PaperSize::A4, Print::default())
                .unwrap();
        assert!(says(&pages[0], "rail: templates at 1:1") && says(&pages[0], "Take care"));
        for what in ["blank", "buck", "clamp plate"] {
            assert!(says(&pages[0], &format!("rail, {hand}: {what}")), "{what}");
            let sheets =
                pages[1..].iter().filter(|page| says(page, &format!("rail, {hand}: {what}; ")));
            assert!(sheets.count() >= 2, "{what}");
        }
        let blank = pages[1..].iter().find(|page| says(page, ": blank; ")).unwrap();
        for words in ["4130-annealed 1.6 mm", "face up: outer, hammered side", "revision "] {
            assert!(says(blank, words), "{words}: {:?}", said(blank));
        }
        for page in &pages {
            for bar in ["mm between", "in between"] {
                let words = said(page);
                let bars = words
                    .iter()
                    .filter(|(text, _)| text.starts_with("must measure") && text.contains(bar));
                assert_eq!(bars.count(), 2, "one along each axis");
            }
        }
        for page in &pages[1..] {
            assert!(says(page, "Print at 100 %, no fit to page."));
        }
    }
}

#[test]
fn words_lie_on_the_paper_and_not_on_one_another() {
    for (yaml, size) in [
        (RAIL, PaperSize::A4),
        (WASHER, PaperSize::Letter),
        (PANEL, PaperSize::Letter),
        (PANEL, PaperSize::A3),
    ] {
        for (i, page) in pages(yaml, size, Print::default()).iter().enumerate() {
            let words = said(page);
            let paper = Rect::new(6.0, 5.0, page.size.0 - 6.0, page.size.1 - 6.0);
            for (k, (text, rect)) in words.iter().enumerate() {
                assert!(paper.union(*rect) == paper, "{text} at {rect:?} on page {i} of {size:?}");
                for (other, taken) in &words[k + 1..] {
                    let shared = rect.intersect(*taken);
                    assert!(
                        shared.width() <= 0.0 || shared.height() <= 0.0 || shared.area() < 1e-6,
                        "{text} lies on {other} on page {i}"
                    );
                }
            }
        }
    }
}

#[test]
fn a_part_takes_as_few_sheets_as_it_can() {
    let count = |yaml, size| pages(yaml, size, Print::default()).len() - 1;
    assert_eq!(count(WASHER, PaperSize::Letter), 1);
    // Of A3 less its margins, 11.5 mm beside and about 19 mm below, the panel takes 4 sheets by 2
    // lying, 5 by 2 upright.
    assert_eq!(count(PANEL, PaperSize::A3), 8);
    // Of A4 7 by 2 upright; lying it would take 5 by 3.
    assert_eq!(count(PANEL, PaperSize::A4), 14);
    let sheet = &pages(PANEL, PaperSize::A3, Print::default())[1];
    assert_eq!(sheet.size, (420.0, 297.0));
}

#[test]
fn names_go_by_rows_and_columns_and_neighbours_name_each_other() {
    let pages = pages(PANEL, PaperSize::A3, Print::default());
    let named = |name: &str| pages[1..].iter().find(|page| says_alone(page, name)).unwrap();
    let corner = named("A1");
    assert!(says(corner, "cut here, lay over A2") && says(corner, "to here comes the edge of B1"));
    let last = named("B4");
    assert!(says(last, "cut here, lay over A4") && says(last, "to here comes the edge of B3"));
    assert!(!says(last, "B5") && !says(last, "C4"));
}

fn says_alone(page: &Paper, name: &str) -> bool {
    said(page).iter().any(|(text, _)| text == name)
}

#[test]
fn a_print_scale_is_said_and_stretches_the_page() {
    let print = Print { scale: (1.008, 0.996), ..Print::default() };
    for page in pages(RAIL, PaperSize::A4, print) {
        assert_eq!(page.stretch, (1.008, 0.996));
        assert!(
            says(&page, "1.008 times across")
                || said(&page).iter().any(|(text, _)| text.contains("0.996 times up")),
            "{:?}",
            said(&page)
        );
    }
    // The factor of the index: a bar of 100 mm that measures 99.2 mm.
    let index = &pages(RAIL, PaperSize::A4, Print::default())[0];
    assert!(says(index, "1.008065") && (100.0_f64 / 99.2 - 1.008_065).abs() < 5e-7);
}

#[test]
fn the_revision_changes_with_the_description_and_with_nothing_else() {
    let revision = |yaml: &str| {
        let pages = pages(yaml, PaperSize::A4, Print::default());
        let (text, _) =
            said(&pages[1]).into_iter().find(|(text, _)| text.contains("revision ")).unwrap();
        let (_, digits) = text.split_once("revision ").unwrap();
        assert!(digits.len() == 8 && digits.chars().all(|c| c.is_ascii_hexdigit()), "{digits}");
        digits.to_owned()
    };
    assert_eq!(revision(PANEL), revision(PANEL));
    assert_ne!(revision(PANEL), revision(&PANEL.replace("1200", "1201")));
    assert_ne!(revision(PANEL), revision(&PANEL.replace("thickness: 2", "thickness: 3")));
}

#[test]
fn a_part_that_takes_too_many_sheets_is_named_and_left_out() {
    let pages =
        pages(&PANEL.replace("[1200, 400]", "[9000, 3000]"), PaperSize::A4, Print::default());
    assert_eq!(pages.len(), 1);
    assert!(says(&pages[0], "Not printed: it takes more than 200 sheets."));
}

#[test]
fn the_paper_goes_by_the_unit_unless_it_is_named() {
    let print = Print::default();
    assert_eq!(print.paper_for(LengthUnit::Millimetre), PaperSize::A4);
    assert_eq!(print.paper_for(LengthUnit::Inch), PaperSize::Letter);
    let named = Print { paper: Some(PaperSize::Tabloid), ..print };
    assert_eq!(named.paper_for(LengthUnit::Millimetre), PaperSize::Tabloid);
}

/// The page boxes of the templates that a command writes.
fn boxes(folder: &Path, arguments: &[&str], file: &str) -> Vec<String> {
    let run = Command::new(env!("CARGO_BIN_EXE_planish"))
        .args(arguments)
        .args(["--quiet", "--out", "out"])
        .current_dir(folder)
        .output()
        .unwrap();
    assert_eq!(run.status.code(), Some(0), "{}", String::from_utf8_lossy(&run.stderr));
    let bytes = fs::read(folder.join("out").join(file)).unwrap();
    let text = String::from_utf8_lossy(&bytes);
    assert!(text.contains("/PrintScaling /None") && !text.contains("UserUnit"));
    text.split("/MediaBox [0 0 ")
        .skip(1)
        .map(|rest| rest.split(']').next().unwrap().to_owned())
        .collect()
}

#[test]
fn commands_write_templates_on_the_paper_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("washer.yaml"), WASHER).unwrap();
    fs::write(folder.path().join("rail.yaml"), RAIL).unwrap();
    let flat = |more: &[&str]| {
        let arguments: Vec<&str> =
            ["flat", "washer.yaml"].into_iter().chain(more.iter().copied()).collect();
        boxes(folder.path(), &arguments, "washer/templates.pdf")
    };
    assert_eq!(flat(&[]), ["612 792", "792 612"]);
    assert_eq!(flat(&["--paper", "a4"])[0], "595.2756 841.8898");
    assert!(flat(&["--paper", "a3"])[0].starts_with("841.8898 1190.551"));
    assert_eq!(flat(&["--paper", "tabloid", "--print-scale", "1.008,0.996"])[0], "792 1224");
    // Whichever command writes them, a shell's templates are all there.
    let by_flat = boxes(folder.path(), &["flat", "rail.yaml"], "rail/templates.pdf");
    let first = fs::read(folder.path().join("out/rail/templates.pdf")).unwrap();
    let by_buck = boxes(folder.path(), &["buck", "rail.yaml"], "rail/templates.pdf");
    assert_eq!(by_flat, by_buck);
    assert_eq!(fs::read(folder.path().join("out/rail/templates.pdf")).unwrap(), first);
}
