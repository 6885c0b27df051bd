//! Records as files: the signed records themselves as a CBOR sequence (RFC 8742), and a table as CSV.

use super::error::ApiError;
use super::routes::{Call, Reply, named};
use crate::clock::now_ms;
use crate::export;
use crate::read_api::ReadError;
use crate::router::App;
use axum::http::header::CONTENT_DISPOSITION;
use journal::RunId;
use journal::address::{CborSequence, Csv};

fn called(name: &str) -> String {
    format!("attachment; filename=\"{name}\"")
}

/// Gives a vessel's records out, with the keys that are needed to check them.
///
/// # Errors
/// [`ApiError`] if there is no such vessel.
pub async fn vessel_records(app: App, call: Call<1, ()>) -> Result<Reply<CborSequence>, ApiError> {
    let bytes = export::whole(&app.fleet, call.vessel).await?;
    let name = called(&format!("{}.cborseq", call.vessel));
    Ok(Reply::records(bytes).with(CONTENT_DISPOSITION, &name))
}

/// Gives one run's records out, with the keys that are needed to check them.
///
/// # Errors
/// [`ApiError`] if there is no such run.
pub async fn run_records(app: App, call: Call<2, ()>) -> Result<Reply<CborSequence>, ApiError> {
    let run: RunId = named(&call.path[1])?;
    let bytes = export::of_run(&app.fleet, call.vessel, run).await?;
    let name = called(&format!("run-{run}.cborseq"));
    Ok(Reply::records(bytes).with(CONTENT_DISPOSITION, &name))
}

/// Gives one run out as a table.
///
/// # Errors
/// [`ApiError`] if there is no such run.
pub async fn run_table(app: App, call: Call<2, ()>) -> Result<Reply<Csv>, ApiError> {
    let run: RunId = named(&call.path[1])?;
    let page = app.fleet.run_page(call.vessel, run, usize::MAX, now_ms());
    let page = page.await?;
    let table = export::csv(&page.ok_or(ReadError::NoRun(run))?);
    let name = called(&format!("run-{run}.csv"));
    Ok(Reply::<Csv>::text(table).with(CONTENT_DISPOSITION, &name))
}
