//! Entries that are in order, and those that are not.

use super::*;
use record::SoftKey;

fn ledger() -> Ledger {
    Ledger::new(SoftKey::from_seed([1; 32]).public())
}

fn body() -> VesselBody {
    first_body("Aldermere", "motor yacht", ("Maren Holt", "master"), false).unwrap()
}

fn draft(name: &str) -> PersonDraft {
    PersonDraft {
        id: None,
        name: name.to_owned(),
        rank: "bosun".to_owned(),
        roles: vec!["crew".to_owned()],
        joins_ms: None,
        leaves_ms: None,
    }
}

#[test]
fn the_first_person_of_a_vessel_is_her_master_and_of_an_office_its_administrator() {
    let aboard = body();
    assert_eq!(aboard.crew[0].id, "holt");
    assert_eq!(aboard.crew[0].roles, ["crew", "master", "officer"]);
    assert!(!aboard.is_ashore());
    let office = first_body("The office", "", ("Ada Finch", "superintendent"), true).unwrap();
    assert_eq!(
        office.crew[0].roles,
        ["office-administrator", "office-reader"]
    );
    assert!(office.is_ashore());
    let nameless = first_body(" ", "", ("Ada Finch", "superintendent"), true);
    assert_eq!(nameless, Err(CrewError::Missing("name of the vessel")));
}

#[test]
fn two_of_one_name_have_two_identities_and_none_is_the_ships_own() {
    let (body, first) = with_person(&ledger(), &body(), &draft("Tam Orrin")).unwrap();
    let (body, second) = with_person(&ledger(), &body, &draft("Wen Orrin")).unwrap();
    assert_eq!((first.id.as_str(), second.id.as_str()), ("orrin", "orrin2"));
    let (body, third) = with_person(&ledger(), &body, &draft("Jo Ship")).unwrap();
    assert_eq!(third.id, "ship2");
    let (_, fourth) = with_person(&ledger(), &body, &draft("Юрий")).unwrap();
    assert_eq!(fourth.id, "person");
}

#[test]
fn an_entry_that_is_not_in_order_is_refused_with_what_is_wrong() {
    let refused = |change: fn(&mut PersonDraft)| {
        let mut draft = draft("Tam Orrin");
        change(&mut draft);
        with_person(&ledger(), &body(), &draft)
            .unwrap_err()
            .to_string()
    };
    assert!(refused(|d| d.name = "  ".to_owned()).contains("name"));
    assert!(refused(|d| d.rank = "x".repeat(129)).contains("129"));
    assert!(refused(|d| d.roles = vec!["admiral".to_owned()]).contains("admiral"));
    assert!(refused(|d| d.roles.clear()).contains("role"));
    assert!(refused(|d| d.id = Some("nobody".to_owned())).contains("nobody"));
    assert!(
        refused(|d| {
            d.joins_ms = Some(5);
            d.leaves_ms = Some(5);
        })
        .contains("leaving")
    );
}

#[test]
fn the_last_master_cannot_give_the_role_away() {
    let mut change = draft("Maren Holt");
    change.id = Some("holt".to_owned());
    let answer = with_person(&ledger(), &body(), &change);
    assert_eq!(answer.unwrap_err(), CrewError::LastMaster);
}
