//! Holds: nothing passes without consent.

use super::validity::FOR_EVER;
use super::{RunAt, StepState};
use crate::event::{ConsentBy, Event};
use crate::ids::PersonId;
use crate::view::Status;
use crate::words;

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

    pub(super) fn hold_state(&self, s: usize) -> StepState {
        let others: Vec<_> = self
            .step(s)
            .other_than
            .iter()
            .filter_map(|id| self.state_of(id))
            .collect();
        let consents: Vec<usize> = self
            .of_step(s)
            .filter(|i| matches!(self.run.event(*i).event, Event::Consent { .. }))
            .filter(|i| !self.run.statuses[*i].out_of_sequence)
            .filter(|i| {
                !others
                    .iter()
                    .any(|other| other.doers.contains(self.consenter(*i)))
            })
            .filter(|i| self.countersigned(*i).is_none_or(|(_, granted)| granted))
            .collect();
        let newest = self.newest(&consents);
        let granted = |i: usize| {
            matches!(
                self.run.event(i).event,
                Event::Consent { granted: true, .. }
            )
        };
        let refused = newest.iter().copied().find(|i| !granted(*i));
        let Some(event) = refused.or(newest.first().copied()) else {
            let status = self.blocked(s).map_or(Status::Held, Status::Waiting);
            return StepState::new(status);
        };
        let mut state = StepState::new(Status::Held);
        state.event = Some(event);
        state.at_ms = Some(self.at_ms(event));
        if refused.is_some() {
            state.words = words::refused(self.consenter(event));
            return state;
        }
        state.doers = vec![self.consenter(event).clone()];
        let by_radio = matches!(
            &self.run.event(event).event,
            Event::Consent {
                how: ConsentBy::Radio { .. },
                ..
            }
        );
        if by_radio && self.countersigned(event).is_none() {
            state.awaiting = Some(event);
        }
        let until = match self.valid_for_ms(s) {
            FOR_EVER => FOR_EVER,
            ms => self.at_ms(event).saturating_add(ms),
        };
        state.valid_until = (until != FOR_EVER).then_some(until);
        let ended = self.consent_withdrawn_since(event);
        let lapsed = if let (Some(_), Some(words)) = (&self.step(s).good_for, ended) {
            Some(words.to_owned())
        } else if until != FOR_EVER && self.ahead(event) {
            Some(words::CLOCK_WRONG.to_owned())
        } else if self.time_since(event) >= until {
            Some(words::CONSENT_ENDED.to_owned())
        } else {
            self.invalid_support(s, event)
                .map(|other| words::no_longer_good(&self.step(other).instruction))
        };
        if let Some(words) = lapsed {
            state.status = Status::Stale;
            state.words = words;
            return state;
        }
        state.status = Status::Done;
        state.passed = true;
        state.words = words::consent(self.consenter(event), by_radio, state.awaiting.is_some());
        state
    }

    /// A permit dies with any stop, and with any man down, that its consent had not seen.
    fn consent_withdrawn_since(&self, consent: usize) -> Option<&'static str> {
        self.counted()
            .filter(|i| !self.had_seen(consent, *i))
            .find_map(|i| match &self.run.event(i).event {
                Event::Stop { .. } => Some(words::ENDED_BY_STOP),
                event if event.is_rescue() => Some(words::ENDED_BY_RESCUE),
                _ => None,
            })
    }
}
