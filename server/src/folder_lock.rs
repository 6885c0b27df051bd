//! One program at a time works in a data folder: each keeps in memory what it has read there, and of two the one
//! would write over what the other has.

use crate::private_file;
use std::fs::{File, TryLockError};
use std::io::{self, ErrorKind, Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};

/// The lock's name in a data folder. The file stays; only the lock on it ends with its program.
const FILE: &str = "server.lock";

/// Why a folder is not this program's to write in.
#[derive(Debug, thiserror::Error)]
pub enum LockError {
    /// Another program works there.
    #[error(
        "{} is in use by another clearhawse{}: two on one folder would each lose what the other writes; stop that \
         one first, or give this one a folder of its own with --data", .path.display(), process(*.holder)
    )]
    Taken {
        /// The folder, or the store's file.
        path: PathBuf,
        /// Its process, where it has said so.
        holder: Option<u32>,
    },
    /// The lock's file.
    #[error("the lock {} cannot be taken", .path.display())]
    File {
        /// Which file.
        path: PathBuf,
        /// Why.
        #[source]
        source: io::Error,
    },
}

fn process(holder: Option<u32>) -> String {
    holder.map_or_else(String::new, |pid| format!(" (process {pid})"))
}

/// The locks that a program holds on what it writes to, until it ends.
#[derive(Debug)]
pub struct FolderLock {
    _held: Vec<File>,
}

impl FolderLock {
    /// Takes the lock of a data folder, and that of the file `store` names where it lies elsewhere.
    ///
    /// # Errors
    /// [`LockError`] if another program has it, or it cannot be taken.
    pub fn take(data: &Path, store: &str) -> Result<Self, LockError> {
        let mut held: Vec<File> = lock(data, &data.join(FILE))?.into_iter().collect();
        let file = store.strip_prefix("sqlite:").map(Path::new);
        if let Some(file) = file.filter(|file| !is_in(file, data)) {
            let mut name = file.as_os_str().to_owned();
            name.push(".lock");
            held.extend(lock(file, Path::new(&name))?);
        }
        Ok(Self { _held: held })
    }
}

fn is_in(file: &Path, data: &Path) -> bool {
    let folder = file.parent().map(Path::canonicalize);
    matches!((folder, data.canonicalize()), (Some(Ok(folder)), Ok(data)) if folder == data)
}

/// Opens the lock's file; none where nothing can be written and nobody has ever locked.
fn open(path: &Path) -> io::Result<Option<File>> {
    match private_file::open_or_make(path) {
        Err(error) if !crate::disk::is_out_of_reach(&error) => Err(error),
        Ok(file) => Ok(Some(file)),
        // A lock needs no writing.
        Err(_) => match File::open(path) {
            Ok(file) => Ok(Some(file)),
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error),
        },
    }
}

fn lock(what: &Path, path: &Path) -> Result<Option<File>, LockError> {
    let fault = |source| LockError::File {
        path: path.to_owned(),
        source,
    };
    let Some(mut file) = open(path).map_err(fault)? else {
        return Ok(None);
    };
    match file.try_lock() {
        Ok(()) => {}
        Err(TryLockError::WouldBlock) => {
            let mut text = String::new();
            // Only for the words: a lock without a number is one all the same.
            let _ = file.read_to_string(&mut text);
            return Err(LockError::Taken {
                path: what.to_owned(),
                holder: text.trim().parse().ok(),
            });
        }
        Err(TryLockError::Error(error)) if error.kind() == ErrorKind::Unsupported => {
            tracing::warn!(path = %path.display(), "no file can be locked here: see to it that one server runs");
        }
        Err(TryLockError::Error(error)) => return Err(fault(error)),
    }
    let written = file
        .set_len(0)
        .and_then(|()| file.rewind())
        .and_then(|()| writeln!(file, "{}", std::process::id()));
    if let Err(error) = written {
        tracing::debug!(%error, "the lock is held without a number");
    }
    Ok(Some(file))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(error: LockError) -> (PathBuf, Option<u32>) {
        match error {
            LockError::Taken { path, holder } => (path, holder),
            LockError::File { .. } => panic!("{error}"),
        }
    }

    #[test]
    fn a_folder_is_one_programs_until_it_ends() {
        let data = tempfile::tempdir().unwrap();
        let data = data.path();
        let store = crate::settings::default_store(data);
        let first = FolderLock::take(data, &store).unwrap();
        let refused = FolderLock::take(data, &store).unwrap_err();
        assert!(
            refused
                .to_string()
                .contains(&std::process::id().to_string())
        );
        assert_eq!(taken(refused), (data.to_owned(), Some(std::process::id())));
        drop(first);
        FolderLock::take(data, &store).unwrap();
    }

    #[test]
    fn a_store_elsewhere_is_locked_too() {
        let (one, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let store = crate::settings::default_store(one.path());
        let _first = FolderLock::take(one.path(), &store).unwrap();
        let elsewhere = one.path().join("records.sqlite");
        let third = tempfile::tempdir().unwrap();
        let _second = FolderLock::take(other.path(), &format!("sqlite:{}", elsewhere.display()));
        let refused = FolderLock::take(third.path(), &format!("sqlite:{}", elsewhere.display()));
        assert_eq!(taken(refused.unwrap_err()).0, elsewhere);
        FolderLock::take(third.path(), "postgres://office@host/records").unwrap();
    }
}
