//! What the ship's gear says to a step: which items there are, and which may be used.

use super::RunAt;
use crate::cable::{BOTH, Side, side_of, side_word};
use crate::crew::Stamp;
use crate::event::{Event, Outcome};
use crate::gear::{Day, ItemFile, ItemState, NotUsable, Service};
use crate::kind::Each;
use crate::state::RunState;
use crate::view::{DefectView, ItemView, Verdict};
use crate::words;

impl RunState {
    /// Returns whether a step asks for an item of the kind that a defect is about.
    pub(crate) fn asks_for(&self, defect: &DefectView) -> bool {
        let file = defect.item.as_ref().and_then(|code| self.gear.item(code));
        file.is_some_and(|file| {
            let mut steps = self.procedure.steps.iter();
            steps.any(|step| step.kind.asks_for(&file.now().card.kind))
        })
    }
}

impl RunAt<'_> {
    /// Returns the moment at which the run began.
    fn began(&self) -> Option<Stamp> {
        let mut starts = self.run.of_run.iter().map(|i| self.run.event(*i));
        let start = starts.find(|stamped| matches!(stamped.event, Event::Start { .. }));
        start.map(|stamped| stamped.hlc)
    }

    /// Returns whether the register had an item of a kind when the run began.
    pub fn has_gear(&self, kind: &str) -> bool {
        self.run.gear.of_kind(kind, self.began()).next().is_some()
    }

    /// Lists the items of which a step asks for a result each: those that were on the register and in service when the run
    /// began.
    fn each_file<'b>(
        &'b self,
        each: &'b Each,
    ) -> impl Iterator<Item = (&'b ItemFile, &'b ItemState)> {
        let began = self.began();
        let side = each.side.as_deref().and_then(side_of);
        let files = each
            .items
            .iter()
            .flat_map(move |kind| self.run.gear.of_kind(kind, began));
        files.filter_map(move |file| {
            let state = file.at(began)?;
            let is_here = side.is_none_or(|side| state.card.side.is_some_and(|on| on.is_of(side)));
            let is_out = matches!(state.service, Service::Out(_));
            (is_here && !is_out).then_some((file, state))
        })
    }

    /// Lists their codes and names.
    pub fn each_item(&self, each: &Each) -> Vec<(String, String)> {
        let named = self.each_file(each);
        let named = named.map(|(file, state)| (file.code.clone(), words::item(&file.code, state)));
        named.collect()
    }

    /// Lists their codes.
    pub fn each_code(&self, each: &Each) -> Vec<String> {
        self.each_file(each)
            .map(|(file, _)| file.code.clone())
            .collect()
    }

    /// Returns whether there is any.
    pub fn has_each(&self, each: &Each) -> bool {
        self.each_file(each).next().is_some()
    }

    /// Returns the moment and the day by which gear is judged: those of the event as whose device one looks, of the
    /// close of a run that is closed, or now.
    fn gear_moment(&self) -> (Option<Stamp>, Day) {
        match self.upto.or_else(|| self.closed()) {
            Some(event) => self.moment_of(event),
            None => (None, Day::of_ms(self.now)),
        }
    }

    /// Returns the moment and the day of an event: a clock that was set back makes no date good again.
    fn moment_of(&self, event: usize) -> (Option<Stamp>, Day) {
        let stamped = self.run.event(event);
        let stamp = stamped.hlc.max(stamped.judged_at);
        let judged_ms = i64::try_from(stamped.judged_at.0).unwrap_or(i64::MAX);
        (Some(stamp), Day::of_ms(stamped.at_ms.max(judged_ms)))
    }

    fn usable(
        &self,
        kind: &str,
        item: &str,
        (moment, day): (Option<Stamp>, Day),
    ) -> Result<String, NotUsable> {
        let file = self.run.gear.usable(item, kind, moment, day)?;
        let state = file.at(moment).unwrap_or_else(|| file.now());
        Ok(words::item(&file.code, state))
    }

    /// Says what it means that an item was named for a step that asks for one of a kind.
    pub fn item_verdict(&self, kind: &str, item: &str) -> Verdict {
        match self.usable(kind, item, self.gear_moment()) {
            Ok(words) => Verdict {
                within: true,
                words,
            },
            Err(because) => {
                let found = self.run.gear.item(item);
                let name = found.map_or_else(String::new, |file| {
                    format!("{}: ", words::item(item, file.now()))
                });
                Verdict {
                    within: false,
                    words: format!("{name}{because}"),
                }
            }
        }
    }

    /// Returns whether the item that an event names could be used then.
    pub fn was_usable(&self, kind: &str, event: usize) -> bool {
        match self.outcome(event) {
            Some(Outcome::Item { item }) => self.usable(kind, item, self.moment_of(event)).is_ok(),
            _ => false,
        }
    }

    /// Lists the items of which a step asks for one, and which of them may be used.
    pub fn items(&self, s: usize) -> Vec<ItemView> {
        let Some(kind) = self.step(s).kind.item() else {
            return Vec::new();
        };
        let (moment, day) = self.gear_moment();
        let all = self.run.gear.of_kind(kind, moment);
        all.filter_map(|file| {
            let state = file.at(moment)?;
            let not_usable = self.run.gear.not_usable(state, day);
            let defect = || {
                self.stopped_by(&file.code)
                    .map(|defect| defect.text.clone())
            };
            Some(ItemView {
                code: file.code.clone(),
                words: words::item(&file.code, state),
                because: not_usable.map(|why| why.to_string()).or_else(defect),
            })
        })
        .collect()
    }

    /// Finds an open defect for which an item may not be used.
    fn stopped_by(&self, item: &str) -> Option<&DefectView> {
        let defects = self.defects.get_or_init(|| self.run.defects());
        let mut defects = defects.iter();
        defects
            .find(|defect| defect.item.as_deref() == Some(item) && defect.keeps_from_use(self.now))
    }

    /// Returns why the gear that a step puts to work may not be used: the register has it out of service, or an open
    /// defect stands on the very item with which the step is done.
    ///
    /// What is on record already is judged without this, as with defects of gear that has no name.
    pub(super) fn gear_stops(&self, s: usize) -> Option<String> {
        if self.upto.is_some() {
            return None;
        }
        let uses = self.step(s).uses().iter();
        let mut uses = uses.filter(|gear| !self.is_asked_for(s, gear));
        let out = uses.find_map(|gear| self.all_out(s, gear));
        out.or_else(|| {
            let below = self.step(s).stands_on.iter();
            let below = below.filter_map(|id| self.run.procedure.index_of(id));
            below
                .filter_map(|other| self.item_of(other))
                .find_map(|item| {
                    let defect = self.stopped_by(&item)?;
                    Some(words::out_of_service(&item, &defect.text))
                })
        })
    }

    /// Returns the item with which a step was done.
    fn item_of(&self, s: usize) -> Option<String> {
        self.step(s).kind.item()?;
        match self.outcome(self.state(s).event?)? {
            Outcome::Item { item } => Some(item.clone()),
            _ => None,
        }
    }

    /// Returns whether an earlier step asks which item of that gear is used: then only that one matters.
    fn is_asked_for(&self, s: usize, gear: &str) -> bool {
        (0..s).any(|other| {
            let kind = self.step(other).kind.item();
            let kind = kind.and_then(|key| self.run.gear.kind(key));
            kind.is_some_and(|kind| kind.is_called(gear)) && self.applies(other)
        })
    }

    /// Returns why no item of some gear can be used on a side that the work is about: all of them are out of service, or past
    /// one of their dates.
    fn all_out(&self, s: usize, gear: &str) -> Option<String> {
        let register = &self.run.gear;
        let sides = self.side_before(s).map_or(BOTH.to_vec(), |side| vec![side]);
        sides.into_iter().find_map(|side| {
            let mut out = None;
            for file in register.items() {
                let state = file.now();
                let kind = register.kind(&state.card.kind);
                let other = BOTH.into_iter().find(|other| *other != side);
                let is_other = |on: crate::gear::ItemSide| other.is_some_and(|o| on.is_of(o));
                if !kind.is_some_and(|kind| kind.is_called(gear))
                    || state.card.side.is_some_and(is_other)
                {
                    continue;
                }
                let name = words::item(&file.code, state);
                let said = match register.not_usable(state, Day::of_ms(self.now)) {
                    Some(NotUsable::OutOfService(reason)) => words::out_of_service(&name, &reason),
                    Some(past @ NotUsable::Past(..)) => {
                        words::past_its_date(&name, &past.to_string())
                    }
                    _ => return None,
                };
                out = out.or(Some(said));
            }
            out
        })
    }

    /// Returns the side that a choice of the anchor before a step has named.
    fn side_before(&self, s: usize) -> Option<Side> {
        (0..s).find_map(|other| {
            let step = self.step(other);
            let options = step.kind.options();
            let has = |side| options.iter().any(|option| option.key == side_word(side));
            if !BOTH.into_iter().all(has) {
                return None;
            }
            side_of(&self.chosen(step.id.as_str())?)
        })
    }
}
