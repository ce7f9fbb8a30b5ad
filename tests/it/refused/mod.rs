//! What is refused, and how: every file of this folder is wrong in its own way and says in its
//! first lines what the command must answer.
//!
//! `# expect: LINE:COLUMN TEXT`: an error at that place whose message or help holds the text; as
//! many errors as such lines, no more. A file name before the place is that of another file at
//! fault. `# run:` gives another command line than `flat {file}`. The places were marked by hand in
//! the files; the words are those that the program is meant to use.

#![allow(clippy::unwrap_used, reason = "a test may fail")]

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use indoc::{formatdoc, indoc};
use planish::problem::Code;

use crate::support::dice::Dice;

/// An error as `--json` gives it.
#[derive(Debug, Clone)]
struct Answer {
    code: String,
    file: String,
    line: u64,
    column: u64,
    message: String,
    help: String,
}

struct Run {
    status: Option<i32>,
    out: String,
    err: String,
    written: Vec<PathBuf>,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/refused")
}

/// Runs the command in this folder with its output going to a folder that does not exist yet.
fn run(arguments: &[&str], more: &[&str]) -> Run {
    let temporary = tempfile::tempdir().unwrap();
    let out_folder = temporary.path().join("out");
    let (stdout, stderr) = (temporary.path().join("stdout"), temporary.path().join("stderr"));
    let mut child = Command::new(env!("CARGO_BIN_EXE_planish"))
        .args(arguments)
        .args(more)
        .arg("--out")
        .arg(&out_folder)
        .current_dir(folder())
        .env("NO_COLOR", "1")
        .stdin(Stdio::null())
        .stdout(File::create(&stdout).unwrap())
        .stderr(File::create(&stderr).unwrap())
        .spawn()
        .unwrap();
    // No measure of speed: the end of a hang.
    let patience = Instant::now() + Duration::from_secs(120);
    let status = loop {
        match child.try_wait().unwrap() {
            Some(status) => break status.code(),
            None if Instant::now() > patience => {
                child.kill().unwrap();
                child.wait().unwrap();
                break None;
            }
            None => std::thread::sleep(Duration::from_millis(5)),
        }
    };
    let written = fs::read_dir(&out_folder)
        .map(|all| all.map(|entry| entry.unwrap().path()).collect())
        .unwrap_or_default();
    Run {
        status,
        out: fs::read_to_string(stdout).unwrap(),
        err: fs::read_to_string(stderr).unwrap(),
        written,
    }
}

/// The errors of a run, after what holds for every refusal: status 2, JSON on standard error,
/// nothing printed, nothing written.
fn refusal(run: &Run) -> Result<Vec<Answer>, String> {
    if run.status != Some(2) {
        return Err(format!("status {:?} instead of 2; it says {}", run.status, run.err));
    }
    if !run.out.is_empty() {
        return Err(format!("prints {}", run.out));
    }
    if !run.written.is_empty() {
        return Err(format!("writes {:?}", run.written));
    }
    let json: serde_json::Value =
        serde_json::from_str(&run.err).map_err(|error| format!("{error}: {}", run.err))?;
    let errors = json["errors"]
        .as_array()
        .filter(|errors| !errors.is_empty())
        .ok_or("no errors are given")?;
    let text = |error: &serde_json::Value, key: &str| {
        error[key].as_str().map(str::to_owned).ok_or(format!("no {key} in {error}"))
    };
    let number = |error: &serde_json::Value, key: &str| {
        error[key].as_u64().ok_or(format!("no {key} in {error}"))
    };
    errors
        .iter()
        .map(|error| {
            let answer = Answer {
                code: text(error, "code")?,
                file: text(error, "file")?,
                line: number(error, "line")?,
                column: number(error, "column")?,
                message: text(error, "message")?,
                help: text(error, "help")?,
            };
            plain_words(&answer).map(|()| answer)
        })
        .collect()
}

/// Words that a builder has no use for, as they come out of a decoder.
const JARGON: [&str; 22] = [
    "u32",
    "u64",
    "f64",
    "usize",
    "struct ",
    "expected a",
    "invalid type",
    "invalid value",
    "sequence",
    "mapping",
    "boolean",
    "integer `",
    "floating point",
    "Option",
    "panicked",
    "src/",
    "variant",
    "deserializ",
    "os error",
    "unwrap",
    "scalar",
    "Text with",
];

fn plain_words(answer: &Answer) -> Result<(), String> {
    // The words about a command line are those of every other command.
    for word in JARGON.iter().filter(|_| answer.line > 0) {
        if answer.message.contains(word) || answer.help.contains(word) {
            return Err(format!(
                "`{word}` is no builder's word: {} / {}",
                answer.message, answer.help
            ));
        }
    }
    if answer.help.trim().is_empty() {
        return Err(format!("no help with: {}", answer.message));
    }
    Ok(())
}

/// What the first lines of a file say: the expected errors and the command line.
fn header(text: &str, file: &str) -> (Vec<(String, String)>, Vec<String>) {
    let mut expected = Vec::new();
    let mut command = format!("flat {file}");
    for line in
        text.trim_start_matches('\u{feff}').lines().take_while(|line| line.starts_with("# "))
    {
        if let Some(rest) = line.strip_prefix("# expect: ") {
            let (place, words) = rest.split_once(' ').unwrap();
            expected.push((place.to_owned(), words.to_owned()));
        } else if let Some(rest) = line.strip_prefix("# run: ") {
            command = rest.replace("{file}", file);
        }
    }
    (expected, command.split_whitespace().map(str::to_owned).collect())
}

/// Checks one file; gives the codes that came up.
fn check(file: &str) -> Result<Vec<String>, String> {
    let text = fs::read_to_string(folder().join(file)).unwrap();
    let (expected, command) = header(&text, file);
    if expected.is_empty() {
        return Err("it says nothing of what is expected".to_owned());
    }
    let command: Vec<&str> = command.iter().map(String::as_str).collect();
    let mut answers = refusal(&run(&command, &["--json"]))?;
    let codes = answers.iter().map(|answer| answer.code.clone()).collect();
    for (place, words) in &expected {
        let (named, place) = match place.rsplit_once(".yaml:") {
            Some((name, place)) => (format!("{name}.yaml"), place),
            None => (if place == "0:0" { String::new() } else { file.to_owned() }, place.as_str()),
        };
        let fits = |answer: &Answer| {
            answer.file == named
                && format!("{}:{}", answer.line, answer.column) == place
                && (answer.message.contains(words) || answer.help.contains(words))
        };
        match answers.iter().position(fits) {
            Some(i) => drop(answers.remove(i)),
            None => {
                return Err(format!(
                    "no error at {named} {place} with `{words}`, but {answers:#?}"
                ));
            }
        }
    }
    if !answers.is_empty() {
        return Err(format!("more errors than expected: {answers:#?}"));
    }
    // The same for a person: the message and the place, and nothing of a panic.
    let run = run(&command, &[]);
    if run.status != Some(2) || run.err.contains("panicked") || run.err.trim().is_empty() {
        return Err(format!("without --json: status {:?}, {}", run.status, run.err));
    }
    Ok(codes)
}

fn corpus() -> Vec<String> {
    let names = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let mut files: Vec<String> = names.filter(|name| name.contains(".yaml")).collect();
    files.sort();
    files
}

#[test]
fn every_bad_file_is_refused_where_and_as_it_says() {
    let files = corpus();
    assert!(files.len() >= 60, "{} files", files.len());
    let mut seen = BTreeSet::new();
    let mut failures = String::new();
    for file in &files {
        match check(file) {
            Ok(codes) => seen.extend(codes),
            Err(why) => write!(failures, "\n{file}: {why}\n").unwrap(),
        }
    }
    assert!(failures.is_empty(), "{failures}");
    let unseen: Vec<&str> = Code::ALL
        .iter()
        .filter(|code| code.is_of_input())
        .map(|code| code.text())
        .filter(|code| !seen.contains(*code))
        .collect();
    assert!(unseen.is_empty(), "no file is refused for {unseen:?}");
}

/// Runs `flat` on a file of these bytes.
fn flat_of(bytes: &[u8]) -> Run {
    let temporary = tempfile::tempdir().unwrap();
    let path = temporary.path().join("made.yaml");
    fs::write(&path, bytes).unwrap();
    run(&["flat", path.to_str().unwrap()], &["--json"])
}

/// The one error that `flat` has with a file of these bytes.
fn only_error(bytes: &[u8]) -> Answer {
    let mut answers = refusal(&flat_of(bytes)).unwrap();
    assert_eq!(answers.len(), 1, "{answers:#?}");
    answers.remove(0)
}

const HEAD: &str = indoc!(
    "
    part: made
    units: mm
    material: 1008
    thickness: 1
    "
);

#[test]
fn aliases_that_multiply_are_refused() {
    let mut text = formatdoc!(
        "
        {HEAD}plate:
          openings:
            - &a0 [x, x, x, x, x, x, x, x, x, x]
        "
    );
    for i in 1..12 {
        let before = format!("*a{}, ", i - 1).repeat(10);
        writeln!(text, "    - &a{i} [{}]", before.trim_end_matches(", ")).unwrap();
    }
    let answer = only_error(text.as_bytes());
    assert!(answer.help.contains("aliases"), "{answer:?}");
}

#[test]
fn aliases_count_as_what_they_make() {
    // 300 values, a thousand times; 20 kB of text, five hundred times.
    let values = formatdoc!(
        "
        {HEAD}plate:
          openings:
            - &a [{}]
            - [{}]
        ",
        "1, ".repeat(300),
        "*a, ".repeat(1000)
    );
    let answer = only_error(values.as_bytes());
    assert!(answer.message.contains("200000 values, its aliases written out"), "{answer:?}");
    assert_eq!(answer.line, 8, "{answer:?}");
    let text = formatdoc!(
        "
        {HEAD}plate:
          openings:
            - &a {}
            - [{}]
        ",
        "x".repeat(20_000),
        "*a, ".repeat(500)
    );
    let answer = only_error(text.as_bytes());
    assert!(answer.message.contains("8 MB of text"), "{answer:?}");
    // One that stands in itself; the place is its own, behind letters of several bytes.
    let own = indoc!(
        "
        part: \"Träger außen\"
        units: mm
        plate: &a
          profile: *a
        "
    );
    let answer = only_error(own.as_bytes());
    assert!(answer.message.contains("holds itself"), "{answer:?}");
    assert_eq!((answer.line, answer.column), (4, 12), "{answer:?}");
    // Aliases that make little are no error.
    let few = format!("{HEAD}plate:\n  profile: {{rectangle: {{size: &s [90, 40], at: *s}}}}\n");
    assert_eq!(flat_of(few.as_bytes()).status, Some(0));
}

#[test]
fn keys_and_words_without_end_are_refused() {
    // Each of a thousand values would be noted with all keys down to it.
    let key = "k".repeat(900);
    let text = formatdoc!(
        "
        {HEAD}plate:
          {key}:
            {key}:
              [{}]
        ",
        "1, ".repeat(1000)
    );
    assert!(
        only_error(text.as_bytes()).message.contains("1000 letters"),
        "{:?}",
        only_error(text.as_bytes())
    );
    for line in ["material", "thickness"] {
        let text =
            HEAD.replace(&format!("{line}: 1"), &format!("{line}: x{}1", "9".repeat(3_000_000)));
        let answers = refusal(&flat_of(
            format!("{text}plate: {{profile: {{circle: {{diameter: 50}}}}}}\n").as_bytes(),
        ))
        .unwrap();
        let answer = &answers[0];
        assert!(
            answer.message.contains("letters, more than 1000") && answer.message.len() < 300,
            "{answer:?}"
        );
    }
}

#[test]
fn brackets_without_end_are_refused() {
    for text in [
        "[".repeat(100_000),
        "{a: ".repeat(100_000),
        "- ".repeat(100_000),
        format!("{HEAD}plate: {}", "[".repeat(100_000)),
    ] {
        let answer = only_error(text.as_bytes());
        assert!(answer.message.contains("deep"), "{answer:?}");
    }
}

#[test]
fn files_too_large_are_refused() {
    let mut text = HEAD.to_owned();
    text.push_str(&"# nothing\n".repeat(850_000));
    assert!(text.len() > 8_000_000);
    let answer = only_error(text.as_bytes());
    assert!(answer.message.contains("larger than 8 MB"), "{answer:?}");
    // Below the limit, but more values than any description has.
    let text = format!("{HEAD}plate: [{}]\n", "1, ".repeat(1_500_000));
    assert!(text.len() < 8_000_000);
    let answer = only_error(text.as_bytes());
    assert!(answer.message.contains("values"), "{answer:?}");
}

#[test]
fn bytes_that_are_no_text_are_refused_at_their_place() {
    let answer = only_error(b"part: made\nunits: mm\nmaterial: caf\xe9\n");
    assert_eq!((answer.line, answer.column), (3, 14), "{answer:?}");
    assert!(answer.help.contains("UTF-8"), "{answer:?}");
    let png = only_error(b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR");
    assert_eq!((png.line, png.column), (1, 1), "{png:?}");
    let nul = only_error(b"part: a\0b\n");
    assert_eq!(nul.line, 1, "{nul:?}");
}

/// U+0092 is the apostrophe of another encoding, saved as if it were this one.
#[test]
fn letters_saved_in_another_encoding_are_refused_at_their_place() {
    for letter in ['\u{80}', '\u{85}', '\u{92}', '\u{9f}'] {
        let bytes =
            format!("# Träger\npart: rail{letter}s half\n{}", HEAD.split_once('\n').unwrap().1);
        let answer = only_error(bytes.as_bytes());
        assert_eq!((answer.line, answer.column), (2, 11), "{answer:?}");
        assert!(
            answer.message.contains(&format!("U+{:04X}", u32::from(letter)))
                && answer.help.contains("anew"),
            "{answer:?}"
        );
        // For a person: no panic, and nothing that steers the terminal.
        let temporary = tempfile::tempdir().unwrap();
        let path = temporary.path().join("made.yaml");
        fs::write(&path, bytes).unwrap();
        let shown = run(&["flat", path.to_str().unwrap()], &[]);
        assert_eq!(shown.status, Some(2), "{}", shown.err);
        assert!(
            !shown.err.contains("panicked")
                && !shown.err.contains(letter)
                && shown.err.contains("rail"),
            "{}",
            shown.err
        );
    }
}

#[test]
fn a_byte_order_mark_is_no_error_and_moves_nothing() {
    let good = format!("\u{feff}{HEAD}plate: {{profile: {{circle: {{diameter: 50}}}}}}\n");
    let run = flat_of(good.as_bytes());
    assert_eq!(run.status, Some(0), "{}", run.err);
    assert_eq!(run.written.len(), 1);
    let answer =
        only_error(format!("\u{feff}prt: made\n{}", HEAD.split_once('\n').unwrap().1).as_bytes());
    assert_eq!((answer.line, answer.column), (1, 1), "{answer:?}");
}

#[test]
fn line_ends_of_other_systems_are_no_error_and_move_nothing() {
    let good = formatdoc!(
        "
        {HEAD}plate:
          profile:
            circle: {{diameter: 50}}
        "
    );
    assert_eq!(flat_of(good.replace('\n', "\r\n").as_bytes()).status, Some(0));
    let answer = only_error(good.replace("circle", "cirkle").replace('\n', "\r\n").as_bytes());
    assert_eq!((answer.line, answer.column), (7, 5), "{answer:?}");
}

#[test]
fn columns_are_counted_in_characters() {
    let answer = only_error(
        "{part: \"Längsträger – außen\", units: mm, material: 1008, thickness: 40, plate: {profile: {circle: {diameter: 50}}}}\n"
            .as_bytes(),
    );
    assert_eq!((answer.line, answer.column), (1, 69), "{answer:?}");
}

#[test]
fn a_file_wrong_everywhere_does_not_scroll_without_end() {
    let mut text = HEAD.to_owned();
    for i in 0..5000 {
        writeln!(text, "wrong{i}: 1").unwrap();
    }
    let answers = refusal(&flat_of(text.as_bytes())).unwrap();
    assert!(answers.len() <= 20, "{}", answers.len());
}

#[test]
fn an_outline_of_many_points_is_read_and_one_that_crosses_refused() {
    let star = |n: u32, step: u32| {
        let mut text = formatdoc!(
            "
            {HEAD}plate:
              profile:
                path:
            "
        );
        for i in 0..n {
            let angle = f64::from(i * step % n) / f64::from(n) * std::f64::consts::TAU;
            writeln!(text, "      - [{:.4}, {:.4}]", 500.0 * angle.cos(), 500.0 * angle.sin())
                .unwrap();
        }
        text
    };
    assert_eq!(flat_of(star(2000, 1).as_bytes()).status, Some(0));
    let answer = only_error(star(2001, 1000).as_bytes());
    assert!(answer.message.contains("crosses"), "{answer:?}");
}

/// A list of pseudo-random changes to `text`: lines lost, doubled or moved in, numbers and words
/// replaced by hostile ones, letters changed.
fn mangled(text: &str, dice: &mut Dice) -> String {
    const WORDS: [&str; 24] = [
        "0",
        "-1",
        "1e308",
        "-1e-308",
        ".nan",
        ".inf",
        "-.inf",
        "99999999999999999999",
        "0.0001",
        "1e5",
        "~",
        "[]",
        "{}",
        "[[0, 0]]",
        "*a",
        "&a x",
        "!t 1",
        "\"\"",
        "'",
        "\u{92}",
        "ß",
        "- -",
        "?",
        "{a: {b: c}}",
    ];
    let mut below = |n: usize| dice.below(n);
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for _ in 0..=below(2) {
        let at = below(lines.len());
        let line = lines[at].clone();
        match below(6) {
            0 => drop(lines.remove(at)),
            1 => lines.insert(below(lines.len()), line),
            2 => lines[at] = format!("  {line}"),
            _ => {
                // A word of the line: what stands between its punctuation.
                let marks = |c: char| " ,:[]{}".contains(c);
                let words: Vec<&str> = line.split(marks).filter(|word| !word.is_empty()).collect();
                if let Some(word) = words.get(below(words.len())) {
                    lines[at] = line.replacen(word, WORDS[below(WORDS.len())], 1);
                }
            }
        }
        if lines.is_empty() {
            break;
        }
    }
    lines.join("\n")
}

#[test]
fn mangled_descriptions_never_panic() {
    use planish::describe::{FileReader, read_job, read_part};
    use planish::problem::Problem;

    struct Shapes;
    impl FileReader for Shapes {
        fn read(&self, beside: &str, name: &str) -> Result<Vec<u8>, Problem> {
            fs::read(Path::new(beside).with_file_name(name))
                .map_err(|_| Problem::new(Code::File, format!("no {name}"), "name another"))
        }
        fn full_name(&self, beside: &str, name: &str) -> String {
            Path::new(beside).with_file_name(name).display().to_string()
        }
    }

    let shapes = Path::new(env!("CARGO_MANIFEST_DIR")).join("shapes");
    let mut files: Vec<PathBuf> = Vec::new();
    for folder in [shapes.clone(), shapes.join("slate-wren"), shapes.join("pan-brake")] {
        files.extend(
            fs::read_dir(folder)
                .unwrap()
                .map(|entry| entry.unwrap().path())
                .filter(|path| path.extension().is_some_and(|e| e == "yaml")),
        );
    }
    files.sort();
    let (mut dice, mut read, mut refused) = (Dice(17), 0, 0);
    for round in 0..4000 {
        let path = &files[round % files.len()];
        let text = fs::read_to_string(path).unwrap();
        let bytes = mangled(&text, &mut dice).into_bytes();
        let name = path.display().to_string();
        let problems = if text.lines().any(|line| line.starts_with("job:")) {
            read_job(&name, bytes, None, &Shapes).err()
        } else {
            read_part(&name, bytes, None, &Shapes).err()
        };
        match problems {
            None => read += 1,
            Some(problems) => {
                assert!(!problems.is_empty(), "{name}");
                for problem in problems {
                    assert!(
                        !problem.message.contains("does not know"),
                        "{name}, round {round}: {}",
                        problem.message
                    );
                    assert!(
                        !planish::cli::excerpt(&problem, false).trim().is_empty()
                            && !problem.help.is_empty(),
                        "{name}: {problem:?}"
                    );
                }
                refused += 1;
            }
        }
    }
    assert!(read >= 200 && refused >= 1500, "{read} {refused}");
}

#[test]
fn a_perforated_plate_of_thousands_of_openings_is_checked() {
    let mut text = formatdoc!(
        "
        {HEAD}plate:
          profile: {{rectangle: {{size: [700, 700], at: [345, 345]}}}}
          openings:
        "
    );
    for i in 0..50 {
        for k in 0..50 {
            writeln!(text, "    - circle: {{diameter: 8, at: [{}, {}]}}", i * 14, k * 14).unwrap();
        }
    }
    assert_eq!(flat_of(text.as_bytes()).status, Some(0));
    text.push_str("    - circle: {diameter: 8, at: [7, 0]}\n");
    let answer = only_error(text.as_bytes());
    assert_eq!((answer.line, answer.column), (7 + 2500 + 1, 7), "{answer:?}");
}
