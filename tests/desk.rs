//! Enrolment: the code, the proof, the crew list, and a desk that closes after wrong guesses.

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
    let answer = hand.asks(&ship, &ship.code).json();
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
    let answer = hand.asks(&ship, &ship.code);
    assert_eq!(answer.status, 429, "{}", answer.text());
    assert!(answer.text().contains("wait"), "{}", answer.text());
    let vessels = http::get(&format!("{}/api/v1/vessels", ship.url)).json();
    assert_eq!(vessels[0]["records"], 1, "nothing was written");
}

#[test]
fn a_person_whom_the_crew_list_does_not_have_is_refused_by_name() {
    let (_data, ship) = afloat();
    let answer = Hand::aboard("nobody", 11).asks(&ship, &ship.code);
    assert_eq!(answer.status, 400);
    assert!(answer.text().contains("nobody"), "{}", answer.text());
}

#[test]
fn a_key_that_the_device_does_not_hold_is_refused() {
    let (_data, ship) = afloat();
    let (mine, other) = (SoftKey::from_seed([11; 32]), SoftKey::from_seed([12; 32]));
    let claim = format!("clearhawse enrolment v1\n{}\norrin", ship.code);
    let question = serde_json::json!({
        "code": ship.code,
        "person": "orrin",
        "public_key": record::hex::encode(other.public().as_bytes()),
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
