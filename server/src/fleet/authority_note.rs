//! The public halves of the vessels' authority keys, as the store has them.

use record::{PublicKey, VesselId};
use storage::{RecordStore, StorageError};

/// Returns the name of the note with the public half of a vessel's authority key.
pub(super) fn authority_note(vessel: VesselId) -> String {
    format!("authority/{vessel}")
}

/// Says whether the public half of a vessel's authority key stands in the store.
///
/// # Errors
/// [`StorageError`] if the store fails.
pub async fn knows_authority(
    store: &dyn RecordStore,
    vessel: VesselId,
) -> Result<bool, StorageError> {
    store.has_note(&authority_note(vessel)).await
}

/// Writes the public half of an authority key down; one that stands there is left alone.
pub(super) async fn note_authority(
    store: &dyn RecordStore,
    key: &PublicKey,
) -> Result<(), StorageError> {
    let name = authority_note(key.vessel());
    if store.note(&name).await?.as_deref() == Some(&key.as_bytes()[..]) {
        return Ok(());
    }
    match store.set_note(&name, key.as_bytes()).await {
        // The next start writes it.
        Err(error) if error.is_unwritable() => {
            tracing::warn!(%error, "a vessel's key is known until the server ends only");
            Ok(())
        }
        written => written,
    }
}
