//! Whether a second person has signed, at once or later.

use super::RunAt;
use crate::definition::Step;
use crate::event::Event;
use crate::ids::PersonId;
use crate::view::{SecondWanted, Status};

/// Whether a second person has signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum SecondState {
    NotNeeded,
    Needed,
    Wanted { event: usize, not_by: Vec<PersonId> },
    Signed(usize),
}

impl RunAt<'_> {
    /// Returns how a step's second signature stands. It is valid for the results that it was given to: one of them that is
    /// superseded or withdrawn takes it along.
    pub(super) fn second(&self, step: &Step, results: &[usize]) -> SecondState {
        if !step.second {
            return SecondState::NotNeeded;
        }
        if results.is_empty() {
            return SecondState::Needed;
        }
        let signed: Vec<(usize, usize)> = self
            .counted()
            .filter_map(|i| match &self.run.event(i).event {
                Event::Second { event } => self
                    .run
                    .history
                    .find(event)
                    .filter(|t| self.had_seen(i, *t))
                    .map(|t| (i, t)),
                _ => None,
            })
            .collect();
        // Signing for the newest result signs for those of the same step that it had seen.
        let signer = |i: usize| {
            signed.iter().find(|(by, target)| {
                let same = self.run.event(*target).event.step() == Some(&step.id);
                same && (*target == i || self.had_seen(*target, i))
                    && self.person(*by) != self.person(i)
            })
        };
        let lacking: Vec<usize> = results
            .iter()
            .copied()
            .filter(|i| signer(*i).is_none())
            .collect();
        if let Some(event) = lacking.iter().copied().max() {
            let mut not_by: Vec<PersonId> =
                lacking.iter().map(|i| self.person(*i).clone()).collect();
            not_by.sort_unstable();
            not_by.dedup();
            return SecondState::Wanted { event, not_by };
        }
        let last = results
            .iter()
            .filter_map(|i| signer(*i))
            .map(|(by, _)| *by)
            .max();
        last.map_or(SecondState::Needed, SecondState::Signed)
    }

    /// Returns whether a step was gone past and lacks its second signature. A hold that stands on it waits, whatever else
    /// goes on: nobody consents over what a second still has to see.
    pub fn lacks_second(&self, s: usize) -> bool {
        let step = self.step(s);
        let state = || self.state(s);
        step.second_may_be_later()
            && self.applies(s)
            && state().passed
            && matches!(state().second, SecondState::Wanted { .. })
    }

    /// Returns the result that a step was gone past with and for which a second's signature is still wanted. Who was asked
    /// and said that it is not so has answered.
    pub fn wanted_later(&self, s: usize) -> Option<SecondWanted> {
        let step = self.step(s);
        if !step.second_may_be_later() {
            return None;
        }
        let state = self.state(s);
        let is_answered = matches!(state.status, Status::NotSo(_) | Status::NotDone(_));
        let is_past = state.passed && !is_answered || self.expired_after_use(s);
        let SecondState::Wanted { event, not_by } = &state.second else {
            return None;
        };
        (state.applies && is_past).then(|| SecondWanted {
            step: step.id.clone(),
            instruction: step.instruction.clone(),
            event: self.run.event(*event).id,
            by: self.person(*event).clone(),
            at_ms: self.at_ms(*event),
            not_by: not_by.clone(),
        })
    }

    /// Lists what was gone past and wants a second's signature still, in the procedure's order.
    pub fn seconds_wanted(&self) -> Vec<SecondWanted> {
        let steps = 0..self.run.procedure.steps().len();
        steps.filter_map(|s| self.wanted_later(s)).collect()
    }
}
