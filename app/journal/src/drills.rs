//! Who is in date for what: a page of the crew, and what is said where somebody is chosen.

use crate::body::Person;
use crate::ledger::Ledger;
use procedure::in_date::{InDate, all_in_date, counts, in_date};
use procedure::{PersonId, Procedure};
use serde::{Deserialize, Serialize};

/// One of the crew, with how they stand to each drill and induction.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DrillsRow {
    /// Who.
    pub person: Person,
    /// How they stand, in the order of [`DrillsPage::drills`].
    pub dates: Vec<InDate>,
}

/// Who is in date for what.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DrillsPage {
    /// The ship's name.
    pub ship: String,
    /// What counts for those whom it names: short name and title.
    pub drills: Vec<(String, String)>,
    /// Everyone aboard now, by name.
    pub rows: Vec<DrillsRow>,
    /// When they were looked at, ms UTC.
    pub now_ms: i64,
}

/// Says whether a person is aboard at a moment.
fn is_aboard(person: &Person, now_ms: i64) -> bool {
    person.joins_ms.is_none_or(|joins| joins <= now_ms)
        && person.leaves_ms.is_none_or(|leaves| now_ms < leaves)
}

/// Returns the crew that is aboard at a moment, by name.
pub fn aboard(ledger: &Ledger, now_ms: i64) -> Vec<Person> {
    let crew = ledger.particulars().map(|body| body.crew.clone());
    let mut crew = crew.unwrap_or_default();
    crew.retain(|person| is_aboard(person, now_ms));
    crew.sort_by(|a, b| a.name.cmp(&b.name));
    crew
}

/// Makes the page of who is in date for what.
pub fn drills_page(ledger: &Ledger, now_ms: i64) -> DrillsPage {
    let current = ledger.all_current();
    let drills = current.iter().filter(|procedure| counts(procedure));
    let drills: Vec<Procedure> = drills.map(|drill| drill.as_ref().clone()).collect();
    let (settings, past) = (ledger.settings(), ledger.past());
    let row = |person: Person| {
        let who = PersonId::new(person.id.clone());
        let dates = all_in_date(&drills, &settings, &past, &who, now_ms);
        DrillsRow { person, dates }
    };
    DrillsPage {
        ship: ledger
            .particulars()
            .map(|body| body.name.clone())
            .unwrap_or_default(),
        rows: aboard(ledger, now_ms).into_iter().map(row).collect(),
        drills: drills
            .iter()
            .map(|drill| (drill.slug().to_owned(), drill.title().to_owned()))
            .collect(),
        now_ms,
    }
}

/// Returns, for each of some people, for which of the named procedures they are not in date, those first who are in date for all.
pub fn by_date(
    ledger: &Ledger,
    slugs: &[String],
    people: Vec<Person>,
    now_ms: i64,
) -> Vec<(Person, Vec<InDate>)> {
    let (settings, past) = (ledger.settings(), ledger.past());
    let drills: Vec<_> = slugs
        .iter()
        .filter_map(|slug| ledger.current(slug))
        .collect();
    let lacks = |person: &Person| {
        let who = PersonId::new(person.id.clone());
        let of = |drill| in_date(drill, &settings, &past, &who, now_ms);
        let stands = drills.iter().filter_map(|drill| of(drill));
        stands.filter(|stands| !stands.is_in()).collect()
    };
    let mut all: Vec<(Person, Vec<InDate>)> = people
        .into_iter()
        .map(|person| {
            let lacks = lacks(&person);
            (person, lacks)
        })
        .collect();
    all.sort_by_key(|(_, lacks)| lacks.len());
    all
}
