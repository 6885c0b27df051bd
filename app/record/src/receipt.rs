//! Receipts: the ship's signed word on how much of a device's chain it holds.

use crate::cbor::{Reader, Writer};
use crate::cose::{Frame, Sign1, sha256};
use crate::envelope::MAX_NUMBER;
use crate::id::{DeviceId, ReceiptHash, RecordId, VesselId};
use crate::key::{PublicKey, SoftKey};
use crate::refusal::Refusal;

/// What a receipt's signature is bound to besides its bytes.
pub const RECEIPT_CONTEXT: &[u8] = b"clearhawse receipt v1";

const VERSION: u64 = 1;
const FIELDS: usize = 6;
const MAX_BYTES: usize = 512;

/// What a receipt says: all of a device's records up to `seq` are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Receipt {
    /// The vessel.
    pub vessel: VesselId,
    /// Whose records.
    pub device: DeviceId,
    /// The highest number up to which none is missing.
    pub seq: u64,
    /// The record of that number.
    pub head: RecordId,
    /// The server's clock when it signed, milliseconds UTC since 1970.
    pub server_time_ms: i64,
}

/// A receipt whose signature was found good, with its bytes as received.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedReceipt {
    receipt: Receipt,
    hash: ReceiptHash,
    bytes: Vec<u8>,
}

impl Receipt {
    fn payload(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer
            .array(FIELDS)
            .uint(VERSION)
            .bytes(&self.vessel.0)
            .bytes(&self.device.0)
            .uint(self.seq)
            .bytes(&self.head.0)
            .int(self.server_time_ms);
        writer.into_bytes()
    }

    fn from_payload(payload: &[u8]) -> Result<Self, Refusal> {
        let mut reader = Reader::new(payload);
        let fields = reader.array()?;
        let version = reader.uint()?;
        if version != VERSION {
            return Err(Refusal::Version { version });
        }
        if fields != FIELDS {
            return Err(Refusal::FieldCount {
                fields,
                expected: FIELDS,
            });
        }
        let length = |field| Refusal::IdLength { field };
        let receipt = Self {
            vessel: VesselId::from_slice(reader.bytes()?).ok_or(length("vessel"))?,
            device: DeviceId::from_slice(reader.bytes()?).ok_or(length("device"))?,
            seq: reader.uint()?,
            head: RecordId::from_slice(reader.bytes()?).ok_or(length("head"))?,
            server_time_ms: reader.int()?,
        };
        reader.end()?;
        if receipt.seq == 0 {
            return Err(Refusal::SeqZero);
        }
        for (field, number) in [
            ("seq", receipt.seq),
            ("server_time_ms", receipt.server_time_ms.unsigned_abs()),
        ] {
            if number > MAX_NUMBER {
                return Err(Refusal::NumberTooLarge { field });
            }
        }
        Ok(receipt)
    }

    /// Returns the hash that later records name, of the receipt as the authority of that id signs it.
    pub fn hash(&self, authority: DeviceId) -> ReceiptHash {
        let frame = Frame::new(authority, self.payload());
        ReceiptHash(sha256(&frame.to_be_signed(RECEIPT_CONTEXT)))
    }

    /// Signs the receipt with the key of the vessel's authority.
    pub fn sign(self, authority: &SoftKey) -> SignedReceipt {
        let frame = Frame::new(authority.device(), self.payload());
        let to_be_signed = frame.to_be_signed(RECEIPT_CONTEXT);
        let bytes = frame.seal(&authority.sign(&to_be_signed));
        SignedReceipt {
            receipt: self,
            hash: ReceiptHash(sha256(&to_be_signed)),
            bytes,
        }
    }
}

impl SignedReceipt {
    /// Reads a receipt and checks that `authority` signed it.
    ///
    /// # Errors
    /// [`Refusal`] for malformed bytes, another signer or a signature that does not fit.
    pub fn verify(bytes: &[u8], authority: &PublicKey) -> Result<Self, Refusal> {
        if bytes.len() > MAX_BYTES {
            return Err(Refusal::TooLarge {
                bytes: bytes.len(),
                limit: MAX_BYTES,
            });
        }
        let sign1 = Sign1::decode(bytes)?;
        let receipt = Receipt::from_payload(sign1.payload)?;
        if sign1.kid != authority.device() {
            return Err(Refusal::WrongKey {
                device: sign1.kid,
                offered: authority.device(),
            });
        }
        let to_be_signed = sign1.to_be_signed(RECEIPT_CONTEXT);
        if !authority.accepts(&to_be_signed, &sign1.signature) {
            return Err(Refusal::BadReceipt {
                device: receipt.device,
            });
        }
        Ok(Self {
            receipt,
            hash: ReceiptHash(sha256(&to_be_signed)),
            bytes: bytes.to_vec(),
        })
    }

    /// Returns what the receipt says.
    pub fn receipt(&self) -> &Receipt {
        &self.receipt
    }

    /// Returns the hash that later records name.
    pub fn hash(&self) -> ReceiptHash {
        self.hash
    }

    /// Returns the bytes, signature and all.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }
}
