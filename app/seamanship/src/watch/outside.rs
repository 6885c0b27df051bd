//! Whether the hawse is where the cable can reach.

use serde::{Deserialize, Serialize};

use super::alarm::{Level, Standing};
use super::plane::Spot;
use super::senses::ms;
use super::slots::{SLOT_MS, Slot};
use super::{Limits, Setup};

/// Of the latest slots that have a place: which were outside.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Outside {
    /// One bit for each slot with a place, the newest lowest.
    history: u8,
    since_ms: Option<i64>,
    inside_since_ms: Option<i64>,
    level: Option<Level>,
}

/// How far she is from the anchor, and how far she may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Distance {
    pub(super) from_anchor_m: f64,
    pub(super) allowed_m: f64,
    /// The antenna was measured, as the hawse is not known.
    pub(super) is_antenna: bool,
}

/// What the antenna's offset is taken for where neither it nor the ship's length is known.
/// Source: our own: the length of a ship as this program is for.
const UNKNOWN_OFFSET_M: f64 = 50.0;

/// Returns how far she is from the anchor in a slot.
pub(super) fn distance(slot: &Slot, anchor: Spot, reach_m: f64, setup: &Setup) -> Option<Distance> {
    let limits = &setup.settings;
    let margin = if slot.is_differential {
        limits.margin_differential_m
    } else {
        limits.margin_alone_m
    };
    let antenna = slot.antenna?;
    // A head that points away from the anchor may be a wrong one, which would turn the hawse to the wrong side.
    let is_trusted = slot
        .heading
        .is_some_and(|heading| heading.angle_to(anchor - antenna) <= 120.0);
    Some(match slot.hawse.filter(|_| is_trusted) {
        Some(hawse) => Distance {
            from_anchor_m: (hawse - anchor).length(),
            allowed_m: reach_m + margin,
            is_antenna: false,
        },
        None => Distance {
            from_anchor_m: (antenna - anchor).length(),
            allowed_m: reach_m + margin + setup.offset_m().unwrap_or(UNKNOWN_OFFSET_M),
            is_antenna: true,
        },
    })
}

impl Outside {
    /// Judges the slot that has just closed.
    pub(super) fn judge(
        &mut self,
        now_ms: i64,
        distance: Option<Distance>,
        limits: &Limits,
    ) -> Option<Standing> {
        let Some(distance) = distance else {
            return self.standing(None);
        };
        let is_out = distance.from_anchor_m > distance.allowed_m;
        self.history = self.history << 1 & 0b11111 | u8::from(is_out);
        if is_out {
            self.inside_since_ms = None;
            self.since_ms.get_or_insert(now_ms - SLOT_MS);
        } else {
            let since_ms = *self.inside_since_ms.get_or_insert(now_ms - SLOT_MS);
            if now_ms - since_ms >= ms(limits.inside_clear_s) {
                self.level = None;
            }
        }
        if self.history.count_ones() >= 3 {
            let for_ms = self.since_ms.map_or(0, |since_ms| now_ms - since_ms);
            let is_alarm = for_ms >= ms(limits.outside_alarm_s) && self.history.count_ones() >= 4;
            let level = if is_alarm {
                Level::Alarm
            } else {
                Level::Warning
            };
            self.level = self.level.max(Some(level));
        } else if self.history == 0 {
            self.since_ms = None;
        }
        self.standing(Some(distance))
    }

    fn standing(&self, distance: Option<Distance>) -> Option<Standing> {
        let level = self.level?;
        let text = distance.map_or_else(String::new, |distance| {
            let what = if distance.is_antenna {
                "the antenna is "
            } else {
                ""
            };
            format!(
                "{what}{:.0} m from the anchor, {:.0} m allowed",
                distance.from_anchor_m, distance.allowed_m
            )
        });
        Some(Standing::new(level, text))
    }
}
