//! What lies out of each cable, as the logs of all runs say: each side by itself.

use journal::board::run_card;
use journal::body::ProcedureBody;
use journal::cable::{begins_home, lies, newest_mark};
use journal::{Body, RunId};
use procedure::cable::Side;
use procedure::{Decimal, Event, LogEntry, MarkAt, Outcome, ProcedureHash};

use super::aboard::Aboard;

fn chooses(aboard: &mut Aboard, run: RunId, step: &str, option: &str) {
    let event = Event::Done {
        step: step.into(),
        outcome: Outcome::Chosen {
            option: option.to_owned(),
        },
    };
    aboard.says(2, Some(run), Body::Run(Box::new(event)));
}

fn logs(aboard: &mut Aboard, run: RunId, step: &str, mark: i64, side: Option<Side>) {
    let event = Event::Log {
        step: step.into(),
        entry: LogEntry {
            mark: Decimal::new(mark, 0),
            side,
            ..LogEntry::default()
        },
    };
    aboard.says(2, Some(run), Body::Run(Box::new(event)));
}

fn out(aboard: &Aboard, side: Side) -> Option<f64> {
    let now_ms = aboard.now_ms + 1;
    lies(aboard.ledger(2), Some(side), None, now_ms).map(|lies| lies.out.mark)
}

/// The case that was seen: starboard out to five, she drags, the second anchor goes down on the port side.
#[test]
fn the_second_anchor_is_counted_on_its_own_side() {
    let mut aboard = Aboard::mustered();
    let first = aboard.starts(2, "letting-go");
    chooses(&mut aboard, first, "anchor", "starboard");
    for mark in 1..=5 {
        logs(&mut aboard, first, "cable", mark, Some(Side::Starboard));
    }
    assert_eq!(out(&aboard, Side::Starboard), Some(5.0));
    assert_eq!(out(&aboard, Side::Port), None);

    let second = aboard.starts(2, "dragging");
    chooses(&mut aboard, second, "decision", "second");
    chooses(&mut aboard, second, "which", "port");
    let card = run_card(aboard.ledger(2), second, aboard.now_ms).unwrap();
    let step = |id: &str| {
        let mut steps = card.view.steps.iter();
        steps.find(|step| step.id.as_str() == id).unwrap()
    };
    assert!(begins_home(&card.view, step("second-down")));
    assert!(!begins_home(&card.view, step("veered")));
    assert_eq!(newest_mark(&card.view, Some(Side::Port)), None);
    for mark in 1..=2 {
        logs(&mut aboard, second, "second-down", mark, Some(Side::Port));
    }
    assert_eq!(out(&aboard, Side::Port), Some(2.0));
    assert_eq!(out(&aboard, Side::Starboard), Some(5.0));

    // Weighing says which; the other stays where it is.
    let home = aboard.starts(2, "weighing");
    chooses(&mut aboard, home, "anchor", "port");
    for mark in [1, 0] {
        logs(&mut aboard, home, "cable", mark, Some(Side::Port));
    }
    assert_eq!(out(&aboard, Side::Port), Some(0.0));
    assert_eq!(out(&aboard, Side::Starboard), Some(5.0));
}

/// Starts a run of an edition that stands only on record.
fn starts_older(aboard: &mut Aboard, slug: &str, text: &str) -> RunId {
    let procedure = procedure::parse_on_record(slug, text).expect("a text on record");
    let hash: ProcedureHash = procedure.hash();
    aboard.says(
        2,
        None,
        Body::Procedure(ProcedureBody {
            file: format!("{slug}.toml"),
            text: text.to_owned(),
            published: false,
        }),
    );
    let start = Event::Start {
        procedure: hash,
        slug: slug.to_owned(),
        choices: Vec::new(),
        remark: String::new(),
    };
    aboard.says(2, None, Body::Run(Box::new(start)))
}

#[test]
fn runs_of_older_editions_read_as_before() {
    let mut aboard = Aboard::mustered();
    let text = include_str!("../../../procedure/tests/golden/letting-go-2.toml");
    let run = starts_older(&mut aboard, "letting-go", text);
    chooses(&mut aboard, run, "anchor", "starboard");
    for mark in 1..=4 {
        logs(&mut aboard, run, "cable", mark, None);
    }
    assert_eq!(out(&aboard, Side::Starboard), Some(4.0));
    // That weighing named no anchor: it is the one that went down last.
    let text = include_str!("../../../procedure/tests/golden/weighing-2.toml");
    let run = starts_older(&mut aboard, "weighing", text);
    logs(&mut aboard, run, "cable", 3, None);
    assert_eq!(out(&aboard, Side::Starboard), Some(3.0));
    assert_eq!(out(&aboard, Side::Port), None);
}

#[test]
fn a_mark_seen_at_the_water_is_not_one_at_the_gypsy() {
    let mut aboard = Aboard::mustered();
    let run = aboard.starts(2, "letting-go");
    chooses(&mut aboard, run, "anchor", "port");
    let event = Event::Log {
        step: "cable".into(),
        entry: LogEntry {
            mark: Decimal::new(4, 0),
            at: Some(MarkAt::Water),
            side: Some(Side::Port),
            ..LogEntry::default()
        },
    };
    aboard.says(2, Some(run), Body::Run(Box::new(event)));
    let found = lies(aboard.ledger(2), Some(Side::Port), None, aboard.now_ms + 1);
    let out = found.expect("it is logged").out;
    assert_eq!((out.mark, out.at), (4.0, MarkAt::Water));
    assert!(out.at_gypsy() > 4.0 && out.at_gypsy() < 5.0);
    logs(&mut aboard, run, "cable", 4, Some(Side::Port));
    let found = lies(aboard.ledger(2), Some(Side::Port), None, aboard.now_ms + 1);
    assert!((found.expect("it is logged").out.at_gypsy() - 4.0).abs() < 1e-9);
}
