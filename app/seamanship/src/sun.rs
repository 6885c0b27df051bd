//! The Sun's height at a place, when it rises and sets, and civil twilight.

mod apparent;

use serde::{Deserialize, Serialize};

use crate::error::OutOfRange;
use crate::position::Position;
use crate::root::crossing;
use crate::time::UtcMs;
use crate::units::Degrees;

/// What the Sun's times come from, as shown beside them.
pub const SOURCE: &str = "Meeus, Astronomical Algorithms, ch. 25; rising at −50′, civil twilight \
    at −6°";

/// What a person must know before relying on the Sun's times.
pub const CAUTION: &str = "At sea level with standard refraction; at high latitudes the real \
    times differ by minutes. In restricted visibility lights are shown by day too.";

/// True height of the Sun's centre when its upper limb shows: 34′ refraction and 16′ radius.
/// Source: common practice of almanacs, no source.
pub const RISING: Degrees = Degrees(-0.8333);
/// Height of the Sun's centre at the ends of civil twilight.
/// Source: the definition of civil twilight in almanacs; from memory, not opened.
pub const CIVIL: Degrees = Degrees(-6.0);

/// Whether the Sun passes a height on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SunState {
    /// It passes it.
    RisesAndSets,
    /// It stays above all day.
    AlwaysAbove,
    /// It stays below all day.
    AlwaysBelow,
}

impl SunState {
    /// The name used in stored and sent data.
    pub const fn name(self) -> &'static str {
        match self {
            Self::RisesAndSets => "rises_and_sets",
            Self::AlwaysAbove => "always_above",
            Self::AlwaysBelow => "always_below",
        }
    }
}

/// When the Sun passes one height.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Passage {
    /// Upwards; none if it does not within the day.
    pub up: Option<UtcMs>,
    /// Downwards; none if it does not within the day.
    pub down: Option<UtcMs>,
    /// Whether it passes at all.
    pub state: SunState,
}

/// The Sun on one day at one place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Day {
    /// Sunrise and sunset.
    pub sun: Passage,
    /// The beginning and end of civil twilight.
    pub civil: Passage,
    /// Greatest height.
    pub highest: Degrees,
    /// Least height.
    pub lowest: Degrees,
}

/// Returns the true height of the Sun's centre above the horizon, without refraction.
///
/// # Source
/// Apparent place as in Meeus, *Astronomical Algorithms*, 2nd ed., ch. 25, with the chief
/// perturbations by the planets; sidereal time ch. 12; parallax 8.8″.
///
/// # Validity
/// Within 0.0025° of a planetary ephemeris in 2026; about as good from 1950 to 2050.
///
/// # Errors
/// [`OutOfRange`] if the place is not on the Earth or the year is outside 1900 to 2100.
pub fn altitude(place: Position, at: UtcMs) -> Result<Degrees, OutOfRange> {
    let place = Position::new(place.latitude_deg, place.longitude_deg)?;
    let jd = at.julian_date();
    if !(2_415_020.5..=2_488_069.5).contains(&jd) {
        return Err(OutOfRange::no_answer("time_utc", "not from 1900 to 2100"));
    }
    Ok(Degrees(apparent::altitude_deg(place, jd)))
}

/// Returns the Sun's day: 24 hours from local mean midnight of `date`.
///
/// The window starts at `date` 00:00 UTC less longitude/15 hours; far from Greenwich its events
/// may bear another UTC date.
///
/// # Source
/// [`altitude`], searched for −0.8333° and −6°.
///
/// # Errors
/// As [`altitude`].
pub fn day(place: Position, date_midnight: UtcMs) -> Result<Day, OutOfRange> {
    const STEP_S: f64 = 900.0;
    const STEPS: u32 = 96;
    altitude(place, date_midnight)?;
    let start = date_midnight.plus_seconds(-place.longitude_deg * 240.0);
    let height =
        |seconds: f64| apparent::altitude_deg(place, start.julian_date() + seconds / 86_400.0);
    let mut samples: Vec<(f64, f64)> = (0..=STEPS)
        .map(|step| f64::from(step) * STEP_S)
        .map(|s| (s, height(s)))
        .collect();
    let top = turning_point(&samples, &height, 1.0);
    let bottom = turning_point(&samples, &height, -1.0);
    // A Sun that only just grazes a height between two samples is caught by its turning points.
    samples.extend([top, bottom]);
    samples.sort_by(|a, b| a.0.total_cmp(&b.0));
    let passage = |level: Degrees| passage(&samples, &height, level.0, start);
    Ok(Day {
        sun: passage(RISING),
        civil: passage(CIVIL),
        highest: Degrees(top.1),
        lowest: Degrees(bottom.1),
    })
}

/// Finds the greatest (`sign` 1) or least (−1) height near the best sample.
fn turning_point(samples: &[(f64, f64)], height: &impl Fn(f64) -> f64, sign: f64) -> (f64, f64) {
    let best = samples
        .iter()
        .enumerate()
        .max_by(|a, b| (sign * a.1.1).total_cmp(&(sign * b.1.1)))
        .map_or(0, |(index, _)| index);
    let mut low = samples[best.saturating_sub(1)].0;
    let mut high = samples[(best + 1).min(samples.len() - 1)].0;
    for _ in 0..60 {
        let (a, b) = (low + (high - low) * 0.4, low + (high - low) * 0.6);
        if sign * height(a) > sign * height(b) {
            high = b;
        } else {
            low = a;
        }
    }
    let at = f64::midpoint(low, high);
    (at, height(at))
}

fn passage(
    samples: &[(f64, f64)],
    height: &impl Fn(f64) -> f64,
    level: f64,
    start: UtcMs,
) -> Passage {
    let mut found = Passage {
        up: None,
        down: None,
        state: if samples[0].1 > level {
            SunState::AlwaysAbove
        } else {
            SunState::AlwaysBelow
        },
    };
    for pair in samples.windows(2) {
        let (before, after) = (pair[0].1 > level, pair[1].1 > level);
        if before == after {
            continue;
        }
        found.state = SunState::RisesAndSets;
        let at = crossing(|s| height(s) - level, pair[0].0, pair[1].0).unwrap_or(pair[0].0);
        let event = if after {
            &mut found.up
        } else {
            &mut found.down
        };
        event.get_or_insert(start.plus_seconds(at));
    }
    found
}
