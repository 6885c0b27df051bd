//! What runs come to is that of their edition: whoever changes it raises `EDITION`, or ships and phones would go on
//! with rows that the program does not make any more.

use flate2::read::GzDecoder;
use journal::Ledger;
use journal::ledger::EDITION;
use record::sync::Sequence;
use record::{Envelope, SoftKey, hex};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::io::Read as _;
use std::path::PathBuf;

/// The key of the frozen ship.
const SEED: [u8; 32] = [7; 32];

fn golden(name: &str) -> PathBuf {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/golden");
    root.join(name)
}

fn frozen() -> Ledger {
    let packed = std::fs::read(golden("release-0.1.0/aldermere.cborseq.gz")).expect("frozen");
    let mut bytes = Vec::new();
    let mut packed = GzDecoder::new(&packed[..]);
    packed.read_to_end(&mut bytes).expect("it is packed");
    let mut ledger = Ledger::new(SoftKey::from_seed(SEED).public());
    let records = Sequence::new(&bytes).filter_map(|item| Envelope::decode(item.bytes).ok());
    ledger.admit_all(records.map(|record| (record, None)));
    ledger
}

/// The digest of the rows of all closed runs, and of what the open ones come to for the others.
fn comes_to(ledger: &Ledger) -> String {
    let mut hash = Sha256::new();
    let mut rows = 0;
    for run in ledger.may_be_put_away(0) {
        hash.update(ledger.kept(run).expect("it may be put away").encode());
        rows += 1;
    }
    assert!(rows > 5, "{rows} closed runs are too few to show a change");
    for (run, file) in ledger.runs() {
        hash.update(run.as_bytes());
        hash.update(
            serde_json::to_vec(&(&file.past, &file.defects, file.closed_ms)).expect("JSON"),
        );
    }
    hex::encode(&<[u8; 32]>::from(hash.finalize()))
}

#[test]
fn what_frozen_records_come_to_is_that_of_this_edition() {
    let text = std::fs::read_to_string(golden("editions.txt")).expect("the golden file");
    let lines = text.lines().filter_map(|line| line.split_once(' '));
    let mut known: BTreeMap<u32, &str> = BTreeMap::new();
    for (edition, digest) in lines.filter(|(edition, _)| *edition != "#") {
        let edition = edition.parse().expect("a number");
        assert_eq!(
            known.insert(edition, digest),
            None,
            "{edition} stands twice"
        );
    }
    let now = comes_to(&frozen());
    let newest = known.last_key_value().map(|(edition, _)| *edition);
    assert_eq!(
        newest,
        Some(EDITION),
        "the newest edition has its line: {EDITION} {now}"
    );
    assert_eq!(
        known.get(&EDITION),
        Some(&now.as_str()),
        "runs come to something else than in edition {EDITION}: raise EDITION in ledger/kept.rs, add its line"
    );
}
