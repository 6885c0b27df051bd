//! Photographs on the phone's disk: by content, so that none is kept twice and none can be changed.

use crate::database::{BrowserStore, commit};
use crate::schema::PHOTOS;
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{TransactionDurability, TransactionMode, TransactionOptions};
use journal::port::StoreError;
use js_sys::Uint8Array;
use wasm_bindgen::JsValue;

impl BrowserStore {
    /// Puts a photograph on disk under its name; returns when the disk has it.
    ///
    /// # Errors
    /// [`StoreError::Full`] or [`StoreError::Failed`] if the disk did not take it.
    pub async fn keep_photo(&self, name: &str, bytes: &[u8]) -> Result<(), StoreError> {
        self.with(async |database| {
            let transaction = database
                .transaction(PHOTOS)
                .with_mode(TransactionMode::Readwrite)
                .with_options(
                    TransactionOptions::new().with_durability(TransactionDurability::Strict),
                )
                .build()?;
            let store = transaction.object_store(PHOTOS)?;
            store
                .put(JsValue::from(Uint8Array::from(bytes)))
                .with_key(name)
                .primitive()?
                .await?;
            commit(transaction).await
        })
        .await
    }

    /// Returns the photograph of that name.
    ///
    /// # Errors
    /// [`StoreError::Failed`] if it cannot be read.
    pub async fn photo(&self, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
        let found = self
            .with(async |database| {
                let transaction = database.transaction(PHOTOS).build()?;
                let store = transaction.object_store(PHOTOS)?;
                store.get::<JsValue, _, _>(name).primitive()?.await
            })
            .await?;
        Ok(found.map(|value| Uint8Array::new(&value).to_vec()))
    }

    /// Returns the names of the photographs on disk.
    ///
    /// # Errors
    /// [`StoreError::Failed`] if they cannot be read.
    pub async fn photo_names(&self) -> Result<Vec<String>, StoreError> {
        self.with(async |database| {
            let transaction = database.transaction(PHOTOS).build()?;
            let store = transaction.object_store(PHOTOS)?;
            let names = store.get_all_keys::<String>().primitive()?.await?;
            names.collect()
        })
        .await
    }
}
