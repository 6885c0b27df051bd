//! Records to and from the ship: twice, cut, bad ones between good ones, strangers, packed and too large.

#![expect(
    clippy::disallowed_methods,
    reason = "plays a device, which has a clock of its own"
)]

use crate::support::hand::{Hand, page};
use crate::support::http::{self, have, pull_all, push};
use crate::support::ship::{SEED, Ship, vessel};
use record::{RecordId, SignedReceipt, SoftKey};

fn aboard() -> (tempfile::TempDir, Ship, Hand) {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let hand = Hand::enrolled(&ship, "orrin", 11);
    (data, ship, hand)
}

fn height(ship: &Ship, hand: &Hand) -> u64 {
    let reply = have(&ship.url, vessel(), record::Vector::new());
    let device = hand.key.device();
    reply.vector.get(&device).copied().unwrap_or(0)
}

#[test]
fn a_page_sent_twice_is_stored_once() {
    let (_data, ship, mut hand) = aboard();
    let page = page(&hand.works(20));
    let first = push(&ship.url, &page);
    assert_eq!((first.stored, first.known), (20, 0));
    let second = push(&ship.url, &page);
    assert_eq!((second.stored, second.known), (0, 20));
    assert!(first.rejected.is_empty() && second.rejected.is_empty());
    let all = pull_all(&ship.url, vessel(), 4096);
    let own = hand.key.device();
    let mine = all
        .iter()
        .filter_map(|bytes| record::Envelope::decode(bytes).ok())
        .filter(|envelope| envelope.device() == own);
    assert_eq!(mine.count(), 20);
}

#[test]
fn what_is_pulled_is_what_was_pushed_byte_for_byte_in_pages_of_any_size() {
    let (_data, ship, mut hand) = aboard();
    let records = hand.works(30);
    push(&ship.url, &page(&records));
    for max_bytes in [1, 1000, 1 << 40] {
        let all = pull_all(&ship.url, vessel(), max_bytes);
        // The ship's own two, her particulars and the credential, come first.
        let pushed: Vec<&[u8]> = records.iter().map(|record| record.bytes()).collect();
        assert_eq!(all[2..], pushed[..], "pages of {max_bytes} bytes");
    }
}

#[test]
fn have_says_what_each_side_lacks() {
    let (_data, ship, mut hand) = aboard();
    let records = hand.works(9);
    push(&ship.url, &page(&records[..4]));
    let device = hand.key.device();
    let reply = have(&ship.url, vessel(), [(device, 9)].into());
    assert_eq!(reply.vector.get(&device), Some(&4));
    let lacking = reply.need.iter().find(|missing| missing.device == device);
    assert_eq!(
        lacking.map(|missing| (missing.from, missing.to)),
        Some((5, 9))
    );
}

#[test]
fn a_page_cut_anywhere_keeps_its_whole_records_and_says_where_to_go_on() {
    let (_data, ship, mut hand) = aboard();
    let records = hand.works(6);
    let whole = page(&records);
    let ends: Vec<usize> = (0..=6).map(|n| page(&records[..n]).len()).collect();
    for cut in [1, ends[1] - 1, ends[2] + 7, ends[5] + 40] {
        let reply = push(&ship.url, &whole[..cut]);
        let before = ends.iter().rfind(|end| **end <= cut).expect("0 at least");
        assert_eq!(reply.cut_at, Some(*before as u64), "cut at {cut}");
        assert!(reply.rejected.is_empty(), "a cut is nobody's fault");
        let count = ends.iter().position(|end| end == before);
        assert_eq!(Some(height(&ship, &hand)), count.map(|n| n as u64));
    }
    let reply = push(&ship.url, &whole[ends[5]..]);
    assert_eq!((reply.stored, reply.cut_at), (1, None));
    assert_eq!(height(&ship, &hand), 6);
}

#[test]
fn a_bad_record_in_the_middle_does_not_block_those_behind_it() {
    let (_data, ship, mut hand) = aboard();
    let records = hand.works(8);
    let mut bad = records[3].bytes().to_vec();
    let last = bad.len() - 1;
    bad[last] ^= 1;
    let not_deterministic = [0x18, 23];
    let sent = [
        page(&records[..3]),
        bad,
        not_deterministic.to_vec(),
        page(&records[4..]),
    ];
    let reply = push(&ship.url, &sent.concat());
    assert_eq!(reply.stored, 7);
    let told: Vec<(u64, Option<RecordId>)> = reply
        .rejected
        .iter()
        .map(|rejected| (rejected.position, rejected.id))
        .collect();
    assert_eq!(told, [(3, Some(records[3].id())), (4, None)]);
    assert!(
        reply.rejected[0].reason.contains("signature"),
        "{:?}",
        reply.rejected
    );
    // What stands behind the gap is stored, and counts when the gap is filled.
    assert_eq!(height(&ship, &hand), 3);
    assert_eq!(push(&ship.url, records[3].bytes()).stored, 1);
    assert_eq!(height(&ship, &hand), 8);
}

#[test]
fn a_record_of_another_vessel_is_refused_by_name() {
    let (_data, ship, mut hand) = aboard();
    let other = SoftKey::from_seed([77; 32]).public().vessel();
    let mut stranger = Hand::new(SoftKey::from_seed([78; 32]), "kerr", other);
    let reply = push(
        &ship.url,
        &page([&stranger.starts("anchors-ready"), &hand.starts("hose-test")]),
    );
    assert_eq!((reply.stored, reply.rejected.len()), (1, 1));
    assert!(
        reply.rejected[0].reason.contains(&other.to_string()),
        "{:?}",
        reply.rejected
    );
    let question = record::sync::Have {
        vessel: other,
        vector: record::Vector::new(),
    };
    let answer = http::post(
        &format!("{}/api/v1/sync/have", ship.url),
        &question.encode(),
    );
    assert_eq!(answer.status, 403, "{}", answer.text());
}

#[test]
fn a_device_that_nobody_vouches_for_is_refused_until_it_is_enrolled() {
    let (_data, ship, _) = aboard();
    let mut salter = Hand::aboard("salter", 12);
    let records = salter.works(3);
    let reply = push(&ship.url, &page(&records));
    assert_eq!((reply.stored, reply.rejected.len()), (0, 3));
    assert!(
        reply.rejected[0].reason.contains("credential"),
        "{:?}",
        reply.rejected
    );
    assert_eq!(salter.asks(&ship, &ship.code_for("salter")).status, 200);
    assert_eq!(push(&ship.url, &page(&records)).stored, 3);
}

#[test]
fn a_credential_in_the_page_vouches_for_records_before_and_behind_it() {
    let (_data, ship, _) = aboard();
    let enrolled = Hand::aboard("salter", 12)
        .asks(&ship, &ship.code_for("salter"))
        .json();
    let authority_records = enrolled["records"].as_array().expect("records").len();
    assert_eq!(authority_records, 3, "particulars and two credentials");

    // An office that knows nothing yet gets all in one page, the credential in the middle.
    let office_data = tempfile::tempdir().expect("a folder");
    let office = Ship::start(office_data.path(), &["--pin", &ship.authority]);
    office.sign_in(SEED);
    let mut salter = Hand::aboard("salter", 12);
    let work = salter.works(4);
    let standing = pull_all(&ship.url, vessel(), 1 << 20).concat();
    let sent = [page(&work[..2]), standing, page(&work[2..])].concat();
    let reply = push(&office.url, &sent);
    assert_eq!(
        (reply.stored, reply.rejected.len()),
        (7, 0),
        "{:?}",
        reply.rejected
    );
    assert!(reply.receipts.is_empty(), "an office signs for no ship");
}

#[test]
fn a_credential_that_a_crew_member_carries_vouches_for_nobody() {
    let (_data, ship, mut hand) = aboard();
    let stranger = SoftKey::from_seed([66; 32]);
    let mut other = Hand::new(stranger, "salter", vessel());
    // A good token of the authority's, but carried by a record of the bosun's.
    let credential = record::Credential {
        vessel: vessel(),
        person: "salter".into(),
        key: other.key.public(),
        not_before_s: 0,
        expires_s: 4_000_000_000,
        id: None,
        name: "Wen Salter".to_owned(),
        rank: "deckhand".to_owned(),
        roles: vec!["crew".to_owned()],
        protection: record::KeyProtection::Software,
    };
    let signed = credential
        .sign(&SoftKey::from_seed(SEED))
        .expect("in order");
    let carried = hand.says(None, journal::Body::Credential(signed.bytes().to_vec()));
    let reply = push(&ship.url, &page([&carried, &other.starts("anchors-ready")]));
    assert_eq!((reply.stored, reply.rejected.len()), (1, 1));
    assert_eq!(reply.rejected[0].position, 1);
}

#[test]
fn a_receipt_is_the_ships_signed_word_on_how_much_she_holds() {
    let (_data, ship, mut hand) = aboard();
    let records = hand.works(7);
    let authority = SoftKey::from_seed(SEED).public();
    assert_eq!(record::hex::encode(authority.as_bytes()), ship.authority);
    for (sent, held) in [(&records[..3], 3), (&records[4..], 3), (&records[3..4], 7)] {
        let reply = push(&ship.url, &page(sent));
        let [bytes] = reply.receipts.as_slice() else {
            panic!("{} receipts", reply.receipts.len());
        };
        let receipt = SignedReceipt::verify(bytes, &authority).expect("the ship's");
        let receipt = receipt.receipt();
        assert_eq!(receipt.vessel, vessel());
        assert_eq!(receipt.device, hand.key.device());
        assert_eq!(receipt.seq, held);
        assert_eq!(
            receipt.head,
            records[usize::try_from(held).expect("small") - 1].id()
        );
        let mut forged = bytes.clone();
        let last = forged.len() - 1;
        forged[last] ^= 1;
        assert!(SignedReceipt::verify(&forged, &authority).is_err());
    }
}

#[test]
fn a_fork_is_kept_told_and_shown_before_and_after_a_restart() {
    let (data, ship, mut hand) = aboard();
    let mut copied_key = hand.clone();
    let first = hand.starts("anchors-ready");
    let second = copied_key.starts("hose-test");
    assert_eq!((first.seq(), second.seq()), (1, 1));
    assert_eq!(push(&ship.url, first.bytes()).stored, 1);
    let reply = push(&ship.url, second.bytes());
    assert_eq!((reply.stored, reply.rejected.len()), (0, 1));
    assert!(
        reply.rejected[0].reason.contains(&first.id().to_string()),
        "{:?}",
        reply.rejected
    );
    let forks = |ship: &Ship| {
        let board = http::get(&format!("{}/api/v1/board", ship.url)).json();
        board["vessel"]["forks"].clone()
    };
    assert_eq!(forks(&ship), 1);
    let third = hand.starts("anchors-ready");
    let reply = push(&ship.url, third.bytes());
    assert_eq!((reply.stored, reply.rejected.len()), (0, 1));
    assert!(
        reply.rejected[0].reason.contains("frozen"),
        "{:?}",
        reply.rejected
    );
    ship.kill();
    assert_eq!(forks(&Ship::start(data.path(), &[])), 1);
}

#[test]
fn a_packed_page_is_taken() {
    let (_data, ship, mut hand) = aboard();
    let page = page(&hand.works(40));
    let answer = http::post_packed(&format!("{}/api/v1/sync/push", ship.url), &page);
    let reply = record::sync::PushReply::decode(&answer.body).expect("a reply");
    assert_eq!(reply.stored, 40);
}

#[test]
fn a_body_too_large_is_refused_and_the_ship_goes_on() {
    let (_data, ship, mut hand) = aboard();
    let url = format!("{}/api/v1/sync/push", ship.url);
    // The server may hang up before it has heard all.
    let refused = http::try_post(&url, &vec![0; 2 * 1024 * 1024]);
    assert!(refused.is_none_or(|answer| answer.status == 413));
    assert_eq!(push(&ship.url, &page(&hand.works(2))).stored, 2);
}

#[test]
fn a_small_body_that_unpacks_to_a_huge_one_is_refused_and_the_ship_goes_on() {
    let (_data, ship, mut hand) = aboard();
    let huge = vec![0; 64 * 1024 * 1024];
    assert!(http::packed(&huge).len() < 200_000);
    for path in ["sync/push", "sync/have", "sync/pull", "enrol"] {
        let answer = http::post_packed(&format!("{}/api/v1/{path}", ship.url), &huge);
        assert_eq!(answer.status, 413, "{path}: {}", answer.text());
    }
    assert_eq!(push(&ship.url, &page(&hand.works(2))).stored, 2);
}

#[test]
fn nonsense_is_answered_with_words_and_the_ship_goes_on() {
    let (_data, ship, mut hand) = aboard();
    let url = |path: &str| format!("{}/api/v1/{path}", ship.url);
    for body in [&b""[..], &b"\xff\xff"[..], &[0x81; 5000], b"{}"] {
        for path in ["sync/have", "sync/pull", "enrol"] {
            let answer = http::post(&url(path), body);
            assert_eq!(answer.status, 400, "{path}: {}", answer.text());
            assert!(!answer.text().is_empty());
        }
        assert_eq!(http::post(&url("sync/push"), body).status, 200);
    }
    let not_packed = ureq::post(&url("sync/push"))
        .header("content-encoding", "gzip")
        .config()
        .http_status_as_error(false)
        .build()
        .send(&b"not packed at all"[..]);
    assert!(not_packed.is_ok_and(|answer| answer.status().is_client_error()));
    for path in [
        "vessels/xyz",
        "vessels/00/runs/zz",
        "nothing",
        "vessels/xyz/records.cborseq",
    ] {
        let status = http::get(&url(path)).status;
        assert!((400..500).contains(&status), "{path}: {status}");
    }
    assert_eq!(push(&ship.url, &page(&hand.works(2))).stored, 2);
}

#[test]
fn a_clock_that_is_off_is_measured_and_no_record_is_refused_for_its_time() {
    let (_data, ship, mut hand) = aboard();
    let seconds = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    let now_ms = i64::try_from(seconds.expect("after 1970").as_millis()).expect("small");
    let off_ms = 600_000;
    for clock_ms in [
        -86_400_000,
        0,
        now_ms + 10 * 365 * 86_400_000,
        now_ms - off_ms,
    ] {
        hand.now_ms = clock_ms;
        let record = hand.ticks(RecordId([9; 32]), "party");
        assert_eq!(record.envelope().time_ms(), clock_ms + 1_000);
        let device = hand.key.device();
        let url = format!(
            "{}/api/v1/sync/push?device={device}&time={clock_ms}",
            ship.url
        );
        let answer = http::post(&url, record.bytes());
        let reply = record::sync::PushReply::decode(&answer.body).expect("a reply");
        assert_eq!(reply.stored, 1, "{:?}", reply.rejected);
        assert!(
            (reply.server_time_ms - now_ms).abs() < 60_000,
            "by the ship's own clock"
        );
    }
    let board = http::get(&format!("{}/api/v1/board", ship.url)).json();
    let device = &board["devices"][0];
    assert_eq!(device["name"], "Tam Orrin");
    let measured = device["offset_ms"].as_i64().expect("it was measured");
    assert!((measured + off_ms).abs() < 60_000, "{measured} ms");
}
