//! Records: drafted, signed, received, verified.

use std::ops::Deref;
use std::sync::Arc;

use crate::cbor::{Reader, Writer};
use crate::cose::{Frame, Sign1, sha256};
use crate::hlc::Hlc;
use crate::id::{DeviceId, PersonId, ReceiptHash, RecordId, VesselId};
use crate::key::{PublicKey, SoftKey};
use crate::refusal::Refusal;

/// What a record's signature is bound to besides its bytes, so that it fits nothing else.
pub const RECORD_CONTEXT: &[u8] = b"clearhawse record v1";
/// The format's version.
pub const RECORD_VERSION: u64 = 1;
/// The most bytes a signed record may have.
pub const MAX_RECORD_BYTES: usize = 64 * 1024;
/// The most heads a record may name.
pub const MAX_HEADS: usize = 64;
/// The most bytes of an author's id.
pub const MAX_AUTHOR_BYTES: usize = 128;
/// The most bytes of a kind.
pub const MAX_KIND_BYTES: usize = 64;
/// The largest whole number that every reader, JavaScript included, holds exactly.
pub const MAX_NUMBER: u64 = (1 << 53) - 1;

const FIELDS: usize = 14;

/// What a record says: its place in its chain and in the run, who, when, and one typed body.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Draft {
    /// The vessel it concerns.
    pub vessel: VesselId,
    /// The key that signs it.
    pub device: DeviceId,
    /// Its number in the device's chain, from 1.
    pub seq: u64,
    /// The device's record before it; none for number 1 only.
    pub prev: Option<RecordId>,
    /// The record that started the run it belongs to; none when it belongs to none or starts one.
    pub run: Option<RecordId>,
    /// The newest records of other devices that this one had seen in the run, ascending.
    pub heads: Vec<RecordId>,
    /// The device's clock, milliseconds UTC since 1970, right or wrong.
    pub time_ms: i64,
    /// The device's hybrid logical clock.
    pub hlc: Hlc,
    /// Who did it.
    pub author: PersonId,
    /// The last receipt that the device had verified.
    pub receipt: Option<ReceiptHash>,
    /// What the body is.
    pub kind: String,
    /// The body, opaque here.
    pub body: Vec<u8>,
}

impl Draft {
    /// Lays the draft out as the bytes that a key has to sign.
    ///
    /// # Errors
    /// The same [`Refusal`]s with which a reader would refuse the record.
    pub fn to_be_signed(self) -> Result<Unsigned, Refusal> {
        self.check()?;
        let frame = Frame::new(self.device, self.payload());
        let bytes = frame.to_be_signed(RECORD_CONTEXT);
        let id = RecordId(sha256(&bytes));
        let unsigned = Unsigned {
            draft: self,
            frame,
            bytes,
            id,
        };
        // A seal of zeros has the length of any other.
        check_size(unsigned.frame.seal(&[0; 64]).len())?;
        Ok(unsigned)
    }

    fn payload(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer
            .array(FIELDS)
            .uint(RECORD_VERSION)
            .bytes(&self.vessel.0)
            .bytes(&self.device.0)
            .uint(self.seq)
            .optional_bytes(self.prev.as_ref().map(RecordId::as_bytes))
            .optional_bytes(self.run.as_ref().map(RecordId::as_bytes))
            .array(self.heads.len());
        for head in &self.heads {
            writer.bytes(&head.0);
        }
        writer
            .int(self.time_ms)
            .uint(self.hlc.ms)
            .uint(u64::from(self.hlc.ctr))
            .text(&self.author.0)
            .optional_bytes(self.receipt.as_ref().map(ReceiptHash::as_bytes))
            .text(&self.kind)
            .bytes(&self.body);
        writer.into_bytes()
    }

    fn from_payload(payload: &[u8]) -> Result<Self, Refusal> {
        let mut reader = Reader::new(payload);
        let fields = reader.array()?;
        let version = reader.uint()?;
        if version != RECORD_VERSION {
            return Err(Refusal::Version { version });
        }
        if fields != FIELDS {
            return Err(Refusal::FieldCount {
                fields,
                expected: FIELDS,
            });
        }
        let vessel = VesselId::from_slice(reader.bytes()?).ok_or(wrong_length("vessel"))?;
        let device = DeviceId::from_slice(reader.bytes()?).ok_or(wrong_length("device"))?;
        let seq = reader.uint()?;
        let prev = optional_id(&mut reader, "prev")?;
        let run = optional_id(&mut reader, "run")?;
        let count = reader.array()?;
        check_heads(count)?;
        let mut heads = Vec::with_capacity(count);
        for _ in 0..count {
            heads.push(RecordId::from_slice(reader.bytes()?).ok_or(wrong_length("heads"))?);
        }
        let time_ms = reader.int()?;
        let ms = reader.uint()?;
        let ctr = u32::try_from(reader.uint()?)
            .map_err(|_| Refusal::NumberTooLarge { field: "hlc_ctr" })?;
        let author = PersonId::from(reader.text()?);
        let receipt = match reader.optional_bytes()? {
            None => None,
            Some(hash) => Some(ReceiptHash::from_slice(hash).ok_or(wrong_length("receipt"))?),
        };
        let kind = reader.text()?.to_owned();
        let body = reader.bytes()?.to_vec();
        reader.end()?;
        let hlc = Hlc { ms, ctr };
        let draft = Self {
            vessel,
            device,
            seq,
            prev,
            run,
            heads,
            time_ms,
            hlc,
            author,
            receipt,
            kind,
            body,
        };
        draft.check()?;
        Ok(draft)
    }

    fn check(&self) -> Result<(), Refusal> {
        let numbers = [
            ("seq", self.seq),
            ("time_ms", self.time_ms.unsigned_abs()),
            ("hlc_ms", self.hlc.ms),
        ];
        for (field, number) in numbers {
            if number > MAX_NUMBER {
                return Err(Refusal::NumberTooLarge { field });
            }
        }
        match (self.seq, self.prev) {
            (0, _) => return Err(Refusal::SeqZero),
            (1, Some(_)) => return Err(Refusal::PrevAtStart),
            (2.., None) => return Err(Refusal::PrevMissing { seq: self.seq }),
            _ => {}
        }
        check_heads(self.heads.len())?;
        if !self.heads.is_sorted_by(|a, b| a < b) {
            return Err(Refusal::HeadsOrder);
        }
        check_text("author", &self.author.0, MAX_AUTHOR_BYTES)?;
        check_text("kind", &self.kind, MAX_KIND_BYTES)
    }
}

fn wrong_length(field: &'static str) -> Refusal {
    Refusal::IdLength { field }
}

fn optional_id(reader: &mut Reader, field: &'static str) -> Result<Option<RecordId>, Refusal> {
    match reader.optional_bytes()? {
        None => Ok(None),
        Some(id) => RecordId::from_slice(id)
            .map(Some)
            .ok_or(wrong_length(field)),
    }
}

fn check_size(bytes: usize) -> Result<(), Refusal> {
    if bytes > MAX_RECORD_BYTES {
        return Err(Refusal::TooLarge {
            bytes,
            limit: MAX_RECORD_BYTES,
        });
    }
    Ok(())
}

fn check_heads(heads: usize) -> Result<(), Refusal> {
    if heads > MAX_HEADS {
        return Err(Refusal::TooManyHeads {
            heads,
            limit: MAX_HEADS,
        });
    }
    Ok(())
}

/// Checks a name: something, not too long, no control characters.
pub(crate) fn check_text(field: &'static str, text: &str, limit: usize) -> Result<(), Refusal> {
    if text.is_empty() {
        return Err(Refusal::TextEmpty { field });
    }
    if text.len() > limit {
        return Err(Refusal::TextTooLong {
            field,
            bytes: text.len(),
            limit,
        });
    }
    if text.chars().any(char::is_control) {
        return Err(Refusal::TextControl { field });
    }
    Ok(())
}

/// A record that waits for its signature.
#[derive(Debug, Clone)]
pub struct Unsigned {
    draft: Draft,
    frame: Frame,
    bytes: Vec<u8>,
    id: RecordId,
}

impl Unsigned {
    /// Returns the bytes to sign: the Sig_structure of RFC 9052 section 4.4.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Returns the id, which the signature does not change.
    pub fn id(&self) -> RecordId {
        self.id
    }

    /// Returns what the record will say.
    pub fn draft(&self) -> &Draft {
        &self.draft
    }

    /// Puts the signature on; [`Envelope::verify`] says whether it fits.
    pub fn seal(self, signature: [u8; 64]) -> Envelope {
        let bytes = self.frame.seal(&signature);
        Envelope(Arc::new(Inner {
            bytes: bytes.into(),
            id: self.id,
            draft: self.draft,
            signature,
        }))
    }

    /// Signs with a key at hand.
    ///
    /// # Errors
    /// [`Refusal::WrongKey`] when the draft names another device.
    pub fn sign(self, key: &SoftKey) -> Result<VerifiedRecord, Refusal> {
        let signature = key.sign(&self.bytes);
        self.seal(signature).verify(&key.public())
    }
}

#[derive(Debug, PartialEq, Eq)]
struct Inner {
    bytes: Arc<[u8]>,
    id: RecordId,
    draft: Draft,
    signature: [u8; 64],
}

/// A well-formed record whose signature nobody has checked yet. Cheap to clone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Envelope(Arc<Inner>);

impl Envelope {
    /// Reads one signed record and keeps its bytes as they came.
    ///
    /// # Errors
    /// [`Refusal`] names the first rule of the format that the bytes break.
    pub fn decode(bytes: &[u8]) -> Result<Self, Refusal> {
        check_size(bytes.len())?;
        let sign1 = Sign1::decode(bytes)?;
        let draft = Draft::from_payload(sign1.payload)?;
        if sign1.kid != draft.device {
            return Err(Refusal::KidMismatch {
                kid: sign1.kid,
                device: draft.device,
            });
        }
        let id = RecordId(sha256(&sign1.to_be_signed(RECORD_CONTEXT)));
        let signature = sign1.signature;
        Ok(Self(Arc::new(Inner {
            bytes: bytes.into(),
            id,
            draft,
            signature,
        })))
    }

    /// Checks the signature.
    ///
    /// # Errors
    /// [`Refusal::WrongKey`] when `key` is not the device's, [`Refusal::BadSignature`] when the
    /// signature does not fit.
    pub fn verify(&self, key: &PublicKey) -> Result<VerifiedRecord, Refusal> {
        let device = self.device();
        if key.device() != device {
            return Err(Refusal::WrongKey {
                device,
                offered: key.device(),
            });
        }
        let sign1 = Sign1::decode(self.bytes())?;
        if key.accepts(&sign1.to_be_signed(RECORD_CONTEXT), &self.0.signature) {
            Ok(VerifiedRecord(self.clone()))
        } else {
            Err(Refusal::BadSignature {
                device,
                seq: self.seq(),
            })
        }
    }

    /// Takes the record for one that was verified before under `id`: the id is the digest of all that a signature
    /// covers, so that nothing which the record says can be another. The signature is not looked at again; whoever
    /// calls this knows that a record of this id was verified. `None` where the record has another id.
    pub fn known_as(&self, id: RecordId) -> Option<VerifiedRecord> {
        (self.0.id == id).then(|| VerifiedRecord(self.clone()))
    }

    /// Returns the bytes as received, signature and all.
    pub fn bytes(&self) -> &[u8] {
        &self.0.bytes
    }

    /// Returns the bytes as received, shared.
    pub fn shared_bytes(&self) -> Arc<[u8]> {
        Arc::clone(&self.0.bytes)
    }

    /// Returns the record's id.
    pub fn id(&self) -> RecordId {
        self.0.id
    }

    /// Returns all that the record says.
    pub fn draft(&self) -> &Draft {
        &self.0.draft
    }

    /// Returns the signature.
    pub fn signature(&self) -> &[u8; 64] {
        &self.0.signature
    }

    /// Returns the vessel it concerns.
    pub fn vessel(&self) -> VesselId {
        self.0.draft.vessel
    }

    /// Returns the device that signed it.
    pub fn device(&self) -> DeviceId {
        self.0.draft.device
    }

    /// Returns its number in the device's chain.
    pub fn seq(&self) -> u64 {
        self.0.draft.seq
    }

    /// Returns the device's record before it.
    pub fn prev(&self) -> Option<RecordId> {
        self.0.draft.prev
    }

    /// Returns the record that started the run it belongs to.
    pub fn run(&self) -> Option<RecordId> {
        self.0.draft.run
    }

    /// Returns the newest records of other devices that it had seen in the run.
    pub fn heads(&self) -> &[RecordId] {
        &self.0.draft.heads
    }

    /// Returns the device's time, milliseconds UTC since 1970.
    pub fn time_ms(&self) -> i64 {
        self.0.draft.time_ms
    }

    /// Returns the device's hybrid logical clock.
    pub fn hlc(&self) -> Hlc {
        self.0.draft.hlc
    }

    /// Returns who did it.
    pub fn author(&self) -> &PersonId {
        &self.0.draft.author
    }

    /// Returns the last receipt that the device had verified.
    pub fn receipt(&self) -> Option<ReceiptHash> {
        self.0.draft.receipt
    }

    /// Returns what the body is.
    pub fn kind(&self) -> &str {
        &self.0.draft.kind
    }

    /// Returns the body.
    pub fn body(&self) -> &[u8] {
        &self.0.draft.body
    }
}

/// A record whose signature was found good: by [`Envelope::verify`], or earlier under the same id
/// ([`Envelope::known_as`]). Cheap to clone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerifiedRecord(Envelope);

impl VerifiedRecord {
    /// Returns the record without its proof.
    pub fn envelope(&self) -> &Envelope {
        &self.0
    }
}

impl Deref for VerifiedRecord {
    type Target = Envelope;

    fn deref(&self) -> &Envelope {
        &self.0
    }
}
