//! How the air of a closed space changes while it is ventilated.

use crate::error::{OutOfRange, above_zero, at_least_zero, finite, within};
use crate::units::{CubicMetres, CubicMetresPerHour, Minutes};

/// What the ventilation sum comes from, as shown beside it.
pub const SOURCE: &str = "Dilution of a well-mixed space, C(t) = Css + (C0 − Css)·e^(−Qt/KV)";

/// What a person must know before relying on a ventilation time.
pub const CAUTION: &str = "The earliest useful time to test, never 'safe at'. Only the measured \
    air decides.";

/// A space being ventilated. Concentrations are in one unit of the reader's choice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Space {
    /// Concentration at the start.
    pub at_start: f64,
    /// Concentration of the air blown in.
    pub of_supply: f64,
    /// Free volume.
    pub volume: CubicMetres,
    /// Air blown in or drawn out.
    pub flow: CubicMetresPerHour,
    /// Mixing factor: 1 perfect, 3 usual, up to 10 where the air reaches the corners badly.
    pub mixing_factor: f64,
    /// Gas given off inside, in the unit of concentration times m³/h; negative where it is taken up.
    pub generation: f64,
}

impl Space {
    fn checked(&self) -> Result<Self, OutOfRange> {
        finite("c0", self.at_start)?;
        at_least_zero("c0", self.at_start)?;
        at_least_zero("c_in", self.of_supply)?;
        above_zero("volume_m3", self.volume.0)?;
        at_least_zero("flow_m3_h", self.flow.0)?;
        within("mixing_factor_k", self.mixing_factor, 1.0, 100.0)?;
        finite("generation_unit_m3_h", self.generation)?;
        Ok(*self)
    }

    /// Returns what the concentration tends to; none without a flow.
    ///
    /// `Css = Cin + G K/Q`.
    ///
    /// # Errors
    /// [`OutOfRange`] unless the numbers are finite, the volume above 0, the rest 0 or more and
    /// the mixing factor from 1 to 100.
    pub fn steady_state(&self) -> Result<Option<f64>, OutOfRange> {
        let s = self.checked()?;
        Ok((s.flow.0 > 0.0).then(|| s.of_supply + s.generation * s.mixing_factor / s.flow.0))
    }

    /// Returns the concentration after a time.
    ///
    /// `C(t) = Css + (C0 − Css) e^(−Qt/KV)`; without a flow `C0 + G t/V`.
    ///
    /// # Source
    /// Mass balance of one well-mixed zone, dC/dt = −(Q/KV)(C − Cin) + G/V; the mixing factor as
    /// in occupational-health guidelines, where it runs from 1 to 10.
    ///
    /// # Validity
    /// One zone, constant flow, no layers.
    ///
    /// # Errors
    /// As [`steady_state`](Self::steady_state), and unless the time is 0 or more.
    pub fn concentration_after(&self, time: Minutes) -> Result<f64, OutOfRange> {
        let hours = at_least_zero("minutes", time.0)? / 60.0;
        let c = match self.steady_state()? {
            Some(end) => {
                let decay = (-self.flow.0 * hours / (self.mixing_factor * self.volume.0)).exp();
                end + (self.at_start - end) * decay
            }
            None => self.at_start + self.generation * hours / self.volume.0,
        };
        Ok(c.max(0.0))
    }

    /// Returns how often the whole volume is changed in an hour, `Q/V`.
    ///
    /// # Errors
    /// As [`steady_state`](Self::steady_state).
    pub fn air_changes_per_hour(&self) -> Result<f64, OutOfRange> {
        let s = self.checked()?;
        Ok(s.flow.0 / s.volume.0)
    }

    /// Returns when the concentration equals `limit`, coming from whichever side.
    ///
    /// `t = (KV/Q) ln((C0 − Css)/(Cl − Css))`.
    ///
    /// # Source
    /// [`concentration_after`](Self::concentration_after) solved for the time.
    ///
    /// # Errors
    /// As [`steady_state`](Self::steady_state), and unless the limit is 0 or more.
    pub fn time_to(&self, limit: f64) -> Result<Reached, OutOfRange> {
        let limit = at_least_zero("limit", limit)?;
        let end = self.steady_state()?;
        let start = self.at_start;
        if (start - limit).abs() <= f64::EPSILON * limit {
            return Ok(Reached::After(Minutes(0.0)));
        }
        let hours = match end {
            Some(end) => {
                let (from, to) = (start - end, limit - end);
                // Only a limit strictly between the start and the end is ever passed.
                if to == 0.0 || from.signum() != to.signum() || to.abs() > from.abs() {
                    return Ok(Reached::Never(
                        if to.abs() > from.abs() && from * to > 0.0 {
                            Never::Away
                        } else {
                            Never::EndShort
                        },
                    ));
                }
                self.mixing_factor * self.volume.0 / self.flow.0 * (from / to).ln()
            }
            None if self.generation == 0.0 => return Ok(Reached::Never(Never::NoFlow)),
            None => (limit - start) * self.volume.0 / self.generation,
        };
        Ok(if hours < 0.0 {
            Reached::Never(Never::Away)
        } else {
            Reached::After(Minutes(hours * 60.0))
        })
    }
}

/// Whether and when a limit is reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reached {
    /// After this time.
    After(Minutes),
    /// Not at all.
    Never(Never),
}

/// Why a limit is never reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Never {
    /// The air that it settles at lies short of the limit, or the start beyond it.
    EndShort,
    /// The air moves away from the limit.
    Away,
    /// Nothing changes the air.
    NoFlow,
}

impl Never {
    /// The reason in words.
    pub const fn reason(self) -> &'static str {
        match self {
            Self::EndShort => "steady state never passes the limit",
            Self::Away => "moves away from the limit",
            Self::NoFlow => "concentration does not change",
        }
    }
}

/// Returns the mass of iron that rusts while the oxygen of a closed space falls, kg.
///
/// 4 Fe + 3 O₂: 2.327 kg of iron bind 1 kg of oxygen, and air at 20 °C holds 1.331 kg of oxygen
/// in a cubic metre of it.
///
/// # Source
/// Stoichiometry with atomic masses 55.845 and 15.999; ideal gas at 20 °C, 1013.25 hPa.
///
/// # Errors
/// [`OutOfRange`] unless the volume is above 0 and the oxygen falls within 0 to 20.9 %.
pub fn iron_rusted_kg(volume: CubicMetres, from_pct: f64, to_pct: f64) -> Result<f64, OutOfRange> {
    let v = above_zero("volume_m3", volume.0)?;
    let from = within("oxygen_from_percent", from_pct, 0.0, 20.9)?;
    let to = within("oxygen_to_percent", to_pct, 0.0, from)?;
    let oxygen_kg = v * 1.331 * (from - to) / 100.0;
    Ok(oxygen_kg * (4.0 * 55.845) / (6.0 * 15.999))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn space(volume: f64, flow: f64, k: f64, from: f64) -> Space {
        Space {
            at_start: from,
            of_supply: 0.0,
            volume: CubicMetres(volume),
            flow: CubicMetresPerHour(flow),
            mixing_factor: k,
            generation: 0.0,
        }
    }

    fn minutes(space: &Space, limit: f64) -> f64 {
        match space.time_to(limit).unwrap() {
            Reached::After(t) => t.0,
            Reached::Never(why) => panic!("never: {}", why.reason()),
        }
    }

    /// CDC, *Guidelines for preventing the transmission of M. tuberculosis*, MMWR, table of air
    /// changes per hour and minutes to remove 90, 99 and 99.9 % (rounded to whole minutes).
    const CDC_REMOVAL: &[(f64, f64, f64)] = &[
        (6.0, 90.0, 23.0),
        (6.0, 99.0, 46.0),
        (6.0, 99.9, 69.0),
        (2.0, 90.0, 69.0),
        (2.0, 99.0, 138.0),
        (2.0, 99.9, 207.0),
        (12.0, 90.0, 12.0),
        (12.0, 99.0, 23.0),
        (12.0, 99.9, 35.0),
        (20.0, 99.0, 14.0),
        (20.0, 99.9, 21.0),
        (50.0, 99.0, 6.0),
        (50.0, 99.9, 8.0),
        (1.0, 90.0, 138.0),
    ];

    #[test]
    fn removal_times_agree_with_the_cdc_table() {
        for &(changes, removed, table) in CDC_REMOVAL {
            let s = space(1.0, changes, 1.0, 100.0);
            let got = minutes(&s, 100.0 - removed);
            assert!((got - table).abs() <= 0.6, "{changes}/h {removed} %: {got}");
            let poor = Space {
                mixing_factor: 10.0,
                ..s
            };
            assert!((minutes(&poor, 100.0 - removed) - 10.0 * got).abs() < 1e-9);
        }
    }

    #[test]
    fn examples_worked_by_hand_hold() {
        let near = |got: f64, want: f64, tolerance: f64| {
            assert!((got - want).abs() <= tolerance, "{got}, expected {want}");
        };
        near(minutes(&space(20.0, 600.0, 1.0, 100.0), 1.0), 9.21, 0.01);
        near(minutes(&space(20.0, 600.0, 3.0, 100.0), 1.0), 27.63, 0.01);
        near(minutes(&space(30.0, 300.0, 4.0, 5900.0), 100.0), 97.9, 0.1);
        let oxygen = |k| Space {
            of_supply: 20.9,
            ..space(1.0, 6.0, k, 15.0)
        };
        near(minutes(&oxygen(1.0), 20.8), 40.8, 0.1);
        near(minutes(&oxygen(3.0), 20.8), 122.3, 0.1);
        let low = Space {
            at_start: 10.0,
            ..oxygen(1.0)
        };
        near(minutes(&low, 20.8) / 60.0 * 6.0, 4.69, 0.01);
    }

    #[test]
    fn the_rust_of_less_than_a_kilogram_of_iron_spoils_a_locker() {
        let iron = iron_rusted_kg(CubicMetres(20.0), 20.9, 19.5).unwrap();
        assert!((iron - 0.87).abs() < 0.005, "{iron}");
    }

    #[test]
    fn a_limit_equal_to_the_supply_is_never_reached() {
        let s = Space {
            of_supply: 20.9,
            ..space(10.0, 600.0, 3.0, 15.0)
        };
        assert_eq!(s.time_to(20.9).unwrap(), Reached::Never(Never::EndShort));
        let still = space(10.0, 0.0, 3.0, 15.0);
        assert_eq!(still.time_to(10.0).unwrap(), Reached::Never(Never::NoFlow));
    }

    #[test]
    fn nonsense_is_refused_by_name() {
        let bad = space(0.0, 600.0, 3.0, 15.0);
        assert_eq!(bad.steady_state().unwrap_err().field(), "volume_m3");
        let bad = space(10.0, -1.0, 3.0, 15.0);
        assert_eq!(bad.steady_state().unwrap_err().field(), "flow_m3_h");
        let bad = space(10.0, 1.0, 0.5, 15.0);
        assert_eq!(bad.steady_state().unwrap_err().field(), "mixing_factor_k");
        let bad = space(10.0, 1.0, 1.0, f64::NAN);
        assert_eq!(bad.time_to(1.0).unwrap_err().field(), "c0");
    }
}
