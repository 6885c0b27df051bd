//! SQLite's own: the promises, reopening.

use storage::{Appended, StorageError};

use super::crew::{arrivals, chain, key, vessel};

fn address(folder: &std::path::Path) -> String {
    format!("sqlite:{}", folder.join("records.sqlite").display())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sqlite_keeps_every_promise() {
    let folder = tempfile::tempdir().unwrap();
    super::promises::all_hold(storage::open(&address(folder.path())).await.unwrap()).await;
}

#[tokio::test]
async fn store_reopens_with_what_was_stored() {
    let folder = tempfile::tempdir().unwrap();
    let records = chain(&key(1), 5);
    for (at, record) in records.iter().enumerate() {
        let store = storage::open(&address(folder.path())).await.unwrap();
        assert_eq!(store.arrivals(vessel(), 0, 10).await.unwrap().len(), at);
        let one = std::slice::from_ref(record);
        assert_eq!(
            store.append(arrivals(one)).await.unwrap(),
            [Appended::Stored]
        );
        // Every other time without closing, as after a crash.
        if at % 2 == 0 {
            store.close().await;
        }
    }
    let store = storage::open(&address(folder.path())).await.unwrap();
    assert_eq!(
        store.vector(vessel()).await.unwrap(),
        [(key(1).device(), 5)].into()
    );
}

#[tokio::test]
async fn closing_leaves_one_whole_file() {
    let folder = tempfile::tempdir().unwrap();
    let store = storage::open(&address(folder.path())).await.unwrap();
    store.append(arrivals(&chain(&key(1), 50))).await.unwrap();
    store.close().await;
    let log = folder.path().join("records.sqlite-wal");
    assert_eq!(log.metadata().map_or(0, |log| log.len()), 0);
}

#[tokio::test]
async fn address_that_names_no_store_is_refused() {
    for address in ["", "records.sqlite", "sqlite:", "mysql://localhost/a"] {
        let refused = storage::open(address).await.unwrap_err();
        assert!(matches!(refused, StorageError::BadAddress(_)), "{address}");
    }
    let missing = storage::open("sqlite:/nonexistent/folder/records.sqlite")
        .await
        .unwrap_err();
    assert!(matches!(missing, StorageError::Unwritable(_)), "{missing}");
}
