//! Fire main and wash water: pressure from the pump to the nozzle at the bow.

mod required;

use crate::error::{OutOfRange, above_zero, at_least_zero, finite, within};
use crate::root::crossing;
use crate::units::{
    KilogramsPerCubicMetre, LitresPerMinute, Metres, MetresPerSecond, Newtons, Pascals,
    STANDARD_GRAVITY,
};

pub use required::{RequiredPressure, ShipKind, hose_length_allowed, required_pressure};

/// What the hydraulic sums come from, as shown beside them.
pub const SOURCE: &str = "Darcy–Weisbach with Colebrook–White friction; Q = Cd A √(2p/ρ) at the \
    nozzle";

/// What a person must know before relying on a computed pressure.
pub const CAUTION: &str = "Computed from clean pipe and an even pump. The gauge at the hydrant, \
    with the water running, decides.";

/// Dynamic viscosity of sea water at about 20 °C, Pa s.
/// Source: from memory, not opened.
pub const SEA_WATER_VISCOSITY_PA_S: f64 = 1.08e-3;

/// A liquid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Liquid {
    /// Density.
    pub density: KilogramsPerCubicMetre,
    /// Dynamic viscosity, Pa s.
    pub viscosity_pa_s: f64,
}

/// A pipe or a hose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pipe {
    /// Inside diameter.
    pub diameter: Metres,
    /// Length.
    pub length: Metres,
    /// Height of the roughness inside: 0.046 mm new steel, about 0.05 mm lined hose.
    pub roughness: Metres,
    /// Sum of the loss coefficients of bends, valves and ends.
    pub minor_loss_k: f64,
}

/// What a flow loses in a pipe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PipeLoss {
    /// Mean velocity.
    pub velocity: MetresPerSecond,
    /// Reynolds number.
    pub reynolds: f64,
    /// Darcy friction factor; 0 without a flow.
    pub darcy_f: f64,
    /// Loss along the wall.
    pub friction: Pascals,
    /// Loss at bends, valves and ends.
    pub minor: Pascals,
    /// Both together.
    pub total: Pascals,
    /// Both together as a height of the liquid.
    pub head: Metres,
}

impl Liquid {
    fn checked(&self) -> Result<(f64, f64), OutOfRange> {
        Ok((
            within("density_kg_m3", self.density.0, 500.0, 2000.0)?,
            within("viscosity_Pa_s", self.viscosity_pa_s, 1e-5, 10.0)?,
        ))
    }
}

impl Pipe {
    fn checked(&self) -> Result<(), OutOfRange> {
        let d = within("diameter_m", self.diameter.0, 1e-3, 10.0)?;
        at_least_zero("length_m", self.length.0)?;
        within("roughness_m", self.roughness.0, 0.0, 0.1 * d)?;
        at_least_zero("minor_loss_k", self.minor_loss_k)?;
        Ok(())
    }

    fn area(&self) -> f64 {
        circle(self.diameter.0)
    }
}

fn circle(diameter: f64) -> f64 {
    std::f64::consts::PI * diameter * diameter / 4.0
}

/// Returns the Darcy friction factor.
///
/// Laminar below Re 2000: `64/Re`. Else Colebrook and White,
/// `1/√f = −2 log₁₀(ε/3.7D + 2.51/(Re √f))`, solved to the last digits.
///
/// # Source
/// C. F. Colebrook, *Turbulent flow in pipes*, Journal of the ICE 11 (1939). Between 2000 and 4000
/// the flow itself is undecided; the turbulent value, the larger, is taken.
///
/// # Errors
/// [`OutOfRange`] unless the Reynolds number is above 0 and ε/D from 0 to 0.1.
pub fn friction_factor(reynolds: f64, relative_roughness: f64) -> Result<f64, OutOfRange> {
    let re = above_zero("reynolds", reynolds)?;
    let rough = within("relative_roughness", relative_roughness, 0.0, 0.1)?;
    if re < 2000.0 {
        return Ok(64.0 / re);
    }
    // y = 1/√f: the right side falls slowly with y, so Newton's steps settle at once.
    let mut y = -1.8 * ((rough / 3.7).powf(1.11) + 6.9 / re).log10();
    for _ in 0..20 {
        let inside = rough / 3.7 + 2.51 * y / re;
        let off = y + 2.0 * inside.log10();
        let slope = 1.0 + 2.0 * 2.51 / (re * inside * std::f64::consts::LN_10);
        let step = off / slope;
        y -= step;
        if step.abs() <= 1e-15 * y {
            break;
        }
    }
    Ok(1.0 / (y * y))
}

/// Returns what a flow loses in a pipe or hose.
///
/// `Δp = (f L/D + K) ρv²/2`.
///
/// # Source
/// Darcy and Weisbach; friction as [`friction_factor`].
///
/// # Errors
/// [`OutOfRange`] unless the pipe is 1 mm to 10 m wide, its roughness up to a tenth of that, the
/// rest 0 or more, and the liquid a liquid.
pub fn pipe_loss(
    pipe: &Pipe,
    liquid: &Liquid,
    flow: LitresPerMinute,
) -> Result<PipeLoss, OutOfRange> {
    pipe.checked()?;
    let (rho, mu) = liquid.checked()?;
    let flow = cubic_metres_per_second(flow)?;
    let v = flow / pipe.area();
    let d = pipe.diameter.0;
    let reynolds = rho * v * d / mu;
    let darcy_f = if reynolds > 0.0 {
        friction_factor(reynolds, pipe.roughness.0 / d)?
    } else {
        0.0
    };
    let dynamic = rho * v * v / 2.0;
    let friction = darcy_f * pipe.length.0 / d * dynamic;
    let minor = pipe.minor_loss_k * dynamic;
    Ok(PipeLoss {
        velocity: MetresPerSecond(v),
        reynolds,
        darcy_f,
        friction: Pascals(friction),
        minor: Pascals(minor),
        total: Pascals(friction + minor),
        head: Metres((friction + minor) / (rho * STANDARD_GRAVITY)),
    })
}

fn cubic_metres_per_second(flow: LitresPerMinute) -> Result<f64, OutOfRange> {
    Ok(within("flow_l_min", flow.0, 0.0, 1e6)? / 60_000.0)
}

/// Returns the head that a flow of water loses in a pipe by Hazen and Williams.
///
/// `h = 10.67 L Q^1.852/(C^1.852 D^4.8704)`, Q in m³/s.
///
/// # Source
/// Hazen and Williams, SI form in general use. C: 150 plastic, 140 new steel, 120 used steel, 100
/// corroded.
///
/// # Validity
/// Water of 4 to 25 °C, turbulent, about 1 to 3 m/s.
///
/// # Errors
/// [`OutOfRange`] unless C is from 50 to 160 and the rest as [`pipe_loss`].
pub fn hazen_williams(
    diameter: Metres,
    length: Metres,
    coefficient: f64,
    flow: LitresPerMinute,
) -> Result<Metres, OutOfRange> {
    let d = within("diameter_m", diameter.0, 1e-3, 10.0)?;
    let l = at_least_zero("length_m", length.0)?;
    let c = within("hazen_williams_c", coefficient, 50.0, 160.0)?;
    let q = cubic_metres_per_second(flow)?;
    Ok(Metres(
        10.67 * l * q.powf(1.852) / (c.powf(1.852) * d.powf(4.8704)),
    ))
}

/// A jet nozzle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nozzle {
    /// Bore.
    pub diameter: Metres,
    /// Discharge coefficient, about 0.97 for a smooth bore.
    pub cd: f64,
}

/// What a nozzle throws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jet {
    /// Flow.
    pub flow: LitresPerMinute,
    /// Speed of the jet.
    pub velocity: MetresPerSecond,
    /// Push back on the person who holds it.
    pub reaction: Newtons,
}

impl Nozzle {
    /// Returns what the nozzle throws at a pressure.
    ///
    /// `Q = Cd A √(2p/ρ)`, reaction `ρ Q √(2p/ρ)`; the speed of approach is left out.
    ///
    /// # Source
    /// Torricelli's law; the reaction by the momentum of the jet.
    ///
    /// # Errors
    /// [`OutOfRange`] unless the bore is 1 to 200 mm, Cd above 0 up to 1 and the pressure 0 or more.
    pub fn jet(
        &self,
        pressure: Pascals,
        density: KilogramsPerCubicMetre,
    ) -> Result<Jet, OutOfRange> {
        let area = self.effective_area()?;
        let p = within("pressure_Pa", pressure.0, 0.0, 1e8)?;
        let rho = within("density_kg_m3", density.0, 500.0, 2000.0)?;
        let v = (2.0 * p / rho).sqrt();
        let q = area * v;
        Ok(Jet {
            flow: LitresPerMinute(q * 60_000.0),
            velocity: MetresPerSecond(v),
            reaction: Newtons(rho * q * v),
        })
    }

    fn effective_area(&self) -> Result<f64, OutOfRange> {
        let d = within("nozzle_diameter_m", self.diameter.0, 1e-3, 0.2)?;
        above_zero("cd", self.cd)?;
        Ok(within("cd", self.cd, 0.0, 1.0)? * circle(d))
    }
}

/// Returns the pressure of a column of liquid, `ρ g z`.
///
/// # Source
/// Hydrostatics, with g = 9.80665 m/s².
///
/// # Errors
/// [`OutOfRange`] if the height is not finite or the density not that of a liquid.
pub fn static_head(height: Metres, density: KilogramsPerCubicMetre) -> Result<Pascals, OutOfRange> {
    let z = finite("height_m", height.0)?;
    let rho = within("density_kg_m3", density.0, 500.0, 2000.0)?;
    Ok(Pascals(rho * STANDARD_GRAVITY * z))
}

/// A pump, a main, one hose and a nozzle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Main {
    /// Pressure at the pump's outlet, held whatever the flow.
    pub pump: Pascals,
    /// Height of the nozzle above the pump.
    pub rise: Metres,
    /// The main up to the hydrant.
    pub pipe: Pipe,
    /// The hose.
    pub hose: Pipe,
    /// The nozzle.
    pub nozzle: Nozzle,
    /// The water.
    pub liquid: Liquid,
}

/// Pressures and flow in a running main.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Running {
    /// Flow through all of it.
    pub flow: LitresPerMinute,
    /// Lost in the main.
    pub in_pipe: Pascals,
    /// Lost in the hose.
    pub in_hose: Pascals,
    /// Lost to the height.
    pub in_height: Pascals,
    /// At the hydrant; negative if the water does not get there.
    pub at_hydrant: Pascals,
    /// At the nozzle.
    pub at_nozzle: Pascals,
}

/// Returns the pressures and the flow that settle in a main with one hose running.
///
/// `p_pump = ρgz + Δp_pipe + Δp_hose + ρ/2 (Q/(Cd A))²`, solved for Q.
///
/// # Source
/// Bernoulli with losses as [`pipe_loss`]; velocity heads at hydrant and nozzle inlet left out.
///
/// # Errors
/// As [`pipe_loss`] and [`Nozzle::jet`].
pub fn run_main(main: &Main) -> Result<Running, OutOfRange> {
    main.pipe.checked()?;
    main.hose.checked()?;
    let (rho, _) = main.liquid.checked()?;
    let area = main.nozzle.effective_area()?;
    let pump = within("pump_pressure_Pa", main.pump.0, 0.0, 1e8)?;
    let height = static_head(main.rise, main.liquid.density)?.0;
    let available = pump - height;
    if available <= 0.0 {
        return Ok(Running {
            flow: LitresPerMinute(0.0),
            in_pipe: Pascals(0.0),
            in_hose: Pascals(0.0),
            in_height: Pascals(height),
            at_hydrant: Pascals(available),
            at_nozzle: Pascals(available),
        });
    }
    let loss = |pipe: &Pipe, litres: f64| {
        pipe_loss(pipe, &main.liquid, LitresPerMinute(litres)).map_or(f64::NAN, |l| l.total.0)
    };
    let jet = |litres: f64| rho / 2.0 * (litres / 60_000.0 / area).powi(2);
    let over = |q: f64| loss(&main.pipe, q) + loss(&main.hose, q) + jet(q) - available;
    // The nozzle alone would throw this much.
    let most = area * (2.0 * available / rho).sqrt() * 60_000.0;
    let q = crossing(over, 0.0, most)
        .ok_or_else(|| OutOfRange::no_answer("pump_pressure_Pa", "no flow balances the main"))?;
    let (in_pipe, in_hose) = (loss(&main.pipe, q), loss(&main.hose, q));
    Ok(Running {
        flow: LitresPerMinute(q),
        in_pipe: Pascals(in_pipe),
        in_hose: Pascals(in_hose),
        in_height: Pascals(height),
        at_hydrant: Pascals(available - in_pipe),
        at_nozzle: Pascals(available - in_pipe - in_hose),
    })
}
