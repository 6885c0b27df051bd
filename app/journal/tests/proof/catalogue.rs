//! The ship's own pages say what is in force, who put it there, what is due and what is wrong.

use crate::aboard::{AUTHORITY, Aboard, credential};
use journal::body::ProcedureBody;
use journal::{Body, SettingsBody, catalogue};
use procedure::{Change, Event, RoundState, Settings, Severity};

/// The officer's device is the master's from here on.
fn mastered() -> Aboard {
    let mut aboard = Aboard::mustered();
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    aboard
}

/// Publishes the ship's copy of a procedure under another title.
fn publishes(aboard: &mut Aboard, title: &str) {
    let text = aboard.ledger(2).text_of("weighing").expect("the library's");
    let renamed = format!("title = \"{title}\"");
    let body = ProcedureBody {
        published: true,
        text: text.text.replacen("title = \"Weighing\"", &renamed, 1),
        ..text
    };
    aboard.says(2, None, Body::Procedure(body));
}

/// Puts settings in force that have these values, and all others as they were.
fn sets(aboard: &mut Aboard, values: &[(&str, &str)]) {
    let mut settings = aboard.ledger(2).settings();
    for (key, number) in values {
        let mut value = settings.get(key).expect("it is one").clone();
        value.value = number.parse().expect("a number");
        value.confirmed = true;
        settings.set(*key, value);
    }
    let json = serde_json::to_string(&settings).expect("settings are JSON");
    aboard.says(2, None, Body::Settings(SettingsBody { json }));
}

#[test]
fn a_procedure_that_nobody_has_changed_is_the_librarys() {
    let aboard = mastered();
    let all = catalogue::procedures(aboard.ledger(2));
    assert_eq!(all.len(), procedure::library::all().len());
    assert!(all.iter().all(|card| card.published.is_none()));
    let page = catalogue::procedure_page(aboard.ledger(2), "weighing").expect("a page");
    assert_eq!(page.to_library, Some(Vec::new()));
    assert!(page.versions.is_empty());
    assert!(page.text.contains("slug = \"weighing\""));
    assert_eq!(catalogue::procedure_page(aboard.ledger(2), "no-such"), None);
}

#[test]
fn each_published_version_says_what_it_changed_of_the_one_before() {
    let mut aboard = mastered();
    publishes(&mut aboard, "Weighing, our way");
    publishes(&mut aboard, "Weighing, our new way");
    let page = catalogue::procedure_page(aboard.ledger(2), "weighing").expect("a page");
    assert_eq!(page.card.title, "Weighing, our new way");
    let published = page.card.published.expect("by the master");
    assert_eq!(published.by, "THORNE");
    let changes: Vec<_> = page
        .versions
        .iter()
        .flat_map(|version| &version.changed)
        .map(|difference| match &difference.change {
            Change::Changed { from, to, .. } => (from.as_str(), to.as_str()),
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(
        changes,
        [
            ("Weighing, our way", "Weighing, our new way"),
            ("Weighing", "Weighing, our way"),
        ],
        "the newest first, each against the one before"
    );
    let against_library = page.to_library.expect("the library has it");
    assert_eq!(against_library.len(), 1);
}

#[test]
fn a_setting_is_in_force_since_the_change_that_made_it_what_it_is() {
    let mut aboard = mastered();
    let row = |aboard: &Aboard, key: &str| {
        let rows = catalogue::settings_page(aboard.ledger(2)).rows;
        rows.into_iter().find(|row| row.key == key).expect("a row")
    };
    assert_eq!(row(&aboard, "watch_every").set, None, "the program's own");
    sets(&mut aboard, &[("watch_every", "20")]);
    let first = row(&aboard, "watch_every").set.expect("set");
    assert_eq!(first.by, "THORNE");
    // Other settings change; this one stands since it was set.
    sets(&mut aboard, &[("ba_min", "220")]);
    let still = row(&aboard, "watch_every").set.expect("set");
    assert_eq!(still, first);
    assert!(row(&aboard, "ba_min").set.expect("set").at_ms > first.at_ms);
    sets(&mut aboard, &[("watch_every", "15")]);
    assert!(row(&aboard, "watch_every").set.expect("set").at_ms > first.at_ms);
    let words = row(&aboard, "watch_every").words;
    assert_eq!(Some(words.as_str()), Settings::words("watch_every"));
}

#[test]
fn the_page_of_rounds_and_the_offices_page_of_the_vessel_say_the_same_of_them() {
    let mut aboard = mastered();
    aboard.starts(0, "windlass-weekly");
    let now_ms = aboard.now_ms;
    let page = catalogue::rounds_page(aboard.ledger(0), now_ms);
    assert_eq!(page.ship, "Aldermere");
    let weekly = page
        .rounds
        .iter()
        .find(|round| round.slug == "windlass-weekly");
    let weekly = weekly.expect("it is a round");
    assert_eq!(
        (weekly.state, weekly.under_way),
        (RoundState::NeverDone, true)
    );
    let office = journal::board::vessel_page(aboard.ledger(0), now_ms);
    assert_eq!(office.rounds, page.rounds);
}

#[test]
fn a_defect_is_listed_with_where_it_was_found() {
    let mut aboard = mastered();
    let run = aboard.starts(0, "anchors-ready");
    let raised = Event::NotSo {
        step: "protection".into(),
        severity: Severity::Watch,
        text: "one lifejacket light is dead".to_owned(),
        photo: None,
        terms: None,
    };
    aboard.says(0, Some(run), Body::Run(Box::new(raised)));
    let page = catalogue::defects_page(aboard.ledger(0), aboard.now_ms);
    assert_eq!(page.defects.len(), 1);
    let row = &page.defects[0];
    assert_eq!((row.run, row.title.as_str()), (run, "Anchors ready"));
    assert!(
        row.instruction.starts_with("Put on helmet"),
        "{}",
        row.instruction
    );
    assert_eq!(row.defect.text, "one lifejacket light is dead");
}
