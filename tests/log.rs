//! The log that shows tampering: rows taken out behind the server's back, backups put back, two servers
//! with one key; as a device, the bridge and the office see it.

use crate::support::hand::{Hand, page};
use crate::support::http::{self, have, push};
use crate::support::ship::{SEED, Ship, run, vessel};
use crate::support::until;
use journal::Body;
use journal::log::{Finder, Found, HeadAnswer, LogCard, Showing, Trouble};
use record::merkle::{ConsistencyProof, leaf_hash, verify_inclusion};
use record::witness::{Verdict, Witness};
use record::{Checkpoint, SoftKey, Vector, VerifiedRecord, log_origin};
use std::path::Path;

/// What a device does with the heads of the log, with the same judgement as the phone's.
#[derive(Default)]
struct Watcher {
    witness: Witness,
}

fn log_url(ship: &Ship, what: &str) -> String {
    format!("{}/api/v1/vessels/{}/log/{what}", ship.url, vessel())
}

fn head(ship: &Ship) -> (Checkpoint, String) {
    let answer = http::get(&log_url(ship, "head"));
    assert_eq!(answer.status, 200, "{}", answer.text());
    let key = SoftKey::from_seed(SEED).public();
    let note = answer.text();
    let head = Checkpoint::verify(&note, &log_origin("ship", vessel()), &key);
    (head.expect("the ship's own head"), note)
}

fn show(ship: &Ship, note: &str) -> HeadAnswer {
    let showing = Showing {
        note: note.to_owned(),
        proofs: Vec::new(),
    };
    let question = serde_json::to_vec(&showing).expect("JSON");
    let answer = http::post_json(&log_url(ship, "seen"), &question);
    serde_json::from_value(answer.json()).expect("an answer")
}

fn card(ship: &Ship) -> LogCard {
    let url = format!("{}/api/v1/vessels/{}/log", ship.url, vessel());
    serde_json::from_value(http::get(&url).json()).expect("a card")
}

/// What the bridge's board says is wrong with the log.
fn on_the_bridge(ship: &Ship) -> Vec<Trouble> {
    let board = http::get(&format!("{}/api/v1/board", ship.url)).json();
    serde_json::from_value(board["log"].clone()).expect("troubles")
}

impl Watcher {
    fn look(&mut self, ship: &Ship) -> Verdict {
        let verdict = self.judge(ship);
        let remembered = self.witness.newest().map(|newest| newest.note.clone());
        match (&verdict, remembered) {
            (Verdict::Contradicts(_), Some(note)) => {
                show(ship, &note);
                self.judge(ship)
            }
            _ => verdict,
        }
    }

    fn judge(&mut self, ship: &Ship) -> Verdict {
        let (shown, note) = head(ship);
        let from: Vec<String> = self
            .witness
            .wants(&shown)
            .iter()
            .map(u64::to_string)
            .collect();
        let mut proofs: Vec<ConsistencyProof> = Vec::new();
        if !from.is_empty() {
            let asked = format!("consistency?from={}&to={}", from.join(","), shown.head.size);
            let answer = http::get(&log_url(ship, &asked)).json();
            proofs = serde_json::from_value(answer).expect("proofs");
        }
        let judged = self.witness.judge(&shown, &note, &proofs, 0);
        judged.expect("every proof that was wanted")
    }
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).expect("a folder");
    for entry in std::fs::read_dir(from).expect("a folder") {
        let entry = entry.expect("an entry");
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).expect("a file");
        }
    }
}

/// Puts a backup in the place of the data folder.
fn put_back(backup: &Path, data: &Path) {
    std::fs::remove_dir_all(data).expect("a folder");
    copy(backup, data);
}

/// Writes in the server's file as somebody does who has the disk.
fn behind_its_back(data: &Path, sql: &str) {
    let file = rusqlite::Connection::open(data.join("records.sqlite")).expect("the file");
    file.execute_batch(sql).expect("it is written");
}

/// Takes a record out and makes the log's tree grow again from what is left.
const TAKEN_OUT: &str = "DELETE FROM records WHERE leaf = 17;
    UPDATE records SET leaf = NULL; DELETE FROM logs; DELETE FROM log_tiles;";

struct Scene {
    data: tempfile::TempDir,
    ship: Ship,
    hand: Hand,
    records: Vec<VerifiedRecord>,
}

/// A ship with 60 records of a hand aboard; her own are two more.
fn scene() -> Scene {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let records = hand.works(60);
    push(&ship.url, &page(&records));
    Scene {
        data,
        ship,
        hand,
        records,
    }
}

#[test]
fn every_record_proves_its_place_in_the_log() {
    let mut scene = scene();
    let mut watcher = Watcher::default();
    assert_eq!(watcher.look(&scene.ship), Verdict::First);
    let (shown, _) = head(&scene.ship);
    assert_eq!(shown.head.size, 62);
    for record in scene.records.iter().step_by(7) {
        let asked = format!("inclusion?record={}", record.id());
        let answer = http::get(&log_url(&scene.ship, &asked)).json();
        let path: Vec<String> = serde_json::from_value(answer["path"].clone()).expect("hashes");
        let path: Vec<_> = path
            .iter()
            .map(|hash| record::hex::decode_array(hash).expect("a hash"))
            .collect();
        let leaf = answer["leaf"].as_u64().expect("a number");
        let own = leaf_hash(record.id().as_bytes());
        verify_inclusion(&own, leaf, 62, &path, &shown.head.root).expect("it is in the log");
    }
    push(&scene.ship.url, scene.hand.starts("hose-test").bytes());
    assert_eq!(watcher.look(&scene.ship), Verdict::Extends);
    for (asked, status) in [
        ("consistency?from=1&to=999", 404),
        ("consistency?from=x&to=9", 400),
        ("inclusion?leaf=999", 404),
        ("inclusion", 400),
    ] {
        let answer = http::get(&log_url(&scene.ship, asked));
        assert_eq!(answer.status, status, "{asked}: {}", answer.text());
    }
}

#[test]
fn a_row_deleted_behind_the_servers_back_is_told_by_the_server_and_by_the_export() {
    let scene = scene();
    let data = scene.data.path();
    scene.ship.stop();
    behind_its_back(data, "DELETE FROM records WHERE leaf = 17");
    let ship = Ship::start(data, &[]);
    assert_eq!(card(&ship).damage, ["record 17 of the log is gone"]);
    ship.stop();
    let file = data.join("export.cborseq");
    let (folder, file) = (data.to_str().expect("text"), file.to_str().expect("text"));
    let exported = run(["export", "--data", folder, "--out", file]);
    assert!(exported.status.success(), "{exported:?}");
    let verified = run(["verify", file]);
    assert_eq!(verified.status.code(), Some(1));
    let words = String::from_utf8_lossy(&verified.stdout).into_owned();
    assert!(
        words.contains("counts 62 records, the file holds 61"),
        "{words}"
    );
}

#[test]
fn a_log_grown_again_without_a_record_is_seen_by_server_bridge_and_device() {
    let scene = scene();
    let data = scene.data.path();
    let mut watcher = Watcher::default();
    watcher.look(&scene.ship);
    scene.ship.stop();
    behind_its_back(data, TAKEN_OUT);
    let ship = Ship::start(data, &[]);
    assert_eq!(
        card(&ship).damage,
        Vec::<String>::new(),
        "the new tree is a whole one"
    );
    let found = on_the_bridge(&ship);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(
        (found[0].finder, found[0].found),
        (Finder::Ship, Found::Rewritten)
    );
    assert!(matches!(watcher.look(&ship), Verdict::Contradicts(_)));
    ship.stop();
    // Who also takes away what stands beside the database still meets the devices.
    std::fs::remove_dir_all(data.join("heads")).expect("a folder");
    let ship = Ship::start(data, &[]);
    assert!(matches!(watcher.look(&ship), Verdict::Contradicts(_)));
    assert!(
        on_the_bridge(&ship)
            .iter()
            .any(|t| t.finder == Finder::Device)
    );
}

#[test]
fn a_restored_backup_is_told_apart_and_heals_from_a_device() {
    let mut scene = scene();
    let data = scene.data.path().to_owned();
    let mut watcher = Watcher::default();
    watcher.look(&scene.ship);
    scene.ship.stop();
    let backup = tempfile::tempdir().expect("a folder");
    copy(&data, backup.path());
    let ship = Ship::start(&data, &[]);
    let run = scene.records[0].id();
    for _ in 0..20 {
        let record = scene.hand.ticks(run, "party");
        push(&ship.url, record.bytes());
        scene.records.push(record);
    }
    assert_eq!(watcher.look(&ship), Verdict::Extends);
    let wanted = have(&ship.url, vessel(), Vector::new()).vector;
    ship.stop();
    put_back(backup.path(), &data);

    let ship = Ship::start(&data, &[]);
    // The device sends again what the ship lacks, though the ship had signed for it.
    let lacks = have(&ship.url, vessel(), wanted.clone());
    assert_eq!(lacks.need.len(), 1);
    let again = &scene.records[usize::try_from(lacks.need[0].from).expect("small") - 1..];
    let Verdict::Restored { restore, agreed } = watcher.look(&ship) else {
        panic!("a restore was taken for tampering");
    };
    assert_eq!((restore.kept, restore.lost, agreed), (62, 82, 62));
    assert_eq!(push(&ship.url, &page(again)).stored, 20);
    assert_eq!(have(&ship.url, vessel(), Vector::new()).vector, wanted);
    assert_eq!(watcher.look(&ship), Verdict::Extends);
    let found = on_the_bridge(&ship);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].found, Found::Restored(restore));

    // It stands until a master has read it.
    let mut mate = Hand::enrolled(&ship, "thorne", 12);
    push(
        &ship.url,
        mate.says(None, Body::Finding(found[0].body("seen")))
            .bytes(),
    );
    assert_eq!(on_the_bridge(&ship).len(), 1);
    let mut master = Hand::enrolled(&ship, "holt", 13);
    let read = Body::Finding(found[0].body("the disk was changed"));
    push(&ship.url, master.says(None, read).bytes());
    assert_eq!(on_the_bridge(&ship), []);
    let card = card(&ship);
    assert_eq!(card.restores, [restore]);
    let read = card.troubles[0].read.as_ref().expect("it is read");
    assert_eq!(read.by, "Maren Holt");
}

#[test]
fn a_database_put_back_alone_is_told_by_the_server_itself() {
    let mut scene = scene();
    let data = scene.data.path();
    scene.ship.stop();
    let backup = data.join("backup.sqlite");
    std::fs::copy(data.join("records.sqlite"), &backup).expect("a file");
    let ship = Ship::start(data, &[]);
    let lost = scene.hand.starts("hose-test");
    push(&ship.url, lost.bytes());
    head(&ship);
    ship.stop();
    std::fs::rename(&backup, data.join("records.sqlite")).expect("a file");
    let ship = Ship::start(data, &[]);
    let card = card(&ship);
    let [restore] = card.restores[..] else {
        panic!("{:?}", card.restores);
    };
    assert_eq!((restore.kept, restore.lost), (62, 63));
    let found = on_the_bridge(&ship);
    assert_eq!(found[0].finder, Finder::Ship);
    // Its own next record might have the number of a lost one: it waits until they are back.
    let code = ship.code_for("salter");
    let refused = Hand::aboard("salter", 15).asks(&ship, &code);
    assert_eq!(refused.status, 409, "{}", refused.text());
    push(&ship.url, page(&[lost]).as_slice());
    Hand::enrolled(&ship, "salter", 15);
}

#[test]
fn two_servers_with_one_key_are_seen_by_a_device_that_meets_both() {
    let mut scene = scene();
    let data = scene.data.path();
    scene.ship.stop();
    let other = tempfile::tempdir().expect("a folder");
    copy(data, other.path());
    let (ship, twin) = (Ship::start(data, &[]), Ship::start(other.path(), &[]));
    let mut watcher = Watcher::default();
    assert_eq!(watcher.look(&ship), Verdict::First);
    assert_eq!(watcher.look(&twin), Verdict::Extends);
    push(&ship.url, scene.hand.starts("hose-test").bytes());
    assert_eq!(watcher.look(&ship), Verdict::Extends);
    let mut salter = Hand::enrolled(&twin, "salter", 14);
    push(&twin.url, &page(&salter.works(9)));
    assert!(matches!(watcher.look(&twin), Verdict::Contradicts(_)));
    let found = on_the_bridge(&twin);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(
        (found[0].finder, found[0].found),
        (Finder::Device, Found::Rewritten)
    );
    assert_eq!(card(&twin).restores, [], "nothing explains it");
}

#[test]
fn a_head_that_the_ship_never_signed_is_refused() {
    let scene = scene();
    let (shown, _) = head(&scene.ship);
    let forged = shown.sign(&SoftKey::from_seed([5; 32])).expect("a note");
    let showing = Showing {
        note: forged,
        proofs: Vec::new(),
    };
    let question = serde_json::to_vec(&showing).expect("JSON");
    let answer = http::post_json(&log_url(&scene.ship, "seen"), &question);
    assert_eq!(answer.status, 400);
    assert!(
        answer.text().contains("has not signed"),
        "{}",
        answer.text()
    );
    assert_eq!(on_the_bridge(&scene.ship), []);
}

#[test]
fn the_office_holds_the_ship_to_the_head_it_saw() {
    let scene = scene();
    let data = scene.data.path();
    let office_data = tempfile::tempdir().expect("a folder");
    let authority = scene.ship.authority.clone();
    let office = Ship::start(office_data.path(), &["--pin", &authority]);
    scene.ship.stop();
    let ship = Ship::start(data, &["--office", &office.url]);
    until("the office to know the hand", || {
        http::session(&office.url, &scene.hand.key).ok()
    });
    http::sign_in(&office.url, &scene.hand.key);
    let seen = until("the office to see the head", || card(&office).ship);
    assert_eq!(seen.0.size, 62);
    assert!(card(&office).origin.starts_with("clearhawse/office/"));
    ship.stop();
    behind_its_back(data, TAKEN_OUT);
    std::fs::remove_dir_all(data.join("heads")).expect("a folder");
    let ship = Ship::start(data, &["--office", &office.url]);
    let found = until("the office to find it", || {
        card(&office).standing().next().cloned()
    });
    assert_eq!(
        (found.finder, found.found),
        (Finder::Office, Found::Rewritten)
    );
    assert_eq!((found.remembered.size, found.shown.size), (62, 61));
    until("the ship's bridge to be told", || {
        on_the_bridge(&ship).first().cloned()
    });
}

#[test]
fn an_export_shows_that_it_adds_to_an_older_one_or_to_an_older_head() {
    let mut scene = scene();
    let data = scene.data.path();
    let file = |name: &str| data.join(name).to_str().expect("text").to_owned();
    let (older, newer, note) = (file("older"), file("newer"), file("head.txt"));
    let url = format!(
        "{}/api/v1/vessels/{}/records.cborseq",
        scene.ship.url,
        vessel()
    );
    std::fs::write(&older, http::get(&url).body).expect("it is written");
    std::fs::write(&note, head(&scene.ship).1).expect("it is written");
    push(&scene.ship.url, scene.hand.starts("hose-test").bytes());
    std::fs::write(&newer, http::get(&url).body).expect("it is written");
    let check = |newer: &str, older: &str| {
        let done = run(["verify", newer, "--since", older]);
        let words = String::from_utf8_lossy(&done.stdout).into_owned();
        (done.status.code(), words)
    };
    for since in [&older, &note] {
        let (code, words) = check(&newer, since);
        assert_eq!(code, Some(0), "{words}");
        assert!(words.contains("and 1 records were added"), "{words}");
    }
    let (code, words) = check(&older, &newer);
    assert_eq!(code, Some(1));
    assert!(
        words.contains("counts 63 records, this one holds 62"),
        "{words}"
    );
    let changed = std::fs::read_to_string(&note)
        .expect("text")
        .replace("62", "61");
    std::fs::write(&note, changed).expect("it is written");
    let (code, words) = check(&newer, &note);
    assert_eq!(code, Some(1));
    assert!(words.contains("bad signature on the checkpoint"), "{words}");
}

#[test]
fn an_export_without_the_key_at_hand_carries_the_head_that_was_signed_last() {
    let scene = scene();
    let data = scene.data.path();
    head(&scene.ship);
    scene.ship.stop();
    std::fs::rename(data.join("ship.key"), data.join("away.key")).expect("a file");
    let file = data.join("export.cborseq");
    let (folder, file) = (data.to_str().expect("text"), file.to_str().expect("text"));
    let exported = run(["export", "--data", folder, "--out", file]);
    assert!(exported.status.success(), "{exported:?}");
    let report = record::export::verify_export(&std::fs::read(file).expect("it is written"));
    assert!(report.is_sound(), "{:?}", report.faults);
    assert_eq!(report.checkpoint.map(|head| head.head.size), Some(62));
}
