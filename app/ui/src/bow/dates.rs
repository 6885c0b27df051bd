//! Who is in date, said where somebody is chosen: whoever is, is offered first; of whoever is not, it is said for what.

use crate::port::Device;
use crate::words::forward as words;
use journal::Person;
use journal::drills::by_date;
use leptos::prelude::*;
use procedure::in_date::InDate;

/// One of the crew to be chosen, with what is said under the name; nothing where they are in date for all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offered {
    /// Who.
    pub person: Person,
    /// For what they are not in date, in words.
    pub not_in_date: Option<String>,
}

/// Says for what a person is not in date.
pub fn said(lacks: &[InDate]) -> Option<String> {
    let titles: Vec<&str> = lacks.iter().map(|lack| lack.title.as_str()).collect();
    (!titles.is_empty()).then(|| words::not_in_date(&titles.join(", ")))
}

/// Offers the crew for a step that names procedures for which they should be in date. A device whose records are not read
/// yet offers everybody, and says nothing of dates.
pub fn offered(device: Device, crew: Vec<Person>, slugs: &[String]) -> Vec<Offered> {
    let now_ms = device.system.now_ms.get_untracked();
    let all = device.records.ledger.with_untracked(|ledger| {
        let ledger = ledger.as_ref().filter(|_| !slugs.is_empty())?;
        Some(by_date(ledger, slugs, crew.clone(), now_ms))
    });
    let all = all.unwrap_or_else(|| crew.into_iter().map(|one| (one, Vec::new())).collect());
    all.into_iter()
        .map(|(person, lacks)| Offered {
            person,
            not_in_date: said(&lacks),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use procedure::in_date::DateState;

    #[test]
    fn who_lacks_nothing_has_nothing_said_and_others_are_told_for_what() {
        let lack = |title: &str| InDate {
            slug: title.to_lowercase(),
            title: title.to_owned(),
            last_at_ms: None,
            until_ms: None,
            state: DateState::Never,
        };
        assert_eq!(said(&[]), None);
        let both = said(&[lack("Drill"), lack("Induction")]);
        assert_eq!(both.as_deref(), Some("Not in date: Drill, Induction"));
    }
}
