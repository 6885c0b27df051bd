//! A server whose clock is wrong.

use crate::attacks::{now_s, vouched};
use crate::support::hand::Hand;
use crate::support::http::{self, session};
use crate::support::ship::{SEED, Ship};
use record::{SignedReceipt, SoftKey};

const DAY_S: i64 = 86_400;

#[test]
fn a_clock_that_is_a_day_behind_locks_nobody_out_and_is_said_loudly() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mate = Hand::aboard("thorne", 21);
    let hand = Hand::enrolled(&ship, "orrin", 11);
    // Enrolled tomorrow, by the clock of now.
    vouched(&ship, &mate, now_s() + DAY_S - 3_600, now_s() + 30 * DAY_S);
    assert_eq!(
        session(&ship.url, &mate.key).expect_err("not begun").status,
        403
    );
    ship.stop();
    // What came in came in tomorrow: it is today's clock that is wrong.
    let store = rusqlite::Connection::open(data.path().join("records.sqlite")).expect("a store");
    let sql = "UPDATE records SET received_ms = received_ms + 86400000";
    assert!(store.execute(sql, []).expect("it is written") > 0);
    let newest: i64 = store
        .query_row("SELECT max(received_ms) FROM records", [], |row| row.get(0))
        .expect("a time");
    drop(store);

    let ship = Ship::start(data.path(), &[]);
    session(&ship.url, &mate.key).expect("a session: the credential has begun");
    http::sign_in(&ship.url, &hand.key);
    let mut hand = hand;
    let reply = http::push(&ship.url, hand.starts("anchors-ready").bytes());
    let authority = SoftKey::from_seed(SEED).public();
    let receipt = SignedReceipt::verify(&reply.receipts[0], &authority).expect("hers");
    assert!(receipt.receipt().server_time_ms >= newest);
    assert!(reply.server_time_ms >= newest);
    let board = http::get(&format!("{}/api/v1/board", ship.url)).json();
    assert_eq!(board["server"][0]["kind"], "clock-behind");
    assert!(board["now_ms"].as_i64().expect("a time") >= newest);
    let health = http::get(&format!("{}/healthz", ship.url));
    assert!(
        health.text().contains("behind the newest time on record"),
        "{}",
        health.text()
    );
    // A code that was made by that clock ends by that clock.
    let code = ship.code_for("salter");
    assert_eq!(Hand::aboard("salter", 12).asks(&ship, &code).status, 200);
    let log = std::fs::read_to_string(data.path().join("server.log")).expect("a log");
    assert!(log.contains("behind the newest time on record"), "{log}");
}
