//! The work in order: procedures as data, the state of a run as a pure fold over what happened.
mod decimal;
mod event;
mod ids;
pub use decimal::{Decimal, MAX_DIGITS, NotANumber};
pub use event::{
    ConsentBy, DefectChange, End, Event, Grows, LogEntry, MarkAt, Outcome, Severity, Stamped,
};
pub use ids::{PersonId, ProcedureHash, Role, Roles, StepId};
