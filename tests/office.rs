//! An office on PostgreSQL, attacked as a ship is: by what is sent to it, by a ship that lies, by a database that
//! goes away.
#![cfg(unix)]

use crate::cluster::Cluster;
use crate::support::hand::{Hand, page};
use crate::support::http::{self, as_one, have, pull_all, push};
use crate::support::link::{Fate, Link};
use crate::support::ship::{SEED, Ship, vessel, vessel_body};
use crate::support::until;
use journal::Body;
use journal::body::VesselBody;
use record::sync::{Have, HaveReply, MAX_PAGE_BYTES, MAX_PAGE_RECORDS, PushReply};
use record::{PublicKey, SoftKey, Vector, VerifiedRecord, VesselId};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

/// The seed of another ship of the same office.
const OTHER: [u8; 32] = [9; 32];

/// A server on a database of its own.
struct House {
    cluster: Cluster,
    data: tempfile::TempDir,
}

impl House {
    /// Makes the database; none where PostgreSQL may be gone without.
    fn build() -> Option<Self> {
        Some(Self {
            cluster: Cluster::start()?,
            data: tempfile::tempdir().expect("a folder"),
        })
    }

    fn store(&self) -> [String; 2] {
        ["--store".to_owned(), self.cluster.address()]
    }

    /// Starts the server as an office of these ships.
    fn office(&self, pins: &[&str]) -> Ship {
        self.office_in(self.data.path(), pins)
    }

    /// The same as one more server over the database, with a folder of its own.
    fn office_in(&self, data: &Path, pins: &[&str]) -> Ship {
        let store = self.store();
        let mut words: Vec<&str> = store.iter().map(String::as_str).collect();
        for pin in pins {
            words.extend(["--pin", pin]);
        }
        Ship::start(data, &words)
    }

    /// Starts the server with the tests' own ship as its own.
    fn ship(&self) -> Ship {
        let store = self.store();
        let words: Vec<&str> = store.iter().map(String::as_str).collect();
        Ship::mustered_with(self.data.path(), &words)
    }

    /// How many records of a vessel the database holds.
    fn kept(&self, of: VesselId) -> String {
        let name = record::hex::encode(of.as_bytes());
        let sql = format!("SELECT count(*) FROM records WHERE vessel = '\\x{name}'");
        self.cluster.sql(&sql)
    }
}

fn authority(seed: [u8; 32]) -> PublicKey {
    SoftKey::from_seed(seed).public()
}

fn pin(seed: [u8; 32]) -> String {
    record::hex::encode(authority(seed).as_bytes())
}

/// How many records of the vessel the server shows, by what it has folded of them.
fn shown(office: &Ship, of: VesselId) -> u64 {
    let vessels = http::get(&format!("{}/api/v1/vessels", office.url)).json();
    let vessels = vessels.as_array().expect("vessels");
    let name = serde_json::to_value(of).expect("JSON");
    let card = vessels.iter().find(|card| card["id"] == name);
    card.unwrap_or_else(|| panic!("{of} is in {vessels:?}"))["records"]
        .as_u64()
        .expect("a number")
}

#[test]
fn pages_of_a_hostile_ship_cost_one_reading_and_next_to_no_disk() {
    let Some(house) = House::build() else { return };
    let office = house.office(&[&pin(SEED)]);
    office.sign_in(SEED);
    let url = format!("{}/api/v1/sync/push", office.url);
    for (bytes, words) in [
        (vec![0; 8 * 1024 * 1024], "bytes"),
        (vec![0; MAX_PAGE_BYTES], "500 records"),
        (vec![0x40; MAX_PAGE_BYTES + 1], "262145 bytes"),
        (vec![0; MAX_PAGE_RECORDS + 1], "500 records"),
    ] {
        let answer = http::post_packed(&url, &bytes);
        assert_eq!(answer.status, 413, "{}", answer.text());
        assert!(answer.text().contains(words), "{}", answer.text());
    }
    let set_aside = || house.cluster.sql("SELECT count(*) FROM quarantine");
    assert_eq!(set_aside(), "0");
    // Rubbish of the right size: each item is answered for, a few of each page are kept, and no page's for ever.
    let rubbish = |page: u64| {
        let items = (0..40_u64).flat_map(|item| {
            let mut bytes = vec![0x1b];
            bytes.extend((page * 1_000_000 + item).to_be_bytes());
            bytes
        });
        items.collect::<Vec<u8>>()
    };
    let reply = push(&office.url, &rubbish(0));
    assert_eq!((reply.stored, reply.rejected.len()), (0, 40));
    assert_eq!(set_aside(), "20");
    push(&office.url, &rubbish(0));
    assert_eq!(set_aside(), "20", "the same again is kept once");
    for page in 1..=60 {
        // Asked too often, it takes a moment.
        until("the page to be answered", || {
            (http::post(&url, &rubbish(page)).status == 200).then_some(())
        });
    }
    let kept: u64 = set_aside().parse().expect("a number");
    assert!((1_000..=1_020).contains(&kept), "{kept} are kept");
    for opener in [0x81_u8, 0x9f, 0xa1, 0xbf, 0xc6, 0x5f, 0xd8] {
        assert_eq!(push(&office.url, &vec![opener; 200_000]).stored, 0);
    }
    // And a text that PostgreSQL itself could not keep is a reason like any other.
    assert_eq!(push(&office.url, b"\x63\0\0\0").rejected.len(), 1);
    let mut ship = Hand::new(SoftKey::from_seed(SEED), "ship", vessel());
    assert_eq!(
        push(&office.url, ship.says(None, vessel_body()).bytes()).stored,
        1
    );
}

#[test]
fn a_ship_that_relays_another_vessels_records_brings_nothing_in() {
    let Some(house) = House::build() else { return };
    let office = house.office(&[&pin(SEED), &pin(OTHER)]);
    let other = authority(OTHER).vessel();
    let mut theirs = Hand::new(SoftKey::from_seed(OTHER), "ship", other);
    let named = |name: &str| {
        let Body::Vessel(body) = vessel_body() else {
            unreachable!("it is the vessel's")
        };
        Body::Vessel(VesselBody {
            name: name.to_owned(),
            ..body
        })
    };
    let rightly_signed = theirs.says(None, named("Brackwater"));
    office.sign_in(SEED);
    let reply = push(&office.url, rightly_signed.bytes());
    assert_eq!((reply.stored, reply.rejected.len()), (0, 1));
    // What it may not send it may not read either.
    let question = Have {
        vessel: other,
        vector: Vector::new(),
    };
    let asked = http::post(
        &format!("{}/api/v1/sync/have", office.url),
        &question.encode(),
    );
    assert_eq!(asked.status, 403, "{}", asked.text());
    // A record under the other's name that this ship's key signed is a forgery, whoever brings it.
    let mut forger = Hand::new(SoftKey::from_seed(SEED), "ship", other);
    let forged = forger.says(None, named("Sunk"));
    assert_eq!(push(&office.url, forged.bytes()).stored, 0);
    office.sign_in(OTHER);
    assert_eq!(push(&office.url, forged.bytes()).stored, 0);
    assert_eq!(house.kept(other), "0");
    // The other's own, by the other's own key, are taken.
    assert_eq!(push(&office.url, rightly_signed.bytes()).stored, 1);
    assert_eq!(house.kept(other), "1");
}

#[test]
fn a_withdrawn_device_counts_for_nothing_at_the_office_also_after_a_restart() {
    let Some(house) = House::build() else { return };
    let ship_data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(ship_data.path());
    let mut orrin = Hand::enrolled(&ship, "orrin", 11);
    let mut thorne = Hand::enrolled(&ship, "thorne", 13);
    let holt = Hand::enrolled(&ship, "holt", 14);
    let consent = |by: &mut Hand, run| {
        by.says(
            Some(run),
            Body::Run(Box::new(procedure::Event::Consent {
                step: "stoppers-off".into(),
                granted: true,
                how: procedure::ConsentBy::Network,
                words: "go on".to_owned(),
            })),
        )
    };
    let start = orrin.starts("anchors-ready");
    let before = consent(&mut thorne, start.id());
    push(&ship.url, &page([&start, &before]));
    let question =
        serde_json::json!({ "device": thorne.key.device(), "reason": "phone over the side" });
    let cookie = http::session(&ship.url, &holt.key).expect("a session");
    let url = format!("{}/api/v1/crew/withdraw", ship.url);
    let body = question.to_string();
    let withdrawn = http::signed(&cookie, &holt.key, "POST", &url, body.as_bytes());
    assert_eq!(withdrawn.status, 200, "{}", withdrawn.text());
    let standing = pull_all(&ship.url, vessel(), 1 << 20).concat();

    let office = house.office(&[&pin(SEED)]);
    office.sign_in(SEED);
    push(&office.url, &standing);
    // It comes by whatever way, with a clock of its own.
    thorne.now_ms -= 600_000;
    let after = consent(&mut thorne, start.id());
    assert_eq!(push(&office.url, after.bytes()).stored, 1);
    let counted = |office: &Ship, id: record::RecordId| {
        let cookie = http::session(&office.url, &orrin.key).expect("a session");
        let url = format!(
            "{}/api/v1/vessels/{}/runs/{}",
            office.url,
            vessel(),
            start.id()
        );
        let page = as_one(&cookie, "GET", &url, b"").json();
        let lines = page["card"]["view"]["history"].as_array().expect("lines");
        let name = serde_json::to_value(id).expect("JSON");
        let line = lines.iter().find(|line| line["id"] == name);
        line.expect("it is in the history")["without_right"] == false
    };
    let judged = |office: &Ship| {
        assert!(counted(office, before.id()), "what was there stays good");
        assert!(!counted(office, after.id()), "what came after it does not");
    };
    judged(&office);
    assert!(http::session(&office.url, &thorne.key).is_err());
    office.kill();
    let office = house.office(&[&pin(SEED)]);
    judged(&office);
}

/// What a server does when the answer to a commit is lost with the database: the record is there, and nobody was told.
#[test]
fn a_page_that_is_stored_though_nobody_was_told_shows_on_the_board() {
    let Some(house) = House::build() else { return };
    let ship = house.ship();
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let records = hand.works(9);
    push(&ship.url, &page(&records[..3]));
    // Another server over the database stores what this one will find there.
    let other_data = tempfile::tempdir().expect("a folder");
    let key = "ship.key";
    std::fs::copy(house.data.path().join(key), other_data.path().join(key)).expect("it is copied");
    let other = house.office_in(other_data.path(), &[]);
    http::sign_in(&other.url, &hand.key);
    assert_eq!(push(&other.url, &page(&records[3..6])).stored, 3);
    // Sent again, it is known; it shows all the same.
    http::sign_in(&ship.url, &hand.key);
    let reply = push(&ship.url, &page(&records[3..6]));
    assert_eq!((reply.stored, reply.known), (0, 3));
    assert_eq!(shown(&ship, vessel()), 2 + 6);
    // Or it is not sent again, because the sender asks first what is there.
    assert_eq!(push(&other.url, &page(&records[6..8])).stored, 2);
    let reply = have(&ship.url, vessel(), Vector::new());
    assert_eq!(reply.vector.get(&hand.key.device()), Some(&8));
    assert_eq!(shown(&ship, vessel()), 2 + 8);
    assert_eq!(push(&ship.url, records[8].bytes()).stored, 1);
    assert_eq!(shown(&ship, vessel()), 2 + 9);
    let run = format!(
        "{}/api/v1/vessels/{}/runs/{}",
        ship.url,
        vessel(),
        records[0].id()
    );
    assert_eq!(http::get(&run).status, 200);
}

/// Sends records in small pages until all are receipted, whatever becomes of the pages on their way.
fn sends_on(url: &str, records: &[VerifiedRecord]) {
    let push = format!("{url}/api/v1/sync/push");
    for some in records.chunks(2) {
        let bytes = page(some);
        until("the page to be taken", || {
            let answer = http::try_post(&push, &bytes).filter(|answer| answer.status == 200)?;
            let reply = PushReply::decode(&answer.body).ok()?;
            assert_eq!(reply.rejected, []);
            (reply.stored + reply.known == some.len() as u64).then_some(())
        });
    }
}

#[test]
fn a_database_that_goes_away_in_mid_request_and_comes_back_costs_nothing() {
    let Some(house) = House::build() else { return };
    let ship = house.ship();
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let records = hand.works(160);
    let is_sent = AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            sends_on(&ship.url, &records);
            is_sent.store(true, Ordering::Release);
        });
        for turn in 0..8 {
            if is_sent.load(Ordering::Acquire) {
                break;
            }
            if turn % 2 == 0 {
                house.cluster.down();
            } else {
                house.cluster.crash();
            }
            // While it is away nothing falls over, and what was asked of the records is refused in words.
            let answer = http::get(&format!("{}/api/v1/crew", ship.url));
            assert!(
                matches!(answer.status, 200 | 429 | 503),
                "{}",
                answer.text()
            );
            house.cluster.up();
        }
    });
    assert_eq!(shown(&ship, vessel()), 162);
    let there = pull_all(&ship.url, vessel(), 1 << 20);
    let sent: Vec<&[u8]> = records.iter().map(|record| record.bytes()).collect();
    assert_eq!(there[2..], sent[..]);
    let head = format!("{}/api/v1/vessels/{}/log/head", ship.url, vessel());
    assert_eq!(http::get(&head).status, 200);
    ship.kill();
    let ship = house.office(&[]);
    assert_eq!(pull_all(&ship.url, vessel(), 1 << 20), there);
}

#[test]
fn while_the_database_is_away_phones_are_told_to_come_back_later() {
    let Some(house) = House::build() else { return };
    let ship = house.ship();
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let records = hand.works(4);
    push(&ship.url, &page(&records[..2]));
    house.cluster.down();
    let answer = http::post(
        &format!("{}/api/v1/sync/push", ship.url),
        &page(&records[2..]),
    );
    assert_eq!(answer.status, 503, "{}", answer.text());
    assert!(answer.text().contains("database"), "{}", answer.text());
    assert_eq!(http::get(&format!("{}/healthz", ship.url)).status, 503);
    house.cluster.up();
    assert_eq!(push(&ship.url, &page(&records[2..])).stored, 2);
    assert_eq!(http::get(&format!("{}/healthz", ship.url)).status, 200);
}

#[test]
fn a_database_that_may_only_be_read_is_served_says_so_and_is_written_to_when_it_may_be() {
    let Some(house) = House::build() else { return };
    let ship = house.ship();
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let records = hand.works(20);
    push(&ship.url, &page(&records[..10]));
    let before = pull_all(&ship.url, vessel(), 1 << 20);
    assert!(ship.stop().0.success());
    house.cluster.down();
    house.cluster.up_with("-c default_transaction_read_only=on");

    let ship = house.office(&[]);
    assert_eq!(pull_all(&ship.url, vessel(), 1 << 20), before);
    let board = http::get(&format!("{}/api/v1/board", ship.url)).json();
    assert_eq!(board["server"][0]["kind"], "unwritable");
    assert_eq!(board["open"].as_array().map(Vec::len), Some(1));
    let health = http::get(&format!("{}/healthz", ship.url));
    assert_eq!(health.status, 507);
    let rest = page(&records[10..]);
    let url = format!("{}/api/v1/sync/push", ship.url);
    let answer = http::post(&url, &rest);
    assert_eq!(answer.status, 507);
    assert!(
        answer.text().contains("try again later"),
        "{}",
        answer.text()
    );

    house.cluster.down();
    house.cluster.up();
    until("the page to be taken", || {
        let answer = http::post(&url, &rest);
        (answer.status == 200).then_some(())
    });
    until("the server to say that it is well", || {
        let health = http::get(&format!("{}/healthz", ship.url));
        (health.status == 200).then_some(())
    });
    let head = format!("{}/api/v1/vessels/{}/log/head", ship.url, vessel());
    assert_eq!(http::get(&head).status, 200);
    assert_eq!(shown(&ship, vessel()), 22);
}

#[test]
fn the_office_comes_to_hold_what_the_ship_holds_though_its_database_comes_and_goes() {
    let Some(house) = House::build() else { return };
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    for part in hand.works(1_500).chunks(MAX_PAGE_RECORDS) {
        push(&ship.url, &page(part));
    }
    ship.kill();
    let office = house.office(&[&pin(SEED)]);
    let fates = [Fate::CutGoing(20_000), Fate::Garbage, Fate::CutComing(5)];
    let link = Link::to(&office.url, &fates);
    let ship = Ship::start(data.path(), &["--office", &link.url]);
    let wanted = have(&ship.url, vessel(), Vector::new()).vector;
    let mut turn = 0;
    until("the office to hold it all", || {
        if turn < 4 {
            turn += 1;
            house.cluster.down();
            house.cluster.up();
        }
        if !http::try_sign_in(&office.url, &hand.key) {
            return None;
        }
        let question = Have {
            vessel: vessel(),
            vector: Vector::new(),
        };
        let url = format!("{}/api/v1/sync/have", office.url);
        let answer = http::post(&url, &question.encode());
        let there = (answer.status == 200).then(|| HaveReply::decode(&answer.body).ok())??;
        (there.vector == wanted).then_some(())
    });
    assert_eq!(link.left(), 0);
    assert_eq!(shown(&office, vessel()), 1_502);
}
