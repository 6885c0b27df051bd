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
use crate::merkle::Hash;

mod since;
mod verify;

pub use since::{Older, Since, SinceFault, check_since};
pub use verify::{Bounds, Fault, Name, Note, Report, What, verify_export};

const MAGIC: &str = "clearhawse export";
const VERSION: u64 = 1;
const FIELDS: usize = 7;
/// With what proves single records, and whose log it is.
const FIELDS_WITH_LOG: usize = 8;
/// With the receipts as well.
const FIELDS_WITH_RECEIPTS: usize = 9;
const MAX_DEVICES: usize = 10_000;
/// A path has at most as many hashes as a number of leaves has bits.
const MAX_PATH: usize = 64;

/// A device's key in an export.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeviceKey {
    /// The key that signed the device's records.
    pub key: PublicKey,
    /// What the authority said of it, as signed; none for a device registered without one.
    pub credential: Option<Vec<u8>>,
}

/// A record's place in the log, and the path from it to the signed root.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Inclusion {
    /// The leaf's number, from 0.
    pub leaf: u64,
    /// The hashes beside the path, nearest first.
    pub path: Vec<Hash>,
}

/// Whose log the checkpoint is of, and what proves single records.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LogProof {
    /// The key of the office that keeps the log; none where it is the ship's own, under her authority.
    pub office: Option<PublicKey>,
    /// For each record of the file, in its order; empty where the file holds the whole log.
    pub inclusions: Vec<Inclusion>,
}

/// What an export holds and whom its reader has to trust:
/// `["clearhawse export", 1, vessel, authority COSE_Key, run or null,
/// [[COSE_Key, credential or null], …], checkpoint text or null]`, and where there is a [`LogProof`],
/// `[office COSE_Key or null, [[leaf, [hash, …]], …]]` as an eighth; where there are receipts, that or null,
/// and `[receipt, …]` as a ninth.
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
    /// The signed head of the log over all of the vessel's records.
    pub checkpoint: Option<String>,
    /// What more there is to know of the log.
    pub log: Option<LogProof>,
    /// The ship's receipts for these records, and those that they name, as signed.
    pub receipts: Vec<Vec<u8>>,
}

impl Header {
    /// Writes the header item.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer
            .array(match (&self.log, self.receipts.is_empty()) {
                (_, false) => FIELDS_WITH_RECEIPTS,
                (Some(_), true) => FIELDS_WITH_LOG,
                (None, true) => FIELDS,
            })
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
        if let Some(log) = &self.log {
            writer.array(2);
            match &log.office {
                Some(key) => writer.item(&cose_key(key)),
                None => writer.null(),
            };
            writer.array(log.inclusions.len());
            for inclusion in &log.inclusions {
                writer.array(2).uint(inclusion.leaf);
                writer.array(inclusion.path.len());
                for hash in &inclusion.path {
                    writer.bytes(hash);
                }
            }
        }
        if !self.receipts.is_empty() {
            if self.log.is_none() {
                writer.null();
            }
            writer.array(self.receipts.len());
            for receipt in &self.receipts {
                writer.bytes(receipt);
            }
        }
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
        if !(FIELDS..=FIELDS_WITH_RECEIPTS).contains(&fields) {
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
        let log = match fields {
            FIELDS => None,
            FIELDS_WITH_LOG => Some(read_log(&mut reader)?),
            _ => {
                let item = reader.item()?;
                match Reader::new(item).optional_bytes() {
                    Ok(None) => None,
                    _ => Some(read_log(&mut Reader::new(item))?),
                }
            }
        };
        let mut receipts = Vec::new();
        if fields == FIELDS_WITH_RECEIPTS {
            for _ in 0..reader.array()? {
                receipts.push(reader.bytes()?.to_vec());
            }
            if receipts.is_empty() {
                // Without any, the header is written with fewer parts.
                let expected = FIELDS_WITH_LOG;
                return Err(Refusal::FieldCount { fields, expected });
            }
        }
        reader.end()?;
        Ok(Self {
            vessel,
            authority,
            run,
            devices,
            checkpoint,
            log,
            receipts,
        })
    }
}

fn read_log(reader: &mut Reader) -> Result<LogProof, Refusal> {
    let pair = |fields: usize| match fields {
        2 => Ok(()),
        _ => Err(Refusal::FieldCount {
            fields,
            expected: 2,
        }),
    };
    pair(reader.array()?)?;
    let item = reader.item()?;
    let office = match Reader::new(item).optional_bytes() {
        Ok(None) => None,
        _ => Some(read_cose_key(&mut Reader::new(item))?),
    };
    let mut inclusions = Vec::new();
    for _ in 0..reader.array()? {
        pair(reader.array()?)?;
        let leaf = reader.uint()?;
        let count = reader.array()?;
        if count > MAX_PATH {
            return Err(Refusal::TooManyItems {
                items: count,
                limit: MAX_PATH,
            });
        }
        let mut path = Vec::with_capacity(count);
        for _ in 0..count {
            let hash = Hash::try_from(reader.bytes()?);
            path.push(hash.map_err(|_| Refusal::IdLength { field: "hash" })?);
        }
        inclusions.push(Inclusion { leaf, path });
    }
    Ok(LogProof { office, inclusions })
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
