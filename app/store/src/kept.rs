//! What is kept of what is put away, and reading the records that it leaves.

use crate::crypto::{done, done_bytes, object, subtle, usages};
use crate::database::{BrowserStore, commit};
use crate::key::KeyError;
use crate::schema::{KEPT, KEYS, RECORDS};
use indexed_db_futures::KeyRange;
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::TransactionMode;
use journal::port::StoreError;
use journal::shelf::{Gap, MARK, Written, number_of};
use js_sys::Uint8Array;
use record::DeviceId;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::CryptoKey;

/// The name of the key that seals the rows.
const SEAL: &str = "kept-seal";

impl BrowserStore {
    /// Returns every row and the mark.
    ///
    /// # Errors
    /// [`StoreError::Failed`] if they cannot be read.
    pub async fn kept(&self) -> Result<Vec<Vec<u8>>, StoreError> {
        self.with(async |database| {
            let transaction = database.transaction(KEPT).build()?;
            let store = transaction.object_store(KEPT)?;
            let values = store.get_all::<JsValue>().primitive()?.await?;
            values
                .map(|value| value.map(|value| Uint8Array::new(&value).to_vec()))
                .collect()
        })
        .await
    }

    /// Writes rows and takes others away, in one transaction with the mark; does nothing where the mark on the disk
    /// does not bear `number`, 0 for none. Says whether it was done.
    ///
    /// # Errors
    /// [`StoreError`] if the disk did not take it.
    pub async fn change_kept(
        &self,
        number: u64,
        written: &[Written],
        dropped: &[String],
    ) -> Result<bool, StoreError> {
        self.with(async |database| {
            // Not strict: what is lost of it is made again, and rows and mark go together.
            let transaction = database
                .transaction(KEPT)
                .with_mode(TransactionMode::Readwrite)
                .build()?;
            let store = transaction.object_store(KEPT)?;
            let mark = store.get::<JsValue, _, _>(MARK).primitive()?.await?;
            let mark = mark.map(|value| Uint8Array::new(&value).to_vec());
            if mark.as_deref().and_then(number_of).unwrap_or(0) != number {
                return Ok(false);
            }
            for (name, bytes) in written {
                drop(
                    store
                        .put(JsValue::from(Uint8Array::from(bytes.as_slice())))
                        .with_key(name.as_str())
                        .primitive()?,
                );
            }
            for name in dropped {
                drop(store.delete(name.as_str()).primitive()?);
            }
            commit(transaction).await?;
            Ok(true)
        })
        .await
    }

    /// Takes every row away, and the mark.
    ///
    /// # Errors
    /// [`StoreError`] if the disk did not do it.
    pub async fn clear_kept(&self) -> Result<(), StoreError> {
        self.with(async |database| {
            let transaction = database
                .transaction(KEPT)
                .with_mode(TransactionMode::Readwrite)
                .build()?;
            transaction.object_store(KEPT)?.clear()?.await?;
            commit(transaction).await
        })
        .await
    }

    /// Returns the envelopes that lie in gaps.
    ///
    /// # Errors
    /// [`StoreError::Failed`] if they cannot be read.
    pub async fn records_in(&self, gaps: &[Gap]) -> Result<Vec<Vec<u8>>, StoreError> {
        self.with(async |database| {
            let transaction = database.transaction(RECORDS).build()?;
            let store = transaction.object_store(RECORDS)?;
            let mut asked = Vec::with_capacity(gaps.len());
            for gap in gaps {
                let key = |(device, seq): (DeviceId, u64)| crate::records::key(device, seq);
                let (after, before) = (gap.after.map(key), gap.before.map(key));
                let all = store.get_all::<JsValue>();
                // Asked for all together, and waited for one after the other.
                asked.push(match (after, before) {
                    (Some(after), Some(before)) => all
                        .with_query::<String, _>(KeyRange::Bound(after, true, before, true))
                        .primitive()?,
                    (Some(after), None) => all
                        .with_query::<String, _>(KeyRange::LowerBound(after, true))
                        .primitive()?,
                    (None, Some(before)) => all
                        .with_query::<String, _>(KeyRange::UpperBound(before, true))
                        .primitive()?,
                    (None, None) => all.primitive()?,
                });
            }
            let mut found = Vec::new();
            for answer in asked {
                for value in answer.await? {
                    found.push(Uint8Array::new(&value?).to_vec());
                }
            }
            Ok(found)
        })
        .await
    }

    /// Returns the envelopes at these places, as far as they are there.
    ///
    /// # Errors
    /// [`StoreError::Failed`] if they cannot be read.
    pub async fn records_at(&self, places: &[(DeviceId, u64)]) -> Result<Vec<Vec<u8>>, StoreError> {
        self.with(async |database| {
            let transaction = database.transaction(RECORDS).build()?;
            let store = transaction.object_store(RECORDS)?;
            let mut asked = Vec::with_capacity(places.len());
            for (device, seq) in places {
                let key = crate::records::key(*device, *seq);
                asked.push(store.get::<JsValue, _, _>(key).primitive()?);
            }
            let mut found = Vec::with_capacity(asked.len());
            for answer in asked {
                if let Some(value) = answer.await? {
                    found.push(Uint8Array::new(&value).to_vec());
                }
            }
            Ok(found)
        })
        .await
    }

    /// Seals `bytes` with a key that the browser keeps and never gives out.
    ///
    /// # Errors
    /// [`KeyError`] if the store or the browser refuses.
    pub async fn seal(&self, bytes: &[u8]) -> Result<[u8; 32], KeyError> {
        let key = self.seal_key().await?;
        let promise = subtle()?.sign_with_str_and_u8_array("HMAC", &key, bytes);
        let seal = done_bytes(promise).await?;
        seal.try_into()
            .map_err(|_| KeyError::Browser("a seal of a wrong length".to_owned()))
    }

    async fn seal_key(&self) -> Result<CryptoKey, KeyError> {
        if let Some(key) = self.key_object(SEAL).await? {
            return Ok(key.unchecked_into());
        }
        let algorithm = object(&[("name", &"HMAC".into()), ("hash", &"SHA-256".into())])?;
        let made = done(subtle()?.generate_key_with_object(
            algorithm.unchecked_ref(),
            false,
            &usages(&["sign"]),
        ))
        .await?;
        self.with(async |database| {
            let transaction = database
                .transaction(KEYS)
                .with_mode(TransactionMode::Readwrite)
                .build()?;
            let store = transaction.object_store(KEYS)?;
            store.put(made.clone()).with_key(SEAL).primitive()?.await?;
            commit(transaction).await
        })
        .await?;
        Ok(made.unchecked_into())
    }
}
