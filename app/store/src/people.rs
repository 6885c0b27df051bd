//! The people whose keys are on this phone, a row for each key.

use crate::database::{BrowserStore, commit};
use crate::key::{BrowserKey, KeyError};
use crate::schema::{KEYS, NOTES, PEOPLE};
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{TransactionDurability, TransactionMode, TransactionOptions};
use journal::Holder;
use journal::port::StoreError;

/// The name under which the first version kept its one key, and the note that said whose it is.
const FIRST: &str = "me";

pub(crate) fn written(holder: &Holder) -> String {
    serde_json::to_string(holder).expect("invariant: text and numbers can always be written")
}

fn strict() -> TransactionOptions {
    TransactionOptions::new().with_durability(TransactionDurability::Strict)
}

impl BrowserStore {
    /// Returns everybody whose key was ever on this phone.
    ///
    /// # Errors
    /// [`StoreError::Failed`] if they cannot be read.
    pub async fn holders(&self) -> Result<Vec<Holder>, StoreError> {
        let rows: Vec<String> = self
            .with(async |database| {
                let transaction = database.transaction(PEOPLE).build()?;
                let store = transaction.object_store(PEOPLE)?;
                let rows = store.get_all::<String>().primitive()?.await?;
                rows.collect()
            })
            .await?;
        rows.iter()
            .map(|row| {
                journal::json::read(row).map_err(|error| StoreError::Failed(error.to_string()))
            })
            .collect()
    }

    /// Changes one row, read and written in one transaction; returns it when the disk has it.
    ///
    /// # Errors
    /// [`StoreError`] if there is no such row, or the disk did not take it.
    pub async fn change_holder(
        &self,
        device: &str,
        change: impl Fn(&mut Holder),
    ) -> Result<Holder, StoreError> {
        let changed = self
            .with(async |database| {
                let transaction = database
                    .transaction(PEOPLE)
                    .with_mode(TransactionMode::Readwrite)
                    .with_options(strict())
                    .build()?;
                let store = transaction.object_store(PEOPLE)?;
                let row = store.get::<String, _, _>(device).primitive()?.await?;
                let Some(mut holder) = row.and_then(|row| journal::json::read(&row).ok()) else {
                    return Ok(None);
                };
                change(&mut holder);
                store
                    .put(written(&holder))
                    .with_key(device)
                    .primitive()?
                    .await?;
                commit(transaction).await?;
                Ok(Some(holder))
            })
            .await?;
        changed.ok_or_else(|| StoreError::Failed("this key is not on the phone".to_owned()))
    }

    /// Takes a key off the phone, so that nobody can use it any more. What it signed stays, and so does its
    /// row where it signed something: its records may still wait for the ship.
    ///
    /// # Errors
    /// [`StoreError`] if the disk did not take it.
    pub async fn retire_key(&self, holder: &Holder) -> Result<(), StoreError> {
        let kept = (!holder.is_half()).then(|| {
            written(&Holder {
                is_retired: true,
                ..holder.clone()
            })
        });
        let name = if holder.has_pin {
            holder.device.as_str()
        } else {
            FIRST
        };
        self.with(async |database| {
            let transaction = database
                .transaction([KEYS, PEOPLE])
                .with_mode(TransactionMode::Readwrite)
                .with_options(strict())
                .build()?;
            transaction
                .object_store(KEYS)?
                .delete(name)
                .primitive()?
                .await?;
            let people = transaction.object_store(PEOPLE)?;
            let device = holder.device.as_str();
            match &kept {
                Some(row) => {
                    people
                        .put(row.as_str())
                        .with_key(device)
                        .primitive()?
                        .await?;
                }
                None => people.delete(device).primitive()?.await?,
            }
            commit(transaction).await
        })
        .await
    }

    /// Gives the one key of the first version its row; returns it if there was one to give.
    ///
    /// That key cannot be taken out of the browser, so no PIN can be put around it: it goes on as it is
    /// until its owner enrols anew.
    ///
    /// # Errors
    /// [`KeyError`] if the store or the browser does not give it back.
    pub async fn take_up_first(&self) -> Result<Option<Holder>, KeyError> {
        let Some(person) = self.note(FIRST).await? else {
            return Ok(None);
        };
        let Some(key) = self.key_without_pin(FIRST).await? else {
            return Ok(None);
        };
        let holder = Holder {
            device: key.id().to_string(),
            person,
            protection: key.protection().word().to_owned(),
            ..Holder::default()
        };
        let row = written(&holder);
        self.with(async |database| {
            let transaction = database
                .transaction([NOTES, PEOPLE])
                .with_mode(TransactionMode::Readwrite)
                .with_options(strict())
                .build()?;
            let people = transaction.object_store(PEOPLE)?;
            people
                .put(row.as_str())
                .with_key(holder.device.as_str())
                .primitive()?
                .await?;
            transaction
                .object_store(NOTES)?
                .delete(FIRST)
                .primitive()?
                .await?;
            commit(transaction).await
        })
        .await?;
        Ok(Some(holder))
    }

    /// Returns the key of the first version, to be used without a PIN.
    ///
    /// # Errors
    /// [`KeyError`] if the store or the browser does not give it back.
    pub async fn first_key(&self) -> Result<BrowserKey, KeyError> {
        self.key_without_pin(FIRST).await?.ok_or(KeyError::Gone)
    }
}
