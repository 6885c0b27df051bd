//! The relay: over a link that fails in every way, the office comes to hold what the ship holds.

use crate::support::hand::{Hand, page};
use crate::support::http::{self, have, push};
use crate::support::link::{Fate, Link};
use crate::support::ship::{SEED, Ship, vessel};
use crate::support::until;
use record::sync::{Have, HaveReply};
use record::{SoftKey, Vector};
use std::time::Duration;

fn vector(url: &str) -> Vector {
    have(url, vessel(), Vector::new()).vector
}

/// The same of the office, which knows the ship's people only once their credentials have come.
fn vector_ashore(url: &str, hand: &Hand) -> Option<Vector> {
    let cookie = http::session(url, &hand.key).ok()?;
    let question = Have {
        vessel: vessel(),
        vector: Vector::new(),
    };
    let url = format!("{url}/api/v1/sync/have");
    let answer = http::as_one(&cookie, "POST", &url, &question.encode());
    Some(HaveReply::decode(&answer.body).expect("a reply").vector)
}

/// The records of a download, in order of their ids: each server has its own order of arrival.
fn records(url: &str) -> Vec<Vec<u8>> {
    let file = download(url);
    let report = record::export::verify_export(&file);
    assert!(report.is_sound(), "{:?}", report.faults);
    assert!(report.checkpoint.is_some());
    let mut records = report.records;
    records.sort_by_key(|record| record.id());
    records
        .iter()
        .map(|record| record.bytes().to_vec())
        .collect()
}

fn download(url: &str) -> Vec<u8> {
    let answer = http::get(&format!(
        "{url}/api/v1/vessels/{}/records.cborseq",
        vessel()
    ));
    assert_eq!(answer.status, 200);
    answer.body
}

#[test]
fn the_office_comes_to_hold_what_the_ship_holds_over_a_link_that_fails() {
    let (data, office_data) = (
        tempfile::tempdir().expect("a folder"),
        tempfile::tempdir().expect("a folder"),
    );
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    push(&ship.url, &page(&hand.works(900)));
    let authority = ship.authority.clone();
    ship.kill();

    let office = Ship::start(office_data.path(), &["--pin", &authority]);
    let fates = [
        Fate::Refused,
        Fate::CutGoing(700),
        Fate::Garbage,
        Fate::CutGoing(20_000),
        Fate::CutComing(5),
        Fate::Late(Duration::from_millis(20)),
    ];
    let link = Link::to(&office.url, &fates);
    let ship = Ship::start(data.path(), &["--office", &link.url]);
    let wanted = vector(&ship.url);
    assert_eq!(wanted.values().sum::<u64>(), 902);
    until("the office to hold it all", || {
        (vector_ashore(&office.url, &hand).as_ref() == Some(&wanted)).then_some(())
    });
    assert_eq!(link.left(), 0, "the link failed in every way");
    http::sign_in(&office.url, &hand.key);
    // The heads differ: each signs for the log that it keeps.
    assert_eq!(records(&office.url), records(&ship.url));

    // What comes in later follows by itself.
    push(&ship.url, hand.starts("hose-test").bytes());
    let wanted = vector(&ship.url);
    until("the office to hold the rest", || {
        (vector_ashore(&office.url, &hand).as_ref() == Some(&wanted)).then_some(())
    });
    let runs = |url: &str| {
        let runs = http::get(&format!("{url}/api/v1/vessels/{}/runs", vessel())).json();
        let names = |run: &serde_json::Value| (run["run"].clone(), run["view"]["progress"].clone());
        let runs = runs["runs"].as_array().expect("runs");
        runs.iter().map(names).collect::<Vec<_>>()
    };
    assert_eq!(runs(&office.url).len(), 2);
    assert_eq!(
        runs(&office.url),
        runs(&ship.url),
        "both fold the same state"
    );
}

#[test]
fn an_office_takes_nothing_of_a_ship_that_it_has_not_pinned() {
    let (data, office_data) = (
        tempfile::tempdir().expect("a folder"),
        tempfile::tempdir().expect("a folder"),
    );
    let office = Ship::start(office_data.path(), &[]);
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    push(&ship.url, &page(&hand.works(3)));
    let authority = SoftKey::from_seed(SEED);
    for stranger in [&authority, &hand.key] {
        let refused = http::session(&office.url, stranger).expect_err("it is not pinned");
        assert_eq!(refused.status, 403, "{}", refused.text());
        assert!(
            refused.text().contains("not enrolled"),
            "{}",
            refused.text()
        );
    }
    let standing = http::pull_all(&ship.url, vessel(), 1 << 20).concat();
    let url = format!("{}/api/v1/sync/push", office.url);
    assert_eq!(http::as_one("", "POST", &url, &standing).status, 401);
    let bad_pin = crate::support::ship::run([
        "serve",
        "--listen",
        "127.0.0.1:0",
        "--data",
        office_data.path().to_str().expect("text"),
        "--pin",
        "not-a-key",
    ]);
    assert_eq!(bad_pin.status.code(), Some(2));
    let words = String::from_utf8_lossy(&bad_pin.stderr).into_owned();
    assert!(words.contains("not-a-key"), "{words}");
}
