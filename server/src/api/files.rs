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

/// How many runs a vessel's table is made of at once.
const RUNS_AT_ONCE: usize = 32;

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
    let table = app.fleet.with_runs(
        call.vessel,
        |_| vec![run],
        |ledger| export::table::of_run(ledger, run, now_ms()),
    );
    let table = table.await?.ok_or(ReadError::NoRun(run))?;
    let name = called(&format!("run-{run}.csv"));
    Ok(Reply::<Csv>::text(table).with(CONTENT_DISPOSITION, &name))
}

/// Gives the register of the ship's gear out as a table.
///
/// # Errors
/// [`ApiError`] if there is no such vessel.
pub async fn gear_table(app: App, call: Call<0, ()>) -> Result<Reply<Csv>, ApiError> {
    let table = app.fleet.with(call.vessel, |ledger| {
        journal::gear::write_table(ledger.register())
    });
    Ok(Reply::<Csv>::text(table.await?).with(CONTENT_DISPOSITION, &called("gear.csv")))
}

/// Gives the ship's limits and cables out as a table.
///
/// # Errors
/// [`ApiError`] if there is no such vessel.
pub async fn limits_table(app: App, call: Call<0, ()>) -> Result<Reply<Csv>, ApiError> {
    let table = app.fleet.with(call.vessel, |ledger| {
        journal::limits_table::write_limits(&ledger.settings())
    });
    Ok(Reply::<Csv>::text(table.await?).with(CONTENT_DISPOSITION, &called("limits.csv")))
}

/// Gives all runs of a vessel out as one table.
///
/// # Errors
/// [`ApiError`] if there is no such vessel.
pub async fn vessel_table(app: App, call: Call<1, ()>) -> Result<Reply<Csv>, ApiError> {
    // The oldest first, some at a time: a vessel's whole history is not held in memory for a table.
    let runs = app.fleet.with(call.vessel, |ledger| {
        let mut runs: Vec<_> = ledger
            .runs()
            .values()
            .map(|file| {
                let begun = file.past.as_ref().map(|past| past.started_at_ms);
                (begun.unwrap_or(file.newest_ms), file.id)
            })
            .collect();
        runs.sort_unstable();
        runs.into_iter().map(|(_, run)| run).collect::<Vec<RunId>>()
    });
    let mut table = export::table::head();
    for some in runs.await?.chunks(RUNS_AT_ONCE) {
        let rows = app.fleet.with_runs(
            call.vessel,
            |_| some.to_vec(),
            |ledger| export::table::rows(ledger, some, now_ms()),
        );
        table.push_str(&rows.await?);
    }
    let name = called(&format!("{}.csv", call.vessel));
    Ok(Reply::<Csv>::text(table).with(CONTENT_DISPOSITION, &name))
}
