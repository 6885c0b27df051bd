//! Rehearses a run: says what people who do what a procedure asks for would do next. For demonstrations and tests.

use crate::Decimal;
use crate::cable::Side;
use crate::definition::Skip;
use crate::event::{ConsentBy, Event, LogEntry, Outcome};
use crate::ids::{PersonId, StepId};
use crate::view::{LimitsView, PointView, RunView, SecondView, Status, StepView};

mod play;
mod trial;

pub use play::{Act, BEGINS_MS, PEOPLE, Played, Rehearsal, plain_acts};
pub use trial::{Answered, Trial, TrialLine};

/// What comes next in a run.
#[derive(Debug, Clone, PartialEq)]
pub enum Next<'v> {
    /// A second person signs for an event.
    Second {
        /// The event.
        event: [u8; 32],
        /// Who may not sign, because they did it.
        not_by: &'v [PersonId],
    },
    /// A step is worked.
    Work(&'v StepView),
    /// Nothing can be done before this moment, ms UTC.
    Wait(i64),
    /// All is done: the run can be closed.
    Close,
    /// Nothing can be done, and no clock runs: this is still open.
    Stuck(&'v [String]),
}

/// Says what comes next.
pub fn next(view: &RunView) -> Next<'_> {
    let second = view.steps.iter().find_map(|step| match &step.second {
        SecondView::Wanted { event, not_by } if matches!(step.status, Status::Waiting(_)) => {
            Some(Next::Second {
                event: *event,
                not_by,
            })
        }
        _ => None,
    });
    let first = view.next.first();
    let work = || {
        let step = view.steps.iter().find(|step| first == Some(&step.id));
        step.map(Next::Work)
    };
    if let Some(next) = second.or_else(work) {
        return next;
    }
    // What may be signed later is signed when there is nothing else to do.
    let mut later = view.steps.iter().filter(|step| step.second_later);
    if let Some(SecondView::Wanted { event, not_by }) = later.next().map(|step| &step.second) {
        return Next::Second {
            event: *event,
            not_by,
        };
    }
    if view.open_before_close.is_empty() {
        return Next::Close;
    }
    let ends = view.countdowns.iter().map(|countdown| countdown.ends_at_ms);
    ends.min()
        .map_or(Next::Stuck(&view.open_before_close), Next::Wait)
}

/// How people answer what they are asked. Each answer that is not given here is right, and the plainest there is.
pub trait Answers {
    /// Returns what is read at a point.
    fn reading(&self, point: &PointView) -> Decimal {
        within(&point.limits)
    }

    /// Returns what is chosen.
    fn option(&self, step: &StepView) -> String {
        let mut good = step.options.iter().filter(|option| !option.bad);
        good.next()
            .map(|option| option.key.clone())
            .unwrap_or_default()
    }

    /// Returns the code of the item that is used: the first that may be.
    fn item(&self, step: &StepView) -> String {
        let mut usable = step.items.iter().filter(|item| item.because.is_none());
        usable
            .next()
            .map(|item| item.code.clone())
            .unwrap_or_default()
    }

    /// Names who takes part, at least so many.
    fn names(&self, at_least: usize) -> Vec<PersonId> {
        let all = ["first", "second", "third", "fourth", "fifth"];
        all.into_iter()
            .take(at_least.max(1))
            .map(PersonId::new)
            .collect()
    }

    /// Returns how many are counted; `least` are right.
    fn count(&self, _step: &StepView, least: u32) -> u32 {
        least
    }

    /// Returns latitude and longitude, degrees, and the radius of accuracy, m.
    fn position(&self) -> (Decimal, Decimal, Option<Decimal>) {
        (Decimal::whole(50), Decimal::whole(-4), None)
    }

    /// Returns what is written down.
    fn text(&self, _step: &StepView) -> String {
        "as ordered".to_owned()
    }

    /// Returns the photograph that was taken; none where the step is left undone.
    fn photo(&self) -> Option<[u8; 32]> {
        None
    }

    /// Returns whether consent is given, and how it comes.
    fn consent(&self) -> (bool, ConsentBy) {
        (true, ConsentBy::Network)
    }

    /// Lists what is written in a log.
    fn entries(&self, step: &StepView) -> Vec<LogEntry> {
        let read = |point: &PointView| (point.key.clone(), self.reading(point));
        let readings: Vec<_> = step.points.iter().map(read).collect();
        let is_call = step.kind.people().is_some();
        let remark = (readings.is_empty() && !is_call).then(|| "as ordered".to_owned());
        vec![LogEntry {
            remark,
            readings,
            ..LogEntry::default()
        }]
    }

    /// Returns the cable that is meant where a log is of both.
    fn side(&self) -> Side {
        Side::Port
    }

    /// Names who attends at the hatch, and who goes in.
    fn people(&self) -> (PersonId, Vec<PersonId>) {
        ("attendant".into(), vec!["first".into(), "second".into()])
    }
}

/// The plainest right answers.
#[derive(Debug, Clone, Copy)]
pub struct Plainly;

impl Answers for Plainly {}

/// Lists the events that work a step from how it stands now to its end, in their order; none where nobody works it.
pub fn work(view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
    step.kind.rules().rehearse(view, step, answers)
}

/// Returns a number within limits.
pub fn within(limits: &LimitsView) -> Decimal {
    if limits.is_date {
        return date_within(limits);
    }
    let calls = limits.calls.iter().map(|call| call.from.to_f64());
    let call = calls.min_by(f64::total_cmp);
    let low = limits.min.or(limits.above).map(Decimal::to_f64);
    let high = limits.max.or(limits.below).map(Decimal::to_f64);
    let high = [high, call].into_iter().flatten().min_by(f64::total_cmp);
    let value = match (low, high) {
        (Some(low), Some(high)) => f64::midpoint(low, high),
        (Some(low), None) => low + 1.0,
        (None, Some(high)) => high / 2.0,
        (None, None) => 1.0,
    };
    Decimal::from_f64(value, 3).unwrap_or(Decimal::whole(1))
}

/// Returns the first day of the year after today's.
fn date_within(limits: &LimitsView) -> Decimal {
    let today = limits.min.map_or(20_000_101.0, Decimal::to_f64);
    let next = ((today / 10_000.0).floor() + 1.0) * 10_000.0 + 101.0;
    Decimal::from_f64(next, 0).unwrap_or(Decimal::whole(1))
}

/// Does a step with an outcome.
pub(crate) fn done(step: &StepView, outcome: Outcome) -> Event {
    Event::Done {
        step: step.id.clone(),
        outcome,
    }
}

/// Finds the count that was made at another step.
pub(crate) fn counted(view: &RunView, id: &StepId) -> Option<u32> {
    let step = view.steps.iter().find(|step| step.id == *id)?;
    let value = step.points.first()?.value?;
    value.to_string().parse().ok()
}

/// Leaves a step undone, where anyone may.
pub(crate) fn left_undone(step: &StepView, reason: &str) -> Vec<Event> {
    if step.skip == Skip::Never {
        return Vec::new();
    }
    vec![Event::NotDone {
        step: step.id.clone(),
        reason: reason.to_owned(),
    }]
}
