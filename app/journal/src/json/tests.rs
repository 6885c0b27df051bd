use super::*;
use procedure::Decimal;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeMap;

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Way {
    Out,
    ByHand,
    Newtype(u32),
    Pair(i64, String),
    Fields { at_ms: i64, who: Option<String> },
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "is")]
enum Tagged {
    Clear,
    Stopped { since: i64 },
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "is", content = "because")]
enum Adjacent {
    Fine,
    Broken(Vec<String>),
}

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
struct Name(String);

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Strict {
    only: u8,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct All {
    text: String,
    escaped: String,
    sign: char,
    small: i8,
    large: u64,
    deep: i64,
    length: f64,
    short: f32,
    is_set: bool,
    depth: Decimal,
    unit: (),
    pair: (f64, String),
    fixed: [u16; 3],
    list: Vec<Way>,
    nested: Option<Box<All>>,
    tagged: Vec<Tagged>,
    adjacent: Vec<Adjacent>,
    by_name: BTreeMap<Name, Strict>,
    by_number: BTreeMap<i32, f64>,
    #[serde(default)]
    later: Vec<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    maybe: Option<u32>,
    #[serde(rename = "in")]
    inside: String,
}

fn all() -> All {
    let plain = All {
        text: "windlass".to_owned(),
        escaped: "a \"quoted\"\nline, \u{e9}\u{1f6df}".to_owned(),
        sign: 'x',
        small: -7,
        large: u64::MAX,
        deep: i64::MIN,
        length: 2.5e-3,
        short: 0.25,
        is_set: true,
        depth: "12.50".parse().unwrap(),
        unit: (),
        pair: (4.0, "b".to_owned()),
        fixed: [1, 2, 3],
        list: vec![
            Way::Out,
            Way::ByHand,
            Way::Newtype(5),
            Way::Pair(-1, "p".to_owned()),
            Way::Fields {
                at_ms: 3,
                who: None,
            },
        ],
        nested: None,
        tagged: vec![Tagged::Clear, Tagged::Stopped { since: 9 }],
        adjacent: vec![Adjacent::Fine, Adjacent::Broken(vec!["oil".to_owned()])],
        by_name: BTreeMap::from([(Name("a".to_owned()), Strict { only: 1 })]),
        by_number: BTreeMap::from([(-2, 1.0), (30, -0.5)]),
        later: vec!["l".to_owned()],
        maybe: Some(1),
        inside: "i".to_owned(),
    };
    All {
        nested: Some(Box::new(plain.clone())),
        ..plain
    }
}

/// Both readers say the same of `text`: the same value, or that it is none.
fn agree<T: DeserializeOwned + PartialEq + fmt::Debug>(text: &str) -> bool {
    let ours = read::<T>(text);
    match serde_json::from_str::<T>(text) {
        Ok(theirs) => assert_eq!(ours.as_ref().ok(), Some(&theirs), "{text}: {ours:?}"),
        Err(error) => assert!(ours.is_err(), "{text}: they say {error}, we say {ours:?}"),
    }
    ours.is_ok()
}

/// Calls `look` with every tree that differs from `tree` in one place.
fn each_change(tree: &Value, look: &mut dyn FnMut(Value)) {
    let others = [
        Value::Null,
        Value::Bool(false),
        Value::from(300),
        Value::from(-300),
        Value::from(0.5),
        Value::from(1e300),
        Value::from(""),
        Value::from("by-hand"),
        serde_json::json!([]),
        serde_json::json!([1, 2]),
        serde_json::json!({}),
        serde_json::json!({"is": "clear"}),
        serde_json::json!({"out": null}),
        serde_json::json!({"newtype": 1}),
        serde_json::json!({"newtype": 1, "out": null}),
    ];
    for other in others {
        look(other);
    }
    match tree {
        Value::Array(all) => {
            let mut longer = all.clone();
            longer.push(Value::from(1));
            look(Value::Array(longer));
            for at in 0..all.len() {
                let mut shorter = all.clone();
                shorter.remove(at);
                look(Value::Array(shorter));
                each_change(&all[at], &mut |changed| {
                    let mut other = all.clone();
                    other[at] = changed;
                    look(Value::Array(other));
                });
            }
        }
        Value::Object(all) => {
            let mut more = all.clone();
            more.insert("never heard of".to_owned(), Value::from(1));
            look(Value::Object(more));
            for name in all.keys() {
                let mut fewer = all.clone();
                fewer.remove(name);
                look(Value::Object(fewer));
                each_change(&all[name], &mut |changed| {
                    let mut other = all.clone();
                    other.insert(name.clone(), changed);
                    look(Value::Object(other));
                });
            }
        }
        _ => {}
    }
}

/// What stands there, and whatever differs from it in one place, is read by both readers alike.
fn agree_around<T: Serialize + DeserializeOwned + PartialEq + fmt::Debug>(value: &T) {
    let tree = serde_json::to_value(value).unwrap();
    assert!(agree::<T>(&serde_json::to_string(value).unwrap()));
    let mut read = [0, 0];
    each_change(&tree, &mut |changed| {
        let is_read = agree::<T>(&changed.to_string());
        read[usize::from(is_read)] += 1;
    });
    assert!(read[0] > 0, "some change must be refused: {read:?}");
}

#[test]
fn every_form_that_messages_use_is_read_as_by_serde_json() {
    assert!(agree::<All>(&serde_json::to_string(&all()).unwrap()));
    agree_around(all().nested.as_ref().unwrap());
}

#[test]
fn the_messages_themselves_are_read_as_by_serde_json() {
    agree_around(&crate::door::Code {
        code: "12345678".to_owned(),
        person: "bosun".to_owned(),
        expires_ms: 9,
    });
    as_they_are(&seamanship::plan::PlanInput::aldermere_demo());
    agree_around(&crate::log::Checked::default());
    agree_around(&crate::log::Answer::Wants(vec![1, 2]));
    for deed in crate::access::Deed::ALL {
        agree_around(&deed);
    }
    let ledger = crate::Ledger::new(record::SoftKey::from_seed([7; 32]).public());
    let heard = BTreeMap::new();
    agree_around(&crate::board::board(&ledger, &heard, 0));
    agree_around(&crate::crew::page(&ledger, &heard));
    agree_around(&crate::catalogue::rounds_page(&ledger, 0));
    agree_around(&crate::catalogue::defects_page(&ledger, 0));
    as_they_are(&crate::catalogue::settings_page(&ledger));
    let procedures = crate::catalogue::procedures(&ledger);
    as_they_are(&procedures);
    for card in procedures.into_iter().take(2) {
        as_they_are(&crate::catalogue::procedure_page(&ledger, card.slug.as_str()).unwrap());
    }
}

/// What stands there is read back as it was; for what is too long to be tried in each of its changes.
fn as_they_are<T: Serialize + DeserializeOwned + PartialEq + fmt::Debug>(value: &T) {
    assert_eq!(
        &read::<T>(&serde_json::to_string(value).unwrap()).unwrap(),
        value
    );
}

#[test]
fn what_is_no_json_is_refused() {
    for text in [
        "",
        "{",
        "[1,]",
        "{\"only\":1}}",
        "{\"only\":1,\"only\":2}",
        "nul",
    ] {
        assert!(!agree::<Strict>(text), "{text}");
    }
    assert!(!agree::<Vec<u8>>("[1, 2, 3000]"));
}

#[test]
fn a_fault_says_what_and_where() {
    let text = serde_json::to_string(&all()).unwrap();
    let fault = |from: &str, to: &str| {
        read::<All>(&text.replace(from, to))
            .unwrap_err()
            .to_string()
    };
    assert_eq!(
        fault("\"only\":1", "\"only\":\"1\""),
        "nested.by_name.a.only: a text stands where another kind is wanted"
    );
    assert_eq!(
        fault("\"newtype\":5", "\"newtype\":-5"),
        "list.3.newtype: a whole number is not one that may stand here"
    );
    assert!(fault("\"in\":", "\"on\":").ends_with("`in` is missing"));
    assert!(fault("\"by-hand\"", "\"by-foot\"").contains("list.2: `by-foot` is not known here"));
    assert!(read::<All>("{").unwrap_err().to_string().contains("line 1"));
}
