//! What small things cost or give away: a question without an end, a look at the health, a file's permissions, a picture.

use crate::support::hand::{Hand, page};
use crate::support::http;
use crate::support::ship::Ship;
use journal::Body;
use procedure::{Event, Outcome};
use record::VerifiedRecord;
use sha2::{Digest as _, Sha256};
use std::path::Path;

#[test]
fn a_question_of_sums_has_an_end() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let hand = Hand::enrolled(&ship, "orrin", 11);
    http::sign_in(&ship.url, &hand.key);
    let url = format!("{}/api/v1/reckon/catenary", ship.url);
    let asked = |lines: usize| http::post(&url, "{}\n".repeat(lines).as_bytes());
    let answer = asked(1_000);
    assert_eq!(answer.status, 200);
    assert_eq!(answer.text().lines().count(), 1_000);
    let answer = asked(1_001);
    assert_eq!(answer.status, 413);
    assert!(answer.text().contains("1000 lines"), "{}", answer.text());
    let long = format!("{{\"kind\":\"{}\"}}", "a".repeat(20_000));
    assert_eq!(http::post(&url, long.as_bytes()).status, 413);
}

#[test]
fn a_look_at_the_health_writes_nothing() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let written = || {
        let file = rusqlite::Connection::open(data.path().join("records.sqlite")).expect("a store");
        let sql = "SELECT count FROM probe";
        file.query_row(sql, [], |row| row.get::<_, i64>(0))
            .expect("a count")
    };
    let before = written();
    for _ in 0..20 {
        assert_eq!(http::get(&format!("{}/healthz", ship.url)).status, 200);
    }
    assert_eq!(written(), before);
}

#[cfg(unix)]
#[test]
fn nobody_but_its_owner_reads_what_the_server_keeps() {
    use std::os::unix::fs::PermissionsExt as _;
    let data = tempfile::tempdir().expect("a folder");
    Ship::mustered(data.path()).stop();
    let ship = Ship::start_after(data.path(), "umask 000");
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    http::push(&ship.url, &page(&hand.works(3)));
    let head = format!(
        "{}/api/v1/vessels/{}/log/head",
        ship.url,
        crate::support::ship::vessel()
    );
    assert_eq!(http::get(&head).status, 200);
    ship.code_for("salter");
    let mut count = 0;
    let mut look = vec![data.path().to_owned()];
    while let Some(folder) = look.pop() {
        for entry in std::fs::read_dir(&folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                look.push(path);
                continue;
            }
            let is_ours = |path: &Path| {
                let name = path.file_name().unwrap_or_default().to_string_lossy();
                // The tests' own.
                !matches!(name.as_ref(), "server.log" | "signed-in.seed")
            };
            if is_ours(&path) {
                count += 1;
                let mode = std::fs::metadata(&path)
                    .expect("it is there")
                    .permissions()
                    .mode();
                assert_eq!(mode & 0o077, 0, "{} has mode {mode:o}", path.display());
            }
        }
    }
    assert!(count >= 7, "only {count} files");
}

/// Puts on record that this photograph was taken.
fn photographed(hand: &mut Hand, picture: &[u8]) -> [VerifiedRecord; 2] {
    let start = hand.starts("defect-handover");
    let taken = Event::Done {
        step: "photo".into(),
        outcome: Outcome::Photo {
            hash: Sha256::digest(picture).into(),
        },
    };
    let taken = hand.says(Some(start.id()), Body::Run(Box::new(taken)));
    [start, taken]
}

#[test]
fn a_picture_that_says_where_it_was_taken_is_neither_taken_in_nor_given_out() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    // Exif with one tag, that of the place.
    let exif = b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x88\x25\0\x04\0\0\0\x01\0\0\0\x1a\0\0\0\0";
    let length = u16::try_from(exif.len() + 2).expect("small").to_be_bytes();
    let picture = [&[0xff, 0xd8, 0xff, 0xe1][..], &length, exif, &[0xff, 0xd9]].concat();
    http::push(&ship.url, &page(&photographed(&mut hand, &picture)));
    let name = record::hex::encode(&Sha256::digest(&picture));
    let url = format!("{}/api/v1/photos/{name}", ship.url);
    let answer = http::put(&url, &picture);
    assert_eq!(answer.status, 415);
    assert!(answer.text().contains("where, when"), "{}", answer.text());
    let part = format!("{url}/part?from=0&of={}", picture.len());
    assert_eq!(http::post(&part, &picture).status, 415);
    assert_eq!(http::get(&url).status, 404, "it was not kept");
    // One that is here from before.
    let store = rusqlite::Connection::open(data.path().join("records.sqlite")).expect("a store");
    let kept = rusqlite::params![format!("photo/{name}"), picture];
    let sql = "INSERT INTO notes (name, bytes) VALUES (?1, ?2)";
    assert_eq!(store.execute(sql, kept).expect("it is written"), 1);
    assert_eq!(http::get(&url).status, 415);
}
