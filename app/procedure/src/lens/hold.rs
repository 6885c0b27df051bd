//! Holds: nothing passes without consent.

use super::cover::FOR_EVER;
use super::{Lens, Standing};
use crate::event::{ConsentBy, Event};
use crate::ids::PersonId;
use crate::view::Status;
use crate::words;

impl Lens<'_> {
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

    pub(super) fn hold_standing(&self, s: usize) -> Standing {
        let others: Vec<_> = self
            .step(s)
            .other_than
            .iter()
            .filter_map(|id| self.standing_of(id))
            .collect();
        let consents: Vec<usize> = self
            .of_step(s)
            .filter(|i| matches!(self.run.event(*i).event, Event::Consent { .. }))
            .filter(|i| !self.run.marks[*i].out_of_sequence)
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
            return Standing::new(status);
        };
        let mut standing = Standing::new(Status::Held);
        standing.event = Some(event);
        standing.at_ms = Some(self.at_ms(event));
        if refused.is_some() {
            standing.words = words::refused(self.consenter(event));
            return standing;
        }
        standing.doers = vec![self.consenter(event).clone()];
        let by_radio = matches!(
            &self.run.event(event).event,
            Event::Consent {
                how: ConsentBy::Radio { .. },
                ..
            }
        );
        if by_radio && self.countersigned(event).is_none() {
            standing.awaiting = Some(event);
        }
        let until = match self.good_for_ms(s) {
            FOR_EVER => FOR_EVER,
            ms => self.at_ms(event).saturating_add(ms),
        };
        standing.good_until = (until != FOR_EVER).then_some(until);
        let ended = self.ended_since(event);
        let lapsed = if let (Some(_), Some(words)) = (&self.step(s).good_for, ended) {
            Some(words.to_owned())
        } else if until != FOR_EVER && self.ahead(event) {
            Some(words::CLOCK_WRONG.to_owned())
        } else if self.time_since(event) >= until {
            Some(words::CONSENT_ENDED.to_owned())
        } else {
            self.undermined(s, event)
                .map(|other| words::no_longer_good(&self.step(other).instruction))
        };
        if let Some(words) = lapsed {
            standing.status = Status::Stale;
            standing.words = words;
            return standing;
        }
        standing.status = Status::Done;
        standing.passed = true;
        standing.words =
            words::consent(self.consenter(event), by_radio, standing.awaiting.is_some());
        standing
    }

    /// A permit dies with any stop, and with any man down, that its consent had not seen.
    fn ended_since(&self, consent: usize) -> Option<&'static str> {
        self.counted()
            .filter(|i| !self.had_seen(consent, *i))
            .find_map(|i| match &self.run.event(i).event {
                Event::Stop { .. } => Some(words::ENDED_BY_STOP),
                event if event.is_rescue() => Some(words::ENDED_BY_RESCUE),
                _ => None,
            })
    }
}
