//! `clearhawse authority …`: what a person does with the ship's key.

use super::passphrase::PassphraseSource;
use super::{AuthorityError, FILE, StoredKey, encrypt, open, plain_text, read, unlock};
use crate::private_file;
use clap::Subcommand;
use record::{PublicKey, SoftKey};
use std::path::{Path, PathBuf};

/// What to do with the ship's key.
#[derive(Debug, Subcommand)]
pub enum KeyCommand {
    /// Show the public key and its fingerprint, to be read aloud to the office.
    Show(Data),
    /// Write a copy of the key, protected by a passphrase, to be kept ashore.
    Backup {
        #[command(flatten)]
        data: Data,
        /// The file to write; one that is there is left as it is.
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
        #[command(flatten)]
        passphrase: PassphraseFile,
    },
    /// Put a copy of the key back; it stays protected by the copy's passphrase.
    Restore {
        #[command(flatten)]
        data: Data,
        /// The copy.
        #[arg(long, value_name = "FILE")]
        from: PathBuf,
        #[command(flatten)]
        passphrase: PassphraseFile,
    },
    /// Protect the key by a passphrase, or by another one.
    Protect {
        #[command(flatten)]
        data: Data,
        #[command(flatten)]
        passphrase: PassphraseFile,
        /// A file that holds the new passphrase; else `CLEARHAWSE_NEW_PASSPHRASE`, else it is asked for.
        #[arg(long, env = "CLEARHAWSE_NEW_PASSPHRASE_FILE", value_name = "FILE")]
        new_passphrase_file: Option<PathBuf>,
    },
    /// Take the passphrase away: the file's permissions alone then protect the key.
    Unprotect {
        #[command(flatten)]
        data: Data,
        #[command(flatten)]
        passphrase: PassphraseFile,
    },
}

/// Where the key is.
#[derive(Debug, clap::Args)]
pub struct Data {
    /// Folder of the server's data.
    #[arg(long = "data", env = "CLEARHAWSE_DATA", value_name = "DIR")]
    folder: PathBuf,
}

/// Where the passphrase is.
#[derive(Debug, clap::Args)]
pub struct PassphraseFile {
    /// A file that holds the passphrase; else `CLEARHAWSE_PASSPHRASE`, else it is asked for.
    #[arg(
        long = "passphrase-file",
        env = "CLEARHAWSE_PASSPHRASE_FILE",
        value_name = "FILE"
    )]
    file: Option<PathBuf>,
}

impl Data {
    fn path(&self) -> PathBuf {
        self.folder.join(FILE)
    }
}

impl PassphraseFile {
    pub(crate) fn source(&self) -> PassphraseSource {
        PassphraseSource::new(self.file.clone())
    }
}

/// Does it; returns what to tell.
///
/// # Errors
/// [`AuthorityError`] if the key, the copy or the passphrase is not right.
pub fn run(command: &KeyCommand) -> Result<String, AuthorityError> {
    match command {
        KeyCommand::Show(data) => show(&data.path()),
        KeyCommand::Backup {
            data,
            out,
            passphrase,
        } => backup(&data.path(), out, &passphrase.source()),
        KeyCommand::Restore {
            data,
            from,
            passphrase,
        } => restore(&data.folder, from, &passphrase.source()),
        KeyCommand::Protect {
            data,
            passphrase,
            new_passphrase_file,
        } => {
            let new = PassphraseSource::new_one(new_passphrase_file.clone());
            protect(&data.path(), &passphrase.source(), &new)
        }
        KeyCommand::Unprotect { data, passphrase } => unprotect(&data.path(), &passphrase.source()),
    }
}

/// Returns the lines that name a key to a person.
pub fn named(key: &PublicKey) -> String {
    format!("Ship's key: {key}\nFingerprint: {}", key.fingerprint())
}

fn must_read(path: &Path) -> Result<StoredKey, AuthorityError> {
    read(path)?.ok_or_else(|| AuthorityError::Missing {
        path: path.to_owned(),
    })
}

fn show(path: &Path) -> Result<String, AuthorityError> {
    let kept = must_read(path)?;
    let how = match &kept {
        StoredKey::Plain(_) => "by its permissions alone",
        StoredKey::Protected(_) => "by a passphrase",
    };
    let key = named(&kept.public());
    Ok(format!(
        "{key}\nKept in {}, protected {how}",
        path.display()
    ))
}

fn backup(path: &Path, out: &Path, source: &PassphraseSource) -> Result<String, AuthorityError> {
    let kept = must_read(path)?;
    let public = kept.public();
    let (seed, passphrase) = match kept {
        StoredKey::Plain(seed) => (seed, source.must_protect("the copy of the ship's key")?),
        StoredKey::Protected(protected) => {
            let passphrase = source.to_open("the ship's key and of its copy")?;
            (open(path, &protected, &passphrase)?, passphrase)
        }
    };
    let text = encrypt(&seed, &passphrase)?.to_string();
    private_file::write_new(out, text.as_bytes()).map_err(|source| unwritten(out, source))?;
    let key = named(&public);
    Ok(format!(
        "{key}\nThe copy is {}. Keep it ashore, and its passphrase apart from it.",
        out.display()
    ))
}

fn unwritten(path: &Path, source: std::io::Error) -> AuthorityError {
    AuthorityError::File {
        path: path.to_owned(),
        what: "written",
        source,
    }
}

fn restore(data: &Path, from: &Path, source: &PassphraseSource) -> Result<String, AuthorityError> {
    let copy = must_read(from)?;
    let StoredKey::Protected(protected) = &copy else {
        return Err(AuthorityError::Damaged {
            path: from.to_owned(),
            reason: "it is no copy that `clearhawse authority backup` wrote".to_owned(),
        });
    };
    // A copy that does not open is found out now, and not when the server starts.
    open(
        from,
        protected,
        &source.to_open("the copy of the ship's key")?,
    )?;
    let path = data.join(FILE);
    if let Some(there) = read(&path)? {
        if there.public() == copy.public() {
            let key = named(&copy.public());
            return Ok(format!("{key}\n{} holds this key already", path.display()));
        }
        return Err(AuthorityError::AnotherKey {
            path,
            fingerprint: there.public().fingerprint(),
        });
    }
    std::fs::create_dir_all(data)
        .and_then(|()| private_file::write_new(&path, protected.to_string().as_bytes()))
        .map_err(|source| unwritten(&path, source))?;
    let key = named(&copy.public());
    Ok(format!(
        "{key}\nRestored to {}, protected by the copy's passphrase",
        path.display()
    ))
}

fn protect(
    path: &Path,
    old: &PassphraseSource,
    new: &PassphraseSource,
) -> Result<String, AuthorityError> {
    let seed = unlock(path, must_read(path)?, old)?;
    let passphrase = new.must_protect("the ship's key")?;
    replace(
        path,
        &seed,
        &encrypt(&seed, &passphrase)?.to_string(),
        "protected by the new passphrase",
    )
}

fn unprotect(path: &Path, source: &PassphraseSource) -> Result<String, AuthorityError> {
    let seed = unlock(path, must_read(path)?, source)?;
    replace(
        path,
        &seed,
        &plain_text(&seed),
        "protected by its permissions alone",
    )
}

fn replace(path: &Path, seed: &[u8; 32], text: &str, how: &str) -> Result<String, AuthorityError> {
    private_file::replace(path, text.as_bytes()).map_err(|source| unwritten(path, source))?;
    let key = named(&SoftKey::from_seed(*seed).public());
    Ok(format!("{key}\n{} is now {how}", path.display()))
}
