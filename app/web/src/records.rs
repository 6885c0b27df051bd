//! Records on the disk and in the ledger: what is signed here, what comes from the ship, what another tab wrote.

use crate::client::Client;
use crate::tabs;
use crate::timer::{BrowserClock, sleep, steady_ms};
use futures::future::{Either, select};
use journal::port::{Clock as _, LocalStore as _, StoreError};
use journal::press::LastPress;
use journal::shelf::gaps;
use journal::{Admitted, Body, Intent, Ledger, Place, RunId, WriteError};
use leptos::prelude::*;
use procedure::Event;
use record::{Envelope, RecordId};
use std::pin::pin;
use std::rc::Rc;
use store::BrowserKey;

/// A write that takes longer is shown as one that is under way, ms. Drawing it would make the others longer.
const LONG_MS: i32 = 50;

impl Client {
    /// Puts an event of a run on record, unless the same press has just put it there.
    pub async fn say(&self, run: RunId, event: Event, pressed_ms: f64) {
        self.say_all(vec![(run, event)], pressed_ms).await;
    }

    /// Puts several events on record that one press says, in their order; after one that the disk does not take, none.
    pub async fn say_all(&self, all: Vec<(RunId, Event)>, pressed_ms: f64) {
        let Some((run, last)) = all.last() else {
            return;
        };
        let is_again = self
            .last_press
            .borrow()
            .as_ref()
            .is_some_and(|press| press.is_again(*run, last, pressed_ms));
        if is_again {
            return;
        }
        for (run, event) in all {
            let body = Body::Run(Box::new(event.clone()));
            if self.put(Some(run), body).await.is_none() {
                return;
            }
            *self.last_press.borrow_mut() = Some(LastPress {
                run,
                event,
                stored_ms: steady_ms(),
            });
        }
    }

    /// Puts one thing on record; shows it done only when the disk has it.
    ///
    /// Signs and puts first. Nothing is drawn, counted or told before the disk has answered, but for the sign that
    /// it takes long.
    pub async fn put(&self, run: Option<RunId>, body: Body) -> Option<RecordId> {
        let written = match self.prepare(run, body) {
            Ok((key, place, intent)) => {
                let writing =
                    journal::write(&self.store, key.as_ref(), &BrowserClock, &place, &intent);
                self.show_if_it_takes_long(writing)
                    .await
                    .map_err(|error| not_saved(&error))
            }
            Err(message) => Err(message.to_owned()),
        };
        match written {
            Ok(record) => {
                let id = record.id();
                self.device.records.ledger.update(|ledger| {
                    if let Some(ledger) = ledger {
                        ledger.admit_verified(record, None);
                    }
                });
                self.count_waiting();
                tabs::tell_other_tabs();
                self.wake.set(true);
                Some(id)
            }
            Err(message) => {
                self.device.records.trouble.set(Some(message));
                None
            }
        }
    }

    /// Gathers what a record needs that is in memory: nothing of it is looked for on the disk.
    fn prepare(
        &self,
        run: Option<RunId>,
        body: Body,
    ) -> Result<(Rc<BrowserKey>, Place, Intent), &'static str> {
        let me = self.me().ok_or("nobody is enrolled on this device")?;
        let key = self.key.borrow().clone().ok_or("this device has no key")?;
        let intent = Intent {
            author: record::PersonId::from(me.person.as_str()),
            run,
            body,
            receipt: self.receipts.borrow().hash_of(key.id()),
        };
        let place = self.device.records.ledger.with_untracked(|ledger| {
            let now_ms = BrowserClock.now_ms();
            let ledger = ledger.as_ref()?;
            Some(Place::in_ledger(ledger, run, key.id(), now_ms))
        });
        let place = place.ok_or("no ship is known on this device")?;
        Ok((key, place, intent))
    }

    /// Waits for a write; where it takes long, the keys show that something is being saved.
    async fn show_if_it_takes_long<T>(&self, writing: impl Future<Output = T>) -> T {
        let saving = self.device.records.saving;
        let writing = pin!(writing);
        let patience = pin!(sleep(LONG_MS));
        match select(writing, patience).await {
            Either::Left((written, _)) => written,
            Either::Right(((), writing)) => {
                saving.set(true);
                let written = writing.await;
                saving.set(false);
                written
            }
        }
    }

    /// Takes up records that came from the ship: on disk first, then into the ledger.
    pub async fn take_up(&self, envelopes: Vec<Envelope>) -> Result<usize, StoreError> {
        let fresh: Vec<Envelope> = self.device.records.ledger.with_untracked(|ledger| {
            let Some(ledger) = ledger else {
                return Vec::new();
            };
            envelopes
                .into_iter()
                .filter(|e| !ledger.holds(e.id()))
                .collect()
        });
        let rows: Vec<_> = fresh
            .iter()
            .map(|e| (e.device(), e.seq(), e.bytes().to_vec()))
            .collect();
        if rows.is_empty() {
            return Ok(0);
        }
        self.store.keep(&rows).await?;
        let mut new = 0;
        self.device.records.ledger.update(|ledger| {
            if let Some(ledger) = ledger {
                let answers = ledger.admit_all(fresh.into_iter().map(|e| (e, None)));
                new = answers
                    .iter()
                    .filter(|a| matches!(a, Ok(Admitted::New(_))))
                    .count();
            }
        });
        tabs::tell_other_tabs();
        Ok(new)
    }

    /// Takes every record on the disk into `ledger`.
    pub async fn read_into(&self, ledger: &mut Ledger) -> Result<(), StoreError> {
        admit_stored(ledger, &self.store.all().await?);
        Ok(())
    }

    /// Takes up what another tab has put on the disk.
    pub async fn read_again(&self) {
        let gaps = self.device.records.ledger.with_untracked(|ledger| {
            let chains = ledger.iter().flat_map(Ledger::chains);
            gaps(chains.flat_map(|(device, chain)| chain.iter().map(|(seq, _)| (*device, seq))))
        });
        let Ok(stored) = self.store.records_in(&gaps).await else {
            return;
        };
        self.device.records.ledger.update(|ledger| {
            if let Some(ledger) = ledger {
                admit_stored(ledger, &stored);
            }
        });
        self.count_waiting();
    }
}

/// Takes what stands on the disk into a ledger; what cannot be read stays on the disk.
pub fn admit_stored(ledger: &mut Ledger, stored: &[Vec<u8>]) {
    let envelopes = stored
        .iter()
        .filter_map(|bytes| Envelope::decode(bytes).ok());
    ledger.admit_all(envelopes.map(|envelope| (envelope, None)));
}

/// Says that something is not saved, and why, where another try may help.
pub fn not_saved_for(why: &str) -> String {
    format!(
        "NOT saved: {why}. Everything ticked before is safe. Do the step again; if it happens again, \
         use paper and tell the officer."
    )
}

fn not_saved(error: &WriteError) -> String {
    match error {
        WriteError::Store(StoreError::Full) => {
            "NOT saved: this phone's storage is full. Everything ticked before is safe. Free some \
             space, then do the step again."
                .to_owned()
        }
        other if other.is_worth_retry() => not_saved_for(&other.to_string()),
        other => format!(
            "NOT saved: {other}. Everything ticked before is safe. Use paper and tell the officer."
        ),
    }
}
