//! What a consent is bound to, and what a fault at which the work stops holds up.

use procedure::*;

use super::faults::not_so;
use super::scene::*;

const BOUND: &str = r#"
slug = "bound"
title = "Bound"
edition = "1"
purpose = "For tests."

[[step]]
id = "method"
do = "Say how"
kind = "choice"
skip = "never"
[[step.option]]
key = "walk-out"
label = "walk out"
[[step.option]]
key = "let-go"
label = "let go"

[[step]]
id = "depth"
do = "Read the depth"
kind = "reading"
[[step.point]]
key = "depth"
label = "depth"
unit = "m"
min = 10

[[step]]
id = "wiped"
do = "Wipe the deck"
on_fault = "note"
skip = "anyone"

[[step]]
id = "order"
do = "Wait for the master"
kind = "hold"
consent = "master"
stands_on = ["method", "depth", "wiped"]

[[step]]
id = "brake"
do = "Set the brake"
on_fault = "stop"

[[step]]
id = "cable"
do = "Log the cable"
kind = "log"
cable = "out"
side = "either"
after = ["order"]
skip = "never"

[[step]]
id = "rest"
do = "Let it rest"
kind = "wait"
for = "1 min"
from = "depth"
after = ["depth"]

[[step]]
id = "lights"
do = "Show the lights"
after = ["order"]

[[step]]
id = "left-so"
do = "Wait for the officer"
kind = "hold"
consent = "officer"
after = ["lights"]
stands_on = ["lights"]

[[step]]
id = "safe"
do = "Make it safe"
after = []
when_stopped = true
"#;

fn ordered() -> Scene {
    let mut scene = Scene::started(BOUND);
    scene.does(1, ANA, chooses("method", "walk-out")).unwrap();
    scene.does(1, ANA, reads("depth", "depth", "12")).unwrap();
    scene.does(1, ANA, done("wiped")).unwrap();
    scene.does(1, MAX, consents("order")).unwrap();
    assert!(scene.step("order").passed);
    scene
}

fn marks() -> Event {
    Event::Log {
        step: "cable".into(),
        entry: LogEntry {
            mark: Some(Decimal::whole(1)),
            side: Some(procedure::cable::Side::Port),
            ..LogEntry::default()
        },
    }
}

#[track_caller]
fn assert_asked_again(mut scene: Scene) {
    assert_eq!(scene.status("order"), Status::Stale);
    let view = scene.view();
    assert_eq!(view.holds, vec!["order".into()], "the bridge is asked");
    assert_eq!(view.progress.held, 1);
    let words = "first: Wait for the master".to_owned();
    assert_eq!(
        scene.does(1, ANA, done("lights")),
        Err(Refusal::Blocked(words))
    );
    scene.does(1, MAX, consents("order")).unwrap();
    assert!(scene.step("order").passed);
    scene.does(1, ANA, done("lights")).unwrap();
}

#[test]
fn a_choice_made_otherwise_takes_the_consent_with_it() {
    let mut scene = ordered();
    scene.does(1, ANA, chooses("method", "walk-out")).unwrap();
    assert!(scene.step("order").passed, "it was repeated, not changed");
    let other = scene.does(1, ANA, chooses("method", "let-go")).unwrap();
    assert_asked_again(scene.clone());
    let strike = Event::StrikeOut {
        event: other,
        reason: "wrong button".into(),
    };
    scene.does(1, ANA, strike).unwrap();
    assert!(scene.step("order").passed, "it never was chosen");
}

#[test]
fn a_reading_that_goes_bad_takes_the_consent_with_it_even_when_the_officer_goes_past_it() {
    let mut scene = ordered();
    scene.does(1, ANA, reads("depth", "depth", "15")).unwrap();
    assert!(scene.step("order").passed, "another good one is as good");
    scene.does(1, ANA, reads("depth", "depth", "8")).unwrap();
    assert_eq!(scene.status("order"), Status::Stale);
    assert!(scene.view().holds.is_empty(), "not over a bad one");
    scene.does(1, OLGA, goes_on("depth")).unwrap();
    assert_asked_again(scene);
}

#[test]
fn consent_is_given_over_what_was_left_undone_noted_or_gone_past_when_that_is_known() {
    let undone = Event::NotDone {
        step: "wiped".into(),
        reason: "rain".into(),
    };
    for last in [undone, not_so("wiped", Severity::Watch)] {
        let mut scene = Scene::started(BOUND);
        scene.does(1, ANA, chooses("method", "let-go")).unwrap();
        scene.does(1, ANA, reads("depth", "depth", "8")).unwrap();
        scene.does(1, OLGA, goes_on("depth")).unwrap();
        scene.does(1, ANA, last).unwrap();
        scene.does(1, MAX, consents("order")).unwrap();
        assert!(scene.step("order").passed);
        scene
            .does(1, ANA, not_so("wiped", Severity::Restricted))
            .unwrap();
        assert_asked_again(scene);
    }
}

#[test]
fn a_run_does_not_end_when_its_last_consent_has_fallen() {
    let mut scene = ordered();
    scene.does(1, ANA, done("brake")).unwrap();
    scene.does(1, ANA, marks()).unwrap();
    scene.does(1, ANA, done("cable")).unwrap();
    scene.does(1, ANA, done("lights")).unwrap();
    scene.does(1, OLGA, consents("left-so")).unwrap();
    scene.does(1, ANA, done("safe")).unwrap();
    scene.now += MINUTE;
    assert_eq!(scene.view().open_before_close, Vec::<String>::new());
    scene
        .does(1, ANA, not_so("lights", Severity::Restricted))
        .unwrap();
    scene.does(1, OLGA, goes_on("lights")).unwrap();
    let view = scene.view();
    assert_eq!(view.open_before_close.len(), 1);
    assert!(view.open_before_close[0].starts_with("Wait for the officer ("));
    assert_eq!(view.holds, vec!["left-so".into()]);
    scene.does(1, OLGA, consents("left-so")).unwrap();
    assert_eq!(scene.view().open_before_close, Vec::<String>::new());
}

#[test]
fn a_fault_at_which_the_work_stops_holds_up_all_that_follows_and_says_which() {
    let mut scene = ordered();
    scene
        .does(1, ANA, not_so("brake", Severity::OutOfService))
        .unwrap();
    let words = "put right first: Set the brake (not so: lining worn)".to_owned();
    let blocked = Err(Refusal::Blocked(words));
    assert_eq!(scene.does(1, ANA, done("lights")), blocked);
    assert_eq!(scene.does(1, ANA, marks()), blocked);
    assert_eq!(scene.does(1, OLGA, consents("left-so")), blocked);
    assert!(scene.view().holds.is_empty());
    let open: Vec<StepId> = scene.view().next;
    assert_eq!(open, ["brake".into(), "safe".into()]);
    scene.now += MINUTE;
    assert!(scene.step("rest").passed, "time runs all the same");
    // What comes before it may be put right, what makes safe may be done.
    scene.does(1, ANA, reads("depth", "depth", "13")).unwrap();
    scene.does(1, ANA, done("safe")).unwrap();
    scene.does(1, ANA, done("brake")).unwrap();
    scene.does(1, ANA, done("lights")).unwrap();
}

#[test]
fn a_log_that_was_begun_is_written_on_whatever_falls() {
    let mut scene = ordered();
    scene.does(1, ANA, done("brake")).unwrap();
    scene.does(1, ANA, marks()).unwrap();
    scene
        .does(1, ANA, not_so("brake", Severity::Danger))
        .unwrap();
    scene.does(1, ANA, chooses("method", "let-go")).unwrap();
    scene.does(1, ANA, marks()).unwrap();
    assert!(scene.step("cable").open);
    assert!(scene.does(1, ANA, done("cable")).is_err());
    let view = scene.view();
    assert!(view.history.iter().all(|line| !line.out_of_sequence));
    let stop = Event::Stop {
        cause: "all stop".into(),
    };
    scene.does(1, ANA, stop).unwrap();
    assert!(scene.does(1, ANA, marks()).is_err());
}

#[test]
fn what_is_on_record_already_past_such_a_fault_keeps_counting() {
    let mut scene = ordered();
    scene
        .does(1, ANA, not_so("brake", Severity::OutOfService))
        .unwrap();
    scene.writes(1, ANA, done("lights"));
    let step = scene.step("lights");
    assert!(step.passed && !step.out_of_sequence);
}
