//! What a server holds in memory, and what its next start finds.

use super::vessel::{Vessel, store as put};
use super::*;
use journal::board;
use std::path::Path;
use std::time::Duration;

async fn opened(folder: &Path) -> (Arc<Fleet>, Arc<dyn RecordStore>) {
    let url = format!("sqlite:{}", folder.join("records.sqlite").display());
    let store = storage::open(&url).await.unwrap();
    let own = SoftKey::from_seed([7; 32]);
    let fleet = Fleet::open(Arc::clone(&store), Some(own)).await.unwrap();
    (Arc::new(fleet), store)
}

/// A ship that has worked so many runs, all closed but for the last two.
async fn worked(folder: &Path, runs: usize) -> Vessel {
    let (_, store) = opened(folder).await;
    let mut vessel = Vessel::new();
    let standing = vessel.standing();
    put(&store, standing).await.unwrap();
    for number in 0..runs {
        let run = vessel.run(12, number + 2 < runs);
        put(&store, run).await.unwrap();
    }
    store.close().await;
    vessel
}

/// What one page after the other shows, whatever is in memory.
async fn shown(fleet: &Fleet, now_ms: i64) -> Vec<String> {
    let vessel = fleet.own_vessel().unwrap();
    let mut pages = Vec::new();
    let mut board = fleet.board(vessel).await.unwrap();
    board.now_ms = 0;
    pages.push(format!("{:?}", board.vessel));
    let runs = fleet
        .with(vessel, |ledger| {
            ledger.runs().keys().copied().collect::<Vec<_>>()
        })
        .await
        .unwrap();
    for run in runs {
        let page = fleet.run_page(vessel, run, 99, now_ms).await.unwrap();
        pages.push(serde_json::to_string(&page.expect("it is here")).unwrap());
    }
    let defects = |ledger: &Ledger| board::vessel_card(ledger, now_ms);
    pages.push(format!("{:?}", fleet.with(vessel, defects).await.unwrap()));
    pages
}

const NOW_MS: i64 = 1_795_700_000_000;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_start_takes_what_was_kept_and_shows_what_the_records_show() {
    let folder = tempfile::tempdir().unwrap();
    worked(folder.path(), 120).await;
    // The first start finds records alone; the second what the first has kept.
    let (first, store) = opened(folder.path()).await;
    let (vessel, held) = (first.own_vessel().unwrap(), first.held().await);
    assert_eq!(held.runs, 2 + board::CLOSED_SHOWN, "{held:?}");
    assert_eq!(held.runs + held.away, 120);
    let from_records = shown(&first, NOW_MS).await;
    let rows = store.kept_runs(vessel, None, 999).await.unwrap();
    assert!(rows.len() >= held.away, "{} rows", rows.len());
    store.close().await;
    // What stands beside the runs has judged the rows already: it asks for none of them again.
    let url = format!("sqlite:{}", folder.path().join("records.sqlite").display());
    let store = storage::open(&url).await.unwrap();
    let own = SoftKey::from_seed([7; 32]);
    let runs = Runs::new(Some(&own));
    let ledger = super::opening::open(&store, &runs, own.public());
    assert_eq!(ledger.await.unwrap().wanted().count(), 0);
    store.close().await;
    let (second, store) = opened(folder.path()).await;
    assert_eq!(second.held().await, held);
    assert_eq!(shown(&second, NOW_MS).await, from_records);
    assert_eq!(
        second.recheck(Duration::ZERO).await.unwrap(),
        0,
        "nothing to mend"
    );
    let held = second.held().await;
    assert!(held.runs < 2 + board::CLOSED_SHOWN + 70, "{held:?}");
    store.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_somebody_else_wrote_beside_the_records_counts_for_nothing() {
    let folder = tempfile::tempdir().unwrap();
    worked(folder.path(), 40).await;
    let (first, store) = opened(folder.path()).await;
    let (vessel, honest) = (first.own_vessel().unwrap(), shown(&first, NOW_MS).await);
    // Another row's body, a seal that is turned, and a row that says that other records judge it.
    let mut rows = store.kept_runs(vessel, None, 999).await.unwrap();
    let count = rows.len();
    assert!(count > 9);
    let body = Arc::clone(&rows[1].body);
    rows[0].body = body;
    rows[2].mark.seal[5] ^= 1;
    rows[3].mark.standing[5] ^= 1;
    rows[4].body = rows[4].body[..40].into();
    store.keep_runs(vessel, rows, Vec::new()).await.unwrap();
    store.close().await;
    let (second, store) = opened(folder.path()).await;
    assert_eq!(shown(&second, NOW_MS).await, honest);
    store.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn records_that_came_after_a_row_was_kept_are_not_overlooked() {
    let folder = tempfile::tempdir().unwrap();
    let mut vessel = worked(folder.path(), 40).await;
    let (first, store) = opened(folder.path()).await;
    let own = first.own_vessel().unwrap();
    let oldest = first
        .with(own, |ledger| {
            let away = ledger.runs().values().filter(|file| file.is_away());
            away.map(|file| (file.newest_ms, file.id)).min()
        })
        .await
        .unwrap();
    let (_, run) = oldest.expect("one is put away");
    // The power goes between the store and the ledger: the store alone has it.
    let late = vessel.tick(run, "anchors-ready", 1);
    put(&store, vec![late.clone()]).await.unwrap();
    store.close().await;
    let (second, store) = opened(folder.path()).await;
    let page = second.run_page(own, run, 99, NOW_MS).await.unwrap();
    let page = page.expect("it is here");
    assert!(page.records.iter().any(|line| line.id == late.id()));
    // And through the front door the run is taken back by itself.
    let later = vessel.tick(run, "anchors-ready", 2);
    let reply = second.push(later.bytes(), own, None, None).await.unwrap();
    assert_eq!((reply.stored, reply.rejected.len()), (1, 0));
    let page = second.run_page(own, run, 99, NOW_MS).await.unwrap();
    let page = page.expect("it is here");
    assert!(page.records.iter().any(|line| line.id == later.id()));
    store.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_reads_does_not_wait_for_the_folding() {
    let folder = tempfile::tempdir().unwrap();
    let mut vessel = worked(folder.path(), 30).await;
    let (fleet, store) = opened(folder.path()).await;
    let own = fleet.own_vessel().unwrap();
    // A reader that never leaves keeps only those out who put something in, for a moment.
    let settings = vessel.settings(3);
    let page = settings.bytes().to_vec();
    let pushing = {
        let fleet = Arc::clone(&fleet);
        tokio::spawn(async move { fleet.push(&page, own, None, None).await })
    };
    let mut reads = 0_u32;
    while !pushing.is_finished() {
        let count = fleet.with(own, Ledger::len).await.unwrap();
        assert!(count > 300, "{count}");
        reads += 1;
        tokio::task::yield_now().await;
    }
    assert_eq!(pushing.await.unwrap().unwrap().stored, 1);
    assert!(reads > 0);
    // What runs were judged by at their start judges them still: none was folded for it.
    let wanted = fleet.with(own, |ledger| ledger.wanted().count()).await;
    assert_eq!(wanted.unwrap(), 0);
    store.close().await;
}
