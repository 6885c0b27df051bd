//! What a screen needs to show of a run, at one moment.

use serde::{Deserialize, Serialize};

use crate::Decimal;
use crate::definition::{OnFault, Skip};
use crate::event::{Event, LogEntry};
use crate::ids::{PersonId, ProcedureHash, Role, StepId, hex_id, hex_id_option};
use crate::kind::{ChoiceOption, Kind};

mod alarm;
mod defect;
mod item;
mod message;
mod second;

pub use defect::{DefectLine, DefectView};
pub use item::ItemView;
pub use message::MessageView;
pub use second::SecondWanted;

pub use alarm::{Alarm, AlarmKind, AlarmLevel, Countdown, CountdownKind, SeenView};

/// A run at one moment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunView {
    /// The procedure's short name.
    pub slug: String,
    /// The procedure's title.
    pub title: String,
    /// The procedure's edition.
    pub edition: String,
    /// The identity of the procedure with which this view was made.
    pub procedure: ProcedureHash,
    /// The run pins another procedure than the one it was folded with.
    pub wrong_procedure: bool,
    /// Cautions that hold for the whole of it.
    pub cautions: Vec<String>,
    /// What the run is for.
    pub remark: String,
    /// What was chosen before the start.
    pub choices: Vec<(String, String)>,
    /// Who started it.
    pub started_by: Option<PersonId>,
    /// When it was started, ms UTC.
    pub started_at_ms: Option<i64>,
    /// When something last happened in it, ms UTC.
    pub last_at_ms: Option<i64>,
    /// The steps in their order.
    pub steps: Vec<StepView>,
    /// Steps that can be worked now, in order.
    pub next: Vec<StepId>,
    /// Holds whose turn it is and that wait for consent.
    pub holds: Vec<StepId>,
    /// How far it is.
    pub progress: Progress,
    /// Questions for the officer.
    pub questions: Vec<QuestionView>,
    /// Defects raised in this run, and open ones from elsewhere on the gear that it touches.
    pub defects: Vec<DefectView>,
    /// Who attends at the hatch of a space.
    #[serde(default)]
    pub attendants: Vec<AttendantView>,
    /// Messages between bow and bridge, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub messages: Vec<MessageView>,
    /// Who is in the space, and since when.
    pub inside: Vec<InsideView>,
    /// What is running against the clock.
    pub countdowns: Vec<Countdown>,
    /// What must be looked at, worst first.
    pub alarms: Vec<Alarm>,
    /// The work is stopped.
    pub stopped: Option<StopView>,
    /// How and when it was closed.
    pub closed: Option<CloseView>,
    /// What still keeps it from being closed.
    pub open_before_close: Vec<String>,
    /// Everything that happened, in order, in words.
    pub history: Vec<HistoryLine>,
}

/// A step at one moment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a fact of its own, and a screen asks for each alone"
)]
pub struct StepView {
    /// Its name.
    pub id: StepId,
    /// Its number in the procedure, from 1.
    pub number: u32,
    /// The part of the work that it belongs to.
    pub section: String,
    /// What to do.
    pub instruction: String,
    /// Why.
    pub why: String,
    /// How it is done, a line for each part.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub how: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// What is asked for.
    pub kind: Kind,
    /// The place of the drawn foredeck that it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<u32>,
    /// It belongs to this run, by what was chosen.
    pub applies: bool,
    /// How it stands.
    pub status: Status,
    /// How it stands, in words.
    pub words: String,
    /// It counts as passed: what comes after it may begin.
    pub passed: bool,
    /// Its result is no longer good, and nothing needs it any more: all that stood on it is done.
    #[serde(default)]
    pub spent: bool,
    /// It can be worked now.
    pub open: bool,
    /// Who may do it.
    pub may_do: Role,
    /// Who did it, or whose word counts.
    pub by: Option<PersonId>,
    /// When, ms UTC.
    pub at_ms: Option<i64>,
    /// It was done before what it waits for, as the device saw it.
    pub out_of_sequence: bool,
    /// Readings, with their limits.
    pub points: Vec<PointView>,
    /// What can be chosen.
    pub options: Vec<ChoiceOption>,
    /// The items of gear of which one is asked for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub items: Vec<ItemView>,
    /// What was answered: the option, the count, the position or the words.
    pub answer: Option<String>,
    /// The photograph's hash.
    #[serde(with = "hex_id_option")]
    pub photo: Option<[u8; 32]>,
    /// Whether a second person must sign, and who has.
    pub second: SecondView,
    /// The work has gone past it, and a second person's signature is wanted still.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub second_later: bool,
    /// Until when its result is good, ms UTC.
    pub good_until_ms: Option<i64>,
    /// When a wait ends, ms UTC.
    pub ends_at_ms: Option<i64>,
    /// A consent that was heard by radio, and awaits the officer's countersignature.
    pub awaiting_countersign: Option<AwaitingView>,
    /// Entries of a log.
    pub log: Vec<LogView>,
    /// When the next entry or call is due, ms UTC.
    pub entry_due_ms: Option<i64>,
    /// Defects that stand on it, by the event that raised them.
    pub defects: Vec<DefectView>,
    /// What a fault does.
    pub on_fault: OnFault,
    /// Who may leave it undone.
    pub skip: Skip,
    /// The officer let the work go on past it, for this reason.
    pub gone_on: Option<String>,
    /// The event whose result counts.
    #[serde(with = "hex_id_option")]
    pub event: Option<[u8; 32]>,
}

/// How a step stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "is", content = "because")]
pub enum Status {
    /// It can be done now.
    ToDo,
    /// Something else comes first.
    Waiting(String),
    /// It cannot go on without consent.
    Held,
    /// Done.
    Done,
    /// A reading is out of limits.
    OutOfLimits,
    /// Its result is no longer good.
    Stale,
    /// Left undone, for this reason.
    NotDone(String),
    /// What it asks for is not so: a defect.
    NotSo(String),
}

/// One point of a reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PointView {
    /// Its name.
    pub key: String,
    /// What it is.
    pub label: String,
    /// Unit.
    pub unit: String,
    /// Its limits, as numbers.
    pub limits: LimitsView,
    /// What was read.
    pub value: Option<Decimal>,
    /// Who read it.
    pub by: Option<PersonId>,
    /// When, ms UTC.
    pub at_ms: Option<i64>,
    /// What that means.
    pub verdict: Option<Verdict>,
    /// The event that counts.
    #[serde(with = "hex_id_option")]
    pub event: Option<[u8; 32]>,
}

/// Limits as numbers, with where they come from.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct LimitsView {
    /// At least.
    pub min: Option<Decimal>,
    /// More than.
    pub above: Option<Decimal>,
    /// At most.
    pub max: Option<Decimal>,
    /// Less than.
    pub below: Option<Decimal>,
    /// Settings or computed values that a limit names and nobody has set: no reading passes.
    pub unknown: Vec<String>,
    /// In words, such as "at least 20.9 %".
    pub words: String,
    /// Where the limits come from.
    pub source: String,
    /// What is called for from which number on, in the file's order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub calls: Vec<CallView>,
    /// The number is a date in eight digits, and `min` is today's.
    #[serde(default)]
    pub is_date: bool,
}

/// What is called for from a number on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CallView {
    /// From this number on.
    pub from: Decimal,
    /// What to do then.
    pub say: String,
}

/// What a value means against its limits.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Verdict {
    /// It is within them.
    pub within: bool,
    /// In words, such as "20.8 is below the limit of 20.9 %".
    pub words: String,
}

/// Whether a second person must sign.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SecondView {
    /// One person is enough.
    NotNeeded,
    /// The step is to do; a second person will have to sign.
    Needed,
    /// A second person's signature is wanted for this event.
    Wanted {
        /// The newest event to sign for.
        #[serde(with = "hex_id")]
        event: [u8; 32],
        /// Who may not sign, because they did it.
        not_by: Vec<PersonId>,
    },
    /// Signed.
    Signed {
        /// By whom.
        by: PersonId,
        /// When, ms UTC.
        at_ms: i64,
    },
}

/// A consent heard by radio that is not yet countersigned.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AwaitingView {
    /// The consent.
    #[serde(with = "hex_id")]
    pub event: [u8; 32],
    /// Who was heard.
    pub from: PersonId,
    /// Who wrote it down.
    pub heard_by: PersonId,
}

/// One entry of a log.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LogView {
    /// The event.
    #[serde(with = "hex_id")]
    pub event: [u8; 32],
    /// Who wrote it.
    pub by: PersonId,
    /// When, ms UTC.
    pub at_ms: i64,
    /// The entry.
    pub entry: LogEntry,
    /// In words.
    pub words: String,
    /// Readings of it that are out of limits, in words.
    pub wrong: Vec<String>,
    /// It was struck out.
    pub struck: bool,
}

/// How far a run is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Progress {
    /// Steps that count as passed, or whose result was good while it was needed.
    pub passed: u32,
    /// Steps that belong to this run.
    pub total: u32,
    /// Steps out of limits, not so, or stale.
    pub wrong: u32,
    /// Holds that wait for consent now.
    pub held: u32,
}

/// A question that the records raised.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct QuestionView {
    /// Its name, for the answer.
    pub id: String,
    /// The step that it is about.
    pub step: StepId,
    /// In words.
    pub words: String,
    /// The events between which it is; the answer names one that stands, or none.
    pub events: Vec<QuestionEvent>,
    /// The answer, once it is given.
    pub answer: Option<AnswerView>,
}

/// One of the events between which a question is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct QuestionEvent {
    /// The event.
    #[serde(with = "hex_id")]
    pub event: [u8; 32],
    /// Who.
    pub by: PersonId,
    /// When, ms UTC.
    pub at_ms: i64,
    /// What, in words.
    pub words: String,
}

/// The answer to a question.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AnswerView {
    /// Who answered.
    pub by: PersonId,
    /// When, ms UTC.
    pub at_ms: i64,
    /// The event that stands, if any does.
    #[serde(with = "hex_id_option")]
    pub stands: Option<[u8; 32]>,
    /// Why.
    pub reason: String,
}

/// Someone in the space.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct InsideView {
    /// Who.
    pub who: PersonId,
    /// The step that keeps the list.
    pub step: StepId,
    /// Since when, ms UTC.
    pub since_ms: i64,
    /// They are of the rescue team, under breathing apparatus.
    #[serde(default)]
    pub rescuer: bool,
}

/// Someone who attends at the hatch of a space.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AttendantView {
    /// Who.
    pub who: PersonId,
    /// The step that keeps the list.
    pub step: StepId,
}

/// The work is stopped.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StopView {
    /// Who called it.
    pub by: PersonId,
    /// When, ms UTC.
    pub at_ms: i64,
    /// Why.
    pub cause: String,
}

/// How a run was closed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CloseView {
    /// Who closed it.
    pub by: PersonId,
    /// When, ms UTC.
    pub at_ms: i64,
    /// How.
    pub end: crate::event::End,
    /// Remark.
    pub remark: String,
}

/// One line of a run's history.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HistoryLine {
    /// The event's identity.
    #[serde(with = "hex_id")]
    pub id: [u8; 32],
    /// The step, when it names one.
    pub step: Option<StepId>,
    /// Who.
    pub by: PersonId,
    /// When, ms UTC.
    pub at_ms: i64,
    /// In words.
    pub words: String,
    /// Who struck it out, and why.
    pub struck: Option<(PersonId, String)>,
    /// It came before what it waits for, as its device saw it.
    pub out_of_sequence: bool,
    /// The one who signed had no right to it; it is kept and counts for nothing.
    pub without_right: bool,
    /// The event itself.
    pub event: Event,
}
