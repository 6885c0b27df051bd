//! What pulls on her, and back from a pull to the wind that makes it.

use super::{PlanInput, Problem, Pull};
use crate::density::STANDARD_AIR;
use crate::error::{OutOfRange, above_zero, finite, within};
use crate::load::{self, Hull};
use crate::units::{
    DegreesTrue, Kilonewtons, Knots, Metres, MetresPerSecond, Newtons, SquareMetres,
};

/// Part of the wave height that she throws back: all of it, as only then the figure is a bound. Head to sea R² is said
/// to be 0.1 to 0.3, but that is a poor prediction, and a plan says "at most".
/// Source: Maruo, 1960, as the load stands in `load`; from memory, not opened.
const REFLECTED: f64 = 1.0;

/// The pull as a function of the wind: `yaw (½ρCA V² + others)`.
pub(super) struct WindLaw {
    /// Newtons for each (m/s)².
    per_square: f64,
    /// Current and waves, newtons.
    others: f64,
    yaw: f64,
    /// Gust over mean wind.
    gusts: f64,
}

impl WindLaw {
    pub(super) fn of(input: &PlanInput) -> Result<Self, OutOfRange> {
        let weather = &input.weather;
        let wind = within("weather.wind_kn", weather.wind_kn, 0.0, 150.0)?;
        let gust = within("weather.gust_kn", weather.gust_kn, 0.0, 200.0)?;
        if gust < wind {
            return Err(OutOfRange::outside(
                "weather.gust_kn",
                gust,
                format!("at least the mean wind, {wind}"),
            ));
        }
        within("weather.current_kn", weather.current_kn, 0.0, 15.0)?;
        within("weather.wave_height_m", weather.wave_height_m, 0.0, 15.0)?;
        let yaw = within("weather.yaw_factor", weather.yaw_factor, 1.0, 6.0)?;
        let area = within(
            "ship.frontal_area_m2",
            input.ship.frontal_area_m2,
            1.0,
            20_000.0,
        )?;
        let c = within(
            "ship.wind_coefficient",
            input.ship.wind_coefficient,
            0.1,
            2.0,
        )?;
        let one = MetresPerSecond(1.0);
        let per_square = load::drag(STANDARD_AIR, c, SquareMetres(area), one)?.0;
        Ok(Self {
            per_square,
            others: current(input)?.0 + waves(input)?.0,
            yaw,
            gusts: if wind > 0.0 { gust / wind } else { 1.0 },
        })
    }

    fn wind_force(&self, speed: MetresPerSecond) -> f64 {
        self.per_square * speed.0 * speed.0
    }

    /// The gust that makes a level pull; 0 if current and waves alone make more.
    pub(super) fn gust_for(&self, pull: Newtons) -> Knots {
        let wind = (pull.0 / self.yaw - self.others).max(0.0);
        Knots::from(MetresPerSecond((wind / self.per_square).sqrt()))
    }

    /// The mean wind that has such gusts.
    pub(super) fn mean_of(&self, gust: Knots) -> Knots {
        gust / self.gusts
    }
}

fn current(input: &PlanInput) -> Result<Newtons, OutOfRange> {
    let hull = Hull {
        waterline_length: Metres(input.ship.waterline_length_m),
        draught: Metres(above_zero("ship.draught_m", input.ship.draught_m)?),
        displacement_t: input.ship.displacement_t,
    };
    load::current_friction(&hull, Knots(input.weather.current_kn).into())
}

fn waves(input: &PlanInput) -> Result<Newtons, OutOfRange> {
    load::wave_drift_bound(
        Metres(input.weather.wave_height_m),
        Metres(input.ship.breadth_m),
        REFLECTED,
    )
}

pub(super) fn pull(input: &PlanInput) -> Result<Pull, Problem> {
    let law = WindLaw::of(input)?;
    let weather = &input.weather;
    let wind = Newtons(law.wind_force(Knots(weather.gust_kn).into()));
    let (current, waves) = (current(input)?, waves(input)?);
    let steady = wind + current + waves;
    let sum = load::resultant(
        wind,
        DegreesTrue(finite("weather.wind_from_deg", weather.wind_from_deg)?),
        current,
        DegreesTrue(finite(
            "weather.current_toward_deg",
            weather.current_toward_deg,
        )?),
    )?;
    let kilonewtons = |force: Newtons| Kilonewtons::from(force).0;
    Ok(Pull {
        wind_kilonewtons: kilonewtons(wind),
        current_kilonewtons: kilonewtons(current),
        waves_kilonewtons: kilonewtons(waves),
        steady_kilonewtons: kilonewtons(steady),
        design_kilonewtons: load::with_yaw(steady, law.yaw)?.0,
        toward_deg: sum.toward.map(|d| d.0),
    })
}
