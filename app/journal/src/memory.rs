//! In-memory ports, for tests, the demo's records and the server's own chain.

use crate::port::{ChainEnd, Clock, LocalStore, SignError, Signer, StoreError};
use record::{DeviceId, PublicKey, SoftKey};
use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;

/// Envelopes with their place, by device and number.
type Kept = BTreeMap<(DeviceId, u64), (ChainEnd, Vec<u8>)>;

/// Keeps records in memory; can be told to fail, as a full or broken disk does.
#[derive(Debug, Default)]
pub struct MemoryStore {
    records: RefCell<Kept>,
    fail_next: RefCell<Option<StoreError>>,
}

impl MemoryStore {
    /// Makes the next write fail with `error`.
    pub fn fail_next_write(&self, error: StoreError) {
        *self.fail_next.borrow_mut() = Some(error);
    }

    /// Returns how many records are kept.
    pub fn len(&self) -> usize {
        self.records.borrow().len()
    }

    /// Returns `true` if nothing is kept.
    pub fn is_empty(&self) -> bool {
        self.records.borrow().is_empty()
    }

    fn end_of(&self, device: DeviceId) -> Option<ChainEnd> {
        let records = self.records.borrow();
        records
            .range((device, 0)..=(device, u64::MAX))
            .next_back()
            .map(|(_, (end, _))| *end)
    }
}

impl LocalStore for MemoryStore {
    async fn chain_end(&self, device: DeviceId) -> Result<Option<ChainEnd>, StoreError> {
        Ok(self.end_of(device))
    }

    async fn append(
        &self,
        after: Option<ChainEnd>,
        device: DeviceId,
        record: ChainEnd,
        envelope: &[u8],
        is_sound: &dyn Fn() -> bool,
    ) -> Result<(), StoreError> {
        if !is_sound() {
            return Err(StoreError::Unsound);
        }
        if let Some(error) = self.fail_next.borrow_mut().take() {
            return Err(error);
        }
        if self.end_of(device) != after {
            return Err(StoreError::EndMoved);
        }
        self.records
            .borrow_mut()
            .insert((device, record.seq), (record, envelope.to_vec()));
        Ok(())
    }

    async fn keep(&self, records: &[(DeviceId, u64, Vec<u8>)]) -> Result<(), StoreError> {
        if let Some(error) = self.fail_next.borrow_mut().take() {
            return Err(error);
        }
        for (device, seq, bytes) in records {
            let envelope = record::Envelope::decode(bytes)
                .map_err(|refusal| StoreError::Failed(refusal.to_string()))?;
            let end = ChainEnd {
                seq: *seq,
                id: envelope.id(),
            };
            self.records
                .borrow_mut()
                .entry((*device, *seq))
                .or_insert_with(|| (end, bytes.clone()));
        }
        Ok(())
    }

    async fn all(&self) -> Result<Vec<Vec<u8>>, StoreError> {
        Ok(self
            .records
            .borrow()
            .values()
            .map(|(_, bytes)| bytes.clone())
            .collect())
    }
}

impl Signer for SoftKey {
    fn public_key(&self) -> PublicKey {
        self.public()
    }

    async fn sign(&self, bytes: &[u8]) -> Result<[u8; 64], SignError> {
        Ok(SoftKey::sign(self, bytes))
    }
}

/// A clock that stands where it is put.
#[derive(Debug)]
pub struct SetClock(Cell<i64>);

impl SetClock {
    /// Makes a clock that shows `now_ms`.
    pub fn at(now_ms: i64) -> Self {
        Self(Cell::new(now_ms))
    }

    /// Moves the clock by `ms`, back if negative.
    pub fn step(&self, ms: i64) {
        self.0.set(self.0.get() + ms);
    }

    /// Puts the clock at `now_ms`.
    pub fn set(&self, now_ms: i64) {
        self.0.set(now_ms);
    }
}

impl Clock for SetClock {
    fn now_ms(&self) -> i64 {
        self.0.get()
    }
}

/// Runs a future that never really waits, as those over in-memory ports do.
///
/// # Panics
/// If the future waits for something: then it was not made of in-memory ports only.
pub fn finish<F: Future>(future: F) -> F::Output {
    let mut future = std::pin::pin!(future);
    let mut context = std::task::Context::from_waker(std::task::Waker::noop());
    match future.as_mut().poll(&mut context) {
        std::task::Poll::Ready(output) => output,
        std::task::Poll::Pending => panic!("invariant: in-memory ports never wait"),
    }
}
