//! A key behind a passphrase, as text: Argon2id (RFC 9106) makes a key from the passphrase, and
//! XChaCha20-Poly1305 seals the ship's key with it. Files were written so until [`super::encrypted`] took over;
//! they are read for ever. All that stands before the seal is sealed with it.
//!
//! ```text
//! clearhawse authority key 1
//! public 64 hexadecimal digits
//! argon2id MEMORY-KIB PASSES LANES
//! salt 32 hexadecimal digits
//! nonce 48 hexadecimal digits
//! sealed 96 hexadecimal digits
//! check 16 hexadecimal digits
//! ```
//!
//! `check` is the beginning of the SHA-256 of the text before it: it tells damage from a wrong passphrase.

use super::passphrase::Passphrase;
use argon2::{Algorithm, Argon2, Params, Version};
use chacha20poly1305::aead::{Aead as _, Payload};
use chacha20poly1305::{KeyInit as _, XChaCha20Poly1305, XNonce};
use record::{PublicKey, SoftKey};
use sha2::{Digest as _, Sha256};
use std::fmt;
use std::str::FromStr;
use zeroize::Zeroizing;

/// How the text begins, in every version.
pub const HEAD: &str = "clearhawse authority key";
const VERSION: &str = "1";
/// What Argon2id may ask for at most, so that no file asks for more than a machine has: 1 GiB.
const MOST_MEMORY_KIB: u32 = 1 << 20;
const MOST_PASSES: u32 = 64;
const MOST_LANES: u32 = 16;

/// What opening costs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cost {
    /// Memory, KiB.
    pub memory_kib: u32,
    /// Passes over it.
    pub passes: u32,
    /// Lanes in it.
    pub lanes: u32,
}

/// What is wrong with the text.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub enum Damage {
    /// Another version's.
    #[error("it is of version {0:?}, and this program knows versions 1 and 2")]
    Version(String),
    /// A line is not what it should be.
    #[error("the line `{0}` is not what it should be")]
    Line(&'static str),
    /// The numbers would cost too much.
    #[error("opening it would cost more than this program spends")]
    TooDear,
    /// The text was changed since it was written.
    #[error("its check does not fit: it was changed since it was written")]
    Check,
}

/// A key behind a passphrase.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SealedKey {
    public: PublicKey,
    cost: Cost,
    salt: [u8; 16],
    nonce: [u8; 24],
    ciphertext: [u8; 48],
}

impl SealedKey {
    /// Puts the key of `seed` behind `passphrase`; `salt` and `nonce` were drawn at random.
    ///
    /// # Errors
    /// What Argon2 says, if the cost is none or the memory is not there.
    #[cfg(test)]
    fn seal(
        seed: &[u8; 32],
        passphrase: &Passphrase,
        cost: Cost,
        salt: [u8; 16],
        nonce: [u8; 24],
    ) -> Result<Self, String> {
        let mut sealed = Self {
            public: SoftKey::from_seed(*seed).public(),
            cost,
            salt,
            nonce,
            ciphertext: [0; 48],
        };
        let head = sealed.head();
        let payload = Payload {
            msg: seed,
            aad: head.as_bytes(),
        };
        let bytes = sealed
            .cipher(passphrase)
            .map_err(|error| error.to_string())?
            .encrypt(&XNonce::from(nonce), payload);
        let bytes = bytes.map_err(|error| error.to_string())?;
        sealed.ciphertext = bytes
            .try_into()
            .map_err(|_| "the seal has another length".to_owned())?;
        Ok(sealed)
    }

    /// Returns the seed, or `None` if the passphrase is another one.
    ///
    /// # Errors
    /// What Argon2 says, if the memory is not there.
    pub fn open(
        &self,
        passphrase: &Passphrase,
    ) -> Result<Option<Zeroizing<[u8; 32]>>, argon2::Error> {
        let head = self.head();
        let payload = Payload {
            msg: &self.ciphertext[..],
            aad: head.as_bytes(),
        };
        let opened = self
            .cipher(passphrase)?
            .decrypt(&XNonce::from(self.nonce), payload);
        let Ok(opened) = opened.map(Zeroizing::new) else {
            return Ok(None);
        };
        let seed = <[u8; 32]>::try_from(opened.as_slice())
            .ok()
            .map(Zeroizing::new);
        Ok(seed.filter(|seed| SoftKey::from_seed(**seed).public() == self.public))
    }

    /// Returns the public key.
    pub fn public(&self) -> PublicKey {
        self.public
    }

    fn cipher(&self, passphrase: &Passphrase) -> Result<XChaCha20Poly1305, argon2::Error> {
        let Cost {
            memory_kib,
            passes,
            lanes,
        } = self.cost;
        let mut key = Zeroizing::new([0; 32]);
        Params::new(memory_kib, passes, lanes, Some(key.len()))
            .map(|params| Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
            .and_then(|argon| {
                argon.hash_password_into(passphrase.as_bytes(), &self.salt, &mut key[..])
            })?;
        Ok(XChaCha20Poly1305::new((&*key).into()))
    }

    /// Returns what is sealed along: everything before the seal.
    fn head(&self) -> String {
        let Cost {
            memory_kib,
            passes,
            lanes,
        } = self.cost;
        format!(
            "{HEAD} {VERSION}\npublic {}\nargon2id {memory_kib} {passes} {lanes}\nsalt {}\nnonce {}\n",
            self.public,
            record::hex::encode(&self.salt),
            record::hex::encode(&self.nonce),
        )
    }
}

fn check(text: &str) -> String {
    record::hex::encode(&Sha256::digest(text.as_bytes())[..8])
}

impl fmt::Display for SealedKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!(
            "{}sealed {}\n",
            self.head(),
            record::hex::encode(&self.ciphertext)
        );
        writeln!(f, "{text}check {}", check(&text))
    }
}

impl FromStr for SealedKey {
    type Err = Damage;

    fn from_str(text: &str) -> Result<Self, Damage> {
        let mut lines = text.lines();
        let version = lines.next().and_then(|line| line.strip_prefix(HEAD));
        let version = version.map(str::trim).unwrap_or_default();
        if version != VERSION {
            return Err(Damage::Version(version.to_owned()));
        }
        let mut value = |name: &'static str| {
            let line = lines.next().and_then(|line| line.strip_prefix(name));
            line.and_then(|rest| rest.strip_prefix(' '))
                .ok_or(Damage::Line(name))
        };
        let public = value("public")?;
        let cost = value("argon2id")?;
        let (salt, nonce) = (value("salt")?, value("nonce")?);
        let (sealed, _) = (value("sealed")?, value("check")?);
        let read = Self {
            public: super::read_public(public).ok_or(Damage::Line("public"))?,
            cost: cost.parse()?,
            salt: record::hex::decode_array(salt).ok_or(Damage::Line("salt"))?,
            nonce: record::hex::decode_array(nonce).ok_or(Damage::Line("nonce"))?,
            ciphertext: record::hex::decode_array(sealed).ok_or(Damage::Line("sealed"))?,
        };
        // There is one way to write it down.
        if read.to_string().trim_end() == text.trim_end() {
            Ok(read)
        } else {
            Err(Damage::Check)
        }
    }
}

impl FromStr for Cost {
    type Err = Damage;

    fn from_str(text: &str) -> Result<Self, Damage> {
        let numbers: Result<Vec<u32>, _> = text.split(' ').map(str::parse).collect();
        let Ok([memory_kib, passes, lanes]) = numbers.as_deref() else {
            return Err(Damage::Line("argon2id"));
        };
        let cost = Self {
            memory_kib: *memory_kib,
            passes: *passes,
            lanes: *lanes,
        };
        let is_dear = cost.memory_kib > MOST_MEMORY_KIB
            || cost.passes > MOST_PASSES
            || cost.lanes > MOST_LANES;
        if is_dear {
            Err(Damage::TooDear)
        } else {
            Ok(cost)
        }
    }
}

#[cfg(test)]
mod tests;
