//! People: who is inside a space, who attends at its hatch, and what was read meanwhile.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use super::log::newest_entry_alarm;
use crate::definition::{Point, Span};
use crate::event::{Event, Outcome};
use crate::ids::PersonId;
use crate::parse::FileTable;
use crate::rehearsal::{Answers, done};
use crate::requirement::{Requirement, What};
use crate::run_at::{RunAt, StepState};
use crate::view::{Alarm, AlarmKind, AlarmLevel, RunView, StepView};
use crate::words;
use crate::write_check::Refusal;

/// Asks for the list of people in a space, and for someone to say that all are out.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct People {
    /// How often they are called while inside.
    #[n(0)]
    pub call_every: Option<Span>,
    /// The fewest that may be inside together.
    #[n(1)]
    pub at_least: u32,
    /// How they are watched over; `None` in procedures that do not ask for it.
    #[n(2)]
    #[serde(default)]
    pub watch: Option<Watch>,
    /// The procedures for which whoever goes in or attends should be in date, by their short names.
    #[n(3)]
    #[serde(default)]
    pub in_date: Option<Vec<String>>,
}

/// How people inside a space are watched over from outside.
#[derive(Debug, Clone, Default, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Watch {
    /// Nobody goes in unless someone attends at the hatch, who does not go in.
    #[n(0)]
    pub attendant: bool,
    /// What is read again and again where people work. While the newest reading of any is out of limits, everybody
    /// comes out and nobody goes in.
    #[n(1)]
    pub points: Vec<Point>,
}

impl People {
    /// Returns whether someone must attend at the hatch.
    pub(crate) fn is_attended(&self) -> bool {
        self.watch.as_ref().is_some_and(|watch| watch.attendant)
    }

    /// Returns why nobody may be inside, by how people are watched over.
    pub(crate) fn watch_broken(&self, at: &RunAt<'_>, s: usize) -> Option<String> {
        self.watch.as_ref()?;
        if self.is_attended() && at.attendants(s).is_empty() {
            return Some(words::NOBODY_ATTENDS.to_owned());
        }
        let wrong = at.newest_wrong(s);
        (!wrong.is_empty()).then(|| words::air_out(&at.said_wrong(s, &wrong)))
    }
}

impl KindRules for People {
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        let call_every = file.span("call_every");
        let at_least = file.whole("at_least").unwrap_or(1);
        let watch = Watch {
            attendant: file.yes_or_no("attendant"),
            points: file.points(),
        };
        Some(Self {
            call_every,
            at_least,
            watch: (watch != Watch::default()).then_some(watch),
            in_date: file.slugs("in_date"),
        })
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement {
            what: What::People {
                at_least: self.at_least,
                attendant: self.is_attended(),
                in_date: self.in_date.as_deref().unwrap_or_default(),
            },
            points: self.points(),
            every: self.call_every.as_ref(),
        }
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        let id = || step.id.clone();
        let (attendant, inside) = answers.people();
        let mut all = Vec::new();
        if self.is_attended() {
            all.push(Event::Attend {
                step: id(),
                who: attendant,
            });
        }
        all.extend(inside.iter().map(|who| Event::In {
            step: id(),
            who: who.clone(),
            rescue: None,
        }));
        all.extend(
            answers
                .entries(step)
                .into_iter()
                .map(|entry| Event::Log { step: id(), entry }),
        );
        all.extend(inside.into_iter().map(|who| Event::Out { step: id(), who }));
        all.push(done(step, Outcome::Confirmed));
        all
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Confirmed)
    }

    fn points(&self) -> &[Point] {
        self.watch.as_ref().map_or(&[], |watch| &watch.points)
    }

    fn people(&self) -> Option<&People> {
        Some(self)
    }

    fn keeps_log(&self) -> bool {
        true
    }

    fn keeps_time(&self) -> bool {
        true
    }

    fn finishes_any_time(&self) -> bool {
        true
    }

    /// A list of people is finished only by someone who knew of every entry, with nobody inside.
    fn unfinished(&self, at: &RunAt<'_>, s: usize, done: usize) -> Option<&'static str> {
        let unknown = at.run.by_step[s].iter().any(|i| {
            at.sees(*i)
                && matches!(at.run.event(*i).event, Event::In { .. })
                && !at.had_seen(done, *i)
        });
        (unknown || !at.inside_of(s).is_empty()).then_some(words::PEOPLE_OPEN)
    }

    fn may_be_left(&self, at: &RunAt<'_>, s: usize) -> bool {
        at.inside_of(s).is_empty()
    }

    fn valid_since(&self, _at: &RunAt<'_>, _s: usize, _since: usize) -> bool {
        true
    }

    /// A call to people inside is written down whatever else is wrong.
    fn entry_open_out_of_turn(&self, at: &RunAt<'_>, _s: usize) -> bool {
        !at.inside().is_empty()
    }

    fn check_done(&self, at: &RunAt<'_>, _s: usize) -> Result<(), Refusal> {
        let inside = at.inside();
        if inside.is_empty() {
            return Ok(());
        }
        let names = inside
            .iter()
            .map(|inside| words::still_inside(at.name(&inside.who)));
        Err(Refusal::StillOpen(names.collect()))
    }

    fn entry_due(&self, at: &RunAt<'_>, s: usize, _state: &StepState) -> Option<i64> {
        let every = self.call_every.as_ref()?;
        if at.inside_of(s).is_empty() {
            return None;
        }
        let last = at.last_call(s)?;
        Some(last.saturating_add(at.span_ms(every)?))
    }

    fn alarms(&self, at: &RunAt<'_>, s: usize, step: &StepView, all: &mut Vec<Alarm>) {
        if self.watch.is_none() {
            newest_entry_alarm(step, all);
            return;
        }
        let wrong = at.newest_wrong(s);
        if let Some(since) = wrong.iter().map(|(i, _)| at.at_ms(*i)).max() {
            all.push(Alarm::of_step(
                AlarmLevel::Warning,
                AlarmKind::OutOfLimits,
                step,
                &words::air_out(&at.said_wrong(s, &wrong)),
                since,
            ));
        }
    }

    fn lasting_alarms(&self, at: &RunAt<'_>, s: usize, step: &StepView, all: &mut Vec<Alarm>) {
        inside_alarms(at, s, step, all);
        let here = at.inside_of(s);
        let [first, others @ ..] = &here[..] else {
            return;
        };
        let mut push = |level, kind, words: &str, since| {
            all.push(Alarm::of_step(level, kind, step, words, since));
        };
        if self.at_least > 1 && others.is_empty() {
            let since = at.at_ms(first.event);
            push(AlarmLevel::Warning, AlarmKind::Inside, words::ALONE, since);
        }
        if let Some(due) = step.entry_due_ms.filter(|due| at.now >= *due) {
            let words = "the call to the people inside is overdue";
            push(AlarmLevel::Danger, AlarmKind::CallOverdue, words, due);
        }
    }
}

/// Adds the alarms of people inside by the list of one step: they are in danger while what their entry stands on is
/// not valid any more. Whoever was written in at a step that keeps no list is inside all the same.
pub(super) fn inside_alarms(at: &RunAt<'_>, s: usize, step: &StepView, all: &mut Vec<Alarm>) {
    let here = at.inside_of(s);
    let (rescuers, others): (Vec<&Inside>, Vec<&Inside>) =
        here.iter().partition(|inside| inside.rescuer);
    let mut push = |kind, words: &str, first: &Inside| {
        let since = at.at_ms(first.event);
        all.push(Alarm::of_step(AlarmLevel::Danger, kind, step, words, since));
    };
    if let Some(first) = rescuers.first() {
        let who: Vec<_> = rescuers.iter().map(|inside| at.name(&inside.who)).collect();
        push(AlarmKind::ManDown, &words::rescuers(&who), first);
    }
    for person in here.iter().filter(|inside| at.is_disputed(inside)) {
        push(
            AlarmKind::Inside,
            &words::disputed(at.name(&person.who)),
            person,
        );
    }
    if let Some(first) = others.first()
        && let Some(because) = at.entry_blocked(s)
    {
        push(
            AlarmKind::Inside,
            &format!("everybody out: {because}"),
            first,
        );
    }
}

/// Someone inside, by the event that took them in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Inside {
    pub who: PersonId,
    pub event: usize,
    pub step: usize,
    /// Of the rescue team, under breathing apparatus.
    pub rescuer: bool,
}

impl RunAt<'_> {
    /// Lists who is inside: whoever was written in and not, by someone who knew of it, written out.
    /// An entry with no right behind it counts too: the person is inside all the same.
    pub fn inside(&self) -> Vec<Inside> {
        let mut inside: Vec<Inside> = Vec::new();
        for i in self.run.of_run.iter().copied().filter(|i| self.sees(*i)) {
            let event = &self.run.event(i).event;
            let Event::In { step, who, .. } = event else {
                continue;
            };
            let Some(step) = self.run.procedure.index_of(step) else {
                continue;
            };
            let came_out = self.counted().any(|o| match &self.run.event(o).event {
                Event::Out { who: out, .. } => out.is_same(who) && self.had_seen(o, i),
                _ => false,
            });
            if came_out {
                continue;
            }
            if let Some(known) = inside.iter_mut().find(|known| known.who.is_same(who)) {
                known.rescuer |= event.is_rescue();
            } else {
                inside.push(Inside {
                    who: who.clone(),
                    event: i,
                    step,
                    rescuer: event.is_rescue(),
                });
            }
        }
        inside
    }

    /// Says whether somebody wrote out a person who counts as inside: with a key that may not, or without having
    /// seen that they went in. An entry of theirs, or a call to the people inside, by someone who had seen that
    /// settles it.
    fn is_disputed(&self, inside: &Inside) -> bool {
        let settles = |i: usize| match &self.run.event(i).event {
            Event::In { who, .. } => who.is_same(&inside.who),
            Event::Log { .. } => true,
            _ => false,
        };
        let settled: Vec<usize> = self.of_step(inside.step).filter(|i| settles(*i)).collect();
        let outs = self.run.of_run.iter().copied().filter(|o| {
            let event = &self.run.event(*o).event;
            matches!(event, Event::Out { who, .. } if who.is_same(&inside.who))
        });
        outs.filter(|o| self.sees(*o) && self.struck(*o).is_none())
            .any(|o| !settled.iter().any(|i| self.had_seen(*i, o)))
    }

    /// Lists who is inside by the list of one step.
    pub fn inside_of(&self, s: usize) -> Vec<Inside> {
        let mut inside = self.inside();
        inside.retain(|inside| inside.step == s);
        inside
    }

    /// Returns who attends at the hatch: whoever was named last and is not inside. Of several named apart each
    /// attends. One who was named while inside, as far as the device knew, never did.
    pub fn attendants(&self, s: usize) -> Vec<&PersonId> {
        let inside = self.inside();
        let named: Vec<usize> = self
            .of_step(s)
            .filter(|i| matches!(self.run.event(*i).event, Event::Attend { .. }))
            .filter(|i| !self.run.statuses[*i].out_of_sequence)
            .collect();
        let who = |i: usize| match &self.run.event(i).event {
            Event::Attend { who, .. } => Some(who),
            _ => None,
        };
        self.newest(&named)
            .into_iter()
            .filter_map(who)
            .filter(|who| !inside.iter().any(|inside| inside.who.is_same(who)))
            .collect()
    }

    /// Returns whether a person attends at the hatch.
    pub fn is_attendant(&self, s: usize, who: &PersonId) -> bool {
        self.attendants(s).iter().any(|other| other.is_same(who))
    }

    /// Returns whether a person is inside.
    pub fn is_inside(&self, who: &PersonId) -> bool {
        self.inside().iter().any(|inside| inside.who.is_same(who))
    }

    /// Returns whether the rescue team is inside.
    pub fn man_down(&self) -> bool {
        self.inside().iter().any(|inside| inside.rescuer)
    }
}
