//! Files that only their owner may read, written whole or not at all.

use std::fs::{File, OpenOptions};
use std::io::{self, ErrorKind, Write as _};
use std::path::{Path, PathBuf};

/// Returns the permission bits of `path` if anybody but its owner may read or change it.
///
/// Where the system has no such bits the answer is `None`.
///
/// # Errors
/// What the system says if the file cannot be looked at.
pub fn open_to_others(path: &Path) -> io::Result<Option<u32>> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = std::fs::metadata(path)?.permissions().mode() & 0o777;
        Ok((mode & 0o077 != 0).then_some(mode))
    }
    #[cfg(not(unix))]
    {
        std::fs::metadata(path).map(|_| None)
    }
}

/// Opens a file to read and write; one that is not there is made, for its owner alone.
///
/// # Errors
/// What the system says if it can be neither opened nor made.
pub fn open_or_make(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true).write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}

/// Writes a file that was not there.
///
/// # Errors
/// [`ErrorKind::AlreadyExists`] if it is there; else what the system says. The file is then not there.
pub fn write_new(path: &Path, content: &[u8]) -> io::Result<()> {
    let beside = write_beside(path, content)?;
    // A link, unlike a renaming, never takes another file's place.
    let placed = match std::fs::hard_link(&beside, path) {
        Err(error) if error.kind() != ErrorKind::AlreadyExists && !path.exists() => {
            std::fs::rename(&beside, path)
        }
        linked => {
            // What is left over harms nobody: the next writing takes its place.
            let _ = std::fs::remove_file(&beside);
            linked
        }
    };
    placed.and_then(|()| settle(path))
}

/// Writes a file in the place of what is there: after a power cut it is the old one or the new one.
///
/// # Errors
/// What the system says; the old file is then still there.
pub fn replace(path: &Path, content: &[u8]) -> io::Result<()> {
    let beside = write_beside(path, content)?;
    std::fs::rename(&beside, path)?;
    settle(path)
}

fn write_beside(path: &Path, content: &[u8]) -> io::Result<PathBuf> {
    let mut name = path.file_name().ok_or(ErrorKind::InvalidInput)?.to_owned();
    name.push(format!(".{}.new", std::process::id()));
    let beside = path.with_file_name(name);
    match std::fs::remove_file(&beside) {
        Err(error) if error.kind() != ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let written = options.open(&beside).and_then(|mut file| {
        file.write_all(content)?;
        file.sync_all()
    });
    if let Err(error) = written {
        let _ = std::fs::remove_file(&beside);
        return Err(error);
    }
    Ok(beside)
}

/// Puts the folder's list of names on disk, where a folder can be opened for that.
fn settle(path: &Path) -> io::Result<()> {
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    if cfg!(unix) {
        File::open(folder.unwrap_or(Path::new(".")))?.sync_all()?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_new_file_never_takes_the_place_of_another() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("key");
        write_new(&path, b"one").unwrap();
        let error = write_new(&path, b"two").unwrap_err();
        assert_eq!(error.kind(), ErrorKind::AlreadyExists);
        assert_eq!(std::fs::read(&path).unwrap(), b"one");
        replace(&path, b"three").unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"three");
        let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
        assert_eq!(left.len(), 1, "nothing is left beside it: {left:?}");
    }

    #[cfg(unix)]
    #[test]
    fn what_is_written_is_its_owners_alone_and_a_wider_file_is_noticed() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("key");
        write_new(&path, b"one").unwrap();
        assert_eq!(open_to_others(&path).unwrap(), None);
        for mode in [0o640, 0o604, 0o620, 0o644] {
            std::fs::set_permissions(&path, std::fs::Permissions::from_mode(mode)).unwrap();
            assert_eq!(open_to_others(&path).unwrap(), Some(mode));
        }
        replace(&path, b"two").unwrap();
        assert_eq!(open_to_others(&path).unwrap(), None);
    }
}
