//! People in a space, and nobody left in it.

use procedure::*;

use super::faults::not_so;
use super::scene::*;

const SPACE: &str = r#"
slug = "space"
title = "Space"
edition = "1"
purpose = "For tests."

[[step]]
id = "permit"
do = "Give the permit"
kind = "hold"
consent = "master"
good_for = "1 h"

[[step]]
id = "inside"
do = "Keep the list"
kind = "people"
call_every = "5 min"
at_least = 2
when_stopped = true

[[step]]
id = "hatch"
do = "Close the hatch"
when_stopped = true
"#;

fn permitted() -> Scene {
    let mut scene = Scene::started(SPACE);
    scene.does(1, MAX, consents("permit")).unwrap();
    scene
}

fn close() -> Event {
    Event::Close {
        end: End::Completed,
        remark: String::new(),
    }
}

fn alarm(scene: &Scene, kind: AlarmKind) -> Option<Alarm> {
    scene
        .view()
        .alarms
        .into_iter()
        .find(|alarm| alarm.kind == kind)
}

#[test]
fn nobody_goes_in_without_the_permit() {
    let mut scene = Scene::started(SPACE);
    assert!(matches!(
        scene.does(1, ANA, goes_in("inside", BEN)),
        Err(Refusal::Blocked(_))
    ));
    scene.writes(1, ANA, goes_in("inside", BEN));
    assert_eq!(
        alarm(&scene, AlarmKind::Inside).map(|alarm| alarm.level),
        Some(AlarmLevel::Danger)
    );
    assert_eq!(
        scene.view().inside.len(),
        1,
        "who is inside is inside, permit or not"
    );
}

#[test]
fn a_fault_that_the_officer_goes_past_leaves_nobody_behind_in_the_space() {
    let mut scene = permitted();
    scene.does(1, ANA, goes_in("inside", ANA)).unwrap();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    scene
        .does(1, BEN, not_so("inside", Severity::Restricted))
        .unwrap();
    scene.does(1, MAX, goes_on("inside")).unwrap();
    assert!(!scene.step("inside").passed, "two are inside");
    assert!(
        !scene.step("hatch").open,
        "the hatch would be closed on them"
    );

    scene.does(1, ANA, comes_out("inside", ANA)).unwrap();
    scene.does(1, ANA, comes_out("inside", BEN)).unwrap();
    assert!(scene.step("inside").passed);
    assert!(scene.step("hatch").open);
}

#[test]
fn the_list_cannot_be_finished_nor_the_run_closed_with_someone_inside() {
    let mut scene = permitted();
    scene.does(1, ANA, goes_in("inside", ANA)).unwrap();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    assert_eq!(
        scene.does(1, ANA, goes_in("inside", BEN)),
        Err(Refusal::AlreadyInside(BEN.into()))
    );
    scene.does(1, ANA, comes_out("inside", ANA)).unwrap();
    assert_eq!(
        scene.does(1, ANA, done("inside")),
        Err(Refusal::StillOpen(vec!["ben is still inside".into()]))
    );
    for end in [End::Completed, End::BrokenOff] {
        let event = Event::Close {
            end,
            remark: "over".into(),
        };
        assert!(matches!(
            scene.does(1, MAX, event.clone()),
            Err(Refusal::StillOpen(_))
        ));
        scene.writes(1, MAX, event);
        assert_eq!(scene.view().closed, None);
    }
    scene.does(1, ANA, comes_out("inside", BEN)).unwrap();
    scene.does(1, ANA, done("inside")).unwrap();
    scene.does(1, ANA, done("hatch")).unwrap();
    scene.does(1, ANA, close()).unwrap();
    assert!(scene.view().closed.is_some());
}

#[test]
fn an_entry_made_apart_from_the_close_opens_the_run_again() {
    let mut scene = permitted();
    scene.sync(1, 2);
    scene.does(1, ANA, done("inside")).unwrap();
    scene.does(1, ANA, done("hatch")).unwrap();
    scene.does(1, ANA, close()).unwrap();
    scene.does(2, BEN, goes_in("inside", BEN)).unwrap();
    scene.sync_both(1, 2);
    let view = scene.view();
    assert_eq!((view.closed, view.inside.len()), (None, 1));
    assert!(
        !scene.step("inside").passed,
        "the list was finished by someone who did not know of the entry"
    );
}

#[test]
fn a_way_out_written_by_someone_who_knew_of_no_way_in_leaves_the_person_inside() {
    let mut scene = permitted();
    scene.sync(1, 2);
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    scene.does(2, MAX, comes_out("inside", BEN)).unwrap();
    scene.sync_both(1, 2);
    assert_eq!(scene.view().inside.len(), 1);
    scene.does(1, ANA, comes_out("inside", BEN)).unwrap();
    assert!(scene.view().inside.is_empty());
}

#[test]
fn a_way_out_struck_out_puts_the_person_back_inside_and_a_way_in_cannot_be_struck() {
    let mut scene = permitted();
    let way_in = scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    let out = scene.does(1, ANA, comes_out("inside", BEN)).unwrap();
    let strike = |event| Event::StrikeOut {
        event,
        reason: "wrong man".into(),
    };
    assert_eq!(
        scene.does(1, MAX, strike(way_in)),
        Err(Refusal::CannotStrike)
    );
    scene.does(1, ANA, strike(out)).unwrap();
    assert_eq!(scene.view().inside.len(), 1);
}

#[test]
fn nobody_is_ever_kept_from_coming_out() {
    let mut scene = permitted();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    scene
        .does(
            1,
            ANA,
            Event::Stop {
                cause: "alarm".into(),
            },
        )
        .unwrap();
    scene.now += 5 * HOUR;
    scene.does(1, ANA, comes_out("inside", BEN)).unwrap();
    assert!(scene.view().inside.is_empty());
}

#[test]
fn a_stop_lets_people_out_and_the_space_be_closed_but_nobody_in() {
    let mut scene = permitted();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    scene
        .does(
            1,
            ANA,
            Event::Stop {
                cause: "alarm".into(),
            },
        )
        .unwrap();
    assert!(matches!(
        scene.does(1, ANA, goes_in("inside", ANA)),
        Err(Refusal::Blocked(_))
    ));
    assert!(
        alarm(&scene, AlarmKind::Inside).is_some_and(|alarm| alarm.level == AlarmLevel::Danger)
    );
    scene.does(1, ANA, comes_out("inside", BEN)).unwrap();
    scene.does(1, ANA, done("inside")).unwrap();
    scene.does(1, ANA, done("hatch")).unwrap();
    let off = Event::Close {
        end: End::BrokenOff,
        remark: "alarm".into(),
    };
    scene.does(1, MAX, off).unwrap();
    assert!(scene.view().closed.is_some());
}

#[test]
fn a_missed_call_and_a_permit_that_ends_are_alarms_while_someone_is_inside() {
    let mut scene = permitted();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    assert!(alarm(&scene, AlarmKind::CallOverdue).is_none());
    scene.now += 5 * MINUTE;
    assert!(alarm(&scene, AlarmKind::CallOverdue).is_some());
    scene
        .does(
            1,
            ANA,
            Event::Log {
                step: "inside".into(),
                entry: LogEntry::default(),
            },
        )
        .unwrap();
    assert!(alarm(&scene, AlarmKind::CallOverdue).is_none());
    scene.now += HOUR;
    let worst = scene.view().alarms.first().cloned();
    assert_eq!(worst.map(|alarm| alarm.level), Some(AlarmLevel::Danger));
    assert!(
        alarm(&scene, AlarmKind::Inside)
            .is_some_and(|alarm| alarm.words.starts_with("everybody out"))
    );
}

#[test]
fn one_alone_inside_is_told() {
    let mut scene = permitted();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    assert!(alarm(&scene, AlarmKind::Inside).is_some());
    scene.does(1, ANA, goes_in("inside", ANA)).unwrap();
    assert!(alarm(&scene, AlarmKind::Inside).is_none());
}

#[test]
fn the_list_of_people_comes_before_all_else_while_someone_is_inside() {
    let mut scene = permitted();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    scene.now += 2 * HOUR;
    let first = || Some(StepId::new("inside"));
    assert!(!scene.step("permit").passed);
    assert_eq!(scene.view().next.first().cloned(), first());
    scene
        .does(
            1,
            ANA,
            Event::Stop {
                cause: "alarm".into(),
            },
        )
        .unwrap();
    assert_eq!(scene.view().next.first().cloned(), first());
    scene.does(1, ANA, comes_out("inside", BEN)).unwrap();
    scene.writes(1, MAX, done("inside"));
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap_err();
    scene.writes(1, ANA, goes_in("inside", BEN));
    assert_eq!(
        scene.view().next.first().cloned(),
        first(),
        "also where the list was said to be finished"
    );
}

fn disputed(scene: &Scene) -> bool {
    let alarms = scene.view().alarms;
    alarms.iter().any(|alarm| {
        (alarm.level, alarm.kind) == (AlarmLevel::Danger, AlarmKind::Inside)
            && alarm.words.starts_with("is ben in or out?")
    })
}

#[test]
fn a_word_that_someone_is_out_counts_from_who_is_aboard_and_never_from_a_withdrawn_key() {
    let mut scene = permitted();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    assert!(!disputed(&scene));
    scene.writes(1, ZOE, comes_out("inside", BEN));
    assert_eq!(scene.view().inside.len(), 1, "a stranger's word");
    assert!(disputed(&scene), "and two sources that disagree are told");
    scene.writes(1, ANA, comes_out("inside", BEN));
    scene.events.last_mut().expect("the way out").is_withdrawn = true;
    assert_eq!(scene.view().inside.len(), 1, "a thief's word");
    let call = Event::Log {
        step: "inside".into(),
        entry: LogEntry::default(),
    };
    scene.does(1, ANA, call).unwrap();
    assert!(
        !disputed(&scene),
        "the attendant called, with that in sight"
    );
    scene.does(1, ANA, comes_out("inside", BEN)).unwrap();
    assert!(scene.view().inside.is_empty() && !disputed(&scene));
}

#[test]
fn in_and_out_written_apart_leave_the_person_inside_with_an_alarm() {
    let mut scene = permitted();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    scene.does(1, ANA, comes_out("inside", BEN)).unwrap();
    scene.sync_both(1, 2);
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    assert!(!disputed(&scene), "in again, and nobody says otherwise");
    scene.writes(2, ANA, comes_out("inside", BEN));
    scene.sync_both(1, 2);
    assert_eq!(scene.view().inside.len(), 1);
    assert!(disputed(&scene));
}

#[test]
fn a_withdrawn_key_stops_nothing() {
    let mut scene = permitted();
    let stop = || Event::Stop {
        cause: "to make trouble".into(),
    };
    scene.writes(1, ANA, stop());
    scene.events.last_mut().expect("the stop").is_withdrawn = true;
    assert!(scene.view().stopped.is_none());
    scene.writes(1, ZOE, stop());
    assert!(scene.view().stopped.is_some(), "anybody else's counts");
}
