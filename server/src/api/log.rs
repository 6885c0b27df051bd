//! A vessel's log over HTTP: its signed head, proofs, and what others remember of it.

use super::error::ApiError;
use super::routes::{Call, Reply};
use crate::clock::now_ms;
use crate::fleet::FleetError;
use crate::router::App;
use axum::http::StatusCode;
use journal::address::{Json, Text};
use journal::log::{HeadAnswer, Inclusion, Showing};
use record::merkle::ConsistencyProof;
use record::{RecordId, hex};
use serde::Deserialize;

/// How many proofs one question may ask for: one for each doubling of the largest log.
const MOST_PROOFS: usize = 64;

fn not_here(words: String) -> ApiError {
    ApiError::with(StatusCode::NOT_FOUND, words)
}

/// Gives the log's head out: a C2SP checkpoint in a signed note.
///
/// # Errors
/// [`ApiError`] if the vessel is not here, or its log has another standing than its store.
pub async fn head(app: App, call: Call<1, ()>) -> Result<Reply<Text>, ApiError> {
    app.fleet.with(call.vessel, |_| ()).await?;
    let signed = app.fleet.heads().head(call.vessel, now_ms()).await?;
    Ok(Reply::<Text>::text(signed.note))
}

#[derive(Debug, Deserialize)]
struct Span {
    /// Sizes, with commas between.
    from: String,
    to: u64,
}

/// Proves that the log of each size `from` begins the log of size `to`.
///
/// # Errors
/// [`ApiError`] if a size is none, or one that the log never had.
pub async fn consistency(
    app: App,
    call: Call<1, ()>,
) -> Result<Reply<Json<Vec<ConsistencyProof>>>, ApiError> {
    let (vessel, span) = (call.vessel, call.query::<Span>()?);
    app.fleet.with(vessel, |_| ()).await?;
    let mut from = Vec::new();
    for text in span.from.split(',') {
        let size: u64 = text
            .parse()
            .map_err(|_| ApiError::bad(format!("{text:?} is no size of a log")))?;
        from.push(size);
    }
    if from.len() > MOST_PROOFS {
        return Err(ApiError::bad(format!(
            "at most {MOST_PROOFS} proofs at once, not {}",
            from.len()
        )));
    }
    let proofs = app.fleet.heads().prove(vessel, &from, span.to).await?;
    if proofs.len() < from.len() {
        return Err(not_here(format!(
            "the log never had size {}, or one of {}",
            span.to, span.from
        )));
    }
    Reply::json(&proofs)
}

#[derive(Debug, Deserialize)]
struct Which {
    record: Option<RecordId>,
    leaf: Option<u64>,
    /// The size of the log in which it is proved; the newest if not given.
    size: Option<u64>,
}

/// Proves that a record stands in the log.
///
/// # Errors
/// [`ApiError`] if the question names neither a record nor a leaf, or one that is not in the log.
pub async fn inclusion(app: App, call: Call<1, ()>) -> Result<Reply<Json<Inclusion>>, ApiError> {
    let (vessel, which) = (call.vessel, call.query::<Which>()?);
    app.fleet.with(vessel, |_| ()).await?;
    let store = &**app.fleet.store();
    let leaf = match (which.record, which.leaf) {
        (Some(record), None) => store
            .leaf_of(vessel, record)
            .await
            .map_err(FleetError::from)?
            .ok_or_else(|| not_here(format!("record {record} is not in the log")))?,
        (None, Some(leaf)) => leaf,
        _ => return Err(ApiError::bad("name either a record or a leaf")),
    };
    let size = match which.size {
        Some(size) => size,
        None => store.log_size(vessel).await.map_err(FleetError::from)?,
    };
    let head = storage::log::head_at(store, vessel, size)
        .await
        .map_err(FleetError::from)?;
    let path = storage::log::inclusion_of_leaf(store, vessel, leaf, size)
        .await
        .map_err(FleetError::from)?;
    let (Some(head), Some(path)) = (head, path) else {
        return Err(not_here(format!(
            "leaf {leaf} is not in the log of size {size}"
        )));
    };
    Reply::json(&Inclusion {
        leaf,
        size,
        root: hex::encode(&head.root),
        path: path.iter().map(|hash| hex::encode(hash)).collect(),
    })
}

/// Takes a head that a device remembers, or that a ship shows to her office.
///
/// # Errors
/// [`ApiError`] if more proofs came than one question may bring, or the head cannot be read.
pub async fn seen(app: App, call: Call<1, Showing>) -> Result<Reply<Json<HeadAnswer>>, ApiError> {
    if call.body.proofs.len() > MOST_PROOFS {
        return Err(ApiError::bad(format!(
            "at most {MOST_PROOFS} proofs at once"
        )));
    }
    Reply::json(&app.fleet.head_seen(call.vessel, &call.body).await?)
}
