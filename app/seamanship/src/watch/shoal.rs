//! The water under the keel, and whether it shoals faster than a tide falls.

use serde::{Deserialize, Serialize};

use super::Setup;
use super::alarm::{Level, Standing};
use super::plane::median;
use super::senses::ms;
use super::slots::{SLOT_MS, Slots};
use crate::nmea::DepthFrom;

/// What a sounder's depth is counted from, as far as it is known.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Shoal {
    /// First readings of a sounder that does not say where its transducer is.
    first: Vec<f64>,
    /// Whether such a sounder is taken to count from the keel.
    is_from_keel: Option<bool>,
    history: u8,
    since_ms: Option<i64>,
    enough_since_ms: Option<i64>,
    level: Option<Level>,
    /// The water shoals as no tide does.
    pub(super) is_shoaling: bool,
    shoaling_last_ms: i64,
    text: String,
}

/// How many readings of a silent sounder are looked at.
const FIRST_READINGS: usize = 60;

impl Shoal {
    /// Returns the water from the surface down, for a reading; none where it cannot be told.
    ///
    /// A sounder that does not say where its transducer is counts from the surface or from the keel, whichever
    /// agrees with the depth in the setup; from the surface, the safer, where nothing tells.
    pub(super) fn water_m(&mut self, depth_m: f64, from: DepthFrom, setup: &Setup) -> Option<f64> {
        let draught = setup.draught_m;
        match from {
            DepthFrom::Surface => Some(depth_m),
            DepthFrom::Keel => Some(depth_m + draught?),
            DepthFrom::Transducer(Some(offset)) if offset > 0.0 => Some(depth_m + offset),
            DepthFrom::Transducer(Some(offset)) if offset < 0.0 => {
                Some(depth_m + offset + draught?)
            }
            DepthFrom::Transducer(_) => {
                let is_from_keel = self
                    .is_from_keel
                    .unwrap_or_else(|| self.guess(depth_m, setup));
                let below = draught.filter(|_| is_from_keel).unwrap_or(0.0);
                Some(depth_m + below)
            }
        }
    }

    fn guess(&mut self, depth_m: f64, setup: &Setup) -> bool {
        self.first.push(depth_m);
        let (Some(water), Some(draught)) = (setup.depth_m, setup.draught_m) else {
            self.first.clear();
            return false;
        };
        let middle = median(&mut self.first.clone()).unwrap_or(depth_m);
        let is_from_keel = (middle + draught - water).abs() < (middle - water).abs();
        if self.first.len() >= FIRST_READINGS {
            self.is_from_keel = Some(is_from_keel);
            self.first = Vec::new();
        }
        is_from_keel
    }

    /// Judges the slot that has just closed; `is_swinging` where her head has turned in the last quarter of an hour.
    pub(super) fn judge(
        &mut self,
        now_ms: i64,
        slots: &Slots,
        is_swinging: bool,
        setup: &Setup,
    ) -> Option<Standing> {
        let limits = &setup.settings;
        let water = slots.kept.back().and_then(|slot| slot.depth);
        if let Some(water) = water {
            self.under_keel(now_ms, water, setup);
        }
        let found = (!is_swinging)
            .then(|| shoaling(slots, limits.tide_rate_m_h))
            .flatten();
        if let Some((before, now)) = found
            && before - now >= limits.shoaling_m.max(0.15 * before)
        {
            self.is_shoaling = true;
            self.shoaling_last_ms = now_ms;
            if self.level.is_none() {
                self.text = format!(
                    "the water has gone from {before:.1} to {now:.1} m within 15 min, faster than a tide falls"
                );
            }
        }
        if now_ms - self.shoaling_last_ms >= ms(limits.inside_clear_s) {
            self.is_shoaling = false;
        }
        let level = self.level.or(self.is_shoaling.then_some(Level::Caution))?;
        Some(Standing::new(level, self.text.clone()))
    }

    fn under_keel(&mut self, now_ms: i64, water: f64, setup: &Setup) {
        let limits = &setup.settings;
        let (Some(least), Some(draught)) = (setup.ukc_min_m, setup.draught_m) else {
            return;
        };
        let under = water - draught;
        let is_short = under < least;
        self.history = self.history << 1 & 0b11111 | u8::from(is_short);
        if under < least + 0.2 {
            self.enough_since_ms = None;
        } else {
            let since_ms = *self.enough_since_ms.get_or_insert(now_ms);
            if now_ms - since_ms >= ms(limits.inside_clear_s) {
                self.level = None;
            }
        }
        if is_short {
            self.since_ms.get_or_insert(now_ms - SLOT_MS);
        } else if self.history == 0 {
            self.since_ms = None;
        }
        if self.history.count_ones() >= 3 {
            let for_ms = self.since_ms.map_or(0, |since_ms| now_ms - since_ms);
            let is_alarm = for_ms >= ms(limits.outside_alarm_s);
            let level = if is_alarm {
                Level::Alarm
            } else {
                Level::Warning
            };
            if Some(level) > self.level {
                self.level = Some(level);
                self.text = format!(
                    "{under:.1} m under the keel, {least:.1} m is the least; water {water:.1} m"
                );
            }
        }
    }
}

/// Returns the water a quarter of an hour ago and now, the tide's own fall taken off.
fn shoaling(slots: &Slots, tide_rate_m_h: f64) -> Option<(f64, f64)> {
    let depths: Vec<f64> = slots.kept.iter().filter_map(|slot| slot.depth).collect();
    let span = slots.kept.back()?.end_ms - slots.kept.front()?.end_ms;
    if depths.len() < 60 {
        return None;
    }
    let before = median(&mut depths[..12].to_vec())?;
    let now = median(&mut depths[depths.len() - 6..].to_vec())?;
    let tide = tide_rate_m_h * span as f64 / 3_600_000.0;
    Some((before, now + tide))
}
