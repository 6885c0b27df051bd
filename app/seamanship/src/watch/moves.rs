//! Whether the centre that she swings about moves: a ship that lies to a slack cable drags unseen inside her circle.

mod fit;

use serde::{Deserialize, Serialize};

use super::Limits;
use super::alarm::{Level, Standing};
use super::plane::{Spot, mean, median};
use super::slots::Minute;
use crate::catenary::{Hang, Pulled, force_at_distance, hang};
use crate::units::{Metres, Newtons, NewtonsPerMetre};
use std::collections::VecDeque;

/// How long the centre is looked at, in minutes.
const WINDOWS: [usize; 3] = [10, 20, 30];
/// How far back a swing or a calm still leaves the cable in a bight, in minutes.
const BIGHT_MIN: usize = 45;

/// The anchor and its cable, as far as they are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cable {
    pub(super) anchor: Option<Spot>,
    pub(super) length_m: Option<f64>,
    pub(super) height_m: Option<f64>,
    pub(super) reach_m: Option<f64>,
}

/// How the centre has moved.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Moves {
    in_a_row: u32,
    quiet: u32,
    level: Option<Level>,
    text: String,
}

/// A centre that has moved.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Moved {
    metres: f64,
    uncertain_m: f64,
    minutes: usize,
    bearing_deg: f64,
    /// So far that no doubt is left.
    is_far: bool,
}

impl Moves {
    /// Judges the minute that has just closed.
    pub(super) fn judge(
        &mut self,
        minutes: &VecDeque<Minute>,
        cable: &Cable,
        limits: &Limits,
    ) -> Option<Standing> {
        let found = WINDOWS
            .iter()
            .filter_map(|window| moved(minutes, *window, cable, limits));
        let found = found.max_by(|one, other| one.metres.total_cmp(&other.metres));
        if let Some(moved) = found {
            self.in_a_row += 1;
            self.quiet = 0;
            let is_alarm = moved.is_far || f64::from(self.in_a_row) >= limits.moves_alarm_min;
            let level = if is_alarm {
                Level::Alarm
            } else {
                Level::Warning
            };
            self.level = self.level.max(Some(level));
            self.text = format!(
                "the centre of her swing has moved {:.0} m (± {:.0} m) toward {:03.0}° within {} min",
                moved.metres, moved.uncertain_m, moved.bearing_deg, moved.minutes
            );
        } else {
            self.in_a_row = 0;
            self.quiet = self.quiet.saturating_add(1);
            if f64::from(self.quiet) >= limits.moves_clear_min {
                self.level = None;
            }
        }
        self.standing()
    }

    /// How things stood at the last full minute.
    pub(super) fn standing(&self) -> Option<Standing> {
        self.level
            .map(|level| Standing::new(level, self.text.clone()))
    }
}

/// Which way the cable leads from the bow: ahead, or into the wind where there is no heading.
fn lead(minute: &Minute) -> Option<Spot> {
    minute.heading.or(minute.true_wind)?.direction()
}

/// Returns how far the centre has moved within the window, if that is beyond what a holding ship does.
fn moved(
    minutes: &VecDeque<Minute>,
    window: usize,
    cable: &Cable,
    limits: &Limits,
) -> Option<Moved> {
    if minutes.len() < window {
        return None;
    }
    let all: Vec<&Minute> = minutes.iter().skip(minutes.len() - window).collect();
    // A hawse and an antenna are not one place.
    let is_hawse = all.last()?.is_hawse;
    let used: Vec<&Minute> = all
        .iter()
        .copied()
        .filter(|minute| minute.at.is_some() && minute.is_hawse == is_hawse)
        .collect();
    if used.len() * 10 < window * 7 {
        return None;
    }
    let third = used.len() / 3;
    let (first, last) = (&used[..third], &used[used.len() - third..]);
    let middle_of = |some: &[&Minute]| mean(some.iter().filter_map(|minute| minute.at));
    let from_anchor = |some: &[&Minute], anchor: Spot| {
        let mut all: Vec<f64> = some
            .iter()
            .filter_map(|minute| Some((minute.at? - anchor).length()))
            .collect();
        median(&mut all)
    };
    // Away from the anchor where it is known: that is the way of a drag whatever her head does.
    let (way, before, now) = match cable.anchor {
        Some(anchor) => {
            let way = (middle_of(last)? - anchor).direction()?;
            let now = from_anchor(last, anchor)?;
            (
                way,
                Some((middle_of(first)? - anchor).along(way)),
                Some(now),
            )
        }
        None => (
            mean(last.iter().filter_map(|minute| lead(minute)))?.direction()? * -1.0,
            None,
            None,
        ),
    };
    let is_differential = used.iter().all(|minute| minute.is_differential);
    let margin = if is_differential {
        limits.margin_differential_m
    } else {
        limits.margin_alone_m
    };
    let noise = margin.max(limits.moves_noise_least_m);
    let lies_elsewhere = was_elsewhere(minutes, limits);
    // A ship that has just swung, or lay in a calm, falls back as far as her cable reaches.
    if lies_elsewhere && now? < cable.reach_m? + noise {
        return None;
    }
    let slack = before
        .zip(cable.reach_m)
        .map(|(before, reach)| (reach - before).max(0.0));
    let need = noise
        + if lies_elsewhere {
            slack?
        } else {
            explained(first, last, before, slack, cable)
        };
    // The fit makes more of a short jerk than it is, and what only swings gets no farther from the anchor.
    let went = (middle_of(last)? - middle_of(first)?).along(way);
    let grown = match cable.anchor {
        Some(anchor) => now? - from_anchor(first, anchor)?,
        None => went,
    };
    if went.min(grown) < limits.moves_share * need {
        return None;
    }
    let fit = fit::fit(&used, cable.reach_m)?;
    let metres = fit.velocity.along(way) * window as f64;
    let uncertain_m = fit.uncertain(way) * window as f64;
    let is_sure = metres >= need && metres >= limits.moves_sure * uncertain_m;
    is_sure.then(|| Moved {
        metres,
        uncertain_m,
        minutes: window,
        bearing_deg: fit.velocity.bearing_deg(),
        is_far: metres >= need + noise,
    })
}

/// Returns how far she may have fallen back to a cable that straightens as the wind rises.
fn explained(
    first: &[&Minute],
    last: &[&Minute],
    before_m: Option<f64>,
    slack_m: Option<f64>,
    cable: &Cable,
) -> f64 {
    // What a cable that lies straight can give: no more than the height, `√(L² − h²) − (L − h) < h`.
    let straight = cable.height_m.unwrap_or(25.0);
    let wind = |some: &[&Minute]| {
        let winds: Vec<f64> = some.iter().filter_map(|minute| minute.wind_kn).collect();
        (!winds.is_empty()).then(|| winds.iter().sum::<f64>() / winds.len() as f64)
    };
    let (Some(before), Some(now)) = (wind(first), wind(last)) else {
        return slack_m.unwrap_or(straight).min(straight);
    };
    if now <= before * 1.1 {
        return 0.0;
    }
    let all = slack_m.unwrap_or(straight);
    straightened(cable, before_m, now / before)
        .unwrap_or(all)
        .min(all)
}

/// Whether her head was far elsewhere of late, or it was calm.
fn was_elsewhere(minutes: &VecDeque<Minute>, limits: &Limits) -> bool {
    let late = || minutes.iter().rev().take(BIGHT_MIN);
    let is_calm = late().any(|minute| {
        minute
            .wind_kn
            .is_some_and(|wind| wind < limits.slack_wind_kn)
    });
    let now = mean(late().take(5).filter_map(lead));
    let Some(now) = now.and_then(Spot::direction) else {
        return is_calm;
    };
    // Five minutes together, so that a yaw is no swing.
    let leads: Vec<Spot> = late().filter_map(lead).collect();
    let fives = leads
        .windows(5)
        .filter_map(|five| mean(five.iter().copied())?.direction());
    let has_swung = fives
        .into_iter()
        .any(|five| five.angle_to(now) > limits.swing_deg);
    is_calm || has_swung
}

/// Returns how much farther a cable reaches when the wind grows by `ratio`, its force by the square of it.
///
/// The pull is not known, but how far the ship lies is; the catenary gives the one from the other, in units of
/// the chain's weight.
fn straightened(cable: &Cable, before_m: Option<f64>, ratio: f64) -> Option<f64> {
    let chain = Hang {
        height: Metres(cable.height_m?),
        length: Metres(cable.length_m?),
        weight: NewtonsPerMetre(1.0),
        stiffness: None,
    };
    let before = before_m?;
    match force_at_distance(&chain, Metres(before)).ok()? {
        Pulled::Taut { pull, .. } => {
            let now = hang(&chain, Newtons(pull.0 * ratio * ratio)).ok()?;
            Some((now.reach.0 - before).max(0.0))
        }
        Pulled::Slack => None,
        Pulled::Impossible => Some(0.0),
    }
}
