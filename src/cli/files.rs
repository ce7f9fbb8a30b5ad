//! Files in and out: reading with a limit, writing whole or not at all.

use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::make::Artifact;
use crate::part::{FileReader, Shop, read_shop};
use crate::problem::{Checked, Code, Problem};
use crate::tolerance::LARGEST_DESCRIPTION;

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
        return match io::stdin().lock().take(LARGEST_DESCRIPTION as u64 + 1).read_to_end(&mut bytes) {
            Ok(_) => Ok((STANDARD_INPUT.to_owned(), bytes)),
            Err(error) => Err(Problem::new(Code::File, format!("standard input cannot be read: {error}"), "")),
        };
    }
    Ok((path.display().to_string(), bytes_of(path)?))
}

fn bytes_of(path: &Path) -> Result<Vec<u8>, Problem> {
    let shown = path.display();
    let refuse = |message: String, help: &str| Err(Problem::new(Code::File, message, help));
    match fs::metadata(path) {
        Ok(meta) if meta.is_dir() => return refuse(format!("{shown} is a directory"), "name a description file in it"),
        Ok(meta) if !meta.is_file() => return refuse(format!("{shown} is not a file"), "for standard input write -"),
        Ok(_) => {}
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            return refuse(format!("there is no file {shown}"), "names are taken from the folder of the file that gives them");
        }
        Err(error) => return refuse(format!("{shown} cannot be read: {error}"), ""),
    }
    let mut bytes = Vec::new();
    let read = fs::File::open(path).and_then(|file| file.take(LARGEST_DESCRIPTION as u64 + 1).read_to_end(&mut bytes));
    match read {
        Ok(_) => Ok(bytes),
        Err(error) => refuse(format!("{shown} cannot be read: {error}"), ""),
    }
}

/// The shop file named on the command line.
pub(super) fn shop(path: Option<&Path>) -> Checked<Option<Arc<Shop>>> {
    let Some(path) = path else { return Ok(None) };
    let (name, bytes) = description(path).map_err(|problem| vec![problem])?;
    read_shop(&name, bytes, &Disk).map(|shop| Some(Arc::new(shop)))
}

/// Writes the artifacts below `folder`; each file is complete or not there. Gives the paths written.
pub(super) fn write(folder: &Path, artifacts: &[Artifact]) -> Checked<Vec<PathBuf>> {
    let mut written = Vec::new();
    for artifact in artifacts {
        let path = folder.join(&artifact.name);
        if let Err(error) = write_whole(&path, &artifact.bytes) {
            let message = format!("{} cannot be written: {error}", path.display());
            return Err(vec![Problem::new(Code::File, message, "check the folder given with --out")]);
        }
        written.push(path);
    }
    Ok(written)
}

/// Writes beside the wanted name and renames, so that nobody ever sees half a file.
pub(super) fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = path.parent().unwrap_or(Path::new("."));
    fs::create_dir_all(folder)?;
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let draft = folder.join(format!(".{name}.{}.part", std::process::id()));
    let result = fs::File::create(&draft).and_then(|mut file| file.write_all(bytes)).and_then(|()| fs::rename(&draft, path));
    if result.is_err() {
        let _ = fs::remove_file(&draft);
    }
    result
}
