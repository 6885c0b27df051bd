//! How a step stands.

use super::RunAt;
use super::pick::Asked;
use super::second::SecondState;
use super::validity::FOR_EVER;
use crate::definition::{OnFault, Skip, Step};
use crate::event::{Event, Severity};
use crate::ids::{PersonId, Role};
use crate::questions::About;
use crate::view::Status;
use crate::words;

/// How a step stands, by the events that make it so.
#[derive(Debug, Clone)]
pub(crate) struct StepState {
    pub applies: bool,
    pub status: Status,
    pub words: String,
    pub passed: bool,
    /// The event that counts.
    pub event: Option<usize>,
    pub at_ms: Option<i64>,
    /// Who did it, for steps that someone else must do.
    pub doers: Vec<PersonId>,
    pub valid_until: Option<i64>,
    pub ends_at: Option<i64>,
    /// The result that counts at each point of a reading.
    pub points: Vec<Option<usize>>,
    pub second: SecondState,
    pub out_of_sequence: bool,
    pub questions: Vec<Asked>,
    pub gone_on: Option<usize>,
    pub awaiting: Option<usize>,
}

impl StepState {
    pub fn new(status: Status) -> Self {
        let words = words::status(&status);
        Self {
            applies: true,
            status,
            words,
            passed: false,
            event: None,
            at_ms: None,
            doers: Vec::new(),
            valid_until: None,
            ends_at: None,
            points: Vec::new(),
            second: SecondState::NotNeeded,
            out_of_sequence: false,
            questions: Vec::new(),
            gone_on: None,
            awaiting: None,
        }
    }

    /// Says how the step stands, and why.
    pub fn stand(&mut self, status: Status, words: impl Into<String>) {
        self.status = status;
        self.words = words.into();
    }
}

impl RunAt<'_> {
    pub(super) fn find_state(&self, s: usize) -> StepState {
        let step = self.step(s);
        if !self.applies(s) {
            let mut state = StepState::new(Status::Waiting(words::DOES_NOT_APPLY.to_owned()));
            state.applies = false;
            // What comes after a step that does not belong here waits for what came before it.
            state.passed = step
                .after
                .iter()
                .all(|id| self.state_of(id).is_none_or(|st| st.passed));
            return state;
        }
        self.rules(s).state(self, s)
    }

    /// Returns how a step stands that somebody left undone, unless it was done all the same.
    pub fn left_undone(&self, s: usize) -> Option<StepState> {
        let step = self.step(s);
        if self.of_step(s).any(|i| {
            matches!(self.run.event(i).event, Event::Done { .. }) && self.ruling(i) != Some(false)
        }) {
            return None;
        }
        // What nobody can go past, nobody can leave out either.
        let fault = |i: usize| matches!(self.run.event(i).event, Event::NotSo { .. });
        if step.on_fault == OnFault::Stop
            && self
                .of_step(s)
                .any(|i| fault(i) && self.ruling(i) != Some(false))
        {
            return None;
        }
        let left: Vec<usize> = self
            .of_step(s)
            .filter(|i| matches!(self.run.event(*i).event, Event::NotDone { .. }))
            .collect();
        let event = *left.last()?;
        let Event::NotDone { reason, .. } = &self.run.event(event).event else {
            return None;
        };
        let mut state = StepState::new(Status::NotDone(reason.clone()));
        let officer = left
            .iter()
            .copied()
            .find(|i| self.run.event(*i).roles.may_act_as(Role::Officer));
        state.gone_on = self.gone_on(s, &[event]);
        let allowed = match step.skip {
            Skip::Anyone => true,
            Skip::Officer => officer.is_some() || state.gone_on.is_some(),
            Skip::Never => false,
        };
        state.passed = allowed && self.rules(s).may_be_left(self, s);
        state.words = words::not_done(reason, state.passed, step.skip);
        state.event = Some(event);
        state.at_ms = Some(self.at_ms(event));
        Some(state)
    }

    /// Returns the officer's word that the work goes on, given by someone who knew of all that is gone past.
    pub fn gone_on(&self, s: usize, past: &[usize]) -> Option<usize> {
        self.of_step(s).find(|i| {
            matches!(self.run.event(*i).event, Event::GoOn { .. })
                && past.iter().all(|p| self.had_seen(*i, *p))
        })
    }

    pub fn result_state(&self, s: usize) -> StepState {
        let step = self.step(s);
        if let Some(left) = self.left_undone(s) {
            return left;
        }
        let mut state = StepState::new(self.waiting_or_to_do(s));
        let mut results = Vec::new();
        self.gather(s, step, &mut state, &mut results);
        state.second = self.second(step, &results);
        self.ask(&mut state, &results);
        if self.fault(s, step, &mut state, &results) {
            return state;
        }
        if self.rules(s).entries_out_of_limits(self, s, &mut state) {
            return state;
        }
        let Some(last) = results.iter().copied().max() else {
            return state;
        };
        state.event = Some(last);
        state.at_ms = Some(
            results
                .iter()
                .map(|i| self.at_ms(*i))
                .fold(i64::MIN, i64::max),
        );
        state.doers = results.iter().map(|i| self.person(*i).clone()).collect();
        let outside: Vec<usize> = results
            .iter()
            .copied()
            .filter(|i| !self.within(*i))
            .collect();
        if !outside.is_empty() {
            state.gone_on = self
                .gone_on(s, &outside)
                .filter(|_| step.on_fault != OnFault::Stop);
            let said: Vec<_> = outside
                .iter()
                .filter_map(|i| Some(self.verdict(s, self.outcome(*i)?).words))
                .collect();
            state.stand(Status::OutOfLimits, said.join("; "));
            if state.gone_on.is_none() {
                return state;
            }
        }
        let missing = state.points.iter().filter(|point| point.is_none()).count();
        if missing > 0 {
            let read = state.points.len() - missing;
            if outside.is_empty() {
                state.stand(
                    self.waiting_or_to_do(s),
                    words::partly_read(read, state.points.len()),
                );
            }
            return state;
        }
        // A reading taken anew is signed for when all of it has been.
        if let Some(because) = self.expired(s, step, &mut state, &results) {
            state.stand(Status::Stale, because);
            return state;
        }
        if matches!(state.second, SecondState::Wanted { .. }) && !step.second_may_be_later() {
            state.stand(
                Status::Waiting(words::SECOND_WANTED.to_owned()),
                words::SECOND_WANTED,
            );
            return state;
        }
        if let Some(because) = self.rules(s).unfinished(self, s, last) {
            state.stand(Status::ToDo, because);
            return state;
        }
        state.passed = true;
        if outside.is_empty() {
            let is_wanted = matches!(state.second, SecondState::Wanted { .. });
            let words = if is_wanted {
                words::DONE_SECOND_WANTED
            } else {
                words::DONE
            };
            state.stand(Status::Done, words);
        }
        state
    }

    fn gather(&self, s: usize, step: &Step, state: &mut StepState, results: &mut Vec<usize>) {
        let rules = step.kind.rules();
        let points: Vec<Option<String>> = if rules.answered_by_point() {
            rules.point_keys(self).into_iter().map(Some).collect()
        } else {
            vec![None]
        };
        for point in points {
            let picked = self.pick(s, point.as_deref());
            state.questions.extend(
                picked
                    .contradiction
                    .map(|events| (About::Contradiction, events)),
            );
            if point.is_some() {
                state.points.push(picked.event);
            }
            results.extend(picked.event);
        }
    }

    /// Asks the officer about results that came before their turn.
    fn ask(&self, state: &mut StepState, results: &[usize]) {
        let early: Vec<usize> = results
            .iter()
            .copied()
            .filter(|i| self.run.statuses[*i].out_of_sequence)
            .collect();
        state.out_of_sequence = !early.is_empty();
        if early.iter().any(|i| self.ruling(*i) != Some(true)) {
            state.questions.push((About::Sequence, early));
        }
    }

    /// Sees to a fault that was reported and not put right since. Returns whether one stands.
    fn fault(&self, s: usize, step: &Step, state: &mut StepState, results: &[usize]) -> bool {
        let faults = self
            .of_step(s)
            .filter(|i| matches!(self.run.event(*i).event, Event::NotSo { .. }));
        // Only doing the whole step again, knowing of the fault, puts it right.
        let whole = !results.is_empty() && state.points.iter().all(Option::is_some);
        let put_right = |f: usize| whole && results.iter().all(|i| self.had_seen(*i, f));
        let faults: Vec<usize> = faults
            .filter(|f| self.ruling(*f) != Some(false) && !put_right(*f))
            .collect();
        let Some(event) = faults.last().copied() else {
            return false;
        };
        let Event::NotSo { text, severity, .. } = &self.run.event(event).event else {
            return false;
        };
        let apart = results.iter().copied().find(|i| !self.had_seen(event, *i));
        if let Some(apart) = apart
            && self.ruling(event) != Some(true)
        {
            state.questions.push((
                About::Contradiction,
                vec![apart.min(event), apart.max(event)],
            ));
        }
        let noted = step.on_fault == OnFault::Note && *severity < Severity::Danger;
        state.gone_on = self
            .gone_on(s, &faults)
            .filter(|_| step.on_fault != OnFault::Stop);
        // A list with somebody on it is not gone past, whatever else is wrong with it.
        let allowed = noted || state.gone_on.is_some();
        state.passed = allowed && self.rules(s).may_be_left(self, s);
        state.event = Some(event);
        state.at_ms = Some(self.at_ms(event));
        state.stand(
            Status::NotSo(text.clone()),
            words::fault(text, step.on_fault, state.passed),
        );
        true
    }

    /// Returns why the results have expired or were withdrawn; none while they are valid.
    fn expired(
        &self,
        s: usize,
        step: &Step,
        state: &mut StepState,
        results: &[usize],
    ) -> Option<String> {
        let mut because = None;
        if step.good_for.is_some() {
            let mut until = FOR_EVER;
            for i in results {
                let point = match self.outcome(*i) {
                    Some(
                        crate::Outcome::Reading { point, .. }
                        | crate::Outcome::Each { item: point, .. },
                    ) => Some(point.as_str()),
                    _ => None,
                };
                let validity = self.valid_until(s, point, *i);
                until = until.min(validity.until);
                if self.ahead(*i) {
                    because = Some(words::CLOCK_WRONG.to_owned());
                } else if validity.withdrawn {
                    because = Some(words::RETEST_FAILED.to_owned());
                } else if self.time_since(*i) >= validity.until {
                    because = Some(words::TIME_OVER.to_owned());
                }
            }
            state.valid_until = (until != FOR_EVER).then_some(until);
        }
        because.or_else(|| {
            let last = results.iter().copied().max()?;
            let other = self.invalid_support(s, last)?;
            Some(words::no_longer_good(&self.step(other).instruction))
        })
    }
}
