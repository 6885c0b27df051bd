//! One-time codes: each enrols one person on one device, lives a quarter of an hour, and is spent by its use.
//!
//! A code is a file in the data folder, named by its hash: the running server and a command at the
//! console share them, they outlive a restart, and taking the file away is what spends the code, which
//! only one taker can do.

use crate::authority::{AuthorityError, random_seed};
use journal::auth_messages::Code;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use std::fs;
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long a code may be used, ms.
pub const GOOD_FOR_MS: i64 = 15 * 60_000;
/// The same as a length of time.
pub const GOOD_FOR: Duration = Duration::from_millis(GOOD_FOR_MS.unsigned_abs());
/// Codes that wait at once; more would only help who guesses.
const MOST: usize = 32;
/// The folder's name in the data folder.
const FOLDER: &str = "codes";

/// Why there is no code.
#[derive(Debug, thiserror::Error)]
pub enum CodeError {
    /// The folder or a file in it.
    #[error("the codes in {path} cannot be {what}")]
    File {
        /// Which file or folder.
        path: PathBuf,
        /// `read` or `written`.
        what: &'static str,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// Too many wait.
    #[error("{MOST} codes wait to be used: let them be used, or a quarter of an hour pass")]
    TooMany,
    /// No random numbers.
    #[error(transparent)]
    Random(#[from] AuthorityError),
}

/// What a code's file says.
#[derive(Debug, Serialize, Deserialize)]
struct Waiting {
    person: String,
    expires_ms: i64,
}

/// Returns eight random digits.
///
/// # Errors
/// [`AuthorityError::Random`] if the system gives no random numbers.
pub fn random_code() -> Result<String, AuthorityError> {
    let seed = random_seed()?;
    let number = seed
        .iter()
        .fold(0_u64, |n, byte| (n * 256 + u64::from(*byte)) % 100_000_000);
    Ok(format!("{number:08}"))
}

/// The codes of one data folder.
#[derive(Debug, Clone)]
pub struct Codes {
    folder: PathBuf,
}

impl Codes {
    /// Names the codes in `data`; nothing is made yet.
    pub fn of(data: &Path) -> Self {
        Self {
            folder: data.join(FOLDER),
        }
    }

    fn file(&self, code: &str) -> PathBuf {
        self.folder
            .join(record::hex::encode(&Sha256::digest(code.as_bytes())))
    }

    fn fault(&self, what: &'static str) -> impl FnOnce(std::io::Error) -> CodeError {
        let path = self.folder.clone();
        move |source| CodeError::File { path, what, source }
    }

    /// Makes a code for `person`; an earlier one of theirs is spent by it.
    ///
    /// # Errors
    /// [`CodeError`] if too many wait or it cannot be written.
    pub fn make(&self, person: &str, now_ms: i64) -> Result<Code, CodeError> {
        let mut builder = fs::DirBuilder::new();
        builder.recursive(true);
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        builder
            .create(&self.folder)
            .map_err(self.fault("written"))?;
        let mut waiting = 0;
        for (path, code) in self.all()? {
            if code.expires_ms <= now_ms || code.person == person {
                self.spend(&path)?;
            } else {
                waiting += 1;
            }
        }
        if waiting >= MOST {
            return Err(CodeError::TooMany);
        }
        let code = Code {
            code: random_code()?,
            person: person.to_owned(),
            expires_ms: now_ms + GOOD_FOR_MS,
        };
        self.write(&code).map_err(self.fault("written"))?;
        Ok(code)
    }

    fn write(&self, code: &Code) -> std::io::Result<()> {
        let path = self.file(&code.code);
        let text = serde_json::to_vec(&Waiting {
            person: code.person.clone(),
            expires_ms: code.expires_ms,
        })?;
        let unfinished = path.with_extension("new");
        let mut options = fs::OpenOptions::new();
        options.write(true).create(true).truncate(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let mut file = options.open(&unfinished)?;
        file.write_all(&text)?;
        file.sync_all()?;
        fs::rename(&unfinished, &path)
    }

    fn all(&self) -> Result<Vec<(PathBuf, Waiting)>, CodeError> {
        let entries = match fs::read_dir(&self.folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(self.fault("read")(error)),
        };
        let mut all = Vec::new();
        for entry in entries {
            let path = entry.map_err(self.fault("read"))?.path();
            let Ok(text) = fs::read(&path) else { continue };
            if let Ok(waiting) = serde_json::from_slice(&text) {
                all.push((path, waiting));
            }
        }
        Ok(all)
    }

    /// Takes a code's file away; says whether this call did it.
    fn spend(&self, path: &Path) -> Result<bool, CodeError> {
        match fs::remove_file(path) {
            Ok(()) => Ok(true),
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(false),
            Err(error) => Err(self.fault("written")(error)),
        }
    }

    /// Says whom a code would enrol, without spending it.
    ///
    /// # Errors
    /// [`CodeError`] if the folder cannot be read.
    pub fn whose(&self, code: &str, now_ms: i64) -> Result<Option<String>, CodeError> {
        match fs::read(self.file(code)) {
            Ok(text) => Ok(serde_json::from_slice::<Waiting>(&text)
                .ok()
                .filter(|waiting| waiting.expires_ms > now_ms)
                .map(|waiting| waiting.person)),
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
            Err(error) => Err(self.fault("read")(error)),
        }
    }

    /// Spends a code: of several who try at once one succeeds.
    ///
    /// # Errors
    /// [`CodeError`] if the folder cannot be written.
    pub fn redeem(&self, code: &str) -> Result<bool, CodeError> {
        self.spend(&self.file(code))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_works_once_in_time_and_survives_a_restart() {
        let data = tempfile::tempdir().unwrap();
        let code = Codes::of(data.path()).make("orrin", 0).unwrap();
        assert_eq!(code.code.len(), 8);
        let later = Codes::of(data.path());
        let whose = |now| later.whose(&code.code, now).unwrap();
        assert_eq!(whose(GOOD_FOR_MS - 1).as_deref(), Some("orrin"));
        assert_eq!(whose(GOOD_FOR_MS), None, "too late");
        assert_eq!(later.whose("00000000", 0).unwrap(), None);
        assert!(later.redeem(&code.code).unwrap());
        assert!(!later.redeem(&code.code).unwrap(), "once");
        assert_eq!(whose(0), None);
    }

    #[test]
    fn a_new_code_spends_the_earlier_one_of_the_same_person() {
        let data = tempfile::tempdir().unwrap();
        let codes = Codes::of(data.path());
        let (first, other) = (
            codes.make("orrin", 0).unwrap(),
            codes.make("salter", 0).unwrap(),
        );
        let second = codes.make("orrin", 1).unwrap();
        assert_eq!(codes.whose(&first.code, 1).unwrap(), None);
        assert_eq!(
            codes.whose(&second.code, 1).unwrap().as_deref(),
            Some("orrin")
        );
        assert_eq!(
            codes.whose(&other.code, 1).unwrap().as_deref(),
            Some("salter")
        );
    }

    #[test]
    fn no_more_than_so_many_wait_and_the_code_itself_is_not_on_disk() {
        let data = tempfile::tempdir().unwrap();
        let codes = Codes::of(data.path());
        let made: Vec<Code> = (0..MOST)
            .map(|number| codes.make(&number.to_string(), 0).unwrap())
            .collect();
        assert!(matches!(codes.make("late", 0), Err(CodeError::TooMany)));
        assert!(
            codes.make("late", GOOD_FOR_MS).is_ok(),
            "the others have ended"
        );
        for entry in fs::read_dir(data.path().join(FOLDER)).unwrap() {
            let path = entry.unwrap().path();
            let text = fs::read_to_string(&path).unwrap();
            let name = path.to_string_lossy().into_owned();
            assert!(
                made.iter()
                    .all(|c| !text.contains(&c.code) && !name.contains(&c.code))
            );
        }
    }
}
