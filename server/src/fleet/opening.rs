//! What a server finds when it starts: the runs as they were kept, and the records of the others.

use super::FleetError;
use super::runs::back::{aside, on_every_processor};
use super::runs::{Rows, Runs, Seal, standing};
use crate::clock::on_record;
use journal::ledger::KeptRun;
use journal::{Ledger, RunId, board};
use record::{Envelope, PublicKey, RecordId, VesselId};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use storage::{KeptRow, RecordStore, Stored};

/// How many records are read at once.
const READ_AT_ONCE: usize = 2_000;
/// How many rows of what is kept are read at once.
const ROWS_AT_ONCE: usize = 200;

/// Takes up what the store gives back.
pub(super) fn take_up(ledger: &mut Ledger, rows: &[Stored]) {
    // What this server has put on record is not to come.
    if let Some(newest_ms) = rows.iter().map(|row| row.received_ms).max() {
        on_record(newest_ms);
    }
    let batch = rows.iter().filter_map(|row| {
        let envelope = Envelope::decode(&row.bytes).ok()?;
        Some((envelope, Some(row.received_ms)))
    });
    for refusal in ledger
        .take_up_all(batch)
        .into_iter()
        .filter_map(Result::err)
    {
        tracing::error!(vessel = %ledger.vessel(), %refusal, "a stored record does not verify");
    }
}

/// Folds what is new. Runs that are put away were judged with all that began before them.
fn fold(ledger: &mut Ledger) {
    let folds = ledger.fold_changed().leave_away();
    ledger.settle(folds);
}

/// Makes a vessel's ledger of what the store has: closed runs from what was kept of them, where that still fits the
/// records, and the rest from the records.
pub(super) async fn open(
    store: &Arc<dyn RecordStore>,
    runs: &Runs,
    authority: PublicKey,
) -> Result<Ledger, FleetError> {
    let mut ledger = Ledger::new(authority);
    let vessel = ledger.vessel();
    let mut apart: Vec<Stored> = Vec::new();
    loop {
        let after = apart.last().map_or(0, |row| row.arrival);
        let rows = store.apart(vessel, after, READ_AT_ONCE).await?;
        if rows.is_empty() {
            break;
        }
        apart.extend(rows);
    }
    let mut starts: Vec<RunId> = Vec::new();
    let mut standing_ones: Vec<RecordId> = Vec::new();
    for envelope in apart
        .iter()
        .filter_map(|row| Envelope::decode(&row.bytes).ok())
    {
        if journal::ledger::is_standing(envelope.kind()) {
            standing_ones.push(envelope.id());
        } else if envelope.kind() == journal::body::kind::RUN {
            starts.push(envelope.id());
        }
    }
    let sizes: BTreeMap<RunId, u64> = store.runs(vessel).await?.into_iter().collect();
    let standing = standing(standing_ones);
    let digests = take_kept(store, runs, &mut ledger, standing, &sizes).await?;
    take_up(&mut ledger, &apart);
    // The rows that were taken were judged by the same.
    ledger.leave_judged();
    drop(apart);
    runs.rows().insert(vessel, Rows { standing, digests });
    fold(&mut ledger);
    // The rest in the order in which it began, so that each is judged with what began before it.
    let begun: BTreeSet<RunId> = starts.iter().copied().collect();
    let orphans = sizes.keys().copied().filter(|run| !begun.contains(run));
    let rest: Vec<RunId> = starts.into_iter().chain(orphans).collect();
    let mut waiting = 0;
    for run in rest {
        if ledger
            .run(run)
            .is_some_and(journal::ledger::RunFile::is_away)
            || !sizes.contains_key(&run)
        {
            continue;
        }
        let rows = store.run(vessel, run).await?;
        waiting += rows.len();
        take_up(&mut ledger, &rows);
        if waiting >= READ_AT_ONCE {
            waiting = 0;
            fold(&mut ledger);
            put_away(store, runs, &mut ledger, standing).await;
        }
    }
    take_up(&mut ledger, &store.forks(vessel).await?);
    fold(&mut ledger);
    put_away(store, runs, &mut ledger, standing).await;
    Ok(ledger)
}

/// Takes up what was kept of runs, where it is sealed, of these records and judged by those that stand now.
async fn take_kept(
    store: &Arc<dyn RecordStore>,
    runs: &Runs,
    ledger: &mut Ledger,
    standing: [u8; 32],
    sizes: &BTreeMap<RunId, u64>,
) -> Result<BTreeMap<RunId, [u8; 32]>, FleetError> {
    let (vessel, seal) = (ledger.vessel(), runs.seal());
    let mut digests = BTreeMap::new();
    let mut after = None;
    loop {
        let rows = store.kept_runs(vessel, after, ROWS_AT_ONCE).await?;
        let Some(last) = rows.last() else {
            return Ok(digests);
        };
        after = Some(last.mark.run);
        let read = move |row: KeptRow| read(&row, seal, vessel, &standing);
        let read = aside(move || on_every_processor(rows, read)).await;
        for (kept, digest) in read.into_iter().flatten() {
            let run = kept.run();
            let size = sizes.get(&run).copied().unwrap_or(0) + 1;
            if u64::try_from(kept.len()) == Ok(size) && ledger.take_kept(&kept) {
                if let Some(newest_ms) = kept.received_ms() {
                    on_record(newest_ms);
                }
                digests.insert(run, digest);
            }
        }
    }
}

/// Reads a row with its digest, if it is sealed, of that run and judged by those records.
fn read(
    row: &KeptRow,
    seal: Seal,
    vessel: VesselId,
    standing: &[u8; 32],
) -> Option<(KeptRun, [u8; 32])> {
    let run = row.mark.run;
    let digest: [u8; 32] = Sha256::digest(&row.body).into();
    let is_sealed = row.mark.seal == seal.of(vessel, run, &row.mark.standing, &digest);
    if !is_sealed || row.mark.standing != *standing {
        return None;
    }
    let kept = KeptRun::decode(&row.body)?;
    (kept.run() == run).then_some((kept, digest))
}

/// Puts away what is closed, so that a start never holds more than a server that runs.
async fn put_away(
    store: &Arc<dyn RecordStore>,
    runs: &Runs,
    ledger: &mut Ledger,
    standing: [u8; 32],
) {
    let kept = ledger.may_be_put_away(board::CLOSED_SHOWN).into_iter();
    let kept: Vec<KeptRun> = kept.filter_map(|run| ledger.kept(run)).collect();
    let vessel = ledger.vessel();
    let rows = runs.rows_of(vessel, standing, &kept);
    if !rows.is_empty()
        && let Err(error) = store.keep_runs(vessel, rows, Vec::new()).await
    {
        tracing::warn!(%vessel, %error, "what the runs come to is not kept");
    }
    for kept in &kept {
        ledger.put_away(kept);
    }
}
