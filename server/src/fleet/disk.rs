//! A disk that cannot be written to: said for as long as it lasts, and tried again until it can.

use super::{Fleet, FleetError};
use crate::clock::now_ms;
use crate::disk::is_out_of_reach;
use journal::server_trouble::{ServerTrouble, ServerTroubleKind};
use std::path::Path;
use std::time::Duration;
use storage::StorageError;
use tokio::sync::watch;

/// Between tries.
const EVERY: Duration = Duration::from_secs(5);

impl Fleet {
    /// Passes on what became of a writing; says so where nothing could be written.
    pub(super) fn written<T>(&self, result: Result<T, StorageError>) -> Result<T, StorageError> {
        if let Err(error) = &result {
            self.note_unwritable(error);
        }
        result
    }

    /// Says so where nothing could be written.
    pub fn note_unwritable(&self, error: &StorageError) {
        if error.is_unwritable() {
            let is_full = matches!(error, StorageError::Full);
            self.wellbeing.raise(ServerTrouble::Unwritable { is_full });
        }
    }

    fn is_unwritable(&self) -> bool {
        let kinds = self.wellbeing.troubles();
        kinds
            .iter()
            .any(|trouble| trouble.kind() == ServerTroubleKind::Unwritable)
    }

    /// Tries now and then to write where nothing could be written, until the server closes. While all is well
    /// nothing is written.
    pub async fn watch_over_disk(&self, data: &Path, mut closing: watch::Receiver<bool>) {
        loop {
            tokio::select! {
                _ = closing.wait_for(|closing| *closing) => return,
                () = tokio::time::sleep(EVERY) => {}
            }
            if !self.is_unwritable() {
                continue;
            }
            match self.store.check().await {
                Ok(()) => self.go_on(data).await,
                Err(error) => self.note_unwritable(&error),
            }
        }
    }

    /// Does what the start could not, and says that the trouble is over.
    async fn go_on(&self, data: &Path) {
        if !self.heads.is_open()
            && let Err(error) = self.open_heads(data).await
        {
            tracing::warn!(%error, "the store can be written to, the log's heads cannot");
            return;
        }
        self.wellbeing.end(ServerTroubleKind::Unwritable);
    }

    async fn open_heads(&self, data: &Path) -> Result<(), FleetError> {
        let vessels = self.each(journal::Ledger::vessel).await;
        self.heads.open(data, &vessels, now_ms()).await
    }

    /// Looks at the logs when the server starts. Where nothing can be written it is said, and done again later.
    ///
    /// # Errors
    /// [`FleetError`] if anything else fails.
    pub async fn start_heads(&self, data: &Path) -> Result<(), FleetError> {
        let error = match self.open_heads(data).await {
            Ok(()) => return Ok(()),
            Err(error) => error,
        };
        match &error {
            FleetError::Storage(fault) if fault.is_unwritable() => self.note_unwritable(fault),
            FleetError::Folder { source, .. } if is_out_of_reach(source) => {
                let is_full = source.kind() == std::io::ErrorKind::StorageFull;
                self.wellbeing.raise(ServerTrouble::Unwritable { is_full });
            }
            _ => return Err(error),
        }
        Ok(())
    }
}
