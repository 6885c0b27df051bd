//! The ship's authority key: made on first start, kept in a file that only its owner can read.

use record::SoftKey;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// The key file's name in the data folder.
pub const FILE: &str = "ship.key";

/// Why there is no authority key.
#[derive(Debug, thiserror::Error)]
pub enum AuthorityError {
    /// The file cannot be read or written.
    #[error("the ship's key {path} cannot be {what}")]
    File {
        /// Which file.
        path: PathBuf,
        /// `read` or `written`.
        what: &'static str,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// The file holds something else.
    #[error("the ship's key {path} is not 64 hexadecimal digits")]
    NotAKey {
        /// Which file.
        path: PathBuf,
    },
    /// The system gives no random numbers.
    #[error("the system gives no random numbers: {0}")]
    Random(String),
}

/// Returns 32 random bytes.
///
/// # Errors
/// [`AuthorityError::Random`] if the system gives none.
pub fn random_seed() -> Result<[u8; 32], AuthorityError> {
    let mut seed = [0; 32];
    getrandom::fill(&mut seed).map_err(|error| AuthorityError::Random(error.to_string()))?;
    Ok(seed)
}

/// Reads the key in `data`, or makes one.
///
/// # Errors
/// [`AuthorityError`] if it cannot be read, is no key, or cannot be made.
pub fn load_or_make(data: &Path) -> Result<SoftKey, AuthorityError> {
    match load(data)? {
        Some(key) => Ok(key),
        None => make(data, random_seed()?),
    }
}

/// Reads the key in `data`, if there is one.
///
/// # Errors
/// [`AuthorityError`] if it cannot be read or is no key.
pub fn load(data: &Path) -> Result<Option<SoftKey>, AuthorityError> {
    let path = data.join(FILE);
    match std::fs::read_to_string(&path) {
        Ok(text) => {
            let seed: Option<[u8; 32]> =
                record::hex::decode(text.trim()).and_then(|bytes| bytes.try_into().ok());
            seed.map(|seed| Some(SoftKey::from_seed(seed)))
                .ok_or(AuthorityError::NotAKey { path })
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(source) => Err(AuthorityError::File {
            path,
            what: "read",
            source,
        }),
    }
}

/// Writes a key made from `seed` into `data`.
///
/// # Errors
/// [`AuthorityError::File`] if there is one already or the file cannot be written.
pub fn make(data: &Path, seed: [u8; 32]) -> Result<SoftKey, AuthorityError> {
    let path = data.join(FILE);
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let written = options.open(&path).and_then(|mut file| {
        file.write_all(record::hex::encode(&seed).as_bytes())?;
        file.write_all(b"\n")?;
        file.sync_all()
    });
    match written {
        Ok(()) => Ok(SoftKey::from_seed(seed)),
        Err(source) => Err(AuthorityError::File {
            path,
            what: "written",
            source,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_key_is_the_same_after_a_restart_and_only_its_owners() {
        let folder = tempfile::tempdir().unwrap();
        let first = load_or_make(folder.path()).unwrap();
        let second = load_or_make(folder.path()).unwrap();
        assert_eq!(first.public(), second.public());
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            let mode = std::fs::metadata(folder.path().join(FILE))
                .unwrap()
                .permissions()
                .mode();
            assert_eq!(mode & 0o777, 0o600);
        }
    }

    #[test]
    fn a_file_that_is_no_key_is_not_written_over() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join(FILE), "not a key").unwrap();
        assert!(matches!(
            load_or_make(folder.path()),
            Err(AuthorityError::NotAKey { .. })
        ));
        assert_eq!(
            std::fs::read_to_string(folder.path().join(FILE)).unwrap(),
            "not a key"
        );
    }
}
