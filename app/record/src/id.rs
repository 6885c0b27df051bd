//! Names of devices, vessels, records, receipts and people.

use std::fmt;
use std::str::FromStr;

use sha2::{Digest, Sha256};

use crate::hex;

/// Text that is not the hexadecimal form of an id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what} is {digits} hexadecimal digits, not {text:?}")]
pub struct NotAnId {
    /// What the text should have named.
    pub what: &'static str,
    /// How many digits it has.
    pub digits: usize,
    /// The text as it came.
    pub text: String,
}

macro_rules! id {
    ($(#[$doc:meta])* $name:ident, $len:literal, $what:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub [u8; $len]);

        impl $name {
            /// Returns the raw bytes.
            pub fn as_bytes(&self) -> &[u8] {
                &self.0
            }

            /// Reads raw bytes; `None` for a wrong length.
            pub fn from_slice(bytes: &[u8]) -> Option<Self> {
                bytes.try_into().ok().map(Self)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&hex::encode(&self.0))
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, concat!(stringify!($name), "({})"), self)
            }
        }

        impl FromStr for $name {
            type Err = NotAnId;

            fn from_str(text: &str) -> Result<Self, NotAnId> {
                hex::decode_array(text).map(Self).ok_or_else(|| NotAnId {
                    what: $what,
                    digits: $len * 2,
                    text: text.chars().take(80).collect(),
                })
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let text = std::borrow::Cow::<'de, str>::deserialize(deserializer)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }

        impl<C> minicbor::Encode<C> for $name {
            fn encode<W: minicbor::encode::Write>(
                &self,
                e: &mut minicbor::Encoder<W>,
                _: &mut C,
            ) -> Result<(), minicbor::encode::Error<W::Error>> {
                e.bytes(&self.0)?.ok()
            }
        }

        impl<'b, C> minicbor::Decode<'b, C> for $name {
            fn decode(
                d: &mut minicbor::Decoder<'b>,
                _: &mut C,
            ) -> Result<Self, minicbor::decode::Error> {
                let at = d.position();
                Self::from_slice(d.bytes()?).ok_or_else(|| {
                    minicbor::decode::Error::message(concat!("wrong length of ", $what)).at(at)
                })
            }
        }
    };
}

id!(
    /// Names a signing key and with it the one chain of records that the key signs.
    ///
    /// The first 16 bytes of SHA-256 over the raw 32-byte Ed25519 public key.
    DeviceId,
    16,
    "a device id"
);
id!(
    /// Names a vessel by the key of her authority, so that nobody else can speak for her.
    ///
    /// The first 16 bytes of SHA-256 over the authority's raw 32-byte Ed25519 public key.
    VesselId,
    16,
    "a vessel id"
);
id!(
    /// Names a record: SHA-256 over its to-be-signed bytes, never over the signed envelope.
    RecordId,
    32,
    "a record id"
);
id!(
    /// Names a receipt: SHA-256 over its to-be-signed bytes.
    ReceiptHash,
    32,
    "a receipt hash"
);

/// Returns the first half of SHA-256 over a raw public key.
fn key_digest(public_key: &[u8; 32]) -> [u8; 16] {
    let digest: [u8; 32] = Sha256::digest(public_key).into();
    let mut half = [0; 16];
    half.copy_from_slice(&digest[..16]);
    half
}

impl DeviceId {
    /// Returns the id of the chain that this raw Ed25519 public key signs.
    pub fn of_key(public_key: &[u8; 32]) -> Self {
        Self(key_digest(public_key))
    }
}

impl VesselId {
    /// Returns the id of the vessel whose authority holds this raw Ed25519 public key.
    pub fn of_key(authority_key: &[u8; 32]) -> Self {
        Self(key_digest(authority_key))
    }
}

/// Names a person in a vessel's crew: a short text that the vessel chose.
#[derive(
    Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
)]
#[serde(transparent)]
pub struct PersonId(pub String);

impl PersonId {
    /// Returns the text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for PersonId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl From<&str> for PersonId {
    fn from(text: &str) -> Self {
        Self(text.to_owned())
    }
}

impl From<String> for PersonId {
    fn from(text: String) -> Self {
        Self(text)
    }
}

impl<C> minicbor::Encode<C> for PersonId {
    fn encode<W: minicbor::encode::Write>(
        &self,
        e: &mut minicbor::Encoder<W>,
        _: &mut C,
    ) -> Result<(), minicbor::encode::Error<W::Error>> {
        e.str(&self.0)?.ok()
    }
}

impl<'b, C> minicbor::Decode<'b, C> for PersonId {
    fn decode(d: &mut minicbor::Decoder<'b>, _: &mut C) -> Result<Self, minicbor::decode::Error> {
        d.str().map(Self::from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn device_id_is_the_first_half_of_the_digest_of_the_public_key() {
        // RFC 8032 section 7.1, TEST 1; digest by an independent SHA-256.
        let key =
            hex::decode_array("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a")
                .unwrap();
        assert_eq!(
            DeviceId::of_key(&key).to_string(),
            "21fe31dfa154a261626bf854046fd227"
        );
    }

    #[test]
    fn ids_read_back_from_text_json_and_cbor() {
        let id = RecordId([0xab; 32]);
        assert_eq!(id.to_string().parse::<RecordId>(), Ok(id));
        let json = serde_json::to_string(&id).unwrap();
        assert_eq!(json, format!("\"{id}\""));
        assert_eq!(serde_json::from_str::<RecordId>(&json).unwrap(), id);
        let cbor = minicbor::to_vec(id).unwrap();
        assert_eq!(cbor[..2], [0x58, 0x20]);
        assert_eq!(minicbor::decode::<RecordId>(&cbor).unwrap(), id);
    }

    #[test]
    fn an_id_of_another_length_is_refused() {
        assert!("abcd".parse::<DeviceId>().is_err());
        assert!(minicbor::decode::<DeviceId>(&[0x41, 0]).is_err());
        assert_eq!(VesselId::from_slice(&[0; 15]), None);
    }
}
