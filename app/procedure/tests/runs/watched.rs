//! What is read again and again while the work runs, and who watches over people in a space.

use procedure::*;
use proptest::prelude::*;

use super::invariants::{Move, PEOPLE, advance, sees, struck};
use super::scene::*;

const SPACE: &str = r#"
slug = "space"
title = "Space"
edition = "1"
purpose = "For tests."

[[step]]
id = "air"
do = "Test"
kind = "reading"
good_for = "30 min"
renewed_by = ["inside"]
on_fault = "stop"
skip = "never"
[[step.point]]
key = "o2"
label = "oxygen"
unit = "%"
min = 20.9

[[step]]
id = "permit"
do = "Permit"
kind = "hold"
consent = "officer"
stands_on = ["air"]

[[step]]
id = "inside"
do = "Inside"
kind = "people"
call_every = "5 min"
attendant = true
when_stopped = true
[[step.point]]
key = "o2"
label = "oxygen"
unit = "%"
min = 20.9
"#;

/// The same list with nothing before it, so that only what is read in it keeps anyone out.
const LIST: &str = r#"
slug = "list"
title = "List"
edition = "1"
purpose = "For tests."

[[step]]
id = "inside"
do = "Inside"
kind = "people"
attendant = true
[[step.point]]
key = "o2"
label = "oxygen"
unit = "%"
min = 20.9
[[step.point]]
key = "co"
label = "carbon monoxide"
unit = "ppm"
below = 10
"#;

const WATCH: &str = r#"
slug = "watch"
title = "Watch"
edition = "1"
purpose = "For tests."

[[step]]
id = "watch"
do = "Keep the watch"
kind = "log"
newest_counts = true
on_fault = "RULE"
skip = "never"
[[step.point]]
key = "depth"
label = "water under the keel"
unit = "m"
min = 2

[[step]]
id = "handed-over"
do = "Hand over"
"#;

fn attends(who: &str) -> Event {
    Event::Attend {
        step: "inside".into(),
        who: who.into(),
    }
}

fn logs(step: &str, readings: &[(&str, &str)]) -> Event {
    let value = |value: &str| value.parse().expect("a number");
    let readings = readings.iter();
    Event::Log {
        step: step.into(),
        entry: LogEntry {
            readings: readings.map(|(k, v)| ((*k).to_owned(), value(v))).collect(),
            ..LogEntry::default()
        },
    }
}

fn air(o2: &str) -> Event {
    logs("inside", &[("o2", o2)])
}

fn everybody_out(view: &RunView) -> Option<String> {
    let mut alarms = view.alarms.iter();
    let found = alarms.find(|alarm| {
        let inside = alarm.kind == AlarmKind::Inside && alarm.level == AlarmLevel::Danger;
        inside && alarm.words.starts_with("everybody out")
    });
    found.map(|alarm| alarm.words.clone())
}

#[test]
fn a_reading_out_of_limits_sends_everybody_out_until_a_good_one_is_taken() {
    let mut scene = Scene::started(LIST);
    scene.does(1, ANA, attends(MAX)).unwrap();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    scene.does(1, ANA, air("20.9")).unwrap();
    assert_eq!(everybody_out(&scene.view()), None);

    scene.does(1, ANA, air("19.4")).unwrap();
    let said = everybody_out(&scene.view()).expect("the alarm");
    assert!(said.contains("oxygen: 19.4 is below"), "{said}");
    let refused = scene.does(1, ANA, goes_in("inside", ANA));
    assert!(matches!(refused, Err(Refusal::Blocked(_))), "{refused:?}");

    // Out it still stands, and another point's good reading is no reading of this one.
    scene.does(1, ANA, comes_out("inside", BEN)).unwrap();
    scene.does(1, ANA, logs("inside", &[("co", "3")])).unwrap();
    let view = scene.view();
    let kinds: Vec<_> = view.alarms.iter().map(|a| (a.kind, a.level)).collect();
    assert!(
        kinds.contains(&(AlarmKind::OutOfLimits, AlarmLevel::Warning)),
        "{kinds:?}"
    );
    assert!(scene.does(1, ANA, goes_in("inside", BEN)).is_err());

    scene.does(1, ANA, air("20.9")).unwrap();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    assert_eq!(everybody_out(&scene.view()), None);
}

#[test]
fn the_list_shows_the_newest_reading_at_each_point() {
    let mut scene = Scene::started(LIST);
    scene
        .does(1, ANA, logs("inside", &[("o2", "20.9"), ("co", "12")]))
        .unwrap();
    let points = scene.step("inside").points;
    let shown: Vec<_> = points
        .iter()
        .map(|p| {
            (
                p.value.map(|v| v.to_string()),
                p.verdict.as_ref().map(|v| v.within),
            )
        })
        .collect();
    assert_eq!(
        shown,
        [
            (Some("20.9".to_owned()), Some(true)),
            (Some("12".to_owned()), Some(false))
        ]
    );
    assert_eq!(scene.step("inside").log[0].wrong.len(), 1);
}

#[test]
fn of_two_readings_made_apart_the_bad_one_counts() {
    let mut scene = Scene::started(LIST);
    scene.does(1, ANA, attends(MAX)).unwrap();
    scene.sync(1, 2);
    scene.does(1, ANA, air("20.9")).unwrap();
    scene.does(2, BEN, air("20.1")).unwrap();
    scene.sync_both(1, 2);
    assert!(scene.does(1, ANA, goes_in("inside", BEN)).is_err());
    // Struck out as wrongly typed, it no longer does.
    let bad = scene.events.last().expect("an entry").id;
    let strike = Event::StrikeOut {
        event: bad,
        reason: "typed wrongly".into(),
    };
    scene.does(2, BEN, strike).unwrap();
    scene.sync_both(1, 2);
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
}

#[test]
fn a_reading_in_the_list_keeps_the_test_good_and_a_bad_one_ends_the_permit_for_good() {
    let mut scene = Scene::started(SPACE);
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    scene.does(1, OLGA, consents("permit")).unwrap();
    scene.does(1, ANA, attends(MAX)).unwrap();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    scene.now += 25 * MINUTE;
    scene.does(1, ANA, air("20.9")).unwrap();
    scene.now += 25 * MINUTE;
    assert!(scene.step("permit").passed, "the test was renewed in time");
    scene.does(1, ANA, air("20.7")).unwrap();
    assert!(!scene.step("permit").passed);
    scene.does(1, ANA, comes_out("inside", BEN)).unwrap();
    // Not even a good one brings the permit back: the test is done anew, and consent asked again.
    scene.writes(1, ANA, air("20.9"));
    assert!(!scene.step("permit").passed);
    scene.does(1, ANA, reads("air", "o2", "20.9")).unwrap();
    scene.does(1, OLGA, consents("permit")).unwrap();
    scene.does(1, ANA, goes_in("inside", BEN)).unwrap();
    assert_eq!(everybody_out(&scene.view()), None);
}

#[test]
fn nobody_goes_in_unless_someone_attends() {
    let mut scene = Scene::started(LIST);
    let refused = scene.does(1, ANA, goes_in("inside", BEN));
    assert_eq!(
        refused,
        Err(Refusal::Blocked("nobody attends at the hatch".into()))
    );
    scene.writes(1, ANA, goes_in("inside", BEN));
    assert!(everybody_out(&scene.view()).is_some_and(|said| said.contains("nobody attends")));
    scene.does(1, ANA, attends(MAX)).unwrap();
    assert_eq!(everybody_out(&scene.view()), None);
}

#[test]
fn who_attends_does_not_go_in_and_who_is_inside_does_not_attend_however_the_name_is_written() {
    let mut scene = Scene::started(LIST);
    scene.does(1, MAX, attends("Jo Vane")).unwrap();
    for written in ["Jo Vane", " jo vane", "JO  VANE ", "jO\tvAne"] {
        let refused = scene.does(1, MAX, goes_in("inside", written));
        assert_eq!(refused, Err(Refusal::Attends(written.into())));
    }
    scene.does(1, MAX, goes_in("inside", "Kit Arden")).unwrap();
    assert_eq!(
        scene.does(1, MAX, attends("kit  arden")),
        Err(Refusal::AttendsFromInside("kit  arden".into()))
    );
    assert_eq!(
        scene.does(1, MAX, goes_in("inside", "KIT ARDEN")),
        Err(Refusal::AlreadyInside("KIT ARDEN".into()))
    );
    // The watch at the hatch changes; the one before may go in now.
    scene.does(1, MAX, attends("Lee Marsh")).unwrap();
    scene.does(1, MAX, goes_in("inside", "jo vane")).unwrap();
    scene.does(1, MAX, comes_out("inside", "Jo Vane")).unwrap();
    assert_eq!(scene.view().inside.len(), 1);
    assert_eq!(
        scene.does(1, MAX, attends(" ")),
        Err(Refusal::DoesNotFit("people"))
    );
    assert_eq!(
        scene.does(1, MAX, goes_in("inside", " ")),
        Err(Refusal::NoName)
    );
}

#[test]
fn one_who_attends_and_goes_in_on_another_device_leaves_nobody_at_the_hatch() {
    let mut scene = Scene::started(LIST);
    scene.does(1, ANA, attends(ANA)).unwrap();
    scene.sync(1, 2);
    scene.does(1, ANA, attends(BEN)).unwrap();
    scene.does(2, MAX, attends(MAX)).unwrap();
    scene.does(2, MAX, goes_in("inside", BEN)).unwrap();
    scene.sync_both(1, 2);
    let attend: Vec<_> = scene.view().attendants.into_iter().map(|a| a.who).collect();
    assert_eq!(
        attend,
        [PersonId::new(MAX)],
        "two were named apart, and one of them went in"
    );
    assert!(scene.does(1, ANA, goes_in("inside", MAX)).is_err());
}

/// A watch whose newest reading is out of limits, under one of the three rules for a fault.
fn shoaling(rule: &str) -> Scene {
    let mut scene = Scene::started(&WATCH.replace("RULE", rule));
    scene
        .does(1, ANA, logs("watch", &[("depth", "5")]))
        .unwrap();
    scene
        .does(1, ANA, logs("watch", &[("depth", "1.2")]))
        .unwrap();
    let alarms = scene.view().alarms;
    let out: Vec<_> = alarms
        .iter()
        .filter(|a| a.kind == AlarmKind::OutOfLimits)
        .collect();
    assert_eq!(out.len(), 1, "{rule}: {alarms:#?}");
    assert!(out[0].words.contains("1.2 is below"), "{}", out[0].words);
    scene
}

#[test]
fn a_log_whose_newest_reading_is_out_of_limits_does_what_its_rule_says() {
    for rule in ["officer", "stop"] {
        let mut scene = shoaling(rule);
        assert_eq!(scene.status("watch"), Status::OutOfLimits, "{rule}");
        scene.does(1, ANA, done("watch")).unwrap();
        assert!(!scene.step("watch").passed, "{rule}");
        assert!(scene.does(1, ANA, done("handed-over")).is_err(), "{rule}");
        scene
            .does(1, ANA, logs("watch", &[("depth", "4")]))
            .unwrap();
        assert!(scene.step("watch").passed, "{rule}");
        scene.does(1, ANA, done("handed-over")).unwrap();
    }
    let mut scene = shoaling("note");
    scene.does(1, ANA, done("watch")).unwrap();
    assert!(scene.step("watch").passed);
}

#[test]
fn the_officer_goes_on_past_a_reading_in_a_log_only_where_the_rule_lets_them_and_only_past_that_one()
 {
    let mut scene = shoaling("stop");
    assert_eq!(
        scene.does(1, OLGA, goes_on("watch")),
        Err(Refusal::MustBeRight)
    );
    let mut scene = shoaling("officer");
    scene.does(1, ANA, done("watch")).unwrap();
    scene.does(1, OLGA, goes_on("watch")).unwrap();
    assert!(scene.step("watch").passed);
    scene
        .does(1, ANA, logs("watch", &[("depth", "1.1")]))
        .unwrap();
    assert!(
        !scene.step("watch").passed,
        "the officer did not know of this one"
    );
}

#[test]
fn a_log_that_does_not_ask_for_it_is_finished_whatever_its_readings_were() {
    let text = WATCH
        .replace("RULE", "stop")
        .replace("newest_counts = true\n", "");
    let mut scene = Scene::started(&text);
    scene
        .does(1, ANA, logs("watch", &[("depth", "1.2")]))
        .unwrap();
    scene.does(1, ANA, done("watch")).unwrap();
    assert!(scene.step("watch").passed);
}

/// Names as people write them: the same few persons, in other letters.
const WRITTEN: [&str; 6] = ["ana", " Ana", "ANA ", "ben", "Ben", "b\u{c9}a"];

fn folded(who: &PersonId) -> String {
    who.as_str().trim().to_lowercase()
}

fn event(scene: &Scene, what: u8, at: u8) -> Event {
    let who = WRITTEN[usize::from(at) % WRITTEN.len()];
    let target = scene.events[usize::from(at) % scene.events.len()].id;
    match what % 12 {
        0..=2 => goes_in("inside", who),
        3 | 4 => comes_out("inside", who),
        5 | 6 => attends(who),
        7 => air("20.9"),
        8 => air("20.8"),
        9 => logs(
            "inside",
            &[("co", if at.is_multiple_of(2) { "3" } else { "30" })],
        ),
        10 => Event::StrikeOut {
            event: target,
            reason: "wrong".into(),
        },
        _ => done("inside"),
    }
}

/// Whether a reading out of limits stands that nobody who knew of it has taken anew.
fn air_is_bad(scene: &Scene, seen: &[RecordedEvent]) -> bool {
    let known = |id: [u8; 32]| seen.iter().any(|event| event.id == id);
    ["o2", "co"].iter().any(|point| {
        let entries: Vec<(&RecordedEvent, Decimal)> = seen
            .iter()
            .filter(|stamped| stamped.person.as_str() != "zoe")
            .filter(|stamped| {
                let mut only = scene.clone();
                only.events.retain(|event| known(event.id));
                !struck(&only, stamped)
            })
            .filter_map(|stamped| match &stamped.event {
                Event::Log { entry, .. } => {
                    let found = entry.readings.iter().find(|(key, _)| key == point);
                    found.map(|(_, value)| (stamped, *value))
                }
                _ => None,
            })
            .collect();
        let newest = |stamped: &RecordedEvent| {
            let mut later = entries.iter();
            !later.any(|(other, _)| other.id != stamped.id && sees(scene, other, stamped.id))
        };
        let bad = |value: Decimal| match *point {
            "o2" => value.to_f64() < 20.9,
            _ => value.to_f64() >= 10.0,
        };
        entries
            .iter()
            .any(|(stamped, value)| newest(stamped) && bad(*value))
    })
}

fn assert_watched(scene: &Scene) -> Result<(), TestCaseError> {
    let view = scene.view();
    for attendant in &view.attendants {
        let mut inside = view.inside.iter();
        prop_assert!(
            !inside.any(|inside| folded(&inside.who) == folded(&attendant.who)),
            "one person is inside and attends"
        );
    }
    let bad = air_is_bad(scene, &scene.events);
    if !view.inside.is_empty() && (bad || view.attendants.is_empty()) {
        prop_assert!(everybody_out(&view).is_some(), "nobody is told to come out");
    }
    for device in 1..=3 {
        let seen = scene.seen_by(device);
        if seen.is_empty() {
            continue;
        }
        let mut apart = scene.clone();
        for who in WRITTEN {
            let attends = apart.view_of(device).attendants;
            let leave = apart.does(device, MAX, goes_in("inside", who));
            if leave.is_ok() {
                prop_assert!(!air_is_bad(scene, &seen), "let in while the air is bad");
                let same = attends
                    .iter()
                    .any(|a| folded(&a.who) == folded(&who.into()));
                prop_assert!(!same, "who attends is let in");
                prop_assert!(!attends.is_empty(), "let in with nobody at the hatch");
                apart = scene.clone();
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever devices write that nothing kept back: no entry is in its turn while the newest reading is out of
    /// limits, and nobody is inside and at the hatch at once.
    #[test]
    fn nobody_is_let_in_to_bad_air_and_nobody_is_in_two_places(moves in prop::collection::vec(any::<Move>(), 1..30)) {
        let mut scene = Scene::started(LIST);
        for device in [2, 3] {
            scene.sync(1, device);
        }
        for (what, who, device, at, clock) in &moves {
            let device = 1 + device % 3;
            advance(&mut scene, device, *clock);
            if what % 4 == 3 {
                scene.sync(1 + at % 3, device);
            }
            let event = event(&scene, *what, *at);
            let person = PEOPLE[usize::from(*who) % PEOPLE.len()];
            let bad = air_is_bad(&scene, &scene.seen_by(device));
            let enters = matches!(event, Event::In { .. });
            let id = scene.writes(device, person, event);
            let view = scene.view();
            let line = view.history.iter().find(|line| line.id == id).expect("it was written");
            prop_assert!(
                !enters || !bad || line.out_of_sequence || line.without_right,
                "an entry into bad air is in its turn"
            );
        }
        assert_watched(&scene)?;
    }
}
