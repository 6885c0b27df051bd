//! What earlier steps block: all the work that follows, and not only what names them in its `after`.

use super::RunAt;
use crate::definition::OnFault;
use crate::event::Event;
use crate::view::Status;
use crate::words;

impl RunAt<'_> {
    /// Returns why an earlier step blocks this one: a fault that stops the work, or a consent that is superseded.
    ///
    /// What is on record already is judged without this: runs were worked on before the rule was there, and who
    /// wrote without knowing did no wrong.
    pub(super) fn blocked_by_earlier(&self, s: usize) -> Option<String> {
        if self.upto.is_some() || !self.rules(s).is_worked() {
            return None;
        }
        (0..s).find_map(|earlier| {
            self.open_fault(earlier)
                .or_else(|| self.superseded_consent(earlier))
        })
    }

    /// Returns a fault that is not put right at a step where the work stops.
    fn open_fault(&self, s: usize) -> Option<String> {
        let step = self.step(s);
        let reported = |i: &usize| matches!(self.run.event(*i).event, Event::NotSo { .. });
        if step.on_fault != OnFault::Stop || !self.run.by_step[s].iter().any(reported) {
            return None;
        }
        let state = self.state(s);
        match &state.status {
            Status::NotSo(text) if state.applies && !state.passed => {
                Some(words::put_right_first(&step.instruction, text))
            }
            _ => None,
        }
    }

    /// Returns which hold must be passed anew because the answer to which its consent was given is superseded.
    fn superseded_consent(&self, s: usize) -> Option<String> {
        let step = self.step(s);
        if step.kind.consent().is_none() || step.stands_on.is_empty() {
            return None;
        }
        let state = self.state(s);
        let fallen = state.applies && state.status == Status::Stale && self.consent_superseded(s);
        fallen.then(|| words::waits_for(&step.instruction))
    }

    /// Returns the step that is open before one that does not pass: itself, or what comes before it where it does
    /// not belong to the run.
    pub(super) fn first_open(&self, s: usize) -> usize {
        if self.state(s).applies {
            return s;
        }
        let before = self.step(s).after.iter();
        before
            .filter_map(|id| self.run.procedure.index_of(id))
            .find(|other| !self.state(*other).passed)
            .map_or(s, |other| self.first_open(other))
    }
}
