//! An alarm stays until an officer says that they have seen it.

use procedure::*;

use super::scene::*;

const AIR: &str = r#"
slug = "air"
title = "Air"
edition = "1"
purpose = "For tests."

[[step]]
id = "air"
do = "Read the air"
kind = "reading"

[[step.point]]
key = "o2"
label = "oxygen"
unit = "%"
min = 19.5

[[step.point]]
key = "co"
label = "carbon monoxide"
unit = "ppm"
max = 10

[[step]]
id = "watch"
do = "Keep the log"
kind = "log"

[[step.point]]
key = "o2"
label = "oxygen"
unit = "%"
min = 19.5
"#;

fn alarms(scene: &Scene) -> Vec<Alarm> {
    let mut all = scene.view().alarms;
    all.retain(|alarm| alarm.kind == AlarmKind::OutOfLimits);
    all
}

fn said(scene: &Scene) -> Vec<String> {
    alarms(scene).into_iter().map(|alarm| alarm.words).collect()
}

/// Oxygen was too low for a moment, and nobody but the crew wrote since.
fn passed_by() -> Scene {
    let mut scene = Scene::started(AIR);
    scene.does(1, ANA, reads("air", "o2", "18")).unwrap();
    scene.does(1, ANA, reads("air", "co", "0")).unwrap();
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    scene
}

#[test]
fn an_alarm_names_what_is_out_and_readings_beside_it_do_not_renew_it() {
    let mut scene = Scene::started(AIR);
    scene.does(1, ANA, reads("air", "o2", "18")).unwrap();
    let first = alarms(&scene);
    assert!(first[0].words.starts_with("oxygen: 18"), "{first:?}");
    scene.now += MINUTE;
    scene.does(1, ANA, reads("air", "co", "0")).unwrap();
    assert_eq!(alarms(&scene), first, "the oxygen is as it was");
}

#[test]
fn a_reading_out_of_limits_stays_an_alarm_after_a_better_one_until_an_officer_has_seen_it() {
    let mut scene = passed_by();
    let standing = alarms(&scene);
    let [alarm] = &standing[..] else {
        panic!("wiped by the next good reading: {standing:?}");
    };
    assert!(alarm.words.starts_with("oxygen: 18"), "{}", alarm.words);
    assert_eq!(
        scene.does(1, ANA, alarm.acknowledge()),
        Err(Refusal::NotTheirs(Role::Officer.words())),
        "the crew cannot say it for an officer"
    );
    scene.does(1, MAX, alarm.acknowledge()).unwrap();
    assert_eq!(said(&scene), [""; 0]);
    let history = scene.view().history;
    let last = history.last().unwrap();
    assert_eq!(
        (last.by.as_str(), last.words.as_str()),
        (MAX, "has seen the alarm")
    );
}

#[test]
fn an_officer_who_had_not_heard_of_the_reading_has_not_seen_it() {
    let mut scene = Scene::started(AIR);
    scene.sync(1, 2);
    scene.does(1, ANA, reads("air", "o2", "18")).unwrap();
    let alarm = alarms(&scene).remove(0);
    // The officer's own phone lies out of range and knows of no reading.
    scene.writes(2, MAX, alarm.acknowledge());
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    assert_eq!(alarms(&scene).len(), 1, "{:?}", said(&scene));
}

#[test]
fn a_standing_alarm_says_who_has_seen_it_and_stands_on() {
    let mut scene = Scene::started(AIR);
    scene.does(1, ANA, reads("air", "o2", "18")).unwrap();
    let alarm = alarms(&scene).remove(0);
    assert_eq!(alarm.seen, None);
    scene.now += MINUTE;
    scene.does(1, MAX, alarm.acknowledge()).unwrap();
    let after = alarms(&scene).remove(0);
    let seen = after.seen.clone().unwrap();
    assert_eq!((seen.by.as_str(), seen.at_ms), (MAX, scene.now));
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    assert_eq!(said(&scene), [""; 0], "the officer knew of it");
    scene.does(1, ANA, reads("air", "o2", "17")).unwrap();
    assert_eq!(
        alarms(&scene).remove(0).seen,
        None,
        "another time, another alarm"
    );
}

#[test]
fn an_officer_who_reads_again_themselves_needs_no_word_more() {
    let mut scene = Scene::started(AIR);
    scene.does(1, ANA, reads("air", "o2", "18")).unwrap();
    scene.does(1, MAX, reads("air", "o2", "20.9")).unwrap();
    assert_eq!(said(&scene), [""; 0]);
}

#[test]
fn an_entry_in_a_log_is_held_like_a_reading() {
    let mut scene = Scene::started(AIR);
    for (point, value) in [("o2", "20.9"), ("co", "0")] {
        scene.does(1, ANA, reads("air", point, value)).unwrap();
    }
    let entry = |value: &str| Event::Log {
        step: "watch".into(),
        entry: LogEntry {
            readings: vec![("o2".into(), value.parse().unwrap())],
            ..LogEntry::default()
        },
    };
    scene.does(1, ANA, entry("18")).unwrap();
    scene.does(1, ANA, entry("20.9")).unwrap();
    let alarm = alarms(&scene).remove(0);
    assert!(alarm.words.starts_with("oxygen: 18"), "{}", alarm.words);
    scene.does(1, MAX, alarm.acknowledge()).unwrap();
    assert_eq!(said(&scene), [""; 0]);
}

#[test]
fn every_kind_of_alarm_has_the_name_that_messages_give_it() {
    use AlarmKind::*;
    for kind in [
        ManDown,
        Stopped,
        Inside,
        CallOverdue,
        EntryOverdue,
        OutOfLimits,
        Stale,
        NotSo,
        WaitOver,
        Question,
        Countersign,
        Clock,
        AfterClose,
    ] {
        let message = serde_json::to_string(&kind).unwrap();
        assert_eq!(message, format!("\"{}\"", kind.name()));
    }
}
