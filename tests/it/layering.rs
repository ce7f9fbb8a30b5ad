//! The direction of the program's parts: a module uses only modules that stand before it in this
//! list.
//!
//! Read off the `crate::` paths in `src/`, test modules left out. `geom` and `fe` know no trade,
//! the nest engine only plane shapes.

use std::fs;
use std::path::{Path, PathBuf};

/// Every module of the crate's root, from the ground up.
const ORDER: [&str; 25] = [
    "units",
    "tolerance",
    "problem",
    "finding",
    "geom",
    "page",
    "formats",
    "fe",
    "shop",
    "part",
    "describe",
    "shell",
    "formed",
    "flat",
    "bending",
    "buck",
    "section",
    "cutting",
    "check",
    "drawing",
    "report",
    "nest",
    "make",
    "cli",
    "main",
];

/// Modules that may use fewer than those before them.
const NARROW: [(&str, &[&str]); 8] = [
    ("units", &[]),
    ("tolerance", &["units"]),
    ("problem", &["units", "tolerance"]),
    ("finding", &["units", "problem"]),
    ("geom", &["units", "tolerance"]),
    ("page", &["geom"]),
    ("formats", &["units", "tolerance", "geom", "page"]),
    ("fe", &["units", "tolerance", "geom"]),
];

/// The nest engine uses the ground alone.
const NEST: &[&str] = &["units", "tolerance", "geom"];

fn sources(folder: &Path, all: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> =
        fs::read_dir(folder).expect("src").map(|entry| entry.expect("an entry").path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, all);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            all.push(path);
        }
    }
}

/// The modules that `text` names after `crate::`, singly or as `crate::{a, b::c}`, outside comments
/// and test modules.
fn used(text: &str) -> Vec<String> {
    let code: String = text
        .split("#[cfg(test)]\nmod tests")
        .next()
        .unwrap_or_default()
        .lines()
        .map(|line| line.split("//").next().unwrap_or_default())
        .collect::<Vec<_>>()
        .join("\n");
    let name = |text: &str| {
        text.trim()
            .chars()
            .take_while(|c| c.is_ascii_alphanumeric() || *c == '_')
            .collect::<String>()
    };
    let mut found = Vec::new();
    for rest in code.split("crate::").skip(1) {
        let Some(list) = rest.strip_prefix('{') else {
            found.push(name(rest));
            continue;
        };
        let mut depth = 0;
        let mut item = String::new();
        for c in list.chars() {
            match c {
                '{' => depth += 1,
                '}' if depth == 0 => break,
                '}' => depth -= 1,
                ',' if depth == 0 => found.push(name(&std::mem::take(&mut item))),
                _ => item.push(c),
            }
        }
        found.push(name(&item));
    }
    found.retain(|name| !name.is_empty());
    found
}

#[test]
fn modules_use_only_what_stands_before_them() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&source, &mut files);
    let mut broken = Vec::new();
    let mut read = 0;
    for file in &files {
        let inner = file.strip_prefix(&source).expect("below src");
        let module = inner.iter().next().expect("a name").to_string_lossy().replace(".rs", "");
        if module == "lib" {
            continue;
        }
        let place = ORDER.iter().position(|name| *name == module);
        let place = place.unwrap_or_else(|| {
            panic!("`{module}` has no place in the order: give it one in this test")
        });
        for name in used(&fs::read_to_string(file).expect("UTF-8")) {
            let Some(other) = ORDER.iter().position(|known| *known == name) else { continue };
            read += 1;
            let narrow = NARROW.iter().find(|(narrow, _)| *narrow == module).map(|(_, may)| *may);
            let may = narrow.or((module == "nest").then_some(NEST));
            let fits = match may {
                _ if other == place => true,
                Some(may) => may.contains(&name.as_str()),
                None => other < place,
            };
            if !fits {
                broken.push(format!("{} uses {name}", inner.display()));
            }
        }
    }
    assert!(read > 100, "only {read} uses were found: is the reader of `use` lines broken?");
    broken.sort();
    broken.dedup();
    assert!(broken.is_empty(), "against the direction:\n{}", broken.join("\n"));
}

#[test]
fn uses_are_read_in_every_form() {
    let text = "use crate::geom::{Loop, left_of};\nuse crate::{flat::Flat, units::{Angle, Length}, part};\n// crate::cli\nlet x = crate::nest::run();\n#[cfg(test)]\nmod tests { use crate::make; }";
    assert_eq!(used(text), ["geom", "flat", "units", "part", "nest"]);
}
