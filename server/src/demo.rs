//! The demo: two vessels of our own invention, their crews, and some days of work, written by walking the
//! library's procedures as the crew would.
//!
//! The motor yacht *Aldermere* and her sister *Brackwater*, everyone aboard them and the anchorage are
//! invented. The records are real ones: signed, chained and checked like any other.

mod cast;
mod gear;
mod plan;
mod walk;

use crate::authority::{self, random_seed};
use crate::fleet::Fleet;
use crate::folder_lock::FolderLock;
use crate::settings::default_store;
use cast::Cast;
use journal::Person;
use record::SoftKey;
use std::path::Path;
use std::sync::Arc;
use storage::Arrival;
use walk::{Ending, Story};

/// Why there is no demo.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    /// There are records already.
    #[error("{0} holds records already: the demo is written only into an empty store")]
    NotEmpty(String),
    /// Another program works in the folder.
    #[error(transparent)]
    Lock(#[from] crate::folder_lock::LockError),
    /// The store failed.
    #[error(transparent)]
    Storage(#[from] storage::StorageError),
    /// The vessels could not be opened.
    #[error(transparent)]
    Fleet(#[from] crate::fleet::FleetError),
    /// The ship's key.
    #[error(transparent)]
    Authority(#[from] authority::AuthorityError),
    /// A record of the demo was refused: a mistake in this program.
    #[error("the demo's own work was refused: {0}")]
    Refused(String),
}

/// Where the Aldermere lies, degrees north and east: open ocean, so that no invented danger lies in waters where ships go.
const PLACE: (f64, f64) = (-43.512, -20.061);

const HOUR: i64 = 3_600_000;
const DAY: i64 = 24 * HOUR;

fn person(id: &str, name: &str, rank: &str, roles: &[&str]) -> Person {
    Person {
        id: id.to_owned(),
        name: name.to_owned(),
        rank: rank.to_owned(),
        roles: roles.iter().map(|role| (*role).to_owned()).collect(),
        joins_ms: None,
        leaves_ms: None,
    }
}

fn aldermere_crew() -> Vec<Person> {
    vec![
        person(
            "holt",
            "Maren Holt",
            "master",
            // She also looks after the sister's records, as an office ashore would.
            &["crew", "master", "office-reader", "officer"],
        ),
        person(
            "thorne",
            "Ravi Thorne",
            "chief officer",
            &["crew", "officer"],
        ),
        person(
            "quill",
            "Ines Quill",
            "second officer",
            &["crew", "officer"],
        ),
        person("orrin", "Tam Orrin", "bosun", &["crew"]),
        person("salter", "Wen Salter", "deckhand", &["crew"]),
        person("marsh", "Ivo Marsh", "deckhand", &["crew"]),
    ]
}

fn brackwater_crew() -> Vec<Person> {
    vec![
        person(
            "vane",
            "Odile Vane",
            "master",
            &["crew", "master", "officer"],
        ),
        person("kerr", "Joss Kerr", "chief officer", &["crew", "officer"]),
        person("lind", "Petra Lind", "bosun", &["crew"]),
        person("ash", "Noor Ash", "deckhand", &["crew"]),
    ]
}

/// What has been worked aboard the Aldermere, oldest first: days ago, hour UTC, which, how it ended.
const ALDERMERE: &[(i64, i64, &str, Ending)] = &[
    (6, 8, "windlass-weekly", Ending::Closed),
    (5, 13, "hose-test", Ending::Closed),
    (4, 6, "anchors-ready", Ending::Closed),
    (4, 8, "letting-go", Ending::Closed),
    (3, 5, "weighing", Ending::Closed),
    (3, 7, "secured-for-sea", Ending::Closed),
    (1, 8, "anchors-ready", Ending::WithDefect),
];

/// The same aboard the Brackwater.
const BRACKWATER: &[(i64, i64, &str, Ending)] = &[
    (6, 9, "hose-test", Ending::Closed),
    (5, 9, "windlass-monthly", Ending::Closed),
    (2, 6, "anchors-ready", Ending::Closed),
    (2, 7, "letting-go", Ending::Closed),
];

/// Writes the demo into `data`; returns what to tell the person who asked for it.
///
/// # Errors
/// [`DemoError`] if the store is not empty or fails.
pub async fn write(data: &Path, now_ms: i64) -> Result<String, DemoError> {
    let _lock = FolderLock::take(data, &default_store(data))?;
    let store = storage::open(&default_store(data)).await?;
    if !store.vessels().await?.is_empty() {
        return Err(DemoError::NotEmpty(data.display().to_string()));
    }
    let own = authority::load_or_make(data, &authority::passphrase::PassphraseSource::none())?;
    let sister = SoftKey::from_seed(random_seed()?);
    let fleet = Fleet::open(Arc::clone(&store), None).await?;
    fleet.pin(own.public()).await?;
    fleet.pin(sister.public()).await?;
    // The invented anchorage of Corrow Sound, in the middle of an ocean.
    let aldermere = story(
        &own,
        "Aldermere",
        "motor yacht, 49 m, 690 GT",
        PLACE,
        aldermere_crew(),
        now_ms,
        ALDERMERE,
    )?;
    let brackwater = story(
        &sister,
        "Brackwater",
        "motor yacht, 49 m, 690 GT, sister of Aldermere",
        (-43.655, -20.228),
        brackwater_crew(),
        now_ms,
        BRACKWATER,
    )?;
    let mut half_done = aldermere;
    let begun = now_ms - 35 * 60_000;
    half_done
        .plan(
            "holt",
            "Aldermere",
            PLACE,
            begun - 20 * 60_000,
            now_ms + 2 * HOUR,
        )
        .map_err(DemoError::Refused)?;
    Story::new(&mut half_done, "orrin", "salter", "thorne")
        .work("anchors-ready", begun, Ending::Half)
        .map_err(DemoError::Refused)?;
    let count = half_done.records().len() + brackwater.records().len();
    for cast in [half_done, brackwater] {
        let arrivals = cast
            .records()
            .iter()
            .map(|record| Arrival {
                record: record.clone(),
                // In range again within minutes; the demo's phones keep good time.
                received_ms: record.time_ms() + 2_000,
                offset_ms: Some(0),
            })
            .collect();
        store.append(arrivals).await?;
    }
    store.close().await;
    Ok(format!(
        "{count} records of Aldermere and Brackwater in {}",
        data.display()
    ))
}

fn story<'k>(
    authority: &'k SoftKey,
    name: &str,
    particulars: &str,
    place: (f64, f64),
    crew: Vec<Person>,
    now_ms: i64,
    work: &[(i64, i64, &str, Ending)],
) -> Result<Cast<'k>, DemoError> {
    let hands = [
        crew[1].id.clone(),
        crew[crew.len() - 2].id.clone(),
        crew[crew.len() - 1].id.clone(),
    ];
    let master = crew[0].id.clone();
    let mut cast = Cast::muster(authority, name, particulars, place, crew, now_ms - 8 * DAY)
        .map_err(DemoError::Refused)?;
    cast.describe_cables(&master, now_ms - 7 * DAY)
        .map_err(DemoError::Refused)?;
    let register = gear::body(&cast.ledger, now_ms).map_err(DemoError::Refused)?;
    cast.say(&hands[0], None, register, now_ms - 7 * DAY + HOUR)
        .map_err(DemoError::Refused)?;
    let midnight = now_ms.div_euclid(DAY) * DAY;
    for (days_ago, hour, slug, ending) in work {
        let start = midnight - days_ago * DAY + hour * HOUR;
        if *slug == "letting-go" {
            cast.plan(&master, name, place, start - HOUR, start + HOUR / 2)
                .map_err(DemoError::Refused)?;
        }
        Story::new(&mut cast, &hands[1], &hands[2], &hands[0])
            .work(slug, start, *ending)
            .map_err(|why| DemoError::Refused(format!("{slug}: {why}")))?;
    }
    Ok(cast)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_anchors_were_made_ready_too_long_ago_at_every_hour_of_the_day() {
        // Letting go asks for anchors made ready within 12 hours, and the demo shows the order that this takes.
        for (days_ago, hour, slug, _) in ALDERMERE.iter().chain(BRACKWATER) {
            let worked_for = 3;
            let hours_at_midnight = days_ago * 24 - hour - worked_for;
            assert!(
                *slug != "anchors-ready" || hours_at_midnight >= 12,
                "{days_ago} d"
            );
        }
    }

    #[tokio::test]
    async fn the_demo_is_written_once_and_every_record_holds() {
        let folder = tempfile::tempdir().unwrap();
        let now_ms = 1_795_600_000_000;
        write(folder.path(), now_ms).await.unwrap();
        assert!(matches!(
            write(folder.path(), now_ms).await,
            Err(DemoError::NotEmpty(_))
        ));
        let store = storage::open(&default_store(folder.path())).await.unwrap();
        let source = authority::passphrase::PassphraseSource::none();
        let own = Some(authority::load_or_make(folder.path(), &source).unwrap());
        let fleet = Fleet::open(store, own).await.unwrap();
        let cards = fleet
            .each(|ledger| journal::board::vessel_card(ledger, now_ms))
            .await;
        assert_eq!(cards.len(), 2);
        let aldermere = cards.iter().find(|card| card.name == "Aldermere").unwrap();
        assert_eq!((aldermere.open_runs, aldermere.closed_runs), (1, 7));
        for vessel in cards.iter().map(|card| card.id) {
            let broken = fleet
                .with(vessel, |ledger| {
                    let ids = ledger.entries().map(|entry| entry.record.id());
                    ids.filter(|id| {
                        journal::board::proof(ledger, *id) != journal::board::Proof::Holds
                    })
                    .count()
                })
                .await
                .unwrap();
            assert_eq!(broken, 0);
            let bytes = crate::export::whole(&fleet, vessel).await.unwrap();
            let report = record::export::verify_export(&bytes);
            assert!(report.faults.is_empty(), "{}", report.faults[0]);
        }
    }
}
