//! What pulls on a ship at anchor: wind, current, and bounds on waves and yawing.

use crate::density;
use crate::error::{OutOfRange, at_least_zero, finite, within};
use crate::units::{
    DegreesTrue, KilogramsPerCubicMetre, Kilonewtons, Metres, MetresPerSecond, Newtons, Pascals,
    STANDARD_GRAVITY, SquareMetres, normal_degrees,
};

/// What the loads come from, as shown beside them.
pub const SOURCE: &str = "F = ½ρCAV²; frontal coefficients and current terms of UFC 4-159-03, \
    coefficients from memory";

/// What a person must know before relying on a load.
pub const CAUTION: &str = "A steady pull. Gusts, sheering and seas multiply it: the yaw factor \
    and the wave bound are estimates.";

/// Returns the drag `½ρCAV²` of a body in a stream.
///
/// # Source
/// The definition of a drag coefficient, in any textbook of fluid mechanics.
///
/// # Errors
/// [`OutOfRange`] unless all are finite and 0 or more.
pub fn drag(
    density: KilogramsPerCubicMetre,
    coefficient: f64,
    area: SquareMetres,
    speed: MetresPerSecond,
) -> Result<Newtons, OutOfRange> {
    let c = at_least_zero("cd", coefficient)?;
    let a = at_least_zero("area_m2", area.0)?;
    Ok(Newtons(dynamic_pressure(density, speed)?.0 * c * a))
}

/// Returns the pressure `½ρV²` of a stream brought to rest.
///
/// # Source
/// Bernoulli, in any textbook of fluid mechanics.
///
/// # Errors
/// [`OutOfRange`] unless density and speed are finite and 0 or more, the speed up to 150 m/s.
pub fn dynamic_pressure(
    density: KilogramsPerCubicMetre,
    speed: MetresPerSecond,
) -> Result<Pascals, OutOfRange> {
    let rho = at_least_zero("density_kg_m3", density.0)?;
    let v = within("speed_m_s", speed.0, 0.0, 150.0)?;
    Ok(Pascals(0.5 * rho * v * v))
}

/// Returns the wind at another height above the water.
///
/// `V_z = V_10 (z/10)^(1/7)`.
///
/// # Source
/// UFC 4-159-03, wind chapter, from memory.
///
/// # Errors
/// [`OutOfRange`] unless the speed is 0 or more and the height from 0.5 to 100 m.
pub fn wind_at_height(v10: MetresPerSecond, z: Metres) -> Result<MetresPerSecond, OutOfRange> {
    let v = at_least_zero("wind_m_s", v10.0)?;
    let z = within("height_m", z.0, 0.5, 100.0)?;
    Ok(MetresPerSecond(v * (z / 10.0).powf(1.0 / 7.0)))
}

/// The part of a hull that the current rubs along.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hull {
    /// Length on the waterline.
    pub waterline_length: Metres,
    /// Draught.
    pub draught: Metres,
    /// Displacement in tonnes.
    pub displacement_t: f64,
}

/// Kinematic viscosity of sea water at 15 °C, m²/s, from memory.
/// Source: from memory, not opened.
pub const SEA_WATER_VISCOSITY: f64 = 1.19e-6;

/// Returns the wetted surface of a hull.
///
/// `S = 1.7 T L + D/(γ T)`, with the displaced volume for `D/γ`.
///
/// # Source
/// UFC 4-159-03, eq. 20, with sea water of 1025 kg/m³.
///
/// # Errors
/// [`OutOfRange`] unless length and draught are above 0 and the displacement 0 or more.
pub fn wetted_surface(hull: &Hull) -> Result<SquareMetres, OutOfRange> {
    let l = crate::error::above_zero("waterline_length_m", hull.waterline_length.0)?;
    let t = crate::error::above_zero("draught_m", hull.draught.0)?;
    let d = at_least_zero("displacement_t", hull.displacement_t)?;
    let volume = d * 1000.0 / density::SEA_WATER.0;
    Ok(SquareMetres(1.7 * t * l + volume / t))
}

/// Returns the friction coefficient of a plate, `0.075/(log₁₀ Rn − 2)²`.
///
/// # Source
/// ITTC 1957 model-ship correlation line.
///
/// # Errors
/// [`OutOfRange`] for a Reynolds number below 10⁵, where the line has no meaning.
pub fn ittc_friction(reynolds: f64) -> Result<f64, OutOfRange> {
    if finite("reynolds", reynolds)? < 1e5 {
        return Err(OutOfRange::outside("reynolds", reynolds, "100000 or more"));
    }
    Ok(0.075 / (reynolds.log10() - 2.0).powi(2))
}

/// Returns the friction of a current along the hull, head on.
///
/// `F = ½ρ V² S C_f`. No current, no force: below 10⁵ the Reynolds number is held there, which
/// gives too much rather than too little.
///
/// # Source
/// UFC 4-159-03, eq. 17–20.
///
/// # Errors
/// [`OutOfRange`] as [`wetted_surface`], and unless the speed is from 0 to 10 m/s.
pub fn current_friction(hull: &Hull, speed: MetresPerSecond) -> Result<Newtons, OutOfRange> {
    let v = within("current_m_s", speed.0, 0.0, 10.0)?;
    let s = wetted_surface(hull)?;
    let reynolds = (v * hull.waterline_length.0 / SEA_WATER_VISCOSITY).max(1e5);
    drag(
        density::SEA_WATER,
        ittc_friction(reynolds)?,
        s,
        MetresPerSecond(v),
    )
}

/// Returns the most that waves of one height push a ship steadily along.
///
/// `F = ρ g H² B R²/16`, `R` the part of the wave height that she throws back (1 all of it; head
/// to sea R² is about 0.1 to 0.3).
///
/// # Source
/// Maruo's drift force, seakeeping theory, from memory: a bound, poor as a prediction. The
/// surging and pitching on the chain, which is the danger, is in no simple formula.
///
/// # Errors
/// [`OutOfRange`] unless the height is from 0 to 15 m, the breadth 0 or more and R from 0 to 1.
pub fn wave_drift_bound(
    significant_height: Metres,
    breadth: Metres,
    reflected: f64,
) -> Result<Newtons, OutOfRange> {
    let h = within("wave_height_m", significant_height.0, 0.0, 15.0)?;
    let b = at_least_zero("breadth_m", breadth.0)?;
    let r = within("reflected", reflected, 0.0, 1.0)?;
    Ok(Newtons(
        density::SEA_WATER.0 * STANDARD_GRAVITY * h * h * b * r * r / 16.0,
    ))
}

/// Two forces added as arrows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resultant {
    /// Size of the sum.
    pub force: Newtons,
    /// Where the ship is pushed to; none if the forces cancel.
    pub toward: Option<DegreesTrue>,
}

/// Returns the sum of the wind's and the current's push.
///
/// The wind is named by where it comes from, the current by where it sets to.
///
/// # Source
/// The sum of two vectors.
///
/// # Errors
/// [`OutOfRange`] unless the forces are 0 or more and the directions finite.
pub fn resultant(
    wind: Newtons,
    wind_from: DegreesTrue,
    current: Newtons,
    current_toward: DegreesTrue,
) -> Result<Resultant, OutOfRange> {
    let wind = at_least_zero("wind_force_N", wind.0)?;
    let current = at_least_zero("current_force_N", current.0)?;
    let wind_to = (finite("wind_from_deg", wind_from.0)? + 180.0).to_radians();
    let current_to = finite("current_toward_deg", current_toward.0)?.to_radians();
    let north = wind * wind_to.cos() + current * current_to.cos();
    let east = wind * wind_to.sin() + current * current_to.sin();
    let force = north.hypot(east);
    let toward = (force > 1e-9 * (wind + current))
        .then(|| DegreesTrue(normal_degrees(east.atan2(north).to_degrees())));
    Ok(Resultant {
        force: Newtons(force),
        toward,
    })
}

/// The environment that class equipment is meant for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassEnvelope {
    /// Steady wind.
    pub wind: MetresPerSecond,
    /// Current.
    pub current: MetresPerSecond,
    /// Significant wave height.
    pub waves: Metres,
    /// Least ratio of chain to depth.
    pub scope: f64,
    /// Where it is said.
    pub source: &'static str,
}

/// The sheltered-water basis of the equipment number.
pub const CLASS_ENVELOPE: ClassEnvelope = ClassEnvelope {
    wind: MetresPerSecond(25.0),
    current: MetresPerSecond(2.5),
    waves: Metres(0.0),
    scope: 6.0,
    source: "IACS UR A1, A1.1.1–A1.1.4: temporary mooring in sheltered water, good holding ground",
};

/// The basis with waves, in the rule for equipment lengths above 135 m, quoted for all by clubs.
pub const CLASS_ENVELOPE_WAVES: ClassEnvelope = ClassEnvelope {
    wind: MetresPerSecond(11.0),
    current: MetresPerSecond(1.54),
    waves: Metres(2.0),
    scope: 6.0,
    source: "IACS UR A1 (equipment length above 135 m); quoted for all ships by clubs and class",
};

/// Returns the kinetic energy that must be taken up to stop a ship, in kilojoules.
///
/// `½ m V²`.
///
/// # Source
/// Mechanics; the water that moves with her is left out.
///
/// # Errors
/// [`OutOfRange`] unless displacement and speed are 0 or more.
pub fn energy_to_stop_kj(displacement_t: f64, speed: MetresPerSecond) -> Result<f64, OutOfRange> {
    let m = at_least_zero("displacement_t", displacement_t)?;
    let v = at_least_zero("speed_m_s", speed.0)?;
    Ok(0.5 * m * v * v)
}

/// Returns the pull at the end of a sheer, the steady pull times a yaw factor.
///
/// # Source
/// "Critical wind velocity for dragging anchor", a worksheet of one ship, publisher and year not known, read in excerpt,
/// takes 3; Japan P&I Club's bulletin on dragging, from memory, not opened, 3 to 5; 1.5 for a calm, snubbed ship is
/// common practice, no source. An estimate.
///
/// # Errors
/// [`OutOfRange`] unless the factor is from 1 to 6 and the pull 0 or more.
pub fn with_yaw(steady: Newtons, factor: f64) -> Result<Kilonewtons, OutOfRange> {
    let steady = at_least_zero("pull_N", steady.0)?;
    let factor = within("yaw_factor", factor, 1.0, 6.0)?;
    Ok(Kilonewtons::from(Newtons(steady * factor)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Knots;

    fn check(what: &str, got: f64, published: f64, tolerance: f64) {
        assert!(
            (got - published).abs() <= tolerance,
            "{what}: {got}, expected {published}"
        );
    }

    #[test]
    fn the_wind_load_agrees_with_a_ships_worksheet() {
        // "Critical wind velocity for dragging anchor", a worksheet of one ship, publisher and year not known, read in excerpt: 0.125 kgf s²/m⁴, C 0.75,
        // 1743.18 m², 10 m/s with gust 1.25: R = 12.77 t, T = 3R = 38.3 t.
        let rho = KilogramsPerCubicMetre(0.125 * STANDARD_GRAVITY);
        let r = drag(rho, 0.75, SquareMetres(1743.18), MetresPerSecond(12.5)).unwrap();
        check("R in t", r.0 / STANDARD_GRAVITY / 1000.0, 12.77, 0.01);
        let t = with_yaw(r, 3.0).unwrap();
        check("T in t", t.0 / STANDARD_GRAVITY, 38.3, 0.03);
    }

    #[test]
    fn wind_on_150_square_metres_at_the_two_class_winds() {
        for (v, kn) in [(25.0, 45.94), (11.0, 8.89)] {
            let f = drag(
                KilogramsPerCubicMetre(1.225),
                0.8,
                SquareMetres(150.0),
                MetresPerSecond(v),
            );
            check("kN", f.unwrap().0 / 1000.0, kn, 0.01);
        }
    }

    #[test]
    fn current_friction_follows_the_ittc_line() {
        let hull = Hull {
            waterline_length: Metres(60.0),
            draught: Metres(3.4),
            displacement_t: 1000.0,
        };
        check("S", wetted_surface(&hull).unwrap().0, 633.7, 0.5);
        for (v, cf, kn) in [(1.0, 0.002_306, 0.749), (2.5, 0.002_015, 4.091)] {
            let reynolds = v * 60.0 / SEA_WATER_VISCOSITY;
            check("Cf", ittc_friction(reynolds).unwrap(), cf, 1e-6);
            let f = current_friction(&hull, MetresPerSecond(v)).unwrap();
            check("kN", f.0 / 1000.0, kn, 0.005 * kn);
        }
        check(
            "still water",
            current_friction(&hull, MetresPerSecond(0.0)).unwrap().0,
            0.0,
            0.0,
        );
    }

    #[test]
    fn the_wave_bound_is_maruos() {
        let f = wave_drift_bound(Metres(1.5), Metres(11.0), 1.0).unwrap();
        check("kN", f.0 / 1000.0, 15.55, 0.02);
    }

    #[test]
    fn the_energy_of_a_moving_ship_grows_with_the_square() {
        for (kn, kj) in [(0.5, 33.0), (1.0, 132.1), (2.0, 529.4)] {
            let got = energy_to_stop_kj(1000.0, MetresPerSecond::from(Knots(kn))).unwrap();
            check("kJ", got, kj, 0.005 * kj);
        }
    }

    #[test]
    fn opposed_equal_forces_leave_no_direction() {
        let got = resultant(
            Newtons(10.0),
            DegreesTrue(0.0),
            Newtons(10.0),
            DegreesTrue(0.0),
        );
        assert_eq!(got.unwrap().toward, None);
    }

    #[test]
    fn negative_and_missing_numbers_are_refused() {
        let rho = density::STANDARD_AIR;
        assert!(drag(rho, 0.8, SquareMetres(-1.0), MetresPerSecond(1.0)).is_err());
        assert!(drag(rho, 0.8, SquareMetres(1.0), MetresPerSecond(f64::NAN)).is_err());
        assert!(with_yaw(Newtons(1.0), 0.5).is_err());
        assert!(wave_drift_bound(Metres(1.0), Metres(1.0), 1.1).is_err());
    }
}
