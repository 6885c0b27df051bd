//! Names: who takes part, by name.
//!
//! Where the step says how long it counts, everyone who is named is in date for its procedure that long after a run of it was
//! completed; [`crate::in_date`] says so. A name of nobody aboard is a visitor's and counts for them alike.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::{KindRules, plain_verdict};
use crate::definition::Span;
use crate::event::{Event, Outcome};
use crate::ids::PersonId;
use crate::parse::FileTable;
use crate::rehearsal::{Answers, done};
use crate::requirement::{Requirement, What};
use crate::run_at::RunAt;
use crate::view::{RunView, StepView, Verdict};
use crate::words;

/// Asks who takes part.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Names {
    /// The fewest who may be named.
    #[n(0)]
    pub at_least: u32,
    /// How long everyone named is in date for this procedure; none where it counts for nobody.
    #[n(1)]
    #[serde(default)]
    pub counts_for: Option<Span>,
    /// The procedures for which everyone named should be in date, by their short names.
    #[n(2)]
    #[serde(default)]
    pub in_date: Option<Vec<String>>,
}

impl KindRules for Names {
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        Some(Self {
            at_least: file.whole("at_least").unwrap_or(1),
            counts_for: file.span("counts_for"),
            in_date: file.slugs("in_date"),
        })
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement::of(What::Names {
            at_least: self.at_least,
            counts_for: self.counts_for.as_ref(),
            in_date: self.in_date.as_deref().unwrap_or_default(),
        })
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        let who = answers.names(usize::try_from(self.at_least).unwrap_or(usize::MAX));
        vec![done(step, Outcome::Names { who })]
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Names { who } if are_people(who))
    }

    fn names(&self) -> Option<&Names> {
        Some(self)
    }

    fn answer_is_consented_to(&self) -> bool {
        true
    }

    fn verdict(&self, at: &RunAt<'_>, outcome: &Outcome) -> Verdict {
        let Outcome::Names { who } = outcome else {
            return plain_verdict(outcome);
        };
        let names: Vec<&str> = who.iter().map(|who| at.name(who)).collect();
        let named = u32::try_from(who.len()).unwrap_or(u32::MAX);
        let within = named >= self.at_least;
        Verdict {
            within,
            words: if within {
                names.join(", ")
            } else {
                words::too_few_named(&names.join(", "), self.at_least)
            },
        }
    }

    fn contradict(&self, one: &Outcome, other: &Outcome) -> bool {
        one != other
    }
}

/// Says whether somebody is named, nobody twice, and no name is empty.
fn are_people(who: &[PersonId]) -> bool {
    let is_first = |(at, one): (usize, &PersonId)| {
        !one.is_nobody() && !who.iter().take(at).any(|other| other.is_same(one))
    };
    !who.is_empty() && who.iter().enumerate().all(is_first)
}
