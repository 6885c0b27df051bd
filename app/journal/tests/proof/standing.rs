//! What a record counts for: by its chain, and by whatever its signer could be when it was made.

use crate::aboard::{AUTHORITY, Aboard, assert_same, credential, empty, key, shown};
use journal::body::RolesFromBody;
use journal::{Body, Ledger, SettingsBody};
use procedure::Settings;
use record::{Envelope, Hlc, RecordId, VerifiedRecord};

fn settings(watch_every: &str) -> Body {
    let mut settings = Settings::defaults();
    let mut value = settings.get("watch_every").expect("it is one").clone();
    value.value = watch_every.parse().expect("a number");
    settings.set("watch_every", value);
    let json = serde_json::to_string(&settings).expect("settings are JSON");
    Body::Settings(SettingsBody { json })
}

fn watch_every(ledger: &Ledger) -> String {
    let settings = ledger.settings();
    let value = settings.get("watch_every").expect("it is one");
    value.value.to_string()
}

/// The same record with another draft, signed by the same key: what a changed program could make.
fn altered(
    record: &VerifiedRecord,
    device: usize,
    change: impl FnOnce(&mut record::Draft),
) -> VerifiedRecord {
    let mut draft = record.envelope().draft().clone();
    change(&mut draft);
    let unsigned = draft.to_be_signed().expect("in order");
    unsigned.sign(&key(device)).expect("its own key")
}

/// The third device is the master's, then only an officer's; and which record demoted them.
fn demoted(says_from: bool) -> (Aboard, Hlc, RecordId) {
    let mut aboard = Aboard::mustered();
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    aboard.says(2, None, settings("10"));
    let while_master = aboard.records.last().expect("it").hlc();
    aboard.sync(2, AUTHORITY);
    let demotion = aboard.says(AUTHORITY, None, credential(2, &["crew", "officer"]));
    if says_from {
        let from = RolesFromBody {
            device: key(2).device(),
            last_seq: 1,
            credential: demotion,
        };
        aboard.says(AUTHORITY, None, Body::RolesFrom(from));
    }
    (aboard, while_master, demotion)
}

#[test]
fn a_demoted_master_who_sets_the_clock_back_puts_nothing_in_force() {
    for says_from in [true, false] {
        let (mut aboard, while_master, _) = demoted(says_from);
        // The phone has not heard of the demotion, or does not want to.
        aboard.says(2, None, settings("55"));
        let honest = aboard.records.pop().expect("it");
        let backdated = altered(&honest, 2, |draft| {
            draft.hlc = while_master.tick(0);
            draft.time_ms -= 3_000;
        });
        let mut ledger = empty();
        for envelope in aboard.envelopes() {
            ledger.admit(envelope).expect("a good record");
        }
        assert_eq!(watch_every(&ledger), "10", "what the master set stays");
        ledger.admit(backdated.envelope().clone()).expect("signed");
        let expected = if says_from { "10" } else { "55" };
        assert_eq!(
            watch_every(&ledger),
            expected,
            "by the number; by the time alone nothing tells it"
        );
    }
}

#[test]
fn who_is_made_master_was_none_before_whatever_their_clock_says() {
    let mut aboard = Aboard::mustered();
    let promotion = aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    let from = RolesFromBody {
        device: key(2).device(),
        last_seq: 0,
        credential: promotion,
    };
    aboard.says(AUTHORITY, None, Body::RolesFrom(from));
    aboard.sync(AUTHORITY, 2);
    let before = aboard.ledger(2).entry(promotion).expect("it").record.hlc();
    aboard.says(2, None, settings("10"));
    let honest = aboard.records.pop().expect("it");
    let backdated = altered(&honest, 2, |draft| draft.hlc.ms = before.ms - 1);
    let mut ledger = aboard.ledger(AUTHORITY).clone();
    let plain = watch_every(&ledger);
    ledger.admit(backdated.envelope().clone()).expect("signed");
    assert_eq!(watch_every(&ledger), plain);
    let mut ledger = aboard.ledger(AUTHORITY).clone();
    ledger.admit(honest.envelope().clone()).expect("signed");
    assert_eq!(watch_every(&ledger), "10");
}

#[test]
fn only_the_authority_says_from_where_roles_count() {
    let (mut aboard, _, demotion) = demoted(false);
    let from = |device: usize| RolesFromBody {
        device: key(device).device(),
        last_seq: 0,
        credential: demotion,
    };
    aboard.says(0, None, Body::RolesFrom(from(2)));
    for pen in 0..3 {
        aboard.sync(pen, AUTHORITY);
    }
    assert_eq!(watch_every(aboard.ledger(AUTHORITY)), "10");
}

#[test]
fn a_record_behind_a_missing_one_counts_when_that_comes_and_never_before() {
    let mut aboard = Aboard::mustered();
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    aboard.says(2, None, settings("10"));
    let withheld = aboard.records.pop().expect("it");
    aboard.says(2, None, settings("12"));
    aboard.says(2, None, settings("14"));
    let mut ledger = empty();
    for envelope in aboard.envelopes() {
        ledger.admit(envelope).expect("a good record");
    }
    let plain = watch_every(&empty());
    assert_eq!(watch_every(&ledger), plain);
    assert_eq!(ledger.pending().get(&key(2).device()), Some(&2));
    assert_eq!(ledger.height_of(key(2).device()), 0);
    ledger.admit(withheld.envelope().clone()).expect("signed");
    assert_eq!(watch_every(&ledger), "14");
    assert!(ledger.pending().is_empty());

    let mut in_order = empty();
    let all = aboard.envelopes();
    let first = all.len() - 2;
    let withheld = withheld.envelope().clone();
    let whole: Vec<Envelope> = [&all[..first], &[withheld], &all[first..]].concat();
    for envelope in whole {
        in_order.admit(envelope).expect("a good record");
    }
    assert_same(&shown(&ledger), &shown(&in_order));
}

#[test]
fn a_record_that_names_another_predecessor_counts_for_nothing() {
    let mut aboard = Aboard::mustered();
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    aboard.says(2, None, settings("10"));
    aboard.says(2, None, settings("12"));
    let second = aboard.records.pop().expect("it");
    let alien = aboard.records[0].id();
    let wrong = altered(&second, 2, |draft| draft.prev = Some(alien));
    let mut ledger = empty();
    for envelope in aboard.envelopes() {
        ledger.admit(envelope).expect("a good record");
    }
    ledger.admit(wrong.envelope().clone()).expect("signed");
    assert_eq!(watch_every(&ledger), "10");
    assert_eq!(ledger.height_of(key(2).device()), 1);
    ledger.admit(second.envelope().clone()).expect("signed");
    assert_eq!(watch_every(&ledger), "12", "the true second one counts");
}
