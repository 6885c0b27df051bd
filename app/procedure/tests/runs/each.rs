//! A step that is worked for each item: its own result, whoever says it, apart or together; counted by the program.

use std::sync::Arc;

use procedure::gear::{
    DateKind, Day, GearChange, GearEvent, ItemCard, ItemChange, ItemSide, Register, Room,
};
use procedure::{
    DefectChange, DefectTerms, Event, Found, OnFault, Outcome, Procedure, Refusal, Role, Roles,
    Settings, Severity, Status, StepView, items_rounds,
};

use super::scene::*;
use super::walk::named;

const EACH: &str = r#"
slug = "round"
title = "Round"
edition = "1"
purpose = "For tests."

[[step]]
id = "holds"
do = "Tick what holds"
kind = "each"
items = ["brake", "lashing"]
side = "port"
at_least = 2
may_leave = true
on_fault = "stop"
skip = "never"

[[step]]
id = "sets"
do = "Read each"
kind = "each"
items = ["breathing-set"]
on_fault = "officer"

[[step.point]]
key = "pressure"
label = "pressure"
unit = "bar"
min = 200

[[step]]
id = "after"
do = "Go on"
"#;

fn card(kind: &str, side: Option<ItemSide>, name: &str) -> ItemCard {
    ItemCard {
        kind: kind.to_owned(),
        name: name.to_owned(),
        side,
        room: Room::Deck,
        certificate: String::new(),
        serial: String::new(),
        dates: vec![(
            DateKind::TestedUntil,
            Day::parse("2099-12-31").expect("a date"),
        )],
        figures: Vec::new(),
        under: None,
    }
}

/// What the register says from the beginning, and one change more.
pub fn register(more: Option<(&str, GearChange)>) -> Arc<Register> {
    let (port, starboard) = (Some(ItemSide::Port), Some(ItemSide::Starboard));
    let put_on = |item: &str, card| ItemChange {
        item: item.to_owned(),
        change: GearChange::PutOn { card },
    };
    let changes = vec![
        put_on("BR-P", card("brake", port, "port brake")),
        put_on("LA-P1", card("lashing", port, "lashing 1")),
        put_on("LA-P2", card("lashing", port, "lashing 2")),
        put_on("BR-S", card("brake", starboard, "starboard brake")),
        put_on("LA-S1", card("lashing", starboard, "lashing 3")),
        put_on("LA-S2", card("lashing", starboard, "lashing 4")),
        put_on("BA-1", card("breathing-set", None, "set 1")),
        put_on("BA-2", card("breathing-set", None, "set 2")),
        put_on("HO-1", card("hose", None, "hose 1")),
        put_on("HO-2", card("hose", None, "hose 2")),
    ];
    let event = |n: u8, stamp, changes| GearEvent {
        id: [n; 32],
        stamp,
        at_ms: 0,
        by: OLGA.into(),
        roles: Roles::of(&[Role::Officer]),
        may_keep: true,
        changes,
        reason: "said".to_owned(),
    };
    let mut events = vec![event(1, (1, 0), changes)];
    if let Some((item, change)) = more {
        let item = item.to_owned();
        events.push(event(2, (u64::MAX, 0), vec![ItemChange { item, change }]));
    }
    Arc::new(Register::of(Vec::new(), &events, &[]))
}

fn round() -> Scene {
    begun(Scene::of(EACH).procedure)
}

fn begun(procedure: Procedure) -> Scene {
    let mut scene = Scene::new(procedure);
    scene.gear = register(None);
    scene.start();
    scene
}

fn found(item: &str, found: Found) -> Outcome {
    let item = item.to_owned();
    Outcome::Each { item, found }
}

fn read(item: &str, value: &str) -> Outcome {
    Outcome::Reading {
        point: item.to_owned(),
        value: value.parse().expect("a number"),
    }
}

fn says(scene: &mut Scene, person: &str, step: &str, outcome: Outcome) -> Result<(), Refusal> {
    let step = step.into();
    let said = scene.does(1, person, Event::Done { step, outcome });
    said.map(|_| ())
}

fn step(scene: &Scene, id: &str) -> StepView {
    let view = scene.view();
    let mut steps = view.steps.into_iter();
    steps
        .find(|step| step.id.as_str() == id)
        .expect("it is there")
}

#[test]
fn each_item_of_a_side_has_its_own_result_and_the_program_counts() {
    let mut scene = round();
    let codes: Vec<String> = step(&scene, "holds")
        .points
        .iter()
        .map(|p| p.key.clone())
        .collect();
    assert_eq!(
        codes,
        ["BR-P", "LA-P1", "LA-P2"],
        "the other side's are not asked for"
    );
    says(&mut scene, ANA, "holds", found("BR-P", Found::Good)).expect("written");
    says(&mut scene, BEN, "holds", found("LA-P1", Found::Left)).expect("written");
    assert!(!step(&scene, "holds").passed, "one has no result yet");
    says(&mut scene, ANA, "holds", found("LA-P2", Found::Left)).expect("written");
    let few = step(&scene, "holds");
    assert!(!few.passed, "one holds, and two must");
    assert_eq!(few.status, Status::ToDo);
    assert_eq!(
        few.points[1].by.as_ref().map(procedure::PersonId::as_str),
        Some(BEN)
    );
    says(&mut scene, ANA, "holds", found("LA-P2", Found::Good)).expect("written");
    assert!(step(&scene, "holds").passed);
    let history = scene.view().history;
    assert!(
        history
            .iter()
            .any(|line| line.words == "lashing 1 (LA-P1): left out"),
        "{history:?}"
    );
}

#[test]
fn what_is_not_good_stops_and_what_is_not_asked_for_is_none() {
    let mut scene = round();
    says(&mut scene, ANA, "holds", found("BR-P", Found::Bad)).expect("written");
    let bad = step(&scene, "holds");
    assert_eq!(
        (bad.status, bad.on_fault),
        (Status::OutOfLimits, OnFault::Stop)
    );
    assert!(bad.words.contains("port brake"), "{}", bad.words);
    assert_eq!(
        says(&mut scene, ANA, "holds", found("XX-1", Found::Good)),
        Err(Refusal::NoSuchItem("XX-1".to_owned()))
    );
    // A result of the other side's brake is no result of this step's.
    let before = step(&scene, "holds").points;
    let _ = says(&mut scene, ANA, "holds", found("BR-S", Found::Good));
    assert_eq!(step(&scene, "holds").points, before);
    // Put right, it is said anew.
    for item in ["BR-P", "LA-P1"] {
        says(&mut scene, ANA, "holds", found(item, Found::Good)).expect("written");
    }
    says(&mut scene, ANA, "holds", found("LA-P2", Found::Left)).expect("written");
    assert!(step(&scene, "holds").passed);
}

#[test]
fn a_number_is_read_at_each_and_judged_at_each() {
    let mut scene = round();
    for item in ["BR-P", "LA-P1", "LA-P2"] {
        says(&mut scene, ANA, "holds", found(item, Found::Good)).expect("written");
    }
    says(&mut scene, ANA, "sets", read("BA-1", "280")).expect("written");
    assert!(!step(&scene, "sets").passed);
    says(&mut scene, ANA, "sets", read("BA-2", "150")).expect("written");
    let low = step(&scene, "sets");
    assert_eq!(low.status, Status::OutOfLimits);
    assert!(low.words.starts_with("set 2 (BA-2): "), "{}", low.words);
    assert_eq!(low.points[1].limits.words, "at least 200 bar");
    says(&mut scene, ANA, "sets", read("BA-2", "210")).expect("written");
    assert!(step(&scene, "sets").passed && step(&scene, "after").open);
}

#[test]
fn the_items_are_those_of_the_runs_beginning() {
    let mut scene = round();
    scene.gear = register(Some(("LA-P2", GearChange::TakenOff)));
    assert_eq!(step(&scene, "holds").points.len(), 3);
    // A run that begins afterwards has what is there then; without any item the step does not belong to it.
    let mut later = Scene::of(EACH);
    later.start();
    assert!(!step(&later, "holds").applies && step(&later, "after").open);
}

/// A sample each year, all within five years: IMO, MSC.1/Circ.1432, 2012, 7.1.4, as quoted in summaries, not opened.
#[test]
fn a_round_by_sample_says_which_items_are_left() {
    let hose_test = named("hose-test");
    let mut scene = begun(hose_test.clone());
    for (item, said) in [("HO-1", Found::Good), ("HO-2", Found::Left)] {
        let step = "each-tight".into();
        let outcome = found(item, said);
        scene.writes(1, ANA, Event::Done { step, outcome });
    }
    let mut past = scene.state().as_past().expect("it is a run");
    assert_eq!(past.items, ["HO-1"], "what was left out has no result");
    past.completed = true;
    past.closed_at_ms = Some(scene.now);
    let register = register(None);
    let left = |days: i64| {
        let settings = Settings::defaults();
        let now = scene.now + days * 24 * HOUR;
        let procedures = [hose_test.clone()];
        let all = items_rounds(&procedures, &settings, &[past.clone()], &register, now);
        let [round] = all.try_into().expect("one kind");
        assert_eq!((round.all, round.kind.as_str()), (2, "fire hose"));
        round
            .left
            .into_iter()
            .map(|(code, _)| code)
            .collect::<Vec<_>>()
    };
    assert_eq!(left(1), ["HO-2"]);
    assert_eq!(
        left(1826),
        ["HO-1", "HO-2"],
        "five years later none is in its time"
    );
}

/// The test of a hose that fails, from its result to the closed defect.
#[test]
fn a_hose_that_fails_is_followed_from_its_result_to_the_closed_defect() {
    let mut scene = begun(named("hose-test"));
    let tight = "each-tight";
    assert!(step(&scene, tight).applies);
    assert!(!step(&scene, "tight").applies && !step(&scene, "hose").applies);
    let good = found("HO-1", Found::Good);
    scene.writes(
        2,
        ANA,
        Event::Done {
            step: tight.into(),
            outcome: good,
        },
    );
    let bad = Event::Done {
        step: tight.into(),
        outcome: found("HO-2", Found::Bad),
    };
    // Before its turn only what is found is written, by whoever was apart.
    scene.writes(2, BEN, bad);
    assert_eq!(
        step(&scene, tight).points[1]
            .verdict
            .as_ref()
            .map(|v| v.within),
        Some(false)
    );

    let raised = Event::NotSo {
        step: tight.into(),
        severity: Severity::OutOfService,
        text: "bulges at the coupling".to_owned(),
        photo: None,
        terms: Some(DefectTerms {
            item: Some("HO-2".to_owned()),
            ..DefectTerms::default()
        }),
    };
    let defect = scene.writes(2, BEN, raised);
    let open = scene.view().defects;
    assert_eq!(
        open.iter()
            .find(|d| d.id == defect)
            .and_then(|d| d.item.clone()),
        Some("HO-2".to_owned())
    );
    assert!(
        open.iter()
            .any(|d| d.id == defect && d.keeps_from_use(scene.now))
    );

    let change = DefectChange::Closed;
    let text = "new hose, tested at 8 bar".to_owned();
    scene.writes(
        2,
        OLGA,
        Event::Defect {
            defect,
            change,
            text,
        },
    );
    let closed = scene.view().defects;
    let closed = closed.iter().find(|d| d.id == defect).expect("it is kept");
    assert!(!closed.open && !closed.keeps_from_use(scene.now));
    assert!(
        closed
            .history
            .iter()
            .any(|line| line.words.contains("new hose"))
    );
    scene.writes(
        2,
        OLGA,
        Event::Done {
            step: tight.into(),
            outcome: found("HO-2", Found::Good),
        },
    );
    assert_eq!(
        step(&scene, tight).points[1]
            .verdict
            .as_ref()
            .map(|v| v.within),
        Some(true)
    );
}
