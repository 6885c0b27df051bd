//! Log: entries as they come or at intervals, then the word that it is finished.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use crate::Decimal;
use crate::cable::{BOTH, Side, side_of, side_word};
use crate::definition::{OnFault, Point, Span};
use crate::event::{Event, LogEntry, Outcome};
use crate::ids::StepId;
use crate::parse::{FileTable, StepCheck};
use crate::rehearsal::{Answers, done};
use crate::requirement::{Requirement, What};
use crate::run_at::{RunAt, StepState};
use crate::view::{Alarm, AlarmKind, AlarmLevel, PointView, RunView, Status, StepView};
use crate::write_check::Refusal;

/// Asks for entries, and for someone to say that they are finished.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Log {
    /// How often an entry is due.
    #[n(0)]
    pub every: Option<Span>,
    /// It is a cable log.
    #[n(1)]
    pub cable: Option<Way>,
    /// Readings that an entry may carry.
    #[n(2)]
    pub points: Vec<Point>,
    /// Whether the newest reading of each point is the step's result, so that one out of limits does what
    /// the step says of a fault. `None` in procedures that do not ask for it.
    #[n(3)]
    #[serde(default)]
    pub newest_counts: Option<bool>,
    /// Whose cable a cable log is about; `None` in procedures of before, whose entries name no cable.
    #[n(4)]
    #[serde(default)]
    pub side: Option<LogSide>,
    /// The cable log begins with the anchor home and all of its cable aboard.
    #[n(5)]
    #[serde(default)]
    pub begins_home: Option<bool>,
}

/// Whose cable a cable log is about.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LogSide {
    /// That of the anchor which this choice names.
    #[n(0)]
    Chosen(#[n(0)] StepId),
    /// Both: each entry names its own.
    #[n(1)]
    Either,
}

/// What a file writes where each entry names its own cable.
const EITHER: &str = "either";

/// Which way the cable goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Out.
    #[n(0)]
    Out,
    /// Home.
    #[n(1)]
    Home,
}

impl KindRules for Log {
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        Some(Self {
            every: file.span("every"),
            cable: file.word("cable", &[("out", Way::Out), ("home", Way::Home)]),
            points: file.points(),
            newest_counts: file.yes_or_no("newest_counts").then_some(true),
            side: file.text("side").map(|side| match side.as_str() {
                EITHER => LogSide::Either,
                step => LogSide::Chosen(StepId::new(step)),
            }),
            begins_home: file.yes_or_no("begins_home").then_some(true),
        })
    }

    fn check(&self, check: &mut StepCheck<'_, '_>) {
        if self.newest_counts == Some(true) && self.points.is_empty() {
            check.mistake(
                "newest_counts",
                "'newest_counts' has no sense without a [[step.point]]",
            );
        }
        match (&self.side, self.cable) {
            (None, Some(_)) if check.is_put_in_force() => check.mistake(
                "cable",
                "a cable log names its cable: give 'side', the choice of port or starboard, or \"either\"",
            ),
            (Some(_), None) => check.mistake("side", "'side' has no sense without 'cable'"),
            (Some(LogSide::Chosen(choice)), Some(_)) => {
                let found = check.earlier(choice);
                let names_both = found.is_some_and(|step| {
                    let has = |side| {
                        let mut options = step.kind.options().iter();
                        options.any(|option| option.key == side_word(side))
                    };
                    BOTH.into_iter().all(has)
                });
                if !names_both {
                    check.mistake(
                        "side",
                        format!("'side' names \"{choice}\", but no earlier choice of that id offers port and starboard"),
                    );
                }
            }
            _ => {}
        }
        if self.begins_home == Some(true) && self.cable != Some(Way::Out) {
            check.mistake("begins_home", "'begins_home' is for a cable that goes out");
        }
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement {
            what: What::Entries {
                cable: self.cable,
                newest_counts: self.newest_counts == Some(true),
                side: self.side.as_ref(),
                begins_home: self.begins_home == Some(true),
            },
            points: &self.points,
            every: self.every.as_ref(),
        }
    }

    fn rehearse(&self, view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        let side = match &self.side {
            None => None,
            Some(LogSide::Chosen(choice)) => chosen_side(view, choice),
            Some(LogSide::Either) => Some(answers.side()),
        };
        let entry = |entry: LogEntry| Event::Log {
            step: step.id.clone(),
            entry: LogEntry {
                side: entry.side.or(side),
                ..entry
            },
        };
        let mut all: Vec<Event> = answers.entries(step).into_iter().map(entry).collect();
        all.push(done(step, Outcome::Confirmed));
        all
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Confirmed)
    }

    fn check_entry(&self, at: &RunAt<'_>, entry: &LogEntry) -> Result<(), Refusal> {
        if entry.is_empty() {
            return Err(Refusal::EmptyEntry);
        }
        let Some(side) = &self.side else {
            return Ok(());
        };
        let named = match side {
            LogSide::Either => None,
            LogSide::Chosen(choice) => {
                let option = at.chosen(choice.as_str());
                Some(
                    option
                        .and_then(|option| side_of(&option))
                        .ok_or(Refusal::NoCableNamed)?,
                )
            }
        };
        let own = entry.side.ok_or(Refusal::NoCableNamed)?;
        match named.filter(|named| *named != own) {
            Some(named) => Err(Refusal::OtherCable(side_word(named))),
            None => Ok(()),
        }
    }

    fn points(&self) -> &[Point] {
        &self.points
    }

    fn cable(&self) -> Option<Way> {
        self.cable
    }

    fn keeps_log(&self) -> bool {
        true
    }

    fn keeps_time(&self) -> bool {
        true
    }

    fn is_done_once(&self) -> bool {
        true
    }

    fn entries_out_of_limits(&self, at: &RunAt<'_>, s: usize, state: &mut StepState) -> bool {
        let step = at.step(s);
        if self.newest_counts != Some(true) || step.on_fault == OnFault::Note {
            return false;
        }
        let wrong = at.newest_wrong(s);
        let entries: Vec<usize> = wrong.iter().map(|(i, _)| *i).collect();
        if entries.is_empty() {
            return false;
        }
        let gone_on = at.gone_on(s, &entries);
        state.gone_on = gone_on.filter(|_| step.on_fault != OnFault::Stop);
        if state.gone_on.is_some() {
            return false;
        }
        state.stand(Status::OutOfLimits, at.said_wrong(s, &wrong).join("; "));
        state.at_ms = entries.iter().map(|i| at.at_ms(*i)).max();
        true
    }

    fn valid_since(&self, _at: &RunAt<'_>, _s: usize, _since: usize) -> bool {
        true
    }

    /// A log that was begun in its turn is written on, whatever else happens meanwhile; only finishing it has to
    /// wait.
    fn entry_open_out_of_turn(&self, at: &RunAt<'_>, s: usize) -> bool {
        let begun = |i: usize| {
            matches!(at.run.event(i).event, Event::Log { .. })
                && !at.run.statuses[i].out_of_sequence
        };
        at.applies(s)
            && (at.stopped().is_none() || at.step(s).when_stopped)
            && at.of_step(s).any(begun)
    }

    fn entry_due(&self, at: &RunAt<'_>, s: usize, state: &StepState) -> Option<i64> {
        let every = self.every.as_ref()?;
        if !state.applies || state.passed || at.blocked(s).is_some() {
            return None;
        }
        let begun = || {
            let before = at.step(s).after.iter();
            before.filter_map(|id| at.state_of(id)?.at_ms).max()
        };
        let last = at.last_call(s).or_else(begun)?;
        Some(last.saturating_add(at.span_ms(every)?))
    }

    fn alarms(&self, at: &RunAt<'_>, _s: usize, step: &StepView, all: &mut Vec<Alarm>) {
        newest_entry_alarm(step, all);
        if let Some(due) = step.entry_due_ms.filter(|due| at.now >= *due) {
            all.push(Alarm::of_step(
                AlarmLevel::Warning,
                AlarmKind::EntryOverdue,
                step,
                "an entry is overdue",
                due,
            ));
        }
    }
}

/// Returns the side that a choice of the run names.
pub(crate) fn chosen_side(view: &RunView, choice: &StepId) -> Option<Side> {
    let step = view.steps.iter().find(|step| step.id == *choice)?;
    let answer = step.answer.as_deref()?;
    let mut options = step.options.iter();
    side_of(&options.find(|option| option.label == answer)?.key)
}

/// Adds the alarm of a newest entry that is out of limits: only the newest tells how things stand now.
pub(super) fn newest_entry_alarm(step: &StepView, all: &mut Vec<Alarm>) {
    if step.status == Status::OutOfLimits && step.gone_on.is_none() {
        return;
    }
    let newest = step.log.iter().rev().find(|entry| !entry.struck);
    if let Some(entry) = newest.filter(|entry| !entry.wrong.is_empty()) {
        all.push(Alarm::of_step(
            AlarmLevel::Warning,
            AlarmKind::OutOfLimits,
            step,
            &entry.wrong.join("; "),
            entry.at_ms,
        ));
    }
}

/// Shows a point of a log with the newest reading of it; of several made apart, one that is out of limits.
pub(super) fn point_view(at: &RunAt<'_>, s: usize, point: &Point) -> PointView {
    let limits = at.limits_of(point);
    let read = at.log_readings(s, &point.key);
    let newest = at.newest(&read.iter().map(|(i, _)| *i).collect::<Vec<_>>());
    let found = read
        .into_iter()
        .filter(|(i, _)| newest.contains(i))
        .min_by_key(|(i, value)| (limits.verdict(*value, &point.unit).within, *i));
    PointView {
        key: point.key.clone(),
        label: point.label.clone(),
        unit: point.unit.clone(),
        value: found.map(|(_, value)| value),
        by: found.map(|(i, _)| at.person(i).clone()),
        at_ms: found.map(|(i, _)| at.at_ms(i)),
        verdict: found.map(|(_, value)| limits.verdict(value, &point.unit)),
        event: found.map(|(i, _)| at.run.event(i).id),
        limits,
    }
}

impl RunAt<'_> {
    /// Lists the entries of a step that carry a reading of a point and count, with that reading.
    pub fn log_readings(&self, s: usize, point: &str) -> Vec<(usize, Decimal)> {
        let read = |i: usize| match &self.run.event(i).event {
            Event::Log { entry, .. } => {
                let mut readings = entry.readings.iter().rev();
                readings.find(|(key, _)| key == point).map(|(_, v)| *v)
            }
            _ => None,
        };
        let of_step = self.of_step(s);
        of_step.filter_map(|i| Some((i, read(i)?))).collect()
    }

    /// Lists the readings out of limits that no later entry supersedes: the entry, and which of the step's points.
    pub fn newest_wrong(&self, s: usize) -> Vec<(usize, usize)> {
        let mut wrong = Vec::new();
        for (p, point) in self.step(s).kind.points().iter().enumerate() {
            let limits = self.limits_of(point);
            let read = self.log_readings(s, &point.key);
            let entries: Vec<usize> = read.iter().map(|(i, _)| *i).collect();
            let newest = self.newest(&entries);
            let out = read.iter().filter(|(i, value)| {
                newest.contains(i) && !limits.verdict(*value, &point.unit).within
            });
            wrong.extend(out.map(|(i, _)| (*i, p)));
        }
        wrong
    }

    /// Says what [`Self::newest_wrong`] found.
    pub fn said_wrong(&self, s: usize, wrong: &[(usize, usize)]) -> Vec<String> {
        let say = |(i, p): &(usize, usize)| {
            let point = &self.step(s).kind.points()[*p];
            let limits = self.limits_of(point);
            let read = self.log_readings(s, &point.key);
            let (_, value) = read.into_iter().find(|(event, _)| event == i)?;
            let said = limits.verdict(value, &point.unit).words;
            Some(format!("{}: {said}", point.label))
        };
        wrong.iter().filter_map(say).collect()
    }

    /// Returns when a log was last written in, or people inside were last heard of: the newest call, or the newest
    /// entry into the space.
    pub fn last_call(&self, s: usize) -> Option<i64> {
        self.of_step(s)
            .filter(|i| {
                matches!(
                    self.run.event(*i).event,
                    Event::Log { .. } | Event::In { .. }
                )
            })
            .map(|i| self.at_ms(i))
            .max()
    }
}
