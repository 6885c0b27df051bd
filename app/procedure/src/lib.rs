//! The work in order: procedures as data, and the state of a run as a pure fold over what happened.
//!
//! A [`Procedure`] is read from a file with [`parse()`]; what happened in a run is a set of [`RecordedEvent`]
//! events; [`fold`] puts them in their causal order and [`RunState::view`] says how the run stands at a
//! moment. Nothing here reads a clock, a disk or a network.

pub mod cable;
pub mod card;
mod crew;
mod decimal;
mod defects;
mod definition;
mod diff;
mod event;
pub mod gear;
mod history;
mod ids;
pub mod in_date;
pub mod kind;
pub mod library;
mod limits;
mod most;
mod parse;
pub mod places;
mod questions;
pub mod rehearsal;
mod requirement;
pub mod rounds;
mod run_at;
mod settings;
mod show;
mod state;
mod translation;
mod view;
mod words;
mod write_check;

pub use cable::{Cable, CableError, Cables};
pub use crew::{Crew, Stamp};
pub use decimal::{Decimal, MAX_DIGITS, NotANumber};
pub use defects::defects;
pub use definition::{
    Bound, Call, Condition, Limits, Need, NeedState, OnFault, Point, Procedure, Skip, Span, Step,
};
pub use diff::{Change, Difference, diff};
pub use event::{
    ConsentBy, DefectChange, DefectTerms, Due, DueEvent, End, Event, Found, Grows, LogEntry,
    MarkAt, Outcome, RecordedEvent, Severity,
};
pub use ids::{PersonId, ProcedureHash, Role, Roles, StepId};
pub use kind::{ChoiceOption, Kind, LogSide, Watch, Way};
pub use most::{MOST_COUNTED, MOST_ENTRIES};
pub use parse::{
    Mistake, parse, parse_aboard, parse_gear_kinds, parse_gear_kinds_on_record, parse_on_record,
};
pub use requirement::{Requirement, What};
pub use rounds::{DueDate, ItemsRound, Round, RoundState, items_rounds, rounds, rounds_by_date};
pub use settings::{SettingBounds, SettingGroup, SettingValue, Settings, Standing};
pub use state::{Context, PastRun, RunState, fold, fold_alone, fold_in};
pub use translation::{StepTexts, TextPart, Translation, TranslationFault};
pub use view::*;
pub use write_check::{Refusal, check};
