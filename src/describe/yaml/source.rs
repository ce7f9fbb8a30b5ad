//! Reading YAML: where every key and value stands, and the decoding that reports all its errors at
//! once.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use saphyr_parser::{Event, Parser, Span};
use serde::de::DeserializeOwned;
use serde_yaml::Value;

use super::decoder::Strict;
use super::mistakes::{Mender, Mending, mistake_of};
use crate::problem::{Checked, Code, Place, Problem, SourceText};
use crate::tolerance::{LARGEST_DESCRIPTION, LONGEST_PATH, MOST_ERRORS, MOST_VALUES, YAML_DEPTH};

/// Where the keys and values of a file stand, by their path (`half_shell.profile.path[2].to`).
#[derive(Debug, Clone)]
pub(crate) struct SourceMap {
    source: Arc<SourceText>,
    values: BTreeMap<String, Range<usize>>,
    keys: BTreeMap<String, Range<usize>>,
}

impl SourceMap {
    /// The place of the value at `path`, or of the nearest thing around it.
    #[must_use]
    pub(crate) fn value(&self, path: &str) -> Place {
        self.nearest(path, &self.values)
    }

    /// The place of the last key of `path`, or of the nearest thing around it.
    #[must_use]
    pub(crate) fn key(&self, path: &str) -> Place {
        match self.keys.get(path) {
            Some(span) => self.place(span.clone()),
            None => self.nearest(path, &self.values),
        }
    }

    /// Which kind of description this is, by its top-level keys; none if they do not say.
    fn kind(&self) -> Option<FileKind> {
        let has = |key: &&str| self.keys.contains_key(*key);
        if has(&"part") {
            Some(FileKind::Part)
        } else if has(&"job") {
            Some(FileKind::Job)
        } else if ["materials", "strips", "brake", "cutters", "limits"].iter().any(has) {
            Some(FileKind::Shop).filter(|_| !has(&"parts") && !has(&"material"))
        } else {
            None
        }
    }

    /// The file's name and text.
    #[must_use]
    pub(crate) fn source(&self) -> &Arc<SourceText> {
        &self.source
    }

    fn nearest(&self, path: &str, spans: &BTreeMap<String, Range<usize>>) -> Place {
        let mut path = path;
        loop {
            if let Some(span) = spans.get(path) {
                // A long block is pointed at by its first line.
                let text = &self.source.text[span.clone()];
                let end = text.find('\n').map_or(span.end, |i| span.start + i);
                return self.place(span.start..end);
            }
            match path.rfind(['.', '[']) {
                Some(cut) => path = &path[..cut],
                None if path.is_empty() => return self.place(0..0),
                None => path = "",
            }
        }
    }

    fn place(&self, span: Range<usize>) -> Place {
        Place { source: Arc::clone(&self.source), span }
    }
}

/// The text of a description file from its bytes: UTF-8, no byte order mark, not too large.
pub(crate) fn text_of(name: &str, bytes: Vec<u8>) -> Result<Arc<SourceText>, Problem> {
    let refuse = |message: String, help: &str| Err(Problem::new(Code::File, message, help));
    if bytes.len() > LARGEST_DESCRIPTION {
        return refuse(
            format!(
                "{name} is larger than {} MB, which no description is",
                LARGEST_DESCRIPTION / 1_000_000
            ),
            "give a YAML description of a part or a job",
        );
    }
    match String::from_utf8(bytes) {
        Ok(text) => {
            let text = text.strip_prefix('\u{feff}').map_or(text.clone(), str::to_owned);
            Ok(Arc::new(SourceText { name: name.to_owned(), text }))
        }
        Err(error) => {
            let start = error.utf8_error().valid_up_to();
            let text = String::from_utf8_lossy(error.as_bytes()).into_owned();
            let source = Arc::new(SourceText { name: name.to_owned(), text });
            let message = format!("{name} is not UTF-8 text: here is a byte that is no character");
            let place =
                Place { source, span: start..start + char::REPLACEMENT_CHARACTER.len_utf8() };
            Err(Problem::new(Code::File, message, "save the file as UTF-8 text").at(place))
        }
    }
}

/// Decodes a description of this kind, mended where its form is wrong, so that its values can be
/// looked at all the same. The error, all that could be told apart, is that it can't be mended.
pub(crate) fn decode<T: DeserializeOwned>(
    source: &Arc<SourceText>,
    kind: FileKind,
) -> Checked<(T, SourceMap, Mending)> {
    let map = index(source)?;
    if let Some(problem) = other_kind(&map, kind) {
        return Err(vec![problem]);
    }
    let mut value: Value =
        serde_yaml::from_str(&source.text).map_err(|error| vec![syntax(source, &error)])?;
    let mut mender = Mender::default();
    // Consequences of a mistake cost a round each, too.
    for _ in 0..4 * MOST_ERRORS {
        let mut track = serde_path_to_error::Track::new();
        let fault = match T::deserialize(serde_path_to_error::Deserializer::new(
            Strict(value.clone()),
            &mut track,
        )) {
            Ok(decoded) => return Ok((decoded, map, mender.finish())),
            Err(fault) => fault,
        };
        let mistake = mistake_of(&track.path(), fault);
        if !mender.mend(&mut value, &mistake, &map, kind) || mender.problems.len() == MOST_ERRORS {
            break;
        }
    }
    Err(mender.finish().problems)
}

/// Refuses a description that is plainly of another kind: one error instead of one for every key.
fn other_kind(map: &SourceMap, wanted: FileKind) -> Option<Problem> {
    let found = map.kind()?;
    if found == wanted {
        return None;
    }
    let message = format!("this is a {}, and a {} is wanted here", found.words(), wanted.words());
    let help = match found {
        FileKind::Part => {
            "`planish flat`, `buck` and `check` take parts; a job lists them under `parts:`"
        }
        FileKind::Job => "`planish make`, `nest` and `check` take jobs",
        FileKind::Stock => "a job names it as `- {file: …}` under `sheets:`",
        FileKind::Shop => "a part or a job names it as `shop:`, the command line as `--shop`",
    };
    Some(Problem::new(Code::Choice, message, help).at(map.value("")))
}

/// An error of the YAML itself.
fn syntax(source: &Arc<SourceText>, error: &serde_yaml::Error) -> Problem {
    // The library counts characters.
    let end = source.text.len();
    let at = error
        .location()
        .and_then(|location| source.text.char_indices().nth(location.index()))
        .map_or(end, |(at, _)| at);
    let said = error.to_string();
    let (code, message, help) = if said.contains("duplicate entry") {
        (Code::DuplicateKey, "a key stands twice in one group", "keep one of the two")
    } else {
        (
            Code::Syntax,
            "this is not valid YAML",
            "`planish new plate` prints a description to start from",
        )
    };
    Problem::new(code, message, help).at(Place { source: Arc::clone(source), span: at..at })
}

/// The parser's complaint at byte `at`, in a builder's words and where the cause stands.
fn unreadable(map: &SourceMap, at: usize, info: &str) -> Problem {
    let text = map.source.text.as_str();
    let at = at.min(text.len());
    let line_start = text[..at].rfind('\n').map_or(0, |i| i + 1);
    let line = text[line_start..].lines().next().unwrap_or("");
    let first_of = |start: usize, line: &str| start + (line.len() - line.trim_start().len());
    let says = |words: &[&str]| words.iter().any(|word| info.contains(word));
    let (at, message, help) = if let (true, Some(tab)) = (says(&["tab"]), line.find('\t')) {
        (
            line_start + tab,
            "a tab stands here where spaces belong".to_owned(),
            "indent with spaces; YAML takes no tabs",
        )
    } else if says(&["recursion"]) {
        return too_deep().at(map.place(at..at));
    } else if says(&["quoted scalar", "quote"]) {
        let open = open_quote(text, at);
        (
            open.unwrap_or(at),
            "this quote is not closed".to_owned(),
            "close it with the same sign on the same line",
        )
    } else if says(&["flow", "bracket", "',' or"]) {
        (
            at,
            "a bracket is not closed, or a comma is missing, before this".to_owned(),
            "close every [ with ] and every { with }",
        )
    } else if says(&["simple key"]) {
        // Noticed only on the line after.
        let before = text[..line_start].trim_end();
        let start = before.rfind('\n').map_or(0, |i| i + 1);
        let help = "write `key: value`, with a space behind the colon";
        (
            first_of(start, &before[start..]),
            "this line is neither a key with its value nor an item of a list".to_owned(),
            help,
        )
    } else if says(&["mapping values", "block", "indent"]) {
        let help =
            "keys that belong together begin in one column; put a text that holds `: ` in quotes";
        (
            first_of(line_start, line),
            "this line's indentation does not fit the lines before it".to_owned(),
            help,
        )
    } else if says(&["anchor", "alias"]) {
        (
            at,
            "`*` and `&` begin a name of YAML's own, and this one is not known".to_owned(),
            "put the text in quotes",
        )
    } else {
        (
            at,
            "this is not valid YAML".to_owned(),
            "check the indentation, the brackets and the quotes here and in the line before",
        )
    };
    Problem::new(Code::Syntax, message, help).at(map.place(at..at))
}

fn too_deep() -> Problem {
    Problem::new(
        Code::Syntax,
        format!("lists and groups are nested more than {YAML_DEPTH} deep here"),
        "no description needs that",
    )
}

/// What stands for a part of the file that is written once and named in other places: what it makes
/// each time.
#[derive(Debug, Clone, Copy, Default)]
struct Amount {
    values: usize,
    /// Bytes of text in them.
    text: usize,
}

impl Amount {
    fn add(&mut self, more: Self) {
        self.values = self.values.saturating_add(more.values);
        self.text = self.text.saturating_add(more.text);
    }

    fn since(self, before: Self) -> Self {
        Self { values: self.values - before.values, text: self.text - before.text }
    }

    /// What is wrong with a file that makes so much.
    fn too_much(self) -> Option<Problem> {
        if self.values > MOST_VALUES {
            let message = format!(
                "this file holds more than {MOST_VALUES} values, its aliases written out, which no description does"
            );
            Some(Problem::new(
                Code::Syntax,
                message,
                "split it into several parts, and repeat less by aliases",
            ))
        } else if self.text > LARGEST_DESCRIPTION {
            let most = LARGEST_DESCRIPTION / 1_000_000;
            let message =
                format!("the aliases of this file, written out, make more than {most} MB of text");
            Some(Problem::new(Code::Syntax, message, "repeat less by aliases"))
        } else {
            None
        }
    }
}

/// The quote that is open before `at`, seen along its own line.
fn open_quote(text: &str, at: usize) -> Option<usize> {
    let mut start = 0;
    for line in text[..at].split_inclusive('\n') {
        let mut open: Option<(usize, char)> = None;
        for (i, c) in line.char_indices() {
            match open {
                Some((_, quote)) if c == quote => open = None,
                None if matches!(c, '"' | '\'') && !line[..i].ends_with(char::is_alphanumeric) => {
                    open = Some((start + i, c));
                }
                None if c == '#' => break,
                _ => {}
            }
        }
        if let Some((at, _)) = open {
            return Some(at);
        }
        start += line.len();
    }
    None
}

/// An open list or map while the events of a file go by.
struct Frame {
    path: String,
    start: usize,
    next: Next,
    /// The number of its anchor, 0 for none, and what was made before it.
    anchor: (usize, Amount),
}

enum Next {
    Item(usize),
    Key,
    Value(String),
}

/// One pass over the events of the file.
fn index(source: &Arc<SourceText>) -> Checked<SourceMap> {
    if let Some((at, c)) =
        source.text.char_indices().find(|(_, c)| c.is_control() && !matches!(c, '\t' | '\n' | '\r'))
    {
        let message =
            format!("here is a control character (U+{:04X}), which no text holds", u32::from(c));
        let help = if c.is_ascii() {
            "take it out; perhaps this is no text file"
        } else {
            "it comes of text saved in one encoding and read in another: type the quote or dash that belongs here anew, or take it out"
        };
        let place = Place { source: Arc::clone(source), span: at..at + c.len_utf8() };
        return Err(vec![Problem::new(Code::Syntax, message, help).at(place)]);
    }
    let offsets: Vec<usize> =
        source.text.char_indices().map(|(i, _)| i).chain([source.text.len()]).collect();
    let byte = |marker: usize| offsets[marker.min(offsets.len() - 1)];
    let mut map =
        SourceMap { source: Arc::clone(source), values: BTreeMap::new(), keys: BTreeMap::new() };
    let mut frames: Vec<Frame> = Vec::new();
    let mut problems = Vec::new();
    let mut documents = 0;
    let mut made = Amount::default();
    let mut anchors: BTreeMap<usize, Amount> = BTreeMap::new();
    for event in Parser::new_from_str(&source.text) {
        let (event, span) = event
            .map_err(|error| vec![unreadable(&map, byte(error.marker().index()), error.info())])?;
        let span = byte_span(span, &byte);
        if let Some(problem) = made.too_much() {
            return Err(vec![problem.at(map.place(span))]);
        }
        if frames.last().is_some_and(|frame| frame.path.len() > LONGEST_PATH) {
            let message = format!(
                "the keys that lead down to here are longer than {LONGEST_PATH} letters together"
            );
            return Err(vec![
                Problem::new(Code::Syntax, message, "no description needs that")
                    .at(map.place(span)),
            ]);
        }
        match event {
            Event::DocumentStart(..) if documents == 1 => {
                let message = "a second description begins here";
                let problem = Problem::new(
                    Code::Syntax,
                    message,
                    "give each description a file of its own, without `---`",
                );
                return Err(vec![problem.at(map.place(span))]);
            }
            Event::DocumentStart(..) => documents += 1,
            Event::Scalar(text, _, anchor, _) => {
                let is_key = matches!(frames.last(), Some(Frame { next: Next::Key, .. }));
                let one = Amount { values: 1, text: text.len() };
                made.add(Amount { values: usize::from(!is_key), ..one });
                anchors.insert(anchor, one);
                scalar(&mut map, &mut frames, &mut problems, &text, span);
            }
            Event::Alias(anchor) => {
                // An anchor that is not done yet stands around its alias.
                let Some(again) = anchors.get(&anchor) else {
                    let help = "write it out instead, as deep as it goes: a tree of flanges has to end somewhere";
                    let problem = Problem::new(
                        Code::Syntax,
                        "what is named here holds itself, by an alias",
                        help,
                    );
                    return Err(vec![problem.at(map.place(span))]);
                };
                made.add(*again);
                let path = take_path(&mut frames);
                map.values.insert(path, span);
            }
            Event::SequenceStart(anchor, _) | Event::MappingStart(anchor, _) => {
                if frames.len() == YAML_DEPTH {
                    return Err(vec![too_deep().at(map.place(span))]);
                }
                let next = if matches!(event, Event::SequenceStart(..)) {
                    Next::Item(0)
                } else {
                    Next::Key
                };
                let path = take_path(&mut frames);
                frames.push(Frame { path, start: span.start, next, anchor: (anchor, made) });
                made.add(Amount { values: 1, text: 0 });
            }
            Event::SequenceEnd | Event::MappingEnd => {
                if let Some(frame) = frames.pop() {
                    let (anchor, before) = frame.anchor;
                    anchors.insert(anchor, made.since(before));
                    map.values.insert(frame.path, frame.start..span.end.max(frame.start));
                }
            }
            _ => {}
        }
    }
    if problems.is_empty() { Ok(map) } else { Err(problems) }
}

fn scalar(
    map: &mut SourceMap,
    frames: &mut [Frame],
    problems: &mut Vec<Problem>,
    text: &str,
    span: Range<usize>,
) {
    if let Some(Frame { path, next: next @ Next::Key, .. }) = frames.last_mut() {
        let full = if path.is_empty() { text.to_owned() } else { format!("{path}.{text}") };
        if let Some(first) = map.keys.insert(full, span.clone()) {
            let line = map.place(first).line_and_column().0;
            let message = format!("`{text}` stands here twice, first on line {line}");
            problems.push(
                Problem::new(Code::DuplicateKey, message, "keep one of the two")
                    .at(map.place(span)),
            );
        }
        *next = Next::Value(text.to_owned());
        return;
    }
    let path = take_path(frames);
    map.values.insert(path, span);
}

/// The path of the value that comes now; its frame moves on.
fn take_path(frames: &mut [Frame]) -> String {
    let Some(frame) = frames.last_mut() else { return String::new() };
    match &mut frame.next {
        Next::Item(i) => {
            *i += 1;
            format!("{}[{}]", frame.path, *i - 1)
        }
        Next::Value(key) => {
            let path =
                if frame.path.is_empty() { key.clone() } else { format!("{}.{key}", frame.path) };
            frame.next = Next::Key;
            path
        }
        // A list or map as a key; nothing here is named by one.
        Next::Key => {
            frame.next = Next::Value("?".to_owned());
            format!("{}.?", frame.path)
        }
    }
}

fn byte_span(span: Span, byte: &dyn Fn(usize) -> usize) -> Range<usize> {
    byte(span.start.index())..byte(span.end.index())
}

/// The kinds of description file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
    /// A part.
    Part,
    /// A job.
    Job,
    /// A shop file.
    Shop,
    /// A file that lists stock.
    Stock,
}

impl FileKind {
    /// What a person calls it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Part => "part",
            Self::Job => "job",
            Self::Shop => "shop file",
            Self::Stock => "list of stock",
        }
    }
}

/// Which kind of description this is, by its top-level keys; what does not say is taken for a part.
#[must_use]
pub fn kind_of_file(bytes: &[u8]) -> FileKind {
    let map = text_of("", bytes.to_vec())
        .map_err(|problem| vec![problem])
        .and_then(|source| index(&source));
    let starts_job = |line: &[u8]| line.starts_with(b"job:");
    match map {
        Ok(map) => map.kind().unwrap_or(FileKind::Part),
        // What cannot be read as a whole will be refused; as a job, if it looks like one.
        Err(_) if bytes.split(|b| *b == b'\n').any(starts_job) => FileKind::Job,
        Err(_) => FileKind::Part,
    }
}
