//! Whether an item may be used at a moment, and why not.

use std::fmt;

use super::{DateKind, Day, ItemFile, ItemState, Register, Service};
use crate::crew::Stamp;

/// How many days before one of its ends an item is called to mind.
///
/// Common practice, no source: long enough to send a meter ashore.
pub const DUE_SOON_DAYS: i64 = 30;

/// Why an item may not be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotUsable {
    /// No item of that code is on the register.
    NotThere(String),
    /// It is of another kind than is asked for.
    OtherKind(String),
    /// It was taken off the register.
    Off,
    /// It is out of service, for this reason.
    OutOfService(String),
    /// It has no date of a kind that it must have.
    NoDate(DateKind),
    /// One of its dates is past.
    Past(DateKind, Day),
}

impl fmt::Display for NotUsable {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotThere(code) => write!(to, "no item {code} is on the register"),
            Self::OtherKind(name) => {
                write!(to, "this is not what is asked for: it is of kind {name}")
            }
            Self::Off => to.write_str("it was taken off the register"),
            Self::OutOfService(reason) if reason.is_empty() => to.write_str("out of service"),
            Self::OutOfService(reason) => write!(to, "out of service: {reason}"),
            Self::NoDate(date) => {
                write!(to, "no date stands in the register for '{}'", date.words())
            }
            Self::Past(date, day) => write!(to, "{} {day}, which is past", date.words()),
        }
    }
}

impl ItemState {
    /// Returns the end that comes first, of those that the item has.
    pub fn first_end(&self) -> Option<(DateKind, Day)> {
        let ends = self.card.dates.iter().filter(|(date, _)| date.is_end());
        ends.min_by_key(|(_, day)| *day).copied()
    }
}

impl Register {
    /// Returns why an item may not be used, as it stands in `state`, on a day.
    pub fn not_usable(&self, state: &ItemState, today: Day) -> Option<NotUsable> {
        match &state.service {
            Service::Off => return Some(NotUsable::Off),
            Service::Out(reason) => return Some(NotUsable::OutOfService(reason.clone())),
            Service::In | Service::Restricted(_) => {}
        }
        if let Some((date, day)) = state.first_end()
            && day < today
        {
            return Some(NotUsable::Past(date, day));
        }
        let wanted = self.kind(&state.card.kind).map(|kind| &kind.dates);
        let mut missing = wanted.into_iter().flatten();
        let missing = missing.find(|date| state.card.date(**date).is_none());
        missing.map(|date| NotUsable::NoDate(*date))
    }

    /// Returns why the item of that code may not be used as one of `kind` at a moment, on a day.
    ///
    /// # Errors
    /// [`NotUsable`] says why.
    pub fn usable(
        &self,
        code: &str,
        kind: &str,
        moment: Option<Stamp>,
        today: Day,
    ) -> Result<&ItemFile, NotUsable> {
        let found = self.item(code);
        let state = found.and_then(|file| file.at(moment));
        let (Some(file), Some(state)) = (found, state) else {
            return Err(NotUsable::NotThere(code.to_owned()));
        };
        if state.card.kind != kind {
            let name = self.kind_name(&state.card.kind).to_owned();
            return Err(NotUsable::OtherKind(name));
        }
        self.not_usable(state, today).map_or(Ok(file), Err)
    }
}
