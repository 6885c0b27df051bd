//! Where a passphrase comes from: a file, the environment, or the terminal.

use std::io::IsTerminal as _;
use std::path::PathBuf;
use zeroize::Zeroizing;

/// The environment's name for a passphrase.
pub const VARIABLE: &str = "CLEARHAWSE_PASSPHRASE";
/// The environment's name for the passphrase that comes in another's place.
pub const NEW_VARIABLE: &str = "CLEARHAWSE_NEW_PASSPHRASE";
/// The shortest passphrase that protects anything, in characters.
///
/// NIST SP 800-63B, section 5.1.1.1, asks for 8 of a secret whose guesses are counted; guesses at a file
/// are not, so more is asked for here.
pub const SHORTEST: usize = 12;

/// Why there is no passphrase.
#[derive(Debug, thiserror::Error)]
pub enum PassphraseError {
    /// The file cannot be read.
    #[error("the passphrase file {path} cannot be read")]
    File {
        /// Which file.
        path: PathBuf,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// The file holds more than a passphrase.
    #[error("the passphrase file {path} holds more than one line")]
    Lines {
        /// Which file.
        path: PathBuf,
    },
    /// It is too easy to guess.
    #[error(
        "the passphrase is too short: {SHORTEST} characters at least; five words taken at random are good"
    )]
    TooShort,
    /// The two that were typed differ.
    #[error("the two passphrases are not the same")]
    NotTheSame,
    /// The terminal gives none.
    #[error("the terminal gives no passphrase")]
    Terminal(#[source] std::io::Error),
    /// There is nowhere to ask.
    #[error("{what} needs a passphrase: give {flag} FILE or {variable}, or run this at a terminal")]
    None {
        /// What needs it.
        what: String,
        /// The flag that would give it.
        flag: &'static str,
        /// The environment's name for it.
        variable: &'static str,
    },
}

/// A passphrase, wiped when dropped.
#[derive(Clone, PartialEq, Eq)]
pub struct Passphrase(Zeroizing<String>);

impl Passphrase {
    /// Takes a passphrase as it was typed.
    pub fn new(text: String) -> Self {
        Self(Zeroizing::new(text))
    }

    /// Returns its bytes, UTF-8.
    pub fn as_bytes(&self) -> &[u8] {
        self.0.as_bytes()
    }

    fn long_enough(self) -> Result<Self, PassphraseError> {
        if self.0.chars().count() < SHORTEST {
            return Err(PassphraseError::TooShort);
        }
        Ok(self)
    }
}

impl std::fmt::Debug for Passphrase {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Passphrase(..)")
    }
}

/// Asks for a line without showing it.
type Ask = fn(&str) -> std::io::Result<String>;

/// Where a passphrase is looked for: the file, then the environment, then the terminal.
#[derive(Debug, Clone)]
pub struct PassphraseSource {
    file: Option<PathBuf>,
    flag: &'static str,
    variable: &'static str,
    kept: Option<Passphrase>,
    ask: Option<Ask>,
}

impl PassphraseSource {
    /// Looks in `file`, then in [`VARIABLE`], then asks where a person sits at a terminal.
    pub fn new(file: Option<PathBuf>) -> Self {
        Self::named(file, "--passphrase-file", VARIABLE)
    }

    /// Looks in `file`, then in [`NEW_VARIABLE`], then asks.
    pub fn new_one(file: Option<PathBuf>) -> Self {
        Self::named(file, "--new-passphrase-file", NEW_VARIABLE)
    }

    fn named(file: Option<PathBuf>, flag: &'static str, variable: &'static str) -> Self {
        Self {
            file,
            flag,
            variable,
            kept: std::env::var(variable)
                .ok()
                .filter(|text| !text.is_empty())
                .map(Passphrase::new),
            ask: std::io::stdin()
                .is_terminal()
                .then_some(|question| rpassword::prompt_password(question)),
        }
    }

    /// Gives none and asks nobody.
    pub fn none() -> Self {
        Self {
            file: None,
            flag: "--passphrase-file",
            variable: VARIABLE,
            kept: None,
            ask: None,
        }
    }

    /// Returns what stands in the file or in the environment.
    ///
    /// # Errors
    /// [`PassphraseError`] if the file cannot be read or is no passphrase.
    pub fn given(&self) -> Result<Option<Passphrase>, PassphraseError> {
        let Some(path) = &self.file else {
            return Ok(self.kept.clone());
        };
        let text = std::fs::read_to_string(path).map_err(|source| PassphraseError::File {
            path: path.clone(),
            source,
        })?;
        let text = Zeroizing::new(text);
        let line = text.trim_end_matches(['\r', '\n']);
        if line.contains('\n') {
            return Err(PassphraseError::Lines { path: path.clone() });
        }
        Ok(Some(Passphrase::new(line.to_owned())))
    }

    /// Returns the passphrase that opens `what`.
    ///
    /// # Errors
    /// [`PassphraseError`] if none can be had.
    pub fn to_open(&self, what: &str) -> Result<Passphrase, PassphraseError> {
        match (self.given()?, self.ask) {
            (Some(passphrase), _) => Ok(passphrase),
            (None, Some(ask)) => asked(ask, &format!("Passphrase of {what}: ")),
            (None, None) => Err(self.nowhere(what)),
        }
    }

    /// Returns the passphrase that shall protect `what`, or `None` if none is wanted: nothing was given
    /// and nobody can be asked, or the one who was asked left it empty.
    ///
    /// # Errors
    /// [`PassphraseError`] if what was given is no passphrase, or too short.
    pub fn to_protect(&self, what: &str) -> Result<Option<Passphrase>, PassphraseError> {
        let passphrase = match (self.given()?, self.ask) {
            (Some(passphrase), _) => passphrase,
            (None, None) => return Ok(None),
            (None, Some(ask)) => {
                let question = format!("Passphrase to protect {what} (empty for none): ");
                let first = asked(ask, &question)?;
                if first.0.is_empty() {
                    return Ok(None);
                }
                if first != asked(ask, "The same again: ")? {
                    return Err(PassphraseError::NotTheSame);
                }
                first
            }
        };
        passphrase.long_enough().map(Some)
    }

    /// Returns the passphrase that shall protect `what`, which must have one.
    ///
    /// # Errors
    /// [`PassphraseError`] if none is given, or it is too short.
    pub fn must_protect(&self, what: &str) -> Result<Passphrase, PassphraseError> {
        self.to_protect(what)?.ok_or_else(|| self.nowhere(what))
    }

    fn nowhere(&self, what: &str) -> PassphraseError {
        PassphraseError::None {
            what: what.to_owned(),
            flag: self.flag,
            variable: self.variable,
        }
    }
}

fn asked(ask: Ask, question: &str) -> Result<Passphrase, PassphraseError> {
    ask(question)
        .map(Passphrase::new)
        .map_err(PassphraseError::Terminal)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with_file(content: &str) -> (tempfile::TempDir, PassphraseSource) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("passphrase");
        std::fs::write(&path, content).unwrap();
        let source = PassphraseSource {
            file: Some(path),
            ..PassphraseSource::none()
        };
        (folder, source)
    }

    fn asking(ask: Ask) -> PassphraseSource {
        PassphraseSource {
            ask: Some(ask),
            ..PassphraseSource::none()
        }
    }

    #[test]
    fn a_file_counts_before_the_environment_and_its_line_end_does_not_count() {
        let (_folder, mut source) = with_file("four words are good\r\n");
        source.kept = Some(Passphrase::new("of the environment".to_owned()));
        let found = source.to_open("the key").unwrap();
        assert_eq!(found.as_bytes(), b"four words are good");
        source.file = None;
        let found = source.to_protect("the key").unwrap().unwrap();
        assert_eq!(found.as_bytes(), b"of the environment");
    }

    #[test]
    fn a_file_of_two_lines_a_missing_one_and_a_short_passphrase_are_refused() {
        let (_folder, two) = with_file("one line\nand another\n");
        assert!(matches!(two.given(), Err(PassphraseError::Lines { .. })));
        let (_folder, short) = with_file("elevenchars\n");
        assert!(matches!(
            short.to_protect("it"),
            Err(PassphraseError::TooShort)
        ));
        // What was protected long ago still opens.
        assert!(short.to_open("it").is_ok());
        let (folder, gone) = with_file("");
        drop(folder);
        assert!(matches!(gone.given(), Err(PassphraseError::File { .. })));
    }

    #[test]
    fn who_is_asked_types_it_twice_or_leaves_it_empty() {
        let same = asking(|_| Ok("twelve or more".to_owned()));
        assert!(same.to_protect("it").unwrap().is_some());
        let two = asking(|question| Ok(format!("typed after {question}")));
        assert!(matches!(
            two.to_protect("it"),
            Err(PassphraseError::NotTheSame)
        ));
        let empty = asking(|_| Ok(String::new()));
        assert!(empty.to_protect("it").unwrap().is_none());
        assert!(matches!(
            empty.must_protect("it"),
            Err(PassphraseError::None { .. })
        ));
    }

    #[test]
    fn where_nobody_can_be_asked_the_words_say_what_to_give() {
        let words = PassphraseSource::none()
            .to_open("the key x")
            .unwrap_err()
            .to_string();
        for part in ["the key x", "--passphrase-file", VARIABLE] {
            assert!(words.contains(part), "{words}");
        }
    }
}
