//! The ship's gear: things that have names, each of a kind, with what is on record of it.
//!
//! A [`GearKind`] is data, as a procedure is. An item is put on the register, changed, restricted, taken out of service,
//! put back and taken off by records; [`Register`] is what they come to, whatever the order they come in. A run asks it
//! which items there are and whether one may be used at a moment.

mod change;
mod check;
mod day;
mod described;
mod kind;
mod register;
mod standing;

pub use change::{DateKind, GearChange, ItemCard, ItemChange, ItemSide, Room};
pub use check::{ItemFault, Where, check_card, check_code};
pub use day::Day;
pub use described::{Described, is_code as is_described};
pub use kind::{Figure, GearKind, Interval, kind_name, kinds};
pub use register::{GearEvent, GearLine, ItemFile, ItemState, LineChange, Register, Service};
pub use standing::{DUE_SOON_DAYS, NotUsable};
