//! What is past its date: items, defects that must be gone, and acceptances that are over come back by themselves.

use journal::Body;
use journal::body::GearBody;
use journal::due::{DueRow, DueWhat, due};
use procedure::gear::{DateKind, Day, GearChange, ItemCard, ItemChange, Room};
use procedure::{DefectChange, DefectTerms, Due, DueEvent, Event, Severity};

use super::aboard::{AUTHORITY, Aboard, credential};

const DAY_MS: i64 = 86_400_000;

fn begun() -> Aboard {
    let mut aboard = Aboard::mustered();
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    aboard
}

fn rows(aboard: &Aboard, days: i64) -> Vec<DueRow> {
    due(aboard.ledger(2), aboard.now_ms + days * DAY_MS)
}

#[test]
fn an_item_is_said_a_month_before_its_date_and_what_waits_for_it_after() {
    let mut aboard = begun();
    let until = Day::of_ms(aboard.now_ms + 60 * DAY_MS);
    let card = ItemCard {
        kind: "gas-meter".to_owned(),
        name: "gas meter 1".to_owned(),
        side: None,
        room: Room::Store,
        certificate: String::new(),
        serial: String::new(),
        dates: vec![(DateKind::CalibratedUntil, until)],
        figures: Vec::new(),
        under: None,
    };
    let changes = vec![ItemChange {
        item: "GM-1".to_owned(),
        change: GearChange::PutOn { card },
    }];
    let reason = "new".to_owned();
    aboard.says(2, None, Body::Gear(GearBody { changes, reason }));
    assert_eq!(rows(&aboard, 0), []);
    let soon = rows(&aboard, 40);
    assert_eq!(
        (soon[0].days, soon[0].is_past(), soon[0].holds.len()),
        (20, false, 0)
    );
    let past = rows(&aboard, 61);
    assert!(past[0].is_past());
    assert!(
        past[0].holds.iter().any(|title| title.contains("locker")),
        "{past:?}"
    );
}

/// A run with a defect at its windlass.
fn with_defect(aboard: &mut Aboard, due: Option<Due>) -> (journal::RunId, [u8; 32]) {
    let run = aboard.starts(2, "windlass-weekly");
    let step = aboard.ledger(2).run(run).and_then(|file| {
        let steps = file.procedure.as_ref()?.steps();
        Some(
            steps
                .iter()
                .find(|step| step.gear.contains(&"windlass".to_owned()))?
                .id
                .clone(),
        )
    });
    let raised = Event::NotSo {
        step: step.expect("a step of the windlass"),
        severity: Severity::Watch,
        text: "guard loose".to_owned(),
        photo: None,
        terms: due.map(|due| DefectTerms {
            due: Some(due),
            ..DefectTerms::default()
        }),
    };
    aboard.says(2, Some(run), Body::Run(Box::new(raised)));
    let (_, defect) = aboard.ledger(2).defects().remove(0);
    (run, defect.id)
}

#[test]
fn a_defect_accepted_until_a_day_comes_back_when_that_is_past() {
    let mut aboard = begun();
    let (run, defect) = with_defect(&mut aboard, None);
    assert_eq!(rows(&aboard, 0), []);
    let until_ms = aboard.now_ms + 10 * DAY_MS;
    let change = DefectChange::Accepted { until_ms };
    let text = "guard lashed".to_owned();
    let accepted = Event::Defect {
        defect,
        change,
        text,
    };
    aboard.says(2, Some(run), Body::Run(Box::new(accepted)));
    assert_eq!(rows(&aboard, 9), []);
    let back = rows(&aboard, 12);
    assert!(
        matches!(&back[0].what, DueWhat::Accepted { text, .. } if text == "guard loose"),
        "{back:?}"
    );
    assert!(back[0].is_past());
}

#[test]
fn what_the_master_wants_gone_holds_its_gear_after_the_day_and_the_work_before_the_event() {
    let mut aboard = begun();
    let day = Day::of_ms(aboard.now_ms + 5 * DAY_MS);
    let (run, defect) = with_defect(&mut aboard, Some(Due::On { day }));
    let near = rows(&aboard, 3);
    assert_eq!((near[0].days, near[0].holds.len()), (2, 0));
    let late = rows(&aboard, 7);
    assert!(late[0].holds.contains(&"windlass".to_owned()), "{late:?}");
    let is_held = |aboard: &Aboard, days: i64| {
        let defects = aboard.ledger(2).defects();
        defects[0].1.keeps_from_use(aboard.now_ms + days * DAY_MS)
    };
    assert!(!is_held(&aboard, 5) && is_held(&aboard, 6));

    // Before an event: nothing is due until its work is begun.
    let what = DueEvent::Anchoring;
    let change = DefectChange::Due {
        due: Due::Before { what },
    };
    let text = "before we anchor".to_owned();
    let said = Event::Defect {
        defect,
        change,
        text,
    };
    aboard.says(2, Some(run), Body::Run(Box::new(said)));
    assert_eq!(rows(&aboard, 7), []);
    let anchoring = aboard.starts(2, "anchors-ready");
    let begun = rows(&aboard, 0);
    assert_eq!(begun[0].holds, ["Anchors ready"], "{begun:?}");
    let file = aboard.ledger(2).run(anchoring).expect("it is there");
    let view = file.state.as_ref().expect("folded").view(aboard.now_ms);
    let mut steps = view.steps.iter();
    let hold = steps.find(|step| step.id.as_str() == "stoppers-off");
    let blocked = hold.expect("it has one").words.clone();
    assert!(
        view.alarms
            .iter()
            .any(|alarm| alarm.words.contains("guard loose")),
        "{:?}",
        view.alarms
    );
    assert!(blocked.contains("guard loose"), "{blocked}");
}
