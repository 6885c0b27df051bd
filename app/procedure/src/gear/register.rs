//! The register: what the records of a ship's gear come to.
//!
//! It depends on the set of records alone. They are sorted by their stamps, so that neither order nor repetition matters,
//! and each line keeps how the item stood after it, so that a run is judged by what was so at its moments.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{Described, GearChange, GearKind, ItemCard, ItemChange, described, kinds};
use crate::crew::Stamp;
use crate::ids::{PersonId, Role, Roles};

/// One record about gear.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GearEvent {
    /// The record.
    pub id: [u8; 32],
    /// Its stamp.
    pub stamp: Stamp,
    /// When, by its device's clock, ms UTC.
    pub at_ms: i64,
    /// Who signed.
    pub by: PersonId,
    /// The roles that they had.
    pub roles: Roles,
    /// They may keep the register.
    pub may_keep: bool,
    /// What is said of which items.
    pub changes: Vec<ItemChange>,
    /// Why.
    pub reason: String,
}

/// How far an item may be used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "is", content = "words")]
pub enum Service {
    /// It is in service.
    In,
    /// It may be used with this restriction.
    Restricted(String),
    /// It is out of service, for this reason.
    Out(String),
    /// It is off the register.
    Off,
}

/// How an item stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ItemState {
    /// What it is.
    pub card: ItemCard,
    /// How far it may be used.
    pub service: Service,
}

/// What a line of an item's history says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LineChange {
    /// A record about gear.
    Gear(GearChange),
    /// The settings describe the cable.
    Described,
    /// Another item was put on under the same code, by somebody who did not know of this one: it is not on the register.
    Clash(Box<ItemCard>),
    /// Restricted by somebody whose word does not put what is out of service back to work.
    NotMasters(String),
}

/// One line of an item's history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GearLine {
    /// The record.
    pub id: [u8; 32],
    /// Its stamp.
    pub stamp: Stamp,
    /// When, by its device's clock, ms UTC.
    pub at_ms: i64,
    /// Who.
    pub by: PersonId,
    /// Why.
    pub reason: String,
    /// What.
    pub change: LineChange,
    /// How the item stood after it.
    pub state: ItemState,
}

/// One item with its history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ItemFile {
    /// Its code.
    pub code: String,
    /// What became of it, in order; never empty.
    pub lines: Vec<GearLine>,
}

impl ItemFile {
    /// Returns how it stands with all that is known.
    ///
    /// # Panics
    /// Never: an item begins with the line that puts it on.
    pub fn now(&self) -> &ItemState {
        let last = self.lines.last();
        &last.expect("invariant: an item has its first line").state
    }

    /// Returns how it stood at a moment; with all that is known where there is none. None before it was put on.
    pub fn at(&self, moment: Option<Stamp>) -> Option<&ItemState> {
        let Some(moment) = moment else {
            return Some(self.now());
        };
        let mut earlier = self.lines.iter().rev();
        earlier
            .find(|line| line.stamp <= moment)
            .map(|line| &line.state)
    }

    /// Returns the cards that were put on under its code by mistake.
    pub fn clashes(&self) -> impl Iterator<Item = &ItemCard> {
        self.lines.iter().filter_map(|line| match &line.change {
            LineChange::Clash(card) => Some(card.as_ref()),
            _ => None,
        })
    }
}

/// The ship's gear.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Register {
    items: BTreeMap<String, ItemFile>,
    /// The kinds that the ship has added.
    own: Vec<GearKind>,
}

/// When a thing is taken in: by its stamp, its record, and its place in that.
type TurnKey = (Stamp, [u8; 32], usize);

/// One thing to be taken into the register, in its turn.
enum Turn<'a> {
    Gear(&'a GearEvent, &'a ItemChange),
    Described(&'a Described),
}

impl Register {
    /// Folds records about gear, in any order and with repetitions; `own` are the kinds that the ship has added, and
    /// `described` is what her settings say of her cables.
    pub fn of(own: Vec<GearKind>, events: &[GearEvent], described: &[Described]) -> Self {
        let mut turns: Vec<(TurnKey, Turn<'_>)> = Vec::new();
        for event in events {
            for (at, change) in event.changes.iter().enumerate() {
                let key = (event.stamp, event.id, at);
                turns.push((key, Turn::Gear(event, change)));
            }
        }
        for one in described {
            let at = usize::from(one.side == crate::cable::Side::Starboard);
            turns.push(((one.stamp, one.id, at), Turn::Described(one)));
        }
        turns.sort_by_key(|(key, _)| *key);
        turns.dedup_by_key(|(key, _)| *key);
        let mut register = Self {
            items: BTreeMap::new(),
            own,
        };
        for (_, turn) in turns {
            match turn {
                Turn::Gear(event, change) => register.take(event, change),
                Turn::Described(one) => register.describe(one),
            }
        }
        register
    }

    fn take(&mut self, event: &GearEvent, change: &ItemChange) {
        if !may(event, &change.change) {
            return;
        }
        let line = |change: LineChange, state: ItemState| GearLine {
            id: event.id,
            stamp: event.stamp,
            at_ms: event.at_ms,
            by: event.by.clone(),
            reason: event.reason.clone(),
            change,
            state,
        };
        let Some(file) = self.items.get_mut(&change.item) else {
            if let GearChange::PutOn { card } = &change.change
                && !described::is_code(&change.item)
            {
                let state = ItemState {
                    card: card.clone(),
                    service: Service::In,
                };
                let said = LineChange::Gear(change.change.clone());
                let file = ItemFile {
                    code: change.item.clone(),
                    lines: vec![line(said, state)],
                };
                self.items.insert(change.item.clone(), file);
            }
            return;
        };
        let mut state = file.now().clone();
        if state.service == Service::Off && !matches!(change.change, GearChange::PutOn { .. }) {
            return;
        }
        let mut said = LineChange::Gear(change.change.clone());
        match &change.change {
            GearChange::PutOn { card } => said = LineChange::Clash(Box::new(card.clone())),
            GearChange::Changed { card } => state.card = card.clone(),
            GearChange::Restricted { words } => {
                let is_out = matches!(state.service, Service::Out(_));
                if is_out && !event.roles.may_act_as(Role::Master) {
                    said = LineChange::NotMasters(words.clone());
                } else {
                    state.service = Service::Restricted(words.clone());
                }
            }
            GearChange::OutOfService => state.service = Service::Out(event.reason.clone()),
            GearChange::PutBack => state.service = Service::In,
            GearChange::TakenOff => state.service = Service::Off,
        }
        file.lines.push(line(said, state));
    }

    fn describe(&mut self, one: &Described) {
        let code = described::code(one.side);
        let known = self.items.get(code);
        let mut state = known.map_or_else(
            || ItemState {
                card: described::card(one.side),
                service: Service::In,
            },
            |file| file.now().clone(),
        );
        let before = known.map(|_| state.card.clone());
        described::describe(&mut state.card, &one.cable);
        if before.as_ref() == Some(&state.card) {
            return;
        }
        let file = self.items.entry(code.to_owned());
        let file = file.or_insert_with(|| ItemFile {
            code: code.to_owned(),
            lines: Vec::new(),
        });
        file.lines.push(GearLine {
            id: one.id,
            stamp: one.stamp,
            at_ms: one.at_ms,
            by: one.by.clone(),
            reason: String::new(),
            change: LineChange::Described,
            state,
        });
    }

    /// Returns the first moment from which it says something else than another; none where they are the same. A kind
    /// that one of them lacks makes a difference from the beginning.
    pub fn differs_from(&self, other: &Self) -> Option<Stamp> {
        if self.own != other.own {
            return Some((0, 0));
        }
        let codes = self.items.keys().chain(other.items.keys());
        let lines = |register: &Self, code: &String| {
            let file = register.items.get(code);
            file.map(|file| file.lines.clone()).unwrap_or_default()
        };
        let first = |code: &String| {
            let (mine, theirs) = (lines(self, code), lines(other, code));
            let same = mine.iter().zip(&theirs).take_while(|(a, b)| a == b).count();
            let differ = [mine.get(same), theirs.get(same)];
            differ.into_iter().flatten().map(|line| line.stamp).min()
        };
        codes.filter_map(first).min()
    }

    /// Lists every item that was ever on the register, by code.
    pub fn all(&self) -> impl Iterator<Item = &ItemFile> {
        self.items.values()
    }

    /// Lists the items that are on the register now, by code.
    pub fn items(&self) -> impl Iterator<Item = &ItemFile> {
        let all = self.items.values();
        all.filter(|file| file.now().service != Service::Off)
    }

    /// Finds an item that is, or ever was, on the register. Codes are the same in small letters.
    pub fn item(&self, code: &str) -> Option<&ItemFile> {
        let code = code.trim();
        let found = self.items.get(code);
        found.or_else(|| self.items.get(&code.to_uppercase()))
    }

    /// Lists the items of a kind that were on the register at a moment.
    pub fn of_kind(&self, kind: &str, moment: Option<Stamp>) -> impl Iterator<Item = &ItemFile> {
        self.items.values().filter(move |file| {
            let state = file.at(moment);
            state.is_some_and(|state| state.card.kind == kind && state.service != Service::Off)
        })
    }

    /// Lists the kinds, the program's first.
    pub fn kinds(&self) -> impl Iterator<Item = &GearKind> {
        kinds().iter().chain(&self.own)
    }

    /// Finds a kind.
    pub fn kind(&self, key: &str) -> Option<&GearKind> {
        self.kinds().find(|kind| kind.key == key)
    }

    /// Returns what a kind is called; its key where it is not known.
    pub fn kind_name<'a>(&'a self, key: &'a str) -> &'a str {
        self.kind(key).map_or(key, |kind| &kind.name)
    }
}

/// Says whether who signed may change an item so: whoever finds it broken takes it out of service, the rest is for who
/// keeps the register.
fn may(event: &GearEvent, change: &GearChange) -> bool {
    match change {
        GearChange::OutOfService => event.roles.may_act_as(Role::Crew),
        GearChange::PutOn { .. }
        | GearChange::Changed { .. }
        | GearChange::Restricted { .. }
        | GearChange::PutBack
        | GearChange::TakenOff => event.may_keep,
    }
}
