//! Files in and out: reading with a limit, writing whole or not at all.

use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::describe::{FileReader, read_shop};
use crate::make::{Artifact, Made};
use crate::part::{Part, Shop};
use crate::problem::{Checked, Code, Problem};
use crate::tolerance::{LARGEST_DESCRIPTION, LARGEST_IMPORT};

/// The name that messages give standard input.
const STANDARD_INPUT: &str = "standard input";

/// Reads files beside the ones that name them.
pub(super) struct Disk;

impl FileReader for Disk {
    fn read(&self, beside: &str, name: &str) -> Result<Vec<u8>, Problem> {
        bytes_of(&beside_path(beside, name))
    }

    fn full_name(&self, beside: &str, name: &str) -> String {
        beside_path(beside, name).display().to_string()
    }
}

fn beside_path(beside: &str, name: &str) -> PathBuf {
    match Path::new(beside).parent() {
        Some(folder) if beside != STANDARD_INPUT => folder.join(name),
        _ => PathBuf::from(name),
    }
}

/// A description named on the command line: its name in messages, and its bytes.
pub(super) fn description(path: &Path) -> Result<(String, Vec<u8>), Problem> {
    if path == Path::new("-") {
        let mut bytes = Vec::new();
        return match io::stdin().lock().take(LARGEST_DESCRIPTION as u64 + 1).read_to_end(&mut bytes)
        {
            Ok(_) => Ok((STANDARD_INPUT.to_owned(), bytes)),
            Err(error) => Err(Problem::new(
                Code::File,
                format!("standard input cannot be read: {}", reason(&error)),
                "name a file instead",
            )),
        };
    }
    let bytes = bytes_of(path).map_err(|problem| {
        if path.exists() {
            problem
        } else {
            Problem { help: "check its name, and the folder you are in".to_owned(), ..problem }
        }
    })?;
    Ok((path.display().to_string(), bytes))
}

fn bytes_of(path: &Path) -> Result<Vec<u8>, Problem> {
    let shown = path.display();
    let refuse = |message: String, help: &str| Err(Problem::new(Code::File, message, help));
    match fs::metadata(path) {
        Ok(meta) if meta.is_dir() => {
            return refuse(format!("{shown} is a folder"), "name a file in it");
        }
        Ok(meta) if !meta.is_file() => {
            return refuse(format!("{shown} is not a file"), "for standard input write -");
        }
        Ok(_) => {}
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            return refuse(
                format!("there is no file {shown}"),
                "names are taken from the folder of the file that gives them",
            );
        }
        Err(error) => {
            return refuse(
                format!("{shown} cannot be read: {}", reason(&error)),
                "check its name and its rights",
            );
        }
    }
    let mut bytes = Vec::new();
    // Drawings may be larger than descriptions; either is refused by its reader when it is larger
    // still.
    let read = fs::File::open(path)
        .and_then(|file| file.take(LARGEST_IMPORT as u64 + 1).read_to_end(&mut bytes));
    match read {
        Ok(_) => Ok(bytes),
        Err(error) => refuse(
            format!("{shown} cannot be read: {}", reason(&error)),
            "check its name and its rights",
        ),
    }
}

/// The shop file named on the command line.
pub(super) fn shop(path: Option<&Path>) -> Checked<Option<Arc<Shop>>> {
    let Some(path) = path else { return Ok(None) };
    let (name, bytes) = description(path).map_err(|problem| vec![problem])?;
    read_shop(&name, bytes, &Disk).map(|shop| Some(Arc::new(shop)))
}

/// Why the system would not read or write, without its numbers.
pub(super) fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::PermissionDenied => "you may not read or write there".to_owned(),
        io::ErrorKind::NotADirectory | io::ErrorKind::AlreadyExists => {
            "a file stands where a folder is wanted".to_owned()
        }
        io::ErrorKind::IsADirectory => "a folder stands where a file is wanted".to_owned(),
        io::ErrorKind::StorageFull => "there is no space left".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "nothing can be written there".to_owned(),
        _ => {
            let text = error.to_string();
            text.split(" (os error").next().unwrap_or(&text).to_lowercase()
        }
    }
}

/// Writes the artifacts below `folder`, all of them or none; each file is complete or not there.
/// Gives the paths written.
pub(super) fn write(folder: &Path, artifacts: &[Artifact]) -> Checked<Vec<PathBuf>> {
    let mut drafts = Drafts::default();
    for artifact in artifacts {
        drafts
            .add(&folder.join(&artifact.name), &artifact.bytes)
            .map_err(|problem| vec![problem])?;
    }
    drafts.settle()
}

/// Takes away the sheets of an earlier run of the job that this one has not written anew, so that
/// nobody cuts yesterday's.
pub(super) fn remove_old_sheets(folder: &Path, artifacts: &[Artifact]) {
    let sheets = folder.join("sheets");
    let is_sheet = |name: &str| {
        let number = name
            .strip_prefix("sheet-")
            .map(|rest| rest.trim_start_matches(|c: char| c.is_ascii_digit()));
        number.is_some_and(|rest| [".svg", ".dxf", "-remnant.yaml"].contains(&rest))
    };
    for entry in fs::read_dir(&sheets).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let written = artifacts.iter().any(|artifact| artifact.name == format!("sheets/{name}"));
        if is_sheet(&name) && !written {
            // One that cannot be removed is no worse than before.
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// What is drawn of a part's blank.
const OF_A_BLANK: [&str; 7] = [
    "blank.svg",
    "blank.dxf",
    "drawing.svg",
    "drawing.pdf",
    "strain.svg",
    "thickness.svg",
    "templates.pdf",
];

/// Takes away the blank of an earlier run of a part that has none now, and what was drawn from it,
/// so that nobody cuts yesterday's.
pub(super) fn remove_old_blanks(folder: &Path, part: &Part, made: &Made, written: &[Artifact]) {
    if made.part().is_some() {
        return;
    }
    for hand in ["", "-other-hand"] {
        for name in OF_A_BLANK {
            let name = format!("{}{hand}/{name}", part.file_name);
            if !written.iter().any(|artifact| artifact.name == name) {
                // One that cannot be removed is no worse than before.
                let _ = fs::remove_file(folder.join(name));
            }
        }
    }
}

/// Writes one file, complete or not at all.
pub(super) fn write_whole(path: &Path, bytes: &[u8]) -> Checked<()> {
    let mut drafts = Drafts::default();
    drafts.add(path, bytes).map_err(|problem| vec![problem])?;
    drafts.settle().map(|_| ())
}

/// Files written beside their names, which they get only when all of them stand; nobody ever sees
/// half a file or half a part. What is not settled is taken away again, the folders made for it
/// included.
#[derive(Debug, Default)]
struct Drafts {
    /// Each draft and the name that it will get.
    files: Vec<(PathBuf, PathBuf)>,
    /// The folders made, outer ones first.
    folders: Vec<PathBuf>,
}

impl Drafts {
    fn add(&mut self, path: &Path, bytes: &[u8]) -> Result<(), Problem> {
        let refuse = |error: &io::Error| {
            let message = format!("{} cannot be written: {}", path.display(), reason(error));
            Problem::new(Code::File, message, "check the folder that it is to go to")
        };
        if path.is_dir() {
            return Err(refuse(&io::ErrorKind::IsADirectory.into()));
        }
        let folder = path.parent().unwrap_or(Path::new("."));
        let missing: Vec<&Path> =
            folder.ancestors().take_while(|f| !f.as_os_str().is_empty() && !f.exists()).collect();
        for new in missing.into_iter().rev() {
            fs::create_dir(new).map_err(|error| refuse(&error))?;
            self.folders.push(new.to_owned());
        }
        let name =
            path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        let draft = folder.join(format!(".{name}.{}.part", std::process::id()));
        let written = fs::File::create(&draft).and_then(|mut file| {
            self.files.push((draft.clone(), path.to_owned()));
            file.write_all(bytes)
        });
        written.map_err(|error| refuse(&error))
    }

    fn settle(mut self) -> Checked<Vec<PathBuf>> {
        let mut written = Vec::new();
        while let Some((draft, path)) = self.files.first().cloned() {
            if let Err(error) = fs::rename(&draft, &path) {
                let message = format!("{} cannot be written: {}", path.display(), reason(&error));
                return Err(vec![Problem::new(
                    Code::File,
                    message,
                    "check the folder that it is to go to",
                )]);
            }
            self.files.remove(0);
            written.push(path);
        }
        self.folders.clear();
        Ok(written)
    }
}

impl Drop for Drafts {
    fn drop(&mut self) {
        for (draft, _) in &self.files {
            let _ = fs::remove_file(draft);
        }
        // Only empty ones go.
        for folder in self.folders.iter().rev() {
            let _ = fs::remove_dir(folder);
        }
    }
}
