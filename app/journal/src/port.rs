//! What a device must offer: a place to keep records, a key that signs, a clock.
//!
//! The browser's IndexedDB and WebCrypto stand behind these, and the in-memory doubles of
//! [`crate::memory`] in tests.

use record::{DeviceId, PublicKey, RecordId};

/// The end of this device's own chain, as it stands on disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ChainEnd {
    /// Sequence number of the newest record, from 1.
    pub seq: u64,
    /// Its identity.
    pub id: RecordId,
}

/// Why something was not stored. Whatever was on disk before is still there.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StoreError {
    /// Another tab wrote in the meantime: sign again on the new end.
    #[error("the chain's end moved while the record was being signed")]
    EndMoved,
    /// The record was found unsound before the disk had it.
    #[error("the record was found unsound while it was being stored")]
    Unsound,
    /// The device has no room left.
    #[error("the device's storage is full")]
    Full,
    /// The device's storage failed.
    #[error("the device's storage failed: {0}")]
    Failed(String),
}

impl StoreError {
    /// Says whether the same write may go through at the next try; a full disk first wants room.
    pub fn is_worth_retry(&self) -> bool {
        match self {
            Self::EndMoved | Self::Failed(_) => true,
            Self::Unsound | Self::Full => false,
        }
    }
}

/// Why nothing was signed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the key did not sign: {0}")]
pub struct SignError(pub String);

/// Keeps records on the device. Has no update and no delete.
#[expect(
    async_fn_in_trait,
    reason = "browser futures are not Send, and every caller is generic"
)]
pub trait LocalStore {
    /// Returns the end of `device`'s chain as it is on disk.
    ///
    /// # Errors
    /// [`StoreError::Failed`] if it cannot be read.
    async fn chain_end(&self, device: DeviceId) -> Result<Option<ChainEnd>, StoreError>;

    /// Puts one record of this device on disk, if the place after `after` is free; returns only when
    /// the disk has it.
    ///
    /// Asks `is_sound` while the disk works, and takes nothing if the answer is no.
    ///
    /// # Errors
    /// [`StoreError::EndMoved`] if another writer was first; [`StoreError::Unsound`] if `is_sound` said
    /// no; [`StoreError::Full`] or [`StoreError::Failed`] if the disk did not take it.
    async fn append(
        &self,
        after: Option<ChainEnd>,
        device: DeviceId,
        record: ChainEnd,
        envelope: &[u8],
        is_sound: &dyn Fn() -> bool,
    ) -> Result<(), StoreError>;

    /// Puts records of other devices on disk; one that is there already is left as it is.
    ///
    /// # Errors
    /// [`StoreError::Full`] or [`StoreError::Failed`] if the disk did not take them.
    async fn keep(&self, records: &[(DeviceId, u64, Vec<u8>)]) -> Result<(), StoreError>;

    /// Returns every envelope on disk.
    ///
    /// # Errors
    /// [`StoreError::Failed`] if they cannot be read.
    async fn all(&self) -> Result<Vec<Vec<u8>>, StoreError>;
}

/// Signs with a key that stays where it is.
#[expect(
    async_fn_in_trait,
    reason = "browser futures are not Send, and every caller is generic"
)]
pub trait Signer {
    /// Returns the public half.
    fn public_key(&self) -> PublicKey;

    /// Signs `bytes`.
    ///
    /// # Errors
    /// [`SignError`] if the key is locked, lost or refused.
    async fn sign(&self, bytes: &[u8]) -> Result<[u8; 64], SignError>;
}

/// Tells the time.
pub trait Clock {
    /// Returns the device's idea of UTC, in ms since 1970.
    fn now_ms(&self) -> i64;
}
