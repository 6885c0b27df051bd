//! The promises, each for any store.

use std::collections::BTreeSet;
use std::sync::Arc;

use record::merkle::{Tree, leaf_hash, verify_consistency, verify_inclusion};
use record::{Draft, Envelope, RecordId, Vector, VerifiedRecord, VesselId};
use storage::{Appended, KeptMark, KeptRow, Quarantined, RecordStore, StorageError, Stored};

use super::crew::{NOON_MS, arrival, arrivals, chain, chain_from, draft, key, sign, vessel};

type Store = Arc<dyn RecordStore>;

/// Tries every promise on an empty store, which it closes.
pub async fn all_hold(store: Store) {
    empty_store_answers_with_nothing(&store).await;
    records_come_back_as_they_came(&store).await;
    storing_again_changes_nothing(&store).await;
    gaps_fill_whatever_the_order(&store).await;
    forks_are_kept_beside(&store).await;
    pages_carry_what_is_lacking(&store).await;
    page_after_page_brings_everything(&store).await;
    runs_hold_their_start(&store).await;
    what_is_kept_of_runs_comes_back_and_is_written_over(&store).await;
    vessels_are_kept_apart(&store).await;
    refused_bytes_are_kept_once(&store).await;
    what_is_refused_fills_no_disk(&store).await;
    notes_are_written_over(&store).await;
    of_those_who_change_a_note_at_once_none_is_lost(&store).await;
    many_at_once_are_all_stored_once(&store).await;
    for vessel in store.vessels().await.unwrap() {
        log_is_the_tree_of_what_arrived(&store, vessel).await;
    }
    closed_store_says_so(&store).await;
}

fn ids(stored: &[Stored]) -> Vec<RecordId> {
    stored
        .iter()
        .map(|stored| Envelope::decode(&stored.bytes).unwrap().id())
        .collect()
}

fn ids_of(records: &[VerifiedRecord]) -> Vec<RecordId> {
    records.iter().map(|record| record.id()).collect()
}

async fn height(store: &Store, record: &VerifiedRecord) -> u64 {
    let vector = store.vector(record.vessel()).await.unwrap();
    vector.get(&record.device()).copied().unwrap_or(0)
}

async fn empty_store_answers_with_nothing(store: &Store) {
    store.check().await.unwrap();
    assert_eq!(store.vessels().await.unwrap(), []);
    assert_eq!(store.vector(vessel()).await.unwrap(), Vector::new());
    assert_eq!(
        store.chain_end(vessel(), key(1).device()).await.unwrap(),
        None
    );
    assert_eq!(
        store
            .lacking(vessel(), &Vector::new(), 1000, 10)
            .await
            .unwrap(),
        []
    );
    assert_eq!(store.arrivals(vessel(), 0, 10).await.unwrap(), []);
    assert_eq!(store.append(vec![]).await.unwrap(), []);
    assert_eq!(store.note("authority").await.unwrap(), None);
}

async fn records_come_back_as_they_came(store: &Store) {
    let records = chain(&key(1), 3);
    let appended = store.append(arrivals(&records)).await.unwrap();
    assert_eq!(appended, [Appended::Stored; 3]);
    let stored = store.arrivals(vessel(), 0, 10).await.unwrap();
    assert_eq!(ids(&stored), ids_of(&records));
    for (stored, record) in stored.iter().zip(&records) {
        assert_eq!(&*stored.bytes, record.bytes());
        assert_eq!(
            (stored.received_ms, stored.offset_ms),
            (NOON_MS + 500, Some(-250))
        );
    }
    assert!(stored.is_sorted_by(|a, b| a.arrival < b.arrival));
    assert_eq!(
        ids(&store
            .arrivals(vessel(), stored[0].arrival, 1)
            .await
            .unwrap()),
        [records[1].id()]
    );
    let end = store.chain_end(vessel(), key(1).device()).await.unwrap();
    assert_eq!(end, Some((3, records[2].id())));
    assert_eq!(store.vessels().await.unwrap(), [vessel()]);
}

async fn storing_again_changes_nothing(store: &Store) {
    let record = chain(&key(2), 1).remove(0);
    let twice = store
        .append(vec![arrival(&record), arrival(&record)])
        .await
        .unwrap();
    assert_eq!(twice, [Appended::Stored, Appended::AlreadyStored]);
    let before = store.arrivals(vessel(), 0, 100).await.unwrap();
    assert_eq!(
        store.append(vec![arrival(&record)]).await.unwrap(),
        [Appended::AlreadyStored]
    );
    assert_eq!(store.arrivals(vessel(), 0, 100).await.unwrap(), before);
}

async fn gaps_fill_whatever_the_order(store: &Store) {
    let records = chain(&key(3), 5);
    for (at, expected) in [(4, 0), (1, 0), (0, 2), (3, 2), (2, 5)] {
        let appended = store.append(vec![arrival(&records[at])]).await.unwrap();
        assert_eq!(appended, [Appended::Stored]);
        assert_eq!(
            height(store, &records[at]).await,
            expected,
            "after record {}",
            at + 1
        );
    }
    let end = store.chain_end(vessel(), key(3).device()).await.unwrap();
    assert_eq!(end, Some((5, records[4].id())));
}

async fn forks_are_kept_beside(store: &Store) {
    let records = chain(&key(4), 3);
    let other = Draft {
        kind: "other".into(),
        ..draft(&key(4), Some(&records[0]))
    };
    let other = sign(&key(4), other);
    let after = sign(&key(4), draft(&key(4), Some(&other)));
    store.append(arrivals(&records[..2])).await.unwrap();
    let fork = Appended::Fork {
        known: records[1].id(),
    };
    let batch = [other.clone(), after.clone(), records[2].clone()];
    let appended = store.append(arrivals(&batch)).await.unwrap();
    assert_eq!(appended, [fork, fork, Appended::Stored]);
    let again = store
        .append(arrivals(std::slice::from_ref(&other)))
        .await
        .unwrap();
    assert_eq!(again, [Appended::AlreadyStored]);
    assert_eq!(height(store, &other).await, 3);
    let forks = store.forks(vessel()).await.unwrap();
    assert_eq!(ids(&forks), [other.id(), after.id()]);
    let everything = ids(&store.arrivals(vessel(), 0, 100).await.unwrap());
    assert!(!everything.contains(&other.id()) && everything.contains(&records[2].id()));
}

async fn pages_carry_what_is_lacking(store: &Store) {
    let records = chain(&key(5), 6);
    // The last one waits for number 5 and travels to nobody yet.
    let batch: Vec<_> = [5, 1, 2, 0, 3].map(|at| arrival(&records[at])).into();
    store.append(batch).await.unwrap();
    let mut theirs = store.vector(vessel()).await.unwrap();
    assert_eq!(
        store.lacking(vessel(), &theirs, 10_000, 10).await.unwrap(),
        []
    );
    theirs.remove(&key(5).device());
    let page = |max_bytes, max_records| store.lacking(vessel(), &theirs, max_bytes, max_records);
    assert_eq!(
        ids(&page(1 << 20, 100).await.unwrap()),
        ids_of(&records[..4])
    );
    assert_eq!(ids(&page(1 << 20, 2).await.unwrap()), ids_of(&records[..2]));
    assert_eq!(ids(&page(1, 100).await.unwrap()), ids_of(&records[..1]));
    let two = records[0].bytes().len() + records[1].bytes().len();
    assert_eq!(ids(&page(two, 100).await.unwrap()), ids_of(&records[..2]));
    theirs.insert(key(5).device(), 99);
    assert_eq!(
        store
            .lacking(vessel(), &theirs, 1 << 20, 100)
            .await
            .unwrap(),
        []
    );
}

async fn page_after_page_brings_everything(store: &Store) {
    let mut theirs = Vector::new();
    let mut known = BTreeSet::new();
    loop {
        let page = store.lacking(vessel(), &theirs, 600, 3).await.unwrap();
        if page.is_empty() {
            break;
        }
        for stored in page {
            let record = Envelope::decode(&stored.bytes).unwrap();
            let height = theirs.entry(record.device()).or_default();
            assert_eq!(record.seq(), *height + 1, "a page has no gaps");
            *height += 1;
            assert!(known.insert(record.id()), "no record travels twice");
        }
    }
    assert_eq!(theirs, store.vector(vessel()).await.unwrap());
}

async fn runs_hold_their_start(store: &Store) {
    let start = chain(&key(6), 1).remove(0);
    let steps = chain_from(&key(6), Some(&start), 2, Some(start.id()));
    let helper = chain_from(&key(7), None, 2, Some(start.id()));
    let other = chain_from(&key(6), steps.last(), 1, Some(RecordId([9; 32])));
    let all = [vec![start.clone()], steps.clone(), helper.clone(), other].concat();
    store.append(arrivals(&all)).await.unwrap();
    let run = store.run(vessel(), start.id()).await.unwrap();
    assert_eq!(
        ids(&run),
        ids_of(&[vec![start.clone()], steps, helper].concat())
    );
    assert_eq!(store.run(VesselId([8; 16]), start.id()).await.unwrap(), []);
    assert_eq!(store.run(vessel(), RecordId([1; 32])).await.unwrap(), []);
    // How many belong to each run, and what belongs to none.
    let runs = store.runs(vessel()).await.unwrap();
    let count = |run: RecordId| runs.iter().find(|(known, _)| *known == run);
    assert_eq!(count(start.id()).map(|(_, count)| *count), Some(4));
    assert_eq!(count(RecordId([9; 32])).map(|(_, count)| *count), Some(1));
    let apart = store.apart(vessel(), 0, 999).await.unwrap();
    assert!(ids(&apart).contains(&start.id()));
    let is_apart = |row: &Stored| Envelope::decode(&row.bytes).unwrap().run().is_none();
    assert!(apart.iter().all(is_apart));
    let last = apart[apart.len() - 2].arrival;
    assert_eq!(store.apart(vessel(), last, 999).await.unwrap().len(), 1);
}

async fn what_is_kept_of_runs_comes_back_and_is_written_over(store: &Store) {
    let row = |number: u8, standing: u8, body: &[u8]| KeptRow {
        mark: KeptMark {
            run: RecordId([number; 32]),
            standing: [standing; 32],
            seal: [standing ^ number; 32],
        },
        body: body.into(),
    };
    let rows: Vec<KeptRow> = (1..=5).map(|number| row(number, 1, b"closed")).collect();
    store
        .keep_runs(vessel(), rows.clone(), vec![])
        .await
        .unwrap();
    let first = store.kept_runs(vessel(), None, 3).await.unwrap();
    assert_eq!(first, rows[..3]);
    let after = first.last().map(|row| row.mark.run);
    let second = store.kept_runs(vessel(), after, 3).await.unwrap();
    assert_eq!(second, rows[3..]);
    assert_eq!(
        store
            .kept_runs(VesselId([0xee; 16]), None, 3)
            .await
            .unwrap(),
        []
    );
    // A row is written over, others are only marked anew, and a mark without a row makes none.
    let changed = row(2, 7, b"closed, and struck out since");
    let marks = [1, 3, 4, 5, 9].map(|number| row(number, 7, b"").mark);
    let change = store.keep_runs(vessel(), vec![changed.clone()], marks.to_vec());
    change.await.unwrap();
    let all = store.kept_runs(vessel(), None, 99).await.unwrap();
    assert_eq!(all.len(), 5);
    assert!(all.iter().all(|row| row.mark.standing == [7; 32]));
    assert_eq!((&all[1], &all[0].body), (&changed, &rows[0].body));
}

async fn vessels_are_kept_apart(store: &Store) {
    let sister = VesselId([1; 16]);
    let record = sign(
        &key(1),
        Draft {
            vessel: sister,
            ..draft(&key(1), None)
        },
    );
    let before = store.vector(vessel()).await.unwrap();
    assert_eq!(
        store
            .append(arrivals(std::slice::from_ref(&record)))
            .await
            .unwrap(),
        [Appended::Stored]
    );
    assert_eq!(store.vector(vessel()).await.unwrap(), before);
    assert_eq!(
        store.vector(sister).await.unwrap(),
        [(key(1).device(), 1)].into()
    );
    assert_eq!(
        ids(&store.arrivals(sister, 0, 10).await.unwrap()),
        [record.id()]
    );
    assert_eq!(store.vessels().await.unwrap(), [sister, vessel()]);
    assert_eq!(store.forks(sister).await.unwrap(), []);
}

async fn refused_bytes_are_kept_once(store: &Store) {
    let refused = |byte: u8, len: usize| Quarantined {
        bytes: vec![byte; len].into(),
        reason: format!("byte {byte} is no record"),
        received_ms: NOON_MS + i64::from(byte),
    };
    // As large as a record may be: no index may choke on it.
    for (byte, len) in [(1, 10), (2, 65_536), (1, 10), (2, 65_536), (0, 0)] {
        let refused = vec![(Some(vessel()), refused(byte, len))];
        store.quarantine(refused).await.unwrap();
    }
    let kept = store.quarantined(10).await.unwrap();
    assert_eq!(kept, [refused(0, 0), refused(2, 65_536), refused(1, 10)]);
    assert_eq!(store.quarantined(1).await.unwrap(), [refused(0, 0)]);
    store.quarantine(vec![(None, refused(3, 3))]).await.unwrap();
    assert_eq!(store.quarantined(10).await.unwrap().len(), 4);
}

async fn what_is_refused_fills_no_disk(store: &Store) {
    let refused = |n: u32, len: usize, received_ms: i64| {
        let mut bytes = n.to_be_bytes().to_vec();
        bytes.resize(len, 7);
        let refused = Quarantined {
            bytes: bytes.into(),
            reason: "no record".to_owned(),
            received_ms,
        };
        (None, refused)
    };
    // A page's worth at a time, as a hostile sender would.
    for page in 0..10 {
        let page = (0..200).map(|n| refused(page * 200 + n, 64, NOON_MS));
        store.quarantine(page.collect()).await.unwrap();
    }
    let newest = refused(9_999, 64, NOON_MS);
    store.quarantine(vec![newest.clone()]).await.unwrap();
    let kept = store.quarantined(10_000).await.unwrap();
    assert!(kept.len() <= 1_001, "{} are kept", kept.len());
    assert_eq!(kept[0], newest.1, "the newest stays");
    // Large ones, then one more, which finds them over the bound.
    let large = (0..100).map(|n| refused(20_000 + n, 65_536, NOON_MS));
    store.quarantine(large.collect()).await.unwrap();
    store
        .quarantine(vec![refused(30_000, 4, NOON_MS)])
        .await
        .unwrap();
    let kept = store.quarantined(10_000).await.unwrap();
    let bytes: usize = kept.iter().map(|refused| refused.bytes.len()).sum();
    assert!(bytes <= 4 * 1024 * 1024 + 4, "{bytes} bytes are kept");
    // A year on nothing of it is left but what came then.
    let later = refused(40_000, 4, NOON_MS + 365 * 86_400_000);
    store.quarantine(vec![later.clone()]).await.unwrap();
    assert_eq!(store.quarantined(10).await.unwrap(), [later.1]);
}

async fn notes_are_written_over(store: &Store) {
    store.set_note("pins", &[1, 2]).await.unwrap();
    store.set_note("pins", &[]).await.unwrap();
    store.set_note("codes", &[0, 255]).await.unwrap();
    assert_eq!(store.note("pins").await.unwrap(), Some(vec![]));
    assert!(
        store.has_note("pins").await.unwrap(),
        "an empty note is one"
    );
    assert!(!store.has_note("pin").await.unwrap());
    assert_eq!(store.note("codes").await.unwrap(), Some(vec![0, 255]));
}

async fn of_those_who_change_a_note_at_once_none_is_lost(store: &Store) {
    let name = "tally";
    assert!(!store.swap_note(name, Some(&[]), &[1]).await.unwrap());
    assert!(store.swap_note(name, None, &[]).await.unwrap());
    assert!(!store.swap_note(name, None, &[1]).await.unwrap());
    let adders = (0..8_u8).map(|number| {
        let store = Store::clone(store);
        tokio::spawn(async move {
            loop {
                let before = store.note(name).await.unwrap().unwrap();
                let mut after = before.clone();
                after.push(number);
                if store.swap_note(name, Some(&before), &after).await.unwrap() {
                    return;
                }
            }
        })
    });
    for adder in adders.collect::<Vec<_>>() {
        adder.await.unwrap();
    }
    let mut all = store.note(name).await.unwrap().unwrap();
    all.sort_unstable();
    assert_eq!(all, (0..8).collect::<Vec<u8>>());
}

async fn many_at_once_are_all_stored_once(store: &Store) {
    let chains: Vec<_> = (20..28).map(|number| chain(&key(number), 30)).collect();
    let mut tasks = Vec::new();
    // Every record is brought twice, each chain in its own order.
    for turn in 0..2 {
        for records in &chains {
            let mut records = records.clone();
            if turn == 1 {
                records.reverse();
            }
            let store = Arc::clone(store);
            tasks.push(tokio::spawn(async move {
                let mut new = 0;
                for batch in records.chunks(7) {
                    let appended = store.append(arrivals(batch)).await.unwrap();
                    new += appended
                        .iter()
                        .filter(|one| **one == Appended::Stored)
                        .count();
                }
                new
            }));
        }
    }
    let mut new = 0;
    for task in tasks {
        new += task.await.unwrap();
    }
    assert_eq!(new, 8 * 30);
    for records in &chains {
        assert_eq!(height(store, &records[0]).await, 30);
    }
}

/// Every record of the vessel, forks too, is in her log, and the log proves it.
pub async fn log_is_the_tree_of_what_arrived(store: &Store, vessel: VesselId) {
    let logged = store.logged(vessel, 0, 10_000).await.unwrap();
    let mut all = store.arrivals(vessel, 0, 10_000).await.unwrap();
    all.extend(store.forks(vessel).await.unwrap());
    all.sort_by_key(|stored| stored.arrival);
    let mut tree = Tree::default();
    assert_eq!(logged.len(), all.len());
    for (logged, stored) in logged.iter().zip(&all) {
        assert_eq!(&logged.stored, stored, "the order is that of arrival");
        let id = Envelope::decode(&stored.bytes).unwrap().id();
        let leaf = tree.append(leaf_hash(id.as_bytes()));
        assert_eq!(logged.leaf, leaf);
        assert_eq!(store.leaf_of(vessel, id).await.unwrap(), Some(leaf));
    }
    let head = storage::log::head(&**store, vessel).await.unwrap();
    assert_eq!((head.size, head.root), (tree.size(), tree.root()));
    for step in 0..20 {
        let earlier = tree.size() * step / 20;
        let size = tree.size() - (tree.size() - earlier) / 3;
        proofs_hold(store, vessel, &tree, earlier, size).await;
    }
    let beyond = tree.size() + 1;
    let inclusion = storage::log::inclusion_of_leaf(&**store, vessel, 0, beyond);
    assert_eq!(inclusion.await.unwrap(), None);
    let consistency = storage::log::consistency(&**store, vessel, 1, beyond);
    assert_eq!(consistency.await.unwrap(), None);
    let stranger = store.leaf_of(vessel, RecordId([0xee; 32]));
    assert_eq!(stranger.await.unwrap(), None);
}

async fn proofs_hold(store: &Store, vessel: VesselId, tree: &Tree, earlier: u64, size: u64) {
    let old = storage::log::head_at(&**store, vessel, earlier).await;
    let old = old.unwrap().unwrap();
    assert_eq!(Some(old.root), tree.root_at(earlier));
    let new = storage::log::head_at(&**store, vessel, size).await;
    let new = new.unwrap().unwrap();
    let proof = storage::log::consistency(&**store, vessel, earlier, size).await;
    verify_consistency(&old, &new, &proof.unwrap().unwrap()).unwrap();
    let stored = store.logged(vessel, earlier, 1).await.unwrap().remove(0);
    let id = Envelope::decode(&stored.stored.bytes).unwrap().id();
    let proof = storage::log::inclusion(&**store, vessel, id, size).await;
    let (leaf, path) = proof.unwrap().unwrap();
    assert_eq!(leaf, earlier);
    verify_inclusion(&leaf_hash(id.as_bytes()), leaf, size, &path, &new.root).unwrap();
}

async fn closed_store_says_so(store: &Store) {
    store.close().await;
    let record = chain(&key(40), 1);
    assert!(matches!(
        store.append(arrivals(&record)).await,
        Err(StorageError::Closed)
    ));
    assert!(matches!(
        store.vector(vessel()).await,
        Err(StorageError::Closed)
    ));
    assert!(matches!(store.check().await, Err(StorageError::Closed)));
    assert!(matches!(
        store.set_note("a", &[]).await,
        Err(StorageError::Closed)
    ));
    store.close().await;
}
