//! Decoding errors: what they mean in a builder's words, and how to read on behind one to find the next.

use serde_path_to_error::{Path, Segment};
use serde_yaml::Value;

use super::source::SourceMap;
use crate::problem::{Code, Problem};

/// One step down a description.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Step {
    Key(String),
    Item(usize),
}

/// What a decoding error says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Mistake {
    path: Vec<Step>,
    kind: Kind,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Kind {
    UnknownKey { key: String, known: Vec<String> },
    MissingKey { key: String },
    Other { message: String },
}

/// Reads the decoder's message and path.
pub(super) fn mistake_of(path: &Path, message: &str) -> Mistake {
    let mut steps: Vec<Step> = path
        .iter()
        .filter_map(|segment| match segment {
            Segment::Map { key } => Some(Step::Key(key.clone())),
            Segment::Seq { index } => Some(Step::Item(*index)),
            Segment::Enum { .. } | Segment::Unknown => None,
        })
        .collect();
    let message = message.split(" at line ").next().unwrap_or(message);
    let quoted: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    let kind = if message.starts_with("unknown field") && !quoted.is_empty() {
        if steps.last() == Some(&Step::Key(quoted[0].to_owned())) {
            steps.pop();
        }
        Kind::UnknownKey { key: quoted[0].to_owned(), known: quoted[1..].iter().map(|&k| k.to_owned()).collect() }
    } else if message.starts_with("missing field") && !quoted.is_empty() {
        Kind::MissingKey { key: quoted[0].to_owned() }
    } else {
        Kind::Other { message: message.to_owned() }
    };
    Mistake { path: steps, kind }
}

impl Mistake {
    /// Whether this is only the consequence of a value that was already reported and taken out.
    pub(super) fn is_echo_of(&self, pruned: &[Vec<Step>]) -> bool {
        let Kind::MissingKey { key } = &self.kind else { return false };
        let mut path = self.path.clone();
        path.push(Step::Key(key.clone()));
        pruned.contains(&path)
    }

    /// The problem as the user sees it.
    pub(super) fn problem(&self, map: &SourceMap) -> Problem {
        let path = path_text(&self.path);
        match &self.kind {
            Kind::UnknownKey { key, known } => {
                let full = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
                Problem::new(Code::UnknownKey, format!("`{key}` is not known here"), suggestion(key, known)).at(map.key(&full))
            }
            Kind::MissingKey { key } => {
                let owner = if path.is_empty() { "this file".to_owned() } else { format!("`{path}`") };
                Problem::new(Code::MissingKey, format!("{owner} needs `{key}`"), format!("add `{key}:`")).at(map.key(&path))
            }
            Kind::Other { message } => {
                let message = plain(message);
                let name = last_key(&self.path);
                let message = if name.is_empty() { message } else { format!("`{name}`: {message}") };
                Problem::new(Code::WrongType, message, "").at(map.value(&path))
            }
        }
    }
}

/// Takes the thing at fault out of the description, so that decoding goes on behind it. False when nothing is left to decode.
pub(super) fn prune(root: &mut Value, mistake: &Mistake, pruned: &mut Vec<Vec<Step>>) -> bool {
    let mut path = mistake.path.clone();
    if let Kind::UnknownKey { key, .. } = &mistake.kind {
        path.push(Step::Key(key.clone()));
    }
    let Some((last, parents)) = path.split_last() else { return false };
    let mut at = root;
    for step in parents {
        let next = match (step, at) {
            (Step::Key(key), Value::Mapping(map)) => map.get_mut(key.as_str()),
            (Step::Item(i), Value::Sequence(list)) => list.get_mut(*i),
            _ => None,
        };
        let Some(next) = next else { return false };
        at = next;
    }
    let removed = match (last, at) {
        (Step::Key(key), Value::Mapping(map)) => remove_key(map, key),
        // Later items keep their places: the one at fault becomes a copy of a neighbour that may be right.
        (Step::Item(i), Value::Sequence(list)) if list.len() > 1 => {
            let other = list[if *i == 0 { 1 } else { i - 1 }].clone();
            let changed = list[*i] != other;
            list[*i] = other;
            changed
        }
        _ => false,
    };
    pruned.push(path);
    removed
}

fn remove_key(map: &mut serde_yaml::Mapping, key: &str) -> bool {
    let found = map.keys().find(|k| key_text(k) == key).cloned();
    found.is_some_and(|k| map.shift_remove(&k).is_some())
}

/// A key as text, numbers included.
fn key_text(key: &Value) -> String {
    match key {
        Value::String(text) => text.clone(),
        Value::Number(number) => number.to_string(),
        Value::Bool(flag) => flag.to_string(),
        _ => String::new(),
    }
}

fn path_text(path: &[Step]) -> String {
    let mut text = String::new();
    for step in path {
        match step {
            Step::Key(key) if text.is_empty() => text.push_str(key),
            Step::Key(key) => {
                text.push('.');
                text.push_str(key);
            }
            Step::Item(i) => text.push_str(&format!("[{i}]")),
        }
    }
    text
}

fn last_key(path: &[Step]) -> &str {
    path.iter()
        .rev()
        .find_map(|step| match step {
            Step::Key(key) => Some(key.as_str()),
            Step::Item(_) => None,
        })
        .unwrap_or("")
}

/// "did you mean …", or the list of what is known.
pub(crate) fn suggestion<S: AsRef<str>>(name: &str, known: &[S]) -> String {
    let near = known
        .iter()
        .map(|k| (strsim::damerau_levenshtein(&name.to_lowercase(), k.as_ref()), k.as_ref()))
        .min()
        .filter(|(distance, k)| *distance <= 2.max(k.len() / 3));
    match near {
        Some((_, k)) => format!("did you mean `{k}`?"),
        None if known.is_empty() => "nothing can stand here".to_owned(),
        None => {
            let list: Vec<String> = known.iter().map(|k| format!("`{}`", k.as_ref())).collect();
            format!("known here: {}", list.join(", "))
        }
    }
}

/// The decoder's words in plain ones.
fn plain(message: &str) -> String {
    let message = message.strip_prefix("invalid type: ").or_else(|| message.strip_prefix("invalid value: ")).unwrap_or(message);
    match message.split_once(", expected ") {
        Some((found, expected)) => {
            let found = match found {
                "sequence" => "a list",
                "map" => "a map",
                "unit value" | "null" => "nothing",
                other => other,
            };
            let expected = match expected {
                "a sequence" => "a list",
                e if e.starts_with("struct ") => "a map of keys",
                other => other,
            };
            format!("{found} stands here where {expected} belongs")
        }
        None => message.to_owned(),
    }
}
