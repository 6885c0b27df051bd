//! What runs against the clock, and what must be looked at.

use serde::{Deserialize, Serialize};

use super::StepView;
use crate::event::Event;
use crate::ids::{PersonId, StepId};

/// What is running against the clock.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Countdown {
    /// The step.
    pub step: StepId,
    /// What ends.
    pub what: CountdownKind,
    /// In words.
    pub words: String,
    /// When, ms UTC.
    pub ends_at_ms: i64,
}

/// What ends when a countdown does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CountdownKind {
    /// A wait is over.
    Wait,
    /// A result goes stale.
    Stale,
    /// A consent ends, such as a permit.
    Consent,
    /// An entry in a log, or a call, is due.
    Entry,
}

/// Something that must be looked at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Alarm {
    /// How urgent.
    pub level: AlarmLevel,
    /// What kind.
    pub kind: AlarmKind,
    /// The step, when there is one.
    pub step: Option<StepId>,
    /// In words.
    pub words: String,
    /// Since when, ms UTC.
    pub since_ms: i64,
    /// The officer who last said that they saw it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seen: Option<SeenView>,
}

/// Who has seen an alarm.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SeenView {
    /// The officer.
    pub by: PersonId,
    /// When they said so, ms UTC.
    pub at_ms: i64,
}

impl Alarm {
    /// Makes an alarm about a step.
    pub(crate) fn of_step(
        level: AlarmLevel,
        kind: AlarmKind,
        step: &StepView,
        words: &str,
        since_ms: i64,
    ) -> Self {
        let step = Some(step.id.clone());
        Self {
            step,
            ..Self::of_run(level, kind, words, since_ms)
        }
    }

    /// Makes an alarm about the run as a whole.
    pub(crate) fn of_run(level: AlarmLevel, kind: AlarmKind, words: &str, since_ms: i64) -> Self {
        Self {
            level,
            kind,
            step: None,
            words: words.to_owned(),
            since_ms,
            seen: None,
        }
    }

    /// Makes the event by which an officer says that they have seen the alarm.
    pub fn acknowledge(&self) -> Event {
        Event::Acknowledge {
            kind: self.kind.name().to_owned(),
            step: self.step.clone(),
            since_ms: self.since_ms,
        }
    }
}

/// How urgent an alarm is, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AlarmLevel {
    /// Someone is in danger: act now.
    Danger,
    /// Act soon.
    Warning,
    /// Know it.
    Notice,
}

/// What kind of alarm it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AlarmKind {
    /// The rescue team is in the space.
    ManDown,
    /// The work is stopped.
    Stopped,
    /// People are in the space who should not be.
    Inside,
    /// A call to the people inside is overdue.
    CallOverdue,
    /// An entry in a log is overdue.
    EntryOverdue,
    /// A reading is out of limits.
    OutOfLimits,
    /// A result has gone stale.
    Stale,
    /// A defect was raised.
    NotSo,
    /// A wait is over.
    WaitOver,
    /// The officer must answer a question.
    Question,
    /// A consent heard by radio was denied, or awaits its countersignature.
    Countersign,
    /// A device's clock does not fit.
    Clock,
    /// The run was closed, and something came in after that.
    AfterClose,
}

impl AlarmKind {
    /// Returns the name by which records know the kind: what it is called in messages too.
    pub const fn name(self) -> &'static str {
        match self {
            Self::ManDown => "man-down",
            Self::Stopped => "stopped",
            Self::Inside => "inside",
            Self::CallOverdue => "call-overdue",
            Self::EntryOverdue => "entry-overdue",
            Self::OutOfLimits => "out-of-limits",
            Self::Stale => "stale",
            Self::NotSo => "not-so",
            Self::WaitOver => "wait-over",
            Self::Question => "question",
            Self::Countersign => "countersign",
            Self::Clock => "clock",
            Self::AfterClose => "after-close",
        }
    }
}
