//! The first release against today's server: its store, its export, and what its phones send.
//!
//! `tests/golden/release-0.1.0` was made by the program of that release (its README says how) and is never made
//! again. What a phone writes around the records is spelled out here as that release wrote it.

use crate::support::http;
use crate::support::ship::{self, SEED, Ship, vessel};
use flate2::read::GzDecoder;
use record::sync::{HaveReply, PushReply, Sequence};
use record::{SoftKey, hex};
use std::collections::BTreeSet;
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// A photograph that a record of the frozen page names.
const PICTURE: [u8; 4] = [0xff, 0xd8, 0xff, 0xd9];
const PICTURE_HASH: &str = "32461d5bd1773012acef0ba15636752949bd7c2ce50f9172159d9f56cf0dd9af";
/// Records of the frozen page.
const PAGE: u64 = 14;

fn frozen(name: &str) -> Vec<u8> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("golden/release-0.1.0");
    let bytes = std::fs::read(folder.join(name)).expect("a frozen file");
    if Path::new(name).extension().is_none_or(|end| end != "gz") {
        return bytes;
    }
    let mut whole = Vec::new();
    let mut packed = GzDecoder::new(&bytes[..]);
    packed.read_to_end(&mut whole).expect("it is packed");
    whole
}

/// Starts today's server on the data folder of the first release.
fn on_old_data(data: &Path) -> Ship {
    server::authority::make(data, SEED, None).expect("a key");
    std::fs::write(data.join("records.sqlite"), frozen("records.sqlite.gz")).expect("written");
    Ship::start(data, &[])
}

fn records_of(sequence: &[u8]) -> BTreeSet<Vec<u8>> {
    Sequence::new(sequence)
        .map(|item| item.bytes.to_vec())
        .filter(|bytes| record::Envelope::decode(bytes).is_ok())
        .collect()
}

#[test]
fn the_store_of_the_first_release_opens_with_every_record() {
    let data = tempfile::tempdir().expect("a folder");
    drop(on_old_data(data.path()));
    let then = records_of(&frozen("aldermere.cborseq.gz"));
    assert!(then.len() > 200, "only {} were frozen", then.len());
    let file = data.path().join("now.cborseq");
    let text = |path: &Path| path.to_str().expect("text").to_owned();
    let (folder, out) = (text(data.path()), text(&file));
    let aboard = ["--vessel", "Aldermere", "--out", &out];
    let told = ship::run(["export", "--data", &folder].into_iter().chain(aboard));
    let words = String::from_utf8_lossy(&told.stderr).into_owned();
    assert!(told.status.success(), "{words}");
    let now = records_of(&std::fs::read(&file).expect("an export"));
    assert!(then.is_subset(&now), "{} of {}", now.len(), then.len());
}

#[test]
fn an_export_of_the_first_release_verifies() {
    let data = tempfile::tempdir().expect("a folder");
    let file = data.path().join("aldermere.cborseq");
    let mut bytes = frozen("aldermere.cborseq.gz");
    let verify = |bytes: &[u8]| {
        std::fs::write(&file, bytes).expect("written");
        ship::run(["verify", file.to_str().expect("text")])
    };
    let told = verify(&bytes);
    let words = String::from_utf8_lossy(&told.stdout).into_owned();
    assert!(told.status.success(), "{words}");
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    assert!(!verify(&bytes).status.success(), "a changed one does not");
}

#[test]
fn a_phone_of_the_first_release_enrols_signs_in_and_syncs() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = on_old_data(data.path());
    let post = |path: &str, cookie: &str, body: &[u8]| {
        let answer = http::as_one(cookie, "POST", &format!("{}/api/v1/{path}", ship.url), body);
        assert_eq!(answer.status, 200, "{path}: {}", answer.text());
        answer.body
    };

    // Its enrolment, a new device of the bosun's.
    let key = SoftKey::from_seed([23; 32]);
    let public = hex::encode(key.public().as_bytes());
    let code = ship.code_for("orrin");
    let digits: String = code.chars().filter(char::is_ascii_digit).collect();
    let proof = key.sign(format!("clearhawse enrolment v2\n{digits}\n{public}").as_bytes());
    let question = format!(
        r#"{{"code":"{code}","public_key":"{public}","protection":"webcrypto","proof":"{}"}}"#,
        hex::encode(&proof)
    );
    post("enrol", "", question.as_bytes());

    // Its session, and what it sends once it has one.
    let cookie = http::session(&ship.url, &key).expect("a session");
    let page = frozen("push.cborseq");
    let reply = PushReply::decode(&post("sync/push", &cookie, &page)).expect("a reply");
    assert_eq!((reply.stored, reply.rejected.len()), (PAGE, 0), "{reply:?}");
    let have = HaveReply::decode(&post("sync/have", &cookie, &frozen("have.cbor")));
    assert!(
        have.expect("a reply")
            .vector
            .values()
            .any(|seq| *seq == PAGE)
    );
    let pulled = post("sync/pull", &cookie, &frozen("pull.cbor"));
    assert!(Sequence::new(&pulled).count() > 200);
    let runs = format!("{}/api/v1/vessels/{}/runs", ship.url, vessel());
    let runs = http::as_one(&cookie, "GET", &runs, b"").json();
    assert!(runs["runs"].as_array().is_some_and(|runs| runs.len() > 3));

    let photo = format!("{}/api/v1/photos/{PICTURE_HASH}", ship.url);
    assert_eq!(http::as_one(&cookie, "PUT", &photo, &PICTURE).status, 204);
    assert_eq!(http::as_one(&cookie, "GET", &photo, b"").body, PICTURE);
    let live = ureq::get(format!("{}/api/v1/live", ship.url));
    let live = live.header("cookie", &cookie).call().expect("a stream");
    let kind = live.headers().get("content-type").expect("a kind");
    assert!(kind.as_bytes().starts_with(b"text/event-stream"));
}
