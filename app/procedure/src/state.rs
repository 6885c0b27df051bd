//! The state of a run: a pure fold over what happened, the same wherever it is computed.

use std::sync::Arc;

use crate::crew::{Crew, Stamp};
use crate::definition::{Procedure, Step};
use crate::event::{ConsentBy, DefectChange, End, Event, Found, Outcome, RecordedEvent};
use crate::gear::Register;
use crate::history::History;
use crate::ids::{PersonId, Role, Roles, StepId};
use crate::kind::{Hold, People};
use crate::most::{MOST_ENTRIES, bears_on_run};
use crate::run_at::RunAt;
use crate::settings::Settings;
use crate::view::DefectView;

/// What is known outside a run that bears on it.
#[derive(Debug, Clone, Default)]
pub struct Context {
    /// The ship's settings, with what was computed for this run.
    pub settings: Settings,
    /// The roles of everyone aboard: who is named as the giver of a consent must have had the right to it.
    pub crew: Arc<Crew>,
    /// The other runs aboard, open and closed.
    pub past: Vec<PastRun>,
    /// Open defects raised in other runs.
    pub defects: Vec<DefectView>,
    /// The ship's gear, with what became of it and when.
    pub gear: Arc<Register>,
}

/// Another run, as far as this one needs to know it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct PastRun {
    /// The procedure's short name.
    pub slug: String,
    /// When it was started, ms UTC.
    pub started_at_ms: i64,
    /// When it was closed, ms UTC; none while it is open.
    pub closed_at_ms: Option<i64>,
    /// It was worked to its end.
    pub completed: bool,
    /// Whom its steps name that count for who takes part.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub named: Vec<PersonId>,
    /// The items that have a result of their own in it, and were not left out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub items: Vec<String>,
}

/// The state of a run. Ask it with [`RunState::view`] and [`crate::check`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunState {
    pub(crate) procedure: Procedure,
    pub(crate) settings: Settings,
    pub(crate) crew: Arc<Crew>,
    /// The other runs aboard; none when nobody said which there are.
    pub(crate) past: Option<Vec<PastRun>>,
    pub(crate) elsewhere: Vec<DefectView>,
    pub(crate) gear: Arc<Register>,
    pub(crate) history: History,
    /// For each step, the events that name it.
    pub(crate) by_step: Vec<Vec<usize>>,
    /// The events that can bear on more than the step they name; entries and ticks, of which there are many, not.
    pub(crate) of_run: Vec<usize>,
    pub(crate) statuses: Vec<EventStatus>,
    /// Answers to questions: the answer, the events asked about, and the one that stands.
    pub(crate) rulings: Vec<Ruling>,
}

/// Lists whom the steps name that count for who takes part, once each.
fn named(at: &RunAt<'_>) -> Vec<PersonId> {
    let mut all: Vec<PersonId> = Vec::new();
    for (s, step) in at.run.procedure.steps().iter().enumerate() {
        let counts = step.kind.names().is_some_and(|n| n.counts_for.is_some());
        let Some(Outcome::Names { who }) = at
            .state(s)
            .event
            .filter(|_| counts)
            .and_then(|i| at.outcome(i))
        else {
            continue;
        };
        for one in who {
            if !all.iter().any(|known| known.is_same(one)) {
                all.push(one.clone());
            }
        }
    }
    all
}

/// Lists the items that have a result of their own, and were not left out, once each.
fn items(at: &RunAt<'_>) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for (s, step) in at.run.procedure.steps().iter().enumerate() {
        let Some(each) = step.kind.each() else {
            continue;
        };
        for item in at.each_code(each) {
            let event = at.pick(s, Some(&item)).event;
            let outcome = event.and_then(|i| at.outcome(i));
            let is_left = matches!(
                outcome,
                None | Some(Outcome::Each {
                    found: Found::Left,
                    ..
                })
            );
            if !is_left && !all.contains(&item) {
                all.push(item);
            }
        }
    }
    all
}

/// What the fold knows of one event.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct EventStatus {
    /// Why the event counts for nothing.
    pub void: Option<VoidReason>,
    /// It came before what it waits for, as its device saw it.
    pub out_of_sequence: bool,
    /// Who struck it out.
    pub struck_by: Vec<usize>,
}

/// Why an event counts for nothing. It is kept and shown all the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum VoidReason {
    NoRight,
    /// Who was heard had no right to the consent.
    NotTheirsToGive,
    NoSuchStep,
    DoesNotFit,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Ruling {
    pub answer: usize,
    pub about: Vec<usize>,
    pub stands: Option<usize>,
}

/// Folds events, in any order and with repetitions, into the state of a run.
///
/// The other runs aboard are not known here, so what a step needs of them is not judged; use [`fold_in`] where
/// they are. Nor is the ship's gear: see [`fold_alone`].
pub fn fold(
    procedure: &Procedure,
    settings: &Settings,
    crew: &Arc<Crew>,
    events: &[RecordedEvent],
) -> RunState {
    let context = Context {
        settings: settings.clone(),
        crew: Arc::clone(crew),
        ..Context::default()
    };
    fold_knowing(procedure, &context, None, events)
}

/// Folds events as [`fold`] does, knowing the ship's gear; of the context's runs and defects nothing is judged.
pub fn fold_alone(procedure: &Procedure, context: &Context, events: &[RecordedEvent]) -> RunState {
    fold_knowing(procedure, context, None, events)
}

/// Folds events as [`fold_alone`] does, knowing the other runs and open defects aboard too.
pub fn fold_in(procedure: &Procedure, context: &Context, events: &[RecordedEvent]) -> RunState {
    let past = Some(context.past.clone());
    fold_knowing(procedure, context, past, events)
}

fn fold_knowing(
    procedure: &Procedure,
    context: &Context,
    past: Option<Vec<PastRun>>,
    events: &[RecordedEvent],
) -> RunState {
    let history = History::of(events);
    let mut by_step = vec![Vec::new(); procedure.steps().len()];
    for (i, stamped) in history.events.iter().enumerate() {
        if let Some(step) = stamped.event.step().and_then(|id| procedure.index_of(id)) {
            by_step[step].push(i);
        }
    }
    let of_run = (0..history.len())
        .filter(|i| bears_on_run(&history.events[*i].event))
        .collect();
    let mut state = RunState {
        statuses: vec![EventStatus::default(); history.len()],
        procedure: procedure.clone(),
        settings: context.settings.clone(),
        crew: Arc::clone(&context.crew),
        past,
        elsewhere: context.defects.clone(),
        gear: Arc::clone(&context.gear),
        by_step,
        of_run,
        history,
        rulings: Vec::new(),
    };
    for i in 0..state.history.len() {
        state.statuses[i].void = state.void(i);
        if state.statuses[i].void.is_some() {
            continue;
        }
        state.note_strike(i);
        state.note_ruling(i);
        // Whether an event came in its turn is judged by what its device had seen, all of it sorted before.
        state.statuses[i].out_of_sequence = !RunAt::as_seen_by(&state, i).in_turn(i);
    }
    state
}

impl RunState {
    /// Returns who was aboard, with their names.
    pub fn crew(&self) -> &Crew {
        &self.crew
    }

    /// Returns the procedure that the run works.
    pub fn procedure(&self) -> &Procedure {
        &self.procedure
    }

    /// Returns the events in their order, each once.
    pub fn events(&self) -> &[RecordedEvent] {
        &self.history.events
    }

    /// Returns this run as another run needs to know it; none before it is started.
    pub fn as_past(&self) -> Option<PastRun> {
        // Neither the start nor the close depends on the moment at which one looks.
        let at = RunAt::whole(self, i64::MAX);
        let started = at
            .counted()
            .find(|i| matches!(self.event(*i).event, Event::Start { .. }))?;
        let closed = at.closed();
        Some(PastRun {
            slug: self.procedure.slug.clone(),
            started_at_ms: self.event(started).at_ms,
            closed_at_ms: closed.map(|i| self.event(i).at_ms),
            completed: closed.is_some_and(|i| {
                matches!(
                    self.event(i).event,
                    Event::Close {
                        end: End::Completed,
                        ..
                    }
                )
            }),
            named: named(&at),
            items: items(&at),
        })
    }

    /// Returns how many entries the run has beyond those that count.
    pub fn beyond(&self) -> usize {
        self.history.beyond
    }

    /// Returns whether the run has as many entries as it is to have.
    pub fn is_full(&self) -> bool {
        self.history.len() >= MOST_ENTRIES
    }

    /// Returns whether people are in a space, or the work is stopped.
    pub fn is_pressing(&self) -> bool {
        self.is_stopped() || self.has_people_inside()
    }

    /// Returns whether the work is stopped.
    pub fn is_stopped(&self) -> bool {
        RunAt::whole(self, i64::MAX).stopped().is_some()
    }

    /// Returns whether people are in a space.
    pub fn has_people_inside(&self) -> bool {
        !RunAt::whole(self, i64::MAX).inside().is_empty()
    }

    pub(crate) fn event(&self, i: usize) -> &RecordedEvent {
        &self.history.events[i]
    }

    pub(crate) fn step_of(&self, id: &StepId) -> Option<(usize, &Step)> {
        let index = self.procedure.index_of(id)?;
        Some((index, &self.procedure.steps[index]))
    }

    /// Returns the consent that a step waits for.
    fn consent_at(&self, step: &StepId) -> Option<&Hold> {
        self.step_of(step)?.1.kind.consent()
    }

    fn void(&self, i: usize) -> Option<VoidReason> {
        let stamped = self.event(i);
        if let Some(id) = stamped.event.step() {
            let Some((_, step)) = self.step_of(id) else {
                return Some(VoidReason::NoSuchStep);
            };
            if !fits(step, &stamped.event) {
                return Some(VoidReason::DoesNotFit);
            }
        }
        if stamped.is_withdrawn {
            return Some(VoidReason::NoRight);
        }
        let moments = [stamped.hlc, stamped.judged_at];
        if !moments.iter().all(|at| self.giver_may(&stamped.event, *at)) {
            return Some(VoidReason::NotTheirsToGive);
        }
        (!self.has_right(&stamped.event, &stamped.person, stamped.roles))
            .then_some(VoidReason::NoRight)
    }

    /// Returns whether who is named in a consent heard by radio could act as the hold's role at that moment.
    pub(crate) fn giver_may(&self, event: &Event, at: Stamp) -> bool {
        let Event::Consent {
            step,
            how: ConsentBy::Radio { from },
            ..
        } = event
        else {
            return true;
        };
        self.consent_at(step)
            .is_none_or(|hold| self.crew.roles_at(from, at).may_act_as(hold.consent))
    }

    /// Returns whether a person may sign an event, by roles and by who did what it refers to.
    pub(crate) fn has_right(&self, event: &Event, by: &PersonId, roles: Roles) -> bool {
        let step = event
            .step()
            .and_then(|id| self.step_of(id))
            .map(|(_, step)| step);
        match event {
            // Nobody is kept from stopping the work but who speaks with a key that was withdrawn.
            Event::Stop { .. } => true,
            Event::Done { .. } | Event::NotDone { .. } => {
                roles.may_act_as(step.map_or(Role::Crew, |step| step.by))
            }
            Event::Start { .. }
            | Event::NotSo { .. }
            | Event::Log { .. }
            | Event::In { .. }
            | Event::Out { .. }
            | Event::Attend { .. }
            | Event::Message { .. }
            | Event::Read { .. }
            | Event::Second { .. } => roles.may_act_as(Role::Crew),
            Event::Consent { how, .. } => {
                let hold = step.and_then(|step| step.kind.consent());
                hold.is_some_and(|hold| match how {
                    ConsentBy::Network => roles.may_act_as(hold.consent),
                    ConsentBy::Radio { from } => {
                        hold.radio && from != by && roles.may_act_as(Role::Crew)
                    }
                })
            }
            Event::Countersign { event, .. } => self.may_countersign(event, by, roles),
            Event::StrikeOut { event, .. } => {
                let target = self.history.find(event).map(|i| self.event(i));
                target.is_some_and(|target| {
                    strikable(&target.event)
                        && (target.person == *by && roles.may_act_as(Role::Crew)
                            || roles.may_act_as(Role::Officer))
                })
            }
            Event::GoOn { .. }
            | Event::Resume { .. }
            | Event::AnswerQuestion { .. }
            | Event::Acknowledge { .. }
            | Event::Close {
                end: End::BrokenOff,
                ..
            } => roles.may_act_as(Role::Officer),
            Event::Close {
                end: End::Completed,
                ..
            } => roles.may_act_as(self.procedure.close_by),
            Event::Defect { change, .. } => match change {
                DefectChange::Noted | DefectChange::HandedOver { .. } => {
                    roles.may_act_as(Role::Crew)
                }
                DefectChange::Accepted { .. } | DefectChange::Closed | DefectChange::Due { .. } => {
                    roles.may_act_as(Role::Officer)
                }
            },
        }
    }

    /// Only who was heard may say that he was, or the master; never who wrote it down.
    fn may_countersign(&self, consent: &[u8; 32], by: &PersonId, roles: Roles) -> bool {
        let Some(consent) = self.history.find(consent).map(|i| self.event(i)) else {
            return false;
        };
        let Event::Consent {
            step,
            how: ConsentBy::Radio { from },
            ..
        } = &consent.event
        else {
            return false;
        };
        let Some(hold) = self.consent_at(step) else {
            return false;
        };
        consent.person != *by
            && roles.may_act_as(hold.consent)
            && (from == by || roles.may_act_as(Role::Master))
    }

    fn note_strike(&mut self, i: usize) {
        if let Event::StrikeOut { event, .. } = &self.event(i).event {
            // A strike-out can only mean what its device had seen.
            if let Some(target) = self
                .history
                .find(event)
                .filter(|t| self.history.had_seen(i, *t))
            {
                self.statuses[target].struck_by.push(i);
            }
        }
    }

    fn note_ruling(&mut self, i: usize) {
        if let Event::AnswerQuestion {
            question, stands, ..
        } = &self.event(i).event
        {
            let about: Vec<usize> = (0..i)
                .filter(|t| {
                    self.history.had_seen(i, *t)
                        && crate::questions::mentions(question, &self.event(*t).id)
                })
                .collect();
            let stands = stands
                .and_then(|id| self.history.find(&id))
                .filter(|t| about.contains(t));
            self.rulings.push(Ruling {
                answer: i,
                about,
                stands,
            });
        }
    }
}

/// Returns whether an event can be struck out. Entering, stopping and closing happened and cannot.
pub(crate) fn strikable(event: &Event) -> bool {
    matches!(
        event,
        Event::Done { .. }
            | Event::NotDone { .. }
            | Event::NotSo { .. }
            | Event::Consent { .. }
            | Event::Countersign { .. }
            | Event::Second { .. }
            | Event::GoOn { .. }
            | Event::Log { .. }
            | Event::Out { .. }
            | Event::AnswerQuestion { .. }
    )
}

/// Returns whether an event is of the sort that its step asks for.
pub(crate) fn fits(step: &Step, event: &Event) -> bool {
    let rules = step.kind.rules();
    match event {
        Event::Done { outcome, .. } => rules.answers(outcome),
        Event::NotDone { .. } => rules.consent().is_none(),
        Event::Consent { .. } => rules.consent().is_some(),
        Event::Log { .. } => rules.keeps_log(),
        Event::In { .. } | Event::Out { .. } => rules.people().is_some(),
        Event::Attend { who, .. } => {
            rules.people().is_some_and(People::is_attended) && !who.is_nobody()
        }
        Event::Start { .. }
        | Event::NotSo { .. }
        | Event::Countersign { .. }
        | Event::Second { .. }
        | Event::StrikeOut { .. }
        | Event::GoOn { .. }
        | Event::Stop { .. }
        | Event::Resume { .. }
        | Event::AnswerQuestion { .. }
        | Event::Close { .. }
        | Event::Defect { .. }
        | Event::Message { .. }
        | Event::Read { .. }
        | Event::Acknowledge { .. } => true,
    }
}
