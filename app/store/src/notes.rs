//! Small notes: text by name.

use crate::database::{BrowserStore, commit};
use crate::schema::NOTES;
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{TransactionDurability, TransactionMode, TransactionOptions};
use journal::port::StoreError;

impl BrowserStore {
    /// Returns the note of that name.
    ///
    /// # Errors
    /// [`StoreError::Failed`] if it cannot be read.
    pub async fn note(&self, name: &str) -> Result<Option<String>, StoreError> {
        self.with(async |database| {
            let transaction = database.transaction(NOTES).build()?;
            let store = transaction.object_store(NOTES)?;
            store.get::<String, _, _>(name).primitive()?.await
        })
        .await
    }

    /// Writes the note of that name over the one before; returns when the disk has it.
    ///
    /// # Errors
    /// [`StoreError::Full`] or [`StoreError::Failed`] if the disk did not take it.
    pub async fn set_note(&self, name: &str, text: &str) -> Result<(), StoreError> {
        self.with(async |database| {
            let transaction = database
                .transaction(NOTES)
                .with_mode(TransactionMode::Readwrite)
                .with_options(
                    TransactionOptions::new().with_durability(TransactionDurability::Strict),
                )
                .build()?;
            let store = transaction.object_store(NOTES)?;
            store.put(text).with_key(name).primitive()?.await?;
            commit(transaction).await
        })
        .await
    }

    /// Takes the note of that name away; returns when the disk has done so.
    ///
    /// # Errors
    /// [`StoreError`] if the disk did not do it.
    pub async fn drop_note(&self, name: &str) -> Result<(), StoreError> {
        self.with(async |database| {
            let transaction = database
                .transaction(NOTES)
                .with_mode(TransactionMode::Readwrite)
                .with_options(
                    TransactionOptions::new().with_durability(TransactionDurability::Strict),
                )
                .build()?;
            transaction
                .object_store(NOTES)?
                .delete(name)
                .primitive()?
                .await?;
            commit(transaction).await
        })
        .await
    }
}
