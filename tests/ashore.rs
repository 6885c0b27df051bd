//! An office's pages, as whoever looks after it sees them.

use crate::support::hand::Hand;
use crate::support::http::{self, as_one};
use crate::support::ship::{SEED, Ship};
use record::SoftKey;

/// Returns what the screen says under a name.
fn said(name: &str) -> &'static str {
    let lines = include_str!("../app/ui/words/en.txt").lines();
    let mut found = lines.filter_map(|line| line.split_once(" = "));
    let found = found.find_map(|(key, text)| (key == name).then_some(text));
    found.unwrap_or_else(|| panic!("{name} is said"))
}

/// Enrols the first of an office; returns a session of theirs.
fn administrator(office: &Ship) -> String {
    let hand = Hand::aboard("marsh", 21);
    let digits: String = office.code.chars().filter(char::is_ascii_digit).collect();
    let public_key = record::hex::encode(hand.key.public().as_bytes());
    let claim = format!("clearhawse enrolment v2\n{digits}\n{public_key}");
    let question = serde_json::json!({
        "code": digits,
        "public_key": public_key,
        "protection": "software",
        "proof": record::hex::encode(&hand.key.sign(claim.as_bytes())),
        "first": {"ship": "Harbour House", "particulars": "", "name": "Ina Marsh", "rank": "administrator"},
    });
    let url = format!("{}/api/v1/enrol", office.url);
    let answer = http::post(&url, question.to_string().as_bytes());
    assert_eq!(answer.status, 200, "{}", answer.text());
    http::session(&office.url, &hand.key).expect("a session")
}

#[test]
fn an_office_leads_to_no_ship_of_its_own_and_says_of_whom_it_never_heard() {
    let data = tempfile::tempdir().expect("a folder");
    let pin = record::hex::encode(SoftKey::from_seed(SEED).public().as_bytes());
    let office = Ship::start(data.path(), &["--pin", &pin]);
    let card = http::get(&format!("{}/api/v1/enrol", office.url)).json();
    assert_eq!(card["is_ashore"], true);
    let cookie = administrator(&office);
    let page = |path: &str| {
        let answer = as_one(&cookie, "GET", &format!("{}{path}", office.url), b"");
        assert_eq!(answer.status, 200, "{path}");
        answer.text()
    };
    let vessels = page("/office");
    assert!(vessels.contains(said("NEVER_HEARD")), "{vessels}");
    assert!(!vessels.contains("never done"), "{vessels}");
    for path in ["/office", "/crew", "/roll"] {
        let html = page(path);
        for way in [
            "/procedures",
            "/rounds",
            "/defects",
            "/settings",
            "/bridge",
            "/bow",
        ] {
            assert!(!html.contains(&format!("href=\"{way}\"")), "{path}: {way}");
        }
        assert!(html.contains("href=\"/office\""), "{path}");
    }
    for path in [
        "/procedures",
        "/rounds",
        "/drills",
        "/survey",
        "/foredeck",
        "/marks",
        "/defects",
        "/settings",
        "/setup",
        "/bridge",
        "/plan",
        "/bow/plan",
    ] {
        let html = page(path);
        assert!(html.contains(said("ONE_SHIP_BODY")), "{path}: {html}");
    }
}

#[test]
fn a_ship_has_all_her_ways() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    Hand::enrolled(&ship, "orrin", 11);
    let html = http::get(&format!("{}/defects", ship.url)).text();
    assert!(html.contains("href=\"/rounds\""), "{html}");
    assert!(!html.contains(said("ONE_SHIP_BODY")), "{html}");
}
