//! The first hour aboard: what is still to be said, by the records alone, and a sister ship that is set up from two tables.

use journal::body::SettingsBody;
use journal::gear::{read_table, write_table};
use journal::limits_table::{read_limits, write_limits};
use journal::setup::{SetupLack, SetupPart, setup_page};
use journal::{Body, body::GearBody};
use procedure::cable::{Cable, Side};
use procedure::{SettingGroup, Settings};

use super::aboard::{AUTHORITY, Aboard, START_MS, credential};

/// A master with a key, of a ship that has people and nothing else.
fn begun() -> Aboard {
    let mut aboard = Aboard::mustered();
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    aboard
}

fn lacks(aboard: &Aboard, part: SetupPart) -> Vec<SetupLack> {
    let page = setup_page(aboard.ledger(2), aboard.now_ms);
    let row = page.rows.into_iter().find(|row| row.part == part);
    row.expect("every part is there").lacks
}

fn puts(aboard: &mut Aboard, settings: &Settings) {
    let json = serde_json::to_string(settings).expect("settings are JSON");
    aboard.says(2, None, Body::Settings(SettingsBody { json }));
}

fn takes_gear(aboard: &mut Aboard, text: &str) {
    let read = read_table(aboard.ledger(2).register(), text, "thorne 1", START_MS);
    let changes = read.expect("the table is in order").changes;
    let reason = "set up".to_owned();
    aboard.says(2, None, Body::Gear(GearBody { changes, reason }));
}

const GEAR: &str = "kind,name,side\nanchor,port anchor,port\nwindlass,port windlass,port\nbrake,port brake,port\nchain-stopper,port stopper,port\n";

#[test]
fn each_part_is_done_when_it_was_said_and_not_before() {
    let mut aboard = begun();
    assert_eq!(lacks(&aboard, SetupPart::Ship), []);
    assert_eq!(lacks(&aboard, SetupPart::People), [], "three have keys");
    assert_eq!(lacks(&aboard, SetupPart::Gear).len(), 4);
    takes_gear(&mut aboard, GEAR);
    assert_eq!(lacks(&aboard, SetupPart::Gear), []);
    let page = setup_page(aboard.ledger(2), aboard.now_ms);
    assert!(!page.rows[2].later.is_empty(), "a surveyor asks for more");

    // She has one anchor: one cable is to be described.
    let port = SetupLack::NoCable { side: Side::Port };
    assert_eq!(lacks(&aboard, SetupPart::Cables), [port]);
    let mut settings = aboard.ledger(2).settings();
    let cable = Cable::parse("27.5 red\n27.5", "10").expect("a cable");
    settings.cables.set(Side::Port, cable);
    puts(&mut aboard, &settings);
    assert_eq!(lacks(&aboard, SetupPart::Cables), []);

    let groups = lacks(&aboard, SetupPart::Limits);
    assert_eq!(groups.len(), SettingGroup::ALL.len());
    confirms(&mut settings, |key| {
        SettingGroup::of(key) == SettingGroup::Windlass
    });
    puts(&mut aboard, &settings);
    assert_eq!(lacks(&aboard, SetupPart::Limits), groups[1..]);
    confirms(&mut settings, |_| true);
    puts(&mut aboard, &settings);
    assert_eq!(lacks(&aboard, SetupPart::Limits), []);
    assert_eq!(lacks(&aboard, SetupPart::Ready), [SetupLack::NotReady]);
    let page = setup_page(aboard.ledger(2), aboard.now_ms);
    assert_eq!((page.done(), page.rows.len()), (5, 6));
}

fn confirms(settings: &mut Settings, which: impl Fn(&str) -> bool) {
    let all: Vec<_> = settings
        .iter()
        .filter(|(key, _)| which(key))
        .map(|(key, set)| (key.to_owned(), set.clone()))
        .collect();
    for (key, mut set) in all {
        set.confirmed = true;
        settings.set(key, set);
    }
}

#[test]
fn a_sister_ship_is_set_up_from_two_tables_and_nothing_of_it_is_confirmed() {
    let mut aldermere = begun();
    let mut settings = aldermere.ledger(2).settings();
    for side in [Side::Port, Side::Starboard] {
        let cable = Cable::parse("27.5 red\n27 white\n27.5", "10").expect("a cable");
        settings.cables.set(side, cable);
    }
    let mut pressure = settings.get("hydraulic_min").expect("it is one").clone();
    pressure.value = "55".parse().expect("a number");
    pressure.source = "the maker's book".to_owned();
    settings.set("hydraulic_min", pressure);
    confirms(&mut settings, |_| true);
    puts(&mut aldermere, &settings);
    let length = "length,port length 1,port,cable-port";
    takes_gear(&mut aldermere, &format!("kind,name,side,under\n{length}\n"));

    let (limits, gear) = (
        write_limits(&aldermere.ledger(2).settings()),
        write_table(aldermere.ledger(2).register()),
    );
    let mut brackwater = begun();
    let filled = read_limits(&brackwater.ledger(2).settings(), &limits).expect("in order");
    assert_eq!((filled.changed, filled.cables.len()), (1, 2));
    puts(&mut brackwater, &filled.settings);
    takes_gear(&mut brackwater, &gear);

    let (ours, hers) = (
        aldermere.ledger(2).settings(),
        brackwater.ledger(2).settings(),
    );
    assert_eq!(ours.cables, hers.cables);
    let value = |settings: &Settings| settings.get("hydraulic_min").map(|set| set.value);
    assert_eq!(value(&ours), value(&hers));
    assert!(hers.iter().all(|(_, set)| !set.confirmed));
    // The cables were described first, so that there is one of each, and the length stands under it.
    let register = brackwater.ledger(2).register();
    assert_eq!(register.items().count(), 3);
    let mut lengths = register.of_kind("length", None);
    let length = lengths.next().expect("a length").now().card.clone();
    assert_eq!(length.under.as_deref(), Some("cable-port"));
}
