//! The register of the ship's gear over the wire: what a mate puts on and a hand takes out is on the pages, in the table,
//! and after a restart; what nobody had the right to say is kept and changes nothing.

use crate::support::hand::{Hand, page};
use crate::support::http::{self, push};
use crate::support::ship::Ship;
use journal::Body;
use journal::body::GearBody;
use procedure::gear::{DateKind, Day, GearChange, ItemCard, ItemChange, Room};

fn says(item: &str, change: GearChange, reason: &str) -> Body {
    let item = item.to_owned();
    Body::Gear(GearBody {
        changes: vec![ItemChange { item, change }],
        reason: reason.to_owned(),
    })
}

fn meter(name: &str) -> GearChange {
    let until = Day::parse("2020-01-31").expect("a date");
    GearChange::PutOn {
        card: ItemCard {
            kind: "gas-meter".to_owned(),
            name: name.to_owned(),
            side: None,
            room: Room::Store,
            certificate: String::new(),
            serial: "=4711".to_owned(),
            dates: vec![(DateKind::CalibratedUntil, until)],
            figures: Vec::new(),
            under: None,
        },
    }
}

fn assert_as_said(ship: &Ship) {
    let list = http::get(&format!("{}/api/v1/gear", ship.url)).json();
    let rows = list["rows"].as_array().expect("rows");
    assert_eq!(rows.len(), 1, "{rows:?}");
    assert_eq!(rows[0]["code"], "GM-1");
    let item = http::get(&format!("{}/api/v1/gear/GM-1", ship.url)).json();
    assert_eq!(item["row"]["service"]["is"], "out");
    assert_eq!(item["row"]["service"]["words"], "it fell");
    let lines = item["lines"].as_array().expect("lines");
    let by: Vec<&str> = lines
        .iter()
        .filter_map(|line| line["by"].as_str())
        .collect();
    assert_eq!(by, ["Tam Orrin", "Ravi Thorne"], "the newest first");
    let table = http::get(&format!("{}/gear.csv", ship.url));
    assert_eq!(table.kind, "text/csv; charset=utf-8");
    let text = table.text();
    assert!(
        text.contains("GM-1,gas-meter,Gas meter 1,,store,,'=4711,"),
        "{text}"
    );
    assert!(text.contains(",2020-01-31,"), "{text}");
    let none = http::get(&format!("{}/api/v1/gear/GM-9", ship.url));
    assert_eq!(none.status, 404);
    assert!(none.text().contains("GM-9"), "{}", none.text());
}

#[test]
fn what_is_said_of_gear_is_on_the_pages_in_the_table_and_after_a_restart() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut thorne = Hand::enrolled(&ship, "thorne", 12);
    let put_on = thorne.says(None, says("GM-1", meter("Gas meter 1"), "bought"));
    push(&ship.url, &page([&put_on]));
    let mut orrin = Hand::enrolled(&ship, "orrin", 11);
    let said = [
        orrin.says(None, says("GM-2", meter("Gas meter 2"), "a hand may not")),
        orrin.says(None, says("GM-1", GearChange::OutOfService, "it fell")),
        orrin.says(None, says("GM-1", GearChange::PutBack, "nor this")),
    ];
    push(&ship.url, &page(&said));
    assert_as_said(&ship);
    ship.kill();
    assert_as_said(&Ship::start(data.path(), &[]));
}
