//! Records on the phone's disk.

use crate::database::{BrowserStore, commit};
use crate::schema::RECORDS;
use indexed_db_futures::KeyRange;
use indexed_db_futures::database::Database;
use indexed_db_futures::error::{DomException, Error};
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{
    Transaction, TransactionDurability, TransactionMode, TransactionOptions,
};
use journal::port::{ChainEnd, LocalStore, StoreError};
use js_sys::Uint8Array;
use record::{DeviceId, Envelope};
use wasm_bindgen::JsValue;

/// The key of a record: sorts by device, then by sequence number.
pub(crate) fn key(device: DeviceId, seq: u64) -> String {
    format!("{device}/{seq:016}")
}

fn range(device: DeviceId) -> KeyRange<String> {
    KeyRange::Bound(
        key(device, 0),
        false,
        key(device, 9_999_999_999_999_999),
        false,
    )
}

fn writing(database: &Database) -> indexed_db_futures::Result<Transaction<'_>> {
    database
        .transaction(RECORDS)
        .with_mode(TransactionMode::Readwrite)
        .with_options(TransactionOptions::new().with_durability(TransactionDurability::Strict))
        .build()
}

fn bytes_of(value: JsValue) -> Vec<u8> {
    Uint8Array::new(&value).to_vec()
}

async fn end_within(
    transaction: &Transaction<'_>,
    device: DeviceId,
) -> indexed_db_futures::Result<Option<Vec<u8>>> {
    let store = transaction.object_store(RECORDS)?;
    let cursor = store
        .open_cursor()
        .with_query::<String, _>(range(device))
        .with_direction(indexed_db_futures::cursor::CursorDirection::Prev)
        .await?;
    match cursor {
        None => Ok(None),
        Some(mut cursor) => Ok(cursor.next_record::<JsValue>().await?.map(bytes_of)),
    }
}

async fn at(database: &Database, place: &str) -> indexed_db_futures::Result<Option<Vec<u8>>> {
    let transaction = database.transaction(RECORDS).build()?;
    let store = transaction.object_store(RECORDS)?;
    let found = store.get::<JsValue, _, _>(place).primitive()?.await?;
    Ok(found.map(bytes_of))
}

fn chain_end(bytes: Option<&[u8]>) -> Result<Option<ChainEnd>, StoreError> {
    let Some(bytes) = bytes else { return Ok(None) };
    let envelope = Envelope::decode(bytes).map_err(|refusal| {
        StoreError::Failed(format!(
            "the newest record on the phone cannot be read: {refusal}"
        ))
    })?;
    Ok(Some(ChainEnd {
        seq: envelope.seq(),
        id: envelope.id(),
    }))
}

impl LocalStore for BrowserStore {
    async fn chain_end(&self, device: DeviceId) -> Result<Option<ChainEnd>, StoreError> {
        let bytes = self
            .with(async |database| {
                let transaction = database.transaction(RECORDS).build()?;
                end_within(&transaction, device).await
            })
            .await?;
        chain_end(bytes.as_deref())
    }

    async fn append(
        &self,
        _after: Option<ChainEnd>,
        device: DeviceId,
        record: ChainEnd,
        envelope: &[u8],
        is_sound: &dyn Fn() -> bool,
    ) -> Result<(), StoreError> {
        let place = key(device, record.seq);
        self.with(async |database| {
            let transaction = writing(database)?;
            // One request, and no reading before it: a place is taken once, and whoever comes second
            // finds that out by the key.
            let adding = transaction
                .object_store(RECORDS)?
                .add(JsValue::from(Uint8Array::from(envelope)))
                .with_key(place.as_str())
                .primitive()?;
            if !is_sound() {
                transaction.abort().await?;
                return Ok(Err(StoreError::Unsound));
            }
            // The transaction says how the request went; waiting for both is a turn of the loop more.
            drop(adding);
            match commit(transaction).await {
                Ok(()) => Ok(Ok(())),
                Err(Error::DomException(DomException::ConstraintError(_))) => {
                    // The disk may have it already, where the answer to a first try was lost.
                    let there = at(database, &place).await?;
                    Ok(if there.as_deref() == Some(envelope) {
                        Ok(())
                    } else {
                        Err(StoreError::EndMoved)
                    })
                }
                Err(error) => Err(error),
            }
        })
        .await?
    }

    async fn keep(&self, records: &[(DeviceId, u64, Vec<u8>)]) -> Result<(), StoreError> {
        self.with(async |database| {
            let transaction = writing(database)?;
            let store = transaction.object_store(RECORDS)?;
            for (device, seq, bytes) in records {
                store
                    .put(JsValue::from(Uint8Array::from(bytes.as_slice())))
                    .with_key(key(*device, *seq))
                    .primitive()?
                    .await?;
            }
            commit(transaction).await
        })
        .await
    }

    async fn all(&self) -> Result<Vec<Vec<u8>>, StoreError> {
        self.with(async |database| {
            let transaction = database.transaction(RECORDS).build()?;
            let store = transaction.object_store(RECORDS)?;
            let values = store.get_all::<JsValue>().primitive()?.await?;
            values.map(|value| value.map(bytes_of)).collect()
        })
        .await
    }
}
