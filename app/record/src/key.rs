//! Keys: whose signatures count, and the software key for a browser without Ed25519.

use std::fmt;

use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use sha2::{Digest as _, Sha256};

use crate::id::{DeviceId, VesselId};
use crate::{Refusal, hex};

/// An Ed25519 public key that is safe to trust: canonical, on the curve, not of small order.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct PublicKey(VerifyingKey);

impl PublicKey {
    /// Reads a raw key of 32 bytes.
    ///
    /// # Errors
    /// [`Refusal::BadKey`] for another length, a point off the curve, a second encoding of a
    /// point, and the points of small order, under which one signature fits many messages.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, Refusal> {
        let raw: [u8; 32] = bytes.try_into().map_err(|_| Refusal::BadKey)?;
        let key = VerifyingKey::from_bytes(&raw).map_err(|_| Refusal::BadKey)?;
        let canonical = key.to_edwards().compress().to_bytes() == raw;
        if canonical && !key.is_weak() {
            Ok(Self(key))
        } else {
            Err(Refusal::BadKey)
        }
    }

    /// Returns the raw key.
    pub fn as_bytes(&self) -> &[u8; 32] {
        self.0.as_bytes()
    }

    /// Returns the id of the chain that this key signs.
    pub fn device(&self) -> DeviceId {
        DeviceId::of_key(self.as_bytes())
    }

    /// Returns the id of the vessel whose authority this key is.
    pub fn vessel(&self) -> VesselId {
        VesselId::of_key(self.as_bytes())
    }

    /// Returns the number by which two people compare this key aloud: eight groups of four digits.
    ///
    /// The first 16 bytes of the SHA-256 of a fixed line and the raw key, as a big-endian number modulo
    /// 10³²: another key with the same one takes some 2¹⁰⁶ tries.
    pub fn fingerprint(&self) -> String {
        let hash = Sha256::new()
            .chain_update(b"clearhawse authority fingerprint 1\n")
            .chain_update(self.as_bytes())
            .finalize();
        let first = hash.iter().take(16);
        let number = first.fold(0, |number: u128, byte| number << 8 | u128::from(*byte));
        let digits = format!("{:032}", number % 10_u128.pow(32));
        let groups: Vec<&str> = (0..8).map(|at| &digits[at * 4..at * 4 + 4]).collect();
        groups.join(" ")
    }

    /// Says whether `signature` is this key's over `message`.
    ///
    /// Strict: `S < L`, canonical `R` not of small order, and `[S]B = R + [k]A` without cofactor
    /// (RFC 8032 section 5.1.7, the stricter choice at each point), so that all readers agree.
    pub fn accepts(&self, message: &[u8], signature: &[u8]) -> bool {
        Signature::from_slice(signature)
            .is_ok_and(|signature| self.0.verify_strict(message, &signature).is_ok())
    }
}

impl fmt::Display for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hex::encode(self.as_bytes()))
    }
}

impl fmt::Debug for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PublicKey({self})")
    }
}

impl serde::Serialize for PublicKey {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for PublicKey {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = std::borrow::Cow::<'de, str>::deserialize(deserializer)?;
        hex::decode(&text)
            .and_then(|bytes| Self::from_bytes(&bytes).ok())
            .ok_or_else(|| serde::de::Error::custom("not an Ed25519 public key in hexadecimal"))
    }
}

impl<C> minicbor::Encode<C> for PublicKey {
    fn encode<W: minicbor::encode::Write>(
        &self,
        e: &mut minicbor::Encoder<W>,
        _: &mut C,
    ) -> Result<(), minicbor::encode::Error<W::Error>> {
        e.bytes(self.as_bytes())?.ok()
    }
}

impl<'b, C> minicbor::Decode<'b, C> for PublicKey {
    fn decode(d: &mut minicbor::Decoder<'b>, _: &mut C) -> Result<Self, minicbor::decode::Error> {
        let at = d.position();
        Self::from_bytes(d.bytes()?)
            .map_err(|_| minicbor::decode::Error::message("not an Ed25519 public key").at(at))
    }
}

/// A signing key held in memory, wiped when dropped; a ship's authority, or a phone's fall-back.
pub struct SoftKey(SigningKey);

impl SoftKey {
    /// Makes the key of a 32-byte seed (RFC 8032's private key), which the caller drew at random.
    pub fn from_seed(seed: [u8; 32]) -> Self {
        Self(SigningKey::from_bytes(&seed))
    }

    /// Returns the public half.
    pub fn public(&self) -> PublicKey {
        PublicKey(self.0.verifying_key())
    }

    /// Returns the id of the chain that this key signs.
    pub fn device(&self) -> DeviceId {
        self.public().device()
    }

    /// Signs `message`.
    pub fn sign(&self, message: &[u8]) -> [u8; 64] {
        self.0.sign(message).to_bytes()
    }
}

impl fmt::Debug for SoftKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "SoftKey(of device {})", self.device())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fingerprint_is_what_others_reckon_it_to_be() {
        // Reckoned with Python's hashlib and its whole numbers, from the key of 32 sevens.
        let key = SoftKey::from_seed([7; 32]).public();
        assert_eq!(key.fingerprint(), "9451 2628 1698 9877 0828 5750 3976 9541");
        assert_ne!(
            SoftKey::from_seed([8; 32]).public().fingerprint(),
            key.fingerprint()
        );
    }
}
