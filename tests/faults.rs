//! Power cuts: whatever was receipted is there afterwards.

use crate::support::hand::{Hand, page};
use crate::support::http::{self, have, pull_all};
use crate::support::ship::{self, SEED, Ship, vessel};
use record::sync::PushReply;
use record::{SignedReceipt, SoftKey, VerifiedRecord};
use std::path::Path;
use std::sync::mpsc;

#[test]
fn a_restart_keeps_everything() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    http::push(&ship.url, &page(&hand.works(25)));
    let look = |ship: &Ship| {
        let vessel = vessel();
        let files = format!("{}/api/v1/vessels/{vessel}/records.cborseq", ship.url);
        let runs = http::get(&format!("{}/api/v1/vessels/{vessel}/runs", ship.url)).json();
        let received: Vec<_> = runs["runs"]
            .as_array()
            .expect("runs")
            .iter()
            .map(|run| run["received_ms"].clone())
            .collect();
        (
            http::get(&files).body,
            pull_all(&ship.url, vessel, 5000),
            received,
        )
    };
    let before = look(&ship);
    let (status, _) = ship.stop();
    assert!(status.success());
    assert_eq!(look(&Ship::start(data.path(), &[])), before);
}

/// Pushes page after page until the server is gone; tells of every receipt.
fn push_on(url: &str, records: &[VerifiedRecord], told: &mpsc::Sender<u64>) {
    let authority = SoftKey::from_seed(SEED).public();
    for some in records.chunks(5) {
        let url = format!("{url}/api/v1/sync/push");
        let Some(answer) = http::try_post(&url, &page(some)) else {
            return;
        };
        let reply = PushReply::decode(&answer.body).expect("a reply");
        for bytes in &reply.receipts {
            let receipt = SignedReceipt::verify(bytes, &authority).expect("the ship's");
            // Nobody may be left to hear it.
            let _ = told.send(receipt.receipt().seq);
        }
    }
}

#[test]
fn whatever_was_receipted_before_the_server_was_killed_is_there_and_verifies() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let device = hand.key.device();
    let records = hand.works(1_500);
    ship.kill();
    let mut held = 0;
    for receipts in [3, 20, 41] {
        let ship = Ship::start(data.path(), &[]);
        let from = usize::try_from(held).expect("small");
        let (tell, told) = mpsc::channel();
        let (url, rest) = (ship.url.clone(), records[from..].to_vec());
        let pushing = std::thread::spawn(move || push_on(&url, &rest, &tell));
        let mut receipted: u64 = told.iter().take(receipts).last().expect("receipts come");
        ship.kill();
        pushing.join().expect("the pushing ends");
        receipted = told.try_iter().last().unwrap_or(receipted);

        let ship = Ship::start(data.path(), &[]);
        let reply = have(&ship.url, vessel(), record::Vector::new());
        held = reply.vector.get(&device).copied().unwrap_or(0);
        assert!(
            held >= receipted,
            "{receipted} were receipted, {held} are there"
        );
        assert!(held < 1_500, "it was killed while records were coming in");
        let there = pull_all(&ship.url, vessel(), 1 << 20);
        let mine = records[..usize::try_from(held).expect("small")].iter();
        let sent: Vec<&[u8]> = mine.map(|record| record.bytes()).collect();
        assert_eq!(there[2..], sent[..]);
        ship.kill();
    }
    check_export(data.path(), held + 2);
}

fn check_export(data: &Path, records: u64) {
    let file = data.join("all.cborseq");
    let (data, file) = (data.to_str().expect("text"), file.to_str().expect("text"));
    let exported = ship::run(["export", "--data", data, "--out", file]);
    assert!(exported.status.success(), "{exported:?}");
    let verified = ship::run(["verify", file]);
    let words = String::from_utf8_lossy(&verified.stdout).into_owned();
    assert!(verified.status.success(), "{words}");
    assert!(
        words.contains(&format!("{records} records hold")),
        "{words}"
    );
}

#[test]
fn a_sender_that_hangs_up_in_the_middle_harms_nothing() {
    use std::io::Write as _;
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let page = page(&hand.works(300));
    let address = ship.url.strip_prefix("http://").expect("an address");
    for sent in [0, 1, page.len() / 2, page.len()] {
        let mut link = std::net::TcpStream::connect(address).expect("it listens");
        write!(
            link,
            "POST /api/v1/sync/push HTTP/1.1\r\nhost: ship\r\ncookie: {}\r\ncontent-length: {}\r\n\r\n",
            http::cookie_for(&ship.url),
            page.len()
        )
        .expect("it is sent");
        link.write_all(&page[..sent]).expect("it is sent");
        drop(link);
    }
    // The whole page may have been taken or not; sent again, all of it is there, and on the board.
    let reply = http::push(&ship.url, &page);
    assert_eq!(reply.stored + reply.known, 300);
    let vessels = http::get(&format!("{}/api/v1/vessels", ship.url)).json();
    assert_eq!(vessels[0]["records"], 302);
}
