//! The air of a chain locker against the ship's limits. Limits are settings with their source.

mod limits;

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, finite, within};
use crate::time::UtcMs;
use crate::units::Minutes;

pub use limits::{Edge, GasLimit, a1050, msc581};

/// What a person must know before relying on a verdict.
pub const CAUTION: &str = "Ventilation stopped while testing, every level, then on again for as \
    long as anyone is inside. No single person enters. A meter's alarm is not a permit limit.";

/// What is measured before a closed space is entered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Gas {
    /// Oxygen, % by volume.
    Oxygen,
    /// Flammable gas, % of the lower flammable limit.
    Flammable,
    /// Hydrogen sulphide, ppm.
    HydrogenSulphide,
    /// Carbon monoxide, ppm.
    CarbonMonoxide,
    /// Carbon dioxide, % by volume.
    CarbonDioxide,
}

impl Gas {
    /// All five, in the order of testing: oxygen first, flammable next, then the toxic ones.
    pub const ALL: [Self; 5] = [
        Self::Oxygen,
        Self::Flammable,
        Self::HydrogenSulphide,
        Self::CarbonMonoxide,
        Self::CarbonDioxide,
    ];

    /// The unit of its readings.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Oxygen | Self::CarbonDioxide => "% vol",
            Self::Flammable => "% LFL",
            Self::HydrogenSulphide | Self::CarbonMonoxide => "ppm",
        }
    }

    /// The greatest reading that can be one.
    const fn greatest(self) -> f64 {
        match self {
            Self::Oxygen | Self::CarbonDioxide => 100.0,
            Self::Flammable => 1000.0,
            Self::HydrogenSulphide | Self::CarbonMonoxide => 1e6,
        }
    }
}

/// One reading at one level.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Where: top, middle, bottom, behind the heap.
    pub level: String,
    /// What.
    pub gas: Gas,
    /// How much, in [`Gas::unit`].
    pub value: f64,
}

/// What the readings of one gas say.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GasVerdict {
    /// Which gas.
    pub gas: Gas,
    /// The reading that governs: the one farthest from good.
    pub governing: f64,
    /// Where it was.
    pub level: String,
    /// Whether it is within the limit.
    pub is_within: bool,
    /// The limit in words, with its source.
    pub limit: String,
}

/// What all readings say together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// Each gas that was read.
    pub gases: Vec<GasVerdict>,
    /// Each level and gas without a reading.
    pub missing: Vec<(String, Gas)>,
    /// Whether everything was read at every level and is within the limits.
    pub is_passed: bool,
}

/// Returns what readings say against limits. Every gas that has a limit is asked for at every level.
///
/// # Source
/// IMO recommendations for entering enclosed spaces: as many levels as are representative, the
/// worst governs. Which limits, is the ship's setting.
///
/// # Errors
/// [`OutOfRange`] if a reading is not a number, negative or more than its unit allows, or there
/// is none.
pub fn judge(limits: &[GasLimit], readings: &[Reading]) -> Result<Verdict, OutOfRange> {
    if readings.is_empty() {
        return Err(OutOfRange::no_answer("readings", "nothing has been read"));
    }
    for reading in readings {
        within("value", reading.value, 0.0, reading.gas.greatest())?;
    }
    let mut levels: Vec<&str> = Vec::new();
    for reading in readings {
        if !levels.contains(&reading.level.as_str()) {
            levels.push(&reading.level);
        }
    }
    let mut gases = Vec::new();
    let mut missing = Vec::new();
    for limit in limits {
        let of_gas = || readings.iter().filter(|reading| reading.gas == limit.gas);
        missing.extend(
            levels
                .iter()
                .filter(|level| !of_gas().any(|reading| reading.level == **level))
                .map(|level| ((*level).to_owned(), limit.gas)),
        );
        let worst = of_gas().min_by(|a, b| limit.margin(a.value).total_cmp(&limit.margin(b.value)));
        if let Some(worst) = worst {
            gases.push(GasVerdict {
                gas: limit.gas,
                governing: worst.value,
                level: worst.level.clone(),
                is_within: limit.allows(worst.value),
                limit: limit.words(),
            });
        }
    }
    let is_passed =
        !limits.is_empty() && missing.is_empty() && gases.iter().all(|verdict| verdict.is_within);
    Ok(Verdict {
        gases,
        missing,
        is_passed,
    })
}

/// Returns when the air must be measured again.
///
/// # Source
/// Regular intervals by the IMO recommendations; 30 minutes is common practice, no source.
///
/// # Errors
/// [`OutOfRange`] unless the interval is above 0 and at most 24 h.
pub fn measure_again_at(tested: UtcMs, interval: Minutes) -> Result<UtcMs, OutOfRange> {
    let minutes = finite("interval_min", interval.0)?;
    if minutes <= 0.0 {
        return Err(OutOfRange::outside("interval_min", minutes, "above 0"));
    }
    let minutes = within("interval_min", minutes, 0.0, 1440.0)?;
    Ok(tested.plus_seconds(minutes * 60.0))
}

/// Says whether a test is too old: from the very moment that it is due again.
///
/// # Errors
/// As [`measure_again_at`].
pub fn is_overdue(tested: UtcMs, interval: Minutes, now: UtcMs) -> Result<bool, OutOfRange> {
    Ok(now >= measure_again_at(tested, interval)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(level: &str, gas: Gas, value: f64) -> Reading {
        Reading {
            level: level.to_owned(),
            gas,
            value,
        }
    }

    fn good(level: &str) -> Vec<Reading> {
        [20.9, 0.0, 0.0, 0.0, 0.05]
            .into_iter()
            .zip(Gas::ALL)
            .map(|(value, gas)| reading(level, gas, value))
            .collect()
    }

    #[test]
    fn good_air_at_three_levels_passes() {
        let all: Vec<_> = ["top", "middle", "bottom"]
            .into_iter()
            .flat_map(good)
            .collect();
        let verdict = judge(&msc581(), &all).unwrap();
        assert!(verdict.is_passed, "{verdict:?}");
        assert_eq!(verdict.gases.len(), 5);
    }

    #[test]
    fn the_worst_level_governs() {
        let mut all = good("top");
        all.extend(good("bottom"));
        all.push(reading("bottom", Gas::Oxygen, 19.8));
        let verdict = judge(&msc581(), &all).unwrap();
        assert!(!verdict.is_passed);
        let oxygen = &verdict.gases[0];
        assert_eq!((oxygen.gas, oxygen.is_within), (Gas::Oxygen, false));
        assert_eq!(oxygen.level, "bottom");
        assert!((oxygen.governing - 19.8).abs() < 1e-12);
    }

    #[test]
    fn a_gas_not_read_at_a_level_does_not_pass() {
        let mut all = good("top");
        all.push(reading("bottom", Gas::Oxygen, 20.9));
        let verdict = judge(&msc581(), &all).unwrap();
        assert!(!verdict.is_passed);
        assert_eq!(verdict.missing.len(), 4);
    }

    #[test]
    fn readings_that_cannot_be_are_refused() {
        for bad in [f64::NAN, -0.1, 101.0] {
            assert!(judge(&msc581(), &[reading("top", Gas::Oxygen, bad)]).is_err());
        }
        assert!(judge(&msc581(), &[]).is_err());
    }

    #[test]
    fn a_test_is_overdue_from_the_second_it_is_due_again() {
        let tested = UtcMs(0);
        let half_hour = Minutes(30.0);
        assert!(!is_overdue(tested, half_hour, UtcMs(1_799_999)).unwrap());
        assert!(is_overdue(tested, half_hour, UtcMs(1_800_000)).unwrap());
        assert!(measure_again_at(tested, Minutes(0.0)).is_err());
    }
}
