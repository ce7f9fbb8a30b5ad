//! Parts from their text, as a builder's file would give them.

use std::sync::Arc;

use planish::describe::{FileReader, NoFiles, read_part, read_shop};
use planish::make::{MadePart, make_part};
use planish::part::{HalfShell, Kind, Part};
use planish::problem::{Code, Problem};

/// A folder with these files in it: names and texts.
pub(crate) struct Files<'a>(pub(crate) &'a [(&'a str, &'a str)]);

impl FileReader for Files<'_> {
    fn read(&self, _: &str, name: &str) -> Result<Vec<u8>, Problem> {
        let found = self.0.iter().find(|(file, _)| *file == name);
        found
            .map(|(_, text)| text.as_bytes().to_vec())
            .ok_or_else(|| Problem::new(Code::File, format!("no file {name}"), ""))
    }

    fn full_name(&self, _: &str, name: &str) -> String {
        name.to_owned()
    }
}

fn words(problems: &[Problem]) -> String {
    problems.iter().map(|problem| problem.message.as_str()).collect::<Vec<_>>().join("; ")
}

/// The part of a file, or what is wrong with it.
pub(crate) fn read(yaml: &str) -> Result<Part, String> {
    read_part("part.yaml", yaml.as_bytes().to_vec(), None, &NoFiles)
        .map_err(|problems| words(&problems))
}

/// The part of a file laid flat and checked, or what is wrong with it.
pub(crate) fn try_make(yaml: &str) -> Result<MadePart, String> {
    make_part(&read(yaml)?).map_err(|problems| words(&problems))
}

/// The part of a sound file.
#[track_caller]
pub(crate) fn part(yaml: &str) -> Part {
    read(yaml).unwrap_or_else(|why| panic!("{why}\n{yaml}"))
}

/// A sound part laid flat and checked.
#[track_caller]
pub(crate) fn made(yaml: &str) -> MadePart {
    part_and_made(yaml).1
}

/// A sound part, and it laid flat and checked.
#[track_caller]
pub(crate) fn part_and_made(yaml: &str) -> (Part, MadePart) {
    laid_flat(part(yaml), yaml)
}

/// A sound part by the shop file of these lines, and it laid flat and checked.
#[track_caller]
pub(crate) fn made_in(shop: &str, yaml: &str) -> (Part, MadePart) {
    let read = read_shop("shop.yaml", format!("units: mm\n{shop}").into_bytes(), &NoFiles);
    let shop = read.unwrap_or_else(|problems| panic!("{}\n{shop}", words(&problems)));
    let part = read_part("part.yaml", yaml.as_bytes().to_vec(), Some(&Arc::new(shop)), &NoFiles);
    laid_flat(part.unwrap_or_else(|problems| panic!("{}\n{yaml}", words(&problems))), yaml)
}

/// The part of one of these files laid flat and checked.
#[track_caller]
pub(crate) fn made_from(files: &Files, name: &str) -> MadePart {
    let yaml =
        files.0.iter().find(|(file, _)| *file == name).unwrap_or_else(|| panic!("no {name}")).1;
    let part = read_part(name, yaml.as_bytes().to_vec(), None, files);
    laid_flat(part.unwrap_or_else(|problems| panic!("{}\n{yaml}", words(&problems))), yaml).1
}

#[track_caller]
fn laid_flat(part: Part, yaml: &str) -> (Part, MadePart) {
    let made = make_part(&part).unwrap_or_else(|problems| panic!("{}\n{yaml}", words(&problems)));
    (part, made)
}

/// The shell of a file that describes one.
#[track_caller]
pub(crate) fn half_shell(yaml: &str) -> HalfShell {
    let Kind::HalfShell(shell) = part(yaml).kind else { panic!("no half-shell\n{yaml}") };
    *shell
}
