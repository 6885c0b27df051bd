//! What the watch cannot see. Silence never looks like holding.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

use super::alarm::{Level, Standing};
use super::plane::{Spot, mean};
use super::senses::{Senses, cause, ms};
use super::slots::Minute;
use super::{Limits, Setup};

/// What is lost, and since when.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Blind {
    /// What a look at the heading found.
    heading: u16,
    lost: u16,
    without_place_since_ms: Option<i64>,
    text: String,
    standing: Option<(Level, u16)>,
}

impl Blind {
    /// What is lost now.
    pub(super) fn lost(&self) -> u16 {
        self.lost | self.heading
    }

    /// The moment at which a place that is lost has been lost for too long.
    pub(super) fn due_ms(&self, limits: &Limits) -> Option<i64> {
        self.without_place_since_ms
            .map(|since| since + ms(limits.blind_alarm_s))
    }

    /// Judges what is lost at a moment.
    pub(super) fn judge(
        &mut self,
        now_ms: i64,
        lost: u16,
        senses: &Senses,
        limits: &Limits,
    ) -> Option<Standing> {
        self.lost = lost;
        let lost = self.lost();
        if lost & cause::PLACE == 0 {
            self.without_place_since_ms = None;
        } else {
            self.without_place_since_ms.get_or_insert(now_ms);
        }
        let is_long = self.due_ms(limits).is_some_and(|due| now_ms >= due);
        let level = if lost == 0 {
            None
        } else if is_long {
            Some(Level::Alarm)
        } else if lost & !cause::MINOR != 0 {
            Some(Level::Warning)
        } else {
            Some(Level::Caution)
        };
        let standing = level.map(|level| (level, lost));
        if standing != self.standing {
            self.standing = standing;
            self.text = senses.words(now_ms, lost);
        }
        level.map(|level| Standing {
            level,
            cause: lost,
            text: self.text.clone(),
        })
    }

    /// Looks whether the heading can be right, where she lies to an anchor that is known.
    pub(super) fn look_at_heading(
        &mut self,
        now_ms: i64,
        minutes: &VecDeque<Minute>,
        anchor: Option<Spot>,
        reach_m: Option<f64>,
        heading_same_since_ms: Option<i64>,
        setup: &Setup,
    ) {
        let (Some(anchor), Some(since_ms), true) =
            (anchor, heading_same_since_ms, setup.anchor.is_some())
        else {
            return;
        };
        let limits = &setup.settings;
        let far = reach_m
            .map_or(40.0, |reach| 0.5 * reach)
            .max(setup.offset_m().unwrap_or(0.0) + 20.0);
        if is_reversed(minutes, anchor, far, limits) {
            self.heading |= cause::REVERSED;
        } else if self.heading & cause::REVERSED != 0 && is_toward(minutes, anchor) {
            self.heading &= !cause::REVERSED;
        }
        let then = minutes.iter().find(|minute| minute.end_ms >= since_ms);
        let ends = then
            .and_then(|then| then.antenna)
            .zip(minutes.back().and_then(|minute| minute.antenna));
        let has_swung = ends.is_some_and(|(then, now)| {
            let (then, now) = (then - anchor, now - anchor);
            then.length() > far && now.length() > far && then.angle_to(now) > 30.0
        });
        if has_swung && now_ms - since_ms >= ms(limits.heading_frozen_s) {
            self.heading |= cause::HEADING_FROZEN;
        } else if now_ms - since_ms < ms(limits.heading_frozen_s) {
            self.heading &= !cause::HEADING_FROZEN;
        }
    }
}

/// The angle between her head and the anchor in a minute, her distance from it, and the wind on the bow.
fn lie(minute: &Minute, anchor: Spot) -> Option<(f64, f64, Option<f64>)> {
    let way = anchor - minute.antenna?;
    let wind = minute.bow_wind.map(|wind| wind.angle_to(Spot::toward(0.0)));
    Some((minute.heading?.angle_to(way), way.length(), wind))
}

/// A ship that lies still to a stretched cable has her head to the anchor; one that has it away has a wrong heading.
fn is_reversed(minutes: &VecDeque<Minute>, anchor: Spot, far: f64, limits: &Limits) -> bool {
    let count = usize::try_from(ms(limits.reversed_s) / 60_000)
        .unwrap_or(5)
        .max(1);
    let all = |count: usize, with_wind: bool| {
        let lies: Vec<_> = minutes
            .iter()
            .rev()
            .take(count)
            .filter_map(|minute| lie(minute, anchor))
            .collect();
        if lies.len() < count {
            return false;
        }
        let distances = lies.iter().map(|(_, distance, _)| *distance);
        let (least, most) = distances.fold((f64::MAX, 0.0_f64), |(least, most), one| {
            (least.min(one), most.max(one))
        });
        let is_ahead = |wind: Option<f64>| wind.is_some_and(|wind| wind < 60.0);
        let mean = lies.iter().map(|(angle, ..)| angle).sum::<f64>() / count as f64;
        least > far
            && most - least < 15.0
            && mean > 130.0
            && lies
                .iter()
                .all(|(angle, _, wind)| *angle > 90.0 && (!with_wind || is_ahead(*wind)))
    };
    all(count, true) || all(count * 2, false)
}

/// Her head has been to the anchor for some minutes.
fn is_toward(minutes: &VecDeque<Minute>, anchor: Spot) -> bool {
    let late = || minutes.iter().rev().take(3);
    let heading = mean(late().filter_map(|minute| minute.heading));
    let way = mean(late().filter_map(|minute| Some(anchor - minute.antenna?)));
    heading
        .zip(way)
        .is_some_and(|(heading, way)| heading.angle_to(way) < 60.0)
}
