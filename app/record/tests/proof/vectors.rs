//! One file for each rule, made by `tests/vectors/make.py` without this crate.

use record::{Envelope, PublicKey, Refusal, VerifiedRecord, hex};

fn read(bytes: &[u8], key: &PublicKey) -> Result<VerifiedRecord, Refusal> {
    Envelope::decode(bytes)?.verify(key)
}

#[test]
fn every_vector_is_taken_or_refused_as_its_file_says() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/vectors");
    let mut cases = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|end| end != "json") {
            continue;
        }
        let row: serde_json::Value =
            serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
        let case = row["case"].as_str().unwrap();
        let bytes = hex::decode(row["bytes"].as_str().unwrap()).unwrap();
        let key = hex::decode(row["key"].as_str().unwrap()).unwrap();
        match read(&bytes, &PublicKey::from_bytes(&key).unwrap()) {
            Ok(record) => {
                assert_eq!(row["refusal"], serde_json::Value::Null, "{case}");
                assert_eq!(row["id"], record.id().to_string(), "{case}");
                assert_eq!(record.bytes(), bytes, "{case}");
                let again = record.draft().clone().to_be_signed().unwrap();
                assert_eq!(again.seal(*record.signature()).bytes(), bytes, "{case}");
            }
            Err(refusal) => assert_eq!(row["refusal"], refusal.to_string(), "{case}"),
        }
        cases += 1;
    }
    assert!(cases > 35, "{cases} vectors found in {folder}");
}

#[test]
fn example_in_the_format_is_the_first_vector() {
    let format = include_str!("../../FORMAT.md");
    let row: serde_json::Value =
        serde_json::from_str(include_str!("../vectors/good_first.json")).unwrap();
    let record = Envelope::decode(&hex::decode(row["bytes"].as_str().unwrap()).unwrap()).unwrap();
    let body = hex::encode(record.body());
    let parts = [
        record.device().to_string(),
        record.vessel().to_string(),
        record.time_ms().to_string(),
    ];
    for part in parts.iter().chain([&body]) {
        assert!(
            format.contains(part.as_str()),
            "FORMAT.md shows another record than {part}"
        );
    }
}
