//! Dimensioned drawings, read back from their files: every size is what it spans, no words lie on
//! others or leave the page.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use crate::support::asserts::assert_held;
use crate::support::dice::Dice;
use crate::support::parts::part_and_made;
use indoc::indoc;
use planish::formats::{Measure, outline_from_dxf};
use planish::make::{FileOptions, Wanted, part_files};

/// A line of words of a drawing.
#[derive(Debug, Clone)]
struct Words {
    at: (f64, f64),
    size: f64,
    anchor: String,
    upward: bool,
    text: String,
}

/// Height of a capital over the size of its type, as our files have it.
const CAPITAL: f64 = 0.72;

impl Words {
    /// The box of its letters, a little narrow: letters of common type are 0.5 to 0.6 of their
    /// size wide.
    fn bounds(&self) -> [f64; 4] {
        let long = self.text.chars().count() as f64 * 0.5 * self.size;
        let high = CAPITAL * self.size;
        let from = match self.anchor.as_str() {
            "middle" => -long / 2.0,
            "end" => -long,
            _ => 0.0,
        };
        let (x, y) = self.at;
        if self.upward {
            [x - high, y - from - long, x, y - from]
        } else {
            [x + from, y - high, x + from + long, y]
        }
    }
}

/// What a drawing's file says: its page, its words, and its chains of thin lines.
struct Read {
    page: (f64, f64),
    words: Vec<Words>,
    thin: Vec<Vec<(f64, f64)>>,
}

fn read(svg: &str) -> Read {
    let file = roxmltree::Document::parse(svg).expect("XML");
    let number = |text: &str| text.trim_end_matches("mm").parse::<f64>().expect("a number");
    let root = file.root_element();
    let page = ["width", "height"].map(|key| number(root.attribute(key).expect("a size")));
    let mut words = Vec::new();
    let mut thin = Vec::new();
    for node in root.descendants() {
        let key = |key: &str| node.attribute(key).map_or(0.0, number);
        match node.tag_name().name() {
            "text" => words.push(Words {
                at: (key("x"), key("y")),
                size: key("font-size"),
                anchor: node.attribute("text-anchor").unwrap_or_default().to_owned(),
                upward: node.attribute("transform").is_some(),
                text: node.text().unwrap_or_default().to_owned(),
            }),
            "path" if node.attribute("stroke-width") == Some("0.13") => {
                for chain in node.attribute("d").expect("a path").split('M').skip(1) {
                    let values: Vec<f64> =
                        chain.trim_end_matches('Z').split_whitespace().map(number).collect();
                    thin.push(values.chunks(2).map(|p| (p[0], p[1])).collect());
                }
            }
            _ => {}
        }
    }
    Read { page: (page[0], page[1]), words, thin }
}

/// A size as `12.5 [0.492]`: in the drawing's own unit, and in the other.
fn size(text: &str) -> Option<(f64, f64)> {
    let (own, other) = text.split_once(" [")?;
    Some((own.parse().ok()?, other.strip_suffix(']')?.parse().ok()?))
}

/// Holds a drawing; `cut` is how wide and high its blank is as cut, mm. Gives how many sizes it has.
fn hold(name: &str, svg: &str, cut: (f64, f64)) -> usize {
    let drawing = read(svg);
    let inches = drawing.words.iter().any(|words| words.text.starts_with("Sizes in inches"));
    for (i, one) in drawing.words.iter().enumerate() {
        let a = one.bounds();
        assert!(
            a[0] >= 0.0 && a[1] >= 0.0 && a[2] <= drawing.page.0 && a[3] <= drawing.page.1,
            "{name}: {one:?} leaves the page"
        );
        for two in &drawing.words[i + 1..] {
            let b = two.bounds();
            let apart = a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1];
            assert!(apart, "{name}: {one:?} lies on {two:?}");
        }
    }
    let mm = if inches { 25.4 } else { 1.0 };
    let other = if inches { 1.0 } else { 25.4 };
    let mut sizes = 0;
    for words in &drawing.words {
        if let Some((own, in_other)) = size(&words.text) {
            assert!(
                (own * mm - in_other * other).abs() < 0.02,
                "{name}: {} is not one length",
                words.text
            );
            sizes += 1;
        }
    }
    // The flat's own scale, as its words say.
    let words = drawing.words.iter().find(|words| words.text.starts_with("flat, seen from"));
    let scale = words.and_then(|words| words.text.rsplit(", ").next()).expect("a scale");
    let (a, b) = scale.split_once(" : ").expect("a scale");
    let scale = a.parse::<f64>().expect("a number") / b.parse::<f64>().expect("a number");
    // Each ordinate ends at its words, and begins so far from the first one as they say.
    for upward in [true, false] {
        let row: Vec<(f64, f64)> = drawing
            .words
            .iter()
            .filter(|words| words.anchor == "end" && words.upward == upward)
            .filter_map(|words| {
                let (own, _) = size(&words.text)?;
                let chain = drawing.thin.iter().find(|chain| {
                    let Some(end) = chain.last().filter(|_| chain.len() == 4) else { return false };
                    if upward {
                        (end.1 - words.at.1).abs() < 0.6 && (end.0 - words.at.0).abs() < 1.0
                    } else {
                        (end.0 - words.at.0).abs() < 0.6 && (end.1 - words.at.1).abs() < 1.0
                    }
                })?;
                Some((own * mm, if upward { chain[0].0 } else { -chain[0].1 }))
            })
            .collect();
        assert!(row.len() >= 2, "{name}: {row:?}");
        let start = row.iter().find(|(value, _)| *value == 0.0).expect("the edge itself").1;
        for (value, place) in &row {
            let drawn = (place - start) / scale;
            assert!(
                (value - drawn).abs() < 0.006 * mm.max(1.0) + 0.011 / scale,
                "{name}: {value} is drawn {drawn} from the edge"
            );
        }
        let most = row.iter().map(|(value, _)| *value).fold(0.0, f64::max);
        let whole = if upward { cut.0 } else { cut.1 };
        assert!((most - whole).abs() < 0.006, "{name}: {most} of {whole}");
    }
    sizes
}

#[test]
fn sizes_of_the_examples_are_what_they_span() {
    let output = Path::new(env!("CARGO_MANIFEST_DIR")).join("output");
    let mut open = vec![output];
    let (mut drawings, mut sizes) = (0, 0);
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(&folder).expect("a folder").map(|entry| entry.expect("an entry"))
        {
            let path = entry.path();
            if path.is_dir() {
                open.push(path);
            } else if entry.file_name() == "drawing.svg" {
                let blank = fs::read(folder.join("blank.dxf")).expect("a blank");
                let cut = outline_from_dxf(&blank, Some("OUTSIDE"), Measure::default());
                let cut = cut.expect("an outline").outline.bounds();
                let svg = fs::read_to_string(&path).expect("a drawing");
                sizes += hold(&path.display().to_string(), &svg, (cut.width(), cut.height()));
                drawings += 1;
            }
        }
    }
    assert_held(25, drawings, drawings);
    assert_held(500, sizes, sizes);
}

/// A random part that is bent, folded or flat; some in inches.
fn random(dice: &mut Dice, i: u32) -> String {
    let add = |text: &mut String, more: std::fmt::Arguments| {
        text.write_fmt(more).expect("a string takes all");
    };
    let inches = i % 4 == 3;
    let one = |mm: f64| if inches { mm / 25.4 } else { mm };
    let mut text = format!(
        "part: part {i}\nunits: {}\nmaterial: 1020\nthickness: {}\n",
        if inches { "in" } else { "mm" },
        one(dice.between(1.0, 2.0))
    );
    let hole = |dice: &mut Dice, width: f64, height: f64| {
        let (x, y) = (dice.between(0.2, 0.8) * width, dice.between(0.2, 0.8) * height);
        let diameter = dice.between(0.05, 0.2) * width.min(height);
        format!("{{circle: {{diameter: {}, at: [{}, {}]}}}}", one(diameter), one(x), one(y))
    };
    match i % 3 {
        0 => {
            let (width, height) = (dice.between(20.0, 900.0), dice.between(20.0, 500.0));
            let corner = dice.between(0.0, 0.2) * width.min(height);
            add(
                &mut text,
                format_args!(
                    "plate:\n  profile: {{rectangle: {{size: [{}, {}], corner_radius: {}, at: [{}, {}]}}}}\n",
                    one(width),
                    one(height),
                    one(corner),
                    one(width / 2.0),
                    one(height / 2.0)
                ),
            );
            add(&mut text, format_args!("  openings: [{}]\n", hole(dice, width, height)));
        }
        1 => {
            let depth = dice.between(25.0, 400.0);
            add(
                &mut text,
                format_args!(
                    "bent:\n  dims: outside\n  radius: {}\n  depth: {}\n  section:\n",
                    one(3.0),
                    one(depth)
                ),
            );
            let legs = dice.whole(2, 6);
            for k in 0..legs {
                let leg = dice.between(20.0, 160.0);
                add(&mut text, format_args!("    - leg: {}\n", one(leg)));
                if leg > 60.0 {
                    add(&mut text, format_args!("      openings: [{}]\n", hole(dice, leg, depth)));
                }
                if k + 1 < legs {
                    let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
                    add(
                        &mut text,
                        format_args!("    - bend: {}\n", sign * dice.between(20.0, 100.0).round()),
                    );
                }
            }
        }
        _ => {
            let (width, height) = (dice.between(80.0, 500.0), dice.between(80.0, 300.0));
            add(
                &mut text,
                format_args!(
                    "folded:\n  radius: {}\n  panel: {{profile: {{rectangle: {{size: [{}, {}]}}}}}}\n  flanges:\n",
                    one(2.0),
                    one(width),
                    one(height)
                ),
            );
            for edge in ["bottom", "right", "top", "left"] {
                let wall = dice.between(15.0, 40.0);
                add(
                    &mut text,
                    format_args!("    - {{edge: {edge}, bend: 90, height: {}}}\n", one(wall)),
                );
            }
        }
    }
    text
}

#[test]
fn sizes_of_random_parts_are_what_they_span() {
    let mut dice = Dice(7);
    let mut sizes = 0;
    for i in 0..100 {
        let yaml = random(&mut dice, i);
        let (part, made) = part_and_made(&yaml);
        let cut = made.flat.outside.bounds();
        // Of every fifth the other hand too.
        let both = i % 5 == 0;
        let written = part_files(&part, &made, Wanted::Blanks, both, FileOptions::default());
        let written = written.unwrap_or_else(|problems| panic!("{}\n{yaml}", problems[0].message));
        let found = written.iter().filter(|file| file.name.ends_with("drawing.svg"));
        let found: Vec<&str> =
            found.map(|file| std::str::from_utf8(&file.bytes).expect("UTF-8")).collect();
        assert_eq!(found.len(), if both { 2 } else { 1 }, "each hand has one");
        for svg in found {
            sizes += hold(&yaml, svg, (cut.width(), cut.height()));
        }
    }
    assert_held(1500, sizes, sizes);
}

#[test]
fn sizes_over_all_are_those_of_the_solid() {
    let (part, made) = part_and_made(indoc!(
        "
        part: hat
        units: mm
        material: 1020
        thickness: 1.6
        bent:
          dims: outside
          radius: 3
          depth: 120
          section: [leg: 20, bend: 90, leg: 45, bend: -90, leg: 60, bend: -90, leg: 45, bend: 90, leg: 20]
        "
    ));
    let written = part_files(&part, &made, Wanted::Blanks, false, FileOptions::default());
    let written = written.unwrap_or_else(|problems| panic!("{}", problems[0].message));
    let svg = written.iter().find(|file| file.name.ends_with("drawing.svg")).expect("a drawing");
    let drawing = read(std::str::from_utf8(&svg.bytes).expect("UTF-8"));
    // By hand: two feet of 20 reach outward from the outside of a box 60 wide.
    let wide = 20.0 + 60.0 + 20.0 - 2.0 * 1.6;
    for wanted in [wide, 120.0, 45.0] {
        let said = drawing.words.iter().filter_map(|words| size(&words.text));
        assert!(said.into_iter().any(|(own, _)| (own - wanted).abs() < 0.006), "{wanted}");
    }
    let legs: Vec<f64> = drawing
        .words
        .iter()
        .skip_while(|words| words.text != "Legs, over the outside")
        .filter_map(|words| size(&words.text))
        .map(|(own, _)| own)
        .take(5)
        .collect();
    assert_eq!(legs, [20.0, 45.0, 60.0, 45.0, 20.0]);
}

#[test]
fn round_and_crowned_shells_are_as_large_as_they_are_described() {
    for (shell, wanted) in [
        ("depth: 20\n  profile: {circle: {diameter: 160}}", [160.0, 160.0, 20.0]),
        (
            "depth: 20\n  crown: 8\n  profile: {rectangle: {size: [180, 140], corner_radius: 48}}",
            [180.0, 140.0, 28.0],
        ),
    ] {
        let yaml = format!(
            "part: cover\nunits: mm\nmaterial: dc04\nthickness: 1.6\nhalf_shell:\n  edge_radius: 6\n  {shell}\n"
        );
        let (part, made) = part_and_made(&yaml);
        let written = part_files(&part, &made, Wanted::Blanks, false, FileOptions::default());
        let written = written.unwrap_or_else(|problems| panic!("{}", problems[0].message));
        let svg =
            written.iter().find(|file| file.name.ends_with("drawing.svg")).expect("a drawing");
        let drawing = read(std::str::from_utf8(&svg.bytes).expect("UTF-8"));
        for wanted in wanted {
            let text = format!("{wanted} [");
            assert!(drawing.words.iter().any(|words| words.text.starts_with(&text)), "{wanted}");
        }
    }
}
