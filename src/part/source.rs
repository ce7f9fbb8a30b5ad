//! Reading YAML: where every key and value stands, and the decoding that reports all its errors at once.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use saphyr_parser::{Event, Parser, Span};
use serde::de::DeserializeOwned;
use serde_yaml::Value;

use super::mistakes::{mistake_of, prune};
use crate::problem::{Checked, Code, Place, Problem, SourceText};
use crate::tolerance::{LARGEST_DESCRIPTION, MOST_ERRORS, YAML_DEPTH};

/// Where the keys and values of a file stand, by their path (`half_shell.profile.path[2].to`).
#[derive(Debug, Clone)]
pub struct SourceMap {
    source: Arc<SourceText>,
    values: BTreeMap<String, Range<usize>>,
    keys: BTreeMap<String, Range<usize>>,
}

impl SourceMap {
    /// The place of the value at `path`, or of the nearest thing around it.
    #[must_use]
    pub fn value(&self, path: &str) -> Place {
        self.nearest(path, &self.values)
    }

    /// The place of the last key of `path`, or of the nearest thing around it.
    #[must_use]
    pub fn key(&self, path: &str) -> Place {
        match self.keys.get(path) {
            Some(span) => self.place(span.clone()),
            None => self.nearest(path, &self.values),
        }
    }

    /// The file's name and text.
    #[must_use]
    pub fn source(&self) -> &Arc<SourceText> {
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
pub fn text_of(name: &str, bytes: Vec<u8>) -> Result<Arc<SourceText>, Problem> {
    let refuse = |message: String, help: &str| Err(Problem::new(Code::File, message, help));
    if bytes.len() > LARGEST_DESCRIPTION {
        return refuse(
            format!("{name} is larger than {} MB, which no description is", LARGEST_DESCRIPTION / 1_000_000),
            "give a YAML description of a part or a job",
        );
    }
    match String::from_utf8(bytes) {
        Ok(text) => {
            let text = text.strip_prefix('\u{feff}').map_or(text.clone(), str::to_owned);
            Ok(Arc::new(SourceText { name: name.to_owned(), text }))
        }
        Err(error) => {
            let valid = error.utf8_error().valid_up_to();
            let line = error.as_bytes()[..valid].iter().filter(|&&b| b == b'\n').count() + 1;
            let column = valid - error.as_bytes()[..valid].iter().rposition(|&b| b == b'\n').map_or(0, |i| i + 1) + 1;
            refuse(
                format!("{name} is not UTF-8 text: line {line}, column {column} holds a byte that is no character"),
                "save the file as UTF-8",
            )
        }
    }
}

/// Decodes a description. Every error that can be told apart is reported, not just the first.
pub fn decode<T: DeserializeOwned>(source: &Arc<SourceText>) -> Checked<(T, SourceMap)> {
    let map = index(source)?;
    let mut value: Value = serde_yaml::from_str(&source.text).map_err(|error| vec![syntax(source, &error)])?;
    let mut problems = Vec::new();
    let mut pruned = Vec::new();
    while problems.len() < MOST_ERRORS {
        let mut track = serde_path_to_error::Track::new();
        let error = match T::deserialize(serde_path_to_error::Deserializer::new(value.clone(), &mut track)) {
            Ok(decoded) if problems.is_empty() => return Ok((decoded, map)),
            Ok(_) => break,
            Err(error) => error,
        };
        let mistake = mistake_of(&track.path(), &error.to_string());
        // A key that is missing because it was itself at fault is no second error.
        if !mistake.is_echo_of(&pruned) {
            problems.push(mistake.problem(&map));
        }
        if !prune(&mut value, &mistake, &mut pruned) {
            break;
        }
    }
    Err(problems)
}

/// An error of the YAML itself.
fn syntax(source: &Arc<SourceText>, error: &serde_yaml::Error) -> Problem {
    let at = error.location().map_or(0, |location| location.index());
    let message = error.to_string();
    let message = message.split(" at line ").next().unwrap_or(&message);
    let (code, help) = if message.contains("duplicate entry") {
        (Code::DuplicateKey, "keep one of the two")
    } else if message.contains("repetition limit") {
        (Code::Syntax, "write the values out instead of repeating them by aliases")
    } else {
        (Code::Syntax, "see the examples in shapes/ for how a description is written")
    };
    let end = source.text.len();
    Problem::new(code, format!("this is not valid YAML: {message}"), help)
        .at(Place { source: Arc::clone(source), span: at.min(end)..at.min(end) })
}

/// An open list or map while the events of a file go by.
struct Frame {
    path: String,
    start: usize,
    next: Next,
}

enum Next {
    Item(usize),
    Key,
    Value(String),
}

/// One pass over the events of the file.
fn index(source: &Arc<SourceText>) -> Checked<SourceMap> {
    let offsets: Vec<usize> = source.text.char_indices().map(|(i, _)| i).chain([source.text.len()]).collect();
    let byte = |marker: usize| offsets[marker.min(offsets.len() - 1)];
    let mut map = SourceMap { source: Arc::clone(source), values: BTreeMap::new(), keys: BTreeMap::new() };
    let mut frames: Vec<Frame> = Vec::new();
    let mut problems = Vec::new();
    for event in Parser::new_from_str(&source.text) {
        let (event, span) = event.map_err(|error| {
            let at = byte(error.marker().index());
            let help = "check the indentation, the brackets and the quotes here";
            vec![Problem::new(Code::Syntax, format!("this is not valid YAML: {}", error.info()), help).at(map.place(at..at))]
        })?;
        let span = byte_span(span, &byte);
        match event {
            Event::Scalar(text, ..) => scalar(&mut map, &mut frames, &mut problems, &text, span),
            Event::Alias(_) => {
                let path = take_path(&mut frames);
                map.values.insert(path, span);
            }
            Event::SequenceStart(..) | Event::MappingStart(..) => {
                if frames.len() == YAML_DEPTH {
                    let message = format!("lists and maps are nested more than {YAML_DEPTH} deep here");
                    return Err(vec![Problem::new(Code::Syntax, message, "no description needs that").at(map.place(span))]);
                }
                let next = if matches!(event, Event::SequenceStart(..)) { Next::Item(0) } else { Next::Key };
                let path = take_path(&mut frames);
                frames.push(Frame { path, start: span.start, next });
            }
            Event::SequenceEnd | Event::MappingEnd => {
                if let Some(frame) = frames.pop() {
                    map.values.insert(frame.path, frame.start..span.end.max(frame.start));
                }
            }
            _ => {}
        }
    }
    if problems.is_empty() { Ok(map) } else { Err(problems) }
}

fn scalar(map: &mut SourceMap, frames: &mut [Frame], problems: &mut Vec<Problem>, text: &str, span: Range<usize>) {
    if let Some(Frame { path, next: next @ Next::Key, .. }) = frames.last_mut() {
        let full = if path.is_empty() { text.to_owned() } else { format!("{path}.{text}") };
        if let Some(first) = map.keys.insert(full, span.clone()) {
            let line = map.place(first).line_and_column().0;
            let message = format!("`{text}` stands here twice, first on line {line}");
            problems.push(Problem::new(Code::DuplicateKey, message, "keep one of the two").at(map.place(span)));
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
            let path = if frame.path.is_empty() { key.clone() } else { format!("{}.{key}", frame.path) };
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
}

/// Which kind of description this is, by its top-level keys; anything that is no job is taken for a part.
#[must_use]
pub fn kind_of_file(bytes: &[u8]) -> FileKind {
    let starts_job = |line: &[u8]| line.starts_with(b"job:") || line.starts_with(b"\"job\":") || line.starts_with(b"{job:");
    if bytes.split(|b| *b == b'\n').any(starts_job) { FileKind::Job } else { FileKind::Part }
}
