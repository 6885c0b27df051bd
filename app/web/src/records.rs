//! Records on the disk and in the ledger: what is signed here, what comes from the ship, what another tab wrote.

use crate::client::Client;
use crate::tabs;
use crate::timer::BrowserClock;
use journal::port::{Clock as _, LocalStore as _, StoreError};
use journal::{Admitted, Body, Intent, Ledger, Place, WriteError};
use leptos::prelude::*;
use record::{Envelope, SignedReceipt};

impl Client {
    /// Puts one thing on record; shows it done only when the disk has it.
    pub async fn put(&self, run: Option<journal::RunId>, body: Body) -> Option<record::RecordId> {
        let Some(me) = self.me() else {
            self.device
                .records
                .trouble
                .set(Some("nobody is enrolled on this device".to_owned()));
            return None;
        };
        let Some(key) = self.key.borrow().clone() else {
            self.device
                .records
                .trouble
                .set(Some("this device has no key".to_owned()));
            return None;
        };
        self.device.records.saving.set(true);
        let intent = Intent {
            author: record::PersonId::from(me.person.as_str()),
            run,
            body,
            receipt: self
                .receipts
                .borrow()
                .get(&key.id())
                .map(SignedReceipt::hash),
        };
        let place = self.device.records.ledger.with_untracked(|ledger| {
            let now_ms = BrowserClock.now_ms();
            ledger
                .as_ref()
                .map(|ledger| Place::in_ledger(ledger, run, key.id(), now_ms))
        });
        let written = match &place {
            Some(place) => {
                journal::write(&self.store, key.as_ref(), &BrowserClock, place, &intent).await
            }
            None => Err(WriteError::Store(StoreError::Failed(
                "no ship is known".to_owned(),
            ))),
        };
        self.device.records.saving.set(false);
        match written {
            Ok(record) => {
                let id = record.id();
                self.device.records.ledger.update(|ledger| {
                    if let Some(ledger) = ledger {
                        ledger.admit_verified(record, None);
                    }
                });
                self.count_waiting();
                tabs::other_tabs();
                self.wake.set(true);
                Some(id)
            }
            Err(error) => {
                self.device.records.trouble.set(Some(not_saved(&error)));
                None
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
                .filter(|e| ledger.entry(e.id()).is_none())
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
        tabs::other_tabs();
        Ok(new)
    }

    /// Takes every record on the disk into `ledger`.
    pub async fn read_into(&self, ledger: &mut Ledger) -> Result<(), StoreError> {
        let stored = self.store.all().await?;
        let envelopes = stored
            .iter()
            .filter_map(|bytes| Envelope::decode(bytes).ok());
        ledger.admit_all(envelopes.map(|envelope| (envelope, None)));
        Ok(())
    }

    /// Takes up what another tab has put on the disk.
    pub async fn read_again(&self) {
        let Ok(stored) = self.store.all().await else {
            return;
        };
        self.device.records.ledger.update(|ledger| {
            if let Some(ledger) = ledger {
                let envelopes = stored
                    .iter()
                    .filter_map(|bytes| Envelope::decode(bytes).ok());
                ledger.admit_all(envelopes.map(|envelope| (envelope, None)));
            }
        });
        self.count_waiting();
    }
}

fn not_saved(error: &WriteError) -> String {
    match error {
        WriteError::Store(StoreError::Full) => {
            "NOT saved: this phone's storage is full. Everything ticked before is safe. Free some \
             space, then do the step again."
                .to_owned()
        }
        other => format!(
            "NOT saved: {other}. Everything ticked before is safe. Do the step again; if it happens \
             again, use paper and tell the officer."
        ),
    }
}
