//! Photographs over HTTP: taken in only if a record names them and they are what their name says.

use crate::support::hand::{Hand, page};
use crate::support::http;
use crate::support::ship::Ship;
use journal::Body;
use procedure::{Event, Outcome};

/// The shortest thing that begins and ends as a JPEG file does.
const PICTURE: [u8; 4] = [0xff, 0xd8, 0xff, 0xd9];
/// Its SHA-256, by another program.
const HASH: &str = "32461d5bd1773012acef0ba15636752949bd7c2ce50f9172159d9f56cf0dd9af";

fn address(ship: &Ship, name: &str) -> String {
    format!("{}/api/v1/photos/{name}", ship.url)
}

/// Puts on record that a photograph was taken.
fn photographed(ship: &Ship, hand: &mut Hand) {
    let start = hand.starts("defect-handover");
    let hash = record::hex::decode(HASH).expect("hex");
    let taken = Event::Done {
        step: "photo".into(),
        outcome: Outcome::Photo {
            hash: hash.try_into().expect("32 bytes"),
        },
    };
    let taken = hand.says(Some(start.id()), Body::Run(Box::new(taken)));
    http::push(&ship.url, &page([&start, &taken]));
}

#[test]
fn a_photograph_that_a_record_names_is_kept_and_given_out_as_it_came() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    assert_eq!(http::get(&address(&ship, HASH)).status, 404, "not here yet");
    photographed(&ship, &mut hand);
    assert_eq!(http::put(&address(&ship, HASH), &PICTURE).status, 204);
    assert_eq!(
        http::put(&address(&ship, HASH), &PICTURE).status,
        204,
        "again"
    );
    let answer = http::get(&address(&ship, HASH));
    assert_eq!((answer.status, answer.kind.as_str()), (200, "image/jpeg"));
    assert_eq!(answer.body, PICTURE);
}

#[test]
fn a_photograph_that_no_record_names_is_not_taken_in() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let answer = http::put(&address(&ship, HASH), &PICTURE);
    assert_eq!(answer.status, 404);
    assert!(answer.text().contains("no record"), "{}", answer.text());
}

#[test]
fn what_is_not_the_named_photograph_is_refused_with_its_reason() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    photographed(&ship, &mut hand);
    let says = |name: &str, body: &[u8]| {
        let answer = http::put(&address(&ship, name), body);
        (answer.status, answer.text())
    };
    let (status, words) = says(HASH, &[0xff, 0xd8, 0xff, 0xd8]);
    assert_eq!(status, 400, "{words}");
    assert!(words.contains("not the one"), "{words}");
    assert_eq!(says(HASH, b"GIF89a").0, 415);
    assert_eq!(says("no-hash", &PICTURE).0, 400);
    let mut large = vec![0; 1_000_001];
    large[..3].copy_from_slice(&PICTURE[..3]);
    assert_eq!(says(HASH, &large).0, 413);
    assert_eq!(
        http::get(&address(&ship, HASH)).status,
        404,
        "nothing was kept"
    );
}
