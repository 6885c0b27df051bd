//! Whether a run is put away never changes what is so: not of it, and not of the others.

use crate::aboard::{START_MS, act, assert_same, empty, shown};
use crate::order::{Deed, deed, play};
use journal::ledger::{KeptRun, RunFile};
use journal::{Body, Ledger, RunId};
use procedure::{End, Event};
use proptest::prelude::*;
use record::{Envelope, VerifiedRecord};

/// The records of a run, as a store would give them back.
fn records_of(ledger: &Ledger, all: &[Envelope], run: RunId) -> Vec<VerifiedRecord> {
    let of_run = all
        .iter()
        .filter(|record| record.run() == Some(run) || record.id() == run);
    of_run
        .filter_map(|record| record.verify(&ledger.key_of(record.device())?).ok())
        .collect()
}

/// Takes back what is wanted until nothing is, as a server does after each page.
pub fn settle(ledger: &mut Ledger, all: &[Envelope]) {
    loop {
        let folds = ledger.fold_changed();
        ledger.settle(folds);
        let wanted: Vec<RunId> = ledger.wanted().collect();
        if wanted.is_empty() && !ledger.is_unsettled() {
            return;
        }
        for run in wanted {
            let records = records_of(ledger, all, run);
            assert!(ledger.take_back(run, records), "all of it is there");
        }
    }
}

/// Puts away all that may be, and returns what is kept.
pub fn put_away(ledger: &mut Ledger) -> Vec<KeptRun> {
    let runs = ledger.may_be_put_away(0);
    let kept: Vec<KeptRun> = runs
        .into_iter()
        .filter_map(|run| ledger.kept(run))
        .collect();
    for kept in &kept {
        assert_eq!(KeptRun::decode(&kept.encode()).as_ref(), Some(kept));
        assert!(ledger.put_away(kept));
        assert!(ledger.run(kept.run()).is_some_and(RunFile::is_away));
    }
    kept
}

pub fn take_all_back(ledger: &mut Ledger, all: &[Envelope]) {
    let away = ledger.runs().values().filter(|file| file.is_away());
    let away: Vec<RunId> = away.map(|file| file.id).collect();
    for run in away {
        let records = records_of(ledger, all, run);
        assert!(ledger.take_back(run, records), "all of it is there");
    }
    settle(ledger, all);
}

/// What happens aboard, and then both runs are broken off by the officer.
pub fn worked(deeds: &[Deed]) -> Vec<Envelope> {
    let mut aboard = play(deeds);
    for device in [0, 1] {
        aboard.sync(device, 2);
    }
    let runs: Vec<RunId> = aboard.ledger(2).runs().keys().copied().collect();
    for run in runs {
        let close = Event::Close {
            end: End::BrokenOff,
            remark: "weather".to_owned(),
        };
        aboard.says(2, Some(run), Body::Run(Box::new(close)));
    }
    aboard.envelopes()
}

/// A page of the store's records, received in their turn.
fn page(records: &[Envelope]) -> Vec<(Envelope, Option<i64>)> {
    let received = |(place, record): (usize, &Envelope)| {
        let at_ms = START_MS + i64::try_from(place).unwrap_or(0);
        (record.clone(), Some(at_ms))
    };
    records.iter().enumerate().map(received).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn a_run_that_was_put_away_comes_back_as_it_would_be(
        deeds in prop::collection::vec(deed(), 0..30),
        cuts in prop::collection::vec(1..12_usize, 1..12),
        order in any::<u64>(),
    ) {
        let mut all = worked(&deeds);
        // The order of arrival: the records' own, or turned about from some place on.
        let turn = usize::try_from(order).unwrap_or(0) % all.len();
        if order.is_multiple_of(3) {
            all.rotate_left(turn);
        }
        let mut cut = empty();
        let mut rest = &all[..];
        let mut sizes = cuts.iter().cycle();
        while !rest.is_empty() {
            let size = sizes.next().copied().unwrap_or(1).min(rest.len());
            let (now, later) = rest.split_at(size);
            rest = later;
            cut.take_up_all(now.iter().map(|record| (record.clone(), None)));
            settle(&mut cut, &all);
            put_away(&mut cut);
        }
        // Times of receipt are the store's; here only what is so of the runs is compared.
        let mut bare = empty();
        bare.admit_all(all.iter().map(|record| (record.clone(), None)));
        take_all_back(&mut cut, &all);
        assert_same(&shown(&cut), &shown(&bare));
    }

    #[test]
    fn what_is_kept_makes_the_same_state_as_the_records(
        deeds in prop::collection::vec(deed(), 0..30),
    ) {
        let all = worked(&deeds);
        let mut whole = empty();
        whole.admit_all(page(&all));
        let mut before = empty();
        before.admit_all(page(&all));
        let kept = put_away(&mut before);
        // Another start: what is kept first, then the records, of which those that are kept are known.
        let mut after = empty();
        for kept in &kept {
            prop_assert!(after.take_kept(kept), "it fits an empty ledger");
        }
        after.take_up_all(page(&all));
        let folds = after.fold_changed().leave_away();
        after.settle(folds);
        prop_assert_eq!(after.len(), before.len());
        prop_assert_eq!(after.vector(), whole.vector());
        prop_assert_eq!(after.past(), whole.past());
        prop_assert_eq!(after.defects(), whole.defects());
        prop_assert_eq!(after.closed_last(9), whole.closed_last(9));
        let away = after.runs().values().filter(|file| file.is_away()).count();
        prop_assert_eq!(away, kept.len(), "nothing was taken back for it");
        take_all_back(&mut after, &all);
        assert_same(&shown(&after), &shown(&whole));
    }
}

#[test]
fn a_change_of_the_settings_touches_only_what_begins_after_it() {
    let mut aboard = crate::aboard::Aboard::mustered();
    let run = aboard.starts(2, "windlass-weekly");
    let view = |ledger: &Ledger| {
        let state = ledger.run(run).and_then(|file| file.state.clone());
        state.expect("it is folded")
    };
    let before = view(aboard.ledger(2));
    let settings = procedure::Settings::defaults();
    let json = serde_json::to_string(&settings).expect("settings are JSON");
    aboard.says(2, None, Body::Settings(journal::SettingsBody { json }));
    let after = view(aboard.ledger(2));
    assert!(
        std::sync::Arc::ptr_eq(&before, &after),
        "a run under way is judged by the settings of its start, and was folded again"
    );
}

#[test]
fn a_late_record_and_a_withdrawal_bring_a_run_back_and_what_does_not_bear_on_it_does_not() {
    let mut aboard = crate::aboard::Aboard::mustered();
    let run = aboard.starts(2, "windlass-weekly");
    let state = aboard
        .ledger(2)
        .run(run)
        .and_then(|file| file.state.clone());
    let view = state.expect("it is folded").view(aboard.now_ms);
    let event = act(&view, &view.steps[0], None, 8);
    aboard.says(2, Some(run), Body::Run(Box::new(event)));
    let close = Event::Close {
        end: End::BrokenOff,
        remark: String::new(),
    };
    aboard.says(2, Some(run), Body::Run(Box::new(close)));
    let all = aboard.envelopes();
    let mut ledger = empty();
    ledger.admit_all(page(&all));
    assert_eq!(put_away(&mut ledger).len(), 1);
    // A plan and settings that come later say nothing of it.
    let settings = procedure::Settings::defaults();
    let json = serde_json::to_string(&settings).expect("settings are JSON");
    aboard.says(2, None, Body::Settings(journal::SettingsBody { json }));
    ledger.take_up_all(page(&aboard.envelopes()));
    assert_eq!(ledger.wanted().count(), 0);
    assert!(ledger.run(run).is_some_and(RunFile::is_away));
    let device = crate::aboard::key(2).device();
    let withdrawal = record::Withdrawal {
        device,
        from_ms: aboard.now_ms,
        last_seq: 1,
        reason: "copied".to_owned(),
    };
    aboard.says(crate::aboard::AUTHORITY, None, Body::Withdrawal(withdrawal));
    let all = aboard.envelopes();
    ledger.take_up_all(page(&all));
    assert_eq!(ledger.wanted().collect::<Vec<_>>(), [run]);
    settle(&mut ledger, &all);
    let mut whole = empty();
    whole.admit_all(page(&all));
    take_all_back(&mut ledger, &all);
    assert_eq!(ledger.past(), whole.past());
}

#[test]
fn a_row_of_another_edition_or_a_damaged_one_is_none() {
    let all = worked(&[]);
    let mut ledger = empty();
    ledger.admit_all(page(&all));
    let kept = put_away(&mut ledger);
    assert!(!kept.is_empty(), "one of the two is closed");
    let bytes = kept[0].encode();
    assert!(KeptRun::decode(&bytes).is_some());
    for end in [0, 3, 4, 40, bytes.len() - 1] {
        assert_eq!(KeptRun::decode(&bytes[..end]), None, "cut at {end}");
    }
    let text = format!("\"edition\":{}", journal::ledger::EDITION);
    let text = text.as_bytes();
    let at = bytes.windows(text.len()).position(|window| window == text);
    let mut later = bytes.clone();
    later[at.expect("it names its edition") + text.len() - 1] = b'9';
    assert_eq!(KeptRun::decode(&later), None);
    assert_eq!(KeptRun::decode(&[0xff; 64]), None);
}

#[test]
fn a_start_from_rows_judges_nothing_again_but_what_a_new_record_bears_on() {
    let mut aboard = crate::aboard::Aboard::mustered();
    let settings = procedure::Settings::defaults();
    let json = serde_json::to_string(&settings).expect("settings are JSON");
    let settings = Body::Settings(journal::SettingsBody { json });
    aboard.says(crate::aboard::AUTHORITY, None, settings);
    let run = aboard.starts(2, "windlass-weekly");
    let close = || {
        let close = Event::Close {
            end: End::BrokenOff,
            remark: String::new(),
        };
        Body::Run(Box::new(close))
    };
    aboard.says(2, Some(run), close());
    let all = aboard.envelopes();
    let mut before = empty();
    before.admit_all(page(&all));
    let kept = put_away(&mut before);
    let mut after = empty();
    assert!(after.take_kept(&kept[0]));
    after.take_up_all(page(&all));
    assert_eq!(
        after.wanted().count(),
        1,
        "what everybody is judged by came after the row"
    );
    after.leave_judged();
    assert_eq!(after.wanted().count(), 0, "and was there when it was made");
    aboard.says(2, Some(run), close());
    after.take_up_all(page(&aboard.envelopes()));
    after.leave_judged();
    assert_eq!(
        after.wanted().collect::<Vec<_>>(),
        [run],
        "it was not there then"
    );
}
