//! The encoded form of events, frozen: what was once written must be read for ever.

use procedure::*;

fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write;
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// One of each, with what RFC 8949 makes of it, worked out by hand from the indices.
fn frozen() -> Vec<(Event, &'static str)> {
    let id = [0x11; 32];
    let id_hex = concat!(
        "5820",
        "1111111111111111111111111111111111111111111111111111111111111111"
    );
    let _ = id_hex;
    let done = |outcome| Event::Done {
        step: "a".into(),
        outcome,
    };
    let value = "20.9".parse().expect("a number");
    vec![
        (done(Outcome::Confirmed), "8201826161820080"),
        (
            done(Outcome::Reading {
                point: "o2".into(),
                value,
            }),
            "8201826161820182626f328218d101",
        ),
        (
            done(Outcome::Names {
                who: vec!["p".into(), "q".into()],
            }),
            "82018261618208818261706171",
        ),
        (
            done(Outcome::Each {
                item: "h".into(),
                found: Found::Bad,
            }),
            "8201826161820982616801",
        ),
        (
            done(Outcome::Chosen {
                option: "in".into(),
            }),
            "8201826161820281626 96e",
        ),
        (done(Outcome::Counted { count: 4 }), "820182616182038104"),
        (
            done(Outcome::Text { text: "x".into() }),
            "82018261618205816178",
        ),
        (
            Event::NotDone {
                step: "a".into(),
                reason: "r".into(),
            },
            "82028261616172",
        ),
        (
            Event::NotSo {
                step: "a".into(),
                severity: Severity::OutOfService,
                text: "t".into(),
                photo: None,
                terms: None,
            },
            "8203836161026174",
        ),
        (
            Event::Consent {
                step: "a".into(),
                granted: true,
                how: ConsentBy::Network,
                words: String::new(),
            },
            "8204846161f582008060",
        ),
        (
            Event::Consent {
                step: "a".into(),
                granted: false,
                how: ConsentBy::Radio { from: "m".into() },
                words: String::new(),
            },
            "8204846161f4820181616d60",
        ),
        (
            Event::Second { event: id },
            "82068158201111111111111111111111111111111111111111111111111111111111111111",
        ),
        (
            Event::GoOn {
                step: "a".into(),
                reason: "r".into(),
            },
            "82088261616172",
        ),
        (
            Event::In {
                step: "a".into(),
                who: "m".into(),
                rescue: None,
            },
            "820a826161616d",
        ),
        (
            Event::In {
                step: "a".into(),
                who: "m".into(),
                rescue: Some(true),
            },
            "820a836161616df5",
        ),
        (
            Event::Out {
                step: "a".into(),
                who: "m".into(),
            },
            "820b826161616d",
        ),
        (
            Event::Attend {
                step: "a".into(),
                who: "m".into(),
            },
            "8211826161616d",
        ),
        (
            Event::Acknowledge {
                kind: "k".into(),
                step: Some("a".into()),
                since_ms: 5,
            },
            "821283616b616105",
        ),
        (
            Event::Message {
                step: Some("a".into()),
                text: "t".into(),
                photo: None,
                voice: None,
            },
            "82138261616174",
        ),
        (
            Event::Message {
                step: None,
                text: String::new(),
                photo: None,
                voice: Some([1; 32]),
            },
            concat!(
                "821384f660f65820",
                "0101010101010101010101010101010101010101010101010101010101010101"
            ),
        ),
        (
            Event::Read { event: [1; 32] },
            concat!(
                "8214815820",
                "0101010101010101010101010101010101010101010101010101010101010101"
            ),
        ),
        (Event::Stop { cause: "c".into() }, "820c816163"),
        (Event::Resume { reason: "r".into() }, "820d816172"),
        (
            Event::Close {
                end: End::BrokenOff,
                remark: "r".into(),
            },
            "820f82016172",
        ),
    ]
}

#[test]
fn events_are_written_as_they_always_were() {
    for (event, expected) in frozen() {
        let bytes = event.to_cbor();
        assert_eq!(hex(&bytes), expected.replace(' ', ""), "{event:?}");
        assert_eq!(Event::from_cbor(&bytes).expect("readable"), event);
    }
}

#[test]
fn every_event_goes_through_cbor_and_json_unchanged() {
    let id = [0x22; 32];
    let number = |text: &str| text.parse::<Decimal>().expect("a number");
    let mut all: Vec<Event> = frozen().into_iter().map(|(event, _)| event).collect();
    all.extend([
        Event::Start {
            procedure: ProcedureHash([3; 32]),
            slug: "x".into(),
            choices: vec![("anchor".into(), "port".into())],
            remark: "r".into(),
        },
        Event::Done {
            step: "a".into(),
            outcome: Outcome::Position {
                lat_deg: number("-38.70120"),
                lon_deg: number("1.4"),
                accuracy_m: None,
            },
        },
        Event::Done {
            step: "a".into(),
            outcome: Outcome::Position {
                lat_deg: number("0"),
                lon_deg: number("0"),
                accuracy_m: Some(number("6.0")),
            },
        },
        Event::Done {
            step: "a".into(),
            outcome: Outcome::Photo { hash: id },
        },
        Event::NotSo {
            step: "a".into(),
            severity: Severity::Danger,
            text: "t".into(),
            photo: Some(id),
            terms: None,
        },
        Event::Countersign {
            event: id,
            granted: false,
            words: "w".into(),
        },
        Event::StrikeOut {
            event: id,
            reason: "r".into(),
        },
        Event::Log {
            step: "a".into(),
            entry: LogEntry::default(),
        },
        Event::Log {
            step: "a".into(),
            entry: LogEntry {
                mark: Some(number("3.5")),
                lead_oclock: Some(12),
                grows: Some(Grows::ShortStay),
                strain: Some(4),
                remark: Some("mud".into()),
                readings: vec![("wind".into(), number("12"))],
                at: Some(MarkAt::Water),
                side: None,
            },
        },
        Event::AnswerQuestion {
            question: "q".into(),
            stands: None,
            reason: "r".into(),
        },
        Event::AnswerQuestion {
            question: "q".into(),
            stands: Some(id),
            reason: "r".into(),
        },
        Event::Defect {
            defect: id,
            change: DefectChange::HandedOver { to: "m".into() },
            text: "t".into(),
        },
        Event::Defect {
            defect: id,
            change: DefectChange::Accepted { until_ms: -5 },
            text: "t".into(),
        },
        Event::Defect {
            defect: id,
            change: DefectChange::Closed,
            text: "t".into(),
        },
    ]);
    for event in all {
        assert_eq!(Event::from_cbor(&event.to_cbor()).expect("readable"), event);
        let text = serde_json::to_string(&event).expect("writable");
        assert_eq!(
            serde_json::from_str::<Event>(&text).expect("readable"),
            event,
            "{text}"
        );
    }
}

#[test]
fn damaged_bytes_are_an_error_and_never_a_panic() {
    let bytes = Event::Second { event: [7; 32] }.to_cbor();
    for cut in 0..bytes.len() {
        assert!(Event::from_cbor(&bytes[..cut]).is_err());
    }
    for at in 0..bytes.len() {
        for bit in 0..8 {
            let mut odd = bytes.clone();
            odd[at] ^= 1 << bit;
            let _ = Event::from_cbor(&odd);
        }
    }
}

#[test]
fn a_number_from_damaged_bytes_with_an_absurd_scale_is_shown_without_panic() {
    let odd: Decimal = minicbor::decode(&[0x82, 0x01, 0x18, 0xff]).expect("two numbers");
    assert!(!odd.to_string().is_empty());
    assert!(odd < Decimal::whole(1));
}

#[test]
fn a_field_of_a_later_version_is_skipped_so_that_older_ones_still_count_who_is_inside() {
    let later = [
        0x82, 0x0a, 0x84, 0x61, 0x61, 0x61, 0x6d, 0xf5, 0x82, 0x01, 0x02,
    ];
    let event = Event::from_cbor(&later).expect("readable");
    assert!(matches!(event, Event::In { who, .. } if who.as_str() == "m"));
}
