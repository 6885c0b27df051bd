//! What is read is what the other reader reads.

use super::*;
use proptest::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Told {
    Alone,
    One(i32),
    Pair(u8, String),
    Named { at_ms: i64, why: Option<String> },
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "is", content = "words")]
enum Tagged {
    Silent,
    Says(String),
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
enum Inside {
    First { depth_m: f64 },
    Second { count: u32, told: Vec<Told> },
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
struct Only(u64);

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct All {
    told: Vec<Told>,
    tagged: Tagged,
    inside: Option<Inside>,
    by_number: BTreeMap<u32, String>,
    by_name: BTreeMap<String, (i8, bool)>,
    only: Only,
    small: f32,
    large: f64,
    sign: char,
    bytes: [u8; 3],
    #[serde(default)]
    more: Option<Box<All>>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    none: Vec<u8>,
}

/// Numbers that every reader reads alike.
fn quarters() -> impl Strategy<Value = f64> {
    any::<i16>().prop_map(|quarters| f64::from(quarters) / 4.0)
}

fn told() -> impl Strategy<Value = Told> {
    prop_oneof![
        Just(Told::Alone),
        any::<i32>().prop_map(Told::One),
        (any::<u8>(), ".{0,6}").prop_map(|(at, words)| Told::Pair(at, words)),
        (any::<i64>(), prop::option::of(".{0,6}"))
            .prop_map(|(at_ms, why)| Told::Named { at_ms, why }),
    ]
}

fn all() -> impl Strategy<Value = All> {
    let inside = prop_oneof![
        quarters().prop_map(|depth_m| Inside::First { depth_m }),
        (any::<u32>(), prop::collection::vec(told(), 0..3))
            .prop_map(|(count, told)| Inside::Second { count, told }),
    ];
    let tagged = prop_oneof![Just(Tagged::Silent), ".{0,9}".prop_map(Tagged::Says)];
    let words = (
        prop::collection::vec(told(), 0..4),
        tagged,
        prop::option::of(inside),
        prop::collection::btree_map(any::<u32>(), ".{0,4}", 0..3),
        prop::collection::btree_map(".{0,4}", any::<(i8, bool)>(), 0..3),
    );
    let figures = (
        any::<u64>(),
        any::<i16>().prop_map(f32::from),
        quarters(),
        any::<char>(),
        any::<[u8; 3]>(),
    );
    let leaf = (words, figures)
        .prop_map(|(words, figures)| All {
            told: words.0,
            tagged: words.1,
            inside: words.2,
            by_number: words.3,
            by_name: words.4,
            only: Only(figures.0),
            small: figures.1,
            large: figures.2,
            sign: figures.3,
            bytes: figures.4,
            more: None,
            none: Vec::new(),
        })
        .boxed();
    (leaf.clone(), prop::option::of(leaf)).prop_map(|(all, more)| All {
        more: more.map(Box::new),
        ..all
    })
}

proptest! {
    #[test]
    fn what_was_written_is_read_as_it_was(all in all()) {
        let text = serde_json::to_string(&all).expect("JSON");
        prop_assert_eq!(read::<All>(&text).expect("sound"), all.clone());
        prop_assert_eq!(read_bytes::<All>(text.as_bytes()).expect("sound"), all);
    }

    /// Whatever is put in the place of a part: it is read as the other reader reads it, or by neither.
    #[test]
    fn what_is_wrong_is_wrong_here_too(all in all(), at in any::<prop::sample::Index>(), with in 0_usize..7) {
        let mut tree = serde_json::to_value(&all).expect("JSON");
        let fields = tree.as_object_mut().expect("an object");
        let name = fields.keys().nth(at.index(fields.len())).expect("a field").clone();
        let puts = ["null", "7", "-1.5", "\"alone\"", "[1,2,3]", "{\"one\":1}", "true"];
        fields.insert(name, serde_json::from_str(puts[with]).expect("JSON"));
        let text = tree.to_string();
        let other = serde_json::from_str::<All>(&text);
        prop_assert_eq!(read::<All>(&text).ok(), other.ok(), "{}", text);
    }
}

#[test]
fn what_is_wrong_is_said_in_words() {
    let said = |text: &str| read::<All>(text).expect_err("it is wrong").to_string();
    assert!(said("{").contains("line 1"));
    assert_eq!(said("[1"), "EOF while parsing a list at line 1 column 2");
    assert_eq!(said("7"), "a number stands where an object should");
    assert_eq!(
        said("{\"told\":[\"gone\"]}"),
        "nothing is called `gone` here"
    );
    assert_eq!(said("{\"told\":[]}"), "`tagged` is missing");
    let bad = read::<u8>("300").expect_err("too much").to_string();
    assert_eq!(bad, "integer `300` stands where u8 should");
    assert!(read::<[u8; 2]>("[1,2,3]").is_err());
}
