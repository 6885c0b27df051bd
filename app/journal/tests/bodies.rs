//! BODIES.md and the program's declarations: neither has what the other lacks.

use journal::{Body, body};
use procedure::{Decimal, Event, Outcome};
use std::collections::BTreeSet;

const DOCUMENT: &str = include_str!("../BODIES.md");

/// Every file with declarations of what is written into a body.
const SOURCES: [&str; 8] = [
    include_str!("../src/body.rs"),
    include_str!("../src/watch/said.rs"),
    include_str!("../../procedure/src/event.rs"),
    include_str!("../../procedure/src/event/defect.rs"),
    include_str!("../../procedure/src/event/found.rs"),
    include_str!("../../procedure/src/event/log.rs"),
    include_str!("../../procedure/src/gear/change.rs"),
    include_str!("../../procedure/src/decimal.rs"),
];

/// One position: of which type, or which variant of it, its index and its name.
type Position = (String, u32, String);

/// Returns the number in `#[n(3)]` or `#[cbor(n(3), with = …)]`.
fn index(line: &str) -> Option<u32> {
    let at = line.find("n(").filter(|_| line.starts_with("#["))?;
    line[at + 2..].split(')').next()?.parse().ok()
}

/// Returns the name that begins a line: of a field, or of a variant.
fn name(line: &str) -> String {
    let line = line.strip_prefix("pub ").unwrap_or(line);
    line.chars()
        .take_while(|sign| sign.is_alphanumeric() || *sign == '_')
        .collect()
}

fn declared() -> BTreeSet<Position> {
    let mut all = BTreeSet::new();
    for source in SOURCES {
        let (mut of, mut variant, mut number) = (String::new(), String::new(), None);
        for line in source.lines() {
            let indent = line.len() - line.trim_start().len();
            let line = line.trim();
            let mut begins = ["pub struct ", "pub enum "].into_iter();
            if let Some(rest) = begins.find_map(|begin| line.strip_prefix(begin)) {
                of = name(rest);
                variant.clear();
            } else if let Some(found) = index(line) {
                number = Some(found);
            } else if !line.starts_with("#[")
                && !line.starts_with("///")
                && let Some(found) = number.take()
            {
                let name = name(line);
                if indent == 8 {
                    all.insert((format!("{of}.{variant}"), found, name));
                } else {
                    variant.clone_from(&name);
                    all.insert((of.clone(), found, name));
                }
            }
        }
    }
    all
}

fn documented() -> BTreeSet<Position> {
    let mut all = BTreeSet::new();
    let mut of = String::new();
    for line in DOCUMENT.lines() {
        if let Some(heading) = line.strip_prefix("### ") {
            heading.clone_into(&mut of);
        } else if let Some(fields) = line.strip_prefix("Fields of ") {
            fields.trim_end_matches(':').clone_into(&mut of);
        }
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        if let [_, number, name, ..] = cells[..]
            && let Ok(number) = number.parse()
        {
            all.insert((of.clone(), number, name.to_owned()));
        }
    }
    all
}

#[test]
fn every_position_of_every_body_is_documented_and_no_other() {
    let (declared, documented) = (declared(), documented());
    assert!(declared.len() > 100, "{} are declared", declared.len());
    let missing: Vec<_> = declared.difference(&documented).collect();
    let invented: Vec<_> = documented.difference(&declared).collect();
    assert!(
        missing.is_empty() && invented.is_empty(),
        "missing {missing:#?}, invented {invented:#?}"
    );
}

#[test]
fn every_kind_is_documented_and_no_other() {
    let source = SOURCES[0];
    let begin = source.find("pub mod kind {").expect("the kinds");
    let end = begin + source[begin..].find("\n}").expect("their end");
    let declared: BTreeSet<&str> = source[begin..end]
        .lines()
        .filter_map(|line| line.split('"').nth(1))
        .collect();
    assert!(declared.contains(body::kind::RUN));
    let begin = DOCUMENT.find("## Kinds").expect("the kinds");
    let end = begin + DOCUMENT[begin..].find("\n\nThe first").expect("their end");
    let documented: BTreeSet<&str> = DOCUMENT[begin..end]
        .lines()
        .skip(4)
        .filter_map(|line| line.split('|').nth(1).map(str::trim))
        .collect();
    assert_eq!(documented, declared);
}

#[test]
fn the_example_is_what_the_program_writes() {
    let value: Decimal = "20.9".parse().expect("a number");
    let event = Event::Done {
        step: "air-at-bottom".into(),
        outcome: Outcome::Reading {
            point: "oxygen".to_owned(),
            value,
        },
    };
    let bytes = Body::Run(Box::new(event)).encode().expect("in order");
    let hex = record::hex::encode(&bytes);
    assert!(DOCUMENT.contains(&format!("`{hex}`")), "{hex}");
}

/// Rule 1: what a newer program adds at the end an older reader skips, and what is missing at the end is null.
#[test]
fn positions_beyond_are_skipped_and_missing_ones_are_null() {
    // ["t", "{}", "o"] and the same with a reason and something of a later program.
    let short = [0x83, 0x61, b't', 0x62, b'{', b'}', 0x61, b'o'];
    let long = [
        0x85, 0x61, b't', 0x62, b'{', b'}', 0x61, b'o', 0x61, b'r', 0x07,
    ];
    for (bytes, reason) in [(&short[..], None), (&long[..], Some("r"))] {
        match Body::decode(body::kind::PLAN, bytes).expect("a plan") {
            Body::Plan(plan) => assert_eq!(plan.reason.as_deref(), reason),
            other => panic!("{other:?}"),
        }
    }
}
