//! A server and the folder that it works in: one at a time, with the key that belongs to it.

use crate::support::hand::{Hand, page};
use crate::support::http;
use crate::support::ship::{SEED, Ship, run, vessel};
use record::SoftKey;

#[test]
fn two_servers_on_one_folder_are_one_too_many() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let words = Ship::refused(data.path(), &[]);
    assert!(
        words.contains(&data.path().display().to_string()),
        "{words}"
    );
    assert!(
        words.contains(&format!("process {}", ship.pid())),
        "{words}"
    );
    // Whatever else writes there is refused as well; what only reads, or hands a code out, is not.
    let folder = data.path().to_str().expect("text");
    let demo = run(["demo", "--data", folder]);
    let words = String::from_utf8_lossy(&demo.stderr).into_owned();
    assert!(
        !demo.status.success() && words.contains("in use"),
        "{words}"
    );
    assert!(
        run(["authority", "show", "--data", folder])
            .status
            .success()
    );
    let file = data.path().join("all.cborseq");
    let file = file.to_str().expect("text");
    let export = run(["export", "--data", folder, "--out", file]);
    assert!(export.status.success(), "{export:?}");
    // The first goes on, and however it ends, the next may start.
    assert_eq!(http::push(&ship.url, &page(&hand.works(3))).stored, 3);
    ship.kill();
    Ship::start(data.path(), &[]);
}

#[test]
fn a_store_without_its_key_or_with_anothers_is_not_served() {
    let data = tempfile::tempdir().expect("a folder");
    let key = data.path().join("ship.key");
    let ship = Ship::mustered(data.path());
    ship.stop();
    let held_back = std::fs::read(&key).expect("a key");
    std::fs::remove_file(&key).expect("it is there");
    let words = Ship::refused(data.path(), &[]);
    for part in [
        "missing",
        &key.display().to_string(),
        &vessel().to_string(),
        "authority restore",
    ] {
        assert!(words.contains(part), "{words}");
    }
    assert!(!key.exists(), "none is made");

    server::authority::make(data.path(), [8; 32], None).expect("a key");
    let words = Ship::refused(data.path(), &[]);
    let other = SoftKey::from_seed([8; 32]).public();
    for part in [&other.fingerprint(), &vessel().to_string()] {
        assert!(words.contains(part.as_str()), "{words}");
    }

    // The same where the store is of an edition that did not say whose it is.
    let store = rusqlite::Connection::open(data.path().join("records.sqlite")).expect("a store");
    let gone = store.execute("DELETE FROM notes WHERE name = 'own-vessel'", []);
    assert_eq!(gone.expect("it is written"), 1);
    drop(store);
    Ship::refused(data.path(), &[]);

    std::fs::write(&key, held_back).expect("it is written");
    let ship = Ship::start(data.path(), &[]);
    assert_eq!(
        ship.authority,
        record::hex::encode(SoftKey::from_seed(SEED).public().as_bytes())
    );
}

#[test]
fn an_office_that_has_records_of_ships_alone_keeps_its_own_key() {
    let data = tempfile::tempdir().expect("a folder");
    let ships = record::hex::encode(SoftKey::from_seed(SEED).public().as_bytes());
    let office = Ship::start(data.path(), &["--pin", &ships]);
    office.stop();
    // The key of a ship that is known there is another's all the same.
    let store = rusqlite::Connection::open(data.path().join("records.sqlite")).expect("a store");
    drop(store);
    let mut hand = Hand::new(SoftKey::from_seed(SEED), "ship", vessel());
    let office = Ship::start(data.path(), &["--pin", &ships]);
    http::sign_in(&office.url, &SoftKey::from_seed(SEED));
    let body = crate::support::ship::vessel_body();
    assert_eq!(
        http::push(&office.url, hand.says(None, body).bytes()).stored,
        1
    );
    office.stop();
    Ship::start(data.path(), &["--pin", &ships]).stop();
    std::fs::remove_file(data.path().join("ship.key")).expect("it is there");
    server::authority::make(data.path(), SEED, None).expect("a key");
    Ship::refused(data.path(), &["--pin", &ships]);
}

#[cfg(unix)]
#[test]
fn a_database_of_an_office_without_its_key_or_with_anothers_is_not_served() {
    let Some(cluster) = crate::cluster::Cluster::start() else {
        return;
    };
    let data = tempfile::tempdir().expect("a folder");
    let address = cluster.address();
    let store = ["--store", address.as_str()];
    let key = data.path().join("ship.key");
    server::authority::make(data.path(), SEED, None).expect("a key");
    let office = Ship::start(data.path(), &store);
    let mut authority = Hand::new(SoftKey::from_seed(SEED), "ship", vessel());
    office.sign_in(SEED);
    let body = crate::support::ship::vessel_body();
    assert_eq!(
        http::push(&office.url, authority.says(None, body).bytes()).stored,
        1
    );
    office.stop();
    // A second machine before the same database needs a copy of the key, and is told so.
    let other = tempfile::tempdir().expect("a folder");
    let words = Ship::refused(other.path(), &store);
    for part in ["missing", "postgres://", &vessel().to_string()] {
        assert!(words.contains(part), "{words}");
    }
    std::fs::copy(&key, other.path().join("ship.key")).expect("it is copied");
    Ship::start(other.path(), &store).stop();
    std::fs::remove_file(&key).expect("it is there");
    server::authority::make(data.path(), [8; 32], None).expect("a key");
    let words = Ship::refused(data.path(), &store);
    assert!(words.contains("is not the one"), "{words}");
}
