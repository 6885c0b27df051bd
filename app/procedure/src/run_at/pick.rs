//! Finds which result of a step counts when there are several.

use super::RunAt;
use crate::event::{Event, Outcome};
use crate::questions::About;

/// The result that counts, and what is to be asked about it.
pub(crate) struct Picked {
    pub event: Option<usize>,
    pub contradiction: Option<Vec<usize>>,
}

/// A question, before it has words.
pub(crate) type Asked = (About, Vec<usize>);

impl RunAt<'_> {
    /// Lists the results of a step, at one point of a reading or as a whole, that count.
    pub fn results(&self, s: usize, point: Option<&str>) -> Vec<usize> {
        let others: Vec<_> = self
            .step(s)
            .other_than
            .iter()
            .filter_map(|id| self.state_of(id))
            .collect();
        self.of_step(s)
            .filter(|i| match &self.run.event(*i).event {
                Event::Done {
                    outcome: Outcome::Reading { point: at, .. } | Outcome::Each { item: at, .. },
                    ..
                } => point == Some(at),
                Event::Done { .. } => point.is_none(),
                _ => false,
            })
            .filter(|i| self.ruling(*i) != Some(false))
            .filter(|i| {
                !others
                    .iter()
                    .any(|other| other.doers.contains(self.person(*i)))
            })
            .collect()
    }

    /// Keeps of some events those that no other of them had seen.
    pub fn newest(&self, events: &[usize]) -> Vec<usize> {
        let superseded = |i: usize| events.iter().any(|j| self.had_seen(*j, i));
        events.iter().copied().filter(|i| !superseded(*i)).collect()
    }

    pub fn outcome(&self, i: usize) -> Option<&Outcome> {
        match &self.run.event(i).event {
            Event::Done { outcome, .. } => Some(outcome),
            _ => None,
        }
    }

    /// Returns whether a result is within its limits.
    pub fn within(&self, i: usize) -> bool {
        let step = self
            .run
            .event(i)
            .event
            .step()
            .and_then(|id| self.run.procedure.index_of(id));
        match (step, self.outcome(i)) {
            (Some(s), Some(outcome)) => self.verdict(s, outcome).within,
            _ => false,
        }
    }

    /// Picks the result that counts. A later one that had seen an earlier one takes its place; of those
    /// made apart the first counts, unless they contradict: then the worse one does, until the officer answers.
    pub fn pick(&self, s: usize, point: Option<&str>) -> Picked {
        let newest = self.newest(&self.results(s, point));
        if let Some(accepted) = newest.iter().find(|i| self.ruling(**i) == Some(true)) {
            return Picked {
                event: Some(*accepted),
                contradiction: None,
            };
        }
        let differ = newest
            .windows(2)
            .any(|pair| self.contradict(s, pair[0], pair[1]));
        let in_turn = |i: &&usize| !self.run.statuses[**i].out_of_sequence;
        let worst = newest.iter().find(|i| differ && !self.within(**i));
        let event = worst
            .or_else(|| newest.iter().find(in_turn))
            .or(newest.first())
            .copied();
        Picked {
            event,
            contradiction: differ.then_some(newest),
        }
    }

    /// Returns whether two results of a step cannot both be so.
    fn contradict(&self, s: usize, a: usize, b: usize) -> bool {
        if self.within(a) != self.within(b) {
            return true;
        }
        match (self.outcome(a), self.outcome(b)) {
            (Some(one), Some(other)) => self.rules(s).contradict(one, other),
            _ => false,
        }
    }
}
