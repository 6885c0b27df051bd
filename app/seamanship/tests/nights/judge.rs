//! Replays a night and compares what the watch says with what it has to say.

#![expect(
    dead_code,
    reason = "the tests use one part of it, the benchmark another"
)]

use super::simulator::Night;
use seamanship::watch::{Call, Level, Replay, Setup};

/// What came of a night.
#[derive(Debug)]
pub struct Outcome {
    pub calls: Vec<Call>,
    /// Calls that nothing asked for.
    pub false_calls: Vec<Call>,
    /// For each expected alarm: after how many seconds it came, if it did.
    pub delays: Vec<Option<f64>>,
    /// How many lines were played.
    pub lines: u32,
}

pub fn all() -> Vec<Night> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/nights/nights.json");
    let text = std::fs::read_to_string(path).expect("the nights are there");
    serde_json::from_str(&text).expect("the nights can be read")
}

pub fn replay(setup: &Setup, lines: &str) -> (Vec<Call>, seamanship::watch::End) {
    let mut night = Replay::new(setup.clone());
    let mut calls: Vec<Call> = Vec::new();
    for line in lines.lines() {
        calls.extend(night.line(line.as_bytes()));
    }
    let (last, end) = night.end();
    calls.extend(last);
    (calls, end)
}

pub fn name<T: serde::Serialize>(value: &T) -> String {
    let value = serde_json::to_value(value).expect("it has a name");
    value.as_str().unwrap_or_default().to_owned()
}

pub fn play(night: &Night) -> Outcome {
    let (setup, unknown) = Setup::read(&night.setup.to_string()).expect("a setup");
    assert!(unknown.is_empty(), "{unknown:?}");
    let text = night.lines();
    let (calls, end) = replay(&setup, &text);
    assert_eq!(end.refused, 0, "{} ({})", night.name, night.kind);
    let event_ms = night.event_ms();
    let delays = night.expect.iter().map(|expected| {
        let level: Level = serde_json::from_value(expected.level.clone().into()).expect("a level");
        let first = calls.iter().find(|call| {
            name(&call.alarm) == expected.alarm && call.level >= level && call.ms >= event_ms
        });
        first.map(|call| (call.ms - event_ms) as f64 / 1000.0)
    });
    let delays = delays.collect();
    let is_asked_for = |call: &&Call| {
        let kind = name(&call.alarm);
        let is_expected =
            call.ms >= event_ms && night.expect.iter().any(|expected| expected.alarm == kind);
        call.level == Level::Clear
            || is_expected
            || (call.ms >= event_ms && night.may.contains(&kind))
    };
    let false_calls = calls
        .iter()
        .filter(|call| !is_asked_for(call))
        .cloned()
        .collect();
    Outcome {
        calls,
        false_calls,
        delays,
        lines: u32::try_from(text.lines().count()).expect("a night has some"),
    }
}
