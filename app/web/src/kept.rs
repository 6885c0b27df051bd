//! What this phone puts away: closed runs, and old records that bear on nothing. A start takes their rows in place of
//! their records; whoever looks at one of them has it read back.
//!
//! Putting away and reading back goes on in slices beside everything else, and nothing waits for it.

use crate::client::Client;
use crate::later;
use crate::timer::sleep;
use journal::ledger::RunFile;
use journal::port::{LocalStore as _, StoreError};
use journal::shelf::{CLOSED_SHOWN, Found, Row, Shelf, Written, gaps};
use journal::{Ledger, RunId};
use leptos::prelude::*;
use record::{Envelope, PublicKey, VerifiedRecord, VesselId};
use std::cell::RefCell;
use std::collections::{BTreeSet, VecDeque};
use std::rc::Rc;
use store::BrowserStore;

/// How many records are verified before the page may draw again.
const RECORDS_AT_ONCE: usize = 400;
/// How many runs are read back, or put away, before the page may draw again.
const RUNS_AT_ONCE: usize = 8;
/// Records that bear on nothing are put away once there are so many of them, and so many at once.
const LOOSE: (usize, usize) = (200, 2_000);
/// How many runs that somebody has looked at stay.
const LOOKED_AT: usize = 8;
/// Between two slices while there is work, and between two looks, ms.
const SLICE_MS: i32 = 100;
const LOOK_MS: i32 = 5_000;
/// How many looks pass between two marks where nothing else is written.
const LOOKS_A_MARK: u32 = 12;

/// What is remembered of the rows.
#[derive(Debug, Default)]
pub struct Rows {
    /// The rows that the disk has; none once another tab writes them.
    shelf: RefCell<Option<Shelf>>,
    looked_at: RefCell<VecDeque<RunId>>,
    /// Runs whose records are not all on the disk.
    lost: RefCell<BTreeSet<RunId>>,
}

fn envelopes(stored: &[Vec<u8>]) -> Vec<Envelope> {
    let stored = stored.iter();
    stored
        .filter_map(|bytes| Envelope::decode(bytes).ok())
        .collect()
}

/// Reads the rows, where their seal is right.
async fn found(store: &BrowserStore, vessel: VesselId, values: &[Vec<u8>]) -> Option<Found> {
    let found = Shelf::read(vessel, values)?;
    let seal = store.seal(&found.shelf.sealed()).await.ok()?;
    (found.seal == seal).then_some(found)
}

impl Client {
    /// Makes the ledger at a start: of rows and the records that they leave, or of all records.
    pub async fn ledger_at_start(
        &self,
        authority: PublicKey,
        values: &[Vec<u8>],
    ) -> Result<Ledger, StoreError> {
        let vessel = authority.vessel();
        if let Some(found) = found(&self.store, vessel, values).await {
            let known = found.rows.iter().flat_map(Row::places);
            let records = envelopes(&self.store.records_in(&gaps(known)).await?);
            let made = found
                .shelf
                .ledger(Ledger::new(authority), &found.rows, records);
            if let Some(ledger) = made {
                *self.rows.shelf.borrow_mut() = Some(found.shelf);
                return Ok(ledger);
            }
        }
        self.begin_rows(vessel).await?;
        self.ledger_of_all(authority).await
    }

    /// Begins without a row: for a ledger that was made of all records.
    pub async fn begin_rows(&self, vessel: VesselId) -> Result<(), StoreError> {
        self.store.clear_kept().await?;
        *self.rows.shelf.borrow_mut() = Some(Shelf::empty(vessel, 0));
        Ok(())
    }

    /// Makes the ledger of every record on the disk, in slices, and says how many are left.
    async fn ledger_of_all(&self, authority: PublicKey) -> Result<Ledger, StoreError> {
        let mut ledger = Ledger::new(authority);
        let mut records = envelopes(&self.store.all().await?);
        // Whoever vouches for the others first, or all of those wait.
        records.sort_by_key(|record| record.device() != authority.device());
        let mut records = records.into_iter();
        while records.len() > 0 {
            let slice = records.by_ref().take(RECORDS_AT_ONCE);
            ledger.take_up_all(slice.map(|record| (record, None)));
            if records.len() > 0 {
                self.device.records.unread.set(records.len());
                sleep(0).await;
            }
        }
        self.device.records.unread.set(0);
        let folds = ledger.fold_changed();
        ledger.settle(folds);
        Ok(ledger)
    }

    /// Reads a run back that somebody looks at.
    pub async fn look_at_run(&self, run: RunId) {
        {
            let mut looked_at = self.rows.looked_at.borrow_mut();
            looked_at.retain(|known| *known != run);
            looked_at.push_back(run);
            let extra = looked_at.len().saturating_sub(LOOKED_AT);
            looked_at.drain(..extra);
        }
        let is_away = self.device.records.ledger.with_untracked(|ledger| {
            let file = ledger.as_ref().and_then(|ledger| ledger.run(run));
            file.is_some_and(RunFile::is_away)
        });
        if is_away {
            // Where the disk fails, the page goes on saying that the run is being read.
            let _ = self.read_back(&[run]).await;
        }
    }

    /// Reads runs back from their records.
    async fn read_back(&self, runs: &[RunId]) -> Result<(), StoreError> {
        for run in runs {
            let places = self.device.records.ledger.with_untracked(|ledger| {
                let ledger = ledger.as_ref()?;
                Some(ledger.places_away(*run))
            });
            let records = self
                .store
                .records_at(&places.unwrap_or_default())
                .await
                .map(|stored| envelopes(&stored))?;
            self.device.records.ledger.update_untracked(|ledger| {
                let Some(ledger) = ledger else { return };
                let verified = records.iter().filter_map(|record| {
                    let key = ledger.key_of(record.device())?;
                    record.verify(&key).ok()
                });
                let verified: Vec<VerifiedRecord> = verified.collect();
                if !ledger.take_back(*run, verified) {
                    self.rows.lost.borrow_mut().insert(*run);
                }
            });
        }
        self.device.records.ledger.update(|ledger| {
            if let Some(ledger) = ledger {
                let folds = ledger.fold_changed();
                ledger.settle(folds);
            }
        });
        Ok(())
    }

    /// Reads back what something bears on, else puts away what may be; says whether there may be more to do.
    pub async fn keep_slice(&self, is_to_mark: bool) -> Result<bool, StoreError> {
        let lost = self.rows.lost.borrow().clone();
        let (wanted, left) = self.device.records.ledger.with_untracked(|ledger| {
            let wanted = ledger.iter().flat_map(Ledger::wanted);
            let mut wanted: Vec<RunId> = wanted.filter(|run| !lost.contains(run)).collect();
            let left = wanted.len();
            wanted.truncate(RUNS_AT_ONCE);
            (wanted, left)
        });
        if self.device.records.unread.get_untracked() != left {
            self.device.records.unread.set(left);
        }
        if !wanted.is_empty() {
            self.read_back(&wanted).await?;
            return Ok(true);
        }
        let Some(shelf) = self.rows.shelf.borrow().clone() else {
            return Ok(false);
        };
        let looked_at = self.rows.looked_at.borrow().clone();
        let planned = self.device.records.ledger.with_untracked(|ledger| {
            let ledger = ledger.as_ref()?;
            let runs = ledger.may_be_put_away(CLOSED_SHOWN).into_iter();
            let runs = runs.filter(|run| !looked_at.contains(run));
            let kept = runs.take(RUNS_AT_ONCE).filter_map(|run| ledger.kept(run));
            let mut rows: Vec<Row> = kept.map(|kept| Row::Run(Box::new(kept))).collect();
            rows.extend(ledger.kept_loose(LOOSE.0, LOOSE.1).map(Row::Loose));
            let written: Vec<Written> = rows.iter().filter_map(Row::write).collect();
            if written.is_empty() && !is_to_mark {
                return None;
            }
            let changed = shelf.changed(ledger, &written, &lost);
            Some((rows, written, changed))
        });
        let Some((rows, mut written, changed)) = planned else {
            return Ok(false);
        };
        if let Some((next, dropped)) = changed {
            // A browser that seals nothing keeps no rows: every start then reads the records.
            let Ok(seal) = self.store.seal(&next.sealed()).await else {
                return Ok(false);
            };
            written.push(next.mark(&seal));
            let is_done = self
                .store
                .change_kept(shelf.number(), &written, &dropped)
                .await?;
            *self.rows.shelf.borrow_mut() = is_done.then_some(next);
            if !is_done {
                return Ok(false);
            }
        }
        let has_more = !rows.is_empty();
        // Nothing that is shown changes by it.
        self.device.records.ledger.update_untracked(|ledger| {
            let Some(ledger) = ledger else { return };
            for row in &rows {
                match row {
                    // Somebody may look at it since.
                    Row::Run(kept) => {
                        if !self.rows.looked_at.borrow().contains(&kept.run()) {
                            ledger.put_away(kept);
                        }
                    }
                    Row::Loose(kept) => ledger.put_away_loose(kept),
                }
            }
        });
        Ok(has_more)
    }

    fn is_busy(&self) -> bool {
        let is_syncing = self.device.link.state.with_untracked(|link| link.busy);
        is_syncing || self.device.records.saving.get_untracked()
    }
}

/// Puts away and reads back, for as long as the page lives.
pub async fn keep(client: Rc<Client>) {
    let mut looks = 0;
    loop {
        sleep(if looks == 0 { SLICE_MS } else { LOOK_MS }).await;
        looks += 1;
        if client.is_busy() {
            continue;
        }
        let is_to_mark = looks > LOOKS_A_MARK;
        let slice = match later::keep_slice(Rc::clone(&client), is_to_mark).await {
            Ok(slice) => slice.await,
            Err(_) => continue,
        };
        if slice.unwrap_or(false) || is_to_mark {
            looks = 0;
        }
    }
}
