//! Wear on record: five years of measurements of one length, with the day by which it must be renewed; and what the register
//! knows for a plan.

use journal::Body;
use journal::body::{GearBody, SettingsBody};
use journal::gear::{Wear, item_page};
use journal::plan_gear::offers;
use procedure::Decimal;
use procedure::cable::{Cable, Side};
use procedure::gear::{GearChange, ItemCard, ItemChange, ItemSide, Room};

use super::aboard::{AUTHORITY, Aboard, START_MS, credential, credential_between};

const YEAR_MS: i64 = 31_557_600_000;

fn number(text: &str) -> Decimal {
    text.parse().expect("a number")
}

fn card(kind: &str, name: &str, figures: &[(&str, &str)]) -> ItemCard {
    ItemCard {
        kind: kind.to_owned(),
        name: name.to_owned(),
        side: Some(ItemSide::Port),
        room: Room::Deck,
        certificate: String::new(),
        serial: String::new(),
        dates: Vec::new(),
        figures: figures
            .iter()
            .map(|(key, value)| ((*key).to_owned(), number(value)))
            .collect(),
        under: None,
    }
}

fn says(aboard: &mut Aboard, item: &str, change: GearChange) {
    let item = item.to_owned();
    let changes = vec![ItemChange { item, change }];
    let reason = "measured".to_owned();
    aboard.says(2, None, Body::Gear(GearBody { changes, reason }));
}

fn wear(aboard: &Aboard, item: &str) -> Vec<Wear> {
    let page = item_page(aboard.ledger(2), item, aboard.now_ms);
    page.expect("it has a page").wear
}

#[test]
fn five_years_of_measurements_say_when_a_length_must_be_renewed_and_how_sure_that_is() {
    let mut aboard = Aboard::mustered();
    let (from, to) = (START_MS / 1000, (START_MS + 7 * YEAR_MS) / 1000);
    aboard.says(
        AUTHORITY,
        None,
        credential_between(2, &["crew", "officer"], from, to),
    );
    aboard.sync(AUTHORITY, 2);
    let measured = ["33.95", "33.62", "33.18", "32.90", "32.47", "32.11"];
    for (year, mm) in measured.iter().enumerate() {
        aboard.now_ms = START_MS + 60_000 + YEAR_MS * i64::try_from(year).expect("small");
        let card = card(
            "length",
            "port length 1",
            &[("new-diameter", "34"), ("diameter", mm)],
        );
        let change = if year == 0 {
            GearChange::PutOn { card }
        } else {
            GearChange::Changed { card }
        };
        says(&mut aboard, "LN-P1", change);
        // A change of something else is no measurement.
        if year == 2 {
            let mut card = aboard
                .ledger(2)
                .register()
                .item("LN-P1")
                .expect("there")
                .now()
                .card
                .clone();
            card.certificate = "ALD-L-1".to_owned();
            says(&mut aboard, "LN-P1", GearChange::Changed { card });
        }
    }
    let [wear] = wear(&aboard, "LN-P1").try_into().expect("one figure wears");
    assert_eq!(wear.points.len(), measured.len());
    assert!(
        (wear.least.expect("known") - 29.92).abs() < 1e-9,
        "88 % of 34 mm"
    );
    let found = wear.renewal.expect("a trend");
    // By hand: 0.37 mm in a year, from 33.96 down to 29.92, is eleven years after the first.
    assert!((found.mm_per_year - 0.369).abs() < 0.01, "{found:?}");
    let years = |ms: i64| (ms - START_MS) as f64 / YEAR_MS as f64;
    assert!((years(found.expected.0) - 10.9).abs() < 0.2, "{found:?}");
    let (from, to) = (found.earliest.expect("sure"), found.latest.expect("sure"));
    assert!(from < found.expected && found.expected < to);
    // The line that is drawn meets the least where the date stands, within a part of it.
    let crossing = wear
        .line
        .windows(2)
        .find(|pair| pair[0].1 >= 29.92 && pair[1].1 < 29.92);
    let crossing = crossing.expect("it is drawn until there");
    assert!(crossing[0].0 <= found.expected.0 && found.expected.0 <= crossing[1].0);
    assert!(
        wear.line
            .iter()
            .all(|(_, _, half)| half.is_some_and(|half| half > 0.0))
    );
}

#[test]
fn what_nobody_knows_of_wear_is_said() {
    let mut aboard = Aboard::mustered();
    let put_on = |figures| GearChange::PutOn {
        card: card("length", "port length 1", figures),
    };
    says(&mut aboard, "LN-1", put_on(&[("diameter", "33.9")]));
    let wears = wear(&aboard, "LN-1");
    assert!(wears[0].least.is_none() && wears[0].renewal.is_err());
    says(
        &mut aboard,
        "LN-2",
        put_on(&[("diameter", "33.9"), ("new-diameter", "34")]),
    );
    assert!(
        wear(&aboard, "LN-2")[0].renewal.is_err(),
        "one day shows no trend"
    );
    says(&mut aboard, "LN-3", put_on(&[("new-diameter", "34")]));
    assert_eq!(wear(&aboard, "LN-3"), []);
    let lining = card("brake", "port brake", &[("lining", "9.5")]);
    says(&mut aboard, "BR-1", GearChange::PutOn { card: lining });
    assert!((wear(&aboard, "BR-1")[0].least.expect("a setting") - 6.0).abs() < 1e-9);
}

#[test]
fn a_plan_is_offered_what_the_register_knows_with_where_it_comes_from() {
    let mut aboard = Aboard::mustered();
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    for (code, one) in [
        ("AN-P", card("anchor", "port anchor", &[("mass", "1140")])),
        (
            "WL-P",
            card(
                "windlass",
                "port windlass",
                &[("pull", "78"), ("speed", "9")],
            ),
        ),
        ("BR-P", card("brake", "port brake", &[("holding", "480")])),
        (
            "HP-P",
            card("hawse-pipe", "port hawse pipe", &[("height", "5.2")]),
        ),
        (
            "LN-1",
            card(
                "length",
                "length 1",
                &[("new-diameter", "34"), ("grade", "3")],
            ),
        ),
        (
            "LN-2",
            card(
                "length",
                "length 2",
                &[("new-diameter", "34"), ("grade", "2")],
            ),
        ),
    ] {
        says(&mut aboard, code, GearChange::PutOn { card: one });
    }
    let mut settings = aboard.ledger(2).settings();
    let cable = Cable::parse("27.5 red\n27 white\n27.5", "10").expect("a cable");
    settings.cables.set(Side::Port, cable);
    let json = serde_json::to_string(&settings).expect("JSON");
    aboard.says(2, None, Body::Settings(SettingsBody { json }));

    let all = offers(aboard.ledger(2));
    let of = |path: &str| {
        let mut found = all.iter().filter(|offer| offer.path == path);
        found
            .next()
            .map(|offer| (offer.text.as_str(), offer.from.as_str()))
    };
    assert_eq!(
        of("cable.port.anchor_mass_kg"),
        Some(("1140", "port anchor (AN-P)"))
    );
    assert_eq!(
        of("gear.windlass_speed_m_per_min"),
        Some(("9", "port windlass (WL-P)"))
    );
    assert_eq!(
        of("gear.brake_holding_kilonewtons"),
        Some(("480", "port brake (BR-P)"))
    );
    assert_eq!(
        of("ship.hawse_height_m"),
        Some(("5.2", "port hawse pipe (HP-P)"))
    );
    assert_eq!(
        of("cable.port.chain_diameter_mm"),
        Some(("34", "length 1 (LN-1)"))
    );
    assert_eq!(of("cable.port.chain_grade"), None, "its lengths differ");
    assert_eq!(
        of("cable.port.shackles_aboard"),
        Some(("3", "the port cable in the settings"))
    );
    assert_eq!(
        of("cable.port.shackle_length_m").map(|offer| offer.0),
        Some("27.33")
    );
    assert_eq!(
        of("cable.port.kept_inboard_m").map(|offer| offer.0),
        Some("10")
    );
    assert_eq!(
        of("cable.starboard.anchor_mass_kg"),
        None,
        "nothing is known of that side"
    );
    // What is out of service offers nothing.
    says(&mut aboard, "AN-P", GearChange::OutOfService);
    assert!(
        offers(aboard.ledger(2))
            .iter()
            .all(|offer| offer.path != "cable.port.anchor_mass_kg")
    );
}
