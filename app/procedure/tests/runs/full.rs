//! Runs with more entries than can be worked with.

use procedure::{
    Decimal, Event, LogEntry, MOST_COUNTED, MOST_ENTRIES, Refusal, RunState, check, fold,
};

use super::scene::*;

const LOGGED: &str = r#"
slug = "x"
title = "X"
edition = "1"
purpose = "For tests."

[[step]]
id = "watch"
do = "Keep the watch"
kind = "log"
[[step.point]]
key = "wind"
label = "wind"
unit = "kn"
"#;

fn entry(number: usize) -> Event {
    let wind = i32::try_from(number % 40).unwrap_or(0);
    Event::Log {
        step: "watch".into(),
        entry: LogEntry {
            readings: vec![("wind".to_owned(), Decimal::whole(wind))],
            ..LogEntry::default()
        },
    }
}

/// A run with so many entries of a log, and what comes last.
fn with(entries: usize, last: Option<Event>, is_turned: bool) -> RunState {
    let mut scene = Scene::started(LOGGED);
    scene.does(1, ANA, entry(0)).unwrap();
    let mut events = scene.seen_by(1);
    let one = events.last().cloned().unwrap();
    for number in 1..entries {
        let mut other = one.clone();
        other.event = entry(number);
        other.id = [7; 32];
        other.id[..8].copy_from_slice(&(number as u64).to_be_bytes());
        other.hlc = (one.hlc.0 + number as u64, 0);
        other.judged_at = other.hlc;
        other.parents = Vec::new();
        events.push(other);
    }
    if let Some(event) = last {
        let mut stamped = one.clone();
        stamped.event = event;
        stamped.id = [9; 32];
        stamped.hlc = (one.hlc.0 + entries as u64 + 1, 0);
        stamped.judged_at = stamped.hlc;
        events.push(stamped);
    }
    if is_turned {
        events.reverse();
        let middle = events.len() / 3;
        events.rotate_left(middle);
    }
    let state = scene.state();
    let settings = procedure::Settings::defaults();
    fold(
        state.procedure(),
        &settings,
        &std::sync::Arc::new(crew()),
        &events,
    )
}

fn stop() -> Event {
    Event::Stop {
        cause: "man in the way".to_owned(),
    }
}

#[test]
fn a_run_with_too_many_entries_counts_the_first_in_whatever_order_they_come_and_says_so() {
    let beyond = 40;
    // The start is one more.
    let state = with(MOST_COUNTED + beyond - 1, None, false);
    assert_eq!(state.beyond(), beyond);
    assert_eq!(state.events().len(), MOST_COUNTED);
    assert_eq!(with(MOST_COUNTED + beyond - 1, None, true), state);
    let view = state.view(i64::MAX / 4);
    assert!(
        view.cautions[0].contains("40 entries more than can be worked with"),
        "{:?}",
        view.cautions
    );
}

#[test]
fn a_stop_counts_however_many_entries_were_there_before_it() {
    let state = with(MOST_COUNTED + 10, Some(stop()), false);
    let view = state.view(i64::MAX / 4);
    assert!(view.stopped.is_some(), "the work is stopped");
    assert!(state.is_pressing());
}

#[test]
fn a_full_run_takes_what_ends_it_and_no_more_of_the_usual_work() {
    let state = with(MOST_ENTRIES - 1, None, false);
    let at_ms = state.events().last().unwrap().at_ms;
    let asks = |event: &Event| check(&state, at_ms, &ANA.into(), roles(ANA), event);
    assert_eq!(asks(&entry(5)), Err(Refusal::Full(MOST_ENTRIES)));
    assert_eq!(asks(&stop()), Ok(()));
    let view = state.view(at_ms);
    assert!(
        view.cautions[0].contains("begin another"),
        "{:?}",
        view.cautions
    );
    let almost = with(MOST_ENTRIES - 2, None, false);
    let asked = check(&almost, at_ms, &ANA.into(), roles(ANA), &entry(5));
    assert_eq!(asked, Ok(()));
}
