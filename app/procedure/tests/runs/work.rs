//! Order, limits, faults, holds, corrections, one device.

use procedure::*;

use super::faults::not_so;
use super::holds::up_to_the_hold;
use super::plain::PLAIN;
use super::scene::*;

fn verdict(scene: &Scene, step: &str) -> Verdict {
    scene.step(step).points[0]
        .verdict
        .clone()
        .expect("a verdict")
}

#[test]
fn a_limit_of_20_9_is_exact() {
    for (value, status) in [
        ("20.9", Status::Done),
        ("20.90", Status::Done),
        ("20.899999", Status::OutOfLimits),
    ] {
        let mut scene = Scene::started(PLAIN);
        scene.does(1, ANA, done("look")).unwrap();
        scene.does(1, ANA, reads("oxygen", "o2", value)).unwrap();
        assert_eq!(scene.status("oxygen"), status, "{value}");
    }
}

#[test]
fn a_strict_limit_refuses_its_own_number_and_says_so() {
    let mut scene = Scene::started(PLAIN);
    scene.does(1, ANA, done("look")).unwrap();
    scene.does(1, ANA, reads("gas", "co2", "0.50")).unwrap();
    assert_eq!(
        verdict(&scene, "gas"),
        Verdict {
            within: false,
            words: "0.50 is not below 0.5 %".into()
        }
    );
    scene.does(1, ANA, reads("gas", "co2", "0.49")).unwrap();
    assert_eq!(scene.status("gas"), Status::Done);
}

#[test]
fn a_limit_that_nobody_set_lets_no_reading_pass() {
    let mut scene = Scene::started(PLAIN);
    scene.settings = Settings::empty();
    scene.does(1, ANA, done("look")).unwrap();
    scene.does(1, ANA, reads("oxygen", "o2", "20.9")).unwrap();
    assert_eq!(scene.status("oxygen"), Status::OutOfLimits);
    assert!(
        verdict(&scene, "oxygen")
            .words
            .contains("no limit is set (setting air_o2_min)")
    );
}

#[test]
fn a_step_waits_for_what_comes_before_it() {
    let mut scene = Scene::started(PLAIN);
    assert!(matches!(scene.status("oxygen"), Status::Waiting(_)));
    let refused = scene.does(1, ANA, reads("oxygen", "o2", "20.9"));
    assert_eq!(refused, Err(Refusal::Blocked("first: Look".into())));
    assert_eq!(scene.view().next.first(), Some(&"look".into()));
}

#[test]
fn a_step_ticked_too_early_is_kept_marked_and_asked_about() {
    let mut scene = Scene::started(PLAIN);
    let early = scene.writes(1, ANA, reads("oxygen", "o2", "20.9"));
    let step = scene.step("oxygen");
    assert_eq!((step.status, step.out_of_sequence), (Status::Done, true));
    let questions = scene.view().questions;
    assert_eq!(questions.len(), 1);
    let answer = |stands| Event::AnswerQuestion {
        question: questions[0].id.clone(),
        stands,
        reason: "seen".into(),
    };
    assert_eq!(
        scene.does(1, ANA, answer(Some(early))),
        Err(Refusal::NotTheirs("officer"))
    );

    let mut again = scene.clone();
    again.does(1, OLGA, answer(None)).unwrap();
    assert!(matches!(again.status("oxygen"), Status::Waiting(_)));

    scene.does(1, OLGA, answer(Some(early))).unwrap();
    assert_eq!(scene.status("oxygen"), Status::Done);
    let questions = scene.view().questions;
    assert_eq!(questions.len(), 1);
    assert_eq!(
        questions[0]
            .answer
            .as_ref()
            .map(|answer| answer.by.as_str()),
        Some(OLGA)
    );
}

#[test]
fn doing_it_again_in_its_turn_settles_a_step_ticked_too_early() {
    let mut scene = Scene::started(PLAIN);
    scene.writes(1, ANA, reads("oxygen", "o2", "20.9"));
    scene.does(1, ANA, done("look")).unwrap();
    scene.does(1, ANA, reads("oxygen", "o2", "20.9")).unwrap();
    assert!(!scene.step("oxygen").out_of_sequence);
    assert!(scene.view().questions.is_empty());
    assert_eq!(
        scene
            .view()
            .history
            .iter()
            .filter(|line| line.out_of_sequence)
            .count(),
        1
    );
}

#[test]
fn the_officer_lets_the_work_go_on_past_a_limit_but_never_past_a_stop() {
    let mut scene = Scene::started(PLAIN);
    scene.does(1, ANA, done("look")).unwrap();
    scene.does(1, ANA, reads("oxygen", "o2", "20.8")).unwrap();
    scene.does(1, ANA, reads("gas", "co2", "0.6")).unwrap();
    assert_eq!(
        scene.does(1, ANA, goes_on("oxygen")),
        Err(Refusal::NotTheirs("officer"))
    );
    scene.does(1, OLGA, goes_on("oxygen")).unwrap();
    let step = scene.step("oxygen");
    assert_eq!((step.status, step.passed), (Status::OutOfLimits, true));
    assert_eq!(step.gone_on.as_deref(), Some("seen and accepted"));
    assert_eq!(
        scene.does(1, MAX, goes_on("gas")),
        Err(Refusal::MustBeRight)
    );
    scene.writes(1, MAX, goes_on("gas"));
    assert!(!scene.step("gas").passed);
    let skip = Event::NotDone {
        step: "gas".into(),
        reason: "no meter".into(),
    };
    assert_eq!(scene.does(1, MAX, skip.clone()), Err(Refusal::NeverSkipped));
    scene.writes(1, MAX, skip);
    assert!(!scene.step("gas").passed);
}

#[test]
fn a_later_bad_reading_takes_leave_away_again() {
    let mut scene = Scene::started(PLAIN);
    scene.does(1, ANA, done("look")).unwrap();
    scene.does(1, ANA, reads("oxygen", "o2", "20.8")).unwrap();
    scene.does(1, OLGA, goes_on("oxygen")).unwrap();
    scene.does(1, ANA, reads("oxygen", "o2", "19.0")).unwrap();
    assert!(!scene.step("oxygen").passed);
}

#[test]
fn two_must_sign_and_one_person_is_not_two() {
    let mut scene = Scene::started(PLAIN);
    let tick = scene.does(1, ANA, done("brake")).unwrap();
    let sign = Event::Second { event: tick };
    assert_eq!(
        scene.does(1, ANA, sign.clone()),
        Err(Refusal::SamePerson(ANA.into()))
    );
    scene.writes(1, ANA, sign.clone());
    assert!(!scene.step("brake").passed);
    scene.does(1, BEN, sign).unwrap();
    assert_eq!(scene.status("brake"), Status::Done);
    assert!(
        matches!(scene.step("brake").second, SecondView::Signed { by, .. } if by.as_str() == BEN)
    );
}

#[test]
fn a_second_signature_does_not_pass_to_a_new_tick() {
    let mut scene = Scene::started(PLAIN);
    let tick = scene.does(1, ANA, done("brake")).unwrap();
    scene.does(1, BEN, Event::Second { event: tick }).unwrap();
    scene
        .does(
            1,
            ANA,
            Event::StrikeOut {
                event: tick,
                reason: "wrong side".into(),
            },
        )
        .unwrap();
    assert_eq!(scene.status("brake"), Status::ToDo);
    scene.does(1, ANA, done("brake")).unwrap();
    assert!(!scene.step("brake").passed);
}

#[test]
fn nothing_is_erased_and_only_author_or_officer_strikes_out() {
    let mut scene = Scene::started(PLAIN);
    let tick = scene.does(1, ANA, done("look")).unwrap();
    let strike = |why: &str| Event::StrikeOut {
        event: tick,
        reason: why.into(),
    };
    assert_eq!(
        scene.does(1, BEN, strike("not so")),
        Err(Refusal::NotTheirEntry(ANA.into()))
    );
    assert_eq!(scene.does(1, ANA, strike(" ")), Err(Refusal::NoReason));
    scene.does(1, ANA, strike("wrong ship")).unwrap();
    assert_eq!(
        scene.does(1, OLGA, strike("again")),
        Err(Refusal::AlreadyStruck)
    );
    let view = scene.view();
    let line = view
        .history
        .iter()
        .find(|line| line.id == tick)
        .expect("still there");
    assert_eq!(line.struck, Some((ANA.into(), "wrong ship".into())));
    assert_eq!(scene.status("look"), Status::ToDo);
    let start = scene.events[0].id;
    let strike = Event::StrikeOut {
        event: start,
        reason: "no".into(),
    };
    assert_eq!(scene.does(1, MAX, strike), Err(Refusal::CannotStrike));
}

#[test]
fn what_nobody_can_go_past_nobody_can_leave_out() {
    let text = PLAIN.replace(
        "on_fault = \"stop\"\nskip = \"never\"",
        "on_fault = \"stop\"\nskip = \"officer\"",
    );
    let mut scene = Scene::started(&text);
    scene.does(1, ANA, done("look")).unwrap();
    scene
        .does(1, ANA, not_so("gas", Severity::OutOfService))
        .unwrap();
    let skip = Event::NotDone {
        step: "gas".into(),
        reason: "no meter".into(),
    };
    assert_eq!(scene.does(1, MAX, skip.clone()), Err(Refusal::MustBeRight));
    scene.writes(1, MAX, skip);
    assert!(!scene.step("gas").passed);
}

#[test]
fn what_was_done_cannot_be_called_undone_without_striking_it_out() {
    let mut scene = Scene::started(PLAIN);
    let tick = scene.does(1, ANA, done("look")).unwrap();
    let skip = Event::NotDone {
        step: "look".into(),
        reason: "dark".into(),
    };
    assert_eq!(
        scene.does(1, OLGA, skip.clone()),
        Err(Refusal::AlreadyDone(ANA.into()))
    );
    scene
        .does(
            1,
            OLGA,
            Event::StrikeOut {
                event: tick,
                reason: "was not".into(),
            },
        )
        .unwrap();
    scene.does(1, OLGA, skip).unwrap();
    assert!(scene.step("look").passed);
}

#[test]
fn a_run_tells_other_runs_when_it_began_and_whether_it_was_completed() {
    let mut scene = up_to_the_hold();
    assert_eq!(Scene::of(PLAIN).state().as_past(), None);
    let open = scene.state().as_past().unwrap();
    assert_eq!(
        (open.slug.as_str(), open.closed_at_ms, open.completed),
        ("plain", None, false)
    );
    scene.now += HOUR;
    scene
        .does(
            1,
            OLGA,
            Event::Close {
                end: End::BrokenOff,
                remark: "called off".into(),
            },
        )
        .unwrap();
    let closed = scene.state().as_past().unwrap();
    assert_eq!(
        (closed.started_at_ms, closed.closed_at_ms, closed.completed),
        (open.started_at_ms, Some(scene.now), false)
    );
}

#[test]
fn a_branch_belongs_to_the_run_only_when_it_is_chosen() {
    let mut scene = Scene::started(PLAIN);
    scene.does(1, ANA, done("look")).unwrap();
    assert!(!scene.step("left-work").applies);
    scene.does(1, ANA, chooses("way", "right")).unwrap();
    assert!(!scene.step("left-work").applies);
    assert!(scene.does(1, ANA, done("left-work")).is_err());
    scene.does(1, ANA, chooses("way", "left")).unwrap();
    assert!(scene.step("left-work").applies);
}

#[test]
fn what_went_in_must_come_out() {
    let mut scene = Scene::started(PLAIN);
    scene.does(1, ANA, counts("pins-in", 4)).unwrap();
    scene.does(1, ANA, counts("pins-out", 3)).unwrap();
    assert_eq!(scene.status("pins-out"), Status::OutOfLimits);
    assert_eq!(
        scene.step("pins-out").words,
        "3 pins do not match the 4 counted before"
    );
    scene.does(1, ANA, counts("pins-out", 4)).unwrap();
    assert_eq!(scene.status("pins-out"), Status::Done);
}

#[test]
fn a_step_left_undone_needs_a_reason_and_the_officer() {
    let mut scene = Scene::started(PLAIN);
    let skip = |why: &str| Event::NotDone {
        step: "look".into(),
        reason: why.into(),
    };
    assert_eq!(scene.does(1, ANA, skip("")), Err(Refusal::NoReason));
    scene.does(1, ANA, skip("dark")).unwrap();
    assert!(!scene.step("look").passed);
    scene.does(1, OLGA, goes_on("look")).unwrap();
    assert_eq!(
        (scene.status("look"), scene.step("look").passed),
        (Status::NotDone("dark".into()), true)
    );
}

#[test]
fn a_run_closes_only_when_nothing_is_open_and_then_takes_no_more_work() {
    let mut scene = up_to_the_hold();
    let close = Event::Close {
        end: End::Completed,
        remark: String::new(),
    };
    assert!(
        matches!(scene.does(1, OLGA, close.clone()), Err(Refusal::StillOpen(open)) if !open.is_empty())
    );
    scene.writes(1, OLGA, close.clone());
    assert_eq!(scene.view().closed, None);
    let off = Event::Close {
        end: End::BrokenOff,
        remark: "called off".into(),
    };
    assert_eq!(
        scene.does(1, ANA, off.clone()),
        Err(Refusal::NotTheirs("officer"))
    );
    scene.does(1, OLGA, off).unwrap();
    assert_eq!(
        scene.view().closed.map(|closed| closed.end),
        Some(End::BrokenOff)
    );
    assert_eq!(scene.does(1, ANA, done("brake")), Err(Refusal::Closed));
    scene.writes(1, ANA, done("brake"));
    assert!(
        scene
            .view()
            .alarms
            .iter()
            .any(|alarm| alarm.kind == AlarmKind::AfterClose)
    );
}

#[test]
fn a_changed_procedure_never_changes_a_run_under_way() {
    let mut scene = Scene::started(PLAIN);
    let changed = parse(
        "test.toml",
        &PLAIN.replace("do = \"Look\"", "do = \"Look twice\""),
    )
    .unwrap();
    assert_ne!(changed.hash(), scene.procedure.hash());
    scene.procedure = changed;
    assert!(scene.view().wrong_procedure);
    assert_eq!(
        scene.does(1, ANA, done("look")),
        Err(Refusal::WrongProcedure)
    );
}

#[test]
fn events_that_do_not_fit_are_kept_and_count_for_nothing() {
    let mut scene = Scene::started(PLAIN);
    for odd in [
        done("nothing"),
        done("oxygen"),
        reads("look", "o2", "1"),
        consents("look"),
        goes_in("look", ANA),
    ] {
        assert!(scene.does(1, ANA, odd.clone()).is_err(), "{odd:?}");
        scene.writes(1, ANA, odd);
    }
    let view = scene.view();
    assert_eq!(
        view.history
            .iter()
            .filter(|line| line.without_right)
            .count(),
        5
    );
    assert_eq!(scene.status("look"), Status::ToDo);
}

#[test]
fn the_view_goes_through_json_unchanged() {
    let mut scene = up_to_the_hold();
    scene.does(1, ANA, heard("may", OLGA)).unwrap();
    scene
        .does(1, ANA, not_so("brake", Severity::Watch))
        .unwrap();
    let view = scene.view();
    let text = serde_json::to_string(&view).unwrap();
    assert_eq!(serde_json::from_str::<RunView>(&text).unwrap(), view);
}

#[test]
fn a_need_across_runs_holds_a_step_until_it_is_met_or_the_officer_lets_it_go() {
    let text = PLAIN.replacen("do = \"Look\"", "do = \"Look\"\nneeds = [{ procedure = \"hose-test\", closed_within = \"30 d\" }, { procedure = \"locker-entry\", state = \"none-open\" }]", 1);
    let mut scene = Scene::started(&text);
    assert!(
        matches!(scene.status("look"), Status::Waiting(because) if because.contains("Hose and hydrant test"))
    );
    let day = 24 * HOUR;
    let test = |age: i64, completed| PastRun {
        slug: "hose-test".into(),
        started_at_ms: 0,
        closed_at_ms: Some(scene.now - age),
        completed,
        named: Vec::new(),
        items: Vec::new(),
    };
    let cases = [
        (test(30 * day, true), false),
        (test(30 * day - 1, true), true),
        (test(day, false), false),
    ];
    let entry = PastRun {
        slug: "locker-entry".into(),
        started_at_ms: 0,
        closed_at_ms: None,
        completed: false,
        named: Vec::new(),
        items: Vec::new(),
    };
    for (run, met) in cases.clone() {
        scene.past = vec![run.clone()];
        assert_eq!(scene.status("look") == Status::ToDo, met, "{run:?}");
        scene.past.push(entry.clone());
        assert!(
            matches!(scene.status("look"), Status::Waiting(_)),
            "a locker entry is open"
        );
    }
    scene.does(1, OLGA, goes_on("look")).unwrap();
    assert_eq!(scene.status("look"), Status::ToDo);
}
