//! An old client against today's server: requests whose bytes were written down once and never change.
//!
//! `tests/golden` holds what a phone of wire format 1 sends. A phone that lay in a locker for a year sends
//! the same; the day when one of these tests fails is the day when its records would be lost.

use crate::support::hand::Hand;
use crate::support::http;
use crate::support::ship::{SEED, Ship, vessel, vessel_body};
use journal::Body;
use journal::body::ProcedureBody;
use procedure::{ConsentBy, End, Event, Outcome, Severity};
use record::sync::{Have, HaveReply, PullRequest, PushReply, Sequence};
use record::{Credential, KeyProtection, SoftKey, VerifiedRecord};
use std::path::PathBuf;

/// The text that the golden run pins.
const TEXT: &str = include_str!("golden/v1-procedure.toml");

fn golden(name: &str) -> Vec<u8> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("golden")
        .join(name);
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn credential_of(hand: &Hand, person: &str, roles: &[&str]) -> Body {
    let credential = Credential {
        vessel: vessel(),
        person: person.into(),
        key: hand.key.public(),
        not_before_s: 1_790_000_000,
        expires_s: 1_890_000_000,
        id: None,
        name: "Tam Orrin".to_owned(),
        rank: "bosun".to_owned(),
        roles: roles.iter().map(|role| (*role).to_owned()).collect(),
        protection: KeyProtection::WebCrypto,
    };
    let signed = credential
        .sign(&SoftKey::from_seed(SEED))
        .expect("in order");
    Body::Credential(signed.bytes().to_vec())
}

/// The page as today's code makes it.
fn page_of_today() -> Vec<VerifiedRecord> {
    let mut ship = Hand::new(SoftKey::from_seed(SEED), "ship", vessel());
    let (mut orrin, mut thorne) = (Hand::aboard("orrin", 21), Hand::aboard("thorne", 22));
    let mut records = vec![
        ship.says(None, where_she_lay()),
        ship.says(None, credential_of(&orrin, "orrin", &["crew"])),
        ship.says(None, credential_of(&thorne, "thorne", &["crew", "officer"])),
    ];
    let text = ProcedureBody {
        file: "v1-procedure.toml".to_owned(),
        text: TEXT.to_owned(),
        published: false,
    };
    records.push(orrin.says(None, Body::Procedure(text)));
    let pinned = procedure::parse("v1-procedure.toml", TEXT).expect("a procedure");
    let start = Event::Start {
        procedure: pinned.hash(),
        slug: "of-version-one".to_owned(),
        choices: vec![("anchor".to_owned(), "port".to_owned())],
        remark: "Corrow Sound".to_owned(),
    };
    records.push(orrin.says(None, Body::Run(Box::new(start))));
    let run = records[4].id();
    let mut last = None;
    let mut event = |hand: &mut Hand, event| {
        // Whoever speaks has seen what was said last.
        hand.heads = last
            .into_iter()
            .filter(|(device, _)| *device != hand.key.device())
            .map(|(_, id)| id)
            .collect();
        let record = hand.says(Some(run), Body::Run(Box::new(event)));
        last = Some((record.device(), record.id()));
        records.push(record);
    };
    let done = |step: &str, outcome| Event::Done {
        step: step.into(),
        outcome,
    };
    let pressure = Outcome::Reading {
        point: "bar".to_owned(),
        value: "4.5".parse().expect("a number"),
    };
    event(&mut orrin, done("party", Outcome::Confirmed));
    event(&mut orrin, done("wash", pressure));
    let not_so = Event::NotSo {
        step: "brakes".into(),
        severity: Severity::Watch,
        text: "lining worn at the edge".to_owned(),
        photo: Some([5; 32]),
        terms: None,
    };
    event(&mut orrin, not_so);
    let go_on = Event::GoOn {
        step: "brakes".into(),
        reason: "within the maker's limit".to_owned(),
    };
    event(&mut thorne, go_on);
    let consent = Event::Consent {
        step: "consent".into(),
        granted: true,
        how: ConsentBy::Network,
        words: "take them off".to_owned(),
    };
    event(&mut thorne, consent);
    event(
        &mut thorne,
        Event::Close {
            end: End::Completed,
            remark: String::new(),
        },
    );
    records
}

fn have_of_today() -> Have {
    let device = Hand::aboard("orrin", 21).key.device();
    Have {
        vessel: vessel(),
        vector: [(device, 5)].into(),
    }
}

fn pull_of_today() -> PullRequest {
    PullRequest {
        vessel: vessel(),
        vector: record::Vector::new(),
        max_bytes: 262_144,
    }
}

/// The vessel where the first version had her: the bytes of that time say so.
fn where_she_lay() -> Body {
    match vessel_body() {
        Body::Vessel(body) => Body::Vessel(journal::body::VesselBody {
            latitude_e7: 435_120_000,
            longitude_e7: 70_610_000,
            ..body
        }),
        other => other,
    }
}

#[test]
fn todays_client_still_writes_the_bytes_of_version_one() {
    let page = crate::support::hand::page(&page_of_today());
    let (have, pull) = (have_of_today().encode(), pull_of_today().encode());
    let today = [
        ("v1-page.cborseq", page),
        ("v1-have.cbor", have),
        ("v1-pull.cbor", pull),
    ];
    for (name, bytes) in today {
        assert!(bytes == golden(name), "{name} is written otherwise today");
    }
}

#[test]
fn todays_server_takes_what_a_phone_of_version_one_sends() {
    let data = tempfile::tempdir().expect("a folder");
    server::authority::make(data.path(), SEED, None).expect("a key");
    let ship = Ship::start(data.path(), &[]);
    let post = |path: &str, body: &[u8]| {
        let answer = http::post(&format!("{}/api/v1/sync/{path}", ship.url), body);
        assert_eq!(answer.status, 200, "{path}: {}", answer.text());
        answer.body
    };
    ship.sign_in(SEED);
    let page = golden("v1-page.cborseq");
    let reply = post("push", &page);
    // The reply as such a phone reads it: nine fields, the first its version.
    assert_eq!(reply[..2], [0x89, 0x01]);
    let reply = PushReply::decode(&reply).expect("a reply");
    let records = Sequence::new(&page).count() as u64;
    assert_eq!(
        (reply.stored, reply.rejected.len()),
        (records, 0),
        "{:?}",
        reply.rejected
    );
    assert_eq!(reply.receipts.len(), 3, "one a chain");

    let reply = post("have", &golden("v1-have.cbor"));
    assert_eq!(reply[..2], [0x84, 0x01]);
    let reply = HaveReply::decode(&reply).expect("a reply");
    assert_eq!(reply.vector.values().sum::<u64>(), records);
    assert_eq!(post("pull", &golden("v1-pull.cbor")), page, "byte for byte");

    ship.sign_in([21; 32]);
    let vessel = vessel();
    let runs = http::get(&format!("{}/api/v1/vessels/{vessel}/runs", ship.url)).json();
    let run = &runs["runs"][0];
    assert_eq!(run["title"], "Of version one");
    assert_eq!(run["view"]["progress"]["passed"], 4, "{run:#}");
    assert_eq!(run["view"]["closed"]["by"], "thorne");
    let odd = run["view"]["history"].as_array().expect("lines");
    assert!(odd.iter().all(|line| line["without_right"] == false));
}
