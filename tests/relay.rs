//! The relay: over a link that fails in every way, the office comes to hold what the ship holds.

use crate::support::hand::{Hand, page};
use crate::support::http::{self, have, push};
use crate::support::link::{Fate, Link};
use crate::support::ship::{SEED, Ship, vessel};
use crate::support::until;
use journal::Body;
use procedure::{Event, Outcome};
use record::sync::{Have, HaveReply, MAX_PAGE_RECORDS};
use record::{SoftKey, Vector};
use sha2::{Digest as _, Sha256};
use std::time::Duration;

fn vector(url: &str) -> Vector {
    have(url, vessel(), Vector::new()).vector
}

/// The same of the office, which knows the ship's people only once their credentials have come.
fn vector_ashore(url: &str, hand: &Hand) -> Option<Vector> {
    // One session for all that is asked: a device has only so many at once.
    if !http::try_sign_in(url, &hand.key) {
        return None;
    }
    let question = Have {
        vessel: vessel(),
        vector: Vector::new(),
    };
    let answer = http::post(&format!("{url}/api/v1/sync/have"), &question.encode());
    if answer.status == 429 {
        return None;
    }
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
    for part in hand.works(900).chunks(MAX_PAGE_RECORDS) {
        push(&ship.url, &page(part));
    }
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

/// A picture of that many bytes, as far as a server can tell, and its name.
fn picture(bytes: usize) -> (Vec<u8>, [u8; 32]) {
    let mut picture = vec![0xff, 0xd8, 0xff, 0xd9];
    // Multiplier and increment of Knuth's MMIX generator: bytes that no packing makes smaller.
    let mut state = 1_u64;
    picture.resize_with(bytes, || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 56) as u8
    });
    let hash = Sha256::digest(&picture).into();
    (picture, hash)
}

/// Puts a photograph of `bytes` bytes on record, brings it aboard, and returns its name and what it is.
fn photographed(ship: &Ship, hand: &mut Hand, bytes: usize) -> (String, Vec<u8>) {
    let (picture, hash) = picture(bytes);
    let start = hand.starts("defect-handover");
    let taken = Event::Done {
        step: "photo".into(),
        outcome: Outcome::Photo { hash },
    };
    let taken = hand.says(Some(start.id()), Body::Run(Box::new(taken)));
    push(&ship.url, &page([&start, &taken]));
    let name = record::hex::encode(&hash);
    let put = http::put(&format!("{}/api/v1/photos/{name}", ship.url), &picture);
    assert_eq!(put.status, 204, "{}", put.text());
    (name, picture)
}

/// The photograph as the office gives it out; none while it has not all come.
fn shown(office: &Ship, cookie: &str, name: &str) -> Option<Vec<u8>> {
    let url = format!("{}/api/v1/photos/{name}", office.url);
    let answer = http::as_one(cookie, "GET", &url, b"");
    (answer.status == 200).then_some(answer.body)
}

/// A session at the office, once it knows who asks.
fn ashore(office: &Ship, hand: &Hand) -> String {
    until("the office to know who asks", || {
        http::session(&office.url, &hand.key).ok()
    })
}

#[test]
fn photographs_come_to_the_office_part_by_part_over_a_link_that_never_lets_one_through_whole() {
    let (data, office_data) = (
        tempfile::tempdir().expect("a folder"),
        tempfile::tempdir().expect("a folder"),
    );
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let (name, picture) = photographed(&ship, &mut hand, 400_000);
    let authority = ship.authority.clone();
    ship.kill();

    let office = Ship::start(office_data.path(), &["--pin", &authority]);
    // Every connection is cut long before the photograph could be through.
    let link = Link::to(&office.url, &[Fate::CutGoing(150_000); 200]);
    let ship = Ship::start(data.path(), &["--office", &link.url]);
    let cookie = ashore(&office, &hand);
    until("the office to show the photograph", || {
        shown(&office, &cookie, &name)
    });
    assert!(link.left() > 0, "no connection was spared");
    assert_eq!(shown(&office, &cookie, &name), Some(picture));
    assert_eq!(
        vector_ashore(&office.url, &hand),
        Some(vector(&ship.url)),
        "the records before it"
    );
}

#[test]
fn a_record_that_comes_while_a_large_photograph_travels_goes_first() {
    let (data, office_data) = (
        tempfile::tempdir().expect("a folder"),
        tempfile::tempdir().expect("a folder"),
    );
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let (name, picture) = photographed(&ship, &mut hand, 900_000);
    let authority = ship.authority.clone();
    ship.kill();

    let office = Ship::start(office_data.path(), &["--pin", &authority]);
    // A satellite's link: each piece is late, and the whole photograph takes a good while.
    let link = Link::to(&office.url, &[Fate::Late(Duration::from_millis(12)); 50]);
    let ship = Ship::start(data.path(), &["--office", &link.url]);
    let cookie = ashore(&office, &hand);
    let lacking = || {
        let url = format!("{}/api/v1/vessels/{}/photos/lacking", office.url, vessel());
        let answer = http::as_one(&cookie, "POST", &url, b"{}").json();
        answer[0]["have"].as_u64()
    };
    until("the photograph to be under way", || {
        lacking().filter(|have| *have > 0)
    });
    push(&ship.url, hand.starts("hose-test").bytes());
    let wanted = vector(&ship.url);
    until("the office to hold the record", || {
        (vector_ashore(&office.url, &hand).as_ref() == Some(&wanted)).then_some(())
    });
    assert_eq!(
        shown(&office, &cookie, &name),
        None,
        "the photograph is still under way"
    );
    until("the office to show the photograph", || {
        shown(&office, &cookie, &name)
    });
    assert_eq!(shown(&office, &cookie, &name), Some(picture));
}

#[test]
fn an_office_behind_an_authority_of_its_own_is_known_by_that_and_by_no_other() {
    let folder = || tempfile::tempdir().expect("a folder");
    let (data, office_data, other_data) = (folder(), folder(), folder());
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    push(&ship.url, &page(&hand.works(9)));
    let authority = ship.authority.clone();
    ship.kill();

    let secured = |data: &std::path::Path| {
        let flags = ["--pin", &authority, "--https", "127.0.0.1:0"];
        let mut office = Ship::start(data, &flags);
        // It names the machine's first address; what it listens on is this one.
        let told = office.told("Secure address: ");
        let port = told.rsplit(':').next().expect("a port");
        let address = format!("https://127.0.0.1:{port}");
        let certificate = data.join("authority.pem");
        let text = http::get(&format!("{}/ca.pem", office.url)).body;
        std::fs::write(&certificate, text).expect("it is written");
        let certificate = certificate.to_str().expect("text").to_owned();
        (office, address, certificate)
    };
    let (office, address, certificate) = secured(office_data.path());
    let (_other, _, strange) = secured(other_data.path());
    let log = || std::fs::read_to_string(data.path().join("server.log")).expect("a log");
    for flags in [
        &["--office", address.as_str()][..],
        &["--office", &address, "--office-certificate", &strange],
    ] {
        let before = log().len();
        let ship = Ship::start(data.path(), flags);
        until("the ship to refuse the office", || {
            log()[before..]
                .contains("relay to the office failed")
                .then_some(())
        });
        ship.kill();
        let told = &log()[before..];
        assert!(told.to_lowercase().contains("certificate"), "{told}");
        assert!(!told.contains("records relayed"), "{told}");
    }

    let flags = ["--office", &address, "--office-certificate", &certificate];
    let ship = Ship::start(data.path(), &flags);
    let wanted = vector(&ship.url);
    until("the records to be relayed", || {
        log()
            .contains("records relayed to the office")
            .then_some(())
    });
    office.kill();
    let office = Ship::start(office_data.path(), &["--pin", &authority]);
    assert_eq!(vector_ashore(&office.url, &hand), Some(wanted));
}

#[test]
fn the_office_takes_no_more_of_a_photograph_than_it_asked_for_and_nothing_that_is_another() {
    let data = tempfile::tempdir().expect("a folder");
    let office = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&office, "orrin", 11);
    let (_, hash) = picture(5_000);
    let taken = Event::Done {
        step: "photo".into(),
        outcome: Outcome::Photo { hash },
    };
    let start = hand.starts("defect-handover");
    let taken = hand.says(Some(start.id()), Body::Run(Box::new(taken)));
    push(&office.url, &page([&start, &taken]));
    let name = record::hex::encode(&hash);
    let part = |from: usize, of: usize, bytes: &[u8]| {
        let url = format!(
            "{}/api/v1/photos/{name}/part?from={from}&of={of}",
            office.url
        );
        let answer = http::post(&url, bytes);
        (answer.status, answer.text())
    };
    let (whole, _) = picture(5_000);
    assert_eq!(part(0, 1_000_001, &whole[..10]).0, 413);
    assert_eq!(part(0, 20, &whole[..30]).0, 400);
    assert_eq!(
        part(0, 5_000, &whole[..2_000]),
        (200, r#"{"have":2000}"#.to_owned())
    );
    // The same part again, and one further on, change nothing.
    assert_eq!(part(0, 5_000, &whole[..2_000]).1, r#"{"have":2000}"#);
    assert_eq!(part(3_000, 5_000, &whole[3_000..]).1, r#"{"have":2000}"#);
    // What is whole and another picture is thrown away, and it can be begun anew.
    let (status, words) = part(2_000, 5_000, &[7; 3_000]);
    assert_eq!(
        (status, words.contains("not the one")),
        (400, true),
        "{words}"
    );
    assert_eq!(shown(&office, &http::cookie_for(&office.url), &name), None);
    assert_eq!(part(0, 5_000, &whole).1, r#"{"have":5000}"#);
    assert_eq!(
        shown(&office, &http::cookie_for(&office.url), &name),
        Some(whole.clone())
    );
    assert_eq!(part(0, 5_000, &whole).1, r#"{"have":5000}"#, "it is here");
    let unnamed = format!(
        "{}/api/v1/photos/{}/part?from=0&of=4",
        office.url,
        "ab".repeat(32)
    );
    assert_eq!(http::post(&unnamed, &whole[..4]).status, 404);
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
