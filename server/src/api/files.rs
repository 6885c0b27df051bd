//! Records as files: the signed records themselves as a CBOR sequence (RFC 8742), and a table as CSV.

use super::error::ApiError;
use crate::clock::now_ms;
use crate::export;
use crate::read_api::ReadError;
use crate::router::App;
use crate::session::Caller;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use journal::RunId;
use journal::access::Permission;
use journal::board;
use record::VesselId;

fn file(media_type: &'static str, name: &str, bytes: Vec<u8>) -> Response {
    let head = [
        (header::CONTENT_TYPE, media_type.to_owned()),
        (
            header::CONTENT_DISPOSITION,
            format!("attachment; filename=\"{name}\""),
        ),
        (header::CACHE_CONTROL, "no-store".to_owned()),
    ];
    (head, bytes).into_response()
}

fn named<T: std::str::FromStr>(text: &str) -> Result<T, ReadError> {
    text.parse()
        .map_err(|_| ReadError::BadName(text.to_owned()))
}

/// A vessel's records, with the keys that are needed to check them.
///
/// # Errors
/// [`ApiError`] if there is no such vessel.
pub async fn vessel_records(
    State(app): State<App>,
    caller: Caller,
    Path(vessel): Path<String>,
) -> Result<Response, ApiError> {
    let vessel: VesselId = named(&vessel)?;
    caller.require(Permission::Read, vessel, app.fleet.own_vessel())?;
    let bytes = export::whole(&app.fleet, vessel).await?;
    Ok(file(
        "application/cbor-seq",
        &format!("{vessel}.cborseq"),
        bytes,
    ))
}

/// One run's records, with the keys that are needed to check them.
///
/// # Errors
/// [`ApiError`] if there is no such run.
pub async fn run_records(
    State(app): State<App>,
    caller: Caller,
    Path((vessel, run)): Path<(String, String)>,
) -> Result<Response, ApiError> {
    let (vessel, run): (VesselId, RunId) = (named(&vessel)?, named(&run)?);
    caller.require(Permission::Read, vessel, app.fleet.own_vessel())?;
    let bytes = export::of_run(&app.fleet, vessel, run).await?;
    Ok(file(
        "application/cbor-seq",
        &format!("run-{run}.cborseq"),
        bytes,
    ))
}

/// One run as a table.
///
/// # Errors
/// [`ApiError`] if there is no such run.
pub async fn run_table(
    State(app): State<App>,
    caller: Caller,
    Path((vessel, run)): Path<(String, String)>,
) -> Result<Response, ApiError> {
    let (vessel, run): (VesselId, RunId) = (named(&vessel)?, named(&run)?);
    caller.require(Permission::Read, vessel, app.fleet.own_vessel())?;
    let page = app
        .fleet
        .with(vessel, |ledger| board::run_page(ledger, run, now_ms()))
        .await?;
    let table = export::csv(&page.ok_or(ReadError::NoRun(run))?);
    Ok(file(
        "text/csv; charset=utf-8",
        &format!("run-{run}.csv"),
        table.into_bytes(),
    ))
}
