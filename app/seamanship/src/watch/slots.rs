//! Ten seconds at a time, and minutes: what is judged is the middle of what came in, so that one wild fix is none.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

use super::plane::{Spot, mean, median, middle};

/// How long a slot is.
pub(super) const SLOT_MS: i64 = 10_000;
/// Slots in a minute.
const SLOTS_A_MINUTE: u8 = 6;
/// The most values of one quantity that a slot keeps; more say nothing new.
const MOST_VALUES: usize = 128;
/// How many slots are kept: a quarter of an hour.
const SLOTS_KEPT: usize = 96;
/// How many minutes are kept.
const MINUTES_KEPT: usize = 60;

/// The slot that is being filled.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Filling {
    pub(super) antenna: Vec<Spot>,
    pub(super) hawse: Vec<Spot>,
    pub(super) is_differential: bool,
    pub(super) heading: Vec<Spot>,
    /// Where the wind comes from, counted from the bow, as a unit vector whose north is ahead.
    pub(super) bow_wind: Vec<Spot>,
    /// Where the wind comes from, counted from true north.
    pub(super) true_wind: Vec<Spot>,
    pub(super) wind_kn: Vec<f64>,
    pub(super) depth: Vec<f64>,
}

/// Adds a value while there is room.
pub(super) fn put<T>(values: &mut Vec<T>, value: T) {
    if values.len() < MOST_VALUES {
        values.push(value);
    }
}

/// Ten seconds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Slot {
    pub(super) end_ms: i64,
    pub(super) antenna: Option<Spot>,
    pub(super) hawse: Option<Spot>,
    pub(super) is_differential: bool,
    pub(super) heading: Option<Spot>,
    pub(super) bow_wind: Option<Spot>,
    pub(super) true_wind: Option<Spot>,
    pub(super) wind_kn: Option<f64>,
    pub(super) gust_kn: Option<f64>,
    pub(super) depth: Option<f64>,
}

/// A minute: the means of its slots.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Minute {
    pub(super) end_ms: i64,
    /// The hawse, or the antenna where the hawse is not known.
    pub(super) at: Option<Spot>,
    pub(super) is_hawse: bool,
    pub(super) antenna: Option<Spot>,
    pub(super) is_differential: bool,
    pub(super) heading: Option<Spot>,
    pub(super) bow_wind: Option<Spot>,
    pub(super) true_wind: Option<Spot>,
    pub(super) wind_kn: Option<f64>,
    pub(super) gust_kn: Option<f64>,
    pub(super) depth: Option<f64>,
}

/// The slots and minutes of late.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Slots {
    /// When the slot that is being filled ends.
    pub(super) end_ms: i64,
    pub(super) filling: Filling,
    pub(super) kept: VecDeque<Slot>,
    pub(super) minutes: VecDeque<Minute>,
    in_minute: u8,
}

fn keep<T>(kept: &mut VecDeque<T>, one: T, most: usize) {
    if kept.len() >= most {
        kept.pop_front();
    }
    kept.push_back(one);
}

fn mean_of(numbers: impl Iterator<Item = f64>) -> Option<f64> {
    mean(numbers.map(|number| Spot {
        east: number,
        north: 0.0,
    }))
    .map(|mean| mean.east)
}

impl Slots {
    /// Closes the slot; returns whether a minute is full with it.
    pub(super) fn close(&mut self) -> bool {
        let mut filled = std::mem::take(&mut self.filling);
        let gust_kn = filled.wind_kn.iter().copied().reduce(f64::max);
        let slot = Slot {
            end_ms: self.end_ms,
            antenna: middle(&filled.antenna),
            // A slot in which the heading came and went is one without a hawse.
            hawse: middle(&filled.hawse).filter(|_| filled.hawse.len() == filled.antenna.len()),
            is_differential: filled.is_differential,
            heading: mean(filled.heading),
            bow_wind: mean(filled.bow_wind),
            true_wind: mean(filled.true_wind),
            wind_kn: mean_of(filled.wind_kn.into_iter()),
            gust_kn,
            depth: median(&mut filled.depth),
        };
        keep(&mut self.kept, slot, SLOTS_KEPT);
        self.end_ms += SLOT_MS;
        self.in_minute += 1;
        let is_full = self.in_minute >= SLOTS_A_MINUTE;
        if is_full {
            self.in_minute = 0;
            let minute = self.minute();
            keep(&mut self.minutes, minute, MINUTES_KEPT);
        }
        is_full
    }

    fn minute(&self) -> Minute {
        let of = || self.latest(usize::from(SLOTS_A_MINUTE));
        let with_place = || of().filter(|slot| slot.antenna.is_some());
        let is_hawse = with_place().all(|slot| slot.hawse.is_some());
        let at = with_place().filter_map(|slot| if is_hawse { slot.hawse } else { slot.antenna });
        Minute {
            end_ms: self.end_ms - SLOT_MS,
            at: mean(at),
            is_hawse,
            antenna: mean(of().filter_map(|slot| slot.antenna)),
            is_differential: with_place().all(|slot| slot.is_differential),
            heading: mean(of().filter_map(|slot| slot.heading)),
            bow_wind: mean(of().filter_map(|slot| slot.bow_wind)),
            true_wind: mean(of().filter_map(|slot| slot.true_wind)),
            wind_kn: mean_of(of().filter_map(|slot| slot.wind_kn)),
            gust_kn: of().filter_map(|slot| slot.gust_kn).reduce(f64::max),
            depth: mean_of(of().filter_map(|slot| slot.depth)),
        }
    }

    /// The latest `count` slots, the newest first.
    pub(super) fn latest(&self, count: usize) -> impl Iterator<Item = &Slot> {
        self.kept.iter().rev().take(count)
    }

    /// Mean wind of the latest `count` slots, if most of them have one.
    pub(super) fn wind_kn(&self, count: usize) -> Option<f64> {
        let winds: Vec<f64> = self.latest(count).filter_map(|slot| slot.wind_kn).collect();
        if winds.len() * 3 < count * 2 {
            return None;
        }
        mean_of(winds.into_iter())
    }

    /// Where the ship is by the newest slot: her hawse, or the antenna.
    pub(super) fn latest_antenna(&self) -> Option<Spot> {
        self.kept.back().and_then(|slot| slot.antenna)
    }
}
