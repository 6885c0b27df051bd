//! A record before its credential waits; what is not of the vessel or does not verify is refused.

use crate::aboard::{
    AUTHORITY, Aboard, assert_same, credential, empty, forged, key, shown, vessel_body,
};
use journal::{Admitted, Body, Ledger};
use procedure::{Event, Outcome};
use record::{Draft, Hlc, Refusal, SoftKey};

fn tick(step: &str) -> Body {
    Body::Run(Box::new(Event::Done {
        step: step.into(),
        outcome: Outcome::Confirmed,
    }))
}

#[test]
fn a_record_before_its_credential_waits_and_counts_when_that_comes() {
    let mut aboard = Aboard::mustered();
    let run = aboard.starts(0, "anchors-ready");
    aboard.says(0, Some(run), tick("voice-link"));
    let (standing, work) = aboard.records.split_at(4);

    let mut ledger = empty();
    for record in work {
        let answer = ledger.admit(record.envelope().clone());
        assert_eq!(answer, Ok(Admitted::Waiting(record.id())));
    }
    assert_eq!((ledger.len(), ledger.waiting()), (0, 2));
    assert!(ledger.run(run).is_none());
    assert!(
        ledger.vector().is_empty(),
        "what waits is not in the vector"
    );

    for record in standing {
        ledger
            .admit(record.envelope().clone())
            .expect("the authority's own");
    }
    assert_eq!((ledger.len(), ledger.waiting()), (6, 0));
    assert_eq!(ledger.run(run).map(|file| file.records.len()), Some(2));
    assert_eq!(ledger.vector().get(&key(0).device()), Some(&2));
}

#[test]
fn a_credential_that_the_authority_did_not_sign_wakes_nothing() {
    let mut aboard = Aboard::mustered();
    aboard.starts(0, "anchors-ready");
    let work = aboard.records.last().expect("the start").clone();
    let stranger = SoftKey::from_seed([66; 32]);
    let Body::Credential(token) = credential(0, &["crew", "master"]) else {
        unreachable!("it makes credentials")
    };

    // A record of the kind, carried by a device that is not the authority.
    let mut ledger = empty();
    ledger
        .admit(work.envelope().clone())
        .expect("of this vessel");
    let draft = Draft {
        vessel: ledger.vessel(),
        device: stranger.device(),
        seq: 1,
        prev: None,
        run: None,
        heads: Vec::new(),
        time_ms: 0,
        hlc: Hlc::default().tick(1),
        author: "ship".into(),
        receipt: None,
        kind: "credential".to_owned(),
        body: token,
    };
    let record = draft
        .to_be_signed()
        .and_then(|unsigned| unsigned.sign(&stranger))
        .expect("well-formed");
    let answer = ledger.admit(record.envelope().clone());
    assert_eq!(answer, Ok(Admitted::Waiting(record.id())));
    assert_eq!((ledger.len(), ledger.waiting()), (0, 2));
    assert!(ledger.holders().is_empty());
}

#[test]
fn a_forged_copy_that_waits_does_not_keep_the_true_record_out() {
    let mut aboard = Aboard::mustered();
    aboard.starts(0, "anchors-ready");
    let (standing, work) = aboard.records.split_at(4);
    let mut ledger = empty();
    ledger
        .admit(forged(&work[0]))
        .expect("its key is not known");
    ledger
        .admit(work[0].envelope().clone())
        .expect("its key is not known");
    for record in standing {
        ledger
            .admit(record.envelope().clone())
            .expect("the authority's own");
    }
    assert_eq!((ledger.len(), ledger.waiting()), (5, 0));
    let kept = ledger.entry(work[0].id()).expect("the true one");
    assert_eq!(kept.record.bytes(), work[0].bytes());
}

#[test]
fn a_record_of_another_vessel_is_refused_by_name_and_changes_nothing() {
    let aboard = Aboard::mustered();
    let other = SoftKey::from_seed([91; 32]).public();
    let mut ledger = Ledger::new(other);
    let before = shown(&ledger);
    for record in &aboard.records {
        let answer = ledger.admit(record.envelope().clone());
        let expected = Refusal::OtherVessel {
            device: record.device(),
            seq: record.seq(),
            vessel: other.vessel(),
            found: record.vessel(),
        };
        assert_eq!(answer, Err(expected));
    }
    assert_same(&shown(&ledger), &before);
}

#[test]
fn a_signature_that_does_not_fit_is_refused_and_the_true_record_still_counts() {
    let mut aboard = Aboard::mustered();
    aboard.starts(0, "anchors-ready");
    let (standing, work) = aboard.records.split_at(4);
    let mut ledger = empty();
    for record in standing {
        ledger
            .admit(record.envelope().clone())
            .expect("the authority's own");
    }
    let refused = ledger.admit(forged(&work[0]));
    assert!(
        matches!(refused, Err(Refusal::BadSignature { seq: 1, .. })),
        "{refused:?}"
    );
    let taken = ledger.admit(work[0].envelope().clone());
    assert_eq!(taken, Ok(Admitted::New(work[0].id())));
}

#[test]
fn one_bad_record_of_many_does_not_keep_the_others_out() {
    let mut aboard = Aboard::mustered();
    let run = aboard.starts(0, "anchors-ready");
    aboard.says(0, Some(run), tick("voice-link"));
    let mut envelopes = aboard.envelopes();
    envelopes.insert(4, forged(&aboard.records[4]));
    let answers = {
        let mut ledger = empty();
        let answers = ledger.admit_all(envelopes.into_iter().map(|envelope| (envelope, None)));
        assert_eq!(ledger.len(), aboard.records.len());
        answers
    };
    let refused: Vec<usize> = answers
        .iter()
        .enumerate()
        .filter_map(|(at, answer)| answer.is_err().then_some(at))
        .collect();
    assert_eq!(refused, [4]);
}

#[test]
fn only_the_authority_says_who_the_vessel_is() {
    let mut aboard = Aboard::mustered();
    aboard.says(2, None, vessel_body("Brackwater"));
    aboard.sync(2, AUTHORITY);
    let name = aboard
        .ledger(AUTHORITY)
        .particulars()
        .map(|body| body.name.clone());
    assert_eq!(name.as_deref(), Some("Aldermere"));
}

#[test]
fn a_withdrawn_key_has_no_roles_after_the_last_record_that_stays_good() {
    let mut aboard = Aboard::mustered();
    let run = aboard.starts(2, "anchors-ready");
    let consent = |step: &str| {
        Body::Run(Box::new(Event::GoOn {
            step: step.into(),
            reason: "seen and accepted".to_owned(),
        }))
    };
    let step = aboard.ledger(2).run(run).and_then(|file| {
        let state = file.state.as_ref()?;
        Some(state.view(aboard.now_ms).steps[0].id.to_string())
    });
    let step = step.expect("the run has steps");
    let good = aboard.says(2, Some(run), consent(&step));
    aboard.says(
        AUTHORITY,
        None,
        Body::Withdrawal(record::Withdrawal {
            device: key(2).device(),
            from_ms: aboard.now_ms,
            last_seq: 2,
            reason: "phone over the side".to_owned(),
        }),
    );
    let late = aboard.says(2, Some(run), consent(&step));
    aboard.sync(2, 0);
    aboard.sync(AUTHORITY, 0);
    let file = aboard.ledger(0).run(run).expect("the run");
    let view = file
        .state
        .as_ref()
        .expect("the library has it")
        .view(aboard.now_ms);
    let without_right = |id: record::RecordId| {
        let line = view.history.iter().find(|line| line.id == id.0);
        line.expect("every event is in the history").without_right
    };
    assert!(!without_right(good));
    assert!(without_right(late));
}
