//! Public keys as COSE_Key (RFC 9052 section 7, RFC 9053 section 7.2).

use crate::Refusal;
use crate::cbor::{Reader, Writer};
use crate::key::PublicKey;

/// Writes a public key as a COSE_Key: `{1: 1 (OKP), -1: 6 (Ed25519), -2: x}`.
pub fn cose_key(key: &PublicKey) -> Vec<u8> {
    let mut writer = Writer::new();
    writer
        .map(3)
        .int(1)
        .int(1)
        .int(-1)
        .int(6)
        .int(-2)
        .bytes(key.as_bytes());
    writer.into_bytes()
}

/// Reads a COSE_Key of exactly the form that [`cose_key`] writes.
///
/// # Errors
/// [`Refusal::NotACoseKey`] for another kind of key or more members, [`Refusal::BadKey`] for a
/// point that cannot be trusted, [`Refusal::Malformed`] for other bytes.
pub fn from_cose_key(bytes: &[u8]) -> Result<PublicKey, Refusal> {
    let mut reader = Reader::new(bytes);
    let key = read_cose_key(&mut reader)?;
    reader.end()?;
    Ok(key)
}

pub(crate) fn read_cose_key(reader: &mut Reader) -> Result<PublicKey, Refusal> {
    if reader.map()? != 3 {
        return Err(Refusal::NotACoseKey);
    }
    for expected in [1, 1, -1, 6, -2] {
        if reader.int()? != expected {
            return Err(Refusal::NotACoseKey);
        }
    }
    PublicKey::from_bytes(reader.bytes()?)
}
