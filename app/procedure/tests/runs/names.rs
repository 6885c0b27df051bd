//! Who takes part, by name: how few there may be, and for whom a completed run counts.

use procedure::*;

use super::scene::*;

const DRILL: &str = r#"
slug = "drill"
title = "Drill"
edition = "1"
purpose = "For tests."

[[step]]
id = "who"
do = "Name everyone who takes part"
kind = "names"
at_least = 2
counts_for = "60 d"
skip = "never"

[[step]]
id = "look"
do = "Name who looks on"
kind = "names"
skip = "anyone"
"#;

fn named(step: &str, who: &[&str]) -> Event {
    Event::Done {
        step: step.into(),
        outcome: Outcome::Names {
            who: who.iter().map(|who| PersonId::new(*who)).collect(),
        },
    }
}

fn past(scene: &Scene) -> PastRun {
    scene.state().as_past().expect("it was started")
}

#[test]
fn too_few_names_are_out_of_limits_and_are_shown_by_name() {
    let mut scene = Scene::started(DRILL);
    scene.does(1, ANA, named("who", &[BEN])).expect("written");
    assert_eq!(scene.status("who"), Status::OutOfLimits);
    let step = scene.step("who");
    assert!(step.words.contains("at least 2"), "{}", step.words);
    scene
        .does(1, ANA, named("who", &[BEN, OLGA]))
        .expect("named anew");
    assert_eq!(scene.status("who"), Status::Done);
}

#[test]
fn nobody_named_twice_or_without_a_name_is_taken() {
    let mut scene = Scene::started(DRILL);
    let refused = [&[][..], &["ben", " Ben "], &["ben", " "]];
    for who in refused {
        let why = scene.does(1, ANA, named("who", who));
        assert!(matches!(why, Err(Refusal::DoesNotFit(_))), "{who:?}");
    }
}

#[test]
fn a_run_counts_for_those_whom_the_step_names_that_counts_and_for_no_onlooker() {
    let mut scene = Scene::started(DRILL);
    scene
        .does(1, ANA, named("who", &[BEN, OLGA]))
        .expect("named");
    scene.does(1, ANA, named("look", &[MAX])).expect("named");
    let close = Event::Close {
        end: End::Completed,
        remark: String::new(),
    };
    scene.does(1, ANA, close).expect("all is done");
    let past = past(&scene);
    assert!(past.completed);
    assert_eq!(past.named, [PersonId::new(BEN), PersonId::new(OLGA)]);
}

#[test]
fn a_name_that_was_struck_out_counts_for_nobody() {
    let mut scene = Scene::started(DRILL);
    let event = scene
        .does(1, ANA, named("who", &[BEN, MAX]))
        .expect("named");
    let strike = Event::StrikeOut {
        event,
        reason: "they were on watch".into(),
    };
    scene.does(1, ANA, strike).expect("struck out");
    assert_eq!(past(&scene).named, []);
    scene
        .does(1, ANA, named("who", &[BEN, OLGA]))
        .expect("named");
    assert_eq!(
        past(&scene).named,
        [PersonId::new(BEN), PersonId::new(OLGA)]
    );
}

#[test]
fn a_file_that_names_no_procedure_or_no_place_is_told_so() {
    let head = "slug = \"x\"\ntitle = \"X\"\nedition = \"1\"\npurpose = \"p\"\n[[step]]\nid = \"a\"\ndo = \"b\"\n";
    let kind = "kind = \"names\"\nin_date = [\"no-such\"]\n";
    let wrong = parse("x.toml", &format!("{head}{kind}")).expect_err("no such procedure");
    assert!(wrong[0].to_string().contains("no-such"), "{}", wrong[0]);
    let wrong = parse("x.toml", &format!("{head}place = 99\n")).expect_err("no such place");
    assert!(wrong[0].to_string().contains("99"), "{}", wrong[0]);
    assert!(procedure::parse_on_record("x.toml", &format!("{head}{kind}place = 99\n")).is_ok());
}
