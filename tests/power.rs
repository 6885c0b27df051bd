//! Attacks by who had power once, or has somebody's phone: roles that were taken away, keys that were withdrawn,
//! clocks that were set back.

#![expect(
    clippy::disallowed_methods,
    reason = "plays a device, which has a clock of its own"
)]

use crate::support::hand::{Hand, page};
use crate::support::http::{self, push, session};
use crate::support::ship::{Ship, vessel};
use journal::{Body, RunId, SettingsBody};
use procedure::{ConsentBy, Event, Settings};
use serde_json::{Value, json};

/// A master who has signed in: the session's cookie, and the key that signs what changes the crew.
struct Master {
    cookie: String,
    hand: Hand,
}

impl Master {
    fn asks(&self, url: &str, question: &Value) -> http::Answer {
        let body = question.to_string();
        http::signed(&self.cookie, &self.hand.key, "POST", url, body.as_bytes())
    }
}

fn aboard() -> (tempfile::TempDir, Ship, Hand, Master) {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let hand = Hand::enrolled(&ship, "orrin", 11);
    let holt = Hand::enrolled(&ship, "holt", 14);
    let cookie = session(&ship.url, &holt.key).expect("a session");
    http::sign_in(&ship.url, &hand.key);
    let master = Master { cookie, hand: holt };
    (data, ship, hand, master)
}

fn url(ship: &Ship, path: &str) -> String {
    format!("{}/api/v1/{path}", ship.url)
}

/// One run as the ship shows it.
fn view(ship: &Ship, run: RunId) -> Value {
    let page = http::get(&url(ship, &format!("vessels/{}/runs/{run}", vessel()))).json();
    page["card"]["view"].clone()
}

/// Says whether an event of the run counted.
fn counted(ship: &Ship, run: RunId, id: record::RecordId) -> bool {
    let view = view(ship, run);
    let lines = view["history"].as_array().expect("lines");
    let hex = Value::from(record::hex::encode(&id.0));
    let line = lines.iter().find(|line| line["id"] == hex);
    line.unwrap_or_else(|| panic!("{id} is in {view:#}"))["without_right"] == false
}

fn consent(step: &str) -> Body {
    Body::Run(Box::new(Event::Consent {
        step: step.into(),
        granted: true,
        how: ConsentBy::Network,
        words: "go on".to_owned(),
    }))
}

fn settings(watch_every: &str) -> Body {
    let mut settings = Settings::defaults();
    let mut value = settings.get("watch_every").expect("it is one").clone();
    value.value = watch_every.parse().expect("a number");
    settings.set("watch_every", value);
    let json = serde_json::to_string(&settings).expect("settings are JSON");
    Body::Settings(SettingsBody { json })
}

/// How often the anchor watch writes, by the settings in force.
fn watch_every(ship: &Ship) -> String {
    let page = http::get(&url(ship, "settings")).json();
    let settings: Settings = serde_json::from_value(page["settings"].clone()).expect("settings");
    let value = settings.get("watch_every").expect("it is one");
    value.value.to_string()
}

fn now_ms() -> i64 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    i64::try_from(since.expect("after 1970").as_millis()).expect("a time of today")
}

#[test]
fn a_withdrawal_from_a_past_time_does_not_believe_the_devices_clock() {
    let (_data, ship, mut hand, master) = aboard();
    let mut phones = [21, 22].map(|seed| Hand::enrolled(&ship, "thorne", seed));
    http::sign_in(&ship.url, &hand.key);
    let start = hand.starts("anchors-ready");
    let of = start.id();
    push(&ship.url, start.bytes());
    let now_ms = now_ms();
    let mut signs = |phone: usize, ago_s: i64| {
        phones[phone].now_ms = now_ms - ago_s * 1000;
        let said = phones[phone].says(Some(of), consent("stoppers-off"));
        push(&ship.url, said.bytes());
        said.id()
    };
    let (early, late) = (signs(0, 7200), signs(0, 600));
    let only = signs(1, 7200);
    let devices = phones.map(|phone| phone.key.device());
    let asks = |path: &str, question: Value| master.asks(&url(&ship, path), &question);
    for ahead_ms in [3_600_000, i64::MAX - now_ms] {
        let question =
            json!({"device": devices[0], "reason": "gone", "from_ms": now_ms + ahead_ms});
        let refused = asks("crew/withdraw", question);
        assert_eq!(refused.status, 400, "{}", refused.text());
        assert!(refused.text().contains("ahead"), "{}", refused.text());
    }
    assert!(counted(&ship, of, late), "nothing was withdrawn by that");

    // All three came in just now: what they say of their age is the phone's word alone.
    let from_ms = now_ms - 3_600_000;
    let doubt = asks(
        "crew/doubt",
        json!({"device": devices[0], "from_ms": from_ms}),
    )
    .json();
    assert_eq!(doubt["certain_seq"], 0);
    let rows = doubt["records"].as_array().expect("rows");
    assert_eq!(rows.len(), 1, "the later one is in no doubt: {doubt:#}");
    assert_eq!(rows[0]["seq"], 1);
    assert!(
        rows[0]["says"]
            .as_str()
            .is_some_and(|says| says.contains("consent"))
    );

    let question =
        json!({"device": devices[0], "reason": "gone", "from_ms": from_ms, "keep_seq": 2});
    let refused = asks("crew/withdraw", question);
    assert_eq!(refused.status, 400, "{}", refused.text());
    let question =
        json!({"device": devices[0], "reason": "gone", "from_ms": from_ms, "keep_seq": 1});
    assert_eq!(asks("crew/withdraw", question).json()["last_seq"], 1);
    assert!(counted(&ship, of, early), "the master vouches for it");
    assert!(!counted(&ship, of, late));

    let question = json!({"device": devices[1], "reason": "gone", "from_ms": from_ms});
    assert_eq!(asks("crew/withdraw", question).json()["last_seq"], 0);
    assert!(!counted(&ship, of, only), "nobody vouches for it");
}

#[test]
fn a_demoted_master_signs_nothing_with_yesterdays_clock() {
    let (_data, ship, mut hand, master) = aboard();
    let entry = |roles: &[&str]| {
        let entry = json!({"id": "thorne", "name": "Ravi Thorne", "rank": "mate", "roles": roles});
        let url = url(&ship, "crew/person");
        let answer = master.asks(&url, &entry);
        assert_eq!(answer.status, 200, "{}", answer.text());
    };
    entry(&["crew", "master"]);
    let mut thorne = Hand::enrolled(&ship, "thorne", 13);
    let set = thorne.says(None, settings("7"));
    push(&ship.url, set.bytes());
    assert_eq!(watch_every(&ship), "7");
    let start = hand.starts("anchors-ready");
    push(&ship.url, start.bytes());
    std::thread::sleep(std::time::Duration::from_millis(20));
    entry(&["crew"]);

    // Two seconds after what was signed as a master, long before the demotion, and received after it.
    let late = thorne.says(None, settings("55"));
    let consents = thorne.says(Some(start.id()), consent("stoppers-off"));
    assert!(late.time_ms() < now_ms(), "the clock is behind");
    push(&ship.url, &page([&late, &consents]));
    assert_eq!(watch_every(&ship), "7", "what the master set stays");
    assert!(!counted(&ship, start.id(), consents.id()));
}

#[test]
fn a_withdrawn_key_writes_nobody_out_and_stops_nothing() {
    let (_data, ship, mut hand, master) = aboard();
    let mut thief = Hand::enrolled(&ship, "salter", 12);
    http::sign_in(&ship.url, &hand.key);
    let start = hand.starts("locker-entry");
    let of = start.id();
    let says = |event: Event| Body::Run(Box::new(event));
    let inside = || "inside".into();
    let goes_in = hand.says(
        Some(of),
        says(Event::In {
            step: inside(),
            who: "orrin".into(),
            rescue: None,
        }),
    );
    push(&ship.url, &page([&start, &goes_in]));
    let question = json!({"device": thief.key.device(), "reason": "stolen"});
    let answer = master.asks(&url(&ship, "crew/withdraw"), &question);
    assert_eq!(answer.status, 200, "{}", answer.text());
    thief.heads = vec![goes_in.id()];
    let out = thief.says(
        Some(of),
        says(Event::Out {
            step: inside(),
            who: "orrin".into(),
        }),
    );
    let stop = thief.says(
        Some(of),
        says(Event::Stop {
            cause: "for fun".to_owned(),
        }),
    );
    push(&ship.url, &page([&out, &stop]));
    let view = view(&ship, of);
    assert_eq!(
        view["inside"].as_array().expect("a list").len(),
        1,
        "{view:#}"
    );
    assert_eq!(view["stopped"], Value::Null);
    let alarms = view["alarms"].as_array().expect("alarms");
    let disputed = |alarm: &&Value| {
        alarm["words"]
            .as_str()
            .is_some_and(|words| words.contains("in or out"))
    };
    assert!(alarms.iter().any(|alarm| disputed(&alarm)), "{alarms:#?}");
}

#[test]
fn a_record_behind_a_withheld_one_counts_nowhere_until_that_comes() {
    let (_data, ship, mut hand, _) = aboard();
    let mut thorne = Hand::enrolled(&ship, "thorne", 13);
    let start = hand.starts("anchors-ready");
    let of = start.id();
    push(&ship.url, start.bytes());
    let withheld = thorne.says(
        Some(of),
        Body::Run(Box::new(Event::Stop {
            cause: "a drill".to_owned(),
        })),
    );
    let consents = thorne.says(Some(of), consent("stoppers-off"));
    push(&ship.url, consents.bytes());
    let lines = |ship: &Ship| view(ship, of)["history"].as_array().expect("lines").len();
    assert_eq!(
        lines(&ship),
        1,
        "the start alone: no phone could fetch the consent"
    );
    push(&ship.url, withheld.bytes());
    assert_eq!(lines(&ship), 3);
    assert!(counted(&ship, of, consents.id()));
}
