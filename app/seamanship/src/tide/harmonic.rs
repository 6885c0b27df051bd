//! Height of tide from harmonic constants, with Schureman's node factors.

mod astronomy;
mod constituents;
mod stations;

pub use constituents::Constituent;
pub use stations::{Constant, STATIONS, Station};

use crate::error::{OutOfRange, within};
use crate::time::UtcMs;
use crate::units::Metres;

/// What harmonic heights come from, as shown beside them.
pub const SOURCE: &str = "Schureman, Manual of Harmonic Analysis and Prediction of Tides, USC&GS \
    Special Publication 98; station constants: NOAA, public domain";

/// What a person must know before relying on a harmonic height.
pub const CAUTION: &str = "Fifteen constituents, no seasonal term, no weather: an arithmetic \
    check, not a prediction to sail by.";

/// The factor and argument of one constituent at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factor {
    /// Which constituent.
    pub constituent: Constituent,
    /// Node factor f.
    pub f: f64,
    /// Equilibrium argument and node correction, V + u, degrees at Greenwich.
    pub v_plus_u_deg: f64,
}

/// Returns the node factor and equilibrium argument of a constituent.
///
/// # Source
/// Schureman, table 2 (arguments) and eq. 65–78, 224, 227, 232, 235 (node factors), with the mean
/// longitudes of Meeus, *Astronomical Algorithms*, ch. 24 and 45 (1991).
///
/// # Errors
/// [`OutOfRange`] outside the years 1800 to 2200.
pub fn factor(constituent: Constituent, at: UtcMs) -> Result<Factor, OutOfRange> {
    let sky = sky(at)?;
    Ok(constituent.factor(&sky))
}

fn sky(at: UtcMs) -> Result<astronomy::Sky, OutOfRange> {
    let jd = at.julian_date();
    within("julian_date", jd, 2_378_496.5, 2_524_594.5)?;
    Ok(astronomy::Sky::at(jd))
}

impl Station {
    /// Finds a station by its identity.
    pub fn find(id: &str) -> Option<&'static Self> {
        STATIONS.iter().find(|station| station.id == id)
    }

    /// Returns the height above mean sea level from given factors, `Σ f A cos(V + u − g)`.
    ///
    /// # Errors
    /// [`OutOfRange`] if a constituent is not among the station's.
    pub fn sum(&self, factors: &[Factor]) -> Result<Metres, OutOfRange> {
        factors
            .iter()
            .map(|factor| {
                let constant = self
                    .constants
                    .iter()
                    .find(|c| c.constituent == factor.constituent)
                    .ok_or_else(|| {
                        OutOfRange::no_answer("factors", "a constituent the station has not")
                    })?;
                let angle = (factor.v_plus_u_deg - constant.phase_lag_deg).to_radians();
                Ok(factor.f * constant.amplitude_m * angle.cos())
            })
            .sum::<Result<f64, OutOfRange>>()
            .map(Metres)
    }

    /// Returns the height above mean sea level at a time.
    ///
    /// # Errors
    /// As [`factor`].
    pub fn height_above_mean(&self, at: UtcMs) -> Result<Metres, OutOfRange> {
        let sky = sky(at)?;
        let factors: Vec<Factor> = self
            .constants
            .iter()
            .map(|constant| constant.constituent.factor(&sky))
            .collect();
        self.sum(&factors)
    }

    /// Returns the height above chart datum, mean lower low water, at a time.
    ///
    /// # Errors
    /// As [`factor`].
    pub fn height_above_datum(&self, at: UtcMs) -> Result<Metres, OutOfRange> {
        Ok(self.height_above_mean(at)? + self.mean_above_datum)
    }
}
