//! Who is inside.

use super::Lens;
use crate::event::Event;
use crate::ids::PersonId;

/// Someone inside, by the event that took them in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Inside {
    pub who: PersonId,
    pub event: usize,
    pub step: usize,
}

impl Lens<'_> {
    /// Lists who is inside: whoever was written in and not, by someone who knew of it, written out.
    /// An entry with no right behind it counts too: the person is inside all the same.
    pub fn inside(&self) -> Vec<Inside> {
        let mut inside: Vec<Inside> = Vec::new();
        for i in self.run.of_run.iter().copied().filter(|i| self.sees(*i)) {
            let Event::In { step, who } = &self.run.event(i).event else {
                continue;
            };
            let Some(step) = self.run.procedure.index_of(step) else {
                continue;
            };
            let came_out = self.counted().any(|o| match &self.run.event(o).event {
                Event::Out { who: out, .. } => out == who && self.had_seen(o, i),
                _ => false,
            });
            if !came_out && !inside.iter().any(|known| known.who == *who) {
                inside.push(Inside {
                    who: who.clone(),
                    event: i,
                    step,
                });
            }
        }
        inside
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
