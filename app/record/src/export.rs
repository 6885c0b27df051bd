//! Export files: signed records and all that is needed to check them, with no server.
//!
//! A CBOR sequence (RFC 8742): one header item, then every record as the COSE_Sign1 that was
//! received, byte for byte.

use crate::Refusal;
use crate::cbor::{Reader, Writer};
use crate::cose_key::{cose_key, read_cose_key};
use crate::envelope::VerifiedRecord;
use crate::id::{RecordId, VesselId};
use crate::key::PublicKey;

mod verify;

pub use verify::{Fault, Name, Note, Report, What, verify_export};

const MAGIC: &str = "clearhawse export";
const VERSION: u64 = 1;
const FIELDS: usize = 7;
const MAX_DEVICES: usize = 10_000;

/// A device's key in an export.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeviceKey {
    /// The key that signed the device's records.
    pub key: PublicKey,
    /// What the authority said of it, as signed; none for a device registered without one.
    pub credential: Option<Vec<u8>>,
}

/// What an export holds and whom its reader has to trust:
/// `["clearhawse export", 1, vessel, authority COSE_Key, run or null,
/// [[COSE_Key, credential or null], …], checkpoint text or null]`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Header {
    /// The vessel.
    pub vessel: VesselId,
    /// The vessel's authority.
    pub authority: PublicKey,
    /// The run whose records these are; none when they are all of the vessel's.
    pub run: Option<RecordId>,
    /// The devices' keys.
    pub devices: Vec<DeviceKey>,
    /// The signed head of the log over all of the vessel's records, in the order of the file.
    pub checkpoint: Option<String>,
}

impl Header {
    /// Writes the header item.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer
            .array(FIELDS)
            .text(MAGIC)
            .uint(VERSION)
            .bytes(&self.vessel.0)
            .item(&cose_key(&self.authority))
            .optional_bytes(self.run.as_ref().map(RecordId::as_bytes))
            .array(self.devices.len());
        for device in &self.devices {
            writer.array(2).item(&cose_key(&device.key));
            writer.optional_bytes(device.credential.as_deref());
        }
        match &self.checkpoint {
            Some(note) => writer.text(note),
            None => writer.null(),
        };
        writer.into_bytes()
    }

    /// Reads the header item.
    ///
    /// # Errors
    /// [`Refusal`] names the first rule that the bytes break.
    pub fn decode(bytes: &[u8]) -> Result<Self, Refusal> {
        let mut reader = Reader::new(bytes);
        let fields = reader.array()?;
        if reader.text()? != MAGIC {
            return Err(Refusal::NotAnExport);
        }
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
        let vessel = VesselId::from_slice(reader.bytes()?).ok_or(length("vessel"))?;
        let authority = read_cose_key(&mut reader)?;
        let run = match reader.optional_bytes()? {
            None => None,
            Some(id) => Some(RecordId::from_slice(id).ok_or(length("run"))?),
        };
        let count = reader.array()?;
        if count > MAX_DEVICES {
            return Err(Refusal::TooManyItems {
                items: count,
                limit: MAX_DEVICES,
            });
        }
        let mut devices = Vec::new();
        for _ in 0..count {
            let fields = reader.array()?;
            if fields != 2 {
                return Err(Refusal::FieldCount {
                    fields,
                    expected: 2,
                });
            }
            let key = read_cose_key(&mut reader)?;
            let credential = reader.optional_bytes()?.map(<[u8]>::to_vec);
            devices.push(DeviceKey { key, credential });
        }
        let checkpoint = reader.optional_text()?.map(str::to_owned);
        reader.end()?;
        Ok(Self {
            vessel,
            authority,
            run,
            devices,
            checkpoint,
        })
    }
}

/// Writes a whole export; a server with many records writes [`Header::encode`] and then each
/// record's bytes instead.
pub fn write_export(header: &Header, records: &[VerifiedRecord]) -> Vec<u8> {
    let mut file = header.encode();
    for record in records {
        file.extend(record.bytes());
    }
    file
}
