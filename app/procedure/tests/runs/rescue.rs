//! Man down: the rescue team goes in when nobody else may, and is not forgotten inside.

use procedure::*;

use super::scene::*;

const SPACE: &str = r#"
slug = "space"
title = "Space"
edition = "1"
purpose = "For tests."
close_by = "officer"

[[step]]
id = "permit"
do = "Permit"
kind = "hold"
consent = "master"
good_for = "8 h"

[[step]]
id = "inside"
do = "Inside"
kind = "people"
at_least = 2
attendant = true
when_stopped = true
"#;

/// Two are inside under a permit, Olga attends.
fn two_inside() -> Scene {
    let mut scene = Scene::started(SPACE);
    scene.does(1, MAX, consents("permit")).unwrap();
    let attend = Event::Attend {
        step: "inside".into(),
        who: OLGA.into(),
    };
    scene.does(1, OLGA, attend).unwrap();
    scene.does(1, OLGA, goes_in("inside", ANA)).unwrap();
    scene.does(1, OLGA, goes_in("inside", BEN)).unwrap();
    scene
}

fn man_down(scene: &Scene) -> Option<Alarm> {
    let mut alarms = scene.view().alarms.into_iter();
    alarms.find(|alarm| alarm.kind == AlarmKind::ManDown)
}

#[test]
fn the_rescue_team_is_written_in_when_nobody_else_may_go_in() {
    let mut scene = two_inside();
    let stop = Event::Stop {
        cause: "Ana does not answer: gas alarm, 20 s after the last call".into(),
    };
    scene.does(1, OLGA, stop).unwrap();
    let cause = scene.view().stopped.unwrap().cause;
    assert!(
        cause.starts_with("Ana does not answer"),
        "in their own words"
    );
    assert!(scene.does(1, OLGA, goes_in("inside", MAX)).is_err());
    assert_eq!(man_down(&scene), None);
    scene
        .does(1, OLGA, goes_to_the_rescue("inside", MAX))
        .unwrap();
    scene
        .does(1, OLGA, goes_to_the_rescue("inside", "zane of the yard"))
        .unwrap();
    let view = scene.view();
    let inside: Vec<_> = view
        .inside
        .iter()
        .map(|one| (one.who.as_str(), one.rescuer))
        .collect();
    assert_eq!(
        inside,
        [
            (ANA, false),
            (BEN, false),
            (MAX, true),
            ("zane of the yard", true)
        ]
    );
    let alarm = man_down(&scene).unwrap();
    assert_eq!(alarm.level, AlarmLevel::Danger);
    assert_eq!(
        alarm.words,
        "man down: max, zane of the yard inside under breathing apparatus; nobody else goes in"
    );
    assert!(view.history.iter().all(|line| !line.out_of_sequence));
    for who in [ANA, BEN, "zane of the yard"] {
        scene.does(1, OLGA, comes_out("inside", who)).unwrap();
    }
    assert!(man_down(&scene).is_some(), "one of them is still inside");
    let off = Event::Close {
        end: End::BrokenOff,
        remark: "man down".into(),
    };
    let left = vec!["max is still inside".to_owned()];
    let refused = scene.does(1, OLGA, off.clone());
    assert!(matches!(refused, Err(Refusal::StillOpen(open)) if open.starts_with(&left)));
    scene.does(1, OLGA, comes_out("inside", MAX)).unwrap();
    assert_eq!(man_down(&scene), None);
    scene.does(1, OLGA, done("inside")).unwrap();
    scene.does(1, OLGA, off).unwrap();
    assert!(scene.view().closed.is_some());
}

#[test]
fn a_rescue_ends_the_permit_and_keeps_all_others_out() {
    let mut scene = two_inside();
    scene.does(1, OLGA, comes_out("inside", BEN)).unwrap();
    scene
        .does(1, OLGA, goes_to_the_rescue("inside", MAX))
        .unwrap();
    assert_eq!(scene.step("permit").words, "ended by a man down");
    let down = "man down: only the rescue team goes in".to_owned();
    assert_eq!(
        scene.does(1, OLGA, goes_in("inside", BEN)),
        Err(Refusal::Blocked(down.clone()))
    );
    let others = scene.view().alarms.into_iter();
    let others: Vec<_> = others
        .filter(|alarm| alarm.kind == AlarmKind::Inside && alarm.level == AlarmLevel::Danger)
        .map(|alarm| alarm.words)
        .collect();
    assert_eq!(
        others,
        [format!("everybody out: {down}")],
        "Ana is still inside"
    );
    for who in [ANA, MAX] {
        scene.does(1, OLGA, comes_out("inside", who)).unwrap();
    }
    assert!(
        scene.does(1, OLGA, goes_in("inside", BEN)).is_err(),
        "the permit is dead"
    );
}

#[test]
fn who_attends_never_goes_in_and_a_closed_run_is_opened_by_a_rescue() {
    let mut scene = two_inside();
    assert_eq!(
        scene.does(1, MAX, goes_to_the_rescue("inside", OLGA)),
        Err(Refusal::Attends(OLGA.into()))
    );
    assert_eq!(
        scene.does(1, MAX, goes_to_the_rescue("inside", " ")),
        Err(Refusal::NoName)
    );
    assert_eq!(
        scene.does(1, MAX, goes_to_the_rescue("inside", BEN)),
        Err(Refusal::AlreadyInside(BEN.into()))
    );
    for who in [ANA, BEN] {
        scene.does(1, OLGA, comes_out("inside", who)).unwrap();
    }
    scene.does(1, OLGA, done("inside")).unwrap();
    let close = Event::Close {
        end: End::Completed,
        remark: String::new(),
    };
    scene.does(1, OLGA, close).unwrap();
    assert!(scene.view().closed.is_some());
    scene
        .does(1, OLGA, goes_to_the_rescue("inside", MAX))
        .unwrap();
    assert_eq!(scene.view().closed, None);
    scene.does(1, OLGA, comes_out("inside", MAX)).unwrap();
    assert!(scene.view().closed.is_some());
}
