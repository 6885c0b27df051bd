//! Whether a result is valid: not expired, not withdrawn by a later one, not superseded by another answer.

use super::RunAt;
use crate::event::Event;

/// Until when a result is valid, and whether a later one out of limits withdrew it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Validity {
    pub until: i64,
    pub withdrawn: bool,
}

/// No end.
pub(crate) const FOR_EVER: i64 = i64::MAX;

impl RunAt<'_> {
    /// Returns how long a step's result stays valid, in ms; 0 where nobody has set the span.
    pub fn valid_for_ms(&self, s: usize) -> i64 {
        match &self.step(s).good_for {
            None => FOR_EVER,
            Some(span) => self.span_ms(span).unwrap_or(0),
        }
    }

    fn end_of(&self, s: usize, i: usize) -> i64 {
        match self.valid_for_ms(s) {
            FOR_EVER => FOR_EVER,
            ms => self.at_ms(i).saturating_add(ms),
        }
    }

    /// Follows a result from its base over those that came after: each must come before the last one ends.
    fn follow(&self, s: usize, point: Option<&str>, base: &[usize], seen_by: usize) -> Validity {
        let mut validity = Validity {
            until: i64::MIN,
            withdrawn: false,
        };
        for i in base {
            validity.until = validity.until.max(self.end_of(s, *i));
        }
        let results = self.results(s, point).into_iter();
        let mut later: Vec<(usize, bool)> = results.map(|i| (i, self.within(i))).collect();
        if let Some(point) = point {
            for id in &self.step(s).renewed_by {
                let renewer = self.run.procedure.index_of(id);
                later.extend(renewer.into_iter().flat_map(|r| self.renewals(r, point)));
            }
        }
        later.retain(|(i, _)| *i != seen_by && !base.contains(i) && !self.had_seen(seen_by, *i));
        later.sort_unstable_by_key(|(i, _)| (self.at_ms(*i), *i));
        for (i, within) in later {
            if !within {
                validity.withdrawn = true;
            } else if self.at_ms(i) < validity.until {
                validity.until = validity.until.max(self.end_of(s, i));
            }
        }
        validity
    }

    /// Lists the readings of a point at a step that renews others, and whether each is within limits.
    fn renewals(&self, r: usize, point: &str) -> Vec<(usize, bool)> {
        let results = self.results(r, Some(point)).into_iter();
        let mut all: Vec<(usize, bool)> = results.map(|i| (i, self.within(i))).collect();
        let mut points = self.step(r).kind.points().iter();
        if let Some(found) = points.find(|known| known.key == point) {
            let limits = self.limits_of(found);
            let within = |value| limits.verdict(value, &found.unit).within;
            let logged = self.log_readings(r, point).into_iter();
            all.extend(logged.map(|(i, value)| (i, within(value))));
        }
        all
    }

    /// Returns until when the result that counts is valid, with the readings that renewed it.
    pub fn valid_until(&self, s: usize, point: Option<&str>, event: usize) -> Validity {
        if self.step(s).good_for.is_none() {
            return Validity {
                until: FOR_EVER,
                withdrawn: false,
            };
        }
        self.follow(s, point, &[event], event)
    }

    /// Returns the first step on which this one stands and whose result has not been valid ever since the event `since`,
    /// at which this one was done.
    pub fn invalid_support(&self, s: usize, since: usize) -> Option<usize> {
        let named = self
            .step(s)
            .stands_on
            .iter()
            .filter_map(|id| self.run.procedure.index_of(id));
        let mut named = named.filter(|other| self.applies(*other));
        let is_hold = self.step(s).kind.consent().is_some();
        named.find(|other| !self.valid_since(*other, since) || is_hold && self.lacks_second(*other))
    }

    fn valid_since(&self, s: usize, since: usize) -> bool {
        let state = self.state(s);
        if !state.passed {
            return false;
        }
        let known = |i: usize| self.had_seen(since, i);
        let bad_since = self.of_step(s).any(|i| {
            matches!(self.run.event(i).event, Event::NotSo { .. }) && i != since && !known(i)
        });
        if bad_since {
            return false;
        }
        // Gone past by the officer, noted, or left undone with leave: there is no result to follow, but it must have
        // been known.
        if let Some(past) = state.gone_on {
            return known(past);
        }
        let result = state.event.filter(|i| self.outcome(*i).is_some());
        if let (Some(event), None) = (state.event, result) {
            return known(event);
        }
        self.rules(s).valid_since(self, s, since)
    }

    /// Returns whether a later answer superseded the one that stood at the event `since`: another choice, count, text
    /// or place is as good as the one before, but nobody consented to it.
    pub fn answer_superseded(&self, s: usize, since: usize) -> bool {
        let (before, later): (Vec<usize>, Vec<usize>) = self
            .results(s, None)
            .into_iter()
            .partition(|i| self.had_seen(since, *i));
        let stood = self.newest(&before);
        let same = |i: &usize| stood.iter().any(|b| self.outcome(*b) == self.outcome(*i));
        self.rules(s).answer_is_consented_to() && later.iter().any(|i| *i != since && !same(i))
    }

    /// Returns whether the result at a point, or as a whole, has been valid ever since an event.
    pub fn point_valid_since(&self, s: usize, point: Option<&str>, since: usize) -> bool {
        let before: Vec<usize> = self
            .results(s, point)
            .into_iter()
            .filter(|i| self.had_seen(since, *i))
            .collect();
        let base: Vec<usize> = self
            .newest(&before)
            .into_iter()
            .filter(|i| self.within(*i))
            .collect();
        if base.is_empty() {
            return false;
        }
        let validity = self.follow(s, point, &base, since);
        let time = base
            .iter()
            .map(|i| self.time_since(*i))
            .fold(self.time_since(since), i64::max);
        !validity.withdrawn && time < validity.until
    }
}
