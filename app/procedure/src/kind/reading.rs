//! Reading: read a number at each of some points, once.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::{KindRules, plain_verdict};
use crate::definition::Point;
use crate::event::{Event, Outcome};
use crate::parse::FileTable;
use crate::rehearsal::{Answers, done};
use crate::requirement::{Requirement, What};
use crate::run_at::{RunAt, StepState};
use crate::view::{PointView, RunView, Status, StepView, Verdict};
use crate::words;

/// Asks for a number at each of its points.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Reading {
    /// What is read, at which points.
    #[n(0)]
    pub points: Vec<Point>,
}

impl KindRules for Reading {
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        let points = file.points();
        if points.is_empty() {
            file.mistake("a reading needs at least one [[step.point]]");
        }
        Some(Self { points })
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement {
            what: What::Readings,
            points: &self.points,
            every: None,
        }
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        let is_open = |point: &&PointView| {
            step.status == Status::Stale || !point.verdict.as_ref().is_some_and(|v| v.within)
        };
        let mut open: Vec<&PointView> = step.points.iter().filter(is_open).collect();
        if open.is_empty() {
            open = step.points.iter().collect();
        }
        let read = |point: &PointView| {
            done(
                step,
                Outcome::Reading {
                    point: point.key.clone(),
                    value: answers.reading(point),
                },
            )
        };
        // A limit that names what is read just before is known only when that has been read.
        let known = open
            .iter()
            .take_while(|point| point.limits.unknown.is_empty())
            .count();
        open.truncate(known.max(1));
        open.into_iter().map(read).collect()
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Reading { point, .. }
            if self.points.iter().any(|known| known.key == *point))
    }

    fn points(&self) -> &[Point] {
        &self.points
    }

    fn answered_by_point(&self) -> bool {
        true
    }

    fn verdict(&self, at: &RunAt<'_>, outcome: &Outcome) -> Verdict {
        let Outcome::Reading { point, value } = outcome else {
            return plain_verdict(outcome);
        };
        match self.points.iter().find(|known| known.key == *point) {
            Some(known) => at.limits_of(known).verdict(*value, &known.unit),
            None => Verdict {
                within: false,
                words: words::NO_SUCH_POINT.to_owned(),
            },
        }
    }

    fn valid_since(&self, at: &RunAt<'_>, s: usize, since: usize) -> bool {
        let mut points = self.points.iter().filter(|point| at.is_asked(point));
        points.all(|point| at.point_valid_since(s, Some(&point.key), since))
    }

    fn point_views(&self, at: &RunAt<'_>, _s: usize, state: &StepState) -> Vec<PointView> {
        // As they are gathered: what this ship does not ask for has no place among them.
        let points = self
            .points
            .iter()
            .filter(|point| at.is_asked(point))
            .enumerate();
        let view = |(p, point): (usize, &Point)| {
            let event = state.points.get(p).copied().flatten();
            let value = event.and_then(|i| match at.outcome(i) {
                Some(Outcome::Reading { value, .. }) => Some(*value),
                _ => None,
            });
            let limits = at.limits_of(point);
            PointView {
                key: point.key.clone(),
                label: point.label.clone(),
                unit: point.unit.clone(),
                verdict: value.map(|value| limits.verdict(value, &point.unit)),
                limits,
                value,
                by: event.map(|i| at.person(i).clone()),
                at_ms: event.map(|i| at.at_ms(i)),
                event: event.map(|i| at.run.event(i).id),
            }
        };
        points.map(view).collect()
    }
}
