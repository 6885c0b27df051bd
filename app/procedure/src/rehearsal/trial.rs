//! A rehearsal as somebody plays it on a page: each press does what comes next, as it should be or otherwise.

use std::sync::Arc;

use super::play::{Act, BEGINS_MS, Invented, PEOPLE, Played, Rehearsal};
use super::{Answers, Next, next, within, work};
use crate::Decimal;
use crate::definition::Procedure;
use crate::event::{ConsentBy, End, Event, Outcome, Severity};
use crate::kind::{ChoiceOption, Kind};
use crate::settings::Settings;
use crate::view::{LimitsView, PointView, RunView, StepView};

/// How long an act takes, s.
const ACT_S: i64 = 20;
/// More presses than any procedure needs.
const MOST_PRESSES: usize = 400;

/// How what comes next is answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answered {
    /// As it should be.
    Well,
    /// Otherwise: a reading out of its limits, the bad choice, consent denied, or "it is not so".
    Badly,
}

/// A line of what was played.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrialLine {
    /// Seconds since the run was begun.
    pub at_s: i64,
    /// Who did it.
    pub who: String,
    /// What, in words.
    pub words: String,
    /// Why it was refused.
    pub refused: Option<String>,
}

/// A procedure that somebody tries.
#[derive(Debug, Clone)]
pub struct Trial {
    run: Rehearsal,
    at_s: i64,
    acts: Vec<Act>,
    lines: Vec<TrialLine>,
}

impl Trial {
    /// Begins a run of the procedure.
    pub fn begin(procedure: Arc<Procedure>, settings: Settings) -> Self {
        Self {
            run: Rehearsal::begin(procedure, settings),
            at_s: 0,
            acts: Vec::new(),
            lines: Vec::new(),
        }
    }

    /// Seconds since the run was begun.
    pub fn at_s(&self) -> i64 {
        self.at_s
    }

    /// How the run stands now.
    pub fn view(&self) -> RunView {
        self.run.view(self.at_s)
    }

    /// What was played, the first first.
    pub fn lines(&self) -> &[TrialLine] {
        &self.lines
    }

    /// The same as lines that `clearhawse rehearse --events` plays.
    pub fn acts(&self) -> &[Act] {
        &self.acts
    }

    /// Lets so much time pass, s.
    pub fn wait(&mut self, seconds: i64) {
        self.at_s = self.at_s.saturating_add(seconds.max(0));
    }

    /// Lets time pass until the next clock that runs has run down, and says whether one does.
    pub fn wait_for_clock(&mut self) -> bool {
        let view = self.view();
        let ends = view.countdowns.iter().map(|countdown| countdown.ends_at_ms);
        let Some(ends_ms) = ends.min() else {
            return false;
        };
        self.at_s = self.at_s.max((ends_ms - BEGINS_MS) / 1_000 + 1);
        true
    }

    /// Does what comes next, by `who`, or by whoever may; returns whether anything was done.
    pub fn press(&mut self, who: Option<&str>, answered: Answered) -> bool {
        let view = self.view();
        if view.closed.is_some() {
            return false;
        }
        let events = match next(&view) {
            Next::Second { event, .. } => vec![Event::Second { event }],
            Next::Work(step) => match answered {
                Answered::Well => work(&view, step, &Invented),
                Answered::Badly => badly(&view, step),
            },
            Next::Close => vec![Event::Close {
                end: End::Completed,
                remark: String::new(),
            }],
            Next::Wait(_) | Next::Stuck(_) => Vec::new(),
        };
        let mut is_done = false;
        for event in events {
            self.at_s += ACT_S;
            is_done |= self.act(who, event);
        }
        is_done
    }

    /// Works what is left as it should be, waits included.
    ///
    /// # Errors
    /// What is still open where nobody can go on.
    pub fn to_the_end(&mut self) -> Result<(), Vec<String>> {
        for _ in 0..MOST_PRESSES {
            let view = self.view();
            if view.closed.is_some() {
                return Ok(());
            }
            let waits = matches!(next(&view), Next::Wait(_));
            if !(if waits {
                self.wait_for_clock()
            } else {
                self.press(None, Answered::Well)
            }) {
                return Err(view.open_before_close);
            }
        }
        Err(self.view().open_before_close)
    }

    /// Plays an event; where nobody is named, by the first who may.
    fn act(&mut self, who: Option<&str>, event: Event) -> bool {
        let act = |who: &str| Act {
            at_s: self.at_s,
            who: who.to_owned(),
            what: event.clone(),
        };
        let mut names = PEOPLE.iter().map(|(name, _)| *name);
        let able = names.find(|name| self.run.may(self.at_s, name, &event).is_ok());
        let act = act(who.or(able).unwrap_or(PEOPLE[0].0));
        let played = self.run.play(&act);
        self.write(&played, &event);
        self.acts.push(act);
        played.refused.is_none()
    }

    fn write(&mut self, played: &Played, event: &Event) {
        let view = self.view();
        let written = view.history.last().filter(|_| played.refused.is_none());
        let step = event
            .step()
            .and_then(|id| view.steps.iter().find(|step| step.id == *id));
        let words = written.map(|line| line.words.clone());
        self.lines.push(TrialLine {
            at_s: played.at_s,
            who: played.who.clone(),
            words: words
                .or_else(|| step.map(|step| step.instruction.clone()))
                .unwrap_or_default(),
            refused: played.refused.clone(),
        });
    }
}

/// Answers as they should not be, where there are such.
struct Otherwise;

impl Answers for Otherwise {
    fn reading(&self, point: &PointView) -> Decimal {
        beyond(&point.limits)
    }

    fn option(&self, step: &StepView) -> String {
        let bad = step.options.iter().find(|option| option.bad);
        bad.or(step.options.first())
            .map(|option| option.key.clone())
            .unwrap_or_default()
    }

    fn count(&self, step: &StepView, least: u32) -> u32 {
        let limits = step.points.first().map(|point| &point.limits);
        let beyond = limits.map_or(0.0, |limits| beyond(limits).to_f64().max(0.0));
        let out = (0..u32::MAX).find(|count| f64::from(*count) >= beyond);
        out.filter(|out| *out != least)
            .unwrap_or_else(|| least.saturating_sub(1))
    }

    fn consent(&self) -> (bool, ConsentBy) {
        (false, ConsentBy::Network)
    }

    fn photo(&self) -> Option<[u8; 32]> {
        Invented.photo()
    }
}

/// Returns a number out of limits, where they have an end.
fn beyond(limits: &LimitsView) -> Decimal {
    let most = limits.max.or(limits.below).map(Decimal::to_f64);
    let least = limits.min.or(limits.above).map(Decimal::to_f64);
    let value = match (most, least) {
        (Some(most), _) => most + most.abs().mul_add(0.5, 1.0),
        (None, Some(least)) => least - least.abs().mul_add(0.5, 1.0),
        (None, None) => return within(limits),
    };
    Decimal::from_f64(value, 3).unwrap_or(Decimal::whole(1))
}

/// Lists the events that answer a step otherwise than as it should be.
fn badly(view: &RunView, step: &StepView) -> Vec<Event> {
    let has_limits = |point: &PointView| beyond(&point.limits) != within(&point.limits);
    let is_answered = step.points.iter().any(has_limits)
        || step.options.iter().any(|option: &ChoiceOption| option.bad)
        || matches!(step.kind, Kind::Hold(_));
    let events = if is_answered {
        work(view, step, &Otherwise)
    } else {
        Vec::new()
    };
    let is_as_well = |event: &Event| {
        matches!(
            event,
            Event::Done {
                outcome: Outcome::Confirmed,
                ..
            }
        )
    };
    if !events.is_empty() && !events.iter().all(is_as_well) {
        return events;
    }
    vec![Event::NotSo {
        step: step.id.clone(),
        severity: Severity::OutOfService,
        text: "rehearsed: it is not as it should be".to_owned(),
        photo: None,
        terms: None,
    }]
}
