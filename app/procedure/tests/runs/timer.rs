//! Timers: started by a press, seen while they run, heard at their end.

use procedure::{AlarmKind, AlarmLevel, CountdownKind, Refusal, Severity, Status};

use super::faults::not_so;
use super::scene::*;

const TIMED: &str = r#"
slug = "x"
title = "X"
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
kind = "timer"
for = "10 min"
stands_on = ["fan"]
on_fault = "stop"

[[step]]
id = "stop-fan"
do = "Stop the fan"
"#;

fn started() -> Scene {
    let mut scene = Scene::started(TIMED);
    scene.does(1, ANA, reads("fan", "fan-flow", "600")).unwrap();
    scene.now += 5 * MINUTE;
    scene.does(1, ANA, done("ventilate")).unwrap();
    scene
}

fn press(scene: &mut Scene) -> Result<[u8; 32], Refusal> {
    scene.does(1, ANA, done("ventilate"))
}

fn rings(scene: &Scene) -> bool {
    let alarms = scene.view().alarms;
    let mut ends = alarms
        .iter()
        .filter(|alarm| alarm.kind == AlarmKind::WaitOver);
    ends.any(|alarm| alarm.level == AlarmLevel::Warning)
}

#[test]
fn a_timer_waits_for_its_press_and_then_counts_down() {
    let mut scene = Scene::started(TIMED);
    scene.does(1, ANA, reads("fan", "fan-flow", "600")).unwrap();
    scene.now += HOUR;
    assert_eq!(scene.status("ventilate"), Status::ToDo);
    assert!(
        scene.view().countdowns.is_empty(),
        "nothing runs before it is started"
    );
    press(&mut scene).unwrap();
    let ends = scene.now + 10 * MINUTE;
    let view = scene.view();
    let counted = view
        .countdowns
        .iter()
        .find(|one| one.what == CountdownKind::Wait);
    assert_eq!(counted.map(|one| one.ends_at_ms), Some(ends));
    assert!(
        !view.next.contains(&"ventilate".into()),
        "while it runs nobody works it"
    );
    assert!(scene.does(1, ANA, done("stop-fan")).is_err());
}

#[test]
fn a_timer_rings_at_its_end_until_what_waited_for_it_is_begun() {
    let mut scene = started();
    scene.now += 10 * MINUTE - 1;
    assert!(!rings(&scene) && !scene.step("ventilate").passed);
    scene.now += 1;
    assert!(rings(&scene) && scene.step("ventilate").passed);
    scene.does(1, ANA, done("stop-fan")).unwrap();
    assert!(!rings(&scene));
}

#[test]
fn a_second_press_while_it_runs_is_refused() {
    let mut scene = started();
    scene.now += MINUTE;
    assert!(matches!(press(&mut scene), Err(Refusal::Blocked(_))));
}

#[test]
fn a_fault_while_it_runs_makes_it_start_anew() {
    let mut scene = started();
    scene.now += 9 * MINUTE;
    scene
        .does(1, ANA, not_so("ventilate", Severity::Watch))
        .unwrap();
    scene.now += 5 * MINUTE;
    assert!(!scene.step("ventilate").passed, "the fan stood still");
    press(&mut scene).unwrap();
    assert_eq!(
        scene.step("ventilate").ends_at_ms,
        Some(scene.now + 10 * MINUTE)
    );
}

#[test]
fn a_reading_of_what_it_stands_on_after_the_press_makes_it_start_anew() {
    let mut scene = started();
    scene.now += 10 * MINUTE;
    assert!(scene.step("ventilate").passed);
    scene.does(1, ANA, reads("fan", "fan-flow", "500")).unwrap();
    assert_eq!(scene.status("ventilate"), Status::Stale);
    press(&mut scene).unwrap();
    assert!(!scene.step("ventilate").passed);
}

#[test]
fn of_presses_made_apart_the_latest_counts() {
    let mut scene = Scene::started(TIMED);
    scene.does(1, ANA, reads("fan", "fan-flow", "600")).unwrap();
    scene.sync(1, 2);
    press(&mut scene).unwrap();
    scene.now += 4 * MINUTE;
    scene.does(2, BEN, done("ventilate")).unwrap();
    assert_eq!(
        scene.step("ventilate").ends_at_ms,
        Some(scene.now + 10 * MINUTE)
    );
}
