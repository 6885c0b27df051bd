//! Runs that were put away come back from the store: their records are read, and each is known to be the one that
//! was verified when it came.

use crate::fleet::{Fleet, FleetError};
use journal::RunId;
use record::{DeviceId, Envelope, PublicKey, VerifiedRecord, VesselId};
use std::collections::BTreeMap;
use std::num::NonZero;
use storage::Stored;

/// The records of a run, as they are stored.
type Read = (RunId, Vec<Envelope>);
/// The records of a run.
type Checked = (RunId, Vec<VerifiedRecord>);

/// By what it is judged that a stored record is the one that was verified when it came.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum CheckedBy {
    /// By its id, the digest of all that it says, which the ledger or a sealed row has kept.
    Id,
    /// By its signature.
    Signature,
}

/// Does something with each of many runs, on every processor.
pub(in crate::fleet) fn on_every_processor<T: Send, U: Send>(
    mut all: Vec<T>,
    work: impl Fn(T) -> U + Sync,
) -> Vec<U> {
    let hands = std::thread::available_parallelism().map_or(1, NonZero::get);
    let each = all.len().div_ceil(hands).max(1);
    let work = &work;
    std::thread::scope(|scope| {
        let mut working = Vec::with_capacity(hands);
        while all.len() > each {
            let part = all.split_off(all.len() - each);
            working.push(scope.spawn(move || part.into_iter().map(work).collect::<Vec<_>>()));
        }
        let mut done: Vec<U> = all.into_iter().map(work).collect();
        for part in working {
            match part.join() {
                Ok(part) => done.extend(part),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        done
    })
}

/// Reads what is stored of a run; leaves out what is no record.
fn read((run, rows): (RunId, Vec<Stored>)) -> Read {
    let envelopes = rows
        .iter()
        .filter_map(|row| Envelope::decode(&row.bytes).ok());
    (run, envelopes.collect())
}

/// Waits for work that would hold others up.
pub(in crate::fleet) async fn aside<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> T {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        Err(error) => std::panic::resume_unwind(error.into_panic()),
    }
}

impl Fleet {
    /// Takes runs back from the store and folds them; returns those whose records are not all there.
    pub(super) async fn take_back(
        &self,
        vessel: VesselId,
        runs: &[RunId],
        by: CheckedBy,
    ) -> Result<Vec<RunId>, FleetError> {
        let mut stored = Vec::with_capacity(runs.len());
        for run in runs {
            stored.push((*run, self.store.run(vessel, *run).await?));
        }
        let read = aside(move || on_every_processor(stored, read)).await;
        let checked = match by {
            CheckedBy::Id => self.known(vessel, read).await?,
            CheckedBy::Signature => self.verified(vessel, read).await?,
        };
        let mut lost = Vec::new();
        if let Some(ledger) = self.ledgers.write().await.get_mut(&vessel) {
            for (run, records) in checked {
                if !ledger.take_back(run, records) {
                    tracing::error!(%vessel, %run, "records of a run are gone from the store, or changed");
                    lost.push(run);
                }
            }
        }
        self.fold(vessel).await;
        Ok(lost)
    }

    /// Leaves out a record that is not one of its run's by its id.
    async fn known(&self, vessel: VesselId, read: Vec<Read>) -> Result<Vec<Checked>, FleetError> {
        self.with(vessel, |ledger| {
            let known = read.iter().map(|(run, envelopes)| {
                let records = envelopes.iter().filter_map(|envelope| {
                    let id = envelope.id();
                    (ledger.run_of(id) == Some(*run)).then(|| envelope.known_as(id))?
                });
                (*run, records.collect())
            });
            known.collect()
        })
        .await
    }

    /// Leaves out a record whose signature fails.
    async fn verified(
        &self,
        vessel: VesselId,
        read: Vec<Read>,
    ) -> Result<Vec<Checked>, FleetError> {
        let keys: BTreeMap<DeviceId, PublicKey> = self
            .with(vessel, |ledger| {
                let own = ledger.authority();
                let holders = ledger.holders().values().map(|holder| holder.key);
                let keys = holders.chain(std::iter::once(own));
                keys.map(|key| (key.device(), key)).collect()
            })
            .await?;
        let verify = move |(run, envelopes): Read| {
            let records = envelopes
                .iter()
                .filter_map(|envelope| envelope.verify(keys.get(&envelope.device())?).ok());
            (run, records.collect())
        };
        Ok(aside(move || on_every_processor(read, verify)).await)
    }
}
