//! Nights at anchor, replayed: quiet ones say nothing, drags and lost instruments are found in time.

#[path = "nights/judge.rs"]
mod judge;
#[path = "nights/simulator.rs"]
mod simulator;

use proptest::prelude::*;
use seamanship::watch::{Call, Kind, Level, Replay, Setup};
use simulator::{BEGIN_MS, summed};

#[test]
fn quiet_nights_are_quiet_and_drags_are_found_in_time() {
    let mut wrong = Vec::new();
    for night in judge::all() {
        let outcome = judge::play(&night);
        if !outcome.false_calls.is_empty() {
            wrong.push(format!(
                "{}: nobody asked for {:#?}",
                night.name, outcome.false_calls
            ));
        }
        for (expected, delay) in night.expect.iter().zip(&outcome.delays) {
            if delay.is_none_or(|delay| delay > expected.within_s) {
                wrong.push(format!(
                    "{}: {} {} came after {delay:?} s, within {} s was asked\n{:#?}",
                    night.name, expected.alarm, expected.level, expected.within_s, outcome.calls
                ));
            }
        }
        let times: Vec<i64> = outcome.calls.iter().map(|call| call.ms).collect();
        assert!(times.is_sorted(), "{}: {times:?}", night.name);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn night(name: &str) -> simulator::Night {
    let mut all = judge::all().into_iter();
    all.find(|night| night.name == name).expect("it is there")
}

fn setup(night: &simulator::Night) -> Setup {
    Setup::read(&night.setup.to_string()).expect("a setup").0
}

#[test]
fn the_same_night_is_the_same_again() {
    let night = night("a drag at 0.5 kn in a gale");
    assert_eq!(night.lines(), night.lines());
}

/// Stores the replay after each of some lines and takes it up again.
fn with_restarts(setup: Setup, lines: &[&str], every: usize) -> Vec<Call> {
    let mut replay = Replay::new(setup);
    let mut calls = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        calls.extend(replay.line(line.as_bytes()));
        if at % every == every - 1 {
            let stored = serde_json::to_string(&replay).expect("it can be stored");
            replay = serde_json::from_str(&stored).expect("it can be taken up");
        }
    }
    calls.extend(replay.end().0);
    calls
}

#[test]
fn a_watch_that_is_taken_up_again_says_what_it_would_have_said() {
    for name in [
        "a drag at 0.2 kn",
        "a drag at 0.2 kn, anchor unknown",
        "the position freezes",
        "a neighbour comes",
        "it shoals",
    ] {
        let night = night(name);
        let text = night.lines();
        let lines: Vec<&str> = text.lines().collect();
        let (through, _) = judge::replay(&setup(&night), &text);
        assert!(!through.is_empty(), "{name} says nothing");
        assert_eq!(with_restarts(setup(&night), &lines, 997), through, "{name}");
    }
}

/// How many bytes the watch is, stored.
fn size(replay: &Replay) -> usize {
    serde_json::to_string(replay)
        .expect("it can be stored")
        .len()
}

#[test]
fn memory_stays_flat_at_ten_sentences_a_second_from_three_sources() {
    let night = night("a quiet night with yaw and gusts");
    let mut replay = Replay::new(setup(&night));
    let mut largest = [0; 3];
    // Some hours in full, then days in which only the times go on: the bounds are on counts and not on hours.
    for tenth in 0..3 * 36_000_i64 {
        let ms = BEGIN_MS + tenth * 100;
        let minutes = 1.2 + f64::from(u16::try_from(tenth % 977).expect("small")) * 1e-4;
        for talker in ["GP", "GL", "GA"] {
            let line = format!(
                "${talker}GGA,000000,4330.0000,N,00701.{:06.0},E,1,09,0.9,,M,,M,,",
                minutes * 1e5
            );
            replay.line(format!("{ms} {}", summed(&line)).as_bytes());
        }
        let line = format!("!AIVDM,1,1,,A,1{:08}0000000000000000000,0", tenth % 5_000);
        replay.line(format!("{ms} {}", summed(&line)).as_bytes());
        if tenth % 10 == 0 {
            replay.line(format!("{ms} {}", summed("$HEHDT,300.0,T")).as_bytes());
            replay.line(format!("{ms} {}", summed("$WIMWV,5.0,R,12.0,N,A")).as_bytes());
        }
        if tenth % 997 == 0 {
            let hour = usize::try_from(tenth / 36_000).expect("small");
            largest[hour] = largest[hour].max(size(&replay));
        }
    }
    assert!(largest[2] <= largest[1] + largest[1] / 20, "{largest:?}");
    assert!(largest[2] < 200_000, "{largest:?}");
}

#[test]
fn silence_is_said_at_the_moment_at_which_it_became_too_long() {
    let night = night("a quiet night with yaw and gusts");
    let text = night.lines();
    let lines: Vec<&str> = text.lines().take(2_000).collect();
    let last_fix = lines.iter().rev().find(|line| line.contains("GGA"));
    let last_fix = last_fix
        .and_then(|line| line.split(' ').next())
        .expect("a fix");
    let last_ms: i64 = last_fix.parse().expect("a time");
    let mut replay = Replay::new(setup(&night));
    let said: Vec<Call> = lines
        .iter()
        .flat_map(|line| replay.line(line.as_bytes()))
        .collect();
    assert_eq!(said, []);
    // Three hours later somebody speaks of something else, and again, which bears the time out.
    let later = last_ms + 3 * 3_600_000;
    let mut calls = replay.line(format!("{later} {}", summed("$GPGSV,1,1,00")).as_bytes());
    calls.extend(replay.line(format!("{} {}", later + 1, summed("$GPGSV,1,1,00")).as_bytes()));
    let blind: Vec<(i64, Level)> = calls
        .iter()
        .filter(|call| call.alarm == Kind::Blind)
        .map(|call| (call.ms - last_ms, call.level))
        .collect();
    assert_eq!(blind[0], (30_000, Level::Warning), "{calls:#?}");
    assert!(blind.contains(&(330_000, Level::Alarm)), "{calls:#?}");
    assert!(calls.iter().all(|call| call.level != Level::Clear));
}

#[test]
fn a_place_every_thirty_seconds_is_not_silence() {
    let mut replay = Replay::new(Setup::default());
    for at in 0..200_i64 {
        let minutes = 1.0 + f64::from(u8::try_from(at % 7).expect("small")) * 1e-3;
        for sentence in [
            "$HEHDT,300.0,T".to_owned(),
            format!(
                "$GPGGA,000000,4330.0000,N,00701.{:06.0},E,1,09,0.9,,M,,M,,",
                minutes * 1e5
            ),
        ] {
            let line = format!("{} {}", BEGIN_MS + at * 30_000, summed(&sentence));
            assert_eq!(replay.line(line.as_bytes()), []);
        }
    }
}

#[test]
fn times_that_slip_do_not_stop_the_watch() {
    let gsv = summed("$GPGSV,1,1,00");
    let at = |ms: i64| format!("{} {gsv}", BEGIN_MS + ms).into_bytes();
    // One line a day ahead, and the next not: the leap was its own.
    let mut replay = Replay::new(Setup::default());
    let mut calls = Vec::new();
    for ms in [0, 1_000, 86_400_000, 2_000, 1_500, 3_000, 31_000] {
        calls.extend(replay.line(&at(ms)));
    }
    let (_, end) = replay.end();
    assert_eq!((end.sentences, end.refused, end.backwards), (6, 1, 1));
    let times: Vec<i64> = calls.iter().map(|call| call.ms - BEGIN_MS).collect();
    assert_eq!(times, [30_000]);
    // A clock that is set back by an hour: after five lines the watch goes on, and still tells silence.
    let mut replay = Replay::new(Setup::default());
    let mut calls = Vec::new();
    for ms in (0..20)
        .map(|at| 3_600_000 + at * 1_000)
        .chain((0..60).map(|at| at * 1_000))
    {
        calls.extend(replay.line(&at(ms)));
    }
    assert_eq!(calls.len(), 1, "{calls:#?}");
    assert_eq!(
        (calls[0].alarm, calls[0].ms - BEGIN_MS),
        (Kind::Blind, 3_630_000)
    );
    assert_eq!(replay.end().1.refused, 4);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn no_lines_bring_the_watch_down_or_make_it_forget(
        texts in prop::collection::vec("[ -~]{0,60}", 0..40),
        times in prop::collection::vec(0..400_000_i64, 0..40),
    ) {
        let mut replay = Replay::new(Setup::default());
        let mut last = i64::MIN;
        let mut given = 0_u64;
        for (text, ms) in texts.iter().zip(&times) {
            let line = format!("{ms} {}", summed(&format!("${}", text.replace('*', ""))));
            for line in [line.as_str(), text.as_str()] {
                given += u64::from(!line.trim().is_empty());
                for call in replay.line(line.as_bytes()) {
                    prop_assert!(call.ms >= last);
                    last = call.ms;
                }
            }
        }
        let (calls, end) = replay.end();
        prop_assert!(calls.iter().all(|call| call.ms >= last));
        prop_assert_eq!(end.sentences + end.refused, given);
    }
}
