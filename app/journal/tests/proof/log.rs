//! What is wrong with a log stands until a master has put on record that they have read it.

use crate::aboard::{AUTHORITY, Aboard, START_MS, credential};
use journal::Body;
use journal::log::{Finder, Found, Head, Trouble};
use record::Restore;

fn head(size: u64, byte: u8) -> Head {
    Head {
        size,
        root: [byte; 32],
        signed_ms: Some(START_MS),
    }
}

fn trouble(found: Found) -> Trouble {
    Trouble {
        origin: "clearhawse/ship/1".to_owned(),
        finder: Finder::Device,
        found,
        remembered: head(9, 1),
        shown: head(8, 2),
        found_ms: START_MS,
    }
}

fn restored(at_ms: i64) -> Found {
    Found::Restored(Restore {
        kept: 5,
        lost: 9,
        at_ms,
    })
}

#[test]
fn only_a_master_reads_it_and_never_the_servers_own_key() {
    let rewritten = trouble(Found::Rewritten);
    let mut aboard = Aboard::mustered();
    aboard.says(2, None, Body::Finding(rewritten.body("nothing to see")));
    aboard.says(
        AUTHORITY,
        None,
        Body::Finding(rewritten.body("nothing to see")),
    );
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    assert_eq!(rewritten.read_in(aboard.ledger(2)), None);
    aboard.says(2, None, Body::Finding(rewritten.body("a drill")));
    let read = rewritten.read_in(aboard.ledger(2)).expect("it is read");
    assert_eq!(
        (read.by.as_str(), read.reason.as_str()),
        ("THORNE", "a drill")
    );
}

#[test]
fn reading_one_finding_reads_no_other() {
    let mut aboard = Aboard::mustered();
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    let read = trouble(restored(START_MS));
    aboard.says(2, None, Body::Finding(read.body("the disk was changed")));
    let other_device = Trouble {
        finder: Finder::Office,
        remembered: head(7, 4),
        ..read.clone()
    };
    assert!(other_device.is_same(&read), "one restore, whoever saw it");
    assert!(other_device.read_in(aboard.ledger(2)).is_some());
    let other_log = Trouble {
        origin: "clearhawse/ship/2".to_owned(),
        ..read.clone()
    };
    for other in [
        trouble(restored(START_MS + 1)),
        trouble(Found::Rewritten),
        other_log,
    ] {
        assert!(!other.is_same(&read));
        assert_eq!(other.read_in(aboard.ledger(2)), None, "{other:?}");
    }
}

#[test]
fn head_is_read_aloud_in_groups_of_four() {
    let groups = head(1, 0xa7).groups();
    assert_eq!(groups.len(), 16);
    assert!(groups.iter().all(|group| group == "a7a7"));
}
