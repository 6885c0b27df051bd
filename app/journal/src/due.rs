//! What is past its date, or soon will be: items of the gear, defects that must be gone, and acceptances that are over.

use crate::ledger::{Ledger, RunId};
use procedure::gear::{DUE_SOON_DAYS, DateKind, Day, Service};
use procedure::{DefectView, Due};
use serde::{Deserialize, Serialize};

/// What is due.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "is")]
pub enum DueWhat {
    /// An item of the gear.
    Item {
        /// Its code.
        code: String,
        /// Its name.
        name: String,
        /// Which of its dates.
        date: DateKind,
        /// The day.
        day: Day,
    },
    /// A defect that must be gone.
    Defect {
        /// What is wrong.
        text: String,
        /// By when.
        due: Due,
    },
    /// A defect whose acceptance is over.
    Accepted {
        /// What is wrong.
        text: String,
        /// Until when it was accepted, ms UTC.
        until_ms: i64,
    },
}

/// One line of what is due.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DueRow {
    /// What.
    pub what: DueWhat,
    /// In how many days; less than none where it is past.
    pub days: i64,
    /// The work that waits for it: procedures' titles.
    pub holds: Vec<String>,
}

impl DueRow {
    /// Returns whether it is past.
    pub fn is_past(&self) -> bool {
        self.days < 0
    }
}

/// Lists the procedures in force that ask for an item of a kind, or put gear of it to work.
fn waiting_for(ledger: &Ledger, kind: &str) -> Vec<String> {
    let register = ledger.register();
    let called = register.kind(kind);
    let all = ledger.all_current();
    let waits = all.iter().filter(|procedure| {
        procedure.steps().iter().any(|step| {
            let is_called = |gear: &String| called.is_some_and(|kind| kind.is_called(gear));
            step.kind.asks_for(kind) || step.uses().iter().any(is_called)
        })
    });
    waits
        .map(|procedure| procedure.title().to_owned())
        .collect()
}

fn items(ledger: &Ledger, today: Day) -> Vec<DueRow> {
    let due = ledger.register().items().filter_map(|file| {
        let state = file.now();
        let (date, day) = state.first_end()?;
        let days = day.days_after(today)?;
        let is_out = matches!(state.service, Service::Out(_));
        (days <= DUE_SOON_DAYS && !is_out).then(|| DueRow {
            what: DueWhat::Item {
                code: file.code.clone(),
                name: state.card.name.clone(),
                date,
                day,
            },
            days,
            holds: if days < 0 {
                waiting_for(ledger, &state.card.kind)
            } else {
                Vec::new()
            },
        })
    });
    due.collect()
}

fn of_defect(ledger: &Ledger, defect: DefectView, today: Day, now_ms: i64) -> Option<DueRow> {
    let row = |what, days, holds| Some(DueRow { what, days, holds });
    if !defect.open {
        return None;
    }
    if defect.is_past_accepted(now_ms) {
        let until_ms = defect.accepted_until_ms?;
        let days = Day::of_ms(until_ms).days_after(today)?.min(-1);
        let text = defect.text;
        return row(DueWhat::Accepted { text, until_ms }, days, Vec::new());
    }
    let due = defect.due?;
    let (days, holds) = match due {
        Due::On { day } => {
            let days = day.days_after(today)?;
            let holds = if days < 0 && defect.due_holds {
                defect.gear.clone()
            } else {
                Vec::new()
            };
            (days, holds)
        }
        // It is due when the work that it comes before is begun.
        Due::Before { .. } => {
            let mut open = ledger
                .open_runs()
                .filter_map(|file| file.procedure.as_ref());
            let begun = open.find(|procedure| defect.is_due_before(procedure.slug()))?;
            let title = begun.title().to_owned();
            (
                -1,
                if defect.due_holds {
                    vec![title]
                } else {
                    Vec::new()
                },
            )
        }
    };
    let text = defect.text;
    (days <= DUE_SOON_DAYS).then_some(())?;
    row(DueWhat::Defect { text, due }, days, holds)
}

/// Lists what is past its date or soon will be, the latest first.
pub fn due(ledger: &Ledger, now_ms: i64) -> Vec<DueRow> {
    let today = Day::of_ms(now_ms);
    let mut all = items(ledger, today);
    let defects = ledger.defects().into_iter();
    all.extend(
        defects.filter_map(|(_, defect): (RunId, _)| of_defect(ledger, defect, today, now_ms)),
    );
    all.sort_by_key(|row| row.days);
    all
}
