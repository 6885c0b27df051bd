//! Holds: nothing passes without consent.

use procedure::*;

use super::plain::PLAIN;
use super::scene::*;

pub fn up_to_the_hold() -> Scene {
    let mut scene = Scene::started(PLAIN);
    scene.does(1, ANA, done("look")).unwrap();
    scene.does(1, ANA, reads("oxygen", "o2", "20.9")).unwrap();
    scene.does(1, ANA, reads("gas", "co2", "0.1")).unwrap();
    assert_eq!(scene.status("may"), Status::Held);
    assert_eq!(scene.view().holds, vec!["may".into()]);
    scene
}

#[test]
fn a_hold_passes_only_with_the_consent_of_who_may_give_it() {
    let mut scene = up_to_the_hold();
    assert_eq!(
        scene.does(1, ANA, consents("may")),
        Err(Refusal::NotTheirs("officer"))
    );
    scene.writes(1, ANA, consents("may"));
    scene.writes(1, ANA, done("may"));
    scene.writes(1, MAX, goes_on("may"));
    scene.writes(
        1,
        MAX,
        Event::NotDone {
            step: "may".into(),
            reason: "no time".into(),
        },
    );
    assert_eq!(scene.status("may"), Status::Held);
    scene.does(1, OLGA, consents("may")).unwrap();
    assert_eq!(scene.status("may"), Status::Done);
    assert_eq!(scene.step("may").by, Some(OLGA.into()));
}

#[test]
fn consent_before_its_turn_counts_for_nothing() {
    let mut scene = Scene::started(PLAIN);
    scene.writes(1, OLGA, consents("may"));
    scene.does(1, ANA, done("look")).unwrap();
    scene.does(1, ANA, reads("oxygen", "o2", "20.9")).unwrap();
    scene.does(1, ANA, reads("gas", "co2", "0.1")).unwrap();
    assert_eq!(scene.status("may"), Status::Held);
}

#[test]
fn a_refusal_stands_until_a_later_consent() {
    let mut scene = up_to_the_hold();
    let no = |words: &str| Event::Consent {
        step: "may".into(),
        granted: false,
        how: ConsentBy::Network,
        words: words.into(),
    };
    assert_eq!(scene.does(1, OLGA, no("")), Err(Refusal::NoReason));
    scene.does(1, OLGA, no("traffic")).unwrap();
    assert_eq!(scene.step("may").words, "refused by olga");
    scene.does(1, OLGA, consents("may")).unwrap();
    assert!(scene.step("may").passed);
    scene.does(1, OLGA, no("the wind")).unwrap();
    assert!(!scene.step("may").passed);
}

#[test]
fn consent_heard_by_radio_awaits_the_officer_and_falls_with_his_denial() {
    let mut scene = up_to_the_hold();
    assert_eq!(
        scene.does(1, ANA, heard("may", ANA)),
        Err(Refusal::HeardOneself)
    );
    let consent = scene.does(1, ANA, heard("may", OLGA)).unwrap();
    let step = scene.step("may");
    assert!(step.passed);
    assert_eq!(
        step.awaiting_countersign
            .map(|wait| (wait.from, wait.heard_by)),
        Some((OLGA.into(), ANA.into()))
    );
    let sign = |granted| Event::Countersign {
        event: consent,
        granted,
        words: String::new(),
    };
    assert_eq!(scene.does(1, ANA, sign(true)), Err(Refusal::NotHeard));

    let mut denied = scene.clone();
    denied.does(1, OLGA, sign(false)).unwrap();
    assert_eq!(denied.status("may"), Status::Held);
    assert!(
        denied
            .view()
            .alarms
            .iter()
            .any(|alarm| alarm.kind == AlarmKind::Countersign)
    );

    scene.does(1, OLGA, sign(true)).unwrap();
    assert_eq!(scene.step("may").awaiting_countersign, None);
    assert!(scene.step("may").passed);
}

/// Another step lies between the test and the consent that stands on it, as the fan does in a locker.
const APART: &str = r#"
slug = "apart"
title = "Apart"
edition = "1"
purpose = "For tests."

[[step]]
id = "air"
do = "Test the air"
kind = "reading"
good_for = "30 min"
on_fault = "stop"
skip = "never"
[[step.point]]
key = "o2"
label = "oxygen"
unit = "%"
min = 20.9

[[step]]
id = "fan"
do = "Start the fan"

[[step]]
id = "permit"
do = "Consent"
kind = "hold"
consent = "officer"
after = ["fan"]
stands_on = ["air"]
"#;

#[test]
fn consent_is_not_taken_over_what_is_no_longer_good() {
    let mut scene = Scene::started(APART);
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    scene.does(1, ANA, done("fan")).unwrap();
    scene.now += 31 * MINUTE;
    let refused = scene.does(1, OLGA, consents("permit"));
    let words = "first: Test the air".to_owned();
    assert_eq!(refused, Err(Refusal::Blocked(words)));
    assert!(scene.view().holds.is_empty(), "nor is it asked for");
    scene.writes(1, OLGA, consents("permit"));
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    assert_eq!(scene.status("permit"), Status::Held, "it came too soon");
    scene.does(1, OLGA, consents("permit")).unwrap();
    assert!(scene.step("permit").passed);
}

#[test]
fn only_the_word_of_who_may_give_it_is_heard() {
    let mut scene = up_to_the_hold();
    let refused = scene.does(1, ANA, heard("may", BEN)).unwrap_err();
    assert_eq!(refused, Refusal::NotTheirsToGive(BEN.into(), "officer"));
    assert_eq!(
        refused.to_string(),
        "ben cannot give this consent: it is for the officer to give"
    );
    for nobody in ["a visitor", "zoe"] {
        assert!(scene.does(1, ANA, heard("may", nobody)).is_err());
    }
    scene.writes(1, ANA, heard("may", BEN));
    assert_eq!(scene.status("may"), Status::Held);
    let view = scene.view();
    let line = view.history.last().unwrap();
    assert!(
        line.without_right
            && line
                .words
                .ends_with("(counts for nothing: not theirs to give)")
    );
    // A hand's "no" over the radio holds nothing up either.
    let no = Event::Consent {
        step: "may".into(),
        granted: false,
        how: ConsentBy::Radio { from: BEN.into() },
        words: "no".into(),
    };
    assert!(scene.does(1, ANA, no).is_err());
    scene.does(1, ANA, heard("may", MAX)).unwrap();
    assert!(scene.step("may").passed);
}

#[test]
fn a_word_is_judged_by_what_its_giver_was_then() {
    let mut scene = up_to_the_hold();
    let moment = |ms: i64| (u64::try_from(ms).unwrap(), 0);
    let leaves = scene.now + HOUR;
    let officer = Roles::of(&[Role::Officer]);
    scene
        .crew
        .add("ivo".into(), officer, (0, 0), moment(leaves));
    scene.does(1, ANA, heard("may", "ivo")).unwrap();
    scene.now = leaves;
    assert!(scene.step("may").passed, "it was theirs to give then");
    let again = Event::Consent {
        step: "may".into(),
        granted: false,
        how: ConsentBy::Radio { from: "ivo".into() },
        words: "wait".into(),
    };
    assert_eq!(
        scene.does(1, ANA, again),
        Err(Refusal::NotTheirsToGive("ivo".into(), "officer"))
    );
    let may = |scene: &Scene| -> Vec<String> {
        let at = moment(scene.now);
        let who = scene.crew.who_may(Role::Officer, at);
        who.iter().map(ToString::to_string).collect()
    };
    assert_eq!(may(&scene), [MAX, OLGA]);
}
