//! Checks an export file and names each fault.

use std::collections::BTreeMap;
use std::fmt;

mod places;
mod times;

pub use times::Bounds;

use super::Header;
use crate::Refusal;
use crate::chain::Chain;
use crate::checkpoint::{Checkpoint, CheckpointFault};
use crate::credential::{Credential, KIND_CREDENTIAL, SignedCredential};
use crate::envelope::{Envelope, MAX_RECORD_BYTES, VerifiedRecord};
use crate::id::{DeviceId, RecordId};
use crate::key::PublicKey;
use crate::merkle::{Hash, ProofFault, Tree, leaf_hash};
use crate::sync::{Sequence, Stop};
use crate::withdrawal::{KIND_WITHDRAWAL, Withdrawal};

/// How every record begins: tag 18, an array of four, a protected header of 21 bytes
/// `{1: -8, 4: h'…16 bytes…'}`. Where damage hides an item's end, the next record is found by it.
const RECORD_START: [u8; 8] = [0xd2, 0x84, 0x55, 0xa2, 0x01, 0x27, 0x04, 0x50];

/// Which record a finding is about, as far as its bytes tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Name {
    /// Which record of the file, from 1; 0 is the header.
    pub position: u64,
    /// Where it begins in the file, bytes from 0.
    pub at: usize,
    /// Whose record it says it is.
    pub device: Option<DeviceId>,
    /// Its number in that device's chain.
    pub seq: Option<u64>,
    /// Its id, if its bytes are well-formed.
    pub id: Option<RecordId>,
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.position == 0 {
            return f.write_str("header");
        }
        write!(f, "record at position {} (byte {})", self.position, self.at)?;
        if let Some(device) = self.device {
            write!(f, ", device {device}")?;
        }
        if let Some(seq) = self.seq {
            write!(f, ", number {seq}")?;
        }
        if let Some(id) = self.id {
            write!(f, ", id {id}")?;
        }
        Ok(())
    }
}

/// What is wrong.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum What {
    /// A rule of the format, the signature or the chain is broken.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// The header holds no key for the device.
    #[error("no key of this device in the header")]
    UnknownDevice,
    /// The header's vessel is not that of its authority.
    #[error("the vessel is not the one of the authority's key")]
    VesselMismatch,
    /// The record concerns another vessel.
    #[error("a record of another vessel")]
    OtherVessel,
    /// A whole export begins with something else, or the file ends inside an item.
    #[error(transparent)]
    Sequence(#[from] Stop),
    /// The same record stands twice.
    #[error("the record stands twice")]
    Twice,
    /// A record of another run than the export's.
    #[error("a record of another run")]
    OtherRun,
    /// The signed head of the log does not check.
    #[error(transparent)]
    Checkpoint(#[from] CheckpointFault),
    /// The log had another number of records when its head was signed.
    #[error("the log's signed head counts {size} records, the file holds {records}")]
    CheckpointSize {
        /// How many the head counts.
        size: u64,
        /// How many the file holds.
        records: u64,
    },
    /// The records, in this order, lead to another root than the signed one.
    #[error("the records lead to another root than the log's signed head")]
    CheckpointRoot,
    /// The record is not in the log whose head is signed, at least not where the file says.
    #[error("the record is not in the log: {0}")]
    NotInLog(#[from] ProofFault),
    /// Not every record has its proof, or there are more proofs than records.
    #[error("the file has {proofs} proofs of a place in the log for {records} records")]
    ProofCount {
        /// How many proofs.
        proofs: u64,
        /// How many records.
        records: u64,
    },
}

/// One fault, naming its record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Which record.
    pub name: Name,
    /// What is wrong.
    pub what: What,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.name, self.what)
    }
}

/// Something a reader should know that is no fault of the proof.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Which record.
    pub name: Name,
    /// What there is to know.
    pub text: String,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.name, self.text)
    }
}

/// What checking an export found.
#[derive(Debug, Clone, Default)]
pub struct Report {
    /// The header, if it could be read.
    pub header: Option<Header>,
    /// The records whose signatures are good, in the order of the file.
    pub records: Vec<VerifiedRecord>,
    /// How many items follow the header, good or bad.
    pub items: u64,
    /// Every fault, in the order of the file; chains after.
    pub faults: Vec<Fault>,
    /// What a reader should know besides.
    pub notes: Vec<Note>,
    /// The log's signed head, if its signature is good.
    pub checkpoint: Option<Checkpoint>,
    /// Between which times records were made, where receipts say so.
    pub bounds: BTreeMap<RecordId, Bounds>,
    /// The ids of what the file holds, in its order, as a tree.
    pub(super) tree: Tree,
}

impl Report {
    /// Says whether nothing is wrong.
    pub fn is_sound(&self) -> bool {
        self.faults.is_empty()
    }

    /// Returns the root over the first `size` records of a whole export; `None` if it holds fewer.
    pub fn root_at(&self, size: u64) -> Option<Hash> {
        self.tree.root_at(size)
    }

    fn fault(&mut self, name: Name, what: impl Into<What>) {
        self.faults.push(Fault {
            name,
            what: what.into(),
        });
    }
}

/// Checks an export file: every signature, every chain, every credential, every receipt, the log's head.
///
/// Whether the authority in the header is the vessel's true one is the reader's question: compare
/// [`Header::authority`] with the fingerprint taken from the ship.
pub fn verify_export(file: &[u8]) -> Report {
    let mut report = Report::default();
    let header_name = Name {
        position: 0,
        at: 0,
        device: None,
        seq: None,
        id: None,
    };
    let mut sequence = Sequence::new(file);
    let Some(first) = sequence.next() else {
        report.fault(header_name, sequence.stop().unwrap_or(Stop::Whole));
        return report;
    };
    let header = match Header::decode(first.bytes) {
        Ok(header) => header,
        Err(refusal) => {
            report.fault(header_name, refusal);
            return report;
        }
    };
    if header.authority.vessel() != header.vessel {
        report.fault(header_name.clone(), What::VesselMismatch);
    }
    let keys = Keys::read(&header, &header_name, &mut report);
    let mut chains: BTreeMap<DeviceId, Chain> = BTreeMap::new();
    let mut names: BTreeMap<RecordId, Name> = BTreeMap::new();
    let mut leaves: Vec<(Name, Option<Hash>)> = Vec::new();
    let records = Items {
        file,
        at: sequence.at(),
    };
    for item in records {
        report.items += 1;
        let mut name = name_of(report.items, item.at, item.bytes);
        let envelope = match Envelope::decode(item.bytes) {
            Ok(envelope) => envelope,
            Err(refusal) => {
                let what = item.stop.map_or(What::Refused(refusal), What::Sequence);
                leaves.push((name.clone(), None));
                report.fault(name, what);
                continue;
            }
        };
        name.id = Some(envelope.id());
        let leaf = leaf_hash(envelope.id().as_bytes());
        leaves.push((name.clone(), Some(leaf)));
        report.tree.append(leaf);
        if names.insert(envelope.id(), name.clone()).is_some() {
            report.fault(name, What::Twice);
            continue;
        }
        if envelope.vessel() != header.vessel {
            report.fault(name.clone(), What::OtherVessel);
        }
        if header
            .run
            .is_some_and(|run| envelope.run().is_some_and(|own| own != run))
        {
            report.fault(name.clone(), What::OtherRun);
        }
        // A chain is judged by what its records say, so that a bad signature is not a gap besides.
        chains
            .entry(envelope.device())
            .or_default()
            .insert(&envelope);
        match keys.verify(&envelope) {
            Ok(record) => {
                keys.note_credential(&record, &name, &mut report);
                report.records.push(record);
            }
            Err(what) => report.fault(name, what),
        }
    }
    if header.run.is_none() {
        judge_chains(&chains, &names, &mut report);
    }
    times::judge_receipts(&header, &header_name, &mut report);
    if let Some(note) = &header.checkpoint {
        places::judge_checkpoint(note, &header, &leaves, header_name, &mut report);
    }
    note_withdrawals(&names, &mut report);
    report.header = Some(header);
    report
}

/// The header's keys and credentials.
struct Keys {
    of: BTreeMap<DeviceId, PublicKey>,
    credentials: BTreeMap<DeviceId, Credential>,
    authority: DeviceId,
}

impl Keys {
    fn read(header: &Header, name: &Name, report: &mut Report) -> Self {
        let authority = header.authority.device();
        let mut keys = BTreeMap::from([(authority, header.authority)]);
        let mut credentials = BTreeMap::new();
        for device in &header.devices {
            let id = device.key.device();
            keys.insert(id, device.key);
            let Some(bytes) = &device.credential else {
                continue;
            };
            let name = Name {
                device: Some(id),
                ..name.clone()
            };
            match SignedCredential::verify(bytes, &header.authority) {
                Ok(signed) if signed.credential().key == device.key => {
                    credentials.insert(id, signed.credential().clone());
                }
                Ok(signed) => {
                    let offered = signed.credential().device();
                    report.fault(
                        name,
                        Refusal::WrongKey {
                            device: id,
                            offered,
                        },
                    );
                }
                Err(refusal) => report.fault(name, refusal),
            }
        }
        Self {
            of: keys,
            credentials,
            authority,
        }
    }

    fn verify(&self, envelope: &Envelope) -> Result<VerifiedRecord, What> {
        let key = self.of.get(&envelope.device()).ok_or(What::UnknownDevice)?;
        let record = envelope.verify(key)?;
        if record.kind() == KIND_CREDENTIAL {
            let authority = self.of.get(&self.authority).ok_or(What::UnknownDevice)?;
            SignedCredential::verify(record.body(), authority)?;
        }
        Ok(record)
    }

    fn note_credential(&self, record: &VerifiedRecord, name: &Name, report: &mut Report) {
        if record.device() == self.authority {
            return;
        }
        let text = match self.credentials.get(&record.device()) {
            None => "signed by a device without a credential".to_owned(),
            Some(credential) => {
                if credential.person != *record.author() {
                    let (holder, author) = (&credential.person, record.author());
                    format!("signed with the key of {holder} in the name of {author}")
                } else if let Err(refusal) = credential.check_time(record.time_ms()) {
                    format!("by the device's clock {refusal}")
                } else {
                    return;
                }
            }
        };
        report.notes.push(Note {
            name: name.clone(),
            text,
        });
    }
}

fn judge_chains(
    chains: &BTreeMap<DeviceId, Chain>,
    names: &BTreeMap<RecordId, Name>,
    report: &mut Report,
) {
    for chain in chains.values() {
        for (id, refusal) in chain.faults() {
            if let Some(name) = names.get(&id) {
                report.fault(name.clone(), refusal);
            }
        }
    }
}

fn note_withdrawals(names: &BTreeMap<RecordId, Name>, report: &mut Report) {
    let withdrawals: Vec<Withdrawal> = report
        .records
        .iter()
        .filter(|record| record.kind() == KIND_WITHDRAWAL)
        .filter_map(|record| Withdrawal::decode(record.body()).ok())
        .collect();
    for record in &report.records {
        let after = |w: &&Withdrawal| w.device == record.device() && record.seq() > w.last_seq;
        if let (Some(_), Some(name)) = (withdrawals.iter().find(after), names.get(&record.id())) {
            let text = "signed with a key that is withdrawn".to_owned();
            report.notes.push(Note {
                name: name.clone(),
                text,
            });
        }
    }
}

/// Names a record by what can be read of it, were it damaged elsewhere.
fn name_of(position: u64, at: usize, bytes: &[u8]) -> Name {
    let mut name = Name {
        position,
        at,
        device: None,
        seq: None,
        id: None,
    };
    let mut read = || -> Result<(), minicbor::decode::Error> {
        let mut decoder = minicbor::Decoder::new(bytes);
        decoder.tag()?;
        decoder.array()?;
        let protected = decoder.bytes()?;
        name.device = protected.get(5..).and_then(DeviceId::from_slice);
        decoder.skip()?;
        let mut payload = minicbor::Decoder::new(decoder.bytes()?);
        payload.array()?;
        for _ in 0..3 {
            payload.skip()?;
        }
        name.seq = Some(payload.u64()?);
        Ok(())
    };
    // What cannot be read stays unnamed; position and byte name the record all the same.
    read().unwrap_or_default();
    name
}

/// An item after the header; `stop` where its own end could not be found.
struct Piece<'a> {
    at: usize,
    bytes: &'a [u8],
    stop: Option<Stop>,
}

/// Takes the records apart, and finds the next one behind a damaged one.
struct Items<'a> {
    file: &'a [u8],
    at: usize,
}

impl<'a> Iterator for Items<'a> {
    type Item = Piece<'a>;

    fn next(&mut self) -> Option<Piece<'a>> {
        let at = self.at;
        let left = &self.file[at..];
        if left.is_empty() {
            return None;
        }
        let mut sequence = Sequence::new(left);
        let (len, stop) = match sequence.next() {
            Some(item) => (item.bytes.len(), None),
            None => (left.len(), sequence.stop().map(|stop| stop_at(stop, at))),
        };
        // A damaged length may swallow records behind it. An end after which a record begins, or
        // nothing, is believed; a credential in a record begins like a record, too.
        let is_end = left.len() == len || left[len..].starts_with(&RECORD_START);
        let is_one = len <= MAX_RECORD_BYTES && is_end && stop.is_none();
        let is_good = is_one || Envelope::decode(&left[..len]).is_ok();
        let len = if is_good {
            len
        } else {
            next_start(left).unwrap_or(left.len())
        };
        self.at = at + len;
        Some(Piece {
            at,
            bytes: &left[..len],
            stop,
        })
    }
}

fn stop_at(stop: Stop, offset: usize) -> Stop {
    match stop {
        Stop::Whole => Stop::Whole,
        Stop::Cut { at } => Stop::Cut { at: at + offset },
        Stop::Unreadable { at } => Stop::Unreadable { at: at + offset },
    }
}

/// Returns where the next record begins, after the first byte.
fn next_start(bytes: &[u8]) -> Option<usize> {
    let rest = bytes.get(1..)?;
    rest.windows(RECORD_START.len())
        .position(|window| window == RECORD_START)
        .map(|at| at + 1)
}
