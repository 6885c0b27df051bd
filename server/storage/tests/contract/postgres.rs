//! PostgreSQL's own: the promises, several replicas, a server that restarts.

use std::sync::Arc;

use record::Envelope;
use storage::{Appended, StorageError};

use super::cluster::Cluster;
use super::crew::{arrivals, chain, key, vessel};

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn postgres_keeps_every_promise() {
    let Some(cluster) = Cluster::start() else {
        return;
    };
    super::promises::all_hold(storage::open(&cluster.address()).await.unwrap()).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn replicas_on_one_database_store_each_record_once_and_miss_none() {
    let Some(cluster) = Cluster::start() else {
        return;
    };
    // All at once, also the first start with its migrations.
    let opening = (0..3).map(|_| {
        let address = cluster.address();
        tokio::spawn(async move { storage::open(&address).await.unwrap() })
    });
    let mut replicas = Vec::new();
    for opened in opening.collect::<Vec<_>>() {
        replicas.push(opened.await.unwrap());
    }
    let chains: Arc<Vec<_>> = Arc::new((1..=4).map(|number| chain(&key(number), 40)).collect());
    // A reader that follows the arrivals while three replicas write must see every one.
    let follower = storage::open(&cluster.address()).await.unwrap();
    let following = tokio::spawn(async move {
        let (mut after, mut seen) = (0, 0);
        while seen < 4 * 40 {
            for stored in follower.arrivals(vessel(), after, 10).await.unwrap() {
                assert!(Envelope::decode(&stored.bytes).is_ok());
                after = stored.arrival;
                seen += 1;
            }
            tokio::task::yield_now().await;
        }
        seen
    });
    let mut writing = Vec::new();
    for (turn, replica) in replicas.iter().enumerate() {
        let (replica, chains) = (Arc::clone(replica), Arc::clone(&chains));
        writing.push(tokio::spawn(async move {
            let mut new = 0;
            for at in 0..chains.len() {
                for batch in chains[(at + turn) % chains.len()].chunks(6) {
                    let appended = replica.append(arrivals(batch)).await.unwrap();
                    assert!(
                        !appended
                            .iter()
                            .any(|one| matches!(one, Appended::Fork { .. }))
                    );
                    new += appended
                        .iter()
                        .filter(|one| **one == Appended::Stored)
                        .count();
                }
            }
            new
        }));
    }
    let mut new = 0;
    for written in writing {
        new += written.await.unwrap();
    }
    assert_eq!(new, 4 * 40, "each record is new to one replica only");
    let seen = tokio::time::timeout(std::time::Duration::from_mins(1), following).await;
    assert_eq!(seen.expect("the follower missed a record").unwrap(), 4 * 40);
    for replica in &replicas {
        let vector = replica.vector(vessel()).await.unwrap();
        assert!(
            vector.values().all(|height| *height == 40) && vector.len() == 4,
            "{vector:?}"
        );
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn store_goes_on_after_the_database_server_crashed() {
    let Some(cluster) = Cluster::start() else {
        return;
    };
    let store = storage::open(&cluster.address()).await.unwrap();
    let records = chain(&key(1), 4);
    store.append(arrivals(&records[..2])).await.unwrap();
    assert_eq!(
        store.vector(vessel()).await.unwrap(),
        [(key(1).device(), 2)].into()
    );
    cluster.down();
    let refused = store.append(arrivals(&records[2..])).await;
    assert!(matches!(refused, Err(StorageError::Away(_))), "{refused:?}");
    assert!(store.check().await.is_err());
    cluster.up();
    store.check().await.unwrap();
    assert_eq!(
        store.append(arrivals(&records)).await.unwrap()[2..],
        [Appended::Stored; 2]
    );
    assert_eq!(
        store.vector(vessel()).await.unwrap(),
        [(key(1).device(), 4)].into()
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_that_was_answered_for_is_lost_with_the_database_server() {
    let Some(cluster) = Cluster::start() else {
        return;
    };
    let store = storage::open(&cluster.address()).await.unwrap();
    let records = chain(&key(1), 60);
    for (number, batch) in records.chunks(5).enumerate() {
        store.append(arrivals(batch)).await.unwrap();
        match number % 4 {
            0 => cluster.crash(),
            2 => cluster.down(),
            _ => continue,
        }
        cluster.up();
        let height = [(key(1).device(), batch.last().unwrap().seq())];
        assert_eq!(store.vector(vessel()).await.unwrap(), height.into());
    }
    super::promises::log_is_the_tree_of_what_arrived(&store, vessel()).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn database_that_may_only_be_read_is_read_and_written_to_when_it_may_be() {
    let Some(cluster) = Cluster::start() else {
        return;
    };
    let records = chain(&key(1), 4);
    let store = storage::open(&cluster.address()).await.unwrap();
    store.append(arrivals(&records[..2])).await.unwrap();
    store.close().await;
    // As an older program left it: the log is filled in as soon as it can be.
    cluster.sql("UPDATE records SET leaf = NULL; DELETE FROM logs; DELETE FROM log_tiles");
    cluster.down();
    cluster.up_with("-c default_transaction_read_only=on");
    let store = storage::open(&cluster.address()).await.unwrap();
    assert_eq!(
        store.vector(vessel()).await.unwrap(),
        [(key(1).device(), 2)].into()
    );
    for error in [
        store.append(arrivals(&records)).await.unwrap_err(),
        store.check().await.unwrap_err(),
        store.set_note("n", b"1").await.unwrap_err(),
    ] {
        assert!(error.is_unwritable(), "{error:?}");
    }
    cluster.down();
    cluster.up();
    store.check().await.unwrap();
    super::promises::log_is_the_tree_of_what_arrived(&store, vessel()).await;
    store.append(arrivals(&records)).await.unwrap();
    assert_eq!(
        store.vector(vessel()).await.unwrap(),
        [(key(1).device(), 4)].into()
    );
    super::promises::log_is_the_tree_of_what_arrived(&store, vessel()).await;
    store.close().await;

    // Where there is no store yet, or an older one, there is nothing to read: it is refused in words.
    cluster.sql("DROP SCHEMA public CASCADE; CREATE SCHEMA public");
    cluster.down();
    cluster.up_with("-c default_transaction_read_only=on");
    let refused = storage::open(&cluster.address()).await.unwrap_err();
    assert!(refused.is_unwritable(), "{refused:?}");
}

#[tokio::test]
async fn database_of_a_later_program_is_refused() {
    let Some(cluster) = Cluster::start() else {
        return;
    };
    storage::open(&cluster.address())
        .await
        .unwrap()
        .close()
        .await;
    let (client, connection) = tokio_postgres::connect(&cluster.address(), tokio_postgres::NoTls)
        .await
        .unwrap();
    let connection = tokio::spawn(connection);
    client
        .execute("INSERT INTO schema_version VALUES (99)", &[])
        .await
        .unwrap();
    let refused = storage::open(&cluster.address()).await.unwrap_err();
    assert!(
        matches!(
            refused,
            StorageError::TooNew {
                found: 99,
                known: 3
            }
        ),
        "{refused}"
    );
    drop(client);
    connection.await.unwrap().unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn database_without_a_log_is_filled_in_when_it_is_opened() {
    let Some(cluster) = Cluster::start() else {
        return;
    };
    let records: Vec<_> = (1..=4).flat_map(|number| chain(&key(number), 90)).collect();
    let store = storage::open(&cluster.address()).await.unwrap();
    store.append(arrivals(&records)).await.unwrap();
    let before = storage::log::head(&*store, vessel()).await.unwrap();
    store.close().await;
    let (client, connection) = tokio_postgres::connect(&cluster.address(), tokio_postgres::NoTls)
        .await
        .unwrap();
    let connection = tokio::spawn(connection);
    // As an older program left it: records, and no log.
    let older = "UPDATE records SET leaf = NULL; DELETE FROM logs; DELETE FROM log_tiles;";
    client.batch_execute(older).await.unwrap();
    for _ in 0..2 {
        let store = storage::open(&cluster.address()).await.unwrap();
        let filled = storage::log::head(&*store, vessel()).await.unwrap();
        assert_eq!(filled, before);
        super::promises::log_is_the_tree_of_what_arrived(&store, vessel()).await;
        store.close().await;
    }
    drop(client);
    connection.await.unwrap().unwrap();
}
