//! Hold: nothing passes without consent.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use crate::definition::Skip;
use crate::event::{ConsentBy, Event, Outcome};
use crate::ids::{PersonId, Role};
use crate::parse::{ABOARD, FileTable, StepCheck};
use crate::rehearsal::Answers;
use crate::requirement::{Requirement, What};
use crate::run_at::{FOR_EVER, RunAt, StepState};
use crate::view::{RunView, Status, StepView};
use crate::words;

/// Asks for consent.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Hold {
    /// Whose consent.
    #[n(0)]
    pub consent: Role,
    /// It may be heard by radio and countersigned later.
    #[n(1)]
    pub radio: bool,
}

impl KindRules for Hold {
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        let consent = file.word("consent", &ABOARD[1..]);
        if !file.has("consent") {
            file.mistake("a hold needs 'consent': \"officer\" or \"master\"");
        }
        let network_only = file.yes_or_no("network_only");
        Some(Self {
            consent: consent?,
            radio: !network_only,
        })
    }

    fn check(&self, check: &mut StepCheck<'_, '_>) {
        if check.step.skip != Skip::Never {
            check.mistake("skip", "a hold can never be left out; take 'skip' away");
        }
        if check.has("by") {
            check.mistake(
                "by",
                "a hold names who may pass it with 'consent', not 'by'",
            );
        }
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement::of(What::Consent {
            of: self.consent,
            radio: self.radio,
        })
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        let (granted, how) = answers.consent();
        vec![Event::Consent {
            step: step.id.clone(),
            granted,
            how,
            words: String::new(),
        }]
    }

    fn answers(&self, _outcome: &Outcome) -> bool {
        false
    }

    fn consent(&self) -> Option<&Hold> {
        Some(self)
    }

    fn state(&self, at: &RunAt<'_>, s: usize) -> StepState {
        let consents = at.consents(s);
        let newest = at.newest(&consents);
        let refused = newest.iter().copied().find(|i| !at.is_granted(*i));
        let Some(event) = refused.or(newest.first().copied()) else {
            let status = at.blocked(s).map_or(Status::Held, Status::Waiting);
            return StepState::new(status);
        };
        let mut state = StepState::new(Status::Held);
        state.event = Some(event);
        state.at_ms = Some(at.at_ms(event));
        if refused.is_some() {
            state.words = words::refused(at.name(at.consenter(event)));
            return state;
        }
        state.doers = vec![at.consenter(event).clone()];
        let by_radio = at.is_by_radio(event);
        if by_radio && at.countersigned(event).is_none() {
            state.awaiting = Some(event);
        }
        let until = match at.valid_for_ms(s) {
            FOR_EVER => FOR_EVER,
            ms => at.at_ms(event).saturating_add(ms),
        };
        state.valid_until = (until != FOR_EVER).then_some(until);
        if let Some(words) = at.consent_ended(s, event, until) {
            state.status = Status::Stale;
            state.words = words;
            return state;
        }
        state.status = Status::Done;
        state.passed = true;
        state.words = words::consent(
            at.name(at.consenter(event)),
            by_radio,
            state.awaiting.is_some(),
        );
        state
    }
}

impl RunAt<'_> {
    /// Returns whose consent an event carries: who signed it, or who was heard.
    pub fn consenter(&self, i: usize) -> &PersonId {
        match &self.run.event(i).event {
            Event::Consent {
                how: ConsentBy::Radio { from },
                ..
            } => from,
            _ => self.person(i),
        }
    }

    /// Returns what the officer said about a consent heard by radio: it was so, or was not.
    pub fn countersigned(&self, consent: usize) -> Option<(usize, bool)> {
        let id = self.run.event(consent).id;
        let mut said: Vec<(usize, bool)> = self
            .counted()
            .filter_map(|i| match &self.run.event(i).event {
                Event::Countersign { event, granted, .. } if *event == id => Some((i, *granted)),
                _ => None,
            })
            .collect();
        // One denial outweighs any number of confirmations.
        said.sort_by_key(|(i, granted)| (*granted, *i));
        said.first().copied()
    }

    /// Lists the consents, given and refused, that count at a hold: given in its turn, by someone who did not do
    /// what it consents to, and not denied.
    fn consents(&self, s: usize) -> Vec<usize> {
        let others: Vec<_> = self
            .step(s)
            .other_than
            .iter()
            .filter_map(|id| self.state_of(id))
            .collect();
        let is_doer = |who: &PersonId| others.iter().any(|other| other.doers.contains(who));
        self.of_step(s)
            .filter(|i| matches!(self.run.event(*i).event, Event::Consent { .. }))
            .filter(|i| !self.run.statuses[*i].out_of_sequence)
            .filter(|i| !is_doer(self.consenter(*i)))
            .filter(|i| self.countersigned(*i).is_none_or(|(_, granted)| granted))
            .collect()
    }

    fn is_granted(&self, i: usize) -> bool {
        matches!(
            self.run.event(i).event,
            Event::Consent { granted: true, .. }
        )
    }

    fn is_by_radio(&self, i: usize) -> bool {
        matches!(
            &self.run.event(i).event,
            Event::Consent {
                how: ConsentBy::Radio { .. },
                ..
            }
        )
    }

    /// Returns why a consent, valid until the moment `until`, is not valid any more.
    fn consent_ended(&self, s: usize, event: usize, until: i64) -> Option<String> {
        if let (Some(_), Some(words)) =
            (&self.step(s).good_for, self.consent_withdrawn_since(event))
        {
            Some(words.to_owned())
        } else if until != FOR_EVER && self.ahead(event) {
            Some(words::CLOCK_WRONG.to_owned())
        } else if self.time_since(event) >= until {
            Some(words::CONSENT_ENDED.to_owned())
        } else {
            self.invalid_support(s, event)
                .map(|other| words::no_longer_good(&self.step(other).instruction))
        }
    }

    /// Returns what withdraws a permit: any stop, and any man down, that its consent had not seen.
    fn consent_withdrawn_since(&self, consent: usize) -> Option<&'static str> {
        self.counted()
            .filter(|i| !self.had_seen(consent, *i))
            .find_map(|i| match &self.run.event(i).event {
                Event::Stop { .. } => Some(words::ENDED_BY_STOP),
                event if event.is_rescue() => Some(words::ENDED_BY_RESCUE),
                _ => None,
            })
    }

    /// Returns whether a consent was given to an answer that a later one has superseded.
    pub fn consent_superseded(&self, s: usize) -> bool {
        let step = self.step(s);
        let mut below = step
            .stands_on
            .iter()
            .filter_map(|id| self.run.procedure.index_of(id))
            .filter(|other| self.applies(*other));
        step.kind.consent().is_some()
            && self
                .state(s)
                .event
                .is_some_and(|since| below.any(|other| self.answer_superseded(other, since)))
    }

    /// Returns whether a consent for which no later step waits is no longer valid because of what it stood on: then
    /// nobody has agreed to how the work was left.
    pub fn final_consent_withdrawn(&self, s: usize) -> bool {
        let id = &self.step(s).id;
        let mut later = self.run.procedure.steps()[s + 1..].iter();
        self.step(s).kind.consent().is_some()
            && !later.any(|step| step.after.contains(id) || step.stands_on.contains(id))
            && self
                .state(s)
                .event
                .is_some_and(|i| self.invalid_support(s, i).is_some())
    }
}
