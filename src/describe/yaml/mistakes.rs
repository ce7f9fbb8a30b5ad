//! Decoding errors: what they mean in a builder's words, and how to read on behind one to find the
//! next.

use std::fmt::Write as _;

use serde_path_to_error::{Path, Segment};
use serde_yaml::Value;

use super::decoder::{Fault, key_text};
use super::source::{FileKind, SourceMap};
use crate::problem::{Code, Problem};
use crate::tolerance::LONGEST_NAME;

/// One step down a description.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Step {
    Key(String),
    Item(usize),
}

/// A fault and where it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Mistake {
    path: Vec<Step>,
    fault: Fault,
}

/// The decoder's fault at its place.
pub(crate) fn mistake_of(path: &Path, fault: Fault) -> Mistake {
    let mut steps: Vec<Step> = path
        .iter()
        .filter_map(|segment| match segment {
            Segment::Map { key } => Some(Step::Key(key.clone())),
            Segment::Seq { index } => Some(Step::Item(*index)),
            Segment::Enum { .. } | Segment::Unknown => None,
        })
        .collect();
    // The path of an unknown key is that of what it stands in.
    if let Fault::UnknownKey { key, .. } = &fault
        && steps.last() == Some(&Step::Key(key.clone()))
    {
        steps.pop();
    }
    Mistake { path: steps, fault }
}

impl Mistake {
    /// The problem as the user sees it.
    fn problem(&self, map: &SourceMap, kind: FileKind) -> Problem {
        let path = path_text(&self.path);
        match &self.fault {
            Fault::UnknownKey { key, known } => {
                let full = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
                Problem::new(
                    Code::UnknownKey,
                    format!("`{key}` is not known here"),
                    suggestion(key, known),
                )
                .at(map.key(&full))
            }
            Fault::MissingKey { key } => {
                let owner = owner_words(&self.path, kind);
                Problem::new(
                    Code::MissingKey,
                    format!("{owner} needs `{key}`"),
                    format!("add `{key}:`"),
                )
                .at(map.key(&path))
            }
            Fault::Wrong { found, .. } if self.path.is_empty() => {
                let message = match found.as_str() {
                    "nothing" => "this file is empty".to_owned(),
                    found => format!("this file holds {found} and no description"),
                };
                let (key, starter) = match kind {
                    FileKind::Part => ("part", "plate"),
                    FileKind::Job => ("job", "job"),
                    FileKind::Shop => ("units", "shop"),
                    FileKind::Stock => ("units", "job"),
                };
                let help = format!(
                    "a {} begins with `{key}:`; `planish new {starter}` prints one to start from",
                    kind.words()
                );
                Problem::new(Code::WrongType, message, help).at(map.value(&path))
            }
            Fault::Wrong { found, wanted, help } => {
                let name = last_key(&self.path);
                let message = format!("`{name}`: {found} stands here where {wanted} belongs");
                Problem::new(Code::WrongType, message, help).at(map.value(&path))
            }
        }
    }
}

/// What was wrong with the form of a file, and the paths at which it was mended to be read on.
#[derive(Debug, Default)]
pub(crate) struct Mending {
    pub(crate) problems: Vec<Problem>,
    pub(crate) places: Vec<Vec<Step>>,
}

/// Reads on behind mistakes: keeps what was found, and mends the description far enough to find the
/// next.
#[derive(Debug, Default)]
pub(crate) struct Mender {
    pub(crate) problems: Vec<Problem>,
    /// What was at fault and is taken out.
    removed: Vec<Vec<Step>>,
    /// What was missing and has a stand-in now.
    filled: Vec<Vec<Step>>,
}

impl Mender {
    /// What it found, in the file's order, and where it mended.
    pub(crate) fn finish(mut self) -> Mending {
        self.problems.sort_by_key(|problem| problem.place.as_ref().map(|place| place.span.start));
        self.removed.append(&mut self.filled);
        Mending { problems: self.problems, places: self.removed }
    }

    /// Notes the mistake, unless it is a consequence of an earlier one, and takes it out of `root`.
    /// False when nothing is left to decode.
    pub(crate) fn mend(
        &mut self,
        root: &mut Value,
        mistake: &Mistake,
        map: &SourceMap,
        kind: FileKind,
    ) -> bool {
        if let Some(owner) = self.filled.iter().find(|filled| mistake.path.starts_with(filled)) {
            // No word can stand in for this one; whatever needs it goes.
            let owner = owner[..owner.len() - 1].to_vec();
            return self.remove(root, owner);
        }
        let mut path = mistake.path.clone();
        match &mistake.fault {
            Fault::MissingKey { key } => {
                let owner = path.clone();
                path.push(Step::Key(key.clone()));
                if self.removed.contains(&path) {
                    return self.fill(root, &owner, key);
                }
                self.problems.push(mistake.problem(map, kind));
                self.fill(root, &owner, key)
            }
            Fault::UnknownKey { key, known } => {
                self.problems.push(mistake.problem(map, kind));
                // The key that was meant is then no missing one.
                if let [meant] = near(key, known).as_slice() {
                    self.removed.push(
                        path.iter().cloned().chain([Step::Key((*meant).to_owned())]).collect(),
                    );
                }
                path.push(Step::Key(key.clone()));
                self.remove(root, path)
            }
            Fault::Wrong { .. } => {
                self.problems.push(mistake.problem(map, kind));
                self.remove(root, path)
            }
        }
    }

    /// Puts a word where a key is missing, so that other missing keys come to light.
    fn fill(&mut self, root: &mut Value, owner: &[Step], key: &str) -> bool {
        let Some(Value::Mapping(map)) = value_at(root, owner) else { return false };
        map.insert(Value::String(key.to_owned()), Value::String("1".to_owned()));
        let mut path = owner.to_vec();
        path.push(Step::Key(key.to_owned()));
        self.filled.push(path);
        true
    }

    /// Takes out what is at `path`, or failing that what it stands in.
    fn remove(&mut self, root: &mut Value, mut path: Vec<Step>) -> bool {
        while let Some((last, parents)) = path.split_last() {
            let done = match (last, value_at(root, parents)) {
                (Step::Key(key), Some(Value::Mapping(map))) => {
                    let found = map.keys().find(|k| key_text(k) == *key).cloned();
                    found.is_some_and(|k| map.shift_remove(&k).is_some())
                }
                // Later items keep their places: the one at fault becomes a copy of a neighbour
                // that may be right.
                (Step::Item(i), Some(Value::Sequence(list)))
                    if list.len() > 1 && *i < list.len() =>
                {
                    let other = list[if *i == 0 { 1 } else { i - 1 }].clone();
                    let changed = list[*i] != other;
                    list[*i] = other;
                    changed
                }
                _ => false,
            };
            if done {
                self.removed.push(path);
                return true;
            }
            path.pop();
        }
        false
    }
}

fn value_at<'a>(root: &'a mut Value, path: &[Step]) -> Option<&'a mut Value> {
    path.iter().try_fold(root, |at, step| match (step, at) {
        (Step::Key(key), Value::Mapping(map)) => {
            let found = map.keys().find(|k| key_text(k) == *key).cloned()?;
            map.get_mut(&found)
        }
        (Step::Item(i), Value::Sequence(list)) => list.get_mut(*i),
        _ => None,
    })
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
            Step::Item(i) => {
                let _ = write!(text, "[{i}]");
            }
        }
    }
    text
}

/// What lacks a key, as its writer would call it.
fn owner_words(path: &[Step], kind: FileKind) -> String {
    match path {
        [] => format!("this {}", kind.words()),
        [.., Step::Item(i)] => format!("item {} of `{}`", i + 1, last_key(path)),
        [.., Step::Key(key)] => format!("`{key}`"),
    }
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

/// The known names that `name` may have been meant for: the nearest, or those that it is short for.
fn near<'a, S: AsRef<str>>(name: &str, known: &'a [S]) -> Vec<&'a str> {
    // Comparing takes a table of both lengths.
    if name.len() > LONGEST_NAME {
        return Vec::new();
    }
    let name = name.to_lowercase();
    let nearest = known
        .iter()
        .map(|k| (strsim::damerau_levenshtein(&name, &k.as_ref().to_lowercase()), k.as_ref()))
        .min()
        // The shorter a word, the fewer slips still point to it: one of three letters, two of six.
        .filter(|(distance, k)| {
            *distance <= (k.len() / 3).max(1) && *distance < name.chars().count()
        });
    match nearest {
        Some((_, k)) => vec![k],
        None if name.len() < 3 => Vec::new(),
        None => known
            .iter()
            .map(AsRef::as_ref)
            .filter(|k| k.to_lowercase().starts_with(&name))
            .collect(),
    }
}

/// "did you mean …", or the list of what is known.
pub(crate) fn suggestion<S: AsRef<str>>(name: &str, known: &[S]) -> String {
    let quoted = |names: &[&str], joint: &str| {
        names.iter().map(|k| format!("`{k}`")).collect::<Vec<_>>().join(joint)
    };
    let near = near(name, known);
    if !near.is_empty() {
        format!("did you mean {}?", quoted(&near, " or "))
    } else if known.is_empty() {
        "nothing can stand here".to_owned()
    } else {
        format!(
            "known here: {}",
            quoted(&known.iter().map(AsRef::as_ref).collect::<Vec<_>>(), ", ")
        )
    }
}

#[cfg(test)]
mod tests {
    use super::suggestion;

    #[test]
    fn the_nearest_names_are_suggested_or_those_that_a_word_begins() {
        let known = ["4130-annealed", "4130-normalized", "6061-t6", "304"];
        for (name, help) in [
            ("4130", "did you mean `4130-annealed` or `4130-normalized`?"),
            ("4130-normalised", "did you mean `4130-normalized`?"),
            ("6061-T6", "did you mean `6061-t6`?"),
            ("305", "did you mean `304`?"),
            ("unobtainium", "known here: `4130-annealed`, `4130-normalized`, `6061-t6`, `304`"),
        ] {
            assert_eq!(suggestion(name, &known), help);
        }
        assert!(suggestion(&"x".repeat(1_000_000), &known).starts_with("known here"));
        assert_eq!(suggestion::<&str>("any", &[]), "nothing can stand here");
    }
}
