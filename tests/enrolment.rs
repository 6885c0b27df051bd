//! Enrolment: the code, the proof, the crew list, and an enroller that closes after wrong guesses.

use crate::support::hand::Hand;
use crate::support::http;
use crate::support::ship::{SEED, Ship, vessel};
use record::{Envelope, SignedCredential, SoftKey};

fn afloat() -> (tempfile::TempDir, Ship) {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    (data, ship)
}

#[test]
fn the_answer_holds_all_that_makes_the_credential_good() {
    let (_data, ship) = afloat();
    let hand = Hand::aboard("thorne", 13);
    let answer = hand.asks(&ship, &ship.code_for("thorne")).json();
    assert_eq!(answer["person"], "thorne");
    assert_eq!(answer["ship"]["name"], "Aldermere");
    assert_eq!(answer["ship"]["authority"], ship.authority.as_str());
    assert_eq!(answer["ship"]["vessel"], vessel().to_string());
    let authority = SoftKey::from_seed(SEED).public();
    let mut ledger = journal::Ledger::new(authority);
    for text in answer["records"].as_array().expect("records") {
        let bytes = record::hex::decode(text.as_str().expect("hex")).expect("hex");
        let envelope = Envelope::decode(&bytes).expect("a record");
        ledger.admit(envelope).expect("the authority's own");
    }
    let holder = &ledger.holders()[&hand.key.device()];
    assert_eq!(holder.credential.person.as_str(), "thorne");
    assert_eq!(holder.credential.roles, ["crew", "officer"]);
    let again = SignedCredential::verify(holder.signed.bytes(), &authority);
    assert!(again.is_ok());
}

#[test]
fn five_wrong_codes_close_the_desk_even_to_the_right_one() {
    let (_data, ship) = afloat();
    let hand = Hand::aboard("orrin", 11);
    for _ in 0..5 {
        let answer = hand.asks(&ship, "0000 000");
        assert_eq!(answer.status, 403, "{}", answer.text());
    }
    let answer = hand.asks(&ship, &ship.code_for("orrin"));
    assert_eq!(answer.status, 429, "{}", answer.text());
    assert!(answer.text().contains("wait"), "{}", answer.text());
    let vector = http::have(&ship.url, vessel(), record::Vector::new()).vector;
    assert_eq!(vector.values().sum::<u64>(), 1, "nothing was written");
}

#[test]
fn a_code_enrols_one_person_once_whoever_brings_it() {
    let (_data, ship) = afloat();
    let code = ship.code_for("orrin");
    let other = Hand::aboard("salter", 12).asks_as_before(&ship, &code);
    assert_eq!(other.status, 400, "{}", other.text());
    assert!(other.text().contains("somebody else"), "{}", other.text());
    let first = Hand::aboard("orrin", 11).asks_as_before(&ship, &code);
    assert_eq!(first.json()["person"], "orrin");
    let again = Hand::aboard("orrin", 12).asks(&ship, &code);
    assert_eq!(again.status, 403, "{}", again.text());
    // The same phone asks again when the answer was lost on the way.
    let repeated = Hand::aboard("orrin", 11).asks(&ship, &code);
    assert_eq!(repeated.json()["person"], "orrin");
    let key_again = Hand::aboard("salter", 11).asks(&ship, &ship.code_for("salter"));
    assert_eq!(key_again.status, 400, "{}", key_again.text());
    assert!(key_again.text().contains("enrolled already"));
}

#[test]
fn the_code_at_the_console_is_the_masters_and_gone_once_the_master_is_enrolled() {
    let (data, ship) = afloat();
    let master = Hand::aboard("holt", 11);
    assert_eq!(master.asks(&ship, &ship.code).json()["person"], "holt");
    let again = Hand::aboard("holt", 12).asks(&ship, &ship.code);
    assert_eq!(again.status, 403, "{}", again.text());
    ship.kill();
    let ship = Ship::start(data.path(), &[]);
    assert_eq!(ship.code, "", "the console shows no other");
}

#[test]
fn a_new_ship_gets_her_name_and_her_master_from_the_first_who_enrols() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::start(data.path(), &[]);
    let door = http::get(&format!("{}/api/v1/enrol", ship.url)).json();
    assert_eq!((&door["is_new"], &door["ship"]), (&true.into(), &"".into()));
    let hand = Hand::aboard("holt", 11);
    let nameless = hand.asks(&ship, &ship.code);
    assert_eq!(nameless.status, 400);
    assert!(
        nameless.text().contains("no name yet"),
        "{}",
        nameless.text()
    );
    let digits: String = ship.code.chars().filter(char::is_ascii_digit).collect();
    let public_key = record::hex::encode(hand.key.public().as_bytes());
    let claim = format!("clearhawse enrolment v2\n{digits}\n{public_key}");
    let question = serde_json::json!({
        "code": digits,
        "public_key": public_key,
        "protection": "software",
        "proof": record::hex::encode(&hand.key.sign(claim.as_bytes())),
        "first": {"ship": "Aldermere", "particulars": "motor yacht", "name": "Maren Holt", "rank": "master"},
    });
    let url = format!("{}/api/v1/enrol", ship.url);
    let answer = http::post(&url, question.to_string().as_bytes()).json();
    assert_eq!(answer["person"], "holt");
    assert_eq!(answer["ship"]["name"], "Aldermere");
    http::sign_in(&ship.url, &hand.key);
    let crew = http::get(&format!("{}/api/v1/crew", ship.url)).json();
    assert_eq!(crew["people"][0]["person"]["roles"][1], "master");
    let door = http::get(&url).json();
    assert_eq!(
        (&door["is_new"], &door["ship"]),
        (&false.into(), &"Aldermere".into())
    );
}

#[test]
fn a_key_that_the_device_does_not_hold_is_refused() {
    let (_data, ship) = afloat();
    let (mine, other) = (SoftKey::from_seed([11; 32]), SoftKey::from_seed([12; 32]));
    let public_key = record::hex::encode(other.public().as_bytes());
    let code = ship.code_for("orrin").replace(' ', "");
    let claim = format!("clearhawse enrolment v2\n{code}\n{public_key}");
    let question = serde_json::json!({
        "code": code,
        "public_key": public_key,
        "protection": "software",
        "proof": record::hex::encode(&mine.sign(claim.as_bytes())),
    });
    let url = format!("{}/api/v1/enrol", ship.url);
    let answer = http::post(&url, question.to_string().as_bytes());
    assert_eq!(answer.status, 400);
    assert!(answer.text().contains("proof"), "{}", answer.text());
}

#[test]
fn the_ships_key_is_the_same_after_a_restart_and_the_code_is_another() {
    let data = tempfile::tempdir().expect("a folder");
    let first = Ship::start(data.path(), &[]);
    let (authority, code) = (first.authority.clone(), first.code.clone());
    first.kill();
    let second = Ship::start(data.path(), &[]);
    assert_eq!(second.authority, authority);
    assert_ne!(second.code, code);
}

/// A phone that left before it heard the answer: the code it had is spent, and its key is vouched for.
#[test]
fn a_phone_that_left_in_the_middle_comes_back_with_a_new_code_and_the_key_that_it_made() {
    let (data, ship) = afloat();
    let hand = Hand::aboard("salter", 12);
    let first = hand.asks(&ship, &ship.code_for("salter"));
    assert_eq!(first.status, 200, "{}", first.text());
    // What is remembered of the moment is gone, the record is not.
    ship.kill();
    let ship = Ship::start(data.path(), &[]);
    let other = hand.asks(&ship, &ship.code_for("orrin"));
    assert_eq!(other.status, 400, "{}", other.text());
    let code = ship.code_for("salter");
    let again = hand.asks(&ship, &code);
    assert_eq!(again.json()["person"], "salter");
    assert_eq!(again.json()["records"], first.json()["records"]);
    let stranger = Hand::aboard("salter", 13);
    assert_eq!(stranger.asks(&ship, &code).status, 403, "it is spent");
    let person = serde_json::json!({
        "name": " wen  SALTER", "rank": "deckhand", "roles": ["crew"],
    });
    let holt = Hand::enrolled(&ship, "holt", 14);
    let cookie = http::session(&ship.url, &holt.key).expect("a session");
    let url = format!("{}/api/v1/crew/person", ship.url);
    let body = person.to_string();
    let named = http::signed(&cookie, &holt.key, "POST", &url, body.as_bytes());
    assert_eq!(named.status, 400, "{}", named.text());
    assert!(named.text().contains("Wen Salter"), "{}", named.text());
}
