//! A run at one moment: with every event that is known, or with those that the device of one event had seen.

use std::cell::{OnceCell, RefCell};
use std::rc::Rc;

use crate::definition::{Condition, NeedState, Step};
use crate::event::{End, Event, Outcome};
use crate::ids::PersonId;
use crate::kind::KindRules;
use crate::state::{PastRun, RunState};
use crate::view::{DefectView, Status, Verdict};
use crate::words;

mod computed;
mod earlier;
mod gear;
mod limits;
mod pick;
mod second;
mod state;
mod validity;

pub(crate) use second::SecondState;
pub(crate) use state::StepState;
pub(crate) use validity::FOR_EVER;

/// How far a result may lie ahead of the clock that looks at it before it counts as expired.
///
/// Common practice, no source: wide enough for clocks set by hand, narrow against a retest's 30 minutes.
pub(crate) const CLOCK_TOLERANCE_MS: i64 = 5 * 60_000;

/// A run at one moment.
pub(crate) struct RunAt<'a> {
    pub run: &'a RunState,
    /// Only what this event's device had seen; none: everything.
    upto: Option<usize>,
    pub now: i64,
    memo: RefCell<Vec<Option<Rc<StepState>>>>,
    defects: OnceCell<Vec<DefectView>>,
}

impl<'a> RunAt<'a> {
    /// Looks with everything that is known.
    pub fn whole(run: &'a RunState, now: i64) -> Self {
        Self {
            run,
            upto: None,
            now,
            memo: RefCell::new(vec![None; run.procedure.steps().len()]),
            defects: OnceCell::new(),
        }
    }

    /// Looks as the device of an event did when it wrote it.
    pub fn as_seen_by(run: &'a RunState, event: usize) -> Self {
        Self {
            upto: Some(event),
            ..Self::whole(run, run.event(event).at_ms)
        }
    }

    /// Returns whether an event is among those that this look at the run knows.
    pub fn sees(&self, i: usize) -> bool {
        self.upto.is_none_or(|k| self.run.history.had_seen(k, i))
    }

    /// Returns whether the device of the event `later` had seen the event `earlier` when it wrote.
    pub fn had_seen(&self, later: usize, earlier: usize) -> bool {
        self.run.history.had_seen(later, earlier)
    }

    pub fn struck(&self, i: usize) -> Option<usize> {
        self.run.statuses[i]
            .struck_by
            .iter()
            .copied()
            .find(|s| self.sees(*s))
    }

    /// Returns whether an event is seen, rightful and not struck out.
    pub fn counts(&self, i: usize) -> bool {
        self.sees(i) && self.run.statuses[i].void.is_none() && self.struck(i).is_none()
    }

    /// Lists the events that bear on the whole run and count, in order.
    pub fn counted(&self) -> impl Iterator<Item = usize> + '_ {
        self.run.of_run.iter().copied().filter(|i| self.counts(*i))
    }

    /// Lists the events about one step that count, in order.
    pub fn of_step(&self, s: usize) -> impl Iterator<Item = usize> + '_ {
        self.run.by_step[s]
            .iter()
            .copied()
            .filter(|i| self.counts(*i))
    }

    /// Returns what a person is called.
    pub fn name<'n>(&'n self, person: &'n PersonId) -> &'n str {
        self.run.crew.name(person)
    }

    pub fn step(&self, s: usize) -> &'a Step {
        &self.run.procedure.steps()[s]
    }

    /// Returns the rules of a step's kind.
    pub fn rules(&self, s: usize) -> &'a dyn KindRules {
        self.step(s).kind.rules()
    }

    pub fn person(&self, i: usize) -> &'a PersonId {
        &self.run.event(i).person
    }

    pub fn at_ms(&self, i: usize) -> i64 {
        self.run.event(i).at_ms
    }

    /// Returns what time it must be at least: the clock that looks, or a later entry of the same device,
    /// so that a clock set back cannot make a result young again.
    pub fn time_since(&self, i: usize) -> i64 {
        let device = self.run.event(i).device;
        let later = (i + 1..self.run.history.len())
            .filter(|j| {
                self.run.event(*j).device == device && self.sees(*j) && self.had_seen(*j, i)
            })
            .map(|j| self.at_ms(j));
        later.fold(self.now, i64::max)
    }

    /// Returns whether an event lies so far ahead of the clock that one of the two is wrong.
    pub fn ahead(&self, i: usize) -> bool {
        self.at_ms(i).saturating_sub(self.now) > CLOCK_TOLERANCE_MS
    }

    /// Returns what the officer ruled about an event: it stands, or it does not.
    pub fn ruling(&self, i: usize) -> Option<bool> {
        let about = self.run.rulings.iter().rev();
        about.filter(|ruling| ruling.about.contains(&i) && self.counts(ruling.answer)).map(|ruling| {
            let all_stand = matches!(&self.run.event(ruling.answer).event,
                Event::AnswerQuestion { question, .. }
                    if crate::questions::About::of(question) == Some(crate::questions::About::Sequence));
            ruling.stands.is_some_and(|stands| stands == i || all_stand)
        }).next()
    }

    /// Returns how a step stands. Steps only look at earlier ones, so this ends.
    pub fn state(&self, s: usize) -> Rc<StepState> {
        if let Some(known) = &self.memo.borrow()[s] {
            return Rc::clone(known);
        }
        let found = Rc::new(self.find_state(s));
        self.memo.borrow_mut()[s] = Some(Rc::clone(&found));
        found
    }

    pub fn state_of(&self, id: &crate::StepId) -> Option<Rc<StepState>> {
        self.run.procedure.index_of(id).map(|s| self.state(s))
    }

    /// Returns whether a step belongs to this run, by what was chosen and set.
    pub fn applies(&self, s: usize) -> bool {
        self.step(s).when.iter().all(|condition| match condition {
            Condition::Chosen { choice, is } => self
                .chosen(choice)
                .is_some_and(|option| is.contains(&option)),
            Condition::Setting { setting, is } => self
                .run
                .settings
                .get(setting)
                .is_some_and(|set| is.contains(&set.value)),
            Condition::Gear { kind, has } => self.has_gear(kind) == *has,
        }) && self.rules(s).belongs(self)
    }

    pub fn chosen(&self, choice: &str) -> Option<String> {
        let step = self.run.procedure.index_of(&crate::StepId::new(choice))?;
        if let Some(i) = self.state(step).event
            && let Event::Done {
                outcome: Outcome::Chosen { option },
                ..
            } = &self.run.event(i).event
        {
            return Some(option.clone());
        }
        let starts = self
            .counted()
            .filter_map(|i| match &self.run.event(i).event {
                Event::Start { choices, .. } => choices.iter().find(|(name, _)| name == choice),
                _ => None,
            });
        starts.map(|(_, option)| option.clone()).next()
    }

    /// Returns the stop that stands, if one does.
    pub fn stopped(&self) -> Option<usize> {
        let mut stops = self
            .counted()
            .filter(|i| matches!(self.run.event(*i).event, Event::Stop { .. }));
        let resumed = |stop: usize| {
            self.counted().any(|i| {
                matches!(self.run.event(i).event, Event::Resume { .. }) && self.had_seen(i, stop)
            })
        };
        stops.find(|stop| !resumed(*stop))
    }

    /// Returns whether entries may be written in a log: in its turn, or where its kind says so.
    pub fn entry_open(&self, s: usize) -> bool {
        self.blocked(s).is_none() || self.rules(s).entry_open_out_of_turn(self, s)
    }

    /// Returns why a step cannot be worked now.
    pub fn blocked(&self, s: usize) -> Option<String> {
        self.blocked_by(s, self.step(s).when_stopped)
    }

    /// Returns why nobody may go in now. A stop lets people out, never in.
    pub fn entry_blocked(&self, s: usize) -> Option<String> {
        if self.man_down() {
            return Some(words::MAN_DOWN.to_owned());
        }
        let broken = || self.rules(s).people()?.watch_broken(self, s);
        self.blocked_by(s, false).or_else(broken)
    }

    fn blocked_by(&self, s: usize, when_stopped: bool) -> Option<String> {
        let step = self.step(s);
        if !self.applies(s) {
            return Some(words::DOES_NOT_APPLY.to_owned());
        }
        let stopped = self.stopped().is_some();
        if stopped && !when_stopped {
            return Some(words::STOPPED.to_owned());
        }
        if !when_stopped && let Some(because) = self.blocked_by_earlier(s) {
            return Some(because);
        }
        if !when_stopped
            && let Some(because) = self
                .out_of_service(s)
                .or_else(|| self.gear_stops(s))
                .or_else(|| self.due_first(s))
        {
            return Some(because);
        }
        // What a step stands on comes first too: done over something that is no longer good it would not count.
        for id in step.after.iter().chain(&step.stands_on) {
            let Some(other) = self.run.procedure.index_of(id) else {
                continue;
            };
            // After a stop the closing steps wait only for each other, so that all can be made safe.
            if stopped && !self.step(other).when_stopped {
                continue;
            }
            if !self.state(other).passed {
                let first = self.first_open(other);
                return Some(words::waits_for(&self.step(first).instruction));
            }
            if step.kind.consent().is_some() && self.lacks_second(other) {
                return Some(words::second_first(&self.step(other).instruction));
            }
        }
        if let Some(unmet) = self.unmet_need(s) {
            return Some(unmet);
        }
        if step.kind.consent().is_some() {
            let asked = (0..s).find(|earlier| !self.state(*earlier).questions.is_empty());
            return asked.map(|earlier| words::question_first(&self.step(earlier).instruction));
        }
        None
    }

    /// Returns whether a result expired after everything that waited for it was done, so that nobody needs to do it
    /// again.
    pub fn expired_after_use(&self, s: usize) -> bool {
        if self.state(s).status != Status::Stale || self.final_consent_withdrawn(s) {
            return false;
        }
        // A superseded consent must be given anew while any later step is still to do.
        let otherwise = self.consent_superseded(s);
        let used = |t: usize| otherwise || self.waits_for(t, s);
        (s + 1..self.run.procedure.steps().len())
            .filter(|t| self.applies(*t) && used(*t))
            .all(|t| self.state(t).passed || self.expired_after_use(t))
    }

    /// Returns whether a later step waits for another, by its own words or by those of steps between them that do not
    /// belong to this run.
    fn waits_for(&self, later: usize, s: usize) -> bool {
        let step = self.step(later);
        let named = step.after.iter().chain(&step.stands_on);
        let mut named = named.filter_map(|id| self.run.procedure.index_of(id));
        named.any(|other| {
            other == s || other > s && !self.applies(other) && self.waits_for(other, s)
        })
    }

    /// Returns what must first be so in other runs, unless the officer let this one go on without.
    fn unmet_need(&self, s: usize) -> Option<String> {
        let step = self.step(s);
        let waived = || {
            self.of_step(s)
                .any(|i| matches!(self.run.event(i).event, Event::GoOn { .. }))
        };
        let past = self.run.past.as_ref()?;
        // What was written then is judged by what was so then: a run started later was not open yet.
        let then = self.upto.is_some();
        let was_open = |run: &PastRun| match run.closed_at_ms {
            None => !then || run.started_at_ms <= self.now,
            Some(closed) => {
                then && run.started_at_ms <= self.now
                    && closed.saturating_sub(self.now) > CLOCK_TOLERANCE_MS
            }
        };
        for need in &step.needs {
            let mut runs = past.iter().filter(|run| run.slug == need.procedure);
            let met = match &need.state {
                NeedState::NoneOpen => !runs.any(was_open),
                NeedState::ClosedWithin(span) => self.span_ms(span).is_some_and(|span_ms| {
                    runs.filter(|run| run.completed)
                        .filter_map(|run| run.closed_at_ms)
                        .any(|closed| {
                            let age = self.now.saturating_sub(closed);
                            age < span_ms && age >= -CLOCK_TOLERANCE_MS
                        })
                }),
            };
            if !met && !waived() {
                return Some(words::need(need));
            }
        }
        None
    }

    /// Returns whether an event came in its turn.
    pub fn in_turn(&self, i: usize) -> bool {
        let event = &self.run.event(i).event;
        let step = event.step().and_then(|id| self.run.procedure.index_of(id));
        match (event, step) {
            (Event::Done { .. }, Some(s)) if self.rules(s).finishes_any_time() => true,
            (Event::Consent { granted: false, .. }, _) => true,
            (Event::In { who, .. }, Some(s)) => {
                (event.is_rescue() || self.entry_blocked(s).is_none()) && !self.is_attendant(s, who)
            }
            (Event::Attend { who, .. }, _) => !self.is_inside(who),
            (Event::Log { .. }, Some(s)) => self.entry_open(s),
            (Event::Done { .. } | Event::Consent { .. }, Some(s)) => self.blocked(s).is_none(),
            (Event::Close { end, .. }, _) => self.open_before_close(*end).is_empty(),
            _ => true,
        }
    }

    /// Lists what keeps the run from being closed.
    pub fn open_before_close(&self, end: End) -> Vec<String> {
        let mut open: Vec<String> = self
            .inside()
            .iter()
            .map(|inside| words::still_inside(self.name(&inside.who)))
            .collect();
        if end == End::Completed && self.stopped().is_some() {
            open.push(words::STOPPED.to_owned());
        }
        for (s, step) in self.run.procedure.steps().iter().enumerate() {
            let state = self.state(s);
            let matters = end == End::Completed || step.when_stopped;
            if state.applies && matters && !state.passed && !self.expired_after_use(s) {
                open.push(words::step_open(&step.instruction, &state.words));
            }
            if end == End::Completed && !state.questions.is_empty() {
                open.push(words::question_first(&step.instruction));
            }
        }
        open
    }

    /// Returns the close that holds: one made in its turn, with nobody inside now.
    pub fn closed(&self) -> Option<usize> {
        if !self.inside().is_empty() {
            return None;
        }
        self.counted().find(|i| {
            matches!(self.run.event(*i).event, Event::Close { .. })
                && !self.run.statuses[*i].out_of_sequence
        })
    }

    /// Returns what an outcome means against the limits of its step.
    pub fn verdict(&self, s: usize, outcome: &Outcome) -> Verdict {
        self.rules(s).verdict(self, outcome)
    }

    /// Returns whether a step that waits for this one may begin now and has not been begun.
    pub fn next_may_begin(&self, s: usize) -> bool {
        let id = &self.step(s).id;
        let steps = self.run.procedure.steps().iter().enumerate();
        let mut waiting = steps.filter(|(_, step)| step.after.contains(id));
        waiting.any(|(t, _)| self.blocked(t).is_none() && self.state(t).event.is_none())
    }

    fn waiting_or_to_do(&self, s: usize) -> Status {
        self.blocked(s).map_or(Status::ToDo, Status::Waiting)
    }
}
