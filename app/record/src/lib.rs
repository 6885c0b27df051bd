//! Proof: what a record is in bytes, who signed it, what it follows, and what has to travel.
//!
//! No I/O, no clock and no randomness: time and keys are arguments.

#![doc = include_str!("../FORMAT.md")]

mod base64;
pub mod cbor;
mod chain;
mod checkpoint;
mod cose;
mod cose_key;
mod credential;
mod envelope;
pub mod export;
pub mod hex;
mod hlc;
mod id;
mod key;
pub mod merkle;
mod receipt;
mod refusal;
pub mod sync;
mod withdrawal;
pub mod witness;

pub use chain::{Chain, check_link};
pub use checkpoint::{Checkpoint, CheckpointFault, Restore, log_origin};
pub use cose_key::{cose_key, from_cose_key};
pub use credential::{Credential, KIND_CREDENTIAL, KeyProtection, SignedCredential};
pub use envelope::{
    Draft, Envelope, MAX_AUTHOR_BYTES, MAX_HEADS, MAX_KIND_BYTES, MAX_NUMBER, MAX_RECORD_BYTES,
    RECORD_CONTEXT, RECORD_VERSION, Unsigned, VerifiedRecord,
};
pub use hlc::{Hlc, MAX_LEAD_MS};
pub use id::{DeviceId, NotAnId, PersonId, ReceiptHash, RecordId, VesselId};
pub use key::{PublicKey, SoftKey};
pub use receipt::{RECEIPT_CONTEXT, Receipt, SignedReceipt};
pub use refusal::Refusal;
pub use sync::Vector;
pub use withdrawal::{KIND_WITHDRAWAL, Withdrawal};
