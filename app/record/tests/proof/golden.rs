//! Published values: RFC 8032, RFC 8949, and crafted signatures with two libraries' verdicts.

use record::{PublicKey, SoftKey, cbor, hex};
use serde_json::Value;

fn cases(kinds: &[&str]) -> Vec<Value> {
    let text = include_str!("../golden/crypto.json");
    let file: Value = serde_json::from_str(text).unwrap();
    let all = file["cases"].as_array().unwrap();
    all.iter()
        .filter(|case| kinds.contains(&case["kind"].as_str().unwrap()))
        .cloned()
        .collect()
}

fn bytes(value: &Value) -> Vec<u8> {
    hex::decode(value.as_str().unwrap()).unwrap()
}

#[test]
fn keys_and_signatures_agree_with_rfc_8032() {
    let rows = cases(&["rfc8032", "sign_input"]);
    assert_eq!(rows.len(), 14);
    for case in rows {
        let key = SoftKey::from_seed(bytes(&case["in"]["seed"]).try_into().unwrap());
        let message = bytes(&case["in"]["message"]);
        assert_eq!(
            key.public().to_string(),
            case["out"]["public_key"],
            "{}",
            case["id"]
        );
        assert_eq!(
            hex::encode(&key.sign(&message)),
            case["out"]["signature"],
            "{}",
            case["id"]
        );
    }
}

#[test]
fn verdicts_are_the_strict_ones() {
    let rows = cases(&[
        "valid",
        "bit_flip",
        "wrong_key",
        "noncanonical_S",
        "small_order_A",
        "noncanonical_A",
        "small_order_R",
        "mixed_order_A",
        "mixed_order_R",
        "malformed",
        "other_variant",
    ]);
    assert_eq!(rows.len(), 56);
    for case in rows {
        if case["out"].get("implementation_defined").is_some() {
            continue;
        }
        let given = &case["in"];
        let verdict = PublicKey::from_bytes(&bytes(&given["public_key"]))
            .is_ok_and(|key| key.accepts(&bytes(&given["message"]), &bytes(&given["signature"])));
        assert_eq!(
            verdict, case["out"]["strict_accept"],
            "{} {}",
            case["id"], case["note"]
        );
    }
}

#[test]
fn deterministic_cbor_of_rfc_8949_appendix_a_is_taken() {
    let mut rows = 0;
    for case in cases(&["cbor_appendix_a"]) {
        assert_eq!(cbor::check(&bytes(&case["out"]["hex"])), Ok(()), "{case}");
        rows += 1;
    }
    for case in cases(&["cbor_map_order"]) {
        let out = &case["out"];
        assert_eq!(
            cbor::check(&bytes(&out["core_deterministic_hex"])),
            Ok(()),
            "{case}"
        );
        let old = cbor::check(&bytes(&out["length_first_rfc7049_hex"]));
        assert_eq!(old.is_ok(), out["same"], "{case}");
        rows += 1;
    }
    assert_eq!(rows, 41);
}

#[test]
fn cbor_that_is_not_deterministic_is_refused() {
    let rows = cases(&["cbor_reject"]);
    assert_eq!(rows.len(), 18);
    for case in rows {
        assert!(cbor::check(&bytes(&case["in"]["hex"])).is_err(), "{case}");
    }
}

#[test]
fn integers_of_rfc_8949_appendix_a_are_written_so() {
    let rows: [(i64, &str); 16] = [
        (0, "00"),
        (1, "01"),
        (10, "0a"),
        (23, "17"),
        (24, "1818"),
        (25, "1819"),
        (100, "1864"),
        (1000, "1903e8"),
        (1_000_000, "1a000f4240"),
        (1_000_000_000_000, "1b000000e8d4a51000"),
        (-1, "20"),
        (-10, "29"),
        (-100, "3863"),
        (-1000, "3903e7"),
        (i64::MAX, "1b7fffffffffffffff"),
        (i64::MIN, "3b7fffffffffffffff"),
    ];
    for (value, text) in rows {
        let mut writer = cbor::Writer::new();
        writer.int(value);
        assert_eq!(hex::encode(&writer.into_bytes()), text);
        let encoded = hex::decode(text).unwrap();
        assert_eq!(cbor::Reader::new(&encoded).int(), Ok(value));
    }
}
