//! Text: procedures as a mate writes them, JSON as programs send it, ids and keys in hexadecimal.

use super::records::{chain, key};
use journal::{Board, Ledger};
use procedure::{Decimal, library};
use record::{DeviceId, PublicKey, RecordId, VesselId};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::str::FromStr;

/// A procedure that is read has one identity, which does not depend on its file's layout; every mistake is
/// said with a line of the text.
pub fn procedure(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    let lines = text.lines().count();
    match procedure::parse_on_record("seed.toml", text) {
        Ok(read) => {
            let laid_out = format!("\n# a remark\n{text}\n");
            let again = procedure::parse_on_record("other.toml", &laid_out);
            assert_eq!(again.map(|again| again.hash()), Ok(read.hash()));
            record::cbor::check(&read.to_cbor()).expect("the canonical form is deterministic");
            let back: procedure::Procedure =
                minicbor::decode(&read.to_cbor()).expect("the canonical form can be read");
            assert_eq!(back, read);
        }
        Err(mistakes) => {
            assert!(!mistakes.is_empty());
            for mistake in mistakes {
                let words = mistake.to_string();
                let line = usize::try_from(mistake.line).expect("a line of a text in memory");
                assert!((1..=lines + 1).contains(&line), "{words} of {lines}");
                assert!(words.starts_with("seed.toml:"), "{words}");
            }
        }
    }
}

pub fn procedure_seeds() -> Vec<Vec<u8>> {
    library::texts()
        .iter()
        .map(|(_, text)| text.as_bytes().to_vec())
        .collect()
}

/// Sums answer anything with one line of JSON that holds a result or words; a board that is read is written
/// in a form that is read as the same board.
pub fn json(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    let (first, line) = text.split_once('\n').unwrap_or(("", text));
    let sums = seamanship::reckon::list();
    let sum = sums
        .iter()
        .find(|sum| sum.name == first)
        .unwrap_or(&sums[0]);
    let answer = seamanship::reckon::reckon_line(sum.name, line);
    assert!(!answer.contains('\n'));
    let answer: Value = serde_json::from_str(&answer).expect("an answer is JSON");
    let is_answer = answer["out"].is_object() || answer["error"].is_string();
    assert!(is_answer, "{answer}");
    if let Ok(board) = serde_json::from_str::<Board>(line) {
        let written = serde_json::to_string(&board).expect("a board is JSON");
        let again: Board = serde_json::from_str(&written).expect("what is written can be read");
        assert_eq!(again, board);
    }
}

pub fn json_seeds() -> Vec<Vec<u8>> {
    let folder = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../app/seamanship/tests/golden"
    );
    let mut seeds = Vec::new();
    for sum in seamanship::reckon::list() {
        let Ok(text) = std::fs::read_to_string(format!("{folder}/{}.json", sum.name)) else {
            continue;
        };
        let golden: Value = serde_json::from_str(&text).expect("JSON");
        for kind in &sum.kinds {
            let cases = golden["cases"].as_array().into_iter().flatten();
            let case = cases.into_iter().find(|case| case["kind"] == kind.kind);
            let case = case.map(|case| json!({ "kind": kind.kind, "in": case["in"] }));
            seeds.extend(case.map(|case| format!("{}\n{case}", sum.name).into_bytes()));
        }
    }
    let mut ledger = Ledger::new(key().public());
    let records = chain(2);
    let envelopes = records
        .iter()
        .map(|record| (record.envelope().clone(), Some(1)));
    // None of them is vouched for; the board tells of the vessel all the same.
    drop(ledger.admit_all(envelopes));
    let board = journal::board::board(&ledger, &BTreeMap::new(), 1_795_600_000_000);
    seeds.push(serde_json::to_vec(&board).expect("a board is JSON"));
    seeds
}

/// An id, a key or a number that is read is written as the same text, but for the case of digits.
pub fn words(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    if let Some(read) = record::hex::decode(text) {
        assert_eq!(record::hex::encode(&read), text.to_ascii_lowercase());
    }
    same_when_written::<RecordId>(text);
    same_when_written::<VesselId>(text);
    same_when_written::<DeviceId>(text);
    if let Ok(number) = text.parse::<Decimal>() {
        let written = number.to_string();
        assert_eq!(written.parse::<Decimal>(), Ok(number));
        assert!(number.to_f64().is_finite());
    }
    let quoted = Value::from(text);
    if let Ok(key) = serde_json::from_value::<PublicKey>(quoted) {
        assert_eq!(key.to_string(), text.to_ascii_lowercase());
        assert_eq!(PublicKey::from_bytes(key.as_bytes()), Ok(key));
        let written = record::cose_key(&key);
        assert_eq!(record::from_cose_key(&written), Ok(key));
    }
    if let Ok(key) = record::from_cose_key(bytes) {
        assert_eq!(record::cose_key(&key), bytes);
    }
}

fn same_when_written<T: FromStr + ToString>(text: &str) {
    if let Ok(id) = text.parse::<T>() {
        assert_eq!(id.to_string(), text.to_ascii_lowercase());
    }
}

pub fn words_seeds() -> Vec<Vec<u8>> {
    let key = key().public();
    let record = chain(1)[0].id();
    let words = [
        key.to_string(),
        record.to_string(),
        key.vessel().to_string(),
        "-12.50".to_owned(),
        "orrin".to_owned(),
    ];
    words.map(String::into_bytes).to_vec()
}
