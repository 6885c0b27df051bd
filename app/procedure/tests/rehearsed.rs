//! Procedures played with invented people and an invented clock, as `clearhawse rehearse` does.

use procedure::rehearsal::{Act, Answered, Rehearsal, Trial, plain_acts};
use procedure::{Event, Kind, Procedure, Settings, library};
use std::sync::Arc;

fn played(procedure: &Arc<Procedure>, acts: &[Act]) -> Vec<procedure::rehearsal::Played> {
    let mut run = Rehearsal::begin(Arc::clone(procedure), Settings::defaults());
    acts.iter().map(|act| run.play(act)).collect()
}

#[test]
fn every_procedure_of_the_library_is_rehearsed_to_its_end_and_plays_the_same_from_its_lines() {
    for procedure in library::all().into_iter().map(Arc::new) {
        let acts = plain_acts(&procedure, &Settings::defaults());
        let acts = acts.unwrap_or_else(|open| panic!("{}: {open:#?}", procedure.slug()));
        let line = |act: &Act| {
            let line = serde_json::to_string(act).expect("writing to memory");
            serde_json::from_str::<Act>(&line).expect("what was written")
        };
        let again: Vec<Act> = acts.iter().map(line).collect();
        assert_eq!(again, acts, "{}", procedure.slug());
        let played = played(&procedure, &again);
        let refused = played.iter().find(|played| played.refused.is_some());
        assert_eq!(refused, None, "{}", procedure.slug());
        assert!(played.last().expect("an act").closed);
    }
}

/// A line as a mate writes it.
fn act(line: &str) -> Act {
    serde_json::from_str(line).expect("an act")
}

#[test]
fn what_is_refused_says_why_and_is_not_written() {
    let all: Vec<Arc<Procedure>> = library::all().into_iter().map(Arc::new).collect();
    let weighing = all.iter().find(|one| one.slug() == "weighing");
    let weighing = weighing.expect("it is in the library");
    let lines = [
        r#"{"at_s":60,"who":"hand","what":{"done":{"step":"gear-in","outcome":"confirmed"}}}"#,
        r#"{"at_s":70,"who":"hand","what":{"done":{"step":"party","outcome":"confirmed"}}}"#,
        r#"{"at_s":80,"who":"cook","what":{"done":{"step":"anchor","outcome":{"chosen":{"option":"port"}}}}}"#,
        r#"{"at_s":90,"who":"hand","what":{"done":{"step":"anchor","outcome":{"chosen":{"option":"port"}}}}}"#,
        r#"{"at_s":95,"who":"hand","what":{"strike-out":{"event":"0000000000000000000000000000000000000000000000000000000000000004","reason":"it is starboard"}}}"#,
    ];
    let acts = lines.map(act);
    let played = played(weighing, &acts);
    let refused: Vec<Option<&str>> = played.iter().map(|one| one.refused.as_deref()).collect();
    assert!(refused[0].expect("refused").starts_with("not yet: first: "));
    assert_eq!(refused[1], None);
    assert_eq!(refused[2], Some("there is nobody called cook"));
    assert_eq!((refused[3], refused[4]), (None, None));
    assert_eq!(played[3].open, ["bridge-ready".into()]);
    assert_eq!(played[4].open, ["anchor".into()], "it is asked again");
}

#[test]
fn a_trial_plays_every_procedure_well_to_its_end_and_its_lines_play_the_same_again() {
    for procedure in library::all().into_iter().map(Arc::new) {
        let mut trial = Trial::begin(Arc::clone(&procedure), Settings::defaults());
        assert_eq!(trial.to_the_end(), Ok(()), "{}", procedure.slug());
        let lines = trial.lines();
        let refused = lines.iter().find(|line| line.refused.is_some());
        assert_eq!(refused, None, "{}", procedure.slug());
        assert!(lines.iter().all(|line| !line.words.is_empty()));
        let again = played(&procedure, trial.acts());
        assert!(again.last().expect("an act").closed, "{}", procedure.slug());
        assert!(!trial.press(None, Answered::Well), "it is closed");
    }
}

/// Each step is answered badly once, as soon as it is open: something must come of it.
#[test]
fn whatever_is_answered_badly_shows() {
    for procedure in library::all().into_iter().map(Arc::new) {
        let mut trial = Trial::begin(Arc::clone(&procedure), Settings::defaults());
        let mut tried = 0;
        for _ in 0..200 {
            let view = trial.view();
            if view.closed.is_some() {
                break;
            }
            let Some(step) = view.next.first().cloned() else {
                if !trial.press(None, Answered::Well) && !trial.wait_for_clock() {
                    break;
                }
                continue;
            };
            let mut other = trial.clone();
            let is_done = other.press(None, Answered::Badly);
            let act = other.acts().last().map(|act| &act.what);
            // A second signature is asked for before anything else.
            if is_done && !matches!(act, Some(Event::Second { .. })) {
                let after = other.view();
                let seen = after
                    .steps
                    .iter()
                    .find(|one| one.id == step)
                    .expect("a step");
                let shows = !seen.passed
                    || !seen.defects.is_empty()
                    || after.stopped.is_some()
                    || !after.alarms.is_empty()
                    || matches!(seen.kind, Kind::Log(_) | Kind::People(_));
                let last = other.lines().last().expect("a line");
                assert!(shows, "{}: {step} passed after {last:?}", procedure.slug());
                tried += 1;
            }
            if !trial.press(None, Answered::Well) && !trial.wait_for_clock() {
                break;
            }
        }
        assert!(tried > 0, "{}", procedure.slug());
    }
}

#[test]
fn whoever_may_not_do_a_step_is_refused_with_the_reason_and_time_goes_on() {
    let all: Vec<Arc<Procedure>> = library::all().into_iter().map(Arc::new).collect();
    let weighing = all
        .iter()
        .find(|one| one.slug() == "weighing")
        .expect("it is there");
    let mut trial = Trial::begin(Arc::clone(weighing), Settings::defaults());
    let mut refused = None;
    for _ in 0..60 {
        let before = trial.at_s();
        let is_done = trial.press(Some("hand"), Answered::Well);
        let last = trial.lines().last().expect("a line");
        if let Some(why) = &last.refused {
            refused = Some(why.clone());
            assert!(!is_done && trial.at_s() > before);
            break;
        }
    }
    let refused = refused.expect("not every step is a hand's");
    assert!(refused.contains("for the"), "{refused}");
}
