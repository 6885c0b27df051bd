//! Attacks with records: what a hostile device, or a copied key, could send.

#![expect(
    clippy::disallowed_methods,
    reason = "plays a device, which has a clock of its own"
)]

use crate::support::hand::{Hand, page};
use crate::support::http::{self, as_one, push, session};
use crate::support::ship::{SEED, Ship, vessel};
use journal::{Body, RunId};
use procedure::{ConsentBy, Event};
use record::{Credential, KeyProtection, PublicKey, SoftKey};
use serde_json::Value;

fn aboard() -> (tempfile::TempDir, Ship, Hand) {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let hand = Hand::enrolled(&ship, "orrin", 11);
    (data, ship, hand)
}

/// One run as the ship shows it.
fn run(ship: &Ship, run: RunId) -> Value {
    let url = format!("{}/api/v1/vessels/{}/runs/{run}", ship.url, vessel());
    http::get(&url).json()
}

/// Says of each line of the run's history that is of this kind whether it counted.
fn counted(ship: &Ship, of: RunId, id: record::RecordId) -> bool {
    let page = run(ship, of);
    let lines = page["card"]["view"]["history"].as_array().expect("lines");
    let name = serde_json::to_value(id.0).expect("JSON");
    let hex = Value::from(record::hex::encode(&id.0));
    let line = lines
        .iter()
        .find(|line| line["id"] == name || line["id"] == hex);
    line.unwrap_or_else(|| panic!("{id} is in {page:#}"))["without_right"] == false
}

fn consent(step: &str) -> Body {
    Body::Run(Box::new(Event::Consent {
        step: step.into(),
        granted: true,
        how: ConsentBy::Network,
        words: "go on".to_owned(),
    }))
}

fn withdraw(ship: &Ship, (cookie, master): (&str, &Hand), of: &Hand) -> http::Answer {
    let question = serde_json::json!({
        "device": of.key.device(),
        "reason": "phone over the side",
    });
    let url = format!("{}/api/v1/crew/withdraw", ship.url);
    let body = question.to_string();
    http::signed(cookie, &master.key, "POST", &url, body.as_bytes())
}

#[test]
fn a_hand_who_consents_has_consented_to_nothing() {
    let (_data, ship, mut hand) = aboard();
    let mut thorne = Hand::enrolled(&ship, "thorne", 13);
    let start = hand.starts("anchors-ready");
    let of = start.id();
    let by_hand = hand.says(Some(of), consent("stoppers-off"));
    let by_officer = thorne.says(Some(of), consent("stoppers-off"));
    push(&ship.url, &page([&start, &by_hand, &by_officer]));
    assert!(!counted(&ship, of, by_hand.id()), "the hand's");
    assert!(counted(&ship, of, by_officer.id()), "the officer's");
}

#[test]
fn a_withdrawn_device_is_shut_out_and_what_it_signs_later_counts_for_nothing() {
    let (_data, ship, mut hand) = aboard();
    let mut thorne = Hand::enrolled(&ship, "thorne", 13);
    let holt = Hand::enrolled(&ship, "holt", 14);
    let master = session(&ship.url, &holt.key).expect("a session");
    let stolen = session(&ship.url, &thorne.key).expect("a session");
    let start = hand.starts("anchors-ready");
    let of = start.id();
    let before = thorne.says(Some(of), consent("stoppers-off"));
    push(&ship.url, &page([&start, &before]));
    assert_eq!(withdraw(&ship, (&master, &holt), &thorne).status, 200);
    let again = withdraw(&ship, (&master, &holt), &thorne);
    assert_eq!(again.status, 400);
    assert!(again.text().contains("already"), "{}", again.text());

    let url = format!("{}/api/v1/board", ship.url);
    let answer = as_one(&stolen, "GET", &url, b"");
    assert_eq!(answer.status, 403, "{}", answer.text());
    assert!(answer.text().contains("over the side"), "{}", answer.text());
    let refused = session(&ship.url, &thorne.key).expect_err("withdrawn");
    assert_eq!(refused.status, 403);
    // Both show the authority's own record, which the phone can check; another's word would not pass for it.
    assert_eq!(answer.withdrawal, refused.withdrawal);
    let shown = refused.withdrawal.expect("the record");
    let (authority, own) = (SoftKey::from_seed(SEED).public(), thorne.key.device());
    let read = journal::shown_withdrawal(&authority, own, &shown).expect("the authority's");
    assert_eq!(
        (read.reason.as_str(), read.last_seq),
        ("phone over the side", 1)
    );
    let other = holt.key.public();
    assert_eq!(journal::shown_withdrawal(&other, own, &shown), None);
    assert_eq!(
        journal::shown_withdrawal(&authority, holt.key.device(), &shown),
        None
    );
    assert!(
        session(&ship.url, &holt.key).is_ok(),
        "the others are let in"
    );

    // Its records may still come in by another's phone, with any clock.
    let mut backdated = thorne.clone();
    backdated.now_ms -= 600_000;
    let late = backdated.says(Some(of), consent("stoppers-off"));
    http::sign_in(&ship.url, &hand.key);
    push(&ship.url, late.bytes());
    assert!(
        counted(&ship, of, before.id()),
        "what was here before stays good"
    );
    assert!(
        !counted(&ship, of, late.id()),
        "what came after does not count"
    );
}

/// Now, in whole seconds UTC.
pub fn now_s() -> i64 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    i64::try_from(since.expect("after 1970").as_secs()).expect("in time")
}

/// Has the ship vouch for the officer's key from one second until another.
pub fn vouched(ship: &Ship, mate: &Hand, not_before_s: i64, expires_s: i64) {
    let credential = Credential {
        vessel: vessel(),
        person: "thorne".into(),
        key: mate.key.public(),
        not_before_s,
        expires_s,
        id: None,
        name: "Ravi Thorne".to_owned(),
        rank: "chief officer".to_owned(),
        roles: vec!["crew".to_owned(), "officer".to_owned()],
        protection: KeyProtection::Software,
    };
    let signed = credential
        .sign(&SoftKey::from_seed(SEED))
        .expect("in order");
    // The tests' own authority goes on where the server's chain ends: by the record that it holds already.
    let chain = http::pull_all(&ship.url, vessel(), 1 << 20);
    let mut authority = Hand::new(SoftKey::from_seed(SEED), "ship", vessel());
    authority.follows(&chain);
    authority.now_ms = now_s() * 1000;
    http::sign_in(&ship.url, &authority.key);
    let vouched = authority.says(None, Body::Credential(signed.bytes().to_vec()));
    assert_eq!(push(&ship.url, vouched.bytes()).stored, 1);
}

#[test]
fn a_credential_that_has_ended_opens_no_session_and_gives_no_roles() {
    let (_data, ship, mut hand) = aboard();
    let mut mate = Hand::aboard("thorne", 21);
    let now_s = now_s();
    let url = format!("{}/api/v1/crew/person", ship.url);
    let holt = Hand::enrolled(&ship, "holt", 14);
    let master = session(&ship.url, &holt.key).expect("a session");
    vouched(&ship, &mate, 1_700_000_000, now_s - 60);
    let refused = session(&ship.url, &mate.key).expect_err("ended");
    assert_eq!(refused.status, 403);
    assert!(refused.text().contains("ended"), "{}", refused.text());

    http::sign_in(&ship.url, &hand.key);
    let start = hand.starts("anchors-ready");
    let of = start.id();
    mate.now_ms = (now_s - 3600) * 1000;
    let in_time = mate.says(Some(of), consent("stoppers-off"));
    mate.now_ms = now_s * 1000;
    let late = mate.says(Some(of), consent("stoppers-off"));
    push(&ship.url, &page([&start, &in_time, &late]));
    assert!(counted(&ship, of, in_time.id()));
    assert!(!counted(&ship, of, late.id()));

    // Somebody whose leaving is past gets no code that works.
    let gone = serde_json::json!({
        "id": "salter", "name": "Wen Salter", "rank": "deckhand", "roles": ["crew"],
        "leaves_ms": (now_s - 5) * 1000,
    });
    let changed = http::signed(
        &master,
        &holt.key,
        "POST",
        &url,
        gone.to_string().as_bytes(),
    );
    assert_eq!(changed.status, 200, "{}", changed.text());
    let late = Hand::aboard("salter", 31).asks(&ship, &ship.code_for("salter"));
    assert_eq!(late.status, 400);
    assert!(late.text().contains("has left"), "{}", late.text());
}

#[test]
fn a_credential_that_has_not_begun_opens_no_session_and_gives_no_roles_before_it_does() {
    let (_data, ship, mut hand) = aboard();
    let mut mate = Hand::aboard("thorne", 21);
    let joins_s = now_s() + 3600;
    vouched(&ship, &mate, joins_s, joins_s + 86_400);
    let refused = session(&ship.url, &mate.key).expect_err("not begun");
    assert_eq!(refused.status, 403);
    assert!(refused.text().contains("not begun"), "{}", refused.text());

    // Its records may come by another's phone, and its clock may be set forward.
    http::sign_in(&ship.url, &hand.key);
    let start = hand.starts("anchors-ready");
    let of = start.id();
    mate.now_ms = (joins_s - 1800) * 1000;
    let early = mate.says(Some(of), consent("stoppers-off"));
    mate.now_ms = joins_s * 1000;
    let in_time = mate.says(Some(of), consent("stoppers-off"));
    push(&ship.url, &page([&start, &early, &in_time]));
    assert!(!counted(&ship, of, early.id()));
    assert!(counted(&ship, of, in_time.id()));
}

#[test]
fn a_record_that_names_another_key_than_the_one_that_signed_it_is_refused() {
    let (_data, ship, hand) = aboard();
    let thorne = Hand::enrolled(&ship, "thorne", 13);
    // The forger's own key under the officer's name, in the protected header and in the record.
    let mut forger = Hand::aboard("thorne", 66);
    let honest = forger.starts("anchors-ready");
    let (mine, theirs) = (forger.key.device(), thorne.key.device());
    let mut bytes = honest.bytes().to_vec();
    let places: Vec<usize> = bytes
        .windows(mine.0.len())
        .enumerate()
        .filter(|(_, window)| *window == mine.0)
        .map(|(at, _)| at)
        .collect();
    assert!(!places.is_empty(), "the key's name stands in the record");
    for chosen in 1..(1_u32 << places.len()) {
        let mut forged = bytes.clone();
        for (bit, at) in places.iter().enumerate() {
            if chosen & (1 << bit) != 0 {
                forged[*at..at + theirs.0.len()].copy_from_slice(&theirs.0);
            }
        }
        let reply = push(&ship.url, &forged);
        assert_eq!(
            (reply.stored, reply.rejected.len()),
            (0, 1),
            "{:?}",
            reply.rejected
        );
    }
    // And a device that says in a record that it is somebody else's.
    http::sign_in(&ship.url, &hand.key);
    bytes.clear();
    let mut pretender = Hand::new(SoftKey::from_seed([11; 32]), "holt", vessel());
    let start = pretender.starts("anchors-ready");
    let order = pretender.says(Some(start.id()), consent("stoppers-off"));
    push(&ship.url, &page([&start, &order]));
    assert!(
        !counted(&ship, start.id(), order.id()),
        "the key is not the master's"
    );
}

#[test]
fn no_key_of_small_order_or_odd_spelling_is_enrolled_with_a_code_that_is_good() {
    let (_data, ship, _) = aboard();
    let code = ship.code_for("salter").replace(' ', "");
    let cases = include_str!("../app/record/tests/golden/crypto.json");
    let cases: Value = serde_json::from_str(cases).expect("JSON");
    let crafted = cases["cases"].as_array().expect("cases").iter();
    let crafted = crafted
        .filter(|case| {
            let kind = case["kind"].as_str().expect("a kind");
            matches!(kind, "small_order_A" | "noncanonical_A")
        })
        .map(|case| case["in"]["public_key"].as_str().expect("hex").to_owned());
    // Of order 4: the all-zero point (RFC 8032, section 5.1.3 decodes it; section 8.9 warns of such keys).
    let crafted: Vec<String> = crafted.chain(["00".repeat(32)]).collect();
    assert_eq!(crafted.len(), 11);
    // Under a key of small order the neutral point and a zero fit one text in eight at least.
    let proof = format!("01{}", "00".repeat(63));
    let before = http::pull_all(&ship.url, vessel(), 1 << 20).len();
    for public_key in crafted {
        let question = serde_json::json!({
            "code": code,
            "public_key": public_key,
            "protection": "software",
            "proof": proof,
        });
        let url = format!("{}/api/v1/enrol", ship.url);
        let answer = http::post(&url, question.to_string().as_bytes());
        assert_eq!(answer.status, 400, "{public_key}: {}", answer.text());
        let told = answer.text();
        assert!(
            told.contains("the device's key is not right") && !told.contains("proof"),
            "{public_key}: {told}"
        );
        let bytes = record::hex::decode(&public_key).expect("hex");
        assert!(PublicKey::from_bytes(&bytes).is_err(), "{public_key}");
    }
    let after = http::pull_all(&ship.url, vessel(), 1 << 20).len();
    assert_eq!(before, after, "nobody is vouched for");
    // The code is not spent by it: the key alone was wrong.
    assert_eq!(Hand::aboard("salter", 12).asks(&ship, &code).status, 200);
}

#[test]
fn a_gap_in_a_chain_is_told_and_nothing_behind_it_is_receipted() {
    let (_data, ship, mut hand) = aboard();
    let records = hand.works(6);
    let reply = push(&ship.url, &page(records[..2].iter().chain(&records[3..])));
    assert_eq!(reply.stored, 5);
    assert_eq!(reply.vector.get(&hand.key.device()), Some(&2));
    let authority = SoftKey::from_seed(SEED).public();
    let receipt = record::SignedReceipt::verify(&reply.receipts[0], &authority).expect("hers");
    assert_eq!(receipt.receipt().seq, 2, "signed for up to the gap only");
}

#[test]
fn nesting_without_end_is_refused_and_the_ship_goes_on() {
    let (_data, ship, mut hand) = aboard();
    let url = |path: &str| format!("{}/api/v1/{path}", ship.url);
    for opener in [0x81_u8, 0x9f, 0xa1, 0xbf, 0xc6, 0x5f, 0xd8] {
        let nested = vec![opener; 200_000];
        assert_eq!(http::post(&url("sync/have"), &nested).status, 400);
        let reply = push(&ship.url, &nested);
        assert_eq!(reply.stored, 0);
    }
    // Lengths that promise what does not follow.
    for promise in [[0x9b_u8; 9], [0x5b; 9], [0x7b; 9], [0xbb; 9]] {
        assert_eq!(http::post(&url("sync/pull"), &promise).status, 400);
        assert_eq!(push(&ship.url, &promise).stored, 0);
    }
    let deep = "[".repeat(200_000);
    for path in ["enrol", "session"] {
        assert_eq!(http::post(&url(path), deep.as_bytes()).status, 400);
    }
    assert_eq!(push(&ship.url, &page(&hand.works(2))).stored, 2);
}

/// A page that is too large in any way is refused before its records are looked at, and nothing of it is kept.
#[test]
fn a_page_of_rubbish_costs_one_reading_and_no_disk() {
    let (data, ship, mut hand) = aboard();
    http::sign_in(&ship.url, &hand.key);
    let url = format!("{}/api/v1/sync/push", ship.url);
    let packed = |bytes: Vec<u8>| http::post_packed(&url, &bytes);
    // Eight million items in eight kilobytes, as they travel.
    assert_eq!(packed(vec![0; 8 * 1024 * 1024]).status, 413);
    // As many bytes as a page may have, and an item each.
    let answer = packed(vec![0; record::sync::MAX_PAGE_BYTES]);
    assert_eq!(answer.status, 413);
    assert!(answer.text().contains("500 records"), "{}", answer.text());
    let answer = packed(vec![0x40; record::sync::MAX_PAGE_BYTES + 1]);
    assert_eq!(answer.status, 413);
    assert!(answer.text().contains("262145 bytes"), "{}", answer.text());
    let refused = packed(vec![0; 501]);
    assert_eq!(refused.status, 413);
    let kept = || {
        let file = rusqlite::Connection::open(data.path().join("records.sqlite")).expect("a store");
        let sql = "SELECT count(*) FROM quarantine";
        file.query_row(sql, [], |row| row.get::<_, i64>(0))
            .expect("a count")
    };
    assert_eq!(kept(), 0, "nothing of them is kept");
    // A page of the right size full of rubbish: each item is answered for, a few are kept.
    let items: Vec<u8> = (0..250_u8).flat_map(|n| [0x18, n]).collect();
    let reply = push(&ship.url, &items);
    assert_eq!((reply.stored, reply.rejected.len()), (0, 250));
    assert_eq!(kept(), 20);
    // And whoever has good records is heard at once.
    assert_eq!(push(&ship.url, &page(&hand.works(2))).stored, 2);
}
