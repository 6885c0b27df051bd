//! The COSE_Sign1 frame (RFC 9052 section 4.2) that records, receipts and credentials share.

use sha2::{Digest, Sha256};

use crate::cbor::{Reader, Writer};
use crate::{DeviceId, Refusal};

/// The tag of COSE_Sign1 in the registry of CBOR tags.
pub(crate) const SIGN1_TAG: u64 = 18;
/// EdDSA in the registry of COSE algorithms.
const EDDSA: i64 = -8;
/// `{1: -8, 4: kid}` with a key id of 16 bytes takes this many bytes.
const PROTECTED_LEN: usize = 21;

/// What is signed before it is signed.
#[derive(Debug, Clone)]
pub(crate) struct Frame {
    protected: [u8; PROTECTED_LEN],
    payload: Vec<u8>,
}

/// Returns the protected header `{1: -8, 4: kid}` as bytes.
fn protected_header(kid: DeviceId) -> [u8; PROTECTED_LEN] {
    let mut writer = Writer::new();
    writer
        .map(2)
        .uint(1)
        .int(EDDSA)
        .uint(4)
        .bytes(kid.as_bytes());
    writer
        .into_bytes()
        .try_into()
        .expect("invariant: the header has one length")
}

/// Returns the to-be-signed bytes: the Sig_structure of RFC 9052 section 4.4.
fn sig_structure(protected: &[u8], aad: &[u8], payload: &[u8]) -> Vec<u8> {
    let mut writer = Writer::new();
    writer
        .array(4)
        .text("Signature1")
        .bytes(protected)
        .bytes(aad)
        .bytes(payload);
    writer.into_bytes()
}

/// Returns SHA-256 of `bytes`.
pub(crate) fn sha256(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

impl Frame {
    /// Puts a payload under the header that names the signing key.
    pub(crate) fn new(kid: DeviceId, payload: Vec<u8>) -> Self {
        Self {
            protected: protected_header(kid),
            payload,
        }
    }

    /// Returns the bytes to sign under this context.
    pub(crate) fn to_be_signed(&self, aad: &[u8]) -> Vec<u8> {
        sig_structure(&self.protected, aad, &self.payload)
    }

    /// Puts the signature on.
    pub(crate) fn seal(&self, signature: &[u8; 64]) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.tag(SIGN1_TAG).array(4).bytes(&self.protected).map(0);
        writer.bytes(&self.payload).bytes(signature);
        writer.into_bytes()
    }
}

/// A COSE_Sign1 as received, taken apart but not yet verified.
#[derive(Debug, Clone)]
pub(crate) struct Sign1<'a> {
    /// The key id of the protected header.
    pub(crate) kid: DeviceId,
    /// The protected header's bytes.
    protected: &'a [u8],
    /// The payload's bytes.
    pub(crate) payload: &'a [u8],
    /// The signature.
    pub(crate) signature: [u8; 64],
}

impl<'a> Sign1<'a> {
    /// Takes one tagged COSE_Sign1 apart; nothing may follow it.
    pub(crate) fn decode(bytes: &'a [u8]) -> Result<Self, Refusal> {
        let mut reader = Reader::new(bytes);
        if bytes.first() != Some(&0xd2) {
            return Err(Refusal::NotSign1);
        }
        reader.tag()?;
        if reader.array()? != 4 {
            return Err(Refusal::NotSign1);
        }
        let protected = reader.bytes()?;
        let kid = decode_protected(protected)?;
        if reader.map()? != 0 {
            return Err(Refusal::UnprotectedHeader);
        }
        let payload = reader.optional_bytes()?.ok_or(Refusal::PayloadMissing)?;
        let signature = reader.bytes()?;
        let signature = signature.try_into().map_err(|_| Refusal::SignatureLength {
            bytes: signature.len(),
        })?;
        reader.end()?;
        Ok(Self {
            kid,
            protected,
            payload,
            signature,
        })
    }

    /// Returns the bytes that the signature covers under this context.
    pub(crate) fn to_be_signed(&self, aad: &[u8]) -> Vec<u8> {
        sig_structure(self.protected, aad, self.payload)
    }
}

fn decode_protected(protected: &[u8]) -> Result<DeviceId, Refusal> {
    let mut reader = Reader::new(protected);
    if reader.map()? != 2 || reader.uint()? != 1 {
        return Err(Refusal::ProtectedHeader);
    }
    let algorithm = reader.int()?;
    if algorithm != EDDSA {
        return Err(Refusal::Algorithm { algorithm });
    }
    if reader.uint()? != 4 {
        return Err(Refusal::ProtectedHeader);
    }
    let kid = DeviceId::from_slice(reader.bytes()?).ok_or(Refusal::IdLength { field: "kid" })?;
    reader.end()?;
    Ok(kid)
}
