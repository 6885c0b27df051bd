//! Where things are, and reading and writing them with errors that name the file.

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

use crate::fault::Fault;

/// Returns the repository's folder.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .ancestors()
        .nth(2)
        .expect("invariant: this crate lies two folders below the root")
        .to_owned()
}

/// Returns cargo's output folder.
pub fn target() -> PathBuf {
    let chosen = std::env::var_os("CARGO_TARGET_DIR").filter(|dir| !dir.is_empty());
    root().join(chosen.as_deref().unwrap_or(OsStr::new("target")))
}

/// Returns the folder that the web pages are built into.
pub fn site() -> PathBuf {
    target().join("site")
}

/// Returns the folder of results that are kept between builds because they are slow to make.
pub fn kept() -> PathBuf {
    target().join("site-kept")
}

/// Returns where the program is that was built into this folder of the target folder.
pub fn binary(built: &str) -> PathBuf {
    target()
        .join(built)
        .join(format!("clearhawse{}", std::env::consts::EXE_SUFFIX))
}

pub fn read(path: &Path) -> Result<Vec<u8>, Fault> {
    fs::read(path).map_err(|source| Fault::File {
        doing: "read",
        path: path.into(),
        source,
    })
}

pub fn read_text(path: &Path) -> Result<String, Fault> {
    fs::read_to_string(path).map_err(|source| Fault::File {
        doing: "read",
        path: path.into(),
        source,
    })
}

/// Writes `bytes` unless the file holds them already, so that its time tells of real changes.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    if fs::read(path).is_ok_and(|old| old == bytes) {
        return Ok(());
    }
    if let Some(folder) = path.parent() {
        make_folder(folder)?;
    }
    fs::write(path, bytes).map_err(|source| Fault::File {
        doing: "write",
        path: path.into(),
        source,
    })
}

pub fn make_folder(path: &Path) -> Result<(), Fault> {
    fs::create_dir_all(path).map_err(|source| Fault::File {
        doing: "make",
        path: path.into(),
        source,
    })
}

/// Removes a file or a whole folder; one that is not there is no fault.
pub fn remove(path: &Path) -> Result<(), Fault> {
    let done = if path.is_dir() {
        fs::remove_dir_all(path)
    } else {
        fs::remove_file(path)
    };
    match done {
        Err(source) if source.kind() != std::io::ErrorKind::NotFound => Err(Fault::File {
            doing: "remove",
            path: path.into(),
            source,
        }),
        _ => Ok(()),
    }
}

/// Returns the files of `folder` itself, in order of name.
pub fn files_in(folder: &Path) -> Result<Vec<PathBuf>, Fault> {
    let fault = |source| Fault::File {
        doing: "list",
        path: folder.into(),
        source,
    };
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).map_err(fault)? {
        files.push(entry.map_err(fault)?.path());
    }
    files.retain(|path| path.is_file());
    files.sort();
    Ok(files)
}

/// Returns every file below `folder`, at any depth, in order of name.
pub fn files_below(folder: &Path) -> Result<Vec<PathBuf>, Fault> {
    let fault = |source| Fault::File {
        doing: "list",
        path: folder.into(),
        source,
    };
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).map_err(fault)? {
        let path = entry.map_err(fault)?.path();
        if path.is_dir() {
            files.extend(files_below(&path)?);
        } else {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}
