//! The wind against the master's limits for this anchorage.

use serde::{Deserialize, Serialize};

use super::Setup;
use super::alarm::{Level, Standing};
use super::senses::ms;
use super::slots::Slots;

/// Which limit is reached.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Wind {
    level: Option<Level>,
    since_ms: i64,
    text: String,
}

impl Wind {
    /// Judges the slot that has just closed.
    pub(super) fn judge(&mut self, now_ms: i64, slots: &Slots, setup: &Setup) -> Option<Standing> {
        let limits = &setup.settings;
        let of = |seconds: f64| usize::try_from(ms(seconds) / 10_000).unwrap_or(12).max(1);
        let reached = |wind: f64| {
            let by = setup.wind_limits_kn;
            let all = [
                (by.call, Level::Caution, "to call the master"),
                (by.engines, Level::Warning, "for engines"),
                (by.weigh, Level::Alarm, "to weigh"),
            ];
            let over = all
                .into_iter()
                .filter(|(limit, ..)| limit.is_some_and(|limit| wind >= limit));
            over.max_by_key(|(_, level, _)| *level)
        };
        let Some(now) = slots.wind_kn(of(limits.wind_mean_s)) else {
            return self.standing();
        };
        // The long mean counts, and a short one that is well beyond: gusts about a limit are not a wind over it.
        let long = slots.wind_kn(of(limits.wind_clear_s));
        let ruling = long.unwrap_or(0.0).max(now / limits.wind_squall);
        let reached_now = reached(ruling);
        let is_worse = reached_now.is_some_and(|(_, level, _)| Some(level) > self.level);
        if is_worse {
            self.since_ms = now_ms;
        }
        // It is taken back when the wind has been a tenth below for a while.
        let still = reached(long.unwrap_or(now).max(now) / 0.9).map(|(_, level, _)| level);
        let is_over = now_ms - self.since_ms >= ms(limits.wind_clear_s);
        let is_better = is_over && still < self.level;
        if is_worse || is_better {
            let said = if is_worse {
                reached_now
            } else {
                reached(long.unwrap_or(now).max(now) / 0.9)
            };
            self.level = said.map(|(_, level, _)| level);
            let minutes = slots.minutes.iter().filter_map(|minute| minute.gust_kn);
            let late = slots.latest(6).filter_map(|slot| slot.gust_kn);
            let gust = minutes.chain(late).fold(now, f64::max);
            self.text = said.map_or_else(String::new, |(limit, _, what)| {
                format!("wind {now:.0} kn (mean of {:.0} min), strongest gust of the hour {gust:.0} kn: the limit {what} is {:.0} kn", limits.wind_mean_s / 60.0, limit.unwrap_or_default())
            });
        }
        self.standing()
    }

    fn standing(&self) -> Option<Standing> {
        self.level
            .map(|level| Standing::new(level, self.text.clone()))
    }
}
