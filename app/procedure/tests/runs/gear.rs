//! Steps that ask which item of gear is used: one that is out of date or out of service passes nothing.

use std::sync::Arc;

use procedure::gear::{
    DateKind, Day, GearChange, GearEvent, ItemCard, ItemChange, ItemSide, Register, Room,
};
use procedure::*;
use proptest::prelude::*;

use super::scene::*;
use super::walk::{named, walk_from};

const TEST: &str = r#"
slug = "test"
title = "Test"
edition = "1"
purpose = "For tests."

[[step]]
id = "which"
do = "Say which meter"
kind = "item"
item = "gas-meter"
on_fault = "stop"

[[step]]
id = "number"
do = "Write down its number"
kind = "text"
when = [{ gear = "gas-meter", has = false }]

[[step]]
id = "air"
do = "Test"
gear = ["gas meter"]
uses = ["gas meter"]
stands_on = ["which"]

[[step]]
id = "permit"
do = "Permit"
kind = "hold"
consent = "officer"
stands_on = ["which", "air"]
"#;

fn card(kind: &str, side: Option<ItemSide>, until: Option<&str>) -> ItemCard {
    let day = until.map(|text| Day::parse(text).expect("a date"));
    ItemCard {
        kind: kind.to_owned(),
        name: format!("the {kind}"),
        side,
        room: Room::Store,
        certificate: String::new(),
        serial: String::new(),
        dates: day
            .map(|day| (DateKind::CalibratedUntil, day))
            .into_iter()
            .collect(),
        figures: Vec::new(),
        under: None,
    }
}

fn event(number: u8, at_ms: i64, who: &str, item: &str, change: GearChange) -> GearEvent {
    GearEvent {
        id: [number; 32],
        stamp: (u64::try_from(at_ms).expect("after 1970"), 0),
        at_ms,
        by: who.into(),
        roles: roles(who),
        may_keep: roles(who).may_act_as(Role::Officer),
        changes: vec![ItemChange {
            item: item.to_owned(),
            change,
        }],
        reason: "seen so".to_owned(),
    }
}

fn put_on(number: u8, item: &str, card: ItemCard) -> GearEvent {
    event(
        number,
        1_000 + i64::from(number),
        MAX,
        item,
        GearChange::PutOn { card },
    )
}

/// Two meters: the first is good until 2027, the second's date is past.
fn meters() -> Vec<GearEvent> {
    vec![
        put_on(1, "GM-1", card("gas-meter", None, Some("2027-01-31"))),
        put_on(2, "GM-2", card("gas-meter", None, Some("2025-06-30"))),
        put_on(3, "GM-3", card("gas-meter", None, None)),
    ]
}

fn register(events: &[GearEvent]) -> Arc<Register> {
    Arc::new(Register::of(Vec::new(), events, &[]))
}

fn scene_with(text: &str, events: &[GearEvent]) -> Scene {
    let mut scene = Scene::of(text);
    scene.gear = register(events);
    scene.start();
    scene
}

fn names(item: &str) -> Event {
    Event::Done {
        step: "which".into(),
        outcome: Outcome::Item {
            item: item.to_owned(),
        },
    }
}

#[test]
fn a_meter_that_is_out_of_date_blocks_the_permit_and_says_why() {
    let mut scene = scene_with(TEST, &meters());
    for (item, why) in [
        (
            "GM-2",
            "the gas-meter (GM-2): calibrated until 2025-06-30, which is past",
        ),
        (
            "GM-3",
            "the gas-meter (GM-3): no date stands in the register for 'calibrated until'",
        ),
    ] {
        scene.does(1, ANA, names(item)).unwrap();
        let step = scene.step("which");
        assert_eq!(
            (step.status, step.words.as_str()),
            (Status::OutOfLimits, why)
        );
        assert_eq!(
            scene.does(1, ANA, done("air")).unwrap_err().to_string(),
            "not yet: first: Say which meter"
        );
        assert!(
            scene.does(1, MAX, goes_on("which")).is_err(),
            "nobody goes past it"
        );
    }
    scene.does(1, ANA, names("GM-1")).unwrap();
    scene.does(1, ANA, done("air")).unwrap();
    scene.does(1, OLGA, consents("permit")).unwrap();
    assert!(scene.step("permit").passed);
}

#[test]
fn only_what_is_on_the_register_can_be_named() {
    let mut scene = scene_with(TEST, &meters());
    let refused = scene.does(1, ANA, names("GM-9")).unwrap_err();
    assert_eq!(refused, Refusal::NoSuchItem("GM-9".to_owned()));
    let shown: Vec<(String, bool)> = scene
        .step("which")
        .items
        .into_iter()
        .map(|item| (item.code, item.because.is_none()))
        .collect();
    let row = |code: &str, usable| (code.to_owned(), usable);
    assert_eq!(
        shown,
        [row("GM-1", true), row("GM-2", false), row("GM-3", false)]
    );
}

#[test]
fn a_ship_without_a_register_writes_the_meters_number_down_as_before() {
    let mut scene = scene_with(TEST, &[]);
    assert!(!scene.step("which").applies);
    assert!(scene.step("number").applies);
    scene.does(1, ANA, writes_down("number", "4711")).unwrap();
    scene.does(1, ANA, done("air")).unwrap();
    // A meter that is put on later changes nothing of a run that has begun.
    let later = event(
        9,
        scene.now + 1,
        MAX,
        "GM-1",
        GearChange::PutOn {
            card: card("gas-meter", None, Some("2027-01-31")),
        },
    );
    scene.gear = register(&[later]);
    assert!(!scene.step("which").applies && scene.step("air").passed);
}

fn writes_down(step: &str, text: &str) -> Event {
    Event::Done {
        step: step.into(),
        outcome: Outcome::Text {
            text: text.to_owned(),
        },
    }
}

#[test]
fn a_meter_taken_out_of_service_makes_stale_what_was_done_with_it() {
    let mut scene = scene_with(TEST, &meters());
    scene.does(1, ANA, names("GM-1")).unwrap();
    scene.does(1, ANA, done("air")).unwrap();
    scene.does(1, OLGA, consents("permit")).unwrap();
    scene.now += MINUTE;
    let mut events = meters();
    events.push(event(7, scene.now, ANA, "GM-1", GearChange::OutOfService));
    scene.gear = register(&events);
    assert_eq!(scene.status("which"), Status::Stale);
    assert!(!scene.step("air").passed && !scene.step("permit").passed);
    // Put back by who keeps the register, it is as it was.
    events.push(event(8, scene.now + 1, OLGA, "GM-1", GearChange::PutBack));
    scene.gear = register(&events);
    assert!(scene.step("permit").passed);
}

#[test]
fn a_date_that_passes_after_the_work_is_closed_changes_nothing_of_it() {
    let mut scene = scene_with(TEST, &meters());
    scene.does(1, ANA, names("GM-1")).unwrap();
    scene.does(1, ANA, done("air")).unwrap();
    scene.does(1, OLGA, consents("permit")).unwrap();
    let close = Event::Close {
        end: End::Completed,
        remark: String::new(),
    };
    scene.does(1, ANA, close).unwrap();
    scene.now += 3 * 365 * 24 * HOUR;
    assert!(scene.view().closed.is_some() && scene.step("which").passed);
}

const HEAVE: &str = r#"
slug = "heave"
title = "Heave"
edition = "1"
purpose = "For tests."

[[step]]
id = "which-anchor"
do = "Which anchor?"
kind = "choice"
[[step.option]]
key = "port"
label = "port"
[[step.option]]
key = "starboard"
label = "starboard"

[[step]]
id = "heave"
do = "Heave"
gear = ["windlass"]
uses = ["windlass"]

[[step]]
id = "safe"
do = "Make safe"
after = []
when_stopped = true
"#;

#[test]
fn a_windlass_out_of_service_stops_what_needs_it_until_the_master_restricts_it_in_words() {
    let sided = |side| card("windlass", Some(side), None);
    let mut events = vec![
        put_on(1, "WL-P", sided(ItemSide::Port)),
        put_on(2, "WL-S", sided(ItemSide::Starboard)),
        event(3, 2_000, ANA, "WL-P", GearChange::OutOfService),
    ];
    let mut scene = scene_with(HEAVE, &events);
    let chooses = |side: &str| Event::Done {
        step: "which-anchor".into(),
        outcome: Outcome::Chosen {
            option: side.to_owned(),
        },
    };
    scene.does(1, ANA, chooses("port")).unwrap();
    let refused = scene.does(1, ANA, done("heave")).unwrap_err().to_string();
    assert!(
        refused.contains("WL-P") && refused.contains("seen so"),
        "{refused}"
    );
    scene.does(1, ANA, done("safe")).unwrap();
    let restrict = |number, who| {
        let words = "half speed".to_owned();
        event(
            number,
            3_000 + i64::from(number),
            who,
            "WL-P",
            GearChange::Restricted { words },
        )
    };
    events.push(restrict(4, OLGA));
    scene.gear = register(&events);
    assert!(
        scene.does(1, ANA, done("heave")).is_err(),
        "not for a mate to say"
    );
    events.push(restrict(5, MAX));
    scene.gear = register(&events);
    scene.does(1, ANA, done("heave")).unwrap();
}

#[test]
fn a_windlass_of_the_other_side_stops_nothing() {
    let events = [
        put_on(1, "WL-P", card("windlass", Some(ItemSide::Port), None)),
        put_on(2, "WL-S", card("windlass", Some(ItemSide::Starboard), None)),
        event(3, 2_000, ANA, "WL-P", GearChange::OutOfService),
    ];
    let mut scene = scene_with(HEAVE, &events);
    let chosen = Event::Done {
        step: "which-anchor".into(),
        outcome: Outcome::Chosen {
            option: "starboard".to_owned(),
        },
    };
    scene.does(1, ANA, chosen).unwrap();
    scene.does(1, ANA, done("heave")).unwrap();
}

#[test]
fn a_defect_on_the_very_meter_stops_what_is_done_with_it() {
    let mut scene = scene_with(TEST, &meters());
    scene.does(1, ANA, names("GM-1")).unwrap();
    let defect = Event::NotSo {
        step: "permit".into(),
        severity: Severity::OutOfService,
        text: "drifts".to_owned(),
        photo: None,
        terms: Some(DefectTerms {
            item: Some("GM-1".to_owned()),
            owner: Some(MAX.into()),
            due: Some(Due::Before {
                what: DueEvent::Entry,
            }),
        }),
    };
    scene.does(1, ANA, defect).unwrap();
    let raised = &scene.view().defects[0];
    assert_eq!(raised.item.as_deref(), Some("GM-1"));
    assert_eq!(raised.handed_to, Some(MAX.into()));
    let refused = scene.does(1, ANA, done("air")).unwrap_err().to_string();
    assert!(
        refused.contains("GM-1 out of service (drifts)"),
        "{refused}"
    );
    let because = scene.step("which").items[0].because.clone();
    assert_eq!(because.as_deref(), Some("drifts"));
}

#[test]
fn the_locker_is_entered_with_a_meter_of_the_register() {
    let mut scene = Scene::new(named("locker-entry"));
    scene.gear = register(&[put_on(
        1,
        "GM-1",
        card("gas-meter", None, Some("2027-01-31")),
    )]);
    let scene = walk_from(scene, &[]);
    let which = scene.step("which-meter");
    assert_eq!(which.answer.as_deref(), Some("the gas-meter (GM-1)"));
    assert!(!scene.step("meter").applies && !scene.step("meter-date").applies);
    assert!(scene.view().closed.is_some());
}

/// What is done to the register and to the run, in turn.
#[derive(Debug, Clone)]
enum Act {
    Name(u8),
    Air,
    Permit,
    Out(u8),
    Back(u8),
    Days(u8),
}

fn act() -> impl Strategy<Value = Act> {
    prop_oneof![
        (0..4_u8).prop_map(Act::Name),
        Just(Act::Air),
        Just(Act::Permit),
        (1..3_u8).prop_map(Act::Out),
        (1..3_u8).prop_map(Act::Back),
        (1..200_u8).prop_map(Act::Days),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() })]

    /// No step that stands on an item passes while that item is out of date or out of service, however things came about.
    #[test]
    fn no_step_uses_an_item_that_is_out_of_date_or_out_of_service(
        acts in prop::collection::vec(act(), 1..25),
    ) {
        let mut events = meters();
        let mut scene = scene_with(TEST, &events);
        let mut number = 20_u8;
        for act in acts {
            scene.now += MINUTE;
            number += 1;
            let item = |at: u8| format!("GM-{at}");
            match act {
                Act::Name(at) => { scene.writes(1, ANA, names(&item(at))); }
                Act::Air => { scene.writes(1, ANA, done("air")); }
                Act::Permit => { scene.writes(1, OLGA, consents("permit")); }
                Act::Out(at) => events.push(event(number, scene.now, ANA, &item(at), GearChange::OutOfService)),
                Act::Back(at) => events.push(event(number, scene.now, OLGA, &item(at), GearChange::PutBack)),
                Act::Days(days) => scene.now += i64::from(days) * 24 * HOUR,
            }
            scene.gear = register(&events);
            let named = scene.events.iter().rev().find_map(|stamped| match &stamped.event {
                Event::Done { outcome: Outcome::Item { item }, .. } => Some(item.clone()),
                _ => None,
            });
            let mut of_item = events.iter().rev().filter(|event| Some(&event.changes[0].item) == named.as_ref());
            let is_in = of_item.next().is_some_and(|last| !matches!(last.changes[0].change, GearChange::OutOfService));
            let is_good = is_in && named.as_deref() == Some("GM-1") && Day::of_ms(scene.now) <= Day::parse("2027-01-31").expect("a date");
            for step in ["which", "air", "permit"] {
                prop_assert!(!scene.step(step).passed || is_good, "{step} passes with {named:?}");
            }
        }
    }
}
