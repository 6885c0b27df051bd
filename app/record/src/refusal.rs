//! Why something was refused: one variant for each rule of the format.

use crate::cbor::Malformed;
use crate::id::{DeviceId, RecordId, VesselId};

/// Why a record, a receipt or a credential was refused. A refusal is kept and shown, never swallowed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// The bytes are not deterministic CBOR of the right shape.
    #[error(transparent)]
    Malformed(#[from] Malformed),
    /// More bytes than a record may have.
    #[error("{bytes} bytes are more than the {limit} allowed")]
    TooLarge {
        /// How many there are.
        bytes: usize,
        /// How many there may be.
        limit: usize,
    },
    /// Not a tagged COSE_Sign1 of four items.
    #[error("not a tagged COSE_Sign1")]
    NotSign1,
    /// The protected header is not exactly algorithm and key id.
    #[error("the protected header is not {{1: alg, 4: kid}}")]
    ProtectedHeader,
    /// Another algorithm than EdDSA.
    #[error("algorithm {algorithm} is not EdDSA (-8)")]
    Algorithm {
        /// The number in the header.
        algorithm: i64,
    },
    /// The unprotected header is not empty.
    #[error("the unprotected header is not empty")]
    UnprotectedHeader,
    /// The payload is detached.
    #[error("the payload is missing")]
    PayloadMissing,
    /// The signature does not have 64 bytes.
    #[error("the signature has {bytes} bytes, not 64")]
    SignatureLength {
        /// How many it has.
        bytes: usize,
    },
    /// The header names another key than the payload.
    #[error("the header names key {kid}, the payload device {device}")]
    KidMismatch {
        /// Whom the header names.
        kid: DeviceId,
        /// Whom the payload names.
        device: DeviceId,
    },
    /// A format version that this program does not know.
    #[error("format version {version} is not known")]
    Version {
        /// The version stated.
        version: u64,
    },
    /// An array has another number of fields than its version requires.
    #[error("{fields} fields where {expected} are required")]
    FieldCount {
        /// How many there are.
        fields: usize,
        /// How many there must be.
        expected: usize,
    },
    /// An id or a hash has a wrong number of bytes.
    #[error("{field} has a wrong length")]
    IdLength {
        /// Which one.
        field: &'static str,
    },
    /// A number is beyond what every reader can hold exactly (2^53 - 1).
    #[error("{field} is beyond 2^53 - 1")]
    NumberTooLarge {
        /// Which one.
        field: &'static str,
    },
    /// A text is longer than allowed.
    #[error("{field} has {bytes} bytes, more than the {limit} allowed")]
    TextTooLong {
        /// Which one.
        field: &'static str,
        /// How many bytes it has.
        bytes: usize,
        /// How many it may have.
        limit: usize,
    },
    /// A text that must say something is empty.
    #[error("{field} is empty")]
    TextEmpty {
        /// Which one.
        field: &'static str,
    },
    /// A name holds control characters.
    #[error("{field} holds a control character")]
    TextControl {
        /// Which one.
        field: &'static str,
    },
    /// Sequence number zero: chains begin at 1.
    #[error("sequence number 0")]
    SeqZero,
    /// The first record of a chain names one before it.
    #[error("record 1 names a record before it")]
    PrevAtStart,
    /// A later record names none before it.
    #[error("record {seq} names no record before it")]
    PrevMissing {
        /// Its sequence number.
        seq: u64,
    },
    /// More heads than allowed.
    #[error("{heads} heads are more than the {limit} allowed")]
    TooManyHeads {
        /// How many there are.
        heads: usize,
        /// How many there may be.
        limit: usize,
    },
    /// The heads do not ascend, or one stands twice.
    #[error("the heads are not in ascending order")]
    HeadsOrder,
    /// Not an Ed25519 public key that can be trusted.
    #[error("not a usable Ed25519 public key")]
    BadKey,
    /// The record was signed by another key than the one offered for checking.
    #[error("key of device {offered} offered for a record of device {device}")]
    WrongKey {
        /// Whose record it is.
        device: DeviceId,
        /// Whose key was offered.
        offered: DeviceId,
    },
    /// The signature does not fit the key and the bytes.
    #[error("bad signature on record {seq} of device {device}")]
    BadSignature {
        /// Whose record it says it is.
        device: DeviceId,
        /// Its sequence number.
        seq: u64,
    },
    /// A record of another device's chain.
    #[error("a record of device {found} in the chain of device {device}")]
    OtherDevice {
        /// Whose chain it is.
        device: DeviceId,
        /// Whose record it is.
        found: DeviceId,
    },
    /// A record for another vessel than the chain's earlier ones.
    #[error("record {seq} of device {device} is for vessel {found}, its chain for {vessel}")]
    OtherVessel {
        /// Whose chain it is.
        device: DeviceId,
        /// The record's sequence number.
        seq: u64,
        /// The chain's vessel.
        vessel: VesselId,
        /// The record's vessel.
        found: VesselId,
    },
    /// The record before this one has not arrived: the only refusal worth a retry.
    #[error("record {seq} of device {device} arrived before its predecessor")]
    Gap {
        /// Whose chain it is.
        device: DeviceId,
        /// The record that arrived.
        seq: u64,
    },
    /// Two records with one sequence number.
    #[error("record {seq} of device {device} has two contents, {known} and {found}")]
    Fork {
        /// Whose chain it is.
        device: DeviceId,
        /// The sequence number used twice.
        seq: u64,
        /// The record that was known.
        known: RecordId,
        /// The other one.
        found: RecordId,
    },
    /// The record names another predecessor than the one it follows.
    #[error("record {seq} of device {device} does not follow from the record before it")]
    PrevMismatch {
        /// Whose chain it is.
        device: DeviceId,
        /// The record's sequence number.
        seq: u64,
    },
    /// A receipt's signature does not fit the authority's key.
    #[error("bad signature on a receipt for device {device}")]
    BadReceipt {
        /// Whom the receipt is for.
        device: DeviceId,
    },
    /// Not a COSE_Key of an Ed25519 public key.
    #[error("not a COSE_Key of an Ed25519 public key")]
    NotACoseKey,
    /// A claim of a credential is missing, misplaced or not allowed.
    #[error("the claim {claim} is missing or not allowed")]
    Claim {
        /// Which one.
        claim: &'static str,
    },
    /// A credential's signature does not fit the authority's key.
    #[error("bad signature on the credential of device {device}")]
    BadCredential {
        /// Whom the credential is for.
        device: DeviceId,
    },
    /// A credential that holds only later.
    #[error("the credential holds from {not_before_s} s UTC only")]
    NotYetValid {
        /// From when, seconds UTC since 1970.
        not_before_s: i64,
    },
    /// A credential that no longer holds.
    #[error("the credential held until {expires_s} s UTC")]
    Expired {
        /// Until when, seconds UTC since 1970.
        expires_s: i64,
    },
    /// More items in a message than allowed.
    #[error("{items} items are more than the {limit} allowed")]
    TooManyItems {
        /// How many there are.
        items: usize,
        /// How many there may be.
        limit: usize,
    },
    /// The devices of a vector do not ascend, or one stands twice.
    #[error("the devices are not in ascending order")]
    VectorOrder,
    /// A file that is no export of records.
    #[error("not an export of records")]
    NotAnExport,
}
