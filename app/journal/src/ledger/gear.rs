//! The ship's gear: which records about it there are, what they come to, and which runs that bears on.

use super::Ledger;
use crate::access::{self, Permission};
use crate::body::{GearBody, GearKindBody};
use procedure::cable::BOTH;
use procedure::gear::{Described, GearEvent, GearKind, Register, kinds};
use procedure::{Condition, PersonId, Procedure, Stamp};
use record::{Hlc, RecordId};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The records about gear, and what they come to.
#[derive(Debug, Clone, Default)]
pub(super) struct Gear {
    said: BTreeMap<(Hlc, RecordId), GearBody>,
    kinds: BTreeMap<(Hlc, RecordId), Vec<GearKind>>,
    register: Arc<Register>,
    /// Whether that has to be worked out again.
    pub is_stale: bool,
}

impl Gear {
    pub fn take(&mut self, at: (Hlc, RecordId), body: GearBody) {
        self.said.insert(at, body);
        self.is_stale = true;
    }

    pub fn take_kinds(&mut self, at: (Hlc, RecordId), body: &GearKindBody) {
        if let Ok(kinds) = procedure::parse_gear_kinds_on_record(&body.text) {
            self.kinds.insert(at, kinds);
            self.is_stale = true;
        }
    }
}

/// How far a procedure asks the register.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asks {
    /// Not at all.
    Nothing,
    /// Which gear there is, and whether what it puts to work is out of service: of what is written next, and of nothing
    /// on record.
    Use,
    /// Which item is used.
    Items,
}

fn asks(procedure: &Procedure) -> Asks {
    let steps = || procedure.steps().iter();
    let by_kind = |condition: &Condition| matches!(condition, Condition::Gear { .. });
    if steps().any(|step| {
        step.kind.item().is_some() || step.kind.each().is_some() || step.when.iter().any(by_kind)
    }) {
        Asks::Items
    } else if steps().any(|step| !step.gear.is_empty()) {
        Asks::Use
    } else {
        Asks::Nothing
    }
}

impl Ledger {
    /// Returns the ship's gear.
    pub fn register(&self) -> &Arc<Register> {
        &self.gear.register
    }

    /// Returns the gear as far as a procedure asks for it.
    pub(super) fn gear_for(&self, procedure: &Procedure) -> Arc<Register> {
        match asks(procedure) {
            Asks::Nothing => Arc::default(),
            Asks::Use | Asks::Items => Arc::clone(&self.gear.register),
        }
    }

    /// Works out what everything is judged by, where that has changed, and marks the runs on which it bears.
    pub(super) fn sift_standing(&mut self) {
        self.sift_settings();
        self.sift_gear();
    }

    fn sift_gear(&mut self) {
        if !std::mem::take(&mut self.gear.is_stale) {
            return;
        }
        let register = self.reckon_register();
        let Some(from) = register.differs_from(&self.gear.register) else {
            return;
        };
        self.gear.register = Arc::new(register);
        self.mark_where(|ledger, file| {
            let procedure = file.procedure.as_ref();
            let procedure = procedure.or_else(|| ledger.procedures.get(&file.hash));
            match procedure.map_or(Asks::Nothing, |procedure| asks(procedure)) {
                Asks::Nothing => false,
                Asks::Use => file
                    .past
                    .as_ref()
                    .is_some_and(|past| past.closed_at_ms.is_none()),
                Asks::Items => !file.is_away() || moment(file.bears.latest) >= from,
            }
        });
    }

    fn reckon_register(&self) -> Register {
        let events: Vec<GearEvent> = self
            .gear
            .said
            .iter()
            .filter_map(|((stamp, id), body)| {
                let record = &self.entries.get(id)?.record;
                let roles = self.roles_of(record);
                Some(GearEvent {
                    id: id.0,
                    stamp: moment(*stamp),
                    at_ms: record.time_ms(),
                    by: PersonId::new(record.author().as_str()),
                    roles,
                    may_keep: access::has_permission(roles, Permission::KeepGear),
                    changes: body.changes.clone(),
                    reason: body.reason.clone(),
                })
            })
            .collect();
        let mut own: BTreeMap<&str, &GearKind> = BTreeMap::new();
        for ((_, id), said) in &self.gear.kinds {
            if self.is_masters(*id) {
                own.extend(said.iter().map(|kind| (kind.key.as_str(), kind)));
            }
        }
        // A kind of the program's keeps its meaning.
        let is_new = |kind: &&GearKind| !kinds().iter().any(|known| known.key == kind.key);
        let own = own.into_values().filter(is_new).cloned().collect();
        Register::of(own, &events, &self.described())
    }

    /// Lists what the settings have said of the ship's cables, from when on.
    fn described(&self) -> Vec<Described> {
        let mut all = Vec::new();
        let counted = self.settings.iter();
        for ((stamp, id), settings) in counted.filter(|((_, id), _)| self.is_masters(*id)) {
            let Some(entry) = self.entries.get(id) else {
                continue;
            };
            all.extend(BOTH.into_iter().filter_map(|side| {
                Some(Described {
                    id: id.0,
                    stamp: moment(*stamp),
                    at_ms: entry.record.time_ms(),
                    by: PersonId::new(entry.record.author().as_str()),
                    side,
                    cable: settings.cables.of(side)?.clone(),
                })
            }));
        }
        all
    }
}

/// Returns a stamp as the fold of runs has it.
fn moment(stamp: Hlc) -> Stamp {
    (stamp.ms, stamp.ctr)
}
