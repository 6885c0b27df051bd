//! A vessel's log over HTTP: its signed head, proofs, and what others remember of it.

use super::error::ApiError;
use crate::clock::now_ms;
use crate::fleet::FleetError;
use crate::read_api::ReadError;
use crate::router::App;
use crate::session::Caller;
use axum::extract::{Path, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use journal::access::Permission;
use journal::log::{HeadAnswer, Showing};
use record::merkle::ConsistencyProof;
use record::{RecordId, VesselId, hex};
use serde::{Deserialize, Serialize};

/// How many proofs one question may ask for: one for each doubling of the largest log.
const MOST_PROOFS: usize = 64;

/// Makes the routes of the logs.
pub fn routes() -> Router<App> {
    Router::new()
        .route("/vessels/{vessel}/log/head", get(head))
        .route("/vessels/{vessel}/log/consistency", get(consistency))
        .route("/vessels/{vessel}/log/inclusion", get(inclusion))
        .route("/vessels/{vessel}/log/seen", post(seen))
}

fn vessel_of(name: &str) -> Result<VesselId, ReadError> {
    name.parse()
        .map_err(|_| ReadError::BadName(name.to_owned()))
}

fn not_here(words: String) -> ApiError {
    ApiError::with(StatusCode::NOT_FOUND, words)
}

/// The log's head: a C2SP checkpoint in a signed note.
async fn head(
    State(app): State<App>,
    caller: Caller,
    Path(vessel): Path<String>,
) -> Result<Response, ApiError> {
    let vessel = vessel_of(&vessel)?;
    caller.require(Permission::Read, vessel, app.fleet.own_vessel())?;
    app.fleet.with(vessel, |_| ()).await?;
    let signed = app.fleet.heads().head(vessel, now_ms()).await?;
    let head = [
        (header::CONTENT_TYPE, "text/plain; charset=utf-8"),
        (header::CACHE_CONTROL, "no-store"),
    ];
    Ok((head, signed.note).into_response())
}

#[derive(Debug, Deserialize)]
struct Span {
    /// Sizes, with commas between.
    from: String,
    to: u64,
}

/// Proofs that the log of each size `from` begins the log of size `to`.
async fn consistency(
    State(app): State<App>,
    caller: Caller,
    Path(vessel): Path<String>,
    Query(span): Query<Span>,
) -> Result<Json<Vec<ConsistencyProof>>, ApiError> {
    let vessel = vessel_of(&vessel)?;
    caller.require(Permission::Read, vessel, app.fleet.own_vessel())?;
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
    Ok(Json(proofs))
}

#[derive(Debug, Deserialize)]
struct Which {
    record: Option<RecordId>,
    leaf: Option<u64>,
    /// The size of the log in which it is proved; the newest if not given.
    size: Option<u64>,
}

/// A record's place in the log, with the path to the root of that size.
#[derive(Debug, Serialize)]
struct Included {
    leaf: u64,
    size: u64,
    root: String,
    path: Vec<String>,
}

async fn inclusion(
    State(app): State<App>,
    caller: Caller,
    Path(vessel): Path<String>,
    Query(which): Query<Which>,
) -> Result<Json<Included>, ApiError> {
    let vessel = vessel_of(&vessel)?;
    caller.require(Permission::Read, vessel, app.fleet.own_vessel())?;
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
    Ok(Json(Included {
        leaf,
        size,
        root: hex::encode(&head.root),
        path: path.iter().map(|hash| hex::encode(hash)).collect(),
    }))
}

/// Takes a head that a device remembers, or that a ship shows to her office.
async fn seen(
    State(app): State<App>,
    caller: Caller,
    Path(vessel): Path<String>,
    Json(showing): Json<Showing>,
) -> Result<Json<HeadAnswer>, ApiError> {
    let vessel = vessel_of(&vessel)?;
    caller.require(Permission::Sync, vessel, app.fleet.own_vessel())?;
    if showing.proofs.len() > MOST_PROOFS {
        return Err(ApiError::bad(format!(
            "at most {MOST_PROOFS} proofs at once"
        )));
    }
    Ok(Json(app.fleet.head_seen(vessel, &showing).await?))
}
