//! A disk that takes nothing more: the ship is read all the same, nothing is lost, and it goes on by itself.
#![cfg(target_os = "linux")]

use crate::support::hand::{Hand, page};
use crate::support::http::{self, have, pull_all};
use crate::support::ship::{Ship, vessel};
use record::Vector;
use record::sync::PushReply;
use rustix::process::{Pid, Resource, Rlimit, prlimit};
use std::time::Duration;

/// A shell's words after which no file grows beyond 4 kB, as on a disk that is full; the server is not told by a
/// signal but, as there, by the answer.
const FULL: &str = "trap '' XFSZ && ulimit -Sf 8";

/// Lets the server's files grow to so many bytes, or without end.
fn may_write(ship: &Ship, bytes: Option<u64>) {
    let pid = Pid::from_raw(ship.pid().cast_signed()).expect("a process");
    let current = bytes;
    let limit = Rlimit {
        current,
        maximum: None,
    };
    prlimit(Some(pid), Resource::Fsize, limit).expect("the limit is set");
}

/// Sends a page again and again, as a phone does, until it is taken.
fn sent_at_last(url: &str, page: &[u8]) -> PushReply {
    for _ in 0..600 {
        let answer = http::post(&format!("{url}/api/v1/sync/push"), page);
        if answer.status == 200 {
            return PushReply::decode(&answer.body).expect("a reply");
        }
        assert_eq!(answer.status, 507, "{}", answer.text());
        std::thread::sleep(Duration::from_millis(100));
    }
    panic!("nothing is taken though there is room");
}

/// Waits until the server says that it is well.
fn well_at_last(url: &str) {
    let asked = std::iter::repeat_with(|| http::get(&format!("{url}/healthz")).text());
    let is_well = asked.take(600).any(|text| {
        std::thread::sleep(Duration::from_millis(100));
        text == "well\n"
    });
    assert!(is_well, "it never says that it is well");
}

#[test]
fn a_server_whose_disk_is_full_starts_to_read_says_so_and_goes_on_when_there_is_room() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let records = hand.works(20);
    assert_eq!(http::push(&ship.url, &page(&records[..10])).stored, 10);
    let before = pull_all(&ship.url, vessel(), 1 << 20);
    let head = format!("{}/api/v1/vessels/{}/log/head", ship.url, vessel());
    assert_eq!(http::get(&head).status, 200);
    let (status, _) = ship.stop();
    assert!(status.success());

    let ship = Ship::start_after(data.path(), FULL);
    // What it has is there: for the phones, and on the bridge with what is wrong.
    assert_eq!(pull_all(&ship.url, vessel(), 1 << 20), before);
    let board = http::get(&format!("{}/api/v1/board", ship.url)).json();
    assert_eq!(board["server"][0]["kind"], "unwritable");
    assert_eq!(board["open"].as_array().map(Vec::len), Some(1));
    for path in ["/crew", "/rounds", "/log", "/vessels"] {
        let answer = http::get(&format!("{}/api/v1{path}", ship.url));
        assert_eq!(answer.status, 200, "{path}: {}", answer.text());
    }
    let health = http::get(&format!("{}/healthz", ship.url));
    assert_eq!(health.status, 507);
    assert!(
        health.text().contains("nothing is taken in"),
        "{}",
        health.text()
    );
    // What is sent is answered as what is to be tried again, and no code is spent for nothing.
    let rest = page(&records[10..]);
    let answer = http::post(&format!("{}/api/v1/sync/push", ship.url), &rest);
    assert_eq!(answer.status, 507);
    assert!(
        answer.text().contains("try again later"),
        "{}",
        answer.text()
    );

    may_write(&ship, None);
    assert_eq!(sent_at_last(&ship.url, &rest).stored, 10);
    well_at_last(&ship.url);
    let board = http::get(&format!("{}/api/v1/board", ship.url)).json();
    assert_eq!(board["server"].as_array().map(Vec::len), Some(0));
    let head = format!("{}/api/v1/vessels/{}/log/head", ship.url, vessel());
    assert_eq!(
        http::get(&head).status,
        200,
        "the log's heads are signed again"
    );
    ship.kill();
    let ship = Ship::start(data.path(), &[]);
    let vector = have(&ship.url, vessel(), Vector::new()).vector;
    assert_eq!(vector.get(&hand.key.device()), Some(&20));
}

#[test]
fn a_disk_that_fills_while_the_ship_works_costs_nothing_that_was_taken() {
    let data = tempfile::tempdir().expect("a folder");
    Ship::mustered(data.path()).stop();
    let ship = Ship::start_after(data.path(), "trap '' XFSZ");
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let records = hand.works(60);
    assert_eq!(http::push(&ship.url, &page(&records[..10])).stored, 10);
    may_write(&ship, Some(4_096));
    let some = page(&records[10..30]);
    let answer = http::post(&format!("{}/api/v1/sync/push", ship.url), &some);
    assert_eq!(answer.status, 507, "{}", answer.text());
    assert_eq!(http::get(&format!("{}/healthz", ship.url)).status, 507);
    let reply = have(&ship.url, vessel(), Vector::new());
    assert_eq!(reply.vector.get(&hand.key.device()), Some(&10));
    // Somebody who enrols now keeps their code for later.
    let code = {
        may_write(&ship, None);
        let code = ship.code_for("salter");
        may_write(&ship, Some(4_096));
        code
    };
    let salter = Hand::aboard("salter", 12);
    assert_eq!(salter.asks(&ship, &code).status, 507);
    may_write(&ship, None);
    assert_eq!(salter.asks(&ship, &code).status, 200);
    assert_eq!(sent_at_last(&ship.url, &page(&records[10..])).stored, 50);
    well_at_last(&ship.url);
}
