//! Each: one result for each item of some kinds of gear, on one side or everywhere.
//!
//! It belongs to the run only where the register had such an item, in service, as the run began; those are its items for the
//! whole run, so that nobody's result is lost by a later change of the register. Each result is a record of its own: several
//! people may work it, and none is lost when a phone dies. Where the step has a point, it is read at each item; otherwise each is
//! good, not good, or left out where the step lets it be. What is counted is counted by the program.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::{KindRules, plain_verdict};
use crate::cable::side_of;
use crate::definition::{Point, Span};
use crate::event::{Event, Found, Outcome};
use crate::parse::FileTable;
use crate::rehearsal::{Answers, done};
use crate::requirement::{Requirement, What};
use crate::run_at::{RunAt, StepState};
use crate::view::{PointView, RunView, StepView, Verdict};
use crate::words;

/// Asks for a result for each item of some kinds.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Each {
    /// The kinds' short names.
    #[n(0)]
    pub items: Vec<String>,
    /// Only those on this side: `port` or `starboard`; none for all.
    #[n(1)]
    #[serde(default)]
    pub side: Option<String>,
    /// So many have to be good, at least; none where nothing is counted.
    #[n(2)]
    #[serde(default)]
    pub at_least: Option<u32>,
    /// An item may be left out.
    #[n(3)]
    #[serde(default)]
    pub may_leave: Option<bool>,
    /// What is read at each; empty where each is good or not.
    #[n(4)]
    pub points: Vec<Point>,
    /// Within how long every item has a result, though each run works but some of them.
    #[n(5)]
    #[serde(default)]
    pub all_within: Option<Span>,
}

impl Each {
    /// Returns whether an item may be left out.
    pub fn is_leavable(&self) -> bool {
        self.may_leave == Some(true)
    }

    fn is_read(&self) -> bool {
        !self.points.is_empty()
    }
}

impl KindRules for Each {
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        let items = file.texts("items").unwrap_or_default();
        if items.is_empty() {
            file.mistake("'items' names the kinds of gear of which each is worked");
        }
        let side = file.text("side");
        if side.as_ref().is_some_and(|side| side_of(side).is_none()) {
            file.mistake_at("side", "'side' is \"port\" or \"starboard\"");
        }
        let at_least = file.whole("at_least");
        let may_leave = file.yes_or_no("may_leave").then_some(true);
        if file.has("all_within") && may_leave.is_none() {
            file.mistake_at("all_within", "'all_within' is for steps with 'may_leave'");
        }
        let points = file.points();
        if points.len() > 1 {
            file.mistake("one thing is read at each item, not several");
        }
        if !points.is_empty() && (may_leave.is_some() || at_least.is_some()) {
            file.mistake("what is read is read at every item: no 'may_leave' and no 'at_least'");
        }
        Some(Self {
            items,
            side,
            at_least,
            may_leave,
            points,
            all_within: file.span("all_within"),
        })
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement {
            what: What::Each {
                items: &self.items,
                side: self.side.as_deref(),
                at_least: self.at_least,
                may_leave: self.is_leavable(),
                all_within: self.all_within.as_ref(),
            },
            points: &self.points,
            every: None,
        }
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        let is_open = |point: &&PointView| !point.verdict.as_ref().is_some_and(|v| v.within);
        let mut open: Vec<&PointView> = step.points.iter().filter(is_open).collect();
        if open.is_empty() {
            open = step.points.iter().collect();
        }
        let answer = |point: &PointView| {
            let outcome = if self.is_read() {
                Outcome::Reading {
                    point: point.key.clone(),
                    value: answers.reading(point),
                }
            } else {
                Outcome::Each {
                    item: point.key.clone(),
                    found: Found::Good,
                }
            };
            done(step, outcome)
        };
        open.into_iter().map(answer).collect()
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        match outcome {
            Outcome::Each { .. } => !self.is_read(),
            Outcome::Reading { .. } => self.is_read(),
            _ => false,
        }
    }

    fn points(&self) -> &[Point] {
        &self.points
    }

    fn answered_by_point(&self) -> bool {
        true
    }

    fn point_keys(&self, at: &RunAt<'_>) -> Vec<String> {
        at.each_code(self)
    }

    fn each(&self) -> Option<&Each> {
        Some(self)
    }

    fn belongs(&self, at: &RunAt<'_>) -> bool {
        at.has_each(self)
    }

    fn answer_is_consented_to(&self) -> bool {
        true
    }

    fn verdict(&self, at: &RunAt<'_>, outcome: &Outcome) -> Verdict {
        let (Outcome::Each { item, .. } | Outcome::Reading { point: item, .. }) = outcome else {
            return plain_verdict(outcome);
        };
        let all = at.each_item(self);
        let Some((_, name)) = all.iter().find(|(code, _)| code == item) else {
            return Verdict {
                within: false,
                words: words::not_asked_for(item),
            };
        };
        let (within, said) = match (outcome, self.points.first()) {
            (Outcome::Reading { value, .. }, Some(point)) => {
                let verdict = at.limits_of(point).verdict(*value, &point.unit);
                (verdict.within, verdict.words)
            }
            (Outcome::Each { found, .. }, _) => {
                let within = match found {
                    Found::Good => true,
                    Found::Bad => false,
                    Found::Left => self.is_leavable(),
                };
                (within, found.words().to_owned())
            }
            _ => (false, words::NO_SUCH_POINT.to_owned()),
        };
        Verdict {
            within,
            words: format!("{name}: {said}"),
        }
    }

    fn contradict(&self, one: &Outcome, other: &Outcome) -> bool {
        matches!(one, Outcome::Each { .. }) && one != other
    }

    fn unfinished(&self, at: &RunAt<'_>, s: usize, _done: usize) -> Option<&'static str> {
        let at_least = self.at_least?;
        let is_good = |item: &String| {
            let event = at.pick(s, Some(item)).event;
            let outcome = event.and_then(|i| at.outcome(i));
            matches!(
                outcome,
                Some(Outcome::Each {
                    found: Found::Good,
                    ..
                })
            )
        };
        let good = self
            .point_keys(at)
            .iter()
            .filter(|item| is_good(item))
            .count();
        let good = u32::try_from(good).unwrap_or(u32::MAX);
        (good < at_least).then_some(words::TOO_FEW_GOOD)
    }

    fn valid_since(&self, at: &RunAt<'_>, s: usize, since: usize) -> bool {
        let keys = self.point_keys(at);
        keys.iter()
            .all(|key| at.point_valid_since(s, Some(key), since))
    }

    fn point_views(&self, at: &RunAt<'_>, s: usize, state: &StepState) -> Vec<PointView> {
        let point = self.points.first();
        let limits = point.map(|point| at.limits_of(point)).unwrap_or_default();
        let view = |(p, (key, label)): (usize, (String, String))| {
            let event = state.points.get(p).copied().flatten();
            let outcome = event.and_then(|i| at.outcome(i));
            PointView {
                key,
                label,
                unit: point.map(|point| point.unit.clone()).unwrap_or_default(),
                limits: limits.clone(),
                value: match outcome {
                    Some(Outcome::Reading { value, .. }) => Some(*value),
                    _ => None,
                },
                verdict: outcome.map(|outcome| at.verdict(s, outcome)),
                by: event.map(|i| at.person(i).clone()),
                at_ms: event.map(|i| at.at_ms(i)),
                event: event.map(|i| at.run.event(i).id),
            }
        };
        at.each_item(self)
            .into_iter()
            .enumerate()
            .map(view)
            .collect()
    }
}
