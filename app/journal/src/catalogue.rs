//! What the ship's own pages are shown: procedures, rounds and settings, as plain values made from a ledger.

use crate::body::Person;
use crate::ledger::{Ledger, RunId};
use procedure::{
    DefectView, Difference, DueDate, ItemsRound, Procedure, ProcedureHash, Round, SettingValue,
    Settings,
};
use record::RecordId;
use serde::{Deserialize, Serialize};

/// Who put something in force, and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct InForce {
    /// The record that did.
    pub id: RecordId,
    /// Their name.
    pub by: String,
    /// When, by their clock, ms UTC.
    pub at_ms: i64,
}

/// One procedure in the list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProcedureCard {
    /// Short name.
    pub slug: String,
    /// Title.
    pub title: String,
    /// Edition.
    pub edition: String,
    /// What it is for.
    pub purpose: String,
    /// Identity.
    pub hash: ProcedureHash,
    /// Who published the ship's copy; none where the library's is in force.
    pub published: Option<InForce>,
}

/// One published version.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Version {
    /// Who published it, and when.
    pub published: InForce,
    /// Its edition.
    pub edition: String,
    /// Its identity.
    pub hash: ProcedureHash,
    /// What it changed of the one before: the earlier version's, or the library's.
    pub changed: Vec<Difference>,
}

/// One procedure with everything about it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProcedurePage {
    /// The procedure that new runs take.
    pub card: ProcedureCard,
    /// The same, step by step.
    pub procedure: Procedure,
    /// Its file's name.
    pub file: String,
    /// Its file's text.
    pub text: String,
    /// What the ship's copy has otherwise than the library's; none where the library has no such procedure.
    pub to_library: Option<Vec<Difference>>,
    /// The published versions, newest first.
    pub versions: Vec<Version>,
    /// The settings in force, for the limits.
    pub settings: Settings,
}

/// One of the ship's settings.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SettingRow {
    /// Its name.
    pub key: String,
    /// What it is for.
    pub words: String,
    /// Value, unit and source.
    pub value: SettingValue,
    /// Who put this value in force; none where it is the program's.
    pub set: Option<InForce>,
}

/// The ship's settings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SettingsPage {
    /// Every setting, by name.
    pub rows: Vec<SettingRow>,
    /// The same, as they are put in force.
    pub settings: Settings,
}

/// What is due.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RoundsPage {
    /// The ship's name.
    pub ship: String,
    /// Every round, the worst first.
    pub rounds: Vec<Round>,
    /// When they were looked at, ms UTC.
    pub now_ms: i64,
    /// Dates by which rounds are due, whatever their interval.
    #[serde(default)]
    pub dates: Vec<DueDate>,
    /// What can be due by a date: short name and title of every procedure.
    #[serde(default)]
    pub titles: Vec<(String, String)>,
    /// The settings in force, for a change of the dates.
    #[serde(default)]
    pub settings: Settings,
    /// How the items of rounds stand of which a run takes but some.
    #[serde(default)]
    pub items: Vec<ItemsRound>,
}

/// One defect, with where it was found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DefectRow {
    /// The run in which it was raised, and in which what becomes of it is written down.
    pub run: RunId,
    /// The procedure's title.
    pub title: String,
    /// The step at which it was raised, in words.
    pub instruction: String,
    /// The defect.
    pub defect: DefectView,
}

/// Every defect that the records name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DefectsPage {
    /// The newest first.
    pub defects: Vec<DefectRow>,
    /// The crew, for names.
    pub crew: Vec<Person>,
    /// When they were looked at, ms UTC.
    pub now_ms: i64,
}

fn card(ledger: &Ledger, procedure: &Procedure) -> ProcedureCard {
    let newest = ledger.published(procedure.slug()).pop();
    ProcedureCard {
        slug: procedure.slug().to_owned(),
        title: procedure.title().to_owned(),
        edition: procedure.edition().to_owned(),
        purpose: procedure.purpose().to_owned(),
        hash: procedure.hash(),
        published: newest.map(|entry| InForce {
            id: entry.id,
            by: ledger.name_of(&entry.author).to_owned(),
            at_ms: entry.time_ms,
        }),
    }
}

/// Lists the procedures that new runs take.
pub fn procedures(ledger: &Ledger) -> Vec<ProcedureCard> {
    let all = ledger.all_current();
    all.iter()
        .map(|procedure| card(ledger, procedure))
        .collect()
}

/// Makes a procedure's page; `None` where neither the library nor the ship has one of that name.
pub fn procedure_page(ledger: &Ledger, slug: &str) -> Option<ProcedurePage> {
    let procedure = ledger.current(slug)?;
    let library = ledger.library().iter().find(|known| known.slug() == slug);
    let text = ledger.current_text(slug)?;
    let mut before = library.cloned();
    let mut versions: Vec<Version> = Vec::new();
    for entry in ledger.published(slug) {
        let changed = before
            .as_ref()
            .map(|before| procedure::diff(before, &entry.procedure))
            .unwrap_or_default();
        versions.push(Version {
            published: InForce {
                id: entry.id,
                by: ledger.name_of(&entry.author).to_owned(),
                at_ms: entry.time_ms,
            },
            edition: entry.procedure.edition().to_owned(),
            hash: entry.procedure.hash(),
            changed,
        });
        before = Some(entry.procedure);
    }
    versions.reverse();
    Some(ProcedurePage {
        card: card(ledger, procedure),
        procedure: procedure.as_ref().clone(),
        file: text.file,
        text: text.text,
        to_library: library.map(|library| procedure::diff(library, procedure)),
        versions,
        settings: ledger.settings(),
    })
}

/// Makes the page of the ship's settings.
pub fn settings_page(ledger: &Ledger) -> SettingsPage {
    let settings = ledger.settings();
    let history = ledger.settings_history();
    let set = |key: &str, value: &SettingValue| {
        // The oldest change since which the value has stood as it is.
        let stood = history
            .iter()
            .rev()
            .take_while(|entry| entry.settings.get(key) == Some(value));
        let first = stood.last()?;
        let is_programs = Settings::defaults().get(key) == Some(value);
        (!is_programs).then(|| InForce {
            id: first.id,
            by: ledger.name_of(&first.author).to_owned(),
            at_ms: first.time_ms,
        })
    };
    let rows = settings
        .iter()
        .map(|(key, value)| SettingRow {
            key: key.to_owned(),
            words: Settings::words(key).unwrap_or_default().to_owned(),
            value: value.clone(),
            set: set(key, value),
        })
        .collect();
    SettingsPage { rows, settings }
}

fn items_of_rounds(ledger: &Ledger, settings: &Settings, now_ms: i64) -> Vec<ItemsRound> {
    let current = ledger.all_current();
    let sampling = current.iter().filter(|procedure| {
        let mut each = procedure.steps().iter().filter_map(|step| step.kind.each());
        each.any(|each| each.all_within.is_some())
    });
    let sampling: Vec<Procedure> = sampling.map(|one| one.as_ref().clone()).collect();
    procedure::items_rounds(
        &sampling,
        settings,
        &ledger.past(),
        ledger.register(),
        now_ms,
    )
}

/// Makes the page of what is due.
pub fn rounds_page(ledger: &Ledger, now_ms: i64) -> RoundsPage {
    let settings = ledger.settings();
    RoundsPage {
        ship: ledger
            .particulars()
            .map(|body| body.name.clone())
            .unwrap_or_default(),
        dates: settings.dates.clone(),
        titles: ledger
            .all_current()
            .iter()
            .map(|procedure| (procedure.slug().to_owned(), procedure.title().to_owned()))
            .collect(),
        items: items_of_rounds(ledger, &settings, now_ms),
        settings,
        rounds: ledger.rounds(now_ms),
        now_ms,
    }
}

/// Makes the page of defects.
pub fn defects_page(ledger: &Ledger, now_ms: i64) -> DefectsPage {
    let row = |(run, defect): (RunId, DefectView)| {
        let procedure = ledger.run(run).and_then(|file| file.procedure.as_ref());
        let step = procedure.and_then(|procedure| procedure.step(&defect.step));
        DefectRow {
            run,
            title: procedure.map_or_else(|| defect.slug.clone(), |p| p.title().to_owned()),
            instruction: step
                .map(|step| step.instruction.clone())
                .unwrap_or_default(),
            defect,
        }
    };
    DefectsPage {
        defects: ledger.defects().into_iter().map(row).collect(),
        crew: ledger
            .particulars()
            .map(|body| body.crew.clone())
            .unwrap_or_default(),
        now_ms,
    }
}
