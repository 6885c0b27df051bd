//! Height of tide between high and low water, and what it does to the depth.

pub mod harmonic;

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, at_least_zero, finite, within};
use crate::time::UtcMs;
use crate::units::Metres;

/// What heights between high and low water come from, as shown beside them.
pub const SOURCE: &str = "Half a cosine from high to low water, as in the 'height at any time' \
    table of tide tables; rule of twelfths beside it";

/// What a person must know before relying on a height of tide.
pub const CAUTION: &str = "A rule of thumb between two official heights: not for double tides or \
    strong daily inequality. Weather is not in it: about 1 cm for each hPa.";

/// One high or low water of an official prediction.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Extreme {
    /// When.
    pub at: UtcMs,
    /// Height above chart datum.
    pub height: Metres,
}

/// The time between a high and a low water that follow each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// The earlier.
    pub from: Extreme,
    /// The later.
    pub to: Extreme,
}

/// How many twelfths of the range have gone by at each sixth of the time.
/// Source: the rule of twelfths, common practice, no source.
const TWELFTHS: [f64; 7] = [0.0, 1.0, 3.0, 6.0, 9.0, 11.0, 12.0];

impl Interval {
    /// Makes the interval between two extremes.
    ///
    /// # Errors
    /// [`OutOfRange`] unless the heights are within 25 m of datum and the second is 1 to 26 hours
    /// after the first.
    pub fn new(from: Extreme, to: Extreme) -> Result<Self, OutOfRange> {
        within("h_from_m", from.height.0, -25.0, 25.0)?;
        within("h_to_m", to.height.0, -25.0, 25.0)?;
        let hours = to.at.seconds_since(from.at) / 3600.0;
        if !(1.0..=26.0).contains(&hours) {
            return Err(OutOfRange::outside(
                "t_to_utc",
                hours,
                "1 to 26 hours after t_from_utc",
            ));
        }
        Ok(Self { from, to })
    }

    fn seconds(&self) -> f64 {
        self.to.at.seconds_since(self.from.at)
    }

    /// Returns what part of the interval has gone by.
    fn part(&self, at: UtcMs) -> Result<f64, OutOfRange> {
        let part = at.seconds_since(self.from.at) / self.seconds();
        if (0.0..=1.0).contains(&part) {
            Ok(part)
        } else {
            Err(OutOfRange::no_answer(
                "t_utc",
                "time outside the HW-LW interval",
            ))
        }
    }

    /// Returns the height by half a cosine.
    ///
    /// `h = (h₁ + h₂)/2 + (h₁ − h₂)/2 · cos(πx)`, `x` the part of the time that has gone by.
    ///
    /// # Source
    /// The 'height of tide at any time' table of US and Canadian tide tables, which it reproduces.
    ///
    /// # Errors
    /// [`OutOfRange`] outside the interval: it is never carried on beyond its ends.
    pub fn height_cosine(&self, at: UtcMs) -> Result<Metres, OutOfRange> {
        let x = self.part(at)?;
        let (h1, h2) = (self.from.height.0, self.to.height.0);
        let cosine = (std::f64::consts::PI * x).cos();
        Ok(Metres(f64::midpoint(h1, h2) + (h1 - h2) / 2.0 * cosine))
    }

    /// Returns the height by the rule of twelfths.
    ///
    /// The sixths of the time carry 1, 2, 3, 3, 2, 1 twelfths of the range, evenly within each.
    ///
    /// # Source
    /// The rule of twelfths: common practice, no source.
    ///
    /// # Errors
    /// As [`height_cosine`](Self::height_cosine).
    pub fn height_twelfths(&self, at: UtcMs) -> Result<Metres, OutOfRange> {
        let sixths = self.part(at)? * 6.0;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "from 0 to 6"
        )]
        let whole = (sixths.floor() as usize).min(5);
        let twelfths =
            TWELFTHS[whole] + (TWELFTHS[whole + 1] - TWELFTHS[whole]) * (sixths - whole as f64);
        let (h1, h2) = (self.from.height.0, self.to.height.0);
        Ok(Metres(h1 + (h2 - h1) * twelfths / 12.0))
    }

    /// Returns what part of the range lies between the first extreme and a height.
    fn part_of_range(&self, height: Metres) -> Result<f64, OutOfRange> {
        let h = finite("height_m", height.0)?;
        let (h1, h2) = (self.from.height.0, self.to.height.0);
        let part = (h - h1) / (h2 - h1);
        if (0.0..=1.0).contains(&part) {
            Ok(part)
        } else {
            Err(OutOfRange::outside(
                "height_m",
                h,
                format!("between the two heights, {h1} and {h2}, which must differ"),
            ))
        }
    }

    /// Returns how many seconds after the first extreme the cosine passes a height.
    ///
    /// `x = acos(1 − 2(h − h₁)/(h₂ − h₁))/π`.
    ///
    /// # Errors
    /// [`OutOfRange`] if the height is not between the two, or the two are alike.
    pub fn seconds_to_cosine(&self, height: Metres) -> Result<f64, OutOfRange> {
        let part = self.part_of_range(height)?;
        Ok((1.0 - 2.0 * part).acos() / std::f64::consts::PI * self.seconds())
    }

    /// Returns how many seconds after the first extreme the rule of twelfths passes a height.
    ///
    /// # Errors
    /// As [`seconds_to_cosine`](Self::seconds_to_cosine).
    pub fn seconds_to_twelfths(&self, height: Metres) -> Result<f64, OutOfRange> {
        let twelfths = self.part_of_range(height)? * 12.0;
        let sixth = TWELFTHS
            .windows(2)
            .position(|w| twelfths <= w[1])
            .unwrap_or(5);
        let within = (twelfths - TWELFTHS[sixth]) / (TWELFTHS[sixth + 1] - TWELFTHS[sixth]);
        Ok((sixth as f64 + within) / 6.0 * self.seconds())
    }
}

/// Official high and low waters in the order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    extremes: Vec<Extreme>,
}

/// A height and when it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeightAt {
    /// When.
    pub at: UtcMs,
    /// Height above chart datum.
    pub height: Metres,
}

impl Curve {
    /// Makes a curve through high and low waters.
    ///
    /// # Errors
    /// [`OutOfRange`] unless there are two or more in order, each pair as in [`Interval::new`].
    pub fn new(extremes: Vec<Extreme>) -> Result<Self, OutOfRange> {
        if extremes.len() < 2 {
            return Err(OutOfRange::no_answer(
                "tide",
                "at least one high and one low water are needed",
            ));
        }
        for pair in extremes.windows(2) {
            Interval::new(pair[0], pair[1])?;
        }
        Ok(Self { extremes })
    }

    /// Returns the height by half a cosine between the neighbours.
    ///
    /// # Errors
    /// [`OutOfRange`] before the first or after the last high or low water.
    pub fn height(&self, at: UtcMs) -> Result<Metres, OutOfRange> {
        let pair = self
            .extremes
            .windows(2)
            .find(|pair| pair[0].at <= at && at <= pair[1].at)
            .ok_or_else(|| {
                OutOfRange::no_answer("tide", "the high and low waters do not cover this time")
            })?;
        Interval {
            from: pair[0],
            to: pair[1],
        }
        .height_cosine(at)
    }

    /// Returns the lowest and the highest water in a stay, each at its first time.
    ///
    /// # Errors
    /// [`OutOfRange`] if the stay ends before it begins or leaves the curve.
    pub fn range_over(&self, from: UtcMs, to: UtcMs) -> Result<(HeightAt, HeightAt), OutOfRange> {
        if to < from {
            return Err(OutOfRange::no_answer(
                "stay_to_utc_ms",
                "the stay ends before it begins",
            ));
        }
        let mut heights = vec![self.at(from)?];
        heights.extend(
            self.extremes
                .iter()
                .filter(|e| from < e.at && e.at < to)
                .map(|e| HeightAt {
                    at: e.at,
                    height: e.height,
                }),
        );
        heights.push(self.at(to)?);
        let mut lowest = heights[0];
        let mut highest = heights[0];
        for h in heights {
            if h.height < lowest.height {
                lowest = h;
            }
            if h.height > highest.height {
                highest = h;
            }
        }
        Ok((lowest, highest))
    }

    fn at(&self, at: UtcMs) -> Result<HeightAt, OutOfRange> {
        Ok(HeightAt {
            at,
            height: self.height(at)?,
        })
    }
}

/// Returns how much the pressure of the air lifts or lowers the sea.
///
/// 1 cm for each hPa below 1013.
///
/// # Source
/// Admiralty and other tide tables: the inverted barometer.
///
/// # Errors
/// [`OutOfRange`] outside 870 to 1090 hPa.
pub fn pressure_rise(pressure_hpa: f64) -> Result<Metres, OutOfRange> {
    let p = within("pressure_hPa", pressure_hpa, 870.0, 1090.0)?;
    Ok(Metres((1013.0 - p) / 100.0))
}

/// What eats into the depth under the keel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Allowances {
    /// Greatest draught.
    pub draught: Metres,
    /// Breadth, for the heel.
    pub breadth: Metres,
    /// Greatest heel in degrees.
    pub heel_deg: f64,
    /// Significant wave height; half of it is taken off.
    pub wave_height: Metres,
    /// What the survey may be wrong by, and any margin of the ship's own.
    pub margin: Metres,
}

/// Returns the depth under the keel.
///
/// `UKC = D + h − T − (B/2) sin φ − Hs/2 − margin`.
///
/// # Source
/// Seamanship practice; half the wave height is common practice, no source.
///
/// # Errors
/// [`OutOfRange`] unless lengths are 0 or more, the heel from 0 to 45° and the depths finite.
pub fn under_keel(
    charted_depth: Metres,
    tide: Metres,
    off: &Allowances,
) -> Result<Metres, OutOfRange> {
    let depth = finite("charted_depth_m", charted_depth.0)? + finite("tide_m", tide.0)?;
    let t = at_least_zero("draught_m", off.draught.0)?;
    let b = at_least_zero("breadth_m", off.breadth.0)?;
    let heel = within("heel_deg", off.heel_deg, 0.0, 45.0)?.to_radians();
    let waves = at_least_zero("wave_height_m", off.wave_height.0)?;
    let margin = at_least_zero("margin_m", off.margin.0)?;
    Ok(Metres(
        depth - t - b / 2.0 * heel.sin() - waves / 2.0 - margin,
    ))
}
