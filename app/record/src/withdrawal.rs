//! Withdrawals: from when a device's key no longer counts.

use crate::cbor::{Reader, Writer};
use crate::envelope::MAX_NUMBER;
use crate::id::DeviceId;
use crate::refusal::Refusal;

/// The kind of the record whose body is a withdrawal.
pub const KIND_WITHDRAWAL: &str = "withdrawal";

const VERSION: u64 = 1;
const FIELDS: usize = 5;
const MAX_REASON_BYTES: usize = 1024;

/// Says that a device's key is withdrawn; records up to `last_seq` stay good.
///
/// The last accepted number counts, not the time alone: a stolen key can sign with any clock.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Withdrawal {
    /// Whose key.
    pub device: DeviceId,
    /// From when, milliseconds UTC since 1970.
    pub from_ms: i64,
    /// The last record that still counts; 0 when none does.
    pub last_seq: u64,
    /// Why, in words; may be empty.
    pub reason: String,
}

impl Withdrawal {
    /// Writes the body of a withdrawal record.
    ///
    /// # Errors
    /// The same [`Refusal`]s with which a reader would refuse it.
    pub fn encode(&self) -> Result<Vec<u8>, Refusal> {
        self.check()?;
        let mut writer = Writer::new();
        writer
            .array(FIELDS)
            .uint(VERSION)
            .bytes(&self.device.0)
            .int(self.from_ms)
            .uint(self.last_seq)
            .text(&self.reason);
        Ok(writer.into_bytes())
    }

    /// Reads the body of a withdrawal record.
    ///
    /// # Errors
    /// [`Refusal`] names the first rule that the bytes break.
    pub fn decode(bytes: &[u8]) -> Result<Self, Refusal> {
        let mut reader = Reader::new(bytes);
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
        let device = DeviceId::from_slice(reader.bytes()?);
        let withdrawal = Self {
            device: device.ok_or(Refusal::IdLength { field: "device" })?,
            from_ms: reader.int()?,
            last_seq: reader.uint()?,
            reason: reader.text()?.to_owned(),
        };
        reader.end()?;
        withdrawal.check()?;
        Ok(withdrawal)
    }

    fn check(&self) -> Result<(), Refusal> {
        if self.reason.len() > MAX_REASON_BYTES {
            let (bytes, limit) = (self.reason.len(), MAX_REASON_BYTES);
            return Err(Refusal::TextTooLong {
                field: "reason",
                bytes,
                limit,
            });
        }
        for (field, number) in [
            ("from_ms", self.from_ms.unsigned_abs()),
            ("last_seq", self.last_seq),
        ] {
            if number > MAX_NUMBER {
                return Err(Refusal::NumberTooLarge { field });
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lost_phone() -> Withdrawal {
        Withdrawal {
            device: DeviceId([7; 16]),
            from_ms: 1_764_072_000_000,
            last_seq: 41,
            reason: "phone lost ashore".into(),
        }
    }

    #[test]
    fn withdrawal_reads_back_what_it_wrote() {
        let withdrawal = lost_phone();
        assert_eq!(
            Withdrawal::decode(&withdrawal.encode().unwrap()),
            Ok(withdrawal)
        );
    }

    #[test]
    fn withdrawal_refuses_other_versions_and_trailing_bytes() {
        let mut bytes = lost_phone().encode().unwrap();
        bytes.push(0);
        assert!(matches!(
            Withdrawal::decode(&bytes),
            Err(Refusal::Malformed(_))
        ));
        bytes.pop();
        bytes[1] = 2;
        assert_eq!(
            Withdrawal::decode(&bytes),
            Err(Refusal::Version { version: 2 })
        );
    }

    #[test]
    fn withdrawal_refuses_a_reason_too_long_to_read() {
        let withdrawal = Withdrawal {
            reason: "a".repeat(1025),
            ..lost_phone()
        };
        let limit = Refusal::TextTooLong {
            field: "reason",
            bytes: 1025,
            limit: 1024,
        };
        assert_eq!(withdrawal.encode(), Err(limit));
    }
}
