//! The anchor watch on record, and what its pages show.

mod page;
mod said;

pub use page::{
    AlarmLine, InputLine, InputsPage, NightAlarm, NightMinute, NightPage, SentenceLine, SourceLine,
    WatchPage,
};
pub use said::{WatchBody, WatchSaid};

use crate::body::Body;
use crate::ledger::Ledger;
use procedure::Role;
use record::RecordId;

/// How many alarms that are over and seen are remembered.
const PAST: usize = 50;
/// What a call for the master is about, among the alarms.
pub const MASTER: &str = "master";

/// An alarm on record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RaisedAlarm {
    /// The record that raised it.
    pub id: RecordId,
    /// What about.
    pub about: String,
    /// 1 caution, 2 warning, 3 alarm.
    pub level: u8,
    /// In words.
    pub text: String,
    /// When, ms UTC.
    pub at_ms: i64,
    /// When it was over, or another took its place.
    pub over_ms: Option<i64>,
    /// Who has seen it, and when.
    pub seen: Option<(String, i64)>,
}

/// What the records come to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct OnRecord {
    /// The record by which the watch over this anchor began, when, and by whom; none while there is none.
    pub begun: Option<(RecordId, i64, String)>,
    /// Where the anchor lies, 1e-7 degrees.
    pub anchor_e7: Option<(i32, i32)>,
    /// The cable out as it was given, cm, and when.
    pub cable: Option<(i64, u32)>,
    /// Who keeps the watch, and since when.
    pub keeper: Option<(String, i64)>,
    /// When a watch ended last.
    pub ended_ms: Option<i64>,
    /// Alarms, oldest first.
    pub alarms: Vec<RaisedAlarm>,
}

impl OnRecord {
    /// Folds the records about the watch. What somebody had no right to say changes nothing.
    pub fn of(ledger: &Ledger) -> Self {
        let mut this = Self::default();
        // A clock that is behind stamps a word about an alarm before the alarm: those come last.
        let mut seen = Vec::new();
        for id in ledger.watch_records() {
            let Some(entry) = ledger.entry(id) else {
                continue;
            };
            let Ok(Body::Watch(body)) = &entry.body else {
                continue;
            };
            let by_ship = entry.record.device() == ledger.authority().device() && !entry.is_pending;
            let roles = ledger.roles_of(&entry.record);
            let is_officer = by_ship || roles.has(Role::Officer) || roles.has(Role::Master);
            let by = entry.record.author().to_string();
            match &body.said {
                WatchSaid::Set { .. } | WatchSaid::End { .. } | WatchSaid::Seen { .. }
                    if !is_officer => {}
                WatchSaid::Alarm { .. } if !by_ship => {}
                WatchSaid::Taken | WatchSaid::Call { .. }
                    if !is_officer && !roles.has(Role::Crew) => {}
                WatchSaid::Seen { alarm } => seen.push((*alarm, by, body.at_ms)),
                said => this.take(id, body.at_ms, by, said),
            }
        }
        for (alarm, by, at_ms) in seen {
            this.see(alarm, by, at_ms);
        }
        this.forget();
        this
    }

    fn take(&mut self, id: RecordId, at_ms: i64, by: String, said: &WatchSaid) {
        match said {
            WatchSaid::Set {
                latitude_e7,
                longitude_e7,
                cable_cm,
                ..
            } => {
                if let (Some(latitude), Some(longitude)) = (*latitude_e7, *longitude_e7) {
                    self.begun = Some((id, at_ms, by));
                    self.anchor_e7 = Some((latitude, longitude));
                }
                if let Some(cable) = *cable_cm {
                    self.cable = Some((at_ms, cable));
                }
            }
            WatchSaid::Alarm { about, level, text } => {
                self.over(about, at_ms);
                if *level > 0 {
                    self.raise(id, about, *level, text, at_ms);
                }
            }
            WatchSaid::Call { words } => self.raise(id, MASTER, 2, words, at_ms),
            WatchSaid::Seen { alarm } => self.see(*alarm, by, at_ms),
            WatchSaid::Taken => self.keeper = Some((by, at_ms)),
            WatchSaid::End { .. } => {
                let alarms = std::mem::take(&mut self.alarms);
                *self = Self {
                    ended_ms: Some(at_ms),
                    alarms,
                    ..Self::default()
                };
                for alarm in &mut self.alarms {
                    alarm.over_ms.get_or_insert(at_ms);
                }
            }
        }
    }

    fn raise(&mut self, id: RecordId, about: &str, level: u8, text: &str, at_ms: i64) {
        self.alarms.push(RaisedAlarm {
            id,
            about: about.to_owned(),
            level,
            text: text.to_owned(),
            at_ms,
            over_ms: None,
            seen: None,
        });
    }

    /// The first who sees it counts.
    fn see(&mut self, alarm: RecordId, by: String, at_ms: i64) {
        let found = self.alarms.iter_mut().find(|known| known.id == alarm);
        if let Some(found) = found.filter(|found| found.seen.is_none()) {
            if found.about == MASTER {
                found.over_ms = Some(at_ms);
            }
            found.seen = Some((by, at_ms));
        }
    }

    /// Forgets the oldest of those that are over and need nobody.
    fn forget(&mut self) {
        let is_past = |alarm: &RaisedAlarm| {
            alarm.over_ms.is_some() && (alarm.seen.is_some() || alarm.level < 2)
        };
        let past = self.alarms.iter().filter(|alarm| is_past(alarm)).count();
        let mut too_many = past.saturating_sub(PAST);
        self.alarms.retain(|alarm| {
            let goes = too_many > 0 && is_past(alarm);
            too_many -= usize::from(goes);
            !goes
        });
    }

    fn over(&mut self, about: &str, at_ms: i64) {
        let standing = self.alarms.iter_mut().filter(|alarm| alarm.about == about);
        for alarm in standing {
            alarm.over_ms.get_or_insert(at_ms);
        }
    }

    /// Returns the level at which an alarm stands; 0 where it does not.
    pub fn level_of(&self, about: &str) -> u8 {
        let mut newest_first = self.alarms.iter().rev();
        newest_first
            .find(|alarm| alarm.about == about && alarm.over_ms.is_none())
            .map_or(0, |alarm| alarm.level)
    }

    /// Lists what somebody has to look at: what stands, and what nobody has seen.
    pub fn open(&self) -> impl Iterator<Item = &RaisedAlarm> {
        self.alarms
            .iter()
            .filter(|alarm| alarm.over_ms.is_none() || (alarm.seen.is_none() && alarm.level >= 2))
    }
}
