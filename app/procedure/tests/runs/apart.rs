//! Two devices on one run, apart and together again.

use procedure::*;
use proptest::prelude::*;

use super::scene::*;

const TWO: &str = r#"
slug = "two"
title = "Two"
edition = "1"
purpose = "For tests."

[[step]]
id = "look"
do = "Look"

[[step]]
id = "oxygen"
do = "Measure"
kind = "reading"
[[step.point]]
key = "o2"
label = "oxygen"
unit = "%"
min = 20.9

[[step]]
id = "clutch"
do = "Say how the clutch stands"
kind = "choice"
[[step.option]]
key = "in"
label = "in"
[[step.option]]
key = "out"
label = "out"

[[step]]
id = "may"
do = "Wait for the officer"
kind = "hold"
consent = "officer"
"#;

fn together() -> Scene {
    let mut scene = Scene::started(TWO);
    scene.sync(1, 2);
    scene
}

#[test]
fn both_ticks_stand_in_the_history_and_the_first_counts() {
    let mut scene = together();
    scene.now += MINUTE;
    let first = scene.does(1, ANA, done("look")).unwrap();
    scene.now += MINUTE;
    scene.does(2, BEN, done("look")).unwrap();
    scene.sync_both(1, 2);
    let step = scene.step("look");
    assert_eq!(
        (step.status, step.by, step.event),
        (Status::Done, Some(ANA.into()), Some(first))
    );
    assert_eq!(scene.view().history.len(), 3);
    assert!(scene.view().questions.is_empty());
}

#[test]
fn one_in_limits_and_one_out_is_a_question_and_the_worse_counts_until_it_is_answered() {
    let mut scene = together();
    scene.does(1, ANA, done("look")).unwrap();
    scene.sync(1, 2);
    let good = scene.does(1, ANA, reads("oxygen", "o2", "20.9")).unwrap();
    scene.now += MINUTE;
    let bad = scene.does(2, BEN, reads("oxygen", "o2", "19.5")).unwrap();
    scene.sync_both(1, 2);
    assert_eq!(scene.status("oxygen"), Status::OutOfLimits);
    let question = scene.view().questions[0].clone();
    let ids: Vec<_> = question.events.iter().map(|event| event.event).collect();
    assert_eq!(ids, vec![good, bad]);

    let answer = |stands| Event::AnswerQuestion {
        question: question.id.clone(),
        stands,
        reason: "meter 2 is old".into(),
    };
    let mut other = scene.clone();
    other.does(2, OLGA, answer(Some(bad))).unwrap();
    assert_eq!(other.status("oxygen"), Status::OutOfLimits);
    assert!(
        other
            .view()
            .questions
            .iter()
            .all(|question| question.answer.is_some())
    );

    scene.does(1, OLGA, answer(Some(good))).unwrap();
    assert_eq!(scene.status("oxygen"), Status::Done);
}

#[test]
fn a_reading_taken_knowing_of_the_other_settles_it_without_a_question() {
    let mut scene = together();
    scene.does(1, ANA, done("look")).unwrap();
    scene.does(1, ANA, reads("oxygen", "o2", "19.5")).unwrap();
    scene.sync(1, 2);
    scene.does(2, BEN, reads("oxygen", "o2", "20.9")).unwrap();
    assert_eq!(scene.status("oxygen"), Status::Done);
    assert!(scene.view().questions.is_empty());
}

#[test]
fn different_choices_made_apart_are_a_question_that_holds_the_officers_consent() {
    let mut scene = together();
    scene.does(1, ANA, done("look")).unwrap();
    scene.does(1, ANA, reads("oxygen", "o2", "20.9")).unwrap();
    scene.sync(1, 2);
    scene.does(1, ANA, chooses("clutch", "in")).unwrap();
    scene.does(2, BEN, chooses("clutch", "out")).unwrap();
    scene.sync_both(1, 2);
    assert_eq!(scene.view().questions.len(), 1);
    assert!(matches!(
        scene.does(1, OLGA, consents("may")),
        Err(Refusal::Blocked(_))
    ));
}

#[test]
fn out_of_sequence_is_judged_by_what_the_ticking_device_had_seen() {
    let mut scene = together();
    scene.does(1, ANA, done("look")).unwrap();
    scene.writes(2, BEN, reads("oxygen", "o2", "20.9"));
    scene.sync_both(1, 2);
    assert!(
        scene.step("oxygen").out_of_sequence,
        "device 2 had not seen the look"
    );
}

#[test]
fn a_consent_and_a_refusal_given_apart_do_not_pass() {
    let mut scene = together();
    scene.does(1, ANA, done("look")).unwrap();
    scene.does(1, ANA, reads("oxygen", "o2", "20.9")).unwrap();
    scene.does(1, ANA, chooses("clutch", "in")).unwrap();
    scene.sync(1, 2);
    scene.does(1, ANA, heard("may", OLGA)).unwrap();
    let no = Event::Consent {
        step: "may".into(),
        granted: false,
        how: ConsentBy::Network,
        words: "wait".into(),
    };
    scene.does(2, MAX, no).unwrap();
    scene.sync_both(1, 2);
    assert_eq!(scene.status("may"), Status::Held);
}

#[test]
fn parents_that_never_arrived_and_rings_of_parents_lose_nothing() {
    let mut scene = together();
    scene.does(1, ANA, done("look")).unwrap();
    let whole = scene.events.len();
    scene.events[0].parents.push([0xee; 32]);
    let last = scene.events[whole - 1].id;
    scene.events[0].parents.push(last);
    assert_eq!(scene.state().events().len(), whole);
    assert_eq!(scene.view().history.len(), whole);
}

/// Works the run on two devices in a random weave.
fn weave(moves: &[(u8, u8)]) -> Scene {
    let mut scene = together();
    for (what, device) in moves {
        let device = 1 + device % 2;
        let person = if device == 1 { ANA } else { BEN };
        scene.now += 7_000;
        let event = match what % 8 {
            0 => done("look"),
            1 => reads("oxygen", "o2", "20.9"),
            2 => reads("oxygen", "o2", "19"),
            3 => chooses("clutch", "in"),
            4 => chooses("clutch", "out"),
            5 => {
                scene.sync(3 - device, device);
                continue;
            }
            6 => heard("may", OLGA),
            _ => {
                let last = scene
                    .seen_by(device)
                    .last()
                    .map_or([0; 32], |event| event.id);
                Event::StrikeOut {
                    event: last,
                    reason: "wrong".into(),
                }
            }
        };
        scene.writes(device, person, event);
    }
    scene
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_order_and_any_repetition_give_the_same_state(
        moves in prop::collection::vec((any::<u8>(), any::<u8>()), 1..24),
        order in prop::collection::vec(any::<prop::sample::Index>(), 0..40),
    ) {
        let scene = weave(&moves);
        let state = scene.state();
        let mut mixed: Vec<RecordedEvent> = order.iter().map(|index| index.get(&scene.events).clone()).collect();
        mixed.extend(scene.events.iter().rev().cloned());
        let crew = std::sync::Arc::new(scene.crew.clone());
        let other = fold(&scene.procedure, &scene.settings, &crew, &mixed);
        prop_assert_eq!(&other, &fold(&scene.procedure, &scene.settings, &crew, &scene.events));
        prop_assert_eq!(other.view(scene.now), state.view(scene.now));
    }
}
