//! What a run's own readings, its day, the ship's settings and open defects say to a step.

use super::RunAt;
use crate::Decimal;
use crate::definition::{Limits, Point};
use crate::event::Outcome;
use crate::ids::StepId;
use crate::limits::{Here, date_of};
use crate::view::{DefectView, LimitsView};
use crate::words;

impl RunAt<'_> {
    /// Finds the limits of a point, as this run's readings, its day and the ship's settings have them.
    pub fn limits_of(&self, point: &Point) -> LimitsView {
        self.with_here(|here| point.resolve_in(&self.run.settings, here))
    }

    /// Finds limits that no point has.
    pub fn plain_limits(&self, limits: &Limits, unit: &str) -> LimitsView {
        self.with_here(|here| limits.resolve_in(&self.run.settings, unit, here))
    }

    fn with_here(&self, find: impl Fn(&Here<'_>) -> LimitsView) -> LimitsView {
        let read = |step: &StepId, point: &str| self.read_here(step, point);
        find(&Here {
            read: &read,
            today: date_of(self.now),
        })
    }

    /// Finds what counts of the readings of a point in this run.
    fn read_here(&self, step: &StepId, point: &str) -> Option<Decimal> {
        let s = self.run.procedure.index_of(step)?;
        match self.outcome(self.pick(s, Some(point)).event?)? {
            Outcome::Reading { value, .. } => Some(*value),
            _ => None,
        }
    }

    /// Returns whether this ship asks for a point.
    pub fn is_asked(&self, point: &Point) -> bool {
        let Some(key) = &point.only_if else {
            return true;
        };
        let set = self.run.settings.get(key);
        set.is_none_or(|set| set.value != Decimal::whole(0))
    }

    /// Returns why no consent is given yet: the master wants a defect gone before what this procedure does.
    ///
    /// What is on record already is judged without this.
    pub(super) fn due_first(&self, s: usize) -> Option<String> {
        if self.upto.is_some() || self.step(s).kind.consent().is_none() {
            return None;
        }
        let defects = self.defects.get_or_init(|| self.run.defects());
        let is_held = |defect: &&DefectView| {
            let is_lifted = defect
                .restricted_until_ms
                .is_some_and(|until| until > self.now);
            defect.due_holds && defect.is_due_before(&self.run.procedure.slug) && !is_lifted
        };
        let found = defects.iter().find(is_held)?;
        Some(words::due_first(&found.text))
    }

    /// Returns why the gear that a step puts to work may not be used: a defect has it out of service, and no master's
    /// restriction is in force. The step that raised the defect is where it is put right.
    ///
    /// What is on record already is judged without this: runs were worked on before the rule was there.
    pub(super) fn out_of_service(&self, s: usize) -> Option<String> {
        let step = self.step(s);
        let uses = step.uses();
        if self.upto.is_some() || uses.is_empty() {
            return None;
        }
        let defects = self.defects.get_or_init(|| self.run.defects());
        let stops = defects.iter().find(|defect| {
            let is_here = defect.slug == self.run.procedure.slug && defect.step == step.id;
            let mut gear = defect.gear.iter();
            !is_here && gear.any(|gear| uses.contains(gear)) && defect.keeps_from_use(self.now)
        })?;
        let gear = stops.gear.iter().find(|gear| uses.contains(gear));
        Some(words::out_of_service(
            gear.map_or("gear", String::as_str),
            &stops.text,
        ))
    }
}
