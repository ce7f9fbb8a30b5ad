//! What the documents show is what the program does: their commands run, their files are read,
//! their links lead somewhere.

#![allow(clippy::unwrap_used, reason = "a test may fail")]

use std::collections::BTreeSet;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use planish::shop::material::{Hazard, Material};
use serde_json::Value;
use serde_yaml::Value as Yaml;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn document(name: &str) -> String {
    fs::read_to_string(root().join(name)).unwrap()
}

/// Runs the command in a folder, with this on standard input.
fn planish(folder: &Path, arguments: &[&str], input: &str) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_planish"));
    command
        .args(arguments)
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    // A command that takes no input may have ended already.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    child.wait_with_output().unwrap()
}

fn succeeds(run: &Output, what: &str) {
    let said = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    assert_eq!(run.status.code(), Some(0), "{what}\n{}{}", said(&run.stdout), said(&run.stderr));
}

/// The fenced samples in that language, each with its line.
fn samples<'a>(document: &'a str, language: &str) -> Vec<(usize, &'a str)> {
    let mut all = Vec::new();
    let mut at = 0;
    let fence = format!("\n```{language}\n");
    while let Some(found) = document[at..].find(&fence) {
        let start = at + found + fence.len();
        let end = start + document[start..].find("\n```").unwrap() + 1;
        all.push((document[..start].lines().count() + 1, &document[start..end]));
        at = end;
    }
    all
}

#[test]
fn the_format_lists_every_built_in_metal_and_hazard() {
    let format = document("shapes/README.md");
    let list = format.split("Built-in metals:").nth(1).expect("the list");
    let list = list.split("\n\n").next().expect("a paragraph");
    for material in Material::built_in() {
        assert!(list.contains(&format!("`{}`", material.name)), "{} is missing", material.name);
    }
    let row = format.lines().find(|line| line.starts_with("| `hazards` |")).expect("a row");
    for (name, _) in Hazard::NAMED {
        assert!(row.contains(&format!("`{name}`")), "{name} is missing");
    }
}

#[test]
fn what_samples_print_is_what_is_printed() {
    let out = tempfile::tempdir().unwrap();
    let mut seen = 0;
    for name in ["README.md", "DEVELOPERS.md", "shapes/README.md"] {
        for (_, sample) in samples(&document(name), "text") {
            let Some(sample) = sample.strip_prefix("$ planish ") else { continue };
            seen += 1;
            let mut lines = sample.lines();
            let arguments: Vec<&str> = lines
                .next()
                .unwrap()
                .split(' ')
                .chain(["--out", out.path().to_str().unwrap()])
                .collect();
            let run = planish(&root(), &arguments, "");
            succeeds(&run, name);
            let printed = String::from_utf8(run.stdout).unwrap();
            let mut after = printed.lines();
            let mut left_out = false;
            // An ellipsis stands for lines left out, or for the rest of its line.
            for line in lines {
                if line == "…" {
                    left_out = true;
                    continue;
                }
                let shown = |is: &str| {
                    line.strip_suffix('…').map_or(is == line, |begin| is.starts_with(begin))
                };
                let found = if std::mem::take(&mut left_out) {
                    after.any(shown)
                } else {
                    after.next().is_some_and(shown)
                };
                assert!(found, "{name} shows\n{line}\nof {arguments:?}, which prints\n{printed}");
            }
        }
    }
    assert!(seen >= 3, "{seen}");
}

/// The commands to paste, and each row of the table of commands with files of the starters' in
/// place of the words for them.
#[test]
fn every_command_of_the_readme_runs() {
    let readme = document("README.md");
    let out = tempfile::tempdir().unwrap();
    let pasted: Vec<&str> =
        samples(&readme, "sh").iter().flat_map(|(_, sample)| sample.lines()).collect();
    assert!(pasted.iter().any(|line| line.starts_with("cargo test")));
    let runs: Vec<&str> =
        pasted.iter().filter_map(|line| line.strip_prefix("cargo run --release -- ")).collect();
    assert!(!runs.is_empty() && runs.len() + 1 == pasted.len(), "{pasted:?}");
    for line in runs {
        let (line, _) = line.split_once('#').unwrap_or((line, ""));
        let arguments: Vec<&str> =
            line.split_whitespace().chain(["--out", out.path().to_str().unwrap()]).collect();
        succeeds(&planish(&root(), &arguments, ""), line);
    }
    let kinds = [
        ("plate", "gusset"),
        ("half_shell", "rail-half"),
        ("bent", "bracket"),
        ("folded", "tray"),
        ("job", "job"),
        ("shop", "shop"),
    ];
    for (kind, file) in kinds {
        let run = planish(out.path(), &["new", kind], "");
        succeeds(&run, kind);
        // By a count of tries the starter's job ends sooner than by its ten seconds.
        let text = String::from_utf8(run.stdout)
            .unwrap()
            .replace("time: 10 s", "time: 20 min, tries: 300");
        fs::write(out.path().join(format!("{file}.yaml")), text).unwrap();
        assert!(
            readme.contains(&format!("`{kind}`")),
            "README.md does not name the starter `{kind}`"
        );
    }
    let rows: Vec<&str> = readme
        .lines()
        .filter_map(|line| line.strip_prefix("| `planish "))
        .filter_map(|rest| rest.split('`').next())
        .collect();
    for row in &rows {
        let filled = row
            .replace("JOB.yaml", "job.yaml")
            .replace("PART.yaml…", "rail-half.yaml")
            .replace("FILE…", "rail-half.yaml bracket.yaml")
            .replace(
                "FLAT LEG LEG --thickness T --radius R",
                "100 51.8 51.8 --thickness 1.6 --radius 3.2",
            )
            .replace("KIND", "plate")
            .replace("SHELL", "bash");
        let arguments: Vec<&str> = filled.split(' ').collect();
        succeeds(&planish(out.path(), &arguments, ""), row);
    }
    let help = String::from_utf8(planish(out.path(), &["--help"], "").stdout).unwrap();
    let listed = help
        .lines()
        .skip_while(|line| !line.starts_with("Commands:"))
        .skip(1)
        .take_while(|line| !line.is_empty());
    for command in listed
        .filter_map(|line| line.split_whitespace().next())
        .filter(|command| *command != "help")
    {
        assert!(
            rows.iter().any(|row| row.split(' ').next() == Some(command)),
            "README.md has no row for `{command}`"
        );
    }
}

/// A whole file, with some of its keys given anew; those of a map one by one.
fn with(whole: &Yaml, excerpt: &Yaml) -> Yaml {
    let mut file = whole.as_mapping().unwrap().clone();
    for (key, value) in excerpt.as_mapping().unwrap() {
        let merged = match (file.get(key), value) {
            (Some(Yaml::Mapping(old)), Yaml::Mapping(new)) => {
                let mut both = old.clone();
                both.extend(new.clone());
                Yaml::Mapping(both)
            }
            _ => value.clone(),
        };
        file.insert(key.clone(), merged);
    }
    Yaml::Mapping(file)
}

/// A key of a type of the schema, by both names. An opening's outline is as any other.
fn named(schema: &Value, of: &str, key: &str) -> (String, String) {
    let is_outline =
        !schema["properties"]["rectangle"].is_null() && !["lip", "tab_slots"].contains(&key);
    (if is_outline { "an outline" } else { of }.to_owned(), key.to_owned())
}

/// Notes every key of the schema that a value has, by the type that it stands in.
fn note_keys(
    schema: &Value,
    root: &Value,
    of: &str,
    value: &Yaml,
    seen: &mut BTreeSet<(String, String)>,
) {
    if let Some(reference) = schema["$ref"].as_str() {
        let name = reference.rsplit('/').next().unwrap();
        note_keys(&root["$defs"][name], root, name, value, seen);
    }
    for choice in schema["anyOf"].as_array().into_iter().flatten() {
        note_keys(choice, root, of, value, seen);
    }
    for (key, inner) in value.as_mapping().into_iter().flatten() {
        let Some(key) = key.as_str() else { continue };
        if schema["properties"][key].is_null() {
            note_keys(&schema["additionalProperties"], root, of, inner, seen);
        } else {
            seen.insert(named(schema, of, key));
            note_keys(&schema["properties"][key], root, of, inner, seen);
        }
    }
    for item in value.as_sequence().into_iter().flatten() {
        note_keys(&schema["items"], root, of, item, seen);
    }
}

/// Every key that the schema has, by the type that it stands in.
fn all_keys(schema: &Value, of: &str) -> BTreeSet<(String, String)> {
    let types =
        schema["$defs"].as_object().unwrap().iter().map(|(name, inner)| (name.as_str(), inner));
    types
        .chain([(of, schema)])
        .flat_map(|(name, inner)| {
            let keys = inner["properties"].as_object().into_iter().flatten();
            keys.map(|(key, _)| named(inner, name, key)).collect::<Vec<_>>()
        })
        .collect()
}

/// Samples that begin with `part`, `job` or `units` are whole files; any other one is read with its
/// keys in the whole file before it. All are read beside the shapes, so the files that they name
/// are there; and every key that the program knows stands in one of them.
#[test]
fn every_sample_of_the_file_format_is_read_and_has_every_key() {
    let (readme, chapter) = (document("README.md"), document("shapes/README.md"));
    let out = tempfile::tempdir().unwrap();
    let out_name = out.path().to_str().unwrap();
    let shapes = root().join("shapes");
    let schema = |of: &str| -> Value {
        let run = planish(&shapes, &["schema", of], "");
        serde_json::from_slice(&run.stdout).unwrap()
    };
    let kinds = [("part", "part"), ("job", "job"), ("units", "shop")]
        .map(|(first, of)| (first, of, schema(of)));
    let mut seen = BTreeSet::new();
    let mut whole = Yaml::Null;
    for (document, (line, sample)) in
        [("README.md", &readme), ("shapes/README.md", &chapter)].iter().flat_map(|(name, text)| {
            samples(text, "yaml").into_iter().map(move |sample| (*name, sample))
        })
    {
        let what = format!("{document}, line {line}:\n{sample}");
        let value: Yaml =
            serde_yaml::from_str(sample).unwrap_or_else(|error| panic!("{what}{error}"));
        let first = |value: &Yaml| {
            value.as_mapping().unwrap().keys().next().unwrap().as_str().unwrap().to_owned()
        };
        let (file, text) = if kinds.iter().any(|(key, ..)| *key == first(&value)) {
            whole = value.clone();
            (value, sample.to_owned())
        } else {
            let file = with(&whole, &value);
            (file.clone(), serde_yaml::to_string(&file).unwrap())
        };
        let kind = kinds.iter().position(|(key, ..)| *key == first(&file)).unwrap();
        let run = match kinds[kind].1 {
            "part" => planish(&shapes, &["flat", "-", "--out", out_name], &text),
            "job" => planish(&shapes, &["check", "-"], &text),
            _ => {
                let shop = out.path().join("shop.yaml");
                fs::write(&shop, &text).unwrap();
                planish(
                    &shapes,
                    &[
                        "flat",
                        "angle-bracket.yaml",
                        "--shop",
                        shop.to_str().unwrap(),
                        "--out",
                        out_name,
                    ],
                    "",
                )
            }
        };
        succeeds(&run, &what);
        note_keys(&kinds[kind].2, &kinds[kind].2, kinds[kind].1, &file, &mut seen);
    }
    let known: BTreeSet<_> =
        kinds.iter().flat_map(|(_, of, schema)| all_keys(schema, of)).collect();
    let missing: Vec<_> = known.difference(&seen).collect();
    assert!(missing.is_empty(), "shapes/README.md shows no {missing:?}");
}

/// The anchor of a heading.
fn anchor(heading: &str) -> String {
    let plain = heading.trim_start_matches('#').trim().to_lowercase();
    plain
        .chars()
        .filter(|c| c.is_alphanumeric() || " -_".contains(*c))
        .map(|c| if c == ' ' { '-' } else { c })
        .collect()
}

fn documents_below(folder: &Path, all: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            documents_below(&path, all);
        } else if path.extension().is_some_and(|extension| extension == "md") {
            all.push(path);
        }
    }
}

#[test]
fn every_link_leads_somewhere() {
    let mut all: Vec<PathBuf> =
        fs::read_dir(root()).unwrap().map(|entry| entry.unwrap().path()).collect();
    all.retain(|path| path.extension().is_some_and(|extension| extension == "md"));
    for folder in ["shapes", "src", "tests"] {
        documents_below(&root().join(folder), &mut all);
    }
    let mut links = 0;
    for path in &all {
        let text = fs::read_to_string(path).unwrap();
        for piece in text.split("](").skip(1) {
            let target = piece.split(')').next().unwrap();
            if target.contains("://") {
                continue;
            }
            links += 1;
            let (file, heading) = target
                .split_once('#')
                .map_or((target, None), |(file, heading)| (file, Some(heading)));
            let file =
                if file.is_empty() { path.clone() } else { path.parent().unwrap().join(file) };
            assert!(file.exists(), "{}: {target}", path.display());
            if let Some(heading) = heading {
                let there = fs::read_to_string(&file).unwrap();
                let found =
                    there.lines().any(|line| line.starts_with('#') && anchor(line) == heading);
                assert!(found, "{}: {target}", path.display());
            }
        }
    }
    assert!(links > 50, "{links}");
}
