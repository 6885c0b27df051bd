//! Bodies on the wire: what is written reads back, frozen bytes stay readable, strange ones are kept.

use crate::aboard::{Aboard, credential, vessel_body};
use journal::body::{
    BodyError, FindingBody, GearBody, GearKindBody, PlanBody, ProcedureBody, RolesFromBody,
    TrialBody, kind,
};
use journal::watch::{WatchBody, WatchSaid};
use journal::{Body, Ledger, SettingsBody};
use procedure::gear::{GearChange, ItemChange};
use procedure::{Event, Outcome};
use proptest::prelude::*;
use record::Withdrawal;

fn every_kind() -> Vec<Body> {
    vec![
        vessel_body("Aldermere"),
        credential(0, &["crew"]),
        Body::Withdrawal(Withdrawal {
            device: crate::aboard::key(0).device(),
            from_ms: 1,
            last_seq: 2,
            reason: "lost".to_owned(),
        }),
        Body::Procedure(ProcedureBody {
            file: "own.toml".to_owned(),
            text: "title = 'x'".to_owned(),
            published: true,
        }),
        Body::Run(Box::new(Event::Done {
            step: "voice-link".into(),
            outcome: Outcome::Confirmed,
        })),
        Body::Plan(PlanBody {
            title: "Corrow Sound".to_owned(),
            input_json: "{}".to_owned(),
            order: "port".to_owned(),
            reason: None,
        }),
        Body::Settings(SettingsBody {
            json: "{}".to_owned(),
        }),
        Body::Trial(TrialBody {
            what: "fit for duty".to_owned(),
        }),
        Body::Finding(FindingBody {
            origin: "log".to_owned(),
            restored_ms: None,
            remembered_size: 5,
            remembered_root: vec![1; 2].into(),
            shown_size: 4,
            shown_root: vec![2; 2].into(),
            reason: "a drill".to_owned(),
        }),
        Body::RolesFrom(RolesFromBody {
            device: record::DeviceId([7; 16]),
            last_seq: 41,
            credential: record::RecordId([8; 32]),
        }),
        Body::Gear(GearBody {
            changes: vec![
                crate::aboard::put_on("GM-4K7P"),
                ItemChange {
                    item: "HO-2".to_owned(),
                    change: GearChange::OutOfService,
                },
            ],
            reason: "new".to_owned(),
        }),
        Body::GearKind(GearKindBody {
            text: "[[kind]]".to_owned(),
        }),
        Body::Watch(WatchBody {
            at_ms: 1_795_000_000_000,
            said: WatchSaid::Set {
                latitude_e7: Some(-435_000_000),
                longitude_e7: Some(-200_000_000),
                cable_cm: None,
                why: "let go".to_owned(),
            },
        }),
    ]
}

#[test]
fn every_kind_of_body_reads_back_as_it_was_written() {
    for body in every_kind() {
        let bytes = body.encode().expect("a body in order");
        assert_eq!(Body::decode(body.kind(), &bytes), Ok(body));
    }
}

#[test]
fn the_bytes_of_each_kind_are_frozen() {
    let hex = |at: usize| record::hex::encode(&every_kind()[at].encode().expect("in order"));
    assert_eq!(
        hex(3),
        "83686f776e2e746f6d6c6b7469746c65203d202778 27f5".replace(' ', "")
    );
    assert_eq!(hex(5), "836c436f72726f7720536f756e64627b7d64706f7274");
    assert_eq!(hex(6), "81627b7d");
    assert_eq!(hex(7), "816c66697420666f722064757479");
    assert_eq!(hex(8), "87636c6f67f605420101044202026761206472696c6c");
    assert_eq!(
        hex(9),
        format!("8350{}18295820{}", "07".repeat(16), "08".repeat(32))
    );
    assert_eq!(
        hex(10),
        "82828267474d2d344b375082008188696761732d6d657465726b476173206d657465722031f6036064343731318182031a01354c33808264484f2d32820380636e6577"
    );
    assert_eq!(hex(11), "81685b5b6b696e645d5d");
    assert_eq!(
        hex(12),
        "821b000001a1ee565e008200843a19ed92bf3a0bebc1fff6666c657420676f"
    );
    assert!(hex(0).starts_with("8569416c6465726d6572656b6d6f746f72207961636874"));
}

#[test]
fn a_cut_body_is_malformed_and_says_its_kind() {
    for body in every_kind() {
        let bytes = body.encode().expect("a body in order");
        // A credential's bytes are its own format, judged where it is used.
        if body.kind() == kind::CREDENTIAL {
            continue;
        }
        for end in 0..bytes.len() {
            match Body::decode(body.kind(), &bytes[..end]) {
                Err(BodyError::Malformed { kind, why }) => {
                    assert_eq!(kind, body.kind());
                    assert!(!why.is_empty());
                }
                other => panic!("{}: {end} bytes give {other:?}", body.kind()),
            }
        }
    }
}

#[test]
fn a_record_of_a_kind_of_a_later_version_is_kept_and_counts_in_its_chain() {
    let aboard = Aboard::mustered();
    let mut ledger: Ledger = aboard.ledger(0).clone();
    let key = crate::aboard::key(0);
    let draft = record::Draft {
        vessel: ledger.vessel(),
        device: key.device(),
        seq: 1,
        prev: None,
        run: None,
        heads: Vec::new(),
        time_ms: aboard.now_ms,
        hlc: record::Hlc::default().tick(aboard.now_ms),
        author: "orrin".into(),
        receipt: None,
        kind: "of.a.later.version".to_owned(),
        body: vec![0xff, 0x00],
    };
    let record = draft
        .to_be_signed()
        .and_then(|unsigned| unsigned.sign(&key))
        .expect("well-formed");
    ledger
        .admit(record.envelope().clone())
        .expect("a good record");
    let entry = ledger.entry(record.id()).expect("it is kept");
    assert!(matches!(entry.body, Err(BodyError::UnknownKind(_))));
    assert_eq!(entry.record.bytes(), record.bytes());
    assert_eq!(ledger.vector().get(&key.device()), Some(&1));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_bytes_whatever_make_the_reading_of_a_body_fall_over(
        bytes in prop::collection::vec(any::<u8>(), 0..200),
        which in 0..9_usize,
    ) {
        let kinds = [
            kind::VESSEL, kind::CREDENTIAL, kind::WITHDRAWAL, kind::PROCEDURE, kind::RUN,
            kind::PLAN, kind::SETTINGS, kind::GEAR, kind::GEAR_KIND,
        ];
        if let Ok(body) = Body::decode(kinds[which], &bytes) {
            prop_assert_eq!(body.kind(), kinds[which]);
        }
    }
}
