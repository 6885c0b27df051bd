//! Sync over HTTP: `have` says what each side lacks, `push` and `pull` carry pages.

use super::error::ApiError;
use crate::clock::now_ms;
use crate::fleet::FleetError;
use crate::router::App;
use crate::session::Caller;
use axum::body::Bytes;
use axum::extract::{Query, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use journal::access::Permission;
use record::VesselId;
use record::sync::{Have, HaveReply, MAX_PAGE_BYTES, MAX_PAGE_RECORDS, PullRequest, diff};
use serde::Deserialize;

/// What the caller's clock says.
#[derive(Debug, Clone, Copy, Default, Deserialize)]
pub struct Clock {
    /// ms UTC.
    time: Option<i64>,
}

fn cbor(bytes: Vec<u8>) -> Response {
    (
        [
            (header::CONTENT_TYPE, "application/cbor"),
            (header::CACHE_CONTROL, "no-store"),
        ],
        bytes,
    )
        .into_response()
}

fn may_sync(app: &App, caller: &Caller, vessel: VesselId) -> Result<(), ApiError> {
    caller.require(Permission::Sync, vessel, app.fleet.own_vessel())
}

/// Says how far each chain is here, and what the caller has that is not.
///
/// # Errors
/// [`ApiError`] if the caller may not, the question cannot be read, or the vessel is not here.
pub async fn have(
    State(app): State<App>,
    caller: Caller,
    Query(clock): Query<Clock>,
    body: Bytes,
) -> Result<Response, ApiError> {
    let have = Have::decode(&body).map_err(|refusal| ApiError::bad(refusal.to_string()))?;
    may_sync(&app, &caller, have.vessel)?;
    app.fleet.note_heard(caller.device, clock.time);
    app.fleet.with(have.vessel, |_| ()).await?;
    let vector = app
        .fleet
        .store()
        .vector(have.vessel)
        .await
        .map_err(FleetError::from)?;
    let need = diff(&have.vector, &vector);
    Ok(cbor(
        HaveReply {
            vector,
            need,
            server_time_ms: now_ms(),
        }
        .encode(),
    ))
}

/// Takes a page of records: a CBOR sequence.
///
/// # Errors
/// [`ApiError`] if the store fails; a bad record is answered for in the reply.
pub async fn push(
    State(app): State<App>,
    caller: Caller,
    Query(clock): Query<Clock>,
    body: Bytes,
) -> Result<Response, ApiError> {
    may_sync(&app, &caller, caller.vessel)?;
    app.fleet.note_heard(caller.device, clock.time);
    let offset_ms = clock.time.map(|time| time.saturating_sub(now_ms()));
    Ok(cbor(
        app.fleet
            .push(&body, caller.vessel, Some(caller.device), offset_ms)
            .await?
            .encode(),
    ))
}

/// Gives a page of what the caller lacks: a CBOR sequence, empty when nothing is lacking.
///
/// # Errors
/// [`ApiError`] if the caller may not, the question cannot be read, or the vessel is not here.
pub async fn pull(
    State(app): State<App>,
    caller: Caller,
    body: Bytes,
) -> Result<Response, ApiError> {
    let request =
        PullRequest::decode(&body).map_err(|refusal| ApiError::bad(refusal.to_string()))?;
    may_sync(&app, &caller, request.vessel)?;
    app.fleet.with(request.vessel, |_| ()).await?;
    let max_bytes = usize::try_from(request.max_bytes)
        .unwrap_or(usize::MAX)
        .min(MAX_PAGE_BYTES);
    let rows = app
        .fleet
        .store()
        .lacking(request.vessel, &request.vector, max_bytes, MAX_PAGE_RECORDS)
        .await
        .map_err(FleetError::from)?;
    let page: Vec<u8> = rows
        .iter()
        .flat_map(|row| row.bytes.iter().copied())
        .collect();
    let head = [
        (header::CONTENT_TYPE, "application/cbor-seq"),
        (header::CACHE_CONTROL, "no-store"),
    ];
    Ok((head, page).into_response())
}
