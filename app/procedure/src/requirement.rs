//! What a step asks for, as a value: a card, a comparison and a page print it, each in its way.

use crate::definition::{Limits, Point, Span};
use crate::ids::{Role, StepId};
use crate::kind::{ChoiceOption, Kind, LogSide, Way};

/// What a kind of step asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Requirement<'a> {
    /// What is asked.
    pub what: What<'a>,
    /// What is read, with its limits; where those come from, [`Limits::resolve`] finds.
    pub points: &'a [Point],
    /// How often an entry, or a call to people inside, is due.
    pub every: Option<&'a Span>,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What<'a> {
    /// That someone says it is so.
    Confirmation,
    /// The readings.
    Readings,
    /// One of these.
    OneOf(&'a [ChoiceOption]),
    /// How many there are.
    Count {
        /// Of what.
        of: &'a str,
        /// How many there may be.
        limits: &'a Limits,
        /// Another step's count, which it must equal.
        same_as: Option<&'a StepId>,
    },
    /// Which item of gear of a kind.
    Item {
        /// The kind's short name.
        kind: &'a str,
    },
    /// The ship's position.
    Position,
    /// A few words.
    Text,
    /// A photograph.
    Photo,
    /// Consent.
    Consent {
        /// Whose.
        of: Role,
        /// It may be heard by radio.
        radio: bool,
    },
    /// That time passes.
    Time {
        /// How long.
        span: &'a Span,
        /// From when: the moment that step was done; none where a press begins it.
        from: Option<&'a StepId>,
    },
    /// Entries, and the word that they are finished.
    Entries {
        /// Which way the cable goes whose log it is.
        cable: Option<Way>,
        /// The newest readings are the step's result.
        newest_counts: bool,
        /// Whose cable it is.
        side: Option<&'a LogSide>,
        /// It begins with the anchor home.
        begins_home: bool,
    },
    /// Who takes part, by name.
    Names {
        /// The fewest who may be named.
        at_least: u32,
        /// How long everyone named is in date for the procedure.
        counts_for: Option<&'a Span>,
        /// The procedures for which they should be in date.
        in_date: &'a [String],
    },
    /// A result for each item of some kinds of gear.
    Each {
        /// The kinds' short names.
        items: &'a [String],
        /// Only those on this side.
        side: Option<&'a str>,
        /// So many have to be good.
        at_least: Option<u32>,
        /// An item may be left out.
        may_leave: bool,
        /// Within how long every item has a result.
        all_within: Option<&'a Span>,
    },
    /// The list of people inside.
    People {
        /// The fewest that may be inside together.
        at_least: u32,
        /// Someone attends at the hatch.
        attendant: bool,
        /// The procedures for which they should be in date.
        in_date: &'a [String],
    },
}

impl<'a> Requirement<'a> {
    /// Makes a requirement without readings and calls.
    pub(crate) fn of(what: What<'a>) -> Self {
        Self {
            what,
            points: &[],
            every: None,
        }
    }
}

impl Kind {
    /// Returns what the kind asks for.
    pub fn requirement(&self) -> Requirement<'_> {
        self.rules().requirement()
    }
}
