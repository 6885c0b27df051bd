//! Count: how many there are.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::{Kind, KindRules, plain_verdict};
use crate::Decimal;
use crate::definition::Limits;
use crate::event::{Event, Outcome};
use crate::ids::StepId;
use crate::parse::{FileTable, StepCheck};
use crate::rehearsal::{Answers, counted, done, within};
use crate::requirement::{Requirement, What};
use crate::run_at::{RunAt, StepState};
use crate::view::{PointView, RunView, StepView, Verdict};
use crate::words;

/// Asks how many there are.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Count {
    /// What is counted.
    #[n(0)]
    pub of: String,
    /// How many there may be.
    #[n(1)]
    pub limits: Limits,
    /// The count must equal that of another step.
    #[n(2)]
    pub same_as: Option<StepId>,
}

impl KindRules for Count {
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        Some(Self {
            of: file.need_text("of")?,
            limits: file.limits(),
            same_as: file.text("same_as").map(StepId::new),
        })
    }

    fn check(&self, check: &mut StepCheck<'_, '_>) {
        let Some(other) = &self.same_as else { return };
        check.names_earlier("same_as", other);
        let found = check.earlier(other);
        if found.is_some_and(|step| !matches!(step.kind, Kind::Count(_))) {
            check.mistake(
                "same_as",
                format!("'same_as' names \"{other}\", which is not a count"),
            );
        }
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement::of(What::Count {
            of: &self.of,
            limits: &self.limits,
            same_as: self.same_as.as_ref(),
        })
    }

    fn rehearse(&self, view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        let same = self.same_as.as_ref().and_then(|id| counted(view, id));
        let least = || {
            let limits = step.points.first().map(|point| &point.limits);
            let least = limits.map_or(1.0, |limits| within(limits).to_f64().ceil());
            (0..u32::MAX).find(|count| f64::from(*count) >= least)
        };
        let count = same.or_else(least).unwrap_or_default();
        vec![done(
            step,
            Outcome::Counted {
                count: answers.count(step, count),
            },
        )]
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Counted { .. })
    }

    fn answer_is_consented_to(&self) -> bool {
        true
    }

    fn verdict(&self, at: &RunAt<'_>, outcome: &Outcome) -> Verdict {
        let Outcome::Counted { count } = outcome else {
            return plain_verdict(outcome);
        };
        let value = Decimal::new(i64::from(*count), 0).unwrap_or(Decimal::whole(0));
        let limits = at.plain_limits(&self.limits, &self.of);
        let other = self.same_as.as_ref().and_then(|id| at.state_of(id)?.event);
        match other.and_then(|i| at.outcome(i)) {
            Some(Outcome::Counted { count: other }) if other != count => Verdict {
                within: false,
                words: words::counts_differ(*count, *other, &self.of),
            },
            _ => limits.verdict(value, &self.of),
        }
    }

    fn contradict(&self, one: &Outcome, other: &Outcome) -> bool {
        one != other
    }

    /// Shows the count as the one point of a reading, so that a screen checks it as it checks that.
    fn point_views(&self, at: &RunAt<'_>, _s: usize, state: &StepState) -> Vec<PointView> {
        let counted = state.event.and_then(|i| match at.outcome(i)? {
            Outcome::Counted { count } => Some((i, *count)),
            _ => None,
        });
        vec![PointView {
            key: "count".to_owned(),
            label: self.of.clone(),
            unit: self.of.clone(),
            limits: at.plain_limits(&self.limits, &self.of),
            value: counted.and_then(|(_, count)| Decimal::new(i64::from(count), 0)),
            by: counted.map(|(i, _)| at.person(i).clone()),
            at_ms: counted.map(|(i, _)| at.at_ms(i)),
            verdict: counted.and_then(|(i, _)| Some(self.verdict(at, at.outcome(i)?))),
            event: counted.map(|(i, _)| at.run.event(i).id),
        }]
    }
}
