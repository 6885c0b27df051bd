//! Waits, results that go stale, permits that end, and clocks that jump.

use procedure::*;

use super::scene::*;

const TIMED: &str = r#"
slug = "timed"
title = "Timed"
edition = "1"
purpose = "For tests."

[[step]]
id = "fan"
do = "Start the fan"
kind = "reading"
[[step.point]]
key = "fan-flow"
label = "flow"
unit = "m³/h"
min = 100

[[step]]
id = "ventilate"
do = "Ventilate"
kind = "wait"
for = "10 min"

[[step]]
id = "air"
do = "Test the air"
kind = "reading"
good_for = "30 min"
renewed_by = ["retest"]
on_fault = "stop"
skip = "never"
[[step.point]]
key = "o2"
label = "oxygen"
unit = "%"
min = 20.9

[[step]]
id = "permit"
do = "Give the permit"
kind = "hold"
consent = "officer"
good_for = "8 h"
stands_on = ["air"]

[[step]]
id = "work"
do = "Work inside"

[[step]]
id = "retest"
do = "Test again"
kind = "reading"
skip = "anyone"
after = ["permit"]
[[step.point]]
key = "o2"
label = "oxygen"
unit = "%"
min = 20.9

[[step]]
id = "watch"
do = "Keep the log"
kind = "log"
every = "15 min"
after = ["permit"]
"#;

fn ventilated() -> Scene {
    let mut scene = Scene::started(TIMED);
    scene.does(1, ANA, reads("fan", "fan-flow", "600")).unwrap();
    scene.now += 10 * MINUTE;
    scene
}

fn permitted() -> Scene {
    let mut scene = ventilated();
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    scene.does(1, OLGA, consents("permit")).unwrap();
    scene
}

#[test]
fn a_wait_counts_down_and_is_over_to_the_millisecond() {
    let mut scene = Scene::started(TIMED);
    scene.does(1, ANA, reads("fan", "fan-flow", "600")).unwrap();
    let ends = scene.now + 10 * MINUTE;
    assert_eq!(scene.step("ventilate").ends_at_ms, Some(ends));
    assert!(
        scene
            .view()
            .countdowns
            .iter()
            .any(|c| c.what == CountdownKind::Wait && c.ends_at_ms == ends)
    );
    scene.now = ends - 1;
    assert!(scene.does(1, ANA, reads("air", "o2", "20.9")).is_err());
    scene.now = ends;
    assert!(
        scene
            .view()
            .alarms
            .iter()
            .any(|alarm| alarm.kind == AlarmKind::WaitOver)
    );
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    assert!(
        !scene
            .view()
            .alarms
            .iter()
            .any(|alarm| alarm.kind == AlarmKind::WaitOver)
    );
}

#[test]
fn starting_again_starts_the_wait_again() {
    let mut scene = ventilated();
    assert!(scene.step("ventilate").passed);
    scene.does(1, ANA, reads("fan", "fan-flow", "500")).unwrap();
    assert!(!scene.step("ventilate").passed);
}

#[test]
fn a_reading_goes_stale_at_its_interval_and_not_a_millisecond_later() {
    let mut scene = ventilated();
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    scene.now += 30 * MINUTE - 1;
    assert_eq!(scene.status("air"), Status::Done);
    scene.now += 1;
    assert_eq!(scene.status("air"), Status::Stale);
    assert!(matches!(
        scene.does(1, OLGA, consents("permit")),
        Err(Refusal::Blocked(_))
    ));
}

#[test]
fn what_stood_on_a_stale_reading_is_open_again_and_needs_new_consent() {
    let mut scene = permitted();
    assert!(scene.step("permit").passed);
    scene.now += 30 * MINUTE;
    assert_eq!(scene.status("permit"), Status::Stale);
    assert!(matches!(
        scene.does(1, ANA, done("work")),
        Err(Refusal::Blocked(_))
    ));
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    assert_eq!(
        scene.status("permit"),
        Status::Stale,
        "a lapse is not healed by a later test"
    );
    scene.does(1, OLGA, consents("permit")).unwrap();
    assert!(scene.step("permit").passed);
}

#[test]
fn a_retest_in_time_keeps_the_permit_and_a_bad_one_kills_it() {
    let mut scene = permitted();
    for _ in 0..4 {
        scene.now += 29 * MINUTE;
        scene.does(1, ANA, reads("retest", "o2", "20.9")).unwrap();
        assert!(scene.step("permit").passed && scene.step("air").passed);
    }
    scene.now += MINUTE;
    scene.does(1, ANA, reads("retest", "o2", "20.8")).unwrap();
    assert_eq!(scene.status("air"), Status::Stale);
    assert_eq!(scene.status("permit"), Status::Stale);
}

#[test]
fn a_permit_ends() {
    let mut scene = permitted();
    let end = scene.now + 8 * HOUR;
    while scene.now + 29 * MINUTE < end {
        scene.now += 29 * MINUTE;
        scene.does(1, ANA, reads("retest", "o2", "20.9")).unwrap();
    }
    scene.now = end - 1;
    assert!(scene.step("permit").passed);
    scene.now = end;
    assert_eq!(scene.step("permit").words, "the consent has run out");
}

#[test]
fn a_stop_ends_a_permit_even_after_the_work_may_start_again() {
    let mut scene = permitted();
    scene
        .does(
            1,
            BEN,
            Event::Stop {
                cause: "fan stopped".into(),
            },
        )
        .unwrap();
    assert!(scene.view().stopped.is_some());
    assert!(matches!(
        scene.does(1, ANA, done("work")),
        Err(Refusal::Blocked(_))
    ));
    scene
        .does(
            1,
            OLGA,
            Event::Resume {
                reason: "fan runs".into(),
            },
        )
        .unwrap();
    assert!(scene.view().stopped.is_none());
    assert_eq!(scene.step("permit").words, "ended by the stop");
    scene.does(1, OLGA, consents("permit")).unwrap();
    scene.does(1, ANA, done("work")).unwrap();
}

#[test]
fn a_clock_set_back_cannot_make_a_reading_young_again() {
    let mut scene = permitted();
    scene.now += 31 * MINUTE;
    let entry = LogEntry {
        remark: Some("steady".into()),
        ..LogEntry::default()
    };
    scene.writes(
        1,
        ANA,
        Event::Log {
            step: "watch".into(),
            entry,
        },
    );
    scene.clock_error.insert(1, -25 * MINUTE);
    scene.now += MINUTE;
    let view = scene.view_of(1);
    assert_eq!(
        step_in(&view, "air").status,
        Status::Stale,
        "31 minutes old by what the device itself wrote"
    );
    assert!(!step_in(&view, "permit").passed);
}

#[test]
fn a_reading_from_far_ahead_of_the_clock_does_not_count() {
    let mut scene = ventilated();
    scene.clock_error.insert(1, 3 * HOUR);
    scene.writes(1, ANA, reads("air", "o2", "20.9"));
    scene.clock_error.clear();
    assert_eq!(scene.status("air"), Status::Stale);
    assert!(
        scene
            .view()
            .alarms
            .iter()
            .any(|alarm| alarm.kind == AlarmKind::Clock)
    );
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    assert_eq!(
        scene.status("air"),
        Status::Done,
        "the next one, with the clock put right, does"
    );
}

#[test]
fn clocks_at_their_ends_neither_panic_nor_lose() {
    for jump in [i64::MIN / 2, i64::MAX / 2, -3 * HOUR, 3 * HOUR] {
        let mut scene = permitted();
        scene.clock_error.insert(1, jump);
        scene.writes(1, ANA, reads("air", "o2", "20.9"));
        scene.writes(1, OLGA, consents("permit"));
        scene.writes(1, ANA, done("work"));
        scene.clock_error.clear();
        for now in [i64::MIN, 0, scene.now, i64::MAX] {
            assert_eq!(scene.state().view(now).history.len(), scene.events.len());
        }
    }
}

#[test]
fn an_overdue_entry_is_an_alarm_until_it_is_made() {
    let mut scene = permitted();
    let overdue = |scene: &Scene| {
        scene
            .view()
            .alarms
            .iter()
            .any(|alarm| alarm.kind == AlarmKind::EntryOverdue)
    };
    scene.now += 15 * MINUTE - 1;
    assert!(!overdue(&scene));
    scene.now += 1;
    assert!(overdue(&scene));
    scene
        .does(
            1,
            ANA,
            Event::Log {
                step: "watch".into(),
                entry: LogEntry {
                    remark: Some("steady".into()),
                    ..LogEntry::default()
                },
            },
        )
        .unwrap();
    assert!(!overdue(&scene));
}

#[test]
fn the_ventilation_time_comes_from_flow_volume_and_mixing() {
    // t = (KV/Q) ln 100 with K 3, V 20 m³, Q 600 m³/h is 27.63 min.
    let text = TIMED.replace("for = \"10 min\"", "for = \"computed:vent_time\"");
    let mut scene = Scene::of(&text);
    let set = |value: &str, unit: &str| SettingValue {
        value: value.parse().unwrap(),
        unit: unit.into(),
        source: "test".into(),
        edition: "1".into(),
        confirmed: true,
        reason: String::new(),
    };
    scene.settings.set("locker_volume", set("20", "m³"));
    scene.settings.set("locker_mixing", set("3", ""));
    scene.settings.set("vent_time", set("5", "min"));
    scene.start();
    scene.does(1, ANA, reads("fan", "fan-flow", "600")).unwrap();
    let minutes = (scene.step("ventilate").ends_at_ms.unwrap() - scene.now) as f64 / 60_000.0;
    assert!((minutes - 27.63).abs() < 0.01, "{minutes}");
    scene.settings.set("vent_time", set("40", "min"));
    assert_eq!(
        scene.step("ventilate").ends_at_ms,
        Some(scene.now + 40 * MINUTE),
        "never less than the ship's own"
    );
}

#[test]
fn a_second_name_is_asked_for_once_every_stale_point_has_been_read_anew() {
    let text = r#"
slug = "air"
title = "Air"
edition = "1"
purpose = "For tests."

[[step]]
id = "air"
do = "Test"
kind = "reading"
second = true
good_for = "30 min"
[[step.point]]
key = "o2"
label = "oxygen"
[[step.point]]
key = "co"
label = "carbon monoxide"
"#;
    let mut scene = Scene::started(text);
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    let last = scene.does(1, ANA, reads("air", "co", "0")).unwrap();
    scene.does(1, BEN, Event::Second { event: last }).unwrap();
    assert!(scene.step("air").passed);
    scene.now += 31 * MINUTE;
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    assert_eq!(
        scene.status("air"),
        Status::Stale,
        "half of it is still old"
    );
    let last = scene.does(1, ANA, reads("air", "co", "0")).unwrap();
    assert!(matches!(scene.status("air"), Status::Waiting(_)));
    scene.does(1, BEN, Event::Second { event: last }).unwrap();
    assert!(scene.step("air").passed);
}
