//! Events in, records out: sign first, then put on disk if the chain's end has not moved.
//!
//! Signing may wait (a browser's keys are asynchronous), and an IndexedDB transaction that waits commits
//! itself. So the record is signed on the end as the ledger knows it, and the store puts it in its place only if
//! nothing stands there; where another tab was first, the record is made again on the new end. The signature is
//! checked while the disk works, and what does not verify is taken back before the disk has it.

use crate::body::Body;
use crate::ledger::{Ledger, RunId};
use crate::port::{ChainEnd, Clock, LocalStore, SignError, Signer, StoreError};
use record::{Draft, PersonId, ReceiptHash, Refusal, VerifiedRecord};
use record::{Hlc, RecordId, VesselId};
use std::cell::OnceCell;

/// How often a record is made again because the chain's end moved.
const TRIES: u32 = 8;

/// What is to be put on record.
#[derive(Debug, Clone)]
pub struct Intent {
    /// Who says it.
    pub author: PersonId,
    /// The run it belongs to; none for a start and for what belongs to no run.
    pub run: Option<RunId>,
    /// What is said.
    pub body: Body,
    /// The last receipt that this device has verified.
    pub receipt: Option<ReceiptHash>,
}

/// What a new record has to know of the ledger: taken from it before the signing, which may wait.
#[derive(Debug, Clone)]
pub struct Place {
    vessel: VesselId,
    heads: Vec<RecordId>,
    newest: Hlc,
    /// The chain's end as this ledger knows it; the store compares it with its own before it puts.
    end: Option<ChainEnd>,
}

impl Place {
    /// Returns the place of the next record of `device` in `run`.
    pub fn in_ledger(
        ledger: &Ledger,
        run: Option<RunId>,
        device: record::DeviceId,
        now_ms: i64,
    ) -> Self {
        Self {
            vessel: ledger.vessel(),
            heads: ledger.heads(run, device),
            newest: ledger.newest(now_ms),
            end: ledger
                .chains()
                .get(&device)
                .and_then(crate::ledger::Chain::last)
                .map(|(seq, id)| ChainEnd { seq, id }),
        }
    }
}

/// Why nothing was put on record. What was on disk before is still there.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WriteError {
    /// The key did not sign.
    #[error(transparent)]
    Sign(#[from] SignError),
    /// The disk did not take it.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// What was to be recorded breaks a rule of the format, for instance a text that is too long.
    #[error("it cannot be recorded: {0}")]
    Refused(#[from] Refusal),
}

impl WriteError {
    /// Says whether the same press may go through at the next try.
    pub fn is_worth_retry(&self) -> bool {
        match self {
            Self::Sign(_) => true,
            Self::Store(error) => error.is_worth_retry(),
            Self::Refused(_) => false,
        }
    }
}

/// Signs `intent` and puts it on disk; returns only when the disk has it.
///
/// The ledger is not changed: the caller takes the record up once this has returned.
///
/// # Errors
/// [`WriteError`] if the key does not sign, the disk does not take it, or the format forbids it.
pub async fn write(
    store: &impl LocalStore,
    signer: &impl Signer,
    clock: &impl Clock,
    place: &Place,
    intent: &Intent,
) -> Result<VerifiedRecord, WriteError> {
    let key = signer.public_key();
    let device = key.device();
    // Not read from the store first: the disk is asked once for a press, and again only where another
    // tab was first.
    let mut end = place.end;
    for _ in 0..TRIES {
        let now_ms = clock.now_ms();
        let draft = Draft {
            vessel: place.vessel,
            device,
            seq: end.map_or(1, |end| end.seq + 1),
            prev: end.map(|end| end.id),
            run: intent.run,
            heads: place.heads.clone(),
            time_ms: now_ms,
            hlc: place.newest.tick(now_ms),
            author: intent.author.clone(),
            receipt: intent.receipt,
            kind: intent.body.kind().to_owned(),
            body: intent.body.encode()?,
        };
        let unsigned = draft.to_be_signed()?;
        let signature = signer.sign(unsigned.bytes()).await?;
        let envelope = unsigned.seal(signature);
        let this = ChainEnd {
            seq: envelope.seq(),
            id: envelope.id(),
        };
        let verified = OnceCell::new();
        let is_sound = || verified.get_or_init(|| envelope.verify(&key)).is_ok();
        let stored = store
            .append(end, device, this, envelope.bytes(), &is_sound)
            .await;
        let record = || {
            verified
                .into_inner()
                .unwrap_or_else(|| envelope.verify(&key))
        };
        match stored {
            Ok(()) => return Ok(record()?),
            Err(StoreError::Unsound) => {
                return Err(record().map_or_else(Into::into, |_| StoreError::Unsound.into()));
            }
            Err(StoreError::EndMoved) => end = store.chain_end(device).await?,
            Err(error) => return Err(error.into()),
        }
    }
    Err(StoreError::EndMoved.into())
}
