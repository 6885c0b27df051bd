//! Who is inside, who attends at the hatch, and what was read meanwhile.

use super::RunAt;
use crate::Decimal;
use crate::definition::{Kind, Watch};
use crate::event::Event;
use crate::ids::PersonId;
use crate::words;

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

    pub fn is_attendant(&self, s: usize, who: &PersonId) -> bool {
        self.attendants(s).iter().any(|other| other.is_same(who))
    }

    pub fn is_inside(&self, who: &PersonId) -> bool {
        self.inside().iter().any(|inside| inside.who.is_same(who))
    }

    /// Returns whether the rescue team is inside.
    pub fn man_down(&self) -> bool {
        self.inside().iter().any(|inside| inside.rescuer)
    }

    /// Returns why nobody may be inside, by how the step asks for people to be watched over.
    pub(super) fn watch_broken(&self, s: usize) -> Option<String> {
        let Kind::People {
            watch: Some(Watch { attendant, .. }),
            ..
        } = &self.step(s).kind
        else {
            return None;
        };
        if *attendant && self.attendants(s).is_empty() {
            return Some(words::NOBODY_ATTENDS.to_owned());
        }
        let wrong = self.newest_wrong(s);
        (!wrong.is_empty()).then(|| words::air_out(&self.said_wrong(s, &wrong)))
    }

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

    /// Lists the newest entries that hold a reading out of limits which no later one has taken the place of: the
    /// entry, and which of the step's points.
    pub fn newest_wrong(&self, s: usize) -> Vec<(usize, usize)> {
        let mut wrong = Vec::new();
        for (p, point) in self.step(s).kind.points().iter().enumerate() {
            let limits = point.limits.resolve(&self.run.settings, &point.unit);
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
            let limits = point.limits.resolve(&self.run.settings, &point.unit);
            let read = self.log_readings(s, &point.key);
            let (_, value) = read.into_iter().find(|(event, _)| event == i)?;
            let said = limits.verdict(value, &point.unit).words;
            Some(format!("{}: {said}", point.label))
        };
        wrong.iter().filter_map(say).collect()
    }

    /// Returns when people inside were last heard of: the newest call, or the newest entry.
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
