//! The ship's authority key: made on first start, kept in a file that only its owner can read, and
//! protected by a passphrase where one is given.

pub mod command;
pub mod encrypted;
pub mod passphrase;
pub mod sealed;

use crate::private_file;
use encrypted::{Cost, EncryptedKey};
use passphrase::{Passphrase, PassphraseError, PassphraseSource};
use record::{PublicKey, SoftKey};
use sealed::SealedKey;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use zeroize::Zeroizing;

/// The key file's name in the data folder.
pub const FILE: &str = "ship.key";

/// Why there is no authority key.
#[derive(Debug, thiserror::Error)]
pub enum AuthorityError {
    /// The file cannot be read or written.
    #[error("the key {path} cannot be {what}")]
    File {
        /// Which file.
        path: PathBuf,
        /// `read` or `written`.
        what: &'static str,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// Others than its owner can read or change the file.
    #[error(
        "the key {path} is open to others than its owner (mode {mode:o}): \
         whoever has read it can sign for the ship; close it with `chmod 600 {path}`"
    )]
    OpenToOthers {
        /// Which file.
        path: PathBuf,
        /// Its permission bits.
        mode: u32,
    },
    /// The file holds something else, or not all of it.
    #[error("the key {path} is damaged: {reason}; it was left as it is")]
    Damaged {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it.
        reason: String,
    },
    /// There is no file.
    #[error("there is no key {path}")]
    Missing {
        /// Which file.
        path: PathBuf,
    },
    /// The passphrase is another one.
    #[error("the passphrase does not open the key {path}")]
    WrongPassphrase {
        /// Which file.
        path: PathBuf,
    },
    /// A passphrase was given for a key that has none.
    #[error(
        "a passphrase is given, and the key {path} is not protected by one: \
         protect it with `clearhawse authority protect`, or give no passphrase"
    )]
    NotProtected {
        /// Which file.
        path: PathBuf,
    },
    /// There is another key where one should go.
    #[error("{path} holds another key, of fingerprint {fingerprint}: it was left as it is")]
    AnotherKey {
        /// Which file.
        path: PathBuf,
        /// The key that is there.
        fingerprint: String,
    },
    /// The passphrase itself.
    #[error(transparent)]
    Passphrase(#[from] PassphraseError),
    /// The key could not be made from the passphrase.
    #[error("no key can be made from the passphrase")]
    Derive(#[source] argon2::Error),
    /// The key could not be encrypted.
    #[error("the key cannot be encrypted")]
    Encrypt(#[source] pkcs8::Error),
    /// The system gives no random numbers.
    #[error("the system gives no random numbers")]
    Random(#[source] getrandom::Error),
}

/// What a key file holds.
#[derive(Debug)]
pub enum StoredKey {
    /// The key itself.
    Plain(Zeroizing<[u8; 32]>),
    /// The key behind a passphrase.
    Protected(Box<ProtectedKey>),
}

/// A key behind a passphrase.
#[derive(Debug)]
pub enum ProtectedKey {
    /// As this program writes it.
    Encrypted(EncryptedKey),
    /// As it was written before; read for ever.
    Sealed(SealedKey),
}

impl ProtectedKey {
    fn public(&self) -> PublicKey {
        match self {
            Self::Encrypted(key) => key.public(),
            Self::Sealed(key) => key.public(),
        }
    }

    fn open(&self, passphrase: &Passphrase) -> Result<Option<Zeroizing<[u8; 32]>>, AuthorityError> {
        match self {
            Self::Encrypted(key) => Ok(key.open(passphrase)),
            Self::Sealed(key) => key.open(passphrase).map_err(AuthorityError::Derive),
        }
    }
}

impl std::fmt::Display for ProtectedKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Encrypted(key) => key.fmt(f),
            Self::Sealed(key) => key.fmt(f),
        }
    }
}

impl std::str::FromStr for ProtectedKey {
    type Err = sealed::Damage;

    fn from_str(text: &str) -> Result<Self, sealed::Damage> {
        match text.parse() {
            Ok(key) => Ok(Self::Encrypted(key)),
            Err(sealed::Damage::Version(_)) => text.parse().map(Self::Sealed),
            Err(damage) => Err(damage),
        }
    }
}

impl StoredKey {
    /// Returns the public key, for which no passphrase is needed.
    pub fn public(&self) -> PublicKey {
        match self {
            Self::Plain(seed) => SoftKey::from_seed(**seed).public(),
            Self::Protected(key) => key.public(),
        }
    }
}

/// Returns random bytes.
///
/// # Errors
/// [`AuthorityError::Random`] if the system gives none.
pub fn random<const N: usize>() -> Result<[u8; N], AuthorityError> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(AuthorityError::Random)?;
    Ok(bytes)
}

/// Returns 32 random bytes.
///
/// # Errors
/// [`AuthorityError::Random`] if the system gives none.
pub fn random_seed() -> Result<[u8; 32], AuthorityError> {
    random()
}

/// Reads a public key as people write it: hexadecimal digits, in groups if they like.
pub fn read_public(text: &str) -> Option<PublicKey> {
    let is_digit = |character: &char| !character.is_whitespace() && !['-', ':'].contains(character);
    let digits: String = text.chars().filter(is_digit).collect();
    record::hex::decode(&digits).and_then(|bytes| PublicKey::from_bytes(&bytes).ok())
}

/// Reads the key in `data`, or makes one: behind the passphrase that `source` gives, if it gives one.
///
/// # Errors
/// [`AuthorityError`] if it cannot be read, is no key, is open to others, does not open, or cannot be made.
pub fn load_or_make(data: &Path, source: &PassphraseSource) -> Result<SoftKey, AuthorityError> {
    let path = data.join(FILE);
    match read(&path)? {
        Some(kept) => {
            if matches!(kept, StoredKey::Plain(_)) && source.given()?.is_some() {
                return Err(AuthorityError::NotProtected { path });
            }
            unlock(&path, kept, source).map(|seed| SoftKey::from_seed(*seed))
        }
        None => make(
            data,
            random_seed()?,
            source.to_protect("the ship's new key")?.as_ref(),
        ),
    }
}

/// Reads the key in `data` where it opens without asking anybody: it is in no need of a passphrase, or
/// `source` was given one.
///
/// # Errors
/// [`AuthorityError`] if it cannot be read, is no key, is open to others, or does not open.
pub fn load_unasked(
    data: &Path,
    source: &PassphraseSource,
) -> Result<Option<SoftKey>, AuthorityError> {
    let path = data.join(FILE);
    match read(&path)? {
        None => Ok(None),
        Some(StoredKey::Protected(_)) if source.given()?.is_none() => Ok(None),
        Some(kept) => unlock(&path, kept, source).map(|seed| Some(SoftKey::from_seed(*seed))),
    }
}

/// Writes a key made from `seed` into `data`, behind the passphrase if there is one.
///
/// # Errors
/// [`AuthorityError::File`] if there is one already or the file cannot be written.
pub fn make(
    data: &Path,
    seed: [u8; 32],
    passphrase: Option<&Passphrase>,
) -> Result<SoftKey, AuthorityError> {
    let path = data.join(FILE);
    let text = match passphrase {
        None => plain_text(&seed),
        Some(passphrase) => Zeroizing::new(encrypt(&seed, passphrase)?.to_string()),
    };
    private_file::write_new(&path, text.as_bytes()).map_err(|source| AuthorityError::File {
        path,
        what: "written",
        source,
    })?;
    Ok(SoftKey::from_seed(seed))
}

fn plain_text(seed: &[u8; 32]) -> Zeroizing<String> {
    Zeroizing::new(record::hex::encode(seed) + "\n")
}

fn encrypt(seed: &[u8; 32], passphrase: &Passphrase) -> Result<EncryptedKey, AuthorityError> {
    EncryptedKey::new(seed, passphrase, Cost::NOW, random()?, random()?)
        .map_err(AuthorityError::Encrypt)
}

/// Reads a key file; `None` if there is none.
///
/// # Errors
/// [`AuthorityError`] if it cannot be read, is open to others, or holds no key.
pub fn read(path: &Path) -> Result<Option<StoredKey>, AuthorityError> {
    let unreadable = |source| AuthorityError::File {
        path: path.to_owned(),
        what: "read",
        source,
    };
    match private_file::open_to_others(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(unreadable(error)),
        Ok(Some(mode)) => {
            return Err(AuthorityError::OpenToOthers {
                path: path.to_owned(),
                mode,
            });
        }
        Ok(None) => {}
    }
    let damaged = |reason: &str| AuthorityError::Damaged {
        path: path.to_owned(),
        reason: reason.to_owned(),
    };
    let bytes = Zeroizing::new(std::fs::read(path).map_err(unreadable)?);
    let text = std::str::from_utf8(&bytes).map_err(|_| damaged("it is not text"))?;
    if text.starts_with(sealed::HEAD) {
        let key: ProtectedKey = text
            .parse()
            .map_err(|error: sealed::Damage| damaged(&error.to_string()))?;
        return Ok(Some(StoredKey::Protected(Box::new(key))));
    }
    let seed = record::hex::decode_array(text.trim());
    let seed =
        seed.ok_or_else(|| damaged("it is neither 64 hexadecimal digits nor a protected key"))?;
    Ok(Some(StoredKey::Plain(Zeroizing::new(seed))))
}

/// Returns what signs, with the passphrase that `source` gives where one is needed.
///
/// # Errors
/// [`AuthorityError`] if there is no passphrase or it is another one.
fn unlock(
    path: &Path,
    kept: StoredKey,
    source: &PassphraseSource,
) -> Result<Zeroizing<[u8; 32]>, AuthorityError> {
    match kept {
        StoredKey::Plain(seed) => Ok(seed),
        StoredKey::Protected(key) => {
            let passphrase = source.to_open(&format!("the key {}", path.display()))?;
            open(path, &key, &passphrase)
        }
    }
}

fn open(
    path: &Path,
    key: &ProtectedKey,
    passphrase: &Passphrase,
) -> Result<Zeroizing<[u8; 32]>, AuthorityError> {
    key.open(passphrase)?
        .ok_or_else(|| AuthorityError::WrongPassphrase {
            path: path.to_owned(),
        })
}

#[cfg(test)]
mod tests;
