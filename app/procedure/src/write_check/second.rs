//! Whether a second person may answer for what another did.

use super::{Refusal, WriteCheck};
use crate::event::Event;
use crate::ids::Role;
use crate::run_at::SecondState;

impl WriteCheck<'_> {
    /// Says whether it is a second's answer, of a step that the work went past, that it is not so: the run may have
    /// ended meanwhile.
    pub(super) fn answers_second(&self, event: &Event) -> bool {
        let Event::NotSo { step, .. } = event else {
            return false;
        };
        let step = self.at.run.procedure.index_of(step);
        step.is_some_and(|s| self.at.wanted_later(s).is_some())
    }

    /// Returns why a person may not sign as second for an event.
    pub(super) fn second(&self, event: &[u8; 32]) -> Result<(), Refusal> {
        self.needs_role(Role::Crew)?;
        let found = self
            .at
            .run
            .history
            .find(event)
            .ok_or(Refusal::NoSuchEvent)?;
        let step = self
            .at
            .run
            .event(found)
            .event
            .step()
            .and_then(|id| self.at.state_of(id));
        let Some(SecondState::Wanted { not_by, .. }) = step.map(|state| state.second.clone())
        else {
            return Err(Refusal::NoSecondWanted);
        };
        let only_theirs =
            not_by.iter().all(|who| who == self.by) || self.at.person(found) == self.by;
        if only_theirs {
            Err(Refusal::SamePerson(self.by.clone()))
        } else {
            Ok(())
        }
    }
}
