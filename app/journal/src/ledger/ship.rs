//! What the master has put in force, and what is due: the ship's procedures, settings and rounds.

use super::Ledger;
use crate::access::{self, Permission};
use crate::body::{Body, ProcedureBody};
use procedure::{DefectView, PastRun, Procedure, ProcedureHash, Round, Settings};
use record::{Hlc, RecordId};
use std::sync::Arc;

/// A procedure that was published for new runs.
#[derive(Debug, Clone, PartialEq)]
pub struct ProcedureEntry {
    /// The record that carried it.
    pub id: RecordId,
    /// Who published it.
    pub author: String,
    /// When, by their clock, ms UTC.
    pub time_ms: i64,
    /// The procedure.
    pub procedure: Arc<Procedure>,
    /// Its text.
    pub text: ProcedureBody,
}

/// The ship's settings as they were put in force.
#[derive(Debug, Clone, PartialEq)]
pub struct SettingsEntry {
    /// The record that carried them.
    pub id: RecordId,
    /// Who put them in force.
    pub author: String,
    /// When, by their clock, ms UTC.
    pub time_ms: i64,
    /// The settings.
    pub settings: Settings,
}

impl Ledger {
    /// Returns `true` if a record was signed by the ship's authority, or by a key that had the master's
    /// role then.
    pub fn is_masters(&self, id: RecordId) -> bool {
        self.entries.get(&id).is_some_and(|entry| {
            let by_authority = entry.record.device() == self.authority.device();
            (by_authority && !entry.is_pending)
                || access::has_permission(self.roles_of(&entry.record), Permission::PutInForce)
        })
    }

    /// Returns the settings in force now. What a master put in force before the program knew a setting leaves that
    /// one as the program ships it.
    pub fn settings(&self) -> Settings {
        let mut newest_first = self.settings.iter().rev();
        newest_first
            .find(|((_, id), _)| self.is_masters(*id))
            .map_or_else(Settings::defaults, |(_, settings)| settings.over_defaults())
    }

    /// Returns the settings that were in force before `stamp`; those that someone other than a master
    /// wrote down never were.
    pub(super) fn settings_before(&self, stamp: (Hlc, RecordId)) -> Settings {
        let mut before = self.settings.range(..stamp).rev();
        before
            .find(|((_, id), _)| self.is_masters(*id))
            .map_or_else(Settings::defaults, |(_, settings)| settings.over_defaults())
    }

    /// Returns every change of the settings that counts, oldest first.
    pub fn settings_history(&self) -> Vec<SettingsEntry> {
        let counted = self
            .settings
            .iter()
            .filter(|((_, id), _)| self.is_masters(*id));
        counted
            .filter_map(|((_, id), settings)| {
                let record = &self.entries.get(id)?.record;
                Some(SettingsEntry {
                    id: *id,
                    author: record.author().to_string(),
                    time_ms: record.time_ms(),
                    settings: settings.clone(),
                })
            })
            .collect()
    }

    /// Returns every version of `slug` that a master published, oldest first.
    pub fn published(&self, slug: &str) -> Vec<ProcedureEntry> {
        let offered = self.published.get(slug).into_iter().flatten();
        offered
            .filter(|((_, id), _)| self.is_masters(*id))
            .filter_map(|((_, id), hash)| {
                let entry = self.entries.get(id)?;
                let Ok(Body::Procedure(text)) = &entry.body else {
                    return None;
                };
                Some(ProcedureEntry {
                    id: *id,
                    author: entry.record.author().to_string(),
                    time_ms: entry.record.time_ms(),
                    procedure: Arc::clone(self.procedures.get(hash)?),
                    text: text.clone(),
                })
            })
            .collect()
    }

    /// Returns the procedure that a new run of `slug` takes: the ship's published copy, or the library's.
    pub fn current(&self, slug: &str) -> Option<&Arc<Procedure>> {
        self.current_published(slug)
            .and_then(|hash| self.procedures.get(&hash))
            .or_else(|| self.library.iter().find(|known| known.slug() == slug))
    }

    fn current_published(&self, slug: &str) -> Option<ProcedureHash> {
        let mut offered = self.published.get(slug)?.iter().rev();
        offered
            .find(|((_, id), _)| self.is_masters(*id))
            .map(|(_, hash)| *hash)
    }

    /// Returns the procedures that new runs take: the library's in its order, each as the ship has it,
    /// then the ship's own.
    pub fn all_current(&self) -> Vec<Arc<Procedure>> {
        let known = self.library.iter().map(|known| known.slug());
        let own = self.published.keys().map(String::as_str);
        let own = own.filter(|slug| !self.library.iter().any(|known| known.slug() == *slug));
        known
            .chain(own)
            .filter_map(|slug| self.current(slug).cloned())
            .collect()
    }

    /// Returns the text of the procedure that a new run of `slug` takes.
    pub fn current_text(&self, slug: &str) -> Option<ProcedureBody> {
        let own = self.published(slug).pop().map(|entry| entry.text);
        own.or_else(|| self.text_of(slug))
    }

    /// Returns the runs as other runs need to know them.
    pub fn past(&self) -> Vec<PastRun> {
        self.runs
            .values()
            .filter_map(|file| file.past.clone())
            .collect()
    }

    /// Returns every defect that a run raised, with the run; the newest first.
    pub fn defects(&self) -> Vec<(super::RunId, DefectView)> {
        let raised = self
            .runs
            .values()
            .flat_map(|file| file.defects.iter().map(|defect| (file.id, defect.clone())));
        let mut all: Vec<_> = raised.collect();
        all.sort_by_key(|(_, defect)| (std::cmp::Reverse(defect.at_ms), defect.id));
        all
    }

    /// Returns how each procedure that is due at intervals stands, the worst first.
    pub fn rounds(&self, now_ms: i64) -> Vec<Round> {
        let settings = self.settings();
        let is_round = |procedure: &Procedure| {
            let mut dates = settings.dates.iter();
            procedure.every().is_some() || dates.any(|date| date.slug == procedure.slug())
        };
        let procedures: Vec<Procedure> = self
            .all_current()
            .iter()
            .filter(|procedure| is_round(procedure))
            .map(|procedure| procedure.as_ref().clone())
            .collect();
        procedure::rounds_by_date(
            &procedures,
            &settings,
            &self.past(),
            &settings.dates,
            now_ms,
        )
    }
}
