//! Sync over HTTP: `have` says what each side lacks, `push` and `pull` carry pages.

use super::error::ApiError;
use super::routes::{Call, Reply};
use crate::clock::now_ms;
use crate::fleet::FleetError;
use crate::router::App;
use axum::body::Bytes;
use journal::address::{Cbor, CborSequence};
use record::sync::{
    Have, HaveReply, MAX_PAGE_BYTES, MAX_PAGE_RECORDS, PullRequest, PushReply, diff,
};
use serde::Deserialize;

/// What the caller's clock says.
#[derive(Debug, Clone, Copy, Default, Deserialize)]
struct CallerClock {
    /// ms UTC.
    time: Option<i64>,
}

/// Says how far each chain is here, and what the caller has that is not.
///
/// # Errors
/// [`ApiError`] if the vessel is not here.
pub async fn have(app: App, call: Call<0, Have>) -> Result<Reply<Cbor<HaveReply>>, ApiError> {
    let clock: CallerClock = call.query()?;
    app.fleet.note_heard(call.caller.device, clock.time);
    let vector = app.fleet.catch_up(call.vessel).await?;
    let need = diff(&call.body.vector, &vector);
    Ok(Reply::<Cbor<HaveReply>>::message(&HaveReply {
        vector,
        need,
        server_time_ms: now_ms(),
    }))
}

/// Takes a page of records: a CBOR sequence.
///
/// # Errors
/// [`ApiError`] if the store fails; a bad record is answered for in the reply.
pub async fn push(app: App, call: Call<0, Bytes>) -> Result<Reply<Cbor<PushReply>>, ApiError> {
    let (clock, device): (CallerClock, _) = (call.query()?, call.caller.device);
    app.fleet.note_heard(device, clock.time);
    let offset_ms = clock.time.map(|time| time.saturating_sub(now_ms()));
    let reply = app
        .fleet
        .push(&call.body, call.vessel, Some(device), offset_ms)
        .await?;
    Ok(Reply::<Cbor<PushReply>>::message(&reply))
}

/// Gives a page of what the caller lacks: a CBOR sequence, empty when nothing is lacking.
///
/// # Errors
/// [`ApiError`] if the vessel is not here.
pub async fn pull(app: App, call: Call<0, PullRequest>) -> Result<Reply<CborSequence>, ApiError> {
    let request = call.body;
    app.fleet.with(call.vessel, |_| ()).await?;
    let max_bytes = usize::try_from(request.max_bytes)
        .unwrap_or(usize::MAX)
        .min(MAX_PAGE_BYTES);
    let rows = app
        .fleet
        .store()
        .lacking(call.vessel, &request.vector, max_bytes, MAX_PAGE_RECORDS)
        .await
        .map_err(FleetError::from)?;
    let page = rows.iter().flat_map(|row| row.bytes.iter().copied());
    Ok(Reply::records(page.collect()))
}
