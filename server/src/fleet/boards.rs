//! The boards of the vessels.

use super::{Fleet, FleetError};
use crate::clock::now_ms;
use journal::{Board, Ledger, board};
use record::VesselId;
use std::sync::Arc;

/// For how long a board that nothing has changed is shown to others too, ms.
const SHARED_MS: i64 = 1_000;
/// A board that several look at.
#[derive(Debug)]
pub(super) struct Shared {
    /// At which count of changes it was made.
    change: u64,
    /// When, ms UTC.
    made_ms: i64,
    board: Arc<Board>,
}

impl Fleet {
    /// Makes the board of a vessel.
    ///
    /// # Errors
    /// [`FleetError`] if there is none, or the store fails.
    pub async fn board(&self, vessel: VesselId) -> Result<Board, FleetError> {
        let heard = self.heard();
        let make = |ledger: &Ledger| board::board(ledger, &heard, now_ms());
        let mut board = self
            .with_runs(vessel, board::wanted_for_board, make)
            .await?;
        board.log = self.standing_troubles(vessel).await?;
        board.server = self.wellbeing.troubles();
        Ok(board)
    }

    /// Returns the board of a vessel as all who watch it are shown it: made once for all of them at each change, and
    /// at most once a second without one.
    ///
    /// # Errors
    /// As [`Fleet::board`].
    pub async fn shared_board(&self, vessel: VesselId) -> Result<Arc<Board>, FleetError> {
        let mut boards = self.boards.lock().await;
        let (change, now_ms) = (*self.changed.borrow(), now_ms());
        if let Some(shared) = boards.get(&vessel)
            && shared.change == change
            && (shared.made_ms..shared.made_ms + SHARED_MS).contains(&now_ms)
        {
            return Ok(Arc::clone(&shared.board));
        }
        let board = Arc::new(self.board(vessel).await?);
        let shared = Shared {
            change,
            made_ms: now_ms,
            board: Arc::clone(&board),
        };
        boards.insert(vessel, shared);
        Ok(board)
    }
}
