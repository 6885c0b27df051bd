//! Plays a procedure with an invented clock and invented people, act by act: for a mate who tries an edit before it is
//! published, and for tests.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::{Answers, Next, next, work};
use crate::crew::Crew;
use crate::definition::Procedure;
use crate::event::{End, Event, LogEntry, RecordedEvent};
use crate::ids::{PersonId, Role, Roles, StepId};
use crate::settings::Settings;
use crate::state::{RunState, fold};
use crate::view::{RunView, StepView};
use crate::write_check::check;

/// The invented people: two hands, an officer, the master.
pub const PEOPLE: [(&str, Role); 4] = [
    ("hand", Role::Crew),
    ("second", Role::Crew),
    ("officer", Role::Officer),
    ("master", Role::Master),
];

/// When an invented run begins, ms UTC: 2026-01-01 00:00.
pub const BEGINS_MS: i64 = 1_767_225_600_000;

/// More acts than any procedure needs.
const MOST_ACTS: usize = 2_000;

/// Who does what, and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Act {
    /// Seconds since the run was begun.
    pub at_s: i64,
    /// One of [`PEOPLE`].
    pub who: String,
    /// What: an event as an export writes it. Another act is named by its number in 64 hexadecimal digits, the first 1.
    pub what: Event,
}

/// How the run stands after an act.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Played {
    /// The act's number; the first is 1.
    pub act: usize,
    /// Seconds since the run was begun.
    pub at_s: i64,
    /// Who did it.
    pub who: String,
    /// Why it was refused; then it is not written.
    pub refused: Option<String>,
    /// Steps that can be worked now.
    pub open: Vec<StepId>,
    /// Steps that are passed.
    pub passed: Vec<StepId>,
    /// What must be looked at, worst first.
    pub alarms: Vec<String>,
    /// The run is closed.
    pub closed: bool,
}

/// A run with invented people, all of them on one device.
#[derive(Debug, Clone)]
pub struct Rehearsal {
    procedure: Arc<Procedure>,
    settings: Settings,
    crew: Arc<Crew>,
    events: Vec<RecordedEvent>,
    /// What those come to.
    state: Arc<RunState>,
    acts: usize,
}

fn role_of(who: &str) -> Option<Role> {
    let mut people = PEOPLE.iter();
    people.find(|(name, _)| *name == who).map(|(_, role)| *role)
}

fn id_of(act: usize) -> [u8; 32] {
    let mut id = [0; 32];
    id[24..].copy_from_slice(&(act as u64).to_be_bytes());
    id
}

impl Rehearsal {
    /// Begins a run of a procedure.
    pub fn begin(procedure: Arc<Procedure>, settings: Settings) -> Self {
        let (hash, slug) = (procedure.hash(), procedure.slug().to_owned());
        let mut crew = Crew::default();
        for (name, role) in PEOPLE {
            crew.add(name.into(), Roles::of(&[role]), (0, 0), (u64::MAX, 0));
        }
        let crew = Arc::new(crew);
        let state = Arc::new(fold(&procedure, &settings, &crew, &[]));
        let mut begun = Self {
            procedure,
            settings,
            crew,
            events: Vec::new(),
            state,
            acts: 0,
        };
        begun.write(
            0,
            "hand",
            Role::Crew,
            Event::Start {
                procedure: hash,
                slug,
                choices: Vec::new(),
                remark: String::new(),
            },
        );
        begun
    }

    fn write(&mut self, at_s: i64, who: &str, role: Role, event: Event) {
        let at_ms = BEGINS_MS.saturating_add(at_s.saturating_mul(1_000));
        let wall = u64::try_from(at_ms).unwrap_or(0);
        let last = self.events.last();
        let hlc = match last {
            Some(last) if last.hlc.0 >= wall => (last.hlc.0, last.hlc.1 + 1),
            _ => (wall, 0),
        };
        self.events.push(RecordedEvent {
            id: id_of(self.acts),
            parents: last.map(|last| last.id).into_iter().collect(),
            hlc,
            at_ms,
            person: who.into(),
            roles: Roles::of(&[role]),
            judged_at: hlc,
            is_withdrawn: false,
            device: [1; 16],
            event,
        });
        let state = fold(&self.procedure, &self.settings, &self.crew, &self.events);
        self.state = Arc::new(state);
    }

    /// Says how the run stands so many seconds after it was begun.
    pub fn view(&self, at_s: i64) -> RunView {
        self.state
            .view(BEGINS_MS.saturating_add(at_s.saturating_mul(1_000)))
    }

    /// Says in which role somebody may do it now, or why they may not.
    pub(super) fn may(&self, at_s: i64, who: &str, event: &Event) -> Result<Role, String> {
        let role = role_of(who).ok_or_else(|| format!("there is nobody called {who}"))?;
        let at_ms = BEGINS_MS.saturating_add(at_s.saturating_mul(1_000));
        let (who, roles) = (PersonId::new(who), Roles::of(&[role]));
        match check(&self.state, at_ms, &who, roles, event) {
            Ok(()) => Ok(role),
            Err(refusal) => Err(refusal.to_string()),
        }
    }

    /// Plays an act; one that is refused is not written. What other runs would have to be is not judged.
    pub fn play(&mut self, act: &Act) -> Played {
        self.acts += 1;
        let refused = match self.may(act.at_s, &act.who, &act.what) {
            Ok(role) => {
                self.write(act.at_s, &act.who, role, act.what.clone());
                None
            }
            Err(why) => Some(why),
        };
        let view = self.view(act.at_s);
        let passed = view.steps.iter().filter(|step| step.passed);
        Played {
            act: self.acts,
            at_s: act.at_s,
            who: act.who.clone(),
            refused,
            passed: passed.map(|step| step.id.clone()).collect(),
            alarms: view
                .alarms
                .iter()
                .map(|alarm| alarm.words.clone())
                .collect(),
            closed: view.closed.is_some(),
            open: view.next,
        }
    }
}

/// The plainest right answers of the invented people.
pub(super) struct Invented;

impl Answers for Invented {
    fn photo(&self) -> Option<[u8; 32]> {
        Some([7; 32])
    }

    fn entries(&self, step: &StepView) -> Vec<LogEntry> {
        super::Plainly.entries(step)
    }

    fn people(&self) -> (PersonId, Vec<PersonId>) {
        ("master".into(), vec!["hand".into(), "second".into()])
    }
}

/// Works a procedure to its end as people would who do what it asks, and lists their acts.
///
/// # Errors
/// What is still open where nobody can go on.
pub fn plain_acts(
    procedure: &Arc<Procedure>,
    settings: &Settings,
) -> Result<Vec<Act>, Vec<String>> {
    let mut run = Rehearsal::begin(Arc::clone(procedure), settings.clone());
    let mut acts = Vec::new();
    let mut at_s = 0;
    while acts.len() < MOST_ACTS {
        let view = run.view(at_s);
        let events = match next(&view) {
            Next::Second { event, .. } => vec![Event::Second { event }],
            Next::Work(step) => work(&view, step, &Invented),
            Next::Wait(until_ms) => {
                at_s = at_s.max((until_ms - BEGINS_MS) / 1_000 + 1);
                continue;
            }
            Next::Close => vec![Event::Close {
                end: End::Completed,
                remark: String::new(),
            }],
            Next::Stuck(open) => return Err(open.to_vec()),
        };
        for event in events {
            at_s += 20;
            let able = PEOPLE
                .iter()
                .map(|(who, _)| (*who, run.may(at_s, who, &event)));
            let Some((who, _)) = able.clone().find(|(_, may)| may.is_ok()) else {
                return Err(able.filter_map(|(_, may)| may.err()).collect());
            };
            let act = Act {
                at_s,
                who: who.to_owned(),
                what: event,
            };
            let closed = run.play(&act).closed;
            acts.push(act);
            if closed {
                return Ok(acts);
            }
        }
    }
    Err(vec!["it does not end".to_owned()])
}
