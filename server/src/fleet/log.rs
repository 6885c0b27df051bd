//! What is known of the vessels' logs, with what stands in their ledgers.

use super::{Fleet, FleetError};
use crate::clock::now_ms;
use journal::board;
use journal::log::{Found, HeadAnswer, LogCard, Showing, Trouble};
use record::VesselId;

impl Fleet {
    /// Makes what a page shows of a vessel's log.
    ///
    /// # Errors
    /// [`FleetError`] if there is no such vessel, or the store fails.
    pub async fn log_card(&self, vessel: VesselId) -> Result<LogCard, FleetError> {
        self.with(vessel, |_| ()).await?;
        let mut card = self.heads.card(vessel, now_ms()).await?;
        self.with(vessel, |ledger| {
            card.name = board::vessel_card(ledger, card.now_ms).name;
            for card in &mut card.troubles {
                card.read = card.trouble.read_in(ledger);
            }
        })
        .await?;
        Ok(card)
    }

    /// Takes a head of a log that somebody remembers or shows: see [`Heads::seen`].
    ///
    /// # Errors
    /// [`FleetError`] if there is no such vessel, the head is not rightly signed, or the store fails.
    pub async fn head_seen(
        &self,
        vessel: VesselId,
        showing: &Showing,
    ) -> Result<HeadAnswer, FleetError> {
        let mut read = self.heads.troubles(vessel).await?;
        let authority = self
            .with(vessel, |ledger| {
                read.retain(|trouble| trouble.read_in(ledger).is_some());
                ledger.authority()
            })
            .await?;
        self.heads.go_on(vessel, &read).await?;
        let answer = self
            .heads
            .seen(vessel, &authority, showing, now_ms())
            .await?;
        if matches!(answer, HeadAnswer::Stands(_)) {
            self.changed.send_modify(|count| *count += 1);
        }
        Ok(answer)
    }

    /// Keeps what the office holds against this ship's roll.
    ///
    /// # Errors
    /// [`FleetError`] if the store fails.
    pub async fn head_disputed(
        &self,
        vessel: VesselId,
        trouble: &Trouble,
    ) -> Result<(), FleetError> {
        self.heads.disputed(vessel, trouble).await?;
        self.changed.send_modify(|count| *count += 1);
        Ok(())
    }

    /// Says whether the ship's authority may sign: not while its store, put back from a backup, may lack
    /// records of its own whose numbers it would use again; unless a master has read that.
    pub(super) async fn may_author(&self, vessel: VesselId) -> Result<(), FleetError> {
        let Some(restore) = self.heads.lacks(vessel).await? else {
            return Ok(());
        };
        let standing = self.standing_troubles(vessel).await?;
        if standing
            .iter()
            .any(|trouble| trouble.found == Found::Restored(restore))
        {
            return Err(FleetError::Lacks(restore));
        }
        Ok(())
    }

    /// Returns what is wrong with a vessel's log and no master has read yet.
    pub(super) async fn standing_troubles(
        &self,
        vessel: VesselId,
    ) -> Result<Vec<Trouble>, FleetError> {
        let mut troubles = self.heads.troubles(vessel).await?;
        self.with(vessel, |ledger| {
            troubles.retain(|trouble| trouble.read_in(ledger).is_none());
        })
        .await?;
        Ok(troubles)
    }
}
