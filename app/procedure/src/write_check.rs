//! What a device allows before it writes. A refusal says why, in words for the person at the screen.

use crate::definition::{OnFault, Skip, Step};
use crate::event::{ConsentBy, DefectChange, End, Event};
use crate::ids::{PersonId, Role, Roles};
use crate::most;
use crate::run_at::RunAt;
use crate::state::{RunState, fits, strikable};
use crate::view::{DefectView, Status};
use crate::{questions, words};

mod gear;
mod refusal;
mod second;

pub use refusal::Refusal;

/// Returns whether a person may write an event now, with all that this device has seen.
///
/// # Errors
/// A [`Refusal`] that says why not. What another device writes meanwhile is never refused; the fold judges it.
pub fn check(
    state: &RunState,
    now_ms: i64,
    by: &PersonId,
    roles: Roles,
    event: &Event,
) -> Result<(), Refusal> {
    let check = WriteCheck {
        at: RunAt::whole(state, now_ms),
        by,
        roles,
    };
    check.run_allows(event)?;
    let step = match event.step() {
        None => None,
        Some(id) => {
            let found = state.procedure.index_of(id);
            Some(found.ok_or_else(|| Refusal::NoSuchStep(id.to_string()))?)
        }
    };
    if let Some(step) = step.map(|s| check.at.step(s))
        && !fits(step, event)
    {
        return Err(Refusal::DoesNotFit(step.kind.name()));
    }
    check.event_allowed(event, step)
}

struct WriteCheck<'a> {
    at: RunAt<'a>,
    by: &'a PersonId,
    roles: Roles,
}

impl WriteCheck<'_> {
    fn run_allows(&self, event: &Event) -> Result<(), Refusal> {
        let run = self.at.run;
        let hash = || run.procedure.hash();
        let started = self.at.counted().find_map(|i| match &run.event(i).event {
            Event::Start { procedure, .. } => Some(*procedure),
            _ => None,
        });
        match (event, started) {
            (Event::Start { .. }, Some(_)) => return Err(Refusal::AlreadyStarted),
            (Event::Start { procedure, .. }, None) => {
                return if *procedure == hash() {
                    Ok(())
                } else {
                    Err(Refusal::WrongProcedure)
                };
            }
            (_, None) => return Err(Refusal::NotStarted),
            (_, Some(pinned)) if pinned != hash() => return Err(Refusal::WrongProcedure),
            _ => {}
        }
        let after_close = matches!(
            event,
            Event::Out { .. }
                | Event::Countersign { .. }
                | Event::Second { .. }
                | Event::StrikeOut { .. }
                | Event::AnswerQuestion { .. }
                | Event::Defect { .. }
                | Event::Acknowledge { .. }
                | Event::Read { .. }
        ) || event.is_rescue()
            || self.answers_second(event);
        if !after_close && self.at.closed().is_some() {
            return Err(Refusal::Closed);
        }
        if run.is_full() && !most::may_be_written_in_a_full_run(event) {
            return Err(Refusal::Full(run.history.len() + run.beyond()));
        }
        Ok(())
    }

    fn needs_role(&self, role: Role) -> Result<(), Refusal> {
        if self.roles.may_act_as(role) {
            Ok(())
        } else {
            Err(Refusal::NotTheirs(role.words()))
        }
    }

    fn turn(&self, s: usize) -> Result<(), Refusal> {
        self.at
            .blocked(s)
            .map_or(Ok(()), |because| Err(Refusal::Blocked(because)))
    }

    fn other_person(&self, step: &Step, who: &PersonId) -> Result<(), Refusal> {
        let mut others = step.other_than.iter().filter_map(|id| self.at.state_of(id));
        if others.any(|other| other.doers.contains(who)) {
            return Err(Refusal::SamePerson(who.clone()));
        }
        Ok(())
    }

    fn event_allowed(&self, event: &Event, step: Option<usize>) -> Result<(), Refusal> {
        match (event, step) {
            (Event::Done { outcome, .. }, Some(s)) => {
                self.knows_item(outcome)?;
                self.done(s)
            }
            (Event::NotDone { reason, .. }, Some(s)) => self.not_done(s, reason),
            (Event::NotSo { text, terms, .. }, Some(s)) => {
                self.needs_role(Role::Crew)?;
                reason(text)?;
                self.knows_item_of(terms.as_ref())?;
                if self.at.applies(s) {
                    Ok(())
                } else {
                    Err(Refusal::Blocked(words::DOES_NOT_APPLY.to_owned()))
                }
            }
            (
                Event::Consent {
                    granted,
                    how,
                    words: said,
                    ..
                },
                Some(s),
            ) => {
                let giver = self.consent_by(s, event, how)?;
                self.consent(s, *granted, giver, said)
            }
            (Event::Log { entry, .. }, Some(s)) => {
                self.needs_role(Role::Crew)?;
                self.at.rules(s).check_entry(&self.at, entry)?;
                if self.at.entry_open(s) {
                    Ok(())
                } else {
                    self.turn(s)
                }
            }
            (Event::In { who, .. }, Some(s)) => {
                self.needs_role(Role::Crew)?;
                if who.is_nobody() {
                    return Err(Refusal::NoName);
                }
                if self.at.is_inside(who) {
                    return Err(Refusal::AlreadyInside(who.clone()));
                }
                if self.at.is_attendant(s, who) {
                    return Err(Refusal::Attends(who.clone()));
                }
                if event.is_rescue() {
                    return Ok(());
                }
                self.at
                    .entry_blocked(s)
                    .map_or(Ok(()), |because| Err(Refusal::Blocked(because)))
            }
            (Event::Out { .. }, Some(_)) => self.needs_role(Role::Crew),
            (Event::Attend { who, .. }, Some(_)) => {
                self.needs_role(Role::Crew)?;
                if self.at.is_inside(who) {
                    return Err(Refusal::AttendsFromInside(who.clone()));
                }
                Ok(())
            }
            (Event::GoOn { reason: why, .. }, Some(s)) => self.go_on(s, why),
            (Event::Countersign { event, .. }, _) => {
                let found = self
                    .at
                    .run
                    .history
                    .find(event)
                    .ok_or(Refusal::NoSuchEvent)?;
                let radio = matches!(
                    &self.at.run.event(found).event,
                    Event::Consent {
                        how: ConsentBy::Radio { .. },
                        ..
                    }
                );
                if !radio {
                    return Err(Refusal::NoSuchEvent);
                }
                self.by_right(&countersigned(event), Refusal::NotHeard)
            }
            (Event::Second { event }, _) => self.second(event),
            (Event::StrikeOut { event, reason: why }, _) => self.strike(event, why),
            (Event::Stop { cause }, _) => reason(cause),
            (Event::Resume { reason: why }, _) => {
                self.needs_role(Role::Officer)?;
                self.at.stopped().ok_or(Refusal::NotStopped)?;
                reason(why)
            }
            (
                Event::AnswerQuestion {
                    question,
                    reason: why,
                    ..
                },
                _,
            ) => {
                self.needs_role(Role::Officer)?;
                self.question_open(question)?;
                reason(why)
            }
            (Event::Close { end, remark }, _) => self.close(*end, remark),
            (Event::Acknowledge { .. }, _) => self.needs_role(Role::Officer),
            (
                Event::Message {
                    text, photo, voice, ..
                },
                _,
            ) => {
                self.needs_role(Role::Crew)?;
                if photo.or(*voice).is_none() {
                    reason(text)
                } else {
                    Ok(())
                }
            }
            (Event::Read { event }, _) => self.reads(event),
            (
                Event::Defect {
                    defect,
                    change: DefectChange::Accepted { .. },
                    text,
                },
                _,
            ) if self.stops_use(defect) => {
                self.needs_role(Role::Master)?;
                if text.trim().is_empty() {
                    return Err(Refusal::NoRestriction);
                }
                Ok(())
            }
            (Event::Defect { .. }, _) => {
                if self.at.run.has_right(event, self.by, self.roles) {
                    return Ok(());
                }
                Err(Refusal::NotTheirs(Role::Officer.words()))
            }
            _ => Ok(()),
        }
    }

    fn stops_use(&self, defect: &[u8; 32]) -> bool {
        let defects = self.at.run.defects();
        let found = defects.iter().find(|known| known.id == *defect);
        found.is_some_and(DefectView::stops_use)
    }

    fn by_right(&self, event: &Event, refusal: Refusal) -> Result<(), Refusal> {
        if self.at.run.has_right(event, self.by, self.roles) {
            Ok(())
        } else {
            Err(refusal)
        }
    }

    fn done(&self, s: usize) -> Result<(), Refusal> {
        let step = self.at.step(s);
        self.needs_role(step.by)?;
        self.other_person(step, self.by)?;
        let rules = self.at.rules(s);
        rules.check_done(&self.at, s)?;
        let state = self.at.state(s);
        let once = step.good_for.is_none() && rules.is_done_once();
        if once
            && state.status == Status::Done
            && let Some(i) = state.event
            && !state.out_of_sequence
        {
            return Err(Refusal::AlreadyDone(self.at.person(i).clone()));
        }
        Ok(())
    }

    fn not_done(&self, s: usize, why: &str) -> Result<(), Refusal> {
        let step = self.at.step(s);
        self.needs_role(step.by)?;
        reason(why)?;
        if step.skip == Skip::Never {
            return Err(Refusal::NeverSkipped);
        }
        if !self.at.applies(s) {
            return Err(Refusal::Blocked(words::DOES_NOT_APPLY.to_owned()));
        }
        let state = self.at.state(s);
        if step.on_fault == OnFault::Stop && matches!(state.status, Status::NotSo(_)) {
            return Err(Refusal::MustBeRight);
        }
        let done = state.event.filter(|i| self.at.outcome(*i).is_some());
        done.map_or(Ok(()), |i| {
            Err(Refusal::AlreadyDone(self.at.person(i).clone()))
        })
    }

    /// Returns whose consent it is: who signs, or who was heard and had the right to it.
    fn consent_by<'e>(
        &'e self,
        s: usize,
        event: &Event,
        how: &'e ConsentBy,
    ) -> Result<&'e PersonId, Refusal> {
        let step = self.at.step(s);
        let Some(hold) = step.kind.consent() else {
            return Err(Refusal::DoesNotFit(step.kind.name()));
        };
        match how {
            ConsentBy::Network => {
                self.needs_role(hold.consent)?;
                Ok(self.by)
            }
            ConsentBy::Radio { from } => {
                self.needs_role(Role::Crew)?;
                if !hold.radio {
                    return Err(Refusal::NotByRadio);
                }
                if from == self.by {
                    return Err(Refusal::HeardOneself);
                }
                if from.is_nobody() {
                    return Err(Refusal::NoName);
                }
                let now = (u64::try_from(self.at.now).unwrap_or(0), u32::MAX);
                if !self.at.run.giver_may(event, now) {
                    return Err(Refusal::NotTheirsToGive(from.clone(), hold.consent.words()));
                }
                Ok(from)
            }
        }
    }

    fn consent(
        &self,
        s: usize,
        granted: bool,
        giver: &PersonId,
        said: &str,
    ) -> Result<(), Refusal> {
        let step = self.at.step(s);
        if !granted {
            return reason(said);
        }
        self.other_person(step, giver)?;
        self.turn(s)?;
        let state = self.at.state(s);
        match (state.passed, state.event) {
            (true, Some(i)) if step.good_for.is_none() => {
                Err(Refusal::AlreadyDone(self.at.consenter(i).clone()))
            }
            _ => Ok(()),
        }
    }

    fn go_on(&self, s: usize, why: &str) -> Result<(), Refusal> {
        self.needs_role(Role::Officer)?;
        reason(why)?;
        let step = self.at.step(s);
        let state = self.at.state(s);
        match &state.status {
            Status::OutOfLimits | Status::NotSo(_) if step.on_fault == OnFault::Stop => {
                Err(Refusal::MustBeRight)
            }
            Status::NotDone(_) if step.skip == Skip::Never => Err(Refusal::NeverSkipped),
            Status::OutOfLimits | Status::NotSo(_) | Status::NotDone(_)
                if state.gone_on.is_none() =>
            {
                Ok(())
            }
            Status::Waiting(_) | Status::ToDo if !step.needs.is_empty() => Ok(()),
            _ => Err(Refusal::NothingToGoOn),
        }
    }

    fn strike(&self, event: &[u8; 32], why: &str) -> Result<(), Refusal> {
        reason(why)?;
        let found = self
            .at
            .run
            .history
            .find(event)
            .ok_or(Refusal::NoSuchEvent)?;
        let target = self.at.run.event(found);
        if !strikable(&target.event) {
            return Err(Refusal::CannotStrike);
        }
        if self.at.struck(found).is_some() {
            return Err(Refusal::AlreadyStruck);
        }
        let strike = Event::StrikeOut {
            event: *event,
            reason: why.to_owned(),
        };
        self.by_right(&strike, Refusal::NotTheirEntry(target.person.clone()))
    }

    /// A message is read once by each person, and not by who wrote it.
    fn reads(&self, message: &[u8; 32]) -> Result<(), Refusal> {
        self.needs_role(Role::Crew)?;
        let messages = self.at.messages();
        let found = messages.iter().find(|found| found.event == *message);
        let found = found.ok_or(Refusal::NoSuchEvent)?;
        if found.by.is_same(self.by) || found.read.iter().any(|read| read.by.is_same(self.by)) {
            return Err(Refusal::NothingToGoOn);
        }
        Ok(())
    }

    fn question_open(&self, question: &str) -> Result<(), Refusal> {
        let step = questions::step(question).ok_or(Refusal::NoSuchQuestion)?;
        let state = self.at.state_of(&step).ok_or(Refusal::NoSuchQuestion)?;
        let open = state.questions.iter().any(|(about, events)| {
            let ids: Vec<&[u8; 32]> = events.iter().map(|i| &self.at.run.event(*i).id).collect();
            questions::name(*about, &step, &ids) == question
        });
        if open {
            Ok(())
        } else {
            Err(Refusal::NoSuchQuestion)
        }
    }

    fn close(&self, end: End, remark: &str) -> Result<(), Refusal> {
        match end {
            End::Completed => self.needs_role(self.at.run.procedure.close_by)?,
            End::BrokenOff => {
                self.needs_role(Role::Officer)?;
                reason(remark)?;
            }
        }
        let open = self.at.open_before_close(end);
        if open.is_empty() {
            Ok(())
        } else {
            Err(Refusal::StillOpen(open))
        }
    }
}

fn reason(text: &str) -> Result<(), Refusal> {
    if text.trim().is_empty() {
        Err(Refusal::NoReason)
    } else {
        Ok(())
    }
}

fn countersigned(consent: &[u8; 32]) -> Event {
    Event::Countersign {
        event: *consent,
        granted: true,
        words: String::new(),
    }
}
