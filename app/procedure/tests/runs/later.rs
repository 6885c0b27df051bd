//! A second person who signs later, on a phone of their own, while the work goes on.

use procedure::*;
use proptest::prelude::*;

use super::scene::*;

const LATER: &str = r#"
slug = "later"
title = "Later"
edition = "1"
purpose = "For tests."

[[step]]
id = "look"
do = "Look"

[[step]]
id = "brake"
do = "Set the brake"
second = "later"
on_fault = "stop"
skip = "never"

[[step]]
id = "wash"
do = "Read the wash"
kind = "reading"
second = "later"
[[step.point]]
key = "p"
label = "pressure"
unit = "bar"
min = 4
[[step.point]]
key = "q"
label = "flow"
unit = "l/min"

[[step]]
id = "tidy"
do = "Tidy up"
"#;

fn strike(event: [u8; 32]) -> Event {
    Event::StrikeOut {
        event,
        reason: "the other side".into(),
    }
}

fn not_so(step: &str) -> Event {
    Event::NotSo {
        step: step.into(),
        text: "past its mark".into(),
        severity: Severity::OutOfService,
        photo: None,
        terms: None,
    }
}

fn ends() -> Event {
    Event::Close {
        end: End::Completed,
        remark: String::new(),
    }
}

/// Names the steps that want a second signature, as the run lists them and as each step shows.
fn wanted(scene: &Scene) -> Vec<String> {
    let listed = scene.state().seconds_wanted(scene.now);
    let listed: Vec<String> = listed.iter().map(|one| one.step.to_string()).collect();
    let view = scene.view();
    let shown = view.steps.iter().filter(|step| step.second_later);
    let shown: Vec<String> = shown.map(|step| step.id.to_string()).collect();
    assert_eq!(listed, shown);
    listed
}

/// Worked by one person up to the end; with what was ticked at the brake.
fn worked_alone() -> (Scene, [u8; 32]) {
    let mut scene = Scene::started(LATER);
    scene.does(1, ANA, done("look")).unwrap();
    let tick = scene.does(1, ANA, done("brake")).unwrap();
    scene.does(1, ANA, reads("wash", "p", "5")).unwrap();
    assert_eq!(wanted(&scene), ["brake"], "nobody signs for half a reading");
    scene.does(1, ANA, reads("wash", "q", "60")).unwrap();
    scene.does(1, ANA, done("tidy")).unwrap();
    (scene, tick)
}

#[test]
fn the_work_goes_on_and_the_signature_stays_wanted() {
    let (mut scene, tick) = worked_alone();
    assert_eq!(wanted(&scene), ["brake", "wash"]);
    let step = scene.step("brake");
    assert_eq!((step.status.clone(), step.passed), (Status::Done, true));
    assert_eq!(step.words, "done; wants a second signature");
    assert!(
        scene
            .view()
            .history
            .iter()
            .all(|line| !line.out_of_sequence)
    );
    let asked = &scene.state().seconds_wanted(scene.now)[0];
    assert_eq!((asked.by.as_str(), asked.event), (ANA, tick));
    assert_eq!(asked.not_by, [PersonId::from(ANA)]);

    scene.does(1, BEN, Event::Second { event: tick }).unwrap();
    assert_eq!(wanted(&scene), ["wash"]);
    let step = scene.step("brake");
    assert_eq!(step.words, "done");
    assert!(matches!(step.second, SecondView::Signed { by, .. } if by.as_str() == BEN));
}

#[test]
fn who_did_it_cannot_be_the_second() {
    let (mut scene, tick) = worked_alone();
    let sign = Event::Second { event: tick };
    assert_eq!(
        scene.does(1, ANA, sign.clone()),
        Err(Refusal::SamePerson(ANA.into()))
    );
    // Written all the same, by a program that was not kept from it, it counts for nothing.
    scene.writes(1, ANA, sign.clone());
    assert_eq!(wanted(&scene), ["brake", "wash"]);
    scene.does(1, BEN, sign.clone()).unwrap();
    assert_eq!(
        scene.does(1, OLGA, sign),
        Err(Refusal::NoSecondWanted),
        "it is signed"
    );
}

#[test]
fn a_correction_of_the_first_answer_takes_the_signature_along() {
    let (mut scene, tick) = worked_alone();
    scene.does(1, BEN, Event::Second { event: tick }).unwrap();
    scene.does(1, ANA, strike(tick)).unwrap();
    assert_eq!(scene.status("brake"), Status::ToDo);
    let anew = scene.does(1, ANA, done("brake")).unwrap();
    assert_eq!(wanted(&scene), ["brake", "wash"]);
    // Another signature for what was struck out is none for this.
    scene.writes(1, BEN, Event::Second { event: tick });
    assert_eq!(wanted(&scene), ["brake", "wash"]);
    scene.does(1, BEN, Event::Second { event: anew }).unwrap();
    assert_eq!(wanted(&scene), ["wash"]);
}

#[test]
fn a_signature_that_is_withdrawn_is_wanted_anew() {
    let (mut scene, tick) = worked_alone();
    let signed = scene.does(1, BEN, Event::Second { event: tick }).unwrap();
    scene.does(1, BEN, strike(signed)).unwrap();
    assert_eq!(wanted(&scene), ["brake", "wash"]);
}

#[test]
fn the_second_may_say_that_it_is_not_so() {
    let (mut scene, _) = worked_alone();
    scene.does(1, BEN, not_so("brake")).unwrap();
    assert_eq!(wanted(&scene), ["wash"], "who says so has answered");
    let view = scene.view();
    assert!(!step_in(&view, "brake").passed && view.defects.iter().any(|defect| defect.open));
    assert!(
        matches!(scene.does(1, ANA, ends()), Err(Refusal::StillOpen(_))),
        "it is put right first"
    );
}

#[test]
fn the_end_says_what_it_lacked_and_the_second_answers_after_it() {
    let (mut scene, tick) = worked_alone();
    scene.does(1, ANA, ends()).unwrap();
    let said = |scene: &Scene| {
        let view = scene.view();
        let line = view
            .history
            .iter()
            .find(|line| matches!(line.event, Event::Close { .. }));
        line.expect("it ended").words.clone()
    };
    let lacked = "closed; without the second signature of: Set the brake; Read the wash";
    assert_eq!(said(&scene), lacked);
    assert_eq!(wanted(&scene), ["brake", "wash"]);

    let mut other = scene.clone();
    scene.does(1, BEN, Event::Second { event: tick }).unwrap();
    assert_eq!(wanted(&scene), ["wash"]);
    assert_eq!(said(&scene), lacked, "what was lacking then was lacking");

    other.does(1, BEN, not_so("brake")).unwrap();
    assert!(other.view().closed.is_some());
    assert!(other.view().defects.iter().any(|defect| defect.open));
    assert_eq!(other.does(1, BEN, not_so("look")), Err(Refusal::Closed));
}

#[test]
fn a_step_that_does_not_say_later_waits_as_before() {
    let mut scene = Scene::started(&LATER.replace("\"later\"\non_fault", "true\non_fault"));
    scene.does(1, ANA, done("look")).unwrap();
    scene.does(1, ANA, done("brake")).unwrap();
    assert!(!scene.step("brake").passed && !scene.step("wash").open);
    assert!(wanted(&scene).is_empty(), "asked for at once, on the sheet");
}

#[test]
fn a_hold_waits_for_the_signature_while_other_work_goes_on() {
    let text = format!(
        "{LATER}\n[[step]]\nid = \"may\"\ndo = \"Wait for the officer\"\nkind = \"hold\"\nconsent = \"officer\"\n\
         stands_on = [\"brake\"]\n[[step]]\nid = \"off\"\ndo = \"Stopper off\"\n"
    );
    let mut scene = Scene::started(&text);
    scene.does(1, ANA, done("look")).unwrap();
    let tick = scene.does(1, ANA, done("brake")).unwrap();
    scene.does(1, ANA, reads("wash", "p", "5")).unwrap();
    scene.does(1, ANA, reads("wash", "q", "60")).unwrap();
    scene.does(1, ANA, done("tidy")).unwrap();
    let because = "first the second signature of: Set the brake";
    assert_eq!(
        scene.does(1, OLGA, consents("may")),
        Err(Refusal::Blocked(because.into()))
    );
    let mut early = scene.clone();
    early.writes(1, OLGA, consents("may"));
    assert!(
        !early.step("may").passed,
        "written all the same it opens nothing"
    );

    let signed = scene.does(1, BEN, Event::Second { event: tick }).unwrap();
    scene.does(1, OLGA, consents("may")).unwrap();
    assert!(scene.step("off").open);
    // The wash is not what the consent stands on: its signature may come whenever it comes.
    assert_eq!(wanted(&scene), ["wash"]);
    scene.does(1, BEN, strike(signed)).unwrap();
    assert_eq!(scene.status("may"), Status::Stale);
    assert!(!scene.step("off").open);
}

#[test]
fn a_procedure_that_does_not_use_it_keeps_its_identity() {
    let plain = procedure::parse(
        "test.toml",
        &LATER.replace("second = \"later\"", "second = true"),
    )
    .unwrap();
    let bytes = plain.to_cbor();
    assert!(!plain.steps().iter().any(Step::second_may_be_later));
    let later = procedure::parse("test.toml", LATER).unwrap();
    assert_ne!(plain.hash(), later.hash());
    assert!(later.steps()[1].second && later.steps()[1].second_may_be_later());
    assert_eq!(minicbor::decode::<Procedure>(&bytes).unwrap(), plain);
}

/// Two phones that work the run apart and together, with strikes, signatures and faults.
fn weave(moves: &[(u8, u8, u8)]) -> Scene {
    let mut scene = Scene::started(LATER);
    scene.sync(1, 2);
    for (what, device, at) in moves {
        let device = 1 + device % 2;
        let person = [ANA, BEN][usize::from(device) - 1];
        scene.now += 7_000;
        let seen = scene.seen_by(device);
        let target = seen[usize::from(*at) % seen.len()].id;
        let event = match what % 9 {
            0 => done("look"),
            1 => done("brake"),
            2 => reads("wash", "p", "5"),
            3 => reads("wash", "q", "60"),
            4 | 5 => Event::Second { event: target },
            6 => strike(target),
            7 => not_so("brake"),
            _ => {
                scene.sync(3 - device, device);
                continue;
            }
        };
        scene.writes(device, person, event);
    }
    scene
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_arrival_does_not_matter_and_nobody_signs_for_two(
        moves in prop::collection::vec((any::<u8>(), any::<u8>(), any::<u8>()), 1..40),
        order in prop::collection::vec(any::<prop::sample::Index>(), 0..60),
    ) {
        let scene = weave(&moves);
        let mut mixed: Vec<RecordedEvent> = order.iter().map(|index| index.get(&scene.events).clone()).collect();
        mixed.extend(scene.events.iter().rev().cloned());
        let crew = std::sync::Arc::new(scene.crew.clone());
        let one = fold(&scene.procedure, &scene.settings, &crew, &scene.events);
        let other = fold(&scene.procedure, &scene.settings, &crew, &mixed);
        prop_assert_eq!(one.view(scene.now), other.view(scene.now));
        prop_assert_eq!(one.seconds_wanted(scene.now), other.seconds_wanted(scene.now));
        for step in one.view(scene.now).steps {
            let doers: Vec<_> = scene.events.iter().filter(|stamped| step.event == Some(stamped.id) && matches!(stamped.event, Event::Done { .. })).collect();
            if let SecondView::Signed { by, .. } = &step.second {
                prop_assert!(doers.iter().all(|doer| doer.person != *by), "{}", step.id);
                prop_assert!(!step.second_later);
            }
            // What two must see is signed by another, or wanted, or open.
            if step.passed && matches!(step.id.as_str(), "brake" | "wash") {
                let is_signed = matches!(step.second, SecondView::Signed { .. });
                prop_assert!(is_signed || step.second_later, "{}: {:?}", step.id, step.second);
            }
        }
    }
}
