//! Whether her head comes back to the wind at the end of a swing.

use serde::{Deserialize, Serialize};

use super::Limits;
use super::alarm::{Level, Standing};
use super::plane::Spot;
use super::senses::ms;
use super::slots::{Slot, Slots};

/// A ship that lies across the wind and drifts.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Recover {
    since_ms: Option<i64>,
    last_ms: Option<i64>,
    text: String,
}

/// The wind beyond the angle, on one side, in each of the latest slots; how far beyond.
fn beam(slots: &Slots, count: usize, limits: &Limits) -> Option<f64> {
    let winds: Vec<Spot> = slots
        .latest(count)
        .filter_map(|slot| slot.bow_wind)
        .collect();
    let speed = slots.wind_kn(count)?;
    if winds.len() * 6 < count * 5 || speed < limits.beam_wind_kn {
        return None;
    }
    let is_beyond = |wind: &Spot| wind.angle_to(Spot::toward(0.0)) > limits.beam_deg;
    let side = winds[0].east.signum();
    let is_one_side = winds.iter().all(|wind| wind.east.signum() * side > 0.0);
    let mean = winds
        .iter()
        .map(|wind| wind.angle_to(Spot::toward(0.0)))
        .sum::<f64>();
    (is_one_side && winds.iter().all(is_beyond)).then(|| mean / winds.len() as f64)
}

/// Whether the wind was ahead for most of the half hour before: a ship that lies to the stream has nothing to come back to.
fn lay_to_wind(slots: &Slots, limits: &Limits) -> bool {
    let before = slots.minutes.iter().rev().skip(5).take(25);
    let winds: Vec<Spot> = before.filter_map(|minute| minute.bow_wind).collect();
    let is_ahead = |wind: &&Spot| wind.angle_to(Spot::toward(0.0)) < limits.beam_deg;
    let ahead = winds.iter().filter(is_ahead).count();
    ahead >= 5 && ahead * 2 > winds.len()
}

impl Recover {
    /// Judges the slot that has just closed; `anchor` is the anchor with the reach of the cable.
    pub(super) fn judge(
        &mut self,
        now_ms: i64,
        slots: &Slots,
        anchor: Option<(Spot, Option<f64>)>,
        limits: &Limits,
    ) -> Option<Standing> {
        let count = usize::try_from(ms(limits.beam_s) / 10_000).unwrap_or(18);
        let found = beam(slots, count, limits)
            .filter(|_| lay_to_wind(slots, limits))
            .and_then(|angle| {
                let drift = drift_kn(slots, anchor)?;
                (drift > limits.drift_kn).then_some((angle, drift))
            });
        if let Some((angle, drift)) = found {
            self.since_ms.get_or_insert(now_ms);
            self.last_ms = Some(now_ms);
            self.text = format!(
                "wind {angle:.0}° off the bow for {:.0} min and drifting downwind at {drift:.1} kn",
                limits.beam_s / 60.0
            );
        }
        // Two minutes without end it.
        if self.last_ms.is_none_or(|last| now_ms - last >= 120_000) {
            self.since_ms = None;
        }
        let since_ms = self.since_ms?;
        let level = if now_ms - since_ms >= 60_000 {
            Level::Alarm
        } else {
            Level::Warning
        };
        Some(Standing::new(level, self.text.clone()))
    }
}

/// How fast the ship has drifted downwind; none where it is not away from a stretched cable's anchor.
///
/// Over a minute where the anchor and its cable are known, or over three: a ship that swings with the tide drifts too.
fn drift_kn(slots: &Slots, anchor: Option<(Spot, Option<f64>)>) -> Option<f64> {
    let at = |slot: &Slot| slot.hawse.or(slot.antenna);
    let reach = anchor.and_then(|(anchor, reach)| Some((anchor, reach?)));
    let (count, seconds) = if reach.is_some() {
        (7, 60.0)
    } else {
        (19, 180.0)
    };
    let mut latest = slots.latest(count);
    let now = latest.next()?;
    let before = latest
        .last()
        .filter(|slot| now.end_ms - slot.end_ms == ms(seconds))?;
    let (from, to) = (at(before)?, at(now)?);
    let downwind = now.true_wind?.direction()? * -1.0;
    if let Some((anchor, reach)) = reach {
        let (first, last) = ((from - anchor).length(), (to - anchor).length());
        // Mostly outward: a yaw goes across.
        if last - first < 0.5 * (to - from).length() || last < reach {
            return None;
        }
    }
    Some((to - from).along(downwind) / seconds * 3600.0 / 1852.0)
}
