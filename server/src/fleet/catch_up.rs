//! What the store holds and the ledger does not: a commit whose answer was lost with the database server, and what
//! another server over the same database has stored.

use super::opening::take_up;
use super::{Fleet, FleetError};
use record::{Vector, VesselId};

/// How many records are read at once.
const AT_ONCE: usize = 2_000;
/// How many bytes are read at once.
const BYTES_AT_ONCE: usize = 16 * 1024 * 1024;

fn is_behind(known: &Vector, stored: &Vector) -> bool {
    let height = |device| known.get(device).copied().unwrap_or(0);
    stored.iter().any(|(device, seq)| height(device) < *seq)
}

impl Fleet {
    /// Takes up what the store has of a vessel and the ledger has not; returns how far each chain is stored.
    ///
    /// # Errors
    /// [`FleetError`] if there is no such vessel, or the store fails.
    pub async fn catch_up(&self, vessel: VesselId) -> Result<Vector, FleetError> {
        let stored = self.store.vector(vessel).await?;
        let mut known = self.with(vessel, journal::Ledger::vector).await?;
        let mut is_news = false;
        while is_behind(&known, &stored) {
            let rows = self
                .store
                .lacking(vessel, &known, BYTES_AT_ONCE, AT_ONCE)
                .await?;
            if rows.is_empty() {
                break;
            }
            let order = self.order.lock().await;
            let now = {
                let mut ledgers = self.ledgers.write().await;
                let Some(ledger) = ledgers.get_mut(&vessel) else {
                    break;
                };
                take_up(ledger, &rows);
                ledger.vector()
            };
            self.settle(vessel).await?;
            drop(order);
            // What does not verify is said in the log, and is no reason to ask for it for ever.
            if now == known {
                break;
            }
            tracing::info!(%vessel, "records were stored that this server had not heard of: taken up");
            is_news = true;
            known = now;
        }
        if is_news {
            self.changed.send_modify(|count| *count += 1);
        }
        Ok(stored)
    }
}
