//! Who may do what, over HTTP: every address, every role, and nobody at all.

use crate::support::hand::Hand;
use crate::support::http::{self, as_one, beginning, sent_on, session};
use crate::support::ship::{SEED, Ship, vessel};
use journal::access::Permission;
use journal::address::{self, Access, Gate, Method, Row, Whose};
use record::sync::{Have, PullRequest};
use record::{SoftKey, Vector, VesselId};
use std::sync::Arc;

/// Another vessel whose records are kept here too.
const OTHER: [u8; 32] = [8; 32];

/// A request that one row of the table of addresses stands for.
struct Question {
    /// The permission that the answer hangs on, as [`TABLE`] names it.
    permission: &'static str,
    /// Whether the key itself must sign it.
    is_signed: bool,
    method: &'static str,
    path: String,
    body: Vec<u8>,
}

fn have(vessel: VesselId) -> Vec<u8> {
    let vector = Vector::new();
    Have { vessel, vector }.encode()
}

fn pull(vessel: VesselId) -> Vec<u8> {
    let (vector, max_bytes) = (Vector::new(), 1000);
    PullRequest {
        vessel,
        vector,
        max_bytes,
    }
    .encode()
}

/// Fills a path in that names a vessel, a run that nobody began, and a photograph that no record names.
fn filled(path: &str, vessel: VesselId) -> String {
    let nobody = record::hex::encode(&[9; 32]);
    path.replace("{vessel}", &vessel.to_string())
        .replace("{run}", &nobody)
        .replace("{photo}", &nobody)
        .replace("{slug}", "anchors-ready")
        .replace("{name}", "catenary")
}

/// What is sent there: in order where a change would be made, so that who may make it is not refused for
/// the form of their question alone.
fn body(row: &Row, vessel: VesselId) -> Vec<u8> {
    let nobody = record::hex::encode(&[9; 32]);
    let nobody = &nobody[..record::hex::encode(&SoftKey::from_seed(SEED).device().0).len()];
    let text = match row.path {
        "/api/v1/sync/have" => return have(vessel),
        "/api/v1/sync/pull" => return pull(vessel),
        "/api/v1/crew/code" => r#"{"person":"salter"}"#.to_owned(),
        "/api/v1/crew/ship" => {
            r#"{"name":"Aldermere","particulars":"motor yacht","latitude":-43.5,"longitude":-20.0}"#
                .to_owned()
        }
        "/api/v1/crew/person" => {
            r#"{"id":"salter","name":"Wen Salter","rank":"deckhand","roles":["crew"]}"#.to_owned()
        }
        "/api/v1/crew/withdraw" => format!(r#"{{"device":"{nobody}","reason":"lost"}}"#),
        _ if row.method == Method::Get || row.path.ends_with("/push") => String::new(),
        _ => "{}".to_owned(),
    };
    text.into_bytes()
}

/// Every row that is not open to anybody, once for each vessel that it can be asked of.
fn questions() -> Vec<Question> {
    let (own, other) = (vessel(), SoftKey::from_seed(OTHER).public().vessel());
    let mut all = Vec::new();
    for row in address::TABLE {
        let Access::Gated(gate) = row.access else {
            continue;
        };
        let mut ask = |permission, vessel| {
            all.push(Question {
                permission,
                is_signed: matches!(gate, Gate::Needs(permission, _) if permission.is_signed()),
                method: row.method.name(),
                path: filled(row.path, vessel),
                body: body(row, vessel),
            });
        };
        let (permission, whose) = match gate {
            Gate::SignedIn => {
                ask("SignedIn", own);
                continue;
            }
            Gate::Needs(permission, whose) => (permission, whose),
        };
        let (of_own, of_other) = match permission {
            Permission::Read => ("Read", "ReadOthers"),
            Permission::Sync => ("Sync", "Never"),
            Permission::Reckon => ("Reckon", "Never"),
            Permission::Muster => ("Muster", "Never"),
            Permission::ReadOthers | Permission::PutInForce | Permission::KeepGear => {
                panic!("no address asks for {permission:?} alone: say here who may")
            }
        };
        ask(of_own, own);
        if matches!(whose, Whose::PathVessel | Whose::BodyVessel) {
            ask(of_other, other);
        }
    }
    all
}

/// The table, as it was decided: a row for each permission, a column for each who asks.
const TABLE: &str = "
    permission    orrin thorne holt  finch abel  ship
    Read          yes   yes    yes   yes   yes   no
    ReadOthers    no    no     no    yes   yes   no
    Sync          yes   yes    yes   yes   yes   yes
    Reckon        yes   yes    yes   yes   yes   no
    Muster        no    no     yes   no    yes   no
    SignedIn      yes   yes    yes   yes   yes   yes
    Never         no    no     no    no    no    no";

fn take_on(ship: &Ship, (master, holt): (&str, &Hand), name: &str, role: &str) {
    let draft = serde_json::json!({"name": name, "rank": "office", "roles": [role]});
    let url = format!("{}/api/v1/crew/person", ship.url);
    let draft = draft.to_string();
    let answer = http::signed(master, &holt.key, "POST", &url, draft.as_bytes());
    assert_eq!(answer.status, 200, "{}", answer.text());
}

#[test]
fn every_role_may_do_what_the_table_says_and_nothing_else() {
    let data = tempfile::tempdir().expect("a folder");
    Ship::mustered(data.path()).kill();
    let other = record::hex::encode(SoftKey::from_seed(OTHER).public().as_bytes());
    let ship = Ship::start(data.path(), &["--pin", &other]);
    let holt = Hand::enrolled(&ship, "holt", 40);
    let master = session(&ship.url, &holt.key).expect("a session");
    take_on(&ship, (&master, &holt), "Ada Finch", "office-reader");
    take_on(&ship, (&master, &holt), "Jon Abel", "office-administrator");
    let rows: Vec<Vec<&str>> = TABLE
        .lines()
        .skip(1)
        .map(|line| line.split_whitespace().collect())
        .collect();
    let names = &rows[0][1..];
    let keys: Vec<Arc<SoftKey>> = names
        .iter()
        .zip(41_u8..)
        .map(|(name, seed)| match *name {
            "ship" => Arc::new(SoftKey::from_seed(SEED)),
            "holt" => Arc::clone(&holt.key),
            name => Hand::enrolled(&ship, name, seed).key,
        })
        .collect();
    for question in questions() {
        let url = format!("{}{}", ship.url, question.path);
        let said = |cookie: &str| beginning(cookie, question.method, &url, &question.body);
        let row = rows.iter().find(|row| row[0] == question.permission);
        let row = row.expect("the table has the permission");
        for ((name, key), cell) in names.iter().zip(&keys).zip(&row[1..]) {
            // A session of its own: one of the questions ends it.
            let cookie = session(&ship.url, key).expect("a session");
            let answer = if question.is_signed {
                http::signed(&cookie, key, question.method, &url, &question.body)
            } else {
                said(&cookie)
            };
            let what = format!("{} {} by {name}", question.method, question.path);
            // What is let through may still be told that there is no such thing.
            let let_through = !matches!(answer.status, 401 | 403);
            assert_eq!(
                let_through,
                *cell == "yes",
                "{what}: {} {}",
                answer.status,
                answer.text()
            );
            assert!(answer.status < 500, "{what}: {}", answer.text());
            if *cell == "no" {
                assert!(
                    answer.text().contains("may not"),
                    "{what}: {}",
                    answer.text()
                );
            }
        }
        assert_eq!(said("").status, 401, "{} by nobody", question.path);
        let made_up = format!("clearhawse-session={}", record::hex::encode(&[1; 32]));
        assert_eq!(
            said(&made_up).status,
            401,
            "{} by a made-up session",
            question.path
        );
    }
}

#[test]
fn a_cookie_alone_changes_nothing_about_who_may_do_what() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let holt = Hand::enrolled(&ship, "holt", 40);
    let thorne = Hand::enrolled(&ship, "thorne", 41);
    let cookie = session(&ship.url, &holt.key).expect("a session");
    let second = session(&ship.url, &holt.key).expect("a session");
    let signed = questions()
        .into_iter()
        .filter(|question| question.is_signed);
    let mut count = 0;
    for question in signed {
        count += 1;
        let Question { method, body, .. } = &question;
        let url = format!("{}{}", ship.url, question.path);
        let refused = |answer: http::Answer, why: &str| {
            assert_eq!(answer.status, 403, "{url}, {why}: {}", answer.text());
            assert!(!answer.text().contains("may not"), "{url}, {why}");
        };
        let alone = as_one(&cookie, method, &url, body);
        assert!(
            alone.text().contains("signed by the key"),
            "{}",
            alone.text()
        );
        refused(alone, "a cookie alone");
        let act = http::Act::begin(&cookie, &url);
        let right = act.sign(&holt.key, method, &url, body);
        let other = act.sign(&thorne.key, method, &url, body);
        refused(act.send(&cookie, method, &url, body, &other), "another key");
        let other = act.sign(&holt.key, method, &url, b"[]");
        refused(
            act.send(&cookie, method, &url, body, &other),
            "another body",
        );
        let elsewhere = format!("{}/api/v1/crew/other", ship.url);
        let other = act.sign(&holt.key, method, &elsewhere, body);
        refused(
            act.send(&cookie, method, &url, body, &other),
            "another address",
        );
        refused(act.send(&cookie, method, &url, body, "ab"), "no signature");
        refused(
            act.send(&second, method, &url, body, &right),
            "another session",
        );
        let made_up = http::Act {
            challenge: "00".repeat(56),
            server: act.server.clone(),
        };
        let own = made_up.sign(&holt.key, method, &url, body);
        refused(
            made_up.send(&cookie, method, &url, body, &own),
            "a challenge made up",
        );
        let done = act.send(&cookie, method, &url, body, &right);
        assert!(!matches!(done.status, 401 | 403), "{url}: {}", done.text());
        refused(act.send(&cookie, method, &url, body, &right), "sent again");
    }
    assert!(count >= 5, "the crew's addresses: {count}");
}

#[test]
fn pages_are_drawn_for_nobody_but_those_who_have_shown_who_they_are() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    http::push(&ship.url, hand.starts("anchors-ready").bytes());
    let cookie = session(&ship.url, &hand.key).expect("a session");
    for page in address::PAGES {
        let (is_open, page) = (page.is_open, filled(page.path, vessel()));
        let url = format!("{}{page}", ship.url);
        let stranger = as_one("", "GET", &url, b"");
        let status = if is_open { 200 } else { 401 };
        // A program built without its pages says so with another status; it draws nothing either.
        assert!(
            stranger.status == status || matches!(stranger.status, 503 | 404),
            "{page}: {}",
            stranger.status
        );
        assert!(!stranger.text().contains("Aldermere"), "{page}");
        assert!(!stranger.text().contains("Orrin"), "{page}");
        assert_eq!(as_one(&cookie, "GET", &url, b"").status, 200, "{page}");
    }
    let board = as_one(&cookie, "GET", &format!("{}/bridge", ship.url), b"");
    assert!(
        board.text().contains("Tam Orrin"),
        "a page that was drawn shows who began"
    );
}

#[test]
fn an_address_that_a_page_had_before_leads_to_where_it_stands_now() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let hand = Hand::enrolled(&ship, "holt", 12);
    let cookie = session(&ship.url, &hand.key).expect("a session");
    let of_ship = |path: &str| filled(path, vessel());
    for (before, now) in address::MOVED {
        let (status, place) = sent_on(&cookie, &format!("{}{}", ship.url, of_ship(before)));
        assert_eq!((status, place), (302, of_ship(now)), "{before}");
        let drawn = as_one(
            &cookie,
            "GET",
            &format!("{}{}", ship.url, of_ship(now)),
            b"",
        );
        assert_eq!(drawn.status, 200, "{now}");
        // Without a session it is as any page that shows records.
        let url = format!("{}{}", ship.url, of_ship(before));
        assert!(
            matches!(as_one("", "GET", &url, b"").status, 401 | 503 | 404),
            "{before}"
        );
    }
}

#[test]
fn a_session_is_for_the_address_and_the_server_that_it_was_signed_for() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let hand = Hand::enrolled(&ship, "orrin", 11);
    let url = |path: &str| format!("{}/api/v1/{path}", ship.url);
    let challenge = || {
        let asked = as_one("", "POST", &url("session/challenge"), b"{}").json();
        asked["challenge"].as_str().expect("text").to_owned()
    };
    let reply = |key: &SoftKey, origin: &str, server: &str, challenge: &str| {
        let claim = format!("clearhawse session v1\n{origin}\n{server}\n{challenge}");
        let reply = serde_json::json!({
            "device": hand.key.device(),
            "challenge": challenge,
            "origin": origin,
            "signature": record::hex::encode(&key.sign(claim.as_bytes())),
        });
        let answer = as_one("", "POST", &url("session"), reply.to_string().as_bytes());
        (answer.status, answer.text())
    };
    let right = ship.url.as_str();
    let once = challenge();
    assert_eq!(reply(&hand.key, right, &ship.authority, &once).0, 200);
    let (status, words) = reply(&hand.key, right, &ship.authority, &once);
    assert_eq!(status, 403, "{words}");
    assert!(words.contains("challenge"), "{words}");
    let (status, words) = reply(
        &hand.key,
        "http://elsewhere:80",
        &ship.authority,
        &challenge(),
    );
    assert_eq!(status, 403, "{words}");
    assert!(words.contains("elsewhere"), "{words}");
    let other = record::hex::encode(SoftKey::from_seed(OTHER).public().as_bytes());
    let (status, words) = reply(&hand.key, right, &other, &challenge());
    assert_eq!(status, 403, "{words}");
    let stranger = SoftKey::from_seed([99; 32]);
    let (status, words) = reply(&stranger, right, &ship.authority, &challenge());
    assert_eq!(status, 403, "{words}");
    assert!(words.contains("signature"), "{words}");
    assert_eq!(
        session(&ship.url, &stranger).expect_err("unknown").status,
        403
    );
}

#[test]
fn signing_out_ends_the_session_and_a_restart_does_not() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let hand = Hand::enrolled(&ship, "orrin", 11);
    let (one, two) = (
        session(&ship.url, &hand.key).expect("a session"),
        session(&ship.url, &hand.key).expect("a session"),
    );
    let url = format!("{}/api/v1/session", ship.url);
    let who = as_one(&one, "GET", &url, b"").json();
    assert_eq!(
        (&who["person"], &who["roles"][0]),
        (&"orrin".into(), &"crew".into())
    );
    assert_eq!(as_one(&one, "DELETE", &url, b"").status, 204);
    assert_eq!(as_one(&one, "GET", &url, b"").status, 401);
    assert_eq!(as_one(&two, "GET", &url, b"").status, 200);
    // A power cut: a phone whose key is locked away sends on all the same.
    ship.kill();
    let kept = std::fs::read_to_string(data.path().join("sessions.json")).expect("sessions");
    let secret = two.split('=').nth(1).expect("a value");
    assert!(!kept.contains(secret), "what is on disk opens nothing");
    let ship = Ship::start(data.path(), &[]);
    let url = format!("{}/api/v1/session", ship.url);
    assert_eq!(as_one(&one, "GET", &url, b"").status, 401);
    let who = as_one(&two, "GET", &url, b"");
    assert_eq!((who.status, &who.json()["person"]), (200, &"orrin".into()));
}

#[test]
fn a_request_from_another_sites_page_is_refused() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let hand = Hand::enrolled(&ship, "orrin", 11);
    let cookie = session(&ship.url, &hand.key).expect("a session");
    let push = |name: &str, value: &str| {
        let request = ureq::post(format!("{}/api/v1/sync/push", ship.url))
            .header("cookie", &cookie)
            .header(name, value)
            .config()
            .http_status_as_error(false)
            .build();
        request
            .send(&[0_u8; 0][..])
            .expect("an answer")
            .status()
            .as_u16()
    };
    assert_eq!(push("origin", &ship.url), 200);
    assert_eq!(push("origin", "http://elsewhere.example"), 403);
    assert_eq!(push("origin", "null"), 403);
    assert_eq!(push("sec-fetch-site", "cross-site"), 403);
    assert_eq!(push("sec-fetch-site", "same-origin"), 200);
}
