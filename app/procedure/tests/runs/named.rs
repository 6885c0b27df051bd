//! Whose cable is logged, which figures judge, which gear may be used: nothing is guessed, and nothing empty is written.

use procedure::cable::Side;
use procedure::*;

use super::faults::not_so;
use super::scene::*;
use super::walk::{named, walk};

const CABLES: &str = r#"
slug = "cables"
title = "Cables"
edition = "1"
purpose = "For tests."

[[step]]
id = "anchor"
do = "Say which anchor"
kind = "choice"
skip = "never"
[[step.option]]
key = "port"
label = "port"
[[step.option]]
key = "starboard"
label = "starboard"

[[step]]
id = "out"
do = "Log it out"
kind = "log"
cable = "out"
side = "anchor"
after = []

[[step]]
id = "both"
do = "Log both"
kind = "log"
cable = "out"
side = "either"
after = []
"#;

fn entry(step: &str, side: Option<Side>) -> Event {
    Event::Log {
        step: step.into(),
        entry: LogEntry {
            mark: Some(Decimal::whole(1)),
            side,
            ..LogEntry::default()
        },
    }
}

#[test]
fn an_entry_says_whose_cable_it_is_and_it_is_the_one_of_the_log() {
    let (port, starboard) = (Some(Side::Port), Some(Side::Starboard));
    let mut scene = Scene::started(CABLES);
    for side in [None, port, starboard] {
        let refused = scene.does(1, ANA, entry("out", side)).unwrap_err();
        assert_eq!(refused, Refusal::NoCableNamed, "no anchor is chosen yet");
    }
    scene.does(1, ANA, chooses("anchor", "starboard")).unwrap();
    let refused = |scene: &mut Scene, step: &str, side| scene.does(1, ANA, entry(step, side));
    assert_eq!(refused(&mut scene, "out", None), Err(Refusal::NoCableNamed));
    assert_eq!(
        refused(&mut scene, "out", port),
        Err(Refusal::OtherCable("starboard"))
    );
    assert_eq!(
        refused(&mut scene, "both", None),
        Err(Refusal::NoCableNamed)
    );
    scene.does(1, ANA, entry("out", starboard)).unwrap();
    scene.does(1, ANA, entry("both", port)).unwrap();
    assert_eq!(
        scene.step("out").log[0].words,
        "starboard cable, 1 shackles at the gypsy"
    );
}

#[test]
fn an_entry_of_an_older_program_is_kept_although_it_names_no_cable() {
    let mut scene = Scene::started(CABLES);
    scene.writes(1, ANA, entry("out", None));
    assert_eq!(scene.step("out").log.len(), 1);
}

#[test]
fn a_cable_log_of_a_file_names_its_cable_and_one_on_record_need_not() {
    let without = CABLES.replace("side = \"anchor\"\n", "");
    let mistakes = parse("cables.toml", &without).unwrap_err();
    assert!(mistakes[0].what.starts_with("a cable log names its cable"));
    assert!(parse_on_record("cables.toml", &without).is_ok());
    let other = CABLES.replace("side = \"anchor\"", "side = \"nothing\"");
    let mistakes = parse("cables.toml", &other).unwrap_err();
    assert!(mistakes[0].what.contains("offers port and starboard"));
}

#[test]
fn an_entry_that_says_nothing_is_refused() {
    let mut scene = Scene::started(CABLES);
    for remark in [None, Some(" ".to_owned())] {
        let entry = LogEntry {
            side: Some(Side::Port),
            remark,
            ..LogEntry::default()
        };
        let event = Event::Log {
            step: "both".into(),
            entry,
        };
        assert_eq!(scene.does(1, ANA, event), Err(Refusal::EmptyEntry));
    }
}

#[test]
fn the_second_anchor_of_a_ship_that_drags_is_logged_on_its_own_side() {
    let scene = walk(
        named("dragging"),
        &[("decision", "second"), ("which", "starboard")],
    );
    let log = scene.step("second-down").log;
    assert!(!log.is_empty());
    assert!(
        log.iter()
            .all(|line| line.entry.side == Some(Side::Starboard))
    );
}

fn wind(value: &str) -> Event {
    Event::Log {
        step: "watch".into(),
        entry: LogEntry {
            readings: vec![("wind".to_owned(), value.parse().unwrap())],
            ..LogEntry::default()
        },
    }
}

#[test]
fn the_watch_is_judged_by_the_limits_of_this_anchorage() {
    let mut scene = walk(named("at-anchor"), &[]);
    let logged = |stamped: &RecordedEvent| matches!(stamped.event, Event::Log { .. });
    let first = scene.events.iter().position(logged).unwrap();
    scene.cut(first);
    // Stricter than the ship's standing 15, 20 and 25 kn.
    for (point, value) in [
        ("wind-call", "10"),
        ("wind-engines", "12"),
        ("wind-weigh", "18"),
    ] {
        scene.writes(1, ANA, reads("limits", point, value));
    }
    let said = |scene: &mut Scene, value: &str| {
        scene.writes(1, ANA, wind(value));
        scene.step("watch").words
    };
    let fair = said(&mut scene, "9.5");
    assert!(!fair.contains("master"), "{fair}");
    assert_eq!(
        said(&mut scene, "13"),
        "wind: 13 kn: call the master; make the engines ready"
    );
    assert_eq!(scene.status("watch"), Status::OutOfLimits);
    assert_eq!(
        said(&mut scene, "18"),
        "wind: 18 kn: call the master; make the engines ready; weigh"
    );
    // What is to come at a weaker wind cannot come at a stronger one.
    scene.writes(1, ANA, reads("limits", "wind-engines", "9"));
    assert_eq!(scene.status("limits"), Status::OutOfLimits);
}

const GEAR: &str = r#"
slug = "gear"
title = "Gear"
edition = "1"
purpose = "For tests."

[[step]]
id = "look"
do = "Look"
on_fault = "officer"
gear = ["windlass"]

[[step]]
id = "power"
do = "Start it"
gear = ["windlass"]
uses = ["windlass"]
after = []

[[step]]
id = "wipe"
do = "Wipe it"
gear = ["windlass"]
after = []
"#;

#[test]
fn gear_out_of_service_is_not_used_until_the_master_accepts_it_with_a_restriction() {
    let mut scene = Scene::started(GEAR);
    let defect = scene
        .does(1, ANA, not_so("look", Severity::OutOfService))
        .unwrap();
    let refused = scene.does(1, ANA, done("power")).unwrap_err().to_string();
    assert!(
        refused.contains("windlass out of service (lining worn)"),
        "{refused}"
    );
    scene.does(1, ANA, done("wipe")).unwrap();
    let until_ms = scene.now + HOUR;
    let accepts = |text: &str| Event::Defect {
        defect,
        change: DefectChange::Accepted { until_ms },
        text: text.to_owned(),
    };
    assert_eq!(
        scene.does(1, OLGA, accepts("starboard only")),
        Err(Refusal::NotTheirs("master"))
    );
    assert_eq!(
        scene.does(1, MAX, accepts(" ")),
        Err(Refusal::NoRestriction)
    );
    // An officer's word of an older program is kept, and lifts nothing.
    scene.writes(1, OLGA, accepts("starboard only"));
    assert!(scene.does(1, ANA, done("power")).is_err());
    scene.does(1, MAX, accepts("starboard only")).unwrap();
    assert!(scene.step("power").open);
    scene.now += 2 * HOUR;
    assert!(!scene.step("power").open, "the master's time is over");
    scene
        .does(
            1,
            OLGA,
            Event::Defect {
                defect,
                change: DefectChange::Closed,
                text: "new lining".to_owned(),
            },
        )
        .unwrap();
    scene.does(1, ANA, done("power")).unwrap();
}

#[test]
fn what_was_done_before_the_gear_was_out_of_service_keeps_counting() {
    let mut scene = Scene::started(GEAR);
    scene.does(1, ANA, done("power")).unwrap();
    scene
        .does(1, ANA, not_so("look", Severity::OutOfService))
        .unwrap();
    assert!(scene.step("power").passed);
    // A defect that is to be watched holds nothing.
    let mut scene = Scene::started(GEAR);
    scene
        .does(1, ANA, not_so("look", Severity::Restricted))
        .unwrap();
    scene.does(1, ANA, done("power")).unwrap();
}

#[test]
fn the_permit_falls_with_the_day_on_which_the_meter_expires() {
    let mut scene = walk(named("locker-entry"), &[]);
    let permit = |stamped: &RecordedEvent| matches!(&stamped.event, Event::Consent { step, .. } if step.as_str() == "permit");
    let given = scene.events.iter().position(permit).unwrap();
    scene.cut(given + 1);
    assert!(scene.step("permit").passed);
    let of_meter = |value: &str| reads("meter-date", "until", value);
    for (wrong, said) in [
        ("20200101", "2020-01-01 is past"),
        ("20261340", "is no date"),
    ] {
        let mut scene = scene.clone();
        scene.writes(1, ANA, of_meter(wrong));
        assert!(scene.step("meter-date").words.contains(said));
        assert!(!scene.step("permit").passed, "{wrong}");
    }
}

#[test]
fn a_ship_without_the_cell_is_not_asked_for_carbon_dioxide() {
    let mut scene = walk(named("locker-entry"), &[]);
    let read = |stamped: &RecordedEvent| matches!(&stamped.event, Event::Done { step, .. } if step.as_str() == "air-top");
    let first = scene.events.iter().position(read).unwrap();
    scene.cut(first);
    let mut set = scene.settings.get("air_co2_tested").unwrap().clone();
    assert_eq!(scene.step("air-top").points.len(), 5);
    set.value = Decimal::whole(0);
    scene.settings.set("air_co2_tested", set);
    assert_eq!(scene.step("air-top").points.len(), 4);
    for (point, value) in [("o2", "20.9"), ("lfl", "0"), ("co", "0"), ("h2s", "0")] {
        scene.writes(1, ANA, reads("air-top", point, value));
    }
    assert_eq!(scene.step("air-top").words, "a second person must sign");
}

#[test]
fn the_watch_is_handed_over_within_the_run() {
    let mut scene = walk(named("at-anchor"), &[]);
    let logged = |stamped: &RecordedEvent| matches!(stamped.event, Event::Log { .. });
    let first = scene.events.iter().position(logged).unwrap();
    scene.cut(first + 1);
    assert!(scene.step("watch-kept-by").passed);
    scene.now += 4 * HOUR + MINUTE;
    assert_eq!(scene.status("watch-kept-by"), Status::Stale);
    let view = scene.view();
    let alarm = |alarm: &Alarm| {
        alarm.kind == AlarmKind::Stale && alarm.step == Some("watch-kept-by".into())
    };
    assert!(view.alarms.iter().any(alarm), "the next watch is late");
    assert!(
        step_in(&view, "watch").entry_due_ms.is_some(),
        "its entries stay due"
    );
    let takes = Event::Done {
        step: "watch-kept-by".into(),
        outcome: Outcome::Text {
            text: "Ana, nothing changed".to_owned(),
        },
    };
    let event = scene.does(1, ANA, takes).unwrap();
    scene.does(1, BEN, Event::Second { event }).unwrap();
    assert!(scene.step("watch-kept-by").passed);
    assert!(scene.step("watch-taken").passed, "nothing is set anew");
}
